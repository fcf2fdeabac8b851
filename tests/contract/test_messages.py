"""One message: handled once, whole or not at all."""
from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import timedelta

import pytest

from bot.facts import Mark, Voided
from bot.lesson.book import Changes
from bot.marks.standing import Standing
from bot.step import Choice, Desk, Heard, MoreNeeded, OtherMessage, Refused, Stepped, Want, WantCode, WantSaid
from bot.talk.state import Place
from bot.talk.taps import Card
from tests.contract.club import LESSON, NOW, heard, mark, marking, never, refusing, saying, stepped

# --- the same message again ---------------------------------------------------------------------------


async def test_the_same_id_gets_the_same_answer(store):
    """A message that comes again is answered as before, choices and all, and nothing is decided anew."""
    first = await store.step(heard("m1"), marking())
    before = await store.snapshot("bench")
    again = await store.step(replace(heard("m1"), sent_at=NOW - timedelta(minutes=1)), never)
    assert again == first
    assert [choice.label for choice in first[0].choices] == ["Card", "Another card"]
    assert await store.snapshot("bench") == before


async def test_the_same_id_gets_the_same_answer_after_a_restart(store):
    """What was answered is remembered by the store, not by the program."""
    first = await store.step(heard("m1"), marking())
    await store.restart()
    assert await store.step(heard("m1"), never) == first


async def test_an_answer_of_several_sentences_comes_back_whole(store):
    """An old answer comes back in its order, however much was said since."""
    first = await store.step(heard("m1"), saying("one", "two", "three"))
    for n in range(12):
        await store.step(heard(f"later-{n}"), saying("more"))
    assert await store.step(heard("m1"), never) == first
    assert [one.text for one in first] == ["one", "two", "three"]


@pytest.mark.parametrize("other", [
    heard("m1", "ben seen"), heard("m1", None, choice="c_1_0"), heard("m1", sender="sam"), heard("m1", ""),
], ids=["text", "choice", "sender", "no text"])
async def test_the_same_id_for_another_message_is_refused(store, other):
    """An id that was used for another text, choice or sender is refused, and nothing of it is recorded."""
    await store.step(heard("m1"), marking())
    before = await store.snapshot("bench")
    with pytest.raises(OtherMessage):
        await store.step(other, marking("ben"))
    assert await store.snapshot("bench") == before
    assert (await store.step(heard("m2"), saying("next")))[0].seq == 2


async def test_a_gateways_id_is_the_same_on_every_channel(store):
    """Behind one gateway another channel makes it another message; another gateway has ids of its own."""
    await store.step(heard("m1", via="gate"), marking())
    with pytest.raises(OtherMessage):
        await store.step(heard("m1", via="gate", channel="chat"), never)
    said = await store.step(heard("m1", via="other"), saying("mine"))
    assert said[0].text == "mine"


async def test_the_same_id_at_the_same_time_is_handled_once(store):
    """Deliveries that overlap are one message."""
    answers = await asyncio.gather(*(_step(store, heard("m1"), marking()) for _ in range(8)))
    assert len(set(answers)) == 1
    assert len(_marks(await store.snapshot("bench"))) == 1


# --- all or nothing -----------------------------------------------------------------------------------

async def test_a_decision_that_raises_leaves_nothing_behind(store):
    """A mistake reaches whoever asked; the message can be sent again as if it had never come."""
    await store.step(heard("m1"), marking())
    before = await store.snapshot("bench")
    with pytest.raises(ArithmeticError):
        await store.step(heard("m2"), refusing)
    assert await store.snapshot("bench") == before
    said = await store.step(heard("m2"), marking("ben"))
    assert said[0].seq == 2


async def test_one_message_of_many_fails_alone(store):
    """Of messages that come together only the one with a mistake in it is lost."""
    asked = [
        _step(store, heard(f"m{n}", sender=("jo", "sam")[n % 2]), refusing if n % 10 == 3 else marking())
        for n in range(60)
    ]
    answers = await asyncio.gather(*asked, return_exceptions=True)
    failed = [n for n, answer in enumerate(answers) if isinstance(answer, BaseException)]
    assert failed == [3, 13, 23, 33, 43, 53]
    assert len(_marks(await store.snapshot("bench"))) == 54
    numbers = [answer[0].seq for n, answer in enumerate(answers) if n % 2 == 0]
    assert numbers == list(range(1, 31))


async def test_a_talk_that_does_not_count_what_it_says_is_refused(store):
    """A message that is said is counted, or its number would be used twice."""
    with pytest.raises(RuntimeError):
        await store.step(heard("m1"), lambda _, desk: replace(stepped(desk, "one"), talk=desk.talk))


async def test_a_message_that_no_database_can_hold_is_refused(store):
    """Half a character in an id or a sender gets a sentence; in a text it is only not understood."""
    for odd in (heard("\ud800"), heard("m1", sender="j\udfff"), heard("m\0")):
        with pytest.raises(Refused):
            await store.step(odd, never)
    assert await store.step(heard("m2", "ava \ud800"), saying("what?"))


# --- what a step may look at --------------------------------------------------------------------------

async def test_what_is_said_is_numbered_for_each_person(store):
    """Everybody's messages count up from one, over a restart too."""
    first = await store.step(heard("m1"), saying("a", "b"))
    await store.restart()
    second = await store.step(heard("m2"), saying("c"))
    others = await store.step(heard("m3", sender="sam"), saying("d"))
    assert [one.seq for one in (*first, *second, *others)] == [1, 2, 3, 1]
    assert {one.in_reply_to for one in first} == {"m1"}


async def test_steps_of_one_person_run_in_order(store):
    """Messages that are under way together are taken in the order in which they were handed over."""
    seen: list[str] = []

    def decide(message: Heard, desk: Desk) -> Stepped:
        seen.append(f"{message.id}:{desk.talk.said}")
        return stepped(desk, message.id)

    await asyncio.gather(*(_step(store, heard(f"m{n}"), decide) for n in range(40)))
    assert seen == [f"m{n}:{n}" for n in range(40)]


async def test_a_step_finds_the_talk_that_the_last_one_left(store):
    """The talk comes back as it was left."""
    left = {}

    def leave(_: Heard, desk: Desk) -> Stepped:
        done = stepped(desk, "here")
        left["talk"] = replace(done.talk, place=Place.WATCHING, lesson=LESSON, stood=("ava", "ben"), numbers=7)
        return replace(done, talk=left["talk"])

    def look(_: Heard, desk: Desk) -> Stepped:
        assert desk.talk == left["talk"]
        return stepped(desk)

    await store.step(heard("m1"), leave)
    await store.step(heard("m2"), look)
    await store.restart()
    await store.step(heard("m3"), look)


async def test_more_is_read_when_a_step_asks_for_it(store):
    """A step that lacks something is asked again with it: facts, an old message, a code nobody gave out."""
    rounds = []

    def decide(_: Heard, desk: Desk) -> Stepped:
        rounds.append(len(desk.more))
        facts, voids = desk.facts(Want(child="ava"), Want(kind="voided"))
        assert [one.fact.child for one in facts if isinstance(one.fact, Mark)] == ["ava"]
        assert [one.fact.kind for one in voids] == ["voided"]
        assert facts[-1].fact == voids[0].fact
        said, nothing = desk.said(1), desk.said(99)
        assert (said.text, nothing, desk.invitation("none")) == ("ava seen hop", None, None)
        return stepped(desk, "read")

    await store.step(heard("m1"), marking())
    await store.step(heard("m2"), marking("ben"))
    await store.step(heard("m3"), saying("undone", facts=(Voided("sms:m1", True),)))
    await store.step(heard("m4"), decide)
    assert rounds == [0, 2, 3, 4, 5]


async def test_a_want_finds_what_matches_all_its_fields(store):
    """Facts are found by child, skill, lesson, class, message, sender and kind, together."""
    await store.step(heard("m1"), marking("ava", "hop"))
    await store.step(heard("m2", sender="sam"), marking("ava", "wheel"))
    found = {}

    def decide(_: Heard, desk: Desk) -> Stepped:
        wants = (
            Want(child="ava", skill="hop"), Want(child="ava", by="sam"), Want(lesson=LESSON), Want(class_id="fri"),
            Want(class_id="tue"), Want(message="sms:m2"), Want(kind="mark", skill="stand"),
        )
        for want, facts in zip(wants, desk.facts(*wants), strict=True):
            found[want] = [one.message for one in facts]
        return stepped(desk)

    await store.step(heard("m3"), decide)
    assert list(found.values()) == [["sms:m1"], ["sms:m2"], ["sms:m1", "sms:m2"], [], ["sms:m1", "sms:m2"],
                                    ["sms:m2"], []]


async def test_a_step_that_never_stops_asking_is_a_mistake(store):
    """Asking again for what is there, or for ever, ends in an error and records nothing."""
    def again(_: Heard, desk: Desk) -> Stepped:
        raise MoreNeeded(WantSaid(1))

    def for_ever(_: Heard, desk: Desk) -> Stepped:
        raise MoreNeeded(WantCode(str(len(desk.more))))

    for endless in (again, for_ever):
        with pytest.raises(RuntimeError):
            await store.step(heard("m1"), endless)
    assert (await store.step(heard("m1"), saying("ok")))[0].seq == 1


async def test_a_choice_brings_the_message_that_carried_it(store):
    """A tap finds its own message, however old; another person's tap on it finds nothing."""
    first = (await store.step(heard("m1"), marking()))[0]
    for n in range(10):
        await store.step(heard(f"later-{n}"), saying("more"))
    await store.restart()
    tapped = []

    def decide(_: Heard, desk: Desk) -> Stepped:
        tapped.append(desk.tapped)
        return stepped(desk)

    choice = first.choice_ids()[1]
    await store.step(heard("m2", None, choice=choice), decide)
    await store.step(heard("m3", None, choice=choice, sender="sam"), decide)
    await store.step(heard("m4", None, choice=f"{choice}0"), decide)
    assert tapped == [first, None, None]
    assert first.pick(choice) == Choice("Another card", Card("stand"), 2)


# --- what is kept ---------------------------------------------------------------------------------------

async def test_a_snapshot_is_what_was_written(store):
    """Facts, standings, groups: all of it comes back equal, over a restart too."""
    standing = Standing(show=2, seen=("left",), tries=1, began=NOW, rules=1, rested_at=NOW, lesson=LESSON)
    changes = Changes(standings={("ava", "stand"): standing}, groups={("tue", "red"): ("ava", "ben")})
    facts = (mark("sms:m1", "ava", "stand"), mark("sms:m1", "ben"))
    await store.step(heard("m1"), saying("ok", facts=facts, changes=changes))
    snapshot = await store.snapshot("bench")
    assert tuple(one.fact for one in snapshot.record if one.message == "sms:m1") == facts
    assert snapshot.books["tue"].standing("ava", "stand") == standing
    assert snapshot.books["tue"].groups == {"red": ("ava", "ben")}
    await store.restart()
    assert await store.snapshot("bench") == snapshot


async def test_facts_are_numbered_in_order_of_receipt(store):
    """A club's facts count up without a gap, over a restart too."""
    await store.step(heard("m1"), marking())
    await store.restart()
    await asyncio.gather(*(_step(store, heard(f"n{n}"), marking()) for n in range(10)))
    record = (await store.snapshot("bench")).record
    assert [one.seq for one in record] == list(range(1, len(record) + 1))


async def test_a_group_and_its_end(store):
    """A group is kept until it is taken away."""
    for n, members in enumerate((("ava",), ("ava", "ben"), None)):
        await store.step(heard(f"m{n}"), saying("ok", changes=Changes(groups={("tue", "red"): members})))
        await store.restart()
        expected = {} if members is None else {"red": members}
        assert (await store.snapshot("bench")).books["tue"].groups == expected


async def test_a_stranger_is_answered_and_records_nothing(store):
    """Who is not known has a talk of their own, and no club to record anything in."""
    said = await store.step(heard("m1", sender="nobody"), saying("who are you?"))
    assert (said[0].club, said[0].seq) == ("", 1)
    assert await store.step(heard("m1", sender="nobody"), never) == said
    with pytest.raises(RuntimeError):
        await store.step(heard("m2", sender="nobody"), marking())


async def test_a_closed_store_says_so(store):
    """After closing, every call is refused with a sentence, and closing again does no harm."""
    await store.close()
    await store.close()
    asks = (lambda: _step(store, heard("m1"), marking()), lambda: store.snapshot("bench"), lambda: store.next_due())
    for ask in asks:
        with pytest.raises(Refused):
            await ask()


async def _step(store, message, decide):
    return await store.step(message, decide)


def _marks(snapshot):
    return [one for one in snapshot.record if isinstance(one.fact, Mark)]
