"""Snubbers as walked, their loss, and the rate of voltage change on the capacitors of clamp and snubbers."""

from __future__ import annotations

from typing import NamedTuple

from derate.circuit.edges import ACROSS_THE_SWITCH, BEHIND_A_RESISTOR, PULSE_CURRENT, TAKES_THE_PEAK, WITH_A_DIODE
from derate.circuit.secondary import SNUBBER_OF_RECTIFIER, SNUBBER_OF_SWITCH
from derate.design.paths import Element, Group, Path, leaves
from derate.ledger.entry import SUPPLY, Entry, OpenFact
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, in_series_and_parallel, only, part
from derate.stress.mains.bulk_states import bulk_high
from derate.terms.cases import OVERLOAD, RUNNING, CaseGroup
from derate.terms.quantities import QuantityName
from derate.terms.values import Value
from derate.terms.words import CAPACITORS, RESISTORS
from derate.topologies.flyback.circuit import parts_of
from derate.topologies.flyback.clamp import ClampShape, clamp_of, joined, parallel_capacitance, shares
from derate.topologies.flyback.operating import Inputs
from derate.topologies.flyback.shape import STANDING, FlybackShape, OutputShape, assumed

# Snubbers as walked: what each lies across, its resistors, capacitors and diodes, and one value of each kind.


class Snubber(NamedTuple):
    """One snubber; series: nothing but resistors and capacitors, the two kinds in series."""

    across: str
    whole: Element
    resistors: tuple[str, ...]
    capacitors: tuple[str, ...]
    diodes: tuple[str, ...]
    series: bool

    @property
    def bare(self) -> bool:
        """Whether it is nothing but capacitors."""
        names = {leaf.name for leaf in leaves(self.whole)}
        return bool(names) and names == set(self.capacitors)


def snubbers_of(context: Context) -> tuple[Snubber, ...]:
    """Every snubber of the structure."""
    snubbers = parts_of(context.structure).snubbers
    return tuple(_snubber(context, across, path) for across, path in snubbers.items() if path)


def _snubber(context: Context, across: str, path: Path) -> Snubber:
    must = context.structure.must_be
    members = tuple(step.element for step in path)
    whole: Element = members[0] if len(members) == 1 else Group("series", members)
    names = [leaf.name for leaf in leaves(whole)]
    resistors = tuple(name for name in names if must(name, *RESISTORS))
    capacitors = tuple(name for name in names if must(name, *CAPACITORS))
    diodes = tuple(name for name in names if "diode" in (context.structure.one_kind(name) or ""))
    kinds = [_kind(member, resistors, capacitors) for member in _in_series(whole)]
    return Snubber(across, whole, resistors, capacitors, diodes, {"resistors", "capacitors"} == set(kinds))


def _in_series(element: Element) -> list[Element]:
    """The members of an element that stand in series, all the way down."""
    if isinstance(element, Group) and element.joined == "series":
        return [one for member in element.members for one in _in_series(member)]
    return [element]


def _kind(element: Element, resistors: tuple[str, ...], capacitors: tuple[str, ...]) -> str:
    names = {leaf.name for leaf in leaves(element)}
    return "resistors" if names <= set(resistors) else "capacitors" if names <= set(capacitors) else "other"


def capacitance_of(context: Context, snubber: Snubber) -> Entry:
    """Capacitance of its capacitors, as a standing row of the first."""
    return _of(context, only(snubber.whole, snubber.capacitors), "part.capacitance", "output_capacitance", True)


def resistance_of(context: Context, snubber: Snubber) -> Entry:
    """Resistance of its resistors, as a standing row of the first."""
    return _of(context, only(snubber.whole, snubber.resistors), "part.resistance", "clamp_resistance", False)


def bare_capacitance(context: Context, switch: str | None) -> Entry | None:
    """Capacitance that lies across the switch with no resistor to take its charge; None where there is none."""
    found = [one for one in snubbers_of(context) if one.across == switch and one.bare]
    return capacitance_of(context, found[0]) if found else None


def _of(
    context: Context, element: Element | None, fact: QuantityName, quantity: QuantityName, capacitors: bool
) -> Entry:
    assert element is not None
    names = [leaf.name for leaf in leaves(element)]
    rows = {name: context.need(part(name), fact) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    value = in_series_and_parallel(element, values, capacitors)
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    if value is None:
        missing = [one for row in rows.values() for one in row.missing]
        return context.ledger.hole(part(names[0]), quantity, missing, case=STANDING, inputs=inputs, rests_on=rests)
    return context.ledger.write(
        part(names[0]),
        quantity,
        value,
        case=STANDING,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="parts joined as walked",
        source="Kirchhoff",
    )


# Loss of resistor-capacitor snubbers across the switch or an output rectifier: C V² f, half at each edge.


# The swing of the node: the whole plateau across a switch, the whole reverse voltage across a rectifier.
_AT_SWITCH = Model.of(
    "loss of a snubber across the switch",
    SNUBBER_OF_SWITCH,
    "text-book: half of C V² at each edge",
    "C × (bulk + reflected)² × frequency",
)
_AT_RECTIFIER = Model.of(
    "loss of a snubber across a rectifier",
    SNUBBER_OF_RECTIFIER,
    "text-book: half of C V² at each edge",
    "C × (output + bulk / turns ratio)² × frequency",
)


def solve_snubbers(context: Context, shape: FlybackShape) -> None:
    """Write the power of every snubber's resistors, at the highest mains where it is greatest."""
    for snubber in snubbers_of(context):
        if not snubber.resistors or not snubber.capacitors:
            continue
        found = _row(context, shape, snubber.across, capacitance_of(context, snubber), snubber.resistors[0])
        share = shares(context, only(snubber.whole, snubber.resistors))
        edges = 0.5 if snubber.diodes else 1.0  # a diode beside the resistor takes one of the two edges
        for name in snubber.resistors:
            for case in context.plan.cases(["power"], [RUNNING]):
                if not isinstance(found.value, Value) or name not in share:
                    missing = found.missing or (OpenFact(part(name), "part.resistance"),)
                    context.ledger.hole(part(name), "power", missing, case=case, note=found.note)
                    continue
                context.ledger.write(
                    part(name),
                    "power",
                    found.value.scaled(share[name] * edges),
                    case=case,
                    known_by="computed",
                    inputs=(found.number,),
                    rests_on=found.rests_on,
                    formula=found.formula,
                    source=found.source,
                    note="at the highest mains, where it is greatest",
                )


def _row(context: Context, shape: FlybackShape, across: str, capacitance: Entry, first: str) -> Entry:
    """The loss of one whole snubber, as a standing row of its first resistor."""
    frequency = shape.frequency or context.need(SUPPLY, "control.frequency")
    inputs: Inputs = {"capacitance": capacitance, "bulk": bulk_high(context), "frequency": frequency}
    wanted: list[Wanted] = [(part(first), "power", "power")]
    output = _output_of(shape, across)
    primary = shape.primary.winding if shape.primary is not None else None
    if across in (shape.switch, primary):
        inputs["reflected"] = shape.reflected
        return context.ledger.work_out(_AT_SWITCH, inputs, wanted, case=STANDING)[0]
    if output is None:
        note = f"a snubber across {across} is not worked out: only across the switch or an output rectifier"
        return context.ledger.hole(part(first), "power", (), case=STANDING, note=note)
    inputs |= {"voltage": output.voltage, "ratio": output.ratio}
    return context.ledger.work_out(_AT_RECTIFIER, inputs, wanted, case=STANDING)[0]


def _output_of(shape: FlybackShape, across: str) -> OutputShape | None:
    """The output whose rectifier or winding a snubber lies across."""
    return next((one for one in shape.outputs if across in (*one.walked.rectifier, *one.walked.windings)), None)


# Rate of voltage change on the capacitors of clamp and snubbers, and the pulse of current that makes it.
#
# A clamp capacitor takes the whole peak of the primary while its diode conducts: dv/dt = I / C. A capacitor behind a
# resistor sees at most its swing over R C; one bare across the switch rises with the peak current over C and falls as
# fast as the switch turns on. All are upper figures: what else hangs at the node takes its share. Source: i = C
# dv/dt.


_SOURCE = "i = C dv/dt, upper figure"


CHARGED = Model.of(
    "slope of a capacitor that takes the peak current", TAKES_THE_PEAK, _SOURCE, "peak current / capacitance"
)
BEHIND_RESISTOR = Model.of(
    "slope of a capacitor behind a resistor", BEHIND_A_RESISTOR, _SOURCE, "swing / (resistance × capacitance)"
)
BARE = Model.of(
    "slope of a capacitor across the switch",
    ACROSS_THE_SWITCH,
    _SOURCE,
    "the greater of swing / edge and peak current / capacitance",
)
WITH_DIODE = Model.of(
    "slope of a snubber capacitor with a diode",
    WITH_A_DIODE,
    _SOURCE,
    "the greater of peak current and swing / resistance, over the capacitance",
)
PULSE = Model.of("pulse current of a capacitor", PULSE_CURRENT, _SOURCE, "capacitance × slope")


def solve_edges(context: Context, shape: FlybackShape) -> None:
    """Write slope and pulse current of every capacitor in clamp and snubbers."""
    clamp, snubbers = clamp_of(context), snubbers_of(context)
    total = _clamp_capacitance(context, clamp)
    for group in (RUNNING, OVERLOAD):
        current = _peak(context, shape, group)
        if total is not None and current is not None:
            _write(context, clamp.capacitors, CHARGED, {"current": current, "capacitance": total}, group)
        for snubber in snubbers:
            if snubber.capacitors:
                _snubber_edges(context, shape, snubber, group, current)


def _clamp_capacitance(context: Context, clamp: ClampShape) -> Entry | None:
    """What the peak current charges: the capacitors joined as walked, so that two in series count as the less."""
    if not clamp.capacitors:
        return None
    element = only(clamp.whole, clamp.capacitors) if clamp.whole is not None else None
    if element is None:
        return parallel_capacitance(context, clamp.capacitors)
    return joined(context, element, "part.capacitance", "clamp_capacitance", capacitors=True)


def _peak(context: Context, shape: FlybackShape, group: CaseGroup) -> Entry | None:
    """Peak of the switch current in a group of cases."""
    if shape.switch is None:
        return None
    return context.need(part(shape.switch), "current_peak", context.plan.cases(["current_peak"], [group])[0])


def _snubber_edges(
    context: Context, shape: FlybackShape, snubber: Snubber, group: CaseGroup, current: Entry | None
) -> None:
    """Slope and pulse current of the capacitors of one snubber."""
    capacitance = capacitance_of(context, snubber)
    swing, at_switch = _swing(context, shape, snubber.across, group)
    inputs: Inputs = {"capacitance": capacitance}
    model = None
    if swing is not None:
        inputs["swing"] = swing
        if snubber.series:
            model = BEHIND_RESISTOR
            inputs["resistance"] = resistance_of(context, snubber)
        elif at_switch and current is not None and shape.switch is not None:
            inputs["current"] = current
            if snubber.bare:
                model = BARE
                inputs["edge"] = context.fact(part(shape.switch), "part.switching_time") or assumed(
                    context, "switching_edge", part(shape.switch), "switching_edge", "part.switching_time"
                )
            elif snubber.resistors and snubber.diodes:
                model = WITH_DIODE
                inputs["resistance"] = resistance_of(context, snubber)
    if model is not None:
        _write(context, snubber.capacitors, model, inputs, group)
        return
    note = f"not covered: the slope of the capacitors of this snubber across {snubber.across}"
    for name in snubber.capacitors:
        for case in context.plan.cases(["voltage_slope"], [group]):
            context.ledger.hole(part(name), "voltage_slope", (), case=case, note=note)


def _swing(context: Context, shape: FlybackShape, across: str, group: CaseGroup) -> tuple[Entry | None, bool]:
    """What the voltage across a snubber swings over, and whether it lies at the switch."""
    primary = shape.primary.winding if shape.primary is not None else None
    if shape.switch is not None and across in (shape.switch, primary):
        cases = context.plan.cases(["voltage_peak"], [group])
        return context.need(part(shape.switch), "voltage_peak", cases[-1]), True
    for one in shape.outputs:
        if across in (*one.walked.rectifier, *one.walked.windings) and one.walked.rectifier:
            cases = context.plan.cases(["reverse_voltage"], [group])
            return context.need(part(one.walked.rectifier[0]), "reverse_voltage", cases[-1]), False
    return None, False


def _write(context: Context, names: tuple[str, ...], model: Model, inputs: Inputs, group: CaseGroup) -> None:
    """One slope for all capacitors of a clamp or snubber, and each one's own pulse."""
    for name in names:
        for case in context.plan.cases(["voltage_slope"], [group]):
            slope = context.ledger.work_out(model, inputs, [(part(name), "voltage_slope", "slope")], case=case)[0]
            own = context.need(part(name), "part.capacitance")
            for at in context.plan.cases(["current_peak"], [group]):
                context.ledger.work_out(
                    PULSE, {"slope": slope, "capacitance": own}, [(part(name), "current_peak", "current")], case=at
                )
