"""A child who is forgotten is nowhere any more, and nobody else loses anything."""
from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.facts import (
    ConsentSaid,
    Fact,
    GroupNamed,
    HelperShowed,
    LessonOpened,
    Mark,
    ReasonGiven,
    RegisterTaken,
    RetestMoved,
    Voided,
)
from bot.lesson.book import AwardWay, Changes, Reminder
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.lesson.pace import Pace, Timed, Watched
from bot.marks.standing import Standing
from bot.people.hall import Hall
from bot.people.model import Person, RosterLine
from bot.port import Snapshot, Store
from bot.step import Choice, Desk, Heard, Invitation, Joined, Say, Stepped, Woken
from bot.talk.state import Offer, Question
from bot.talk.taps import Help, Watch
from storage import open_store
from tests.postgres import KINDS, address_of
from tests.storage.steps import LESSON, NOW, answer, hall, heard

HER, OTHER = "tue-zuleika-canary", "ava"
LINE = Line(LESSON, "hop", 1, (HER, OTHER), NOW)
ALONE = Line(LESSON, "hop", 1, (HER,), NOW)
PACE = {"hop": Pace((Timed("bench:m1", NOW, 1, 30, 20),))}
WATCHED = {"jo": (Watched("bench:m1", "hop", 1, NOW, NOW, NOW),)}


def two_children() -> Hall:
    """A class of two."""
    made = hall()
    return replace(made, roster=(*made.roster, RosterLine(child="Zuleika Canary", class_id="tue", award="one")))


def full(message: Heard, desk: Desk) -> Stepped:
    """Everything that can name a child, at once."""
    marks = tuple(
        Mark(f"{message.message}#{n}", child, "hop", LESSON, "not yet", "jo", NOW, NOW, 1)
        for n, child in enumerate((HER, OTHER))
    )
    facts: tuple[Fact, ...] = (
        LessonOpened(LESSON, "jo", NOW), *marks, ReasonGiven(marks[0].id, HER, "hop", ("knees",)),
        Voided(marks[0].id, undo=False), RegisterTaken(LESSON, (HER, OTHER), NOW),
        RetestMoved(HER, "hop", NOW.date(), NOW),
        GroupNamed("tue", "red", (HER, OTHER)), GroupNamed("tue", "blue", (HER,)),
        HelperShowed(LESSON, "jo", (HER, OTHER), "hop", NOW), ConsentSaid(HER, "pat", True, NOW, "Zuleika's news"),
    )
    says = (
        Say("Zuleika and Ava stand there.", (Choice("Go", Watch(LINE), 1),)),
        Say("Who needs another go?", (Choice("Zuleika", Help(), 2), Choice("Ava", Help(), 3))),
        Say("Next line.", (Choice("Go", Watch(ALONE), 4),)),
        Say("Ava seen. Well done.", (Choice("Help", Help(), 5),)),
    )
    seq = desk.talk.said
    talk = replace(
        desk.talk, said=seq + 4, lines=(LINE, ALONE), suggested=ALONE, stood=(HER, OTHER),
        question=Question("who", seq + 2, LINE),
        offers=(Offer(seq + 4, 5, ("Help",)), Offer(seq + 2, 2, ("Zuleika", "Ava"))),
    )
    return Stepped(talk, says, facts, LESSON, changes())


def changes() -> Changes:
    """Books in which she is everywhere."""
    lesson = Lesson(
        LESSON, "tue", NOW.date(), "jo", NOW, away=frozenset({HER, OTHER}), sits=frozenset({HER}),
        leaves={HER: NOW, OTHER: NOW}, spared={HER: ("back",)}, lines={"jo": LINE, "sam": ALONE},
        shown=(HelperShowed(LESSON, "jo", (HER, OTHER), "hop", NOW), HelperShowed(LESSON, "jo", (HER,), "hop", NOW)),
        watched=WATCHED,
    )
    later = NOW + timedelta(minutes=5)
    queue = (
        Reminder(f"rest/{LESSON}/{HER}/hop/x/jo", "jo", "rest", later, LESSON, HER, "hop", 2),
        Reminder(f"rest/{LESSON}/{OTHER}/hop/x/jo", "jo", "rest", later, LESSON, OTHER, "hop", 2),
        Reminder(f"shown/{LESSON}/jo", "jo", "shown", later, LESSON, children=(HER, OTHER)),
    )
    return Changes(
        standings={(HER, "hop"): Standing(tries=1), (OTHER, "hop"): Standing(tries=2)},
        lessons={LESSON: lesson},
        groups={("tue", "red"): (HER, OTHER), ("tue", "blue"): (HER,)},
        pace={("tue", skill): pace for skill, pace in PACE.items()},
        awards={(HER, "one"): AwardWay("ordered", NOW.date()), (OTHER, "one"): AwardWay("ordered", NOW.date())},
        pending={"tue": {one.key: one for one in queue}},
        fired={"tue": frozenset({f"rest/{LESSON}/{HER}/hop/w/jo", f"rest/{LESSON}/{OTHER}/hop/w/jo"})},
    )


def joining(code: str, person: Person) -> Any:
    """A step by which somebody comes in."""
    return lambda message, desk: replace(answer(message, desk), joined=Joined(code, "bench", person))


@pytest.fixture(params=KINDS)
async def store(request: pytest.FixtureRequest, tmp_path: Path) -> Any:
    """A store in which she is everywhere."""
    with address_of(request.param, tmp_path) as url:
        made = open_store(url)
        await full_of_her(made)
        yield made
        await made.close()


async def full_of_her(made: Any) -> None:
    """Load the club, let her parents come in, let the coach speak of her."""
    await made.load(two_children(), NOW)
    await made.meet("bench", "jo", "bench", "jo")
    for n, (name, children) in enumerate({"pat": (HER,), "kim": (HER, OTHER)}.items()):
        code, parent = f"code-{name}", Person(id=name, name="", role="parent", children=children)
        await made.invite(Invitation("bench", None, HER, NOW + timedelta(days=1), used=False), code)
        came = Heard(f"j{n}", "bench", f"+4470000{n}", NOW, NOW, f"join {code}")
        await made.step(came, joining(code, parent))
    await made.invite(Invitation("bench", None, HER, NOW + timedelta(days=1), used=False), "unused")
    await made.step(heard(1), full)


def seen_by(desks: list[Desk]) -> Any:
    """A step that only looks."""
    def look(message: Heard, desk: Desk) -> Stepped:
        desk.said(1), desk.said(2), desk.said(3), desk.said(4), desk.invitation("unused")
        desks.append(desk)
        return answer(message, desk)

    return look


def named(snapshot: Snapshot) -> bool:
    """Is she anywhere in it?"""
    return any(word in repr(snapshot) for word in ("Zuleika", "Canary", HER))


async def test_she_is_in_no_snapshot(store: Store) -> None:
    """Nothing of the club names her any more; what others have is as it was."""
    assert named(await store.snapshot("bench"))
    await store.forget("bench", HER)
    after = await store.snapshot("bench")
    assert not named(after)
    book = after.books["tue"]
    lesson = book.lessons[LESSON]
    assert (lesson.away, lesson.leaves, lesson.sits, lesson.spared) == ({OTHER}, {OTHER: NOW}, frozenset(), {})
    assert [line.children for line in lesson.lines.values()] == [(OTHER,)]
    assert [one.children for one in lesson.shown] == [(OTHER,)]
    assert (book.pace, lesson.watched) == (PACE, WATCHED)
    assert book.groups == {"red": (OTHER,)}
    assert book.standings == {OTHER: {"hop": Standing(tries=2)}}
    assert [(one.child, one.children) for one in book.pending.values() if one.kind != "before"] == [
        (OTHER, ()), (None, (OTHER,)),
    ]
    assert book.fired == {f"rest/{LESSON}/{OTHER}/hop/w/jo"}
    assert [one.fact.kind for one in after.record] == ["opened", "mark", "register", "group", "helper"]


async def test_a_talk_goes_on_without_her(store: Store) -> None:
    """Messages that named her are replaced; the others can still be tapped, and children keep their numbers."""
    await store.forget("bench", HER)
    desks: list[Desk] = []
    await store.step(heard(2), seen_by(desks))
    desk = desks[-1]
    assert [desk.said(n).text for n in (1, 2, 3)] == ["(forgotten)"] * 3     # type: ignore[union-attr]
    assert [len(desk.said(n).choices) for n in (1, 2, 3, 4)] == [0, 0, 0, 1]    # type: ignore[union-attr]
    assert [line.children for line in desk.talk.lines] == [(OTHER,)]
    assert desk.talk.suggested is None
    assert desk.talk.stood == ("", OTHER)
    assert [offer.seq for offer in desk.talk.offers] == [4]
    assert desk.talk.question is not None
    assert desk.talk.question.line is not None
    assert desk.talk.question.line.children == (OTHER,)


async def test_her_family_is_forgotten_with_her(store: Store) -> None:
    """A parent of hers alone is a stranger again; one of another child too stays for that one; codes are void."""
    await store.forget("bench", HER)
    assert [(one.id, one.children) for one in await store.people("bench")] == [("jo", ()), ("kim", (OTHER,))]
    desks: list[Desk] = []
    await store.step(Heard("x1", "bench", "+44700000", NOW, NOW, "hello"), seen_by(desks))
    assert desks[-1].me is None
    assert desks[-1].invitation("unused") is None


async def test_no_message_to_come_names_her(store: Store) -> None:
    """An unasked message that was not fetched yet is not delivered with her name in it."""
    def fire(woken: Woken, desk: Desk) -> Stepped:
        talk = replace(desk.talk, said=desk.talk.said + 1)
        return Stepped(talk, (Say("Rested: Zuleika."),), changes=Changes(pending={"tue": {}}))

    await store.wake(NOW + timedelta(minutes=6), fire)
    assert len(await store.outbox(0)) == 1
    await store.forget("bench", HER)
    assert await store.outbox(0) == ()


async def test_her_bytes_are_gone(tmp_path: Path) -> None:
    """Neither her name nor her id is in any byte of the file or its log, free space too."""
    path = tmp_path / "club.sqlite"
    store = open_store(str(path))
    await store.load(two_children(), NOW)
    await store.meet("bench", "jo", "bench", "jo")
    for n in range(20):
        await store.step(heard(n), full)

    def bytes_of() -> bytes:
        return b"".join(part.read_bytes() for part in path.parent.iterdir())

    assert b"Zuleika" in bytes_of()
    await store.forget("bench", HER)
    assert b"Zuleika" not in bytes_of()
    assert HER.encode() not in bytes_of()
    await store.close()


def test_a_child_is_only_forgotten_where_she_is() -> None:
    """Her name inside another word is another word."""
    from bot.lesson.book import Child
    from bot.step import Said
    from storage.erase import _names

    mark = Child("m", "Mark Bell", "tue", "one")
    for text, mentioned in {
        "Mark seen.": True, "Well done, Mark!": True, "Marks for Ava": False, "A mark for Ava": False,
        "Denmark": False, "(Mark's turn)": True,
    }.items():
        assert _names(Said("c", "p", 1, NOW, text, (), None), mark) is mentioned, text
