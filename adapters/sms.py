"""What an SMS costs, and how it is kept cheap: segments of 3GPP TS 23.038, and plain signs in place of fine ones.

Pure. One sign outside the GSM alphabet makes all of a message UCS-2, and 160 characters to a segment become 70. So
quotes, dashes, ticks and the like are made plain; letters never are, since they may be a child's name.
"""
from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final, Literal, NamedTuple

# TS 23.038, 6.2.1: the default alphabet, and its extension table, whose signs take an escape and so count twice.
BASIC: Final = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
EXTENSION: Final = frozenset("\f^{}\\[~]|€")
SINGLE: Final = {"GSM-7": 160, "UCS-2": 70}     # units in a message of one segment
JOINED: Final = {"GSM-7": 153, "UCS-2": 67}     # in each segment of several: TS 23.040 takes six octets to join them

_PLAIN: Final = str.maketrans({
    **dict.fromkeys("‘’‚‛′`´", "'"), **dict.fromkeys("“”„‟″«»", '"'), **dict.fromkeys("‐‑‒–—―−·•", "-"),
    **dict.fromkeys("\u00a0\u2002\u2003\u2009\u200a\u202f\t", " "), **dict.fromkeys("\u00ad\u200b\ufeff\ufe0f"),
    **dict.fromkeys("✓✔☑✅", "OK"), **dict.fromkeys("✗✘❌✖×", "x"), "…": "...", "→": "->", "←": "<-", "½": "1/2",
})


class Counted(NamedTuple):
    """A text as it goes out: septets of GSM-7 or 16-bit units of UCS-2, and in how many segments."""

    encoding: Literal["GSM-7", "UCS-2"]
    units: int
    segments: int


def count(text: str) -> Counted:
    """What a text takes. No sign is cut in two: an escaped one, or a pair of surrogates, goes whole into the next."""
    if all(char in BASIC or char in EXTENSION for char in text):
        return _counted("GSM-7", [2 if char in EXTENSION else 1 for char in text])
    return _counted("UCS-2", [2 if ord(char) > 0xFFFF else 1 for char in text])


def plain(text: str) -> str:
    """The text with plain signs for fine ones, letters and accents put together. Letters stay what they are."""
    return unicodedata.normalize("NFC", text).translate(_PLAIN)


def _counted(encoding: Literal["GSM-7", "UCS-2"], widths: Iterable[int]) -> Counted:
    widths = list(widths)
    units = sum(widths)
    if units <= SINGLE[encoding]:
        return Counted(encoding, units, 1)
    segments, room = 1, JOINED[encoding]
    for width in widths:
        if width > room:
            segments, room = segments + 1, JOINED[encoding]
        room -= width
    return Counted(encoding, units, segments)
