"""The mains closes onto the bulk: at the worst angle, at a hot restart, a re-plug, after a dip."""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit import mains as mains_events
from derate.circuit import resistors
from derate.circuit.resistors import PULSE
from derate.design.structure import MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import BULK, LINE, Context, part
from derate.stress.mains.beside import capacitance_across, capacitors_of
from derate.stress.mains.line import (
    bulk_capacitance,
    charged_capacitance,
    cold,
    inductance_ahead,
    mains_resistance,
    series_rows,
    total,
)
from derate.terms.quantities import DIP, FULL_LOAD, HOT_RESTART, RE_PLUG, RUNNING, SWITCH_ON, each, re_plug_of
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value
from derate.terms.words import RESISTORS

# Charging the bulk at the worst closing angle: peak, I²t, energy and width, part by part.


# One closing of the mains onto the rectifier: what stands in the path, what the bulk holds, at which case.
#
# A cold switch-on, a restart with the thermistor hot and a mains that comes back after a dip differ in nothing else.


QUANTITIES = each("current_peak", "i2t", "pulse_width", "voltage_surge", "energy", "pulse_power")
# Kinds that limit the current by design and are rated for the pulse.
RATED_FOR_PULSES = (*RESISTORS, "NTC thermistor")


class Closing(NamedTuple):
    """rows: series parts and their resistance; whole: with the mains; others: all but the part of that name.

    start: bulk voltage before the mains comes [V]; drop: of the diodes that conduct [V]
    """

    case: Case
    rows: tuple[tuple[str, Entry], ...]
    whole: Entry
    others: dict[str, Entry]
    inductance: Entry
    start: Entry | Value
    drop: Value


def closing(context: Context, mains: MainsInput, case: Case, start: Entry | Value, hot: bool) -> Closing:
    """The mains path at one closing; hot: a thermistor in it has not cooled down."""
    rows = tuple(series_rows(context, mains, None if hot else case))
    everything: list[tuple[str, Entry | Value]] = [*rows, ("mains", mains_resistance(context))]
    everything += _of_the_diodes(context, mains)
    others = {name: total(context, [(n, r) for n, r in everything if n != name], case) for name, _ in rows}
    whole = total(context, everything, case)  # last, so that it is the row of the whole path that is found
    drop = Value.between(0.0, mains_events.DIODE_AT_SWITCH_ON[0] * _conducting(mains))
    return Closing(case, rows, whole, others, inductance_ahead(context, mains), start, drop)


def _conducting(mains: MainsInput) -> int:
    """Diodes in the path of the charging current."""
    return 2 if mains.input == "full bridge" else 1


def _of_the_diodes(context: Context, mains: MainsInput) -> list[tuple[str, Entry | Value]]:
    """Resistance of the rectifier in the path: of one whole bridge as stated, of single diodes of those that conduct.

    What nobody stated is none at the bad end, and that of a small die at the kind one.
    """
    in_path = mains.rectifier[: 1 if len(mains.rectifier) == 1 else _conducting(mains)]
    found: list[tuple[str, Entry | Value]] = []
    for name in in_path:
        stated = context.fact(part(name), "part.resistance")
        diodes = _conducting(mains) if len(mains.rectifier) == 1 else 1
        unknown = Value.between(0.0, mains_events.DIODE_AT_SWITCH_ON[1] * diodes)
        found.append((name, stated if stated is not None else unknown))
    return found


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
        "drop": at.drop,
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
    softness: Entry | Value = saturates
    if isinstance(stated, Value):
        softness = Value.between(0.0, 1.0 / stated.far)
    over: list[Wanted] = [
        (part(leaf.name), "voltage_surge", f"bulk{k + 1}")
        for k, element in enumerate(mains.bulk)
        for leaf in leaves(element)
    ]
    over.append((BULK, "voltage_surge", "bulk2"))
    ledger.work_out(OVERSHOOT, {**inputs, "softness": softness}, over, case=case, note=OVERSHOOT.words)


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
        "drop": at.drop,
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


# The mains comes back while the supply is not at rest: hot restart, re-plug against a charged capacitor, dip.
#
# Hot restart: the thermistor is hot, the bulk has run down to where the converter stops. Dip: the mains is away for
# 20 ms and comes back at its crest, the thermistor hot. Re-plug: a capacitor across the line still holds the crest
# and meets the opposite one; what stands ahead sees both. An event that cannot be worse than one already worked out
# is given as "no more than" that one, and says so.


def less_when_hot(context: Context, names: Iterable[str], also: str = "") -> bool:
    """Whether anything in the path of the mains may be less when hot, written as what a restart is.

    also: why nothing else makes a restart worse than a cold switch-on
    """
    hotter = any(context.structure.may_be(name, "NTC thermistor") for name in names)
    context.ledger.write(
        SUPPLY,
        "circuit.restart",
        Category.of("less" if hotter else "as cold"),
        known_by="computed",
        formula="whether a thermistor stands in the mains path",
        source="; ".join(filter(None, ("a thermistor is hot after a short outage", also))),
    )
    return hotter


def solve_restarts(context: Context, mains: MainsInput) -> None:
    """Write the rows of hot restart, dip and re-plug."""
    hotter = less_when_hot(context, (*mains.series, *mains.behind))
    cold_case = next(iter(context.plan.cases(["i2t"], [SWITCH_ON])), None)
    for case in context.plan.cases(["i2t"], [HOT_RESTART]):
        if case.mains is None:
            no_case(context, mains, case)
        elif hotter:
            solve_closing(context, mains, closing(context, mains, case, stop_voltage(context), hot=True))
        elif cold_case is not None:
            no_more_than(context, mains, cold_case, case, "nothing in the path is less when hot, the bulk is not empty")
    restart = next(iter(context.plan.cases(["i2t"], [HOT_RESTART])), None)
    for case in context.plan.cases(["i2t"], [DIP]):
        if case.mains is None:
            no_case(context, mains, case)
        elif len(mains.bulk) == 1 and mains.input != "doubler":
            solve_closing(context, mains, closing(context, mains, case, _after_dip(context, mains, case), hot=True))
        elif restart is not None:
            no_more_than(context, mains, restart, case, "the bulk is fuller than at a restart, the parts as hot")
    if cold_case is not None:
        replug(context, mains, cold_case)


def stop_voltage(context: Context) -> Entry:
    """Bulk voltage as the mains comes back: from empty to the crest at which the converter was still running."""
    known = context.fact(SUPPLY, "supply.runs_down_to")
    lowest = known.value.high if known is not None and isinstance(known.value, Value) else None
    if lowest is None and context.plan.mains is not None:
        lowest = context.plan.mains[0]  # it runs at the lowest mains of its plate, or it would not be one
    return context.ledger.write(
        BULK,
        "start_voltage",
        Value.between(0.0, 2**0.5 * (lowest or 0.0)),
        case=Case(HOT_RESTART),
        known_by="computed",
        inputs=(known.number,) if known is not None else (),
        formula="from empty to the crest of the lowest mains it runs at",
        source="the converter has stopped at or below it; how long the mains was away is not known",
    )


def no_more_than(context: Context, mains: MainsInput, known: Case, case: Case, why: str) -> None:
    """Rows of an event that another one bounds: nothing is known of their lower end."""
    ledger = context.ledger
    names = (*mains.series, *mains.behind, *mains.rectifier, *(leaf.name for e in mains.bulk for leaf in leaves(e)))
    for subject in (Subject("path", ("line",)), BULK, *(part(name) for name in names)):
        for quantity in QUANTITIES:
            row = ledger.find(subject, quantity, known)
            if row is None:
                continue
            value = row.value
            if isinstance(value, Value):
                if quantity not in ("pulse_width", "voltage_surge"):  # the bulk reaches the crest at every event
                    value = Value(0.0, 0.0, value.far, value.high)
                ledger.write(
                    subject,
                    quantity,
                    value,
                    case=case,
                    known_by="computed",
                    inputs=(row.number,),
                    formula=f"no more than at {known.group}",
                    source=why,
                    rests_on=row.rests_on,
                )
            else:
                ledger.hole(
                    subject,
                    quantity,
                    row.missing,
                    case=case,
                    note=row.note,
                    inputs=(row.number,),
                    rests_on=row.rests_on,
                )


LEFT = Model.of(
    "bulk voltage after a dip",
    mains_events.AFTER_DIP,
    "energy drawn at constant power; from a crest, and from half a period after one",
    "√(crest² − 2 P t / C), t from 20 ms to 20 ms and half a period; the converter stopping earlier leaves more",
    falling=frozenset(("least", "most")),
)


def _after_dip(context: Context, mains: MainsInput, case: Case) -> Entry:
    load = context.need(SUPPLY, "power_drawn", Case(RUNNING, load=FULL_LOAD))
    rows = context.ledger.work_out(
        LEFT,
        {
            "mains": case.mains or 0.0,
            "frequency": case.frequency or 50.0,
            "load": load,
            "capacitance": bulk_capacitance(context, mains.bulk[0]),
        },
        [(BULK, "start_voltage", "least"), (BULK, "voltage_peak", "most")],
        case=Case("dip start", case.mains),
    )
    least, most = rows
    if not isinstance(least.value, Value) or not isinstance(most.value, Value):
        return least
    return context.ledger.write(
        BULK,
        "start_voltage",
        Value(least.value.low, least.value.near, most.value.far, most.value.high),
        case=Case(DIP, case.mains),
        known_by="computed",
        inputs=(least.number, most.number),
        formula=LEFT.words,
        source=LEFT.source,
        rests_on=least.rests_on,
    )


STEP = Model.of(
    "re-plug against a charged capacitor across the line",
    mains_events.RE_PLUG,
    "step response of R, L and C; i2t = C step² / (2 R); the bridge feeds the bulk: a full capacitor means a full bulk",
    "the greater of 2 × crest into the capacitor alone, and the crest into capacitor and empty bulk together",
)


def replug(context: Context, mains: MainsInput, cold_case: Case, bulk: bool = True) -> None:
    """Write the rows of a plug put back while a capacitor across the line still holds the opposite crest.

    bulk: whether a bulk capacitor besides may be empty then
    """
    ledger = context.ledger
    shunts = [
        s._replace(element=charged, names=tuple(leaf.name for leaf in leaves(charged)))
        for s in mains.shunts
        if not s.to_earth and (charged := capacitors_of(context, s.element)) is not None
    ]
    for case in context.plan.cases(["i2t"], [RE_PLUG]):
        if case.mains is None:
            no_case(context, mains, case)
            continue
        no_more_than(context, mains, cold_case, case, "no charged capacitor across the line behind this part")
        last = max((s.behind for s in shunts), default=0)
        for k, name in enumerate(mains.series[:last]):
            behind = [s for s in shunts if s.behind > k]
            capacitance = capacitance_across(context, [s.element for s in behind], SUPPLY, Case(RE_PLUG))
            if isinstance(capacitance.value, Value):
                nearest = min(s.behind for s in behind)
                ahead = [(n, cold(context, n, case)) for n in mains.series[:nearest]]
            else:
                ahead = []
            source = mains_resistance(context)
            resistance = total(context, [*ahead, ("mains", source)], Case(re_plug_of(name)))
            subject = part(name)
            inductance = context.fact(SUPPLY, "site.mains_inductance") or context.assume(
                "mains_inductance", SUPPLY, "site.mains_inductance"
            )
            cold_peak, cold_i2t = (
                context.need(subject, q, cold_case) if bulk else 0.0 for q in each("current_peak", "i2t")
            )
            rows = ledger.work_out(
                STEP,
                {
                    "mains": case.mains,
                    "resistance": resistance,
                    "inductance": inductance,
                    "capacitance": capacitance,
                    "bulk_peak": cold_peak,
                    "bulk_i2t": cold_i2t,
                },
                [(subject, q, q) for q in ("current_peak", "i2t")],
                case=case,
            )
            _by_resistance(context, name, case, rows[1], rows[0])


HEAT = Model.of("energy of a pulse in a resistance", PULSE, "Joule", "resistance × I²t")


def _by_resistance(context: Context, name: str, case: Case, i2t: Entry, peak: Entry) -> None:
    subject = part(name)
    context.ledger.work_out(
        HEAT,
        {"resistance": cold(context, name, case), "i2t": i2t, "peak": peak},
        [(subject, "energy", "energy"), (subject, "pulse_power", "power"), (subject, "pulse_width", "width")],
        case=case,
    )
