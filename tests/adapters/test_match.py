"""Comparing what came with what a script says."""
from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.play.match import Came, choices_fit, compare, in_sequence, text_fits
from adapters.play.parse import parse
from adapters.play.script import Item

Make = Callable[..., Came]


def items(block: str) -> tuple[Item, ...]:
    """The items of an indented block after something that jo said."""
    from pathlib import Path

    return parse(Path("x.talk"), "clock 2026-11-24 16:58\njo: hi\n" + block).moves[1].items


def ok(block: str, *came: Came) -> bool:
    return compare(items(block), came, "jo", lambda name: name).ok


@pytest.mark.parametrize(("pattern", "text", "fits"), [
    ("Hello", "Hello", True),
    ("Hello", "Hello there", False),
    ("Hello", "hello", False),
    ("Everyone here? ...", "Everyone here?", True),
    ("Everyone here? ...", "Everyone here?\n12 children.", True),
    ("...Rest to...", "Two seen. Rest to 17:06.", True),
    ("... Rest to ...", "Rest to 17:06.", True),
    ("Rested: Ava, Ben...", "Rested: Ava, Ben, Chidi.", True),
    ("Rested: ... Ben.", "Rested: Ava and Ben.", True),
    ("Rested: ... Ben.", "Rested: Ava and Bennet.", False),
    ("a...a", "a", False),
    ("...", "", True),
    ("One\nTwo", "One  Two", True),
    ("One Two", "One\nTwo", True),
    ("Rest to 17:06…", "Rest to 17:06…", True),
])
def test_texts(pattern: str, text: str, fits: bool) -> None:
    """`...` stands for anything, also nothing; white space runs together; all else is as written."""
    assert text_fits(pattern, text) is fits


@given(st.lists(st.text("ab ", max_size=4), min_size=1, max_size=5), st.lists(st.text("ab ", max_size=4), max_size=6))
def test_a_text_with_its_gaps_filled_fits(parts: list[str], fill: list[str]) -> None:
    """Whatever stands in the gaps of a pattern, the pattern fits."""
    fills = [*fill, *[""] * len(parts)]
    text = parts[0] + "".join(f" {one} {part}" for part, one in zip(parts[1:], fills, strict=False))
    assert text_fits(" ... ".join(parts), text)


@pytest.mark.parametrize(("patterns", "labels", "fits"), [
    (["A", "B"], ["A", "B"], True),
    (["A", "B"], ["B", "A"], False),
    (["A"], ["A", "B"], False),
    (["A", "..."], ["A"], True),
    (["A", "..."], ["A", "B", "C"], True),
    (["...", "C"], ["A", "B", "C"], True),
    (["A", "...", "C"], ["A", "C"], True),
    (["...", "B", "..."], ["A", "C"], False),
    (["Hips..."], ["Hips over shoulders"], True),
    (["..."], [], True),
])
def test_choices(patterns: list[str], labels: list[str], fits: bool) -> None:
    """Choices are an exact list in order, unless `[...]` says that there may be more in its place."""
    assert choices_fit(patterns, labels) is fits


def test_choices_that_are_not_listed_are_not_looked_at(make_came: Make) -> None:
    """A message without a line of choices may have any."""
    assert ok("  < Hi", make_came("jo", "Hi", "Yes", "No"))
    assert not ok("  < Hi\n  [Yes]", make_came("jo", "Hi", "Yes", "No"))


def test_what_is_not_listed_fails(make_came: Make) -> None:
    """A message that the script does not list fails it, and so does one that does not come."""
    assert not ok("", make_came("jo", "Hi"))
    assert not ok("  < Hi")
    assert ok("")


def test_any_order_between_people_but_not_for_one(make_came: Make) -> None:
    """What two people get may come in any order; what one gets comes in the order of the script."""
    jo1, jo2, sam = make_came("jo", "One"), make_came("jo", "Two"), make_came("sam", "Three")
    block = "  < One\n  < Two\n  sam < Three"
    assert ok(block, jo1, jo2, sam)
    assert ok(block, sam, jo1, jo2)
    assert not ok(block, jo2, jo1, sam)


def test_anything_alone_is_for_anyone(make_came: Make) -> None:
    """`...` alone covers any number of messages to anyone, before or after those that are listed."""
    assert ok("  ...", make_came("jo", "One"), make_came("sam", "Two"))
    assert ok("  ...")
    assert ok("  sam < Two\n  ...", make_came("jo", "One"), make_came("sam", "Two"), make_came("kit", "Three"))
    assert not ok("  < One\n  ...", make_came("jo", "Two"), make_came("jo", "One"))
    assert ok("  ...\n  < One", make_came("jo", "Two"), make_came("jo", "One"))


@given(st.text("ab*", max_size=6), st.text("ab", max_size=6))
def test_sequences_are_matched_as_by_hand(patterns: str, things: str) -> None:
    """A row of patterns with wild ones fits just when a regular expression says so."""
    import re

    expected = re.fullmatch(patterns.replace("*", ".*"), things) is not None
    assert in_sequence(patterns, things, lambda one: one == "*", lambda one, thing: one == thing) is expected


def test_two_names_of_one_person_are_one(make_came: Make) -> None:
    """A message to somebody may be listed under any of her names."""
    same = {"jo2": "jo"}
    assert compare(items("  jo2 < Hi"), (make_came("jo", "Hi"),), "sam", lambda name: same.get(name, name)).ok
