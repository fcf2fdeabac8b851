"""Files that go with a message: who fetches them by its secret, and when nobody does any more."""
from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from bot.attached import Attachment, ClassGrid, Click, Progress
from bot.step import Desk, Heard, Say, Stepped
from tests.contract.club import CLUB, NOW, hall, heard, saying

FILES = (
    Attachment(Click(120, 8), "a click"), Attachment(ClassGrid("tue"), "the class"), Attachment(Progress("ava"), "her"),
)


def attaching(heard: Heard, desk: Desk) -> Stepped:
    """A decision that says something with files."""
    talk = replace(desk.talk, said=desk.talk.said + 1)
    return Stepped(talk, (Say("here", attached=FILES),))


async def test_files_stay_with_their_message(store):
    """What is attached comes back whole over a restart, the same for the same message, under a secret of its own."""
    (first,) = await store.step(heard("m-1"), attaching)
    (other,) = await store.step(heard("m-2"), attaching)
    (plain,) = await store.step(heard("m-3"), saying("no files"))
    await store.restart()
    assert await store.step(heard("m-1"), attaching) == (first,)
    assert first.attached == FILES
    assert len(first.secret) > 20
    assert first.secret != other.secret
    assert plain.secret == ""
    desk, said = await store.attached(first.secret, NOW)
    assert said == first
    assert (desk.me.id, set(desk.books)) == ("jo", {"tue"})


async def test_a_secret_that_is_none_opens_nothing(store):
    """Neither a wrong secret nor an empty one, though most messages have none."""
    await store.step(heard("m-1"), attaching)
    await store.step(heard("m-2"), saying("no files"))
    assert [await store.attached(secret, NOW) for secret in ("", "guessed")] == [None, None]


async def test_the_desk_is_that_of_now(store):
    """Who is given the class no more looks at nothing of it, whatever the message showed when it came."""
    (said,) = await store.step(heard("m-1", sender="sam"), attaching)
    desk, _ = await store.attached(said.secret, NOW)
    assert set(desk.books) == {"tue"}
    await store.load(hall(club=CLUB.replace('assistant = "sam"\n', "")), NOW + timedelta(hours=1))
    desk, _ = await store.attached(said.secret, NOW + timedelta(hours=1))
    assert set(desk.books) == set()


async def test_forgetting_a_child_takes_her_files(store):
    """A message whose file is about a child that is forgotten has no file any more, and its secret opens nothing."""
    (said,) = await store.step(heard("m-1"), attaching)
    await store.forget("bench", "ava")
    assert await store.attached(said.secret, NOW) is None
    await store.restart()
    assert await store.attached(said.secret, NOW) is None
