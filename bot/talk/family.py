"""Strangers and families: coming in with a code, saying yes to news, and ending it at once."""
from __future__ import annotations

from bot.facts import ConsentSaid
from bot.people.model import Person
from bot.step import Invitation, Joined
from bot.talk import requests
from bot.talk.draft import Draft
from bot.talk.places import Move, moved
from bot.talk.state import Place, Question
from bot.talk.taps import Agree

WORDS = (
    "You would get a short message when the club saw something new of your child's skills, at most one a day, and "
    "when an award is handed over. Nothing about other children, and nothing that is missing. Quiet weeks stay "
    "quiet. You can end it any time by writing STOP. Shall we send these?"
)
STRANGER = "Hello. This is a club's line for its coaches and families. If you were given a code, type: join CODE."


def stranger(draft: Draft, asked: tuple[requests.Typed, ...]) -> None:
    """Somebody whom we do not know: a code, help, stop; nothing else is ever answered otherwise."""
    for request in asked:
        if isinstance(request, requests.Join):
            join(draft, request.code)
            return
        if isinstance(request, requests.Say) and request.word == "stop":
            draft.say("Nothing will be sent to you. If you were given a code, type: join CODE.")
            return
    draft.say(STRANGER)


def join(draft: Draft, code: str) -> None:
    """A code that was handed over in person."""
    invitation = draft.desk.invitation(code)
    if invitation is None or invitation.used or invitation.expires_at <= draft.now:
        draft.say("That code is not valid: a code works once and for 14 days. Ask your club for a new one.")
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
        draft.say(WORDS, ("Yes", Agree(True, invitation.child, WORDS)), ("No", Agree(False, invitation.child, WORDS)),
                  question=Question("child", draft.next_seq()))
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
    if draft.me.role != "parent" or tap.child not in draft.me.children:
        draft.say("Nothing was asked of you. Type help.")
        return
    if tap.yes:
        draft.record(ConsentSaid(tap.child, draft.me.id, True, draft.sent_at, tap.words))
        draft.talk = moved(draft.talk, Move.AGREED)
        draft.say("Thank you. You will hear from us when there is something new. STOP ends it at once.")
        return
    _end(draft, (tap.child,), "Then nothing is sent. If you change your mind, ask the club for a new code.")


def _end(draft: Draft, children: tuple[str, ...], text: str) -> None:
    for child in children:
        draft.record(ConsentSaid(child, draft.me.id, False, draft.sent_at))
    draft.talk = moved(draft.talk, Move.LEFT)
    draft.say(text)


def parent(draft: Draft, asked: tuple[requests.Typed, ...]) -> None:
    """A parent: yes and no while asked, stop, help, another code. Anything else is for the coach, after class."""
    for request in asked:
        if isinstance(request, requests.Join):
            join(draft, request.code)
            return
        if isinstance(request, requests.Say) and request.word == "stop":
            _end(draft, draft.me.children, "Ended. Nothing more is sent to you.")
            return
        if isinstance(request, requests.Say) and request.word in ("yes", "no") and draft.talk.place is Place.CONSENT:
            child = draft.me.children[-1]
            agree(draft, Agree(request.word == "yes", child, WORDS))
            return
    if draft.talk.place is Place.CONSENT:
        child = draft.me.children[-1]
        draft.say(WORDS, ("Yes", Agree(True, child, WORDS)), ("No", Agree(False, child, WORDS)))
        return
    worry = f" For a worry about a child: {draft.club.welfare}." if draft.club.welfare else ""
    draft.say(f"Your coach can tell you more after class. Write STOP and nothing more is sent.{worry}")


