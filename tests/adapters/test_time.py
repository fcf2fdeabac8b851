"""Clocks, the service, and the waker that is armed for the earliest due time alone."""
from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import pytest_asyncio

from adapters.clock import Clock, ShiftedClock, SimulatedClock, SystemClock, local_instant, span_of, wall_time
from adapters.halls import DEMO_HALL, read_folder
from adapters.scheduler import AFTER_A_FAULT, JOB, Waker
from adapters.service import Service
from bot.port import Store
from bot.step import Desk, OtherMessage, Said, Stepped, Woken
from storage import open_store
from tests.adapters.conftest import echo, echo_wake

LONDON = ZoneInfo("Europe/London")
START = datetime(2026, 11, 24, 16, 58, tzinfo=UTC)
MakeService = Callable[[Store, Clock], Service]


@pytest_asyncio.fixture()
async def store() -> AsyncIterator[Store]:
    """A store with the demo hall, in which jo and sam are met."""
    opened = open_store("memory:")
    loaded = await opened.load(read_folder(DEMO_HALL), START)
    for person in ("jo", "sam"):
        await opened.meet("test", person, loaded.club, person)
    yield opened
    await opened.close()


# --- clocks ----------------------------------------------------------------------------------------

def test_a_shifted_clock_runs_on() -> None:
    """A shifted clock starts where it was set and goes as fast as the one behind it; it can skip ahead."""
    behind = SimulatedClock(datetime(2030, 1, 1, tzinfo=UTC))
    clock = ShiftedClock(START, behind)
    behind.move_to(behind.now() + timedelta(seconds=5))
    assert clock.now() == START + timedelta(seconds=5)
    clock.skip(timedelta(minutes=1))
    assert clock.now() == START + timedelta(seconds=65)
    clock.skip(timedelta(minutes=-1))
    assert clock.now() == START + timedelta(seconds=65)


def test_a_clock_never_goes_back() -> None:
    """A clock that is moved by hand refuses to go back."""
    with pytest.raises(ValueError, match="never goes back"):
        SimulatedClock(START).move_to(START - timedelta(seconds=1))


def test_the_systems_clock_is_aware() -> None:
    """Instants are aware and in UTC."""
    assert SystemClock().now().utcoffset() == timedelta()


@pytest.mark.parametrize(("text", "instant"), [
    ("2026-11-24 16:58", datetime(2026, 11, 24, 16, 58, tzinfo=UTC)),
    ("2026-07-07T16:58:30", datetime(2026, 7, 7, 15, 58, 30, tzinfo=UTC)),
    ("2026-10-25 01:30", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),      # occurs twice: the first
    ("2026-03-29 01:30", datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),       # is skipped: an hour later
])
def test_wall_clock_times(text: str, instant: datetime) -> None:
    """A date and time is read in the club's zone, in both hours of a clock change too."""
    assert local_instant(text, LONDON) == instant


@pytest.mark.parametrize("text", ["16:58", "2026-11-24", "2026-02-30 10:00", "2026-11-24 25:00", "soon", ""])
def test_what_is_no_time_is_refused(text: str) -> None:
    """Anything else is refused with a sentence."""
    with pytest.raises(ValueError, match="is not a"):
        local_instant(text, LONDON)


@pytest.mark.parametrize(("text", "span"), [
    ("45s", timedelta(seconds=45)), ("2m", timedelta(minutes=2)), ("1h 30m", timedelta(minutes=90)),
    ("7d", timedelta(days=7)), ("90 seconds", timedelta(seconds=90)), ("1 minute", timedelta(minutes=1)),
    ("", None), ("soon", None), ("45", None), ("3m please", None), ("in 3m", None),
])
def test_spans(text: str, span: timedelta | None) -> None:
    """A span of time is numbers with units and nothing else."""
    assert span_of(text) == span


def test_a_time_of_day() -> None:
    """A time of day has hours and minutes, and seconds where they are said."""
    assert wall_time("9:05").isoformat() == "09:05:00"
    with pytest.raises(ValueError, match="of any day"):
        wall_time("24:00")


# --- the service -----------------------------------------------------------------------------------

async def test_one_message_once(store: Store, make_service: MakeService) -> None:
    """The same id again is the same answer; for another message it is refused."""
    service = make_service(store, SimulatedClock(START))
    first = await service.hear("test", "jo", text="hi", id="m-1")
    assert await service.hear("test", "jo", text="hi", id="m-1") == first
    with pytest.raises(OtherMessage):
        await service.hear("test", "jo", text="ho", id="m-1")


async def test_a_text_or_a_choice(store: Store, make_service: MakeService) -> None:
    """A message has either a text or a choice."""
    service = make_service(store, SimulatedClock(START))
    with pytest.raises(ValueError, match="either"):
        await service.hear("test", "jo")
    with pytest.raises(ValueError, match="either"):
        await service.hear("test", "jo", text="hi", choice="c_1_x")


async def test_time_passes_reminder_by_reminder(store: Store, make_service: MakeService) -> None:
    """What falls due on the way fires at its own time, the earliest first."""
    service = make_service(store, SimulatedClock(START))
    await service.hear("test", "jo", text="later 60 sam")
    await service.hear("test", "jo", text="later 30 jo sam")
    fired = [(due, [one.text for one in said]) async for due, said in service.pass_time(START + timedelta(minutes=1))]
    assert fired == [
        (START + timedelta(seconds=30), ["due 30", "due 30"]), (START + timedelta(seconds=60), ["due 60"]),
    ]


# --- the waker -------------------------------------------------------------------------------------

class Delivered:
    """Collects what a waker delivers."""

    def __init__(self) -> None:
        self.said: list[Said] = []
        self.something = asyncio.Event()

    async def __call__(self, said: tuple[Said, ...]) -> None:
        """Take it."""
        self.said += said
        self.something.set()


async def test_the_waker_fires_what_is_due(store: Store, make_service: MakeService) -> None:
    """What is due now is delivered without anybody asking, and the waker is armed anew after a step."""
    service, delivered = make_service(store, ShiftedClock(START)), Delivered()
    waker = Waker(service, delivered)
    await waker.start()
    await service.hear("test", "jo", text="later 0 sam")
    await asyncio.wait_for(delivered.something.wait(), 10)
    assert [(one.person, one.text) for one in delivered.said] == [("sam", "due 0")]
    await waker.stop()


async def test_the_waker_is_armed_for_the_earliest_alone(store: Store, make_service: MakeService) -> None:
    """There is one job, at the earliest due time, as long from now as on the service's own clock."""
    service = make_service(store, SimulatedClock(START))
    waker = Waker(service, Delivered())
    await waker.start()
    await service.hear("test", "jo", text="later 900 sam")
    await service.hear("test", "jo", text="later 600 sam")
    (job,) = waker._scheduler.get_jobs()
    assert job.id == JOB
    assert job.misfire_grace_time is None
    assert job.coalesce
    wait = job.next_run_time - datetime.now(UTC)
    assert timedelta(seconds=590) < wait <= timedelta(seconds=600)
    await waker.stop()


async def test_the_waker_is_armed_again(store: Store, make_service: MakeService) -> None:
    """Once what was due is out, the waker is armed for what comes next."""
    clock = ShiftedClock(START)
    service, delivered, late = make_service(store, clock), Delivered(), list[float]()
    waker = Waker(service, delivered, late.append)
    await service.hear("test", "jo", text="later 300 jo")
    await service.hear("test", "jo", text="later 600 sam")
    clock.skip(timedelta(seconds=301))
    await waker.start()                     # what fell due while nobody was awake comes at once
    await asyncio.wait_for(delivered.something.wait(), 10)
    async with waker._one:                  # the waking is over
        pass
    await waker.arm()
    (job,) = waker._scheduler.get_jobs()
    assert timedelta(seconds=290) < job.next_run_time - datetime.now(UTC) < timedelta(seconds=300)
    assert [one.text for one in delivered.said] == ["due 300"]
    assert [round(one) for one in late] == [1]      # and it is told how late that was
    await waker.stop()


async def test_a_stop_does_not_wait_for_all_that_is_due(store: Store) -> None:
    """What is being said when it is stopped is delivered, and what else is due stays due."""
    stopping: list[asyncio.Task[None]] = []

    def wake(woken: Woken, desk: Desk) -> Stepped:
        loop.call_soon_threadsafe(lambda: stopping.append(asyncio.create_task(waker.stop())))
        return echo_wake(woken, desk)

    loop = asyncio.get_running_loop()
    service, delivered = Service(store, ShiftedClock(START), echo, wake), Delivered()
    waker = Waker(service, delivered)
    for seconds in range(100):                  # one person's, so that none is said beside another
        await service.hear("test", "jo", text=f"later -{seconds + 1} sam")
    await waker.start()
    await asyncio.wait_for(delivered.something.wait(), 10)
    await asyncio.wait_for(stopping[0], 10)
    assert 1 <= len(delivered.said) < 100
    rest = await service.wake()
    assert [one.text for one in (*delivered.said, *rest)] == [f"due -{100 - n}" for n in range(100)]


async def test_with_nothing_due_there_is_no_job(make_service: MakeService) -> None:
    """Where nothing is due nothing is armed, and a job that was armed for something withdrawn is taken away."""
    store = open_store("memory:")
    waker = Waker(make_service(store, SimulatedClock(START)), Delivered())
    await waker.start()
    assert waker._scheduler.get_jobs() == []
    waker._set(timedelta(hours=1))
    await waker.arm()
    assert waker._scheduler.get_jobs() == []
    await waker.stop()
    await store.close()


async def test_a_store_that_cannot_be_read_is_asked_again(store: Store, make_service: MakeService) -> None:
    """Where what is due can't be read the waker looks again soon, and never fails the step that woke it."""
    service = make_service(store, SimulatedClock(START))
    waker = Waker(service, Delivered())
    await waker.start()
    await store.close()
    await waker.arm()
    (job,) = waker._scheduler.get_jobs()
    assert timedelta(seconds=3) < job.next_run_time - datetime.now(UTC) <= timedelta(seconds=5)
    await waker.stop()


async def test_what_could_be_said_is_delivered_whatever_became_of_the_rest(store: Store) -> None:
    """Where one reminder has a mistake in it the others are delivered, and the waker looks again soon."""
    def wake(woken: Woken, desk: Desk) -> Stepped:
        if desk.me is not None and desk.me.id == "jo":
            raise ArithmeticError
        return echo_wake(woken, desk)

    service, delivered = Service(store, ShiftedClock(START), echo, wake), Delivered()
    waker = Waker(service, delivered)
    await waker.start()
    await service.hear("test", "jo", text="later 0 jo sam")
    await asyncio.wait_for(delivered.something.wait(), 10)
    async with waker._one:
        pass
    assert [one.person for one in delivered.said] == ["sam"]
    (job,) = waker._scheduler.get_jobs()
    assert timedelta(seconds=3) < job.next_run_time - datetime.now(UTC) <= AFTER_A_FAULT
    await waker.stop()


async def test_a_fault_does_not_end_the_waking(store: Store, make_service: MakeService) -> None:
    """A delivery that fails is tried again later: the waker stays armed."""

    async def fails(said: tuple[Said, ...]) -> None:
        tried.set()
        raise RuntimeError("a bad day")

    tried = asyncio.Event()
    service = make_service(store, ShiftedClock(START))
    waker = Waker(service, fails)
    await waker.start()
    await service.hear("test", "jo", text="later 0 sam")
    await asyncio.wait_for(tried.wait(), 10)
    await asyncio.sleep(0)
    assert waker._scheduler.get_job(JOB) is not None
    await waker.stop()
    await waker.stop()
