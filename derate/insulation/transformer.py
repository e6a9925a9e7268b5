"""Requirement rows of a transformer: layers found and needed, wire, margins, sleeves on leads and at crossings."""

from __future__ import annotations

from derate.design.forms import INTO
from derate.design.load import Design
from derate.design.transformers import Lead
from derate.insulation.circuits import winding_side
from derate.insulation.needed import tape_layers_row
from derate.insulation.row import Writer
from derate.insulation.tables import micrometres
from derate.insulation.winding import (
    CORE,
    NOTHING,
    Boundary,
    boundaries,
    insulation_thickness,
    margin_each_side,
    possible_wires,
)
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.terms.quantities import QuantityName, each
from derate.terms.values import Category, Value

WIRES = ("enamelled", "foil", "insulated", "triple-insulated")  # the last is the best
SLEEVE = 0.4e-3  # m: a sleeve that insulates is a single layer of solid insulation


def transformer_rows(writer: Writer, name: str, design: Design, insulation: Entry, creepage: Entry | None) -> None:
    """Rows of one transformer: layers found and needed, wire, insulation thickness, margins needed, sleeves."""
    subject = Subject("transformer", (name,))
    writer.row(
        subject,
        "needed.insulation",
        insulation.value or Category.of("reinforced", "basic"),
        formula="that of primary to secondary",
        inputs=[insulation],
    )
    tape_layers_row(writer, subject, insulation)
    layers = design.layers[name].layers if name in design.layers else None
    met: tuple[Boundary, ...] = ()
    if layers is None:
        writer.hole(
            subject, "found.tape_layers", (OpenFact(subject, "found.tape_layers"),), note="nobody listed its layers"
        )
    else:
        met, unknown = boundaries(name, layers, design)
        _layers_found(writer, subject, met, unknown)
    _wire(writer, subject, name, design, met)
    if creepage is not None and isinstance(creepage.value, Value):
        halves = [_half(one) for one in creepage.value.numbers()]
        writer.row(
            subject,
            "needed.margin",
            Value(*halves),
            formula="half of the creepage: the path crosses both margins",
            source="two makers of flyback controllers, application notes",
            inputs=[creepage],
            confidence="common practice",
        )
    else:
        missing = creepage.missing if creepage is not None else ()
        writer.hole(subject, "needed.margin", missing, note=creepage.note if creepage is not None else "")
    _margins(writer, subject, name, design)
    _sleeves(writer, subject, name, design)


def _half(length: float) -> float:
    if length == float("inf"):
        return length
    return margin_each_side(int(-(-micrometres(length) // 1))) / 1e6


def _layers_found(writer: Writer, subject: Subject, met: tuple[Boundary, ...], unknown: tuple[str, ...]) -> None:
    for one in met:
        pair = Subject("winding pair", (f"{subject}.{one.one}", f"{subject}.{one.other}"))
        words = f"whole layers between {one.one} and {one.other}"
        if one.layers is None:
            writer.hole(pair, "found.tape_layers", (OpenFact(subject, "found.tape_layers"),), note=one.note)
        else:
            writer.row(pair, "found.tape_layers", one.layers, formula=words, note=one.note)
    if unknown or not met or any(one.layers is None for one in met):
        missing = tuple(OpenFact(Subject("winding", (one,)), "winding.tied_to") for one in unknown)
        note = "" if missing else "its list has no place where primary and secondary meet, or a tape was not counted"
        sure = [one for one in met if one.layers is not None]
        if not sure:
            writer.hole(subject, "found.tape_layers", missing or (OpenFact(subject, "found.tape_layers"),), note=note)
            return
        worst = min(sure, key=_count)
        assert worst.layers is not None
        # What was not looked at may be worse, never better than nothing.
        value = Value(0.0, 0.0, worst.layers.far, worst.layers.high)
        writer.row(subject, "found.tape_layers", value, formula="at most those of the weakest place counted", note=note)
        return
    worst = min(met, key=_count)
    pairs = [Subject("winding pair", (f"{subject}.{one.one}", f"{subject}.{one.other}")) for one in met]
    inputs = [found for pair in pairs if (found := writer.find(pair, "found.tape_layers")) is not None]
    numbers = zip(*(one.layers.numbers() for one in met if one.layers is not None), strict=True)
    where = f"{worst.one} to {worst.other}"
    writer.row(
        subject,
        "found.tape_layers",
        Value(*(min(column) for column in numbers)),
        formula=f"fewest of all {len(met)} places where the sides meet, {where}",
        inputs=inputs,
        note=worst.note,
    )
    writer.row(subject, "found.tape_boundary", Category.of(where), formula="the weakest place", inputs=inputs)


def _count(one: Boundary) -> tuple[float, float]:
    return (one.layers.near, one.layers.far) if one.layers is not None else (0.0, 0.0)


def _wire(writer: Writer, subject: Subject, name: str, design: Design, met: tuple[Boundary, ...]) -> None:
    """The wire that every boundary can rest on: one winding is enough, so the better of the two; worst place first."""
    windings = design.file.transformers[name].windings
    if any(CORE not in (one.one, one.other) for one in met):
        pairs = [(one.one, one.other) for one in met if CORE not in (one.one, one.other)]
    else:
        sides: dict[str, list[str]] = {"primary": [], "secondary": []}
        for winding in windings:
            sides.setdefault(winding_side(f"{name}.{winding}", design), []).append(winding)
        pairs = [(one, other) for one in sides["primary"] for other in sides["secondary"]]
    for pair in pairs:
        _thickness(writer, name, design, pair)
    words = [_better(name, writer, pair) for pair in pairs]
    if not words or any(word is None for word in words):
        writer.hole(subject, "transformer.barrier_wire", (OpenFact(subject, "winding.wire"),))
        return
    worst = min((word for word in words if word is not None), key=WIRES.index)
    writer.row(
        subject,
        "transformer.barrier_wire",
        possible_wires(worst),
        formula="better wire of the two at the worst place",
        source="insulated wire on one of the two windings serves",
        note="not named as triple-insulated by maker or drawing" if worst == "insulated" else "",
    )
    thick = [
        found.value
        for pair in pairs
        if (found := writer.find(_pair(name, pair), "found.wire_insulation")) and isinstance(found.value, Value)
    ]
    if thick and len(thick) == len(pairs):
        value = Value(*(min(column) for column in zip(*(one.numbers() for one in thick), strict=True)))
        writer.row(subject, "found.wire_insulation", value, formula="thinnest of the insulated wires at the barrier")


def _pair(name: str, pair: tuple[str, str]) -> Subject:
    return Subject("winding pair", (f"{name}.{pair[0]}", f"{name}.{pair[1]}"))


def _better(name: str, writer: Writer, pair: tuple[str, str]) -> str | None:
    words = []
    for winding in pair:
        wire = writer.ledger.find(Subject("winding", (f"{name}.{winding}",)), "winding.wire")
        word = wire.value.word if wire is not None and isinstance(wire.value, Category) else None
        if word is None and writer.ledger.find(Subject("winding", (f"{name}.{winding}",)), "winding.foil") is not None:
            word = "foil"
        words.append(word)
    if "triple-insulated" in words:
        return "triple-insulated"
    if None in words:
        return None
    return max((word for word in words if word is not None), key=WIRES.index)


def _thickness(writer: Writer, name: str, design: Design, pair: tuple[str, str]) -> None:
    """Insulation of the insulated wire of a pair, from its two diameters; enamelled wire has none that counts."""
    best: tuple[Value, list[Entry]] | None = None
    for winding in pair:
        own = Subject("winding", (f"{name}.{winding}",))
        of_wire = each("winding.wire", "winding.bare", "winding.outside")
        wire, bare, outside = (writer.ledger.find(own, one) for one in of_wire)
        word = wire.value.word if wire is not None and isinstance(wire.value, Category) else None
        if word not in ("insulated", "triple-insulated") or bare is None or outside is None:
            continue
        if not isinstance(bare.value, Value) or not isinstance(outside.value, Value):
            continue
        b, o = bare.value, outside.value
        try:
            ends = [
                insulation_thickness(x, y) / 1e6
                for x, y in ((b.high, o.low), (b.far, o.near), (b.near, o.far), (b.low, o.high))
            ]
        except ValueError:
            continue
        value = Value(*ends)
        if best is None or value.near > best[0].near:
            best = value, [bare, outside]
    if best is not None:
        writer.row(
            _pair(name, pair),
            "found.wire_insulation",
            best[0],
            formula="half of outside less bare diameter",
            inputs=best[1],
        )


def _margins(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    """A margin that somebody looked for and did not find is none: 0 mm."""
    stated = writer.ledger.find(subject, "transformer.margins")
    if stated is not None and isinstance(stated.value, Category) and stated.value.word == "none":
        writer.row(subject, "transformer.margins", NOTHING, formula="looked for: no margin tape", inputs=[stated])


def _sleeves(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    """Sleeves of leads that fly, and of those that cross the other side: one word each, the worst lead first."""
    leads = design.file.transformers[name].leads
    kinds: tuple[tuple[QuantityName, bool], ...] = (
        ("transformer.lead_sleeves", False),
        ("transformer.crossing_sleeves", True),
    )
    for quantity, wanted in kinds:
        if not leads:
            writer.hole(subject, quantity, (OpenFact(subject, "leads"),), note="nobody described the leads")
            continue
        asked = {lead: _asks(block, wanted) for lead, block in leads.items()}
        words = {lead: _sleeve(block) for lead, block in leads.items() if asked[lead] is not False}
        unknown = [f"sleeve of lead {lead}" for lead, word in words.items() if word == ""]
        bare = [f"{lead}: {word}" for lead, word in words.items() if word not in ("", "found") and asked[lead]]
        # A bare lead of which nobody said whether it crosses, or flies, is not one that does neither.
        what = "crosses the other side" if wanted else "flies"
        unknown += [
            f"whether lead {lead} {what}" for lead, word in words.items() if asked[lead] is None and word != "found"
        ]
        if bare:
            writer.row(subject, quantity, Category.of("absent"), formula="; ".join(bare))
        elif unknown:
            writer.hole(subject, quantity, tuple(OpenFact(subject, one) for one in unknown))
        else:
            writer.row(subject, quantity, Category.of("found"), formula="every lead that needs one has it")


def _asks(lead: Lead, crossing: bool) -> bool | None:
    """Whether a lead has to have a sleeve for this reason; None where nobody said."""
    if not crossing:
        return None if not lead.kind else lead.kind == "flying"
    if not lead.crosses:
        return None
    return "none" not in lead.crosses


def _sleeve(lead: Lead) -> str:
    """'found', '' where nobody said, or what is wrong with the sleeve of a lead."""
    sleeve = lead.sleeve
    if sleeve is None:
        return ""
    if not sleeve.there:
        return "no sleeve"
    if lead.sleeve_reaches is not None and lead.sleeve_reaches not in INTO:
        return f"its sleeve reaches {lead.sleeve_reaches} only"
    if sleeve.wall is not None and sleeve.wall.near < SLEEVE:
        return f"its sleeve of {sleeve.text} is under 0.4 mm" if sleeve.wall.far < SLEEVE else ""
    return "found"
