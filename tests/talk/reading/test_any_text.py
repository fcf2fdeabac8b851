"""Whatever is typed, the reader answers, soon, and takes no child for another."""
from __future__ import annotations

import random
from datetime import datetime
from time import process_time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.scheme.model import Award, Part, Point, Scheme, Show, Skill
from bot.talk.reading import Context, Vocabulary, fold, read
from bot.talk.requests import Mark, NotUnderstood, Understood, WhichOne

NOW = datetime(2026, 11, 24, 17, 30, tzinfo=ZoneInfo("Europe/London"))
NAMES = (
    "Mark Stone", "Will Frost", "Ji-ho Seen", "Łucja Undo", "Siân O'Dea", "Ana Costa", "Ana Moreno", "Ava Price",
    "Ben Norris", "May Flower", "Red Barnes", "Zoë Quill", "Mary-Ann van der Berg", "王 明", "Ольга Белая", "Noor Aziz",
)
SCHEME = Scheme(name="Bench", award=(Award(id="one", name="One", skill=(
    Skill(id="shoulder-stand", name="Shoulder stand", shows=(Show(), Show()), loads=("neck", "back"), points=(
        Point(id="hips", label="Hips over shoulders"), Point(id="toes", label="Toes to the ceiling", need="aim"),
    )),
    Skill(id="cartwheel", name="Cartwheel", sides="each", points=(Point(id="legs", label="Straight legs"),)),
    Skill(id="medley", name="Dance medley", parts=(
        Part(id="galop", label="galop"), Part(id="waltz", label="waltz", sides="each"),
    )),
    Skill(id="spin", name="Spin", sides="either"),
)),))
TYPED = (
    "ava ben mark will ji-ho jiho seen łucja undo ana c m red may not yet all none but everyone here away sits back "
    "leaves 17:30 17.10 at on tuesday yesterday no landings backs cartwheel shoulder stand hips toes legs left right "
    "both l r show 2 second galop waltz spin later 3 weeks a the and & , ; : \n . - add join start owed standard is "
    "= ✓ n x y 5 5-7 7 bakc cartwheeel avva nope stop end close 24 nov 2026-11-24 24:99 feb 30 o'dea"
)
WORDS = TYPED.split(" ")


def moment(names: tuple[str, ...] = NAMES, **more: object) -> Context:
    """A lesson in which the shoulder stand is watched; each child's id is her place in the class."""
    children = tuple((f"c{at}", name) for at, name in enumerate(names))
    given_ = {"skill": "shoulder-stand", "numbers": {5: "c1", 6: "c2", 7: "c3"}, "line": ("c1", "c2", "c3"), **more}
    return Context(Vocabulary(children, SCHEME), NOW, **given_)     # type: ignore[arg-type]


MOMENT = moment()
MOMENTS = (
    MOMENT,
    moment(groups={"red": ("c7", "c8")}, expects="names"),
    moment(skill=None, numbers={}, line=(), expects="points", skill_of={"c7": "cartwheel"}),
    moment(names=(), numbers={}, line=()),
)


def answered(text: str, context: Context) -> None:
    """One of three answers, each with what the next step needs."""
    answer = read(text, context)
    if isinstance(answer, Understood):
        assert answer.requests
    elif isinstance(answer, WhichOne):
        labels = [label for label, _ in answer.options]
        assert labels
        assert len(set(labels)) == len(labels)
        assert all(0 < len(label) <= 20 for label in labels)
        assert all(isinstance(one, Understood) and one.requests for _, one in answer.options)
    else:
        assert isinstance(answer, NotUnderstood)


@settings(max_examples=300, deadline=None)
@given(text=st.text(max_size=300), context=st.sampled_from(MOMENTS))
def test_any_text_is_answered(text: str, context: Context) -> None:
    """No text of any script raises; a question has distinct labels that every channel carries."""
    answered(text, context)


@settings(max_examples=600, deadline=None)
@given(words=st.lists(st.sampled_from(WORDS), max_size=14), context=st.sampled_from(MOMENTS))
def test_any_order_of_known_words_is_answered(words: list[str], context: Context) -> None:
    """Words of the talk in an order that nobody would type are answered too."""
    answered(" ".join(words), context)


@settings(max_examples=400, deadline=None)
@given(text=st.text(max_size=60))
def test_folding_again_changes_nothing(text: str) -> None:
    """A folded text is its own folding, whatever the script."""
    assert fold(fold(text)) == fold(text)


LETTERS = st.text("abcdeghiłøéßñóžABCXY'-", min_size=1, max_size=8).filter(lambda word: fold(word).isalpha())
A_CLASS = st.lists(st.tuples(LETTERS, LETTERS).map(" ".join), min_size=1, max_size=12, unique_by=fold)


@settings(max_examples=200, deadline=None)
@given(names=A_CLASS.map(tuple))
def test_a_whole_name_marks_that_child_or_is_asked(names: tuple[str, ...]) -> None:
    """Of any class, whoever is typed by the whole name is marked, alone; or it is asked who was meant."""
    context = moment(names, numbers={}, line=())
    for at, name in enumerate(names):
        answer = read(f"{name} seen", context)
        if isinstance(answer, Understood):
            assert [one.children for one in answer.requests if isinstance(one, Mark)] == [(f"c{at}",)]
        else:
            assert isinstance(answer, WhichOne), (name, answer)
            marked = {one.requests[0].children for _, one in answer.options if isinstance(one.requests[0], Mark)}
            assert (f"c{at}",) in marked


@settings(max_examples=200, deadline=None)
@given(st.sampled_from([name for name in NAMES if fold(name).isascii() and " " in name]), st.data())
def test_a_name_with_a_slip_is_never_guessed(name: str, data: st.DataObject) -> None:
    """A first name with one letter changed marks nobody, unless that is exactly another child's name."""
    first = fold(name.split()[0])
    at = data.draw(st.integers(0, len(first) - 1))
    slip = first[:at] + data.draw(st.sampled_from("abcdefghijklmnopqrstuvwxyz")) + first[at + 1:]
    exact = {fold(one.split()[0]) for one in NAMES}
    answer = read(f"{slip} seen", MOMENT)
    assert slip in exact or not isinstance(answer, Understood) or not any(
        isinstance(one, Mark) for one in answer.requests
    )


LONGEST = {
    "one filler": "a " * 1000,
    "one name": "ava " * 500,
    "an ambiguous name": "ana seen " * 222,
    "marks": "ava seen " * 222,
    "marks with commas": "ava, ben seen, " * 133,
    "both orders": "seen ava ben " * 153,
    "sides": "ava seen left ben seen right " * 68,
    "numbers": "7 " * 1000,
    "ranges": "5-7 " * 500,
    "hyphens": "a-" * 1000,
    "groups": "red is ava;" * 181,
    "times": "at 17:10 ava seen " * 111,
    "slips": "avva bne seeen bakc cartwheeel chidy " + "ava " * 480,
    "one word": "x" * 2000,
    "any characters": "".join(chr(random.Random(1).randrange(0x110000) ^ at) for at in range(2000)),
    "points": "ben not yet hips " * 117,
    "shows": "show 2 " * 285,
}


@pytest.mark.parametrize("text", LONGEST.values(), ids=LONGEST)
def test_the_longest_message_is_bounded(text: str) -> None:
    """2000 characters of the worst kind cost tens of milliseconds; the bound here leaves room for a busy machine."""
    took = []
    for _ in range(3):
        began = process_time()
        read(text[:2000], MOMENT)
        took.append(process_time() - began)
    assert min(took) < 0.2


def test_a_longer_one_is_refused() -> None:
    """What is longer than any mark could be is not read at all."""
    answer = read("ava seen " * 300, MOMENT)
    assert isinstance(answer, NotUnderstood)
    assert answer.why == "too long"
