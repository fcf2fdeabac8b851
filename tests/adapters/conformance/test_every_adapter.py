"""The laws of `adapters/port.py`, held against every adapter that is registered in `sprung.adapters`."""
from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.channel import fit
from adapters.clock import Clock
from adapters.port import Adapter, registered
from adapters.service import Service
from bot.port import Store
from bot.step import Said
from tests.adapters.conformance.drivers import DRIVERS, Driver, Shown
from tests.adapters.conftest import said
from tests.adapters.http.api import fill

ADAPTERS = registered()
NAMES = sorted(ADAPTERS)


def test_each_registered_adapter_can_be_driven() -> None:
    """The console and the gateway are registered; whoever registers another writes a driver for it."""
    assert {"console", "gateway"} <= ADAPTERS.keys()
    assert ADAPTERS.keys() == DRIVERS.keys(), "tests/adapters/conformance/drivers.py: one driver for each adapter"


@pytest.fixture(params=NAMES)
async def driver(
    request: pytest.FixtureRequest, tmp_path: Path, make_service: Callable[[Store, Clock], Service],
) -> AsyncIterator[Driver]:
    """Each adapter, working, in front of a dialogue that only echoes."""
    await fill(tmp_path / "club.sqlite")
    made = DRIVERS[request.param]()
    await made.start(tmp_path / "club.sqlite", make_service)
    yield made
    await made.stop()


@pytest.mark.parametrize("text", ["ava seen", "Zoë ✓; d'Arcy – not yet", "7", "+", "?!", "a  b"])
async def test_what_is_typed_is_what_is_heard(driver: Driver, text: str) -> None:
    """A text reaches the dialogue as it was typed, whatever signs are in it."""
    (answer,) = await driver.says("jo", text)
    assert " ".join(answer.text.split()) == " ".join(f"heard {text}".split())


async def test_answers_come_whole_and_in_order(driver: Driver) -> None:
    """Several messages in answer to one come in their order, each with its own choices."""
    assert await driver.says("jo", "say one / two [Yes] / three [No] [Later]") == [
        Shown("one"), Shown("two", ("Yes",)), Shown("three", ("No", "Later")),
    ]


async def test_a_choice_is_the_one_that_was_shown(driver: Driver) -> None:
    """Picked at once or after other talk, a choice means what its label said."""
    await driver.says("jo", "say well? [Yes] [No]")
    (first,) = await driver.taps("jo", "No")
    assert "No" in first.text or "2" in first.text
    (again,) = await driver.taps("jo", "Yes")
    assert "Yes" in again.text or "1" in again.text


async def test_an_answer_is_for_whoever_asked(driver: Driver) -> None:
    """Nobody else is shown what somebody is answered."""
    await driver.says("sam", "hi")
    assert (await driver.says("jo", "mine"))[0].text == "heard mine"
    assert not [text for text in await driver.unasked("sam") if "mine" in text]


async def test_unasked_messages_come_to_their_person_in_order(driver: Driver) -> None:
    """What falls due comes to those it is for, the earliest first, and to nobody else."""
    await driver.says("sam", "hi")
    await driver.says("jo", "later 60 sam")
    await driver.says("jo", "later 90 sam jo")
    await driver.pass_time(120)
    assert await driver.unasked("sam") == ["due 60", "due 90"]
    assert await driver.unasked("jo") == ["due 90"]


async def test_what_was_said_while_it_was_away_still_comes(
    driver: Driver, tmp_path: Path, make_service: Callable[[Store, Clock], Service],
) -> None:
    """A message that fell due while the adapter was not there is shown when it is back."""
    await driver.says("sam", "hi")
    await driver.says("jo", "later 60 sam")
    await driver.pass_time(120)
    await driver.stop()
    await driver.start(tmp_path / "club.sqlite", make_service)
    assert await driver.unasked("sam") == ["due 60"]


async def test_a_bad_day_ends_nothing(driver: Driver) -> None:
    """Where the dialogue fails nothing of the fault is shown, and the next message is answered."""
    try:
        shown = await driver.says("jo", "fail")
    except AssertionError as refused:
        shown = [Shown(str(refused))]
    assert not any(word in one.text for one in shown for word in ("Traceback", "RuntimeError"))
    assert (await driver.says("jo", "hi"))[0].text == "heard hi"


async def test_people_talk_at_the_same_time(driver: Driver) -> None:
    """Talks beside each other don't mix."""
    answers = await asyncio.gather(*(driver.says(person, f"{person}!") for person in ("jo", "sam")))
    assert [one[0].text for one in answers] == ["heard jo!", "heard sam!"]


# --- what it carries ------------------------------------------------------------------------------------

LETTERS = st.characters(codec="utf-8", exclude_categories=["C"])
LABELS = st.lists(st.text(LETTERS, min_size=1, max_size=60), max_size=120)


@pytest.mark.parametrize("adapter", [ADAPTERS[name] for name in NAMES], ids=NAMES)
@given(text=st.text(max_size=3000), labels=LABELS)
def test_every_message_fits(adapter: Adapter, text: str, labels: list[str]) -> None:
    """However long a message and however many its choices, it is shown within what the channel carries."""
    message: Said = said(text, labels)
    fitted = fit(message, adapter.carries)
    assert len(fitted.buttons) == min(len(labels), adapter.carries.choices)
    assert all(len(one.label) <= adapter.carries.label for one in fitted.buttons)
    assert len({one.label for one in fitted.buttons}) == len(fitted.buttons)
    assert all(len(one) <= adapter.carries.text for one in fitted.texts)


@pytest.mark.parametrize("name", NAMES)
def test_a_channel_has_a_name_of_its_own(name: str) -> None:
    """No two adapters speak for one channel."""
    channels = [one.channel for one in ADAPTERS.values() if one.channel is not None]
    assert len(channels) == len(set(channels))
    assert ADAPTERS[name].channel != ""
