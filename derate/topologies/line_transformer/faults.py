"""A short at the output or before the regulator: what flows, what heats, and whether anything is shown to end it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from derate.circuit import line_transformer as physics
from derate.circuit.converter_faults import ForTheBench, NothingFlows, WorkedOut
from derate.circuit.elementary import product
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, Inputs, part
from derate.stress.faults.converter import Faults, Listed, SingleFault, said
from derate.stress.faults.rows import opens
from derate.terms.quantities import RUNNING, each
from derate.terms.values import Category, Value
from derate.topologies.line_transformer.circuit import LineTransformerParts, parts_of
from derate.topologies.line_transformer.rail import Rail, Rails, open_voltage, rails, transformer_of

SHORTED = Model.of(
    "secondary shorted behind its rectifier",
    physics.SHORTED,
    "Ohm's law; the drop of the diodes and the leakage only lower it",
    "open-circuit voltage / resistance of both windings, its square over it as heat",
)
AT_THE_MAINS = Model.of(
    "short seen at the mains", physics.drawn("0"), "turns", "short-circuit current × open-circuit voltage / mains"
)
AT_ITS_LIMIT = Model.of(
    "heat at the limit", product("power", "voltage", "limit"), "own derivation", "mean input × limit"
)
SHOWN, NOT_SHOWN = "shown", "not shown"
CARRIED = 1.5  # times its rated current a miniature fuse carries for an hour; IEC 60127-2, from memory
_BY_MARK = ("conditionally", "fail-safe")  # tested with what opens in it; the mark says so


class Ends(NamedTuple):
    """What ends a short of the rail: 'shown', 'not shown' or '' where a fact is missing, and why.

    rests_on: what somebody only assumed of the mark
    """

    word: str
    why: str
    rows: tuple[int, ...] = ()
    missing: tuple[OpenFact, ...] = ()
    rests_on: frozenset[OpenFact] = frozenset()


def short_of_rail(context: Context, rail: Rail, case: Case) -> tuple[Entry, Entry, Entry]:
    """Current in the winding, heat in both windings, current at the mains."""
    voltage = open_voltage(context, rail, case.mains)
    subject = Subject("winding", rail.secondary.windings[:1])
    inside = Case("fault path", case.mains, fault=rail.output.names[0])
    wanted: list[Wanted] = [(subject, "fault_current", "current"), (subject, "fault_power", "power")]
    inputs: Inputs = {"voltage": voltage, "resistance": rail.resistance}
    current, power = context.ledger.work_out(SHORTED, inputs, wanted, case=inside)
    mains: Inputs = {"idle": 0.0, "mains": case.mains or 0.0, "current_0": current, "voltage_0": voltage}
    seen = context.ledger.work_out(AT_THE_MAINS, mains, [(rail.output, "fault_current", "most")], case=inside)[0]
    return current, power, seen


def ended(context: Context, parts: LineTransformerParts, seen: Entry) -> Ends:
    """What ends a short of the rail, by the mark of the transformer, by what opens by heat, or by a fuse."""
    transformer = transformer_of(parts.primary[0]) if parts.primary else Subject("transformer", ("T1",))
    proof = context.word(transformer, "transformer.short_circuit_proof")
    row = context.fact(transformer, "transformer.short_circuit_proof")
    rows, rests = ((row.number,), row.rests_on) if row is not None else ((), frozenset[OpenFact]())
    if proof == "inherently":
        why = "the transformer is marked inherently short-circuit proof: it stays within its limits"
        return Ends(SHOWN, why, rows, rests_on=rests)
    fuses = [one for one in parts.ahead if context.structure.must_be(one, "fuse")]
    short = seen.value if isinstance(seen.value, Value) else Value.exact(0.0)
    protected = (*parts.by_heat, *(one for one in fuses if _carries_less(context, one, short.low)))
    doubtful = [one for one in fuses if one not in protected and _carries_less(context, one, short.high)]
    if proof in _BY_MARK and protected:
        why = f"{' or '.join(protected)} ends it: the mark, {proof} short-circuit proof, was tested with it"
        sizes = (context.fact(part(one), "rated.current") for one in protected if one in fuses)
        of_fuses = [one for one in sizes if one is not None]
        by = rests if parts.by_heat else rests.union(seen.rests_on, *(one.rests_on for one in of_fuses))
        return Ends(SHOWN, why, (*rows, *(one.number for one in of_fuses)), rests_on=by)
    told = []
    for name in parts.ahead:
        if context.structure.must_be(name, "fuse") and isinstance(seen.value, Value):
            found = opens(context, name, seen.value, Value.exact(0.0))
            if found.shown:
                by = found.rests_on | seen.rests_on
                return Ends(SHOWN, found.why, (*rows, seen.number, *found.rows), rests_on=by)
            told.append(found.why)
    if seen.value is None:
        return Ends("", seen.note, (seen.number,), seen.missing)
    if row is None:
        why = "whether the transformer is short-circuit proof, and by what, is not known"
        return Ends("", "; ".join([why, *told]), rows, (OpenFact(transformer, "transformer.short_circuit_proof"),))
    if proof in _BY_MARK and doubtful:
        missing = tuple(OpenFact(part(one), "rated.opens_within") for one in doubtful)
        why = f"whether {' or '.join(doubtful)} opens at the least current of the short is not known"
        return Ends("", "; ".join([why, *told]), (*rows, seen.number), missing)
    if proof in _BY_MARK:
        unsized = [one for one in fuses if context.value(part(one), "rated.current") is None]
        if unsized:
            missing = tuple(OpenFact(part(one), "rated.current") for one in unsized)
            return Ends("", f"whether {' or '.join(unsized)} opens is not known", rows, missing)
        told.append(f"marked {proof} short-circuit proof, and nothing that opens by heat or current is on the path")
    elif parts.by_heat:
        told.append(
            f"{' and '.join(parts.by_heat)} may open, and nobody has shown that it does before the winding burns"
        )
    return Ends(NOT_SHOWN, "; ".join(told) or "nothing stands in the mains path that would open", (*rows, seen.number))


def _carries_less(context: Context, fuse: str, current: float) -> bool:
    """Whether a fuse carries less than a current of the short at the mains [A] for an hour.

    One that carries the greatest is not the fuse that the mark was tested with; one that may carry the least has yet
    to be shown to open.
    """
    rated = context.value(part(fuse), "rated.current")
    return rated is not None and rated.far * CARRIED < current


def overload_protection(context: Context, found: Rails) -> None:
    """Whether a short of each rail is ended, as one word of the transformer: the least sure of its outputs."""
    parts = parts_of(context.structure)
    if not parts.primary or context.plan.mains is None:
        return
    transformer = transformer_of(parts.primary[0])
    worst: tuple[int, Ends] | None = None
    for rail in found.every:
        for mains in dict.fromkeys(context.plan.mains):
            _, _, seen = short_of_rail(context, rail, Case(RUNNING, mains))
            one = ended(context, parts, seen)
            order = (NOT_SHOWN, "", SHOWN).index(one.word)
            if worst is None or order < worst[0]:
                worst = order, one
    if worst is None:
        return
    ends = worst[1]
    if not ends.word:
        context.ledger.hole(transformer, "opening", ends.missing, note=ends.why, inputs=ends.rows)
        return
    context.ledger.write(
        transformer,
        "opening",
        Category.of(ends.word),
        known_by="computed",
        inputs=ends.rows,
        formula="a short before the regulator against mark, thermal link, cut-out and fuse",
        source="EN 61558, classes of short-circuit proof, Short-circuit classes of transformers (undated page)",
        note=ends.why,
        rests_on=ends.rests_on,
    )


# ---- the list of single faults ---------------------------------------------------------------------------------------


def each_fault(context: Context, found: Rails) -> Iterator[SingleFault]:
    """Every single fault behind the plug, made from what is joined to what."""
    parts = parts_of(context.structure)
    for rail in found.every:
        one = rail.secondary
        limited = one.regulator is not None
        yield SingleFault(
            f"output {one.name} shorted",
            rail.output,
            "output behind a regulator shorted" if limited else "rail shorted",
            rail,
        )
        for name in one.capacitors:
            yield SingleFault(f"{name} shorted", part(name), "rail shorted", rail)
            yield SingleFault(f"{name} open", part(name), "reservoir open", rail)
        for name in one.diodes:
            yield SingleFault(f"{name} shorted", part(name), "rectifier shorted", rail)
            yield SingleFault(f"{name} open", part(name), "rectifier open", rail)
        if one.regulator is not None:
            yield SingleFault(
                f"{one.regulator} shorted through", part(one.regulator), "regulator shorted through", rail
            )
            yield SingleFault(f"{one.regulator} open", part(one.regulator), "regulator open", rail)
    for name in parts.by_heat:
        yield SingleFault(f"{name} open", part(name), "thermal link open")
        yield SingleFault(f"{name} does not open", part(name), "thermal link stays closed")
    for winding in parts.primary:
        yield SingleFault(f"turns of {winding} shorted", Subject("winding", (winding,)), "turns shorted")


def _tell(context: Context, rail: Rail, fault: SingleFault, case: Case) -> None:
    """Current, heat and opening of a short behind the rectifier."""
    ledger = context.ledger
    current, power, seen = short_of_rail(context, rail, case)
    for row, quantity in zip((current, power), each("fault_current", "fault_power"), strict=True):
        ledger.write(
            fault.subject,
            quantity,
            row.value,
            case=case,
            missing=row.missing,
            known_by="computed",
            formula=row.formula,
            source=row.source,
            inputs=(row.number,),
            note=row.note,
            rests_on=row.rests_on,
        )
    ends = ended(context, parts_of(context.structure), seen)
    if not ends.word:
        ledger.hole(fault.subject, "opening", ends.missing, case=case, note=f"for the bench: {ends.why}", mark="bench")
        return
    ledger.write(
        fault.subject,
        "opening",
        Category.of(ends.word),
        case=case,
        known_by="computed",
        inputs=ends.rows,
        note=ends.why,
        formula="mark, thermal link, cut-out and fuse",
        source="EN 61558, Short-circuit classes of transformers (undated page)",
        rests_on=ends.rests_on,
    )


def _rail_shorted(context: Context, found: Rails, fault: SingleFault, case: Case) -> None:
    _tell(context, fault.about, fault, case)


def _limited(context: Context, found: Rails, fault: SingleFault, case: Case) -> None:
    """A short behind the regulator: its own limit, and all of the rail as heat in it."""
    rail: Rail = fault.about
    subject = part(rail.secondary.regulator or "")
    ledger = context.ledger
    limit = context.need(subject, "part.limit_current")
    ahead = context.need(subject, "voltage_mean", context.plan.cases(["voltage_mean"], [RUNNING])[-1])
    current = ledger.write(
        fault.subject,
        "fault_current",
        limit.value,
        case=case,
        missing=limit.missing,
        known_by=limit.known_by,
        formula="the regulator's own limit",
        source="data sheet",
        inputs=(limit.number,),
        rests_on=limit.rests_on,
    )
    power = ledger.work_out(
        AT_ITS_LIMIT, {"voltage": ahead, "limit": limit}, [(fault.subject, "fault_power", "power")], case=case
    )[0]
    watts = f"{power.value.far:.3g} W" if isinstance(power.value, Value) else "all of the rail"
    said(
        context,
        fault,
        case,
        current,
        f"{subject.names[0]} limits and takes {watts}; whether it shuts down is for the bench",
    )


def _through(context: Context, found: Rails, fault: SingleFault, case: Case) -> None:
    """The whole rail on the output: its crest without load."""
    rail: Rail = fault.about
    subject = part(rail.secondary.regulator or "")
    row = context.fact(subject, "voltage_peak", context.plan.cases(["voltage_peak"], [RUNNING])[0])
    row = row or context.need(subject, "voltage_peak")
    context.ledger.write(
        fault.subject,
        "voltage_peak",
        row.value,
        case=case,
        missing=row.missing,
        known_by="computed",
        formula="the rail without load",
        source="the circuit",
        inputs=(row.number,),
        note=row.note,
        rests_on=row.rests_on,
    )
    said(context, fault, case, row, f"the output {rail.output.names[0]} takes the whole rail")


LISTED: dict[str, Listed] = {
    "rail shorted": WorkedOut("shorted_secondary"),
    "output behind a regulator shorted": WorkedOut("shorted_secondary"),
    "regulator shorted through": WorkedOut("unloaded"),
    "rectifier shorted": ForTheBench(
        "the winding is shorted every other half cycle and its direct current biases the core"
    ),
    "rectifier open": NothingFlows("the rail has half its pulses, or none: it sags, and hums"),
    "reservoir open": NothingFlows("no charge is kept between two crests: the output follows the mains"),
    "regulator open": NothingFlows("the output gets nothing"),
    "thermal link open": NothingFlows("the transformer gets no mains, for good where it does not reset"),
    "thermal link stays closed": ForTheBench("the winding goes on heating: how far is told by a test on a spare"),
    "turns shorted": ForTheBench(
        "a few turns carry many times the rated current: what opens then is told by a test on a spare"
    ),
}
HANDLERS = {
    "rail shorted": _rail_shorted,
    "output behind a regulator shorted": _limited,
    "regulator shorted through": _through,
}
FAULTS = Faults(lambda context: rails(context, None), each_fault, HANDLERS, LISTED)
