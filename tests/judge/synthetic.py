"""Synthetic ledgers for the worked pack: every subject its rules look at, facts drawn from small pools."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from derate.judge.judge import judge
from derate.judge.review import Review
from derate.judge.trials import TrialPlan
from derate.ledger.entry import SUPPLY, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs, read_packs
from derate.terms.values import Category, Known, Place, Value

TODAY = date(2026, 11, 25)
FILE = Path(__file__).parents[1] / "data" / "packs" / "worked.yaml"
PACKS = read_packs({"worked.yaml": FILE.read_text(encoding="utf-8")})

F1, C1, C2 = (Subject("part", (name,)) for name in ("F1", "C1", "C2"))
W, WP = Subject("winding", ("T1.primary",)), Subject("winding pair", ("T1.primary", "T1.secondary"))
B, CP = Subject("barrier", ("under T1",)), Subject("circuit pair", ("primary", "secondary"))

# What each subject may hold, besides the row that makes it a subject.
POOL: dict[Subject, dict[str, Sequence[float] | Sequence[str]]] = {
    F1: {
        "part.place": ["mains path", "output"],
        "rated.breaking_capacity": [35.0, 1500.0],
        "rated.melting_i2t": [1.0, 10.0],
    },
    C1: {
        "part.place": ["mains path"],
        "rated.voltage": [350.0, 400.0, 450.0],
        "part.capacitance": [4.7e-6],
        "found.capacitance": [2e-6, 4.5e-6],
    },
    C2: {"part.place": ["across the barrier"], "part.class": ["Y1", "X1", "unmarked"], "rated.voltage": [250.0]},
    W: {"found.tape_layers": [1.0, 2.0, 3.0], "winding.wire": ["enamelled", "triple-insulated"]},
    WP: {"found.tape_layers": [1.0, 2.0, 3.0]},
    B: {"found.creepage": [0.5e-3, 2e-3, 5e-3], "barrier.material_group": ["I", "IIIa", "IIIb"]},
    CP: {"test.voltage": [3000.0], "test.result": ["held", "broke down", "not done"]},
    SUPPLY: {
        "site.switch_ons": [100.0, 10_000.0, 1_000_000.0],
        "supply.topology": ["flyback", "buck"],
        "supply.parts_list": ["complete", "main parts"],
        "circuit.clamp": ["zener", "none"],
        "control.frequency": [12e3, 65e3],
        "plate.power": [18.0],
        "plate.mains_current": [0.2, 0.5],
    },
}
STRESSES: dict[Subject, dict[str, Sequence[float]]] = {
    F1: {"prospective_current": [20.0, 1000.0, 3000.0], "i2t": [0.2, 3.0]},
    C1: {"voltage_peak": [300.0, 380.0, 420.0], "life": [9_000 * 3600.0, 30_000 * 3600.0]},
    C2: {"voltage_peak": [200.0, 380.0]},
    B: {"working_voltage": [12.0, 230.0, 380.0, 900.0]},
}
ANCHORS = {
    F1: ("part.kind", Category.of("fuse")),
    C1: ("part.kind", Category.of("electrolytic capacitor")),
    C2: ("part.kind", Category.of("ceramic capacitor")),
    W: ("winding.turns", Value.exact(84)),
    WP: ("transformer.margins", Value.exact(0)),
    B: ("barrier.slot_width", Value.exact(0)),
    CP: ("bridge.count", Value.exact(0)),
}


@dataclass(frozen=True)
class Row:
    """One row to be written: `case` is the number of its case, None for a standing fact."""

    subject: Subject
    name: str
    value: Known
    case: int | None = None
    assumed: bool = False


@st.composite
def _value(draw: Any, pool: Sequence[float] | Sequence[str]) -> Known:
    if isinstance(pool[0], str):
        words = draw(st.lists(st.sampled_from(list(pool)), min_size=1, max_size=2))
        return Category.of(*words)
    number = draw(st.sampled_from(list(pool)))
    kind = draw(st.sampled_from(["exact", "exact", "exact", "tolerance", "range", "floor"]))
    if kind == "tolerance":
        return Value.spread(number, number * 0.9, number * 1.1)
    if kind == "range":
        return Value.between(number * 0.8, number * 1.2)
    return Value.floor(number) if kind == "floor" else Value.exact(number)


@st.composite
def ledgers(draw: Any) -> tuple[Row, ...]:
    """Rows of a synthetic supply, most of them there."""
    rows = []
    for subject, pools in POOL.items():
        for name, pool in pools.items():
            if draw(st.integers(0, 5)):
                rows.append(Row(subject, name, draw(_value(pool)), None, draw(st.integers(0, 6)) == 0))
    for subject, stresses in STRESSES.items():
        for name, pool in stresses.items():
            for case in (0, 1):
                if draw(st.integers(0, 8)):
                    rows.append(Row(subject, name, draw(_value(pool)), case))
    return tuple(rows)


class Plan(TrialPlan):
    """Two cases of whatever group is asked for."""

    def __init__(self) -> None:
        super().__init__("running", 2)


def reviewed(rows: Sequence[Row], packs: Packs = PACKS, **options: Any) -> Review:
    """Write the rows and judge them."""
    plan = Plan()
    ledger = Ledger(plan)
    cases = plan.cases((), ())
    for subject, (name, value) in ANCHORS.items():
        ledger.write(subject, name, value, place=_place(subject))
        if subject.kind == "part":
            ledger.write(subject, "part.fitted", Category.of("yes"), place=_place(subject))
    for row in rows:
        ledger.write(
            row.subject, row.name, row.value, case=None if row.case is None else cases[row.case],
            known_by="assumed" if row.assumed else "measured", place=_place(row.subject),
        )  # fmt: skip
    return judge(ledger, packs, path="synthetic.yaml", name="synthetic", today=TODAY, **options)


def _place(subject: Subject) -> Place:
    return Place("synthetic.yaml", 1 + [*ANCHORS, SUPPLY].index(subject))


def blocking(review: Review) -> Mapping[tuple[str, Subject], str]:
    """Rule, subject and verdict of what blocks, without the findings that no rule made."""
    return {(one.rule, one.subject): one.verdict for one in review.findings if one.blocks and one.pack != "derate"}
