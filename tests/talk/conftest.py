"""The hall in which most talks are tried. Nothing here is a test."""
from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.postgres import KINDS, address_of
from tests.talk.hall import Hall


@pytest.fixture(params=KINDS)
def hall(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Hall]:
    """A hall with its lesson open and everyone here, on each store."""
    with address_of(request.param, tmp_path) as url:
        made = Hall(url)
        made.say("jo", "start")
        made.say("jo", "everyone")
        yield made
        made.close()
