"""Is the time on a message one that we can take?"""
from __future__ import annotations

from datetime import timedelta

from bot.step import Heard
from bot.talk.draft import Draft
from bot.talk.looking import CLOCKS_DIFFER

BEHIND = timedelta(hours=24)


def refuse_time(draft: Draft, heard: Heard) -> str | None:
    """One sentence why the sender's clock can't be taken, or None. Nothing of such a message is recorded."""
    if heard.sent_at - heard.received_at > CLOCKS_DIFFER:
        return "Your phone's clock is ahead of ours, so nothing was recorded. Set its time, and send that again."
    if heard.received_at - heard.sent_at > BEHIND:
        return ("That was sent more than a day ago, so nothing was recorded. Type it again with its day and time: "
                "on tuesday at 17:10: ava seen cartwheel.")
    return None
