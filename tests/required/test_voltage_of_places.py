"""Working voltage of a place: read, worked out, and never below the mains; places to earth and to what can be touched.

The figures asked for are those of the tables: 354 V lies between 320 V (3.2 mm) and 400 V (4.0 mm) of group III in
pollution degree 2, which makes 3.54 mm, 3.6 mm to earth and twice that to a part that can be touched; a test report
prints 7.1 mm for it, doubled before it was rounded. 250 V, the row of the mains itself: 2.5 mm and 5.0 mm.
"""

from __future__ import annotations

from math import inf, sqrt

import pytest
from small_barrier import Judged, changed, judged

from derate.ledger.entry import Subject
from derate.packs.load import shipped
from derate.terms.quantities import RUNNING
from derate.terms.values import Value

GAP = "gap under T1"
CASE = "switch to case"
PAIR = Subject("circuit pair", ("primary", "secondary"))
SOUND = (shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml").read_text(encoding="utf-8")
READ = "working_voltage: {T1: 281 V}, working_voltage_peak: {T1: 530 V}"

CLASS_I = ("protection_class: II", "protection_class: I")


def place(between: str, creepage: str, reading: str = "") -> str:
    """The small supply with one more place, and a reading at it."""
    entry = (
        f"  {CASE}: {{between: {between}, clearance: 9 mm, creepage: {creepage}, board: {{material_group: IIIb}}}}\n"
    )
    more = f"  - {{at: {{mains: 264 V, load: full}}, {reading}}}\n" if reading else ""
    earthed = [CLASS_I] if "earth" in between else []
    return changed(("readings:\n", f"{entry}readings:\n{more}"), *earthed)


AT_354 = f"working_voltage: {{{CASE}: 354 V}}, working_voltage_peak: {{{CASE}: 560 V}}"


@pytest.mark.parametrize(
    ("between", "needed"), [("[switch node, touchable]", 7.2e-3), ("[switch node, earth]", 3.6e-3)]
)
@pytest.mark.parametrize("family", ["62368-1", "60664-1"])
def test_a_switch_node_is_held_to_its_working_voltage(between: str, needed: float, family: str) -> None:
    result = judged(place(between, "9 mm", AT_354), family)
    # Reports bound 560 V peak at 65 kHz for reinforced insulation, 420 V only for basic; this family says no more.
    far = inf if (family, needed) == ("60664-1", 3.6e-3) else needed
    assert result.ends(CASE, "needed.creepage") == (needed, far)


@pytest.mark.parametrize(("protection", "creepage"), [("I", 3.6e-3), ("II", 7.2e-3), ("unknown", 7.2e-3)])
def test_only_the_earth_of_class_one_is_a_safeguard(protection: str, creepage: float) -> None:
    """Metal at an earth that no class needs is joined to nothing that protects: it may be touched, as any other."""
    stated = ("protection_class: I\n", f"protection_class: {protection}\n")
    text = place("[switch node, earth]", "6 mm", AT_354).replace(*stated)
    result = judged(text)
    assert result.ends(CASE, "needed.creepage")[1] == creepage
    verdicts = {"I": "pass", "II": "fail", "unknown": "not assessed"}
    assert result.verdict("barrier-creepage", CASE) == verdicts[protection]
    # nobody tried it with a voltage, whatever it is
    assert result.verdict("electric-strength-held", "earth – primary") == "not assessed"


def test_six_millimetres_from_a_switch_node_to_a_case_fail_at_354_volts() -> None:
    assert judged(place("[switch node, touchable]", "6 mm", AT_354)).verdict("barrier-creepage", CASE) == "fail"
    assert judged(place("[switch node, touchable]", "7.3 mm", AT_354)).verdict("barrier-creepage", CASE) == "pass"
    # Nobody worked it out and nobody read it: the mains is the least, which shows a fail and never a pass.
    for creepage, verdict in (("6 mm", "not assessed"), ("20 mm", "not assessed"), ("4.9 mm", "fail")):
        assert judged(place("[switch node, touchable]", creepage)).verdict("barrier-creepage", CASE) == verdict


@pytest.mark.parametrize("point", ["line", "neutral", "after F1", "bulk plus", "bulk minus", "T1 core"])
def test_what_never_leaves_the_mains_is_held_to_the_mains(point: str) -> None:
    """The core is tied to bulk minus, and the bulk stands behind a full bridge."""
    assert judged(place(f"[{point}, touchable]", "9 mm")).ends(CASE, "needed.creepage") == (5e-3, 5e-3)


@pytest.mark.parametrize("change", [
    ("core: {tied_to: bulk minus}", "core: {tied_to: switch node}"),
    ("topology: flyback", "topology: power-factor stage"),
])  # fmt: skip
def test_what_may_leave_it_is_open(change: tuple[str, str]) -> None:
    """A core on the switch node; a stage that lifts."""
    text = place("[T1 core, touchable]", "9 mm").replace(*change)
    assert judged(text).ends(CASE, "needed.creepage") == (5e-3, inf)


SINGLE = ("  BR1: bridge rectifier 800 V 1 A", "  BR1: line diode 800 V 1 A")


def test_a_rail_behind_a_single_diode_rides_on_the_conductor_it_is_plugged_to() -> None:
    """Both rails of the bridge see the mains. Of a single diode one is a conductor of the mains, the other lies one
    crest beside it: sqrt(1 + 1/2) crests rms, two crests at its peak. 416 V of 240 V: 4.16 mm, twice, and rounded up.
    """
    for point in ("T1 core", "bulk plus", "bulk minus", "after BR1"):
        bridge = judged(place(f"[{point}, touchable]", "9 mm"))
        assert bridge.ends(CASE, "needed.creepage") == (5e-3, 5e-3), point
        single = judged(place(f"[{point}, touchable]", "9 mm").replace(*SINGLE))
        assert single.ends(CASE, "insulation.working_voltage") == (250.0, pytest.approx(240.0 * sqrt(3.0))), point
        assert single.ends(CASE, "insulation.working_voltage_peak")[1] == pytest.approx(480.0 * sqrt(2.0)), point
        assert single.ends(CASE, "needed.creepage") == (5e-3, 8.4e-3), point
    for point in ("line", "neutral", "after F1"):
        single = judged(place(f"[{point}, touchable]", "9 mm").replace(*SINGLE))
        assert single.ends(CASE, "needed.creepage") == (5e-3, 5e-3), point
    short = judged(place("[bulk plus, touchable]", "6 mm").replace(*SINGLE))
    assert short.verdict("barrier-creepage", CASE) == "not assessed"  # it may be the conductor itself
    assert (
        judged(place("[bulk plus, touchable]", "8.5 mm").replace(*SINGLE)).verdict("barrier-creepage", CASE) == "pass"
    )


def test_both_rails_of_a_doubler_ride_beside_the_conductor() -> None:
    doubled = place("[bulk minus, touchable]", "6 mm").replace(
        "  BR1: bridge rectifier 800 V 1 A", "  D3: line diode 800 V 1 A\n  D4: line diode 800 V 1 A"
    )
    doubled = doubled.replace("  C2:", "  C3: electrolytic capacitor 22 uF 20% 400 V\n  C2:")
    doubled = doubled.replace("line: [F1, BR1, across C1]", "line: [F1, D3 + D4, across C1 + C3]\n  input: doubler")
    result = judged(doubled)
    assert result.design.structure.mains is not None
    assert result.design.structure.mains.input == "doubler"
    assert result.ends(CASE, "insulation.working_voltage_peak")[0] == pytest.approx(480.0 * sqrt(2.0))
    assert result.verdict("barrier-creepage", CASE) == "fail"


def test_a_reading_below_the_mains_is_held_up_to_the_mains() -> None:
    """50 V read at a place that bridges 240 V mains: the row of 250 V, not the 0.6 mm of 50 V."""
    for between, needed in (("[line, touchable]", 5e-3), ("[line, earth]", 2.5e-3), ("[switch node, earth]", 2.5e-3)):
        result = judged(place(between, "9 mm", f"working_voltage: {{{CASE}: 50 V}}"))
        assert result.ends(CASE, "insulation.working_voltage")[0] == 250.0
        assert result.ends(CASE, "needed.creepage")[0] == needed
    low = judged(changed((READ, "working_voltage: {T1: 50 V}, working_voltage_peak: {T1: 60 V}")))
    assert low.ends(GAP, "insulation.working_voltage") == (250.0, 250.0)
    assert low.ends(GAP, "insulation.working_voltage_peak")[0] == pytest.approx(240 * sqrt(2))


def test_a_reading_at_a_place_does_not_lower_what_was_read_across_the_transformer() -> None:
    """5.8 mm for 281 V; 50 V written beside it once made 3 mm of it, and a pass of 5 mm."""
    own = (READ, f"working_voltage: {{T1: 281 V, {GAP}: 50 V}}, working_voltage_peak: {{T1: 530 V, {GAP}: 60 V}}")
    result = judged(changed(own))
    assert result.ends(GAP, "insulation.working_voltage") == (281.0, 281.0)
    assert result.ends(GAP, "insulation.working_voltage_peak") == (530.0, 530.0)
    assert result.ends(GAP, "needed.creepage") == (5.8e-3, 5.8e-3)
    short = (*own,), ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 5.0 mm, creepage: 5.0 mm")
    assert judged(changed(*short)).verdict("barrier-creepage", GAP) == "fail"


def test_a_greater_reading_at_one_place_is_that_of_the_pair_too() -> None:
    own = (READ, f"working_voltage: {{T1: 281 V, {GAP}: 390 V}}, working_voltage_peak: {{T1: 530 V, {GAP}: 700 V}}")
    result = judged(changed(own))
    assert result.ends(GAP, "insulation.working_voltage") == (390.0, 390.0)
    assert result.ends("pads of CY1", "insulation.working_voltage") == (281.0, 281.0)
    assert result.ends(PAIR, "insulation.working_voltage_peak") == (700.0, 700.0)


def test_a_pair_takes_the_largest_of_its_paths() -> None:
    result = judged(
        place("[switch node, earth]", "9 mm", AT_354).replace("protection_class: II", "protection_class: I")
    )
    pair = Subject("circuit pair", ("earth", "primary"))
    assert result.ends(pair, "insulation.working_voltage") == (354.0, 354.0)
    assert result.ends(pair, "insulation.working_voltage_peak") == (560.0, 560.0)


# What the converter works out --------------------------------------------------------------------------------------


def sound(*edits: tuple[str, str]) -> Judged:
    text = SOUND
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    return judged(text)


TO_CASE = (
    "  switch to case: {between: [switch node, touchable], clearance: 9 mm, creepage: 9 mm}\n  under transformer:\n"
)
HELD = [
    ("bridging: none", "bridging: {CY1: [bulk minus, main minus]}"),
    ("  D9: {kind", "  CY1: {kind: ceramic capacitor, class: Y1, capacitance: 1 nF 20%}\n  D9: {kind"),
    ("  control: {type", "  earth: none\n  control: {type"),
]


def test_the_primary_against_earth_is_worked_out() -> None:
    """Its path is that of a secondary that is earthed, whatever holds the secondary; its crest is the switch's, without
    the secondary's own swing. Where the secondary is held to bulk minus the transformer sees direct voltage as well."""
    open_one = sound(("  under transformer:\n", TO_CASE))
    held = sound(("  under transformer:\n", TO_CASE), *HELD)
    rms, peak = "insulation.working_voltage", "insulation.working_voltage_peak"
    for result in (open_one, held):
        near, far = result.ends(CASE, rms)
        assert 250.0 <= near <= far < result.ends(PAIR, rms)[1] < inf
        assert far == pytest.approx(open_one.ends(CASE, rms)[1])
        swing = 373.0 / 7.0  # crest of 264 V over 84 to 12 turns
        crest = result.ends(CASE, peak)[1]
        drain = max(
            row.value.near
            for row in result.ledger.rows(Subject("part", ("Q1",)), "voltage_peak")
            if isinstance(row.value, Value) and row.case is not None and row.case.group == RUNNING
        )
        assert drain <= crest < result.ends(PAIR, peak)[1] - 0.9 * swing


def test_behind_a_single_diode_the_switch_rides_on_the_mains() -> None:
    """The crest of the highest mains comes on top of the crest, and the rms grows by half its square, both to earth and
    across a transformer whose secondary nothing ties; one held to bulk minus rides along and sees no more than before.
    """
    single = ("BR1: {kind: bridge rectifier", "BR1: {kind: line diode")
    rms, peak = "insulation.working_voltage", "insulation.working_voltage_peak"
    crest = 2**0.5 * 264.0
    change = [("  under transformer:\n", TO_CASE)]
    bridge, held_bridge = sound(*change), sound(*change, *HELD)
    one, held_one = sound(*change, single), sound(*change, single, *HELD)
    for few, more in ((bridge, one), (held_bridge, held_one)):
        assert more.ends(CASE, peak)[1] == pytest.approx(few.ends(CASE, peak)[1] + crest, rel=0.03)
    assert one.ends(PAIR, peak)[1] == pytest.approx(bridge.ends(PAIR, peak)[1] + crest, rel=0.03)
    assert held_one.ends(PAIR, peak)[1] == pytest.approx(held_bridge.ends(PAIR, peak)[1], rel=0.03)
    held = held_bridge.ends(PAIR, rms)[1]  # direct voltage and all, which is what the conductor adds to
    for result, subject in ((one, CASE), (one, PAIR), (held_one, CASE)):
        assert result.ends(subject, rms)[1] == pytest.approx((held**2 + crest**2 / 2.0) ** 0.5, rel=0.03)
    assert held_one.ends(PAIR, rms)[1] == pytest.approx(held, rel=0.03)


def test_touch_current_of_a_rail_behind_a_single_diode_is_that_of_the_line() -> None:
    """0.707 of it is what a bridge gives, whose rails stand still for half of the time."""
    single = ("BR1: {kind: bridge rectifier", "BR1: {kind: line diode")
    figures = [
        value.far
        for result in (sound(*HELD), sound(*HELD, single))
        if isinstance(value := result.row(Subject("supply"), "touch_current").value, Value)
    ]
    assert figures[0] == pytest.approx(figures[1] / sqrt(2.0))
