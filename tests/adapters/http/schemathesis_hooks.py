"""What schemathesis is told beyond the description: how long it may wait, what a phone number is, whom to be."""
from __future__ import annotations

import re
import unicodedata
from contextlib import suppress
from datetime import datetime
from typing import Any

import schemathesis

from adapters.addresses import PHONE

SHORT_S = 0.02
COACH = {"channel": "sms", "sender": "+447700900123", "sent_at": "2026-11-24T16:58:00Z", "text": "next"}


@schemathesis.hook
def before_call(context: Any, case: Any, kwargs: Any) -> None:
    """A long poll that may be asked for is made a short one; a good message on a phone channel comes from a phone.

    Every other good text is a coach's, in a lesson: strangers are offered nothing that could be tapped.
    """
    query = case.query or {}
    if _seconds(query.get("wait")) > SHORT_S:
        query["wait"] = type(query["wait"])(SHORT_S)
    if re.fullmatch(r"[0-9]{1,18}", str(query.get("after"))):
        query["after"] = "0"        # behind any other cursor there is next to nothing
    body = case.body if isinstance(case.body, dict) else {}
    if not _good(body):
        return
    if isinstance(body.get("text"), str) and "choice" not in body and len(body["id"]) % 2:
        body.update(COACH)
    elif body["channel"] in PHONE:
        body["sender"] = f"+447700900{sum(map(ord, body['sender'])) % 1000:03}"


def _good(body: dict[str, Any]) -> bool:
    """Are these fields as they should be, so that others in their place make no good message of a bad one?"""
    if not all(isinstance(body.get(name), str) for name in ("id", "channel", "sender", "sent_at")):
        return False
    sender = body["sender"]
    if not re.fullmatch(r"[a-z0-9_.-]{1,40}", body["channel"]) or not sender.strip(" ") or _unseen(sender):
        return False
    with suppress(ValueError):
        return len(sender) <= 200 and datetime.fromisoformat(body["sent_at"]).utcoffset() is not None
    return False


def _unseen(text: str) -> bool:
    """Does it hold what the description forbids: control characters, and halves of a pair?"""
    return any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text)


def _seconds(wait: Any) -> float:
    """How long a poll would take; 0 where it would be refused."""
    try:
        return float(wait) if isinstance(wait, (int, float, str)) and float(wait) <= 60 else 0
    except ValueError:
        return 0
