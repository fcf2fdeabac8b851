"""`sprung chat` and `sprung demo` as programs: pipes, terminals, several at a time, and no traceback ever."""
from __future__ import annotations

import contextlib
import json
import os
import re
import select
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from adapters.halls import DEMO_HALL

ROOT = Path(__file__).resolve().parent.parent.parent
CLOCK = ["--clock", "2026-11-24 16:58"]
Run = Callable[..., Result]
Done = subprocess.CompletedProcess[str]
PROGRAM = "from adapters.cli import main; main()"


def test_chat_keeps_what_is_said(run: Run) -> None:
    """A talk at the console goes on where it was when it is opened again."""
    run("hall", DEMO_HALL)
    first = run("chat", "--as", "jo", *CLOCK, typed="start tuesday\neveryone\nava seen cartwheel\n")
    assert first.exit_code == 0
    assert first.stdout.endswith("All that you said here is kept.\n")
    marks = json.loads(run("export", "--json").stdout)["marks"]
    assert [mark["skill"] for mark in marks] == ["cartwheel"]
    again = run("chat", "--as", "jo", *CLOCK, typed="owed ava\n")
    assert re.search("Ava, Lantern: .* ticked", again.stdout)


def test_the_demo_in_a_plain_pipe(environment: dict[str, str]) -> None:
    """The demo opens on a lesson about to begin, in a pipe too, and rests end as soon as one waits."""
    done = subprocess.run(
        [sys.executable, "-c", "from adapters.cli import main; main()", "demo"], cwd=ROOT, env=environment, timeout=60,
        input="start\neveryone\nava and ben seen shoulder stand\nwait 1m\n",
        capture_output=True, text=True, check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("You are Jo, the coach. Type start to open Tuesday's class")
    assert "jo> start\n16:58  Everyone here?" in done.stdout
    assert "[1 Everyone]" in done.stdout
    assert "Sam's phone" in done.stdout
    assert "\x1b" not in done.stdout


def program(environment: dict[str, str], *words: str, typed: str = "", code: str = PROGRAM, **more: str) -> Done:
    """Run the program in a plain pipe to its end."""
    return subprocess.run(
        [sys.executable, "-c", code, *words], cwd=ROOT, env={**environment, **more}, input=typed,
        capture_output=True, text=True, check=False, timeout=60,
    )


def test_numbers_pick_choices(environment: dict[str, str]) -> None:
    """A number that is typed picks the choice that shows it, and other phones show theirs without numbers."""
    done = program(environment, "demo", typed="start\n1\n4\nall seen\nwait 1m\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "jo> 1\n16:58  12 here." in done.stdout
    assert "[4 Go]" in done.stdout
    assert "jo> 4\n16:58  Shoulder stand, first show: 1 Ava" in done.stdout
    assert "It is 16:59.\n" in done.stdout
    box = [line for line in done.stdout.splitlines() if line.startswith(" " * 20)]
    assert "─ Sam's phone ─" in box[0]
    assert any("[All seen] [Some not yet] [None yet]" in line for line in box)


def test_the_hint_is_two_lines(environment: dict[str, str]) -> None:
    """The demo begins with two lines of 80 columns that say what to type and how to leave."""
    done = program(environment, "demo", COLUMNS="80")
    assert done.stdout.splitlines() == [
        "You are Jo, the coach. Type start to open Tuesday's class.",
        "Then a choice's number, or: ava seen. wait 1m skips a minute, Ctrl-D leaves.",
        "That was the demo. Nothing of it is kept; on your own database every mark is.",
    ]
    elsewhen = program(environment, "demo", "--clock", "2026-11-22 09:00", typed="start tuesday\n")
    assert "Type start tuesday to open that day's class." in elsewhen.stdout


@pytest.mark.parametrize("more", [{"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}, {"COLUMNS": "50"}])
def test_narrow_and_plain(environment: dict[str, str], more: dict[str, str]) -> None:
    """The demo reads well where there are fewer signs and fewer columns."""
    done = program(environment, "demo", typed="start\n1\ngo\nall seen\nwait 1m\n", **more)
    assert (done.returncode, done.stderr) == (0, "")
    assert all(len(line) <= int(more.get("COLUMNS", 80)) for line in done.stdout.splitlines())
    assert "Sam's phone" in done.stdout


FAILS = """if 1:
    from adapters.service import Service
    async def hear(*_, **__):
        raise ZeroDivisionError("a bad day")
    from adapters.console import demo
    demo._a_parent_joins = lambda *_: __import__("asyncio").sleep(0)
    Service.hear = hear
    from adapters.cli import main
    main()
"""


def test_a_fault_in_a_step_is_one_sentence(environment: dict[str, str]) -> None:
    """A step that raises is a sentence and no traceback, unless SPRUNG_DEBUG=1 asks for it; the talk goes on."""
    done = program(environment, "demo", typed="start\nwait 1m\n", code=FAILS)
    assert (done.returncode, done.stderr) == (0, "")
    assert "jo> start\nSorry, something went wrong here" in done.stdout
    assert "It is 16:59." in done.stdout
    debug = program(environment, "demo", typed="start\n", code=FAILS, SPRUNG_DEBUG="1")
    assert "ZeroDivisionError: a bad day" in debug.stderr
    assert "Traceback" not in debug.stdout


def test_nobody_reads_any_more(environment: dict[str, str]) -> None:
    """Where the reader of a pipe has gone the program ends without a word."""
    child = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, "demo"], cwd=ROOT, env=environment,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )
    assert child.stdin
    assert child.stdout
    assert child.stderr
    child.stdout.close()
    with contextlib.suppress(BrokenPipeError):
        child.stdin.write(b"start\n" * 50)
        child.stdin.close()
    assert child.stderr.read() == b""
    child.stderr.close()
    child.wait(30)


def test_joining_with_a_code(run: Run) -> None:
    """A name that nobody bears is a phone of its own: a code lets it in, and it is known from then on."""
    run("hall", DEMO_HALL)
    code = run("invite", "--parent", "Ava Price").stdout.strip()
    first = run("chat", "--as", "petra", *CLOCK, typed=f"hello\njoin {code}\nyes\n")
    assert first.exit_code == 0
    assert "petra is none of the people of Harbour Lane Hall" in first.stdout
    assert "[1 Yes] [2 No]" in first.stdout
    assert "Thank you." in first.stdout
    assert "after class" in run("chat", "--as", "petra", *CLOCK, typed="how is ava\n").stdout
    assert "is not valid" in run("chat", "--as", "olga", *CLOCK, typed=f"join {code}\n").stdout
    consents = json.loads(run("export", "--json").stdout)["consents"]
    assert [one["child"] for one in consents] == [
        one["id"] for one in json.loads(run("export", "--json").stdout)["children"] if one["name"] == "Ava Price"
    ]


def test_two_at_a_time(environment: dict[str, str], tmp_path: Path) -> None:
    """Two programs on one file see one lesson: what one marks the other owes no more, and reminders reach both."""
    db = str(tmp_path / "club.sqlite")
    assert program(environment, "hall", str(DEMO_HALL), "--db", db).returncode == 0
    jo, sam = (Talking(environment, "--db", db, "chat", "--as", who, *CLOCK) for who in ("jo", "sam"))
    jo.types("start", "Everyone here")
    jo.types("everyone", "12 here")
    sam.types("ava seen shoulder stand", "Ava seen. Rest to")
    jo.types("resting", "Resting: Ava")
    jo.types("wait 1m", "Rested: Ava")
    sam.hears("Rested: Ava")
    assert jo.leaves() == sam.leaves() == (0, b"")


class Talking:
    """A talk with a program that runs."""

    def __init__(self, environment: dict[str, str], *words: str) -> None:
        self._child = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, *words], cwd=ROOT, env=environment,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )
        self._heard = b""

    def types(self, line: str, hears: str) -> None:
        """Type a line, and wait for what comes."""
        assert self._child.stdin
        self._child.stdin.write(line.encode() + b"\n")
        self._child.stdin.flush()
        self.hears(hears)

    def hears(self, words: str) -> None:
        """Wait until the program says that."""
        assert self._child.stdout
        while words.encode() not in b" ".join(self._heard.split()):
            self._heard += some_of(self._child.stdout.fileno())
        self._heard = b""

    def leaves(self) -> tuple[int, bytes]:
        """Close the input; the exit code, and what was printed on the error output."""
        _, wrong = self._child.communicate(timeout=30)
        return self._child.returncode, wrong


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs a terminal")
@pytest.mark.parametrize("key", [b"\x03", b"\x04"], ids=["ctrl-c", "ctrl-d"])
def test_keys_that_leave_cleanly(environment: dict[str, str], key: bytes) -> None:
    """On a terminal Ctrl-C and Ctrl-D end the talk with a sentence and exit code 0."""
    code, printed = on_a_terminal(environment, [(rb"> ", b"start\r"), (rb"Everyone here\?[^>]*> ", key)])
    assert code == 0, printed
    assert "Nothing of it is kept" in printed
    assert "Traceback" not in printed


def on_a_terminal(environment: dict[str, str], steps: list[tuple[bytes, bytes]]) -> tuple[int, str]:
    """Run the demo on a terminal: whenever the next pattern has been printed, press its keys."""
    master, slave = os.openpty()
    child = subprocess.Popen(
        [sys.executable, "-c", "from adapters.cli import main; main()", "demo"], cwd=ROOT,
        env={**environment, "TERM": "xterm"}, stdin=slave, stdout=slave, stderr=slave, start_new_session=True,
        preexec_fn=lambda: __import__("fcntl").ioctl(0, __import__("termios").TIOCSCTTY, 0),
    )
    os.close(slave)
    printed, seen = b"", 0
    for pattern, keys in steps:
        while (found := re.compile(pattern, re.DOTALL).search(printed, seen)) is None:
            printed += some_of(master)
        seen = found.end()
        os.write(master, keys)
    with contextlib.suppress(EOFError):
        while True:
            printed += some_of(master)
    os.close(master)
    return child.wait(30), printed.decode(errors="replace")


def some_of(master: int) -> bytes:
    """What is printed next. Raises EOFError at the end, and fails where nothing comes."""
    assert select.select([master], [], [], 60)[0], "nothing is printed"
    try:
        some = os.read(master, 4096)
    except OSError:
        some = b""
    if not some:
        raise EOFError
    return some
