"""How a command's troubles are told: one sentence each, an exit code, and never a traceback for a user."""
from __future__ import annotations

import contextlib
import sys
from typing import Any

import click

NOT_SO, WRONG_USAGE = 1, 2


class Trouble(click.ClickException):
    """A sentence for whoever gave the command."""

    def __init__(self, says: str, exit_code: int = NOT_SO) -> None:
        super().__init__(says)
        self.exit_code = exit_code      # type: ignore[misc]    # a class variable there, of each error here

    def show(self, file: Any = None) -> None:
        """Print it to the error output."""
        click.echo(self.message, file=file, err=file is None)


class Sprung(click.Group):
    """The commands; whatever one of them raises ends as a sentence."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        import logging

        from adapters.settings import debugging

        if not debugging():     # else the last resort of logging would print tracebacks among the words
            logging.getLogger().addHandler(logging.NullHandler())
        for stream in (sys.stdin, sys.stdout, sys.stderr):
            with contextlib.suppress(AttributeError, ValueError):
                stream.reconfigure(errors="replace")        # type: ignore[union-attr]
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise       # click knows what to do with these; the last: whoever reads has gone
        except Exception as error:
            if debugging():
                raise
            raise told(error) from None


def told(error: Exception) -> Trouble:
    """An error as a sentence with its exit code."""
    from adapters.halls import NoHall
    from adapters.paper.setting import Unprintable
    from adapters.play.script import ScriptErrors
    from adapters.records import Unknown
    from adapters.settings import BadSettings
    from adapters.web.webpush import NoWebPush
    from bot.lesson.plan.files import PlanErrors
    from bot.out.whole import NoClub
    from bot.people.hall import HallErrors
    from bot.people.table import TableErrors
    from bot.scheme.load import SchemeErrors
    from bot.step import Refused

    if isinstance(error, ScriptErrors | BadSettings | NoWebPush):
        return Trouble(str(error), WRONG_USAGE)
    if isinstance(
        error, Refused | HallErrors | SchemeErrors | PlanErrors | TableErrors | NoHall | NoClub | Unknown | Unprintable,
    ):
        return Trouble(str(error))
    if isinstance(error, OSError):
        return Trouble(f"{error.filename or 'A file'}: {error.strerror or error}")
    what = type(error).__name__
    return Trouble(f"Something went wrong ({what}). Nothing that was kept is lost. SPRUNG_DEBUG=1 shows more.")
