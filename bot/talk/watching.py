"""The main loop: whom to watch, the line that stands there, and what comes after it.

Every answer of the loop is one message: what became of the marks, then the next line with its answers.
"""
from __future__ import annotations

from datetime import date, datetime

from bot.attached import Attachment
from bot.facts import Mark
from bot.frozen import replace
from bot.lesson.due import due as due_on
from bot.lesson.follow import follow as choose
from bot.lesson.hall import Hall
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.lesson.next import Next, owing_of, working_on
from bot.lesson.timetable import ends_at
from bot.scheme.model import Skill
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.fits import nothing_fits, too_late
from bot.talk.marking import left_of
from bot.talk.places import Move, moved
from bot.talk.state import Place, Question
from bot.talk.taps import Another, Answer, Card, Do, Open, Quiet, Register, Shut, Some, Tap, Watch

Choices = list[tuple[str, Tap]]
STOOD_KEPT = 400        # children's numbers run on through a lesson; begin again where one has that many


# --- whom to watch ---------------------------------------------------------------------------------

def hall(draft: Draft, lesson: Lesson, only: str | None = None) -> Hall:
    """What choosing looks at."""
    book = draft.books[lesson.class_id]
    busy = {
        child for person, line in lesson.lines.items() if person != draft.me.id for child in left_of(draft, line)
    }
    return Hall(
        book=book, lesson=lesson, scheme=draft.scheme, now=draft.now, view=draft.view,
        due=lambda child, skill: due(draft, child, skill), done=lambda child: done(draft, child),
        turned=draft.talk.turned, skipped=draft.talk.skipped, busy=busy, only=only,
        kept=draft.kept(f"open to {lesson.class_id}"),
        me=draft.me.id, most=draft.talk.most, ahead=draft.desk.plans.get(lesson.id),
        keep_groups=draft.club.planning.keep_groups,
    )


def done(draft: Draft, child: str) -> set[str]:
    """Awards that a child has earned. Cheap where her own award is far off."""
    entry = draft.child(child)
    award = draft.scheme.award_by_id(entry.award)
    if award is None:
        return set()
    return {award.id} if draft.has_earned(child, award) else set()


def due(draft: Draft, child: str, skill: str) -> date | None:
    """The day on which a child is to show a skill again, or None."""
    book = draft.book_of(child)
    standing = book.standing(child, skill)
    if standing.retest_from is None and standing.rested_at is None and not standing.seen and standing.began is None:
        return None
    lesson = book.open_lesson
    return due_on(
        standing, draft.view(child, skill), draft.club, draft.class_(book.class_id), lesson.id if lesson else None
    )


# --- lines -----------------------------------------------------------------------------------------

def stand(draft: Draft, line: Line) -> None:
    """A line stands there: it is the one spoken of, its children have numbers, others see who is taken."""
    others = tuple(one for one in draft.talk.lines if (one.skill, one.show) != (line.skill, line.show))
    new = tuple(child for child in line.children if child not in _numbered(draft, line))
    stood = draft.talk.stood + new if len(draft.talk.stood) + len(new) <= STOOD_KEPT else line.children
    draft.change_talk(lines=(line, *others), suggested=None, turned=line.skill, stood=stood)
    draft.talk = moved(draft.talk, Move.STOOD)
    _share(draft, line)


def _numbered(draft: Draft, line: Line) -> set[str]:
    """The children of a line that stands again, or is what is left of one: they keep their numbers."""
    same = [one for one in draft.talk.lines if (one.skill, one.show) == (line.skill, line.show)]
    return {child for one in same for child in one.children}


def _share(draft: Draft, line: Line) -> None:
    lesson = draft.lesson(line.lesson)
    if lesson is not None and lesson.lines.get(draft.me.id) != line:
        draft.put_lesson(replace(lesson, lines={**lesson.lines, draft.me.id: line}))


def number_of(draft: Draft, child: str) -> int:
    """The number of a child in the latest line, or 0."""
    stood = draft.talk.stood
    return next((n + 1 for n in range(len(stood) - 1, -1, -1) if stood[n] == child), 0)


def drop_answered(draft: Draft) -> None:
    """Lines in which nobody is left are over; more of the same skill and show comes next."""
    kept = [line for line in draft.talk.lines if left_of(draft, line)]
    if len(kept) == len(draft.talk.lines):
        return
    over = {(line.skill, line.show) for line in draft.talk.lines if line not in kept}
    kept.sort(key=lambda line: (line.skill, line.show) not in over)
    draft.change_talk(lines=tuple(kept))


def row(draft: Draft, line: Line) -> str:
    """`1 Ava  2 Ben (right)`: those of the line who still have to show it."""
    skill = draft.skill(line.skill)
    shown = []
    for child in left_of(draft, line):
        owed = draft.view(child, line.skill).owed_pieces
        way = draft.book_of(child).agreed_for(child).ways.get(line.skill, "")
        piece = words.pieces(skill, owed) if 0 < len(owed) < len(skill.pieces) else ""
        part = f" ({', '.join(filter(None, (piece, way)))})" if piece or way else ""
        number = number_of(draft, child)        # none for a child who came into the line by a reminder
        shown.append(f"{number or ''} {draft.called(child)}{part}".strip())
    return "  ".join(shown)


def answers(line: Line) -> Choices:
    """The three answers to a line; to a line of one, two."""
    some: Choices = [("Some not yet", Some(line))] if len(line.children) > 1 else []
    return [("All seen", Answer(line, "seen")), *some, ("None yet", Answer(line, "not yet"))]


def come_in(draft: Draft, lesson_id: str) -> None:
    """Who says something of an open lesson is in it; one of another day is only visited."""
    lesson = draft.lesson(lesson_id)
    if lesson is not None and lesson.is_open and draft.talk.lesson != lesson_id:
        mine = draft.lesson(draft.talk.lesson)
        if mine is None or not mine.is_open:
            of_it = tuple(line for line in draft.talk.lines if line.lesson == lesson_id)    # rested, and told so
            draft.change_talk(lesson=lesson_id, lines=of_it, suggested=None, stood=(), skipped=())


# --- what comes next ---------------------------------------------------------------------------------

def carry_on(
    draft: Draft, text: str, *also: tuple[str, Tap], why: Choices | None = None, question: Question | None = None
) -> None:
    """Say what became of a message, and in the same breath what comes next.

    The next line's answers come first, then `why` (the reasons to choose from), then `also`: what was just
    recorded is explained or taken back in a second row, and stands in the way of nothing.
    """
    lesson = draft.lesson(draft.talk.lesson)
    also = (*(why or ()), *also)
    drop_answered(draft)
    if lesson is None or not lesson.is_open or draft.talk.place is Place.OUTSIDE:
        draft.say(text, *(also or of_place(draft)), question=question)
        return
    if lesson.paused:
        draft.say(f"{text}\nStill paused.", ("Carry on", Quiet(lesson.id, paused=False)), *also, question=question)
        return
    if not lesson.registered and draft.talk.place is Place.REGISTER:
        draft.say(f"{text}\nEveryone here?", *register_choices(lesson), *also, question=question)
        return
    if draft.talk.lines:
        _again(draft, text, also, question)
        return
    seen = hall(draft, lesson)
    found = choose(seen)
    if found is None:
        _gap(draft, seen, text, also, question)
    else:
        _announce(draft, seen, found, text, also, question)


def _again(draft: Draft, text: str, also: tuple[tuple[str, Tap], ...], question: Question | None) -> None:
    """Somebody is left in the line. The line stays what it was: whoever has a not yet of her own keeps it."""
    line = draft.talk.lines[0]
    which = words.skill_and_show(draft.skill(line.skill), line.show)
    draft.talk = moved(draft.talk, Move.STOOD)
    draft.say(f"{text}\nStill there, {words.inside(which)}: {row(draft, line)}", *answers(line), *also,
              question=question)


def _announce(
    draft: Draft, seen: Hall, found: Next, text: str, also: tuple[tuple[str, Tap], ...], question: Question | None
) -> None:
    """The next line stands there at once; only another skill is introduced."""
    same = {fact.skill for fact in draft.facts if isinstance(fact, Mark)} == {found.skill} == {draft.talk.turned}
    line = Line(seen.lesson.id, found.skill, found.show, found.children, draft.now)
    skill = draft.skill(found.skill)
    which = words.skill_and_show(skill, found.show)
    if found.why == "rested":
        head = f"Rested, {words.inside(which)}: "
    elif same:
        head = "Next: "
    elif skill.id in seen.judged.get(draft.me.id, {}):     # its cautions were said
        head = f"Back to {words.inside(which)}: "
    else:
        head = f"Next: {words.inside(which)}. {_owe(found.owe)}, {found.minutes} min. {ready_for(skill)}\n"
    stand(draft, line)
    draft.say(f"{text}\n{head}{row(draft, line)}", *answers(line), *also, question=question)


def _gap(
    draft: Draft, seen: Hall, text: str, also: tuple[tuple[str, Tap], ...], question: Question | None
) -> None:
    """Nobody can be watched just now. Closing is the next thing only where nobody rests any more."""
    draft.talk = moved(draft.talk, Move.EMPTIED)
    lesson = seen.lesson
    ready = first_ready(draft, seen)
    close: Choices = [("Close", Shut(lesson.id))]
    if seen.ahead is not None and not seen.ahead.turns and draft.now < seen.ahead.end:
        draft.say(f"{text}\n{nothing_fits(seen)} Type a skill to watch it all the same, or close.", *close, *also,
                  question=question)
        return
    if ready is not None:
        at = words.clock(ready, draft.club.tz, up=True)
        all_rest = not any(one.first or one.second for one in owing_of(seen).values())
        wait = f"All are resting; the first is ready at {at}." if all_rest else f"The next rest is over at {at}."
        other: Choices = [] if all_rest else [("Another skill", Another(lesson.id))]
        draft.say(f"{text}\n{wait}", *other, *also, *close, question=question)
        return
    left = "Only skipped skills are left." if draft.talk.skipped else "Nothing is left to watch today."
    if not draft.talk.skipped and _missed_today(draft, lesson):
        left = "Nothing is left to watch today; what was missed comes back at the next lesson."
    draft.say(f"{text}\n{left} Type a skill to watch it, or close.", *close, *also, question=question)


def first_ready(draft: Draft, seen: Hall) -> datetime | None:
    """When the first of those who rest can show again, or None where nobody rests."""
    book = seen.book
    ends = sorted(
        (one.rested_at, child, skill)
        for child in book.children for skill, one in book.standings.get(child, {}).items()
        if one.rested_at is not None and draft.now < one.rested_at
    )
    return next((
        at for at, child, skill in ends
        if skill in working_on(seen, child) and draft.view(child, skill).label == "resting"
    ), None)


def suggest(draft: Draft, text: str, *also: tuple[str, Tap], only: str | None = None) -> None:
    """Suggest a line and wait for Go: at the start, after a change of mind, when asked what is next."""
    lesson = draft.lesson(draft.talk.lesson)
    assert lesson is not None
    seen = hall(draft, lesson, only)
    found = choose(seen)
    if found is None and only is not None:      # then all goes on as it was
        text = f"{text}\n{_why_nobody(draft, lesson, draft.skill(only))}".strip()
        (carry_on if draft.talk.lines else suggest)(draft, text, *also)
        return
    if found is None:
        _gap(draft, seen, text, also, None)
        return
    skill = draft.skill(found.skill)
    if only is not None:        # it is obeyed all the same
        end = ends_at(draft.club, draft.class_(lesson.class_id), lesson.day)
        text = f"{text}\n{too_late(hall(draft, lesson), skill, found.show, end)}".strip()
    line = Line(lesson.id, found.skill, found.show, found.children, draft.now)
    draft.change_talk(suggested=line, turned=found.skill, lines=())
    draft.talk = moved(draft.talk, Move.SUGGESTED)
    first = "Next" if draft.talk.stood else "First"
    using = " if we use the rests" if len(skill.shows) > 1 else ""
    draft.say(
        f"{text}\n{first}: {words.inside(words.skill_and_show(skill, found.show) if found.show == 2 else skill.name)}. "
        f"{_owe(found.owe)}, {found.minutes} min{using}. {ready_for(skill)}",
        ("Go", Watch(line)), ("Another skill", Another(lesson.id, found.skill)), ("The standard", Card(found.skill)),
        *also,
    )


def _why_nobody(draft: Draft, lesson: Lesson, skill: Skill) -> str:
    """Nobody is to be watched at a skill now: another person has them, or they show it again at the next lesson."""
    others = _with_others(draft, lesson, skill.id)
    if others:
        return f"{others} at {words.inside(skill.name)}; nobody else here owes it now."
    missed = _missed_today(draft, lesson).get(skill.id, [])
    if not missed:
        return f"Nobody here owes {words.inside(skill.name)} now."
    again = "shows" if len(missed) == 1 else "show"
    return (f"{words.names(map(draft.called, missed))} missed {words.inside(skill.name)} today and {again} it at the "
            "next lesson; nobody else here owes it. To see one all the same, type the name, seen, and the skill.")


def _with_others(draft: Draft, lesson: Lesson, skill: str) -> str:
    """`Sam has Ava and Ben`, of those whom somebody else is watching at that skill."""
    found = []
    for person, line in lesson.lines.items():
        children = left_of(draft, line) if person != draft.me.id and line.skill == skill else ()
        if children and person in draft.desk.people:
            found.append(f"{draft.desk.people[person].first_name} has {words.names(map(draft.called, children))}")
    return "; ".join(found)


def _missed_today(draft: Draft, lesson: Lesson) -> dict[str, list[str]]:
    """Skill → who of those here missed it in this lesson: they show it again at the next one."""
    found: dict[str, list[str]] = {}
    for child, of_child in draft.books[lesson.class_id].in_order():
        for skill, one in of_child.items() if lesson.here(child, draft.now) else ():
            if one.retest_from is not None and not one.ticked and one.lesson == lesson.id:
                found.setdefault(skill, []).append(child)
    return found


def _owe(children: int) -> str:
    return f"{children} {'owes' if children == 1 else 'owe'} it"


def ready_for(skill: Skill) -> str:
    """What to see to before a skill is shown: the surface, and its caution."""
    said = []
    if skill.loads:
        said.append("Warmed up?")
    if skill.surface:
        said.append(f"On {_article(skill.surface)}.")
    if skill.caution:
        said.append(skill.caution)
    return " ".join(said)


def _article(surface: str) -> str:
    return surface if surface.startswith(("a ", "an ", "the ")) or surface.endswith("s") else f"a {surface}"


# --- the choices of a place ----------------------------------------------------------------------------

def register_choices(lesson: Lesson) -> Choices:
    """The three answers to who is here."""
    return [
        ("Everyone", Register(lesson.id, "everyone")), ("Some missing", Register(lesson.id, "some")),
        ("Ask me later", Register(lesson.id, "later")),
    ]


def of_place(draft: Draft) -> Choices:
    """What can be tapped where the talk is, so that a side question never loses the place."""
    lesson = draft.lesson(draft.talk.lesson)
    if lesson is None or not lesson.is_open:
        return _to_start(draft)
    drop_answered(draft)
    if draft.talk.lines:
        return answers(draft.talk.lines[0])
    if draft.talk.place is Place.REGISTER and not lesson.registered:
        return register_choices(lesson)
    if draft.talk.place is Place.PAUSED:
        return [("Carry on", Quiet(lesson.id, paused=False))]
    if draft.talk.suggested is not None:
        line = draft.talk.suggested
        return [("Go", Watch(line)), ("Another skill", Another(lesson.id, line.skill)),
                ("The standard", Card(line.skill))]
    if draft.talk.place is Place.OUTSIDE:
        return [("Whom to watch", Do((requests.Say("next"),), draft.now))]
    return [("Another skill", Another(lesson.id)), ("Close", Shut(lesson.id))]


def _to_start(draft: Draft) -> Choices:
    """Starting a lesson: the one class that somebody has, or whichever is on."""
    own = draft.own
    if len(own) == 1:
        return [("Start", Open(own[0].id))]
    return [("Start", Do((requests.Start(),), draft.now))] if own else []


def by_a_coach(draft: Draft, else_said: str) -> bool:
    """Does a coach ask? Else it is said why nothing was done."""
    if draft.me.role != "coach":
        draft.say(else_said, *of_place(draft), question=draft.talk.question)
    return draft.me.role == "coach"


def aside(draft: Draft, text: str, *attached: Attachment) -> None:
    """Answer a side question: the place and what was asked there stay as they are."""
    draft.say(text, *of_place(draft), question=draft.talk.question, attached=attached)
