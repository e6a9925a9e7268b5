"""Reviews and ledgers put together by hand, for the tests of the formats. Figures are invented."""

from __future__ import annotations

from math import inf
from typing import Any

from derate.judge.review import Acknowledgement, Finding, HazardWord, Review
from derate.ledger.entry import SUPPLY, Case, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.terms.values import Category, Place, Value

PATH = "designs/market-stall-lamp.yaml"
RUNNING = Case("running", 264.0, 47.0, "full", 40.0)
SWITCH_ON = Case("switch-on", 264.0, 50.0)
TAPE = OpenFact(Subject("transformer", ("T1",)), "found.tape_layers")


def finding(**given: Any) -> Finding:
    """A finding that blocks, with whatever is given in place of its fields."""
    fields: dict[str, Any] = {
        "rule": "fuse-breaking-capacity",
        "pack": "mains-fusing",
        "hazard": "fire",
        "severity": "critical",
        "subject": Subject("part", ("F1",)),
        "case": SWITCH_ON,
        "verdict": "fail",
        "stress": Value(900.0, 1200.0, 1500.0, 1500.0),
        "limit": Value.exact(35.0),
        "ratio": 42.857142857142854,
        "unit": "A",
        "message": "F1 breaks 35 A and the mains can drive 1500 A into a short behind it.",
        "remedy": "Fit a fuse that breaks 1500 A or more.",
        "source": "a house limit, invented",
        "confidence": "published",
        "entries": (41, 12),
        "place": Place(PATH, 26, 3),
        "blocks": True,
    }
    return Finding(**{**fields, **given})


def unknown(number: int, **given: Any) -> Finding:
    """A critical finding that waits for facts."""
    return finding(
        **{
            "rule": f"rule-number-{'abcdefghij'[number % 10]}",
            "subject": Subject("part", (f"C{number}",)),
            "case": None,
            "verdict": "not assessed",
            "stress": None,
            "limit": None,
            "ratio": None,
            "message": f"C{number} cannot be judged.",
            "remedy": "",
            "missing": (
                OpenFact(Subject("part", (f"C{number}",)), "rated.voltage"), OpenFact(SUPPLY, "site.mains_tolerance"),
            ),
            "place": Place(PATH, 30 + number, 3),
            **given,
        }
    )


def review(*findings: Finding, **given: Any) -> Review:
    """A review of these findings; counts and hazards follow from them."""
    counts: dict[Any, int] = {}
    for one in findings:
        counts[one.verdict] = counts.get(one.verdict, 0) + 1
    hazards = dict.fromkeys(one.hazard for one in findings)
    worst = "fail" if counts.get("fail") else "not assessed" if counts.get("not assessed") else "pass"
    fields: dict[str, Any] = {
        "path": PATH,
        "name": "Market stall lamp supply",
        "overall": worst,
        "hazards": tuple(HazardWord(hazard, worst, "") for hazard in hazards),
        "findings": findings,
        "counts": counts,
        "packs": ("commercial-practice", "mains-fusing"),
        "notes": (),
        "ledger": (),
    }
    return Review(**{**fields, **given})


def mixed() -> Review:
    """One finding of every sort."""
    waived = Acknowledgement("waiver", "replaced with the fan", "lead engineer", "2027-06-30", 1.3, False, Place(PATH))
    accepted = Acknowledgement("open point", "to be tested", "lead engineer", "2026-12-31", None, False, Place(PATH))
    return review(
        finding(),
        finding(
            rule="bulk-capacitor-voltage", hazard="overstress", severity="major", subject=Subject("part", ("C1",)),
            case=RUNNING, stress=Value(372.0, 372.0, 374.0, 410.0), limit=Value.exact(400.0), unit="V", ratio=0.935,
            verdict="marginal", message="C1 sees 374 V of its 400 V.", remedy="Choose a part rated 450 V.",
            blocks=False, place=Place(PATH, 30, 3), confidence="remembered", source="IEC something",
        ),
        finding(
            rule="capacitor-life", hazard="life", severity="minor", subject=Subject("part", ("C1",)), blocks=False,
            acknowledgement=waived, ratio=1.2, unit="s", stress=Value.exact(3.6e7), limit=Value.exact(4.3e7),
        ),
        finding(
            rule="tape-strength", hazard="shock", subject=Subject("winding pair", ("T1.primary", "T1.secondary")),
            verdict="not assessed", acknowledgement=accepted, blocks=False, missing=(TAPE,),
            stress=None, limit=None, ratio=None, message="The tape cannot be judged.",
        ),
        finding(
            rule="barrier-creepage", hazard="shock", subject=Subject("barrier", ("under transformer",)), unit="m",
            verdict="not assessed", stress=Value.floor(6.0e-3), limit=Value(5.0e-3, 5.0e-3, 6.4e-3, 6.4e-3), ratio=inf,
            case=None, message="Between 5 and 6.4 mm are needed and at least 6 mm are there.",
        ),
        finding(rule="held", hazard="rating", blocks=False, known=True, ratio=1.0004),
        finding(rule="fine", verdict="pass", blocks=False, ratio=0.2),
        finding(rule="elsewhere", verdict="not applicable", blocks=False, stress=None, limit=None, ratio=None),
        *(unknown(number) for number in range(1, 81)),
        notes=(f"{PATH}:80:5: waiver for fine on C9 is not used: fine did not look at C9", "assumed: nothing"),
        held_back=1,
    )  # fmt: skip


def small_ledger() -> Ledger:
    """Facts, a computed row, a category and a hole."""
    ledger = Ledger()
    supply, mains, part = Subject("supply"), Subject("mains"), Subject("part", ("C1",))
    plate = ledger.write(supply, "plate.mains", Value.between(100.0, 240.0), place=Place(PATH, 5, 12))
    size = ledger.write(part, "part.capacitance", Value.spread(33e-6, 26.4e-6, 39.6e-6), place=Place(PATH, 9, 8))
    ledger.write(part, "part.kind", Category.of("electrolytic capacitor"), place=Place(PATH, 9, 3), known_by="seen")
    drawn = ledger.write(supply, "power_drawn", Value.between(20.0, 22.0), formula="load over efficiency",
                         source="energy balance", known_by="computed", case=RUNNING)  # fmt: skip
    ripple = ledger.write(
        part, "ripple_current", Value(0.30, 0.32, 0.34, 0.36), case=RUNNING, formula="rectifier, closed form",
        source="own derivation", known_by="computed", inputs=(plate.number, size.number, drawn.number),
    )  # fmt: skip
    ledger.write(part, "ripple_current", Value(0.20, 0.22, 0.24, 0.26), case=Case("running", 100.0, 47.0, "full"),
                 formula="rectifier, closed form", known_by="computed", inputs=(plate.number, size.number))  # fmt: skip
    ledger.write(mains, "mains_current", Value.floor(0.2), known_by="computed", formula="power over voltage",
                 inputs=(drawn.number, ripple.number), case=RUNNING)  # fmt: skip
    ledger.hole(part, "case_temperature", (OpenFact(part, "air_temperature"),), case=RUNNING)
    return ledger
