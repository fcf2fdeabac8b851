"""What a channel can carry, and the renderer that fits every message to it.

Pure: a message and a channel's limits in, what to send out. Nothing is dropped: what a channel has no
room for as a button is named in the text, a file that it does not carry is told in words, and a text that is
too long becomes several, cut at line ends.
"""
from __future__ import annotations

import unicodedata
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from adapters import sms
from adapters.files.kinds import KINDS, SVG, Form
from bot.attached import Attachment
from bot.frozen import replace
from bot.step import Choice, Said

SHORTEST_LABEL = 6      # below this two labels of a class of thirty could not be kept apart
SHORTEST_TEXT = 40
SHORTEST_PAYLOAD = 32   # the longest id of a choice of ours has 26 bytes
MORE = "Or type: "
ELLIPSIS = "…"


@dataclass(frozen=True, slots=True)
class Carries:
    """What one message on a channel can carry. Lengths are in characters."""

    choices: int = 3                # at most so many buttons; 0: the channel has none
    label: int = 20                 # the longest label of a button
    text: int = 1000                # the longest text
    payload: int = 64               # the longest id of a choice, in bytes
    segments: int = 0               # at most so many SMS segments to a text, and plain signs only; 0: no SMS
    pictures: bool = False          # those that a camera makes: PNG
    svg: bool = False               # drawings
    files: bool = False             # any other
    numbered: bool = False          # a choice is answered by typing its number

    def __post_init__(self) -> None:
        narrow = self.label < SHORTEST_LABEL or self.text < SHORTEST_TEXT or self.payload < SHORTEST_PAYLOAD
        if narrow or self.choices < 0 or self.segments < 0:
            raise ValueError("no channel is that narrow: see SHORTEST_LABEL, SHORTEST_TEXT and SHORTEST_PAYLOAD")

    def takes(self, form: Form) -> bool:
        """Can a file of that form go there?"""
        if form.media_type == SVG:
            return self.svg
        return self.pictures if form.media_type.startswith("image/") else self.files


@dataclass(frozen=True, slots=True)
class Button:
    """A choice as a channel shows it."""

    id: str
    label: str


@dataclass(frozen=True, slots=True)
class Attached:
    """A file that goes with a message: its place among the attachments, and in which form. `words` says what it is."""

    place: int
    form: Form
    words: str


@dataclass(frozen=True, slots=True)
class Rendered:
    """A message that fits: its texts in order; the buttons belong to the last of them, the files to the whole."""

    id: str
    texts: tuple[str, ...]
    buttons: tuple[Button, ...] = ()
    files: tuple[Attached, ...] = ()


def fit(said: Said, carries: Carries) -> Rendered:
    """The message as that channel can carry it."""
    ids = said.choice_ids()
    shown = said.choices[:carries.choices]
    beyond = said.choices[len(shown):]
    labels = apart([_label(choice, carries) for choice in shown], carries.label)
    files = attached(said, carries)
    left = _in_words(said, {one.place for one in files})
    text = "\n".join(filter(None, (said.text, *left, _named(beyond, carries))))
    buttons = tuple(Button(id_, label) for id_, label in zip(ids, labels, strict=False))
    return Rendered(said.id, tuple(_texts(text, carries)), buttons, files)


# --- files -----------------------------------------------------------------------------------------

def attached(said: Said, carries: Carries) -> tuple[Attached, ...]:
    """The files of a message that can go there, each in its best form that can."""
    found = ((place, one, _form(one, carries)) for place, one in enumerate(said.attached))
    return tuple(Attached(place, form, one.words) for place, one, form in found if form is not None)


def _form(one: Attachment, carries: Carries) -> Form | None:
    return next((form for form in KINDS[one.recipe.kind].forms if form.ready and carries.takes(form)), None)


def _in_words(said: Said, but: Collection[int]) -> list[str]:
    return [one.words for place, one in enumerate(said.attached) if place not in but]


def in_words(said: Said) -> Said:
    """The message as it is where no file can go."""
    return replace(said, text="\n".join((said.text, *_in_words(said, ()))), attached=()) if said.attached else said


def _texts(text: str, carries: Carries) -> list[str]:
    if carries.segments:
        return split_sms(sms.plain(text), carries.text, carries.segments)
    return split(text, carries.text)


def _label(choice: Choice, carries: Carries) -> str:
    return f"{choice.number} {choice.label}" if carries.numbered and choice.number else choice.label


def _named(beyond: Sequence[Choice], carries: Carries) -> str:
    """The choices that are no buttons, as a text: a line for each number, or what can be typed."""
    if not beyond:
        return ""
    if carries.numbered:
        return "\n".join(_label(choice, carries) for choice in beyond)
    return MORE + ", ".join(choice.label for choice in beyond)


# --- labels ----------------------------------------------------------------------------------------

def apart(labels: Sequence[str], longest: int) -> tuple[str, ...]:
    """The labels, each of them at most so long and no two alike. A label that fits and is alone stays."""
    taken: set[str] = {label for label in labels if len(label) <= longest and labels.count(label) == 1}
    fitted: list[str] = []
    for label in labels:
        if label not in taken or len(label) > longest or labels.count(label) > 1:
            label = next(form for form in _forms(label, longest) if form not in taken)
            taken.add(label)
        fitted.append(label)
    return tuple(fitted)


def _forms(label: str, longest: int) -> Iterator[str]:
    """Shorter and shorter ways to say a label, the best first, without end."""
    if len(label) <= longest:
        yield label
    else:
        yield shorten(label, longest)
        last = label.split()[-1]
        if len(last) + 4 <= longest:
            yield f"{shorten(label, longest - len(last) - 1)} {last}"
    for number in range(2, 10_000):
        yield f"{shorten(label, longest - len(str(number)) - 1)} {number}"


def shorten(text: str, longest: int) -> str:
    """At most so many characters, cut at the end of a word where one is near, with `…` for the rest."""
    if len(text) <= longest:
        return text
    end = longest - len(ELLIPSIS)
    cut = text.rfind(" ", 0, end + 1)
    if cut < longest // 2:
        cut = _whole(text, end)
    return text[:cut].rstrip(" ,;:-") + ELLIPSIS


def _whole(text: str, cut: int) -> int:
    """The place at or before `cut` that parts no letter from its accent."""
    while cut > 1 and unicodedata.combining(text[cut]):
        cut -= 1
    return cut


# --- texts -----------------------------------------------------------------------------------------

Reach = Callable[[str], int]        # how many of the first characters of a text fit into one message


def split(text: str, longest: int) -> list[str]:
    """The text in pieces that fit, cut at line ends, else after a sentence, else between words."""
    return _pieces(text, lambda one: min(len(one), longest))


def split_sms(text: str, longest: int, segments: int) -> list[str]:
    """The same, each piece in at most so many SMS segments too."""
    def reach(one: str) -> int:
        end = min(len(one), longest)
        if sms.count(one[:end]).segments <= segments:
            return end
        return bisect_right(range(end), segments, key=lambda n: sms.count(one[:n]).segments) - 1

    return _pieces(text, reach)


def _pieces(text: str, reach: Reach) -> list[str]:
    pieces: list[str] = []
    for line in (part for whole in text.split("\n") for part in _lines(whole, reach)):
        longer = f"{pieces[-1]}\n{line}" if pieces else ""
        if pieces and reach(longer) == len(longer):
            pieces[-1] = longer
        elif line or pieces == []:
            pieces.append(line)
    return [piece.strip("\n") for piece in pieces] or [""]


def _lines(line: str, reach: Reach) -> Iterable[str]:
    """One line as lines that fit."""
    while (end := reach(line)) < len(line):
        cut = max(line.rfind(mark, 0, end) for mark in (". ", "? ", "! ")) + 1
        if cut <= end // 2:
            cut = line.rfind(" ", 0, end + 1)
        if cut <= 0:
            cut = _whole(line, end)
        yield line[:cut].rstrip()
        line = line[cut:].lstrip()
    yield line
