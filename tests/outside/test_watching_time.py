"""How long a class takes on a skill of two shows, against proven optima.

Source: data/03_scheduling.json: closed forms with their proofs, each confirmed optimal by OR-Tools CP-SAT on the
instances that it names; here also by trying every order of small instances.
"""
from __future__ import annotations

import json
import re
from itertools import permutations
from pathlib import Path

import pytest

from bot.lesson.next import two_shows_s

CASES = {case["id"]: case for case in json.loads(
    (Path(__file__).parent / "data" / "03_scheduling.json").read_text(encoding="utf-8")
)["cases"]}


def rows(case: str) -> list[tuple[dict[str, int], int]]:
    """A table's rows: what is given, and the earliest end."""
    return [
        ({name: int(value) for name, value in re.findall(r"(\w+)=(\d+)", key)}, end)
        for key, end in CASES[case]["table"].items()
    ]


@pytest.mark.parametrize(("given", "end"), rows("closed_1"))
def test_unit_shows(given, end):
    """n children, two shows of one unit, a rest L: max(2n, n + L + 1) (closed_1, CP-SAT optimal)."""
    assert two_shows_s(given["n"], 1, given["L"], 1) == end


@pytest.mark.parametrize(("given", "end"), rows("closed_2"))
def test_shows_of_unlike_length(given, end):
    """First show p, rest L, second show q: max(n(p + q), L + max(np + q, p + nq)) (closed_2, CP-SAT optimal)."""
    assert two_shows_s(given["n"], given["p"], given["L"], given["q"]) == end


@pytest.mark.parametrize(("given", "end"), rows("closed_4"))
def test_lines_of_several(given, end):
    """Lines of up to c children on one show: as for ceil(n / c) children (closed_4, CP-SAT optimal)."""
    assert two_shows_s(-(-given["n"] // given["c"]), 1, given["L"], 1) == end


@pytest.mark.parametrize("rest", range(5))
@pytest.mark.parametrize(("first", "second"), [(1, 1), (2, 1), (1, 3)])
def test_no_order_is_quicker(first, second, rest):
    """Every order of three children's shows, tried one by one: none ends before the closed form says."""
    ends = []
    for order in permutations([0, 0, 1, 1, 2, 2]):
        at, done = 0, {}
        for child in order:
            start = max(at, done[child] + rest) if child in done else at
            at = start + (second if child in done else first)
            done[child] = at
        ends.append(at)
    assert min(ends) == two_shows_s(3, first, rest, second)
