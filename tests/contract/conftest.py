"""The stores that keep one contract, each with a way to end the program and start it again."""
from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from storage import open_store
from storage.memory import MemoryStore
from tests.contract.club import NOW, hall
from tests.contract.kept import Kept
from tests.contract.kept import hall as small_hall
from tests.postgres import KINDS, address_of


class Running:
    """The store of a program that can be restarted; everything else is the store's."""

    def __init__(self, url: str) -> None:
        self._url = url
        self.store: Any = open_store(url)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.store, name)

    async def restart(self) -> None:
        """End the program, and start it on what it left behind."""
        store = self.store
        await store.close()
        self.store = store.restarted() if isinstance(store, MemoryStore) else open_store(self._url)


@pytest.fixture(params=KINDS)
async def bare(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[Running]:
    """A store with nothing in it."""
    with address_of(request.param, tmp_path) as url:
        running = Running(url)
        yield running
        await running.close()


@pytest.fixture
async def store(bare: Running) -> Running:
    """A store with one club of three people, each known by their id on the channel `sms`."""
    await bare.load(hall(), NOW)
    for person in ("jo", "sam", "ines"):
        await bare.meet("sms", person, "bench", person)
    return bare


@pytest.fixture(params=KINDS)
async def kept(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[Kept]:
    """A store with the talk's small club, whose people are met on the channel `bench`; it can be opened again."""
    with address_of(request.param, tmp_path) as url:
        made = Kept(url)
        await made.store.load(small_hall(), NOW)
        for person in ("jo", "sam"):
            await made.store.meet("bench", person, "bench", person)
        yield made
        await made.store.close()
