"""Exact arithmetic for distances: whole micrometres and fractions, so that rounding up never rests on a float.

Contents: `exact`, `micrometres`, `rounded_up`, `metres`, `millimetres`.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import isinf, isnan


@lru_cache(maxsize=8192)
def exact(number: float) -> Fraction:
    """The decimal number a float was written as: 2.4 is 12/5, not the nearest binary fraction.

    Raises ValueError for infinity and NaN.
    """
    if isinf(number) or isnan(number):
        raise ValueError(f"{number} is no number to calculate with")
    return Fraction(repr(float(number)))


def micrometres(metres_: float) -> Fraction:
    """A length in metres [m] as micrometres [um], to the nearest nanometre, which takes float dust off products."""
    return Fraction(round(exact(metres_) * 1_000_000_000), 1000)


def rounded_up(length: Fraction, step: int = 1) -> int:
    """A length [um] rounded up to a whole number of steps [um]; a length on a step stays.

    >>> rounded_up(Fraction(2810), 100)
    2900
    >>> rounded_up(Fraction(2400), 100)
    2400
    """
    return -int(-length // step) * step


def metres(length: int) -> float:
    """Whole micrometres as metres [m]: the float nearest to the decimal number."""
    return float(f"{length}e-6")


def millimetres(length: Fraction | int) -> str:
    """A length [um] as text in millimetres, exactly where its decimals end, to a tenth of a micrometre otherwise.

    >>> millimetres(2810), millimetres(4440)
    ('2.81', '4.44')
    """
    value = Fraction(length, 1000) if isinstance(length, int) else length / 1000
    text = f"{float(value):.4f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
