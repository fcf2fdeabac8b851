"""The fonts for paper: files that packages bring, and a folder of one's own; which letters are in them.

What lives here: finding the files, and reading the one table of a font that says which letters it has (`cmap`,
OpenType specification 1.9, formats 4 and 12), so that a letter which no font has is said and not left out.
"""
from __future__ import annotations

import struct
from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Iterator
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from unicodedata import category

PACKAGES = (
    "fontpkg_noto_sans", "fontpkg_noto_sans_arabic", "fontpkg_noto_sans_devanagari", "cvttf_NotoSansCJK_Regular",
)
"""Those of the extra `print`: Latin, Greek and Cyrillic with all accents, Arabic, Devanagari, Chinese and Japanese."""
Span = tuple[int, int]      # the first and the last code point
SUFFIXES = (".ttf", ".otf", ".ttc")


def folders(own: Path | None = None) -> list[Path]:
    """Where the fonts are: the packages that are installed, then one's own."""
    found = [find_spec(name) for name in PACKAGES]
    return [Path(spec.origin).parent for spec in found if spec is not None and spec.origin] + ([own] if own else [])


def files(places: Iterable[Path]) -> list[Path]:
    """The font files in these folders."""
    return sorted(path for place in places for path in place.rglob("*") if path.suffix.lower() in SUFFIXES)


def missing(texts: Collection[str], places: Iterable[Path]) -> dict[str, str]:
    """Text → the letters of it that no font has, for those that have such."""
    wanted = {ord(char) for text in texts for char in text if category(char)[0] not in "CZ"}
    for path in files(places):
        if not wanted:
            break
        wanted -= among(letters_of(path), wanted)
    lost = {text: "".join(dict.fromkeys(char for char in text if ord(char) in wanted)) for text in dict.fromkeys(texts)}
    return {text: chars for text, chars in lost.items() if chars}


def among(spans: Iterable[Span], codes: Iterable[int]) -> set[int]:
    """Which of these code points lie in one of these spans."""
    ordered = sorted(codes)
    return {code for first, last in spans for code in ordered[bisect_left(ordered, first):bisect_right(ordered, last)]}


@cache
def letters_of(path: Path) -> tuple[Span, ...]:
    """The code points that a font file has a glyph for, as spans; of a collection those of its first font."""
    data = path.read_bytes()
    start = struct.unpack_from(">I", data, 12)[0] if data[:4] == b"ttcf" else 0
    (tables,) = struct.unpack_from(">H", data, start + 4)
    for n in range(tables):
        tag, _, offset, _ = struct.unpack_from(">4sIII", data, start + 12 + 16 * n)
        if tag == b"cmap":
            return tuple(span for sub in _subtables(data, offset) for span in sub)
    return ()


def _subtables(data: bytes, cmap: int) -> Iterator[Iterator[Span]]:
    (count,) = struct.unpack_from(">H", data, cmap + 2)
    for n in range(count):
        platform, _, offset = struct.unpack_from(">HHI", data, cmap + 4 + 8 * n)
        (kind,) = struct.unpack_from(">H", data, cmap + offset)
        if platform in (0, 3) and kind == 4:
            yield _format_4(data, cmap + offset)
        elif platform in (0, 3) and kind == 12:
            yield _format_12(data, cmap + offset)


def _format_4(data: bytes, at: int) -> Iterator[Span]:
    double = struct.unpack_from(">H", data, at + 6)[0]
    count = double // 2
    ends = struct.unpack_from(f">{count}H", data, at + 14)
    starts = struct.unpack_from(f">{count}H", data, at + 16 + double)
    for first, last in zip(starts, ends, strict=True):
        yield first, min(last, 0xFFFE)


def _format_12(data: bytes, at: int) -> Iterator[Span]:
    (groups,) = struct.unpack_from(">I", data, at + 12)
    for n in range(groups):
        first, last, glyph = struct.unpack_from(">III", data, at + 16 + 12 * n)
        yield first + (glyph == 0), last
