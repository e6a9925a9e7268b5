"""The capture of a scope as a design names it: which file, columns and factors. The samples are read elsewhere.

    capture: {file: captures/inrush-230V.csv, skip: 3 lines, time: TIME, current: {RF1: CH2}, shunt: 0.1 ohm,
              zero_from: -2..0 ms, trigger: -0.1..20 ms}

A column is named by its head or counted (`column 2`). `shunt` [ohm] turns volts into amperes; `factor` multiplies (a
current probe of 10 A/V has factor 10). `zero_from` is the window before the event whose mean is taken off; `trigger` is
the window that is looked at. The file never lies outside the repository of the design.
"""

from __future__ import annotations

import os
import re
from typing import NamedTuple

from derate.design.inside import leaves_repository
from derate.design.readings import Condition, read_condition
from derate.terms.dimension import NUMBER, RESISTANCE, Dimension
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.terms.values import Value
from derate.text.nodes import Mapping, Node, Scalar, Sequence
from derate.text.quantity import read_quantity

KEYS = (
    "file",
    "skip",
    "time",
    "current",
    "voltage",
    "shunt",
    "factor",
    "zero_from",
    "trigger",
    "time_unit",
    "separator",
    "decimal",
    "note",
)
_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
_SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": " "}
_SKIP = re.compile(r"(\d{1,4})(?: lines?)?\Z")


class Capture(NamedTuple):
    """One capture.

    path: the file, joined to the folder of the design; skip: lines ahead of the samples, None to find out
    time: head or number of the time column; column: that of the signal; target: the part it was taken at
    quantity: 'current' or 'voltage'; factor: what a sample is multiplied by to be [A] or [V]
    zero: window whose mean is zero [s]; window: what is looked at [s]; time_unit: seconds of one unit of time
    separator, decimal: '' to find out
    """

    condition: Condition | None
    path: str
    skip: int | None
    time: str
    column: str
    target: str
    quantity: str
    factor: float
    zero: tuple[float, float] | None
    window: tuple[float, float] | None
    time_unit: float
    separator: str
    decimal: str
    place: Place


def read_captures(
    node: Node | None, conditions: dict[str, Condition], design_path: str, problems: list[Problem]
) -> tuple[Capture, ...]:
    """Every capture named in the readings block; `read_readings` has looked at the conditions already."""
    found = []
    for item in node.items if isinstance(node, Sequence) else (node,):
        block = item.get("capture") if isinstance(item, Mapping) else None
        if block is None or not isinstance(item, Mapping):
            continue
        at = item.get("at")
        condition = conditions.get(at.text) if isinstance(at, Scalar) else read_condition(at, []) if at else None
        if at is None:
            problems.append(Problem(block.place, "this capture says no condition", "put `at:` beside it"))
        capture = read_capture(block, condition, design_path, problems)
        if capture is not None:
            found.append(capture)
    return tuple(found)


def read_capture(node: Node, condition: Condition | None, design_path: str, problems: list[Problem]) -> Capture | None:
    """Read one capture block; None and problems when it cannot be."""
    if not isinstance(node, Mapping):
        problems.append(Problem(node.place, "a capture is a block of keys", "write {file: captures/inrush.csv, …}"))
        return None
    before = len(problems)
    texts = {key.text: value.text for key, value in node.entries if isinstance(value, Scalar)}
    places = {key.text: value.place for key, value in node.entries}
    for key, _ in node.entries:
        if key.text not in KEYS:
            close = nearest(key.text, KEYS)
            instead = f"did you mean {close}?" if close else f"known here: {', '.join(KEYS)}"
            problems.append(Problem(key.place, f"'{key.text[:60]}' is no key of a capture", instead))
    path = _path(texts.get("file", ""), places.get("file", node.place), design_path, problems)
    quantity, target, column = _signal(node, problems)
    unit = texts.get("time_unit", "s")
    if unit not in _UNITS:
        problems.append(Problem(places["time_unit"], f"'{unit[:20]}' is no unit of time here", "write s, ms, us or ns"))
    separator = texts.get("separator", "")
    if separator not in ("", *_SEPARATORS):
        words = ", ".join(_SEPARATORS)
        problems.append(Problem(places["separator"], f"'{separator[:20]}' is no separator", f"write one of {words}"))
    decimal = texts.get("decimal", "")
    if decimal not in ("", "point", "comma"):
        problems.append(Problem(places["decimal"], f"'{decimal[:20]}' is no decimal mark", "write point or comma"))
    skip = _skip(texts.get("skip", ""), places.get("skip", node.place), problems)
    shunt = _number(node.get("shunt"), RESISTANCE, "0.1 ohm", problems)
    factor = _number(node.get("factor"), NUMBER, "10", problems)
    zero = _window(node.get("zero_from"), problems)
    window = _window(node.get("trigger"), problems)
    if shunt is not None and shunt <= 0.0:
        problems.append(Problem(places["shunt"], "a shunt has a resistance above zero", "write shunt: 0.1 ohm"))
    if len(problems) > before or path is None:
        return None
    whole = (factor if factor is not None else 1.0) / (shunt if shunt else 1.0)
    return Capture(
        condition,
        path,
        skip,
        texts.get("time", "column 1"),
        column,
        target,
        quantity,
        whole,
        zero,
        window,
        _UNITS[unit],
        _SEPARATORS.get(separator, ""),
        {"point": ".", "comma": ","}.get(decimal, ""),
        node.place,
    )


def _path(text: str, place: Place, design_path: str, problems: list[Problem]) -> str | None:
    if not text:
        problems.append(Problem(place, "a capture names its file", "write file: captures/inrush.csv"))
        return None
    target = os.path.normpath(os.path.join(os.path.dirname(design_path), text))
    if os.path.isabs(text) or leaves_repository(design_path, target):
        problems.append(Problem(place, f"'{text[:80]}' lies outside this repository", "name a file inside it"))
        return None
    return target


def _signal(node: Mapping, problems: list[Problem]) -> tuple[str, str, str]:
    """What was captured, at which part, in which column."""
    for quantity in ("current", "voltage"):
        block = node.get(quantity)
        if isinstance(block, Mapping) and len(block.entries) == 1 and isinstance(block.entries[0][1], Scalar):
            return quantity, block.entries[0][0].text, block.entries[0][1].text
        if block is not None:
            problems.append(Problem(node.place, f"{quantity} names one part and its column", "write {RF1: CH2}"))
            return quantity, "", ""
    problems.append(Problem(node.place, "a capture says what it is of", "write current: {RF1: CH2}"))
    return "current", "", ""


def _skip(text: str, place: Place, problems: list[Problem]) -> int | None:
    if not text:
        return None
    found = _SKIP.match(text)
    if found is None:
        problems.append(Problem(place, f"'{text[:40]}' is no number of lines", "write skip: 3 lines"))
        return None
    return int(found[1])


def _number(node: Node | None, dimension: Dimension, example: str, problems: list[Problem]) -> float | None:
    if node is None:
        return None
    if not isinstance(node, Scalar):
        problems.append(Problem(node.place, "one value on one line is wanted here", f"write {example}"))
        return None
    try:
        value = read_quantity(node.text, node.start, dimension).value
    except ReadingError as error:
        problems.extend(error.problems)
        return None
    if not isinstance(value, Value):
        problems.append(Problem(node.place, "one figure is wanted here", f"write {example}"))
        return None
    return value.middle


_WINDOW = re.compile(r"(-?\d+(?:\.\d+)?)\s*\.\.\s*(-?\d+(?:\.\d+)?)\s*(s|ms|us|ns)\Z")


def _window(node: Node | None, problems: list[Problem]) -> tuple[float, float] | None:
    """A window of time [s]; times before the trigger are negative, which no quantity of a part is."""
    if node is None:
        return None
    found = _WINDOW.match(node.text.strip()) if isinstance(node, Scalar) else None
    if found is None or float(found[1]) >= float(found[2]):
        problems.append(Problem(node.place, "a window of time is wanted here", "write -2..0 ms"))
        return None
    return float(found[1]) * _UNITS[found[3]], float(found[2]) * _UNITS[found[3]]
