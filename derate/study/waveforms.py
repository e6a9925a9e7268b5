"""The mains input over time, worked out again from the rows behind its peaks: what a report draws.

The inputs are those of the rows themselves, so that no picture can use another figure than the ledger does.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from math import inf, pi

from derate.circuit.mains import BRIDGE_DROP, DIODE_DROP
from derate.circuit.pulse import worst_switch_on
from derate.circuit.waveforms import (
    Wave,
    doubled_wave,
    filter_switch_on_wave,
    filtered_wave,
    rectified_wave,
    switch_on_wave,
)
from derate.design.structure import MainsInput
from derate.ledger.entry import Entry, Line, Picture, PictureMark
from derate.ledger.ledger import Ledger
from derate.stress.context import BULK, LINE
from derate.terms.quantities import RUNNING, SWITCH_ON, CaseGroup
from derate.terms.values import Value

_SIZES = ("part.capacitance", "bulk_capacitance")
_SHORTEST = 1e-4  # of a switch-on that is drawn [s]
Read = Callable[[Value], float]


def pictures(ledger: Ledger, mains: MainsInput | None) -> tuple[Picture, ...]:
    """The switch-on and one running cycle of the mains input; a picture without lines says why there is none.

    The line current is drawn at the case of its greatest row, the bulk voltage at that of its least: they lie at two
    ends of the mains frequency, and a curve and the limit beside it are of one case.
    """
    if mains is None:
        return tuple(Picture(kind, None, why="the mains path is not described") for kind in (SWITCH_ON, RUNNING))
    drawn = [_picture(kind, ledger, mains, _greatest(ledger, kind)) for kind in (SWITCH_ON, RUNNING)]
    least = _least(ledger)
    return (*drawn, *([_picture(RUNNING, ledger, mains, least)] if least is not None else []))


def _picture(kind: CaseGroup, ledger: Ledger, mains: MainsInput, row: Entry | None) -> Picture:
    if row is None:
        holes = [one for one in ledger.rows(LINE, "current_peak") if one.case is not None and one.case.group == kind]
        why = next((one.note for one in holes if one.note), "") or "facts are missing that the current depends on"
        return Picture(kind, None, why=why)
    if mains.input == "doubler" and kind == SWITCH_ON:
        why = "a doubler charges one capacitor in each of two half cycles; its figures stand in the ledger"
        return Picture(kind, row.case, why=why)
    try:
        return _switch_on(ledger, mains, row) if kind == SWITCH_ON else _running(ledger, mains, row)
    except (ValueError, ZeroDivisionError, OverflowError, KeyError, IndexError) as trouble:
        return Picture(kind, row.case, why=f"the curves could not be worked out: {trouble}")


def _greatest(ledger: Ledger, group: CaseGroup) -> Entry | None:
    rows = [
        one
        for one in ledger.rows(LINE, "current_peak")
        if one.case is not None and one.case.group == group and isinstance(one.value, Value) and one.value.high < inf
    ]
    return max(rows, key=lambda one: one.value.high if isinstance(one.value, Value) else 0.0, default=None)


def _least(ledger: Ledger) -> Entry | None:
    """The least bulk voltage while it runs."""
    rows = [
        one
        for one in ledger.rows(BULK, "voltage_min")
        if one.case is not None and one.case.group == RUNNING and isinstance(one.value, Value)
    ]
    return min(rows, key=lambda one: one.value.low if isinstance(one.value, Value) else inf, default=None)


class _Inputs:
    """The rows that a row was worked out from, by what they are."""

    def __init__(self, ledger: Ledger, row: Entry) -> None:
        self.numbers = tuple(dict.fromkeys(one for one in row.inputs if 0 < one < row.number))  # each once
        self.rows = [ledger[number] for number in self.numbers]

    def all(self, *names: str) -> list[Value]:
        """Values of every input of these names, in their order."""
        return [one.value for one in self.rows if one.quantity in names and isinstance(one.value, Value)]

    def one(self, name: str) -> Value:
        """The one input of a name. Raises IndexError when there is none."""
        return self.all(name)[0]


def _low(value: Value) -> float:
    return value.low


def _high(value: Value) -> float:
    return value.high


def _middle(value: Value) -> float:
    return value.middle


def _switch_on(ledger: Ledger, mains: MainsInput, row: Entry) -> Picture:
    """At the worst corner over tolerance, and with the parts at nominal; ahead of it the inductance of the row."""
    inputs, case = _Inputs(ledger, row), row.case
    assert case is not None and case.mains is not None and isinstance(row.value, Value)
    width = ledger.find(LINE, "pulse_width", case)
    wide = width.value.high if width is not None and isinstance(width.value, Value) and width.value.high < inf else 0.0
    span = max(_SHORTEST, 12.0 * wide)
    waves = []
    for small, large in ((_low, _high), (_middle, _middle)):
        waves.append(_closing(inputs, mains, case.mains, case.frequency or 50.0, span, small, large))
    times, lines = _joined(waves, ("worst reading, over tolerance", "parts at nominal"))
    mark = PictureMark("greatest line current in the ledger", "A", row.value.high, row.number)
    return Picture(SWITCH_ON, case, times, lines, (mark,), inputs.numbers)


def _closing(
    inputs: _Inputs, mains: MainsInput, volts: float, hertz: float, span: float, small: Read, large: Read
) -> Wave:
    series, sizes = small(inputs.one("series_resistance")), inputs.all(*_SIZES)
    if len(sizes) == 2:
        saturates = inputs.all("rated.saturation_current")
        return filter_switch_on_wave(
            volts,
            hertz,
            series,
            large(sizes[0]),
            small(inputs.one("part.inductance")),
            small(inputs.one("part.resistance")),
            large(sizes[1]),
            angle=pi / 2,
            span=span,
            saturation=small(saturates[0]) if saturates else inf,
        )
    half_wave = mains.input == "half-wave"
    ahead = sum(small(one) for one in inputs.all("line_inductance")[:1])  # the peak falls with it
    found = worst_switch_on(volts, hertz, series, large(sizes[0]), inductance=ahead, half_wave=half_wave)
    return switch_on_wave(
        volts, hertz, series, large(sizes[0]), angle=found.peak_angle, span=span, inductance=ahead, half_wave=half_wave
    )


def _joined(waves: list[Wave], names: tuple[str, ...]) -> tuple[tuple[float, ...], tuple[Line, ...]]:
    """Line currents of several waves on one time axis, straight lines between their points."""
    times = tuple(sorted({t for wave in waves for t in wave.times}))
    lines = []
    for wave, name in zip(waves, names, strict=True):
        lines.append(Line(name, "A", tuple(_at(wave, t) for t in times), worst=name == names[0]))
    return times, tuple(lines)


def _at(wave: Wave, t: float) -> float:
    k = bisect_right(wave.times, t)
    if k == 0 or k == len(wave.times):
        return wave.line[min(k, len(wave.times) - 1)]
    x0, x1, y0, y1 = wave.times[k - 1], wave.times[k], wave.line[k - 1], wave.line[k]
    return y1 if x1 == x0 else y0 + (y1 - y0) * (t - x0) / (x1 - x0)


def _running(ledger: Ledger, mains: MainsInput, row: Entry) -> Picture:
    """One cycle at the case of the greatest line current, or of the least bulk voltage; parts at nominal."""
    inputs, case = _Inputs(ledger, row), row.case
    assert case is not None and case.mains is not None and isinstance(row.value, Value)
    sizes, series = inputs.all(*_SIZES), inputs.one("series_resistance").middle
    load, hertz = inputs.one("power_drawn").middle, case.frequency or 50.0
    if len(sizes) == 2:
        wave = filtered_wave(
            case.mains,
            hertz,
            series,
            sizes[0].middle,
            inputs.one("part.inductance").middle,
            inputs.one("part.resistance").middle,
            sizes[1].middle,
            load,
            drop=BRIDGE_DROP,
        )
    elif mains.input == "doubler":
        wave = doubled_wave(case.mains, hertz, series, sizes[0].middle, load, drop=DIODE_DROP)
    else:
        half_wave = mains.input == "half-wave"
        drop = DIODE_DROP if half_wave else BRIDGE_DROP
        wave = rectified_wave(case.mains, hertz, series, sizes[0].middle, load, drop=drop, half_wave=half_wave)
    if wave is None:
        return Picture(RUNNING, case, why="the bulk capacitor cannot carry this load: the voltage collapses")
    two = ("first bulk capacitor", "second bulk capacitor")
    names = {1: ("bulk voltage",), 2: two, 3: ("bulk voltage", *two)}[len(wave.bulk)]
    if row.subject == BULK:
        lines = [Line(name, "V", points) for name, points in zip(names, wave.bulk, strict=True)]
        mark = PictureMark("least bulk voltage in the ledger", "V", row.value.low, row.number)
    else:
        lines = [Line("line current", "A", wave.line)]
        mark = PictureMark("greatest line current in the ledger", "A", row.value.high, row.number)
    return Picture(RUNNING, case, wave.times, tuple(lines), (mark,), inputs.numbers)
