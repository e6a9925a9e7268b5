"""Several samples in one file: one that fails fails, and what is left out or deleted of any betters nothing."""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from pathlib import Path

import pytest
import yaml
from brute_force import share

from derate.design.load import Design, read_design
from derate.design.settings import Settings
from derate.judge.review import Review
from derate.packs.load import load_packs
from derate.study.work import Work, required_of, review_of, worked
from derate.terms.values import ReadingError
from derate.terms.words import NOT_SHOWN

PACKS = ["bench", "converter", "commercial-practice", "mains-events", "mains-fusing", "insulation-it-equipment"]
SOUND = Path(__file__).parents[2] / "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
FULL = "at: {mains: 230 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 60 min}"
HIGH = "at: {mains: 264 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 60 min}"
# What is read of every sample, of one that is good and of one that is not; ahead of it the block.
READ = {
    "a drain": ("readings", f"{FULL}, voltage_peak: ", "{Q1: 530 V}", "{Q1: 750 V}"),
    "a diode": ("readings", f"{FULL}, reverse_voltage: ", "{D7: 70 V}", "{D7: 96 V}"),
    "a resistor": ("readings", f"{FULL}, case_temperature: ", "{RF1: 71 degC}", "{RF1: 260 degC}"),
    "a capacitor": ("readings", f"{FULL}, case_temperature: ", "{C2: 52 degC}", "{C2: 104 degC}"),
    "the case": ("readings", f"{FULL}, case_temperature: ", "{enclosure: 46 degC}", "{enclosure: 110 degC}"),
    "an output": ("readings", f"{FULL}, voltage: ", "{main: 12.0 V}", "{main: 9 V}"),
    "ripple": ("readings", f"{FULL}, ripple: ", "{main: 60 mV}", "{main: 900 mV}"),
    "mains current": ("readings", f"{FULL}, mains_current: ", "0.2 A", "3 A"),
    "mains power": ("readings", f"{FULL}, voltage: {{main: 12.0 V}}, mains_power: ", "21.9 W", "17 W"),
    "touch current": ("readings", f"{HIGH}, touch_current: ", "60 uA", "12 mA"),
    "a breakdown": (
        "tests",
        "test: electric strength, between: [primary, secondary], voltage: 3000 Vac, time: 60 s, result: ",
        "held",
        "arced",
    ),
    "insulation": (
        "tests",
        "test: insulation resistance, between: [primary, secondary], voltage: 500 Vdc, result: ",
        "500 Mohm",
        "12 kohm",
    ),
    "a discharge": ("tests", "test: discharge, mains: 264 V, time: 2 s, result: ", "20 V", "200 V"),
    "a fault": ("tests", "test: fault, fault: C1 shorted, mains: 264 V, result: ", "opened", "flames"),
    "an overload": (
        "tests",
        "test: overload, output: main, mains: 90 V, result: shut down, shuts_down_at: ",
        "1.66 A",
        "1.1 A",
    ),
    "a touch current, tested": ("tests", "test: touch current, from: main, mains: 264 V, result: ", "60 uA", "12 mA"),
}
_TEXT = SOUND.read_text(encoding="utf-8")


@cache
def _packs():  # type: ignore[no-untyped-def]
    return load_packs(PACKS)


def file_of(block: str, entries: tuple[str, ...], samples: int | None = 3) -> str:
    """The sound design without its own readings, tests and what was signed for, and with these of so many samples."""
    text = _TEXT[: _TEXT.index("\nreadings:")] + "\n"
    if samples is not None:
        text = text.replace("supply:\n", f"supply:\n  samples: {samples}\n", 1)
    return text + f"{block}:\n" + "".join(f"  - {{{one}}}\n" for one in entries)


@cache
def read(text: str) -> Design:
    return read_design(text, str(SOUND))


@cache
def judged(text: str) -> Review:
    design = read(text)
    return review_of(
        Work(design, Settings(), _packs(), worked(design, _packs()), required_of(_packs())), date(2026, 11, 25)
    )


@cache
def stops(text: str) -> frozenset[tuple[str, str]]:
    """Every finding that fails or is not assessed, by rule and subject."""
    return frozenset((one.rule, str(one.subject)) for one in judged(text).findings if one.verdict in NOT_SHOWN)


def fails(text: str) -> set[tuple[str, str]]:
    return {(one.rule, str(one.subject)) for one in judged(text).findings if one.verdict == "fail"}


def entry(start: str, value: str, sample: str = "", more: str = "") -> str:
    marked = f"sample: {sample}, " if sample else ""
    return f"{marked}{more}{start}{value}"


def three(name: str, *values: str) -> tuple[str, ...]:
    _, start, _, _ = READ[name]
    return tuple(entry(start, value, f"{number} of 3") for number, value in enumerate(values, 1))


@pytest.mark.parametrize("name", list(READ)[:: share(3)])
def test_one_failing_sample_fails_and_no_deletion_betters(name: str) -> None:
    """Good, bad, good: worse than three good ones; and of every entry gone, and of its sample gone, nothing better."""
    block, start, good, bad = READ[name]
    whole = file_of(block, three(name, good, good, good))
    mixed = file_of(block, three(name, good, bad, good))
    one = file_of(block, (entry(start, bad),), None)
    new = fails(mixed) - fails(whole)
    assert new or stops(mixed) - stops(whole), "the bad sample is not heard"
    alone = fails(one) - fails(file_of(block, (entry(start, good),), None))
    for rule, about in alone:  # whatever one bad sample fails by itself it fails among good ones
        assert any(rule == each and about in subject for each, subject in fails(mixed)), (rule, about)
    entries = three(name, good, bad, good)
    for number in range(3):
        gone = file_of(block, entries[:number] + entries[number + 1 :])
        assert stops(mixed) <= stops(gone), (number + 1, "deleted", stops(mixed) - stops(gone))
        named = tuple(
            each.replace(f"sample: {number + 1} of 3, ", "") if at == number else each
            for at, each in enumerate(entries)
        )
        lost = stops(mixed) - stops(file_of(block, named))
        # its own finding stands under its name without the sample; the sample that is missing now takes its place
        assert all(f"sample {number + 1} of 3" in about for _, about in lost), (number + 1, "no field", lost)
        missing = [about for rule, about in stops(file_of(block, named)) if f"sample {number + 1} of 3" in about]
        assert missing


@pytest.mark.parametrize("name", list(READ)[:: share(5)])
def test_no_field_deleted_betters_any(name: str) -> None:
    """Of the entry of the sample that fails each field in turn: refused, or worse, or the same."""
    block, start, good, bad = READ[name]
    entries = three(name, good, bad, good)
    mixed, own = file_of(block, entries), yaml.safe_load(f"{{{entries[1]}}}")
    assert len(own) >= 3
    for key in own:
        line = json.dumps({each: value for each, value in own.items() if each != key}).strip("{}")
        text = file_of(block, (entries[0], line.replace('"', ""), entries[2]))
        try:
            lost = stops(mixed) - stops(text)
        except ReadingError:
            continue
        # what was said of it where it was read is now said of it where nobody says, and it is missing where it was
        assert all("sample 2 of 3" in about for _, about in lost), (key, lost)
        named = {about for rule, about in stops(text) if "sample 2 of 3" in about}
        assert named and {about for _, about in lost} <= named | {about for _, about in lost if key == "sample"}, key


@pytest.mark.parametrize("name", list(READ)[share(4) // 4 :: share(4)])
def test_a_sample_that_is_missing_is_not_assessed(name: str) -> None:
    """3 of 5 written: the other two are told by their number, each; the mean of the three decides nothing."""
    block, start, good, _ = READ[name]
    written = tuple(entry(start, good, f"{number} of 5") for number in (1, 2, 4))
    whole = file_of(block, tuple(entry(start, good, f"{number} of 5") for number in range(1, 6)), 5)
    part = file_of(block, written, 5)
    told = {about for _, about in stops(part) - stops(whole)}
    for number in (3, 5):
        assert any(f"sample {number} of 5" in about for about in told)
    assert not any(f"sample {number} of 5" in about for about in told for number in (1, 2, 4))
    assert stops(whole) <= stops(part) and not any(rule == "reading-is-heard" for rule, _ in stops(whole))
    assert judged(part).blocks


@pytest.mark.parametrize("name", list(READ)[share(4) // 4 :: share(4)])
def test_a_retest_keeps_the_first_outcome(name: str) -> None:
    """Good after the repair: what failed first still fails; with the first outcome deleted the file is refused."""
    block, start, good, bad = READ[name]
    entries = three(name, good, bad, good)
    again = entry(start, good, "2 of 3", "retest: after repair, ")
    mixed, repaired = file_of(block, entries), file_of(block, (*entries, again))
    assert fails(mixed) <= fails(repaired) and stops(mixed) <= stops(repaired)
    nameless = entries[1].replace("sample: 2 of 3, ", "")
    for less in ((entries[0], entries[2], again), (entries[0], nameless, entries[2], again)):
        with pytest.raises(ReadingError, match="what it came to first is not written down"):
            read(file_of(block, less))
    unnamed = again.replace("sample: 2 of 3, ", "")
    with pytest.raises(ReadingError, match="what it came to first is not written down"):
        read(file_of(block, (*entries, unnamed)))
    plain = again.replace("retest: after repair, ", "")
    assert stops(mixed) <= stops(file_of(block, (*entries, plain)))


def test_a_failing_retest_fails() -> None:
    block, start, good, bad = READ["a drain"]
    text = file_of(block, (*three("a drain", good, good, good), entry(start, bad, "2 of 3", "retest: as it was, ")))
    (about,) = (about for rule, about in fails(text) if rule == "reading-within-voltage")
    assert about == "greatest voltage of Q1 at 230 V 50 Hz, full load, sample 2 of 3, tried again as it was"


@pytest.mark.parametrize(
    ("entries", "samples", "says"),
    [
        (("sample: 3 of 5, mains_current: 0.2 A",), None, "does not say how many there are; write samples: 5"),
        (("sample: 3 of 5, mains_current: 0.2 A",), 4, "the supply has 4; write 3 of 4"),
        (("sample: 6 of 5, mains_current: 0.2 A",), 5, "there is no sample 6 of 5"),
        (("sample: 0 of 5, mains_current: 0.2 A",), 5, "there is no sample 0 of 5"),
        (("sample: third, mains_current: 0.2 A",), 5, "write 3 of 5"),
        (("mains_current: 0.2 A",), 0, "0 samples"),
        (("mains_current: 0.2 A",), 101, "101 samples"),
        (("retest: after repair, mains_current: 0.2 A",), None, "what it came to first is not written down"),
        (("retest: repaired, mains_current: 0.2 A",), None, "after repair"),
    ],
)
def test_what_does_not_fit_is_refused(entries: tuple[str, ...], samples: int | None, says: str) -> None:
    with pytest.raises(ReadingError, match=says):
        read(file_of("readings", entries, samples))


def test_the_count_deleted_is_refused() -> None:
    """So that no sample is forgotten by forgetting how many there are."""
    block, _, good, bad = READ["a drain"]
    with pytest.raises(ReadingError, match="does not say how many there are"):
        read(file_of(block, three("a drain", good, bad, good), None))


def test_every_sample_is_read_as_often() -> None:
    """Two readings of one at one condition, one of the others: one of each is missing."""
    block, start, good, _ = READ["a drain"]
    entries = three("a drain", good, good, good)
    told = stops(file_of(block, (*entries, entry(start, good, "2 of 3"))))
    missing = {about for rule, about in told if rule == "reading-is-heard" and "Q1" in about}
    assert missing == {f"greatest voltage of Q1 at 230 V 50 Hz, full load, sample {n} of 3 (2)" for n in (1, 3)}


def test_one_that_nobody_did_shows_nothing_of_its_sample() -> None:
    """Simulated, said unknown, or not done: that sample is missing."""
    block, start, good, _ = READ["a drain"]
    entries = three("a drain", good, good, good)
    for other in (f"known_by: simulated, {entries[1]}", entries[1].replace("530 V", "unknown")):
        told = stops(file_of(block, (entries[0], other, entries[2])))
        assert any(rule == "reading-is-heard" and "sample 2 of 3" in about for rule, about in told)
    block, _, good, _ = READ["a breakdown"]
    told = stops(file_of(block, (*three("a breakdown", good)[:1], *three("a breakdown", good, "not done", good)[1:])))
    assert any(rule == "test-without-breakdown" and "sample 2 of 3" in about for rule, about in told)


def test_one_sample_is_as_none() -> None:
    block, start, good, _ = READ["a drain"]
    one = file_of(block, (entry(start, good, "1 of 1"),), 1)
    assert {rule for rule, _ in stops(one)} == {rule for rule, _ in stops(file_of(block, (entry(start, good),), None))}
    assert len(read(one).readings) == 1


def test_the_shut_down_is_held_at_either_end() -> None:
    """1.1 A of one sample lies below the marked 1.5 A, 2.3 A of another over 1.4 times it: both are told."""
    text = file_of("tests", three("an overload", "1.1 A", "1.66 A", "2.3 A"))
    assert {("shut-down-above-rating", "main"), ("shut-down-close-to-rating", "main")} <= fails(text)


def test_the_ambient_of_the_bench_may_move() -> None:
    """What was read at 24 and at 26 degC is the same thing at the same condition."""
    block, start, good, _ = READ["a resistor"]
    entries = three("a resistor", good, good, good)
    moved = (entries[0], entries[1].replace("ambient: 24 degC", "ambient: 26 degC"), entries[2])
    assert len(read(file_of(block, moved)).readings) == 3
    other = (entries[0], entries[1].replace("mains: 230 V", "mains: 240 V"), entries[2])
    assert sum(one.unread for one in read(file_of(block, other)).readings) == 3


def verdicts(text: str, *rules: str) -> dict[str, str]:
    return {one.rule: one.verdict for one in judged(text).findings if one.rule in rules}


SHUT = ("shut-down-above-rating", "shut-down-close-to-rating")
NEITHER = dict.fromkeys(SHUT, "not assessed")


@pytest.mark.parametrize("other", ["result: shut down, shuts_down_at: unknown", "result: shut down"])
def test_a_shut_down_at_a_current_that_nobody_wrote_down_may_be_at_any(other: str) -> None:
    """What one sample shut down at is no figure of the other two; of one sample, none of a second test."""
    block, start, good, _ = READ["an overload"]
    entries = three("an overload", good, good, good)
    bare = start.removesuffix("result: shut down, shuts_down_at: ")
    assert verdicts(file_of(block, entries), *SHUT) == dict.fromkeys(SHUT, "pass")
    hidden = (entries[0], f"sample: 2 of 3, {bare}{other}", entries[2])
    assert verdicts(file_of(block, hidden), *SHUT) == NEITHER
    assert verdicts(file_of(block, (start + good, bare + other), None), *SHUT) == NEITHER


@pytest.mark.parametrize("said", [("known_by: simulated, ", ""), ("", " (simulated)"), ("", " (assumed)")])
def test_a_shut_down_that_nobody_saw_fails_and_shows_nothing_good(said: tuple[str, str]) -> None:
    """Below the rating and far over it it fails at its own end; the other end is open, and a good figure both."""
    block, start, good, bad = READ["an overload"]
    one = {
        value: verdicts(file_of(block, (said[0] + start + value + said[1],), None), *SHUT)
        for value in (good, bad, "2.3 A")
    }
    assert one[good] == NEITHER
    assert one[bad] == {SHUT[0]: "fail", SHUT[1]: "not assessed"}
    assert one["2.3 A"] == {SHUT[0]: "not assessed", SHUT[1]: "fail"}


@pytest.mark.parametrize(
    ("name", "rule"), [("insulation", "insulation-resistance-as-tested"), ("a breakdown", "electric-strength-held")]
)
def test_a_word_behind_an_outcome_is_heard(name: str, rule: str) -> None:
    """Simulated behind what it came to is as simulated said of the test, of a figure and of a word."""
    block, start, good, _ = READ[name]
    assert verdicts(file_of(block, (start + good,), None), rule) == {rule: "pass"}
    for entry in (f"{start}{good} (simulated)", f"known_by: simulated, {start}{good}"):
        assert verdicts(file_of(block, (entry,), None), rule) == {rule: "not assessed"}
    entries = three(name, good, f"{good} (simulated)", good)
    assert any(one.unread and one.sample.number == 2 for one in read(file_of(block, entries)).tests)


@pytest.mark.parametrize("first", ["not done", "held (simulated)", "held (calculated)"])
def test_what_nobody_did_is_no_first_outcome(first: str) -> None:
    block, start, good, _ = READ["a breakdown"]
    with pytest.raises(ReadingError, match="what it came to first is not written down"):
        read(file_of(block, (start + first, f"retest: after repair, {start}{good}"), None))


def test_what_nobody_read_is_no_first_outcome() -> None:
    """One said unknown is heard as such, and may stand ahead of another try."""
    block, start, good, _ = READ["a drain"]
    again = f"retest: after repair, {start}{good}"
    for first in (f"known_by: simulated, {start}{good}", f"{start}{{Q1: 530 V (assumed)}}"):
        with pytest.raises(ReadingError, match="what it came to first is not written down"):
            read(file_of(block, (first, again), None))
    told = stops(file_of(block, (f"{start}{{Q1: unknown}}", again), None))
    assert any(rule == "reading-is-heard" and "Q1" in about for rule, about in told)


def power(number: int, watts: str) -> str:
    return f"sample: {number} of 3, {FULL}, voltage: {{main: 12.0 V}}, mains_power: {watts}"


def test_voltage_and_power_of_one_sample_may_stand_in_two_entries() -> None:
    """40 W for 18 W of output fails wherever its voltage is written down; without it the sample is open."""
    rules = ("efficiency-as-read", "power-read-is-possible")
    others = (power(1, "21.9 W"), power(3, "21.9 W"))
    split = (f"sample: 2 of 3, {FULL}, voltage: {{main: 12.0 V}}", f"sample: 2 of 3, {FULL}, mains_power: 40 W")
    for own in ((power(2, "40 W"),), split):
        assert verdicts(file_of("readings", (*others, *own)), *rules)[rules[0]] == "fail"
    assert verdicts(file_of("readings", (*others, split[1])), *rules) == dict.fromkeys(rules, "not assessed")
    assert verdicts(file_of("readings", (*others, power(2, "21.9 W"))), *rules) == dict.fromkeys(rules, "pass")


LOW = FULL.replace("230 V", "90 V")
NONE = LOW.replace("load: full", "load: none")


@pytest.mark.parametrize(("volts", "verdict"), [("12 V", "pass"), ("10.8 V", "not assessed"), ("9 V", "fail")])
def test_a_voltage_that_may_be_lost_is_not_held_by_another_sample(volts: str, verdict: str) -> None:
    """10.8 V is a tenth below 12 V, so that the instrument decides whether it was lost: no other sample does."""
    rules = ("rated-current-held", "rated-current-held-at-lowest-mains")
    entries = tuple(
        f"sample: {number} of 3, {LOW}, voltage: {{main: {read}}}"
        for number, read in enumerate(("12 V", volts, "12 V"), 1)
    )
    assert verdicts(file_of("readings", entries), *rules) == dict.fromkeys(rules, verdict)


def test_the_regulation_of_a_missing_sample_is_not_nought() -> None:
    def of(*numbers: int) -> dict[str, str]:
        entries = [f"sample: {n} of 3, {at}, voltage: {{main: 12 V}}" for n in numbers for at in (LOW, NONE)]
        return verdicts(file_of("readings", tuple(entries)), "output-regulation")

    assert of(1, 2, 3) == {"output-regulation": "pass"}
    assert of(1, 2) == {"output-regulation": "not assessed"}


def test_a_sample_tried_less_often_than_another_has_not_held() -> None:
    """One was tried twice and held: of the other the second is missing, and the first of it speaks for neither."""
    block, start, good, _ = READ["a breakdown"]
    twice = (entry(start, good, "1 of 2"), entry(start, good, "1 of 2"), entry(start, good, "2 of 2"))
    rule = "electric-strength-held"
    assert verdicts(file_of(block, (*twice, twice[2]), 2), rule) == {rule: "pass"}
    assert verdicts(file_of(block, twice, 2), rule) == {rule: "not assessed"}


def test_what_was_read_on_its_way_up_is_no_first_outcome_of_a_steady_one() -> None:
    """The failing hour deleted, five minutes do not stand in for it, nor of another sample."""
    block, start, good, bad = READ["a capacitor"]
    soon, again = start.replace("60 min", "5 min"), f"retest: after repair, {start}{good}"
    assert read(file_of(block, (soon + good, start + bad, again), None)).readings
    with pytest.raises(ReadingError, match="what it came to first is not written down"):
        read(file_of(block, (soon + good, again), None))
    entries = (entry(start, good, "1 of 2"), entry(soon, good, "2 of 2"))
    assert sum(one.unread for one in read(file_of(block, entries, 2)).readings) == 2


CAPTURE = (
    "at: {mains: 230 V, switch_on: cold at crest}, capture: {file: captures/inrush-230V.csv, current: {RF1: probe 2}}"
)


def test_a_capture_is_of_a_sample() -> None:
    (one,) = read(file_of("readings", (f"sample: 2 of 3, {CAPTURE}",))).captures
    assert one.sample is not None and one.sample.words == "sample 2 of 3"
    with pytest.raises(ReadingError, match="does not say how many there are"):
        read(file_of("readings", (f"sample: 2 of 3, {CAPTURE}",), None))
    with pytest.raises(ReadingError, match="write 2 of 4"):
        read(file_of("readings", (f"sample: 2 of 3, {CAPTURE}",), 4))


def test_the_electric_strength_of_a_missing_sample_is_not_held() -> None:
    block, _, good, bad = READ["a breakdown"]
    entries = three("a breakdown", good, good, good)
    rule = "electric-strength-held"
    assert verdicts(file_of(block, entries), rule) == {rule: "pass"}
    assert verdicts(file_of(block, entries[:2]), rule) == {rule: "not assessed"}
    assert verdicts(file_of(block, three("a breakdown", good, bad)), rule) == {rule: "fail"}


@pytest.mark.parametrize(("after", "verdict"), [("60 min", "pass"), ("5 min", "not assessed"), ("", "not assessed")])
def test_every_sample_is_held_in_overload_to_a_steady_temperature(after: str, verdict: str) -> None:
    """After five minutes, or missing altogether, the second sample is not spoken for by the first."""
    at = FULL.replace("load: full", "load: overload")
    own = [f"sample: 1 of 2, {at}, winding_temperature: {{T1: 90 degC}}"]
    own += [own[0].replace("1 of 2", "2 of 2").replace("60 min", after)] if after else []
    rule = "overload-held-to-steady-temperature"
    assert verdicts(file_of("readings", tuple(own), 2), rule) == {rule: verdict}
