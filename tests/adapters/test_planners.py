"""Planning in processes of their own: real ones, which are started, asked, killed, and gone at the end."""
from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from adapters.planners import WAITING, Planners, solve
from adapters.settings import BadSettings, planners, remember
from adapters.thinking import CLUBS, Wish
from bot.step import InHand
from tests.lesson.planned import CLUB, LESSON, SCHEME, at, book, problem
from tests.talk.test_plan import Planned

QUICK = 0.005, 0.01     # seconds of thinking: what comes of it is not looked at here
LONG = 60               # seconds of waiting for a process on a busy machine


def wish(club: str = "c", **lesson: object) -> Wish:
    named = CLUB.model_copy(update={"id": club})
    return Wish(named, {1: SCHEME}, InHand(LESSON, book(**lesson), ("jo",), (), None), at(3000))


@pytest.fixture
def thinking():
    made = Planners(1, QUICK)
    yield made
    made.close()


def test_a_lesson_is_thought_about_and_its_plan_is_there(thinking: Planners) -> None:
    """What is taken up is planned from the moment of its facts."""
    thinking.think(wish())
    assert thinking.idle(LONG)
    ahead = thinking.ahead("c", LESSON)
    assert ahead is not None
    assert ahead.turns
    assert ahead.made_at == at(3000)


def test_a_message_never_waits_for_a_plan(thinking: Planners) -> None:
    """To take up a lesson takes no time to speak of, also while the processes are not even started."""
    began = time.perf_counter()
    for n in range(100):
        thinking.think(wish(f"club-{n}"))
    taken = time.perf_counter() - began
    assert not thinking.idle(0)
    assert taken < 0.5, "a hundred lessons; the first process is not there yet"


def test_only_so_many_lessons_wait() -> None:
    """Where more come than can be thought about, those that were heard of last wait; memory has an end."""
    thinking = Planners(1, QUICK)
    thinking._run = lambda: None        # type: ignore[method-assign]   # nobody takes them
    for n in range(WAITING + 50):
        thinking.think(wish(f"club-{n}"))
    assert len(thinking._jobs) == WAITING
    assert next(iter(thinking._jobs))[0] == "club-50"
    thinking.think(wish("club-50"))
    assert list(thinking._jobs)[-1][0] == "club-50"
    thinking.close()


def test_plans_are_kept_of_so_many_clubs(thinking: Planners) -> None:
    """Of the one whose plan was found longest ago they are let go first, and the next message there finds none."""
    thinking.think(wish("first"))
    assert thinking.idle(LONG)
    plan = thinking.ahead("first", LESSON)
    assert plan is not None
    for n in range(CLUBS - 1):
        thinking.found(f"club-{n}", LESSON, plan)
    thinking.found("first", LESSON, plan)
    thinking.found("one more", LESSON, plan)
    assert thinking.ahead("first", LESSON) == plan
    assert thinking.ahead("club-0", LESSON) is None
    assert thinking.ahead("club-1", LESSON) == plan


def test_a_closed_lesson_is_thought_about_no_more(thinking: Planners) -> None:
    """No plan is left of it, also where one was being made."""
    thinking.think(wish())
    thinking.drop("c", LESSON)
    assert thinking.idle(LONG)
    assert thinking.ahead("c", LESSON) is None


def test_every_club_has_its_turn() -> None:
    """Ten lessons of one club came first; the one of another club is the second that is taken up."""
    taken: list[str] = []

    class Noting(Planners):
        def _begin(self, job):
            taken.append(job.wish.club.id)
            self._done(job.wish.key)

    thinking = Noting(1, QUICK)
    with thinking._changed:             # all of them wait before the first is taken
        for n in range(10):
            one = wish("big")
            of = InHand(f"tue/2026-11-{n + 10}", one.in_hand.book, ("jo",), (), None)
            thinking.think(Wish(one.club, one.schemes, of, one.now))
        thinking.think(wish("small"))
    assert thinking.idle(LONG)
    thinking.close()
    assert taken[:2] == ["big", "small"]
    assert len(taken) == 11


def test_killed_processes_are_started_again(thinking: Planners) -> None:
    """Lessons go on by the rule meanwhile, and the next thought finds new processes."""
    thinking.think(wish())
    assert thinking.idle(LONG)
    assert thinking._pool is not None
    for process in list(thinking._pool._processes.values()):
        os.kill(process.pid, signal.SIGKILL)
        process.join()
    thinking.found("c", LESSON, None)
    deadline = time.monotonic() + LONG
    while thinking.ahead("c", LESSON) is None and time.monotonic() < deadline:
        thinking.think(wish())          # the first one finds out that they are gone
        assert thinking.idle(LONG)
    assert thinking.ahead("c", LESSON) is not None


def test_the_better_of_the_plan_and_the_rule_within_the_time() -> None:
    """What a process does: no plan is worth less than what the simple rule would come to."""
    made, _ = problem(book(), after=3300)
    found, ruled = solve(made, None, 0.02)
    assert found.value >= ruled.value > 0


def test_a_lesson_led_by_processes(tmp_path: Path) -> None:
    """The whole way: each message is answered at once, and plans made meanwhile are followed by later ones."""
    class Led(Planned):
        def __init__(self) -> None:
            super().__init__()
            self.thinking = Planners(1, QUICK)      # type: ignore[assignment]

    hall = Led().began()
    assert hall.thinking.idle(LONG)                 # type: ignore[attr-defined]
    ahead = hall.thinking.ahead("short", "tue/2026-11-24")
    assert ahead is not None
    assert not ahead.by_rule
    hall.say("jo", "next")
    first = next(turn for turn in ahead.turns if turn.watcher == "jo")
    hall.tap("jo", "Go")
    line = hall.last["jo"][-1].choices[0].tap.line
    assert (line.skill, line.show) == (first.skill, first.show)
    hall.thinking.close()
    hall.close()


PROGRAM = """
import sys, time
from adapters.planners import Planners
from tests.adapters.test_planners import wish

def main():
    thinking = Planners(1, (0.01,))
    thinking.think(wish())
    assert thinking.idle(60)
    print(*thinking._pool._processes, flush=True)
    time.sleep(600)

if __name__ == "__main__":
    main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="asks for a process by a signal")
def test_no_process_outlives_a_program_that_is_killed(tmp_path: Path) -> None:
    """The process that plans ends by itself when the one that asked it is gone."""
    file = tmp_path / "program.py"
    file.write_text(textwrap.dedent(PROGRAM))
    root = Path(__file__).resolve().parents[2]
    program = subprocess.Popen(
        [sys.executable, str(file)], stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(root)},
    )
    assert program.stdout is not None
    worker = int(program.stdout.readline())
    assert _there(worker)
    program.kill()
    program.wait()
    program.stdout.close()
    deadline = time.monotonic() + LONG
    while _there(worker) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not _there(worker)


def _there(process: int) -> bool:
    """Is that process there, and no mere entry of one that has ended?"""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{process}/stat")
    return not status.exists() or status.read_text().rpartition(")")[2].split()[0] != "Z"


def test_to_close_is_quick_and_silent(caplog: pytest.LogCaptureFixture) -> None:
    """In the middle of a thought that would take a minute: whoever leaves does not wait, and nothing is wrong."""
    thinking = Planners(1, (60.0,))
    thinking.think(wish())
    deadline = time.monotonic() + LONG
    while not (thinking._pool and thinking._pool._processes) and time.monotonic() < deadline:
        time.sleep(0.01)
    assert thinking._pool is not None
    processes = list(thinking._pool._processes)
    thinking.close()
    thinking.close()
    deadline = time.monotonic() + LONG
    while any(map(_there, processes)) and time.monotonic() < deadline:
        time.sleep(0.01)
    assert not any(map(_there, processes))
    assert not caplog.records


@pytest.mark.parametrize("said", ["many", "-1", "1.5", "65"])
def test_how_many_processes_is_a_number(said: str, tmp_path: Path) -> None:
    """Anything else is refused in one sentence."""
    with pytest.raises(BadSettings, match="planners is a number from 0 to 64"):
        planners({"SPRUNG_PLANNERS": said}, tmp_path)


def test_how_many_processes_as_the_file_says(tmp_path: Path) -> None:
    """One by default; the file says otherwise, and the variable has the last word."""
    assert planners({}, tmp_path) == 1
    (tmp_path / "sprung.toml").write_text('planners = "0"\n')
    assert planners({}, tmp_path) == 0
    assert planners({"SPRUNG_PLANNERS": "2"}, tmp_path) == 2


@pytest.mark.parametrize("said", ["all", "0", "100001"])
def test_how_many_lessons_are_remembered_is_a_number(said: str, tmp_path: Path) -> None:
    """Anything else is refused in one sentence; where nobody says, the store does as it thinks fit."""
    with pytest.raises(BadSettings, match="remember is a number from 1 to 100000"):
        remember({"SPRUNG_REMEMBER": said}, tmp_path)
    assert remember({}, tmp_path) is None
    (tmp_path / "sprung.toml").write_text('remember = "40"\n')
    assert remember({}, tmp_path) == 40
