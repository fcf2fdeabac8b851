"""What to know before a class: half an hour before it, and the evening before for those who ask."""
from __future__ import annotations

from collections import Counter
from datetime import date

from bot.lesson.likely import Record
from bot.scheme.model import Skill
from bot.talk import news, rulings, words
from bot.talk.draft import Draft
from bot.talk.requests import Say as SayWord
from bot.talk.taps import Do, Open
from bot.talk.watching import due

TELLING = 4         # shows of the class, faded, before which nothing can be told; common practice, no source
SURE = 0.5          # she passes one show in two at least, or is not named: beyond that it cannot be told
CALLED_FIRST = 3


def before(draft: Draft, class_id: str, day: date) -> None:
    """Half an hour before the class: retests due, who is near an award, what to set out, news that waits."""
    klass, book = draft.class_(class_id), draft.books[class_id]
    draft.foresee(class_id, day)
    said = [f"{words.weekday(day)} {klass.start:%H:%M} · {klass.name} · "
            f"{words.count(len(book.children), 'child', 'children')}."]
    said += _retests(draft, class_id, day)
    near = [child for child in book.children if _last_ones(draft, child)]
    if near:
        said.append(f"{words.names(map(draft.called, near))} {'has' if len(near) == 1 else 'have'} one skill to go.")
        said += _ready(draft, class_id, near)
    said += _set_out(draft, class_id)
    said += rulings.fresh(draft, class_id, day)
    unsaid, choices = news.unsaid(draft, class_id) if draft.me.role == "coach" else ("", [])
    draft.say("\n".join(filter(None, [*said, unsaid])), ("Start", Open(class_id, day)),
              ("See the plan", Do((SayWord("plan"),), draft.now)), *choices)


def eve(draft: Draft, class_id: str, day: date) -> None:
    """The evening before: what is to be shown again, what to set out."""
    klass = draft.class_(class_id)
    said = [f"Tomorrow {klass.start:%H:%M} · {klass.name}.", *_retests(draft, class_id, day),
            *_set_out(draft, class_id)]
    draft.say("\n".join(said), question=draft.talk.question)


def _set_out(draft: Draft, class_id: str) -> list[str]:
    """What has to be set out for what most of the class owe, and what of it to be careful with."""
    owed = _owed_most(draft, class_id)
    surfaces = dict.fromkeys(skill.surface for skill in owed if skill.surface)
    said = [f"Set out: {words.names(list(surfaces)[:3])}."] if surfaces else []
    careful = words.careful(draft.scheme, owed)
    return [*said, f"Take care with: {words.names(careful[:3])}."] if careful else said


def _retests(draft: Draft, class_id: str, day: date) -> list[str]:
    """Who shows what again that day."""
    book = draft.books[class_id]
    retests = [
        f"{draft.called(child)} {draft.skill(skill).name.lower()}{_why(draft, child, skill)}"
        for child, of_child in book.in_order() for skill in of_child
        if draft.view(child, skill).label == "retest" and (on := due(draft, child, skill)) is not None and on <= day
    ]
    if not retests:
        return []
    more = f" and {len(retests) - 6} more" if len(retests) > 6 else ""
    return [f"{words.count(len(retests), 'retest')}: {', '.join(retests[:6])}{more}."]


def _why(draft: Draft, child: str, skill: str) -> str:
    missed = draft.standing(child, skill).missed
    return f" ({words.points(draft.skill(skill), missed)})" if missed else ""


def _last_ones(draft: Draft, child: str) -> list[Skill]:
    """The skills of which any one would complete her award."""
    award = draft.scheme.award_by_id(draft.child(child).award)
    if award is None or draft.has_earned(child, award):
        return []
    ticked = {skill for skill, one in draft.standings_of(child).items() if one.ticked}
    return [skill for skill in award.skills
            if skill.id not in ticked and not skill.retired and award.enough(ticked | {skill.id})]


def _ready(draft: Draft, class_id: str, children: list[str]) -> list[str]:
    """Who most likely passes that skill by now, as far as it can be told: whom to call first, and no figure.

    Said before the class alone: of whom a coach looks at, nothing is expected.
    """
    book, found = draft.books[class_id], []
    for child in children:
        records = [(Record(book, skill.id, draft.now), skill) for skill in _last_ones(draft, child)]
        chances = [(record.of(child), skill) for record, skill in records if record.shows >= TELLING]
        likely, skill = max(chances, key=lambda one: one[0].mean ** len(one[1].shows), default=(None, None))
        if likely is not None and skill is not None and likely.interval().low >= SURE:
            found.append((likely.mean, f"{draft.called(child)} ({words.inside(skill.name)})"))
    first = [said for _, said in sorted(found, key=lambda one: -one[0])[:CALLED_FIRST]]
    return [f"Most likely ready: {words.names(first)}."] if first else []


def _owed_most(draft: Draft, class_id: str) -> list[Skill]:
    """The skills that the class owe, those that most of them owe first."""
    owed: Counter[str] = Counter()
    for child, entry in draft.books[class_id].children.items():
        award = draft.scheme.award_by_id(entry.award)
        for skill in award.skills if award is not None else ():
            if not skill.retired and not draft.standing(child, skill.id).ticked:
                owed[skill.id] += 1
    return [draft.skill(skill) for skill, _ in owed.most_common()]
