"""What the commands about awards and paper do with a store: steps in a coach's name, sheets, certificates."""
from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

from adapters.clock import Clock
from adapters.paper import pages
from adapters.records import Unknown, looked, the_child, the_class, the_club, the_person
from adapters.service import Service
from adapters.settings import fonts
from adapters.sheets import as_csv
from bot.lesson.paper import day_of_sheet
from bot.lesson.timetable import day_in_zone
from bot.out.printed import award_name, certificates, classes, ways_of
from bot.people.model import Club
from bot.port import Snapshot, Store
from bot.step import COMMAND, Seen, Shown
from bot.talk.awards import HEADS
from bot.talk.words import date_in_full, names


async def typed(store: Store, club: str | None, person: str, text: str, clock: Clock) -> str:
    """A step in somebody's name, as though they had typed it; what is answered. Raises Unknown."""
    at = await the_club(store, club)
    who = await the_person(store, at.id, person)
    address = f"{at.id}/{who.id}"
    await store.meet(COMMAND, address, at.id, who.id)
    return "\n".join(one.text for one in await Service(store, clock).hear(COMMAND, address, text=text))


async def waiting(store: Store, club: str | None) -> str:
    """Which awards wait for what, class by class."""
    found = await _snapshot(store, club, "awards")
    rows = []
    for one, book in classes(found):
        ways = ways_of(found, book)
        for stage, head in HEADS.items():
            counts = Counter(way.award for way in ways if way.stage == stage and way.earned)
            said = names(f"{n} {award_name(found, key)}" for key, n in counts.items())
            rows += [f"{one.name}. {head}: {said}."] * bool(counts)
        lost = [f"{award_name(found, way.award)} for {book.called[way.child]}" for way in ways if not way.earned]
        rows += [f"{one.name}. Not earned any more: {names(lost)}."] * bool(lost)
    return "\n".join(rows) or "No award waits for anything."


async def sheet(
    store: Store, club: str | None, presentation: bool, csv_file: Path | None, pdf_file: Path | None,
) -> str:
    """The order sheet or the presentation list, to the screen or into files; ends with a line end."""
    found = await _snapshot(store, club, "awards")
    table = pages.presentation_table(found) if presentation else pages.order_table(found)
    if len(table) == 1:
        raise Unknown("Nothing is here to hand over." if presentation else "Nothing is on the order.")
    written = []
    if csv_file is not None:
        csv_file.write_text(as_csv(table), encoding="utf-8", newline="")
        written.append(csv_file)
    if pdf_file is not None:
        make = pages.presentation_pages if presentation else pages.order_pages
        pdf_file.write_bytes(make(found, _today(found.club), own_fonts=fonts()))
        written.append(pdf_file)
    return "".join(f"{path} is written.\n" for path in written) or _columns(table)


def _columns(table: pages.Table) -> str:
    wide = [max(len(row[n]) for row in table) for n in range(len(table[0]))]
    return "".join("  ".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True)).rstrip() + "\n"
                   for row in table)


async def certified(store: Store, club: str | None, class_id: str | None, child: str | None, output: Path) -> str:
    """Write the certificates, a file for each class; says how many, and whose name nobody looked at."""
    found = await _snapshot(store, club)
    which = None if class_id is None else the_class(found.club, class_id).id
    whose = None if child is None else (await the_child(store, found.club.id, child)).id
    if whose is not None:
        await looked(store, found.club.id, Shown("awards", child=whose))
    else:
        await _looked(store, found, "awards", which)
    if which is not None or whose is not None:
        return _written(found, which, whose, output)
    some: list[str | None] = [one.id for one, _ in certificates(found)]
    some = some or [None]       # a file for each class; that there is none is said
    several = [output.with_stem(f"{output.stem}-{one}") if len(some) > 1 else output for one in some]
    return "\n".join(_written(found, one, None, path) for one, path in zip(some, several, strict=True))


def _written(found: Snapshot, which: str | None, whose: str | None, output: Path) -> str:
    data, rows = pages.certificate_pages(found, which, whose, fonts())
    output.write_bytes(data)
    count = f"{len(rows)} {'page' if len(rows) == 1 else 'pages'}"
    unseen = list(dict.fromkeys(row.name for row in rows if not row.checked))
    more = f" and {len(unseen) - 10} more" if len(unseen) > 10 else ""
    look = f" Nobody said yet that these names are right: {', '.join(unseen[:10])}{more}." if unseen else ""
    return f"{output} is written: {count}.{look}"


async def on_paper(
    store: Store, club: str | None, wanted: str, day: str | None, output: Path, clock: Clock, *, everything: bool,
) -> str:
    """Write the class sheet of a lesson: that of the day, else the next one. Raises Unknown."""
    found = await _snapshot(store, club)
    one = the_class(found.club, wanted)
    await looked(store, found.club.id, Shown("class", class_id=one.id))
    try:
        when = date.fromisoformat(day) if day is not None else day_of_sheet(
            found.books[one.id], found.club, one, clock.now(),
        )
    except ValueError:
        raise Unknown(f"{day} is no day; write it as in 2026-11-24.") from None
    output.write_bytes(pages.lesson_pages(found, one, when, fonts(), everything=everything))
    return f"{output} is written: {one.name}, {date_in_full(when)}."


async def _snapshot(store: Store, club: str | None, shown: Seen | None = None) -> Snapshot:
    """All of the club; `shown`: what of each class is seen by it, so that it is kept who saw it."""
    found = await store.snapshot((await the_club(store, club)).id)
    if shown is not None:
        await _looked(store, found, shown)
    return found


async def _looked(store: Store, found: Snapshot, what: Seen, only: str | None = None) -> None:
    """Keep that something of a class was seen, or of all classes."""
    which = [one.id for one in found.club.classes] if only is None else [only]
    await looked(store, found.club.id, *(Shown(what, class_id=one) for one in which))


def _today(club: Club) -> date:
    from adapters.clock import SystemClock

    return day_in_zone(club, SystemClock().now())
