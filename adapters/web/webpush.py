"""Word to a phone whose page is closed: Web Push (RFC 8030), encrypted (RFC 8291), signed with our own key (RFC 8292).

What lives here: which push services are written to, what they are told, and how. A lock screen is for all eyes, so
nobody is named on it; the page tells the rest once it is open. It is a hint: one that is lost costs a glance at the
page, so it is tried once.
"""
from __future__ import annotations

import asyncio
import base64
import json
import logging
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from aiohttp import ClientError, ClientSession, ClientTimeout

from bot.port import Phone, Store, Subscription
from bot.step import Refused, Said

REST_IS_OVER, SOMETHING = "A rest is over.", "There is something new."
SERVICES = (
    "https://fcm.googleapis.com", "https://*.push.services.mozilla.com", "https://*.push.apple.com",
    "https://*.notify.windows.com",
)
"""The push services of browsers' makers. A phone names where it wants to be told, and we write to no other place."""

PLAIN = re.compile(r"https?://[a-z0-9.-]+(:[0-9]+)?")     # nothing that two readers of a URL could read differently
KEPT_FOR = timedelta(minutes=5)     # a rest that was over long ago is no news
SIGNED_FOR = timedelta(hours=1)     # RFC 8292 allows a day
TIMEOUT_S = 10.0
AT_ONCE = 50                        # so many are written to at the same time
MISSING = "Web Push needs more than the base install; run: pip install 'sprung[webpush]'"
MAKE_ONE = "make one with: sprung webpush-key FILE"
LOG = logging.getLogger("sprung.web")


class NoWebPush(Exception):
    """It can't be used; the text says why and what would do."""


@dataclass(frozen=True, slots=True)
class ServerKey:
    """The key by which push services know us, and whom they may write to about it (`mailto:` or `https:`)."""

    vapid: Any
    contact: str

    @property
    def public(self) -> str:
        """What a browser is given to subscribe with: an uncompressed point of P-256, base64url."""
        from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

        point = self.vapid.public_key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        return base64.urlsafe_b64encode(point).rstrip(b"=").decode()

    def headers(self, endpoint: str, at: datetime) -> dict[str, str]:
        """The signature for one push service."""
        claims = {"aud": _origin(endpoint), "sub": self.contact, "exp": int((at + SIGNED_FOR).timestamp())}
        signed: dict[str, str] = self.vapid.sign(claims)
        return signed


def make_key(path: Path) -> None:
    """A new key in a new file that only its owner can read. Raises NoWebPush."""
    vapid = _library()()
    vapid.generate_keys()
    try:
        path.touch(mode=0o600, exist_ok=False)
        path.write_bytes(vapid.private_pem())
    except FileExistsError:
        raise NoWebPush(f"{path} is there already; name another file, or use that one") from None
    except OSError as error:
        raise NoWebPush(f"{path} can't be written: {error.strerror}") from None


def read_key(path: Path, contact: str) -> ServerKey:
    """The key in a file. Raises NoWebPush."""
    library = _library()
    if urlsplit(contact).scheme not in ("mailto", "https"):
        raise NoWebPush(f'webpush_contact is an address, as in mailto:office@hall.example; it is "{contact}"')
    try:
        return ServerKey(library.from_pem(path.read_bytes()), contact)
    except OSError as error:
        raise NoWebPush(f"{path} can't be read: {error.strerror}; {MAKE_ONE}") from None
    except Exception:       # whatever the library makes of it
        raise NoWebPush(f"{path} holds no key of ours; {MAKE_ONE}") from None


def _library() -> Any:
    try:
        from py_vapid import Vapid02  # type: ignore[import-untyped]
    except ImportError:
        raise NoWebPush(MISSING) from None
    return Vapid02


def _origin(endpoint: str) -> str:
    where = urlsplit(endpoint)
    return f"{where.scheme}://{where.netloc}"


def word(said: Said) -> str:
    """What a lock screen may show of a message."""
    at_a_line = any(getattr(choice.tap, "line", None) is not None for choice in said.choices)
    return REST_IS_OVER if at_a_line else SOMETHING


class WebPush:
    """Writes to push services, beside everything else that goes on."""

    def __init__(
        self, key: ServerKey, store: Store, session: ClientSession, now: Callable[[], datetime],
        services: Sequence[str] = SERVICES, tried: Callable[[str], object] = lambda how: None,
    ) -> None:
        """`tried` hears what came of each try: delivered or failed."""
        self._tried = tried
        self.public = key.public
        self._key, self._store, self._session, self._now, self._services = key, store, session, now, services
        self._slots = asyncio.Semaphore(AT_ONCE)
        self._tasks: set[asyncio.Task[None]] = set()

    def fault(self, to: Subscription) -> str | None:
        """What is wrong with a subscription; None: it can be used."""
        origin = _origin(to.endpoint)
        if not PLAIN.fullmatch(origin) or not any(fnmatchcase(origin, one) for one in self._services):
            return "that is no push service of a browser's maker that we know"
        try:
            encrypted("", to)
        except Exception:       # whatever the library makes of such keys
            return "the keys are not those of a browser"
        return None

    def tell(self, said: Iterable[Said]) -> None:
        """Let each person's phones know that they were told something. Returns at once."""
        latest = {(one.club, one.person): one for one in said if one.in_reply_to is None}
        for one in latest.values():
            task = asyncio.create_task(self._tell(one))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    async def stop(self) -> None:
        """Let go of what is under way."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    async def _tell(self, said: Said) -> None:
        try:
            async with self._slots:
                for phone in await self._store.phones(said.club, said.person):
                    if phone.subscription is not None:
                        await self._send(phone, phone.subscription, word(said))
        except Refused as busy:
            LOG.warning("the phones of somebody who was told something could not be looked up", exc_info=busy)

    async def _send(self, phone: Phone, to: Subscription, text: str) -> None:
        status = await self._post(to, text)
        self._tried("delivered" if status is not None and status < 300 else "failed")
        if status in (404, 410):        # RFC 8030, 7.3: nobody hears there any more
            await self._store.subscribe(phone.club, phone.person, phone.id, None)
        elif status is None or status >= 300:
            LOG.warning("a push service did not take word for a phone (%s)", status or "no answer")

    async def _post(self, to: Subscription, text: str) -> int | None:
        headers = {
            **self._key.headers(to.endpoint, self._now()), "Content-Encoding": "aes128gcm", "Topic": "sprung",
            "TTL": str(int(KEPT_FOR.total_seconds())), "Urgency": "high",
        }
        try:
            async with self._session.post(
                to.endpoint, data=encrypted(text, to), headers=headers, allow_redirects=False,
                timeout=ClientTimeout(total=TIMEOUT_S),
            ) as response:
                return response.status
        except (ClientError, TimeoutError, OSError):
            return None


def encrypted(text: str, to: Subscription) -> bytes:
    """`{"text": …}` as only that browser can read it."""
    from pywebpush import WebPusher  # type: ignore[import-untyped]

    keys = {"endpoint": to.endpoint, "keys": {"p256dh": to.p256dh, "auth": to.auth}}
    body: bytes = WebPusher(keys).encode(json.dumps({"text": text}).encode())["body"]
    return body
