"""A toy topology: a switch, a diode that carries the current on, and the choke of the output, worked out by two lines.

It shows that a topology is one folder: nothing in `derate` knows it. The ripple reads the peak in overload, and the
peak while it runs reads the ripple: quantities that need each other, at different cases.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from derate.circuit.converter_faults import ForTheBench, WorkedOut
from derate.design.circuit import Circuit, PathForm, Placing
from derate.design.kinds import FAMILIES
from derate.design.plain_forms import formed
from derate.design.structure import Leaf, OwnParts, Path, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import BULK, Axes, Context, Inputs, part, repeated
from derate.stress.faults.converter import Faults, SingleFault, crest_of, said
from derate.stress.topology import COUPLERS, TEMPERATURES_CARRIED, Gap, Gives, Step, Topology
from derate.terms.quantities import FULL_LOAD, OVERLOAD, RUNNING, each
from derate.terms.values import Value


@dataclass(frozen=True, slots=True)
class ToyParts(OwnParts):
    """What the toy makes of its key: the switch; the short of it is a fault of its own list."""

    chopping: str | None = None


class ToyCircuit(Circuit, prefix="circuit"):
    """What the toy adds."""

    chopper: Path | None = formed(PathForm(), "switch and the diode behind it", "trace it", "[Q1, D1]")

    def own_leaves(self) -> Iterator[Leaf]:
        """Both."""
        for step in self.chopper or ():
            yield from leaves(step.element)

    def own_parts(self, placing: Placing) -> ToyParts:
        """The switch and the diode that carries its current on."""
        names = [name for step in self.chopper or () for name in step.names]
        switch = next((name for name in names if placing.all_of(name, FAMILIES["switch"])), None)
        for name in names:
            placing.put((name,), "chopper" if name == switch else "freewheel diode")
        return ToyParts(traced=self.chopper is not None, mains_side=tuple(names), chopping=switch)


class Toy(NamedTuple):
    """What the steps work with."""

    switch: str | None
    choke: str | None
    output: Subject
    voltage: Entry
    current: Entry


def _toy(context: Context, _: None) -> Toy:
    name, walked = next(iter(context.structure.outputs.items()))
    output = Subject("output", (name,))
    choke = next(iter(walked.choke), None)
    volts, amperes = (context.need(output, one) for one in each("plate.voltage", "plate.current"))
    own = context.structure.own
    return Toy(own.chopping if isinstance(own, ToyParts) else None, choke, output, volts, amperes)


def _limited(context: Context, toy: Toy) -> Gap | None:
    """The overload ends at the switch's own limit; without one nothing is said of it."""
    switch = part(toy.switch or "switch")
    if context.fact(switch, "part.limit_current") is not None:
        return None
    return Gap("the switch has no limit that anybody stated", (OpenFact(switch, "part.limit_current"),))


def _limit(context: Context, toy: Toy) -> None:
    limit = context.need(part(toy.switch or "switch"), "part.limit_current")
    for case in context.plan.cases(["current_peak"], [OVERLOAD]):
        for one in (toy.switch, toy.choke):
            if one is not None:
                context.ledger.write(
                    part(one), "current_peak", limit.value, case=case, known_by="computed", inputs=(limit.number,)
                )


RIPPLE = Model(
    "ripple of the toy's choke",
    lambda bulk, output, inductance, frequency: {"ripple": output * (1.0 - output / bulk) / (inductance * frequency)},
    {"ripple": {"bulk": 1, "output": 0, "inductance": -1, "frequency": -1}},
    "volt-seconds",
    "output × (1 − output / bulk) / (inductance × frequency)",
)
PEAK = Model(
    "peak of the toy's choke",
    lambda current, ripple: {"peak": current + ripple / 2.0},
    {"peak": {"current": 1, "ripple": 1}},
    "definition",
    "current + ripple / 2",
)


def _ripple(context: Context, toy: Toy) -> None:
    """Of the choke at each mains; of the output, its series resistance times that, where it is worst."""
    if toy.choke is None:
        return
    subject = part(toy.choke)
    inputs: Inputs = {"inductance": context.need(subject, "part.inductance"), "output": toy.voltage}
    inputs["frequency"] = context.need(SUPPLY, "control.frequency")
    most = next((row for row in context.ledger.rows(subject, "current_peak") if row.case == _overload(context)), None)
    for case in context.plan.cases(["ripple_current"], [RUNNING]):
        bulk = context.need(BULK, "voltage_peak", Case(RUNNING, case.mains, load=FULL_LOAD))
        wanted: list[Wanted] = [(subject, "ripple_current", "ripple")]
        row = context.ledger.work_out(RIPPLE, {"bulk": bulk, **inputs}, wanted, case=case)[0]
        if most is not None and isinstance(most.value, Value) and isinstance(row.value, Value):
            if row.value.near > 2.0 * most.value.far:
                context.ledger.hole(subject, "ripple_current", (), case=case, note="it would pass the limit")
    for case in context.plan.cases(["ripple"], [RUNNING]):
        worst = context.fact(subject, "ripple_current", context.plan.cases(["ripple_current"], [RUNNING])[-1])
        value = worst.value.scaled(0.05) if worst is not None and isinstance(worst.value, Value) else None
        context.ledger.write(toy.output, "ripple", value, case=case, known_by="computed", formula="toy: 50 mohm")


def _overload(context: Context) -> Case | None:
    return next(iter(context.plan.cases(["current_peak"], [OVERLOAD])), None)


def _peak(context: Context, toy: Toy) -> None:
    for case in context.plan.cases(["current_peak"], [RUNNING]):
        if toy.choke is None:
            continue
        ripple = context.need(part(toy.choke), "ripple_current", case)
        inputs: Inputs = {"current": toy.current, "ripple": ripple}
        row = context.ledger.work_out(PEAK, inputs, [(part(toy.choke), "current_peak", "peak")], case=case)[0]
        if toy.switch is not None:
            repeated(context, row, case, part(toy.switch))


def _faults(context: Context, toy: Toy) -> Iterator[SingleFault]:
    if toy.switch is not None:
        yield SingleFault(f"{toy.switch} shorted, the bulk on the output", part(toy.switch), "toy: switch shorted", toy)
        yield SingleFault(f"{toy.switch} open", part(toy.switch), "toy: switch open", toy)


def _shorted(context: Context, toy: Toy, fault: SingleFault, case: Case) -> None:
    row = context.ledger.write(fault.subject, "voltage_peak", crest_of(case), case=case, known_by="computed")
    said(context, fault, case, row, f"the output {toy.output.names[0]} takes the whole bulk")


TOPOLOGY = Topology(
    "toy",
    ToyCircuit,
    {
        RUNNING: {
            "current_peak": Axes("+", "", "", (FULL_LOAD,)),
            "ripple_current": Axes("+", "", "", (FULL_LOAD,)),
            "ripple": Axes("+", "", "", (FULL_LOAD,)),  # of a flyback it is worst at the lowest mains
        },
        OVERLOAD: {"current_peak": Axes("+")},
    },
    (
        TEMPERATURES_CARRIED,
        Step("toy", _toy, hands_on=True),
        Step(
            "limit",
            _limit,
            tuple(Gives(each("current_peak"), (OVERLOAD,), place=place) for place in ("chopper", "output choke")),
            cannot=_limited,
        ),
        Step(
            "ripple",
            _ripple,
            (Gives(each("ripple_current"), place="output choke"), Gives(each("ripple"), kind="output")),
        ),
        Step("peak", _peak, tuple(Gives(each("current_peak"), place=place) for place in ("chopper", "output choke"))),
        COUPLERS,
    ),
    Faults(
        lambda context: _toy(context, None),
        _faults,
        {"toy: switch shorted": _shorted},
        {
            "toy: switch shorted": WorkedOut("crest_of"),
            "toy: switch open": ForTheBench("how the toy ends is not worked out"),
        },
    ),
)
