"""Bearer keys: making them, and who is behind one that comes in.

What lives here: a key leaves the program once, when it is made; only its digest is kept.
"""
from __future__ import annotations

import base64
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from urllib.parse import urlsplit

from adapters.http.problems import Problem
from bot.port import Gateway, Key, Store

NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
TAKEN = frozenset({"console", "hall", "wake", "web"})     # what the program calls its own messages
HERE = frozenset({"localhost", "127.0.0.1", "::1"})
TRUSTED_S = 2.0         # so long a key that worked is not looked up again: an ended one stops within it
SIGN = {"WWW-Authenticate": 'Bearer realm="sprung"'}


class NoGateway(ValueError):
    """That can't be a gateway's name or address; the text says why."""


@dataclass(frozen=True, slots=True)
class Made:
    """What is shown once."""

    key: str
    gateway: Gateway


def digest_of(key: str) -> str:
    """What is kept of a key. It is long and random, so a plain digest gives nothing away."""
    return sha256(key.encode("utf-8", "surrogatepass")).hexdigest()


def gateway_of(name: str, push: str | None, before: Gateway | None) -> Gateway:
    """The gateway as it is from now on: pushed to as before, or to another URL with a new secret.

    Raises NoGateway.
    """
    if not NAME.fullmatch(name) or name in TAKEN:
        raise NoGateway(f'"{name}" can\'t be a gateway\'s name: use small letters, digits and hyphens, such as my-sms')
    if push is None:
        return before or Gateway(name)
    if push == "off":
        return Gateway(name)
    where = urlsplit(push)
    if not where.hostname or not (where.scheme == "https" or (where.scheme == "http" and where.hostname in HERE)):
        raise NoGateway(
            f'"{push}" is nowhere to send names of children to: give an https address, or one of this machine'
        )
    return Gateway(name, push, "whsec_" + base64.b64encode(secrets.token_bytes(32)).decode())


async def new_key(store: Store, name: str, push: str | None) -> Made:
    """Make a key for a gateway, keep its digest. Raises NoGateway."""
    before = {one.name: one for one in await store.gateways()}
    gateway = gateway_of(name, push, before.get(name))
    id_ = f"spr_{secrets.token_hex(4)}"
    key = f"{id_}_{secrets.token_urlsafe(32)}"
    await store.keep_key(gateway, Key(digest_of(key), id_, name))
    return Made(key, gateway)


async def end(store: Store, name: str, which: str) -> int:
    """End a key, named whole or by its id, or `all` of a gateway's; how many worked until now."""
    return await store.end_keys(name, None if which == "all" else "_".join(which.split("_")[:2]))


class Keyring:
    """Who is behind a header `Authorization`. `now` is any clock in seconds that never goes back."""

    def __init__(self, store: Store, now: Callable[[], float]) -> None:
        self._store = store
        self._now = now
        self._trusted: dict[str, tuple[str, float]] = {}

    async def gateway(self, header: str | None) -> str:
        """The name of the gateway. Raises Problem: 401 where there is no such key, 403 where it was ended."""
        scheme, _, key = (header or "").partition(" ")
        if scheme.lower() != "bearer" or not key.strip():
            raise Problem(401, "Say who you are: Authorization: Bearer KEY. A key is made by: sprung key GATEWAY",
                          headers=SIGN)
        digest = digest_of(key.strip())
        known = self._trusted.get(digest)
        if known is not None and self._now() < known[1]:
            return known[0]
        return await self._looked_up(digest)

    async def _looked_up(self, digest: str) -> str:
        self._trusted.pop(digest, None)
        key = await self._store.key(digest)
        if key is None:
            raise Problem(401, "There is no such key. A new one is made by: sprung key GATEWAY", headers=SIGN)
        if key.ended:
            raise Problem(403, f"The key {key.id} was ended. A new one is made by: sprung key {key.gateway}")
        self._trusted[digest] = (key.gateway, self._now() + TRUSTED_S)
        return key.gateway
