"""Side questions: what is owed, who rests, the standard, whom to watch. None of them loses the place."""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from bot.lesson.ahead import Ahead
from bot.lesson.book import ClassBook
from bot.lesson.follow import Stretch, follow, left_over, stretches
from bot.lesson.lesson import Lesson
from bot.lesson.next import minutes, working_on
from bot.lesson.timetable import day_in_zone, lesson_id, next_lesson, on_now, starts_at
from bot.people.model import ClubClass
from bot.scheme.card import card
from bot.scheme.model import Skill
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.places import Move, moved
from bot.talk.rulings import on_cards
from bot.talk.state import Question
from bot.talk.taps import Another, Open, Tap, Turn
from bot.talk.watching import aside, carry_on, due, hall, of_place, suggest

Choices = list[tuple[str, Tap]]
ROWS = 8            # of a plan, in one message
SHORT = 560     # characters: an answer of the main loop can be read aloud


def owed(draft: Draft, request: requests.Owed) -> None:
    """`owed`, `owed ava`, `owed cartwheel`."""
    if request.children:
        draft.shows("record", request.children[:3])
        aside(draft, "\n".join(_of_child(draft, child) for child in request.children[:3]))
    elif request.skill is not None:
        aside(draft, _of_skill(draft, draft.skill(request.skill)))
    else:
        aside(draft, _of_classes(draft, request.classes))


def _of_child(draft: Draft, child: str) -> str:
    return " ".join(filter(None, rows_of_child(draft, child)))


def rows_of_child(draft: Draft, child: str) -> tuple[str, str]:
    """How far a child is, and what she owes (empty: nothing)."""
    entry = draft.child(child)
    award = draft.scheme.award_by_id(entry.award)
    if award is None:
        return f"{draft.called(child)} works on no award of this scheme.", ""
    ticked = {key for key, one in draft.standings_of(child).items() if one.ticked}
    if draft.has_earned(child, award):
        return f"{draft.called(child)} has earned {award.name}.", ""
    have = sum(skill.id in ticked for skill in award.skills)
    parts = [_state(draft, child, skill) for skill in award.skills if skill.id not in ticked and not skill.retired]
    needed = words.names(draft.skill(one).name.lower() for one in award.must if one not in ticked)
    must = f" Can't be left out: {needed}." if needed else ""
    head = f"{draft.called(child)}, {award.name}: {have} ticked, {award.goal(ticked)} needed.{must}"
    return head, _fit("Owed: ", parts, SHORT - len(head))


def _state(draft: Draft, child: str, skill: Skill) -> str:
    """One skill as it stands with a child, in a few words."""
    seen_as = draft.view(child, skill.id)
    name = skill.name.lower()
    if seen_as.label == "resting" and seen_as.rested_at is not None:
        return f"{name} (rests to {words.clock(seen_as.rested_at, draft.club.tz, up=True)})"
    if seen_as.label in ("ready", "owed"):
        pieces = words.pieces(skill, seen_as.owed_pieces) if len(seen_as.owed_pieces) < len(skill.pieces) else ""
        show = words.show(seen_as.show, skill) if seen_as.show == 2 else ""
        return f"{name} ({', '.join(part for part in (pieces, show) if part) or 'begun'})"
    if seen_as.label == "retest":
        return f"{name} ({_retest(draft, child, skill)})"
    return name


def _retest(draft: Draft, child: str, skill: Skill) -> str:
    standing = draft.standing(child, skill.id)
    on = due(draft, child, skill.id)
    today = day_in_zone(draft.club, draft.now)
    when = "now" if on is None or on <= today else words.day(on, today)
    why = words.points(skill, standing.missed) or ("second show not seen" if standing.lapsed else "")
    return f"retest {when}" + (f": {why}" if why else "")


def _of_skill(draft: Draft, skill: Skill) -> str:
    rows: list[str] = []
    for book in draft.books.values():
        if (lesson := draft.open_lesson()) is not None and book.class_id != lesson.class_id:
            continue
        draft.shows("class", classes=(book.class_id,))
        for child, entry in book.children.items():
            if draft.scheme.award_of[skill.id].id == entry.award and not book.standing(child, skill.id).ticked:
                state = _state(draft, child, skill)
                rows.append(draft.called(child) + state.removeprefix(skill.name.lower()))
    return _fit(f"{skill.name} is owed by ", rows) if rows else f"{skill.name}: nobody owes it."


def of_class(draft: Draft, class_id: str) -> str:
    """What a class owes, skill by skill, those that most owe first."""
    counts = _owing_by_skill(draft, class_id)
    parts = [f"{draft.skill(skill).name.lower()} {_who(draft, who)}" for skill, who in counts]
    return _fit("Owed: ", parts) if parts else "Nothing is owed."


def _of_classes(draft: Draft, named: Sequence[str]) -> str:
    lesson = draft.open_lesson()
    own = [one for one in named if one in draft.books]
    own = own or (list(draft.books) if lesson is None else [lesson.class_id])
    lines = []
    draft.shows("class", classes=own)
    for class_id in own:
        counts = _owing_by_skill(draft, class_id)
        name = draft.class_(class_id).name
        parts = [f"{draft.skill(skill).name.lower()} {_who(draft, who)}" for skill, who in counts]
        lines.append(_fit(f"{name}: ", parts, SHORT // len(own)) if parts else f"{name}: nothing is owed.")
    return "\n".join(lines) or "You have no class yet."


def _owing_by_skill(draft: Draft, class_id: str) -> list[tuple[str, list[str]]]:
    owing: dict[str, list[str]] = {}
    book = draft.books[class_id]
    for child, entry in book.children.items():
        award = draft.scheme.award_by_id(entry.award)
        for skill in award.skills if award is not None else ():
            if not skill.retired and not book.standing(child, skill.id).ticked:
                owing.setdefault(skill.id, []).append(child)
    return sorted(owing.items(), key=lambda pair: -len(pair[1]))


def _who(draft: Draft, children: Sequence[str]) -> str:
    return str(len(children)) if len(children) > 3 else f"({words.names(map(draft.called, children))})"


def _fit(head: str, parts: Sequence[str], most: int = SHORT) -> str:
    """As many parts as can be read aloud; how many more there are is said."""
    text, shown = head, 0
    for part in parts:
        joined = f"{text}{', ' if shown else ''}{part}"
        if len(joined) > most - 20 and shown:
            break
        text, shown = joined, shown + 1
    more = len(parts) - shown
    return f"{text}, and {more} more." if more else f"{text}."


def resting(draft: Draft) -> None:
    """`resting`."""
    rows: list[tuple[object, str]] = []
    for book in draft.books.values():
        for child, of_child in book.in_order():
            for skill, standing in of_child.items():
                if standing.rested_at is None or standing.ticked or not _may_show(draft, book, child):
                    continue
                seen_as = draft.view(child, skill)
                if seen_as.label in ("resting", "ready") and _in_open(draft, standing.lesson):
                    until = words.clock(standing.rested_at, draft.club.tz, up=True)
                    when = "ready" if seen_as.label == "ready" else f"to {until}"
                    what = draft.skill(skill).name.lower()
                    rows.append((standing.rested_at, f"{draft.called(child)} ({what}, {when})"))
    rows.sort(key=lambda row: str(row[0]))
    aside(draft, _fit("Resting: ", [text for _, text in rows]) if rows else "Nobody is resting.")


def _may_show(draft: Draft, book: ClassBook, child: str) -> bool:
    """Is she in the hall, and not sitting out?"""
    lesson = book.open_lesson
    return lesson is None or lesson.can_show(child, (), draft.now)


def _in_open(draft: Draft, lesson: str | None) -> bool:
    known = draft.lesson(lesson)
    return known is not None and known.is_open


def standard(draft: Draft, skill: str | None) -> None:
    """`standard`, `standard cartwheel`: the card. Nothing else changes."""
    which = skill or draft.talk.turned
    if which is None:
        draft.say("Which skill? For example: standard cartwheel."
                  if "cartwheel" in draft.scheme.skills else "Which skill? Type standard and its name.",
                  *of_place(draft), question=draft.talk.question)
        return
    aside(draft, card(draft.scheme, draft.skill(which), on_cards(draft.desk, which)))


# --- whom to watch ---------------------------------------------------------------------------------

def _mine(draft: Draft) -> Lesson | None:
    """The open lesson that somebody asks about; they are in it from now on."""
    lesson = draft.open_lesson()
    if lesson is None:
        own = draft.own
        choices: Choices = [("Start", Open(own[0].id))] if len(own) == 1 else []
        draft.say("No lesson is open. Type start." if not choices else "No lesson is open. Start it?", *choices,
                  question=Question("start", draft.next_seq()))
        return None
    if draft.talk.lesson != lesson.id:
        draft.change_talk(lesson=lesson.id, lines=(), suggested=None, stood=(), skipped=(), turned=None)
    return lesson


def plan(draft: Draft) -> None:
    """`plan`: what is left of the lesson, or the one to come, by the clock; and what does not fit."""
    lesson = draft.open_lesson()
    ahead = draft.desk.plans.get(_of_interest(draft, lesson))
    if ahead is None or draft.now >= ahead.end:
        _without_plan(draft, lesson)
        return
    rows = [_row(draft, stretch) for stretch in stretches(ahead, draft.me.id if lesson is not None else None)]
    text = "\n".join(rows[:ROWS]) if rows else "Nothing more fits today."
    if len(rows) > ROWS:
        text += f"\n… and {len(rows) - ROWS} more, to {words.clock(ahead.turns[-1].at, draft.club.tz)}."
    late = _left(draft, lesson, ahead) if lesson is not None else []
    if late:
        text += "\n" + _fit("Better left for next week: ", late, 160) + _share(draft, lesson)
    aside(draft, text)


def _share(draft: Draft, lesson: Lesson | None) -> str:
    """Why the plan ends before the lesson does."""
    one = draft.class_(lesson.class_id) if lesson is not None else None
    if one is None or one.watch_minutes is None or one.watch_minutes == one.minutes:
        return ""
    return f" Of {one.minutes} min {one.watch_minutes} are for watching here."


def _of_interest(draft: Draft, lesson: Lesson | None) -> str:
    """The lesson that somebody wants to see planned: the one that is open, else the next one; it may be planned now."""
    if lesson is not None:
        return lesson.id
    coming = [(_next_day(draft, one), one) for one in draft.own]
    if not coming:
        return ""
    day, one = min(coming, key=lambda pair: starts_at(draft.club, pair[1], pair[0]))
    draft.foresee(one.id, day)
    return lesson_id(one.id, day)


def _next_day(draft: Draft, one: ClubClass) -> date:
    """The day of the class's next lesson: today's, as long as it was not held yet."""
    today = day_in_zone(draft.club, draft.now)
    held = lesson_id(one.id, today) in draft.books[one.id].lessons
    return next_lesson(draft.club, one, today if held else today - timedelta(days=1))


def _left(draft: Draft, lesson: Lesson, ahead: Ahead) -> list[str]:
    book = draft.books[lesson.class_id]
    return [
        f"{one.skill.name.lower()} ({minutes(book, draft.scheme, one.skill, one.owe)} min)"
        for one in left_over(hall(draft, lesson), ahead)
    ]


def _row(draft: Draft, stretch: Stretch) -> str:
    """`17:02 shoulder stand, first show: 8 children`."""
    which = words.inside(words.skill_and_show(draft.skill(stretch.skill), stretch.show))
    who = [draft.called(child) for child in stretch.children if draft.knows(child)]
    said = words.names(who) if len(who) < 4 else f"{len(who)} children"
    return f"{words.clock(max(stretch.at, draft.now), draft.club.tz)} {which}: {said}"


def _without_plan(draft: Draft, lesson: Lesson | None) -> None:
    """The skills of the class in the order in which the simple rule would take them, with their minutes."""
    own = draft.own
    classes = on_now(draft.club, own, draft.now) or own
    if lesson is None and not classes:
        draft.say("You have no class yet.")
        return
    one = draft.class_(lesson.class_id) if lesson is not None else classes[0]
    left = one.watch_minutes or one.minutes
    fits: list[str] = []
    later: list[str] = []
    for skill_id, who in _owing_by_skill(draft, one.id):
        skill = draft.skill(skill_id)
        needed = minutes(draft.books[one.id], draft.scheme, skill, len(who))
        if needed <= left:
            left -= needed
            fits.append(f"{skill.name.lower()} ({len(who)}, {needed} min)")
        else:
            later.append(skill.name.lower())
    text = _fit(f"{one.name}, as it looks now: ", fits, 320) if fits else f"{one.name}: nothing is owed."
    if later:
        text += "\n" + _fit("Will not fit today: ", later, 110)
    aside(draft, text)


def next_line(draft: Draft) -> None:
    """`next`: the line that stands there, or the next one."""
    lesson = _mine(draft)
    if lesson is None:
        return
    if draft.talk.place.value == "outside":
        draft.talk = moved(draft.talk, Move.EMPTIED)
    if draft.talk.lines:
        carry_on(draft, "")
    else:
        suggest(draft, "")


def skip(draft: Draft) -> None:
    """`skip`: not this skill now."""
    lesson = _mine(draft)
    if lesson is None:
        return
    skill = draft.talk.turned
    if skill is None:
        suggest(draft, "")
        return
    draft.change_talk(skipped=(*draft.talk.skipped, skill), turned=None, lines=(), suggested=None, just_skipped=True)
    _unshare(draft, lesson)
    suggest(draft, f"{draft.skill(skill).name} is put off; type its name to come back to it.")


def _unshare(draft: Draft, lesson: Lesson) -> None:
    known = draft.lesson(lesson.id)
    if known is not None and draft.me.id in known.lines:
        draft.put_lesson(replace(known, lines={k: v for k, v in known.lines.items() if k != draft.me.id}))


def turn(draft: Draft, skill: str, lesson_id: str | None = None) -> None:
    """A skill alone: watch that one next."""
    lesson = _mine(draft) if lesson_id is None else draft.lesson(lesson_id)
    if lesson is None or not lesson.is_open:
        if lesson_id is not None:
            draft.say("That lesson is closed.", *of_place(draft))
        return
    draft.change_talk(skipped=tuple(one for one in draft.talk.skipped if one != skill))
    suggest(draft, "", only=skill)


def another(draft: Draft, tap: Another) -> None:
    """Other skills that could be watched now, those most of the class owe first."""
    lesson = draft.lesson(tap.lesson)
    if lesson is None or not lesson.is_open:
        draft.say("That lesson is closed.", *of_place(draft))
        return
    found: list[tuple[int, Skill]] = []
    seen: set[str] = set()
    for child in draft.books[lesson.class_id].children:
        seen.update(working_on(hall(draft, lesson), child))
    for skill in seen - {tap.skill}:
        pick = follow(hall(draft, lesson, only=skill))
        if pick is not None:
            found.append((pick.owe, draft.skill(skill)))
    found.sort(key=lambda pair: (-pair[0], pair[1].name))
    if not found:
        draft.say("No other skill can be watched now.", *of_place(draft))
        return
    said = words.names((f"{skill.name.lower()} ({owe})" for owe, skill in found[:6]), last="or")
    choices: Choices = [(words.label(skill.name), Turn(lesson.id, skill.id)) for _, skill in found[:3]]
    draft.say(f"Which? {said[:1].upper()}{said[1:]}. Or type any other.", *choices,
              question=Question("skill", draft.next_seq()))


def day_before(draft: Draft, *, wanted: bool) -> None:
    """`day before`, `no day before`: tomorrow's retests and what to set out, at six in the evening."""
    draft.change_talk(eve=wanted)
    aside(draft, "You hear at 18:00 the day before each class. To end it, type: no day before." if wanted
          else "Then nothing comes the day before a class.")


def longest_line(draft: Draft, word: str) -> None:
    """`lines of 3`: no line is to be longer, from now on; `lines as written` ends it."""
    number = word.removeprefix("lines of ")
    most = int(number) if number.isdigit() else None
    draft.change_talk(most=most)
    aside(draft, "Your lines are as long as each skill says again." if most is None
          else f"No line of yours is longer than {most} from now on. To end it, type: lines as written.")
