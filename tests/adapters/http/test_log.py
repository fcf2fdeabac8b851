"""The log of `serve`: a line an event, and never a name, a word that was said, or an address."""
from __future__ import annotations

import asyncio
import io
import json
import logging
import re
import sys
import threading
from collections.abc import AsyncIterator, Iterator
from hashlib import sha256
from pathlib import Path

import pytest

from adapters.codes import invitation, new_code
from adapters.halls import read_folder
from adapters.http.log import EVENTS, log_to_stderr, named
from adapters.settings import BadSettings, log
from storage import open_store
from tests.adapters.http.api import START, Api, Gateway
from tests.adapters.http.program import Program, command
from tests.adapters.http.test_serve import ask

CANARY = "zyk"
PHONE = "+447700900431"
HALLS_FILES = ("scheme.toml", "club.toml", "roster.csv")
SCHEME = """
[scheme]
name = "Zykscheme"
[[award]]
id = "one"
name = "Zykaward"
  [[award.skill]]
  id = "hop"
  name = "Zykhop"
  points = [{id = "toes", label = "Zyktoes"}]
  [[award.skill]]
  id = "stand"
  name = "Zykstand"
  shows = [{seconds = 20}, {seconds = 20, rest_s = 60}]
"""
CLUB = """
name = "Zykclub"
[[class]]
id = "tue"
name = "Zyktuesday"
day = "Tuesday"
start = "17:00"
minutes = 60
coach = "jo"
[[person]]
id = "jo"
name = "Zykjo Zykmarsh"
role = "coach"
"""
ROSTER = "child,class,award,has,id\nZykava Zykprice,tue,one,,a1\nZykben Zykokafor,tue,one,,b1\n"
SAID = (
    "start", "everyone", "zykava seen zykhop", "zykben not yet zykhop zyktoes", "zykava zykben seen zykstand", "undo",
    "zykava away", "zykeva seen", "owed zykava", "agree zykava zykhop: zyksitting", "red is zykava zykben", "plan",
    "add Zykzoe Zykquill", "at 17:03: zykben seen zykhop", "boom zykava", "close",
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A hall in which every name holds the canary."""
    made = tmp_path / "hall"
    made.mkdir()
    for name, text in zip(HALLS_FILES, (SCHEME, CLUB, ROSTER), strict=True):
        (made / name).write_text(text)
    return made


@pytest.fixture
async def hall(folder: Path, tmp_path: Path) -> AsyncIterator[Api]:
    """The program with that hall; its coach has a phone."""
    store = open_store(str(tmp_path / "club.sqlite"))
    await store.load(read_folder(folder), START)
    await store.meet("sms", PHONE, "zykclub", "jo")
    await store.close()
    running = Api(tmp_path / "club.sqlite")
    await running.start()
    yield running
    await running.stop()
    await running.session.close()


@pytest.fixture(params=["text", "json"])
def logged(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[io.StringIO]:
    """What `serve` would write to its error output. All that this changes is put back."""
    root, out = logging.getLogger(), io.StringIO()
    before = root.handlers[:], root.level, EVENTS.level
    monkeypatch.setattr(sys, "stderr", out)
    for where, name in ((logging, "raiseExceptions"), (threading, "excepthook"), (sys, "unraisablehook")):
        monkeypatch.setattr(where, name, getattr(where, name))
    log_to_stderr(request.param)
    yield out
    root.handlers[:] = before[0]
    root.setLevel(before[1])
    EVENTS.setLevel(before[2])


async def test_no_line_of_a_whole_lesson_holds_a_name(
    hall: Api, logged: io.StringIO, monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every name, text, id and number of a lesson holds a canary; whatever goes right or wrong, no line sings."""
    import bot.talk.turn as turn

    real, decide = turn.read, turn.step
    assert hall.service._decide is decide
    monkeypatch.setattr(turn, "read", lambda text, at: _boom(text) or real(text, at))
    gate = await hall.gateway()
    await _a_lesson(hall, gate)
    await _what_goes_wrong(hall, gate)
    code = new_code()
    await hall.store.invite(invitation("zykclub", hall.clock.now(), child="a1"), code)
    for text in (f"join {code}", "yes", "why has zykava not passed"):
        await gate.says(text, "+447700900432", channel="sms", sent_at=hall.clock.now().isoformat())
    await hall.pass_time(3 * 3600)
    text = logged.getvalue()
    lines = text.splitlines()
    assert len(lines) > len(SAID)
    there = ("message", "answered", "failed", "conflict", "KeyError in _boom", "reminders", "problem")
    assert [word for word in there if word not in text] == []
    assert not re.search(f"{CANARY}|7700900", text, re.IGNORECASE), text


def _boom(text: str) -> None:
    if text.startswith("boom"):
        raise KeyError(f"no {text}")


async def _a_lesson(hall: Api, gate: Gateway) -> None:
    for n, text in enumerate(SAID):
        await hall.pass_time(60)
        more = {"id": f"zyk{PHONE[1:]}-{n}", "sent_at": hall.clock.now().isoformat()}
        message = gate.message(text, PHONE, channel="sms", **more)
        assert (await gate.send(message)).status == (500 if text.startswith("boom") else 200), text


async def _what_goes_wrong(hall: Api, gate: Gateway) -> None:
    """Requests that are not as they should be, and faults where nobody waits for what comes of it."""
    await gate.send(gate.message("zykben seen", PHONE, channel="sms", id=f"zyk{PHONE[1:]}-0"))
    await gate.send({"zykava": PHONE})
    await gate.send(gate.message("hello", "zykzoe", channel="sms"))
    await gate.ask("GET", f"/zykava/{PHONE}")
    await gate.ask("POST", f"/v1/outbox/zykava{PHONE}/delivered")
    await hall.plain("zykava").ask("GET", "/v1/outbox", params={"zyk": PHONE})
    await hall.plain().ask("POST", "/web/join", json={"code": "zykava", "attempt": "zykava"})

    async def fails() -> None:
        raise ValueError("zykava in a task")

    task = asyncio.create_task(fails())
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    asyncio.get_running_loop().call_exception_handler({"message": "zykava", "exception": ValueError("zykava")})
    del task
    thread = threading.Thread(target=_boom, args=("boom zykava",))
    thread.start()
    thread.join()
    logging.getLogger("aiohttp.server").error("Error handling request from %s", PHONE)
    logging.getLogger("sprung.http").error("too few %s %s", "zykava")


async def test_a_line_says_what_happened(hall: Api, logged: io.StringIO) -> None:
    """A message's line has its time, gateway, outcome and milliseconds, and a digest by which its id can be found."""
    gate = await hall.gateway()
    await gate.says("start", PHONE, channel="sms", id="m-1")
    (line,) = [one for one in logged.getvalue().splitlines() if "answered" in one]
    digest = sha256(b"gate:m-1").hexdigest()[:12]
    assert named("gate:m-1") == digest
    if line.startswith("{"):
        found = json.loads(line)
        assert (found["what"], found["level"], found["gateway"], found["message"], found["outcome"]) == (
            "message", "info", "gate", digest, "answered",
        )
        assert 0 < found["ms"] < 60_000
        assert found["time"].endswith("+00:00")
    else:
        assert re.search(rf"\+00:00 INFO message gateway=gate message={digest} outcome=answered ms=[\d.]+$", line)


def test_without_being_asked_only_warnings_are_written(folder: Path, tmp_path: Path) -> None:
    """By default a lesson leaves no line; with --log, or the setting, each event one; a wrong word is wrong usage."""
    path = tmp_path / "club.sqlite"
    assert command(path, "hall", str(folder)).returncode == 0
    key = command(path, "key", "gate").stdout.strip()
    for words, env, lines in (((), {}, 0), (("--log", "json"), {}, 3), ((), {"SPRUNG_LOG": "text"}, 3)):
        program = Program(path, *words, env=env)
        assert ask(program, "/v1/outbox/none/delivered", key, {})[0] == 404
        code, said = program.stop()
        assert (code, len(said.splitlines())) == (0, lines), said
    (tmp_path / "sprung.toml").write_text('log = "loud"')
    done = command(path, "serve")
    assert (done.returncode, "log is text or json" in done.stderr) == (2, True)
    with pytest.raises(BadSettings, match="loud"):
        log(None, {"SPRUNG_LOG": "loud"}, tmp_path)
