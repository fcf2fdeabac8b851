"""`sprung plan`: a file in, a plan and a picture out."""
from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter
from xml.etree import ElementTree

import pytest
from click.testing import Result

from tests.lesson.plan.checker import check

Run = Callable[..., Result]
ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "tests" / "lesson" / "plan" / "data"
CLASS = DATA / "n10_k12_m2_t20_1045.json"
SVG = "{http://www.w3.org/2000/svg}"


def test_a_plan_is_printed(run: Run, tmp_path: Path) -> None:
    """Without more words the plan goes where it can be piped on; with -o to a file, the same."""
    printed = run("plan", str(CLASS), "--trials", "50")
    assert printed.exit_code == 0
    errors, score = check(json.loads(CLASS.read_text()), json.loads(printed.stdout))
    assert not errors
    assert f"{score['value'] / 1000:.1f} expected ticks" in printed.stderr
    written = run("plan", str(CLASS), "--trials", "50", "-o", str(tmp_path / "plan.json"))
    assert (tmp_path / "plan.json").read_text() == printed.stdout
    assert written.stdout == ""


def test_what_no_plan_can_exceed_is_said_on_request(run: Run) -> None:
    """The bound that goes with the file is proven by others; ours may be a little above it, and the plan is below."""
    words = run("plan", str(CLASS), "--trials", "50", "--bound").stderr
    found = re.search(r"worth ([\d.]+) of at most ([\d.]+) expected ticks", words)
    assert found is not None
    value, most = map(float, found.groups())
    proven = json.loads(CLASS.read_text())["bounds"]["upper"] / 1000
    assert value <= most
    assert proven * 0.99 <= most <= proven * 1.1


def test_the_seed_is_another_search(run: Run) -> None:
    """The same seed and number of trials give the same plan."""
    one, same, other = (run("plan", str(CLASS), "--trials", "300", "--seed", seed).stdout for seed in "112")
    assert one == same != other


@pytest.mark.parametrize("wrong", ["--milliseconds=0", "--trials=-1", "--seed=x"])
def test_wrong_usage(run: Run, wrong: str) -> None:
    """A number that makes no sense is wrong usage."""
    assert run("plan", str(CLASS), wrong).exit_code == 2


@pytest.mark.parametrize("text", [b"[1, 2", b'{"format": "class-plan/1", "minutes": 3}', b"\xff\xfe{"])
def test_a_file_that_can_not_be_read(run: Run, tmp_path: Path, text: bytes) -> None:
    """What is wrong in a file is told, a sentence each, with exit code 1."""
    (tmp_path / "bad.json").write_bytes(text)
    result = run("plan", str(tmp_path / "bad.json"))
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "Traceback" not in result.output
    assert all(line.endswith(".") for line in result.stderr.splitlines())


def test_it_ends_in_time() -> None:
    """A program of its own ends soon after the milliseconds that it was given."""
    words = [sys.executable, "-c", "from adapters.cli import main; main(prog_name='sprung')", "plan", str(CLASS)]
    began = perf_counter()
    subprocess.run([*words, "--milliseconds", "200"], cwd=ROOT, capture_output=True, check=True)
    assert perf_counter() - began < 10


def test_the_picture(run: Run, tmp_path: Path) -> None:
    """A strip for each watcher and child; every turn is a box in both, told in words, second shows framed twice."""
    made = json.loads(run("plan", str(CLASS), "--trials", "50", "--svg", str(tmp_path / "plan.svg")).stdout)["turns"]
    drawn = ElementTree.parse(tmp_path / "plan.svg").getroot()
    words = [text.text or "" for text in drawn.iter(f"{SVG}text")]
    given = json.loads(CLASS.read_text())
    assert {one["id"] for one in given["children"] + given["watchers"]} <= set(words)
    titles = [title.text or "" for title in drawn.iter(f"{SVG}title")]
    assert len(titles) == sum(1 + len(turn["children"]) for turn in made)
    for box in drawn.iter(f"{SVG}g"):
        frames = len(box.findall(f"{SVG}rect"))
        assert frames == (2 if "show 2" in (box.findtext(f"{SVG}title") or "") else 1)
    assert any("double frame: second show" in word for word in words)


def test_names_are_drawn_as_they_are(run: Run, tmp_path: Path) -> None:
    """A name with a sign that means something in a picture stands there all the same."""
    text = CLASS.read_text().replace('"c01"', '"A & <b>"')
    (tmp_path / "class.json").write_text(text)
    run("plan", str(tmp_path / "class.json"), "--trials", "5", "--svg", str(tmp_path / "plan.svg"))
    drawn = ElementTree.parse(tmp_path / "plan.svg").getroot()
    assert "A & <b>" in {text.text for text in drawn.iter(f"{SVG}text")}
