"""The screen: one phone at the left margin, the others in boxes beside it."""
from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from datetime import datetime
from typing import TextIO
from zoneinfo import ZoneInfo

from adapters.channel import Rendered
from adapters.console.layout import NARROWEST, PLAIN, ROUND, WIDEST, body, boxed, columns, stamped, wrap

DIM, BOLD, ASK = "2", "1", "36"
CLEAR_BELOW = "\r\x1b[J"


class Screen:
    """Writes what phones show. Colours only on a terminal, and not where NO_COLOR says so."""

    def __init__(self, out: TextIO, zone: ZoneInfo, env: Mapping[str, str] = os.environ) -> None:
        self._out = out
        self._zone = zone
        self.tty = out.isatty()
        self._colours = self.tty and not env.get("NO_COLOR") and env.get("TERM") != "dumb"
        self._frame = ROUND if _can_say(out, "┌─│…✓") else PLAIN
        self.width = min(max(shutil.get_terminal_size((80, 24)).columns, NARROWEST), WIDEST)

    def mine(self, at: datetime, message: Rendered) -> None:
        """A message on the phone at the left margin."""
        rows, buttons = body(message.texts, (one.label for one in message.buttons), self.width - 7)
        lines = stamped(self.clock(at), rows + buttons)
        self._write([*lines[:len(rows)], *(self._paint(ASK, line) for line in lines[len(rows):])])

    def beside(self, whose: str, at: datetime, message: Rendered) -> None:
        """A message on another phone, in a box of its own."""
        indent = self.width // 4
        width = self.width - indent
        rows, buttons = body(message.texts, (one.label for one in message.buttons), width - 11)
        box = boxed(whose, stamped(self.clock(at), rows + buttons), width, self._frame)
        for n, row in enumerate(box):
            self._write([" " * indent + self._paint(DIM if n in (0, len(box) - 1) else "", row)])

    def note(self, text: str) -> None:
        """A line of the console's own."""
        for line in text.split("\n"):
            self._write([self._paint(DIM, row) for row in wrap(line.split(), self.width) or [""]])

    def typed(self, who: str, text: str) -> None:
        """What was typed, where the terminal does not show it itself: so that a pipe reads as the whole talk."""
        self._write([f"{who}> {text}"])

    def over_the_prompt(self, prompt: str) -> None:
        """Make room where a prompt stands, with what was typed behind it, on as many rows as it takes."""
        if self.tty:
            up = (max(columns(prompt), 1) - 1) // max(shutil.get_terminal_size((80, 24)).columns, 1)
            self._out.write((f"\x1b[{up}A" if up else "") + CLEAR_BELOW)

    def prompt_again(self, prompt: str) -> None:
        """Put a prompt, with what was typed behind it, back."""
        if self.tty:
            self._out.write(prompt)
            self._out.flush()

    def clock(self, at: datetime) -> str:
        """An instant as the club's clock on the wall shows it."""
        return at.astimezone(self._zone).strftime("%H:%M")

    def _paint(self, colour: str, text: str) -> str:
        return f"\x1b[{colour}m{text}\x1b[0m" if colour and self._colours else text

    def _write(self, lines: list[str]) -> None:
        for line in lines:
            self._out.write(line.rstrip() + "\n")
        self._out.flush()


def _can_say(out: TextIO, signs: str) -> bool:
    try:
        signs.encode(out.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
