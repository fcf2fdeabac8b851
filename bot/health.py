"""What can be seen of a database by whoever runs the program.

What lives here: shapes alone. They name gateways, clubs and files, and nobody.
"""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.port import Snapshot, Waits

COPIED = "backup"       # the lease that says when a copy was made


@dataclass(frozen=True, slots=True)
class Zone:
    """A club: its id and the name of its time zone, which this machine may not know."""

    club: str
    timezone: str


@dataclass(frozen=True, slots=True)
class Keys:
    """A gateway, how many of its keys work, and whether it is pushed to."""

    gateway: str
    working: int
    pushed: bool


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept in a database whose shape is known. Instants are aware.

    `newest`: when the last message came, or the last unasked one was said, whichever was later.
    """

    waits: Waits
    newest: datetime | None
    copied_at: datetime | None          # when `backup` last made a copy; None: never, or by a tool of the server
    zones: tuple[Zone, ...]
    keys: tuple[Keys, ...]
    subscribed: int                     # phones that asked to be told while their page is closed
    snapshot: Snapshot | None           # of the club that was asked for, if it is here


@dataclass(frozen=True, slots=True)
class Looked:
    """What can be seen of a database without changing it.

    `fault`: why it can't be looked into, and what would do; then there is nothing else. `kept`: None where its shape is
    not the one that this program knows.
    """

    kind: str                           # memory, sqlite, postgresql
    where: str                          # as it may be shown to anybody
    fault: str | None = None
    version: str = ""                   # of SQLite, or of the server
    size: int = 0                       # bytes, with its log
    files: tuple[str, ...] = ()         # where it is a file: itself, and what lies beside it while it is in use
    damage: str | None = None           # what the database itself finds wrong
    revision: str | None = None         # of its tables; None: none of ours are there
    known: tuple[str, ...] = ()         # the revisions that this program knows, the newest last
    kept: Kept | None = None
