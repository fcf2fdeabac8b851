"""Certificates and lists as PDF. Names are made up of usual ones of each script; the reader is PDFium.

Page sizes: ISO 216 (A4 is 297 by 210 mm), ANSI/ASME Y14.1 (Letter is 11 by 8.5 inches), both from memory.
"""
from __future__ import annotations

import sys
from typing import Any
from unicodedata import normalize

import pytest

from adapters.paper import fonts
from adapters.paper.setting import MISSING, Unprintable, pdf

NAMES = ["Łucja Nowak-Żółć", "Nguyễn Thị Ánh", "Ó Súilleabháin", "李小龍", "Đorđe Ilić", "Şule Aydın", "Niamh D’Arcy"]
ARABIC, HINDI = "محمد", "प्रिया नायर"
LONG = "Maximiliana Alexandrina Wilhelmina von Hohenlohe-Schillingsfurst-Waldenburg-Nord"
MARKUP = "#panic() $x$ *b* _i_ `c` @d <e> \\"


def data(names: list[str], **other: Any) -> dict[str, Any]:
    return {"heading": "Harbour Lane Hall", "colour": "#24506b", "second": "#d9a441", "paper": "a4",
            "signature": "Jo Marsh, coach", **other,
            "pages": [{"name": name, "award": "Lantern", "on": "24 November 2026"} for name in names]}


def pages(document: bytes) -> list[Any]:
    import pypdfium2

    return list(pypdfium2.PdfDocument(document))


def lines(page: Any) -> list[str]:
    return page.get_textpage().get_text_range().splitlines()


def boxes(page: Any, text: str) -> list[tuple[float, float, float, float]]:
    """Left, bottom, right, top of each piece of a line, in points."""
    found = page.get_textpage().search(text).get_next()
    assert found is not None
    textpage = page.get_textpage()
    textpage.count_rects(*found)
    return [textpage.get_rect(n) for n in range(textpage.count_rects(*found))]


def test_every_name_is_on_a_page_of_its_own_letter_for_letter():
    """Latin with any accent, Chinese: what is read from the page is the name as it was given."""
    document = pages(pdf("certificate", data(NAMES), NAMES))
    assert [normalize("NFC", lines(page)[2]) for page in document] == NAMES
    assert all(lines(page)[5] == "24 November 2026" for page in document)


def test_scripts_that_join_their_letters_keep_all_of_them():
    """Arabic runs from right to left and its letters join; Devanagari's too: none of them is missing on the page."""
    for name in (ARABIC, HINDI):
        (page,) = pages(pdf("certificate", data([name]), [name]))
        read = normalize("NFKC", "".join(lines(page)))
        assert set(name) <= set(read), name


def test_arabic_runs_from_right_to_left():
    """The first letter of the name is the rightmost on the page."""
    (page,) = pages(pdf("certificate", data([ARABIC]), [ARABIC]))
    textpage = page.get_textpage()
    place = {}
    for n in range(textpage.count_chars()):
        char = normalize("NFKC", textpage.get_text_range(n, 1))
        if char and char in ARABIC:
            place.setdefault(char, textpage.get_charbox(n)[0])
    assert place[ARABIC[0]] > place[ARABIC[1]] > place[ARABIC[3]]


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_a_name_too_long_for_its_line_is_smaller_and_never_cut(paper):
    """The whole name stands on one line, inside the page's margins, less high than a short one."""
    long, short = pages(pdf("certificate", data([LONG, "Ava Price"], paper=paper), [LONG]))
    assert lines(long)[2] == LONG
    (box,) = boxes(long, LONG)
    width, _ = long.get_size()
    assert box[0] > 36
    assert box[2] < width - 36
    (other,) = boxes(short, "Ava Price")
    assert box[3] - box[1] < (other[3] - other[1]) * 0.6
    assert boxes(long, "has earned") == boxes(short, "has earned")      # nothing else moves


@pytest.mark.parametrize(("paper", "size"), [("a4", (841.9, 595.3)), ("us-letter", (792, 612))])
def test_the_page_is_the_paper(paper, size):
    """Both papers lie on their side."""
    (page,) = pages(pdf("certificate", data(["Ava Price"], paper=paper), []))
    assert page.get_size() == pytest.approx(size, abs=0.1)


def test_a_name_is_never_markup():
    """A name is data for the one who sets the page, whatever signs are in it."""
    (page,) = pages(pdf("certificate", data([MARKUP]), [MARKUP]))
    assert lines(page)[2] == MARKUP


def test_the_same_certificates_are_the_same_bytes():
    """No clock and no chance is in a file."""
    assert pdf("certificate", data(NAMES), NAMES) == pdf("certificate", data(NAMES), NAMES)


def test_a_letter_that_no_font_has_is_said_and_nothing_is_printed():
    """Who is meant and which letter, and what to do; a name is never printed with a hole in it."""
    with pytest.raises(Unprintable, match=r"Ava ⵣⵎ \(ⵣ ⵎ\).*fonts ="):
        pdf("certificate", data(["Ava ⵣⵎ"]), ["Ava ⵣⵎ", "Ben"])


def test_without_the_extra_it_is_said_which_one(monkeypatch):
    """The base install prints nothing and says in a sentence what to install."""
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(Unprintable) as told:
        pdf("certificate", data(["Ava"]), ["Ava"])
    assert str(told.value) == MISSING
    assert "sprung[print]" in MISSING


def test_the_letters_of_a_font_are_those_that_fonttools_finds():
    """Our reading of `cmap` against fontTools', for every font that the extra brings."""
    ttlib = pytest.importorskip("fontTools.ttLib")
    found = fonts.files(fonts.folders())
    assert len(found) >= 4
    for path in found:
        with ttlib.TTFont(path, lazy=True) as font:
            ours = fonts.among(fonts.letters_of(path), range(0x110000))
            theirs = {code for table in font["cmap"].tables if table.format in (4, 12) for code in table.cmap}
            assert ours == theirs | (ours & {0xFFFF}), path.name
