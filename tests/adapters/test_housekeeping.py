"""What goes by itself while a program runs."""
from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta

from adapters import housekeeping
from adapters.clock import SimulatedClock
from adapters.housekeeping import Housekeeping
from bot.people.hall import read_hall
from bot.step import Refused
from storage.memory import MemoryStore
from tests.talk.hall import CLUB, ROSTER, SCHEME, START, Hall


async def looked_at(keep: Housekeeping, hall: Hall) -> None:
    """It looked at every club."""
    for club in await hall.store.clubs():
        await keep.look_at(club)


def test_old_answers_go_after_sixty_days_and_not_before():
    """Two months on, only the last few answers to a coach are left; a day earlier, all of them are."""
    hall = Hall()
    for _ in range(20):
        hall.say("jo", "owed")
    keep = Housekeeping(hall.store, hall.clock)

    def left() -> int:
        hall.run(looked_at(keep, hall))
        return len(hall.run(hall.store.said("bench", "jo", 0, 1000)))

    hall.clock.move_to(START + timedelta(days=60))
    assert left() == 20
    hall.clock.move_to(hall.clock.now() + timedelta(seconds=1))
    assert left() == 6
    hall.close()


def test_who_left_is_forgotten_by_itself():
    """Once a child is on no roster and nothing was recorded of her for `keep_months` (24 here): not a day earlier."""
    hall = Hall()
    hall.say("jo", "start")
    hall.say("jo", "everyone")
    hall.say("jo", "ava, ben seen hop")
    keep = Housekeeping(hall.store, hall.clock)
    roster = ROSTER.replace("Ava Price,tue,one,\n", "")
    hall.run(hall.store.load(read_hall(SCHEME.format(ways=""), CLUB.format(name="Bench", cls="tue"), roster), START))

    def known() -> list[str]:
        hall.run(looked_at(keep, hall))
        return [one.name for one in hall.snapshot().books["tue"].children.values()]

    hall.clock.move_to(datetime(2028, 11, 24, 12, tzinfo=UTC))
    assert "Ava Price" in known()
    hall.clock.move_to(datetime(2028, 11, 25, 12, tzinfo=UTC))
    assert known() == ["Ben Okafor", "Chidi Eze", "Dara Lund", "Efa Morgan", "Finn Moss"]
    hall.close()


class OneAtFault(MemoryStore):
    """A store in which nothing of the first club can be tidied."""

    def __init__(self):
        super().__init__()
        self.asked, self.enough = [], asyncio.Event()

    async def prune(self, club, now):
        """Refuses for one."""
        self.asked.append(club)
        if len(self.asked) >= 4:
            self.enough.set()
        if club == "first":
            raise Refused("The database is busy.")
        return await super().prune(club, now)


async def test_a_club_that_is_refused_keeps_no_other_waiting(monkeypatch, caplog):
    """The others have their turn in the same round, and it has its own again in the next; the log names no child."""
    monkeypatch.setattr(housekeeping, "ROUND_S", 0.001)
    store = OneAtFault()
    for club in ("first", "second"):
        await store.load(read_hall(SCHEME.format(ways=""), CLUB.format(name=club, cls="tue"), ROSTER), START)
    run = asyncio.create_task(Housekeeping(store, SimulatedClock(START)).run())
    await asyncio.wait_for(store.enough.wait(), 10)
    run.cancel()
    assert store.asked[:4] == ["first", "second"] * 2
    assert "what is old could not be looked at" in caplog.text
    assert "Ava" not in caplog.text
    await store.close()
