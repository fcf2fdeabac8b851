"""A whole club as one file that another database can take in, and back, without loss. Pure: text in, text out.

What lives here: the file's shape and version, and what is left out of it. A club goes out with its scheme in every
version, its people, its classes and all facts; who is reached where, what was said, codes, keys and links stay behind.
"""
from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from pydantic import TypeAdapter, ValidationError

from bot.port import Whole

FORMAT, VERSION = "sprung club", 1
LEFT_OUT = ("phone numbers and other addresses, what was said to anybody, codes and keys, phones that have come in, "
            "links of calendars")
NO_FILE, MADE_BY = "This is no file of a club.", "One is written by: sprung export --all FILE"
WHOLE: TypeAdapter[Whole] = TypeAdapter(Whole)


class NoClub(ValueError):
    """That file holds no club that can be taken in; the text says why. Nothing was changed."""


def written(whole: Whole, at: datetime) -> str:
    """The file."""
    club = WHOLE.dump_python(whole, mode="json")
    return json.dumps({
        "format": FORMAT, "version": VERSION, "written_at": at.astimezone(UTC).isoformat(), "left_out": LEFT_OUT,
        "digest": _digest(club), "club": club,
    }, ensure_ascii=False, indent=1) + "\n"


def read(text: str) -> Whole:
    """The club in a file. Raises NoClub where it is none, is not whole, was changed, or is of a newer version."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError) as error:
        where = f" (line {error.lineno}, column {error.colno})" if isinstance(error, json.JSONDecodeError) else ""
        raise NoClub(f"{NO_FILE[:-1]}, or not all of it{where}. {MADE_BY}") from None
    if not isinstance(found, Mapping) or found.get("format") != FORMAT:
        raise NoClub(f"{NO_FILE} {MADE_BY}")
    if found.get("version") != VERSION:
        raise NoClub(f"This file is of version {str(found.get('version'))[:20]}, and this program reads version "
                     f"{VERSION}. Update the program, or export once more.")
    club = found.get("club")
    if found.get("digest") != _digest(club):
        raise NoClub("This file was changed after it was written, or is damaged. Export once more.")
    try:
        whole = WHOLE.validate_json(json.dumps(club))
    except ValidationError as error:
        place = ".".join(str(part) for part in error.errors()[0]["loc"])[:80]
        raise NoClub(f"This file can't be read at club.{place}. It may be of another version; export once more.") \
            from None
    return _sound(whole)


def _sound(whole: Whole) -> Whole:
    """Raises NoClub where the parts don't fit together."""
    numbers = [one.recorded.seq for one in whole.record]
    classes = [child.class_id == key for key, book in whole.books.items() for child in book.children.values()]
    if not whole.schemes or numbers != sorted(set(numbers)) or not all(classes):
        raise NoClub("The parts of this file don't fit together. Export once more.")
    return whole


def _digest(club: Any) -> str:
    plain = json.dumps(club, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return sha256(plain.encode()).hexdigest()
