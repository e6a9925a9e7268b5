"""House packs: found, built on a shipped one, tightening, relaxing, switching off, restating."""

from __future__ import annotations

from pathlib import Path

import pytest

from derate.packs.load import Packs, find_pack, load_packs, read_packs, repository, shipped
from derate.terms.values import Place, ReadingError

WORKED = (Path(__file__).parents[1] / "data" / "packs" / "worked.yaml").read_text(encoding="utf-8")
HOUSE = "pack: house\ntitle: House rules\ncovers: ours\nbuilds_on: [worked]\n"


def house(text: str) -> Packs:
    """The worked pack with a house pack on it."""
    return read_packs({"worked.yaml": WORKED, "house.yaml": HOUSE + text})


def wrong(text: str) -> str:
    """What is wrong with a house pack."""
    with pytest.raises(ReadingError) as caught:
        house(text)
    return str(caught.value)


def test_tightened() -> None:
    packs = house(
        "tighten:\n  capacitor-voltage: {keep: voltage_peak <= 0.8 * rated.voltage, guard: 0.95}\n"
        "  switching-frequency: {within: {quantity: control.frequency, from: 25 kHz, to: 100 kHz}}\n"
        "  bridging-class: {member: {part.class: [Y1]}}\n  tape-layers: {count: {of: found.tape_layers, at_least: 3}}\n"
        "  capacitance-agrees: {severity: critical}\n"
    )
    rule = packs.rule("capacitor-voltage")
    assert rule is not None
    assert (rule.guard_share, rule.changes[0].what, rule.changes[0].pack) == (0.95, "tightened", "house")
    assert rule.confidence == "common practice"
    assert "house: capacitor-voltage tightened" in packs.notes


KINDER = [
    ("capacitor-voltage: {keep: voltage_peak <= 0.95 * rated.voltage}", "as strict as capacitor-voltage was"),
    ("capacitor-voltage: {keep: voltage_peak <= 400 V}", "as strict as capacitor-voltage was"),
    ("capacitor-voltage: {keep: voltage_peak >= 0.5 * rated.voltage}", ">= in place of <="),
    ("capacitor-voltage: {keep: 0.9 * voltage_peak <= 0.9 * rated.voltage}", "not shown to be as strict as"),
    ("capacitor-life: {keep: life >= 10000 h}", "as strict as capacitor-life was"),
    ("capacitor-life: {guard: 0.9}", "this guard is kinder than capacitor-life had"),
    ("capacitor-life: {severity: minor}", "a severity is never lowered"),
    ("fuse-breaking-capacity: {holds_over: nominal}", "fuse-breaking-capacity holds over tolerance"),
    ("switching-frequency: {within: {quantity: control.frequency, from: 10 kHz, to: 150 kHz}}", "'10 kHz' against"),
    ("switching-frequency: {within: {quantity: control.frequency, to: 150 kHz}}", "an end is left out"),
    ("bridging-class: {member: {part.class: [Y1, Y2, X1]}}", "it allows more words"),
    ("tape-layers: {count: {of: found.tape_layers, at_least: 1}}", "not shown to be as strict as"),
    ("clamp-present: {present: {fact: circuit.earth}}", "the two cannot be compared"),
]


@pytest.mark.parametrize(("text", "expected"), KINDER)
def test_tighten_is_held_to_its_word(text: str, expected: str) -> None:
    assert expected in wrong(f"tighten:\n  {text}\n")


BASE = """\
pack: base
title: t
covers: c
tables: {offset: {axes: {voltage: [1 V, 2 V]}, unit: V, cells: [5 V, 3 V], confidence: published, source: s}}
assumptions: {drop: {value: 1..2 V, bounding: none, says: s, source: s, confidence: published}}
rules:
  - {rule: by-table, says: s, because: b, hazard: life, severity: minor, source: s, confidence: published,
     cases: [running], keep: voltage_peak <= 2 * table.offset}
  - {rule: by-assumption, says: s, because: b, hazard: life, severity: minor, source: s, confidence: published,
     cases: [running], keep: voltage_peak <= 2 * assumption.drop}
"""
HALVED = """\
pack: house
title: t
covers: c
builds_on: [base]
tighten: {by-table: {keep: voltage_peak <= table.offset}, by-assumption: {keep: voltage_peak <= assumption.drop}}
"""


def test_half_of_a_table_or_an_assumption_is_stricter_only_where_no_figure_is_below_zero() -> None:
    assert len(read_packs({"base.yaml": BASE, "house.yaml": HALVED}).notes) == 2
    for old, new, rule in (("[5 V, 3 V]", "[5 V, -3 V]", "by-table"), ("1..2 V", "-1..2 V", "by-assumption")):
        with pytest.raises(ReadingError) as caught:
            read_packs({"base.yaml": BASE.replace(old, new), "house.yaml": HALVED})
        (problem,) = caught.value.problems
        assert f"not shown to be as strict as {rule} was" in problem.what
    below = "restate: {table.offset: {axes: {voltage: [1 V, 2 V]}, unit: V, cells: [5 V, -3 V], confidence: published, "
    with pytest.raises(ReadingError, match="not shown to be as strict as by-table was"):
        read_packs({"base.yaml": BASE, "house.yaml": HALVED + below + "source: ours}}\n"})


def test_relaxed_needs_a_reason_and_no_longer_speaks_for_its_document() -> None:
    packs = house("relax:\n  fuse-pulse: {keep: i2t <= 0.8 * rated.melting_i2t, reason: few switch-ons}\n")
    rule = packs.rule("fuse-pulse")
    assert rule is not None
    assert rule.confidence == "common practice"
    assert rule.source == "relaxed by house: few switch-ons (was: Invented fuse guide, third, page 3)"
    assert "house: fuse-pulse relaxed: few switch-ons" in packs.notes
    assert "relax has no reason" in wrong("relax:\n  fuse-pulse: {keep: i2t <= 0.8 * rated.melting_i2t}\n")
    assert "'severity' is no key of relax" in wrong("relax:\n  fuse-pulse: {severity: minor, reason: r}\n")


def test_switched_off_needs_a_reason() -> None:
    packs = house("switch_off:\n  fuse-pulse: {reason: tested instead}\n")
    rule = packs.rule("fuse-pulse")
    assert rule is not None and rule.switched_off
    assert "switch_off has no reason" in wrong("switch_off:\n  fuse-pulse: {}\n")


def test_restated_with_its_own_source() -> None:
    packs = house("restate:\n  tape-layers: {source: 'drawing 12, note 3', confidence: published}\n")
    rule = packs.rule("tape-layers")
    assert rule is not None
    assert (rule.source, rule.confidence, rule.tells) == ("drawing 12, note 3", "published", "drawing 12, note 3")
    assert "restate has no source" in wrong("restate:\n  tape-layers: {confidence: published}\n")
    assert "a restated limit is not remembered" in wrong(
        "restate:\n  tape-layers: {source: s, confidence: remembered}\n"
    )


def test_a_restated_limit_that_may_be_kinder_says_so() -> None:
    packs = house(
        "restate:\n  capacitor-voltage: {keep: voltage_peak <= rated.voltage, source: our tests, "
        "confidence: published}\n"
    )
    (note,) = (note for note in packs.notes if "capacitor-voltage" in note)
    assert note.startswith("house: capacitor-voltage restated: our tests; not shown to be as strict as it was (")


def test_a_surer_confidence_needs_a_source() -> None:
    text = "tighten:\n  tape-layers: {confidence: published}\n"
    assert "tape-layers is remembered; a surer one names its source:" in wrong(text)
    packs = house("tighten:\n  tape-layers: {confidence: published, source: drawing 12}\n")
    rule = packs.rule("tape-layers")
    assert rule is not None and rule.confidence == "published"


def test_a_table_restated() -> None:
    cells = "axes: {site.switch_ons: [100, 100000]}, kind: log-log, cells: [0.4, 0.2], source: ours"
    packs = house(f"restate:\n  table.pulse_allowance: {{{cells}, confidence: published}}\n")
    table = packs.table("pulse_allowance")
    assert table is not None
    assert {cell.confidence for cell in table.cells.values()} == {"published"}
    assert "a restated table is not remembered" in wrong(
        f"restate:\n  table.pulse_allowance: {{{cells}, confidence: remembered}}\n"
    )
    assert "write table.pulse_allowance" in wrong(
        f"restate:\n  table.puls_allowance: {{{cells}, confidence: published}}\n"
    )


def test_a_mistyped_rule_and_a_rule_changed_twice() -> None:
    assert "there is no rule 'fuse-puls' in the packs this one builds on; write fuse-pulse" in wrong(
        "switch_off:\n  fuse-puls: {reason: r}\n"
    )
    assert "rule fuse-pulse was relaxed by house already" in wrong(
        "relax:\n  fuse-pulse: {holds_over: nominal, reason: r}\nswitch_off:\n  fuse-pulse: {reason: r}\n"
    )
    assert "fuse-pulse is a keep rule; write keep:" in wrong(
        "relax:\n  fuse-pulse: {member: {part.class: [Y1]}, reason: r}\n"
    )


def test_a_house_pack_sees_the_tables_below_it_and_may_not_hide_them() -> None:
    rule = (
        "rules:\n  - {rule: ours, says: s, because: b, hazard: life, severity: minor, source: s, "
        "confidence: published, cases: [switch-on], keep: i2t <= 0.5 * table.pulse_allowance * rated.melting_i2t}\n"
    )
    assert house(rule).rule("ours") is not None
    hidden = "tables:\n  pulse_allowance: {axes: {voltage: [1 V]}, cells: [1], confidence: published, source: s}\n"
    assert "table pulse_allowance stands in a pack this one builds on" in wrong(hidden)
    alone = read_packs({"house.yaml": HOUSE.replace("builds_on: [worked]\n", "")})
    assert alone.rules == ()


def test_families_do_not_mix() -> None:
    one = "pack: one\ntitle: t\ncovers: c\nfamily: 62368-1\n"
    two = "pack: two\ntitle: t\ncovers: c\nfamily: 60335-1\nbuilds_on: [one]\n"
    with pytest.raises(ReadingError, match="packs of different families do not mix: 60335-1, 62368-1"):
        read_packs({"one.yaml": one, "two.yaml": two})


def write(path: Path, name: str, more: str = "") -> Path:
    """A pack file without rules."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"pack: {name}\ntitle: t\ncovers: c\n{more}", encoding="utf-8")
    return path


def test_found_beside_the_design_and_up_to_the_repository_root(tmp_path: Path) -> None:
    root = tmp_path / "repo"
    (root / ".git").mkdir(parents=True)
    design = root / "a" / "b" / "supply.yaml"
    write(design, "not-a-pack")
    write(root / "rules" / "ours.yaml", "ours")
    write(root / "a" / "near.yaml", "near", "builds_on: [ours]\n")
    write(tmp_path / "outside.yaml", "outside")
    assert load_packs(["near"], near=design).names == ("ours", "near")
    with pytest.raises(ReadingError, match="there is no pack 'outside'"):
        load_packs(["outside"], near=design)
    with pytest.raises(ReadingError, match=r"'../../../outside.yaml' leads out of the repository"):
        load_packs(["../../../outside.yaml"], near=design)
    assert load_packs(["../../rules/ours.yaml"], near=design).names == ("ours",)
    assert load_packs([str(tmp_path / "outside.yaml")]).names == ("outside",)  # the command line may name any
    assert repository(root / "a") == root


def test_outside_a_repository_only_its_own_folder_is_looked_in(tmp_path: Path) -> None:
    if repository(tmp_path) is not None:
        pytest.skip("the temporary folder lies in a repository")
    write(tmp_path / "up.yaml", "up")
    with pytest.raises(ReadingError, match="there is no pack 'up'"):
        load_packs(["up"], near=write(tmp_path / "a" / "supply.yaml", "x"))


def test_a_pack_that_builds_on_itself_by_path(tmp_path: Path) -> None:
    write(tmp_path / "a.yaml", "a", "builds_on: [./b.yaml]\n")
    write(tmp_path / "b.yaml", "b", "builds_on: [./a.yaml]\n")
    with pytest.raises(ReadingError, match="this pack builds on itself: a → b → a"):
        load_packs([str(tmp_path / "a.yaml")])


def test_a_pack_may_not_hide_behind_the_name_of_a_shipped_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path / "shipped" / "usual.yaml", "usual")
    monkeypatch.setattr("derate.packs.load.shipped", lambda folder: tmp_path / "shipped")
    design = tmp_path / "here" / "supply.yaml"
    write(design, "x")
    assert find_pack("usual", design, Place("d")) == tmp_path / "shipped" / "usual.yaml"
    write(tmp_path / "here" / "usual.yaml", "usual")  # a copy to the byte is the same pack
    assert find_pack("usual", design, Place("d")) == tmp_path / "shipped" / "usual.yaml"
    write(tmp_path / "here" / "usual.yaml", "usual", "# with a change of ours\n")
    with pytest.raises(ReadingError, match="pack usual stands both among the shipped ones"):
        find_pack("usual", design, Place("d"))


def test_two_packs_of_one_name_and_one_pack_twice(tmp_path: Path) -> None:
    one, other = write(tmp_path / "a.yaml", "same"), write(tmp_path / "b.yaml", "same")
    with pytest.raises(ReadingError, match="two packs are called same"):
        load_packs([str(one), str(other)])
    assert load_packs([str(one), str(one)]).names == ("same",)


def test_the_shipped_folder_stands_beside_the_package_or_inside() -> None:
    assert shipped("rules").name == "rules"
