"""What is peculiar to the SQLite store: its transactions, its schema, its file."""
from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from bot.out.export import export
from bot.step import Refused
from storage import open_store
from storage.sqlite import engine_for
from tests.contract.kept import NOW, Kept, a_mark, answer, hall


def rows(path: Path, sql: str) -> list:
    """Read the file as another program would."""
    with sqlite3.connect(path) as connection:
        return connection.execute(sql).fetchall()


def nested(engine) -> int:
    """Write within a savepoint that is released, roll the whole back, count what stayed."""
    with engine.connect() as connection:
        connection.execute(text("CREATE TABLE IF NOT EXISTS t (n INTEGER)"))
        connection.commit()
        outer = connection.begin()
        with connection.begin_nested():
            connection.execute(text("INSERT INTO t VALUES (1)"))
        outer.rollback()
        return connection.execute(text("SELECT count(*) FROM t")).scalar()


def test_an_outer_rollback_undoes_a_released_savepoint(tmp_path):
    """With our engine a rollback takes back what a released savepoint wrote; with the driver's control it does not."""
    assert nested(engine_for(str(tmp_path / "ours.sqlite"))) == 0
    theirs = create_engine(f"sqlite:///{tmp_path}/theirs.sqlite")
    if nested(theirs) == 0:
        pytest.skip("this driver no longer has the trap")


def test_commits_are_durable(tmp_path):
    """Each connection writes ahead and syncs at every commit."""
    with engine_for(str(tmp_path / "x.sqlite")).connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2


async def test_a_newer_database_is_refused_with_a_sentence(tmp_path):
    """A database of a newer program is left alone and told in one sentence."""
    path = tmp_path / "x.sqlite"
    await open_store(str(path)).close()
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'v9999'")
    with pytest.raises(Refused, match=r"newer.*\.$"):
        open_store(str(path))
    assert rows(path, "SELECT version_num FROM alembic_version") == [("v9999",)]


async def test_opening_again_changes_nothing(tmp_path):
    """A database that is up to date is opened as it is."""
    kept = Kept(f"sqlite:///{tmp_path}/x.sqlite")
    await kept.store.load(hall(), NOW)
    before = await kept.store.snapshot("bench")
    await kept.restart()
    assert await kept.store.snapshot("bench") == before
    await kept.store.close()
    await kept.store.close()


async def test_another_process_is_noticed(tmp_path):
    """What another program wrote to the same file is seen by the next step, though books are kept in memory."""
    url = f"sqlite:///{tmp_path}/x.sqlite"
    one, other = Kept(url), Kept(url)
    await one.store.load(hall(), NOW)
    await one.store.meet("bench", "jo", "bench", "jo")
    await one.store.step(one.heard(), a_mark)
    other.n = 100
    await other.store.step(other.heard(), a_mark)
    tries = []

    def look(heard, desk):
        child = next(iter(desk.books["tue"].children))
        tries.append((desk.books["tue"].standing(child, "hop").tries, desk.talk.said))
        return answer(heard, desk)

    await one.store.step(one.heard(), look)
    assert tries == [(2, 2)]
    await one.store.close()
    await other.store.close()


async def test_what_cannot_be_read_is_said_in_a_sentence(tmp_path):
    """Where the file is not as it should be whoever only looks is told so, as whoever writes is."""
    kept = Kept(f"sqlite:///{tmp_path}/x.sqlite")
    await kept.store.load(hall(), NOW)
    with sqlite3.connect(tmp_path / "x.sqlite") as raw:
        raw.execute("DROP TABLE reminder")
    raw.close()
    with pytest.raises(Refused, match="could not be looked up"):
        await kept.store.next_due()
    await kept.store.close()


async def test_a_backup_while_writing_is_whole(tmp_path):
    """A backup taken among steps opens as a store, with everything that was answered before it began."""
    import asyncio

    kept = Kept(f"sqlite:///{tmp_path}/x.sqlite")
    await kept.store.load(hall(), NOW)
    await kept.store.meet("bench", "jo", "bench", "jo")
    before = [kept.heard() for _ in range(20)]
    await asyncio.gather(*(kept.store.step(one, a_mark) for one in before))
    during = [kept.heard() for _ in range(40)]
    await asyncio.gather(kept.store.backup(tmp_path / "copy.sqlite"), *(kept.store.step(one, a_mark) for one in during))
    copy = open_store(f"sqlite:///{tmp_path}/copy.sqlite")
    found = {one.message for one in (await copy.snapshot("bench")).record}
    assert {one.message for one in before} <= found
    assert export(await copy.snapshot("bench"), NOW)["format"] == 1
    await copy.close()
    await kept.store.close()


async def test_every_row_carries_its_club(tmp_path):
    """Every table but those that look up a club by something else begins its key with the club."""
    await open_store(f"sqlite:///{tmp_path}/x.sqlite").close()
    path = tmp_path / "x.sqlite"
    tables = {name for (name,) in rows(path, "SELECT name FROM sqlite_master WHERE type = 'table'")}
    first = {
        table: next((name for _, name, *_, key in rows(path, f"PRAGMA table_info({table})") if key == 1), None)
        for table in tables if table not in ("alembic_version", "sqlite_sequence")
    }
    finding = {"heard", "address", "invitation", "letter", "phone"}
    nobodys = {"counter", "gateway", "gateway_key", "lease"}
    assert {table for table, key in first.items() if key != "club"} == finding | nobodys


async def test_no_code_is_kept_in_clear(tmp_path):
    """An invitation's code is nowhere in the file, only a digest of it."""
    from datetime import timedelta

    from bot.step import Invitation

    kept = Kept(f"sqlite:///{tmp_path}/x.sqlite")
    await kept.store.load(hall(), NOW)
    person = next(iter(await kept.store.people("bench")))
    await kept.store.invite(Invitation("bench", person, None, NOW + timedelta(days=1), used=False), "QWERTY1234")
    await kept.store.close()
    assert b"QWERTY1234" not in (tmp_path / "x.sqlite").read_bytes()
    assert b"qwerty1234" not in (tmp_path / "x.sqlite").read_bytes()


async def test_a_text_is_not_kept(tmp_path):
    """What somebody typed is kept as what it came to, not as text."""
    kept = Kept(f"sqlite:///{tmp_path}/x.sqlite")
    await kept.store.load(hall(), NOW)
    await kept.store.meet("bench", "jo", "bench", "jo")
    await kept.store.step(kept.heard("zxcvbnm is what I typed"), lambda heard, desk: replace(
        answer(replace(heard, text="…"), desk)))
    await kept.store.close()
    assert b"zxcvbnm" not in (tmp_path / "x.sqlite").read_bytes()
