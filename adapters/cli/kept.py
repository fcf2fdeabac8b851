"""What is kept: `export`, `import`, `audit`, `forget`, `backup`."""
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from adapters.cli.shared import FILE, NEW_FILE, main, with_club, with_db, with_store

if TYPE_CHECKING:
    from bot.port import Store

COUNTS = "How often each skill was seen stays, as counts that name nobody. "
COPIES = "Copies made before (backup, export, paper) still have this child: delete them, or make them anew."


@main.command()
@click.option("--json", "as_json", is_flag=True, help="Print all as JSON.")
@click.option("--csv", "table", type=click.Choice(["children", "marks", "awards"]), help="Print one table as CSV.")
@click.option("--xlsx", metavar="FILE", type=NEW_FILE, help="Write the three tables as a workbook.")
@click.option("--all", "everything", metavar="FILE", type=NEW_FILE, help="Write the whole club, for sprung import.")
@click.option("--child", metavar="NAME", help="Only what is kept of one child; by itself in words, for a family.")
@with_club
@with_db
@click.pass_context
def export(
    context: click.Context, as_json: bool, table: str | None, xlsx: Path | None, everything: Path | None,
    child: str | None, club: str | None, db: str | None,
) -> None:
    """Give out all that is kept of a club, or of one child: to read, for a spreadsheet, or to be taken in elsewhere."""
    from adapters import exports
    from adapters.records import accounted, answer_due, exported

    formats = [as_json, table is not None, xlsx is not None, everything is not None].count(True)
    if formats > 1 or (formats == 0 and child is None):
        raise click.UsageError("say one of --json, --csv TABLE, --xlsx FILE and --all FILE; or --child NAME, in words")
    if everything is not None:
        if child is not None:
            raise click.UsageError("--all is of the whole club; --json --child is what is kept of one child")
        words = with_store(context, db, lambda store: exports.written_whole(store, club, everything))
        click.echo(words, err=True)
        return
    if xlsx is not None:
        click.echo(with_store(context, db, lambda store: exports.workbook_of(store, club, child, xlsx)), err=True)
    elif table is not None:
        click.echo(with_store(context, db, lambda store: exports.csv_of(store, club, child, table)), nl=False)
    elif as_json:
        click.echo(with_store(context, db, lambda store: exported(store, club, child)))
    else:
        click.echo(with_store(context, db, lambda store: accounted(store, club, child or "")))
    if child is not None:
        click.echo(answer_due(), err=True)


@main.command("import")
@click.argument("file", metavar="FILE", type=FILE)
@with_db
@click.pass_context
def import_(context: click.Context, file: Path, db: str | None) -> None:
    """Take in a whole club from a file that sprung export --all wrote. A club that is here already is left alone."""
    from adapters.exports import taken_in

    click.echo(with_store(context, db, lambda store: taken_in(store, file)))


@main.command()
@click.option("--child", metavar="NAME", help="Only what is about one child.")
@click.option("--person", metavar="ID", help="Only what one person saw or did.")
@click.option("--since", metavar="DATE", help="From that day on, as in 2026-11-24.")
@with_club
@with_db
@click.pass_context
def audit(
    context: click.Context, child: str | None, person: str | None, since: str | None, club: str | None, db: str | None,
) -> None:
    """Print who saw and changed what, newest last. That somebody looked is kept too.

    What was seen is kept for audit_months of club.toml, changes as long as the child.
    """
    from adapters.records import audited

    click.echo(with_store(context, db, lambda store: audited(store, club, child, person, since)))


@main.command()
@click.argument("child", metavar="CHILD")
@click.option("--yes", is_flag=True, help="Do not ask first.")
@with_club
@with_db
@click.pass_context
def forget(context: click.Context, child: str, yes: bool, club: str | None, db: str | None) -> None:
    """Remove a child and all that is kept of her, for good."""
    from adapters.records import the_child, the_club

    async def work(store: Store) -> str:
        found = await the_club(store, club)
        known = await the_child(store, found.id, child)
        if not yes:
            click.confirm(f"Remove {known.name} and all that is kept of this child, for good?", abort=True, err=True)
        await store.forget(found.id, known.id)
        return f"{known.name} is forgotten. {COUNTS if found.forgotten == 'counted' else ''}{COPIES}"

    click.echo(with_store(context, db, work))


@main.command()
@click.argument("file", metavar="FILE", type=NEW_FILE)
@with_db
@click.pass_context
def backup(context: click.Context, file: Path, db: str | None) -> None:
    """Copy the database to a new file, also while it is in use."""
    from adapters.records import copied

    click.echo(with_store(context, db, lambda store: copied(store, file)))
