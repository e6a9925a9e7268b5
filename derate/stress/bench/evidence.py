"""Readings held against the computation at their own condition, by the rules of evidence."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import inf, isfinite

from derate.design.readings import SETTLED, Condition, Reading, Test
from derate.design.record import Stated
from derate.design.samples import NOT_WRITTEN, called
from derate.design.structure import Structure
from derate.ledger.entry import SUPPLY, Case, Entry, Mark, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import LINE, CasePlan, Context, part
from derate.terms.bench_terms import BEYOND, WITHIN
from derate.terms.dimension import CELSIUS, NUMBER
from derate.terms.frozen import replace
from derate.terms.quantities import (
    ANY_LOAD,
    COLD_START,
    DIP,
    END_OF_LIFE,
    FAULT,
    FULL_LOAD,
    HOT_RESTART,
    RE_PLUG,
    READING,
    RUNNING,
    SURGE,
    SWITCH_ON,
    UNPLUG,
    CaseGroup,
    Load,
    named,
)
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value, written
from derate.terms.vocabulary import VOCABULARY, said
from derate.terms.words import EVIDENCE

# The condition of a reading as a case of its own: solved by the one way through, with the facts set to it.
#
# Mains, frequency, ambient and load become exact; nothing else changes. Only the running stresses are worked out, and
# those of a switch-on where the reading was taken at one.


class At(NamedTuple):
    """Where a reading stands.

    mains [V], frequency [Hz] (None: the ends of the plate), ambient [degC] or None
    load: full | none | shorted | overload | the currents as text; currents: output and current [A] of a part load
    group: running, or the event it was taken at
    """

    mains: float
    frequency: float | None
    load: str
    ambient: float | None
    group: CaseGroup
    currents: tuple[tuple[str, float], ...] = ()

    @property
    def case(self) -> Case:
        """The case whose row speaks for it in a ledger of its own."""
        load = ANY_LOAD if self.group != RUNNING else FULL_LOAD if self.currents else Load(self.load)
        return Case(self.group, self.mains, self.frequency, load, self.ambient)

    @property
    def read_case(self) -> Case:
        """The case under which the reading itself stands."""
        load = Load(self.load if self.group == RUNNING else self.group)
        return Case(READING, self.mains, self.frequency, load, self.ambient)

    @property
    def words(self) -> str:
        """In words, without the ambient."""
        hertz = f" {written(self.frequency, 4)} Hz" if self.frequency is not None else ""
        load = self.group if self.group != RUNNING else f"{self.load} load" if not self.currents else self.load
        return f"{written(self.mains, 4)} V{hertz}, {load}"


# facts, plan, whether the converter is wanted too -> every row that is worked out
Solve = Callable[[Sequence[Entry], CasePlan, bool], Ledger]


def condition_of(context: Context, reading: Reading) -> At | None:
    """Where a reading stands; None when it does not say enough."""
    return None if reading.condition is None else at_condition(reading.condition)


def at_condition(condition: Condition) -> At | None:
    """A condition as numbers; None when it says no mains voltage, or no load while it runs."""
    mains = _number(condition.mains)
    if mains is None:
        return None
    group = RUNNING
    if condition.switch_on:
        group = HOT_RESTART if condition.switch_on.startswith("hot") else SWITCH_ON
    currents = tuple((name, one) for name, stated in condition.currents if (one := _number(stated)) is not None)
    load = condition.load or " ".join(f"{name} {written(one, 4)} A".strip() for name, one in currents)
    if group != RUNNING:
        load, currents = "", ()
    elif not load:  # at which load nobody said: full load would be the kind reading of a case temperature
        return None
    return At(mains, _number(condition.frequency), load, _number(condition.ambient), group, currents)


def _number(stated: Stated | None) -> float | None:
    return stated.value.middle if stated is not None and isinstance(stated.value, Value) else None


_EVENTS = frozenset((COLD_START, END_OF_LIFE, SWITCH_ON, HOT_RESTART, RE_PLUG, DIP, SURGE, UNPLUG, FAULT))


class _Narrow(CasePlan):
    """The plan of one condition: every axis is the one point, and events have no cases."""

    left_out: frozenset[str] = _EVENTS

    def cases(self, quantities: Iterable[QuantityName], groups: Iterable[CaseGroup]) -> tuple[Case, ...]:
        """As any plan, without the groups left out."""
        return CasePlan.cases(self, quantities, [group for group in groups if group not in self.left_out])


class _Closing(_Narrow):
    left_out = _EVENTS - {SWITCH_ON, HOT_RESTART}


def solved(
    context: Context, facts: Sequence[Entry], at: At, solve: Solve, converter: bool, only: frozenset[str] | None = None
) -> Ledger:
    """The ledger of the design at one condition, without its readings: nothing is held against itself.

    only: the quantities that were read there, where no more than the mains input has to be worked out

    The efficiency found at full load is taken along to conditions at full load; at part load it is assumed.
    """
    plan, wanted = context.plan, (at.mains, at.mains)
    ends = (at.frequency, at.frequency) if at.frequency is not None else _plate_frequency(context) or plan.frequency
    ambient = (at.ambient, at.ambient) if at.ambient is not None else plan.ambient
    kind = _Narrow if at.group == RUNNING else _Closing
    varied = [_set(fact, at) for fact in facts]
    efficiency = context.fact(SUPPLY, "efficiency")
    if not at.currents and efficiency is not None and efficiency.known_by != "stated":
        varied.append(replace(efficiency, quantity="supply.efficiency", case=None))
    narrow = kind(wanted, wanted, ends, ambient, only=None if converter else only, bad_ends=plan.bad_ends)
    return solve(varied, narrow, converter)


def _plate_frequency(context: Context) -> tuple[float, float] | None:
    value = context.value(SUPPLY, "plate.frequency")
    return (value.low, value.high) if value is not None else None


def _set(fact: Entry, at: At) -> Entry:
    """A fact at the condition: load currents as drawn, the mains as read."""
    if fact.quantity == "plate.current" and at.currents:
        drawn = next((one for name, one in at.currents if name in ("", *fact.subject.names)), 0.0)
        return replace(fact, value=Value.exact(drawn))
    if fact.quantity == "plate.mains":
        return replace(fact, value=Value.exact(at.mains))
    if fact.quantity == "site.mains_tolerance":
        return replace(fact, value=Value.exact(0.0))
    if fact.quantity == "site.ambient" and at.ambient is not None:
        return replace(fact, value=Value.exact(at.ambient))
    return fact


# Readings held against the computation, by the rules of evidence, and what they do to computed rows.


# What a reading does to the rows that are computed: governs at its condition, widens elsewhere, proves where none is.
#
# A reading worse than the kind end of the computation widens the computed values at every other condition by the
# greatest factor that any reading of the quantity showed (a difference, for temperatures); nothing is ever narrowed.
# Rows worked out beforehand from a widened one (a life from a ripple current) are not worked out again: while reading
# and computation agree the factor lies within both tolerances, and beyond them the disagreement itself blocks.


SOURCE = "rules of evidence: the worse of reading and computation governs at the reading's condition"


class Weighed(NamedTuple):
    """One reading beside what is computed at its condition (None where nothing could be)."""

    read: Entry
    computed: Entry | None


def worse(one: Value, other: Value, bad: int) -> Value:
    """The worse of two values, number by number."""
    pick = max if bad > 0 else min
    return Value(*(pick(pair) for pair in zip(one.numbers(), other.numbers(), strict=True)))


def _write_again(ledger: Ledger, row: Entry, value: Value, reads: Sequence[Entry], formula: str, mark: Mark) -> Entry:
    return ledger.write(
        row.subject,
        row.quantity,
        value,
        case=row.case,
        known_by="computed",
        formula=formula,
        source=SOURCE,
        inputs=(row.number, *(read.number for read in reads)),
        note=row.note,
        rests_on=row.rests_on.union(*(read.rests_on for read in reads)),
        mark=mark,
    )


def apply(context: Context, found: Sequence[Weighed]) -> None:
    """At its own condition the worse governs; elsewhere the greatest factor any reading showed widens the row."""
    ledger = context.ledger
    by: dict[tuple[Subject, QuantityName], list[Weighed]] = {}
    for one in found:
        by.setdefault((one.read.subject, one.read.quantity), []).append(one)
    moved: dict[tuple[Subject, QuantityName], tuple[float, float, list[Entry]]] = {}
    for (subject, quantity), own in by.items():
        bad = VOCABULARY[quantity].bad or 1
        factor, more, reads = _beyond(own, quantity, bad, _is_one_figure(ledger, subject, quantity))
        if not reads:
            continue
        for other, name, power in _same_current(context, subject, quantity):
            before = moved.get((other, name), (1.0, 0.0, []))
            pick = max if bad > 0 else min
            moved[(other, name)] = (pick(before[0], factor**power), pick(before[1], more), [*before[2], *reads])
    for (subject, quantity), (factor, more, reads) in moved.items():
        bad = VOCABULARY[quantity].bad or 1
        own_cases = {one.computed.case for one in by.get((subject, quantity), ()) if one.computed is not None}
        for row in ledger.rows(subject, quantity):
            if row.case is None or row.case.group in (READING, FAULT) or not isinstance(row.value, Value):
                continue
            if row.known_by == "computed" and row.case not in own_cases:
                _write_again(
                    ledger,
                    row,
                    widened(row.value, factor, more, bad),
                    reads,
                    "computation widened by what a reading showed",
                    "widened",
                )
    for (subject, quantity), own in by.items():
        bad = VOCABULARY[quantity].bad or 1
        for one in own:
            assert one.computed is not None and isinstance(one.read.value, Value)
            row = next((row for row in ledger.rows(subject, quantity) if row.case == one.computed.case), one.computed)
            if isinstance(row.value, Value) and (value := worse(one.read.value, row.value, bad)) != row.value:
                _write_again(ledger, row, value, [one.read], "worse of reading and computation", "worse")


def _beyond(
    own: Sequence[Weighed], quantity: QuantityName, bad: int, over_worse: bool = False
) -> tuple[float, float, list[Entry]]:
    """The greatest factor (or, for temperatures, difference) by which readings are worse than computed, and which.

    The worse end of the reading is held against the better end of the computation: what a wider range can only make
    greater. Against the worse end, a range stated wider would pass for agreement and take the correction off rows that
    do not hang on that range (a ripple at the end of life, whose series resistance is another one).
    """
    point = VOCABULARY[quantity].dimension == CELSIUS
    factor, more, reads = 1.0, 0.0, []
    for one in own:
        assert one.computed is not None
        read, computed = one.read.value, one.computed.value
        assert isinstance(read, Value) and isinstance(computed, Value)
        a, b = (read.far, computed.near) if bad > 0 else (read.near, computed.far)
        if over_worse:
            b = computed.far if bad > 0 else computed.near
        if (a - b) * bad <= 0:
            continue
        if point:
            more = max(more, a - b) if bad > 0 else min(more, a - b)
        else:
            factor = max(factor, _over(a, b)) if bad > 0 else min(factor, _over(a, b))
        reads.append(one.read)
    return factor, more, reads


def _is_one_figure(ledger: Ledger, subject: Subject, quantity: QuantityName) -> bool:
    """Whether one and the same range multiplies a quantity in all its states: the ringing of a diode does.

    Stated wider it takes every state further, so a correction over its worse end betters none; and where the ringing is
    made from the very reading, a correction over the kind end would count it twice.
    """
    return quantity == "reverse_voltage" and bool(ledger.rows(subject, "part.ringing"))


def _over(a: float, b: float) -> float:
    """A quotient of what is nought and more: over nought, and of an open end, there is no telling how much it is."""
    if a <= 0.0:  # of a sense that turns round no factor tells anything, and nought is nothing of anything
        return 0.0
    return inf if b <= 0.0 or a == inf else a / b


def widened(value: Value, factor: float, more: float, bad: int) -> Value:
    """A value with its bad end moved by a factor, or by a difference for temperatures; never to its good side."""
    if bad > 0:
        far, high = (max(one, one * factor + more if one else more) for one in (value.far, value.high))
        return Value(value.low, value.near, far, high)
    low, near = (min(one, one * factor + more if one else more) for one in (value.low, value.near))
    return Value(low, near, value.far, value.high)


def _same_current(
    context: Context, subject: Subject, quantity: QuantityName
) -> tuple[tuple[Subject, QuantityName, float], ...]:
    """What else moves with a quantity, and with which power: the mains current flows through every part in series."""
    own: tuple[tuple[Subject, QuantityName, float], ...] = ((subject, quantity, 1.0),)
    mains = context.structure.inlet
    if mains is None:
        return own
    series = [part(name) for name in mains.series]
    if (subject, quantity) == (SUPPLY, "mains_current") or (quantity == "current_rms" and subject in (LINE, *series)):
        through: list[tuple[Subject, QuantityName, float]] = [(one, "current_rms", 1.0) for one in (LINE, *series)]
        heats: list[tuple[Subject, QuantityName, float]] = [(one, "power", 2.0) for one in series]
        return tuple(dict.fromkeys([*own, (SUPPLY, "mains_current", 1.0), *through, *heats]))
    return own


def prove(ledger: Ledger, read: Entry) -> None:
    """Where the computation has a hole the reading still proves itself: a floor, that no pass can rest on."""
    if not isinstance(read.value, Value) or read.case is None:
        return
    bad = VOCABULARY[read.quantity].bad
    if bad <= 0 or VOCABULARY[read.quantity].dimension == CELSIUS:
        return
    for row in ledger.rows(read.subject, read.quantity):
        case = row.case
        if case is None or row.value is not None or case.group != RUNNING:
            continue
        within = (case.mains is None or (read.case.mains or inf) <= case.mains) and case.load in ("", read.case.load)
        if within:  # more mains is never less stress for what is worked out at the highest mains
            ledger.write(
                row.subject,
                row.quantity,
                Value.floor(read.value.near),
                case=case,
                known_by="computed",
                formula="at least what was read",
                source=SOURCE,
                inputs=(row.number, read.number),
                note=row.note,
                missing=row.missing,
                rests_on=row.rests_on | read.rests_on,
                mark="floor",
            )


# Readings held against the computation, by the rules of evidence.
#
# A reading belongs to its condition, which is solved like any case (further above). There the worse of reading and
# computation governs and both rows stand. Apart beyond both tolerances is a row of its own that a rule judges. A
# reading worse than the computation widens the computed values at other conditions by the same factor; where nothing
# could be computed it proves at least itself. Temperatures are carried by the ambient (`life.py`), and only compared
# here.


# What an instrument is called in the packs, by what it reads; all else is read with a meter.
_SCOPE = ("voltage_peak", "voltage_min", "current_peak", "ripple", "i2t", "energy", "reverse_voltage", "frequency")
# A scope sees the spikes of stray inductance too, which the ripple worked out leaves out (circuit/output_stage.py):
# more than computed is then no disagreement, less is. The reading still governs.
_WITHOUT_SPIKES = ("ripple",)


def weigh(context: Context, facts: Sequence[Entry], readings: Iterable[Reading], solve: Solve) -> None:
    """Hold every reading against what is computed at its condition, and let it widen what is computed elsewhere.

    facts: of the design, which the conditions vary; solve: works out a ledger for facts and a plan
    """
    solved_at: dict[tuple[At, bool], Ledger] = {}
    told: dict[str, int] = {}
    found: list[Weighed] = []
    readings = tuple(readings)
    for reading in readings:
        at = condition_of(context, reading)
        subject = subject_of(context, reading)
        about = about_of(reading, at, told)
        if at is None or subject is None:
            _not_compared(context, about, reading, "no such part" if subject is None else "its condition is not known")
            continue
        if not isinstance(reading.stated.value, Value):
            _not_compared(context, about, reading, "no figure was read")
            continue
        quantity = named(reading.quantity)
        if at.load in ("shorted", "overload"):
            short = at.load == "shorted"
            why = "a short is a fault, not a load" if short else "held just below shut-down: no load that is worked out"
            _not_compared(context, about, reading, why)
            continue
        computed = None
        if is_computed := _is_computed(context.ledger, subject, quantity, at):
            computed = _corner(context.ledger, subject, quantity, at)
            if computed is None:
                key = (at, not _of_line(context, subject))
                if key not in solved_at:
                    solved_at[key] = solved(context, facts, at, solve, key[1], _read_at(context, readings, at))
                row = solved_at[key].find(subject, quantity, at.case)
                computed = _taken_over(context.ledger, row, at) if row is not None else None
        read = _read(context, reading, subject, at)
        if not is_computed:
            _not_compared(context, about, reading, "not worked out here")
            continue
        _compare(context.ledger, about, reading, read, computed)
        found.append(Weighed(read, computed))
    alone = [one.read for one in found if one.computed is None or not isinstance(one.computed.value, Value)]
    for read in sorted(alone, key=_near, reverse=True):  # the most of several: a hole is filled once
        prove(context.ledger, read)
    apply(context, [one for one in found if one.computed is not None and isinstance(one.computed.value, Value)])


def _near(row: Entry) -> float:
    return row.value.near if isinstance(row.value, Value) else -inf


def _read_at(context: Context, readings: Iterable[Reading], at: At) -> frozenset[str]:
    """The quantities that were read at one condition."""
    return frozenset(one.quantity for one in readings if condition_of(context, one) == at)


def subject_of(context: Context, reading: Reading) -> Subject | None:
    """What a reading is of; None when the name is nothing of this design."""
    name, structure = reading.target, context.structure
    outputs = {one.names[0] for one in context.ledger.subjects("output")}
    if not name:
        if reading.quantity in ("voltage", "ripple") and len(outputs) == 1:
            return Subject("output", (next(iter(outputs)),))
        return SUPPLY
    if name in outputs:
        return Subject("output", (name,))
    if name in structure.kinds:
        return part(name)
    if name in structure.windings:
        return Subject("winding", (name,))
    if any(one.partition(".")[0] == name for one in structure.windings):
        return Subject("transformer", (name,))
    if name == "enclosure":
        return SUPPLY
    return Subject("barrier", (name,)) if Subject("barrier", (name,)) in context.ledger.subjects("barrier") else None


def is_of_parts(structure: Structure, reading: Reading) -> bool:
    """Whether a temperature is of a part or a transformer; that of the enclosure or of nothing known feeds no part."""
    if VOCABULARY[reading.quantity].dimension != CELSIUS:
        return True
    known = {*structure.kinds, *structure.windings, *(name.partition(".")[0] for name in structure.windings)}
    return reading.target in known


def _of_line(context: Context, subject: Subject) -> bool:
    """Whether a subject is worked out with the mains input alone, which spares solving the converter again."""
    mains = context.structure.mains
    if context.structure.own_inlet is not None:
        return False  # its line is worked out with the topology
    if mains is None or subject in (SUPPLY, LINE):
        return True
    return subject.kind == "part" and subject.names[0] in (*mains.series, *mains.rectifier, *mains.behind, *mains.choke)


def about_of(reading: Reading, at: At | None, named: dict[str, int]) -> Subject:
    """The subject of the reading itself: what of what, where."""
    of = f" of {reading.target}" if reading.target else ""
    where = f" at {at.words}" if at is not None else " at a condition that is not known"
    name = f"{VOCABULARY[reading.quantity].says}{of}{where}{which(reading)}"
    named[name] = named.get(name, 0) + 1
    return Subject("reading", (name if named[name] == 1 else f"{name} ({named[name]})",))


def which(one: Reading | Test) -> str:
    """Which sample it is of, and that it was tried again, as it follows a name; '' for the only one."""
    return called(one.sample, one.retest)


def open_sample(about: Subject) -> OpenFact:
    """What is open of a reading or a test that nobody wrote down of one sample."""
    return OpenFact(about, NOT_WRITTEN)


def _not_compared(context: Context, about: Subject, reading: Reading, why: str) -> None:
    context.ledger.write(
        about,
        "reading.compared",
        Category.of("no"),
        known_by="computed",
        place=reading.stated.place,
        note=why,
        formula="reading against computation",
        source=SOURCE,
    )


def weakest(words: Iterable[str]) -> str:
    """The least sure of several ways of knowing; measured of none."""
    return max(words, key=EVIDENCE.index, default="measured")


def open_unseen(about: Subject, reading: Reading) -> OpenFact:
    """What is open of a reading that nobody took with an instrument."""
    return OpenFact(about, f"an instrument it was read with (known_by: measured), it being {reading.known}")


ON_THE_WAY = "at least what was read: nobody says that it had settled (after: an hour, or steady)"


def with_uncertainty(context: Context, reading: Reading) -> tuple[Value | None, frozenset[OpenFact], str]:
    """A reading with the uncertainty of its instrument, what that rests on, and a note; None when it is no number.

    A temperature that is not said to have settled is at least what was read.
    """
    value, rests, note = _as_read(context, reading)
    if value is None or not reading.is_on_the_way:
        return value, rests, note
    return reading.at_least(value), rests, ON_THE_WAY


def _as_read(context: Context, reading: Reading) -> tuple[Value | None, frozenset[OpenFact], str]:
    value = reading.stated.value
    if not isinstance(value, Value):
        return None, frozenset(), ""
    if not value.is_exact or reading.unseen:
        return value, frozenset(), ""
    point = VOCABULARY[reading.quantity].dimension == CELSIUS
    name = "instrument_uncertainty" + ("_temperature" if point else "_scope" if reading.quantity in _SCOPE else "")
    assumed = context.assumptions.get(name)
    if assumed is None:
        return value, frozenset(), "no uncertainty of the instrument is stated, and no pack assumes one"
    by = assumed.value.high if point else abs(value.near) * assumed.value.high
    fact = OpenFact(None, f"uncertainty of the {said(reading.quantity)} read")
    rests = frozenset((fact,)) if assumed.rests else frozenset()
    return Value.between(value.near - by, value.far + by), rests, assumed.says


def _read(context: Context, reading: Reading, subject: Subject, at: At) -> Entry:
    """The row of the reading itself."""
    value, rests, note = with_uncertainty(context, reading)
    return context.ledger.write(
        subject,
        named(reading.quantity),
        value,
        case=at.read_case,
        known_by=reading.known,
        place=reading.stated.place,
        note="; ".join(one for one in (reading.stated.note, note) if one),
        missing=unsettled(subject, [reading]),
        rests_on=rests,
    )


def unsettled(subject: Subject, readings: Iterable[Reading]) -> tuple[OpenFact, ...]:
    """What is open of temperatures that nobody says had settled."""
    names = {one.quantity for one in readings if one.is_on_the_way}
    return tuple(OpenFact(subject, name, SETTLED) for name in sorted(names))


def _is_computed(ledger: Ledger, subject: Subject, quantity: QuantityName, at: At) -> bool:
    """Whether this quantity is worked out for this group of cases and this load, at any case."""
    if subject.kind == "output" and quantity == "voltage":  # taken from the plate; regulation is judged instead
        return False
    rows = [row for row in ledger.rows(subject, quantity) if row.case is not None and row.case.group == at.group]
    if VOCABULARY[quantity].dimension == CELSIUS:  # a carried reading is no computation
        rows = [row for row in rows if row.mark != "carried" and row.value is not None]
    if at.load == "none":  # what is worked out at full load says nothing of no load
        rows = [row for row in rows if row.case is not None and row.case.load in ("none", "")]
    return any(row.known_by in ("computed", "assumed") for row in rows)


def _corner(ledger: Ledger, subject: Subject, quantity: QuantityName, at: At) -> Entry | None:
    """The row worked out already when the reading stands at a corner of it."""
    for row in ledger.rows(subject, quantity):
        case = row.case
        if case is None or case.group != at.group or case.load not in ("", at.load) or row.known_by != "computed":
            continue
        if (
            case.mains in (None, at.mains)
            and case.frequency in (None, at.frequency)
            and case.ambient in (None, at.ambient)
        ):
            return row
    return None


def _taken_over(ledger: Ledger, found: Entry, at: At) -> Entry:
    """A row of the reading's own condition, in the ledger of the design. Its inputs stand in no ledger any more."""
    return ledger.write(
        found.subject,
        found.quantity,
        found.value,
        case=at.case,
        missing=found.missing,
        known_by="computed",
        formula=found.formula,
        source=found.source,
        note=found.note,
        rests_on=found.rests_on,
        mark=found.mark,
    )


def _compare(ledger: Ledger, about: Subject, reading: Reading, read: Entry, computed: Entry | None) -> None:
    """Write that it was compared and what came of it; nothing of the computed rows is changed yet."""
    ledger.write(
        about,
        "reading.compared",
        Category.of("yes"),
        known_by="computed",
        place=reading.stated.place,
        formula="reading against computation",
        source=SOURCE,
        inputs=(read.number,),
    )
    worked = computed.value if computed is not None else None
    if reading.unread:
        ledger.hole(about, "reading.agreement", (open_sample(about),))
        return
    if computed is not None and isinstance(worked, Value) and isinstance(read.value, Value):
        _agreement(ledger, about, read, computed)
        return
    told = computed.missing if computed is not None else ()
    why = computed.note if computed is not None else "not worked out at this condition"
    ledger.hole(about, "reading.agreement", told, note="" if told else why or "the reading is no figure")


def _agreement(ledger: Ledger, about: Subject, read: Entry, computed: Entry) -> None:
    """How far apart, and whether beyond both tolerances, in words with both figures."""
    one, other = read.value, computed.value
    assert isinstance(one, Value) and isinstance(other, Value)
    if read.quantity in _WITHOUT_SPIKES:
        other = Value(other.low, other.near, inf, inf)
    gap = apart(one, other)
    unit = (VOCABULARY[read.quantity].dimension or NUMBER).symbol
    figures = f"{_ends(one)} {unit} read, {_ends(other)} {unit} worked out"
    inputs = (read.number, computed.number)
    common = {"formula": "reading against computation", "source": SOURCE, "known_by": "computed"}
    ledger.write(about, "reading.apart", Value.exact(gap), inputs=inputs, **common)  # type: ignore[arg-type]
    word = Category((WITHIN,)) if gap <= 1.0 else Category((BEYOND,), figures)
    ledger.write(about, "reading.agreement", word, inputs=inputs, note=figures, **common)  # type: ignore[arg-type]


def _ends(value: Value) -> str:
    """The outer ends of a value at three digits; words of a report are made elsewhere, this is a plain note."""
    return f"{written(value.low)}" if value.is_exact else f"{written(value.low)} to {written(value.high)}"


def apart(one: Value, other: Value) -> float:
    """Distance of two values over the sum of their half widths [–]: up to 1 they touch or overlap.

    An open end reaches everything on its side.
    """
    if one.low <= other.high and other.low <= one.high:
        widths = (one.high - one.low + other.high - other.low) / 2.0
        if widths == 0.0 or not isfinite(widths):
            return 0.0
        return min(1.0, abs((one.low + one.high) - (other.low + other.high)) / 2.0 / widths)
    widths = (one.high - one.low + other.high - other.low) / 2.0
    if not isfinite(widths):  # beyond the closed end of an open value
        return 2.0
    middle = abs((one.low + one.high) - (other.low + other.high)) / 2.0
    return max(middle / widths, 1.0 + 1e-9) if widths else 1e9
