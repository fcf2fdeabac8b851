"""A step while it is being worked out: what was recorded so far, and the books as they are with it.

What lives here: changing within one step, and nothing about words; reading is in `looking.py`. A draft belongs to one
call of `step` or `wake` and ends in a frozen `Stepped`.
"""
from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from bot.attached import Attachment
from bot.facts import Fact, Mark, ReasonGiven, Recorded, RetestMoved, TickBrought
from bot.frozen import replace
from bot.lesson import lesson as lessons
from bot.lesson.book import Agreed, AwardWay, Changes, Child, Contact, Reminder
from bot.lesson.lesson import Lesson
from bot.lesson.pace import Pace
from bot.lesson.timetable import lesson_id, starts_at
from bot.marks import history
from bot.marks.awards import earned
from bot.marks.standing import Outcome, Standing, advance, fold
from bot.scheme.model import Award
from bot.step import Choice, Desk, InHand, Joined, Say, Seen, Shown, Stepped, Want
from bot.talk.looking import Looking
from bot.talk.state import Offer, Question
from bot.talk.taps import Tap

KEPT_OFFERS = 12    # messages whose choices can still be typed; tapped they can be for ever
LAST_NUMBER = 99    # then numbers begin again: the first ones can no longer be typed by then
LATEST = 2**62      # the receipt number of what this step itself records: after all that is kept


class Draft(Looking):
    """One step under way."""

    def __init__(self, desk: Desk, message: str, now: datetime, sent_at: datetime) -> None:
        super().__init__(desk, now, sent_at)
        self.message = message
        self.facts: list[Fact] = []
        self.says: list[Say] = []
        self.joined: Joined | None = None
        self.lesson_of_message: str | None = None
        self._weighed: tuple[Mark, Standing, Standing, Outcome] | None = None       # the standing before it and after
        self._standings: dict[tuple[str, str], Standing] = {}
        self._lessons: dict[str, Lesson] = {}
        self._children: dict[str, Child | None] = {}
        self._groups: dict[tuple[str, str], tuple[str, ...] | None] = {}
        self._awards: dict[tuple[str, str], AwardWay | None] = {}
        self._pending: dict[str, dict[str, Reminder]] = {}
        self._fired: dict[str, frozenset[str]] = {}
        self._contacts: dict[tuple[str, str], Contact | None] = {}
        self._agreed: dict[str, Agreed] = {}
        self._foreseen: InHand | None = None
        self._pace: dict[tuple[str, str], Pace | None] = {}
        self._shown: dict[Shown, None] = {}

    # --- lessons and standings ---------------------------------------------------------------------

    def put_lesson(self, lesson: Lesson) -> None:
        """Set a lesson's state."""
        self._lessons[lesson.id] = lesson
        self._change(Changes(lessons={lesson.id: lesson}), lesson.class_id)

    def put_standing(self, child: str, skill: str, standing: Standing) -> None:
        """Set a standing."""
        if standing != self.standing(child, skill):
            self._standings[child, skill] = standing
            self._not_in_books[child] = {**self.standings_of(child), skill: standing}

    def lost_a_tick(self) -> tuple[str, ...]:
        """The children of whom this step took a tick away."""
        return tuple(dict.fromkeys(
            child for (child, skill), now in self._standings.items()
            if not now.ticked and (class_id := self._class_of.get(child)) is not None
            and self.desk.books[class_id].standing(child, skill).ticked
        ))

    def refold(self, pairs: Iterable[tuple[str, str]], also: tuple[Mark, ...] = ()) -> dict[str, Outcome]:
        """Fold the standings of these (child, skill) anew, from the whole record with what this step adds.

        `also`: marks that are weighed but not recorded; their outcomes are among those returned, and
        nothing is kept when any are given.
        """
        wanted = [pair for pair in dict.fromkeys(pairs) if self.knows(pair[0]) and pair[1] in self.scheme.skills]
        records = self.desk.facts(*(Want(child=child, skill=skill) for child, skill in wanted))
        outcomes: dict[str, Outcome] = {}
        for (child, skill), record in zip(wanted, records, strict=True):
            standing, of_pair = self._fold(child, skill, record, also)
            outcomes.update(of_pair)
            if not also:
                self.put_standing(child, skill, standing)
        return outcomes

    def _fold(
        self, child: str, skill: str, record: tuple[Recorded, ...], also: tuple[Mark, ...]
    ) -> tuple[Standing, dict[str, Outcome]]:
        mine: list[Fact] = [
            *(fact for fact in self.facts if _about(fact, child, skill)),
            *(mark for mark in also if (mark.child, mark.skill) == (child, skill)),
        ]
        whole = (*record, *(Recorded(LATEST + n, self.message, fact) for n, fact in enumerate(mine)))
        marked_in = {one.fact.lesson for one in whole if isinstance(one.fact, Mark)}
        closes = [
            close for lesson in marked_in if (known := self.lesson(lesson)) is not None for close in known.closes
        ]
        return fold(history.events(whole, closes), lambda version: self.rules(version, skill))

    def weigh(self, mark: Mark) -> Outcome:
        """What would become of a mark, were it recorded. Nothing is changed."""
        before = self.standing(mark.child, mark.skill)
        if not self._in_order(mark, before):
            return self.refold([(mark.child, mark.skill)], (mark,))[mark.id]
        after, outcome = self._advance(mark, before)
        self._weighed = mark, before, after, outcome
        return outcome

    def record_mark(self, mark: Mark) -> None:
        """Record a mark and what it amounts to."""
        before, weighed = self.standing(mark.child, mark.skill), self._weighed
        self.record(mark)
        if weighed is not None and weighed[0] is mark and weighed[1] is before:     # mostly it was weighed just now
            self.put_standing(mark.child, mark.skill, weighed[2])
        elif self._in_order(mark, before):
            self.put_standing(mark.child, mark.skill, self._advance(mark, before)[0])
        else:
            self.refold([(mark.child, mark.skill)])
        lesson = self.lesson(mark.lesson)
        after = lessons.advance(lesson, mark)
        if after is not None and after is not lesson and after != lesson:
            self.put_lesson(after)

    def _advance(self, mark: Mark, before: Standing) -> tuple[Standing, Outcome]:
        after, outcome = advance(before, mark, lambda version: self.rules(version, mark.skill))
        assert outcome is not None
        return after, outcome

    def _in_order(self, mark: Mark, before: Standing) -> bool:
        """Does this mark come after all that was folded, so that one step further will do?"""
        lesson = self.lesson(mark.lesson)
        if lesson is not None and any(close.at >= mark.judged_at for close in lesson.closes):
            return False
        upto = before.upto
        return upto is None or mark.judged_at > upto or (mark.judged_at == upto and mark.sent_at >= self.sent_at)

    # --- awards, children, groups ------------------------------------------------------------------

    def has_earned(self, child: str, award: Award) -> bool:
        """Has a child earned that award, by the scheme as it is or as it was at any of her ticks?"""
        standings = self.standings_of(child)
        if award.enough({skill for skill, one in standings.items() if one.ticked}):
            return True
        return len(self.desk.schemes) > 1 and award.id in earned(
            standings, self.scheme, self.scheme_of
        )

    def put_award(self, child: str, award: str, way: AwardWay | None) -> None:
        """Set how far an award has come."""
        self._awards[child, award] = way
        self._change(Changes(awards={(child, award): way}), self._class_of[child])

    def put_contact(self, child: str, parent: str, contact: Contact | None) -> None:
        """Set that a parent is told of a child, or is not any more."""
        self._contacts[child, parent] = contact
        self._change(Changes(contacts={(child, parent): contact}), self._class_of[child])

    def put_agreed(self, child: str, agreed: Agreed) -> None:
        """Set what was agreed for a child."""
        self._agreed[child] = agreed
        self._change(Changes(agreed={child: agreed}), self._class_of[child])

    def put_pace(self, class_id: str, skill: str, pace: Pace | None) -> None:
        """Set the timed lines of a skill in a class."""
        self._pace[class_id, skill] = pace
        self._change(Changes(pace={(class_id, skill): pace}), class_id)

    def put_child(self, child_id: str, child: Child | None) -> None:
        """Add a child to her class, or take an added one back."""
        class_id = child.class_id if child is not None else self._class_of[child_id]
        self._children[child_id] = child
        self._change(Changes(children={child_id: child}), class_id)
        if child is None:
            self._class_of.pop(child_id, None)
        else:
            self._class_of[child_id] = class_id

    def put_group(self, class_id: str, name: str, children: tuple[str, ...] | None) -> None:
        """Set a group of a class."""
        self._groups[class_id, name] = children
        self._change(Changes(groups={(class_id, name): children}), class_id)

    def put_reminders(self, class_id: str, pending: dict[str, Reminder], fired: frozenset[str]) -> None:
        """Set what is due for a class."""
        book = self.books[class_id]
        others_due, others_fired = pending != book.pending, fired != book.fired
        if others_due:
            self._pending[class_id] = pending
        if others_fired:
            self._fired[class_id] = fired
        if others_due or others_fired:
            self._books[class_id] = book.with_reminders(pending, fired)

    def _change(self, changes: Changes, class_id: str) -> None:
        self._books[class_id] = self.books[class_id].with_changes(changes)

    # --- out ---------------------------------------------------------------------------------------

    def record(self, *facts: Fact) -> None:
        """Add facts to the record."""
        self.facts.extend(facts)

    def shows(self, what: Seen, children: Iterable[str] = (), classes: Iterable[str] = ()) -> None:
        """What is said here shows more of these than the lines that are judged."""
        children, classes = tuple(children), tuple(classes)
        self._shown |= {Shown(what, child=child): None for child in children}
        self._shown |= {Shown(what, class_id=class_id): None for class_id in classes}
        self._as_cover(*classes, *(self._class_of[child] for child in children))

    def _as_cover(self, *classes: str) -> None:
        """Of classes that are theirs for some days alone it is kept that they were in them."""
        strange = (one for one in classes if one in self.club.by_class and self.me.id not in self.class_(one).people)
        self._shown |= {Shown("cover", class_id=one): None for one in strange if self.me.role != "parent"}

    def next_seq(self) -> int:
        """The number of the next message to this person."""
        return self.talk.said + 1

    def say(
        self, text: str, *choices: tuple[str, Tap], question: Question | None = None,
        attached: tuple[Attachment, ...] = (),
    ) -> None:
        """Say something, with choices (label, request). A question replaces the one that was pending."""
        used = self._numbers_from(len(choices))
        numbered = tuple(Choice(label, tap, used + n) for n, (label, tap) in enumerate(choices, start=1))
        seq = self.next_seq()
        offers = self.talk.offers
        if numbered:
            offer = Offer(seq, numbered[0].number, tuple(choice.label for choice in numbered))
            offers = (offer, *offers)[:KEPT_OFFERS]
        self.talk = replace(
            self.talk, said=seq, numbers=used + len(numbered), offers=offers, question=question,
        )
        self.says.append(Say(text.strip(), numbered, attached))

    def _numbers_from(self, count: int) -> int:
        """The number before the first of so many choices: they run on, and keep clear of the children who stand."""
        children = {child for line in self.talk.lines for child in line.children}
        stood = self.talk.stood
        used = self.talk.numbers if self.talk.numbers + count <= LAST_NUMBER else 0
        while (met := max((
            n for n in range(used + 1, min(used + count, len(stood)) + 1) if stood[n - 1] in children
        ), default=0)):
            used = met
        return used

    def say_once(self) -> None:
        """Put what was said so far into one message: how each part begins, then the last one whole."""
        *earlier, last = self.says
        question = self.talk.question
        heads = [say.text.splitlines()[0] for say in earlier if say.text]
        self.says.clear()
        before = self.desk.talk.said
        kept = tuple(offer for offer in self.talk.offers if offer.seq <= before)
        self.talk = replace(self.talk, said=before, numbers=self.desk.talk.numbers, offers=kept)
        asked = None if question is None else replace(question, seq=before + 1)
        choices = tuple((choice.label, choice.tap) for choice in last.choices)
        attached = tuple(one for say in (*earlier, last) for one in say.attached)
        self.say("\n".join([*heads, last.text]), *choices, question=asked, attached=attached)

    def change_talk(self, **changes: object) -> None:
        """Change fields of the talk but its place."""
        assert "place" not in changes, "only the table moves a talk"
        self.talk = replace(self.talk, **changes)

    def done(self) -> Stepped:
        """What this step came to."""
        if self.facts and self.talk.just_skipped:
            self.change_talk(just_skipped=False)
        if self.facts and self.lesson_of_message is not None and self.talk.marked_in != self.lesson_of_message:
            self.change_talk(marked_in=self.lesson_of_message)
        entered = self.lesson(self.talk.lesson) if self.talk.lesson != self.desk.talk.lesson else None
        if entered is not None:
            self._as_cover(entered.class_id)
        return Stepped(
            talk=self.talk,
            says=tuple(self.says),
            facts=tuple(self.facts),
            lesson=self.lesson_of_message,
            changes=Changes(
                children=self._children, standings=self._standings, lessons=self._lessons,
                groups=self._groups, awards=self._awards,
                pending=self._pending or None, fired=self._fired or None,
                contacts=self._contacts, agreed=self._agreed, pace=self._pace,
            ),
            joined=self.joined,
            shown=tuple(self._shown),
            in_hand=self._in_hand(),
        )

    def foresee(self, class_id: str, day: date) -> None:
        """A lesson to come is worth planning: somebody is about to look at it. All are taken to be there."""
        one, book = self.class_(class_id), self.books[class_id]
        runner = next(iter(self.club.coaches(one, day)), self.me.id)
        lesson = Lesson(lesson_id(class_id, day), class_id, day, runner, starts_at(self.club, one, day))
        if lesson.id in book.lessons:       # somebody was quicker, and has begun it
            return
        book = book.with_changes(Changes(lessons={lesson.id: lesson}))
        self._foreseen = InHand(lesson.id, book, (runner,), (), self.talk.most)

    def _in_hand(self) -> InHand | None:
        """The lesson that this person leads or marks in, if it is open; else the one foreseen."""
        lesson = self.lesson(self.talk.lesson)
        if lesson is None or not lesson.is_open or self.me.role not in ("coach", "assistant"):
            return self._foreseen
        watchers = (lesson.runner, *lesson.lines)
        known = tuple(dict.fromkeys(one for one in watchers if one in self.desk.people))
        return InHand(lesson.id, self.books[lesson.class_id], known, self.talk.skipped, self.talk.most)


def _about(fact: Fact, child: str, skill: str) -> bool:
    """Does the fold of that child and skill look at this fact? Voids always."""
    if isinstance(fact, Mark | ReasonGiven | RetestMoved | TickBrought):
        return (fact.child, fact.skill) == (child, skill)
    return fact.kind == "voided"


__all__ = ["Draft"]
