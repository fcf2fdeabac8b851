"""The player on a dialogue that only echoes: everything that a script can do."""
from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from adapters.play.script import ScriptErrors

Play = Callable[..., Awaitable[Any]]


async def test_what_was_said_comes_back(play: Play) -> None:
    """A script whose expectations all come is as it says."""
    assert not (await play("jo: hi\n  < heard hi\n")).wrong


async def test_a_mismatch_names_the_line_and_shows_both(play: Play) -> None:
    """What does not fit is shown side by side under the line of the script that brought it."""
    (at, shown), = (await play("jo: say Yes? [Yes] [No]\n  < Yes?\n  [Yes]\n")).wrong
    assert at == 3
    assert "-    4   < Yes?" in shown
    assert "+        [Yes] [No]" in shown


async def test_each_mismatch_is_told(play: Play) -> None:
    """A script plays on after a mismatch, so that all of them are told."""
    assert [at for at, _ in (await play("jo: a\n  < b\njo: c\n  < heard c\njo: d\n")).wrong] == [3, 7]


async def test_a_tap_goes_to_the_latest_that_carries_it(play: Play) -> None:
    """A tap takes the latest message with that label; `@ -2` the message two before that one."""
    played = await play(
        "jo: say One [Go]\n  < One\njo: say Two\n  < Two\njo: say Three [Go] [Stay]\n  < Three\njo: hi\n  ...\n"
        "jo: [Go]\n  < tapped Go\njo: [go]\n  < tapped Go\njo: [Go] @ -2\n  < tapped Go\n"
    )
    assert not played.wrong
    taps = [message.choice for message in played.player._sent if message.choice]
    assert [choice.split("_")[1] for choice in taps] == ["3", "3", "1"]


async def test_a_tap_that_is_not_there_ends_the_script(play: Play) -> None:
    """A tap on a label that no message carries is told with the labels that there are, and the script ends there."""
    played = await play("jo: say One [Go] [Stay]\n  < One\njo: [Gone]\njo: hi\n")
    assert played.wrong == [(5, "no message to jo carries [Gone]; the last with choices has [Go] [Stay]")]


async def test_messages_of_one_minute_keep_their_order(play: Play) -> None:
    """Everything has its own microsecond: what is sent at one clock time is in order, and so is what is due."""
    played = await play("jo: one\n  ...\nsam: two\n  ...\nclock 16:58\njo: three\n  ...\n")
    sent = [message.sent_at for message in played.player._sent]
    assert sent == sorted(set(sent))
    assert {f"{at:%H:%M:%S}" for at in sent} == {"16:58:00"}


@pytest.mark.parametrize(("said", "sent"), [
    ("16:30", "2026-11-24 16:30:00"), ("16:58", "2026-11-24 16:58:00"), ("16:57:30", "2026-11-24 16:57:30"),
    ("17:10", "2026-11-24 17:10:00"), ("23:50", "2026-11-23 23:50:00"), ("2026-11-20 17:04", "2026-11-20 17:04:00"),
])
async def test_sent_then_arrives_now(play: Play, said: str, sent: str) -> None:
    """`(sent 16:30)` arrives now and was sent at that time of this day; hours ahead of now it was the day before."""
    played = await play(f"jo (sent {said}): times\n  < ... received 16:58:00\n")
    assert not played.wrong
    assert f"{played.player._sent[0].sent_at:%Y-%m-%d %H:%M:%S}" == sent


async def test_again_out_of_reach_waits_too(play: Play) -> None:
    """What is sent a second time out of reach is held back as well, and is still one message."""
    played = await play("jo: hi\n  ...\noffline jo\njo: ho\nagain\nonline jo\n  < heard ho\n  < heard ho\n")
    assert not played.wrong


async def test_reminders_fire_on_the_way(play: Play) -> None:
    """What falls due while the clock moves comes in due order, each at its own time."""
    played = await play(
        "jo: later 90 sam\n  < will do\njo: later 30 jo sam\n  < will do\n"
        "clock +20s\nnobody hears anything\nclock +1h\n  jo < due 30\n  sam < due 30\n  sam < due 90\n"
    )
    assert not played.wrong
    assert [f"{one.said.at:%H:%M:%S}" for one in played.played.results[-1].came] == ["16:58:30", "16:58:30", "16:59:30"]


async def test_what_is_due_at_that_very_second_comes(play: Play) -> None:
    """A clock that moves to the end of a rest of 45 s hears that it is over."""
    assert not (await play("jo: later 45 jo\n  < will do\nclock +44s\nclock +1s\n  jo < due 45\n")).wrong


async def test_what_is_due_at_once_is_part_of_the_answer(play: Play) -> None:
    """What a message makes due at that instant comes back with its answer."""
    assert not (await play("jo: later 0 jo sam\n  < will do\n  < due 0\n  sam < due 0\n")).wrong


async def test_nobody_hears_anything_is_held_to(play: Play) -> None:
    """`nobody hears anything` fails where something came, even under `...`."""
    text = "jo: later 5 jo\n  ...\nclock +10s\n"
    assert [at for at, _ in (await play(f"{text}  ...\nnobody hears anything\n")).wrong] == [7]
    assert [at for at, _ in (await play(f"{text}nobody hears anything\n")).wrong] == [5]


async def test_the_clock_never_goes_back(play: Play) -> None:
    """A clock line that would move back is a fault of the script."""
    with pytest.raises(ScriptErrors, match=r"one\.talk:4: the clock never goes back; it is Tuesday"):
        await play("clock 17:00\nclock 2026-11-24 16:59\n")


async def test_a_time_that_is_past_is_tomorrows(play: Play) -> None:
    """A time alone is the next one to come: 09:00 in the evening is tomorrow morning."""
    assert (await play("clock 17:00\nclock 09:00\nclock 2026-11-25 09:00\n")).wrong == []


async def test_days_are_the_calendars(play: Play) -> None:
    """`+7d` keeps the time on the wall over a change of the clocks; hours are elapsed time."""
    autumn = "hall harbour-lane\nclock 2026-10-20 18:00\n"       # the echo says UTC: 17:00 on this day
    assert not (await play("clock +7d\n  ...\njo: times\n  < sent 18:00:00 ...\n", head=autumn)).wrong
    assert not (await play("clock +168h\n  ...\njo: times\n  < sent 17:00:00 ...\n", head=autumn)).wrong


async def test_again_is_the_same_message(play: Play) -> None:
    """`again` delivers the last message under the same id, and the same answer comes once more."""
    assert not (await play("jo: times\n  ...\nclock +1m\nagain\n  < sent 16:58:00 received 16:58:00\n")).wrong


async def test_out_of_reach(play: Play) -> None:
    """What is sent out of reach is delivered in order once back, with the times at which it was sent."""
    played = await play(
        "offline jo\njo: times\njo: hi\nsam: hi\n  < heard hi\nclock +5m\nnobody hears anything\n"
        "online jo\n  < sent 16:58:00 received 17:03:00\n  < heard hi\n"
    )
    assert not played.wrong


@pytest.mark.parametrize("sqlite", [False, True])
async def test_a_restart_forgets_nothing(play: Play, sqlite: bool) -> None:
    """After `restart` what was due is due, what was answered is answered, and old choices can be tapped."""
    played = await play(
        "jo: say Well? [Yes]\n  < Well?\njo: later 30 jo\n  ...\nrestart\njo: [Yes]\n  < tapped Yes\n"
        "again\n  < tapped Yes\nrestart\nclock +30s\n  jo < due 30\n", sqlite=sqlite,
    )
    assert not played.wrong


async def test_prose_and_halls(play: Play) -> None:
    """A comment is printed, and a hall that is named again is loaded anew."""
    played = await play("# On purpose\nhall harbour-lane\njo: hi\n  < heard hi\n")
    assert not played.wrong
    assert "# On purpose" in played.printed
    assert "othing has changed" in played.printed


async def test_a_hall_that_is_not_there(play: Play) -> None:
    """A hall that can't be found is a fault with its line."""
    with pytest.raises(ScriptErrors, match=r"one\.talk:1: hall nowhere: there is no such folder"):
        await play("", head="hall nowhere\nclock 2026-11-24 16:58\n")


async def test_a_stranger_may_speak(play: Play) -> None:
    """Anybody may send a message; a name that no person of a club has is a stranger's."""
    assert not (await play("nobody1: hi\n  < heard hi\n", head="clock 2026-11-24 16:58\n")).wrong


async def test_a_fault_of_the_program_is_a_finding(play: Play) -> None:
    """A step that raises is told at its line, and the script ends there."""
    played = await play("jo: hi\n  ...\njo: fail\njo: hi\n")
    assert played.wrong == [(5, "the program fails here (RuntimeError: a bad day)")]


async def test_expectations_of_the_export(play: Play) -> None:
    """`expect` looks at the export: a child by name, a skill or award by id or name."""
    played = await play(
        "expect Ava Price / shoulder-stand: untried\nexpect ava price / Shoulder Stand: ticked\n"
        "expect Ava Price / award lantern: working\nexpect Ava Price / award Lantern: earned\n"
        "expect Zoltan / shoulder-stand: ready\nexpect Ava Price / moonwalk: ready\n"
    )
    assert played.wrong == [
        (4, "Ava Price / shoulder-stand is untried, not ticked"), (6, "Ava Price / lantern is working, not earned"),
        (7, "no child here is called Zoltan"), (8, "there is no skill moonwalk in the scheme"),
    ]


async def test_what_is_printed_reads_as_a_talk(play: Play) -> None:
    """What is printed says when, who, to whom and with which choices."""
    printed = (await play("jo: say Well?\\nSay. [Yes] [No]\n  ...\njo: [Yes]\n  ...\n")).printed
    assert "16:58  jo      > say Well?" in printed
    assert "16:58  jo      < Well?\n                 Say.\n                 [Yes] [No]\n" in printed
    assert "16:58  jo      > [Yes]\n16:58  jo      < tapped Yes\n" in printed
    assert "-- Tuesday 24 November 2026, 16:58 --" in printed
