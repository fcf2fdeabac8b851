"""A frozen value with some fields changed, quickly: a step changes dozens of them.

`dataclasses.replace` goes through `__init__` and its checks, which took a third of a step's time: in a frozen class
each field is set past the class's own refusal. Here a twin of the class that refuses nothing is filled, and is then
declared to be of the frozen class. For slotted dataclasses alone, whose fields are all in `__slots__`.
"""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import make_dataclass
from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

T = TypeVar("T")


def replace(one: T, /, **changes: Any) -> T:
    """The same value with these fields changed. TypeError where it has no such field."""
    kind: Any = type(one)
    fields, twin = _twin(kind)
    new: T = twin(*fields(one))
    try:
        for name, value in changes.items():
            setattr(new, name, value)
    except AttributeError as error:
        unknown = [name for name in changes if name not in kind.__slots__]
        raise TypeError(f"{kind.__name__} has no {', '.join(unknown)}") from error
    new.__class__ = kind
    return new


@cache
def _twin(kind: type[Any]) -> tuple[Callable[[object], tuple[Any, ...]], type[Any]]:
    """How all fields of a class are read at once, and its twin, which takes them in that order."""
    names: tuple[str, ...] = kind.__slots__
    if len(names) == 1:             # of one name attrgetter gives no tuple
        return lambda one: (getattr(one, names[0]),), make_dataclass(kind.__name__, names, slots=True)
    return attrgetter(*names), make_dataclass(kind.__name__, names, slots=True)
