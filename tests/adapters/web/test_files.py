"""Files of messages on the page, in a real Chromium: seen, played, and only by whoever they are for. A tapped tempo.

Source of the taps and their tempo: tests/outside/data/05_music.json (numpy).
"""
from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.adapters.web.conftest import Hall, Phone

Make = Callable[..., Any]
CASES = json.loads((Path(__file__).parents[2] / "outside" / "data" / "05_music.json").read_text("utf-8"))["cases"]
(TAPPED,) = [case for case in CASES if case["id"] == "tap_tempo"]


async def status(phone: Phone, path: str) -> int:
    """What a page is answered that asks for a path."""
    return (await phone.context.request.get(phone.hall.address + path)).status


async def test_a_picture_is_seen_in_the_record(new_phone: Make) -> None:
    """The class stands in the record as a picture no wider than the phone, told in words to whoever can't see it."""
    phone = await new_phone()
    await phone.come_in("jo")
    await phone.says("grid")
    picture = phone.page.locator("#record img")
    await picture.wait_for()
    await phone.becomes(lambda: picture.evaluate("one => one.complete && one.naturalWidth"), lambda wide: wide > 300)
    assert (await picture.get_attribute("alt")).startswith("Owed: ")
    box = await picture.bounding_box()
    assert box["width"] <= 360


async def test_a_picture_is_for_its_person_alone(hall: Hall, new_phone: Make) -> None:
    """Another person's phone, and one that was signed out, get nothing by the same address."""
    phone, other = await new_phone(), await new_phone()
    await phone.come_in("jo")
    await other.come_in("sam")
    await phone.says("progress ava")
    picture = phone.page.locator("#record img")
    await picture.wait_for()
    path = await picture.get_attribute("src")
    assert [await status(one, path) for one in (phone, other)] == [200, 404]
    (club,) = await hall.store.clubs()
    await hall.store.end_phones(club.id, "jo")
    hall.served.desk.seconds = lambda: 1e9          # what was trusted a moment ago is looked up again
    assert await status(phone, path) == 401


async def test_what_is_gone_is_told_in_words(hall: Hall, new_phone: Make) -> None:
    """Days later the picture is not there any more; its place holds the words for it."""
    phone = await new_phone()
    await phone.come_in("jo")
    await phone.says("progress ava")
    await phone.page.locator("#record img").wait_for()
    await hall.wait(3 * 24 * 3600)
    await phone.page.reload()
    await phone.page.wait_for_selector("html[data-ready=yes]")
    await phone.until("Owed: ")
    assert await phone.page.locator("#record img").count() == 0


async def test_a_click_can_be_played(new_phone: Make) -> None:
    """A click is a player in the record, and the browser knows its length: 36 seconds."""
    phone = await new_phone()
    await phone.come_in("jo")
    await phone.says("click 120 8 eights")
    player = phone.page.locator("#record audio")
    await player.wait_for()
    await player.evaluate("one => { one.preload = 'metadata'; one.load(); }")
    await phone.becomes(lambda: player.evaluate("one => one.duration"), lambda long: long == 36)


# --- the tempo --------------------------------------------------------------------------------------------

async def tempo(phone: Phone, taps: list[float]) -> float | None:
    """What taps at these seconds come to."""
    return await phone.page.evaluate(
        "taps => import('/js/tempo.js').then((tempo) => tempo.tempoOf(taps))", [1000 * at for at in taps],
    )


async def test_taps_have_the_published_tempo(new_phone: Make) -> None:
    """By the source's taps the same tempo; one left out, doubled or late changes little; three are too few."""
    phone = await new_phone()
    await phone.open()
    taps, expected = TAPPED["input"]["tap_times"], TAPPED["expected"]["mean_interval_bpm"]
    assert await tempo(phone, taps) == pytest.approx(expected, abs=1e-6)
    even = [n * 0.5 for n in range(12)]
    for odd in (even[:5] + even[6:], sorted([*even, 2.6]), [*even[:-1], 5.9]):
        assert await tempo(phone, odd) == pytest.approx(120, abs=1)
    assert await tempo(phone, even[:3]) is None


async def test_one_taps_along_on_the_card(new_phone: Make) -> None:
    """The card of a skill that is counted has a place to tap, which says the tempo and whether it is in the band."""
    phone = await new_phone()
    await phone.come_in("jo")
    await phone.page.click("#open-card")
    await phone.page.get_by_label("Skill").select_option(label="Waltz turn")
    pad = phone.page.get_by_role("button", name="Tap the tempo")
    await pad.tap()
    said = phone.page.locator(".tempo p")
    assert await said.inner_text() == "Go on tapping …"
    for n, (bpm, where) in enumerate(((96, "within"), (60, "slower than"), (120, "quicker than"))):
        await pad.evaluate("""(one, [from, beat]) => { for (let n = 1; n < 6; n++) {
            const event = new PointerEvent("pointerdown");
            Object.defineProperty(event, "timeStamp", { value: from + n * beat });
            one.dispatchEvent(event);
        } }""", [1e9 + n * 60_000, 60_000 / bpm])
        assert await said.inner_text() == f"{bpm} beats a minute, {where} 88 to 104"
    await phone.page.get_by_label("Skill").select_option(label="Cartwheel")
    assert await pad.count() == 0
