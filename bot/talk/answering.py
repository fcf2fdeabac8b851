"""Marks in the talk: a line's answers, typed marks, what was held, reasons, corrections."""
from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from bot.facts import ChildNoted, Mark, ReasonGiven, Verdict
from bot.frozen import replace
from bot.lesson.lesson import advance
from bot.lesson.line import Line
from bot.lesson.timetable import day_in_zone, lesson_id
from bot.talk import compared, marking, news, pacing, requests, telling, words
from bot.talk.draft import Draft
from bot.talk.marking import Judged
from bot.talk.places import Move, moved
from bot.talk.state import Asked, Place, Question
from bot.talk.taps import Again, Answer, Count, Leave, Open, Reason, Reasons, Some, Tap, Undo
from bot.talk.watching import answers, carry_on, come_in, of_place, row, stand

Choices = list[tuple[str, Tap]]


# --- a line ----------------------------------------------------------------------------------------

def answer(draft: Draft, tap: Answer) -> None:
    """All seen, or none yet: exactly this line, on exactly this show."""
    judge_line(draft, tap.line, dict.fromkeys(tap.line.children, tap.verdict))


def judge_line(draft: Draft, line: Line, verdicts: dict[str, Verdict], points: tuple[str, ...] = (),
               at: datetime | None = None) -> None:
    """Judge children of a line and go on. After the close it is held, as any mark is."""
    lesson = draft.lesson(line.lesson)
    if lesson is None or not lesson.holds(at or line.shown_at or draft.sent_at):
        _line_of_closed(draft, line, verdicts, points)
        return
    if line.look and not marking.left_of(draft, line):
        carry_on(draft, "That second look is not asked any more, or you have said what you saw.")
        return
    judged = marking.of_line(draft, line, verdicts, points, at)
    if judged.counted and at is None:
        pacing.time_line(draft, line)
    draft.lesson_of_message = line.lesson
    come_in(draft, line.lesson)
    if judged.counted:      # who was marked before within this line is nothing new
        judged.ticked, judged.already = [], []
    # The children are named unless it is the line that stands there, whose names were read a moment ago.
    stands = any((one.skill, one.show) == (line.skill, line.show) for one in draft.talk.lines[:1])
    told(draft, judged, line if stands else None)


def _line_of_closed(
    draft: Draft, line: Line, verdicts: dict[str, Verdict], points: tuple[str, ...]
) -> None:
    judged = Judged()
    for child, verdict in verdicts.items():
        if draft.knows(child):
            missed = points if verdict == "not yet" else ()
            asked = requests.Mark((child,), verdict, line.skill, show=line.show, points=missed)
            judged.no_lesson.append((child, asked))
    if judged.no_lesson:
        _no_lesson(draft, judged, draft.sent_at)
    else:
        draft.say("That lesson is closed.", *of_place(draft))


def some(draft: Draft, tap: Some) -> None:
    """Ask who of a line needs another go."""
    left = marking.left_of(draft, tap.line) or tap.line.children
    line = replace(tap.line, children=left)
    choices: Choices = [(words.label(draft.called(child)), Again(line, child)) for child in left]
    draft.say(
        f"Who needs another go? {row(draft, line)}", *choices,
        question=Question("who", draft.next_seq(), line=line),
    )


def again(draft: Draft, tap: Again) -> None:
    """This child is not yet, the others are seen; after the first such tap only this child is put right."""
    last = draft.standing(tap.child, tap.line.skill).last
    mine = (
        last is not None and last.by == draft.me.id and last.lesson == tap.line.lesson
        and last.show == tap.line.show and last.at >= tap.line.asked_at and last.verdict == "seen"
    )
    if mine and last is not None:
        mark = Mark(
            id=last.mark, child=tap.child, skill=tap.line.skill, lesson=tap.line.lesson, verdict="seen",
            by=draft.me.id, judged_at=last.at, sent_at=draft.sent_at, rules=draft.desk.version,
        )
        put_right(draft, mark, "not yet")
        return
    who_not(draft, tap.line, (tap.child,))


def who_not(draft: Draft, line: Line, missed: Sequence[str], points: tuple[str, ...] = (),
            at: datetime | None = None) -> None:
    """These are not yet; the others of the line who still owe it are seen."""
    left = marking.left_of(draft, line)
    verdicts: dict[str, Verdict] = {child: "seen" for child in left if child not in missed}
    verdicts.update({child: "not yet" for child in missed if child in line.children})
    judge_line(draft, line, verdicts, points, at)


def line_typed(draft: Draft, request: requests.MarkLine) -> None:
    """`all seen`, `none yet`, `all but gus seen`, `not 7`: which line, where two are open, is asked."""
    lines = _lines_meant(draft, request)
    if not lines:
        _no_line(draft, request)
        return
    if len(lines) > 1:
        _which_line(draft, lines, request)
        return
    line = lines[0]
    if line == draft.talk.suggested and not (request.missed or request.left):
        watch(draft, line, "Nobody stood there yet, so nothing was recorded.")
        return
    named = set(request.missed)
    if request.verdict == "not yet" and not request.missed:
        named = {child for child in marking.left_of(draft, line) if child not in request.left}
    left = marking.left_of(draft, line)
    verdicts: dict[str, Verdict] = {
        child: "not yet" if child in named else "seen"
        for child in dict.fromkeys((*left, *request.missed)) if child not in request.left
    }
    judge_line(draft, line, verdicts, request.points, request.at)


def _lines_meant(draft: Draft, request: requests.MarkLine) -> list[Line]:
    named = (*request.missed, *request.left)
    standing = [line for line in draft.talk.lines if draft.stood(line)]
    lines = [line for line in (*standing, *compared.lines(draft)) if marking.left_of(draft, line)]
    if request.skill is not None:
        lines = [line for line in lines if line.skill == request.skill]
    with_named = [line for line in lines if all(child in line.children for child in named)]
    apart = {(line.skill, line.show, line.look): line for line in reversed(with_named)}
    with_named = list(apart.values())[::-1]     # in their turn
    suggested = draft.talk.suggested
    meant = suggested is not None and request.skill in (None, suggested.skill) and draft.stood(suggested)
    if not lines and suggested is not None and meant:
        return [suggested] if all(child in suggested.children for child in named) else []
    return with_named


def _no_line(draft: Draft, request: requests.MarkLine) -> None:
    if any(not draft.stood(line) for line in draft.talk.lines):
        at = f"{draft.local(draft.sent_at):%H:%M}"
        draft.say(f"You sent that at {at}, and it came late: the line that stands there was put up since, so nothing "
                  f"was recorded. Type names and skill with the time: at {at}: ava seen cartwheel.", *of_place(draft))
        return
    named = words.names(draft.called(child) for child in (*request.missed, *request.left))
    if named and draft.talk.lines:
        skill = draft.skill(request.skill or draft.talk.lines[0].skill).name.lower()
        draft.say(f"{named}: not in the line that stands there. If you saw it all the same, type: "
                  f"{named.lower()} not yet {skill}.", *of_place(draft), question=draft.talk.question)
        return
    draft.say("Nobody stands there just now. Type a name and what you saw, or next.", *of_place(draft))


def _which_line(draft: Draft, lines: list[Line], request: requests.MarkLine) -> None:
    choices: Choices = []
    for line in lines:
        whole = not request.missed and not request.left
        label = "Second look" if line.look else words.label(f"{draft.skill(line.skill).name} {line.show}")
        tap: Tap = Answer(line, request.verdict) if whole else Some(line)
        choices.append((label, tap))
    named = " or ".join(
        f"{words.skill_and_show(draft.skill(line.skill), line.show)} ({words.names(map(draft.called, line.children))})"
        for line in lines
    )
    draft.say(f"Which line? {named}.", *choices, question=Question("which line", draft.next_seq()))


# --- typed marks -------------------------------------------------------------------------------------

def typed(draft: Draft, asked: Sequence[requests.Mark], sent_at: datetime | None = None) -> None:
    """Marks with names."""
    if not draft.talk.lines:        # else the line that stands there is still what is being watched
        draft.change_talk(turned=asked[-1].skill)
    judged = marking.typed(draft, asked, sent_at)
    recorded = judged.recorded
    if recorded:
        draft.lesson_of_message = recorded[0].lesson
        come_in(draft, recorded[0].lesson)
    if judged.no_lesson:
        _no_lesson(draft, judged, sent_at or draft.sent_at)
        return
    told(draft, judged)


def _no_lesson(draft: Draft, judged: Judged, sent_at: datetime) -> None:
    """Marks for which no lesson is open are held; nothing of the others is lost."""
    first_child, first = judged.no_lesson[0]
    class_id = draft.book_of(first_child).class_id
    at = first.at or sent_at
    held = tuple(
        replace(request, children=(child,))
        for child, request in judged.no_lesson
        if draft.book_of(child).class_id == class_id
    )
    day = day_in_zone(draft.club, at)
    today = day_in_zone(draft.club, draft.now)
    text = telling.tell(draft, judged)
    name = draft.class_(class_id).name
    shut = _closed_today(draft, class_id, today) if day == today else None
    if shut is not None:
        text += f"\n{name} was closed at {shut}. Start it again? {_children(draft, held)} waits for that."
    elif day == today:
        text += f"\nNo lesson of {name} is open. Start it? {_children(draft, held)} waits for that."
    else:
        text += f"\nNo lesson of {name} was opened on {words.day(day, today)}. Start it, and enter what you saw?"
    tap = Open(class_id, day, held, sent_at)     # that day's lesson, whenever it is tapped
    draft.say(text, ("Start", tap), ("Not now", Leave((), "not now")), *telling.questions(draft, judged),
              question=Question("start", draft.next_seq()))


def _closed_today(draft: Draft, class_id: str, today: date) -> str | None:
    """When today's lesson of a class was closed, and by whom, if by somebody else."""
    lesson = draft.books[class_id].lessons.get(lesson_id(class_id, today))
    if lesson is None or not lesson.closes:
        return None
    last = max(lesson.closes, key=lambda close: close.at)
    by = draft.desk.people.get(last.by)
    who = f" by {by.first_name}" if by is not None and by.id != draft.me.id else ""
    return f"{words.clock(last.at, draft.club.tz)}{who}"


def _children(draft: Draft, held: Sequence[requests.Mark]) -> str:
    count = len({child for one in held for child in one.children})
    return "Your mark" if count == 1 else "What you saw"


def told(draft: Draft, judged: Judged, line: Line | None = None) -> None:
    """Say what became of marks, ask what is held, or go on."""
    text = " ".join(filter(None, (telling.tell(draft, judged, line), compared.hear(draft, draft.lesson_of_message))))
    asked = telling.questions(draft, judged)
    undo: Choices = [("Undo", Undo(draft.message))] if judged.recorded else []
    why = telling.reasons(draft, judged)
    about = telling.unexplained(judged)
    if judged.held or (judged.stays and not judged.counted):
        draft.say(text, *asked, *undo, question=Question(_about(judged), draft.next_seq()))
        return
    question = Question("reason", draft.next_seq(), marks=tuple(mark.id for mark in about)) if about else None
    carry_on(draft, text, *asked, *undo, why=why, question=question)


def _about(judged: Judged) -> Asked:
    return "early" if judged.early else "look" if judged.which else "away" if judged.away else "overturn"


# --- what was held -----------------------------------------------------------------------------------

def count(draft: Draft, tap: Count) -> None:
    """Held marks count after all."""
    judged = Judged()
    marks = [_as_said(mark, tap.how) for mark in tap.marks if draft.knows(mark.child)]
    if tap.how == "here":
        for mark in marks:
            _is_here(draft, mark)
    marks = marking.not_known(draft, marks, judged)
    marking.weigh(draft, marks, judged, here=tap.how == "here")
    if tap.marks:
        draft.lesson_of_message = tap.marks[0].lesson
        come_in(draft, tap.marks[0].lesson)
    told(draft, judged)


def _as_said(mark: Mark, how: str) -> Mark:
    if how == "early":
        return replace(mark, early=True)
    if how == "second look":
        return replace(mark, look="second look")
    if how == "next show":
        return replace(mark, look="next show", early=True)
    if how == "overturn":
        return replace(mark, asked_at=None, show=None)
    return mark


def _is_here(draft: Draft, mark: Mark) -> None:
    fact = ChildNoted(mark.lesson, mark.child, "here", mark.judged_at)
    lesson = draft.lesson(mark.lesson)
    if lesson is not None and not lesson.here(mark.child, mark.judged_at):
        draft.record(fact)
        after = advance(lesson, fact)
        assert after is not None
        draft.put_lesson(after)


def leave(draft: Draft, tap: Leave) -> None:
    """Held marks are let go; nothing was recorded of them."""
    who = words.names(draft.called(child) for child in tap.children if draft.knows(child))
    text = {
        "wait": f"{who}: still resting; not counted.",
        "not here": f"{who}: not here; nothing recorded.",
        "leave it": f"{who}: left as it was.",
        "not now": "Not now, then.",
    }[tap.why]
    unsaid, choices = news.still_unsaid(draft)
    carry_on(draft, "\n".join(filter(None, (text, unsaid))), *choices)


# --- reasons and corrections ---------------------------------------------------------------------------

def reason(draft: Draft, marks: Sequence[Mark], points: tuple[str, ...]) -> None:
    """Why somebody was not yet there, said afterwards."""
    known = [mark for mark in marks if draft.knows(mark.child)]
    for mark in known:
        draft.record(ReasonGiven(mark.id, mark.child, mark.skill, points))
        standing = draft.standing(mark.child, mark.skill)
        if standing.last is not None and standing.last.mark == mark.id:
            draft.put_standing(mark.child, mark.skill, replace(standing, missed=points))
        else:
            draft.refold([(mark.child, mark.skill)])
        lesson = draft.lesson(mark.lesson)
        after = advance(lesson, draft.facts[-1])
        if after is not None and after is not lesson:
            draft.put_lesson(after)
    if known:
        draft.lesson_of_message = known[0].lesson
        skill = draft.skill(known[0].skill)
        who = words.names(dict.fromkeys(draft.called(mark.child) for mark in known))
        carry_on(draft, f"Noted for {who}: {words.points(skill, points)}.")


def reasons(draft: Draft, tap: Reasons) -> None:
    """The other points that can be missed, three at a time."""
    skill = draft.skill(tap.marks[0].skill)
    points = telling.likeliest(draft, skill)[tap.after:]
    shown: Choices = [
        (words.label(point.label), Reason(tap.marks, (point.id,)))
        for one in points[:3] if (point := skill.point(one)) is not None
    ]
    more: Choices = [("Other miss", Reasons(tap.marks, tap.after + 3))] if len(points) > 3 else []
    draft.say("What was missing?", *shown, *more,
              question=Question("reason", draft.next_seq(), marks=tuple(mark.id for mark in tap.marks)))


def put_right(draft: Draft, mark: Mark, verdict: Verdict) -> None:
    """A slip of the thumb: the other verdict was meant, at that time."""
    draft.lesson_of_message = mark.lesson
    standing = draft.standing(mark.child, mark.skill)
    if standing.last is None or standing.last.mark != mark.id:
        carry_on(draft, f"{draft.called(mark.child)}: that mark is not the last any more; nothing changed.")
        return
    told(draft, marking.correct(draft, mark, verdict))


def watch(draft: Draft, line: Line, head: str = "") -> None:
    """Go: the line stands there. Those who have shown it meanwhile, or are not here, stand out."""
    left = marking.left_of(draft, line)
    lesson = draft.lesson(line.lesson)
    if lesson is None or not lesson.is_open:
        draft.say("That lesson is closed.", *of_place(draft))
        return
    if not left:
        carry_on(draft, "That line was watched meanwhile.")
        return
    now = replace(line, children=left, asked_at=draft.now, set_up=not head)
    draft.change_talk(lesson=lesson.id)
    if draft.talk.place is Place.OUTSIDE:
        draft.talk = moved(draft.talk, Move.SUGGESTED)
    stand(draft, now)
    skill = draft.skill(now.skill)
    text = f"{words.skill_and_show(skill, now.show)}: {row(draft, now)}"
    draft.say("\n".join(filter(None, (head, text))), *answers(now))


def marks_asked(draft: Draft, ids: Sequence[str]) -> tuple[Mark, ...]:
    """The misses that a question for a reason was about, those that are still the child's last mark."""
    found = [
        Mark(id=saw.mark, child=child, skill=one.asked.skill, lesson=one.asked.lesson, verdict="not yet",
             by=draft.me.id, judged_at=saw.at, sent_at=saw.at, rules=draft.desk.version, look="second look")
        for book in draft.books.values() for lesson in book.lessons.values() for one in lesson.looks
        if one.asked.of == draft.me.id
        for child, saw in one.of(draft.me.id).items() if saw.mark in ids and draft.knows(child)
    ]
    for book in draft.books.values():
        for child, of_child in book.in_order():
            for skill, standing in of_child.items():
                last = standing.last
                if last is not None and last.mark in ids and last.verdict == "not yet":
                    found.append(Mark(
                        id=last.mark, child=child, skill=skill, lesson=last.lesson, verdict="not yet", by=last.by,
                        judged_at=last.at, sent_at=last.at, rules=draft.desk.version,
                    ))
    return tuple(found)


def mixed(draft: Draft, asked: Sequence[requests.Typed], sent_at: datetime | None) -> None:
    """Marks with names and a line's answer in one message: `not 7; ava seen cartwheel`."""
    marks = [request for request in asked if isinstance(request, requests.Mark)]
    others = [request for request in asked if isinstance(request, requests.MarkLine)]
    if requests.mixed(asked):
        draft.say("Marks and other words in one message: send them one after the other, please. Nothing was recorded.",
                  *of_place(draft), question=draft.talk.question)
        return
    for request in others:
        line_typed(draft, request)
    typed(draft, marks, sent_at)
    draft.say_once()
