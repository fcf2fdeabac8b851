"""A disk that forgets what nobody asked it to keep, as a disk does when the light goes out. Nothing here is a test.

A file system in user space (FUSE) over a folder: what is written stays in memory and reaches the folder by fsync. When
the light goes out (`SIGUSR1`) a part of what was not synced is written all the same, block by block, in no order, and
the rest is gone: a disk may write what it likes early. While `SIGUSR2` has been sent an odd number of times every fsync
fails. Run as a program: `lossy.py FOLDER MOUNTPOINT SEED`, by root.
"""
from __future__ import annotations

import errno
import os
import random
import signal
import sys
from contextlib import suppress
from typing import Any

import mfusepy as fuse

BLOCK = 4096
WRITTEN_EARLY = 0.3     # so many of the blocks that nobody synced are on the disk all the same


class Lossy(fuse.Operations):       # type: ignore[misc]
    """The file system. One thread."""

    use_ns = True

    def __init__(self, root: str, chance: random.Random) -> None:
        self._root, self._chance = root, chance
        self._unsynced: dict[str, bytearray] = {}       # path → the file as it is for whoever is there
        self._fails = False
        signal.signal(signal.SIGUSR1, self._light_out)
        signal.signal(signal.SIGUSR2, self._fail)

    def _light_out(self, *_: object) -> None:
        for path, now in self._unsynced.items():
            with suppress(FileNotFoundError), open(self._at(path), "r+b") as file:
                before = file.read()
                for start in range(0, len(now), BLOCK):
                    block = now[start:start + BLOCK]
                    if block != before[start:start + BLOCK] and self._chance.random() < WRITTEN_EARLY:
                        file.seek(start)
                        file.write(block)
        os._exit(0)

    def _fail(self, *_: object) -> None:
        self._fails = not self._fails

    def _at(self, path: str) -> str:
        return self._root + path

    def _file(self, path: str) -> bytearray:
        if path not in self._unsynced:
            with open(self._at(path), "rb") as file:
                self._unsynced[path] = bytearray(file.read())
        return self._unsynced[path]

    # --- what FUSE asks ---

    def getattr(self, path: str, fh: int | None = None) -> dict[str, Any]:
        found = os.lstat(self._at(path))
        about = {key: getattr(found, key) for key in ("st_mode", "st_nlink", "st_uid", "st_gid", "st_size")}
        if path in self._unsynced:
            about["st_size"] = len(self._unsynced[path])
        return about

    def readdir(self, path: str, fh: int) -> list[str]:
        return [".", "..", *os.listdir(self._at(path))]

    def create(self, path: str, mode: int, fi: object = None) -> int:
        os.close(os.open(self._at(path), os.O_CREAT | os.O_RDWR, mode))
        return 0

    def open(self, path: str, flags: int) -> int:
        os.stat(self._at(path))
        return 0

    def read(self, path: str, size: int, offset: int, fh: int) -> bytes:
        return bytes(self._file(path)[offset:offset + size])

    def write(self, path: str, data: bytes, offset: int, fh: int) -> int:
        file = self._file(path)
        file.extend(bytes(max(0, offset - len(file))))
        file[offset:offset + len(data)] = data
        return len(data)

    def truncate(self, path: str, length: int, fh: int | None = None) -> int:
        file = self._file(path)
        del file[length:]
        file.extend(bytes(length - len(file)))
        return 0

    def fsync(self, path: str, datasync: int, fh: int) -> int:
        if self._fails:
            raise fuse.FuseOSError(errno.EIO)
        if path in self._unsynced:
            with open(self._at(path), "r+b") as file:
                file.write(self._unsynced[path])
                file.truncate()
        return 0

    def unlink(self, path: str) -> int:
        self._unsynced.pop(path, None)
        os.unlink(self._at(path))
        return 0

    def rename(self, old: str, new: str) -> int:
        if old in self._unsynced:
            self._unsynced[new] = self._unsynced.pop(old)
        os.rename(self._at(old), self._at(new))
        return 0

    def chmod(self, path: str, mode: int) -> int:
        os.chmod(self._at(path), mode)
        return 0

    def chown(self, path: str, uid: int, gid: int) -> int:
        return 0

    def utimens(self, path: str, times: object = None) -> int:
        return 0

    def statfs(self, path: str) -> dict[str, int]:
        return {"f_bsize": BLOCK, "f_blocks": 1 << 20, "f_bavail": 1 << 20, "f_bfree": 1 << 20}

    def flush(self, path: str, fh: int) -> int:
        return 0

    def release(self, path: str, fh: int) -> int:
        return 0


if __name__ == "__main__":
    folder, mountpoint, seed = sys.argv[1:]
    fuse.FUSE(Lossy(folder, random.Random(int(seed))), mountpoint, foreground=True, nothreads=True)
