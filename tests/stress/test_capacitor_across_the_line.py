"""What a capacitor across the mains takes is in the current of what stands ahead of it, and in that of the plate."""

from __future__ import annotations

from math import pi, sqrt

import pytest

from derate.design.load import read_design
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.study.work import worked
from derate.terms.values import Value

TEXT = """\
derate: 1
supply:
  name: Small
  topology: flyback
  efficiency: 0.7
  plate: {mains: 230 V, frequency: 50 Hz, outputs: {main: {voltage: 5 V, current: 0.2 A}}}
site: {ambient: 0..40 degC, mains_tolerance: 10%, mains_resistance: 0.4 ohm, mains_inductance: 0 mH}
parts:
  F1: {kind: fuse, standard: IEC 60127, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 250 Vac}}
  CX1: {kind: film capacitor, class: X2, capacitance: 220 nF}
  R1: film resistor 22 ohm 2 W
  BR1: bridge rectifier 800 V 1 A
  C1: electrolytic capacitor 2.2 uF 400 V
circuit: {line: [F1, across CX1, R1, BR1, across C1]}
"""

F1 = Subject("part", ("F1",))


def rows(text: str) -> Ledger:
    return worked(read_design(text, "small.derate.yaml"), load_packs(["commercial-practice"]))


def row(ledger: Ledger, subject: Subject, quantity: str) -> Entry:
    return all_rows(ledger, subject, quantity)[0]


def all_rows(ledger: Ledger, subject: Subject, quantity: str) -> list[Entry]:
    return [one for one in ledger.rows(subject, quantity) if one.case is not None and one.case.group == "running"]  # type: ignore[arg-type]


def ends(entry: Entry) -> tuple[float, float]:
    assert isinstance(entry.value, Value), entry
    return entry.value.low, entry.value.high


def test_it_is_in_the_mains_current_and_in_what_stands_ahead_alone() -> None:
    found, without = rows(TEXT), rows(TEXT.replace("across CX1, ", "").replace("  CX1", "  # CX1"))
    theirs = 2.0 * pi * 47.0 * 220e-9 * 253.0  # the first case, at the least frequency and up to the highest mains
    for subject, quantity in ((SUPPLY, "mains_current"), (Subject("part", ("F1",)), "current_rms")):
        low, high = ends(row(without, subject, quantity))
        assert ends(row(found, subject, quantity))[1] == pytest.approx(
            sqrt(high**2 + theirs**2 + sqrt(2.0) * high * theirs), rel=2e-3
        )
        assert ends(row(found, subject, quantity))[0] == pytest.approx(sqrt(0.5) * low, rel=2e-3)
    behind = Subject("part", ("R1",))
    assert ends(row(found, behind, "current_rms")) == ends(row(without, behind, "current_rms"))
    peak = Subject("part", ("F1",))
    assert ends(row(found, peak, "current_peak"))[1] == pytest.approx(
        ends(row(without, peak, "current_peak"))[1] + sqrt(2.0) * theirs, rel=2e-3
    )


def test_what_they_take_at_the_highest_mains_is_in_the_bound_of_the_lowest() -> None:
    """A rectifier with next to no load ahead of 1 uF: at 264 V all of it draws more than at 90 V."""
    light = TEXT.replace("current: 0.2 A", "current: 0.1 A").replace("220 nF", "1 uF")
    wide = rows(light.replace("mains: 230 V", "mains: 100..240 V"))
    high = rows(light.replace("mains: 230 V", "mains: 264 V").replace("mains_tolerance: 10%", "mains_tolerance: 0%"))
    for subject, quantity in ((SUPPLY, "mains_current"), *((F1, one) for one in ("current_rms", "current_peak"))):
        most = max(ends(one)[1] for one in all_rows(wide, subject, quantity))
        assert most > max(ends(one)[1] for one in all_rows(high, subject, quantity)) > 0.09
        assert most < 1.3 * max(ends(one)[1] for one in all_rows(high, subject, quantity))


@pytest.mark.parametrize(("farads", "load"), [(1e-7, 0.2), (2.2e-7, 0.2), (1e-6, 0.1)])
def test_whatever_their_phase_no_less_is_left(farads: float, load: float) -> None:
    """Least of what two currents leave of each other at a correlation of 1/sqrt(2), of which each capacitance has its
    own; where they take little, no more than they can."""
    text = TEXT.replace("current: 0.2 A", f"current: {load} A").replace("220 nF", f"{1e9 * farads:g} nF")
    text = text.replace("mains_tolerance: 10%", "mains_tolerance: 0%")
    without = text.replace("across CX1, ", "").replace("  CX1", "  # CX1")
    alone, own = ends(row(rows(without), SUPPLY, "mains_current"))[0], 2.0 * pi * 47.0 * farads * 230.0
    least = ends(row(rows(text), SUPPLY, "mains_current"))[0]
    true = sqrt(alone**2 + own**2 - sqrt(2.0) * alone * own)
    assert 0.7 * max(alone, own) < least <= true * (1.0 + 1e-9)
    assert least == pytest.approx(max(alone - sqrt(0.5) * own, sqrt(0.5) * max(alone, own)), rel=2e-3)


def test_a_reading_of_the_mains_current_corrects_what_stands_ahead() -> None:
    """As it does without a capacitor across the mains."""
    text = TEXT.replace("220 nF", "100 nF") + (
        "readings:\n"
        "  - at: {mains: 230 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 240 min}\n"
        "    mains_current: 75 mA 2% (measured)\n"
    )
    found = rows(text)
    at_reading = next(one for one in all_rows(found, SUPPLY, "mains_current") if one.case and one.case.mains == 230.0)
    assert ends(at_reading) == pytest.approx((0.0735, 0.0765))
    assert not at_reading.missing
    low, high = ends(row(rows(TEXT.replace("220 nF", "100 nF")), F1, "current_rms"))
    assert ends(row(found, F1, "current_rms"))[0] == low
    assert 3.0 * high < ends(row(found, F1, "current_rms"))[1] < 10.0 * high


def test_one_of_unknown_capacitance_leaves_it_open() -> None:
    found = rows(TEXT.replace("capacitance: 220 nF", "capacitance: unknown"))
    entry = row(found, SUPPLY, "mains_current")
    assert entry.value is None and any("CX1" in fact.subject.names for fact in entry.missing)
    assert isinstance(row(found, Subject("part", ("R1",)), "current_rms").value, Value)


def test_a_bleeder_and_a_varistor_add_nothing_and_one_to_earth_is_another_matter() -> None:
    text = TEXT.replace("across CX1", "across R2").replace("  CX1", "  R2: film resistor 1 Mohm\n  # CX1")
    without = rows(TEXT.replace("across CX1, ", "").replace("  CX1", "  # CX1"))
    assert ends(row(rows(text), SUPPLY, "mains_current")) == ends(row(without, SUPPLY, "mains_current"))
