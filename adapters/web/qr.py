"""A link as a QR code that a terminal can show."""
from __future__ import annotations

from itertools import zip_longest

BLOCKS = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}     # two rows in one line; light is drawn
EDGE = 2


def qr(text: str) -> str:
    """Lines of half blocks."""
    import segno  # seldom needed

    rows = [tuple(row) for row in segno.make(text, error="m", micro=False).matrix_iter(border=EDGE)]
    light = (0,) * len(rows[0])
    pairs = zip_longest(rows[::2], rows[1::2], fillvalue=light)
    return "\n".join("".join(BLOCKS[top, bottom] for top, bottom in zip(*pair, strict=True)) for pair in pairs)


def link(address: str, code: str) -> str:
    """Where a code lets a phone in. It stands behind a `#`, so no server and no log ever sees it."""
    return f"{address.rstrip('/')}/#join={code}"
