"""What will not fit into the minutes that are left, in words."""
from __future__ import annotations

from datetime import datetime

from bot.lesson.follow import left_over, too_late_for
from bot.lesson.hall import Hall
from bot.scheme.model import Skill


def too_late(seen: Hall, skill: Skill, show: int, end: datetime) -> str:
    """`Split jump needs 6 min and 4 are left.`; nothing where it fits."""
    found = too_late_for(seen, skill, show, end)
    if found is None:
        return ""
    needed, left = found
    there = "less than 1 is" if left == 0 else "1 is" if left == 1 else f"{left} are"
    return f"{skill.name} needs {needed} min and {there} left."


def nothing_fits(seen: Hall) -> str:
    """What is better left for next week, where nothing more can be shown to its end."""
    assert seen.ahead is not None
    late = [
        said for one in left_over(seen, seen.ahead)
        if (said := too_late(seen, one.skill, 2 if one.second else 1, seen.ahead.end))
    ]
    if not late:
        return "Nothing that is left fits into the minutes there are."
    return f"{late[0]} Better next week."
