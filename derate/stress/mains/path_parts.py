"""Parts of the mains path: protective parts, thermistors, empty positions."""

from __future__ import annotations

from derate.circuit import pulse
from derate.circuit.pulse import PULSE_FRACTIONS, pulse_fraction
from derate.circuit.resistors import SHORT
from derate.circuit.thermal import body_by_power, body_by_resistance
from derate.design.structure import MainsInput
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, part
from derate.stress.mains.line import mains_resistance
from derate.stress.supply import air
from derate.terms.quantities import DIP, HOT_RESTART, RE_PLUG, RUNNING, SURGE, SWITCH_ON
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Curve, Value, written

# What the protective parts of the mains path can stand and can break: melting I²t, prospective current, tracks.
#
# A fuse survives by its least melting I²t and the share of it that one pulse may have; a track melts by its width and
# copper. Both hold only while no heat leaves the metal, below about 10 ms.


REPEATED = (SWITCH_ON, HOT_RESTART, RE_PLUG, DIP)
TRACK = Model.of(
    "melting I²t of a track",
    pulse.TRACK,
    "adiabatic heating of copper to its melting point, constants of IEC 60949",
    "(226 A√s/mm² × width × thickness)² × ln((1083 + 234.5)/(start + 234.5))",
    falling=frozenset(("melting_i2t",)),
)


def protective_rows(context: Context, mains: MainsInput) -> None:
    """Write the rows of every fuse and track of the mains path."""
    for name in (*mains.series, *mains.behind):
        if context.structure.may_be(name, "fuse"):
            _survival(context, name)
            _prospective(context, name)
        if context.structure.may_be(name, "board track"):
            melting_of_track(context, name)


def melting_of_track(context: Context, name: str) -> Entry:
    """I²t at which a track of the board begins to melt [A²s]; written once."""
    subject = part(name)
    known = context.fact(subject, "melting_i2t")
    if known is not None:
        return known
    thickness = context.fact(subject, "part.thickness") or context.assume("board_copper", subject, "part.thickness")
    case = next(iter(context.plan.cases(["air_temperature"], [RUNNING])), Case(RUNNING))
    return context.ledger.work_out(
        TRACK,
        {"width": context.need(subject, "part.width"), "thickness": thickness, "start": air(context, subject, case)},
        [(subject, "melting_i2t", "melting_i2t")],
    )[0]


def _survival(context: Context, name: str) -> None:
    """I²t that one pulse of each event may have: the melting I²t times the share for as many pulses."""
    subject, ledger = part(name), context.ledger
    melting = context.need(subject, "rated.melting_i2t")
    pulses = context.need(SUPPLY, "site.switch_ons")
    for group in (*REPEATED, SURGE):
        for case in context.plan.cases(["allowed.i2t"], [group]):
            if group == SURGE:  # nobody counts surges; a hundred in its life is the fewest the guide speaks of
                share = Value.exact(PULSE_FRACTIONS[100])
                inputs: tuple[int, ...] = (melting.number,)
                rests, missing = melting.rests_on, melting.missing
            else:
                inputs = (melting.number, pulses.number)
                rests, missing = melting.rests_on | pulses.rests_on, (*melting.missing, *pulses.missing)
                found = _share(pulses.value) if isinstance(pulses.value, Value) else None
                if isinstance(pulses.value, Value) and found is None:
                    missing = (
                        *missing,
                        OpenFact(subject, "rated.melting_i2t", f"for {written(pulses.value.high, 4)} pulses"),
                    )
                share = found or Value.exact(0.0)
            if missing or not isinstance(melting.value, Value):
                ledger.hole(subject, "allowed.i2t", missing, case=case, inputs=inputs, rests_on=rests)
                continue
            numbers = zip(melting.value.numbers(), share.numbers(), strict=True)
            ledger.write(
                subject,
                "allowed.i2t",
                Value(*(m * s for m, s in numbers)),
                case=case,
                known_by="computed",
                inputs=inputs,
                rests_on=rests,
                formula="melting I²t × share for the number of pulses",
                source="fuse catalogue (2017) p12, chart 2: 48, 38, 29 and 22 % for 100 to 100 000 pulses, 10 s apart",
            )


def _share(pulses: Value) -> Value | None:
    """Share of the melting I²t, falling with the number of pulses; None beyond what the chart says."""
    try:
        shares = [pulse_fraction(max(1.0, n)) for n in pulses.numbers()]
    except ValueError:
        return None
    return Value(*reversed(shares))


PROSPECTIVE = Model.of(
    "current the mains can drive into a short",
    SHORT,
    "Ohm's law; the mains inductance and the part's own resistance only lower it",
    "mains / resistance of the mains",
)


def _prospective(context: Context, name: str) -> None:
    subject: Subject = part(name)
    stated = context.fact(SUPPLY, "site.prospective_current")
    for case in context.plan.cases(["prospective_current"], [RUNNING]):
        if stated is not None:
            context.ledger.write(
                subject,
                "prospective_current",
                stated.value,
                case=case,
                known_by=stated.known_by,
                inputs=(stated.number,),
                formula="as stated of the site",
                source="the site block",
                rests_on=stated.rests_on,
                missing=stated.missing,
            )
        elif case.mains is not None:
            context.ledger.work_out(
                PROSPECTIVE,
                {"mains": case.mains, "resistance": mains_resistance(context)},
                [(subject, "prospective_current", "current")],
                case=case,
            )
        else:
            context.ledger.hole(subject, "prospective_current", context.plan.lacking(RUNNING), case=case)


# Body temperature of an inrush thermistor: what its own steady power makes of it, at full load and lowest mains.
#
# It works hot by design. Its power is that of its hot resistance at the current it carries (`line._powers`), and the
# maker's dissipation factor turns power into a rise above the air beside it. Without that factor the hot resistance
# itself tells: by the B equation it belongs to one body temperature, in the 25 degC air of the maker's table. Warmer
# air leaves less resistance and less power, so adding the whole of it is on the hot side.


BY_POWER = Model.of(
    "body of a thermistor by its power",
    body_by_power("power"),
    "definition of the dissipation factor, IEC 60539-1",
    "air + power / dissipation factor",
)
BY_RESISTANCE = Model.of(
    "body of a thermistor by its hot resistance",
    body_by_resistance("hot"),
    "B equation of a thermistor, IEC 60539-1",
    "1/(1/298.15 K − ln(R25/R)/B), and the air above 25 degC",
)


def solve_thermistors(context: Context, mains: MainsInput) -> None:
    """Write the body temperature of every series part that may be a thermistor; a reading that was carried stays."""
    for name in (*mains.series, *mains.behind):
        if not context.structure.may_be(name, "NTC thermistor"):
            continue
        for case in context.plan.cases(["case_temperature"], [RUNNING]):
            if context.fact(part(name), "case_temperature", case) is None:
                _body(context, part(name), case)


def _body(context: Context, subject: Subject, case: Case) -> None:
    ledger = context.ledger
    wanted: list[Wanted] = [(subject, "case_temperature", "body")]
    beside = air(context, subject, case)
    factor = context.fact(subject, "part.dissipation")
    powers = _at_each_power(context, subject, "power")
    if factor is not None and powers:
        inputs: dict[str, Entry | Value | float] = {"air": beside, "dissipation": factor, **powers}
        note = "steady power at full load and lowest mains"
        ledger.work_out(BY_POWER.by(body_by_power(*powers)), inputs, wanted, case=case, note=note)
        return
    hot = _at_each_power(context, subject, "series_resistance")
    cold = context.fact(subject, "part.resistance")
    if not hot or cold is None:
        ledger.hole(subject, "case_temperature", (OpenFact(subject, "part.dissipation"),), case=case)
        return
    b = context.fact(subject, "part.b_constant") or context.assume("thermistor_b_constant", subject, "part.b_constant")
    model = BY_RESISTANCE.by(body_by_resistance(*hot))
    inputs = {"air": beside, "at_25": _at_25(cold), "b_constant": b, **hot}
    ledger.work_out(model, inputs, wanted, case=case, note="hot resistance at full load and lowest mains")


def _at_each_power(context: Context, subject: Subject, quantity: QuantityName) -> dict[str, Entry]:
    """The rows of a quantity at each case of the running power: both ends of the mains frequency."""
    cases = context.plan.cases(["power"], [RUNNING])
    rows = [context.fact(subject, quantity, case) for case in cases]
    return {f"at_{k}": row for k, row in enumerate(rows) if row is not None}


def _at_25(cold: Entry) -> Entry | Value:
    """Resistance at 25 degC, from a rating of one point too."""
    one_point = isinstance(cold.value, Curve) and len(cold.value.points) == 1
    return cold.value.points[0][1] if one_point and isinstance(cold.value, Curve) else cold


# Positions of filter parts that stand empty on the board, or with a wire in place of the part.


def empty_positions(context: Context) -> None:
    """Write which filter positions are empty; none once every part is listed; a hole while something is not known."""
    ledger, structure = context.ledger, context.structure
    found, open_ones, inputs = [], [], []
    for name, fitted in structure.fitted.items():
        if fitted:
            continue
        fact, position = context.fact(part(name), "part.fitted"), context.fact(part(name), "part.position")
        words = position.value.members if position is not None and isinstance(position.value, Category) else ()
        inputs += [entry.number for entry in (fact, position) if entry is not None]
        if words == ("filter",):
            found.append(f"{name} {fact.note if fact is not None and fact.note else 'empty'}")
        elif not words or "filter" in words:
            open_ones.append(OpenFact(part(name), "part.position"))
    listed = context.word(SUPPLY, "supply.parts_list") == "complete"
    if not found and (open_ones or not listed):
        missing = open_ones or [OpenFact(SUPPLY, "supply.parts_list")]
        ledger.hole(SUPPLY, "empty_filter_positions", missing, inputs=tuple(inputs))
        return
    ledger.write(
        SUPPLY,
        "empty_filter_positions",
        Category.of(" + ".join(found) or "none"),
        known_by="computed",
        inputs=tuple(inputs),
        formula="positions not fitted, by what they were meant for",
        source="the parts as listed",
    )
