"""A line: children watched together."""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Line:
    """Children watched together on one show of one skill, from the moment the message that said so was sent."""

    lesson: str
    skill: str
    show: int
    children: tuple[str, ...]
    asked_at: datetime
    shown_at: datetime | None = None    # when a helper saw it; None: it is judged when it is answered
    set_up: bool = False                # it was put up by Go: they stood there, and all was set out
