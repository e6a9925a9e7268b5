"""What every barrier of a supply shares; which circuits each lies between, and the insulation it has to be."""

from __future__ import annotations

from math import inf

from derate.design.load import Design
from derate.design.structure import PROTECTIVE, Structure
from derate.insulation import distances as steps
from derate.insulation.distances import HOUSEHOLD, IT_EQUIPMENT, LAMPS, Found
from derate.insulation.row import Writer
from derate.ledger.entry import SUPPLY, Entry, OpenFact
from derate.terms.topologies import TOPOLOGIES, TopologyWord
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value

# What every barrier of a supply shares: nominal mains, category, altitude, frequency, and what follows from them.


_CATEGORIES = ("I", "II", "III", "IV")
OPEN = Value(0.0, 0.0, inf, inf)


class Site(NamedTuple):
    """Rows of the supply as a whole."""

    mains: Entry
    category: Entry
    altitude: Entry
    factor: Entry
    impulse: Entry
    row_of_mains: Entry  # row of the creepage table that plain mains takes [V]
    crest: Entry  # of the nominal mains [V]
    overvoltage: Entry | None  # temporary overvoltage [V peak]; None where the family asks for none
    frequency: Entry | None  # greatest switching frequency [Hz]


def site_rows(writer: Writer, design: Design) -> Site:
    """Write the rows that belong to no single barrier."""
    family = writer.family
    mains = _mains(writer)
    category = _category(writer)
    altitude = _altitude(writer)
    impulse = writer.step(
        SUPPLY,
        "needed.impulse",
        lambda v, c: steps.impulse(family, v, c),
        [mains, category],
        words="impulse by mains and category",
        source=_source(writer, "mains_transient"),
    )
    factor = writer.step(
        SUPPLY,
        "insulation.altitude_factor",
        lambda h: steps.altitude_factor(family, h),
        [altitude],
        words="altitude factor",
        source=_source(writer, "altitude_factor"),
    )
    row = writer.step(
        SUPPLY,
        "insulation.working_voltage",
        lambda v: steps.table_voltage(family, v),
        [mains],
        words="row of plain mains",
        source=_source(writer, "table_voltage"),
    )
    crest = writer.step(
        SUPPLY,
        "insulation.working_voltage_peak",
        lambda v: Found(v * steps.ROOT_TWO, steps.ARITHMETIC, f"1.414 x {steps.volts(v)}"),
        [mains],
        words="crest of the mains",
        source="a sine wave",
    )
    overvoltage = None
    if family.name not in (HOUSEHOLD, LAMPS):
        overvoltage = writer.step(
            SUPPLY,
            "needed.temporary_overvoltage",
            lambda v: steps.temporary_overvoltage(family, v),
            [mains],
            words="temporary overvoltage",
            source=_source(writer, "temporary_overvoltage") or _source(writer, "temporary_overvoltage_added"),
        )
    return Site(mains, category, altitude, factor, impulse, row, crest, overvoltage, _frequency(writer, design))


def _source(writer: Writer, table: str) -> str:
    found = writer.family.tables.get(table)
    return found.source if found is not None else ""


def _mains(writer: Writer) -> Entry:
    plate = writer.ledger.find(SUPPLY, "plate.mains")
    if plate is None or not isinstance(plate.value, Value):
        return writer.hole(SUPPLY, "insulation.mains", (OpenFact(SUPPLY, "plate.mains"),))
    return writer.row(
        SUPPLY,
        "insulation.mains",
        Value.exact(plate.value.high),
        formula="top of the range on the plate",
        source="a range on the plate is a domain: all of it occurs",
        inputs=[plate],
    )


def _category(writer: Writer) -> Entry:
    stated = writer.ledger.find(SUPPLY, "site.overvoltage_category")
    columns = next(axis.words for axis in writer.family.table("mains_transient").axes if axis.words)
    if stated is not None and isinstance(stated.value, Category):
        return writer.row(
            SUPPLY, "insulation.overvoltage_category", stated.value, formula="as the site states it", inputs=[stated]
        )
    possible = tuple(word for word in _CATEGORIES if word in columns)
    return writer.row(
        SUPPLY,
        "insulation.overvoltage_category",
        Category(possible),
        formula="not stated: every one is possible",
        known_by="assumed",
        note="state overvoltage_category under site: II when plugged in, III when wired in",
    )


def _altitude(writer: Writer) -> Entry:
    stated = writer.ledger.find(SUPPLY, "site.altitude")
    if stated is not None and isinstance(stated.value, Value):
        return writer.row(
            SUPPLY,
            "insulation.altitude",
            Value.exact(stated.value.high),
            formula="top of the altitude stated",
            source="up to there it is used",
            inputs=[stated],
        )
    return writer.row(
        SUPPLY,
        "insulation.altitude",
        OPEN,
        formula="not stated: at least the figures up to 2000 m hold",
        known_by="assumed",
        note="state altitude under site, such as up to 2000 m",
    )


HIGHEST_MAINS = 63.0  # frequency at a socket [Hz]


def _frequency(writer: Writer, design: Design) -> Entry | None:
    stated = writer.ledger.find(SUPPLY, "control.frequency")
    if stated is None and design.structure.own_inlet is not None:
        # behind an input that is no rectifier with a bulk capacitor nothing switches
        return writer.row(SUPPLY, "insulation.frequency", Value.exact(HIGHEST_MAINS), formula="that of the mains")
    if stated is None or not isinstance(stated.value, Value):
        return None
    return writer.row(
        SUPPLY,
        "insulation.frequency",
        Value.exact(stated.value.high),
        formula="greatest switching frequency",
        inputs=[stated],
    )


# Which circuits a barrier lies between, and which insulation it therefore has to be, with the reason in words.
#
# The class follows from what lies at the two ends and from the protection class, never from how far apart they are.


UNKNOWN_ROLE = "not known"  # either end has no side: it may be the barrier itself
EARTH_CONTINUITY = 0.1  # ohm, protective bonding


class End(NamedTuple):
    """One end of a barrier: its side, the word the file uses, and for `after` the series part."""

    side: str
    word: str
    part: str = ""


class Protection(NamedTuple):
    """What decides between basic and reinforced: the protection class, what is joined to earth, and how well."""

    classes: tuple[str, ...]  # every class still possible
    earthed: bool | None  # whether the outputs are joined to the earth pin
    continuity: Value | None  # resistance of that joint [ohm]


class Need(NamedTuple):
    """Insulation needed: the role of the place, every class still possible, why, and the fact that would settle it (of
    the place itself where it names no subject)."""

    role: str
    insulation: Category
    why: str
    missing: tuple[OpenFact, ...] = ()


def not_isolated(design: Design) -> bool:
    """Whether the output is part of the mains circuit by the topology the file states."""
    topology = design.file.supply.topology
    known = TOPOLOGIES.get(topology.word or "") if topology is not None else None
    return known is not None and not known.isolates


def end_of(point: str, design: Design) -> End:
    """The side a point of a barrier, bridging part or shield belongs to; without isolation the output is primary."""
    end = _end_of(point, design)
    return End("primary", end.word) if end.side == "secondary" and not_isolated(design) else end


def _end_of(point: str, design: Design) -> End:
    structure = design.structure
    word = point.strip()
    if word in ("line", "neutral", "primary", "secondary", "earth", "touchable"):
        return End(word, word)
    if word.startswith("after "):
        part = word[6:].strip()
        return End("after", word, part)
    if word in ("bulk plus", "bulk minus", "switch node"):
        return End("primary", word)
    if word == "core" or word.endswith(" core"):
        return core_end(design, word)
    if word.split(" ")[0].split(".")[0] in design.file.transformers:
        return End(winding_side(word, design), word)
    stem = word.removesuffix(" plus").removesuffix(" minus")
    if stem in structure.outputs or stem == "output":
        return End("secondary", word)
    return End("unknown", word)


def behind_the_rectifier(end: End, design: Design) -> bool:
    """Whether a point named after a part lies on a rail of the bulk: behind the rectifier, or at its output."""
    mains = design.structure.mains
    return end.side == "after" and mains is not None and end.part in (*mains.rectifier, *mains.behind, *mains.choke)


def sees_mains_only(end: End, design: Design) -> bool:
    """Whether a primary point never leaves the range of the mains against earth: no share of the switch is on it.

    A pole of the mains always; a rail of the bulk behind a full bridge, whose crest then is the mains'. Behind a single
    diode or a doubler a rail rides on a pole (plugs go in either way round), and what a power-factor stage lifts lies
    above the crest. What nobody said is no such point.
    """
    if end.side in ("line", "neutral") or (end.side == "after" and not behind_the_rectifier(end, design)):
        return True
    topology = design.file.supply.topology
    word = topology.word if topology is not None else None
    if design.structure.own.beyond and _tied_point(end.word, design) not in ("bulk plus", "bulk minus"):
        return False
    given = TOPOLOGIES.get(word or "", TopologyWord())
    if given.within_mains and (given.isolates or design.structure.own_inlet is not None):
        return True  # a winding on the mains, or a rail that rides on a pole by no more than what is held across it
    mains = design.structure.mains
    bridge = mains is not None and mains.input == "full bridge"
    if word is None or word == "power-factor stage" or design.structure.boosts() or not bridge:
        return False
    point = _tied_point(end.word, design)
    return given.within_mains or point in ("line", "neutral", "bulk plus", "bulk minus") or point.startswith("after ")


def rides_on_a_pole(end: End, design: Design) -> bool:
    """Whether a primary point is, at the worst, a rail of a bulk that rides on a mains conductor, and no more.

    Behind a single diode or a doubler both rails lie between twice the crest and minus twice the crest; a switch of a
    topology that takes its output from the bulk directly never leaves the rails.
    """
    topology = design.file.supply.topology
    word = topology.word if topology is not None else None
    mains = design.structure.mains
    if mains is None or mains.input not in ("half-wave", "doubler") or word is None or word == "power-factor stage":
        return False
    if design.structure.boosts():
        return False
    rail = _tied_point(end.word, design) in ("bulk plus", "bulk minus") or behind_the_rectifier(end, design)
    return rail or (TOPOLOGIES[word].within_mains and not design.structure.own.beyond)


def _tied_point(point: str, design: Design) -> str:
    """The point itself, or what a core is tied to; empty where nobody said."""
    if point != "core" and not point.endswith(" core"):
        return point
    for name, block in design.file.transformers.items():
        if point.startswith(("core", name)):
            tied = block.core.tied_to.word if block.core is not None and block.core.tied_to is not None else None
            return tied or ""
    return point


def core_end(design: Design, word: str = "core") -> End:
    """The side of the core: what it is tied to; floating is a side of its own, unknown stays unknown."""
    for name, block in design.file.transformers.items():
        if word.startswith(("core", name)):
            tied = block.core.tied_to.word if block.core is not None and block.core.tied_to is not None else None
            if tied in ("floating", "none"):
                return End("core", word)
            if tied is None:
                return End("unknown", word)
            return End(end_of(tied, design).side, word)
    return End("unknown", word)


def winding_side(name: str, design: Design) -> str:
    """The side a winding (TRANSFORMER.WINDING) belongs to: primary, secondary, core (a floating shield) or unknown."""
    structure = design.structure
    if name in structure.own.mains_side:
        return "primary"
    if any(name in output.windings for output in structure.outputs.values()):
        return "secondary"
    transformer, _, winding = name.partition(".")
    block = design.file.transformers.get(transformer)
    about = block.windings.get(winding) if block is not None else None
    tied = about.tied_to if about is not None else None
    if tied is not None:
        if tied.word in ("floating", "none"):
            return "core"
        if tied.word:
            return end_of(tied.word, design).side
    if structure.own.auxiliary is not None and any(name in step.names for step in structure.own.auxiliary):
        return "primary"  # the auxiliary supply is referred to bulk minus
    senses = design.file.circuit.control.senses or ()
    if name in senses and structure.own.auxiliary is None:
        return "primary"
    return winding if winding in ("primary", "secondary") else "unknown"  # nobody traced it: by the name it was given


def protection_of(design: Design, classes: Category | None, continuity: Value | None) -> Protection:
    """What is known of the protection of a design."""
    structure = design.structure
    earthed: bool | None = None
    if structure.earth is not None:
        sides = [end_of(point, design).side for point in structure.earth]
        earthed = "secondary" in sides
    elif classes is not None and classes.word == "II":
        earthed = False
    return Protection(classes.members if classes is not None else ("I", "II"), earthed, continuity)


def need_of(one: End, other: End, protection: Protection, family: str, structure: Structure) -> Need:
    """The insulation two circuits need between them."""
    sides = {one.side, other.side}
    if "unknown" in sides:
        word = one.word if one.side == "unknown" else other.word
        fact = "core.tied_to" if "core" in word else f"which circuit '{word}' is"
        return Need(
            UNKNOWN_ROLE, Category.of("functional", "reinforced"), f"'{word}' has no side yet", (OpenFact(None, fact),)
        )
    if "core" in sides:
        return Need("within one circuit", Category.of("none"), "the core floats: only whole paths over it count")
    mains = sides & {"line", "neutral"}
    after = one if one.side == "after" else other if other.side == "after" else None
    if sides == {"line", "neutral"}:
        return _mains_poles("mains poles ahead of the fuse", family, "nothing clears a short between them")
    if sides == {"after"} and _in_neutral(one, structure) != _in_neutral(other, structure):
        fused = next((end for end in (one, other) if _behind_protection(end, structure)), None)
        if fused is not None:
            return _mains_poles("mains poles behind the fuse", family, f"what stands ahead of {fused.part} opens on it")
        why = "two poles of the mains, and nothing is sure to clear a short between them"
        return _mains_poles("mains poles ahead of the fuse", family, why)
    if after is not None and mains and not _same_pole(after, one if other is after else other, structure):
        if not _behind_protection(after, structure):
            why = f"nothing up to {after.part} is sure to clear a short between them"
            return _mains_poles("mains poles ahead of the fuse", family, why)
        return _mains_poles("mains poles behind the fuse", family, f"{after.part} opens on a short between them")
    if after is not None and mains:
        return _across(after, structure, family)
    primary = bool(sides & {"line", "neutral", "after", "primary"})
    if primary and "secondary" in sides:
        return _to_secondary(protection)
    if primary and "earth" in sides:
        return _to_earth(protection)
    if primary and "touchable" in sides:
        why = "a part that can be touched and is not earthed: reinforced"
        return Need("primary to touchable parts", Category.of("reinforced"), why)
    if sides <= {"secondary", "earth", "touchable"}:
        return Need("secondary to earth", Category.of("functional"), "both ends may be touched: functional only")
    return Need("within one circuit", Category.of("functional"), "both ends belong to one circuit: functional only")


def _mains_poles(role: str, family: str, why: str) -> Need:
    if family == IT_EQUIPMENT:
        return Need(role, Category.of("basic"), f"{why}; reports to this family hold them to the basic distances")
    return Need(role, Category.of("functional"), f"{why}; functional, held to its own distances")


def _across(after: End, structure: Structure, family: str) -> Need:
    if structure.may_be(after.part, *PROTECTIVE):
        word = "basic" if family == IT_EQUIPMENT else "functional"
        why = "once it has opened, the whole mains lies across it"
        return Need("across the fuse", Category.of(word), why)
    return Need("across a series part", Category.of("functional"), f"{after.part} is no fuse: functional only")


def _same_pole(after: End, pole: End, structure: Structure) -> bool:
    return (pole.side == "neutral") == _in_neutral(after, structure)


def _behind_protection(after: End, structure: Structure) -> bool:
    """Whether a part that is sure to open stands in the same pole, at this part or between it and the plug."""
    series = structure.inlet.series if structure.inlet is not None else ()
    ahead = series[: series.index(after.part) + 1] if after.part in series else (after.part,)
    neutral = _in_neutral(after, structure)
    return any(
        structure.must_be(name, *PROTECTIVE) and _in_neutral(End("after", name, name), structure) == neutral
        for name in ahead
    )


def _in_neutral(after: End, structure: Structure) -> bool:
    return structure.inlet is not None and after.part in structure.inlet.neutral


def _to_earth(protection: Protection) -> Need:
    """A metal at earth is a safeguard only where the class has a protective earth; any other may be touched."""
    role = "primary to earth"
    classes = set(protection.classes)
    if "I" not in classes:
        why = f"class {' or '.join(protection.classes)}: no earth of it protects anybody, and its metal may be touched"
        return Need(role, Category.of("reinforced"), why)
    if classes != {"I"}:
        why = "class not stated: basic to a protective earth of class I, reinforced to any other"
        return Need(role, Category.of("basic", "reinforced"), why, (OpenFact(SUPPLY, "supply.protection_class"),))
    return Need(role, Category.of("basic"), "earth is the second safeguard: basic insulation")


def _to_secondary(protection: Protection) -> Need:
    role = "primary to secondary"
    classes = set(protection.classes)
    if "I" not in classes:
        word = protection.classes[0] if len(classes) == 1 else "II or III"
        return Need(role, Category.of("reinforced"), f"class {word}: the output can be touched and nothing is earthed")
    if protection.earthed is False:
        return Need(role, Category.of("reinforced"), "the output is not joined to earth and can be touched: reinforced")
    if classes != {"I"}:
        why = "class not stated: reinforced in class II, basic only against an earthed output in class I"
        return Need(role, Category.of("basic", "reinforced"), why, (OpenFact(SUPPLY, "supply.protection_class"),))
    if protection.earthed is None:
        why = "class I: basic against an earthed output, reinforced against one that is not; nobody says which"
        return Need(role, Category.of("basic", "reinforced"), why, (OpenFact(SUPPLY, "circuit.earth"),))
    continuity = protection.continuity
    if continuity is None or continuity.far > EARTH_CONTINUITY >= continuity.near:
        why = "class I with an earthed output: basic once the joint is shown to be 0.1 ohm or less"
        return Need(role, Category.of("basic", "reinforced"), why, (OpenFact(SUPPLY, "earth.resistance"),))
    if continuity.near > EARTH_CONTINUITY:
        return Need(role, Category.of("reinforced"), "the joint to earth is above 0.1 ohm and protects nobody")
    return Need(role, Category.of("basic"), "class I: the output is joined to earth with 0.1 ohm or less: basic")
