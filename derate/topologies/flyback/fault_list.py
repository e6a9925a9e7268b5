"""Every single fault beyond the mains path that the parts and their places give rise to, as a bench would name it.

The list is made from what is joined to what, never from what happens to be known: a fault that cannot be computed
stays on it, with the reason (`FAULTS` of `derate.circuit.converter_faults`).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from derate.design.paths import Element, Leaf, leaves
from derate.ledger.entry import Subject
from derate.stress.context import Context, only, part
from derate.stress.faults.converter import SingleFault
from derate.topologies.flyback.clamp import ClampShape, clamp_of
from derate.topologies.flyback.operating import controller_of
from derate.topologies.flyback.shape import FlybackShape, OutputShape


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
