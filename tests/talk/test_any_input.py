"""Whatever comes in, from wherever the talk is: an answer, with something to do next."""
from __future__ import annotations

import os
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.talk.places import TABLE
from bot.talk.state import Place
from tests.talk.hall import Hall

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "25"))
QUICK = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))

WAYS = {
    Place.OUTSIDE: [],
    Place.REGISTER: ["start"],
    Place.SUGGESTED: ["start", "everyone"],
    Place.WATCHING: ["start", "everyone", "go"],
    Place.GAP: ["start", "everyone", "ava, ben, chidi, dara, efa, finn seen hop", *["skip"] * 5],
    Place.PAUSED: ["start", "everyone", "go", "pause"],
}
TYPED = [
    "start", "start tuesday", "close", "ava seen", "ava, ben and chidi seen hop", "seen ava", "all seen", "none yet",
    "all but ava seen", "not 2", "not ava", "ben not yet hips", "ben not yet", "ava seen left", "ava seen galop",
    "ava seen show 2", "ava, ben seen; chidi not yet", "at 16:59: ava seen hop", "on tuesday at 16:59: ava seen hop",
    "mia away", "ava away", "ava here", "ava sits", "ava back", "ava leaves 17:30", "ava no landings", "add Zoe Quill",
    "red is ava ben", "red seen hop", "pause", "carry on", "bump ben", "later ben 3 weeks", "undo", "owed",
    "owed ava",
    "resting", "standard", "standard wheel", "next", "skip", "join ABC", "stop", "help", "everyone", "yes", "no",
    "1", "7",
    "hips", "other", "wheel", "END", "cancel", "quit", "ava", "seen", "", " ", "\n", "ava seen hop\nben seen hop",
]


PIECES = ["ava", "ben", "seen", "not", "yet", "hop", "left", "7", "all", "but", "at", "17:00", ";", "is", "red",
          "show", "2", "away", "x", "👍", "\u202e", "Ｓｅｅｎ"]


def strange() -> st.SearchStrategy[str]:
    """Any text, and texts that are nearly ours."""
    return st.one_of(
        st.text(max_size=60), st.text(min_size=1990, max_size=2100),
        st.lists(st.sampled_from(PIECES), max_size=9).map(" ".join),
    )


def check(hall: Hall, said, person: str = "jo") -> None:
    """An answer that can be read, with a next thing to do, from a place that the table knows."""
    assert len(said) >= 1
    for one in said:
        assert one.text.strip()
        assert all(0 < len(choice.label) <= 20 for choice in one.choices)
        assert "Canary" not in one.text
        assert len(one.text) <= 600 or "Must be seen" in one.text
        assert one.choices or any(word in one.text.lower() for word in (
            "type", "start", "ask", "close", "again", "recorded", "see", "carry", "welcome", "code", "nothing",
        )), one.text


def at(place: Place) -> Hall:
    hall = Hall()
    for text in WAYS[place]:
        hall.say("jo", text)
    return hall


@pytest.mark.parametrize("place", WAYS, ids=lambda place: place.value)
def test_the_way_leads_there(place):
    """Each place of a coach can be reached, and is in the table."""
    hall = at(place)
    if place is not Place.OUTSIDE:
        talk = hall.run(_talk(hall))
        assert talk == place
    assert place in TABLE
    hall.close()


async def _talk(hall: Hall) -> Place:
    """The place of Jo's talk, as the next step will find it."""
    found = []

    def look(heard, desk):
        found.append(desk.talk.place)
        raise LookupError

    from bot.step import Heard

    with pytest.raises(LookupError):
        await hall.store.step(Heard("look", "Bench", "jo", hall.clock.now(), hall.clock.now(), "x"), look)
    return found[0]


@pytest.mark.parametrize("place", WAYS, ids=lambda place: place.value)
def test_every_typed_form_is_answered(place):
    """Each form of the table of what can be typed, from each place, one after another: always an answer."""
    hall = at(place)
    for text in TYPED:
        check(hall, hall.say("jo", text))
        hall.wait(7)
    hall.close()


@pytest.mark.parametrize("place", WAYS, ids=lambda place: place.value)
@QUICK
@given(data=st.data())
def test_anything_is_answered(place, data):
    """Texts of any kind, live taps, stale taps, other people's and invented ones: always an answer, never an error."""
    hall = at(place)
    hall.say("sam", "next")
    for _ in range(data.draw(st.integers(1, 8))):
        kind = data.draw(st.sampled_from(["text", "typed", "tap", "foreign", "invented"]))
        own = [choice for said in hall.said.get("jo", []) for choice in said.choice_ids()]
        other = [choice for said in hall.said.get("sam", []) for choice in said.choice_ids()]
        if kind == "text":
            said = hall.say("jo", data.draw(strange()))
        elif kind == "typed":
            said = hall.say("jo", data.draw(st.sampled_from(TYPED)))
        elif kind == "tap" and own:
            said = hall.say("jo", choice=data.draw(st.sampled_from(own)))
        elif kind == "foreign" and other:
            said = hall.say("jo", choice=data.draw(st.sampled_from(other)))
        else:
            said = hall.say("jo", choice=data.draw(st.text(max_size=30)))
        check(hall, said)
        hall.wait(data.draw(st.sampled_from([0, 1, 31, 61])))
    hall.close()


@QUICK
@given(texts=st.lists(st.one_of(strange(), st.sampled_from(TYPED)), min_size=1, max_size=6))
def test_a_stranger_learns_nothing(texts):
    """Whoever is not known gets an answer to anything, and no name of anybody."""
    hall = Hall()
    for text in texts:
        for one in hall.say("nobody", text):
            assert one.text.strip()
            assert not any(name in one.text for name in ("Ava", "Ben", "Jo Marsh", "Bench", "Canary", "Hop"))
    hall.close()


def a_parent(hall: Hall, agreed: bool) -> None:
    """Petra comes in with a code for Ava, and says yes, or nothing yet."""
    from bot.step import Invitation

    child = next(key for key, one in hall.snapshot().books["tue"].children.items() if one.first == "Ava")
    until = hall.clock.now() + timedelta(days=14)
    hall.run(hall.store.invite(Invitation("bench", None, child, until, used=False), "PARENT0001"))
    hall.say("petra", "join parent0001")
    if agreed:
        hall.tap("petra", "Yes")


@pytest.mark.parametrize("agreed", [False, True])
@QUICK
@given(texts=st.lists(st.one_of(strange(), st.sampled_from(TYPED)), min_size=1, max_size=6))
def test_a_parent_hears_of_no_child_in_passing(agreed, texts):
    """A parent, asked or agreed, gets an answer to anything, and no child's name or standing in it."""
    hall = Hall()
    hall.say("jo", "start")
    hall.say("jo", "everyone")
    a_parent(hall, agreed)
    marks = hall.export()["marks"]
    for text in texts:
        for one in hall.say("petra", text):
            assert one.text.strip()
            assert not any(name in one.text for name in ("Ava", "Ben", "Chidi", "Canary", "Hop", "not yet"))
    assert hall.export()["marks"] == marks
    hall.close()


def test_stop_ends_what_yes_began():
    """Consent is on record with the words that were shown; STOP ends it at once, as often as it is said."""
    hall = Hall()
    a_parent(hall, agreed=True)
    (given,) = hall.export()["consents"]
    assert "ended_at" not in given
    for word in ("STOP", "stop", "cancel"):
        assert "othing more" in hall.say("petra", word)[0].text
    (ended,) = hall.export()["consents"]
    assert ended["ended_at"] > ended["given_at"]
    hall.close()
