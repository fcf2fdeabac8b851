"""Each row of what can be typed, and how a text with two sides is read."""
from __future__ import annotations

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from bot.people.model import ClubClass
from bot.scheme.load import read_scheme
from bot.talk.reading import Context, Vocabulary, read
from bot.talk.requests import (
    Add,
    Join,
    Later,
    Mark,
    MarkLine,
    NameGroup,
    Names,
    Note,
    NotUnderstood,
    Owed,
    Points,
    Say,
    Standard,
    Start,
    Understood,
    Watch,
    WhichOne,
)

LONDON = ZoneInfo("Europe/London")
NOW = datetime(2026, 11, 24, 17, 30, tzinfo=LONDON)
SCHEME = read_scheme("""
[scheme]
name = "Bench"
[[award]]
id = "one"
name = "One"
  [[award.skill]]
  id = "cartwheel"
  name = "Cartwheel"
  sides = "each"
  loads = ["wrists"]
  points = [{id = "legs", label = "Straight legs"}, {id = "flow", label = "Flow", need = "aim"}]
  [[award.skill]]
  id = "shoulder-stand"
  name = "Shoulder stand"
  words = ["candle up"]
  points = [{id = "hips", label = "Hips over shoulders"}, {id = "toes", label = "Toes to the ceiling"}]
  shows = [{seconds = 20}, {seconds = 20, rest_s = 45}]
  [[award.skill]]
  id = "medley"
  name = "Dance medley"
  parts = ["galop", "polka", "waltz"]
  [[award.skill]]
  id = "spin"
  name = "Spin"
  sides = "either"
  ways = ["seated"]
  loads = ["landing"]
""")
NAMES = ("Ava Price", "Ben Okafor", "Gus Petrov", "Mia Costa", "Leo Brandt", "Mark Ellery", "Will Tanner", "Ji-ho Seen",
         "Łucja Undo", "Siân O'Dea", "Ana Castro", "Ana Duarte", "Red Moss", "Dara Lund")
IDS = {name: name.split()[0].lower() + name.split()[1][0].lower() for name in NAMES}
WORDS = Vocabulary(
    tuple((IDS[name], name) for name in NAMES), SCHEME,
    (ClubClass(id="tue", name="Lanterns", day="tuesday", start=time(17)),
     ClubClass(id="thu", name="Candles", day="thursday", start=time(16))),
)
AVA, BEN, GUS, MIA, LEO = "avap", "beno", "gusp", "miac", "leob"


def context(**more):
    """The moment: shoulder stand is watched, Ava, Ben and Gus stand there as 5, 6 and 7."""
    usual = {"skill": "shoulder-stand", "numbers": {5: AVA, 6: BEN, 7: GUS}, "line": (AVA, BEN, GUS),
             "groups": {"blue": (AVA, BEN)}}
    return Context(vocabulary=WORDS, now=NOW, **{**usual, **more})


def asked(text, **more):
    """What a text asks for; fails where it has not one reading."""
    result = read(text, context(**more))
    assert isinstance(result, Understood), result
    return result.requests


def seen(*children, skill="shoulder-stand", **more):
    return Mark(tuple(children), "seen", skill, **more)


def missed(*children, skill="shoulder-stand", **more):
    return Mark(tuple(children), "not yet", skill, **more)


TABLE = [
    ("start", (Start(),)), ("start tuesday", (Start(("tue",)),)), ("START Candles", (Start(("thu",)),)),
    ("close", (Say("close"),)), ("Undo", (Say("undo"),)), ("pause", (Say("pause"),)), ("carry on", (Say("carry on"),)),
    ("ava seen", (seen(AVA),)), ("seen ava", (seen(AVA),)), ("AVA SEEN.", (seen(AVA),)), ("ava y", (seen(AVA),)),
    ("ava ✓", (seen(AVA),)), ("ben n", (missed(BEN),)),
    ("ava, ben and gus seen cartwheel", (seen(AVA, BEN, GUS, skill="cartwheel"),)),
    ("cartwheel seen ben ava", (seen(BEN, AVA, skill="cartwheel"),)),
    ("ava seen candle up", (seen(AVA),)),
    ("all seen", (MarkLine(),)), ("none yet", (MarkLine("not yet"),)),
    ("all but gus seen", (MarkLine(left=(GUS,)),)), ("not 7", (MarkLine(missed=(GUS,)),)),
    ("not gus", (MarkLine(missed=(GUS,)),)), ("not 7 hips", (MarkLine(missed=(GUS,), points=("hips",)),)),
    ("ben not yet hips", (missed(BEN, points=("hips",)),)), ("ben not yet", (missed(BEN),)),
    ("hips ben not yet", (missed(BEN, points=("hips",)),)),
    ("ava seen left cartwheel", (seen(AVA, skill="cartwheel", pieces=("left",)),)),
    ("ava seen galop polka medley", (seen(AVA, skill="medley", pieces=("galop", "polka")),)),
    ("ava seen show 2", (seen(AVA, show=2),)), ("5, 6 seen", (seen(AVA, BEN),)),
    ("ava seen spin left", (seen(AVA, skill="spin", way="left"),)),
    ("ava seen spin seated", (seen(AVA, skill="spin", way="seated"),)),
    ("ava, ben seen; gus not yet toes", (seen(AVA, BEN), missed(GUS, points=("toes",)))),
    ("ava seen\nben not yet", (seen(AVA), missed(BEN))), ("ava seen, ben not yet", (seen(AVA), missed(BEN))),
    ("at 17:10: ava seen", (seen(AVA, at=datetime(2026, 11, 24, 17, 10, tzinfo=LONDON)),)),
    ("on thursday at 16:10: ava seen", (seen(AVA, at=datetime(2026, 11, 19, 16, 10, tzinfo=LONDON)),)),
    ("mia away", (Note("away", (MIA,)),)), ("mia and leo away", (Note("away", (MIA, LEO)),)),
    ("mia here", (Note("here", (MIA,)),)), ("mia sits", (Note("sits", (MIA,)),)), ("mia back", (Note("back", (MIA,)),)),
    ("mia leaves 17:45", (Note("leaves", (MIA,), until=time(17, 45)),)),
    ("ava no landings", (Note("spared", (AVA,), load="landing"),)), ("bump ben", (Note("bump", (BEN,)),)),
    ("add Zoe Quill", (Add("Zoe Quill"),)), ("green is ava ben", (NameGroup("green", (AVA, BEN)),)),
    ("blue seen", (seen(AVA, BEN),)), ("later ben 3 weeks", (Later(BEN, 21),)),
    ("owed", (Owed(),)), ("owed ava", (Owed((AVA,)),)), ("resting", (Say("resting"),)),
    ("standard", (Standard(),)), ("standard cartwheel", (Standard("cartwheel"),)), ("next", (Say("next"),)),
    ("skip", (Say("skip"),)), ("cartwheel", (Watch("cartwheel"),)), ("join AB12-cd34", (Join("AB12-cd34"),)),
    ("help", (Say("help"),)), ("stop", (Say("stop"),)), ("everyone", (Say("everyone"),)),
]


@pytest.mark.parametrize(("text", "expected"), TABLE, ids=[text for text, _ in TABLE])
def test_each_form_of_the_table(text, expected):
    """Each form that can be typed asks for what it says."""
    assert asked(text) == expected


@pytest.mark.parametrize("word", ["end", "cancel", "quit", "stop", "END", "Stop."])
def test_words_that_a_carrier_takes_for_an_opt_out_are_never_commands(word):
    """End, stop, cancel and quit end a lesson for nobody: they are an opt-out."""
    assert asked(word) == (Say("stop"),)


NAMED = [
    ("mark seen", (seen("marke"),)), ("will not yet", (missed("willt"),)), ("ji-ho seen", (seen("ji-hos"),)),
    ("jiho seen seen", (seen("ji-hos"),)), ("ji ho seen seen cartwheel", (seen("ji-hos", skill="cartwheel"),)),
    ("undo", (Say("undo"),)), ("lucja undo seen", (seen("łucjau"),)), ("LUCJA seen", (seen("łucjau"),)),
    ("sian odea seen", (seen("siâno"),)), ("Siân O’Dea seen", (seen("siâno"),)), ("ana c seen", (seen("anac"),)),
    ("ana duarte seen", (seen("anad"),)), ("red seen", (seen("redm"),)),
]


@pytest.mark.parametrize(("text", "expected"), NAMED, ids=[text for text, _ in NAMED])
def test_children_come_first(text, expected):
    """A child whose name is one of our words is the child where that makes the complete reading."""
    assert asked(text) == expected


def test_two_of_one_name_are_asked_about():
    """Ana alone is asked about, with the shortest way to tell the two apart."""
    result = read("ana seen", context())
    assert isinstance(result, WhichOne)
    assert (result.why, [label for label, _ in result.options]) == ("child", ["Ana C", "Ana D"])
    assert result.options[0][1].requests == (seen("anac"),)


@pytest.mark.parametrize("text", ["avva seen", "gsu not yet hips", "at 17:10: bne seen", "mrak seen"])
def test_a_name_with_a_slip_is_asked_never_guessed(text):
    """A slip in a name is never forgiven silently."""
    result = read(text, context())
    assert isinstance(result, WhichOne)
    assert result.why == "slip"


@pytest.mark.parametrize(("text", "expected"), [
    ("ava seen cartwheeel", (seen(AVA, skill="cartwheel"),)), ("mia bakc", (Note("back", (MIA,)),)),
    ("ben not yet hipss", (missed(BEN, points=("hips",)),)), ("restng", (Say("resting"),)),
])
def test_a_small_slip_in_our_words_is_forgiven(text, expected):
    """Our own words, skills and points forgive a letter."""
    assert asked(text) == expected


@pytest.mark.parametrize(("text", "why"), [
    ("seen", "no child"), ("not yet", "no child"), ("ava", "no verdict"), ("ava ben", "no verdict"),
    ("zebedee seen", "word"), ("ava seen xyzzy", "word"), ("ava seen; zebedee seen", "word"),
    ("ava seen left", "no side"), ("ava seen cartwheel show 2", "no such show"),
    ("ava not yet cartwheel flow", "aim"), ("at 18:10: ava seen", "future"),
    ("on 2026-11-01 at 17:10: ava seen", "too old"),
    ("at 25:10: ava seen", "time"), ("", "empty"), ("   ", "empty"), ("a" * 2001, "too long"),
])
def test_what_is_not_understood_says_why(text, why):
    """One part that is not understood, and nothing of the message is taken; the reason is told."""
    result = read(text, context())
    assert isinstance(result, NotUnderstood), result
    assert result.why == why


def test_a_mark_needs_a_skill():
    """Where nothing is watched and no skill was typed, it is asked for."""
    result = read("ava seen", context(skill=None))
    assert isinstance(result, NotUnderstood)
    assert result.why == "no skill"


def test_a_child_in_another_line_is_marked_there():
    """Where the skill is left out, a child's own open line says which."""
    assert asked("gus seen", skill_of={GUS: "cartwheel"}) == (seen(GUS, skill="cartwheel"),)


def test_answers_to_questions():
    """Where names are asked for, names alone are the answer; where points are, points; numbers are the line's."""
    assert asked("mia, leo", expects="names") == (Names((MIA, LEO)),)
    assert asked("ji-ho seen", expects="names") in ((Names(("ji-hos",)),), (seen("ji-hos"),))
    assert asked("6 7", expects="names") == (Names((BEN, GUS)),)
    assert asked("hips", expects="points") == (Points(("hips",)),)


def test_a_skipped_hour_is_no_time():
    """A local time that the clocks skip is refused, and a doubled one is the first (RFC 5545 3.3.5)."""
    spring = Context(vocabulary=WORDS, now=datetime(2027, 3, 28, 12, 0, tzinfo=LONDON), skill="spin")
    result = read("at 01:30: ava seen", spring)
    assert isinstance(result, NotUnderstood)
    assert result.why == "time"
    autumn = Context(vocabulary=WORDS, now=datetime(2026, 10, 25, 12, 0, tzinfo=LONDON), skill="spin")
    (mark,) = read("at 01:30: ava seen", autumn).requests
    assert mark.at.astimezone(UTC) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
