"""What commands have in common: the group, options that come again, and the store that they work on.

What lives here: the one place of the adapters where a store is chosen.
"""
from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from adapters.errors import Sprung

if TYPE_CHECKING:
    from bot.port import Store

T = TypeVar("T")

FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
NEW_FILE = click.Path(dir_okay=False, path_type=Path)
DB_HELP = (
    "The database: sqlite:///path, a path, postgresql://…, or memory: (default: SPRUNG_DB, sprung.toml, your data "
    "folder)."
)


with_db = click.option("--db", metavar="URL", help=DB_HELP)
with_club = click.option("--club", metavar="ID", help="The club, where there is more than one.")
with_clock = click.option(
    "--clock", metavar="TIME", help='Begin at that time, as in "2026-11-24 16:58"; it then runs on.',
)


@click.group(cls=Sprung, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--db", metavar="URL", help=DB_HELP)
@click.version_option(package_name="sprung", message="%(prog)s %(version)s")
@click.pass_context
def main(context: click.Context, db: str | None) -> None:
    """Sprung takes a whole class through an award scheme, by message.

    Try it: sprung demo
    """
    context.obj = db


def url_of(context: click.Context, db: str | None) -> str:
    """The database that was said, or else the one of the settings."""
    from adapters.settings import database

    return database(db or context.obj)


@contextlib.asynccontextmanager
async def opened(url: str, lessons: int | None = None) -> AsyncIterator[Store]:
    """The store at that address, let go of at the end. `lessons`: of so many it keeps all at hand."""
    store = store_opener()(url, lessons)
    try:
        yield store
    finally:
        await store.close()


def with_store(context: click.Context, db: str | None, work: Callable[[Store], Any]) -> Any:
    """Do something with the database's store and let it go again."""
    import asyncio

    url = url_of(context, db)

    async def run() -> Any:
        async with opened(url) as store:
            return await work(store)

    return asyncio.run(run())


def store_opener() -> Callable[..., Store]:
    """What opens a store by its address."""
    from storage import open_store

    return open_store


def usage_of(read: Callable[..., T], *given: Any) -> T:
    """What was typed on the command line, read; a wrong word there is wrong usage."""
    try:
        return read(*given)
    except ValueError as wrong:
        raise click.UsageError(str(wrong)) from None
