"""What is agreed for a child for longer than a lesson: a way of her own on a skill, a load that she is spared.

No reason is kept, and nobody but her coaches sees it. A mark of a skill shown in the agreed way counts fully.
"""
from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import islice

from bot.facts import LoadSpared, WayAgreed
from bot.frozen import replace
from bot.lesson.timetable import day_in_zone
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.taps import EndAgreed, Tap
from bot.talk.watching import of_place

Choices = list[tuple[str, Tap]]
MOST = 8        # things agreed that one message lists


def agree(draft: Draft, request: requests.Agree) -> None:
    """`agree ava cartwheel: seated`."""
    if not _may(draft):
        return
    if not request.way:
        end(draft, EndAgreed(request.child, skill=request.skill))
        return
    _set_way(draft, request.child, request.skill, request.way)
    name, skill = draft.called(request.child), words.inside(draft.skill(request.skill).name)
    draft.say(f"Agreed: {name} shows {skill} {request.way}. It counts fully, and nobody else is told.",
              ("End that", EndAgreed(request.child, skill=request.skill)), *of_place(draft),
              question=draft.talk.question)


def _may(draft: Draft) -> bool:
    """Is this a coach? Else it is said that one is needed."""
    if draft.me.role == "coach":
        return True
    draft.say("What is agreed for a child is for her coach to say.", *of_place(draft), question=draft.talk.question)
    return False


def _set_way(draft: Draft, child: str, skill: str, way: str) -> None:
    draft.record(WayAgreed(child, skill, way, draft.sent_at))
    before = draft.book_of(child).agreed_for(child)
    ways = {key: one for key, one in before.ways.items() if key != skill}
    draft.put_agreed(child, replace(before, ways={**ways, skill: way} if way else ways))


def spare(draft: Draft, request: requests.Note) -> None:
    """`ava no landings 3 weeks`: from today, for so long."""
    assert request.load is not None
    if not _may(draft):
        return
    until = day_in_zone(draft.club, draft.now) + timedelta(days=request.days)
    for child in request.children:
        _set_load(draft, child, request.load, until)
    who = words.names(draft.called(child) for child in request.children)
    what = "no landings" if request.load == "landing" else f"nothing that loads the {request.load}"
    one = request.children[0]
    end: Choices = [("End that", EndAgreed(one, load=request.load))] if len(request.children) == 1 else []
    draft.say(f"{who}: {what} until {words.date_in_full(until)}. Then it ends by itself.", *end, *of_place(draft),
              question=draft.talk.question)


def _set_load(draft: Draft, child: str, load: str, until: date | None) -> None:
    draft.record(LoadSpared(child, load, until, draft.sent_at))
    before = draft.book_of(child).agreed_for(child)
    spared = {key: one for key, one in before.spared.items() if key != load}
    draft.put_agreed(child, replace(before, spared={**spared, load: until} if until is not None else spared))


def end(draft: Draft, tap: EndAgreed) -> None:
    """The choice End: as it is written again, or loaded again."""
    if not draft.knows(tap.child):
        draft.say("That child is not in a class of yours any more.", *of_place(draft))
        return
    if not _may(draft):
        return
    name = draft.called(tap.child)
    if tap.skill is not None:
        _set_way(draft, tap.child, tap.skill, "")
        text = f"{name} shows {words.inside(draft.skill(tap.skill).name)} as it is written again."
    else:
        assert tap.load is not None
        _set_load(draft, tap.child, tap.load, None)
        text = f"{name} is spared nothing for the {tap.load} any more." if tap.load != "landing" else (
            f"{name} may land again.")
    draft.say(text, *of_place(draft), question=draft.talk.question)


def agreed(draft: Draft) -> None:
    """`agreed`: all that is agreed in these classes, each with the choice that ends it."""
    rows = [(f"{n}. {row}", tap) for n, (row, tap) in enumerate(islice(_all(draft), MOST), start=1)]
    draft.shows("agreed", dict.fromkeys(tap.child for _, tap in rows))
    text = "\n".join(row for row, _ in rows) or "Nothing is agreed for any child."
    choices: Choices = [(words.label(f"End {n}"), tap) for n, (_, tap) in enumerate(rows, start=1)]
    draft.say(text, *choices, *of_place(draft), question=draft.talk.question)


def _all(draft: Draft) -> Iterator[tuple[str, EndAgreed]]:
    today = day_in_zone(draft.club, draft.now)
    for book in draft.books.values():
        for child, one in book.agreed.items():
            for skill in sorted(one.ways.keys() & draft.scheme.skills.keys()):
                name = words.inside(draft.skill(skill).name)
                yield f"{draft.called(child)}: {name} {one.ways[skill]}", EndAgreed(child, skill)
            for load in sorted(one.spared_on(today)):
                until = words.date_in_full(one.spared[load])
                yield f"{draft.called(child)}: spared {load} until {until}", EndAgreed(child, load=load)
