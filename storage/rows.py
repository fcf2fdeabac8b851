"""Values to rows and rows to values, one pair for each table.

What lives here: no statement and no decision, only which column holds what.
"""
from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import Row

from bot.facts import FACT, Filed, Recorded
from bot.lesson.book import AwardWay, Child
from bot.people.model import Person
from bot.port import Feed, Gateway, Key, Letter, Phone, Sight, Subscription, Trouble
from bot.step import Invitation, Said, Shown
from bot.talk.state import Talk
from storage import codec
from storage.filing import child_of, skill_of, target_of
from storage.shelf import Answered, Lease, Posted, Queued, Reach

Values = dict[str, Any]


def answered(one: Answered) -> Values:
    """A handled message."""
    return {
        "message": one.message, "club": one.club, "person": one.person, "fingerprint": one.fingerprint,
        "seqs": codec.dump(codec.NUMBERS, one.seqs), "received_at": codec.micros(one.received_at),
    }


def to_answered(row: Row[Any]) -> Answered:
    """A handled message back."""
    seqs = codec.NUMBERS.validate_json(row.seqs)
    return Answered(row.message, row.club, row.person, row.fingerprint, seqs, codec.instant(row.received_at))


def said(one: Said, cursor: int | None) -> Values:
    """A message that was said."""
    return {
        "club": one.club, "person": one.person, "seq": one.seq, "at": codec.micros(one.at), "text": one.text,
        "choices": codec.dump(codec.CHOICES, one.choices), "in_reply_to": one.in_reply_to, "cursor": cursor,
        "attached": codec.dump(codec.ATTACHED, one.attached) if one.attached else None, "secret": one.secret or None,
    }


def to_said(row: Row[Any]) -> Said:
    """A message that was said back."""
    choices = codec.CHOICES.validate_json(row.choices)
    attached = () if row.attached is None else codec.ATTACHED.validate_json(row.attached)
    return Said(
        row.club, row.person, row.seq, codec.instant(row.at), row.text, choices, row.in_reply_to, attached,
        row.secret or "",
    )


def talk(club: str, person: str, one: Talk) -> Values:
    """Where somebody's talk is."""
    return {"club": club, "person": person, "version": one.version, "body": codec.dump(codec.TALK, one)}


def fact(club: str, filed: Filed) -> Values:
    """A fact with what it is found by."""
    one = filed.recorded
    return {
        "club": club, "seq": one.seq, "message": one.message, "by": filed.by, "kind": one.fact.kind,
        "child": child_of(one.fact), "skill": skill_of(one.fact), "lesson": filed.lesson,
        "class_id": filed.class_id, "target": target_of(one.fact), "body": codec.dump_fact(one.fact),
    }


def to_recorded(row: Row[Any]) -> Recorded:
    """A fact back."""
    return Recorded(row.seq, row.message, FACT.validate_json(row.body))


def to_filed(row: Row[Any]) -> Filed:
    """A fact back with what it is found by."""
    return Filed(to_recorded(row), row.by, row.lesson, row.class_id)


def queued(club: str, class_id: str, key: str, one: Queued) -> Values:
    """A reminder; of one that fired only the key is kept."""
    due = one.reminder
    return {
        "club": club, "class_id": class_id, "key": key, "person": "" if due is None else due.person,
        "due_at": None if due is None else codec.micros(due.due_at),
        "body": None if due is None else codec.dump(codec.REMINDER, due),
    }


def to_child(row: Row[Any]) -> Child:
    """A child."""
    left_on = None if row.left_on is None else date.fromisoformat(row.left_on)
    return Child(row.child, row.name, row.class_id, row.award, left_on)


def child(club: str, one: Child, place: int) -> Values:
    """A child in her place in the class."""
    return {
        "club": club, "child": one.id, "class_id": one.class_id, "place": place, "name": one.name,
        "award": one.award, "left_on": None if one.left_on is None else one.left_on.isoformat(),
    }


def way(club: str, child_id: str, award: str, one: AwardWay) -> Values:
    """How far an award has come on its way."""
    return {"club": club, "child": child_id, "award": award, "to": one.to, "day": one.on.isoformat()}


def invitation(digest: str, one: Invitation) -> Values:
    """An invitation under the digest of its code."""
    return {
        "digest": digest, "club": one.club, "person": one.person.id if one.person else None, "child": one.child,
        "expires_at": codec.micros(one.expires_at), "used": one.used,
    }


def to_invitation(row: Row[Any], people: Mapping[str, Person]) -> Invitation:
    """An invitation back; the person as they are in the club today, whatever they were when it was given."""
    return Invitation(row.club, people.get(row.person), row.child, codec.instant(row.expires_at), row.used)


def reach(club: str, person: str, one: Reach) -> Values:
    """Where somebody was last heard."""
    return {"club": club, "person": person, "channel": one.channel, "address": one.address, "via": one.via}


def posted(one: Posted) -> Values:
    """The way of an unasked message."""
    return {
        "id": one.id, "club": one.club, "person": one.person, "seq": one.seq, "via": one.reach.via,
        "channel": one.reach.channel, "address": one.reach.address, "at": codec.micros(one.at), "cursor": one.cursor,
        "held_until": None if one.held_until is None else codec.micros(one.held_until), "tries": one.tries,
    }


def to_posted(row: Row[Any]) -> Posted:
    """The way of an unasked message back."""
    return Posted(
        row.id, row.club, row.person, row.seq, Reach(row.channel, row.address, row.via), codec.instant(row.at),
        row.cursor, None if row.held_until is None else codec.instant(row.held_until), row.tries,
    )


def to_letter(row: Row[Any]) -> Letter:
    """What waits at a gateway, with the message itself."""
    return Letter(row.cursor, to_said(row), row.channel, row.address, row.tries)


def sight(club: str, one: Sight) -> Values:
    """Who was shown what."""
    return {
        "club": club, "day": one.day.isoformat(), "person": one.person, "what": one.shown.what,
        "class_id": one.shown.class_id, "child": one.shown.child, "at": codec.micros(one.at),
    }


def to_sight(row: Row[Any]) -> Sight:
    """Who was shown what back."""
    shown = Shown(row.what, row.child, row.class_id)
    return Sight(row.person, date.fromisoformat(row.day), codec.instant(row.at), shown)


def key(one: Key) -> Values:
    """A gateway's key."""
    return {"digest": one.digest, "id": one.id, "gateway": one.gateway, "ended": one.ended}


def to_key(row: Row[Any]) -> Key:
    """A gateway's key back."""
    return Key(row.digest, row.id, row.gateway, row.ended)


def gateway(one: Gateway) -> Values:
    """A gateway."""
    return {"name": one.name, "push_url": one.push_url, "push_secret": one.push_secret}


def to_gateway(row: Row[Any]) -> Gateway:
    """A gateway back."""
    return Gateway(row.name, row.push_url, row.push_secret)


def lease(one: Lease) -> Values:
    """Who may do something."""
    return {"name": one.name, "holder": one.holder, "until": codec.micros(one.until)}


def to_lease(row: Row[Any]) -> Lease:
    """Who may do something back."""
    return Lease(row.name, row.holder, codec.instant(row.until))


def phone(one: Phone) -> Values:
    """A phone on which somebody came in."""
    to = one.subscription
    return {
        "digest": one.digest, "id": one.id, "club": one.club, "person": one.person,
        "since": codec.micros(one.since), "ended": one.ended, "endpoint": to and to.endpoint,
        "p256dh": to and to.p256dh, "auth": to and to.auth,
    }


def to_phone(row: Row[Any]) -> Phone:
    """A phone back."""
    to = None if row.endpoint is None else Subscription(row.endpoint, row.p256dh, row.auth)
    return Phone(row.digest, row.id, row.club, row.person, codec.instant(row.since), row.ended, to)


def trouble(one: Trouble) -> Values:
    """What a fault kept from being handled."""
    return {
        "club": one.club, "id": one.id, "what": one.what, "tries": one.tries, "kind": one.kind, "place": one.place,
        "at": codec.micros(one.at),
    }


def to_trouble(row: Row[Any]) -> Trouble:
    """What a fault kept from being handled back."""
    return Trouble(row.id, row.club, row.what, row.tries, row.kind, row.place, codec.instant(row.at))


def feed(one: Feed) -> Values:
    """A calendar's link."""
    return {"club": one.club, "person": one.person, "digest": one.digest}


def to_feed(row: Row[Any]) -> Feed:
    """A calendar's link back."""
    return Feed(row.digest, row.club, row.person)
