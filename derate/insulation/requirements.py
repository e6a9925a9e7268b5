"""Requirements of a design's insulation: every barrier, part body, path over the core, transformer and bridging part.

`require(context)` runs after the stresses: it reads design, ledger and tables of each loaded family, and writes rows
only. Whatever is not known becomes a hole that names the fact.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import partial
from itertools import combinations
from math import inf
from typing import TypeVar

from derate.design.blocks import Barrier
from derate.design.load import Design
from derate.insulation.bridging import body_paths, bridge_rows, names_part, to_earth
from derate.insulation.circuits import (
    UNKNOWN_ROLE,
    End,
    Need,
    Protection,
    Site,
    end_of,
    need_of,
    not_isolated,
    protection_of,
    site_rows,
)
from derate.insulation.distances import Family, families_of
from derate.insulation.found import (
    barrier_voltages,
    earth_voltages,
    found_rows,
    largest_voltages,
    mains_voltages,
    summed,
)
from derate.insulation.looks import inspection_rows, other_breakdowns, strength_tests, tape_tests, withstand_row
from derate.insulation.needed import Voltages, distance_rows, insulation_row
from derate.insulation.pairs import paths_of_role, strength_row, weakest_rows
from derate.insulation.row import Writer, on_paper
from derate.insulation.touch import plug_rows, touch_rows
from derate.insulation.transformer import core_rows, transformer_rows
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs
from derate.terms.quantities import each, named
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value

_T = TypeVar("_T")
COUPLER_STANDARD = "IEC 60747-5-5"  # optocouplers: their inside is proved by its tests, whatever its thickness
PRIMARY_TO_SECONDARY = Subject("circuit pair", ("primary", "secondary"))


class Context(NamedTuple):
    """What requirements are worked out from: the ledger after the stresses, the design, the loaded packs."""

    ledger: Ledger
    design: Design
    packs: Packs


def require(context: Context) -> None:
    """Write every requirement row. With packs of several families each row carries the name of its family, which the
    rules of that family read; the plain names are holes that say so: families never mix in one verdict. What was looked
    at is of no family, and stands there without one."""
    families = families_of(context.packs)
    apart = len(families) > 1
    for family in families:
        _Run(context, Writer(context.ledger, family, apart, {})).write()
    context.ledger.step("inspection", lambda: inspection_rows(context.ledger, context.design))
    if apart:
        context.ledger.step("plain names", lambda: _plain_holes(context.ledger, families), whole=True)


def _plain_holes(ledger: Ledger, families: tuple[Family, ...]) -> None:
    names = " and ".join(family.name for family in families)
    endings = tuple(f" in {family.name}" for family in families)
    note = f"packs of several families are loaded ({names}): judge with one of them at a time"
    done: set[tuple[Subject, str]] = set()
    for entry in tuple(ledger.entries):
        for ending in endings:
            if not entry.quantity.endswith(ending):
                continue
            plain = named(entry.quantity.removesuffix(ending))
            if (entry.subject, plain) not in done:
                done.add((entry.subject, plain))
                if ledger.find(entry.subject, plain) is None:
                    ledger.hole(entry.subject, plain, (), note=note)


class _Run(NamedTuple):
    """One family's pass over a design."""

    context: Context
    writer: Writer

    def write(self) -> None:
        """Everything, in the order in which one thing needs the other."""
        design, writer, family = self.context.design, self.writer, self.writer.family.name

        def step(name: Hashable, write: Callable[[], _T], given: object = None) -> _T:
            return self.context.ledger.step(("insulation", family, name), write, given)

        site = step("site", lambda: site_rows(writer, self.context.design))
        protection = step("protection", self._protection)
        shared = (site, protection)
        paths = [
            step(("barrier", name), partial(self._barrier, site, protection, name, block), shared)
            for name, block in design.file.barriers.items()
        ]
        for name in design.file.transformers:
            step(("under", name), partial(self._under, site, protection, name), shared)
        places = [one for one in paths if one]
        step("to earth", lambda: self._to_earth(site, protection, places), shared)
        step("over the core", lambda: self._over_the_core(site, protection, places), shared)
        for place, bridge in enumerate((*(design.structure.bridges or ()), *to_earth(design))):
            step(("bridge", place), partial(bridge_rows, writer, bridge, design, protection, site), shared)
            for name, part, ends in body_paths(bridge, design):
                step(("body", place, name), partial(self._body, site, protection, name, part, ends), shared)
        step("pairs", lambda: self._pairs(site, protection), shared)
        step("transformers", lambda: self._transformers(site, protection), shared)
        known = self.context.packs.assumptions
        assumptions = {name: one for (own, name), one in known.items() if own in ("", family)}
        step("touch current", lambda: touch_rows(writer, design, protection, assumptions), protection)
        step("plug", lambda: plug_rows(writer, design))

    def _protection(self) -> Protection:
        ledger = self.context.ledger
        classes = ledger.find(SUPPLY, "supply.protection_class")
        joint = ledger.find(SUPPLY, "earth.resistance")
        return protection_of(
            self.context.design,
            classes.value if classes is not None and isinstance(classes.value, Category) else None,
            joint.value if joint is not None and isinstance(joint.value, Value) else None,
        )

    def _inputs(self, subject: Subject) -> tuple[Entry, ...]:
        ledger = self.context.ledger
        rows: tuple[tuple[Subject, QuantityName], ...] = (
            (subject, "barrier.between"),
            (SUPPLY, "supply.protection_class"),
            (SUPPLY, "circuit.earth"),
            (SUPPLY, "earth.resistance"),
        )
        return tuple(found for one, name in rows if (found := ledger.find(one, name)) is not None)

    def _voltages(self, subject: Subject, need: Need, site: Site, ends: tuple[End, ...]) -> Voltages:
        """ends: of a place; none for a pair of circuits, which takes the largest of its paths."""
        writer, design = self.writer, self.context.design
        if need.role == "primary to secondary":
            paths = () if ends else paths_of_role(writer, need.role)
            return barrier_voltages(writer, subject, site, design, paths)
        if need.role not in ("primary to earth", "primary to touchable parts"):
            return mains_voltages(site)
        primary = next((one for one in ends if one.side not in ("earth", "touchable")), None)
        if primary is None:
            return largest_voltages(writer, subject, site, paths_of_role(writer, need.role))
        return earth_voltages(writer, subject, site, design, primary)

    def _need(self, one: End, other: End, protection: Protection) -> Need:
        return need_of(one, other, protection, self.writer.family.name, self.context.design.structure)

    def _barrier(
        self, site: Site, protection: Protection, name: str, block: Barrier
    ) -> tuple[Subject, End, End] | None:
        """The rows of one place; its subject and its two ends, None when it does not lie between two circuits."""
        design, writer = self.context.design, self.writer
        subject = Subject("barrier", (name,))
        if len(block.between) != 2:
            writer.hole(subject, "needed.insulation", note="a barrier lies between two circuits")
            return None
        one, other = (end_of(point, design) for point in block.between)
        self._requirements(subject, self._need(one, other, protection), site, (one, other))
        found_rows(writer, subject, design, block)
        return subject, one, other

    def _requirements(self, subject: Subject, need: Need, site: Site, ends: tuple[End, ...] = ()) -> Entry:
        insulation = insulation_row(self.writer, subject, need, self._inputs(subject))
        if need.role not in ("within one circuit", "secondary to earth", "across a series part", UNKNOWN_ROLE):
            distance_rows(self.writer, subject, site, insulation, self._voltages(subject, need, site, ends))
        elif need.missing:
            for name in ("needed.clearance", "needed.creepage"):
                missing = [OpenFact(subject, one.quantity) if one.subject is None else one for one in need.missing]
                self.writer.hole(subject, name, missing, note=need.why)
        else:
            self.writer.hole(subject, "needed.clearance", note=f"{need.why}, whose distances are not worked out")
        return insulation

    def _over_the_core(self, site: Site, protection: Protection, paths: list[tuple[Subject, End, End]]) -> None:
        """Pin to core and core to pin: where the core floats, the two legs together are one path."""
        legs = [
            (subject, one if other.side == "core" else other)
            for subject, one, other in paths
            if "core" in (one.side, other.side)
        ]
        whole: set[str] = set()
        for (first, one), (second, other) in combinations(legs, 2):
            need = self._need(one, other, protection)
            if need.role in ("within one circuit", "secondary to earth"):
                continue
            whole |= {str(first), str(second)}
            subject = Subject("barrier", (f"{first} and {second}, over the core",))
            self._requirements(subject, need, site, (one, other))
            self._plain_path(subject, "no")
            for name in ("found.clearance", "found.creepage"):
                parts = [self.writer.find(leg, name) for leg in (first, second)]
                known = [part for part in parts if part is not None and isinstance(part.value, Value)]
                if len(known) == 2:
                    total = summed([part.value for part in known if isinstance(part.value, Value)])
                    self.writer.row(subject, name, total, formula="sum of the two legs over the core", inputs=known)
                else:
                    missing = tuple(
                        OpenFact(leg, name)
                        for leg, part in zip((first, second), parts, strict=True)
                        if part not in known
                    )
                    self.writer.hole(subject, name, missing)

        for subject, end in legs:
            if str(subject) not in whole and end.side in ("primary", "secondary"):
                self._one_leg(site, protection, subject, end)

    def _one_leg(self, site: Site, protection: Protection, leg: Subject, end: End) -> None:
        """A leg to a floating core whose way on to the other side nobody stated: it counts alone, and may be more."""
        other = End("secondary" if end.side == "primary" else "primary", "the other side")
        subject = Subject("barrier", (f"{leg}, over the core",))
        self._requirements(subject, self._need(end, other, protection), site, (end, other))
        self._plain_path(subject, "no")
        for name in ("found.clearance", "found.creepage"):
            part = self.writer.find(leg, name)
            if part is not None and isinstance(part.value, Value):
                least = Value(part.value.low, part.value.near, inf, inf)
                words = f"{leg} alone; from the core on to the {other.side} side nobody measured"
                self.writer.row(subject, name, least, formula=words, inputs=[part])
            else:
                self.writer.hole(subject, name, (OpenFact(leg, name),))

    def _under(self, site: Site, protection: Protection, name: str) -> None:
        """The place under a transformer that joins both sides, where no place of the file is named after it.

        Its pins bring both sides near each other on every board: a place that nobody described is not one that is not
        there.
        """
        structure = self.context.design.structure
        main = structure.own.winding
        driven = main is not None and main.partition(".")[0] == name
        feeds = any(one.partition(".")[0] == name for output in structure.outputs.values() for one in output.windings)
        if not_isolated(self.context.design):
            return
        one, other = End("primary", "primary pins"), End("secondary", "secondary pins")
        need = self._need(one, other, protection)
        if not (driven and feeds) or need.role != "primary to secondary":
            return
        for place, block in self.context.design.file.barriers.items():
            ends = [end_of(point, self.context.design) for point in block.between]
            if len(ends) == 2 and self._need(ends[0], ends[1], protection).role == need.role:
                if names_part(name, place) or "transformer" in place:
                    return
        subject = Subject("barrier", (f"under {name}",))
        self._requirements(subject, need, site, (one, other))
        self._plain_path(subject, "no")
        for found in ("found.clearance", "found.creepage"):
            missing = (OpenFact(subject, found),)
            self.writer.hole(subject, named(found), missing, note=f"no place of the file is named after {name}")

    def _to_earth(self, site: Site, protection: Protection, places: list[tuple[Subject, End, End]]) -> None:
        """The place from the mains side to the metal at earth, which class I has by what it is, where none is given.

        Only a place of the file is one: the body of a capacitor to earth says nothing of the board beside it.
        """
        one, other = End("primary", "mains side"), End("earth", "metal at earth")
        need = self._need(one, other, protection)
        given = (self._need(first, second, protection).role for _, first, second in places)
        if protection.classes != ("I",) or need.role in given:
            return
        subject = Subject("barrier", ("mains side to earth",))
        self._requirements(subject, need, site, (one, other))
        self._plain_path(subject, "no")
        for found in ("found.clearance", "found.creepage"):
            missing = (OpenFact(subject, found),)
            note = "no place of the file lies between the mains side and earth"
            self.writer.hole(subject, named(found), missing, note=note)

    def _plain_path(self, subject: Subject, body: str) -> None:
        """A path that no barrier of the file describes: no sheet stands in it."""
        self.writer.row(subject, "barrier.sheet", Category.of("no"), formula="a path of its own")
        self.writer.row(subject, "barrier.body", Category.of(body), formula="a path of its own")
        for name in each("barrier.solid", "barrier.touching"):
            self.writer.row(subject, name, Category.of("no"), formula="a path of its own")

    def _body(self, site: Site, protection: Protection, name: str, part: str, ends: tuple[End, End]) -> None:
        """The path over a bridging part's own body: no slot under it lengthens that one."""
        subject = Subject("barrier", (name,))
        self._requirements(subject, self._need(*ends, protection), site, ends)
        self._plain_path(subject, "yes")
        own = Subject("part", (part,))
        distances: tuple[tuple[QuantityName, QuantityName], ...] = (
            ("rated.clearance", "found.clearance"),
            ("rated.creepage", "found.creepage"),
            ("rated.insulation_thickness", "found.insulation_thickness"),
        )
        for fact, found in distances:
            stated = self.context.ledger.find(own, fact)
            if stated is not None and isinstance(stated.value, Value):
                self.writer.row(subject, found, stated.value, formula="data sheet of the part", inputs=[stated])
            else:
                self.writer.hole(subject, found, (OpenFact(own, fact),))
        withstand_row(self.writer, subject, own)
        self._own_standard(subject, own)
        if self._need(*ends, protection).role == UNKNOWN_ROLE:  # it may be the barrier itself
            barrier_voltages(self.writer, subject, site, self.context.design)
        insulation = self.writer.find(subject, "needed.insulation")
        if insulation is not None and self.context.design.structure.must_be(part, "optocoupler"):
            strength_row(self.writer, subject, site, insulation)

    def _own_standard(self, subject: Subject, part: Subject) -> None:
        """Whether the part was made and tested to the standard of its own kind, by its mark or its paper."""
        stated = self.context.ledger.find(part, "part.standard")
        if stated is None or not isinstance(stated.value, Category):
            told = Category.of("no")
            self.writer.row(subject, "barrier.own_standard", told, formula="no standard of its own is stated")
        elif on_paper(stated):
            word = "yes" if stated.value.word == COUPLER_STANDARD else "no"
            told = Category.of(word)
            self.writer.row(subject, "barrier.own_standard", told, formula=f"made to {stated.value}", inputs=[stated])
        else:
            note = f"{stated.value} is typed alone: add (marked) where its mark was seen, or (data sheet)"
            self.writer.hole(subject, "barrier.own_standard", (OpenFact(part, "part.standard"),), note=note)

    def _pairs(self, site: Site, protection: Protection) -> None:
        """Every pair of circuits that needs at least basic insulation: its weakest path, and its strength test."""
        pairs: dict[Subject, Need] = {}
        roles: dict[str, Subject] = {}
        judged: set[tuple[str, ...]] = set()
        if not not_isolated(self.context.design):
            pairs[PRIMARY_TO_SECONDARY] = self._need(End("primary", ""), End("secondary", ""), protection)
            roles["primary to secondary"] = PRIMARY_TO_SECONDARY
        for role, one, other in (
            ("primary to earth", "earth", "primary"),
            ("primary to touchable parts", "primary", "touchable"),
        ):
            subject = Subject("circuit pair", (one, other))
            need = self._need(End(one, one), End(other, other), protection)
            roles[role] = subject
            pairs[subject] = need
        for role, subject in roles.items():
            if subject not in pairs:
                continue
            own = paths_of_role(self.writer, role)
            if not own and role != "primary to secondary":
                continue
            insulation = self._requirements(subject, pairs[subject], site)
            weakest_rows(self.writer, subject, own)
            strength_row(self.writer, subject, site, insulation)
            strength_tests(self.writer, subject, self.context.design)
            judged.add(tuple(sorted(subject.names)))
        other_breakdowns(self.writer, judged, self.context.design)

    def _transformers(self, site: Site, protection: Protection) -> None:
        design, writer = self.context.design, self.writer
        insulation = writer.find(PRIMARY_TO_SECONDARY, "needed.insulation")
        for name in design.file.transformers:
            subject = Subject("transformer", (name,))
            if insulation is None:
                continue
            creepage = writer.find(PRIMARY_TO_SECONDARY, "needed.creepage")
            transformer_rows(writer, name, design, insulation, creepage)
            strength = writer.find(PRIMARY_TO_SECONDARY, "needed.electric_strength")
            if strength is not None and isinstance(strength.value, Value):
                writer.row(
                    subject,
                    "needed.electric_strength",
                    strength.value,
                    formula="that of primary to secondary",
                    inputs=[strength],
                )
            tape_tests(writer, subject, design)
            core_rows(writer, subject, name, design, insulation)
