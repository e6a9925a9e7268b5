"""Conditions, readings, captures and tests: what was measured, simulated or stated, and at which condition.

A reading belongs to the condition it was taken at and is never copied to another (the stress layer decides what it
may say about others). In readings `5%` is the uncertainty of the instrument.
"""

from __future__ import annotations

from typing import NamedTuple

from derate.design.stated import Stated, read_said_word
from derate.terms.dimension import CELSIUS, CURRENT, FREQUENCY, TIME, VOLTAGE, Dimension
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.terms.vocabulary import VOCABULARY, Term
from derate.text.nodes import Mapping, Node, Scalar, Sequence
from derate.text.quantity import Quantity, read_quantity

# The stresses a reading may name (the words the tool prints); their dimension is that of the vocabulary.
QUANTITIES = (
    "voltage",
    "voltage_peak",
    "voltage_min",
    "reverse_voltage",
    "working_voltage",
    "working_voltage_peak",
    "ripple",
    "current_rms",
    "current_average",
    "current_peak",
    "ripple_current",
    "i2t",
    "energy",
    "power",
    "air_temperature",
    "case_temperature",
    "winding_temperature",
    "junction_temperature",
    "mains_current",
    "mains_power",
    "efficiency",
    "frequency",
    "touch_current",
)
TESTS = (
    "overload",
    "electric strength",
    "insulation resistance",
    "touch current",
    "discharge",
    "earth continuity",
    "fault",
)
_CONDITION_KEYS = ("mains", "frequency", "load", "ambient", "after", "switch_on", "output", "known_by")


class Condition(NamedTuple):
    """Where a reading was taken. A load is a word, a current of the only output, or a current by output."""

    name: str
    place: Place
    mains: Stated | None = None
    frequency: Stated | None = None
    load: str = ""  # full | none | shorted | overload: held just below shut-down | '' when given as currents
    currents: tuple[tuple[str, Stated], ...] = ()  # output ('' the only one) and its current
    ambient: Stated | None = None
    after: Stated | None = None
    switch_on: str = ""


class Reading(NamedTuple):
    """One value at one condition: what of what."""

    condition: Condition | None
    quantity: str
    target: str  # part, output or place; '' for the whole supply
    stated: Stated
    known_by: str | None
    at_frequency: float | None = None  # ripple_current by frequency


class Test(NamedTuple):
    """Something done to the sample, with an outcome; a key not known to the kind of test is kept as text."""

    test: str
    place: Place
    values: dict[str, Stated]
    words: dict[str, str]
    between: tuple[str, ...] = ()
    done: bool = True


def read_conditions(blocks: dict[str, Node], problems: list[Problem]) -> dict[str, Condition]:
    """The named conditions of a design."""
    return {name: read_condition(node, problems, name) for name, node in blocks.items()}


def read_condition(node: Node, problems: list[Problem], name: str = "") -> Condition:
    """One condition block."""
    found = Condition(name, node.place)
    if not isinstance(node, Mapping):
        problems.append(Problem(node.place, "a condition is a block of keys", "write {mains: 230 V, load: full}"))
        return found
    wanted: dict[str, Dimension] = {"mains": VOLTAGE, "frequency": FREQUENCY, "ambient": CELSIUS, "after": TIME}
    for key, value in node.entries:
        word = key.text
        if word in wanted and isinstance(value, Scalar):
            stated = quantity(value, wanted[word], problems)
            if stated is not None:
                found = found._replace(**{word: stated})  # type: ignore[arg-type]
        elif word == "load":
            found = _load(found, value, problems)
        elif word == "switch_on" and isinstance(value, Scalar):
            found = found._replace(switch_on=value.text)
        elif word not in _CONDITION_KEYS:
            close = nearest(word, _CONDITION_KEYS)
            instead = f"did you mean {close}?" if close else f"known here: {', '.join(_CONDITION_KEYS)}"
            problems.append(Problem(key.place, f"'{word[:60]}' is no key of a condition", instead))
    return found


def _load(condition: Condition, node: Node, problems: list[Problem]) -> Condition:
    if isinstance(node, Scalar):
        if node.text in ("full", "none", "shorted", "overload"):
            return condition._replace(load=node.text)
        stated = quantity(node, CURRENT, problems)
        return condition._replace(currents=(("", stated),)) if stated is not None else condition
    if isinstance(node, Mapping):
        currents = []
        for key, value in node.entries:
            stated = quantity(value, CURRENT, problems) if isinstance(value, Scalar) else None
            if stated is not None:
                currents.append((key.text, stated))
        return condition._replace(currents=tuple(currents))
    problems.append(
        Problem(
            node.place, "a load is a word, a current or a block", "write full, none, overload, 0.8 A or {main: 0.8 A}"
        )
    )
    return condition


def quantity(
    node: Scalar, dimension: Dimension | None, problems: list[Problem], percent: str = "uncertainty"
) -> Stated | None:
    """Read one value of a dimension; None and a problem when it cannot be."""
    try:
        found: Quantity = read_quantity(node.text, node.start, dimension, percent)  # type: ignore[arg-type]
    except ReadingError as error:
        problems.extend(error.problems)
        return None
    return Stated(
        found.value, node.place, found.known_by, found.note, found.statistic, found.nominal, found.typical, found.text
    )


def read_readings(node: Node | None, conditions: dict[str, Condition], problems: list[Problem]) -> tuple[Reading, ...]:
    """The readings block: a list of entries, each `at` one condition or naming the condition of each value."""
    if node is None:
        return ()
    found: list[Reading] = []
    for item in _items(node, "readings", problems):
        at = item.get("at")
        condition: Condition | None = None
        if isinstance(at, Scalar):
            condition = _named(at, conditions, problems)
        elif at is not None:
            condition = read_condition(at, problems)
        known_by = item.get("known_by")
        word = known_by.text if isinstance(known_by, Scalar) else None
        for key, value in item.entries:
            name = key.text
            if name in ("at", "known_by", "capture", "note"):
                continue
            term = VOCABULARY.get(name) if name in QUANTITIES else None
            if term is None:
                close = nearest(name, QUANTITIES)
                instead = f"did you mean {close}?" if close else f"known here: {', '.join(QUANTITIES)}"
                problems.append(Problem(key.place, f"'{name[:60]}' is no quantity a reading may state", instead))
                continue
            _values(found, term, value, condition, conditions, word, problems)
    return tuple(found)


def _values(
    found: list[Reading],
    term: Term,
    node: Node,
    condition: Condition | None,
    conditions: dict[str, Condition],
    known_by: str | None,
    problems: list[Problem],
) -> None:
    """The values of one quantity: one value, a block by target, or a block by target and condition."""
    if isinstance(node, Scalar):
        _one(found, term, "", node, condition, known_by, problems)
        return
    if not isinstance(node, Mapping):
        problems.append(Problem(node.place, f"{term.says} is stated by part or output", "write {C1: 48 degC}"))
        return
    for key, value in node.entries:
        if isinstance(value, Scalar):
            _one(found, term, key.text, value, condition, known_by, problems)
        elif isinstance(value, Mapping):
            for inner, each in value.entries:
                if not isinstance(each, Scalar):
                    problems.append(Problem(each.place, "one value on one line is wanted here", ""))
                elif inner.text in conditions:
                    _one(found, term, key.text, each, conditions[inner.text], known_by, problems)
                elif term.name == "ripple_current" and condition is not None:
                    at = quantity(inner, FREQUENCY, problems)
                    _one(found, term, key.text, each, condition, known_by, problems, at.nominal if at else None)
                else:
                    _named(inner, conditions, problems)
        else:
            problems.append(
                Problem(value.place, "a list stands where a value is wanted", "write one value on one line")
            )


def _one(
    found: list[Reading],
    term: Term,
    target: str,
    node: Scalar,
    condition: Condition | None,
    known_by: str | None,
    problems: list[Problem],
    at_frequency: float | None = None,
) -> None:
    stated = quantity(node, term.dimension, problems)
    if stated is None:
        return
    if condition is None:
        problems.append(
            Problem(node.place, "this reading says no condition", "put `at:` beside it, or name a condition")
        )
        return
    found.append(Reading(condition, term.name, target, stated, known_by, at_frequency))


def _named(node: Scalar, conditions: dict[str, Condition], problems: list[Problem]) -> Condition | None:
    if node.text in conditions:
        return conditions[node.text]
    close = nearest(node.text, conditions)
    instead = f"did you mean {close}?" if close else "list it under conditions"
    problems.append(Problem(node.place, f"'{node.text[:60]}' is no condition of this design", instead))
    return None


def _items(node: Node, what: str, problems: list[Problem]) -> list[Mapping]:
    items = node.items if isinstance(node, Sequence) else (node,)
    found = []
    for item in items:
        if isinstance(item, Mapping):
            found.append(item)
        else:
            problems.append(Problem(item.place, f"{what} are a list of blocks", "write - {…} on a line of its own"))
    return found


_TEST_TERMS = {
    "voltage": VOLTAGE,
    "time": TIME,
    "mains": VOLTAGE,
    "shuts_down_at": CURRENT,
    "frequency": FREQUENCY,
    "ambient": CELSIUS,
    "current": CURRENT,
}
_TEST_WORDS = ("output", "from", "fault", "note", "photo", "known_by")


def read_tests(node: Node | None, problems: list[Problem]) -> tuple[Test, ...]:
    """The tests done to the sample."""
    if node is None:
        return ()
    found = []
    for item in _items(node, "tests", problems):
        kind = item.get("test")
        if not isinstance(kind, Scalar) or kind.text not in TESTS:
            place = kind.place if kind is not None else item.place
            said = kind.text if isinstance(kind, Scalar) else ""
            close = nearest(said, TESTS)
            instead = f"did you mean {close}?" if close else f"known here: {', '.join(TESTS)}"
            problems.append(Problem(place, f"'{said[:60]}' is no test this format knows", instead))
            continue
        values: dict[str, Stated] = {}
        words: dict[str, str] = {}
        between: tuple[str, ...] = ()
        done = True
        for key, value in item.entries:
            name = key.text
            if name == "test":
                continue
            if name == "between" and isinstance(value, Sequence):
                between = tuple(each.text for each in value.items if isinstance(each, Scalar))
            elif name in _TEST_TERMS and isinstance(value, Scalar):
                stated = quantity(value, _TEST_TERMS[name], problems)
                if stated is not None:
                    values[name] = stated
            elif name == "result" and isinstance(value, Scalar):
                done = _result(value, words, values, problems)
            elif name in _TEST_WORDS and isinstance(value, Scalar):
                words[name] = value.text
            else:
                known = [*_TEST_TERMS, *_TEST_WORDS, "between", "result"]
                close = nearest(name, known)
                instead = f"did you mean {close}?" if close else f"known here: {', '.join(known)}"
                problems.append(Problem(key.place, f"'{name[:60]}' is no key of a test", instead))
        found.append(Test(kind.text, item.place, values, words, between, done))
    return tuple(found)


def _result(node: Scalar, words: dict[str, str], values: dict[str, Stated], problems: list[Problem]) -> bool:
    """The outcome of a test: a word, or a figure with its unit."""
    said = read_said_word(node, problems)
    if said in ("held", "broke down", "not done", "unknown", "opened", "did not open", "passed", "failed"):
        words["result"] = said
        return said not in ("not done", "unknown")
    stated = quantity(node, None, [])
    if stated is None:
        words["result"] = said
    else:
        values["result"] = stated
    return True
