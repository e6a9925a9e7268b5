"""The clamp as walked, and the voltage of the switch with it or without, against the limit that holds."""

from __future__ import annotations

import math
from collections.abc import Callable
from math import inf

from derate.circuit import clamp as breakdown
from derate.circuit import clamp as rcd
from derate.circuit.flyback import ERROR, ClampCurrent, avalanche, lifted_peak, point_of, winding_current
from derate.design.structure import Element, Group, Leaf, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, in_series_and_parallel, only, part, repeated
from derate.stress.mains.bulk_states import bulk_high, bulk_low
from derate.terms.quantities import HIGHEST_MAINS, LOWEST_MAINS, OVERLOAD, RUNNING, CaseGroup, paired
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Curve, Value
from derate.terms.words import CAPACITORS, RESISTORS
from derate.topologies.flyback.circuit import parts_of
from derate.topologies.flyback.operating import Between, Inputs, Rows, base_inputs, between, current_limit, limit_inputs
from derate.topologies.flyback.shape import PRIMARY, STANDING, FlybackShape, assumed

# The clamp as walked, and the energy of a switch without one that breaks down at every turn-off.


# The clamp as walked: which kind it is, and its resistances, capacitances and voltages as one value each.


_BREAKDOWN = ("zener diode", "suppressor diode")
SLOW = 0.5e-6  # clamp diodes this slow to recover hand charge back (facts, ngspice) [s]
# A breakdown diode's voltage at the current of a clamp lies above its mark; common practice, no source.
BREAKDOWN_RISE = 1.25


class ClampShape(NamedTuple):
    """kind: resistor-capacitor-diode | breakdown | none | unknown | other

    bleed: resistors that empty the clamp capacitor; series: resistors in the way of the pulse; breakdown: Zeners or
    suppressors; element: of the bleeding resistors alone; slow: whether the diode is slow to recover
    """

    kind: str
    diodes: tuple[str, ...] = ()
    bleed: tuple[str, ...] = ()
    series: tuple[str, ...] = ()
    capacitors: tuple[str, ...] = ()
    breakdown: tuple[str, ...] = ()
    element: Element | None = None
    whole: Element | None = None
    slow: bool = False


def clamp_of(context: Context) -> ClampShape:
    """The clamp of the structure."""
    clamp = parts_of(context.structure).clamp
    if clamp is None:
        return ClampShape("unknown")
    if not clamp:
        return ClampShape("none")
    whole = clamp[0]
    must = context.structure.must_be
    names = [leaf.name for leaf in leaves(whole)]
    breakdown = tuple(n for n in names if must(n, *_BREAKDOWN))
    resistors = [n for n in names if must(n, *RESISTORS)]
    capacitors = tuple(n for n in names if must(n, *CAPACITORS))
    diodes = tuple(n for n in names if n not in breakdown and n not in resistors and n not in capacitors)
    inside = _beside_capacitor(whole, set(capacitors))
    bleed = tuple(n for n in resistors if n in inside)
    series = tuple(n for n in resistors if n not in inside)
    slow = any(_is_slow(context, name) for name in diodes)
    if breakdown:
        return ClampShape("breakdown", diodes, bleed, series, capacitors, breakdown, only(whole, bleed), whole, slow)
    kind = "resistor-capacitor-diode" if bleed and capacitors and diodes else "other"
    return ClampShape(kind, diodes, bleed, series, capacitors, (), only(whole, bleed), whole, slow)


def _is_slow(context: Context, name: str) -> bool:
    recovery = context.value(part(name), "rated.recovery_time")
    if recovery is not None:
        return recovery.far >= SLOW
    return context.structure.may_be(name, "line diode")


def _beside_capacitor(element: Element, capacitors: set[str]) -> set[str]:
    """Names of everything in parallel with a capacitor."""
    if isinstance(element, Leaf):
        return set()
    if element.joined == "parallel" and any(
        leaf.name in capacitors for member in element.members for leaf in leaves(member)
    ):
        return {leaf.name for leaf in leaves(element)}
    return set().union(*(_beside_capacitor(member, capacitors) for member in element.members))


def joined(
    context: Context, element: Element | None, fact: QuantityName, quantity: QuantityName, capacitors: bool = False
) -> Entry:
    """Resistance or capacitance of an element, as a row of the primary path."""
    if element is None:
        return context.ledger.hole(PRIMARY, quantity, (OpenFact(SUPPLY, "circuit.clamp"),), case=STANDING)
    names = [leaf.name for leaf in leaves(element)]
    rows = {name: context.need(part(name), fact) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    value = in_series_and_parallel(element, values, capacitors)
    if value is None:
        missing = [one for row in rows.values() for one in row.missing]
        return context.ledger.hole(PRIMARY, quantity, missing, case=STANDING, inputs=inputs, rests_on=rests)
    return context.ledger.write(
        PRIMARY,
        quantity,
        value,
        case=STANDING,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="parts joined as walked",
        source="Kirchhoff",
    )


def parallel_capacitance(context: Context, names: tuple[str, ...]) -> Entry:
    """Capacitance of the clamp capacitors, all in parallel."""
    clamp = parts_of(context.structure).clamp
    first = next((leaf for leaf in leaves(clamp[0])), None) if clamp else None
    if first is None or not names:
        return context.ledger.hole(PRIMARY, "clamp_capacitance", (OpenFact(SUPPLY, "circuit.clamp"),), case=STANDING)
    members = tuple(Leaf(name, first.place) for name in names)
    element: Element = members[0] if len(members) == 1 else Group("parallel", members)
    return joined(context, element, "part.capacitance", "clamp_capacitance", capacitors=True)


def breakdown_voltage(context: Context, shape: ClampShape) -> Entry:
    """Voltage of the breakdown diodes in series at the current of the clamp."""
    ledger = context.ledger
    rows, ends = [], []
    for name in shape.breakdown:
        subject = part(name)
        stated = context.need(subject, "part.voltage")
        rows.append(stated)
        if not isinstance(stated.value, Value):
            return ledger.hole(PRIMARY, "clamp_voltage", stated.missing, case=STANDING, inputs=(stated.number,))
        low, near, far, high = stated.value.numbers()
        if low <= 0.0:
            note = f"{name} breaks down at {low:.4g} V: state a voltage above zero"
            return ledger.hole(PRIMARY, "clamp_voltage", (), case=STANDING, inputs=(stated.number,), note=note)
        sheet = context.fact(subject, "rated.clamping_voltage")
        top = BREAKDOWN_RISE * far
        if sheet is not None:
            rows.append(sheet)
            points = [v for _, v in sheet.value.points] if isinstance(sheet.value, Curve) else [sheet.value]
            top = max((v.far for v in points if isinstance(v, Value)), default=top)
        ends.append((low, near, max(far, top), max(high, top if far == inf else top * high / far)))
    return ledger.write(
        PRIMARY,
        "clamp_voltage",
        Value(*(sum(column) for column in zip(*ends, strict=True))),
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="from the mark up to the clamping voltage",
        source="data sheet, else a quarter above the mark: common practice, no source",
    )


def shares(context: Context, element: Element | None) -> dict[str, float]:
    """Share of the power of joined resistors that each takes, at nominal; empty where a resistance is not known."""
    if element is None:
        return {}
    values = {leaf.name: context.value(part(leaf.name), "part.resistance") for leaf in leaves(element)}
    if any(value is None or value.middle <= 0 for value in values.values()):
        return {}
    ohms = {name: value.middle for name, value in values.items() if value is not None}
    found: dict[str, float] = {}
    _divide(element, ohms, 1.0, found)
    return found


def _ohms(element: Element, ohms: dict[str, float]) -> float:
    if isinstance(element, Leaf):
        return ohms[element.name]
    each = [_ohms(member, ohms) for member in element.members]
    if element.joined == "series":
        return sum(each)
    conductance = sum(1.0 / one for one in each)
    return 1.0 / conductance if conductance > 0.0 else inf


def _divide(element: Element, ohms: dict[str, float], power: float, found: dict[str, float]) -> None:
    if isinstance(element, Leaf):
        found[element.name] = power
        return
    each = [_ohms(member, ohms) for member in element.members]
    weights = each if element.joined == "series" else [1.0 / one for one in each]
    for member, weight in zip(element.members, weights, strict=True):
        _divide(member, ohms, power * weight / sum(weights), found)


# Energy of a switch without a clamp that breaks down at every turn-off.


_SOURCE = "own derivation of the single-pulse avalanche energy, the source being bulk plus reflected voltage"


def _model(boundary: bool, at_limit: bool) -> Model:
    return Model.of(
        "avalanche energy of one turn-off",
        avalanche(boundary, at_limit),
        _SOURCE,
        "leakage × peak² / 2 × breakdown / (breakdown − bulk − reflected)",
    )


def solve_avalanche(context: Context, shape: FlybackShape, high: Inputs, limit: Inputs) -> None:
    """Write the energy of one turn-off at full load and at the current limit, both at the highest mains."""
    if shape.switch is None:
        return
    subject = part(shape.switch)
    breakdown: Entry = context.need(subject, "allowed.switch_voltage")
    for group, inputs in ((RUNNING, high), (OVERLOAD, limit)):
        model = _model(shape.boundary, group == OVERLOAD)
        for case in context.plan.cases(["energy"], [group]):
            context.ledger.work_out(
                model, {**inputs, "breakdown": breakdown}, [(subject, "energy", "energy")], case=case
            )


# Voltage of the switch with its clamp at full load and at the current limit, against the limit that holds.


# The voltage limit of the switch that holds: drain to source, or of a bipolar one that which its base drive asks for.


def allowed_voltage(context: Context, shape: FlybackShape) -> None:
    """The voltage limit that holds: drain-source, or of a bipolar switch the one its base drive asks for."""
    if shape.switch is None:
        return
    subject, structure, ledger = part(shape.switch), context.structure, context.ledger
    if structure.must_be(shape.switch, "MOSFET", "integrated switch"):
        rated = context.need(subject, "rated.voltage")
        _copy_limit(context, subject, rated, "drain to source")
        return
    if not structure.must_be(shape.switch, "bipolar transistor"):
        ledger.hole(subject, "allowed.switch_voltage", (OpenFact(subject, "part.kind"),))
        return
    drive = context.fact(subject, "part.base_drive")
    words = drive.value.members if drive is not None and isinstance(drive.value, Category) else ()
    open_base = context.need(subject, "rated.collector_emitter_voltage")
    closed = ("emitter switched", "negative at turn-off")
    if words and all(word in closed for word in words):
        _copy_limit(context, subject, context.need(subject, "rated.collector_base_voltage"), "collector to base")
    elif words and not any(word in closed for word in words):
        _copy_limit(context, subject, open_base, "collector to emitter, base open")
    else:
        base = context.need(subject, "rated.collector_base_voltage")
        if isinstance(base.value, Value) and isinstance(open_base.value, Value):
            a, b = open_base.value, base.value
            low, high = min(a.near, b.near), max(a.far, b.far)
            ledger.write(
                subject,
                "allowed.switch_voltage",
                Value(min(a.low, low), low, high, max(b.high, high)),
                known_by="computed",
                inputs=(open_base.number, base.number),
                rests_on=open_base.rests_on | base.rests_on,
                formula="between base open and base held off",
                source="how the base is driven is not known",
                note=f"find out base_drive of {subject}",
            )
        else:
            missing = (*open_base.missing, *base.missing, OpenFact(subject, "part.base_drive"))
            ledger.hole(subject, "allowed.switch_voltage", missing)


def _copy_limit(context: Context, subject: Subject, rated: Entry, words: str) -> None:
    ledger = context.ledger
    value = rated.value
    if isinstance(value, Curve) and len(value.points) == 1:
        value = value.points[0][1]
    if isinstance(value, Value):
        ledger.write(
            subject,
            "allowed.switch_voltage",
            value,
            known_by=rated.known_by,
            inputs=(rated.number,),
            rests_on=rated.rests_on,
            formula=words,
            source="data sheet",
            place=rated.place,
        )
    else:
        ledger.hole(subject, "allowed.switch_voltage", rated.missing or (OpenFact(subject, rated.quantity),))


# Voltage of the switch with its clamp: full load, and the current limit at the highest mains; what the clamp bears.
#
# Clamps: resistor-capacitor-diode, breakdown diode, none (avalanche). A drain capacitance that nobody stated is taken
# as zero, which reads high; the error band then reaches further down.


STRAY = 5.0  # forward recovery of a clamp diode and stray inductance, 5 to 10 V usual [V]; common practice, no source
Clamped = dict[str, float]


RECOVERED = 2.0  # a slow clamp diode hands back at most the charge it was given: its square once more


class Clamping(NamedTuple):
    """One kind of clamp: its physics with the peak current known, the rows of its parts, error bands and source.

    slow: its diode is slow to recover
    """

    name: str
    solve: Callable[..., Clamped]
    parts: Inputs
    errors: dict[str, tuple[float, float]]
    source: str
    signs: dict[str, int]
    slow: bool = False


def _rcd(
    bulk: float,
    reflected: float,
    leakage: float,
    peak: float,
    frequency: float,
    drain: float,
    resistance: float,
    capacitance: float,
) -> Clamped:
    found = rcd.rcd_clamp(
        bulk, reflected, leakage, peak, frequency, resistance, capacitance, drain_capacitance=drain, stray=STRAY
    )
    return {
        "switch_peak": found.switch_peak,
        "loss": found.loss,
        "diode_average": found.diode_average,
        "diode_peak": found.diode_peak,
        "capacitor_peak": found.voltage + found.ripple / 2,
        "voltage": found.voltage,
    }


def _breakdown(
    bulk: float,
    reflected: float,
    leakage: float,
    peak: float,
    frequency: float,
    drain: float,
    zener: float,
    series: float,
) -> Clamped:
    found = breakdown.zener_clamp(
        bulk, reflected, leakage, peak, frequency, zener, series=series, drain_capacitance=drain, diode_drop=1.0
    )
    return {
        "switch_peak": found.switch_peak + STRAY,
        "loss": found.loss,
        "series_loss": found.series_loss,
        "diode_average": found.charge * frequency,
        "diode_peak": peak if found.conducts else 0.0,
        "voltage": zener + 1.0,
    }


def _nobody_knows(**_: float) -> Clamped:
    return {}


# What a winding carries beside a clamp of which nothing is known but that it holds no energy of its own.
UNKNOWN = Clamping("a clamp nobody knows", _nobody_knows, {}, {}, "any passive clamp", {})


def _unclamped(bulk: float, reflected: float, leakage: float, peak: float, frequency: float, drain: float) -> Clamped:
    return {"switch_peak": breakdown.unclamped_switch_peak(bulk, reflected, leakage, peak, drain)}


def clamping(context: Context, shape: FlybackShape, clamp: ClampShape) -> Clamping | None:
    """The physics of this clamp; None when it is unknown or of a kind that is not covered."""
    known = shape.switch is not None and context.value(part(shape.switch), "part.output_capacitance") is not None
    if clamp.kind == "resistor-capacitor-diode":
        parts: Inputs = {
            "resistance": joined(context, clamp.element, "part.resistance", "clamp_resistance"),
            "capacitance": parallel_capacitance(context, clamp.capacitors),
        }
        errors = dict(rcd.ERROR_SLOW_DIODE if clamp.slow else rcd.ERROR)
        if not known:
            errors = {name: (min(errors[name][0], low), high) for name, (low, high) in rcd.ERROR_NO_CAPACITANCE.items()}
        errors["capacitor_peak"] = errors["voltage"]
        signs = {"resistance": 0, "capacitance": -1}
        return Clamping(
            "resistor-capacitor-diode clamp", _rcd, parts, errors, "AN-4137 (2004) eq 26 to 28", signs, clamp.slow
        )
    if clamp.kind == "breakdown":
        series: Entry | float = 0.0
        if clamp.series and clamp.whole is not None:
            series = joined(context, only(clamp.whole, clamp.series), "part.resistance", "clamp_resistance")
        parts = {"zener": breakdown_voltage(context, clamp), "series": series}
        low = -0.016 if known else rcd.ERROR_NO_CAPACITANCE["switch_peak"][0]
        if clamp.capacitors:  # a capacitor across it takes the spike first: below the figure by an unknown part of it
            low = -0.5
        loss = breakdown.ZENER_ERROR["loss"] if known else rcd.ERROR_NO_CAPACITANCE["loss"]
        errors = {
            "switch_peak": (low, 0.01),
            "loss": loss,
            "series_loss": loss,
            "diode_average": loss,
            "diode_peak": (-0.5, 0.02),
        }
        signs = {"zener": 0, "series": 1}
        return Clamping(
            "breakdown-diode clamp", _breakdown, parts, errors, "derivation of AN-4137 (2004) eq 26", signs, clamp.slow
        )
    if clamp.kind == "none":
        errors = {"switch_peak": breakdown.ZENER_ERROR["unclamped_switch_peak"]}
        return Clamping(
            "no clamp: undamped ring of leakage and drain capacitance", _unclamped, {}, errors, "own derivation", {}
        )
    return None


def _signs(extra: dict[str, int], first: dict[str, int], boundary: bool) -> dict[str, dict[str, int]]:
    # in boundary mode the frequency falls as the inductance rises, and the clamp's ripple with it grows
    base = {
        **first,
        "inductance": 0 if boundary else -1,
        "reflected": 0,
        "frequency": 0,
        "leakage": 1,
        "drain": 0,
        **extra,
    }
    loss = {**base, "resistance": -1, "series": 0} if extra else base
    names = ("switch_peak", "diode_average", "diode_peak", "capacitor_peak", "voltage")
    return dict.fromkeys(names, base) | {"loss": loss, "series_loss": {**loss, "series": 0}}


def running_model(boundary: bool, one: Clamping) -> Model:
    """Clamp and switch at a load.

    The peak is that of an empty drain, which carries the whole power through the switch. What the drain brings lowers
    the switch's peak and lifts the current again until the plateau: in discontinuous operation by as much, in
    continuous operation by less.
    """
    point = point_of(boundary)

    def solve(
        *,
        bulk: float,
        power: float,
        inductance: float,
        reflected: float,
        leakage: float,
        drain: float,
        frequency: float = math.inf,
        **parts: float,
    ) -> Clamped:
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        given = {"bulk": bulk, "reflected": reflected, "leakage": leakage, "drain": drain}
        found = one.solve(peak=at.peak, frequency=at.frequency, **given, **parts)
        clamp = None
        if "voltage" in found:
            average = found["diode_average"] * (RECOVERED if one.slow else 1.0)
            clamp = ClampCurrent(found["diode_peak"], average, found["voltage"])
        whole = winding_current(at, bulk, reflected, inductance, leakage, drain, clamp)
        return {**found, "rms": at.rms, "rms_whole": whole.rms, "peak": at.peak, "peak_whole": whole.peak}

    # of the winding: what the drain and the clamp add has no single sign
    free = {**dict.fromkeys(("bulk", "inductance", "reflected", "frequency", "leakage", "drain"), 0), "power": 1}
    free |= dict.fromkeys(one.parts or one.signs, 0)
    winding = ("rms", "rms_whole", "peak", "peak_whole")
    return Model(
        f"{one.name}, at a load",
        solve,
        {**_signs(one.signs, {"bulk": 0, "power": 1}, boundary), **dict.fromkeys(winding, free)},
        f"{one.source}; held to ngspice 39",
        "bulk + clamp voltage + half its ripple + stray",
        {**one.errors, **{name: ERROR[name.removesuffix("_whole")] for name in winding}},
    )


def limit_model(boundary: bool, one: Clamping) -> Model:
    """Clamp and switch with the switch opening at the current limit plus its delay."""

    def solve(
        *,
        limit: float,
        bulk: float,
        delay: float,
        inductance: float,
        reflected: float,
        leakage: float,
        drain: float,
        frequency: float = math.inf,
        **parts: float,
    ) -> Clamped:
        peak = limit + bulk * delay / inductance
        if boundary:
            frequency = min(frequency, 1.0 / (inductance * peak * (1.0 / bulk + 1.0 / reflected)))
        lifted = lifted_peak(peak, bulk, reflected, inductance, drain)
        return one.solve(bulk, reflected, leakage, lifted, frequency, drain, **parts)

    return Model(
        f"{one.name}, at the current limit",
        solve,
        _signs(one.signs, {"bulk": 1, "limit": 1, "delay": 1}, boundary),
        f"{one.source}; held to ngspice 39",
        "bulk + clamp voltage at limit + bulk × delay / inductance",
        one.errors,
    )


def solve_winding(context: Context, shape: FlybackShape) -> None:
    """Rms and peak of the windings of the primary path at full load and the lowest mains."""
    if shape.primary is None:
        return
    windings = [Subject("winding", (name,)) for step in shape.primary.path for name in step.names if "." in name]
    clamp = clamp_of(context)
    one = clamping(context, shape, clamp) or UNKNOWN
    model = running_model(shape.boundary, one)
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    drain: Entry | None = None
    if shape.switch is not None:
        drain = context.fact(part(shape.switch), "part.output_capacitance") or assumed(
            context, "drain_capacitance", part(shape.switch), "drain_capacitance", "part.output_capacitance"
        )
    inputs: Inputs = {**base_inputs(shape, low), "leakage": shape.leakage, **one.parts}
    inputs["drain"] = drain if drain is not None else 0.0
    note = "from the switch alone to the drain's ringing without damping"
    pairs = paired(("current_rms", "rms"), ("current_peak", "peak"))
    wanted = [Between(one, quantity, output, f"{output}_whole") for one in windings for quantity, output in pairs]
    for row in between(context, model, inputs, wanted, context.plan.cases(["current_peak"], [RUNNING])[0], note):
        for case in context.plan.cases([row.quantity], [RUNNING]):
            repeated(context, row, case)


def solve_switch(context: Context, shape: FlybackShape) -> None:
    """Write the rows of switch and clamp, running and overload."""
    clamp = clamp_of(context)
    allowed_voltage(context, shape)
    one = clamping(context, shape, clamp)
    voltage, power = _wanted(shape, clamp)
    if one is None:
        missing = (OpenFact(SUPPLY, "circuit.clamp"),) if clamp.kind == "unknown" else ()
        note = "" if missing else "not covered: a clamp of these parts is not worked out"
        for group in (RUNNING, OVERLOAD):
            for subject, quantity, _ in (*voltage, *power):
                for case in context.plan.cases([quantity], [group]):
                    context.ledger.hole(subject, quantity, missing, case=case, note=note)
        return
    drain = _drain(context, shape, clamp)
    shared: Inputs = {"leakage": shape.leakage, "drain": drain, **one.parts}
    high: Inputs = {**base_inputs(shape, bulk_high(context)), **shared}
    low: Inputs = {**base_inputs(shape, bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])), **shared}
    limit: Inputs = {
        **limit_inputs(context, shape, current_limit(context, shape)),
        "reflected": shape.reflected,
        **shared,
    }
    if shape.cap is not None:
        limit["frequency"] = shape.cap
    running, at_limit = running_model(shape.boundary, one), limit_model(shape.boundary, one)
    _work(context, running, high, voltage, RUNNING)
    if shape.switch is not None and context.structure.must_be(shape.switch, "bipolar transistor"):
        for words, inputs in ((LOWEST_MAINS, low), (HIGHEST_MAINS, high)):  # what its current falls at
            wanted: list[Wanted] = [(part(shape.switch), "voltage_peak", "switch_peak")]
            context.ledger.work_out(running, inputs, wanted, case=Case(RUNNING, load=words))
    _work(context, running, low, power, RUNNING)
    _work(context, at_limit, limit, [*voltage, *power], OVERLOAD)
    _divide_power(context, clamp, power)
    if clamp.kind == "none":
        solve_avalanche(context, shape, high, limit)


def _wanted(shape: FlybackShape, clamp: ClampShape) -> tuple[Rows, Rows]:
    voltage: Rows = [(PRIMARY, "voltage_peak", "switch_peak")]
    power: Rows = []
    if shape.switch is not None:
        voltage.append((part(shape.switch), "voltage_peak", "switch_peak"))
    voltage += [(part(name), "reverse_voltage", "switch_peak") for name in clamp.diodes]
    power += [(part(name), "current_peak", "diode_peak") for name in clamp.diodes]
    if clamp.kind == "resistor-capacitor-diode":
        voltage += [(part(name), "voltage_peak", "capacitor_peak") for name in (*clamp.capacitors, *clamp.bleed)]
    for name in clamp.diodes:
        power.append((part(name), "current_average", "diode_average"))
    power += [(part(name), "power", "loss") for name in (*clamp.bleed, *clamp.breakdown)]
    power += [(part(name), "power", "series_loss") for name in clamp.series if clamp.kind == "breakdown"]
    return voltage, power


def _work(context: Context, model: Model, inputs: Inputs, wanted: Rows, group: CaseGroup) -> None:
    """Rows at every case of a group; one output is solved once however many parts and cases bear it."""
    done: dict[tuple[str, str], Entry] = {}
    for subject, quantity, output in wanted:
        for case in context.plan.cases([quantity], [group]):
            earlier = done.get((quantity, output))
            if earlier is None:
                rows = context.ledger.work_out(model, inputs, [(subject, quantity, output)], case=case)
                done[quantity, output] = rows[0]
            else:
                repeated(context, earlier, case, subject)


def _divide_power(context: Context, clamp: ClampShape, rows: Rows) -> None:
    """Each resistor's own share of the clamp's loss, each breakdown diode's by its voltage."""
    share = shares(context, clamp.element)
    volts = {name: context.value(part(name), "part.voltage") for name in clamp.breakdown}
    total = sum(v.middle for v in volts.values() if v is not None)
    share |= {name: v.middle / total for name, v in volts.items() if v is not None and total > 0}
    for subject, quantity, _ in rows:
        own = share.get(subject.names[0], 1.0)
        if quantity != "power" or own == 1.0:
            continue
        for row in context.ledger.rows(subject, quantity):
            if isinstance(row.value, Value) and row.case is not None:
                context.ledger.write(
                    subject,
                    quantity,
                    row.value.scaled(own),
                    case=row.case,
                    known_by="computed",
                    inputs=(row.number,),
                    rests_on=row.rests_on,
                    formula="its share of the clamp's loss",
                    source="Kirchhoff",
                )


def _drain(context: Context, shape: FlybackShape, clamp: ClampShape) -> Entry | float:
    subject = part(shape.switch) if shape.switch is not None else PRIMARY
    stated = context.fact(subject, "part.output_capacitance")
    if stated is not None:
        return stated
    return context.need(subject, "part.output_capacitance") if clamp.kind == "none" else 0.0
