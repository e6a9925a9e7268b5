"""Insulation of a design as text, as JSON, and as the rows of a table: needed, found, weakest path, verdict."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from math import isinf

from derate.insulation.pairs import PairSummary, PathSummary
from derate.judge.review import Finding, Gate, Review
from derate.ledger.entry import Subject
from derate.report.colour import HEADING, STYLES, Line
from derate.report.machine import gate_data
from derate.report.words import CAUTION, plain
from derate.terms.dimension import LENGTH, VOLTAGE, Dimension
from derate.terms.frozen import frozen
from derate.terms.values import Value
from derate.terms.words import NOT_SHOWN, VERDICTS, Verdict
from derate.text.units import show_value

# Insulation of a design as text and JSON: each pair of circuits, needed, found, weakest path, verdict.


_UNKNOWN = "not known"


@frozen
class FamilyInsulation:
    """What one family of rules makes of a design: its pairs of circuits and the review that judged them."""

    family: str
    pairs: tuple[PairSummary, ...]
    review: Review


def insulation_lines(families: Sequence[FamilyInsulation]) -> Iterator[str]:
    """The summary for people and pipes: one block a pair of circuits, one line a path."""
    for one in families:
        yield Line(f"Insulation after {one.family}", HEADING)
        if not one.pairs:
            yield "  no pair of circuits is described: list the barriers"
        for pair in one.pairs:
            yield ""
            yield from _pair(pair, one.review)
        yield ""
    yield CAUTION


def insulation_json(path: str, families: Sequence[FamilyInsulation], gate: Gate) -> str:
    """The same as JSON, SI base units, infinity as null with its end named open. gate: what it was worked out by"""
    document = {
        "derate": 1,
        "caution": CAUTION,
        "design": path,
        "gate": gate_data(gate),
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
    verdict = verdict_of(_subjects(pair), review)
    yield Line(f"{pair.role}: {verdict}", STYLES[verdict])
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
            told = f" (entry {row})" if row is not None else ""
            yield f"    {what}: found {_figure(found, LENGTH)}, needed {_figure(needed, LENGTH)}{told}"
        if path.figures["working_voltage"] is not None:
            peak = _figure(path.figures["working_voltage_peak"], VOLTAGE)
            yield f"    working voltage: {_figure(path.figures['working_voltage'], VOLTAGE)} rms, {peak} peak"
    if pair.strength is not None or pair.test is not None:
        row = pair.entries.get("strength")
        told = f" (entry {row})" if row is not None else ""
        outcome = f", {pair.result}" if pair.result else ""
        tested = f"tested {_figure(pair.test, VOLTAGE)} peak{outcome}" if pair.test is not None else "not tested"
        yield f"  electric strength: needed {_figure(pair.strength, VOLTAGE)} peak{told}, {tested}"
    yield from _reasons(pair, review)


def _reasons(pair: PairSummary, review: Review) -> Iterator[str]:
    """What stands against the pair, one line a finding, fails first."""
    own = [one for one in review.findings if one.subject in _subjects(pair) and one.verdict in NOT_SHOWN]
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
            "needed": _value_json(pair.strength),
            "tested": _value_json(pair.test),
            "result": pair.result or None,
        },
        "entries": pair.entries,
        "paths": [_path_json(path, review) for path in pair.paths],
    }


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


# The insulation summary as rows of a table: what each path between two circuits needs and what was found.


NOT_KNOWN = "not known"


@frozen
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
        (
            f"{what} {word}",
            _figure_in_table(path.figures[f"{word}_{what}"], LENGTH),
            path.entries.get(f"{word}_{what}", 0),
        )
        for what in ("clearance", "creepage")
        for word in ("needed", "found")
    )
    return InsulationRow(
        one.family,
        pair.role,
        plain(str(path.subject)),
        " or ".join(path.insulation) or NOT_KNOWN,
        path.why,
        verdict_of([path.subject], one.review),
        figures,
        pair.weakest is not None and pair.weakest.subject == path.subject,
    )


def _strength(one: FamilyInsulation, pair: PairSummary) -> InsulationRow:
    subjects = [pair.subject] if pair.subject is not None else []
    tested = _figure_in_table(pair.test, VOLTAGE) if pair.test is not None else "not tested"
    figures = (
        ("electric strength needed, peak", _figure_in_table(pair.strength, VOLTAGE), pair.entries.get("strength", 0)),
        ("tested, peak", f"{tested}{f', {pair.result}' if pair.result else ''}", pair.entries.get("test", 0)),
    )
    return InsulationRow(
        one.family,
        pair.role,
        "electric strength",
        " or ".join(pair.insulation) or NOT_KNOWN,
        pair.why,
        verdict_of(subjects, one.review),
        figures,
        False,
    )


def _figure_in_table(value: Value | None, dimension: Dimension) -> str:
    return NOT_KNOWN if value is None else show_value(value, dimension)
