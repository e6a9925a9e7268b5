"""Single faults beyond the mains path: the list from what is joined to what, and their rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations

from derate.circuit.converter_faults import (
    ERROR,
    FAULTS,
    FLUX_OF_ON_TIME,
    RECTIFIER_SHORTED,
    SENSE_SHORTED,
    WINDING_SHORTED,
    output_shorted,
)
from derate.design.structure import Element, Leaf, leaves
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, only, part
from derate.stress.faults.converter import (
    Faults,
    Handler,
    SingleFault,
    as_listed,
    crest_of,
    for_the_bench,
    nothing_flows,
    resistors_left,
    said,
)
from derate.terms.tuples import NamedTuple
from derate.terms.values import Collapse, Value
from derate.topologies.flyback.operating import Inputs, controller_of, current_limit
from derate.topologies.flyback.shape import FlybackShape, OutputShape, shape_of
from derate.topologies.flyback.single_faults import (
    RATCHETS,
    at_case,
    capacitor_open,
    diode_shorted,
    frequency_of,
    open_clamp,
    primary_held,
    rectifier_open,
    regulation_lost,
    resistor_open,
)
from derate.topologies.flyback.switch import ClampShape, clamp_of

# Every single fault beyond the mains path that the parts and their places give rise to, as a bench would name it.
#
# The list is made from what is joined to what, never from what happens to be known: a fault that cannot be computed
# stays on it, with the reason (`FAULTS` of `derate.circuit.converter_faults`).


def converter_faults(context: Context, shape: FlybackShape) -> Iterator[SingleFault]:
    """Every fault that the parts of this converter give rise to, the outputs first and the windings last."""
    for one in shape.outputs:
        yield from _output(one)
    yield from _clamp(context, clamp_of(context))
    yield from _primary(context, shape)
    yield from _auxiliary(context)
    yield from _control(context, shape)
    yield from _windings(context, shape)


def _part(name: str, how: str, kind: str, output: OutputShape | None = None, rest: tuple[str, ...] = ()) -> SingleFault:
    return SingleFault(f"{name} {how}", part(name), kind, output, rest)


def _output(one: OutputShape) -> Iterator[SingleFault]:
    yield SingleFault(f"output {one.name} shorted", one.subject, "output shorted", one)
    for elements in (one.walked.capacitors, one.walked.filtered):
        names = tuple(leaf.name for element in elements for leaf in leaves(element))
        series = any(_in_series(element) for element in elements)
        for name in names:
            rest = () if series else tuple(other for other in names if other != name)
            yield _part(name, "shorted", "output capacitor shorted", one)
            yield _part(name, "open", "output capacitor open", one, rest)
    others = one.walked.rectifier
    for name in others:
        yield _part(name, "shorted", "output rectifier shorted", one)
        rest = tuple(other for other in others if other != name)
        yield _part(name, "open", "one of several rectifiers open" if rest else "output rectifier open", one, rest)


def _in_series(element: Element) -> bool:
    return getattr(element, "joined", "") == "series"


def _clamp(context: Context, clamp: ClampShape) -> Iterator[SingleFault]:
    for name in clamp.diodes:
        yield _part(name, "open", "clamp open")
        yield _part(name, "shorted", "clamp diode shorted" if clamp.capacitors else "clamp without its diode")
    for name in clamp.breakdown:
        yield _part(name, "open", "clamp open")
        yield _part(name, "shorted", "clamp capacitor shorted")
    for name in clamp.capacitors:
        yield _part(name, "open", "clamp capacitor beside a Zener open" if clamp.breakdown else "clamp open")
        yield _part(name, "shorted", "clamp capacitor shorted")
    for name in clamp.bleed:
        rest = tuple(one for one in clamp.bleed if one != name)
        left = only(clamp.whole, rest) if clamp.whole is not None and rest else None
        series = left is not None and _in_series_with(clamp.element, name)
        computed = left is not None and not series and clamp.kind == "resistor-capacitor-diode"
        yield _part(
            name,
            "open",
            "one of several clamp resistors open" if computed else "clamp resistor open",
            None,
            rest if computed else (),
        )
        yield _part(name, "shorted", "one of several clamp resistors shorted" if series else "clamp capacitor shorted")
    for name in clamp.series:
        yield _part(name, "open", "clamp open")
        yield _part(name, "shorted", "clamp without its series resistor")


def _in_series_with(element: Element | None, name: str) -> bool:
    """Whether a part stands in series with another one anywhere inside an element."""
    if element is None or isinstance(element, Leaf):
        return False
    inside = [member for member in element.members if name in {leaf.name for leaf in leaves(member)}]
    if element.joined == "series" and inside:
        return True
    return any(_in_series_with(member, name) for member in inside)


def _primary(context: Context, shape: FlybackShape) -> Iterator[SingleFault]:
    sense = shape.primary.sense if shape.primary is not None else None
    if sense is not None:
        yield _part(sense, "shorted", "sense resistor shorted")
        yield _part(sense, "open", "sense resistor open")
    switch = shape.switch
    if switch is None:
        return
    yield _part(switch, "open", "switch open")
    one, other, third = (
        ("base", "emitter", "collector")
        if context.structure.must_be(switch, "bipolar transistor")
        else ("gate", "source", "drain")
    )
    if not context.structure.may_be(switch, "integrated switch"):
        yield _part(switch, f"{one} shorted to {other}", "gate shorted to source")
        yield _part(switch, f"{one} shorted to {third}", "gate shorted to drain")
        yield _part(switch, f"{one} open", f"{one} open")


def _auxiliary(context: Context) -> Iterator[SingleFault]:
    structure = context.structure
    for name, place in structure.places.items():
        kinds = structure.kinds.get(name, ()) or ("capacitor", "diode") if place == "auxiliary" else ()
        if any("capacitor" in kind for kind in kinds):
            yield _part(name, "open", "auxiliary capacitor open")
            yield _part(name, "shorted", "auxiliary capacitor shorted")
        if any("diode" in kind and kind not in ("zener diode", "suppressor diode") for kind in kinds):
            yield _part(name, "open", "auxiliary rectifier open")
            yield _part(name, "shorted", "auxiliary rectifier shorted")
    if structure.own.start_up:
        names = tuple(name for step in structure.own.start_up if step.how == "series" for name in step.names)
        resistors = tuple(name for name in names if structure.places.get(name) == "start-up")
        for name in resistors:
            rest = tuple(one for one in resistors if one != name)
            yield _part(name, "open", "start-up part open")
            yield _part(
                name,
                "shorted",
                "one of several start-up parts shorted" if rest else "start-up part shorted",
                None,
                rest,
            )


def _control(context: Context, shape: FlybackShape) -> Iterator[SingleFault]:
    control, reference = context.structure.control, shape.reference
    for name in control.through:
        if context.structure.may_be(name, "optocoupler"):
            yield _part(name, "LED open", "optocoupler dark", reference)
            yield _part(name, "LED shorted", "optocoupler dark", reference)
            yield _part(name, "transistor open", "optocoupler dark", reference)
            yield _part(name, "transistor shorted", "optocoupler transistor shorted", reference)
        else:
            yield _part(name, "open", "feedback open", reference)
    if control.coupler_resistor:
        yield _part(control.coupler_resistor, "open", "optocoupler dark", reference)
        yield _part(control.coupler_resistor, "shorted", "coupler resistor shorted", reference)
    if control.reference:
        yield _part(control.reference, "open", "reference open", reference)
        yield _part(control.reference, "shorted", "reference shorted", reference)
    for names, open_kind, short_kind in (
        (control.upper, "feedback divider upper open", "feedback divider lower open"),
        (control.lower, "feedback divider lower open", "feedback divider upper open"),
    ):
        for name in names:
            several = names is control.upper and len(names) > 1
            yield _part(name, "open", "one of several dividers open" if several else open_kind, reference)
            yield _part(name, "shorted", short_kind, reference)
    controller = controller_of(context, shape)
    if controller is not None:
        yield SingleFault(f"{controller} without supply", part(controller), "controller supply open")
        yield SingleFault(f"{controller} without feedback", part(controller), "feedback open", reference)


def _windings(context: Context, shape: FlybackShape) -> Iterator[SingleFault]:
    primary = shape.primary.winding if shape.primary is not None else None
    outputs = {name: one for one in shape.outputs for name in one.walked.windings}
    rail = [name for step in context.structure.own.auxiliary or () for name in step.names if "." in name]
    for name in dict.fromkeys((*((primary,) if primary else ()), *outputs, *rail)):
        subject = Subject("winding", (name,))
        kind = "primary pins shorted" if name == primary else "winding pins shorted"
        kind = "auxiliary pins shorted" if name not in outputs and name != primary else kind
        pins = context.structure.pins.get(name, ())
        if len(pins) < 2:
            yield SingleFault(f"{name} pins shorted", subject, kind, outputs.get(name))
            continue
        for one, other in combinations(pins, 2):
            whole = {one, other} == {pins[0], pins[-1]}
            yield SingleFault(
                f"{name} pins {one} and {other} shorted",
                subject,
                kind if whole else "part of a winding shorted",
                outputs.get(name) if whole else None,
            )
    for name in context.structure.windings:
        yield SingleFault(f"{name} layer shorted", Subject("winding", (name,)), "winding layer shorted")


# Single faults beyond the mains path as rows: those with an equation, and those for the bench with the reason.
#
# The current limit is taken as working, so that the mains path carries little and nothing in it opens. Only the
# `faults` command and the report ask for these rows.


# ---- outputs ---------------------------------------------------------------------------------------------------------


def _shorted_output(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    assert fault.about is not None
    rectifier = fault.about.walked.rectifier
    schottky = bool(rectifier) and context.structure.must_be(rectifier[0], "Schottky diode")

    def solve(**k: float) -> dict[str, float]:
        found = output_shorted(
            k["limit"],
            k["bulk"],
            k["inductance"],
            k["delay"],
            k["ratio"],
            k["frequency"],
            drop=k["drop"],
            shortest_on=k["delay"],
            rectifier="Schottky" if schottky else "PN",
        )
        if found.ratchets:
            raise Collapse(RATCHETS)
        return {"secondary": found.secondary, "peak": found.peak, "power": found.power}

    signs = {"limit": 1, "bulk": 1, "inductance": -1, "delay": 1, "ratio": 1, "frequency": 1, "drop": 0}
    model = Model(
        "output shorted, the current limit working",
        solve,
        {"secondary": signs, "peak": signs, "power": {**signs, "inductance": 0}},
        "AN-23 step 20; energy of the inductance",
        "limit + bulk × delay / inductance, by turns",
        {"secondary": ERROR["short_secondary"], "power": ERROR["short_power"]},
    )
    inputs = {
        **at_case(context, shape, limit, case),
        "ratio": fault.about.ratio,
        "frequency": frequency_of(context, shape),
        "drop": fault.about.drop,
    }
    subject = fault.subject
    wanted: list[Wanted] = [
        (subject, "fault_current", "secondary"),
        (subject, "current_peak", "peak"),
        (subject, "fault_power", "power"),
    ]
    rows = context.ledger.work_out(model, inputs, wanted, case=case, note="without restart: all the time")
    words = "the primary stays at its limit and the mains path carries little"
    told = (
        ""
        if rows[0].note and not isinstance(rows[0].value, Value)
        else (f"{words}; rectifier and winding carry the fault current until it stops")
    )
    said(context, fault, case, rows[0], told)


def _shorted_rectifier(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    assert fault.about is not None
    model = Model.of(
        "output rectifier shorted",
        RECTIFIER_SHORTED,
        "own derivation, Kirchhoff; winding resistance left out",
        "limit + (bulk + n × output) × delay / leakage",
    )
    at = at_case(context, shape, limit, case)
    inputs: Inputs = {
        "limit": at["limit"],
        "bulk": at["bulk"],
        "output": fault.about.voltage,
        "turns_ratio": fault.about.ratio,
        "leakage": shape.leakage,
        "delay": at["delay"],
    }
    row = context.ledger.work_out(model, inputs, [(fault.subject, "current_peak", "peak")], case=case)[0]
    said(context, fault, case, row, _THROUGH_LEAKAGE)


_THROUGH_LEAKAGE = "each period runs past the limit through the leakage; whether it stops is not known"


def _open_capacitor(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    if not fault.rest:
        as_listed(context, fault, case, FAULTS[fault.kind])
        return
    row = capacitor_open(context, fault, case)
    rest = " and ".join(fault.rest)
    carry = "carry" if len(fault.rest) > 1 else "carries"
    said(context, fault, case, row, f"{rest} {carry} its ripple current as well")


# ---- windings --------------------------------------------------------------------------------------------------------


def _shorted_pins(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    model = Model.of(
        "winding shorted between its pins",
        WINDING_SHORTED,
        "own derivation, Kirchhoff; winding resistance left out",
        "limit + bulk × delay / leakage",
    )
    at = at_case(context, shape, limit, case)
    inputs: Inputs = {"limit": at["limit"], "bulk": at["bulk"], "leakage": shape.leakage, "delay": at["delay"]}
    row = context.ledger.work_out(model, inputs, [(fault.subject, "current_peak", "peak")], case=case)[0]
    said(context, fault, case, row, _THROUGH_LEAKAGE)


# ---- primary ---------------------------------------------------------------------------------------------------------


def _shorted_sense(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """What one greatest on-time adds, of current and of flux; whether it stops there is for the bench."""
    ledger, controller = context.ledger, controller_of(context, shape)
    about = part(controller) if controller is not None else Subject("supply")
    at: Inputs = {
        "bulk": crest_of(case),
        "duty": context.need(about, "part.greatest_duty"),
        "frequency": frequency_of(context, shape),
    }
    current = Model.of(
        "sense resistor shorted", SENSE_SHORTED, "own derivation", "bulk × greatest duty / (frequency × inductance)"
    )
    flux = Model.of(
        "flux of one on-time", FLUX_OF_ON_TIME, "Faraday", "bulk × greatest duty / (frequency × turns × area)"
    )
    winding = Subject("winding", ((shape.primary.winding if shape.primary is not None else "") or "primary",))
    turns = {"turns": context.need(winding, "winding.turns"), "area": context.need(shape.transformer, "core.area")}
    row = ledger.work_out(
        current, {**at, "inductance": shape.inductance}, [(fault.subject, "current_peak", "peak")], case=case
    )[0]
    field = ledger.work_out(flux, {**at, **turns}, [(fault.subject, "flux_density", "flux")], case=case)[0]
    why = "nothing limits the current but the greatest on-time: whether it climbs further is not known"
    limit_of = context.value(shape.transformer, "allowed.flux_density")
    if isinstance(field.value, Value) and limit_of is not None and field.value.near > limit_of.far:
        why = "the core saturates within one on-time, then only resistance limits the current: what opens is not known"
    for_the_bench(context, fault, case, why, row.missing)


def _shorted_auxiliary(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """The controller has no supply: it does not switch, and the start-up parts bear the whole bulk."""
    path = context.structure.own.start_up or ()
    names = tuple(name for step in path if step.how == "series" for name in step.names)
    note = "the controller gets no supply and does not switch"
    if not names or any(context.fact(part(name), "part.resistance") is None for name in names):
        nothing_flows(context, fault, case, note)
        return
    with_rest = SingleFault(fault.name, fault.subject, fault.kind, None, names)
    resistors_left(
        context, with_rest, case, crest_of(case), crest_of(case), f"{note}; {' + '.join(names)} bear the whole bulk"
    )


def _shorted_start_up(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    resistors_left(
        context, fault, case, crest_of(case), crest_of(case), f"{' + '.join(fault.rest)} bears the whole bulk"
    )


class Faulted(NamedTuple):
    """What every fault is worked out from: the converter and the current at which its limit acts."""

    shape: FlybackShape
    limit: Entry


def _faulted(context: Context) -> Faulted:
    shape = shape_of(context)
    return Faulted(shape, current_limit(context, shape))


def _at_limit(work_out: Callable[[Context, FlybackShape, SingleFault, Entry, Case], None]) -> Handler:
    def handler(context: Context, at: Faulted, fault: SingleFault, case: Case) -> None:
        work_out(context, at.shape, fault, at.limit, case)

    return handler


_WORKED_OUT: dict[str, Callable[[Context, FlybackShape, SingleFault, Entry, Case], None]] = {
    "output shorted": _shorted_output,
    "output capacitor shorted": _shorted_output,
    "output capacitor open": _open_capacitor,
    "output rectifier shorted": _shorted_rectifier,
    "output rectifier open": rectifier_open,
    "clamp open": open_clamp,
    "clamp resistor open": open_clamp,
    "one of several clamp resistors open": resistor_open,
    "clamp diode shorted": diode_shorted,
    "clamp capacitor shorted": primary_held,
    "sense resistor shorted": _shorted_sense,
    "auxiliary capacitor shorted": _shorted_auxiliary,
    "one of several start-up parts shorted": _shorted_start_up,
    "feedback open": regulation_lost,
    "optocoupler dark": regulation_lost,
    "reference open": regulation_lost,
    "feedback divider upper open": regulation_lost,
    "winding pins shorted": _shorted_pins,
    "auxiliary pins shorted": _shorted_pins,
}
FLYBACK_FAULTS = Faults(
    _faulted,
    lambda context, at: converter_faults(context, at.shape),
    {kind: _at_limit(work_out) for kind, work_out in _WORKED_OUT.items()},
    FAULTS,
)
