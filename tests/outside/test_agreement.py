"""How far two people see the same, against published tables and libraries.

Sources: data/01_agreement.json (statsmodels' tests that quote SAS and R irr, the README of the R package irrCAC,
exact fractions) and data/02_binomial.json (Newcombe 1998, Brown, Cai & DasGupta 2001, scipy, statsmodels), each case
with its own; and statsmodels and scipy themselves where they are installed.
"""
from __future__ import annotations

import json
import os
import random
from pathlib import Path

import pytest

from bot.lesson.likely import Likely
from bot.marks.agreement import ac1, alike, kappa, percent, table_of
from bot.marks.interval import below, beta_quantile, students_t, wilson

DATA = Path(__file__).parent / "data"
AGREEMENT = {case["id"]: case for case in json.loads((DATA / "01_agreement.json").read_text("utf-8"))["cases"]}
BINOMIAL = {case["id"]: case for case in json.loads((DATA / "02_binomial.json").read_text("utf-8"))["cases"]}
EDGES = [key for key in AGREEMENT if key.startswith("edge_") and key != "edge_single_rating"]


def library(name):
    """A library that is only there for tests; where it must not be missing, it is not."""
    if os.environ.get("SPRUNG_REQUIRE_ALL") == "1":
        return __import__(name, fromlist=["_"])
    return pytest.importorskip(name, reason=f"{name.split('.')[0]} is not installed")


def of_ratings(one, other):
    """The table of two lists of ratings, by the categories that occur."""
    used = sorted({*one, *other})
    table = [[0] * len(used) for _ in used]
    for a, b in zip(one, other, strict=True):
        table[used.index(a)][used.index(b)] += 1
    return table


def close(value, expected, tolerance):
    """Both are there and near each other, or neither is."""
    if expected == "undefined":
        assert value is None
    else:
        assert value is not None
        assert value.value == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize("case", ["wiki_25_35_5_35", "paradox_118_5_2_0", "irrcac_abstractors"])
def test_kappa_and_ac1_of_published_tables(case):
    """Kappa, AC1 and percent agreement are those published, also where 94 % alike gives a kappa below 0."""
    given, expected = AGREEMENT[case]["input"]["table"], AGREEMENT[case]["expected"]
    tolerance = 1e-6
    close(kappa(given), expected.get("kappa", expected.get("cohen_kappa")), tolerance)
    close(ac1(given), expected["ac1"], tolerance)
    close(percent(given), expected["percent_agreement"], tolerance)


def test_kappa_of_twenty_subjects_by_r_irr():
    """Kappa of the anxiety ratings is that of R irr's kappa2 (recorded in statsmodels' tests)."""
    given = AGREEMENT["irr_anxiety_r23_unweighted"]
    found = kappa(of_ratings(given["input"]["rater2"], given["input"]["rater3"]))
    close(found, given["expected"]["kappa"], given["tolerance"])


def test_the_interval_of_ac1_by_r_irrcac():
    """The 95 % interval of AC1 is that of R irrCAC's README, to its three decimals.

    There it is worked out from the table with n where its raw ratings, and we, take n - 1: half a percent wider.
    """
    given = AGREEMENT["irrcac_abstractors"]
    found = ac1(given["input"]["table"])
    low, high = given["expected"]["ac1_ci95"]
    assert found.interval.low == pytest.approx(low, abs=0.0012)
    assert found.interval.high == pytest.approx(high, abs=0.0012)


@pytest.mark.parametrize("case", EDGES)
def test_what_cannot_be_told_is_no_number(case):
    """Where all was put into one category kappa is 0/0: none, not 0 and not 1. AC1 has a value there."""
    given, expected = AGREEMENT[case]["input"], AGREEMENT[case]["expected"]
    pairs = [(a == 1, b == 1) for a, b in zip(given["rater1"], given["rater2"], strict=True)]
    table = table_of(pairs)
    close(kappa(table), expected["cohen_kappa"], 1e-9)
    close(ac1(table), expected["ac1_with_2_declared_categories"], 1e-9)
    close(percent(table), expected["percent_agreement"], 1e-9)
    low, high = expected["wilson95"]
    assert (percent(table).interval.low, percent(table).interval.high) == pytest.approx((low, high), abs=1e-9)


def test_nobody_looked_at_the_same():
    """No look of both: every figure is none (edge_single_rating, by definition)."""
    nothing = table_of([])
    assert (alike(nothing), kappa(nothing), ac1(nothing), percent(nothing), wilson(0, 0)) == (
        (0, 0), None, None, None, None,
    )


def test_all_alike_says_nothing_of_how_sure_that_is():
    """Where no look parts, AC1 is 1 and its interval cannot be told: eight of eight are no proof."""
    found = ac1(table_of([(True, True)] * 8))
    assert (found.value, found.interval) == (1.0, None)
    assert kappa(table_of([(True, True)] * 4 + [(False, False)] * 4)).interval is None


@pytest.mark.parametrize("case", [key for key in AGREEMENT if key.startswith("wilson_")])
def test_wilson_by_statsmodels(case):
    """Wilson's interval is that of statsmodels' proportion_confint."""
    given, expected = AGREEMENT[case]["input"], AGREEMENT[case]["expected"]
    found = wilson(given["agreements"], given["pairs"])
    assert (found.low, found.high) == pytest.approx((expected["low"], expected["high"]), abs=1e-9)


@pytest.mark.parametrize("case", [key for key, one in BINOMIAL.items() if "wilson" in str(one.get("expected"))])
def test_wilson_of_published_rows(case):
    """Wilson's interval is that of every published row (Newcombe 1998; Brown, Cai & DasGupta 2001)."""
    given, expected = BINOMIAL[case]["input"], BINOMIAL[case]["expected"]
    if "wilson" not in expected and "wilson_4dp" not in expected:
        pytest.fail(f"{case} has no row for Wilson")
    found = wilson(given["x"], given["n"])
    rounded = "wilson_4dp" in expected
    low, high = expected["wilson_4dp" if rounded else "wilson"]
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5 if rounded else 1e-9)


@pytest.mark.parametrize("case", [key for key in BINOMIAL if key[0].isdigit()])
def test_beta_quantiles_by_the_exact_intervals(case):
    """Clopper-Pearson's and Jeffreys' ends are quantiles of beta distributions: those of scipy and statsmodels."""
    x, n = BINOMIAL[case]["input"]["x"], BINOMIAL[case]["input"]["n"]
    expected = BINOMIAL[case]["expected"]
    jeffreys = beta_quantile(0.025, x + 0.5, n - x + 0.5), beta_quantile(0.975, x + 0.5, n - x + 0.5)
    assert jeffreys == pytest.approx(expected["jeffreys_equal_tailed"], abs=1e-9)
    exact = (
        beta_quantile(0.025, x, n - x + 1) if x else 0.0,
        beta_quantile(0.975, x + 1, n - x) if x < n else 1.0,
    )
    assert exact == pytest.approx(expected["clopper_pearson"], abs=1e-9)


@pytest.mark.parametrize("case", [key for key in BINOMIAL if key.startswith("beta_")])
def test_the_share_of_a_beta_below_a_half(case):
    """How much of a beta distribution lies above a half is what scipy.stats.beta says."""
    (a, b), x, n = BINOMIAL[case]["input"]["prior"], BINOMIAL[case]["input"]["x"], BINOMIAL[case]["input"]["n"]
    assert 1 - below(0.5, a + x, b + n - x) == pytest.approx(BINOMIAL[case]["expected"]["p_over_half"], abs=1e-9)


def test_kappas_interval_by_statsmodels():
    """Kappa and its interval are those of statsmodels' cohens_kappa, on 200 random tables."""
    inter_rater = library("statsmodels.stats.inter_rater")
    chance = random.Random(7)
    for _ in range(200):
        size = chance.choice((2, 2, 3))
        table = [[chance.randint(1, 30) for _ in range(size)] for _ in range(size)]
        found, expected = kappa(table), inter_rater.cohens_kappa(table)
        assert found.value == pytest.approx(expected.kappa, abs=1e-10)
        low, high = max(-1.0, expected.kappa_low), min(1.0, expected.kappa_upp)
        assert (found.interval.low, found.interval.high) == pytest.approx((low, high), abs=1e-9)


def test_beta_and_student_by_scipy():
    """The incomplete beta function, its inverse and Student's quantile are scipy's, over five powers of ten."""
    stats = library("scipy.stats")
    chance = random.Random(11)
    for _ in range(1000):
        a, b, x = 10 ** chance.uniform(-1, 3), 10 ** chance.uniform(-1, 3), chance.random()
        assert below(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-11)
        share = chance.choice((0.025, 0.1, 0.5, 0.9, 0.975))
        assert beta_quantile(share, a, b) == pytest.approx(stats.beta.ppf(share, a, b), abs=1e-11)
    for freedom in (1, 2, 5, 11, 40, 400):
        assert students_t(0.95, freedom) == pytest.approx(stats.t.ppf(0.975, freedom), rel=1e-9)


@pytest.mark.parametrize("case", [key for key in BINOMIAL if key.startswith("beta_")])
def test_how_likely_by_the_published_posterior(case):
    """A chance is the mean of its beta posterior (data/02_binomial.json, scipy.stats.beta)."""
    (a, b), x, n = BINOMIAL[case]["input"]["prior"], BINOMIAL[case]["input"]["x"], BINOMIAL[case]["input"]["n"]
    assert Likely(a + x, b + n - x).mean == pytest.approx(BINOMIAL[case]["expected"]["mean"], abs=1e-9)


def test_how_likely_by_scipy():
    """The interval of a chance is scipy's equal-tailed one."""
    stats = library("scipy.stats")
    chance = random.Random(5)
    for _ in range(50):
        a, b = chance.uniform(0.5, 30), chance.uniform(0.5, 30)
        found = Likely(a, b).interval(0.9)
        assert (found.low, found.high) == pytest.approx(stats.beta.interval(0.9, a, b), abs=1e-10)
