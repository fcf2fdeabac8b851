"""Thinking in processes of their own, so that no message waits for a plan, nor for the processor.

A lesson is taken up after each step of it: first for as long as a decision may take, then, while the line is watched,
for longer and longer, each time from the best plan so far. Every club has its share: of the lessons that wait, one that
was thought about least goes first, and of these one of the club whose turn is longest ago.
"""
from __future__ import annotations

import logging
import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from random import Random
from threading import Condition, Thread
from time import process_time

from adapters.clock import Clock
from adapters.service import Service
from adapters.thinking import SEED, Thinking, Wish
from bot.lesson.ahead import Thought
from bot.lesson.plan.model import Plan, Problem
from bot.lesson.plan.planner import plan
from bot.lesson.plan.rule import by_rule
from bot.port import Store

log = logging.getLogger(__name__)

ROUNDS = 0.010, 0.1, 0.3, 0.6       # seconds of a processor; a decision of 30 ms has the way there and back in it
WAITING = 300                       # so many lessons wait at most: each holds its class's book meanwhile
PATIENCE = 3                        # so often are the processes started again when they break

Key = tuple[str, str]
Solved = tuple[Plan, Plan]          # the plan, and what comes of the simple rule


@contextmanager
def planned(store: Store, clock: Clock, processes: int) -> Iterator[Service]:
    """A service whose lessons are planned in so many processes; with none, each goes by the simple rule."""
    if not processes:
        yield Service(store, clock)
        return
    thinking = Planners(processes)
    try:
        yield Service(store, clock, thinking.decide, thinking.wake, with_plans=thinking.with_plans)
    finally:
        thinking.close()


def solve(problem: Problem, before: Plan | None, seconds: float) -> Solved:
    """What a process does: plan for so many seconds of its processor."""
    began = process_time()
    ruled = by_rule(problem)
    return plan(problem, Random(SEED), lambda _: (process_time() - began) / seconds, before), ruled


@dataclass(frozen=True, slots=True)
class _Job:
    """A lesson that waits. `round`: how often it was thought about as it is now; `thought` and `best` from then."""

    wish: Wish
    round: int = 0
    thought: Thought | None = None
    best: Plan | None = None


class Planners(Thinking):
    """Thinks in so many processes. They start with the first lesson, and end with this one, however it ends."""

    def __init__(self, processes: int = 1, rounds: tuple[float, ...] = ROUNDS) -> None:
        super().__init__()
        self._processes, self._rounds = processes, rounds
        self._jobs: dict[Key, _Job] = {}
        self._open: set[Key] = set()        # lessons that are on
        self._busy: set[Key] = set()        # lessons that are being thought about: one after another
        self._turn: dict[str, int] = {}     # club → when it had its turn
        self._turns = self._broken = 0
        self._changed = Condition()
        self._closed = False
        self._pool: ProcessPoolExecutor | None = None
        self._thread: Thread | None = None

    def think(self, wish: Wish) -> None:
        """Take up a lesson as it is now; what was thought about it before goes on to its end, and no further."""
        with self._changed:
            if self._closed or self._broken > PATIENCE:
                return
            self._wait(_Job(wish))
            self._open.add(wish.key)
            if self._thread is None:
                self._thread = Thread(target=self._run, name="planners", daemon=True)
                self._thread.start()
            self._changed.notify()

    def _wait(self, job: _Job) -> None:
        """It waits for its turn; where too many do, the one that was taken up longest ago goes by the simple rule."""
        self._jobs.pop(job.wish.key, None)
        self._jobs[job.wish.key] = job
        if len(self._jobs) > WAITING:
            del self._jobs[next(iter(self._jobs))]

    def drop(self, club: str, lesson: str) -> None:
        """A lesson is over."""
        with self._changed:
            self._jobs.pop((club, lesson), None)
            self._open.discard((club, lesson))
        super().drop(club, lesson)

    def idle(self, seconds: float) -> bool:
        """Wait until nothing is left to think about; False: that took longer."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._jobs and not self._busy, seconds)

    def close(self) -> None:
        """Stop thinking."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join()
        with self._changed:
            pool, self._pool = self._pool, None
        if pool is not None:
            _end(pool)

    # --- what is next --------------------------------------------------------------------------------

    def _run(self) -> None:
        if hasattr(signal, "pthread_sigmask"):      # processes begin in this thread, and Ctrl-C is not for them
            signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._closed or self._free())
                if self._closed:
                    return
                job = self._take()
            try:
                self._begin(job)
            except BrokenProcessPool:
                self._break()
                self._done(job.wish.key)
            except Exception:       # of one lesson; the others go on
                log.exception("a lesson could not be planned")
                self._done(job.wish.key)

    def _free(self) -> bool:
        return len(self._busy) < self._processes and not self._jobs.keys() <= self._busy

    def _take(self) -> _Job:
        waiting = [key for key in self._jobs if key not in self._busy]
        key = min(waiting, key=lambda one: (self._jobs[one].round, self._turn.get(one[0], 0)))
        self._turns += 1
        self._turn[key[0]] = self._turns
        self._busy.add(key)
        return self._jobs.pop(key)

    def _done(self, key: Key) -> None:
        with self._changed:
            self._busy.discard(key)
            self._changed.notify_all()

    # --- a lesson ------------------------------------------------------------------------------------

    def _begin(self, job: _Job) -> None:
        key, thought = job.wish.key, job.thought or job.wish.thought()
        if thought is None:
            self.found(*key, None)
            self._done(key)
            return
        before = job.best if job.round else thought.again(self.ahead(*key))
        self._submit(solve, thought.problem, before, self._rounds[job.round]).add_done_callback(
            lambda future: self._solved(_Job(job.wish, job.round, thought), future)
        )

    def _submit(self, work: Callable[..., Solved], *given: object) -> Future[Solved]:
        if self._pool is None:
            # Never a copy of this process: it has threads, and the store's files are open in it.
            self._pool = ProcessPoolExecutor(self._processes, get_context("spawn"), _beside)
        return self._pool.submit(work, *given)

    def _solved(self, job: _Job, future: Future[Solved]) -> None:
        key = job.wish.key
        try:
            made, ruled = future.result()
        except BrokenProcessPool:
            self._break()
        except Exception:
            if not future.cancelled():
                log.exception("a lesson could not be planned")
        else:
            self._keep(job, made, ruled)
        self._done(key)

    def _keep(self, job: _Job, made: Plan, ruled: Plan) -> None:
        assert job.thought is not None
        key, ahead = job.wish.key, job.thought.ahead(made, ruled)
        with self._changed:
            if key not in self._open:       # closed meanwhile
                return
            self.found(*key, ahead)
            more = job.round + 1 < len(self._rounds) and not ahead.by_rule
            if more and key not in self._jobs:
                self._wait(_Job(job.wish, job.round + 1, job.thought, made))

    def _break(self) -> None:
        """The processes are gone. Lessons go on by the simple rule until there are new ones."""
        with self._changed:
            if self._closed:
                return
            self._broken += 1
            pool, self._pool = self._pool, None
        log.warning("the planning processes ended; lessons go on by the simple rule meanwhile")
        if pool is not None:
            pool.shutdown(wait=False)


def _end(pool: ProcessPoolExecutor) -> None:
    """At once, whatever is being thought about: nothing of it is kept, and nobody who leaves should wait for it."""
    processes = list((pool._processes or {}).values())
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.kill()


def _beside() -> None:
    """A process that plans gives way to messages, leaves Ctrl-C to its parent, and ends when that is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(AttributeError, OSError):      # no such thing on Windows
        os.nice(10)
    parent = parent_process()
    if parent is not None:
        Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(0)
