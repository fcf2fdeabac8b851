"""README.md and DEVELOPERS.md tell the truth: what they show is what comes, and what there is they name."""
from __future__ import annotations

import os
import re
import shutil

import pytest

from adapters.cli import main
from adapters.settings import KNOWN
from bot.people.hall import read_hall
from bot.talk.places import diagram
from bot.talk.state import Place
from tests.house.readme_example import BLOCK, CODE, DEVELOPERS, DIAGRAM, EXAMPLES, NEEDS, README, ROOT, real, written

README_TEXT, DEVELOPERS_TEXT = README.read_text("utf-8"), DEVELOPERS.read_text("utf-8")
BOTH = README_TEXT + DEVELOPERS_TEXT
TWICE = 2       # the demo's clock runs on: a machine that stalls for seconds may see another minute
RUN = "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/sprung demo"
TEST = 'python3 -m venv .venv && .venv/bin/pip install -q -e ".[test]" && .venv/bin/pytest -q'
REWRITE = "python tests/house/readme_example.py --write"


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_is_what_the_program_says(name: str) -> None:
    """Each example of README comes out of the program as it stands there, in a plain pipe."""
    if name in NEEDS and shutil.which(NEEDS[name]) is None:
        assert not os.environ.get("SPRUNG_REQUIRE_ALL"), f"{NEEDS[name]} is missing"
        pytest.skip(f"this example needs {NEEDS[name]}")
    shown = written()[name]
    for attempt in range(TWICE):
        said = real(name)
        if said == shown or attempt + 1 == TWICE:
            assert said == shown, f"if the new wording is right: {REWRITE}"
            break


def test_every_example_is_one_that_can_be_made() -> None:
    """README marks no example that nobody makes, and leaves none out."""
    assert written().keys() == EXAMPLES.keys()
    assert CODE not in written()["lesson"]


@pytest.mark.parametrize("command", [RUN, TEST])
def test_the_two_commands_stand_on_a_line_each(command: str) -> None:
    """What to run and how to test it are one line each, to be copied whole."""
    assert f"    {command}" in README_TEXT.splitlines()


def test_the_small_hall_is_a_hall() -> None:
    """The three files that README gives a club to begin with are read without a fault."""
    files = {name.rpartition("/")[2]: text for kind, name, _, text in BLOCK.findall(README_TEXT) if kind == "file"}
    hall = read_hall(files["scheme.toml"], files["club.toml"], files["roster.csv"])
    assert [line.child for line in hall.roster]


def test_the_diagram_is_the_table() -> None:
    """The drawing of the places is made from their table."""
    (drawn,) = DIAGRAM.findall(DEVELOPERS_TEXT)
    assert drawn == diagram() + "\n", f"drawn anew by: {REWRITE}"


@pytest.mark.parametrize("place", Place)
def test_every_place_is_explained(place: Place) -> None:
    """Each place of a talk has its row."""
    assert re.search(rf"^\| `{place.value}` \| \w", DEVELOPERS_TEXT, re.MULTILINE)


@pytest.mark.parametrize("command", sorted(main.commands))
def test_every_command_is_explained(command: str) -> None:
    """Each command has its row in README's table."""
    assert re.search(rf"^\| `sprung {command}\b.* \| \w", README_TEXT, re.MULTILINE)


def test_no_command_is_promised_that_is_not_there() -> None:
    """Commands that are shown exist; those that are not there yet are named as such and nowhere else."""
    now, _, later = README_TEXT.partition("## Not there yet")
    named = set(re.findall(r"(?:^|[`$ ])(?:\.venv/bin/)?sprung ([a-z][a-z-]*)\b", now, re.MULTILINE))
    assert named <= set(main.commands)
    promised = set(re.findall(r"`sprung ([a-z]+)`", later)) - set(main.commands)
    assert all(f"`sprung {one}`" not in now for one in promised)


def test_every_setting_is_explained() -> None:
    """Each SPRUNG_ variable that the program or a test asks for is named, and each key of sprung.toml."""
    asked = {".ci/run": (ROOT / ".ci" / "run").read_text("utf-8")}
    for room in ("bot", "storage", "adapters", "tests"):
        asked |= {str(path): path.read_text("utf-8") for path in (ROOT / room).rglob("*.py")}
    settings = {name for text in asked.values() for name in re.findall(r"\bSPRUNG_[A-Z_]*[A-Z]\b", text)}
    assert "SPRUNG_DB" in settings
    assert not {name for name in settings if f"`{name}" not in BOTH}
    assert all(f"`{key} = " in README_TEXT for key in KNOWN)


def test_every_path_in_the_documents_exists() -> None:
    """A file or folder that is named with its room is there."""
    named = set(re.findall(r"`([\w.-]+/[\w./-]*|[\w.]+\.(?:md|toml))`", DEVELOPERS_TEXT))
    paths = {name for name in named if name not in ("scheme.toml", "club.toml")}
    assert len(paths) > 40
    assert not {name for name in paths if not (ROOT / name).exists()}
    shown = re.findall(r"`(demo_conversations/[\w./-]+)`", README_TEXT)
    assert shown
    assert not {name for name in shown if not (ROOT / name).exists()}


def test_every_test_named_in_the_table_of_marks_exists() -> None:
    """The table that says where each row is decided names functions and tests that are there."""
    tests = "".join(path.read_text("utf-8") for path in (ROOT / "tests" / "marks").glob("test_*.py"))
    decided = (ROOT / "bot" / "marks" / "standing.py").read_text("utf-8")
    table = DEVELOPERS_TEXT.partition("## What a mark means")[2].partition("## The store")[0]
    named = set(re.findall(r"`(test_\w+)`", table))
    assert len(named) > 10
    assert not {name for name in named if f"def {name}(" not in tests}
    functions = set(re.findall(r"`(_\w+|judge|view)`", table))
    assert not {name for name in functions if f"def {name}(" not in decided}


def test_every_threat_has_its_test() -> None:
    """Each row of the threats names a test that is there."""
    tests = "".join(path.read_text("utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    table = DEVELOPERS_TEXT.partition("## THREATS")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| (?!threat|---)(.+) \|$", table, re.MULTILINE)
    assert len(rows) > 15
    for row in rows:
        named = re.findall(r"`(test_\w+)`", row)
        assert named, row
        assert not {name for name in named if f"def {name}(" not in tests}, row


def test_the_documents_stay_short() -> None:
    """A developer reads the whole of it in one sitting."""
    assert len(DEVELOPERS_TEXT.splitlines()) < 500
