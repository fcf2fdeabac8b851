"""What a club prints, in words: certificates, the order sheet, the presentation list, as PDF or CSV."""
from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from adapters.paper.setting import SIZES, Unprintable, pdf
from bot.lesson.book import ClassBook
from bot.lesson.paper import Block, class_sheet, example
from bot.out.printed import Certificate, award_name, certificates, order, scheme_now, to_present
from bot.people.model import Club, ClubClass
from bot.port import Snapshot
from bot.scheme.card import seconds, what_is_asked
from bot.talk.words import careful, date_in_full, day_of_the_year, piece

Table = list[list[str]]


def base(club: Club) -> dict[str, Any]:
    """What every page of a club has."""
    return {"heading": club.printing.heading or club.name, "colour": club.printing.colour,
            "second": club.printing.second_colour, "paper": SIZES[club.printing.paper]}


def certificate_pages(
    club: Snapshot, wanted: str | None, child: str | None, own_fonts: Path | None = None,
) -> tuple[bytes, list[Certificate]]:
    """One PDF of a class's certificates, or of one child's; and what is on them. Raises Unprintable."""
    rows = [row for _, several in certificates(club, wanted, child) for row in several]
    if not rows:
        raise Unprintable("There is no certificate to print: nobody has earned an award that was not handed over.")
    data = base(club.club) | {
        "signature": club.club.printing.signature,
        "pages": [{"name": row.name, "award": row.award, "on": day_of_the_year(row.on)} for row in rows],
    }
    texts = [data["heading"], data["signature"], *(text for row in rows for text in (row.name, row.award))]
    return pdf("certificate", data, texts, own_fonts), rows


def order_table(club: Snapshot) -> Table:
    """The order sheet, its head first: award, each class that wants some, wanted, in the cupboard, to order."""
    lines = order(club)
    own = [one for one in club.club.classes if any(one.id in line.by_class for line in lines)]
    head = ["Award", *(one.name for one in own), "Wanted", "In the cupboard", "To order"]
    return [head, *(
        [award_name(club, line.award), *(str(line.by_class.get(one.id, 0)) for one in own), str(line.wanted),
         str(line.stock), str(line.to_order)] for line in lines
    )]


def presentation_table(club: Snapshot, wanted: str | None = None) -> Table:
    """The presentation list, its head first: class, name as printed, award."""
    return [["Class", "Name", "Award"], *(
        [one.name, row.name, row.award] for one, rows in to_present(club, wanted) for row in rows
    )]


def order_pages(club: Snapshot, today: date, own_fonts: Path | None = None) -> bytes:
    """The order sheet as a PDF. Raises Unprintable."""
    head, *rows = order_table(club)
    return _list(club.club, "Order sheet", today, [("", head, rows)], own_fonts, numbers=True)


def presentation_pages(club: Snapshot, today: date, wanted: str | None = None, own_fonts: Path | None = None) -> bytes:
    """The presentation list as a PDF, a table for each class. Raises Unprintable."""
    parts = [(one.name, ["Name", "Award"], [[row.name, row.award] for row in rows])
             for one, rows in to_present(club, wanted)]
    return _list(club.club, "To be handed over", today, parts, own_fonts)


def _list(
    club: Club, title: str, today: date, parts: Sequence[tuple[str, list[str], Table]], own_fonts: Path | None,
    *, numbers: bool = False,
) -> bytes:
    data = base(club) | {
        "title": title, "under": f"{club.name}, {day_of_the_year(today)}",
        "parts": [{"title": name, "head": head, "rows": rows, "numbers": numbers} for name, head, rows in parts],
    }
    cells = [cell for name, head, rows in parts for cell in (name, *head, *(one for row in rows for one in row))]
    return pdf("list", data, [club.name, *cells], own_fonts)


# --- the class sheet -------------------------------------------------------------------------------------

def lesson_pages(
    club: Snapshot, one: ClubClass, day: date, own_fonts: Path | None = None, *, everything: bool = False,
) -> bytes:
    """What the plan would watch of a class's lesson, or all that is owed, to be marked by hand. Raises Unprintable."""
    book = club.books[one.id]
    whole = class_sheet(book, club.club, one, club.schemes, day)
    blocks = [block for block in whole if everything or block.planned]
    if not blocks:
        raise Unprintable(f"Nothing is owed in {one.name}, so there is nothing to print.")
    first_later = next((block for block in blocks if not block.planned), None)
    data = base(club.club) | {
        "title": f"{one.name}, {date_in_full(day)}", "under": f"{club.club.name}, {one.start:%H:%M}",
        "care": _care(club, blocks),
        "blocks": [_block(club, book, block) | {"first-later": block is first_later} for block in blocks],
        "example": example(scheme_now(club), book, one, blocks[0]),
    }
    names = [book.called[row.child] for block in blocks for line in block.lines for row in line]
    texts = [data["title"], data["under"], *names, *(block["name"] for block in data["blocks"])]
    return pdf("lesson", data, texts, own_fonts)


def _care(club: Snapshot, blocks: Sequence[Block]) -> str:
    """Which of these skills have a caution on their card, and what they load."""
    scheme = scheme_now(club)
    found = careful(scheme, (scheme.skills[block.skill] for block in blocks))
    return f"Take care with: {', '.join(found)}. Your club's own rules come first." if found else ""


def _block(club: Snapshot, book: ClassBook, block: Block) -> dict[str, Any]:
    scheme = scheme_now(club)
    skill = scheme.skills[block.skill]
    rest = scheme.rest_before(skill, 2) if len(skill.shows) == 2 else 0
    asked = [what_is_asked(skill.shows[0]), f"rest {seconds(rest)}" if rest else ""]
    return {
        "name": skill.name, "asked": ", ".join(filter(None, asked)),
        "heads": ["First", "Second"] if len(skill.shows) == 2 else ["Shown"],
        "lines": [[{"name": book.called[row.child], "owes": [[piece(skill, one) for one in owed] for owed in row.owes]}
                   for row in line] for line in block.lines],
    }
