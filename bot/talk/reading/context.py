"""What a reader knows besides the text: whose names, what is being watched, what was asked."""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from bot.talk.reading.vocabulary import Vocabulary


@dataclass(frozen=True)
class Context:
    """The moment in which a text is read. `now` is aware, in the club's zone."""

    vocabulary: Vocabulary
    now: datetime
    numbers: Mapping[int, str] = field(default_factory=dict)             # number shown → child
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # folded name → children
    skill: str | None = None                                             # being watched
    skill_of: Mapping[str, str] = field(default_factory=dict)            # child → skill of her open line
    line: tuple[str, ...] = ()                                           # children of the open line
    expects: Literal["names", "points"] | None = None                    # what the pending question wants
