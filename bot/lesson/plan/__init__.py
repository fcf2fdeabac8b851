"""Whom to watch next: the lines of the rest of a lesson, so that the most (weighted) ticks fall inside its minutes.

What lives here: the problem and its plan as plain data (`model`, `files`), and what makes one out of the other
(`planner` and what it calls). What may not: marks, words, a clock. Chance is a generator that the caller hands in, and
so is the end of its patience; the same problem, seed and number of trials give the same plan.
"""
