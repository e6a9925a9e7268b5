"""A linear regulator behind the rail: drop-out, loss, junction; what reaches the output; a battery that is charged."""

from __future__ import annotations

from derate.circuit import line_transformer as physics
from derate.circuit.elementary import passed, product, ratio, total
from derate.ledger.entry import Case, Entry, OpenFact
from derate.ledger.ledger import Model
from derate.stress.charging import A_CELL
from derate.stress.context import Context, Inputs, part, sized
from derate.stress.parts.life import junction
from derate.stress.parts.windings import STANDING, assumed
from derate.terms.quantities import FULL_LOAD, NO_LOAD, OVERLOAD, RUNNING
from derate.terms.values import Category, Curve, Value
from derate.terms.words import DIODES
from derate.topologies.line_transformer.rail import Rail, Rails, ohms_of

NEEDED = Model.of(
    "least input of a regulator",
    total("sum", "output", "dropout"),
    "definition of the drop-out voltage",
    "output + drop-out",
)
DROPPED = Model.of(
    "drop of a part in series", product("voltage", "current", "ohms"), "Ohm's law", "current × resistance"
)
MOST_DROP = 1.2  # of a junction diode in series with the load, at most [V]; common practice, no source
LOSS = Model.of(
    "loss of a linear regulator",
    physics.LOSS,
    "own derivation",
    "(mean input − output) × load + mean input × own current",
)
LIMITED = Model.of(
    "loss of a regulator at its limit", physics.LIMITED, "own derivation", "mean input × the current at which it limits"
)
OVER_PLATE = Model.of(
    "voltage without load over the plate",
    ratio("ratio", "voltage", "plate"),
    "definition",
    "voltage without load / plate",
)
AS_IT_IS = Model.of("as it is", passed("voltage"), "definition")


def solve_regulators(context: Context, found: Rails) -> None:
    """Every regulator: what it needs at its input, what it loses, how hot it gets; what stands at its output."""
    for rail in found.every:
        name = rail.secondary.regulator
        if name is None:
            continue
        context.ledger.write(
            part(name),
            "current_average",
            rail.current.value,
            missing=rail.current.missing,
            known_by=rail.current.known_by,
            inputs=(rail.current.number,),
            rests_on=rail.current.rests_on,
            formula="that of its output",
            source="the circuit",
        )
        _needed(context, rail, name)
        _loss(context, rail, name)
        for case in context.plan.cases(["voltage"], [RUNNING]):
            for one in rail.secondary.behind:
                context.ledger.work_out(
                    AS_IT_IS, {"voltage": output_of(context, name)}, [(part(one), "voltage", "voltage")], case=case
                )


def output_of(context: Context, name: str) -> Entry:
    """What a regulator is set to [V]."""
    return sized(context, context.need(part(name), "part.voltage"))


def _dropout(context: Context, rail: Rail, name: str) -> Entry:
    """Drop-out voltage: of the sheet at the current nearest above that of the load, else as a pack assumes it."""
    subject = part(name)
    stated = context.fact(subject, "rated.dropout_voltage")
    if stated is None:
        return assumed(context, "regulator_dropout", subject, "voltage_needed", "rated.dropout_voltage")
    if not isinstance(stated.value, Curve):
        return stated
    most = rail.current.value.high if isinstance(rail.current.value, Value) else 0.0
    above = [value for at, value in stated.value.points if at >= most]
    if not above:
        note = f"the drop-out is stated up to {stated.value.greatest:.3g} A and the output gives {most:.3g} A"
        return context.ledger.hole(
            subject,
            "voltage_needed",
            (OpenFact(subject, "rated.dropout_voltage", f"at {most:.3g} A"),),
            case=STANDING,
            note=note,
        )
    return context.ledger.write(
        subject,
        "voltage_needed",
        above[0],
        case=Case("converter", load=FULL_LOAD),
        known_by=stated.known_by,
        inputs=(stated.number,),
        place=stated.place,
        rests_on=stated.rests_on,
        formula="drop-out at the next current of the sheet",
        source="the part's data",
    )


def _needed(context: Context, rail: Rail, name: str) -> None:
    """Output, drop-out, and what drops between the reservoir and the regulator."""
    inputs: Inputs = {"output": output_of(context, name), "dropout": _dropout(context, rail, name)}
    for k, one in enumerate(rail.secondary.series):
        if context.structure.must_be(one, *DIODES):
            inputs[f"diode_{k}"] = Value.between(0.2, MOST_DROP)
            continue
        ohms: Inputs = {"current": rail.load, "ohms": ohms_of(context, one)}
        inputs[f"drop_{k}"] = context.ledger.work_out(
            DROPPED, ohms, [(part(one), "voltage", "voltage")], case=STANDING
        )[0]
    model = NEEDED.by(total("sum", *inputs))
    context.ledger.work_out(model, inputs, [(part(name), "voltage_needed", "sum")])


def _loss(context: Context, rail: Rail, name: str) -> None:
    ledger, subject = context.ledger, part(name)
    hottest = None
    for case in context.plan.cases(["power"], [RUNNING]):
        if case.load not in (FULL_LOAD, ""):
            continue
        mean = context.fact(subject, "voltage_mean", case) or context.need(subject, "voltage_mean", case)
        row = ledger.work_out(
            LOSS,
            {"voltage": mean, "output": output_of(context, name), "current": rail.current, "own": rail.own},
            [(subject, "power", "power")],
            case=case,
        )[0]
        if hottest is None or _far(row) > _far(hottest):
            hottest = row
    if hottest is not None:
        junction(context, name, hottest)
    limit = context.fact(subject, "part.limit_current")
    for case in context.plan.cases(["power"], [OVERLOAD]):
        ahead = ledger.find(subject, "voltage_mean", context.plan.cases(["voltage_mean"], [RUNNING])[-1])
        ledger.work_out(
            LIMITED,
            {
                "voltage": ahead or context.need(subject, "voltage_mean"),
                "limit": limit or context.need(subject, "part.limit_current"),
            },
            [(subject, "power", "power")],
            case=case,
        )


def _far(row: Entry) -> float:
    return row.value.far if isinstance(row.value, Value) else float("inf")


def solve_outputs(context: Context, found: Rails) -> None:
    """What reaches each output without load against its plate, and each cell of a battery that it charges."""
    for rail in found.every:
        context.ledger.write(
            rail.output,
            "output.by",
            Category.of("line transformer"),
            known_by="computed",
            formula="by its path",
            source="the circuit",
        )
        ends = _ends_of(context, rail)
        for case, row in ends:
            context.ledger.work_out(
                OVER_PLATE,
                {"voltage": row, "plate": sized(context, context.need(rail.output, "plate.voltage"))},
                [(rail.output, "voltage_over_plate", "ratio")],
                case=case,
            )
        if context.fact(rail.output, "battery.kind") is None:  # a supply, until somebody says that it is a charger
            context.ledger.write(
                rail.output,
                "battery.kind",
                Category.of("none"),
                known_by="computed",
                formula="no battery is named under the output",
                source="the file",
            )
        elif context.word(rail.output, "battery.kind") != "none":
            _battery(context, rail, ends)


def _ends_of(context: Context, rail: Rail) -> list[tuple[Case, Entry]]:
    """The voltage without load by case: that of the regulator, else the crest at the highest mains."""
    found = []
    for case in context.plan.cases(["voltage_peak"], [RUNNING]):
        if case.load != NO_LOAD:
            continue
        if rail.secondary.regulator is not None:
            row = context.ledger.work_out(
                AS_IT_IS,
                {"voltage": output_of(context, rail.secondary.regulator)},
                [(rail.output, "voltage_peak", "voltage")],
                case=case,
            )[0]
        else:
            row = context.need(rail.output, "voltage_peak", case)
        found.append((case, row))
    return found


def _battery(context: Context, rail: Rail, ends: list[tuple[Case, Entry]]) -> None:
    """Voltage of each cell at the end of the charge: that of the regulator over all its tolerances, else the crest.

    With the regulator shorted through, the whole rail lies on the cells.
    """
    ledger = context.ledger
    cells = context.need(rail.output, "battery.cells")
    regulator = rail.secondary.regulator
    for case, row in ends:
        ledger.work_out(A_CELL, {"whole": row, "cells": cells}, [(rail.output, "cell_voltage", "voltage")], case=case)
        lost = row if regulator is None else context.need(part(regulator), "voltage_peak", case)
        ledger.work_out(
            A_CELL, {"whole": lost, "cells": cells}, [(rail.output, "cell_voltage_lost", "voltage")], case=case
        )
