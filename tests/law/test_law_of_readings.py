"""A design that fails by one reading or one test fails, or is not assessed, whatever leaf of that entry is lost.

The figure or the outcome itself stays: without it nothing was read. Every other leaf is deleted, and said `unknown`.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest
import yaml
from law_bench import Base, stopping
from law_failing import READINGS, SOUND, TESTS, with_entry
from law_memory import remembered

from derate.terms.values import ReadingError


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
    assert _stops(with_entry(readings=entry))
    assert [what for what, less in lost(entry, (kept,)) if not _stops(with_entry(readings=less))] == []


@pytest.mark.parametrize("name", TESTS)
def test_a_test_that_failed_stops_whatever_is_lost_of_it(name: str) -> None:
    entry = TESTS[name]
    assert _stops(with_entry(tests=entry))
    # the kind of test is the statement itself: another kind was done, or none
    assert [what for what, less in lost(entry, ("test", "result")) if not _stops(with_entry(tests=less))] == []


@pytest.mark.parametrize("name", TESTS)
def test_an_outcome_that_nobody_wrote_down_stops_too(name: str) -> None:
    """But for an overload that says where it shut down, which is what it came to."""
    block = yaml.safe_load(TESTS[name])
    block["result"] = "unknown"
    assert _stops(with_entry(tests=yaml.safe_dump(block, default_flow_style=True, width=9999).strip()))


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
