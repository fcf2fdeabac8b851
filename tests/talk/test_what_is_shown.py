"""What a step says it showed: a child's record beyond the lines that are judged, and nothing of an ordinary lesson."""
from __future__ import annotations

from dataclasses import replace

import pytest

from adapters.halls import DEMO_HALL, read_folder
from adapters.service import Service
from bot.people.model import Cover
from bot.step import Shown
from storage.memory import MemoryStore
from tests.adapters.http.api import START


class Hall:
    """The demo hall in memory; everybody writes under their own name."""

    def __init__(self) -> None:
        self.store = MemoryStore()
        self.service = Service(self.store, _Clock())

    async def open(self, change=lambda hall: hall) -> Hall:
        """Load it."""
        hall = change(read_folder(DEMO_HALL))
        self.club = hall.club.id
        await self.store.load(hall, START)
        for person in ("jo", "sam", "ines", "kit"):
            await self.store.meet("desk", person, self.club, person)
        return self

    async def says(self, person: str, *texts: str) -> list[str]:
        """What is answered."""
        return [one.text for text in texts for one in await self.service.hear("desk", person, text=text)]

    async def shown(self) -> list[tuple[str, Shown]]:
        """Who was shown what."""
        return [(one.person, one.shown) for one in (await self.store.trail(self.club)).sights]


class _Clock:
    """Stands."""

    def now(self):
        """The start of the lesson."""
        return START


@pytest.fixture
async def hall() -> Hall:
    """The demo hall."""
    return await Hall().open()


async def test_an_ordinary_lesson_leaves_no_row(hall):
    """Who opened it and who judged is in the record already; the names in its lines are no rows."""
    await hall.says("jo", "start", "everyone", "go", "all seen", "not gus", "resting", "next", "plan", "undo", "close")
    assert await hall.shown() == []


async def test_asking_for_a_record_leaves_one(hall):
    """How a child stands, what is owed in a class, what is agreed and which awards wait: each names what was shown."""
    await hall.says("jo", "start", "everyone", "owed ava", "owed cartwheel", "owed", "agree ava cartwheel: seated")
    await hall.says("jo", "agreed", "awards", "owed nobody at all")
    ava = next(one.id for book in (await hall.store.snapshot(hall.club)).books.values()
               for one in book.children.values() if one.name == "Ava Price")
    tuesday = (await hall.store.snapshot(hall.club)).books
    found = {one for _, one in await hall.shown()}
    lanterns = next(key for key, book in tuesday.items() if ava in book.children)
    assert {Shown("record", ava), Shown("class", class_id=lanterns), Shown("agreed", ava)} <= found
    assert {one.what for one in found} == {"record", "class", "agreed", "awards"}


async def test_whoever_stands_in_leaves_a_row(hall):
    """That somebody was in a class that is theirs for a day alone is kept, once; of their own class it is not."""
    own = read_folder(DEMO_HALL).club
    (lanterns,) = [one for one in own.classes if one.id == "tuesday"]
    assert "ines" not in lanterns.people
    cover = Cover(first=START.date(), last=START.date(), class_id=lanterns.id, person="ines", role="coach")
    made = Hall()
    await made.open(lambda one: _with(one, cover))
    await made.says("ines", f"start {lanterns.name.split()[0].lower()}", "everyone", "go", "all seen")
    assert await made.shown() == [("ines", Shown("cover", class_id=lanterns.id))]


def _with(hall, cover):
    return replace(hall, club=hall.club.model_copy(update={"covers": (*hall.club.covers, cover)}))
