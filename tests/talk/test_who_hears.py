"""Who hears what of whom: a canary in every name, every form and every choice for everybody, random families.

Consent as the rule has it (GDPR art. 7: shown, withdrawn as easily as given; tests/outside/test_privacy.py).
"""
from __future__ import annotations

import asyncio
import os
import random
import re
import sqlite3
from pathlib import Path

import pytest

from adapters.play.run import Stores, play_all
from adapters.service import Service
from bot.facts import FACT
from bot.step import Said
from bot.talk import turn
from bot.talk.draft import Draft
from storage import open_store
from tests.talk.hall import Hall

SCRIPTS = sorted([*Path("demo_conversations").glob("*.talk"), *Path("tests/elsewhere").glob("*.talk")])
RANDOM = int(os.environ.get("SPRUNG_SCRIPTS", "120"))
NAMES = {"Ava": "Price", "Ben": "Okafor", "Chidi": "Eze", "Dara": "Lund", "Efa": "Morgan", "Finn": "Moss"}
OUTSIDE = ("Zuleika", "Otto", "Canary")         # of the other class, and of another club
FORMS = (
    "start", "start tuesday", "start friday", "everyone", "{n} seen", "{n} seen hop", "seen {n}", "all seen",
    "none yet", "all but {n} seen", "not {n}", "not 1", "{n} not yet", "{n} not yet hips", "{n} seen wheel left",
    "{n} seen medley galop", "{n} seen show 2", "at 17:10: {n} seen hop", "on tuesday at 17:10: {n} seen hop",
    "{n} away", "{n} here", "{n} sits", "{n} back", "{n} leaves 17:30", "{n} no landings", "{n} no landings 3 weeks",
    "add Nova Quill", "red is {n}", "red seen", "pause", "carry on", "bump {n}", "later {n} 3 weeks", "undo", "owed",
    "owed {n}", "owed hop", "resting", "standard", "standard hop", "next", "skip", "plan", "awards", "agreed", "pace",
    "agree {n} hop: seated", "day before", "no day before", "hold news {n}", "release {n}", "cut off {n}", "help",
    "stop", "yes", "no", "1", "2", "7", "{n}", "who is {n}?", "why hasn't {n} passed", "close", "join {n}", "hop",
    "hips", "{n} shown", "paper", "owed tuesday", "owed friday", "grid tuesday", "grid friday", "who is here",
)


def allowed(person: str) -> set[str]:
    """The names that may be said to somebody of the Tuesday class, of the Friday class, to a parent, to a stranger."""
    if person in ("jo", "sam"):
        return {*NAMES, *NAMES.values()}
    return {"ines": {"Zuleika", "Canary"}, "kit": set(NAMES), "pa": {"Ava"}}.get(person, set())


def leaks(said: Said, person: str, typed: str = "") -> list[str]:
    """Names in a message, its choices included, that this person may not hear. What they typed themselves is theirs."""
    text = " ".join((said.text, *(choice.label for choice in said.choices)))
    every = {*NAMES, *NAMES.values(), *OUTSIDE}
    said_words = set(re.findall(r"\w+", text)) - {word.capitalize() for word in re.findall(r"\w+", typed)}
    return sorted((every - allowed(person)) & said_words)


def busy_hall() -> Hall:
    """A hall in the middle of everything: lines, rests, misses, awards, families, both classes, both clubs."""
    hall = Hall()
    hall.parent("pa", "ava")
    for person, texts in {
        "jo": ("start", "everyone", "ava, ben seen stand", "chidi not yet hop", "dara seen hop", "red is ava ben",
               "finn away", "next", "bump efa", "carry on"),
        "ines": ("start friday", "everyone", "zuleika seen hop"),
        "sam": ("next", "owed"),
        "kit": ("next",),
    }.items():
        for text in texts:
            hall.say(person, text)
    hall.say("jo", "start", club="Elsewhere")
    hall.say("jo", "otto seen hop", club="Elsewhere")
    hall.wait(70)
    return hall


@pytest.mark.parametrize("person", ["jo", "sam", "ines", "kit", "pa", "nobody"])
def test_no_form_of_words_gives_a_name_away(person):
    """Every typed form, with the name of every child there is, by everybody."""
    hall = busy_hall()
    for form in FORMS:
        for name in (*NAMES, "Zuleika", "Otto", "Zuleika Canary"):
            text = form.format(n=name)
            for said in hall.say(person, text):
                assert leaks(said, person, text) == [], (text, said.text)
            if "{n}" not in form:
                break
    hall.wait(3600)
    for said in hall.said[person]:
        if said.in_reply_to is None:
            assert leaks(said, person) == [], said.text
    hall.close()


def test_an_unknown_child_is_answered_like_an_unknown_name():
    """A child of a class that one is not given, and one who does not exist: the same words."""
    hall = busy_hall()
    for form in ("{n} seen hop", "owed {n}", "{n} away", "agree {n} hop: seated", "cut off {n}", "later {n} 3 weeks"):
        known = hall.say("jo", form.format(n="zuleika"))[0]
        unknown = hall.say("jo", form.format(n="zuleiko"))[0]
        assert known.text.replace("zuleika", "zuleiko") == unknown.text
    hall.close()


@pytest.mark.parametrize("person", ["jo", "sam", "ines", "kit", "pa", "nobody"])
def test_no_choice_of_somebody_else_gives_a_name_away(person):
    """Every choice that was ever put to anybody, tapped by everybody: in this club and from another one."""
    hall = busy_hall()
    hall.say("jo", "ava seen hop")
    hall.say("jo", "close")
    hall.tap("jo", "Hold some")
    hall.say("jo", "cut off ava")
    choices = [choice for several in list(hall.said.values()) for said in several for choice in said.choice_ids()]
    assert len(choices) > 40
    for choice in choices:
        for club in ("Bench", "Elsewhere"):
            for said in hall.say(person, choice=choice, club=club):
                if club == "Bench":
                    assert leaks(said, person) == [], (choice, said.text)
                else:
                    assert not any(name in said.text for name in (*NAMES, "Zuleika")), said.text
    hall.close()


def test_of_the_book_on_a_parents_desk_only_their_own_child_is_known():
    """The whole book lies there, since reminders are derived from it; what is said can be about their child alone."""
    hall, desks = busy_hall(), []
    service = Service(hall.store, hall.clock)
    service._decide = lambda heard, desk: desks.append(desk) or turn.step(heard, desk)
    now = hall.clock.now()
    hall.run(service.hear(id="m", channel="Bench", sender="pa", text="help", choice=None, sent_at=now))
    draft = Draft(desks[-1], "m", now, now)
    children = desks[-1].books["tue"].children
    assert (len(children), [child for child in children if draft.knows(child)]) == (6, ["tue-ava-price"])
    with pytest.raises(KeyError):
        draft.called("tue-ben-okafor")
    hall.close()


# --- consent ----------------------------------------------------------------------------------------------

STOPS = ("STOP", "stop please", "please don't text me any more", "unsubscribe", "no more messages please",
         "Take me off this list", "leave us alone", "stop texting me")

MOVES = ("lesson", "lesson", "word", "hold", "free", "undo", "stop", "talk", "cut", "wait", "wait")


class Families:
    """A few weeks of two coaches and three families at random, and who of them has said yes. Knows nothing of ours."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.hall = Hall()
        self.yes: set[tuple[str, str]] = set()
        self.heard: dict[str, int] = {}
        self.told = 0

    def play(self) -> None:
        for phone, child in (("pa", "Ava"), ("ma", "Ava"), ("pb", "Ben")):
            answer = self.chance.choice(["Yes", "Yes", "No", None])
            self.hall.parent(phone, child.lower(), answer)
            if answer == "Yes":
                self.yes.add((phone, child))
        for _ in range(self.chance.randint(8, 25)):
            self.step()
            self.check()
        self.hall.wait(3 * 24 * 3600)
        self.check()
        self.hall.close()

    def step(self) -> None:
        hall, chance = self.hall, self.chance
        move = chance.choice(MOVES)
        put = [one.label for said in hall.said.get("jo", []) for one in said.choices]
        if move == "lesson":
            hall.say("jo", "start")
            hall.say("jo", "everyone")
            for text in chance.sample(["ava seen hop", "ben seen hop", "ava, ben seen wheel left",
                                       "ava, ben seen wheel right", "ben not yet hop", "bump ava"], 3):
                hall.say("jo", text)
            hall.say("jo", "close")
        elif move == "word" and "Send as usual" in put:
            hall.tap("jo", "Send as usual")
        elif move in ("hold", "free", "undo"):
            hall.say("jo", {"hold": "hold news ava", "free": "release ava, ben", "undo": "undo"}[move])
        elif move == "stop":
            phone = chance.choice(["pa", "ma", "pb"])
            hall.say(phone, chance.choice(STOPS))
            self.yes = {one for one in self.yes if one[0] != phone}
        elif move == "talk":
            said = chance.choice(["thanks", "how is she?", "help", "is class on?"])
            hall.say(chance.choice(["pa", "ma", "pb"]), said)
        elif move == "cut" and chance.random() < 0.3:
            hall.say("jo", "cut off ava")
            last = hall.said["jo"][-1]
            for label in ("All of them", "Cut off"):
                if any(one.label == label for one in last.choices):
                    hall.tap("jo", label)
                    self.yes = {one for one in self.yes if one[1] != "Ava"}
        elif move == "wait":
            hall.wait(chance.choice([60, 1800, 6 * 3600, 24 * 3600]))

    def check(self) -> None:
        """Whatever came unasked since the last look came to somebody who says yes, of that child alone."""
        for phone in ("pa", "ma", "pb"):
            said = self.hall.said.get(phone, [])
            for one in said[self.heard.get(phone, 0):]:
                if one.in_reply_to is None:
                    named = [child for child in NAMES if child in one.text]
                    assert named, one.text
                    assert {(phone, child) for child in named} <= self.yes, (phone, one.text)
                    assert 8 <= one.at.hour < 20
                    self.told += 1
            self.heard[phone] = len(said)


def test_who_has_not_said_yes_hears_nothing():
    """Random weeks; and so that the test can fail, some families did hear."""
    told = 0
    for seed in range(RANDOM):
        families = Families(seed)
        families.play()
        told += families.told
    assert told > RANDOM / 10


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_no_script_tells_a_parent_anything_without_a_yes(script, tmp_path):
    """In every script: an unasked message to a parent is about a child for whom that parent's yes holds then."""
    database = tmp_path / "play.sqlite"
    asyncio.run(play_all([script], Stores(f"sqlite:///{database}", open_store), quiet=True, accept=False))
    with sqlite3.connect(database) as rows:
        facts = [FACT.validate_json(body) for (body,) in rows.execute("SELECT body FROM fact ORDER BY club, seq")]
        names = dict(rows.execute("SELECT child, name FROM child"))
        parents = {who for (who,) in rows.execute("SELECT person FROM person WHERE body LIKE '%\"role\":\"parent\"%'")}
        unasked = rows.execute("SELECT person, at, text FROM said WHERE in_reply_to IS NULL").fetchall()
    consents = [fact for fact in facts if fact.kind == "consent"]
    for person, at, text in unasked:
        if person in parents:
            before = [one for one in consents if one.parent == person and one.at.timestamp() * 1_000_000 <= at]
            holds = {child for child in {one.child for one in before}
                     if [one for one in before if one.child == child][-1].yes}
            named = {child for child, name in names.items() if re.search(rf"\b{re.escape(name.split()[0])}\b", text)}
            assert named & holds, text
            assert {names[child].split()[0] for child in named} == {names[child].split()[0] for child in named & holds}
