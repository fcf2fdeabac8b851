"""A frozen value with fields changed is what `dataclasses.replace` makes of it."""
from __future__ import annotations

import dataclasses
from datetime import UTC, datetime
from typing import Any

import pytest

from bot.frozen import replace
from bot.marks.standing import Last, Standing
from bot.step import WantSaid
from bot.talk.state import Question, Talk

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
LAST = Last("m#0", "jo", "tue/2026-11-24", NOON, "seen", 1, ("left",))


@pytest.mark.parametrize(("one", "changes"), [
    (Standing(tries=1, last=LAST), {"show": 2, "rested_at": NOON, "missed": ("hips",)}),
    (Talk(stood=("ava",)), {"said": 3, "question": Question("who", 3)}),
    (LAST, {}),
    (WantSaid(4), {"seq": 5}),      # a single field
])
def test_is_the_same_as_the_librarys_own(one: Any, changes: dict[str, Any]) -> None:
    """Type, fields, hash and words are the library's own; the value it was made of is as it was, and frozen."""
    was = dataclasses.astuple(one)
    mine, own = replace(one, **changes), dataclasses.replace(one, **changes)
    assert (type(mine), mine, hash(mine), repr(mine)) == (type(own), own, hash(own), repr(own))
    assert dataclasses.astuple(one) == was
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(mine, dataclasses.fields(one)[0].name, None)


def test_a_field_that_is_not_there_is_refused() -> None:
    """A slip in a field's name is no silent change."""
    with pytest.raises(TypeError, match="Standing has no shows"):
        replace(Standing(), show=2, shows=3)
