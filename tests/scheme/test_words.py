"""Words as people write them."""
from __future__ import annotations

import pytest

from bot.scheme.words import fold, meant, nearest, slug


@pytest.mark.parametrize(("one", "other"), [
    ("Łucja", "lucja"), ("Siân", "SIAN"), ("O'Hara", "ohara"), ("shoulder-stand", "Shoulder stand"),
    ("Şule Aydın", "sule aydin"), ("Søren", "soren"), ("Đorđe", "dorde"), ("ﬁn", "fin"),
])
def test_spellings_of_one_name_fold_alike(one: str, other: str) -> None:
    """Case, accents, apostrophes and hyphens do not matter."""
    assert fold(one) == fold(other)


def test_letters_of_other_scripts_stay() -> None:
    """What is a letter of its own is not taken for an accent."""
    assert fold("が") != fold("か")
    assert fold("हि") != fold("ह")


def test_a_slug_is_an_id_or_nothing() -> None:
    """A name makes an id; no letters make none."""
    assert slug("Harbour Lane Hall") == "harbour-lane-hall"
    assert slug("!?") == ""


def test_only_what_is_near_is_suggested() -> None:
    """A far word is answered with the choices there are."""
    assert nearest("qqq", ["candle"]) is None
    assert meant("qqq", ["candle"]) == 'use one of "candle"'
    assert meant("qqq", []) == "there are none to choose from"
