"""A capture in words: its figures, what they were held against, and the reading to write into the design."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from derate.report.plain import plain, wrapped
from derate.report.words import quantity_words
from derate.terms.dimension import CURRENT, ENERGY, I2T, TIME, VOLTAGE
from derate.terms.values import Value
from derate.terms.vocabulary import DIMENSIONS
from derate.text.units import show, show_value

_CAUTION = (
    "A mains input is live throughout: captures are taken with an isolated probe or behind an isolating transformer, "
    "by people who are trained to."
)


def capture_lines(compared: Any, width: int | None) -> Iterator[str]:
    """One capture (`derate.study.bench.Compared`) as text. width: columns to wrap at, None for a pipe."""
    event, capture = compared.event, compared.capture
    unit = CURRENT if capture.quantity == "current" else VOLTAGE
    columns = width if width is not None else 10_000
    where = capture.condition
    at = f", {plain(where.switch_on)}" if where is not None and where.switch_on else ""
    yield f"{plain(capture.path)}: {capture.quantity} of {plain(capture.target)}{at}"
    rows = [("peak", show(event.peak, unit)), ("rms over the window", show(event.rms, unit))]
    if unit == CURRENT:
        rows += [("I²t", show(event.i2t, I2T)), ("equivalent width", show(event.width, TIME))]
    if compared.energy is not None:
        rows.append(("energy in the part", show_value(compared.energy, ENERGY)))
    rows.append(
        ("window", f"{show(event.duration, TIME)}, {event.samples} samples, {show(event.interval, TIME)} apart")
    )
    for name, text in rows:
        yield f"  {name}: {text}"
    for held in compared.held:
        dimension = DIMENSIONS[held.quantity]
        read = show_value(held.captured, dimension)
        row = held.computed
        if row is None:
            told = "nothing is worked out for it at this condition"
        elif not isinstance(row.value, Value):
            told = f"not worked out: {', '.join(row.missing) or row.note}"
        else:
            word = "agrees with" if held.agrees else "is beyond both tolerances of"
            told = f"{word} {show_value(row.value, dimension)} worked out"
        yield from wrapped(f"{quantity_words(held.quantity)}: {read} {told}", columns, "  ", "    ")
    for says in compared.says:
        yield from wrapped(f"note: {says}", columns, "  ", "    ")
    yield from wrapped(f"to be judged, write beside `at`: {reading_text(compared)}", columns, "  ", "    ")


def reading_text(compared: Any) -> str:
    """The figures as a reading of the design, with the uncertainty used."""
    event, capture = compared.event, compared.capture
    percent = f" {100 * compared.uncertainty:.3g}%" if compared.uncertainty else ""
    double = f" {200 * compared.uncertainty:.3g}%" if compared.uncertainty else ""
    bound = "over " if event.in_doubt else ""
    percent, double = ("", "") if bound else (percent, double)
    if capture.quantity != "current":
        return f"voltage_peak: {{{capture.target}: {bound}{event.peak:.4g} V{percent}}}"
    return (
        f"current_peak: {{{capture.target}: {bound}{event.peak:.4g} A{percent}}}, "
        f"i2t: {{{capture.target}: {bound}{event.i2t:.4g} A²s{double}}}"
    )


def caution_lines(width: int | None) -> Iterator[str]:
    """The caution that stands under every capture."""
    yield from wrapped(_CAUTION, width if width is not None else 10_000)
