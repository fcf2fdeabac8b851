"""A plan as a picture (SVG): a strip for each watcher and each child. Told by shapes and words, not by colour alone.

A first show has a plain frame, a second a double one; a watcher's way to another skill is hatched, a rest is a dashed
line, and the time in which a child is not there is crossed out.
"""
from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape

from bot.lesson.plan.model import Child, Plan, Problem, Skill, Turn

ROW, LEFT, TOP, SCALE = 26, 110, 34, 1.0      # pixels; SCALE: pixels a second
HEAD = """<defs>
<pattern id="way" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
<rect width="6" height="6" fill="#fff"/><line x1="0" y1="0" x2="0" y2="6" stroke="#555" stroke-width="2"/></pattern>
<pattern id="gone" width="8" height="8" patternUnits="userSpaceOnUse">
<path d="M0 0L8 8M8 0L0 8" stroke="#aaa" stroke-width="1"/></pattern>
</defs>
<style>text{font:11px sans-serif;fill:#111}.f{fill:#fff;stroke:#111}.s{fill:#eee;stroke:#111}</style>"""


def picture(problem: Problem, plan: Plan) -> str:
    """The plan drawn, from now to the end of the lesson."""
    width = LEFT + int((problem.end - problem.now) * SCALE) + 20
    rows = len(problem.watchers) + len(problem.children)
    height = TOP + rows * ROW + 40
    drawn = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img" aria-label="Whom to watch when">', HEAD, *_minutes(problem, rows),
    ]
    for row, watcher in enumerate(problem.watchers):
        drawn += _watcher(problem, [turn for turn in plan.turns if turn.watcher == watcher.id], watcher.id, row)
    for row, child in enumerate(problem.children, len(problem.watchers)):
        drawn += _child(problem, [turn for turn in plan.turns if child.id in turn.children], child, row)
    drawn.append(_text(LEFT, height - 12, (
        "plain frame: first show · double frame: second show · hatched: on the way to another skill · "
        "dashed: rest · crossed: not there"
    )))
    return "\n".join([*drawn, "</svg>", ""])


def _at(problem: Problem, second: int) -> float:
    return LEFT + (second - problem.now) * SCALE


def _text(x: float, y: float, words: str, anchor: str = "start") -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}">{escape(words)}</text>'


def _minutes(problem: Problem, rows: int) -> Iterator[str]:
    for minute in range(-(-problem.now // 60), problem.minutes + 1):
        x = _at(problem, minute * 60)
        yield f'<line x1="{x:.0f}" y1="{TOP - 8}" x2="{x:.0f}" y2="{TOP + rows * ROW}" stroke="#ccc"/>'
        yield _text(x, TOP - 14, str(minute), "middle")


def _box(problem: Problem, turn: Turn, skill: Skill, row: int, words: str) -> Iterator[str]:
    """A turn, with its words inside, and in full where somebody points at it or has it read."""
    x, y, width = _at(problem, turn.start), TOP + row * ROW + 3, skill.shows[turn.show - 1].seconds * SCALE
    second = turn.show == 2
    told = f"{skill.id}, show {turn.show}: {', '.join(turn.children)}"
    yield f"<g><title>{escape(told)}</title>"
    yield f'<rect class="{"s" if second else "f"}" x="{x:.1f}" y="{y}" width="{width:.1f}" height="{ROW - 6}"/>'
    if second:
        yield (
            f'<rect class="s" x="{x + 2:.1f}" y="{y + 2}" width="{max(0.0, width - 4):.1f}" height="{ROW - 10}"/>'
        )
    if len(words) * 6 <= width:
        yield _text(x + width / 2, y + 14, words, "middle")
    yield "</g>"


def _watcher(problem: Problem, turns: list[Turn], name: str, row: int) -> Iterator[str]:
    skills = {skill.id: skill for skill in problem.skills}
    who = next(watcher for watcher in problem.watchers if watcher.id == name)
    at, opened, y = who.at, set(who.opened), TOP + row * ROW
    yield _text(LEFT - 6, y + 17, name, "end")
    for turn in turns:
        skill = skills[turn.skill]
        way = 0 if at == skill.id else skill.switch if skill.id in opened else skill.setup
        if way:
            x = _at(problem, turn.start - way)
            yield f'<rect x="{x:.1f}" y="{y + 8}" width="{way * SCALE:.1f}" height="{ROW - 16}" fill="url(#way)"/>'
        yield from _box(problem, turn, skill, row, f"{skill.id} ×{len(turn.children)}")
        at = skill.id
        opened.add(skill.id)


def _child(problem: Problem, turns: list[Turn], child: Child, row: int) -> Iterator[str]:
    skills = {skill.id: skill for skill in problem.skills}
    y = TOP + row * ROW
    yield _text(LEFT - 6, y + 17, child.id, "end")
    for since, until in ((problem.now, child.since), (child.until, problem.end)):
        if since < until:
            x, width = _at(problem, since), (until - since) * SCALE
            yield f'<rect x="{x:.1f}" y="{y + 3}" width="{width:.1f}" height="{ROW - 6}" fill="url(#gone)"/>'
    for turn in turns:
        rest = skills[turn.skill].shows[turn.show - 1].rest_before
        if rest:
            begin, end = max(LEFT, _at(problem, turn.start - rest)), _at(problem, turn.start)
            yield (
                f'<line x1="{begin:.1f}" y1="{y + ROW // 2}" x2="{end:.1f}" y2="{y + ROW // 2}" stroke="#111" '
                'stroke-dasharray="4 3"/>'
            )
        yield from _box(problem, turn, skills[turn.skill], row, turn.skill)
