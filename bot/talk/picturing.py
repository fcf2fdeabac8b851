"""The class, or a child, to be looked at: a picture where the channel carries one, and the same in words where not."""
from __future__ import annotations

from bot.attached import Attachment, ClassGrid, Progress
from bot.talk import requests, words
from bot.talk.asides import of_class, rows_of_child
from bot.talk.draft import Draft
from bot.talk.sheet import looked_at
from bot.talk.watching import aside


def picture(draft: Draft, request: requests.Picture) -> None:
    """`grid`, `progress ava`."""
    if request.child is not None:
        head, rest = rows_of_child(draft, request.child)
        aside(draft, head, Attachment(Progress(request.child), rest))
        return
    one = looked_at(draft)
    if one is None:
        aside(draft, "You have no class yet.")
        return
    at = words.clock(draft.now, draft.club.tz)
    aside(draft, f"{one.name}, as it stands at {at}.", Attachment(ClassGrid(one.id), of_class(draft, one.id)))
