"""Every complete reading of a message, found from left to right.

A state is what has been read up to a token: the requests so far and the bag of the segment being
gathered. At each token a phrase either joins the bag or, where the bag can be settled, begins the
next. States that are alike are one, and there are at most `MOST_STATES` of them at a token: a message
that could mean more things than that is not understood, rather than read in some of the ways.
"""
from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from bot.talk.reading.bag import EMPTY, Bag, echo, put
from bot.talk.reading.context import Context
from bot.talk.reading.items import Item
from bot.talk.reading.lexer import Found, Lexer, Near, Slip
from bot.talk.reading.openings import (
    HAS,
    MOST_SKILLS,
    code_joined,
    cupboard_counted,
    groups_named,
    held_before,
    name_spelled,
    names_added,
    names_listed,
    ruling_made,
    way_agreed,
)
from bot.talk.reading.scope import Scope, Settled
from bot.talk.reading.settle import settle
from bot.talk.reading.standard import Problem
from bot.talk.reading.state import Histories, Reading, State
from bot.talk.reading.tokens import Token, tokenise
from bot.talk.reading.when import prefix
from bot.talk.requests import Add, AddTo, Agree, Cupboard, Held, Join, MarkLine, Owed, Rule, Say, Spell, Typed

MOST_STATES: Final = 64
MIXED: Final = 10            # the rank of a message whose verdicts stand now before, now after the names
SECOND: Final = 1000         # the rank of a reading that a child of that name comes before
_DATED: Final = frozenset({"number", "word", "time", "date"})
_WHEN: Final = frozenset({"at", "on", "last", "today", "yesterday"})
AS_WRITTEN: Final = frozenset({"as written", "as usual", "ends", "no more", "nothing"})
_AND: Final = re.compile(r"(?:^|\s)(?:and|&)\s", re.IGNORECASE)
_ALONE: Final = frozenset({"stop", "yes", "no"})


class TooMany(Exception):
    """A message can be read in more ways than are worth following."""


class Chart:
    """Reads one message once. Keep nothing of it but the readings and the problems."""

    def __init__(
        self,
        text: str,
        tokens: Sequence[Token],
        context: Context,
        near: Mapping[int, tuple[Near, ...]] | None = None,
        guests: frozenset[int] = frozenset(),
    ) -> None:
        self.text = text
        self.tokens = tokens
        self.context = context
        self.lexer = Lexer(tokens, context, near, guests)
        self.problems: list[tuple[int, Problem]] = []       # where it was noticed, what it was
        self.refused: Problem | None = None                 # a time, a name or a code that can't be meant
        self.furthest = 0
        self._timed_to = 0                                  # so far a time that can be meant reaches
        self._has = any(token.word in HAS for token in tokens)
        self._histories = Histories()
        self._states: list[dict[State, int]] = []

    def readings(self) -> list[Reading]:
        """All complete readings, the same requests once."""
        size = len(self.tokens)
        self._states = [{} for _ in range(size + 1)]
        self._states[0][State()] = 0
        for place in range(size):
            states = self._states[place]
            if not states:
                continue
            if len(states) > MOST_STATES:
                raise TooMany
            self.furthest = place
            self._step(place, states)
        if self._states[size]:
            self.furthest = size
        return self._finish(self._states[size])

    def _step(self, place: int, states: dict[State, int]) -> None:
        token = self.tokens[place]
        if token.kind == "sep":
            for state, rank in states.items():
                for ended in self._end_clause(state, place):
                    self._reach(place + 1, ended, rank)
            return
        if token.kind == "comma":
            for state, rank in states.items():
                self._comma(state, place, rank)
            return
        found = self.lexer.at(place)
        for state, rank in states.items():
            self._begin(state, place, rank, found)
            closed: list[State] | None = None
            for one in found:
                closed = self._take(state, one, place, rank, closed)

    def _take(
        self, state: State, found: Found, place: int, rank: int, closed: list[State] | None
    ) -> list[State] | None:
        """One phrase joins the bag, or begins the next segment."""
        item, slips = found.item, state.slips + found.slips if found.slips else state.slips
        bag = put(state.bag, item, place, found.end)
        if item.kind == "filler":
            if bag is not None:
                self._reach(found.end, state, rank + self._filling(place))
            return closed
        sort = _sort(item)
        first = state.first or sort
        if item.kind == "group" and self._is_child(place, found.end):
            rank += SECOND      # a child of that name comes first
        if bag is not None:
            self._reach(found.end, state._replace(bag=bag, slips=slips, first=first, comma=False), rank)
        if not _may_close(state.bag, state.comma) or item.kind in ("but", "loose"):
            return closed
        # Without a comma what follows belongs to the mark before it, where the message began with a name or
        # a verdict; only such a word, or one that can't join, begins another mark.
        if not (state.comma or bag is None or bag.shared or sort == state.first or state.first == "other"):
            return closed
        # What stands behind a time, or behind `gus not`, could be said of either mark.
        if not state.comma and (state.bag.at is not None or (state.bag.slot == "full" and sort == "name")):
            return closed
        for fresh in _beginnings(state, item, place, found.end):
            if closed is None:
                closed = self._settle(state, place, False)
            for one in closed:
                begun = one._replace(bag=fresh, slips=slips, first=state.first, alone=False)
                self._reach(found.end, begun, rank)
        return closed

    def _is_child(self, start: int, end: int) -> bool:
        return any(one.end == end and one.item.kind == "child" for one in self.lexer.at(start))

    def _filling(self, place: int) -> int:
        """A filler says nothing, so a reading that needs it as a word comes first; a child is no filler."""
        return 0 if (self.tokens[place].word,) in self.context.vocabulary.first_names else 1

    def _comma(self, state: State, place: int, rank: int) -> None:
        bag = state.bag
        # `cartwheel: ava seen, ben not yet`
        heads = self.tokens[place].word == ":" and state.alone and bag.skill
        if heads and bag == Bag(skill=bag.skill, begin=bag.begin):
            scope = state.scope._replace(heading=bag.skill)
            self._reach(place + 1, _fresh(state, scope), rank)
        else:
            self._reach(place + 1, state if state.comma else state._replace(comma=True), rank)

    # --- where a clause begins and ends ------------------------------------------------------------

    def _begin(self, state: State, place: int, rank: int, found: Sequence[Found]) -> None:
        """What only a clause's beginning can be: a time, a new name, a group."""
        word = self.tokens[place].word
        if word in _WHEN or (self.tokens[place].kind in _DATED and not state.first and state.bag is EMPTY):
            self._time(state, place, rank)
        if state.first or state.bag is not EMPTY:
            return
        if word == "add" and not (place == 0 and self._list(state, rank)):
            self._add(state, place, rank)
        elif word == "join" and place == 0:
            self._join(state, rank)
        elif word == "agree" and place == 0:
            self._agree(state, rank)
        elif word == "cupboard" and place == 0:
            self._cupboard(state, rank)
        elif word == "spell" and place == 0:
            self._spell(state, rank)
        elif word == "ruling" and place == 0:
            self._rule(state, rank)
        elif self._has:
            self._held(state, place, rank)
        for end, bag in groups_named(self.tokens, place, found):
            self._reach(end, state._replace(bag=bag, first="other"), rank)

    def _time(self, state: State, place: int, rank: int) -> None:
        before = state.scope.at
        when = prefix(self.tokens, place, self.context.now, None if before is None else before.date())
        if when is None:
            return
        ends = when.end >= len(self.tokens) or self.tokens[when.end].kind == "sep"
        # A time with nothing after it and nothing before it is the time of nothing.
        why = when.why or ("time" if state.bag is EMPTY and when.end >= len(self.tokens) else None)
        if when.why is None:
            self._timed_to = max(self._timed_to, when.end)
        if why is not None:
            if place >= self._timed_to or when.why is None:     # the `at 17:10` of `on tuesday at 17:10` is not today's
                self.refused = self.refused or Problem(why, place, when.end)
        elif state.bag is EMPTY:
            self._reach(when.end, _fresh(state, state.scope._replace(at=when.at)), rank)
        elif state.comma and not ends and _may_close(state.bag, True):
            for one in self._settle(state, place, False):
                self._reach(when.end, _fresh(one, one.scope._replace(at=when.at)), rank)
        elif state.bag.at is None:
            # `ava seen at 17:10`: said within a mark it holds for that mark only.
            comma = self.tokens[when.end - 1].kind == "comma"
            self._reach(when.end, state._replace(bag=state.bag._replace(at=when.at), comma=comma), rank)

    def _add(self, state: State, place: int, rank: int) -> None:
        end, names = names_added(self.text, self.tokens, place)
        if not names:
            self.refused = self.refused or Problem("needs name", place, place + 1)
            return
        rank += SECOND * (("add",) in self.context.vocabulary.first_names)
        past = self._histories.number(state.past, Settled(tuple(Add(name) for name in names)))
        self._reach(end, state._replace(past=past, first="other"), rank)

    def _list(self, state: State, rank: int) -> bool:
        """`add to tuesday:` and names. Is it said so at all?"""
        colon = next((token for token in self.tokens if token.word == ":"), None)
        if len(self.tokens) < 3 or self.tokens[1].word != "to" or colon is None:
            return False
        ends = {found.end: found.item.ids for found in self.lexer.at(2) if found.item.kind == "class"}
        ids = ends.get(self.tokens.index(colon), ())
        names = names_listed(self.text, colon)
        if len(ids) != 1 or not names:
            self.refused = Problem("needs list", 0, 1)
            return True
        past = self._histories.number(state.past, Settled((AddTo(ids[0], names),)))
        self._reach(len(self.tokens), State(past), rank)
        return True

    def _held(self, state: State, place: int, rank: int) -> None:
        """One child and skills, each named as where one asks what is owed, and perhaps since when."""
        size = len(self.tokens)
        end = next((at for at in range(place, size) if self.tokens[at].kind == "sep"), size)
        stop = self.tokens[end].start if end < size else len(self.text)
        whose, skills, since = held_before(self.text[self.tokens[place].start:stop])
        asked = [self._skills(whose, several) for several in skills]
        found = [one for several in asked for one in several]
        children = {whom for whom, _ in found}
        if not all(asked) or len(children) != 1:
            return
        (whom,) = children
        if len(whom) == 1:
            held = Held(whom[0], tuple(skill for _, skill in found), since)
            past = self._histories.number(state.past, Settled((held,)))
            self._reach(end, state._replace(past=past, first="other"), rank)

    def _skills(self, whose: str, text: str) -> list[tuple[tuple[str, ...], str]]:
        """Whose, and each skill of `cartwheel and waltz turn`; none where a part of it is no skill."""
        one = self._owed(f"owed {whose} {text}")
        if one is not None and one.skill is not None:
            return [(one.children, one.skill)]
        joints = list(_AND.finditer(text))
        for joint in joints if len(joints) < MOST_SKILLS else ():       # `step and close` is one
            first, others = text[:joint.start()].strip(), text[joint.end():]
            one = self._owed(f"owed {whose} {first}")
            if one is not None and one.skill is not None and (rest := self._skills(whose, others)):
                return [(one.children, one.skill), *rest]
        return []

    def _owed(self, asked: str) -> Owed | None:
        """The one thing that such a question asks; None: none, or more than one."""
        readings = Chart(asked, tokenise(asked), self.context).readings()
        found = readings[0].requests if len(readings) == 1 and not readings[0].choices else ()
        return found[0] if len(found) == 1 and isinstance(found[0], Owed) else None

    def _join(self, state: State, rank: int) -> None:
        code = code_joined(self.text, self.tokens)
        if not code:
            self.refused = Problem("needs code", 0, 1)
            return
        rank += SECOND * (("join",) in self.context.vocabulary.first_names)
        past = self._histories.number(state.past, Settled((Join(code),)))
        self._reach(len(self.tokens), State(past), rank)

    def _agree(self, state: State, rank: int) -> None:
        """One child and one skill, named as where one asks what is owed, and after the colon a way in free words."""
        about, way = way_agreed(self.text, self.tokens)
        one = self._one_child(about) if way else None
        if one is None or one.skill is None:
            self.refused = self.refused or Problem("needs way", 0, 1)
            return
        way = "" if way.casefold() in AS_WRITTEN else way
        self._whole(state, "agree", Agree(one.children[0], one.skill, way), rank)

    def _one_child(self, about: str) -> Owed | None:
        """The one child, and perhaps the skill, that these words name as where one asks what is owed."""
        one = self._owed(f"owed {about}")
        return one if one is not None and len(one.children) == 1 else None

    def _whole(self, state: State, word: str, asked: Typed, rank: int) -> None:
        """The whole message is this one request; a child of that name comes first."""
        rank += SECOND * ((word,) in self.context.vocabulary.first_names)
        self._reach(len(self.tokens), State(self._histories.number(state.past, Settled((asked,)))), rank)

    def _cupboard(self, state: State, rank: int) -> None:
        counts = cupboard_counted(self.text, self.tokens, self.context.vocabulary.scheme)
        if counts is None:
            self.refused = self.refused or Problem("needs count", 0, 1)
            return
        self._whole(state, "cupboard", Cupboard(counts), rank)

    def _spell(self, state: State, rank: int) -> None:
        about, name = name_spelled(self.text, self.tokens)
        one = self._one_child(about) if name else None
        if one is None or one.skill is not None:
            self.refused = self.refused or Problem("needs spelling", 0, 1)
            return
        self._whole(state, "spell", Spell(one.children[0], name), rank)

    def _rule(self, state: State, rank: int) -> None:
        """One skill and one point of it, named as in a miss, and after the colon what is ruled, in free words."""
        about, ruling = ruling_made(self.text, self.tokens)
        asked = f"none yet {about}"
        readings = Chart(asked, tokenise(asked), self.context).readings() if ruling else []
        alone = {reading.requests[0] for reading in readings if not reading.choices and len(reading.requests) == 1}
        found = [one for one in alone if isinstance(one, MarkLine)]     # `one by one` belongs to a point
        one = found[0] if len(found) == 1 else None
        skill = one.skill or self.context.skill if one is not None else None
        if one is None or skill is None or len(one.points) != 1 or one.missed or one.left:
            self.refused = self.refused or Problem("needs ruling", 0, 1)
            return
        rank += SECOND * (("ruling",) in self.context.vocabulary.first_names)
        ruled = Rule(skill, one.points[0], "" if ruling.casefold() in AS_WRITTEN else ruling)
        self._reach(len(self.tokens), State(self._histories.number(state.past, Settled((ruled,)))), rank)

    def _end_clause(self, state: State, place: int) -> list[State]:
        """The clause is over: its bag must be full, and the next begins anew."""
        ended = [state] if state.bag == EMPTY else self._settle(state, place, state.alone)
        return [_fresh(one, one.scope) for one in ended]

    def _settle(self, state: State, place: int, alone: bool) -> list[State]:
        after: list[State] = []
        for one in settle(state.bag, self.context, state.scope, alone):
            if isinstance(one, Problem):
                self.problems.append((place, one))
                continue
            scope = state.scope
            if one.skill or one.heading:
                scope = Scope(scope.at, one.heading or scope.heading, one.skill or scope.carry)
            past = self._histories.number(state.past, one)
            after.append(_fresh(state, scope)._replace(past=past, orders=state.orders | state.bag.order))
        return after

    def _reach(self, place: int, state: State, rank: int) -> None:
        states = self._states[place]
        if rank < states.setdefault(state, rank):
            states[state] = rank

    # --- the end -------------------------------------------------------------------------------------

    def _finish(self, states: dict[State, int]) -> list[Reading]:
        if len(states) > MOST_STATES:
            raise TooMany
        found: dict[tuple[tuple[Typed, ...], tuple[Slip, ...]], Reading] = {}
        for state, least in states.items():
            for ended in self._end_clause(state, len(self.tokens)):
                rank = least
                requests, choices = self._histories.told(ended.past)
                rank += MIXED * (ended.orders == 3)
                key = requests, ended.slips
                # An opt-out is a message of its own, and so is a yes or a no: never a word among others.
                if len(requests) > 1 and any(isinstance(one, Say) and one.word in _ALONE for one in requests):
                    continue
                if requests and (key not in found or rank < found[key].rank):
                    found[key] = Reading(requests, choices, ended.slips, rank)
        return list(found.values())


def _fresh(state: State, scope: Scope) -> State:
    """After a segment: nothing gathered, the clause not begun."""
    return State(state.past, EMPTY, scope, state.slips, state.orders)


def _beginnings(state: State, item: Item, place: int, end: int) -> Iterator[Bag]:
    """The bags that a phrase can begin after a mark: an empty one, or one that goes on from the mark."""
    fresh = put(EMPTY, item, place, end)
    if fresh is not None:
        yield fresh
    on = echo(state.bag, not state.comma) if item.kind in ("child", "group") else None
    going = put(on, item, place, end) if on is not None else None
    if going is not None:
        yield going


def _may_close(bag: Bag, comma: bool) -> bool:
    """Can this be a whole segment within a clause? An answer or a heading needs the clause for itself."""
    if bag.kind == "group" or (bag.kind == "say" and bag.head in _ALONE):
        return False
    return bool(bag.head or bag.missed or (bag.left and comma))


def _sort(item: Item) -> str:
    if item.kind in ("child", "group", "all", "not"):
        return "name"
    return "verdict" if item.kind in ("verdict", "note", "spared") else "other"
