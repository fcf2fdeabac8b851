"""Rows that wait to be written, so that many messages cost few statements.

What lives here: the pad. Whoever reads a table asks it to write that table's rows first; a statement that
fails ends in `Broken`, because one can't tell any more which message it was about.

A statement is compiled once for each table and then goes to the driver with bare values: SQLAlchemy's own way with many
rows looks each name of each row up anew, which took as long as the database. Values are those that a driver takes as
they are (texts, numbers, true and false, nothing), so no column has to make anything of them.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from operator import itemgetter
from typing import Any

from sqlalchemy import Connection, Delete, Table, UpdateBase, bindparam, delete

from storage.shelf import Apart

Row = dict[str, Any]
Key = tuple[str | int, ...]
Upsert = Callable[[Table], UpdateBase]      # how a dialect says: insert, or replace what has the same key
_Prepared = tuple[str, Callable[[Row], Any]]    # a statement, and a row's values in its order


class Broken(Apart):
    """Rows of this transaction could not be written; only rolling it back helps. Its cause says why."""


class Pad:
    """Rows to add, and rows by key to put or drop, the last word for a key winning."""

    def __init__(self, connection: Connection, upsert: Upsert) -> None:
        self._connection = connection
        self._upsert = upsert
        self._added: dict[Table, list[Row]] = {}
        self._put: dict[Table, dict[Key, Row | None]] = {}
        self._statements: dict[tuple[str, Table], _Prepared] = {}

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
            self._rows("add", table, Table.insert, added)
        put = self._put.pop(table, None)
        if put:
            rows = [row for row in put.values() if row is not None]
            gone = [_old(table, key) for key, row in put.items() if row is None]
            if rows:
                self._rows("put", table, self._upsert, rows)
            if gone:
                self._rows("drop", table, _delete, gone)

    def _rows(self, how: str, table: Table, make: Callable[[Table], UpdateBase], rows: Iterable[Row]) -> None:
        text, values_of = self._prepared(how, table, make)
        self._connection.exec_driver_sql(text, list(map(values_of, rows)))

    def _prepared(self, how: str, table: Table, make: Callable[[Table], UpdateBase]) -> _Prepared:
        known = self._statements.get((how, table))
        if known is None:
            compiled = make(table).compile(dialect=self._connection.dialect)
            places = compiled.positiontup
            values_of = _by_name(compiled.bind_names.values()) if places is None else _by_place(places)
            known = self._statements[how, table] = compiled.string, values_of
        return known


def _by_place(names: Sequence[str]) -> Callable[[Row], Any]:
    """For a driver that takes them in their order."""
    if len(names) == 1:
        return lambda row: (row[names[0]],)
    return itemgetter(*names)


def _by_name(names: Iterable[str]) -> Callable[[Row], Any]:
    """For a driver that takes values by their names."""
    wanted = tuple(names)
    return lambda row: {name: row[name] for name in wanted}


def _old(table: Table, key: Key) -> Row:
    return {f"old_{name}": value for name, value in zip(_key(table), key, strict=True)}


def _delete(table: Table) -> Delete:
    """By the values of the key."""
    return delete(table).where(*(column == bindparam(f"old_{column.name}") for column in table.primary_key.columns))


@cache
def _key(table: Table) -> tuple[str, ...]:
    return tuple(column.name for column in table.primary_key.columns)
