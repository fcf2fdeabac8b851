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
    """The table as a Mermaid state diagram: places that lead to the same ones are drawn as one where they leave."""
    lines = ["stateDiagram-v2"]
    for name, places, moves in _rows():
        if len(places) > 1:
            lines.append(f'    state "any of: {", ".join(places)}" as {name}')
        by_target: dict[Place, list[str]] = {}
        for move, target in moves.items():
            by_target.setdefault(target, []).append(move.value)
        lines += [f"    {name} --> {target.value}: {', '.join(names)}" for target, names in by_target.items()]
    return "\n".join(lines)


def _rows() -> list[tuple[str, list[str], dict[Move, Place]]]:
    """The rows of the table that differ: a name to draw each by, its places, its moves."""
    rows: list[tuple[list[str], dict[Move, Place]]] = []
    for place, moves in TABLE.items():
        same = next((places for places, known in rows if known == moves), None)
        if same is None:
            rows.append(([place.value], moves))
        else:
            same.append(place.value)
    return [(places[0] if len(places) == 1 else f"any_{places[0]}", places, moves) for places, moves in rows]


if __name__ == "__main__":
    print(diagram())
