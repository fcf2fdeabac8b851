"""What a typed text refers to: an earlier choice, a number on the screen, or words in this moment of the talk.

What lives here: everything that is worked out before a text is read, and nothing is done or recorded.
"""
from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from typing import Final, Generic, Literal, TypeVar

from bot.lesson.line import Line
from bot.lesson.timetable import day_in_zone
from bot.scheme.model import Scheme
from bot.step import Said
from bot.talk import answering, compared, requests, undoing, watching, words
from bot.talk import taps as t
from bot.talk.draft import Draft
from bot.talk.looking import CLOCKS_DIFFER
from bot.talk.marking import left_of
from bot.talk.reading import Context, Vocabulary
from bot.talk.reading.fold import fold
from bot.talk.state import Offer

MOMENT = timedelta(seconds=60)      # a word without a skill about a child who was marked so recently corrects that
EXPECTS: Final[dict[str, Literal["names", "points"]]] = {
    "missing": "names", "who": "names", "hold": "names", "whose": "names", "reason": "points",
}
OTHER_MISS = ("other", "other miss", "another", "why")
OUR_OWN = Vocabulary((), Scheme(name="none"))       # the words that are ours, and no club's
K = TypeVar("K")


@dataclass(frozen=True, slots=True)
class Meant:
    """A number that was typed alone, and what it may have meant: a child who stands there, an earlier choice."""

    number: int
    child: str | None
    label: str
    tap: t.Tap | None


def as_choice(draft: Draft, text: str) -> t.Tap | Meant | None:
    """A typed number or label of a choice. A number that answers "who?" is a child's, not a choice's."""
    plain = fold(text).strip(" .!")
    offers = draft.talk.offers
    question = draft.talk.question
    if question is not None and question.about == "reason" and plain in OTHER_MISS:
        asked = answering.marks_asked(draft, question.marks)
        return t.Reasons(tuple(mark for mark in asked if mark.skill == asked[0].skill)) if asked else None
    if not plain or not offers:
        return None
    if plain.isascii() and plain.isdigit() and len(plain) < 5:
        return _numbered(draft, int(plain))
    on_screen = next((offer for offer in offers if _there(draft, offer)), None)
    if on_screen is None or (on_screen is offers[0] and on_screen.seq != draft.talk.said):
        return None
    for index, label in enumerate(on_screen.labels):
        if fold(label).strip(" .!…") == plain:
            tap = _tap_at(draft.desk.said(on_screen.seq), index)
            return None if _else_meant(draft, tap) else tap
    return None


def _there(draft: Draft, offer: Offer) -> bool:
    """Had that been said when this message was sent? Nobody means a choice that they had not seen yet."""
    if draft.now - draft.sent_at <= CLOCKS_DIFFER:
        return True
    said = draft.desk.said(offer.seq)
    return said is not None and said.at <= draft.sent_at + CLOCKS_DIFFER


def earlier_choice(draft: Draft, text: str) -> t.Tap | None:
    """The choice of an earlier message by its words, for a text that means nothing else. It is complete in itself."""
    plain = fold(text).strip(" .!")
    for offer in draft.talk.offers:
        for index, label in enumerate(offer.labels if _there(draft, offer) else ()):
            if fold(label).strip(" .!…") == plain:
                return _tap_at(draft.desk.said(offer.seq), index)
    return None


def _else_meant(draft: Draft, tap: t.Tap | None) -> bool:
    """Is a typed label more than its choice? `all seen` where two lines stand; `start`, days after it was offered."""
    if isinstance(tap, t.Open):
        return not tap.held and tap.day not in (None, day_in_zone(draft.club, draft.now))
    if isinstance(tap, t.Undo):
        return undoing.sent_later(draft, tap.message)
    return isinstance(tap, t.Answer) and (_several_lines(draft) or not draft.stood(tap.line))


def _several_lines(draft: Draft) -> bool:
    """Do two lines stand there, so that `all seen` must be asked about?"""
    lines = (*draft.talk.lines, *compared.lines(draft))
    return len({(line.skill, line.show, line.look) for line in lines if left_of(draft, line)}) > 1


def _numbered(draft: Draft, number: int) -> t.Tap | Meant | None:
    question = draft.talk.question
    if question is not None and question.line is not None:
        for child in question.line.children:
            if watching.number_of(draft, child) == number:
                return t.Again(question.line, child)
    standing = {watching.number_of(draft, child): child for line in draft.talk.lines for child in left_of(draft, line)}
    for offer in draft.talk.offers:
        if offer.first <= number < offer.first + len(offer.labels):
            tap = _tap_at(draft.desk.said(offer.seq), number - offer.first)
            if tap is None or (number not in standing and _still_on(draft, offer, tap)):
                return tap
            label = offer.labels[number - offer.first]
            return Meant(number, standing.get(number), label, tap)
    return Meant(number, standing[number], "", None) if number in standing else None


def _still_on(draft: Draft, offer: Offer, tap: t.Tap) -> bool:
    """Is a choice of the last message, or the same as one of it, or one more of the names that were to be picked?

    A question in between (`plan`, `owed`) leaves the line where it was, and names are picked one after the other.
    """
    last = draft.talk.offers[0]
    if offer is last and offer.seq == draft.talk.said:
        return True
    said = draft.desk.said(last.seq)
    if said is not None and any(choice.tap == tap for choice in said.choices):
        return True
    return offer in draft.talk.offers[:2] and isinstance(tap, t.Again)


def which_was_meant(draft: Draft, meant: Meant) -> None:
    """A bare number that is not one of the last message's choices: asked, for it may be a child's."""
    choices: list[tuple[str, t.Tap]] = []
    text = []
    if meant.child is not None and draft.knows(meant.child):
        line = next(one for one in draft.talk.lines if meant.child in one.children)
        who = draft.called(meant.child)
        text.append(f"{meant.number} is {who}. What did you see?")
        for label, verdict in (("seen", "seen"), ("not yet", "not yet")):
            mark = requests.Mark((meant.child,), verdict, line.skill, show=line.show)   # type: ignore[arg-type]
            choices.append((words.label(f"{who} {label}"), t.Do((mark,), draft.sent_at)))
    if meant.tap is not None:
        of = _of_line(draft, meant.tap)
        text.append(f"{meant.number} was “{meant.label}” of an earlier message{of}. Do that now?")
        choices.append((meant.label, meant.tap))
    draft.say(" ".join(text), *choices, question=draft.talk.question)


def _of_line(draft: Draft, tap: t.Tap) -> str:
    """` (galop step: Ben and Dara)`: what an answer to a line is about."""
    line = tap.line if isinstance(tap, t.Answer | t.Some) else None
    if line is None or line.skill not in draft.scheme.skills:
        return ""
    who = words.names(draft.called(child) for child in line.children if draft.knows(child))
    return f" ({words.inside(draft.skill(line.skill).name)}: {who})"


def _tap_at(said: Said | None, index: int) -> t.Tap | None:
    return said.choices[index].tap if said is not None and index < len(said.choices) else None


def context(draft: Draft) -> Context:
    """What a reader needs to know of this talk. A family's words are about nobody's name but ours."""
    talk = draft.talk
    if draft.desk.me is None or draft.me.role == "parent":
        now = draft.local(draft.sent_at) if draft.desk.club is not None else draft.sent_at
        return Context(OUR_OWN, now)
    question = talk.question
    lesson = draft.lesson(talk.lesson)
    books = [draft.books[lesson.class_id]] if lesson is not None and lesson.is_open else list(draft.books.values())
    children = tuple((child.id, child.name) for book in draft.books.values() for child in book.children.values())
    lines = tuple(one for one in talk.lines if draft.stood(one))
    line = lines[0] if lines else talk.suggested
    if question is not None and question.line is not None:
        line = question.line
    expects = None
    if question is not None:
        expects = EXPECTS.get(question.about)
    return Context(
        vocabulary=_vocabulary(draft, children),
        numbers=_Asked(lambda: {n: child for n, child in enumerate(talk.stood, start=1) if draft.knows(child)}),
        groups={name: members for book in books for name, members in book.groups.items()},
        skill=_skill_spoken_of(draft),
        skill_of=_Asked(
            lambda: _last_shown(draft) | _stood_for(draft, lines)
        ),
        line=line.children if line is not None else (),
        expects=expects,
        now=draft.local(draft.sent_at),
    )


class _Asked(Mapping[K, str], Generic[K]):
    """Worked out when a reader first asks: a message that names children and a skill needs nothing of it."""

    def __init__(self, work: Callable[[], Mapping[K, str]]) -> None:
        self._work = work

    @cached_property
    def _found(self) -> Mapping[K, str]:
        return self._work()

    def __getitem__(self, key: K) -> str:
        return self._found[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)


def _last_shown(draft: Draft) -> dict[str, str]:
    """Child → the skill on which she was marked a moment ago: a word about her without a skill corrects that."""
    lesson = draft.lesson(draft.talk.lesson)
    if lesson is None or not lesson.is_open:
        return {}
    found: dict[str, str] = {}
    since, upto, skills = draft.sent_at - MOMENT, draft.sent_at, draft.scheme.skills
    for child, of_child in draft.books[lesson.class_id].standings.items():
        shown = [
            (one.last.at, skill) for skill, one in of_child.items()
            if one.last is not None and since <= one.last.at <= upto and skill in skills
        ]
        if shown:
            _, found[child] = max(shown)
    return found


def _stood_for(draft: Draft, lines: Sequence[Line]) -> dict[str, str]:
    """Child → the skill for which she stands there; of a line and a second look, whichever was put up later."""
    found = {child: line for line in reversed(lines) for child in line.children}
    for look in compared.lines(draft):
        for child in look.children:
            if child not in found or found[child].asked_at < look.asked_at:
                found[child] = look
    return {child: line.skill for child, line in found.items()}


def _skill_spoken_of(draft: Draft) -> str | None:
    """The skill that a word about no skill is about: that of the reason asked for, else the one watched."""
    question = draft.talk.question
    if question is not None and question.about == "reason":
        asked = answering.marks_asked(draft, question.marks)
        if asked:
            return asked[0].skill
    lesson = draft.open_lesson()
    if draft.desk.me is not None and draft.me.role == "helper" and lesson is not None:
        return next((line.skill for line in lesson.lines.values() if left_of(draft, line)), None)
    since = draft.talk.lines[:1]
    return None if since and not draft.stood(since[0]) else draft.talk.turned


def _vocabulary(draft: Draft, children: tuple[tuple[str, str], ...]) -> Vocabulary:
    """The words of this person's classes. Kept between messages while children and scheme are the same."""
    known = draft.desk.memo.get("vocabulary")
    judges = tuple(
        (person, draft.desk.people[person].name)
        for person in dict.fromkeys(one for klass in draft.own for one in (*klass.coach, *klass.assistant))
        if person != draft.me.id and person in draft.desk.people
    )
    same = isinstance(known, Vocabulary) and known.scheme is draft.scheme
    if isinstance(known, Vocabulary) and same and (known.children, known.judges) == (children, judges):
        return known
    made = Vocabulary(children, draft.scheme, draft.own, judges)
    draft.desk.memo["vocabulary"] = made
    return made
