"""A hall: the three texts of a club's folder, read and checked together."""
from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from bot.people.club_file import examine_club
from bot.people.model import Club, Person, RosterLine
from bot.people.roster import examine_roster
from bot.scheme.faults import Fault
from bot.scheme.load import examine
from bot.scheme.model import Scheme

SCHEME_FILE, CLUB_FILE, ROSTER_FILE = "scheme.toml", "club.toml", "roster.csv"


class HallErrors(Exception):
    """This hall cannot be used yet. `faults`: all that is wrong, file by file, each in its file's order."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


@dataclass(frozen=True, slots=True)
class Hall:
    """A club as its folder describes it. `roster`: the children in the order of the list.

    `whole`: whoever is not on the list has left; else it is a list of some.
    """

    scheme: Scheme
    club: Club
    people: tuple[Person, ...]
    roster: tuple[RosterLine, ...]
    whole: bool = False


def read_hall(scheme_text: str, club_text: str, roster_text: str) -> Hall:
    """The hall that the texts of `scheme.toml`, `club.toml` and `roster.csv` describe.

    Raises `HallErrors` with all faults of all three; each names its file.
    """
    scheme, of_scheme = examine(scheme_text)
    club, people, of_club = examine_club(club_text)
    roster, of_roster = examine_roster(roster_text, scheme, club)
    faults = (*_in(SCHEME_FILE, of_scheme), *_in(CLUB_FILE, of_club), *_in(ROSTER_FILE, of_roster))
    if faults or scheme is None or club is None:
        raise HallErrors(faults)
    return Hall(scheme, club, people, roster, whole=True)


def _in(file: str, faults: Iterable[Fault]) -> tuple[Fault, ...]:
    return tuple(replace(fault, file=file) for fault in faults)
