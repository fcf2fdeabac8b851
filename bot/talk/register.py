"""Who is here, in the talk: the register, what is noted of a child for today, new children, groups."""
from __future__ import annotations

from datetime import UTC, datetime

from bot.facts import ChildAdded, ChildNoted, GroupNamed, RegisterTaken
from bot.lesson.book import Child
from bot.lesson.lesson import Lesson
from bot.talk import agreeing, requests, words
from bot.talk.draft import Draft
from bot.talk.lessons import apply, here, quiet, suggest_or_go_on
from bot.talk.reading.fold import fold as fold_text
from bot.talk.state import Question
from bot.talk.taps import Do, Leave, Open, Register, Tap, Undo
from bot.talk.watching import aside, of_place, suggest

Choices = list[tuple[str, Tap]]


def register(draft: Draft, tap: Register) -> None:
    """Everyone, some missing, or later."""
    lesson = draft.lesson(tap.lesson)
    if lesson is None or not lesson.is_open:
        draft.say("That lesson is closed.", *of_place(draft))
        return
    if tap.answer == "everyone":
        everyone(draft, lesson)
    elif tap.answer == "some":
        book = draft.books[lesson.class_id]
        choices: Choices = [
            (words.label(book.called[child]), Do((requests.Note("away", (child,)),), draft.sent_at))
            for child in book.children
        ]
        draft.say("Who is missing? Type the names, or tap one after the other.", *choices,
                  question=Question("missing", draft.next_seq()))
    else:
        suggest(draft, "Later, then. Whoever you mark is here.")


def everyone(draft: Draft, lesson: Lesson, but: tuple[str, ...] = ()) -> None:
    """All of the class are here, but those."""
    apply(draft, RegisterTaken(lesson.id, but, draft.sent_at), lesson.id)
    _registered(draft, lesson.id)


def who_is_here(draft: Draft) -> None:
    """`who is here`: how many are, who is away, and who sits out."""
    lesson = draft.open_lesson()
    if lesson is None:
        aside(draft, "No lesson is open. Type start.")
        return
    called = draft.books[lesson.class_id].called
    taken = "" if lesson.registered else " Nobody has said yet who is away."
    rows = [f"{here(draft, lesson)} here.{taken}"]
    gone = [child for child in called if not lesson.here(child, draft.now)]
    for head, children in (("Away", gone), ("Sits out", [one for one in called if one in lesson.sits - set(gone)])):
        if children:
            rows.append(f"{head}: {words.names(called[child] for child in children)}.")
    aside(draft, " ".join(rows))


def _registered(draft: Draft, lesson: str) -> None:
    known = draft.lesson(lesson)
    assert known is not None
    suggest_or_go_on(draft, f"{here(draft, known)} here.")


def note(draft: Draft, request: requests.Note) -> None:
    """`mia away`, `mia sits`, `mia leaves 17:30`, `ava no landings`, `bump ben`."""
    if request.what == "bump":
        _bump(draft, request)
        return
    if request.days:
        agreeing.spare(draft, request)
        return
    lessons = {child: _lesson_of(draft, child) for child in request.children}
    without = [child for child, lesson in lessons.items() if lesson is None]
    if without:
        class_id = draft.book_of(without[0]).class_id
        draft.say(f"No lesson of {draft.class_(class_id).name} is open. Start it first?", ("Start", Open(class_id)),
                  ("Not now", Leave((), "not now")), question=Question("start", draft.next_seq()))
        return
    if _answers_register(draft, request, lessons):
        return
    for child, lesson in lessons.items():
        assert lesson is not None
        until = None
        if request.until is not None:
            until = datetime.combine(lesson.day, request.until, draft.club.tz).astimezone(UTC)
        apply(draft, ChildNoted(lesson.id, child, request.what, draft.sent_at, until, request.load), lesson.id)
    suggest_or_go_on(draft, _noted_words(draft, request), ("Undo", Undo(draft.message)))


def _lesson_of(draft: Draft, child: str) -> Lesson | None:
    return draft.book_of(child).open_lesson


def _answers_register(draft: Draft, request: requests.Note, lessons: dict[str, Lesson | None]) -> bool:
    """While nobody said who is here, naming who is away says that the others are here."""
    first = next(iter(lessons.values()))
    assert first is not None
    one_lesson = len({lesson.id for lesson in lessons.values() if lesson is not None}) == 1
    if request.what != "away" or first.registered or not one_lesson:
        return False
    asked = draft.talk.question is not None and draft.talk.question.about == "missing"
    apply(draft, RegisterTaken(first.id, request.children, draft.sent_at), first.id)
    _registered(draft, first.id)
    if asked:       # there may be more names to come
        draft.change_talk(question=Question("missing", draft.talk.said))
    return True


def _noted_words(draft: Draft, request: requests.Note) -> str:
    who = words.names(draft.called(child) for child in request.children)
    verb = "is" if len(request.children) == 1 else "are"
    return {
        "away": f"{who} {verb} away.",
        "here": f"{who} {verb} here.",
        "sits": f"{who} {'sits' if verb == 'is' else 'sit'} out today; nobody is asked why.",
        "back": f"{who} {verb} back.",
        "leaves": f"{who} {'leaves' if verb == 'is' else 'leave'} at {request.until:%H:%M}." if request.until else "",
        "spared": f"{who}: nothing that loads the {request.load} today." if request.load != "landing"
                  else f"{who}: no landings today.",
    }[request.what]


def names(draft: Draft, request: requests.Names) -> None:
    """Only names: the answer to who is missing."""
    note(draft, requests.Note("away", request.children))


def add(draft: Draft, request: requests.Add) -> None:
    """`add Zoe Quill`: a new child of the class whose lesson is open."""
    lesson = draft.open_lesson()
    own = draft.own
    class_id = lesson.class_id if lesson is not None else own[0].id if len(own) == 1 else None
    if class_id is None:
        draft.say("Which class? Start its lesson first, then add the child.", *of_place(draft))
        return
    book = draft.books[class_id]
    name = " ".join(request.name.split())
    if any(fold_text(child.name) == fold_text(name) for child in book.children.values()):
        draft.say(f"{name} is in {draft.class_(class_id).name} already.", *of_place(draft))
        return
    award = usual_award(draft, class_id)
    child = Child(new_id(draft, name), name, class_id, award)
    draft.record(ChildAdded(child.id, name, class_id, award))
    draft.put_child(child.id, child)
    draft.lesson_of_message = lesson.id if lesson is not None else None
    suggest_or_go_on(draft, f"{name} is in {draft.class_(class_id).name} now, working on {draft.award_name(award)}.",
                      ("Undo", Undo(draft.message)))


def usual_award(draft: Draft, class_id: str) -> str:
    """The award most children of the class work on."""
    awards = [child.award for child in draft.books[class_id].children.values()]
    return max(awards, key=awards.count) if awards else draft.scheme.awards[0].id


def new_id(draft: Draft, name: str) -> str:
    """An id that no child of the club can have: the message that brought her is in it."""
    from hashlib import blake2s

    return f"c{blake2s(f'{draft.message}/{name}'.encode(), digest_size=6).hexdigest()}"


def group(draft: Draft, request: requests.NameGroup) -> None:
    """`red is ava ben chidi dara`."""
    class_id = draft.book_of(request.children[0]).class_id
    children = tuple(child for child in request.children if draft.book_of(child).class_id == class_id)
    draft.record(GroupNamed(class_id, request.name, children))
    draft.put_group(class_id, request.name, children)
    lesson = draft.books[class_id].open_lesson
    draft.lesson_of_message = lesson.id if lesson is not None else None
    who = words.names(draft.called(child) for child in children)
    suggest_or_go_on(draft, f"{request.name.capitalize()}: {who}. They stay together.", ("Undo", Undo(draft.message)))


def _bump(draft: Draft, request: requests.Note) -> None:
    """Somebody is hurt: silence, and no detail is kept."""
    who = words.names(draft.called(child) for child in request.children)
    for child in request.children:
        lesson = _lesson_of(draft, child)
        if lesson is not None:
            apply(draft, ChildNoted(lesson.id, child, "bump", draft.sent_at), lesson.id)
    back = f"{draft.called(request.children[0]).lower()} back"
    verb = "sits" if len(request.children) == 1 else "sit"
    quiet(draft, None, True, f"Look after {who}; follow the club's accident rules. Paused until you carry on. "
                             f"{who} {verb} out until you type: {back}.")
