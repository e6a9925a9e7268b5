"""Error bands and range checks shared by the formulas of the converter.

A band (low, high) beside a formula says: true / computed - 1 lies within low..high.
"""

from __future__ import annotations

import math

Band = tuple[float, float]


def in_range(name: str, value: float, low: float, high: float, unit: str, *, open_low: bool = False) -> None:
    """Refuse a value outside low..high (low itself too with `open_low`), NaN and infinity; the text gives the range.

    >>> in_range("dT", 25.0, 0.0, 20.0, "K")
    Traceback (most recent call last):
    ValueError: dT is 25 K: state a value from 0 K to 20 K
    """
    inside = value > low if open_low else value >= low
    if math.isfinite(value) and inside and value <= high:
        return
    gap = f" {unit}" if unit else ""
    start = f"above {low:g}{gap}" if open_low else f"from {low:g}{gap}"
    if math.isinf(high):
        wanted = f"a finite value {start}" + ("" if open_low else " up")
    elif open_low:
        wanted = f"a value {start}, at most {high:g}{gap}"
    else:
        wanted = f"a value {start} to {high:g}{gap}"
    raise ValueError(f"{name} is {value:g}{gap}: state {wanted}")


def widened(value: float, band: Band) -> tuple[float, float]:
    """Lowest and highest true value of a computed one, for a positive `value` and its band.

    >>> widened(100.0, (-0.25, 0.5))
    (75.0, 150.0)
    """
    return value * (1 + band[0]), value * (1 + band[1])
