"""Ordinary entries get a verdict or a refusal in words: no word in the place of any leaf ends a run in a fault.

A seeded share of all leaves in an ordinary run, every one by brute force; and, whole, the entries that did end so once.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import leaf_words
import pytest
from brute_force import BRUTE_FORCE
from law_bench import Base, Bench
from law_memory import remembered

from derate.design.load import read_design
from derate.judge.review import Finding, Review
from derate.terms.values import ReadingError

SOUND, POOR = Bench.of("sound"), Bench.of("poor")

BENCHES = {one.name: one for one in (SOUND, POOR, Bench.of("three outputs"), Bench.of("lamp driver"))}
SAMPLE = 10  # of each design in an ordinary run


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    """Solvers remember what they gave."""
    with remembered():
        yield


def sampled(bench: Bench) -> list[int]:
    every = list(range(leaf_words.count(bench.text)))
    return every if BRUTE_FORCE else random.Random(f"leaves of {bench.name}").sample(every, SAMPLE)


@pytest.mark.parametrize("name", BENCHES)
def test_every_leaf_takes_every_word(name: str) -> None:
    """Nothing escapes: a reading error is a refusal in words, anything else is a verdict."""
    bench, wrong = BENCHES[name], []
    base = Base(bench)
    for number in sampled(bench):
        change = leaf_words.changed(bench.text, number)
        try:
            base.tried(change.text, change.path.split(".")[:1])
        except ReadingError:
            continue
        except Exception as fault:  # what a person would see as a design that could not be worked through
            wrong.append(f"{change.path} = {change.says}: {type(fault).__name__}: {fault}")
    assert not wrong


def with_entry(bench: Bench, old: str, new: str) -> Review:
    assert bench.text.count(old) == 1, old
    review = bench.review(bench.text.replace(old, new))
    assert review is not None, new
    return review


def found(review: Review, rule: str, subject: str) -> Finding:
    (one,) = [each for each in review.findings if each.rule == rule and str(each.subject) == subject]
    return one


BY_FREQUENCY = "series_resistance: {120 Hz: 5.4 ohm, 100 kHz: 1.6 ohm}"
ENTRIES = {
    "leakage above a fifth of the inductance": ("leakage: 15 uH", "leakage: 200 uH"),
    "a range of leakage that reaches there": ("leakage: 15 uH", "leakage: 12..200 uH"),
    "no leakage": ("leakage: 15 uH", "leakage: 0 uH"),
    "an open resistance": (BY_FREQUENCY, "series_resistance: {120 Hz: over 5.4 ohm}"),
    "a wide resistance": (BY_FREQUENCY, "series_resistance: {120 Hz: 2.7..8.1 ohm, 100 kHz: 1.6 ohm}"),
    "an open impedance ratio": ("-25 degC: 4}", "-25 degC: over 4}"),
    "a capacitor that holds nothing": ("found: {capacitance: 655 uF 2%", "found: {capacitance: 0 uF"),
    "a class nobody has": ("    leakage: 15 uH", "    insulation_class: none\n    leakage: 15 uH"),
    "a class not looked for": ("    leakage: 15 uH", "    insulation_class: not done\n    leakage: 15 uH"),
    "a range of pollution": ("pollution_degree: 2,", "pollution_degree: 2..4,"),
    "kilovolts": ("    mains: 100..240 V", "    mains: 10..24 kV"),
    "an oven": ("ambient: -10..40 degC", "ambient: -10..180 degC"),
}


@pytest.mark.parametrize("name", ENTRIES)
def test_an_ordinary_entry_gets_a_verdict(name: str) -> None:
    """Or a refusal in words, where it lies outside what is plausible of its kind."""
    old, new = ENTRIES[name]
    assert SOUND.text.count(old) == 1
    review = SOUND.review(SOUND.text.replace(old, new))
    assert review is None or review.findings


@pytest.mark.parametrize("word", ["none", "not done"])
@pytest.mark.parametrize("old", ["wire: triple-insulated (data sheet)", "overvoltage_category: II"])
def test_a_word_that_names_nothing_is_refused(old: str, word: str) -> None:
    key = old.split(":", maxsplit=1)[0]
    assert SOUND.text.count(old) == 1
    assert SOUND.review(SOUND.text.replace(old, f"{key}: {word}")) is None


def test_leakage_beyond_the_formulas_is_not_clipped() -> None:
    """Above a fifth of the inductance the shape of the secondary's current is not covered: no figure, and it blocks."""
    for new in ("leakage: 200 uH", "leakage: 12..200 uH"):
        review = with_entry(SOUND, "leakage: 15 uH", new)
        one = found(review, "output-capacitor-ripple-current", "C6")
        assert (one.verdict, one.blocks) == ("not assessed", True), new
        assert one.stress is None or one.stress.far == float("inf"), new


def test_an_ambient_beyond_a_formula_is_told_as_one() -> None:
    review = with_entry(SOUND, "ambient: -10..40 degC", "ambient: -10..180 degC")
    one = found(review, "capacitor-case-temperature", "C1")
    assert one.verdict == "not assessed" and "ambient it is carried to is 180 degC" in one.message


def test_a_hot_resistance_that_crosses_itself_is_read_at_its_widest() -> None:
    bench = BENCHES["three outputs"]
    assert bench.text.count("1 A: 0.55 ohm") == 1
    for put in ("under 0.55 ohm", "over 0.55 ohm", "0.275..1.1 ohm"):
        assert with_entry(bench, "1 A: 0.55 ohm", f"1 A: {put}").findings


@pytest.mark.parametrize(("put", "refused"), [("0 ohm", True), ("0.27 ohm", True), ("0.28 ohm", False)])
def test_a_hot_resistance_below_that_at_more_current_is_refused(put: str, refused: bool) -> None:
    """A thermistor that is warmer has less: of 0.28 ohm at 3 A it has no less at 1 A, which the table says in words."""
    bench = BENCHES["three outputs"]
    assert bench.text.count("1 A: 0.55 ohm, 3 A: 0.28 ohm") == 1
    text = bench.text.replace("1 A: 0.55 ohm", f"1 A: {put}")
    if not refused:
        assert read_design(text, "three.derate.yaml").file.parts
        return
    with pytest.raises(ReadingError, match="falls along its table, and '0.28 ohm' goes the other way"):
        read_design(text, "three.derate.yaml")


def test_less_leakage_known_is_no_better_than_a_smaller_one() -> None:
    """`under 8 uH` is less than what a pack assumes: its verdict is no worse than with nothing said."""
    order = ("pass", "marginal", "not assessed", "fail")
    stated = with_entry(SOUND, "leakage: 15 uH", "leakage: under 8 uH")
    unsaid = with_entry(SOUND, "    leakage: 15 uH                               # the same, outputs shorted\n", "")
    for rule in ("switch-voltage", "switch-voltage-in-overload"):
        one, other = found(stated, rule, "Q1"), found(unsaid, rule, "Q1")
        assert order.index(one.verdict) <= order.index(other.verdict), rule
        assert one.stress is not None and other.stress is not None and one.stress.far <= other.stress.far
