"""Single faults of a self-oscillating flyback: those of any flyback, worked out with its own limit, and its own.

A short at its output lowers the frequency, since the switch waits for the secondary; the drive, the second transistor
and the switch that another type takes the place of have faults that no controller knows.
"""

from __future__ import annotations

from collections.abc import Iterator

from derate.circuit import self_oscillating as physics
from derate.circuit.converter_faults import FAULTS, ForTheBench, NothingFlows, WorkedOut
from derate.circuit.magnetics import FLUX_AT_LIMIT
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs, part
from derate.stress.faults.converter import Faults, Listed, SingleFault, crest_of, for_the_bench, nothing_flows, said
from derate.terms.values import Value
from derate.topologies.flyback.fault_rows import FLYBACK_FAULTS, Faulted, converter_faults
from derate.topologies.flyback.operating import current_limit, limit_inputs
from derate.topologies.flyback.shape import FlybackShape, assumed
from derate.topologies.self_oscillating.circuit import parts_of
from derate.topologies.self_oscillating.limits import gain_of, second_transistor, start_of
from derate.topologies.self_oscillating.period import shape_of

SHORTED = Model.of(
    "output shorted, the switch waiting for the secondary",
    physics.SHORTED,
    "own derivation, energy and volt-seconds; held to ngspice 39",
    "half the peak by turns for as long as the secondary conducts",
)
REPLACED = Model.of(
    "peak with a switch that stores longer",
    physics.DELAYED,
    "own derivation: a saturated switch goes on conducting until its stored charge is gone",
    "limit + bulk × delay / inductance",
)
SATURATES = Model.of(
    "flux density with a switch that stores longer",
    FLUX_AT_LIMIT,
    "AN-4137 (2004) eq 13 with the limit and its delay",
    "(inductance × limit + bulk × delay) / (turns × area)",
)
_CONTROL = ("controller supply open",)  # of a controller, of which there is none


def _prepared(context: Context) -> Faulted:
    shape = shape_of(context)
    return Faulted(shape, current_limit(context, shape))


def _each(context: Context, at: Faulted) -> Iterator[SingleFault]:
    switch, by = at.shape.switch, second_transistor(context, at.shape)
    for one in converter_faults(context, at.shape):
        about_control = one.subject in (part(switch or ""), part(by or "")) and one.kind == "feedback open"
        if one.kind not in _CONTROL and not about_control:
            yield one
    yield from _drive(context, at.shape)
    if by is not None:
        yield SingleFault(f"{by} open", part(by), "second transistor open")
        yield SingleFault(f"{by} shorted", part(by), "second transistor shorted")
    if switch is not None and context.structure.may_be(switch, "bipolar transistor"):
        yield SingleFault(f"{switch} replaced by a slower type", part(switch), "slower switch")


def _drive(context: Context, shape: FlybackShape) -> Iterator[SingleFault]:
    drive = parts_of(context.structure).drive
    if drive is None:
        return
    for name in (*drive.resistors, *drive.capacitors, *drive.diodes):
        yield SingleFault(f"{name} open", part(name), "drive open")
        kind = "drive capacitor shorted" if name in drive.capacitors else "drive resistor shorted"
        yield SingleFault(f"{name} shorted", part(name), kind)
    for name in drive.across:
        yield SingleFault(f"{name} open", part(name), "diode at the base open")
        yield SingleFault(f"{name} shorted", part(name), "base shorted to the return")


def _shorted_output(context: Context, at: Faulted, fault: SingleFault, case: Case) -> None:
    assert fault.about is not None
    inputs: Inputs = {
        **limit_inputs(context, at.shape, at.limit),
        "bulk": crest_of(case),
        "ratio": fault.about.ratio,
        "drop": fault.about.drop,
    }
    subject, ledger = fault.subject, context.ledger
    least = ledger.work_out(SHORTED, inputs, [(subject, "fault_current", "average")], case=case)[0]
    most = ledger.work_out(SHORTED, inputs, [(subject, "fault_current", "secondary")], case=case)[0]
    ledger.work_out(SHORTED, inputs, [(subject, "current_peak", "peak"), (subject, "fault_power", "power")], case=case)
    row = _from_to(context, least, most)
    words = "it waits for the secondary to stop, and the mains path carries little; started again at once by its start"
    said(context, fault, case, row, f"{words} resistors it would carry up to its peak all of the time")


def _from_to(context: Context, least: Entry, most: Entry) -> Entry:
    if not isinstance(least.value, Value) or not isinstance(most.value, Value):
        return most if isinstance(least.value, Value) else least
    near, far = least.value.near, max(least.value.near, most.value.far)
    return context.ledger.write(
        most.subject,
        most.quantity,
        Value(min(least.value.low, near), near, far, max(far, most.value.high)),
        case=most.case,
        known_by="computed",
        inputs=(least.number, most.number),
        rests_on=least.rests_on | most.rests_on,
        formula=most.formula,
        source=most.source,
    )


def _slower(context: Context, at: Faulted, fault: SingleFault, case: Case) -> None:
    """Peak and flux with the longest storage that the trade's types have."""
    shape, ledger = at.shape, context.ledger
    storage = assumed(context, "storage_time", fault.subject, "storage_time", "rated.storage_time")
    if not isinstance(storage.value, Value):
        for_the_bench(context, fault, case, "how long another type stores is not known", storage.missing)
        return
    longest = Value(storage.value.far, storage.value.far, storage.value.far, storage.value.high)
    given: Inputs = {**limit_inputs(context, shape, at.limit), "bulk": crest_of(case), "delay": longest}
    row = ledger.work_out(REPLACED, given, [(fault.subject, "current_peak", "peak")], case=case)[0]
    winding = Subject("winding", ((shape.primary.winding if shape.primary is not None else "") or "primary",))
    core: Inputs = {
        "turns": context.need(winding, "winding.turns"),
        "area": context.need(shape.transformer, "core.area"),
    }
    flux = ledger.work_out(SATURATES, {**given, **core}, [(fault.subject, "flux_density", "flux")], case=case)[0]
    limit = context.value(shape.transformer, "allowed.flux_density")
    note = "the limit acts and the switch goes on for as long as it stores"
    if isinstance(flux.value, Value) and limit is not None and flux.value.far > limit.near:
        note += "; the core may saturate, and then only resistance limits the current"
    said(context, fault, case, row, note)


_OWN: dict[str, Listed] = {
    "second transistor open": ForTheBench(
        "nothing but the gain of the switch and its drive ends the on-time: how hot it gets, and what gives way first"
    ),
    "second transistor shorted": NothingFlows("the base stays at its return and the switch does not start"),
    "drive open": WorkedOut("started_only"),
    "drive capacitor shorted": ForTheBench(
        "the base carries direct current from the winding: drive and storage grow by what the capacitor took"
    ),
    "drive resistor shorted": ForTheBench(
        "only the winding and the base itself limit the drive: what it does is not known"
    ),
    "diode at the base open": ForTheBench(
        "the winding reverses the base by all it has: whether the base breaks down, and for how long it bears that"
    ),
    "base shorted to the return": NothingFlows("the base stays at its return and the switch does not start"),
    "slower switch": WorkedOut("peak_at_limit"),
    # In the words of a supply without a controller.
    "sense resistor open": ForTheBench(
        "the emitter floats up with the base until one of the two junctions breaks down"
    ),
    "sense resistor shorted": ForTheBench(
        "the second transistor sees no current: only the gain of the switch and its drive end the on-time"
    ),
    "switch open": NothingFlows("the supply stops"),
    "gate shorted to source": NothingFlows("the switch stays off"),
    "gate shorted to drain": ForTheBench("the bulk reaches the drive winding: what breaks there is not known"),
    "auxiliary rectifier open": FAULTS["auxiliary rectifier open"],
    "auxiliary rectifier shorted": ForTheBench(
        "the rail follows the winding both ways: what the regulation does is not known"
    ),
    "auxiliary capacitor open": ForTheBench("the regulation acts on the crest of the winding in each period"),
    "start-up part shorted": ForTheBench(
        "the bulk comes straight to the base: what opens in the switch or the drive is not known"
    ),
    "optocoupler transistor shorted": NothingFlows("the drive is held down for good: the output falls"),
    "reference shorted": NothingFlows("the regulation is told to stop for good: the output falls"),
}
STARTED = Model.of(
    "switch that its start resistors alone drive", physics.STARTED_ONLY, "Ohm's law", "bulk² × gain / start resistors"
)


def _drive_open(context: Context, at: Faulted, fault: SingleFault, case: Case) -> None:
    """It does not swing, and the switch stands in its gain at the whole bulk for ever."""
    switch = at.shape.switch
    if switch is None or not context.structure.may_be(switch, "bipolar transistor"):
        nothing_flows(context, fault, case, "a gate charged by the start resistors alone: it starts and does not swing")
        return
    inputs: Inputs = {"bulk": crest_of(case), "gain": gain_of(context, switch), "start": start_of(context)}
    row = context.ledger.work_out(STARTED, inputs, [(fault.subject, "fault_power", "power")], case=case)[0]
    said(context, fault, case, row, f"it does not swing: {switch} stands at the whole bulk and turns that into heat")


_REGULATED_BY_RAIL = "auxiliary rectifier open"


def _rail_lost(context: Context, at: Faulted, fault: SingleFault, case: Case) -> None:
    """The rail that is sensed loses its rectifier: nothing regulates. Of a rail that only feeds, the supply stops."""
    senses = any("." in name for name in context.structure.control.senses)
    if not senses:
        for_the_bench(
            context, fault, case, "what the rail feeds is dark: whether regulation is lost by it is not known"
        )
        return
    lost = FLYBACK_FAULTS.handlers["feedback open"]
    about = fault._replace(about=at.shape.reference)
    lost(context, at, about, case)


FAULTS_OF_IT = Faults(
    _prepared,
    _each,
    {
        **{kind: one for kind, one in FLYBACK_FAULTS.handlers.items() if kind != "sense resistor shorted"},
        "output shorted": _shorted_output,
        "output capacitor shorted": _shorted_output,
        "slower switch": _slower,
        "drive open": _drive_open,
        _REGULATED_BY_RAIL: _rail_lost,
        "auxiliary capacitor shorted": _rail_lost,
    },
    {**FLYBACK_FAULTS.listed, **_OWN},
)
