"""How far the planner's chances can be trusted: in simulated clubs, how often what was called 70 % likely passed.

Children differ, skills differ, and children learn from week to week; none of it is known to the estimate, which sees
the marks alone, through the same fold as the product. Beside it stand the record of the class on the skill alone, as
plans were made by it before, and a flat 4 in 5. Lower is better (Brier 1950: the mean square of what was wrong).

    python tests/bench/reliability.py [CLUBS]

Goals: no decile that was used 200 times is off by more than 0.10; a lower Brier score than the class's record alone.
"""
from __future__ import annotations

import sys
from collections import defaultdict
from datetime import UTC, datetime, timedelta
from math import exp
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bot.facts import Mark
from bot.lesson.book import Child, ClassBook
from bot.lesson.likely import USUAL, Record
from bot.marks.standing import UNTRIED, Rules, advance
from bot.scheme.model import Award, Scheme, Show, Skill

START = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
CHILDREN, SKILLS, WEEKS, TRIES = 12, 15, 30, 4


class Club:
    """One class over a year. `hard`: how hard its skills are as a whole, from 0 (easy) on."""

    def __init__(self, seed, hard):
        self.chance = Random(seed)
        self.able = {f"c{n}": self.chance.gauss(0, 0.8) for n in range(CHILDREN)}
        self.level = {f"s{n}": self.chance.gauss(hard, 0.9) for n in range(SKILLS)}
        self.learns = {child: self.chance.uniform(0.02, 0.12) for child in self.able}
        skills = tuple(
            Skill(id=key, name=key, shows=(Show(seconds=20),) * self.chance.choice((1, 2))) for key in self.level
        )
        scheme = Scheme(name="s", award=(Award(id="a", name="A", skill=skills),), rest_s=0)
        self.rules = {key: Rules(1, one, scheme, ZoneInfo("UTC")) for key, one in scheme.skills.items()}
        self.standings = {child: {} for child in self.able}
        self.shown = defaultdict(int)       # (child, skill) → how often: what is shown is learned

    def passes(self, child, skill, week, day):
        """Whether a show passes. `day`: how it goes for her on this skill today, the same for both shows."""
        more = self.learns[child] * week + 0.25 * self.shown[child, skill] + day
        return self.chance.random() < 1 / (1 + exp(-(1.2 + self.able[child] - self.level[skill] + more)))

    def book(self):
        """The class as the planner sees it."""
        children = {key: Child(key, key, "x", "a") for key in self.able}
        return ClassBook("x", children, self.standings)

    def week(self, number, predict):
        """A lesson: each child shows some of what she owes; each show is predicted before it is seen."""
        now = START + timedelta(weeks=number)
        for child in self.able:
            owed = [key for key in self.rules if not self.standings[child].get(key, UNTRIED).ticked]
            for skill in self.chance.sample(owed, min(TRIES, len(owed))):
                self._show(child, skill, number, now, predict)

    def _show(self, child, skill, number, now, predict):
        day = self.chance.gauss(0, 0.5)
        for _ in self.rules[skill].skill.shows:
            now += timedelta(seconds=90)
            passed = self.passes(child, skill, number, day)
            predict(self.book(), child, skill, now, passed)
            verdict = "seen" if passed else "not yet"
            mark = Mark(f"{child}{skill}{now}", child, skill, f"x/{now.date()}", verdict, "jo", now, now, 1)
            after, _ = advance(self.standings[child].get(skill, UNTRIED), mark, lambda _: self.rules[skill])
            self.standings[child] = {**self.standings[child], skill: after}
            if not passed:
                break
        self.shown[child, skill] += 1


def of_class(book, skill):
    """The chance by the class's record on the skill alone: ticks and tries."""
    seen, missed = USUAL
    for of_child in book.standings.values():
        one = of_child.get(skill)
        if one is not None and (one.tries or one.ticked):
            seen += one.ticked
            missed += max(0, one.tries - 1) + (one.retest_from is not None)
    return seen / (seen + missed)


def main(clubs):
    """Simulate and print."""
    said = {"likely": [], "class alone": [], "4 in 5": []}

    def predict(book, child, skill, now, passed):
        said["likely"].append((Record(book, skill, now).of(child).mean, passed))
        said["class alone"].append((of_class(book, skill), passed))
        said["4 in 5"].append((0.8, passed))

    for seed in range(clubs):
        club = Club(seed, hard=seed % 4 * 0.6)
        for week in range(WEEKS):
            club.week(week, predict)
    for name, rows in said.items():
        brier = sum((mean - passed) ** 2 for mean, passed in rows) / len(rows)
        print(f"{name:12} {len(rows)} shows, Brier {brier:.4f}")
    print("\nsaid   shows  passed")
    worst = 0.0
    for decile in range(10):
        of = [(mean, passed) for mean, passed in said["likely"] if min(9, int(mean * 10)) == decile]
        if not of:
            continue
        mean, share = sum(one for one, _ in of) / len(of), sum(passed for _, passed in of) / len(of)
        worst = max(worst, abs(mean - share)) if len(of) >= 200 else worst
        print(f"{mean:.2f} {len(of):8}   {share:.2f}   {'#' * round(share * 40)}")
    print(f"\nthe worst decile is off by {worst:.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
