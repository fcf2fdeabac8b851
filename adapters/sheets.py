"""Lists on disk: text or a workbook, as a table; and tables written as CSV or a workbook.

What lives here: files and openpyxl. Of a workbook the values are read that its formulas had when it was last saved.
"""
from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from bot.people.table import MOST_COLUMNS, MOST_ROWS, Table, read_text, table, wrong

LARGEST_WORKBOOK = 5_000_000
LARGEST_UNPACKED = 60_000_000
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
FORMULA = ("=", "+", "-", "@", "\t", "\r")
Cells = Sequence[object]


def read_list(file: Path, encoding: str | None = None, sheet: str | None = None) -> Table:
    """The table in a file. Raises TableErrors, in words for whoever has the file."""
    if file.stat().st_size > LARGEST_WORKBOOK:
        raise wrong(f"{file.name} is larger than {LARGEST_WORKBOOK // 1_000_000} MB; send the list of one club alone.")
    data = file.read_bytes()
    if data.startswith(OLD_WORKBOOK):
        raise wrong(f"{file.name} is a workbook of the old kind, or one with a password; save it as .xlsx or as CSV.")
    return _workbook(data, sheet) if data.startswith(b"PK\x03\x04") else read_text(data, encoding)


def _workbook(data: bytes, sheet: str | None) -> Table:
    from openpyxl import load_workbook

    not_one = wrong("This is no workbook that can be read; save the list again as .xlsx, or as CSV.")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as parts:
            if sum(one.file_size for one in parts.infolist()) > LARGEST_UNPACKED:
                raise wrong("This workbook is too large unpacked; send the list of one club alone.")
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, EOFError, TypeError, AttributeError, SyntaxError):
        raise not_one from None
    names = book.sheetnames
    if sheet is not None and sheet not in names:
        raise wrong(f'There is no sheet "{sheet}"; there are {", ".join(names)}.')
    name = sheet or names[0]
    if not hasattr(book[name], "iter_rows"):
        raise wrong(f'The sheet "{name}" is a picture; say another one: --sheet NAME')
    rows = book[name].iter_rows(max_row=MOST_ROWS * 2, max_col=MOST_COLUMNS + 1, values_only=True)
    try:
        cells = [(line, [_shown(cell) for cell in row]) for line, row in enumerate(rows, 1)]
    except (KeyError, ValueError, TypeError, AttributeError, SyntaxError, zipfile.BadZipFile):
        raise not_one from None
    more = "" if len(names) == 1 else f" of {len(names)}; another one: --sheet NAME"
    return table(cells, f"a workbook, sheet '{name}'{more}")


def _shown(cell: Any) -> str:
    """A cell as it is shown: a date without a time, a whole number without a point."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ")
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return cell.isoformat() if isinstance(cell, date) else str(cell)


# --- out -------------------------------------------------------------------------------------------------

def as_csv(rows: Iterable[Cells]) -> str:
    """Rows as CSV (RFC 4180). What a spreadsheet would take for a formula gets an apostrophe before it."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    for row in rows:
        writer.writerow([_harmless(cell) for cell in row])
    return out.getvalue()


def _harmless(cell: object) -> str:
    text = "" if cell is None else "yes" if cell is True else "no" if cell is False else str(cell)
    return f"'{text}" if text.lstrip().startswith(FORMULA) or text.startswith(FORMULA) else text


def workbook(tables: Mapping[str, Iterable[Cells]]) -> bytes:
    """A workbook with a sheet for each table; every cell is a text, a number or a date, and none a formula."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.utils.exceptions import IllegalCharacterError

    book = Workbook(write_only=True)
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for row in rows:
            cells = []
            for value in row:
                cell = WriteOnlyCell(sheet)
                try:
                    cell.value = value if isinstance(value, int | float | date | None) else str(value)
                except IllegalCharacterError:
                    cell.value = "".join(char for char in str(value) if char.isprintable())
                if isinstance(value, str):
                    cell.data_type = "s"        # what begins with = is a text here too
                cells.append(cell)
            sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
