"""The standard card of a skill: what is asked and what must be seen, as a coach reads it on a phone.

Short lines in plain words that can be read aloud, no codes. Rulings are handed in by whoever knows of them.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence

from bot.music import seconds_of_eights
from bot.scheme.home import home_rule
from bot.scheme.model import Asked, Named, Part, Point, Scheme, Show, Sides, Skill

LIMIT = 900     # letters; beyond it the points are named without being explained
TIMES = {1: "once", 2: "twice"}
SHOW = {1: "first", 2: "second"}
SIDES: dict[Sides, str] = {
    "one": "",
    "each": "Both sides, the child's own left and right",
    "either": "One side, the child's own left or right, as it chooses",
    "alternate": "The child's own left and right in turn, within the show",
}
PART_SIDES: dict[Sides, str] = {
    "one": "one side only", "each": "both sides", "either": "either side",
    "alternate": "left and right in turn",
}


def what_is_asked(asked: Asked) -> str:
    """How much a show or a part asks for, as a short phrase; `""` where it says nothing.

    >>> what_is_asked(Show(hold_s=3)), what_is_asked(Show(reps=5, exact=True))
    ('hold 3 seconds', 'exactly 5 in a row')
    >>> what_is_asked(Show(eights=2, bpm=(96, 108)))
    '2 counts of eight, at 96 to 108 beats a minute'
    """
    exactly = "exactly " if asked.exact else ""
    phrases: list[str] = []
    if asked.times_through:
        times = TIMES.get(asked.times_through, f"{asked.times_through} times")
        phrases.append(f"{exactly}{times} through")
    if asked.reps:
        phrases.append(exactly + (f"{asked.reps} in a row" if asked.reps > 1 else "once"))
    if asked.eights:
        counts = "1 count" if asked.eights == 1 else f"{asked.eights} counts"
        phrases.append(f"{exactly if not asked.reps else ''}{counts} of eight")
    if asked.hold_s:
        phrases.append(f"{'each held' if (asked.reps or 1) > 1 else 'hold'} {seconds(asked.hold_s)}")
    if asked.bpm:
        slow, quick = asked.bpm
        tempo = f"{slow}" if slow == quick else f"{slow} to {quick}"
        phrases.append(f"at {tempo} beats a minute")
    return ", ".join(phrases)


def how_long(asked: Asked) -> str:
    """How long counts of eight are at the tempo that goes with them; `""` where either is not said.

    Between the slowest and the quickest it is the middle: a coach wants to know when to look up.

    >>> how_long(Show(eights=2, bpm=(112, 128))), how_long(Show(eights=4))
    ('about 8 seconds', '')
    """
    if not (asked.eights and asked.bpm) or (asked.reps or 1) > 1:
        return ""
    longest, shortest = (seconds_of_eights(asked.eights, bpm, asked.times_through or 1) for bpm in asked.bpm)
    return f"about {seconds(max(1, round((longest + shortest) / 2)))}"


def seconds(number: int) -> str:
    """A number of seconds in words that fit it: `1 second`, `45 seconds`, `2 minutes`."""
    if number >= 120 and number % 60 == 0:
        return f"{number // 60} minutes"
    return "1 second" if number == 1 else f"{number} seconds"


def card(scheme: Scheme, skill: Skill, ruled: Mapping[str, str] | None = None) -> str:
    """The standard card of a skill, one thing a line; under 900 letters unless its names alone are more.

    `ruled`: point → what the club's coaches ruled on it; it stands below its point, whatever its length.
    """
    full = _card(scheme, skill, ruled or {}, explained=True)
    return full if len(full) <= LIMIT else _card(scheme, skill, ruled or {}, explained=False)


def _card(scheme: Scheme, skill: Skill, ruled: Mapping[str, str], explained: bool) -> str:
    lines = [
        _title(scheme, skill),
        *_shows(scheme, skill),
        *_parts(skill),
        *_sides(skill),
        *_ways(skill),
        *_points(skill, ruled, explained),
        _sentence(f"As the child likes: {_listing(skill.free)}") if skill.free else "",
        *_safely(scheme, skill),
        "One child at a time." if skill.line == 1 else f"Up to {skill.line} in line together.",
        "Can be shown while resting from another skill." if skill.light else "",
    ]
    return "\n".join(line for line in lines if line)


def _title(scheme: Scheme, skill: Skill) -> str:
    award = scheme.award_of.get(skill.id)
    title = f"{skill.name} ({award.name})" if award else skill.name
    return f"{title}, no longer asked for" if skill.retired else title


# --- how often and how much ------------------------------------------------------------------------------

def _shows(scheme: Scheme, skill: Skill) -> list[str]:
    asked = [_asked(show) for show in skill.shows]
    if len(asked) == 1:
        return [_sentence(f"One show: {asked[0]}" if asked[0] else "One show")]
    rest = _rest(scheme, skill)
    if asked[0] == asked[1] or not asked[1]:
        two = f"Two shows {_within(scheme, 'one')}"
        return [_sentence(f"{two}: {asked[0]}" if asked[0] else two), rest]
    return [
        _sentence(f"First show: {asked[0]}" if asked[0] else "First show: as below"),
        _sentence(f"Second show, {_within(scheme, 'the same')}: {asked[1]}"),
        rest,
    ]


def _asked(show: Show) -> str:
    return _phrases(what_is_asked(show), how_long(show), _low(show.text.strip().rstrip(".")))


def _rest(scheme: Scheme, skill: Skill) -> str:
    if skill.shows[1].rest == "breather":
        return "A breather between them, no set time."
    rest = scheme.rest_before(skill, 2)
    return f"Rest {seconds(rest)} between them." if rest else "No rest between them."


def _within(scheme: Scheme, one: str) -> str:
    if scheme.repeat_within == "lesson":
        return f"in {one} lesson"
    if scheme.repeat_within == 0:
        return f"on {one} day"
    return f"within {scheme.repeat_within} day{'s' if scheme.repeat_within > 1 else ''}"


# --- pieces and ways ------------------------------------------------------------------------------------

def _parts(skill: Skill) -> list[str]:
    if not skill.parts:
        return []
    if not any(_part(part, skill) for part in skill.parts):
        return [_sentence(f"All of these: {_listing([_low(part.label) for part in skill.parts])}")]
    return ["All of these:", *(_item(part.label, _part(part, skill)) for part in skill.parts)]


def _part(part: Part, skill: Skill) -> str:
    sides = PART_SIDES[part.sides] if part.sides not in (None, skill.sides) else ""
    return _phrases(what_is_asked(part), how_long(part), sides, _low(part.text.strip()))


def _sides(skill: Skill) -> list[str]:
    asked = [part.sides or skill.sides for part in skill.parts] or [skill.sides]
    if all(sides == "one" for sides in asked):
        return []
    means = f" ({skill.side_means})" if skill.side_means else ""
    return [_sentence((SIDES[skill.sides] or "Left and right are the child's own") + means)]


def _ways(skill: Skill) -> list[str]:
    if not skill.ways:
        return []
    if any(way.text for way in skill.ways):
        return ["Any one of these ways will do:", *(_item(way.label, way.text) for way in skill.ways)]
    return [_sentence(f"Any one way will do: {_listing([_low(way.label) for way in skill.ways], 'or')}")]


# --- what must be seen -----------------------------------------------------------------------------------

def _points(skill: Skill, ruled: Mapping[str, str], explained: bool) -> list[str]:
    lines: list[str] = []
    for need, heading in (("must", "Must be seen:"), ("aim", "Wished for:")):
        points = [point for point in skill.points if point.need == need]
        if points:
            lines.append(heading)
            for point in points:
                lines.append(_point(point, skill, explained))
                lines += [f"  Ruling: {ruled[point.id]}"] if point.id in ruled else []
    return lines


def _point(point: Point, skill: Skill, explained: bool) -> str:
    scope = scope_in_words(point, skill)
    return _item(point.label + (f" ({scope})" if scope else ""), point.text if explained else "")


def scope_in_words(point: Point, skill: Skill) -> str:
    """Which pieces and shows a point is about, in words; `""` where it is about all.

    For example `second show`, `left side`, `waltz and polka, second show`, `when seated`.
    """
    words: list[str] = []
    if point.parts:
        words.append(_listing(_labels(skill.parts, point.parts)))
    if point.ways:
        words.append("when " + _listing(_labels(skill.ways, point.ways), "or"))
    if len(set(point.sides)) == 1:
        words.append(f"{point.sides[0]} side")
    if len(set(point.shows)) == 1 and len(skill.shows) > 1:
        words.append(f"{SHOW[point.shows[0]]} show")
    return ", ".join(words)


def _labels(things: Sequence[Named], ids: Sequence[str]) -> list[str]:
    labels = {thing.id: _low(thing.label) for thing in things}
    return [labels.get(one, one) for one in ids]


# --- safely ---------------------------------------------------------------------------------------------

def _safely(scheme: Scheme, skill: Skill) -> list[str]:
    home = home_rule(scheme, skill)
    at_home = {None: "", "no": "Not for practice at home."}
    return [
        _sentence(f"Surface: {skill.surface}") if skill.surface else "",
        _sentence(f"Care: {skill.caution}") if skill.caution else "",
        at_home[home] if home in at_home else _sentence(f"At home only: {home}"),
    ]


# --- words -----------------------------------------------------------------------------------------------

def _item(label: str, text: str) -> str:
    label = label[:1].upper() + label[1:]
    return f"- {label}: {text.strip()}" if text.strip() else f"- {label}"


def _phrases(*texts: str) -> str:
    return ", ".join(text for text in texts if text)


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?", "…")) else f"{text}."


def _low(text: str) -> str:
    """A label inside a sentence begins small, unless it is in capitals."""
    return text[:1].lower() + text[1:] if text[1:2].islower() or text[1:2] == " " else text


def _listing(words: Sequence[str], joined: str = "and") -> str:
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {joined} {words[-1]}"
