"""Opens a database and is killed at a certain moment. Started by `test_migrations.py`.

To load its code takes longer than all that happens before the kill, so that is done once: each line on the standard
input, JSON `[DATABASE, MOMENT]`, forks a process that opens the database and kills itself at that moment: before its
first statement, its second, and so on; a commit has one moment before it and one after it. The line that comes back is
the signal that ended it, or, where it got through (moment 0), how many moments there were, as a negative number.
"""
from __future__ import annotations

import json
import os
import signal
import sys

from alembic import command  # noqa: F401 - loaded once, before the forks
from sqlalchemy import Engine, event
from sqlalchemy.engine.default import DefaultDialect

import storage.sqlite  # noqa: F401 - this too
from storage import open_store

PASSED: list[None] = []        # a moment each


def killed_at(moment: int) -> None:
    """From now on, count; and kill."""
    def one_more(*_: object) -> None:
        PASSED.append(None)
        if len(PASSED) == moment:
            os.kill(os.getpid(), signal.SIGKILL)

    event.listen(Engine, "before_cursor_execute", one_more)
    commit = DefaultDialect.do_commit

    def committing(self: DefaultDialect, connection: object) -> None:
        one_more()
        commit(self, connection)        # type: ignore[arg-type]
        one_more()

    DefaultDialect.do_commit = committing       # type: ignore[method-assign,assignment]


if __name__ == "__main__":
    for asked in sys.stdin:
        path, at = json.loads(asked)
        if os.fork() == 0:
            killed_at(at)
            open_store(path)
            os._exit(len(PASSED))
        _, status = os.wait()
        print(os.WTERMSIG(status) if os.WIFSIGNALED(status) else -os.WEXITSTATUS(status), flush=True)
