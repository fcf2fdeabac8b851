"""What a hall is made of: `scheme`, `hall`, `roster`, `times`."""
from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from adapters.cli.shared import FILE, FOLDER, main, with_club, with_db, with_store


@main.command()
@click.argument("file", metavar="FILE", type=FILE)
def scheme(file: Path) -> None:
    """Check a scheme file and print its standard cards."""
    from adapters.records import cards

    click.echo(cards(file))


@main.command()
@click.argument("folder", metavar="FOLDER", type=FOLDER)
@with_db
@click.pass_context
def hall(context: click.Context, folder: Path, db: str | None) -> None:
    """Load a hall, or load it anew, and say what changed.

    A hall is a folder with scheme.toml, club.toml and roster.csv.
    """
    from adapters.clock import SystemClock
    from adapters.halls import read_folder

    read = read_folder(folder)
    loaded = with_store(context, db, lambda store: store.load(read, SystemClock().now()))
    click.echo("\n".join(loaded.changes) or f"{read.club.name}: nothing has changed.")


@main.command()
@click.argument("file", metavar="FILE", type=FILE)
@click.option("--column", "columns", metavar="WHAT=HEADER", multiple=True, help="What a column is: name=Pupil.")
@click.option("--class", "class_", metavar="CLASS", help="The class of all for whom the file says none.")
@click.option("--award", metavar="AWARD", help="What new children work on, where the file doesn't say.")
@click.option("--same", metavar="NAME[=OURS]", multiple=True, help="This name is the child of ours that is like it.")
@click.option("--new", metavar="NAME", multiple=True, help="This name is another child than the one it is like.")
@click.option("--gone", metavar="NAME", multiple=True, help="Forget this child, who is missing from the file; or all.")
@click.option("--encoding", metavar="NAME", help="The file's letters, where the guess is wrong: windows-1250.")
@click.option("--sheet", metavar="NAME", help="Which sheet of a workbook; else the first.")
@click.option("--hall", "folder", metavar="FOLDER", type=FOLDER, help="Write this hall's roster.csv anew as well.")
@click.option("--yes", is_flag=True, help="Do it. Without that it is only shown.")
@with_club
@with_db
@click.pass_context
def roster(context: click.Context, /, club: str | None, db: str | None, **said: Any) -> None:
    """Take the children from a list (CSV or XLSX) with any columns. Shows what it would do; --yes does it.

    Marks and ticks stay, another class is a move, and a name that is not quite one of ours is asked about. Exit code 1:
    something has to be answered first.
    """
    from adapters.clock import SystemClock
    from adapters.rosters import Given, enrolled

    given = Given(**said)
    words, fine = with_store(context, db, lambda store: enrolled(store, club, given, SystemClock().now()))
    click.echo(words)
    context.exit(0 if fine else 1)


@main.command()
@click.argument("file", metavar="FILE", type=FILE)
@click.option("--class", "said", metavar="TITLE=CLASS", multiple=True, help="Which class an event of that title is.")
@click.option("--not", "left_out", metavar="TITLE", multiple=True, help="Leave events of that title out.")
@click.option("--yes", is_flag=True, help="Do it. Without that it is only shown.")
@with_club
@with_db
@click.pass_context
def times(
    context: click.Context, file: Path, said: tuple[str, ...], left_out: tuple[str, ...], yes: bool, club: str | None,
    db: str | None,
) -> None:
    """Take classes' times and closed days from a calendar (.ics). Shows what it would do; --yes does it.

    It needs the extra sprung[calendar].
    """
    from adapters.calendars import timed
    from adapters.clock import SystemClock

    now = SystemClock().now()
    click.echo(with_store(context, db, lambda store: timed(store, club, file, said, left_out, now, yes=yes)))
