"""Every stress of the converter, in the order in which one row needs another; or holes that say why there is none."""

from __future__ import annotations

from derate.design.readings import Reading
from derate.ledger.entry import Case, OpenFact, Subject
from derate.stress.context import Context, part
from derate.stress.parts.ratings import allowed_current, allowed_power
from derate.terms.cases import COLD_START, END_OF_LIFE, OVERLOAD, RUNNING
from derate.terms.quantities import QuantityName, each
from derate.terms.words import RESISTORS
from derate.topologies.flyback.bulk import solve_bulk_ripple, solve_bulk_states, solve_peaks
from derate.topologies.flyback.coupler import solve_couplers
from derate.topologies.flyback.heat import bulk_names, carried, rate_output_capacitors, solve_junctions, solve_life
from derate.topologies.flyback.operating import solve_primary
from derate.topologies.flyback.output_capacitors import solve_output_capacitors, solve_output_states
from derate.topologies.flyback.rails import solve_auxiliary, solve_outputs, solve_start_up
from derate.topologies.flyback.rectifiers import solve_rectifiers
from derate.topologies.flyback.secondaries import solve_secondaries
from derate.topologies.flyback.shape import PRIMARY, not_covered, shape_of, switching_hertz
from derate.topologies.flyback.snubbers import solve_edges, solve_snubbers
from derate.topologies.flyback.switch import solve_switch
from derate.topologies.flyback.switch_loss import solve_turn_off
from derate.topologies.flyback.transformer import BARRIER, solve_magnetics, solve_working

# place of a part -> the quantities a converter that is worked out gives it, by group of cases
_RUNNING: dict[str, tuple[QuantityName, ...]] = {
    "primary switch": (
        "voltage_peak",
        "current_peak",
        "current_rms",
        "junction_temperature",
        "power",
        "turn_off_current",
        "allowed.turn_off_current",
        "forced_gain",
        "allowed.gain",
    ),
    "current sense": ("current_rms", "power"),
    "clamp": ("voltage_peak", "power", "reverse_voltage", "current_average", "voltage_slope"),
    "snubber": ("voltage_slope",),
    "output rectifier": (
        "reverse_voltage",
        "current_average",
        "current_rms",
        "current_peak",
        "power",
        "junction_temperature",
    ),
    "output capacitor": ("ripple_current", "voltage", "life"),
    "auxiliary": ("voltage", "reverse_voltage"),
    "bulk capacitor": ("ripple_equivalent", "life"),
}
_OVERLOAD: dict[str, tuple[QuantityName, ...]] = {
    "primary switch": ("voltage_peak", "current_peak", "turn_off_current", "allowed.turn_off_current"),
    "clamp": ("voltage_peak", "power", "reverse_voltage", "voltage_slope"),
    "snubber": ("voltage_slope",),
    "auxiliary": ("voltage",),
}
_STATES: dict[str, tuple[QuantityName, ...]] = {"primary switch": ("current_peak",)}
_BIPOLAR = ("turn_off_current", "allowed.turn_off_current", "forced_gain", "allowed.gain")
_RATED_PLACES = ("clamp", "current sense", "output rectifier", "auxiliary", "start-up", "snubber")


def solve_converter(context: Context, readings: tuple[Reading, ...] = ()) -> None:
    """Write every row of the converter; of a topology that is not covered, holes that say so."""
    step = context.ledger.step
    step("temperatures carried", lambda: carried(context, readings), readings)
    step("start-up", lambda: solve_start_up(context))
    gap = step("covered", lambda: not_covered(context))
    if gap is not None:
        step("bulk states", lambda: solve_bulk_states(context))
        step("not covered", lambda: _holes(context, gap.why, gap.missing), gap)
        step("couplers", lambda: solve_couplers(context))
        return
    shape = context.ledger.watched("shape", step("shape", lambda: shape_of(context)))
    step("primary", lambda: solve_primary(context, shape))
    step("bulk states", lambda: solve_bulk_states(context, switching_hertz(shape)))
    step("peaks", lambda: solve_peaks(context, shape))
    step("secondaries", lambda: solve_secondaries(context, shape))
    step("switch", lambda: solve_switch(context, shape))
    step("rectifiers", lambda: solve_rectifiers(context, shape, readings), readings)
    step("outputs", lambda: solve_outputs(context, shape))
    step("output capacitors", lambda: solve_output_capacitors(context, shape))
    step("output states", lambda: solve_output_states(context, shape))
    step("output capacitor ratings", lambda: rate_output_capacitors(context, shape))
    step("bulk ripple", lambda: solve_bulk_ripple(context, shape))
    step("auxiliary", lambda: solve_auxiliary(context, shape))
    step("couplers", lambda: solve_couplers(context))
    step("magnetics", lambda: solve_magnetics(context, shape))
    step("working voltage", lambda: solve_working(context, shape))
    step("snubbers", lambda: solve_snubbers(context, shape))
    step("edges", lambda: solve_edges(context, shape))
    step("turn-off", lambda: solve_turn_off(context, shape))
    step("allowed at its air", lambda: _allowed(context))
    step("junctions", lambda: solve_junctions(context, shape))
    step("life", lambda: solve_life(context, shape))


def _allowed(context: Context) -> None:
    """Power of resistors and current of rectifiers at the air beside them."""
    for name, place in context.structure.places.items():
        if place in _RATED_PLACES:
            if context.structure.must_be(name, *RESISTORS):
                allowed_power(context, name)
            elif place == "output rectifier":
                allowed_current(context, name)


def _holes(context: Context, note: str, missing: tuple[OpenFact, ...]) -> None:
    """A hole for every stress of every part that the converter would have given one."""
    for group, quantities in (
        (RUNNING, _RUNNING),
        (OVERLOAD, _OVERLOAD),
        (COLD_START, _STATES),
        (END_OF_LIFE, _STATES),
    ):
        for name, place in context.structure.places.items():
            for quantity in quantities.get(place, ()):
                if quantity in _BIPOLAR and not context.structure.may_be(name, "bipolar transistor"):
                    continue
                for case in context.plan.cases([quantity], [group]):
                    _hole(context, part(name), quantity, case, note, missing)
    for subject in context.ledger.subjects("output"):
        for group in (COLD_START, END_OF_LIFE):
            for case in context.plan.cases(["ripple"], [group]):
                _hole(context, subject, "ripple", case, note, missing)
    for name in bulk_names(context):
        context.ledger.hole(part(name), "allowed.ripple_current", missing, note=note)
    for quantity in each("working_voltage", "working_voltage_peak"):
        for case in context.plan.cases([quantity], [RUNNING]):
            _hole(context, BARRIER, quantity, case, note, missing)
    for quantity in each("current_peak", "flux_density"):
        for case in context.plan.cases([quantity], [OVERLOAD]):
            _hole(context, PRIMARY, quantity, case, note, missing)


def _hole(
    context: Context, subject: Subject, quantity: QuantityName, case: Case, note: str, missing: tuple[OpenFact, ...]
) -> None:
    if context.ledger.find(subject, quantity, case) is None:
        context.ledger.hole(subject, quantity, missing, case=case, note=note)
