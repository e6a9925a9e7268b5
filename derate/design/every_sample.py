"""What was read of one sample asked of every other: those that nobody wrote down, and retests without a first outcome.

`supply.samples` says how many there are. A sample of which nobody wrote something down stands among the readings and
tests as one that may have come to anything, so that whatever is left out or deleted betters nothing. A retest stands
beside the first outcome and never in its place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from math import inf
from typing import Any, TypeVar

from derate.design.readings import STATED, Capture, Condition, Reading, Result, Test
from derate.design.record import Stated
from derate.design.samples import NOT_WRITTEN, Sample
from derate.terms.dimension import CELSIUS
from derate.terms.values import Place, Problem, Value
from derate.terms.vocabulary import VOCABULARY

MOST, MOST_UNREAD = 100, 2000  # samples of one file, and what may be missing of them all together
_One = TypeVar("_One", Reading, Test)


def completed(
    many: int | None,
    place: Place,
    readings: tuple[Reading, ...],
    tests: tuple[Test, ...],
    captures: Sequence[Capture],
    problems: list[Problem],
) -> tuple[tuple[Reading, ...], tuple[Test, ...]]:
    """The readings and tests with those of every sample that nobody wrote down behind them.

    many, place: samples of the supply as the file counts them, None where it does not; where the supply stands
    captures: what a scope captured of them is of one that there is; nothing is asked of it of the others

    A sample of more or fewer than the supply has, one where nobody counts them, and a retest without the first outcome
    are problems: the first outcome stays.
    """
    written: list[Reading | Test | Capture] = [*readings, *tests, *captures]
    if many is not None and not 1 <= many <= MOST:
        problems.append(Problem(place, f"{many} samples", f"write samples: a number from 1 to {MOST}"))
        return readings, tests
    told: set[Place | None] = set()  # an entry of several figures is told once
    for one in written:
        sample = one.sample
        if sample is None or sample.of == many or sample.place in told:
            continue
        told.add(sample.place)
        what = "the supply does not say how many there are" if many is None else f"the supply has {many}"
        write = f"write samples: {sample.of} under supply" if many is None else f"write {sample.number} of {many}"
        problems.append(Problem(sample.place or Place(""), f"this is {sample.words}, and {what}", write))
    _first_outcomes([(one, asked_of(one), one.stated.place) for one in readings], problems)
    _first_outcomes([(one, _of_test(one), one.place) for one in tests], problems)
    if many is None or many < 2:
        return readings, tests
    of_readings = tuple(_unread(readings, [asked_of(one) for one in readings], many, _is_read, _reading))
    of_tests = tuple(_unread(tests, [_of_test(one) for one in tests], many, _is_done, _test))
    missing = len(of_readings) + len(of_tests)
    if missing > MOST_UNREAD:
        what = f"{missing} readings and tests of {many} samples are not written down, and {MOST_UNREAD} is the most"
        problems.append(Problem(place, what, "write samples: the number of those that were read"))
        return readings, tests
    return (*readings, *of_readings), (*tests, *of_tests)


def _first_outcomes(found: Sequence[tuple[Any, Hashable, Place]], problems: list[Problem]) -> None:
    """A retest stands beside what the same sample came to first."""
    first = {(key, _number(one)) for one, key, _ in found if not one.retest and not _is_of_no_sample(one)}
    for one, key, place in found:
        if one.retest and (key, _number(one)) not in first:
            what = f"this was tried again ({one.retest}), and what it came to first is not written down"
            problems.append(Problem(place, what, "write the first outcome beside it, at the same condition: it stays"))


def _is_of_no_sample(one: Reading | Test) -> bool:
    """Whether nobody held an instrument to it, or did it: no first outcome of anything. One said unknown is heard.

    What is merely stated is of the sample that it names: it shows nothing good, and is written down all the same.
    """
    if isinstance(one, Test) and one.result.word == "not done":
        return True
    return bool(one.unseen) and one.known != STATED


def _number(one: Reading | Test) -> int | None:
    return one.sample.number if one.sample is not None else None


def _unread(own: Sequence[_One], keys: Sequence[Hashable], many: int, is_known: Any, made: Any) -> Iterable[_One]:
    """Those that are missing: every sample is read as often as the one that was read most, at the same condition."""
    groups: dict[Hashable, list[_One]] = {}
    for one, key in zip(own, keys, strict=True):
        if not one.retest:
            groups.setdefault(key, []).append(one)
    for group in groups.values():
        counts = Counter(one.sample.number for one in group if one.sample is not None and is_known(one))
        most = max(counts.values(), default=1)
        for number in range(1, many + 1):
            for _ in range(most - counts[number]):
                yield made(group, Sample(number, many))


# What is asked of every sample: the same thing at the same condition. The ambient of a bench moves, and is none of it;
# nor how long it had been on, but for whether it was an hour: what was read on its way up is at least that.


def asked_of(one: Reading) -> Hashable:
    """What of what at which condition: alike where every sample is asked for the same thing."""
    return (one.quantity, str(one.target), one.at_frequency, _where(one.condition))


def _where(condition: Condition | None) -> Hashable:
    if condition is None:
        return None
    currents = tuple(sorted((str(name), _middle(stated)) for name, stated in condition.currents))
    mains, hertz = _middle(condition.mains), _middle(condition.frequency)
    return (mains, hertz, condition.load, currents, condition.switch_on, condition.is_steady)


def _of_test(one: Test) -> Hashable:
    sides = tuple(sorted(map(str, one.between)))
    where = str(one.output), str(one.taken_from), " ".join(one.fault.lower().split())
    return (one.test, sides, *where, _middle(one.voltage), _middle(one.mains))


def _middle(stated: Stated | None) -> float:
    value = stated.value if stated is not None else None
    return value.middle if isinstance(value, Value) else -1.0


def _is_read(one: Reading) -> bool:
    return isinstance(one.stated.value, Value) and not _is_of_no_sample(one)


def _is_done(one: Test) -> bool:
    came_to = one.result.meaning != "nothing said" or one.result.stated is not None or _shuts_down(one)
    return one.done and not _is_of_no_sample(one) and came_to


def _shuts_down(one: Test) -> bool:
    return one.shuts_down_at is not None and isinstance(one.shuts_down_at.value, Value)


def _anything(place: Place, least: float = 0.0) -> Stated:
    """What nobody wrote down may be anything."""
    return Stated(Value(least, least, inf, inf), place, note=NOT_WRITTEN, text=NOT_WRITTEN)


def _reading(group: Sequence[Reading], sample: Sample) -> Reading:
    first = group[0]
    least = -273.15 if VOCABULARY[first.quantity].dimension == CELSIUS else 0.0
    stated = _anything(first.stated.place, least)
    return first._replace(stated=stated, known_by="measured", ohms=None, sample=sample, retest="", unread=True)


def _test(group: Sequence[Test], sample: Sample) -> Test:
    first = group[0]
    figure = next((one.result for one in group if one.result.stated is not None), None)
    result = Result()
    if figure is not None:
        result = result._replace(stated=_anything(first.place), dimension=figure.dimension)
    shuts = _anything(first.place) if any(one.shuts_down_at is not None for one in group) else None
    return first._replace(
        result=result,
        done=True,
        shuts_down_at=shuts,
        known_by="measured",
        note="",
        photo="",
        sample=sample,
        retest="",
        unread=True,
    )
