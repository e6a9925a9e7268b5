"""Efficiency of the converter stage: stated, worked out from power readings at full load, or assumed.

Readings that span the mains range say what it is in between. A single reading, or one whose mains do not reach the
ends, says it only with a margin that nobody has measured, and the row then counts as assumed.
"""

from __future__ import annotations

from derate.circuit import mains as mains_input
from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact
from derate.ledger.ledger import Model
from derate.stress.context import Context, summed
from derate.stress.mains.line import bulk_capacitance, series_rows, total
from derate.stress.supply import full_load_powers
from derate.terms.quantities import FULL_LOAD, READING
from derate.terms.values import Value

MARGIN = 0.05  # how far the efficiency may differ where nobody measured it: common practice, no source


def efficiency(context: Context, delivered: Entry, readings: tuple[Reading, ...]) -> Entry:
    """The efficiency row of the converter stage at full load."""
    stated = context.fact(SUPPLY, "supply.efficiency")
    if stated is not None:
        return stated
    rows = [_measured(context, *one) for one in full_load_powers(readings)]
    known = [(mains, row) for mains, row in rows if isinstance(row.value, Value)]
    if not known:
        return context.assume("efficiency", SUPPLY, "efficiency")
    values = [row.value for _, row in known if isinstance(row.value, Value)]
    low = min(value.near for value in values)
    high = max(value.far for value in values)
    ends = context.plan.mains
    spans = ends is not None and known[0][0] <= ends[0] * 1.001 and known[-1][0] >= ends[1] * 0.999
    inputs = tuple(row.number for _, row in known)
    if spans:
        return context.ledger.write(
            SUPPLY,
            "efficiency",
            Value.between(low, high),
            known_by="measured",
            inputs=inputs,
            formula="range of the readings at full load",
            source="readings at both ends of the mains",
            rests_on=frozenset().union(*(row.rests_on for _, row in known)),
        )
    return context.ledger.write(
        SUPPLY,
        "efficiency",
        Value.between(max(0.05, low - MARGIN), min(1.0, high + MARGIN)),
        known_by="assumed",
        inputs=inputs,
        formula="readings at full load, widened",
        source="common practice, no source",
        note="no power reading at full load reaches both ends of the mains",
        rests_on=frozenset((OpenFact(SUPPLY, "mains_power", "at full load at both ends of the mains"),)),
    )


def _measured(
    context: Context, mains: float, hertz: float, reading: Reading, voltage: Reading | None
) -> tuple[float, Entry]:
    """The efficiency at one reading: output power over what is left of the mains power behind bridge and resistors."""
    ledger, structure = context.ledger, context.structure
    case = Case(READING, mains, hertz, FULL_LOAD)
    power = ledger.write(
        SUPPLY, "mains_power", reading.stated.value, case=case, known_by=_how(reading), place=reading.stated.place
    )
    delivered = _delivered(context, voltage, case)
    path = structure.mains
    if path is None:
        return mains, ledger.hole(SUPPLY, "efficiency", (OpenFact(SUPPLY, "the mains path"),), case=case)
    series = total(context, series_rows(context, path), case)
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(path.bulk)]
    values = [row.value for row in capacitances if isinstance(row.value, Value)]
    half = path.input == "half-wave"
    whole: Entry | Value = summed(values) if len(values) == len(capacitances) else capacitances[0]
    model = Model.of(
        "efficiency of the converter stage",
        mains_input.stage_efficiency(half),
        "mains power less what bridge and series resistance lose, which the rectifier's steady state gives",
        "output power / (mains power − losses ahead of the bulk capacitor)",
    )
    row = ledger.work_out(
        model,
        {
            "delivered": delivered,
            "power": power,
            "mains": mains,
            "frequency": hertz,
            "series_resistance": series,
            "capacitance": whole,
        },
        [(SUPPLY, "efficiency", "efficiency")],
        case=case,
    )[0]
    return mains, row


def _how(reading: Reading) -> str:
    return reading.stated.known_by or reading.known_by or "measured"


def _delivered(context: Context, voltage: Reading | None, case: Case) -> Entry:
    """Output power at the reading: the voltage read (else the plate's) times the full current, summed."""
    ledger = context.ledger
    powers: list[Value] = []
    numbers: list[int] = []
    for subject in ledger.subjects("output"):
        current = context.value(subject, "plate.current")
        at = context.need(subject, "plate.voltage")
        if voltage is not None and voltage.target in (subject.names[0], "") and isinstance(voltage.stated.value, Value):
            at = ledger.write(
                subject,
                "voltage",
                voltage.stated.value,
                case=case,
                known_by=voltage.known_by or "measured",
                place=voltage.stated.place,
            )
        if current is None or not isinstance(at.value, Value):
            return ledger.hole(SUPPLY, "output_power", at.missing or (OpenFact(subject, "plate.current"),), case=case)
        numbers.append(at.number)
        powers.append(Value(*sorted(abs(one) * current.high for one in at.value.numbers())))
    if not powers:
        return ledger.hole(SUPPLY, "output_power", (OpenFact(SUPPLY, "plate.outputs"),), case=case)
    return ledger.write(
        SUPPLY,
        "output_power",
        summed(powers),
        case=case,
        known_by="computed",
        inputs=tuple(numbers),
        formula="sum of voltage × full current",
        source="definition of power",
    )
