"""Primary and leakage inductance where nobody measured them: from the gap, and by a share that a pack assumes."""

from __future__ import annotations

from derate.circuit.magnetics import ERROR as MAGNETICS_ERROR
from derate.circuit.magnetics import gapped_inductance
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context
from derate.terms.values import Value

PRIMARY = Subject("path", ("primary",))
STANDING = Case("converter")  # rows that hold at every case of the converter


GAPPED = Model(
    "inductance from the gap",
    lambda gap, turns, area, path, permeability: {
        "inductance": gapped_inductance(gap, turns, area, path, permeability)
    },
    {"inductance": {"gap": -1, "turns": 1, "area": 1, "path": -1, "permeability": 1}},
    "AN1272 (Philips, 1996) p4",
    "µ0 × turns² × area / (gap + path / permeability)",
    {"inductance": MAGNETICS_ERROR["gapped_inductance"]},
)


def primary_inductance(context: Context, transformer: Subject, winding: str | None) -> Entry:
    """Primary inductance: as stated, else from gap, core area and turns, else a hole that names it."""
    stated = context.fact(transformer, "transformer.inductance")
    gap = context.fact(transformer, "core.gap")
    area = context.fact(transformer, "core.area")
    turns = context.fact(Subject("winding", (winding or "",)), "winding.turns")
    if stated is not None or gap is None or area is None or turns is None:
        return stated or context.need(transformer, "transformer.inductance")
    inputs: dict[str, Entry | Value | float] = {
        "gap": gap, "turns": turns, "area": area,
        "path": context.fact(transformer, "core.length") or assumed(context, "core_path", transformer, "core.length",
        "core.length"),
        "permeability": context.fact(transformer, "core.permeability")
        or assumed(context, "core_permeability", transformer, "core.permeability", "core.permeability"),
    }  # fmt: skip
    return context.ledger.work_out(GAPPED, inputs, [(transformer, "transformer.inductance", "inductance")])[0]


LEAKAGE = Model(
    "leakage as a share of the inductance",
    lambda inductance, share: {"leakage": inductance * share},
    {"leakage": {"inductance": 1, "share": 1}},
    "definition",
    "inductance × leakage share",
)


def assumed(context: Context, name: str, subject: Subject, quantity: str, fact: str) -> Entry:
    """An assumption of the packs under a quantity of its own,
    for want of a fact; a hole that names the fact without."""
    found = context.assumptions.get(name)
    told = f"{subject}: {fact}"
    if found is None:
        return context.ledger.hole(subject, quantity, (told,), case=STANDING, note=f"no pack assumes {name}")
    return context.ledger.write(
        subject, quantity, found.bounded, case=STANDING, known_by="assumed", source=found.source, note=found.says,
        rests_on=frozenset((told,)) if found.rests else frozenset(),
    )  # fmt: skip


def assumed_leakage(context: Context, transformer: Subject, inductance: Entry) -> Entry:
    """Leakage inductance by the share that a pack assumes."""
    share = assumed(context, "leakage_share", transformer, "leakage_share", "transformer.leakage")
    return context.ledger.work_out(
        LEAKAGE, {"inductance": inductance, "share": share}, [(transformer, "transformer.leakage", "leakage")]
    )[0]
