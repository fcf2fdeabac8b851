"""What goes out for others to read, and a whole club out and in again: the commands' work on files."""
from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from adapters.records import Unknown, looked, only, the_child, the_club
from adapters.sheets import as_csv, workbook
from bot.out.export import export
from bot.out.tables import Rows, tables
from bot.out.whole import LEFT_OUT, NoClub, read, written
from bot.port import Store
from bot.step import Shown

LARGEST = 200_000_000
OWN_EYES = 0o600        # children's names: for whoever wrote it alone


async def _tables(store: Store, club: str | None, child: str | None) -> dict[str, Rows]:
    at = await the_club(store, club)
    whole = await store.snapshot(at.id)
    out: dict[str, Any] = export(whole, datetime.now(UTC))
    whose = "" if child is None else (await the_child(store, at.id, child)).id
    await looked(store, at.id, Shown("export", whose))
    if whose:
        out = only(out, whose)
    return tables(out, whole.schemes[max(whole.schemes)])


async def csv_of(store: Store, club: str | None, child: str | None, table: str) -> str:
    """One table as CSV."""
    return as_csv((await _tables(store, club, child))[table])


async def workbook_of(store: Store, club: str | None, child: str | None, file: Path) -> str:
    """All tables in a new workbook. Raises Unknown where that file is there already."""
    found = await _tables(store, club, child)
    _keep(file, workbook({name.capitalize(): rows for name, rows in found.items()}))
    return f"Written to {file}: {', '.join(found)}."


async def written_whole(store: Store, club: str | None, file: Path) -> str:
    """The whole club in a new file; says what is left out. Raises Unknown where that file is there already."""
    at = await the_club(store, club)
    await looked(store, at.id, Shown("export"))
    whole = await store.whole(at.id)
    _keep(file, written(whole, datetime.now(UTC)).encode())
    children = sum(len(book.children) for book in whole.books.values())
    return (f"Written to {file}: {at.name}, {children} children, {len(whole.record)} facts. It has the children's "
            f"names, so keep it as you keep the database. Left out: {LEFT_OUT}. Everybody comes in anew, by sprung "
            "invite.")


def _keep(file: Path, data: bytes) -> None:
    if file.exists():
        raise Unknown(f"{file} is there already; name a new file.")
    beside = file.with_name(f".{file.name}.new")
    with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWN_EYES), "wb") as out:
        out.write(data)
    os.replace(beside, file)


async def taken_in(store: Store, file: Path) -> str:
    """Take in the club in a file; says what it was. Raises NoClub or Refused, and then nothing was changed."""
    if file.stat().st_size > LARGEST:
        raise NoClub(f"{file} is larger than {LARGEST // 1_000_000} MB: no club is.")
    try:
        whole = read(file.read_text(encoding="utf-8"))
    except UnicodeDecodeError:
        raise NoClub(f"{file} is no file of a club. One is written by: sprung export --all FILE") from None
    await store.restore(whole)
    children = sum(len(book.children) for book in whole.books.values())
    return (f"{whole.club.name} is here: {children} children, {len(whole.record)} facts. Who is reached where was left "
            "out: everybody comes in anew, by sprung invite.")
