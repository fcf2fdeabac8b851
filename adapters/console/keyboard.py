"""The keyboard: lines from a terminal or a pipe, read in a thread so that time goes on at the prompt."""
from __future__ import annotations

import asyncio
import contextlib
import sys
from collections.abc import Iterator
from queue import SimpleQueue
from threading import Thread
from types import ModuleType
from typing import TextIO


class Keyboard:
    """Reads a line at a time, and only when asked for one."""

    def __init__(self, source: TextIO, prompt: str = "> ") -> None:
        self._source = source
        self._prompt = prompt
        self.tty = source.isatty() and sys.stdout.isatty()
        self._readline = _line_editing() if self.tty else None
        self._asked: SimpleQueue[asyncio.Future[str | None]] = SimpleQueue()
        self._thread: Thread | None = None
        self.waiting = False

    async def read(self) -> str | None:
        """The next line, or None when there are no more."""
        if self._thread is None:
            # A daemon: a thread that stands in a read can't be asked to go.
            self._thread = Thread(target=self._work, args=(asyncio.get_running_loop(),), daemon=True)
            self._thread.start()
        asked: asyncio.Future[str | None] = asyncio.get_running_loop().create_future()
        self._asked.put(asked)
        self.waiting = True
        try:
            return await asked
        finally:
            self.waiting = False

    @property
    def so_far(self) -> str:
        """The prompt and what was typed behind it so far."""
        return self._prompt + (self._readline.get_line_buffer() if self._readline else "")

    def _work(self, loop: asyncio.AbstractEventLoop) -> None:
        while True:
            asked = self._asked.get()
            line = self._line()
            with contextlib.suppress(RuntimeError):     # the loop is gone: nobody waits any more
                loop.call_soon_threadsafe(_answer, asked, line)
            if line is None:
                return

    def _line(self) -> str | None:
        try:
            if self.tty:
                return input(self._prompt)
            line = self._source.readline()
        except (EOFError, OSError, ValueError):
            return None
        return line.rstrip("\r\n") if line else None


def _answer(asked: asyncio.Future[str | None], line: str | None) -> None:
    if not asked.done():
        asked.set_result(line)


def _line_editing() -> ModuleType | None:
    """The library that edits lines and remembers them while the program runs; some systems have none."""
    try:
        import readline
    except ImportError:
        return None
    return readline


@contextlib.contextmanager
def terminal_kept(source: TextIO) -> Iterator[None]:
    """Puts the terminal back as it was, for a line that was left half typed."""
    try:
        import termios
    except ImportError:
        yield
        return
    try:
        before = termios.tcgetattr(source.fileno())
    except (termios.error, OSError, ValueError):
        yield
        return
    try:
        yield
    finally:
        termios.tcsetattr(source.fileno(), termios.TCSADRAIN, before)
