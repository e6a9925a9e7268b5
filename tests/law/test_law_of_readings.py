"""A design that fails by one reading or one test fails, or is not assessed, whatever leaf of that entry is lost.

The figure or the outcome itself stays: without it nothing was read. Every other leaf is deleted, and said `unknown`.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest
import yaml
from law_bench import Base, Bench, stopping
from law_memory import remembered

from derate.terms.values import ReadingError

SOUND = Bench.of("sound")
FULL = "at: {mains: 230 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 60 min}"
OVERLOAD = "at: {mains: 230 V, frequency: 50 Hz, load: overload, ambient: 24 degC, after: 240 min}"
# Each fails the sound design by itself. The key that is the figure or the outcome is named, and is not taken out.
READINGS = {
    "a drain": (f"{{{FULL}, known_by: measured, voltage_peak: {{Q1: 750 V}}}}", "voltage_peak"),
    "a drain in overload": (f"{{{OVERLOAD}, voltage_peak: {{Q1: 750 V}}}}", "voltage_peak"),
    "a diode under another name": (f"{{{FULL}, voltage_peak: {{D7: 130 V}}}}", "voltage_peak"),
    "the bulk": (f"{{{FULL}, voltage: {{C1: 430 V}}}}", "voltage"),
    "a resistor": (f"{{{FULL}, case_temperature: {{RF1: 260 degC}}}}", "case_temperature"),
    "a winding": (f"{{{OVERLOAD}, winding_temperature: {{T1: 230 degC}}}}", "winding_temperature"),
    "the case": (f"{{{FULL}, case_temperature: {{enclosure: 110 degC}}}}", "case_temperature"),
    "the case in overload": (f"{{{OVERLOAD}, case_temperature: {{enclosure: 100 degC}}}}", "case_temperature"),
    "an output": (f"{{{FULL}, voltage: {{main: 28 V}}}}", "voltage"),
    "the mains current": (f"{{{FULL}, mains_current: 3 A}}", "mains_current"),
    "ripple current": (f"{{{FULL}, ripple_current: {{C1: 190 A}}}}", "ripple_current"),
    "a touch current": (f"{{{FULL}, touch_current: 12 mA}}", "touch_current"),
}
TESTS = {
    "a breakdown": "{test: electric strength, between: [primary, secondary], voltage: 1 kVac, result: arced}",
    "a short that burnt": "{test: fault, fault: C1 shorted, mains: 264 V, result: flames}",
    "insulation": "{test: insulation resistance, between: [primary, secondary], voltage: 500 Vdc, result: 12 kohm}",
    "a discharge": "{test: discharge, mains: 264 V, time: 2 s, result: 200 V}",
    "an earth": "{test: earth continuity, current: 25 A, time: 60 s, result: 3 ohm}",
    "a touch current": "{test: touch current, from: main, mains: 264 V, result: 12 mA}",
    "an overload": "{test: overload, output: main, mains: 230 V, shuts_down_at: 1.66 A, result: caught fire}",
}


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    with remembered():
        yield


def lost(entry: str, kept: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """The entry with each leaf gone, and said `unknown`; what is kept is the statement itself."""
    block = yaml.safe_load(entry)
    for holder in (block, block.get("at", {})):
        for key, value in list(holder.items()):
            if key in kept:
                continue
            del holder[key]
            yield f"without {key}", yaml.safe_dump(block, default_flow_style=True, width=9999).strip()
            if not isinstance(value, list | dict):
                holder[key] = "unknown"
                yield f"{key} unknown", yaml.safe_dump(block, default_flow_style=True, width=9999).strip()
            holder[key] = value


def _text(readings: str = "", tests: str = "") -> str:
    text = SOUND.text
    if readings:
        text = text.replace("tests:     ", f"  - {readings}\ntests:     ", 1)
    if tests:
        text = text.replace("tests:     ", f"tests:\n  - {tests}\n#", 1)
    return text


@cache
def _base() -> Base:
    return Base(SOUND, signed=True)


def _stops(text: str) -> bool:
    """Whether a design is refused or blocks; the open points and the waiver of the sound design stand."""
    try:
        return _base().tried(text, ("readings", "tests", "parts")).blocks
    except ReadingError:
        return True


def test_the_sound_design_does_not_block() -> None:
    review = SOUND.review()
    assert review is not None and not review.blocks and stopping(review)


@pytest.mark.parametrize("name", READINGS)
def test_a_reading_that_fails_stops_whatever_is_lost_of_it(name: str) -> None:
    entry, kept = READINGS[name]
    assert _stops(_text(readings=entry))
    assert [what for what, less in lost(entry, (kept,)) if not _stops(_text(readings=less))] == []


@pytest.mark.parametrize("name", TESTS)
def test_a_test_that_failed_stops_whatever_is_lost_of_it(name: str) -> None:
    entry = TESTS[name]
    assert _stops(_text(tests=entry))
    # the kind of test is the statement itself: another kind was done, or none
    assert [what for what, less in lost(entry, ("test", "result")) if not _stops(_text(tests=less))] == []


@pytest.mark.parametrize("name", TESTS)
def test_an_outcome_that_nobody_wrote_down_stops_too(name: str) -> None:
    """But for an overload that says where it shut down, which is what it came to."""
    block = yaml.safe_load(TESTS[name])
    block["result"] = "unknown"
    assert _stops(_text(tests=yaml.safe_dump(block, default_flow_style=True, width=9999).strip()))


@pytest.mark.parametrize(
    "after, stops",
    [
        (", after: 0.6 min", True),
        (", after: 59 min", True),
        (", after: 60 min", False),
        (", after: steady", False),
        (", after: unknown", True),
        ("", True),
    ],
)
def test_a_temperature_on_its_way_up_settles_nothing(after: str, stops: bool) -> None:
    """Read too soon, or nobody says when, it is at least what was read: it proves a fail and no pass."""
    said = "load: full, ambient: 24 degC, after: 60 min"
    assert said in SOUND.text
    assert _stops(SOUND.text.replace(said, said.replace(", after: 60 min", after))) == stops


def test_a_table_a_thousand_times_slower_clears_no_short() -> None:
    said = "opens_within: {48 W: 60 s, 75 W: 30 s, 108 W: 10 s}"
    assert said in SOUND.text and not _stops(SOUND.text)
    slower = "opens_within: {48 W: 60000 s, 75 W: 30000 s, 108 W: 10000 s}"
    review = SOUND.review(SOUND.text.replace(said, slower))
    assert review is not None and ("short-opens-in-time", "mains") in stopping(review) and review.blocks
