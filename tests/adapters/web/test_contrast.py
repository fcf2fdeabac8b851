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
