"""Ways in which packs, settings and the level could open the gate: each ends in exit 1 or 2, or stands at the top."""

from __future__ import annotations

import json

import pytest
from gate_bench import DESIGN, LAMP, SHIPPED, Bench, holds, house

from derate.packs.load import shipped

FAKES = {f"rules/{name}.yaml": holds(name) for name in SHIPPED}
PATHS = ", ".join(f"./{path}" for path in FAKES)
RELAXED = "relax:\n  bulk-capacitor-voltage: {keep: voltage_peak <= 2 * rated.voltage, reason: we always did}\n"


def shipped_text(name: str) -> str:
    """A shipped pack as it is."""
    return (shipped("rules") / f"{name}.yaml").read_text(encoding="utf-8")


# ---- the shipped gate itself


def test_the_shipped_gate_has_no_block_and_says_packs_and_level(bench: Bench) -> None:
    told = bench.run()
    assert told.status == 1 and told.softer == []
    line = next(line for line in told.out.split("\n") if "; level: default; rule packs: " in line)
    assert line.count("(shipped, ") == 6 and "house pack" not in line
    (design,) = json.loads(bench.run("--format", "json").out)["designs"]
    assert design["gate"]["level"] == "default" and design["gate"]["softer"] == []
    by_name = {one["name"]: one for one in design["gate"]["packs"]}
    for name in SHIPPED:
        from hashlib import sha256

        assert by_name[name]["sha256"] == sha256(shipped_text(name).encode()).hexdigest() and by_name[name]["shipped"]


# ---- a pack is known by its content, not by the name it gives itself


@pytest.mark.parametrize("who", ["design", "settings"])
def test_packs_that_call_themselves_by_shipped_names_stand_for_none(bench: Bench, who: str) -> None:
    for path, text in FAKES.items():
        bench.put(path, text)
    if who == "design":
        bench.put(LAMP, DESIGN + f"packs: [{PATHS}]\n")
    else:
        bench.put(".derate.yaml", f"packs: [{PATHS}]\n")
    told = bench.run()
    assert told.status == 1
    for name in SHIPPED:
        assert f"(rule {name}-in-use-for-" in told.out
        assert (
            f"house pack (rules/{name}.yaml): {name}: not the shipped one of this name in place of shipped"
            in told.softer
        )


def test_by_the_command_line_they_are_told_at_the_top(bench: Bench) -> None:
    for path, text in FAKES.items():
        bench.put(path, text)
    told = bench.run(*(one for path in FAKES for one in ("--pack", f"./{path}")))
    assert told.softer[0] == f"pack left out (command line): {', '.join(SHIPPED)}"
    assert any(line.startswith("looked at (") and "house packs alone" in line for line in told.softer)


def test_a_pack_that_differs_by_one_blank_is_a_house_pack(bench: Bench) -> None:
    bench.put("rules/mains-fusing.yaml", shipped_text("mains-fusing").replace("\n", " \n", 1))
    bench.put(LAMP, DESIGN + "packs: [commercial-practice, ./rules/mains-fusing.yaml, insulation-it-equipment]\n")
    told = bench.run()
    assert "(rule mains-fusing-in-use-for-fire, critical, blocks)" in told.out
    assert any(line.startswith("house pack (rules/mains-fusing.yaml)") for line in told.softer)


def test_a_copy_to_the_byte_is_the_shipped_one_and_says_where_it_lies(bench: Bench) -> None:
    bench.put("rules/mains-fusing.yaml", shipped_text("mains-fusing"))
    bench.put(LAMP, DESIGN + "packs: [commercial-practice, ./rules/mains-fusing.yaml, insulation-it-equipment]\n")
    told = bench.run()
    assert told.softer == [] and "mains-fusing (shipped, from rules/mains-fusing.yaml, " in told.out


# ---- a nearer pack of the same name


@pytest.mark.parametrize("argv", [(), ("--pack", "mains-fusing")])
def test_a_pack_beside_the_design_never_wins_over_the_shipped_one(bench: Bench, argv: tuple[str, ...]) -> None:
    bench.put("rules/mains-fusing.yaml", holds("mains-fusing"))
    bench.put(LAMP, DESIGN + "packs: [commercial-practice, mains-fusing, insulation-it-equipment]\n")
    told = bench.run(*argv)
    assert told.status == 2 and "stands both among the shipped ones and in" in told.err


@pytest.mark.parametrize("argv", [(), ("--pack", "house")])
def test_of_two_house_packs_of_one_name_the_nearer_is_not_taken(bench: Bench, argv: tuple[str, ...]) -> None:
    bench.put("rules/house.yaml", house("house", ""))
    bench.put("board/rules/house.yaml", house("house", RELAXED))
    bench.put("board/lamp.derate.yaml", DESIGN + "packs: [commercial-practice, house]\n")
    told = bench.run("board/lamp.derate.yaml", *argv)
    assert told.status == 2 and "two files are pack house for this design" in told.err


def test_what_a_pack_builds_on_is_looked_for_beside_it_and_told(bench: Bench) -> None:
    bench.put("rules/base.yaml", house("base", ""))
    bench.put("board/rules/base.yaml", house("base", RELAXED))
    bench.put("board/rules/top.yaml", house("top", "", "base"))
    bench.put("board/lamp.derate.yaml", DESIGN + f"packs: [{', '.join(SHIPPED)}, top]\n")
    told = bench.run("board/lamp.derate.yaml")
    assert told.softer[0].startswith("relaxed (base): bulk-capacitor-voltage: ")
    assert "base (house pack, board/rules/base.yaml, " in told.out


def test_two_copies_of_one_content_are_one(bench: Bench) -> None:
    for path in ("rules/house.yaml", "board/rules/house.yaml"):
        bench.put(path, house("house", RELAXED))
    bench.put("board/lamp.derate.yaml", DESIGN + "packs: [commercial-practice, house]\n")
    assert bench.run("board/lamp.derate.yaml").status == 1


# ---- settings below the root


@pytest.mark.parametrize(
    ("root", "below", "what"),
    [
        ("", "stop_at: fail\n", "stop_at: fail asks less than the settings above, which say default"),
        ("stop_at: marginal\n", "stop_at: not-assessed\n", "stop_at: not-assessed asks less"),
        ("stop_at: marginal\n", "stop_at: default\n", "stop_at: default asks less"),
        (
            "longest_days: 90\n",
            "longest_days: 91\n",
            "longest_days: 91 asks less than the settings above, which say 90",
        ),
        ("", "longest_days: 400\n", "longest_days: 400 asks less than the settings above, which say 366"),
        ("", "critical_waivers: [fire]\n", "critical_waivers: fire asks less than the settings above, which say none"),
        ("critical_waivers: fire\n", "critical_waivers: [fire, shock]\n", "critical_waivers: fire, shock asks less"),
    ],
)
def test_a_folder_below_the_root_may_only_ask_more(bench: Bench, root: str, below: str, what: str) -> None:
    if root:
        bench.put(".derate.yaml", root)
    bench.put("board/.derate.yaml", below)
    bench.put("board/lamp.derate.yaml", DESIGN)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 2 and what in told.err and "change the file at the root" in told.err, told.err


def test_and_it_may_ask_more(bench: Bench) -> None:
    bench.put(".derate.yaml", "stop_at: fail\nlongest_days: 90\ncritical_waivers: [fire, shock]\n")
    bench.put("board/.derate.yaml", "stop_at: marginal\nlongest_days: 30\ncritical_waivers: [shock]\n")
    bench.put("board/lamp.derate.yaml", DESIGN)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 1 and "level: marginal (board/.derate.yaml)" in told.out
    assert told.softer == ["setting (.derate.yaml): critical_waivers: shock in place of none"]


def test_packs_below_the_root_are_added_and_replace_none(bench: Bench) -> None:
    """Named there alone they would have stood in place of the default packs."""
    bench.put("board/rules/house.yaml", holds("house"))
    bench.put("board/.derate.yaml", "packs: [house]\n")
    bench.put("board/lamp.derate.yaml", DESIGN)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 1 and "in-use-for" not in told.out
    assert (
        all(f"{name} (shipped" in told.out for name in SHIPPED) and "house (house pack, board/rules/house" in told.out
    )


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (RELAXED, "bulk-capacitor-voltage relaxed by house"),
        ("switch_off:\n  bulk-capacitor-voltage: {reason: r}\n", "bulk-capacitor-voltage switched off by house"),
    ],
)
def test_packs_below_the_root_soften_nothing(bench: Bench, body: str, what: str) -> None:
    bench.put("board/rules/house.yaml", house("house", body))
    bench.put("board/.derate.yaml", "packs: [house]\n")
    bench.put("board/lamp.derate.yaml", DESIGN)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 2 and f"ask less than the settings above: {what}" in told.err, told.err


def test_nor_replace_an_assumption(bench: Bench) -> None:
    bench.put("board/rules/own.yaml", assuming("own"))
    bench.put("board/.derate.yaml", "packs: [own]\n")
    bench.put("board/lamp.derate.yaml", DESIGN)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 2 and "ask less than the settings above: mains_resistance assumption by own" in told.err


def test_nor_bring_a_family(bench: Bench) -> None:
    bench.put("board/.derate.yaml", "packs: [insulation-household]\n")
    bench.put("board/lamp.derate.yaml", DESIGN)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 2 and "insulation family 60335-1" in told.err


# ---- the level


def test_a_softer_level_is_said_at_the_top_and_at_the_end(bench: Bench) -> None:
    bench.put(".derate.yaml", "stop_at: fail\n")
    told = bench.run()
    assert told.softer == ["level (.derate.yaml): what stops the exit status: fail in place of default"]
    assert "at level fail: exit status" in told.out and "level: fail (.derate.yaml)" in told.out
    (design,) = json.loads(bench.run("--format", "json").out)["designs"]
    assert (design["gate"]["level"], design["gate"]["level_from"]) == ("fail", ".derate.yaml")


def test_the_command_line_pins_the_level_over_the_tree(bench: Bench) -> None:
    bench.put(LAMP, DESIGN.replace("breaking_capacity: 35 A", "breaking_capacity: 35000 A"))
    bench.put(".derate.yaml", "stop_at: fail\n")
    soft, pinned = bench.run(), bench.run("--stop-at", "default")
    assert (soft.status, pinned.status) == (0, 1)
    assert pinned.softer == [] and "level: default (command line)" in pinned.out
    assert "at level" not in pinned.out


def test_a_softer_level_of_the_command_line_is_said_too(bench: Bench) -> None:
    told = bench.run("--stop-at", "fail")
    assert told.softer == ["level (command line): what stops the exit status: fail in place of default"]
    harder = bench.run("--stop-at", "marginal")
    assert harder.softer == [] and "level: marginal (command line)" in harder.out


# ---- families


def test_a_family_that_asks_nothing_does_not_count_as_one(bench: Bench) -> None:
    bench.put("rules/own.yaml", holds("own", "62368-1"))
    bench.put(LAMP, DESIGN + "packs: [commercial-practice, mains-fusing, own]\n")
    told = bench.run()
    assert told.status == 1
    for hazard in ("fire", "shock"):
        assert f"(rule 62368-1-complete-for-{hazard}, critical, blocks)" in told.out
    assert "the packs of family 62368-1 lack table mains_transient" in told.out
    assert "family (lamp.derate.yaml): 62368-1: own (house pack) in place of insulation-it-equipment" in told.softer


def family_pack(change: tuple[str, str] = ("", "")) -> str:
    """The shipped household family under another name, with one change."""
    text = shipped_text("insulation-household").replace("pack: insulation-household", "pack: own", 1)
    assert change[0] in text
    return text.replace(*change) if change[0] else text


@pytest.mark.parametrize(
    ("change", "lacks"),
    [
        (("found.creepage >= needed.creepage", "found.creepage >= 0.5 * needed.creepage"), "a rule on creepage"),
        (("touch_current <= needed.touch_current\n", "touch_current <= 9 * needed.touch_current\n"), "touch current"),
        (
            ("member: {test.result: [held]}", "member: {test.result: [held, not done]}"),
            "result of the electric-strength",
        ),
        (("{barrier.solid: yes, ", "{barrier.solid: no, "), "thickness of solid insulation primary to earth"),
        (("insulation_thickness >= needed.insul", "insulation_thickness >= 0.9 * needed.insul"), "thickness of solid"),
        (("parts], barrier.touching: no}", "parts], barrier.touching: yes}"), "a rule on clearance primary to second"),
        (("  tape_layers:\n", "  other_layers:\n"), "table tape_layers"),
    ],
)
def test_a_family_that_lacks_one_thing_says_so_and_blocks(bench: Bench, change: tuple[str, str], lacks: str) -> None:
    bench.put("rules/own.yaml", family_pack(change))
    bench.put(LAMP, DESIGN + "packs: [commercial-practice, mains-fusing, own]\n")
    told = bench.run()
    line = next(line for line in told.out.split("\n") if "(rule 60335-1-complete-for-shock, critical, blocks)" in line)
    assert lacks in line


def test_a_whole_family_of_the_house_counts_and_is_told(bench: Bench) -> None:
    bench.put("rules/own.yaml", family_pack())
    bench.put(LAMP, DESIGN + "packs: [commercial-practice, mains-fusing, own]\n")
    told = bench.run()
    assert "complete-for" not in told.out and "in-use-for" not in told.out
    assert told.softer == ["family (lamp.derate.yaml): 60335-1: own (house pack) in place of insulation-it-equipment"]


def test_another_shipped_family_is_told(bench: Bench) -> None:
    bench.put(LAMP, DESIGN + "packs: [commercial-practice, mains-fusing, insulation-household]\n")
    told = bench.run()
    assert told.softer == [
        "family (lamp.derate.yaml): 60335-1: insulation-household in place of insulation-it-equipment"
    ]


# ---- assumptions


def assuming(name: str, value: str = "4..5 ohm", bounding: str = "none", family: str = "") -> str:
    """A pack with one assumption that a shipped pack has too."""
    head = f"pack: {name}\ntitle: t\ncovers: c\n" + (f"family: {family}\n" if family else "")
    return (
        f"{head}assumptions:\n  mains_resistance: {{value: {value}, bounding: {bounding}, says: s, source: our street, "
        "confidence: common practice}\nrules: []\n"
    )


@pytest.mark.parametrize(
    "order",
    [
        "commercial-practice, mains-fusing, insulation-it-equipment, own",
        "own, commercial-practice, mains-fusing, insulation-it-equipment",
    ],
)
@pytest.mark.parametrize("family", ["", "62368-1"])
def test_an_assumption_is_replaced_in_any_order_and_both_ranges_are_told(bench: Bench, order: str, family: str) -> None:
    bench.put("rules/own.yaml", assuming("own", family=family))
    bench.put(LAMP, DESIGN + f"packs: [{order}]\n")
    told = bench.run()
    (line,) = told.softer
    assert line.startswith("assumption (own): mains_resistance: 4 to 5 ohm, bounding none in place of ")
    assert line.endswith(": our street") and line.count("bounding") == 2


def test_what_bounds_an_assumption_is_told_where_the_range_stays(bench: Bench) -> None:
    value = next(
        line
        for line in shipped_text("commercial-practice").split("  mains_resistance:")[1].split("\n")
        if "value" in line
    )
    bench.put("rules/own.yaml", assuming("own", value.partition("value:")[2].strip(), "both"))
    bench.put(LAMP, DESIGN + f"packs: [{', '.join(SHIPPED)}, own]\n")
    (line,) = bench.run().softer
    assert "bounding both in place of" in line and line.count("bounding") == 2


def test_two_house_packs_may_not_both_assume_it(bench: Bench) -> None:
    for name in ("one", "two"):
        bench.put(f"rules/{name}.yaml", assuming(name))
    bench.put(LAMP, DESIGN + f"packs: [{', '.join(SHIPPED)}, one, two]\n")
    told = bench.run()
    assert told.status == 2 and "assumption mains_resistance stands in pack one too" in told.err


# ---- changes of rules


@pytest.mark.parametrize(
    ("body", "what"),
    [
        ("keep: voltage_peak <= 1.01 * rated.voltage", "not shown to be as strict"),
        ('keep: "voltage_peak <= rated.voltage * max(0.5, voltage_peak / 1000 V)"', "not shown to be as strict"),
        ("keep: voltage_peak <= 0.9 * rated.voltage, severity: minor", "a severity is never lowered"),
        ("keep: voltage_peak <= 0.9 * rated.voltage, guard: 1", "this guard is kinder"),
    ],
)
def test_what_is_called_tightening_and_is_none_is_refused(bench: Bench, body: str, what: str) -> None:
    bench.put("rules/house.yaml", house("house", f"tighten:\n  bulk-capacitor-voltage: {{{body}}}\n"))
    bench.put(LAMP, DESIGN + f"packs: [{', '.join(SHIPPED)}, house]\n")
    told = bench.run()
    assert told.status == 2 and what in told.err, told.err


def test_what_is_relaxed_and_switched_off_is_told_with_both_limits_and_the_reason(bench: Bench) -> None:
    body = RELAXED + "switch_off:\n  fuse-standard-known: {reason: one drawer}\n"
    bench.put("rules/house.yaml", house("house", body, "commercial-practice, mains-fusing"))
    bench.put(LAMP, DESIGN + f"packs: [{', '.join(SHIPPED)}, house]\n")
    told = bench.run()
    relaxed = next(line for line in told.softer if line.startswith("relaxed (house): bulk-capacitor-voltage: "))
    assert "voltage_peak <= 2 * rated.voltage" in relaxed and " in place of voltage_peak <= " in relaxed
    assert relaxed.endswith(": we always did")
    off = next(line for line in told.softer if line.startswith("switched off (house): fuse-standard-known: "))
    assert "not asked in place of " in off and off.endswith(": one drawer")


def test_a_remembered_limit_made_sure_is_told(bench: Bench) -> None:
    """Nothing of the comparison moves, and yet a limit that was to be confirmed no longer is."""
    text = shipped_text("commercial-practice")
    own = text.replace("confidence: remembered", "confidence: published", 1)
    assert own != text
    from derate.packs.load import load_packs

    rule = next(
        one for one in load_packs(list(SHIPPED)).rules if one.confidence == "remembered" and one.pack != SHIPPED[2]
    )
    bench.put(
        "rules/house.yaml",
        house("house", f"tighten:\n  {rule.name}: {{confidence: published, source: a book}}\n", rule.pack),
    )
    bench.put(LAMP, DESIGN + f"packs: [{', '.join(SHIPPED)}, house]\n")
    (line,) = bench.run().softer
    assert line.startswith(f"tightened (house): {rule.name}: ") and "(published) in place of" in line
    assert "(remembered)" in line


def test_a_restated_table_is_told_with_its_figures(bench: Bench) -> None:
    table = (
        shipped_text("mains-fusing")
        .split("  fuse_share:\n")[1]
        .split("\nassumptions:")[0]
        .split("\n  fuse_")[0]
        .split("\nrules:")[0]
    )
    assert "cells:" in table
    own = table.replace("0.75", "0.95", 1)
    assert own != table
    bench.put(
        "rules/house.yaml",
        house(
            "house", f"restate:\n  table.fuse_share:\n{own}\n".replace("fuse_continuous", "our bench"), "mains-fusing"
        ),
    )
    bench.put(LAMP, DESIGN + f"packs: [{', '.join(SHIPPED)}, house]\n")
    told = bench.run()
    assert any(
        line.startswith("table (house): fuse_share: 0.95") and "in place of 0.75" in line for line in told.softer
    ), told
