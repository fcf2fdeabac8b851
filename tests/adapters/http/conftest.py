"""The API with the real dialogue, and with one that only echoes; both on a real SQLite file with the demo hall."""
from __future__ import annotations

import asyncio
import shutil
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path

import pytest
import pytest_asyncio

from adapters.clock import Clock
from adapters.service import Service
from bot.port import Store
from tests.adapters.http.api import Api, Gateway, fill
from tests.adapters.http.program import Program


@pytest.fixture(scope="session")
def hall_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with the demo hall, made once."""
    path = tmp_path_factory.mktemp("hall") / "hall.sqlite"
    asyncio.run(fill(path))
    return path


@pytest.fixture(autouse=True)
def no_program_is_left() -> Iterator[None]:
    """Whatever became of a test, no program that it started goes on."""
    yield
    while Program.running:
        process = Program.running.pop()
        process.kill()
        process.wait()


@pytest.fixture
def filled(hall_file: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return Path(shutil.copy(hall_file, tmp_path / "club.sqlite"))


@pytest_asyncio.fixture()
async def api(filled: Path) -> AsyncIterator[Api]:
    """The API with the real dialogue."""
    running = Api(filled)
    await running.start()
    yield running
    await running.stop()
    await running.session.close()


@pytest_asyncio.fixture()
async def gate(api: Api) -> Gateway:
    """A gateway of it."""
    return await api.gateway()


@pytest_asyncio.fixture()
async def echo(filled: Path, make_service: Callable[[Store, Clock], Service]) -> AsyncIterator[Api]:
    """The API with a dialogue that only echoes; `later 60 sam` says something to sam after a minute."""
    running = Api(filled, make_service)
    await running.start()
    yield running
    await running.stop()
    await running.session.close()
