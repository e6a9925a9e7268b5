# ruff: noqa: E501  (rows of tables: one error a line)
"""Every error of a pack: its line and column, what is wrong, the nearest name or the expected dimension."""

from __future__ import annotations

import pytest

from derate.packs.load import read_packs
from derate.packs.trial import read_trials
from derate.terms.values import ReadingError

HEAD = "pack: p\ntitle: t\ncovers: c\n"
RULE = """rules:
  - rule: a-rule
    says: says
    because: because
    hazard: fire
    severity: major
    source: s
    confidence: published
"""


def errors(text: str, **others: str) -> list[str]:
    """What is wrong with a pack, as line:column: what; instead."""
    with pytest.raises(ReadingError) as caught:
        read_packs({"p.yaml": text} | {f"{name}.yaml": other for name, other in others.items()})
    return [str(problem).removeprefix("p.yaml:") for problem in caught.value.problems]


def rule(line: str) -> str:
    """A pack of one rule with one more line, which is line 12."""
    return HEAD + RULE + f"    {line}\n"


KEEP = "keep: voltage_peak <= rated.voltage"
ONE_LINE = [
    ("kep: voltage_peak <= rated.voltage", "12:5: 'kep' is no key of rule a-rule; write keep"),
    ("keep: voltage_peak <= rated.curent", "12:27: there is no quantity 'rated.curent'; did you mean rated.current?"),
    ("keep: voltage_peak <= 0.8 * rated.current", "12:27: expected a voltage, got a current"),
    ("keep: voltage_peak", "12:11: no comparison; write what must hold, with <=, <, >= or >"),
    ("keep: [1]", "12:11: a formula is one line of text, this is a list"),
    ("within: {quantity: frequency, from: 20 kHz, to: 5 V}", "12:53: '5 V' is a voltage; a frequency is expected here"),
    ("within: {quantity: frequency}", "12:13: within has no bound; write from: or to:"),
    ("within: {from: 5 V}", "12:13: within has no quantity; write {quantity: frequency, from: 20 kHz, to: 150 kHz}"),
    ("present: {}", "12:14: present asks for a part or for a fact; write {part: {part.kind: [fuse]}} or {fact: circuit.clamp}"),
    ("present: {fact: circuit.clmp}", "12:21: 'circuit.clmp' is no fact this format knows; write circuit.clamp"),
    ("present: {part: {site.altitude: over 2000 m}}", "12:22: site.altitude is not a fact of a part; use names such as part.kind"),
    ("present: {part: {part.kind: fusee}}", "12:33: 'fusee' is not a word of part.kind; write fuse"),
    ("member: {part.class: [Y1, Y3]}", "12:31: 'Y3' is not a word of part.class; write one of X1, X2, Y1, Y2, unmarked"),
    ("member: {rated.voltage: [400 V]}", "12:29: rated.voltage is a voltage, no word; write a range, such as 1..3"),
    ("member: {part.class: [Y1], part.kind: [fuse]}", "12:13: member asks one fact; write {part.class: [Y1, Y2]}"),
    ("count: {of: rated.voltage, at_least: 2}", "12:17: 'rated.voltage' is a voltage; a count is a plain number"),
    ("count: {of: bridge.count}", "12:12: count has no bound; write at_least: or at_most:"),
    ("agree: {measured: found.capacitance, marked: part.resistance}", "12:50: part.resistance is a resistance; found.capacitance is a capacitance"),
    ("record: {shows: {test.result: held}}", "12:13: record has no fields; write {fields: [test.voltage, test.result], shows: {test.result: held}}"),
    ("any_of: [{keep: voltage_peak <= 5 V}]", "12:13: any_of takes two alternatives or more; write a list of shapes"),
    ("any_of: [{keep: voltage_peak <= 5 V}, {any_of: []}]", "12:44: any_of inside any_of; one level is read: write the alternatives side by side"),
    ("any_of: [{keep: voltage_peak <= 5 V}, {kep: 3}]", "12:43: an alternative is one shape of its own; write keep:"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "expected"), ONE_LINE)
def test_a_wrong_shape(line: str, expected: str) -> None:
    assert expected in errors(rule(line))


MORE = [
    ("hazzard: fire", "12:5: 'hazzard' is no key of rule a-rule; write hazard"),
    ("about: partt", "12:12: about does not take 'partt'; write part"),
    ("cases: [runing]", "12:13: cases does not take 'runing'; write running"),
    ("applies: {part.knd: fuse}", "12:15: 'part.knd' is no fact this format knows; write part.kind"),
    ("applies: {part.capacitance: over 5 V}", "12:40: expected a capacitance, got a voltage"),
    ("applies: {part.kind: {fuse: yes}}", "12:26: a condition is one line"),
    ("applies: {part.kind: includes fuse}", "12:26: part.kind is one word, no list"),
    ("applies: {circuit.bridging: CY1}", "12:33: circuit.bridging is a list; write `includes WORD`, `present` or `absent`"),
    ("when: {working_voltage: over 5 V}", "12:11: `when` is looked at in each case, and this rule has no cases"),
    ("holds_over: everything", "12:17: holds_over does not take 'everything'; write one of tolerance, nominal"),
    ("guard: 1.2", "12:12: a guard is a share of the limit, above 0 and up to 1; write guard: 0.9"),
    ("guard: 5 A", "12:12: this guard is a current, the limit a voltage; write guard: 0.9"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "expected"), MORE)
def test_a_wrong_field(line: str, expected: str) -> None:
    found = errors(rule(line) + f"    {KEEP}\n")
    assert any(one.startswith(expected) for one in found), found


def test_a_guard_in_degrees_is_a_difference() -> None:
    text = HEAD + RULE + "    keep: junction_temperature <= rated.junction\n    guard: 0.9\n"
    assert errors(text) == ["13:12: this guard is a plain number, the limit a temperature; write guard: 10 K"]
    read_packs({"p.yaml": text.replace("0.9", "10 K")})


def test_all_errors_come_out_together() -> None:
    text = HEAD + RULE.replace("hazard: fire", "hazard: fyre").replace("source: s", "sauce: s") + "    keep: a <= 5 V\n"
    found = errors(text)
    assert "8:13: hazard does not take 'fyre'; write fire" in found
    assert any(one.startswith("10:5: 'sauce' is no key") for one in found)
    assert any(one.startswith("12:11: there is no quantity 'a'") for one in found)
    assert any("has no source" in one for one in found)


def test_two_shapes_and_none() -> None:
    assert "13:5: rule a-rule has two shapes, keep and member; keep one" in errors(
        rule(KEEP) + "    member: {part.class: Y1}\n"
    )
    assert "5:5: rule a-rule asks for nothing; give one of" in errors(HEAD + RULE)[0]


def test_a_rule_twice_and_a_coded_name() -> None:
    twice = RULE + f"    {KEEP}\n" + RULE.removeprefix("rules:\n") + f"    {KEEP}\n"
    assert errors(HEAD + twice) == ["13:5: rule a-rule stands twice, first in line 5; rename one"]
    assert errors(HEAD + RULE.replace("a-rule", "R101") + f"    {KEEP}\n")[0].startswith("5:11: 'R101' is no rule name")
    other = HEAD.replace("pack: p", "pack: q") + RULE + f"    {KEEP}\n"
    with pytest.raises(ReadingError, match="rule a-rule stands in pack p too"):
        read_packs({"p.yaml": HEAD + RULE + f"    {KEEP}\n", "q.yaml": other})


TABLES = [
    ("t: {axes: {voltage: [10 V, 5 V]}, cells: [1, 2], confidence: published, source: s}", "5:30: axis voltage does not rise here"),
    ("t: {axes: {voltage: [10 V, 20 A]}, cells: [1, 2], confidence: published, source: s}", "5:33: expected a voltage, got a current"),
    ("t: {axes: {voltge: [10 V]}, cells: [1], confidence: published, source: s}", "5:14: axis voltge is no fact this format knows; write voltage"),
    ("t: {axes: {voltage: [10 V, 20 V]}, cells: [1], confidence: published, source: s}", "5:45: 1 where axis voltage has 2 rows"),
    ("t: {axes: {voltage: [10 V]}, cells: [x], confidence: published, source: s}", "5:40:"),
    ("t: {axes: {voltage: [10 V]}, cells: [1], confidence: sure, source: s}", "5:56: 'sure' is no word for confidence"),
    ("t: {axes: {voltage: [10 V]}, cells: [1], source: s}", "5:6: table t has no confidence"),
    ("t: {axes: {voltage: [10 V]}, cells: [1], confidence: published}", "5:6: table t has no source"),
    ("t: {axes: {voltage: [0 V, 1 V]}, kind: log-log, cells: [1, 2], confidence: published, source: s}", "5:23: axis voltage cannot be logarithmic"),
    ("t: {axes: {voltage: [1 V, 2 V]}, kind: log-log, cells: [0, 2], confidence: published, source: s}", "5:59: a log-log table has no zero"),
    ("t: {axes: {voltage: [1 V, 2 V]}, kind: bandd, cells: [1], confidence: published, source: s}", "5:42: kind does not take 'bandd'; write band"),
    ("a-b: {axes: {voltage: [1 V]}, cells: [1], confidence: published, source: s}", "5:3: 'a-b' cannot be named in a formula; write a_b"),
    ("t: {axes: {voltage: [1 V]}, unit: mmm, cells: [1], confidence: published, source: s}", "5:37: 'mmm' is no unit this format knows; write mm"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "expected"), TABLES)
def test_a_wrong_table(line: str, expected: str) -> None:
    found = errors(HEAD + f"tables:\n  {line}\n")
    assert any(one.startswith(expected) for one in found), found


def test_a_wrong_assumption() -> None:
    line = "assumptions: {e: {value: fast, bounding: hi, says: s, source: s, confidence: published}}\n"
    found = errors(HEAD + line)
    assert any(one.startswith("4:42: bounding does not take 'hi'") for one in found), found
    assert any(one.startswith("4:26:") for one in found), found


def test_the_head() -> None:
    assert errors("pack: P 1\ntitle: t\n")[0] == "1:1: the pack has no covers; write covers: and a text"
    assert "4:9: family does not take 'IEC'; write one of 60664-1, 62368-1, 60335-1, 60598-1" in errors(HEAD + "family: IEC\n")
    assert errors(HEAD + "ruels: []\n") == ["4:1: 'ruels' is no key of the pack; write rules"]
    assert errors("- a\n")[0].startswith("1:1: the file is a list")
    assert errors("")[0].startswith("1:1: the file is empty")


def test_no_such_pack() -> None:
    assert errors(HEAD + "builds_on: [q]\n")[0].startswith("4:13: there is no pack 'q'")


def test_packs_that_build_on_each_other() -> None:
    other = "pack: q\ntitle: t\ncovers: c\nbuilds_on: [p]\n"
    with pytest.raises(ReadingError) as caught:
        read_packs({"p.yaml": HEAD + "builds_on: [q]\n", "q.yaml": other})
    assert "q.yaml:4:13: this pack builds on itself: p → q → p; take one of them out" in str(caught.value)


TRIALS = [
    ("a-rul: []", "15:3: there is no rule 'a-rul'; write a-rule"),
    ("a-rule: [{voltage_peak: 5 V}]", "15:12: a trial of a-rule has no expect; write one of"),
    ("a-rule: [{voltage_peek: 5 V, expect: pass}]", "15:13: 'voltage_peek' is no fact this format knows; write voltage_peak"),
    ("a-rule: [{voltage_peak: 5 A, expect: pass}]", "15:29: expected a voltage"),
    ("a-rule: [{expect: good}]", "15:21: expect does not take 'good'"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "expected"), TRIALS)
def test_wrong_trials(line: str, expected: str) -> None:
    text = rule(KEEP) + f"---\ntrials:\n  {line}\n"
    packs = read_packs({"p.yaml": text})
    with pytest.raises(ReadingError) as caught:
        read_trials(text, "p.yaml", packs)
    assert any(str(one).removeprefix("p.yaml:").startswith(expected) for one in caught.value.problems), caught.value


DESIGN = rule(KEEP) + "---\nbases:\n  small: |\n    derate: 1\n    x: 1500 A\ndesigns:\n  - "


def test_design_trials_replace_one_text() -> None:
    text = DESIGN + "{rule: a-rule, base: small, instead_of: 1500 A, write: 35 A}\n"
    (trial,) = read_trials(text, "p.yaml", read_packs({"p.yaml": text})).designs
    assert trial.text == "derate: 1\nx: 1500 A\n"
    assert trial.changed == "derate: 1\nx: 35 A\n"
    assert (trial.expect, trial.then) == ("pass", "fail")
    for line, expected in (
        ("{rule: a-rule, base: smal, instead_of: 1500 A, write: 35 A}", "there is no base 'smal'; write small"),
        ("{rule: a-rule, base: small, instead_of: 16 A, write: 35 A}", "'16 A' stands 0 times in small"),
    ):
        with pytest.raises(ReadingError, match=expected):
            read_trials(DESIGN + line + "\n", "p.yaml", read_packs({"p.yaml": DESIGN + line + "\n"}))
