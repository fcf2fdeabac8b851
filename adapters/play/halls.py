"""The halls of a script: found beside it or among the demos, read before anything is played."""
from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

from adapters.halls import DEMOS, NoHall, is_hall, read_folder
from adapters.play.script import Fault, LoadHall, Script, ScriptErrors
from bot.people.hall import Hall, HallErrors


class Halls:
    """The halls that a script names. Raises ScriptErrors where one is not there or has faults."""

    def __init__(self, script: Script) -> None:
        self.clubs: list[str] = []          # ids of the clubs loaded, the latest first
        self._read: dict[str, Hall] = {}
        faults: list[Fault] = []
        for move in script.moves:
            if isinstance(move.action, LoadHall) and move.action.name not in self._read:
                try:
                    self._read[move.action.name] = _find(script, move.action.name)
                except (NoHall, HallErrors) as wrong:
                    faults += [Fault(move.at, f"hall {move.action.name}: {line}") for line in str(wrong).split("\n")]
        if faults:
            raise ScriptErrors(script.path, tuple(faults))

    def loaded(self, name: str) -> Hall:
        """The hall of that name."""
        return self._read[name]

    def in_force(self, club: str) -> None:
        """This club was loaded last: its time is the script's."""
        self.clubs = [club, *(one for one in self.clubs if one != club)]

    @property
    def club(self) -> str:
        """The club loaded last."""
        return self.clubs[0] if self.clubs else ""

    @property
    def zone(self) -> ZoneInfo:
        """The time zone of the club loaded last; before any, of the first that will be."""
        by_id = {hall.club.id: hall.club.tz for hall in self._read.values()}
        if self.clubs and self.clubs[0] in by_id:
            return by_id[self.clubs[0]]
        return next(iter(by_id.values()), ZoneInfo("UTC"))


def _find(script: Script, name: str) -> Hall:
    for place in (script.path.parent, DEMOS, DEMOS.parent, Path.cwd()):
        if is_hall(place / name):
            return read_folder(place / name)
    raise NoHall(f"there is no such folder beside the script, nor in {DEMOS.name}/")
