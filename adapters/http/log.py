"""The log of `serve`: a line an event, as text or as JSON, and never a name, a word that was said, or an address.

What lives here: what a line may hold. An event says what happened by fields of our own; an error says its kind and
where it was, never its words, for they may hold a child's name. Of what other libraries write only the place is said.
Ids of messages are their senders' own and may be made of anything, phone numbers included, so a digest stands for them.
"""
from __future__ import annotations

import json
import logging
import re
import sys
import threading
import traceback
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from adapters.http.metrics import Metrics

EVENTS = logging.getLogger("sprung.events")
OURS = ("sprung", "adapters", "storage", "bot")
LINE_ENDS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]+")      # nobody begins a line of ours by what they send
PLACES = 4          # so many of the last places that an error went through are named
Line = dict[str, Any]


def wanted() -> bool:
    """Is anybody there who reads events?"""
    return EVENTS.isEnabledFor(logging.INFO)


def event(what: str, **fields: str | float | None) -> None:
    """Something happened, which is no fault. Fields are ours alone: no text, no name, no address."""
    if wanted():
        EVENTS.info(what, extra={"fields": {key: value for key, value in fields.items() if value is not None}})


def named(message: str) -> str:
    """What a message is called in the log: as `printf %s GATEWAY:ID | sha256sum` begins."""
    return sha256(message.encode("utf-8", "replace")).hexdigest()[:12]


# --- a line ---------------------------------------------------------------------------------------------

def described(record: logging.LogRecord) -> Line:
    """What may be said of a record."""
    ours = record.name.partition(".")[0] in OURS
    line: Line = {
        "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
        "level": record.levelname.lower(),
        "what": record.getMessage() if ours else f"{record.name} in {record.funcName} ({record.filename})",
        **getattr(record, "fields", {}),
    }
    if record.exc_info and record.exc_info[1] is not None:
        line["error"] = _where(record.exc_info[1])
    return line


def _where(error: BaseException) -> str:
    """The kind of an error and the last places that it went through."""
    frames = traceback.extract_tb(error.__traceback__)[-PLACES:]
    path = " < ".join(f"{one.name} ({one.filename.rpartition('/')[2]}:{one.lineno})" for one in reversed(frames))
    return f"{type(error).__name__} in {path}" if path else type(error).__name__


class AsText(logging.Formatter):
    """For eyes."""

    def format(self, record: logging.LogRecord) -> str:
        """Time, level, what, then each field with its name; an error last."""
        line = described(record)
        error = line.pop("error", None)
        head = f"{line.pop('time')} {line.pop('level').upper()} {line.pop('what')}"
        fields = "".join(f" {key}={value}" for key, value in line.items())
        return LINE_ENDS.sub(" ", f"{head}{fields}{'' if error is None else f': {error}'}")


class AsJson(logging.Formatter):
    """For machines: one object a line."""

    def format(self, record: logging.LogRecord) -> str:
        """All of it."""
        return json.dumps(described(record), ensure_ascii=False)


# --- where it goes ----------------------------------------------------------------------------------------

def log_to_stderr(how: str | None) -> None:
    """Warnings and errors go to the error output; with `how`, text or json, every event too."""
    handler = logging.StreamHandler()
    handler.setFormatter(AsJson() if how == "json" else AsText())
    root = logging.getLogger()
    root.addHandler(handler)
    root.setLevel(logging.WARNING)
    EVENTS.setLevel(logging.WARNING if how is None else logging.INFO)
    logging.raiseExceptions = False     # else what can't be written is printed whole
    threading.excepthook = lambda hook: _fell("a thread ended", hook.exc_value)
    sys.unraisablehook = lambda hook: _fell("something could not be let go", hook.exc_value)


def _fell(what: str, error: BaseException | None) -> None:
    """Python itself would print the words of the error."""
    logging.getLogger("sprung.http").error(what, exc_info=error)


class Counting(logging.Handler):
    """Counts warnings and errors by their kind."""

    def __init__(self, metrics: Metrics) -> None:
        super().__init__(logging.WARNING)
        self._metrics = metrics

    def emit(self, record: logging.LogRecord) -> None:
        """One more."""
        error = record.exc_info[1] if record.exc_info else None
        kind = "none" if error is None else type(error).__name__
        self._metrics.errors.labels(record.levelname.lower(), kind).inc()
