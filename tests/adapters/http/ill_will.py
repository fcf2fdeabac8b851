"""Whoever means ill: two clubs full of canaries, and everything that somebody may send to a running program.

Every name is made of canaries, words that begin with `zyx`. Whoever means ill knows two first names of each club and
nearly knows the others, so any other canary in an answer is a leak, but for a coach's of their own club. Nothing here
is a test.
"""
from __future__ import annotations

import asyncio
import gzip
import json
import random
import re
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from aiohttp import ClientError, ClientSession, CookieJar

from adapters.codes import invitation, new_code
from bot.people.hall import Hall, read_hall
from bot.port import Store
from storage import open_store

AT = datetime(2026, 11, 24, 16, 58, tzinfo=UTC)
OWN = "Wilma Ownchild"      # the parent's, and nobody else's
SCHEME = """
[scheme]
name = "Bench"
[[award]]
id = "one"
name = "One"
  [[award.skill]]
  id = "hop"
  name = "Hop"
  [[award.skill]]
  id = "stand"
  name = "Stand"
  points = [{id = "tall", label = "Stands tall"}]
  shows = [{seconds = 20}, {seconds = 20, rest_s = 60}]
"""
CANARY = re.compile(r"zyx[a-z]*", re.IGNORECASE)
KNOWN = ("ava", "ben")
NAMES = ["ava", "ben", "chidi", "dara", "efa", "finn", "gus", "hana", "ivy", "kemi"]
TYPED = [
    "start", "start {class_}", "close", "{child} seen", "{child}, {child} and {child} seen hop", "all seen", "none yet",
    "not {child}", "not 2", "{child} not yet tall", "at 16:59: {child} seen hop", "{child} away", "add {child}",
    "red is {child} {child}", "red seen hop", "pause", "carry on", "bump {child}", "later {child} 3 weeks", "undo",
    "owed", "owed {child}", "resting", "standard", "standard hop", "next", "skip", "plan", "pace", "awards", "agreed",
    "agree {child} hop: seated", "hold news {child}", "release {child}", "cut off {child}", "help", "everyone", "yes",
    "no", "1", "7", "join {code}", "what now", "who", "{coach}", "day before", "lines of 3", "{child} hop",
    "'; DROP TABLE child; --", "=cmd|' /C calc'!A0", "<img src=x onerror=alert(1)>", "{child}\n{child} seen", "STOP",
]
WRONG: list[Any] = [None, True, 7, 1e308, -0.0, [], {}, ["a"], {"a": 1}, "", "\0", "x" * 5000, "2026-11-24T16:58:00Z"]
METHODS = ["GET", "POST", "PUT", "PATCH", "DELETE", "HEAD", "OPTIONS", "TRACE", "PROPFIND"]
PATHS = [
    "/", "/v1/messages", "/v1/outbox", "/v1/outbox/{id}/delivered", "/v1/outbox/{id}/failed", "/v1/openapi.json",
    "/healthz", "/readyz", "/metrics", "/app.css", "/worker.js", "/js/main.js", "/web/join", "/web/out", "/web/phones",
    "/web/phones/end", "/web/phones/subscribe", "/web/messages", "/web/said", "/web/sheet", "/web/cards", "/web/stream",
    "/js/../../phones.py", "/%2e%2e/%2e%2e/etc/passwd", "/v1/%00", "/web/said?after={id}&wait=0", "/static/",
    "/.git/HEAD",
    "/v1/outbox?after={id}&wait=0",
    "/%0aERROR%20sprung%3A%20forged", "//elsewhere.example/", "/web/sheet?club=b",
]


def club(letter: str) -> Hall:
    """A club in which every name of a child, coach or class is a canary, but for a parent's own child and her class."""
    people = "".join(
        f'[[person]]\nid = "{one}"\nname = "Zyx{letter}{one} Zyx{letter}marsh"\nrole = "{role}"\n'
        for one, role in (("jo", "coach"), ("sam", "assistant"), ("ines", "coach"), ("kit", "helper"))
    )
    classes = "".join(
        f'[[class]]\nid = "{id_}"\nname = "Zyx{letter}{id_}"\nday = "tuesday"\nstart = "17:00"\nminutes = 60\n'
        f'coach = "{coach}"\nassistant = "sam"\n' for id_, coach in (("tue", "jo"), ("gym", "ines"))
    )
    rows = [f"Zyx{letter}{name} Zyx{letter}price,{class_},one," for class_, several in (("tue", NAMES[:5]),
            ("gym", NAMES[5:])) for name in several]
    rows += [f"{OWN},tue,one,"] if letter == "a" else []
    return read_hall(SCHEME, f'name = "Club {letter}"\n{classes}{people}', "child,class,award,has\n" + "\n".join(rows))


@dataclass
class Person:
    """Somebody who can be heard by a gateway, and perhaps at the page."""

    number: str
    code: str = ""
    letter: str = ""        # of a coach: whose canaries are their own club's
    web: ClientSession | None = None
    taps: list[str] = field(default_factory=list)


PEOPLE = {"jo a": "+447700900001", "jo b": "+447700900002", "parent": "+447700900003"}


async def fill(path: Path) -> dict[str, str]:
    """Both clubs, their people on phones, and codes for the page; who → code."""
    store = open_store(str(path))
    codes = {}
    for letter in "ab":
        await store.load(club(letter), AT)
        await store.meet("sms", PEOPLE[f"jo {letter}"], f"club-{letter}", "jo")
    for who in ("jo b", "parent"):
        codes[who] = await _invited(store, who)
    codes["by message"] = await _invited(store, "parent")
    await store.close()
    return codes


async def _invited(store: Store, who: str) -> str:
    code, coach = new_code(), None
    if who == "parent":
        books = (await store.snapshot("club-a")).books
        (child,) = [one.id for one in books["tue"].children.values() if one.name == OWN]
        await store.invite(invitation("club-a", AT, child=child), code)
    else:
        (coach,) = [one for one in await store.people("club-b") if one.id == "jo"]
        await store.invite(invitation("club-b", AT, person=coach), code)
    return code


# --- what is sent ---------------------------------------------------------------------------------------

CANARIES = {
    f"zyx{letter}{word}" for letter in "ab"
    for word in (*NAMES, "price", "marsh", "jo", "sam", "ines", "kit", "tue", "gym") if word not in KNOWN
}


class Fuzz:
    """Sends so much of everything to a program, and looks at what comes back. `faults`: what should not have been."""

    def __init__(self, base: str, key: str, codes: dict[str, str], seed: int) -> None:
        self.base, self.key, self.codes = base, key, codes
        self.random = random.Random(seed)
        self.statuses: Counter[int] = Counter()
        self.faults: list[str] = []
        self.sent = 0
        self.ids: list[str] = ["m_1_0", "0"]
        self.coachs_taps: list[str] = []        # of the other club's and class's: nobody else's to tap
        self.old: list[dict[str, Any]] = []

    async def begin(self, session: ClientSession) -> None:
        """Open a lesson of club a, whose choices are then other people's; let the parent and the coach of b in."""
        self.session = session
        self.people = {who: Person(number) for who, number in PEOPLE.items() if who != "jo a"}
        self.people["jo b"].letter = "b"
        coach = Person(PEOPLE["jo a"], letter="a")
        for text in ("start", "everyone", "go", "Zyxaava seen stand"):
            answer = await self._post_message(coach.number, text=text)
            self.coachs_taps += [one["id"] for said in answer["replies"] for one in said["choices"]]
            self.ids += [said["id"] for said in answer["replies"]]
        await self._post_message(PEOPLE["parent"], text="join " + self.codes["by message"])
        await self._post_message(PEOPLE["parent"], text="yes")
        for number, who in enumerate(("jo b", "parent")):
            web = ClientSession(cookie_jar=CookieJar(unsafe=True))
            self.people[who].web = web
            asked = {"code": self.codes[who], "attempt": f"0b1f0a52-9d5e-4a53-8f66-00000000000{number}"}
            async with web.post(f"{self.base}/web/join", json=asked, headers={"Origin": self.base}) as response:
                assert response.status == 204, await response.text()
        for n in range(200):
            self.people[f"outsider {n}"] = Person(f"+4477009{n + 500:05}" if n >= 500 else f"+447700900{n + 100:03}")

    async def end(self) -> None:
        """Let go of the pages."""
        for one in self.people.values():
            if one.web is not None:
                await one.web.close()

    async def _post_message(self, number: str, **more: Any) -> Any:
        self.sent += 1
        message = {"id": f"b-{self.sent}", "channel": "sms", "sender": number, "sent_at": AT.isoformat(), **more}
        headers = {"Authorization": f"Bearer {self.key}"}
        async with self.session.post(f"{self.base}/v1/messages", json=message, headers=headers) as response:
            assert response.status == 200, await response.text()
            return await response.json()

    async def run(self, several: int, at_once: int = 8) -> None:
        """That many, each of a kind that is drawn; some at the same time."""
        left = iter(range(several))

        async def sender() -> None:
            for _ in left:
                await self.random.choices(
                    (self._by_gateway, self._by_page, self._by_wrong_key, self._anywhere, self._no_http),
                    (50, 25, 10, 14, 1),
                )[0]()

        await asyncio.gather(*(sender() for _ in range(at_once)))

    def text(self) -> str:
        """Something that is typed."""
        draw = self.random
        kind = draw.random()
        if kind < 0.6:
            typed = draw.choice(TYPED)
            return re.sub(r"\{(\w+)\}", lambda slot: self._word(slot[1]), typed)
        if kind < 0.9:
            return unicode(draw, draw.choice((1, 8, 60, 300)))
        return draw.choice((unicode(draw, 2100), "a " * 1000, "ava, " * 399, "=1+1", "\u202e" + "neeS", "7" * 3000))

    def _word(self, slot: str) -> str:
        draw = self.random
        if slot == "code":
            return "".join(draw.choices("0123456789ABCDEFGHJKMNPQRSTVWXYZ", k=10))
        word = {"child": draw.choice([*NAMES, "Wilma"]), "class_": draw.choice(("tue", "gym")), "coach": "jo"}[slot]
        if word == "Wilma" or draw.random() < 0.4:
            return word
        name = f"zyx{draw.choice('ab')}{word}"
        return name if word in KNOWN else draw.choice((name[:-1], f"{name[:4]}q{name[4:]}"))     # no cut of it is one

    def choice(self, person: Person) -> str:
        """Something that is tapped: live, stale, another's, forged."""
        draw = self.random
        kind = draw.random()
        if kind < 0.4 and person.taps:
            return draw.choice(person.taps)
        if kind < 0.7:
            return draw.choice(self.coachs_taps)
        if kind < 0.9:
            return f"c_{draw.choice((0, 1, 2, 3, 2**31, 2**63, -1))}_{draw.getrandbits(48):012x}"
        return unicode(draw, 40)

    def message(self, person: Person, page: bool) -> Any:
        """A message, mostly as it should be."""
        draw = self.random
        self.sent += 1
        message: dict[str, Any] = {"id": f"f-{self.sent}", "sent_at": AT.isoformat()}
        if not page:
            message |= {"channel": "sms", "sender": person.number}
        if draw.random() < 0.65:
            message["text"] = self.text()
        else:
            message["choice"] = self.choice(person)
        kind = draw.random()
        if kind < 0.08 and self.old:        # an id that was used, with the same words or others
            old = draw.choice(self.old)
            mine = old.get("sender") == message.get("sender")
            message = dict(old) if mine and draw.random() < 0.5 else {**message, "id": old.get("id")}
        elif kind < 0.2:
            message[draw.choice([*message, "text", "choice", "x", unicode(draw, 5)])] = draw.choice(WRONG)
        elif kind < 0.23:
            message.pop(draw.choice(list(message)))
        elif kind < 0.26:
            message["sent_at"] = draw.choice(("0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "2026-11-24T16:58:00",
                                              "2026-11-24T17:58:00Z", "2026-11-23T10:00:00-23:59", unicode(draw, 20)))
        elif kind < 0.29 and not page:
            message["channel"] = draw.choice(("web", "console", "play", "sms", "telegram", unicode(draw, 10)))
            message["sender"] = draw.choice((person.number, "club-a/jo", "jo", unicode(draw, 30)))
        if len(self.old) < 500:
            self.old.append(message)
        return message

    def body(self, value: Any) -> tuple[bytes, dict[str, str]]:
        """As it goes over the line, or spoiled."""
        draw = self.random
        headers = {"Content-Type": "application/json"}
        sent = json.dumps(value, ensure_ascii=draw.random() < 0.5).encode("utf-8", "surrogatepass")
        kind = draw.random()
        if kind < 0.9:
            return sent, headers
        return draw.choice((
            lambda: (sent[:draw.randrange(len(sent))], headers),
            lambda: (draw.randbytes(300), headers),
            lambda: (b"[" * 60_000, headers),
            lambda: (b'{"id":' * 9_000, headers),
            lambda: (b" " * 2**20 + sent, headers),
            lambda: (json.dumps({"id": "x" * 2**20}).encode(), headers),
            lambda: (b'{"id": 1' + b"0" * 60_000 + b"}", headers),
            lambda: (sent, {"Content-Type": draw.choice(("text/plain", "x", "multipart/form-data", ""))}),
            lambda: (sent, {**headers, "Content-Encoding": draw.choice(("gzip", "deflate", "br", "zstd"))}),
            lambda: (GZIPPED, {**headers, "Content-Encoding": "gzip"}),
        ))()

    # --- who sends ---

    def anybody(self) -> Person:
        """One of the coach of b, the parent and many who are unknown."""
        kind = self.random.random()
        return self.people["jo b" if kind < 0.35 else "parent" if kind < 0.7 else
                           f"outsider {self.random.randrange(200)}"]

    async def _by_gateway(self) -> None:
        person = self.anybody()
        message = self.message(person, page=False)
        body, headers = self.body(message)
        answer = await self._ask("POST", "/v1/messages", person, body,
                                 {**headers, "Authorization": f"Bearer {self.key}"})
        self._note(person, answer, "replies")

    async def _by_page(self) -> None:
        draw, person = self.random, self.anybody()
        if draw.random() < 0.5:
            body, headers = self.body(self.message(person, page=True))
            answer = await self._ask("POST", "/web/messages", person, body, {**headers, **self._origin()}, page=True)
            self._note(person, answer, "said")
            return
        path = draw.choice(("sheet", "cards", "said?after=0", "phones", "join", "phones/subscribe", "phones/end"))
        method = "POST" if path in ("join", "phones/subscribe", "phones/end") else "GET"
        body, headers = self.body({"code": self._word("code"), "attempt": "x" * 30} if path == "join" else
                                  {"to": draw.choice(WRONG), "id": draw.choice(WRONG)})
        await self._ask(method, f"/web/{path}", person, body if method == "POST" else b"",
                        {**headers, **self._origin()}, page=True)

    def _origin(self) -> dict[str, str]:
        return {"Origin": self.base if self.random.random() < 0.9 else "https://elsewhere.example"}

    async def _by_wrong_key(self) -> None:
        draw = self.random
        key = draw.choice(("", "x", self.key[:-1], self.key.swapcase(), "spr_00000000_" + "A" * 43, "é" * 40))
        path = draw.choice(("/v1/messages", "/v1/outbox", "/v1/outbox/m_1_0/failed"))
        method = "GET" if path == "/v1/outbox" else "POST"
        body, headers = self.body(self.message(Person(PEOPLE["jo a"]), page=False))
        await self._ask(method, path, None, body if method == "POST" else b"",
                        {**headers, "Authorization": draw.choice(("Bearer ", "bearer ", "Basic ", "")) + key},
                        only=(401,))

    async def _anywhere(self) -> None:
        draw, person = self.random, self.anybody()
        path = draw.choice(PATHS).format(id=draw.choice(self.ids))
        if path == "/web/out" or (path.startswith("/v1/outbox/") and draw.random() < 0.5):
            person = self.people[f"outsider {draw.randrange(200)}"]
        headers = draw.choice(({}, {"X-Forwarded-For": unicode_header(draw)}, {"Range": "bytes=0-1"}, {"Host": "x"},
                               {"Accept-Encoding": "gzip"}, {"Upgrade": "websocket", "Connection": "upgrade"},
                               {"Cookie": f"sprung={'x' * 43}"}, {"If-None-Match": '"' + "x" * 900}, self._origin()))
        body, more = self.body(draw.choice(WRONG))
        await self._ask(draw.choice(METHODS), path, person, draw.choice((b"", body)), {**more, **headers},
                        page=draw.random() < 0.5)

    async def _no_http(self) -> None:
        host, port = self.base.removeprefix("http://").split(":")
        reader, writer = await asyncio.open_connection(host, int(port))
        sent = self.random.choice((b"\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", self.random.randbytes(100),
                                   b"POST /v1/messages HTTP/1.1\r\nHost: x\r\nContent-Length: 9999\r\n\r\n{",
                                   b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
                                   b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"a" * 9000 + b"\r\n\r\n"))
        writer.write(sent)
        writer.close()
        self.statuses[0] += 1
        del reader

    # --- what comes back ---

    async def _ask(
        self, method: str, path: str, person: Person | None, body: bytes, headers: dict[str, str],
        *, page: bool = False, only: tuple[int, ...] = (),
    ) -> Any:
        session = person.web if page and person is not None and person.web is not None else self.session
        headers = {name: value for name, value in headers.items() if value}
        try:
            async with session.request(method, self.base + path, data=body, headers=headers) as response:
                answer = await response.read()
                told = answer + str(dict(response.headers)).encode()
        except (ClientError, ValueError, UnicodeError, TimeoutError):     # no request, or the door was shut on it
            self.statuses[-1] += 1
            return None
        self.statuses[response.status] += 1
        self._look(f"{method} {path}", person, body, told.decode("utf-8", "replace"), response.status, only)
        try:
            return json.loads(answer)
        except ValueError:
            return None

    def _look(
        self, what: str, person: Person | None, body: bytes, told: str, status: int, only: tuple[int, ...],
    ) -> None:
        if status >= 500 or (only and status not in only):
            self.faults.append(f"{what} → {status}: {body[:200]!r} → {told[:300]!r}")
        for word in {one.lower() for one in CANARY.findall(told)} & CANARIES:
            if person is None or person.letter != word[3]:
                self.faults.append(f"{word} in {what}: {body[:200]!r} → {told[:300]!r}")
        if "Traceback" in told or 'File "' in told:
            self.faults.append(f"a traceback in {what}: {told[:300]!r}")

    def _note(self, person: Person, answer: Any, where: str) -> None:
        for said in answer.get(where, []) if isinstance(answer, dict) else []:
            person.taps = [*person.taps, *(one["id"] for one in said["choices"])][-60:]


GZIPPED = gzip.compress(b" " * 50_000_000)
UNSEEN = (0x200B, 0x200D, 0x200E, 0x202A, 0x202E, 0x2066, 0x2069, 0xFEFF, 0xAD, 0x0, 0x2028, 0x85)
PARTS: tuple[Callable[[random.Random], int], ...] = (
    lambda draw: draw.randrange(0x20), lambda draw: draw.randrange(0x20, 0x7F),
    lambda draw: draw.randrange(0x80, 0x2000), lambda draw: draw.choice(UNSEEN),
    lambda draw: draw.randrange(0xD800, 0xE000), lambda draw: draw.randrange(0x10000, 0x110000),
    lambda draw: draw.randrange(0xE000, 0x10000), lambda draw: draw.randrange(0x300, 0x370),
    lambda draw: draw.choice((0x1F44D, 0x1F3FD, 0xFDFA, 0x1D400, 0x130, 0xFB03, 0x2488)),
)


def unicode(draw: random.Random, several: int) -> str:
    """Any of Unicode: controls, halves of pairs, what turns lines round, what is not seen, what grows when folded."""
    return "".join(chr(draw.choice(PARTS)(draw)) for _ in range(draw.randint(0, several)))


def unicode_header(draw: random.Random) -> str:
    """What may stand in a header."""
    return draw.choice(("127.0.0.1", "10.0.0.1, ::1", "x" * 3000, "2001:db8::1", "::ffff:9.9.9.9", ",,,", "é"))


def rss(pid: int) -> float:
    """How much memory a process holds, in MB."""
    found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())
    assert found is not None
    return int(found[1]) / 1024


ON_LINUX = sys.platform == "linux"
