"""Charge left at the plug: what stands ahead of the rectifier, the voltage after a time, the limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import inf

from derate.circuit.barrier import discharge_voltage
from derate.design.load import Design
from derate.design.paths import Element, Leaf, leaves
from derate.insulation.row import Writer
from derate.insulation.tables import Family, Found, NoRow, exact, read
from derate.insulation.touch import element_value, greatest_mains
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.terms.quantities import QuantityName, each
from derate.terms.values import Value

# Charge left at the plug: voltage after a time, and the limits of three rules in circulation, each of its own family.
#
# v(t) = V exp(-t / RC), from the crest of the highest mains. Only what lies across the line side counts: the
# rectifier is blocked by a charged bulk capacitor.


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


# Charge left at the plug: capacitance and resistance across the mains ahead of the rectifier, voltage after 1 and 2
# s.
#
# A charged bulk capacitor blocks the rectifier, so only what lies across the line side lets the charge go.


_ROWS: tuple[tuple[QuantityName, float, bool], ...] = (
    ("plug.voltage_after_1_s", 1.0, False),
    ("plug.voltage_after_2_s", 2.0, False),
    ("plug.voltage_after_2_s_one_open", 2.0, True),
)


def plug_rows(writer: Writer, design: Design) -> None:
    """Write what is left at the plug, and what the family allows."""
    mains = design.structure.mains
    if mains is None:
        for name in each("plug.capacitance", *(row[0] for row in _ROWS)):
            writer.hole(SUPPLY, name, (OpenFact(SUPPLY, "circuit.line"),))
        return
    capacitors, resistors, trouble = _sorted(design)
    if trouble:
        writer.hole(SUPPLY, "plug.capacitance", note=trouble)
        return
    capacitance = _across(writer, capacitors, "part.capacitance", "plug.capacitance", adds=True)
    resistance = _across(writer, resistors, "part.resistance", "plug.resistance", adds=False)
    opened = _one_open(writer, resistors)
    highest = greatest_mains(writer)
    _constant(writer, capacitance, resistance)
    for name, seconds, fault in _ROWS:
        _left(writer, name, seconds, highest, capacitance, opened if fault else resistance)
    if writer.family.has("charge_limit"):
        for fault, name in ((False, "needed.plug_voltage"), (True, "needed.plug_voltage_one_open")):
            _limit(writer, name, fault, capacitance)


def _sorted(design: Design) -> tuple[list[Element], list[Element], str]:
    capacitors: list[Element] = []
    resistors: list[Element] = []
    structure = design.structure
    for shunt in structure.mains.shunts if structure.mains is not None else ():
        if shunt.to_earth:
            continue
        names = [leaf.name for leaf in leaves(shunt.element)]
        holds = [all("capacitor" in kind for kind in structure.kinds.get(name, ("?",))) for name in names]
        lets = [all("resistor" in kind for kind in structure.kinds.get(name, ("?",))) for name in names]
        if all(holds):
            capacitors.append(shunt.element)
        elif all(lets):
            resistors.append(shunt.element)
        elif any("capacitor" in kind for name in names for kind in structure.kinds.get(name) or ("capacitor",)):
            # It may hold charge: left out, the plug would look emptier than it is.
            return [], [], f"{', '.join(names)} across the mains is neither a capacitor nor a resistor alone"
    return capacitors, resistors, ""


def _across(writer: Writer, elements: list[Element], fact: QuantityName, name: QuantityName, adds: bool) -> Entry:
    """Elements in parallel: capacitances add, resistances by their reciprocals; none at all is 0 F, or no way out."""
    found: list[Value] = []
    inputs: list[Entry] = []
    for element in elements:
        values: dict[str, Value] = {}
        for leaf in leaves(element):
            subject = Subject("part", (leaf.name,))
            entry = writer.ledger.find(subject, fact)
            if entry is None or not isinstance(entry.value, Value):
                return writer.hole(SUPPLY, name, (OpenFact(subject, fact),))
            values[leaf.name] = entry.value
            inputs.append(entry)
        own = element_value(element, values, series_adds=not adds)
        if own is None:
            return writer.hole(SUPPLY, name, note="a part across the mains has a value of zero")
        found.append(own)
    columns = list(zip(*(one.numbers() for one in found), strict=True))
    if adds:
        value = Value(*(sum(column) for column in columns)) if found else Value.exact(0.0)
    else:
        value = Value(*(1 / sum(1 / one for one in column) for column in columns)) if found else Value.exact(inf)
    names = ", ".join(leaf.name for element in elements for leaf in leaves(element)) or "none"
    return writer.row(SUPPLY, name, value, formula=f"across the mains ahead of the rectifier: {names}", inputs=inputs)


def _one_open(writer: Writer, elements: Sequence[Element]) -> Entry:
    """Resistance left when the worst single resistor opens."""
    name: QuantityName = "plug.resistance_one_open"
    values: dict[str, Value] = {}
    inputs: list[Entry] = []
    for leaf in (leaf for element in elements for leaf in leaves(element)):
        subject = Subject("part", (leaf.name,))
        entry = writer.ledger.find(subject, "part.resistance")
        if entry is None or not isinstance(entry.value, Value):
            return writer.hole(SUPPLY, name, (OpenFact(subject, "part.resistance"),))
        if entry.value.low <= 0:
            return writer.hole(SUPPLY, name, note="a part across the mains has a value of zero")
        values[leaf.name] = entry.value
        inputs.append(entry)
    # Column by column: the one that leaves most is not the same at both ends of the tolerances.
    columns = [{part: value.numbers()[at] for part, value in values.items()} for at in range(4)]
    worst = Value(*(one_open(elements, column) for column in columns))
    return writer.row(SUPPLY, name, worst, formula="what is left when the worst of them is open", inputs=inputs)


def _constant(writer: Writer, capacitance: Entry, resistance: Entry) -> None:
    c, r = capacitance.value, resistance.value
    if not isinstance(c, Value) or not isinstance(r, Value):
        writer.hole(SUPPLY, "plug.time_constant", (*capacitance.missing, *resistance.missing))
        return
    value = Value(*((0.0 if a == 0 else a * b) for a, b in zip(c.numbers(), r.numbers(), strict=True)))
    writer.row(SUPPLY, "plug.time_constant", value, formula="R x C", inputs=[capacitance, resistance])


def _left(
    writer: Writer, name: QuantityName, seconds: float, mains: Entry, capacitance: Entry, resistance: Entry
) -> None:
    v, c, r = mains.value, capacitance.value, resistance.value
    if not isinstance(v, Value) or not isinstance(c, Value) or not isinstance(r, Value):
        missing = [one for entry in (mains, capacitance, resistance) for one in entry.missing]
        writer.hole(SUPPLY, name, missing, note=capacitance.note or resistance.note)
        return
    numbers = []
    for volts, farads, ohms in zip(v.numbers(), c.numbers(), r.numbers(), strict=True):
        numbers.append(voltage_left(volts * 2**0.5, ohms, farads, seconds))
    writer.row(
        SUPPLY,
        name,
        Value(*numbers),
        formula=f"1.414 V exp(-{seconds:g} s / RC)",
        source="exponential discharge",
        inputs=[mains, capacitance, resistance],
    )


def _limit(writer: Writer, name: QuantityName, fault: bool, capacitance: Entry) -> None:
    c = capacitance.value
    if not isinstance(c, Value):
        writer.hole(SUPPLY, name, capacitance.missing, note=capacitance.note)
        return
    try:  # more capacitance allows less voltage
        ends = [float(charge_limit(writer.family, exact(one), fault).value) for one in reversed(c.numbers())]
    except NoRow as reason:
        writer.hole(SUPPLY, name, note=str(reason))
        return
    writer.row(
        SUPPLY,
        name,
        Value(*ends),
        formula="by capacitance with its tolerance",
        source=writer.family.table("charge_limit").source,
        inputs=[capacitance],
    )
