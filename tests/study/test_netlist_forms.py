"""Netlists of forms that no demonstration has: every figure of a run of ngspice falls inside what the ledger has of it.

Doublers, a half wave, a stage that follows the mains with slower pulses than a demonstration's, at a fixed frequency,
and inverting. Each is run once more with one element other than the design has it, and falls outside then.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest
from brute_force import BRUTE_FORCE
from mains_bench import need_ngspice

from derate.stress.netlist import Netlist
from derate.study.netlist import netlist, run
from derate.study.work import Workshop

DESIGNS = Path(__file__).parents[2] / "designs"
CELLAR = "cellar-lamp/cellar-lamp"
RECTIFIED = """\
derate: 1
supply:
  name: drawn
  topology: flyback
  efficiency: 78..84 %
  plate: {{mains: {mains} V, frequency: 50..60 Hz, outputs: {{main: {{voltage: 12 V, current: {current} A}}}}}}
site:
  {{ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 20 K,
   mains_resistance: 0.2..0.5 ohm, mains_inductance: {henries} mH}}
packs: [commercial-practice]
parts:
  R1: wirewound resistor {ohms} ohm 5%
  D1, D2, D3, D4: line diode 1000 V 3 A
  C1, C2: electrolytic capacitor {micro} uF 20% 200 V
circuit:
  line: [R1, {rectifier}]{more}
"""
DOUBLER = {"rectifier": "D1 || D2, across C1 + C2", "more": "\n  input: doubler"}
HALF = {"rectifier": "D1, across C1", "more": "\n  input: half-wave"}
BRIDGE = {"rectifier": "D1 || D2 || D3 || D4, across C1 || C2", "more": ""}


class Form(NamedTuple):
    """A design, a case of it, how many figures its netlist has at least; an element that changes what it is [times]."""

    name: str
    text: str
    case: str
    least: int
    element: str
    factor: float


def rectified(given: dict[str, str], mains: int, current: float, ohms: float, henries: str, micro: int) -> str:
    return RECTIFIED.format(mains=mains, current=current, ohms=ohms, henries=henries, micro=micro, **given)


def cellar(*changes: tuple[str, str]) -> str:
    """The cellar lamp with other words, each of which stands in it."""
    text = (DESIGNS / f"{CELLAR}.derate.yaml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


# pulses as slow that a run takes seconds, and a filter whose corner stays well below them
SLOW = [("inductance: 0.8 mH 10%", "inductance: 4 mH 10%"), ("leakage: 0.15 mH", "leakage: 15 mH")]
FIXED = [
    ("inductance: 0.8 mH 10%", "inductance: 1.8 mH 10%"),
    ("leakage: 0.15 mH", "leakage: 15 mH"),
    ("type: boundary, frequency: 120..400 kHz", "type: fixed frequency, frequency: 20..21 kHz"),
]
INVERTING = [*SLOW, ("across D1, L1, across C2", "across L1, D1, across C2")]
FORMS = [
    Form("doubler", rectified(DOUBLER, 115, 1.2, 2.2, "0", 120), "103.5 V 47 Hz", 4, "Cbulk1", 0.25),
    Form("doubler", rectified(DOUBLER, 115, 1.2, 2.2, "0", 120), "103.5 V 63 Hz", 2, "Vmains", 1.2),
    Form("doubler behind inductance", rectified(DOUBLER, 120, 0.8, 1.0, "0.5..1", 100), "108 V 47 Hz", 4, "Rline", 6.0),
    Form("half wave", rectified(HALF, 230, 0.3, 22.0, "0.1..0.2", 33), "207 V 47 Hz", 4, "Cbulk1", 0.4),
    Form("two in parallel", rectified(BRIDGE, 230, 1.5, 2.2, "0.1..0.2", 68), "207 V 47 Hz", 3, "Vmains", 0.8),
    Form("follows the mains", cellar(*SLOW), "253 V 53 Hz", 11, "Vmains", 1.2),
    Form("follows the mains, fixed", cellar(*FIXED), "207 V 53 Hz", 12, "L1", 0.6),
    Form("follows the mains, inverting", cellar(*INVERTING), "207 V 53 Hz", 12, "Vo", 1.3),
]
ORDINARY = FORMS if BRUTE_FORCE else [FORMS[0], FORMS[3], FORMS[5]]


def _made(form: Form, folder: Path) -> Netlist:
    (folder / "drawn.derate.yaml").write_text(form.text, encoding="utf-8")
    return netlist(Workshop().work(str(folder / "drawn.derate.yaml")), form.case)


def _other(made: Netlist, element: str, factor: float) -> Netlist:
    lines = []
    for line in made.circuit:
        words = line.split()
        if words[0] == element:
            at = 4 if element == "Vmains" else 3
            words[at] = f"{float(words[at]) * factor:.6g}"
        lines.append(" ".join(words))
    assert tuple(lines) != made.circuit
    return made._replace(circuit=tuple(lines))


@pytest.mark.parametrize("form", ORDINARY, ids=lambda one: f"{one.name} {one.case}")
def test_inside_and_with_another_element_outside(form: Form, tmp_path: Path) -> None:
    need_ngspice()
    made = _made(form, tmp_path)
    found = run(made, form.name)
    assert len(found) >= form.least
    assert not {str(one.probe): (one.found, str(one.row.value)) for one in found if not one.inside}
    assert not all(one.inside for one in run(_other(made, form.element, form.factor), form.name))
