"""Netlists of flybacks with several outputs: how the windings share is a figure of the run, and inside the ledger.

One output is held at its voltage, the others settle. The leakage is drawn split evenly, and as badly as can be: all of
the current goes to the winding that has least of it, at first, which no figure of the ledger may lie below.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest
from brute_force import BRUTE_FORCE
from mains_bench import need_ngspice

from derate.cli.main import main
from derate.stress.netlist import Netlist, figure_words
from derate.study.netlist import netlist, run
from derate.study.work import Workshop
from derate.terms.values import ReadingError

DATA = Path(__file__).parents[1] / "data"
KEYS, CONSOLE = DATA / "designs/every-key.derate.yaml", DATA / "designs/scale-console-45W.derate.yaml"
MONITOR = DATA / "reference_designs/monitor-40w.derate.yaml"
BOX = DATA / "reference_designs/set-top-box-47w.derate.yaml"
# what a design does not say and a netlist needs
NODE = {
    CONSOLE: ("Q1: {kind: MOSFET,", "Q1: {kind: MOSFET, output_capacitance: 120 pF,"),
    MONITOR: ("IC101: {kind: integrated switch,", "IC101: {kind: integrated switch, output_capacitance: 90 pF,"),
    BOX: ("U1: {kind: integrated switch,", "U1: {kind: integrated switch, output_capacitance: 90 pF,"),
}


class Form(NamedTuple):
    """A design, a case, how many figures at least; how much more or less of some elements it has [times]."""

    design: Path
    case: str
    least: int
    times: dict[str, float] = {}


FORMS = [
    Form(KEYS, "converter, 90 V 47 Hz", 22),
    Form(KEYS, "converter, 90 V 47 Hz", 22, {"Ls": 2.0, "Ls2": 0.2}),
    Form(KEYS, "converter, 90 V 47 Hz", 22, {"Ls": 0.2, "Ls2": 2.0}),
    Form(KEYS, "converter, usb full, 90 V 47 Hz", 8),
    Form(CONSOLE, "converter, 90 V 47 Hz", 30),
    Form(CONSOLE, "converter, 90 V 47 Hz", 30, {"Lleak": 2.0, "Ls": 2.0, "Ls2": 2.0, "Ls3": 2.0}),
    Form(CONSOLE, "converter, 90 V 47 Hz", 30, {"Ls": 2.0, "Ls2": 0.2, "Ls3": 2.0}),
    Form(CONSOLE, "converter, 5V full, 90 V 47 Hz", 15),
    Form(CONSOLE, "converter, 12V full, 90 V 47 Hz", 15),
    Form(CONSOLE, "converter, minus-12V full, 90 V 47 Hz", 14),
    Form(MONITOR, "converter, 85 V 47 Hz", 22),
    Form(BOX, "converter, 85 V 57 Hz", 38),
]
ORDINARY = FORMS if BRUTE_FORCE else [FORMS[1], FORMS[8]]
OTHERWISE = [
    (KEYS, "Es2", 0.7),
    (KEYS, "Vo", 0.8),
    (KEYS, "Vbulk", 0.7),
    (KEYS, "Lm", 0.5),
    (KEYS, "Lleak", 4.0),
    (KEYS, "Rc", 0.5),
    (KEYS, "Es", 0.8),
    (KEYS, "Io2", 1.1),
]


def _made(design: Path, case: str, folder: Path) -> Netlist:
    text = design.read_text(encoding="utf-8")
    if design in NODE:
        assert NODE[design][0] in text
        text = text.replace(*NODE[design])
    (folder / "drawn.derate.yaml").write_text(text, encoding="utf-8")
    return netlist(Workshop().work(str(folder / "drawn.derate.yaml")), case)


def _other(made: Netlist, times: dict[str, float]) -> Netlist:
    """With so much more or less of some elements. A source that a voltage drives has its factor behind four nodes."""
    lines = []
    for line in made.circuit:
        words = line.split()
        if words[0] in times:
            at = 5 if words[0].startswith("E") else 3
            words[at] = f"{float(words[at]) * times[words[0]]:.6g}"
        lines.append(" ".join(words))
    changed = {line.split()[0] for line, was in zip(lines, made.circuit, strict=True) if line != was}
    assert changed == set(times)
    return made._replace(circuit=tuple(lines))


@pytest.mark.parametrize("form", ORDINARY, ids=lambda one: f"{one.design.stem} {one.case} {one.times}")
def test_inside_however_the_leakage_is_split(form: Form, tmp_path: Path) -> None:
    need_ngspice()
    found = run(_other(_made(form.design, form.case, tmp_path), form.times), "several")
    assert len(found) >= form.least
    assert not {figure_words(one.probe, one.row): one.found for one in found if not one.inside}


@pytest.mark.parametrize(("design", "element", "times"), OTHERWISE if BRUTE_FORCE else OTHERWISE[:1])
def test_another_circuit_falls_outside(design: Path, element: str, times: float, tmp_path: Path) -> None:
    need_ngspice()
    made = _made(design, "converter, 90 V 47 Hz", tmp_path)
    assert not all(one.inside for one in run(_other(made, {element: times}), "several"))


def test_what_it_is_held_to(tmp_path: Path) -> None:
    """All full to its own rows, both ends; what the ledger has of all loads in one to the upper end alone."""
    made = _made(CONSOLE, "converter, 90 V 47 Hz", tmp_path)
    rows = {(str(probe.subject), probe.quantity): (probe, row) for probe, row in made.probes}
    for name in ("5V", "12V", "minus-12V"):
        probe, row = rows[name, "current_rms"]
        assert row.case is not None and row.case.load == "all full" and not probe.worst
    probe, row = rows["T1.winding-5V", "current_rms"]
    assert probe.worst and figure_words(probe, row).endswith("A, the worst of several loads")
    assert "iwinding0 = i(Vs)+i(Vs2)" in made.vectors  # both outputs flow in the winding that they share
    assert ("minus-12V", "voltage") in rows and ("5V", "voltage") not in rows  # which is sensed too
    assert rows["D1", "current_average"][0].worst is False


def test_half_of_the_leakage_is_behind_the_core(tmp_path: Path) -> None:
    """What a meter at the primary reads with the outputs shorted is what the design says, and so is the inductance."""
    made = _made(CONSOLE, "converter, 90 V 47 Hz", tmp_path)
    henries = {words[0]: float(words[3]) for words in map(str.split, made.circuit) if words[0][0] == "L"}
    turns = {"Ls": 44 / 7, "Ls2": 44 / 3, "Ls3": 44 / 7}
    behind = 1.0 / sum(1.0 / (henries[name] * ratio**2) for name, ratio in turns.items())
    assert henries["Lleak"] + behind == pytest.approx(4e-6, rel=1e-4)  # at most 8 uH
    assert henries["Lleak"] + henries["Lm"] == pytest.approx(420e-6, rel=1e-4)
    text = CONSOLE.read_text(encoding="utf-8").replace("foil: 0.2 mm", "foil: 0.2 mm, leakage: 0.1 uH")
    (tmp_path / "own").mkdir()
    own = tmp_path / "own" / "console.derate.yaml"
    own.write_text(text, encoding="utf-8")
    (inductor,) = [line for line in _made_of(own, tmp_path).circuit if line.startswith("Ls2 ")]
    assert float(inductor.split()[3]) == pytest.approx(0.1e-6 - 2e-6 / (44 / 3) ** 2, rel=1e-4)


def _made_of(own: Path, folder: Path) -> Netlist:
    own.write_text(own.read_text(encoding="utf-8").replace(*NODE[CONSOLE]), encoding="utf-8")
    return netlist(Workshop().work(str(own)), "converter, 90 V 47 Hz")


def test_one_alone_full_is_the_one_that_is_held(tmp_path: Path) -> None:
    made = _made(CONSOLE, "converter, 5V full, 90 V 47 Hz", tmp_path)
    assert made.case.load == "5V full"
    assert "Vo o 0 5" in made.circuit
    loads = {words[0]: float(words[3]) for words in map(str.split, made.circuit) if words[0].startswith("Io")}
    assert loads == {"Io2": 0.0, "Io3": 0.0}
    other = _made(CONSOLE, "converter, 12V full, 90 V 47 Hz", tmp_path)
    loads = {words[0]: float(words[3]) for words in map(str.split, other.circuit) if words[0].startswith("Io")}
    assert sorted(loads.values()) == [0.0, 0.3]  # 5V takes its least beside it


@pytest.mark.parametrize(
    ("case", "said"),
    [("converter, 6V full, 90 V 47 Hz", "is no case of this design"), ("5V full, 90 V 47 Hz", "is no case of this")],
)
def test_a_load_that_is_none(case: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(ReadingError) as error:
        _made(CONSOLE, case, tmp_path)
    assert said in error.value.problems[0].what


def test_what_lacks_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stress", str(CONSOLE), "--netlist", "converter, 90 V 47 Hz"]) == 2
    assert "capacitance of the switch node of Q1 is not known" in capsys.readouterr().err
