"""What became of marks, in sentences, with the questions that are left. Nothing is recorded here."""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from bot.facts import Mark
from bot.frozen import replace
from bot.lesson.line import Line
from bot.marks.standing import View
from bot.scheme.model import Skill
from bot.talk import words
from bot.talk.compared import asking_for, kept
from bot.talk.draft import Draft
from bot.talk.marking import Judged
from bot.talk.taps import Correct, Count, Leave, Reason, Reasons, Tap

Choices = list[tuple[str, Tap]]


def tell(draft: Draft, judged: Judged, line: Line | None = None) -> str:
    """All that became of one message's marks. A line's children are counted, others are named."""
    parts = [
        *_counted(draft, judged.counted, line),
        *_sitting(draft, judged.counted),
        *(_second_look(draft, mark) for mark in judged.second_looks if asking_for(draft, mark) is None),
        *kept(draft, judged.second_looks),
        *_no_first(draft, judged.no_first),
        *_ticked(draft, judged.ticked),
        *_already(draft, judged.already),
        *(_stays(draft, mark) for mark in judged.stays),
        *_again(draft, judged.again),
        *_held(draft, judged),
        *_awards(draft, judged.counted),
    ]
    return " ".join(parts)


# --- what counted ----------------------------------------------------------------------------------

def _counted(draft: Draft, marks: Sequence[Mark], line: Line | None) -> Iterable[str]:
    by_skill: dict[str, list[Mark]] = {}
    for mark in marks:
        by_skill.setdefault(mark.skill, []).append(mark)
    for skill_id, group in by_skill.items():
        skill = draft.skill(skill_id)
        head = "" if line is not None else f"{skill.name}: "
        yield head + _verdicts(draft, skill, group, line)
        yield from _tails(draft, skill, group)


def _verdicts(draft: Draft, skill: Skill, marks: Sequence[Mark], line: Line | None) -> str:
    seen = [mark for mark in marks if mark.verdict == "seen"]
    missed = [mark for mark in marks if mark.verdict == "not yet"]
    said = []
    if seen:
        whole = line is not None and (len(seen) > 1 or missed)
        who = words.number(len(seen)) if whole else _names(draft, seen)
        said.append(f"{who} seen{_which(draft, skill, seen)}")
    by_reason: dict[tuple[str, ...], list[Mark]] = {}
    for mark in missed:
        by_reason.setdefault(mark.missed, []).append(mark)
    for reason, group in by_reason.items():
        why = f" ({words.points(skill, reason)})" if reason else ""
        said.append(f"{_names(draft, group)} not yet{_which(draft, skill, group)}{why}")
    text = "; ".join(said) + "."
    return text[:1].upper() + text[1:]


def _which(draft: Draft, skill: Skill, marks: Sequence[Mark]) -> str:
    """Pieces that were named, or were all that was left; where it is the same for all."""
    named = {mark.pieces or _left(draft, skill, mark) for mark in marks}
    only = next(iter(named)) if len(named) == 1 else None
    return f" {words.pieces(skill, only)}" if only else ""


def _left(draft: Draft, skill: Skill, mark: Mark) -> tuple[str, ...] | None:
    """What a mark that named no piece was about, where that was only a part of the show."""
    last = draft.standing(mark.child, skill.id).last
    if last is None or last.mark != mark.id or len(last.pieces) == len(skill.pieces):
        return None
    return last.pieces


def _sitting(draft: Draft, marks: Sequence[Mark]) -> Iterable[str]:
    """Who was marked though she sits out: recorded, and said."""
    sitting = [
        mark for mark in marks
        if (lesson := draft.lesson(mark.lesson)) is not None and lesson.is_open and mark.child in lesson.sits
    ]
    if sitting:
        verb = "sits" if len({mark.child for mark in sitting}) == 1 else "sit"
        yield f"{_names(draft, sitting)} {verb} out today; recorded all the same."


def _tails(draft: Draft, skill: Skill, marks: Sequence[Mark]) -> Iterable[str]:
    """Where the children seen are now: once for all where it is the same."""
    seen = [mark for mark in marks if mark.verdict == "seen"]
    after: dict[str, list[Mark]] = {}
    for child, mark in {mark.child: mark for mark in seen}.items():
        if tail := _tail(draft, skill, child):
            after.setdefault(tail, []).append(mark)
    for tail, group in after.items():
        if len(after) == 1 and tail == "ticked" and len(seen) < len(marks):
            yield "The others are ticked." if len(group) > 1 else f"{_names(draft, group)} is ticked."
        elif len(after) == 1:
            yield tail[:1].upper() + tail[1:] + "."
        else:
            yield f"{_names(draft, group)}: {tail}."


def _tail(draft: Draft, skill: Skill, child: str) -> str:
    seen_as = draft.view(child, skill.id)
    if seen_as.label == "ticked":
        return "ticked, counted early" if draft.standing(child, skill.id).early else "ticked"
    if seen_as.label == "resting" and seen_as.rested_at is not None:
        return f"rest to {words.clock(seen_as.rested_at, draft.club.tz, up=True)}{_other_demand(skill)}"
    if seen_as.label == "ready" and seen_as.rested_at is not None and skill.shows[-1].rest is None:
        return f"rest to {words.clock(seen_as.rested_at, draft.club.tz, up=True)}, over by now{_other_demand(skill)}"
    if seen_as.label == "ready":
        return f"a breather, then the second show{_other_demand(skill)}"
    if seen_as.label == "retest" and draft.standing(child, skill.id).lapsed:
        return "not finished in that lesson so far"
    if seen_as.label == "owed":
        return f"still to come: {_owed(skill, seen_as)}"
    return ""


def _owed(skill: Skill, seen_as: View) -> str:
    pieces = words.pieces(skill, seen_as.owed_pieces)
    which = words.show(seen_as.show, skill) if seen_as.show == 2 else ""
    return ", ".join(part for part in (pieces, which) if part) or "the rest"


def _other_demand(skill: Skill) -> str:
    text = skill.shows[-1].text if len(skill.shows) == 2 else ""
    return f"; then {text[:1].lower()}{text[1:].rstrip('.')}" if text else ""


def _awards(draft: Draft, marks: Sequence[Mark]) -> Iterable[str]:
    """Awards that these marks completed."""
    for child in dict.fromkeys(mark.child for mark in marks if mark.verdict == "seen"):
        ticked_now = {
            mark.skill for mark in marks
            if mark.child == child and (last := draft.standing(child, mark.skill).last) and last.mark == mark.id
            and draft.standing(child, mark.skill).ticked
        }
        if not ticked_now:
            continue
        ticked = {key for key, one in draft.standings_of(child).items() if one.ticked}
        for skill in ticked_now:
            award = draft.scheme.award_of[skill]
            if award.enough(ticked) and not award.enough(ticked - ticked_now):
                yield f"{draft.called(child)} has earned {award.name}!"
                break


# --- what changed nothing -----------------------------------------------------------------------------

def _second_look(draft: Draft, mark: Mark) -> str:
    last = draft.standing(mark.child, mark.skill).last
    who = draft.called(mark.child)
    if last is None:
        return f"Second look kept for {who}; it changes nothing."
    other = draft.desk.people.get(last.by)
    name = other.first_name if other is not None else "the other coach"
    if last.verdict == mark.verdict:
        return f"Second look kept: you and {name} agree on {who}. It changes nothing."
    return f"Second look kept: {name} marked {who} {last.verdict}, you {mark.verdict}. It changes nothing."


def _no_first(draft: Draft, marks: Sequence[Mark]) -> Iterable[str]:
    by_skill: dict[str, list[Mark]] = {}
    for mark in marks:
        by_skill.setdefault(mark.skill, []).append(mark)
    for skill, group in by_skill.items():
        yield (f"{draft.skill(skill).name}: second show kept for {_names(draft, group)}; "
               "the first is not marked yet, so it does not count so far.")


def _ticked(draft: Draft, marks: Sequence[Mark]) -> Iterable[str]:
    for mark in marks:
        standing = draft.standing(mark.child, mark.skill)
        name = words.inside(draft.skill(mark.skill).name)
        since = f" since {_since(draft, standing.ticked_at, standing.ticked_on)}" if standing.ticked_at else " already"
        yield f"{draft.called(mark.child)}: {name} is ticked{since}."


def _since(draft: Draft, at: datetime | None, on: date | None) -> str:
    if at is not None and draft.local(at).date() == draft.local(draft.now).date():
        return words.clock(at, draft.club.tz)
    return words.date_in_full(on) if on is not None else "before"


def _already(draft: Draft, marks: Sequence[Mark]) -> Iterable[str]:
    for mark in marks:
        last = draft.standing(mark.child, mark.skill).last
        when = f" at {words.clock(last.at, draft.club.tz)}" if last is not None else ""
        skill = draft.skill(mark.skill)
        which = words.pieces(skill, mark.pieces or ()) or words.show(mark.show or 1, skill)
        yield f"{draft.called(mark.child)}: {which or words.inside(skill.name)} was seen already{when}."


def _stays(draft: Draft, mark: Mark) -> str:
    last = draft.standing(mark.child, mark.skill).last
    when = f" from {words.clock(last.at, draft.club.tz)}" if last is not None else ""
    return f"{draft.called(mark.child)} stays not yet{when}."


def _again(draft: Draft, marks: Sequence[Mark]) -> Iterable[str]:
    if marks:
        yield f"That is recorded already for {_names(draft, marks)}."


# --- what is asked -----------------------------------------------------------------------------------

def _held(draft: Draft, judged: Judged) -> Iterable[str]:
    yield from _rested(draft, judged.early)
    for mark in judged.which:
        yield _which_was_it(draft, mark)
    if judged.away:
        verb = "is" if len(judged.away) == 1 else "are"
        yield f"{_names(draft, judged.away)} {verb} marked away. Here after all?"


def _rested(draft: Draft, marks: Sequence[Mark]) -> Iterable[str]:
    by_rest: dict[tuple[int, int, str], list[Mark]] = {}
    for mark in marks:
        standing = draft.standing(mark.child, mark.skill)
        whole = draft.rules(standing.rules or mark.rules, mark.skill).rest_before(2)
        so_far = whole - (standing.rested_at - mark.judged_at) if standing.rested_at else timedelta()
        key = (max(0, round(so_far.total_seconds())), round(whole.total_seconds()), mark.verdict)
        by_rest.setdefault(key, []).append(mark)
    for (so_far_s, whole_s, verdict), group in by_rest.items():
        verb = "has" if len(group) == 1 else "have"
        what = "Count it?" if verdict == "seen" else "Count the not yet?"
        yield f"{_names(draft, group)} {verb} rested {so_far_s} of {whole_s} s. {what}"


def _which_was_it(draft: Draft, mark: Mark) -> str:
    last = draft.standing(mark.child, mark.skill).last
    other = draft.desk.people.get(last.by) if last is not None else None
    name = other.first_name if other is not None else "Somebody"
    ago = round((mark.judged_at - last.at).total_seconds()) if last is not None else 0
    return f"{name} marked {draft.called(mark.child)} {ago} s before. A second look, or the second show?"


def questions(draft: Draft, judged: Judged) -> Choices:
    """The answers to what is held, each complete in itself."""
    asked: Choices = []
    if judged.early:
        held = tuple(judged.early)
        asked += [("Count it", Count(held, "early")), ("Wait", Leave(_ids(held), "wait"))]
        first = draft.standing(held[0].child, held[0].skill).last
        if len(held) == 1 and held[0].verdict == "not yet" and first is not None and first.by == draft.me.id:
            asked.append(("The first was not", Correct(_as_mark(draft, held[0], first.mark), "not yet")))
    if judged.which:
        held = tuple(judged.which)
        asked += [("Second look", Count(held, "second look")), ("Second show", Count(held, "next show"))]
    if judged.away:
        held = tuple(judged.away)
        asked += [("Yes here", Count(held, "here")), ("Not here", Leave(_ids(held), "not here"))]
    if judged.stays:
        held = tuple(judged.stays)
        if not judged.counted:
            asked.append(("Leave it", Leave(_ids(held), "leave it")))
        if held[0].verdict == "seen":
            asked.append(("Seen now", Count(held, "overturn")))
    if not asked and len(judged.ticked) == 1:
        asked += _untick(draft, judged.ticked[0])
    return asked


def _untick(draft: Draft, mark: Mark) -> Choices:
    """A tick of a moment ago that was a slip can be put right."""
    last = draft.standing(mark.child, mark.skill).last
    if mark.verdict == "seen" or last is None or last.by != mark.by or last.lesson != mark.lesson:
        return []
    return [("It was not yet", Correct(_as_mark(draft, mark, last.mark), "not yet"))]


def _as_mark(draft: Draft, mark: Mark, earlier: str) -> Mark:
    """The earlier mark that a later word corrects: its id, its time."""
    last = draft.standing(mark.child, mark.skill).last
    assert last is not None
    return replace(mark, id=earlier, judged_at=last.at, pieces=mark.pieces, show=None)


def _ids(marks: Sequence[Mark]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(mark.child for mark in marks))


# --- why not yet -------------------------------------------------------------------------------------

def reasons(draft: Draft, judged: Judged) -> Choices:
    """The likeliest missed point and another, where somebody was not yet there and no reason was given."""
    missed = unexplained(judged)
    if not missed:
        return []
    skill = draft.skill(missed[0].skill)
    same = tuple(mark for mark in missed if mark.skill == skill.id)
    likely = likeliest(draft, skill)
    if not likely:
        return []
    point = skill.point(likely[0])
    assert point is not None
    first: Choices = [(words.label(point.label), Reason(same, (point.id,)))]
    return [*first, ("Other miss", Reasons(same, 1))] if len(likely) > 1 else first


def unexplained(judged: Judged) -> tuple[Mark, ...]:
    """The misses of a message for which no point was named; of second looks too, where they were asked for."""
    asked = (mark for mark in judged.second_looks if mark.look is not None)
    return tuple(mark for mark in (*judged.counted, *asked) if mark.verdict == "not yet" and not mark.missed)


def likeliest(draft: Draft, skill: Skill) -> list[str]:
    """The points that can be missed, the one missed most often in these classes first."""
    missed = Counter(
        point for book in draft.books.values() for of_child in book.standings.values()
        if (standing := of_child.get(skill.id)) is not None for point in standing.missed
    )
    return sorted((point.id for point in skill.musts), key=lambda one: -missed[one])


def _names(draft: Draft, marks: Sequence[Mark]) -> str:
    return words.names(dict.fromkeys(draft.called(mark.child) for mark in marks))
