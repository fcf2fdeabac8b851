"""The lines of a script that do something: who says what, and the words that begin the others."""
from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

from adapters.clock import span_of, wall_time
from adapters.play.script import (
    Action,
    Again,
    At,
    Expect,
    Invite,
    Later,
    LoadHall,
    Moment,
    MoveClock,
    Nobody,
    Reach,
    Restart,
    Speak,
)

SKILL_STANDINGS = ("untried", "owed", "resting", "ready", "ticked", "retest")
AWARD_STANDINGS = ("working", "earned", "ordered", "arrived", "presented")

NAME = r"[^\W_][\w.'-]*"
_SPEAKS = re.compile(rf"(?P<who>{NAME})(?:\s*\(\s*sent\s+(?:at\s+)?(?P<sent>[^)]*)\))?\s*:\s*(?P<text>.*)$", re.I)
_TAP = re.compile(r"\[(?P<label>[^\[\]]+)\](?:\s*@\s*[-–−]\s*(?P<back>\d{1,4}))?(?:\s+#.*)?$")
_TAPS = re.compile(r"\[[^\[\]]+\]")
_EXPECT = re.compile(r"(?P<child>.+?)\s*/\s*(?P<award>award\s+)?(?P<what>.+?)\s*:\s*(?P<standing>\S.*)$", re.I)
_INVITED = rf'(?:--parent[\s=]+(?:"(?P<child>[^"]+)"|(?P<bare>[^"\s].*?))|(?P<person>{NAME}))'
_INVITE = re.compile(rf"{_INVITED}\s+as\s+(?P<name>{NAME})$")
_PLAIN = str.maketrans("“”„’‘–—−\u00a0", "\"\"\"''--- ")      # what an editor may make of signs


class Unreadable(Exception):
    """This line can't be read; the text says why and what would do."""


def speech(line: str) -> Speak | None:
    """What somebody says or taps; None where the line is no speech."""
    found = _SPEAKS.match(line)
    if found is None:
        return None
    text = found["text"].strip()
    sent = None if found["sent"] is None else _at(found["sent"].translate(_PLAIN))
    tap = _TAP.match(text)
    if tap is not None:
        return Speak(found["who"], label=tap["label"].strip(), back=int(tap["back"] or 0), sent=sent)
    if _TAPS.match(text):
        raise Unreadable("a tap is one choice, as in: jo: [All seen], or jo: [All seen] @ -2")
    return Speak(found["who"], text, sent=sent)


def begins(line: str) -> bool:
    """Does the line begin with a word of ours?"""
    return line.split()[0].lower() in _READERS


def action(line: str) -> Action:
    """What a line that begins with a word of ours does. Raises Unreadable."""
    word, _, rest = re.sub(r"\s+#.*$", "", line.translate(_PLAIN)).partition(" ")
    reader = _READERS.get(word.lower())
    if reader is None:
        raise Unreadable(
            f'"{word}" begins no line of a script: PERSON: text, hall, clock, again, offline, online, restart, '
            "invite, expect, nobody hears anything"
        )
    rest = rest.strip()
    try:
        return reader(rest)
    except (Unreadable, ValueError):
        told, wide, _ = re.split(r"(\s{3,}|$)", rest, maxsplit=1)      # a remark, well apart from the rest
        if not wide:
            raise
        return reader(told)


def _at(text: str) -> At:
    found = re.fullmatch(r"(?:(\d{4}-\d\d-\d\d)(?:\s+|T))?(\d\d?:\d\d(?::\d\d)?)", text.strip())
    if found is None:
        raise Unreadable(f'"{text}" is not a time, as in 17:04 or 2026-11-24 17:04')
    return At(wall_time(found[2]), found[1])


def _moment(text: str) -> Moment:
    if not text.startswith("+"):
        return _at(text)
    span = span_of(re.sub(r"\s*\+\s*", " ", text).strip())
    if span is None:
        raise Unreadable(f'"{text}" is not a span of time, as in +46s, +10m, +2h or +7d')
    days = sum(int(number) for number in re.findall(r"(\d+)\s*d", text, re.I))
    return Later(span - timedelta(days=days), days)


def _clock(rest: str) -> Action:
    return MoveClock(_moment(rest), rest)


def _hall(rest: str) -> Action:
    if not rest:
        raise Unreadable("which hall? A folder beside the script or in demo_conversations/, as in: hall harbour-lane")
    return LoadHall(re.split(r"\s{3,}", rest)[0].strip('"').rstrip("/\\"))


def _invite(rest: str) -> Action:
    found = _INVITE.match(rest)
    if found is None:
        raise Unreadable('an invitation is `invite PERSON as NAME` or `invite --parent "CHILD" as NAME`')
    return Invite(found["name"], found["person"], found["child"] or found["bare"])


def _expect(rest: str) -> Action:
    found = _EXPECT.match(rest)
    if found is None:
        raise Unreadable("write `expect CHILD / SKILL: standing` or `expect CHILD / award AWARD: standing`")
    known = AWARD_STANDINGS if found["award"] else SKILL_STANDINGS
    standing = found["standing"].lower()
    if standing not in known:
        raise Unreadable(f'"{found["standing"]}" is no standing; it is one of {", ".join(known)}')
    if found["award"]:
        return Expect(found["child"], standing, award=found["what"])
    return Expect(found["child"], standing, skill=found["what"])


def _reach(online: bool) -> Callable[[str], Action]:
    def read(rest: str) -> Action:
        if not re.fullmatch(NAME, rest):
            raise Unreadable(f"whose phone? As in: {'online' if online else 'offline'} jo")
        return Reach(rest, online)

    return read


def _nobody(rest: str) -> Action:
    if rest.lower().rstrip(".").split() != ["hears", "anything"]:
        raise Unreadable("write: nobody hears anything")
    return Nobody()


def _alone(what: Action) -> Callable[[str], Action]:
    def read(rest: str) -> Action:
        if rest:
            raise Unreadable("this word stands alone on its line")
        return what

    return read


_READERS: dict[str, Callable[[str], Action]] = {
    "hall": _hall, "clock": _clock, "invite": _invite, "expect": _expect, "nobody": _nobody,
    "again": _alone(Again()), "restart": _alone(Restart()), "offline": _reach(False), "online": _reach(True),
}
