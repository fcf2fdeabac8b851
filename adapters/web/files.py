"""The files of the page, and the headers under which it is shown: nothing inline, nothing from anywhere else.

What lives here: reading them once, and the service worker, which is told what there is to be kept.
"""
from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path

from aiohttp import web

FOLDER = Path(__file__).parent / "static"
TYPES = {
    ".html": "text/html", ".css": "text/css", ".js": "text/javascript", ".png": "image/png",
    ".svg": "image/svg+xml", ".webmanifest": "application/manifest+json",
}
WORKER = "/worker.js"
HEADERS = {
    "Content-Security-Policy":
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; "
        "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'none'; base-uri 'none'; "
        "frame-ancestors 'none'",
    "Cache-Control": "no-cache",        # nothing personal is in them
}
"""Beyond what `adapters/http/sealed.py` says of every answer."""


@dataclass(frozen=True, slots=True)
class File:
    """A file as it is served. `tag` changes with what is in it."""

    body: bytes
    media_type: str
    tag: str


@cache
def files() -> dict[str, File]:
    """Path → file; `/` is the page itself."""
    found: dict[str, File] = {}
    for path in sorted(FOLDER.rglob("*")):
        if path.suffix in TYPES:
            name = path.relative_to(FOLDER).as_posix()
            found["/" if name == "index.html" else f"/{name}"] = _file(path.read_bytes(), TYPES[path.suffix])
    return found | {WORKER: _worker(found)}


def _file(body: bytes, media_type: str) -> File:
    return File(body, media_type, sha256(body).hexdigest()[:20])


def _worker(found: dict[str, File]) -> File:
    """The service worker, with the names of all files and a version that changes when one of them does."""
    version = sha256("".join(one.tag for one in found.values()).encode()).hexdigest()[:12]
    kept = [name for name in found if name != WORKER]
    head = f"const VERSION = {json.dumps(version)};\nconst FILES = {json.dumps(kept)};\n"
    return _file(head.encode() + found[WORKER].body, TYPES[".js"])


async def serve_file(request: web.Request) -> web.StreamResponse:
    """One of them; looked at anew each time, and sent again only where it changed."""
    file = files()[request.path]
    headers = {**HEADERS, "ETag": f'"{file.tag}"'}
    if any(tag.value == file.tag for tag in request.if_none_match or ()):
        return web.Response(status=304, headers=headers)
    response = web.Response(body=file.body, content_type=file.media_type, charset=_charset(file), headers=headers)
    response.enable_compression()
    return response


def _charset(file: File) -> str | None:
    return None if file.media_type == "image/png" else "utf-8"
