"""What ends the on-time at the greatest load: a second transistor at the emitter resistor, or the drive that gives out.

A second transistor shorts the drive when the emitter resistor carries its base-emitter voltage, which falls by 2 mV/K:
the coldest gives the greatest peak, the hottest the least power. Without one the switch carries no more than its gain
times its base current, which is greatest at the highest mains and with the greatest gain anybody may fit.
"""

from __future__ import annotations

from math import inf

from derate.circuit import self_oscillating as physics
from derate.design.kinds import FAMILIES, PLAIN_DIODES
from derate.design.structure import Element, Leaf, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs, in_series_and_parallel, only, part, summed
from derate.stress.mains.bulk_states import bulk_high, bulk_low
from derate.stress.supply import air
from derate.terms.quantities import HIGHEST_MAINS, LOWEST_MAINS, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value
from derate.topologies.flyback.shape import PRIMARY, STANDING, FlybackShape, assumed, turns_ratio
from derate.topologies.self_oscillating.circuit import Drive, parts_of

DRIVE = Subject("circuit", ("drive",))
_BIPOLAR = "bipolar transistor"
_RESISTORS = FAMILIES["resistor"]
_SOURCE = "own derivation, Kirchhoff; held to ngspice 39"
THRESHOLD = Model.of(
    "current at which the second transistor shorts the drive",
    physics.THRESHOLD,
    "own derivation; 2 mV/K of silicon at the same current",
    "(threshold at 25 degC − 2 mV/K × (T − 25)) / emitter resistance",
)
BASE = Model.of(
    "base current by the drive winding",
    physics.BASE_CURRENT,
    _SOURCE,
    "(bulk / turns ratio + charge − junctions) / resistance + bulk / start resistors",
)
GIVES_OUT = Model.of(
    "current at which the drive gives out", physics.DRIVE_LIMIT, _SOURCE, "gain × base current, as its capacitor fills"
)
_JUNCTIONS = Value.between(0.6, 1.2)  # base-emitter voltage of a silicon switch while it is driven [V]
_EACH_DIODE = Value.between(0.5, 1.1)


def solve_limits(context: Context, shape: FlybackShape) -> None:
    """The current limit as a standing row of the primary, the lesser of what is there; and what is stored behind it."""
    by_sense = _by_sense(context, shape)
    by_drive = _by_drive(context, shape)
    found = [row for row in (by_sense, by_drive) if row is not None]
    known = [row for row in found if isinstance(row.value, Value)]
    ledger = context.ledger
    numbers = tuple(row.number for row in found)
    rests = frozenset().union(*(row.rests_on for row in found))
    if not known:
        missing = tuple(fact for row in found for fact in row.missing)
        note = next((row.note for row in found if row.note), "")
        if not found:
            note = "a MOSFET without a second transistor at its source resistor carries whatever flows"
            missing = (OpenFact(SUPPLY, "control.by"),)
        ledger.hole(PRIMARY, "current_limit", missing, case=STANDING, note=note, inputs=numbers, rests_on=rests)
        return
    values = [row.value for row in known if isinstance(row.value, Value)]
    least = Value(*(min(column) for column in zip(*(one.numbers() for one in values), strict=True)))
    if len(known) < len(found):  # the other may be less, and nothing is known of it
        least = Value(0.0, 0.0, least.far, least.high)
    ledger.write(
        PRIMARY,
        "current_limit",
        least,
        case=STANDING,
        known_by="computed",
        inputs=numbers,
        rests_on=frozenset().union(*(row.rests_on for row in known)),
        formula="; ".join(row.formula for row in known),
        source="the lesser of what ends the on-time" if len(found) > 1 else known[0].source,
        note=known[0].note,
    )
    if by_sense is None and shape.switch is not None:
        ledger.write(
            part(shape.switch),
            "storage_time",
            Value.exact(0.0),
            case=STANDING,
            known_by="computed",
            formula="a switch that is out of gain holds no charge beyond it",
            source=_SOURCE,
        )


def second_transistor(context: Context, shape: FlybackShape) -> str | None:
    """What shorts the drive, as named, where that may be a transistor."""
    by = context.structure.control.by
    return by if by is not None and by != shape.switch and context.structure.may_be(by, _BIPOLAR) else None


def _by_sense(context: Context, shape: FlybackShape) -> Entry | None:
    """The current at which the second transistor acts, as its row; None where none is named."""
    by = second_transistor(context, shape)
    sense = shape.primary.sense if shape.primary is not None else None
    if by is None:
        return None
    subject = part(by)
    if not context.structure.must_be(by, _BIPOLAR):
        return context.ledger.hole(subject, "current_limit", (OpenFact(subject, "part.kind"),), case=STANDING)
    if sense is None:
        lacking = (OpenFact(SUPPLY, "circuit.primary", "its emitter or source resistor"),)
        return context.ledger.hole(subject, "current_limit", lacking, case=STANDING)
    threshold = context.fact(subject, "part.current_limit") or assumed(
        context, "base_emitter_threshold", subject, "base_emitter_threshold", "part.current_limit"
    )
    inputs: Inputs = {
        "threshold": threshold,
        "temperature": _temperature(context, by),
        "resistance": context.need(part(sense), "part.resistance"),
    }
    return context.ledger.work_out(THRESHOLD, inputs, [(subject, "current_limit", "limit")], case=STANDING)[0]


def _temperature(context: Context, name: str) -> Entry:
    """From the coldest start at the site to the air beside it when it is hottest, or to what was read on its case."""
    ledger, subject = context.ledger, part(name)
    warm = [air(context, subject, case) for case in context.plan.cases(["air_temperature"], [RUNNING])]
    read = [row for row in ledger.rows(subject, "case_temperature") if isinstance(row.value, Value)]
    rows = [*warm, *read]
    tops = [row.value for row in rows if isinstance(row.value, Value)]
    ambient = context.plan.ambient
    if ambient is None or not tops:
        return ledger.hole(subject, "junction_range", (OpenFact(SUPPLY, "site.ambient"),), case=STANDING)
    return ledger.write(
        subject,
        "junction_range",
        Value(ambient[0], ambient[0], max(one.far for one in tops), max(one.high for one in tops)),
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="from the coldest start to the hottest air beside it",
        source="the site, and what was read",
    )


def drive_ratio(context: Context, shape: FlybackShape) -> Entry | None:
    """Primary turns over those of the drive winding; None where no drive was traced."""
    drive = parts_of(context.structure).drive
    if drive is None:
        return None
    winding = shape.primary.winding if shape.primary is not None else None
    return turns_ratio(context, DRIVE, winding, drive.windings)


def held_off(context: Context, drive: Drive) -> tuple[str, ...]:
    """The diodes from the return that hold the base near it in the off-time, and empty a capacitor in the drive.

    A suppressor diode may be one for both directions, which its kind does not say: it is sure to do neither.
    """
    return tuple(name for name in drive.across if context.structure.must_be(name, *PLAIN_DIODES, "zener diode"))


def may_be_held_off(context: Context, shape: FlybackShape, drive: Drive) -> bool:
    """Whether a diode from the return, or the collector of what may be a second transistor, may hold the base near it.

    A transistor turned round carries no more than its own base is fed times a gain that nobody states, and what feeds
    that base stands on no path. As little as it is sure to hold the base it is sure to empty a capacitor in the drive.
    """
    return bool(drive.across) or second_transistor(context, shape) is not None


def _by_drive(context: Context, shape: FlybackShape) -> Entry | None:
    """The current at which the drive gives out, least at the lowest bulk and greatest at the highest; None of a MOSFET,
    which takes no current at its gate."""
    switch, structure = shape.switch, context.structure
    if switch is None or structure.must_be(switch, "MOSFET"):
        return None
    ledger, drive = context.ledger, parts_of(structure).drive
    if not structure.must_be(switch, _BIPOLAR):
        return ledger.hole(DRIVE, "current_limit", (OpenFact(part(switch), "part.kind"),), case=STANDING)
    ratio = drive_ratio(context, shape)
    if drive is None or ratio is None:
        return ledger.hole(DRIVE, "current_limit", (OpenFact(SUPPLY, "circuit.drive"),), case=STANDING)
    if drive.odd or not drive.resistors:
        missing, note = lacking(context, drive)
        return ledger.hole(DRIVE, "current_limit", missing, case=STANDING, note=note)
    resistance = _joined(context, drive, drive.resistors)
    capacitance = _joined(context, drive, drive.capacitors) if drive.capacitors else None
    gain = gain_of(context, switch)
    boost = _boost(context, shape, drive, ratio)
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    rows = []
    for words, bulk in ((LOWEST_MAINS, low), (HIGHEST_MAINS, bulk_high(context))):
        inputs: Inputs = {
            "bulk": bulk,
            "ratio": ratio,
            "junctions": _drops(drive),
            "resistance": resistance,
            "boost": boost,
            "start": start_of(context),
        }
        case = Case("converter", load=words)
        base = ledger.work_out(BASE, inputs, [(DRIVE, "base_current", "current")], case=case)[0]
        given: Inputs = {
            "bulk": bulk,
            "inductance": shape.inductance,
            "gain": gain,
            "current": base,
            "resistance": resistance,
            "capacitance": capacitance if capacitance is not None else inf,
        }
        rows.append(ledger.work_out(GIVES_OUT, given, [(DRIVE, "current_limit", "limit")], case=case)[0])
    return _from_to(context, rows, bounded=not drive.capacitors or bool(held_off(context, drive)))


def _from_to(context: Context, rows: list[Entry], bounded: bool) -> Entry:
    """From the lesser to the greater; the charge of a capacitor that only the base itself empties has no lower end."""
    ledger = context.ledger
    values = [row.value for row in rows if isinstance(row.value, Value)]
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    numbers = tuple(row.number for row in rows)
    if hole is not None:
        return ledger.hole(
            DRIVE, "current_limit", hole.missing, case=STANDING, note=hole.note, inputs=numbers, rests_on=hole.rests_on
        )
    low, near = min(one.low for one in values), min(one.near for one in values)
    return ledger.write(
        DRIVE,
        "current_limit",
        Value(
            low if bounded else 0.0,
            near if bounded else 0.0,
            max(one.far for one in values),
            max(one.high for one in values),
        ),
        case=STANDING,
        known_by="computed",
        inputs=numbers,
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="gain × base current, from the lowest bulk to the highest",
        source=_SOURCE,
    )


def lacking(context: Context, drive: Drive) -> tuple[tuple[OpenFact, ...], str]:
    """What keeps a drive from being worked out: the kinds that are not known of what lies in it, else a note."""
    unknown = tuple(OpenFact(part(name), "part.kind") for name in drive.odd if context.structure.one_kind(name) is None)
    if unknown:
        return unknown, ""
    told = f"{' and '.join(drive.odd)} in the drive" if drive.odd else "a drive without a resistor in series"
    return (), f"not covered: {told} is not worked out"


def _drops(drive: Drive) -> Value:
    more = len(drive.diodes)
    return Value(*(a + more * b for a, b in zip(_JUNCTIONS.numbers(), _EACH_DIODE.numbers(), strict=True)))


def _joined(context: Context, drive: Drive, names: tuple[str, ...]) -> Entry:
    """Resistance or capacitance in series in the drive, as a row of it: no more than one of a kind beside another."""
    capacitors = names == drive.capacitors
    fact: QuantityName = "part.capacitance" if capacitors else "part.resistance"
    quantity: QuantityName = "capacitance" if capacitors else "series_resistance"
    rows = {name: context.need(part(name), fact) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    numbers = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    whole = drive.series
    element = only(whole, names) if whole is not None else None
    found = in_series_and_parallel(element, values, capacitors) if element is not None else None
    if found is None:
        missing = [one for row in rows.values() for one in row.missing]
        return context.ledger.hole(DRIVE, quantity, missing, case=STANDING, inputs=numbers, rests_on=rests)
    return context.ledger.write(
        DRIVE,
        quantity,
        found,
        case=STANDING,
        known_by="computed",
        inputs=numbers,
        rests_on=rests,
        formula="parts joined as walked",
        source="Kirchhoff",
    )


def gain_of(context: Context, switch: str) -> Entry:
    """From the least to the greatest gain of this type; a sheet that prints the least alone bounds nothing."""
    subject, ledger = part(switch), context.ledger
    stated = context.fact(subject, "rated.gain")
    points: list[Value] = []
    if stated is not None:
        value = stated.value
        points = [one for _, one in value.points] if isinstance(value, Curve) else []
        points += [value] if isinstance(value, Value) else []
    spread = assumed(context, "gain_spread", subject, "gain_spread", "rated.gain")
    ranged = [one for one in points if one.near < one.far]
    found = context.value(subject, "found.gain")
    rows = [spread, *([stated] if stated is not None else [])]
    if ranged and stated is not None:
        rows = [stated]
        ends = Value(
            min(one.low for one in points),
            min(one.near for one in points),
            max(one.far for one in points),
            max(one.high for one in points),
        )
    elif isinstance(spread.value, Value):
        least = min([spread.value.near, *(one.near for one in points)])
        most = max([spread.value.far, *(one.far for one in points)])
        ends = Value(min(spread.value.low, least), least, most, max(spread.value.high, most))
    else:
        return spread
    if found is not None:
        ends = Value(
            min(ends.low, found.low), min(ends.near, found.near), max(ends.far, found.far), max(ends.high, found.high)
        )
    return ledger.write(
        subject,
        "gain_range",
        ends,
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="from the least to the greatest gain of the type",
        source="data sheet, else what packs assume",
    )


BOOST = Model.of("charge brought along", physics.OFF_VOLTAGE, _SOURCE, "reflected / turns ratio")


def _boost(context: Context, shape: FlybackShape, drive: Drive, ratio: Entry) -> Entry | Value:
    """What a capacitor in series brings along from the off-time: nothing up to the voltage of the winding then."""
    if not drive.capacitors or not may_be_held_off(context, shape, drive):
        return Value.exact(0.0)
    inputs: Inputs = {"swing": shape.reflected, "ratio": ratio}
    row = context.ledger.work_out(BOOST, inputs, [(DRIVE, "voltage", "voltage")], case=STANDING)[0]
    if not isinstance(row.value, Value):
        return row
    return context.ledger.write(
        DRIVE,
        "voltage",
        Value(0.0, 0.0, row.value.far, row.value.high),
        case=STANDING,
        known_by="computed",
        inputs=(row.number,),
        rests_on=row.rests_on,
        formula="from nothing up to the winding's voltage in the off-time",
        source=_SOURCE,
    )


START = Subject("circuit", ("start_up",))


def start_of(context: Context) -> Entry:
    """The start resistors as one, as a standing row of their path; a hole where one is not known or none was traced."""
    ledger, structure = context.ledger, context.structure
    every = [step.element for step in parts_of(structure).start_up or () if step.how == "series"]
    names = tuple(one.name for each in every for one in leaves(each) if structure.may_be(one.name, *_RESISTORS))
    kept = [found for each in every if (found := only(each, names)) is not None]
    rows = {name: context.need(part(name), "part.resistance") for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    beside = [name for each in every for name in _shunting(context, each)]
    if beside:
        note = f"not covered: {' and '.join(beside)} beside a start resistor is not worked out"
        return ledger.hole(START, "series_resistance", (), case=STANDING, note=note)
    joined = [in_series_and_parallel(each, values, capacitors=False) for each in kept]
    known = [one for one in joined if one is not None]
    numbers = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    if not known or len(known) < len(joined):
        missing = [fact for row in rows.values() for fact in row.missing] or [OpenFact(SUPPLY, "circuit.start_up")]
        return ledger.hole(START, "series_resistance", missing, case=STANDING, inputs=numbers, rests_on=rests)
    return ledger.write(
        START,
        "series_resistance",
        summed(known),
        case=STANDING,
        known_by="computed",
        inputs=numbers,
        rests_on=rests,
        formula="parts joined as walked",
        source="Kirchhoff",
    )


def _shunting(context: Context, element: Element, beside: bool = False) -> list[str]:
    """What lies in parallel with something and is neither resistor nor capacitor: it takes the current past them."""
    if isinstance(element, Leaf):
        plain = context.structure.may_be(element.name, *_RESISTORS)
        plain = plain or context.structure.must_be(element.name, *FAMILIES["capacitor"])
        return [element.name] if beside and not plain else []
    beside = beside or element.joined == "parallel"
    return [name for member in element.members for name in _shunting(context, member, beside)]
