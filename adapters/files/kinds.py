"""Which kinds of files there are, how each is made, and who may have it: one table, `KINDS`.

What lives here: the table. A new kind is a recipe in `bot/attached.py` and a row here; whatever makes it is imported
only when it is made. A form that needs an extra names its module, and where that is missing the words go instead.
"""
from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib.util import find_spec
from typing import Any, Final

from bot.port import Snapshot
from bot.step import Desk
from bot.talk.sheet import GROWN_UP, of_child, of_class

WAV, SVG, PNG, PDF = "audio/wav", "image/svg+xml", "image/png", "application/pdf"
DRAWS = "resvg_py"      # of the extra `pictures`: makes a PNG out of an SVG; 3 MB, where others take 22 and more
SETS = "typst"          # of the extra `print`: makes a PDF
Make = Callable[[Any, Desk, datetime], bytes]
Allowed = Callable[[Any, Desk], bool]


class Unmade(Exception):
    """The file can't be made as things are; the text says why, and what would do."""


@dataclass(frozen=True, slots=True)
class Form:
    """A recipe as one type of file. `name` is what it is saved as, and names nobody. `needs`: a module of an extra."""

    name: str
    media_type: str
    make: Make
    needs: str = ""

    @property
    def ready(self) -> bool:
        """Can it be made here?"""
        return not self.needs or _installed(self.needs)


@dataclass(frozen=True, slots=True)
class Kind:
    """What a recipe can be made into, the best form first. `allowed`: may whoever has this desk see it now?"""

    allowed: Allowed
    forms: tuple[Form, ...]

    def form(self, name: str) -> Form | None:
        """The form of that file name."""
        return next((one for one in self.forms if one.name == name), None)


@cache
def _installed(module: str) -> bool:
    return find_spec(module) is not None


# --- who may -------------------------------------------------------------------------------------------

def anybody(recipe: Any, desk: Desk) -> bool:
    """It is about nobody."""
    return True


def of_their_class(recipe: Any, desk: Desk) -> bool:
    """Coaches and assistants, of a class that they are given just now."""
    return desk.me is not None and desk.me.role in GROWN_UP and recipe.class_id in desk.books


def of_their_child(recipe: Any, desk: Desk) -> bool:
    """Coaches and assistants, of a child in a class that they are given just now."""
    known = any(recipe.child in book.children for book in desk.books.values())
    return desk.me is not None and desk.me.role in GROWN_UP and known


# --- how ------------------------------------------------------------------------------------------------

def _click(recipe: Any, desk: Desk, now: datetime) -> bytes:
    from adapters.files.click import track
    return track(recipe)


def _class_svg(recipe: Any, desk: Desk, now: datetime) -> bytes:
    from adapters.files.grid import grid
    return grid(of_class(desk, recipe.class_id, now)).encode()


def _class_png(recipe: Any, desk: Desk, now: datetime) -> bytes:
    from adapters.files.png import png
    return png(_class_svg(recipe, desk, now).decode())


def _child_svg(recipe: Any, desk: Desk, now: datetime) -> bytes:
    from adapters.files.progress import progress
    return progress(of_child(desk, recipe.child, now)).encode()


def _child_png(recipe: Any, desk: Desk, now: datetime) -> bytes:
    from adapters.files.png import png
    return png(_child_svg(recipe, desk, now).decode())


def _sheet_pdf(recipe: Any, desk: Desk, now: datetime) -> bytes:
    from adapters.paper.pages import lesson_pages
    from adapters.paper.setting import Unprintable
    from adapters.settings import fonts

    assert desk.club is not None
    club = Snapshot(desk.club, desk.schemes, (), desk.books, ())
    try:
        return lesson_pages(club, desk.club.by_class[recipe.class_id], recipe.day, fonts())
    except Unprintable as why:
        raise Unmade(str(why)) from None


KINDS: Final[Mapping[str, Kind]] = {
    "click": Kind(anybody, (Form("click.wav", WAV, _click),)),
    "class": Kind(of_their_class, (Form("class.svg", SVG, _class_svg), Form("class.png", PNG, _class_png, DRAWS))),
    "sheet": Kind(of_their_class, (Form("class.pdf", PDF, _sheet_pdf, SETS),)),
    "child": Kind(of_their_child, (Form("child.svg", SVG, _child_svg), Form("child.png", PNG, _child_png, DRAWS))),
}
