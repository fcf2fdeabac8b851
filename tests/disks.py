"""Disks on which a database can get into trouble: a small one that fills up.

Nothing here is a test.
"""
from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
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
