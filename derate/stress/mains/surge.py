"""A surge between line and neutral at the level the site states: what it does to bulk, varistor and series parts."""

from __future__ import annotations

from derate.circuit import mains as mains_events
from derate.circuit.mains import SOURCE_RESISTANCE, clamped_beyond
from derate.circuit.pulse import SCALE, SURGE_ERROR
from derate.design.structure import MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import BULK, LINE, Context, part
from derate.stress.mains.bulk_states import bulk_low
from derate.stress.mains.line import bulk_capacitance, charged_capacitance, hot, inductance_ahead, total
from derate.stress.mains.switch_on import HEAT, no_case
from derate.terms.quantities import RUNNING, SURGE
from derate.terms.values import Category, Curve, Value

# The formulas of a line-to-neutral surge as the ledger runs them: behind a varistor, ahead of it, onto the bulk.


BEHIND = Model.of(
    "surge between line and neutral",
    mains_events.SURGE_BEHIND,
    "combination wave of IEC 61000-4-5 behind 2 ohm on the crest of the mains; own derivation, held to ngspice",
    "1.2/50 us wave through the series resistance into the charged bulk",
)


KEEPS_UP = Value.between(1.0 + SURGE_ERROR["bulk_peak"][0], 1.0 + SURGE_ERROR["bulk_peak"][1])
OVER = Model.of("bulk voltage in a surge", mains_events.SURGE_OVER, BEHIND.source, BEHIND.words)
OVER_FOLLOWING = Model.of(
    "voltage behind the rectifier in a surge", mains_events.SURGE_OVER_FOLLOWING, BEHIND.source, BEHIND.words
)


AHEAD = Model.of(
    "surge through what stands ahead of the varistor",
    mains_events.SURGE_AHEAD,
    "an upper bound: the varistor holds at least the crest, so no more than the wave itself drives the current",
    "wave over source and path; I²t of its exponential tail",
)
SECOND = Model.of(
    "overshoot of the second bulk capacitor in a surge",
    mains_events.SURGE_SECOND,
    "an upper bound: lossless transfer of the first capacitor's charge through the choke",
    "crest + (first − crest) × 2 C1 / (C1 + C2)",
)


# A surge between line and neutral at the level the site states: what it does to bulk, varistor and series parts.
#
# The level is a fact (site.surge); where nobody stated one, that of the overvoltage category, marked as assumed. The
# mains is at its crest, the bulk charged to it, the surge of the same polarity.


def surge_level(context: Context) -> Entry:
    """The level at the site [V]: stated, or that of its overvoltage category."""
    stated = context.fact(SUPPLY, "site.surge")
    if stated is not None:
        return stated
    category = context.fact(SUPPLY, "site.overvoltage_category")
    known = category.value if category is not None else None
    if category is None or not isinstance(known, Category):
        return context.ledger.hole(
            SUPPLY, "site.surge", (OpenFact(SUPPLY, "site.surge"), OpenFact(SUPPLY, "site.overvoltage_category"))
        )
    rows = [context.assume(f"surge_category_{word.lower()}", SUPPLY, "site.surge") for word in known.members]
    values = [row.value for row in rows if isinstance(row.value, Value)]
    if len(values) < len(rows) or not values:
        return rows[0] if rows else context.need(SUPPLY, "site.surge")
    if len(rows) == 1:
        return rows[0]
    return context.ledger.write(
        SUPPLY,
        "site.surge",
        Value.between(min(v.near for v in values), max(v.far for v in values)),
        known_by="assumed",
        inputs=tuple(row.number for row in rows),
        formula="of every category still possible",
        source=rows[0].source,
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
    )


def solve_surge(context: Context, mains: MainsInput) -> None:
    """Write the rows of the surge."""
    for case in context.plan.cases(["i2t"], [SURGE]):
        if case.mains is None:
            no_case(context, mains, case)
        else:
            _solve(context, mains, case)


def _solve(context: Context, mains: MainsInput, case: Case) -> None:
    ledger, structure = context.ledger, context.structure
    level = surge_level(context)
    names = (*mains.series, *mains.behind)
    found = next(
        (
            (shunt, name)
            for shunt in mains.shunts
            if not shunt.to_earth
            for name in shunt.names
            if structure.may_be(name, "varistor")
        ),
        None,
    )
    behind = found[0].behind if found is not None else 0
    bridged = found is not None and found[0].rectified  # the rectifier carries what the varistor takes as well
    resistances = {name: hot(context, name) for name in names}
    series = total(context, [(n, resistances[n]) for n in names[behind:]], Case("surge behind the varistor"))
    inputs: dict[str, Entry | Value | float] = {
        "level": level,
        "mains": case.mains or 0.0,
        "series_resistance": _at_least(context, series),
    }
    if found is not None:
        before = total(context, [(n, resistances[n]) for n in names[:behind]], Case("surge ahead"))
        inputs["ahead"], inputs["clamp"] = before, _clamp(context, found[1], level, before, case)
    first = bulk_capacitance(context, mains.bulk[0])
    if mains.input == "doubler":  # a surge meets one of the two, through one diode
        first = charged_capacitance(context, mains, [bulk_capacitance(context, e, k) for k, e in enumerate(mains.bulk)])
    whole = first if mains.input == "doubler" else _whole(context, mains, first)
    through: list[Wanted] = [
        (subject, q, q)
        for subject in (LINE, *(part(n) for n in (*(() if bridged else mains.rectifier), *names[behind:])))
        for q in ("current_peak", "i2t", "pulse_width")
    ]
    if found is not None:
        through += [(part(found[1]), "current_peak", "varistor_peak"), (part(found[1]), "energy", "varistor_energy")]
    rows = ledger.work_out(BEHIND, {**inputs, "capacitance": whole}, through, case=case)
    by_subject = {(row.subject, row.quantity): row for row in rows}
    if found is not None:
        clamp = inputs["clamp"]
        if isinstance(clamp, Entry):
            ledger.write(
                part(found[1]),
                "clamping_voltage",
                clamp.value,
                case=case,
                known_by="computed",
                missing=clamp.missing,
                formula="the maker's clamping table",
                source="data sheet",
                inputs=(clamp.number,),
                rests_on=clamp.rests_on,
                note=clamp.note,
            )
            for name in (*names[:behind], *(mains.rectifier if bridged else ())):
                ahead = ledger.work_out(
                    AHEAD,
                    {"level": level, "mains": case.mains or 0.0, "clamp": clamp, "ahead": inputs["ahead"]},
                    [(part(name), q, q) for q in ("current_peak", "i2t", "pulse_width")],
                    case=case,
                )
                by_subject |= {(row.subject, row.quantity): row for row in ahead}
    for name in names:
        ledger.work_out(
            HEAT,
            {
                "resistance": resistances[name],
                "i2t": by_subject[part(name), "i2t"],
                "peak": by_subject[part(name), "current_peak"],
            },
            [(part(name), "energy", "energy"), (part(name), "pulse_power", "power")],
            case=case,
        )
    each = mains.bulk if mains.input == "doubler" else mains.bulk[:1]
    over: list[Wanted] = [(part(leaf.name), "voltage_surge", "voltage") for element in each for leaf in leaves(element)]
    if len(mains.bulk) == 1 and mains.input != "doubler":
        over.append((BULK, "voltage_surge", "voltage"))
    if mains.input == "full bridge":  # while one pair charges the bulk the other blocks what it is charged to
        over += [(part(name), "voltage_surge", "voltage") for name in mains.rectifier]
    else:
        note = "not covered: a surge against a rectifier that is no full bridge comes on top of the charged capacitor"
        for name in mains.rectifier:
            ledger.hole(part(name), "voltage_surge", case=case, missing=(), note=note)
    onto: dict[str, Entry | Value | float] = {
        **inputs,
        "capacitance": first,
        "wave": KEEPS_UP,
        "ring": _ring(context, mains),
    }
    follows = context.structure.own_inlet is not None  # the capacitor keeps nothing
    if not follows:
        onto |= _below(context, mains)
    reached = ledger.work_out(OVER_FOLLOWING if follows else OVER, onto, over, case=case)
    if len(mains.bulk) == 2 and mains.input != "doubler":
        second = [part(leaf.name) for leaf in leaves(mains.bulk[1])]
        ledger.work_out(
            SECOND,
            {
                "start": 2**0.5 * (case.mains or 0.0),
                "first": reached[0],
                "bulk1": first,
                "bulk2": bulk_capacitance(context, mains.bulk[1], 1),
                "share": Value.between(0.0, 1.0),
            },
            [(subject, "voltage_surge", "voltage") for subject in (*second, BULK)],
            case=case,
        )


def _below(context: Context, mains: MainsInput) -> dict[str, Entry | float]:
    """How far below the crest the bulk may be: to its valley at the lowest mains, which is the deepest there is.

    Of the first of two capacitors with a choke between no valley is known, nor of one that collapses: down to nothing.
    """
    case = context.plan.cases(["voltage_min"], [RUNNING])[0]
    crest = 2**0.5 * (case.mains or 0.0) * (2.0 if mains.input == "doubler" else 1.0)
    valley = bulk_low(context, case) if len(mains.bulk) == 1 or mains.input == "doubler" else None
    if valley is None or not isinstance(valley.value, Value):
        return {"crest": crest, "valley": 0.0}
    return {"crest": crest, "valley": valley}


def _ring(context: Context, mains: MainsInput) -> Value:
    """Whether there is inductance in the path: anything over a microhenry may be the worst there is.

    So may a choke behind the first of two capacitors, with none ahead: what the second took from the wave swings back.
    """
    if len(mains.bulk) == 2 and mains.input != "doubler":
        return Value.between(0.0, 1.0)
    found = inductance_ahead(context, mains).value
    none = isinstance(found, Value) and found.high <= 1e-6
    return Value.exact(0.0) if none else Value.between(0.0, 1.0)


def _at_least(context: Context, series: Entry) -> Entry:
    """The solver begins at 10 milliohm: less is taken as that, which beside the generator's 2 ohm is nothing."""
    value = series.value
    if not isinstance(value, Value) or value.low >= 0.01:
        return series
    return context.ledger.write(
        LINE,
        "series_resistance",
        Value(*(max(0.01, x) for x in value.numbers())),
        case=Case("surge path"),
        known_by="computed",
        inputs=(series.number,),
        rests_on=series.rests_on,
        formula="at least 10 milliohm",
        source="beside the 2 ohm of the source it changes nothing",
    )


def _whole(context: Context, mains: MainsInput, first: Entry) -> Entry:
    """What the surge charges: the first capacitor, and at most both (the choke keeps the second out for a while)."""
    if len(mains.bulk) == 1 or not isinstance(first.value, Value):
        return first
    second = bulk_capacitance(context, mains.bulk[1], 1)
    if not isinstance(second.value, Value):
        return second
    one, two = first.value, second.value
    return context.ledger.write(
        BULK,
        "bulk_capacitance",
        Value(one.low, one.near, one.far + two.far, one.high + two.high),
        case=Case(SURGE),
        known_by="computed",
        inputs=(first.number, second.number),
        rests_on=first.rests_on | second.rests_on,
        formula="from the first capacitor alone to both together",
        source="the choke parts them for longer than the surge lasts",
    )


def _clamp(context: Context, name: str, level: Entry, ahead: Entry, case: Case) -> Entry:
    """Clamping voltage over the maker's table: at its least current, and at that of the surge for an upper figure."""
    row = context.need(part(name), "rated.clamping_voltage")
    if not isinstance(row.value, Curve):
        missing = row.missing or (OpenFact(part(name), "rated.clamping_voltage", "with the current it holds at"),)
        return context.ledger.hole(part(name), "clamping_voltage", missing, case=Case("surge table"))
    values = [value for _, value in row.value.points]
    low, high = min(v.low for v in values), max(v.high for v in values)
    near, far = min(v.near for v in values), max(v.far for v in values)
    inputs = [row]
    if isinstance(level.value, Value):  # the wave may drive more through it than the table goes to
        path = SOURCE_RESISTANCE + (ahead.value.low if isinstance(ahead.value, Value) else 0.0)
        current, last = row.value.points[-1]
        drives = [2**0.5 * (case.mains or 0.0) + SCALE * one for one in (level.value.far, level.value.high)]
        beyond = [clamped_beyond(v, current, d, path) for v, d in zip((last.far, last.high), drives, strict=True)]
        far, high = max(far, beyond[0]), max(high, *beyond)
        inputs += [level, ahead]
    nominal = context.value(part(name), "part.nominal_voltage")
    if nominal is not None:  # at the milliampere it begins to conduct: the true voltage lies between
        low, near = min(low, nominal.low), min(near, nominal.near)
    return context.ledger.write(
        part(name),
        "clamping_voltage",
        Value(low, near, far, high),
        case=Case("surge table", case.mains),
        known_by=row.known_by,
        inputs=tuple(one.number for one in inputs),
        rests_on=frozenset().union(*(one.rests_on for one in inputs)),
        formula="from its nominal voltage to its clamping voltage at the current of the surge",
        source="data sheet; beyond its last current by the steepest that varistors rise",
    )
