"""Fuzz the formula reader: a text is refused inside itself, or gives two sides that hold what exact inputs give."""

from __future__ import annotations

from math import isnan

import fuzzing

from derate.terms.dimension import CELSIUS, CURRENT, NUMBER, POWER, THERMAL_RESISTANCE, VOLTAGE
from derate.terms.values import Place, Value
from derate.text.formula import CannotEvaluate, Formula
from derate.text.formula_reader import FormulaError, parse

HERE = Place("fuzz", 3, 17)
NAMES = {
    "u": VOLTAGE, "rated.voltage": VOLTAGE, "i": CURRENT, "p": POWER, "r": THERMAL_RESISTANCE, "t": CELSIUS,
    "n": NUMBER,
}  # fmt: skip
RANGES = {
    "u": Value(300, 310, 330, 350), "rated.voltage": Value.exact(400), "i": Value.floor(2), "p": Value(-1, 0, 2, 3),
    "r": Value.exact(2.5), "t": Value.between(20, 70), "n": Value.between(-1, 1),
}  # fmt: skip
SEEDS = (
    "u <= 0.8 * rated.voltage", "t + p * r <= 105 degC - 10 K", "min(u, 400 V) / i >= 2 ohm", "1 / n < 3",
    "max(1 V, u - rated.voltage, -u) > 0 V", "-(u - 3 V) * 2 <= 10 V/us * 3 us", "(n + 2) * (n - 2) <= 50%", "0/0 <= 1",
)  # fmt: skip
PIECES = (
    "<=", ">=", "<", ">", "min(", "max(", "(", ")", ",", " * ", " / ", " - ", " + ", "-", "u", "i", "n", "t", "p",
    "1e300", "1e-300", "e999", " V", " A", " K", " degC", " K/W", "**", "==", "≤", "0", "9" * 20, "ohm", "²",
)  # fmt: skip


def check(text: str) -> None:
    """Parse with and without a comparison, evaluate on ranges and on their ends."""
    for comparison in (True, False):
        try:
            formula = parse(text, HERE, NAMES, comparison)
        except FormulaError as error:
            assert error.problems
            for problem in error.problems:
                begin = problem.place.column - HERE.column
                end = error.ends[problem].column - HERE.column
                assert 0 <= begin <= max(0, len(text) - 1), (problem, text)
                assert begin < end <= max(1, len(text)), (problem, end, text)
                assert len(str(problem)) < 500
            continue
        again(formula)
        evaluated(formula)


def again(formula: Formula) -> None:
    """The words of a formula are a formula with the same words, save where parentheses put in pass the limits."""
    words = formula.words()
    try:
        typed = words.replace("×", "*").replace("≤", "<=").replace("≥", ">=")
        other = parse(typed, HERE, NAMES, bool(formula.comparison))
    except FormulaError as error:
        assert "more than" in str(error), (formula.text, words, str(error))
    else:
        assert other.words() == words


def evaluated(formula: Formula) -> None:
    """The sides on ranges hold the sides on every end of the ranges."""
    try:
        sides = formula.evaluate(RANGES.__getitem__) if formula.comparison else (formula.value(RANGES.__getitem__),)
        formula.numbers(RANGES.__getitem__)
    except CannotEvaluate as error:
        assert error.reason
        return
    for end in (0, 1, 2, 3):
        try:
            points = formula.values(lambda name, end=end: Value.exact(RANGES[name].numbers()[end]))
        except CannotEvaluate:
            continue
        for side, point in zip(sides, points, strict=True):
            assert not any(isnan(number) for number in side.numbers())
            low, high = (side.near, side.far) if end in (1, 2) else (side.low, side.high)
            assert low <= point.near <= high or low <= point.far <= high, (formula.text, side, point)


if __name__ == "__main__":
    fuzzing.run("fuzz the formula reader", check, SEEDS, PIECES)
