"""`/v1/files/…`: a file of a message, for whoever got its address with the message. No key: the secret is in the path.

What lives here: a file as a response, whole or in part (RFC 9110, 14; a phone plays sound only so).
"""
from __future__ import annotations

import re

from aiohttp import web

from adapters.files.fetch import GONE, File
from adapters.http.desk import Desk, only
from adapters.http.problems import Problem

PRIVATE = {
    "Cache-Control": "private, no-store", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox", "Accept-Ranges": "bytes",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_SECRET, _PLACE = re.compile(r"[0-9A-Za-z_-]{1,64}"), re.compile(r"[0-9]{1,3}")


class Files:
    """The handler."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def get(self, request: web.Request) -> web.StreamResponse:
        """The file."""
        return await served(self._desk, request)


async def served(desk: Desk, request: web.Request, whose: tuple[str, str] | None = None) -> web.Response:
    """The file that a path names, for those who ask. Raises Problem: 404, 416, 429."""
    only(request)
    secret, place, name = (request.match_info[key] for key in ("secret", "place", "name"))
    if not (_SECRET.fullmatch(secret) and _PLACE.fullmatch(place)):
        raise Problem(404, GONE)
    return response(await desk.file(request, secret, int(place), name, whose), request)


def response(file: File, request: web.Request) -> web.Response:
    """A file as it is asked for: all of it, or the part from one byte to another."""
    headers = {**PRIVATE, "Content-Disposition": f'inline; filename="{file.name}"'}
    size = len(file.body)
    try:
        part = request.http_range
    except ValueError:
        part = slice(None, None, 1)         # no range that we know: it is not minded
    if part.start is None and part.stop is None:
        return web.Response(body=file.body, content_type=file.media_type, headers=headers)
    start, stop, _ = part.indices(size)
    if start >= stop:
        raise Problem(416, f"The file has {size} bytes.", headers={"Content-Range": f"bytes */{size}"})
    headers["Content-Range"] = f"bytes {start}-{stop - 1}/{size}"
    return web.Response(status=206, body=file.body[start:stop], content_type=file.media_type, headers=headers)
