"""Reading a scheme file: what is accepted, and what is said of each thing that is wrong."""
from __future__ import annotations

import re

import pytest

from bot.scheme.load import SchemeErrors, examine, read_scheme
from bot.scheme.model import Point, Scheme, Skill

GOOD = """\
[scheme]
name = "Test Lights"

[[award]]
id = "spark"
name = "Spark"

  [[award.skill]]
  id = "tuck"
  name = "Tuck hold"
  points = [ {id = "small", label = "Small as can be"} ]

  [[award.skill]]
  id = "hop"
  name = "Hop on"
"""
# Everything of the contract's own example, with its comments.
FULL = """\
[scheme]
name = "Harbour Lights"
repeat_within = "lesson"          # or days
after_a_miss = "first show"       # or "same show"
rest_s = 60

[[award]]
id = "candle"
name = "Candle"
  [[award.skill]]
  id = "galop-step"
  name = "Galop step"

[[award]]
id = "lantern"
name = "Lantern"
after = ["candle"]
needs = 1
must = ["shoulder-stand"]

  [[award.skill]]
  id = "shoulder-stand"
  name = "Shoulder stand"
  words = ["shoulder stand", "candle up"]
  points = [ {id = "hips", label = "Hips over shoulders", text = "…"},
             {id = "toes", label = "Toes to the ceiling", text = "…", need = "aim"} ]
  shows = [ {hold_s = 3, seconds = 20}, {hold_s = 3, seconds = 20, rest_s = 45} ]
  parts = []
  sides = "one"
  ways = []
  free = ["arms"]
  line = 4
  changeover_s = 40
  switch_s = 10
  light = false
  loads = ["neck", "back"]
  surface = "mat"
  home = "on a mat, with an adult"
  caution = "Warm up first. Stop if it hurts."
  uses = []
"""


def faults(text: str) -> str:
    """What is said of a text, all of it."""
    with pytest.raises(SchemeErrors) as caught:
        read_scheme(text)
    return str(caught.value)


def skill(line: str) -> str:
    """The good file with a line (its 12th) more in its first skill."""
    return GOOD.replace("  points =", f"  {line}\n  points =")


def test_the_contracts_example_is_read_as_it_stands() -> None:
    """The example of the contract loads, and means what it says."""
    scheme = read_scheme(FULL)
    stand = scheme.skills["shoulder-stand"]
    assert scheme.rest_before(stand, 2) == 45
    assert [point.need for point in stand.points] == ["must", "aim"]
    assert stand.loads == ("neck", "back")
    assert scheme.award_by_id("lantern") is not None


def test_what_is_left_out_has_a_sensible_default() -> None:
    """A skill needs an id and a name, no more."""
    hop = read_scheme(GOOD).skills["hop"]
    assert (len(hop.shows), hop.sides, hop.line, hop.pieces, hop.home) == (1, "one", 4, ("",), None)


def test_days_may_stand_for_a_lesson() -> None:
    """`repeat_within` is "lesson" or a number of days."""
    assert read_scheme(GOOD.replace('name = "Test', 'repeat_within = 7\nname = "Test')).repeat_within == 7


def test_tables_lists_and_single_words_come_to_the_same() -> None:
    """Sub-tables, inline tables and bare strings are ways to write one thing."""
    inline = skill('ways = [{id = "seated", label = "seated"}]\n  words = ["ball"]')
    tables = skill('words = "ball"\n  ways = ["seated"]').replace(
        'points = [ {id = "small", label = "Small as can be"} ]',
        '[[award.skill.points]]\n  id = "small"\n  label = "Small as can be"',
    )
    assert read_scheme(inline) == read_scheme(tables)


def test_a_way_written_out_gets_an_id_and_can_be_scoped_by_its_words() -> None:
    """`ways = ["with a partner"]` has the id with-a-partner, and a point may name it either way."""
    tuck = read_scheme(skill('ways = ["with a partner", "seated"]').replace(
        '"Small as can be"', '"Small", ways = ["with a partner"], shows = 1')).skills["tuck"]
    assert tuck.ways[0].id == "with-a-partner"
    assert tuck.points[0].ways == ("with-a-partner",)


def test_a_scheme_survives_the_way_through_json() -> None:
    """What is stored and loaded again is the same scheme."""
    scheme = read_scheme(FULL)
    assert Scheme.model_validate_json(scheme.model_dump_json()) == scheme


def test_a_byte_order_mark_and_windows_lines_are_fine() -> None:
    """A file saved by an office program loads."""
    assert read_scheme("\ufeff" + FULL.replace("\n", "\r\n")) == read_scheme(FULL)


def test_names_of_any_script_are_ids() -> None:
    """A club may name its skills in its own script."""
    assert "świeca" in read_scheme(GOOD.replace('"tuck"', '"świeca"')).skills


BROKEN = [
    # a value by itself
    (GOOD.replace('name = "Test Lights"', ""), r"line 1, scheme / name: name is missing; write .*Harbour"),
    (skill('surfase = "mat"'), r"line 11, award spark / skill tuck / surfase: .*did you mean \"surface\""),
    (skill("needs = 3"), r"line 11, award spark / skill tuck / needs: .*in an \[\[award\]\]"),
    (skill("rest_s = 3"), r"line 11, .*rest_s has no place in an \[\[award.skill\]\].*below \[scheme\]"),
    (skill('line = "four"'), r"line 11, .* / line: \"four\" is not a whole number; write .*line = 4"),
    (skill("line = 0"), r"line 11, .* / line: 0 is too small; it must be at least 1"),
    (skill("line = 2.5"), r"line 11, .* / line: 2.5 is not a whole number"),
    (skill('light = "maybe"'), r"line 11, .* / light: .* neither true nor false; write .*light = true"),
    (skill('sides = "both"'), r"line 11, .* / sides: \"both\" is not one of the choices; .*\"each\""),
    (skill("home = false"), r"line 11, .* / home: false should be words in quotes; .*home = \"no\""),
    (skill("shows = 2"), r"line 11, .* / shows: 2 should be a list; .*one show or two"),
    (skill("shows = []"), r"line 11, .* / shows: this list is too short"),
    (skill("shows = [{}, {}, {}]"), r"line 11, .* / shows: there are more than 2 here"),
    (skill('shows = [{hold_s = "3s"}]'), r"line 11, .*tuck / show 1 / hold_s: \"3s\" is not a whole number"),
    (skill("shows = [\n  {},\n  {hold = 3} ]"), r"line 13, .*show 2 / hold: .*did you mean \"hold_s\""),
    (skill('shows = [{}, {rest = "long"}]'), r"line 11, .*show 2 / rest: .*breather"),
    (GOOD.replace('id = "hop"', 'id = "Hop on!"'), r"line 14, .* / id: \"Hop on!\" is no id, .*\"hop-on\""),
    (GOOD.replace('  id = "hop"\n', ""), r"line 13, award spark / skill Hop on / id: id is missing"),
    (GOOD.replace("Hop on", ""), r"line 15, award spark / skill hop / name: there is nothing between"),
    (GOOD.replace('name = "Test', 'repeat_within = "week"\nname = "Test'), r"line 2, scheme / repeat_within"),
    (GOOD.replace('label = "Small as can be"', "need = true"), r"line 11, .*point small / need: .*\"aim\""),
    (GOOD.replace("[scheme]", "[schema]"), r"line 1, schema: .*did you mean \"scheme\""),
    ('name = "x"\n' + GOOD, r"line 1, name: .*where it belongs \(below \[scheme\]"),
    (GOOD.replace("[[award]]", "[award]").replace("[[award.skill]]", "[skill]", 1).replace(
        "[[award.skill]]", "[x]"), r"line 4, award: this should be a list; write .*\[\[award\]\]"),
    # the file as a whole
    ("[scheme]\nname = Lights\n", r"line 2, the file: .*straight quotes"),
    ("[scheme]\nname = “Lights”\n", r"line 2, the file: .*instead of curly"),
    ('[scheme]\nname = "a"\nname = "b"\n', r"line 3, the file: .*given twice"),
    ('[scheme]\nname = "a"\n[award]\n[award]\n', r"line 4, the file: .*\[\[award\]\]"),
    ('[scheme]\nname = "a\n', r"line 2, the file: .*is closed"),
    ("", r"line 1, scheme: scheme is missing; write .*\[scheme\]"),
    ('[scheme]\nname = "a"\n', r"line 1, award: there is no award; begin one with \[\[award\]\]"),
    # awards
    (GOOD + '[[award]]\nid = "glow"\nname = "Glow"\n', r"line 16, award glow / skill: .*no skills.*delete"),
    (GOOD + '[[award]]\nid = "spark"\nname = "Glow"\n', r"line 17, award spark / id: another award.*its own"),
    (GOOD + '[[award]]\nid = "glow"\nname = "spark"\n', r"line 18, award glow / name: .*another name"),
    (GOOD.replace('"Spark"', '"Spark"\nneeds = 3'), r"line 7, award spark / needs: 3 .*write needs = 2"),
    (GOOD.replace('"Spark"', '"Spark"\nneeds = 2').replace('"Hop on"', '"Hop"\nretired = true'),
     r"line 7, award spark / needs: 2 skills are asked for, but the award has 1"),
    (GOOD.replace('"Spark"', '"Spark"\nneeds = 1\nmust = ["hop", "tuck"]'),
     r"line 7, award spark / needs: .*2 must be among them; write needs = 2"),
    (GOOD.replace('"Spark"', '"Spark"\nmust = ["hopp"]'), r"line 7, .* / must: .*did you mean \"hop\""),
    (GOOD.replace('"Spark"', '"Spark"\nmust = ["hop"]').replace('"Hop on"', '"Hop"\nretired = true'),
     r"line 7, award spark / must: \"hop\" is retired.*take it out"),
    (GOOD.replace('"Spark"', '"Spark"\nafter = ["spark"]'), r"line 7, award spark / after: .*take \"spark\""),
    (FULL.replace('name = "Candle"', 'name = "Candle"\nafter = "lantern"'),
     r"line 10, award candle / after: .*after \"lantern\" and before it"),
    (FULL.replace('after = ["candle"]', 'after = ["candel"]'), r"line 17, .* / after: .*mean \"candle\""),
    # skills among each other
    (GOOD.replace('id = "hop"', 'id = "tuck"'), r"line 14, .* / id: the skill on line 8 has .*give this one"),
    (GOOD.replace('"Hop on"', '"tuck-hold"'), r"line 15, .*hop / name: .*Tuck hold \(line 8\).*change one"),
    (GOOD + '  uses = ["tukk"]\n', r"line 16, .*hop / uses: there is no skill \"tukk\".*mean \"tuck\""),
    (GOOD + '  uses = ["hop"]\n', r"line 16, .*hop / uses: .*made of itself.*take \"hop\" out"),
    (skill('uses = ["hop"]') + '  uses = ["tuck"]\n', r"line 17, .*hop / uses: .*itself, by \"tuck\""),
    # a skill by itself
    (skill('points = [{id = "a"}, {id = "A"}]').replace('  points = [ {id = "small"', '  #'),
     r"line 11, .* / point A: this skill has a point \"A\" already; give"),
    (skill('parts = ["a",\n "a"]'), r"line 12, .* / part a: this skill has a part \"a\" already"),
    (skill('ways = ["a", "a"]'), r"line 11, .* / way a: this skill has a way \"a\" already"),
    (GOOD.replace('can be"', 'can be", parts = ["x"]'), r"line 11, .*point small / parts: .*no part \"x\""),
    (GOOD.replace('can be"', 'can be", ways = ["x"]'), r"line 11, .*point small / ways: .*no way \"x\""),
    (GOOD.replace('can be"', 'can be", sides = ["left"]'), r"line 11, .*small / sides: .*add sides ="),
    (GOOD.replace('can be"', 'can be", sides = ["up"]'), r"line 11, .*small / sides: \"up\" .*\[\"left\"\]"),
    (GOOD.replace('can be"', 'can be", shows = [2]'), r"line 11, .*small / shows: .*no show 2 .*second one"),
    (skill("shows = [{bpm = [120, 90]}]"), r"line 11, .*show 1 / bpm: .*write bpm = \[90, 120\]"),
    (skill('parts = [{id = "a", bpm = [120, 90]}]'), r"line 11, .*part a / bpm: .*bpm = \[90, 120\]"),
    (skill("shows = [{exact = true}]"), r"line 11, .*show 1 / exact: .*add reps = 5"),
    (skill('side_means = "the hand"'), r"line 11, .* / side_means: .*add sides = \"each\""),
    (skill('shows = [{}, {rest = "breather", rest_s = 4}]'), r"line 11, .*show 2 / rest: .*delete"),
    (skill("shows = [{rest_s = 4}, {}]"), r"line 11, .*show 1 / rest_s: .*move it to the second show"),
    (skill('sides = "each"\n  parts = [{id = "a", sides = "one"}]'), r"line 11, .* / sides: every part"),
    (skill('sides = "each"\n  parts = ["left"]'), r"line 12, .*part left: .*is a side.*delete the parts"),
]


@pytest.mark.parametrize(("text", "said"), BROKEN, ids=[said[:60] for _, said in BROKEN])
def test_each_fault_names_its_line_its_key_and_a_remedy(text: str, said: str) -> None:
    """Whatever a club officer gets wrong is told with its place and what to do about it."""
    assert re.search(said, faults(text), re.MULTILINE), faults(text)


def test_all_faults_are_told_at_once() -> None:
    """A file with an unknown key, a bad value and a bad reference hears of all three, in their order."""
    text = skill('nme = 1\n  line = 0').replace('can be"', 'can be", parts = ["x"]')
    assert [line.split(",")[0] for line in faults(text).splitlines()] == ["line 11", "line 12", "line 13"]


def test_a_fault_brings_no_false_ones_with_it() -> None:
    """Where the parts cannot be read, nothing is said of points that name them."""
    text = skill("parts = 3").replace('can be"', 'can be", parts = ["x"]')
    assert len(faults(text).splitlines()) == 1


def test_a_file_past_mending_still_answers() -> None:
    """No text makes the checks fall over."""
    for text in ("award = 3", "[scheme]\n[[award]]\nskill = 5", 'award = [1]', '[[award]]\n[[award.skill]]',
                 "scheme = 1", "[[scheme]]", '[[award]]\nskill = [[1]]', "\x00"):
        assert examine(text)[1]


def test_piece_names_are_parts_by_sides() -> None:
    """A part may say its own sides."""
    parts = [{"id": "a", "sides": "each"}, "b"]
    assert Skill.model_validate({"id": "x", "name": "X", "parts": parts}).pieces == ("a left", "a right", "b")


def test_a_point_without_a_label_is_called_by_its_id() -> None:
    """A label is made of the id where there is none."""
    assert Point.model_validate({"id": "straight-legs"}).label == "straight legs"


def test_a_word_that_two_skills_share_is_allowed():
    """What two skills can be typed with is asked about in the talk, so a file may share a word."""
    text = GOOD + '  words = ["hopp",\n   "TÚCK"]\n'
    assert "TÚCK" in next(one for one in read_scheme(text).skills.values() if one.id == "hop").words
