"""The export as tables: one of the children, one of the marks, one of the awards. Pure; the cells are plain values.

What lives here: which columns there are. The children's table can be read back as a roster: a column for each skill,
with the day on which it was ticked.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from bot.scheme.model import Scheme

Rows = list[Sequence[object]]
TABLES = ("children", "marks", "awards")


def tables(out: Mapping[str, Any], scheme: Scheme) -> dict[str, Rows]:
    """Name → rows, the first of them the headers. `out`: an export (`export.py`), or what of one is about a child."""
    return {"children": _children(out, scheme), "marks": _marks(out, scheme), "awards": _awards(out, scheme)}


def _headers(scheme: Scheme) -> dict[str, str]:
    """Skill → how its column is headed: by its name, or by its id where another skill has that name."""
    names = Counter(skill.name for skill in scheme.skills.values())
    return {key: skill.name if names[skill.name] == 1 else key for key, skill in scheme.skills.items()}


def _children(out: Mapping[str, Any], scheme: Scheme) -> Rows:
    headed = _headers(scheme)
    return [
        ("id", "name", "class", "award", *headed.values()),
        *((one["id"], one["name"], one["class"], one["award"],
           *(one["skills"][skill].get("ticked_on", "") for skill in headed)) for one in out["children"]),
    ]


def _marks(out: Mapping[str, Any], scheme: Scheme) -> Rows:
    names = {one["id"]: one["name"] for one in out["children"]}
    rows: Rows = [("child", "name", "skill", "skill name", "try", "show", "pieces", "verdict", "missed", "way", "by",
                   "judged at", "second look")]
    for one in out["marks"]:
        rows.append((
            one["child"], names.get(one["child"], ""), one["skill"], scheme.skills[one["skill"]].name, one["try"],
            one["show"], " ".join(one["pieces"]), one["verdict"], " ".join(one["missed"]), one.get("way", ""),
            one["by"], one["judged_at"], "yes" if one["second_look"] else "no",
        ))
    return rows


def _awards(out: Mapping[str, Any], scheme: Scheme) -> Rows:
    rows: Rows = [("child", "name", "award", "award name", "standing", "earned on")]
    for child in out["children"]:
        for award in scheme.awards:
            way = child["awards"][award.id]
            rows.append((child["id"], child["name"], award.id, award.name, way["standing"], way.get("earned_on", "")))
    return rows
