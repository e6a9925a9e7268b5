"""Bulk capacitors, junctions and life under a flyback: ripple at both frequencies, ratings at their frequency."""

from __future__ import annotations

from derate.circuit.capacitor_ageing import COMBINED_RIPPLE
from derate.circuit.flyback import switching_ripple
from derate.design.structure import leaves
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import BULK, Context, part
from derate.stress.mains.bulk_states import bulk_low, not_better, running_case
from derate.stress.parts.capacitors import GROUPS
from derate.stress.parts.life import allowed_case, bulk_names, junction, solve_lives
from derate.stress.parts.ratings import MOST_RISE, rating_at, ripple_rating
from derate.terms.quantities import RUNNING
from derate.terms.values import Value
from derate.topologies.flyback.operating import PRIMARY_MODELS, base_inputs
from derate.topologies.flyback.shape import PRIMARY, FlybackShape, assumed, switching_hertz
from derate.topologies.flyback.switch_loss import switch_power

# The bulk capacitors under a flyback: their ripple current at both frequencies; its peak with them cold or worn.


# Ripple current of the bulk capacitors at both frequencies, as one current at the frequency of their rating.
#
# The charging current at twice the mains frequency and the switching current each heat by the square of their share
# of the rating at their own frequency; the shares add as squares (capacitor makers' catalogues).


def _switching_model(boundary: bool) -> Model:
    """Switching current of the bulk: the primary's rms less its average, which the mains side supplies."""
    return Model.of(
        "switching ripple of the bulk capacitor",
        switching_ripple(boundary),
        "text-book, the form of AN-4137 eq 24",
        "√(switch rms² − average²)",
    )


SWITCHING = {boundary: _switching_model(boundary) for boundary in (False, True)}
EQUIVALENT = Model.of(
    "ripple current at the frequency of the rating",
    COMBINED_RIPPLE,
    "capacitor makers: heat adds, each current over its catalogue factor",
    "√((slow / factor)² + (fast / factor)²)",
)


def solve_bulk_ripple(context: Context, shape: FlybackShape) -> None:
    """Write switching and equivalent ripple of every bulk capacitor."""
    mains = context.structure.mains
    if mains is None:
        return
    fast = _switching(context, shape)
    for index, element in enumerate(mains.bulk):
        names = [leaf.name for leaf in leaves(element)]
        last = index == len(mains.bulk) - 1  # with a choke between all of the switching current goes to the last
        for name in names:
            for case in context.plan.cases(["ripple_equivalent"], [RUNNING]):
                _equivalent(context, shape, name, fast if last else None, case, len(names))


def _switching(context: Context, shape: FlybackShape) -> Entry:
    """Switching ripple at the lowest mains, at full load."""
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    cases = context.plan.cases(["ripple_switching"], [RUNNING])
    wanted: list[Wanted] = [(BULK, "ripple_switching", "rms")]
    return context.ledger.work_out(SWITCHING[shape.boundary], base_inputs(shape, low), wanted, case=cases[0])[0]


def _equivalent(
    context: Context, shape: FlybackShape, name: str, fast: Entry | None, case: Case, parallel: int
) -> None:
    """Both currents of one capacitor as one at the frequency of its rating's first column that serves."""
    subject, ledger = part(name), context.ledger
    slow = context.need(subject, "ripple_current", case)
    half = context.structure.mains is not None and context.structure.mains.input == "half-wave"
    mains = (1.0 if half else 2.0) * (case.frequency or 50.0)
    rated = ripple_rating(context, subject, mains)
    curve = context.curve(subject, "rated.ripple_current")
    if curve is None:
        ledger.hole(subject, "ripple_equivalent", rated.missing, case=case, inputs=(slow.number, rated.number))
        return
    if not isinstance(rated.value, Value):  # only a column at the switching frequency: carried down by an assumption
        factor: Entry | Value = assumed(context, "ripple_factor_slow", subject, "ripple_factor", "rated.ripple_current")
        reference = curve.points[0]
        ledger.write(
            subject,
            "allowed.ripple_current",
            reference[1],
            known_by="data sheet",
            inputs=(rated.number,),
            formula=f"rating at {reference[0]:.4g} Hz",
            source="data sheet",
        )
        slow_factor, fast_factor = factor, Value.exact(1.0)
    else:
        at = rating_at(curve, switching_hertz(shape))
        base = rated.value.middle
        slow_factor = Value.exact(1.0)
        fast_factor = Value.between(1.0, MOST_RISE)
        if at is not None and base > 0:
            fast_factor = Value(*(one / base for one in at.numbers()))
    share: Entry | float = 0.0
    if fast is not None:
        share = fast if parallel == 1 else _shared(context, subject, fast, 1.0 / parallel, case)
    ledger.work_out(
        EQUIVALENT,
        {"slow": slow, "slow_factor": slow_factor, "fast": share, "fast_factor": fast_factor},
        [(subject, "ripple_equivalent", "rms")],
        case=case,
    )


def _shared(context: Context, subject: Subject, fast: Entry, share: float, case: Case) -> Entry:
    value = fast.value.scaled(share) if isinstance(fast.value, Value) else None
    return context.ledger.write(
        subject,
        "ripple_switching",
        value,
        case=case,
        missing=fast.missing,
        known_by="computed",
        inputs=(fast.number,),
        note=fast.note,
        rests_on=fast.rests_on,
        formula="equal share of parallel capacitors",
        source="common practice",
    )


def solve_peaks(context: Context, shape: FlybackShape) -> None:
    """Peak current of the primary at full load and the lowest mains, cold and at the end of life."""
    for group in GROUPS:
        for case in context.plan.cases(["current_peak"], [group]):
            bulk = context.need(BULK, "voltage_min", case)
            model = PRIMARY_MODELS[shape.boundary]
            wanted: list[Wanted] = [(PRIMARY, "current_peak", "peak")]
            row = context.ledger.work_out(model, base_inputs(shape, bulk), wanted, case=case)[0]
            warm = context.fact(PRIMARY, "current_peak", running_case(context, "current_peak", case))
            rows = [row, *([warm] if warm is not None else [])]
            carriers = [PRIMARY, *([part(shape.switch)] if shape.switch is not None else [])]
            for one in carriers:
                not_better(context, rows, one, "current_peak", case, least=False)


# Junctions of switch and output rectifiers; ripple ratings and life of the capacitors of a flyback.


def solve_junctions(context: Context, shape: FlybackShape) -> None:
    """Junction temperature of switch and output rectifiers."""
    for one in shape.outputs:
        for name in one.walked.rectifier:
            for case in context.plan.cases(["power"], [RUNNING])[:1]:
                junction(context, name, context.need(part(name), "power", case))
    if shape.switch is not None:
        power = switch_power(context, shape)
        junction(context, shape.switch, power)


def output_names(shape: FlybackShape) -> tuple[str, ...]:
    """Names of all output capacitors, those behind a choke included."""
    walked = (one.walked for one in shape.outputs)
    return tuple(leaf.name for o in walked for e in (*o.capacitors, *o.filtered) for leaf in leaves(e))


def rate_output_capacitors(context: Context, shape: FlybackShape) -> None:
    """Ripple ratings of the output capacitors at the switching frequency."""
    for name in output_names(shape):
        ripple_rating(context, part(name), switching_hertz(shape))


def solve_life(context: Context, shape: FlybackShape) -> None:
    """Write the life of every electrolytic bulk and output capacitor."""
    for name in (*bulk_names(context), *output_names(shape)):
        if context.structure.may_be(name, "electrolytic capacitor", "solid electrolytic capacitor"):
            allowed_case(context, name)
    solve_lives(context, bulk_names(context), "ripple_equivalent")
    solve_lives(context, output_names(shape), "ripple_current")
