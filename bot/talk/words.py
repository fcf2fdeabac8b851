"""Small words: names in a row, numbers, times and pieces as people say them. No sentences."""
from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from bot.scheme.home import all_loads
from bot.scheme.model import Scheme, Skill

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")
LABEL = 20      # characters that every channel's buttons can carry


def names(all_names: Iterable[str], last: str = "and") -> str:
    """`Ava`, `Ava and Ben`, `Ava, Ben and Chidi`."""
    row = list(all_names)
    return row[0] if len(row) == 1 else f"{', '.join(row[:-1])} {last} {row[-1]}" if row else ""


def number(n: int, *, start: bool = False) -> str:
    """A small number in words, a larger one in figures."""
    word = _NUMBERS[n] if 0 <= n < len(_NUMBERS) else str(n)
    return word.capitalize() if start else word


def count(n: int, one: str, many: str | None = None) -> str:
    """`1 child`, `3 children`."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def clock(instant: datetime, tz: ZoneInfo, *, up: bool = False) -> str:
    """`17:06` on the club's clock; `up`: the minute by which it is surely past."""
    if up and (instant.second or instant.microsecond):
        instant = instant.astimezone(UTC).replace(second=0, microsecond=0) + timedelta(minutes=1)
    return instant.astimezone(tz).strftime("%H:%M")


def day(when: date, today: date) -> str:
    """`today`, `Tuesday` within the coming week, else `Tuesday 8 December`."""
    if when == today:
        return "today"
    name = _DAYS[when.weekday()]
    ahead = (when - today).days
    if 0 < ahead < 7:
        return name
    if ahead == 7:
        return f"next {name}"
    return date_in_full(when)


def date_in_full(when: date) -> str:
    """`Tuesday 8 December`."""
    return f"{_DAYS[when.weekday()]} {when.day} {_MONTHS[when.month - 1]}"


def day_of_the_year(when: date) -> str:
    """`24 November 2026`."""
    return f"{when.day} {_MONTHS[when.month - 1]} {when.year}"


def weekday(when: date) -> str:
    """`Tuesday`."""
    return _DAYS[when.weekday()]


def show(n: int, skill: Skill) -> str:
    """`first show`, `second show`; nothing for a skill of one show."""
    return "" if len(skill.shows) == 1 else ("first show", "second show")[n - 1]


def skill_and_show(skill: Skill, n: int) -> str:
    """`Shoulder stand, second show`."""
    which = show(n, skill)
    return f"{skill.name}, {which}" if which else skill.name


def piece(skill: Skill, piece_id: str) -> str:
    """A piece as it is said: `left`, `galop`, `galop left`."""
    part_id, _, side = piece_id.partition(" ")
    label = next((part.label for part in skill.parts if part.id == part_id), part_id)
    return f"{label} {side}".strip()


def pieces(skill: Skill, ids: Sequence[str]) -> str:
    """Pieces in a row."""
    return names(piece(skill, one) for one in ids if one)


def inside(text: str) -> str:
    """A name or a sentence as it begins within a sentence."""
    return text[:1].lower() + text[1:]


def points(skill: Skill, ids: Iterable[str]) -> str:
    """Points in a row, each by its label, in lower case at the start as within a sentence."""
    labels = (point.label if (point := skill.point(one)) else one for one in ids)
    return names(_lower(label) for label in labels)


def _lower(label: str) -> str:
    return label[:1].lower() + label[1:] if label[1:2].islower() or len(label) == 1 else label


def label(text: str) -> str:
    """A text cut at a word to what a button carries."""
    if len(text) <= LABEL:
        return text
    cut = text[: LABEL - 1]
    at_word = cut.rsplit(" ", 1)[0]
    return (at_word if len(at_word) >= 8 else cut).rstrip(" ,.") + "…"


def seconds(n: int) -> str:
    """`45 s`, `2 min`, `1 min 30 s`."""
    if n < 60:
        return f"{n} s"
    return f"{n // 60} min" if n % 60 == 0 else f"{n // 60} min {n % 60} s"


def careful(scheme: Scheme, skills: Iterable[Skill]) -> list[str]:
    """`cartwheel (wrists, landing)`: those whose card has a caution, with what they load."""
    return [f"{inside(skill.name)} ({', '.join(loads)})" for skill in skills
            if skill.caution and (loads := all_loads(scheme, skill))]
