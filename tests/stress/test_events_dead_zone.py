"""The dead zone as rows: over random supplies it holds every fault that a scan over all ranges finds glowing on."""

from __future__ import annotations

import random
import re

import numpy as np
import pytest
from event_designs import EXACT, exact, part, row, value
from random_supplies import Given

from derate.design.facts import facts
from derate.design.load import read_design
from derate.ledger.ledger import Ledger
from derate.run import run
from derate.terms.values import Value

_FAULT = "partial short behind RF1"
_FAULTS = np.concatenate(([0.0], np.geomspace(0.1, 1e5, 500)))
_PLAIN = ("BR1: bridge rectifier 1000 V 4 A", "C1: electrolytic capacitor 10 uF 450 V")


def _range(rng: random.Random, middle: float, unit: str) -> tuple[str, float, float]:
    kind = rng.random()
    if kind < 0.3:
        return f"{middle:.6g} {unit}", middle, middle
    if kind < 0.6:
        return f"{middle:.6g} {unit} 10%", 0.9 * middle, 1.1 * middle
    low, high = middle / rng.uniform(1.05, 4.0), middle * rng.uniform(1.05, 4.0)
    return f"{low:.6g}..{high:.6g} {unit}", low, high


def _drawn(rng: random.Random) -> tuple[str, dict[str, tuple[float, float]]]:
    """A design with a fusible resistor, with or without a fuse ahead of it, and its figures over their ranges."""
    watts = rng.choice([0.5, 1.0, 2.0, 3.0])
    own, *ohms = _range(rng, 10 ** rng.uniform(0.3, 3.0), "ohm")
    ahead, *rest = _range(rng, 10 ** rng.uniform(-2.0, 0.5), "ohm")
    heats = (watts / (ohms[0] * ohms[1]) ** 0.5) ** 0.5
    rating, *amps = _range(rng, float(f"{heats * rng.uniform(0.2, 1.5) / 2.1:.4g}"), "A")
    site, *wires = _range(rng, 0.4, "ohm")
    fuse, table, half = rng.random() < 0.6, rng.random() < 0.7, rng.random() < 0.3
    low, high = rng.choice([(100.0, 240.0), (220.0, 240.0), (115.0, 115.0)])
    opens = rng.choice([1.2, 16.0]) * watts
    opening = f", opens_within: {{{opens:g} W: 60 s}}" if table else ""
    text = "\n".join([
        "derate: 1",
        f"supply: {{name: drawn, topology: flyback, plate: {{mains: {low:g}..{high:g} V, frequency: 50 Hz, "
        "outputs: {main: {voltage: 12 V, current: 0.5 A}}}}",
        f"site: {{ambient: 5 degC, mains_tolerance: 10%, inside_rise: 20 K, mains_resistance: {site}}}",
        "parts:",
        *([f"  F1: {{kind: fuse, standard: IEC 60127, resistance: {ahead}, rated: {{current: {rating}}}}}"] * fuse),
        f"  RF1: {{kind: fusible wirewound resistor, resistance: {own}, rated: {{power: {{70 degC: {watts} W, "
        f"155 degC: 0 W}}{opening}}}}}",
        "  D1: line diode 1000 V 4 A" if half else "  BR1: bridge rectifier 1000 V 4 A",
        "  C1: electrolytic capacitor 10 uF 450 V",
        f"circuit: {{line: [{'F1, ' * fuse}RF1, {'D1' if half else 'BR1'}, across C1]}}",
    ])  # fmt: skip
    scale = 0.5**0.5 if half else 1.0
    drop = 1.0 if half else 2.0
    others = (rest[0] * fuse + wires[0], rest[1] * fuse + wires[1])
    return text, {
        "mains": (0.9 * low * scale, 1.1 * high * scale), "own": (ohms[0], ohms[1]), "rest": others,
        "power": (watts, watts), "opening": (opens, opens) if table else (np.inf, np.inf),
        "fuse": (2.1 * amps[0], 2.1 * amps[1]) if fuse else (np.inf, np.inf), "drop": (0.0, drop),
    }  # fmt: skip


def _glows(mains: list[float], figures: dict[str, tuple[float, float]]) -> np.ndarray:
    """Fault resistances at which some values of the ranges overheat the resistor while nothing opens."""
    spans = [figures[name] for name in ("own", "rest", "power", "opening", "fuse", "drop")]
    steps = [np.array(mains), *(np.linspace(*span, 9 if k == 0 else 2) if span[0] < np.inf else np.array([np.inf])
                                for k, span in enumerate(spans))]  # fmt: skip
    volts, own, rest, power, opening, fuse, drop = (axis.ravel() for axis in np.meshgrid(*steps, indexing="ij"))
    current = (volts - drop) / (own + rest + _FAULTS[:, None])
    heat = current**2 * own
    return _FAULTS[((heat > power) & (heat < opening) & (current < fuse)).any(axis=1)]


def _worked(text: str) -> Ledger:
    design = read_design(text, "drawn.derate.yaml")
    return run(design.structure, facts(design), EXACT | {"bridge_drop": Given(Value.exact(0.0))}, design.readings)


def test_the_reported_band_holds_every_fault_that_a_scan_finds() -> None:
    rng = random.Random(512)
    empty = found = ended = sure = 0
    for _ in range(60):
        text, figures = _drawn(rng)
        ledger = _worked(text)
        low, high = figures["mains"]
        standing = ledger.find(part("RF1"), "dead_zone")
        rows = [one for one in ledger.rows(part("RF1"), "dead_zone") if one.case is not None]
        assert standing is not None and len(rows) == (1 if low == high else 2)
        for entry, mains in ((standing, [low, (low * high) ** 0.5, high]), (min(rows, key=_volts), [low]),
                             (max(rows, key=_volts), [high])):  # fmt: skip
            assert isinstance(entry.value, Value), text
            seen = _glows(mains, figures)
            if entry.value.high == 1.0:
                empty += 1
                assert not len(seen), (text, seen)
                continue
            if not len(seen):
                continue
            found += 1
            ends = re.search(r"a fault of (\S+) to (\S+) ohm", entry.note)
            assert ends is not None, entry.note
            least, most = (float(one) for one in ends.groups())
            assert least <= seen[0] * 1.005 and seen[-1] <= most * 1.005, (text, entry.note, seen)  # three digits
            if seen[0] > 0.0:
                assert seen[-1] / seen[0] <= entry.value.high
                ended += 1
            sure += entry.value.near > 1.0
    assert empty > 20 and found > 60 and ended > 25 and sure > 25, (empty, found, ended, sure)


def _volts(entry: object) -> float:
    return entry.case.mains or 0.0  # type: ignore[attr-defined]


_FUSE = "F1: {kind: fuse, standard: IEC 60127, resistance: 1 mohm, rated: {current: 0.105 A}}"
_RESISTOR = "RF1: {kind: fusible wirewound resistor, resistance: %s, rated: {power: {70 degC: 0.5 W, 155 degC: 0 W}}}"


@pytest.mark.parametrize("how", ["", " 10%"])
def test_a_tolerance_opens_a_band_that_is_empty_at_nominal(how: str) -> None:
    # sure to open at 2.1 × 0.105 A = 0.2205 A, below the sqrt(0.5 W / 10 ohm) = 0.2236 A that overheats it; at 11 ohm
    # it is overheated from 0.2132 A up
    ledger = exact("[F1, RF1, BR1, across C1]", _FUSE, _RESISTOR % f"10 ohm{how}", *_PLAIN)
    found = value(ledger, part("RF1"), "dead_zone", "fault", _FAULT)
    assert (found.low, found.near, found.far) == (1.0, 1.0, 1.0)
    if how:
        # the ratio of the currents, 0.2205 / 0.2132, and 2 V of the diodes: 1.034 to 1.045
        assert 1.034 < found.high < 1.046
        assert "over tolerance" in row(ledger, part("RF1"), "opening", "fault", _FAULT).note
    else:
        assert found.high == 1.0


def test_what_nobody_knows_about_the_resistance_is_not_a_pass() -> None:
    ledger = exact("[F1, RF1, BR1, across C1]", _FUSE, _RESISTOR % "5..20 ohm", *_PLAIN)
    found = value(ledger, part("RF1"), "dead_zone", "fault", _FAULT)
    assert found.near == 1.0 < found.far == found.high
    assert "as far as is known" in row(ledger, part("RF1"), "opening", "fault", _FAULT).note


def test_across_a_doubler_it_is_for_the_bench() -> None:
    ledger = exact(
        "[RF1, BR1, across C1 + C2]",
        "RF1: {kind: fusible wirewound resistor, resistance: 10 ohm, rated: {power: {70 degC: 2 W, 155 degC: 0 W}}}",
        _PLAIN[0], "C1, C2: electrolytic capacitor 330 uF 200 V", mains="115 V", more=", input: doubler",
    )  # fmt: skip
    entry = row(ledger, part("RF1"), "dead_zone", "fault", _FAULT)
    assert entry.value is None and "for the bench" in entry.note
