"""What can be touched on an isolated supply, and where its converter stops: planted in shipped designs."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from law_bench import Bench

from derate.cli.main import main
from derate.judge.review import Finding
from derate.ledger.entry import Subject
from derate.study.paste import lines_for

ISOLATED = ("sound", "self-oscillating", "line transformer")
METAL, LEADS = "touchable-metal-held-to-distances", "touchable-leads-held-to-distances"
NONE = "touchable_metal: none, touchable_leads: none"
PLACE = "\n  {name}: {{between: [{ends}], clearance: {gap}, creepage: {gap}, board: {{material_group: IIIb}}}}"


def found(name: str, *changes: tuple[str, str]) -> dict[tuple[str, str], Finding]:
    bench = Bench.of(name)
    text = bench.text
    for old, new in changes:
        assert text.count(old) == 1, f"'{old}' stands {text.count(old)} times"
        text = text.replace(old, new)
    review = bench.review(text)
    assert review is not None
    return {(one.rule, str(one.subject)): one for one in review.findings}


def place(ends: str, gap: str = "12 mm", more: str = "", name: str = "screw of the heat sink") -> tuple[str, str]:
    return "\nbarriers:", "\nbarriers:" + PLACE.format(name=name, ends=ends, gap=gap) + more


def looks(metal: str, leads: str) -> tuple[str, str]:
    return NONE, f"touchable_metal: {metal}, touchable_leads: {leads}"


@pytest.mark.parametrize("name", ISOLATED)
@pytest.mark.parametrize("metal, leads, rule", [("screw of the heat sink", "none", METAL), ("none", "antenna", LEADS)])
def test_what_can_be_touched_is_open_until_its_place_is_described(name: str, metal: str, leads: str, rule: str) -> None:
    said = looks(metal, leads)
    assert found(name)[rule, "supply"].verdict == "pass"
    open_ = found(name, said)[rule, "supply"]
    assert (open_.verdict, open_.severity, open_.blocks) == ("not assessed", "critical", True)
    own = metal if leads == "none" else leads
    assert found(name, said, place("primary, touchable", name=own))[rule, "supply"].verdict == "pass"
    for elsewhere in ("secondary, touchable", "primary, secondary", "primary, earth"):
        assert found(name, said, place(elsewhere, name=own))[rule, "supply"].verdict == "not assessed"
    case = found(name, said, place("primary, touchable", name="board to case"))[rule, "supply"]
    assert case.verdict == "not assessed" and f"called {own}" in case.message


@pytest.mark.parametrize("gap, verdict", [("12 mm", "pass"), ("1 mm", "fail"), ("unknown", "not assessed")])
def test_its_place_is_judged_as_one_that_can_be_touched(gap: str, verdict: str) -> None:
    shell = "Shell of the connector"
    own = found("sound", looks(shell.lower(), "none"), place("switch node, touchable", gap, name=shell))
    assert own["barrier-clearance", shell].verdict == verdict
    assert own[METAL, "supply"].verdict == "pass"


@pytest.mark.parametrize("leads", ["antenna", "unknown"])
def test_a_screw_and_an_antenna_need_a_place_each(leads: str) -> None:
    """What nobody has looked for has none: a look that is deleted does not do in place of a second place."""
    both = looks("screw of the heat sink", leads)
    one = found("sound", both, place("primary, touchable"))
    second = PLACE.format(name="antenna", ends="bulk plus, touchable", gap="12 mm")
    two = found("sound", both, place("primary, touchable", more=second))
    assert [one[rule, "supply"].verdict for rule in (METAL, LEADS)] == ["pass", "not assessed"]
    assert [two[METAL, "supply"].verdict, two[LEADS, "supply"].verdict] == [
        "pass",
        "not assessed" if leads == "unknown" else "pass",
    ]


def test_several_things_of_one_look_need_a_place_each() -> None:
    """One place does not do for two screws, and what is asked for is the one that has none."""
    said = looks("[screw of the heat sink, shell of the connector]", "none")
    second = PLACE.format(name="shell of the connector", ends="bulk plus, touchable", gap="12 mm")
    none = found("sound", said)[METAL, "supply"]
    one = found("sound", said, place("primary, touchable"))[METAL, "supply"]
    two = found("sound", said, place("primary, touchable", more=second))[METAL, "supply"]
    assert [one.verdict, one.blocks, two.verdict] == ["not assessed", True, "pass"]
    asked = {fact.subject.names for fact in none.missing if fact.quantity == "barrier.between"}
    assert asked == {("screw of the heat sink",), ("shell of the connector",)}
    assert [fact.subject.names for fact in one.missing] == [("shell of the connector",)]
    assert "called shell of the connector" in one.message


def test_what_waits_for_its_place_is_not_told_as_asked_by_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "lead.derate.yaml"
    path.write_text(Bench.of("line transformer").text.replace(NONE, looks("screw", "antenna")[1]), encoding="utf-8")
    assert main(["lint", "--all", str(path), "--today", "2026-11-25"]) == 1
    told = [line for line in capsys.readouterr().out.split("\n") if ": unused: " in line]
    assert not [line for line in told if "touchable" in line]


def test_the_lines_to_paste_describe_the_thing_itself() -> None:
    asked = lines_for("barrier.between", Subject("barrier", ("screw of the heat sink",)))
    assert asked[:3] == ("barriers:", "  screw of the heat sink:", "    between: [primary, touchable]")


@pytest.mark.parametrize(
    "name",
    ["screw: left", "shell #2", "*star", "&joint", "- lead", "? lead", "[edge", "{edge", "it's 'held'", "!tag", "| bar",
     "> arrow", "@home", "%5", "`tick", '"quoted"', "ends:", "a -: b", "screw of the heat sink", "pin (left)"],
)  # fmt: skip
def test_a_name_that_yaml_would_take_otherwise_is_in_quotes(name: str) -> None:
    """Pasted and filled in, the reader finds a place of just this name."""
    for fact in ("barrier.between", "found.clearance", "insulation.material_group"):
        lines = [line.partition("  # ")[0] for line in lines_for(fact, Subject("barrier", (name,)))]
        given = yaml.load("\n".join(lines).replace("…", "3 mm"), yaml.BaseLoader)
        assert list(given["barriers"]) == [name]


def test_nobody_has_looked() -> None:
    bare = found("sound", (f", {NONE}", ""))
    assert [bare[rule, "supply"].verdict for rule in (METAL, LEADS)] == ["not assessed"] * 2


def test_metal_on_a_protective_earth_is_held_to_the_distances_to_earth() -> None:
    """Basic insulation is asked there; a place to an earth that is not joined to it says nothing."""
    said, near = looks("screw of the heat sink", "none"), place("primary, earth")
    joined = found(
        "sound",
        said,
        near,
        ("  bridging: none", "  earth: {joined_to: [touchable], resistance: 0.05 ohm}\n  bridging: none"),
    )
    assert joined[METAL, "supply"].verdict == "pass"
    assert found("sound", said, near)[METAL, "supply"].verdict == "not assessed"


def test_a_lead_is_not_on_the_protective_earth_that_metal_is_joined_to() -> None:
    """No place to that earth speaks of an antenna: it needs one of its own, and is asked for reinforced insulation."""
    earthed = "  bridging: none", "  earth: {joined_to: [touchable], resistance: 0.05 ohm}\n  bridging: none"
    to_earth = place("primary, earth", more=PLACE.format(name="antenna", ends="bulk plus, earth", gap="12 mm"))
    of_lead = place("primary, earth", more=PLACE.format(name="antenna", ends="bulk plus, touchable", gap="12 mm"))
    for metal in ("none", "screw of the heat sink"):
        said = looks(metal, "antenna")
        assert found("sound", said, to_earth, earthed)[LEADS, "supply"].verdict == "not assessed"
        own = found("sound", said, of_lead, earthed)
        assert [own[rule, "supply"].verdict for rule in (METAL, LEADS)] == ["pass"] * 2


@pytest.mark.parametrize(
    "stops, verdict",
    [
        ("78 V", "pass"),
        ("90 V", "pass"),
        ("91 V", "fail"),
        ("101 V", "fail"),
        ("85..95 V", "not assessed"),
        ("unknown", "not assessed"),
        ("over 80 V", "not assessed"),
        ("under 85 V", "pass"),
    ],
)
def test_a_converter_runs_down_to_the_lowest_mains_of_its_plate(stops: str, verdict: str) -> None:
    """100 V less 10 %: what a supply does below where it stops is brown-out, and the plate promises none of it."""
    own = found("sound", ("runs_down_to: 78 V", f"runs_down_to: {stops}"))["runs-down-to-lowest-mains", "supply"]
    assert (own.verdict, own.severity) == (verdict, "major")


@pytest.mark.parametrize(
    "name, stops, over",
    [
        ("buck", "150 V", "199 V"),
        ("buck without bulk", "110 V", "208 V"),
        ("linear", "195 V", "208 V"),
        ("self-oscillating", "140 V", "199 V"),
    ],
)
def test_so_does_every_other_one(name: str, stops: str, over: str) -> None:
    rule = "runs-down-to-lowest-mains", "supply"
    assert found(name)[rule].verdict == "pass"
    assert found(name, (f"runs_down_to: {stops}", f"runs_down_to: {over}"))[rule].verdict == "fail"


def test_without_a_tolerance_of_the_site_that_of_the_packs_is_named() -> None:
    own = found("sound", ("mains_tolerance: 10%,", ""), ("runs_down_to: 78 V", "runs_down_to: 91 V"))
    one = own["runs-down-to-lowest-mains", "supply"]
    assert one.verdict in ("fail", "not assessed") and "mains_tolerance" in " ".join((*one.rests_on, *one.missing))
