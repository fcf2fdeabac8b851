"""All that a store in memory keeps: plain dicts, read and written by `dicts.py`."""
from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from bot.facts import Filed
from bot.lesson.book import ClassBook
from bot.port import Feed, Gateway, Key, Phone, Sight, Trouble
from bot.step import Invitation, Said, Shown
from bot.talk.state import Talk
from storage.cache import Cache
from storage.shelf import Answered, Home, Lease, Posted, Reach

Pair = tuple[str, str]


@dataclass
class Data:
    """All that is kept."""

    homes: dict[str, Home] = field(default_factory=dict)
    books: dict[Pair, ClassBook] = field(default_factory=dict)           # club, class
    known: dict[Pair, Pair] = field(default_factory=dict)                 # channel, address → club, person
    invitations: dict[str, Invitation] = field(default_factory=dict)
    talks: dict[Pair, Talk] = field(default_factory=dict)                # club, person
    heard: dict[str, Answered] = field(default_factory=dict)
    said: dict[Pair, dict[int, Said]] = field(default_factory=dict)
    outbox: dict[int, tuple[str, str, int]] = field(default_factory=dict)
    record: dict[str, dict[int, Filed]] = field(default_factory=dict)   # club → number → fact
    cursor: dict[str, int] = field(default_factory=dict)
    reaches: dict[Pair, Reach] = field(default_factory=dict)            # club, person
    letters: dict[str, Posted] = field(default_factory=dict)            # by the id of the message
    keys: dict[str, Key] = field(default_factory=dict)                  # by digest
    gateways: dict[str, Gateway] = field(default_factory=dict)
    phones: dict[str, Phone] = field(default_factory=dict)              # by digest
    feeds: dict[Pair, Feed] = field(default_factory=dict)               # club, person
    leases: dict[str, Lease] = field(default_factory=dict)
    troubles: dict[Pair, Trouble] = field(default_factory=dict)         # club, id
    sights: dict[tuple[str, date, str, Shown], Sight] = field(default_factory=dict)
    memory: Cache = field(default_factory=Cache)                        # for what steps keep
