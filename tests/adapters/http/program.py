"""A real `sprung` process: `serve` on a port of its own, and the other commands on the same database.

Nothing here is a test.
"""
from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import ClassVar

ROOT = Path(__file__).parents[3]
MAIN = "from adapters.cli import main; main(prog_name='sprung')"
READY = "Serving on "


def environment(path: Path) -> dict[str, str]:
    """Variables for a program on that database: nothing of the machine's own settings."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("SPRUNG_")}
    return {**kept, "SPRUNG_DB": str(path), "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "HOME": str(path.parent)}


def command(path: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """One command, to its end."""
    return subprocess.run(
        [sys.executable, "-c", MAIN, *words], env=environment(path), cwd=path.parent, capture_output=True, text=True,
        timeout=60, check=False,
    )


class Program:
    """A running `sprung serve`. What a test that fails leaves running is ended by `conftest.py`."""

    running: ClassVar[list[subprocess.Popen[str]]] = []

    def __init__(self, path: Path, *words: str, start: str = MAIN, env: dict[str, str] | None = None) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", start, "serve", "--port", "0", *words], stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True, env={**environment(path), **(env or {})}, cwd=path.parent,
        )
        self.running.append(self.process)
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line.startswith(READY), self.process.communicate()
        self.base = line.removeprefix(READY).split()[0]
        self.port = int(self.base.rpartition(":")[2])

    def stop(self, how: signal.Signals = signal.SIGTERM) -> tuple[int, str]:
        """Ask it to end; its exit code and what it said on the error output."""
        self.process.send_signal(how)
        _, said = self.process.communicate(timeout=30)
        return self.process.returncode, said
