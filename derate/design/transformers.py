"""The blocks of a transformer: core, windings, leads, and the list of what was wound (its entries: `layers.py`)."""

from __future__ import annotations

from collections.abc import Mapping

from derate.design.forms import Reaches, Sleeve, SleeveForm, TapeOnCore
from derate.design.layers import LayerList, Layers
from derate.design.names import EachNamed, names, tied
from derate.design.plain_forms import NOTHING, Block, block, each, fact, figure, formed, line, lines, word
from derate.design.record import Record
from derate.design.stated import Name, Stated
from derate.terms.dimension import LENGTH
from derate.terms.vocabulary import VOCABULARY


class Core(Record, prefix="core"):
    """The core of a transformer."""

    shape: Stated | None = fact("core.shape", how="measure it and compare with a core catalogue")
    area: Stated | None = fact()
    gap: Stated | None = fact("core.gap", how="feeler gauge or shim, once the core is apart")
    length: Stated | None = fact("core.length", how="core catalogue, by its shape")
    permeability: Stated | None = fact("core.permeability", how="core catalogue, or inductance of the core without gap")
    saturation: Stated | None = fact("core.saturation", how="data sheet of the ferrite, at 100 degC")
    tape_to_windings: Stated | None = formed(
        TapeOnCore(VOCABULARY["core.tape_to_windings"]), how="count the layers of tape round the core"
    )
    tied_to: Stated | None = tied("core.tied_to")


class Winding(Record, prefix="winding"):
    """One winding, or a shield."""

    turns: Stated | None = fact()
    wire: Stated | None = fact()
    bare: Stated | None = fact()
    outside: Stated | None = fact()
    strands: Stated | None = fact()
    foil: Stated | None = fact("winding.foil", how="micrometer on the foil")
    width: Stated | None = fact("winding.width", how="calliper across the foil")
    leakage: Stated | None = fact()
    tied_to: Stated | None = tied("winding.tied_to", how="ohmmeter from the shield to the pins")
    pins: tuple[str, ...] = lines("its pins", "ohmmeter, before it is unwound", "[3, 2, 1]")
    note: str | None = line("a note", "your own words", "first half under the secondary")


class Lead(Record):
    """The leads of a winding."""

    kind: str | None = word("way the leads leave the winding", ("flying", "pins"), "look at it")
    length: Stated | None = figure(LENGTH, "length of the leads", "ruler", example="35 mm")
    sleeve: Sleeve | None = formed(SleeveForm(), how="look at it, and measure its wall", example="0.4 mm")
    sleeve_reaches: str | None = formed(Reaches(), how="look at it", example="into the winding")
    ends_in: str | None = line("what the leads end in", "look at it", "board holes")
    held_by: str | None = line("what holds the leads", "look at it", "glue")
    crosses: tuple[Name, ...] | None = names(
        "what the leads cross", "side", "sibling", how="look at it as it is unwound", example="none", words=("none",)
    )


class Transformer(Record, prefix="transformer"):
    """One transformer."""

    core: Core | None = block(Core, "its core")
    inductance: Stated | None = fact()
    leakage: Stated | None = fact()
    insulation_class: Stated | None = fact("transformer.insulation_class", how="read it from wire, bobbin and tape")
    margins: Stated | None = fact()
    windings: Mapping[str, Winding] = each(Winding, "its windings, each under a name of your own", "ohmmeter")
    leads: Mapping[str, Lead] = formed(
        EachNamed(Block(Lead), ("sibling",), ("all",)),
        "its leads, by winding or for `all`",
        "look at them",
        default=NOTHING,
    )
    from_core_outwards: LayerList | None = formed(
        Layers(),
        "what was wound, from the core outwards",
        "write it down as it is unwound, and turn it round",
        "[bobbin 1.0 mm, primary 42 turns, tape 2 layers]",
    )
    from_outside_inwards: LayerList | None = formed(
        Layers(), "the same list as it came apart", "write it down as it is unwound", "[tape 2 layers, primary]"
    )
    construction: str | None = line("way it is built", "your own words", "primary halves round the secondary")
