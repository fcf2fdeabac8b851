"""An SVG as a PNG, by resvg (the extra `pictures`), in the fonts that the machine has, and Noto Sans of that extra.

What lives here: how large it becomes. A phone has two or three dots to a pixel; a picture of a thousand children has to
fit into memory.
"""
from __future__ import annotations

import re
from importlib.util import find_spec
from math import sqrt
from pathlib import Path

SHARP = 2.0                     # dots to a pixel
MOST_DOTS = 6_000_000           # 4 bytes each while it is drawn
_SIZE = re.compile(r'<svg [^>]*?width="([\d.]+)" height="([\d.]+)"')


def png(svg: str) -> bytes:
    """The picture as a PNG. Raises ImportError where the extra is not installed, ValueError where it is no picture."""
    import resvg_py

    found = _SIZE.match(svg)
    if found is None:
        raise ValueError("the picture does not say how large it is")
    wide, high = map(float, found.groups())
    zoom = min(SHARP, sqrt(MOST_DOTS / (wide * high)))
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, width=max(1, round(wide * zoom)), font_dirs=_fonts()))


def _fonts() -> list[str]:
    """A folder of fonts, where the package is installed: a server may have none, and then names would be missing."""
    found = find_spec("fontpkg_noto_sans")
    return [] if found is None or found.origin is None else [str(Path(found.origin).parent / "files")]
