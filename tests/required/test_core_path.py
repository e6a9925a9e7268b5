"""The core as a path: the wall of the bobbin, the tape outside, and legs to a floating core."""

from __future__ import annotations

from math import inf

import pytest
from small_barrier import Judged, changed, judged

from derate.ledger.entry import Subject

T1 = Subject("transformer", ("T1",))
LIST = "[bobbin 1 mm, primary, tape 3 layers, secondary, tape 3 layers]"
RULE = "bobbin-wall-thickness"


def _wound(order: str, *more: tuple[str, str], core: str = "bulk minus", wire: str = "enamelled") -> Judged:
    return judged(changed(
        (LIST, order), ("core: {tied_to: bulk minus}", f"core: {{tied_to: {core}}}"),
        ("wire: triple-insulated", f"wire: {wire}"), *more,
    ))  # fmt: skip


@pytest.mark.parametrize("wall", ("0.4 mm", "0.45 mm", "0.51 mm"))
def test_bobbins_of_published_reports_pass(wall: str) -> None:
    """Phenolic bobbins of 0.45, 0.51 and 0.4 mm that three reports to 62368-1:2018 pass as a single layer."""
    result = _wound(f"[bobbin {wall}, secondary, tape 3 layers, primary, tape 3 layers]")
    assert result.word(T1, "transformer.core_faces") == "yes"
    assert result.ends(T1, "needed.insulation_thickness") == (0.4e-3, 0.4e-3)
    assert result.verdict(RULE) == "pass"


@pytest.mark.parametrize(
    ("order", "core", "verdict"),
    [
        ("[bobbin 0.35 mm, secondary, tape 3 layers, primary, tape 3 layers]", "bulk minus", "fail"),
        ("[bobbin 0.35 mm, tape 2 layers, secondary, tape 3 layers, primary, tape 3 layers]", "bulk minus", "pass"),
        ("[bobbin 0.35 mm, tape 1 layer, secondary, tape 3 layers, primary, tape 3 layers]", "bulk minus", "fail"),
        ("[bobbin 0.3..0.5 mm, secondary, tape 3 layers, primary, tape 3 layers]", "bulk minus", "not assessed"),
        ("[bobbin unknown, secondary, tape 3 layers, primary, tape 3 layers]", "bulk minus", "not assessed"),
        ("[secondary, tape 3 layers, primary, tape 3 layers]", "bulk minus", "not assessed"),
        ("unknown", "bulk minus", "not assessed"),
        ("[bobbin 0.35 mm, primary, tape 3 layers, secondary, tape 3 layers]", "bulk minus", "not applicable"),
        ("[bobbin 0.35 mm, primary, tape 3 layers, secondary, tape 3 layers]", "main minus", "fail"),
        ("[bobbin 0.35 mm, primary, tape 3 layers, secondary, tape 3 layers]", "earth", "not applicable"),
        ("[bobbin 1 mm, primary, tape 3 layers, secondary, tape 3 layers]", "unknown", "not assessed"),
        ("[bobbin 1 mm, secondary, tape 3 layers, primary, tape 3 layers]", "floating", "pass"),
        ("[bobbin 0.35 mm, secondary, tape 3 layers, primary, tape 3 layers]", "floating", "not assessed"),
        ("[bobbin 0.35 mm, primary, tape 3 layers, secondary, tape 3 layers]", "floating", "not assessed"),
    ],
)
def test_the_wall_counts_where_it_stands_between_the_sides(order: str, core: str, verdict: str) -> None:
    assert _wound(order, core=core).verdict(RULE) == verdict


def test_the_wire_itself_insulates_and_insulated_wire_of_no_name_may() -> None:
    order = "[bobbin 0.35 mm, secondary, tape 3 layers, primary, tape 3 layers]"
    assert _wound(order, wire="triple-insulated").verdict(RULE) == "pass"
    assert _wound(order, wire="insulated").verdict(RULE) == "not assessed"


def test_two_thin_layers_are_not_one_thick_one() -> None:
    order = "[bobbin 0.25 mm, sheet 0.25 mm, secondary, tape 3 layers, primary, tape 3 layers]"
    assert _wound(order).ends(T1, "found.bobbin_wall") == (0.25e-3, 0.25e-3)
    open_ = _wound(order.replace("sheet 0.25 mm", "sheet unknown"))
    assert open_.ends(T1, "found.bobbin_wall") == (0.25e-3, inf)


def test_a_shield_counts_as_the_side_it_is_tied_to() -> None:
    shield = ("      secondary:", "      shield: {turns: 1, wire: foil, tied_to: TIED}\n      secondary:")
    order = "[bobbin 0.35 mm, tape 1 layer, shield, tape 1 layer, secondary, tape 3 layers, primary, tape 3 layers]"

    def verdict(tied: str) -> str:
        return _wound(order, (shield[0], shield[1].replace("TIED", tied))).verdict(RULE)

    assert verdict("bulk minus") == "not applicable"  # primary beside a primary core
    assert verdict("main minus") == "fail"
    assert verdict("floating") == "not assessed"  # one layer on either side of it: 1 is sure, 2 the best to be said


def test_a_floating_core_is_primary_to_a_secondary_that_lies_outermost() -> None:
    order = "[bobbin 1 mm, primary, tape 3 layers, secondary, tape 1 layer]"
    for core in ("bulk minus", "floating"):
        result = _wound(order, core=core)
        assert result.ends(T1, "found.tape_layers") == (1.0, 3.0)
        assert result.verdict("winding-tape-layers") == "not assessed"  # the air may add to the one layer
        assert result.verdict(RULE) == ("not applicable" if core == "bulk minus" else "pass")


def test_tape_round_the_core_adds_to_the_tape_outside() -> None:
    """Report C17 of the field cases: two layers wound round the core."""
    order = "[bobbin 1 mm, primary, tape 3 layers, secondary]"
    bare = _wound(order)
    taped = _wound(order, ("tied_to: bulk minus}\n", "tied_to: bulk minus, tape_to_windings: 2 layers}\n"))
    assert bare.verdict("winding-tape-layers") == "not assessed"
    assert taped.verdict("winding-tape-layers") == "pass"


def test_one_leg_to_a_floating_core_counts_alone() -> None:
    path = "core to leads, over the core"
    short = judged(changed(("core: {tied_to: bulk minus}", "core: {tied_to: floating}"),
                           ("clearance: 6 mm, creepage: 7 mm", "clearance: 1.5 mm, creepage: 3 mm")))  # fmt: skip
    assert short.ends(path, "found.clearance") == (0.0015, inf)
    assert short.verdict("barrier-clearance", path) == "not assessed"
    long = judged(changed(("core: {tied_to: bulk minus}", "core: {tied_to: floating}")))
    assert long.verdict("barrier-clearance", path) == long.verdict("barrier-creepage", path) == "pass"


def test_the_flange_is_a_barrier_with_a_thickness_and_a_way_round_it() -> None:
    flange = ("  plug side:", "  round the flange: {between: [T1 core, secondary], creepage: WAY, clearance: 6.5 mm, "
              "sheet: {thickness: THICK, fixed: moulded}, board: {material_group: IIIb}}\n  plug side:")  # fmt: skip

    def built(way: str, thick: str) -> Judged:
        return judged(changed((flange[0], flange[1].replace("WAY", way).replace("THICK", thick))))

    good = built("7.5 mm", "0.8 mm")
    assert good.verdict("barrier-creepage", "round the flange") == "pass"
    assert good.verdict("barrier-sheet-thickness", "round the flange") == "pass"
    assert built("4 mm", "0.8 mm").verdict("barrier-creepage", "round the flange") == "fail"
    assert built("7.5 mm", "0.3 mm").verdict("barrier-sheet-thickness", "round the flange") == "fail"


@pytest.mark.parametrize(("family", "prefix"), [("60335-1", "household"), ("60664-1", "basic-standard")])
def test_a_family_that_was_not_read_on_thickness_says_so_for_everything_that_is_there(family: str, prefix: str) -> None:
    """A wall of 0.2 mm, a sheet and a coupler of 0.05 mm: three findings by name, not assessed, in the way."""
    coupler = "  U2: {kind: optocoupler, rated: {clearance: 7 mm, creepage: 8 mm, insulation_thickness: 0.05 mm}}\n"
    flange = (
        "  flange: {between: [T1 core, secondary], creepage: 9 mm, clearance: 9 mm, sheet: {thickness: 0.05 mm}}\n"
    )
    result = judged(
        changed(
            ("bobbin 1 mm, primary", "bobbin 0.2 mm, secondary"),
            ("tape 3 layers, secondary, tape", "tape 3 layers, primary, tape"),
            ("wire: triple-insulated, bare: 0.52 mm, outside: 0.72", "wire: enamelled, bare: 0.52 mm, outside: 0.56"),
            ("circuit:", f"{coupler}circuit:"),
            ("bridging: {CY1:", "bridging: {U2: [bulk minus, main minus], CY1:"),
            ("  plug side:", f"{flange}  plug side:"),
        ),
        family,
    )
    for rule, subject in (("bobbin-wall", "T1"), ("barrier-sheet", "flange"),
                          ("optocoupler-insulation", "over the body of U2")):  # fmt: skip
        found = result.findings(f"{prefix}-{rule}-thickness")[subject]
        assert found.verdict == "not assessed" and found.blocks, rule
    assert judged(changed(), family).verdict(f"{prefix}-bobbin-wall-thickness") == "not applicable"
