"""From the text of a script to its moves, or to everything in it that can't be read.

Scripts are written by many hands: signs that an editor changes, tabs, blanks and remarks don't matter.
"""
from __future__ import annotations

import re
from pathlib import Path

from adapters.play.margin import NAME, Unreadable, action, begins, speech
from adapters.play.script import (
    Action,
    Anything,
    At,
    Expect,
    Expected,
    Fault,
    Item,
    LoadHall,
    Move,
    MoveClock,
    Nobody,
    Prose,
    Script,
    ScriptErrors,
    Speak,
)

_HEARS = re.compile(rf"(?:(?P<to>{NAME})\s*)?<\s*(?P<text>.*)$")
_CHOICES = re.compile(r"(?:\[[^\[\]]+\]\s*)+(?:#.*)?$")
_ANYTHING = re.compile(r"(?:\.{3,}|…)(?:\s+#.*)?$")


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
    source = tuple(re.split(r"\r\n|\r|\n", text.removesuffix("\n")))
    lines = [line.expandtabs(4).rstrip() for line in source]
    margin = min((len(line) - len(line.lstrip()) for line in lines if line), default=0)
    reader = _Reader()
    faults: list[Fault] = []
    for at, line in enumerate(lines, 1):
        try:
            reader.read(at, line[margin:])
        except (Unreadable, ValueError) as wrong:
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
        bare, indented = line.strip(), line[:1].isspace()
        if not bare:
            return
        if bare.startswith("#"):
            if not indented:
                self.moves.append(Move(at, Prose(bare.lstrip("# ")), at))
        elif _comes_back(bare) or (indented and not begins(bare)):
            self._answer(at, bare)
        else:
            begun, self._clock = self._clock, self._clock or bare.split()[0].lower() == "clock"
            self._add(at, speech(bare) or action(bare), begun)

    def _add(self, at: int, action: Action, begun: bool) -> None:
        if isinstance(action, MoveClock):
            if not begun and not (isinstance(action.to, At) and action.to.day):
                raise Unreadable("the first clock line says a date and a time, as in: clock 2026-11-24 16:58")
        elif not begun and not isinstance(action, LoadHall):
            raise Unreadable("nothing happens before the first clock line, as in: clock 2026-11-24 16:58")
        self.moves.append(Move(at, action, at))

    def _answer(self, at: int, bare: str) -> None:
        """What comes back for the move above, or more of what was said there."""
        index = next((n for n in range(len(self.moves) - 1, -1, -1) if not _is_prose(self.moves[n])), None)
        if index is None:
            raise Unreadable("an indented line says what comes back, and nothing was done yet")
        move = self.moves[index]
        if isinstance(move.action, Expect | Nobody):
            raise Unreadable("nothing comes back here; an indented line belongs below what was done")
        more = bare[1:].removeprefix(" ")
        self.moves[index] = _continued(move, at, more) if bare[0] == "|" else _with(move, at, bare)


def _comes_back(bare: str) -> bool:
    """Does the line look like what comes back, wherever it stands?"""
    return bare[0] in "<|[" or bool(_ANYTHING.match(bare) or _HEARS.match(bare))


def _is_prose(move: Move) -> bool:
    return isinstance(move.action, Prose)


# --- what comes back -------------------------------------------------------------------------------

def _with(move: Move, at: int, bare: str) -> Move:
    if _ANYTHING.match(bare):
        return _plus(move, Anything((at,)))
    if bare.startswith("["):
        return _chosen(move, at, bare)
    found = _HEARS.match(bare)
    if found is None:
        raise Unreadable(
            "an indented line is `< text`, `NAME < text`, `| more text`, `[A choice] [Another]`, or `...` alone"
        )
    return _plus(move, Expected((at,), found["to"], found["text"].strip()))


def _plus(move: Move, item: Item) -> Move:
    return Move(move.at, move.action, move.last, (*move.items, item))


def _chosen(move: Move, at: int, bare: str) -> Move:
    above = move.items[-1] if move.items else None
    if not isinstance(above, Expected):
        raise Unreadable("choices stand below the message that has them")
    if not _CHOICES.match(bare):
        raise Unreadable("a line of choices has nothing but choices in square brackets, as in: [All seen] [None yet]")
    labels = tuple(label.strip() for label in re.findall(r"\[([^\[\]]+)\]", re.sub(r"\]\s*#.*$", "]", bare)))
    item = Expected(above.lines, above.to, above.text, (above.choices or ()) + labels, (*above.choice_lines, at))
    return Move(move.at, move.action, move.last, (*move.items[:-1], item))


def _continued(move: Move, at: int, text: str) -> Move:
    """`| text`: one more line of the message above, which may be what was said."""
    above = move.items[-1] if move.items else None
    if above is None and isinstance(move.action, Speak) and move.action.text is not None:
        said = move.action
        return Move(move.at, Speak(said.who, f"{said.text}\n{text}", sent=said.sent), at)
    if not isinstance(above, Expected) or above.choices is not None:
        raise Unreadable("`|` goes on with the text of a message, and there is none on the line above")
    item = Expected((*above.lines, at), above.to, f"{above.text}\n{text.strip()}")
    return Move(move.at, move.action, move.last, (*move.items[:-1], item))
