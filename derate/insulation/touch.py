"""What a person can touch: current through whatever bridges the barrier, and the charge left at the plug."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import inf

from derate.circuit.barrier import bridged, discharge_voltage
from derate.design.load import Design
from derate.design.record import Stated
from derate.design.structure import Element, Group, Leaf, leaves
from derate.insulation.circuits import Protection
from derate.insulation.distances import Family, Found, NoRow, exact, read
from derate.insulation.row import Writer
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.packs.pack import Assumption
from derate.terms.quantities import each, named, paired
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value
from derate.terms.words import CAPACITORS, CONFIDENCES, RESISTORS

# Touch current of whatever bridges the barrier, at the greatest voltage, frequency and tolerance, and its limits.


def greatest_mains(writer: Writer) -> Entry:
    """Highest mains voltage with its tolerance [V rms], a hole when the plate or the tolerance is not known."""
    missing = (OpenFact(SUPPLY, "plate.mains"), OpenFact(SUPPLY, "site.mains_tolerance"))
    return _plan_end(writer, "mains", "insulation.highest_mains", missing)


def greatest_frequency(writer: Writer) -> Entry:
    """Highest mains frequency [Hz], a hole when the plate does not say."""
    return _plan_end(writer, "frequency", "insulation.highest_frequency", (OpenFact(SUPPLY, "plate.frequency"),))


def _plan_end(writer: Writer, what: str, name: QuantityName, missing: tuple[OpenFact, ...]) -> Entry:
    ends = getattr(writer.ledger.plan, what, None)
    if ends is None:
        return writer.hole(SUPPLY, name, missing)
    inputs = [found for fact in (named(f"plate.{what}"),) if (found := writer.ledger.find(SUPPLY, fact)) is not None]
    return writer.row(SUPPLY, name, Value.exact(ends[1]), formula="highest, tolerance included", inputs=inputs)


def element_value(element: Element, values: Mapping[str, Value], series_adds: bool) -> Value | None:
    """Value of parts in series and in parallel; `series_adds` for resistances, not for capacitances. None: unknown."""
    if isinstance(element, Leaf):
        return values.get(element.name)
    found = [element_value(member, values, series_adds) for member in element.members]
    known = [one for one in found if one is not None]
    if len(known) < len(found) or any(one.low <= 0 for one in known):
        return None
    columns = list(zip(*(one.numbers() for one in known), strict=True))
    if (element.joined == "series") == series_adds:
        return Value(*(sum(column) for column in columns))
    return Value(*(1 / sum(1 / one for one in column) for column in columns))


def touch_rows(writer: Writer, design: Design, protection: Protection, assumptions: Mapping[str, Assumption]) -> None:
    """Bridging capacitance, touch current (rms and peak) and its limits, about the supply."""
    mains, frequency = greatest_mains(writer), greatest_frequency(writer)
    total = _capacitance(writer, design)
    winding = _winding(writer, assumptions)
    tied = _tied(design)

    model = Model.of(
        f"touch current, tied to {tied}",
        bridged(tied),
        "2 pi f C V; on a bulk rail 0.707 of it, the peak unchanged",
        "2 pi f (bridging + winding capacitance) V",
    )
    inputs = {"mains": mains, "frequency": frequency, "bridging": total, "winding": winding}
    outputs: list[Wanted] = [
        (SUPPLY, writer.named("touch_current"), "rms"),
        (SUPPLY, writer.named("touch_current_peak"), "peak"),
    ]
    computed = writer.ledger.work_out(model, inputs, outputs)
    shorted = _one_shorted(writer, design, total)
    if shorted is not None:
        peak: list[Wanted] = [(SUPPLY, writer.named("touch_current_peak_one_shorted"), "peak")]
        writer.ledger.work_out(model, inputs | {"bridging": shorted}, peak)
    _measured(writer, design, computed)
    _limits(writer, protection)


def _capacitance(writer: Writer, design: Design) -> Entry:
    bridges = design.structure.bridges
    if bridges is None:
        return writer.hole(SUPPLY, "bridging_capacitance", (OpenFact(SUPPLY, "circuit.bridging"),))
    total = Value.exact(0.0)
    inputs: list[Entry] = []
    for bridge in bridges:
        values: dict[str, Value] = {}
        if unknown := [name for name in bridge.names if not design.structure.kinds.get(name)]:
            return writer.hole(
                SUPPLY,
                "bridging_capacitance",
                tuple(OpenFact(Subject("part", (name,)), "part.kind") for name in unknown),
            )
        capacitors = [name for name in bridge.names if design.structure.may_be(name, *CAPACITORS)]
        if not capacitors:
            continue
        for name in capacitors:
            subject = Subject("part", (name,))
            entry = writer.ledger.find(subject, "part.capacitance")
            if entry is None or not isinstance(entry.value, Value):
                return writer.hole(SUPPLY, "bridging_capacitance", (OpenFact(subject, "part.capacitance"),))
            values[name] = entry.value
            inputs.append(entry)
        own = element_value(bridge.element, values, series_adds=False)
        if own is None:
            return writer.hole(SUPPLY, "bridging_capacitance", note=f"{bridge.names} is no plain capacitor")
        total = Value(*(a + b for a, b in zip(total.numbers(), own.numbers(), strict=True)))
    return writer.row(
        SUPPLY,
        "bridging_capacitance",
        total,
        formula="all capacitors from primary to secondary, with tolerance",
        inputs=inputs,
    )


def _series(element: Element) -> list[Group]:
    """Every series of an element, those beside other parts included."""
    if isinstance(element, Leaf):
        return []
    return [element] if element.joined == "series" else [one for member in element.members for one in _series(member)]


def _one_shorted(writer: Writer, design: Design, total: Entry) -> Entry | None:
    """Bridging capacitance with one capacitor of the worst series shorted; None where none are in series.

    Shorting a capacitor that stands alone joins the two sides: its class decides on that one (`bridge.provides`).
    """
    series = [
        element
        for bridge in design.structure.bridges or ()
        for element in _series(bridge.element)
        if all(design.structure.may_be(leaf.name, *CAPACITORS) for leaf in leaves(element))
    ]
    if design.structure.bridges is None:
        writer.hole(SUPPLY, "bridging.series", (OpenFact(SUPPLY, "circuit.bridging"),))
        return None
    longest = Value.exact(float(max((len(one.members) for one in series), default=0)))
    writer.row(SUPPLY, "bridging.series", longest, formula="most capacitors in one series across the barrier")
    if not series:
        return None
    if not isinstance(total.value, Value):
        return writer.hole(SUPPLY, "bridging_capacitance_one_shorted", total.missing, note=total.note)
    values = {
        leaf.name: entry.value
        for element in series
        for leaf in leaves(element)
        if (entry := writer.ledger.find(Subject("part", (leaf.name,)), "part.capacitance")) is not None
        and isinstance(entry.value, Value)
    }
    more: list[Value] = []
    for element in series:
        own = element_value(element, values, series_adds=False)
        for gone in range(len(element.members)):
            rest = element.members[:gone] + element.members[gone + 1 :]
            left = element_value(Group("series", rest), values, series_adds=False)
            if own is None or left is None:
                return writer.hole(SUPPLY, "bridging_capacitance_one_shorted", note=f"{element} is no plain capacitor")
            more.append(
                Value(
                    *(b - a + t for a, b, t in zip(own.numbers(), left.numbers(), total.value.numbers(), strict=True))
                )
            )
    value = Value(*(max(column) for column in zip(*(one.numbers() for one in more), strict=True)))
    return writer.row(
        SUPPLY,
        "bridging_capacitance_one_shorted",
        value,
        formula="the same with the worst one of a series shorted",
        inputs=[total],
    )


def _winding(writer: Writer, assumptions: Mapping[str, Assumption]) -> Entry:
    found, fact = assumptions.get("winding_capacitance"), OpenFact(Subject("transformer"), "winding_capacitance")
    if found is None:
        return writer.hole(SUPPLY, "winding_capacitance", (fact,))
    return writer.ledger.write(
        SUPPLY,
        writer.named("winding_capacitance"),
        found.bounded,
        known_by="assumed",
        source=found.source,
        note=found.says,
        rests_on=frozenset((fact,)) if found.rests else frozenset(),
    )


def _tied(design: Design) -> str:
    """Where the bridging capacitors sit on the primary: the line, never smaller, unless all say a bulk rail.

    Only a full bridge holds a rail still for half of the time: behind any other rectifier it rides on a conductor.
    """
    if design.structure.mains is None or design.structure.mains.input != "full bridge":
        return "line"
    own = [b for b in design.structure.bridges or () if any(design.structure.may_be(n, *CAPACITORS) for n in b.names)]
    rails = [point for bridge in own for point in bridge.between if point in ("bulk plus", "bulk minus")]
    return rails[0] if own and len(rails) == len(own) else "line"


def _measured(writer: Writer, design: Design, computed: tuple[Entry, ...]) -> None:
    """A touch-current test or reading that says more than was computed governs, as it would be at the greatest mains;
    what flows at the switching frequency is in it."""
    found = [
        (test.result.stated, test.place, test.mains, test.known)
        for test in design.tests
        if test.test == "touch current" and test.done and test.result.stated is not None
    ]
    found += [
        (one.stated, one.stated.place, one.condition.mains if one.condition is not None else None, one.known)
        for one in design.readings
        if one.quantity == "touch_current"
    ]
    for result, place, mains, known in found:
        if not isinstance(result.value, Value):
            continue
        peak = result.statistic == "peak"
        read = _at_the_greatest_mains(writer, result.value, mains)
        row = writer.row(
            SUPPLY,
            "touch_current_measured",
            read,
            formula="touch current read" + ("" if read == result.value else " × greatest mains / mains there"),
            place=place,
            known_by=known,
        )
        name: QuantityName = "touch_current_peak" if peak else "touch_current"
        entry = writer.find(SUPPLY, name) or computed[1 if peak else 0]
        if entry.value is None:  # what was read flowed, whatever else is not known: at least that
            note = f"at least what was read; {entry.note}".rstrip("; ")
            inputs, floor = [entry, row], Value.floor(read.near)
            writer.row(SUPPLY, name, floor, formula="at least what was read", inputs=inputs, note=note)
        elif isinstance(entry.value, Value) and (read.near > entry.value.near or read.high > entry.value.high):
            value = Value(*(max(pair) for pair in zip(entry.value.numbers(), read.numbers(), strict=True)))
            writer.row(SUPPLY, name, value, formula="larger of reading and computation", inputs=[entry, row])


def _at_the_greatest_mains(writer: Writer, read: Value, mains: Stated | None) -> Value:
    """What flows through a capacitance grows with the voltage: the current read, at the greatest mains, never less.

    Read at a mains that nobody wrote down, it may have been read at the lowest of the plate.
    """
    ends = getattr(writer.ledger.plan, "mains", None)
    if ends is None:
        return read
    at = mains.value if mains is not None else None
    there = at if isinstance(at, Value) and at.low > 0.0 else Value.between(*ends)
    least, most = max(1.0, ends[1] / there.high), max(1.0, ends[1] / there.low)
    return Value(read.low * least, read.near * least, read.far * most, read.high * most)


def _limits(writer: Writer, protection: Protection) -> None:
    if not writer.family.has("touch_current"):
        note = f"nothing was read on touch current in {writer.family.name}"
        writer.hole(SUPPLY, "needed.touch_current", note=note)
        writer.hole(SUPPLY, "needed.touch_current_peak", note=note)
        return
    table = writer.family.table("touch_current")
    earthed = protection.classes == ("I",) and protection.earthed is True
    may_be = "I" in protection.classes and protection.earthed is not False
    reaches = ("earthed",) if earthed else ("unearthed", "earthed") if may_be else ("unearthed",)
    for name, statistic in paired(("needed.touch_current", "rms"), ("needed.touch_current_peak", "peak")):
        found = [read(table, reach=reach, statistic=statistic) for reach in reaches]
        low, high = min(float(one.value) for one in found), max(float(one.value) for one in found)
        weakest = max((one.confidence for one in found), key=CONFIDENCES.index)
        writer.row(
            SUPPLY,
            name,
            Value.between(low, high),
            formula=f"limit for {' or '.join(reaches)} parts, {statistic}",
            source=table.source,
            confidence=weakest,
        )


# Charge left at the plug: what stands ahead of the rectifier, the voltage after a time, the limits.


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
    if resistance == 0:
        return 0.0
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
    mains = design.structure.inlet
    if mains is None:
        for name in each("plug.capacitance", *(row[0] for row in _ROWS)):
            writer.hole(SUPPLY, name, (OpenFact(SUPPLY, "circuit.line"),))
        return
    capacitors, resistors, trouble = _sorted(design)
    if trouble:
        writer.hole(SUPPLY, "plug.capacitance", note=trouble)
        return
    connection = writer.ledger.find(SUPPLY, "supply.connection")
    if connection is not None and connection.value == Category.of("fixed wiring"):
        told = "wired in: there are no pins to take hold of"
        writer.row(SUPPLY, "plug.capacitance", Value.exact(0.0), formula=told, inputs=[connection])
        return
    capacitance = _across(writer, capacitors, "part.capacitance", "plug.capacitance", adds=True)
    resistance = _across(writer, resistors, "part.resistance", "plug.resistance", adds=False)
    opened = _one_open(writer, resistors)
    if other := _other_ways(writer, design):
        resistance = _at_most(writer, "plug.resistance", resistance, other)
        opened = _at_most(writer, "plug.resistance_one_open", opened, other)
    highest = greatest_mains(writer)
    _constant(writer, capacitance, resistance)
    for name, seconds, fault in _ROWS:
        _left(writer, name, seconds, highest, capacitance, opened if fault else resistance)
    if writer.family.has("charge_limit"):
        for fault, name in ((False, "needed.plug_voltage"), (True, "needed.plug_voltage_one_open")):
            _limit(writer, name, fault, capacitance)


_KEEPS_OR_LETS = (*CAPACITORS, *RESISTORS, "varistor", "spark gap", "suppressor diode")


def _other_ways(writer: Writer, design: Design) -> str:
    """Why the charge may go by another way than the resistors that are listed; '' where they are all there is."""
    mains = design.structure.inlet
    shunts = mains.shunts if mains is not None else ()
    names = [name for shunt in shunts if not shunt.to_earth for name in shunt.names]
    circuits = [name for name in names if not design.structure.may_be(name, *_KEEPS_OR_LETS)]
    if circuits:
        return (
            f"{', '.join(circuits)} across the mains may be a circuit that discharges it: that is judged by its own "
            "qualification, or by a discharge test"
        )
    listed = writer.ledger.find(SUPPLY, "supply.parts_list")
    if listed is None or listed.value != Category.of("complete"):
        return "the parts list is not said to be complete: a discharge resistor may be among what is not listed"
    return ""


def _at_most(writer: Writer, name: QuantityName, resistance: Entry, why: str) -> Entry:
    """What is listed as the most that the charge has to go through."""
    value = resistance.value
    if not isinstance(value, Value):
        return resistance
    least = Value(0.0, 0.0, value.far, value.high)
    words = "at most what is listed"
    return writer.row(SUPPLY, name, least, formula=words, inputs=[resistance], note=why)


def _sorted(design: Design) -> tuple[list[Element], list[Element], str]:
    capacitors: list[Element] = []
    resistors: list[Element] = []
    structure = design.structure
    for shunt in structure.inlet.shunts if structure.inlet is not None else ():
        if shunt.to_earth:
            continue
        names = [leaf.name for leaf in leaves(shunt.element)]
        if unknown := [name for name in names if not structure.kinds.get(name)]:
            return [], [], f"what kind of part {', '.join(unknown)} across the mains is nobody says"
        holds = [all("capacitor" in kind for kind in structure.kinds[name]) for name in names]
        lets = [all("resistor" in kind for kind in structure.kinds[name]) for name in names]
        if all(holds):
            capacitors.append(shunt.element)
        elif all(lets):
            resistors.append(shunt.element)
        elif any("capacitor" in kind for name in names for kind in structure.kinds[name]):
            # It may hold charge: left out, the plug would look emptier than it is.
            return [], [], f"{', '.join(names)} across the mains is neither a capacitor nor a resistor alone"
    for held, across in structure.own.holding:
        names = [leaf.name for leaf in leaves(held)]
        if capacitors:
            told = f"{', '.join(names)} in series and a capacitor across the mains share what they keep"
            return [], [], f"{told}, which is not worked out: read what is left at the pins"
        # what lies across the mains discharges it through the clamp alone, which leaves the voltage of that
        capacitors, resistors = [held], list(across)
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
    note = resistance.note
    writer.row(SUPPLY, "plug.time_constant", value, formula="R x C", inputs=[capacitance, resistance], note=note)


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
        note=resistance.note,
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
