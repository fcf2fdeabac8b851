"""Who is who: addresses, codes, and clubs that never see each other."""
from __future__ import annotations

from datetime import timedelta

import pytest

from bot.people.model import Person
from bot.step import Desk, Heard, Invitation, Joined, Refused, Stepped, Want
from tests.contract.club import CLUB, NOW, hall, heard, marking, saying, stepped


def joining(code: str, person: Person | None = None):
    """A decision that lets in whoever has the code, whatever became of it meanwhile."""
    def decide(_: Heard, desk: Desk) -> Stepped:
        invitation = desk.invitation(code)
        assert invitation is not None
        who = person or invitation.person
        assert who is not None
        return stepped(desk, f"welcome, {who.name}", joined=Joined(code, invitation.club, who))

    return decide


def whoever(seen: list[str | None]):
    """A decision that notes who speaks."""
    def decide(_: Heard, desk: Desk) -> Stepped:
        seen.append(None if desk.me is None or desk.club is None else f"{desk.club.id}/{desk.me.id}/{desk.me.name}")
        return stepped(desk, "you")

    return decide


async def invite(store, code: str, person: str | None, child: str | None = None) -> None:
    """Give out a code."""
    people = {one.id: one for one in await store.people("bench")}
    whom = None if person is None else people[person]
    await store.invite(Invitation("bench", whom, child, NOW + timedelta(days=14), False), code)


async def test_an_address_is_whom_it_was_met_as(store):
    """An address is one person, another after it was met anew, and stays that over a restart."""
    seen: list[str | None] = []
    await store.step(heard("m1", sender="new"), whoever(seen))
    await store.meet("sms", "new", "bench", "sam")
    await store.step(heard("m2", sender="new"), whoever(seen))
    await store.meet("sms", "new", "bench", "ines")
    await store.restart()
    await store.step(heard("m3", sender="new"), whoever(seen))
    await store.step(heard("m4", sender="new", channel="chat"), whoever(seen))
    assert seen == [None, "bench/sam/Sam Hill", "bench/ines/Ines Duarte", None]
    with pytest.raises(Refused):
        await store.meet("sms", "new", "bench", "nobody")


async def test_a_code_opens_once(store):
    """A code makes its bearer that person, however it is typed; after that it is used, over a restart too."""
    seen: list[str | None] = []
    await invite(store, "ABCD-1234", "sam")
    await store.step(heard("m1", sender="new"), joining("abcd 1234"))
    await store.restart()
    await store.step(heard("m2", sender="new"), whoever(seen))
    assert seen == ["bench/sam/Sam Hill"]
    with pytest.raises(RuntimeError):
        await store.step(heard("m3", sender="other"), joining("ABCD1234"))
    await store.step(heard("m4", sender="other"), whoever(seen))
    assert seen[-1] is None
    with pytest.raises(Refused):
        await invite(store, "abcd1234", "jo")


async def test_a_code_lets_in_its_person_as_they_are_now(store):
    """Who was given another name or role since the code was made comes in with that one."""
    await invite(store, "code", "sam")
    await store.load(hall(club=CLUB.replace("Sam Hill", "Samira Hill")), NOW)
    await store.restart()
    said = await store.step(heard("m1", sender="new"), joining("code"))
    assert said[0].text == "welcome, Samira Hill"
    names = {one.id: one.name for one in await store.people("bench")}
    assert names["sam"] == "Samira Hill"


async def test_numbers_run_on_for_whoever_joins(store):
    """A stranger who turns out to be known goes on with the numbers of that person, not of the stranger."""
    await invite(store, "code", "sam")
    await store.step(heard("m0", sender="sam"), saying("one", "two"))
    await store.step(heard("m1", sender="new"), saying("who are you?"))
    joined = await store.step(heard("m2", sender="new"), joining("code"))
    after = await store.step(heard("m3", sender="sam"), saying("more"))
    assert [(one.person, one.seq) for one in (*joined, *after)] == [("sam", 3), ("sam", 4)]


async def test_a_parent_comes_in_new(store):
    """A code for a child makes a parent whom nobody knew before; from then on her class lies on their desk."""
    await invite(store, "code", None, "ava")
    parent = Person(id="p-1", name="", role="parent", children=("ava",))
    await store.step(heard("m1", sender="new"), joining("code", parent))
    await store.restart()
    assert parent in await store.people("bench")
    books = []
    await store.step(heard("m2", sender="new"), lambda _, desk: books.append(desk.books) or stepped(desk))
    assert [(sorted(found), "ava" in found["tue"].children) for found in books] == [(["tue"], True)]


async def test_clubs_with_the_same_ids_never_meet(store):
    """Two clubs whose people, classes and children have the same ids share nothing."""
    await store.load(hall("Other"), NOW)
    await store.meet("sms", "other/jo", "other", "jo")
    before = await store.snapshot("other")
    first = (await store.step(heard("m1"), marking()))[0]
    assert await store.snapshot("other") == before
    tapped = []

    def decide(_: Heard, desk: Desk) -> Stepped:
        tapped.append((desk.tapped, desk.facts(Want(child="ava"))[0], desk.talk.said))
        return stepped(desk, "mine")

    said = await store.step(heard("m2", None, sender="other/jo", choice=first.choice_ids()[0]), decide)
    assert tapped == [(None, (), 0)]
    assert (said[0].club, said[0].seq) == ("other", 1)
    await store.forget("other", "ava")
    await store.restart()
    assert "ava" in (await store.snapshot("bench")).books["tue"].children
    assert "ava" not in (await store.snapshot("other")).books["tue"].children
    assert [one.message for one in (await store.snapshot("bench")).record if one.fact.kind == "mark"] == ["sms:m1"]


async def test_the_same_hall_once_more_changes_nothing(store):
    """Loading twice says so, and makes no version, no fact and no child."""
    before = await store.snapshot("bench")
    loaded = await store.load(hall(), NOW)
    assert loaded.changes == ("Nothing has changed.",)
    await store.restart()
    assert await store.snapshot("bench") == before
    assert [one.id for one in await store.clubs()] == ["bench"]
