"""What tests came to: each test a subject of its own, heard whatever it was done between and whatever else is known.

An adverse outcome is a fail of its hazard. A favourable one gives no verdict here: what it is worth (its voltage, its
time, its place) is judged where that is asked. A test that was done and does not say what it came to is not assessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from derate.design.readings import Test
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.terms.dimension import RESISTANCE, TIME, VOLTAGE, Dimension
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value
from derate.terms.words import Hazard

SOURCE = "tests of this sample"
# What an adverse outcome endangers: what gives way under load or in a fault burns, what lets current through shocks.
_HAZARD: Final[dict[str, Hazard]] = {
    "overload": "fire",
    "fault": "fire",
    "electric strength": "shock",
    "insulation resistance": "shock",
    "touch current": "shock",
    "earth continuity": "shock",
    "discharge": "shock",
}
NONE = "none"
_FIGURES: Final[dict[tuple[str, Dimension | None], QuantityName]] = {
    ("insulation resistance", RESISTANCE): "test.insulation_resistance",
    ("earth continuity", RESISTANCE): "test.earth_resistance",
    ("discharge", VOLTAGE): "test.voltage_left",
    ("discharge", TIME): "test.discharge_time",
}
# The figure of a discharge says something of the pins two seconds after the plug was drawn and later.
DISCHARGED = 2.0


def test_outcomes(ledger: Ledger, tests: Sequence[Test]) -> None:
    """Write for each test what it came to, and its figure where it has one that a limit is known for."""
    named: dict[str, int] = {}
    for test in tests:
        subject = _subject(test, named)
        if not _is_open(test) and not test.is_adverse:
            _word(ledger, subject, "test.against", NONE, test)
        else:
            _word(ledger, subject, "test.against", _HAZARD[test.test], test)
            if test.is_adverse:
                _word(ledger, subject, "test.outcome", "adverse", test, test.result.word)
            else:
                _hole(ledger, subject, "test.outcome", test, "it was done, and what it came to is not written down")
        _figure(ledger, subject, test)


def _subject(test: Test, named: dict[str, int]) -> Subject:
    """What was done, where and at what, as a person would call it; a second one like it is numbered."""
    words = [test.test]
    if test.fault:
        words.append(test.fault)
    if test.between:
        words.append(f"between {' and '.join(test.between)}")
    if test.output or test.taken_from:
        words.append(f"at {test.output or test.taken_from}")
    for stated in (test.voltage, test.mains):
        if stated is not None:
            words.append(f"at {stated.text}")
    name = " ".join(words)
    named[name] = named.get(name, 0) + 1
    return Subject("test", (name if named[name] == 1 else f"{name} ({named[name]})",))


def _is_open(test: Test) -> bool:
    """Whether it was done and says nothing of what it came to; where it shut down is what an overload came to."""
    if test.result.word == "not done" or test.result.stated is not None:
        return False
    if test.test == "overload" and test.result.word != "unknown" and test.shuts_down_at is not None:
        return False
    return test.result.meaning == "nothing said"


def _figure(ledger: Ledger, subject: Subject, test: Test) -> None:
    """The figure a test came to, under the name that its limit asks for; `none` where no limit asks for it here."""
    stated = test.result.stated
    quantity = _FIGURES.get((test.test, test.result.dimension)) if stated is not None else None
    if stated is None or quantity is None:
        _word(ledger, subject, "test.figure", NONE, test)
        return
    _word(ledger, subject, "test.figure", quantity.removeprefix("test.").replace("_", " "), test)
    value = stated.value
    if not isinstance(value, Value):
        _hole(ledger, subject, quantity, test, f"{stated.text} is no figure")
    elif quantity == "test.voltage_left" and not _late(test):
        # sooner than that the voltage may still fall: what is left is at most what was read, and no fail is proved
        note = "read sooner than 2 s after the plug was drawn, or nobody says when"
        _number(ledger, subject, quantity, Value(0.0, 0.0, value.far, value.high), test, note)
    else:
        _number(ledger, subject, quantity, value, test)


def _late(test: Test) -> bool:
    time = test.time.value if test.time is not None else None
    return isinstance(time, Value) and time.near >= DISCHARGED


def _word(ledger: Ledger, subject: Subject, quantity: QuantityName, word: str, test: Test, told: str = "") -> Entry:
    value = Category((word,), told) if told else Category.of(word)
    return ledger.write(
        subject, quantity, value, known_by="measured", place=test.place, formula="outcome of a test", source=SOURCE
    )


def _number(
    ledger: Ledger, subject: Subject, quantity: QuantityName, value: Value, test: Test, note: str = ""
) -> Entry:
    return ledger.write(
        subject, quantity, value, known_by="measured", place=test.place, formula="test", source=SOURCE, note=note
    )


def _hole(ledger: Ledger, subject: Subject, quantity: QuantityName, test: Test, note: str) -> Entry:
    return ledger.hole(subject, quantity, (OpenFact(subject, quantity),), note=note)
