"""Fuzz the reader of quantities: every text is read finite and rising, or refused by ReadingError inside the text."""

from __future__ import annotations

from math import inf, isfinite

import fuzzing

from derate.terms.dimension import CAPACITANCE, INDUCTANCE, LENGTH, RESISTANCE, VOLTAGE, Dimension
from derate.terms.values import Place, ReadingError, Value
from derate.text.quantity import Quantity, read_figures, read_quantity

DIMENSIONS: tuple[Dimension | None, ...] = (None, VOLTAGE, RESISTANCE, CAPACITANCE, INDUCTANCE, LENGTH)
HERE = Place("fuzz", 3, 17)
SEEDS = (
    "6.8 ohm 5%", "4.7 uF -20..+50%", "6.1..6.4 mm", "0.86..0.90..0.94 V", "under 1 mm", ">= 5 mm", "about 2 kV",
    "0.62 V at 5 A and 125 degC", "6.1 mm (measured; photo 7)", "unknown", "not done", "4k7 1%", "R47", "1n5",
    "22 uF 20% 50 V 105 degC", "100-240 V", "1,500 V", "1e-3 A", "10 to 1", "6 mm ± 0.2 mm", "2 A at 55 degC",
)  # fmt: skip
PIECES = (
    "..", " at ", " and ", "%", "±", "+/-", "e99", "e-99", "e9999", "(", ")", "(measured", "; ", "under ", "over ",
    "about ", "degC", "Vpk", "mA²s", "ohm", "Ω", "\u2126", "µ", "k", "M", "R", ",", "-", "−", "#", "9" * 30, "0", ".",
    "nan", "inf", "unknown", "\u00a0", "٣", "\n",
)  # fmt: skip


def check(text: str) -> None:
    """Read a text for every dimension, alone and as figures."""
    for dimension in DIMENSIONS:
        try:
            sound(read_quantity(text, HERE, dimension, "uncertainty" if len(text) % 2 else "tolerance"))
        except ReadingError as error:
            inside(error, text)
    try:
        for quantity in read_figures(text, HERE, CAPACITANCE):
            sound(quantity)
    except ReadingError as error:
        inside(error, text)


def sound(quantity: Quantity) -> None:
    """Four rising numbers, infinite only at the open end of a bound."""
    if not isinstance(quantity.value, Value):
        return
    assert quantity.dimension is not None
    numbers = quantity.value.numbers()
    assert list(numbers) == sorted(numbers)
    if quantity.bound not in ("under", "over"):
        assert all(isfinite(number) for number in numbers), quantity
    else:
        assert numbers[0] != inf and numbers[3] != -inf
    assert all(isfinite(number) for number, _ in quantity.at)


def inside(error: ReadingError, text: str) -> None:
    """Every problem lies inside the text and is said in words."""
    for problem in error.problems:
        assert problem.what and len(str(problem)) < 700, problem
        assert problem.place.line == HERE.line
        assert 0 <= problem.place.column - HERE.column <= max(0, len(text) - 1), (problem, text)


if __name__ == "__main__":
    fuzzing.run("fuzz the reader of quantities", check, SEEDS, PIECES)
