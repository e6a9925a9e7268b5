"""Random linear lamps against live ngspice: what is reported at the ends of the mains holds the truth of a sample.

Drawn: a bridge or one diode with a bulk capacitor, a bridge without, alone or with a film capacitor behind it; 120 and
230 V, 50 and 60 Hz, each from three hertz below to three above; 5 to 80 mA held by the chip within 1 to 10 %, LEDs of
0.45 to 0.85 of the crest at the lowest mains, 4.7 to 470 ohm ahead; one sample anywhere inside its tolerances, half of
them at the ends, with silicon diodes and a chip that needs a volt. No upper end lies below the truth by more than
0.5 %, no lower end above it. A few in an ordinary run, 30 by brute force; DEVELOPERS.md has what they came to.
"""

from __future__ import annotations

import random
from math import pi, sqrt
from typing import NamedTuple

import pytest
from brute_force import BRUTE_FORCE
from law_bench import WORKSHOP
from mains_bench import mean, need_ngspice, ngspice, rms

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import SUPPLY, Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import BULK, LINE, part
from derate.study.work import worked
from derate.terms.quantities import OVERLOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value

WITHIN = 0.005
KINDS = ("bulk behind a bridge", "bulk behind a diode", "bare", "film")
DESIGN = """\
derate: 1
supply:
  name: x
  topology: linear lamp driver
  plate: {{mains: {volts} V, frequency: {hertz} Hz, outputs: {{lamp: {{voltage: {string}, current: {plate} mA}}}}}}
site:
  {{ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 10 K, mains_resistance: 0 ohm, mains_inductance: 0 mH}}
packs: [commercial-practice, mains-fusing]
parts:
  R2: wirewound resistor {ohms} ohm {ohms_by}%
  BR1: {rectifier} 1000 V 1 A
  C1: {capacitor} {farads} uF {farads_by}% 630 V
  LED1: {{kind: LED, rated: {{current: 200 mA}}}}
  U1: {{kind: linear regulator, limit_current: {limit}, rated: {{voltage: 600 V}}}}
  R1: film resistor 10 ohm 1%
circuit:
  line: [R2, BR1{across}]
  outputs: {{lamp: [LED1, U1, R1]}}
  other: {{{other}}}
"""
SILICON = ".model DR D(IS=7e-9 N=1.8 RS=0.05 CJO=20p)\n"
BRIDGE = "D1 b p DR\nD2 n b DR\nD3 0 p DR\nD4 n 0 DR\nR9 n 0 10meg\n"
DIODE = "D1 b p DR\nRn n 0 1u\n"


class Lamp(NamedTuple):
    """One design with a sample inside its tolerances: resistance [ohm], capacitance [F], LEDs [V], current held [A]."""

    kind: str
    text: str
    ohms: float
    farads: float
    string: float
    held: float


def drawn(seed: int) -> Lamp:
    rng = random.Random(f"linear lamp live {seed}")
    kind = KINDS[seed % 4]
    volts, hertz = rng.choice((120, 230)), rng.choice((50, 60))
    held = 10 ** rng.uniform(0.7, 1.9) * 1e-3
    by, of, spread = rng.choice((1, 5, 10)), rng.choice((5, 10, 20)), rng.choice((1, 5, 10))
    crest = sqrt(2.0) * 0.9 * volts
    ohms = min(10 ** rng.uniform(0.67, 2.67), 0.01 * crest / held)
    string = rng.uniform(0.45, 0.85) * crest * (0.9 if kind.startswith("bulk") else 1.0)
    half = 0.5 if kind == "bulk behind a diode" else 1.0
    if kind == "film":  # up to where the chip no longer discharges it as fast as the mains falls
        farads = rng.uniform(0.05, 0.6) * held / (2.0 * pi * (hertz + 3) * 1.25 * crest)
    else:  # falls by 4 to 9 % of the crest between two charges
        farads = held / (rng.uniform(0.04, 0.09) * crest * 2.0 * hertz * half)
    text = DESIGN.format(
        volts=volts,
        hertz=hertz,
        string=f"{0.98 * string:.5g}..{1.02 * string:.5g} V",
        plate=f"{1e3 * held:.5g}",
        limit=f"{1e3 * held * (1 - spread / 100):.6g}..{1e3 * held * (1 + spread / 100):.6g} mA",
        ohms=f"{ohms:.4g}",
        ohms_by=by,
        farads=f"{1e6 * farads:.4g}",
        farads_by=of,
        rectifier="line diode" if kind == "bulk behind a diode" else "bridge rectifier",
        capacitor="film capacitor" if kind == "film" else "electrolytic capacitor",
        across="" if kind == "bare" else ", across C1",
        other="C1: spare" if kind == "bare" else "",
    )
    draw = (lambda: rng.choice((-1.0, 1.0))) if seed % 8 > 3 else lambda: rng.uniform(-1.0, 1.0)
    inside = [1.0 + draw() * x / 100.0 for x in (by, of, 2, spread)]
    return Lamp(
        kind,
        text,
        float(f"{ohms:.4g}") * inside[0],
        float(f"{1e6 * farads:.4g}") * 1e-6 * inside[1] if kind != "bare" else 0.0,
        string * inside[2],
        held * inside[3],
    )


def truth(one: Lamp, volts: float, hertz: float, string: float) -> dict[str, float]:
    """Currents [A], voltages [V] and heat [W] of the last of ten periods."""
    period, keeps = 1.0 / hertz, one.kind.startswith("bulk")
    circuit = f"V1 l 0 sin(0 {sqrt(2) * volts} {hertz})\nR2 l b {one.ohms}\n"
    circuit += DIODE if one.kind == "bulk behind a diode" else BRIDGE
    if one.farads:
        start = sqrt(2.0) * volts if keeps else string
        circuit += f"Vc p c 0\nC1 c n {one.farads} IC={start}\n"
    else:
        circuit += "Vc p c 0\nC1 c n 1p\n"
    circuit += f"Vs p q {string}\nB1 q m I={one.held}*min(max(V(q,m),0),1)\nRs m n 10\n" + SILICON
    probes = "i(V1) v(p,n) i(Vs) v(q,m) i(Vc)"
    t, line, bulk, led, chip, charge = ngspice(circuit, probes, period / 2000, 10 * period, 9 * period, tight=False)
    return {
        "rms": rms(t, line),
        "peak": max(abs(x) for x in line),
        "heat": one.ohms * rms(t, line) ** 2,
        "whole": mean(t, [abs(x) for x in line]),
        "valley": min(bulk),
        "crest": max(bulk),
        "ripple": rms(t, charge),
        "chip": mean(t, [v * i for v, i in zip(chip, led, strict=True)]),
        "blocked": max(chip),
        "lit": mean(t, led),
        "held": max(led),
    }


def rows(book: Ledger, subject: Subject, quantity: QuantityName, group: str = RUNNING) -> list[tuple[Case, Value]]:
    found = [(one.case, one) for one in book.rows(subject, quantity) if one.case is not None]
    held = [(case, one) for case, one in found if case.group == group]
    for _, one in held:
        assert isinstance(one.value, Value), f"{quantity} of {subject}: {one.note} {one.missing}"
    return [(case, one.value) for case, one in held if isinstance(one.value, Value)]


def worst(one: Lamp) -> list[tuple[str, float, Value]]:
    """Name, truth and row of every figure at every case that has a row."""
    design = read_design(one.text, "x.derate.yaml")
    book = worked(design, WORKSHOP.packs_for("x.derate.yaml", design, Settings()))
    keeps = one.kind.startswith("bulk")
    figures: list[tuple[str, Subject, QuantityName]] = [
        ("rms", LINE, "current_rms"),
        ("rms", SUPPLY, "mains_current"),
        ("rms", part("R2"), "current_rms"),
        ("peak", LINE, "current_peak"),
        ("heat", part("R2"), "power"),
        ("whole", part("BR1"), "current_average"),
        ("chip", part("U1"), "power"),
        ("lit" if keeps else "held", part("LED1"), "current_average"),
    ]
    if keeps:
        figures += [("valley", BULK, "voltage_min"), ("ripple", part("C1"), "ripple_current")]
    ends = {(case.mains, case.frequency) for case, _ in rows(book, LINE, "current_rms")}
    true = {(v, f): truth(one, v, f, one.string) for v, f in ends if v is not None and f is not None}
    found = []
    for name, subject, quantity in figures:
        at = rows(book, subject, quantity)
        assert at, f"no row of {quantity} of {subject}"
        for case, value in at:
            figure = true[case.mains, case.frequency][name]  # type: ignore[index]
            if name == "whole" and one.kind == "bulk behind a bridge":
                figure /= 2.0  # of one diode
            found.append((f"{quantity} of {subject} at {case}", figure, value))
    greatest = max(each["peak"] for each in true.values())  # told at one end of the mains, and held at every one
    told = max(value.high for _, value in rows(book, LINE, "current_peak"))
    found.append(("current_peak of line at any end", greatest, Value.between(0.0, told)))
    top = max(volts for volts, _ in true)
    high = [each for (volts, _), each in true.items() if volts == top]
    for subject in (part("U1"), *((part("C1"),) if one.kind != "bare" else ())):
        for case, value in rows(book, subject, "voltage_peak"):
            seen = max(each["crest"] for each in high)  # LEDs that are dark drop next to nothing
            found.append((f"voltage_peak of {subject} at {case}", max(seen, sqrt(2.0) * top * 0.996), value))
    shorted = truth(one, top, min(f for v, f in true if v == top), 0.0)["chip"]
    for case, value in rows(book, part("U1"), "power", OVERLOAD):
        found.append((f"power of U1 at {case}", shorted, value))
    return found


@pytest.mark.parametrize("seed", range(30) if BRUTE_FORCE else (0, 1, 3))
def test_no_end_on_the_wrong_side_of_ngspice(seed: int) -> None:
    need_ngspice()
    wrong = {
        name: f"{true:.5g} in {found.low:.5g} to {found.high:.5g}"
        for name, true, found in worst(drawn(seed))
        if not found.low * (1.0 - WITHIN) <= true <= found.high * (1.0 + WITHIN)
    }
    assert not wrong
