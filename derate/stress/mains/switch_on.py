"""Charging the bulk at the worst closing angle: peak, I²t, energy and width, part by part."""

from __future__ import annotations

from typing import NamedTuple

from derate.circuit import mains_events, resistors
from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import BULK, LINE, Context, part
from derate.stress.mains.line import inductance_ahead
from derate.stress.mains.resistance import bulk_capacitance, charged_capacitance, mains_resistance, series_rows, total
from derate.terms.cases import SWITCH_ON
from derate.terms.quantities import each
from derate.terms.values import Value
from derate.terms.words import RESISTORS

# One closing of the mains onto the rectifier: what stands in the path, what the bulk holds, at which case.
#
# A cold switch-on, a restart with the thermistor hot and a mains that comes back after a dip differ in nothing else.


QUANTITIES = each("current_peak", "i2t", "pulse_width", "voltage_surge", "energy", "pulse_power")
# Kinds that limit the current by design and are rated for the pulse.
RATED_FOR_PULSES = (*RESISTORS, "NTC thermistor")


class Closing(NamedTuple):
    """rows: series parts and their resistance; whole: with the mains; others: all but the part of that name.

    start: bulk voltage before the mains comes [V]
    """

    case: Case
    rows: tuple[tuple[str, Entry], ...]
    whole: Entry
    others: dict[str, Entry]
    inductance: Entry
    start: Entry | Value


def closing(context: Context, mains: MainsInput, case: Case, start: Entry | Value, hot: bool) -> Closing:
    """The mains path at one closing; hot: a thermistor in it has not cooled down."""
    rows = tuple(series_rows(context, mains, None if hot else case))
    everything = [*rows, ("mains", mains_resistance(context))]
    others = {name: total(context, [(n, r) for n, r in everything if n != name], case) for name, _ in rows}
    whole = total(context, everything, case)  # last, so that it is the row of the whole path that is found
    return Closing(case, rows, whole, others, inductance_ahead(context, mains), start)


def no_case(context: Context, mains: MainsInput, case: Case) -> None:
    """Holes for everything at a case that cannot be placed."""
    names = (*mains.series, *mains.behind, *mains.rectifier, *(leaf.name for e in mains.bulk for leaf in leaves(e)))
    for subject in (LINE, BULK, *(part(name) for name in names)):
        for quantity in QUANTITIES:
            context.ledger.hole(subject, quantity, context.plan.lacking(case.group), case=case)


def carried_by(mains: MainsInput, rows: tuple[tuple[str, Entry], ...]) -> list[Subject]:
    """Everything that the whole charging current passes."""
    return [LINE, *(part(name) for name in mains.rectifier), *(part(name) for name, _ in rows)]


# Charging two bulk capacitors with a choke between, by the closing angles and corners that hold the worst.
#
# Over 30 random filters with every corner of R, C1, L, RL, C2 and saturation run at several angles, the greatest
# peak, I²t and bulk voltages lay at 81 to 90 degrees, at the corners below; 86 degrees alone holds each of them to
# within 1 % (tests/stress/test_corners.py). A saturating choke is worst for what flows, a linear one for what
# overshoots: the truth lies between the two.


_NOTE = "greatest over the closing angle"
_SOURCE = "own derivation, exact steps in each mode; held to ngspice 39"
FLOW = Model.of("charging two bulk capacitors with a choke between", mains_events.FLOW_OF_TWO, _SOURCE, _NOTE)
OVERSHOOT = Model.of(
    "overshoot of two bulk capacitors with a choke between",
    mains_events.OVERSHOOT_OF_TWO,
    _SOURCE,
    "greatest over the closing angle and the inductance ahead up to the one given",
)._replace(kind=mains_events.OVERSHOOT_KIND)
SHARE = Model.of(
    "share of the charging energy",
    resistors.ENERGY_SHARE,
    "the same current flows through all series resistance",
    "energy in all series resistance × R / (R + others)",
)
PULSE_POWER = Model.of("greatest power of a pulse", resistors.PULSE_POWER, "Joule", "peak² × resistance")


def solve_two(context: Context, mains: MainsInput, at: Closing, capacitances: list[Entry]) -> None:
    """Write the rows of a closing onto a two-capacitor input."""
    ledger, case = context.ledger, at.case
    choke = part(mains.choke[0]) if mains.choke else BULK
    resistance = context.fact(choke, "part.resistance") or context.assume(
        "small_series_resistance", choke, "part.resistance"
    )
    inputs: dict[str, Entry | Value | float] = {
        "mains": case.mains or 0.0,
        "frequency": case.frequency or 50.0,
        "series_resistance": at.whole,
        "bulk1": capacitances[0],
        "inductance": context.need(choke, "part.inductance"),
        "choke_resistance": resistance,
        "bulk2": capacitances[1],
        "start": at.start,
        "line_inductance": at.inductance,
    }
    saturates = context.need(choke, "rated.saturation_current")
    through: list[Wanted] = [
        (subject, quantity, quantity)
        for subject in carried_by(mains, at.rows)
        for quantity in ("current_peak", "i2t", "pulse_width")
    ]
    through.append((LINE, "energy", "energy"))
    written = ledger.work_out(FLOW, {**inputs, "saturation": saturates}, through, case=case, note=_NOTE)
    energy, peak = written[-1], written[0]
    for name, own in at.rows:
        ledger.work_out(
            SHARE,
            {"energy": energy, "part_resistance": own, "other_resistance": at.others[name]},
            [(part(name), "energy", "energy")],
            case=case,
        )
        ledger.work_out(
            PULSE_POWER, {"peak": peak, "part_resistance": own}, [(part(name), "pulse_power", "power")], case=case
        )
    # near: the choke saturates where its maker says; far and high: it never does, the upper bound of the overshoot
    stated = saturates.value
    bound: Entry | Value = saturates
    if isinstance(stated, Value):
        bound = Value(0.0, 0.0, stated.far, stated.far)
    over: list[Wanted] = [
        (part(leaf.name), "voltage_surge", f"bulk{k + 1}")
        for k, element in enumerate(mains.bulk)
        for leaf in leaves(element)
    ]
    over.append((BULK, "voltage_surge", "bulk2"))
    ledger.work_out(OVERSHOOT, {**inputs, "saturation": bound}, over, case=case, note=OVERSHOOT.words)


# Charging the bulk at the worst closing angle: peak, I²t, energy and width per series part, diode and bulk capacitor.
#
# Full bridge, half-wave or doubler with one bulk capacitor (or pair); two with a choke between are in
# switch_on_choke.py. What flows is worst with the least inductance ahead of the bridge, what overshoots with the
# most.


_SOURCE_ONE_CAPACITOR = "own derivation, closed form of each conduction interval; held to ngspice 39"
_MOST_ANGLE = "greatest over the closing angle"
Inputs = dict[str, Entry | Value | float]


def flow_model(kind: str) -> Model:
    """What the closing drives through the parts in series."""
    return Model.of(f"charging the bulk of a {kind} input", mains_events.flow(kind), _SOURCE_ONE_CAPACITOR, _MOST_ANGLE)


def overshoot_model(kind: str) -> Model:
    """What the bulk reaches."""
    return Model.of(
        f"overshoot of the bulk of a {kind} input",
        mains_events.overshoot(kind),
        _SOURCE_ONE_CAPACITOR,
        "greatest over the closing angle and the inductance ahead up to the one given",
    )


def solve_switch_on(context: Context, mains: MainsInput) -> None:
    """Write the rows of a cold switch-on: each series part by its own resistance, then diodes and bulk capacitors."""
    for case in context.plan.cases(["i2t"], [SWITCH_ON]):
        if case.mains is None:
            no_case(context, mains, case)
        else:
            solve_closing(context, mains, closing(context, mains, case, Value.exact(0.0), hot=False))


def solve_closing(context: Context, mains: MainsInput, at: Closing) -> None:
    """Write the rows of one closing."""
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    if len(capacitances) == 2 and mains.input != "doubler":
        solve_two(context, mains, at, capacitances)
        return
    ledger, case = context.ledger, at.case
    model = flow_model(mains.input)
    fixed: Inputs = {
        "mains": case.mains or 0.0,
        "frequency": case.frequency or 50.0,
        "start": at.start,
        "capacitance": charged_capacitance(context, mains, capacitances),
        "inductance": at.inductance,
    }
    through: list[Wanted] = [
        (subject, quantity, quantity)
        for subject in carried_by(mains, at.rows)
        for quantity in ("current_peak", "i2t", "pulse_width")
    ]
    ledger.work_out(
        model, {**fixed, "part_resistance": 0.0, "other_resistance": at.whole}, through, case=case, note=_MOST_ANGLE
    )
    for name, resistance in at.rows:
        if context.structure.may_be(name, *RATED_FOR_PULSES):
            ledger.work_out(
                model,
                {**fixed, "part_resistance": resistance, "other_resistance": at.others[name]},
                [(part(name), q, q) for q in ("energy", "pulse_power")],
                case=case,
                note=_MOST_ANGLE,
            )
    over: list[Wanted] = [(part(leaf.name), "voltage_surge", "voltage_surge") for e in mains.bulk for leaf in leaves(e)]
    both: list[Wanted] = [(BULK, "voltage_surge", "voltage_surge")]
    if mains.input == "doubler":  # each capacitor by its own half wave, the bulk as the sum of the two
        ledger.work_out(overshoot_model("half-wave"), {**fixed, "series": at.whole}, over, case=case)
        ledger.work_out(overshoot_model("doubler"), {**fixed, "series": at.whole}, both, case=case)
    else:
        ledger.work_out(overshoot_model(mains.input), {**fixed, "series": at.whole}, [*over, *both], case=case)
