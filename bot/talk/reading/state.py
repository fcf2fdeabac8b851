"""What a chart keeps while it reads: states, the histories behind them, and readings, which come out."""
from __future__ import annotations

from typing import NamedTuple

from bot.talk.reading.bag import EMPTY, Bag
from bot.talk.reading.lexer import Slip
from bot.talk.reading.scope import Choice, Scope, Settled
from bot.talk.requests import Names, Typed


class Reading(NamedTuple):
    """One complete reading. The lower `rank`, the more of its words say something."""

    requests: tuple[Typed, ...]
    choices: tuple[Choice, ...]
    slips: tuple[Slip, ...]
    rank: int


class State(NamedTuple):
    """What has been read up to a token."""

    past: int = 0                       # the history of settled segments, by number
    bag: Bag = EMPTY
    scope: Scope = Scope()
    slips: tuple[Slip, ...] = ()
    orders: int = 0                     # names stood before a verdict (1), after one (2)
    first: str = ""                     # what kind of word the clause began with
    comma: bool = False                 # a comma stands right before
    alone: bool = True                  # the bag is the first of its clause


class _Past(NamedTuple):
    before: int
    settled: Settled


class Histories:
    """Numbers for what has been settled, so that states are compared without walking all that came before."""

    def __init__(self) -> None:
        self._past: list[_Past] = []
        self._number_of: dict[_Past, int] = {}

    def number(self, before: int, settled: Settled) -> int:
        """The number of a history that goes on from another; 0 is the empty one."""
        past = _Past(before, settled)
        number = self._number_of.get(past)
        if number is None:
            self._past.append(past)
            number = self._number_of[past] = len(self._past)
        return number

    def told(self, number: int) -> tuple[tuple[Typed, ...], tuple[Choice, ...]]:
        """All that a history asks for, and the children chosen in it, in the order typed."""
        settled: list[Settled] = []
        while number:
            number, one = self._past[number - 1]
            settled.append(one)
        settled.reverse()
        requests = tuple(request for one in settled for request in one.requests)
        choices = tuple(choice for one in settled for choice in one.choices)
        return _one_answer(requests), choices


def _one_answer(requests: tuple[Typed, ...]) -> tuple[Typed, ...]:
    """Names on several lines are one answer."""
    names = [request for request in requests if isinstance(request, Names)]
    if len(names) < 2 or len(names) < len(requests):
        return requests
    return (Names(tuple(dict.fromkeys(child for one in names for child in one.children))),)
