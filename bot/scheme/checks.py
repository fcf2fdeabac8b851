"""Questions that a scheme has to answer as a whole, after each value by itself is in order.

One function a question, each yielding faults. Whoever adds a rule adds a function and names it in `check`.
What one skill says of itself is asked in `skill_checks.py`.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping

from bot.scheme.faults import Fault, Source
from bot.scheme.lines import Path
from bot.scheme.model import Award, Scheme, Skill
from bot.scheme.skill_checks import check_skill
from bot.scheme.words import fold, meant

Placed = list[tuple[Path, Award, Skill]]


def check(scheme: Scheme, source: Source, mended: frozenset[Path]) -> list[Fault]:
    """All faults of a scheme as a whole. `mended`: paths whose values are not as their author wrote them."""
    placed: Placed = [
        (("award", i, "skill", j), award, skill)
        for i, award in enumerate(scheme.award) for j, skill in enumerate(award.skill)
    ]
    found: list[Fault] = []
    for question in (_some_awards, _award_ids, _needs, _must, _after):
        found += [source.fault(path, says) for path, says in question(scheme) if path not in mended]
    for ask in (_skill_ids, _typed_apart, _uses):
        found += [source.fault(path, says) for path, says in ask(placed, source)]
    for path, _, skill in placed:
        spoilt = frozenset(one[4] for one in mended if one[:4] == path and len(one) == 5)
        found += [source.fault((*path, *at), says) for at, says in check_skill(skill, spoilt)]
    return found


Said = Iterator[tuple[Path, str]]


def _some_awards(scheme: Scheme) -> Said:
    if not scheme.award:
        yield ("award",), "there is no award; begin one with [[award]], with id and name below it"
    for i, award in enumerate(scheme.award):
        if not award.skill:
            yield ("award", i, "skill"), (
                "this award has no skills, so nobody can earn it; add one with [[award.skill]], or delete it"
            )


def _award_ids(scheme: Scheme) -> Said:
    ids: dict[str, int] = {}
    names: dict[str, int] = {}
    for i, award in enumerate(scheme.award):
        if fold(award.id) in ids:
            yield ("award", i, "id"), f'another award has the id "{award.id}"; give this one an id of its own'
        elif fold(award.name) in names:
            yield ("award", i, "name"), f'another award is called "{award.name}"; give this one another name'
        ids.setdefault(fold(award.id), i)
        names.setdefault(fold(award.name), i)


def _needs(scheme: Scheme) -> Said:
    for i, award in enumerate(scheme.award):
        at = ("award", i, "needs")
        open_to = sum(not skill.retired for skill in award.skill)
        if award.needs is None or not award.skill:
            continue
        if award.needs > open_to:
            yield at, (f"{award.needs} skills are asked for, but the award has {open_to}; "
                       f"write needs = {open_to} at most, or add skills")
        elif award.needs < len(set(award.must)):
            yield at, (f"{award.needs} skills are asked for, but {len(set(award.must))} must be among them; "
                       f"write needs = {len(set(award.must))} or more, or shorten must")


def _must(scheme: Scheme) -> Said:
    for i, award in enumerate(scheme.award):
        if not award.skill:
            continue
        own = {skill.id: skill for skill in award.skill}
        for j, must in enumerate(award.must):
            at = ("award", i, "must", j)
            if must not in own:
                other = scheme.award_of.get(must)
                where = f" but of award {other.id}" if other else ""
                yield at, f'"{must}" is not a skill of this award{where}; {meant(must, own)}'
            elif own[must].retired:
                yield at, f'"{must}" is retired, so no child could do it any more; take it out of must'


def _after(scheme: Scheme) -> Said:
    ids = {award.id: award.after for award in scheme.award}
    for i, award in enumerate(scheme.award):
        for j, before in enumerate(award.after):
            at = ("award", i, "after", j)
            if before not in ids:
                others = [one for one in ids if one != award.id]
                yield at, f'there is no award "{before}"; {meant(before, others)}'
            elif _leads_to(before, award.id, ids):
                yield at, (f'"{award.id}" would come after "{before}" and before it as well; '
                           f'take "{before}" out of after, here or on the way round')


def _leads_to(start: str, goal: str, steps: Mapping[str, tuple[str, ...]]) -> bool:
    """Does following the steps from the start arrive at the goal?"""
    waiting, met = [start], set[str]()
    while waiting:
        here = waiting.pop()
        if here == goal:
            return True
        if here not in met:
            met.add(here)
            waiting += steps.get(here, ())
    return False


# --- skills among each other -------------------------------------------------------------------------

def _line(source: Source, path: Path) -> str:
    return f"line {source.fault(path, '').line}"


def _skill_ids(placed: Placed, source: Source) -> Said:
    first: dict[str, Path] = {}
    for path, _, skill in placed:
        key = fold(skill.id)
        if key in first:
            yield (*path, "id"), (
                f'the skill on {_line(source, first[key])} has the id "{skill.id}" already; '
                "ids are unique in the whole file, so give this one another"
            )
        first.setdefault(key, path)


def _typed_apart(placed: Placed, source: Source) -> Said:
    """A coach has to be able to type each skill. Equal ids are a fault of their own."""
    first: dict[str, tuple[Path, Skill]] = {}
    for path, _, skill in placed:
        for key, at, text in _typed(skill):
            owner = first.setdefault(key, (path, skill))
            if owner[0] != path and fold(owner[1].id) != fold(skill.id):
                yield (*path, *at), (
                    f'"{text}" also means {owner[1].name} ({_line(source, owner[0])}), '
                    "so a coach could not type them apart; change one of the two"
                )


def _typed(skill: Skill) -> Iterator[tuple[str, Path, str]]:
    """The name and id of a skill, folded; each once. A word that two skills share is asked about in the talk."""
    seen = set[str]()
    places: list[tuple[Path, str]] = [(("name",), skill.name), (("id",), skill.id)]
    for at, text in places:
        key = fold(text)
        if key and key not in seen:
            seen.add(key)
            yield key, at, text


def _uses(placed: Placed, source: Source) -> Said:
    steps = {skill.id: skill.uses for _, _, skill in placed}
    for path, _, skill in placed:
        for i, used in enumerate(skill.uses):
            at = (*path, "uses", i)
            if used not in steps:
                others = [one for one in steps if one != skill.id]
                yield at, f'there is no skill "{used}" in the file; {meant(used, others)}'
            elif _leads_to(used, skill.id, steps):
                yield at, f'"{skill.id}" would be made of itself, by "{used}"; take "{used}" out of uses'


