"""The side of the mains: what primary, fuse and thermal link carry, what a switch-on draws, what the windings stand."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

from derate.circuit import line_transformer as physics
from derate.circuit.elementary import total
from derate.design.readings import Reading
from derate.design.structure import Element
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.bench.load_tests import IN_OVERLOAD
from derate.stress.context import BARRIER, EVERY_MAINS, LINE, Context, Inputs, part
from derate.stress.mains.beside import capacitance_across, capacitors_across
from derate.stress.mains.line import mains_resistance
from derate.stress.mains.switch_on import less_when_hot
from derate.stress.parts.windings import HOT_SPOT, PRIMARY, allowed_winding_temperature, current_density
from derate.terms.quantities import RUNNING, SWITCH_ON, each
from derate.terms.values import Category, Curve, Value
from derate.topologies.line_transformer.circuit import LineTransformerParts, parts_of
from derate.topologies.line_transformer.rail import (
    COLD_COPPER,
    Rails,
    open_voltage,
    reservoir,
    resistance_of,
    transformer_of,
)

HERTZ_LEAST = 47.0  # lowest frequency at a socket where nobody states one [Hz]

MAGNETISING = Model.of(
    "switch-on of an unloaded transformer",
    physics.MAGNETISING,
    "own derivation: the resistance alone limits a saturated core, until two crests of flux are gone",
    "peak √2 × mains / resistance; I²t at most peak² × 2 / ω",
)


def drawn(context: Context, found: Rails) -> None:
    """Mains current at full load: that of every secondary by its turns, and what the iron takes."""
    parts = parts_of(context.structure)
    if not parts.primary:
        return
    transformer = transformer_of(parts.primary[0])
    for case in context.plan.cases(["mains_current"], [RUNNING]):
        inputs: Inputs = {"idle": _idle(context, transformer, case)}
        for k, rail in enumerate(found.every):
            for j, winding in enumerate(rail.secondary.windings):
                subject = Subject("winding", (winding,))
                inputs[f"current_{k}_{j}"] = context.need(subject, "current_rms", case)
                inputs[f"voltage_{k}_{j}"] = context.need(subject, "open_voltage", Case("winding", case.mains))
        model = Model.of(
            "mains current of a transformer",
            physics.drawn(*(name.removeprefix("current_") for name in inputs if name.startswith("current_"))),
            "turns; the current of the iron from a quarter of a period behind to in phase",
            "sum of secondary current × open-circuit voltage / mains, with the current without load",
        )
        inputs["mains"] = case.mains or 0.0
        if any(rail.connection == "half-wave" for rail in found.every):
            note = "the direct current of a half wave biases the core: what the mains gives is read, not worked out"
            context.ledger.hole(
                SUPPLY, "mains_current", (OpenFact(SUPPLY, "mains_current", "as read"),), case=case, note=note
            )
            continue
        _between(context, model, inputs, case)
    ahead = [part(name) for name in parts.ahead]
    _through(context, [*ahead, *(Subject("winding", (one,)) for one in parts.primary)])
    inlet = context.structure.own_inlet
    if inlet is not None and (across := capacitors_across(context, inlet)[1]):
        _capacitors_beside(context, across)
        _through(context, ahead)


def _through(context: Context, subjects: Sequence[Subject]) -> None:
    """The mains current as it is so far, through each of these."""
    for case in context.plan.cases(["current_rms"], [RUNNING]):
        row = context.need(SUPPLY, "mains_current", case)
        for subject in subjects:
            context.ledger.write(
                subject,
                "current_rms",
                row.value,
                case=case,
                missing=row.missing,
                known_by=row.known_by,
                formula=row.formula,
                source=row.source,
                inputs=row.inputs,
                note=row.note,
                rests_on=row.rests_on,
            )


def _capacitors_beside(context: Context, across: Sequence[Element]) -> None:
    """What capacitors across the mains take, from all of it taken off the mains current to all of it added."""
    for case in context.plan.cases(["mains_current"], [RUNNING]):
        row = context.need(SUPPLY, "mains_current", case)
        capacitance = capacitance_across(context, across, LINE, Case(RUNNING))
        inputs, rests = (row.number, capacitance.number), row.rests_on | capacitance.rests_on
        if not isinstance(row.value, Value) or not isinstance(capacitance.value, Value) or case.mains is None:
            missing = tuple(dict.fromkeys((*row.missing, *capacitance.missing)))
            context.ledger.hole(
                SUPPLY, "mains_current", missing, case=case, note=row.note, inputs=inputs, rests_on=rests
            )
            continue
        turn = 2.0 * pi * (case.frequency or max(context.plan.frequency or EVERY_MAINS)) * case.mains
        far, high = turn * capacitance.value.far, turn * capacitance.value.high
        low, near = max(0.0, row.value.low - high), max(0.0, row.value.near - far)
        context.ledger.write(
            SUPPLY,
            "mains_current",
            Value(low, near, row.value.far + far, row.value.high + high),
            case=case,
            known_by="computed",
            inputs=inputs,
            rests_on=rests,
            formula="mains current of a transformer, less and more 2 pi f C V",
            source="own derivation: rms of a sum lies between difference and sum, whatever their phase",
        )


def _between(context: Context, model: Model, inputs: Inputs, case: Case) -> None:
    """From the root of the squares to the whole sum, as one row."""
    least = context.ledger.work_out(model, inputs, [(SUPPLY, "mains_current", "least")], case=case)[0]
    most = context.ledger.work_out(model, inputs, [(SUPPLY, "mains_current", "most")], case=case)[0]
    if isinstance(least.value, Value) and isinstance(most.value, Value):
        context.ledger.write(
            SUPPLY,
            "mains_current",
            Value(least.value.low, least.value.near, most.value.far, most.value.high),
            case=case,
            known_by="computed",
            inputs=most.inputs,
            rests_on=most.rests_on,
            formula=model.name,
            source=model.source,
        )


def _idle(context: Context, transformer: Subject, case: Case) -> Entry | Value:
    """Current without load: as read at a mains as high as this, for iron saturates."""
    stated = context.fact(transformer, "transformer.no_load_current")
    if stated is None:
        return context.need(transformer, "transformer.no_load_current")
    if not isinstance(stated.value, Curve):
        return stated
    mains = case.mains or 0.0
    fit = [value for at, value in stated.value.points if at >= 0.99 * mains]
    # below the mains it was read at it is less: no further than with its fourth power, for iron saturates
    under = [value.low for at, value in stated.value.points if at <= 1.01 * mains]
    above = [(at, value.low) for at, value in stated.value.points if at > 1.01 * mains]
    below = under[-1] if under else above[0][1] * (mains / above[0][0]) ** 4 if above else 0.0
    if fit:
        return context.ledger.write(
            transformer,
            "mains_current",
            Value(min(below, fit[0].low), min(below, fit[0].near), fit[0].far, fit[0].high),
            case=Case("winding", mains),
            known_by=stated.known_by,
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            place=stated.place,
            formula="as read at that mains or a higher one",
            source="the file",
        )
    read = stated.value.greatest
    note = f"the current without load was read at {read:.4g} V at most, and the mains reaches {mains:.4g} V"
    return context.ledger.hole(
        transformer,
        "mains_current",
        (OpenFact(transformer, "transformer.no_load_current", f"at {mains:.4g} V"),),
        case=Case("winding", mains),
        note=note,
    )


COLDER = Model.of("winding when cold", physics.HEATED, "copper, 234.5 K", "resistance × (234.5 + cold) / (234.5 + at)")
AHEAD = Model.of("resistance ahead of the core", total("sum", "primary", "mains"), "Kirchhoff", "primary + mains")
SEEN_CAPACITANCE = Model.of(
    "capacitance seen at the primary",
    physics.SEEN_CAPACITANCE,
    "turns",
    "capacitance × (open-circuit voltage / mains)²",
)
EACH = Model.of("sum", total("sum", "a"), "Kirchhoff")


def _restart(context: Context, parts: LineTransformerParts) -> None:
    """Whether anything in the path is less when hot; where a mains input was worked out its step has said so."""
    if context.fact(SUPPLY, "circuit.restart") is not None:
        return
    less_when_hot(context, parts.ahead, "the flux left in the core is in the figure of a switch-on")


def switched_on(context: Context, found: Rails) -> None:
    """Peak and I²t of a switch-on in all that stands ahead of the primary: upper figures."""
    parts = parts_of(context.structure)
    _restart(context, parts)
    if not parts.primary or not parts.ahead:
        return
    cold = COLD_COPPER if context.plan.ambient is None else min(COLD_COPPER, context.plan.ambient[0])
    sums: Inputs = {"mains": mains_resistance(context)}
    for k, name in enumerate(parts.primary):
        row, at = resistance_of(context, name)
        wanted: list[Wanted] = [(Subject("winding", (name,)), "series_resistance", "resistance")]
        inputs: Inputs = {"resistance": row, "at": at, "warm": cold}
        sums[f"r{k}"] = context.ledger.work_out(COLDER, inputs, wanted, case=Case("winding"))[0]
    model = AHEAD.by(total("sum", *sums))
    ahead = context.ledger.work_out(model, sums, [(PRIMARY, "series_resistance", "sum")], case=Case("winding"))[0]
    for case in context.plan.cases(["i2t"], [SWITCH_ON]):
        charged: Inputs = {}
        for k, rail in enumerate(found.every):
            seen: Inputs = {
                "capacitance": reservoir(context, rail),
                "open_circuit": open_voltage(context, rail, case.mains),
                "mains": case.mains or 0.0,
                "pieces": 2.0 if rail.connection == "doubler" else 1.0,
            }
            each: list[Wanted] = [(rail.output, "bulk_capacitance", "capacitance")]
            charged[f"c{k}"] = context.ledger.work_out(SEEN_CAPACITANCE, seen, each, case=Case("winding"))[0]
        summed = EACH.by(total("sum", *charged))
        whole: list[Wanted] = [(PRIMARY, "bulk_capacitance", "sum")]
        rows: list[Wanted] = []
        for name in parts.ahead:
            rows += [(part(name), "i2t", "i2t"), (part(name), "current_peak", "peak")]
        inputs = {
            "mains": case.mains or 0.0,
            "frequency": case.frequency or HERTZ_LEAST,
            "resistance": ahead,
            "charged": context.ledger.work_out(summed, charged, whole, case=Case("winding"))[0] if charged else 0.0,
        }
        context.ledger.work_out(MAGNETISING, inputs, rows, case=case)


def rated(context: Context, found: Rails, readings: Sequence[Reading]) -> None:
    """What the class of the insulation allows the windings, and what opens when they are hot; what each of them is."""
    parts = parts_of(context.structure)
    _named(context, parts, found)
    for name in context.structure.windings:
        current_density(context, Subject("winding", (name,)))
    alone = context.word(SUPPLY, "supply.topology") is not None  # another that it may be says it of its own core
    for transformer in dict.fromkeys(transformer_of(one) for one in parts.primary):
        if alone and context.fact(transformer, "core.gap_compared") is None:
            context.ledger.write(
                transformer,
                "core.gap_compared",
                Category.of("no"),
                known_by="computed",
                formula="a laminated core has no gap that its inductance is worked out from",
                source="definition",
            )
        allowed_winding_temperature(context, transformer, readings)
        word = context.word(transformer, "transformer.insulation_class")
        stated = context.fact(transformer, "transformer.insulation_class")
        limits = [IN_OVERLOAD[one] - HOT_SPOT for one in IN_OVERLOAD if word in (one, None)]
        for name in parts.by_heat:
            context.ledger.write(
                part(name),
                "allowed.overload_winding_temperature",
                Value.between(min(limits), max(limits)),
                known_by="computed",
                inputs=(stated.number,) if stated is not None else (),
                rests_on=stated.rests_on if stated is not None else frozenset(),
                formula="that of the class in overload, 10 K less for what the link misses",
                source="60950-1, temperature of windings by class in overload",
                note="" if stated is not None else "the insulation class is not known: from the lowest to the highest",
            )


def _named(context: Context, parts: LineTransformerParts, found: Rails) -> None:
    """Which transformer and which windings these are, for rules to ask."""
    words = [(transformer_of(one), "line transformer") for one in parts.primary]
    words += [(Subject("winding", (one,)), "primary winding") for one in parts.primary]
    words += [
        (Subject("winding", (one,)), "secondary winding") for rail in found.every for one in rail.secondary.windings
    ]
    for subject, word in dict.fromkeys(words):
        context.ledger.write(
            subject, "part.place", Category.of(word), known_by="computed", formula="by its path", source="the circuit"
        )


def working(context: Context, _: object) -> None:
    """Working voltage across the transformer: the mains, with the whole crest of the secondary on top."""
    parts = parts_of(context.structure)
    for quantity in each("working_voltage", "working_voltage_peak"):
        factor = 1.0 if quantity == "working_voltage" else 2.0**0.5
        for case in context.plan.cases([quantity], [RUNNING]):
            subjects = (BARRIER, PRIMARY, *(transformer_of(one) for one in parts.primary))
            for subject in dict.fromkeys(subjects):
                if case.mains is None:
                    context.ledger.hole(subject, quantity, context.plan.lacking(RUNNING), case=case)
                    continue
                context.ledger.write(
                    subject,
                    quantity,
                    Value.exact(factor * case.mains),
                    case=case,
                    known_by="computed",
                    formula="the mains",
                    source="the secondary floats or is earthed: the primary moves with the mains against it",
                )
