"""A dropper while it runs: current in series, what reaches the rail, what the clamp takes without load."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf

from derate.circuit import dropper, elementary
from derate.design.structure import MainsInput, Shunt, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import LINE, Context, Inputs, carried, in_series_and_parallel, part, repeated
from derate.stress.faults.mains_path import FULL
from derate.stress.faults.rows import Opening, opens, protective_parts
from derate.stress.mains.line import hot, total
from derate.stress.parts.life import allowed_case, solve_lives
from derate.stress.parts.ratings import allowed_power, ripple_rating
from derate.stress.parts.resistors import solve_bleeders
from derate.terms.quantities import BROWN_OUT, END_OF_LIFE, RUNNING, each, paired
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value
from derate.terms.words import CAPACITORS, RESISTORS
from derate.topologies.dropper.shape import ALONE, FLOWS, SOURCE, DropperShape, breakdown, store_names

BESIDE = Model.of(
    "one resistor beside a dropping capacitor", dropper.ONE_BESIDE_CAPACITOR, SOURCE, "R × rms² × rise by harmonics"
)
AMONG = Model.of("one of several dropping resistors", dropper.ONE_OF_RESISTORS, SOURCE, "R × rms²")
SHUNT = Model.of(
    "power of a clamp without load", dropper.SHUNT_POWER, SOURCE, "(voltage + forward drop) × the whole current"
)
LEFT_OVER = Model.of("current beside resistors across the rail", dropper.LEFT_OVER, "Kirchhoff", "current − rail / R")
ACROSS = Model.of("current of capacitors across the mains", dropper.ACROSS, "2 pi f C V", "2 π f C × mains")
BOTH = Model.of(
    "dropper and capacitors across the mains together", elementary.total("sum", "one", "other"), "triangle inequality"
)
RAIL_AND_DROP = Model.of("rail and one diode", elementary.total("sum", "rail", "drop"), "Kirchhoff", "rail + drop")
DROPS_NOTHING = Value.exact(0.0)
# What no socket has more of: beside what stands in series here it moves the current by a few per cent at most.
SOCKET, SOCKET_INDUCTANCE = Value.between(0.0, 3.0), Value.between(0.0, 5e-3)  # [ohm], [H]


def flow(
    context: Context, shape: DropperShape, case: Case, wanted: list[Wanted], aged: bool = False
) -> tuple[Entry, ...]:
    """Rows of the current through the dropper at one case."""
    inputs: Inputs = {"mains": case.mains or 0.0, **shape.inputs(aged)}
    if shape.capacitance is None:
        return context.ledger.work_out(ALONE, inputs, wanted, case=case)
    inputs["frequency"] = case.frequency or 50.0
    return context.ledger.work_out(FLOWS, inputs, wanted, case=case)


def cases_of(
    context: Context, quantity: QuantityName, subjects: Iterable[Subject], end_of_life: bool = False
) -> Iterator[Case]:
    """The cases of a quantity; where the mains is not known one bare case, whose rows are holes."""
    group = END_OF_LIFE if end_of_life else RUNNING
    for case in context.plan.cases([quantity], [group]):
        if case.mains is not None:
            yield case
            continue
        for subject in subjects:
            context.ledger.hole(subject, quantity, context.plan.lacking(group), case=case)


def solve_current(context: Context, shape: DropperShape) -> None:
    """Rms, peak and mean of the current, of the line and of every part that carries it."""
    carry = [LINE, *(part(name) for name in (*shape.path, *shape.parts.capacitors))]
    for quantity, output in paired(("current_rms", "rms"), ("current_peak", "peak")):
        for case in cases_of(context, quantity, carry):
            first = flow(context, shape, case, [(LINE, quantity, output)])[0]
            for one in carry[1:]:
                repeated(context, first, case, one)
    _beside_the_mains(context, shape)
    diodes = [part(name) for name in (*shape.parts.rectifier, *shape.parts.returns)]
    for case in cases_of(context, "current_average", diodes):
        flow(context, shape, case, [(one, "current_average", "one_way") for one in diodes])
    for case in cases_of(context, "reverse_voltage", diodes):
        inputs: Inputs = {"rail": shape.rail, "drop": shape.drop}
        context.ledger.work_out(RAIL_AND_DROP, inputs, [(one, "reverse_voltage", "sum") for one in diodes], case=case)


def _beside_the_mains(context: Context, shape: DropperShape) -> None:
    """Mains current, and that of parts ahead of a capacitor across the mains: no more than the sum of both."""
    structure, ledger = context.structure, context.ledger
    shunts = [
        one
        for one in shape.inlet.shunts
        if not one.to_earth and any(structure.may_be(name, *CAPACITORS) for name in one.names)
    ]
    last = max((one.behind for one in shunts), default=0)
    ahead = [part(name) for name in shape.inlet.series[:last]]
    pairs: tuple[tuple[QuantityName, list[Subject]], ...] = (("mains_current", [SUPPLY]), ("current_rms", ahead))
    for quantity, subjects in pairs:
        for case in cases_of(context, quantity, subjects):
            own = context.need(LINE, "current_rms", case)
            if not shunts:
                for one in subjects:
                    carried(context, own, case, one, quantity)
                continue
            beside = ledger.work_out(
                ACROSS,
                {
                    "mains": case.mains or 0.0,
                    "frequency": case.frequency or 50.0,
                    "capacitance": _joined(context, shunts),
                },
                [(LINE, "ripple_current", "current")],
                case=case,
            )[0]
            wanted: list[Wanted] = [(one, quantity, "sum") for one in subjects]
            ledger.work_out(BOTH, {"one": own, "other": beside}, wanted, case=case)


def _joined(context: Context, shunts: list[Shunt]) -> Entry:
    """All capacitance across the mains, as a row of the line."""
    rows = {name: context.need(part(name), "part.capacitance") for one in shunts for name in one.names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    found = [in_series_and_parallel(one.element, values, capacitors=True) for one in shunts]
    inputs = tuple(row.number for row in rows.values())
    known = [one for one in found if one is not None]
    if len(known) < len(found):
        missing = [fact for row in rows.values() for fact in row.missing]
        return context.ledger.hole(LINE, "dropping_capacitance", missing, case=Case(RUNNING), inputs=inputs)
    whole = Value(*(sum(column) for column in zip(*(one.numbers() for one in known), strict=True)))
    return context.ledger.write(
        LINE,
        "dropping_capacitance",
        whole,
        case=Case(RUNNING),
        known_by="computed",
        inputs=inputs,
        rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
        formula="capacitances across the mains",
        source="Kirchhoff",
    )


def solve_resistors(context: Context, shape: DropperShape) -> None:
    """Power and voltage of every resistor in series, at each case and at no load alike; a brown-out only lessens them.

    The current of a dropper hardly follows its load: the rail is short beside the mains, and the clamp takes what the
    load leaves.
    """
    structure, ledger = context.structure, context.ledger
    harmonics = context.assume("harmonic_rise", LINE, "harmonic_rise") if shape.capacitance is not None else None
    rows = {name: hot(context, name) for name in shape.path}
    for name in shape.path:
        subject = part(name)
        others = _others(context, shape, name)
        inputs: Inputs = {"own": rows[name], "others": others, "clamp": shape.held}
        if shape.capacitance is not None and harmonics is not None:
            inputs |= {"capacitance": shape.capacitance, "harmonics": harmonics}
        else:
            inputs["back"] = shape.back
        for quantity, output in paired(("power", "power"), ("voltage_rms", "voltage")):
            if quantity == "voltage_rms" and not structure.may_be(name, *RESISTORS):
                continue
            for case in cases_of(context, quantity, [subject]):
                at: Inputs = {**inputs, "mains": case.mains or 0.0}
                model = AMONG
                if shape.capacitance is not None:
                    at["frequency"], model = _hertz(context, case), BESIDE
                ledger.work_out(model, at, [(subject, quantity, output)], case=case)
        if structure.may_be(name, *RESISTORS) and structure.places.get(name) != "mains series":
            allowed_power(context, name)
    _brown_out(context, shape)


def _hertz(context: Context, case: Case) -> float:
    """The frequency of a case; where it names none the highest, at which more flows."""
    return case.frequency or (context.plan.frequency[1] if context.plan.frequency is not None else 60.0)


def _others(context: Context, shape: DropperShape, name: str) -> Entry | Value:
    """Resistance of everything else in series, the mains with it: the whole less its own."""
    whole, own = shape.resistance, hot(context, name)
    if not isinstance(whole.value, Value):
        return whole
    if not isinstance(own.value, Value):
        return own
    ends = zip(whole.value.numbers(), own.value.numbers(), strict=True)
    left = [max(0.0, w - o) for w, o in ends]
    return context.ledger.write(
        part(name),
        "series_resistance",
        Value(*left),
        case=Case("rest of the path"),
        known_by="computed",
        inputs=(whole.number, own.number),
        rests_on=whole.rests_on | own.rests_on,
        formula="all in series less its own",
        source="Kirchhoff",
    )


def _brown_out(context: Context, shape: DropperShape) -> None:
    """At a lower mains less of everything flows: no more than at the highest."""
    for name in (*shape.path, ""):
        subject = part(name) if name else SUPPLY
        for quantity in each("power", "current_rms", "mains_current"):
            if (quantity == "mains_current") == bool(name):
                continue
            rows = [row for row in context.ledger.rows(subject, quantity) if row.case and row.case.group == RUNNING]
            known = [row for row in rows if isinstance(row.value, Value)]
            for case in context.plan.cases([quantity], [BROWN_OUT]):
                if not rows or len(known) < len(rows):
                    missing = [fact for row in rows for fact in row.missing]
                    context.ledger.hole(subject, quantity, missing, case=case)
                    continue
                worst = max(known, key=lambda row: row.value.high if isinstance(row.value, Value) else inf)
                assert isinstance(worst.value, Value)
                context.ledger.write(
                    subject,
                    quantity,
                    Value(0.0, 0.0, worst.value.far, worst.value.high),
                    case=case,
                    known_by="computed",
                    inputs=(worst.number,),
                    rests_on=worst.rests_on,
                    formula="no more than while it runs",
                    source="the current of a dropper rises with the mains",
                )


def solve_rail(context: Context, shape: DropperShape) -> None:
    """What the rail has for its load, with the capacitor new and at the end of its life."""
    structure, ledger = context.structure, context.ledger
    outputs = [Subject("output", (name,)) for name in structure.outputs]
    for aged in (False, True):
        for case in cases_of(context, "current_available", outputs, aged):
            row = flow(context, shape, case, [(LINE, "current_available", shape.flow)], aged)[0]
            for name in shape.parts.drains:
                inputs: Inputs = {
                    "current": row,
                    "rail": shape.rail,
                    "resistance": context.need(part(name), "part.resistance"),
                }
                row = ledger.work_out(LEFT_OVER, inputs, [(LINE, "current_available", "left")], case=case)[0]
            for output in outputs:
                repeated(context, row, case, output)
    lights = [part(name) for name in structure.places if structure.must_be(name, "LED")]
    for case in cases_of(context, "current_average", lights):
        flow(context, shape, case, [(one, "current_average", shape.flow) for one in lights])


def solve_clamps(context: Context, shape: DropperShape) -> None:
    """Power of each clamp while nothing else takes the current; nothing of one that another never lets break down."""
    ledger, parts = context.ledger, shape.parts
    rows = {name: breakdown(context, name) for name in parts.clamps}
    for name, own in rows.items():
        subject = part(name)
        allowed_power(context, name)
        others = [row.value for one, row in rows.items() if one != name]
        sleeps = isinstance(own.value, Value) and any(
            isinstance(other, Value) and other.high < own.value.low for other in others
        )
        first = not any(
            isinstance(o, Value) and isinstance(own.value, Value) and o.low <= own.value.high for o in others
        )
        for case in cases_of(context, "power", [subject]):
            if sleeps:
                ledger.write(
                    subject,
                    "power",
                    DROPS_NOTHING,
                    case=case,
                    known_by="computed",
                    inputs=tuple(row.number for row in rows.values()),
                    rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
                    formula="another breaks down first",
                    source="the circuit",
                )
                continue
            at = case._replace(frequency=_hertz(context, case))
            current = flow(context, shape, at, [(subject, "current_average", shape.flow)])[0]
            forward = shape.drop if parts.clamped_ahead and not parts.returns else DROPS_NOTHING
            row = ledger.work_out(
                SHUNT, {"rail": own, "drop": forward, "current": current}, [(subject, "power", "power")], case=case
            )[0]
            if not first and isinstance(row.value, Value):  # which of them breaks down first is not known
                ledger.copy(row)
                ledger.write(
                    subject,
                    "power",
                    Value(0.0, 0.0, row.value.far, row.value.high),
                    case=case,
                    known_by="computed",
                    inputs=(row.number,),
                    rests_on=row.rests_on,
                    formula="no more than all of it",
                    source="which of several breaks down first is not known",
                )


def solve_stores(context: Context, shape: DropperShape) -> None:
    """Capacitors across the rail: their voltage without load, with the clamp open, ripple, rating, life."""
    ledger, parts = context.ledger, shape.parts
    names = store_names(parts)
    subjects = [part(name) for name in names]
    for case in cases_of(context, "voltage", subjects):
        for one in subjects:
            if parts.clamps:
                repeated(context, shape.rail, case, one)
            else:
                unclamped(context, shape, one, "voltage", case)
    for case in cases_of(context, "voltage_clamp_open", subjects):
        for one in subjects:
            next_of(context, shape, one, case)
    for case in cases_of(context, "ripple_current", subjects):
        for one in subjects:
            row = flow(
                context, shape, case._replace(frequency=_hertz(context, case)), [(one, "ripple_current", "rms")]
            )[0]
            if isinstance(row.value, Value):
                ledger.write(
                    one,
                    "ripple_current",
                    Value(0.0, 0.0, row.value.far, row.value.high),
                    case=case,
                    known_by="computed",
                    inputs=(row.number,),
                    rests_on=row.rests_on,
                    formula="no more than what is rectified",
                    source="a capacitor takes what load and clamp leave",
                )
    hertz = (2.0 if shape.bridge else 1.0) * (context.plan.frequency[0] if context.plan.frequency else 50.0)
    for name in names:
        ripple_rating(context, part(name), hertz)
        if context.structure.may_be(name, "electrolytic capacitor", "solid electrolytic capacitor"):
            allowed_case(context, name)
    solve_lives(context, names, "ripple_current")


def unclamped(context: Context, shape: DropperShape, subject: Subject, quantity: QuantityName, case: Case) -> Entry:
    """The rail with nothing to hold it and no load: it climbs to the crest; to twice that where a half-wave input has a
    way back for the other half cycle, which charges the dropping capacitor the wrong way round first."""
    crest = 2.0**0.5 * (case.mains or 0.0)
    doubled = not shape.bridge and bool(shape.parts.returns) and shape.capacitance is not None
    most = 2.0 * crest if doubled else crest
    return context.ledger.write(
        subject,
        quantity,
        Value(0.97 * most, 0.97 * most, most, most),
        case=case,
        known_by="computed",
        inputs=(shape.drop.number,),
        formula="2 × crest" if doubled else "crest of the mains",
        source="own derivation: nothing draws what still flows",
        note="nothing holds the rail without load",
    )


def next_of(context: Context, shape: DropperShape, subject: Subject, case: Case) -> Entry:
    """The rail once one of what holds it has opened: at the next that breaks down; with none, as high as it climbs."""
    rows = [breakdown(context, name) for name in shape.parts.clamps]
    values = [row.value for row in rows]
    if len(rows) < 2:
        return unclamped(context, shape, subject, "voltage_clamp_open", case)
    known = [value for value in values if isinstance(value, Value)]
    inputs = tuple(row.number for row in rows)
    if len(known) < len(values):
        missing = [fact for row in rows for fact in row.missing]
        return context.ledger.hole(subject, "voltage_clamp_open", missing, case=case, inputs=inputs)
    second = Value(*(sorted(column)[1] for column in zip(*(one.numbers() for one in known), strict=True)))
    return context.ledger.write(
        subject,
        "voltage_clamp_open",
        second,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="the second least of what breaks down across it",
        source="the circuit",
    )


def solve_across(context: Context, shape: DropperShape) -> None:
    """Resistors across the dropping capacitor: each bears its share of the whole mains."""
    shunts = tuple(
        Shunt(one, tuple(leaf.name for leaf in leaves(one)), 0)
        for each_ in shape.parts.dropping
        for one in each_.across
    )
    if shunts:
        solve_bleeders(context, MainsInput((), (), shunts, (), "", (), (), ()))


def solve_short(context: Context, shape: DropperShape) -> None:
    """Whether something is shown to open once the dropping capacitor has shorted, at both ends of the mains."""
    ledger, plan = context.ledger, context.plan
    for name, ahead in context.structure.own.shorts:
        subject = part(name)
        if plan.mains is None or plan.frequency is None:
            ledger.hole(subject, "short_cleared", plan.lacking(RUNNING))
            continue
        found: list[list[Opening]] = []
        rows: list[Entry] = []
        path: list[tuple[str, Entry | Value]] = [(one, hot(context, one)) for one in shape.path]
        path.append(("socket", SOCKET))
        resistance = total(context, path, Case("fault path", fault=f"hard short of {name}"))
        for volts, hertz in ((plan.mains[0], plan.frequency[1]), (plan.mains[1], plan.frequency[0])):
            inputs: Inputs = {
                "mains": volts,
                "frequency": hertz,
                "resistance": resistance,
                "inductance": SOCKET_INDUCTANCE,
            }
            case = Case("fault path", volts, hertz, fault=f"hard short of {name}")
            row = ledger.work_out(FULL, inputs, [(subject, "fault_current", "rms")], case=case)[0]
            rows.append(row)
            if not isinstance(row.value, Value):
                break
            ohms = {one: hot(context, one).value for one in ahead}
            found.append(
                [
                    opens(context, one, row.value, value if isinstance(value := ohms[one], Value) else DROPS_NOTHING)
                    for one in protective_parts(context, ahead)
                ]
            )
        numbers = tuple(row.number for row in rows)
        rests = frozenset().union(*(row.rests_on for row in rows))
        if len(found) < 2:
            missing = [fact for row in rows for fact in row.missing]
            ledger.hole(subject, "short_cleared", missing, inputs=numbers, note=rows[-1].note)
            continue
        shown = all(any(one.shown and one.time is not None for one in at) for at in found)
        lacks = () if shown else tuple(dict.fromkeys(fact for at in found for one in at for fact in one.lacks))
        if lacks:  # with what nobody has looked up it may be either
            ledger.hole(subject, "short_cleared", lacks, inputs=numbers, note=_told(found))
            continue
        ledger.write(
            subject,
            "short_cleared",
            Category.of("shown" if shown else "not shown"),
            known_by="computed",
            inputs=(*numbers, *(n for at in found for one in at for n in one.rows)),
            rests_on=rests.union(*(one.rests_on for at in found for one in at)),
            formula="least fault current against the opening data",
            source="opening tables of data sheets; gates of IEC 60127-2 and of UL 248-14 as data sheets print them",
            note=_told(found) + _glows(context, ahead, rows),
        )


def _told(found: list[list[Opening]]) -> str:
    """Why, of each part that may open."""
    return "; ".join(dict.fromkeys(one.why for at in found for one in at)) or "nothing in the path is made to open"


def _glows(context: Context, ahead: tuple[str, ...], rows: list[Entry]) -> str:
    """What plain resistors of the path take meanwhile, at the least."""
    least = rows[0].value
    if not isinstance(least, Value):
        return ""
    told = ""
    for name in ahead:
        own = hot(context, name).value
        if context.structure.may_be(name, *RESISTORS) and isinstance(own, Value):
            told += f"; {name} takes {own.near * least.near**2:.3g} W and more meanwhile"
    return told
