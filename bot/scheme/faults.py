"""What is wrong with a file, in words for whoever wrote it: where, what, and what to do about it.

What lives here: the shape of a fault, and the translation of what the TOML parser and pydantic say. Which
questions are asked of a scheme is `checks.py`; of a club and a roster, `bot/people/`.
"""
from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from bot.scheme.lines import Path, line_at, lines_of
from bot.scheme.words import meant, nearest, slug

SINGULAR = {"points": "point", "shows": "show", "parts": "part", "ways": "way"}

PLACES = {
    "": "at the top of the file, above the first header in brackets", "scheme": "below [scheme]",
    "award": "in an [[award]], above its first [[award.skill]]", "skill": "in an [[award.skill]]",
    "show": "in one of a skill's shows", "part": "in one of a skill's parts",
    "way": "in one of a skill's ways", "point": "in one of a skill's points",
    "class": "in a [[class]]", "person": "in a [[person]]", "closed": "in a [[closed]]",
}
"""The kind of a table → where in the file that is."""

EXAMPLES: dict[str, str] = {
    "id": 'id = "shoulder-stand"', "name": 'name = "Shoulder stand"', "label": 'label = "Toes pointed"',
    ".name": 'name = "Harbour Lane Hall"', "scheme.name": 'name = "Harbour Lights"',
    "award.name": 'name = "Lantern"', "person.name": 'name = "Jo Marsh"', "class.name": 'name = "Tuesday"',
    "repeat_within": 'repeat_within = "lesson", or a number of days such as repeat_within = 7',
    "after_a_miss": 'after_a_miss = "first show" or "same show"', "rest_s": "rest_s = 45, in whole seconds",
    "hold_s": "hold_s = 3, in whole seconds", "seconds": "seconds = 20, in whole seconds",
    "changeover_s": "changeover_s = 40, in whole seconds", "switch_s": "switch_s = 10, in whole seconds",
    "reps": "reps = 5", "eights": "eights = 2", "times_through": "times_through = 1", "line": "line = 4",
    "needs": "needs = 10", "bpm": "bpm = [96, 108]", "exact": "exact = true", "light": "light = true",
    "retired": "retired = true", "rest": 'rest = "breather", or rest_s = 45 for a timed rest',
    "sides": 'sides = "one", "each", "either" or "alternate"', "need": 'need = "must" or need = "aim"',
    "home": 'home = "no", or a condition such as home = "on a mat, with an adult"',
    "shows": "shows = [ {hold_s = 3, seconds = 20} ], with one show or two",
    "points": 'points = [ {id = "toes", label = "Toes pointed"} ]', "parts": 'parts = ["galop", "polka"]',
    "point.sides": 'sides = ["left"]', "point.parts": 'parts = ["polka"]', "point.shows": "shows = [2]",
    "ways": 'ways = ["seated"]', "words": 'words = ["candle up"]', "uses": 'uses = ["cartwheel"]',
    "after": 'after = ["candle"]', "must": 'must = ["cartwheel"]', "loads": 'loads = ["wrists"]',
    "free": 'free = ["arms"]', "surface": 'surface = "mat"', "award": "[[award]], in double brackets",
    "skill": "[[award.skill]], in double brackets", "scheme": "[scheme]", "caution": 'caution = "Warm up."',
    "text": 'text = "Eyes open."', "side_means": 'side_means = "the leading leg"',
    "day": 'day = "Tuesday"', "start": 'start = "17:00"', "minutes": "minutes = 60",
    "watch_minutes": "watch_minutes = 45", "quiet": 'quiet = ["20:00", "08:00"]',
    "tell_awards": 'tell_awards = "presented" or "earned"', "timezone": 'timezone = "Europe/London"',
    "role": 'role = "coach", "assistant" or "helper" (parents are invited)',
    "from": "from = 2027-02-15", "to": "to = 2027-02-19",
    "keep_months": "keep_months = 24", "audit_months": "audit_months = 24",
    "forgotten": 'forgotten = "gone" or "counted"',
    "coach": 'coach = ["jo"]', "assistant": 'assistant = ["sam"]',
    "helper": 'helper = ["kit"]', "welfare": 'welfare = "Jo Marsh"', "class": "[[class]], in double brackets",
    "person": "[[person]], in double brackets", "closed": "[[closed]], in double brackets",
    "planning": "[planning], in single brackets", "near_award": "near_award = 1.0", "retest": "retest = 0.25",
    "not_seen_lately": "not_seen_lately = 1.0", "likely_at_least": "likely_at_least = 0.6",
    "keep_groups": "keep_groups = 1.0",
}
"""How each key of our files is written when it is right."""


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing wrong: `line` from 1, `key` as a path in words, `says` what is wrong and the remedy."""

    line: int
    key: str
    says: str
    file: str = ""

    def __str__(self) -> str:
        place = f"{self.file}, line {self.line}" if self.file else f"line {self.line}"
        return f"{place}, {self.key}: {self.says}"


@dataclass(frozen=True, slots=True)
class Source:
    """A file as it was read: its values, and where each stands."""

    raw: dict[str, Any]
    lines: Mapping[Path, int]

    def fault(self, path: Path, says: str) -> Fault:
        """A fault at a path."""
        return Fault(line_at(self.lines, path), in_words(self.raw, path), says)


def parse(text: str) -> Source | Fault:
    """A TOML text as its values with their lines, or the fault that stops it from being read."""
    clean = text.removeprefix("\ufeff").replace("\r\n", "\n")
    try:
        raw = tomllib.loads(clean)
    except tomllib.TOMLDecodeError as error:
        return _not_toml(clean, str(error))
    return Source(raw, lines_of(clean))


def _not_toml(text: str, said: str) -> Fault:
    """The parser's complaint, with what usually causes it."""
    found = re.search(r"\(at line (\d+)", said)
    rows = text.split("\n")
    line = int(found.group(1)) if found else len(rows)
    row = rows[min(line, len(rows)) - 1]
    what = re.sub(r"\s*\(at .*\)$", "", said)
    return Fault(line, "the file", f"this cannot be read ({what}); {_usual_cause(row, what)}")


def _usual_cause(row: str, what: str) -> str:
    if re.search(r"[“”„‘’]", row.split("#")[0]) and '"' not in row:
        return 'use straight quotes (") instead of curly ones'
    if "twice" in what or "overwrite" in what or "Cannot mutate" in what:
        return "the same thing is given twice: delete one, or write [[award]] and its like in double brackets"
    if re.match(r"\s*start\s*=\s*\d", row):
        return 'put the time in quotes, as in start = "17:00"'
    if "Invalid value" in what or "Invalid initial" in what:
        return 'put words in straight quotes, as in name = "Lantern"; true and false are written small'
    if "document" in what or "Unclosed" in what or "Unterminated" in what or "Illegal" in what:
        return "see whether a quote, bracket or brace that was opened is closed"
    return "see whether a quote, bracket, comma or = is missing on this line or the one above"


def in_words(raw: Any, path: Path) -> str:
    """A path as a person says it: `award lantern / skill shoulder-stand / shows`."""
    words: list[str] = []
    value = raw
    for step in path:
        value = _inside(value, step)
        if isinstance(step, str):
            words.append(step)
        elif isinstance(value, dict) or _own_list(words):
            words[-1] = f"{SINGULAR.get(words[-1], words[-1])} {_called(words[-1], value, step)}"
    return " / ".join(words) or "the file"


def _own_list(words: list[str]) -> bool:
    """Are the items of this list things of their own? Those in the scope of a point are names only."""
    return words[-1:] != [] and words[-1] in SINGULAR and not any(word.startswith("point ") for word in words)


def _called(kind: str, value: Any, index: int) -> str:
    if kind != "shows" and isinstance(value, str):
        return value
    if isinstance(value, dict) and kind != "shows":
        for key in ("id", "name", "label", "from"):
            if value.get(key) not in (None, ""):
                return str(value[key])
    return str(index + 1)


def _inside(value: Any, step: str | int) -> Any:
    try:
        return value[step]
    except (KeyError, IndexError, TypeError):
        return None


# --- what pydantic says ------------------------------------------------------------------------------

def translate(
    source: Source, errors: Iterable[Mapping[str, Any]], known: Mapping[str, Iterable[str]],
) -> list[tuple[Path, Fault]]:
    """Pydantic's errors as faults with their paths, one for each path.

    `known`: the kind of a table (`skill`, `show`, `point`, …; `""` for the file) → the keys that it may have.
    """
    found: dict[Path, Fault] = {}
    for error in errors:
        path = _real(source.raw, tuple(error["loc"]), str(error["type"]))
        if path not in found:
            found[path] = source.fault(path, _says(source.raw, path, error, known))
    return list(found.items())


def _real(raw: Any, loc: Path, kind: str) -> Path:
    """Pydantic's path without the steps that name a branch of its own."""
    path: Path = ()
    value = raw
    for step in loc:
        missing = kind == "missing" and step == loc[-1] and isinstance(value, dict)
        if not missing and _inside(value, step) is None:
            break
        path = (*path, step)
        value = _inside(value, step)
    return path


def _says(raw: Any, path: Path, error: Mapping[str, Any], known: Mapping[str, Iterable[str]]) -> str:
    at = max((place for place, step in enumerate(path) if isinstance(step, str)), default=0)
    key, table = str(path[at]) if path else "", _kind(path[:at])
    kind = str(error["type"])
    if kind == "extra_forbidden":
        return unknown_key(key, table, known)
    example = EXAMPLES.get(f"{table}.{key}") or EXAMPLES.get(key) or f"another {key}"
    write = f"write for instance {example}"
    if kind == "missing":
        return f"{key} is missing; {write}"
    return f"{_wrong(kind, error.get('ctx') or {}, _given(raw, path), key)}; {write}"


def _given(raw: Any, path: Path) -> Any:
    value = raw
    for step in path:
        value = _inside(value, step)
    return value


def _wrong(kind: str, context: Mapping[str, Any], given: Any, key: str) -> str:
    """What is wrong with a value, before the remedy."""
    shown = "this" if isinstance(given, list | dict) else str(given)
    if isinstance(given, str):
        shown = f'"{given}"'
    elif isinstance(given, bool):
        shown = shown.lower()
    if kind == "string_pattern_mismatch":
        return f'{shown} is no id, which is one word with hyphens, such as "{slug(given) or "a-1"}"'
    texts = {
        "greater_than_equal": f"{shown} is too small; it must be at least {context.get('ge')}",
        "less_than_equal": f"{shown} is too large; it can be {context.get('le')} at most",
        "string_too_short": "there is nothing between the quotes",
        "string_too_long": f"this is longer than {context.get('max_length')} letters; shorten it",
        "literal_error": f"{shown} is not one of the choices",
        "too_long": f"there are more than {context.get('max_length')} here",
        "too_short": "this list is too short",
        "int_parsing": f"{shown} is not a whole number", "int_type": f"{shown} is not a whole number",
        "int_from_float": f"{shown} is not a whole number",
        "bool_parsing": f"{shown} is neither true nor false",
        "bool_type": f"{shown} is neither true nor false",
        "string_type": f"{shown} should be words in quotes", "tuple_type": f"{shown} should be a list",
        "model_type": f"{shown} should be a table of its own",
        "value_error": str(context.get("error") or f"{shown} cannot be used"),
    }
    return texts.get(kind) or f"{shown} cannot be used for {key}"


def _kind(path: Path) -> str:
    """What sort of table a path leads to: its last key, in the singular."""
    key = next((str(step) for step in reversed(path) if isinstance(step, str)), "")
    return SINGULAR.get(key, key)


def unknown_key(key: str, kind: str, known: Mapping[str, Iterable[str]]) -> str:
    """The sentence about a key that its table does not have, with where it belongs or what was meant."""
    here = list(known.get(kind, ()))
    homes = [PLACES.get(other, other) for other, keys in known.items() if other != kind and key in keys]
    place = PLACES.get(kind, kind)
    near = nearest(key, here, 85)
    if near is not None:
        return f'{key} is not known {place}; did you mean "{near}"?'
    if homes:
        return f"{key} has no place {place}; move it to where it belongs ({' or '.join(homes)}), or delete it"
    return f"{key} is not known {place}; {meant(key, here)}"
