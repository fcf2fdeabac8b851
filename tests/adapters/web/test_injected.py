"""What is sent as a name or a word stays a name or a word: in the database, on the page, in a list, in the log."""
from __future__ import annotations

import io
import logging
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio

from adapters.halls import DEMO_HALL
from adapters.http.log import AsText
from bot.people.hall import read_hall
from bot.people.roster import examine_roster
from storage import open_store
from tests.adapters.http.api import START
from tests.adapters.web.conftest import Hall, Phone, phones_in, running

IMAGE = "<img src=x onerror=alert(1)>"
DROP = "'; DROP TABLE child; --"


@pytest.mark.parametrize("word", [
    DROP, '"; DROP TABLE fact; --', "' OR '1'='1", "%' OR 1=1 --", "\\'; --", "{}%s:club",
])
async def test_no_word_reaches_the_database_as_a_command(hall: Hall, word: str) -> None:
    """In a sender, a text, a choice, an id, a code or a name: it is kept or refused as a word, and all is there."""
    gate, before = await hall.gateway(), await hall.export()
    for message in (
        gate.message(word), gate.message("help", word, channel="telegram"), gate.message(f"join {word}"),
        gate.message("help", id=word.replace(" ", "_")), gate.message(choice=word), gate.message(choice=f"c_1_{word}"),
    ):
        assert (await gate.send(message)).status in (200, 422)
    assert (await gate.ask("GET", "/v1/outbox", params={"after": word})).status == 422
    assert (await gate.ask("POST", f"/v1/outbox/{word.replace('/', '')}/delivered")).status == 404
    assert await hall.export() == before
    await gate.says("start tuesday")
    await gate.says("everyone")
    await gate.says(f"add Zoe {word}")
    assert len((await hall.export())["children"]) in (len(before["children"]), len(before["children"]) + 1)


@pytest.fixture(scope="session")
def hall_of_images(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo hall, where a child, a class and a coach bear names that are commands to a browser."""
    import asyncio

    path = tmp_path_factory.mktemp("images") / "hall.sqlite"
    names = ("scheme.toml", "club.toml", "roster.csv")
    scheme, club, roster = ((DEMO_HALL / name).read_text("utf-8") for name in names)
    club, roster = club.replace("Tuesday Lanterns", f"T {IMAGE}"), roster.replace("Ava Price", f"Ava{IMAGE} Price")
    made = read_hall(scheme, club, roster)

    async def fill() -> None:
        store = open_store(str(path))
        await store.load(made, START)
        await store.close()

    asyncio.run(fill())
    return path


@pytest_asyncio.fixture()
async def phone(hall_of_images: Path, tmp_path: Path) -> AsyncIterator[Phone]:
    """Jo's phone in it."""
    async with running(hall_of_images, tmp_path) as hall, phones_in(hall) as make:
        made = await make(bypass_csp=True)      # what the page does with a name, not what its policy forbids
        await made.come_in("jo")
        yield made


async def test_no_name_is_a_command_to_a_browser(phone: Phone) -> None:
    """It is written as it is, in the record, on the dock, in the sheet and among the completions; nothing is run."""
    dialogs: list[Any] = []
    phone.page.on("dialog", lambda dialog: dialogs.append(dialog.message))
    for text in ("start tuesday", "everyone", "go", IMAGE, f"{IMAGE} seen"):
        await phone.says(text)
        await phone.linked()
    await phone.page.click("#open-sheet")
    await phone.page.wait_for_selector("#sheet[open]")
    shown = await phone.page.inner_text("body")
    assert shown.count(IMAGE) >= 3
    assert await phone.page.evaluate("document.querySelectorAll('img, [onerror]').length") == 0
    assert dialogs == []


@pytest.mark.parametrize("name", ["=cmd()|' /C calc'!A0", "+1 Ava", "-Ava", "@SUM(A1)", "＝cmd()", " =Ava Price"])
def test_no_child_is_called_a_formula(name: str) -> None:
    """Such a name is refused with a sentence, so that no list made of names is a danger to whoever opens it."""
    quoted = name.replace('"', '""')
    lines, faults = examine_roster(f'child,class,award\n"{quoted}",tue,one\nAva-Mae O\'Dea,tue,one\n', None, None)
    assert [one.child for one in lines] == ["Ava-Mae O'Dea"]
    assert ["formula" in str(one) for one in faults] == [True]


@pytest.mark.parametrize("name", ["=cmd()", "＝cmd()", "+Zoe", "@Zoe"])
async def test_nor_is_one_who_is_added(hall: Hall, name: str) -> None:
    """Nor by a message."""
    gate = await hall.gateway()
    for text in ("start tuesday", "everyone", f"add {name}"):
        said = await gate.says(text)
    assert not any(one["name"].endswith(name) for one in (await hall.export())["children"])
    assert said[-1]["text"]


def test_nobody_writes_a_line_of_the_log() -> None:
    """Whatever is in what is logged, it is one line, and the words of an error are not in it."""
    out, log = io.StringIO(), logging.getLogger("sprung.http")
    handler = logging.StreamHandler(out)
    handler.setFormatter(AsText())
    log.addHandler(handler)
    try:
        raise KeyError("Ava\n2026-11-24 17:00:00 ERROR sprung: forged")
    except KeyError:
        log.error("from %s", "x\r\n2026 ERROR forged\u2028y\x1b[2J", exc_info=True)
    finally:
        log.removeHandler(handler)
    (line,) = out.getvalue().splitlines()
    assert "KeyError in test_nobody" in line
    assert "Ava" not in line
    assert "\x1b" not in line


