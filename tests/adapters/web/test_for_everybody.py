"""The page is for everybody: by keyboard alone, read aloud, with large text, in either theme, by either hand."""
from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import pytest

from tests.adapters.web.conftest import Hall
from tests.adapters.web.test_lesson import begin, judge

Make = Callable[..., Any]
THEMES = ("light", "dark")
OPEN = {"nothing": None, "sheet": "#open-sheet", "card": "#open-card", "settings": "#open-settings"}


async def faults(page: Any) -> list[str]:
    """What axe-core finds wrong with what is shown."""
    from axe_playwright_python.async_playwright import Axe

    # axe is put in by the debugger, for the page itself lets no script in that is not its own
    found = await Axe().run(page)
    return [f"{one['id']}: {node['html'][:120]}" for one in found.response["violations"] for node in one["nodes"]]


@pytest.mark.parametrize("theme", THEMES)
async def test_axe_finds_nothing(hall: Hall, new_phone: Make, theme: str) -> None:
    """In both themes, at the door, in the talk with a line and rests, in the sheet, the card and the settings."""
    phone = await new_phone(color_scheme=theme, bypass_csp=True)
    await phone.open("/#join=ABCD")
    assert await faults(phone.page) == []
    await phone.page.close()
    await phone.come_in("jo")
    await begin(phone)
    await judge(phone, "Chidi")
    await phone.dock("Undo").wait_for()
    await phone.page.get_by_role("button", name="Efa not yet").tap()
    for name, button in OPEN.items():
        if button is not None:
            await phone.page.click(button)
        assert await faults(phone.page) == [], name
        if button is not None:
            await phone.page.locator("dialog[open]").get_by_role("button", name="Close", exact=True).click()


async def test_a_keyboard_alone_marks_a_line(hall: Hall, new_phone: Make) -> None:
    """A name is turned and the line saved without a finger on the glass; the focus is where it is needed next."""
    phone = await new_phone(has_touch=False, is_mobile=False)
    await phone.come_in("jo")
    await begin(phone)
    keys = phone.page.keyboard
    await phone.page.focus("#record")
    assert not await phone.page.evaluate("matchMedia('(pointer: coarse)').matches")
    for _ in range(12):
        await keys.press("Tab")
        if "Ben" in await phone.page.evaluate("document.activeElement.getAttribute('aria-label') ?? ''"):
            break
    await keys.press("Space")
    assert await phone.page.evaluate("document.activeElement.getAttribute('aria-pressed')") == "true"
    for _ in range(12):
        await keys.press("Tab")
        if "Save" in await phone.page.evaluate("document.activeElement.textContent"):
            break
    await keys.press("Enter")
    await phone.until("Three seen")
    await phone.linked()
    focused = await phone.page.evaluate("document.getElementById('dock').contains(document.activeElement)")
    assert focused
    marks = (await hall.export())["marks"]
    assert [one["child"] for one in marks if one["verdict"] == "not yet"] == ["tuesday-ben-okafor"]


async def test_each_message_is_read_aloud_once(hall: Hall, new_phone: Make) -> None:
    """What is new is put into the live region once, however it came: by the answer, the stream, or both."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await judge(phone)
    await phone.until("Four seen")
    await hall.wait(60)
    await phone.until("Rested: ")
    await asyncio.sleep(1)
    said = await phone.page.locator("#heard p").all_inner_texts()
    assert len(said) == len(set(said)) >= 5
    live = await phone.page.eval_on_selector_all("[aria-live]", "all => all.map(one => one.id)")
    assert live == ["heard"]
    await phone.page.reload()
    await phone.page.wait_for_selector("html[data-ready=yes]")
    await phone.linked()
    assert await phone.page.locator("#heard p").count() == 0


@pytest.mark.parametrize(("width", "hand", "size"), [(360, "right", 100), (320, "left", 100), (360, "right", 200)])
async def test_a_thumb_finds_it(hall: Hall, new_phone: Make, width: int, hand: str, size: int) -> None:
    """Targets are 48 px at least and 8 px apart, nothing is wider than the phone, the likeliest is near the thumb."""
    phone = await new_phone(viewport={"width": width, "height": 740})
    await phone.come_in("jo")
    await phone.page.evaluate("hand => { document.documentElement.dataset.hand = hand; }", hand)
    await phone.page.evaluate("size => { document.documentElement.style.fontSize = `${size}%`; }", size)
    await begin(phone)
    await judge(phone, "Chidi")
    await phone.dock("Undo").wait_for()
    await asyncio.sleep(0.4)
    assert await phone.page.evaluate("document.documentElement.scrollWidth") <= width
    boxes = await phone.page.eval_on_selector_all(
        "#dock button, #say > button, #say input, #head button",
        """all => all.map(one => { const box = one.getBoundingClientRect();
            return [one.textContent, box.left, box.top, box.right, box.bottom]; })
            .filter((box, at) => !all[at].closest("#dock") || box[2] >= document.getElementById("dock").offsetTop)""",
    )
    for text, left, top, right, bottom in boxes:
        assert right - left >= 47.9, text
        assert bottom - top >= 47.9, text
    for a, one in enumerate(boxes):
        for other in boxes[a + 1:]:
            across = max(one[1], other[1]) - min(one[3], other[3])
            down = max(one[2], other[2]) - min(one[4], other[4])
            assert max(across, down) >= 7.5, (one[0], other[0])
    first = next(box for box in boxes if box[0] == "All seen")
    none = next(box for box in boxes if box[0] == "None yet")
    if first[2] == none[2]:
        assert (first[1] > none[1]) == (hand == "right")
    else:
        assert first[2] > none[2]


async def test_words_are_completed_as_they_are_typed(hall: Hall, new_phone: Make) -> None:
    """A few letters bring up the class's names and skills; a tap completes them."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    row = phone.page.locator("#completions")
    for letters, word in (("ha", "Hana"), ("se", "seen"), ("cart", "cartwheel")):
        await phone.page.locator("#typed").press_sequentially(letters)
        await row.get_by_role("button", name=word, exact=True).tap()
    assert await phone.page.input_value("#typed") == "Hana seen cartwheel "
    await phone.page.click("#send")
    await phone.until("Hana")
    await phone.becomes(hall.export, lambda found: len(found["marks"]) == 1)


async def test_the_timer_and_the_count(hall: Hall, new_phone: Make) -> None:
    """A hold is timed on the phone where the show asks for one, and goes on while a name is turned."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    timer = phone.page.locator("#dock .beat")
    assert await timer.inner_text() == "Hold 3 s"
    await timer.tap()
    await phone.page.get_by_role("button", name="Ava not yet").tap()
    await phone.becomes(timer.inner_text, lambda text: text == "3 s held")
    await phone.becomes(timer.inner_text, lambda text: text == "Hold 3 s")
    await phone.says("galop step")
    await phone.until("galop step")


STANDINGS = ("untried", "owed", "resting", "ready", "ticked", "retest", "again")
SHEET = """async standings => {
    const views = await import("/js/views.js");
    const sheet = {
        class: { name: "Class" }, skills: [{ id: "s", name: "Skill", shows: [{}] }],
        children: standings.map(one => ({ id: one, name: "Kim", here: true })),
        marks: Object.fromEntries(standings.map(one => [one, { s: {
            is: one, show: 1, ...(one === "resting" ? { rested_at: "2099-01-01T00:00:00Z" } : {}),
        } }])),
    };
    views.openSheet(sheet, () => undefined);
}"""


async def test_nothing_is_told_by_colour_alone(hall: Hall, new_phone: Make) -> None:
    """With the browser's own two colours in place of ours, no two standings look alike, nor a name that was turned."""
    phone = await new_phone(forced_colors="active")
    await phone.come_in("jo")
    await begin(phone)
    ava = phone.page.get_by_role("button", name="Ava not yet")
    before = await ava.screenshot()
    await ava.tap()
    assert await ava.screenshot() != before
    await phone.page.evaluate(SHEET, list(STANDINGS))
    cells = phone.page.locator("#sheet tbody td")
    words = await cells.all_inner_texts()
    assert len(set(words)) == len(STANDINGS)
    looks = [await cells.nth(n).screenshot() for n in range(len(STANDINGS))]
    assert len(set(looks)) == len(STANDINGS)
