"""`POST /v1/messages`: what a person typed or tapped comes in, and what is said to it goes out in the answer."""
from __future__ import annotations

from datetime import UTC, datetime
from time import perf_counter

from aiohttp import web

from adapters.http.desk import Desk, answer, body, only
from adapters.http.letters import outgoing
from adapters.http.shapes import Message, Replies
from adapters.http.underway import under_way

# Far beyond these no calendar can be reckoned with; it is for the talk to say that such a time can't be meant.
EARLIEST, LATEST = datetime(2000, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


class Incoming:
    """Handles one message at a time; whether it came before is the store's to know."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def post(self, request: web.Request) -> web.StreamResponse:
        """Answered only once all that the message caused is durable."""
        began = perf_counter()
        desk = self._desk
        gateway = await desk.gateway(request)
        with under_way(desk.metrics, gateway, began) as one:
            only(request)
            message = await body(request, Message)
            one.message = message.id
            sender = desk.person(message.channel, message.sender)
            said = await desk.hear(
                message.channel, sender, text=message.typed, choice=message.tapped, id=message.id,
                sent_at=min(max(message.sent_at, EARLIEST), LATEST), via=gateway,
            )
            replies = tuple(outgoing(one, message.channel, sender, desk.address) for one in said)
            return answer(Replies.model_construct(replies=replies))
