"""An input that is no rectifier with a bulk capacitor: what every supply is asked of it all the same."""

from __future__ import annotations

import pytest

from derate.design.circuit import Circuit, Placing
from derate.design.facts import facts
from derate.design.load import read_design
from derate.design.structure import MainsInput
from derate.insulation.bridging import to_earth
from derate.stress.faults.rows import mains_faults
from derate.terms.topologies import TOPOLOGIES, TopologyWord

TEXT = """\
derate: 1
supply: {name: x, topology: buck, plate: {mains: 230 V, frequency: 50 Hz}}
parts:
  F1: fuse 0.5 A 250 V
  RV1: varistor 275 Vac
  R8, R9: film resistor 470 kohm
  CY1: {kind: ceramic capacitor, capacitance: 1 nF}
  L1: choke 1 mH
circuit: {line: [F1 in neutral, across RV1, across R8 + R9, to earth CY1, L1]}
"""


class OwnCircuit(Circuit, prefix="circuit"):
    """One that reads its line by itself."""

    def own_input(self, placing: Placing) -> MainsInput | None:
        """All of it but the last step."""
        placing.put(("L1",), "own")
        return placing.inlet((self.line or ())[:-1])


@pytest.fixture
def of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("derate.design.blocks.circuit_of", lambda word, keys=(): OwnCircuit)


def test_the_line_is_placed_by_the_topology_and_the_rest_as_ever(of_its_own: None) -> None:
    structure = read_design(TEXT, "x.yaml").structure
    assert structure.mains is None and structure.inlet is structure.own_inlet is not None
    assert structure.inlet.series == structure.inlet.neutral == ("F1",)
    assert [one.behind for one in structure.inlet.shunts] == [1, 1, 1]
    assert structure.inlet.rectifier == structure.inlet.bulk == ()
    wanted = {"F1": "mains series", "RV1": "mains shunt", "R8": "mains shunt", "R9": "mains shunt"}
    assert structure.places == {**wanted, "CY1": "earth shunt", "L1": "own"}


def test_faults_fuse_and_earth_are_asked_of_what_stands_behind_the_plug(of_its_own: None) -> None:
    design = read_design(TEXT, "x.yaml")
    faults = {one.name: one for one in mains_faults(design.structure)}
    assert faults["RV1 shorted"].ahead == ("F1",) and faults["RV1 shorted"].hard
    assert {"R8 open", "R9 open", "partial short behind F1"} <= faults.keys()
    assert [one.names for one in to_earth(design)] == [("CY1",)]
    words = {row.quantity: row.value for row in facts(design) if row.subject.kind == "supply"}
    assert str(words["circuit.mains_fuse"]) == "fuse" and str(words["circuit.fused_pole"]) == "neutral"
    assert "circuit.input" not in words


def test_without_it_a_path_without_a_rectifier_has_no_input() -> None:
    structure = read_design(TEXT, "x.yaml").structure
    assert structure.mains is None and structure.inlet is None and not mains_faults(structure)


def test_a_folder_is_loaded_for_its_own_word_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(TOPOLOGIES, "buck", TopologyWord("no.such.package"))
    assert read_design(TEXT.replace("buck", "flyback").replace(", L1]", "]"), "x.yaml").structure.mains is None
    with pytest.raises(ModuleNotFoundError):
        read_design(TEXT, "x.yaml")
