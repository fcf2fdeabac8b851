"""A database comes to the shape that the program knows, and no other.

`SPRUNG_KILLS` says at how many moments a migration is killed (4 where it is not set, and around its commit).
"""
from __future__ import annotations

import asyncio
import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, create_engine, inspect

from bot.port import Snapshot
from bot.step import Refused
from storage import migrations, open_store
from storage.sqlite_file import engine_for
from storage.tables import metadata
from tests.storage.steps import a_mark, heard, settle

CHILD = Path(__file__).with_name("migrate_child.py")
KILLS = int(os.environ.get("SPRUNG_KILLS", "4"))


def migrated(path: Path) -> str:
    """A fresh file, migrated; its URL."""
    engine = engine_for(str(path))
    with engine.begin() as connection:
        migrations.upgrade(connection)
    engine.dispose()
    return f"sqlite:///{path}"


def shape(url: str) -> dict[str, object]:
    """Tables with their columns, keys and indexes."""
    engine = create_engine(url)
    seen = inspect(engine)
    found = {
        table: (
            [(column["name"], str(column["type"]), column["nullable"]) for column in seen.get_columns(table)],
            seen.get_pk_constraint(table)["constrained_columns"],
            sorted((str(one["name"]), tuple(one["column_names"]), one["unique"]) for one in seen.get_indexes(table)),
        )
        for table in seen.get_table_names() if table != "alembic_version"
    }
    engine.dispose()
    return found


def test_the_migrations_lead_to_the_tables(tmp_path: Path) -> None:
    """What all migrations make of an empty file is what the tables say."""
    made = create_engine(f"sqlite:///{tmp_path / 'made.sqlite'}")
    metadata.create_all(made)
    made.dispose()
    assert shape(migrated(tmp_path / "migrated.sqlite")) == shape(f"sqlite:///{tmp_path / 'made.sqlite'}")


def test_the_known_revisions_are_the_files() -> None:
    """The list by which a newer database is told from ours holds every migration, in order."""
    config = Config()
    config.set_main_option("script_location", str(migrations.HERE))
    walked = ScriptDirectory.from_config(config).walk_revisions()
    assert tuple(reversed([one.revision for one in walked])) == migrations.REVISIONS


def test_nothing_is_done_where_nothing_is_to_be_done(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A database of today is not migrated again, and Alembic not even imported."""
    path = tmp_path / "club.sqlite"
    migrated(path)
    monkeypatch.setattr(migrations, "_run", lambda _: pytest.fail("migrated again"))
    migrated(path)


def test_a_migration_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a migration breaks off, the file is as it was, and can be migrated later."""
    path = tmp_path / "club.sqlite"
    run = migrations._run

    def broken(connection: object) -> None:
        run(connection)         # type: ignore[arg-type]
        raise RuntimeError("the light went out")

    monkeypatch.setattr(migrations, "_run", broken)
    with pytest.raises(RuntimeError, match="the light went out"):
        migrated(path)
    found = MetaData()
    engine = create_engine(f"sqlite:///{path}")
    found.reflect(engine)
    engine.dispose()
    assert not found.tables
    monkeypatch.undo()
    migrated(path)


async def older(path: Path) -> Snapshot:
    """A file as an older program left it, with a lesson's marks; what is kept in it."""
    newer = path.with_suffix(".newer")
    store = await settle(open_store(str(newer)))
    await asyncio.gather(*(store.step(heard(n), a_mark) for n in range(30)))
    kept = await store.snapshot("bench")
    await store.close()
    engine = engine_for(str(path))
    with engine.begin() as connection:
        config = Config()
        config.set_main_option("script_location", str(migrations.HERE))
        config.attributes["connection"] = connection
        command.upgrade(config, "0004")
    engine.dispose()
    with sqlite3.connect(path) as raw:
        raw.execute("ATTACH ? AS newer", (str(newer),))
        tables = raw.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'").fetchall()
        for (table,) in tables:
            if table != "alembic_version":
                columns = ", ".join(f'"{row[1]}"' for row in raw.execute(f"PRAGMA main.table_info('{table}')"))
                raw.execute(f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM newer.{table}")
    raw.close()
    return kept


async def test_a_migration_that_is_killed_is_completed_by_the_next_start(
    tmp_path: Path, capsys: pytest.CaptureFixture[str],
) -> None:
    """Killed before any of its statements, before or after its commit: the next start finds all, and completes it."""
    kept = await older(old := tmp_path / "old.sqlite")
    with subprocess.Popen(
        [sys.executable, str(CHILD)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(CHILD.parents[2])},
    ) as child:
        moments = -migrated_in(child, old, whole := tmp_path / "0.sqlite", 0)
        chosen = {*random.Random(20261124).sample(range(1, moments - 1), min(KILLS, moments - 2)), moments - 1, moments}
        left = Counter[str | None]()
        for moment in sorted(chosen):
            path = tmp_path / f"{moment}.sqlite"
            assert migrated_in(child, old, path, moment) == signal.SIGKILL
            left[revision(path)] += 1
            store = open_store(str(path))
            assert await store.snapshot("bench") == kept
            await store.close()
            assert shape(f"sqlite:///{path}") == shape(f"sqlite:///{whole}")
    assert left == Counter({"0004": len(chosen) - 1, migrations.HEAD: 1}), "all of it before the commit, or nothing"
    with capsys.disabled():
        print(f"\na migration killed at {len(chosen)} of its {moments} moments: completed by the next start each time")


def migrated_in(child: subprocess.Popen[str], old: Path, path: Path, moment: int) -> int:
    """Copy the old file, and open the copy in a process that is killed then; what `migrate_child.py` says of it."""
    shutil.copy(old, path)
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write(json.dumps([str(path), moment]) + "\n")
    child.stdin.flush()
    return int(child.stdout.readline())


def revision(path: Path) -> str | None:
    """At which revision a file was left."""
    engine = engine_for(str(path))
    with engine.begin() as connection:
        found = migrations.current(connection)
    engine.dispose()
    return found


async def test_a_refused_database_is_left_alone(tmp_path: Path) -> None:
    """A file of a newer program keeps every byte of its rows, and is let go."""
    path = tmp_path / "club.sqlite"
    migrated(path)
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
        raw.execute("INSERT INTO club VALUES ('later', '{}')")
    raw.close()
    for _ in range(2):
        with pytest.raises(Refused, match="newer version"):
            open_store(str(path))
    with sqlite3.connect(path) as raw:
        assert raw.execute("SELECT club, body FROM club").fetchall() == [("later", "{}")]
        assert raw.execute("SELECT version_num FROM alembic_version").fetchall() == [("9999",)]
    raw.close()


def test_what_is_no_database_is_refused(tmp_path: Path) -> None:
    """Some other file is refused with a sentence and not written to."""
    path = tmp_path / "letter.txt"
    path.write_text("Dear parents, " * 100)
    with pytest.raises(Refused, match="can't be opened"):
        open_store(str(path))
    assert path.read_text() == "Dear parents, " * 100


@pytest.mark.parametrize("url", ["mysql://somewhere/club", "sqlite:///", ""])
def test_an_unknown_kind_of_store_is_refused(url: str) -> None:
    """What we can't open is said in a sentence, before anything is made."""
    with pytest.raises(Refused):
        open_store(url)


def test_nothing_heavy_is_imported_before_a_store_is_opened() -> None:
    """`import storage` costs next to nothing."""
    heavy = "import sys, storage; print(sorted({'sqlalchemy', 'alembic', 'pydantic'} & sys.modules.keys()))"
    done = subprocess.run([sys.executable, "-c", heavy], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_file_is_for_its_owner_alone(tmp_path: Path) -> None:
    """The database holds names of children: nobody else on the machine may read it."""
    path = tmp_path / "deep" / "club.sqlite"
    open_and_close = open_store(str(path))
    assert path.stat().st_mode & 0o077 == 0
    assert open_and_close is not None
