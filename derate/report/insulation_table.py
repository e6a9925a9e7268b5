"""The insulation summary as rows of a table: what each path between two circuits needs and what was found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from derate.report.insulation import FamilyInsulation, verdict_of
from derate.report.plain import plain
from derate.required.summary import PairSummary, PathSummary
from derate.terms.dimension import LENGTH, VOLTAGE, Dimension
from derate.terms.values import Value
from derate.text.units import show_value

NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class InsulationRow:
    """One path of one family. figures: (heading, text, number of its row or 0); weakest: the weakest of its pair"""

    family: str
    role: str
    path: str
    insulation: str
    why: str
    verdict: str
    figures: tuple[tuple[str, str, int], ...]
    weakest: bool


def insulation_rows(families: Iterable[FamilyInsulation]) -> tuple[InsulationRow, ...]:
    """One row a path, and one for the electric strength of each pair of circuits."""
    rows = []
    for one in families:
        for pair in one.pairs:
            rows += [_path(one, pair, path) for path in pair.paths]
            if pair.subject is not None or pair.strength is not None or pair.test is not None:
                rows.append(_strength(one, pair))
    return tuple(rows)


def _path(one: FamilyInsulation, pair: PairSummary, path: PathSummary) -> InsulationRow:
    figures = tuple(
        (f"{what} {word}", _figure(path.figures[f"{word}_{what}"], LENGTH), path.entries.get(f"{word}_{what}", 0))
        for what in ("clearance", "creepage")
        for word in ("needed", "found")
    )
    return InsulationRow(
        one.family, pair.role, plain(str(path.subject)), " or ".join(path.insulation) or NOT_KNOWN, path.why,
        verdict_of([path.subject], one.review), figures,
        pair.weakest is not None and pair.weakest.subject == path.subject,
    )  # fmt: skip


def _strength(one: FamilyInsulation, pair: PairSummary) -> InsulationRow:
    subjects = [pair.subject] if pair.subject is not None else []
    tested = _figure(pair.test, VOLTAGE) if pair.test is not None else "not tested"
    figures = (
        ("electric strength needed, peak", _figure(pair.strength, VOLTAGE), pair.entries.get("strength", 0)),
        ("tested, peak", f"{tested}{f', {pair.result}' if pair.result else ''}", pair.entries.get("test", 0)),
    )
    return InsulationRow(
        one.family, pair.role, "electric strength", " or ".join(pair.insulation) or NOT_KNOWN, pair.why,
        verdict_of(subjects, one.review), figures, False,
    )  # fmt: skip


def _figure(value: Value | None, dimension: Dimension) -> str:
    return NOT_KNOWN if value is None else show_value(value, dimension)
