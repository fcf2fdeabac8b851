"""What goes by itself while a program runs."""
from __future__ import annotations

from datetime import timedelta

from adapters.housekeeping import Housekeeping
from tests.talk.hall import START, Hall


def test_old_answers_go_after_sixty_days_and_not_before():
    """Two months on, only the last few answers to a coach are left; a day earlier, all of them are."""
    hall = Hall()
    for _ in range(20):
        hall.say("jo", "owed")
    keep = Housekeeping(hall.store, hall.clock)

    def left() -> int:
        hall.run(keep.once())
        return len(hall.run(hall.store.said("bench", "jo", 0, 1000)))

    hall.clock.move_to(START + timedelta(days=60))
    assert left() == 20
    hall.clock.move_to(hall.clock.now() + timedelta(seconds=1))
    assert left() == 6
    hall.close()
