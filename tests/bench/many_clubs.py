"""A database with thousands of clubs, each with a term behind it. Measures nothing itself.

One club is made by the program: its coaches type every line of a lesson and close it. The others are its rows, which
the project's own codecs wrote, copied under other clubs' names by the database itself, as if all of them had typed at
the same time: a club's rows lie as far apart in the file as they would.
"""
from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

from storage import open_store, tables
from tests.bench.budget_hall import LINE, NAMES, SKILLS, START, Floor, hall

CLASSES, CHILDREN = 5, 20       # of a club: a hundred children
MARKED, OPEN = 13, len(SKILLS)  # so many skills are behind them: 26 marks for each child; the others are to come
WEEK = timedelta(days=7)
NEXT = START + WEEK - timedelta(minutes=2)      # the lesson after
FIRST = "club-0"
CACHE_KB = 4_000_000            # for copying alone: rows go to thousands of places in the file


async def one_club(path: Path) -> None:
    """The first club, after its first lesson."""
    floor = Floor(open_store(str(path)))
    await floor.store.load(hall(FIRST, CLASSES, CHILDREN, OPEN), START)
    for n in range(CLASSES):
        floor.senders.append(f"{FIRST}/coach-{n}")
        await floor.store.meet("bench", floor.senders[-1], FIRST, f"coach-{n}")
    for text in ("start", "everyone", *typed(SKILLS[:MARKED], "not yet"), *typed(SKILLS[:MARKED], "seen"), "close"):
        for sender in floor.senders:
            await floor.say(sender, text)
        floor.later(5)
    await floor.store.close()


def typed(skills: Sequence[str], verdict: str, children: int = CHILDREN) -> list[str]:
    """A line at a time, each of them whole."""
    groups = [NAMES[start:start + LINE] for start in range(0, children, LINE)]
    return [f"{', '.join(names)} {verdict} {skill}" for skill in skills for names in groups]


def copied(one: Path, many: Path, clubs: int) -> None:
    """That club, and others like it."""
    shutil.copy(one, many)
    raw = sqlite3.connect(many, isolation_level=None)
    for pragma in ("journal_mode=OFF", "synchronous=OFF", f"cache_size=-{CACHE_KB}", "temp_store=MEMORY"):
        raw.execute(f"PRAGMA {pragma}").close()
    indexes = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL").fetchall()
    raw.execute("BEGIN")
    for name, _ in indexes:
        raw.execute(f"DROP INDEX {name}")
    raw.execute("CREATE TEMP TABLE other AS WITH RECURSIVE n(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n "
                f"WHERE n + 1 < {clubs}) SELECT n FROM n")
    last = raw.execute("SELECT value FROM counter WHERE name = 'outbox'").fetchone()
    step = last[0] if last else 0
    for table in tables.metadata.sorted_tables:
        if "club" in table.c:
            _copy(raw, table.name, [column.name for column in table.columns], step)
    raw.execute(f"UPDATE counter SET value = value * {clubs} WHERE name = 'outbox'")
    for _, sql in indexes:
        raw.execute(sql)
    raw.execute("COMMIT")
    raw.execute("PRAGMA journal_mode=WAL").close()
    raw.close()


def _copy(raw: sqlite3.Connection, table: str, columns: list[str], step: int) -> None:
    """The rows of the first club, once more for each other one."""
    other = {
        "club": "'club-' || n",
        "message": "message || '-' || n" if table == "heard" else "message",        # ids are everybody's
        "address": f"replace(address, '{FIRST}/', 'club-' || n || '/')",
        "cursor": f"cursor + n * {step}",
        "digest": "digest || '-' || n",
        "body": f"replace(body, '{FIRST}', 'club-' || n)" if table == "club" else "body",   # it says there who it is
    }
    values = ", ".join(other.get(name, f'"{name}"') for name in columns)
    names = ", ".join(f'"{name}"' for name in columns)
    raw.execute(f"INSERT INTO {table} ({names}) SELECT {values} "
                f"FROM (SELECT * FROM {table} WHERE club = '{FIRST}') CROSS JOIN temp.other")
