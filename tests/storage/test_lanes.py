"""Lanes: one after another in each, side by side among them."""
from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Iterator

import pytest

from bot.step import Refused
from storage.lanes import Lanes


class Nothing:
    """A worker that has nothing and is let go."""

    closed = 0
    wanted: Callable[[], bool]

    def close(self) -> None:
        """Count it."""
        Nothing.closed += 1


@pytest.fixture
def lanes() -> Iterator[Lanes[Nothing]]:
    """Three threads."""
    made = Lanes([Nothing(), Nothing(), Nothing()])
    yield made
    made.close()


def noting(order: list[int], n: int) -> Callable[[Nothing], int]:
    """Work that says when it was done."""
    def work(_: Nothing) -> int:
        order.append(n)
        return n

    return work


async def test_a_lane_keeps_its_order(lanes: Lanes[Nothing]) -> None:
    """However many threads there are, what came first in a lane is done first."""
    order: list[int] = []
    answers = await asyncio.gather(*(lanes.put(noting(order, n), "one") for n in range(500)))
    assert answers == order == list(range(500))


async def test_lanes_go_side_by_side(lanes: Lanes[Nothing]) -> None:
    """Three lanes that wait for each other all come to their end, so none waits for another's turn."""
    together = threading.Barrier(3, timeout=10)
    places = await asyncio.gather(*(lanes.put(lambda _: together.wait(), lane) for lane in "abc"))
    assert sorted(places) == [0, 1, 2]


async def test_what_has_no_lane_waits_for_nobody(lanes: Lanes[Nothing]) -> None:
    """What is in no lane is done while a lane is held up."""
    held = threading.Event()
    waiting = lanes.put(lambda _: held.wait(10), "one")
    assert await lanes.put(lambda _: "done") == "done"
    held.set()
    assert await waiting


async def test_nobody_overtakes_in_another_lane(lanes: Lanes[Nothing]) -> None:
    """While something waits in the lane behind which it belongs, a job goes there; later it goes its own way."""
    held, order = threading.Event(), list[int]()
    first = lanes.put(lambda _: held.wait(10), "sender")
    rest = [lanes.put(noting(order, 1), "sender"), lanes.put(noting(order, 2), "club", behind="sender")]
    assert await lanes.put(noting(order, 0), "club") == 0
    held.set()
    await asyncio.gather(first, *rest)
    assert order == [0, 1, 2]


async def test_what_was_given_up_is_not_begun() -> None:
    """Who waited too long is told so, and what had not begun by then never does; what was begun can see it."""
    lanes, held, order = Lanes([worker := Nothing()], longest_s=0.05), threading.Event(), list[int]()
    seen: list[bool] = []
    first = lanes.put(lambda one: (seen.append(one.wanted()), held.wait(10), seen.append(one.wanted())))
    second = lanes.put(noting(order, 2))
    for waiting in (first, second):
        with pytest.raises(Refused, match="takes too long"):
            await waiting
    held.set()
    lanes.close()
    assert (seen, order, worker.wanted()) == ([True, False], [], False)


async def test_a_long_lane_holds_up_no_other(lanes: Lanes[Nothing]) -> None:
    """Lanes take turns: one message behind a thousand of another club does not wait for all of them."""
    order, all_there = list[int](), threading.Event()
    first = [lanes.put(lambda _: all_there.wait(60), n) for n in range(3)]
    many = [lanes.put(noting(order, n), n % 3) for n in range(999)]
    late = lanes.put(noting(order, -1), "late")
    all_there.set()
    await asyncio.gather(*first, *many, late)
    assert order.index(-1) < 900


async def test_a_mistake_ends_no_thread(lanes: Lanes[Nothing]) -> None:
    """Whatever work raises reaches whoever waits for it, and the next is done all the same."""
    def raising(error: type[BaseException]) -> Callable[[Nothing], None]:
        def work(_: Nothing) -> None:
            raise error

        return work

    kinds = (ArithmeticError, SystemExit, StopIteration, KeyboardInterrupt) * 3
    became = await asyncio.gather(*(lanes.put(raising(one), "one") for one in kinds), return_exceptions=True)
    assert [type(one) for one in became[:4]] == [ArithmeticError, SystemExit, RuntimeError, KeyboardInterrupt]
    assert await lanes.put(lambda _: 1, "one") == 1


async def test_closing_finishes_what_waits() -> None:
    """What was handed over before the end is done, then the workers are let go, and nothing new is taken."""
    Nothing.closed = 0
    lanes, order = Lanes([Nothing(), Nothing()]), list[int]()
    futures = [lanes.put(noting(order, n), n % 5) for n in range(100)]
    await asyncio.to_thread(lanes.close)
    assert sorted(await asyncio.gather(*futures)) == sorted(order) == list(range(100))
    assert Nothing.closed == 2
    with pytest.raises(Refused, match="closed"):
        lanes.put(noting(order, 0))
    lanes.close()
