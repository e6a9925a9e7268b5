"""What an editor is told: the place of each finding, a part with its stresses, names where they belong, edits."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

import pytest

from derate.design.blocks import Part, Rated
from derate.design.kinds import KINDS
from derate.design.load import load_design
from derate.editor.desk import Desk, State
from derate.editor.keys import spot_at
from derate.editor.of_kinds import takes
from derate.editor.server import column_of, units
from derate.editor.told import At, choices, defined_at, diagnostics, hover, name_at, pastes, put_in
from derate.terms.words import ATTENTION

ROOT = Path(__file__).parents[2]
DAY = date(2026, 11, 25)
SOUND = "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
POOR = "designs/market-stall-lamp/market-stall-lamp.derate.yaml"


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def _day() -> date:
    return DAY


@cache
def _state(path: str) -> State:
    return Desk(path, _day).put((ROOT / path).read_text(encoding="utf-8"))


def _where(text: str, line: str, inside: str = "") -> tuple[int, int]:
    """Line and column of a piece of text in the one line that holds another."""
    (number,) = [number for number, one in enumerate(text.split("\n")) if line in one]
    whole = text.split("\n")[number]
    return number, whole.index(inside or line)


@pytest.mark.parametrize("path", [SOUND, POOR])
def test_every_finding_that_wants_somebody_stands_at_its_place(path: str) -> None:
    state = _state(path)
    found = diagnostics(state, path)
    assert state.review is not None
    wanted = [one for one in state.review.findings if one.verdict in ATTENTION]
    assert len(found) == len(wanted) > 20
    lines = state.text.split("\n")
    for one in found:
        assert one.finding is not None and 0 <= one.at.start < one.at.end <= len(lines[one.at.line])
        if one.finding.place.path == path:
            assert (one.at.line + 1, one.at.start + 1) == (one.finding.place.line, one.finding.place.column)
        assert one.message.startswith(f"{one.finding.subject}: {one.finding.verdict}")
        heavy = one.finding.blocks
        assert one.weight == ("error" if heavy and one.finding.verdict == "fail" else one.weight)
        assert heavy is False or one.weight in ("error", "warning")
        assert one.finding.verdict not in ("fail", "marginal") or one.weight != "information"


def test_what_cannot_be_read_stands_alone_at_its_place() -> None:
    text = _state(SOUND).text.replace("resistance: 6.8 ohm 5%", "resistance: 6.8 om 5%")
    text = text.replace("[RF1, BR1,", "[RF7, BR1,")
    state = Desk(SOUND, _day).put(text)
    found = diagnostics(state, SOUND)
    assert [one.weight for one in found] == ["error"] * len(found) and len(found) >= 2
    assert {one.at.line for one in found} >= {_where(text, "6.8 om")[0], _where(text, "RF7")[0]}


def test_a_part_under_the_pointer_is_told_with_stresses_and_limits() -> None:
    state = _state(SOUND)
    found = hover(state, *_where(state.text, "primary: [T1.primary, Q1", "Q1"))
    assert found is not None
    text, at = found
    assert at == At(*_where(state.text, "primary: [T1.primary, Q1", "Q1"), at.start + 2)
    assert text.startswith("**Q1** MOSFET, 700 V, primary switch")
    assert "switch-voltage: 510 V to 597 V (517 to 588 V) against 700 V" in text and "| stress | value | case |" in text
    assert text.index("marginal") < text.index("- pass")  # the worst first
    winding = hover(state, *_where(state.text, "primary: [T1.primary, Q1", "T1.primary"))
    assert winding is not None and winding[0].startswith("**T1.primary** winding")
    assert hover(state, *_where(state.text, "name: Greenhouse", "Greenhouse")) is None
    assert name_at("a: [R1]", 0, 4) == ("R1", At(0, 4, 6)) and name_at("a: [R1]", 0, 6) is not None
    assert name_at("a", 3, 0) is None


def test_a_part_leads_to_where_it_is_written_down() -> None:
    state = _state(SOUND)
    place = defined_at(state, *_where(state.text, "primary: [T1.primary, Q1", "Q1"))
    assert place is not None and state.text.split("\n")[place.line - 1].strip() == "kind: MOSFET"
    winding = defined_at(state, *_where(state.text, "primary: [T1.primary, Q1", "T1.primary"))
    assert winding is not None and state.text.split("\n")[winding.line - 1].strip() == "T1:"


@pytest.mark.parametrize(
    ("line", "inside", "there", "not_there"),
    [
        ("  line: [RF1", "RF1", {"RF1", "C1", "T1.primary"}, {"film resistor"}),
        ("clamp: {across: T1.primary", "T1.primary", {"T1.primary", "D5"}, {"bulk-capacitor-life"}),
        ("- {rule: bulk-capacitor-life", "bulk", {"bulk-capacitor-life", "plug-pin-edge"}, {"RF1"}),
        ("reason: \"the plug gauge", "plug-pin", {"plug-pin-edge"}, {"RF1"}),
        ("    kind: MOSFET", "MOSFET", {"MOSFET", "film resistor"}, {"RF1"}),
        ("under transformer:", "under", set(), {"RF1"}),
        ("between: [primary, secondary]                #", "primary", {"primary", "earth"}, {"RF1"}),
        ("senses: T1.auxiliary", "T1.auxiliary", {"main", "T1.auxiliary"}, {"RF1"}),
    ],
)  # fmt: skip
def test_names_are_offered_where_they_belong(line: str, inside: str, there: set[str], not_there: set[str]) -> None:
    state = _state(SOUND)
    found = {one.text for one in choices(state, *_where(state.text, line, inside))}
    assert there <= found and not not_there & found


KINDS_TYPED = """\
derate: 1
supply: {name: x, topology: dropper (seen)}
parts:
  F1: {kind: fuse, @1}
  C1, C2:
    kind: electrolytic capacitor   # the kind stands here
    rated: {@2}
  Q1:
    @3
    kind: transistor (marked)
  X1: {kind: nobody knows, @4}
circuit:
  line: [F1, @6]
  @5
"""


@pytest.mark.parametrize(
    ("at", "first", "behind"),
    [
        (1, {"characteristic", "resistance", "rated"}, {"b_constant", "nominal_voltage", "capacitance"}),
        (2, {"ripple_current", "life", "voltage"}, {"gain", "melting_i2t", "reverse_voltage"}),
        (3, {"output_capacitance", "base_drive"}, {"characteristic", "inductance", "width"}),
        (5, {"dropping", "outputs", "control"}, {"primary", "clamp", "start_up"}),
    ],
)
def test_keys_of_the_kind_and_of_the_topology_are_ahead(at: int, first: set[str], behind: set[str]) -> None:
    text = KINDS_TYPED
    for number in (1, 2, 3, 4, 5, 6):
        if number != at:
            text = text.replace(f"@{number}", "")
    line, column = _where(text, f"@{at}")
    found = choices(_state(SOUND), line, text.split("\n")[line].index("@"), text.replace(f"@{at}", ""))
    order = [one.text for one in found]
    others = [one.text for one in found if one.says.startswith(("of another kind of part", "of another topology"))]
    assert order[-len(others) :] == others  # none is left out, and none stands ahead of one that belongs
    assert not first & set(others) and behind <= set(others)
    assert first <= set(order) if at != 5 else first & set(order)


def test_of_a_kind_that_nobody_knows_no_key_is_ahead() -> None:
    text = KINDS_TYPED.replace("@4", "")
    for number in (1, 2, 3, 5, 6):
        text = text.replace(f"@{number}", "")
    line, column = _where(text, "nobody knows, ", "nobody")
    found = choices(_state(SOUND), line, column + len("nobody knows, "), text)
    assert {"resistance", "b_constant"} <= {one.text for one in found}
    assert not [one for one in found if one.says.startswith("of another")]


def test_a_path_is_offered_its_steps_and_a_control_is_not() -> None:
    state = _state(SOUND)
    walked = {one.text for one in choices(state, *_where(state.text, "  line: [RF1", "RF1"))}
    senses = {one.text for one in choices(state, *_where(state.text, "senses: T1.auxiliary", "T1.auxiliary"))}
    assert {"across", "in neutral", "to earth"} <= walked and not {"across", "to earth"} & senses


def test_every_key_that_a_part_of_a_design_has_is_one_that_its_kind_takes() -> None:
    """The table is held to what is written: no key of any design stands behind those of its kind."""
    seen = 0
    folders = (ROOT / "designs", ROOT / "tests/data/designs", ROOT / "tests/data/reference_designs")
    for path in (one for folder in folders for one in sorted(folder.rglob("*.derate.yaml"))):
        design = load_design(str(path))
        for name, part in design.file.parts.items():
            kinds = design.structure.kinds.get(name, ())
            for block, record in (("", part), ("rated", part.rated)):
                keys = type(record).fields if record is not None else ()
                own = {key for key in keys if getattr(record, "class_mark" if key == "class" else key) is not None}
                known = takes(kinds, block)
                seen += len(own) if known else 0
                assert not known or own <= known, (path.name, name, kinds, own - known)
    assert seen > 500
    assert not set(Part.fields) - {key for kind in KINDS for key in takes((kind,), "")}  # each belongs to some kind
    assert not set(Rated.fields) - {key for kind in KINDS for key in takes((kind,), "rated")}


TYPED = """\
derate: 1
supply:
  name: x
  pro
  plate: {mains: 230 V, out, marks: [a]}
parts:
  R1:
    kind: film resistor
\x20\x20\x20\x20
    rated: {power: 1 W,   # {not: here}
            vol
            , voltage: 3 V}
  R2: "a: {b"
circuit:
  line: [R1, ]
  control: {type: }
waivers:
- {rule: x, }
- rule: y
  rea
readings:
  - at: {mains: 230 V}
    voltage: {main: 5 V, }
"""


@pytest.mark.parametrize(
    ("line", "ends", "path", "key", "typed", "there"),
    [
        ("  pro", "pro", ("supply",), True, "pro", {"name", "plate"}),
        ("  plate:", "out", ("supply", "plate"), True, "out", {"mains", "marks"}),
        ("  plate:", "mains: 2", ("supply", "plate", "mains"), False, "2", set()),
        ("    \n", "    ", ("parts", "R1"), True, "", {"kind", "rated"}),
        ("            vol\n", "vol", ("parts", "R1", "rated"), True, "vol", {"power", "voltage"}),
        ("    kind:", "film", ("parts", "R1", "kind"), False, "film", set()),
        ("  R2:", "b", ("parts", "R2"), False, '"a: {b', set()),
        ("  line:", ", ", ("circuit", "line"), False, "", set()),
        ("  control:", "type: ", ("circuit", "control", "type"), False, "", set()),
        ("- {rule: x", "x, ", ("waivers",), True, "", {"rule"}),
        ("  rea\n", "rea", ("waivers",), True, "rea", {"rule"}),
        ("    voltage: {main", "V, ", ("readings", "voltage"), True, "", {"main"}),
        ("  - at:", "mains: ", ("readings", "at", "mains"), False, "", set()),
        ("derate: 1", "der", (), True, "der", {"supply", "parts", "circuit", "waivers", "readings"}),
    ],
)
def test_where_somebody_types(
    line: str, ends: str, path: tuple[str, ...], key: bool, typed: str, there: set[str]
) -> None:
    at = TYPED[: TYPED.index(f"\n{line}") + 1 if not TYPED.startswith(line) else 0].count("\n")
    whole = TYPED.split("\n")[at]
    spot = spot_at(TYPED, at, whole.index(ends) + len(ends))
    assert spot == (path, key, typed, frozenset(there))


@pytest.mark.parametrize(
    ("line", "ends", "there", "not_there"),
    [
        ("  pro", "pro", {"protection_class", "topology"}, {"name", "plate", "kind"}),
        ("  plate:", "out", {"outputs", "power", "frequency"}, {"mains", "marks", "R1"}),
        ("    \n", "    ", {"resistance", "mounting", "found"}, {"kind", "rated", "film resistor", "topology"}),
        ("            vol\n", "vol", {"current", "junction"}, {"power", "voltage", "resistance"}),
        ("  control:", "type: ", {"burst", "fixed frequency", "boundary"}, {"R1", "frequency"}),
        ("- {rule: x", "x, ", {"reason", "by", "last_day", "up_to"}, {"rule", "R1"}),
    ],
)
def test_keys_and_words_are_offered_before_anything_could_be_read(
    line: str, ends: str, there: set[str], not_there: set[str]
) -> None:
    """Each key of a block that it does not have, with what it is, and no name where a key is typed."""
    at = TYPED[: TYPED.index(f"\n{line}") + 1].count("\n")
    found = choices(State(TYPED), at, TYPED.split("\n")[at].index(ends) + len(ends))
    assert there <= {one.text for one in found} and not not_there & {one.text for one in found}
    assert all(one.says for one in found)
    keys = [one for one in found if one.kind == "key"]
    assert all(one.such for one in keys if one.text != "derate")
    for one in keys:  # nothing is told twice, as of blocks that share one table
        told = [each.strip() for each in one.says.split(". ")]
        assert len(set(told)) == len(told), one


def test_a_reading_is_offered_the_parts_and_outputs_that_it_has_not() -> None:
    state = _state(SOUND)
    line, column = _where(state.text, "case_temperature: {RF1: 71 degC", "RF1")
    found = {one.text for one in choices(state, line, column)}
    assert {"C4", "R5"} <= found and not {"RF1", "main"} & found


def test_words_of_conditions_are_offered_where_a_reading_stands() -> None:
    text = _state(SOUND).text.replace("\nreadings:", "\nconditions: {hot: {ambient: 40 degC}}\nreadings:", 1)
    state = Desk(SOUND, _day).put(text)
    assert not state.problems
    lines = text.split("\n")
    line = next(number for number, one in enumerate(lines) if one.startswith("readings:")) + 1
    typed = "\n".join([*lines[:line], "  - at: ", *lines[line:]])
    assert {one.text for one in choices(state, line, 8, typed)} == {"hot"}


@pytest.mark.parametrize(
    ("text", "lines", "after"),
    [
        ("site:\n  a: 1\nz: 2\n", ("site:", "  b: …"), "site:\n  a: 1\n  b: …\nz: 2\n"),
        ("site: {a: 1}\n", ("site:", "  b: …  # such as 3"), "site: {a: 1, b: …}\n"),
        ("site: {}\n", ("site:", "  b: …"), "site: {b: …}\n"),
        ("z: 1\n", ("site:", "  b: …"), "z: 1\nsite:\n  b: …\n"),
        ("parts:\n  C1, C2:\n    kind: x\n", ("parts:", "  C2:", "    rated:", "      voltage: …"),
         "parts:\n  C1, C2:\n    kind: x\n    rated:\n      voltage: …\n"),
        ("parts:\n  C1: {kind: x}\n", ("parts:", "  C1:", "    rated:", "      voltage: …"),
         "parts:\n  C1: {kind: x, rated: {voltage: …}}\n"),
        ("readings:\n  - {at: x}\n", ("readings:", "  - at: y", "    power: …"),
         "readings:\n  - {at: x}\n  - at: y\n    power: …\n"),
        ("parts:\n  C1: film capacitor 1 nF\n", ("parts:", "  C1:", "    width: …"), None),
        ("site: {a: 1}\n", ("site:", "  a: …"), None),
    ],
)  # fmt: skip
def test_lines_go_where_their_keys_lead(text: str, lines: tuple[str, ...], after: str | None) -> None:
    edit = put_in(text, lines)
    if after is None:
        assert edit is None
        return
    assert edit is not None
    whole = text.split("\n")
    whole[edit.line] = whole[edit.line][: edit.column] + edit.text + whole[edit.line][edit.column :]
    assert "\n".join(whole) == after


@pytest.mark.parametrize("path", [SOUND, POOR])
def test_what_is_pasted_is_refused_until_somebody_writes_it(path: str) -> None:
    state = _state(path)
    assert state.review is not None
    edits = {one for finding in state.review.findings for one in pastes(state, finding)}
    assert len(edits) >= 5
    desk = Desk(path, _day)
    for edit in sorted(edits)[:12]:
        lines = state.text.split("\n")
        lines[edit.line] = lines[edit.line][: edit.column] + edit.text + lines[edit.line][edit.column :]
        problems = desk.put("\n".join(lines)).problems
        assert any("…" in str(one) for one in problems), edit


def test_columns_of_the_protocol_are_utf_16_units() -> None:
    line = "a: µ😀b"
    assert units(line, line.index("b")) == 6 and column_of(line, 6) == line.index("b")
    assert units(line, line.index("😀")) == 4 and column_of(line, 5) == line.index("b")
    assert column_of(line, 99) == len(line) and units("", 0) == 0
