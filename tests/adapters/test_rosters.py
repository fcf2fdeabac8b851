"""`sprung roster`: lists and workbooks on the command line, shown first, taken once, whole or not at all."""
from __future__ import annotations

import asyncio
import csv
import io
import json
import shutil
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from click.testing import Result
from openpyxl import Workbook, load_workbook

from adapters.halls import DEMO_HALL
from adapters.sheets import as_csv, read_list, workbook
from bot.people.table import TableErrors
from storage import open_store

Run = Callable[..., Result]
LIST = """Pupil;Session;Cartwheel
Ava Price;Thursday;x
Ben Okafor;Tuesday;
Pip Fell;Tuesday;
"""


@pytest.fixture
def hall(run: Run, tmp_path: Path) -> Path:
    """The demo hall's folder, loaded."""
    folder = tmp_path / "hall"
    shutil.copytree(DEMO_HALL, folder)
    assert run("hall", folder).exit_code == 0
    return folder


def kept(run: Run) -> dict[str, object]:
    """All that is kept, but for when it was asked."""
    out = json.loads(run("export", "--json").output)
    return {key: value for key, value in out.items() if key != "as_of"}


def test_it_is_shown_first_and_done_with_yes(run: Run, hall: Path, tmp_path: Path) -> None:
    """Without --yes nothing changes; with it what was shown is done; a second time nothing changes any more."""
    (tmp_path / "list.csv").write_text(LIST)
    before = kept(run)
    shown = run("roster", "list.csv")
    assert shown.exit_code == 0
    for says in ("Column 'Pupil' is the name.", "1 new child: Pip Fell (Tuesday Lanterns).", "Nothing is changed yet.",
                 "1 child moves from Tuesday Lanterns to Thursday Mixed: Ava Price.", "1 tick brought along."):
        assert says in shown.output
    assert kept(run) == before
    assert run("roster", "list.csv", "--yes").output.endswith("Done.\n")
    after = kept(run)
    ava = next(one for one in after["children"] if one["name"] == "Ava Price")      # type: ignore[attr-defined]
    assert ava["class"] == "thursday"
    assert ava["skills"]["cartwheel"]["standing"] == "ticked"
    assert ava["skills"]["galop-step"]["standing"] == "ticked"                      # what she had, she has
    assert len(after["children"]) == len(before["children"]) + 1                    # type: ignore[arg-type]
    again = run("roster", "list.csv", "--yes")
    assert "Nothing has changed." in again.output
    assert kept(run) == after


def test_a_question_stops_all_of_it(run: Run, hall: Path, tmp_path: Path) -> None:
    """While one name has to be asked about nothing of the list is taken, and the exit code says so."""
    (tmp_path / "list.csv").write_text(LIST + "Finn O'Harra;Tuesday;\n")
    before = kept(run)
    asked = run("roster", "list.csv", "--yes")
    assert asked.exit_code == 1
    assert "Finn O'Hara" in asked.output
    assert kept(run) == before
    assert run("roster", "list.csv", "--yes", "--same", "Finn O'Harra").exit_code == 0
    ids = {one["name"]: one["id"] for one in kept(run)["children"]}                 # type: ignore[attr-defined]
    assert ids["Finn O'Harra"] == "tuesday-finn-ohara"


def test_who_has_left_goes_only_when_told(run: Run, hall: Path, tmp_path: Path) -> None:
    """A child missing from the list stays; --gone forgets her; it never forgets one who is in the list."""
    (tmp_path / "list.csv").write_text(LIST)
    assert run("roster", "list.csv", "--yes", "--gone", "Ben Okafor").exit_code == 1
    assert "Dara Lund is forgotten." in run("roster", "list.csv", "--yes", "--gone", "Dara Lund").output
    names = {one["name"] for one in kept(run)["children"]}                          # type: ignore[attr-defined]
    assert "Dara Lund" not in names
    assert {"Efa Morgan", "Ben Okafor"} <= names


def test_the_halls_own_roster_is_written_anew(run: Run, hall: Path, tmp_path: Path) -> None:
    """With --hall the folder's roster.csv says what the database has, so loading the folder changes nothing."""
    (tmp_path / "list.csv").write_text(LIST)
    assert run("roster", "list.csv", "--yes", "--hall", hall).exit_code == 0
    before = kept(run)
    assert "Nothing has changed." in run("hall", hall).output
    assert kept(run) == before
    assert "Pip Fell,tuesday,lantern,," in (hall / "roster.csv").read_text(encoding="utf-8")


def test_groups_are_named(run: Run, hall: Path, tmp_path: Path) -> None:
    """A column of groups makes the class's groups; whoever is in another one now has left the old one."""
    (tmp_path / "a.csv").write_text("Name,Class,Group\nAva Price,Tuesday,Red\nBen Okafor,Tuesday,Red\n")
    (tmp_path / "b.csv").write_text("Name,Class,Group\nAva Price,Tuesday,Blue\n")
    assert "1 group named." in run("roster", "a.csv", "--yes").output
    assert "2 groups named." in run("roster", "b.csv", "--yes").output
    assert "Nothing would change." in run("roster", "b.csv").output


# --- workbooks ---------------------------------------------------------------------------------------------

def test_a_workbook_reads_like_the_same_list_as_text(run: Run, hall: Path, tmp_path: Path) -> None:
    """A workbook that another library wrote, with dates, numbers and a second sheet, is read by its first sheet."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Autumn"
    for row in (["Pupil", "Session", "Cartwheel", "No"], ["Ava Price", "Thursday", date(2026, 5, 24), 7.0],
                [None], ["Pip Fell", "Tuesday", None, 8]):
        sheet.append(row)
    book.create_sheet("Other").append(["Nobody"])
    book.save(tmp_path / "list.xlsx")
    table = read_list(tmp_path / "list.xlsx")
    assert [row.cells for row in table.rows] == [
        ("Pupil", "Session", "Cartwheel", "No"), ("Ava Price", "Thursday", "2026-05-24", "7"),
        ("Pip Fell", "Tuesday", "", "8"),
    ]
    assert [row.line for row in table.rows] == [1, 2, 4]
    assert run("roster", "list.xlsx", "--yes", "--column", "id=none").exit_code == 0
    ava = next(one for one in kept(run)["children"] if one["name"] == "Ava Price")  # type: ignore[attr-defined]
    assert ava["skills"]["cartwheel"]["ticked_on"] == "2026-05-24"
    assert "no sheet \"Spring\"; there are Autumn, Other" in run("roster", "list.xlsx", "--sheet", "Spring").output


def test_a_formula_counts_by_its_value(tmp_path: Path) -> None:
    """Of a formula that was never worked out there is nothing to read, and its text is never taken for a name."""
    book = Workbook()
    book.active.append(["Name"])
    book.active.append(['="Ava" & " Price"'])
    book.active.append(["Ben Okafor"])
    book.save(tmp_path / "list.xlsx")
    assert [row.cells for row in read_list(tmp_path / "list.xlsx").rows] == [("Name",), ("Ben Okafor",)]


@pytest.mark.parametrize(("name", "data", "says"), [
    ("a.xlsx", b"PK\x03\x04 and nothing more", "no workbook that can be read"),
    ("a.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old kind"), ("a.csv", b"x" * 5_000_001, "larger than 5 MB"),
])
def test_what_is_no_list_is_told(tmp_path: Path, name: str, data: bytes, says: str) -> None:
    """A file that can't be read is told in a sentence."""
    (tmp_path / name).write_bytes(data)
    with pytest.raises(TableErrors, match=says):
        read_list(tmp_path / name)


def test_a_workbook_that_swells_is_refused(tmp_path: Path) -> None:
    """A small file that would unpack to a very large one is not unpacked."""
    with zipfile.ZipFile(tmp_path / "list.xlsx", "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/workbook.xml", b"\0" * 70_000_000)
    with pytest.raises(TableErrors, match="too large unpacked"):
        read_list(tmp_path / "list.xlsx")


# --- out ---------------------------------------------------------------------------------------------------

EVIL = ["=1+1", "+cmd", "-2", "@SUM(A1)", "\t=1", " =1", "Ava"]


def test_no_cell_that_goes_out_is_a_formula() -> None:
    """What a spreadsheet would work out begins with an apostrophe in CSV (common practice, no source), and is a text in
    a workbook, as another library reads it."""
    cells = next(csv.reader(io.StringIO(as_csv([EVIL]))))
    assert cells == ["'=1+1", "'+cmd", "'-2", "'@SUM(A1)", "'\t=1", "' =1", "Ava"]
    read = load_workbook(io.BytesIO(workbook({"One": [[*EVIL, 3, date(2026, 5, 24)]]})))["One"]
    assert [cell.data_type for cell in read[1]] == ["s"] * 7 + ["n", "d"]
    assert read["A1"].value == "=1+1"


def test_tables_go_out_and_the_children_come_in_again(run: Run, hall: Path, tmp_path: Path) -> None:
    """CSV and a workbook have the same three tables; the children's table read as a list changes nothing."""
    for name in ("children", "marks", "awards"):
        (tmp_path / f"{name}.csv").write_text(run("export", "--csv", name).output, encoding="utf-8", newline="")
    assert run("export", "--xlsx", "all.xlsx").exit_code == 0
    book = load_workbook(tmp_path / "all.xlsx")
    assert book.sheetnames == ["Children", "Marks", "Awards"]
    rows = list(csv.reader((tmp_path / "children.csv").open(encoding="utf-8", newline="")))
    assert [[cell.value or "" for cell in row] for row in book["Children"]] == rows
    assert len(rows) == 31
    assert len(list(csv.reader((tmp_path / "awards.csv").open(encoding="utf-8")))) == 1 + 30 * 3
    for file in ("children.csv", "all.xlsx"):
        assert "Nothing would change." in run("roster", file).output
    again = run("export", "--xlsx", "all.xlsx")
    assert (again.exit_code, again.output) == (1, "all.xlsx is there already; name a new file.\n")


def test_one_child_goes_out_alone(run: Run, hall: Path) -> None:
    """What is kept of one child is in a table too, and no other child is."""
    out = run("export", "--csv", "children", "--child", "Ava Price").output
    assert "Ava Price" in out
    assert "Ben Okafor" not in out
    assert run("export", "--csv", "children", "--json").exit_code == 2
    assert run("export", "--all", "x", "--child", "Ava Price").exit_code == 2


def test_a_whole_club_goes_out_and_comes_in(run: Run, hall: Path, tmp_path: Path) -> None:
    """What `export --all` writes `import` takes into another database, once; the file is for its owner's eyes."""
    said = run("export", "--all", "club.json").output
    assert "30 children" in said
    assert "phone numbers" in said
    assert (tmp_path / "club.json").stat().st_mode & 0o077 == 0
    other = ("--db", "other.sqlite")
    assert run(*other, "import", "club.json").exit_code == 0
    assert json.loads(run(*other, "export", "--json").output)["children"] == kept(run)["children"]
    again = run(*other, "import", "club.json")
    assert again.exit_code == 1
    assert "is here already; nothing was changed" in again.output
    (tmp_path / "bad.json").write_text("{")
    assert "This is no file of a club, or not all of it (line 1, column 2)" in run(*other, "import", "bad.json").output


def test_a_calendars_link_is_printed_once(run: Run, hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the page's address it is whole; it can be ended."""
    assert run("calendar", "jo").output.startswith("/calendar/")
    monkeypatch.setenv("SPRUNG_ADDRESS", "https://hall.example/")
    assert run("calendar", "jo").output.startswith("https://hall.example/calendar/")
    assert run("calendar", "jo", "--end").output == "The link of Jo Marsh is ended.\n"
    assert run("calendar", "jo", "--end").output == "Jo Marsh has no link.\n"
    assert run("calendar", "nobody").exit_code == 1


def test_of_letters_that_were_guessed_it_is_said_what_would_do(run: Run, hall: Path, tmp_path: Path) -> None:
    """A list in Windows-1250 looks like one in 1252: whoever sees a name go wrong is told the way out; else nothing."""
    (tmp_path / "list.csv").write_bytes("Pupil;Session\nŁucja Żółć;Tuesday\n".encode("windows-1250"))
    assert "Where names look wrong, say what it is: --encoding windows-1250." in run("roster", "list.csv").output
    right = run("roster", "list.csv", "--encoding", "windows-1250").output
    assert "Łucja Żółć" in right
    assert "look wrong" not in right


def left(tmp_path: Path) -> list[str]:
    """Who is known to have left the club."""
    async def look() -> list[str]:
        store = open_store(str(tmp_path / "data" / "sprung" / "sprung.sqlite"))
        (club,) = await store.clubs()
        children = (await store.snapshot(club.id)).children.values()
        await store.close()
        return [child.name for child in children if child.left_on is not None]

    return asyncio.run(look())


def test_times_are_shown_and_then_taken(run: Run, hall: Path, tmp_path: Path) -> None:
    """A calendar changes a class's time only with --yes, and no child nor tick; what club.toml has to say is said."""
    (tmp_path / "t.ics").write_text("\r\n".join([
        "BEGIN:VCALENDAR", "BEGIN:VEVENT", "SUMMARY:Tuesday Lanterns", "UID:u",
        "DTSTART;TZID=Europe/London:20200107T174500", "DURATION:PT50M", "RRULE:FREQ=WEEKLY", "END:VEVENT",
        "END:VCALENDAR", "",
    ]))
    before = kept(run)
    shown = run("times", "t.ics")
    assert "Tuesday 17:45, 50 minutes, until now Tuesday 17:00, 60 minutes." in shown.output
    assert "Nothing is changed yet." in shown.output
    assert "Tuesday 17:45, 50 minutes, until now" in run("times", "t.ics").output
    done = run("times", "t.ics", "--yes")
    assert '# class tuesday:  day = "Tuesday"  start = "17:45"  minutes = 50' in done.output
    assert "Nothing would change." in run("times", "t.ics").output
    assert kept(run) == before
    assert run("times", "t.ics", "--class", "x=nowhere").exit_code == 1
    assert left(tmp_path) == []     # whoever is not in a calendar did not leave
