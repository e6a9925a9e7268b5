"""The capture of a scope as a design names it: which file, columns and factors. The samples are read elsewhere.

    capture: {file: captures/inrush-230V.csv, skip: 3 lines, time: TIME, current: {RF1: CH2}, shunt: 0.1 ohm,
              zero_from: -2..0 ms, trigger: -0.1..20 ms}

A column is named by its head or counted (`column 2`). `shunt` [ohm] turns volts into amperes; `factor` multiplies (a
current probe of 10 A/V has factor 10). `zero_from` is the window before the event whose mean is taken off; `trigger` is
the window that is looked at. The file never lies outside the repository of the design.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from derate.design.bench import DECIMALS, SEPARATORS, TIME_UNITS, CaptureBlock, ReadingBlock
from derate.design.readings import Condition, condition_at
from derate.design.settings import leaves_repository
from derate.design.stated import Stated
from derate.terms.place import Place, Problem
from derate.terms.values import Value


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
    blocks: Iterable[ReadingBlock], conditions: Mapping[str, Condition], design_path: str, problems: list[Problem]
) -> tuple[Capture, ...]:
    """Every capture named in the readings."""
    found = []
    for block in blocks:
        if block.capture is None:
            continue
        if block.at is None:
            problems.append(Problem(block.capture.place, "this capture says no condition", "put `at:` beside it"))
        capture = _capture(block.capture, condition_at(block, conditions), design_path, problems)
        if capture is not None:
            found.append(capture)
    return tuple(found)


def _capture(
    block: CaptureBlock, condition: Condition | None, design_path: str, problems: list[Problem]
) -> Capture | None:
    """One capture; None and problems when it says too little."""
    before = len(problems)
    path = _path(block.file, block.place, design_path, problems)
    written = [quantity for quantity in ("current", "voltage") if quantity in vars(block)]
    if len(written) != 1:
        problems.append(Problem(block.place, "a capture says what it is of", "write current: {RF1: CH2}, or voltage"))
    signal = block.current or block.voltage
    shunt, factor = _number(block.shunt, problems), _number(block.factor, problems)
    if block.shunt is not None and shunt is not None and shunt <= 0.0:
        problems.append(Problem(block.shunt.place, "a shunt has a resistance above zero", "write shunt: 0.1 ohm"))
    if len(problems) > before or path is None or signal is None:
        return None
    target, column = signal
    whole = (factor if factor is not None else 1.0) / (shunt if shunt else 1.0)
    return Capture(
        condition,
        path,
        block.skip,
        block.time or "column 1",
        column,
        target,
        written[0],
        whole,
        block.zero_from,
        block.trigger,
        TIME_UNITS[block.time_unit or "s"],
        SEPARATORS.get(block.separator or "", ""),
        DECIMALS.get(block.decimal or "", ""),
        block.place,
    )


def _path(text: str | None, place: Place, design_path: str, problems: list[Problem]) -> str | None:
    if text is None:
        problems.append(Problem(place, "a capture names its file", "write file: captures/inrush.csv"))
        return None
    target = os.path.normpath(os.path.join(os.path.dirname(design_path), text))
    if os.path.isabs(text) or leaves_repository(design_path, target):
        problems.append(Problem(place, f"'{text[:80]}' lies outside this repository", "name a file inside it"))
        return None
    return target


def _number(stated: Stated | None, problems: list[Problem]) -> float | None:
    if stated is None:
        return None
    if not isinstance(stated.value, Value):
        problems.append(Problem(stated.place, "one figure is wanted here", "write a number with its unit"))
        return None
    return stated.value.middle
