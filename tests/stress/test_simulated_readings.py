"""A reading that nobody took with an instrument shows what is bad and nothing good, wherever a row is made of it."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from math import inf

import pytest
from brute_force import share
from test_samples import FULL, HIGH, LOW, NONE, READ, SOUND, fails, file_of, judged, read, stops

from derate.design.readings import Reading
from derate.design.samples import AT_THE_BENCH, UNSEEN
from derate.design.settings import Settings
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.packs.load import load_packs
from derate.study.hearing import NOBODY_MEASURED, unused
from derate.study.work import Work, required_of, review_of, worked
from derate.terms.values import Category, Value
from derate.terms.words import EVIDENCE, HOLDS

SIMULATED = "known_by: simulated, "
NOBODY = [word for word in EVIDENCE if word not in (*AT_THE_BENCH, "computed")]
# Whether a reading and the computation agree is said of the two figures, whoever came by either.
OF_THE_FIGURES = "reading-disagrees"


def holds(text: str) -> set[tuple[str, str]]:
    return {(one.rule, str(one.subject)) for one in judged(text).findings if one.verdict in HOLDS}


def every(word: str, which: int) -> str:
    """Every reading that is asked for, all good (2) or all bad (3), known by a word."""
    own = [one for one in READ.values() if one[0] == "readings"]
    mark = f"known_by: {word}, " if word else ""
    return file_of("readings", tuple(f"{mark}{one[1]}{one[which]}" for one in own), None)


@cache
def without() -> str:
    return file_of("tests", ("test: fault, fault: C9 shorted, result: not done",), None).partition("tests:")[0]


@pytest.mark.parametrize("word", NOBODY[:: share(3)])
def test_what_nobody_read_lets_no_rule_hold(word: str) -> None:
    """Of the same readings measured a dozen rules hold that hold without none: of these not one."""
    new = holds(every(word, 2)) - holds(without())
    assert {rule for rule, _ in new} <= {OF_THE_FIGURES}


def known(text: str, word: str) -> str:
    """The file with another word for all that was done at the bench; '' for none."""
    assert text.count(", readings: measured}") == 1
    return text.replace(", readings: measured}", f", readings: {word}}}" if word else "}")


@pytest.mark.parametrize("block", ["readings", "tests"])
def test_taking_out_how_it_is_known_betters_nothing(block: str) -> None:
    """Whatever the file says of its bench, without the word no rule holds that did not, and none fails less."""
    own = [one for one in READ.values() if one[0] == block]
    for which in (2, 3):
        text = file_of(block, tuple(f"{one[1]}{one[which]}" for one in own), None)
        bare = known(text, "")
        assert which == 3 or holds(text) - holds(bare)
        for word in ("simulated", "data sheet")[:: share(2)]:
            assert holds(bare) <= holds(known(text, word)), word
            assert fails(known(text, word)) <= fails(bare), word


def test_a_file_that_says_not_how_its_bench_is_known_is_told_so_once() -> None:
    text = SOUND.read_text(encoding="utf-8")
    told = [one for one in read(known(text, "")).notes if "known_by: {readings: measured}" in one]
    assert len(told) == 1 and re.search(r"\d+ readings and \d tests are known", told[0])
    for other in (text, known(text, "simulated")):
        assert not [one for one in read(other).notes if "known_by" in one]


def test_the_entry_speaks_before_its_block_and_the_least_sure_of_an_entry_counts() -> None:
    start = "test: electric strength, between: [primary, secondary], voltage: 3 kVac, time: 60 s, result: held"
    for said, word, unseen in (
        ("", "measured", ""),
        ("", "", "stated"),
        ("", "data sheet", "data sheet"),
        (", known_by: seen", "simulated", ""),
        (" (measured)", "simulated", ""),
        (" (stated)", "measured", "stated"),
        (" (simulated), known_by: measured", "measured", "simulated"),
    ):
        assert read(known(file_of("tests", (start + said,), None), word)).tests[0].unseen == unseen, (said, word)
    for said, word, unseen in (("", "measured", ""), ("", "", "stated"), (" (marked)", "measured", "marked")):
        text = known(file_of("readings", (f"{NONE}, mains_power: 60 mW{said}",), None), word)
        assert read(text).readings[0].unseen == unseen, (said, word)


def test_measured_they_let_rules_hold() -> None:
    new = {rule for rule, _ in holds(every("", 2)) - holds(without())}
    assert len(new) >= 12
    assert {"reading-within-voltage", "reading-within-temperature", "bulk-carries-the-load-when-cold"} < new


def test_what_is_bad_fails_as_if_it_had_been_read() -> None:
    """All but what a rule of the bench alone takes (voltage held, ripple, case): that is told as heard by nothing."""
    bad = fails(every("simulated", 3)) - fails(without())
    rules = {rule for rule, _ in bad}
    assert {
        "reading-within-voltage",
        "reading-within-temperature",
        "touch-current",
        "capacitor-case-temperature",
    } < rules
    told = {about for rule, about in stops(every("simulated", 3)) if rule == "reading-is-heard"}
    assert any("enclosure" in about for about in told)
    for mark, heard in (("", True), (SIMULATED, False)):
        text = file_of("readings", (f"{mark}{NONE}, ripple: {{main: 60 mV}}",), None)
        assert any(rule == "reading-is-heard" and "ripple" in about for rule, about in stops(text)) != heard


@pytest.mark.parametrize("name", list(READ)[share(8) // 4 :: share(8)])
def test_a_test_that_nobody_did_lets_no_rule_hold(name: str) -> None:
    block, start, good, bad = READ[name]
    first = list(READ).index(name) % len(UNSEEN)
    for word in (*UNSEEN[first:], *UNSEEN[:first])[:: share(len(UNSEEN))]:
        new = holds(file_of(block, (f"known_by: {word}, {start}{good}",), None)) - holds(without())
        assert {rule for rule, _ in new} <= {OF_THE_FIGURES}


@cache
def packs():  # type: ignore[no-untyped-def]
    return load_packs(["bench", "converter", "commercial-practice"])


def row(entries: tuple[str, ...], subject: Subject, quantity: str) -> Entry:
    """The last row of a quantity, with the ringing of the rectifier not stated."""
    text = file_of("readings", entries, None).replace("ringing: 1.35 (measured; at 264 V and full load), ", "")
    ledger = worked(read(text), packs())
    rows = [one for one in ledger.rows(subject, quantity) if one.case is None or one.case.group != "reading"]  # type: ignore[arg-type]
    return rows[-1]


def value(one: Entry) -> Value:
    assert isinstance(one.value, Value)
    return one.value


C2 = Subject("part", ("C2",))
AT = {"low": LOW, "high": HIGH}


def test_a_temperature_that_was_simulated_is_at_least_that() -> None:
    """Alone it has no upper end; beside one that was read it may only worsen it, and reaches no end of the mains."""
    measured = tuple(f"{at}, case_temperature: {{C2: 52 degC}}" for at in AT.values())
    both = row(measured, C2, "case_temperature")
    assert value(both).high < inf and not both.missing and not both.rests_on
    simulated = row(tuple(SIMULATED + one for one in measured), C2, "case_temperature")
    assert value(simulated).far == inf and simulated.missing
    one = row((measured[0], SIMULATED + measured[1]), C2, "case_temperature")
    assert value(one).high < inf and one.rests_on  # read at one end of the mains only
    worse = row((*measured, SIMULATED + measured[1].replace("52", "70")), C2, "case_temperature")
    assert value(worse).near == pytest.approx(value(both).near + 18.0) and not worse.rests_on


def power(at: str, watts: str) -> str:
    return f"{at}, voltage: {{main: 12.0 V}}, mains_power: {watts}"


def test_an_efficiency_of_simulated_powers_is_assumed() -> None:
    both = (power(LOW, "22.2 W"), power(HIGH, "21.7 W"))
    assert row(both, SUPPLY, "efficiency").known_by == "measured"
    assumed = value(row((power(NONE, "0.1 W"),), SUPPLY, "efficiency"))
    for entries in (tuple(SIMULATED + one for one in both), (both[0], both[1].replace("21.7 W", "21.7 W (assumed)"))):
        found = row(entries, SUPPLY, "efficiency")
        assert found.known_by == "assumed" and found.rests_on
        if entries[0].startswith(SIMULATED):  # as where nobody measured at all
            assert value(found).near <= assumed.near and assumed.far <= value(found).far
    volts = row(tuple(one.replace("12.0 V", "12.0 V (simulated)") for one in both), SUPPLY, "efficiency")
    assert volts.known_by == "assumed"
    worse = row((*both, SIMULATED + power(HIGH, "30 W")), SUPPLY, "efficiency")
    assert worse.known_by == "measured" and value(worse).near < value(row(both, SUPPLY, "efficiency")).near


def test_a_power_that_gives_no_efficiency_reaches_no_end_of_the_mains() -> None:
    """12 W out of 10 W drawn at the highest mains is a slip: what was read at the lowest keeps its margin."""
    low, high = power(LOW, "22.2 W"), power(HIGH, "10 W")
    for entries in ((low, high), (low, SIMULATED + power(HIGH, "21.7 W"))):
        found = row(entries, SUPPLY, "efficiency")
        assert found.known_by == "assumed" and found.rests_on
    assert row((low, high), SUPPLY, "efficiency").value == row((low,), SUPPLY, "efficiency").value


def test_ringing_that_was_simulated_has_no_upper_end() -> None:
    _, start, good, _ = READ["a diode"]
    subject = Subject("part", ("D7",))
    measured = row((start + good,), subject, "part.ringing")
    simulated = row((SIMULATED + start + good,), subject, "part.ringing")
    assert value(measured).high < inf and measured.known_by == "measured"
    assert value(simulated).near == value(measured).near and value(simulated).far == inf
    assert simulated.known_by == "simulated"


def test_a_working_voltage_that_was_simulated_is_a_floor() -> None:
    entry = f"{HIGH}, working_voltage: {{under transformer: 900 V}}"
    found = []
    for one in (entry, SIMULATED + entry):
        rows = judged(file_of("readings", (one,), None)).ledger
        found += [value(each) for each in rows if each.formula == "reading, the largest"]
    assert [one.near for one in found] == [900.0, 900.0] and [one.far for one in found] == [900.0, inf]


def test_an_outcome_keeps_how_it_is_known() -> None:
    """What nobody did is no row that was measured; of a figure and the entry the less sure counts."""
    block, start, good, _ = READ["insulation"]
    ledger = judged(file_of(block, (f"known_by: stated, {start}{good} (simulated)",), None)).ledger
    rows = [one for one in ledger if one.subject.kind == "test"]
    assert rows and {one.known_by for one in rows if one.value is not None} == {"stated"}


@pytest.mark.parametrize(
    ("word", "rests"),
    [("", False), (" (seen; photo 3)", False), (" (drawing)", False), (" (stated)", True), (" (simulated)", True)],
)
def test_a_look_that_nobody_took_rests_on_somebody_looking(word: str, rests: bool) -> None:
    text = SOUND.read_text(encoding="utf-8").replace("scorch_marks: none", f"scorch_marks: none{word}")
    looked = worked(read(text), packs()).find(SUPPLY, "inspection.scorch_marks")
    assert looked is not None and isinstance(looked.value, Category) and bool(looked.rests_on) == rests


@pytest.mark.parametrize(
    ("word", "taken"), [("", True), (" (stated)", False), (" (simulated)", False), (" (assumed)", False)]
)
def test_a_part_value_that_nobody_measured_does_not_replace_the_marked_one(word: str, taken: bool) -> None:
    """With its tolerance the marked capacitance stays, and the figure is told as one that nothing is made of."""
    text = SOUND.read_text(encoding="utf-8")
    of_c2 = "found: {capacitance: 21.4 uF 2% (measured; out of circuit)"
    assert text.count(of_c2) == 1
    ledger = worked(read(text.replace(of_c2, f"found: {{capacitance: 21.4 uF 2%{word}")), packs())
    found = {one.quantity for one in ledger.entries if one.subject == C2}
    assert {"part.marked_capacitance", "found.capacitance"} & found == (
        {"part.marked_capacitance", "found.capacitance"} if taken else set()
    )
    design = read(text.replace(of_c2, f"found: {{capacitance: 21.4 uF 2%{word}"))
    work = Work(design, Settings(), packs(), ledger, required_of(packs()))
    told = {one.name: one.reason for one in unused(work, review_of(work, date(2026, 11, 25)))}
    assert (told.get("parts.C1.found.capacitance") == NOBODY_MEASURED) != taken  # C1 and C2 are one entry
    last = ledger.find(C2, "part.capacitance")
    assert last is not None
    capacitance = value(last)
    assert (capacitance.high - capacitance.low < 2e-6) == taken


@pytest.mark.parametrize("known", [*EVIDENCE[:6], "stated", ""])
def test_a_distance_of_something_built_or_drawn_holds_or_fails(known: str) -> None:
    assert of_a_distance("6.4 mm", known) == ({"pass"}, {"pass"})
    assert of_a_distance("1.1 mm", known) == ({"fail"}, {"fail"})


@pytest.mark.parametrize("known", ["ordered", "simulated", "calculated", "assumed"])
def test_a_distance_of_nothing_built_or_drawn_only_fails(known: str) -> None:
    """Said behind the figure or of all the barriers of the file."""
    assert of_a_distance("6.4 mm", known) == ({"not assessed"}, {"not assessed"})
    assert of_a_distance("1.1 mm", known) == ({"fail"}, {"fail"})


def of_a_distance(size: str, known: str) -> tuple[set[str], set[str]]:
    """What its rule comes to, with how it is known behind the figure and with the same said of all barriers."""
    own, block = "clearance: 6.1..6.4 mm (measured; photo 7, board cleaned first)", ", barriers: measured"
    text = SOUND.read_text(encoding="utf-8")
    assert text.count(own) == 1 and text.count(block) == 1
    behind = text.replace(own, f"clearance: {size} ({known})" if known else f"clearance: {size}")
    of_all = text.replace(own, f"clearance: {size}").replace(block, f", barriers: {known}" if known else "")
    return clearance(behind), clearance(of_all)


def clearance(text: str) -> set[str]:
    own = [one for one in judged(text).findings if "under transformer" in str(one.subject)]
    return {one.verdict for one in own if one.rule == "barrier-clearance"}


def test_every_word_is_one_or_the_other() -> None:
    assert set(UNSEEN) - {"computed"} == set(NOBODY)
    one: Reading = read(file_of("readings", (f"{FULL}, mains_power: 20 W (ordered)",), None)).readings[0]
    assert one.unseen == "ordered" and one.shown(Value.exact(1.0)) == Value.floor(1.0)
