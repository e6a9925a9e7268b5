"""The mains input while it runs: what stands in series, bulk, line current, diodes; efficiency behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

from derate.circuit import choke_filter_inductance as filter_behind
from derate.circuit import elementary, rectifier
from derate.circuit import mains as mains_input
from derate.circuit import thermal as temperature_lines
from derate.circuit.choke_filter import greatest_of_two
from derate.circuit.pulse import log_log
from derate.circuit.resistors import HEAT
from derate.design.readings import Reading
from derate.design.structure import Element, Group, MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted, corner_points
from derate.stress.context import BULK, EVERY_MAINS, LINE, Context, in_series_and_parallel, part, summed
from derate.stress.mains.beside import capacitors_across, solve_beside
from derate.stress.mains.parallel_bulk import of_each, parallel_shares, with_shares
from derate.stress.supply import air, full_load_powers
from derate.terms.quantities import BROWN_OUT, FULL_LOAD, NO_LOAD, READING, RUNNING, CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Collapse, Curve, Value
from derate.terms.words import EVIDENCE, RESISTORS

# The mains input while it runs: what stands in series, bulk voltage, line current, ripple, diodes.


# What stands in series with the mains, hot and cold, and how much bulk capacitance there is.


# Kinds whose resistance is what limits the current: without a figure nothing can be said.
_LIMITING = RESISTORS

SUM = Model.of("resistance in series", elementary.total("sum", "own"), "Kirchhoff", "sum of resistances")
THERMISTOR = Model.of(
    "thermistor at the air inside",
    temperature_lines.THERMISTOR,
    "B equation of a thermistor between two temperatures",
    "R25 × exp(B × (1/T − 1/298.15 K))",
)


def hot(context: Context, name: str) -> Entry:
    """Resistance of one series part while the supply runs."""
    subject = part(name)
    if context.structure.may_be(name, "NTC thermistor"):
        curve = context.curve(subject, "part.hot_resistance")
        entry = context.fact(subject, "part.hot_resistance")
        cold = context.value(subject, "part.resistance")
        if curve is not None and entry is not None:
            least = min(value.low for _, value in curve.points)
            most = max(value.high for _, value in curve.points)
            span = Value.between(least, most)
            return _row(context, subject, "resistance hot", span, entry, "range of the maker's table")
        if cold is not None:  # hot it lies somewhere between nothing and its cold resistance: both ends are real bounds
            entry = context.need(subject, "part.resistance")
            span = Value.between(0.0, cold.high)
            return _row(context, subject, "resistance hot", span, entry, "between zero and cold")
    return _plain(context, name)


def at_current(context: Context, name: str, running: Entry, current: Entry, case: Case) -> Entry:
    """Resistance of one series part at its own current: of a thermistor by its maker's table, else as it is.

    The table is read on two logarithmic axes. Below its first current the power is at most that of the first point, for
    power, temperature and current rise together: R is at most R1 (I1 / I)². Above its last it only gets less.
    """
    curve = context.curve(part(name), "part.hot_resistance")
    if curve is None or len(curve.points) < 2 or not isinstance(current.value, Value):
        return running
    amps = current.value.numbers()
    ends: list[float] = []
    for at, end in zip(reversed(amps), range(4), strict=True):  # more current is less resistance
        points = [(x, value.numbers()[end]) for x, value in curve.points]
        if at < points[0][0]:
            ends.append(points[0][1] * (1.0 if end < 2 else (points[0][0] / max(at, 1e-6)) ** 2))
        elif at > points[-1][0]:
            ends.append(0.0 if end < 2 else points[-1][1])
        else:
            ends.append(_between_points(points, at, least=end < 2))
    stated = context.need(part(name), "part.hot_resistance")
    return context.ledger.write(
        part(name),
        "series_resistance",
        Value(min(ends), min(ends[1:3]), max(ends[1:3]), max(ends)),  # a table wider at one point may cross itself
        case=case,
        known_by="computed",
        inputs=(stated.number, current.number),
        rests_on=stated.rests_on | current.rests_on,
        formula="the maker's table at the part's own current",
        source="log-log between points",
    )


def _between_points(points: list[tuple[float, float]], at: float, *, least: bool) -> float:
    """A table read on logarithmic axes; with a point that is zero or open, its least or greatest figure."""
    figures = [figure for _, figure in points]
    if min(figures) > 0.0 and max(figures) < inf:
        return log_log(points, at)
    return min(figures) if least else max(figures)


def cold(context: Context, name: str, case: Case) -> Entry:
    """Resistance of one series part as the supply is switched on at the hottest site, the air inside still warm."""
    subject = part(name)
    if not context.structure.may_be(name, "NTC thermistor"):
        return _plain(context, name)
    at_25 = context.need(subject, "part.resistance")
    if isinstance(at_25.value, Curve) and len(at_25.value.points) == 1:
        at_25 = _row(context, subject, "resistance at 25 degC", at_25.value.points[0][1], at_25, "as stated at 25 degC")
    b = context.fact(subject, "part.b_constant") or context.assume("thermistor_b_constant", subject, "part.b_constant")
    inside = air(context, subject, case)
    return context.ledger.work_out(
        THERMISTOR,
        {"resistance": at_25, "b_constant": b, "air": inside},
        [(subject, "series_resistance", "resistance")],
        case=case,
    )[0]


def _plain(context: Context, name: str) -> Entry:
    subject = part(name)
    stated = context.fact(subject, "part.resistance")
    if stated is not None:
        return stated
    if context.structure.may_be(name, *_LIMITING):
        return context.need(subject, "part.resistance")
    return context.assume("small_series_resistance", subject, "part.resistance")


def _row(context: Context, subject: Subject, state: CaseGroup, value: Value, basis: Entry, words: str) -> Entry:
    return context.ledger.write(
        subject,
        "series_resistance",
        value,
        case=Case(state),
        known_by=basis.known_by,
        formula=words,
        source="definition",
        inputs=(basis.number,),
        rests_on=basis.rests_on,
    )


def total(context: Context, rows: Iterable[tuple[str, Entry | Value]], case: Case) -> Entry:
    """The sum of the series parts, as a row of the mains path."""
    inputs = {f"r{k}": entry for k, (_, entry) in enumerate(rows)}
    model = SUM.by(elementary.total("sum", *inputs))
    return context.ledger.work_out(model, inputs, [(LINE, "series_resistance", "sum")], case=case)[0]


def bulk_capacitance(context: Context, element: Element, index: int = 0) -> Entry:
    """Capacitance of one bulk element, its members joined as they are."""
    names = [leaf.name for leaf in leaves(element)]
    rows = {name: context.need(part(name), "part.capacitance") for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    joined = in_series_and_parallel(element, values, capacitors=True)
    case = Case("bulk 1" if index == 0 else "bulk 2")
    if joined is None:
        missing = [fact for row in rows.values() for fact in row.missing]
        return context.ledger.hole(BULK, "bulk_capacitance", missing, case=case, inputs=inputs, rests_on=rests)
    if len(names) == 1:
        return rows[names[0]]
    return context.ledger.write(
        BULK,
        "bulk_capacitance",
        joined,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="capacitances joined",
        source="Kirchhoff",
    )


def charged_capacitance(context: Context, mains: MainsInput, capacitances: list[Entry]) -> Entry:
    """The capacitance that is charged: of one bulk element, or of each of the two of a doubler."""
    if mains.input != "doubler":
        return capacitances[0]
    names = [leaf.name for element in mains.bulk for leaf in leaves(element)]
    paired = len(mains.bulk) == 2 or (isinstance(mains.bulk[0], Group) and mains.bulk[0].joined == "series")
    if len(names) != 2 or not paired:
        return context.ledger.hole(
            BULK,
            "bulk_capacitance",
            (OpenFact(SUPPLY, "circuit.line", "with the two bulk capacitors of the doubler"),),
            note="a doubler has two bulk capacitors in series, across C1 + C2",
        )
    rows = [context.need(part(name), "part.capacitance") for name in names]
    values = [row.value for row in rows if isinstance(row.value, Value)]
    if len(values) < 2:
        return next(row for row in rows if not isinstance(row.value, Value))
    one, other = (value.numbers() for value in values)
    both = Value(min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3]))
    return context.ledger.write(
        BULK,
        "bulk_capacitance",
        both,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        formula="each of the two capacitors",
        source="the lesser and the greater of the two",
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
    )


def mains_resistance(context: Context) -> Entry:
    """Resistance of the mains: the site's, or the range the packs assume."""
    stated = context.fact(SUPPLY, "site.mains_resistance")
    return stated or context.assume("mains_resistance", SUPPLY, "site.mains_resistance")


def series_rows(context: Context, mains: MainsInput, case: Case | None = None) -> list[tuple[str, Entry]]:
    """Every series part ahead of the first bulk capacitor with its resistance: hot, or cold at a switch-on case."""
    names = (*mains.series, *mains.behind)
    return [(name, hot(context, name) if case is None else cold(context, name, case)) for name in names]


# The mains input while it runs: bulk voltage, line current, ripple, diodes, inductance ahead of the bridge.


# Inductance ahead of the bridge: the mains, a choke in the line, the leakage of a common-mode choke.
#
# It lets the bulk capacitor overshoot the crest (the bridge keeps what was stored in it) and takes the edge off the
# peak: its greatest is worst for the one, its least for the other.


def inductance_ahead(context: Context, mains: MainsInput) -> Entry:
    """All inductance ahead of the bridge [H], as one row of the mains path; a hole names what nobody stated."""
    return inductance_up_to(context, LINE, (*mains.series, *mains.behind))


def inductance_up_to(context: Context, subject: Subject, names: Iterable[str]) -> Entry:
    """Inductance of the mains and of some series parts [H], as one row of a subject."""
    known = context.fact(subject, "line_inductance")
    if known is not None:
        return known
    stated = context.fact(SUPPLY, "site.mains_inductance")
    inputs: dict[str, Entry | Value | float] = {
        "mains": stated or context.assume("mains_inductance", SUPPLY, "site.mains_inductance")
    }
    for name in names:
        own = inductance_of(context, name)
        if own is not None:
            inputs[f"l{len(inputs)}"] = own
    model = Model.of(
        "inductance ahead of the bridge", elementary.total("sum", *inputs), "Kirchhoff", "sum of the inductances"
    )
    return context.ledger.work_out(model, inputs, [(subject, "line_inductance", "sum")])[0]


def inductance_of(context: Context, name: str) -> Entry | None:
    """What one series part adds; None for a part that has none to speak of."""
    subject, structure = part(name), context.structure
    if structure.may_be(name, "common-mode choke"):
        # the windings oppose each other: only what does not link both acts, and it lies in air and does not saturate
        return context.fact(subject, "part.leakage") or context.assume("line_choke_leakage", subject, "part.leakage")
    if structure.may_be(name, "choke"):
        stated = context.fact(subject, "part.inductance")
        if stated is None:
            return context.assume("line_choke_leakage", subject, "part.inductance")
        if not isinstance(stated.value, Value):
            return stated
        low, near, far, high = stated.value.numbers()
        return context.ledger.write(
            subject,
            "line_inductance",
            Value(mains_input.RESIDUAL * low, mains_input.RESIDUAL * near, far, high),
            known_by="computed",
            formula="saturated to linear",
            source="a saturated choke keeps a tenth: common practice, no source",
            inputs=(stated.number,),
            rests_on=stated.rests_on,
        )
    return None


# The mains input while it runs: bulk voltage, line current, ripple, diode and resistor stress.
#
# Full bridge or half-wave with one bulk capacitor, or two with a choke between; at the running and brown-out cases of
# the plan. The physics is in `derate.circuit`; here it is laid over cases, corners and subjects.


# Two metres of 1.5 mm² house wiring, out and back, are 24 mohm a metre (IEC 60228: 12.1 ohm/km): no socket has less.
WIRING = Value.exact(0.02)
_SOURCE = "own derivation, closed-form pieces; held to ngspice 39"
Outputs = list[Wanted]


BRIDGE = Model.of(
    "full bridge, bulk capacitor, constant-power load",
    mains_input.BRIDGE,
    _SOURCE,
    "steady state of R C dv/dt = crest × cos(wt) − drop − v − R P/v while conducting, C dv/dt = −P/v between",
)
HALF_WAVE = Model.of(
    "half-wave rectifier, bulk capacitor, constant-power load", mains_input.HALF_WAVE, _SOURCE, BRIDGE.words
)


BRIDGE_BEHIND = Model.of(
    "full bridge behind inductance, bulk capacitor, constant-power load",
    mains_input.BRIDGE_BEHIND,
    _SOURCE,
    "steady state of L di/dt = crest × cos(wt) − drop − v − R i, C dv/dt = i − P/v; the worst over the inductance",
    falling=frozenset(("bulk_min",)),
)
HALF_WAVE_BEHIND = Model.of(
    "half-wave rectifier behind inductance, bulk capacitor, constant-power load",
    mains_input.HALF_WAVE_BEHIND,
    _SOURCE,
    BRIDGE_BEHIND.words,
    falling=frozenset(("bulk_min",)),
)


DOUBLER = Model.of(
    "voltage doubler, constant-power load",
    mains_input.DOUBLER,
    "own derivation, closed-form pieces; held to ngspice 39",
    "steady state of two capacitors in series, each charged by its own half cycle",
    falling=frozenset(("bulk_min", "capacitor_min")),
)


DOUBLER_BEHIND = Model.of(
    "voltage doubler behind inductance, constant-power load",
    mains_input.DOUBLER_BEHIND,
    "own derivation, closed-form pieces; held to ngspice 39",
    "steady state of two capacitors in series, each charged by its own half cycle; the worst over the inductance",
    falling=frozenset(("bulk_min", "capacitor_min")),
)


CHOKE = Model.of(
    "full bridge, two bulk capacitors with a choke between, constant-power load",
    mains_input.CHOKE,
    "own derivation, exact steps in each mode; held to ngspice 39",
    "steady state of R – bridge – C1 – choke – C2 by exact steps",
    falling=frozenset(("bulk1_min", "bulk2_min")),
)._replace(kind=mains_input.CHOKE_KIND)


_RINGING = ("line_rms", "line_peak", "bulk1_rms", "bulk2_rms", "choke_rms", "choke_peak")


def _behind_inductance(model: Model, inputs: Mapping[str, Entry | Value | float], bad_end_alone: bool) -> Model:
    """The model of two capacitors with what inductance ahead multiplies each figure by laid over it.

    That is worked out exactly at the bad corner of resistance and load and at the kind one, the parts between. Where
    the choke's ring lasts to the next pulse it is walked through the parts besides, held to the greatest of the
    corners. Nothing is added where everything is stated exactly: then it is no bound but the figure itself.
    """
    values = {
        name: value
        for name, given in inputs.items()
        if isinstance(value := given.value if isinstance(given, Entry) else given, Value | float)
    }
    if len(values) < len(inputs):
        return _without(model, None)  # a hole among the inputs makes holes of all rows
    ends = {name: value if isinstance(value, Value) else Value.exact(value) for name, value in values.items()}
    henries = ends.pop("line_inductance")
    try:
        shares = _shares_behind(model, ends, henries, bad_end_alone)
    except Collapse as collapse:
        return _without(model, collapse)
    except (ValueError, ZeroDivisionError, OverflowError):
        return _without(model, None)  # outside its range: the rows say so themselves
    errors = {
        name: ((1.0 + low) * shares[name][0] - 1.0, (1.0 + high) * shares[name][1] - 1.0)
        for name, (low, high) in model.errors.items()
        if name in shares
    }
    return _without(model, None)._replace(errors={**model.errors, **errors})


def _shares_behind(
    model: Model, ends: dict[str, Value], henries: Value, bad_end_alone: bool
) -> dict[str, tuple[float, float]]:
    """What inductance ahead multiplies each figure of the model by, its least and its greatest [1].

    bad_end_alone: the kind end of the parts is left out, and what they lessen the figure by told as a half
    """
    exact = all(value.low == value.high for value in (*ends.values(), henries))
    middle = {name: value.middle for name, value in ends.items()}
    least, most = {name: value.low for name, value in ends.items()}, {name: value.high for name, value in ends.items()}
    bad = {**middle, "series_resistance": least["series_resistance"], "load": most["load"]}
    kind = {**middle, "series_resistance": most["series_resistance"], "load": least["load"]}
    ringing = not exact and filter_behind.rings_on(middle, most["inductance"], least["choke_resistance"])
    tried = filter_behind.inductances(henries.low, henries.high, exact, ringing)
    shares: dict[str, list[float]] = {name: [] for name in model.errors}

    def add(point: dict[str, float], some: tuple[float, ...]) -> None:
        bare = model.solve(**point)
        for one in some:
            found = filter_behind.with_and_without(point, one, model.solve)
            for name, own in shares.items():
                if getattr(bare, name) > 0.0:
                    own.append(getattr(found, name) / getattr(bare, name))

    add(bad, tried)
    if not exact and not bad_end_alone:
        add(kind, tried[-1:])
    if ringing:
        names = ("bulk1", "bulk2", "inductance")
        inside = {name: (least[name], most[name]) for name in names}
        for start, up in (({**bad, "choke_resistance": least["choke_resistance"]}, True), (kind, False)):
            found = [
                filter_behind.with_and_without(point, one, model.solve)
                for point in filter_behind.along(inside, start)
                for one in (tried if up else tried[-1:])
            ]
            pick = max if up else min
            for name in _RINGING:
                corners = [
                    getattr(model.solve(**dict(zip(ends, point, strict=True))), name)
                    for signs in model.corners(name, up)
                    for point in corner_points(signs, tuple(ends), ends, True, up)
                ]
                shares[name].append(pick(getattr(one, name) for one in found) / pick(corners))
    laid: dict[str, tuple[float, float]] = {}
    for name, own in shares.items():
        below, above = (0.0, 0.0) if exact else filter_behind.STEADY_BETWEEN
        if ringing:
            below = above = filter_behind.RINGING_STEADY
        if name in _RINGING and not exact:
            between = filter_behind.BETWEEN if any(tried) else 0.0
            below = filter_behind.KIND_BETWEEN
            above = filter_behind.RINGING_BETWEEN if ringing else between
        if bad_end_alone and not exact:
            below = 0.5
        laid[name] = (min(own) * (1.0 - below), max(own) * (1.0 + above))
    return laid


def _without(model: Model, collapse: Collapse | None) -> Model:
    """The model with inductance ahead among its inputs, which its corners do not ask for."""

    def solve(*, line_inductance: float, **inputs: float) -> object:  # noqa: ARG001
        if collapse is not None:
            raise collapse
        return model.solve(**inputs)

    return model._replace(solve=solve)


_BEHIND = {"half-wave": HALF_WAVE_BEHIND, "doubler": DOUBLER_BEHIND}


def all_corners(model: Model) -> Model:
    """The same model with no sign trusted: every corner of every input is run (deep valleys, section of SIGNS_FROM)."""
    names = [name for name in model.inputs() if not name.endswith(("_from", "_to"))]  # a range keeps its direction
    return model._replace(
        signs={
            output: {name: sign for name, sign in model.corners(output, up=True)[0].items() if name not in names}
            | dict.fromkeys(names, 0)
            for output in model.signs
        }
    )


def solve_line(context: Context, mains: MainsInput) -> None:
    """Write the running and brown-out rows of the mains input."""
    resistances = series_rows(context, mains)
    series = total(context, [*resistances, ("wiring", WIRING)], Case(RUNNING))
    ahead, across = capacitors_across(context, mains)
    model, fixed, outputs = _shape(context, mains, ahead if across else None)
    shares = {name: share for element in mains.bulk for name, share in parallel_shares(context, element).items()}
    load = context.need(SUPPLY, "power_drawn", Case(RUNNING, load=FULL_LOAD))
    for group in (RUNNING, BROWN_OUT):
        wanted: dict[Case, Outputs] = {}
        for subject, quantity, output in outputs:
            if group == BROWN_OUT and output != "line_rms":
                continue  # only what heats the series parts is judged there
            # a reading of the mains current alone asks for no current of the line, of which that is a part
            also: list[QuantityName] = ["mains_current"] if across and (subject, output) == (LINE, "line_rms") else []
            for case in context.plan.cases([quantity, *also], [group]):
                wanted.setdefault(case, []).append((subject, quantity, output))
        for case, rows in wanted.items():
            _solve_case(context, model, fixed, series, load, case, rows, shares)
    if across:
        solve_beside(context, mains, ahead, across)
    _powers(context, resistances)


def _shape(context: Context, mains: MainsInput, ahead: int | None) -> tuple[Model, dict[str, Entry], Outputs]:
    """The model of this input, its inputs besides mains and load, and what is wanted from it.

    ahead: how many series parts stand ahead of a capacitor across the mains, whose current is in theirs; None for none
    """
    bulk = [tuple(leaf.name for leaf in leaves(element)) for element in mains.bulk]
    outputs: Outputs = [(LINE, "current_rms", "line_rms"), (LINE, "current_peak", "line_peak")]
    if ahead is None:
        outputs.append((SUPPLY, "mains_current", "line_rms"))
    for name in (*mains.series[ahead or 0 :], *mains.behind):
        outputs += [(part(name), "current_rms", "line_rms"), (part(name), "current_peak", "line_peak")]
    two = len(bulk) == 2 and mains.input != "doubler"
    for name in mains.rectifier:
        outputs += [(part(name), "current_average", "diode_average"), (part(name), "current_peak", "line_peak")]
    last = "bulk2_min" if two else "bulk_min"
    outputs += [(BULK, "voltage_min", last)]
    for k, names in enumerate(bulk):
        ripple = f"bulk{k + 1}_rms" if two else "capacitor_rms"
        lowest = f"bulk{k + 1}_min" if two else "capacitor_min" if mains.input == "doubler" else "bulk_min"
        for name in names:
            outputs += [(part(name), "ripple_current", ripple), (part(name), "voltage_min", lowest)]
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    if not two:
        capacitance = charged_capacitance(context, mains, capacitances)
        model = _BEHIND.get(mains.input, BRIDGE_BEHIND)
        return model, ahead_and_charged(context, mains, capacitance), outputs
    name = mains.choke[0] if mains.choke else ""
    choke = part(name)
    outputs += [(choke, "current_rms", "choke_rms"), (choke, "current_peak", "choke_peak")]
    resistance = context.fact(choke, "part.resistance") or context.assume(
        "small_series_resistance", choke, "part.resistance"
    )
    return (
        CHOKE,
        {
            "line_inductance": inductance_ahead(context, mains),
            "bulk1": capacitances[0],
            "bulk2": capacitances[1],
            "inductance": context.need(choke, "part.inductance"),
            "choke_resistance": resistance,
        },
        outputs,
    )


def ahead_and_charged(context: Context, mains: MainsInput, capacitance: Entry) -> dict[str, Entry]:
    """Inductance ahead and the capacitance that is charged, each as the two ends of its range."""
    inductance = inductance_ahead(context, mains)
    return {
        "inductance_from": inductance,
        "inductance_to": inductance,
        "capacitance_from": capacitance,
        "capacitance_to": capacitance,
    }


def _solve_case(
    context: Context,
    model: Model,
    fixed: dict[str, Entry],
    series: Entry,
    load: Entry,
    case: Case,
    rows: Outputs,
    shares: Mapping[str, tuple[float, float]],
) -> None:
    if case.mains is None:
        for subject, quantity, _ in rows:
            context.ledger.hole(subject, quantity, context.plan.lacking(case.group), case=case)
        return
    power: Entry | Value = Value.exact(0.0) if case.load == NO_LOAD else load
    if case.frequency is None:  # no influence: any frequency inside the range serves
        hertz = context.plan.frequency[0] if context.plan.frequency else 50.0
    else:
        hertz = case.frequency
    inputs: dict[str, Entry | Value | float] = {
        "mains": case.mains,
        "frequency": hertz,
        "series_resistance": series,
        **fixed,
        "load": power,
    }
    if case.load == NO_LOAD:
        return  # the crest without load is written by `crest`
    if "line_inductance" in inputs:
        model = _behind_inductance(model, inputs, case.group == BROWN_OUT)
    context.ledger.work_out(with_shares(_deep(model, inputs), shares), inputs, of_each(rows, shares), case=case)
    if any(quantity == "voltage_min" for _, quantity, _ in rows):
        _carried(context, model, inputs, case)


def _carried(context: Context, model: Model, inputs: Mapping[str, Entry | Value | float], case: Case) -> None:
    """Whether the bulk carries the load at this case: yes, no, or still either way, by its kindest and worst corner."""
    signs = _valley_signs(model)
    numbers = tuple(given.number for given in inputs.values() if isinstance(given, Entry))
    rests = frozenset().union(*(given.rests_on for given in inputs.values() if isinstance(given, Entry)))
    words = set()
    for kind in (True, False):
        point = corner(signs, inputs, kind)
        if point is None:
            return
        try:
            model.solve(**point)
            words.add("yes")
        except Collapse:
            words.add("no")
        except (ValueError, ZeroDivisionError, OverflowError):
            words |= {"yes", "no"}
    for subject in (BULK, SUPPLY):
        context.ledger.write(
            subject,
            "load_carried",
            Category.of(*words),
            case=case,
            known_by="computed",
            inputs=numbers,
            rests_on=rests,
            formula=model.name,
            source=model.source,
        )


def _valley_signs(model: Model) -> Mapping[str, int]:
    return model.corners("bulk2_min" if "bulk2_min" in model.signs else "bulk_min", up=False)[0]


def corner(
    signs: Mapping[str, int], inputs: Mapping[str, Entry | Value | float], kind: bool
) -> dict[str, float] | None:
    """The kindest corner of this sample (parts nominal), or the worst with tolerance, for a valley."""
    point: dict[str, float] = {}
    for name, given in inputs.items():
        value = given.value if isinstance(given, Entry) else given
        if isinstance(value, Value):
            up = (signs.get(name, 1) > 0) == kind
            point[name] = (value.far if up else value.near) if kind else (value.high if up else value.low)
        elif isinstance(value, float):
            point[name] = value
        else:
            return None
    if "capacitance_from" in point:  # a range is one capacitance here; any inductance of it may be the one
        point["capacitance_from"] = point["capacitance_to"]
        ends = sorted((point["inductance_from"], point["inductance_to"]))
        point["inductance_from"], point["inductance_to"] = (ends[0], ends[0]) if kind else (ends[0], ends[1])
    return point


def _deep(model: Model, inputs: Mapping[str, Entry | Value | float]) -> Model:
    """The model itself, or with every corner run where the valley lies too deep for its declared signs."""
    values = corner(_valley_signs(model), inputs, kind=False)
    if values is None:
        return model  # something is missing: holes are written whichever signs are declared
    if "inductance_from" in values:  # from the greatest to the least: the deepest valley of the range
        values["inductance_from"], values["inductance_to"] = values["inductance_to"], values["inductance_from"]
    try:
        found = model.solve(**values)
    except (Collapse, ValueError, ZeroDivisionError, OverflowError):
        return all_corners(model)
    if isinstance(found, Mapping):
        lowest = float(found["bulk_min"])
    else:
        lowest = float(found.bulk2_min if hasattr(found, "bulk2_min") else found.bulk_min)
    return model if lowest > rectifier.SIGNS_FROM * values["mains"] * 2**0.5 else all_corners(model)


def crest(context: Context, mains: MainsInput) -> None:
    """The greatest bulk voltage while it runs, without load and at any load; and what diodes block."""
    for quantity in ("voltage_peak", "reverse_voltage"):
        for case in context.plan.cases([quantity], [RUNNING]):
            if quantity == "voltage_peak":
                rows: Outputs = [
                    (part(leaf.name), quantity, "crest") for element in mains.bulk for leaf in leaves(element)
                ]
                rows.append((BULK, quantity, "half_wave" if mains.input == "doubler" else "crest"))
            else:
                twice = mains.input in ("half-wave", "doubler")
                rows = [(part(name), quantity, "half_wave" if twice else "crest") for name in mains.rectifier]
            if case.mains is None:
                for subject, name, _ in rows:
                    context.ledger.hole(subject, name, context.plan.lacking(case.group), case=case)
            elif quantity == "voltage_peak" and case.load == NO_LOAD:
                context.ledger.work_out(CREST, {"mains": case.mains}, rows, case=case)
            else:
                _loaded_crest(context, mains, case, case.mains, rows)


def _loaded_crest(context: Context, mains: MainsInput, case: Case, volts: float, rows: Outputs) -> None:
    """What inductance ahead pushes the bulk to; where that is not known the crest, which rests on what is open."""
    ledger = context.ledger
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    if len(capacitances) == 2 and mains.input != "doubler":
        _crest_of_two(context, mains, case, volts, rows, capacitances)
        return
    capacitance = charged_capacitance(context, mains, capacitances)
    inputs: dict[str, Entry | Value | float] = {
        "mains": volts,
        "frequency": Value.between(*(context.plan.frequency or EVERY_MAINS)),
        "series_resistance": context.need(LINE, "series_resistance", Case(RUNNING)),
        **ahead_and_charged(context, mains, capacitance),
        "load": context.need(SUPPLY, "power_drawn", Case(RUNNING, load=FULL_LOAD)),
    }
    given = [one for one in inputs.values() if isinstance(one, Entry)]
    half = mains.input in ("half-wave", "doubler")
    if all(isinstance(one.value, Value) for one in given):
        rests = frozenset().union(*(one.rests_on for one in given))
        most = _bounded_crest(inputs, half, _reach(context, inputs["inductance_to"], inputs["load"])) if rests else None
        if most is None:
            model = LOADED_HALF_WAVE if half else LOADED_BRIDGE
            ledger.work_out(model, inputs, rows, case=case, note=model.words)
            return
        rests, note = frozenset(), f"{LOADED}, whatever the mains and the load"
    else:
        rests = frozenset(fact for one in given if not isinstance(one.value, Value) for fact in one.missing)
        most, note = {"crest": 0.0, "half_wave": 0.0}, "the crest alone: what pushes the bulk above it is not known"
    least = rectifier.crest(volts)
    for subject, quantity, output in rows:
        ledger.write(
            subject,
            quantity,
            Value.between(least[output], max(least[output], most[output])),
            case=case,
            known_by="computed",
            inputs=tuple(one.number for one in given),
            rests_on=rests,
            formula=CREST.name,
            source=CREST.source,
            note=note,
        )


def _crest_of_two(
    context: Context, mains: MainsInput, case: Case, volts: float, rows: Outputs, capacitances: list[Entry]
) -> None:
    """What the choke between two capacitors, and inductance ahead, push each of them to; else the crest, which rests.

    The share that inductance ahead adds is that of one capacitor, of the first to both together, and multiplies.
    """
    choke = part(mains.choke[0]) if mains.choke else BULK
    resistance = context.fact(choke, "part.resistance") or context.assume(
        "small_series_resistance", choke, "part.resistance"
    )
    series, ahead = context.need(LINE, "series_resistance", Case(RUNNING)), inductance_ahead(context, mains)
    load = context.need(SUPPLY, "power_drawn", Case(RUNNING, load=FULL_LOAD))
    given = [series, load, *capacitances, context.need(choke, "part.inductance"), resistance, ahead]
    known = [one.value for one in given if isinstance(one.value, Value)]
    least = rectifier.crest(volts)["crest"]
    first = second = least
    if len(known) == len(given):
        ohms, watts, one, other, coil, own, henries = known
        hertz = context.plan.frequency or EVERY_MAINS
        rests = frozenset().union(*(entry.rests_on for entry in given[:-1]))
        first, second = greatest_of_two(
            volts,
            hertz,
            ohms.low,
            (one.low, one.high),
            (coil.low, coil.high),
            own.low,
            (other.low, other.high),
            watts.high,
            mains_input.BRIDGE_DROP,
        )
        fixed, farads = (volts, hertz, ohms.low), (one.low, one.high + other.high)
        factor = _ahead_of_two(*fixed, max(_reach(context, ahead, load)[0], henries.high), farads, watts.high)
        if factor > 1.0 + _LITTLE:
            factor = _ahead_of_two(*fixed, henries.high, farads, watts.high)
            rests |= ahead.rests_on
        first, second, note = first * factor, second * factor, LOADED
    else:
        rests = frozenset(fact for entry in given if not isinstance(entry.value, Value) for fact in entry.missing)
        note = "the crest alone: what pushes the bulk above it is not known"
    behind = {part(leaf.name) for leaf in leaves(mains.bulk[1])} | {BULK}
    for subject, quantity, _ in rows:
        most = second if subject in behind else first
        context.ledger.write(
            subject,
            quantity,
            Value.between(least, max(least, most)),
            case=case,
            known_by="computed",
            inputs=tuple(entry.number for entry in given),
            rests_on=rests,
            formula=CREST.name,
            source=CHOKE.source,
            note=note,
        )


def _ahead_of_two(
    volts: float, hertz: tuple[float, float], ohms: float, henries: float, farads: tuple[float, float], watts: float
) -> float:
    """What inductance ahead multiplies the greatest voltage of two capacitors by [1]."""
    solve = mains_input.bulk_crest(False, coarse=True).solve
    fixed = {"mains": volts, "series_resistance": ohms, "inductance_from": 0.0, "inductance_to": henries, "load": watts}
    ends = {"capacitance_from": farads[0], "capacitance_to": farads[1]}
    most = max(float(solve(frequency=one, **fixed, **ends)["crest"]) for one in hertz)
    return most / rectifier.crest(volts)["crest"]


# No socket is taken to have more inductance ahead of it: three times that of the reference impedance of IEC 60725,
# 0.8 ohm at 50 Hz.
_ANY_INDUCTANCE = 2.5e-3
_ANY_LOAD = 1.5  # times the greatest load that is worked out: an efficiency a third below the least assumed
_LITTLE = 0.05  # above the crest: more is told as resting on what is open; up to it the whole width is the figure


def _reach(context: Context, inductance: Entry | Value | float, load: Entry | Value | float) -> tuple[float, float]:
    """Least inductance and multiple of the load to reach out to: of what somebody stated only as far as stated."""
    stated = context.fact(SUPPLY, "site.mains_inductance")
    known = stated is not None and stated.known_by != "assumed"
    known = known and isinstance(inductance, Entry) and not inductance.rests_on
    loaded = isinstance(load, Entry) and not load.rests_on
    return 0.0 if known else _ANY_INDUCTANCE, 1.0 if loaded else _ANY_LOAD


def _bounded_crest(
    inputs: Mapping[str, Entry | Value | float], half: bool, reach: tuple[float, float]
) -> dict[str, float] | None:
    """The greatest bulk voltage over any mains and well over the load, where all that adds little to the crest.

    That figure is then given in place of the one at what is assumed, so it does not hang on what nobody has looked at.
    """
    point = {name: given.value if isinstance(given, Entry) else given for name, given in inputs.items()}
    known = {name: given for name, given in point.items() if isinstance(given, Value)}
    volts = inputs["mains"]
    assert isinstance(volts, float)
    limit, found = 2.0**0.5 * volts * (1.0 + _LITTLE), []
    for hertz in (known["frequency"].high, known["frequency"].low):
        try:
            solved = mains_input.bulk_crest(half, coarse=True).solve(
                mains=volts,
                frequency=hertz,
                series_resistance=known["series_resistance"].low,
                inductance_from=0.0,
                inductance_to=max(reach[0], known["inductance_to"].high),
                capacitance_from=known["capacitance_from"].low,
                capacitance_to=known["capacitance_from"].high,
                load=reach[1] * known["load"].high,
            )
        except ValueError:
            return None
        if solved["crest"] > limit:
            return None
        found.append(solved)
    return {name: max(one[name] for one in found) for name in found[0]}


CREST = Model.of(
    "crest of the mains",
    rectifier.CREST,
    "an unloaded rectifier charges to the crest; a lone diode blocks crest plus bulk, a doubler's the sum of its bulk",
    "√2 × mains, twice that of a half-wave input's diode and of a doubler",
)
LOADED = "the crest, or what inductance ahead pushes the bulk above it at any load up to the full one"
LOADED_BRIDGE = Model.of("greatest bulk voltage of a bridge", mains_input.bulk_crest(False), _SOURCE, LOADED)
LOADED_HALF_WAVE = Model.of("greatest bulk voltage of a half wave", mains_input.bulk_crest(True), _SOURCE, LOADED)
POWER = Model.of("power in a resistance", HEAT, "Joule", "resistance × current²")


def _powers(context: Context, resistances: list[tuple[str, Entry]]) -> None:
    """Power lost in each series part at the running and brown-out cases."""
    for name, resistance in resistances:
        for group in (RUNNING, BROWN_OUT):
            for case in context.plan.cases(["power"], [group]):
                current = context.fact(part(name), "current_rms", case)
                if current is not None:
                    context.ledger.work_out(
                        POWER,
                        {"resistance": at_current(context, name, resistance, current, case), "current": current},
                        [(part(name), "power", "power")],
                        case=case,
                    )


# Efficiency of the converter stage: stated, worked out from power readings at full load, or assumed.
#
# Readings that span the mains range say what it is in between. A single reading, or one whose mains do not reach the
# ends, says it only with a margin that nobody has measured, and the row then counts as assumed.


MARGIN = 0.05  # how far the efficiency may differ where nobody measured it: common practice, no source


def efficiency(context: Context, delivered: Entry, readings: tuple[Reading, ...]) -> Entry:
    """The efficiency row of the converter stage at full load."""
    stated = context.fact(SUPPLY, "supply.efficiency")
    if stated is not None:
        return stated
    powers = full_load_powers(readings)
    rows = [(_measured(context, *one), _is_read(*one[2:])) for one in powers if not one[2].unread]
    known = [(mains, row) for (mains, row), _ in rows if isinstance(row.value, Value)]
    if not known:
        return context.assume("efficiency", SUPPLY, "efficiency")
    values = [row.value for _, row in known if isinstance(row.value, Value)]
    low = min(value.near for value in values)
    high = max(value.far for value in values)
    open_samples = len(rows) < len(powers)
    read = [mains for (mains, row), seen in rows if seen and isinstance(row.value, Value)]  # a hole reaches no end
    if open_samples or not read:  # what a sample draws is not written down, or simulated: as where nobody measured
        assumed = context.assume("efficiency", SUPPLY, "efficiency").value
        if isinstance(assumed, Value):
            low, high = min(low, assumed.near), max(high, assumed.far)
    ends = context.plan.mains
    spans = not open_samples and bool(read) and ends is not None
    spans = spans and ends is not None and read[0] <= ends[0] * 1.001 and read[-1] >= ends[1] * 0.999
    inputs = tuple(row.number for _, row in known)
    if spans:
        return context.ledger.write(
            SUPPLY,
            "efficiency",
            Value.between(low, high),
            known_by=max((power.known for _, _, power, _ in powers if not power.unseen), key=EVIDENCE.index),
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
        note=(
            "what a sample draws at full load is not written down"
            if open_samples
            else "no power reading at full load reaches both ends of the mains"
        ),
        rests_on=frozenset((OpenFact(SUPPLY, "mains_power", "at full load at both ends of the mains"),)),
    )


def _measured(
    context: Context, mains: float, hertz: float, reading: Reading, voltage: Reading | None
) -> tuple[float, Entry]:
    """The efficiency at one reading: output power over what is left of the mains power behind bridge and resistors."""
    ledger, structure = context.ledger, context.structure
    case = Case(READING, mains, hertz, FULL_LOAD)
    power = ledger.write(
        SUPPLY, "mains_power", reading.stated.value, case=case, known_by=reading.known, place=reading.stated.place
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


def _is_read(power: Reading, voltage: Reading | None) -> bool:
    """Whether somebody held instruments to what an efficiency is worked out from; a simulated one only widens it."""
    return not power.unseen and (voltage is None or not voltage.unseen)


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
                subject, "voltage", voltage.stated.value, case=case, known_by=voltage.known, place=voltage.stated.place
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
