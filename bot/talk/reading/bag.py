"""One segment of a message while it is being gathered: what it holds so far, in any order.

`put` is the whole grammar of a segment: which item may join which others. What a full bag asks for is
said in `settle.py`.
"""
from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Final, NamedTuple

from bot.talk.reading.items import Item, Kind, Sense
from bot.talk.reading.music import BARE
from bot.talk.reading.words import NAMES_FOLLOW


class Named(NamedTuple):
    """Somebody spoken of: the children that the words at token `at` may mean."""

    ids: tuple[str, ...]
    at: int
    stop: int


class Extra(NamedTuple):
    """A point, part, way or side, kept as typed until the skill is known."""

    at: int
    stop: int
    side: str = ""
    senses: Mapping[str, tuple[Sense, ...]] | None = None
    word: str = ""

    def __hash__(self) -> int:
        return hash((self.at, self.stop, self.side))


class Bag(NamedTuple):
    """What a segment holds. `head` is the one thing said: a verdict, a note, a command."""

    head: str = ""
    kind: str = ""                          # the kind of item that the head came from
    names: tuple[Named, ...] = ()
    slot: str = ""                          # names go to: "left" after `but`, "missed" after `not`; "full": nowhere
    left: tuple[Named, ...] = ()
    missed: tuple[Named, ...] = ()
    every: str = ""                         # "all", "everyone", "none": the whole line
    skill: str = ""
    extras: tuple[Extra, ...] = ()
    show: int = 0
    shown: tuple[int, int] = (0, 0)         # the tokens that say which show
    until: int = -1                         # minutes of the day
    days: int = 0
    classes: tuple[str, ...] | None = None
    people: tuple[str, ...] = ()            # who of those that judge is spoken of
    order: int = 0                          # names stand before the verdict (1), after it (2)
    word: str = ""                          # a load, a group's name
    begin: int = -1                         # its first token
    at: datetime | None = None              # when it was judged, where that is said of this mark alone
    shared: bool = False                    # a name came after points or sides, which are said of all so far
    music: tuple[tuple[str, int], ...] = ()     # what is said of counts and tempo, each once
    own: bool = False                       # goes on from the mark before it, and must say points or sides of its own


EMPTY: Final = Bag()
LOOKS: Final = frozenset({"look", "together"})
_COMMANDS: Final = frozenset({"ask", "say"})


def put(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    """The bag with one more item, or None where it doesn't fit."""
    if bag.kind == "group" and item.kind not in ("child", "group", "filler"):
        return None
    if bag.music and item.kind not in ("music", "ask", "skill", "filler"):
        return None
    if bag.begin < 0 and item.kind != "filler":
        bag = bag._replace(begin=at)
    return _PUT[item.kind](bag, item, at, stop)


def _filler(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    """Says nothing; an `ok` does so before all else only, for after a name it is a verdict."""
    return None if item.word and bag != EMPTY else bag


def _loose(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    """The small words of a label: after one of its other words only."""
    return bag if bag.extras and bag.extras[-1].stop >= at - 1 else None


def _child(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.kind == "say":
        return None
    new = Named(item.ids, at, stop)
    if bag.slot == "left":
        return bag._replace(left=_with(bag.left, new))
    if bag.slot == "missed":
        shared = bag.shared or _said_of(bag.missed, bag.extras)
        return bag._replace(missed=_with(bag.missed, new), shared=shared)
    if bag.every or bag.slot == "full":
        return None
    order = bag.order | 2 if bag.kind == "verdict" else bag.order
    shared = bag.shared or _said_of(bag.names, bag.extras)
    return bag._replace(names=_with(bag.names, new), order=order, shared=shared)


def _said_of(names: tuple[Named, ...], extras: tuple[Extra, ...]) -> bool:
    """Do points or sides stand behind a name? Those before all names are said of all."""
    return bool(names and extras) and extras[-1].at > names[0].at


def echo(bag: Bag, own: bool) -> Bag | None:
    """What goes on from a mark whose points or sides are said: the same verdict of somebody else.

    `not 7 hips, 8 toes`: each has missed its own. `own`: only where more points or sides follow.
    """
    judged = bag.kind == "verdict" and not bag.every
    if not (_said_of(bag.missed, bag.extras) or (judged and _said_of(bag.names, bag.extras))):
        return None
    return Bag(head=bag.head, kind=bag.kind, slot=bag.slot, skill=bag.skill, at=bag.at, own=own)


def _with(names: tuple[Named, ...], new: Named) -> tuple[Named, ...]:
    return names if any(known.ids == new.ids for known in names) else (*names, new)


def _group(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    new: Bag | None = bag
    for child in item.ids:
        new = _child(new, Item("child", ids=(child,)), at, stop) if new else None
    return new


def _verdict(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.head or bag.slot == "missed" or (item.number == NAMES_FOLLOW and (bag.names or bag.every)):
        return None
    return bag._replace(head=item.word, kind="verdict", order=1 if bag.names else 0)


def _note(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    return None if bag.head or bag.slot == "missed" else bag._replace(head=item.word, kind="note")


def _spared(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    return None if bag.head or bag.slot else bag._replace(head="spared", kind="note", word=item.word)


def _command(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.head or bag.slot or bag.every:
        return None
    if item.kind == "say" and (bag.names or bag.skill or bag.extras or bag.show):
        return None
    return bag._replace(head=item.word, kind=item.kind)


def _all(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.every or bag.names or bag.slot or bag.kind in _COMMANDS:
        return None
    if item.word in ("none", "nobody"):
        return None if bag.head else bag._replace(every=item.word, head="not yet", kind="verdict")
    return bag._replace(every=item.word)


def _but(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    return bag._replace(slot="left") if bag.every and not bag.slot else None


def _not(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    """`not gus`, and `all seen but not gus`."""
    if bag.slot == "left" and not bag.left:
        bag = bag._replace(slot="")
    if bag.names and not (bag.head or bag.every or bag.slot):
        return bag._replace(head="not yet", kind="verdict", order=1, slot="full")    # `gus not`
    if bag.slot or bag.names or (bag.head and (bag.every, bag.head) != ("all", "seen")):
        return None
    return None if bag.every and not bag.head else bag._replace(slot="missed")


def _skill(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.kind in ("say", "note"):
        return None
    return bag._replace(skill=item.word) if bag.skill in ("", item.word) else None


def _attr(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.kind in ("say", "ask", "note"):
        return None
    # The same word again says nothing new.
    if any(extra.senses is item.senses for extra in bag.extras):
        return bag
    if bag.shared:
        return None
    return bag._replace(extras=(*bag.extras, Extra(at, stop, "", item.senses, item.word)))


def _side(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.kind in ("say", "ask", "note"):
        return None
    if len(bag.extras) > MOST_EXTRAS or bag.shared:
        return None
    return bag._replace(extras=(*bag.extras, Extra(at, stop, item.word)))


MOST_EXTRAS: Final = 12


def _show(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.kind in ("say", "ask", "note") or bag.show not in (0, item.number):
        return None
    return bag._replace(show=item.number, shown=(at, stop))


def _class(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    if bag.kind not in ("", "ask") or bag.head not in ("", "start", "owed", "picture"):
        return None
    if bag.classes is None:
        return bag._replace(classes=item.ids)
    both = tuple(one for one in bag.classes if one in item.ids)
    return bag._replace(classes=both) if both else None


def _person(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    """Somebody who judges is only spoken of where a second look is asked for."""
    return bag._replace(people=item.ids) if bag.head in LOOKS and not bag.people else None


def _days(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    return None if bag.days or bag.head not in ("", "later", "spared") else bag._replace(days=item.number)


def _time(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    return None if bag.until >= 0 or bag.head not in ("", "leaves") else bag._replace(until=item.number)


def _music(bag: Bag, item: Item, at: int, stop: int) -> Bag | None:
    """Once each; a number with nothing beside it is the tempo of a click. `8 x` alone is a child not yet there."""
    others = bag._replace(head="", kind="", skill="", begin=-1, music=())
    if bag.head not in ("", "click", "lasts") or others != EMPTY or (item.word == BARE and bag.head != "click"):
        return None
    if item.word == "times" and not (bag.head or bag.music):
        return None
    word = "tempo" if item.word == BARE else item.word
    known = any(one == word for one, _ in bag.music)
    return None if known else bag._replace(music=(*bag.music, (word, item.number)))


_PUT: Final[dict[Kind, Callable[[Bag, Item, int, int], Bag | None]]] = {
    "child": _child, "group": _group, "person": _person, "skill": _skill, "attr": _attr, "side": _side, "show": _show,
    "class": _class, "verdict": _verdict, "note": _note, "ask": _command, "say": _command, "spared": _spared,
    "all": _all, "but": _but, "not": _not, "filler": _filler, "loose": _loose, "days": _days, "time": _time,
    "music": _music,
}
