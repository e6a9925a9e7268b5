"""The transformer: flux density, current density of every winding, working voltage across it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from derate.circuit.barrier import ERROR, held_to_bulk_minus, middle_on_a_pole, on_a_pole, referred_to_mains
from derate.circuit.flyback import point_of
from derate.circuit.magnetics import FLUX_AT_LIMIT
from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import BARRIER, Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high
from derate.stress.parts.windings import allowed_winding_temperature, current_density, work_out_gap
from derate.terms.quantities import OVERLOAD, RUNNING
from derate.terms.values import Value
from derate.topologies.flyback.operating import Inputs, base_inputs, current_limit, limit_inputs
from derate.topologies.flyback.secondaries import worst_row
from derate.topologies.flyback.shape import PRIMARY, FlybackShape, assumed
from derate.topologies.flyback.switch import Clamping, clamp_of, clamping

# Flux density at the current limit with everything against it, and current density of every winding.


# L I with I = limit + bulk × delay / L is L × limit + bulk × delay: it rises with the inductance.
FLUX = Model.of(
    "flux density at the current limit",
    FLUX_AT_LIMIT,
    "AN-4137 (2004) eq 13 with the current limit and its delay",
    "(inductance × limit + bulk × delay) / (turns × area)",
)
FERRITE_HOT = "core_saturation"


def solve_magnetics(context: Context, shape: FlybackShape, readings: Sequence[Reading]) -> None:
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
        repeated(
            context,
            ledger.write(
                shape.transformer,
                "allowed.flux_density",
                stated.value,
                known_by=stated.known_by,
                inputs=(stated.number,),
                rests_on=stated.rests_on,
                formula="as stated",
                source="data of the core",
                place=stated.place,
            ),
            context.plan.cases(["flux_density"], [OVERLOAD])[0],
        )
    else:
        row = assumed(context, FERRITE_HOT, shape.transformer, "core_saturation", "core.saturation")
        ledger.write(
            shape.transformer,
            "allowed.flux_density",
            row.value,
            known_by="assumed",
            inputs=(row.number,),
            missing=row.missing,
            note=row.note,
            rests_on=row.rests_on,
            formula="as assumed",
            source=row.source,
        )
    work_out_gap(context, shape.transformer, winding)
    for name in context.structure.windings:
        current_density(context, Subject("winding", (name,)))
    allowed_winding_temperature(context, shape.transformer, readings)


# Working voltage across the transformer, rms and peak, for clearance and creepage (facts section 18).
#
# Two references: the secondary held to bulk minus by a bridging capacitor, or referred to the mains (earthed, or
# open). Which one holds is read from the bridging parts and the earth; where nobody knows, the larger. What the mains
# does to bulk minus hangs on the rectifier: a bridge holds it to the conductors in turn, behind a single diode or a
# doubler it rides on one of them. Where nobody knows the rectifier it is that of a single diode, the worst.


TO_EARTH = "referred to the mains"
ON_A_POLE = "referred to the mains, the bulk riding on a pole"
MIDDLE_ON_A_POLE = "referred to the mains, the middle of the bulk riding on a pole"
_REFERENCES = {"held to bulk minus": held_to_bulk_minus, TO_EARTH: referred_to_mains}
_RIDING = {ON_A_POLE: on_a_pole, MIDDLE_ON_A_POLE: middle_on_a_pole}
_BANDS = {
    "held to bulk minus": ERROR["held_rms"],
    TO_EARTH: ERROR["rms"],
    ON_A_POLE: ERROR["on_a_pole_rms"],
    MIDDLE_ON_A_POLE: ERROR["on_a_pole_rms"],
}
_BY_RECTIFIER = {"full bridge": TO_EARTH, "doubler": MIDDLE_ON_A_POLE}
_SOURCE = "own derivation over one period; held to ngspice 39, both references, both modes"
IDLE_LOW = -0.1  # the idle ringing is taken undamped at the reflected voltage: the rms reads up to a tenth high


def to_earth_of(context: Context) -> str:
    """How the primary moves against earth, by its rectifier."""
    mains = context.structure.mains
    return _BY_RECTIFIER.get(mains.input if mains is not None else "", ON_A_POLE)


def references_of(context: Context) -> tuple[str, ...]:
    """What the secondary is held to: one of the two where bridging parts or the earth say so, else both."""
    structure = context.structure
    to_earth = to_earth_of(context)
    earthed = structure.earth is not None and any(
        "output" in point or ("minus" in point and "bulk" not in point) for point in structure.earth
    )
    if earthed:
        return (to_earth,)
    capacitors = ("ceramic capacitor", "film capacitor")
    held = any(
        all(structure.must_be(name, *capacitors) for name in bridge.names)
        and any(point.startswith("bulk") for point in bridge.between)
        for bridge in structure.bridges or ()
    )
    # a secondary held to bulk minus may still be earthed by what is plugged into it, unless somebody looked
    return ("held to bulk minus",) if held and structure.earth == () else ("held to bulk minus", to_earth)


def rms_model(boundary: bool, reference: str) -> Model:
    """RMS against one reference, at the highest mains and full load."""
    point = point_of(boundary)

    def solve(*, bulk: float, reflected: float, crest: float = 0.0, **inputs: float) -> dict[str, float]:
        at = point(bulk=bulk, reflected=reflected, **inputs)
        shares = (bulk, reflected, at.duty, min(at.secondary_duty, 1.0 - at.duty), reflected)
        ringing = reflected if at.mode == "discontinuous" else 0.0
        if reference in _RIDING:
            return {"rms": _RIDING[reference](*shares, crest=crest, idle_ringing=ringing).rms}
        return {"rms": _REFERENCES[reference](*shares, idle_ringing=ringing).rms}

    signs = {"bulk": 1, "power": 0, "inductance": 0, "reflected": 1, "frequency": 0}
    if reference in _RIDING:
        signs["crest"] = 1
    low, high = _BANDS[reference]
    return Model(
        f"working voltage, secondary {reference}",
        solve,
        {"rms": signs},
        _SOURCE,
        "rms of bulk and reflected voltage over their shares of the period"
        + (", and of the mains it rides on" if reference in _RIDING else ""),
        {"rms": (min(low, IDLE_LOW), high)},
    )


def peak_model(boundary: bool, one: Clamping, rides: bool = False, held: bool = False) -> Model:
    """Peak, the same against both references: bulk, the clamp's spike and the secondary's own swing.

    rides: the bulk rides on a mains conductor, whose crest comes on top; held: the secondary rides along with it
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
        ratio: float,
        frequency: float = math.inf,
        crest: float = 0.0,
        **parts: float,
    ) -> dict[str, float]:
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        top = one.solve(bulk, reflected, leakage, at.peak, at.frequency, drain, **parts)["switch_peak"]
        own = max(top, bulk + reflected)
        across = own + bulk / ratio
        return {"peak": across if held else across + crest, "to_earth": own + crest}

    signs = {
        "bulk": 1,
        "power": 1,
        "inductance": -1,
        "reflected": 0,
        "frequency": 0,
        "leakage": 1,
        "drain": 0,
        "ratio": -1,
        **one.signs,
    }
    to_earth = signs | ({"crest": 1} if rides else {})
    low, high = one.errors["switch_peak"]
    return Model(
        "working voltage, peak",
        solve,
        {"peak": signs if held else to_earth, "to_earth": to_earth},
        _SOURCE,
        "bulk + clamp voltage at its crest + bulk / turns ratio; to earth without the last"
        + ("; the crest of the mains that the bulk rides on" if rides else ""),
        {"peak": (min(low, -0.05), high), "to_earth": (min(low, -0.05), high)},
    )


def solve_working(context: Context, shape: FlybackShape) -> None:
    """Write working_voltage and working_voltage_peak of the barrier, of the transformer that spans it, and of the
    primary against earth, which is what a part that can be touched is held to."""
    ledger = context.ledger
    base = base_inputs(shape, bulk_high(context))
    to_earth = to_earth_of(context)
    for case in context.plan.cases(["working_voltage"], [RUNNING]):
        rows = {
            reference: ledger.work_out(
                rms_model(shape.boundary, reference),
                _with_crest(base, reference, case),
                [(BARRIER, "working_voltage", "rms")],
                case=case,
            )[0]
            for reference in references_of(context)
        }
        row = next(iter(rows.values()))
        if to_earth in rows:
            repeated(context, rows[to_earth], case, PRIMARY)
        else:
            wanted: list[Wanted] = [(PRIMARY, "working_voltage", "rms")]
            ledger.work_out(rms_model(shape.boundary, to_earth), _with_crest(base, to_earth, case), wanted, case=case)
        if len(rows) > 1:
            note = "what the secondary is held to is not known: the larger of both"
            row = worst_row(context, rows.values(), BARRIER, "working_voltage", case, note)
        repeated(context, row, case, shape.transformer)
    clamp = clamping(context, shape, clamp_of(context))
    for case in context.plan.cases(["working_voltage_peak"], [RUNNING]):
        repeated(context, _peak(context, shape, base, clamp, case), case, shape.transformer)


def _with_crest(base: Inputs, reference: str, case: Case) -> Inputs:
    """The inputs with the crest of the mains where the bulk rides on one of its conductors."""
    if reference not in _RIDING:
        return base
    return {**base, "crest": Value.exact(2**0.5 * (case.mains or 0.0))}


def _peak(context: Context, shape: FlybackShape, base: Inputs, clamp: Clamping | None, case: Case) -> Entry:
    if clamp is None or shape.reference is None:
        missing = (OpenFact(SUPPLY, "circuit.clamp"),) if clamp is None else (OpenFact(SUPPLY, "circuit.outputs"),)
        context.ledger.hole(PRIMARY, "working_voltage_peak", missing, case=case)
        return context.ledger.hole(BARRIER, "working_voltage_peak", missing, case=case)
    stated = context.fact(part(shape.switch or ""), "part.output_capacitance")
    inputs: Inputs = {
        **base,
        "leakage": shape.leakage,
        **clamp.parts,
        "ratio": shape.reference.ratio,
        "drain": stated if stated is not None else 0.0,
    }
    if not clamp.parts and stated is None:  # no clamp: the ring of an unknown capacitance has no upper end
        inputs["drain"] = context.need(part(shape.switch or ""), "part.output_capacitance")
    wanted: list[Wanted] = [(BARRIER, "working_voltage_peak", "peak"), (PRIMARY, "working_voltage_peak", "to_earth")]
    to_earth = to_earth_of(context)
    rides, held = to_earth == ON_A_POLE, to_earth not in references_of(context)
    model = peak_model(shape.boundary, clamp, rides, held)
    return context.ledger.work_out(model, _with_crest(inputs, to_earth if rides else "", case), wanted, case=case)[0]
