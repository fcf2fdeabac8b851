"""`GET /v1/openapi.json`: the API as OpenAPI 3.1, made from the models themselves.

What lives here: the paths in words, with examples, and with links that say how one call leads to the next.
"""
from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from adapters.http import shapes
from adapters.http.outbox import LONGEST_WAIT_S

Json = dict[str, Any]
IN, OUT = "validation", "serialization"
PROBLEMS = {
    "400": "No JSON, or no HTTP.", "401": "No key, or an unknown one.", "403": "A key that was ended.",
    "404": "No message of that id.", "409": "This id was used for another message.",
    "416": "No part of that length.", "413": "A body larger than 64 KiB.", "415": "A body that is no JSON.",
    "422": "A field or parameter is wrong; it is named.", "429": "Too often; Retry-After says when again.",
    "500": "A fault of ours.", "503": "Not just now; send it again.",
}


@cache
def described() -> Json:
    """The whole description."""
    both: Any = [
        (shapes.Message, IN), (shapes.Nothing, IN), (shapes.Failed, IN), (shapes.Replies, OUT), (shapes.Outbox, OUT),
        (shapes.Problem, OUT), (shapes.State, OUT),
    ]
    _, schemas = models_json_schema(both, ref_template="#/components/schemas/{model}")
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Sprung message API", "version": "1",
            "description": "Messages of coaches, assistants and parents come in by any gateway; what is said to "
                           "them goes out.",
        },
        "security": [{"key": []}],
        "paths": _paths(),
        "components": {
            "schemas": schemas["$defs"],
            "securitySchemes": {
                "key": {"type": "http", "scheme": "bearer", "description": "Made by: sprung key GATEWAY"},
            },
        },
    }


def _paths() -> Json:
    return {
        "/v1/messages": {"post": _SEND},
        "/v1/outbox": {"get": _READ},
        "/v1/outbox/{id}/delivered": {"post": _report(
            "reportDelivered", "It is out, and never comes again.", _body(shapes.Nothing, {}, required=False),
        )},
        "/v1/outbox/{id}/failed": {"post": _report(
            "reportFailed", "It could not be delivered; unless `permanent`, it comes again later, under the same id.",
            _body(shapes.Failed, {"later": {"permanent": False}}, required=False),
        )},
        "/v1/files/{secret}/{place}/{name}": {"get": _FILE},
        "/v1/openapi.json": {
            "get": _open("readDescription", "This description.", _other("application/json", "object")),
        },
        "/healthz": {"get": _open("isAlive", "Is the program there?", _json("It is.", shapes.State))},
        "/readyz": {"get": _open("isReady", "Does it take messages?", _json("It does.", shapes.State), "503")},
        "/metrics": {"get": _open("readMetrics", "Counters for Prometheus.", _other("text/plain", "string"))},
    }


def _operation(name: str, says: str, answers: Json, *problems: str) -> Json:
    some = sorted(("400", "401", "403", "422", "429", "500", "503", *problems))
    responses = {**answers, **{code: _problem(code) for code in some}}
    return {"operationId": name, "summary": says, "responses": responses}


def _report(name: str, says: str, body: Json) -> Json:
    made = _operation(name, says, {"204": {"description": "Noted."}}, "404", "413", "415")
    return {**made, "parameters": [_ID], "requestBody": body}


def _open(name: str, says: str, answer: Json, *problems: str) -> Json:
    some = {code: _problem(code) for code in ("422", "500", *problems)}
    return {"operationId": name, "summary": says, "security": [], "responses": {"200": answer, **some}}


def _other(media_type: str, kind: str) -> Json:
    return {"description": f"As {media_type}.", "content": {media_type: {"schema": {"type": kind}}}}


def _json(says: str, shape: type[BaseModel], links: Mapping[str, Json] | None = None) -> Json:
    made: Json = {"description": says, "content": {"application/json": {"schema": _of(shape)}}}
    return {**made, "links": dict(links)} if links else made


def _problem(code: str) -> Json:
    return {"description": PROBLEMS[code], "content": {"application/problem+json": {"schema": _of(shapes.Problem)}}}


def _of(shape: type[BaseModel]) -> Json:
    return {"$ref": f"#/components/schemas/{shape.__name__}"}


def _body(shape: type[BaseModel], examples: Mapping[str, Json], *, required: bool = True) -> Json:
    content: Json = {"schema": _of(shape)}
    if examples:
        content["examples"] = {name: {"value": value} for name, value in examples.items()}
    return {"required": required, "content": {"application/json": content}}


def _query(name: str, schema: Json, says: str, example: object) -> Json:
    return {"name": name, "in": "query", "required": False, "schema": schema, "description": says, "example": example}


_ID = {
    "name": "id", "in": "path", "required": True, "description": "The id of an unasked message.",
    "schema": {"type": "string", "minLength": 1, "pattern": "^[0-9A-Za-z_]+$"},
    "example": "m_1_0123456789abcdef01234567",
}
_FILE = {
    **_open("readFile", "A file of a message, as its `url` says. It is there for two days.", {
        "description": "The file.", "content": {"*/*": {"schema": {"type": "string", "format": "binary"}}},
    }, "404", "416", "429", "503"),
    "parameters": [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string", "minLength": 1, "pattern": pattern},
         "example": example} for name, pattern, example in (
            ("secret", "^[0-9A-Za-z_-]{1,64}$", "q3J0c2VjcmV0c2VjcmV0cw"), ("place", "^[0-9]{1,3}$", "0"),
            ("name", "^[0-9a-z.-]{1,64}$", "click.wav"),
        )
    ],
}
_FROM = {"channel": "sms", "sender": "+447700900123", "sent_at": "2026-11-24T17:03:11Z"}
_EXAMPLES = {
    "typed": {"id": "m-1", **_FROM, "text": "ava seen"},
    "tapped": {"id": "m-2", **_FROM, "choice": "c_1_0f2a"},
}
_AFTER_REPLIES = {
    "tap": {
        "operationId": "sendMessage", "description": "Tap the first choice of the first answer.",
        "requestBody": {
            **_FROM, "id": "tap-{$response.body#/replies/0/id}", "choice": "$response.body#/replies/0/choices/0/id",
        },
    },
}
_AFTER_OUTBOX = {
    "next": {"operationId": "readOutbox", "parameters": {"after": "$response.body#/next"}},
    "delivered": {"operationId": "reportDelivered", "parameters": {"id": "$response.body#/messages/0/id"}},
    "failed": {"operationId": "reportFailed", "parameters": {"id": "$response.body#/messages/0/id"}},
}
_AFTER = {"type": "string", "pattern": "^[0-9]{1,18}$"}
_WAIT = {"type": "number", "minimum": 0, "maximum": LONGEST_WAIT_S}
_SEND = {
    **_operation(
        "sendMessage", "Hand on what a person typed or tapped.",
        {"200": _json("The answers to its sender.", shapes.Replies, _AFTER_REPLIES)}, "409", "413", "415",
    ),
    "requestBody": _body(shapes.Message, _EXAMPLES),
}
_READ = {
    **_operation(
        "readOutbox", "Unasked messages, in order for each person.",
        {"200": _json("What waits.", shapes.Outbox, _AFTER_OUTBOX)},
    ),
    "parameters": [
        _query("after", _AFTER, "The `next` of an earlier answer; without it all that still waits comes.", "0"),
        _query("wait", _WAIT, "So many seconds to wait for something.", 0),
    ],
}
