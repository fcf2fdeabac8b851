"""Clubs and time: what every store promises beyond one message."""
from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.facts import TickBrought, Voided
from bot.step import Invitation, Joined, Refused, Say, Stepped, Want
from tests.contract.kept import NOW, a_mark, a_reminder, answer, fired, hall, queueing


async def test_a_want_brings_the_voids_that_touch_it(kept):
    """Facts that were asked for come with the voids of their messages, in order of receipt."""
    first = kept.heard()
    await kept.store.step(first, a_mark)

    def undo(heard, desk):
        return replace(answer(heard, desk), facts=(Voided(first.message, undo=True),), lesson="tue/2026-11-24")

    await kept.store.step(kept.heard(), undo)
    found = []

    def asks(heard, desk):
        found.extend(desk.facts(Want(skill="hop"), Want(skill="stand"), Want(by="jo", lesson="tue/2026-11-24")))
        return answer(heard, desk)

    await kept.store.step(kept.heard(), asks)
    assert [[one.fact.kind for one in record] for record in found] == [["mark", "voided"], [], ["mark", "voided"]]


async def test_reminders_fire_once_in_order(kept):
    """Queued reminders fire when their time has come, once, over a restart, each person's in order."""
    await kept.store.step(kept.heard(), queueing(a_reminder("b", 60), a_reminder("a", 30), a_reminder("late", 900)))
    await kept.restart()
    assert await kept.store.next_due() == NOW + timedelta(seconds=30)
    said = await kept.store.wake(NOW + timedelta(seconds=100), fired)
    assert [one.text for one in said] == ["fired a at 17:01:40", "fired b at 17:01:40"]
    await kept.restart()
    assert await kept.store.wake(NOW + timedelta(seconds=200), fired) == ()
    assert await kept.store.next_due() == NOW + timedelta(seconds=900)


async def test_reminders_are_moved_and_withdrawn(kept):
    """What a step no longer calls for goes; what it calls for at another time moves."""
    await kept.store.step(kept.heard(), queueing(a_reminder("a", 30), a_reminder("b", 60)))
    await kept.store.step(kept.heard(), queueing(a_reminder("b", 90)))
    assert await kept.store.next_due() == NOW + timedelta(seconds=90)
    assert await kept.store.wake(NOW + timedelta(seconds=80), fired) == ()


async def test_a_wake_that_fires_nothing_ends(kept):
    """A reminder that a wake leaves in the queue for the same time counts as sent: it does not fire for ever."""
    await kept.store.step(kept.heard(), queueing(a_reminder("a", 30)))
    calls = []

    def nothing(woken, desk):
        calls.append(woken)
        return Stepped(desk.talk)

    await kept.store.wake(NOW + timedelta(seconds=60), nothing)
    assert len(calls) == 1
    assert await kept.store.wake(NOW + timedelta(seconds=70), nothing) == ()


async def test_what_fires_goes_to_the_outbox(kept):
    """Unasked messages come out behind a cursor, with the person's addresses; answers do not."""
    await kept.store.step(kept.heard(), queueing(a_reminder("a", 30), a_reminder("s", 30, "sam")))
    await kept.store.wake(NOW + timedelta(seconds=60), fired)
    out = await kept.store.outbox(0)
    assert sorted((said.person, said.text[:7], addresses) for _, said, addresses in out) == [
        ("jo", "fired a", (("bench", "jo"),)), ("sam", "fired s", (("bench", "sam"),)),
    ]
    cursor = out[0][0]
    assert [said.person for _, said, _ in await kept.store.outbox(cursor)] == [out[1][1].person]


async def test_two_clubs_never_meet(kept):
    """Another club with the same ids of people and children sees nothing of this one, and the other way."""
    await kept.store.load(hall("Elsewhere"), NOW)
    await kept.store.meet("else", "jo", "elsewhere", "jo")
    await kept.store.step(kept.heard(), a_mark)
    seen = []

    def look(heard, desk):
        (record,) = desk.facts(Want(kind="mark"))
        seen.append((desk.club.id, record, dict(desk.books["tue"].standings)))
        return answer(heard, desk)

    (said,) = await kept.store.step(kept.heard(channel="else"), look)
    assert (seen[0], said.club, said.seq) == (("elsewhere", (), {}), "elsewhere", 1)
    assert not any(one.fact.kind == "mark" for one in (await kept.store.snapshot("elsewhere")).record)


async def test_loading_the_same_again_changes_nothing(kept):
    """The same hall once more: no new version, no new tick, and it says so."""
    before = await kept.store.snapshot("bench")
    loaded = await kept.store.load(hall(), NOW)
    assert "othing" in loaded.changes[0]
    assert (await kept.store.snapshot("bench")) == before


async def test_a_changed_hall_is_a_new_version(kept):
    """Another standard is a new version beside the old one; a child with a known name is the same child."""
    scheme = hall().scheme
    from tests.talk.hall import ROSTER, SCHEME

    roster = ROSTER.replace("Ava Price,tue,one,", "Ava Price,tue,one,hop")
    await kept.store.load(hall(scheme=SCHEME.replace("Hop", "Hops"), roster=roster), NOW)
    after = await kept.store.snapshot("bench")
    assert list(after.schemes) == [1, 2]
    assert (after.schemes[1].skills["hop"].name, after.schemes[2].skills["hop"].name) == ("Hop", "Hops")
    assert [one.fact.skill for one in after.record if isinstance(one.fact, TickBrought)] == ["hop"]
    assert after.schemes[1] == scheme
    assert len(after.books["tue"].children) == 6


async def test_a_skill_with_marks_stays(kept):
    """A skill that was marked and is missing from a new file is kept, retired; one without marks goes."""
    from tests.talk.hall import SCHEME

    await kept.store.step(kept.heard(), a_mark)
    head = "  [[award.skill]]\n  id = "
    cut = SCHEME[:SCHEME.index(f'{head}"hop"')] + SCHEME[SCHEME.index(f'{head}"wheel"'):]
    await kept.store.load(hall(scheme=cut.replace("needs = 3", "")), NOW)
    scheme = (await kept.store.snapshot("bench")).schemes[2]
    assert scheme.skills["hop"].retired
    assert "stand" not in scheme.skills


async def test_an_invitation_opens_once(kept):
    """A code makes an address one of the club's people, once."""
    people = {one.id: one for one in await kept.store.people("bench")}
    until = NOW + timedelta(days=14)
    await kept.store.invite(Invitation("bench", people["ines"], None, until, used=False), "AB12-CD34")

    def joins(heard, desk):
        found = desk.invitation("ab12cd34")
        assert found is not None
        joined = None if found.used else Joined("ab12cd34", found.club, found.person)
        return replace(answer(heard, desk), joined=joined)

    (said,) = await kept.store.step(kept.heard(channel="new", sender="+44"), joins)
    assert (said.club, said.person) == ("bench", "ines")
    await kept.restart()
    (again,) = await kept.store.step(kept.heard(channel="new", sender="+45"), joins)
    assert again.club == ""


async def test_forgetting_leaves_no_trace(kept):
    """A forgotten child is in no snapshot, and her name in nothing that is kept."""
    def names_her(heard, desk):
        return replace(a_mark(heard, desk), says=(Say("Ava Price did it, and Ava again"),))

    await kept.store.step(kept.heard(), names_her)
    await kept.store.step(kept.heard(), queueing(a_reminder("a", 30)))
    children = (await kept.store.snapshot("bench")).books["tue"].children
    child = next(key for key, one in children.items() if one.first == "Ava")
    await kept.store.forget("bench", child)
    after = await kept.store.snapshot("bench")
    assert child not in str(after)
    assert "Ava" not in str(after)
    seen = []

    def looks(heard, desk):
        seen.append(desk.said(1))
        return answer(heard, desk)

    await kept.store.step(kept.heard(), looks)
    assert "Ava" not in seen[0].text


async def test_what_is_not_there_is_refused_in_a_sentence(kept):
    """An unknown club, person or child is refused with a sentence, and nothing changes."""
    before = await kept.store.snapshot("bench")
    for work in (kept.store.snapshot("nowhere"), kept.store.meet("x", "y", "bench", "nobody"),
                 kept.store.forget("bench", "nobody")):
        with pytest.raises(Refused, match=r"\w+ .*\."):
            await work
    assert (await kept.store.snapshot("bench")) == before
