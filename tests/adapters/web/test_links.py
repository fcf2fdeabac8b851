"""Links and QR codes that lead to the page, and the command that signs out a lost phone."""
from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
import segno
from click.testing import Result

from adapters.halls import DEMO_HALL
from adapters.settings import BadSettings, address
from adapters.web.qr import BLOCKS, EDGE, link, qr
from bot.port import Phone
from storage import open_store

DB = "sqlite:///club.sqlite"
SIGNS = {block: pair for pair, block in BLOCKS.items()}


def modules(drawn: str) -> list[list[int]]:
    """The dark and light of a drawn code, without its edge."""
    rows = []
    for line in drawn.split("\n"):
        rows += [[SIGNS[block][0] for block in line], [SIGNS[block][1] for block in line]]
    size = len(rows[0])
    return [row[EDGE:size - EDGE] for row in rows[EDGE:size - EDGE]]


@pytest.mark.parametrize("text", ["http://127.0.0.1:8080", "https://hall.example/#join=7M4QX2KD9P", "x" * 200])
def test_what_is_drawn_is_the_code(text: str) -> None:
    """The half blocks are the modules of the code, with a light edge around them."""
    assert modules(qr(text)) == [list(row) for row in segno.make(text, error="m", micro=False).matrix]


def test_a_link_keeps_its_code_to_itself() -> None:
    """The code stands behind the #, where no server sees it."""
    assert link("https://hall.example/", "7M4Q") == "https://hall.example/#join=7M4Q"


@pytest.mark.parametrize("wrong", ["hall.example", "ftp://hall.example", "https://", "https://hall.example/app"])
def test_an_address_is_one_of_a_page(wrong: str) -> None:
    """A setting that leads nowhere is refused with the setting named."""
    with pytest.raises(BadSettings, match="address"):
        address({"SPRUNG_ADDRESS": wrong}, Path())


def test_an_invitation_is_a_link_too(run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it is known where the page is, an invitation says so; the code alone stays on the first line."""
    run("hall", DEMO_HALL, "--db", DB)
    monkeypatch.setenv("SPRUNG_ADDRESS", "https://hall.example")
    said = run("invite", "jo", "--db", DB)
    code = said.stdout.splitlines()[0]
    assert re.fullmatch(r"[0-9A-Z]{10}", code)
    assert f"https://hall.example/#join={code}" in said.stderr


def test_a_lost_phone_is_signed_out(run: Callable[..., Result]) -> None:
    """The phones of somebody are listed, and one or all of them are signed out."""
    run("hall", DEMO_HALL, "--db", DB)
    assert run("phones", "jo", "--db", DB).stdout == "Jo Marsh is signed in on no phone.\n"

    async def keep() -> None:
        store = open_store(DB)
        for n in range(3):
            since = datetime(2026, 11, 24, 17, n, tzinfo=UTC)
            await store.keep_phone(Phone(f"digest-{n}", f"p{n}", "harbour-lane-hall", "jo", since))
        await store.close()

    asyncio.run(keep())
    assert run("phones", "jo", "--db", DB).stdout.splitlines()[0] == "p0  since 2026-11-24 17:00"
    assert run("phones", "jo", "--end", "p1", "--db", DB).stdout == "1 phone of Jo Marsh signed out.\n"
    assert "no phone p1" in run("phones", "jo", "--end", "p1", "--db", DB).output
    assert run("phones", "jo", "--end", "all", "--db", DB).stdout == "2 phones of Jo Marsh signed out.\n"
