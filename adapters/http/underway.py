"""A message while it is under way: counted, timed and logged, whatever becomes of it."""
from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from time import perf_counter

from aiohttp import web

from adapters.http.log import event, named, wanted
from adapters.http.metrics import Metrics
from adapters.http.problems import Problem
from bot.step import OtherMessage, Refused

LOGGED = "sprung_logged"        # on an error of which there is a line already


@dataclass(slots=True)
class UnderWay:
    """One message. `message`: the id of its gateway's, or its phone's, once that is known."""

    message: str = ""


@contextmanager
def under_way(metrics: Metrics, gateway: str, began: float) -> Iterator[UnderWay]:
    """While a message is handled; `began`: when it came, by `perf_counter`."""
    one, outcome = UnderWay(), "failed"
    metrics.waiting.inc()
    try:
        yield one
        outcome = "answered"
    except BaseException as error:
        outcome = outcome_of(error)
        setattr(error, LOGGED, True)
        raise
    finally:
        seconds = perf_counter() - began
        metrics.waiting.dec()
        metrics.handled(gateway, outcome, seconds)
        if wanted():
            message = named(f"{gateway}:{one.message}") if one.message else None
            event("message", gateway=gateway, message=message, outcome=outcome, ms=round(seconds * 1000, 1))


def outcome_of(error: BaseException) -> str:
    """What became of a message that was not answered, in a word of `OUTCOMES`."""
    match error:
        case OtherMessage():
            return "conflict"
        case Refused():
            return "busy"
        case Problem() | web.HTTPException():
            return "refused"
    return "failed"
