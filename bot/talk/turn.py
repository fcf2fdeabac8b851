"""One turn of the talk: `step` for a message, `wake` for time that has come. Pure; all wiring is here.

A message is a tap (its request is taken from the message that carried it) or a text (a number or a label of
an earlier choice, else it is read). What it asks is handed to the one function that does it.
"""
from __future__ import annotations

from bot.facts import Mark
from bot.frozen import replace
from bot.reminders import queued
from bot.step import Desk, Heard, Stepped, Woken, places_with, seq_of_choice
from bot.talk import (
    agreeing,
    answering,
    asides,
    award_turn,
    awards,
    closing,
    enrolling,
    family,
    handing,
    helper,
    lessons,
    looks,
    music,
    news,
    pacing,
    picturing,
    register,
    requests,
    rulings,
    same,
    undoing,
    waking,
    watching,
)
from bot.talk import taps as t
from bot.talk.draft import Draft
from bot.talk.hearing import Meant, as_choice, context, earlier_choice, which_was_meant
from bot.talk.places import Move, moved
from bot.talk.puzzled import not_understood, which_one
from bot.talk.reading import read
from bot.talk.stamp import refuse_time
from bot.talk.state import Place

GROWN_UP = ("coach", "assistant")
YES_OR_NO = ("early", "away", "start", "order", "reading")
YES, NO = ("Count it", "Yes here", "Start", "Yes"), ("Wait", "Not here", "Not now", "No")


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
    awards.say_what_was_lost(draft)
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
            draft.put_reminders(class_id, *queued(book, draft.club, draft.now, draft.kept(f"due {class_id}")))


# --- taps ------------------------------------------------------------------------------------------

def _choice(draft: Draft, choice: str) -> None:
    said = draft.desk.tapped
    picked = said.pick(choice) if said is not None and seq_of_choice(choice) is not None else None
    tap = None if picked is None else _with_places(picked.tap, places_with(choice))
    if tap is None:
        draft.say("That choice is not known here. Type what you want, or help.", *_usual(draft))
        return
    tapped(draft, tap)


def _with_places(tap: t.Tap, places: tuple[int, ...] | None) -> t.Tap | None:
    """The request, with those of its line who were picked with it; None where nobody stands at such a place."""
    if places == ():
        return tap
    if places is None or not isinstance(tap, t.Some) or not all(0 < n <= len(tap.line.children) for n in places):
        return None
    return t.Those(tap.line, tuple(tap.line.children[n - 1] for n in places))


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
        case t.Those():
            answering.who_not(draft, tap.line, tap.children)
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
            closing.close(draft, tap.lesson)
        case t.Do():
            do(draft, tap.requests, tap)
        case t.Order():
            awards.move(draft, tap)
        case t.WhoseNot() | t.ButHers() | t.HandOver() | t.NamesRight() | t.ChangeName() | t.OrderSheet():
            award_turn.tapped(draft, tap)
        case t.Quiet():
            lessons.quiet(draft, tap.lesson, tap.paused)
        case t.Release():
            news.release(draft, tap)
        case t.ShowNews():
            news.show(draft, tap)
        case t.WhomToHold():
            news.whom(draft, tap)
        case t.Hold():
            news.hold(draft, tap.lesson, (tap.child,), held=tap.held)
        case t.CutOff():
            family.cut_off(draft, tap)
        case t.EndAgreed():
            agreeing.end(draft, tap)
        case t.NoLook():
            looks.decline(draft, tap)
        case t.EndRuling():
            rulings.end(draft, tap)
        case t.BeginAnew():
            pacing.begin_anew(draft, tap)
        case t.Enrol():
            enrolling.enrol(draft, tap)
        case t.Relist():
            enrolling.relist(draft, tap)
        case _:
            help_(draft)


# --- texts -----------------------------------------------------------------------------------------

def _text(draft: Draft, text: str) -> None:
    typed = as_choice(draft, text)
    if isinstance(typed, Meant):
        which_was_meant(draft, typed)
        return
    if typed is not None:
        tapped(draft, typed)
        return
    result = read(text, context(draft))
    if isinstance(result, requests.Understood):
        _understood(draft, result.requests, text)
    elif draft.desk.me is None:
        family.stranger(draft, (), text)
    elif draft.me.role == "parent":
        family.parent(draft, (), text)
    elif isinstance(result, requests.WhichOne):
        which_one(draft, result)
    elif draft.me.role == "helper":
        helper.anything_else(draft, text)
    elif (tap := earlier_choice(draft, text)) is not None:
        tapped(draft, tap)
    else:
        not_understood(draft, result, text)


def _understood(draft: Draft, asked: tuple[requests.Typed, ...], text: str) -> None:
    if draft.desk.me is None:
        family.stranger(draft, asked, text)
    elif draft.me.role == "parent":
        family.parent(draft, asked, text)
    elif draft.me.role == "helper":
        helper.handle(draft, asked, text)
    elif _points_of_nothing(draft, asked) and (tap := earlier_choice(draft, text)) is not None:
        tapped(draft, tap)
    else:
        do(draft, asked)


def _points_of_nothing(draft: Draft, asked: tuple[requests.Typed, ...]) -> bool:
    """Are these points that no skill has of which a reason is asked just now?"""
    return all(isinstance(one, requests.Points) and not _missed(draft, one.points) for one in asked)


def _missed(draft: Draft, points: tuple[str, ...]) -> list[Mark]:
    """The misses of which a reason is asked and whose skill has these points."""
    question = draft.talk.question
    asked = answering.marks_asked(draft, question.marks) if question is not None else ()
    return [mark for mark in asked if all(draft.skill(mark.skill).point(one) for one in points)]


def do(draft: Draft, asked: tuple[requests.Typed, ...], made_clear: t.Do | None = None) -> None:
    """Do what was asked. Marks of one message are weighed together, everything else is one request."""
    marks = [request for request in asked if isinstance(request, requests.Mark)]
    sent_at = made_clear.sent_at if made_clear is not None else None
    if marks and len(marks) == len(asked):
        answering.typed(draft, marks, sent_at)
        return
    if marks or requests.mixed(asked):      # `owed nobody` is a slip, and no line was judged by it
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
        case requests.Family():
            _family(draft, request)
        case requests.Names():
            _names(draft, request)
        case requests.Points():
            _points(draft, request)
        case requests.Start():
            lessons.start(draft, request)
        case requests.Add():
            register.add(draft, request)
        case requests.AddTo():
            enrolling.listed(draft, request)
        case requests.Held():
            enrolling.held(draft, request)
        case requests.NameGroup():
            register.group(draft, request)
        case requests.Later():
            lessons.later(draft, request)
        case requests.Agree():
            agreeing.agree(draft, request)
        case requests.Cupboard():
            awards.stock(draft, request)
        case requests.Spell():
            handing.spell(draft, request)
        case requests.Owed():
            asides.owed(draft, request)
        case requests.Standard():
            asides.standard(draft, request.skill)
        case requests.Look():
            looks.ask(draft, request)
        case requests.Same():
            same.same(draft, request)
        case requests.Rule():
            rulings.rule(draft, request)
        case requests.Watch():
            asides.turn(draft, request.skill)
        case requests.Music():
            music.music(draft, request)
        case requests.Picture():
            picturing.picture(draft, request)
        case requests.Join():
            family.join(draft, request.code)
        case requests.Say():
            _word(draft, request.word)


def _family(draft: Draft, request: requests.Family) -> None:
    if request.what == "cut off":
        family.cut_off_whom(draft, request.children)
    else:
        news.typed(draft, request.children, held=request.what == "held")


def _names(draft: Draft, request: requests.Names) -> None:
    question = draft.talk.question
    if question is not None and question.about == "who" and question.line is not None:
        answering.who_not(draft, question.line, request.children)
    elif question is not None and question.about == "missing":
        register.names(draft, request)
    elif question is not None and question.about == "hold" and question.lesson is not None:
        news.hold(draft, question.lesson, request.children, held=True)
    elif question is not None and question.about == "whose":
        handing.but_hers(draft, question.awards, question.to, request.children)
    else:
        draft.say("And what did you see? Type: seen, or not yet, after the name.", *watching.of_place(draft))


def _points(draft: Draft, request: requests.Points) -> None:
    marks = _missed(draft, request.points)
    if marks:
        answering.reason(draft, marks, request.points)
    else:
        draft.say("Who missed that? Type the name first: ben not yet hips.", *watching.of_place(draft))


def _word(draft: Draft, word: str) -> None:
    match word:
        case "close":
            closing.close(draft, None)
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
        case "who here":
            register.who_is_here(draft)
        case "everyone" | "rest here":
            _everyone(draft, but_away=word == "rest here")
        case "awards" | "order" | "on order" | "sent" | "arrived" | "hand over" | "handed over" | "award list":
            award_turn.word(draft, word)
        case "news" | "send news" | "hold some":
            news.asked_for(draft, word)
        case "rulings":
            rulings.rulings(draft)
        case "agreed":
            agreeing.agreed(draft)
        case _ if word.startswith("lines"):
            asides.longest_line(draft, word)
        case "pace":
            pacing.pace(draft)
        case "paper":
            picturing.on_paper(draft)
        case "eve" | "no eve":
            asides.day_before(draft, wanted=word == "eve")
        case "stop":
            draft.say("You get messages because your club gave you a class; ask the club to take you off. To end a "
                      "lesson, type close.", *watching.of_place(draft))
        case _:
            help_(draft) if word == "help" else _bare(draft, word)


def _everyone(draft: Draft, *, but_away: bool) -> None:
    """`everyone`; `the rest are here`, once some were said to be away."""
    lesson = draft.lesson_then()
    if lesson is None or not lesson.is_open:
        draft.say("No lesson is open. Type start.", *watching.of_place(draft))
        return
    register.everyone(draft, lesson, but=tuple(sorted(lesson.away)) if but_away else ())


def _bare(draft: Draft, word: str) -> None:
    """A bare yes or no, where the question that is open has one choice that it can mean."""
    question = draft.talk.question
    said = draft.desk.said(question.seq) if question is not None else None
    choices = said.choices if said is not None and question is not None and question.about in YES_OR_NO else ()
    found = [choice for choice in choices if choice.label in (YES if word == "yes" else NO)]
    if word == "yes" and len(choices) == 2 and choices[1].label == "No":    # is it Ava? one name, and No
        found = [choices[0]]
    if len(found) == 1:
        tapped(draft, found[0].tap)
        return
    if question is None or not choices:
        draft.say("Nothing is asked just now. Type a name and what you saw, or next.", *watching.of_place(draft))
        return
    draft.say("Which one? Tap it, or type its words.", *((choice.label, choice.tap) for choice in choices),
              question=replace(question, seq=draft.next_seq()))


def help_(draft: Draft) -> None:
    """What can be typed, for whoever asks."""
    if draft.desk.me is None or draft.me.role not in GROWN_UP:
        draft.say("Type join CODE with a code from your club. STOP ends all messages to you.")
        return
    first = "start opens your class. " if draft.talk.place is Place.OUTSIDE else ""
    draft.say(
        f"{first}Type what you saw: ava, ben seen · gus not yet hips · all seen · not 7. "
        "Also: mia away, bump ben, owed, resting, standard, next, skip, undo, pause, close, awards, news.",
        *watching.of_place(draft), question=draft.talk.question,
    )
