"""What waits on the way of an award. Invented cases; common practice, no source: what is there is not ordered."""
from __future__ import annotations

from datetime import UTC, date, datetime

from bot.facts import CupboardChanged, Fact, NamePrinted, Recorded, Voided
from bot.lesson.book import AwardWay, Child, ClassBook
from bot.marks.standing import Standing
from bot.marks.way import Printed, cupboard, from_cupboard, on_their_way, order_sheet, printed_names
from bot.scheme.model import Scheme

DAY = date(2026, 11, 24)
AT = datetime(2026, 11, 24, 17, tzinfo=UTC)
SCHEME = Scheme.model_validate({"name": "Bench", "award": [
    {"id": "two", "name": "Two", "skill": [{"id": "hop", "name": "Hop"}]},
    {"id": "one", "name": "One", "skill": [{"id": "stand", "name": "Stand"}]},
]})


def ticked(day: int) -> Standing:
    return Standing(ticked_on=date(2026, 11, day), ticked_at=datetime(2026, 11, day, 17, tzinfo=UTC))


def book(**children: tuple[dict[str, int], dict[str, str]]) -> ClassBook:
    """Child → (skill → the day of its tick, award → how far it has come)."""
    return ClassBook(
        "tue", {key: Child(key, key.title(), "tue", "one") for key in children},
        standings={key: {skill: ticked(day) for skill, day in ticks.items()} for key, (ticks, _) in children.items()},
        awards={key: {award: AwardWay(to, DAY) for award, to in ways.items()}       # type: ignore[arg-type]
                for key, (_, ways) in children.items()},
    )


def said(*facts: Fact) -> list[Recorded]:
    return [Recorded(n, f"m{n}", fact) for n, fact in enumerate(facts)]


def ways(of: ClassBook) -> list[tuple[str, str, str, bool]]:
    found = on_their_way(of, SCHEME, lambda _: SCHEME)
    return [(one.child, one.award, one.stage, one.earned) for one in found]


def test_an_award_whose_tick_is_gone_stays_on_its_way_and_is_not_earned():
    """Earned and moved on are two things: what lost its tick is listed, as not earned."""
    assert ways(book(ava=({"hop": 3}, {}), ben=({}, {"two": "sent"}))) == [
        ("ava", "two", "earned", True), ("ben", "two", "sent", False),
    ]


def test_the_order_counts_what_is_on_it_by_award_and_class_less_the_cupboard():
    """Three on the order and one in the cupboard are two to order; more in the cupboard than wanted are none."""
    tue = book(ava=({"hop": 3, "stand": 3}, {"two": "ordered", "one": "ordered"}), ben=({"hop": 4}, {"two": "ordered"}),
               chidi=({"hop": 4}, {"two": "sent"}), dara=({"hop": 4}, {}))
    thu = book(efa=({"hop": 4}, {"two": "ordered"}))
    classes = {key: list(on_their_way(of, SCHEME, lambda _: SCHEME)) for key, of in (("tue", tue), ("thu", thu))}
    lines = order_sheet(classes, {"two": 1, "one": 5}, SCHEME)
    assert [(one.award, dict(one.by_class), one.wanted, one.to_order) for one in lines] == [
        ("two", {"tue": 2, "thu": 1}, 3, 2), ("one", {"tue": 1}, 1, 0),
    ]


def test_the_cupboard_serves_first_who_earned_first():
    """Of two on the order the one with the older tick has the one that is there; another award is of no use."""
    of = book(ava=({"hop": 9}, {"two": "ordered"}), ben=({"hop": 4}, {"two": "ordered"}))
    on_order = list(on_their_way(of, SCHEME, lambda _: SCHEME))
    assert [one.child for one in from_cupboard(on_order, {"two": 1})] == ["ben"]
    assert from_cupboard(on_order, {"one": 4}) == []


def test_a_count_replaces_what_was_known_and_an_undo_gives_back_what_was_taken():
    """The stock is the last count with what went in and out since; of an undone message nothing counts."""
    counted, taken = CupboardChanged("two", 5, True, DAY), CupboardChanged("two", -2, False, DAY)
    assert cupboard(said(taken, counted, taken)) == {"two": 3}
    assert cupboard([*said(counted, taken), Recorded(9, "u", Voided("m1", undo=True))]) == {"two": 5}
    assert cupboard(said(counted, counted)) == {"two": 5}


def test_a_printed_name_holds_until_the_roster_calls_her_otherwise():
    """A spelling is about the name as it was; a new one in the roster has to be looked at anew."""
    spelled = said(NamePrinted("ava", "Åva", "Ava", AT))
    assert printed_names(spelled, [Child("ava", "Ava", "tue", "one")]) == {"ava": Printed("Åva", True)}
    assert printed_names(spelled, [Child("ava", "Eva", "tue", "one")]) == {"ava": Printed("Eva", False)}
