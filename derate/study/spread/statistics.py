"""Shares with their intervals, order statistics of measured samples, extreme value and root of squares of terms."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from math import exp, inf, lgamma, log, log1p, prod, sqrt
from typing import NamedTuple

# Shares and samples: what a count out of a number of draws, or a number of samples that all held, lets anybody say.


def interval_of_share(count: int, draws: int, confidence: float = 0.95) -> tuple[float, float]:
    """The interval of a share that was seen `count` times in `draws` independent draws, each end exact.

    confidence: of the whole interval, 0 to 1; where none or all were seen the one end that is left takes all of it
    The ends of Clopper and Pearson (Biometrika 26, 1934, 404): the shares at which as many, or as few, would be seen
    with the probability that is left. Raises ValueError.

    >>> low, high = interval_of_share(0, 20_000)
    >>> low, round(100.0 * high, 4)
    (0.0, 0.015)
    """
    if not 0 <= count <= draws or draws < 1:
        raise ValueError(
            f"count is {count} of {draws}: state a whole number from 0 to the draws, and at least one draw"
        )
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence:g}: state a share between 0 and 1")
    left = 1.0 - confidence
    each = left if count in (0, draws) else left / 2.0
    low = 0.0 if count == 0 else _share(lambda p: 1.0 - at_most(count - 1, draws, p) < each)
    high = 1.0 if count == draws else _share(lambda p: at_most(count, draws, p) > each)
    return low, high


def _share(below: Callable[[float], bool]) -> float:
    """Where a condition that holds from nought upwards ends, by halving."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2.0
        if below(middle):
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def at_most(count: int, draws: int, share: float) -> float:
    """The probability that what comes with a share comes at most `count` times in so many draws.

    >>> at_most(0, 2, 0.5), at_most(1, 2, 0.5)
    (0.25, 0.75)
    """
    if count >= draws or share <= 0.0:
        return 1.0
    if count < 0 or share >= 1.0:
        return 0.0
    one, other = log(share), log1p(-share)
    ways = _ways(count, draws)
    return min(sum(exp(way + k * one + (draws - k) * other) for k, way in enumerate(ways)), 1.0)


@lru_cache(4)
def _ways(count: int, draws: int) -> tuple[float, ...]:
    """Logarithm of how many ways there are to pick each number up to `count` out of the draws."""
    every = lgamma(draws + 1)
    return tuple(every - lgamma(k + 1) - lgamma(draws - k + 1) for k in range(count + 1))


def confidence_of(samples: int, coverage: float, two_sided: bool = False) -> float:
    """How sure it is that the extreme readings of so many samples enclose that share of all there will be.

    one-sided: beyond the greatest lie no more than 1 - coverage; two-sided: between least and greatest lie coverage
    No form of distribution is taken. By the order statistics of a sample (Wilks, 1941): 1 - coverage^n, and
    1 - n coverage^(n-1) + (n-1) coverage^n.

    >>> round(confidence_of(59, 0.95), 3), round(confidence_of(93, 0.95, two_sided=True), 3)
    (0.952, 0.95)
    """
    if samples < 1 or not 0.0 < coverage < 1.0:
        raise ValueError(f"{samples} samples for {coverage:g}: state at least one, and a share between 0 and 1")
    alone: float = coverage**samples
    if not two_sided:
        return 1.0 - alone
    return 1.0 - samples * coverage ** (samples - 1) + (samples - 1) * alone


def samples_for(coverage: float, confidence: float, two_sided: bool = False) -> int:
    """The least number of samples whose extreme readings enclose that share with that confidence.

    >>> samples_for(0.95, 0.95), samples_for(0.95, 0.95, two_sided=True)
    (59, 93)
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence:g}: state a share between 0 and 1")
    few, many = 1, 2
    while confidence_of(many, coverage, two_sided) < confidence:
        few, many = many, many * 2
    while many - few > 1:
        middle = (few + many) // 2
        if confidence_of(middle, coverage, two_sided) < confidence:
            few = middle
        else:
            many = middle
    return few if confidence_of(few, coverage, two_sided) >= confidence else many


def coverage_of(samples: int, confidence: float, two_sided: bool = False) -> float:
    """The share of all there will be that the extreme readings of so many samples enclose with that confidence.

    >>> round(coverage_of(5, 0.95), 3)
    0.549
    """
    if not two_sided:
        return float((1.0 - confidence) ** (1.0 / samples))
    if samples < 2:
        return 0.0
    return _share(lambda share: share == 0.0 or confidence_of(samples, share, True) > confidence)


# Terms put together: the parts of one tolerance, and the moves of one figure.


class Term(NamedTuple):
    """One part of what a figure may move by. low, high: its least and greatest move; biased: no matter of chance."""

    low: float
    high: float
    biased: bool = False


def extreme_sum(terms: Iterable[Term]) -> tuple[float, float]:
    """Every term at its worst at once, both ways."""
    own = tuple(terms)
    return sum(one.low for one in own), sum(one.high for one in own)


def root_of_squares(terms: Iterable[Term], down: float = 0.0, up: float = 0.0) -> tuple[float, float]:
    """Biased terms added with their signs, random ones under the root, each end by itself.

    down, up: what random terms that move together add under either root, such as 2 ρ a b
    A figure that moves further one way than the other has two different ends: one root for both would hide it.

    >>> root_of_squares([Term(-3.0, 3.0), Term(-4.0, 4.0), Term(1.0, 1.0, biased=True)])
    (-4.0, 6.0)
    """
    own = tuple(terms)
    low, high = extreme_sum(one for one in own if one.biased)
    down += sum(min(one.low, 0.0) ** 2 for one in own if not one.biased)
    up += sum(max(one.high, 0.0) ** 2 for one in own if not one.biased)
    return low - sqrt(max(down, 0.0)), high + sqrt(max(up, 0.0))


def extreme_product(shares: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """Independent shares of one figure, each as what is left of it: both ends multiplied.

    >>> low, high = extreme_product([(0.8, 1.2), (0.8, 1.0), (0.8, 1.0)])
    >>> round(low, 3), high
    (0.512, 1.2)
    """
    own = tuple(shares)
    if any(low < 0.0 or high < low or high == inf for low, high in own):
        raise ValueError("a share is what is left: state its ends rising, none below 0")
    return prod(low for low, _ in own), prod(high for _, high in own)


def quantile(ordered: Sequence[float], share: float) -> float:
    """A quantile of figures in rising order, in a straight line between those beside it."""
    at = share * (len(ordered) - 1)
    below = int(at)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (at - below) * (ordered[above] - ordered[below]))
