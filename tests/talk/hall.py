"""A small hall for the talk's tests: every structure that marks can meet, six children, two classes, another club."""
from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from datetime import UTC, datetime, timedelta
from typing import Any

from adapters.clock import SimulatedClock
from adapters.service import Service
from bot.out.export import export
from bot.people.hall import read_hall
from bot.port import Store
from bot.step import Invitation, Said
from storage import open_store

START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)

SCHEME = """
[scheme]
name = "Bench"
{ways}
[[award]]
id = "one"
name = "One"
needs = 3
  [[award.skill]]
  id = "hop"
  name = "Hop"
  points = [{{id = "knees", label = "Knees together"}}, {{id = "land", label = "Soft landing"}}]
  shows = [{{seconds = 20}}]
  loads = ["landing"]
  [[award.skill]]
  id = "stand"
  name = "Stand"
  points = [{{id = "hips", label = "Hips over shoulders"}}, {{id = "toes", label = "Toes", need = "aim"}}]
  shows = [{{seconds = 20}}, {{seconds = 20, rest_s = 60}}]
  [[award.skill]]
  id = "wheel"
  name = "Wheel"
  sides = "each"
  shows = [{{seconds = 20}}]
  [[award.skill]]
  id = "medley"
  name = "Medley"
  parts = ["galop", "polka"]
  shows = [{{seconds = 20}}, {{seconds = 20, rest_s = 60}}]
"""

CLUB = """
name = "{name}"
[[class]]
id = "{cls}"
name = "Tuesday"
day = "tuesday"
start = "17:00"
minutes = 60
coach = "jo"
assistant = "sam"
helper = "kit"
[[class]]
id = "{cls}-other"
name = "Friday"
day = "friday"
start = "17:00"
minutes = 60
coach = "ines"
[[person]]
id = "jo"
name = "Jo Marsh"
role = "coach"
[[person]]
id = "sam"
name = "Sam Hill"
role = "assistant"
[[person]]
id = "ines"
name = "Ines Duarte"
role = "coach"
[[person]]
id = "kit"
name = "Kit Larsen"
role = "helper"
"""

ROSTER = """child,class,award,has
Ava Price,tue,one,
Ben Okafor,tue,one,
Chidi Eze,tue,one,
Dara Lund,tue,one,
Efa Morgan,tue,one,
Finn Moss,tue,one,
Zuleika Canary,tue-other,one,
"""
ELSEWHERE = "child,class,award,has\nOtto Canary,x,one,\n"
CHILDREN = ("ava", "ben", "chidi", "dara", "efa", "finn")
SKILLS = ("hop", "stand", "wheel", "medley")


class Hall:
    """A club on a store, with people who say things. Times move only by `wait`."""

    def __init__(self, url: str = "memory:", ways: str = "", lessons: int | None = None) -> None:
        self.url, self.ways = url, ways
        self.clock = SimulatedClock(START)
        self.sent: list[dict[str, Any]] = []
        self.said: dict[str, list[Said]] = {}
        self.last: dict[str, tuple[Said, ...]] = {}
        self._loop = asyncio.new_event_loop()
        self.store: Store = open_store(url, lessons)
        self.run(self._load())

    def run(self, work: Coroutine[Any, Any, Any]) -> Any:
        """Run something to its end."""
        return self._loop.run_until_complete(work)

    async def _load(self) -> None:
        scheme = SCHEME.format(ways=self.ways)
        for name, cls, roster in (("Bench", "tue", ROSTER), ("Elsewhere", "x", ELSEWHERE)):
            await self.store.load(read_hall(scheme, CLUB.format(name=name, cls=cls), roster), START)
            for person in ("jo", "sam", "ines", "kit"):
                await self.store.meet(name, person, name.lower(), person)

    def service(self) -> Service:
        """What messages go to."""
        return Service(self.store, self.clock)

    def say(self, person: str, text: str | None = None, *, choice: str | None = None, ago: float = 0,
            club: str = "Bench") -> tuple[Said, ...]:
        """Say or tap something; `ago`: it was sent so many seconds before now."""
        message = {"id": f"m{len(self.sent)}", "channel": club, "sender": person, "text": text, "choice": choice,
                   "sent_at": self.clock.now() - timedelta(seconds=ago)}
        self.sent.append(message)
        return self.deliver(message)

    def deliver(self, message: dict[str, Any]) -> tuple[Said, ...]:
        """Deliver a message, perhaps again."""
        said = self.run(self.service().hear(**message))
        if not any(one in self.said.get(message["sender"], []) for one in said):
            self.said.setdefault(message["sender"], []).extend(said)
        self.last[message["sender"]] = said
        self.clock.move_to(self.clock.now() + timedelta(milliseconds=1))
        return tuple(said)

    def parent(self, name: str, child: str, answer: str | None = "Yes") -> None:
        """Somebody comes in with a code for that child, and answers what is put to them."""
        whose = next(one["id"] for one in self.export()["children"] if one["name"].lower().startswith(child))
        code = f"code-{len(self.sent)}"
        until = self.clock.now() + timedelta(days=14)
        self.run(self.store.invite(Invitation("bench", None, whose, until, used=False), code))
        self.say(name, f"join {code}")
        if answer is not None:
            self.tap(name, answer)

    def tap(self, person: str, label: str) -> tuple[Said, ...]:
        """Tap that label on the latest message that has it. LookupError where none has."""
        for said in reversed(self.said.get(person, [])):
            for choice, known in zip(said.choice_ids(), said.choices, strict=True):
                if known.label == label:
                    return self.say(person, choice=choice)
        raise LookupError(label)

    def wait(self, seconds: float) -> None:
        """Let time pass; what falls due on the way is said."""
        until = self.clock.now() + timedelta(seconds=seconds)
        while (due := self.run(self.store.next_due())) is not None and due <= until:
            self.clock.move_to(max(due, self.clock.now()))
            for said in self.run(self.service().wake()):
                self.said.setdefault(self.phone_of(said.person), []).append(said)
        self.clock.move_to(until)

    def phone_of(self, person: str) -> str:
        """On which phone somebody reads: a parent's id is ours, the phone's name is theirs."""
        return next((phone for phone, said in self.said.items() if any(one.person == person for one in said)), person)

    def restart(self) -> None:
        """End the program and start it on the same data (in memory there is nothing to end)."""
        if not self.url.startswith("memory"):
            self.run(self.store.close())
            self.store = open_store(self.url)

    def snapshot(self, club: str = "bench") -> Any:
        return self.run(self.store.snapshot(club))

    def export(self, club: str = "bench") -> dict[str, Any]:
        """The export now, but for the time it was made."""
        found = export(self.snapshot(club), self.clock.now())
        found.pop("as_of")
        return found

    def standings(self) -> dict[tuple[str, str], dict[str, Any]]:
        """(first name in lower case, skill) → what the export says of it."""
        return {
            (child["name"].split()[0].lower(), skill): state
            for child in self.export()["children"] for skill, state in child["skills"].items()
        }

    def close(self) -> None:
        self.run(self.store.close())
        self._loop.close()
