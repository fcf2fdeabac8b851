"""What playing a script came to: what came back at each move, and what was not as the script says."""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from adapters.play.match import Came, Comparison
from adapters.play.script import Expected, Move, Script


@dataclass(frozen=True, slots=True)
class Wrong:
    """Something that is not as the script says, at a line of it; `diff` shows the two side by side."""

    at: int
    says: str
    diff: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Result:
    """What one move came to. `standing`: what an `expect` line found, where it found anything."""

    move: Move
    speaker: str | None = None
    came: tuple[Came, ...] = ()
    comparison: Comparison | None = None
    standing: str | None = None


@dataclass
class Played:
    """A script that was played, to its end or to where it could not go on."""

    script: Script
    results: list[Result] = field(default_factory=list)
    wrong: list[Wrong] = field(default_factory=list)
    stopped: bool = False               # it could not go on

    @property
    def ok(self) -> bool:
        """Was all as the script says?"""
        return not self.wrong


class Report(Protocol):
    """Is told of the talk as it goes. Times are the club's own."""

    def prose(self, text: str) -> None:
        """A comment of the script."""

    def time(self, now: datetime) -> None:
        """A clock line: it is now that time."""

    def note(self, text: str) -> None:
        """Something that was done to the program or to a phone."""

    def said(self, now: datetime, who: str, words: str) -> None:
        """Somebody sent a text or tapped a choice."""

    def came(self, now: datetime, came: Came) -> None:
        """A message came back."""

    def wrong(self, wrong: Wrong) -> None:
        """Something is not as the script says."""


def written(expected: Expected, speaker: str | None) -> list[str]:
    """An expected message as it is written in a script."""
    return lines_of(expected.to if expected.to != speaker else None, expected.text, expected.choices)


def lines_of(to: str | None, text: str, choices: Sequence[str] | None) -> list[str]:
    """A message as a script writes it. `to` None: whoever spoke."""
    first, *more = text.split("\n")
    lines = [f"{to + ' ' if to else ''}< {first}", *(f"| {line}" for line in more)]
    if choices:
        lines.append(" ".join(f"[{label}]" for label in choices))
    return [line.rstrip() for line in lines]


def diff(comparison: Comparison, speaker: str | None) -> tuple[str, ...]:
    """The two side by side: `-` the script says and did not come, `+` came and is not in the script."""
    rows: list[str] = []
    for row in comparison.rows:
        if row.fits and row.expected is not None:
            rows += [f"  {row.expected.lines[0]:>4}   {line}" for line in written(row.expected, speaker)]
            continue
        if row.expected is not None:
            rows += [f"- {row.expected.lines[0]:>4}   {line}" for line in written(row.expected, speaker)]
        if row.came is not None and not (comparison.loose and row.expected is None):
            to = None if row.came.to == speaker else row.came.to
            rows += [f"+        {line}" for line in lines_of(to, row.came.said.text, row.came.labels)]
    return tuple(rows)
