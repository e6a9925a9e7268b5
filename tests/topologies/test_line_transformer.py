"""A mains transformer from its file on: rows by hand, how it is recognised, what disagrees, single defects."""

from __future__ import annotations

import tempfile
from datetime import date
from functools import cache
from math import pi, sqrt
from pathlib import Path

import pytest

from derate.circuit import line_transformer as physics
from derate.design.load import read_design
from derate.judge.review import Finding, Review
from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Ledger
from derate.study.faults import design_faults
from derate.study.work import Workshop, review_of
from derate.terms.quantities import END_OF_LIFE, NO_LOAD, RUNNING, SWITCH_ON
from derate.terms.values import ReadingError, Value

ROOT = Path(__file__).parents[2]
SOUND = ROOT / "designs" / "beehive-scale" / "beehive-scale.derate.yaml"
TEXT = SOUND.read_text(encoding="utf-8")
DAY = date(2026, 11, 25)
SHOP = Workshop()


@cache
def worked(*changes: tuple[str, str]) -> tuple[Ledger, Review]:
    """Ledger and review of the demonstration with some of its text changed."""
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "beehive.derate.yaml"
        path.write_text(text, encoding="utf-8")
        work = SHOP.work(str(path))
        return work.ledger, review_of(work, DAY)


def row(name: str, quantity: str, *changes: tuple[str, str], kind: str = "part", **case: object) -> Entry:
    ledger, _ = worked(*changes)
    found = [
        one
        for one in ledger.rows(Subject(kind, (name,)), quantity)  # type: ignore[arg-type]
        if one.case is not None and all(_same(getattr(one.case, key), value) for key, value in case.items())
    ]
    assert found, (name, quantity, case)
    return found[-1]


def _same(one: object, other: object) -> bool:
    return one == pytest.approx(other) if isinstance(other, float) and one is not None else one == other


def value(*args: object, **named: object) -> Value:
    found = row(*args, **named).value  # type: ignore[arg-type]
    assert isinstance(found, Value)
    return found


def finding(rule: str, *changes: tuple[str, str]) -> Finding:
    """The one finding of a rule that is worst."""
    _, review = worked(*changes)
    own = [one for one in review.findings if one.rule == rule and one.verdict != "not applicable"]
    assert own, rule
    order = ("fail", "not assessed", "marginal", "pass")
    return min(own, key=lambda one: order.index(one.verdict))


# ---- rows ----


def test_the_sound_one_blocks_nothing() -> None:
    _, review = worked()
    assert not [one.rule for one in review.findings if one.blocks]
    assert {one.rule for one in review.findings if one.verdict == "fail"} == set()


def test_the_rail_without_load_is_the_crest_of_the_open_secondary_at_the_highest_mains() -> None:
    """11.6 V within 1 % at 230 V, and 10 % on top; a bridge drops 0.3 to 0.75 V a diode at microamperes."""
    crest = sqrt(2.0) * 11.6 * 1.1
    found = value("C1", "voltage_peak", group=RUNNING, load=NO_LOAD)
    assert found.high == pytest.approx(crest * 1.01 - 0.6) and found.low == pytest.approx(crest * 0.99 - 1.5)
    assert value("U1", "voltage_peak", group=RUNNING, load=NO_LOAD) == found
    assert value("BR1", "reverse_voltage", group=RUNNING).high == pytest.approx(crest * 1.01 - 0.3)


def test_the_valley_is_worst_at_the_lowest_mains_and_with_an_old_capacitor() -> None:
    new, old = (value("U1", "voltage_min", group=group) for group in (RUNNING, END_OF_LIFE))
    ledger, _ = worked()
    (resistance,) = [
        one
        for one in ledger.rows(Subject("output", ("main",)), "series_resistance")
        if one.formula == "resistance of both windings at the secondary"
    ]
    ohms = resistance.value
    assert isinstance(ohms, Value)
    band = physics.ERROR["least"]
    (drop,) = ledger.rows(Subject("part", ("BR1",)), "diode_drop")
    assert isinstance(drop.value, Value)
    lossy = 0.15 / (2.0 * pi * 100.0 * 1.44e-3 * 0.98)  # by the dissipation factor that the packs assume
    given = (11.6 * 0.99 * 0.9, 47.0, ohms.high)
    worst = physics.rectified(*given, 1.44e-3 * 0.98, 0.308, drop.value.high, series=lossy)
    assert new.low == pytest.approx(worst.least * (1.0 + band[0]), rel=1e-4)
    aged = physics.rectified(*given, 1.44e-3 * 0.98 * 0.8, 0.308, drop.value.high, series=lossy)
    assert old.low <= aged.least * (1.0 + band[0]) * 1.0001 and old.low < new.low
    assert row("U1", "voltage_min", group=RUNNING).case.mains == pytest.approx(207.0)  # type: ignore[union-attr]


def test_resistance_is_seen_through_the_turns_and_grows_with_the_windings() -> None:
    ledger, _ = worked()
    rows = [
        one for one in ledger.rows(Subject("output", ("main",)), "series_resistance") if isinstance(one.value, Value)
    ]
    ohms = rows[-1].value
    (warm,) = [
        one.value
        for one in ledger.rows(Subject("transformer", ("T1",)), "winding_temperature")
        if one.case is not None and one.case.group == "winding"
    ]
    assert isinstance(ohms, Value) and isinstance(warm, Value)
    seen = 1.15 * 1.02 + 620.0 * 1.02 * (11.6 * 1.01 / 230.0) ** 2
    assert ohms.high == pytest.approx(seen * (234.5 + warm.high) / (234.5 + 22.0), rel=1e-6)
    assert warm.high > 68.0 + 17.0  # carried from 23 to 40 degC


def test_loss_of_the_regulator_is_worst_at_the_highest_mains() -> None:
    power = value("U1", "power", group=RUNNING, mains=253.0)
    mean = value("U1", "voltage_mean", group=RUNNING, mains=253.0)
    assert power.high == pytest.approx(
        max(value("U1", "voltage_mean", group=RUNNING, mains=253.0).high, mean.high) * 0.308 - 4.8 * 0.3, rel=0.01
    )
    assert value("U1", "junction_temperature", group=RUNNING).high > 40.0 + power.high * 5.0


def test_first_crest_and_switch_on_rest_on_the_cold_windings() -> None:
    ledger, _ = worked()
    peak = value("BR1", "current_peak", group=SWITCH_ON)
    rows = [
        one for one in ledger.rows(Subject("output", ("main",)), "series_resistance") if isinstance(one.value, Value)
    ]
    ohms = rows[-1].value
    assert isinstance(ohms, Value)
    assert peak.high == pytest.approx(sqrt(2.0) * 11.6 * 1.01 * 1.1 / ohms.low)
    i2t = value("F1", "i2t", group=SWITCH_ON)
    cold = 620.0 * 0.98 * 234.5 / 256.5 + 0.3
    seen = 1.44e-3 * 1.02 * (11.6 * 1.01 / 230.0) ** 2
    assert i2t.high == pytest.approx(physics.magnetising_inrush(253.0, 47.0, cold, seen).i2t, rel=1e-3)


def test_the_mains_carries_every_secondary_by_its_turns_and_the_iron() -> None:
    unread = ("mains_current: 35 mA 3%", "note: nobody read the mains current")
    drawn = value("F1", "current_rms", unread, group=RUNNING, mains=253.0)
    winding = value("T1.secondary", "current_rms", unread, kind="winding", group=RUNNING, mains=253.0)
    load = [winding.numbers()[k] * 11.6 * (0.99, 1.01)[k > 1] * 1.1 / 253.0 for k in (0, 3)]
    assert drawn.high == pytest.approx((0.022 + load[1]) * 1.02)
    assert drawn.low == pytest.approx(sqrt(0.022**2 + load[0] ** 2) * 0.98)


# ---- recognised, and what disagrees ----

NAMELESS = ("  topology: line transformer\n", "")


def test_recognised_by_its_winding_on_the_mains() -> None:
    named, unnamed = worked()[1], worked(NAMELESS)[1]
    assert {(one.rule, one.subject, one.verdict) for one in unnamed.findings} == {
        (one.rule, one.subject, one.verdict) for one in named.findings
    }


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (("line: [F1, TL1, T1.primary]", "line: [F1, TL1, BR1, across C1]"), "BR1 rectifies the mains"),
        (("line: [F1, TL1, T1.primary]", "line: [F1, TL1]"), "no winding stands at the end of the line"),
        (("line: [F1, TL1, T1.primary]", "line: [F1, TL1, C2, T1.primary]"), "capacitive dropper"),
        (("topology: line transformer", "topology: flyback"), "T1.primary stands on the mains path"),
    ],
)
def test_a_word_that_disagrees_with_the_circuit_is_an_error(changed: tuple[str, str], words: str) -> None:
    assert TEXT.count(changed[0]) == 1
    with pytest.raises(ReadingError) as error:
        read_design(TEXT.replace(*changed), "x.yaml")
    assert any(words in one.what for one in error.value.problems), [one.what for one in error.value.problems]


PATHS = {
    "full bridge": ("[T1.secondary, D1 || D2 || D3 || D4, across C1, U1, across C2]", 4),
    "half-wave": ("[T1.secondary, D1, across C1, U1, across C2]", 1),
    "doubler": ("[T1.secondary, D1, D2, across C1 + C3, U1, across C2]", 2),
    "centre-tapped": ("[T1.secondary, T1.other, D1, D2, across C1, U1, across C2]", 2),
    "": ("[T1.secondary, D1, D2, D3, across C1, U1, across C2]", 3),
}


@pytest.mark.parametrize("connection", PATHS)
def test_how_it_is_rectified_is_told_by_what_is_joined_to_what(connection: str) -> None:
    path, diodes = PATHS[connection]
    parts = "".join(f"  D{k}: line diode 100 V 1 A\n" for k in range(1, diodes + 1))
    parts += "  C3: electrolytic capacitor 1000 uF 25 V\n" if "C3" in path else ""
    text = TEXT.replace("[T1.secondary, BR1, across C1, U1, across C2]", path).replace(
        "  C2: {kind", parts + "  C2: {kind"
    )
    text = "\n".join(line for line in text.split("\n") if not line.startswith("  BR1:"))
    if "T1.other" in path:
        text = text.replace(
            "      secondary: {wire",
            "      other: {wire: enamelled, resistance: 1.15 ohm at 22 degC, open_voltage: 11.6 V at 230 V}\n"
            "      secondary: {wire",
        )
        text = text.replace("sheet 1.2 mm, secondary]", "sheet 1.2 mm, secondary, other]")
    structure = read_design(text, "x.yaml").structure
    assert structure.own.secondaries["main"].connection == connection  # type: ignore[attr-defined]


def test_two_windings_of_a_centre_tap_are_each_a_half() -> None:
    """Behind a centre tap one half drops and blocks: the diode has twice its crest."""
    found = physics.unloaded(11.6, 0.0, "centre-tapped")
    assert found.reverse == pytest.approx(2.0 * sqrt(2.0) * 11.6)


# ---- single defects: each is found by its rule, for its reason ----

DEFECTS: list[tuple[str, str, str, str, tuple[tuple[str, str], ...]]] = [
    ("reservoir-capacitor-voltage", "C1", "fail", "16 V", (("voltage: 25 V, life", "voltage: 16 V, life"),)),
    (
        "reservoir-capacitor-ripple-current",
        "C1",
        "fail",
        "0.3",
        (("ripple_current: 1.1 A at 120 Hz", "ripple_current: 0.3 A at 120 Hz"),),
    ),
    ("reservoir-capacitor-life", "C1", "fail", "life", (("life: 5000 h at 105 degC", "life: 200 h at 105 degC"),)),
    (
        "secondary-rectifier-reverse-voltage",
        "BR1",
        "fail",
        "15 V",
        (("reverse_voltage: 200 V", "reverse_voltage: 15 V"),),
    ),
    (
        "secondary-bridge-current",
        "BR1",
        "fail",
        "average",
        (("current: {55 degC: 1.5 A, 125 degC: 0 A}", "current: {55 degC: 0.3 A, 125 degC: 0 A}"),),
    ),
    (
        "secondary-rectifier-surge",
        "BR1",
        "fail",
        "2.4 A",
        (("surge_current: 50 A at 8.3 ms", "surge_current: 2.4 A at 8.3 ms"),),
    ),
    (
        "regulator-input-voltage",
        "U1",
        "fail",
        "15 V",
        (("rated: {voltage: 35 V, current: 0.35 A", "rated: {voltage: 15 V, current: 0.35 A"),),
    ),
    (
        "regulator-input-valley",
        "U1",
        "fail",
        "valley",
        (("open_voltage: 11.6 V 1% at 230 V", "open_voltage: 8.4 V 1% at 230 V"),),
    ),
    (
        "regulator-input-valley-when-old",
        "U1",
        "fail",
        "valley",
        (
            (
                "found: {capacitance: 1440 uF 2% (measured; out of circuit)}",
                "found: {capacitance: 330 uF 2% (measured; out of circuit)}",
            ),
        ),
    ),
    (
        "regulator-junction-temperature",
        "U1",
        "fail",
        "junction",
        (
            (
                "case_temperature: {C1: 42 degC, U1: 63 degC, enclosure: 41 degC}",
                "case_temperature: {C1: 42 degC, enclosure: 41 degC}",
            ),
            ("case_temperature: {C1: 43 degC, U1: 67 degC}", "case_temperature: {C1: 43 degC}"),
            ("heatsink: 12 K/W", "heatsink: 65 K/W"),
        ),
    ),
    ("regulator-current", "U1", "fail", "0.2 A", (("current: 0.35 A, dropout", "current: 0.2 A, dropout"),)),
    (
        "regulator-capacitor-voltage",
        "C2",
        "fail",
        "4 V",
        (("dielectric: class 2, rated: {voltage: 25 V}", "dielectric: class 2, rated: {voltage: 4 V}"),),
    ),
    (
        "secondary-winding-current",
        "T1.secondary",
        "fail",
        "0.4 A",
        (("rated_current: 0.67 A", "rated_current: 0.4 A"),),
    ),
    (
        "transformer-ends-a-short",
        "T1",
        "fail",
        "opening",
        (
            ("line: [F1, TL1, T1.primary]", "line: [F1, T1.primary]"),
            ("  TL1: {kind: thermal link", "  TL1: {fitted: no, kind: thermal link"),
            ("short_circuit_proof: conditionally", "short_circuit_proof: not proof"),
            ("current: 0.1 A, voltage: 250 Vac, breaking", "current: 2 A, voltage: 250 Vac, breaking"),
        ),
    ),
    (
        "thermal-link-opens-in-time",
        "TL1",
        "fail",
        "184",
        (("temperature: 125 degC, current: 1 A", "temperature: 184 degC, current: 1 A"),),
    ),
    (
        "thermal-link-voltage",
        "TL1",
        "fail",
        "125 V",
        (("current: 1 A, voltage: 250 Vac}}", "current: 1 A, voltage: 125 Vac}}"),),
    ),
    ("chamber-wall-thickness", "T1", "fail", "0.3 mm", (("    wall: 1.2 mm", "    wall: 0.3 mm"),)),
    ("mains-current-on-plate", "", "fail", "15 mA", (("mains_current: 70 mA", "mains_current: 15 mA"),)),
    ("fuse-melts-at-switch-on", "F1", "not assessed", "I²t", (("melting_i2t: 0.05 A²s", "melting_i2t: 0.0005 A²s"),)),
    (
        "winding-temperature",
        "T1",
        "fail",
        "winding",
        (("winding_temperature: {T1: 68 degC}", "winding_temperature: {T1: 108 degC}"),),
    ),
    (
        "output-voltage-without-load",
        "main",
        "fail",
        "1.5",
        (
            ("across C1, U1, across C2]", "across C1]"),
            ("  U1:\n    kind", "  U1:\n    fitted: no\n    kind"),
            ("  C2: {kind", "  C2: {fitted: no, kind"),
        ),
    ),
    (
        "barrier-clearance",
        "over the chamber wall",
        "fail",
        "1.5 mm",
        (("clearance: 8 mm, creepage: 9 mm", "clearance: 1.5 mm, creepage: 9 mm"),),
    ),
]


def test_they_are_enough() -> None:
    assert len(DEFECTS) >= 15 and len({one[0] for one in DEFECTS}) == len(DEFECTS)


@pytest.mark.parametrize("defect", DEFECTS, ids=[one[0] for one in DEFECTS])
def test_a_single_defect_is_found_for_its_reason(
    defect: tuple[str, str, str, str, tuple[tuple[str, str], ...]],
) -> None:
    rule, subject, verdict, words, changes = defect
    found = finding(rule, *changes)
    assert finding(rule).verdict in ("pass", "marginal")
    assert found.verdict == verdict, found.message
    assert not subject or found.subject.names == (subject,), found.subject
    assert words in f"{found.message} {found.rule} {found.stress}", found.message
    assert found.severity == "minor" or found.blocks


# ---- what the transformer ends a short by ----


@pytest.mark.parametrize(
    ("proof", "link", "fuse", "word"),
    [
        ("inherently (marked)", False, "2 A", "shown"),
        ("conditionally (marked)", True, "2 A", "shown"),
        ("conditionally (marked)", False, "0.04 A", "shown"),  # the fuse is what its mark rests on
        ("conditionally (marked)", False, "0.1 A", None),  # it may carry the least that the short draws
        ("fail-safe (marked)", False, "2 A", "not shown"),  # it carries all that the short draws from the mains
        ("conditionally (marked)", False, "unknown", None),
        ("not proof (marked)", True, "2 A", "not shown"),
        ("not proof (marked)", False, "0.02 A", "shown"),  # its gate lies below what the short draws from the mains
        ("unknown", True, "2 A", None),
    ],
)
def test_what_ends_a_short_of_the_rail(proof: str, link: bool, fuse: str, word: str | None) -> None:
    changes = [("short_circuit_proof: conditionally (marked)", f"short_circuit_proof: {proof}")]
    changes.append(
        ("rated: {current: 0.1 A, voltage: 250 Vac, breaking", f"rated: {{current: {fuse}, voltage: 250 Vac, breaking")
    )
    if not link:
        changes += [
            ("line: [F1, TL1, T1.primary]", "line: [F1, T1.primary]"),
            ("  TL1: {kind", "  TL1: {fitted: no, kind"),
        ]
    ledger, _ = worked(*changes)
    (found,) = ledger.rows(Subject("transformer", ("T1",)), "opening")
    assert (found.value.word if found.value is not None else None) == word  # type: ignore[union-attr]
    if word is None:
        asked = {"unknown": "rated.current", "0.1 A": "rated.opens_within"}.get(fuse, "transformer.short_circuit_proof")
        assert [one.name for one in found.missing] == [asked]


def test_a_fuse_that_carries_the_short_for_an_hour_is_not_that_of_the_mark() -> None:
    """0.0716 to 0.227 A are drawn at the lowest mains: 0.047 A opens, 0.048 and 0.15 A may carry it, 0.16 A does."""
    said = "rated: {current: 0.1 A, voltage: 250 Vac, breaking"
    plain = [("line: [F1, TL1, T1.primary]", "line: [F1, T1.primary]"), ("  TL1: {kind", "  TL1: {fitted: no, kind")]
    for fuse, word in (("0.047 A", "shown"), ("0.048 A", None), ("0.15 A", None), ("0.16 A", "not shown")):
        ledger, _ = worked((said, said.replace("0.1 A", fuse)), *plain)
        (found,) = ledger.rows(Subject("transformer", ("T1",)), "opening")
        assert (found.value.word if found.value is not None else None) == word, fuse  # type: ignore[union-attr]


@pytest.mark.parametrize("proof", ["inherently", "conditionally"])
def test_a_mark_that_somebody_assumed_lets_no_short_pass(proof: str) -> None:
    said = "short_circuit_proof: conditionally (marked)"
    found = finding("transformer-ends-a-short", (said, f"short_circuit_proof: {proof} (assumed)"))
    assert found.verdict == "not assessed" and found.blocks and found.rests_on


def test_faults_tell_the_current_of_a_short_and_what_takes_the_heat() -> None:
    work = SHOP.work(str(SOUND))
    rows = {
        (one.fault, round(one.case.mains or 0.0)): one
        for one in design_faults(work.design.structure, work.ledger, work.packs.assumed)
    }
    rail = rows["C1 shorted", 253]
    assert rail.current_rms is not None and rail.opening == "shown"
    assert rail.current_rms.high == pytest.approx(11.6 * 1.01 * 1.1 / value_of_resistance(work.ledger).low, rel=1e-3)
    heat = dict(rail.beside)["fault_power"]
    assert heat.high == pytest.approx((11.6 * 1.01 * 1.1) ** 2 / value_of_resistance(work.ledger).low, rel=1e-3)
    output = rows["output main shorted", 253]
    assert output.current_rms is not None and output.current_rms.high == pytest.approx(0.42)
    through = rows["U1 shorted through", 253]
    assert dict(through.beside)["voltage_peak"].high == pytest.approx(sqrt(2.0) * 11.6 * 1.01 * 1.1 - 0.6)
    assert {"TL1 does not open", "turns of T1.primary shorted", "BR1 shorted", "T1.primary shorted"} <= {
        name for name, _ in rows
    }
    primary = rows["T1.primary shorted", 253]
    assert primary.opening == "shown" and primary.clears == "F1"


def value_of_resistance(ledger: Ledger) -> Value:
    rows = [
        one.value
        for one in ledger.rows(Subject("output", ("main",)), "series_resistance")
        if isinstance(one.value, Value)
    ]
    return rows[-1]


# ---- chargers ----

CHARGER = (
    (
        "outputs: {main: {voltage: 5 V, current: 0.3 A,",
        "outputs: {main: {voltage: 4.2 V, current: 0.3 A, battery: {kind: lithium-ion, cells: 1, "
        "charging_current: 0.5 A, ends_by: current and time, protection: protection board, reversed: keyed plug},",
    ),
    ("    voltage: 4.8..5.2 V (data sheet)", "    voltage: 4.18..4.22 V (data sheet)"),
)


@pytest.mark.parametrize(
    ("rule", "changes", "verdict"),
    [
        ("lithium-cell-end-of-charge", (), "pass"),
        ("lithium-cell-end-of-charge", (("4.18..4.22 V", "4.26..4.34 V"),), "fail"),
        ("lithium-cell-end-of-charge", (("4.18..4.22 V", "4.1..4.3 V"),), "not assessed"),
        ("lithium-cell-with-regulation-lost", (), "pass"),
        ("lithium-cell-with-regulation-lost", (("protection: protection board", "protection: nothing"),), "fail"),
        ("lithium-cell-with-regulation-lost", (("protection: protection board, ", ""),), "not assessed"),
        ("lithium-cell-count", (("cells: 1", "cells: 2"),), "fail"),
        ("battery-charge-ends", (("ends_by: current and time", "ends_by: nothing"),), "fail"),
        ("battery-reversed-meets-something", (("reversed: keyed plug", "reversed: nothing"),), "fail"),
        ("battery-charging-current", (("charging_current: 0.5 A", "charging_current: 0.2 A"),), "fail"),
        ("lead-cell-end-of-charge", (("kind: lithium-ion, cells: 1", "kind: lead-acid, cells: 2"),), "pass"),
        ("lead-cell-end-of-charge", (("kind: lithium-ion, cells: 1", "kind: lead-acid, cells: 1"),), "fail"),
        (
            "lead-cell-held-for-ever",
            (
                ("kind: lithium-ion, cells: 1", "kind: lead-acid, cells: 1"),
                ("ends_by: current and time", "ends_by: regulated voltage"),
            ),
            "fail",
        ),
    ],
)
def test_a_charger_is_held_to_its_cells(rule: str, changes: tuple[tuple[str, str], ...], verdict: str) -> None:
    joined = [(old, new) for old, new in CHARGER]
    for old, new in changes:
        joined = [(one, text.replace(old, new)) for one, text in joined]
    assert any(text != other for (_, text), (_, other) in zip(joined, CHARGER, strict=True)) or not changes
    assert finding(rule, *joined).verdict == verdict, finding(rule, *joined).message


def test_an_unregulated_charger_runs_to_the_crest() -> None:
    """A lead-acid battery of six cells behind a bridge and a capacitor: 2.9 V a cell at the highest mains."""
    changes = (
        CHARGER[0],
        ("across C1, U1, across C2]", "across C1]"),
        ("  U1:\n    kind", "  U1:\n    fitted: no\n    kind"),
        ("  C2: {kind", "  C2: {fitted: no, kind"),
    )
    changes = ((changes[0][0], changes[0][1].replace("lithium-ion, cells: 1", "lead-acid, cells: 6")), *changes[1:])
    found = finding("lead-cell-end-of-charge", *changes)
    assert found.verdict == "fail" and found.blocks
    crest = sqrt(2.0) * 11.6 * 1.1
    assert value("main", "cell_voltage", *changes, kind="output", group=RUNNING).high == pytest.approx(
        (crest * 1.01 - 0.6) / 6.0
    )


def test_a_battery_right_behind_the_rectifier_draws_most_when_it_is_empty() -> None:
    """Six cells of lead on a bridge: 10.5 V when empty; the winding, cold, at the highest mains."""
    changes = (
        (CHARGER[0][0], CHARGER[0][1].replace("lithium-ion, cells: 1", "lead-acid, cells: 6")),
        ("[T1.secondary, BR1, across C1, U1, across C2]", "[T1.secondary, BR1]"),
        ("  C1:\n    kind", "  C1:\n    fitted: no\n    kind"),
        ("  U1:\n    kind", "  U1:\n    fitted: no\n    kind"),
        ("  C2: {kind", "  C2: {fitted: no, kind"),
    )
    ledger, review = worked(*changes)
    (drop,) = ledger.rows(Subject("part", ("BR1",)), "diode_drop")
    ohms = value_of_resistance(ledger)
    assert isinstance(drop.value, Value)
    most = physics.charging(11.6 * 1.01 * 1.1, 6 * 1.75, ohms.low, drop.value.low)
    unread = value("T1.secondary", "current_rms", *changes, kind="winding", group=RUNNING, mains=253.0)
    assert unread.high == pytest.approx(most.winding_rms * 1.04)
    assert value("BR1", "current_average", *changes, group=RUNNING, mains=253.0).high == pytest.approx(
        most.diode_average * 1.04
    )
    assert finding("lead-cell-end-of-charge", *changes).verdict == "fail"  # nothing holds it below the crest
    assert "pass" not in {one.verdict for one in review.findings if one.rule == "secondary-winding-current"}


@pytest.mark.parametrize(
    ("path", "extra", "more"),
    [
        ("across C1, R1, U1,", "  R1: film resistor 2 ohm 5% 2 W\n", 0.308 * 2.1),
        ("across C1, D1, U1,", "  D1: line diode 100 V 1 A\n", 1.2),
    ],
)
def test_what_stands_ahead_of_the_regulator_adds_to_what_it_needs(path: str, extra: str, more: float) -> None:
    changes = (("across C1, U1,", path), ("  C2: {kind", f"{extra}  C2: {{kind"))
    (needed,) = [
        one for one in worked(*changes)[0].rows(Subject("part", ("U1",)), "voltage_needed") if one.case is None
    ]
    assert isinstance(needed.value, Value)
    assert needed.value.high - 7.2 == pytest.approx(more, rel=1e-3)


def test_a_resistor_ahead_of_the_reservoir_stands_beside_the_windings() -> None:
    changes = (
        ("BR1, across C1,", "BR1, R1, across C1,"),
        ("  C2: {kind", "  R1: film resistor 2 ohm 5% 2 W\n  C2: {kind"),
    )
    before, after = (value("U1", "voltage_min", *one, group=RUNNING) for one in ((), changes))
    assert after.low < before.low - 0.5
    assert (
        value("BR1", "current_peak", *changes, group=SWITCH_ON).high
        < value("BR1", "current_peak", group=SWITCH_ON).high
    )
    unknown = (changes[0], (changes[1][0], "  R1: film resistor 2 W\n  C2: {kind"))
    assert finding("regulator-input-valley", *unknown).verdict == "not assessed"


def test_a_negative_output_counts_by_its_size() -> None:
    changes = (
        ("outputs: {main: {voltage: 5 V,", "outputs: {main: {voltage: -5 V,"),
        ("    voltage: 4.8..5.2 V (data sheet)", "    voltage: -5.2..-4.8 V (data sheet)"),
        ("    voltage: {main: 5.02 V}\n", "    voltage: {main: -5.02 V}\n"),
        ("ambient: 23 degC}, voltage: {main: 5.02 V}", "ambient: 23 degC}, voltage: {main: -5.02 V}"),
        ("{main: 5.04 V}", "{main: -5.04 V}"),
    )
    (needed,) = [
        one for one in worked(*changes)[0].rows(Subject("part", ("U1",)), "voltage_needed") if one.case is None
    ]
    assert isinstance(needed.value, Value) and needed.value.high == pytest.approx(7.2)
    assert value("main", "voltage_over_plate", *changes, kind="output").high == pytest.approx(1.04)
    assert value("U1", "power", *changes, group=RUNNING, mains=253.0).high == pytest.approx(
        value("U1", "power", group=RUNNING, mains=253.0).high
    )


def test_a_capacitor_across_the_mains_takes_its_own_current_ahead_of_the_winding() -> None:
    """Of 47 nF 2 pi f C V, in whatever phase with what the iron and the load take."""
    fitted = (
        ("[F1, TL1,", "[F1, across CX1, TL1,"),
        ("parts:\n  F1:", "parts:\n  CX1: {kind: film capacitor, class: X2, capacitance: 47 nF}\n  F1:"),
    )
    taken = 2.0 * pi * 53.0 * 47e-9 * 253.0
    alone = value("F1", "current_rms", group=RUNNING, mains=253.0, frequency=53.0)
    both = value("F1", "current_rms", *fitted, group=RUNNING, mains=253.0, frequency=53.0)
    assert alone.high + 0.999 * taken < both.high < alone.high + 4.0 * taken
    assert both.low < alone.low - 0.999 * taken
    primary = [value("T1.primary", "current_rms", *one, kind="winding", group=RUNNING) for one in ((), fitted)]
    assert primary[0] == primary[1]
    entry = row("F1", "current_rms", fitted[0], (fitted[1][0], fitted[1][1].replace("47 nF", "unknown")), group=RUNNING)
    assert entry.value is None and any("CX1" in str(fact) for fact in entry.missing)
