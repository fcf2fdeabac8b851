"""What loading a hall changes, and what it says about it. Loaded twice, nothing changes."""
from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from bot.lesson.book import AwardWay, Changes
from bot.people.hall import Hall
from bot.people.model import Club, ClubClass, Person, RosterLine
from bot.port import Snapshot, Store
from bot.scheme.model import Award, Scheme, Skill
from bot.step import Desk, Heard, Stepped
from storage import open_store
from tests.postgres import KINDS, address_of
from tests.storage.steps import NOW, a_mark, answer, heard

HOP, STAND, ROLL = (Skill(id=name, name=name.capitalize()) for name in ("hop", "stand", "roll"))


def scheme(*skills: Skill, **more: Any) -> Scheme:
    """An award with these skills."""
    return Scheme(name="Bench", award=(Award(id="one", name="One", skill=skills or (HOP, STAND)),), **more)


def line(child: str, class_id: str = "tue", award: str = "one", **more: Any) -> RosterLine:
    """A line of the roster."""
    return RosterLine(child=child, class_id=class_id, award=award, **more)


def hall(*roster: RosterLine, of: Scheme | None = None, **club: Any) -> Hall:
    """Two classes, a coach, and these children."""
    classes = (
        ClubClass(id="tue", name="Tuesday", day="tuesday", start=time(17), coach=("jo",)),
        ClubClass(id="sat", name="Saturday", day="saturday", start=time(10), coach=("jo",)),
    )
    return Hall(
        of or scheme(), Club(**{"id": "bench", "name": "Bench", "classes": classes, **club}),
        (Person(id="jo", name="Jo Marsh", role="coach"),), roster, whole=True,
    )


class Loading:
    """A store, and what was said when it was loaded."""

    def __init__(self, store: Store) -> None:
        self.store = store

    async def load(self, made: Hall, now: datetime = NOW) -> tuple[str, ...]:
        """Load it, and once more: that must change nothing."""
        said = (await self.store.load(made, now)).changes
        before = await self.store.snapshot("bench")
        again = (await self.store.load(made, now)).changes
        assert again[0] == "Nothing has changed."
        assert await self.store.snapshot("bench") == before
        return said

    async def snapshot(self) -> Snapshot:
        """The club as it is."""
        return await self.store.snapshot("bench")

    async def children(self) -> dict[str, tuple[str, str]]:
        """Child id → class and name."""
        books = (await self.snapshot()).books
        return {one.id: (one.class_id, one.name) for book in books.values() for one in book.children.values()}

    async def marks(self) -> None:
        """A mark of Ava's on the hop."""
        await self.store.meet("bench", "jo", "bench", "jo")
        await self.store.step(heard(1), a_mark)


@pytest.fixture(params=KINDS)
async def club(request: pytest.FixtureRequest, tmp_path: Any) -> Any:
    """An empty store."""
    with address_of(request.param, tmp_path) as url:
        made = open_store(url)
        yield Loading(made)
        await made.close()


async def test_a_new_club_is_said_whole(club: Loading) -> None:
    """The first load says the club, its people, skills, children and ticks."""
    assert await club.load(hall(line("Ava Price"), line("Ben Okafor", has=("hop",)))) == (
        "Bench is new.", "1 person added.", "The scheme Bench has 2 skills.", "2 children added.",
        "1 tick brought along.",
    )


async def test_ids_are_made_of_class_and_name(club: Loading) -> None:
    """A child without an id gets one that can be read, in any script; no two get the same."""
    await club.load(hall(line("Zoë O'Łaska"), line("Ava Price", id="zoe"), line("子涵"), line("…")))
    assert list(await club.children()) == ["tue-zoe-olaska", "zoe", "tue-子涵", "tue-child"]
    await club.load(hall(line("Zoë O'Łaska"), line("Ava Price", id="zoe"), line("子涵"), line("…"), line("?!", "tue")))
    assert list(await club.children())[-1] == "tue-child-2"


async def test_a_known_name_is_the_same_child(club: Loading) -> None:
    """Whoever alone bears a name is recognised by it, in any spelling, and moves with all she has."""
    await club.load(hall(line("Ava Price", id="ava"), line("Mia Lund")))
    await club.marks()
    said = await club.load(hall(line("AVA  PRICE", "sat"), line("Mia Lund")))
    assert said == ("Ava Price is now called AVA  PRICE.", "AVA  PRICE moved to Saturday.")
    books = (await club.snapshot()).books
    assert books["sat"].standing("ava", "hop").tries == 1
    assert "ava" not in books["tue"].children
    assert "ava" not in books["tue"].standings


async def test_a_known_id_is_the_same_child(club: Loading) -> None:
    """An id is stronger than a name: two who change names are not confused."""
    await club.load(hall(line("Ava Price", id="a"), line("Ava Pryce", id="b")))
    await club.load(hall(line("Ava Pryce", id="a"), line("Ava Price", id="b")))
    assert await club.children() == {"a": ("tue", "Ava Pryce"), "b": ("tue", "Ava Price")}


async def test_a_name_that_two_bear_is_nobody_s(club: Loading) -> None:
    """Where two children have one name a line without a known id is neither: nobody's marks go astray."""
    await club.load(hall(line("Ava Price", id="a"), line("Ava Price", "sat", id="b")))
    said = await club.load(hall(line("Ava Price", "sat", id="c"), line("Ava Price", id="a")))
    assert said == (
        "1 child added: Ava Price.", "1 child not on the roster stays: Ava Price.",
        'Who has left for good is removed by: sprung forget "Ava Price"',
        "Of whom nothing is recorded for 24 months is forgotten by itself.",
    )
    assert set(await club.children()) == {"a", "b", "c"}


async def test_awards_move_along(club: Loading) -> None:
    """How far an award has come goes with the child to another class."""
    def ordered(message: Heard, desk: Desk) -> Stepped:
        return replace(
            answer(message, desk), changes=Changes(awards={("ava", "one"): AwardWay("ordered", NOW.date())}),
        )

    await club.load(hall(line("Ava Price", id="ava")))
    await club.store.meet("bench", "jo", "bench", "jo")
    await club.store.step(heard(1), ordered)
    await club.load(hall(line("Ava Price", "sat", id="ava")))
    books = (await club.snapshot()).books
    assert books["sat"].awards == {"ava": {"one": AwardWay("ordered", NOW.date())}}
    assert books["tue"].awards == {}


async def test_who_is_not_on_the_roster_stays(club: Loading) -> None:
    """Nobody is lost because a list is short; it is said each time."""
    await club.load(hall(line("Ava Price"), line("Ben Okafor")))
    assert await club.load(hall()) == (
        "Nothing has changed.", "2 children not on the roster stay: Ava Price, Ben Okafor.",
        'Who has left for good is removed by: sprung forget "Ava Price"',
        "Of whom nothing is recorded for 24 months is forgotten by itself.",
    )
    assert len(await club.children()) == 2


async def test_the_day_on_which_somebody_left_is_kept(club: Loading) -> None:
    """It is the first whole roster without her, no later one and no list of some; back again, she has not left."""
    def left() -> Any:
        return {one.id: one.left_on for book in snapshot.books.values() for one in book.children.values()}

    ava, ben = line("Ava Price", id="a"), line("Ben Okafor", id="b")
    await club.load(hall(ava, ben))
    await club.load(replace(hall(ava), whole=False))
    snapshot = await club.snapshot()
    assert left() == {"a": None, "b": None}
    await club.load(hall(ava))
    await club.load(hall(ava), NOW + timedelta(days=9))
    snapshot = await club.snapshot()
    assert left() == {"a": None, "b": NOW.date()}
    await club.load(hall(ava, ben))
    snapshot = await club.snapshot()
    assert left() == {"a": None, "b": None}


async def test_a_tick_is_brought_once(club: Loading) -> None:
    """What a roster says is ticked counts from the club's own day; a tick we have is not brought again."""
    late = datetime(2026, 11, 24, 23, 30, tzinfo=UTC)
    made = hall(line("Ava Price", id="ava", has=("hop", "hop")), timezone="Asia/Tokyo")
    assert (await club.load(made, late))[-1] == "1 tick brought along."
    standing = (await club.snapshot()).books["tue"].standing("ava", "hop")
    assert standing.ticked_on == date(2026, 11, 25)
    assert await club.load(replace(made, roster=(line("Ava Price", id="ava", has=("hop", "stand")),))) == (
        "1 tick brought along.",
    )


async def test_a_skill_with_marks_is_retired(club: Loading) -> None:
    """It stays in its award, is said once, comes back with the file; one without marks goes."""
    await club.load(hall(line("Ava Price", id="ava"), of=scheme(HOP, STAND)))
    await club.marks()
    assert await club.load(hall(line("Ava Price", id="ava"), of=scheme(ROLL))) == (
        "Roll is new.", "Hop is no longer in the scheme; its marks stay.", "Stand is gone.",
    )
    schemes = (await club.snapshot()).schemes
    assert [(one.id, one.retired) for one in schemes[2].skills.values()] == [("roll", False), ("hop", True)]
    assert [one.id for one in schemes[1].skills.values()] == ["hop", "stand"]
    assert await club.load(hall(line("Ava Price", id="ava"), of=scheme(ROLL, HOP))) == ("Hop is in the scheme again.",)


async def test_a_dropped_award_is_no_easier(club: Loading) -> None:
    """An award that is no longer in the file is kept for its marks, and can't be earned with fewer skills."""
    await club.load(hall(line("Ava Price", id="ava"), of=scheme(HOP, STAND)))
    await club.marks()
    other = Scheme(name="Bench", award=(Award(id="two", name="Two", skill=(ROLL,)),))
    await club.load(hall(line("Ava Price", "tue", "two", id="ava"), of=other))
    kept = (await club.snapshot()).schemes[2].award_by_id("one")
    assert kept is not None
    assert not kept.enough({"hop"})


async def test_other_changes_are_said(club: Loading) -> None:
    """Skills, rules, classes, settings, awards that a child works on: each has its sentence."""
    await club.load(hall(line("Ava Price", id="ava")))
    classes = (
        ClubClass(id="tue", name="Tuesday", day="tuesday", start=time(18)),
        ClubClass(id="wed", name="Wednesday", day="wednesday", start=time(18)),
    )
    harder = Skill(id="hop", name="Hop", caution="Soft knees.")
    made = hall(
        line("Ava Price", "wed", id="ava"), of=scheme(harder, STAND, rest_s=90), classes=classes, welfare="Kim",
    )
    assert await club.load(replace(made, people=(Person(id="jo", name="Jo Hart", role="coach"),))) == (
        "The class Tuesday changed.", "The class Wednesday is new.",
        "The class Saturday is no longer in the timetable.", "The club's settings changed.",
        "Jo Hart changed.", "Hop changed.", "The rules for repeats and rests changed.",
        "Ava Price moved to Wednesday.",
    )
