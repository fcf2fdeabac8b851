"""Rows that wait to be written, so that many messages cost few statements.

What lives here: the pad. Whoever reads a table asks it to write that table's rows first; a statement that
fails ends in `Broken`, because one can't tell any more which message it was about.
"""
from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from sqlalchemy import Connection, Executable, Table, bindparam, delete

Row = dict[str, Any]
Key = tuple[str | int, ...]


class Broken(Exception):
    """Rows of this transaction could not be written; only rolling it back helps. Its cause says why."""


class Pad:
    """Rows to add, and rows by key to put or drop, the last word for a key winning."""

    def __init__(self, connection: Connection, upsert: Callable[[Table], Executable]) -> None:
        self._connection = connection
        self._upsert = upsert
        self._added: dict[Table, list[Row]] = {}
        self._put: dict[Table, dict[Key, Row | None]] = {}

    def add(self, table: Table, row: Row) -> None:
        """A new row, whose key was never used."""
        self._added.setdefault(table, []).append(row)

    def put(self, table: Table, row: Row) -> None:
        """A row that replaces the one with its key."""
        key = tuple(row[name] for name in _key(table))
        self._put.setdefault(table, {})[key] = row

    def drop(self, table: Table, *key: str | int) -> None:
        """Take the row with that key away."""
        self._put.setdefault(table, {})[key] = None

    def clear(self) -> None:
        """Let go of what was not written: the transaction is rolled back."""
        self._added.clear()
        self._put.clear()

    def flush(self, *tables: Table) -> None:
        """Write what waits for these tables; for all where none is named."""
        if not self._added and not self._put:
            return
        try:
            for table in tables or (*self._added, *self._put):
                self._write(table)
        except Exception as error:
            raise Broken from error

    def _write(self, table: Table) -> None:
        added = self._added.pop(table, None)
        if added:
            self._connection.execute(_insert(table), added)
        put = self._put.pop(table, None)
        if put:
            rows = [row for row in put.values() if row is not None]
            gone = [key for key, row in put.items() if row is None]
            if rows:
                self._connection.execute(_upsert(table, self._upsert), rows)
            if gone:
                names = _key(table)
                self._connection.execute(_delete(table), [_old(names, key) for key in gone])


def _old(names: tuple[str, ...], key: Key) -> Mapping[str, str | int]:
    return {f"old_{name}": value for name, value in zip(names, key, strict=True)}


@cache
def _key(table: Table) -> tuple[str, ...]:
    return tuple(column.name for column in table.primary_key.columns)


@cache
def _insert(table: Table) -> Executable:
    return table.insert()


@cache
def _upsert(table: Table, upsert: Callable[[Table], Executable]) -> Executable:
    return upsert(table)


@cache
def _delete(table: Table) -> Executable:
    return delete(table).where(*(column == bindparam(f"old_{column.name}") for column in table.primary_key.columns))
