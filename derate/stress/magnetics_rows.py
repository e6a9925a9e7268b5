"""Flux density at the current limit with everything against it, and current density of every winding."""

from __future__ import annotations

from derate.circuit.magnetics import current_density, flux_density
from derate.ledger.entry import Subject
from derate.ledger.model import Model
from derate.stress.context import Context
from derate.stress.converter import Shape, assumed
from derate.stress.operating import Inputs, again, current_limit, limit_inputs
from derate.stress.winding_inductance import work_out_gap
from derate.terms.cases import OVERLOAD, RUNNING
from derate.terms.values import Value

# L I with I = limit + bulk × delay / L is L × limit + bulk × delay: it rises with the inductance.
FLUX = Model(
    "flux density at the current limit",
    lambda limit, bulk, delay, inductance, turns, area: {
        "flux": flux_density(inductance, limit + bulk * delay / inductance, turns, area)
    },
    {"flux": {"limit": 1, "bulk": 1, "delay": 1, "inductance": 1, "turns": -1, "area": -1}},
    "AN-4137 eq 13 with the current limit and its delay",
    "(inductance × limit + bulk × delay) / (turns × area)",
)
DENSITY = Model(
    "current density of a winding",
    lambda current, diameter, strands: {"density": current_density(current, diameter, strands)},
    {"density": {"current": 1, "diameter": -1, "strands": -1}},
    "definition; skin and proximity effect are not in it",
    "rms current / copper area",
)
FERRITE_HOT = "core_saturation"
# Greatest winding temperature by insulation class, IEC 60085 thermal classes less 10 K between thermocouple and hot
# spot.
CLASSES = {"A": 105.0, "E": 120.0, "B": 130.0, "F": 155.0, "H": 180.0}
HOT_SPOT = 10.0


def solve_magnetics(context: Context, shape: Shape) -> None:
    """Write the rows of the transformer and its windings."""
    ledger = context.ledger
    winding = shape.primary.winding if shape.primary is not None else None
    primary = Subject("winding", (winding or "primary",))
    inputs: Inputs = {
        **limit_inputs(context, shape, current_limit(context, shape)),
        "turns": context.need(primary, "winding.turns"),
        "area": context.need(shape.transformer, "core.area"),
    }
    for case in context.plan.cases(["flux_density"], [OVERLOAD]):
        ledger.work_out(FLUX, inputs, [(shape.transformer, "flux_density", "flux")], case=case)
    stated = context.fact(shape.transformer, "core.saturation")
    if stated is not None:
        again(context, ledger.write(
            shape.transformer, "allowed.flux_density", stated.value, known_by=stated.known_by, inputs=(stated.number,),
            rests_on=stated.rests_on, formula="as stated", source="data of the core", place=stated.place,
        ), context.plan.cases(["flux_density"], [OVERLOAD])[0])  # fmt: skip
    else:
        row = assumed(context, FERRITE_HOT, shape.transformer, "core_saturation", "core.saturation")
        ledger.write(
            shape.transformer, "allowed.flux_density", row.value, known_by="assumed", inputs=(row.number,),
            missing=row.missing, note=row.note, rests_on=row.rests_on, formula="as assumed", source=row.source,
        )  # fmt: skip
    work_out_gap(context, shape.transformer, winding)
    for name in context.structure.windings:
        _density(context, Subject("winding", (name,)))
    _allowed_temperature(context, shape.transformer)


def _density(context: Context, subject: Subject) -> None:
    """Current density of one winding that carries a current anybody worked out."""
    for case in context.plan.cases(["current_density"], [RUNNING]):
        current = context.fact(subject, "current_rms", case)
        if current is None and context.fact(subject, "winding.tied_to") is not None:
            context.ledger.write(
                subject, "current_density", Value.exact(0.0), case=case, known_by="computed", source="definition",
                formula="a shield carries no load current", inputs=(context.need(subject, "winding.tied_to").number,),
            )  # fmt: skip
            continue
        if current is None:
            note = "what is drawn from this winding is not known"
            context.ledger.hole(subject, "current_density", (), case=case, note=note)
            continue
        if context.word(subject, "winding.wire") == "foil":
            context.ledger.hole(subject, "current_density", (), case=case, note="foil is not covered")
            return
        strands = context.fact(subject, "winding.strands")
        inputs: Inputs = {
            "current": current,
            "diameter": context.need(subject, "winding.bare"),
            "strands": strands if strands is not None else Value.exact(1.0),
        }
        context.ledger.work_out(DENSITY, inputs, [(subject, "current_density", "density")], case=case)


def _allowed_temperature(context: Context, transformer: Subject) -> None:
    word = context.word(transformer, "transformer.insulation_class")
    if word in CLASSES:
        stated = context.need(transformer, "transformer.insulation_class")
        context.ledger.write(
            transformer, "allowed.winding_temperature", Value.exact(CLASSES[word] - HOT_SPOT), known_by=stated.known_by,
            inputs=(stated.number,), rests_on=stated.rests_on, formula="class less 10 K to the hot spot",
            source="thermal classes of IEC 60085, remembered",
        )  # fmt: skip
    else:  # every class there is may be the one
        ends = (min(CLASSES.values()) - HOT_SPOT, max(CLASSES.values()) - HOT_SPOT)
        context.ledger.write(
            transformer, "allowed.winding_temperature", Value.between(*ends), known_by="computed",
            formula="lowest to highest class, less 10 K to the hot spot", note="the insulation class is not known",
            source="thermal classes of IEC 60085, remembered",
        )  # fmt: skip
