"""What readings of several samples say of the series they are of: order statistics, of whatever distribution.

Each sample is judged for itself (`derate.design.every_sample`), and no limit is eased by what stands here.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import NamedTuple

from derate.design.every_sample import asked_of
from derate.design.readings import Reading
from derate.stress.bench.evidence import at_condition
from derate.study.spread.statistics import confidence_of, coverage_of, samples_for
from derate.terms.values import Value

COVERAGE, CONFIDENCE = 0.9, 0.95  # the share of a series, and how sure, that few samples are asked for


class Sampled(NamedTuple):
    """One thing that was read of several samples at one condition.

    first: a reading of them, for what was read; where: its condition in words, '' for none that is known
    of: samples there are; read: numbers of those somebody read
    lowest, highest: figures, each with the number of its sample; of a sample read twice the one further out
    """

    first: Reading
    where: str
    of: int
    read: tuple[int, ...]
    lowest: tuple[float, int]
    highest: tuple[float, int]

    @property
    def missing(self) -> tuple[int, ...]:
        """Numbers of the samples that nobody read."""
        return tuple(one for one in range(1, self.of + 1) if one not in self.read)

    def confidence(self, two_sided: bool = False) -> float:
        """How sure it is that 90 % of the series lie no further out than the samples that were read, 0 to 1."""
        return confidence_of(len(self.read), COVERAGE, two_sided)

    def coverage(self, two_sided: bool = False) -> float:
        """The share of the series that lies no further out than the samples that were read, at 95 %, 0 to 1."""
        return coverage_of(len(self.read), CONFIDENCE, two_sided)


class Samples(NamedTuple):
    """Everything that was read of several samples, and how many it would take."""

    found: tuple[Sampled, ...] = ()
    coverage: float = COVERAGE
    confidence: float = CONFIDENCE

    def needed(self) -> tuple[tuple[float, float, int, int], ...]:
        """Coverage, confidence, and the samples it takes: beyond the furthest, and between both ends."""
        asked = ((0.9, 0.9), (0.95, 0.95), (0.99, 0.95))
        return tuple((share, sure, samples_for(share, sure), samples_for(share, sure, True)) for share, sure in asked)


def sampled(readings: Iterable[Reading]) -> Samples:
    """Everything that was read of samples that are told apart, in the order written.

    A retest is none of a series: its first outcome is. What nobody read with an instrument is no sample of anything.
    """
    groups: dict[Hashable, list[Reading]] = {}
    for one in readings:
        if one.sample is not None and not (one.retest or one.unread or one.unseen):
            groups.setdefault(asked_of(one), []).append(one)
    found = []
    for group in groups.values():
        low: dict[int, float] = {}
        high: dict[int, float] = {}
        many = 0
        for one in group:
            assert one.sample is not None
            value, number, many = one.stated.value, one.sample.number, one.sample.of
            if isinstance(value, Value):
                low[number] = min(low.get(number, value.near), value.near)
                high[number] = max(high.get(number, value.far), value.far)
        if low and many > 1:
            least, most = min(low, key=lambda one: low[one]), max(high, key=lambda one: high[one])
            at = at_condition(group[0].condition) if group[0].condition is not None else None
            where = at.words if at is not None else ""
            ends = (low[least], least), (high[most], most)
            found.append(Sampled(group[0], where, many, tuple(sorted(low)), *ends))
    return Samples(tuple(found))
