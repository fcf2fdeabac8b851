"""A played script in print, as a talk: who said what to whom, and when."""
from __future__ import annotations

from datetime import datetime
from typing import TextIO

from adapters.console.layout import clean
from adapters.play.match import Came
from adapters.play.result import Wrong

COLUMN = 16         # where the words begin


class Printed:
    """Writes the talk as it goes. With `quiet` only what is wrong."""

    def __init__(self, out: TextIO, path: str, *, quiet: bool = False) -> None:
        self._out = out
        self._path = path
        self._quiet = quiet

    def prose(self, text: str) -> None:
        """A comment of the script."""
        self._line(f"# {text}" if text else "")

    def time(self, now: datetime) -> None:
        """A clock line."""
        seconds = ":%S" if now.second else ""
        self._line("")
        self._line(now.strftime(f"-- %A %d %B %Y, %H:%M{seconds} --").replace(" 0", " "))

    def note(self, text: str) -> None:
        """Something that was done to the program or to a phone."""
        self._line(f"   ({clean(text)})")

    def said(self, now: datetime, who: str, words: str) -> None:
        """Somebody sent a text or tapped a choice."""
        self._line("")
        self._talk(f"{now:%H:%M}  {who}", ">", words.split("\n"))

    def came(self, now: datetime, came: Came) -> None:
        """A message came back."""
        rows = came.said.text.split("\n")
        if came.labels:
            rows.append(" ".join(f"[{label}]" for label in came.labels))
        self._talk(f"{now:%H:%M}  {came.to}", "<", rows)

    def wrong(self, wrong: Wrong) -> None:
        """Something is not as the script says."""
        self._write("")
        self._write(f"{self._path}:{wrong.at}: {wrong.says}")
        for row in wrong.diff:
            self._write(f"  {row}")

    def _talk(self, head: str, sign: str, rows: list[str]) -> None:
        for n, row in enumerate(rows):
            lead = f"{head:<{COLUMN - 2}} {sign}" if n == 0 else " " * COLUMN
            self._line(f"{lead} {clean(row)}")

    def _line(self, text: str) -> None:
        if not self._quiet:
            self._write(text)

    def _write(self, text: str) -> None:
        self._out.write(text.rstrip() + "\n")
