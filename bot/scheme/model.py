"""A scheme and what is in it, as plain frozen values.

What lives here: the shapes and their defaults. How a file becomes one of these is `load.py`;
how one is shown to a coach is `card.py`. Times are whole seconds.
"""
from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from bot.scheme.words import slug

_ID = re.compile(r"^\w+([.-]\w+)*$")     # one word, of any script


def _listed(value: Any) -> Any:
    """One thing where several may stand is a list of that one."""
    return (value,) if isinstance(value, str | int) and not isinstance(value, bool) else value


def _id(text: str) -> str:
    """A text that will do as an id stays as it is; of any other one is made."""
    return text if _ID.match(text) else slug(text) or text


def _ids(value: Any) -> Any:
    """Pieces may be named as they are written out; what counts are their ids."""
    listed = _listed(value)
    if not isinstance(listed, list | tuple):
        return listed
    return [_id(one) if isinstance(one, str) else one for one in listed]


def _named(value: Any) -> Any:
    """A bare string stands for a table with that label; an id without a label is its own label."""
    if isinstance(value, str):
        return {"id": _id(value), "label": value.replace("-", " ")}
    if isinstance(value, dict) and isinstance(value.get("id"), str) and "label" not in value:
        return value | {"label": value["id"].replace("-", " ")}
    return value


def _pair(value: Any) -> Any:
    """One tempo is the slowest and the quickest alike."""
    return (value, value) if isinstance(value, int) and not isinstance(value, bool) else value


def _home(value: Any) -> Any:
    """`"No"` is no, and fine is fine however it is said."""
    if not isinstance(value, str):
        return value
    said = value.strip()
    if said.lower() in ("", "yes", "fine", "ok"):
        return None
    return "no" if said.lower() in ("no", "never", "not") else said


Sides = Literal["one", "each", "either", "alternate"]
Side = Literal["left", "right"]
Id = Annotated[str, Field(pattern=_ID.pattern, max_length=60)]
Label = Annotated[str, Field(min_length=1, max_length=80)]
Seconds = Annotated[int, Field(ge=0, le=3600)]
Count = Annotated[int, Field(ge=1, le=1000)]
Words = Annotated[tuple[str, ...], BeforeValidator(_listed)]
Ids = Annotated[tuple[str, ...], BeforeValidator(_ids)]


class Frozen(BaseModel):
    """A value that is never changed, with no key that we do not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Asked(Frozen):
    """How much is asked: what a show and a part can say alike."""

    hold_s: Seconds | None = None
    reps: Count | None = None           # in a row, at least; exactly with `exact`
    exact: bool = False
    eights: Count | None = None         # counts of eight
    times_through: Count | None = None
    bpm: Annotated[tuple[Count, Count] | None, BeforeValidator(_pair)] = None     # slowest, quickest
    text: str = ""


class Show(Asked):
    """One performance asked for. `seconds` is the whole show of one line, all its pieces."""

    seconds: Annotated[int, Field(ge=1, le=3600)] = 30
    rest_s: Seconds | None = None       # before this show; None: the scheme's usual rest
    rest: Literal["breather"] | None = None     # a rest is wanted, but no time is prescribed


class Named(Frozen):
    """Something with an id and a label. In a file a bare string will do."""

    id: Id
    label: Label
    words: Words = ()
    text: str = ""

    @model_validator(mode="before")
    @classmethod
    def _read(cls, value: Any) -> Any:
        return _named(value)


class Way(Named):
    """An accepted alternative; any one will do."""


class Part(Asked, Named):
    """One of several things that together earn one tick."""

    sides: Sides | None = None          # None: as the skill says


class Point(Named):
    """One thing that can be seen. An `aim` is wished for and never a miss."""

    need: Literal["must", "aim"] = "must"
    parts: Ids = ()                     # the pieces it is about; empty: all
    ways: Ids = ()
    sides: Annotated[tuple[Side, ...], BeforeValidator(_listed)] = ()
    shows: Annotated[tuple[Literal[1, 2], ...], BeforeValidator(_listed)] = ()


class Skill(Frozen):
    """One tick's worth of an award, with the standard that it is judged by."""

    id: Id
    name: Label
    words: Words = ()
    points: tuple[Point, ...] = ()
    shows: Annotated[tuple[Show, ...], Field(min_length=1, max_length=2)] = (Show(),)
    parts: tuple[Part, ...] = ()
    sides: Sides = "one"
    side_means: str = ""
    ways: tuple[Way, ...] = ()
    free: Words = ()
    line: Annotated[int, Field(ge=1, le=30)] = 4
    changeover_s: Seconds = 30
    switch_s: Seconds | None = None     # None: 10 s, or the changeover where that is shorter
    light: bool = False
    loads: Words = ()
    surface: str | None = None          # None: any floor
    home: Annotated[str | None, BeforeValidator(_home)] = None     # "no", None: fine, or the condition
    caution: str = ""
    uses: Words = ()                    # ids of the skills that a routine is made of
    retired: bool = False               # no longer suggested; its marks and ticks stay

    @cached_property
    def pieces(self) -> tuple[str, ...]:
        """What one show is made of: parts × sides, as `part`, `side` or `part side`; `""` where neither."""
        if not self.parts:
            return ("left", "right") if self.sides == "each" else ("",)
        return tuple(
            f"{part.id} {side}".strip()
            for part in self.parts
            for side in (("left", "right") if (part.sides or self.sides) == "each" else ("",))
        )

    @cached_property
    def musts(self) -> tuple[Point, ...]:
        """The points that can be missed."""
        return tuple(point for point in self.points if point.need == "must")

    def point(self, point_id: str) -> Point | None:
        """The point of that id, or None."""
        return next((point for point in self.points if point.id == point_id), None)


class Award(Frozen):
    """What a child is given for enough of its skills."""

    id: Id
    name: Label
    after: Words = ()
    needs: Annotated[int, Field(ge=1)] | None = None    # None: all of them
    must: Words = ()
    skill: tuple[Skill, ...] = ()

    @cached_property
    def suggested(self) -> dict[str, Skill]:
        """Skill id → skill, for those that are still suggested."""
        return {skill.id: skill for skill in self.skill if not skill.retired}

    @property
    def skills(self) -> tuple[Skill, ...]:
        """Its skills in the file's order, the retired ones too."""
        return self.skill

    @cached_property
    def _ids(self) -> frozenset[str]:
        """The ids of its skills, the retired ones too."""
        return frozenset(skill.id for skill in self.skill)

    def enough(self, ticked: frozenset[str] | set[str]) -> bool:
        """Do these ticked skills earn it? A retired skill counts when ticked and is missed by nobody."""
        have = len(self._ids & ticked)
        whole = self.suggested.keys() <= ticked if self.needs is None else have >= self.needs
        return have > 0 and whole and ticked.issuperset(self.must)

    def goal(self, ticked: frozenset[str] | set[str]) -> int:
        """How many ticks it takes, for somebody who has these."""
        return len(self._ids & (self.suggested.keys() | ticked)) if self.needs is None else self.needs


class Terms(Frozen):
    """A scheme's name, and how shows are repeated in it."""

    name: Label
    repeat_within: Literal["lesson"] | Annotated[int, Field(ge=0, le=366)] = "lesson"
    after_a_miss: Literal["first show", "same show"] = "first show"
    rest_s: Seconds = 60


class Scheme(Terms):
    """A club's awards, on the scheme's terms."""

    award: tuple[Award, ...] = ()

    @property
    def awards(self) -> tuple[Award, ...]:
        """The awards in the file's order."""
        return self.award

    def every_skill(self) -> Iterator[tuple[Award, Skill]]:
        """Each skill with its award, in the file's order."""
        for award in self.award:
            for skill in award.skill:
                yield award, skill

    @cached_property
    def skills(self) -> dict[str, Skill]:
        """Skill id → skill, for the whole scheme."""
        return {skill.id: skill for _, skill in self.every_skill()}

    @cached_property
    def award_of(self) -> dict[str, Award]:
        """Skill id → the award that it belongs to."""
        return {skill.id: award for award, skill in self.every_skill()}

    @cached_property
    def _by_id(self) -> dict[str, Award]:
        """Award id → award, the first of that id."""
        return {award.id: award for award in reversed(self.award)}

    def award_by_id(self, award_id: str) -> Award | None:
        """The award of that id, or None."""
        return self._by_id.get(award_id)

    def rest_before(self, skill: Skill, show: int) -> int:
        """Seconds of rest before that show (1 or 2) of a skill; 0 before the first and for a breather."""
        asked = skill.shows[show - 1]
        if show == 1 or asked.rest == "breather":
            return 0
        return self.rest_s if asked.rest_s is None else asked.rest_s
