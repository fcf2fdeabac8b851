"""What a store remembers between messages has an end, and is let go of when it is no longer so."""
from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from storage.cache import Cache, Recent
from storage.shelf import Home
from tests.contract.club import hall
from tests.postgres import address_of
from tests.talk.hall import Hall


def home(name: str = "Bench") -> Home:
    one = hall(name)
    return Home(one.club, {person.id: person for person in one.people}, {1: one.scheme})


def test_of_so_many_lessons_all_is_remembered() -> None:
    """However many speak, what is kept for them is kept of so many: of those who spoke last."""
    cache, club = Cache(20), home()
    for n in range(30):
        cache.memo(club, f"p{n}")["words"] = n
        cache.homes.put(f"club {n}", club)
    assert len(cache.memos._kept) == len(cache.homes._kept) == 20
    assert cache.memo(club, "p29") == {"words": 29}
    assert cache.memo(club, "p0") == {}


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_with_little_remembered_all_is_as_with_much(kind: str, tmp_path: Path) -> None:
    """Where one lesson is kept at hand and two take turns, each message reads its own anew, and is answered alike."""
    said = []
    for lessons in (1, 500):
        with address_of(kind, tmp_path / str(lessons)) as url:
            floor = Hall(url, lessons=lessons)
            texts = ("start", "everyone", "hop", "go", "all seen", "owed", "undo", "none yet", "close")
            said.append([one.text for text in texts for club, who in (("Bench", "jo"), ("Elsewhere", "jo"))
                         for one in floor.say(who, text, club=club)])
            said[-1].append(str(floor.standings()))
            floor.close()
    assert said[0] == said[1]
    assert len(said[0]) > 18


def test_what_was_kept_for_another_state_of_the_club_is_gone() -> None:
    """A child who is forgotten, or a class that is renamed, is in no words of anybody."""
    cache, club = Cache(), home()
    cache.memo(club, "jo")["words"] = "Ava"
    assert cache.memo(club, "jo") == {"words": "Ava"}
    assert cache.memo(replace(club), "jo") == {}


def test_the_one_used_longest_ago_goes() -> None:
    """Looking at it is using it."""
    recent: Recent[str, int] = Recent(2)
    for key in "ab":
        recent.put(key, 1)
    recent.get("a")
    recent.put("c", 1)
    assert (recent.get("a"), recent.get("b"), recent.get("c")) == (1, None, 1)
