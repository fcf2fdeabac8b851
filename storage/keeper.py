"""What a step came to, as rows on the pad and as the newest values in the cache.

What lives here: the half of the SQL shelf that writes. Nothing reaches the database before the pad is
flushed, and what is remembered is forgotten again where the transaction is rolled back.
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from sqlalchemy import delete, update

from bot.facts import Filed
from bot.lesson.book import Changes, Child
from bot.step import Joined, Said
from storage import codec, rows, tables
from storage import statements as ask
from storage.session import Session
from storage.shelf import SAID_KEPT, Erasure, Home, Posted, Queued, Written
from storage.sights import without_her

OUTBOX = "outbox"       # the counter of unasked messages; a number is never used again
FORGETS = ("text", "choices", "cursor", "attached", "secret")     # of a message that named somebody who is forgotten


class Keeper:
    """Writes through a session."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._pad = session.pad
        self._cache = session.cache

    def keep(self, written: Written, before: Home | None) -> None:
        """All that one transaction writes. `before`: the club as it was, where a load changes it."""
        club, person = written.club, written.person
        if written.home is not None:
            self._home(club, written.home, before)
        self._addresses(club, written)
        if written.talk is not None:
            self._pad.put(tables.talk, rows.talk(club, person, written.talk))
            self._cache.talks.put((club, person), written.talk)
        self._said(club, person, written.said)
        self._record(club, written.record)
        self._changes(club, written.changes)
        self._queue(club, written.queue)
        for class_id, book in written.books.items():
            self._cache.books.put((club, class_id), book)
        if written.answered is not None:
            self._pad.add(tables.heard, rows.answered(written.answered))
            self._session.answers[written.answered.message] = written.answered
        if written.heard_on is not None:
            self._pad.put(tables.reach, rows.reach(club, person, written.heard_on))
            self._cache.reaches.put((club, person), written.heard_on)
        self._gateways(written)
        for said in written.tidied:
            self._pad.drop(tables.said, said.club, said.person, said.seq)
            self._pad.drop(tables.letter, said.id)
        for one in written.troubles:
            self._pad.put(tables.trouble, rows.trouble(one))
        self._see(club, written)
        if written.erasure is not None:
            self._erase(club, written.erasure)

    # --- people ---

    def _home(self, club: str, home: Home, before: Home | None) -> None:
        self._pad.put(tables.club, {"club": club, "body": codec.dump(codec.CLUB, home.club)})
        old = {} if before is None else before.people
        for one in home.people.values():
            if old.get(one.id) != one:
                self._person(club, one.id, codec.dump(codec.PERSON, one))
        for version, scheme in home.schemes.items():
            if before is None or version not in before.schemes:
                body = codec.dump(codec.SCHEME, scheme)
                self._pad.add(tables.scheme, {"club": club, "version": version, "body": body})
        self._cache.homes.put(club, home)

    def _person(self, club: str, person: str, body: str) -> None:
        self._pad.put(tables.person, {"club": club, "person": person, "body": body})

    def _addresses(self, club: str, written: Written) -> None:
        if written.joined is not None:
            self._join(*written.joined)
        if written.met is not None:
            channel, address, person = written.met
            self._meet(channel, address, club, person)
        if written.invited is not None:
            self._pad.put(tables.invitation, rows.invitation(*written.invited))

    def _meet(self, channel: str, address: str, club: str, person: str) -> None:
        self._pad.put(
            tables.address, {"channel": channel, "address": address, "club": club, "person": person},
        )
        self._cache.known.put((channel, address), (club, person))

    def _join(self, channel: str, sender: str, digest: str, joined: Joined) -> None:
        self._pad.flush(tables.invitation)
        code = tables.invitation.c
        used = self._session.connection.execute(
            update(tables.invitation)
            .where(code.digest == digest, code.club == joined.club, code.used.is_(False))
            .values(used=True),
        )
        if used.rowcount != 1:
            raise RuntimeError("somebody joined with an invitation that is not there")
        self._person(joined.club, joined.person.id, codec.dump(codec.PERSON, joined.person))
        self._meet(channel, sender, joined.club, joined.person.id)
        home = self._cache.homes.get(joined.club)
        if home is not None:
            people = {**home.people, joined.person.id: joined.person}
            self._cache.homes.put(joined.club, Home(home.club, people, home.schemes))

    # --- talk and record ---

    def _said(self, club: str, person: str, said: tuple[Said, ...]) -> None:
        if not said:
            return
        unasked = sum(one.in_reply_to is None for one in said)
        cursor = self._cursors(unasked) if unasked else 0
        for one in said:
            place = None
            if one.in_reply_to is None:
                cursor += 1
                place = cursor
            self._pad.add(tables.said, rows.said(one, place))
        known = self._cache.said.get((club, person)) or ()
        self._cache.said.put((club, person), (*known, *said)[-SAID_KEPT:])

    def _cursors(self, several: int) -> int:
        """Take so many numbers of the outbox; the last one taken before."""
        last = self._cache.counters.get(OUTBOX)
        if last is None:
            found = self._session.all(ask.COUNTER, tables.counter, name=OUTBOX)
            last = found[0].value if found else 0
        self._pad.put(tables.counter, {"name": OUTBOX, "value": last + several})
        self._cache.counters.put(OUTBOX, last + several)
        return last

    def _gateways(self, written: Written) -> None:
        if written.gateway is not None:
            self._pad.put(tables.gateway, rows.gateway(written.gateway))
        for key in written.keys:
            self._pad.put(tables.gateway_key, rows.key(key))
        for phone in written.phones:
            self._pad.put(tables.phone, rows.phone(phone))
        if written.feed is not None:
            self._pad.put(tables.feed, rows.feed(written.feed))
        if written.feed_ended is not None:
            self._pad.drop(tables.feed, written.club, written.feed_ended)
        if written.lease is not None:
            self._pad.put(tables.lease, rows.lease(written.lease))
        self._post(written.posted)
        self._post(self._released(written.released))

    def _post(self, several: Iterable[Posted]) -> None:
        for one in several:
            self._pad.put(tables.letter, rows.posted(one))
            if one.held_until is not None:
                self._cache.free.drop((one.reach.via, one.club, one.person))

    def _released(self, several: tuple[Posted, ...]) -> Iterable[Posted]:
        if not several:
            return ()
        first = self._cursors(len(several)) + 1
        return [replace(one, cursor=cursor) for cursor, one in enumerate(several, first)]

    def _record(self, club: str, record: Iterable[Filed]) -> None:
        for one in record:
            self._pad.add(tables.fact, rows.fact(club, one))
            self._cache.last_fact.put(club, one.recorded.seq)

    def _see(self, club: str, written: Written) -> None:
        for one in written.sights:
            self._pad.put(tables.sight, rows.sight(club, one))
        if written.sights_since is not None:
            day = written.sights_since.isoformat()
            self._session.connection.execute(
                delete(tables.sight).where(tables.sight.c.club == club, tables.sight.c.day < day),
            )

    # --- books ---

    def _changes(self, club: str, changes: Changes) -> None:
        put, drop = self._pad.put, self._pad.drop
        self._children(club, changes.children)
        for (child, skill), standing in changes.standings.items():
            body = codec.dump(codec.STANDING, standing)
            put(tables.standing, {"club": club, "child": child, "skill": skill, "body": body})
        for key, lesson in changes.lessons.items():
            body = codec.dump(codec.LESSON, lesson)
            put(tables.lesson, {"club": club, "lesson": key, "class_id": lesson.class_id, "body": body})
        for (class_id, name), group in changes.groups.items():
            if group is None:
                drop(tables.class_group, club, class_id, name)
            else:
                body = codec.dump(codec.NAMES, group)
                put(tables.class_group, {"club": club, "class_id": class_id, "name": name, "children": body})
        for (child, award), way in changes.awards.items():
            if way is None:
                drop(tables.award_way, club, child, award)
            else:
                put(tables.award_way, rows.way(club, child, award, way))
        for (child, parent), contact in changes.contacts.items():
            if contact is None:
                drop(tables.contact, club, child, parent)
            else:
                body = codec.dump(codec.CONTACT, contact)
                put(tables.contact, {"club": club, "child": child, "parent": parent, "body": body})
        for child, agreed in changes.agreed.items():
            put(tables.agreed, {"club": club, "child": child, "body": codec.dump(codec.AGREED, agreed)})
        for (class_id, skill), pace in changes.pace.items():
            if pace is None:
                drop(tables.pace, club, class_id, skill)
            else:
                body = codec.dump(codec.PACE, pace)
                put(tables.pace, {"club": club, "class_id": class_id, "skill": skill, "body": body})

    def _children(self, club: str, children: Mapping[str, Child | None]) -> None:
        """A new child, or one who changes her class, comes last in it."""
        if not children:
            return
        found = self._session.all(ask.ALL_CHILDREN, tables.child, club=club)
        places = {row.child: (row.class_id, row.place) for row in found}
        last: dict[str, int] = {}
        for class_id, place in places.values():
            last[class_id] = max(place, last.get(class_id, 0))
        for key, child in children.items():
            if child is None:
                self._pad.drop(tables.child, club, key)
                continue
            class_id, place = places.get(key, ("", 0))
            if class_id != child.class_id:
                place = last[child.class_id] = last.get(child.class_id, 0) + 1
            self._pad.put(tables.child, rows.child(club, child, place))

    def _queue(self, club: str, queue: Mapping[tuple[str, str], Queued | None]) -> None:
        for (class_id, key), queued in queue.items():
            if queued is None:
                self._pad.drop(tables.reminder, club, class_id, key)
            else:
                self._pad.put(tables.reminder, rows.queued(club, class_id, key, queued))

    # --- forgetting ---

    def _erase(self, club: str, erasure: Erasure) -> None:
        self._pad.flush()
        run, child = self._session.connection.execute, erasure.child
        for table in (tables.standing, tables.award_way, tables.contact, tables.agreed, tables.invitation):
            run(delete(table).where(table.c.club == club, table.c.child == child))
        for row in self._session.all(ask.SIGHTS_OF, club=club, child=child):
            self._pad.put(tables.sight, rows.sight(club, without_her(rows.to_sight(row))))
        run(delete(tables.sight).where(tables.sight.c.club == club, tables.sight.c.child == child))
        self._changes(club, erasure.changes)
        self._queue(club, erasure.queue)
        for seq, filed in erasure.record.items():
            if filed is None:
                self._pad.drop(tables.fact, club, seq)
            else:
                self._pad.put(tables.fact, rows.fact(club, filed))
        for key, talk in erasure.talks.items():
            self._pad.put(tables.talk, rows.talk(club, key, talk))
        self._rewrite(club, erasure)
        self._pad.flush()
        self._session.renew()

    def _rewrite(self, club: str, erasure: Erasure) -> None:
        said = tables.said
        for one in erasure.said:
            values = {key: value for key, value in rows.said(one, None).items() if key in FORGETS}
            self._session.connection.execute(
                update(said).where(said.c.club == club, said.c.person == one.person, said.c.seq == one.seq)
                .values(values),
            )
            self._pad.drop(tables.letter, one.id)
        for key, person in erasure.people.items():
            if person is not None:
                self._person(club, key, codec.dump(codec.PERSON, person))
                continue
            for table in (
                tables.person, tables.address, tables.talk, tables.said, tables.reach, tables.letter, tables.phone,
            ):
                self._session.connection.execute(
                    delete(table).where(table.c.club == club, table.c.person == key),
                )
