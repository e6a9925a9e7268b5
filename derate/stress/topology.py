"""What a topology is: one record that its folder exports, and the engine that takes its steps in their written order.

The steps of a converter need each other's rows at other cases, so no sorting by what is needed and given orders them:
the folder's written order holds, and a step that reads a row which a later step gives is refused where runs are
recorded (`derate.ledger.recorded`). Each step says which rows it gives; where none can be worked out the engine writes
a hole for every one of them, so that nothing is ever silently absent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from derate.design.circuit import Circuit
from derate.design.kinds import FAMILIES
from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.stress.context import BadEnds, Context, part
from derate.stress.faults.converter import Faults
from derate.stress.mains.bulk_states import solve_bulk_states
from derate.stress.parts.coupler import solve_couplers
from derate.stress.parts.life import carried
from derate.stress.parts.resistors import solve_start_up
from derate.terms.quantities import GROUPS, RUNNING, CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.words import CAPACITORS

if TYPE_CHECKING:
    from derate.design.structure import Structure
    from derate.ledger.ledger import Ledger
    from derate.stress.netlist import Netlist


class Gives(NamedTuple):
    """Rows that a step gives: these quantities in these groups of cases, of the subjects that the rest names.

    groups: () for rows that stand without a case
    place: every part in that place of the circuit; kinds: of them those that may be one of these kinds
    subject: one of its own; kind: every subject of that kind, of windings those that an output path names
    """

    quantities: tuple[QuantityName, ...]
    groups: tuple[CaseGroup, ...] = (RUNNING,)
    place: str = ""
    kinds: tuple[str, ...] = ()
    subject: Subject | None = None
    kind: str = ""

    def rows(self, context: Context) -> Iterator[tuple[Subject, QuantityName, Case | None]]:
        """Every one of these rows that this design has."""
        for group in self.groups or (None,):
            for subject in self._subjects(context):
                for quantity in self.quantities:
                    cases = context.plan.cases([quantity], [group]) if group is not None else (None,)
                    for case in cases:
                        yield subject, quantity, case

    def _subjects(self, context: Context) -> Iterator[Subject]:
        structure = context.structure
        if self.subject is not None:
            yield self.subject
        if self.kind == "winding":
            names = (name for output in structure.outputs.values() for name in output.windings)
            yield from (Subject("winding", (name,)) for name in names)
        elif self.kind:
            yield from context.ledger.subjects(self.kind)
        if self.place:
            for name, place in structure.places.items():
                if place == self.place and (not self.kinds or structure.may_be(name, *self.kinds)):
                    yield part(name)


class Gap(NamedTuple):
    """Why rows cannot be worked out, and the facts that are missing for it."""

    why: str
    missing: tuple[OpenFact, ...] = ()


class Step(NamedTuple):
    """One step of a topology, in its written order.

    run: takes the context and what the step before it that `hands_on` returned (None ahead of it)
    reads: what it is handed besides: 'readings' or nothing; then `run` takes them as its third argument
    gives: the rows it gives, for the holes where it cannot run; refines: quantities of rows of earlier steps that it
        replaces by a better figure (any other row of an earlier step it must leave alone)
    cannot: why it cannot run on this design; None: it can
    """

    name: str
    run: Callable[..., Any]
    gives: tuple[Gives, ...] = ()
    refines: tuple[QuantityName, ...] = ()
    with_readings: bool = False
    hands_on: bool = False
    cannot: Callable[[Context, Any], Gap | None] | None = None


class Topology(NamedTuple):
    """One converter topology.

    word: as `supply.topology` has it; bad_ends: of the quantities it gives; steps: in their written order
    faults: its single faults, None where none are known
    circuit: the circuit block with the keys it adds, which says what stands on them
    cannot: what of this design's circuit is not covered, by what is joined to what; None: all of it is
    netlist: of its own input, or of the stage behind the bulk, at a case; None where it writes none
    drawn: the row of the power that it draws from the bulk, where no efficiency says it; None: output over efficiency
    """

    word: str
    circuit: type[Circuit]
    bad_ends: BadEnds
    steps: tuple[Step, ...]
    faults: Faults | None = None
    cannot: Callable[[Context], Gap | None] | None = None
    netlist: Callable[[Structure, Ledger, Case], Netlist] | None = None
    drawn: Callable[[Context], Entry | None] | None = None

    @property
    def gives(self) -> tuple[Gives, ...]:
        """Every row that any of its steps gives."""
        return tuple(one for step in self.steps for one in step.gives)


# Steps of any converter, for a topology to put where they belong in its order; `COMMON` where there is none.
TEMPERATURES_CARRIED = Step(
    "temperatures carried", lambda context, _, readings: carried(context, readings), with_readings=True
)
START_UP = Step("start-up", lambda context, _: solve_start_up(context))
BULK_STATES = Step("bulk states", lambda context, _: solve_bulk_states(context))
COUPLERS = Step("couplers", lambda context, _: solve_couplers(context))


def take_converter(
    context: Context, topologies: Sequence[Topology], gap: Gap | None, readings: tuple[Reading, ...] = ()
) -> None:
    """The steps of the design's topology; where it is not covered what holds for any converter, and holes.

    topologies: the one; all that it may be, where nobody knows it or nobody has written it
    gap: why its stresses are not worked out, None where they are
    """
    for one in topologies if gap is None else ():
        gap = gap or gap_of(context, one)
    if gap is None:
        for one in topologies:
            take_steps(context, one.steps, readings)
        return
    gives = tuple(each for one in topologies for each in one.gives)
    take_steps(context, (TEMPERATURES_CARRIED, START_UP, BULK_STATES), readings)
    context.ledger.step("not covered", lambda: give_holes(context, gives, gap), gap)
    take_steps(context, (COUPLERS,))


def take_steps(context: Context, steps: Iterable[Step], readings: tuple[Reading, ...] = ()) -> None:
    """Take steps in their order; of one that cannot run every row it would have given becomes a hole."""
    handed: Any = None
    for one in steps:
        gap = one.cannot(context, handed) if one.cannot is not None else None
        if gap is not None:
            context.ledger.step(one.name, lambda: give_holes(context, one.gives, gap), gap)  # noqa: B023
            continue
        given = readings if one.with_readings else None
        result = context.ledger.step(one.name, _taken(one, context, handed, readings), given, refines=one.refines)
        if one.hands_on:
            handed = context.ledger.watched(one.name, result)


def _taken(step: Step, context: Context, handed: Any, readings: tuple[Reading, ...]) -> Callable[[], Any]:
    if step.with_readings:
        return lambda: step.run(context, handed, readings)
    return lambda: step.run(context, handed)


_IN_ORDER = (
    "part",
    "output",
    "winding",
    "transformer",
    "circuit",
    "circuit pair",
    "path",
)  # as a person looks for them


def give_holes(context: Context, gives: Iterable[Gives], gap: Gap) -> None:
    """A hole for every row that would have been given, where no other speaks for it: kind by kind of subject."""
    ledger = context.ledger
    rows = dict.fromkeys(row for one in gives for row in one.rows(context))
    places = {subject: place for place, subject in enumerate(dict.fromkeys(subject for subject, _, _ in rows))}

    def order(row: tuple[Subject, QuantityName, Case | None]) -> tuple[int, int, int]:
        subject, _, case = row
        kind = _IN_ORDER.index(subject.kind) if subject.kind in _IN_ORDER else len(_IN_ORDER)
        if subject.kind == "part" and case is None:  # what stands without a case, behind the outputs
            kind = _IN_ORDER.index("output")
        return kind, len(GROUPS) if case is None else GROUPS.index(case.group), places[subject]

    for subject, quantity, case in sorted(rows, key=order):
        if ledger.find(subject, quantity, case) is None:
            ledger.hole(subject, quantity, gap.missing, case=case, note=gap.why)


def gap_of(context: Context, topology: Topology) -> Gap | None:
    """Why a design of a topology that is covered is not worked out all the same, None where it is."""
    return topology.cannot(context) if topology.cannot is not None else None


def not_covered(context: Context, word: str | None, topologies: Sequence[Topology]) -> Gap:
    """Why a converter is not worked out whose topology nobody knows, or nobody has written.

    topologies: all that it may be; where one of them sees on its paths what makes it another stage, that is the reason,
    whatever it is called, and no word would help
    """
    if word is not None:
        return Gap(f"not covered: the stresses of a {word} are not worked out")
    other = next((gap for one in topologies if (gap := gap_of(context, one)) and not gap.missing), None)
    return (
        other
        or _through_a_capacitor(context.structure)
        or Gap("the topology of the converter is not known", (OpenFact(SUPPLY, "supply.topology"),))
    )


def _through_a_capacitor(structure: Structure) -> Gap | None:
    """An output that gets its current through a capacitor in series, of a stage that nobody has written."""
    for name, output in structure.outputs.items():
        switched = any(structure.must_be(one, *FAMILIES["switch"]) for step in output.path for one in step.names)
        for step in output.path if switched else ():
            held = [one for one in step.names if step.how != "across" and structure.must_be(one, *CAPACITORS)]
            if held:
                what = f"{' and '.join(held)} stands in series on the path of {name}"
                return Gap(f"not covered: {what}: a half bridge, or a stage that moves charge through a capacitor")
    return None
