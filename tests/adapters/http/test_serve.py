"""`sprung serve` and `sprung key` as programs: starting, stopping, keys, the clock."""
from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any
from urllib.error import HTTPError

import pytest

from tests.adapters.http.program import Program, command, environment

AT = "2026-11-24 16:58"


def ask(program: Program, path: str, key: str = "", body: object = None) -> tuple[int, Any]:
    """One request; status, and what came as JSON."""
    data = None if body is None else json.dumps(body).encode()
    headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    try:
        with urllib.request.urlopen(urllib.request.Request(program.base + path, data, headers), timeout=30) as answer:
            return answer.status, json.loads(answer.read() or b"null")
    except HTTPError as error:
        return error.code, json.loads(error.read())


def says(program: Program, key: str, id_: str, text: str, at: str = "2026-11-24T16:58:00Z") -> str:
    """What jo is answered."""
    message = {"id": id_, "channel": "whatsapp", "sender": "+447700900001", "sent_at": at, "text": text}
    status, found = ask(program, "/v1/messages", key, message)
    assert status == 200, found
    return found["replies"][-1]["text"]


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_it_serves_until_it_is_asked_to_stop(filled: Path, how: signal.Signals) -> None:
    """At the time that is given a class can be opened; asked to stop it ends in good order, and all is kept."""
    key = command(filled, "key", "gate").stdout.strip()
    program = Program(filled, "--clock", AT)
    assert says(program, key, "m-1", "start tuesday").startswith("Everyone here?")
    assert program.stop(how) == (0, "")
    again = Program(filled, "--clock", AT)
    assert says(again, key, "m-1", "start tuesday").startswith("Everyone here?")
    assert says(again, key, "m-2", "everyone")
    again.stop()


def test_two_programs_may_serve_one_file(filled: Path) -> None:
    """What one of them was told the other knows; an id that one answered is answered alike by the other."""
    key = command(filled, "key", "gate").stdout.strip()
    one, other = Program(filled, "--clock", AT), Program(filled, "--clock", AT)
    first = says(one, key, "m-1", "start tuesday")
    assert says(other, key, "m-1", "start tuesday") == first
    assert says(other, key, "m-2", "everyone")
    assert "cartwheel" in says(one, key, "m-3", "ava seen cartwheel").casefold()
    assert (one.stop()[0], other.stop()[0]) == (0, 0)


def test_a_port_that_is_taken_is_said_in_a_sentence(filled: Path) -> None:
    """Where another program listens already, this one says so and ends."""
    program = Program(filled)
    done = command(filled, "serve", "--port", str(program.port))
    program.stop()
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "in use" in done.stderr


def test_a_wrong_clock_is_said_in_a_sentence(filled: Path) -> None:
    """A time that is none is refused before anything is served."""
    done = command(filled, "serve", "--port", "0", "--clock", "noon")
    assert (done.returncode, done.stdout) == (1, "")
    assert "2026-11-24 16:58" in done.stderr


def test_keys_are_made_and_revoked_while_it_runs(filled: Path) -> None:
    """A key works from the moment it is printed; one is ended by its first letters, all at once by `all`."""
    program = Program(filled)
    first, second = (command(filled, "key", "gate") for _ in range(2))
    keys = [done.stdout.strip() for done in (first, second)]
    assert all(re.fullmatch(r"spr_[0-9a-f]{8}_[\w-]{43}", key) for key in keys)
    assert [ask(program, "/v1/outbox", key)[0] for key in keys] == [200, 200]
    done = command(filled, "key", "gate", "--revoke", keys[0][:12])
    assert done.stdout == "1 key of gate ended.\n"
    assert ask(program, "/v1/outbox", keys[1])[0] == 200
    assert command(filled, "key", "gate", "--revoke", "all").stdout == "1 key of gate ended.\n"
    new = command(filled, "key", "gate").stdout.strip()
    assert ask(program, "/v1/outbox", new)[0] == 200
    program.stop()
    again = Program(filled)
    assert [ask(again, "/v1/outbox", key)[0] for key in (*keys, new)] == [403, 403, 200]
    again.stop()


def test_a_secret_is_printed_once(filled: Path) -> None:
    """With --push a second line is the secret; without it the gateway goes on as it was, and none is printed."""
    made = command(filled, "key", "gate", "--push", "https://gate.example/hook").stdout.splitlines()
    assert made[1].startswith("whsec_")
    assert len(command(filled, "key", "gate").stdout.splitlines()) == 1
    again = command(filled, "key", "gate", "--push", "https://gate.example/hook").stdout.splitlines()
    assert again[1] != made[1]


@pytest.mark.parametrize(("words", "code", "says"), [
    (("Gate!",), 1, "small letters"), (("gate", "--push", "http://gate.example"), 1, "https"),
    (("gate", "--revoke", "all"), 1, "no gateway called gate"), (("gate", "--revoke", "x", "--push", "y"), 2, "either"),
])
def test_what_can_not_be_a_gateway(filled: Path, words: tuple[str, ...], code: int, says: str) -> None:
    """A wrong name, an open line and an unknown gateway are told in a sentence."""
    done = command(filled, "key", *words)
    assert done.returncode == code
    assert says in done.stderr
    assert done.stdout == ""


def test_help_imports_nothing_of_it(filled: Path) -> None:
    """`sprung --help` is quick: it loads neither the server nor what describes it."""
    look = (
        "import sys; from adapters.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass\n"
        "heavy = {'aiohttp', 'pydantic', 'sqlalchemy', 'prometheus_client', 'phonenumbers'}\n"
        "print(sorted(heavy & sys.modules.keys()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", look], capture_output=True, text=True, env=environment(filled), check=True,
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_log_holds_no_name(filled: Path) -> None:
    """A fault of the program is logged with its kind and place, and with nothing that was said."""
    start = (
        "import bot.talk.turn as turn\n"
        "def fail(heard, desk): raise KeyError('Ava Price')\n"
        "turn.step = fail\n"
        "from adapters.cli import main; main(prog_name='sprung')"
    )
    key = command(filled, "key", "gate").stdout.strip()
    program = Program(filled, "--clock", AT, start=start)
    message = {"id": "m", "channel": "whatsapp", "sender": "+447700900001", "sent_at": "2026-11-24T16:58:00Z",
               "text": "ava price seen"}
    assert ask(program, "/v1/messages", key, message)[0] == 500
    _, logged = program.stop()
    assert "KeyError in fail" in logged
    assert not re.search("ava|price|447700", logged, re.IGNORECASE)
