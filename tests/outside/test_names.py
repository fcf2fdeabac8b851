"""Names: folding and slips, against published values.

Source: data/08_names.json: UAX #15 (Unicode normalisation forms) figures 3 to 6, Unicode default caseless matching,
edit distances computed alike by rapidfuzz and jellyfish, and name pairs one letter apart among the 200 most frequent
names of girls in the US Social Security data of 2008 to 2017. UAX examples were typed from memory and equal the
computed values.
"""
from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import jellyfish
import pytest
from rapidfuzz.distance import DamerauLevenshtein

from bot.scheme.model import Award, Scheme, Skill
from bot.talk.reading import Context, Vocabulary, fold, read
from bot.talk.requests import Mark, Understood, WhichOne

CASES = json.loads((Path(__file__).parent / "data" / "08_names.json").read_text(encoding="utf-8"))["cases"]
SCHEME = Scheme(name="X", award=(Award(id="a", name="A", skill=(Skill(id="hop", name="Hop"),)),))
NOW = datetime(2026, 11, 24, 17, tzinfo=UTC)


def kind(which: str) -> list[dict]:
    return [case for case in CASES if case["kind"] == which]


def ids(case: dict) -> str:
    return case["id"]


def said(text: str, *names: str):
    """What a text says in a class of these children, each with the id of her name, while one skill is watched."""
    words = Vocabulary(tuple((name, f"{name} Child") for name in names), SCHEME)
    return read(text, Context(vocabulary=words, now=NOW, skill="hop"))


@pytest.mark.parametrize("case", kind("normalise"), ids=ids)
def test_every_normal_form_folds_alike(case):
    """Whichever of the four normal forms a phone sends (UAX #15), the folded word is the same."""
    forms = {"".join(chr(int(point, 16)) for point in points) for points in case["expected"].values()}
    assert len({fold(form) for form in forms | {case["input"]}}) == 1


CASELESS = [case for case in kind("casefold") if case["expected"]["equal_nfkc_casefold"]]


@pytest.mark.parametrize("case", CASELESS, ids=ids)
def test_caseless_equals_fold_alike(case):
    """What Unicode's default caseless matching holds equal, folding does."""
    one, other = case["input"]
    assert fold(one) == fold(other)


@pytest.mark.parametrize("case", kind("strip_marks"), ids=ids)
def test_accents_and_strokes_are_no_matter(case):
    """Equal with marks stripped; strokes that do not decompose (the source: they need a table) are equal too."""
    one, other = case["input"]
    assert fold(one) == fold(other)


@pytest.mark.parametrize("case", kind("edit_distance"), ids=ids)
def test_slips_are_counted_as_published(case):
    """The distance by which slips are forgiven or asked about is the published one, and jellyfish's."""
    one, other = case["input"]
    assert DamerauLevenshtein.distance(one, other) == case["expected"]["damerau"]
    assert jellyfish.levenshtein_distance(one, other) == case["expected"]["levenshtein"]


PAIRS = [pair.split("/") for case in kind("typo_ambiguity") for pair in case["expected"].get("examples", [])]


@pytest.mark.parametrize(("here", "typed"), PAIRS)
def test_a_name_one_letter_off_is_never_marked_silently(here, typed):
    """Of frequent names one letter apart: with one of them in the class, typing the other is asked about."""
    result = said(f"{typed} seen", here, "Xanthippe")
    assert isinstance(result, WhichOne)
    assert [option.requests for _, option in result.options] == [(Mark((here,), "seen", "hop"),)]


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_two_names_one_letter_apart_in_one_class(one, other):
    """With both in the class each is marked by her own name, without a question."""
    for name in (one, other):
        assert said(f"{name} seen", one, other) == Understood((Mark((name,), "seen", "hop"),))
