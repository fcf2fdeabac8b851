"""Where things stand in a TOML file."""
from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from bot.scheme.lines import line_at, lines_of

DEMO = Path(__file__).parents[2] / "demo_conversations" / "harbour-lane"
TEXT = '''\
a = 1
"b c".d = """
two
lines = [ """
[t] # a comment = 1
x = { y = [1,
  2], z = "}" }
[[l]]
k = 'q # no'
[[l.m]]
n = 1
[[l.m]]
[[l]]
  [[l.m]]
  "e\\u0041" = 2026-01-01
'''


def test_every_kind_of_place_has_its_line() -> None:
    """Headers, dotted and quoted keys, strings over lines, nested values."""
    lines = lines_of(TEXT)
    assert lines[("a",)] == 1
    assert lines[("b c", "d")] == 2
    assert lines[("t", "x", "y", 1)] == 7
    assert lines[("t", "x", "z")] == 7
    assert lines[("l", 0)] == 8
    assert lines[("l", 0, "m", 1)] == 12
    assert lines[("l", 1, "m", 0, "eA")] == 15


def test_the_nearest_known_place_stands_in() -> None:
    """What is missing is said to be missing from the table around it."""
    assert line_at(lines_of(TEXT), ("l", 1, "nothing")) == 13
    assert line_at({}, ("x",)) == 1


def test_every_value_of_the_demo_files_has_a_line() -> None:
    """The scanner and the parser agree on what there is."""
    for file in ("scheme.toml", "club.toml"):
        text = (DEMO / file).read_text("utf-8")
        assert set(_paths(tomllib.loads(text), ())) <= set(lines_of(text))


def _paths(value: Any, here: tuple[str | int, ...]) -> list[tuple[str | int, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path for key, one in items for path in ((*here, key), *_paths(one, (*here, key)))]
