"""Looking into a store for a script: whom a name means, and what the export shows of a child."""
from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from adapters.play.script import Expect
from bot.out.export import export
from bot.people.model import Person
from bot.port import Snapshot, Store
from bot.talk.reading.fold import fold


class NotFound(Exception):
    """There is no such child, person, skill or award; the text says which."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found: the child and the thing by their own names, and the standing."""

    child: str
    what: str
    standing: str


async def look(store: Store, clubs: Sequence[str], wanted: Expect, now: datetime) -> Looked:
    """What the export shows. Raises NotFound."""
    for club in clubs:
        snapshot = await store.snapshot(club)
        children = export(snapshot, now)["children"]
        child = _named(children, wanted.child)
        if child is not None:
            what, standing = _standing(snapshot, child, wanted)
            return Looked(child["name"], what, standing)
    raise NotFound(f"no child here is called {wanted.child}")


def _standing(snapshot: Snapshot, child: Mapping[str, Any], wanted: Expect) -> tuple[str, str]:
    scheme = snapshot.schemes[max(snapshot.schemes)]
    if wanted.award is not None:
        return _pick(child["awards"], {one.id: one.name for one in scheme.awards}, wanted.award, "award")
    return _pick(child["skills"], {one.id: one.name for one in scheme.skills.values()}, wanted.skill or "", "skill")


def _pick(shown: Mapping[str, Any], names: Mapping[str, str], typed: str, kind: str) -> tuple[str, str]:
    """The standing of what was typed: its id, or its name."""
    found = typed if typed in shown else next(
        (one for one in shown if fold(typed) in (fold(one), fold(names.get(one, one)))), None,
    )
    if found is None:
        raise NotFound(f"there is no {kind} {typed} in the scheme")
    return found, shown[found]["standing"]


def _named(children: Iterable[Mapping[str, Any]], typed: str) -> Mapping[str, Any] | None:
    """The child of that name, folded; else of that first name, where only one has it."""
    listed, wanted = list(children), fold(typed)
    whole = [child for child in listed if fold(child["name"]) == wanted]
    found = whole or [child for child in listed if fold(child["name"].split()[0]) == wanted]
    return found[0] if len(found) == 1 else None


async def child_id(store: Store, clubs: Sequence[str], typed: str) -> tuple[str, str]:
    """The club and the id of the child of that name. Raises NotFound."""
    for club in clubs:
        books = (await store.snapshot(club)).books.values()
        child = _named(({"id": one.id, "name": one.name} for book in books for one in book.children.values()), typed)
        if child is not None:
            return club, child["id"]
    raise NotFound(f"no child here is called {typed}, or more than one is")


async def person(store: Store, clubs: Sequence[str], typed: str) -> tuple[str, Person]:
    """The club and the person of that id or name. Raises NotFound."""
    for club in clubs:
        for one in await store.people(club):
            if typed == one.id or fold(typed) in (fold(one.id), fold(one.name)):
                return club, one
    raise NotFound(f"nobody here has the id {typed}")
