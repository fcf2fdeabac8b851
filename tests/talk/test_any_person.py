"""The demo hall under any input: each kind of person, from each place, while others work on the same class."""
from __future__ import annotations

import asyncio
import os
import re
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from adapters.clock import SimulatedClock
from adapters.halls import read_folder
from adapters.service import Service
from bot.people.hall import read_hall
from bot.step import Heard, Invitation, Said, seq_of_choice
from bot.talk import turn
from bot.talk.places import TABLE
from bot.talk.state import Place
from storage import open_store
from tests.talk.hall import CLUB, SCHEME

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "8"))
QUICK = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
FOLDER = Path(__file__).resolve().parents[2] / "demo_conversations" / "harbour-lane"
TUESDAY = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
MAIN_LOOP = 600
NEXT = re.compile(r"\b(type|write|start|close|ask|stop|set its time|send (it|that|them))\b", re.IGNORECASE)

WAYS: dict[str, tuple[str, Place, list[str]]] = {
    "outside": ("jo", Place.OUTSIDE, []),
    "register": ("jo", Place.REGISTER, ["start tuesday"]),
    "suggested": ("jo", Place.SUGGESTED, ["start", "mia and leo away"]),
    "watching": ("jo", Place.WATCHING, ["start", "everyone", "[Go]"]),
    "resting": ("jo", Place.WATCHING, ["start", "everyone", "shoulder stand", "[Go]", "[All seen]"]),
    "who": ("jo", Place.WATCHING, ["start", "everyone", "[Go]", "[Some not yet]"]),
    "reason": ("jo", Place.WATCHING, ["start", "everyone", "[Go]", "[None yet]"]),
    "early": ("jo", Place.WATCHING, ["start", "everyone", "ava seen shoulder stand", "ava seen shoulder stand"]),
    "gap": ("jo", Place.GAP, ["start", "everyone", *["skip"] * 25]),
    "paused": ("jo", Place.PAUSED, ["start", "everyone", "[Go]", "bump ben"]),
    "closed": ("jo", Place.OUTSIDE, ["start", "everyone", "noor seen arabesque; noor seen split jump", "close"]),
    "assistant": ("sam", Place.OUTSIDE, []),
    "coach of others": ("ines", Place.OUTSIDE, []),
    "helper": ("kit", Place.OUTSIDE, []),
    "asked for consent": ("petra", Place.CONSENT, ["join CODE"]),
    "family": ("petra", Place.FAMILY, ["join CODE", "yes"]),
    "stranger": ("nobody", Place.STRANGER, []),
}
MAY_SEE = {"jo": {"tuesday", "thursday"}, "sam": {"tuesday", "thursday"}, "ines": {"thursday", "saturday"},
           "kit": {"tuesday", "saturday"}, "petra": set(), "nobody": set()}
KINDS = st.sampled_from(["text", "weird", "typed", "typed", "tap", "tap", "foreign", "forged", "others"])
NAMES = {"jo": ["ava", "ben", "noor"], "sam": ["ava", "ben", "noor"], "ines": ["ana", "mark", "will"],
         "kit": ["ava", "ben", "noor"], "petra": ["mine"], "nobody": ["who"]}
TYPED = [
    "start", "start tuesday", "start thursday", "close", "{a} seen", "{a}, {b} and {c} seen cartwheel", "seen {a}",
    "all seen", "none yet", "all but {a} seen", "not 2", "not {a}", "{b} not yet hips", "{b} not yet", "{a} seen left",
    "{a} seen galop polka", "{a} seen show 2", "{a}, {b} seen; {c} not yet hold", "at 16:59: {a} seen cartwheel",
    "on tuesday at 17:00: {a} seen bridge", "{a} away", "{b} here", "{a} sits", "{a} back", "{c} leaves 17:30",
    "{a} no landings", "add Zoe Quill", "red is {a} {b} {c}", "red seen", "pause", "carry on", "bump {b}",
    "later {b} 3 weeks", "undo", "owed", "owed {a}", "resting", "standard", "standard cartwheel", "next", "skip",
    "join CODE", "join ABCDEF", "stop", "help", "everyone", "yes", "no", "1", "3", "14", "99", "hips", "other",
    "cartwheel", "{a} seen shoulder stand", "{a} seen dance medley", "{b} seen waltz turn left", "{a}", "seen", "",
    "{a} seeen cartwheel", "{a}a seen", "END", "quit", "{a} seen cartwheel {b} not yet bridge", "plan", "shown", "y",
]
OTHERS = [("sam", "ava, ben seen cartwheel"), ("sam", "undo"), ("sam", "next"), ("sam", "close"), ("jo", "start"),
          ("jo", "close"), ("jo", "everyone"), ("sam", "ava away"), ("jo", "ava not yet shoulder stand"),
          ("kit", "hello"), ("ines", "owed"), ("sam", "pause"), ("jo", "add Noor Blunt")]
WEIRD = ["👍🏽", "\u202eneba", "Ｓｅｅｎ　ａｖａ", "a\u0301va seen", "\x00", "\u200b", "ǅ", "ß" * 50, "1" * 400, ";;;;",
         "\n\n", "ava\tseen\tcartwheel",
         "İ", "ﬀ", "٣", "²", "c_1_", "c_" + "9" * 30 + "_x", "seen " * 300, "' or 1=1 --"]


@cache
def demo() -> Any:
    return read_folder(FOLDER)


@cache
def children() -> dict[str, set[str]]:
    """Class → what of its children's names no one else's texts may hold."""
    rows = [(one.child, one.class_id) for one in demo().roster]
    return {of: {name for name, its in rows if its == of} for of in {its for _, its in rows}}


class Room:
    """The demo hall and another club in one store, with everybody's messages as they were said."""

    def __init__(self) -> None:
        self.clock = SimulatedClock(TUESDAY)
        self.store = open_store("memory:")
        self.service = Service(self.store, self.clock)
        self.loop = asyncio.new_event_loop()
        self.said: dict[str, list[Said]] = {}
        self.count = 0
        self.place: dict[str, Place] = {}
        self.run(self.load())

    def run(self, work: Any) -> Any:
        return self.loop.run_until_complete(work)

    async def load(self) -> None:
        club = (await self.store.load(demo(), TUESDAY)).club
        other = read_hall(SCHEME.format(ways=""), CLUB.format(name="Elsewhere", cls="x"),
                          "child,class,award,has\nOtto Canary,x,one,\n")
        away = (await self.store.load(other, TUESDAY)).club
        for person in ("jo", "sam", "ines", "kit"):
            await self.store.meet("phone", person, club, person)
        await self.store.meet("phone", "other jo", away, "jo")
        ava = next(key for key, one in (await self.store.snapshot(club)).books["tuesday"].children.items()
                   if one.first == "Ava")
        until = TUESDAY + timedelta(days=14)
        await self.store.invite(Invitation(club, None, ava, until, used=False), "CODE")

    def say(self, person: str, text: str | None = None, choice: str | None = None) -> tuple[Said, ...]:
        self.count += 1

        def step(heard, desk):
            stepped = turn.step(heard, desk)
            self.place[person] = stepped.talk.place
            return stepped

        now = self.clock.now()
        heard = Heard(f"m{self.count}", "phone", person, now, now, text, choice)
        said = self.run(self.store.step(heard, step))
        self.said.setdefault(person, []).extend(said)
        return tuple(said)

    def tap(self, person: str, label: str) -> tuple[Said, ...]:
        for said in reversed(self.said.get(person, [])):
            for choice, known in zip(said.choice_ids(), said.choices, strict=True):
                if known.label == label:
                    return self.say(person, choice=choice)
        raise LookupError(label)

    def wait(self, seconds: float) -> list[Said]:
        """Let time pass. Returns what was said unasked."""
        heard, until = [], self.clock.now() + timedelta(seconds=seconds)
        while (due := self.run(self.store.next_due())) is not None and due <= until:
            self.clock.move_to(max(due, self.clock.now()))
            for said in self.run(self.service.wake()):
                if said.club != "elsewhere":
                    self.said.setdefault(said.person, []).append(said)
                    heard.append(said)
        self.clock.move_to(until)
        return heard

    def close(self) -> None:
        self.run(self.store.close())
        self.loop.close()


def led_to(way: str) -> Room:
    room = Room()
    person, _, moves = WAYS[way]
    for move in moves:
        room.tap(person, move[1:-1]) if move.startswith("[") else room.say(person, move)
    return room


def check(person: str, said: tuple[Said, ...] | list[Said]) -> None:
    """One clear answer or more, each with something to do next, none with anything that is not theirs."""
    assert said
    for one in said:
        assert one.text.strip() == one.text != ""
        labels = [choice.label for choice in one.choices]
        assert all(0 < len(label) <= 20 and label.strip() == label for label in labels), labels
        assert len(one.text) <= MAIN_LOOP or "Must be seen" in one.text, (len(one.text), one.text)
        assert labels or one.in_reply_to is None or NEXT.search(one.text), one.text
        assert "Canary" not in one.text + str(labels)
        shown = one.text + " ".join(labels)
        for of, names in children().items():
            if of not in MAY_SEE[person]:
                first = {name for name in names if name.split()[0] in shown and name.split()[1] in shown}
                assert not first, (first, one.text)


@pytest.mark.parametrize("way", WAYS)
def test_each_place_is_reached_by_messages(way):
    """The places that the other tests begin from are those that the table knows under these names."""
    room = led_to(way)
    person, place, _ = WAYS[way]
    if person in room.place:
        assert room.place[person] == place
    assert place in TABLE
    room.close()


def test_every_place_is_begun_from():
    """No place of the table is left out."""
    assert {place for _, place, _ in WAYS.values()} == set(TABLE)


@pytest.mark.parametrize("way", WAYS)
def test_every_typed_form_is_answered(way):
    """Each form that can be typed, one after another, by each kind of person from each place."""
    room, person = led_to(way), WAYS[way][0]
    a, b, c = (NAMES[person] * 3)[:3]
    for text in TYPED:
        check(person, room.say(person, text.format(a=a, b=b, c=c)))
        assert room.place[person] in TABLE
        room.wait(11)
    room.close()


@pytest.mark.parametrize("way", WAYS)
def test_every_choice_can_be_tapped_at_any_time(way):
    """All choices that were ever offered, tapped in order and again in reverse, an hour later too."""
    room, person = led_to(way), WAYS[way][0]
    a, b, c = (NAMES[person] * 3)[:3]
    for text in ("help", "next", "{a}, {b} seen cartwheel", "{b} not yet bridge", "owed", "standard bridge", "undo",
                 "{a} seen shoulder stand", "{a} seen shoulder stand", "start", "close", "red is {a} {b}", "plan"):
        room.say(person, text.format(a=a, b=b, c=c))
    choices = [choice for said in room.said[person] for choice in said.choice_ids()][:80]
    for pause, row in ((1, choices), (3600, choices[::-1])):
        room.wait(pause)
        for choice in row:
            check(person, room.say(person, choice=choice))
            assert room.place[person] in TABLE
    room.close()


@pytest.mark.parametrize("way", WAYS)
@QUICK
@given(data=st.data())
def test_anything_is_answered(way, data):
    """Any text, any choice of their own, of others, invented or from another club, while others work on: an answer."""
    room, person = led_to(way), WAYS[way][0]
    room.say("other jo", "start")
    if data.draw(st.booleans()):
        room.say("sam", "next")
    a, b, c = (NAMES[person] * 3)[:3]
    for _ in range(data.draw(st.integers(1, 10))):
        kind = data.draw(KINDS)
        if kind == "others":
            other = data.draw(st.sampled_from(OTHERS))
            if other[0] != person:
                check(other[0], room.say(*other))
            continue
        own = [choice for said in room.said.get(person, []) for choice in said.choice_ids()]
        foreign = [choice for who, all_said in room.said.items() if who != person
                   for said in all_said for choice in said.choice_ids()]
        if kind == "tap" and own:
            said = room.say(person, choice=data.draw(st.sampled_from(own)))
        elif kind == "foreign" and foreign:
            said = room.say(person, choice=data.draw(st.sampled_from(foreign)))
        elif kind == "forged" and own:
            seq = seq_of_choice(data.draw(st.sampled_from(own)))
            said = room.say(person, choice=f"c_{seq}_{data.draw(st.sampled_from(['0' * 12, 'é', '', '_', '😀']))}")
        elif kind == "weird":
            said = room.say(person, data.draw(st.sampled_from(WEIRD)))
        elif kind == "text":
            said = room.say(person, data.draw(st.text(max_size=40)))
        else:
            said = room.say(person, data.draw(st.sampled_from(TYPED)).format(a=a, b=b, c=c))
        check(person, said)
        assert room.place[person] in TABLE
        for unasked in room.wait(data.draw(st.sampled_from([0, 0, 1, 31, 61, 1800, 7 * 86_400]))):
            if unasked.person in MAY_SEE:
                check(unasked.person, [unasked])
    room.close()


@pytest.mark.parametrize("person", ["jo", "sam", "kit"])
def test_a_child_not_given_is_an_unknown_name(person):
    """Whoever is not given a class gets the answer of an unknown name for its children, lesson open or not."""
    outside = {"jo": "tomás", "sam": "tomás", "kit": "siân"}[person]
    room = Room()
    for opened in (False, True):
        if opened:
            room.say("jo", "start")
        for text in ("{} seen cartwheel", "{} away", "owed {}", "later {} 3 weeks", "red is {}", "bump {}", "{}"):
            theirs = room.say(person, text.format(outside))
            nobody = room.say(person, text.format("qwzx"))
            assert [one.text.replace(outside, "…") for one in theirs] == [
                one.text.replace("qwzx", "…") for one in nobody
            ], text
            assert [[choice.label for choice in one.choices] for one in theirs] == [
                [choice.label for choice in one.choices] for one in nobody
            ]
    room.close()
