"""The table of records: typed, whole, published. What a file may say stands in it once."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import jsonschema
import pytest
import yaml

from derate.design import circuit as circuit_module
from derate.design.bench import Inspection, ReadingBlock
from derate.design.blocks import DesignFile, Found, Mounting, Part, Plate, Rated, Site, Supply
from derate.design.circuit import Circuit, circuit_of, circuits
from derate.design.load import read_design
from derate.design.plain_forms import Fact, line
from derate.design.record import Field, Record, Stated
from derate.design.transformers import Core, Transformer, WindingBlock
from derate.report.schemas import design_schema, keys_of
from derate.terms.topologies import TOPOLOGIES, TopologyWord
from derate.terms.values import Problem, ReadingError
from derate.terms.vocabulary import VOCABULARY
from derate.text.nodes import compose

ROOT = Path(__file__).parents[2]
SHIPPED = sorted([*ROOT.glob("designs/*/*.derate.yaml"), *ROOT.glob("tests/data/**/*.derate.yaml")])
# Facts that the tool works out itself, or writes from what stands elsewhere in the file: no key of their own.
DERIVED = {
    "part.family", "part.place", "part.at_ports", "part.marked_capacitance", "site.ambient_end", "plate.full_current",
    "core.gap_compared", "core.gap_agreement",
}  # fmt: skip
SNIPPET = """
from derate.design.load import Design

def width(design: Design) -> None:
    barrier = design.file.barriers["under transformer"]
    if barrier.slot is not None:
        print(barrier.slot.width)
    print(barrier.{attribute})
    print(design.file.circuit.control.{control})
    print(design.file.parts["C1"].{part})
"""


def _mypy(folder: Path, **attributes: str) -> str:
    path = folder / "snippet.py"
    path.write_text(SNIPPET.format(**attributes), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--no-error-summary", "--follow-imports=silent", "--cache-dir",
         str(folder / "cache"), str(path)],
        capture_output=True, text=True, cwd=ROOT, timeout=600,
    )  # fmt: skip
    return done.stdout + done.stderr


def test_a_misspelt_attribute_fails_mypy(tmp_path: Path) -> None:
    assert _mypy(tmp_path, attribute="clearance", control="through", part="class_mark") == ""
    told = _mypy(tmp_path, attribute="clearence", control="trough", part="class_marc")
    for name in ("clearence", "trough", "class_marc"):
        assert f'has no attribute "{name}"' in told, told


@pytest.mark.parametrize(
    ("record", "prefix"),
    [
        (Part, "part"), (Rated, "rated"), (Mounting, "mounting"), (Supply, "supply"), (Site, "site"), (Core, "core"),
        (WindingBlock, "winding"), (Inspection, "inspection"),
    ],
)  # fmt: skip
def test_every_fact_of_the_vocabulary_that_a_file_may_state_has_its_key(record: type[Record], prefix: str) -> None:
    stated = {field.form.term.name for field in record.fields.values() if isinstance(field.form, Fact)}
    wanted = {name for name in VOCABULARY if name.startswith(f"{prefix}.")} - DERIVED
    assert wanted <= stated


def test_every_key_says_what_it_is_how_a_person_gets_it_and_an_example() -> None:
    lacking = [
        path for path, field in keys_of(DesignFile)
        if not field.says or not (field.how or field.form.written() in ("a block", "NAME: a block"))
    ]
    assert not lacking
    without = [path for path, field in keys_of(DesignFile) if not field.example and "block" not in field.form.written()]
    assert set(without) <= {"parts.NAME.marking", "transformers.NAME.core.shape"}


def _open(schema: Any, path: str = "") -> list[str]:
    """Places of a schema that take anything."""
    if isinstance(schema, dict):
        found = [path] if not schema else []
        for key, value in schema.items():
            if key in ("properties", "$defs"):
                for name, inner in value.items():
                    found += _open(inner, f"{path}.{name}")
            elif key in ("additionalProperties", "items") and value is not False:
                found += _open(value, f"{path}.*")
            elif key in ("anyOf", "oneOf", "allOf"):
                found += [place for inner in value for place in _open(inner, path)]
        bare = set(schema) <= {"description", "examples"}
        return found + ([path] if bare and schema else [])
    return []


def test_no_block_of_the_schema_is_without_a_form() -> None:
    assert _open(design_schema()) == []
    assert _open({"properties": {"a": {}}}) == [".a"]  # the look itself sees


def _as_json(path: Path) -> Any:
    """A design as an editor sees it: every scalar the text it is."""
    return yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)  # noqa: S506


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_every_shipped_design_holds_the_published_schema(path: Path) -> None:
    schema = design_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    errors = [f"{list(one.absolute_path)}: {one.message[:200]}"
              for one in jsonschema.Draft202012Validator(schema).iter_errors(_as_json(path))]
    assert not errors, errors


@pytest.mark.parametrize(
    ("block", "value"),
    [
        ("inspection", {"open_by_hand": "yes"}), ("inspection", {"enclosure_flame_class": "burns on"}),
        ("tests", [{"test": "electric strenght"}]), ("readings", [{"at": {"mains": "230 V"}, "voltgae": "1 V"}]),
        ("conditions", {"A": {"main": "230 V"}}), ("circuit", {"clamp": "some"}), ("circuit", {"earth": "yes"}),
        ("known_by", {"parts": "mesured"}), ("waivers", [{"role": "x"}]), ("circuit", {"bridging": {"CY1": ["a"]}}),
        ("supply", {"name": "x", "topology": "flybak"}), ("site", {"ambient": ["a"]}),
    ],
)  # fmt: skip
def test_the_schema_refuses_what_the_reader_refuses(block: str, value: Any) -> None:
    data = {"derate": "1", "supply": {"name": "x"}, "parts": {"F1": "fuse 1 A"}}
    validator = jsonschema.Draft202012Validator(design_schema())
    validator.validate(data)
    assert list(validator.iter_errors({**data, block: value}))


def test_a_record_reads_as_its_defaults_where_nothing_was_said() -> None:
    design = read_design("derate: 1\nsupply: {name: x}\nparts: {F1: fuse 1 A}\n", "x.yaml")
    assert design.file.site.ambient is None and design.file.circuit.line is None
    assert design.file.supply.plate.outputs == {} and design.file.inspection.stated() == []
    assert isinstance(design.file.parts["F1"].rated, Rated) and design.file.parts["F1"].found is None


def test_the_circuit_of_an_unknown_topology_is_the_block_that_knows_most_of_its_keys(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class DropperCircuit(Circuit, prefix="circuit"):
        """What a dropper adds."""

        ballast: str | None = line("part that drops the mains", "trace it", "C1")

    known = {"flyback": circuits()["flyback"], "dropper": DropperCircuit}
    own = SimpleNamespace(TOPOLOGY=SimpleNamespace(circuit=DropperCircuit))
    monkeypatch.setitem(sys.modules, "a.dropper", own)
    monkeypatch.setitem(TOPOLOGIES, "dropper", TopologyWord("a.dropper", isolates=False))
    monkeypatch.setattr(circuit_module, "circuits", lambda: known)
    assert circuit_of("dropper", ["clamp"]) is DropperCircuit
    assert circuit_of("", ["line", "ballast"]) is DropperCircuit
    assert circuit_of("", ["line", "clamp"]) is known["flyback"] is circuit_of("power-factor stage")
    text = "derate: 1\nsupply: {name: x, topology: %s}\nparts: {C1: film capacitor}\ncircuit: {%s}\n"
    assert read_design(text % ("unknown", "ballast: C1"), "x.yaml").file.circuit.ballast == "C1"  # type: ignore[attr-defined]
    with pytest.raises(ReadingError, match="'clamp' is no key"):
        read_design(text % ("dropper", "clamp: none"), "x.yaml")
    assert "ballast" in design_schema()["properties"]["circuit"]["properties"]


def test_quantities_of_readings_are_stresses() -> None:
    about = ("at", "known_by", "capture", "note", "taken_with", "cold_resistance", "hot_resistance", "cold_at")
    of_what = ("sample", "retest")
    names = {name for name in ReadingBlock.fields if name not in (*about, *of_what)}
    assert names <= set(VOCABULARY) and len(names) == 23


def test_blocks_that_measure_name_the_same_facts_as_the_parts() -> None:
    assert {f"found.{key}" for key in Found.fields} <= set(VOCABULARY)
    assert Transformer.fields["margins"].says and Plate.fields["marks"].says
    assert Stated.__doc__


@pytest.mark.parametrize("path,field", list(keys_of(DesignFile)), ids=lambda one: one if isinstance(one, str) else "")
def test_every_example_is_read_by_the_form_it_stands_beside(path: str, field: Field) -> None:
    if not field.example:
        return
    problems: list[Problem] = []
    (entry,) = compose(f"key: {field.example}\n" if field.example[0] in "[{" else f"key: '{field.example}'\n",
                       "x.yaml").entries  # fmt: skip
    field.form.read(entry[1], problems)
    assert not problems, (path, field.example, problems)


def test_the_schema_says_unit_example_and_how_beside_every_key() -> None:
    part = design_schema()["properties"]["parts"]["additionalProperties"]["anyOf"][0]["properties"]
    voltage = part["rated"]["properties"]["voltage"]
    beside = "(unplugged and discharged, checked with a meter)"
    assert voltage["description"] == f"Rated voltage [V]. Read the mark on the part {beside}"
    assert voltage["examples"] == ["400 V"]
    life = part["rated"]["properties"]["life"]
    assert "[s]" in life["description"] and life["examples"] == ["8000 h at 105 degC"]
    assert {"type": "object", "additionalProperties": {"type": ["string", "number"]}} in life["anyOf"]
