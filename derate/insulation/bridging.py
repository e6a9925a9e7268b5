"""Parts that bridge the barrier: what their class and number make, their bodies as paths, their pads, their rating.

A capacitor that fails short puts the mains on the output, so its class decides. No source credits the spacing of two
parts in series: each is a path of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from derate.design.load import Design
from derate.design.structure import Bridge, Element, Leaf, leaves
from derate.insulation.circuits import End, Need, Protection, Site, end_of, need_of
from derate.insulation.row import Writer, on_paper
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject, listed_facts
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value
from derate.terms.words import CAPACITORS, RESISTORS

# What one capacitor of a class makes at up to 300 V mains, overvoltage category II. Source: two engineers' answers on
# IEC 62368-1:2018 G.11 and IEC 60384-14 (one Y1 reinforced, one Y2 basic, two Y2 in series reinforced).
_MAKES = {"Y1": "reinforced", "Y2": "basic", "X1": "none", "X2": "none", "unmarked": "none"}
SOURCE = "IEC 60384-14 classes: one Y1 or two Y2 in series for reinforced, one Y2 for basic, at up to 300 V mains"


def bridge_rows(writer: Writer, bridge: Bridge, design: Design, protection: Protection, site: Site) -> Need:
    """Rows of one bridging part or series of parts; returns what the insulation it bridges has to be."""
    subject = Subject("bridge", bridge.names)
    one, other = (end_of(point, design) for point in bridge.between)
    need = need_of(one, other, protection, writer.family.name, design.structure)
    note = f"would settle it: {listed_facts(need.missing)}" if need.missing else ""
    writer.row(subject, "needed.insulation", need.insulation, formula=need.why, place=bridge.place, note=note)
    kind = _kind(bridge, design)
    if kind is None:
        writer.hole(
            subject, "bridge.kind", tuple(OpenFact(Subject("part", (name,)), "part.kind") for name in bridge.names)
        )
    else:
        writer.row(subject, "bridge.kind", Category.of(kind), formula="by the kinds of its parts")
    if kind == "capacitor":
        _capacitor(writer, subject, bridge, site)
        _rating(writer, subject, bridge, site.mains)
    elif kind == "resistor":
        writer.hole(
            subject,
            "bridge.provides",
            note="resistors across a barrier need their own tests (two in series, each proof against shorting)",
        )
    elif kind == "spark gap":
        _spark_gap(writer, subject, bridge, design, need)
    _pads(writer, subject, bridge, design)
    return need


def _spark_gap(writer: Writer, subject: Subject, bridge: Bridge, design: Design, need: Need) -> None:
    """A spark gap is a clearance: as good as the barrier that states its gap, which is judged as a distance."""
    named = [one for one in design.file.barriers if any(names_part(name, one) for name in bridge.names)]
    if named:
        writer.row(
            subject, "bridge.provides", need.insulation, formula=f"a clearance, judged as the barrier {named[0]}"
        )
    else:
        missing = tuple(OpenFact(Subject("part", (name,)), "gap, as a barrier") for name in bridge.names)
        writer.hole(subject, "bridge.provides", missing, note="a spark gap is a clearance: state its gap as a barrier")


def to_earth(design: Design) -> tuple[Bridge, ...]:
    """Capacitors from a mains conductor to earth: they bridge basic insulation like any other."""
    mains = design.structure.inlet
    found = []
    for shunt in mains.shunts if mains is not None else ():
        if shunt.to_earth and any(design.structure.may_be(name, *CAPACITORS) for name in shunt.names):
            place = design.file.parts[shunt.names[0]].kind.place
            found.append(Bridge(shunt.element, shunt.names, ("line", "earth"), place))
    return tuple(found)


def _kind(bridge: Bridge, design: Design) -> str | None:
    structure = design.structure
    for word, kinds in (
        ("capacitor", CAPACITORS),
        ("resistor", RESISTORS),
        ("optocoupler", ("optocoupler",)),
        ("spark gap", ("spark gap", "varistor")),
    ):
        if all(structure.must_be(name, *kinds) for name in bridge.names):
            return word
        if any(structure.must_be(name, *kinds) for name in bridge.names) and word == "spark gap":
            return word
    if any(not structure.kinds.get(name) for name in bridge.names):
        return None
    return "other"


def _capacitor(writer: Writer, subject: Subject, bridge: Bridge, site: Site) -> None:
    """What the classes make: the parts of a series together, parts in parallel the weakest of them."""
    entries = [writer.ledger.find(Subject("part", (name,)), "part.class") for name in bridge.names]
    missing = tuple(
        OpenFact(Subject("part", (name,)), "part.class")
        for name, entry in zip(bridge.names, entries, strict=True)
        if entry is None or entry.value is None
    )
    if missing:
        writer.hole(subject, "bridge.provides", missing)
        return
    classes = [one.value.word for one in entries if one is not None and isinstance(one.value, Category)]
    known = [one for one in entries if one is not None]
    word, why, note = _made(writer, bridge.element, dict(zip(bridge.names, classes, strict=True)))
    beyond = _beyond(site) if word != "none" else None
    if beyond is not None:
        writer.hole(subject, "bridge.provides", beyond.missing, note=beyond.why, inputs=known)
        return
    worst = min((one or "unmarked" for one in classes), key=lambda one: ("unmarked", "X2", "X1", "Y2", "Y1").index(one))
    writer.row(subject, "bridge.class", Category.of(worst), formula="the weakest class of its parts", inputs=known)
    makes = Category.of(word)
    typed = [str(one.subject) for one in known if not on_paper(one)]
    if typed and word != "none":
        # At best what its class makes: enough for a fail, never for a pass.
        makes = Category.of("none", word)
        note = f"the class of {', '.join(typed)} is typed alone: add (marked) where the mark was read, or (data sheet)"
    writer.row(subject, "bridge.provides", makes, formula=why, source=SOURCE, inputs=known, note=note)


def _made(writer: Writer, element: Element, classes: Mapping[str, str | None]) -> tuple[str, str, str]:
    """What parts in series and in parallel make together, why, and a note. Parts in parallel make what the weakest of
    them makes, and so does such a group as one member of a series: it is no further capacitor."""
    if isinstance(element, Leaf):
        name = classes[element.name]
        return _MAKES.get(name or "", "none"), f"one {name or 'unknown'}", ""
    made = [_made(writer, member, classes)[0] for member in element.members]
    names = " and ".join(_told(member, classes) for member in element.members)
    if element.joined == "parallel":
        return min(made, key=("none", "basic", "reinforced").index), f"{names} in parallel, the weakest counts", ""
    if "reinforced" in made or made.count("basic") < 2:
        word = next((one for one in ("reinforced", "basic") if one in made), "none")
        if made.count("none") == 0:
            return word, f"{names} in series", ""
        return word, f"{names} in series, where only a Y class counts", ""
    alone = all(isinstance(member, Leaf) for member in element.members)  # a group beside one is not its equal
    if not alone or not _alike(writer, [leaf.name for leaf in leaves(element)]):
        note = "two in series count together only with the same nominal value"
        return "basic", f"{names} in series", note
    return "reinforced", f"{names} in series", ""


def _told(element: Element, classes: Mapping[str, str | None]) -> str:
    if isinstance(element, Leaf):
        return classes[element.name] or "unknown"
    joint = " || " if element.joined == "parallel" else " + "
    return f"({joint.join(_told(member, classes) for member in element.members)})"


class _Beyond(NamedTuple):
    """Why the classes say nothing, and the fact that would settle it."""

    why: str
    missing: tuple[OpenFact, ...] = ()


def _beyond(site: Site) -> _Beyond | None:
    """Why the classes say nothing here: they were read for up to 300 V mains and category II only."""
    mains, category = site.mains.value, site.category.value
    if not isinstance(mains, Value) or mains.high > 300:
        return _Beyond("what a class makes was read for up to 300 V mains only")
    words = category.members if isinstance(category, Category) else ("IV",)
    if not set(words) <= {"I", "II"}:
        if len(words) > 1:
            missing = (OpenFact(SUPPLY, "site.overvoltage_category"),)
            return _Beyond("what a class makes was read for category II, and the category is not stated", missing)
        return _Beyond("what a class makes was read for category II only")
    return None


def _alike(writer: Writer, names: Iterable[str]) -> bool:
    values = []
    for name in names:
        entry = writer.ledger.find(Subject("part", (name,)), "part.capacitance")
        if entry is None or not isinstance(entry.value, Value):
            return False
        values.append((entry.value.near, entry.value.far))
    return len(set(values)) == 1


def _rating(writer: Writer, subject: Subject, bridge: Bridge, mains: Entry) -> None:
    """Least rated voltage of the parts; each of a series is held to the whole voltage."""
    entries = [writer.ledger.find(Subject("part", (name,)), "rated.voltage") for name in bridge.names]
    known = [one for one in entries if one is not None and isinstance(one.value, Value)]
    if len(known) < len(bridge.names):
        missing = [
            OpenFact(Subject("part", (name,)), "rated.voltage")
            for name, entry in zip(bridge.names, entries, strict=True)
            if entry not in known
        ]
        writer.hole(subject, "bridge.rated_voltage", missing)
    else:
        values = zip(*(one.value.numbers() for one in known if isinstance(one.value, Value)), strict=True)
        writer.row(
            subject,
            "bridge.rated_voltage",
            Value(*(min(column) for column in values)),
            formula="least of its parts, each held to the whole voltage",
            inputs=known,
        )
    if isinstance(mains.value, Value):
        writer.row(
            subject,
            "needed.bridge_voltage",
            mains.value,
            formula="rms working voltage of the insulation it bridges",
            inputs=[mains],
        )
    else:
        writer.hole(subject, "needed.bridge_voltage", mains.missing)


def names_part(name: str, text: str) -> bool:
    """Whether a text names a part: CY1 is not in `CY12 pads`."""
    return re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text) is not None


def _pads(writer: Writer, subject: Subject, bridge: Bridge, design: Design) -> None:
    """Whether a barrier names the part, so that the path under it was measured."""
    kind = writer.find(subject, "bridge.kind")
    word = str(kind.value) if kind is not None and kind.value is not None else ""
    named = tuple(design.file.barriers)
    opto = word == "optocoupler"
    lacking = [n for n in bridge.names if not any(names_part(n, one) or (opto and word in one) for one in named)]
    if lacking:
        missing = tuple(OpenFact(Subject("part", (name,)), "distance at the pads") for name in lacking)
        writer.hole(subject, "bridge.pads", missing, note="no barrier of the file names it")
        return
    writer.row(subject, "bridge.pads", Category.of("yes"), formula="a barrier of the file names it")


def body_paths(bridge: Bridge, design: Design) -> tuple[tuple[str, str, tuple[End, End]], ...]:
    """The paths over the bodies of a bridge's parts: (name of the path, part, its ends). Optocouplers always have one;
    other parts when their data state a distance."""
    ends = (end_of(bridge.between[0], design), end_of(bridge.between[1], design))
    found = []
    for name in bridge.names:
        rated = design.file.parts[name].rated if name in design.file.parts else None
        stated = rated is not None and (rated.clearance is not None or rated.creepage is not None)
        if stated or design.structure.must_be(name, "optocoupler"):
            found.append((f"over the body of {name}", name, ends))
    return tuple(found)
