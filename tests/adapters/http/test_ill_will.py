"""Whoever means ill, on a running program: nothing breaks, nothing is told, nothing is changed, nothing grows."""
from __future__ import annotations

import asyncio
import json
import os
from pathlib import Path

import pytest
from aiohttp import ClientSession, DummyCookieJar

from tests.adapters.http.ill_will import ON_LINUX, Fuzz, fill, rss
from tests.adapters.http.program import Program, command

MESSAGES = int(os.environ.get("SPRUNG_FUZZ", "1500"))
FREE = """
import adapters.http.serve as program
from adapters.http.limits import Limits, Rate
free = Rate(1e9, 10**9)
program.Limits = lambda: Limits(free, free, free, free, free, free, all_codes=free)
from adapters.cli import main; main(prog_name='sprung')
"""
"""The program without its limits, which would keep most of it out."""
GROWS_MB = 25       # after the warm-up; caches are full long before a hundred thousand


async def attacked(program: Program, key: str, codes: dict[str, str]) -> tuple[Fuzz, list[float]]:
    """All of it; the memory before, after a fifth, and at the end."""
    held = [rss(program.process.pid) if ON_LINUX else 0.0]
    fuzz = Fuzz(program.base, key, codes, seed=20261124)
    async with ClientSession(cookie_jar=DummyCookieJar()) as session:
        await fuzz.begin(session)
        for part in (MESSAGES // 5, MESSAGES - MESSAGES // 5):
            await fuzz.run(part)
            held.append(rss(program.process.pid) if ON_LINUX else 0.0)
        await fuzz.end()
    return fuzz, held


def exported(path: Path) -> dict[str, object]:
    """Children and marks of club a."""
    whole = json.loads(command(path, "export", "--json", "--club", "club-a").stdout)
    return {name: whole[name] for name in ("children", "marks")}


@pytest.mark.timeout(3 * 3600)
def test_ill_will_breaks_tells_and_changes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Outsiders, a parent, another club's coach and wrong keys send anything at all over HTTP.

    No answer is a 5xx or holds a name that is not theirs to see; club a's children and marks are as they were; the log
    says nothing; memory stays flat.
    """
    path = tmp_path / "club.sqlite"
    codes = asyncio.run(fill(path))
    key = command(path, "key", "gate").stdout.strip()
    program = Program(path, "--clock", "2026-11-24 16:58", start=FREE, env={"SPRUNG_PLANNERS": "0"})
    log = tmp_path / "log"
    fuzz, held = asyncio.run(attacked(program, key, codes))
    assert fuzz.faults[:5] == []
    ended, said = program.stop()
    log.write_text(said)
    with capsys.disabled():
        print(f"\n{MESSAGES} sent: {dict(sorted(fuzz.statuses.items()))}; MB {[round(one) for one in held]}")
    assert (ended, said) == (0, "")
    assert fuzz.statuses[200] > MESSAGES / 5        # it was not turned away at the door
    assert {400, 401, 404, 405, 409, 413, 415, 422} <= fuzz.statuses.keys()
    marked = exported(path)
    assert len(marked["marks"]) == 1                # that of its own coach
    assert "Wilma" in json.dumps(marked["children"])
    if ON_LINUX:
        assert held[2] - held[1] < GROWS_MB, held
