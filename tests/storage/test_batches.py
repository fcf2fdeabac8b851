"""Messages that share a commit: what becomes of the others where one can't be written."""
from __future__ import annotations

import asyncio
import sqlite3
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.exc import OperationalError

from bot.port import Store
from bot.step import Desk, Heard, Refused, Say, Stepped
from storage import open_store
from storage.jobs import Jobs
from storage.sqlite import SqliteStore
from storage.sqlite_file import Database
from tests.storage.steps import a_mark, answer, closes_in_order, heard, settle


@pytest.fixture
async def store(tmp_path: Path) -> Any:
    """An SQLite store with one club and one coach."""
    made = await settle(open_store(str(tmp_path / "club.sqlite")))
    yield made
    await made.close()


def unwritable(message: Heard, desk: Desk) -> Stepped:
    """A step that is fine until the database is asked to keep what it says."""
    return replace(answer(message, desk), says=(Say("\ud800"),))


def decide(message: Heard, desk: Desk) -> Stepped:
    """A mark; nothing that can be written for `bad`, a mistake for `worse`, a way out of the thread for `worst`."""
    if message.text == "bad":
        return unwritable(message, desk)
    if message.text == "worse":
        raise ZeroDivisionError
    if message.text == "worst":
        raise SystemExit(3)
    if message.text == "end":
        raise StopIteration
    return a_mark(message, desk)


async def together(store: Store, texts: list[str]) -> list[Any]:
    """All at once, so that they share commits; what became of each."""
    steps = [store.step(heard(n, text), decide) for n, text in enumerate(texts)]
    return await asyncio.gather(*steps, return_exceptions=True)


async def test_only_what_cannot_be_written_fails(store: Store) -> None:
    """Rows that the database refuses cost nobody else their answer, and leave no gap in the numbers."""
    texts = ["bad" if n in (3, 17, 18, 40) else "fine" for n in range(100)]
    became = await together(store, texts)
    assert [isinstance(one, Refused) for one in became] == [text == "bad" for text in texts]
    seqs = [one[0].seq for one in became if not isinstance(one, Refused)]
    assert seqs == list(range(1, 97))
    snapshot = await store.snapshot("bench")
    assert len([one for one in snapshot.record if one.message.startswith("bench:")]) == 96
    assert snapshot.books["tue"].standing("ava", "hop").tries == 96


async def test_the_sender_is_told_to_try_again(store: Store) -> None:
    """Where it can't be saved one sentence says so; the same id may be tried again."""
    with pytest.raises(Refused, match="could not be saved"):
        await store.step(heard(1), unwritable)
    assert (await store.step(heard(1), answer))[0].text == "answer to hello"


async def test_no_mistake_of_a_step_ends_the_thread(store: Store) -> None:
    """Whatever a decision raises reaches its own sender; those before and after it are answered."""
    fine, worse, worst, end, last = await together(store, ["fine", "worse", "worst", "end", "fine"])
    assert isinstance(worse, ZeroDivisionError)
    assert isinstance(worst, SystemExit)
    assert isinstance(end, RuntimeError)
    assert (fine[0].seq, last[0].seq) == (1, 2)


async def test_where_the_commit_fails_nobody_is_answered(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """A commit that does not come to pass is no answer, and what was remembered of it is forgotten."""
    await store.step(heard(100), a_mark)

    def full(self: Database) -> None:
        self._session.pad.flush()
        raise OperationalError("COMMIT", {}, sqlite3.OperationalError("disk full"))

    monkeypatch.setattr(Database, "commit", full)
    became = await together(store, ["fine"] * 5)
    assert all(isinstance(one, Exception) for one in became)
    monkeypatch.undo()
    became = await together(store, ["fine"] * 5)
    assert [one[0].seq for one in became] == [2, 3, 4, 5, 6]
    assert (await store.snapshot("bench")).books["tue"].standing("ava", "hop").tries == 6


async def test_a_transaction_that_the_database_ended_is_noticed(
    store: Store, monkeypatch: pytest.MonkeyPatch,
) -> None:
    """SQLite ends a transaction by itself when the disk is full: then nothing goes on as if it were there."""
    assert isinstance(store, SqliteStore)
    keep = Database.begin

    def begin(self: Database) -> None:
        keep(self)
        raw = self._connection.connection.dbapi_connection
        assert raw is not None
        raw.rollback()

    monkeypatch.setattr(Database, "begin", begin)
    became = await together(store, ["fine"] * 5)
    assert all(isinstance(one, Exception) for one in became)
    monkeypatch.undo()
    assert (await together(store, ["fine"] * 5))[0][0].seq == 1


async def test_a_sender_who_has_gone_is_handled_all_the_same(store: Store) -> None:
    """Whoever hangs up while their message is under way finds it answered when they ask again."""
    waiting = asyncio.ensure_future(store.step(heard(1), a_mark))
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    assert (await store.step(heard(1), a_mark))[0].seq == 1
    assert len([one for one in (await store.snapshot("bench")).record if one.message == "bench:m1"]) == 1


async def test_closing_finishes_what_is_under_way(store: Store) -> None:
    """What was handed over before the end is answered; what comes after it is refused."""
    await closes_in_order(store)


async def test_many_messages_share_a_commit(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """A hundred messages at once need only a few commits, and none of them a savepoint."""
    begun: list[int] = []
    keep = Database.begin

    def begin(self: Database) -> None:
        begun.append(1)
        keep(self)

    monkeypatch.setattr(Database, "begin", begin)
    monkeypatch.setattr(Jobs, "_one_by_one", lambda *_: pytest.fail("replayed"))
    await together(store, ["fine"] * 100)
    assert len(begun) <= 10
