"""Elementary laws under many names: products, ratios, sums, and the slopes of capacitors."""

from __future__ import annotations

from math import inf, prod

from derate.circuit.numerics import Band, in_range
from derate.terms.values import Formula, giving

# Arithmetic that stands under many names: products, ratios, sums, figures passed on. Signs are stated once here.


_POSITIVE = (1e-3, 1e3)
_ANY = (-1e3, 1e3)


def product(output: str, *factors: str) -> Formula:
    """The product of numbers that are never negative: it rises with each.

    >>> product("power", "voltage", "current").solve(voltage=5.0, current=2.0)
    {'power': 10.0}
    """

    def multiplied(**inputs: float) -> float:
        return prod((inputs[name] for name in factors[1:]), start=inputs[factors[0]])

    return giving(output, multiplied, dict.fromkeys(factors, 1), dict.fromkeys(factors, (0.0, 1e3)))


def ratio(output: str, over: str, under: str, band: Band | None = None) -> Formula:
    """One number that is never negative over a positive one: it rises with the first and falls with the second.

    >>> ratio("current", "voltage", "resistance").solve(voltage=5.0, resistance=2.0)
    {'current': 2.5}
    """

    def divided(**inputs: float) -> float:
        return inputs[over] / inputs[under]

    return giving(output, divided, {over: 1, under: -1}, {over: (0.0, 1e3), under: _POSITIVE}, band)


def total(output: str, *addends: str) -> Formula:
    """The sum of numbers of either sign: it rises with each.

    >>> total("delay", "limit", "storage").solve(limit=1.0, storage=2.5)
    {'delay': 3.5}
    """

    def added(**inputs: float) -> float:
        return sum(inputs[name] for name in addends)

    return giving(output, added, dict.fromkeys(addends, 1), dict.fromkeys(addends, _ANY))


def set_ratio(*outputs: str) -> Formula:
    """Voltage that a divider of one or several outputs sets, over the voltages of their plate.

    ref (1/lower + sum 1/upper) / (sum plate/upper), by the sum of the currents at the reference's input, which takes
    none itself. With one output it is ref (1 + upper/lower) / plate. Inputs: `reference` [V], `lower` [ohm], and of
    each output `upper_NAME` [ohm], `plate_NAME` [V].

    >>> round(set_ratio("main").solve(reference=2.5, lower=1e3, upper_main=3.8e3, plate_main=12.0)["ratio"], 6)
    1.0
    """

    def over(**inputs: float) -> float:
        uppers = [inputs[f"upper_{name}"] for name in outputs]
        drawn = inputs["reference"] * (1.0 / inputs["lower"] + sum(1.0 / one for one in uppers))
        fed = sum(inputs[f"plate_{name}"] / one for name, one in zip(outputs, uppers, strict=True))
        return drawn / fed

    upper_sign = 1 if len(outputs) == 1 else 0  # of several outputs one resistor weighs its own against the others
    signs = {"reference": 1, "lower": -1}
    signs |= {f"upper_{name}": upper_sign for name in outputs} | {f"plate_{name}": -1 for name in outputs}
    ranges = {"reference": (0.5, 40.0), "lower": (100.0, 1e6)}
    ranges |= {f"upper_{name}": (100.0, 1e6) for name in outputs} | {f"plate_{name}": (1.0, 60.0) for name in outputs}
    return giving("ratio", over, signs, ranges)


def passed(output: str, band: Band | None = None) -> Formula:
    """A figure passed on as it is, with the band of what stands behind it.

    >>> passed("voltage").solve(voltage=5.0)
    {'voltage': 5.0}
    """

    def same(**inputs: float) -> float:
        return inputs[output]

    return giving(output, same, {output: 1}, {output: _ANY}, band)


# Slopes of capacitors: what drives a voltage up or down, and the pulse current that a slope means.
#
# i = C dv/dt, an upper figure: no edge is steeper than the current that charges the capacitor allows. Slopes [V/s].


# true / computed - 1: what the part sees is anything below, down to nothing where the edge is slow.
ERROR: dict[str, Band] = {"slope": (-0.9, 0.02)}
_VALUES = {
    "current": (0.0, 5.0),
    "capacitance": (1e-11, 1e-8),
    "swing": (10.0, 1000.0),
    "resistance": (10.0, 1e3),
    "edge": (1e-8, 1e-6),
    "slope": (0.0, 1e11),
}


def _own(capacitance: float) -> float:
    in_range("capacitance", capacitance, 0.0, inf, "F", open_low=True)
    return capacitance


def _takes_the_peak(current: float, capacitance: float) -> float:
    return current / _own(capacitance)


def _behind_a_resistor(swing: float, resistance: float, capacitance: float) -> float:
    return swing / (resistance * _own(capacitance))


def _across_the_switch(swing: float, edge: float, current: float, capacitance: float) -> float:
    return max(swing / edge, current / _own(capacitance))


def _with_a_diode(swing: float, resistance: float, current: float, capacitance: float) -> float:
    return max(swing / resistance, current) / _own(capacitance)


def _pulse_current(slope: float, capacitance: float) -> float:
    return slope * capacitance


def _ranges(*names: str) -> dict[str, tuple[float, float]]:
    return {name: _VALUES[name] for name in names}


TAKES_THE_PEAK = giving(
    "slope", _takes_the_peak, {"current": 1, "capacitance": -1}, _ranges("current", "capacitance"), ERROR["slope"]
)
BEHIND_A_RESISTOR = giving(
    "slope",
    _behind_a_resistor,
    {"swing": 1, "resistance": -1, "capacitance": -1},
    _ranges("swing", "resistance", "capacitance"),
    ERROR["slope"],
)
ACROSS_THE_SWITCH = giving(
    "slope",
    _across_the_switch,
    {"swing": 1, "edge": -1, "current": 1, "capacitance": -1},
    _ranges("swing", "edge", "current", "capacitance"),
    ERROR["slope"],
)
WITH_A_DIODE = giving(
    "slope",
    _with_a_diode,
    {"swing": 1, "resistance": -1, "current": 1, "capacitance": -1},
    _ranges("swing", "resistance", "current", "capacitance"),
    ERROR["slope"],
)
PULSE_CURRENT = giving("current", _pulse_current, {"slope": 1, "capacitance": 1}, _ranges("slope", "capacitance"))
