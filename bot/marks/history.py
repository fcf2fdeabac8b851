"""From the record to the events of one child and skill, in the order in which they count."""
from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, time

from bot.facts import LessonClosed, Mark, ReasonGiven, Recorded, RetestMoved, TickBrought, in_force
from bot.marks.standing import Event

Order = tuple[datetime, datetime, float]


def order_of(event: Event, received: float) -> Order:
    """The place of an event: its own time, then when it was sent, then the order of receipt."""
    if isinstance(event, Mark):
        return event.judged_at, event.sent_at, received
    if isinstance(event, TickBrought):
        midnight = datetime.combine(event.on, time(0), UTC)
        return midnight, midnight, received
    return event.at, event.at, received


def events(record: Iterable[Recorded], closes: Iterable[LessonClosed] = ()) -> tuple[Event, ...]:
    """The events of one child and skill, sorted, with the reasons said afterwards put into their marks.

    `record`: all facts of that child and skill with the voids that touch them, in order of receipt;
    `closes`: of the lessons in which it was marked, already without those undone.
    """
    kept = in_force(tuple(record))
    reasons = {one.fact.mark: one.fact.points for one in kept if isinstance(one.fact, ReasonGiven)}
    placed: list[tuple[Order, Event]] = []
    for one in kept:
        fact = one.fact
        if isinstance(fact, Mark):
            fact = replace(fact, missed=reasons[fact.id]) if fact.id in reasons else fact
        if isinstance(fact, Mark | TickBrought | RetestMoved):
            placed.append((order_of(fact, one.seq), fact))
    placed.extend((order_of(close, float("inf")), close) for close in closes)
    return tuple(event for _, event in sorted(placed, key=lambda pair: pair[0]))
