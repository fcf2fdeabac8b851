"""What a store remembers between messages has an end, and is let go of when it is no longer so."""
from __future__ import annotations

from dataclasses import replace

from storage.cache import MEMOS, Cache, Recent
from storage.shelf import Home
from tests.contract.club import hall


def home(name: str = "Bench") -> Home:
    one = hall(name)
    return Home(one.club, {person.id: person for person in one.people}, {1: one.scheme})


def test_the_words_of_few_people_are_remembered() -> None:
    """However many speak, what steps keep for them is kept for so many: those who spoke last."""
    cache, club = Cache(), home()
    for n in range(MEMOS + 10):
        cache.memo(club, f"p{n}")["words"] = n
    assert len(cache.memos._kept) == MEMOS
    assert cache.memo(club, f"p{MEMOS + 9}") == {"words": MEMOS + 9}
    assert cache.memo(club, "p0") == {}


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
