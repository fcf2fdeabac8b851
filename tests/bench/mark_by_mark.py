"""What we are compared with: the same dialogue on the same kind of file, where every mark is a commit of its own.

A message is read and decided once, as ours is; then each of its marks is written and committed before the next, the
rest (the talk, the answer, what is due) with the last of them, and only then is it answered. No two messages share a
commit. So the difference is how it is committed and nothing else: the tables, `synchronous=FULL`, the statements and
the thread that writes are ours. Measures nothing itself.
"""
from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bot.lesson.book import Changes
from storage.cache import LESSONS
from storage.filing import child_of, skill_of
from storage.jobs import Job, Jobs, Settled
from storage.shelf import Written
from storage.sqlite import SqliteStore
from storage.sqlite_file import Database, engine_for


class MarkByMark(SqliteStore):
    """A store that commits so."""

    def __init__(self, path: str) -> None:
        super().__init__(path)
        self._jobs.close()
        self._jobs = _Jobs(Database(engine_for(path), LESSONS))


class _Jobs(Jobs):

    def _drain(self, first: Job) -> tuple[list[Job], Job | None]:
        return [first], None

    def _together(self, batch: list[Job]) -> list[Settled]:
        database, job = self._database, batch[0]
        database.begin()
        done = job.plan(database.shelf)
        for n, part in enumerate(() if done.written is None else _parts(done.written)):
            if n:
                database.commit()
                database.begin()
            database.shelf.keep(part)
        database.commit()
        return [(job, done.value, None)]


def _parts(written: Written) -> Iterator[Written]:
    """What is written, a fact at a time; the last one with all the rest."""
    standings = dict(written.changes.standings)
    for filed in written.record[:-1]:
        key = child_of(filed.recorded.fact) or "", skill_of(filed.recorded.fact) or ""
        its = {key: standings.pop(key)} if key in standings else {}
        yield Written(written.club, record=(filed,), changes=Changes(standings=its))
    changes = replace(written.changes, standings=standings)
    yield replace(written, record=written.record[-1:], changes=changes)
