"""Derating profiles: every row tried, the check values of their documents, no row never a pass."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from derate.cli.main import main
from derate.judge.trials import run_trial
from derate.packs.load import Packs, load_packs, profile_names, shipped
from derate.packs.trial import read_trials
from derate.report.profiles import profile_lines, profile_words
from derate.study.work import Workshop, review_of

ROOT = Path(__file__).parents[2]
SOUND = str(ROOT / "designs/greenhouse-vent/greenhouse-vent.derate.yaml")
NAMES = profile_names()
READ = {"profile-space-agency", "profile-pc-supply"}
PAGE = (ROOT / "docs" / "profiles.md").read_text(encoding="utf-8")


@cache
def packs_of(name: str) -> Packs:
    return load_packs([name])


def path_of(name: str) -> Path:
    return shipped("rules") / "profiles" / f"{name}.yaml"


def got(name: str, rule: str, facts: str) -> str:
    """What a rule of a profile comes to on one part with these facts."""
    (found,) = all_got(name, rule, [facts])
    return found


def all_got(name: str, rule: str, facts: list[str]) -> list[str]:
    """The same of several parts."""
    text = path_of(name).read_text(encoding="utf-8").split("\n---\n")[0]
    written = "".join(f"    - {{{one}, expect: pass}}\n" for one in facts)
    trials = read_trials(f"{text}\n---\ntrials:\n  {rule}:\n{written}", str(path_of(name)), packs_of(name)).rules
    return [run_trial(trial, packs_of(name)).got for trial in trials]


def test_all_eight_are_there() -> None:
    assert len(NAMES) == 8
    for name in NAMES:
        base = re.sub("-(one|two|three)$", "-one", name)
        assert f"`{base}`" in PAGE or f"`{name}`" in PAGE


@pytest.mark.parametrize("name", NAMES)
def test_every_row_is_tried_both_ways(name: str) -> None:
    """Every rule of a profile has trials that pass, that fail and that lack a fact, and all come out as written."""
    packs = packs_of(name)
    trials = read_trials(path_of(name).read_text(encoding="utf-8"), str(path_of(name)), packs).rules
    own = [rule for rule in packs.rules if rule.pack == name]
    assert len(own) > 10
    seen: dict[str, set[str]] = {rule.name: set() for rule in own}
    for trial in trials:
        result = run_trial(trial, packs)
        assert result.got == result.expected, result
        seen[result.rule].add(result.expected)
    for rule, verdicts in seen.items():
        wanted = {"pass", "fail", "not assessed"}
        if rule.endswith("-has-a-row"):
            wanted = {"pass", "not assessed"}
        elif rule == "pc-safety-capacitor":
            wanted = {"not assessed", "not applicable"}
        assert wanted <= verdicts, (rule, verdicts)


@pytest.mark.parametrize("name", NAMES)
def test_second_hand_rows_say_so(name: str) -> None:
    """A row that was read is published; one from a transcription or a typed table is one source, and says it."""
    packs = packs_of(name)
    for rule in packs.rules:
        if rule.pack == name:
            assert rule.confidence == ("published" if name in READ else "one source")
            assert rule.severity == "major" and rule.hazard == "overstress"
            told = "read" if name in READ else ("as typed out" if "reliability" in name else "as transcribed")
            assert told in rule.source, rule.source


@pytest.mark.parametrize("name", NAMES)
def test_the_list_of_rules_says_which_rows_were_read(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Document and table of each, and second-hand where nobody read the document itself."""
    assert main(["rules", "--pack", name]) == 0
    told = [line for line in capsys.readouterr().out.splitlines() if f"  {name}  " in line]
    own = sorted((rule for rule in packs_of(name).rules if rule.pack == name), key=lambda rule: rule.name)
    assert len(told) == len(own)
    for line, rule in zip(told, own, strict=True):
        assert line.endswith(f"{rule.source})") and ("(second-hand; " in line) == (name not in READ), line


# Pack, rule, facts, the figure at the limit and one just over it; document and table stand beside each.
CHECKS = yaml.safe_load((Path(__file__).parent / "profile_checks.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("one", CHECKS, ids=lambda one: f"{one['rule']} {one['holds']}")
def test_check_values(one: dict[str, str]) -> None:
    name = f"profile-{one['pack']}"
    assert got(name, one["rule"], one["facts"].format(one["holds"])) == "pass"
    assert got(name, one["rule"], one["facts"].format(one["over"])) == "fail"


# ---- every row of every table ----------------------------------------------------------------------------------------


@cache
def written(name: str) -> dict[str, Any]:
    """A profile as its file has it."""
    return next(yaml.safe_load_all(path_of(name).read_text(encoding="utf-8")))  # type: ignore[no-any-return]


def number(text: object) -> float:
    return float(str(text).split()[0])


def points(table: dict[str, Any]) -> list[tuple[str, float]]:
    """Where each cell of a table stands on its one axis, with its figure; of a line also half way to the next."""
    ((_, axis),) = table["axes"].items()
    at, cells = [number(one) for one in axis], [number(one) for one in table["cells"]]
    unit = str(axis[0]).split()[1]
    if table.get("kind") == "band":
        return [(f"{(low + high) / 2:.6g} {unit}", cell) for low, high, cell in zip(at, at[1:], cells, strict=False)]
    halves = [(low + high) / 2 for low, high in zip(at, at[1:], strict=False)]
    between = [(one + two) / 2 for one, two in zip(cells, cells[1:], strict=False)]
    return [(f"{one:.8g} {unit}", cell) for one, cell in zip([*at, *halves], [*cells, *between], strict=True)]


# What a rule compares with a cell of a table: the unit of the stress, and the rating that it is a share of.
SHARES = {
    "rated.power": ("W", "2 W", 2.0),
    "rated.voltage": ("V", "50 V", 50.0),
    "rated.current": ("A", "1 A", 1.0),
}
BY_THEMSELVES = (
    "pc-safety-capacitor",
    "agency-fuse-current",
    "agency-established-resistor-power",
    "agency-unstated-resistor-power",
)
TABLED = [
    (name, rule["rule"], found[1])
    for name in NAMES
    for rule in written(name)["rules"]
    if (found := re.search(r"table\.(\w+)", str(rule.get("keep", "")))) and not rule["rule"].endswith("-has-a-row")
    if rule["rule"] not in BY_THEMSELVES
]


@pytest.mark.parametrize(("name", "rule", "table"), TABLED, ids=lambda one: one)
def test_every_row_of_every_table_decides(name: str, rule: str, table: str) -> None:
    """At each of its points, of each kind of part: the figure of the cell holds, a thousandth more does not."""
    own = next(one for one in written(name)["rules"] if one["rule"] == rule)
    stress, _, limit = own["keep"].partition(" <= ")
    rating = limit.partition(" * ")[2]
    unit, rated, times = SHARES[rating] if rating else ("degC", "", 1.0)
    ((axis, _),) = written(name)["tables"][table]["axes"].items()
    place = own["applies"].get("part.place")
    where = f"part.place: {place[0] if isinstance(place, list) else 'bulk capacitor'}, " if place else ""
    for kind in own["applies"]["part.kind"]:
        for at, cell in points(written(name)["tables"][table]):
            facts = f"part.kind: {kind}, {where}{f'{rating}: {rated}, ' if rating else ''}{axis}: {at}, {stress}: "
            most = cell * times
            assert got(name, rule, f"{facts}{most:.9g} {unit}") == "pass", (kind, at, most)
            assert got(name, rule, f"{facts}{most + 0.001 * max(most, 1.0):.9g} {unit}") == "fail", (kind, at, most)


@pytest.mark.parametrize("heat", [0, 50, 100])
def test_every_row_of_the_fuse_table_decides(heat: int) -> None:
    """Each rating at a cool body, half way and at 125 degC: 0.2 % of the rating less for each kelvin above 25."""
    tables = written("profile-space-agency")["tables"]
    for at, cell in points(tables["agency_fuse_share"]):
        most = (cell - 0.002 * heat) * number(at)
        facts = f"part.kind: fuse, rated.current: {at}, case_temperature: {25 + heat} degC, current_rms: "
        assert got("profile-space-agency", "agency-fuse-current", f"{facts}{most * 0.999:.9g} A") == "pass", at
        assert got("profile-space-agency", "agency-fuse-current", f"{facts}{most * 1.001:.9g} A") == "fail", at


@pytest.mark.parametrize(("coefficient", "end"), [("-200 ppm/K", 103), ("±100 ppm/K", 118), ("+300 ppm/K", 103)])
def test_every_row_of_established_resistors_decides(coefficient: str, end: int) -> None:
    """60 % up to 70 degC, half of that half way to its end, and nothing there: EEE-INST-002 R2 table 4."""
    rule = "agency-established-resistor-power"
    given = f"part.temperature_coefficient: {coefficient}, rated.power: 1 W, air_temperature: "
    for air, share in ((-10.0, 0.6), (70.0, 0.6), ((70.0 + end) / 2.0, 0.3), (end - 0.4, 0.6 * 0.4 / (end - 70.0))):
        facts = [f"{given}{air} degC, power: {share * by} W" for by in (0.999, 1.001)]
        assert all_got("profile-space-agency", rule, facts) == ["pass", "fail"], (air, share)


def test_a_resistor_of_no_known_technology_is_held_to_the_strictest_line() -> None:
    """The lower of 0.5 to 112.5 degC and 0.6 to 103 degC, from 70 degC on: they cross at 83.7 degC."""
    given = "part.technology: unknown, rated.power: 1 W, air_temperature: "
    for air in (20.0, 70.0, 80.0, 83.0, 85.0, 95.0, 102.0):
        up = max(air - 70.0, 0.0)
        most = min(0.5 * (1.0 - up / 42.5), 0.6 * (1.0 - up / 33.0))
        facts = [f"{given}{air} degC, power: {most * by} W" for by in (0.999, 1.001)]
        assert all_got("profile-space-agency", "agency-unstated-resistor-power", facts) == ["pass", "fail"], air


POWER_RULES = {
    "space-agency": tuple(f"agency-{one}-resistor-power" for one in ("film", "established", "unstated")),
    "european-space": ("space-film-resistor-power", "space-chip-resistor-power"),
}


@pytest.mark.parametrize("pack", POWER_RULES)
def test_deleting_a_technology_betters_nothing(pack: str) -> None:
    """Whatever it is made as: where it does not hold with its technology stated, it does not without it either; and
    one rule always speaks. Established reliability goes by its coefficient, and comes up to 350 ppm/K."""
    rated = "rated.power: 1 W"
    wholes = [
        (made, f"part.temperature_coefficient: ±{share} ppm/K, {rated}, air_temperature: {air} degC, power: {power} W")
        for made in ("leaded", "chip", "established reliability")
        for share in (50, 350)
        for air in (20, 72, 80, 88, 95, 102, 110, 116)
        for power in (0.02, 0.1, 0.25, 0.35, 0.52, 0.61)
    ]

    def held(facts: list[str]) -> list[bool]:
        columns = [all_got(f"profile-{pack}", rule, facts) for rule in POWER_RULES[pack]]
        rows = [[one for one in row if one != "not applicable"] for row in zip(*columns, strict=True)]
        assert all(len(row) == 1 for row in rows)
        return [row == ["pass"] for row in rows]

    stated = held([f"part.kind: film resistor, part.technology: {made}, {rest}" for made, rest in wholes])
    silent = held([f"part.kind: film resistor, part.technology: unknown, {rest}" for _, rest in wholes])
    assert True in stated and False in stated and True in silent and stated != silent
    for whole, with_it, without in zip(wholes, stated, silent, strict=True):
        assert with_it or not without, whole


def test_a_fuse_of_no_known_technology_has_no_row_in_the_european_standard() -> None:
    """Its row is of cermet alone; a technology that nobody stated passes nothing by."""
    for made in ("unknown", "wire"):
        facts = f"part.kind: fuse, part.technology: {made}, rated.current: 1 A, "
        facts += "case_temperature: 40 degC, current_rms: 0.1 A"
        told = [got("profile-european-space", rule, facts) for rule in ("space-fuse-has-a-row", "space-fuse-current")]
        assert told == ["not assessed", "not assessed" if made == "unknown" else "not applicable"]


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_with_a_row_has_a_rule(name: str) -> None:
    """What has a row by the profile's own table is asked something by name, and nothing else is."""
    tables = written(name)["tables"]
    ((_, kinds),) = next(one for key, one in tables.items() if key.endswith("_profile"))["axes"].items()
    asked = {
        kind
        for rule in written(name)["rules"]
        if rule["rule"] != "pc-safety-capacitor" and rule.get("about") != "part"
        for kind in (rule.get("applies") or {}).get("part.kind", ())
    }
    rows = [rule for rule in written(name)["rules"] if rule["rule"].endswith("-has-a-row")]
    apart = {kind for row in rows[1:] for kind in row["applies"]["part.kind"]}  # by their technology: fuses
    assert asked - {"any resistor"} - apart == set(kinds)  # a resistor's voltage is one row for all of them
    row = rows[0]["rule"]
    assert all(got(name, row, f"part.kind: {kind}") == "not applicable" for kind in apart)
    for kind in kinds:
        assert got(name, row, f"part.kind: {kind}") == "pass", kind


# Parts that the documents have no row for.
WITHOUT = (
    ("space-agency", ("electrolytic capacitor", "optocoupler", "varistor")),
    ("european-space", ("electrolytic capacitor", "ceramic capacitor", "film capacitor", "varistor")),
    ("military-grade-one", ("electrolytic capacitor", "fuse", "optocoupler")),
    ("military-grade-two", ("electrolytic capacitor", "fuse", "optocoupler")),
    ("military-grade-three", ("fuse", "optocoupler")),
    ("reliability-severe", ("MOSFET", "controller", "film resistor")),
    ("reliability-benign", ("bipolar transistor", "controller", "film resistor")),
    ("pc-supply", ("fuse", "varistor", "zener diode", "suppressor diode")),
)


@pytest.mark.parametrize(("pack", "kinds"), WITHOUT)
def test_no_row_is_never_a_pass(pack: str, kinds: tuple[str, ...]) -> None:
    name = f"profile-{pack}"
    rule = next(one.name for one in packs_of(name).rules if one.pack == name and one.name.endswith("-has-a-row"))
    for kind in kinds:
        assert got(name, rule, f"part.kind: {kind}") == "not assessed"
        for own in packs_of(name).rules:
            words = [word for one in own.applies if one.name == "part.kind" for word in one.words]
            assert own.pack != name or kind not in words, (own.name, kind)


@pytest.mark.parametrize("pack", ["space-agency", "european-space", "military-grade-two"])
def test_a_gate_whose_drive_nobody_works_out_is_not_assessed(pack: str) -> None:
    """A MOSFET has a row, and its gate one of its own: with everything else known it is not passed over."""
    name = f"profile-{pack}"
    review = review_of(Workshop((name,)).work(SOUND), date(2026, 11, 25))
    (gate,) = (one for one in review.findings if one.rule.endswith("-gate-voltage") and one.verdict != "not applicable")
    assert gate.verdict == "not assessed" and gate.blocks and str(gate.subject) == "Q1"


def test_safety_capacitors_have_no_row_in_the_guide_for_pc_supplies() -> None:
    for place in ("mains shunt", "bridging", "dropping capacitor"):
        facts = f"part.kind: film capacitor, part.place: {place}, rated.voltage: 275 V, voltage_peak: 100 V"
        assert got("profile-pc-supply", "pc-safety-capacitor", facts) == "not assessed"
        assert got("profile-pc-supply", "pc-capacitor-peak-voltage", facts) == "not applicable"


def test_several_stand_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    """One line each, with the worst word, and the parts without a row by name; the parts are those of the design."""
    arguments = [word for name in NAMES for word in ("--pack", name)]
    assert main(["lint", SOUND, *arguments, "--today", "2026-11-25"]) == 1
    told = [line for line in capsys.readouterr().out.splitlines() if re.search(r": profile-[a-z-]+: ", line)]
    assert sorted(re.search(r"profile-[a-z-]+", line)[0] for line in told) == sorted(NAMES)  # type: ignore[index]
    (space,) = (line for line in told if "profile-european-space" in line)
    assert "this profile has no row: C1, C2, L1" in space and "C4" in space.rpartition("no row:")[2]
    for line in told:
        assert re.search(r": (fail|not assessed) \(", line), line


def test_a_profile_changes_no_verdict_of_the_others() -> None:
    """Beside the packs it builds on, what those say of the same parts stays as it was; and it is known as shipped."""
    day = date(2026, 11, 25)
    plain = review_of(Workshop(("commercial-practice",)).work(SOUND), day)
    both = review_of(Workshop(("commercial-practice", "profile-pc-supply")).work(SOUND), day)
    mine = {(one.rule, one.subject, one.verdict) for one in both.findings if not one.pack.startswith("profile-")}
    before = {(one.rule, one.subject, one.verdict) for one in plain.findings}
    assert mine <= before
    assert {rule for rule, _, _ in before - mine} == {"rating-is-asked"}  # the profile asks a rating that nothing did
    head = next(one for one in packs_of("profile-pc-supply").heads if one.name == "profile-pc-supply")
    assert head.shipped
    assert list(profile_lines([plain])) == []


def test_a_part_without_a_row_keeps_a_profile_from_passing() -> None:
    review = review_of(Workshop(("profile-pc-supply",)).work(SOUND), date(2026, 11, 25))
    own = [one for one in review.findings if one.pack == "profile-pc-supply"]
    held = [one for one in own if one.verdict == "pass"]
    lacking = next(one for one in held if one.rule == "pc-has-a-row")._replace(verdict="not assessed")
    assert profile_words(held).startswith("pass (")
    told = profile_words([*held, lacking])
    assert told.startswith("not assessed (") and told.endswith(f"this profile has no row: {lacking.subject}")
    assert profile_words([lacking]).startswith("not assessed (nothing asked)")


def test_a_slip_in_the_name_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", SOUND, "--pack", "profile-pc-suply"]) == 2
    assert "write profile-pc-supply" in capsys.readouterr().err
