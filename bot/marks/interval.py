"""What a share of so many looks can be, and the curves that are needed for it. Numbers only, no words.

What lives here: Wilson's interval, the incomplete beta function with its inverse, and Student's quantile that follows
from it. Nothing is estimated about anybody here. Checked in `tests/outside/` against published rows and scipy.
"""
from __future__ import annotations

from dataclasses import dataclass
from math import exp, lgamma, log, log1p, sqrt
from statistics import NormalDist

NINETY_FIVE = 0.95
TINY = 1e-300
CLOSE = 1e-15           # relative: where a continued fraction has come to rest
MOST_TERMS = 10_000
HALVINGS = 200          # a bracket of doubles is exhausted long before


@dataclass(frozen=True, slots=True)
class Interval:
    """From where to where a number may lie, at the confidence that it was asked for. Both ends are within."""

    low: float
    high: float


def wilson(hits: int, of: int, confidence: float = NINETY_FIVE) -> Interval | None:
    """The score interval of a share; None where nothing was counted.

    Source: Wilson 1927; advised for few cases by Brown, Cai & DasGupta 2001.
    """
    if not 0 <= hits <= of:
        raise ValueError(f"{hits} of {of} is no share")
    if of == 0:
        return None
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    share, wide = hits / of, z * z / of
    middle, half = share + wide / 2, z * sqrt(share * (1 - share) / of + wide / (4 * of))
    low = 0.0 if hits == 0 else (middle - half) / (1 + wide)
    high = 1.0 if hits == of else (middle + half) / (1 + wide)
    return Interval(low, high)


def below(x: float, a: float, b: float) -> float:
    """The share of the beta distribution (a, b) that lies below x: the regularised incomplete beta function.

    Source: its continued fraction, Abramowitz & Stegun 26.5.8, worked out by Lentz's method (Lentz 1976, as modified
    by Thompson & Barnett 1986); from memory, checked against scipy. `a` and `b` are above 0.
    """
    if a <= 0 or b <= 0:
        raise ValueError("a beta distribution has two numbers above 0")
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    head = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x < (a + 1) / (a + b + 2):       # on this side the fraction comes to rest soon
        return min(1.0, head * _fraction(x, a, b) / a)
    return max(0.0, 1 - head * _fraction(1 - x, b, a) / b)


def _fraction(x: float, a: float, b: float) -> float:
    """1/(1 + d1/(1 + d2/(1 + …))) by Lentz's method, two terms at a time."""
    c, d = 1.0, _not_zero(1 - (a + b) * x / (a + 1))
    d = 1 / d
    whole = d
    for m in range(1, MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        factor = 1.0
        for term in (even, odd):
            d = 1 / _not_zero(1 + term * d)
            c = _not_zero(1 + term / c)
            factor = c * d
            whole *= factor
        if abs(factor - 1) < CLOSE:
            break
    return whole


def _not_zero(number: float) -> float:
    return number if abs(number) > TINY else TINY


def beta_quantile(share: float, a: float, b: float) -> float:
    """The x below which that share of the beta distribution (a, b) lies, by halving: slow to write wrongly."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if below(middle, a, b) < share else (low, middle)
    return high


def students_t(confidence: float, freedom: int) -> float:
    """How many standard errors on either side hold so much of Student's t with these degrees of freedom.

    Source: Abramowitz & Stegun 26.7.1 (from memory): t² / (freedom + t²) has a beta distribution.
    """
    x = beta_quantile(1 - confidence, freedom / 2, 0.5)
    return sqrt(freedom * (1 / x - 1))
