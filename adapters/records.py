"""What the commands do with a store: finding a club, a person, a child; codes, exports, cards, copies."""
from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from adapters.codes import invitation, new_code
from bot.health import COPIED
from bot.lesson.book import Child
from bot.people.columns import class_named
from bot.people.model import Club, ClubClass, Person
from bot.port import Store
from bot.step import Shown
from bot.talk.reading.fold import fold


class Unknown(Exception):
    """What was named is not there, or more than one is; the text says what there is."""


# --- who is meant ----------------------------------------------------------------------------------

async def the_club(store: Store, wanted: str | None) -> Club:
    """The club of that id, or the only one. Raises Unknown."""
    clubs = await store.clubs()
    if not clubs:
        raise Unknown("There is no club here yet. Load one with: sprung hall FOLDER")
    found = [club for club in clubs if wanted is None or wanted == club.id or fold(wanted) == fold(club.name)]
    if len(found) != 1:
        asked = f"There is no club {wanted}." if wanted else "Which club?"
        raise Unknown(f"{asked} Say --club with one of: {', '.join(club.id for club in clubs)}.")
    return found[0]


def the_class(club: Club, wanted: str) -> ClubClass:
    """The class of that id or name, or the one on that day. Raises Unknown."""
    found = class_named(wanted, club)
    if found is None:
        raise Unknown(f"There is no class {wanted}, or more than one. Say one of: {', '.join(club.by_class)}.")
    return club.by_class[found]


async def the_person(store: Store, club: str, wanted: str) -> Person:
    """The person of that id or name. Raises Unknown."""
    found = await anybody(store, club, wanted)
    if found is None:
        raise Unknown(f"Nobody here is called {wanted}. Say one of: {_ids(await store.people(club))}.")
    return found


async def anybody(store: Store, club: str, wanted: str) -> Person | None:
    """The person of that id or name, None where nobody bears it. Raises Unknown where more than one does."""
    people = [one for one in await store.people(club) if one.role != "parent"]
    found = [one for one in people if one.id == wanted]
    found = found or [one for one in people if fold(wanted) in (fold(one.id), fold(one.name), fold(one.first_name))]
    if len(found) > 1:
        raise Unknown(f"More than one here is called {wanted}. Say one of: {_ids(people)}.")
    return found[0] if found else None


def _ids(people: Iterable[Person]) -> str:
    return ", ".join(one.id for one in people if one.role != "parent")


async def the_child(store: Store, club: str, wanted: str) -> Child:
    """The child of that name. Raises Unknown."""
    children = (await store.snapshot(club)).children.values()
    found = [one for one in children if fold(one.name) == fold(wanted)]
    if len(found) != 1:
        some = "More than one child here is" if found else "No child here is"
        raise Unknown(f"{some} called {wanted}. Say the whole name.")
    return found[0]


# --- what is done ----------------------------------------------------------------------------------

async def invited(store: Store, club: str | None, person: str | None, child: str | None) -> tuple[str, str]:
    """A new code, and how it is used, in words."""
    at = await the_club(store, club)
    who = await the_person(store, at.id, person) if person is not None else None
    whose = await the_child(store, at.id, child) if child is not None else None
    code = new_code()
    opens = invitation(at.id, _now(), person=who, child=whose.id if whose else None)
    await store.invite(opens, code)
    whom = f"a parent of {whose.name}" if whose else who.name if who else ""
    until = f"{opens.expires_at.astimezone(at.tz):%A %d %B}".replace(" 0", " ")
    return code, f"For {whom}, handed over in person: send it as  join {code}  It works once, until {until}."


async def exported(store: Store, club: str | None, child: str | None) -> str:
    """All that is kept of a club, or of one child, as JSON."""
    from bot.out.export import export

    at = await the_club(store, club)
    out = export(await store.snapshot(at.id), _now())
    whose = "" if child is None else (await the_child(store, at.id, child)).id
    if whose:
        out = only(out, whose)
    await looked(store, at.id, Shown("export", whose))
    return json.dumps(out, ensure_ascii=False, indent=2)


async def accounted(store: Store, club: str | None, child: str) -> str:
    """All that is kept of one child, in words that a family can read."""
    from bot.out.account import account

    at = await the_club(store, club)
    whose = (await the_child(store, at.id, child)).id
    await looked(store, at.id, Shown("export", whose))
    return account(await store.snapshot(at.id), whose, _now())


async def looked(store: Store, club: str, *shown: Shown) -> None:
    """Keep that whoever sits at the computer was shown this."""
    await store.saw(club, at_the_computer(), shown, _now())


def at_the_computer() -> str:
    """Under which name it is kept what somebody saw who sat at the computer itself: their login there."""
    from getpass import getuser

    from bot.out.trail import COMPUTER

    try:
        return f"{COMPUTER}{getuser()}"
    except (KeyError, OSError):
        return f"{COMPUTER}unknown"


async def audited(store: Store, club: str | None, child: str | None, person: str | None, since: str | None) -> str:
    """Who saw and changed what, in sentences, newest last. Raises Unknown. That somebody looked is kept too."""
    from bot.out.trail import COMPUTER, Teller

    at = await the_club(store, club)
    whose = None if child is None else (await the_child(store, at.id, child)).id
    who = person
    if person is not None and not person.startswith(COMPUTER):
        who = (await the_person(store, at.id, person)).id
    first = None if since is None else _midnight(since, at.tz)
    await looked(store, at.id, Shown("trail", whose or ""))
    lines = Teller(await store.snapshot(at.id), await store.trail(at.id)).lines(whose, who, first)
    return "\n".join(lines) or "Nothing is known of that."


def _midnight(day: str, tz: ZoneInfo) -> datetime:
    try:
        return datetime.combine(date.fromisoformat(day), time(), tz)
    except ValueError:
        raise Unknown(f"{day} is no day; write it like 2026-11-24.") from None


def answer_due() -> str:
    """By when a family who asks today for what is kept has to have it."""
    from bot.people.consent import due_by
    from bot.talk.words import date_in_full

    return (f"A family who asked for this today is to have it by {date_in_full(due_by(_now().date()))} "
            "(GDPR, article 12; other law may ask for more).")


def only(out: Mapping[str, Any], child: str) -> dict[str, Any]:
    """What of an export is about one child."""
    return {
        **{key: value for key, value in out.items() if key != "forgotten"},
        "children": [one for one in out["children"] if one["id"] == child],
        "marks": [one for one in out["marks"] if one["child"] == child],
        "consents": [one for one in out["consents"] if one["child"] == child],
    }


def cards(file: Path) -> str:
    """The standard cards of a scheme file, award by award. Raises SchemeErrors."""
    from bot.scheme.card import card
    from bot.scheme.load import read_scheme

    try:
        read = read_scheme(file.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError:
        raise Unknown(f"{file} is not in UTF-8; save it again with that encoding.") from None
    rows = [read.name]
    for award in read.awards:
        rows += ["", f"== {award.name} =="]
        rows += [f"\n{card(read, skill)}" for skill in award.skills]
    return "\n".join(rows)


async def copied(store: Store, file: Path) -> str:
    """Copy everything to a new file; says what was done. Raises Unknown where that file is there already."""
    if file.exists():
        raise Unknown(f"{file} is there already; name a new file.")
    await store.backup(str(file))
    now = _now()
    await store.hold(COPIED, str(uuid4()), now, now)      # over already: it says when that was
    return f"Copied to {file}."


async def keyed(store: Store, gateway: str, push: str | None) -> tuple[list[str], str]:
    """A gateway's new key, with a secret where it is pushed to anew, and how they are used. Raises Unknown."""
    from adapters.http.keys import NoGateway, new_key

    try:
        made = await new_key(store, gateway, push)
    except NoGateway as fault:
        raise Unknown(f"{str(fault)[:1].upper()}{str(fault)[1:]}.") from None
    words = f"For {gateway}, shown this once: send it as  Authorization: Bearer KEY"
    if push in (None, "off"):
        return [made.key], words
    signs = "The second line is the secret that signs what is pushed."
    return [made.key, made.gateway.push_secret or ""], f"{words}  {signs}"


async def revoked(store: Store, gateway: str, which: str) -> str:
    """End a key of a gateway, or all of them; says how many."""
    from adapters.http.keys import end

    count = await end(store, gateway, which)
    return f"{count} {'key' if count == 1 else 'keys'} of {gateway} ended."


async def phones_of(store: Store, club: str | None, person: str, end: str | None) -> str:
    """The phones on which somebody is signed in at the page; or, with `end`, how many of them were signed out."""
    at = await the_club(store, club)
    who = await the_person(store, at.id, person)
    if end is not None:
        count = await store.end_phones(at.id, who.id, None if end == "all" else end)
        return f"{count} {'phone' if count == 1 else 'phones'} of {who.name} signed out."
    found = await store.phones(at.id, who.id)
    rows = [f"{one.id}  since {one.since.astimezone(at.tz):%Y-%m-%d %H:%M}" for one in found]
    return "\n".join(rows) or f"{who.name} is signed in on no phone."


async def calendar_of(store: Store, club: str | None, person: str, page: str | None, *, end: bool) -> tuple[str, str]:
    """A new link to somebody's lessons, and what it is in words; or, with `end`, that theirs was ended."""
    from adapters.http.calendars import new_link

    at = await the_club(store, club)
    who = await the_person(store, at.id, person)
    if end:
        was = await store.end_feed(at.id, who.id)
        return f"The link of {who.name} is ended." if was else f"{who.name} has no link.", ""
    path = await new_link(store, at.id, who.id)
    where = "" if page else "It stands behind the address at which sprung serve is reached (see SPRUNG_ADDRESS). "
    return f"{(page or '').rstrip('/')}{path}", (
        f"For {who.name}, shown this once: whoever has it sees when the lessons are and how many retests are due, and "
        f"no child's name. {where}A link that they had before is ended.")


async def local_clock(store: Store, text: str) -> datetime:
    """The instant of a wall-clock time where the first club is. Raises Unknown."""
    from adapters.clock import local_instant

    clubs = await store.clubs()
    try:
        return local_instant(text, clubs[0].tz if clubs else ZoneInfo("UTC"))
    except ValueError as wrong:
        raise Unknown(f"{wrong}.") from None


def _now() -> datetime:
    return datetime.now(UTC)
