"""The spread of a design as JSON: what `derate stress --spread` prints in words, in SI base units."""

from __future__ import annotations

from math import isfinite
from typing import Any

from derate.judge.review import Finding, Gate
from derate.report.machine import VERSION, case_data, gate_data, subject_data, text_of, value_data
from derate.report.spread import notes, within
from derate.report.words import CAUTION, plain


def spread_json(design: str, study: Any, gate: Gate) -> str:
    """A study (`derate.study.spread.spread.Study`) as JSON text. gate: what the findings were judged by

    A share beyond a limit is never printed without its interval, and none stands beside a limit of safety. What samples
    say of their series stands by itself: it is of no limit.
    """
    way = study.way
    return text_of(
        {
            "derate": VERSION,
            "caution": CAUTION,
            "design": plain(design),
            "gate": gate_data(gate),
            "way": {
                "draws": way.draws,
                "costly_draws": way.costly_draws,
                "seed": way.seed,
                "form": way.form,
                "sigmas": way.sigmas if way.form == "normal" else None,
                "together": way.together,
            },
            "rows": [_row(one) for one in study.rows],
            "samples": [_samples(one, study.samples) for one in study.samples.found],
            "notes": [plain(one) for one in notes(study)],
        }
    )


def _row(row: Any) -> dict[str, Any]:
    finding: Finding = row.finding
    return {
        "rule": plain(finding.rule),
        "hazard": finding.hazard,
        "severity": finding.severity,
        "subject": subject_data(finding.subject),
        "case": case_data(finding.case),
        "verdict": finding.verdict,
        "unit": plain(finding.unit),
        "asked": "at least" if row.more else "at most",
        "stress": value_data(finding.stress),
        "limit": value_data(finding.limit),
        "extreme_within": within(row),
        "safety": row.safety,
        "nominal": _number(row.nominal),
        "root": None if row.safety or row.root is None else _ends(*row.root),
        "draws": None if row.drawing is None else _drawing(row.drawing),
        "drivers": [_driver(one) for one in row.drivers],
        "drawn_by_itself": [{"subject": plain(whose), "quantity": name} for whose, name in row.by_hand],
        "undrawn": plain(row.why),
        "beyond_the_ledger": row.outside,
    }


def _samples(one: Any, samples: Any) -> dict[str, Any]:
    def shown(two_sided: bool) -> dict[str, float]:
        return {"confidence": one.confidence(two_sided), "coverage": one.coverage(two_sided)}

    (low, of_low), (high, of_high) = one.lowest, one.highest
    return {
        "quantity": one.first.quantity,
        "target": plain(one.first.target),
        "condition": plain(one.where),
        "samples": one.of,
        "read": list(one.read),
        "missing": list(one.missing),
        "lowest": {"value": _number(low), "sample": of_low},
        "highest": {"value": _number(high), "sample": of_high},
        "at_coverage": samples.coverage,
        "at_confidence": samples.confidence,
        "beyond_one_end": shown(False),
        "between_both_ends": shown(True),
    }


def _drawing(drawn: Any) -> dict[str, Any]:
    low, high = drawn.share
    tails = None if drawn.low is None else _ends(drawn.low, drawn.high)
    return {
        "draws": drawn.draws,
        "drawn_singly": [plain(one) for one in drawn.one_by_one],
        "mean": drawn.mean,
        "sigma": drawn.sigma,
        "middle_99_73_percent": tails,
        "beyond": drawn.beyond,
        "without_a_figure": drawn.none,
        "share_at_95_percent": {"low": low, "high": high},
        "edges": list(drawn.edges),
        "counts": list(drawn.counts),
    }


def _driver(driver: Any) -> dict[str, Any]:
    leaf = driver.leaf
    return {
        "subject": plain(leaf.subject),
        "name": plain(leaf.name),
        "kind": leaf.share,
        "stated": leaf.stated,
        "biased": leaf.biased,
        "low": _number(leaf.low),
        "high": _number(leaf.high),
        "share": driver.share,
    }


def _ends(low: float, high: float) -> dict[str, float | None]:
    return {"low": _number(low), "high": _number(high)}


def _number(number: float | None) -> float | None:
    return number if number is not None and isfinite(number) else None
