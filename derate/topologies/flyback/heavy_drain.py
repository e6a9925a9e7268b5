"""A stage whose drain capacitance brings a good part of its load: how much less the switch carries then.

While the drain rises from nothing to the bulk voltage the primary goes on taking current from the bulk, and on to the
plateau it gives some back: the drain brings C (V² − VR²) / 2 of each period's energy, and the switch's peak is that of
the rest of the load (energy of one period, own derivation). The bands of the formulas hold that up to a fifth of the
load. Beyond it the lower ends of what switch and clamp carry go down with what is left, by as much more as it brings;
the ring that it leaves makes the output ripple larger too. Never a kinder figure: no upper end falls.

Held to live ngspice by tests/stress/test_converter_live.py.
"""

from __future__ import annotations

from math import sqrt

from derate.ledger.entry import Entry, Subject
from derate.stress.context import Context, part
from derate.stress.mains.bulk_states import bulk_high
from derate.terms.quantities import RUNNING, each
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value
from derate.topologies.flyback.shape import PRIMARY, FlybackShape

WITHIN = 0.2  # share of the load up to which the bands of the formulas hold what the drain brings
MOST = 0.9
_CURRENTS = each("current_rms", "current_peak", "current_average")
# Output ripple over its worked-out upper end, by what the share is above a fifth: +3.1 % at 0.09 (ngspice, a 2.6 W
# stage at 277 V with an undamped leakage).
RIPPLE = 0.5


def solve_heavy_drain(context: Context, shape: FlybackShape) -> None:
    """Lower the lower ends of what switch, sense resistor and clamp carry, where the drain brings more than a fifth."""
    if shape.switch is None:
        return
    drain = context.fact(part(shape.switch), "part.output_capacitance")
    beyond = min(_share(context, shape, drain) - WITHIN, MOST)
    if drain is None or beyond <= 0.0:
        return
    left = 1.0 - beyond
    steps = shape.primary.path if shape.primary is not None else ()
    for subject in (PRIMARY, *(part(name) for step in steps for name in step.names if "." not in name)):
        for quantity in _CURRENTS:
            _move(context, subject, quantity, sqrt(left), 1.0, drain)
        if subject != part(shape.switch):  # of the switch itself the charge of the drain is a loss of its own
            _move(context, subject, "power", left, 1.0, drain)
    for name, place in context.structure.places.items():
        if place == "clamp":
            for quantity in each("current_peak", "current_average", "power"):
                _move(context, part(name), quantity, left, 1.0, drain)
    for one in shape.outputs:
        _move(context, Subject("output", (one.name,)), "ripple", 1.0, 1.0 + RIPPLE * beyond, drain)


def _share(context: Context, shape: FlybackShape, drain: Entry | None) -> float:
    """Greatest part of the load that the drain can bring at the highest mains; 0 where something is not known."""
    rows = (drain, bulk_high(context), shape.carried, shape.inductance, shape.reflected)
    known = [one.value for one in rows if one is not None and isinstance(one.value, Value)]
    if len(known) < len(rows):
        return 0.0
    farads, bulk, power, henries, reflected = known
    cap = shape.cap.value if shape.cap is not None else None
    hertz = cap.far if isinstance(cap, Value) else float("inf")
    if power.near <= 0.0 or bulk.far <= 0.0:
        return 0.0
    if shape.boundary:  # each period begins where the secondary has stopped: 1 / (2 L P (1/V + 1/VR)²)
        slopes = 1.0 / bulk.far + 1.0 / max(reflected.far, 1e-3)
        hertz = min(hertz, 1.0 / (2.0 * max(henries.near, 1e-9) * power.near * slopes**2))
    return 0.5 * farads.far * bulk.far**2 * hertz / power.near


def _move(context: Context, subject: Subject, quantity: QuantityName, lower: float, upper: float, drain: Entry) -> None:
    for row in context.ledger.rows(subject, quantity):
        value = row.value
        if not isinstance(value, Value) or row.case is None or row.case.group != RUNNING or row.known_by != "computed":
            continue
        context.ledger.write(
            subject,
            row.quantity,
            Value(value.low * lower, value.near * lower, value.far * upper, value.high * upper),
            case=row.case,
            known_by="computed",
            formula=row.formula,
            source=row.source,
            inputs=(row.number, drain.number),
            note="; ".join(one for one in (row.note, "the drain brings a good part of the load") if one),
            missing=row.missing,
            rests_on=row.rests_on | drain.rests_on,
            mark=row.mark,
        )
