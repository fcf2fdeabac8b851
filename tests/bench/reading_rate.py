"""How long reading a text takes: `python tests/bench/reading_rate.py`

A class of 36 children and the 34 skills of the demo hall; the words are warm, as they are for every message of a lesson
but the first. Budgets: a typical mark 0.15 ms, the worst message of 2,000 characters 50 ms. Medians of five rounds.
"""
from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from adapters.halls import DEMO_HALL
from bot.people.hall import read_hall
from bot.talk.reading import Context, Vocabulary, read
from bot.talk.reading.words import own_phrases

ROUNDS, TIMES, LONGEST = 5, 200, 2000
MORE = ("Rosa Bell", "Kit Moss", "Uma Rao", "Vito Lanz", "Wren Hale", "Yuki Mori")
TYPICAL = (
    "ava seen", "all seen", "ava, ben and chidi seen cartwheel", "not 7 hips", "ben not yet hips", "łucja seen",
    "ava seen show 2", "ava seen medley galop polka", "mia away", "owed ava", "at 17:10: ava seen cartwheel",
)
SLIPPED = ("ava bakc", "avaa seen", "ava seen cartwheal")


def moment() -> Context:
    """The demo hall's children in one class, a line of four on the shoulder stand."""
    texts = [(Path(DEMO_HALL) / name).read_text("utf-8") for name in ("scheme.toml", "club.toml", "roster.csv")]
    hall = read_hall(*texts)
    names = [line.child for line in hall.roster][:36 - len(MORE)] + list(MORE)
    children = tuple((f"k{at}", name) for at, name in enumerate(names))
    line = tuple(child for child, _ in children[:4])
    return Context(
        Vocabulary(children, hall.scheme, hall.club.classes), datetime(2026, 11, 24, 17, 30, tzinfo=UTC),
        dict(enumerate((child for child, _ in children), 1)), {"red": line}, "shoulder-stand",
        dict.fromkeys(line, "shoulder-stand"), line,
    )


def worst(context: Context) -> Iterator[tuple[str, str]]:
    """Messages as long as any may be, of many shapes, none of them kind."""
    pick = random.Random(3).choice
    firsts = [name.split()[0] for _, name in context.vocabulary.children]
    own = [phrase for phrase, _ in own_phrases()]
    skills = list(context.vocabulary.scheme.skills)
    points = ["hips", "toes", "hold", "left", "right", "both", "legs", "beat", "straight", "galop", "polka", "waltz"]
    repeated = (
        "a ", "a,", "y ", "no ", "ana ", "ana seen ", "ana seen;", "ana, ", "all seen ", "not gus, ", "red is ava ",
        "at 17:10 ", "ava seen at 17:10 ", "at 17:10: ava seen; ", "a's ", "3 weeks ", "17:10 ", "ava n ben y ", ";",
        "x", "ava-", "a-", "ava seen left right ", "ava seen show 2 ", "not 7 hips, 8 toes, ",
        "gus not yet hips, hana, ", "ana not yet hips, ana toes, ", "\ufdfa", "\ufdfa ", "a\u0301\u0316",
        "\u1100\u1161\u11a8", "add ", "is ",
    )
    for shape in repeated:
        yield repr(shape), shape * LONGEST
    mixed: dict[str, Callable[[], str]] = {
        "400 names": lambda: f"{pick(firsts)} ", "all our words": lambda: f"{pick(own)} ",
        "all our words, parted": lambda: f"{pick(own)}, ", "names with a slip": lambda: f"{pick(firsts)}x ",
        "marks with points": lambda: f"{pick(firsts)} {pick(('seen', 'not yet'))} {pick(points)}, ",
        "marks with skills": lambda: f"{pick(firsts)} {pick(('seen', 'away', 'n'))} {pick(skills)} ",
        "any of these": lambda: pick((pick(own), pick(firsts), pick(points), pick(skills))) + pick((" ", ", ", "; ")),
        "any characters": lambda: chr(pick(pick((range(32, 0x3000), range(0x1F300, 0x1FB00), range(0x300, 0x370))))),
    }
    for name, make in mixed.items():
        yield name, "".join(make() for _ in range(LONGEST))


def took(text: str, context: Context, times: int) -> float:
    """Milliseconds for one reading: the median of the rounds."""
    rounds = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        for _ in range(times):
            read(text, context)
        rounds.append((time.perf_counter() - began) / times * 1000)
    return statistics.median(rounds)


def main() -> None:
    """Print what typical and worst messages cost."""
    context = moment()
    began = time.perf_counter()
    read("ava seen", context)
    print(f"the first message of a lesson, which grows the words: {(time.perf_counter() - began) * 1000:.1f} ms")
    for text in (*TYPICAL, *SLIPPED):
        print(f"{took(text, context, TIMES):8.3f} ms  {text}")
    typical = statistics.median(took(text, context, TIMES) for text in TYPICAL)
    print(f"a typical mark: {typical:.3f} ms (budget 0.15)")
    costs = sorted(((took(text[:LONGEST], context, 1), name) for name, text in worst(context)), reverse=True)
    for cost, name in costs[:6]:
        print(f"{cost:8.1f} ms  2,000 characters of {name}")
    print(f"the worst message: {costs[0][0]:.1f} ms (budget 50)")


if __name__ == "__main__":
    main()
