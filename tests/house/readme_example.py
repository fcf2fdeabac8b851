"""What the program really says, for the examples of README.md. `python tests/house/readme_example.py --write`

README marks each example with a comment, `<!-- real: NAME -->`, and each file of its small hall with
`<!-- file: PATH -->`. What lives here: how an example comes about, in plain pipes, on that hall. `--write` puts
what came into README, and the drawn table of places into DEVELOPERS.md. The test compares and writes nothing.
"""
from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[2]
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
BLOCK = re.compile(r"<!-- (real|file): (\S+) -->\n```(\w+)\n(.*?)```", re.DOTALL)
DIAGRAM = re.compile(r"```mermaid\n(.*?)```", re.DOTALL)

LESSON = (
    "start", "everyone", "go", "all seen", "not gus", "hips", "wait 1m", "all seen shoulder stand",
    "all seen shoulder stand", "mia away",
    "owed ava", "close",
)
BEGUN = ("start", "everyone", "go")
CLOCK = ("--clock", "2026-11-24 16:58")

# A code, its last day and the time of day differ each time; README shows these.
CODE, UNTIL = "7M4QX2KD9P", "until Friday 9 October"
KEY, HERE = "spr_5c2e8f1a_Zb0qkQk9mW4c1hVt7uYx2sLr8nEjPd6aGfTiXoKyM3w", "http://127.0.0.1:8080"
_KEY = re.compile(r"\bspr_[0-9a-f]{8}_[\w-]{43}")
_CODE, _UNTIL = re.compile(r"\b[0-9A-Z]{10}\b"), re.compile(r"until [A-Z]\w+day \d{1,2} \w+")
_TIME = re.compile(r"^\d\d:\d\d(?=  )", re.MULTILINE)


class Room:
    """A folder with README's hall in it and a database of its own, and `sprung` to be run there."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._env = {
            **{name: value for name, value in os.environ.items() if not name.startswith("SPRUNG_")},
            "SPRUNG_DB": str(folder / "club.sqlite"), "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1",
        }
        self._env.pop("COLUMNS", None)
        for kind, name, _, text in BLOCK.findall(README.read_text("utf-8")):
            if kind == "file":
                path = folder / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, "utf-8")

    def run(self, *words: str, typed: tuple[str, ...] = ()) -> str:
        """What a command says, errors too, with nothing but pipes around it."""
        done = subprocess.run(
            [sys.executable, "-c", "from adapters.cli import main; main(prog_name='sprung')", *words],
            input="".join(f"{line}\n" for line in typed), cwd=self.folder, env=self._env, timeout=120,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8", check=False,
        )
        return done.stdout

    @contextmanager
    def serving(self, *words: str) -> Iterator[str]:
        """A command that runs until the block ends; its first line."""
        with subprocess.Popen(
            [sys.executable, "-c", "from adapters.cli import main; main(prog_name='sprung')", *words],
            cwd=self.folder, env=self._env, stdout=subprocess.PIPE, encoding="utf-8",
        ) as process:
            assert process.stdout is not None
            yield process.stdout.readline()
            process.terminate()

    def shown(self, *words: str, typed: tuple[str, ...] = ()) -> str:
        """The same, under the command as one types it."""
        quoted = (f'"{word}"' if " " in word else word for word in words)
        return f"$ sprung {' '.join(quoted)}\n{self.run(*words, typed=typed)}"


def lesson(room: Room) -> str:
    """A lesson in the demo."""
    return room.shown("demo", typed=LESSON)


def hall(room: Room) -> str:
    """The small hall is checked and loaded."""
    return room.shown("scheme", "my-club/scheme.toml") + room.shown("hall", "my-club")


def fault(room: Room) -> str:
    """A scheme with a fault."""
    path = room.folder / "my-club" / "scheme.toml"
    right = path.read_text("utf-8")
    path.write_text(right.replace('sides = "each"', 'sides = "both"'), "utf-8")
    said = room.shown("scheme", "my-club/scheme.toml")
    path.write_text(right, "utf-8")
    return said


def helper(room: Room) -> str:
    """A helper, while a line stands there."""
    room.run("hall", "my-club")
    room.run("chat", "--as", "jo", *CLOCK, typed=BEGUN)
    return room.shown("chat", "--as", "kit", *CLOCK, typed=("what now", "ava, ben shown statue"))


def invite(room: Room) -> str:
    """A code for somebody of the club, and one for a parent."""
    room.run("hall", "my-club")
    return room.shown("invite", "sam") + room.shown("invite", "--parent", "Ava Price")


def parent(room: Room) -> str:
    """A parent comes in, says yes, asks, and ends it."""
    room.run("hall", "my-club")
    code = _CODE.findall(room.run("invite", "--parent", "Ava Price"))[0]
    said = room.shown("chat", "--as", "petra", typed=(f"join {code}", "yes", "why hasn't she passed", "STOP"))
    return _TIME.sub("18:30", said)


def news(room: Room) -> str:
    """What a family hears: from the script of the tour, from the close on."""
    script = ROOT / "demo_conversations" / "25-news-for-a-family.talk"
    lines = room.run("play", str(script)).splitlines()
    begin = next(n for n, line in enumerate(lines) if line.endswith("> close"))
    end = next(n for n, line in enumerate(lines) if line.startswith("18:30"))
    return "\n".join(line for line in lines[begin:end + 1] if line and not line.startswith("--")) + "\n"


def keep(room: Room) -> str:
    """A copy, and a child who is forgotten."""
    room.run("hall", "my-club")
    return room.shown("backup", "copy.sqlite") + room.shown("forget", "Ben Okafor", "--yes")


PHONES = {"jo": "+447700900123", "sam": "+447700900124"}


def api(room: Room) -> str:
    """A gateway's session: a key, messages in by `curl`, a tap, what comes unasked, and the report on it."""
    room.run("hall", "my-club")
    codes = {person: _CODE.findall(room.run("invite", person))[0] for person in PHONES}
    made = room.shown("key", "my-sms")
    key = _KEY.findall(made)[0]
    serving = ("serve", "--clock", "2026-11-24 17:00")
    with room.serving(*serving, "--port", "0") as line:
        base = line.split()[2]
        gateway = Gateway(base, key)
        shown = [made, f'$ sprung serve --clock "{serving[2]}" &\n{line.replace(base, HERE)}', f"$ KEY={key}\n"]
        for n, person in enumerate(PHONES, 1):
            shown.append(gateway.send(f"m-{n}", person, text=f"join {codes[person]}"))
        shown.append(gateway.send("m-3", "jo", text="start"))
        shown.append(gateway.send("m-4", "jo", choice=re.findall(r'"(c_\w+)","label":"Everyone"', shown[-1])[0]))
        gateway.send("m-5", "jo", text="ava, ben seen statue")
        shown.append(gateway.curl("/v1/outbox?wait=20"))
        shown.append(gateway.curl(f"/v1/outbox/{re.findall(r'm_[0-9]+_[0-9a-f]+', shown[-1])[0]}/delivered", "-X POST"))
        shown.append(gateway.send("m-6", "jo", text="help", at="2026-11-24T17:00:00"))
    return _KEY.sub(KEY, "".join(shown))


class Gateway:
    """Speaks to the API by `curl`."""

    def __init__(self, base: str, key: str) -> None:
        self._base, self._key = base, key

    def curl(self, path: str, more: str = "") -> str:
        """One call, as one types it, and what came."""
        words = f'curl -s -H "Authorization: Bearer $KEY" {more + " " if more else ""}"{HERE}{path}"'
        done = subprocess.run(
            ["sh", "-c", words.replace(HERE, self._base)], env={**os.environ, "KEY": self._key}, capture_output=True,
            encoding="utf-8", timeout=60, check=True,
        )
        return f"$ {words}\n" + (f"{done.stdout}\n" if done.stdout else "")

    def send(self, id_: str, person: str, *, at: str = "2026-11-24T16:59:05Z", **what: str) -> str:
        """A message."""
        message = {"id": id_, "channel": "sms", "sender": PHONES[person], "sent_at": at, **what}
        return self.curl("/v1/messages", f"--json '{json.dumps(message)}'")


EXAMPLES: dict[str, Callable[[Room], str]] = {
    one.__name__: one for one in (lesson, helper, parent, news, hall, fault, invite, keep, api)
}
NEEDS = {"api": "curl"}     # what an example needs beside us


@contextmanager
def a_room() -> Iterator[Room]:
    """A room of its own for one example."""
    with tempfile.TemporaryDirectory() as folder:
        yield Room(Path(folder))


def real(name: str) -> str:
    """What comes out today, as README shows it."""
    with a_room() as room:
        said = EXAMPLES[name](room)
    if "omething went wrong" in said or "Traceback" in said:
        raise RuntimeError(f"the example {name} came upon a fault of the program, which is no example:\n{said}")
    lines = _UNTIL.sub(UNTIL, _CODE.sub(CODE, said)).splitlines()
    return "".join(f"{line.rstrip()}\n" for line in lines)


def written() -> dict[str, str]:
    """What README shows, example by example."""
    return {name: text for kind, name, _, text in BLOCK.findall(README.read_text("utf-8")) if kind == "real"}


def diagram() -> str:
    """The table of places, drawn."""
    return subprocess.run(
        [sys.executable, "-m", "bot.talk.places"], cwd=ROOT, capture_output=True, encoding="utf-8", check=True,
    ).stdout


def write() -> None:
    """Put what is true today into both files."""
    def put(block: re.Match[str]) -> str:
        kind, name, fence, _ = block.groups()
        return f"<!-- real: {name} -->\n```{fence}\n{real(name)}```" if kind == "real" else block[0]

    README.write_text(BLOCK.sub(put, README.read_text("utf-8")), "utf-8")
    if DEVELOPERS.exists():
        drawn = f"```mermaid\n{diagram()}```"
        DEVELOPERS.write_text(DIAGRAM.sub(lambda _: drawn, DEVELOPERS.read_text("utf-8")), "utf-8")


if __name__ == "__main__":
    if sys.argv[1:] == ["--write"]:
        write()
    else:
        for each in EXAMPLES:
            print(f"--- {each}\n{real(each)}")
