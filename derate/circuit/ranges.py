"""Range checks shared by the formulas: the value, its unit and the range are always in the message."""

from __future__ import annotations


def need(name: str, value: float, low: float, high: float, unit: str, *, open_low: bool = False) -> None:
    """Refuse a value outside low..high, NaN included.

    name: what the value is, in words; value, low, high in the same unit; open_low: the low end itself is refused
    raises: ValueError that names the value and gives the range
    """
    inside = low < value <= high if open_low else low <= value <= high
    if not inside:  # NaN compares false, so it lands here
        words = f"above {low:g} up to {high:g}" if open_low else f"{low:g} to {high:g}"
        mark = f" {unit}" if unit else ""
        raise ValueError(f"{name} {value:g}{mark} is outside the range of this formula, {words}{mark}")
