"""From the text of a script to its moves, or to everything in it that can't be read."""
from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from adapters.clock import span_of, wall_time
from adapters.play.script import (
    Action,
    Again,
    Anything,
    At,
    Expect,
    Expected,
    Fault,
    Invite,
    Item,
    Later,
    LoadHall,
    Moment,
    Move,
    MoveClock,
    Nobody,
    Prose,
    Reach,
    Restart,
    Script,
    ScriptErrors,
    Speak,
)

SKILL_STANDINGS = ("untried", "owed", "resting", "ready", "ticked", "retest")
AWARD_STANDINGS = ("working", "earned", "ordered", "arrived", "presented")

_NAME = r"[^\W_][\w.'-]*"
_SPEAKS = re.compile(rf"(?P<who>{_NAME})(?:\s+\(sent\s+(?P<sent>[^)]*)\))?\s*:(?:\s+(?P<text>.*))?$")
_TAP = re.compile(r"\[(?P<label>[^\[\]]+)\](?:\s*@\s*-(?P<back>\d{1,4}))?$")
_HEARS = re.compile(rf"(?:(?P<to>{_NAME})\s*)?<\s*(?P<text>.*)$")
_CHOICES = re.compile(r"(?:\[[^\[\]]+\]\s*)+$")
_EXPECT = re.compile(r"(?P<child>.+?)\s+/\s+(?P<award>award\s+)?(?P<what>.+?)\s*:\s*(?P<standing>\S.*)$")
_INVITED = rf'(?:--parent\s+(?:"(?P<child>[^"]+)"|(?P<bare>\S+))|(?P<person>{_NAME}))'
_INVITE = re.compile(rf"{_INVITED}\s+as\s+(?P<name>{_NAME})$")


class _Unreadable(Exception):
    """This line can't be read; the text says why and what would do."""


def read_script(path: Path) -> Script:
    """The script in a file. Raises ScriptErrors with every fault that it has."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise ScriptErrors(path, (Fault(1, "this file is not in UTF-8; save it again with that encoding"),)) from None
    except OSError as error:
        raise ScriptErrors(path, (Fault(1, f"this file cannot be read: {error.strerror}"),)) from None
    return parse(path, text)


def parse(path: Path, text: str) -> Script:
    """The script that a text is. Raises ScriptErrors with every fault that it has."""
    source = tuple(text.splitlines())
    reader = _Reader()
    faults: list[Fault] = []
    for at, line in enumerate(source, 1):
        try:
            reader.read(at, line.expandtabs(4).rstrip())
        except (_Unreadable, ValueError) as wrong:
            faults.append(Fault(at, str(wrong)))
    if faults:
        raise ScriptErrors(path, tuple(faults))
    return Script(path, source, tuple(reader.moves))


class _Reader:
    """Reads line by line; knows what the line above was."""

    def __init__(self) -> None:
        self.moves: list[Move] = []
        self._clock = False             # was there a clock line yet, readable or not?

    def read(self, at: int, line: str) -> None:
        bare = line.strip()
        if not bare:
            return
        if bare.startswith("#"):
            if not line.startswith(" "):
                self.moves.append(Move(at, Prose(bare.lstrip("# ")), at))
        elif line.startswith(" "):
            if bare == "nobody hears anything":
                self._add(at, Nobody())
            else:
                self._answer(at, bare)
        else:
            begun, self._clock = self._clock, self._clock or bare.split()[0] == "clock"
            self._add(at, _action(line), begun)

    def _add(self, at: int, action: Action, begun: bool = True) -> None:
        if isinstance(action, MoveClock):
            if not begun and not (isinstance(action.to, At) and action.to.day):
                raise _Unreadable("the first clock line says a date and a time, as in: clock 2026-11-24 16:58")
        elif not begun and not isinstance(action, LoadHall):
            raise _Unreadable("nothing happens before the first clock line, as in: clock 2026-11-24 16:58")
        self.moves.append(Move(at, action, at))

    def _answer(self, at: int, bare: str) -> None:
        """An indented line: part of what comes back for the move above, or of what was said there."""
        index = next((n for n in range(len(self.moves) - 1, -1, -1) if not _is_prose(self.moves[n])), None)
        if index is None:
            raise _Unreadable("an indented line says what comes back, and nothing was done yet")
        move = self.moves[index]
        if isinstance(move.action, Expect | Nobody):
            raise _Unreadable("nothing comes back here; an indented line belongs below what was done")
        more = bare[1:].removeprefix(" ")
        self.moves[index] = _continued(move, at, more) if bare[0] == "|" else _with(move, at, bare)


def _is_prose(move: Move) -> bool:
    return isinstance(move.action, Prose)


# --- indented lines --------------------------------------------------------------------------------

def _with(move: Move, at: int, bare: str) -> Move:
    if bare == "...":
        return _plus(move, Anything((at,)))
    if bare.startswith("["):
        return _chosen(move, at, bare)
    found = _HEARS.match(bare)
    if found is None:
        raise _Unreadable(
            "an indented line is `< text`, `NAME < text`, `| more text`, `[A choice] [Another]`, or `...` alone"
        )
    return _plus(move, Expected((at,), found["to"], found["text"].strip()))


def _plus(move: Move, item: Item) -> Move:
    return Move(move.at, move.action, move.last, (*move.items, item))


def _chosen(move: Move, at: int, bare: str) -> Move:
    above = move.items[-1] if move.items else None
    if not isinstance(above, Expected):
        raise _Unreadable("choices stand below the message that has them")
    if not _CHOICES.match(bare):
        raise _Unreadable("a line of choices has nothing but choices in square brackets, as in: [All seen] [None yet]")
    labels = tuple(label.strip() for label in re.findall(r"\[([^\[\]]+)\]", bare))
    item = Expected(above.lines, above.to, above.text, (above.choices or ()) + labels, (*above.choice_lines, at))
    return Move(move.at, move.action, move.last, (*move.items[:-1], item))


def _continued(move: Move, at: int, text: str) -> Move:
    """`| text`: one more line of the message above, which may be what was said."""
    above = move.items[-1] if move.items else None
    if above is None and isinstance(move.action, Speak) and move.action.text is not None:
        said = move.action
        return Move(move.at, Speak(said.who, f"{said.text}\n{text}", sent=said.sent), at)
    if not isinstance(above, Expected) or above.choices is not None:
        raise _Unreadable("`|` goes on with the text of a message, and there is none on the line above")
    item = Expected((*above.lines, at), above.to, f"{above.text}\n{text.strip()}")
    return Move(move.at, move.action, move.last, (*move.items[:-1], item))


# --- lines at the margin ---------------------------------------------------------------------------

def _action(line: str) -> Action:
    spoken = _SPEAKS.match(line)
    if spoken is not None:
        return _speech(spoken)
    line = re.sub(r"\s+#.*$", "", line)
    word, _, rest = line.partition(" ")
    reader = _READERS.get(word)
    if reader is None:
        raise _Unreadable(
            f'"{word}" begins no line of a script: PERSON: text, hall, clock, again, offline, online, restart, '
            "invite, expect, nobody hears anything"
        )
    return reader(rest.strip())


def _speech(found: re.Match[str]) -> Speak:
    text = (found["text"] or "").strip()
    sent = None if found["sent"] is None else _at(found["sent"])
    tap = _TAP.match(text)
    if tap is not None:
        return Speak(found["who"], label=tap["label"].strip(), back=int(tap["back"] or 0), sent=sent)
    if text.startswith("["):
        raise _Unreadable("a tap is one choice, as in: jo: [All seen], or jo: [All seen] @ -2")
    return Speak(found["who"], text, sent=sent)


def _at(text: str) -> At:
    day, _, clock = text.strip().rpartition(" ")
    if day and not re.fullmatch(r"\d{4}-\d\d-\d\d", day.strip()):
        raise _Unreadable(f'"{text}" is not a time, as in 17:04 or 2026-11-24 17:04')
    return At(wall_time(clock), day.strip() or None)


def _moment(text: str) -> Moment:
    if not text.startswith("+"):
        return _at(text)
    span = span_of(text[1:].replace("+", ""))
    if span is None:
        raise _Unreadable(f'"{text}" is not a span of time, as in +46s, +10m, +2h or +7d')
    days = sum(int(number) for number in re.findall(r"(\d+)\s*d", text))
    return Later(span - timedelta(days=days), days)


def _clock(rest: str) -> Action:
    return MoveClock(_moment(rest), rest)


def _hall(rest: str) -> Action:
    if not rest:
        raise _Unreadable("which hall? A folder beside the script or in demo_conversations/, as in: hall harbour-lane")
    return LoadHall(rest)


def _invite(rest: str) -> Action:
    found = _INVITE.match(rest)
    if found is None:
        raise _Unreadable('an invitation is `invite PERSON as NAME` or `invite --parent "CHILD" as NAME`')
    return Invite(found["name"], found["person"], found["child"] or found["bare"])


def _expect(rest: str) -> Action:
    found = _EXPECT.match(rest)
    if found is None:
        raise _Unreadable("write `expect CHILD / SKILL: standing` or `expect CHILD / award AWARD: standing`")
    known = AWARD_STANDINGS if found["award"] else SKILL_STANDINGS
    if found["standing"] not in known:
        raise _Unreadable(f'"{found["standing"]}" is no standing; it is one of {", ".join(known)}')
    if found["award"]:
        return Expect(found["child"], found["standing"], award=found["what"])
    return Expect(found["child"], found["standing"], skill=found["what"])


def _reach(online: bool) -> Callable[[str], Action]:
    def read(rest: str) -> Action:
        if not re.fullmatch(_NAME, rest):
            raise _Unreadable(f"whose phone? As in: {'online' if online else 'offline'} jo")
        return Reach(rest, online)

    return read


def _nobody(rest: str) -> Action:
    if rest != "hears anything":
        raise _Unreadable("write: nobody hears anything")
    return Nobody()


def _alone(action: Action) -> Callable[[str], Action]:
    def read(rest: str) -> Action:
        if rest:
            raise _Unreadable("this word stands alone on its line")
        return action

    return read


_READERS: dict[str, Callable[[str], Action]] = {
    "hall": _hall, "clock": _clock, "invite": _invite, "expect": _expect, "nobody": _nobody,
    "again": _alone(Again()), "restart": _alone(Restart()), "offline": _reach(False), "online": _reach(True),
}
