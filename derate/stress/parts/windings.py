"""Windings: primary and leakage inductance where nobody measured them, and resistance from turns, wire and core."""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit import magnetics, resistors
from derate.circuit.elementary import product
from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs
from derate.terms.bench_terms import BEYOND, WITHIN
from derate.terms.quantities import OVERLOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value

# Primary and leakage inductance where nobody measured them: from the gap, and by a share that a pack assumes.


PRIMARY = Subject("path", ("primary",))
STANDING = Case("converter")  # rows that hold at every case of the converter


# Greatest temperature of a winding by its insulation class, read by change of resistance [degC]: IEC 60950-1 table 4B
# as a guide to its Japanese adoption prints it, taken over by IEC 62368-1 (one report prints the 120 of class B).
# Anything else misses the hot spot by more: 10 K less, as that report takes off for a thermocouple (120 - 10 = 110).
CLASSES = {"A": 100.0, "E": 115.0, "B": 120.0, "F": 140.0, "H": 165.0}
HOT_SPOT = 10.0


def allowed_winding_temperature(context: Context, transformer: Subject, readings: Sequence[Reading]) -> None:
    """What the class allows, by how the winding was read: 10 K less where any reading says no ohms."""
    own = [
        one
        for one in readings
        if one.target == transformer.names[0]
        and one.quantity in ("winding_temperature", "case_temperature")
        and not (one.condition is not None and one.condition.load == OVERLOAD)  # which has limits of its own
    ]
    by_resistance = bool(own) and all(one.ohms is not None for one in own)
    less = 0.0 if by_resistance else HOT_SPOT
    how = (
        "by change of resistance" if by_resistance else "10 K less than by change of resistance, which misses it least"
    )
    word = context.word(transformer, "transformer.insulation_class")
    source = "60950-1, temperature of windings by class; 10 K less by thermocouple in a report to 62368-1"
    if word in CLASSES:
        stated = context.need(transformer, "transformer.insulation_class")
        context.ledger.write(
            transformer,
            "allowed.winding_temperature",
            Value.exact(CLASSES[word] - less),
            known_by=stated.known_by,
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            formula=f"that of the class, {how}",
            source=source,
        )
    else:  # every class there is may be the one
        ends = (min(CLASSES.values()) - less, max(CLASSES.values()) - less)
        context.ledger.write(
            transformer,
            "allowed.winding_temperature",
            Value.between(*ends),
            known_by="computed",
            formula=f"lowest to highest class, {how}",
            note="the insulation class is not known",
            source=source,
        )


GAPPED = Model.of(
    "inductance from the gap",
    magnetics.GAPPED,
    "AN1272 (1996) p4; fringing: Transformer and Inductor Design Handbook, remembered",
    "µ0 × turns² × area / (gap + path / permeability), and up to all of its fringing",
)
GAP = Model.of(
    "gap that inductance, turns and core need",
    magnetics.GAP,
    "AN-4137 (2004) eq 17; fringing: Transformer and Inductor Design Handbook, remembered",
    "µ0 × turns² × area / inductance − path / permeability, and up to all of its fringing",
)
_FRINGING = Value.between(0.0, 1.0)  # how much the winding and the place of the gap leave of it is not known


def primary_inductance(context: Context, transformer: Subject, winding: str | None) -> Entry:
    """Primary inductance: as stated, else from gap, core area and turns, else a hole that names it."""
    stated = context.fact(transformer, "transformer.inductance")
    gap = context.fact(transformer, "core.gap")
    area = context.fact(transformer, "core.area")
    turns = context.fact(Subject("winding", (winding or "",)), "winding.turns")
    if stated is not None or gap is None or area is None or turns is None:
        return stated or context.need(transformer, "transformer.inductance")
    inputs = {"gap": gap, "turns": turns, "area": area, **_core(context, transformer)}
    return context.ledger.work_out(GAPPED, inputs, [(transformer, "transformer.inductance", "inductance")])[0]


def _core(context: Context, transformer: Subject) -> dict[str, Entry | Value | float]:
    """Path and permeability, as stated or as a pack assumes them, and the share of fringing."""
    return {
        "path": context.fact(transformer, "core.length")
        or assumed(context, "core_path", transformer, "core.length", "core.length"),
        "permeability": context.fact(transformer, "core.permeability")
        or assumed(context, "core_permeability", transformer, "core.permeability", "core.permeability"),
        "fringing": _FRINGING,
    }


def work_out_gap(context: Context, transformer: Subject, winding: str | None) -> None:
    """The gap that a stated inductance needs, to be held against the one measured: each checks the other."""
    facts = {
        "inductance": context.fact(transformer, "transformer.inductance"),
        "turns": context.fact(Subject("winding", (winding or "",)), "winding.turns"),
        "area": context.fact(transformer, "core.area"),
    }
    known = {name: row for name, row in facts.items() if row is not None and row.known_by != "computed"}
    gap = context.fact(transformer, "core.gap")
    compared = gap is not None and len(known) == len(facts)
    context.ledger.write(
        transformer,
        "core.gap_compared",
        Category.of("yes" if compared else "no"),
        known_by="computed",
        inputs=tuple(row.number for row in (gap, *known.values()) if row is not None),
        source="definition",
        formula="whether gap, inductance, turns and core area are all known",
    )
    if gap is None or not compared:
        return
    inputs = {**known, **_core(context, transformer)}
    worked = context.ledger.work_out(GAP, inputs, [(transformer, "worked_gap", "gap")])[0]
    numbers = (gap.number, worked.number)
    if not isinstance(gap.value, Value) or not isinstance(worked.value, Value):
        context.ledger.hole(
            transformer,
            "core.gap_agreement",
            worked.missing,
            note=worked.note,
            inputs=numbers,
            rests_on=worked.rests_on,
        )
        return
    read, needed = gap.value, worked.value
    ends = f"{1e3 * read.low:.3g} to {1e3 * read.high:.3g} mm" if not read.is_exact else f"{1e3 * read.near:.3g} mm"
    figures = f"{ends} measured, {1e3 * needed.low:.3g} to {1e3 * needed.high:.3g} mm needed"
    touch = read.low <= needed.high and needed.low <= read.high
    word = Category((WITHIN,)) if touch else Category((BEYOND,), figures)
    context.ledger.write(
        transformer,
        "core.gap_agreement",
        word,
        known_by="computed",
        inputs=numbers,
        note=figures,
        formula="gap measured against gap needed",
        source="definition",
        rests_on=worked.rests_on,
    )


LEAKAGE = Model.of(
    "leakage as a share of the inductance",
    product("leakage", "inductance", "share"),
    "definition",
    "inductance × leakage share",
)


def assumed(context: Context, name: str, subject: Subject, quantity: QuantityName, fact: str) -> Entry:
    """An assumption of the packs under a quantity of its own,
    for want of a fact; a hole that names the fact without."""
    found = context.assumptions.get(name)
    told = OpenFact(subject, fact)
    if found is None:
        return context.ledger.hole(subject, quantity, (told,), case=STANDING, note=f"no pack assumes {name}")
    return context.ledger.write(
        subject,
        quantity,
        found.bounded,
        case=STANDING,
        known_by="assumed",
        source=found.source,
        note=found.says,
        rests_on=frozenset((told,)) if found.rests else frozenset(),
    )


def assumed_leakage(context: Context, transformer: Subject, inductance: Entry) -> Entry:
    """Leakage inductance by the share that a pack assumes."""
    share = assumed(context, "leakage_share", transformer, "leakage_share", "transformer.leakage")
    return context.ledger.work_out(
        LEAKAGE, {"inductance": inductance, "share": share}, [(transformer, "transformer.leakage", "leakage")]
    )[0]


# Current density of a winding, and what its class lets it be.


DENSITY = Model.of(
    "current density of a winding",
    magnetics.DENSITY,
    "definition; skin and proximity effect are not in it",
    "rms current / copper area",
)


def current_density(context: Context, subject: Subject) -> None:
    """Current density of one winding that carries a current anybody worked out."""
    for case in context.plan.cases(["current_density"], [RUNNING]):
        current = context.fact(subject, "current_rms", case)
        if current is None and context.fact(subject, "winding.tied_to") is not None:
            context.ledger.write(
                subject,
                "current_density",
                Value.exact(0.0),
                case=case,
                known_by="computed",
                source="definition",
                formula="a shield carries no load current",
                inputs=(context.need(subject, "winding.tied_to").number,),
            )
            continue
        if current is None:
            note = "what is drawn from this winding is not known"
            context.ledger.hole(subject, "current_density", (), case=case, note=note)
            continue
        if context.word(subject, "winding.wire") == "foil":
            context.ledger.hole(subject, "current_density", (), case=case, note="foil is not covered")
            return
        strands = context.fact(subject, "winding.strands")
        inputs: Inputs = {
            "current": current,
            "diameter": context.need(subject, "winding.bare"),
            "strands": strands if strands is not None else Value.exact(1.0),
        }
        context.ledger.work_out(DENSITY, inputs, [(subject, "current_density", "density")], case=case)


# Resistance of a winding from its turns, its wire and the core it lies on.


WINDING = Model.of(
    "resistance of a winding from its wire",
    resistors.WINDING,
    "copper, 1.72e-8 ohm m at 20 degC and 31 % more at 100; a turn is 4 to 9 times the side of the leg",
    "ρ × turns × length of a turn / area of the wire",
)


def winding_resistance(context: Context) -> Entry:
    """Resistance of the primary winding [ohm], from its wire and core; what is not stated makes a hole."""
    name = context.structure.own.winding
    if name is None:
        return context.ledger.hole(
            SUPPLY, "series_resistance", (OpenFact(SUPPLY, "circuit.primary"),), case=Case("winding")
        )
    winding = Subject("winding", (name,))
    known = context.ledger.find(winding, "series_resistance", Case("winding"))
    if known is not None:
        return known
    transformer = Subject("transformer", (name.split(".")[0],))
    strands = context.fact(winding, "winding.strands")
    needed: tuple[tuple[Subject, QuantityName], ...] = (
        (winding, "winding.turns"),
        (winding, "winding.bare"),
        (transformer, "core.area"),
    )
    if any(context.value(*one) is None for one in needed):
        found = context.assumptions.get("primary_winding_resistance")
        if found is not None:
            return context.ledger.write(
                winding,
                "series_resistance",
                found.bounded,
                case=Case("winding"),
                known_by="assumed",
                source=found.source,
                note=found.says,
                rests_on=frozenset(OpenFact(subject, name) for subject, name in needed),
            )
    return context.ledger.work_out(
        WINDING,
        {
            "turns": context.need(winding, "winding.turns"),
            "bare": context.need(winding, "winding.bare"),
            "strands": strands or Value.exact(1.0),
            "area": context.need(transformer, "core.area"),
            "shape": Value.between(0.0, 1.0),
        },
        [(winding, "series_resistance", "resistance")],
        case=Case("winding"),
    )[0]
