"""Places where a missing or doubtful fact once came out better than it is."""

from __future__ import annotations

from small_barrier import changed, judged

from derate.ledger.entry import SUPPLY, Subject
from derate.terms.values import Value

T1 = Subject("transformer", ("T1",))
CHOKE = ("circuit:", "  L1: choke 1 mH 1 A\ncircuit:")
AFTER = ("over F1: {between: [line, after F1]", "over F1: {between: [after L1, neutral]")


def test_mains_poles_count_as_behind_the_fuse_only_when_a_fuse_stands_there() -> None:
    ahead = judged(changed(CHOKE, ("line: [F1,", "line: [L1, F1,"), AFTER))
    assert ahead.word("over F1", "barrier.role") == "mains poles ahead of the fuse"
    behind = judged(changed(CHOKE, ("line: [F1,", "line: [F1, L1,"), AFTER))
    assert behind.word("over F1", "barrier.role") == "mains poles behind the fuse"


def test_the_worst_open_bleeder_is_taken_at_its_bad_end() -> None:
    parts = "  CX1: film capacitor X2 220 nF 20% 310 Vac\n  R1: film resistor 1 Mohm 0% 0.25 W 250 V\n"
    parts += "  R2: film resistor 960 kohm 25% 0.25 W 250 V\ncircuit:"
    result = judged(changed(("line: [F1, BR1,", "line: [F1, across CX1, across R1, across R2, BR1,"),
                            ("circuit:", parts)))  # fmt: skip
    left = result.row(SUPPLY, "plug.resistance_one_open").value
    assert isinstance(left, Value) and left.high == 1.2e6  # R1 open leaves R2 at its most


def test_a_tape_layer_that_broke_down_is_not_hidden_by_one_that_held() -> None:
    one = "  - {test: electric strength, between: [one layer of tape, T1], voltage: 4000 Vac, time: 60 s, result: %s}\n"
    text = changed(("inspection:", one % "held" + one % "broke down" + "inspection:"))
    assert judged(text).word(T1, "tape_test.result") == "broke down"


def test_pads_of_another_part_do_not_count() -> None:
    result = judged(changed(("pads of CY1:", "pads of CY12:")))
    assert result.row(Subject("bridge", ("CY1",)), "bridge.pads").missing


def test_a_wide_reading_of_touch_current_is_judged_at_its_bad_end() -> None:
    more = "tests:\n  - {test: touch current, from: main, mains: 264 V, result: 0.05..0.9 mA}"
    assert judged(changed(("tests:", more))).ends(SUPPLY, "touch_current")[1] == 0.9e-3


def test_a_switching_frequency_nobody_gave_is_not_a_slow_one() -> None:
    """At 1300 V peak the strength test above 30 kHz is not met; without the frequency that was once a pass."""
    unknown = ("{type: fixed frequency, frequency: 65 kHz}", "{type: fixed frequency}")
    peak = ("peak: {T1: 530 V}", "peak: {T1: 1300 V}")
    fast, open_ = judged(changed(peak)), judged(changed(unknown, peak))
    assert fast.verdict("electric-strength-voltage") == "fail"
    assert open_.verdict("electric-strength-voltage") == "not assessed"
    assert open_.verdict("barrier-creepage", "gap under T1") == "not assessed"
    assert open_.ends("gap under T1", "needed.clearance")[1] >= fast.ends("gap under T1", "needed.clearance")[1]
