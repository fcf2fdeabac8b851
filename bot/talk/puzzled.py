"""What was not understood, or can mean two things: one sentence that says which word, and a next thing to do."""
from __future__ import annotations

from typing import Final

from bot.fold import fold
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.state import Question
from bot.talk.taps import Do, Leave
from bot.talk.watching import of_place

_WHY: dict[requests.Why, str] = {
    "no child": "Who? Type a name with it: ava seen.",
    "no verdict": "{word}: what did you see? Add seen, or not yet.",
    "no skill": "Which skill? Type it with the name: ava seen cartwheel.",
    "time": "“{word}” is no time of that day. Type it like 17:10.",
    "future": "That time is still to come, so nothing was recorded.",
    "too old": "That is more than 14 days ago, so nothing was recorded.",
    "too long": "That is too long to read. Send it in shorter messages.",
    "empty": "That message was empty. Type a name and what you saw, or help.",
    "aim": "“{word}” is wished for, never a miss, so nothing was recorded. Name another point, or just: not yet.",
    "no side": "That skill has no left or right, so nothing was recorded. Leave “{word}” out.",
    "no such show": "That skill has no {word}, so nothing was recorded.",
    "needs name": "{word}: type the name with it.",
    "needs code": "Type the code with it, as you were given it: join AB12-CD34.",
    "needs way": "Type it like this: agree ava cartwheel: seated. One child, one skill, and after the colon how.",
    "needs count": "Type it like this: cupboard lantern 5. The name of an award, and how many there are.",
    "needs spelling": "Type it like this: spell ava: Ava Price. After the colon the name as it is printed.",
    "needs ruling": (
        "Type it like this: ruling cartwheel legs: a soft knee is fine. One skill, one of its points (as in: standard "
        "cartwheel), and after the colon at most 120 letters."
    ),
    "needs list": "Type the class, a colon, and the names: add to tuesday: Ava Price, Ben Osei. No figures in names.",
    "ambiguous": "That can be read in too many ways, so nothing was recorded. Send it in shorter messages.",
    "word": "I don't know “{word}”, so nothing was recorded. Type it another way, or help.",
}


HURT: Final = frozenset([      # common practice, no source
    "fell", "fallen", "falls", "hurt", "hurts", "injured", "injury", "bleeding", "bleeds", "crying", "cries",
    "bump", "bumped", "bumps", "hit", "hits", "banged", "bangs", "knocked", "twisted", "sprained", "broken", "broke",
    "dizzy", "fainted", "concussion", "concussed", "limping", "nosebleed",
])


def not_understood(draft: Draft, result: requests.NotUnderstood, text: str) -> None:
    """Nothing of the message was recorded; say which word it was. Somebody who may be hurt comes first."""
    if speaks_of_hurt(text):
        _somebody_is_hurt(draft, text)
        return
    word = result.word if len(result.word) <= 40 else result.word[:39] + "…"
    if word.isascii() and word.isdigit() and 0 < int(word) <= len(draft.talk.stood):
        child = draft.talk.stood[int(word) - 1]
        word = f"{word} ({draft.called(child)})" if draft.knows(child) else word
    draft.say(_WHY[result.why].format(word=word), *of_place(draft), question=draft.talk.question)


def which_one(draft: Draft, result: requests.WhichOne) -> None:
    """Two readings, two children of one name, or a name with a slip: asked, never guessed."""
    choices = tuple(
        (words.label(label), Do(option.requests, draft.sent_at)) for label, option in result.options[:6]
    )
    named = words.names((label for label, _ in result.options[:6]), last="or")
    if result.why == "slip" and len(result.options) == 1:
        text = f"I don't know “{result.word}”. Is it {named}? Nothing is recorded until you say."
    elif result.why == "slip":
        text = f"I don't know “{result.word}”. {named}? Nothing is recorded until you say."
    elif result.why == "child":
        text = f"Which {result.word}: {named}?"
    else:
        text = f"That can mean two things: {named}?"
    no = (("No", Leave((), "not now")),) if result.why == "slip" else ()
    draft.say(text, *choices, *no, question=Question("reading", draft.next_seq()))


def speaks_of_hurt(text: str) -> bool:
    """Is there a word in it for being hurt?"""
    return not HURT.isdisjoint(fold(text).split())


def _somebody_is_hurt(draft: Draft, text: str) -> None:
    """A word for being hurt: Bump is one tap away for every child whose first name stands beside it."""
    said = frozenset(fold(text).split())
    found = [
        child for book in draft.books.values() for child, one in book.children.items()
        if said & {fold(one.first), fold(f"{one.first}'s")}
    ]
    who = words.names(map(draft.called, found), last="or") or "somebody"
    choices = [(words.label(f"Bump {draft.called(child)}"), Do((requests.Note("bump", (child,)),), draft.sent_at))
               for child in found]
    draft.say(f"If {who} is hurt, look after {who if len(found) == 1 else 'them'} first; follow the club's accident "
              f"rules. Nothing is recorded.{'' if found else ' Type bump and the name.'}",
              *choices, *of_place(draft), question=draft.talk.question)
