"""Which place of the talk follows which: one table, and nothing else moves a talk.

A place never decides what may be said: anything can be typed at any time. It says what a bare answer is
about and what comes next. `python -m bot.talk.places` prints the table as the diagram in DEVELOPERS.md.
"""
from __future__ import annotations

from enum import StrEnum

from bot.frozen import replace
from bot.talk.state import Place, Talk


class Move(StrEnum):
    """What happened to the talk."""

    MET = "met"                 # somebody of the club came in with a code
    PUT = "consent put"         # a parent came in with a code and was asked
    AGREED = "agreed"
    LEFT = "left"               # a parent said stop, or no
    OPENED = "opened"           # a lesson was opened and nobody said yet who is here
    SUGGESTED = "suggested"     # a line is suggested
    STOOD = "stood"             # a line stands there
    EMPTIED = "emptied"         # there is nothing to watch just now
    PAUSED = "paused"
    CLOSED = "closed"


_LESSON = {
    Move.OPENED: Place.REGISTER,
    Move.SUGGESTED: Place.SUGGESTED,
    Move.STOOD: Place.WATCHING,
    Move.EMPTIED: Place.GAP,
    Move.PAUSED: Place.PAUSED,
    Move.CLOSED: Place.OUTSIDE,
    Move.MET: Place.OUTSIDE,
}
_STRANGER = {Move.MET: Place.OUTSIDE, Move.PUT: Place.CONSENT, Move.LEFT: Place.FAMILY}
_FAMILY = {Move.PUT: Place.CONSENT, Move.AGREED: Place.FAMILY, Move.LEFT: Place.FAMILY, Move.MET: Place.OUTSIDE}

TABLE: dict[Place, dict[Move, Place]] = {
    Place.STRANGER: _STRANGER,
    Place.CONSENT: _FAMILY,
    Place.FAMILY: _FAMILY,
    Place.OUTSIDE: _LESSON,
    Place.REGISTER: _LESSON,
    Place.SUGGESTED: _LESSON,
    Place.WATCHING: _LESSON,
    Place.GAP: _LESSON,
    Place.PAUSED: _LESSON,
}


def moved(talk: Talk, move: Move) -> Talk:
    """The talk after a move. KeyError where the table has no such move: a programmer's error."""
    return replace(talk, place=TABLE[talk.place][move])


def diagram() -> str:
    """The table as a Mermaid state diagram; moves that lead from many places to one are drawn once each."""
    lines = ["stateDiagram-v2"]
    for place, moves in TABLE.items():
        by_target: dict[Place, list[str]] = {}
        for move, target in moves.items():
            by_target.setdefault(target, []).append(move.value)
        lines += [f"    {place.value} --> {target.value}: {', '.join(names)}" for target, names in by_target.items()]
    return "\n".join(lines)


if __name__ == "__main__":
    print(diagram())
