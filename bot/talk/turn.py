"""One turn of the talk: `step` for a message, `wake` for time that has come. Pure; all wiring is here.

A message is a tap (its request is taken from the message that carried it) or a text (a number or a label of
an earlier choice, else it is read). What it asks is handed to the one function that does it.
"""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.reminders import queued
from bot.scheme.model import Scheme
from bot.step import Desk, Heard, Said, Stepped, Woken, seq_of_choice
from bot.talk import answering, asides, family, helper, lessons, register, requests, undoing, waking, watching, words
from bot.talk import taps as t
from bot.talk.draft import Draft
from bot.talk.marking import left_of
from bot.talk.places import Move, moved
from bot.talk.puzzled import not_understood, which_one
from bot.talk.reading import Context, Vocabulary, read
from bot.talk.reading.fold import fold
from bot.talk.stamp import refuse_time
from bot.talk.state import Place

GROWN_UP = ("coach", "assistant")
MOMENT = timedelta(seconds=60)
OTHER_MISS = ("other", "other miss", "another", "why")
NO_SCHEME = Scheme(name="none")


def step(heard: Heard, desk: Desk) -> Stepped:
    """What one message comes to."""
    draft = Draft(desk, heard.message, heard.received_at, min(heard.sent_at, heard.received_at))
    draft.lesson_of_message = desk.talk.lesson
    _known(draft)
    refusal = refuse_time(draft, heard)
    if refusal is not None:
        draft.say(refusal)
    elif heard.choice is not None:
        _choice(draft, heard.choice)
    else:
        _text(draft, heard.text or "")
    draft.change_talk(heard_at=heard.received_at)
    remind(draft)
    return draft.done()


def wake(woken: Woken, desk: Desk) -> Stepped:
    """What reminders that are due come to."""
    draft = Draft(desk, woken.id, woken.now, woken.now)
    _known(draft)
    waking.fire(draft, woken.due)
    remind(draft)
    return draft.done()


def _known(draft: Draft) -> None:
    """Whoever the club knows is no stranger, though this be the first word we hear from them."""
    if draft.desk.me is not None and draft.talk.place is Place.STRANGER:
        draft.talk = moved(draft.talk, Move.LEFT if draft.me.role == "parent" else Move.MET)


def remind(draft: Draft) -> None:
    """Derive what is due once more, for every class whose book this step changed."""
    if draft.desk.club is None:
        return
    for class_id, book in list(draft.books.items()):
        if book is not draft.desk.books[class_id]:
            kept = draft.desk.memo.setdefault(f"due {class_id}", {})
            assert isinstance(kept, dict)
            draft.put_reminders(class_id, *queued(book, draft.club, draft.now, kept))


@dataclass(frozen=True, slots=True)
class Meant:
    """A number that was typed alone, and what it may have meant: a child who stands there, an earlier choice."""

    number: int
    child: str | None
    label: str
    tap: t.Tap | None


# --- taps ------------------------------------------------------------------------------------------

def _choice(draft: Draft, choice: str) -> None:
    said = draft.desk.tapped
    picked = said.pick(choice) if said is not None and seq_of_choice(choice) is not None else None
    if picked is None:
        draft.say("That choice is not known here. Type what you want, or help.", *_usual(draft))
        return
    tapped(draft, picked.tap)


def _usual(draft: Draft) -> list[tuple[str, t.Tap]]:
    grown_up = draft.desk.me is not None and draft.me.role in GROWN_UP
    return watching.of_place(draft) if grown_up else []


def tapped(draft: Draft, tap: t.Tap) -> None:
    """Do what a choice asks. A choice is checked against who may do it now, whatever it said then."""
    role = draft.desk.me.role if draft.desk.me is not None else None
    if isinstance(tap, t.Agree) and role == "parent":
        family.agree(draft, tap)
    elif isinstance(tap, t.Showed) and role is not None and role != "parent":
        helper.showed(draft, tap)
    elif role in GROWN_UP:
        _tapped_by_coach(draft, tap)
    else:
        draft.say("That is not yours to answer any more. Type help.")


def _tapped_by_coach(draft: Draft, tap: t.Tap) -> None:
    match tap:
        case t.Answer():
            answering.answer(draft, tap)
        case t.Some():
            answering.some(draft, tap)
        case t.Again():
            answering.again(draft, tap)
        case t.Watch():
            answering.watch(draft, tap.line)
        case t.Another():
            asides.another(draft, tap)
        case t.Turn():
            asides.turn(draft, tap.skill, tap.lesson)
        case t.Card():
            asides.standard(draft, tap.skill)
        case t.Register():
            register.register(draft, tap)
        case t.Count():
            answering.count(draft, tap)
        case t.Leave():
            answering.leave(draft, tap)
        case t.Correct():
            answering.put_right(draft, tap.mark, tap.verdict)
        case t.Reason():
            answering.reason(draft, tap.marks, tap.points)
        case t.Reasons():
            answering.reasons(draft, tap)
        case _:
            _tapped_more(draft, tap)


def _tapped_more(draft: Draft, tap: t.Tap) -> None:
    match tap:
        case t.Undo():
            undoing.message(draft, tap.message)
        case t.Open():
            lessons.open_lesson(draft, tap)
        case t.Shut():
            lessons.close(draft, tap.lesson)
        case t.Do():
            do(draft, tap.requests, tap)
        case t.Order():
            lessons.order(draft, tap)
        case t.Quiet():
            lessons.quiet(draft, tap.lesson, tap.paused)
        case _:
            help_(draft)


# --- texts -----------------------------------------------------------------------------------------

def _text(draft: Draft, text: str) -> None:
    typed = _as_choice(draft, text)
    if isinstance(typed, Meant):
        _which_was_meant(draft, typed)
        return
    if typed is not None:
        tapped(draft, typed)
        return
    result = read(text, context(draft))
    if isinstance(result, requests.Understood):
        _understood(draft, result.requests)
    elif draft.desk.me is None:
        family.stranger(draft, ())
    elif draft.me.role == "parent":
        family.parent(draft, ())
    elif isinstance(result, requests.WhichOne):
        which_one(draft, result)
    elif draft.me.role == "helper":
        helper.lines(draft)
    else:
        not_understood(draft, result)


def _understood(draft: Draft, asked: tuple[requests.Typed, ...]) -> None:
    if draft.desk.me is None:
        family.stranger(draft, asked)
    elif draft.me.role == "parent":
        family.parent(draft, asked)
    elif draft.me.role == "helper":
        helper.handle(draft, asked)
    else:
        do(draft, asked)


def _as_choice(draft: Draft, text: str) -> t.Tap | Meant | None:
    """A typed number or label of a choice. A number that answers "who?" is a child's, not a choice's."""
    plain = fold(text).strip(" .!")
    offers = draft.talk.offers
    question = draft.talk.question
    if question is not None and question.about == "reason" and plain in OTHER_MISS:
        asked = answering.marks_asked(draft, question.marks)
        return t.Reasons(asked) if asked else None
    if not plain or not offers:
        return None
    if plain.isascii() and plain.isdigit() and len(plain) < 5:
        return _numbered(draft, int(plain))
    for index, label in enumerate(offers[0].labels):
        if fold(label).strip(" .!…") == plain and offers[0].seq == draft.talk.said:
            tap = _tap_at(draft.desk.said(offers[0].seq), index)
            return None if isinstance(tap, t.Answer) and _several_lines(draft) else tap
    return None


def _several_lines(draft: Draft) -> bool:
    """Do two lines stand there, so that `all seen` must be asked about?"""
    return sum(bool(left_of(draft, line)) for line in draft.talk.lines) > 1


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
            if offer is draft.talk.offers[0] and offer.seq == draft.talk.said and number not in standing:
                return tap
            label = offer.labels[number - offer.first]
            return Meant(number, standing.get(number), label, tap) if tap is not None else None
    return Meant(number, standing[number], "", None) if number in standing else None


def _which_was_meant(draft: Draft, meant: Meant) -> None:
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
        text.append(f"{meant.number} was “{meant.label}” of an earlier message. Do that now?")
        choices.append((meant.label, meant.tap))
    draft.say(" ".join(text), *choices, question=draft.talk.question)


def _tap_at(said: Said | None, index: int) -> t.Tap | None:
    return said.choices[index].tap if said is not None and index < len(said.choices) else None


def context(draft: Draft) -> Context:
    """What a reader needs to know of this talk."""
    talk = draft.talk
    question = talk.question
    lesson = draft.lesson(talk.lesson)
    books = [draft.books[lesson.class_id]] if lesson is not None and lesson.is_open else list(draft.books.values())
    children = tuple((child.id, child.name) for book in draft.books.values() for child in book.children.values())
    grown_up = draft.desk.me is not None and draft.me.role != "parent"
    lines = talk.lines
    line = lines[0] if lines else talk.suggested
    if question is not None and question.line is not None:
        line = question.line
    expects = None
    if question is not None:
        expects = "names" if question.about in ("missing", "who") else "points" if question.about == "reason" else None
    return Context(
        vocabulary=_vocabulary(draft, children, grown_up),
        numbers={n: child for n, child in enumerate(talk.stood, start=1) if draft.knows(child)},
        groups={name: members for book in books for name, members in book.groups.items()},
        skill=_skill_spoken_of(draft),
        skill_of=_last_shown(draft) | {child: one.skill for one in reversed(lines) for child in one.children},
        line=line.children if line is not None else (),
        expects=expects,    # type: ignore[arg-type]
        now=draft.local(draft.sent_at) if draft.desk.club is not None else draft.sent_at,
    )


def _last_shown(draft: Draft) -> dict[str, str]:
    """Child → the skill on which she was marked a moment ago: a word about her without a skill corrects that."""
    lesson = draft.lesson(draft.talk.lesson)
    if lesson is None or not lesson.is_open:
        return {}
    found: dict[str, tuple[datetime, str]] = {}
    for child, of_child in draft.books[lesson.class_id].standings.items():
        for skill, standing in of_child.items():
            last = standing.last
            if last is not None and timedelta() <= draft.sent_at - last.at <= MOMENT and skill in draft.scheme.skills:
                found[child] = max(found.get(child, (last.at, skill)), (last.at, skill))
    return {child: skill for child, (_, skill) in found.items()}


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
    return draft.talk.turned


def _vocabulary(draft: Draft, children: tuple[tuple[str, str], ...], grown_up: bool) -> Vocabulary:
    """The words of this person's classes. Kept between messages while children and scheme are the same."""
    if draft.desk.club is None or not grown_up:
        return Vocabulary((), NO_SCHEME)
    known = draft.desk.memo.get("vocabulary")
    if isinstance(known, Vocabulary) and known.scheme is draft.scheme and known.children == children:
        return known
    made = Vocabulary(children, draft.scheme, draft.club.classes_of(draft.me.id))
    draft.desk.memo["vocabulary"] = made
    return made


def do(draft: Draft, asked: tuple[requests.Typed, ...], made_clear: t.Do | None = None) -> None:
    """Do what was asked. Marks of one message are weighed together, everything else is one request."""
    marks = [request for request in asked if isinstance(request, requests.Mark)]
    sent_at = made_clear.sent_at if made_clear is not None else None
    if marks and len(marks) == len(asked):
        answering.typed(draft, marks, sent_at)
        return
    if marks:
        answering.mixed(draft, asked, sent_at)
        return
    if len(asked) == 1:
        _one(draft, asked[0])
        return
    for request in asked:           # `mia away; leo sits`: each does its part, the last one goes on
        _one(draft, request)
    draft.say_once()


def _one(draft: Draft, request: requests.Typed) -> None:
    match request:
        case requests.MarkLine():
            answering.line_typed(draft, request)
        case requests.Note():
            register.note(draft, request)
        case requests.Names():
            _names(draft, request)
        case requests.Points():
            _points(draft, request)
        case requests.Start():
            lessons.start(draft, request)
        case requests.Add():
            register.add(draft, request)
        case requests.NameGroup():
            register.group(draft, request)
        case requests.Later():
            lessons.later(draft, request)
        case requests.Owed():
            asides.owed(draft, request)
        case requests.Standard():
            asides.standard(draft, request.skill)
        case requests.Watch():
            asides.turn(draft, request.skill)
        case requests.Join():
            family.join(draft, request.code)
        case requests.Say():
            _word(draft, request.word)


def _names(draft: Draft, request: requests.Names) -> None:
    question = draft.talk.question
    if question is not None and question.about == "who" and question.line is not None:
        answering.who_not(draft, question.line, request.children)
    elif question is not None and question.about == "missing":
        register.names(draft, request)
    else:
        draft.say("And what did you see? Type: seen, or not yet, after the name.", *watching.of_place(draft))


def _points(draft: Draft, request: requests.Points) -> None:
    question = draft.talk.question
    marks = answering.marks_asked(draft, question.marks) if question is not None else ()
    if marks:
        answering.reason(draft, marks, request.points)
    else:
        draft.say("Who missed that? Type the name first: ben not yet hips.", *watching.of_place(draft))


def _word(draft: Draft, word: str) -> None:
    match word:
        case "close":
            lessons.close(draft, None)
        case "pause":
            lessons.quiet(draft, None, True)
        case "carry on":
            lessons.quiet(draft, None, False)
        case "undo":
            undoing.last(draft)
        case "resting":
            asides.resting(draft)
        case "next":
            asides.next_line(draft)
        case "plan":
            asides.plan(draft)
        case "skip":
            asides.skip(draft)
        case "everyone":
            _everyone(draft)
        case "stop":
            draft.say("You get messages because your club gave you a class; ask the club to take you off. To end a "
                      "lesson, type close.", *watching.of_place(draft))
        case _:
            help_(draft) if word == "help" else _bare(draft, word)


def _everyone(draft: Draft) -> None:
    lesson = draft.open_lesson()
    if lesson is None:
        draft.say("No lesson is open. Type start.", *watching.of_place(draft))
        return
    register.register(draft, t.Register(lesson.id, "everyone"))


def _bare(draft: Draft, word: str) -> None:
    """A bare yes or no: the first choice of the question that is open, or the one that says no."""
    question = draft.talk.question
    said = draft.desk.said(question.seq) if question is not None else None
    if said is not None and said.choices and question is not None and question.about in _YES_NO:
        at = 0 if word == "yes" else 1
        if at < len(said.choices):
            tapped(draft, said.choices[at].tap)
            return
    draft.say("Nothing is asked just now. Type a name and what you saw, or next.", *watching.of_place(draft))


_YES_NO = ("early", "away", "start", "order", "reading")


def help_(draft: Draft) -> None:
    """What can be typed, for whoever asks."""
    if draft.desk.me is None or draft.me.role not in GROWN_UP:
        draft.say("Type join CODE with a code from your club. STOP ends all messages to you.")
        return
    first = "start opens your class. " if draft.talk.place is Place.OUTSIDE else ""
    draft.say(
        f"{first}Type what you saw: ava, ben seen · gus not yet hips · all seen · not 7. "
        "Also: mia away, owed, resting, standard, next, skip, undo, pause, close.",
        *watching.of_place(draft), question=draft.talk.question,
    )
