"""Ways in which signatures, a record or the choice of files could open the gate; and judging without any of it."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

import pytest
from gate_bench import DESIGN, LAMP, SHIPPED, Bench, holds, house

from derate.cli.shared import changed
from derate.judge.acknowledge import Contents, Limits, OpenPoint, acknowledgement
from derate.study.headroom import NextValues
from derate.study.work import Workshop, review_of

OWN = """\
pack: own
title: t
covers: c
rules:
  - {rule: breaks-enough, says: s, because: b, hazard: fire, severity: critical, applies: {part.kind: fuse},
     keep: rated.breaking_capacity >= 1500 A, source: s, confidence: common practice}
  - {rule: class-two, says: s, because: b, hazard: shock, severity: critical, about: supply,
     member: {supply.protection_class: [II]}, source: s, confidence: common practice}
  - {rule: capacitor-reserve, says: s, because: b, hazard: overstress, severity: critical,
     applies: {part.kind: electrolytic capacitor}, keep: rated.voltage >= 450 V, source: s, confidence: common practice}
"""
PACK = ("--pack", "own")
SIGNED = ("--reason", "an old design", "--by", "lead", "--last-day", "2027-06-30")
WAIVER = "{{rule: {rule}, part: {part}, up_to: 50, reason: bench fed, by: lead, last_day: {day}}}"


def waived(rule: str, part: str, day: str = "2027-06-30") -> str:
    """A design that signs for one fail."""
    return DESIGN + f"waivers: [{WAIVER.format(rule=rule, part=part, day=day)}]\n"


@pytest.fixture
def own(bench: Bench) -> Bench:
    """With a pack of three rules, of which the design fails that of fire and that of over-stress."""
    bench.put("rules/own.yaml", OWN)
    return bench


def signed(lines: list[str]) -> list[str]:
    """The lines of what somebody signed for."""
    return [line for line in lines if line.startswith(("waiver", "open point", "known", "setting"))]


# ---- waivers and open points


@pytest.mark.parametrize(
    ("day", "counts"),
    [("2027-11-26", True), ("2027-11-27", False), ("9999-12-31", False)],  # 366 days from 2026-11-25, and one more
)
def test_a_waiver_lasts_no_longer_than_a_year(own: Bench, day: str, counts: bool) -> None:
    own.put(LAMP, waived("capacitor-reserve", "C1", day))
    told = own.run(*PACK)
    assert (sum(": fail: C1" in line and "blocks)" in line for line in told.out.split("\n")) == 0) is counts
    assert ("its last day lies more than 366 days ahead, and 2027-11-26 is the latest now" in told.out) is not counts
    assert bool(signed(told.softer)) is counts


def test_the_root_may_say_less_and_more(own: Bench) -> None:
    own.put(LAMP, waived("capacitor-reserve", "C1"))
    own.put(".derate.yaml", "longest_days: 30\n")
    assert "more than 30 days ahead" in own.run(*PACK).out
    own.put(".derate.yaml", "longest_days: 4000\n")
    own.put(LAMP, waived("capacitor-reserve", "C1", "2030-01-01"))
    told = own.run(*PACK)
    assert signed(told.softer) == [
        "setting (.derate.yaml): longest_days: 4000 in place of 366",
        "waiver: capacitor-reserve on C1: fail, up to 50 times, until 2030-01-01 by lead: bench fed",
    ]


def test_an_open_point_until_the_end_of_days_counts_for_nothing(own: Bench) -> None:
    text = DESIGN.replace("protection_class: II", "protection_class: unknown")
    point = "open_points: [{{rule: class-two, supply: supply, reason: x, by: me, last_day: {day}}}]\n"
    own.put(LAMP, text + point.format(day="9999-12-31"))
    assert "(rule class-two, critical, blocks)" in own.run(*PACK, "--verbose").out
    own.put(LAMP, text + point.format(day="2027-01-31"))
    told = own.run(*PACK, "--verbose")
    assert "(rule class-two, critical)" in told.out
    assert signed(told.softer) == [
        "open point: class-two on supply: critical shock not assessed, until 2027-01-31 by me: x"
    ]


def test_no_open_point_covers_what_packs_are_in_use(own: Bench) -> None:
    own.put("rules/mains-fusing.yaml", holds("mains-fusing"))
    own.put(LAMP, DESIGN + "packs: [./rules/mains-fusing.yaml]\n")
    review = review_of(Workshop().work(LAMP), date(2026, 11, 25))
    gate = [one for one in review.findings if "-in-use-for-" in one.rule]
    assert len(gate) == 4 and all(one.blocks and one.of_gate for one in gate)
    for one in gate:
        point = OpenPoint(one.rule, "supply", "x", "me", date(2027, 1, 31), one.place)
        assert acknowledgement(one, [point], date(2026, 11, 25), Limits(10**6, ("fire", "shock"))) == (None, None)
        assert acknowledgement(one._replace(of_gate=False), [point], date(2026, 11, 25))[1] is point
    point = "{rule: mains-fusing-in-use-for-fire, supply: supply, reason: x, by: me, last_day: 2027-01-31}"
    own.put(LAMP, DESIGN + f"packs: [./rules/mains-fusing.yaml]\nopen_points: [{point}]\n")
    told = own.run()
    assert told.status == 2 and "'mains-fusing-in-use-for-fire' is no rule of any pack" in told.err


def test_what_is_signed_for_beside_a_rule_of_a_profile_is_no_slip(own: Bench) -> None:
    """The profile is named when it is asked for; the file that signs for one of its rules is linted without it, too."""
    point = "{{rule: {}, subject: C1, reason: x, by: me, last_day: 2027-01-31}}"
    own.put(LAMP, DESIGN + f"open_points: [{point.format('pc-capacitor-peak-voltage')}]\n")
    assert own.run().status < 2
    own.put(LAMP, DESIGN + f"open_points: [{point.format('pc-capacitor-peek-voltage')}]\n")
    told = own.run()
    assert told.status == 2 and "did you mean pc-capacitor-peak-voltage" in told.err


def test_a_critical_fail_of_fire_is_waived_only_where_the_root_says_so(own: Bench) -> None:
    own.put(LAMP, waived("breaks-enough", "F1"))
    told = own.run(*PACK)
    assert told.status == 1 and signed(told.softer) == []
    assert "is not used: a critical fail of fire is waived only where the settings at the root" in told.out
    own.put(".derate.yaml", "critical_waivers: [shock]\n")
    assert signed(own.run(*PACK).softer) == ["setting (.derate.yaml): critical_waivers: shock in place of none"]
    own.put(".derate.yaml", "critical_waivers: [fire]\n")
    assert signed(own.run(*PACK).softer) == [
        "setting (.derate.yaml): critical_waivers: fire in place of none",
        "waiver: breaks-enough on F1: critical fire fail, up to 50 times, until 2027-06-30 by lead: bench fed",
    ]
    assert not any(": fail: F1" in line and "blocks)" in line for line in own.run(*PACK).out.split("\n"))


# ---- known findings


def test_a_record_asks_what_a_waiver_asks(own: Bench) -> None:
    for lacking in range(3):
        argv = [one for at, one in enumerate(SIGNED) if at // 2 != lacking]
        told = own.run(*PACK, "--record", "known.json", *argv)
        assert told.status == 2 and SIGNED[2 * lacking] in told.err and not Path("known.json").exists()
    blank = own.run(*PACK, "--record", "known.json", "--reason", " ", *SIGNED[2:])
    assert blank.status == 2 and "--reason" in blank.err
    for day in ("2026-11-24", "2027-11-27"):
        told = own.run(*PACK, "--record", "known.json", *SIGNED[:4], "--last-day", day)
        assert told.status == 2 and "this record would hold nothing back" in told.err
        assert not Path("known.json").exists()


def recorded(own: Bench, *argv: str) -> None:
    """A record of what the lamp comes to today."""
    assert own.run(*PACK, "--record", "known.json", *SIGNED, *argv).status == 1


def test_it_holds_back_shortens_and_is_told_until_its_last_day(own: Bench) -> None:
    recorded(own)
    before = own.run(*PACK)
    told = own.run(*PACK, "--known", "known.json", day="2027-06-30")
    assert told.status == 0 and len(told.out) < len(before.out) and ": fail: " not in told.out
    held = "known findings: 2 held back by known.json: held back, 1 critical of fire"
    assert signed(told.softer) == [f"{held}, until 2027-06-30 by lead: an old design"]
    after = own.run(*PACK, "--known", "known.json", day="2027-07-01")
    assert after.status == 1 and signed(after.softer) == []
    assert (
        "known findings of known.json, signed for by lead, are not held back: their last day was 2027-06-30"
        in after.out
    )


def test_a_record_that_reaches_too_far_holds_nothing_back(own: Bench) -> None:
    recorded(own)
    data = json.loads(Path("known.json").read_text())
    own.put("known.json", json.dumps({**data, "last_day": "9999-12-31"}))
    told = own.run(*PACK, "--known", "known.json")
    assert told.status == 1 and "more than 366 days ahead" in told.out


def test_a_record_of_the_earlier_form_is_refused_with_what_to_do(own: Bench) -> None:
    own.put("known.json", json.dumps({"derate": 1, "known": {LAMP: {}}}))
    told = own.run(*PACK, "--known", "known.json")
    assert told.status == 2 and "gives no reason, no name and no last day" in told.err
    assert "--record FILE --reason TEXT --by NAME --last-day DAY" in told.err


def test_a_move_loses_nothing(own: Bench) -> None:
    recorded(own)
    own.put("boards/rev b/lamp.derate.yaml", "# moved, and every line is another\n" + DESIGN)
    Path(LAMP).unlink()
    assert own.run("boards/rev b/lamp.derate.yaml", *PACK, "--known", "known.json").status == 0
    assert own.run(".", *PACK, "--known", "known.json").status == 0


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("breaking_capacity: 35 A", "breaking_capacity: 30 A"),  # worse
        ("breaking_capacity: 35 A", "breaking_capacity: 10..5000 A"),  # another verdict
        ("name: Bench lamp adapter", "name: Another adapter"),  # another design
        ("F1", "F9"),  # another part
        ("protection_class: II", "protection_class: I"),  # a fail that was not there
    ],
)
def test_what_is_new_or_worse_stops(own: Bench, old: str, new: str) -> None:
    recorded(own)
    own.put(LAMP, DESIGN.replace(old, new))
    assert own.run(*PACK, "--known", "known.json").status == 1


def test_a_fail_without_a_figure_is_known_only_of_the_same_subject(own: Bench) -> None:
    own.put(LAMP, DESIGN.replace("protection_class: II", "protection_class: I"))
    recorded(own)
    assert own.run(*PACK, "--known", "known.json").status == 0
    own.put(LAMP, DESIGN.replace("protection_class: II", "protection_class: 0"))
    assert own.run(*PACK, "--known", "known.json").status in (1, 2)
    own.put(LAMP, DESIGN.replace("protection_class: II", "protection_class: I\n  connection: fixed cord"))
    assert own.run(*PACK, "--known", "known.json").status in (1, 2)


def test_a_record_tells_two_designs_apart_or_is_not_written(own: Bench) -> None:
    own.put("copy.derate.yaml", DESIGN)
    told = own.run(".", *PACK, "--record", "known.json", *SIGNED)
    assert told.status == 2 and "a record could not tell them apart" in told.err and not Path("known.json").exists()


def test_what_packs_are_in_use_is_never_known(bench: Bench) -> None:
    bench.put("rules/own.yaml", OWN)
    bench.put(LAMP, DESIGN + "packs: [own]\n")
    assert bench.run("--record", "known.json", *SIGNED).status == 1
    data = json.loads(Path("known.json").read_text())
    (marks,) = data["known"].values()
    assert marks and not any("-in-use-for-" in one for one in marks)
    work = Workshop().work(LAMP)
    one = next(each for each in review_of(work, date(2026, 11, 25)).findings if each.of_gate)
    content = Contents(work.ledger.entries).of(one.subject)
    for name, hazard in (("mains-fusing", "fire"), ("commercial-practice", "overstress")):  # written in by hand
        mark = f"{name}-in-use-for-{hazard} | supply"
        marks[mark] = {"verdict": "not assessed", "ratio": None, "missing": [], "content": content}
    bench.put("known.json", json.dumps(data))
    told = bench.run("--known", "known.json")
    assert told.status == 1 and "(rule mains-fusing-in-use-for-fire, critical, blocks)" in told.out


# ---- files


def test_a_named_design_hides_no_other_in_its_folder(own: Bench) -> None:
    own.put("other.yaml", DESIGN.replace("Bench lamp", "Other lamp"))
    own.put("deep/er/third.yml", DESIGN.replace("Bench lamp", "Third lamp"))
    own.put("services.yaml", "services: {derate: 1}\n")
    told = own.run(".", *PACK)
    for path in (LAMP, "other.yaml", "deep/er/third.yml"):
        assert f"{path}: overall fail" in told.out
    assert "services.yaml" not in told.out + told.err


def test_a_change_of_settings_or_packs_touches_every_design_under_it(own: Bench) -> None:
    for path in ("board/a.derate.yaml", "board/deep/b.yaml"):
        own.put(path, DESIGN)
    own.put("board/.derate.yaml", "stop_at: marginal\n")
    own.put(".derate.yaml", "stop_at: default\n")
    own.put("notes.yaml", "a: 1\n")
    own.put("packs/else.yaml", OWN)
    every = ("board/a.derate.yaml", "board/deep/b.yaml", LAMP)
    touched = {
        ".derate.yaml": every,
        "board/.derate.yaml": every[:2],
        "rules/own.yaml": every,
        "packs/else.yaml": every,
        "board/deep/b.yaml": every[1:2],
        "notes.yaml": (),
    }
    for path, designs in touched.items():
        assert changed([path]) == (designs, ()), path
    own.put("rules/own.yaml", "broken: [\n")
    assert changed(["rules/own.yaml"])[0] == every
    assert changed([LAMP, "rules/own.yaml", LAMP])[0] == every


# ---- without any of it, and in every form of output


def soft(bench: Bench) -> None:
    """Everything at once: level, packs, waivers, a record."""
    bench.put("rules/house.yaml", house("house", "relax:\n  bulk-capacitor-voltage: {keep: voltage_peak <= 2 * "
                                                 "rated.voltage, reason: we always did}\n"))  # fmt: skip
    bench.put(".derate.yaml", "packs: [house]\nstop_at: fail\nlongest_days: 3000\ncritical_waivers: [fire, shock]\n")
    bench.put(LAMP, waived("fuse-breaking-capacity", "F1", "2030-01-01"))


def test_the_shipped_gate_takes_nothing_of_the_tree(bench: Bench) -> None:
    clean = bench.run()
    soft(bench)
    assert bench.run().softer
    told = bench.run("--shipped-gate")
    assert told.status == 1 and told.softer == [] and "house" not in told.out and "level: default" in told.out
    assert told.out == clean.out
    bench.put(".derate.yaml", "broken: [\n")
    bench.put("rules/mains-fusing.yaml", "broken: [\n")
    assert bench.run("--shipped-gate").out == clean.out


@pytest.mark.parametrize("argv", [PACK, ("--stop-at", "fail"), ("--known", "known.json")])
def test_and_goes_with_nothing_that_softens(bench: Bench, argv: tuple[str, ...]) -> None:
    told = bench.run("--shipped-gate", *argv)
    assert told.status == 2 and f"--shipped-gate and {argv[0]} do not go together" in told.err


def test_every_form_of_report_says_it_at_the_top(bench: Bench) -> None:
    soft(bench)
    words = "The gate here is softer than the shipped one"
    lines = bench.run().softer
    assert len(lines) >= 4
    sarif = json.loads(bench.run("--format", "sarif", command="report").out)["runs"][0]
    told = [one["message"]["text"] for one in sarif["invocations"][0]["toolConfigurationNotifications"]]
    assert told == [f"{words}: {line}" for line in lines]
    assert len(sarif["properties"]["gate"]["softer"]) == len(lines)
    assert {one["name"] for one in sarif["properties"]["gate"]["packs"] if not one["shipped"]} == {"house"}
    suite = ElementTree.fromstring(bench.run("--format", "junit", command="report").out.encode())[0]
    properties = [(one.get("name") or "", one.get("value") or "") for one in suite.iter("property")]
    assert [text for name, text in properties[: len(lines)]] == told
    assert any(name == "gate" and "house (house pack, rules/house.yaml, " in text for name, text in properties)
    markdown = bench.run("--format", "markdown", command="report").out
    assert markdown.index(f"**{words}**") < markdown.index("| hazard | word")
    page = bench.run("--format", "html", command="report").out
    assert page.index(words) < page.index('<table class="hazards">') and "house pack, rules/house.yaml" in page
    people = bench.run("--colour", "always").out
    assert people.index(words) < people.index("findings blocking") if "findings blocking" in people else words in people


def test_and_none_of_them_where_it_is_not(bench: Bench) -> None:
    for form in ("sarif", "junit", "markdown", "html"):
        out = bench.run("--format", form, command="report").out
        assert "softer than the shipped" not in out and "commercial-practice" in out


# ---- commands that work figures out: what they were worked out by

FIGURES = ("stress", "faults", "insulation")


def soft_packs(bench: Bench) -> None:
    """The same with the other packs in use, since there is nothing to print of insulation without one."""
    soft(bench)
    packs = ", ".join(("house", *SHIPPED[1:]))
    bench.put(".derate.yaml", f"packs: [{packs}]\nstop_at: fail\ncritical_waivers: [fire, shock]\n")


@pytest.mark.parametrize("command", FIGURES)
def test_the_gate_stands_in_every_json(bench: Bench, command: str) -> None:
    plain = json.loads(bench.run("--format", "json", command=command).out)["gate"]
    assert plain == json.loads(bench.run("--format", "json").out)["designs"][0]["gate"]
    assert all(one["shipped"] and len(one["sha256"]) == 64 for one in plain["packs"]) and plain["softer"] == []
    soft_packs(bench)
    told = bench.run("--format", "json", command=command)
    gate = json.loads(told.out)["gate"]
    assert [one["name"] for one in gate["packs"] if not one["shipped"]] == ["house"]
    assert {one["kind"] for one in gate["softer"]} >= {"relaxed"} and "softer: relaxed" in told.err


@pytest.mark.parametrize("command", (*FIGURES, "missing", "headroom"))
def test_every_text_names_what_it_was_worked_out_by(
    bench: Bench, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the foot where it is the shipped gate, at the top where it is softer, once in either case."""
    for name in ("headroom", "cures"):  # dozens of ways through the design, of which this asks nothing
        monkeypatch.setattr(f"derate.study.headroom.{name}", lambda bench: ())
    monkeypatch.setattr("derate.study.headroom.next_values", lambda bench: NextValues())
    lines = bench.run(command=command).out.rstrip("\n").split("\n")
    said = [line for line in lines if "; level: default; rule packs: " in line]
    assert said == [lines[-1]] and all(f"{name} (shipped, " in said[0] for name in SHIPPED)
    soft_packs(bench)
    lines = bench.run(command=command).out.split("\n")
    assert lines[0].endswith(": The gate here is softer than the shipped one:")
    said = [number for number, line in enumerate(lines) if "; rule packs: " in line]
    assert len(said) == 1 and all(": softer: " in line for line in lines[1 : said[0]])
    assert "house (house pack, rules/house.yaml, " in lines[said[0]]


def test_every_row_of_the_csv_says_it_too(bench: Bench) -> None:
    rows = list(csv.DictReader(io.StringIO(bench.run("--format", "csv", command="report").out)))
    assert {row["gate"] for row in rows} == {"level default; as shipped"}
    (packs,) = {row["packs"] for row in rows}
    assert {*SHIPPED} <= {one.split()[0] for one in packs.split("; ")} and "house" not in packs
    soft_packs(bench)
    rows = list(csv.DictReader(io.StringIO(bench.run("--format", "csv", command="report").out)))
    (gate,), (packs,) = {row["gate"] for row in rows}, {row["packs"] for row in rows}
    assert gate.startswith("level fail (.derate.yaml); softer than shipped: level (1)") and "relaxed (1)" in gate
    assert re.search(r"house [0-9a-f]{12} house\b", packs)


def test_a_comparison_names_both_gates_or_the_one(bench: Bench) -> None:
    bench.put("other.derate.yaml", DESIGN.replace("Bench lamp", "Other lamp").replace("22 uF", "33 uF"))
    lines = bench.run(LAMP, "other.derate.yaml", command="compare").out.split("\n")
    assert sum("; rule packs: " in line for line in lines) == 1
    bench.put("other.derate.yaml", "packs: [commercial-practice]\n" + DESIGN.replace("Bench lamp", "Other lamp"))
    lines = bench.run(LAMP, "other.derate.yaml", command="compare").out.split("\n")
    assert sum("; rule packs: " in line for line in lines) == 2 and any("pack left out" in line for line in lines)
