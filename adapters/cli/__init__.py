"""The command line: commands and their words.

What lives here: `main`, and a file for each kind of command. What a command does is next door in `adapters/`; whatever
is slow to import is imported inside the command that needs it. Where a store is chosen: `shared.py`.
"""
from adapters.cli import awards, halls, kept, people, running, talking  # noqa: F401 - each declares its commands
from adapters.cli.shared import main

__all__ = ["main"]
