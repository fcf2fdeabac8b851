"""From the text of a scheme file to a scheme, or to everything that is wrong with it.

A file that pydantic finds fault with is mended (the bad values left out) and examined again, so that its
author hears of all faults at once. What was mended is never returned as a scheme.
"""
from __future__ import annotations

from bot.scheme.checks import check
from bot.scheme.faults import Fault, parse
from bot.scheme.mend import validated
from bot.scheme.model import Award, Frozen, Part, Point, Scheme, Show, Skill, Terms, Way

KNOWN: dict[str, tuple[str, ...]] = {
    "": ("scheme", "award"),
    "scheme": tuple(Terms.model_fields),
    "award": tuple(Award.model_fields), "skill": tuple(Skill.model_fields),
    "show": tuple(Show.model_fields), "part": tuple(Part.model_fields),
    "way": tuple(Way.model_fields), "point": tuple(key for key in Point.model_fields if key != "words"),
}
"""The kind of a table → the keys that it may have."""


class SchemeFile(Frozen):
    """The file's own shape: the terms stand in a table beside the awards."""

    scheme: Terms
    award: tuple[Award, ...] = ()


class SchemeErrors(Exception):
    """This scheme file cannot be used yet. `faults`: all that is wrong, in the file's order."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


def read_scheme(text: str) -> Scheme:
    """The scheme that a TOML text describes; raises `SchemeErrors` with all faults of the text."""
    scheme, faults = examine(text)
    if scheme is None or faults:
        raise SchemeErrors(faults)
    return scheme


def examine(text: str) -> tuple[Scheme | None, tuple[Fault, ...]]:
    """What can be made of a text, and its faults by line.

    With faults the scheme is a mended one, good for nothing but finding more of them; None: past mending.
    """
    source = parse(text)
    if isinstance(source, Fault):
        return None, (source,)
    file, found = validated(source, SchemeFile, KNOWN)
    faults = list(found.values())
    scheme = None
    if isinstance(file, SchemeFile):
        scheme = Scheme(**file.scheme.model_dump(), award=file.award)
        faults += check(scheme, source, frozenset(found))
    return scheme, tuple(dict.fromkeys(sorted(faults)))


__all__ = ["Fault", "SchemeErrors", "SchemeFile", "examine", "read_scheme"]
