"""The commands about awards and paper, as a club officer gives them, on the demo hall."""
from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result

from adapters.awards import typed
from adapters.clock import SimulatedClock
from adapters.halls import DEMO_HALL, read_folder
from adapters.service import Service
from storage import open_store

Run = Callable[..., Result]
LEO = "; ".join(f"leo seen {skill}" for skill in ("galop step", "arabesque", "waltz turn", "ribbon snakes"))
TALK = f"start\neveryone\nnoor seen waltz turn\n{LEO}\nclose\nyes\n"


@pytest.fixture
def hall(run: Run) -> Run:
    """Noor's and Leo's Lanterns are on the order."""
    run("hall", DEMO_HALL)
    run("chat", "--as", "jo", "--clock", "2026-11-24 16:58", typed=TALK)
    return run


def test_the_steps_by_command_are_those_of_the_talk(hall: Run) -> None:
    """Each step says what it did, the last one is taken back by undo, and the talk knows of it."""
    assert hall("awards").output == "Tuesday Lanterns. On the order: 2 Lantern.\n"
    assert hall("awards", "--as", "jo", "--cupboard", "lantern 1").output == "In the cupboard: 1 Lantern.\n"
    assert hall("awards", "--as", "jo", "ordered").output == (
        "Ordered: Lantern for Noor.\nFrom the cupboard: Lantern for Leo.\n")
    assert hall("awards", "--as", "jo", "undo").output == "Taken back: the ordering.\n"
    hall("awards", "--as", "jo", "ordered")
    assert hall("awards", "--as", "jo", "arrived").output == "Here: Lantern for Noor.\n"
    assert hall("awards", "--as", "jo", "presented").output == "Handed over: Lantern for Leo and Noor.\n"
    assert hall("awards").output == "No award waits for anything.\n"


def test_a_step_needs_somebody_in_whose_name_it_is_taken(hall: Run) -> None:
    """Wrong usage is 2, and nothing is moved; who is nobody is told with who there is."""
    assert hall("awards", "ordered").exit_code == 2
    assert hall("awards", "ordered", "--as", "nobody").exit_code == 1
    assert hall("awards", "arrived", "--as", "jo", "--cupboard", "lantern 1").exit_code == 2
    assert "On the order: 2 Lantern" in hall("awards").output


def test_the_order_sheet_and_the_list_are_csv_too(hall: Run) -> None:
    """RFC 4180, read back by Python's csv: by class, wanted, there, to order; then who is given what."""
    hall("awards", "--as", "jo", "--cupboard", "lantern 1")
    assert hall("order", "--csv", "order.csv").output == "order.csv is written.\n"
    rows = list(csv.reader(io.StringIO(Path("order.csv").read_text("utf-8"))))
    assert rows == [["Award", "Tuesday Lanterns", "Wanted", "In the cupboard", "To order"],
                    ["Lantern", "2", "2", "1", "1"]]
    hall("awards", "--as", "jo", "ordered")
    hall("order", "--list", "--csv", "list.csv")
    rows = list(csv.reader(io.StringIO(Path("list.csv").read_text("utf-8"))))
    assert rows == [["Class", "Name", "Award"], ["Tuesday Lanterns", "Leo Brandt", "Lantern"]]
    assert hall("order").output == "Nothing is on the order.\n"


async def test_a_command_does_not_change_where_somebody_is_reached() -> None:
    """What falls due for a coach goes to her phone, not to the command line where something was done in her name."""
    store, clock = open_store("memory:"), SimulatedClock(datetime(2026, 11, 24, 16, 20, tzinfo=UTC))
    await store.load(read_folder(DEMO_HALL), clock.now())
    await store.meet("sms", "+447700900123", "harbour-lane-hall", "jo")
    service = Service(store, clock)
    await service.hear("sms", "+447700900123", text="awards", via="my-sms")
    assert await typed(store, None, "jo", "awards", clock) == "No award waits for anything."
    assert await service.wake(clock.now() + timedelta(minutes=11))
    assert [letter.address for letter in await store.letters("my-sms", 0)] == ["+447700900123"]


@pytest.mark.parametrize("words", [["paper", "tuesday"], ["certificates", "tuesday"], ["order", "--pdf", "order.pdf"]])
def test_without_the_extra_printing_says_what_to_install(hall: Run, monkeypatch: pytest.MonkeyPatch, words) -> None:
    """A sentence, exit code 1, and no file."""
    monkeypatch.setitem(__import__("sys").modules, "typst", None)
    result = hall(*words)
    assert result.exit_code == 1
    assert "pip install 'sprung[print]'" in result.output
    assert not list(Path().glob("*.pdf"))


@pytest.mark.parametrize(("words", "says"), [
    (["paper", "sunday"], "There is no class sunday"), (["paper", "tuesday", "--day", "soon"], "soon is no day"),
    (["certificates", "nowhere"], "There is no class nowhere"),
    (["certificates", "saturday"], "There is no certificate to print"),
])
def test_what_is_not_there_is_told(hall: Run, words: list[str], says: str) -> None:
    """One sentence with what there is, exit code 1."""
    result = hall(*words)
    assert result.exit_code == 1
    assert result.output.startswith(says)
