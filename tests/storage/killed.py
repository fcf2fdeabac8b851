"""A program that takes in messages until it is killed; what it says on its output is all that a sender knows.

Started by `test_kills.py`: `killed.py DATABASE FIRST`. Before a message is handed over its number goes out as
`sent N`, and once it is answered as `done N`.
"""
from __future__ import annotations

import asyncio
import sys

from storage import open_store
from tests.storage.steps import a_mark, heard

SENDERS = 8             # side by side, so that several share a commit


async def send(url: str, first: int) -> None:
    """Send for ever, several at a time."""
    store = open_store(url)
    numbers = iter(range(first, sys.maxsize))

    async def sender() -> None:
        for number in numbers:
            sys.stdout.write(f"sent {number}\n")
            sys.stdout.flush()
            await store.step(heard(number, str(number)), a_mark)
            sys.stdout.write(f"done {number}\n")
            sys.stdout.flush()

    await asyncio.gather(*(sender() for _ in range(SENDERS)))


if __name__ == "__main__":
    asyncio.run(send(sys.argv[1], int(sys.argv[2])))
