"""Music in the talk: how long counts of eight last, what a skill's routine takes, and a click to move to.

None of it loses the place. A tempo is a number: words for it mean other things to other people.
"""
from __future__ import annotations

from fractions import Fraction

from bot.attached import Attachment, Click
from bot.music import BEATS, QUICKEST, SLOWEST, eights_in, seconds_of_beats
from bot.scheme.model import Asked, Skill
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.watching import aside

USUAL_EIGHTS = 8        # of a click, where nobody says how many; common practice, no source
LONGEST_S = 600
HALVES = {Fraction(1, 4): "¼", Fraction(1, 2): "½", Fraction(3, 4): "¾"}


def music(draft: Draft, request: requests.Music) -> None:
    """`8 eights at 120`, `how long is waltz turn at 112`, `click 120 8 eights`."""
    if request.bpm is not None and not SLOWEST <= request.bpm <= QUICKEST:
        aside(draft, f"A tempo is from {SLOWEST} to {QUICKEST} beats a minute, so not {request.bpm}.")
    elif request.skill is not None:
        _of_skill(draft, request, draft.skill(request.skill))
    elif request.what == "click":
        _click(draft, request)
    elif request.seconds is not None and request.beats is None:
        aside(draft, _in_eights(request.seconds, request.bpm))
    else:
        aside(draft, _length(request))


# --- how long ------------------------------------------------------------------------------------------

def _length(request: requests.Music) -> str:
    if request.beats is None:
        return "How many counts of eight? For example: 8 eights at 120."
    if request.bpm is None:
        return f"At which tempo? For example: {_counts(request.beats)} at 120."
    if request.seconds is not None:
        return "Give counts of eight or seconds, not both: 8 eights at 120, or 32 seconds at 120."
    told = f"{_counts(request.beats)} at {request.bpm}{_through(request.times)}: "
    return told + _with_count_in(request.beats * (request.times or 1), request.bpm, request.count_in)


def _with_count_in(beats: int, bpm: int, count_in: int | None) -> str:
    long = f"{lasting(seconds_of_beats(beats, bpm))}."
    if not count_in:
        return long
    whole = seconds_of_beats(beats + count_in * BEATS, bpm)
    return f"{long[:-1]}; with {words.number(count_in)} more to count in, {lasting(whole)}."


def _in_eights(seconds: int, bpm: int | None) -> str:
    if bpm is None:
        return f"At which tempo? For example: {seconds} seconds at 120."
    beats = int(eights_in(seconds, bpm) * BEATS)
    exactly = seconds_of_beats(beats, bpm) == seconds
    return f"{lasting(Fraction(seconds))} at {bpm}: {'' if exactly else 'a little more than '}{_counts(beats)}."


def _counts(beats: int) -> str:
    """`8 counts of eight`, `1 count of eight and 4 beats`, `6 beats`."""
    eights, over = divmod(beats, BEATS)
    parts = []
    if eights:
        parts.append(f"{words.count(eights, 'count')} of eight")
    if over or not eights:
        parts.append(words.count(over, "beat"))
    return " and ".join(parts)


def _through(times: int | None) -> str:
    if times in (None, 1):
        return ""
    return ", twice through" if times == 2 else f", {times} times through"


def lasting(seconds: Fraction) -> str:
    """A length to the quarter of a second, and to the second from a minute on.

    >>> lasting(Fraction(32)), lasting(Fraction(30, 7)), lasting(Fraction(90)), lasting(Fraction(1))
    ('32 seconds', '4¼ seconds', '1 minute 30 seconds', '1 second')
    """
    if seconds >= 60:
        minutes, rest = divmod(round(seconds), 60)
        return words.count(minutes, "minute") + (f" {words.count(rest, 'second')}" if rest else "")
    quarters = round(seconds * 4)
    whole, part = divmod(quarters, 4)
    if not part:
        return words.count(whole, "second")
    return f"{whole or ''}{HALVES[Fraction(part, 4)]} {'second' if not whole else 'seconds'}"


# --- a skill ---------------------------------------------------------------------------------------------

def _of_skill(draft: Draft, request: requests.Music, skill: Skill) -> None:
    counted = _counted(skill)
    if not counted:
        aside(draft, f"{skill.name} asks for no counts of eight, so music does not say how long it is.")
        return
    if request.what == "click":
        _click_for(draft, request, skill, counted[0][1])
        return
    aside(draft, "\n".join(_row(request, label or skill.name, asked) for label, asked in counted))


def _counted(skill: Skill) -> list[tuple[str, Asked]]:
    """What of a skill is counted in eights: its first show (label empty), or those of its parts that are."""
    shows: list[tuple[str, Asked]] = [("", one) for one in skill.shows[:1] if one.eights]
    return shows or [(part.label, part) for part in skill.parts if part.eights]


def _row(request: requests.Music, name: str, asked: Asked) -> str:
    beats, times = (asked.eights or 0) * BEATS, request.times or asked.times_through
    head = f"{name}, {_counts(beats)}{_through(times)}"
    beats *= times or 1
    if request.bpm is not None:
        long = _with_count_in(beats, request.bpm, request.count_in)
        return f"{head}, at {request.bpm}: {long}{_band(asked, request.bpm)}"
    if asked.bpm is None:
        return f"{head}: the standard names no tempo. Add one, as in: at 120."
    slow, quick = asked.bpm
    if slow == quick:
        return f"{head}, at {slow}: {_with_count_in(beats, slow, request.count_in)}"
    shortest, longest = (lasting(seconds_of_beats(beats, bpm)) for bpm in (quick, slow))
    return f"{head}, at {slow} to {quick}: {shortest.removesuffix(' seconds')} to {longest}."


def _band(asked: Asked, bpm: int) -> str:
    if asked.bpm is None or asked.bpm[0] <= bpm <= asked.bpm[1]:
        return ""
    slow, quick = asked.bpm
    return f" The standard asks for {slow if slow == quick else f'{slow} to {quick}'}."


# --- a click ---------------------------------------------------------------------------------------------

def _click_for(draft: Draft, request: requests.Music, skill: Skill, asked: Asked) -> None:
    bpm = request.bpm or (sum(asked.bpm) // 2 if asked.bpm else None)
    if bpm is None:
        aside(draft, f"{skill.name} names no tempo. Add one: click {skill.name.lower()} at 120.")
        return
    eights = (request.beats or (asked.eights or 1) * BEATS) // BEATS or 1
    _send(draft, Click(bpm, eights, request.times or asked.times_through or 1, _count_in(request)), skill.name)


def _click(draft: Draft, request: requests.Music) -> None:
    if request.bpm is None:
        aside(draft, "Click at which tempo? For example: click 120 8 eights.")
    elif request.seconds is not None or (request.beats or BEATS) % BEATS:
        aside(draft, "A click is in whole counts of eight. For example: click 120 8 eights.")
    else:
        eights = (request.beats or USUAL_EIGHTS * BEATS) // BEATS
        _send(draft, Click(request.bpm, eights, request.times or 1, _count_in(request)), "")


def _count_in(request: requests.Music) -> int:
    return 1 if request.count_in is None else request.count_in


def length_of(click: Click) -> Fraction:
    """How many seconds a click track lasts, its count-in included."""
    return seconds_of_beats((click.count_in + click.eights * click.times) * BEATS, click.bpm)


def fault_of(click: Click) -> str:
    """Why there can be no such click track, in a sentence; empty where there can."""
    if not SLOWEST <= click.bpm <= QUICKEST:
        return f"A tempo is from {SLOWEST} to {QUICKEST} beats a minute, so not {click.bpm}."
    if min(click.eights, click.times) < 1:
        return "A click has at least one count of eight."
    if length_of(click) > LONGEST_S:
        return f"That would be {lasting(length_of(click))} of clicks; {LONGEST_S // 60} minutes are the most."
    return ""


def told(click: Click) -> str:
    """What a click track is, in words: `120 beats a minute, 8 counts of eight, after one to count in: 36 seconds`."""
    before = f", after {words.number(click.count_in)} to count in" if click.count_in else ""
    return (f"{click.bpm} beats a minute, {_counts(click.eights * BEATS)}{_through(click.times)}{before}: "
            f"{lasting(length_of(click))}")


def _send(draft: Draft, click: Click, name: str) -> None:
    fault = fault_of(click)
    text = fault or f"{name or 'A click'}{', a click' if name else ''}: {told(click)}."
    silent = "No sound can be sent here; it plays on the page on your phone."
    aside(draft, text, *(() if fault else (Attachment(click, silent),)))
