"""Pictures as dots, and as other eyes see them. Nothing here is a test."""
from __future__ import annotations

import zlib
from struct import unpack

Dot = tuple[int, int, int]


def dots(png: bytes) -> list[list[Dot]]:
    """The rows of a PNG of 8 bits a channel, red, green, blue (and alpha), not interlaced (RFC 2083)."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    at, packed, wide, high, of = 8, b"", 0, 0, 0
    while at < len(png):
        size, kind = unpack(">I4s", png[at:at + 8])
        body = png[at + 8:at + 8 + size]
        if kind == b"IHDR":
            wide, high, depth, colours, _, _, laced = unpack(">IIBBBBB", body)
            assert (depth, laced) == (8, 0)
            of = {2: 3, 6: 4}[colours]
        packed += body if kind == b"IDAT" else b""
        at += size + 12
    raw, before = zlib.decompress(packed), bytes(wide * of)
    rows = []
    for y in range(high):
        start = y * (wide * of + 1)
        before = _unfiltered(raw[start], raw[start + 1:start + 1 + wide * of], before, of)
        rows.append([(before[x], before[x + 1], before[x + 2]) for x in range(0, wide * of, of)])
    return rows


def _unfiltered(kind: int, line: bytes, above: bytes, of: int) -> bytes:
    out = bytearray(line)
    for x in range(len(out)):
        left = out[x - of] if x >= of else 0
        up, corner = above[x], above[x - of] if x >= of else 0
        guess = (0, left, up, (left + up) // 2, _paeth(left, up, corner))[kind]
        out[x] = (out[x] + guess) & 255
    return bytes(out)


def _paeth(left: int, up: int, corner: int) -> int:
    near = left + up - corner
    return min((left, up, corner), key=lambda one: abs(near - one))


def hexed(dot: Dot) -> str:
    """`#1c2322`."""
    return "#{:02x}{:02x}{:02x}".format(*dot)
