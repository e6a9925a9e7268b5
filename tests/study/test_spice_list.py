"""A SPICE netlist as the beginning of a design: parts by their values, paths proposed, the rest named."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.design.facts import facts
from derate.design.load import load_design, read_design
from derate.insulation.row import on_paper
from derate.text.spans import loaded

FLYBACK = """\
Adapter, invented
* the first line is a title
Vac l n SIN(0 325 50)
RF1 l a 6.8
CX1 a n 100n
R1 a m1 1meg
R2 m1 n 1Meg
LF1 a b 4.7m
D1 b p DB
D2 n p DB
D3 0 b DB
D4 0 n DB
C1 p 0 22u IC=300
L1 p p2 470uH
C2 p2 0 22u
Lp p2 d 750u
Ls s1 gnds 15u
La x1 0 18u
K1 Lp Ls La 0.98
M1 d g src NM600
+ W=1
RS1 src 0 0.82   ; sense
D5 d k FAST
R5 k p2 47k
C4 k p2 2.2n
D7 s1 o SCH
C6 o gnds 680u
L2 o out 4.7u
C8 out gnds 220u
D6 x1 vcc FAST
C5 vcc 0 22u
XU1 vcc g src 0 PWM
R99 vcc z {rate}
.model DB D(IS=1n)
.subckt PWM a b c d
R7 a b 1k
.ends
.end
"""
CIRCUIT = [
    "  line: [RF1, across CX1, across R1 + R2, LF1, D1 + D3 + D2 + D4, across C1, L1, across C2]",
    "  primary: [T1.Lp, M1, RS1]",
    "  clamp: {across: T1.Lp, path: D5 + (R5 || C4)}",
]


def made(folder: Path, text: str, capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    (folder / "drawn.cir").write_text(text, encoding="utf-8")
    file = folder / "d.derate.yaml"
    file.unlink(missing_ok=True)
    assert main(["new", str(file), "--from", str(folder / "drawn.cir"), "--topology", "flyback"]) == 0
    load_design(str(file))
    return file.read_text(encoding="utf-8"), capsys.readouterr().out


def test_the_bulk_of_a_transistor_is_no_type(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """SPICE gives a MOSFET four nodes, and some programs three."""
    text, _ = made(tmp_path, FLYBACK.replace("M1 d g src NM600", "M1 d g src src NM600"), capsys)
    assert loaded(text)["parts"]["M1"] == {"kind": "MOSFET", "marking": "NM600"}


def test_parts_paths_and_what_has_no_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text, out = made(tmp_path, FLYBACK, capsys)
    parts = loaded(text)["parts"]
    assert len(parts) == 24 and "Lp" not in parts and "R7" not in parts
    assert parts["R1"] == {"kind": "resistor", "resistance": "1 Mohm"} == parts["R2"]
    assert parts["L1"]["inductance"] == "470 uH" and parts["C1"] == {"kind": "capacitor", "capacitance": "22 uF"}
    assert parts["M1"] == {"kind": "MOSFET", "marking": "NM600"} and parts["R99"] == {"kind": "resistor"}
    assert "known_by: {parts: ordered, rated: ordered}" in text
    lines = text.split("\n")
    at = lines.index("#circuit:")
    assert lines[at + 1 : at + 4] == [f"#{one}" for one in CIRCUIT]
    assert "o: [T1.Ls, D7, across C6, L2, across C8], vcc: [T1.La, D6, across C5]" in lines[at + 4]
    assert "#  other: {R99: not traced yet}" in lines
    assert "# windings of T1, to be written under transformers: Lp 750u, Ls 15u, La 18u" in lines
    pins = "XU1 vcc g src 0 PWM: a subcircuit whose pins a, b, c, d tell no kind"
    for piece in ("R99: not read: {rate}", pins, "Vac l n SIN(0 325 50)"):
        assert piece in out


def test_the_paths_once_confirmed_are_read_as_they_stand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text, _ = made(tmp_path, FLYBACK, capsys)
    lines = text.split("\n")
    at = lines.index("#circuit:")
    for number in range(at, lines.index("#  other: {R99: not traced yet}") + 1):
        lines[number] = lines[number][1:] if lines[number].startswith(("#c", "#  ")) else lines[number]
    windings = "transformers: {T1: {windings: {Lp: {turns: 90}, Ls: {turns: 12}, La: {turns: 13}}}}\n"
    structure = read_design("\n".join(lines) + windings, "d.derate.yaml").structure
    assert structure.mains is not None and structure.mains.input == "full bridge"
    assert structure.mains.series == ("RF1", "LF1") and structure.mains.choke == ("L1",)
    assert structure.own.switch == "M1" and set(structure.outputs) == {"o", "vcc"}


BY_PINS = """\
Adapter in subcircuits, invented
Vac l n SIN(0 325 50)
RF1 l a 6.8
XBR1 a p 0 n BRIDGE
C1 p 0 22u
Lp p d 750u
Ls s 0s 15u
K1 Lp Ls 0.98
XU1 src fbn d PART VMAX=5
+ LIMIT=3
RS1 src 0 0.82
XD5 k d FASTK
R5 k p 47k
C4 k p 2.2n
XD7 s out SCHOTTKY
C6 out 0s 680u
XU2 led 0s fbn 0 COUPLER
XU3 led 0s ref TLREF
R20 out ref 10k
.subckt BRIDGE ac1 + - ac2
.ends
.subckt FASTK Cathode Anode
.ends
.subckt SCHOTTKY a k params: RS=1
.ends
.subckt COUPLER a k c e
.ends
.subckt TLREF k a ref
.ends
.subckt PART source fb drain
.ends
.end
"""


def test_subcircuits_are_placed_by_the_pins_of_their_own_subckt(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each pin list is in another order than its kind's own: a node taken by its position alone would go wrong."""
    text, _ = made(tmp_path, BY_PINS, capsys)
    parts = loaded(text)["parts"]
    assert {name: parts[name] for name in ("BR1", "U1", "D5", "D7", "U2", "U3")} == {
        "BR1": {"kind": "bridge rectifier", "marking": "BRIDGE"},
        "U1": {"kind": "integrated switch", "marking": "PART"},
        "D5": {"kind": "diode", "marking": "FASTK"},
        "D7": {"kind": "diode", "marking": "SCHOTTKY"},
        "U2": {"kind": "optocoupler", "marking": "COUPLER"},
        "U3": {"kind": "shunt reference", "marking": "TLREF"},
    }
    lines = text.split("\n")
    at = lines.index("#circuit:")
    assert lines[at + 1 : at + 8] == [
        "#  line: [RF1, BR1, across C1]",
        "#  primary: [T1.Lp, U1, RS1]",
        "#  clamp: {across: T1.Lp, path: D5 + (R5 || C4)}",
        "#  outputs: {out: [T1.Ls, D7, across C6]}  # an auxiliary rail among them goes under auxiliary",
        "#  control: {by: U1, through: U2, reference: U3}",
        "#  bridging: {U2: [primary, secondary]}",
        "#  other: {R20: not traced yet}",
    ]
    confirmed = [one[1:] if at <= number < at + 8 else one for number, one in enumerate(lines)]
    windings = "transformers: {T1: {windings: {Lp: {turns: 90}, Ls: {turns: 12}}}}\n"
    structure = read_design("\n".join(confirmed) + windings, "d.derate.yaml").structure
    assert structure.mains is not None and structure.mains.input == "full bridge"
    assert structure.own.switch == "U1" and structure.control.by == "U1" and structure.control.through == ("U2",)


@pytest.mark.parametrize(
    ("before", "after", "lost"),
    [
        (".subckt FASTK Cathode Anode", ".subckt FASTK Anode Cathode", "clamp:"),  # turned round it clamps nothing
        (".subckt BRIDGE ac1 + - ac2", ".subckt BRIDGE ac1 - + ac2", "primary:"),  # plus is where minus was
        (".subckt PART source fb drain", ".subckt PART drain fb source", "primary:"),
        (".subckt SCHOTTKY a k", ".subckt SCHOTTKY k a", "outputs:"),
    ],
)
def test_another_order_of_the_pins_is_another_circuit(
    before: str, after: str, lost: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text, _ = made(tmp_path, BY_PINS.replace(before, after), capsys)
    assert not [line for line in text.split("\n") if line.startswith((f"#  {lost} ", f"#  {lost}["))]


def test_a_subcircuit_whose_pins_nobody_names_is_proposed_by_its_nodes_and_is_no_part(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawn = FLYBACK.replace(".subckt PWM a b c d\nR7 a b 1k\n.ends\n", "")
    assert ".subckt" not in drawn
    text, out = made(tmp_path, drawn, capsys)
    assert "U1" not in loaded(text)["parts"]
    assert "XU1 vcc g src 0 PWM: a subcircuit whose pins no .subckt of this file names" in out
    (line,) = [one for one in text.split("\n") if one.startswith("# U1 is PWM")]
    assert "Its nodes: 1 vcc (D6, C5, R99); 2 g (M1 gate); 3 src (M1, RS1)" in line
    confirm = "#  U1: {kind: controller, marking: PWM}  # by where its nodes go: it joins M1 gate; confirm it"
    assert confirm in text.split("\n")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("XQ9 d g FET", "it joins 2 nodes, and its .subckt has 3 pins"),
        ("XR1 a b FET2", "it would be R1, which R1 is"),
        ("XU9 a b ODD", "whose pins in1, in2 tell no kind"),
    ],
)
def test_a_subcircuit_that_cannot_be_placed_is_told(
    line: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    subckts = ".subckt FET d g s\n.ends\n.subckt FET2 a k\n.ends\n.subckt ODD in1 in2\n.ends\n"
    text, out = made(tmp_path, f"t\nR1 a b 1k\n{line}\n{subckts}", capsys)
    assert said in out and list(loaded(text)["parts"]) == ["R1"]


def test_what_a_netlist_draws_shows_no_class_of_a_part(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A class that somebody types beside a drawn value is no surer than the rest of the file says: not on paper."""
    text, _ = made(tmp_path, "t\nC1 a b 1n\n", capsys)
    typed = text.replace("kind: capacitor,", "kind: capacitor, class: Y1,")
    assert typed != text
    (row,) = [one for one in facts(read_design(typed, "d.derate.yaml")) if one.quantity == "part.class"]
    assert row.known_by == "ordered" and not on_paper(row)


@pytest.mark.parametrize(
    ("before", "after", "gone"),
    [
        ("RF1 l a 6.8", "RF1 l a 6.8\nRB l a 5", "line:"),  # two ways on: none is chosen
        ("Vac l n SIN(0 325 50)", "Vac l n SIN(0 325 50)\nVb l n SIN(0 1 50)", "line:"),
        ("D4 0 n DB", "", "line: [RF1, across CX1, across R1 + R2, LF1, D1"),
        ("M1 d g src NM600", "M1 d g src NM600\nM2 d g src NM600", "primary: [T1"),
    ],
)
def test_where_two_ways_are_possible_none_is_taken(
    before: str, after: str, gone: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert before in FLYBACK
    text, _ = made(tmp_path, FLYBACK.replace(before, after), capsys)
    assert gone not in "\n".join(line for line in text.split("\n") if line.startswith("#  "))


@pytest.mark.parametrize(("value", "said"), [("1k5", "1k5"), ("{a}", "{a}"), ("100mil", "100mil")])
def test_a_value_with_several_meanings_is_told(
    value: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text, out = made(tmp_path, f"t\nR1 a b {value}\n", capsys)
    assert loaded(text)["parts"]["R1"] == {"kind": "resistor"} and f"R1: not read: {said}" in out


@pytest.mark.parametrize(
    ("lines", "read"),
    [
        ("R1 a b\n+ 1MEG ; a comment\n* another\n+ tc=0.001", "1 Mohm"),
        ("R1 a b 1meg", "1 Mohm"),
        ("R1 a b 47m", "47 mohm"),
        ("R1 a b R=5", "5 ohm"),
        (".param rs = 0.82 other={22u}\nR1 a b {rs}", "0.82 ohm"),
        (".PARAM RS='4k7x'\n.param rt=2k\nR1 a b {RT}", "2 kohm"),
        (".param rs=1 rt={2*rs}\nR1 a b {rt}", ""),
        (".param rs=1\n.param rs=2\nR1 a b {rs}", ""),
        (".subckt x a b\n.param rs=1\n.ends\nR1 a b {rs}", ""),
        (".param rs=10mil\nR1 a b {rs}", ""),
    ],
)
def test_values_on_more_lines_by_name_and_by_parameter(
    lines: str, read: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a parameter is worked out from, or given twice, or inside a subcircuit only, is told and not guessed."""
    text, out = made(tmp_path, f"t\n{lines}\n", capsys)
    assert loaded(text)["parts"]["R1"] == {"kind": "resistor"} | ({"resistance": read} if read else {})
    assert ("R1: not read: " in out) is not bool(read)


@pytest.mark.parametrize(
    ("text", "argv", "said"),
    [("title\n.end\n", [], "no element that is read here"), ("t\nR1 a b 1\n", ["--column", "value=x"], "no columns")],
)
def test_refused(text: str, argv: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "drawn.cir").write_text(text, encoding="utf-8")
    assert main(["new", str(tmp_path / "d.derate.yaml"), "--from", str(tmp_path / "drawn.cir"), *argv]) == 2
    assert said in capsys.readouterr().err


def test_what_we_write_ourselves_is_read_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    design = Path(__file__).parents[2] / "designs" / "first-look" / "desk-lamp-adapter.derate.yaml"
    assert main(["stress", str(design), "--netlist", "198 V 47 Hz"]) == 0
    text, _ = made(tmp_path, capsys.readouterr().out, capsys)
    parts = loaded(text)["parts"]
    assert parts["Cbulk1"]["capacitance"] == "22 uF" and re.search(r"^#  line: \[Rline, Lline", text, re.MULTILINE)


def test_broken_netlists_are_refused_or_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    draw = random.Random(7)
    for _ in range(40):
        data = list(FLYBACK)
        for _ in range(draw.randint(1, 15)):
            at = draw.randrange(len(data))
            data[at : at + draw.randint(0, 4)] = draw.choices('\n +*.RLCDKMV0a\0{"#:', k=draw.randint(0, 4))
        (tmp_path / "drawn.cir").write_text("".join(data), encoding="utf-8")
        file = tmp_path / "d.derate.yaml"
        file.unlink(missing_ok=True)
        status = main(["new", str(file), "--from", str(tmp_path / "drawn.cir")])
        err = capsys.readouterr().err
        assert status in (0, 2) and "should not happen" not in err, ("".join(data), err)
        if status == 0:
            load_design(str(file))
