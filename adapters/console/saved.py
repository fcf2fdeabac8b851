"""Files of messages, where a terminal can show none: saved in a folder that is there until one leaves."""
from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from adapters.channel import Rendered
from adapters.files.fetch import GONE, fetch
from adapters.files.kinds import Unmade
from adapters.service import Service
from bot.step import Said


class Saved:
    """The folder, made when the first file comes. It is for its owner alone, and gone in the end."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._folder: TemporaryDirectory[str] | None = None

    async def save(self, said: Said, message: Rendered) -> list[str]:
        """A sentence for each file of a message: where it is, or that it is not there."""
        return [await self._one(said, one.place, one.form.name) for one in message.files]

    async def _one(self, said: Said, place: int, name: str) -> str:
        now, whose = self._service.clock.now(), (said.club, said.person)
        try:
            file = await fetch(self._service.store, now, said.secret, place, name, whose)
        except Unmade as why:
            return str(why)
        if file is None:
            return GONE
        if self._folder is None:
            self._folder = TemporaryDirectory(prefix="sprung-")
        path = Path(self._folder.name) / f"{said.seq}-{file.name}"
        path.write_bytes(file.body)
        return f"Saved until you leave: {path}"

    def close(self) -> None:
        """Take the folder away."""
        if self._folder is not None:
            self._folder.cleanup()
