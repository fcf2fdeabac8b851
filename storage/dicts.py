"""The shelf over plain dicts.

What lives here: the data of a store in memory, and how it is read and written. A transaction is a list of
what to put back.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import date, datetime
from itertools import groupby
from typing import Any

from bot.facts import Recorded, Voided
from bot.lesson.book import ClassBook
from bot.people.model import Club
from bot.port import Change, Feed, Gateway, Key, Letter, Outgoing, Phone, Queue, Sight, Trouble, Waits
from bot.step import Invitation, Joined, Said, Want
from bot.talk.state import Talk
from storage.data import Data, Pair
from storage.filing import answers, target_of, with_voids
from storage.shelf import (
    OVERDUE_AT_ONCE,
    SAID_KEPT,
    Answered,
    Due,
    Erasure,
    Everything,
    Home,
    Lease,
    Memo,
    Posted,
    Reach,
    Written,
)
from storage.sights import change, without_her


class MemoryShelf:
    """A shelf over dicts. What each method promises is said in `Shelf`."""

    def __init__(self, data: Data) -> None:
        self._data = data
        self._back: list[Callable[[], None]] = []

    def rollback(self) -> None:
        """Put back all that was written since `done`."""
        while self._back:
            self._back.pop()()

    def done(self) -> None:
        """What was written stays."""
        self._back.clear()

    # --- reading ---

    def answered(self, message: str) -> Answered | None:
        """The message of that id, if it was handled before."""
        return self._data.heard.get(message)

    def known(self, channel: str, address: str) -> Pair | None:
        """Who is behind an address."""
        return self._data.known.get((channel, address))

    def home(self, club: str) -> Home | None:
        """A club, its people and schemes."""
        return self._data.homes.get(club)

    def memo(self, home: Home, person: str) -> Memo:
        """What steps keep."""
        return self._data.memory.memo(home, person)

    def clubs(self) -> tuple[Club, ...]:
        """Every club."""
        return tuple(self._data.homes[club].club for club in sorted(self._data.homes))

    def class_ids(self, club: str) -> AbstractSet[str]:
        """The classes that something is kept of."""
        return {
            class_id for (whose, class_id), book in self._data.books.items()
            if whose == club and (book.children or book.lessons or book.groups)
        }

    def book(self, club: str, class_id: str) -> ClassBook:
        """A class's book."""
        return self._data.books.get((club, class_id)) or ClassBook(class_id, {})

    def talk(self, club: str, person: str) -> Talk | None:
        """Where somebody's talk is."""
        return self._data.talks.get((club, person))

    def said(self, club: str, person: str, seqs: Sequence[int]) -> tuple[Said, ...]:
        """What was said to somebody."""
        known = self._data.said.get((club, person), {})
        return tuple(known[seq] for seq in sorted(seqs) if seq in known)

    def facts(self, club: str, want: Want) -> tuple[Recorded, ...]:
        """What matches a want, with its voids."""
        record = self._data.record.get(club, {}).values()
        found = (one.recorded for one in record if answers(one, want))

        def voids(names: frozenset[str]) -> Iterable[Recorded]:
            return [
                one.recorded for one in record
                if isinstance(one.recorded.fact, Voided) and target_of(one.recorded.fact) in names
            ]

        return with_voids(found, voids)

    def last_fact(self, club: str) -> int:
        """The number of the last fact."""
        return max(self._data.record.get(club, {}), default=0)

    def invitation(self, digest: str) -> Invitation | None:
        """What a code opens."""
        found = self._data.invitations.get(digest)
        if found is None or found.person is None:
            return found
        home = self._data.homes.get(found.club)
        return replace(found, person=None if home is None else home.people.get(found.person.id))

    def _queue(self) -> list[tuple[datetime, str, str, str, str]]:
        return sorted(
            (one.due_at, club, one.person, class_id, key)
            for (club, class_id), book in self._data.books.items() for key, one in book.pending.items()
        )

    def due(self, until: datetime, but: AbstractSet[Pair]) -> tuple[Due, ...]:
        """What is due first."""
        due = (one for one in self._queue() if one[0] <= until and (one[1], one[2]) not in but)
        return tuple(
            Due(club, person, at, tuple((class_id, key) for *_, class_id, key in same))
            for (at, club, person), same in groupby(due, lambda one: one[:3])
        )

    def next_due(self) -> datetime | None:
        """When that is."""
        return min((one.due_at for book in self._data.books.values() for one in book.pending.values()), default=None)

    def waits(self, now: datetime) -> Waits:
        """What is due, and what is not settled."""
        due = [at for at, *_ in self._queue() if at <= now]
        letters: dict[str, list[datetime]] = {}
        for one in self._data.letters.values():
            if not one.settled:
                letters.setdefault(one.reach.via, []).append(one.at)
        return Waits(len(due), min(due, default=None), {via: Queue(len(at), min(at)) for via, at in letters.items()})

    def outbox(self, after: int, limit: int) -> tuple[Outgoing, ...]:
        """Unasked messages behind a cursor."""
        places = [cursor for cursor in sorted(self._data.outbox) if cursor > after][:limit]
        found = []
        for cursor in places:
            club, person, seq = self._data.outbox[cursor]
            reach = sorted(key for key, whose in self._data.known.items() if whose == (club, person))
            found.append((cursor, self._data.said[club, person][seq], tuple(reach)))
        return tuple(found)

    # --- gateways ---

    def reach(self, club: str, person: str) -> Reach | None:
        """Where somebody was last heard."""
        found = self._data.reaches.get((club, person))
        return found if found is not None and self._theirs(found, club, person) else None

    def _theirs(self, reach: Reach, club: str, person: str) -> bool:
        return self._data.known.get((reach.channel, reach.address)) == (club, person)

    def letters(self, via: str, after: int, limit: int) -> tuple[Letter, ...]:
        """What waits at a gateway."""
        found = sorted(
            (one.cursor, one) for one in self._data.letters.values()
            if one.reach.via == via and one.cursor is not None and one.cursor > after
            and self._theirs(one.reach, one.club, one.person)
        )
        return tuple(
            Letter(cursor, self._data.said[one.club, one.person][one.seq], one.reach.channel, one.reach.address,
                   one.tries)
            for cursor, one in found[:limit]
        )

    def posted(self, message: str) -> Posted | None:
        """The way of a message."""
        return self._data.letters.get(message)

    def waiting(self, via: str, club: str, person: str) -> tuple[Posted, ...]:
        """What is not settled for one person."""
        found = (one for one in self._data.letters.values() if (one.reach.via, one.club) == (via, club))
        return tuple(sorted(
            (one for one in found if one.person == person and not one.settled), key=lambda one: one.seq,
        ))

    def held(self, via: str, club: str, person: str) -> datetime | None:
        """Until when anything is held for one person."""
        ends = (one.held_until for one in self.waiting(via, club, person) if one.held_until is not None)
        return max(ends, default=None)

    def overdue(self, now: datetime, said_since: datetime, club: str | None = None) -> tuple[Posted, ...]:
        """What has waited long enough, or too long."""
        found = (
            one for one in self._data.letters.values()
            if club in (None, one.club) and (
                (one.held_until is not None and one.held_until <= now)
                or (one.cursor is not None and one.at < said_since)
            )
        )
        return tuple(sorted(found, key=lambda one: (one.club, one.person, one.seq)))[:OVERDUE_AT_ONCE]

    def key(self, digest: str) -> Key | None:
        """A key."""
        return self._data.keys.get(digest)

    def keys(self, gateway: str) -> tuple[Key, ...]:
        """A gateway's keys."""
        found = (one for one in self._data.keys.values() if one.gateway == gateway)
        return tuple(sorted(found, key=lambda one: one.id))

    def gateway(self, name: str) -> Gateway | None:
        """A gateway."""
        return self._data.gateways.get(name)

    def gateways(self) -> tuple[Gateway, ...]:
        """Every gateway."""
        return tuple(one for _, one in sorted(self._data.gateways.items()))

    def lease(self, name: str) -> Lease | None:
        """Who may do that."""
        return self._data.leases.get(name)

    # --- phones ---

    def phone(self, digest: str) -> Phone | None:
        """A phone."""
        return self._data.phones.get(digest)

    def phones(self, club: str, person: str) -> tuple[Phone, ...]:
        """Somebody's phones."""
        found = (one for one in self._data.phones.values() if (one.club, one.person) == (club, person))
        return tuple(sorted(found, key=lambda one: (one.since, one.id)))

    def feed(self, digest: str) -> Feed | None:
        """A calendar's link."""
        return next((one for one in self._data.feeds.values() if one.digest == digest), None)

    def feed_of(self, club: str, person: str) -> Feed | None:
        """Somebody's."""
        return self._data.feeds.get((club, person))

    def latest(self, club: str, person: str, after: int, limit: int) -> tuple[Said, ...]:
        """What was said to somebody last."""
        known = self._data.said.get((club, person), {})
        return tuple(known[seq] for seq in sorted(seq for seq in known if seq > after)[-limit:])

    def spoken_to_before(self, club: str, before: datetime) -> tuple[str, ...]:
        """To whom something was said before then, and much in all."""
        return tuple(sorted(
            person for (whose, person), said in self._data.said.items()
            if whose == club and len(said) > SAID_KEPT and any(one.at < before for one in said.values())
        ))

    def said_before(self, club: str, person: str, before: datetime, limit: int) -> tuple[Said, ...]:
        """What was said to somebody before then."""
        known = self._data.said.get((club, person), {})
        return tuple(known[seq] for seq in sorted(known) if known[seq].at < before)[:limit]

    # --- what went wrong ---

    def trouble(self, club: str, id: str) -> Trouble | None:
        """What is noted of one."""
        return self._data.troubles.get((club, id))

    def troubles(self, tries: int) -> tuple[Trouble, ...]:
        """What was tried so often."""
        found = (one for one in self._data.troubles.values() if one.tries >= tries)
        return tuple(sorted(found, key=lambda one: (one.at, one.club, one.id)))

    # --- who saw and changed what ---

    def sights(self, club: str) -> tuple[Sight, ...]:
        """Who was shown what."""
        found = (one for (whose, *_), one in self._data.sights.items() if whose == club)
        return tuple(sorted(found, key=lambda one: (one.day, one.person, one.at)))

    def first_sight(self, club: str) -> date | None:
        """The first day."""
        return min((day for whose, day, *_ in self._data.sights if whose == club), default=None)

    def changes(self, club: str) -> tuple[Change, ...]:
        """Every fact, with when it was heard."""
        heard = self._data.heard
        return tuple(
            change(one, heard[message].received_at if (message := one.recorded.message) in heard else None)
            for _, one in sorted(self._data.record.get(club, {}).items())
        )

    def attached(self, secret: str) -> Said | None:
        """The message with that secret."""
        every = (one for said in self._data.said.values() for one in said.values())
        return next((one for one in every if one.secret and one.secret == secret), None)

    # --- all of it ---

    def everything(self, club: str) -> Everything:
        """All of a club."""
        data, home = self._data, self._data.homes[club]
        classes = sorted(self.class_ids(club) | home.club.by_class.keys())
        return Everything(
            home,
            {class_id: self.book(club, class_id) for class_id in classes},
            tuple(one for _, one in sorted(data.record.get(club, {}).items())),
            tuple(one for (whose, _), said in sorted(data.said.items()) if whose == club for one in said.values()),
            {person: talk for (whose, person), talk in sorted(data.talks.items()) if whose == club},
        )

    # --- writing ---

    def keep(self, written: Written) -> None:
        """Write all of it."""
        data, club, person = self._data, written.club, written.person
        if written.home is not None:
            self._put(data.homes, club, written.home)
        if written.joined is not None:
            self._join(*written.joined)
        if written.met is not None:
            self._put(data.known, written.met[:2], (club, written.met[2]))
        if written.invited is not None:
            self._put(data.invitations, *written.invited)
        if written.talk is not None:
            self._put(data.talks, (club, person), written.talk)
        for said in written.said:
            self._say(said)
        for filed in written.record:
            self._put(data.record.setdefault(club, {}), filed.recorded.seq, filed)
        for class_id, book in written.books.items():
            self._put(data.books, (club, class_id), book)
        if written.answered is not None:
            self._put(data.heard, written.answered.message, written.answered)
        if written.heard_on is not None:
            self._put(data.reaches, (club, person), written.heard_on)
        if written.gateway is not None:
            self._put(data.gateways, written.gateway.name, written.gateway)
        for key in written.keys:
            self._put(data.keys, key.digest, key)
        for phone in written.phones:
            self._put(data.phones, phone.digest, phone)
        if written.feed is not None:
            self._put(data.feeds, (club, written.feed.person), written.feed)
        if written.feed_ended is not None:
            self._put(data.feeds, (club, written.feed_ended), None)
        if written.lease is not None:
            self._put(data.leases, written.lease.name, written.lease)
        for trouble in written.troubles:
            self._put(data.troubles, (trouble.club, trouble.id), trouble)
        self._see(club, written.sights, written.sights_since)
        for one in written.posted:
            self._put(data.letters, one.id, one)
        for one in written.released:
            self._put(data.letters, one.id, replace(one, cursor=self._next_cursor()))
        self._tidy(written.tidied)
        if written.erasure is not None:
            self._erase(club, written.erasure)

    def _put(self, mapping: dict[Any, Any], key: Any, value: Any) -> None:
        """Set a key, or take it away (None), so that it can be put back."""
        had, old = key in mapping, mapping.get(key)

        def back() -> None:
            if had:
                mapping[key] = old
            else:
                mapping.pop(key, None)

        self._back.append(back)
        if value is None:
            mapping.pop(key, None)
        else:
            mapping[key] = value

    def _see(self, club: str, sights: Iterable[Sight], since: date | None) -> None:
        for one in sights:
            self._put(self._data.sights, (club, one.day, one.person, one.shown), one)
        for key in [key for key in self._data.sights if since is not None and key[0] == club and key[1] < since]:
            self._put(self._data.sights, key, None)

    def _say(self, said: Said) -> None:
        data = self._data
        self._put(data.said.setdefault((said.club, said.person), {}), said.seq, said)
        if said.in_reply_to is None:
            self._put(data.outbox, self._next_cursor(), (said.club, said.person, said.seq))

    def _tidy(self, gone: Sequence[Said]) -> None:
        data = self._data
        for one in gone:
            self._put(data.said[one.club, one.person], one.seq, None)
            self._put(data.letters, one.id, None)
        places = {(one.club, one.person, one.seq) for one in gone}
        for cursor in [cursor for cursor, which in data.outbox.items() if which in places] if places else ():
            self._put(data.outbox, cursor, None)

    def _next_cursor(self) -> int:
        cursor = self._data.cursor.get("", 0) + 1
        self._put(self._data.cursor, "", cursor)
        return cursor

    def _join(self, channel: str, sender: str, digest: str, joined: Joined) -> None:
        data, club, person = self._data, joined.club, joined.person
        invitation = data.invitations.get(digest)
        if invitation is None or invitation.used or invitation.club != club:
            raise RuntimeError("somebody joined with an invitation that is not there")
        self._put(data.invitations, digest, replace(invitation, used=True))
        self._put(data.known, (channel, sender), (club, person.id))
        home = data.homes[club]
        self._put(data.homes, club, Home(home.club, {**home.people, person.id: person}, home.schemes))

    def _erase(self, club: str, erasure: Erasure) -> None:
        data, put = self._data, self._put
        for class_id, book in erasure.books.items():
            put(data.books, (club, class_id), book)
        for seq, filed in erasure.record.items():
            put(data.record[club], seq, filed)
        for said in erasure.said:
            put(data.said[club, said.person], said.seq, said)
        for person, talk in erasure.talks.items():
            put(data.talks, (club, person), talk)
        gone = {key for key, person in erasure.people.items() if person is None}
        home = data.homes[club]
        people = {key: erasure.people.get(key, person) for key, person in home.people.items()}
        kept = {key: person for key, person in people.items() if person is not None}
        put(data.homes, club, Home(home.club, kept, home.schemes))      # and nothing of what steps remember
        for key in gone:
            put(data.talks, (club, key), None)
            put(data.said, (club, key), None)
            put(data.reaches, (club, key), None)
        for reach in [reach for reach, whose in data.known.items() if whose[0] == club and whose[1] in gone]:
            put(data.known, reach, None)
        for digest, phone in list(data.phones.items()):
            if phone.club == club and phone.person in gone:
                put(data.phones, digest, None)
        for digest, one in list(data.invitations.items()):
            if one.club == club and one.child == erasure.child:
                put(data.invitations, digest, None)
        for seen, sight in list(data.sights.items()):
            if seen[0] == club and sight.shown.child == erasure.child:
                put(data.sights, seen, None)
                self._see(club, (without_her(sight),), None)
        rewritten = {(one.club, one.person, one.seq) for one in erasure.said}
        for cursor, which in list(data.outbox.items()):
            if which in rewritten or (which[0] == club and which[1] in gone):
                put(data.outbox, cursor, None)
        for id_, way in list(data.letters.items()):
            if (way.club, way.person, way.seq) in rewritten or (way.club == club and way.person in gone):
                put(data.letters, id_, None)
