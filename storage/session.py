"""One connection with what goes along with it: a pad for rows, a memory, and the answers of this transaction.

What lives here: when which of these may be trusted. It knows nothing of what is kept.
"""
from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from sqlalchemy import Connection, Executable, Row, Table
from sqlalchemy.exc import DBAPIError

from storage.cache import Cache
from storage.pad import Broken, Pad, Upsert
from storage.shelf import Answered


def replacing(insert: Callable[[Table], Any], table: Table) -> Any:
    """That statement, out of a dialect's own INSERT."""
    new = insert(table)
    key = [column.name for column in table.primary_key.columns]
    others = {column.name: new.excluded[column.name] for column in table.columns if not column.primary_key}
    return new.on_conflict_do_update(index_elements=key, set_=others)


class Session:
    """Used by one thread. Whoever begins and ends transactions tells it so."""

    def __init__(self, connection: Connection, upsert: Upsert, cache: Cache | None = None) -> None:
        self.connection = connection
        self.cache = Cache() if cache is None else cache
        self.pad = Pad(connection, upsert)
        self.answers: dict[str, Answered | None] = {}       # looked up or given in this transaction

    def all(self, statement: Executable, *needs: Table, **values: Any) -> Sequence[Row[Any]]:
        """The rows of a question, once what waits for these tables is written. Raises Broken."""
        if needs:
            self.pad.flush(*needs)
        try:
            return self.connection.execute(statement, values).all()
        except DBAPIError as error:
            raise Broken from error

    def renew(self) -> None:
        """Somebody else may have written: trust nothing that is remembered."""
        self.cache.clear()

    def undo(self) -> None:
        """The transaction, or a part of it, is rolled back."""
        self.renew()
        self.pad.clear()
        self.answers.clear()

    def done(self) -> None:
        """The transaction is committed."""
        self.answers.clear()
