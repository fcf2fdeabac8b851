"""A whole club out of one store and into another: nothing is lost, nothing is added, and it goes on as before."""
from __future__ import annotations

import asyncio
import json
import os
from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.out.export import export
from bot.out.whole import NoClub, read, written
from bot.port import Store
from bot.step import Refused
from storage import open_store
from tests.contract.club import NOW, hall
from tests.postgres import KINDS, address_of
from tests.talk.hall import Hall

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "20"))
CHILD = st.sampled_from(["ava", "ben", "chidi", "dara", "efa", "finn"])
SKILL = st.sampled_from(["hop", "stand", "wheel", "medley"])
MARKED = st.builds("{} {} {}".format, CHILD, st.sampled_from(["seen", "not yet"]), SKILL)
SAID = st.one_of(
    MARKED, MARKED, MARKED,
    st.sampled_from(["start tuesday", "everyone", "mia away", "close", "undo", "add Zoe Quill", "next", "all seen",
                     "none yet", "carry on", "pause", "awards", "lines of 3", "skip"]),
    st.builds("{} {}".format, CHILD, st.sampled_from(["away", "sits", "back", "no landings", "no landings 3 weeks"])),
    st.builds("{} is {} {}".format, st.sampled_from(["red", "blue"]), CHILD, CHILD),
    st.builds("agree {} {}: seated".format, CHILD, SKILL), st.builds("later {} 2 weeks".format, CHILD),
    st.builds("bump {}".format, CHILD), st.builds("hold news {}".format, CHILD),
)
TAPS = st.sampled_from(["Everyone", "Go", "All seen", "None yet", "Count it", "Yes", "Send as usual", "Undo", "Close"])
DEEDS = st.lists(st.one_of(
    st.tuples(st.just("say"), st.sampled_from(["jo", "jo", "sam"]), SAID),
    st.tuples(st.just("tap"), st.sampled_from(["jo", "sam"]), TAPS),
    st.tuples(st.just("wait"), st.sampled_from([1, 61, 3600, 86400 * 7]), st.none()),
    st.tuples(st.just("parent"), st.sampled_from(["petra", "paul"]), CHILD),
), min_size=1, max_size=25)


def live(made: Hall, deeds: list[tuple[str, Any, Any]]) -> None:
    """What becomes of a club by these."""
    made.say("jo", "start tuesday")
    made.say("jo", "everyone")
    for kind, who, what in deeds:
        try:
            if kind == "say":
                made.say(who, what)
            elif kind == "tap":
                made.tap(who, what)
            elif kind == "wait":
                made.wait(who)
            else:
                made.parent(who, what)
        except LookupError:
            continue


@given(deeds=DEEDS, into=st.sampled_from(["memory:", "sqlite"]))
@settings(max_examples=EXAMPLES, deadline=None)
def test_any_club_comes_back_as_it_was(
    deeds: list[Any], into: str, tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Whatever was said in a club, a store that takes it in has the same export, standings and all, over a restart
    too, and gives out the same club again, each class in its order."""
    here = Hall()
    url = into if into == "memory:" else f"sqlite:///{tmp_path_factory.mktemp('whole')}/club.sqlite"
    there = Hall.__new__(Hall)
    there.__dict__.update(here.__dict__, url=url, store=open_store(url), sent=[], said={}, last={})
    try:
        live(here, deeds)
        text = written(here.run(here.store.whole("bench")), here.clock.now())
        here.run(there.store.restore(read(text)))
        assert there.export() == here.export()
        there.restart()
        assert there.snapshot() == here.snapshot()
        again, whole = here.run(there.store.whole("bench")), read(text)
        assert again == whole
        assert [list(book.children) for book in again.books.values()] == [
            list(book.children) for book in whole.books.values()
        ]
    finally:
        here.run(there.store.close())
        here.close()


@pytest.fixture(params=KINDS)
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Any:
    """Each kind of store, empty."""
    with address_of(request.param, tmp_path) as found:
        yield found


async def with_store(url: str, do: Callable[[Store], Awaitable[Any]]) -> Any:
    """Do something with a store, and let it go."""
    store = open_store(url)
    try:
        return await do(store)
    finally:
        await store.close()


def test_every_store_takes_a_club_in(url: str) -> None:
    """A lesson with marks, a parent, a group, what was agreed and what is due comes to every kind of store."""
    here = Hall()
    live(here, [("say", "jo", "hop"), ("tap", "jo", "Go"), ("wait", 25, None), ("tap", "jo", "All seen"),
                ("wait", 30, None), ("tap", "jo", "All seen"), ("say", "jo", "ava, ben seen stand"),
                ("say", "jo", "red is ava ben"), ("parent", "petra", "ava"),
                ("say", "jo", "agree ava wheel: seated"), ("wait", 61, None), ("say", "sam", "ava seen stand"),
                ("say", "jo", "ben not yet stand"), ("say", "jo", "undo"), ("say", "jo", "close")])
    whole = read(written(here.run(here.store.whole("bench")), NOW))
    tuesday = whole.books["tue"]
    assert all((tuesday.pace, tuesday.groups, tuesday.agreed, tuesday.contacts, tuesday.standings, tuesday.lessons))
    assert whole == here.run(here.store.whole("bench"))

    at = here.clock.now() + timedelta(days=1)
    was, next_due = export(here.snapshot(), at), here.run(here.store.next_due())

    async def take_in(store: Store) -> None:
        await store.restore(whole)
        assert await store.whole("bench") == whole
        with pytest.raises(Refused, match="is here already; nothing was changed"):
            await store.restore(whole)
        assert await store.whole("bench") == whole
        assert export(await store.snapshot("bench"), at) == was
        assert await store.next_due() == next_due

    asyncio.run(with_store(url, take_in))
    here.close()


def test_a_club_goes_on_where_it_was(url: str) -> None:
    """After it was taken in, its people come in anew and the lesson is where it was: a second show is the second."""
    here = Hall()
    live(here, [("say", "jo", "ava seen stand"), ("wait", 61, None)])
    whole = here.run(here.store.whole("bench"))

    async def take_in(store: Store) -> None:
        await store.restore(whole)
        await store.meet("Bench", "jo", "bench", "jo")

    asyncio.run(with_store(url, take_in))
    if url != "memory:":
        there = Hall.__new__(Hall)
        there.__dict__.update(here.__dict__, url=url, store=open_store(url), sent=[], said={}, last={})
        there.say("jo", "ava seen stand")
        assert there.standings()["ava", "stand"]["standing"] == "ticked"
        here.run(there.store.close())
    here.close()


# --- files that are none -----------------------------------------------------------------------------------

@pytest.fixture(scope="module")
def a_file() -> str:
    """A club's file."""
    async def make(store: Store) -> str:
        await store.load(hall(), NOW)
        return written(await store.whole("bench"), NOW)

    return asyncio.run(with_store("memory:", make))


def test_secrets_and_addresses_stay_behind(tmp_path: Path) -> None:
    """No phone number, code, key or anything that was said is in a club's file."""
    async def make(store: Store) -> str:
        from bot.port import Feed, Gateway, Key, Phone
        await store.load(hall(), NOW)
        await store.meet("sms", "+447700900123", "bench", "jo")
        gateway = Gateway("gate", "https://hall.example", "whsec_secret")
        await store.keep_key(gateway, Key("digest-of-key", "spr_1", "gate"))
        await store.keep_phone(Phone("digest-of-phone", "p1", "bench", "jo", NOW))
        await store.keep_feed(Feed("digest-of-feed", "bench", "jo"))
        from tests.contract.club import heard, marking
        await store.step(heard("m-1", "ava seen", "+447700900123"), marking())
        return written(await store.whole("bench"), NOW)

    text = asyncio.run(with_store("memory:", make))
    assert "Ava Price" in text
    for secret in ("447700900123", "whsec", "digest-of", "spr_1", "ava seen hop"):
        assert secret not in text


@pytest.mark.parametrize(("change", "says"), [
    (lambda file: {**file, "version": 2}, "of version 2, and this program reads version 1"),
    (lambda file: {**file, "version": None}, "of version None"),
    (lambda file: {**file, "format": "else"}, "no file of a club"),
    (lambda file: [file], "no file of a club"),
    (lambda file: {**file, "club": {**file["club"], "record": []}}, "changed after it was written"),
    (lambda file: {**file, "club": None}, "changed after it was written"),
    (lambda file: {key: file[key] for key in file if key != "digest"}, "changed after it was written"),
])
def test_a_file_that_is_not_right_is_refused(a_file: str, change: Callable[[Any], Any], says: str) -> None:
    """A newer version, another file, a changed one: refused in a sentence."""
    with pytest.raises(NoClub, match=says):
        read(json.dumps(change(json.loads(a_file))))


@given(cut=st.integers(0, 20_000))
@settings(deadline=None)
def test_half_a_file_is_refused(a_file: str, cut: int) -> None:
    """A file that lost its end, wherever, is never taken for a smaller club."""
    if cut < len(a_file.rstrip()):
        with pytest.raises(NoClub, match=r"line .* column"):
            read(a_file[:cut])


def test_parts_that_do_not_fit_are_refused(a_file: str) -> None:
    """With a right digest too: facts numbered twice, a child in a class that is another's."""
    from bot.out.whole import _digest
    for spoil in (lambda club: club["record"].append(club["record"][0]), lambda club: club["schemes"].clear(),
                  lambda club: club["books"]["tue"]["children"]["ava"].update(class_id="fri"),
                  lambda club: club["record"][0]["recorded"]["fact"].update(kind="from the future")):
        file = json.loads(a_file)
        spoil(file["club"])
        with pytest.raises(NoClub):
            read(json.dumps({**file, "digest": _digest(file["club"])}))
