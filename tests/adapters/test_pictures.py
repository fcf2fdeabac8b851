"""Pictures of a class and of a child: what they show, in any script, and that no colour is needed to read them.

Contrast is that of WCAG 2.x, the simulations are those of `web/test_contrast.py`; both are held there to published
values (data/11_accessibility_pictures.json, by the library wcag-contrast-ratio).
"""
from __future__ import annotations

import json
import os
import re
from datetime import datetime
from importlib.util import find_spec
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest

from adapters.files import looks
from adapters.files.grid import grid
from adapters.files.looks import SHAPES, WORDS, cut, picture, shape, width
from adapters.files.png import png
from adapters.files.progress import progress
from adapters.web.files import files
from tests.adapters.pixels import dots, hexed
from tests.adapters.web.test_contrast import SEEN_BY, contrast, luminance, seen_by, themes

PUBLISHED = [
    case for case in json.loads(
        (Path(__file__).parents[1] / "outside" / "data" / "11_accessibility_pictures.json").read_text("utf-8")
    )["cases"] if case["kind"] == "contrast" and isinstance(case["expected"], dict)
]
AT = datetime(2026, 11, 24, 17, 5, tzinfo=ZoneInfo("Europe/London"))
SVG = "{http://www.w3.org/2000/svg}"
NAMES = (
    "Ana C", "Łucja", "Siân O'Dea", "Nguyễn Thị", "Ζωή", "Юлия", "小明", "ยุพา", "سلمى", "מיכל", "அனு",
    "<b>&amp;", "e\u0301\u0302va",
)


@pytest.fixture
def draws() -> None:
    """What makes a PNG is here."""
    if find_spec("resvg_py") is None:
        if os.environ.get("SPRUNG_REQUIRE_ALL"):
            pytest.fail("resvg-py is not installed: pip install 'sprung[pictures]'")
        pytest.skip("resvg-py is not installed: pip install 'sprung[pictures]'")


def sheet(names=NAMES, skills=("Cartwheel", "Shoulder stand")):
    """A class of these children; each standing comes up in turn."""
    every = list(WORDS)
    return {
        "name": "Tuesday Lanterns", "at": AT,
        "children": [{"id": f"c{n}", "name": name} for n, name in enumerate(names)],
        "skills": [{"id": f"s{n}", "name": name} for n, name in enumerate(skills)],
        "marks": {f"c{n}": {f"s{m}": {"is": every[(n + m) % len(every)], "show": 1} for m in range(len(skills))}
                  for n in range(len(names))},
    }


def child(**more):
    """A child with a skill in each standing."""
    return {"name": "Ava", "award": "Lantern", "at": AT, "ticked": 1, "needed": 4,
            "skills": [{"name": f"Skill {n}", "must": n == 0} for n in range(len(WORDS))],
            "marks": [{"is": one, "show": 2} for one in WORDS], **more}


def texts(svg: str) -> list[str]:
    """What it says, in order."""
    return [one.text or "" for one in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def used(svg: str) -> list[str]:
    """The shapes in it, in order."""
    return [one.attrib["href"].lstrip("#") for one in ElementTree.fromstring(svg).iter(f"{SVG}use")]


# --- what they show ------------------------------------------------------------------------------------

def test_a_grid_has_a_shape_for_every_child_and_skill():
    """Each child's standing with each skill is one shape, in order, and the key says each in words."""
    made = grid(sheet())
    every = list(WORDS)
    assert used(made) == [every[(n + m) % len(every)] for n in range(len(NAMES)) for m in range(2)] + every
    assert [one for one in texts(made) if one in WORDS.values()] == list(WORDS.values())
    assert texts(made)[:2] == ["Tuesday Lanterns", "Tuesday 24 November, 17:05"]


def test_what_is_not_asked_of_a_child_is_empty():
    """A skill of another award has no shape at her name; one that nobody works on is not in the picture."""
    told = sheet(("Ava", "Ben", "Chidi"), ("Hop", "Roll", "Turn"))
    for marks in told["marks"].values():
        marks.pop("s2")
    told["marks"]["c0"].pop("s0")
    made = grid(told)
    assert len(used(made)) == 5 + len(WORDS)
    assert "Turn" not in texts(made)
    assert texts(made).index("Roll") < texts(made).index("Hop")     # what most work on comes first


def test_the_longer_side_runs_down():
    """A phone is narrow: with fewer children than skills they stand side by side, else below one another."""
    few = ElementTree.fromstring(grid(sheet(("Ava", "Ben"), [f"Skill {n}" for n in range(20)])))
    many = ElementTree.fromstring(grid(sheet([f"Child {n}" for n in range(40)])))
    for one in (few, many):
        assert float(one.attrib["width"]) <= 360
        assert float(one.attrib["height"]) > 500


def test_a_class_of_nobody_is_a_picture_too():
    """Before anybody is in a class its picture has its name and nothing else."""
    assert texts(grid(sheet((), ()))) == ["Tuesday Lanterns", "Tuesday 24 November, 17:05"]


def test_progress_has_a_word_beside_each_shape():
    """Each skill of the award is a row: shape, name, word; a must is called one until it is done."""
    made = progress(child())
    assert used(made) == list(WORDS)
    said = texts(made)
    assert said[:3] == ["Ava, Lantern", "1 done, 4 needed", "Tuesday 24 November, 17:05"]
    assert said[3:7] == ["Skill 0 (a must)", "not tried, 2nd show", "Skill 1", "part, 2nd show"]
    assert "done" in said
    assert texts(progress(child(award="", skills=[], marks=[])))[1] == "Works on no award of this scheme."


def test_the_same_class_is_the_same_picture():
    """Nothing but what is told goes in: the same bytes each time."""
    assert grid(sheet()) == grid(sheet())
    assert progress(child()) == progress(child())


@pytest.mark.parametrize("name", NAMES)
def test_names_of_any_script_stand_in_it_whole(name):
    """Whatever script a name is in, it is there as it was given, and is never read as markup."""
    assert name in texts(grid(sheet((name, "Ben", "Chidi"), ("Hop",))))
    assert f"{name}, Lantern" in texts(progress(child(name=name)))


@pytest.mark.parametrize("name", [
    "x" * 300, "小" * 100, "\x00\x1b[31m\x85", "\ud800", "e" + "\u0301" * 50, "  ", "\u202eabc",
])
def test_any_name_gives_a_picture(name):
    """However long or odd a name is: it is cut where it does not fit, and the picture can be read by any reader."""
    wide = float(ElementTree.fromstring(grid(sheet((name,) * 3, ("Hop",)))).attrib["width"])
    assert wide <= 360
    ElementTree.fromstring(progress(child(name=name)))


def test_a_name_is_cut_between_letters():
    """No accent is parted from its letter, and what is cut shows it."""
    assert cut("Ana", 100) == "Ana"
    short = cut("E\u0301" * 30, 60)
    assert short.endswith("E\u0301…")
    assert width(short) <= 60
    assert width("小明") > width("ab")


# --- for all eyes -----------------------------------------------------------------------------------------

def test_the_colours_are_those_of_the_page():
    """One palette: each colour of a picture is the page's by the same name."""
    light = themes()["light"]
    for name in ("paper", "ink", "faint", "rule", "mark", "miss", "wait", "tint"):
        assert getattr(looks, name.upper()) == light[name]


def test_the_words_are_those_of_the_page():
    """What the page's sheet calls a standing its picture calls it too."""
    page = files()["/js/views.js"].body.decode()
    said = dict(re.findall(r'(\w+): \["[^"]+", "([^"]*)"\]', page))
    assert {one: said[one] or "not tried" for one in WORDS} == WORDS


@pytest.mark.parametrize("case", PUBLISHED, ids=lambda case: case["id"])
def test_contrast_is_as_published(case):
    """The measure itself gives the published ratios."""
    one, other = (colour if len(colour) == 7 else "#" + "".join(2 * sign for sign in colour[1:])
                  for colour in case["input"])
    assert contrast(one, other) == pytest.approx(case["expected"]["ratio"], abs=case["tolerance"])


@pytest.mark.parametrize("eyes", ["all", *SEEN_BY])
def test_what_has_a_meaning_stands_out(eyes):
    """Text has 4.5 to 1 on the paper, shapes 3 to 1, for whoever sees fewer colours too."""
    see = (lambda colour: colour) if eyes == "all" else (lambda colour: seen_by(eyes, colour))
    paper = see(looks.PAPER)
    assert all(contrast(see(one), paper) >= 4.5 for one in (looks.INK, looks.FAINT))
    assert all(contrast(see(one), paper) >= 3 for one in (looks.MARK, looks.MISS, looks.WAIT))


def as_seen(eyes: str, colour: str) -> float:
    """How bright a colour is to such eyes."""
    return luminance(colour if eyes == "grey" else seen_by(eyes, colour))


def cells(shapes) -> dict[str, list[str]]:
    """Each standing's cell as colours, dot by dot."""
    made = {}
    for one in shapes:
        rows = dots(png(picture(16, 16, "", "", [shape(one, 8, 8)])))
        made[one] = [hexed(dot) for row in rows for dot in row]
    return made


def too_alike(shapes, eyes: str) -> list[tuple[str, str]]:
    """Pairs of standings that such eyes can't tell apart: on too few dots one is dark and the other is bright."""
    bright = {one: [as_seen(eyes, colour) for colour in cell] for one, cell in cells(shapes).items()}
    found = []
    for one, other in combinations(bright, 2):
        pairs = zip(bright[one], bright[other], strict=True)
        apart = sum((max(pair) + 0.05) / (min(pair) + 0.05) >= 3 for pair in pairs)
        if apart < len(bright[one]) * APART:
            found.append((one, other))
    return found


APART = 0.04        # of the dots of a cell; the width of a stroke at least; our own choice, no source


@pytest.mark.parametrize("eyes", ["grey", *SEEN_BY])
def test_every_standing_has_a_shape_of_its_own(draws, eyes):
    """In grey, and to each of three kinds of eyes that see fewer colours, no two standings look alike."""
    assert too_alike(SHAPES, eyes) == []


@pytest.mark.parametrize("eyes", ["grey", *SEEN_BY])
def test_a_colour_alone_would_be_noticed(draws, eyes, monkeypatch):
    """Were ready told from resting by its colour alone, the test above would say so."""
    monkeypatch.setitem(SHAPES, "ready", SHAPES["resting"].replace(looks.WAIT, looks.MARK))
    assert too_alike(SHAPES, eyes) == [("resting", "ready")]


def test_a_png_is_sharp_on_a_phone_and_bounded(draws):
    """Two dots to a pixel where there is room, and never more than so many dots, however large the class is."""
    rows = dots(png(grid(sheet(("Ava", "Ben", "Chidi"), ("Hop",)))))
    assert len(rows[0]) == 640
    made = png(grid(sheet([f"Child {n}" for n in range(500)], [f"Skill {n}" for n in range(30)])))
    wide, high = (int.from_bytes(made[at:at + 4], "big") for at in (16, 20))
    assert wide * high <= 6_060_000
