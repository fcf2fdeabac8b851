"""Problem documents (RFC 9457): every answer that is not what was asked for.

What lives here: what went wrong, as a sentence that names the field and the remedy. Never a traceback.
"""
from __future__ import annotations

import json
import logging
from collections.abc import Iterable, Mapping
from http import HTTPStatus
from math import ceil
from typing import Any

from aiohttp import web
from pydantic import ValidationError
from pydantic_core import ErrorDetails

from bot.step import OtherMessage, Refused

MEDIA_TYPE = "application/problem+json"
LOG = logging.getLogger("sprung.http")
LATER_S = 1             # when to try again what could not be saved
WHOLE_BODY = "body"
EXAMPLES = {
    "id": '"m-1"', "channel": '"sms"', "sender": '"+447700900123"', "sent_at": '"2026-11-24T17:03:11Z"',
    "text": '"ava seen"', "choice": '"c_1_0f2a", the id of a choice in a message', "permanent": "true",
}


class Problem(Exception):
    """A request that can't be answered as asked; it becomes a problem document."""

    def __init__(
        self, status: int, detail: str, *, errors: Iterable[tuple[str, str]] = (), headers: Mapping[str, str] = {},
    ) -> None:
        super().__init__(detail)
        self.status, self.detail, self.errors, self.headers = status, detail, tuple(errors), headers

    def response(self) -> web.Response:
        """The document."""
        document: dict[str, Any] = {
            "type": "about:blank", "title": HTTPStatus(self.status).phrase, "status": self.status,
            "detail": self.detail,
        }
        if self.errors:
            document["errors"] = [{"pointer": pointer, "detail": detail} for pointer, detail in self.errors]
        body = json.dumps(document, ensure_ascii=False).encode("utf-8", "replace")
        return web.Response(status=self.status, body=body, content_type=MEDIA_TYPE, headers=self.headers)


def wrong(field: str, remedy: str, status: int = 422) -> Problem:
    """One field is wrong."""
    return Problem(status, f"{field}: {remedy}", errors=((f"#/{field}", remedy),))


def too_many(wait_s: float, whose: str) -> Problem:
    """Somebody asked too often."""
    seconds = max(1, ceil(wait_s))
    detail = f"Too many requests {whose}; try again in {seconds} s."
    return Problem(429, detail, headers={"Retry-After": str(seconds)})


# --- what was raised ------------------------------------------------------------------------------------

def told(error: Exception) -> web.Response:
    """What was raised while a request was handled, as a document."""
    match error:
        case Problem():
            return error.response()
        case web.HTTPException():
            return _of_aiohttp(error).response()
        case OtherMessage():
            return Problem(409, str(error), errors=(("#/id", "give another message an id of its own"),)).response()
        case Refused():
            return Problem(503, str(error), headers={"Retry-After": str(LATER_S)}).response()
    LOG.error("a request could not be answered", exc_info=error)
    return Problem(500, "Something went wrong here. Nothing that was answered is lost; send it again.").response()


def _of_aiohttp(error: web.HTTPException) -> Problem:
    """404 and the like, which the router or the parser raises."""
    match error:
        case web.HTTPMethodNotAllowed():
            allowed = ", ".join(sorted(error.allowed_methods))
            return Problem(405, f"{error.method} is not for this path; it takes {allowed}.", headers={"Allow": allowed})
        case web.HTTPNotFound():
            return Problem(404, "There is nothing at this path; GET /v1/openapi.json says what there is.")
        case web.HTTPRequestEntityTooLarge():
            return Problem(413, "The body is larger than 64 KiB; send less.")
        case web.HTTPExpectationFailed():
            return Problem(417, "Only 100-continue can be expected; leave the header Expect out.")
    return Problem(error.status, f"{error.reason}.")


def of_parser(status: int) -> web.Response:
    """What is no HTTP at all."""
    known = status if status in HTTPStatus.__members__.values() else 400
    return Problem(known, "That is no HTTP request that can be read; check its first line and its headers.").response()


# --- a body that is not as it should be -----------------------------------------------------------------

def of_shape(error: ValidationError, fields: Iterable[str]) -> Problem:
    """A body that is none of ours: every field at fault, with what would do."""
    faults = [_fault(one, tuple(fields)) for one in error.errors(include_url=False, include_input=False)][:20]
    status = 400 if any(one["type"] == "json_invalid" for one in error.errors(include_url=False)) else 422
    return Problem(status, "; ".join(f"{name}: {says}" for name, says in faults) + ".",
                   errors=((f"#/{name}" if name != WHOLE_BODY else "#", says) for name, says in faults))


def _fault(error: ErrorDetails, fields: tuple[str, ...]) -> tuple[str, str]:
    field = "/".join(str(part)[:60] for part in error["loc"]) or WHOLE_BODY
    example = f"for instance {EXAMPLES[field]}" if field in EXAMPLES else "see /v1/openapi.json"
    match error["type"]:
        case "missing":
            return field, f"it is missing; add it, {example}"
        case "extra_forbidden":
            return field, f"there is no such field; leave it out. There are {', '.join(fields)}"
        case "json_invalid":
            return WHOLE_BODY, "it is not JSON in UTF-8; send one object"
        case "model_type" | "model_attributes_type":
            return WHOLE_BODY, "it is not an object; send one in braces"
        case "timezone_aware":
            return field, f"the time has no zone; add it, {example}"
        case "value_error" if field == WHOLE_BODY:
            return "text", str(error["ctx"]["error"])
        case "value_error":
            return field, f"{error['ctx']['error']}, {example}"
    return field, f"{error['msg'][:1].lower()}{error['msg'][1:]}, {example}"
