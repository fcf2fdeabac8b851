"""Questions that one skill has to answer by itself: do its shows, pieces and points fit together?"""
from __future__ import annotations

from collections.abc import Iterator, Sequence

from bot.scheme.lines import Path
from bot.scheme.model import Named, Skill
from bot.scheme.words import fold, meant

Said = Iterator[tuple[Path, str]]


def check_skill(skill: Skill, spoilt: frozenset[str | int]) -> Said:
    """The faults of a skill, with their paths inside it. `spoilt`: keys whose values had to be mended."""
    yield from _once_each(skill)
    yield from _shows(skill)
    yield from _tempo(skill)
    if not spoilt & {"sides", "parts"}:
        yield from _sides(skill)
    if not spoilt & {"sides", "parts", "ways", "shows"}:
        yield from _scopes(skill)


def _once_each(skill: Skill) -> Said:
    """Within a skill, ids are unique among the points, among the parts, among the ways."""
    groups: list[tuple[str, str, Sequence[Named]]] = [
        ("points", "point", skill.points), ("parts", "part", skill.parts), ("ways", "way", skill.ways),
    ]
    for key, word, named in groups:
        met = set[str]()
        for i, one in enumerate(named):
            if fold(one.id) in met:
                yield (key, i), f'this skill has a {word} "{one.id}" already; give this one another id'
            met.add(fold(one.id))


def _shows(skill: Skill) -> Said:
    for i, show in enumerate(skill.shows):
        if show.rest is not None and show.rest_s is not None:
            yield ("shows", i, "rest"), (
                'a breather has no prescribed time, but rest_s gives one; delete rest = "breather" or rest_s'
            )
        if i == 0 and len(skill.shows) == 2 and _rests(skill, 0) and not _rests(skill, 1):
            yield ("shows", i, "rest_s" if show.rest_s is not None else "rest"), (
                "a rest belongs to the show that it comes before; move it to the second show"
            )


def _rests(skill: Skill, index: int) -> bool:
    return skill.shows[index].rest_s is not None or skill.shows[index].rest is not None


def _tempo(skill: Skill) -> Said:
    for key, asked in (("shows", skill.shows), ("parts", skill.parts)):
        for i, one in enumerate(asked):
            if one.bpm is not None and one.bpm[0] > one.bpm[1]:
                high, low = one.bpm
                yield (key, i, "bpm"), f"the slowest tempo comes first; write bpm = [{low}, {high}]"
            if one.exact and not (one.reps or one.eights or one.times_through):
                yield (key, i, "exact"), "exact needs a number beside it; add reps = 5 (or so), or delete it"


def _sides(skill: Skill) -> Said:
    own = [part.sides for part in skill.parts]
    if skill.side_means and skill.sides == "one" and not any(side not in (None, "one") for side in own):
        yield ("side_means",), (
            'this says what left and right mean, but no side is asked for; add sides = "each", "either" or '
            '"alternate", or delete side_means'
        )
    if skill.sides == "each" and own and None not in own and "each" not in own:
        yield ("sides",), (
            "every part says another thing about its sides, so this asks for nothing; delete it here or there"
        )
    if "each" in (skill.sides, *own):
        for i, part in enumerate(skill.parts):
            if fold(part.id) in ("left", "right"):
                yield ("parts", i), (
                    f'"{part.id}" is a side and no part; delete the parts, since sides = "each" asks for both'
                )


def _scopes(skill: Skill) -> Said:
    """What a point is about has to exist."""
    parts = [part.id for part in skill.parts]
    ways = [way.id for way in skill.ways]
    sided = any(side not in (None, "one") for side in (skill.sides, *(part.sides for part in skill.parts)))
    for i, point in enumerate(skill.points):
        for key, named, known in (("parts", point.parts, parts), ("ways", point.ways, ways)):
            for j, one in enumerate(named):
                if one not in known:
                    word = key[:-1]
                    yield ("points", i, key, j), f'this skill has no {word} "{one}"; {meant(one, known)}'
        if point.sides and not sided:
            yield ("points", i, "sides"), (
                'no side is asked for in this skill; add sides = "each" to it (or another), or delete this'
            )
        for j, show in enumerate(point.shows):
            if show > len(skill.shows):
                yield ("points", i, "shows", j), (
                    f"there is no show {show} in this skill; add a second one to its shows, or delete this"
                )
