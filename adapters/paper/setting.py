"""Setting a page: plain data and a template in, a PDF out. What can't be printed is said in a sentence."""
from __future__ import annotations

import json
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import Any

from adapters.paper import fonts

TEMPLATES = Path(__file__).parent / "templates"
MISSING = "Printing needs more than the base install; run: pip install 'sprung[print]'"
SIZES = {"a4": "a4", "letter": "us-letter"}


class Unprintable(Exception):
    """It can't be printed; the text says why and what would do."""


def pdf(template: str, data: dict[str, Any], names: Collection[str], own_fonts: Path | None = None) -> bytes:
    """The pages of a template. `names`: all texts that people gave, of which each letter must be in a font.

    Raises Unprintable where the extra is missing, or a letter.
    """
    try:
        import typst
    except ImportError:
        raise Unprintable(MISSING) from None
    places = fonts.folders(own_fonts)
    lost = fonts.missing(names, places)
    if lost:
        said = "; ".join(f"{text} ({' '.join(chars)})" for text, chars in list(lost.items())[:5])
        raise Unprintable(
            f"No font here has some letters of: {said}. Put a font that has them into a folder, and name the folder "
            'in sprung.toml: fonts = "FOLDER"'
        )
    return typst.compile(
        str(TEMPLATES / f"{template}.typ"), format="pdf", font_paths=_read(tuple(places)),
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
    )


@cache
def _read(places: tuple[Path, ...]) -> Any:
    """The fonts of these folders and no others, read once: they are large."""
    import typst

    return typst.Fonts(font_paths=[str(place) for place in places], include_system_fonts=False)
