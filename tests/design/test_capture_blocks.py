"""The capture block of a design: what it names, and what is refused with the place of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from derate.design.load import Design, load_design
from derate.terms.values import ReadingError

HEAD = """derate: 1
supply: {name: Bench supply, plate: {mains: 230 V, outputs: {main: {voltage: 12 V, current: 1 A}}}}
parts:
  F1: {kind: fuse, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 250 Vac}}
  BR1: bridge rectifier 800 V 1 A
  C1: electrolytic capacitor 10 uF 20% 400 V
circuit: {line: [F1, BR1, across C1]}
readings:
"""


def load(tmp_path: Path, entry: str) -> Design:
    (tmp_path / ".git").mkdir(exist_ok=True)
    folder = tmp_path / "designs"
    folder.mkdir(exist_ok=True)
    path = folder / "bench.derate.yaml"
    path.write_text(HEAD + entry)
    return load_design(str(path))


def test_a_whole_block(tmp_path: Path) -> None:
    entry = (
        "  - at: {mains: 230 V, switch_on: cold at crest}\n"
        "    capture: {file: inrush.csv, skip: 3 lines, time: TIME, current: {F1: CH2}, shunt: 50 mohm,"
        " zero_from: -2..0 ms, trigger: 0..15 ms, time_unit: ms, separator: semicolon, decimal: comma}\n"
    )
    (one,) = load(tmp_path, entry).captures
    assert one.path.endswith("designs/inrush.csv") and one.skip == 3 and one.column == "CH2" and one.target == "F1"
    assert one.factor == pytest.approx(20.0) and one.zero == (-0.002, 0.0) and one.window == (0.0, 0.015)
    assert one.separator == ";" and one.decimal == "," and one.time_unit == 1e-3
    assert one.condition is not None and one.condition.switch_on == "cold at crest"


def test_a_design_without_captures_has_none(tmp_path: Path) -> None:
    assert load(tmp_path, "  - {at: {mains: 230 V, load: full}, mains_current: 0.1 A}\n").captures == ()


@pytest.mark.parametrize(
    ("block", "says"),
    [
        ("{current: {F1: CH2}}", "names its file"),
        ("{file: ../../outside.csv, current: {F1: CH2}}", "lies outside this repository"),
        ("{file: /etc/hostname, current: {F1: CH2}}", "lies outside this repository"),
        ("{file: a.csv}", "says what it is of"),
        ("{file: a.csv, current: {F1: CH2, BR1: CH3}}", "names one part and its column"),
        ("{file: a.csv, current: {F1: CH2}, shunt: 0.1 V}", ""),
        ("{file: a.csv, current: {F1: CH2}, skip: many}", "no number of lines"),
        ("{file: a.csv, current: {F1: CH2}, zero_from: 0..-2 ms}", "a window of time"),
        ("{file: a.csv, current: {F1: CH2}, zero_form: -2..0 ms}", "did you mean zero_from?"),
        ("{file: a.csv, current: {F1: CH2}, decimal: dot}", "no word this format knows for decimal mark"),
        ("[a.csv]", "a capture is a block of keys"),
    ],
)
def test_refused(tmp_path: Path, block: str, says: str) -> None:
    with pytest.raises(ReadingError) as caught:
        load(tmp_path, f"  - {{at: {{mains: 230 V, switch_on: cold}}, capture: {block}}}\n")
    assert says in str(caught.value)
    assert "bench.derate.yaml:9:" in str(caught.value)


def test_a_link_out_of_the_repository_is_refused(tmp_path: Path) -> None:
    (tmp_path / "designs").mkdir()
    outside = tmp_path.parent / "outside.csv"
    outside.write_text("0,1\n")
    (tmp_path / "designs" / "link.csv").symlink_to(outside)
    with pytest.raises(ReadingError, match="outside this repository"):
        load(tmp_path, "  - {at: {mains: 230 V, switch_on: cold}, capture: {file: link.csv, current: {F1: CH2}}}\n")


def test_lint_does_not_open_it(tmp_path: Path) -> None:
    entry = "  - {at: {mains: 230 V, switch_on: cold}, capture: {file: not-there.csv, current: {F1: CH2}}}\n"
    assert load(tmp_path, entry).captures[0].path.endswith("not-there.csv")
