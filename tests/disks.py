"""Disks on which a database can get into trouble: a small one that fills up, and one that forgets what was not synced.

Nothing here is a test.
"""
from __future__ import annotations

import ctypes.util
import importlib.util
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tests.postgres import missing

BLOCK = 4096


class SmallDisk:
    """A disk of its own, of so many bytes, in memory."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._ballast = folder / "ballast"

    def fill(self, but: int = 0) -> None:
        """Fill it, but for so many blocks."""
        with self._ballast.open("ab", buffering=0) as ballast:
            try:
                while True:
                    ballast.write(b"\0" * BLOCK)
            except OSError:
                pass
            ballast.truncate(max(0, ballast.tell() - but * BLOCK))

    def free(self) -> None:
        """Somebody makes room."""
        self._ballast.unlink()


@contextmanager
def small_disk(folder: Path, size: int) -> Iterator[SmallDisk]:
    """A disk of so many bytes at that folder. Skips the test, or fails it, where none can be mounted."""
    folder.mkdir()
    if os.geteuid() != 0:
        missing("only root can mount a small disk")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", folder], capture_output=True, text=True, check=False,
    )
    if mounted.returncode != 0:
        missing(f"no small disk can be mounted here: {mounted.stderr.strip()}")
    try:
        yield SmallDisk(folder)
    finally:
        subprocess.run(["umount", "-l", folder], check=True)


class LossyDisk:
    """A disk at a folder, of which only what was synced outlives the light (`tests/lossy.py`)."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._kept = folder.with_name(f"{folder.name}-kept")
        for one in (self.folder, self._kept):
            one.mkdir()
        self._cuts = 0
        self._mount()

    def _mount(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, str(Path(__file__).with_name("lossy.py")), self._kept, self.folder, str(self._cuts)],
        )
        until = time.monotonic() + 20
        while not os.path.ismount(self.folder):
            assert self._process.poll() is None, "no file system in user space can be mounted"
            assert time.monotonic() < until, "it never came"
            time.sleep(0.01)

    def light_out(self) -> None:
        """The power is cut, and comes back: what was never synced is gone, or a part of it."""
        self._end(signal.SIGUSR1)
        self._cuts += 1
        self._mount()

    def fail(self) -> None:
        """From now on nothing can be synced; again: it can."""
        self._tell(signal.SIGUSR2)

    def close(self) -> None:
        """Away with it."""
        self._end(signal.SIGKILL)

    def _tell(self, how: signal.Signals) -> None:
        self._process.send_signal(how)
        with suppress(OSError):     # it hears once it is asked for something
            os.stat(self.folder / f"told-{time.monotonic_ns()}")

    def _end(self, how: signal.Signals) -> None:
        self._tell(how)
        self._process.wait(20)
        subprocess.run(["umount", "-l", self.folder], check=True)


@contextmanager
def lossy_disk(folder: Path) -> Iterator[LossyDisk]:
    """A disk that forgets what was not synced. Skips the test, or fails it, where there can be none."""
    if os.geteuid() != 0 or not Path("/dev/fuse").exists():
        missing("only root can mount a file system of its own, and only where there is /dev/fuse")
    if importlib.util.find_spec("mfusepy") is None or ctypes.util.find_library("fuse") is None:
        missing("mfusepy (pip) or libfuse2 (apt) is not installed")
    made = LossyDisk(folder)
    try:
        yield made
    finally:
        made.close()
