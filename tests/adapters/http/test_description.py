"""The API does what its description says: the description is valid, and schemathesis tries all that it allows."""
from __future__ import annotations

import asyncio
import json
import os
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from adapters.clock import SimulatedClock
from adapters.http import desk
from adapters.http.app import application
from adapters.http.described import described
from adapters.http.keys import new_key
from adapters.service import Service
from adapters.web.files import files
from bot.lesson.book import Changes, Reminder
from bot.step import Decide, Desk, Heard, Say, Stepped, Woken
from storage import open_store
from tests.adapters.http.api import START, Api
from tests.adapters.http.program import ROOT, Program
from tests.bench.budget_hall import hall

CASES = int(os.environ.get("SPRUNG_CASES", "300"))      # for each operation that takes anything
SEED = 20261124
COACHES, EACH = 40, 15      # so many have so many unasked messages waiting: one that fails holds up only its own
TAKE_SOMETHING = (
    "POST /v1/messages", "GET /v1/outbox", "POST /v1/outbox/{id}/delivered", "POST /v1/outbox/{id}/failed",
)


def test_the_description_is_openapi() -> None:
    """It is valid OpenAPI 3.1, by openapi-spec-validator."""
    OpenAPIV31SpecValidator(described()).validate()


async def test_the_description_is_served_without_a_key(api: Api) -> None:
    """Anybody may read what there is."""
    response = await api.plain().ask("GET", "/v1/openapi.json")
    assert (response.status, response.content_type) == (200, "application/json")
    assert await response.json() == described()


def test_every_path_is_described() -> None:
    """What can be asked is described, and nothing else is; the page's paths and calendars are no part of the API."""
    app = application(desk.Desk(Service(open_store("memory:"), Any)))        # type: ignore[arg-type]
    routes = {
        (route.method.lower(), route.resource.canonical) for route in app.router.routes()
        if route.method != "HEAD" and route.resource is not None
        and route.resource.canonical not in files() and not route.resource.canonical.startswith(("/web/", "/calendar/"))
    }
    assert routes == {(method, path) for path, ways in described()["paths"].items() for method in ways}


def test_every_problem_that_can_be_met_is_described() -> None:
    """Each operation that takes a body names what can be wrong with it."""
    for ways in described()["paths"].values():
        for operation in ways.values():
            answers = operation["responses"]
            assert {"422", "500"} <= answers.keys()
            if "requestBody" in operation:
                assert {"400", "401", "403", "413", "415", "429", "503"} <= answers.keys()


async def _filled(path: Path) -> str:
    """A club, a key, and a heap of unasked messages that wait at the gateway; the key."""
    store = open_store(str(path))
    await store.load(hall("bench", COACHES), START)
    made = await new_key(store, "gate", None)
    for n in range(COACHES):
        await store.meet("sms", f"+447700900{123 + n}", "bench", f"coach-{n}")
        await store.step(Heard(f"m{n}", "sms", f"+447700900{123 + n}", START, START, "x", via="gate"), _later(n))
    await store.wake(START + timedelta(minutes=1), _told)
    assert len(await store.letters("gate", 0, 10_000)) == COACHES * EACH
    service = Service(store, SimulatedClock(START))
    for text in ("start tuesday", "everyone", "next"):
        said = await service.hear("sms", "+447700900123", text=text, via="gate")
        assert said[0].choices
    await store.close()
    return made.key


def _later(n: int) -> Decide:
    """Queue reminders for one coach, in the class that is theirs."""
    def decide(_: Heard, at: Desk) -> Stepped:
        due = [Reminder(f"r{s}", f"coach-{n}", "rest", START + timedelta(seconds=s), f"c{n}/x") for s in range(EACH)]
        return Stepped(at.talk, changes=Changes(pending={f"c{n}": {one.key: one for one in due}}))

    return decide


def _told(woken: Woken, at: Desk) -> Stepped:
    """Say that it is due, and take it off the queue."""
    keys = {one.key for one in woken.due}
    pending = {
        class_id: {key: one for key, one in book.pending.items() if key not in keys}
        for class_id, book in at.books.items()
    }
    talk = replace(at.talk, said=at.talk.said + 1)
    return Stepped(talk, (Say("due"),), changes=Changes(pending=pending))


def _cases(report: Path) -> Counter[str]:
    """How many requests were made of each operation, but for those of the stateful phase."""
    found: Counter[str] = Counter()
    for line in report.read_text("utf-8").splitlines():
        event = json.loads(line).get("ScenarioFinished")
        if event is not None and event["phase"] != "stateful":
            found[event["recorder"]["label"]] += len(event["recorder"].get("interactions", ()))
    return found


@pytest.mark.timeout(280)
def test_schemathesis_finds_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All phases against a running program: whatever fits the description is taken, whatever does not is a problem."""
    key = asyncio.run(_filled(tmp_path / "club.sqlite"))
    program = Program(tmp_path / "club.sqlite", "--clock", f"{START:%Y-%m-%d %H:%M}")
    report, lines = tmp_path / "report.json", tmp_path / "events.ndjson"
    try:
        done = subprocess.run(
            [sys.executable, "-m", "schemathesis.cli", "run", f"{program.base}/v1/openapi.json", "--seed", str(SEED),
             "--phases", "examples,coverage,fuzzing,stateful", "--max-examples", str(CASES), "--workers", "1",
             "--header", f"Authorization: Bearer {key}", "--no-color", "--report-json-path", str(report),
             "--report-ndjson-path", str(lines)],
            env={**os.environ, "SCHEMATHESIS_HOOKS": "tests.adapters.http.schemathesis_hooks",
                 "PYTHONPATH": str(ROOT)},
            cwd=tmp_path, capture_output=True, text=True, timeout=270, check=False,
        )
    finally:
        code, logged = program.stop()
    assert done.returncode == 0, done.stdout
    assert (code, logged) == (0, "")
    told = json.loads(report.read_text("utf-8"))
    assert (told["complete"], told["failures"], told["errors"]) == (True, [], [])
    assert {name: phase["status"] for name, phase in told["phases"].items()} == dict.fromkeys(
        ("examples", "coverage", "fuzzing", "stateful"), "success",
    )
    cases = _cases(lines)
    assert all(cases[name] >= CASES for name in TAKE_SOMETHING), cases
    covered = re.search(r"API Links:\s+(\d+) covered / \d+ selected / (\d+) total", done.stdout)
    assert covered is not None
    with capsys.disabled():
        print(f"\nschemathesis: {told['test_cases']['generated']} cases in {told['running_time']:.0f} s, "
              f"{covered[1]} of {covered[2]} links followed; "
              + ", ".join(f"{name} {cases[name]}" for name in TAKE_SOMETHING))
    assert int(covered[1]) >= 3, done.stdout        # a tap is only followed where chance brought an answer with choices
