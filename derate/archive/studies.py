"""Headroom and spread of every design of an archive: what `derate headroom` and `derate stress --spread` find of each.

This is what the process that works through a design does; `derate.archive.study_run` gives the work out and keeps it.
"""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import TYPE_CHECKING

from derate.archive.rows import Asked, CureRow, EndRow, SpreadRow, Studied, four
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from derate.study.work import Work


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
