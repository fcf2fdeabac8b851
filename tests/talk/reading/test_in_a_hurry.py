"""What a coach types in a hurry: understood as meant, or answered clearly, and never taken for something else."""
from __future__ import annotations

from datetime import time

import pytest

from bot.talk.requests import Add, Mark, MarkLine, Names, Note, NotUnderstood, Owed, Points, Say, Start, Typed, Watch
from tests.talk.reading.words_of_a_club import BARE, MOMENT, ids, moment, refused, understood


def seen(names: str, skill: str = "shoulder-stand") -> Mark:
    return Mark(ids(names), "seen", skill)


def missed(names: str, *points: str) -> Mark:
    return Mark(ids(names), "not yet", "shoulder-stand", points=points)


AVA, BEN, GUS, HANA, MIA, LEO = "Ava Price", "Ben Okafor", "Gus Petrov", "Hana Sato", "Mia Costa", "Leo Brandt"
UNDERSTOOD: dict[str, tuple[Typed, ...]] = {
    "ava and ben seen": (seen(f"{AVA}, {BEN}"),),
    "Ava seen.": (seen(AVA),),
    "seen: ava, ben": (seen(f"{AVA}, {BEN}"),),
    "Ava Price seen": (seen(AVA),),
    "ava's seen": (seen(AVA),),
    "ava/ben seen": (seen(f"{AVA}, {BEN}"),),
    "ava & ben seen": (seen(f"{AVA}, {BEN}"),),
    "ava+ben seen": (seen(f"{AVA}, {BEN}"),),
    "“Ava” seen": (seen(AVA),),
    "ＡＶＡ seen": (seen(AVA),),
    "ava yes": (seen(AVA),),
    "ava ok": (seen(AVA),),
    "ava did it": (seen(AVA),),
    "ava 👍": (seen(AVA),),
    "ava 👍🏽": (seen(AVA),),
    "ava✓": (seen(AVA),),
    "ok ava seen": (seen(AVA),),
    "ava seen thanks": (seen(AVA),),
    "gus nope": (missed(GUS),),
    "gus no hips": (missed(GUS, "hips"),),
    "gus not": (missed(GUS),),
    "gus not hips": (missed(GUS, "hips"),),
    "gus again": (missed(GUS),),
    "gus needs another go": (missed(GUS),),
    "gus failed": (missed(GUS),),
    "ava ✓ ben ✗": (seen(AVA), missed(BEN)),
    "ava ✅ ben ❌": (seen(AVA), missed(BEN)),
    "ava seen ben not yet": (seen(AVA), missed(BEN)),
    "ava seen then ben not yet": (seen(AVA), missed(BEN)),
    "ava seen but not gus": (seen(AVA), missed(GUS)),
    "7y 8n": (seen(GUS), missed(HANA)),
    "number 7 seen": (seen(GUS),),
    "#7 seen": (seen(GUS),),
    "7 8 seen": (seen(f"{GUS}, {HANA}"),),
    "7-8 seen": (seen(f"{GUS}, {HANA}"),),
    "7 to 8 seen": (seen(f"{GUS}, {HANA}"),),
    "all seen!": (MarkLine(),),
    "everyone seen": (MarkLine(),),
    "everybody ✓": (MarkLine(),),
    "the rest seen": (MarkLine(),),
    "all ok": (MarkLine(),),
    "ok all seen": (MarkLine(),),
    "all seen but gus": (MarkLine(left=ids(GUS)),),
    "all seen except gus": (MarkLine(left=ids(GUS)),),
    "all bar gus": (MarkLine(left=ids(GUS)),),
    "all but 7 seen": (MarkLine(left=ids(GUS)),),
    "all seen but not gus": (MarkLine(missed=ids(GUS)),),
    "all seen not gus": (MarkLine(missed=ids(GUS)),),
    "not gus and hana": (MarkLine(missed=ids(f"{GUS}, {HANA}")),),
    "not 7 8": (MarkLine(missed=ids(f"{GUS}, {HANA}")),),
    "not 7, 8": (MarkLine(missed=ids(f"{GUS}, {HANA}")),),
    "not 7; not 8": (MarkLine(missed=ids(f"{GUS}, {HANA}")),),
    "none": (MarkLine("not yet"),),
    "all not yet": (MarkLine("not yet"),),
    "none yet hips": (MarkLine("not yet", points=("hips",)),),
    "ben away today": (Note("away", ids(BEN)),),
    "mia is here": (Note("here", ids(MIA)),),
    "leo not here": (Note("away", ids(LEO)),),
    "leo isn't here": (Note("away", ids(LEO)),),
    "mia has gone home": (Note("away", ids(MIA)),),
    "all here": (Say("everyone"),),
    "everyone's here": (Say("everyone"),),
    "all here but mia": (Note("away", ids(MIA)),),
    "all here, mia away": (Note("away", ids(MIA)),),
    "mia leaves 5.45": (Note("leaves", ids(MIA), time(17, 45)),),
    "mia leaves at 6": (Note("leaves", ids(MIA), time(18)),),
    "mia leaves 11.15": (Note("leaves", ids(MIA), time(23, 15)),),
    "mia leaves 17:45": (Note("leaves", ids(MIA), time(17, 45)),),
    "what's owed": (Owed(),),
    "owed?": (Owed(),),
    "what does ava owe?": (Owed(ids(AVA)),),
    "who rests": (Say("resting"),),
    "who is next": (Say("next"),),
    "next?": (Say("next"),),
    "ok": (Say("yes"),),
    "?": (Say("help"),),
    "start lanterns": (Start(("tue",)),),
    "start mixed": (Start(("thu",)),),
    "start cartwheel": (Watch("cartwheel"),),
    "end the class": (Say("stop"),),
    "stop it": (Say("stop"),),
    "add zoe, max": (Add("zoe"), Add("max")),
}


@pytest.mark.parametrize("text", UNDERSTOOD, ids=repr)
def test_it_is_taken_as_meant(text: str) -> None:
    """What can only mean one thing means it."""
    assert understood(text) == UNDERSTOOD[text]


REFUSED = {
    "ava ben chidi": ("ava", "no verdict"),         # names only, and nobody asked for names
    "all": ("all", "no verdict"),
    "gus - hips": ("gus", "no verdict"),
    "gus hips": ("gus", "no verdict"),
    "seen": ("seen", "no child"),
    "👍": ("👍", "no child"),
    "seen cartwheel": ("seen", "no child"),          # never everybody
    "not yet": ("not", "no child"),
    "hips": ("hips", "no child"),
    "all seen show 2": ("show 2", "no child"),       # a line is marked whole, a child by name in parts
    "ava seen?": ("?", "word"),                      # a question is no mark
    "is mia here?": ("?", "word"),
    "ava seen xyzzy": ("xyzzy", "word"),
    "not all": ("all", "word"),
    "thanks": ("thanks", "word"),
    "gus ok not yet": ("not", "no child"),           # two verdicts
    "...": ("...", "word"),
    "": ("", "empty"),
    " \n ": ("", "empty"),
    "later ben": ("later", "time"),
    "later ben and ava 3 weeks": ("later", "no child"),
    "mia leaves": ("mia", "time"),
    "add": ("add", "needs name"),
    "join": ("join", "needs code"),
}


@pytest.mark.parametrize("text", REFUSED, ids=repr)
def test_it_is_clearly_answered(text: str) -> None:
    """What can't be meant says which word it was, and why."""
    answer = refused(text)
    assert (answer.word, answer.why) == REFUSED[text]


@pytest.mark.parametrize("text", ["yes; ava seen", "no, all seen", "no. 7 seen", "stop; ava seen", "yes ava seen"])
def test_yes_no_and_stop_are_said_alone(text: str) -> None:
    """A yes would answer a question by the way, and a stop end a consent: neither is one word among others."""
    refused(text)


def test_nobody_is_no_mark_while_names_are_asked_for() -> None:
    """`none` says of the open line that nobody has it, but not as the answer to who was missing."""
    assert understood("none") == (MarkLine("not yet"),)
    assert refused("none", moment(expects="names")).why == "no child"


def test_a_mark_needs_a_skill() -> None:
    """With nothing watched the skill is asked for, and the one named first holds for the marks after it."""
    assert refused("ava seen", BARE).why == "no skill"
    assert understood("ava seen cartwheel; ben seen", BARE) == (seen(AVA, "cartwheel"), seen(BEN, "cartwheel"))
    assert understood("cartwheel: ava seen\nben seen", BARE) == (seen(AVA, "cartwheel"), seen(BEN, "cartwheel"))


def test_each_child_is_marked_on_the_skill_of_her_own_line() -> None:
    """Where two lines are open, a mark without a skill goes to the line that the child stands in."""
    two = moment(skill_of={"ava.price": "cartwheel", "ben.okafor": "forward-roll"})
    assert understood("ava, ben seen", two) == (seen(AVA, "cartwheel"), seen(BEN, "forward-roll"))


def test_an_answer_is_taken_before_anything_else() -> None:
    """Names where names were asked for, points where points were; other words keep their meaning."""
    assert understood("gus, hana", moment(expects="names")) == (Names(ids(f"{GUS}, {HANA}")),)
    assert understood("gus\nhana", moment(expects="names")) == (Names(ids(f"{GUS}, {HANA}")),)
    assert understood("7", moment(expects="names")) == (Names(ids(GUS)),)
    assert understood("ava seen", moment(expects="names")) == (seen(AVA),)
    assert understood("hips toes", moment(expects="points")) == (Points(("hips", "toes")),)
    assert understood("toes to the ceiling", moment(expects="points")) == (Points(("toes",)),)
    assert refused("down", moment(expects="points")) == NotUnderstood("down", "aim")


@pytest.mark.parametrize("text", ["ava seen; zebedee away", "ava seen\nben flarp", "all seen, gus not yet flarp"])
def test_nothing_of_a_message_is_partly_understood(text: str) -> None:
    """One unknown word, and nothing of the message is taken."""
    refused(text)


def test_a_child_of_elsewhere_is_an_unknown_word() -> None:
    """Nothing tells a child of another class from a name that nobody bears."""
    for form in ("{} seen", "owed {}", "all but {} seen", "not {}", "ava, {} seen", "later {} 3 weeks", "bump {}"):
        assert refused(form.format("noor")) == NotUnderstood("noor")
        assert refused(form.format("zebedee")) == NotUnderstood("zebedee")


@pytest.mark.parametrize("text", ["left is ava ben", "cartwheel is ava ben", "ava is ben chidi"])
def test_a_group_bears_no_name_that_means_something_else(text: str) -> None:
    """A group called like a side, a skill or a child would take that word away."""
    assert refused(text, MOMENT).why == "no verdict"
