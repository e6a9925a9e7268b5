"""Small designs as text, and what tests of events ask of their ledgers. Figures are invented or of a named source."""

from __future__ import annotations

from pathlib import Path

from random_supplies import Given

from derate.design.facts import facts
from derate.design.load import Design, load_design, read_design
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.run import run
from derate.terms.values import Value

STYLES = Path(__file__).parent.parent / "data" / "styles"
LINE, BULK, MAINS = Subject("path", ("line",)), Subject("path", ("bulk",)), Subject("mains")
PACKS = ("commercial-practice", "mains-fusing", "mains-events")
EXACT = {
    "mains_tolerance": Given(Value.exact(0.0)),
    "small_series_resistance": Given(Value.exact(0.0)),
    "mains_resistance": Given(Value.exact(0.0)),
    "mains_inductance": Given(Value.exact(0.0)),
    "thermistor_b_constant": Given(Value.exact(3000.0)),
    "efficiency": Given(Value.exact(0.8)),
    "inside_rise": Given(Value.exact(20.0)),
    "primary_winding_resistance": Given(Value.exact(3.0)),
    "board_copper": Given(Value.exact(35e-6)),
}


def part(name: str) -> Subject:
    """The subject of a part."""
    return Subject("part", (name,))


def exact(line: str, *parts: str, mains: str = "240 V", site: str = "", more: str = "", supply: str = "") -> Ledger:
    """The ledger of a design without tolerance: what is not stated is nothing, so that a source can be held to."""
    text = "\n".join(
        [
            "derate: 1",
            f"supply: {{name: drawn, topology: flyback, {supply}plate: {{mains: {mains}, frequency: 50 Hz, "
            "outputs: {main: {voltage: 12 V, current: 0.5 A}}}}",
            f"site: {{ambient: 5 degC, mains_tolerance: 0%, inside_rise: 20 K{site}}}",
            "parts:",
            *(f"  {one}" for one in parts),
            f"circuit: {{line: {line}{more}}}",
        ]
    )
    design = read_design(text, "drawn.derate.yaml")
    return run(design.structure, facts(design), EXACT, design.readings)


def style(name: str) -> tuple[Design, Ledger]:
    """One of the designs of tests/data/styles, under the shipped packs."""
    design = load_design(str(STYLES / f"{name}.derate.yaml"))
    return design, worked(design)


def worked(design: Design) -> Ledger:
    """A design under the assumptions of the shipped packs."""
    assumed = {name: one for (_, name), one in load_packs(PACKS).assumptions.items()}
    return run(design.structure, facts(design), assumed, design.readings)


def row(ledger: Ledger, subject: Subject, quantity: str, group: str, fault: str = "", mains: float = 0.0) -> Entry:
    """The row of a group; at the highest mains, or at the one given."""
    found = [
        one for one in ledger.rows(subject, quantity)
        if one.case is not None and one.case.group == group and one.case.fault == fault
        and (not mains or one.case.mains == mains)
    ]  # fmt: skip
    assert found, f"no {quantity} of {subject} at {group} {fault}"
    return max(found, key=lambda one: (one.case or Case("")).mains or 0.0)


def value(ledger: Ledger, subject: Subject, quantity: str, group: str, fault: str = "", mains: float = 0.0) -> Value:
    """The value of that row."""
    entry = row(ledger, subject, quantity, group, fault, mains)
    assert isinstance(entry.value, Value), entry
    return entry.value
