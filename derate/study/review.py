"""One way through: file, design, ledger, requirements, findings.

`Pieces` holds what the stations left behind, so that a caller that varies facts need not read the file again.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from derate.design.facts import facts
from derate.design.load import Design, load_design
from derate.judge.acknowledge import OpenPoint, Waiver
from derate.judge.judge import judge
from derate.judge.known import Known
from derate.judge.review import Review
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs, load_packs
from derate.stress.run import run
from derate.terms.words import Hazard

DEFAULT_PACKS = ("commercial-practice", "mains-fusing", "insulation-it-equipment")
# Packs whose absence is never silent, and the hazards they cover. One family of insulation will do.
REQUIRED: dict[str, tuple[Hazard, ...]] = {"commercial-practice": ("overstress",), "mains-fusing": ("fire",)}


@dataclass(frozen=True, slots=True)
class Pieces:
    """A design with its facts, its packs and its ledger."""

    design: Design
    facts: tuple[Entry, ...]
    packs: Packs
    ledger: Ledger


def packs_of(design: Design, more: Sequence[str] = ()) -> Packs:
    """The packs a design names (else the default ones), and those the repository or the command line adds."""
    named = tuple(design.file.packs or DEFAULT_PACKS)
    wanted = tuple(dict.fromkeys((*named, *more)))
    return load_packs(wanted, near=Path(os.path.dirname(design.path) or "."))


def work_out(design: Design, packs: Packs, given: Sequence[Entry] | None = None) -> Pieces:
    """The ledger of a design; `given` replaces its facts."""
    rows = facts(design) if given is None else tuple(given)
    assumed = {name: one for (family, name), one in packs.assumptions.items() if not family}
    ledger = run(design.structure, rows, assumed, design.readings)
    return Pieces(design, rows, packs, ledger)


def judged(
    pieces: Pieces, today: date, known: Known | None = None, required: Mapping[str, Sequence[Hazard]] | None = None
) -> Review:
    """The review of a design that was worked out."""
    design = pieces.design
    return judge(
        pieces.ledger,
        pieces.packs,
        path=design.path,
        name=design.name,
        today=today,
        waivers=[
            Waiver(w.rule, w.subject, w.up_to, w.reason, w.by, w.last_day, w.place, "; ".join(w.wrong))
            for w in design.waivers
        ],
        open_points=[
            OpenPoint(o.rule, o.subject, o.reason, o.by, o.last_day, o.place, "; ".join(o.wrong))
            for o in design.open_points
        ],
        known=known,
        required_packs=REQUIRED if required is None else required,
        notes=design.notes,
    )


def review_file(path: str, today: date, more_packs: Sequence[str] = (), known: Known | None = None) -> Review:
    """Read, work out and judge one file. Raises ReadingError for a design or a pack that cannot be read."""
    design = load_design(path)
    return judged(work_out(design, packs_of(design, more_packs)), today, known)
