"""Output capacitors as walked: ripple current and ripple voltage, warm and new, cold, and at the end of their life."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from derate.circuit.flyback import point_of
from derate.circuit.output_stage import ERROR, RIPPLE_CURRENT, least_ripple, post_filter, single_capacitor
from derate.circuit.secondary import pulse, shared_band
from derate.design.structure import Element, leaves
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import BULK, Context, curve_at, in_series_and_parallel, part
from derate.stress.mains.bulk_states import bulk_low
from derate.stress.parts.capacitors import GROUPS, State, capacitance_in, is_soft, resistance_at, resistance_in
from derate.stress.parts.windings import assumed
from derate.terms.dimension import CAPACITANCE, VOLTAGE
from derate.terms.quantities import ALL_FULL, RUNNING, each, full_load_of, named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value
from derate.topologies.flyback.operating import Between, Inputs, between
from derate.topologies.flyback.secondaries import (
    PULSE_SIGNS,
    UNEQUAL,
    secondary_inputs,
    share_of,
    single_ripple,
    worst_row,
)
from derate.topologies.flyback.shape import STANDING, FlybackShape, OutputShape, switching_hertz

# Capacitance and series resistance of output capacitors, joined as walked, at the switching frequency.


def capacitance_of(
    context: Context, elements: tuple[Element, ...], subject: Subject, voltage: Entry, state: State | None = None
) -> Entry:
    """Capacitance of all elements across one point, which stand in parallel, at the direct voltage across them.

    state: cold or at the end of life; None warm and new
    """
    names = [leaf.name for element in elements for leaf in leaves(element)]
    rows = {name: under_voltage(context, name, voltage) for name in names}
    if state is not None:
        rows = {name: capacitance_in(context, name, row, state) for name, row in rows.items()}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    found = [in_series_and_parallel(element, values, capacitors=True) for element in elements]
    case = state.case if state is not None else STANDING
    return _row(context, subject, "output_capacitance", found, rows, case, parallel_resistance=False)


def under_voltage(context: Context, name: str, voltage: Entry) -> Entry:
    """Capacitance of one capacitor with direct voltage across it.

    A ceramic of class 2, or of a class nobody stated, by the maker's capacitance at a voltage; without one it may hold
    what a pack assumes. Below the first voltage of the maker's table it lies between that figure and the nominal one;
    above the last between what is assumed and that figure.
    """
    subject = part(name)
    nominal = context.need(subject, "part.capacitance")
    if not is_soft(context, name) or not isinstance(nominal.value, Value):
        return nominal
    stated = context.fact(subject, "rated.capacitance")
    if stated is None or not isinstance(stated.value, Curve) or not isinstance(voltage.value, Value):
        return _assumed_share(context, subject, nominal, nominal.value)
    at = Curve(stated.value.points, VOLTAGE, CAPACITANCE)
    ends = [_at_voltage(at, nominal.value, one) for one in reversed(voltage.value.numbers())]  # more volts, less left
    known = [one for one in ends if one is not None]
    if len(known) < len(ends):
        return _assumed_share(context, subject, nominal, at.points[-1][1])
    low, near, far, high = nominal.value.numbers()
    down = low / near if known[0].is_exact and near > 0 else 1.0  # a typical figure has the tolerance of the part
    up = high / far if known[3].is_exact and far > 0 else 1.0
    found = (known[0].low * down, known[1].near, known[2].far, known[3].high * up)
    value = Value(*sorted(min(pair) for pair in zip(found, (low, near, far, high), strict=True)))
    return context.ledger.write(
        subject,
        "capacitance",
        value,
        case=STANDING,
        known_by=stated.known_by,
        inputs=(stated.number, nominal.number, voltage.number),
        rests_on=stated.rests_on | nominal.rests_on | voltage.rests_on,
        formula="read at the voltage across it",
        source="data sheet",
        place=stated.place,
    )


def _at_voltage(curve: Curve, nominal: Value, volts: float) -> Value | None:
    first_at, first = curve.points[0]
    if volts >= first_at:
        return curve_at(curve, volts)
    return Value(first.low, first.near, max(first.far, nominal.far), max(first.high, nominal.high))


def _assumed_share(context: Context, subject: Subject, nominal: Entry, most: Value) -> Entry:
    """Nominal times the share a pack assumes, at most what is known to be left at a lower voltage."""
    share = assumed(context, "bias_share", subject, "bias_share", "rated.capacitance")
    if not isinstance(share.value, Value) or not isinstance(nominal.value, Value):
        return share
    low, near, far, high = (
        min(c * s, m) for c, s, m in zip(nominal.value.numbers(), share.value.numbers(), most.numbers(), strict=True)
    )
    return context.ledger.write(
        subject,
        "capacitance",
        Value(low, near, far, high),
        case=STANDING,
        known_by="computed",
        inputs=(nominal.number, share.number),
        rests_on=nominal.rests_on | share.rests_on,
        formula="capacitance × share kept under voltage",
        source=share.source,
    )


def _parallel(ohms: Sequence[float]) -> float:
    """Resistances beside each other [ohm]; all without bound, the whole is."""
    conductance = sum(1.0 / max(x, 1e-6) for x in ohms)
    return 1.0 / conductance if conductance > 0.0 else inf


def _row(
    context: Context,
    subject: Subject,
    quantity: QuantityName,
    found: list[Value | None],
    rows: dict[str, Entry],
    case: Case,
    *,
    parallel_resistance: bool,
) -> Entry:
    known = [value for value in found if value is not None]
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    if len(known) < len(found) or not known:
        missing = [one for row in rows.values() for one in row.missing]
        note = next((row.note for row in rows.values() if row.value is None and row.note and not row.missing), "")
        return context.ledger.hole(subject, quantity, missing, case=case, inputs=inputs, rests_on=rests, note=note)
    columns = list(zip(*(value.numbers() for value in known), strict=True))
    if parallel_resistance:
        total = Value(*(_parallel(column) for column in columns))
    else:
        total = Value(*(sum(column) for column in columns))
    return context.ledger.write(
        subject,
        quantity,
        total,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="parts joined as walked",
        source="Kirchhoff",
    )


def series_resistance(
    context: Context, shape: FlybackShape, elements: tuple[Element, ...], subject: Subject, state: State | None = None
) -> Entry:
    """Series resistance of capacitors in parallel at the switching frequency; `state` as `capacitance_of`."""
    names = [leaf.name for element in elements for leaf in leaves(element)]
    hertz = switching_hertz(shape)
    if state is None:
        rows = {name: resistance_at(context, name, hertz) for name in names}
    else:
        rows = {name: resistance_in(context, name, hertz, state) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    found = [in_series_and_parallel(element, values, capacitors=False) for element in elements]
    case = state.case if state is not None else STANDING
    return _row(context, subject, "series_resistance", found, rows, case, parallel_resistance=True)


# Output capacitors: ripple current, ripple voltage, and what a choke with a second capacitor leaves of it.


CAPACITOR_RMS = Model.of(
    "ripple current of an output capacitor",
    RIPPLE_CURRENT,
    "own derivation; within 0.1 % of ngspice, 9 % high where a small choke shares the pulse",
    "√(rms² − average²) of the rectifier",
)
SIGN_ALLOWANCE = 0.002  # from there on a capacitance moves the ripple the other way by at most 0.1 %
FAR_FROM_RESONANCE = 5.0  # switching over resonant frequency from which the signs below hold


def solve_output_capacitors(context: Context, shape: FlybackShape) -> None:
    """Write the rows of every output's capacitors."""
    for one in shape.outputs:
        _first(context, shape, one)
        if has_filter(one):
            _filtered(context, shape, one)
        _choke_floors(context, one)


def _choke_floors(context: Context, one: OutputShape) -> None:
    """What the chokes of an output carry at least, where ripple and resonance cannot be worked out: the whole load.

    The mean of the current is that of the load, and neither rms nor peak lies below the mean.
    """
    if not isinstance(one.current.value, Value):
        return
    least = one.current.value
    for name in one.walked.choke:
        for quantity in each("current_rms", "current_peak"):
            for case in context.plan.cases([quantity], [RUNNING]):
                found = context.fact(part(name), quantity, case)
                if found is not None and isinstance(found.value, Value):
                    continue
                context.ledger.write(
                    part(name),
                    quantity,
                    Value(least.low, least.near, inf, inf),
                    case=case,
                    known_by="computed",
                    inputs=(one.current.number, *((found.number,) if found is not None else ())),
                    rests_on=one.current.rests_on,
                    formula="current of the load, the least there is",
                    source="definition: neither rms nor peak lies below the mean",
                    note=found.note if found is not None else "",
                )


def has_filter(one: OutputShape) -> bool:
    """Whether a choke with capacitors on both sides follows the rectifier."""
    return bool(one.walked.capacitors and one.walked.choke and one.walked.filtered)


def _first(context: Context, shape: FlybackShape, one: OutputShape) -> None:
    """Ripple current of the capacitors at the rectifier, and the ripple across them."""
    names = [leaf.name for element in one.walked.capacitors for leaf in leaves(element)]
    for case in context.plan.cases(["ripple_current"], [RUNNING]):
        rms = context.need(one.subject, "current_rms", case)
        average = context.need(one.subject, "current_average", case)
        whole = context.ledger.work_out(
            CAPACITOR_RMS, {"rms": rms, "average": average}, [(one.subject, "ripple_current", "rms")], case=case
        )[0]
        for name in names:
            _share(context, whole, name, names, case)
    if not names or has_filter(one):
        return
    parts: Inputs = {
        "capacitance": capacitance_of(context, one.walked.capacitors, one.subject, one.voltage),
        "resistance": series_resistance(context, shape, one.walked.capacitors, one.subject),
    }
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    rows = _unfiltered(context, shape, one, parts, low, Case(RUNNING))
    for case in context.plan.cases(["ripple"], [RUNNING]):
        worst_row(context, rows, one.subject, "ripple", case, "spikes of stray inductance come on top")


def _unfiltered(
    context: Context, shape: FlybackShape, one: OutputShape, parts: Inputs, bulk: Entry, at: Case
) -> list[Entry]:
    """Ripple with no choke behind: everything full, and of several outputs this one alone full.

    at: the state of the capacitors, whose least bulk voltage `bulk` is
    """
    narrow = single_ripple(context, shape, one, parts, bulk, at._replace(load=ALL_FULL))
    if narrow is not None:
        return narrow
    model = ripple_model(shape.boundary, share_of(shape, one))
    rows: list[Entry] = []
    for alone in (False, True) if len(shape.outputs) > 1 else (False,):
        inputs: Inputs = {**secondary_inputs(context, shape, one, alone), **parts, "bulk": bulk}
        case = at._replace(load=full_load_of(one.name) if alone else ALL_FULL)
        note = "with what leakage and ringing make of the crest of the current"
        wanted = [Between(one.subject, named("ripple"), "ripple_least", "ripple_most")]
        rows += between(context, model, inputs, wanted, case, note)
    return rows


def _share(context: Context, whole: Entry, name: str, names: list[str], case: Case) -> None:
    """One capacitor's part of the ripple current: alike ones share equally within a fifth, others by capacitance."""
    ledger, subject = context.ledger, part(name)
    if len(names) == 1 or not isinstance(whole.value, Value):
        ledger.write(
            subject,
            "ripple_current",
            whole.value,
            case=case,
            missing=whole.missing,
            known_by="computed",
            formula=whole.formula,
            source=whole.source,
            inputs=(whole.number,),
            note=whole.note,
            rests_on=whole.rests_on,
        )
        return
    values = [context.value(part(other), "part.capacitance") for other in names]
    own = context.value(subject, "part.capacitance")
    known = [value.middle for value in values if value is not None]
    if own is None or len(known) < len(names):
        missing = [OpenFact(part(n), "part.capacitance") for n, v in zip(names, values, strict=True) if v is None]
        ledger.hole(subject, "ripple_current", missing, case=case, inputs=(whole.number,))
        return
    alike = max(known) == min(known)
    low, near, far, high = whole.value.numbers()
    share = own.middle / sum(known) if 0.0 < sum(known) < inf else 1.0
    if not 0.0 < sum(known) < inf:  # no ratio between them: none of it, or all
        value = Value(0.0, 0.0, far, high)
    elif alike:
        value = Value(low * share * (1.0 - UNEQUAL), near * share, far * share, high * share * (1.0 + UNEQUAL))
    else:  # the resistances decide, and the better capacitor takes more
        most = min(1.0, 1.5 * share)
        value = Value(0.5 * low * share, 0.5 * near * share, far * most, high * most)
    ledger.write(
        subject,
        "ripple_current",
        value,
        case=case,
        known_by="computed",
        inputs=(whole.number,),
        rests_on=whole.rests_on,
        formula="share of a capacitor in parallel",
        source="common practice, no source",
        note="alike, within a fifth" if alike else "unlike capacitors, by capacitance within half",
    )


# A longer pulse has a lower crest for the series resistance and a longer swing for the capacitance: no single sign.
_RIPPLE_SIGNS = {**PULSE_SIGNS, "power": 0, "inductance": 0, "reflected": 0, "capacitance": -1, "resistance": 1}


def ripple_model(boundary: bool, share: float) -> Model:
    """Ripple across the capacitors at the rectifier."""
    point = point_of(boundary)

    def solve(
        *, current: float, leakage_share: float, capacitance: float, resistance: float, **inputs: float
    ) -> dict[str, float]:
        at = point(**inputs)
        one = pulse(at, current, leakage_share)
        found = single_capacitor(one.start, one.end, one.conduction, one.frequency, capacitance, resistance)
        least = found.ripple
        if share < 1.0:
            least = least_ripple(current, at.secondary_duty, one.frequency, capacitance, resistance)
        return {
            "ripple": found.ripple,
            "ripple_least": least,
            "ripple_most": found.ripple + more * resistance * one.start,
        }

    # What the resistance makes of the current follows its crest, which leakage and ringing move further than its rms:
    # the rest of the crest's own band, so that the band of the rms around the high end gives it. The low end of one of
    # several windings is the least that any shape makes: less of the crest times the resistance, taken off the ripple,
    # left up to 1.5 times what a flat current makes over a long conduction, and fell as the resistance rose.
    rms, peak = shared_band("rms", share), shared_band("peak", share)
    more = max(0.0, (peak[1] - rms[1]) / (1.0 + rms[1])) if rms[1] < inf else 0.0
    outputs = ("ripple", "ripple_least", "ripple_most")
    return Model(
        "ripple of an output capacitor",
        solve,
        dict.fromkeys(outputs, _RIPPLE_SIGNS),
        "own derivation, exact periodic solution; held to ngspice 39",
        "pulse train into capacitance and resistance",
        dict.fromkeys(outputs, _band(share, ERROR["ripple"])),
    )


def _band(share: float, own: tuple[float, float]) -> tuple[float, float]:
    low, high = shared_band("rms", share)
    return low + own[0], high + own[1]


_FILTER_SIGNS = {
    **PULSE_SIGNS,
    "capacitance": -1,
    "resistance": 1,
    "inductance_out": -1,
    "filter_capacitance": -1,
    "filter_resistance": 1,
}


def filter_model(boundary: bool, share: float, far: bool) -> Model:
    """Ripple behind choke and second capacitor; far: the switching frequency lies well above the filter's resonance."""
    point = point_of(boundary)

    def solve(
        *,
        current: float,
        leakage_share: float,
        capacitance: float,
        resistance: float,
        inductance_out: float,
        filter_capacitance: float,
        filter_resistance: float,
        **inputs: float,
    ) -> dict[str, float]:
        one = pulse(point(**inputs), current, leakage_share)
        found = post_filter(
            one.start,
            one.end,
            one.conduction,
            one.frequency,
            capacitance,
            resistance,
            inductance_out,
            filter_capacitance,
            filter_resistance,
        )
        return {
            "filter_ripple": found.filter_ripple,
            "filter_rms": found.filter_capacitor_rms,
            "ripple": found.ripple,
            "choke_rms": found.choke_rms,
            "choke_peak": found.choke_peak,
        }

    given = _FILTER_SIGNS if not boundary else {**_FILTER_SIGNS, "power": 0, "inductance": 0, "reflected": 0}
    signs = given if far else {name: 0 if name in _OUTPUT else sign for name, sign in given.items()}
    # behind the choke a lower resistance of the second capacitor draws more of the current
    current = {**signs, "filter_resistance": 0 if not far else -1}
    low, high = _band(share, ERROR["filter_ripple"])
    band = (low - SIGN_ALLOWANCE, high + SIGN_ALLOWANCE)
    return Model(
        "output filter: capacitor, choke, capacitor",
        solve,
        {"filter_ripple": signs, "filter_rms": current, "ripple": signs, "choke_rms": current, "choke_peak": current},
        "own derivation, exact periodic solution; held to ngspice 39",
        "pulse train through the post filter",
        {
            "filter_ripple": band,
            "filter_rms": band,
            "ripple": band,
            "choke_rms": (-0.05, 0.05),
            "choke_peak": (-0.1, 0.2),
        },
    )


_OUTPUT = ("capacitance", "resistance", "inductance_out", "filter_capacitance", "filter_resistance")


def _filtered(context: Context, shape: FlybackShape, one: OutputShape) -> None:
    """Ripple behind the choke, current of the choke and of the second capacitors."""
    walked = one.walked
    choke = part(walked.choke[0])
    second = [leaf.name for element in walked.filtered for leaf in leaves(element)]
    parts: Inputs = {
        "capacitance": capacitance_of(context, walked.capacitors, one.subject, one.voltage),
        "resistance": series_resistance(context, shape, walked.capacitors, one.subject),
        "inductance_out": context.need(choke, "part.inductance"),
        "filter_capacitance": capacitance_of(context, walked.filtered, choke, one.voltage),
        "filter_resistance": series_resistance(context, shape, walked.filtered, choke),
    }
    model = filter_model(shape.boundary, share_of(shape, one), far_from_resonance(shape, parts))
    solved: dict[tuple[Subject, QuantityName], list[Entry]] = {}
    # one output full and the others at their least lengthens the idle time but hardly changes what passes the filter:
    # only the loads with the highest crest are run
    alone = len(shape.outputs) > 1
    inputs = {**secondary_inputs(context, shape, one, alone), **parts}
    case = Case(RUNNING, load=full_load_of(one.name) if alone else ALL_FULL)
    wanted: list[Wanted] = [
        (one.subject, "ripple", "filter_ripple"),
        (choke, "current_rms", "choke_rms"),
        (choke, "current_peak", "choke_peak"),
        (choke, "ripple_current", "filter_rms"),
        (_first_of(walked.capacitors), "ripple", "ripple"),
    ]
    for (subject, quantity, _), row in zip(
        wanted, context.ledger.work_out(model, inputs, wanted, case=case), strict=True
    ):
        solved[subject, quantity] = [row]
    for subject, quantity, _ in wanted:
        for at in context.plan.cases([quantity], [RUNNING]):
            row = worst_row(context, solved[subject, quantity], subject, quantity, at, "")
            if quantity == "ripple_current":
                for name in second:
                    _share(context, row, name, second, at)


def _first_of(elements: tuple[Element, ...]) -> Subject:
    """The first capacitor at the rectifier, which bears the ripple ahead of the choke."""
    return part(next(leaf.name for element in elements for leaf in leaves(element)))


def far_from_resonance(shape: FlybackShape, parts: Inputs) -> bool:
    """Whether the switching frequency lies well above the highest resonance of the filter."""
    values = {}
    for name, given in parts.items():
        value = given.value if isinstance(given, Entry) else given
        if not isinstance(value, Value):
            return True  # a hole follows whichever signs are declared
        values[name] = value
    hertz = shape.frequency.value if shape.frequency is not None else None
    if not isinstance(hertz, Value):
        return False
    a, b = values["capacitance"].low, values["filter_capacitance"].low
    if min(a, b, values["inductance_out"].low) <= 0.0:
        return False
    series = a * b / (a + b)
    resonance = 1.0 / (6.2832 * (values["inductance_out"].low * series) ** 0.5)
    return bool(hertz.low > FAR_FROM_RESONANCE * resonance)


# Ripple of the outputs with their capacitors cold, and at the end of their life; never better than warm and new.


def solve_output_states(context: Context, shape: FlybackShape) -> None:
    """Write the ripple of every output in each state, at the lowest mains and full load."""
    for group in GROUPS:
        for case in context.plan.cases(["ripple"], [group]):
            for one in shape.outputs:
                _one(context, shape, one, case)


def _one(context: Context, shape: FlybackShape, one: OutputShape, case: Case) -> None:
    walked = one.walked
    if not walked.capacitors:
        return
    state = State.of(case)
    bulk = context.need(BULK, "voltage_min", context.plan.project("voltage_min", case))
    parts: Inputs = {
        "capacitance": capacitance_of(context, walked.capacitors, one.subject, one.voltage, state),
        "resistance": series_resistance(context, shape, walked.capacitors, one.subject, state),
    }
    if has_filter(one):
        choke, several = part(walked.choke[0]), len(shape.outputs) > 1
        parts |= {
            "inductance_out": context.need(choke, "part.inductance"),
            "filter_capacitance": capacitance_of(context, walked.filtered, choke, one.voltage, state),
            "filter_resistance": series_resistance(context, shape, walked.filtered, choke, state),
        }
        model = filter_model(shape.boundary, share_of(shape, one), far_from_resonance(shape, parts))
        inputs = {**secondary_inputs(context, shape, one, several), **parts, "bulk": bulk}
        at = Case(case.group, load=full_load_of(one.name) if several else ALL_FULL, ambient=case.ambient)
        rows = list(context.ledger.work_out(model, inputs, [(one.subject, "ripple", "filter_ripple")], case=at))
    else:
        rows = _unfiltered(context, shape, one, parts, bulk, Case(case.group, ambient=case.ambient))
    warm = context.fact(one.subject, "ripple", context.plan.project("ripple", case._replace(group=RUNNING)))
    if warm is not None:
        rows.append(warm)
    worst_row(context, rows, one.subject, "ripple", case, "spikes of stray inductance come on top")
