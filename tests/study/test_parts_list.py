"""Parts lists: ten of different shapes read cell by cell, none wrong in silence; merged without losing a line."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
from parts_lists import ODD, SAMPLES, Sample

from derate.cli.main import main
from derate.design.load import load_design
from derate.study.parts_list.columns import designators, plain_name
from derate.study.parts_list.values import read_cell
from derate.text.spans import loaded


def written(folder: Path, sample: Sample, capsys: pytest.CaptureFixture[str]) -> tuple[dict[str, Any], str, str]:
    """Entries by designator as the new file has them, the text of the file, and what was told."""
    source = folder / ("list.xlsx" if sample.data.startswith(b"PK") else "list.csv")
    source.write_bytes(sample.data)
    file = folder / "d.derate.yaml"
    columns = [word for one in sample.columns for word in ("--column", one)]
    assert main(["new", str(file), "--from", str(source), *columns]) == 0
    text = file.read_text(encoding="utf-8")
    load_design(str(file))
    parts = loaded(text)["parts"]
    found = {name.strip(): entry for key, entry in parts.items() for name in key.split(",")}
    return found, text, capsys.readouterr().out


def facts(entry: dict[str, Any]) -> dict[str, str]:
    """Facts of an entry by key; a note and a maker are words."""
    flat = {key: str(value) for key, value in entry.items() if key not in ("rated", "note", "maker")}
    return flat | {f"rated.{key}": str(value) for key, value in (entry.get("rated") or {}).items()}


@pytest.mark.parametrize("sample", (*SAMPLES, *ODD), ids=lambda one: one.name)
def test_a_list_is_read_and_nothing_is_wrong_in_silence(
    sample: Sample, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found, text, out = written(tmp_path, sample, capsys)
    wrong = []
    for names, entry in sample.expected.items():
        for name in names.split():
            if entry == "?":
                if name in found or f"#  {name}: " not in text:
                    wrong.append((name, "it should stand as a comment", found.get(name)))
                continue
            expected, got = facts(loaded(f"{{{entry}}}")), facts(found.pop(name, {}))
            if expected != got:
                wrong.append((name, expected, got))
    assert not wrong and not found, (wrong, found)
    for piece in sample.told:
        assert piece in out, (piece, out)
    assert "known_by: {parts: ordered, rated: ordered}" in text


def test_ninety_five_of_a_hundred_cells_are_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Cells of value and ratings: those in the file against those told as not read, over the ten and five odd ones."""
    cells = unread = 0
    for number, sample in enumerate((*SAMPLES, *ODD)):
        folder = tmp_path / str(number)
        folder.mkdir()
        _, _, out = written(folder, sample, capsys)
        cells += sum(
            len(facts(loaded(f"{{{entry}}}"))) * len(names.split()) for names, entry in sample.expected.items()
        )
        if sample.name.startswith("cells with several meanings"):
            continue  # made of nothing but what nobody could read; every cell of it is told, which is held above
        unread += sum(
            len(line.partition("not read: ")[2].split(";")) for line in out.split("\n") if "not read: " in line
        )
    assert len(SAMPLES) == 10 and cells > 350 and unread / (cells + unread) <= 0.05, (cells, unread)


@pytest.mark.parametrize(
    ("cell", "names", "rest"),
    [
        ("R1", ["R1"], ""),
        ("R1-R4", ["R1", "R2", "R3", "R4"], ""),
        ("R1-4", ["R1", "R2", "R3", "R4"], ""),
        ("R9…R11, C1", ["R9", "R10", "R11", "C1"], ""),
        ("C1 to C3", ["C1", "C2", "C3"], ""),
        ("R1;R2/R3", ["R1", "R2", "R3"], ""),
        ("U1A", ["U1A"], ""),
        ("R4-R1", [], "R4-R1"),
        ("R1-C4", [], "R1-C4"),
        ("R1-R999", [], "R1-R999"),
        ("R1, wire", ["R1"], "wire"),
        ("", [], ""),
    ],
)
def test_designators(cell: str, names: list[str], rest: str) -> None:
    assert designators(cell) == (tuple(names), rest)


@pytest.mark.parametrize(
    ("cell", "kind", "comma", "facts_", "unread"),
    [
        (
            "100n 400V X2",
            "capacitor",
            False,
            {"part.capacitance": "100 nF", "rated.voltage": "400 V", "part.class": "X2"},
            (),
        ),
        ("4k7 1% 0805", "resistor", False, {"part.resistance": "4.7 kohm 1%"}, ()),
        ("10uF/400V", "capacitor", False, {"part.capacitance": "10 uF", "rated.voltage": "400 V"}, ()),
        ("4,7k", "resistor", True, {"part.resistance": "4.7 kohm"}, ()),
        ("4,7k", "resistor", False, {"part.resistance": "4.7 kohm"}, ()),
        ("1,000k", "resistor", True, {"part.resistance": "1.000 kohm"}, ()),
        ("1,000k", "resistor", False, {}, ("1,000k",)),
        ("0,125W", "resistor", False, {"rated.power": "0.125 W"}, ()),
        ("1206", "resistor", False, {}, ()),
        ("1206R", "resistor", False, {"part.resistance": "1206 ohm"}, ()),
        ("5mΩ", "resistor", False, {"part.resistance": "5 mohm"}, ()),
        ("5m", "resistor", False, {}, ("5m",)),
        ("1M", "resistor", False, {"part.resistance": "1 Mohm"}, ()),
        ("47", "capacitor", False, {}, ("47",)),
        ("1m", "capacitor", False, {}, ("1m",)),
        ("10u", "choke", False, {"part.inductance": "10 uH"}, ()),
        ("470V", "varistor", False, {}, ("470V",)),
        ("70J", "varistor", False, {"rated.energy": "70 J"}, ()),
        ("19J 5R", "NTC thermistor", False, {"rated.energy": "19 J", "part.resistance": "5 ohm"}, ()),
        ("70J", "film resistor", False, {}, ("70J",)),
        ("12V", "zener diode", False, {"part.voltage": "12 V"}, ()),
        ("600V", "bipolar transistor", False, {}, ("600V",)),
        ("75ns", "fast diode", False, {"rated.recovery_time": "75 ns"}, ()),
        ("2000h", "electrolytic capacitor", False, {}, ("2000h",)),
        ("10k 10k", "resistor", False, {"part.resistance": "10 kohm"}, ("10k",)),
        ("10V 16V", "capacitor", False, {"rated.voltage": "10 V"}, ("16V",)),
        ("7-Apr", "resistor", True, {}, ("7-Apr",)),
        ("04. Jul", "resistor", True, {}, ("04. Jul",)),
        ("Apr 70", "resistor", True, {}, ("Apr 70",)),
        ("Jan-47", "resistor", True, {}, ("Jan-47",)),
        ("4-Jul-26", "resistor", True, {}, ("4-Jul-26",)),  # made a date
        ("470R Marl 10V", "resistor", True, {"part.resistance": "470 ohm", "rated.voltage": "10 V"}, ("Marl",)),
    ],
)
def test_cells(cell: str, kind: str, comma: bool, facts_: dict[str, str], unread: tuple[str, ...]) -> None:
    read = read_cell(cell, kind, comma)
    assert (read.facts, (*read.types, *read.unread)) == (facts_, unread)


def test_names_of_columns_without_accents_and_brackets() -> None:
    assert [plain_name(one) for one in ("Repère", "Stück", "Power (W)", "Ref. Des.", "Größe")] == [
        "repere",
        "stuck",
        "power",
        "refdes",
        "grosse",
    ]


# ---- into a file that is there


THERE = """\
derate: 1   # the first line
supply: {name: Bench}
known_by: {parts: marked}
parts:
  R1: {kind: film resistor, resistance: 4.7 kohm 1%}     # read off the bands
  # a comment between
  C1: {kind: capacitor, rated: {voltage: 400 V}}
  C2: {kind: film capacitor, capacitance: 47 nF}
  D1: fast diode 1000 V 1 A

circuit: {other: {R1: seen, C1: seen, C2: seen, D1: seen}}
# the last line
"""
LIST = """\
Reference,Value,Voltage
R1,4k7 1%,
C1,22uF,400V
C2,100nF,63V
D1,UF4007,
R9,10k 5%,
X1,mains,
"""


def merge(folder: Path, there: str, source: str = LIST) -> tuple[int, str]:
    (folder / "list.csv").write_text(source, encoding="utf-8")
    (folder / "d.derate.yaml").write_text(there, encoding="utf-8")
    status = main(["new", str(folder / "d.derate.yaml"), "--from", str(folder / "list.csv")])
    return status, (folder / "d.derate.yaml").read_text(encoding="utf-8")


def test_no_line_is_lost_and_what_changed_is_listed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, text = merge(tmp_path, THERE)
    out = capsys.readouterr().out
    assert status == 0
    lines = text.split("\n")
    changed = {"C1": "capacitance: 22 uF (ordered)", "C2": "rated: {voltage: 63 V (ordered)}"}
    for line in THERE.split("\n"):
        name = line.strip().partition(":")[0]
        if name in changed:
            (now,) = [one for one in lines if one.startswith(f"  {name}: ")]
            assert changed[name] in now and all(word in now for word in line.rstrip("}").split())
        else:
            assert line in lines
    assert "  R9: {kind: resistor (ordered), resistance: 10 kohm 5% (ordered)}" in lines
    assert lines.index("circuit: {other: {R1: seen, C1: seen, C2: seen, D1: seen}}") > lines.index(
        "  R9: {kind: resistor (ordered), resistance: 10 kohm 5% (ordered)}"
    )
    assert ": added: R9\n" in out and ": put in: C1 part.capacitance: 22 uF\n" in out
    assert ": left as it is: C2 part.capacitance: 47 nF in the file, 100 nF in the list\n" in out
    design = load_design(str(tmp_path / "d.derate.yaml"))
    part = design.file.parts["C2"]
    assert part.capacitance is not None and part.capacitance.text == "47 nF"
    assert part.rated is not None and part.rated.voltage is not None and part.rated.voltage.known_by == "ordered"


BLOCKS = """\
derate: 1
supply: {name: Bench}
known_by: {parts: marked}
parts:
  C1:                                    # the bulk
    kind: electrolytic capacitor
    # its mark is worn
    rated:                               # as far as it can be read
      temperature: 105 degC              # on the sleeve

  # between two parts
  C2:
      kind: film capacitor
      rated: {temperature: 85 degC}      # in braces inside a block
      note: "of two
        lines"
  R1:
    kind: film resistor
    rated:
      power: 0.5 W                       # the last of its lines
    resistance: 4.7 kohm 1%
  C3:
    kind: capacitor   # the last part"""
LIST_OF_BLOCKS = """\
Reference,Value,Voltage,Power
C1,22uF 20%,400V,
C2,100nF,63V,
R1,4k7,,0.25W
C3,1nF,50V,
R9,10k 5%,,
"""


def test_parts_in_blocks_are_added_to_and_no_line_is_lost(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, text = merge(tmp_path, BLOCKS, LIST_OF_BLOCKS)
    out = capsys.readouterr().out
    assert status == 0
    lines, left = text.split("\n"), iter(text.split("\n"))
    changed = "      rated: {temperature: 85 degC}      # in braces inside a block"
    for line in BLOCKS.split("\n"):
        now = line.replace("85 degC}", "85 degC, voltage: 63 V (ordered)}") if line == changed else line
        assert now in left, line  # in their order, comments too
    assert lines.index("      voltage: 400 V (ordered)") == lines.index("    capacitance: 22 uF 20% (ordered)") - 1
    assert lines[lines.index("    kind: capacitor   # the last part") + 1 :][:2] == [
        "    capacitance: 1 nF (ordered)",
        "    rated: {voltage: 50 V (ordered)}",
    ]
    assert lines[-2:] == ["  R9: {kind: resistor (ordered), resistance: 10 kohm 5% (ordered)}", ""]
    parts = load_design(str(tmp_path / "d.derate.yaml")).file.parts
    found = {}
    for name in ("C1", "C2", "C3"):
        one = parts[name]
        assert one.capacitance is not None and one.rated is not None and one.rated.voltage is not None
        found[name] = (one.capacitance.text, one.rated.voltage.text, one.rated.voltage.known_by)
    assert found == {
        "C1": ("22 uF 20% (ordered)", "400 V (ordered)", "ordered"),
        "C2": ("100 nF (ordered)", "63 V (ordered)", "ordered"),
        "C3": ("1 nF (ordered)", "50 V (ordered)", "ordered"),
    }
    for told in ("C1 part.capacitance: 22 uF 20%", "C1 rated.voltage: 400 V", "C2 rated.voltage: 63 V"):
        assert f": put in: {told}\n" in out
    assert ": left as it is: R1 rated.power: 0.5 W in the file, 0.25 W in the list\n" in out
    again, twice = merge(tmp_path, text, LIST_OF_BLOCKS)
    assert again == 0 and twice == text and "nothing to add" in capsys.readouterr().out


def test_a_second_time_adds_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, once = merge(tmp_path, THERE)
    capsys.readouterr()
    status, twice = merge(tmp_path, once)
    assert status == 0 and twice == once and "nothing to add" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("there", "said"),
    [
        (THERE.replace("22", "22").replace("4.7 kohm", "4.7 kilo"), "no unit 'kilo' is known"),
        ("derate: 1\nsupply: {name: Bench}\nparts: {R1: film resistor 1 kohm}\n", "stand in braces"),
    ],
)
def test_a_file_that_cannot_take_them_stays_as_it_is(
    there: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, text = merge(tmp_path, there)
    assert status == 2 and text == there and said in capsys.readouterr().err


def test_a_file_without_parts_gets_them(tmp_path: Path) -> None:
    status, text = merge(tmp_path, "derate: 1\nsupply: {name: Bench}\nparts: {}   # none yet\n# end\n")
    assert (
        status == 0
        and text.endswith("# end\n")
        and set(load_design(str(tmp_path / "d.derate.yaml")).file.parts) > {"R9"}
    )


# ---- refused


@pytest.mark.parametrize(
    ("data", "argv", "said"),
    [
        (b"", (), "empty"),
        (b"a,b\n1,2\n", (), "no row of this list has names of columns"),
        (b"Value,Footprint\n10k,0805\n", (), "holds designators"),
        (b"Reference,Value\nR1,1k\n", ("--column", "designator=Referenc"), "write Reference"),
        (b"Reference,Value\nR1,1k\n", ("--column", "designater=Reference"), "write designator"),
        (b"PK\x03\x04 no workbook", (), "this workbook could not be read"),
        (b"\xd0\xcf\x11\xe0 old", (), "save it as .xlsx or as CSV"),
        (b"Reference,Value\n" + b"R1,1k\n" * 3001, (), "at most 3000 rows"),
    ],
)
def test_refused(
    data: bytes, argv: tuple[str, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "list.csv").write_bytes(data)
    assert main(["new", str(tmp_path / "d.derate.yaml"), "--from", str(tmp_path / "list.csv"), *argv]) == 2
    assert said in capsys.readouterr().err and not (tmp_path / "d.derate.yaml").exists()


def test_lists_that_are_broken_are_refused_or_read_and_nothing_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    draw = random.Random(18)
    source, file = tmp_path / "list.csv", tmp_path / "d.derate.yaml"
    for sample in SAMPLES:
        for _ in range(4):
            data = bytearray(sample.data)
            for _ in range(draw.randint(1, 12)):
                at = draw.randrange(len(data))
                data[at : at + draw.randint(0, 3)] = bytes(
                    draw.choices(b'\0\n;,"-|9R\xff\xc3({:#', k=draw.randint(0, 3))
                )
            source.write_bytes(bytes(data))
            file.unlink(missing_ok=True)
            status = main(["new", str(file), "--from", str(source)])
            err = capsys.readouterr().err
            assert status in (0, 2) and "should not happen" not in err, (bytes(data), err)
            assert (status == 0) is file.exists()
            if status == 0:
                load_design(str(file))


@pytest.mark.parametrize(
    ("rows", "comma"),
    [
        ("R1;4,7k\nR2;1,250k\n", True),
        ("R1;4.7k\nR2;1,250k\n", False),
        ("R1;4.7k\nR2;2.2k\nR3;0,5k\nR4;1,250k\n", False),
        ("R2;1,250k\n", False),  # by itself it may part thousands
    ],
)
def test_whether_a_comma_parts_thousands_is_said_by_the_rest_of_the_list(
    rows: str, comma: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sample = Sample("commas", f"Reference;Value\n{rows}".encode(), {})
    found, _, out = written(tmp_path, sample, capsys)
    last = found[rows.split("\n")[-2].partition(";")[0]]
    assert last.get("resistance") == ("1.250 kohm" if comma else None)
    assert ("not read: 1,250k" in out) is not comma
