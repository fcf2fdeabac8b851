"""`sprung audit`: who saw and changed what, in plain sentences, newest last."""
from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, get_args

import pytest
from click.testing import Result

from adapters.halls import DEMO_HALL
from adapters.service import Service
from bot import facts as f
from bot.out.trail import Teller
from bot.port import FORGOTTEN, Change, Sight, Snapshot, Trail
from bot.step import Seen, Shown
from storage import open_store
from tests.contract.club import hall as small_hall

Run = Callable[..., Result]
START = datetime(2026, 11, 24, 16, 58, tzinfo=UTC)


class Clock:
    """A minute later each time."""

    def __init__(self) -> None:
        self.at = START

    def now(self) -> datetime:
        """That minute."""
        self.at += timedelta(minutes=1)
        return self.at


@pytest.fixture
def lesson(run: Run, tmp_path: Path) -> Run:
    """A lesson was given in the demo hall; its commands go on."""
    assert run("--db", "a.sqlite", "hall", DEMO_HALL).exit_code == 0

    async def give() -> None:
        store = open_store(str(tmp_path / "a.sqlite"))
        (club,) = await store.clubs()
        for person in ("jo", "sam"):
            await store.meet("desk", person, club.id, person)
        service = Service(store, Clock())
        for person, text in (("jo", "start"), ("jo", "everyone"), ("jo", "ava, gus seen cartwheel"),
                             ("sam", "owed ava"), ("jo", "ben not yet cartwheel"), ("jo", "undo"), ("jo", "owed")):
            await service.hear("desk", person, text=text)
        await store.close()

    asyncio.run(give())
    return lambda *words: run("--db", "a.sqlite", *words)


def told(result: Result) -> list[str]:
    """The sentences, without their times, which the roster's and the command's own have of this machine."""
    assert result.exit_code == 0, result.output
    rows = result.stdout.splitlines()
    assert all(re.match(r"\d{4}-\d\d-\d\d \d\d:\d\d  [A-Z].*\.$", row) for row in rows), rows
    assert [row[:16] for row in rows] == sorted(row[:16] for row in rows)
    return [row[18:] for row in rows]


def test_a_lesson_is_told(lesson: Run) -> None:
    """Who opened, judged, took back and looked is told by name, in the order of time; the taking back says what."""
    assert told(lesson("audit"))[:8] == [
        "Jo Marsh opened Tuesday Lanterns of 2026-11-24.",
        "Jo Marsh said who is away: nobody.",
        "Jo Marsh marked Ava Price: cartwheel, seen.",
        "Jo Marsh marked Gus Petrov: cartwheel, seen.",
        "Sam Oduya saw how Ava Price stands.",
        "Jo Marsh marked Ben Okafor: cartwheel, not yet.",
        "Jo Marsh took back: marked Ben Okafor: cartwheel, not yet.",
        "Jo Marsh saw what is owed in Tuesday Lanterns.",
    ]


def test_of_one_child(lesson: Run) -> None:
    """Of one child all is told that is about her, about her class or about everybody, and nothing about another."""
    lesson("export", "--json", "--child", "Ben Okafor")
    lesson("export", "--json")
    found = told(lesson("audit", "--child", "Ben Okafor"))
    assert [one for one in found if "Jo" in one] == [
        "Jo Marsh opened Tuesday Lanterns of 2026-11-24.", "Jo Marsh said who is away: nobody.",
        "Jo Marsh marked Ben Okafor: cartwheel, not yet.",
        "Jo Marsh took back: marked Ben Okafor: cartwheel, not yet.",
        "Jo Marsh saw what is owed in Tuesday Lanterns.",
    ]
    assert [one.partition(") ")[2] for one in found if "Somebody at the computer" in one] == [
        "printed all that is kept of Ben Okafor.", "printed all that is kept of the club.",
        "looked who saw and changed what of Ben Okafor.",
    ]
    assert not any(name in " ".join(found) for name in ("Ava", "Gus"))


@pytest.mark.parametrize(("words", "sentence"), [
    (("export", "--csv", "children", "--child", "Ben Okafor"), "printed all that is kept of Ben Okafor."),
    (("export", "--child", "Ben Okafor"), "printed all that is kept of Ben Okafor."),
    (("export", "--xlsx", "all.xlsx"), "printed all that is kept of the club."),
    (("export", "--all", "all.json"), "printed all that is kept of the club."),
    (("awards",), "saw which awards wait in Tuesday Lanterns."),
    (("paper", "tuesday"), "saw what is owed in Tuesday Lanterns."),
])
def test_whatever_is_written_for_somebody_is_kept_as_seen(lesson: Run, words: tuple[str, ...], sentence: str) -> None:
    """A table, a family's account, a workbook, a whole club, a list of awards, a class sheet: it says who saw it."""
    assert lesson(*words).exit_code == 0
    assert [one.partition(") ")[2] for one in told(lesson("audit"))].count(sentence) == 1


@pytest.mark.parametrize(("words", "sentences"), [
    (("tuesday",), {"saw which awards wait in Tuesday Lanterns."}),
    (("--child", "Ben Okafor"), {"asked for the certificates of Ben Okafor."}),
    ((), {f"saw which awards wait in {one}." for one in ("Tuesday Lanterns", "Thursday Mixed", "Saturday Candles")}),
])
def test_certificates_are_seen_of_those_they_were_asked_of(
    lesson: Run, words: tuple[str, ...], sentences: set[str],
) -> None:
    """Of a class, of a child, or of all: nobody else's awards are said to have been seen."""
    assert "There is no certificate to print" in lesson("certificates", *words).output
    said = {one.partition(") ")[2] for one in told(lesson("audit"))}
    assert {one for one in said if "awards" in one or "certificates" in one} == sentences


def test_of_one_person_and_from_a_day_on(lesson: Run) -> None:
    """Of one person, by id or name, what they saw and did; from a day on, what was that day or later."""
    assert told(lesson("audit", "--person", "sam")) == ["Sam Oduya saw how Ava Price stands."]
    assert told(lesson("audit", "--person", "Sam Oduya")) == ["Sam Oduya saw how Ava Price stands."]
    assert len(told(lesson("audit", "--person", "jo", "--since", "2026-11-24"))) == 7
    result = lesson("audit", "--person", "jo", "--since", "2026-11-25")
    assert (result.exit_code, result.stdout) == (0, "Nothing is known of that.\n")
    for words in (("--since", "soon"), ("--person", "nobody"), ("--child", "Nobody At All")):
        assert lesson("audit", *words).exit_code == 1


def test_who_was_forgotten_is_not_named(lesson: Run) -> None:
    """After a child is forgotten nothing of hers is told, but that somebody saw something of somebody."""
    assert lesson("forget", "Ava Price", "--yes").exit_code == 0
    found = told(lesson("audit"))
    assert "Sam Oduya saw how a child who was forgotten stands." in found
    assert "Ava" not in " ".join(found)


# --- every kind ---------------------------------------------------------------------------------------

def snapshot() -> Snapshot:
    """A small club."""
    async def run() -> Any:
        store = open_store("memory:")
        await store.load(small_hall(), START)
        return await store.snapshot("bench")

    return asyncio.run(run())


EVERY = (
    f.Mark("m#0", "ava", "hop", "tue/2026-11-24", "not yet", "jo", START, START, 1, missed=("toes",)),
    f.ReasonGiven("m#0", "ava", "hop", ("toes",)), f.Voided("m", True), f.TickBrought("ava", "hop", START.date()),
    f.RetestMoved("ava", "hop", date(2026, 12, 8), START), f.LessonOpened("tue/2026-11-24", "jo", START),
    f.LessonClosed("tue/2026-11-24", "", START), f.RegisterTaken("tue/2026-11-24", ("ava",), START),
    f.ChildNoted("tue/2026-11-24", "ava", "spared", START, load="wrists"),
    f.LessonPaused("tue/2026-11-24", True, START),
    f.GroupNamed("tue", "red", ("ava", "ben")), f.ChildAdded("ava", "Ava Price", "tue", "one"),
    f.AwardMoved("ava", "one", "ordered", START.date()),
    f.HelperShowed("tue/2026-11-24", "kit", ("ava",), "hop", START),
    f.ConsentSaid("ava", "pat", True, START), f.NewsReleased("tue/2026-11-24", "jo", START, held=("ava",)),
    f.NewsTold("ava", "pat", START.date(), ("hop",)), f.WayAgreed("ava", "hop", "seated", START),
    f.LoadSpared("ava", "wrists", date(2026, 12, 8), START), f.PaceReset("tue", START),
    f.CupboardChanged("one", 5, True, START.date()), f.NamePrinted("ava", "Ava Príce", "Ava Price", START),
    f.Ruling("hop", "toes", "a soft foot is fine", "jo", START),
    f.LookDeclined("tue/2026-11-24", "sam", "hop", START, START),
    f.Counted("hop", 3, 1), f.LookAsked("tue/2026-11-24", "jo", "sam", ("ava",), "hop", 1, START),
)


def test_every_kind_of_fact_and_of_sight_has_a_sentence() -> None:
    """None is told as something unknown, none shows an id for a name, and none says why a child is spared."""
    assert {type(one) for one in EVERY} == set(get_args(f.Fact))
    changes = tuple(Change(f.Recorded(n, "m", one), "jo", START) for n, one in enumerate(EVERY, 1))
    shown = [Shown(what, child, class_id) for what in get_args(Seen) for child, class_id in _about(what)]
    sights = tuple(Sight("sam", START.date(), START, one) for one in shown)
    lines = Teller(snapshot(), Trail(sights, changes)).lines()
    assert len(lines) == len(EVERY) + len(sights)
    assert not [one for one in lines if "changed something" in one or re.search(r"\b(ava|ben|tue)\b", one)]
    assert all("wrists" not in one for one in lines)
    assert json.dumps(lines).count("Ava Price") >= 12


def _about(what: str) -> list[tuple[str, str]]:
    if what in ("record", "agreed", "news"):
        return [("ava", ""), (FORGOTTEN, "")]
    if what in ("export", "trail"):
        return [("ava", ""), ("", "")]
    return [("", "tue")]
