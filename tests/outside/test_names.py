"""Names: folding and slips, against published values, and with jellyfish as a second library.

Source: data/08_names.json: UAX #15 (Unicode normalisation forms) figures 3 to 6, Unicode default caseless matching,
edit distances computed alike by rapidfuzz and jellyfish, and name pairs one letter apart among the 200 most frequent
names of girls in the US Social Security data of 2008 to 2017; how often first names clash in one class, from the same
data and its later years (a real class, of one town and with siblings, clashes more often). UAX examples were typed
from memory and equal the computed values.
"""
from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import jellyfish
import pytest
from rapidfuzz.distance import OSA, DamerauLevenshtein

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
    assert jellyfish.damerau_levenshtein_distance(one, other) == case["expected"]["damerau"]
    assert jellyfish.levenshtein_distance(one, other) == case["expected"]["levenshtein"]
    assert OSA.distance(one, other) == case["expected"]["osa"]


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


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_the_pairs_are_one_slip_apart(one, other):
    """The source's pairs, counted again with both libraries: one letter, or two letters swapped."""
    one, other = fold(one), fold(other)
    assert OSA.distance(one, other) == jellyfish.damerau_levenshtein_distance(one, other) == 1


RATES = {case["id"]: case["expected"] for case in CASES if case["id"].startswith("class_")}


def test_names_clash_too_often_to_guess():
    """Why a name with a slip is asked: one class of twelve in seven, of twenty in three, has two names a slip apart."""
    rate = "p_two_different_names_one_typo_apart"
    assert RATES["class_near_pair_12"][rate] > 1 / 7
    assert RATES["class_near_pair_20"][rate] > 1 / 3
    for slip in ("layl", "laylaa", "lalya", "lay1a"):
        assert isinstance(said(f"{slip} seen", "Layla", "Noor"), WhichOne)


@pytest.mark.parametrize("size", [12, 16, 20])
def test_the_beginning_of_a_first_name_is_no_name(size):
    """Three letters fit two children of one class in 27 of 100 classes of twelve: a beginning marks nobody."""
    assert RATES[f"class_girls_2014_2020_{size}"]["class_has_ambiguous_3_letter_prefix_exact"] > 0.25
    for name in {name for pair in PAIRS for name in pair if len(name) > 4}:
        assert not isinstance(said(f"{name[:3]} seen", name), Understood)


def test_two_of_one_first_name_are_common_enough_to_be_easy():
    """In one class of twelve in ten two share a first name: it is asked once, and an initial settles it."""
    assert RATES["class_girls_2014_2020_12"]["share_exact"] > 0.1
    words = Vocabulary((("a", "Mia Costa"), ("b", "Mia Drew")), SCHEME)
    moment = Context(vocabulary=words, now=NOW, skill="hop")
    asked = read("mia seen", moment)
    assert isinstance(asked, WhichOne)
    assert [label for label, _ in asked.options] == ["Mia C", "Mia D"]
    assert read("mia d seen", moment) == Understood((Mark(("b",), "seen", "hop"),))


def test_no_two_of_our_verdicts_are_one_slip_apart_in_meaning():
    """A slip that could be a seen and a not yet is asked about: `massed` is as near to passed as to missed."""
    for typed in ("massed", "pissed"):
        assert isinstance(said(f"ava {typed}", "Ava"), WhichOne)
