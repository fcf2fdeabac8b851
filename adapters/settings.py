"""Settings of the command line: what was said on it, `SPRUNG_…` variables, `sprung.toml`, the defaults."""
from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import urlsplit

FILE = "sprung.toml"
MOST_PLANNERS = 64
MOST_REMEMBERED = 100_000
LOGS = ("text", "json")
KNOWN = {
    "db": "where everything is kept: sqlite:///path, a path, postgresql://…, or memory:",
    "address": "where phones find the page, as in https://hall.example; links and QR codes lead there",
    "webpush_key": "the file with the key for word to phones whose page is closed; sprung webpush-key makes it",
    "webpush_contact": "whom push services may write to about it, as in mailto:office@hall.example",
    "log": "what serve writes beside its warnings: a line an event, as text or json",
    "fonts": "a folder with fonts for paper, where those of the extra print lack a letter",
    "planners": "how many processes plan the lessons that are on; 0: each goes by the simple rule",
    "remember": "of how many lessons that are on serve keeps all at hand; each takes up to half a megabyte",
}
"""Each setting of the file, and what it is for."""


class BadSettings(Exception):
    """The settings can't be used; the text says which and what would do."""


def database(said: str | None, env: Mapping[str, str] = os.environ, folder: Path | None = None) -> str:
    """The database: as said, else SPRUNG_DB, else the file's, else a file among the user's data."""
    chosen = said or env.get("SPRUNG_DB") or from_file(folder or Path.cwd()).get("db")
    return chosen or default_database()


def address(env: Mapping[str, str] = os.environ, folder: Path | None = None) -> str | None:
    """Where phones find the page: as SPRUNG_ADDRESS says, else the file; None where nobody said. Raises BadSettings."""
    chosen = env.get("SPRUNG_ADDRESS") or from_file(folder or Path.cwd()).get("address")
    where = urlsplit(chosen or "")
    if chosen is not None and (where.scheme not in ("http", "https") or not where.hostname or where.path.strip("/")):
        raise BadSettings(f'address is that of the page, as in address = "https://hall.example"; it is "{chosen}"')
    return chosen


def planners(env: Mapping[str, str] = os.environ, folder: Path | None = None) -> int:
    """How many processes plan: as SPRUNG_PLANNERS says, else the file, else one. Raises BadSettings."""
    chosen = _number("planners", range(MOST_PLANNERS + 1), "1", env, folder)
    return 1 if chosen is None else chosen


def remember(env: Mapping[str, str] = os.environ, folder: Path | None = None) -> int | None:
    """Of how many lessons all is kept at hand: as SPRUNG_REMEMBER says, else the file; None where nobody said.

    Raises BadSettings.
    """
    return _number("remember", range(1, MOST_REMEMBERED + 1), "500", env, folder)


def _number(name: str, fits: range, usual: str, env: Mapping[str, str], folder: Path | None) -> int | None:
    chosen = env.get(f"SPRUNG_{name.upper()}") or from_file(folder or Path.cwd()).get(name)
    if chosen is None:
        return None
    if not (chosen.isascii() and chosen.isdigit() and int(chosen) in fits):
        raise BadSettings(
            f'{name} is a number from {fits[0]} to {fits[-1]}, as in {name} = "{usual}"; it is "{chosen}"',
        )
    return int(chosen)


def log(said: str | None, env: Mapping[str, str] = os.environ, folder: Path | None = None) -> str | None:
    """How events are logged: as said, else SPRUNG_LOG, else the file; None: warnings alone. Raises BadSettings."""
    chosen = said or env.get("SPRUNG_LOG") or from_file(folder or Path.cwd()).get("log")
    if chosen not in (None, *LOGS):
        raise BadSettings(f'log is {" or ".join(LOGS)}, as in log = "json"; it is "{chosen}"')
    return chosen


def webpush(env: Mapping[str, str] = os.environ, folder: Path | None = None) -> tuple[Path, str] | None:
    """The key's file and the contact: as SPRUNG_WEBPUSH_KEY and _CONTACT say, else the file; None where neither does.

    Raises BadSettings where one of them is missing.
    """
    said = from_file(folder or Path.cwd())
    key, contact = (env.get(f"SPRUNG_{one.upper()}") or said.get(one) for one in ("webpush_key", "webpush_contact"))
    if key and contact:
        return Path(key), contact
    if key or contact:
        raise BadSettings(f"{'webpush_contact' if key else 'webpush_key'} is missing: the two go together")
    return None


def fonts(env: Mapping[str, str] = os.environ, folder: Path | None = None) -> Path | None:
    """The club's own fonts for paper: as SPRUNG_FONTS says, else the file. Raises BadSettings where it is no folder."""
    chosen = env.get("SPRUNG_FONTS") or from_file(folder or Path.cwd()).get("fonts")
    if chosen and not Path(chosen).is_dir():
        raise BadSettings(f'fonts is a folder with font files; there is no folder "{chosen}"')
    return Path(chosen) if chosen else None


def default_database() -> str:
    """An SQLite file in the user's data folder, which is made where it is not there yet."""
    from platformdirs import user_data_path

    return f"sqlite:///{user_data_path('sprung', appauthor=False, ensure_exists=True) / 'sprung.sqlite'}"


def from_file(folder: Path) -> dict[str, str]:
    """The settings in a folder's `sprung.toml`, none where there is no such file. Raises BadSettings."""
    path = folder / FILE
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadSettings(f"{FILE} cannot be read: {error}") from None
    for key, value in values.items():
        if key not in KNOWN:
            raise BadSettings(f"{FILE}: there is no setting {key}; there is {', '.join(KNOWN)}")
        if not isinstance(value, str) or not value:
            raise BadSettings(f'{FILE}: {key} is words in quotes, as in {key} = "sqlite:///club.sqlite"')
    return {key: str(value) for key, value in values.items()}


def debugging(env: Mapping[str, str] = os.environ) -> bool:
    """Does somebody want to see the traceback of a fault? (`SPRUNG_DEBUG=1`)"""
    return env.get("SPRUNG_DEBUG", "") not in ("", "0")
