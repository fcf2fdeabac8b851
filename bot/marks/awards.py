"""Which awards a child's ticks have earned, and on which day."""
from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time

from bot.marks.standing import Standing
from bot.scheme.model import Scheme

SchemeOf = Callable[[int], Scheme]


def earned(standings: Mapping[str, Standing], current: Scheme, scheme_of: SchemeOf) -> dict[str, date]:
    """Award id → the day of the tick that completed it.

    Each tick is weighed by the scheme as it was at that tick, so that an award stays when the scheme
    changes; all ticks together are weighed once more by the scheme in force now.
    """
    ticks = sorted(_ticks(standings), key=lambda tick: tick[:2])
    won: dict[str, date] = {}
    have: set[str] = set()
    for _, skill, on, version in ticks:
        have.add(skill)
        scheme = current if version is None else scheme_of(version)
        award = scheme.award_of.get(skill)
        if award is not None and award.id not in won and award.enough(have):
            won[award.id] = on
    for award in current.awards:
        if award.id not in won and award.enough(have):
            won[award.id] = _completed(award.id, ticks, current)
    return won


def _ticks(standings: Mapping[str, Standing]) -> list[tuple[datetime, str, date, int | None]]:
    return [
        (one.ticked_at or datetime.combine(one.ticked_on, time(0), UTC), skill, one.ticked_on, one.ticked_rules)
        for skill, one in standings.items()
        if one.ticked_on is not None
    ]


def _completed(award_id: str, ticks: list[tuple[datetime, str, date, int | None]], scheme: Scheme) -> date:
    award = scheme.award_by_id(award_id)
    assert award is not None
    have: set[str] = set()
    for _, skill, on, _version in ticks:
        have.add(skill)
        if award.enough(have):
            return on
    return ticks[-1][2]
