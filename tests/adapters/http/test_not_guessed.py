"""What lets somebody in can't be guessed: how many tries there are in its lifetime, against how many there would be.

The goal is what NIST SP 800-63B (revision 3, from memory) lets pass at worst: a look-up secret of 20 bits (5.1.2.1) and
100 tries at it (5.2.2). Ours is stricter: no code of ten thousand that are open, in all the programs of a large
service together.
"""
from __future__ import annotations

import base64
import math
from collections.abc import AsyncIterator, Awaitable, Callable
from datetime import timedelta
from pathlib import Path

import pytest
import pytest_asyncio
from aiohttp import ClientSession, CookieJar

from adapters.codes import ALPHABET, LENGTH, VALID, invitation, new_code
from adapters.http.limits import Limits, Rate
from storage.unit import digest_of
from tests.adapters.http.api import PHONES, START, Api, Gateway

NIST = 100 / 2**20
PROGRAMS, OPEN_CODES, OURS = 100, 10_000, 1 / 1_000     # on one database; codes handed out and not used yet
YEAR = timedelta(days=365)
LIMITS = Limits()
CODES = len(ALPHABET) ** LENGTH
Limited = Callable[[Limits], Awaitable[Api]]
ATTEMPT = "0b1f0a52-9d5e-4a53-8f66-00000000000"


def tries(rate: Rate, within: timedelta = VALID) -> float:
    """How often something can be tried in that time."""
    return rate.at_once + rate.a_second * within.total_seconds()


# --- reckoned -------------------------------------------------------------------------------------------

@pytest.mark.parametrize("rate", [LIMITS.codes, LIMITS.joins, LIMITS.all_codes], ids=["sender", "address", "all"])
def test_a_code_is_not_guessed_while_it_is_good(rate: Rate) -> None:
    """By one sender, from one address, or by all at all programs together, in the two weeks of a code."""
    assert tries(rate) * PROGRAMS / CODES < NIST / 1_000


def test_not_one_of_all_open_codes_is_guessed() -> None:
    """Whoever doesn't care whose code it is has ten thousand to hit: a chance of one in a thousand, at most.

    With one program it is less than one in ten thousand in a whole year of trying.
    """
    assert tries(LIMITS.all_codes) * PROGRAMS * OPEN_CODES / CODES < OURS
    assert tries(LIMITS.all_codes, YEAR) * OPEN_CODES / CODES < OURS / 10


def test_what_one_may_try_leaves_room_for_others() -> None:
    """It takes more than thirty addresses to use up what all may try: nobody keeps a club out alone."""
    assert LIMITS.all_codes.at_once / LIMITS.joins.at_once > 30
    assert LIMITS.all_codes.at_once / LIMITS.codes.at_once > 30


def test_codes_are_evenly_drawn() -> None:
    """Each sign of a code comes as often as any other, in each place: the bits are all there (chi-square, 99.9 %)."""
    several = 4_000
    drawn = [new_code() for _ in range(several)]
    expected = several / len(ALPHABET)
    for place in range(LENGTH):
        found = [sum(code[place] == sign for code in drawn) for sign in ALPHABET]
        assert sum((one - expected) ** 2 / expected for one in found) < 95      # 31 degrees: 61.1 at 99.9 %, and luck
    assert math.log2(CODES) == 50


async def test_keys_and_cookies_hold_256_bits(api: Api, gate: Gateway) -> None:
    """They need no limit: a million tries a second at each program for a hundred years come nowhere near."""
    (secret,) = [await came_in(api, "jo")]
    for one in (secret, gate.key.split("_", 2)[2]):
        bits = 8 * len(base64.urlsafe_b64decode(one + "="))
        assert bits == 256
        assert 1e6 * PROGRAMS * 100 * YEAR.total_seconds() / 2.0**bits < 1e-50


async def came_in(api: Api, person: str, **headers: str) -> str:
    """Come in at the page with a good code; the secret that is in the cookie."""
    code = await open_code(api, person)
    async with ClientSession(cookie_jar=CookieJar(unsafe=True)) as session:
        status, secret = await join(api, session, code, **headers)
        assert status == 204
        return secret


async def open_code(api: Api, person: str) -> str:
    """A good code."""
    (club,) = await api.store.clubs()
    (found,) = [one for one in await api.store.people(club.id) if one.id == person]
    code = new_code()
    await api.store.invite(invitation(club.id, START, person=found), code)
    return code


async def join(api: Api, session: ClientSession, code: str, **headers: str) -> tuple[int, str]:
    """Try a code at the page; the status, and the secret."""
    base = f"http://127.0.0.1:{api.port}"
    body = {"code": code, "attempt": f"{ATTEMPT}{code}"}
    async with session.post(f"{base}/web/join", json=body, headers={"Origin": base, **headers}) as response:
        cookie = response.cookies.get("sprung")
        return response.status, cookie.value if cookie else ""


# --- tried ------------------------------------------------------------------------------------------------

@pytest_asyncio.fixture()
async def limited(filled: Path) -> AsyncIterator[Limited]:
    """The API with these limits."""
    made: list[Api] = []

    async def start(limits: Limits) -> Api:
        api = Api(filled, limits=limits)
        made.append(api)
        await api.start()
        return api

    yield start
    for api in made:
        await api.stop()
        await api.session.close()


@pytest.mark.parametrize("spelled", [
    "join", "JOIN:", "  Join", "ｊｏｉｎ", "jóin", "j\u00adoin", "jo'in", "j\u200boin", "𝐣𝐨𝐢𝐧", "JOİN",
    "\u202ejoin", "join-",
])
async def test_a_try_is_one_however_it_is_spelled(limited: Limited, spelled: str) -> None:
    """Whatever is read as a code that somebody sends is counted as one."""
    api = await limited(Limits(codes=Rate(1 / 360, 2)))
    gate = await api.gateway()
    code = await open_code(api, "ines")
    nobody = "+447700900777"
    assert [(await gate.send(gate.message(f"{spelled} A{n}", nobody))).status for n in range(3)] == [200, 200, 429]
    assert (await gate.send(gate.message(f"{spelled} {code}", nobody))).status == 429
    assert (await gate.send(gate.message("joining us?", nobody))).status == 200


async def test_all_tries_together_are_bounded(limited: Limited) -> None:
    """A try by each of many senders, and at the page, is one of a bounded number; then nobody's is looked at."""
    api = await limited(Limits(all_codes=Rate(1 / 4, 4)))
    gate, session = await api.gateway(), api.session
    for n in range(2):
        assert (await gate.send(gate.message("join A1", f"+44770090078{n}"))).status == 200
        assert (await join(api, session, f"AAAA{n}"))[0] == 403
    code = await open_code(api, "ines")
    assert (await gate.send(gate.message("join A1", "+447700900785"))).status == 429
    assert (await join(api, session, code))[0] == 429
    api.clock.move_to(api.clock.now() + timedelta(seconds=4))
    assert (await join(api, session, code))[0] == 204


async def test_a_right_code_costs_nothing(limited: Limited) -> None:
    """Any number may come in with good codes from one address, by message or at the page."""
    api = await limited(Limits(codes=Rate(1 / 360, 1), joins=Rate(1 / 360, 1), all_codes=Rate(1 / 360, 1)))
    gate = await api.gateway()
    for n in range(3):
        await came_in(api, "jo")
        said = await gate.says(f"join {await open_code(api, 'ines')}", f"+44770090077{n}")
        assert said[0]["text"].startswith("Welcome")
    assert (await gate.send(gate.message("join A1", "+447700900778"))).status == 200
    assert (await gate.send(gate.message("join A1", "+447700900779"))).status == 429


@pytest.mark.parametrize(("first", "then", "status"), [
    ("2001:db8::1", "2001:db8::ffff:2", 429), ("2001:db8::1", "2001:db8:0:1::1", 403), ("192.0.2.1", "192.0.2.2", 403),
    ("192.0.2.1", "::ffff:192.0.2.1", 429), ("192.0.2.9, 192.0.2.1", "192.0.2.8,192.0.2.1", 429),
])
async def test_whoever_has_a_network_has_one_address(limited: Limited, first: str, then: str, status: int) -> None:
    """Behind a server in front of us its last word counts; the 64 bits of an IPv6 network are one place."""
    api = await limited(Limits(joins=Rate(1 / 360, 1)))
    assert (await join(api, api.session, "AAAA1", **{"X-Forwarded-For": first}))[0] == 403
    assert (await join(api, api.session, "AAAA2", **{"X-Forwarded-For": then}))[0] == status


# --- what is no secret, and what is kept of those that are ----------------------------------------------------

async def test_a_choices_id_is_no_secret(api: Api, gate: Gateway) -> None:
    """Anybody may know it: it does nothing for anybody but whom it was offered to."""
    for text in ("start tuesday", "everyone"):
        await gate.says(text)
    (line,) = await gate.says("go")
    seen = line["choices"][0]["id"]
    for who in ("ines", "+447700900777"):
        (answer,) = (await (await gate.send(gate.message(person=who, choice=seen))).json())["replies"]
        assert "not known" in answer["text"] or "join CODE" in answer["text"]
    assert "seen" in (await gate.taps("All seen", [line]))[0]["text"]


async def test_another_gateways_message_is_not_there(api: Api, gate: Gateway) -> None:
    """The id of an unasked message, which can be reckoned, is of no use to another gateway."""
    for text in ("start tuesday", "everyone", "go", "all seen"):
        await gate.says(text)
    await gate.says("next", "sam")
    await api.pass_time(120)
    (waiting, *_), _ = await gate.outbox()
    other = await api.gateway("other")
    assert await other.report(waiting, "delivered") == 404
    assert await gate.report(waiting, "delivered") == 204


async def test_no_secret_is_kept_in_clear(api: Api, gate: Gateway, filled: Path) -> None:
    """Neither a code, nor a cookie, nor a key is in the file, in any spelling; the code's digest is."""
    code, cookie = await open_code(api, "ines"), await came_in(api, "jo")
    await gate.says(f"join {code}", PHONES["sam"])
    copy = f"{filled}.copy"
    await api.store.backup(copy)
    kept = Path(copy).read_bytes()
    assert digest_of(code).encode() in kept
    for secret in (code, code.lower(), cookie, gate.key, gate.key.split("_", 2)[2]):
        assert secret.encode() not in kept
