"""`sprung play` on the command line: exit codes, stores, and accepting what came."""
from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

SCRIPT = "hall harbour-lane\nclock 2026-11-24 16:58\njo: start tuesday\n  < Everyone here? ...\n  [Everyone] [...]\n"
Run = Callable[..., Result]


def test_play_says_how_it_went(run: Run, tmp_path: Path) -> None:
    """A script that is as it says ends with 0, a mismatch with 1 and a diff, a fault in it with 2."""
    (tmp_path / "good.talk").write_text(SCRIPT)
    (tmp_path / "bad.talk").write_text(SCRIPT.replace("Everyone here?", "Nobody here?"))
    (tmp_path / "wrong.talk").write_text(SCRIPT + "hal x\n")
    good = run("play", "good.talk")
    assert (good.exit_code, good.stderr) == (0, "")
    assert "16:58  jo      < Everyone here?" in good.stdout
    bad = run("play", "good.talk", "bad.talk")
    assert bad.exit_code == 1
    assert "bad.talk:3: what comes back" in bad.stdout
    assert "1 of 2 scripts" in bad.stdout
    wrong = run("play", "wrong.talk")
    assert wrong.exit_code == 2
    assert re.match(r'wrong\.talk:6: "hal" begins no line', wrong.stderr)


def test_quiet_says_only_what_is_wrong(run: Run, tmp_path: Path) -> None:
    """With --quiet a script that is as it says prints nothing."""
    (tmp_path / "good.talk").write_text(SCRIPT)
    assert run("play", "--quiet", "good.talk").output == ""


@pytest.mark.parametrize("store", ["memory", "sqlite"])
def test_each_script_has_a_fresh_store(run: Run, tmp_path: Path, store: str) -> None:
    """The same script plays twice as once, on either store, and never on the club's own database."""
    (tmp_path / "good.talk").write_text(SCRIPT)
    (tmp_path / "sprung.toml").write_text('db = "club.sqlite"\n')
    assert run("play", "--store", store, "good.talk", "good.talk").exit_code == 0
    assert not (tmp_path / "club.sqlite").exists()


def test_play_on_a_real_store(run: Run, tmp_path: Path) -> None:
    """With --db what was played is kept, and can be looked at."""
    (tmp_path / "good.talk").write_text(SCRIPT + "jo: [Everyone]\n  ...\njo: ava seen cartwheel\n  ...\n")
    assert run("play", "--db", "real.sqlite", "good.talk").exit_code == 0
    assert len(json.loads(run("--db", "real.sqlite", "export", "--json").stdout)["marks"]) == 1


def test_accepting_writes_the_script(run: Run, tmp_path: Path) -> None:
    """With --accept a script becomes as it came, and then plays."""
    script = tmp_path / "bad.talk"
    script.write_text("# Kept\n" + SCRIPT.replace("Everyone here?", "Nobody here?"))
    assert run("play", "--accept", "bad.talk").exit_code == 0
    assert script.read_text().startswith("# Kept\nhall")
    assert "Everyone here?" in script.read_text()
    assert run("play", "bad.talk").exit_code == 0


def test_accepting_keeps_the_line_ends(run: Run, tmp_path: Path) -> None:
    """A script of another system keeps its line ends when it is accepted."""
    script = tmp_path / "bad.talk"
    script.write_bytes(SCRIPT.replace("Everyone here?", "Nobody here?").replace("\n", "\r\n").encode())
    assert run("play", "--accept", "bad.talk").exit_code == 0
    assert script.read_bytes().count(b"\r\n") == script.read_bytes().count(b"\n") >= 5
    assert run("play", "bad.talk").exit_code == 0


def test_what_stopped_is_not_accepted(run: Run, tmp_path: Path) -> None:
    """A script that could not be played to its end is never written over."""
    script = tmp_path / "bad.talk"
    script.write_text(SCRIPT + "jo: [Nowhere]\n")
    assert run("play", "--accept", "bad.talk").exit_code == 1
    assert script.read_text() == SCRIPT + "jo: [Nowhere]\n"


def test_faults_of_all_scripts_before_any_plays(run: Run, tmp_path: Path) -> None:
    """Faults of every script are told, with file and line, and nothing is played."""
    (tmp_path / "good.talk").write_text(SCRIPT)
    (tmp_path / "one.talk").write_text(SCRIPT + "hal x\n")
    (tmp_path / "two.talk").write_text("clock soon\n")
    result = run("play", "good.talk", "one.talk", "two.talk")
    assert (result.exit_code, result.stdout) == (2, "")
    assert [line.split(": ")[0] for line in result.stderr.splitlines()] == ["one.talk:6", "two.talk:1"]


def test_a_faulty_hall_is_2(run: Run, tmp_path: Path) -> None:
    """A hall that is not there, or has faults, is told with the script's line."""
    (tmp_path / "one.talk").write_text("# first\nhall nowhere\nclock 2026-11-24 16:58\n")
    result = run("play", "one.talk")
    assert result.exit_code == 2
    assert result.stderr.startswith("one.talk:2: hall nowhere: ")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "scheme.toml").write_text("[scheme]\n")
    (tmp_path / "one.talk").write_text("hall mine/\nclock 2026-11-24 16:58\n")
    assert "one.talk:1: hall mine: " in run("play", "one.talk").stderr
