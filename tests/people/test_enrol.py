"""A list from any program: its letters and separators, what its columns are, and who its rows are."""
from __future__ import annotations

import codecs
import contextlib
import csv
import io
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.halls import DEMO_HALL, read_folder
from bot.lesson.book import Child
from bot.people.columns import explained, guess
from bot.people.enrol import Asked, Enrolment, Known, day_in_words, enrol, told
from bot.people.table import MOST_ROWS, Table, TableErrors, read_text

HALL = read_folder(DEMO_HALL)
TODAY = date(2026, 11, 24)
OURS = {f"c{n}": Child(f"c{n}", line.child, line.class_id, line.award) for n, line in enumerate(HALL.roster)}
KNOWN = Known(HALL.club, HALL.scheme, OURS, TODAY)


def laid(text: str | bytes, *columns: str, known: Known = KNOWN, **asked: object) -> Enrolment:
    """What a list comes to beside the demo hall's children."""
    table = read_text(text.encode() if isinstance(text, str) else text)
    found = guess(table, known.scheme, known.club, [child.name for child in known.children.values()], columns)
    return enrol(table, found, known, Asked(**asked))       # type: ignore[arg-type]


def words(text: str, *columns: str) -> tuple[str, ...]:
    """The guess about its columns, in words."""
    return explained(guess(read_text(text.encode()), HALL.scheme, HALL.club, [c.name for c in OURS.values()], columns))


# --- letters and separators --------------------------------------------------------------------------------

NAMES = ("Zoë Quill", "Siân Bevan", "Anaïs N'Diaye", "Ava Price")      # each in Windows-1252 too


@pytest.mark.parametrize(("encoding", "mark"), [
    ("utf-8", b""), ("utf-8", codecs.BOM_UTF8), ("utf-16-le", codecs.BOM_UTF16_LE), ("utf-16-be", codecs.BOM_UTF16_BE),
    ("utf-16-le", b""), ("utf-16-be", b""), ("windows-1252", b""),
])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_letters_and_separators_are_found(encoding: str, mark: bytes, separator: str) -> None:
    """A list reads the same in each encoding that programs write, with or without a byte order mark, as its codec in
    Python's own library writes it."""
    rows = [["Pupil", "Class"], *([name, "Saturday Candles"] for name in NAMES)]
    data = mark + "\r\n".join(separator.join(row) for row in rows).encode(encoding)
    assert [list(row.cells) for row in read_text(data).rows] == rows


def test_letters_can_be_said() -> None:
    """A list in letters that can't be guessed is read once they are said."""
    data = "Name\nĐorđe Ilić\n".encode("windows-1250")
    assert read_text(data, "windows-1250").rows[1].cells == ("Đorđe Ilić",)
    with pytest.raises(TableErrors, match="no encoding klingon"):
        read_text(data, "klingon")


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=9),
                         min_size=2, max_size=4), min_size=2, max_size=6),
       st.sampled_from([",", ";", "\t"]))
@settings(deadline=None)
def test_what_python_writes_as_csv_is_read_back(cells: list[list[str]], separator: str) -> None:
    """Cells with quotation marks and separators in them come back as they were, but for their spaces."""
    out = io.StringIO()
    out.write(f"sep={separator}\n")
    csv.writer(out, delimiter=separator, lineterminator="\n").writerows(cells)
    tidy = [[" ".join(cell.split()) for cell in row] for row in cells]
    try:
        table = read_text(out.getvalue().encode())
    except TableErrors:
        assert not any(cell for row in tidy for cell in row)
        return
    import unicodedata
    read = [[unicodedata.normalize("NFC", cell) for cell in row] for row in tidy if any(row)]
    for row in read:
        while not row[-1]:
            row.pop()
    assert [list(row.cells) for row in table.rows] == read


@pytest.mark.parametrize(("data", "says"), [
    (b"", "no row in it"), (b"\n , \n", "no row in it"), (b"Name\n\"Ava", "line 2, quotation marks: .* never closed"),
    (b"Name,Class\n\"Ava\"x,Tuesday", "line 2, quotation marks"), (b"a\0b\nc", "no text"),
    (b"Name\n" + b"Ava\n" * (MOST_ROWS + 1), "more than 5000 rows"), (b"x," * 200, "200 columns|201 columns|100"),
    (b"Name\n" + b"a" * 2000, "line 2, column 1: .* letters"), (b"a" * 2_000_001, "larger than 2 MB"),
])
def test_a_file_that_is_no_list_is_told_in_a_sentence(data: bytes, says: str) -> None:
    """Whatever is wrong with a file is said with its line; nothing of it is taken."""
    with pytest.raises(TableErrors) as told_:
        laid(data + b"," if data.startswith(b"x,") else data)
    import re
    assert re.search(says, str(told_.value))


@given(st.binary(max_size=400))
@settings(deadline=None)
def test_any_bytes_are_answered(data: bytes) -> None:
    """No file whatever ends otherwise than in a table or a sentence."""
    with contextlib.suppress(TableErrors):
        assert isinstance(read_text(data), Table)
        laid(data)


# --- columns -----------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("text", "first"), [
    ("Pupil,Session\nAva Price,Thursday", "Ava Price"),
    ("Price;Ava;Tuesday", "Ava Price"),                                  # no headers: our own children tell
    ("First name,Surname,Class\nAva,Price,Tuesday", "Ava Price"),
    ("Vorname;Name;Kurs\nAva;Price;Tuesday", "Ava Price"),
    ("Nom;Prénom;Cours\nPrice;Ava;Tuesday", "Ava Price"),
    ("Child's name\n\"Price, Ava\"", "Ava Price"),
    ("Name\nPrice Ava\nOkafor Ben\nEze Chidi", "Ava Price"),
    ("Register for autumn\n\nNo,Gymnast,Day\n1,Ava Price,Tue", "Ava Price"),
    ("Ava Price\nBen Okafor", "Ava Price"),
    ("Wer,Wann\nAva Price,Tuesday\nBen Okafor,Tuesday", "Ava Price"),    # headers in words that we don't know
    ("Wer\nAva Price\nBen Okafor", "Ava Price"),
])
def test_the_name_is_found_however_it_is_written(text: str, first: str) -> None:
    """One column or two, last name first or last, with headers in many words or none."""
    found = laid(text, class_id="tuesday")
    assert found.lines[0].child == first
    assert found.lines[0].id == "c0"


def test_what_is_about_families_and_health_is_not_read() -> None:
    """A column about parents, birthdays or health is never taken for one of ours, and is said not to be read."""
    said = words("Mother's first name,Date of birth,Medical notes,Name,Class\nEve,2018-01-02,none,Ava Price,Tuesday")
    assert said == ("Column 'Name' is the name.", "Column 'Class' is the class.",
                    "Not read: Mother's first name, Date of birth, Medical notes.")


def test_a_wrong_guess_is_put_right() -> None:
    """What a column is can be said, by its header or its number; and that it is nothing."""
    text = "Team,Known\nAva Price,Tuesday\nBen Okafor,Tuesday"
    assert "Column 'Team' is the name." in words(text, "name=Team")
    assert "Column 'Team' is the name." in words(text, "name=1", "class=2")
    assert not any("the class" in row for row in words(text, "class=none"))
    with pytest.raises(TableErrors, match='no column "Teem"; did you mean "Team"'):
        laid(text, "name=Teem")
    with pytest.raises(TableErrors, match="it may be name, first"):
        laid(text, "colour=Team")


@pytest.mark.parametrize("said", ["tuesday", "Tuesday Lanterns", "TUESDAY", "Tue", "Tuesdays 5pm", "Tuesday 17:00"])
def test_a_class_may_be_said_by_its_day(said: str) -> None:
    """A class is known by its id, its name, or its day where there is one class on it."""
    assert laid(f"Name,Class\nAva Price,{said}").lines[0].class_id == "tuesday"


# --- who is who --------------------------------------------------------------------------------------------

def test_another_class_is_a_move() -> None:
    """A child in another class than before is the same child, moved."""
    found = laid("Name,Class\nAva Price,Thursday\nBen Okafor,Tuesday\nPip New,Tuesday")
    assert [(child.id, line.class_id) for child, line in found.moved] == [("c0", "thursday")]
    assert [line.child for line in found.new] == ["Pip New"]
    assert "1 child moves from Tuesday Lanterns to Thursday Mixed: Ava Price." in told(found, KNOWN)


@pytest.mark.parametrize("said", [
    "Ava Prise", "Ava Pryce", "Avá Price", "Eva Price", "Ava P", "Ava", "Price Ava", "Ava-Price", "Ava Pricee",
])
def test_a_name_that_is_nearly_ours_is_asked_about(said: str) -> None:
    """A letter, an accent, the order of the words or the rest of a name: asked, never guessed."""
    found = laid(f"Name,Class\n{said},Tuesday")
    assert [(one.said, one.like) for one in found.questions] == [(said, "Ava Price")]
    assert "Ava Price" not in [child.name for child in found.missing]
    same = laid(f"Name,Class\n{said},Tuesday", same=((said, ""),))
    assert [(child.id, line.child) for child, line in same.renamed] == [("c0", said)]
    assert laid(f"Name,Class\n{said},Tuesday", same=((said, "Ava Price"),)).lines == same.lines
    other = laid(f"Name,Class\n{said},Tuesday", new=(said,))
    assert [line.child for line in other.new] == [said]
    assert not other.questions


def test_a_name_like_one_who_is_in_the_list_herself_is_new() -> None:
    """Where Ava Price has a row of her own, Ava Pryce is somebody else and nobody is asked."""
    found = laid("Name,Class\nAva Price,Tuesday\nAva Pryce,Tuesday")
    assert not found.questions
    assert [line.child for line in found.new] == ["Ava Pryce"]


def test_a_name_in_capitals_is_the_same_name() -> None:
    """Capitals make no other name, and ours stays as it is written."""
    found = laid("Name,Class\nAVA PRICE,Tuesday")
    assert (found.lines[0].id, found.lines[0].child, found.renamed) == ("c0", "Ava Price", ())


def test_who_is_missing_is_named_and_only_of_classes_in_the_list() -> None:
    """A list of one class says nothing of the children of another."""
    found = laid("Name,Class\nAva Price,Tuesday")
    assert {child.class_id for child in found.missing} == {"tuesday"}
    assert len(found.missing) == sum(child.class_id == "tuesday" for child in OURS.values()) - 1


@pytest.mark.parametrize(("text", "says"), [
    ("Name,Class\nAva Price,Monday", "line 2, Ava Price / Column 'Class': there is no class \"Monday\""),
    ("Name,Class\n,Tuesday", "line 2, no name / Column 'Name': there is no name"),
    ("Name,Class\nPip Q,Tuesday\nPip Q,Tuesday", "line 3, Pip Q / Column 'Name': line 2 has this name already"),
    ("Name,Award\nAva Price,Lantren", "did you mean \"Lantern\""),
    ("Name,Has\nAva Price,flying", "there is no skill \"flying\""),
    ("Name,Cartwheel\nAva Price,perhaps", "neither a yes nor a day that is past"),
    ("Name,Cartwheel\nAva Price,2027-01-01", "neither a yes nor a day that is past"),
    ("Name\nPip Q", "nothing says in which class"),
    ("Colour\n12", "No column looks like names"),
])
def test_what_is_wrong_in_a_row_is_said_with_its_line(text: str, says: str) -> None:
    """One sentence for each fault, with line and column."""
    with pytest.raises(TableErrors) as error:
        laid(text)
    assert says in str(error.value)


def test_skills_held_already() -> None:
    """From a column of skills, or a column for each, with a yes or the day on which it was shown."""
    found = laid("Name,Class,Has,Cartwheel,Bridge,Shoulder stand\nAva Price,Tue,arabesque; Galop step,x,no,24/5/2026")
    assert found.lines[0].has == ("arabesque", "galop-step", "cartwheel", "shoulder-stand")
    assert found.lines[0].since == (("shoulder-stand", date(2026, 5, 24)),)


@pytest.mark.parametrize(("said", "day"), [
    ("2026-05-24", date(2026, 5, 24)), ("24/05/2026", date(2026, 5, 24)), ("24.5.26", date(2026, 5, 24)),
    ("5/24/2026", date(2026, 5, 24)), ("3/4/2026", date(2026, 4, 3)), ("May 2026", date(2026, 5, 1)),
    ("may", date(2026, 5, 1)), ("december", date(2025, 12, 1)), ("24 May", date(2026, 5, 24)),
    ("24th May 2026", date(2026, 5, 24)), ("2026-05", date(2026, 5, 1)), ("31/2/2026", None), ("soon", None),
    ("", None), ("12", None), ("1/2", None),
])
def test_days_as_people_write_them(said: str, day: date | None) -> None:
    """A day in figures or words; a month alone is the first day of the last such month. Common practice, no source."""
    assert day_in_words(said, TODAY) == day


def test_in_america_the_month_comes_first() -> None:
    """3/4 is the fourth of March there. Common practice, no source."""
    assert day_in_words("3/4/2026", TODAY, day_first=False) == date(2026, 3, 4)


# --- at large ----------------------------------------------------------------------------------------------

HEADS = {"name": ["Name", "Pupil", "GYMNAST", "Child's name"], "class": ["Class", "Session", "Kurs"],
         "award": ["Award", "Level"]}


@given(st.data())
@settings(deadline=None)
def test_the_order_of_rows_and_columns_says_nothing(data: st.DataObject) -> None:
    """However a list is turned about, it comes to the same children with the same ids."""
    rows = data.draw(st.permutations(list(OURS.values())))[:12]
    roles = data.draw(st.permutations(["name", "class", "award"]))
    cells = {"name": lambda c: c.name, "award": lambda c: c.award,
             "class": lambda c: HALL.club.by_class[c.class_id].name}
    separator = data.draw(st.sampled_from([",", ";", "\t"]))
    heads = [separator.join(data.draw(st.sampled_from(HEADS[role])) for role in roles)]
    lines = heads if data.draw(st.booleans()) else []
    lines += [separator.join(cells[role](child) for role in roles) for child in rows]
    found = laid("\n".join(lines).encode(data.draw(st.sampled_from(["utf-8", "utf-16", "utf-8-sig"]))))
    assert [(line.id, line.child, line.class_id, line.award) for line in found.lines] == [
        (child.id, child.name, child.class_id, child.award) for child in rows
    ]
    assert (found.new, found.moved, found.renamed, found.questions) == ((), (), (), ())
