"""What can go with a message as a file: a recipe by which it is made when somebody fetches it, and words in its place.

What lives here: recipes, plain frozen data, kept with their message. A recipe names what is to be seen (ids) and holds
nothing of it, so a picture shows how things are when it is looked at, and what is forgotten is in none. How each kind
is made, and as which kind of file, is one table: `KINDS` in `adapters/files/kinds.py`.
"""
from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

from pydantic import Field


@dataclass(frozen=True, slots=True)
class Click:
    """A click track: so many counts of eight, times through, after so many counts of eight of count-in."""

    bpm: int
    eights: int
    times: int = 1
    count_in: int = 1
    kind: Literal["click"] = "click"


@dataclass(frozen=True, slots=True)
class ClassGrid:
    """How the children of a class stand with its skills."""

    class_id: str
    kind: Literal["class"] = "class"


@dataclass(frozen=True, slots=True)
class Progress:
    """How a child stands with the skills of her award."""

    child: str
    kind: Literal["child"] = "child"


@dataclass(frozen=True, slots=True)
class ClassSheet:
    """What the plan would watch of a class's lesson of that day, to be printed and marked by hand."""

    class_id: str
    day: date
    kind: Literal["sheet"] = "sheet"


Recipe = Click | ClassGrid | Progress | ClassSheet


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that goes with a message. `words`: what is said to whoever is where no such file can go; complete."""

    recipe: Annotated[Recipe, Field(discriminator="kind")]
    words: str
