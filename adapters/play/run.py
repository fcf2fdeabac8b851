"""Playing script files, each on a store of its own, and saying how it went."""
from __future__ import annotations

import sys
import tempfile
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from secrets import token_hex

from adapters.play.accept import accepted
from adapters.play.parse import read_script
from adapters.play.player import Player
from adapters.play.printed import Printed
from adapters.play.result import Played
from adapters.play.script import Script, ScriptErrors
from bot.port import Store

Open = Callable[[str], Store]


class Stores:
    """Where scripts play: `memory:` and `sqlite:` are a fresh store for each, anything else is a real one."""

    def __init__(self, where: str, open_store: Open) -> None:
        self._where = where
        self._open = open_store
        self.real = where not in ("memory:", "sqlite:")

    @asynccontextmanager
    async def url(self) -> AsyncIterator[str]:
        """The URL of the store for one script."""
        if self._where != "sqlite:":
            yield self._where
            return
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
            yield f"sqlite:///{Path(folder) / 'play.sqlite'}"

    def open(self, url: str) -> Store:
        """Open it."""
        return self._open(url)

    async def restart(self, url: str, store: Store) -> Store:
        """Let a store go and open it again. One that is kept in memory alone knows how to start on its data."""
        again = getattr(store, "restarted", None)
        await store.close()
        return again() if again else self._open(url)


async def play_all(scripts: Sequence[Path], stores: Stores, *, quiet: bool, accept: bool) -> bool:
    """Play the scripts one after another; says whether all was as they say. Raises ScriptErrors before any plays."""
    read = _read(scripts)
    wrong = 0
    for script in read:
        played, same = await _play(script, stores, quiet=quiet or accept)
        if accept and not played.ok:
            wrong += not _accept(played, same)
        elif not played.ok:
            wrong += 1
        elif not quiet:
            sys.stdout.write(f"\n{script.path}: all as it says.\n")
    if len(read) > 1 or wrong:
        sys.stdout.write(f"\n{len(read) - wrong} of {len(read)} scripts came as they say.\n")
    return not wrong


def _read(paths: Sequence[Path]) -> list[Script]:
    """The scripts. Raises ScriptErrors with the faults of all of them."""
    read, wrong = [], []
    for path in paths:
        try:
            read.append(read_script(path))
        except ScriptErrors as errors:
            wrong.append(errors)
    if wrong:
        raise ScriptErrors.together(wrong)
    return read


async def _play(script: Script, stores: Stores, *, quiet: bool) -> tuple[Played, Callable[[str], str]]:
    # On a real store an id may have been used by an earlier run of the same script.
    run = token_hex(4) if stores.real else "play"
    async with stores.url() as url:
        player = Player(
            script, stores.open(url), lambda store: stores.restart(url, store),
            Printed(sys.stdout, str(script.path), quiet=quiet), run=run,
        )
        try:
            return await player.play(), player.same
        finally:
            await player.store.close()


def _accept(played: Played, same: Callable[[str], str]) -> bool:
    """Write what came into the script; not where it could not be played to its end."""
    path = played.script.path
    if played.stopped:
        sys.stdout.write(f"{path}: not accepted, as it could not be played to its end.\n")
        return False
    text = accepted(played, same)
    ends = "\r\n" if b"\r\n" in path.read_bytes() else "\n"
    path.write_text(text, encoding="utf-8", newline=ends)
    sys.stdout.write(f"{path}: accepted; read the difference.\n")
    return True
