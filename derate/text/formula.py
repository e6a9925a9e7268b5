"""The formula language of rules: `voltage_peak <= 0.8 * rated.voltage`, `min(0.7 * rated.power, 2 W)`.

Numbers with bare units, dotted names, `+ - * /`, `min`, `max`, parentheses, one comparison at most. Names and
dimensions are checked when a formula is parsed, so a pack that compares a voltage with a current does not load.
Nothing is executed: a formula is plain data, a tree of at most 400 characters and 30 levels and the same laid flat.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal, NamedTuple

from derate.terms.dimension import Dimension
from derate.terms.place import Place
from derate.terms.values import Value
from derate.text.tree import CannotEvaluate, Name, Number, Side, Term, written
from derate.text.units import show_value

__all__ = ["CannotEvaluate", "Comparison", "Formula"]

Comparison = Literal["", "<", "<=", ">", ">="]

_SHOWN = {"": "", "<": "<", "<=": "≤", ">": ">", ">=": "≥"}


class Formula(NamedTuple):
    """A formula that was checked: its sides, its comparison ('' when there is none), the dimension of its sides.

    left, right: the terms as read; sides: the same laid flat, which is what is evaluated
    """

    text: str
    place: Place
    left: Term
    right: Term | None
    comparison: Comparison
    dimension: Dimension
    names: tuple[str, ...]
    sides: tuple[Side, ...]

    def evaluate(self, lookup: Callable[[str], Value]) -> tuple[Value, Value]:
        """Both sides. Raises CannotEvaluate, and whatever `lookup` raises for a name without a value."""
        left, right = self.values(lookup)
        return left, right

    def value(self, lookup: Callable[[str], Value]) -> Value:
        """The one side of a formula without a comparison. Raises CannotEvaluate."""
        (value,) = self.values(lookup)
        return value

    def values(self, lookup: Callable[[str], Value]) -> list[Value]:
        """What each side comes to, one or two of them. Raises as `evaluate` does."""
        values = [lookup(name) for name in self.names]
        return [side.value(values) for side in self.sides]

    def left_words(self) -> str:
        """The left side with its names."""
        return written(self.left, lambda name: name.name)

    def words(self) -> str:
        """The formula with its names: `voltage_peak ≤ 0.8 × rated.voltage`."""
        left = self.left_words()
        if self.right is None:
            return left
        return f"{left} {_SHOWN[self.comparison]} {written(self.right, lambda name: name.name)}"

    def numbers(self, lookup: Callable[[str], Value]) -> str:
        """The formula with numbers for its names, and what each side comes to: `0.8 × 400 V = 320 V`."""
        values = self.values(lookup)
        sides = [
            self._derivation(term, value, lookup)
            for term, value in zip((self.left, self.right), values, strict=False)
            if term is not None
        ]
        return f" {_SHOWN[self.comparison]} ".join(sides)

    def _derivation(self, term: Term, value: Value, lookup: Callable[[str], Value]) -> str:
        def shown(name: Name) -> str:
            text = show_value(lookup(name.name), name.dimension)
            bare = re.fullmatch(r"-?[0-9.]+( [^ ]+)?", text) is not None
            return text if bare and not text.startswith("-") or isinstance(term, Name) else f"({text})"

        text, result = written(term, shown), show_value(value, self.dimension)
        return text if isinstance(term, Name | Number) or text == result else f"{text} = {result}"
