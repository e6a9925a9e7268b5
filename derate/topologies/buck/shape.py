"""A buck as its formulas see it: control, inductance, drops, the bulk voltage at each end of the mains, the limit.

What nobody stated is assumed by the pack of this topology where it says so, and otherwise a hole that names the fact.
"""

from __future__ import annotations

from math import inf, pi, sqrt
from typing import NamedTuple

from derate.circuit import buck
from derate.circuit.elementary import passed, ratio, total
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import BULK, Context, Inputs, part, sized
from derate.stress.mains.bulk_states import bulk_high, bulk_low, crest_of_mains
from derate.stress.parts.windings import STANDING, assumed
from derate.terms.quantities import FULL_LOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value
from derate.topologies.buck.circuit import BuckParts, parts_of

SOURCE = "own derivation from volt-seconds and charge; held to ngspice 39"
MODES = {"fixed frequency": "fixed frequency", "burst": "burst", "boundary": "boundary", "self-oscillating": "boundary"}
LIMIT = Model.of("current limit", ratio("limit", "threshold", "resistance"), "Ohm", "threshold / sense resistance")
AS_STATED = Model.of("as stated", passed("value"), "data sheet")
STORED = Model.of(
    "delay of the limit with the storage time of the switch",
    total("delay", "delay", "storage"),
    "own derivation: a saturated switch goes on conducting until its stored charge is gone",
    "delay + storage time",
)
STAGE = Subject("circuit", ("stage",))
HOT = 2.8  # on-resistance of a hot switch over that at 25 degC, at most; common practice, no source


class BuckShape(NamedTuple):
    """The stage, rows in SI units.

    mode: 'fixed frequency', 'boundary', 'limited' (a boundary control whose limit sets the current of a lamp) or
        'burst'; '' where nobody said how it is controlled
    voltage, current: of the output at full load; drop: of the diode with the copper; on_drop: of switch, sense, copper
    limit, delay: of the current limit; rest: before the next period, of a boundary control; lamp: LEDs are the load
    """

    parts: BuckParts
    output: Subject
    mode: str
    inductance: Entry
    voltage: Entry
    current: Entry
    drop: Entry
    on_drop: Entry
    frequency: Entry
    rest: Entry | Value
    limit: Entry
    delay: Entry
    lamp: bool

    @property
    def inverting(self) -> bool:
        return self.parts.inverting

    @property
    def switch(self) -> Subject:
        return part(self.parts.chopper or "")

    @property
    def inductor(self) -> Subject:
        return part(self.parts.inductor)

    @property
    def empties(self) -> bool:
        """Whether each period begins once the inductor has run empty."""
        return self.mode in ("boundary", buck.LIMITED)

    @property
    def key(self) -> tuple[str, bool]:
        """Of the tables of formulas."""
        return self.mode, self.inverting

    def given(self) -> Inputs:
        """What every operating point needs beside the bulk voltage and the load."""
        return {"output": self.voltage, "drop": self.drop, "on_drop": self.on_drop, "inductance": self.inductance}


def shape_of(context: Context) -> BuckShape:
    """Gather the inputs."""
    parts = parts_of(context.structure)
    output = Subject("output", (parts.output,))
    mode = MODES.get(context.word(SUPPLY, "control.type") or "", "")
    current = context.fact(output, "plate.full_current") or context.need(output, "plate.current")
    inductance = context.need(part(parts.inductor), "part.inductance")
    limit = _limit(context, parts)
    delay = _delay(context, parts)
    most = limit if isinstance(limit.value, Value) else current
    shape = BuckShape(
        parts,
        output,
        mode,
        inductance,
        sized(context, context.need(output, "plate.voltage")),
        current,
        _drop(context, parts, most),
        _on_drop(context, parts, most),
        context.need(SUPPLY, "control.frequency") if mode in ("fixed frequency", "burst") else current,
        _rest(context, inductance) if mode == "boundary" else Value.exact(0.0),
        limit,
        delay,
        bool(parts.lights),
    )
    if mode != "boundary" or not shape.lamp or context.structure.own_inlet is not None:
        return shape
    return shape._replace(current=_driven(context, shape), mode=buck.LIMITED)


def controller_of(context: Context, parts: BuckParts) -> str | None:
    """What controls the switch: as named, else the one part of that kind, else the switch itself."""
    named = context.structure.control.by
    if named:
        return named
    kinds = context.structure.kinds
    return next((name for name in kinds if context.structure.must_be(name, "controller")), parts.chopper)


# ---- limit and delay -------------------------------------------------------------------------------------------------


def _limit(context: Context, parts: BuckParts) -> Entry:
    """Current at which the switch opens: of an integrated switch, else the threshold over the sense resistance."""
    ledger, controller = context.ledger, controller_of(context, parts)
    for name in (parts.chopper, controller):
        stated = context.fact(part(name), "part.limit_current") if name else None
        if stated is not None:
            return ledger.work_out(AS_STATED, {"value": stated}, [(STAGE, "current_limit", "value")], case=STANDING)[0]
    threshold = context.fact(part(controller), "part.current_limit") if controller else None
    if threshold is None or parts.sense is None:
        integrated = parts.chopper is not None and context.structure.must_be(parts.chopper, "integrated switch")
        lacking = (
            OpenFact(part(parts.chopper or ""), "part.limit_current")
            if integrated or parts.sense is None or controller is None
            else OpenFact(part(controller), "part.current_limit")
        )
        return ledger.hole(STAGE, "current_limit", (lacking,), case=STANDING)
    inputs: Inputs = {"threshold": threshold, "resistance": context.need(part(parts.sense), "part.resistance")}
    return ledger.work_out(LIMIT, inputs, [(STAGE, "current_limit", "limit")], case=STANDING)[0]


def _delay(context: Context, parts: BuckParts) -> Entry:
    """Delay of the limit with its blanking, of a bipolar switch with what it stores."""
    name = controller_of(context, parts)
    subject = part(name) if name else STAGE
    delay = context.fact(subject, "part.limit_delay")
    if delay is None and parts.chopper:
        delay = context.fact(part(parts.chopper), "part.limit_delay")
    delay = delay or assumed(context, "buck_limit_delay", subject, "limit_delay", "part.limit_delay")
    if parts.chopper is None or not context.structure.may_be(parts.chopper, "bipolar transistor"):
        return delay
    switch = part(parts.chopper)
    storage = context.fact(switch, "rated.storage_time") or assumed(
        context, "buck_storage_time", switch, "storage_time", "rated.storage_time"
    )
    return context.ledger.work_out(
        STORED, {"delay": delay, "storage": storage}, [(switch, "limit_delay", "delay")], case=STANDING
    )[0]


# ---- drops -----------------------------------------------------------------------------------------------------------


def _far(row: Entry | None) -> float | None:
    return row.value.high if row is not None and isinstance(row.value, Value) else None


def _copper(context: Context, parts: BuckParts, current: Entry) -> tuple[float, tuple[Entry, ...]]:
    """What the copper of the inductor drops at most [V]."""
    stated = context.fact(part(parts.inductor), "part.resistance")
    amps = _far(current)
    if _far(stated) is not None and amps is not None:
        assert stated is not None
        return (_far(stated) or 0.0) * 1.4 * amps, (stated,)  # 1.4: copper at 125 degC over that at 25
    row = assumed(context, "inductor_drop", part(parts.inductor), "voltage", "part.resistance")
    return _far(row) or 0.0, (row,)


def _drop(context: Context, parts: BuckParts, current: Entry) -> Entry:
    """Forward drop of the freewheel diode, a fifth to either side of its sheet's, with the copper of the inductor."""
    copper, rows = _copper(context, parts, current)
    if not parts.diodes:
        return context.ledger.hole(
            STAGE, "forward_drop", (OpenFact(parts_output(parts), "its freewheel diode on the path"),), case=STANDING
        )
    first = part(parts.diodes[0])
    stated = context.fact(first, "rated.forward_voltage")
    if stated is not None and isinstance(stated.value, Curve | Value):
        points = [v for _, v in stated.value.points] if isinstance(stated.value, Curve) else [stated.value]
        low, high = 0.8 * min(v.near for v in points), 1.2 * max(v.far for v in points)
        basis = stated
    else:
        schottky = context.structure.must_be(parts.diodes[0], "Schottky diode")
        name = "freewheel_schottky_drop" if schottky else "freewheel_drop"
        basis = assumed(context, name, first, "forward_drop", "rated.forward_voltage")
        if not isinstance(basis.value, Value):
            return basis
        low, high = basis.value.near, basis.value.far
    used = (basis, *rows)
    return context.ledger.write(
        STAGE,
        "forward_drop",
        Value.between(low, high + copper),
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in used),
        rests_on=frozenset().union(*(row.rests_on for row in used)),
        formula="diode and copper while the switch is off",
        source="common practice, no source; a fifth to either side of the sheet",
    )


def parts_output(parts: BuckParts) -> Subject:
    return Subject("output", (parts.output or "main",))


def _on_drop(context: Context, parts: BuckParts, current: Entry) -> Entry:
    """What switch, sense resistor and copper drop while the switch conducts: from nothing to their most."""
    copper, rows = _copper(context, parts, current)
    amps = _far(current) or 0.0
    switch = part(parts.chopper or "")
    used: list[Entry] = list(rows)
    most = copper
    resistance = context.fact(switch, "rated.on_resistance")
    saturation = context.fact(switch, "rated.saturation_voltage")
    if resistance is not None and isinstance(resistance.value, Curve | Value):
        hot = isinstance(resistance.value, Curve) and resistance.value.greatest >= 100.0
        ohms = (
            max(v.high for _, v in resistance.value.points)
            if isinstance(resistance.value, Curve)
            else resistance.value.high
        )
        most += amps * ohms * (1.0 if hot else HOT)
        used.append(resistance)
    elif saturation is not None and isinstance(saturation.value, Curve | Value):
        most += max(
            (v.high for _, v in saturation.value.points)
            if isinstance(saturation.value, Curve)
            else (saturation.value.high,)
        )
        used.append(saturation)
    else:
        row = assumed(context, "on_state_drop", switch, "voltage", "rated.on_resistance")
        most += _far(row) or 0.0
        used.append(row)
    for name in (*parts.sensed, *parts.beside):
        stated = context.need(part(name), "part.resistance")
        most += (_far(stated) or 0.0) * amps
        used.append(stated)
    return context.ledger.write(
        STAGE,
        "saturation_voltage",
        Value.between(0.0, most) if most < inf else None,
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in used),
        rests_on=frozenset().union(*(row.rests_on for row in used)),
        formula="switch, sense resistor and copper while the switch is on, up to their most at the limit",
        source="Ohm's law; a hot switch has up to 2.8 times its resistance at 25 degC",
    )


def _rest(context: Context, inductance: Entry) -> Entry:
    """From the moment the inductor is empty to the next period: nothing, up to half a ring with what the node holds."""
    row = assumed(context, "node_capacitance", STAGE, "output_capacitance", "part.output_capacitance")
    if not isinstance(inductance.value, Value) or not isinstance(row.value, Value):
        return inductance if not isinstance(inductance.value, Value) else row
    return context.ledger.write(
        STAGE,
        "switching_edge",
        Value.between(0.0, pi * sqrt(inductance.value.high * row.value.far)),
        case=STANDING,
        known_by="computed",
        inputs=(inductance.number, row.number),
        rests_on=row.rests_on,
        formula="up to π √(L C)",
        source="own derivation: a boundary control waits for the valley of the ring, or for nothing",
    )


# ---- load and bulk ---------------------------------------------------------------------------------------------------

SET = {
    inverting: Model.of(
        "current set by the limit",
        buck.AVAILABLE["boundary", inverting],
        SOURCE,
        "half the limit with what its delay adds, less the rest between periods",
    )
    for inverting in (False, True)
}


def _driven(context: Context, shape: BuckShape) -> Entry:
    """Load current of a boundary control whose limit sets it: the plate's figure stands for none of its inputs."""
    rows = [set_current(context, shape, span, Case("converter", mains)) for mains, span in spans(context).items()] or [
        context.ledger.hole(shape.output, "current_average", context.plan.lacking(RUNNING), case=STANDING)
    ]
    values = [row.value for row in rows if isinstance(row.value, Value)]
    if len(values) < len(rows):
        return next(row for row in rows if not isinstance(row.value, Value))
    low, near, far, high = (
        pick(one)
        for pick, one in zip((min, min, max, max), zip(*(v.numbers() for v in values), strict=True), strict=True)
    )
    return context.ledger.write(
        shape.output,
        "current_average",
        Value(low, near, far, high),
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="what the limit sets, at both ends of the mains",
        source="the limit of a boundary control sets the current of its lamp",
    )


def set_current(context: Context, shape: BuckShape, span: Entry, case: Case) -> Entry:
    """What a boundary control gives at its limit, as a row of the output."""
    inputs: Inputs = {**shape.given(), "bulk": span, "limit": shape.limit, "delay": shape.delay, "rest": shape.rest}
    return context.ledger.work_out(
        SET[shape.inverting], inputs, [(shape.output, "current_available", "current")], case=case
    )[0]


def input_top(context: Context) -> Entry:
    """The greatest input voltage: of a bulk capacitor its crest; where none keeps it that of the highest mains."""
    if context.structure.own_inlet is None:
        return bulk_high(context)
    case = Case("converter", load=FULL_LOAD)
    known = context.ledger.find(BULK, "voltage_peak", case)
    if known is not None and known.case == case:
        return known
    return crest_of_mains(context, BULK, case)


def spans(context: Context) -> dict[float, Entry]:
    """At each end of the mains, the bulk voltage from its valley at full load to its crest.

    The valley at the highest mains is at least that at the lowest in proportion to the two: a constant power takes
    less out of a fuller capacitor. Empty where nobody knows the mains, or nothing behind the rectifier keeps a charge.
    """
    if context.plan.mains is None or context.structure.mains is None:
        return {}
    low, high = context.plan.mains
    case = context.plan.cases(["voltage_min"], [RUNNING])
    if not case:
        return {}
    valley, top = bulk_low(context, case[0]), bulk_high(context)
    found: dict[float, Entry] = {}
    for mains in dict.fromkeys((low, high)):
        at = Case("converter", mains, load=FULL_LOAD)
        known = context.ledger.find(BULK, "voltage", at)
        found[mains] = known if known is not None and known.case == at else _span(context, valley, top, mains, at)
    return found


def _span(context: Context, valley: Entry, top: Entry, mains: float, at: Case) -> Entry:
    assert context.plan.mains is not None
    low, high = context.plan.mains
    inputs = (valley.number, top.number)
    rests = valley.rests_on | top.rests_on
    if not isinstance(valley.value, Value) or not isinstance(top.value, Value):
        bad = valley if not isinstance(valley.value, Value) else top
        return context.ledger.hole(BULK, "voltage", bad.missing, case=at, note=bad.note, inputs=inputs, rests_on=rests)
    v, up = valley.value, mains / low
    # at the lowest mains the crest itself; what an inductance adds to it is in the row of the highest alone
    most = (
        (top.value.far, top.value.high)
        if mains == high
        else tuple(end * mains / high for end in (top.value.far, top.value.high))
    )
    far, least = max(most[0], v.near * up), v.near * up
    return context.ledger.write(
        BULK,
        "voltage",
        Value(min(v.low * up, least), least, far, max(most[1], far)),
        case=at,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="from the valley at full load to the crest",
        source="the bulk capacitor",
    )


def row_of(context: Context, subject: Subject, quantity: QuantityName, row: Entry, case: Case | None = None) -> Entry:
    """The same figure as a row of another subject or name."""
    return context.ledger.write(
        subject,
        quantity,
        row.value,
        case=case,
        missing=row.missing,
        known_by=row.known_by if row.value is not None else "computed",
        formula=row.formula,
        source=row.source,
        inputs=(row.number,),
        note=row.note,
        rests_on=row.rests_on,
    )
