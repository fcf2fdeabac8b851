"""Awards on their way, and paper: `awards`, `order`, `certificates`, `paper`."""
from __future__ import annotations

from pathlib import Path

import click

from adapters.cli.shared import NEW_FILE, main, with_club, with_db, with_store

OUTPUT = "The file to be written."
AWARD_STEPS = {
    "order": "put on the order", "ordered": "ordered", "arrived": "they have come", "presented": "handed over",
    "undo": "undo",
}
"""Step of `sprung awards` → what it is in the talk."""


@main.command()
@click.argument("step", metavar="[STEP]", required=False, type=click.Choice(list(AWARD_STEPS)))
@click.option("--as", "person", metavar="PERSON", help="Who takes the step: it is done for this coach's classes.")
@click.option("--cupboard", metavar="COUNT", help='What is in the cupboard, as in "lantern 5, candle 3".')
@with_club
@with_db
@click.pass_context
def awards(
    context: click.Context, step: str | None, person: str | None, cupboard: str | None, club: str | None,
    db: str | None,
) -> None:
    """Show which awards wait for what, or take them a step on: order, ordered, arrived, presented; undo takes it back.

    Each is what a coach would type in the talk, and is kept as said by that coach.
    """
    from adapters.awards import typed, waiting
    from adapters.clock import SystemClock

    if step is not None and cupboard is not None:
        raise click.UsageError("say either a STEP or --cupboard")
    text = f"cupboard {cupboard}" if cupboard is not None else AWARD_STEPS[step] if step is not None else None
    if text is None:
        click.echo(with_store(context, db, lambda store: waiting(store, club)))
    elif person is None:
        raise click.UsageError("say --as PERSON: whose classes it is about")
    else:
        click.echo(with_store(context, db, lambda store: typed(store, club, person, text, SystemClock())))


@main.command()
@click.option("--csv", "csv_file", metavar="FILE", type=NEW_FILE, help="Write it as comma-separated values.")
@click.option("--pdf", "pdf_file", metavar="FILE", type=NEW_FILE, help="Write it for print.")
@click.option("--list", "presentation", is_flag=True, help="The presentation list: what is here, by class, by name.")
@with_club
@with_db
@click.pass_context
def order(
    context: click.Context, csv_file: Path | None, pdf_file: Path | None, presentation: bool, club: str | None,
    db: str | None,
) -> None:
    """Print the order sheet: what is on the order by award and class, less what is in the cupboard.

    With --list it is the presentation list. For PDF it needs the extra sprung[print].
    """
    from adapters.awards import sheet

    click.echo(with_store(context, db, lambda store: sheet(store, club, presentation, csv_file, pdf_file)), nl=False)


@main.command()
@click.argument("class_id", metavar="[CLASS]", required=False)
@click.option("--child", metavar="NAME", help="Only this child's, also one that was handed over: to print it again.")
@click.option("-o", "output", metavar="FILE", type=NEW_FILE, default="certificates.pdf", show_default=True, help=OUTPUT)
@with_club
@with_db
@click.pass_context
def certificates(
    context: click.Context, class_id: str | None, child: str | None, output: Path, club: str | None, db: str | None,
) -> None:
    """Write the certificates of a class for print, one page for each award that is not handed over yet.

    It needs the extra sprung[print]. What they look like is in club.toml, under [printing].
    """
    from adapters.awards import certified

    click.echo(with_store(context, db, lambda store: certified(store, club, class_id, child, output)))


@main.command()
@click.argument("class_id", metavar="CLASS")
@click.option("--day", metavar="DATE", help="The lesson of that day, as in 2026-11-24; else the next one.")
@click.option("-o", "output", metavar="FILE", type=NEW_FILE, default="class.pdf", show_default=True, help=OUTPUT)
@click.option("--all", "everything", is_flag=True, help="Also what is owed and does not fit into the lesson.")
@with_club
@with_db
@click.pass_context
def paper(
    context: click.Context, class_id: str, day: str | None, output: Path, everything: bool, club: str | None,
    db: str | None,
) -> None:
    """Write the sheet of a class for print: what to watch, child by child, with boxes to tick.

    What was ticked is typed in afterwards as one message; the sheet says how. It needs the extra sprung[print].
    """
    from adapters.awards import on_paper
    from adapters.clock import SystemClock

    told = with_store(
        context, db, lambda store: on_paper(store, club, class_id, day, output, SystemClock(), everything=everything),
    )
    click.echo(told)
