"""The public Python interface, for notebooks and pipelines: what `import derate` gives, and all it gives.

Loaded at the first use of one of its names, so that `import derate` itself stays light. `docs/python.md` shows it;
every other name of the package is private and may move from one version to the next.
"""

from __future__ import annotations

import json
import os
from collections.abc import Collection, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from derate.design.load import Design, load_design
from derate.judge.acknowledge import read_record
from derate.judge.review import Finding, Review
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.study.work import Workshop, review_of
from derate.terms.values import Category, Curve, Place, Problem, ReadingError, Value
from derate.terms.words import Level, Verdict
from derate.text.nodes import read_text

if TYPE_CHECKING:
    from derate.report.schemas import FaultsOutput, LintOutput, StressesOutput

__all__ = [
    "Case",
    "Category",
    "Curve",
    "Design",
    "Entry",
    "Finding",
    "Ledger",
    "Place",
    "Problem",
    "ReadingError",
    "Review",
    "Subject",
    "Value",
    "findings",
    "load",
    "read_faults",
    "read_lint",
    "read_stresses",
    "review",
    "schema",
    "stresses",
]
Path = str | os.PathLike[str]


def load(path: Path) -> Design:
    """A design as its file says it, every name resolved. Raises ReadingError with everything that is wrong.

    `design.file` is the tree of records: `design.file.parts["C1"].rated.voltage`.
    """
    return load_design(os.fspath(path))


def stresses(path: Path, *, packs: Sequence[str] = ()) -> Ledger:
    """The ledger of a design: every fact, every stress worked out from them, every requirement, each with its inputs.

    packs: names or paths of rule packs in place of those the design and its repository name. Raises ReadingError.
    """
    return Workshop(packs).work(os.fspath(path)).ledger


def review(
    path: Path,
    *,
    packs: Sequence[str] = (),
    today: date | None = None,
    known: Path | None = None,
    stop_at: Level | None = None,
    shipped_gate: bool = False,
) -> Review:
    """A design judged by its rule packs, as `derate lint` does. Raises ReadingError.

    packs: in place of those the design and its repository name; today: the day that waivers are held to, now when None
    known: a record of known findings, which are held back
    stop_at: fail, default, not-assessed or marginal, None as the settings say
    shipped_gate: by the shipped packs and the shipped level alone, whatever else is given or written
    """
    if shipped_gate:
        return review_of(Workshop((), True).work(os.fspath(path)), today or date.today())
    work = Workshop(packs).work(os.fspath(path))
    recorded = None if known is None else read_record(read_text(os.fspath(known)), os.fspath(known))
    return review_of(work, today or date.today(), recorded, stop_at)


def findings(
    path: Path, *, verdicts: Collection[Verdict] = (), packs: Sequence[str] = (), today: date | None = None
) -> tuple[Finding, ...]:
    """The findings of a review, those with one of some verdicts where they are named. Raises ReadingError."""
    found = review(path, packs=packs, today=today).findings
    return tuple(one for one in found if not verdicts or one.verdict in verdicts)


def schema(kind: str = "design") -> dict[str, Any]:
    """A published JSON Schema: design, pack, settings, lint, stress, faults, insulation or known.

    Raises ValueError for another.
    """
    from derate.cli.house import KINDS, schema_text

    if kind not in KINDS:
        raise ValueError(f"'{kind}' has no schema: write one of {', '.join(KINDS)}")
    made: dict[str, Any] = json.loads(schema_text(kind))
    return made


def read_lint(text: str) -> LintOutput:
    """What `derate lint --format json` printed, as a model. Raises ReadingError with all that is not as published."""
    from derate.report.schemas import LintOutput, read_output

    return read_output(text, "lint output", LintOutput)


def read_stresses(text: str) -> StressesOutput:
    """What `derate stress --format json` printed, as a model. Raises ReadingError with all that is not as published."""
    from derate.report.schemas import StressesOutput, read_output

    return read_output(text, "stress output", StressesOutput)


def read_faults(text: str) -> FaultsOutput:
    """What `derate faults --format json` printed, as a model. Raises ReadingError with all that is not as published."""
    from derate.report.schemas import FaultsOutput, read_output

    return read_output(text, "faults output", FaultsOutput)
