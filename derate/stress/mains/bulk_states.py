"""The bulk voltage that a converter meets: its ends while it runs; its valley with the capacitors cold or worn.

One valley by the rectifier with one capacitor: two with a choke between are taken as one (`LUMPED`), which spares
the long solver; never better than the row of the running case. Resistance of the capacitors lowers the voltage at
their terminals while the switch is on, and takes power of its own. Inductance ahead moves the valley by the share that
it moves it at the load so found, the least over its range.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt
from typing import Any

from derate.circuit import capacitor_ageing as cold_aged
from derate.circuit.elementary import product
from derate.design.structure import Element, Group, MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, wide_facts
from derate.stress.context import BULK, LINE, Context, Inputs, in_series_and_parallel, part
from derate.stress.mains import boost
from derate.stress.mains.line import (
    BRIDGE,
    BRIDGE_BEHIND,
    DOUBLER,
    DOUBLER_BEHIND,
    HALF_WAVE,
    HALF_WAVE_BEHIND,
    corner,
    inductance_ahead,
    total,
)
from derate.stress.parts.capacitors import GROUPS, State, bulk_resistances_in, capacitance_in
from derate.stress.parts.windings import PRIMARY, STANDING
from derate.terms.quantities import FULL_LOAD, RUNNING, CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Collapse, Value

# Switching frequency at which a capacitor's columns are read where nobody stated one [Hz]: ratings of capacitors hardly
# change above 10 kHz.
USUAL_FREQUENCY = 65e3
CREST = Model.of(
    "crest of the rectified mains", product("voltage", "mains", "crest"), "definition of a sine", "√2 × mains"
)


def bulk_low(context: Context, case: Case) -> Entry:
    """The valley of the bulk voltage at a case."""
    return context.need(BULK, "voltage_min", case._replace(load=FULL_LOAD, ambient=None))


def crest_of_mains(context: Context, subject: Subject, case: Case) -> Entry:
    """Crest of the highest mains as a row of what nothing smooths: √2 × mains."""
    if context.plan.mains is None:
        return context.ledger.hole(subject, "voltage_peak", context.plan.lacking(RUNNING), case=case)
    inputs: Inputs = {"mains": context.plan.mains[1], "crest": sqrt(2.0)}
    return context.ledger.work_out(CREST, inputs, [(subject, "voltage_peak", "voltage")], case=case)[0]


def bulk_high(context: Context, group: CaseGroup = RUNNING) -> Entry:
    """The greatest bulk voltage at the highest mains, at any load up to the full one."""
    case = context.plan.cases(["voltage_peak"], [group])[-1]._replace(load=FULL_LOAD)
    return context.need(BULK, "voltage_peak", context.plan.project("voltage_peak", case._replace(group=RUNNING)))


# C1 + C2 as one read the valley up to 0.5 % high against the two with their choke (ngspice, seven netlists).
LUMPED = (-0.005, 0.005)


# On-duty of the switch at the lowest mains, where nothing gives it (common practice, no source).
DUTY = Value.between(0.2, 0.6)


def _model(base: Model, behind: Model, name: str, lumped: bool) -> Model:
    def solve(
        *,
        load: float,
        slow: float,
        fast: float,
        duty: float,
        inductance_from: float,
        inductance_to: float,
        capacitance: float,
        **inputs: float,
    ) -> Any:
        inputs["capacitance"] = capacitance
        found = cold_aged.terminal(
            lambda whole: float(base.solve(load=whole, **inputs).bulk_min), load, slow, fast, duty
        )
        if found is None:
            raise Collapse("the series resistance of the bulk capacitor cannot pass this load")
        if max(inductance_from, inductance_to) == 0.0:
            return found
        del inputs["capacitance"]
        both = {"capacitance_from": capacitance, "capacitance_to": capacitance, "load": found.load}

        def at(one: float, other: float) -> float:
            return float(behind.solve(inductance_from=one, inductance_to=other, **both, **inputs)["bulk_min"])

        bare = at(0.0, 0.0)
        if inductance_from < inductance_to:  # the kind end: the ends alone
            lowest = max(at(inductance_from, inductance_from), at(inductance_to, inductance_to))
        else:
            lowest = at(inductance_from, inductance_to)
        return found._replace(bulk_min=found.bulk_min * lowest / bare)

    plain = base.signs["bulk_min"]
    assert isinstance(plain, dict)
    signs = plain | {"inductance_from": -1, "inductance_to": 1}
    bands = [base.errors["bulk_min"], cold_aged.ERROR["bulk_min"], *([LUMPED] if lumped else [])]
    band = (sum(low for low, _ in bands), sum(high for _, high in bands))
    return Model(
        f"{name}, with the resistance of the bulk capacitor",
        solve,
        {"bulk_min": (signs | cold_aged.SIGNS["terminal"],)},  # the corner over a range of inductance: no signs
        base.source,
        base.words,
        {"bulk_min": band},
        frozenset(("bulk_min",)),
    )


_ALONE = {
    "full bridge": (BRIDGE, BRIDGE_BEHIND),
    "half-wave": (HALF_WAVE, HALF_WAVE_BEHIND),
    "doubler": (DOUBLER, DOUBLER_BEHIND),
}


MODELS = {kind: _model(base, behind, base.name, False) for kind, (base, behind) in _ALONE.items()}
MODELS["choke"] = _model(BRIDGE, BRIDGE_BEHIND, "full bridge, two bulk capacitors taken as one", True)


def solve_bulk_states(context: Context, hertz: float = USUAL_FREQUENCY) -> None:
    """Valley of the bulk and whether it carries the load, cold and at the end of life, at the lowest mains.

    hertz: the switching frequency [Hz]
    """
    mains = context.structure.mains
    if mains is None or not mains.bulk:
        return
    for group in GROUPS:
        for case in context.plan.cases(["voltage_min"], [group]):
            _state_at(context, mains, case, hertz)


def _state_at(context: Context, mains: MainsInput, case: Case, hertz: float) -> None:
    ledger = context.ledger
    holes: list[tuple[Subject, QuantityName]] = [
        (BULK, "voltage_min"),
        (BULK, "load_carried"),
        (SUPPLY, "load_carried"),
    ]
    if case.mains is None or case.frequency is None:
        for subject, quantity in holes:
            ledger.hole(subject, quantity, context.plan.lacking(case.group), case=case)
        return
    why = boost.told(context)
    if why:
        for subject, quantity in holes:
            ledger.hole(subject, quantity, (boost.HELD,), case=case, note=why)
        return
    state = State.of(case)
    two = len(mains.bulk) == 2 and mains.input != "doubler"
    model = MODELS["choke" if two else mains.input if mains.input in MODELS else "full bridge"]
    slow, fast = _resistances(context, mains, state, hertz)
    ahead = context.fact(LINE, "line_inductance") or inductance_ahead(context, mains)
    inputs: Inputs = {
        "inductance_from": ahead,
        "inductance_to": ahead,
        "mains": Value.exact(case.mains),
        "frequency": Value.exact(case.frequency),
        "series_resistance": _series(context, mains, two, case),
        "capacitance": _capacitance(context, mains, state),
        "load": context.need(SUPPLY, "power_drawn", Case(RUNNING, load=FULL_LOAD)),
        "slow": slow,
        "fast": fast,
        "duty": _duty(context),
    }
    row = own = ledger.work_out(model, inputs, [(BULK, "voltage_min", "bulk_min")], case=case)[0]
    if row.value is None and not row.missing and row.rests_on:  # it gives way at the bad end of what is only assumed
        row = ledger.hole(
            BULK,
            "voltage_min",
            sorted(row.rests_on),
            case=case,
            note=row.note,
            inputs=row.inputs,
            rests_on=row.rests_on,
            formula=row.formula,
        )
    running = context.fact(BULK, "voltage_min", running_case(context, "voltage_min", case))
    not_better(context, [row, *([running] if running is not None else [])], BULK, "voltage_min", case, least=True)
    _carried(context, model, inputs, own, case)


def running_case(context: Context, quantity: QuantityName, case: Case) -> Case:
    return context.plan.project(quantity, case._replace(group=RUNNING, ambient=None))


def not_better(
    context: Context, rows: Iterable[Entry], subject: Subject, quantity: QuantityName, case: Case, least: bool
) -> Entry:
    """The worse of a state's row and the one warm and new, end by end; a hole among them makes a hole."""
    found = list(rows)
    numbers, rests = tuple(row.number for row in found), frozenset().union(*(row.rests_on for row in found))
    values = [row.value for row in found if isinstance(row.value, Value)]
    if len(values) < len(found):
        bad = next(row for row in found if not isinstance(row.value, Value))
        missing = [fact for row in found for fact in row.missing]
        return context.ledger.hole(subject, quantity, missing, case=case, note=bad.note, inputs=numbers, rests_on=rests)
    pick = min if least else max
    value = Value(*(pick(column) for column in zip(*(value.numbers() for value in values), strict=True)))
    return context.ledger.write(
        subject,
        quantity,
        value,
        case=case,
        known_by="computed",
        inputs=numbers,
        rests_on=rests,
        formula=found[0].formula,
        source=found[0].source,
        note=found[0].note,
    )


def _series(context: Context, mains: MainsInput, two: bool, case: Case) -> Entry:
    """Resistance ahead of the bulk, as running; of a choke between two capacitors its own with it."""
    line = context.need(LINE, "series_resistance", Case(RUNNING))
    if not two or not mains.choke:
        return line
    choke = part(mains.choke[0])
    own = context.fact(choke, "part.resistance") or context.assume("small_series_resistance", choke, "part.resistance")
    return total(context, [("line", line), ("choke", own)], Case(case.group))


def _capacitance(context: Context, mains: MainsInput, state: State) -> Entry:
    """Capacitance that is charged: all in parallel, or of each of the two of a doubler."""
    names = [leaf.name for element in mains.bulk for leaf in leaves(element)]
    rows = {name: capacitance_in(context, name, context.need(part(name), "part.capacitance"), state) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    if mains.input == "doubler":
        paired = len(mains.bulk) == 2 or (isinstance(mains.bulk[0], Group) and mains.bulk[0].joined == "series")
        whole = [values.get(name) for name in names] if paired and len(names) == 2 else [None]
    else:
        whole = [in_series_and_parallel(element, values, capacitors=True) for element in mains.bulk]
    known = [value for value in whole if value is not None]
    if len(known) < len(whole):
        return _lacking(context, "bulk_capacitance", rows, state)
    columns = list(zip(*(value.numbers() for value in known), strict=True))
    if mains.input == "doubler":  # the lesser and the greater of the two
        value = Value(min(columns[0]), min(columns[1]), max(columns[2]), max(columns[3]))
    else:
        value = Value(*(sum(column) for column in columns))
    return _row(context, "bulk_capacitance", value, rows, state)


def _resistances(context: Context, mains: MainsInput, state: State, hertz: float) -> tuple[Entry, Entry]:
    """Series resistance, at twice the mains and at the switching frequency, of the capacitor that gives the pulses.

    Of two with a choke between that is the last one; both of a doubler stand in series.
    """
    elements = mains.bulk if mains.input == "doubler" else mains.bulk[-1:]
    names = [leaf.name for element in elements for leaf in leaves(element)]
    pairs = {name: bulk_resistances_in(context, name, state, hertz) for name in names}
    slow, fast = (_all_of(context, elements, {name: pair[k] for name, pair in pairs.items()}, state) for k in (0, 1))
    return slow, fast


def _all_of(context: Context, elements: tuple[Element, ...], rows: dict[str, Entry], state: State) -> Entry:
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    whole = [_joined(element, values) for element in elements]
    known = [value for value in whole if value is not None]
    if len(known) < len(whole):
        return _lacking(context, "series_resistance", rows, state)
    value = Value(*(sum(column) for column in zip(*(value.numbers() for value in known), strict=True)))
    return _row(context, "series_resistance", value, rows, state)


def _joined(element: Element, values: dict[str, Value]) -> Value | None:
    if any(value.low <= 0.0 for value in values.values()):  # a part without resistance shorts those beside it
        found = [values.get(leaf.name) for leaf in leaves(element)]
        known = [value for value in found if value is not None]
        if len(known) < len(found):
            return None
        return known[0] if len(known) == 1 else Value.between(0.0, sum(value.high for value in known))
    return in_series_and_parallel(element, values, capacitors=False)


def _lacking(context: Context, quantity: QuantityName, rows: dict[str, Entry], state: State) -> Entry:
    missing = [fact for row in rows.values() for fact in row.missing]
    note = next((row.note for row in rows.values() if row.value is None and row.note), "")
    return context.ledger.hole(BULK, quantity, missing, case=state.case, note=note)


def _row(context: Context, quantity: QuantityName, value: Value, rows: dict[str, Entry], state: State) -> Entry:
    return context.ledger.write(
        BULK,
        quantity,
        value,
        case=state.case,
        known_by="computed",
        formula="parts joined as walked",
        source="Kirchhoff",
        inputs=tuple(row.number for row in rows.values()),
        rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
    )


def _duty(context: Context) -> Entry | Value:
    """On-duty at the lowest mains, warm and new: colder or older the valley is lower and the duty longer."""
    lacking: tuple[OpenFact, ...] = ()
    for case in context.plan.cases(["duty"], [RUNNING]):
        row = context.fact(PRIMARY, "duty", case)
        if row is not None and isinstance(row.value, Value):
            low, near, far, high = (min(1.0, max(0.05, one)) for one in row.value.numbers())
            return context.ledger.write(
                PRIMARY,
                "duty",
                Value(low, near, far, high),
                case=STANDING,
                known_by="computed",
                inputs=(row.number,),
                rests_on=row.rests_on,
                formula="on-duty at the lowest mains",
                source=row.source,
            )
        if row is not None:  # the way back to what is wide is gone only where there is no duty
            lacking += row.missing or wide_facts(context.ledger, [context.ledger[one] for one in row.inputs])
    return context.ledger.write(
        PRIMARY,
        "duty",
        DUTY,
        case=STANDING,
        known_by="assumed",
        formula="on-duty at the lowest mains",
        source="common practice, no source",
        rests_on=frozenset(lacking or (OpenFact(SUPPLY, "duty", "of the switch at the lowest mains"),)),
    )


def _carried(context: Context, model: Model, inputs: Inputs, row: Entry, case: Case) -> None:
    """Whether the bulk carries the load: yes, no, or still either way; never better than warm and new."""
    point = corner(model.corners("bulk_min", up=False)[0], inputs, kind=True)
    if row.value is None and (row.missing or point is None):
        for subject in (BULK, SUPPLY):
            context.ledger.hole(subject, "load_carried", row.missing, case=case, note=row.note, inputs=(row.number,))
        return
    words = {"yes"}
    if row.value is None and point is not None:
        words = {"no"}
        try:
            model.solve(**point)
            words = {"yes", "no"}
        except Collapse:
            pass
        except (ValueError, ZeroDivisionError, OverflowError):
            words = {"yes", "no"}
    running = context.fact(SUPPLY, "load_carried", running_case(context, "load_carried", case))
    if running is None or not isinstance(running.value, Category):
        missing = running.missing if running is not None else ()
        told = "whether it carries it warm and new is not known"
        for subject in (BULK, SUPPLY):
            context.ledger.hole(subject, "load_carried", missing, case=case, note=told, inputs=(row.number,))
        return
    warm = set(running.value.members)
    words = {"no"} if warm == {"no"} else words | warm if words == {"yes"} else words
    for subject in (BULK, SUPPLY):
        context.ledger.write(
            subject,
            "load_carried",
            Category.of(*words),
            case=case,
            known_by="computed",
            inputs=(row.number,),
            rests_on=row.rests_on,
            formula=model.name,
            source=model.source,
        )
