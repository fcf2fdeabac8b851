"""A hall's folder on disk: reading it, and where the demo hall is."""
from __future__ import annotations

from pathlib import Path

from bot.people.hall import Hall, read_hall

FILES = ("scheme.toml", "club.toml", "roster.csv")
DEMOS = Path(__file__).resolve().parent.parent / "demo_conversations"
DEMO_HALL = DEMOS / "harbour-lane"


class NoHall(Exception):
    """There is no hall in that folder; the text says what is missing."""


def read_folder(folder: Path) -> Hall:
    """The hall in a folder. Raises NoHall, or HallErrors with all that is wrong in its files."""
    scheme, club, roster = (_text(folder / name) for name in FILES)
    return read_hall(scheme, club, roster)


def is_hall(folder: Path) -> bool:
    """Does this look like a hall's folder?"""
    return any((folder / name).is_file() for name in FILES)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise NoHall(f"{path} is missing: a hall is a folder with {', '.join(FILES)}") from None
    except UnicodeDecodeError:
        raise NoHall(f"{path} is not in UTF-8: save it again with that encoding") from None
    except OSError as error:
        raise NoHall(f"{path} cannot be read: {error.strerror}") from None
