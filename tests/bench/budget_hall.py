"""What the budgets are measured on: clubs of any size, and coaches who type what they see. Measures nothing itself."""
from __future__ import annotations

import statistics
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import product

from adapters.clock import SimulatedClock
from adapters.http.serve import loaded
from adapters.service import Service
from bot.people.hall import Hall, read_hall
from bot.port import Store

START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LINE = 4
NAMES = (
    "Ava", "Ben", "Chidi", "Dara", "Efa", "Finn", "Gus", "Hana", "Ivy", "Jonah", "Kemi", "Leo", "Mia", "Noor", "Otto",
    "Pia", "Quinn", "Rosa", "Sami", "Tove", "Uma", "Vito", "Wren", "Yuki",
)
SKILLS = (
    "Candle roll", "Long balance", "Half spin", "Star leap", "Mat walk", "Side gallop", "Low bridge", "Wide swing",
    "Tuck rise", "Round step", "Slow fold", "Quick turn", "Deep lunge", "High kick", "Soft drop", "Final pose",
)
WATCHED = "candle-roll"     # being watched: without one, half of the lines say no skill for their first names
SURNAMES = ("Price", "Okafor", "Eze", "Lund", "Morgan", "Moss")


def scheme(skills: int) -> str:
    """So many skills; every other one is shown twice."""
    each = "".join(
        f"""
  [[award.skill]]
  id = "{name.lower().replace(" ", "-")}"
  name = "{name}"
  points = [{{id = "arms", label = "Arms long"}}, {{id = "toes", label = "Toes pointed"}}]
  shows = [{{seconds = 20}}{", {seconds = 20, rest_s = 60}" if n % 2 else ""}]
  line = {LINE}
""" for n, name in enumerate(SKILLS[:skills])
    )
    return f'[scheme]\nname = "Bench"\n[[award]]\nid = "one"\nname = "One"\n{each}'


def hall(club: str, classes: int = 1, children: int = 12, skills: int = 8) -> Hall:
    """A club with a coach and an assistant for each of its classes, all of them on Tuesday at five."""
    parts = [f'name = "{club}"\n']
    rows = ["child,class,award,has"]
    for n in range(classes):
        parts.append(
            f'[[class]]\nid = "c{n}"\nname = "Class {n}"\nday = "tuesday"\nstart = "17:00"\nminutes = 90\n'
            f'coach = "coach-{n}"\nassistant = "helper-{n}"\n'
            f'[[person]]\nid = "coach-{n}"\nname = "Coach {n}"\nrole = "coach"\n'
            f'[[person]]\nid = "helper-{n}"\nname = "Second {n}"\nrole = "assistant"\n'
        )
        rows += [f"{name} {SURNAMES[at % len(SURNAMES)]}{n},c{n},one," for at, name in enumerate(NAMES[:children])]
    return read_hall(scheme(skills), "".join(parts), "\n".join(rows) + "\n")


def lines(children: int = 12, skills: int = 8) -> Iterator[str]:
    """What a coach types, a line at a time: each is missed by one child, shown again, and shown the second time."""
    groups = [NAMES[start:start + LINE] for start in range(0, children, LINE)]
    for verdicts in ("miss", "seen"):
        for skill, names in product(SKILLS[:skills], groups):
            if verdicts == "miss":
                yield f"{', '.join(names[:-1])} seen; {names[-1]} not yet {skill}"
            else:
                yield f"{', '.join(names)} seen {skill}"


class Floor:
    """A service on a store, with coaches in the middle of their lessons."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.clock = SimulatedClock(START)
        self.service = Service(store, self.clock)
        self.senders: list[str] = []

    async def fill(self, clubs: int, classes: int, children: int = 12, skills: int = 8) -> None:
        """Load the clubs, meet the coaches, and start their lessons."""
        for club in (f"club-{n}" for n in range(clubs)):
            await self.store.load(hall(club, classes, children, skills), START)
            for n in range(classes):
                sender = f"{club}/coach-{n}"
                await self.store.meet("bench", sender, club, f"coach-{n}")
                self.senders.append(sender)
        for sender in self.senders:
            await self.say(sender, "start")
            await self.say(sender, "everyone")
        loaded()        # as `sprung serve` does; here for whatever is measured beside it too

    async def say(self, sender: str, text: str) -> str:
        """Type something; what was answered last."""
        said = await self.service.hear("bench", sender, text=text)
        return said[-1].text

    def later(self, seconds: float) -> None:
        """Let so much time pass for everybody."""
        self.clock.move_to(self.clock.now() + timedelta(seconds=seconds))


def percentile(values: list[float], of: float) -> float:
    """The value below which that share of the values lies."""
    return statistics.quantiles(values, n=100, method="inclusive")[round(of * 100) - 1]
