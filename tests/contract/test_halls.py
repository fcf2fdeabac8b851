"""A club's files, loaded and loaded again; what a want brings; and a child who is forgotten."""
from __future__ import annotations

from dataclasses import replace

import pytest

from bot.facts import TickBrought, Voided
from bot.step import Refused, Say, Want
from tests.contract.kept import NOW, a_mark, a_reminder, answer, hall, queueing


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
