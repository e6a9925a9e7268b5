"""Temperatures of parts, carried by the ambient, and the life of capacitors over the hours of a site."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from derate.circuit import magnetics, thermal
from derate.circuit.capacitor_ageing import (
    CORE_TEMPERATURE,
    CREDIBLE,
    electrolytic_life,
    equivalent_temperature,
    profile_life,
)
from derate.circuit.elementary import ratio, total
from derate.circuit.thermal import ERROR
from derate.design.readings import SETTLED, Reading
from derate.design.structure import leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, part
from derate.stress.parts.windings import STANDING, assumed
from derate.stress.supply import air
from derate.terms.quantities import FULL_LOAD, READING, RUNNING, named
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Curve, Value, written
from derate.terms.vocabulary import said

# Temperatures of parts: cases as read and carried by the ambient, junctions from loss and thermal resistance.
#
# A reading belongs to its mains: where none was taken at the other end of the mains, the carried figure says that it
# rests on one. Losses rise with temperature, so the rise carried upwards has a band.


_TEMPERATURES = ("case_temperature", "winding_temperature", "junction_temperature", "air_temperature")


CARRIED = Model.of(
    "temperature carried by the ambient",
    thermal.CARRIED,
    "own derivation: the rise stays; copper and on-resistance add to it as it gets hotter",
    "reading + ambient − ambient of the reading",
)


BY_RESISTANCE = Model.of(
    "winding by change of resistance",
    magnetics.BY_RESISTANCE,
    "own derivation",
    "hot / cold × (234.5 + cold at) − 234.5",
)


JUNCTION = Model.of(
    "junction temperature", thermal.JUNCTION_TEMPERATURE, "own derivation", "reference + power × thermal resistance"
)


def carried(context: Context, readings: Sequence[Reading]) -> None:
    """Every temperature read at full load, carried to the hottest ambient, as a row of its part or transformer."""
    by: dict[tuple[str, QuantityName], list[Reading]] = {}
    for reading in readings:
        condition = reading.condition
        known = reading.target in context.structure.kinds or _is_transformer(context, reading.target)
        if reading.quantity in _TEMPERATURES and condition is not None and condition.load == FULL_LOAD and known:
            by.setdefault((reading.target, named(reading.quantity)), []).append(reading)
    for (target, quantity), found in by.items():
        subject = Subject("transformer", (target,)) if _is_transformer(context, target) else part(target)
        of_winding = subject.kind == "transformer" and quantity == "case_temperature"
        word: QuantityName = "winding_temperature" if of_winding else quantity
        for case in context.plan.cases([word], [RUNNING]):
            _carry(context, subject, word, found, case)


def _is_transformer(context: Context, name: str) -> bool:
    return any(winding.split(".")[0] == name for winding in context.structure.windings)


def _carry(context: Context, subject: Subject, quantity: QuantityName, found: list[Reading], case: Case) -> None:
    ledger = context.ledger
    if case.ambient is None:
        ledger.hole(subject, quantity, (OpenFact(SUPPLY, "site.ambient"),), case=case)
        return
    rows: list[Entry] = []
    mains: list[float] = []  # at which somebody read it
    unread = [one for one in found if one.unread]  # samples of which nobody wrote it down: they may be any hotter
    for reading in (one for one in found if not one.unread):
        condition = reading.condition
        assert condition is not None
        at = condition.ambient.value if condition.ambient is not None else None
        value = reading.stated.value
        if not isinstance(value, Value):
            continue
        if not isinstance(at, Value):
            note = "the reading says no ambient it was taken at"
            ambient = (OpenFact(subject, f"ambient of its {said(quantity)}"),)
            ledger.hole(subject, quantity, ambient, case=case, note=note)
            return
        read_at = None
        if condition.mains is not None and isinstance(condition.mains.value, Value):
            read_at = condition.mains.value.middle
            mains += [] if reading.unseen else [read_at]
        value = reading.at_least(_with_ohms(context, subject, reading, value))
        read = ledger.write(
            subject,
            quantity,
            value,
            case=Case(READING, read_at, load=FULL_LOAD, ambient=at.middle),
            known_by=reading.known,
            place=reading.stated.place,
            missing=(OpenFact(subject, quantity, SETTLED),) if reading.is_on_the_way else (),
        )
        more = max(0.0, case.ambient - at.middle) * (1.0 + ERROR["carried_rise"][1]) - max(
            0.0, case.ambient - at.middle
        )
        rows.append(
            ledger.work_out(
                CARRIED,
                {"read": read, "at": at, "wanted": Value.between(case.ambient, case.ambient + more)},
                [(subject, quantity, "temperature")],
                case=case,
            )[0]
        )
    known_rows = [row for row in rows if isinstance(row.value, Value)]
    lacking = (OpenFact(subject, quantity, "of every sample"),) if unread else ()
    if not known_rows:
        if unread:
            ledger.hole(subject, quantity, lacking, case=case)
        return
    ends = context.plan.plate
    low = ends is not None and min(mains, default=1e9) <= ends[0] * 1.05
    high = ends is not None and max(mains, default=0.0) >= ends[1] * 0.95
    rests = frozenset().union(*(row.rests_on for row in known_rows))
    note = ""
    if not (low and high):
        note = "read at one mains only"
        rests |= frozenset((OpenFact(subject, quantity, "at full load at both ends of the mains"),))
    value = Value(*(max(column) for column in zip(*(_numbers(row) for row in known_rows), strict=True)))
    if all(one.unseen for one in found if not one.unread):  # one that was simulated may be any hotter
        lacking = (*lacking, OpenFact(subject, quantity, "with an instrument"))
    if lacking:
        value = Value(value.low, value.near, inf, inf)
    ledger.write(
        subject,
        quantity,
        value,
        case=case,
        known_by="computed",
        inputs=tuple(row.number for row in known_rows),
        note=note,
        missing=tuple(
            dict.fromkeys((*(fact for row in known_rows for fact in ledger[row.inputs[0]].missing), *lacking))
        ),
        rests_on=rests,
        formula=CARRIED.name,
        source=CARRIED.source,
        mark="carried",
    )


def _with_ohms(context: Context, subject: Subject, reading: Reading, value: Value) -> Value:
    """The larger of a figure and what its ohms make of it, at every end."""
    if reading.ohms is None:
        return value
    given = zip(("cold", "hot", "at"), reading.ohms, strict=True)
    inputs = {name: one.value for name, one in given if isinstance(one.value, Value)}
    wanted: list[Wanted] = [(subject, "winding_temperature", "temperature")]
    if len(inputs) < 3:
        return Value(value.low, value.near, inf, inf)
    own = context.ledger.work_out(BY_RESISTANCE, inputs, wanted, case=Case(READING))[0]
    if not isinstance(own.value, Value):
        return Value(value.low, value.near, inf, inf)
    return Value(*(max(pair) for pair in zip(value.numbers(), own.value.numbers(), strict=True)))


def _numbers(row: Entry) -> tuple[float, float, float, float]:
    assert isinstance(row.value, Value)
    return row.value.numbers()


def junction(context: Context, name: str, power: Entry) -> None:
    """Junction of one part: a carried reading, else loss over the thermal resistance to what is known outside it."""
    subject, ledger = part(name), context.ledger
    for case in context.plan.cases(["junction_temperature"], [RUNNING]):
        if context.fact(subject, "junction_temperature", case) is not None:
            continue
        outside = context.fact(subject, "case_temperature", case)
        inner = context.fact(subject, "rated.junction_to_case") or context.fact(subject, "rated.junction_to_lead")
        whole = context.fact(subject, "rated.junction_to_air")
        if outside is not None and inner is not None:
            reference, resistance = outside, inner
        elif whole is not None:
            reference, resistance = air(context, subject, case), whole
        elif inner is not None and context.fact(subject, "part.heatsink") is not None:
            sink = context.need(subject, "part.heatsink")
            both = Model.of("thermal resistance, junction to air", total("sum", "a", "b"), "own derivation")
            resistance = ledger.work_out(
                both, {"a": inner, "b": sink}, [(subject, "thermal_resistance", "sum")], case=STANDING
            )[0]
            reference = air(context, subject, case)
        else:
            missing = (
                OpenFact(subject, "case_temperature", "at full load")
                if inner is not None
                else OpenFact(subject, "rated.junction_to_air"),
            )
            ledger.hole(subject, "junction_temperature", missing, case=case)
            continue
        _inside(context, subject, reference, {"power": power, "resistance": resistance}, case)


def _inside(context: Context, subject: Subject, reference: Entry, given: dict[str, Entry], case: Case) -> None:
    """The junction over what is known outside it; over what is only known to be at least so hot, at least so hot."""
    ledger = context.ledger
    wanted: list[Wanted] = [(subject, "junction_temperature", "temperature")]
    known = reference.value
    if not isinstance(known, Value) or known.far < inf:
        ledger.work_out(JUNCTION, {"reference": reference, **given}, wanted, case=case)
        return
    row = ledger.work_out(JUNCTION, {"reference": Value.between(known.low, known.near), **given}, wanted, case=case)[0]
    least = ledger.work_out(JUNCTION, {"reference": Value.exact(known.near), **given}, wanted, case=case)[0]
    if isinstance(row.value, Value) and isinstance(least.value, Value):
        ledger.write(
            subject,
            "junction_temperature",
            Value(row.value.low, least.value.near, inf, inf),
            case=case,
            known_by="computed",
            formula=row.formula,
            source=row.source,
            inputs=(least.number, reference.number),
            missing=reference.missing,
            rests_on=row.rests_on | reference.rests_on,
        )


# Life over the hours of the site: each step of ambient its own case, their rates averaged.
#
# `site.hours` says how many hours of an average day it stands at each ambient, or between it and the one before. What
# it leaves of the day counts at the hottest, so that an hour nobody accounts for never lengthens a life.


DAY = 24 * 3600.0
# Below it the ten-degree rule promises more than makers do: several carry it no further than to 40 degC (remembered).
COOLEST = 40.0
_BY_RATE = "Technical Q&A a0057 (undated): lives at changing conditions average by their rates"


class Steady(NamedTuple):
    """One capacitor's life at a steady temperature: its model and every input but the temperature."""

    subject: Subject
    model: Model
    inputs: dict[str, Entry | Value | float]

    def at(self, context: Context, temperature: Entry, case: Case) -> Entry:
        """The life at a case, as a row."""
        wanted: list[Wanted] = [(self.subject, "life", "life")]
        return context.ledger.work_out(self.model, {**self.inputs, "temperature": temperature}, wanted, case=case)[0]


def averaged(context: Context, one: Steady, outside: Entry, hottest: Entry, case: Case) -> None:
    """Write the life at every step of the site's hours, the one averaged over them, and the ambient that gives it.

    outside: air or case at the hottest ambient of the plan; hottest: the life there; case: of the averaged row
    """
    ledger, subject = context.ledger, one.subject
    hours = context.fact(SUPPLY, "site.hours")
    assert hours is not None and isinstance(hours.value, Curve) and context.plan.ambient is not None
    top = context.plan.ambient[1]
    steps: list[tuple[Value, Entry]] = []
    for ambient, time in hours.value.points:
        if ambient >= top:  # hours beyond the hottest ambient are at it: a file that says so is refused
            steps.append((time, hottest))
            continue
        at = Case(RUNNING, ambient=ambient)
        steps.append((time, one.at(context, _cooler(context, subject, outside, top - ambient, hours, at), at)))
    rows = [row for _, row in steps] + [hottest]
    inputs = (hours.number, *(row.number for row in rows))
    rests = hours.rests_on.union(*(row.rests_on for row in rows))
    bad = next((row for row in rows if not isinstance(row.value, Value)), None)
    if bad is not None:
        ledger.hole(subject, "life", bad.missing, case=case, note=bad.note, inputs=inputs, rests_on=rests)
        return
    value = Value(*sorted(_life(steps, hottest, end) for end in range(4)))  # sorted: rounding alone turns ends round
    steady = _ambient(hottest, value, top)
    told = ", ".join(
        f"{written(time.middle / 3600)} h at {written(ambient)} degC" for ambient, time in hours.value.points
    )
    ledger.write(
        subject,
        "life",
        value,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        source=_BY_RATE,
        formula="24 h / Σ (hours / life)",
        note=f"averaged by rate over {told} of a day",
    )
    ledger.write(
        subject,
        "equivalent_temperature",
        steady,
        case=case,
        known_by="computed",
        inputs=(hottest.number,),
        rests_on=rests,
        source=_BY_RATE,
        formula="hottest ambient − 10 K × log2(averaged life / life there)",
    )


def _cooler(context: Context, subject: Subject, outside: Entry, by: float, hours: Entry, case: Case) -> Entry:
    """Air or case at a cooler ambient: the rise stays; that of a case may shrink with what heat adds to the losses."""
    if not isinstance(outside.value, Value):
        return outside
    low, near, far, high = outside.value.numbers()
    more = by * ERROR["carried_rise"][1] if outside.quantity == "case_temperature" else 0.0
    value = Value(*(max(COOLEST, one) for one in (low - by - more, near - by - more, far - by, high - by)))
    return context.ledger.write(
        subject,
        outside.quantity,
        value,
        case=case,
        known_by="computed",
        inputs=(outside.number, hours.number),
        rests_on=outside.rests_on,
        formula=f"carried to {written(by)} K less ambient, not below {written(COOLEST)} degC",
        source=outside.source,
    )


def _life(steps: list[tuple[Value, Entry]], hottest: Entry, end: int) -> float:
    """One end of the averaged life [s]: the short ends with the least hours that are sure, from the hottest on."""
    kind = end >= 2
    left, parts = DAY, []
    for time, row in steps if kind else reversed(steps):
        hours = min(left, time.numbers()[end])
        left -= hours
        parts.append((hours, _end(row, end)))
    parts.append((left, _end(hottest, end)))
    used = [(hours, life) for hours, life in parts if hours > 0.0]
    return profile_life(used)


def _end(row: Entry, end: int) -> float:
    assert isinstance(row.value, Value)
    return row.value.numbers()[end]


def _ambient(hottest: Entry, life: Value, top: float) -> Value:
    """Steady ambient that gives the averaged life [degC]: what ripple and voltage add to a life is the same in both."""
    assert isinstance(hottest.value, Value)
    found = []
    for there, whole in zip(hottest.value.numbers(), life.numbers(), strict=True):
        found.append(equivalent_temperature(there, top, whole) if 0.0 < there < inf else top)
    return Value(*sorted(found))


# Life at one ambient: from temperature and ripple current, within the range of the makers' formulas.
#
# The rated life is a maker's figure for a population, the formula a rule: single parts lie within half to twice the
# figure (common practice, no source), which stands in the row as its tolerance.


HOUR = 3600.0


SPREAD = Value(0.5, 1.0, 1.0, 2.0)


MOST_EXPONENT = 12.0  # largest that any maker prints [-]; a larger one counts as that, which is the shorter life


def _lasts(
    rated_life: float,
    temperature: float,
    ripple: float,
    rated_ripple: float,
    spread: float,
    core_rise: float,
    voltage_ratio: float | None = None,
    exponent: float | None = None,
    *,
    rated_temperature: float,
) -> dict[str, float]:
    found = electrolytic_life(
        rated_life / HOUR,
        rated_temperature,
        temperature,
        ripple=ripple,
        rated_ripple=rated_ripple,
        rated_rise=core_rise,
        voltage_ratio=voltage_ratio if voltage_ratio is None else min(1.0, voltage_ratio),
        voltage_exponent=exponent if exponent is None else min(MOST_EXPONENT, exponent),
    )
    return {"life": min(found.estimate * spread, CREDIBLE) * HOUR}


def life_model(rated_temperature: float, voltage: bool = False) -> Model:
    """Life of a capacitor rated at a temperature [degC]; with a voltage term where its maker gives the exponent.

    A voltage above the rated one counts as the rated one: that is judged by itself.
    """

    def solve(**inputs: float) -> dict[str, float]:
        return _lasts(**inputs, rated_temperature=rated_temperature)

    signs = {"rated_life": 1, "temperature": -1, "ripple": -1, "rated_ripple": 1, "spread": 1, "core_rise": 0}
    return Model(
        "life of an electrolytic capacitor",
        solve,
        {"life": signs | ({"voltage_ratio": -1, "exponent": 1} if voltage else {})},
        "ten-degree rule, Technical Note 4 (undated); core rise, life formula sheet (undated copy)",
        "rated life × 2^((rated − air) / 10) × ripple term, at most 15 years"
        if not voltage
        else "rated life × 2^((rated − air) / 10) × ripple term × (voltage / rated voltage)^−exponent, "
        "at most 15 years",
        falling=frozenset(("life",)),
    )


CORE = Model.of(
    "temperature of the core",
    CORE_TEMPERATURE,
    "life formula sheet of aluminium electrolytic capacitors (undated copy), heat of the ripple current; up to 20 K",
    "air or case + core rise × (ripple / rated ripple)²",
)


RATIO = Model.of(
    "voltage over rated voltage", ratio("ratio", "voltage", "rated"), "definition", "voltage / rated voltage"
)


def bulk_names(context: Context) -> tuple[str, ...]:
    """Names of the bulk capacitors."""
    mains = context.structure.mains
    return tuple(leaf.name for e in mains.bulk for leaf in leaves(e)) if mains is not None else ()


def allowed_case(context: Context, name: str) -> None:
    """Temperature of a capacitor's mark, else the one its life is rated at."""
    subject, ledger = part(name), context.ledger
    marked, life = context.fact(subject, "rated.temperature"), context.fact(subject, "rated.life")
    if marked is not None and isinstance(marked.value, Value):
        ledger.write(
            subject,
            "allowed.case_temperature",
            marked.value,
            known_by=marked.known_by,
            inputs=(marked.number,),
            rests_on=marked.rests_on,
            formula="as marked",
            source="mark",
            place=marked.place,
        )
    elif life is not None and isinstance(life.value, Curve):
        ledger.write(
            subject,
            "allowed.case_temperature",
            Value.exact(life.value.greatest),
            known_by=life.known_by,
            inputs=(life.number,),
            rests_on=life.rests_on,
            formula="temperature of the rated life",
            source="data sheet",
            place=life.place,
        )
    else:
        ledger.hole(subject, "allowed.case_temperature", (OpenFact(subject, "rated.temperature"),))


def solve_lives(context: Context, names: Iterable[str], quantity: QuantityName) -> None:
    for name in names:
        if not context.structure.may_be(name, "electrolytic capacitor"):
            continue
        subject = part(name)
        for case in context.plan.cases(["life"], [RUNNING]):
            _life_at(context, subject, quantity, case)


def _life_at(context: Context, subject: Subject, quantity: QuantityName, case: Case) -> None:
    """Life of one capacitor at a case of the plan: at the hottest ambient, or averaged over the hours of the site."""
    ledger = context.ledger
    rated = context.fact(subject, "rated.life")
    if rated is None or not isinstance(rated.value, Curve):
        missing = OpenFact(subject, "rated.life", "with its temperature" if rated is not None else "")
        ledger.hole(subject, "life", (missing,), case=case)
        return
    at, value = rated.value.points[-1]
    hottest = context.plan.cases(["core_temperature"], [RUNNING])[0]
    ripple_case = context.plan.cases([quantity], [RUNNING])[0]
    read = context.fact(subject, "case_temperature", hottest)
    outside: Entry = read if read is not None else air(context, subject, hottest)
    life = ledger.write(
        subject,
        "rated_life",
        value,
        case=Case("life"),
        known_by=rated.known_by,
        inputs=(rated.number,),
        rests_on=rated.rests_on,
        formula=f"rated life at {written(at, 4)} degC",
        source="data sheet",
    )
    inputs: dict[str, Entry | Value | float] = {
        "ripple": context.need(subject, quantity, ripple_case),
        "rated_ripple": context.need(subject, "allowed.ripple_current"),
        "core_rise": _core_rise(context, subject, at),
    }
    # the core is no cooler than the case, and no hotter than by the whole rise over the air
    share = Value.exact(1.0) if read is None else Value.between(0.0, 1.0)
    ledger.work_out(
        CORE, {"outside": outside, "share": share, **inputs}, [(subject, "core_temperature", "core")], case=hottest
    )
    voltage = voltage_term(context, subject)
    one = Steady(subject, life_model(at, bool(voltage)), {"rated_life": life, "spread": SPREAD, **inputs, **voltage})
    steady = one.at(context, outside, hottest)
    if context.plan.averaged:
        averaged(context, one, outside, steady, case)


def _core_rise(context: Context, subject: Subject, rated_at: float) -> Entry:
    """Core rise at the rated ripple current: the maker's, else the range a pack assumes for its rated temperature."""
    stated = context.fact(subject, "rated.core_rise")
    name = "core_rise" if rated_at >= 105.0 else "core_rise_at_85"
    return stated or assumed(context, name, subject, "core_rise", "rated.core_rise")


def voltage_term(context: Context, subject: Subject) -> dict[str, Entry | Value | float]:
    """Inputs of the voltage term: only where the maker gives its exponent, and the voltages are known."""
    exponent, rated = context.fact(subject, "rated.voltage_exponent"), context.fact(subject, "rated.voltage")
    if exponent is None or not isinstance(exponent.value, Value) or rated is None:
        return {}
    if context.structure.places.get(subject.names[0]) == "bulk capacitor":
        voltage = context.fact(subject, "voltage_peak", context.plan.cases(["voltage_peak"], [RUNNING])[0])
    else:
        voltage = context.fact(subject, "voltage", context.plan.cases(["voltage"], [RUNNING])[0])
    if voltage is None:
        return {}
    ratio = context.ledger.work_out(
        RATIO, {"voltage": voltage, "rated": rated}, [(subject, "voltage_ratio", "ratio")], case=STANDING
    )[0]
    return {"voltage_ratio": ratio, "exponent": exponent} if isinstance(ratio.value, Value) else {}
