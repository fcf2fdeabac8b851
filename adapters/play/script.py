"""What a conversation script is made of, as plain frozen values. How a file becomes one is `parse.py`.

`at` is a line of the file, from 1; `lines` are the lines that a value was written on.
"""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import time, timedelta
from pathlib import Path


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """Something in a script that can't be read or done."""

    at: int
    says: str


class ScriptErrors(Exception):
    """Scripts can't be played; every fault names file and line."""

    def __init__(self, path: Path, faults: tuple[Fault, ...], others: Sequence[ScriptErrors] = ()) -> None:
        lines = [f"{path}:{fault.at}: {fault.says}" for fault in sorted(faults)]
        super().__init__("\n".join((*lines, *map(str, others))))
        self.path = path
        self.faults = faults

    @staticmethod
    def together(errors: Sequence[ScriptErrors]) -> ScriptErrors:
        """The faults of several scripts as one."""
        return ScriptErrors(errors[0].path, errors[0].faults, errors[1:])


# --- what comes back -------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Expected:
    """A message that comes back. `choices`: None where they are not looked at."""

    lines: tuple[int, ...]
    to: str | None                      # None: whoever spoke
    text: str
    choices: tuple[str, ...] | None = None
    choice_lines: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Anything:
    """`...` alone: zero or more messages to anyone."""

    lines: tuple[int, ...]


Item = Expected | Anything


# --- when ------------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Later:
    """So much later: elapsed time, and days of the calendar."""

    span: timedelta
    days: int = 0


@dataclass(frozen=True, slots=True)
class At:
    """A time of the club's day, or a date and time as written."""

    time: time
    day: str | None = None


Moment = Later | At


# --- what happens ----------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Prose:
    """A comment."""

    text: str


@dataclass(frozen=True, slots=True)
class LoadHall:
    """A hall is loaded, or loaded anew."""

    name: str


@dataclass(frozen=True, slots=True)
class MoveClock:
    """Time passes."""

    to: Moment
    words: str


@dataclass(frozen=True, slots=True)
class Speak:
    """Somebody sends a text, or taps `label` on the message `back` before the latest that carries it."""

    who: str
    text: str | None = None
    label: str | None = None
    back: int = 0
    sent: At | None = None


@dataclass(frozen=True, slots=True)
class Again:
    """The last message is delivered a second time."""


@dataclass(frozen=True, slots=True)
class Reach:
    """Somebody's phone loses its connection, or has it again."""

    who: str
    online: bool


@dataclass(frozen=True, slots=True)
class Restart:
    """The program ends and starts on the same store."""


@dataclass(frozen=True, slots=True)
class Invite:
    """Somebody new is handed a code: for a person of the club, or as a parent of a child."""

    name: str
    person: str | None = None
    child: str | None = None


@dataclass(frozen=True, slots=True)
class Expect:
    """What the export shows of a child's skill or award."""

    child: str
    standing: str
    skill: str | None = None
    award: str | None = None


@dataclass(frozen=True, slots=True)
class Nobody:
    """What was done last brought no message to anyone."""


Action = Prose | LoadHall | MoveClock | Speak | Again | Reach | Restart | Invite | Expect | Nobody


@dataclass(frozen=True, slots=True)
class Move:
    """An action with what it should bring back."""

    at: int
    action: Action
    last: int                           # the last line of the action itself
    items: tuple[Item, ...] = ()


@dataclass(frozen=True)
class Script:
    """A script as it was read."""

    path: Path
    source: tuple[str, ...]
    moves: tuple[Move, ...] = field(default=())
