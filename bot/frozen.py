"""A frozen value with some fields changed, quickly: a step changes dozens of them.

`dataclasses.replace` goes through `__init__`, which in a frozen class sets each field past the class's own refusal:
half of a step's time once. Here a twin that may be changed is filled, and then declared to be of the frozen class.
For slotted dataclasses alone, whose fields are all in `__slots__`.
"""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import make_dataclass
from functools import cache
from operator import attrgetter
from typing import Any, TypeVar, cast

T = TypeVar("T")


def replace(one: T, /, **changes: Any) -> T:
    """The same value with these fields changed. TypeError where it has no such field."""
    kind = type(one)
    fields, twin = _twin(kind)      # type: ignore[arg-type]
    new: Any = twin(*fields(one))
    for name, value in changes.items():
        setattr(new, name, value)
    new.__class__ = kind
    return cast(T, new)


@cache
def _twin(kind: type) -> tuple[Callable[[object], tuple[Any, ...]], type]:
    names: tuple[str, ...] = kind.__slots__     # type: ignore[attr-defined]
    return attrgetter(*names), make_dataclass(kind.__name__, names, slots=True)
