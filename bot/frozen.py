"""A frozen value with some fields changed, quickly: a step changes dozens of them.

`dataclasses.replace` goes through `__init__` and its checks, which took a third of a step's time; here the
slots are copied. For slotted dataclasses alone, whose fields are all in `__slots__`.
"""
from __future__ import annotations

from typing import Any, TypeVar

T = TypeVar("T")


def replace(one: T, /, **changes: Any) -> T:
    """The same value with these fields changed. TypeError where it has no such field."""
    slots: tuple[str, ...] = type(one).__slots__        # type: ignore[attr-defined]
    new = object.__new__(type(one))
    put = object.__setattr__
    for name in slots:
        put(new, name, changes.pop(name) if name in changes else getattr(one, name))
    if changes:
        raise TypeError(f"{type(one).__name__} has no {', '.join(changes)}")
    return new
