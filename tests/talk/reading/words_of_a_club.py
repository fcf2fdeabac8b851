"""A made-up club for the reader's tests: a scheme with every structure that a word can meet, and awkward names."""
from __future__ import annotations

from datetime import datetime, time
from zoneinfo import ZoneInfo

from bot.people.model import ClubClass
from bot.scheme.model import Scheme
from bot.talk.reading import Context, Vocabulary, fold, read
from bot.talk.requests import NotUnderstood, Typed, Understood, WhichOne

LONDON = ZoneInfo("Europe/London")
NOW = datetime(2026, 11, 24, 17, 30, tzinfo=LONDON)       # a Tuesday

SCHEME = Scheme.model_validate({
    "name": "Bench", "rest_s": 60,
    "award": [{"id": "one", "name": "One", "skill": [
        {"id": "shoulder-stand", "name": "Shoulder stand", "words": ["candle up"], "points": [
            {"id": "hips", "label": "Hips over shoulders"},
            {"id": "toes", "label": "Toes to the ceiling"},
            {"id": "hold", "label": "Three seconds still"},
            {"id": "down", "label": "Rolls down slowly", "need": "aim"},
        ], "shows": [{}, {"rest_s": 45}], "loads": ["neck", "back"]},
        {"id": "cartwheel", "name": "Cartwheel", "words": ["wheel"], "sides": "each", "points": [
            {"id": "hands", "label": "Hands one by one"},
            {"id": "legs", "label": "Straight legs"},
            {"id": "over", "label": "Passes the upright", "need": "aim"},
        ], "loads": ["wrists", "landing"]},
        {"id": "dance-medley", "name": "Dance medley", "words": ["medley"], "points": [
            {"id": "beat", "label": "With the music"},
            {"id": "hop", "label": "The hop is heard", "parts": ["polka"]},
        ], "parts": ["galop", "polka", {"id": "waltz", "label": "Waltz", "words": ["waltzing"], "sides": "each"}]},
        {"id": "split-jump", "name": "Split jump", "sides": "either", "shows": [{}, {}], "points": [
            {"id": "chest", "label": "Chest stays up"}, {"id": "landing", "label": "Soft still landing"},
        ], "loads": ["landing"]},
        {"id": "forward-roll", "name": "Forward roll", "points": [{"id": "chin", "label": "Chin tucked"}], "ways": [
            {"id": "to-feet", "label": "To the feet"},
            {"id": "to-straddle", "label": "To straddle stand", "words": ["straddle"]},
        ]},
        {"id": "waltz-turn", "name": "Waltz turn", "sides": "alternate"},
        {"id": "galop-step", "name": "Galop step", "sides": "each"},
    ]}],
})

CLASSES = (
    ClubClass(id="tue", name="Tuesday Lanterns", day="tuesday", start=time(17)),
    ClubClass(id="thu", name="Thursday Mixed", day="thursday", start=time(16, 30)),
)

PLAIN = (
    "Ava Price", "Ben Okafor", "Chidi Eze", "Dara Lund", "Efa Morgan", "Finn O'Hara", "Gus Petrov", "Hana Sato",
    "Leo Brandt", "Mia Costa",
)
AWKWARD = (
    "Mark Ellery", "Will Tanner", "Ji-ho Seen", "Łucja Undo", "Siân O'Dea", "Ana Castell", "Ana Dray", "Red Marsh",
    "May Flint", "Back Holm", "Hips Nolan", "Zoë Quill",
)


def child(name: str) -> str:
    """The id that a name has in these tests: the name, folded, with points between its words."""
    return fold(name).replace(" ", ".")


def ids(names: str) -> tuple[str, ...]:
    """`Ava Price, Ben Okafor` → their ids."""
    return tuple(child(name) for name in names.split(", ")) if names else ()


def vocabulary(names: tuple[str, ...] = PLAIN, scheme: Scheme = SCHEME) -> Vocabulary:
    """The words of a class of these children."""
    return Vocabulary(tuple((child(name), name) for name in names), scheme, CLASSES)


PLAIN_WORDS = vocabulary()
AWKWARD_WORDS = vocabulary(PLAIN + AWKWARD)


def moment(words: Vocabulary = PLAIN_WORDS, line: str = "Efa Morgan, Finn O'Hara, Gus Petrov, Hana Sato",
           skill: str | None = "shoulder-stand", **more: object) -> Context:
    """A lesson in its middle: a line of four on show 1 of the shoulder stand, children numbered as in the class."""
    stood = [one for one, _ in words.children][:10]
    given = {
        "vocabulary": words, "now": NOW, "skill": skill, "line": ids(line),
        "numbers": dict(enumerate(stood, 1)),
        "skill_of": dict.fromkeys(ids(line), skill) if skill else {},
        **more,
    }
    return Context(**given)     # type: ignore[arg-type]


MOMENT = moment()
AWKWARD_MOMENT = moment(AWKWARD_WORDS)
BARE = moment(line="", skill=None, numbers={})


def understood(text: str, context: Context = MOMENT) -> tuple[Typed, ...]:
    """What a text asks for, where it must be understood."""
    answer = read(text, context)
    assert isinstance(answer, Understood), answer
    return answer.requests


def asked(text: str, context: Context = MOMENT) -> WhichOne:
    """The question that a text is answered with, where it must be one."""
    answer = read(text, context)
    assert isinstance(answer, WhichOne), answer
    return answer


def refused(text: str, context: Context = MOMENT) -> NotUnderstood:
    """Why a text is not understood, where it must not be."""
    answer = read(text, context)
    assert isinstance(answer, NotUnderstood), answer
    return answer
