"""The questions put to the database, written once. Each names the club but the few that find out which it is."""
from __future__ import annotations

from functools import cache
from typing import Any

from sqlalchemy import BindParameter, Select, and_, bindparam, func, or_, select, tuple_, union, union_all
from sqlalchemy.sql.selectable import CompoundSelect

from storage.tables import (
    address,
    agreed,
    award_way,
    child,
    class_group,
    club,
    contact,
    counter,
    fact,
    feed,
    gateway,
    gateway_key,
    heard,
    invitation,
    lease,
    lesson,
    letter,
    pace,
    person,
    phone,
    reach,
    reminder,
    said,
    scheme,
    sight,
    standing,
    talk,
    trouble,
)

CLUB: BindParameter[str] = bindparam("club")
PERSON: BindParameter[str] = bindparam("person")
CLASS: BindParameter[str] = bindparam("class_id")

HEARD = select(heard).where(heard.c.message.in_(bindparam("messages", expanding=True)))
KNOWN = select(address.c.club, address.c.person).where(
    address.c.channel == bindparam("channel"), address.c.address == bindparam("address"),
)
INVITATION = select(invitation).where(invitation.c.digest == bindparam("digest"))

CLUBS = select(club.c.body).order_by(club.c.club)
CLUB_BODY = select(club.c.body).where(club.c.club == CLUB)
PEOPLE = select(person.c.body).where(person.c.club == CLUB).order_by(person.c.person)
SCHEMES = select(scheme.c.version, scheme.c.body).where(scheme.c.club == CLUB).order_by(scheme.c.version)

TALK = select(talk.c.version, talk.c.body).where(talk.c.club == CLUB, talk.c.person == PERSON)
TALKS = select(talk).where(talk.c.club == CLUB).order_by(talk.c.person)
SAID = select(said).where(
    said.c.club == CLUB, said.c.person == PERSON, said.c.seq.in_(bindparam("seqs", expanding=True)),
).order_by(said.c.seq)
ALL_SAID = select(said).where(said.c.club == CLUB).order_by(said.c.person, said.c.seq)

CHILDREN = select(child).where(child.c.club == CLUB, child.c.class_id == CLASS).order_by(child.c.place)
ALL_CHILDREN = select(child.c.child, child.c.class_id, child.c.place).where(child.c.club == CLUB)
_of_class = child.c.club == CLUB, child.c.class_id == CLASS
STANDINGS = select(standing.c.child, standing.c.skill, standing.c.body).where(
    standing.c.club == CLUB, standing.c.child == child.c.child, *_of_class,
)
WAYS = select(award_way.c.child, award_way.c.award, award_way.c.to, award_way.c.day).where(
    award_way.c.club == CLUB, award_way.c.child == child.c.child, *_of_class,
)
CONTACTS = select(contact.c.child, contact.c.parent, contact.c.body).where(
    contact.c.club == CLUB, contact.c.child == child.c.child, *_of_class,
)
AGREED = select(agreed.c.child, agreed.c.body).where(
    agreed.c.club == CLUB, agreed.c.child == child.c.child, *_of_class,
)
PACE = select(pace.c.skill, pace.c.body).where(
    pace.c.club == CLUB, pace.c.class_id == CLASS,
).order_by(pace.c.skill)
LESSONS = select(lesson.c.lesson, lesson.c.body).where(
    lesson.c.club == CLUB, lesson.c.class_id == CLASS,
).order_by(lesson.c.lesson)
GROUPS = select(class_group.c.name, class_group.c.children).where(
    class_group.c.club == CLUB, class_group.c.class_id == CLASS,
).order_by(class_group.c.name)
REMINDERS = select(reminder.c.key, reminder.c.due_at, reminder.c.body).where(
    reminder.c.club == CLUB, reminder.c.class_id == CLASS,
).order_by(reminder.c.key)

FACTS = select(fact).where(fact.c.club == CLUB).order_by(fact.c.seq)
VOIDS = select(fact.c.seq, fact.c.message, fact.c.body).where(
    fact.c.club == CLUB, fact.c.target.in_(bindparam("targets", expanding=True)),
)
LAST_FACT = select(func.max(fact.c.seq)).where(fact.c.club == CLUB)
COUNTER = select(counter.c.value).where(counter.c.name == bindparam("name"))

NEXT_DUE = select(func.min(reminder.c.due_at)).where(reminder.c.due_at.is_not(None))
OVERDUE_REMINDERS = select(func.count().label("several"), func.min(reminder.c.due_at).label("oldest")).where(
    reminder.c.due_at <= bindparam("now"),
)
DUE = select(reminder.c.class_id, reminder.c.key).where(
    reminder.c.due_at == bindparam("due_at"), reminder.c.club == CLUB, reminder.c.person == PERSON,
).order_by(reminder.c.class_id, reminder.c.key)
OUTBOX = select(said).where(said.c.cursor > bindparam("after")).order_by(said.c.cursor).limit(bindparam("limit"))
ADDRESSES = select(address.c.channel, address.c.address).where(
    address.c.club == CLUB, address.c.person == PERSON,
).order_by(address.c.channel, address.c.address)

REACH = select(reach.c.channel, reach.c.address, reach.c.via).where(reach.c.club == CLUB, reach.c.person == PERSON)
LETTERS = (     # an address may have become somebody else's since: then nothing goes there
    select(letter.c.cursor, letter.c.channel, letter.c.address, letter.c.tries, *(
        column for column in said.columns if column.name != "cursor"
    ))
    .join(said, and_(said.c.club == letter.c.club, said.c.person == letter.c.person, said.c.seq == letter.c.seq))
    .join(address, and_(
        address.c.channel == letter.c.channel, address.c.address == letter.c.address,
        address.c.club == letter.c.club, address.c.person == letter.c.person,
    ))
    .where(letter.c.via == bindparam("via"), letter.c.cursor > bindparam("after"))
    .order_by(letter.c.cursor)
    .limit(bindparam("limit"))
)
POSTED = select(letter).where(letter.c.id == bindparam("id"))
WAITING = select(letter).where(
    letter.c.club == CLUB, letter.c.person == PERSON, letter.c.via == bindparam("via"),
    or_(letter.c.cursor.is_not(None), letter.c.held_until.is_not(None)),
).order_by(letter.c.seq)
HELD = select(func.max(letter.c.held_until)).where(
    letter.c.club == CLUB, letter.c.person == PERSON, letter.c.via == bindparam("via"),
)
OVERDUE = select(letter).where(or_(
    letter.c.held_until <= bindparam("now"),
    and_(letter.c.cursor.is_not(None), letter.c.at < bindparam("since")),
)).order_by(letter.c.club, letter.c.person, letter.c.seq).limit(bindparam("limit"))     # a clock may have gone back
OVERDUE_OF = OVERDUE.where(letter.c.club == CLUB)
_unsettled = select(letter.c.via, func.count().label("several"), func.min(letter.c.at).label("oldest"))
UNSETTLED = union_all(      # each half goes by an index that leaves out what is settled
    _unsettled.where(letter.c.cursor.is_not(None)).group_by(letter.c.via),
    _unsettled.where(letter.c.held_until.is_not(None)).group_by(letter.c.via),
)
FIRST_SIGHT = select(func.min(sight.c.day)).where(sight.c.club == CLUB)
SIGHTS = select(sight).where(sight.c.club == CLUB).order_by(sight.c.day, sight.c.person, sight.c.at)
SIGHTS_OF = select(sight).where(sight.c.club == CLUB, sight.c.child == bindparam("child"))
CHANGES = (
    select(fact, heard.c.received_at)
    .outerjoin(heard, and_(heard.c.message == fact.c.message, heard.c.club == fact.c.club))
    .where(fact.c.club == CLUB).order_by(fact.c.seq)
)
KEY = select(gateway_key).where(gateway_key.c.digest == bindparam("digest"))
KEYS = select(gateway_key).where(gateway_key.c.gateway == bindparam("gateway")).order_by(gateway_key.c.id)
GATEWAY = select(gateway).where(gateway.c.name == bindparam("name"))
GATEWAYS = select(gateway).order_by(gateway.c.name)
TROUBLE = select(trouble).where(trouble.c.club == CLUB, trouble.c.id == bindparam("id"))
TROUBLES = select(trouble).where(
    trouble.c.tries >= bindparam("tries"),
).order_by(trouble.c.at, trouble.c.club, trouble.c.id)
LEASE = select(lease).where(lease.c.name == bindparam("name"))
PHONE = select(phone).where(phone.c.digest == bindparam("digest"))
PHONES = select(phone).where(phone.c.club == CLUB, phone.c.person == PERSON).order_by(phone.c.since, phone.c.id)
ATTACHED = select(said).where(said.c.secret == bindparam("secret"))
FEED = select(feed).where(feed.c.digest == bindparam("digest"))
FEED_OF = select(feed).where(feed.c.club == CLUB, feed.c.person == PERSON)
LATEST = select(said).where(
    said.c.club == CLUB, said.c.person == PERSON, said.c.seq > bindparam("after"),
).order_by(said.c.seq.desc()).limit(bindparam("limit"))
SPOKEN_TO = select(said.c.person).where(said.c.club == CLUB).group_by(said.c.person).having(
    func.count() > bindparam("kept"), func.min(said.c.at) < bindparam("before"),
).order_by(said.c.person)
SAID_BEFORE = select(said).where(
    said.c.club == CLUB, said.c.person == PERSON, said.c.at < bindparam("before"),
).order_by(said.c.seq).limit(bindparam("limit"))


def class_ids() -> CompoundSelect[Any]:
    """Every class with a child or a lesson."""
    return union(
        select(child.c.class_id).where(child.c.club == CLUB),
        select(lesson.c.class_id).where(lesson.c.club == CLUB),
        select(class_group.c.class_id).where(class_group.c.club == CLUB),
    )


@cache
def facts(*fields: str) -> Select[Any]:
    """The facts that match all of these columns, in order of receipt."""
    same = (fact.c[name] == bindparam(name) for name in fields)
    return (
        select(fact.c.seq, fact.c.message, fact.c.body)
        .where(fact.c.club == CLUB, *same)
        .order_by(fact.c.seq)
    )


@cache
def due(but: bool) -> Select[Any]:
    """What is due first; `but`: to none of those named."""
    found = (
        select(reminder.c.due_at, reminder.c.club, reminder.c.person, reminder.c.class_id, reminder.c.key)
        .where(reminder.c.due_at <= bindparam("until"))
        .order_by(reminder.c.due_at, reminder.c.club, reminder.c.person, reminder.c.class_id, reminder.c.key)
        .limit(bindparam("limit"))
    )
    if not but:
        return found
    return found.where(tuple_(reminder.c.club, reminder.c.person).not_in(bindparam("but", expanding=True)))
