"""The shelf in a database. Fit for any dialect of SQLAlchemy.

What lives here: `SqlShelf`, its questions and what it makes of their answers; what it writes is in `keeper.py`.
"""
from __future__ import annotations

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import date, datetime
from itertools import groupby
from typing import Any

from bot.facts import Recorded
from bot.lesson.book import AwardWay, ClassBook
from bot.people.model import Club
from bot.port import Change, Feed, Gateway, Key, Letter, Outgoing, Phone, Queue, Sight, Trouble, Waits
from bot.step import Invitation, Said, Want
from bot.talk.state import Talk
from storage import codec, rows, tables
from storage import statements as ask
from storage.filing import with_voids
from storage.keeper import Keeper
from storage.session import Session
from storage.shelf import (
    DUE_AT_ONCE,
    OVERDUE_AT_ONCE,
    SAID_KEPT,
    Answered,
    Due,
    Everything,
    Home,
    Lease,
    Memo,
    Posted,
    Reach,
    Written,
)
from storage.sights import change


class SqlShelf:
    """A shelf over one session. What each method promises is said in `Shelf`."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._cache = session.cache
        self._all = session.all
        self._keeper = Keeper(session)

    # --- who ---

    def expect(self, messages: Iterable[str]) -> None:
        """Look up in one go which of these messages were handled before."""
        asked = {one: None for one in messages if one not in self._session.answers}
        if asked:
            found = self._all(ask.HEARD, tables.heard, messages=list(asked))
            self._session.answers |= asked | {row.message: rows.to_answered(row) for row in found}

    def answered(self, message: str) -> Answered | None:
        """The message of that id, if it was handled before."""
        self.expect((message,))
        return self._session.answers[message]

    def known(self, channel: str, address: str) -> tuple[str, str] | None:
        """Who is behind an address."""
        whose = self._cache.known.get((channel, address))
        if whose is not None:
            return whose
        found = self._all(ask.KNOWN, tables.address, channel=channel, address=address)
        return self._cache.known.put((channel, address), (found[0].club, found[0].person)) if found else None

    def home(self, club: str) -> Home | None:
        """A club, its people and schemes."""
        home = self._cache.homes.get(club)
        if home is not None:
            return home
        body = self._all(ask.CLUB_BODY, tables.club, club=club)
        if not body:
            return None
        people = [codec.PERSON.validate_json(row.body) for row in self._all(ask.PEOPLE, tables.person, club=club)]
        schemes = self._all(ask.SCHEMES, tables.scheme, club=club)
        return self._cache.homes.put(club, Home(
            codec.CLUB.validate_json(body[0].body),
            {one.id: one for one in people},
            {row.version: codec.scheme_of(row.body) for row in schemes},
        ))

    def memo(self, home: Home, person: str) -> Memo:
        """What steps keep."""
        return self._cache.memo(home, person)

    def clubs(self) -> tuple[Club, ...]:
        """Every club."""
        return tuple(codec.CLUB.validate_json(row.body) for row in self._all(ask.CLUBS, tables.club))

    def class_ids(self, club: str) -> AbstractSet[str]:
        """The classes that something is kept of."""
        self._session.pad.flush()
        return frozenset(row.class_id for row in self._all(ask.class_ids(), club=club))

    def invitation(self, digest: str) -> Invitation | None:
        """What a code opens."""
        found = self._all(ask.INVITATION, tables.invitation, digest=digest)
        if not found:
            return None
        home = self.home(found[0].club)
        return rows.to_invitation(found[0], {} if home is None else home.people)

    # --- books ---

    def book(self, club: str, class_id: str) -> ClassBook:
        """A class's book, remembered or read whole."""
        return self._cache.books.get((club, class_id)) or self._cache.books.put(
            (club, class_id), self._read_book(club, class_id),
        )

    def _read_book(self, club: str, class_id: str) -> ClassBook:
        whose = {"club": club, "class_id": class_id}
        self._session.pad.flush()
        standings: dict[str, dict[str, Any]] = {}
        for row in self._all(ask.STANDINGS, **whose):
            standings.setdefault(row.child, {})[row.skill] = codec.STANDING.validate_json(row.body)
        ways: dict[str, dict[str, AwardWay]] = {}
        for row in self._all(ask.WAYS, **whose):
            ways.setdefault(row.child, {})[row.award] = AwardWay(row.to, date.fromisoformat(row.day))
        contacts: dict[str, dict[str, Any]] = {}
        for row in self._all(ask.CONTACTS, **whose):
            contacts.setdefault(row.child, {})[row.parent] = codec.CONTACT.validate_json(row.body)
        children = self._all(ask.CHILDREN, **whose)
        reminders = self._all(ask.REMINDERS, **whose)
        return ClassBook(
            class_id,
            {row.child: rows.to_child(row) for row in children},
            standings,
            {row.lesson: codec.LESSON.validate_json(row.body) for row in self._all(ask.LESSONS, **whose)},
            {row.name: codec.NAMES.validate_json(row.children) for row in self._all(ask.GROUPS, **whose)},
            ways,
            {row.key: codec.REMINDER.validate_json(row.body) for row in reminders if row.due_at is not None},
            frozenset(row.key for row in reminders if row.due_at is None),
            contacts,
            {row.child: codec.AGREED.validate_json(row.body) for row in self._all(ask.AGREED, **whose)},
            {row.skill: codec.PACE.validate_json(row.body) for row in self._all(ask.PACE, **whose)},
        )

    # --- talk and record ---

    def talk(self, club: str, person: str) -> Talk | None:
        """Where somebody's talk is."""
        talk = self._cache.talks.get((club, person))
        if talk is not None:
            return talk
        found = self._all(ask.TALK, tables.talk, club=club, person=person)
        if not found:
            return None
        return self._cache.talks.put((club, person), codec.talk_of(found[0].version, found[0].body))

    def said(self, club: str, person: str, seqs: Sequence[int]) -> tuple[Said, ...]:
        """What was said to somebody."""
        known = {one.seq: one for one in self._cache.said.get((club, person)) or ()}
        if not all(seq in known for seq in seqs):
            found = self._all(ask.SAID, tables.said, club=club, person=person, seqs=list(seqs))
            known |= {row.seq: rows.to_said(row) for row in found}
        return tuple(known[seq] for seq in sorted(seqs) if seq in known)

    def facts(self, club: str, want: Want) -> tuple[Recorded, ...]:
        """What matches a want, with its voids."""
        given = {
            name: value for name in ("child", "skill", "lesson", "class_id", "message", "by", "kind")
            if (value := getattr(want, name)) is not None
        }
        found = self._all(ask.facts(*given), tables.fact, club=club, **given)
        return with_voids(map(rows.to_recorded, found), lambda names: self._voids(club, names))

    def _voids(self, club: str, names: frozenset[str]) -> Iterable[Recorded]:
        several = sorted(names)
        for start in range(0, len(several), 500):       # a statement takes only so many values
            for row in self._all(ask.VOIDS, club=club, targets=several[start:start + 500]):
                yield rows.to_recorded(row)

    def last_fact(self, club: str) -> int:
        """The number of the last fact."""
        last = self._cache.last_fact.get(club)
        if last is None:
            last = self._all(ask.LAST_FACT, tables.fact, club=club)[0][0] or 0
            self._cache.last_fact.put(club, last)
        return last

    # --- time ---

    def due(self, until: datetime, but: AbstractSet[tuple[str, str]]) -> tuple[Due, ...]:
        """What is due first."""
        others = {"but": sorted(but)} if but else {}
        given = {"until": codec.micros(until), "limit": DUE_AT_ONCE, **others}
        found = self._all(ask.due(bool(but)), tables.reminder, **given)
        several = [
            Due(club, person, codec.instant(at), tuple((row.class_id, row.key) for row in same))
            for (at, club, person), same in groupby(found, lambda row: (row.due_at, row.club, row.person))
        ]
        if len(found) == DUE_AT_ONCE:       # the last one may go on behind them
            last = several[-1]
            whole = self._all(ask.DUE, club=last.club, person=last.person, due_at=codec.micros(last.at))
            several[-1] = replace(last, keys=tuple((row.class_id, row.key) for row in whole))
        return tuple(several)

    def next_due(self) -> datetime | None:
        """When that is."""
        at: int | None = self._all(ask.NEXT_DUE, tables.reminder)[0][0]
        return None if at is None else codec.instant(at)

    def waits(self, now: datetime) -> Waits:
        """What is due, and what is not settled."""
        due = self._all(ask.OVERDUE_REMINDERS, tables.reminder, now=codec.micros(now))[0]
        letters: dict[str, Queue] = {}
        for row in self._all(ask.UNSETTLED, tables.letter):     # a gateway's queue, and what it failed to deliver
            several, oldest = row.several, codec.instant(row.oldest)
            if (other := letters.get(row.via)) is not None:
                several, oldest = several + other.letters, min(oldest, other.oldest)
            letters[row.via] = Queue(several, oldest)
        return Waits(due.several, None if due.oldest is None else codec.instant(due.oldest), letters)

    def outbox(self, after: int, limit: int) -> tuple[Outgoing, ...]:
        """Unasked messages behind a cursor."""
        found = self._all(ask.OUTBOX, tables.said, after=after, limit=limit)
        reach = {
            who: tuple((row.channel, row.address) for row in self._all(ask.ADDRESSES, club=who[0], person=who[1]))
            for who in {(row.club, row.person) for row in found}
        }
        return tuple((row.cursor, rows.to_said(row), reach[row.club, row.person]) for row in found)

    # --- gateways ---

    def reach(self, club: str, person: str) -> Reach | None:
        """Where somebody was last heard."""
        found = self._cache.reaches.get((club, person))
        if found is None:
            last = self._all(ask.REACH, tables.reach, club=club, person=person)
            if not last:
                return None
            found = self._cache.reaches.put((club, person), Reach(last[0].channel, last[0].address, last[0].via))
        return found if self.known(found.channel, found.address) == (club, person) else None

    def letters(self, via: str, after: int, limit: int) -> tuple[Letter, ...]:
        """What waits at a gateway."""
        found = self._all(ask.LETTERS, tables.letter, tables.said, via=via, after=after, limit=limit)
        return tuple(map(rows.to_letter, found))

    def posted(self, message: str) -> Posted | None:
        """The way of a message."""
        return next(map(rows.to_posted, self._all(ask.POSTED, tables.letter, id=message)), None)

    def waiting(self, via: str, club: str, person: str) -> tuple[Posted, ...]:
        """What is not settled for one person."""
        return tuple(map(rows.to_posted, self._all(ask.WAITING, tables.letter, via=via, club=club, person=person)))

    def held(self, via: str, club: str, person: str) -> datetime | None:
        """Until when anything is held for one person."""
        if self._cache.free.get((via, club, person)):
            return None
        until: int | None = self._all(ask.HELD, tables.letter, via=via, club=club, person=person)[0][0]
        if until is None:
            self._cache.free.put((via, club, person), True)
        return None if until is None else codec.instant(until)

    def overdue(self, now: datetime, said_since: datetime, club: str | None = None) -> tuple[Posted, ...]:
        """What has waited long enough, or too long."""
        given: dict[str, Any] = {"now": codec.micros(now), "since": codec.micros(said_since), "limit": OVERDUE_AT_ONCE}
        if club is None:
            return tuple(map(rows.to_posted, self._all(ask.OVERDUE, tables.letter, **given)))
        return tuple(map(rows.to_posted, self._all(ask.OVERDUE_OF, tables.letter, club=club, **given)))

    def key(self, digest: str) -> Key | None:
        """A key."""
        return next(map(rows.to_key, self._all(ask.KEY, tables.gateway_key, digest=digest)), None)

    def keys(self, gateway: str) -> tuple[Key, ...]:
        """A gateway's keys."""
        return tuple(map(rows.to_key, self._all(ask.KEYS, tables.gateway_key, gateway=gateway)))

    def gateway(self, name: str) -> Gateway | None:
        """A gateway."""
        return next(map(rows.to_gateway, self._all(ask.GATEWAY, tables.gateway, name=name)), None)

    def gateways(self) -> tuple[Gateway, ...]:
        """Every gateway."""
        return tuple(map(rows.to_gateway, self._all(ask.GATEWAYS, tables.gateway)))

    def lease(self, name: str) -> Lease | None:
        """Who may do that."""
        return next(map(rows.to_lease, self._all(ask.LEASE, tables.lease, name=name)), None)

    # --- phones ---

    def phone(self, digest: str) -> Phone | None:
        """A phone."""
        return next(map(rows.to_phone, self._all(ask.PHONE, tables.phone, digest=digest)), None)

    def phones(self, club: str, person: str) -> tuple[Phone, ...]:
        """Somebody's phones."""
        return tuple(map(rows.to_phone, self._all(ask.PHONES, tables.phone, club=club, person=person)))

    def feed(self, digest: str) -> Feed | None:
        """A calendar's link."""
        return next(map(rows.to_feed, self._all(ask.FEED, tables.feed, digest=digest)), None)

    def feed_of(self, club: str, person: str) -> Feed | None:
        """Somebody's."""
        return next(map(rows.to_feed, self._all(ask.FEED_OF, tables.feed, club=club, person=person)), None)

    def latest(self, club: str, person: str, after: int, limit: int) -> tuple[Said, ...]:
        """What was said to somebody last."""
        found = self._all(ask.LATEST, tables.said, club=club, person=person, after=after, limit=limit)
        return tuple(map(rows.to_said, reversed(found)))

    def spoken_to_before(self, club: str, before: datetime) -> tuple[str, ...]:
        """To whom something was said before then, and much in all."""
        found = self._all(ask.SPOKEN_TO, tables.said, club=club, before=codec.micros(before), kept=SAID_KEPT)
        return tuple(row.person for row in found)

    def said_before(self, club: str, person: str, before: datetime, limit: int) -> tuple[Said, ...]:
        """What was said to somebody before then."""
        found = self._all(
            ask.SAID_BEFORE, tables.said, club=club, person=person, before=codec.micros(before), limit=limit,
        )
        return tuple(map(rows.to_said, found))

    # --- who saw and changed what ---

    def sights(self, club: str) -> tuple[Sight, ...]:
        """Who was shown what."""
        return tuple(map(rows.to_sight, self._all(ask.SIGHTS, tables.sight, club=club)))

    def first_sight(self, club: str) -> date | None:
        """The first day."""
        day: str | None = self._all(ask.FIRST_SIGHT, tables.sight, club=club)[0][0]
        return None if day is None else date.fromisoformat(day)

    def changes(self, club: str) -> tuple[Change, ...]:
        """Every fact, with when it was heard."""
        return tuple(
            change(rows.to_filed(row), None if row.received_at is None else codec.instant(row.received_at))
            for row in self._all(ask.CHANGES, tables.fact, tables.heard, club=club)
        )

    def attached(self, secret: str) -> Said | None:
        """The message with that secret."""
        return next(map(rows.to_said, self._all(ask.ATTACHED, tables.said, secret=secret)), None)

    # --- what went wrong ---

    def trouble(self, club: str, id: str) -> Trouble | None:
        """What is noted of one."""
        return next(map(rows.to_trouble, self._all(ask.TROUBLE, tables.trouble, club=club, id=id)), None)

    def troubles(self, tries: int) -> tuple[Trouble, ...]:
        """What was tried so often."""
        return tuple(map(rows.to_trouble, self._all(ask.TROUBLES, tables.trouble, tries=tries)))

    # --- all of it ---

    def everything(self, club: str) -> Everything:
        """All of a club."""
        home = self.home(club)
        assert home is not None
        classes = self.class_ids(club) | home.club.by_class.keys()
        return Everything(
            home,
            {class_id: self.book(club, class_id) for class_id in sorted(classes)},
            tuple(map(rows.to_filed, self._all(ask.FACTS, tables.fact, club=club))),
            tuple(map(rows.to_said, self._all(ask.ALL_SAID, tables.said, club=club))),
            {row.person: codec.talk_of(row.version, row.body) for row in self._all(ask.TALKS, tables.talk, club=club)},
        )

    # --- writing ---

    def keep(self, written: Written) -> None:
        """Write all of it."""
        self._keeper.keep(written, None if written.home is None else self.home(written.club))
