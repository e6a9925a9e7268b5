"""Tests done and things looked at: electric strength, insulation readings, marks, plug and case.

A reading of insulation resistance at 500 V or 1 kV is no proof of electric strength: half a millimetre of air holds
1 kV. A held test says nothing about distances.
"""

from __future__ import annotations

from collections.abc import Iterator

from derate.design.load import Design
from derate.design.readings import Test
from derate.insulation.circuits import end_of
from derate.insulation.needed import as_peak
from derate.insulation.row import Writer
from derate.insulation.tables import HOUSEHOLD
from derate.ledger.entry import SUPPLY, OpenFact, Subject
from derate.terms.dimension import LENGTH
from derate.terms.place import ReadingError
from derate.terms.quantities import QuantityName, named
from derate.terms.values import Category, Value
from derate.text.nodes import Mapping, Scalar
from derate.text.quantity import read_quantity, read_said

_NOTHING = ("no", "absent", "nothing", "not found")  # other ways to say that somebody looked and found none
_WORDS: dict[str, QuantityName] = {
    "opens_by_hand": "inspection.opens_by_hand",
    "enclosure_flame_class": "inspection.enclosure_flame_class",
    "copper_under_sheet": "inspection.copper_under_sheet",
    "solder_blobs": "inspection.solder_blobs",
    "scorch_marks": "inspection.scorch_marks",
    "shared_ribbon": "inspection.shared_ribbon",
    "touchable_output": "inspection.touchable_output",
    "pin_sleeves": "inspection.pin_sleeves",
    "plug_pattern": "inspection.plug_pattern",
    "plug_fuse": "inspection.plug_fuse",
}
_LENGTHS = ("pin_edge_to_face_edge", "pin_thickness", "pin_breadth")


def sides_of(test: Test, design: Design) -> tuple[str, ...]:
    """The two circuits a test was done between, sorted; a mains conductor counts as primary."""
    found = []
    for point in test.between:
        side = end_of(point, design).side
        found.append("primary" if side in ("line", "neutral", "after") else side)
    return tuple(sorted(found))


def strength_tests(writer: Writer, pair: Subject, design: Design) -> None:
    """Voltage (as a peak), time and outcome of the electric-strength test of a pair; holes where there is none."""
    wanted = tuple(sorted(pair.names))
    own = [one for one in design.tests if sides_of(one, design) == wanted]
    tests = [one for one in own if one.test == "electric strength"]
    if not tests:
        _none(writer, pair, own)
        return
    test = max(tests, key=lambda one: (not one.done, _volts(one)))
    result = test.words.get("result", "")
    # A breakdown counts whatever else held.
    broke = [one for one in tests if one.words.get("result") == "broke down"]
    if broke:
        test, result = broke[0], "broke down"
    if not test.done or not result:
        writer.hole(
            pair, "test.result", (OpenFact(pair, "test.result"),), note="the electric-strength test was not done"
        )
        writer.hole(pair, "test.voltage", (OpenFact(pair, "test.voltage"),), note=_no_proof(own))
        return
    writer.row(
        pair,
        "test.result",
        Category.of(result),
        formula="electric-strength test",
        place=test.place,
        known_by="measured",
    )
    time = test.values.get("time")
    if time is not None and isinstance(time.value, Value):
        writer.row(
            pair, "test.time", time.value, formula="electric-strength test", place=test.place, known_by="measured"
        )
    else:
        writer.hole(pair, "test.time", (OpenFact(pair, "test.time"),))
    _voltage(writer, pair, test, "test.voltage")


def _none(writer: Writer, pair: Subject, own: list[Test]) -> None:
    note = _no_proof(own)
    for name in ("test.voltage", "test.result"):
        writer.hole(pair, name, (OpenFact(pair, name),), note=note)
    for test in own:
        voltage = test.values.get("voltage")
        if test.test == "insulation resistance" and voltage is not None and isinstance(voltage.value, Value):
            writer.row(
                pair,
                "insulation_reading.voltage",
                voltage.value,
                formula="insulation-resistance reading",
                place=test.place,
                known_by="measured",
                note="supporting evidence only",
            )


def _no_proof(own: list[Test]) -> str:
    for test in own:
        voltage = test.values.get("voltage")
        if test.test == "insulation resistance" and voltage is not None:
            return (
                f"an insulation reading at {voltage.text} is no electric-strength test: it is far below the test "
                "voltage, and half a millimetre of air holds 1 kV"
            )
    return ""


def _volts(test: Test) -> float:
    stated = test.values.get("voltage")
    if stated is None or not isinstance(stated.value, Value):
        return 0.0
    return as_peak(stated.value.near, stated.statistic) or 0.0


def _voltage(writer: Writer, subject: Subject, test: Test, name: QuantityName) -> None:
    stated = test.values.get("voltage")
    if stated is None or not isinstance(stated.value, Value):
        writer.hole(subject, name, (OpenFact(subject, name),))
        return
    if not stated.statistic:
        writer.hole(subject, name, (OpenFact(subject, name),), note=f"{stated.text}: write Vac, Vdc or Vpk")
        return
    if writer.family.name == HOUSEHOLD and stated.statistic == "dc":
        writer.hole(subject, name, note="this family tests with alternating voltage; a dc test is not compared with it")
        return
    numbers = [as_peak(one, stated.statistic) for one in stated.value.numbers()]
    value = Value(*(one for one in numbers if one is not None))
    writer.row(
        subject,
        name,
        value,
        formula=f"{stated.text} as a peak",
        place=test.place,
        known_by="measured",
        note="1.414 times an rms voltage; dc as it is",
    )


def tape_tests(writer: Writer, transformer: Subject, design: Design) -> None:
    """A test of single layers of the real tape: `between: [one layer of tape, T1]`."""
    # A breakdown counts, whatever held before or after it: those that did not hold come first.
    for test in sorted(design.tests, key=lambda one: one.words.get("result", "held") == "held"):
        if test.test == "electric strength" and any("layer" in point and "tape" in point for point in test.between):
            if len(transformer.names) == 1 and transformer.names[0] not in test.between and len(design.layers) > 1:
                continue
            if not test.done or not test.words.get("result"):
                continue
            _tape_test(writer, transformer, test)
            return
    for name in ("tape_test.voltage", "tape_test.result"):
        writer.hole(transformer, name, (OpenFact(transformer, name),))


def _tape_test(writer: Writer, transformer: Subject, test: Test) -> None:
    result = test.words["result"]
    writer.row(
        transformer,
        "tape_test.result",
        Category.of(result),
        formula="electric strength of single layers",
        place=test.place,
        known_by="measured",
    )
    layers = writer.find(transformer, "found.tape_layers")
    few = layers is None or not isinstance(layers.value, Value) or layers.value.near < 3
    if any("two layers" in point for point in test.between) and few:
        note = "two layers together were tested, and fewer than three are wound: one alone has to hold"
        writer.hole(transformer, "tape_test.voltage", (OpenFact(transformer, "tape_test.voltage"),), note=note)
    elif result == "held":
        _voltage(writer, transformer, test, "tape_test.voltage")
    else:
        writer.row(
            transformer, "tape_test.voltage", Value.exact(0.0), formula=f"single layers {result}", place=test.place
        )


def withstand_row(writer: Writer, barrier: Subject, part: Subject) -> None:
    """What an optocoupler withstands between its sides by its data sheet, as a peak; a plain V is not guessed at."""
    rated = writer.ledger.find(part, "rated.voltage")
    if rated is None or not isinstance(rated.value, Value):
        writer.hole(barrier, "found.withstand", (OpenFact(part, "rated.voltage"),))
        return
    numbers = [as_peak(one, rated.statistic) for one in rated.value.numbers()]
    if any(one is None for one in numbers):
        writer.hole(barrier, "found.withstand", (OpenFact(part, "rated.voltage"),), note="write Vrms, Vac, Vdc or Vpk")
        return
    value = Value(*(one for one in numbers if one is not None))
    writer.row(barrier, "found.withstand", value, formula="isolation voltage of the part, as a peak", inputs=[rated])


def inspection_rows(writer: Writer, design: Design) -> None:
    """What was looked at: found, absent, or a hole where nobody looked; marks of the plate."""
    said = dict(_said(design))
    for key, name in _WORDS.items():
        if key in said and said[key].text not in ("unknown", "not looked at"):
            scalar = said[key]
            text = read_said(scalar.text, scalar.start).text
            if text in _NOTHING and key != "opens_by_hand":
                text = "none"
            writer.row(SUPPLY, name, Category.of(text), formula="inspection", place=scalar.place, known_by="seen")
        else:
            writer.hole(SUPPLY, name, (OpenFact(SUPPLY, name),), note="not looked at")
    for key in _LENGTHS:
        _length(writer, named(f"inspection.{key}"), said.get(key))
    marks = design.file.supply.plate.marks
    if marks is not None and writer.ledger.find(SUPPLY, "plate.marks") is None:
        writer.row(SUPPLY, "plate.marks", Category.of(*marks), formula="marks of the plate", known_by="marked")


def _length(writer: Writer, name: QuantityName, scalar: Scalar | None) -> None:
    if scalar is not None:
        try:
            value = read_quantity(scalar.text, scalar.start, LENGTH).value
        except ReadingError:
            value = None
        if isinstance(value, Value):
            writer.row(SUPPLY, name, value, formula="inspection", place=scalar.place, known_by="measured")
            return
    writer.hole(SUPPLY, name, (OpenFact(SUPPLY, name),), note="not looked at")


def _said(design: Design) -> Iterator[tuple[str, Scalar]]:
    """Entries of the inspection block; spaces and underscores are one thing."""
    block = design.file.inspection
    if not isinstance(block, Mapping):
        return
    for key, value in block.entries:
        if isinstance(value, Scalar):
            yield key.text.replace(" ", "_"), value
