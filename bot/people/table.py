"""A list from a spreadsheet or another program, as rows of cells: from bytes, whatever their encoding and separators.

What lives here: how bytes become cells, what was guessed for that, and the bounds. What the columns mean is
`columns.py`; a workbook becomes such a table in `adapters/sheets.py`.
"""
from __future__ import annotations

import csv
import io
import unicodedata
from collections import Counter
from dataclasses import dataclass

from bot.scheme.faults import Fault

LARGEST = 2_000_000         # bytes of text
MOST_ROWS = 5_000
MOST_COLUMNS = 100
LONGEST_CELL = 1_000
GUESSED = "windows-1252"      # where the letters are neither; nobody can know for certain
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
_LOOKED_AT = 50             # rows by which separators are guessed


class TableErrors(Exception):
    """This list cannot be used. `faults`: all that is wrong, each with its line; nothing of the list was taken."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) if fault.line else fault.says for fault in self.faults)


@dataclass(frozen=True, slots=True)
class Row:
    """One row that is not empty: its line in the file, from 1, and its cells, tidied."""

    line: int
    cells: tuple[str, ...]

    def cell(self, place: int) -> str:
        """The cell at a place; empty beyond the last."""
        return self.cells[place] if place < len(self.cells) else ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows, and in plain words how they were read."""

    rows: tuple[Row, ...]
    read_as: str

    @property
    def width(self) -> int:
        """How many columns there are."""
        return max((len(row.cells) for row in self.rows), default=0)


def wrong(says: str, line: int = 0, key: str = "") -> TableErrors:
    """One fault; without a line it is about the file."""
    return TableErrors((Fault(line, key, says),))


def read_text(data: bytes, encoding: str | None = None) -> Table:
    """The table in a text file. `encoding`: what it is, where the guess was wrong. Raises TableErrors."""
    if len(data) > LARGEST:
        raise wrong(f"The file is larger than {LARGEST // 1_000_000} MB; send the list of one club alone.")
    text, named = _decoded(data, encoding)
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        raise wrong("This is no text: save the list as CSV, or as a workbook ending in .xlsx.")
    said, separator, body = _separator(text)
    rows = _tidied(_cells(body, separator, 1 if said else 0))
    between = f", {SEPARATORS[separator]} between the columns" if max(len(row.cells) for row in rows) > 1 else ""
    return Table(rows, f"text in {named}{between}")


def table(cells: list[tuple[int, list[str]]], read_as: str) -> Table:
    """A table of cells that came otherwise: line and cells. Raises TableErrors."""
    return Table(_tidied(cells), read_as)


# --- letters ---------------------------------------------------------------------------------------------

def _decoded(data: bytes, encoding: str | None) -> tuple[str, str]:
    name = encoding or _guessed(data)
    try:
        return data.decode(name), _called(name)
    except LookupError:
        raise wrong(f"There is no encoding {name}; say for instance --encoding windows-1252 or utf-8.") from None
    except UnicodeError:
        if encoding is not None:
            raise wrong(f"The file is not in {encoding}; say another --encoding, or save it again as UTF-8.") from None
        raise wrong("The letters of this file can't be told; save it again as UTF-8, or say its --encoding.") from None


def _guessed(data: bytes) -> str:
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return name
    start = data[:2000]
    if start.count(0) * 4 > len(start):         # of every other letter of plain words the one half is nothing
        return "utf-16-be" if start[0::2].count(0) > start[1::2].count(0) else "utf-16-le"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return GUESSED
    return "utf-8"


def _called(name: str) -> str:
    return {"utf-8-sig": "UTF-8", "utf-16-be": "UTF-16", "utf-16-le": "UTF-16"}.get(name.lower(), (
        name.upper() if name.lower().startswith("utf") else name.capitalize()
    ))


# --- cells -----------------------------------------------------------------------------------------------

def _separator(text: str) -> tuple[bool, str, str]:
    """Was it said in the file itself (`sep=;`), what it is, and the text without that line."""
    first, _, rest = text.partition("\n")
    if first[:4].lower() == "sep=" and first[4:] in SEPARATORS:
        return True, first[4:], rest
    return False, max(SEPARATORS, key=lambda mark: _fits(text, mark)), text


def _fits(text: str, mark: str) -> tuple[int, int]:
    """How many of the first rows have as many cells as most, and how many cells that is."""
    head = "\n".join(text.split("\n", _LOOKED_AT * 2)[:_LOOKED_AT * 2])
    sizes = Counter(
        len(row) for row in csv.reader(io.StringIO(head), delimiter=mark) if any(cell.strip() for cell in row)
    )
    several = [(count, size) for size, count in sizes.items() if size > 1]
    return max(several, default=(0, 0))


def _cells(text: str, separator: str, skipped: int) -> list[tuple[int, list[str]]]:
    reader = csv.reader((f"{line}\n" for line in text.split("\n")), delimiter=separator, strict=True)
    found: list[tuple[int, list[str]]] = []
    begins = 1 + skipped
    try:
        for cells in reader:
            found.append((begins, cells))
            begins = reader.line_num + 1 + skipped
    except csv.Error as error:
        what = "a quotation mark here is never closed" if "end of data" in str(error) else (
            "a cell here ends in the middle of its quotation marks")
        raise wrong(f"{what}; write quotation marks within a cell twice, or take them away",
                    begins, "quotation marks") from None
    return found


def _tidied(cells: list[tuple[int, list[str]]]) -> tuple[Row, ...]:
    rows = []
    for line, row in cells:
        tidy = [" ".join(unicodedata.normalize("NFC", cell).split()) for cell in row]
        while tidy and not tidy[-1]:
            tidy.pop()
        if not tidy:
            continue
        if len(tidy) > MOST_COLUMNS:
            raise wrong(f"there are {len(tidy)} columns; {MOST_COLUMNS} are the most", line, "columns")
        if (long := next((n for n, cell in enumerate(tidy, 1) if len(cell) > LONGEST_CELL), 0)):
            raise wrong(f"this cell has more than {LONGEST_CELL} letters; shorten it", line, f"column {long}")
        rows.append(Row(line, tuple(tidy)))
        if len(rows) > MOST_ROWS:
            raise wrong(f"there are more than {MOST_ROWS} rows; send the list of one club alone", line, "rows")
    if not rows:
        raise wrong("The file is empty: there is no row in it.")
    return tuple(rows)
