"""One message: what is read, what is decided, and what is to be written.

What lives here: the one way of doing things that every store shares. Each function reads from a shelf and
returns `Done`: the answer, and what has to be written for it to be true. Nothing is written here, so a
function that raises has changed nothing; the store writes and commits before it lets the answer out.
"""
from __future__ import annotations

import dataclasses
import logging
import re
import secrets
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import blake2s, sha256
from typing import Generic, TypeVar

from bot.facts import Recorded
from bot.frozen import replace
from bot.lesson.book import Changes, ClassBook
from bot.lesson.timetable import day_in_zone
from bot.people.model import Club, Person
from bot.port import Sight
from bot.step import (
    COMMAND,
    Decide,
    Desk,
    Heard,
    Invitation,
    MoreNeeded,
    OtherMessage,
    Refused,
    Said,
    Say,
    Shown,
    Stepped,
    Want,
    WantCode,
    Wanted,
    WantSaid,
    seq_of_choice,
)
from bot.talk.putaside import MESSAGE
from bot.talk.state import Place, Talk
from storage import queue
from storage.filing import file
from storage.shelf import NOBODY, Answered, Apart, Home, Reach, Shelf, Written
from storage.trouble import TRIES, next_try

LOG = logging.getLogger("sprung.storage")
UNKEEPABLE = re.compile("[\0\ud800-\udfff]")     # no text for a database: a NUL, and half a pair of surrogates
ROUNDS = 20             # so often may one step ask for more before we call it a mistake of ours
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Done(Generic[T]):
    """What came of it, and what must be durable before anybody hears so.

    `error`: it came to nothing, and that is raised once what is to be kept all the same is durable.
    """

    value: T
    written: Written | None = None
    error: Exception | None = None

    def told(self) -> T:
        """What whoever asked hears, now that it is durable."""
        if self.error is not None:
            raise self.error
        return self.value


# --- a message ----------------------------------------------------------------------------------------

def step(shelf: Shelf, heard: Heard, decide: Decide) -> Done[tuple[Said, ...]]:
    """Handle a message, or answer it again. Raises OtherMessage where its id was used for another."""
    heard = readable(heard)
    print_ = fingerprint(heard)
    before = shelf.answered(heard.message)
    if before is not None:
        if before.fingerprint != print_:
            raise OtherMessage("That message id was used before for another message; nothing was recorded.")
        return Done(shelf.said(before.club, before.person, before.seqs))
    try:
        return _answered(shelf, heard, desk_of(shelf, heard), print_, decide)
    except (Refused, Apart):
        raise
    except Exception as error:      # a fault of ours; nothing is written yet
        return _failed(shelf, heard, print_, error)


def _answered(shelf: Shelf, heard: Heard, desk: Desk, print_: str, decide: Decide) -> Done[tuple[Said, ...]]:
    stepped = decided(shelf, desk, lambda full: decide(heard, full))
    written = written_by(shelf, desk, stepped, heard.message, heard.received_at, heard.id)
    seqs = tuple(one.seq for one in written.said)
    done = Answered(heard.message, written.club, written.person, print_, seqs, heard.received_at)
    return Done(written.said, replace(written, answered=done, heard_on=_heard_on(shelf, written, heard)))


def _failed(shelf: Shelf, heard: Heard, print_: str, error: Exception) -> Done[tuple[Said, ...]]:
    """Note that it could not be handled; the last time, put it aside and tell its sender what to do instead."""
    known = _sender(shelf, heard)
    club = NOBODY if known is None else known[0].club.id
    one = next_try(shelf, club, heard.message, "message", error, heard.received_at)
    if known is not None:
        shelf.memo(known[0], known[1].id).clear()       # if it was in what steps remember, the next one does without
    if one.tries < TRIES:
        return Done((), Written(club, troubles=(one,)), error)
    done = _answered(shelf, heard, _bare_desk(shelf, heard), print_, lambda heard, desk: saying(desk, MESSAGE))
    assert done.written is not None
    LOG.error("message %s is put aside after %d tries: %s in %s", one.id, one.tries, one.kind, one.place)
    return dataclasses.replace(done, written=dataclasses.replace(done.written, troubles=(one,)))


def saying(desk: Desk, text: str) -> Stepped:
    """A step that says one sentence and does nothing."""
    return Stepped(replace(desk.talk, said=desk.talk.said + 1), (Say(text),))


def _heard_on(shelf: Shelf, written: Written, heard: Heard) -> Reach | None:
    """Where this person is reached from now on; None: nobody we know, or where they were reached before."""
    reach = Reach(heard.channel, heard.sender, heard.via)
    if heard.channel == COMMAND:
        return None
    known = written.club != NOBODY and shelf.reach(written.club, written.person) != reach
    return reach if known else None


def readable(heard: Heard) -> Heard:
    """The message with nothing in its text that a database can't keep. Raises Refused where its id is such."""
    if UNKEEPABLE.search("".join((heard.id, heard.channel, heard.sender, heard.via))):
        raise Refused("The id, channel or sender of that message is not made of letters that can be kept.")
    if not UNKEEPABLE.search(f"{heard.text or ''}{heard.choice or ''}"):
        return heard
    return replace(heard, text=_keepable(heard.text), choice=_keepable(heard.choice))


def _keepable(text: str | None) -> str | None:
    return text if text is None else UNKEEPABLE.sub("\N{REPLACEMENT CHARACTER}", text)


def fingerprint(heard: Heard) -> str:
    """A digest of what makes a message the same one. Its text is not kept."""
    parts = (heard.channel, heard.sender, heard.text, heard.choice)
    whole = "\0".join("-" if part is None else f"={len(part)}:{part}" for part in parts)
    return blake2s(whole.encode("utf-8", "surrogatepass"), digest_size=16).hexdigest()


def digest_of(code: str) -> str:
    """What is kept of an invitation's code; case, blanks and hyphens don't matter when it is typed."""
    bare = "".join(letter for letter in code.casefold() if letter.isalnum())
    return sha256(bare.encode("utf-8", "surrogatepass")).hexdigest()


def stranger(channel: str, sender: str) -> str:
    """Under what name the talk of an unknown address is kept."""
    return f"{channel}:{sender}"


def desk_of(shelf: Shelf, heard: Heard) -> Desk:
    """What a message finds on its desk."""
    known = _sender(shelf, heard)
    if known is None:
        name = stranger(heard.channel, heard.sender)
        return dataclasses.replace(_bare_desk(shelf, heard), tapped=_tapped(shelf, NOBODY, name, heard))
    home, me = known
    address = (heard.channel, heard.sender)
    return desk_for(shelf, home, me, address, heard.received_at, _tapped(shelf, home.club.id, me.id, heard))


def _sender(shelf: Shelf, heard: Heard) -> tuple[Home, Person] | None:
    """Who sent it, and their club; None: a stranger."""
    whose = shelf.known(heard.channel, heard.sender)
    home = None if whose is None else shelf.home(whose[0])
    me = None if whose is None or home is None else home.people.get(whose[1])
    return None if home is None or me is None else (home, me)


def _bare_desk(shelf: Shelf, heard: Heard) -> Desk:
    """A desk with the talk alone."""
    known, address = _sender(shelf, heard), (heard.channel, heard.sender)
    if known is None:
        return Desk(None, None, address, shelf.talk(NOBODY, stranger(*address)) or Talk())
    home, me = known
    return Desk(home.club, me, address, shelf.talk(home.club.id, me.id) or Talk())


def shown_to(shelf: Shelf, home: Home, person: Person, now: datetime) -> Desk:
    """What somebody may look at who says nothing. What steps remember is left to them."""
    return dataclasses.replace(desk_for(shelf, home, person, ("", ""), now), memo={})


def desk_for(
    shelf: Shelf, home: Home, me: Person, address: tuple[str, str], now: datetime,
    tapped: Said | None = None, also: Collection[str] = (),
) -> Desk:
    """What somebody of a club may look at: the classes they are given that day, or those of their children.

    `also`: the classes of which a reminder of theirs is about, such as that which they stand in for tomorrow.
    """
    club = home.club
    if me.role == "parent":
        books = _books_of_family(shelf, club, me)
    else:
        given = {one.id for one in club.classes_of(me.id, day_in_zone(club, now))}
        books = {one.id: shelf.book(club.id, one.id) for one in club.classes if one.id in given or one.id in also}
    return Desk(
        club, me, address,
        talk=shelf.talk(club.id, me.id) or Talk(),
        people=home.people,
        books=books,
        schemes=home.schemes,
        tapped=tapped,
        memo=shelf.memo(home, me.id),
    )


def _books_of_family(shelf: Shelf, club: Club, parent: Person) -> dict[str, ClassBook]:
    """The books in which a parent's children are. What is shown of them is the dialogue's to guard (`Draft.knows`)."""
    books = {}
    for class_id in sorted(shelf.class_ids(club.id)) if parent.children else ():
        book = shelf.book(club.id, class_id)
        if any(child in book.children for child in parent.children):
            books[class_id] = book
    return books


def _tapped(shelf: Shelf, club: str, person: str, heard: Heard) -> Said | None:
    """The message that was tapped on, if it was said to this person and has that choice."""
    seq = None if heard.choice is None else seq_of_choice(heard.choice)
    if seq is None or heard.choice is None:
        return None
    return next((one for one in shelf.said(club, person, (seq,)) if one.pick(heard.choice)), None)


def decided(shelf: Shelf, desk: Desk, decide: Callable[[Desk], Stepped]) -> Stepped:
    """Call a pure decision, with more on its desk for as long as it asks for it."""
    for _ in range(ROUNDS):
        try:
            return decide(desk)
        except MoreNeeded as needed:
            fresh = {want: _read(shelf, desk, want) for want in needed.wanted if want not in desk.more}
            if not fresh:
                raise RuntimeError("a step asked again for what was on its desk") from needed
            desk = dataclasses.replace(desk, more={**desk.more, **fresh})
    raise RuntimeError("a step never stopped asking for more")


def _read(shelf: Shelf, desk: Desk, want: Wanted) -> object:
    club, person = _whose(desk)
    match want:
        case Want():
            return shelf.facts(club, want)
        case WantSaid():
            return next(iter(shelf.said(club, person, (want.seq,))), None)
        case WantCode():
            return _named(shelf, shelf.invitation(digest_of(want.code)))


def _named(shelf: Shelf, invitation: Invitation | None) -> Invitation | None:
    """An invitation with the names of its club and its child, so that it can be said what it is for."""
    home = None if invitation is None else shelf.home(invitation.club)
    if invitation is None or home is None or invitation.child is None:
        return invitation
    books = (shelf.book(home.club.id, class_id) for class_id in sorted(shelf.class_ids(home.club.id)))
    child = next((found for book in books if (found := book.children.get(invitation.child)) is not None), None)
    return replace(invitation, club_name=home.club.name, first_name="" if child is None else child.first)


def _whose(desk: Desk) -> tuple[str, str]:
    if desk.club is None or desk.me is None:
        return NOBODY, stranger(*desk.address)
    return desk.club.id, desk.me.id


# --- what a step writes -------------------------------------------------------------------------------

def written_by(
    shelf: Shelf, desk: Desk, stepped: Stepped, message: str, at: datetime, reply_to: str | None,
) -> Written:
    """All that a step came to, numbered and filed."""
    club, person = _whose(desk)
    if stepped.talk.said != desk.talk.said + len(stepped.says):
        raise RuntimeError("a step must count what it says in its talk")
    talk = stepped.talk
    if stepped.joined is not None and (club, person) != (stepped.joined.club, stepped.joined.person.id):
        club, person = stepped.joined.club, stepped.joined.person.id
        talk = _joining(talk, shelf.talk(club, person), desk.talk.said)
    if club == NOBODY and (stepped.facts or stepped.changes):
        raise RuntimeError("a stranger's message can record nothing")
    first = talk.said - len(stepped.says) + 1
    said = tuple(
        Said(club, person, seq, at, say.text, say.choices, reply_to, say.attached, _secret() if say.attached else "")
        for seq, say in enumerate(stepped.says, first)
    )
    by = person if reply_to is not None else ""
    record = tuple(
        file(Recorded(seq, message, fact), by, stepped.lesson)
        for seq, fact in enumerate(stepped.facts, shelf.last_fact(club) + 1 if stepped.facts else 0)
    )
    before, books = _books(shelf, club, desk, stepped)
    return Written(
        club, person, talk, said, None, record, stepped.changes, books, queue.difference(before, books),
        None if stepped.joined is None else (*desk.address, digest_of(stepped.joined.code), stepped.joined),
        sights=() if desk.club is None else sights(desk.club, person, stepped.shown, at),
    )


def sights(club: Club, person: str, shown: Iterable[Shown], at: datetime) -> tuple[Sight, ...]:
    """What somebody was shown, on that day of the club."""
    return tuple(Sight(person, day_in_zone(club, at), at, one) for one in shown)


def _secret() -> str:
    """What nobody guesses (128 bits), made where a message is written: a step knows no chance."""
    return secrets.token_urlsafe(16)


def _joining(talk: Talk, theirs: Talk | None, strangers: int) -> Talk:
    """The talk of one who came in with a code, counted on from what was said to that person before.

    Somebody who has a talk already goes on with it: a second phone in the middle of a lesson loses no line.
    """
    shift = (0 if theirs is None else theirs.said) - strangers
    if theirs is not None and theirs.place is not Place.STRANGER:
        return replace(theirs, said=talk.said + shift, question=None)
    question = talk.question
    return replace(
        talk,
        said=talk.said + shift,
        question=None if question is None else replace(question, seq=question.seq + shift),
        offers=tuple(replace(offer, seq=offer.seq + shift) for offer in talk.offers),
    )


Books = Mapping[str, ClassBook]


def _books(shelf: Shelf, club: str, desk: Desk, stepped: Stepped) -> tuple[Books, Books]:
    """The books that a step touches, before and after it."""
    changes = stepped.changes
    if not changes:
        return {}, {}
    if desk.club is not None and desk.club.id != club:
        raise RuntimeError("a step can't change the books of a club that it leaves")
    queues = {*(changes.pending or ()), *(changes.fired or ())}
    before = {**desk.books, **{key: shelf.book(club, key) for key in queues - desk.books.keys()}}
    after = {key: _with(book, changes) for key, book in before.items()}
    return before, {key: book for key, book in after.items() if book != before[key]}


def _with(book: ClassBook, changes: Changes) -> ClassBook:
    _ = book.called                 # worked out once for a class, not once for a message
    return tidy(queue.without_fired(book.with_changes(changes)))


def tidy(book: ClassBook) -> ClassBook:
    """The book with nothing of children who are not in the class."""
    children = book.children.keys()
    if all(kept.keys() <= children for kept in (book.standings, book.awards, book.contacts, book.agreed)):
        return book
    return dataclasses.replace(
        book,
        standings={child: of for child, of in book.standings.items() if child in children},
        awards={child: of for child, of in book.awards.items() if child in children},
        contacts={child: of for child, of in book.contacts.items() if child in children},
        agreed={child: of for child, of in book.agreed.items() if child in children},
    )
