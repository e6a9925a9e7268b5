"""`derate insulation`: what every pair of circuits needs and has, by each family of rules in use."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING, Any

from derate.cli.arguments import Parser, add_format, add_packs, refused
from derate.cli.output import for_people, say, say_lines, width

if TYPE_CHECKING:
    from derate.report.insulation import FamilyInsulation
    from derate.study.work import Work

PACKS = ("insulation-it-equipment", "insulation-household", "insulation-60664")


def parser() -> Parser:
    """What the command takes."""
    made = Parser("insulation", "Print what every pair of circuits of a design needs and has.")
    _fill(made)
    return made


def add_parser(subparsers: Any) -> None:
    """Add the command to subparsers of argparse."""
    _fill(subparsers.add_parser("insulation", help="print what every pair of circuits needs and has"))


def _fill(made: argparse.ArgumentParser) -> None:
    made.add_argument("file", metavar="FILE", help="a design")
    add_format(made)  # type: ignore[arg-type]
    add_packs(made)  # type: ignore[arg-type]
    made.add_argument(
        "--why", default="", metavar="BARRIER", help="how the distances of this barrier came about, step by step"
    )


def run(arguments: argparse.Namespace) -> int:
    """Print the summary or one derivation. Families are worked through one at a time: they never mix."""
    from derate.report.insulation import insulation_json, insulation_lines

    works = _works(arguments.file, tuple(arguments.packs))
    if arguments.why:
        _derivations(works, arguments.why)
        return 0
    families = [_family(work) for work in works]
    if arguments.format == "json":
        say(insulation_json(arguments.file, families))
    else:
        say_lines(insulation_lines(families))
    blocks = any(finding.blocks for one in families for finding in one.review.findings if finding.hazard == "shock")
    return 1 if blocks else 0


def _works(path: str, asked: tuple[str, ...]) -> list[Work]:
    """The design worked through once for every insulation family in use."""
    from derate.insulation.requirements import Context, require
    from derate.study.work import Workshop

    whole = Workshop(asked).work(path)
    heads = [head for head in whole.packs.heads if head.family]
    families = tuple(dict.fromkeys(head.family for head in heads))
    if not families:
        raise refused("no insulation pack is in use", f"write --pack {' or --pack '.join(PACKS)}")
    works = []
    for family in families:
        names = [head.path for head in whole.packs.heads if head.family in ("", family)]
        work = whole if len(families) == 1 else Workshop(names).work(path)
        if not any(entry.quantity == "insulation.mains" for entry in work.ledger.entries):
            require(Context(work.ledger, work.design, work.packs))
        works.append(work)
    return works


def _family(work: Work) -> FamilyInsulation:
    from derate.insulation.pairs import summary
    from derate.report.insulation import FamilyInsulation
    from derate.study.work import review_of

    family = next(head.family for head in work.packs.heads if head.family)
    return FamilyInsulation(family, summary(work.ledger), review_of(work, date.today()))


def _derivations(works: list[Work], name: str) -> None:
    from derate.ledger.entry import Subject
    from derate.report.ledger import derivation_lines
    from derate.terms.place import nearest

    subject = Subject("barrier", (name,))
    known = [one.names[0] for work in works for one in work.ledger.subjects("barrier")]
    if name not in known:
        close = nearest(name, known)
        raise refused(f"no barrier is called '{name[:60]}'", f"write {close}" if close else "")
    for work in works:
        for quantity in ("needed.clearance", "needed.creepage"):
            entry = work.ledger.find(subject, quantity)
            if entry is not None:
                say_lines(derivation_lines(work.ledger, entry.number, width() if for_people("auto") else None))
