"""Asking for second looks: somebody else judges the same children on the same show, blind, and then both hear it.

`second look` asks for the line that stands there, `second look ben` for one child, `calibrate` chooses six. The marks
of whoever asks count as ever; the other's are second looks.
"""
from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bot.facts import LookAsked, LookDeclined
from bot.frozen import replace
from bot.lesson.book import Reminder
from bot.lesson.lesson import Lesson, advance
from bot.lesson.line import Line
from bot.lesson.looks import Looks
from bot.lesson.next import owing_of
from bot.marks.standing import SECOND_LOOK
from bot.talk import compared, requests, words
from bot.talk.draft import Draft
from bot.talk.marking import left_of
from bot.talk.taps import Do, NoLook, Tap, Undo
from bot.talk.watching import answers, come_in, hall, of_place, row, stand

Choices = list[tuple[str, Tap]]
SIX = 6             # children that two judge together
BLIND = "Neither of you hears what the other saw until both are in."


def ask(draft: Draft, request: requests.Look) -> None:
    """`second look`, `second look sam ben cartwheel`, `calibrate cartwheel with sam`."""
    lesson = draft.open_lesson()
    if lesson is None:
        _say(draft, "No lesson is open. Type start.")
        return
    come_in(draft, lesson.id)
    draft.lesson_of_message = lesson.id
    others = _others(draft, lesson, request.of)
    skill = _skill(draft, request)
    if not others:
        _say(draft, "Nobody else judges in this class today.")
    elif len(others) > 1:
        choices: Choices = [
            (words.label(compared.name(draft, one)), Do((replace(request, of=(one,)),), draft.sent_at))
            for one in others
        ]
        draft.say(f"Who is to look too, {words.names((label for label, _ in choices), last='or')}?", *choices,
                  question=draft.talk.question)
    elif skill is None:
        _say(draft, f"Of which skill? Type it too: {'calibrate' if request.six else 'second look'} cartwheel.")
    elif request.six:
        _six(draft, lesson, others[0], skill)
    else:
        _these(draft, lesson, others[0], skill, request.children)


def _say(draft: Draft, text: str, *also: tuple[str, Tap]) -> None:
    draft.say(text, *of_place(draft), *also, question=draft.talk.question)


def _others(draft: Draft, lesson: Lesson, named: Sequence[str]) -> list[str]:
    """Who else judges in this class today; of these whoever was named."""
    one = draft.class_(lesson.class_id)
    people = (*draft.club.coaches(one, lesson.day), *draft.club.assistants(one, lesson.day), lesson.runner)
    return [
        person for person in dict.fromkeys(people)
        if person != draft.me.id and person in draft.desk.people and (not named or person in named)
    ]


def _skill(draft: Draft, request: requests.Look) -> str | None:
    """The skill that was named, else the one in whose line those children stand, else the one being watched."""
    standing = (line.skill for line in draft.talk.lines if set(request.children) <= set(line.children))
    return request.skill or next(standing, draft.talk.turned)


def _these(draft: Draft, lesson: Lesson, other: str, skill: str, children: Sequence[str]) -> None:
    """These children, or those of the line that stands there."""
    children = children or next((left_of(draft, line) for line in _lines(draft) if line.skill == skill), ())
    children = [child for child in children if draft.book_of(child).class_id == lesson.class_id]
    if not children:
        what = words.inside(draft.skill(skill).name)
        _say(draft, f"Nobody stands there for {what}. Name whom to look at: second look ava, ben.")
        return
    show = _show(draft, lesson, children[0], skill)
    same = tuple(child for child in children if _show(draft, lesson, child, skill) == show)
    same = tuple(child for child in same if not _asked(lesson, other, child, skill, show))
    if not same:
        _say(draft, f"{compared.name(draft, other)} is asked for that already.")
        return
    _record(draft, lesson, other, same, skill, show)
    what = words.inside(words.skill_and_show(draft.skill(skill), show))
    who = words.names(map(draft.called, same))
    _say(draft, f"{compared.name(draft, other)} is asked to look too: {what}, {who}. {BLIND}",
         ("Undo", Undo(draft.message)))


def _asked(lesson: Lesson, other: str, child: str, skill: str, show: int) -> bool:
    """Is that look at her asked for already, and not done?"""
    same = (one for one in lesson.looks if (one.asked.skill, one.asked.show) == (skill, show))
    return any(one.waits_for(other, child) for one in same)


def _lines(draft: Draft) -> list[Line]:
    return [*draft.talk.lines, *([draft.talk.suggested] if draft.talk.suggested is not None else [])]


def _show(draft: Draft, lesson: Lesson, child: str, skill: str) -> int:
    """The show that was judged a moment ago, else the one to come."""
    last = draft.standing(child, skill).last
    just_now = last is not None and last.by == draft.me.id and last.lesson == lesson.id \
        and draft.sent_at - SECOND_LOOK <= last.at
    return last.show if just_now and last is not None else draft.view(child, skill).show


def _six(draft: Draft, lesson: Lesson, other: str, skill: str) -> None:
    """Six who owe a skill are judged by two: the lines stand there at once."""
    seen = hall(draft, lesson, only=skill)
    owing = owing_of(seen).get(skill)
    children = owing.first[:SIX] if owing is not None else []
    which = draft.skill(skill)
    if len(children) < 2:
        _say(draft, f"Fewer than two here can show {words.inside(which.name)} now, so there is nothing to compare.")
        return
    _record(draft, lesson, other, tuple(children), skill, 1)
    size = seen.size(which)
    first, *more = (
        Line(lesson.id, skill, 1, tuple(children[at:at + size]), draft.now) for at in range(0, len(children), size)
    )
    stand(draft, first)
    stood = draft.talk.stood + tuple(child for line in more for child in line.children)
    draft.change_talk(lines=(first, *more, *draft.talk.lines[1:]), stood=stood)
    draft.say(f"You and {compared.name(draft, other)} judge the same {words.number(len(children))}. {BLIND}\n"
              f"{words.skill_and_show(which, 1)}: {'; then '.join(row(draft, line) for line in (first, *more))}",
              *answers(first), ("Undo", Undo(draft.message)))


def _record(
    draft: Draft, lesson: Lesson, other: str, children: tuple[str, ...], skill: str, show: int
) -> None:
    fact = LookAsked(lesson.id, draft.me.id, other, children, skill, show, draft.sent_at)
    draft.record(fact)
    after = advance(draft.lesson(lesson.id), fact)
    assert after is not None
    draft.put_lesson(after)


# --- what is said to the other, and to both -----------------------------------------------------------------

def put(draft: Draft, one: Reminder, lesson: Lesson) -> None:
    """Somebody is asked: the line, with its answers, and a tap for not now."""
    looks = _of(lesson, one.at, one.skill)
    if looks is None:
        return
    line = compared.line_of(looks)
    which = words.inside(words.skill_and_show(draft.skill(line.skill), line.show))
    draft.say(f"{compared.name(draft, looks.asked.by)} asks you to look too: {which}: {row(draft, line)}. It changes "
              f"nothing. {BLIND}",
              *answers(line), ("Not now", NoLook(lesson.id, line.skill, looks.asked.at)), question=draft.talk.question)


def came_of(draft: Draft, one: Reminder, lesson: Lesson) -> None:
    """Both are in: whoever had judged before the other hears it now."""
    looks = _of(lesson, one.at, one.skill)
    if looks is not None and compared.all_in(draft, looks):
        draft.say(compared.in_words(draft, looks), question=draft.talk.question)
        compared.has_heard(draft, looks)


def _of(lesson: Lesson, at: datetime | None, skill: str | None) -> Looks | None:
    return next((one for one in lesson.looks if one.asked.at == at and one.asked.skill == skill), None)


def decline(draft: Draft, tap: NoLook) -> None:
    """The choice Not now."""
    lesson = draft.lesson(tap.lesson)
    looks = _of(lesson, tap.asked_at, tap.skill) if lesson is not None else None
    if lesson is None or not lesson.is_open or looks is None or looks.asked.of != draft.me.id or looks.declined:
        _say(draft, "That is not asked any more.")
        return
    fact = LookDeclined(lesson.id, draft.me.id, tap.skill, tap.asked_at, draft.sent_at)
    draft.record(fact)
    draft.lesson_of_message = lesson.id
    after = advance(lesson, fact)
    assert after is not None
    draft.put_lesson(after)
    _say(draft, f"Not now, then. {compared.name(draft, looks.asked.by)} is told.")


def declined(draft: Draft, one: Reminder, lesson: Lesson) -> None:
    """Whoever asked hears that the other can't."""
    looks = _of(lesson, one.at, one.skill)
    if looks is not None:
        which = words.inside(draft.skill(looks.asked.skill).name)
        draft.say(f"{compared.name(draft, looks.asked.of)} can't look too just now ({which}).",
                  question=draft.talk.question)
