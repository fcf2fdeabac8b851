"""How facts are filed and found again: the same in memory and in a database.

What lives here: by what a fact is found, whether it answers a want, and which voids belong to it.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable

from bot.facts import Fact, Filed, Mark, Recorded, Voided
from bot.step import Want


def file(recorded: Recorded, person: str, lesson: str | None) -> Filed:
    """File a fact that came in a message of `person`, in that lesson if it has none of its own."""
    fact = recorded.fact
    own: str | None = getattr(fact, "by", None)
    where: str | None = getattr(fact, "lesson", None) or lesson
    class_id: str | None = getattr(fact, "class_id", None)
    if class_id is None and where is not None:
        class_id = where.rsplit("/", 1)[0]
    return Filed(recorded, person if own is None else own, where, class_id)


def child_of(fact: Fact) -> str | None:
    """The one child that a fact is about."""
    child: str | None = getattr(fact, "child", None)
    return child


def skill_of(fact: Fact) -> str | None:
    """The one skill that a fact is about."""
    skill: str | None = getattr(fact, "skill", None)
    return skill


def target_of(fact: Fact) -> str | None:
    """The message or mark that a fact voids."""
    return fact.target if isinstance(fact, Voided) else None


def answers(filed: Filed, want: Want) -> bool:
    """Does this fact match every field that the want gives?"""
    fact = filed.recorded.fact
    pairs = (
        (want.child, child_of(fact)), (want.skill, skill_of(fact)), (want.lesson, filed.lesson),
        (want.class_id, filed.class_id), (want.message, filed.recorded.message), (want.by, filed.by),
        (want.kind, fact.kind),
    )
    return all(asked is None or asked == has for asked, has in pairs)


def with_voids(
    found: Iterable[Recorded], voids: Callable[[frozenset[str]], Iterable[Recorded]],
) -> tuple[Recorded, ...]:
    """The facts found and every void that can touch them, in order of receipt.

    A correction falls with its own message, so the voids of a void's message belong to it too.
    `voids` gives those whose target is one of the names it is given.
    """
    kept = {one.seq: one for one in found}
    asked: set[str] = set()
    fresh = list(kept.values())
    while fresh:
        names = _names(fresh) - asked
        asked |= names
        fresh = [one for one in voids(frozenset(names)) if one.seq not in kept] if names else []
        kept |= {one.seq: one for one in fresh}
    return tuple(kept[seq] for seq in sorted(kept))


def _names(record: Iterable[Recorded]) -> set[str]:
    """What a void can name: the messages, and the marks in them."""
    names: set[str] = set()
    for one in record:
        names.add(one.message)
        if isinstance(one.fact, Mark):
            names.add(one.fact.id)
    return names
