"""The supply as a whole: ends of mains, frequency and ambient; the power it delivers and draws; the air inside."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from derate.circuit.elementary import total
from derate.circuit.output_stage import power_delivered
from derate.circuit.rectifier import DRAWN_POWER
from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger, Model
from derate.stress.context import EVERY_MAINS, HERTZ_WIDENING, Assumed, BadEnds, CasePlan, Context
from derate.terms.quantities import FULL_LOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value


def plan_of(ledger: Ledger, tolerance: Value | None, bad_ends: BadEnds) -> CasePlan:
    """The case plan of a design, from the facts already in the ledger; bad_ends: those of its topology among them."""

    def ends(name: QuantityName) -> tuple[float, float] | None:
        entry = ledger.find(SUPPLY, name)
        if entry is None or not isinstance(entry.value, Value):
            return None
        low, high = entry.value.low, entry.value.high
        return (low, high) if -inf < low and high < inf else None  # an open end is no end: nothing can be solved at it

    plate = ends("plate.mains")
    mains = None
    if plate is not None and tolerance is not None and tolerance.high < 0.5 and plate[0] > 0.0:
        mains = (plate[0] * (1.0 - tolerance.high), plate[1] * (1.0 + tolerance.high))
    hertz = ends("plate.frequency")
    if hertz is None:  # public mains are 50 or 60 Hz: both, which takes nothing from a plate that says neither
        hertz = EVERY_MAINS
    frequency = widened_frequency(*hertz)
    ambient, hours = ends("site.ambient"), ledger.find(SUPPLY, "site.hours")
    # hours that end below the hottest ambient do not speak of it: then a life is that at the hottest, as without them
    averaged = (
        hours is not None
        and isinstance(hours.value, Curve)
        and ambient is not None
        and hours.value.greatest >= ambient[1]
    )
    return CasePlan(mains, plate, frequency, ambient, ends("supply.runs_down_to"), averaged=averaged, bad_ends=bad_ends)


def widened_frequency(low: float, high: float) -> tuple[float, float]:
    """Ends of the mains frequency at the socket [Hz], from those of the plate: three hertz beyond each.

    A plate of 47 to 63 Hz, the test frequencies of the trade, holds that width already: an end near 50 or 60 Hz is not
    widened past them.
    """
    below, above = low + HERTZ_WIDENING[0], high + HERTZ_WIDENING[1]
    least, most = EVERY_MAINS[0] + HERTZ_WIDENING[0], EVERY_MAINS[1] + HERTZ_WIDENING[1]
    if abs(low - least) <= HERTZ_WIDENING[1]:
        below = min(low, least)
    if abs(high - most) <= HERTZ_WIDENING[1]:
        above = max(high, most)
    return below, above


def tolerance_of(ledger: Ledger, assumptions: dict[str, Assumed]) -> Entry | None:
    """The mains tolerance: the site's, or what the packs assume."""
    stated = ledger.find(SUPPLY, "site.mains_tolerance")
    if stated is not None and isinstance(stated.value, Value):
        return stated
    assumed = assumptions.get("mains_tolerance")
    if assumed is None:
        return None
    rests = frozenset((OpenFact(SUPPLY, "site.mains_tolerance"),))
    return ledger.write(
        SUPPLY,
        "site.mains_tolerance",
        assumed.value,
        known_by="assumed",
        source=assumed.source,
        note=assumed.says,
        rests_on=rests,
    )


def lowest_mains(context: Context) -> None:
    """The least that may stand at the socket while the plate is promised [V rms]: its lower end less the tolerance."""
    ledger, plan = context.ledger, context.plan
    plate, tolerance = ledger.find(SUPPLY, "plate.mains"), ledger.find(SUPPLY, "site.mains_tolerance")
    if plan.mains is None or plate is None or tolerance is None:
        missing = [OpenFact(SUPPLY, "plate.mains")] if plan.plate is None else []
        missing += [OpenFact(SUPPLY, "site.mains_tolerance")] if plan.plate is not None else []
        ledger.hole(SUPPLY, "lowest_mains", missing)
        return
    ledger.write(
        SUPPLY,
        "lowest_mains",
        Value.exact(plan.mains[0]),
        known_by="computed",
        inputs=(plate.number, tolerance.number),
        rests_on=plate.rests_on | tolerance.rests_on,
        formula="lowest of the plate, less the tolerance of the mains",
        source="the plate",
    )


def output_power(context: Context, outputs: Sequence[str]) -> Entry:
    """Power at full load: voltage times greatest rated current, summed over the outputs of the plate [W]."""
    ledger = context.ledger
    case = Case(RUNNING, load=FULL_LOAD)
    if not outputs:
        return ledger.hole(SUPPLY, "output_power", (OpenFact(SUPPLY, "plate.outputs"),), case=case)
    inputs: dict[str, Entry | Value | float] = {}
    for k, name in enumerate(outputs):
        subject = Subject("output", (name,))
        inputs[f"voltage_{k}"] = context.need(subject, "plate.voltage")
        current = context.need(subject, "plate.current")
        if isinstance(current.value, Value):  # a range on the plate is a domain: all of it occurs, the most counts
            current = ledger.write(
                subject,
                "plate.full_current",
                Value.exact(current.value.high),
                known_by=current.known_by,
                inputs=(current.number,),
                place=current.place,
                rests_on=current.rests_on,
                formula="greatest current of the plate",
                source="definition of full load",
            )
        inputs[f"current_{k}"] = current
    model = Model.of(
        "power delivered", power_delivered(len(outputs)), "definition of power", "sum of voltage × current"
    )
    return ledger.work_out(model, inputs, [(SUPPLY, "output_power", "power")], case=case)[0]


POWER_DRAWN = Model.of(
    "power drawn from the bulk capacitor",
    DRAWN_POWER,
    "definition of efficiency; bridge and series resistance are not in it",
    "output power / efficiency of the converter stage",
)


def power_drawn(context: Context, delivered: Entry, efficiency: Entry) -> Entry:
    """Power the converter draws from the bulk capacitor at full load [W]."""
    return context.ledger.work_out(
        POWER_DRAWN,
        {"power": delivered, "efficiency": efficiency},
        [(SUPPLY, "power_drawn", "drawn")],
        case=Case(RUNNING, load=FULL_LOAD),
    )[0]


def full_load_powers(readings: Sequence[Reading]) -> list[tuple[float, float, Reading, Reading | None]]:
    """(mains, frequency, mains power, output voltage) of every power reading at full load, by rising mains."""
    found = []
    for reading in readings:
        condition = reading.condition
        if reading.quantity != "mains_power" or condition is None or condition.load != FULL_LOAD:
            continue
        if condition.mains is None or not isinstance(condition.mains.value, Value):
            continue
        frequency = condition.frequency.value if condition.frequency is not None else None
        hertz = frequency.middle if isinstance(frequency, Value) else 50.0
        voltage = next(
            (
                one
                for one in readings
                if one.condition is condition and one.quantity == "voltage" and one.sample == reading.sample
            ),
            None,
        )
        found.append((condition.mains.value.middle, hertz, reading, voltage))
    return sorted(found, key=lambda row: row[0])


def air(context: Context, subject: Subject, case: Case) -> Entry:
    """Air beside a part [degC]: site ambient plus the rise inside; a hole when either is unknown."""
    ledger = context.ledger
    known = context.fact(subject, "air_temperature", case)
    if known is not None:
        return known
    if case.ambient is None:
        return ledger.hole(subject, "air_temperature", (OpenFact(SUPPLY, "site.ambient"),), case=case)
    rise = context.fact(SUPPLY, "site.inside_rise") or context.assume("inside_rise", SUPPLY, "site.inside_rise")
    ambient = ledger.write(
        SUPPLY,
        "site.ambient_end",
        Value.exact(case.ambient),
        case=case,
        known_by="computed",
        inputs=tuple(e.number for e in (context.fact(SUPPLY, "site.ambient"),) if e is not None),
        formula="end of the ambient range",
        source="the site block",
        rests_on=(e.rests_on if (e := context.fact(SUPPLY, "site.ambient")) is not None else frozenset()),
    )
    return ledger.work_out(AIR, {"ambient": ambient, "rise": rise}, [(subject, "air_temperature", "air")], case=case)[0]


AIR = Model.of(
    "air inside",
    total("air", "ambient", "rise"),
    "sum of site ambient and the rise of the air inside",
    "ambient + rise inside",
)
