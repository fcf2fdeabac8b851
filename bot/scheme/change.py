"""From one version of a scheme to the next, when its file is loaded anew.

What lives here: what is kept of the old one, because somebody was judged by it, and what differs, in words.
"""
from __future__ import annotations

from collections.abc import Iterator, Set
from typing import TypeVar

from pydantic import BaseModel

from bot.scheme.model import Award, Scheme, Skill

M = TypeVar("M", bound=BaseModel)


def next_scheme(old: Scheme | None, new: Scheme, judged: Set[str]) -> tuple[Scheme | None, tuple[str, ...]]:
    """The next version of the scheme, or None where it is as before; and what differs.

    `judged`: the skills that have marks.
    """
    if old is None:
        return new, (f"The scheme {new.name} has {len(new.skills)} skills.",)
    whole = _with_retired(old, new, judged)
    return (None, ()) if whole == old else (whole, tuple(_differences(old, whole)))


def _with_retired(old: Scheme, new: Scheme, judged: Set[str]) -> Scheme:
    """The new scheme with what was judged and is no longer in it: last in its award, and retired."""
    awards = list(new.awards)
    for award in old.awards:
        kept = tuple(
            _with(skill, retired=True)
            for skill in award.skills if skill.id not in new.skills and skill.id in judged
        )
        if kept:
            _keep(awards, award, kept)
    return _with(new, award=tuple(awards))


def _with(model: M, **changed: object) -> M:
    """A copy with other fields. (`model_copy` would take along what the old one has worked out.)"""
    fields = {name: getattr(model, name) for name in type(model).model_fields}
    return type(model)(**{**fields, **changed})


def _keep(awards: list[Award], award: Award, kept: tuple[Skill, ...]) -> None:
    for place, one in enumerate(awards):
        if one.id == award.id:
            awards[place] = _with(one, skill=(*one.skill, *kept))
            return
    # What it took to earn it stays what it took: fewer skills must not make it easier.
    awards.append(_with(award, skill=kept, needs=award.needs or len(award.skills)))


def _differences(old: Scheme, new: Scheme) -> Iterator[str]:
    for skill in new.skills.values():
        was = old.skills.get(skill.id)
        if was is None:
            yield f"{skill.name} is new."
        elif skill.retired and not was.retired:
            yield f"{skill.name} is no longer in the scheme; its marks stay."
        elif was.retired and not skill.retired:
            yield f"{skill.name} is in the scheme again."
        elif was != skill:
            yield f"{skill.name} changed."
    for skill in old.skills.values():
        if skill.id not in new.skills:
            yield f"{skill.name} is gone."
    was_awards = {award.id: _with(award, skill=()) for award in old.awards}
    for award in new.awards:
        if award.id not in was_awards:
            yield f"The award {award.name} is new."
        elif was_awards[award.id] != _with(award, skill=()):
            yield f"The award {award.name} changed."
    for gone in was_awards.keys() - {award.id for award in new.awards}:
        yield f"The award {was_awards[gone].name} is gone."
    if _with(old, award=()) != _with(new, award=()):
        yield "The rules for repeats and rests changed."
