"""Headroom and spread of every design of an archive: what `derate headroom` and `derate stress --spread` find of each.

A study hangs on a result of the store: as long as nothing that a design was judged from has changed, its study stands.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from math import isfinite
from typing import TYPE_CHECKING

from derate.archive.judging import Judge, Order, Task
from derate.archive.refresh import MOST_TOLD, Progress
from derate.archive.rows import Asked, CureRow, EndRow, Judged, SpreadRow, Studied, four
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from derate.archive.store import Store
    from derate.study.work import Work

_STORED = 50  # designs whose studies are written together
_EVERY = 5.0  # seconds after which what is there is written
CHANGED = "it was changed after it was judged; the same command judges and studies it again"


# In the process that works it out.


def studied(work: Work, today: date, asked: Asked) -> Studied:
    """The rows of one study of a design that was worked through. Raises ReadingError."""
    return _headroom(work, today) if asked.study == "headroom" else _spread(work, today, asked)


def _headroom(work: Work, today: date) -> Studied:
    from derate.study.headroom import cures, headroom
    from derate.study.trying import MOST_WORK, Bench

    bench = Bench(work, today, most=MOST_WORK)
    ends = tuple(
        EndRow(
            one.name,
            one.axis.unit if one.axis is not None else "",
            one.axis.rated if one.axis is not None else None,
            one.end,
            one.open,
            one.stops.rule if one.stops is not None else "",
            str(one.stops.subject) if one.stops is not None else "",
            one.why,
        )
        for one in headroom(bench)
    )
    cured = tuple(
        CureRow(
            one.finding.rule,
            str(one.finding.subject),
            one.name,
            four(one.value if isinstance(one.value, Value) else None),
            _unit_of(one.name),
        )
        for one in cures(bench)
    )
    return Studied(bench.allowance.over, ends, cured)


def _spread(work: Work, today: date, asked: Asked) -> Studied:
    from derate.study.spread.replay import Way
    from derate.study.spread.spread import spread

    way = Way(asked.draws, min(asked.draws, max(200, asked.draws // 10)), asked.seed)
    found = []
    for one in spread(work, today, way, cores=1).rows:  # the cores are taken by other designs
        low, high = one.root if one.root is not None and not one.safety else (None, None)
        drawn, first = one.drawing, next(iter(one.drivers), None)
        found.append(
            SpreadRow(
                one.finding.rule,
                one.finding.severity,
                one.finding.subject.kind,
                str(one.finding.subject),
                str(one.finding.case) if one.finding.case is not None else "",
                one.finding.verdict,
                four(one.finding.stress),
                four(one.finding.limit),
                one.finding.unit,
                one.safety,
                _finite(one.nominal),
                _finite(low),
                _finite(high),
                _finite(drawn.mean) if drawn is not None else None,
                _finite(drawn.sigma) if drawn is not None else None,
                drawn.draws if drawn is not None else None,
                drawn.beyond if drawn is not None else None,
                drawn.share[0] if drawn is not None else None,
                drawn.share[1] if drawn is not None else None,
                f"{first.leaf.subject} {first.leaf.name}".strip() if first is not None else "",
                first.share if first is not None else None,
                one.why,
                one.outside,
            )
        )
    return Studied(spread=tuple(found))


def _unit_of(quantity: str) -> str:
    term = VOCABULARY.get(quantity)
    return term.dimension.symbol if term is not None and term.dimension is not None else ""


def _finite(number: float | None) -> float | None:
    return number if number is not None and isfinite(number) else None


# In the process that has the store.


@dataclass(slots=True)
class Studies:
    """What a study over an archive came to. stood: designs whose study stands; missed: the first of them, and why"""

    stood: int = 0
    done: int = 0
    stopped: int = 0
    missed: dict[str, str] = field(default_factory=dict)
    many_missed: int = 0


def study_all(
    store: Store,
    run: int,
    tasks: Sequence[Task],
    order: Order,
    judge: Judge,
    tell: Callable[[Progress], None] = lambda progress: None,
) -> Studies:
    """Study every judged design of a run whose study is not in the store yet; what is there stays, if interrupted."""
    assert order.study is not None
    left = store.unstudied(run, order.study.key)
    todo = [one for one in tasks if one.name in left]
    found = Studies(stood=store.studied(run, order.study.key))
    waiting: list[tuple[int, Judged]] = []
    began = since = time.monotonic()

    def write() -> None:
        nonlocal waiting
        store.add_studies(order.study.key if order.study is not None else "", order.day, waiting)
        waiting = []

    with closing(judge(_each(todo))) as coming:
        try:
            for one in coming:
                found.done += 1
                result, trail = left[one.design]
                if one.outcome == "judged" and one.trail != trail:
                    one = Judged(one.design, "unread", problems=CHANGED)
                if one.outcome == "unread":
                    found.many_missed += 1
                    if len(found.missed) < MOST_TOLD:
                        found.missed[one.design] = one.problems
                elif one.studied is not None and one.studied.stopped:
                    found.stopped += 1
                waiting.append((result, one))
                if len(waiting) >= _STORED or time.monotonic() - since > _EVERY:
                    write()
                    since = time.monotonic()
                tell(Progress(found.stood + len(todo), found.stood, found.done, time.monotonic() - began))
        except KeyboardInterrupt:
            write()
            raise
    write()
    return found


def _each(tasks: Sequence[Task]) -> Iterator[Task]:
    yield from tasks
