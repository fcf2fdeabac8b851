"""What only one of several programs may do: whose it is, until when, and how it goes over to another."""
from __future__ import annotations

import asyncio
from datetime import timedelta

from tests.contract.club import NOW

SOON = timedelta(seconds=10)


async def hold(bare, holder: str, after: float = 0, longest: timedelta = SOON, name: str = "push") -> bool:
    """Ask for it so many seconds later."""
    now = NOW + timedelta(seconds=after)
    return await bare.hold(name, holder, now, now + longest)


async def test_one_holds_it_and_the_others_do_not(bare):
    """Whoever asks first has it and may ask again; another thing is another's to have."""
    assert await hold(bare, "one")
    assert not await hold(bare, "two")
    assert await hold(bare, "one", 5)
    assert await hold(bare, "two", 5, name="other")


async def test_what_is_not_asked_for_again_goes_to_another(bare):
    """A program that is gone loses it when its time is over, and not before, over a restart too."""
    assert await hold(bare, "one")
    await bare.restart()
    assert not await hold(bare, "two", 9.9)
    assert await hold(bare, "two", 10)
    assert not await hold(bare, "one", 11)


async def test_it_can_be_let_go(bare):
    """A program that ends in order lets the next one begin at once."""
    assert await hold(bare, "one")
    assert await hold(bare, "one", 1, timedelta())
    assert await hold(bare, "two", 1)


async def test_a_clock_that_was_set_back_locks_nobody_out(bare):
    """What a program took that is gone, by a clock that was an hour ahead, goes to the next one all the same."""
    assert await hold(bare, "one", 3600)
    assert not await hold(bare, "two", 3591)        # a machine whose clock is some seconds behind is no such thing
    assert await hold(bare, "two")


async def test_of_many_who_ask_at_once_one_has_it(bare):
    """However many ask together."""
    had = await asyncio.gather(*(hold(bare, f"program-{n}") for n in range(20)))
    assert sum(had) == 1
