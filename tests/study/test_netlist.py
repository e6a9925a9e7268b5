"""Netlists of the demonstrations run in ngspice: every figure falls inside what the ledger has of it."""

from __future__ import annotations

import re
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import pytest
from brute_force import BRUTE_FORCE
from mains_bench import need_ngspice

from derate.cli.main import main
from derate.stress.netlist import Netlist, mains_netlist, text_of
from derate.study.netlist import WITHIN, cases_of, netlist, run
from derate.study.work import Work, Workshop
from derate.terms.values import ReadingError, Value

DESIGNS = Path(__file__).parents[2] / "designs"
VENT = "greenhouse-vent/greenhouse-vent"
# design, cases, least number of figures; `converter` is the stage behind the bulk
SHOWN = [
    ("first-look/desk-lamp-adapter", "198 V 47 Hz", 5),
    ("first-look/desk-lamp-adapter", "198 V 63 Hz", 3),
    (VENT, "90 V 47 Hz", 8),
    (VENT, "90 V 63 Hz", 6),
    (VENT, "converter, 90 V 47 Hz", 9),
    (f"{VENT}-revision-b", "90 V 63 Hz", 6),
    (f"{VENT}-revision-b", "converter, 90 V 47 Hz", 9),
    ("porch-bell/porch-bell", "207 V 47 Hz", 5),
    ("porch-bell/porch-bell", "253 V 53 Hz", 4),
    ("beehive-scale/beehive-scale", "207 V 47 Hz", 5),
    ("beehive-scale/beehive-scale", "253 V 53 Hz", 4),
    ("pond-lantern/pond-lantern", "198 V 47 Hz", 5),
    ("pond-lantern/pond-lantern", "converter, 198 V 47 Hz", 10),
    ("tea-warmer/tea-warmer", "198 V 47 Hz", 5),
    ("tea-warmer/tea-warmer", "converter, 198 V 47 Hz", 8),
    ("tea-warmer/tea-warmer", "converter, 264 V 53 Hz", 7),
    ("hallway-lamp/hallway-lamp", "207 V 47 Hz", 5),
    ("night-stand/night-stand", "90 V 47 Hz", 8),
    ("night-stand/night-stand", "converter, 90 V 47 Hz", 9),
    ("cellar-lamp/cellar-lamp", "207 V 47 Hz", 13),
    ("cellar-lamp/cellar-lamp", "253 V 53 Hz", 11),
]
ORDINARY = SHOWN if BRUTE_FORCE else [SHOWN[0], SHOWN[2], SHOWN[4], SHOWN[8], SHOWN[9], SHOWN[12], SHOWN[14]]


@cache
def work(name: str) -> Work:
    return Workshop().work(str(DESIGNS / f"{name}.derate.yaml"))


@pytest.mark.parametrize(("name", "case", "least"), ORDINARY)
def test_every_figure_of_a_run_lies_inside_the_ledger(name: str, case: str, least: int) -> None:
    need_ngspice()
    found = run(netlist(work(name), case), name)
    assert len(found) >= least
    assert all(one.inside for one in found), [
        (str(one.probe.subject), one.probe.quantity, one.found, str(one.row.value)) for one in found if not one.inside
    ]


OTHERWISE = [
    (VENT, "90 V 47 Hz", "Rline", 3.0),
    (VENT, "90 V 47 Hz", "Cbulk1", 0.5),
    (VENT, "90 V 47 Hz", "Lchoke", 3.0),
    (VENT, "90 V 47 Hz", "Vmains", 1.2),
    ("porch-bell/porch-bell", "207 V 47 Hz", "Cdrop", 1.2),
    ("beehive-scale/beehive-scale", "207 V 47 Hz", "Iload", 1.15),
    ("beehive-scale/beehive-scale", "207 V 47 Hz", "Rwinding", 2.0),
    ("pond-lantern/pond-lantern", "converter, 198 V 47 Hz", "Lm", 2.0),
    ("pond-lantern/pond-lantern", "converter, 198 V 47 Hz", "Es", 0.7),
    ("tea-warmer/tea-warmer", "converter, 198 V 47 Hz", "L1", 0.3),
    ("tea-warmer/tea-warmer", "converter, 198 V 47 Hz", "Iload", 1.1),
    ("tea-warmer/tea-warmer", "converter, 198 V 47 Hz", "Vin", 0.5),
    ("cellar-lamp/cellar-lamp", "207 V 47 Hz", "Vo", 0.8),
]
FURTHER = [  # one wrong element at a time of a stage at a fixed frequency, and of two capacitors with a choke
    (VENT, "converter, 90 V 47 Hz", "Vbulk", 0.7),
    (VENT, "converter, 90 V 47 Hz", "Lm", 0.6),
    (VENT, "converter, 90 V 47 Hz", "Vo", 0.7),
    (VENT, "converter, 90 V 47 Hz", "Es", 0.8),
    (VENT, "converter, 90 V 47 Hz", "Rc", 0.5),
    (VENT, "converter, 90 V 47 Hz", "Lleak", 3.0),
    (VENT, "90 V 47 Hz", "Cbulk2", 0.5),
    (VENT, "90 V 47 Hz", "Rchoke", 30.0),
]


@pytest.mark.parametrize(
    ("name", "case", "element", "factor"),
    OTHERWISE + FURTHER
    if BRUTE_FORCE
    else [one for one in OTHERWISE if one[2] not in ("Lm", "Vin", "L1", "Vo")],
)
def test_another_circuit_falls_outside(name: str, case: str, element: str, factor: float) -> None:
    """The netlist is held by the ledger: with one element other than the design has it, a figure is outside."""
    need_ngspice()
    made = netlist(work(name), case)
    lines = []
    for line in made.circuit:
        if line.startswith(f"{element} "):
            words = line.split()
            at = {"Vmains": 4, "Iload": len(words) - 1, "Es": 5}.get(element, 3)
            words[at] = f"{float(words[at]) * factor:.6g}"
            line = " ".join(words)
        lines.append(line)
    assert tuple(lines) != made.circuit
    assert not all(one.inside for one in run(made._replace(circuit=tuple(lines)), name))


def test_what_stands_in_it_is_the_middle_of_what_is_not_known() -> None:
    made = netlist(work(VENT), "90 V 47 Hz")
    ledger = work(VENT).ledger
    own = dict(line.split(" ", 1) for line in made.circuit)
    (row,) = [one for one in ledger.entries if str(one.subject) == "line" and one.quantity == "line_inductance"]
    assert isinstance(row.value, Value)
    assert own["Lline"].split()[-1] == f"{0.5 * (row.value.near + row.value.far):.6g}"
    assert own["Vmains"].split()[3] == f"{90.0 * 2**0.5:.6g}"
    assert all(one.value is not None for _, one in made.probes)


def test_it_runs_as_it_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What goes to standard output is a netlist and nothing else; each figure has its comment."""
    need_ngspice()
    path = str(
        DESIGNS / "porch-bell" / "porch-bell.derate.yaml"
    )  # its gate is softer than shipped, which is told in it
    assert main(["stress", path, "--netlist", "207 V 47 Hz"]) == 0
    text = capsys.readouterr().out
    (tmp_path / "case.cir").write_text(text, encoding="utf-8")
    done = subprocess.run(["ngspice", "-b", "case.cir"], cwd=tmp_path, capture_output=True, text=True, timeout=120)
    measured = re.findall(r"^(m\d+)\s*=", done.stdout, re.MULTILINE)
    assert measured == re.findall(r"^\* (m\d+) ", text, re.MULTILINE) and len(measured) >= 5
    assert "softer: family" in text and text.startswith("* Porch bell")
    assert "rror" not in done.stdout


def test_both_columns_and_the_status(capsys: pytest.CaptureFixture[str]) -> None:
    need_ngspice()
    path = str(DESIGNS / "porch-bell" / "porch-bell.derate.yaml")
    assert main(["stress", path, "--netlist", "253 V 53 Hz", "--run"]) == 0
    lines = [line for line in capsys.readouterr().out.split("\n") if "; ngspice " in line]
    assert len(lines) >= 4
    for line in lines:
        low, high, found = map(float, re.search(r": (\S+) to (\S+) .*ngspice (\S+)", line).groups())  # type: ignore[union-attr]
        assert low * (1.0 - WITHIN) <= found <= high * (1.0 + WITHIN)


@pytest.mark.parametrize(
    ("name", "case", "said"),
    [
        ("market-stall-lamp/market-stall-lamp", "90 V 47 Hz", "no case of this design was worked out"),
        (VENT, "91 V", "is no case of this design"),
        (VENT, "90 V", "fits 2 cases"),
        (VENT, "converter, 90 V 63 Hz", "the least bulk voltage was not worked out at this case"),
        ("first-look/desk-lamp-adapter", "converter, 198 V 47 Hz", "is written of the stage behind the bulk"),
    ],
)
def test_what_cannot_be_written_is_said(name: str, case: str, said: str) -> None:
    with pytest.raises(ReadingError) as error:
        netlist(work(name), case)
    told = error.value.problems[0]
    assert said in f"{told.what}; {told.instead}"


def test_every_demonstration_has_been_asked() -> None:
    found = {str(one.relative_to(DESIGNS)).removesuffix(".derate.yaml") for one in DESIGNS.glob("*/*.derate.yaml")}
    shown = {name for name, _, _ in SHOWN}
    assert found - shown == {"market-stall-lamp/market-stall-lamp"}, "a bulk that does not carry its load: see below"
    assert not [one for one in cases_of(work("market-stall-lamp/market-stall-lamp")) if one.mains == 90.0]


def test_what_the_ledger_calls_a_collapse_is_one() -> None:
    """A bulk capacitor that does not carry its load has no figure to compare: the run has to show that it does not."""
    need_ngspice()
    name = "market-stall-lamp/market-stall-lamp"
    one = work(name)
    (row,) = [
        each
        for each in one.ledger.entries
        if each.quantity == "voltage_min" and str(each.subject) == "bulk" and "collapses" in each.note
        if each.case is not None and each.case.group == "running"
    ]
    assert row.value is None and row.case is not None
    made = mains_netlist(one.design.structure, one.ledger, row.case)
    assert not [probe for probe, _ in made.probes if probe.quantity in ("voltage_min", "current_rms")]
    assert row.case.mains is not None
    crest = 2.0**0.5 * row.case.mains
    assert _least(made) < 0.25 * crest  # the load takes its power down to a fifth of the crest
    larger = tuple(_times(line, 40.0) if line.startswith("Cbulk") else line for line in made.circuit)
    assert _least(made._replace(circuit=larger)) > 0.6 * crest


def _times(line: str, factor: float) -> str:
    words = line.split()
    words[3] = f"{float(words[3]) * factor:.6g}"
    return " ".join(words)


def _least(made: Netlist) -> float:
    """The least bulk voltage of a run, of whose figures the ledger has none [V]."""
    measure = f"meas tran least MIN vbulk from={made.begin:.8g} to={made.stop:.8g}"
    text = text_of(made, "collapse").replace("\nquit\n", f"\n{measure}\nquit\n")
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "case.cir").write_text(text, encoding="utf-8")
        done = subprocess.run(["ngspice", "-b", "case.cir"], cwd=folder, capture_output=True, text=True, timeout=120)
    (found,) = re.findall(r"^least\s*=\s*(\S+)", done.stdout, re.MULTILINE)
    return float(found)


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["--run"], "write --netlist CASE --run"),
        (["--netlist", "90 V 47 Hz", "--format", "json"], "prints text"),
        (["--netlist", "", "--run"], "fits 2 cases"),
    ],
)
def test_refused(argv: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stress", str(DESIGNS / f"{VENT}.derate.yaml"), *argv]) == 2
    assert said in capsys.readouterr().err
