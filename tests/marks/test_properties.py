"""What holds for any marks whatever: of order, of marks that do not count, of undo, of the way to a tick."""
from __future__ import annotations

import os
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from bot.facts import Mark, Recorded, Voided
from bot.marks.history import events
from bot.marks.standing import UNTRIED, Outcome, Standing, advance, expired, fold
from tests.marks.conftest import BOTH_SIDES, LESSON, ONE_SHOW, THREE_PARTS, TWO_SHOWS, Bench, scheme

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "40"))
QUICK = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
PARTS_TWICE = {**TWO_SHOWS, "parts": ("galop", "polka")}
SKILLS = st.sampled_from([ONE_SHOW, TWO_SHOWS, BOTH_SIDES, THREE_PARTS, PARTS_TWICE])
WAYS = st.fixed_dictionaries({
    "repeat_within": st.sampled_from(["lesson", 1, 7]), "after_a_miss": st.sampled_from(["first show", "same show"]),
})
DAY = 86_400
PIECES = ("", "left", "right", "galop", "polka", "waltz", "nothing")


@st.composite
def marks(draw: st.DrawFn) -> dict:
    """One mark, in the words of the bench; no two at the same time."""
    week = draw(st.sampled_from([0, 0, 0, 7, 14]))
    return {
        "seconds": week * DAY + draw(st.floats(0, 600, allow_nan=False)),
        "verdict": draw(st.sampled_from(["seen", "seen", "not yet"])),
        "by": draw(st.sampled_from(["jo", "jo", "sam"])),
        "lesson": LESSON if week == 0 else f"tue/week-{week}",
        "pieces": draw(st.none() | st.lists(st.sampled_from(PIECES), min_size=1, max_size=2, unique=True).map(tuple)),
        "show": draw(st.sampled_from([None, None, None, 1, 2])),
        "early": draw(st.booleans()),
        "look": draw(st.sampled_from([None, None, None, "second look", "next show"])),
        "missed": draw(st.sampled_from([(), ("hips",)])),
    }


@st.composite
def benches(draw: st.DrawFn) -> Bench:
    """A skill under some rules, with marks, closes, undone messages and now and then a retest moved."""
    bench = Bench({1: scheme(draw(SKILLS), **draw(WAYS))})
    said = draw(st.lists(marks(), max_size=7, unique_by=lambda one: round(one["seconds"], 3)))
    made = []
    for one in said:
        made.append(bench.mark(**one))
        if one["verdict"] == "not yet" and draw(st.booleans()):
            bench.reason(made[-1], "toes")
    for week, lesson in ((0, LESSON), (7, "tue/week-7")):
        if draw(st.booleans()):
            bench.close(week * DAY + draw(st.floats(0, 700)), lesson)
    if draw(st.booleans()):
        bench.move(date(2026, 12, 15), draw(st.floats(0, 20 * DAY)))
    for mark in made:
        if draw(st.integers(0, 5)) == 0:
            bench.undo(mark)
    return bench


def settled(bench: Bench, standing: Standing) -> Standing:
    """A standing as it is long afterwards, without the note of how far it was folded."""
    return replace(expired(standing, bench.at(60 * DAY), bench.rules_of), upto=None)


@QUICK
@given(bench=benches(), data=st.data())
def test_the_order_of_receipt_does_not_matter(bench, data):
    """The same facts received in any order amount to the same, mark by mark."""
    before = bench.fold()
    shuffled = data.draw(st.permutations(bench.record))
    bench.record[:] = [Recorded(n, one.message, one.fact) for n, one in enumerate(shuffled)]
    assert bench.fold() == before


@QUICK
@given(bench=benches(), extra=marks())
def test_a_mark_that_does_not_count_changes_nothing(bench, extra):
    """Wherever it falls among the others: a mark that is not counted leaves everything as it is without it."""
    before, outcomes = bench.fold()
    assume(all(abs((one.fact.judged_at - bench.at(extra["seconds"])).total_seconds()) > 0.001
               for one in bench.record if isinstance(one.fact, Mark)))
    again = Bench(bench.schemes, list(bench.record), list(bench.closes), bench.count)
    mark = again.mark(**extra)
    after, now = again.fold()
    known = {one.fact.lesson for one in bench.record if isinstance(one.fact, Mark)}
    assume(extra["lesson"] in known or not any(lesson == extra["lesson"] for lesson, _ in bench.closes))
    if now[mark] is not Outcome.COUNTED:
        assert settled(again, after) == settled(bench, before)
        assert {key: outcome for key, outcome in now.items() if key != mark} == outcomes


@QUICK
@given(bench=benches())
def test_all_taken_back_is_untried(bench):
    """When every message is undone, nothing is left."""
    for one in list(bench.record):
        if not isinstance(one.fact, Voided):
            bench.say(Voided(one.message, undo=True))
    assert bench.fold() == (UNTRIED, {})


@QUICK
@given(bench=benches(), data=st.data())
def test_undo_is_exact(bench, data):
    """A further mark and its undo: as if it had never come."""
    before = bench.fold()
    bench.undo(bench.mark(**data.draw(marks())))
    assert bench.fold() == before


@QUICK
@given(bench=benches(), data=st.data())
def test_step_by_step_is_the_same_as_at_once(bench, data):
    """What is kept and then moved on by one event at a time is what a fold from nothing gives."""
    marked = {one.fact.lesson for one in bench.record if isinstance(one.fact, Mark)}
    all_of_them = events(bench.record, [close for lesson, close in bench.closes if lesson in marked])
    at = data.draw(st.integers(0, len(all_of_them)))
    standing, outcomes = fold(all_of_them[:at], bench.rules_of)
    for event in all_of_them[at:]:
        standing, outcome = advance(standing, event, bench.rules_of)
        if outcome is not None:
            outcomes[event.id] = outcome
    assert (standing, outcomes) == bench.fold()


@QUICK
@given(bench=benches())
def test_a_tick_stays(bench):
    """Once ticked, no mark, close or move after it changes when it was ticked."""
    marked = {one.fact.lesson for one in bench.record if isinstance(one.fact, Mark)}
    standing, ticked = UNTRIED, None
    for event in events(bench.record, [close for lesson, close in bench.closes if lesson in marked]):
        standing, _ = advance(standing, event, bench.rules_of)
        assert ticked in (None, standing.ticked_at)
        ticked = standing.ticked_at


@QUICK
@given(bench=benches(), seconds=st.floats(0, 30 * DAY))
def test_a_view_makes_sense(bench, seconds):
    """At any instant: a show that the skill has, pieces owed unless it is ticked, a rest only while it lasts."""
    skill = bench.rules_of(1).skill
    standing, seen_as = bench.standing, bench.view(seconds)
    assert 1 <= seen_as.show <= len(skill.shows)
    assert (seen_as.label == "ticked") == standing.ticked == (not seen_as.owed_pieces)
    assert set(seen_as.owed_pieces) <= set(skill.pieces)
    assert (seen_as.rested_at is not None) == (seen_as.label in ("resting", "ready"))
    if seen_as.label == "resting":
        assert seen_as.rested_at > bench.at(seconds)
    if seen_as.label == "untried":
        assert (seen_as.show, seen_as.owed_pieces) == (1, skill.pieces)


@QUICK
@given(bench=benches())
def test_a_miss_never_blocks(bench):
    """From wherever a child is: shown well in the lesson of another week, each show rested, it is ticked."""
    shows = len(bench.rules_of(1).skill.shows)
    for n in range(shows):
        bench.mark(28 * DAY + n * 63, lesson="tue/week-28")
    assert bench.label(28 * DAY + 200) == "ticked"
    assert not bench.standing.early or any(
        one.fact.early for one in bench.record if isinstance(one.fact, Mark) and one.fact.verdict == "seen"
    )


@QUICK
@given(bench=benches(), seconds=st.floats(0, 40))
def test_nobody_repeats_before_the_rest_is_over_unasked(bench, seconds):
    """A repeat within the rest never counts by itself, whoever says it; with the coach's word it does."""
    started = bench.at(28 * DAY)
    bench.mark(28 * DAY, lesson="tue/week-28")
    standing = bench.standing
    assume(standing.rested_at is not None and standing.rested_at > started)
    early = bench.mark(28 * DAY + 1 + seconds, lesson="tue/week-28")
    assert bench.outcome(early) is Outcome.EARLY
    bench.undo(early)
    counted = bench.mark(28 * DAY + 1 + seconds, lesson="tue/week-28", early=True)
    assert bench.outcome(counted) is Outcome.COUNTED
    assert bench.standing.last.at == started + timedelta(seconds=1 + seconds)
