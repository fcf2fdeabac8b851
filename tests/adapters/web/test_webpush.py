"""Word to a phone whose page is closed: a push service of our own is written to over real HTTP, and Chromium shows it.

Outside checks: what was encrypted is read by the rules of RFC 8291 (over RFC 8188), written here anew and held first to
the example of RFC 8291, section 5 (its values from memory; that they are right is proven by their authentication tag);
the signature is verified as RFC 8292 and RFC 7515 say. The key agreement and ciphers are those of `cryptography`.
"""
from __future__ import annotations

import asyncio
import base64
import json
import re
import stat
import struct
import sys
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from aiohttp import web
from click.testing import Result
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from adapters.settings import BadSettings, webpush
from adapters.web.webpush import NoWebPush, WebPush, make_key, read_key, word
from bot.port import Subscription
from bot.step import Said
from tests.adapters.http.api import START
from tests.adapters.web.conftest import Hall, Phone, running
from tests.adapters.web.test_lesson import begin, judge
from tests.adapters.web.test_pages import Browser, sentence

CONTACT = "mailto:office@hall.example"


def decoded(text: str) -> bytes:
    """Base64url without its padding."""
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def encoded(value: bytes) -> str:
    return base64.urlsafe_b64encode(value).rstrip(b"=").decode()


def derived(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    return HKDF(SHA256(), length, salt, info).derive(secret)


def read(body: bytes, private: ec.EllipticCurvePrivateKey, auth: bytes) -> bytes:
    """What a browser reads: RFC 8291, section 3.4, then RFC 8188, section 2, of one record."""
    salt, (_, length) = body[:16], struct.unpack("!LB", body[16:21])
    sender, text = body[21:21 + length], body[21 + length:]
    shared = private.exchange(ec.ECDH(), ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), sender))
    own = private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    secret = derived(shared, auth, b"WebPush: info\0" + own + sender, 32)
    key = derived(secret, salt, b"Content-Encoding: aes128gcm\0", 16)
    nonce = derived(secret, salt, b"Content-Encoding: nonce\0", 12)
    return AESGCM(key).decrypt(nonce, text, None).rstrip(b"\0").removesuffix(b"\2")


class Ear:
    """A browser's keys."""

    def __init__(self) -> None:
        self.private, self.auth = ec.generate_private_key(ec.SECP256R1()), bytes(range(16))
        self.public = self.private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)

    def to(self, endpoint: str) -> dict[str, str]:
        """What the page sends us of it."""
        return {"endpoint": endpoint, "p256dh": encoded(self.public), "auth": encoded(self.auth)}


class PushService:
    """That of a browser's maker: it takes what we send, and answers as it is told to."""

    def __init__(self) -> None:
        self.came: list[tuple[dict[str, str], bytes]] = []
        self.answers = 201

    async def start(self) -> None:
        app = web.Application()
        app.router.add_route("*", "/{tail:.*}", self._take)
        self._runner = web.AppRunner(app)
        await self._runner.setup()
        await web.TCPSite(self._runner, "127.0.0.1", 0).start()
        self.origin = f"http://127.0.0.1:{self._runner.addresses[0][1]}"

    async def _take(self, request: web.Request) -> web.Response:
        self.came.append((dict(request.headers), await request.read()))
        if 300 <= self.answers < 400:
            raise web.HTTPFound("/elsewhere")
        return web.Response(status=self.answers)

    async def stop(self) -> None:
        await self._runner.cleanup()

    async def hears(self, several: int) -> None:
        """Wait until so many came."""
        async with asyncio.timeout(30):
            while len(self.came) < several:
                await asyncio.sleep(0.01)


@pytest_asyncio.fixture()
async def service() -> AsyncIterator[PushService]:
    """A push service."""
    made = PushService()
    await made.start()
    yield made
    await made.stop()


@pytest_asyncio.fixture()
async def hall(hall_file: Path, tmp_path: Path, service: PushService) -> AsyncIterator[Hall]:
    """The demo hall, served with a key; that service alone is written to."""
    make_key(tmp_path / "key.pem")
    key = read_key(tmp_path / "key.pem", CONTACT)
    async with running(hall_file, tmp_path, key=key, services=[service.origin]) as made:
        yield made


@pytest_asyncio.fixture()
async def browser(hall: Hall) -> AsyncIterator[Browser]:
    """Jo's."""
    made = Browser(hall)
    assert (await made.join()).status == 204
    yield made
    await made.session.close()


async def subscribed(browser: Browser, to: dict[str, str] | None) -> Any:
    return await browser.ask("POST", "/web/phones/subscribe", {"to": to})


async def a_rest(browser: Browser) -> None:
    """A line is marked, and its rest goes by."""
    for text in ("start tuesday", "everyone", "go", "all seen"):
        await browser.says(text)
    await browser.hall.wait(120)


# --- the rules ------------------------------------------------------------------------------------------

def test_the_example_of_rfc_8291_can_be_read() -> None:
    """The reading used here is that of the RFC: section 5."""
    private = ec.derive_private_key(
        int.from_bytes(decoded("q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94")), ec.SECP256R1(),
    )
    body = decoded(
        "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A"
        "_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
    )
    assert read(body, private, decoded("BTBZMqHH6r4Tts7J_aSIgg")) == b"When I grow up, I want to be a watermelon"


async def test_a_rest_that_is_over_is_told_as_the_standards_say(browser: Browser, service: PushService) -> None:
    """Only the browser can read it, the push service knows who we are, it is not kept for long, and it names nobody."""
    ear = Ear()
    assert (await subscribed(browser, ear.to(f"{service.origin}/jo"))).status == 204
    await a_rest(browser)
    await service.hears(1)
    headers, body = service.came[0]
    assert json.loads(read(body, ear.private, ear.auth)) == {"text": "A rest is over."}
    assert headers["Content-Encoding"] == "aes128gcm"
    assert (headers["TTL"], headers["Urgency"]) == ("300", "high")
    scheme, _, rest = headers["Authorization"].partition(" ")
    given = dict(part.strip().split("=", 1) for part in rest.split(","))
    head, claims, signature = given["t"].split(".")
    point = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), decoded(given["k"]))
    raw = decoded(signature)
    point.verify(
        encode_dss_signature(int.from_bytes(raw[:32]), int.from_bytes(raw[32:])), f"{head}.{claims}".encode(),
        ec.ECDSA(SHA256()),
    )
    assert (scheme, json.loads(decoded(head))["alg"]) == ("vapid", "ES256")
    said = json.loads(decoded(claims))
    assert (said["aud"], said["sub"]) == (service.origin, CONTACT)
    assert 0 < said["exp"] - datetime.now(UTC).timestamp() <= 24 * 3600
    key = (await (await browser.ask("GET", "/web/phones")).json())["key"]
    assert decoded(key) == decoded(given["k"])


def test_no_words_of_a_message_are_told() -> None:
    """Whatever was said, a lock screen shows one of two sentences."""
    said = Said("club", "jo", 1, START, "Ava Canary has rested.", (), None)
    assert word(said) == "There is something new."


# --- who is told ----------------------------------------------------------------------------------------

async def test_who_asked_is_told_until_they_do_not_want_it(browser: Browser, service: PushService) -> None:
    """Nobody is told who did not ask; nor who has asked to hear no more; nor a phone that was signed out."""
    await a_rest(browser)
    to = Ear().to(f"{service.origin}/jo")
    await subscribed(browser, to)
    phones = (await (await browser.ask("GET", "/web/phones")).json())["phones"]
    assert [one["subscribed"] for one in phones] == [True]
    await subscribed(browser, None)
    await browser.says("all seen")
    await browser.hall.wait(120)
    await subscribed(browser, to)
    await browser.ask("POST", "/web/out", {"everywhere": True})
    await browser.hall.wait(3600)
    await browser.hall.served.desk.webpush.stop()
    assert service.came == []


async def test_a_phone_that_is_gone_is_forgotten(browser: Browser, service: PushService) -> None:
    """A push service that knows the phone no more is asked no more (RFC 8030, 7.3); one that fails is asked again."""
    await subscribed(browser, Ear().to(f"{service.origin}/jo"))
    hall = browser.hall
    service.answers = 500
    await a_rest(browser)
    await service.hears(1)
    service.answers = 410
    await browser.says("efa seen shoulder stand")
    await hall.wait(120)
    await service.hears(2)

    async def kept() -> Subscription | None:
        (phone,) = await hall.store.phones("harbour-lane-hall", "jo")
        return phone.subscription

    async with asyncio.timeout(30):
        while await kept():
            await asyncio.sleep(0.01)
    assert len(service.came) == 2


async def test_a_push_service_leads_us_nowhere_else(browser: Browser, service: PushService) -> None:
    """A redirect is not followed."""
    service.answers = 302
    await subscribed(browser, Ear().to(f"{service.origin}/jo"))
    await a_rest(browser)
    await service.hears(1)
    await browser.hall.served.desk.webpush.stop()
    assert len(service.came) == 1


@pytest.mark.parametrize("endpoint", [
    "http://169.254.169.254/latest", "https://hall.example/push", "https://fcm.googleapis.com@evil.example/x",
    "https://evil.example/.push.apple.com", "http://fcm.googleapis.com/x", "file:///etc/hosts",
    "https://evil.example\\.push.apple.com/x", "https://me@x.push.apple.com/x", "https://x.push.apple.com:8443/x",
])
async def test_only_push_services_are_written_to(hall: Hall, browser: Browser, endpoint: str) -> None:
    """A phone can't have us write to any other place; nor with keys that are none."""


    refused = await subscribed(browser, Ear().to(endpoint))
    assert refused.status == 422
    assert "push service" in (await refused.json())["detail"]
    usual = WebPush(hall.served.desk.webpush._key, hall.store, browser.session, lambda: START)
    assert usual.fault(Subscription(**Ear().to(endpoint))) is not None
    assert usual.fault(Subscription(**Ear().to("https://fcm.googleapis.com/fcm/send/x"))) is None


async def test_keys_that_are_none_are_refused(browser: Browser, service: PushService) -> None:
    """A point that is not on the curve is said to be none."""
    wrong = {**Ear().to(f"{service.origin}/x"), "p256dh": encoded(b"\4" + b"\1" * 64)}
    refused = await subscribed(browser, wrong)
    assert refused.status == 422
    assert "the keys are not those of a browser" in (await refused.json())["detail"]


# --- where it is off --------------------------------------------------------------------------------------

async def test_without_a_key_it_is_off(hall_file: Path, tmp_path: Path) -> None:
    """No key is shown, and who asks all the same is told so in a sentence."""
    async with running(hall_file, tmp_path / "off") as off:
        browser = Browser(off)
        await browser.join()
        assert (await (await browser.ask("GET", "/web/phones")).json())["key"] is None
        refused = await subscribed(browser, Ear().to("https://fcm.googleapis.com/x"))
        assert refused.status == 409
        assert sentence((await refused.json())["detail"])
        await browser.session.close()


def test_a_key_is_its_owners_alone(tmp_path: Path) -> None:
    """It is made once, and read again; a file that is none is said to be none, with what to do."""
    path = tmp_path / "key.pem"
    make_key(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert read_key(path, CONTACT).public == read_key(path, CONTACT).public
    with pytest.raises(NoWebPush, match="already"):
        make_key(path)
    with pytest.raises(NoWebPush, match="mailto"):
        read_key(path, "office")
    with pytest.raises(NoWebPush, match="sprung webpush-key"):
        read_key(tmp_path / "none", CONTACT)
    (tmp_path / "other").write_text("no key")
    with pytest.raises(NoWebPush, match="no key"):
        read_key(tmp_path / "other", CONTACT)


def test_without_the_extra_it_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The base install has no library for it; who asks for it is told which extra has."""
    monkeypatch.setitem(sys.modules, "py_vapid", None)
    with pytest.raises(NoWebPush, match=re.escape("pip install 'sprung[webpush]'")):
        make_key(tmp_path / "key.pem")
    with pytest.raises(NoWebPush, match="more than the base install"):
        read_key(tmp_path / "key.pem", CONTACT)


def test_its_settings_go_together(tmp_path: Path) -> None:
    """A key without a contact is said to lack it, and the other way round."""
    assert webpush({}, tmp_path) is None
    assert webpush({"SPRUNG_WEBPUSH_KEY": "k", "SPRUNG_WEBPUSH_CONTACT": CONTACT}, tmp_path) == (Path("k"), CONTACT)
    with pytest.raises(BadSettings, match="webpush_contact is missing"):
        webpush({"SPRUNG_WEBPUSH_KEY": "k"}, tmp_path)
    with pytest.raises(BadSettings, match="webpush_key is missing"):
        webpush({"SPRUNG_WEBPUSH_CONTACT": CONTACT}, tmp_path)


def test_by_the_command_line(
    run: Callable[..., Result], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A key is made by a command; what can't be is a sentence, and so is a serve whose key is none."""
    path = tmp_path / "key.pem"
    assert "is made" in run("webpush-key", str(path)).stdout
    assert read_key(path, CONTACT).contact == CONTACT
    again = run("webpush-key", str(path))
    assert (again.exit_code, "already" in again.output) == (2, True)
    path.write_text("no key")
    monkeypatch.setenv("SPRUNG_WEBPUSH_KEY", str(path))
    monkeypatch.setenv("SPRUNG_WEBPUSH_CONTACT", CONTACT)
    served = run("serve", "--db", "memory:")
    assert (served.exit_code, "sprung webpush-key" in served.output) == (2, True)


# --- in the browser ---------------------------------------------------------------------------------------

SUBSCRIBES = """to => {      // the push service of Chromium's maker is out of reach of a test: ours takes its place
    let current = null;
    const made = { toJSON: () => to, unsubscribe: async () => { current = null; } };
    PushManager.prototype.subscribe = async (asked) => { window.asked = asked; current = made; return made; };
    PushManager.prototype.getSubscription = async () => current;
}"""
SHOWN = """navigator.serviceWorker.ready.then(one => one.getNotifications())
    .then(all => all.map(one => [one.title, one.body]))"""


async def test_a_phone_shows_it_while_its_page_is_out_of_sight(
    hall: Hall, service: PushService, new_phone: Callable[..., Any],
) -> None:
    """Asked for in the settings, it comes while the page is hidden, with no name; in sight, the page alone tells."""
    phone: Phone = await new_phone()
    await phone.context.grant_permissions(["notifications"], origin=hall.address)
    await phone.come_in("jo")
    ear = Ear()
    made = ear.to(f"{service.origin}/jo")
    to = {"endpoint": made.pop("endpoint"), "keys": made}
    await phone.page.evaluate(SUBSCRIBES, to)
    await phone.page.click("#open-settings")
    box = phone.page.get_by_label("Tell me while this page is closed (no names)")
    await box.check()
    await phone.becomes(lambda: hall.store.phones("harbour-lane-hall", "jo"), lambda found: found[0].subscription)
    key = (await phone.page.evaluate("fetch('/web/phones').then(one => one.json())"))["key"]
    assert await phone.page.evaluate("asked.applicationServerKey") == key
    await phone.page.locator("#settings").get_by_role("button", name="Close", exact=True).click()
    await begin(phone)
    await judge(phone)
    await phone.taken()
    await hall.wait(120)
    await service.hears(1)
    told = read(service.came[0][1], ear.private, ear.auth).decode()

    (worker,) = phone.context.service_workers
    await worker.evaluate("told('in sight')")       # what a push comes to, and waited for
    assert await phone.page.evaluate(SHOWN) == []
    comes = await pushing(phone, told)
    await phone.page.close()
    await comes()
    await phone.open()
    shown = await phone.becomes(lambda: phone.page.evaluate(SHOWN), bool)
    assert shown == [["Sprung", "A rest is over."]]
    await phone.page.evaluate(SUBSCRIBES, to)
    await phone.page.click("#open-settings")
    await phone.page.get_by_label("Tell me while this page is closed (no names)").uncheck()
    await phone.becomes(lambda: hall.store.phones("harbour-lane-hall", "jo"), lambda found: not found[0].subscription)


async def pushing(phone: Phone, told: str) -> Callable[[], Any]:
    """Hands that to the page's service worker as a push, by the debugger of a page that has nothing to do with it."""
    tab = await phone.context.new_cdp_session(await phone.context.new_page())
    found: list[dict[str, Any]] = []
    tab.on("ServiceWorker.workerRegistrationUpdated", lambda event: found.extend(event["registrations"]))
    await tab.send("ServiceWorker.enable")
    async with asyncio.timeout(30):
        while not found:
            await asyncio.sleep(0.02)

    async def comes() -> None:
        await tab.send("ServiceWorker.deliverPushMessage", {
            "origin": phone.hall.address, "registrationId": found[-1]["registrationId"], "data": told,
        })

    return comes
