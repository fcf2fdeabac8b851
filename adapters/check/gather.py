"""Looking at everything that a check asks about, and changing nothing.

What lives here: files, disks, settings, what is installed. What any of it means is said in `judge.py`.
"""
from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from datetime import datetime
from importlib.metadata import entry_points
from importlib.util import find_spec
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from adapters import settings
from adapters.check.facts import Facts, File, Hall
from adapters.halls import NoHall, read_folder
from adapters.port import GROUP, Adapter
from adapters.web.webpush import NoWebPush, read_key
from bot.facts import TickBrought
from bot.health import Looked
from bot.load import load
from bot.people.hall import Hall as HallFiles
from bot.people.hall import HallErrors
from bot.port import Snapshot

Look = Callable[[str, datetime, "str | None"], Looked]      # an address, the time, the club of which all is asked
OTHERS: tuple[Callable[[], object], ...] = (settings.address, settings.remember, lambda: settings.log(None))
NEEDS = {"webpush": "pywebpush", "postgres": "psycopg"}
T = TypeVar("T")


def gathered(look: Look, url: str, now: datetime, folder: Path | None = None) -> Facts:
    """All the facts. `folder`: a hall's, to be compared with what is kept."""
    read = None if folder is None else _read(folder)
    looked = look(url, now, read.club.id if isinstance(read, HallFiles) else None)
    planners, wrong = _setting(settings.planners, 1)
    key, also = _setting(settings.webpush, None)
    others = [_setting(read, None)[1] for read in OTHERS]
    faults = [one for one in (wrong, also, *others) if one is not None]
    return Facts(
        now, looked, _free(looked), tuple(_files(looked, key)), _unknown_zones(looked), faults[0] if faults else None,
        planners,
        None if key is None else _fault_of_key(*key), key is not None,
        {one: find_spec(module) is not None for one, module in NEEDS.items()}, _adapters(),
        None if folder is None or read is None else _hall(folder, read, looked, now),
    )


def _setting(read: Callable[[], T], default: T) -> tuple[T, str | None]:
    try:
        return read(), None
    except settings.BadSettings as bad:
        return default, str(bad)


# --- files ----------------------------------------------------------------------------------------------

def _free(looked: Looked) -> int | None:
    if looked.kind != "sqlite" or not os.path.exists(looked.where):
        return None
    return shutil.disk_usage(Path(looked.where).resolve().parent).free


def _files(looked: Looked, key: tuple[Path, str] | None) -> list[File]:
    paths = [Path(one) for one in looked.files] + ([key[0]] if key is not None else [])
    return [File(str(path), _mode(path)) for path in paths if path.exists()]


def _mode(path: Path) -> int | None:
    return path.stat().st_mode & 0o777 if os.name == "posix" else None


def _fault_of_key(path: Path, contact: str) -> str | None:
    try:
        read_key(path, contact)
    except NoWebPush as fault:
        return str(fault)
    return None


# --- the program ----------------------------------------------------------------------------------------

def _unknown_zones(looked: Looked) -> dict[str, str]:
    unknown = {}
    for one in looked.kept.zones if looked.kept is not None else ():
        try:
            ZoneInfo(one.timezone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            unknown[one.club] = one.timezone
    return unknown


def _adapters() -> dict[str, str | None]:
    found: dict[str, str | None] = {}
    for one in entry_points(group=GROUP):
        try:
            found[one.name] = None if isinstance(one.load(), Adapter) else "it is no Adapter"
        except Exception as error:      # whatever somebody else's adapter makes of it
            found[one.name] = type(error).__name__
    return found


# --- a hall's files -------------------------------------------------------------------------------------

def _read(folder: Path) -> HallFiles | str:
    try:
        return read_folder(folder)
    except NoHall as fault:
        return str(fault)
    except HallErrors:      # whose words may quote a line of the roster
        return f"the files in {folder} have faults; sprung hall '{folder}' names them"


def _hall(folder: Path, read: HallFiles | str, looked: Looked, now: datetime) -> Hall:
    if isinstance(read, str):
        return Hall(str(folder), read)
    kept = None if looked.kept is None else looked.kept.snapshot
    if kept is None:
        return Hall(str(folder), known=False)
    return _compared(folder, kept, read, now)


def _compared(folder: Path, kept: Snapshot, read: HallFiles, now: datetime) -> Hall:
    again = load(kept, read, now)
    others = again.club != kept.club or again.scheme is not None or bool(again.people)
    touched = {key for key, one in again.children.items() if one.left_on is None}
    touched |= {one.child for one in again.facts if isinstance(one, TickBrought)}
    return Hall(str(folder), children=len(touched), gone=again.gone, others=others)

