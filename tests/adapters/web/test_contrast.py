"""The colours of the page: each pair that meets has the contrast that WCAG 2.2 asks for, in both themes.

The formula is checked first against published values: those of the Okabe-Ito palette on white and on black, as the
library wcag-contrast-ratio gives them.
"""
from __future__ import annotations

import re

import pytest

from adapters.web.files import files

CSS = files()["/app.css"].body.decode()
TEXT = [    # ink, what it stands on
    ("ink", "paper"), ("ink", "panel"), ("ink", "tint"), ("faint", "paper"), ("faint", "panel"), ("mark", "paper"),
    ("on-mark", "mark"), ("on-miss", "miss"), ("miss", "paper"), ("miss", "panel"), ("wait", "paper"),
]
LOOKS = [
    ("edge", "panel"), ("edge", "paper"), ("edge", "tint"), ("focus", "paper"), ("focus", "tint"), ("mark", "panel"),
]
PUBLISHED = {   # hex: on white, on black
    "#0072B2": (5.185446346, 4.049796025), "#D55E00": (3.86718379, 5.43030824), "#F0E442": (1.322327911, 15.88108352),
    "#CC79A7": (3.061034038, 6.860426817),
}


def luminance(colour: str) -> float:
    """Relative luminance, as WCAG 2.x defines it."""
    parts = [int(colour[at:at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.03928 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """From 1 to 21."""
    dark, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dark + 0.05)


def themes() -> dict[str, dict[str, str]]:
    """The colours of each theme by their names."""
    blocks = re.findall(r"\{([^{}]*--paper: [^{}]*)\}", CSS)
    light, by_phone, chosen = (dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block)) for block in blocks)
    assert by_phone == chosen
    return {"light": light, "dark": chosen}


@pytest.mark.parametrize("colour", PUBLISHED)
def test_contrast_is_as_published(colour: str) -> None:
    """The formula gives the published contrasts."""
    on_white, on_black = PUBLISHED[colour]
    assert contrast(colour, "#FFFFFF") == pytest.approx(on_white, abs=0.005)
    assert contrast(colour, "#000000") == pytest.approx(on_black, abs=0.005)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_can_be_read(theme: str) -> None:
    """Text has 4.5 to 1 on whatever it stands on, what has a meaning by its shape 3 to 1."""
    colours = themes()[theme]
    assert not [pair for pair in TEXT if contrast(colours[pair[0]], colours[pair[1]]) < 4.5]
    assert not [pair for pair in LOOKS if contrast(colours[pair[0]], colours[pair[1]]) < 3]


# --- for eyes that see fewer colours ------------------------------------------------------------------

SEEN_BY = {
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}
"""Machado, Oliveira and Fernandes (2009), table 1, severity 1.0, on linear RGB; the figures from memory."""


def linear(colour: str) -> list[float]:
    """Light of red, green and blue, from 0 to 1 (IEC 61966-2-1)."""
    parts = [int(colour[at:at + 2], 16) / 255 for at in (1, 3, 5)]
    return [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]


def seen_by(eyes: str, colour: str) -> str:
    """The colour as such eyes see it."""
    light = linear(colour)
    seen = [sum(share * one for share, one in zip(row, light, strict=True)) for row in SEEN_BY[eyes]]
    within = [min(1.0, max(0.0, one)) for one in seen]
    shown = [12.92 * one if one <= 0.0031308 else 1.055 * one ** (1 / 2.4) - 0.055 for one in within]
    return "#" + "".join(f"{round(255 * one):02x}" for one in shown)


@pytest.mark.parametrize("eyes", SEEN_BY)
def test_grey_stays_grey(eyes: str) -> None:
    """What has no colour looks the same to all eyes: each row of a published matrix adds up to one."""
    assert [seen_by(eyes, grey) for grey in ("#000000", "#808080", "#ffffff")] == ["#000000", "#808080", "#ffffff"]


@pytest.mark.parametrize("eyes", SEEN_BY)
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_other_eyes_can_read_it(eyes: str, theme: str) -> None:
    """The same contrasts hold for whoever sees fewer colours."""
    colours = {name: seen_by(eyes, colour) for name, colour in themes()[theme].items()}
    assert not [pair for pair in TEXT if contrast(colours[pair[0]], colours[pair[1]]) < 4.5]
    assert not [pair for pair in LOOKS if contrast(colours[pair[0]], colours[pair[1]]) < 3]
