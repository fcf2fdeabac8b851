"""What becomes of a message or a reminder that a fault of ours keeps from being handled.

What lives here: how often it is tried, and what is noted of the fault. Who is told what is said beside the step that
failed (`unit.py`, `waking.py`). Nothing that somebody typed is noted, nor the words of an error: they may name a child.
"""
from __future__ import annotations

from datetime import datetime

from bot.port import Trouble
from storage.shelf import Shelf

TRIES = 3       # so often something is tried: a fault that comes three times will not go by itself
PLACES = 3


def next_try(shelf: Shelf, club: str, id: str, what: str, error: Exception, at: datetime) -> Trouble:
    """One more try came to nothing."""
    before = shelf.trouble(club, id)
    tries = 1 if before is None else before.tries + 1
    return Trouble(id, club, what, tries, type(error).__name__, place_of(error), at)


def place_of(error: BaseException) -> str:
    """Where it was raised: the last places that it went through, the last one first."""
    places = []
    step = error.__traceback__
    while step is not None:
        code = step.tb_frame.f_code
        places.append(f"{code.co_name} ({code.co_filename.replace(chr(92), '/').rpartition('/')[2]}:{step.tb_lineno})")
        step = step.tb_next
    return " < ".join(reversed(places[-PLACES:]))
