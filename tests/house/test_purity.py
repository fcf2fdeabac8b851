"""The house keeps its own rules: the job is pure, everything public says what it is, what is stored comes back."""
from __future__ import annotations

import ast
import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.facts import FACT, Fact
from bot.step import Refused
from bot.talk.places import TABLE, Move
from bot.talk.state import VERSION, Place, Talk
from bot.talk.taps import TAP, Tap
from storage import codec

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "40"))
QUICK = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))

MAY_IMPORT = {      # what pure code needs of the standard library, and the two libraries that only compute
    "__future__", "bisect", "collections", "copy", "csv", "dataclasses", "datetime", "enum", "fractions", "functools",
    "hashlib", "heapq", "io", "itertools", "json", "math", "operator", "re", "statistics", "string", "tomllib", "types",
    "typing", "unicodedata", "zoneinfo",
    "pydantic", "rapidfuzz", "bot",
}
READS_THE_CLOCK = {"now", "utcnow", "today", "time_ns", "monotonic", "perf_counter", "localtime", "fromtimestamp"}
TOUCHES_THE_WORLD = {"open", "input", "exec", "eval", "__import__", "breakpoint"}


def files(*rooms: str) -> list[Path]:
    """The Python files of these rooms, in a fixed order."""
    return sorted(
        path for room in rooms for path in (ROOT / room).rglob("*.py") if "__pycache__" not in path.parts
    )


def named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imported(tree: ast.AST) -> Iterator[str]:
    """The top names of all that a file imports, wherever in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            yield (node.module or "").split(".")[0]


def test_there_is_something_to_look_at():
    """The rooms are where this test looks for them."""
    assert len(files("bot")) > 40
    assert len(files("storage")) > 5
    assert len(files("adapters")) > 5


@pytest.mark.parametrize("path", files("bot"), ids=named)
def test_the_job_imports_nothing_of_the_world(path):
    """No clock, no randomness, no files, no network, no database, no event loop, no log, no adapter, no storage."""
    tree = ast.parse(path.read_text("utf-8"))
    assert set(imported(tree)) <= MAY_IMPORT


@pytest.mark.parametrize("path", files("bot"), ids=named)
def test_the_job_reads_no_clock(path):
    """Time is an argument: nothing asks what time it is, opens a file, or keeps state in the module."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Attribute):
                assert called.attr not in READS_THE_CLOCK, f"line {node.lineno}"
            elif isinstance(called, ast.Name):
                assert called.id not in TOUCHES_THE_WORLD, f"line {node.lineno}"
        assert not isinstance(node, ast.Global), f"line {node.lineno}"


@pytest.mark.parametrize("path", files("bot"), ids=named)
def test_the_job_awaits_nothing(path):
    """A step is a function: only the ports may be asynchronous, and they have no body."""
    waits = ast.Await | ast.AsyncFor | ast.AsyncWith | ast.AsyncFunctionDef
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        assert not isinstance(node, waits), f"line {node.lineno}"


def only_the_table_moves_a_talk(tree: ast.AST) -> Iterator[int]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            yield from (node.lineno for word in node.keywords if word.arg == "place")


@pytest.mark.parametrize("path", [one for one in files("bot/talk") if one.name != "places.py"], ids=named)
def test_only_the_table_moves_a_talk(path):
    """Nothing but the table of transitions sets the place of a talk."""
    assert list(only_the_table_moves_a_talk(ast.parse(path.read_text("utf-8")))) == []


def public(tree: ast.Module) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef]:
    """Public functions and classes of a module, and the public methods of those classes."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and node.name[0] != "_":
            yield node
            if isinstance(node, ast.ClassDef):
                for inner in node.body:
                    if isinstance(inner, ast.FunctionDef | ast.AsyncFunctionDef) and inner.name[0] != "_":
                        yield inner


def is_a_field(node: ast.AST) -> bool:
    """A port's field, told as a property that has no body: its class says what it is."""
    if not isinstance(node, ast.FunctionDef) or ast.unparse(node.body[-1]) != "...":
        return False
    return any(getattr(one, "id", "") == "property" for one in node.decorator_list)


@pytest.mark.parametrize("path", files("bot", "storage", "adapters"), ids=named)
def test_everything_public_says_what_it_is(path):
    """Each file, and each public class, function and method in it, has a docstring."""
    tree = ast.parse(path.read_text("utf-8"))
    assert ast.get_docstring(tree) or not tree.body, "the file itself"
    silent = [f"{node.name} (line {node.lineno})" for node in public(tree)
              if not ast.get_docstring(node) and not is_a_field(node)]
    assert silent == []


@pytest.mark.parametrize("path", files("tests"), ids=named)
def test_every_test_states_a_truth(path):
    """Each test has a docstring."""
    tree = ast.parse(path.read_text("utf-8"))
    silent = [node.name for node in ast.walk(tree)
              if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name.startswith("test_")
              and not ast.get_docstring(node)]
    assert silent == []


# --- one table of transitions ----------------------------------------------------------------------

def test_the_table_lists_every_place():
    """Every place is in the table, every place in it can be left, and every move happens somewhere."""
    assert set(TABLE) == set(Place)
    assert all(TABLE[place] for place in Place)
    assert {move for moves in TABLE.values() for move in moves} == set(Move)


def test_every_place_can_be_reached():
    """From a stranger's first word each place can be reached by the moves of the table."""
    reached, found = {Place.STRANGER}, {Place.STRANGER}
    while found:
        found = {target for place in found for target in TABLE[place].values()} - reached
        reached |= found
    assert reached == set(Place)


# --- what is stored comes back ----------------------------------------------------------------------

AWARE = st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC))      # noqa: DTZ001
st.register_type_strategy(datetime, AWARE)


@QUICK
@given(fact=st.from_type(Fact))
def test_facts_come_back_as_they_were(fact):
    """Any fact, written as it is stored and read again, is the same fact."""
    assert FACT.validate_json(codec.dump_fact(fact)) == fact


@QUICK
@given(tap=st.from_type(Tap))
def test_requests_of_choices_come_back_as_they_were(tap):
    """Any choice's request, written as JSON and read again hours later, is the same request."""
    assert TAP.validate_json(TAP.dump_json(tap)) == tap


@QUICK
@given(talk=st.from_type(Talk), place=st.sampled_from(Place))
def test_a_talk_comes_back_as_it_was(talk, place):
    """Any talk in any place, stored and read again, is the same; one of a newer program is refused with a sentence."""
    talk = replace(talk, version=VERSION, place=place)
    stored = codec.dump(codec.TALK, talk)
    assert codec.talk_of(VERSION, stored) == talk
    with pytest.raises(Refused, match="newer"):
        codec.talk_of(VERSION + 1, stored)


def test_every_kind_of_fact_has_a_name_of_its_own():
    """No two facts, and no two requests, share the name by which they are told apart when they are read."""
    for kinds in (Fact, Tap):
        names = [kind.__dataclass_fields__["kind"].default for kind in kinds.__args__]
        assert len(names) == len(set(names))
