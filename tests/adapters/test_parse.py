"""Reading scripts: every line of the contract, and faults that say where."""
from __future__ import annotations

from datetime import time, timedelta
from pathlib import Path

import pytest

from adapters.play.parse import parse
from adapters.play.script import (
    Again,
    Anything,
    At,
    Expect,
    Expected,
    Invite,
    Later,
    LoadHall,
    Move,
    MoveClock,
    Nobody,
    Prose,
    Reach,
    Restart,
    ScriptErrors,
    Speak,
)

HERE = Path("one.talk")
HEAD = "clock 2026-11-24 16:58\n"


def only(text: str) -> Move:
    """The one move after the clock."""
    return parse(HERE, HEAD + text).moves[1]


@pytest.mark.parametrize(("line", "action"), [
    ("hall harbour-lane", LoadHall("harbour-lane")),
    ("hall harbour-lane   # the demo hall", LoadHall("harbour-lane")),
    ("clock +46s", MoveClock(Later(timedelta(seconds=46)), "+46s")),
    ("clock +1h 30m", MoveClock(Later(timedelta(minutes=90)), "+1h 30m")),
    ("clock +7d", MoveClock(Later(timedelta(), 7), "+7d")),
    ("clock 17:30", MoveClock(At(time(17, 30)), "17:30")),
    ("clock 2026-12-01 16:58", MoveClock(At(time(16, 58), "2026-12-01"), "2026-12-01 16:58")),
    ("jo: start tuesday", Speak("jo", "start tuesday")),
    ("jo:", Speak("jo", "")),
    ("jo: at 17:10: ava seen", Speak("jo", "at 17:10: ava seen")),
    ("jo: [All seen]", Speak("jo", label="All seen")),
    ("jo: [All seen] @ -2", Speak("jo", label="All seen", back=2)),
    ("jo (sent 17:03): ava seen", Speak("jo", "ava seen", sent=At(time(17, 3)))),
    ("jo (sent 17:03): [Go]", Speak("jo", label="Go", sent=At(time(17, 3)))),
    ("again", Again()),
    ("offline jo", Reach("jo", online=False)),
    ("online jo", Reach("jo", online=True)),
    ("restart", Restart()),
    ('invite --parent "Ava Price" as ann', Invite("ann", child="Ava Price")),
    ("invite sam as sam2", Invite("sam2", person="sam")),
    ("expect Ava Price / shoulder-stand: resting", Expect("Ava Price", "resting", skill="shoulder-stand")),
    ("expect Niamh O'Dea / Shoulder stand: ready", Expect("Niamh O'Dea", "ready", skill="Shoulder stand")),
    ("expect Ava Price / award lantern: working", Expect("Ava Price", "working", award="lantern")),
    ("nobody hears anything", Nobody()),
    ("# Two shows", Prose("Two shows")),
])
def test_each_line_of_the_contract(line: str, action: object) -> None:
    """Every kind of line at the margin is read as the contract says."""
    assert only(line).action == action


def test_what_comes_back() -> None:
    """Indented lines are messages to the speaker or to another, with their choices, and anything at all."""
    move = only(
        "jo: hi\n  < Everyone here? ...\n  | 12 children.\n  [Everyone] [Some missing]\n  [...]\n  ...\n\tsam < Hello\n"
    )
    assert move.items == (
        Expected((3, 4), None, "Everyone here? ...\n12 children.", ("Everyone", "Some missing", "..."), (5, 6)),
        Anything((7,)),
        Expected((8,), "sam", "Hello"),
    )


def test_a_message_of_two_lines() -> None:
    """`|` below what somebody says goes on with it, on a new line of the same message."""
    assert only("jo: ava seen\n  | gus not yet\n  < ...").action == Speak("jo", "ava seen\ngus not yet")


def test_comments_and_blank_lines_anywhere() -> None:
    """Comments and blank lines part nothing: what comes back may go on below them."""
    move = only("jo: hi\n  < One\n\n  # why\n# prose\n  < Two")
    assert [item.text for item in move.items if isinstance(item, Expected)] == ["One", "Two"]


@pytest.mark.parametrize(("text", "at", "says"), [
    ("jo: hi", 1, "before the first clock line"),
    ("clock +46s", 1, "a date and a time"),
    ("clock 16:58", 1, "a date and a time"),
    (HEAD + "clock 25:00", 2, "not a time"),
    (HEAD + "clock soon", 2, "not a time"),
    (HEAD + "clock +5 parsecs", 2, "not a span"),
    (HEAD + "hal harbour-lane", 2, '"hal" begins no line'),
    (HEAD + "hall", 2, "which hall"),
    (HEAD + "jo: hi\n  Hello", 3, "an indented line is"),
    (HEAD + "jo: hi\n  [Yes]", 3, "below the message"),
    (HEAD + "jo: hi\n  < Hello\n  [Yes] or no", 4, "nothing but choices"),
    (HEAD + "hall x\n  | more", 3, "none on the line above"),
    (HEAD + "expect Ava / cartwheel: fine", 2, "is no standing"),
    (HEAD + "expect Ava / award lantern: ticked", 2, "is no standing"),
    (HEAD + "expect Ava", 2, "write `expect"),
    (HEAD + "expect Ava / cartwheel: ready\n  < hi", 3, "nothing comes back here"),
    (HEAD + "nobody hears", 2, "nobody hears anything"),
    (HEAD + "again and again", 2, "stands alone"),
    (HEAD + "invite ava", 2, "an invitation is"),
    (HEAD + "offline", 2, "whose phone"),
    (HEAD + "jo: [One] [Two]", 2, "one choice"),
    ("  < hi", 1, "nothing was done yet"),
])
def test_faults_say_where(text: str, at: int, says: str) -> None:
    """A line that can't be read is named with its file and number, and with what would do."""
    with pytest.raises(ScriptErrors, match=rf"^one\.talk:{at}: .*{says}"):
        parse(HERE, text)


def test_all_faults_at_once() -> None:
    """Everything that can't be read is told at once."""
    with pytest.raises(ScriptErrors) as caught:
        parse(HERE, HEAD + "hal x\njo: hi\nwat\n")
    assert [fault.at for fault in caught.value.faults] == [2, 4]


def test_a_first_clock_that_is_wrong_is_the_only_fault() -> None:
    """After a first clock line that can't be read the rest is not called early."""
    with pytest.raises(ScriptErrors) as caught:
        parse(HERE, "clock tomorrow\njo: hi\n")
    assert len(caught.value.faults) == 1
