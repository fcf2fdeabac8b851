"""The browsers on which people have come in, and what is shown or fetched.

What lives here: the same as in `unit.py`, for what a page looks at. Reads and plans only.
"""
from __future__ import annotations

import dataclasses
from collections.abc import Collection
from datetime import datetime

from bot.port import Phone, Subscription
from bot.step import Desk, Heard, Refused, Said, SignedOut, Want, Wanted
from storage import unit
from storage.shelf import NOBODY, Shelf, Written
from storage.unit import Done


def keep(shelf: Shelf, phone: Phone) -> Done[None]:
    """Keep a phone. Raises Refused where it was kept before or nobody's, SignedOut where one of its id was ended."""
    if shelf.phone(phone.digest) is not None:
        raise Refused("That phone has come in already.")
    home = shelf.home(phone.club)
    if home is None or phone.person not in home.people:
        raise Refused("There is nobody of that name in this club.")
    if any(one.ended and one.id == phone.id for one in shelf.phones(phone.club, phone.person)):
        raise SignedOut("This phone was signed out. Ask your club for a new code, and come in with that.")
    return Done(None, Written(NOBODY, phones=(phone,)))


def working(shelf: Shelf, club: str, person: str) -> tuple[Phone, ...]:
    """Somebody's phones that are not ended."""
    return tuple(one for one in shelf.phones(club, person) if not one.ended)


def end(shelf: Shelf, club: str, person: str, phone: str | None) -> Done[int]:
    """End one phone or all. Raises Refused where there is no such phone."""
    known = working(shelf, club, person)
    meant = [one for one in known if phone in (None, one.id)]
    if phone is not None and not meant:
        raise Refused(f"There is no phone {phone} that is signed in.")
    ended = tuple(dataclasses.replace(one, ended=True, subscription=None) for one in meant)
    return Done(len(meant), Written(NOBODY, phones=ended))


def subscribe(shelf: Shelf, club: str, person: str, phone: str, to: Subscription | None) -> Done[None]:
    """Where a phone is told while its page is closed."""
    meant = [one for one in working(shelf, club, person) if one.id == phone]
    return Done(None, Written(NOBODY, phones=tuple(dataclasses.replace(one, subscription=to) for one in meant)))


def desk(shelf: Shelf, channel: str, address: str, now: datetime, wants: Collection[Want] = ()) -> Done[Desk]:
    """What a message from there would find, and these facts. What steps remember is left to them."""
    heard = Heard("", channel, address, now, now, text="")
    found = unit.desk_of(shelf, heard)
    more: dict[Wanted, object] = {}
    if found.club is not None:
        more |= {want: shelf.facts(found.club.id, want) for want in wants}
    return Done(dataclasses.replace(found, memo={}, more=more))


def attached(shelf: Shelf, said: Said, now: datetime) -> Done[Desk | None]:
    """What whoever a message went to may look at now; None where they are gone, or it was taken from them."""
    home = shelf.home(said.club)
    me = None if home is None else home.people.get(said.person)
    if home is None or me is None or not any(one.secret for one in shelf.said(said.club, said.person, (said.seq,))):
        return Done(None)
    return Done(unit.shown_to(shelf, home, me, now))
