"""The rail behind the rectifier: voltages and currents of windings, rectifier and capacitor, with and without load."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf, log
from typing import NamedTuple

from derate.circuit import line_transformer as physics
from derate.circuit.capacitor_ageing import SLOW
from derate.circuit.elementary import product, total
from derate.design.structure import Group
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, Inputs, in_series_and_parallel, part, repeated
from derate.stress.parts.capacitors import State, bulk_resistances_in, capacitance_in, warm_resistance
from derate.stress.parts.windings import CLASSES, PRIMARY, STANDING, assumed
from derate.terms.quantities import COLD_START, END_OF_LIFE, NO_LOAD, RUNNING, SWITCH_ON, CaseGroup, each
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value
from derate.topologies.line_transformer.circuit import LineTransformerParts, Secondary, parts_of

_OWN = "own derivation from Kirchhoff's laws, held to ngspice 39"
OPEN = Model.of(
    "open-circuit voltage at the mains",
    physics.OPEN,
    "it follows the turns",
    "voltage read × mains / mains it was read at",
)
SEEN = Model.of(
    "resistance of both windings at the secondary",
    physics.SEEN,
    "own derivation; copper 234.5 K",
    "secondary + primary × (open-circuit voltage / mains)², as warm as the winding may be",
)
BY_LOAD = Model.of(
    "resistance of both windings by the drop under load",
    physics.BY_LOAD,
    "definition of the rated voltage",
    "(open-circuit voltage − rated voltage) / rated current",
)
STATES = {
    one: Model.of(
        f"rectifier behind a transformer, {one}",
        formula,
        _OWN,
        "periodic state of open-circuit voltage, winding resistance, diodes, capacitor and a load of constant current",
        falling=frozenset(("least",)),
    )
    for one, formula in physics.STATES.items()
}
UNLOADED = {
    one: Model.of(
        f"crest without load, {one}",
        formula,
        "own derivation",
        "√2 × open-circuit voltage − diodes, of a doubler twice",
    )
    for one, formula in physics.UNLOADED.items()
}
FIRST_CREST = Model.of(
    "first crest into an empty capacitor", physics.FIRST_CREST, "Ohm's law", "√2 × open-circuit voltage / resistance"
)
HALF_WAVE = 8e-3  # duration that a surge rating of one half wave is given for, 8.3 or 10 ms [s]
BESIDE = Model.of(
    "primary that other outputs load too",
    product("resistance", "own", "beside"),
    "own derivation: pulses of one shape add in proportion to their powers",
    "resistance × power of all outputs / own",
)
CHARGING = {
    one: Model.of(
        f"charging behind a rectifier, {one}",
        formula,
        "own derivation",
        "(√2 × open-circuit voltage × cos − battery − diodes) / resistance, while it is positive",
    )
    for one, formula in physics.CHARGING.items()
}
OF_CELLS = Model.of(
    "voltage of a battery", product("voltage", "cells", "voltage"), "definition", "cells × voltage of each"
)
# Voltage of a cell from empty to the end of its charge [V]; makers' sheets, remembered.
CELLS = {
    "lead-acid": (1.75, 2.45),
    "lithium-ion": (2.5, 4.25),
    "lithium iron phosphate": (2.0, 3.7),
    "nickel": (0.9, 1.6),
}
SUM = Model.of("sum", total("sum", "a", "b"), "Kirchhoff", "a + b")
HIGHEST_WINDING = (
    130.0  # of a winding whose class nobody knows [degC]: class B, the usual one of a small bobbin; own choice
)
COLD_COPPER, HOT_COPPER = (
    20.0,
    100.0,
)  # a rated voltage is that of a warm transformer [degC]; common practice, no source
SMALL_DROPS = {False: (0.3, 0.75), True: (0.0, 0.4)}  # of a diode at microamperes [V], junction and Schottky; ngspice


class Rail(NamedTuple):
    """One output with what is known of its transformer.

    voltage: by the mains at which it is asked; resistance, drop, current: as rows or values; secondary: its parts
    """

    secondary: Secondary
    output: Subject
    resistance: Entry | Value
    current: Entry
    own: Entry | Value
    load: Entry

    @property
    def connection(self) -> str:
        return self.secondary.connection


def transformer_of(winding: str) -> Subject:
    """The transformer of TRANSFORMER.WINDING."""
    return Subject("transformer", (winding.split(".")[0],))


class Rails(NamedTuple):
    """Every output, ready to be worked out."""

    every: tuple[Rail, ...]


def rails(context: Context, _: object) -> Rails:
    """Every output that has a winding."""
    parts = parts_of(context.structure)
    return Rails(tuple(_rail(context, parts, one) for one in parts.secondaries.values() if one.windings))


def _rail(context: Context, parts: LineTransformerParts, one: Secondary) -> Rail:
    output = Subject("output", (one.name,))
    current = context.fact(output, "plate.full_current") or context.need(output, "plate.current")
    own: Entry | Value = Value.exact(0.0)
    load = current
    if one.regulator is not None:
        own = context.fact(part(one.regulator), "part.quiescent_current") or assumed(
            context, "regulator_own_current", part(one.regulator), "part.quiescent_current", "part.quiescent_current"
        )
        load = context.ledger.work_out(
            SUM, {"a": current, "b": own}, [(output, "current_average", "sum")], case=STANDING
        )[0]
    return Rail(one, output, _with_what_stands_ahead(context, parts, one), current, own, load)


def _with_what_stands_ahead(context: Context, parts: LineTransformerParts, one: Secondary) -> Entry:
    """Resistance of the windings, and of what stands between them and the reservoir: charging flows through both."""
    windings = _resistance(context, parts, one)
    if not one.ahead:
        return windings
    inputs: Inputs = {"windings": windings}
    inputs |= {f"r{k}": ohms_of(context, name) for k, name in enumerate(one.ahead)}
    model = SUM.by(total("sum", *inputs))
    output = Subject("output", (one.name,))
    return context.ledger.work_out(model, inputs, [(output, "series_resistance", "sum")], case=STANDING)[0]


def ohms_of(context: Context, name: str) -> Entry:
    """Resistance of a part behind the winding: as stated; of a fuse, a link or a choke else as packs assume."""
    subject = part(name)
    stated = context.fact(subject, "part.resistance")
    if stated is not None and isinstance(stated.value, Value):
        return stated
    if stated is not None or not context.structure.must_be(name, "fuse", "thermal link", "cut-out", "choke"):
        return context.ledger.hole(subject, "series_resistance", (OpenFact(subject, "part.resistance"),), case=STANDING)
    return context.assume("small_series_resistance", subject, "part.resistance")


def _at_its_mains(context: Context, winding: str) -> tuple[Entry, Value, float] | Entry:
    """The stated open-circuit voltage and the mains it was read at; a hole where one of the two is not known."""
    subject = Subject("winding", (winding,))
    stated = context.fact(subject, "winding.open_voltage")
    if stated is not None and isinstance(stated.value, Curve):
        at, value = stated.value.points[-1]
        return stated, value, at
    missing = OpenFact(subject, "winding.open_voltage", "" if stated is None else "with the mains it was read at")
    note = "" if stated is None else "the open-circuit voltage says no mains it was read at"
    return context.ledger.hole(subject, "open_voltage", (missing,), case=STANDING, note=note)


def open_voltage(context: Context, rail: Rail, mains: float | None) -> Entry:
    """Open-circuit voltage at a mains voltage [V rms]: of the windings in series, of a centre-tapped one of a half."""
    one = rail.secondary
    case = Case("winding", mains)
    rows = [_open(context, winding, case) for winding in one.windings]
    if one.connection == "centre-tapped":
        return _hull(context, rail.output, rows, case)
    if len(rows) == 1:
        return rows[0]
    inputs: Inputs = {f"v{k}": row for k, row in enumerate(rows)}
    model = SUM.by(total("sum", *inputs))
    return context.ledger.work_out(model, inputs, [(rail.output, "open_voltage", "sum")], case=case)[0]


def _open(context: Context, winding: str, case: Case) -> Entry:
    subject = Subject("winding", (winding,))
    known = context.ledger.find(subject, "open_voltage", case)
    if known is not None and known.case == case:
        return known
    found = _at_its_mains(context, winding)
    if isinstance(found, Entry):
        return found
    stated, value, at = found
    read = context.ledger.write(
        subject,
        "open_voltage",
        value,
        case=STANDING,
        known_by=stated.known_by,
        inputs=(stated.number,),
        place=stated.place,
        rests_on=stated.rests_on,
        formula=f"as read at {at:.4g} V",
        source="the file",
    )
    inputs: Inputs = {"stated": read, "at": at, "mains": case.mains or 0.0}
    return context.ledger.work_out(OPEN, inputs, [(subject, "open_voltage", "voltage")], case=case)[0]


def _hull(context: Context, subject: Subject, rows: list[Entry], case: Case) -> Entry:
    """Two halves of a winding: what either may have."""
    values = [row.value for row in rows if isinstance(row.value, Value)]
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    if hole is not None or rows[0].value == rows[-1].value:
        return hole or rows[0]
    return context.ledger.write(
        subject,
        "open_voltage",
        _span(values),
        case=case,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="either half",
        source="definition",
    )


def _span(values: Iterable[Value]) -> Value:
    """What any of them may be."""
    ends = zip(*(value.numbers() for value in values), strict=True)
    return Value(*(pick(one) for pick, one in zip((min, min, max, max), ends, strict=True)))


def warmth(context: Context, winding: str) -> Entry:
    """Temperature the windings may have [degC]: from the coldest site to what was read, else to the end of a class."""
    transformer = transformer_of(winding)
    ledger = context.ledger
    ambient = context.plan.ambient
    cold = min(COLD_COPPER, ambient[0]) if ambient is not None else COLD_COPPER
    read = [row for row in ledger.rows(transformer, "winding_temperature") if isinstance(row.value, Value)]
    read = [row for row in read if row.case is not None and row.case.group == RUNNING]
    stated = context.word(transformer, "transformer.insulation_class")
    rests: frozenset[OpenFact] = frozenset()
    inputs: tuple[int, ...] = ()
    if read and isinstance(read[-1].value, Value):
        top, inputs, rests, words = read[-1].value.high, (read[-1].number,), read[-1].rests_on, "up to what was read"
    elif stated in CLASSES:
        row = context.need(transformer, "transformer.insulation_class")
        top, inputs, words = CLASSES[stated], (row.number,), f"up to the end of class {stated}"
    else:
        top, words = HIGHEST_WINDING, "up to the end of class B, for want of a class"
        rests = frozenset((OpenFact(transformer, "winding_temperature"),))
    return ledger.write(
        transformer,
        "winding_temperature",
        Value.between(cold, max(top, cold)),
        case=Case("winding"),
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula=f"from the coldest site {words}",
        source="common practice, no source",
    )


def resistance_of(context: Context, winding: str) -> tuple[Entry, float]:
    """Stated resistance of a winding and the temperature it was read at [degC]; a hole where nobody read it."""
    subject = Subject("winding", (winding,))
    stated = context.fact(subject, "winding.resistance")
    if stated is None or not isinstance(stated.value, Curve):
        if stated is not None and isinstance(stated.value, Value):
            return stated, COLD_COPPER
        return context.need(subject, "winding.resistance"), COLD_COPPER
    at, value = stated.value.points[0]
    row = context.ledger.write(
        subject,
        "series_resistance",
        value,
        case=Case("winding", ambient=at),
        known_by=stated.known_by,
        inputs=(stated.number,),
        place=stated.place,
        rests_on=stated.rests_on,
        formula=f"as read at {at:.3g} degC",
        source="the file",
    )
    return row, at


def _shared(parts: LineTransformerParts, one: Secondary) -> tuple[str, ...]:
    """Windings that feed another output as well."""
    others = [name for other in parts.secondaries.values() if other is not one for name in other.windings]
    return tuple(name for name in one.windings if name in others)


def _beside(context: Context, parts: LineTransformerParts, one: Secondary) -> Value | Entry:
    """How much more than its own current flows in the primary at the crest: that of all outputs over its own.

    Between alone, the others idle, and all at full load with pulses of one shape, which then add in proportion to their
    powers; the power of the plate stands for each.
    """
    if len(parts.secondaries) == 1:
        return Value.exact(1.0)
    powers: dict[str, float] = {}
    for name in parts.secondaries:
        subject = Subject("output", (name,))
        volts, amperes = (context.need(subject, quantity) for quantity in each("plate.voltage", "plate.current"))
        for row in (volts, amperes):
            if not isinstance(row.value, Value):
                return row
        assert isinstance(volts.value, Value) and isinstance(amperes.value, Value)
        powers[name] = max(abs(end) for end in volts.value.numbers()) * amperes.value.high
    own = powers[one.name]
    return Value.between(1.0, sum(powers.values()) / own if own > 0.0 else inf)


def _resistance(context: Context, parts: LineTransformerParts, one: Secondary) -> Entry:
    """Resistance of all windings seen at the secondary: from each of them, else from the rated voltage and current."""
    output = Subject("output", (one.name,))
    if shared := _shared(parts, one):
        note = f"{' and '.join(shared)} feeds more than one output: how they share its drop is not worked out"
        return context.ledger.hole(output, "series_resistance", (), case=Case("winding"), note=note)
    beside = _beside(context, parts, one)
    if isinstance(beside, Entry):
        return context.ledger.hole(output, "series_resistance", beside.missing, case=Case("winding"))
    own = one.windings[:1] if one.connection == "centre-tapped" else one.windings
    facts = [context.fact(Subject("winding", (name,)), "winding.resistance") for name in (*parts.primary, *own)]
    if parts.primary and all(row is not None for row in facts):
        return _seen(context, parts, own, output, beside)
    subject = Subject("winding", (own[0],))
    rated = [context.fact(subject, name) for name in ("winding.rated_voltage", "winding.rated_current")]
    if len(own) == 1 and all(row is not None for row in rated):
        return _by_load(context, own[0], output, beside)
    missing = [
        OpenFact(Subject("winding", (name,)), "winding.resistance")
        for name, row in zip((*parts.primary, *own), facts, strict=True)
        if row is None
    ]
    if not parts.primary:
        missing.append(OpenFact(SUPPLY, "the winding of the mains at the end of the path line"))
    return context.ledger.hole(output, "series_resistance", missing, case=Case("winding"))


def _seen(context: Context, parts: LineTransformerParts, own: tuple[str, ...], output: Subject, beside: Value) -> Entry:
    primaries = [resistance_of(context, name) for name in parts.primary]
    secondaries = [resistance_of(context, name) for name in own]
    found = [_at_its_mains(context, name) for name in own]
    hole = next((one for one in found if isinstance(one, Entry)), None)
    if hole is not None:
        return context.ledger.hole(output, "series_resistance", hole.missing, case=Case("winding"), note=hole.note)
    stated = [one for one in found if not isinstance(one, Entry)]
    inputs: Inputs = {
        "primary": _scaled(context, _sum(context, [row for row, _ in primaries], PRIMARY), beside, output),
        "secondary": _sum(context, [row for row, _ in secondaries], output),
        "open_circuit": Value(*(sum(ends) for ends in zip(*(value.numbers() for _, value, _ in stated), strict=True))),
        "mains": stated[0][2],
        "warm": warmth(context, own[0]),
        "at": Value.between(
            min(at for _, at in (*primaries, *secondaries)), max(at for _, at in (*primaries, *secondaries))
        ),
    }
    return context.ledger.work_out(SEEN, inputs, [(output, "series_resistance", "resistance")], case=Case("winding"))[0]


def _scaled(context: Context, row: Entry, beside: Value, output: Subject) -> Entry:
    """The resistance of the primary as it counts for one of several outputs."""
    if beside.is_exact:
        return row
    wanted: list[Wanted] = [(output, "series_resistance", "resistance")]
    return context.ledger.work_out(BESIDE, {"own": row, "beside": beside}, wanted, case=Case("resistance hot"))[0]


def _sum(context: Context, rows: list[Entry], subject: Subject) -> Entry:
    if len(rows) == 1:
        return rows[0]
    inputs: Inputs = {f"r{k}": row for k, row in enumerate(rows)}
    model = SUM.by(total("sum", *inputs))
    return context.ledger.work_out(model, inputs, [(subject, "series_resistance", "sum")], case=STANDING)[0]


def _by_load(context: Context, winding: str, output: Subject, beside: Value) -> Entry:
    """From the plate of the transformer: that of a warm one, and of a cold one by a quarter less."""
    subject = Subject("winding", (winding,))
    found = _at_its_mains(context, winding)
    if isinstance(found, Entry):
        return context.ledger.hole(output, "series_resistance", found.missing, case=Case("winding"), note=found.note)
    stated, value, _ = found
    warm = context.ledger.work_out(
        BY_LOAD,
        {
            "open_circuit": value,
            "loaded": context.need(subject, "winding.rated_voltage"),
            "current": context.need(subject, "winding.rated_current"),
        },
        [(output, "series_resistance", "resistance")],
        case=Case("resistance hot"),
    )[0]
    if not isinstance(warm.value, Value):
        return warm
    less = (physics.COPPER_ZERO + COLD_COPPER) / (physics.COPPER_ZERO + HOT_COPPER)
    low, near, far, high = warm.value.numbers()
    far, high = far * beside.far, high * beside.high  # nobody says how much of it is the primary's, which all load
    return context.ledger.write(
        output,
        "series_resistance",
        Value(low * less, near * less, far, high),
        case=Case("winding"),
        known_by="computed",
        inputs=(stated.number, warm.number),
        rests_on=warm.rests_on | stated.rests_on,
        formula=f"as rated, and cold at {COLD_COPPER:g} in place of {HOT_COPPER:g} degC",
        source="copper, 234.5 K",
    )


# ---- diodes and capacitors -------------------------------------------------------------------------------------------


def drop_of(context: Context, rail: Rail) -> Entry:
    """Drop of one diode at twice the current of the load [V]."""
    first = rail.secondary.diodes[0]
    subject = part(first)
    stated = context.fact(subject, "rated.forward_voltage")
    if stated is not None and isinstance(stated.value, Curve) and isinstance(rail.load.value, Value):
        at, value = stated.value.points[0]
        amid = 2.0 * max(rail.load.value.high, 1e-6)
        moved = physics.SLOPE * log(amid / at)
        # the maker's figure is a greatest one: the diode itself drops down to three quarters of it
        low = max(0.75 * value.near + min(moved, 0.0) * 1.2, physics.SLOPE)
        return context.ledger.write(
            subject,
            "diode_drop",
            Value.between(low, max(value.far + max(moved, 0.0) * 1.2, low)),
            case=STANDING,
            known_by="computed",
            inputs=(stated.number, rail.load.number),
            rests_on=stated.rests_on,
            formula="forward voltage of the sheet, carried to twice the current of the load",
            source="own derivation: 50 mV for each e-fold of current",
        )
    schottky = context.structure.must_be(first, "Schottky diode")
    name = "secondary_schottky_drop" if schottky else "secondary_diode_drop"
    return assumed(context, name, subject, "diode_drop", "rated.forward_voltage")


def reservoir(context: Context, rail: Rail, group: CaseGroup = RUNNING, ambient: float | None = None) -> Entry:
    """Capacitance of the reservoir, of a doubler of each of the two: new, cold or at the end of life."""
    one = rail.secondary
    if not one.reservoir:
        lacking = (OpenFact(rail.output, "its capacitor on the path"),)
        return context.ledger.hole(rail.output, "bulk_capacitance", lacking, case=Case(group, ambient=ambient))
    rows = {name: context.need(part(name), "part.capacitance") for name in one.capacitors}
    if group != RUNNING:
        state = State(group, ambient)
        rows = {name: capacitance_in(context, name, row, state) for name, row in rows.items()}
    if len(rows) == 1:
        return next(iter(rows.values()))
    hole = next((row for row in rows.values() if not isinstance(row.value, Value)), None)
    case = Case(group, ambient=ambient)
    if hole is not None:
        return context.ledger.hole(rail.output, "bulk_capacitance", hole.missing, case=case, note=hole.note)
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    return context.ledger.write(
        rail.output,
        "bulk_capacitance",
        _joined(one, values),
        case=case,
        known_by="computed",
        inputs=tuple(row.number for row in rows.values()),
        rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
        formula="each of the two" if one.connection == "doubler" else "capacitances joined",
        source="Kirchhoff",
    )


def lossy(context: Context, rail: Rail, group: CaseGroup = RUNNING, ambient: float | None = None) -> Entry:
    """Resistance in series with the reservoir at twice the mains, of a doubler with each of the two."""
    one = rail.secondary
    state = State(group, ambient)
    rows = {
        name: warm_resistance(context, name) if group == RUNNING else bulk_resistances_in(context, name, state, SLOW)[0]
        for name in one.capacitors
    }
    if len(rows) == 1:
        return next(iter(rows.values()))
    hole = next((row for row in rows.values() if not isinstance(row.value, Value)), None)
    case = Case("bulk 1" if group == RUNNING else group, ambient=ambient)
    if hole is not None:
        return context.ledger.hole(rail.output, "first_resistance", hole.missing, case=case, note=hole.note)
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    return context.ledger.write(
        rail.output,
        "first_resistance",
        _joined(one, values, capacitors=False),
        case=case,
        known_by="computed",
        inputs=tuple(row.number for row in rows.values()),
        rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
        formula="each of the two" if one.connection == "doubler" else "resistances joined",
        source="Kirchhoff",
    )


def _joined(one: Secondary, values: dict[str, Value], capacitors: bool = True) -> Value:
    """Of all elements across the output together; of a doubler what each of its two may have."""
    stacked = one.reservoir[0]
    if one.connection == "doubler" and isinstance(stacked, Group):
        found = [in_series_and_parallel(member, values, capacitors) for member in stacked.members]
        return _span(value for value in found if value is not None)
    whole = one.reservoir[0] if len(one.reservoir) == 1 else Group("parallel", one.reservoir)
    return in_series_and_parallel(whole, values, capacitors) or Value.exact(0.0)


# ---- with load and without -------------------------------------------------------------------------------------------


def solve_rails(context: Context, found: Rails) -> None:
    """Every row of windings, rectifier and capacitor, at every case that is asked."""
    for rail in found.every:
        if rail.connection and rail.secondary.reservoir:
            _loaded(context, rail)
            _states(context, rail)
            _unloaded(context, rail)
            _switched_on(context, rail)
        elif rail.connection in CHARGING and _charges(context, rail):
            _unloaded(context, rail)
            _charging(context, rail)
        else:
            _not_worked_out(context, rail)


def _charges(context: Context, rail: Rail) -> bool:
    """Whether a battery right behind the rectifier holds its voltage, with neither capacitor nor regulator."""
    one = rail.secondary
    return not one.reservoir and one.regulator is None and context.word(rail.output, "battery.kind") in CELLS


def _charging(context: Context, rail: Rail) -> None:
    """Currents of winding and rectifier into a battery, worst where it is empty."""
    one = rail.secondary
    cells = context.need(rail.output, "battery.cells")
    least, most = CELLS[context.word(rail.output, "battery.kind") or ""]
    battery = context.ledger.work_out(
        OF_CELLS,
        {"cells": cells, "voltage": Value.between(least, most)},
        [(rail.output, "voltage", "voltage")],
        case=STANDING,
    )[0]
    wanted: dict[Case, list[Wanted]] = {}

    def ask(subject: Subject, quantity: QuantityName, output: str) -> None:
        for case in context.plan.cases([quantity], [RUNNING]):
            wanted.setdefault(case, []).append((subject, quantity, output))

    for name in one.windings:
        ask(Subject("winding", (name,)), "current_rms", "winding_rms")
    for name in one.diodes:
        ask(part(name), "current_peak", "peak")
        ask(part(name), "current_average", "diode_average")
    for case, rows in wanted.items():
        inputs: Inputs = {
            "voltage": open_voltage(context, rail, case.mains),
            "battery": battery,
            "resistance": rail.resistance,
            "drop": drop_of(context, rail),
        }
        context.ledger.work_out(CHARGING[rail.connection], inputs, rows, case=case)
    for case in context.plan.cases(["current_peak"], [SWITCH_ON]):
        for name in one.diodes:  # into an empty battery as while it charges: nothing else is there to fill
            row = context.ledger.find(part(name), "current_peak", context.plan.cases(["current_peak"], [RUNNING])[-1])
            if row is not None:
                repeated(context, row, case)
            _surge_rating(context, name, case)


def _state(context: Context, rail: Rail, case: Case, wanted: list[Wanted], capacitance: Entry, series: Entry) -> None:
    inputs: Inputs = {
        "voltage": open_voltage(context, rail, case.mains),
        "frequency": case.frequency if case.frequency is not None else _hertz(context),
        "resistance": rail.resistance,
        "capacitance": capacitance,
        "current": rail.load,
        "drop": drop_of(context, rail),
        "series": series,
    }
    context.ledger.work_out(STATES[rail.connection], inputs, wanted, case=case)


def _hertz(context: Context) -> Value:
    ends = context.plan.frequency
    return Value.between(*ends) if ends is not None else Value.between(47.0, 63.0)


def _loaded(context: Context, rail: Rail) -> None:
    one = rail.secondary
    fresh, series = reservoir(context, rail), lossy(context, rail)
    wanted: dict[Case, list[Wanted]] = {}

    def ask(subject: Subject, quantity: QuantityName, output: str) -> None:
        for case in context.plan.cases([quantity], [RUNNING]):
            if case.load != NO_LOAD:
                wanted.setdefault(case, []).append((subject, quantity, output))

    for name in one.windings:
        ask(Subject("winding", (name,)), "current_rms", "winding_rms")
    for name in one.diodes:
        ask(part(name), "current_peak", "diode_peak")
        ask(part(name), "current_average", "diode_average")
    for name in one.capacitors:
        ask(part(name), "ripple_current", "capacitor_rms")
    if one.regulator is not None:
        ask(part(one.regulator), "voltage_min", "least")
        ask(part(one.regulator), "voltage_mean", "mean")
    else:
        ask(rail.output, "voltage_min", "mean")
        ask(rail.output, "ripple", "ripple")
    for case, rows in wanted.items():
        _state(context, rail, case, rows, fresh, series)


def _states(context: Context, rail: Rail) -> None:
    """The valley cold and at the end of life."""
    if rail.secondary.regulator is None:
        return
    for group in (COLD_START, END_OF_LIFE):
        for case in context.plan.cases(["voltage_min"], [group]):
            capacitance = reservoir(context, rail, group, case.ambient)
            series = lossy(context, rail, group, case.ambient)
            wanted: list[Wanted] = [(part(rail.secondary.regulator), "voltage_min", "least")]
            _state(context, rail, case, wanted, capacitance, series)


def _unloaded(context: Context, rail: Rail) -> None:
    """Next to nothing drawn: the capacitor stands at the crest, less what the diodes drop at microamperes.

    With load it stands no higher, whatever the diodes drop then.
    """
    one = rail.secondary
    schottky = context.structure.must_be(one.diodes[0], "Schottky diode")
    drop = Value.between(*SMALL_DROPS[schottky])
    for case in context.plan.cases(["voltage_peak"], [RUNNING]):
        wanted: list[Wanted] = [(part(name), "voltage_peak", "capacitor") for name in one.capacitors]
        subject = part(one.regulator) if one.regulator is not None else rail.output
        wanted.append((subject, "voltage_peak", "voltage"))
        inputs: Inputs = {"voltage": open_voltage(context, rail, case.mains), "drop": drop}
        context.ledger.work_out(UNLOADED[rail.connection], inputs, wanted, case=case)
    for case in context.plan.cases(["reverse_voltage"], [RUNNING]):
        inputs = {"voltage": open_voltage(context, rail, case.mains), "drop": drop}
        rows: list[Wanted] = [(part(name), "reverse_voltage", "reverse") for name in one.diodes]
        context.ledger.work_out(UNLOADED[rail.connection], inputs, rows, case=case)


def _switched_on(context: Context, rail: Rail) -> None:
    """The first crest into the empty capacitor, and what the rectifier may take in one half wave."""
    for case in context.plan.cases(["current_peak"], [SWITCH_ON]):
        inputs: Inputs = {"voltage": open_voltage(context, rail, case.mains), "resistance": rail.resistance}
        wanted: list[Wanted] = [(part(name), "current_peak", "peak") for name in rail.secondary.diodes]
        context.ledger.work_out(FIRST_CREST, inputs, wanted, case=case)
        for name in rail.secondary.diodes:
            _surge_rating(context, name, case)


def _surge_rating(context: Context, name: str, case: Case) -> None:
    """The surge rating of a half wave: of a duration of 8 ms or more, for the crest lasts as long."""
    subject = part(name)
    stated = context.fact(subject, "rated.surge_current")
    curve = stated.value if stated is not None and isinstance(stated.value, Curve) else None
    fit = [value for at, value in curve.points if at >= HALF_WAVE] if curve is not None else []
    if stated is None or not fit:
        missing = OpenFact(subject, "rated.surge_current", "" if stated is None else "of 8 ms or more")
        context.ledger.hole(subject, "allowed.surge_current", (missing,), case=case)
        return
    context.ledger.write(
        subject,
        "allowed.surge_current",
        fit[0],
        case=case,
        known_by=stated.known_by,
        inputs=(stated.number,),
        place=stated.place,
        rests_on=stated.rests_on,
        formula="as rated for one half wave",
        source="the part's data",
    )


def _not_worked_out(context: Context, rail: Rail) -> None:
    """Nothing says how it is rectified, or there is no capacitor: every row is a hole with the reason."""
    one = rail.secondary
    why = (
        "how the winding is rectified is not known"
        if not one.connection
        else "no capacitor stands behind the rectifier"
    )
    missing = () if one.connection else (OpenFact(rail.output, "its rectifier on the path"),)
    rows = [(Subject("winding", (name,)), each("current_rms")) for name in one.windings]
    rows += [(part(name), each("current_average", "current_peak", "reverse_voltage")) for name in one.diodes]
    rows += [(part(name), each("voltage_peak", "ripple_current")) for name in one.capacitors]
    if one.regulator is not None:
        rows.append((part(one.regulator), each("voltage_peak", "voltage_min", "voltage_mean")))
    else:
        rows.append((rail.output, each("voltage_peak", "voltage_min")))
    for subject, quantities in rows:
        for quantity in quantities:
            for case in context.plan.cases([quantity], [RUNNING]):
                context.ledger.hole(subject, quantity, missing, case=case, note=why)
