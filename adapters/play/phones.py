"""The phones of a script: who is who, what each has on its screen, and who is out of reach."""
from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from adapters.play.match import Came, label_fits
from adapters.play.script import Speak
from bot.step import Said

CHANNEL = "play"


@dataclass(frozen=True, slots=True)
class Message:
    """A message as a phone keeps it until it is delivered."""

    id: str
    who: str
    sent_at: datetime
    text: str | None = None
    choice: str | None = None


class NoSuchChoice(Exception):
    """A tap on a choice that is not there; the text says what is."""


@dataclass
class Phones:
    """Names of a script and the people behind them. One person may have several phones."""

    person_of: dict[str, tuple[str, str]] = field(default_factory=dict)     # name → (club, person)
    name_of: dict[tuple[str, str], str] = field(default_factory=dict)       # … and the first name for each
    shown: dict[str, list[Said]] = field(default_factory=dict)              # name → what came, each once
    held: dict[str, list[Message]] = field(default_factory=dict)            # who is out of reach → not yet sent
    codes: dict[str, str] = field(default_factory=dict)                     # name → the code handed over

    def know(self, name: str, club: str, person: str) -> None:
        """From now on this name is that person."""
        self.person_of[name] = (club, person)
        self.name_of.setdefault((club, person), name)

    def name(self, typed: str) -> str:
        """The name as it is known: an id in other letters is the same id."""
        if typed in self.person_of or typed in self.codes:
            return typed
        known = (*self.person_of, *self.codes)
        return next((one for one in known if one.casefold() == typed.casefold()), typed)

    def same(self, typed: str) -> str:
        """One name for each person, whichever of their names was typed."""
        name = self.name(typed)
        return self.name_of.get(self.person_of.get(name, ("", "")), name)

    def with_code(self, who: str, text: str) -> str:
        """The text with the code that was handed to whoever says it, or to the last, in place of the word CODE."""
        code = self.codes.get(who) or next(reversed(self.codes.values()), "CODE")
        return re.sub(r"\bCODE\b", code, text)

    def owner(self, said: Said) -> str:
        """The name of whoever a message is for."""
        return self.name_of.get((said.club, said.person), said.person)

    def show(self, came: Iterable[Came]) -> None:
        """These messages are on the screens."""
        for one in came:
            screen = self.shown.setdefault(self.same(one.to), [])
            if all(known.id != one.said.id for known in screen):
                screen.append(one.said)

    def choice(self, tap: Speak) -> str:
        """The id of the choice that is tapped. Raises NoSuchChoice."""
        screen = self.shown.get(self.same(tap.who), [])
        label = tap.label or ""
        carrying = [n for n, said in enumerate(screen) if _index(said, label) is not None]
        if not carrying:
            last = next((said for said in reversed(screen) if said.choices), None)
            has = "none has any choice" if last is None else "the last with choices has " + " ".join(
                f"[{choice.label}]" for choice in last.choices
            )
            raise NoSuchChoice(f"no message to {tap.who} carries [{label}]; {has}")
        return self._picked(screen, carrying, label, tap)

    def _picked(self, screen: list[Said], carrying: list[int], label: str, tap: Speak) -> str:
        at = carrying[-1] - tap.back
        if tap.back and at not in carrying:
            # That many messages back there is no such choice: then it is that many of those that have it.
            at = carrying[-1 - tap.back] if tap.back < len(carrying) else -1
        if at < 0:
            raise NoSuchChoice(f"{tap.who} has no message with [{label}] so far back")
        index = _index(screen[at], label)
        return screen[at].choice_ids()[index or 0]


def _index(said: Said, label: str) -> int | None:
    """Which choice of a message has this label: as written, else in other letters, else with `...` in it."""
    labels = [choice.label for choice in said.choices]
    for fits in (str.__eq__, label_fits):
        for n, known in enumerate(labels):
            if fits(label, known):
                return n
    return None
