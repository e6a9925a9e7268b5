"""What to find out next: the first of the list held to brute force, and every stated threshold entered and tried.

From the demonstration supply that is poorly documented twelve facts more are taken away. Then every one of them is
given back alone, by its own text, and the critical verdicts that come of it are counted.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from derate.design.facts import facts as given_facts
from derate.design.load import read_design
from derate.judge.review import most_wanted
from derate.ledger.entry import SUPPLY, Subject
from derate.ledger.recorded import RecordingLedger
from derate.packs.load import Packs
from derate.study.missing import LEADING, MissingFact, as_the_file_has_them, assumed_facts, missing_facts, settled
from derate.study.new import Answers, checked, new_design
from derate.study.paste import SLOT, lines_for
from derate.study.trying import Bench, shaped
from derate.study.work import Work, Workshop, review_of, worked
from derate.terms.values import Category, ReadingError, Value
from derate.terms.vocabulary import VOCABULARY

LAMP = Path(__file__).parents[2] / "designs" / "market-stall-lamp" / "market-stall-lamp.derate.yaml"
TEXT = LAMP.read_text(encoding="utf-8")
DAY = date(2026, 11, 25)
# fact -> what stands in the file, and the file without it
REMOVED = {
    "plate.current": (", current: 2 A}}, marks", "}}, marks"),
    "supply.protection_class": ("  protection_class: II (marked; double square too small)\n", ""),
    "supply.parts_list": ("  parts_list: complete\n", ""),
    "plate.mains": ("mains: 100..240 V, frequency: 50..60 Hz", "mains: unknown, frequency: 50..60 Hz"),
    "site.pollution_degree": (" pollution_degree: 2,", ""),
    "site.overvoltage_category": (", overvoltage_category: II", ""),
    "site.ambient": ("ambient: 0..40 degC, ", ""),
    "rated.voltage of C1": ("rated: {voltage: 400 V (marked), temperature", "rated: {temperature"),
    "rated.voltage of C4": (", rated: {voltage: 10 V (marked)}", ""),
    "circuit.clamp": ("  clamp: none\n", ""),
    "part.class of C9": ("class: unmarked, marking: 102", "marking: 102"),
    "found.clearance of the blob": ("clearance: under 0.4 mm", "clearance: unknown"),
}


@cache
def packs() -> Packs:
    return Workshop().work(str(LAMP)).packs


def bench_of(text: str) -> Bench:
    design = read_design(text, str(LAMP))
    whole = Workshop().work(str(LAMP))
    return Bench(Work(design, whole.settings, packs(), worked(design, packs()), whole.required), DAY)


def without(kept: str = "") -> str:
    text = TEXT
    for name, (stands, instead) in REMOVED.items():
        assert text.count(stands) == 1, name
        if name != kept:
            text = text.replace(stands, instead)
    return text


@cache
def poor() -> tuple[Bench, tuple[MissingFact, ...]]:
    bench = bench_of(without())
    return bench, missing_facts(bench)


@cache
def as_shipped() -> tuple[Bench, tuple[MissingFact, ...]]:
    bench = bench_of(TEXT)
    return bench, missing_facts(bench)


def critical_settled(bench: Bench, other: Bench) -> int:
    """Critical verdicts that were open on one bench and are given on another."""
    return sum(one.severity == "critical" for one in settled(bench, other.base))


def test_twelve_facts_are_missing_and_listed() -> None:
    _, facts = poor()
    assert len(REMOVED) == 12
    named = {fact.name for fact in facts}
    assert {"plate.current", "supply.protection_class", "plate.mains", "rated.voltage", "circuit.clamp"} <= named


def test_the_first_settles_as_many_critical_verdicts_as_any_other_by_brute_force() -> None:
    bench, facts = poor()
    first = facts[0]
    counts = {name: critical_settled(bench, bench_of(without(name))) for name in REMOVED}
    own = [name for name in REMOVED if name.split(" of ")[0] == first.name]
    entered = max(counts[name] for name in own) if own else first.settled("critical")
    assert entered >= max(counts.values()), (first.text, entered, counts)
    assert max(counts.values()) >= 1


def test_the_order_is_by_what_is_settled() -> None:
    """Behind the few that lint names first, which stand in its order: both lists begin alike."""
    bench, facts = poor()
    leads = [text for text, _ in most_wanted(bench.base.review.findings)[:LEADING]]
    assert len(leads) == LEADING and [fact.text for fact in facts[:LEADING]] == leads
    facts = facts[LEADING:]
    ranks = [
        (
            -sum(one.severity == "critical" and one.hazard in ("fire", "shock") for one in fact.settles),
            *(-fact.settled(word) for word in ("critical", "major", "minor")),
        )
        for fact in facts
    ]
    assert ranks == sorted(ranks)


def test_every_threshold_holds_when_it_is_entered() -> None:
    bench, facts = poor()
    stated = [fact for fact in facts if fact.threshold is not None]
    for fact in [*stated, *(one for one in as_shipped()[1] if one.threshold is not None)]:
        assert fact.subject is not None and fact.threshold is not None and fact.kind is not None
        own = bench if fact in stated else as_shipped()[0]
        term = VOCABULARY[fact.name]
        at_kind = own.tried({(fact.subject, fact.name): fact.kind}).verdicts()
        keys = [(one.rule, one.pack, one.subject) for one in fact.settles]
        passing = [key for key in keys if key in at_kind and at_kind[key].verdict == "pass"]
        assert passing, fact.text
        entered = own.tried({(fact.subject, fact.name): shaped(term, fact.threshold.number)}).verdicts()
        assert all(entered[key].verdict == "pass" for key in passing), fact.text
        beyond = fact.threshold.number * (1.03 if fact.threshold.down else 0.97)
        short = own.tried({(fact.subject, fact.name): shaped(term, beyond)}).verdicts()
        assert any(short[key].verdict != "pass" for key in passing), fact.text


def test_thresholds_are_stated_for_some() -> None:
    assert any(fact.threshold is not None for fact in as_shipped()[1])


def test_entering_what_settles_nothing_settles_nothing() -> None:
    bench, facts = poor()
    for fact in [one for one in facts if not one.settles and one.subject is not None and one.kind is not None][:4]:
        assert fact.subject is not None and fact.kind is not None
        assert not settled(bench, bench.tried({(fact.subject, fact.name): fact.kind}))


def test_assumed_facts_are_ranked_by_the_verdicts_that_depend_on_them() -> None:
    bench, _ = poor()
    assumed = assumed_facts(as_shipped()[0])
    assert assumed and [len(one.differ) for one in assumed] == sorted(
        (len(one.differ) for one in assumed), reverse=True
    )
    named = {one.name for one in assumed}
    assert "efficiency" in named or "site.inside_rise" in named
    assert bench.runs < 1000


def test_what_is_assumed_of_every_transformer_is_tried_like_the_rest() -> None:
    """It is of a transformer without a name: entered by itself it once stopped the whole list."""
    console = Path(__file__).parents[1] / "data" / "designs" / "scale-console-45W.derate.yaml"
    assumed = assumed_facts(Bench(Workshop().work(str(console)), DAY))
    nameless = [one for one in assumed if one.name == "winding_capacitance"]
    assert nameless and nameless[0].subject is not None and not nameless[0].subject.names


@pytest.mark.parametrize("name", ["rated.voltage", "found.creepage", "rated.surge_current", "winding.turns"])
def test_a_number_is_given_the_form_its_term_asks(name: str) -> None:
    value = shaped(VOCABULARY[name], 3.0)
    number = value.near if isinstance(value, Value) else value.points[0][1].near  # type: ignore[union-attr]
    assert number == 3.0


# ---- the first ten, and the lines to paste


FIRST_LOOK = Path(__file__).parents[2] / "designs" / "first-look" / "desk-lamp-adapter.derate.yaml"


def test_the_first_ten_are_tried_and_the_rest_is_only_counted() -> None:
    bench = bench_of(TEXT)
    facts = missing_facts(bench, thresholds=False, first=10)
    assert bench.runs <= 10 * 4 and len(facts) > 40
    assert all(fact.kind is None and fact.threshold is None for fact in facts[10:])
    assert facts[0].settles and not any(fact.threshold for fact in facts)


def test_what_nobody_described_is_asked_for_with_its_lines() -> None:
    whole = Workshop().work(str(FIRST_LOOK))
    facts = missing_facts(Bench(whole, DAY), thresholds=False, first=10)
    asked = {fact.text: "\n".join(fact.paste) for fact in facts[:10]}
    place = asked["no place where primary and secondary come near each other is described"]
    assert "between: [primary, secondary]" in place and "creepage: …" in place
    assert "between: [line, neutral]" in asked["no barrier between line and neutral ahead of the fuse is described"]
    assert "from_core_outwards: […]" in asked["no transformer is described"]


def filled(lines: tuple[str, ...]) -> str:
    """The lines with the example of each put in the place of its slot."""
    made = []
    for line in lines:
        if "…" in line:
            head, _, such = line.partition("  # such as ")
            assert such and "…" in head, line
            line = head.replace("…", such.split(", or ")[0])
        made.append(line)
    return "\n".join(made) + "\n"


BASE = """derate: 1
supply: {name: t, plate: {mains: 230 V, outputs: {main: {voltage: 12 V, current: 1 A}}}}
parts: {F1: fuse 1 A 250 V, BR1: bridge rectifier 600 V 1 A, C1: electrolytic capacitor 22 uF 20% 400 V}
circuit: {line: [F1, BR1, across C1]}
"""
PART, PLACE = Subject("part", ("C1",)), Subject("barrier", ("under T1",))


def read(text: str) -> Any:
    """A text as it stands, every value as written."""
    return yaml.load(text, yaml.BaseLoader)


def merged(one: Any, other: Any) -> Any:
    """Two texts read as they stand, the second laid over the first."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one | {key: merged(one[key], value) if key in one else value for key, value in other.items()}
    return other


@pytest.mark.parametrize(
    ("name", "subject"),
    [
        ("supply.topology", SUPPLY), ("supply.protection_class", SUPPLY), ("site.altitude", SUPPLY),
        ("plate.mains_current", SUPPLY), ("supply.basis", SUPPLY),
        ("rated.surge_voltage", PART), ("rated.breaking_capacity", Subject("part", ("F1",))),
        ("found.series_resistance", PART), ("mounting.above_board", PART), ("part.class", PART),
        ("found.clearance", PLACE), ("found.creepage", PLACE), ("core.area", Subject("transformer", ("T1",))),
        ("winding.bare", Subject("winding", ("T1.primary",))), ("port.kind", Subject("output", ("main",))),
        ("port.lead_current", Subject("output", ("main",))), ("port.lead_current", Subject("port", ("left",))),
    ],
)  # fmt: skip
def test_the_lines_read_as_the_fact_they_were_given_for(name: str, subject: Subject) -> None:
    """Keys as the file spells them: filled in, the reader takes them for just this fact."""
    given = read(filled(lines_for(name, subject)))
    base = read(BASE)
    if "C1" in given.get("parts", {}):
        given["parts"]["C1"]["kind"] = "electrolytic capacitor"
    if "F1" in given.get("parts", {}):
        given["parts"]["F1"]["kind"] = "fuse"
    if name == "found.clearance" or name == "found.creepage":
        given["barriers"]["under T1"]["between"] = ["primary", "secondary"]
    if subject.kind == "port":
        base["circuit"]["outputs"] = {"main": ["T1.secondary", "D7", "across C6"]}
        base["parts"] |= {"D7": "rectifier diode 60 V 5 A", "C6": "electrolytic capacitor 470 uF 25 V"}
        base["transformers"] = {"T1": {"windings": {"secondary": {"turns": "12"}}}}
        given["circuit"]["ports"]["left"] |= {"from": "main"}
    text = yaml.safe_dump(merged(base, given), allow_unicode=True, sort_keys=False)
    rows = [one for one in given_facts(read_design(text, "t.yaml")) if one.quantity == name]
    assert [one.subject for one in rows if one.value is not None] == [subject], text


def test_nothing_can_be_pasted_as_it_stands() -> None:
    """A slot is refused, so that an example never becomes a fact by mistake."""
    lines = "\n".join(lines_for("supply.topology", SUPPLY)).replace("supply:", "supply:\n  name: t")
    with pytest.raises(ReadingError):
        read_design(f"derate: 1\n{lines}\nparts: {{F1: fuse 1 A}}\n", "t.yaml")


@pytest.mark.parametrize("topology", ["", "flyback", "line transformer"])
def test_the_first_ten_of_a_new_file_say_how_and_what_to_write(topology: str) -> None:
    """From the closed supply on nobody has to guess: each has how it is got, and the lines with the file's own keys."""
    text = new_design(checked(Answers("Lamp", topology=topology, mains="230 V", outputs=(("main", "12 V", "1 A"),))))
    for fact in missing_facts(bench_of(text), False, 10)[:10]:
        assert VOCABULARY[fact.name].how if fact.name else fact.how, fact.text
        assert fact.paste, fact.text
        assert any(SLOT in line for line in fact.paste) and not any("part.place" in line for line in fact.paste)


def test_the_lines_of_a_mains_transformer_are_its_own() -> None:
    """No bulk capacitor, no switch and no turns: what somebody with that supply in hand can write down."""
    text = new_design(checked(Answers("Lamp", topology="line transformer", mains="230 V")))
    for stranger in ("MOSFET", "controller", "bulk minus", "across C1, ", "turns: ", "gap: ", "leakage: "):
        assert stranger not in text.partition("# ---- 2.")[2], stranger
    asked = ["\n".join(fact.paste) for fact in missing_facts(bench_of(text), False, 10)]
    every = "\n".join(asked)
    assert "line: […]  # such as [F1, T1.primary]" in every and "open_voltage: …" in every
    assert not any(word in every for word in ("bulk minus", "from the plug to the bulk", "turns: "))


ALIKE = BASE.replace("parts: {", "parts: {'D1, D2': line diode 1N4007 (marked), ").replace(
    "[F1, BR1,", "[F1, D1, D2, BR1,"
)
BULK = "electrolytic capacitor 22 uF 20% 400 V"


def waits(name: str, part: str) -> MissingFact:
    subject = Subject("part", (part,))
    return MissingFact(f"{part}: {name}", subject, name, (), (), paste=lines_for(name, subject))


def test_parts_alike_are_asked_for_once_under_the_key_that_the_file_has() -> None:
    facts = as_the_file_has_them([waits("rated.surge_current", one) for one in ("D1", "D2", "C1")], ALIKE)
    assert [one.text for one in facts] == ["D1: rated.surge_current", "C1: rated.surge_current"]
    assert facts[0].paste[1] == "  D1, D2:  # in place of its line"


@pytest.mark.parametrize(
    ("name", "part", "stands"),
    [
        ("rated.surge_current", "D1", "line diode 1N4007 (marked)"), ("rated.life", "C1", BULK),
        ("part.class", "C1", BULK), ("rated.current", "F1", "fuse 1 A 250 V"), ("found.series_resistance", "C1", BULK),
    ],
)  # fmt: skip
def test_what_takes_the_place_of_a_line_says_all_that_it_said(name: str, part: str, stands: str) -> None:
    """Read with the slot filled in, every fact that the line gave is there, and the one that was asked for."""
    (fact,) = as_the_file_has_them([waits(name, part)], ALIKE)
    lines = tuple(line.replace(":  # in place of its line", ":") for line in fact.paste)
    given = read(filled(lines))["parts"]
    whole = read(ALIKE)
    (key,) = given
    assert whole["parts"][key] == stands
    before = {(one.subject, one.quantity): str(one.value) for one in given_facts(read_design(ALIKE, "t.yaml"))}
    whole["parts"][key] = given[key]
    text = yaml.safe_dump(whole, allow_unicode=True, sort_keys=False)
    after = {(one.subject, one.quantity): str(one.value) for one in given_facts(read_design(text, "t.yaml"))}
    assert (Subject("part", (part,)), name) in after
    assert {key: value for key, value in before.items() if key[1] != name}.items() <= after.items()


def test_a_block_keeps_its_own_lines() -> None:
    """Only what stands on one line is written out; a block takes what is asked for beside its own."""
    text = BASE.replace("F1: fuse 1 A 250 V", "F1: {kind: fuse}")
    (fact,) = as_the_file_has_them([waits("rated.current", "F1")], text)
    assert fact.paste == lines_for("rated.current", Subject("part", ("F1",)))


# What a finding waits for and no line of a file gives, each with the reason.
NO_LINES = {
    "winding_capacitance": "between the two sides of a transformer: packs assume it, and a touch current that was read "
    "stands beside what is worked out",
    "power_drawn": "of a supply without a converter behind a bulk capacitor no step works it out, and one reading at "
    "one mains is not the greatest",
    "reading.voltage": "a reading that is there already, too wide to tell: read again, with less uncertainty",
    "rating it can be held against": "the reading names part and quantity; which of its ratings that is, a "
    "data sheet says",
    "an instrument it was read with, it being simulated": "a reading that is there already: taken again at a sample",
    "uncertainty of the greatest voltage read": "written behind the figure of a reading that is there already",
    "uncertainty of the reverse voltage read": "written behind the figure of a reading that is there already",
}


def test_every_fact_that_is_waited_for_has_lines_to_paste() -> None:
    """Of every shipped design and of those of the tests: what waits, each with the keys under which it is written."""
    root = Path(__file__).parents[2]
    paths = [*root.glob("designs/*/*.derate.yaml"), *root.glob("tests/data/designs/*.derate.yaml")]
    bare, asked = set(), 0
    for path in sorted(paths):
        work = Workshop().work(str(path))
        for finding in review_of(work, DAY).findings:
            if finding.verdict != "not assessed":
                continue
            for fact in finding.missing or finding.rests_on:
                asked += 1
                if not lines_for(fact.quantity, fact.subject):
                    bare.add(fact.quantity)
    assert asked > 1000 and bare <= NO_LINES.keys(), bare - NO_LINES.keys()


@pytest.mark.parametrize(
    ("name", "subject", "line"),
    [
        ("circuit.drive", SUPPLY, "  drive: […]  # such as [T1.drive, R4, C5, Q1, across D4]"),
        ("control.coupler_supply", SUPPLY, "  control: {coupler_supply: …}  # such as main, or none"),
        ("breakdown_spread", Subject("part", ("ZD1",)), "    voltage: …  # such as 6.8 V 5%"),
        ("series_resistance", Subject("winding", ("T1.primary",)), "        resistance: …  # such as 6.8 ohm"),
        ("distance at the pads", Subject("part", ("CY1",)), "  pads of CY1:"),
        ("gap, as a barrier", Subject("part", ("SG1",)), "  gap of SG1:"),
        ("neutral_lost", Subject("mains"), "    fault: neutral lost"),
        ("held_together", SUPPLY, "    voltage: {…}  # such as main: 11.9 V, usb: 5.05 V"),
        ("sleeve", Subject("transformer", ("T1",)), "    leads: {all: {kind: …, crosses: …}}"),
        ("thickness of the bobbin", Subject("transformer", ("T1",)), "    from_core_outwards: […]"),
    ],
)
def test_what_is_no_whole_fact_has_the_lines_it_is_written_on(name: str, subject: Subject, line: str) -> None:
    assert any(one.startswith(line) for one in lines_for(name, subject)), lines_for(name, subject)


def test_a_supply_of_no_said_topology_is_tried_as_each() -> None:
    """No step writes what one that ran before it has written: a bridge on the line has its restart already."""
    bench = Bench(Workshop(ledger=RecordingLedger).work(str(FIRST_LOOK)), DAY)
    for word in VOCABULARY["supply.topology"].words:
        assert bench.tried({(SUPPLY, "supply.topology"): Category.of(word)}).verdicts(), word


def test_what_is_worked_out_is_asked_for_by_what_it_is_worked_out_of() -> None:
    """A choice left open by ranges of the file: the ranges are named, and not the choice nobody can write down."""
    root = Path(__file__).parents[2]
    revision = root / "designs/greenhouse-vent/greenhouse-vent-revision-b.derate.yaml"
    for path, rule, quantity, behind in (
        (str(revision), "bulk-carries-the-load-when-cold", "load_carried", "cold_capacitance_kept"),
        (str(LAMP), "creepage-of-next-row", "needed.creepage", "insulation.altitude"),
        (str(LAMP), "output-ripple-when-cold", "duty", "winding.turns"),
    ):
        findings = [one for one in review_of(Workshop().work(path), DAY).findings if one.rule == rule]
        asked = {fact.quantity for one in findings for fact in one.missing or one.rests_on}
        assert any(one.verdict == "not assessed" for one in findings), rule
        assert behind in asked and quantity not in asked, (rule, asked)


@pytest.mark.parametrize(
    ("name", "subject"),
    [
        ("neutral_lost", Subject("mains")), ("opening", Subject("mains")), ("plate.marks", SUPPLY),
        ("overload_held", SUPPLY), ("control.by", SUPPLY), ("control.bias_resistor", SUPPLY),
        ("held_current_low_mains", Subject("output", ("main",))), ("regulation", Subject("output", ("main",))),
        ("tape_test.voltage", Subject("transformer", ("T1",))), ("winding.wire", Subject("transformer", ("T1",))),
        ("cold_capacitance_kept", PART), ("end_of_life_ratio", PART), ("dissipation", PART),
        ("insulation.material_group", PLACE),
    ],
)  # fmt: skip
def test_lines_of_a_test_and_of_a_path_are_keys_of_the_file(name: str, subject: Subject) -> None:
    """Filled in, the reader knows every key of them: nothing else is wrong than what they name and this file lacks."""
    lines = tuple(
        line.replace("ambient: …", "ambient: 24 degC").replace("mains: …,", "mains: 100 V,").split("  # the lowest")[0]
        for line in lines_for(name, subject)
    )
    given = read(filled(tuple(line if " # such" in line else line.replace("…", "enamelled") for line in lines)))
    text = yaml.safe_dump(merged(read(BASE), given), allow_unicode=True, sort_keys=False)
    lacking = ("'kind' is missing", "'between' is missing", "is no part of this design", "whose layer", "'T1' is no")
    try:
        read_design(text, "t.yaml")
    except ReadingError as error:
        told = [one.what for one in error.problems]
        assert told and all(any(words in one for words in lacking) for one in told), told
