"""Random droppers against live ngspice: what is reported at its own ends of the mains holds the truth of a sample.

Drawn: bridge, half a wave with its zener ahead or behind, resistors alone; 100 to 240 V, 50 and 60 Hz, 68 nF to 2.2 µF
of 5 to 20 %, 22 ohm to 1 kohm of 1 to 10 %, a rail of 3.3 to 60 V; one sample anywhere inside its tolerances, half of
them at the ends, with silicon diodes. No upper end lies below the truth by more than 0.5 %, no lower end above it. A
few in an ordinary run, 30 by brute force; DEVELOPERS.md has what they came to.
"""

from __future__ import annotations

import random
from math import sqrt
from typing import NamedTuple

import pytest
from brute_force import BRUTE_FORCE
from law_bench import WORKSHOP
from mains_bench import mean, need_ngspice, ngspice, rms

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import LINE, part
from derate.study.work import worked
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value

WITHIN = 0.005
KINDS = ("bridge", "zener ahead", "zener behind", "resistors")
LINES = {
    "bridge": "R1, C1, BR1, across D1, across C2",
    "zener ahead": "R1, C1, across D1, BR1, across C2",
    "zener behind": "R1, C1, across D9, BR1, across D1, across C2",
    "resistors": "R1 + R2, BR1, across D1, across C2",
}
DESIGN = """\
derate: 1
supply:
  name: x
  topology: dropper
  plate: {{mains: {volts} V, frequency: {hertz} Hz, outputs: {{main: {{voltage: {rail} V, current: 1 mA}}}}}}
site:
  {{ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 10 K, mains_resistance: 0..1 ohm, mains_inductance: 0 mH}}
packs: [commercial-practice, mains-fusing]
parts:
  R1, R2: wirewound resistor {ohms} ohm {ohms_by}%
  C1: film capacitor X2 {farads} nF {farads_by}% 310 Vac
  BR1: {rectifier} 600 V 1 A
  D9: line diode 600 V 1 A
  D1: zener diode {rail} V 5% 5 W
  C2: electrolytic capacitor 220 uF 20% 100 V
circuit:
  line: [{line}]
  outputs: {{main: [across C2]}}
  other: {{{other}}}
"""
SILICON = ".model DR D(IS=7e-9 N=1.8 RS=0.05 CJO=20p)\n"
BEHIND = {
    "bridge": "D1 b p DR\nD2 n b DR\nD3 0 p DR\nD4 n 0 DR\nR9 n 0 10meg\n{hold}",
    "zener ahead": "Vz b z 0\n{hold}",
    "zener behind": "D1 b p DR\nD2 0 b DR\nRn n 0 1u\n{hold}",
    "resistors": "D1 b p DR\nD2 n b DR\nD3 0 p DR\nD4 n 0 DR\nR9 n 0 10meg\n{hold}",
}


class Dropper(NamedTuple):
    """One design with a sample inside its tolerances: resistance of one resistor [ohm], capacitance [F], rail [V]."""

    kind: str
    text: str
    ohms: float
    farads: float
    rail: float


def drawn(seed: int) -> Dropper:
    rng = random.Random(f"dropper live {seed}")
    kind = KINDS[seed % 4]
    ohms = 10 ** rng.uniform(3.2, 4.2) if kind == "resistors" else 10 ** rng.uniform(1.35, 3.0)
    nano = 10 ** rng.uniform(1.83, 3.34)
    by, of = rng.choice((1, 5, 10)), rng.choice((5, 10, 20))
    rail = rng.choice((3.3, 5.1, 12.0, 24.0, 60.0))
    used = {"R2": kind == "resistors", "C1": kind != "resistors", "D9": kind == "zener behind"}
    text = DESIGN.format(
        volts=rng.choice((100, 120, 230, 240)),
        hertz=rng.choice((50, 60)),
        rail=rail,
        ohms=f"{ohms:.4g}",
        ohms_by=by,
        farads=f"{nano:.4g}",
        farads_by=of,
        rectifier="bridge rectifier" if kind in ("bridge", "resistors") else "line diode",
        line=LINES[kind],
        other=", ".join(f"{name}: spare" for name, is_used in used.items() if not is_used),
    )
    draw = (lambda: rng.choice((-1.0, 1.0))) if seed % 8 > 3 else lambda: rng.uniform(-1.0, 1.0)
    inside = [1.0 + draw() * x / 100.0 for x in (by, of, 5)]
    farads = float(f"{nano:.4g}") * 1e-9 * inside[1]
    return Dropper(kind, text, float(f"{ohms:.4g}") * inside[0], farads, rail * inside[2])


def truth(one: Dropper, volts: float, hertz: float) -> dict[str, float]:
    """What flows in the sample [A], rms of the line and mean into the rail held at its voltage; heat in R1 [W]."""
    period, alone = 1.0 / hertz, one.kind == "resistors"
    dropped = "Rshort a b 1m\n" if alone else f"C1 a b {one.farads}\n"
    hold = f"Vr p n {one.rail}\n"
    if one.kind == "zener ahead":  # a diode that breaks down at the rail, forward a junction
        hold = f"D5 z p DR\nVr p 0 {one.rail - 0.75}\nD6 0 z DR\n"
    circuit = f"V1 l 0 sin(0 {sqrt(2) * volts} {hertz})\nR1 l a {one.ohms * (2.0 if alone else 1.0)}\n{dropped}"
    circuit += BEHIND[one.kind].format(hold=hold) + SILICON
    t, line, rail = ngspice(circuit, "i(V1) i(Vr)", period / 2000, 8 * period, 7 * period, tight=False)
    return {"rms": rms(t, line), "rail": mean(t, rail), "power": one.ohms * rms(t, line) ** 2}


def row(book: Ledger, subject: Subject, quantity: QuantityName, volts: float, hertz: float) -> Value:
    """The row at these ends."""
    for one in book.rows(subject, quantity):
        case = one.case
        if case is None or case.group != "running":
            continue
        if case.mains in (None, volts) and case.frequency in (None, hertz):
            assert isinstance(one.value, Value), one.note
            return one.value
    raise AssertionError(f"no row of {quantity} of {subject}")


def compared(one: Dropper) -> dict[str, tuple[float, Value]]:
    """Truth and row of each figure."""
    design = read_design(one.text, "x.derate.yaml")
    book = worked(design, WORKSHOP.packs_for("x.derate.yaml", design, Settings()))
    cases = [each.case for each in book.rows(LINE, "current_rms") if each.case is not None]
    ends = sorted({(case.mains, case.frequency) for case in cases if case.group == "running" and case.frequency})
    (low, least), (high, most) = ends[0], ends[-1]
    assert low is not None and least is not None and high is not None and most is not None
    bad, worst = truth(one, low, least), truth(one, high, most)
    zener = worst["rail"] * (one.rail + (0.7 if one.kind == "zener ahead" else 0.0))
    output = Subject("output", ("main",))
    return {
        "available": (bad["rail"], row(book, output, "current_available", low, least)),
        "rms": (worst["rms"], row(book, LINE, "current_rms", high, most)),
        "power of the resistor": (worst["power"], row(book, part("R1"), "power", high, most)),
        "power of the clamp": (zener, row(book, part("D1"), "power", high, most)),
    }


@pytest.mark.parametrize("seed", range(30) if BRUTE_FORCE else (0, 1, 3))
def test_no_end_on_the_wrong_side_of_ngspice(seed: int) -> None:
    need_ngspice()
    wrong = {
        name: f"{true:.5g} in {found.low:.5g} to {found.high:.5g}"
        for name, (true, found) in compared(drawn(seed)).items()
        if not found.low * (1.0 - WITHIN) <= true <= found.high * (1.0 + WITHIN)
    }
    assert not wrong
