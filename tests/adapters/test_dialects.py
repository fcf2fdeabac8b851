"""Scripts by many hands: what an editor, a habit or a system changes makes no difference."""
from __future__ import annotations

import re
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.play.match import choices_fit, text_fits
from adapters.play.parse import parse, read_script
from adapters.play.script import Script, ScriptErrors

HERE = Path("one.talk")
HEAD = "clock 2026-11-24 16:58\n"
TALK = (
    "hall harbour-lane\n" + HEAD + '\ninvite --parent "Ava Price" as ann\njo: start\n  < Everyone here? ...\n'
    "  [Everyone] [...]\njo: [Everyone]\n  ...\nclock +46s\n  sam < Rested\n  | again\n  ...\n"
    "expect Ava Price / award lantern: working\nnobody hears anything\n"
)


def shape(text: str) -> list[tuple[object, object]]:
    """What a script does and expects, wherever its lines stand."""
    script: Script = parse(HERE, text)
    return [
        (move.action, [(getattr(item, "to", 0), getattr(item, "text", 0), getattr(item, "choices", 0))
                       for item in move.items])
        for move in script.moves
    ]


@pytest.mark.parametrize("change", [
    lambda text: text.replace("\n", "\r\n"),
    lambda text: text.replace("\n", "\r"),
    lambda text: text.replace("\n", "  \n"),
    lambda text: text.replace("  <", "\t<").replace("  [", "\t["),
    lambda text: text.replace("  <", "\u00a0\u00a0<"),
    lambda text: text.replace("\n", "\n    ").replace("hall", "    hall", 1),
    lambda text: text.replace("\n  ", "\n"),
    lambda text: text.replace('"', "”").replace("--parent", "—parent".replace("—", "–-")),
    lambda text: text.replace("2026-11-24", "2026–11–24").replace("24 16:58", "24T16:58"),
    lambda text: text.replace("+46s", "+ 46 sec").replace("hall ", "Hall ").replace("expect", "EXPECT"),
    lambda text: text.replace("harbour-lane", "harbour-lane/   a hall, beside the script: or not"),
    lambda text: text.replace("anything\n", "anything      after a clock line: nothing is sent\n"),
    lambda text: text.replace("[...]\n", "[…]   # others\n").replace("  ...\n", "  …   # whatever\n"),
    lambda text: text.replace("here? ...", "here? ...").replace("jo: [Everyone]", "jo:[Everyone]  # all of them"),
    lambda text: text.replace(" / ", "/").replace(": working", ":Working"),
    lambda text: text.removesuffix("\n"),
    lambda text: text.replace("expect", "  expect"),
], ids=range(17))
def test_ways_to_write_the_same(change: Callable[[str], str]) -> None:
    """Line ends, blanks, tabs, curly quotes, dashes, remarks, capitals and margins make no difference."""

    def told(text: str) -> str:
        return repr(shape(text)).replace("'…'", "'...'").replace("+ 46 sec", "+46s").replace("24T16", "24 16")

    assert told(change(TALK)) == told(TALK)


@pytest.mark.parametrize(("text", "says"), [
    ("jo: [", "["), ("jo: []", "[]"), ("jo: ", ""), ("jo:hi", "hi"), ("jo: # no remark", "# no remark"),
    ("jo: ava   seen", "ava   seen"), ("jo: “ava” — seen", "“ava” — seen"), ("jo: again", "again"),
])
def test_what_is_said_is_sent_as_it_stands(text: str, says: str) -> None:
    """What somebody says is never tidied."""
    assert parse(HERE, HEAD + text).moves[1].action.text == says      # type: ignore[union-attr]


@pytest.mark.parametrize(("pattern", "text"), [
    ("Niamh O'Dea", "Niamh O’Dea"), ("I don't know “hi”", "I don’t know \"hi\""), ("Rest to…", "Rest to 17:06."),
    ("Everyone here? …", "Everyone here? 12 children."),
])
def test_signs_that_an_editor_changes(pattern: str, text: str) -> None:
    """Curly quotes are quotes, and one sign of three dots is three dots."""
    assert text_fits(pattern, text)


def test_labels_in_other_letters() -> None:
    """Choices are the same in other letters, and still an exact list."""
    assert choices_fit(["all seen", "NONE YET"], ["All seen", "None yet"])
    assert choices_fit(["…"], ["All seen"])
    assert not choices_fit(["all seen"], ["All seen", "None yet"])


def test_a_file_of_another_system(tmp_path: Path) -> None:
    """A byte order mark is no part of a script, and a file that is not in UTF-8 is told."""
    script = tmp_path / "one.talk"
    script.write_bytes(b"\xef\xbb\xbf" + TALK.encode())
    assert len(read_script(script).moves) == len(parse(HERE, TALK).moves)
    script.write_bytes("jo: café".encode("latin-1"))
    with pytest.raises(ScriptErrors, match=r"one\.talk:1: .*UTF-8"):
        read_script(script)


async def test_taps_by_many_hands(play: Callable[..., Awaitable[Any]]) -> None:
    """A tap finds its choice in other letters, with other quotes, and with any dash before its number."""
    played = await play(
        "jo: say One [Niamh O’Dea] [Go]\n  < One\n  [niamh o'dea] [...]\njo: say Two\n  ...\njo: say Three [GO]\n"
        "  ...\njo: [niamh o'dea]\n  < tapped Niamh O’Dea\njo: [go] @ –2\n  < tapped Go\njo: [Go]@-2\n  < tapped Go\n"
    )
    assert not played.wrong


PIECES = st.sampled_from([
    "clock 2026-11-24 16:58", "jo: hi", "jo (sent 17:03): hi", "jo: [Go] @ -2", "  < hi ...", "  sam < x", "  | more",
    "  [A] [...]", "  ...", "again", "expect Ava / x: ready", "nobody hears anything", "hall x", "invite sam as s",
    "# why", "", "clock +46s", "restart", "offline jo", "online jo", "  #", "\t[", "@", ":", "<", "  …",
])


@given(st.lists(PIECES | st.text(max_size=20), max_size=12))
def test_any_text_is_read_or_told(lines: list[str]) -> None:
    """Whatever a file holds, it is read, or each fault is told with a line that the file has."""
    text = "\n".join(lines)
    ats, last = places(text), len(re.split("\r\n|\r|\n", text))
    assert all(1 <= at <= last for at in ats)


def places(text: str) -> list[int]:
    """The lines on which a script does something, or else those of its faults."""
    try:
        return [move.last for move in parse(HERE, text).moves]
    except ScriptErrors as errors:
        return [fault.at for fault in errors.faults]


CONTRACT = """
    # Two shows with a rest between
    hall harbour-lane                     a hall folder, beside the script or in demo_conversations/; again later: anew
    clock 2026-11-24 16:58                the club's local time; the first clock line begins history

    jo: start tuesday
      < Everyone here? ...
      [Everyone] [...]
    jo: [Everyone]
      ...
    jo: ava, ben seen shoulder stand
      < ...Rest to...
    expect Ava Price / shoulder-stand: resting
    clock +46s
      sam < Rested: Ava, Ben...
      ...
    expect Ava Price / award lantern: working
    nobody hears anything                 after a clock line: nothing is sent
"""


@pytest.mark.parametrize("sqlite", [False, True])
async def test_the_contracts_own_example(play: Callable[..., Awaitable[Any]], sqlite: bool) -> None:
    """The example of the contract plays as it is printed there, remarks and margin and all."""
    played = await play(CONTRACT, head="", real=True, sqlite=sqlite)
    assert not played.wrong, played.printed
