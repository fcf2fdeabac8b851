"""Properties: the order of words changes nothing, nor does the form in which letters come."""
from __future__ import annotations

import unicodedata
from itertools import permutations
from string import ascii_lowercase

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.fold import atoms, bare, fold, letters, plain
from bot.talk.reading import read
from bot.talk.requests import Mark, MarkLine, Note, Understood
from tests.talk.reading.words_of_a_club import AWKWARD_MOMENT, MOMENT, ids, understood, vocabulary

QUICK = settings(max_examples=150, deadline=None)
MARKS = [
    (("ava", "seen"), Mark(ids("Ava Price"), "seen", "shoulder-stand")),
    (("ava", "seen", "cartwheel", "left"), Mark(ids("Ava Price"), "seen", "cartwheel", ("left",))),
    (("7", "not yet", "hips"), Mark(ids("Gus Petrov"), "not yet", "shoulder-stand", points=("hips",))),
    (("ben", "n", "show 2", "toes"), Mark(ids("Ben Okafor"), "not yet", "shoulder-stand", show=2, points=("toes",))),
    (("mia", "✓", "medley", "galop", "polka"), Mark(ids("Mia Costa"), "seen", "dance-medley", ("galop", "polka"))),
    (("mia costa", "seen", "split jump", "r"), Mark(ids("Mia Costa"), "seen", "split-jump", way="right")),
]


@pytest.mark.parametrize(("words", "mark"), MARKS, ids=[" ".join(words) for words, _ in MARKS])
def test_any_order_of_a_mark(words: tuple[str, ...], mark: Mark) -> None:
    """Name, verdict, skill, side, parts, show and points in every order are the same mark."""
    for order in permutations(words):
        assert understood(" ".join(order)) == (mark,), order


NAMES = ("ava", "ben", "chidi", "dara", "efa")


@QUICK
@given(
    names=st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True), data=st.data(),
    rest=st.sampled_from([("seen",), ("seen", "cartwheel"), ("not yet", "forward roll"), ("y", "show 2")]),
)
def test_any_order_of_names_and_words(names: list[str], rest: tuple[str, ...], data: st.DataObject) -> None:
    """However names, verdict and skill are shuffled, the same children get the same mark, and nobody else."""
    plain_order = understood(" ".join((*names, *rest)))
    shuffled = data.draw(st.permutations([*names, *rest]))
    (mark,), (same,) = understood(" ".join(shuffled)), plain_order
    assert isinstance(mark, Mark)
    assert isinstance(same, Mark)
    assert set(mark.children) == set(same.children)
    assert (mark.verdict, mark.skill, mark.show) == (same.verdict, same.skill, same.show)


SCRIPTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)


@settings(max_examples=400, deadline=None)
@given(text=SCRIPTS)
def test_every_folding_is_its_own(text: str) -> None:
    """Folding what is folded changes nothing, whichever of its forms."""
    for once in (fold, bare, letters, plain):
        assert once(once(text)) == once(text)


@settings(max_examples=400, deadline=None)
@given(text=SCRIPTS)
def test_composed_and_taken_apart_fold_alike(text: str) -> None:
    """A phone that sends letters and accents apart (NFD) is read like one that sends them as one (NFC)."""
    one, other = unicodedata.normalize("NFC", text), unicodedata.normalize("NFD", text)
    assert fold(one) == fold(other)
    assert letters(one) == letters(other)
    assert "".join(atoms(one)) == "".join(atoms(other))


@QUICK
@given(case=st.sampled_from([str.upper, str.lower, str.title, str.swapcase]),
       form=st.sampled_from(["NFC", "NFD", "NFKC", "NFKD"]), at=st.integers(0, 21), folded=st.booleans())
def test_any_form_of_a_name_is_that_child(case: object, form: str, at: int, folded: bool) -> None:
    """Any case, any normal form, with accents or without: the whole name is that child."""
    child, name = AWKWARD_MOMENT.vocabulary.children[at]
    typed = fold(name) if folded else unicodedata.normalize(form, case(name))       # type: ignore[operator]
    assert understood(f"{typed} seen", AWKWARD_MOMENT) == (Mark((child,), "seen", "shoulder-stand"),)


@QUICK
@given(name=st.sampled_from(vocabulary().children), at=st.integers(0, 3), by=st.sampled_from(ascii_lowercase),
       how=st.sampled_from(["swap", "drop", "double", "other"]))
def test_a_slip_in_a_first_name_never_marks_another(name: tuple[str, str], at: int, by: str, how: str) -> None:
    """One slip in a first name is read as a child only where it is exactly that child's name."""
    first = fold(name[1].split()[0])
    at %= len(first)
    slip = {
        "swap": first[:at] + first[at:at + 2][::-1] + first[at + 2:], "drop": first[:at] + first[at + 1:],
        "double": first[:at] + first[at] + first[at:], "other": first[:at] + by + first[at + 1:],
    }[how]
    exact = [child for child, whole in MOMENT.vocabulary.children if fold(whole.split()[0]) == slip]
    answer = read(f"{slip} seen", MOMENT)
    marks = [one for one in answer.requests if isinstance(one, Mark)] if isinstance(answer, Understood) else []
    assert [one.children for one in marks] == [(child,) for child in exact]


FIRSTS = {fold(name.split()[0]): child for child, name in MOMENT.vocabulary.children}
LINE_WORDS = {"all", "everyone", "none", "nobody", "rest", "others", "not"}
SOUP = [*FIRSTS, *LINE_WORDS, "seen", "not yet", "n", "y", "away", "but", "hips", "toes", "left", "cartwheel", ",", ";",
        "and", "at 17:10", "show 2", "medley", "polka", "undo", "yes", "is", "the", "later", "owed", "gone", "ok"]


@settings(max_examples=15000, deadline=None)
@given(words=st.lists(st.sampled_from(SOUP), min_size=1, max_size=10))
def test_nobody_is_marked_who_was_not_named(words: list[str]) -> None:
    """Whatever words meet: a mark is of children that the text names, a line's of one that it speaks of."""
    text = " ".join(words)
    named = {FIRSTS[word] for word in words if word in FIRSTS}
    answer = read(text, MOMENT)
    answers = [answer] if isinstance(answer, Understood) else [one for _, one in getattr(answer, "options", ())]
    for request in (request for one in answers for request in one.requests):
        if isinstance(request, Mark | Note):
            assert set(request.children) <= named
        if isinstance(request, MarkLine):
            assert LINE_WORDS & set(words)
            assert {*request.missed, *request.left} <= named
