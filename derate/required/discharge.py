"""Charge left at the plug: voltage after a time, and the limits of three rules in circulation, each of its own family.

v(t) = V exp(-t / RC), from the crest of the highest mains. Only what lies across the line side counts: the rectifier is
blocked by a charged bulk capacitor.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import inf

from derate.circuit.touch_current import discharge_voltage
from derate.design.paths import Element, Leaf, leaves
from derate.required.family import Family
from derate.required.lookup import Found, read


def voltage_left(crest: float, resistance: float, capacitance: float, seconds: float) -> float:
    """Voltage left [V] after a time [s]; a resistance of infinity [ohm] lets nothing go. Ranges: discharge_voltage.

    >>> round(voltage_left(373.4, 1.5e6, 0.69e-6, 2.0))
    54
    """
    if min(crest, resistance, capacitance, seconds) < 0:
        raise ValueError("state crest, resistance, capacitance and time of 0 or more")
    if capacitance == 0:
        return 0.0
    if resistance == inf:
        return crest
    return discharge_voltage(crest, resistance, capacitance, seconds)


def charge_limit(family: Family, capacitance: Fraction, single_fault: bool) -> Found:
    """62368-1: voltage of a capacitor that may be touched [V peak]; capacitance [F] with its tolerance.

    ES1 in normal use, ES2 in a single fault; read in a straight line between the rows.
    """
    level = "single fault" if single_fault else "normal"
    return read(family.table("charge_limit"), capacitance, level=level)


def one_open(elements: Sequence[Element], ohms: Mapping[str, float]) -> float:
    """Resistance [ohm] left across the mains when the worst single resistor opens; all elements lie in parallel.

    Infinite where nothing is left, and where there was nothing to open.
    """
    names = [leaf.name for element in elements for leaf in leaves(element)]
    return max((_in_parallel(elements, dict(ohms) | {name: inf}) for name in names), default=inf)


def _in_parallel(elements: Sequence[Element], ohms: Mapping[str, float]) -> float:
    conductance = sum(1 / _resistance(element, ohms) for element in elements)
    return 1 / conductance if conductance else inf


def _resistance(element: Element, ohms: Mapping[str, float]) -> float:
    if isinstance(element, Leaf):
        return ohms[element.name]
    if element.joined == "parallel":
        return _in_parallel(element.members, ohms)
    return sum(_resistance(member, ohms) for member in element.members)
