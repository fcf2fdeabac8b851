"""Strangers and families: coming in with a code, saying yes to news, and ending it at once."""
from __future__ import annotations

from bot.facts import ConsentSaid
from bot.frozen import replace
from bot.lesson.book import Contact
from bot.people.model import Person
from bot.step import Invitation, Joined
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.optout import opts_in, opts_out
from bot.talk.places import Move, moved
from bot.talk.state import Place, Question
from bot.talk.taps import Agree, CutOff, Leave, Tap
from bot.talk.watching import of_place

WORDS = (
    "{club}: for news of {child}. You would get a short message when the club saw something new of what {child} can "
    "do, at most one a day, and when an award is handed over. Nothing about other children, and nothing that is "
    "missing. Quiet weeks stay quiet. You can end it any time by writing STOP. Shall we send these? Yes or no."
)
CLEARLY = "That has to be a clear yes or no. Nobody reads questions here; the club answers them. Shall we send it?"
ELSE = "In danger: the emergency number. Anything else: your coach, after class."
NO = "Then nothing is sent. If you change your mind, ask the club for a new code."
ENDED = ("Ended. Nothing more is sent to you. If you want it back one day, ask the club for a new code. "
         "Your coach can tell you more after class.")
ENDED_BEFORE = "To have news of your child again, ask the club for a new code, and type: join CODE."
STRANGER = "Hello. This is a club's line for its coaches and families. If you were given a code, type: join CODE."


def stranger(draft: Draft, asked: tuple[requests.Typed, ...], text: str = "") -> None:
    """Somebody whom we do not know: a code, help, stop; nothing else is ever answered otherwise."""
    for request in asked:
        if isinstance(request, requests.Join):
            join(draft, request.code)
            return
    if opts_out(text) or any(isinstance(one, requests.Say) and one.word == "stop" for one in asked):
        draft.say("Nothing will be sent to you. If you were given a code, type: join CODE.")
        return
    draft.say(STRANGER)


def join(draft: Draft, code: str) -> None:
    """A code that was handed over in person."""
    invitation = draft.desk.invitation(code)
    if invitation is None or invitation.used or invitation.expires_at <= draft.now:
        draft.say("That code is not valid: a code works once and for 14 days. Ask your club for a new one.",
                  question=draft.talk.question)
        return
    if invitation.child is not None and draft.desk.me is not None and draft.me.role != "parent":
        draft.say("This number is yours as one of the club's people, and stays so. That code is for a parent: "
                  "send it from another number. Here, type help.", question=draft.talk.question)
        return
    person = _who(draft, invitation)
    if person is None:
        draft.say("That code is not valid any more. Ask your club for a new one.")
        return
    draft.joined = Joined(code, invitation.club, person)
    if invitation.child is not None:
        draft.talk = moved(draft.talk, Move.PUT)
        put(draft, invitation.child, WORDS.format(club=invitation.club_name, child=invitation.first_name))
        return
    draft.talk = moved(draft.talk, Move.MET)
    hint = "You see today's lines here." if person.role == "helper" else "Type start when your class begins, or help."
    draft.say(f"Welcome, {person.first_name}. {hint}")


def _who(draft: Draft, invitation: Invitation) -> Person | None:
    if invitation.child is None:
        return invitation.person
    me = draft.desk.me
    if me is not None and me.role == "parent" and draft.desk.club is not None and draft.desk.club.id == invitation.club:
        return with_children(me, (*me.children, invitation.child))
    return Person(id=f"p-{draft.message}", name="", role="parent", children=(invitation.child,))


def with_children(person: Person, children: tuple[str, ...]) -> Person:
    """The same parent with these children, each once."""
    return person.model_copy(update={"children": tuple(dict.fromkeys(children))})


def agree(draft: Draft, tap: Agree) -> None:
    """Yes, or no, to what was put to a parent."""
    if draft.me.role != "parent" or tap.child not in draft.me.children or not draft.knows(tap.child):
        draft.say("Nothing was asked of you. Type help.")
        return
    before = draft.book_of(tap.child).contacts.get(tap.child, {}).get(draft.me.id)
    pending = _pending(draft)
    if tap.yes and before is None and (pending is None or pending.child != tap.child):
        draft.say(ENDED_BEFORE)     # they have said no, or stop, since that was asked
        return
    if tap.yes:
        draft.record(ConsentSaid(tap.child, draft.me.id, True, draft.sent_at, tap.words))
        contact = replace(before, since=draft.sent_at) if before is not None else Contact(draft.sent_at)
        draft.put_contact(tap.child, draft.me.id, contact)
        draft.talk = moved(draft.talk, Move.AGREED)
        draft.say("Thank you. You will hear from us when there is something new. STOP ends it at once.")
        return
    _end(draft, (tap.child,), NO)


def _end(draft: Draft, children: tuple[str, ...], text: str) -> None:
    for child in children:
        draft.record(ConsentSaid(child, draft.me.id, False, draft.sent_at))
        if draft.knows(child):
            draft.put_contact(child, draft.me.id, None)
    draft.talk = moved(draft.talk, Move.LEFT)
    draft.say(text)


def parent(draft: Draft, asked: tuple[requests.Typed, ...], text: str = "") -> None:
    """A parent: yes and no while asked, stop in any words, help, another code. All else is for after class."""
    for request in asked:
        if isinstance(request, requests.Join):
            join(draft, request.code)
            return
        if isinstance(request, requests.Say) and request.word == "help":
            _help(draft)
            return
        if isinstance(request, requests.Say) and request.word in ("yes", "no") and (put_to := _pending(draft)):
            agree(draft, replace(put_to, yes=request.word == "yes"))
            return
    if opts_out(text) or any(isinstance(one, requests.Say) and one.word == "stop" for one in asked):
        _end(draft, draft.me.children, ENDED)
        return
    pending = _pending(draft)
    if pending is not None:
        _ask_again(draft, CLEARLY, pending)
        return
    told = _told_of(draft)
    if opts_in(text) and not told:
        draft.say(ENDED_BEFORE)
        return
    ends = "STOP ends the news." if told else "Nothing is sent to you now; write help to see how it begins."
    draft.say(f"Nobody reads this line; it only sends news.{_worry(draft)} {ELSE} {ends}")


def _pending(draft: Draft) -> Agree | None:
    """What was put to this parent and is not answered yet."""
    question = draft.talk.question
    said = draft.desk.said(question.seq) if question is not None and draft.talk.place is Place.CONSENT else None
    first = said.choices[0].tap if said is not None and said.choices else None
    return first if isinstance(first, Agree) else None


def _ask_again(draft: Draft, text: str, pending: Agree) -> None:
    """What was put and is not answered yet can still be answered."""
    draft.say(text, ("Yes", replace(pending, yes=True)), ("No", replace(pending, yes=False)),
              question=Question("child", draft.next_seq()))


def put(draft: Draft, child: str, shown: str) -> None:
    """What would be sent, and the question."""
    draft.say(shown, ("Yes", Agree(True, child, shown)), ("No", Agree(False, child, shown)),
              question=Question("child", draft.next_seq()))


def renew(draft: Draft, child: str) -> None:
    """A yes is a year old: asked once. No answer leaves it as it is."""
    if not draft.knows(child):
        return
    name = draft.child(child).first
    shown = WORDS.format(club=draft.club.name, child=name)
    draft.say(f"A year ago you asked for news of {name}. Does that still hold? If you say nothing, it stays as it is. "
              f"{shown}", ("Yes", Agree(True, child, shown)), ("No", Agree(False, child, shown)),
              question=draft.talk.question)


def _help(draft: Draft) -> None:
    told, pending = _told_of(draft), _pending(draft)
    if told:
        what = (f"This is {draft.club.name}. When there is something new of {words.names(told)}, a short message comes "
                "in the evening, at most one a day for each child; in quiet weeks none. Write STOP to end it at once.")
    elif pending is not None:
        what = f"This is {draft.club.name}. Nothing is sent to you unless you say yes to what you were asked."
    else:
        what = (f"This is {draft.club.name}. Nothing is sent to you now. For news of your child ask the club for a "
                "code, and type: join CODE.")
    text = f"{what} Nobody reads this line.{_worry(draft)} {ELSE}"
    if pending is not None:
        _ask_again(draft, text, pending)
    else:
        draft.say(text)


def _told_of(draft: Draft) -> list[str]:
    """The first names of the children of whom this parent hears."""
    return [draft.child(child).first for child in draft.me.children
            if draft.knows(child) and draft.me.id in draft.book_of(child).contacts.get(child, {})]


def _worry(draft: Draft) -> str:
    """Whom to turn to with a worry about a child. We never read what it is about."""
    return f" A worry about a child: {draft.club.welfare}." if draft.club.welfare else ""


# --- cutting somebody off -----------------------------------------------------------------------------------

def cut_off_whom(draft: Draft, children: tuple[str, ...]) -> None:
    """`cut off ava`: which of the phones that hear of her, before it is done; none of them is told."""
    child = children[0]
    contacts = draft.book_of(child).contacts.get(child, {})
    who = draft.called(child)
    if draft.me.role != "coach" or len(children) > 1:
        text = "One child at a time, please." if len(children) > 1 else "That is for her coach to do."
        draft.say(text, *of_place(draft), question=draft.talk.question)
        return
    if not contacts:
        draft.say(f"No family hears of {who}.", *of_place(draft), question=draft.talk.question)
        return
    since = {parent: words.date_in_full(draft.local(one.since).date()) for parent, one in contacts.items()}
    choices: list[tuple[str, Tap]] = [("Cut off" if len(since) == 1 else "All of them", CutOff(child, tuple(since)))]
    if len(since) > 1:
        choices += [(words.label(f"Phone {n}"), CutOff(child, (parent,))) for n, parent in enumerate(since, start=1)]
    listed = "; ".join(f"phone {n}, since {day}" for n, day in enumerate(since.values(), start=1))
    draft.say(f"News of {who} goes to {words.count(len(since), 'phone')}: {listed}. Cut off silently? Only a new code "
              "begins it again.", *choices, ("Not now", Leave((), "not now")),
              question=Question("reading", draft.next_seq()))


def cut_off(draft: Draft, tap: CutOff) -> None:
    """Nothing of this child goes to these any more, and nobody there is told so."""
    if draft.me.role != "coach" or not draft.knows(tap.child):
        draft.say("That child is not in a class of yours.", *of_place(draft))
        return
    for parent_id in tap.parents:
        draft.record(ConsentSaid(tap.child, parent_id, False, draft.sent_at))
        draft.put_contact(tap.child, parent_id, None)
    phones = words.count(len(tap.parents), "phone")
    draft.say(f"Done: nothing of {draft.called(tap.child)} goes to {phones} any more, and nothing was said there.",
              *of_place(draft))
