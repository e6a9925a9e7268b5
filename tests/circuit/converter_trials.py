"""Helpers of the converter tests: random designs, and the proof of a declared sign."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Mapping
from pathlib import Path

DATA = Path(__file__).parent.parent / "data"


def rows(name: str) -> list[dict]:
    return json.loads((DATA / name).read_text(encoding="utf-8"))["rows"]


def draw(ranges: Mapping[str, tuple[float, float]], source: random.Random) -> dict[str, float]:
    """One design; logarithmic where the range spans more than a factor of three above zero, else even."""
    design = {}
    for name, (low, high) in ranges.items():
        if low > 0 and high > 3 * low:
            design[name] = math.exp(source.uniform(math.log(low), math.log(high)))
        else:
            design[name] = source.uniform(low, high)
    return design


def prove_signs(
    function: Callable[..., float],
    ranges: Mapping[str, tuple[float, float]],
    signs: Mapping[str, int],
    *,
    designs: int = 200,
    seed: int = 1,
) -> None:
    """Every declared sign holds between neighbouring and far values of each input; a 0 is shown to go both ways."""
    source = random.Random(seed)
    seen: dict[str, set[int]] = {name: set() for name in signs}
    moved: dict[str, bool] = dict.fromkeys(signs, False)
    tried = refused = 0
    for _ in range(designs):
        base = draw(ranges, source)
        for name, sign in signs.items():
            low, high = ranges[name]
            values = sorted({base[name], min(high, base[name] * 1.02), *(source.uniform(low, high) for _ in range(3))})
            outputs = []
            for value in values:
                tried += 1
                try:
                    outputs.append(function(**(base | {name: value})))
                except ValueError:
                    refused += 1
            for before, after in zip(outputs, outputs[1:], strict=False):
                slack = 1e-9 * max(abs(before), abs(after), 1e-12)
                step = 0 if abs(after - before) <= slack else (1 if after > before else -1)
                moved[name] |= step != 0
                seen[name].add(step)
                assert sign == 0 or step in (0, sign), f"{name} declared {sign:+d}, went {step:+d} at {base}"
    assert refused < 0.5 * tried, f"{refused} of {tried} designs were refused: the proof is too thin"
    for name, sign in signs.items():
        assert moved[name], f"{name} never moved the output: leave it out of the signs"
        if sign == 0:
            assert {1, -1} <= seen[name], f"{name} is declared 0 but went only {seen[name]}"


def hold_range(
    call: Callable[[float], object],
    name: str,
    low: float,
    high: float = math.inf,
    *,
    open_low: bool = False,
) -> None:
    """Both ends of a range are taken (with `open_low` not low itself), the next number beyond each is refused by name.

    So are NaN and infinity. A refusal for another reason, by another name, counts as taken.
    """

    def refused(value: float) -> bool:
        try:
            call(value)
        except ValueError as error:
            return str(error).startswith((f"{name} is ", f"{name} has no upper limit"))
        return False

    assert refused(low) if open_low else not refused(low), f"{name} at its lower end {low:g}"
    assert not refused(low + 0.5 * min(1.0, high - low)), f"{name} is refused a little above {low:g}"
    assert refused(math.nextafter(low, -math.inf)), f"{name} below {low:g} is taken"
    if math.isfinite(high):
        assert not refused(high), f"{name} is refused at its upper end {high:g}"
        assert refused(math.nextafter(high, math.inf)), f"{name} above {high:g} is taken"
    assert refused(math.nan) and refused(math.inf), f"{name} is taken without being finite"
