"""What a check goes by: plain data, gathered at one moment."""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from bot.health import Looked


@dataclass(frozen=True, slots=True)
class File:
    """A file that is for its owner alone. `mode`: its permission bits; None where the system has no such."""

    path: str
    mode: int | None


@dataclass(frozen=True, slots=True)
class Hall:
    """A hall's folder beside what is kept. `fault`: why it can't be read. The rest are counts."""

    folder: str
    fault: str | None = None
    known: bool = True                  # is that club in the database?
    children: int = 0                   # new on the roster, or changed there
    gone: int = 0                       # kept, and not on the roster
    others: bool = False                # the scheme, the people or the timetable differ


@dataclass(frozen=True, slots=True)
class Facts:
    """All that was looked at. Instants are aware; sizes are bytes."""

    now: datetime
    database: Looked
    free: int | None = None             # on the disk of the database's file; None: it is on no disk of ours
    files: tuple[File, ...] = ()        # the database's, and the key for word to closed pages
    unknown_zones: Mapping[str, str] = field(default_factory=dict)      # club → the zone that is not known here
    settings: str | None = None         # what is wrong with the settings
    planners: int = 1
    webpush: str | None = None          # what is wrong with it, where it is set up
    webpush_set_up: bool = False
    extras: Mapping[str, bool] = field(default_factory=dict)            # extra → is it installed?
    adapters: Mapping[str, str | None] = field(default_factory=dict)    # adapter → what is wrong with it
    hall: Hall | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One line: what was asked, and what is so. `remedy`: what would do, where something is wrong."""

    asked: str
    says: str
    remedy: str = ""

    @property
    def wrong(self) -> bool:
        """Is something to be done?"""
        return bool(self.remedy)

    @property
    def line(self) -> str:
        """As it is printed."""
        return f"{self.asked}: {f'WRONG: {self.says}. {self.remedy}' if self.wrong else f'ok, {self.says}'}."
