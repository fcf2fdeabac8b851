"""A lesson on a phone: by taps, with the signal and without it, and whatever may happen to the phone meanwhile."""
from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from tests.adapters.web.conftest import START, Hall, Phone

Make = Callable[..., Any]
STEP_S = 35         # from one line to the next
LINES = 7


@dataclass(frozen=True)
class Judged:
    """A line as it was judged: what the dock said, whose names stood there, and what the record says."""

    about: str
    names: tuple[str, ...]
    missed: str
    said: str


async def begin(phone: Phone) -> None:
    """Open the lesson; the first line stands there."""
    await phone.says("start tuesday")
    await phone.dock("Everyone").wait_for()
    await phone.taps("Everyone")
    await phone.dock("Go").wait_for()
    await phone.taps("Go")
    await phone.dock("All seen").wait_for()


async def standing(phone: Phone) -> tuple[str, tuple[str, ...]]:
    """What is docked, and the names there."""
    await phone.page.locator("#dock:not([aria-busy=true])").wait_for()
    abouts = await phone.page.locator("#dock .about span").all_inner_texts()
    about = abouts[0] if abouts else ""
    names = await phone.page.locator("#dock .chips b").all_inner_texts()
    return about.removeprefix("By the plan: "), tuple(names)


async def judge(phone: Phone, missed: str = "") -> Judged:
    """Judge whoever stands there: all seen, but for one who may be missed."""
    about, names = await standing(phone)
    rows = await phone.page.locator("#record .mine").count()
    if missed:
        await phone.page.get_by_role("button", name=f"{missed} not yet").tap()
        await phone.taps("Save: 1 not yet")
    else:
        await phone.taps("All seen" if names else "Seen")
    await phone.becomes(phone.page.locator("#record .mine").count, lambda now: now == rows + 1)
    said = await phone.page.locator("#record .mine p").last.inner_text()
    return Judged(about, names, missed, said.partition("\nwaiting")[0])


async def answered(phone: Phone, rows: int) -> None:
    """Wait until so many things were said, and all of them answered."""
    await phone.becomes(phone.page.locator("#record .mine").count, lambda now: now == rows)
    await phone.becomes(lambda: phone.page.locator("#record .mine.waiting").count(), lambda now: now == 0)
    await phone.linked()
    await asyncio.sleep(0.2)


async def test_a_whole_lesson_by_taps(hall: Hall, new_phone: Make) -> None:
    """From Start to Close nothing is typed but the beginning; every line costs one tap, a miss one more."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    before = len((await hall.export())["marks"])
    for n in range(LINES):
        await hall.wait(STEP_S)
        line = await judge(phone, "Chidi" if n == 0 else "")
        await phone.becomes(lambda: standing(phone), lambda now, was=line: now != (was.about, was.names))
        await phone.linked()
    await phone.says("close")
    await phone.until("looks")
    marks = (await hall.export())["marks"][before:]
    assert len(marks) >= 2 * LINES
    assert [one["child"] for one in marks if one["verdict"] == "not yet"] == ["tuesday-chidi-eze"]


async def test_without_a_signal_the_lesson_is_the_same(
    hall: Hall, hall_two: Hall, new_phone: Make, phone_two: Make,
) -> None:
    """Cut off before the first mark and back after the last, the export is that of a lesson with the signal.

    Every mark carries the time of its tap, though all of them came at once.
    """
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await phone.offline(True)
    judged: list[Judged] = []
    for n in range(LINES):
        await phone.be_at(START + timedelta(seconds=STEP_S * (n + 1)))
        if n:
            await phone.dock("None yet").wait_for()
        judged.append(await judge(phone, "Chidi" if n == 0 else ""))
    assert "waiting to send" in await phone.record()
    assert (await hall.export())["marks"] == []
    await hall.wait(STEP_S * LINES)
    await phone.offline(False)
    await phone.linked()

    other = await phone_two()
    await other.come_in("jo")
    await begin(other)
    for one in judged:
        await hall_two.wait(STEP_S)
        await other.told("jo")
        rows = await other.page.locator("#record .mine").count()
        if await standing(other) == (one.about, one.names) and (one.names or "Seen" in one.said):
            await judge(other, one.missed)
        else:
            await other.says(one.said.removeprefix("› "))
        await answered(other, rows + 1)
    offline, online = await hall.export(), await hall_two.export()
    assert offline["marks"] == online["marks"]
    assert offline == online
    assert len({mark["judged_at"] for mark in offline["marks"]}) == LINES


async def test_a_dead_battery_loses_nothing(hall: Hall, new_phone: Make) -> None:
    """Marked without a signal, killed, opened again still without it: all is shown, and goes out once it is back."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await ready_without_signal(phone)
    await phone.offline(True)
    await phone.be_at(START + timedelta(seconds=40))
    line = await judge(phone, "Ben")
    await hall.stop()
    await phone.page.close()
    await phone.open(at=START + timedelta(seconds=60))
    assert "Ben not yet" in await phone.record()
    assert "waiting to send" in await phone.record()
    await phone.page.click("#open-sheet")
    assert "rests 2nd" in await phone.page.inner_text("#sheet table")
    await phone.page.locator("#sheet").get_by_role("button", name="Close", exact=True).tap()
    await phone.page.click("#open-card")
    assert "Must be seen" in await phone.page.inner_text("#card")
    await phone.page.locator("#card").get_by_role("button", name="Close", exact=True).tap()
    second = await judge(phone)
    assert second.said != line.said
    await hall.start()
    await hall.wait(100)
    await phone.offline(False)
    await phone.linked()
    marks = (await hall.export())["marks"]
    assert {mark["judged_at"] for mark in marks} == {"2026-11-24T16:58:40Z", "2026-11-24T16:59:00Z"}
    assert "waiting to send" not in await phone.record()


async def ready_without_signal(phone: Phone) -> None:
    """Wait until the page itself is kept on the phone."""
    await phone.becomes(
        lambda: phone.page.evaluate("navigator.serviceWorker.ready.then((one) => one.active.state)"),
        lambda state: state == "activated",
    )
    await phone.becomes(
        lambda: phone.page.evaluate("indexedDB.databases().then((all) => all.length)"), lambda several: several > 0,
    )
    await asyncio.sleep(0.3)        # the cards are fetched once the sheet is there


async def test_two_phones_on_one_class(hall: Hall, new_phone: Make) -> None:
    """While one coach has no signal the other goes on; when it is back both are right and each mark is there once."""
    jo, sam = await new_phone(), await new_phone()
    await jo.come_in("jo")
    await sam.come_in("sam")
    await begin(jo)
    await jo.offline(True)
    await hall.wait(60)
    mine = await judge(jo)
    await sam.says("efa, finn seen shoulder stand")
    await sam.taken()
    await hall.wait(60)
    await jo.offline(False)
    await jo.linked()
    marks = (await hall.export())["marks"]
    assert len(marks) == len(mine.names) + 2
    assert {mark["by"] for mark in marks} == {"jo", "sam"}
    await jo.page.click("#open-sheet")
    row = jo.page.locator("#sheet tbody tr", has_text="Efa")
    await jo.becomes(row.inner_text, lambda words: "ready 2nd" in words)


async def test_an_old_messages_choice(hall: Hall, new_phone: Make) -> None:
    """A choice further up is exactly what it was, however much was said since."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await phone.says("owed")
    await phone.until("shoulder stand")
    await phone.says("cartwheel")
    await phone.dock("Go").wait_for()
    old = phone.page.locator("#record li", has_text="Shoulder stand, first show:").last
    await old.locator("summary").tap()
    await old.get_by_role("button", name="All seen", exact=True).tap()
    await phone.until("Ava, Ben, Chidi and Dara seen")
    assert {mark["skill"] for mark in (await hall.export())["marks"]} == {"shoulder-stand"}


async def test_choices_that_were_opened_stay_where_they_are(hall: Hall, new_phone: Make) -> None:
    """Whoever opens an old message's choices is left there: no later drawing brings the record to its end."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await phone.says("cartwheel")
    await phone.dock("Go").wait_for()
    old = phone.page.locator("#record li", has_text="Shoulder stand, first show:").last
    await old.locator("summary").tap()
    before = await old.bounding_box()
    await phone.page.evaluate(DRAWN)
    assert await old.bounding_box() == before


async def test_nothing_moves_under_a_thumb(hall: Hall, new_phone: Make) -> None:
    """What comes while a thumb is down on an old choice waits until that is tapped."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await judge(phone)
    await phone.taken()
    old = phone.page.locator("#record li", has_text="Shoulder stand, first show:").first
    await old.locator("summary").tap()
    choice = old.get_by_role("button", name="None yet", exact=True)
    await phone.page.evaluate(f"{RECORD}.scrollTop = {RECORD}.scrollHeight")      # what comes would lead on
    before = await choice.bounding_box()
    assert before is not None
    thumb = await phone.context.new_cdp_session(phone.page)
    at = {"x": before["x"] + before["width"] / 2, "y": before["y"] + before["height"] / 2}
    await phone.page.clock.pause_at(phone.now)       # the thumb is quick, whatever else is slow
    await thumb.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [at]})
    await hall.wait(120)
    await phone.becomes(lambda: phone.page.evaluate(KEPT), lambda kept: "Rested:" in kept)
    after = await choice.bounding_box()
    assert after is not None
    assert abs(after["y"] - before["y"]) < 1
    assert "Rested:" not in await phone.record()
    await phone.page.clock.resume()
    await thumb.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    await phone.until("Rested:")
    await phone.until("None yet: Ava")


async def test_undo_is_one_tap(hall: Hall, new_phone: Make) -> None:
    """What was just marked is taken back with one tap, with the signal and without it."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await judge(phone)
    await phone.dock("Undo").wait_for()
    await phone.taps("Undo")
    await phone.until("Taken back")
    assert (await hall.export())["marks"] == []
    await phone.linked()
    await phone.offline(True)
    await judge(phone)
    await phone.dock("Undo").tap()
    await asyncio.sleep(0.2)
    await phone.offline(False)
    await phone.linked()
    await phone.becomes(hall.export, lambda found: found["marks"] == [])


async def test_what_is_refused_stays_with_its_reason(hall: Hall, new_phone: Make) -> None:
    """What the server does not take is shown with the reason and never dropped; what comes after it goes on."""
    phone = await new_phone()
    await phone.come_in("jo")
    await phone.offline(True)
    await phone.says("x" * 1999)
    await phone.until("waiting to send")
    await asyncio.sleep(0.5)
    await phone.page.evaluate(CHANGED)
    await phone.says("help")
    await phone.until("waiting to send", 2)
    await phone.page.reload()
    await phone.page.wait_for_selector("html[data-ready=yes]")
    await phone.offline(False)
    await phone.until("not taken: ")
    await phone.until("Type what you saw")
    assert "waiting to send" not in await phone.record()


async def test_a_second_tap_judges_no_other_line(hall: Hall, new_phone: Make) -> None:
    """A tap that is repeated because it seemed not to take falls on nothing, by thumb or by key."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await phone.dock("All seen").wait_for()
    await phone.page.locator("#dock .answers:not(.fresh)").wait_for()
    await phone.page.evaluate(REPEATED)
    await phone.until("Four seen")
    await phone.taken()
    assert len((await hall.export())["marks"]) == 4


async def test_a_line_that_another_judged_is_no_trap(hall: Hall, new_phone: Make) -> None:
    """What somebody else has judged meanwhile says so, and leads on."""
    jo, sam = await new_phone(), await new_phone()
    await jo.come_in("jo")
    await sam.come_in("sam")
    await begin(jo)
    await hall.wait(20)
    await sam.says("ava, ben, chidi, dara seen shoulder stand")
    await sam.taken()
    await jo.dock("Next").wait_for()
    assert "Judged meanwhile: Shoulder stand" in await jo.page.inner_text("#dock .about")
    await jo.taps("Next")
    await jo.taken()
    assert len((await hall.export())["marks"]) == 4


async def test_a_slow_server_keeps_nobody_waiting(hall: Hall, new_phone: Make) -> None:
    """While an answer takes its time, the tap is shown, and the next line of the plan can be judged after it."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    answers = asyncio.Event()

    async def slowly(route: Any) -> None:
        await answers.wait()
        await route.continue_()

    await phone.page.route("**/web/messages", slowly)
    first = await judge(phone, "Chidi")
    assert "waiting to send" in await phone.record()
    await phone.be_at(phone.now + timedelta(seconds=3))
    await phone.dock("None yet").wait_for()
    second = await judge(phone)
    assert (second.about, second.names) != (first.about, first.names)
    assert (await hall.export())["marks"] == []
    await hall.wait(5)
    answers.set()
    await phone.linked()
    marks = (await hall.export())["marks"]
    assert len(marks) == len(first.names) + len(second.names)
    assert len({mark["judged_at"] for mark in marks}) == 2


async def test_three_hundred_messages_can_be_scrolled(hall: Hall, new_phone: Make) -> None:
    """All of a long record is there. Whoever reads further up is left there until they say something themselves."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await judge(phone)
    for _ in range(150):
        await phone.says("owed")
    await phone.linked()
    at_end = f"{RECORD}.scrollHeight - {RECORD}.scrollTop - {RECORD}.clientHeight"
    await phone.becomes(lambda: phone.page.evaluate(at_end), lambda left: left < 4)
    rows = phone.page.locator("#record > li")
    while "start tuesday" not in await phone.record():
        before = await rows.count()
        await phone.becomes(
            lambda: phone.page.evaluate(f"{RECORD}.scrollTop = 0, {RECORD}.childElementCount"),
            lambda several, before=before: several > before,
        )
    assert await rows.count() >= 300
    await phone.page.evaluate(f"{RECORD}.scrollTop = 0")
    place = (await rows.first.bounding_box())["y"]
    await hall.wait(120)
    await phone.until("Rested:")
    assert abs((await rows.first.bounding_box())["y"] - place) < 20       # what rests stands above it, and may grow
    await phone.says("resting")
    await phone.linked()
    await phone.becomes(lambda: phone.page.evaluate(at_end), lambda left: left < 4)


REPEATED = """async () => {      // as soon as there is something to hit again, and again
    const hit = () => document.querySelector("#dock .answers button")?.click();
    hit();
    for (let n = 0; n < 25; n += 1) { await new Promise(done => setTimeout(done, 20)); hit(); }
}"""
DRAWN = """() => new Promise((done) => {      // all anew, as whatever comes has it drawn
    document.dispatchEvent(new Event("visibilitychange"));
    requestAnimationFrame(() => requestAnimationFrame(done));
})"""
KEPT = "import('/js/kept.js').then((kept) => kept.everything()).then(({ said }) => said.map((one) => one.text).join())"
RECORD = 'document.getElementById("record")'
CHANGED = """() => new Promise((done) => {        // a text that is longer than any the server takes
    const opening = indexedDB.open("sprung");
    opening.onsuccess = () => {
        const store = opening.result.transaction("mine", "readwrite").objectStore("mine");
        store.openCursor(null, "prev").onsuccess = (event) => {
            const one = event.target.result.value;
            one.text = "x".repeat(5000);
            event.target.result.update(one).onsuccess = done;
        };
    };
})"""


FORESEEN = """async at => {
    const [kept, foresee] = await Promise.all([import("/js/kept.js"), import("/js/foresee.js")]);
    const { facts, mine } = await kept.everything();
    const sheet = foresee.foreseen(facts.sheet, mine);
    return Object.fromEntries(sheet.children.map(child => [child.id, Object.fromEntries(sheet.skills
        .map(skill => [skill.id, foresee.standing(sheet, child.id, skill.id, at)])
        .filter(([, one]) => one).map(([id, one]) => [id, [one.is === "again" ? "retest" : one.is, one.show]]))]));
}"""


async def test_what_is_foreseen_is_what_comes(hall: Hall, new_phone: Make) -> None:
    """The class sheet that a phone shows without a signal is the one that it is sent when the signal is back."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await phone.linked()
    await phone.offline(True)
    for n in range(LINES):
        at = START + timedelta(seconds=STEP_S * (n + 1))
        await phone.be_at(at)
        await phone.dock("None yet").wait_for()
        await judge(phone, "Chidi" if n == 0 else "")
    foreseen = await phone.page.evaluate(FORESEEN, at.timestamp() * 1000)
    await hall.wait(STEP_S * LINES)
    await phone.offline(False)
    await phone.linked()
    assert len((await hall.export())["marks"]) > LINES

    async def sent() -> dict[str, Any]:
        return await phone.page.evaluate(FORESEEN, at.timestamp() * 1000)

    await phone.becomes(sent, lambda found: found == foreseen)
