"""What every stress module works with: cases of a design, structure, ledger, assumptions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, product
from math import inf
from types import MappingProxyType
from typing import Protocol

from derate.design.structure import Element, Group, Leaf, Structure
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.terms.quantities import (
    ANY_LOAD,
    BROWN_OUT,
    COLD_START,
    DIP,
    END_OF_LIFE,
    FULL_LOAD,
    HOT_RESTART,
    NO_LOAD,
    RE_PLUG,
    RUNNING,
    SURGE,
    SWITCH_ON,
    CaseGroup,
    Load,
    each,
)
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Curve, Value

# The case plan: which cases a design has, and at which of them each quantity has to be worked out.
#
# Decided from facts alone, before anything is solved. Each quantity declares, for each group of cases, which axes it
# depends on and which end of each is bad: '+' the greatest, '-' the least, 'b' both ends (no single sign), '' no
# influence. The signs are those proved beside the solvers in `derate.circuit`.


EVERY_MAINS = (50.0, 60.0)
HERTZ_WIDENING = (-3.0, 3.0)  # 50..60 Hz on the plate is 47..63 Hz at the socket (test frequencies of the trade)


class Axes(NamedTuple):
    """Bad ends of mains voltage, mains frequency and ambient, and the loads at which a quantity is worked out."""

    mains: str = ""
    frequency: str = ""
    ambient: str = ""
    loads: tuple[Load, ...] = (ANY_LOAD,)


_FULL = (FULL_LOAD,)
# group -> quantity -> axes. A quantity that is not listed for a group is never worked out there.
BadEnds = Mapping[CaseGroup, Mapping[QuantityName, Axes]]
# Of what the mains input, the bench and the parts of any supply give; what a topology gives stands in its folder.
AXES: dict[CaseGroup, dict[QuantityName, Axes]] = {
    RUNNING: {
        "voltage_peak": Axes("+", "", "", (NO_LOAD, FULL_LOAD)),
        "voltage_min": Axes("-", "-", "", _FULL),
        "load_carried": Axes("-", "-", "", _FULL),
        "current_rms": Axes("-", "b", "", _FULL),
        "current_peak": Axes("-", "b", "", _FULL),  # with inductance ahead it rings: no single sign
        "current_average": Axes("-", "-", "", _FULL),
        "ripple_current": Axes("-", "b", "", _FULL),
        "reverse_voltage": Axes("+", "", "", (NO_LOAD,)),
        "power": Axes("-", "b", "", _FULL),
        "power_drawn": Axes("", "", "", _FULL),
        "mains_current": Axes("-", "b", "", _FULL),
        "air_temperature": Axes("", "", "+", ()),
        "case_temperature": Axes("", "", "+", ()),
        "junction_temperature": Axes("", "", "+", ()),
        "allowed.power": Axes("", "", "+", ()),
        "allowed.current": Axes("", "", "+", ()),
        "allowed.ripple_current": Axes("", "", "+", ()),
        "voltage_rms": Axes("+", "", "", (ANY_LOAD,)),
        "voltage_one_shorted": Axes("+", "", "", (ANY_LOAD,)),
        "power_one_shorted": Axes("+", "", "", (ANY_LOAD,)),
        "touch_current": Axes("+", "+", "", (ANY_LOAD,)),
        "touch_current_peak": Axes("+", "+", "", (ANY_LOAD,)),
        "prospective_current": Axes("+", "", "", (ANY_LOAD,)),
        "led_current": Axes(),
        "coupled_current": Axes(),
        "coupled_current_needed": Axes(),
        "life": Axes("", "", "+", ()),
        "cell_voltage": Axes("+", "", "", (NO_LOAD,)),
        "cell_voltage_lost": Axes("+", "", "", (NO_LOAD,)),
        "core_temperature": Axes("", "", "+", ()),
        "winding_temperature": Axes("", "", "+", ()),
    },
    # Switched on after a night at the coldest ambient: the capacitors are as cold as the site, all else as running.
    COLD_START: {"voltage_min": Axes("-", "-", "-", _FULL), "load_carried": Axes("-", "-", "-", _FULL)},
    # Every capacitor at the limits its maker ends its life at.
    END_OF_LIFE: {"voltage_min": Axes("-", "-", "", _FULL), "load_carried": Axes("-", "-", "", _FULL)},
    BROWN_OUT: {
        "power": Axes("-", "b", "", _FULL),
        "current_rms": Axes("-", "b", "", _FULL),
        "mains_current": Axes("-", "b", "", _FULL),
        "allowed.power": Axes("", "", "+", ()),
        "allowed.current": Axes("", "", "+", ()),
    },
    SWITCH_ON: {
        name: Axes("+", "-", "+", (ANY_LOAD,))
        for name in each(
            "current_peak",
            "i2t",
            "energy",
            "pulse_width",
            "pulse_power",
            "voltage_surge",
            "allowed.pulse_energy",
            "allowed.pulse_power",
            "allowed.i2t",
            "allowed.surge_current",
            "allowed.surge_i2t",
        )
    },
}
# Events that the same stresses follow; each adds its own conditions where it is worked out.
for _event in (HOT_RESTART, RE_PLUG, DIP, SURGE):
    AXES[_event] = dict(AXES[SWITCH_ON])
# A dip is deeper in proportion at the lowest mains and starts from more at the highest: both are run.
AXES[DIP] = {name: Axes("b", "-", "+", (ANY_LOAD,)) for name in AXES[SWITCH_ON]}
AXES[SURGE]["clamping_voltage"] = AXES[SURGE]["current_peak"]
# Where the site says how long it stands in which heat a life is averaged over that, and has one case without ambient.
HOURS = Load("hours of the site")
AVERAGED = Axes("", "", "", (HOURS,))


def united(tables: Iterable[BadEnds]) -> BadEnds:
    """Several tables as one: where two name another end of an axis for a quantity, both ends are run.

    A quantity that only one of them lists has its ends there.
    """
    found: dict[CaseGroup, dict[QuantityName, Axes]] = {}
    for table in tables:
        for group, rows in table.items():
            own = found.setdefault(group, {})
            for quantity, axes in rows.items():
                known = own.get(quantity)
                own[quantity] = axes if known is None or known == axes else _both(known, axes)
    return found


def _both(one: Axes, other: Axes) -> Axes:
    loads = (*one.loads, *(load for load in other.loads if load not in one.loads))
    mains, frequency = _widest(one.mains, other.mains), _widest(one.frequency, other.frequency)
    return Axes(mains, frequency, _widest(one.ambient, other.ambient), loads)


def _widest(one: str, other: str) -> str:
    """The sign of an axis that covers two: an axis only one of them depends on is run at that one's end."""
    return one if one == other or not other else other if not one else "b"


class CasePlan(NamedTuple):
    """The ends of every axis for one design; an empty axis makes cases impossible ("None → not assessed").

    mains: least and greatest rms voltage at the socket [V], tolerance included, and the plate's own ends
    brown_out: lowest mains at which the converter still runs [V], None when nobody knows
    only: the quantities that have cases at all, for the plan of one reading; None for every one
    averaged: a life is averaged over the hours of the site
    bad_ends: of every quantity, those of the design's topology with them
    """

    mains: tuple[float, float] | None
    plate: tuple[float, float] | None
    frequency: tuple[float, float] | None
    ambient: tuple[float, float] | None
    brown_out: tuple[float, float] | None = None
    extra: Mapping[str, tuple[Case, ...]] = MappingProxyType({})
    only: frozenset[str] | None = None
    averaged: bool = False
    bad_ends: BadEnds = MappingProxyType(AXES)

    def cases(self, quantities: Iterable[QuantityName], groups: Iterable[CaseGroup]) -> tuple[Case, ...]:
        """All cases of these groups at which a comparison of these quantities has to hold."""
        wanted = tuple(quantities)
        if self.only is not None and not self.only.intersection(wanted):
            return ()
        found: dict[Case, None] = {}
        for group in groups:
            listed = self.bad_ends.get(group, {})
            axes = [self._axes(group, name) or listed[name] for name in wanted if name in listed]
            if not axes:
                found.update(dict.fromkeys(self.extra.get(group, ())))
                continue
            loads = tuple(dict.fromkeys(load for one in axes for load in one.loads if load)) or (ANY_LOAD,)
            mains = self._mains(group, [one.mains for one in axes])
            frequency = _ends([one.frequency for one in axes], self.frequency)
            ambient = _ends([one.ambient for one in axes], self.ambient)
            if mains is None or frequency is None:
                found[Case(group)] = None  # an end of an axis is unknown: one bare case, whose rows are holes
                continue
            if ambient is None:
                ambient = (None,)
            for v, f, t, load in product(mains, frequency, ambient, loads):
                widened = v is not None and self.plate is not None and not self.plate[0] <= v <= self.plate[1]
                found[Case(group, v, f, load, t, widened)] = None
        return tuple(found)

    def _axes(self, group: CaseGroup, quantity: QuantityName) -> Axes | None:
        if self.averaged and group == RUNNING and quantity == "life":
            return AVERAGED
        return self.bad_ends.get(group, {}).get(quantity)

    def _mains(self, group: CaseGroup, signs: list[str]) -> tuple[float | None, ...] | None:
        return _ends(signs, self.brown_out if group == BROWN_OUT else self.mains)

    def lacking(self, group: CaseGroup) -> tuple[OpenFact, ...]:
        """The facts without which a group has no case."""
        missing = []
        if self.mains is None:
            missing.append(OpenFact(SUPPLY, "plate.mains"))
        if self.frequency is None:
            missing.append(OpenFact(SUPPLY, "plate.frequency"))
        if group == BROWN_OUT and self.brown_out is None:
            missing.append(OpenFact(SUPPLY, "supply.runs_down_to"))
        return tuple(missing)

    def project(self, quantity: QuantityName, case: Case) -> Case:
        """The case whose row speaks for a quantity at `case`: axes without influence dropped, the bad end taken."""
        axes = self._axes(case.group, quantity)
        if axes is None or (self.lacking(case.group) and (axes.mains or axes.frequency)):
            return Case(case.group) if axes is not None else case
        ends = self.brown_out if case.group == BROWN_OUT else self.mains
        mains = _projected(axes.mains, case.mains, ends)
        load = (case.load if case.load in axes.loads else axes.loads[0]) if axes.loads else ANY_LOAD
        widened = mains is not None and self.plate is not None and not self.plate[0] <= mains <= self.plate[1]
        return Case(
            case.group,
            mains,
            _projected(axes.frequency, case.frequency, self.frequency),
            load,
            _projected(axes.ambient, case.ambient, self.ambient),
            widened,
            case.fault,
        )


def _ends(signs: list[str], ends: tuple[float, float] | None) -> tuple[float | None, ...] | None:
    """The ends of an axis that these signs ask for; (None,) when none does; None when the axis is unknown."""
    wanted = "".join(signs)
    if not wanted:
        return (None,)
    if ends is None:
        return None
    low, high = ends
    found = []
    if "-" in wanted or "b" in wanted:
        found.append(low)
    if "+" in wanted or "b" in wanted:
        found.append(high)
    return tuple(dict.fromkeys(found))


def _projected(sign: str, at: float | None, ends: tuple[float, float] | None) -> float | None:
    if sign == "" or ends is None:
        return None
    if sign == "+":
        return ends[1]
    if sign == "-":
        return ends[0]
    return at if at in ends else ends[0]


# What every stress module works with: structure, ledger, plan, assumptions, and the ways to ask for a fact.


Inputs = dict[str, Entry | Value | float]  # of a model, by name
LINE = Subject("path", ("line",))
BULK = Subject("path", ("bulk",))
BARRIER = Subject("circuit pair", ("primary", "secondary"))
AUXILIARY_RAIL = Subject("circuit", ("auxiliary",))  # what supplies the controller while it runs


class Assumed(Protocol):
    """An assumption as a pack gives it."""

    @property
    def value(self) -> Value:
        """The range, as given."""

    @property
    def bounded(self) -> Value:
        """The range with the end that bounds nothing left open."""

    @property
    def rests(self) -> bool:
        """Whether a pass that needs it rests on something nobody has looked at."""

    @property
    def source(self) -> str:
        """Where the range comes from."""

    @property
    def says(self) -> str:
        """What is assumed."""


def part(name: str) -> Subject:
    """The subject of a part."""
    return Subject("part", (name,))


class Context(NamedTuple):
    """One run: what is joined to what, the rows so far, the cases, the assumptions of the packs."""

    structure: Structure
    ledger: Ledger
    plan: CasePlan
    assumptions: Mapping[str, Assumed]

    def fact(self, subject: Subject, name: QuantityName, case: Case | None = None) -> Entry | None:
        """A row that exists, None otherwise."""
        return self.ledger.find(subject, name, case)

    def need(self, subject: Subject, name: QuantityName, case: Case | None = None) -> Entry:
        """A row, or a hole that names the fact which is missing."""
        return self.fact(subject, name, case) or self.ledger.hole(subject, name, (OpenFact(subject, name),), case=case)

    def value(self, subject: Subject, name: QuantityName, case: Case | None = None) -> Value | None:
        """The value of a row, None when there is none or it is no plain value."""
        entry = self.fact(subject, name, case)
        return entry.value if entry is not None and isinstance(entry.value, Value) else None

    def word(self, subject: Subject, name: QuantityName) -> str | None:
        """The one word of a fact."""
        return one_word(self.fact(subject, name))

    def curve(self, subject: Subject, name: QuantityName) -> Curve | None:
        """The curve of a fact."""
        entry = self.fact(subject, name)
        return entry.value if entry is not None and isinstance(entry.value, Curve) else None

    def assume(self, name: str, subject: Subject, quantity: QuantityName) -> Entry:
        """Write an assumption of the packs as a row for a subject; a hole when no pack makes it.

        Only an assumption whose used end bounds what is physically possible can carry a critical pass.
        """
        found = self.assumptions.get(name)
        if found is None:
            return self.ledger.hole(subject, quantity, (OpenFact(subject, quantity),), note=f"no pack assumes {name}")
        rests = frozenset((OpenFact(subject, quantity),)) if found.rests else frozenset()
        return self.ledger.write(
            subject, quantity, found.bounded, known_by="assumed", source=found.source, note=found.says, rests_on=rests
        )


def one_word(entry: Entry | None) -> str | None:
    """The one word of a row; None where it is no word, or several."""
    return entry.value.word if entry is not None and isinstance(entry.value, Category) else None


def repeated(context: Context, row: Entry, case: Case, subject: Subject | None = None) -> Entry:
    """The same row at another case, or of another subject that carries the same."""
    return context.ledger.write(
        subject or row.subject,
        row.quantity,
        row.value,
        case=case,
        missing=row.missing,
        known_by=row.known_by,
        formula=row.formula,
        source=row.source,
        inputs=row.inputs,
        note=row.note,
        rests_on=row.rests_on,
    )


def carried(
    context: Context, row: Entry, case: Case | None, subject: Subject, quantity: QuantityName | None = None
) -> Entry:
    """What a row says, said of another subject that carries it, traced to that row; quantity: where it differs."""
    return context.ledger.write(
        subject,
        quantity or row.quantity,
        row.value,
        case=case,
        missing=row.missing,
        known_by=row.known_by,
        formula=row.formula,
        source=row.source,
        inputs=(row.number,),
        note=row.note,
        rests_on=row.rests_on,
    )


def sized(context: Context, row: Entry) -> Entry:
    """The size of a voltage as a standing row: a negative rail counts by it, as does the output of a buck-boost."""
    if not isinstance(row.value, Value) or row.value.low >= 0.0:
        return row
    low, near, far, high = sorted(abs(end) for end in row.value.numbers())
    return context.ledger.write(
        row.subject,
        row.quantity,
        Value(low, near, far, high),
        case=Case("converter"),
        known_by=row.known_by,
        inputs=(row.number,),
        place=row.place,
        rests_on=row.rests_on,
        formula="size of the voltage",
        source="definition",
    )


def curve_at(curve: Curve, condition: float, below: bool = True) -> Value | None:
    """Read a curve at a condition, in a straight line between points.

    Below the first point the first value holds where `below` says so (a rating does not grow when it gets colder);
    above the last nothing is known, except that a rating which has reached zero stays there.
    """
    points = curve.points
    if condition < points[0][0]:
        return points[0][1] if below else None
    for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False):
        if x0 <= condition <= x1:
            share = (condition - x0) / (x1 - x0)
            pairs = zip(y0.numbers(), y1.numbers(), strict=True)
            return Value(*accumulate((_between(*pair, share) for pair in pairs), max))  # rounding may let them fall
    last, value = points[-1]
    if condition == last or value.high == 0.0:
        return value
    return None


def _between(start: float, end: float, share: float) -> float:
    """A figure between two others; at the points themselves theirs, between them open where one of them is."""
    if share <= 0.0 or start == end:
        return start
    return end if share >= 1.0 else start + share * (end - start) if start < inf else inf


def in_series_and_parallel(element: Element, values: Mapping[str, Value], capacitors: bool) -> Value | None:
    """One value of an element: resistances and inductances add in series, capacitances in parallel."""
    if isinstance(element, Leaf):
        return values.get(element.name)
    parts = [in_series_and_parallel(member, values, capacitors) for member in element.members]
    if any(value is None for value in parts):
        return None
    known = [value for value in parts if value is not None]
    adds = (element.joined == "parallel") == capacitors
    return summed(known) if adds else _reciprocal(known)


def summed(values: Iterable[Value]) -> Value:
    """The sum, end by end."""
    numbers = [value.numbers() for value in values]
    return Value(*(sum(column) for column in zip(*numbers, strict=True))) if numbers else Value.exact(0.0)


def _reciprocal(values: Iterable[Value]) -> Value | None:
    numbers = [value.numbers() for value in values]
    if any(min(row) <= 0 for row in numbers):
        return None
    return Value(*(_in_parallel(column) for column in zip(*numbers, strict=True)))


def _in_parallel(column: Sequence[float]) -> float:
    conductance = sum(1.0 / one for one in column)  # nothing conducts where every one may be without bound
    return 1.0 / conductance if conductance > 0.0 else inf


def only(element: Element, names: tuple[str, ...]) -> Element | None:
    """The element with everything but some names taken out; None when nothing is left."""
    if isinstance(element, Leaf):
        return element if element.name in names else None
    kept = tuple(found for member in element.members if (found := only(member, names)) is not None)
    if not kept:
        return None
    return kept[0] if len(kept) == 1 else Group(element.joined, kept)
