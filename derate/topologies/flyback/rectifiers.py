"""Output rectifiers and snubbers: reverse voltage with its ringing, losses, slopes on capacitors."""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit import secondary
from derate.circuit.elementary import ACROSS_THE_SWITCH, BEHIND_A_RESISTOR, PULSE_CURRENT, TAKES_THE_PEAK, WITH_A_DIODE
from derate.circuit.magnetics import SEEN_LEAKAGE
from derate.circuit.secondary import ERROR, SNUBBER_OF_RECTIFIER, SNUBBER_OF_SWITCH, junction_equivalent, ringing_crest
from derate.design.readings import Reading
from derate.design.structure import Element, Group, Path, leaves
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject, listed_facts
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, in_series_and_parallel, only, part, repeated
from derate.stress.mains.bulk_states import bulk_high
from derate.terms.quantities import FULL_LOAD, OVERLOAD, RUNNING, CaseGroup, each
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Value
from derate.terms.words import CAPACITORS, RESISTORS
from derate.topologies.flyback.circuit import parts_of
from derate.topologies.flyback.operating import Inputs
from derate.topologies.flyback.shape import STANDING, FlybackShape, OutputShape, assumed, synchronous
from derate.topologies.flyback.switch import ClampShape, clamp_of, joined, parallel_capacitance, shares

# Snubbers as walked, their loss, and the rate of voltage change on the capacitors of clamp and snubbers.


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
    "own derivation: half of C V² at each edge",
    "C × (bulk + reflected)² × frequency",
)
_AT_RECTIFIER = Model.of(
    "loss of a snubber across a rectifier",
    SNUBBER_OF_RECTIFIER,
    "own derivation: half of C V² at each edge",
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
    for name in snubber.capacitors:
        _charged(context, name, swing, group, snubber, len(snubber.capacitors))
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


def _charged(context: Context, name: str, swing: Entry | None, group: CaseGroup, snubber: Snubber, among: int) -> None:
    """The voltage that a capacitor of a snubber is charged to: all of the swing, of several some share of it."""
    for case in context.plan.cases(["voltage_peak"], [group]):
        if swing is None or not isinstance(swing.value, Value):
            missing = swing.missing if swing is not None else ()
            note = swing.note if swing is not None else ""
            note = note or f"not covered: the voltage of a snubber across {snubber.across}"
            context.ledger.hole(part(name), "voltage_peak", missing, case=case, note=note)
            continue
        whole = swing.value if among == 1 else Value(0.0, 0.0, swing.value.far, swing.value.high)
        context.ledger.write(
            part(name),
            "voltage_peak",
            whole,
            case=case,
            known_by="computed",
            inputs=(swing.number,),
            rests_on=swing.rests_on,
            formula="what the snubber lies across",
            source="Kirchhoff; its resistor carries nothing between the edges",
        )


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


# Output and auxiliary rectifiers: reverse voltage with its ringing, forward power.


# Ringing of an output rectifier worked out from the resistor-capacitor snubber across it.
#
# What it needs: the snubber's two values, the leakage inductance seen from the winding, the rectifier's junction
# capacitance with its voltage, and of anything but a Schottky diode the reverse current as it stops conducting.
# Without one of them the reverse voltage stays a floor, and the note says which is missing.


# Data sheets print a typical capacitance: single parts lie 30 % below to 25 % above it; common practice, no source.
SPREAD = (0.70, 1.25)
WINDING = 50e-12  # capacitance of a secondary of few turns and its wiring, at most [F]; common practice, no source
LEAST_LOOP = 0.5e-9  # at least: less than a millimetre of wire [H]; common practice, no source
LOOP = 20e-9  # inductance of the loop outside the transformer, at most [H]; common practice, no source


def _model(at: float, recovers: bool) -> Model:
    """Crest of the reverse voltage over its flat part, junction capacitance given at a reverse voltage [V].

    A slow edge makes no crest at all: the lower end is the flat part, less the share of it that the leakage keeps.
    """

    def solve(
        *,
        leakage: float,
        given: float,
        stray: float,
        resistance: float,
        capacitance: float,
        voltage: float,
        bulk: float,
        ratio: float,
        recovery: float,
        grading: float,
        shape: float,
    ) -> dict[str, float]:
        step = voltage + bulk / ratio
        low, high = junction_equivalent(given, at, step)
        crest = ringing_crest(leakage, low + grading * (high - low) + stray, resistance, capacitance, step, recovery)
        return {"ringing": 1.0 + shape * (crest.high - 1.0)}

    more = 0 if recovers else 1  # with a reverse current a smaller capacitance makes a higher spike
    signs = {
        "leakage": 0,
        "given": more,
        "stray": more,
        "resistance": 0,
        "capacitance": -1,
        "voltage": 0 if recovers else -1,
        "bulk": 0 if recovers else -1,
        "ratio": 0 if recovers else 1,
        "recovery": 1,
        "grading": more,
        "shape": 1,
    }
    return Model(
        "ringing of a rectifier with its snubber",
        solve,
        {"ringing": signs},
        "own, Kirchhoff: leakage, junction and snubber; band held to ngspice 39",
        "crest of the step response over its end",
        {"ringing": (ERROR["reverse_floor"][0], 0.0)},
    )


def snubbed_ringing(context: Context, name: str, one: OutputShape, shape: FlybackShape) -> tuple[Entry | None, str]:
    """Crest over flat part by the snubber, as a row of the rectifier; None and the reason where it stays unknown."""
    found = [each for each in snubbers_of(context) if each.across in (*one.walked.rectifier, *one.walked.windings)]
    if not found:
        return None, ""
    snubber = found[0]
    partial = snubber.across in one.walked.windings and len(one.walked.windings) > 1  # not across the whole winding
    if len(found) > 1 or not snubber.series or one.walked.rectifier != (name,) or partial:
        return None, "only one resistor and capacitor in series across a single rectifier are worked out"
    subject = part(name)
    curve = context.curve(subject, "rated.junction_capacitance")
    if curve is None:
        return None, f"its snubber is not counted on without the junction_capacitance of {subject} with its voltage"
    recovers = not context.structure.must_be(name, "Schottky diode")
    recovery = context.fact(subject, "part.recovery_current") if recovers else 0.0
    if recovery is None:
        return None, f"its snubber is not counted on without the recovery_current of {subject}"
    leakage = _leakage(context, one, shape)
    resistance = resistance_of(context, snubber)
    capacitance = capacitance_of(context, snubber)
    at, given = curve.points[-1]
    inputs: Inputs = {
        "leakage": leakage,
        "given": _spread(context, subject, given),
        "stray": Value.between(0.0, WINDING),
        "resistance": resistance,
        "capacitance": capacitance,
        "voltage": one.voltage,
        "bulk": bulk_high(context),
        "ratio": one.ratio,
        "recovery": recovery,
        "grading": Value.between(0.0, 1.0),
        "shape": Value.between(0.0, 1.0),
    }
    model = _model(at, recovers)
    ringing = context.ledger.work_out(model, inputs, [(subject, "part.ringing", "ringing")], case=STANDING)[0]
    if isinstance(ringing.value, Value):
        return ringing, ""
    told = ringing.note or f"find out {listed_facts(ringing.missing)}"
    return None, f"its snubber is not counted on: {told}"


def _spread(context: Context, subject: Subject, given: Value) -> Entry:
    stated = context.need(subject, "rated.junction_capacitance")
    low, near, far, high = given.numbers()
    value = Value(low * SPREAD[0], near * SPREAD[0], far * SPREAD[1], high * SPREAD[1])
    return context.ledger.write(
        subject,
        "junction_capacitance",
        value,
        case=STANDING,
        known_by=stated.known_by,
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        place=stated.place,
        formula="as printed, 30 % less to 25 % more",
        source="spread of single parts: common practice, no source",
    )


def _leakage(context: Context, one: OutputShape, shape: FlybackShape) -> Entry:
    """Leakage inductance in the rectifier's loop: stated of its winding, else the primary's through the turns."""
    ledger, windings = context.ledger, one.walked.windings
    own = context.fact(Subject("winding", (windings[0],)), "winding.leakage") if len(windings) == 1 else None
    if own is None and len(shape.outputs) > 1:  # shorted together, the outputs share what is measured at the primary
        names = [OpenFact(Subject("winding", (name,)), "winding.leakage") for name in windings]
        return ledger.hole(one.subject, "leakage", names, case=STANDING)
    if own is None:
        own = ledger.work_out(
            REFERRED,
            {"leakage": shape.leakage, "ratio": one.ratio},
            [(one.subject, "leakage", "leakage")],
            case=STANDING,
        )[0]
    if not isinstance(own.value, Value):
        return own
    low, near, far, high = own.value.numbers()
    return ledger.write(
        one.subject,
        "leakage",
        Value(low + LEAST_LOOP, near + LEAST_LOOP, far + LOOP, high + LOOP),
        case=STANDING,
        known_by="computed",
        inputs=(own.number,),
        rests_on=own.rests_on,
        formula="leakage, and 0.5 to 20 nH of wiring",
        source="wiring: common practice, no source",
    )


REFERRED = Model.of("leakage seen from a secondary", SEEN_LEAKAGE, "own derivation", "primary leakage / turns ratio²")


# Output and auxiliary rectifiers: reverse voltage as a floor unless its ringing is known, forward power.


REVERSE = Model.of(
    "reverse voltage of a rectifier without its ringing",
    secondary.REVERSE,
    "AN-4137 (2004) eq 20",
    "output + bulk / turns ratio",
)
RINGING = Model.of(
    "reverse voltage of a rectifier with its ringing",
    secondary.REVERSE_RINGING,
    "AN-4137 (2004) eq 20, times the crest over the flat part as measured or worked out from the snubber",
    "(output + bulk / turns ratio) × ringing",
)
FORWARD = Model.of("forward power of a rectifier", secondary.FORWARD, "own derivation", "drop × average current")


def solve_rectifiers(context: Context, shape: FlybackShape, readings: Sequence[Reading]) -> None:
    """Reverse voltage and forward power of every output's rectifiers."""
    for one in shape.outputs:
        for name in one.walked.rectifier:
            ringing, note = ringing_of(context, name, one, shape, readings), ""
            if ringing is None:  # stated, then read, then worked out from the snubber, else a floor
                ringing, note = snubbed_ringing(context, name, one, shape)
            inputs: Inputs = {"voltage": one.voltage, "bulk": bulk_high(context), "ratio": one.ratio}
            reverse(context, name, inputs, ringing, note)
            if synchronous(context, one.walked.rectifier):
                _no_loss(context, name)
            else:
                forward(context, name, one.drop)


def _no_loss(context: Context, name: str) -> None:
    """A transistor as rectifier, or a diode beside one: how they share the current is not covered."""
    missing: tuple[OpenFact, ...] = ()
    note = "not covered: losses of a synchronous rectifier are not worked out"
    if not context.structure.kinds.get(name):
        missing, note = (OpenFact(part(name), "part.kind"),), "what rectifies is not known"
    for quantity in each("power", "junction_temperature"):
        for case in context.plan.cases([quantity], [RUNNING]):
            if context.fact(part(name), quantity, case) is None:
                context.ledger.hole(part(name), quantity, missing, case=case, note=note)


def reverse(context: Context, name: str, inputs: Inputs, ringing: Entry | None, why: str = "") -> None:
    """Reverse voltage of one diode at the highest mains: a floor and why, or with its ringing."""
    note = "" if ringing is not None else "the ringing on top of it is not known: this is the least it can be"
    note = f"{note}; {why}" if why else note
    model = REVERSE if ringing is None else RINGING
    with_ringing: Inputs = inputs if ringing is None else {**inputs, "ringing": ringing}
    first: Entry | None = None
    for group in (RUNNING, OVERLOAD):
        for case in context.plan.cases(["reverse_voltage"], [group]):
            if first is None:
                outputs: list[Wanted] = [(part(name), "reverse_voltage", "reverse")]
                first = context.ledger.work_out(model, with_ringing, outputs, case=case, note=note)[0]
            else:
                repeated(context, first, case)


def ringing_of(
    context: Context, name: str, one: OutputShape, shape: FlybackShape, readings: Sequence[Reading]
) -> Entry | None:
    """Crest over flat part of a diode's reverse voltage: stated, or from a reading of the reverse voltage."""
    subject = part(name)
    stated = context.fact(subject, "part.ringing")
    if stated is not None:
        return stated
    found: list[tuple[Value, Reading]] = []
    for reading in readings:
        if reading.quantity != "reverse_voltage" or reading.target != name or reading.condition is None:
            continue
        mains = reading.condition.mains
        if reading.condition.load != FULL_LOAD or mains is None or not isinstance(mains.value, Value):
            continue  # the ringing grows with the load: a light one says nothing of full load
        read = reading.stated.value
        ratio, voltage = one.ratio.value, one.voltage.value
        if not (isinstance(read, Value) and isinstance(ratio, Value) and isinstance(voltage, Value)):
            continue
        flat = voltage.middle + 2**0.5 * mains.value.middle / ratio.middle
        factors = sorted(max(1.0, value / flat) for value in read.numbers())
        # carried to another mains by its share of the flat part; the flat part at the reading is known to a few per
        # cent
        value = Value(factors[0], factors[1], factors[2] * 1.05, max(factors[3], factors[2] * 1.05))
        found.append((value, reading))
    if not found:
        return None
    worst = max(found, key=lambda each: each[0].far)[1]  # of several readings, and of several samples
    ringing = Value(*(max(ends) for ends in zip(*(value.numbers() for value, _ in found), strict=True)))
    unseen = all(one.unseen for _, one in found)  # one that was simulated may ring any further
    return context.ledger.write(
        subject,
        "part.ringing",
        worst.shown(ringing) if unseen else ringing,
        case=STANDING,
        known_by=worst.known,
        inputs=(one.ratio.number, one.voltage.number),
        formula="reading / (output + crest / turns ratio)",
        source="a reading at full load",
        place=worst.stated.place,
        rests_on=one.ratio.rests_on,
    )


def forward(context: Context, name: str, drop: Entry) -> None:
    """Forward power of a diode from its average current."""
    for case in context.plan.cases(["power"], [RUNNING]):
        average = context.need(part(name), "current_average", case)
        context.ledger.work_out(
            FORWARD, {"drop": drop, "average": average}, [(part(name), "power", "power")], case=case
        )
