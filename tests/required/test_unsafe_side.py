"""Places where a missing or doubtful fact once came out better than it is."""

from __future__ import annotations

import pytest
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


WIRE = "wire: triple-insulated, bare: {}, outside: {}"


@pytest.mark.parametrize(("bare", "over", "word"), [
    ("0.45 mm", "0.48 mm", "enamelled"),  # 15 um on one side: enamel
    ("0.52 mm", "0.619 mm", "enamelled"),  # 49.5 um, the thickest enamel of this size
    ("0.52 mm", "0.622 mm", "insulated or triple-insulated"),  # 51 um: something, not three layers of 25.4 um
    ("0.52 mm", "0.672 mm", "insulated or triple-insulated"),  # 76.0 um
    ("0.52 mm", "0.673 mm", "triple-insulated"),  # 76.5 um
    ("0.52 mm", "unknown", "insulated or triple-insulated"),  # a name alone shows no build
])  # fmt: skip
def test_triple_insulated_wire_has_the_build_of_three_layers(bare: str, over: str, word: str) -> None:
    result = judged(changed((WIRE.format("0.52 mm", "0.72 mm"), WIRE.format(bare, over))))
    assert result.word(T1, "transformer.barrier_wire") == word
    verdict = {"enamelled": "fail", "triple-insulated": "pass"}.get(word, "not assessed")
    assert result.verdict("winding-margins") == verdict


SHIELD = (
    "    from_core_outwards: [bobbin 1 mm, primary, tape 3 layers, secondary",
    "      shield: {turns: 14, wire: enamelled, bare: 0.15 mm, tied_to: SIDE}\n"
    "    from_core_outwards: [bobbin 1 mm, primary, tape 1 layer, shield, tape 1 layer, secondary",
)


def test_a_shield_nobody_traced_is_no_better_than_one_tied_to_the_output() -> None:
    rules = ("winding-tape-layers", "winding-tape-electric-strength", "winding-margins")

    def tied(side: str) -> list[str]:
        result = judged(changed((SHIELD[0], SHIELD[1].replace("SIDE", side))))
        return [result.verdict(rule) for rule in rules]

    assert tied("bulk minus") == ["pass"] * 3  # the output is wound in triple-insulated wire
    assert tied("main minus") == ["fail", "not assessed", "fail"]  # nobody tested the layer, which may do
    assert tied("unknown") == ["not assessed"] * 3


@pytest.mark.parametrize(("path", "makes"), [
    ("CX1 || CY2", "none"),
    ("CY2 + CY3", "reinforced"),
    ("(CX1 || CY2) + CY3", "basic"),  # X1 shorted leaves one Y2
    ("CY3 + (CY2 || CX1)", "basic"),
    ("CX1 + CY2 + CY3", "reinforced"),
    ("(CY2 + CY3) || CX1", "none"),
    ("(CY2 + CY3) || (CY4 + CX1)", "basic"),
    ("(CY2 || CY3) + CY4", "basic"),  # twice the one beside it: not of one value
])  # fmt: skip
def test_series_and_parallel_are_counted_as_they_are_joined(path: str, makes: str) -> None:
    one = "  {}: {{kind: ceramic capacitor, class: {}, capacitance: 1 nF 20%, rated: {{voltage: 400 Vac}}}}\n"
    parts = "".join(one.format(name, kind) for name, kind in
                    (("CX1", "X1"), ("CY2", "Y2"), ("CY3", "Y2"), ("CY4", "Y2")) if name in path)  # fmt: skip
    between = "[bulk minus, main minus]}"
    gone = "  CY1: {kind: ceramic capacitor, class: Y1, capacitance: 1 nF 20%, rated: {voltage: 400 Vac}}\n"
    result = judged(changed((gone, parts), (f"CY1: {between}", f"{path}: {between}")))
    (subject,) = result.ledger.subjects("bridge")
    assert result.word(subject, "bridge.provides") == makes
    assert result.verdict("bridging-part-reinforced") == ("pass" if makes == "reinforced" else "fail")


@pytest.mark.parametrize("family", ["62368-1", "60664-1", "60335-1"])
def test_a_worse_pollution_degree_never_betters_a_verdict(family: str) -> None:
    """1 mm of 4 and more: no table has a column for degree 4, and that of degree 3 is the least there is."""
    prefix = {"62368-1": "", "60664-1": "basic-standard-", "60335-1": "household-"}[family]
    short = ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 1 mm, creepage: 1 mm")
    for degree in ("3", "4", "2..4"):
        result = judged(changed(short, ("pollution_degree: 2", f"pollution_degree: {degree}")), family)
        for what in ("clearance", "creepage"):
            assert result.verdict(f"{prefix}barrier-{what}", "gap under T1") == "fail", (degree, what)
    wide = ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 40 mm, creepage: 40 mm")
    result = judged(changed(wide, ("pollution_degree: 2", "pollution_degree: 4")), family)
    assert result.verdict(f"{prefix}barrier-creepage", "gap under T1") == "not assessed"


def test_a_coupler_at_an_unknown_point_is_held_to_the_barrier() -> None:
    """4242 V peak hold the 4000 V of 530 V peak; not what 1,300 V peak ask of tape above 30 kHz. A core nobody placed
    may be the other side of it."""
    part = "  U2: {kind: optocoupler, rated: {clearance: 7 mm, creepage: 8 mm, voltage: 3000 Vac}}\ncircuit:"
    for point, tied, verdict in (("bulk minus", "bulk minus", "fail"), ("T1 core", "unknown", "not assessed")):
        at = ("bridging: {CY1:", f"bridging: {{U2: [{point}, main minus], CY1:")
        core = ("core: {tied_to: bulk minus}", f"core: {{tied_to: {tied}}}")
        change = (("circuit:", part), at, core, ("peak: {T1: 530 V}", "peak: {T1: 1300 V}"))
        assert judged(changed(*change)).verdict("optocoupler-withstand", "over the body of U2") == verdict


def test_a_distance_within_one_circuit_is_not_passed_over() -> None:
    near = (
        "  plug side:",
        "  under Q1: {between: [bulk plus, switch node], clearance: 0.3 mm, creepage: 0.3 mm}\n  plug side:",
    )
    result = judged(changed(near))
    assert result.verdict("functional-distance", "under Q1") == "not assessed"
    assert result.verdict("functional-distance", "gap under T1") == "not applicable"


@pytest.mark.parametrize(
    ("family", "prefix"), [("62368-1", ""), ("60664-1", "basic-standard-"), ("60335-1", "household-")]
)
def test_mains_poles_behind_the_fuse_have_their_rule(family: str, prefix: str) -> None:
    for distance, verdict in (("0.3 mm", "fail"), ("3.2 mm", "pass")):
        place = (
            f"  behind F1: {{between: [after F1, neutral], clearance: {distance}, creepage: {distance}}}\n  plug side:"
        )
        result = judged(changed(("  plug side:", place)), family)
        assert result.word("behind F1", "barrier.role") == "mains poles behind the fuse"
        for what in ("clearance", "creepage"):
            assert result.verdict(f"{prefix}mains-poles-behind-fuse-{what}", "behind F1") == verdict


@pytest.mark.parametrize(("family", "prefix"), [("60664-1", "basic-standard-"), ("60335-1", "household-")])
def test_a_family_that_was_not_read_above_30_khz_says_so(family: str, prefix: str) -> None:
    """576 V peak at up to 110 kHz are bounded by reports; beyond either the slow table is the least, and no pass."""
    wide = ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 40 mm, creepage: 40 mm")
    rule = f"{prefix}barrier-creepage"
    for peak, frequency, verdict in (
        ("576 V", "65 kHz", "pass"),
        ("577 V", "65 kHz", "not assessed"),
        ("576 V", "111 kHz", "not assessed"),
        ("700 V", "29 kHz", "pass"),
    ):
        text = changed(wide, ("peak: {T1: 530 V}", f"peak: {{T1: {peak}}}"), ("65 kHz", frequency))
        assert judged(text, family).verdict(rule, "gap under T1") == verdict, (peak, frequency)
    short = changed(("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 6.5 mm, creepage: 3 mm"), ("530 V", "700 V"))
    assert judged(short, family).verdict(rule, "gap under T1") == "fail"
