"""A helper, who may be young: today's first names and lines, and one word, shown. A grown-up confirms."""
from __future__ import annotations

from bot.facts import HelperShowed
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.lessons import apply
from bot.talk.marking import left_of
from bot.talk.puzzled import speaks_of_hurt
from bot.talk.taps import Showed, Tap

Choices = list[tuple[str, Tap]]


def handle(draft: Draft, asked: tuple[requests.Typed, ...], text: str) -> None:
    """Whatever a helper typed: names with shown (or seen) are passed on, all else gets the lines of now."""
    for request in asked:
        if isinstance(request, requests.Mark) and request.verdict == "seen":
            _pass_on(draft, request.children, request.skill)
            return
        if isinstance(request, requests.MarkLine) and request.verdict == "seen" and not request.missed:
            line = _line(draft)
            if line is not None:
                showed(draft, Showed(line))
                return
    anything_else(draft, text)


def anything_else(draft: Draft, text: str) -> None:
    """The lines of now; but somebody who may be hurt comes first, and is no matter for a helper's phone."""
    if speaks_of_hurt(text):
        draft.say("If somebody is hurt, tell your coach at once; nothing is passed on from here. Type next to see the "
                  "lines.", *_choices(draft))
        return
    lines(draft)


def showed(draft: Draft, tap: Showed) -> None:
    """The choice Shown."""
    _pass_on(draft, left_of(draft, tap.line), tap.line.skill)


def _pass_on(draft: Draft, children: tuple[str, ...], skill: str) -> None:
    lesson = draft.open_lesson()
    here = tuple(child for child in children if lesson is not None and _is_in(draft, lesson, child))
    if lesson is None or not here:
        lines(draft)
        return
    apply(draft, HelperShowed(lesson.id, draft.me.id, here, skill, draft.sent_at), lesson.id)
    runner = draft.desk.people.get(lesson.runner)
    who = runner.first_name if runner is not None else "the coach"
    names = words.names(draft.child(child).first for child in here)
    what = draft.skill(skill).name.lower()
    draft.say(f"Thank you. {who} hears that {names} showed {what}, and decides. Type next to see the lines.")


def _is_in(draft: Draft, lesson: Lesson, child: str) -> bool:
    return draft.knows(child) and draft.book_of(child).class_id == lesson.class_id and lesson.here(child, draft.now)


def lines(draft: Draft) -> None:
    """Who stands where now."""
    lesson = draft.open_lesson()
    if lesson is None:
        draft.say("No lesson is open now. When one is, type next, and you see the lines here.")
        return
    rows = [
        f"{draft.skill(line.skill).name}: {words.names(draft.child(child).first for child in left)}"
        for line in lesson.lines.values() if (left := left_of(draft, line))
    ]
    text = "\n".join(rows) if rows else "Nobody stands in a line just now. Type next to look again."
    hint = "\nTap Shown when they have shown it, or type a name and shown." if rows else ""
    draft.say(text + hint, *_choices(draft))


def _choices(draft: Draft) -> Choices:
    line = _line(draft)
    return [("Shown", Showed(line))] if line is not None else []


def _line(draft: Draft) -> Line | None:
    lesson = draft.open_lesson()
    standing = [line for line in lesson.lines.values() if left_of(draft, line)] if lesson is not None else []
    return standing[0] if standing else None
