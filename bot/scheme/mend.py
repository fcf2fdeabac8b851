"""All that a model finds wrong with a file, not only the first layer of it.

A file with faults is mended (a bad value left out, a missing one made up) and tried again, so that what hid
behind a fault comes to light too. A mended model is good for further questions, and for nothing else.
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import deepcopy
from typing import Any

from pydantic import BaseModel, ValidationError

from bot.scheme.faults import Fault, Source, translate
from bot.scheme.lines import Path
from bot.scheme.words import slug

# What stands in for a value that a model cannot do without.
MADE_UP: dict[str, Any] = {
    "scheme": {"name": "made-up"}, "day": "monday", "start": "00:00", "from": "2000-01-01", "role": "helper",
}
ROUNDS = 4      # a mended value may uncover another fault; a file needs one round, seldom two


def validated(
    source: Source, model: type[BaseModel], known: Mapping[str, Iterable[str]],
) -> tuple[BaseModel | None, dict[Path, Fault]]:
    """The model of a file, mended where it has to be (None: past mending), and its faults by path."""
    raw = deepcopy(source.raw)
    found: dict[Path, Fault] = {}
    for _ in range(ROUNDS):
        try:
            return model.model_validate(raw), found
        except ValidationError as error:
            # `error` speaks of the mended values, but its paths are the file's own: nothing ever moves up.
            for path, fault in translate(source, error.errors(), known):
                found.setdefault(path, fault)
                _mend(raw, path)
    return None, found


def _mend(raw: Any, path: Path) -> None:
    """Leave out what is at fault, or put something harmless where something has to be."""
    while path and isinstance(path[-1], int):       # one bad item spoils its list, or positions would shift
        path = path[:-1]
    where, last = raw, path[-1] if path else ""
    try:
        for step in path[:-1]:
            where = where[step]
    except (KeyError, IndexError):
        return                                      # left out already, with what it stood in
    made_up = "-".join(str(step) for step in path)
    if last == "id":
        where["id"] = slug(str(where.get("id", ""))) or made_up
    elif last == "name":
        where["name"] = made_up
    elif last in MADE_UP:
        where[last] = deepcopy(MADE_UP[str(last)])
    else:
        where.pop(last, None)
