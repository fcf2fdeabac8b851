"""Signed out, signed in again, or somebody else: nobody's marks are lost, and nobody sees what is another's."""
from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from tests.adapters.web.conftest import Hall, Phone
from tests.adapters.web.test_lesson import begin, judge

Make = Callable[..., Any]


async def come_back(phone: Phone, person: str) -> None:
    """Come in on a page that is open, by typing a code."""
    await phone.page.fill("#code", await phone.hall.code(person))
    await phone.page.get_by_role("button", name="Come in").click()
    await phone.page.wait_for_selector("#say:not([hidden])")
    await phone.linked()


async def test_marks_wait_for_their_coach(hall: Hall, new_phone: Make) -> None:
    """Signed out from elsewhere with a mark waiting: it is sent once that coach has come in again, by nobody else."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await phone.offline(True)
    await judge(phone)
    await hall.store.end_phones("harbour-lane-hall", "jo")
    await asyncio.sleep(2.1)        # so long a phone that worked is not looked up again
    await phone.offline(False)
    await phone.page.wait_for_selector("#come-in:not([hidden])")
    assert (await hall.export())["marks"] == []
    await come_back(phone, "sam")
    assert "All seen" not in await phone.record()
    assert (await hall.export())["marks"] == []
    await phone.page.click("#open-settings")
    await phone.page.get_by_role("button", name="Sign out here").click()
    await phone.page.wait_for_selector("#come-in:not([hidden])")
    await come_back(phone, "jo")
    await phone.becomes(hall.export, lambda found: len(found["marks"]) == 4)
    assert {mark["by"] for mark in (await hall.export())["marks"]} == {"jo"}


async def test_signing_out_leaves_no_name_behind(hall: Hall, new_phone: Make) -> None:
    """After signing out nothing of the class is on the phone."""
    phone = await new_phone()
    await phone.come_in("jo")
    await begin(phone)
    await judge(phone)
    await phone.until("Four seen")
    await phone.page.click("#open-settings")
    await phone.page.get_by_role("button", name="Sign out everywhere").click()
    await phone.page.wait_for_selector("#come-in:not([hidden])")
    kept = await phone.page.evaluate("""async () => {
        const { everything } = await import("/js/kept.js");
        return JSON.stringify([await everything(), { ...localStorage }, { ...sessionStorage }]);
    }""")
    assert not [name for name in ("Ava", "ava", "Chidi", "shoulder") if name in kept]
    assert "Ava" not in await phone.page.inner_text("body")
    assert await hall.store.phones("harbour-lane-hall", "jo") == ()


async def test_where_no_socket_gets_through(hall: Hall, new_phone: Make) -> None:
    """With every socket shut what is said still comes, over plain HTTP."""
    phone = await new_phone()
    await phone.context.route_web_socket("**/web/stream", lambda socket: socket.close())
    await phone.open(f"/#join={await hall.code('sam')}")
    await phone.page.get_by_role("button", name="Come in").click()
    await phone.page.wait_for_selector("#say:not([hidden])")
    await phone.linked()
    other = await new_phone()
    await other.come_in("jo")
    await begin(other)
    await judge(other)
    await hall.wait(60)
    await phone.until("Rested: ")


async def test_a_parents_page_is_a_talk(hall: Hall, new_phone: Make) -> None:
    """A family comes in by the same door, agrees with a tap, and sees no class."""
    from adapters.codes import invitation, new_code

    code = new_code()
    await hall.store.invite(invitation("harbour-lane-hall", hall.clock.now(), child="tuesday-ava-price"), code)
    phone = await new_phone()
    await phone.open(f"/#join={code}")
    await phone.page.get_by_role("button", name="Come in").click()
    await phone.dock("Yes").wait_for()
    looks = [await phone.dock(one).evaluate("one => getComputedStyle(one).backgroundColor") for one in ("Yes", "No")]
    assert looks[0] == looks[1]         # neither is pressed on anybody
    await phone.taps("Yes")
    await phone.taken()
    assert await phone.page.locator("#dock button").count() == 0       # it is answered: no thumb comes upon it again
    assert not await phone.page.is_visible("#open-sheet")
    assert len((await hall.export())["consents"]) == 1


async def test_the_code_may_be_given_as_it_stands_on_the_slip(hall: Hall, new_phone: Make) -> None:
    """`join CODE` comes in as the code alone does, and leaves no code behind in the field."""
    phone = await new_phone()
    await phone.open()
    await phone.page.fill("#code", f"join {await hall.code('jo')}")
    await phone.page.get_by_role("button", name="Come in").click()
    await phone.page.wait_for_selector("#say:not([hidden])")
    assert await phone.page.input_value("#code") == ""
    await phone.taps("Start")           # and the first thing to do is one tap away
    await phone.dock("Everyone").wait_for()


async def test_on_a_network_of_ones_own(hall: Hall, new_phone: Make) -> None:
    """By plain http from another machine a browser has fewer means; the page works all the same, with a signal."""
    phone = await new_phone()
    await phone.context.add_init_script(
        "delete Crypto.prototype.randomUUID; delete Navigator.prototype.serviceWorker; delete window.caches;"
    )
    await phone.come_in("jo")
    await begin(phone)
    await judge(phone)
    await phone.until("Four seen")


async def test_it_can_be_installed(hall: Hall, new_phone: Make) -> None:
    """The browser finds nothing that keeps the page from the home screen."""
    phone = await new_phone()
    await phone.come_in("jo")
    await phone.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    debugger = await phone.context.new_cdp_session(phone.page)
    found = (await debugger.send("Page.getAppManifest"))
    assert found["errors"] == []
    assert found["url"].endswith("/manifest.webmanifest")
    missing = (await debugger.send("Page.getInstallabilityErrors"))["installabilityErrors"]
    assert [one["errorId"] for one in missing if one["errorId"] != "in-incognito"] == []
