"""Gateways, their keys, and the way of unasked messages through them.

What lives here: the same as in `unit.py`, for what goes out instead of what comes in. Reads and plans only.
A message that failed is held, and with it all that comes after it for the same person; when they are let go they
get new cursors, so that whoever reads behind a cursor misses nothing.
"""
from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from bot.port import Gateway, Key
from bot.step import Refused, Said
from storage.shelf import NOBODY, Lease, Posted, Reach, Shelf, Written
from storage.unit import Done

# --- keys -----------------------------------------------------------------------------------------------

def keep_key(shelf: Shelf, gateway: Gateway, key: Key) -> Done[None]:
    """Keep a key. Raises Refused where it was kept before."""
    if shelf.key(key.digest) is not None:
        raise Refused("That key was given out before; please make a new one.")
    return Done(None, Written(NOBODY, gateway=gateway, keys=(key,)))


def end_keys(shelf: Shelf, gateway: str, key: str | None) -> Done[int]:
    """End one key or all. Raises Refused where there is no such gateway, or it has no such key."""
    known = shelf.keys(gateway)
    if not known:
        raise Refused(f"There is no gateway called {gateway} here.")
    meant = [one for one in known if key in (None, one.id)]
    if not meant:
        raise Refused(f"{gateway} has no key {key}; it has {', '.join(one.id for one in known)}.")
    ended = tuple(replace(one, ended=True) for one in meant if not one.ended)
    return Done(len(ended), Written(NOBODY, keys=ended))


def gateways(shelf: Shelf) -> tuple[Gateway, ...]:
    """Those with a key that works."""
    return tuple(one for one in shelf.gateways() if not all(key.ended for key in shelf.keys(one.name)))


def hold(shelf: Shelf, lease: Lease, now: datetime) -> Done[bool]:
    """Take or keep something for one program; not while it is another's.

    One that would be another's for far longer than we ask for ourselves was taken before the clock was set back.
    """
    known = shelf.lease(lease.name)
    longest = now + 2 * max(lease.until - now, timedelta())
    if known is not None and known.holder != lease.holder and now < known.until <= longest:
        return Done(False)
    return Done(True, Written(NOBODY, lease=lease))


# --- what goes out --------------------------------------------------------------------------------------

def addressed(shelf: Shelf, written: Written) -> Written:
    """What was said unasked, with the way that it takes: the gateway through which that person was last heard."""
    unasked = [one for one in written.said if one.in_reply_to is None]
    reach = shelf.reach(written.club, written.person) if unasked else None
    if reach is None or not reach.via:
        return written
    held = shelf.held(reach.via, written.club, written.person)
    ways = tuple(_way(one, reach, held) for one in unasked)
    return replace(written, released=ways) if held is None else replace(written, posted=ways)


def _way(said: Said, reach: Reach, held: datetime | None) -> Posted:
    return Posted(said.id, said.club, said.person, said.seq, reach, said.at, held_until=held)


def settle(shelf: Shelf, gateway: str, message: str, retry_at: datetime | None) -> Done[bool]:
    """A message is out or given up; or it failed, and waits with all that comes after it."""
    one = shelf.posted(message)
    if one is None or one.reach.via != gateway:
        return Done(False)
    if one.settled:
        return Done(True)
    if retry_at is None:
        return Done(True, Written(one.club, posted=(_settled(one),)))
    later = [other for other in shelf.waiting(gateway, one.club, one.person) if other.seq >= one.seq]
    held = tuple(
        replace(other, cursor=None, held_until=retry_at, tries=other.tries + (other.id == message)) for other in later
    )
    return Done(True, Written(one.club, posted=held))


def _settled(one: Posted) -> Posted:
    return replace(one, cursor=None, held_until=None)


def release(shelf: Shelf, now: datetime, said_since: datetime, club: str | None = None) -> Done[tuple[int, int]]:
    """Let go what waited long enough, give up what waited too long: everybody's, or one club's."""
    found = shelf.overdue(now, said_since, club)
    if not found:
        return Done((0, 0))
    old = tuple(_settled(one) for one in found if one.at < said_since)
    due = tuple(replace(one, held_until=None) for one in found if one.at >= said_since)
    return Done((len(due), len(old)), Written(NOBODY, posted=old, released=due))
