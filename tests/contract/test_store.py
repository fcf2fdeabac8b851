"""What every store promises, whatever it keeps things in."""
from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import timedelta

import pytest

from bot.facts import FACT, TickBrought, Voided
from bot.step import Invitation, Joined, MoreNeeded, OtherMessage, Refused, Say, Stepped, Want, choice_id
from tests.contract.kept import NOW, a_mark, a_reminder, answer, fired, hall, kept, queueing  # noqa: F401 - a fixture


async def test_a_message_is_answered_once(kept):
    """The same id again gets the same answer, after a restart too, and nothing is recorded twice."""
    heard = kept.heard()
    first = await kept.store.step(heard, a_mark)
    await kept.restart()
    again = await kept.store.step(replace(heard, received_at=NOW + timedelta(hours=1)), a_mark)
    assert [(one.id, one.text, one.choices) for one in again] == [(one.id, one.text, one.choices) for one in first]
    record = (await kept.store.snapshot("bench")).record
    assert sum(one.message == heard.message for one in record) == 1


@pytest.mark.parametrize("other", [{"text": "other"}, {"text": None, "choice": "c_1_00"}, {"sender": "sam"}])
async def test_an_id_used_for_another_message_is_refused(kept, other):
    """The same id with another text, choice or sender is refused, and records nothing."""
    heard = kept.heard()
    await kept.store.step(heard, a_mark)
    before = await kept.store.snapshot("bench")
    with pytest.raises(OtherMessage):
        await kept.store.step(replace(heard, **other), a_mark)
    assert (await kept.store.snapshot("bench")).record == before.record


async def test_the_same_id_on_another_channel_is_another_message(kept):
    """Ids are a channel's own."""
    await kept.store.meet("other", "jo", "bench", "jo")
    heard = kept.heard()
    await kept.store.step(heard, a_mark)
    await kept.store.step(replace(heard, channel="other"), a_mark)
    record = (await kept.store.snapshot("bench")).record
    assert {one.message for one in record if one.message.endswith(heard.id)} == {f"bench:{heard.id}", f"other:{heard.id}"}


async def test_a_step_that_raises_leaves_nothing(kept):
    """Where a step fails nothing of it is kept, and the id is free for another try."""
    def broken(heard, desk):
        a_mark(heard, desk)
        raise RuntimeError("a bug")

    heard = kept.heard()
    before = await kept.store.snapshot("bench")
    with pytest.raises(RuntimeError):
        await kept.store.step(heard, broken)
    assert (await kept.store.snapshot("bench")) == before
    assert (await kept.store.step(heard, a_mark))[0].text == "you said hello"


async def test_a_failing_message_fails_alone(kept):
    """Many messages at once, some of them poisoned: the others are answered and kept, each once."""
    def decide(heard, desk):
        if "poison" in heard.text:
            raise ValueError("poison")
        return a_mark(heard, desk)

    messages = [kept.heard("poison" if n % 7 == 3 else f"mark {n}", "jo" if n % 2 else "sam") for n in range(60)]
    results = await asyncio.gather(*(kept.store.step(one, decide) for one in messages), return_exceptions=True)
    failed = [isinstance(result, ValueError) for result in results]
    assert failed == [n % 7 == 3 for n in range(60)]
    record = (await kept.store.snapshot("bench")).record
    assert sorted(one.message for one in record if one.fact.kind == "mark") == sorted(
        message.message for message, bad in zip(messages, failed, strict=True) if not bad
    )


async def test_what_is_said_is_numbered_for_each_person(kept):
    """Numbers count up for each person from 1, without a gap, over a restart."""
    for _ in range(3):
        await kept.store.step(kept.heard(person="jo"), answer)
    await kept.store.step(kept.heard(person="sam"), answer)
    await kept.restart()
    (said,) = await kept.store.step(kept.heard(person="jo"), answer)
    assert (said.seq, said.choice_ids()) == (4, (choice_id("bench", "jo", 4, 0),))


async def test_a_tap_finds_its_message(kept):
    """A choice comes back as it was said, with its request; another person's is not theirs."""
    (said,) = await kept.store.step(kept.heard(), answer)
    await kept.restart()
    seen = []

    def look(heard, desk):
        seen.append(desk.tapped)
        return answer(heard, desk)

    await kept.store.step(kept.heard(text=None, choice=said.choice_ids()[0]), look)
    await kept.store.step(kept.heard(text=None, choice=said.choice_ids()[0], person="sam"), look)
    assert seen[0] == said
    assert seen[1] is None


async def test_more_is_read_when_a_step_asks(kept):
    """A step that needs more is called again with it, in the same transaction."""
    await kept.store.step(kept.heard(), a_mark)
    calls = []

    def asks(heard, desk):
        calls.append(1)
        (record,) = desk.facts(Want(kind="mark"))
        assert len(record) == 1
        return answer(heard, desk)

    await kept.store.step(kept.heard(), asks)
    assert len(calls) == 2


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


async def test_never_ending_questions_are_stopped(kept):
    """A step that always asks for something new is given up, not followed for ever."""
    count = iter(range(10**6))

    def endless(heard, desk):
        raise MoreNeeded(Want(child=f"c{next(count)}"))

    with pytest.raises(RuntimeError):
        await kept.store.step(kept.heard(), endless)


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


async def test_a_snapshot_is_what_was_written(kept):
    """Facts come back equal, in order; standings, lessons and people as they were put."""
    await kept.store.step(kept.heard(), a_mark)
    await kept.store.step(kept.heard(), a_mark)
    before = await kept.store.snapshot("bench")
    await kept.restart()
    after = await kept.store.snapshot("bench")
    assert after == before
    assert [FACT.validate_json(FACT.dump_json(one.fact)) for one in after.record] == [one.fact for one in after.record]
    assert [one.seq for one in after.record] == sorted(one.seq for one in after.record)


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

    await kept.store.load(hall(scheme=SCHEME.replace("Hop", "Hops"), roster=ROSTER.replace("Ava Price,tue,one,", "Ava Price,tue,one,hop")), NOW)
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
    cut = SCHEME[:SCHEME.index("  [[award.skill]]\n  id = \"hop\"")] + SCHEME[SCHEME.index("  [[award.skill]]\n  id = \"wheel\""):]
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


async def test_a_stranger_is_answered_and_records_nothing(kept):
    """Whoever is not known has a talk of their own, and can put nothing on record."""
    (said,) = await kept.store.step(kept.heard(person="nobody"), answer)
    (again,) = await kept.store.step(kept.heard(person="nobody"), answer)
    assert (said.club, again.seq) == ("", 2)
    with pytest.raises(Exception, match=r"record|books|tue"):
        await kept.store.step(kept.heard(person="nobody"), a_mark)


async def test_forgetting_leaves_no_trace(kept):
    """A forgotten child is in no snapshot, and her name in nothing that is kept."""
    def names_her(heard, desk):
        return replace(a_mark(heard, desk), says=(Say("Ava Price did it, and Ava again"),))

    await kept.store.step(kept.heard(), names_her)
    await kept.store.step(kept.heard(), queueing(a_reminder("a", 30)))
    child = next(key for key, one in (await kept.store.snapshot("bench")).books["tue"].children.items() if one.first == "Ava")
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
