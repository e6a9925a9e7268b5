"""Insulation of a design as text and JSON: each pair of circuits, needed, found, weakest path, verdict."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isinf

from derate.judge.review import Finding, Review
from derate.ledger.entry import Subject
from derate.report.plain import plain
from derate.report.words import CAUTION
from derate.required.summary import PairSummary, PathSummary
from derate.terms.dimension import LENGTH, VOLTAGE, Dimension
from derate.terms.values import Value
from derate.terms.words import VERDICTS, Verdict
from derate.text.units import show_value

_UNKNOWN = "not known"


@dataclass(frozen=True, slots=True)
class FamilyInsulation:
    """What one family of rules makes of a design: its pairs of circuits and the review that judged them."""

    family: str
    pairs: tuple[PairSummary, ...]
    review: Review


def insulation_lines(families: Sequence[FamilyInsulation]) -> Iterator[str]:
    """The summary for people and pipes: one block a pair of circuits, one line a path."""
    for one in families:
        yield f"Insulation after {one.family}"
        if not one.pairs:
            yield "  no pair of circuits is described: list the barriers"
        for pair in one.pairs:
            yield ""
            yield from _pair(pair, one.review)
        yield ""
    yield CAUTION


def insulation_json(path: str, families: Sequence[FamilyInsulation]) -> str:
    """The same as JSON, SI base units, infinity as null with its end named open."""
    document = {
        "derate": 1,
        "design": path,
        "families": [
            {"family": one.family, "pairs": [_pair_json(pair, one.review) for pair in one.pairs]} for one in families
        ],
    }
    return json.dumps(document, indent=2, ensure_ascii=False, sort_keys=False)


def verdict_of(subjects: Sequence[Subject], review: Review) -> Verdict:
    """The worst verdict of all findings about these subjects; not assessed when no rule looked."""
    own = [one for one in review.findings if one.subject in subjects and one.verdict != "not applicable"]
    return min((one.verdict for one in own), key=VERDICTS.index, default="not assessed")


def _subjects(pair: PairSummary) -> list[Subject]:
    return [path.subject for path in pair.paths] + ([pair.subject] if pair.subject is not None else [])


def _pair(pair: PairSummary, review: Review) -> Iterator[str]:
    yield f"{pair.role}: {verdict_of(_subjects(pair), review)}"
    yield f"  needed: {' or '.join(pair.insulation) or _UNKNOWN} insulation ({plain(pair.why)})"
    if pair.weakest is not None:
        yield f"  weakest path: {plain(str(pair.weakest.subject))}"
    elif pair.paths:
        yield "  weakest path: none can be compared yet"
    else:
        yield "  no path between them is described"
    for path in pair.paths:
        yield f"  {plain(str(path.subject))}: {verdict_of([path.subject], review)}"
        for what in ("clearance", "creepage"):
            needed, found = path.figures[f"needed_{what}"], path.figures[f"found_{what}"]
            row = path.entries.get(f"needed_{what}")
            told = f" (row {row})" if row is not None else ""
            yield f"    {what}: found {_figure(found, LENGTH)}, needed {_figure(needed, LENGTH)}{told}"
        if path.figures["working_voltage"] is not None:
            peak = _figure(path.figures["working_voltage_peak"], VOLTAGE)
            yield f"    working voltage: {_figure(path.figures['working_voltage'], VOLTAGE)} rms, {peak} peak"
    if pair.strength is not None or pair.test is not None:
        row = pair.entries.get("strength")
        told = f" (row {row})" if row is not None else ""
        outcome = f", {pair.result}" if pair.result else ""
        tested = f"tested {_figure(pair.test, VOLTAGE)} peak{outcome}" if pair.test is not None else "not tested"
        yield f"  electric strength: needed {_figure(pair.strength, VOLTAGE)} peak{told}, {tested}"
    yield from _reasons(pair, review)


def _reasons(pair: PairSummary, review: Review) -> Iterator[str]:
    """What stands against the pair, one line a finding, fails first."""
    own = [one for one in review.findings if one.subject in _subjects(pair) and one.verdict in ("fail", "not assessed")]
    for one in sorted(own, key=_order):
        yield f"  {one.verdict}: {plain(one.message)}"


def _order(one: Finding) -> tuple[int, str, Subject]:
    return VERDICTS.index(one.verdict), one.rule, one.subject


def _figure(value: Value | None, dimension: Dimension) -> str:
    return _UNKNOWN if value is None else show_value(value, dimension)


def _number(value: float) -> float | None:
    return None if isinf(value) else value


def _value_json(value: Value | None) -> dict[str, float | None] | None:
    if value is None:
        return None
    return dict(zip(("low", "near", "far", "high"), (_number(one) for one in value.numbers()), strict=True))


def _pair_json(pair: PairSummary, review: Review) -> dict[str, object]:
    return {
        "role": pair.role,
        "subject": list(pair.subject.names) if pair.subject is not None else None,
        "insulation": list(pair.insulation),
        "why": pair.why,
        "verdict": verdict_of(_subjects(pair), review),
        "weakest": str(pair.weakest.subject) if pair.weakest is not None else None,
        "open_paths": list(pair.open_paths),
        "electric_strength": {
            "needed": _value_json(pair.strength), "tested": _value_json(pair.test), "result": pair.result or None,
        },
        "entries": pair.entries,
        "paths": [_path_json(path, review) for path in pair.paths],
    }  # fmt: skip


def _path_json(path: PathSummary, review: Review) -> dict[str, object]:
    return {
        "name": str(path.subject),
        "insulation": list(path.insulation),
        "why": path.why,
        "verdict": verdict_of([path.subject], review),
        "share": path.share,
        **{key: _value_json(value) for key, value in path.figures.items()},
        "entries": path.entries,
    }
