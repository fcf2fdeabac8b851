"""Halls and scripts of people who knew the formats and not the program."""
from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from adapters.play.run import play_all
from tests.postgres import KINDS, FreshStores

SCRIPTS = sorted((Path(__file__).parent / "elsewhere").glob("*.talk"))


@pytest.mark.parametrize("store", KINDS)
@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_a_strangers_script_plays(script: Path, store: str, capsys: pytest.CaptureFixture[str]) -> None:
    """What somebody wrote from the formats alone comes as it says, on every store."""
    fits = asyncio.run(play_all([script], FreshStores(f"{store}:"), quiet=True, accept=False))
    assert fits, capsys.readouterr().out
