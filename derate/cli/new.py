"""`derate new`: a commented design file that states only what was answered. It never overwrites."""

from __future__ import annotations

import argparse
import os
import sys
from typing import TYPE_CHECKING

from derate.cli.shared import Parser, refused, say
from derate.report.words import wrapped
from derate.terms.topologies import TOPOLOGIES
from derate.text.files import write_whole

if TYPE_CHECKING:
    from derate.study.new import Answers

_WORDS = tuple(TOPOLOGIES)


def new_parser() -> Parser:
    """What the command takes."""
    says = (
        "Write a design file to fill in, in the order in which a bench finds the facts: outside, under load, opened, "
        "distances, transformer. What is not given on the command line is asked for at a terminal, and stands as "
        "unknown otherwise; parts, paths and readings stand as comments until somebody has seen them. An existing "
        "file is never overwritten."
    )
    made = Parser("new", "\n".join(wrapped(says, 78)))
    made.add_argument("file", metavar="FILE", help="the file to write, such as lamp.derate.yaml")
    made.add_argument("--name", default="", help="name of the supply; that of the file when it is left out")
    made.add_argument("--basis", default="", help="opened sample, own design or vendor documents")
    made.add_argument("--topology", default="", help=f"{', '.join(_WORDS[:-1])} or {_WORDS[-1]}")
    made.add_argument("--class", default="", dest="protection_class", metavar="CLASS", help="I, II or III")
    made.add_argument("--mains", default="", help="mains voltage on the plate, such as '100..240 V'")
    made.add_argument("--frequency", default="", help="mains frequency on the plate, such as '50..60 Hz'")
    made.add_argument(
        "--output",
        action="append",
        default=[],
        metavar="NAME=FIGURES",
        dest="outputs",
        help="an output of the plate, such as 'main=12 V 1.5 A'; may be given several times",
    )
    made.add_argument("--bulk-capacitors", type=int, default=1, choices=(1, 2), help="two with a choke between, or one")
    made.add_argument("--no-bridging", action="store_true", help="you looked: no part goes from primary to secondary")
    return made


def run_new(arguments: argparse.Namespace) -> int:
    """Write the file, or say why not."""
    from derate.study.new import checked, new_design

    if os.path.lexists(arguments.file):
        raise refused(f"'{arguments.file}' is there already and is not overwritten", "choose another name")
    text = new_design(checked(_answers(arguments)))
    write_whole(arguments.file, text, over=False)
    say(f"{arguments.file}: written; fill it in from the top, then run derate missing {arguments.file}")
    return 0


def _answers(arguments: argparse.Namespace) -> Answers:
    from derate.study.new import Answers

    asks = _terminal() and not any(
        (arguments.name, arguments.topology, arguments.mains, arguments.outputs, arguments.protection_class)
    )
    stem = os.path.basename(arguments.file).removesuffix(".yaml").removesuffix(".derate").replace("-", " ")
    name = arguments.name or (_asked("Name of the supply", stem) if asks else stem)
    some = ", ".join(_WORDS[:2])
    topology = arguments.topology or (_asked(f"Topology ({some}, …; empty: unknown)", "") if asks else "")
    known = arguments.protection_class or (_asked("Protection class (I, II, III; empty: unknown)", "") if asks else "")
    mains = arguments.mains or (_asked("Mains on the plate, such as 100..240 V", "") if asks else "")
    frequency = arguments.frequency or (_asked("Frequency on the plate, such as 50..60 Hz", "") if asks else "")
    given = arguments.outputs or (
        [f"main={_asked('Output on the plate, such as 12 V 1.5 A', '')}"] if asks else ["main="]
    )
    return Answers(
        name,
        arguments.basis or "opened sample",
        topology,
        known,
        mains,
        frequency,
        tuple(map(_output, given)),
        arguments.bulk_capacitors,
        not arguments.no_bridging,
    )


def _output(text: str) -> tuple[str, str, str]:
    """Name, voltage and current of `main=12 V 1.5 A`."""
    name, equals, figures = text.partition("=")
    words = figures.split()
    if not equals or len(words) not in (0, 4):
        raise refused(f"'{text[:60]}' is no output", "write --output 'main=12 V 1.5 A'")
    return name.strip(), " ".join(words[:2]), " ".join(words[2:])


def _terminal() -> bool:
    try:
        return sys.stdin.isatty() and sys.stdout.isatty()
    except ValueError:  # closed
        return False


def _asked(question: str, otherwise: str) -> str:
    told = f" [{otherwise}]" if otherwise else ""
    try:
        return input(f"{question}{told}: ").strip() or otherwise
    except EOFError:
        return otherwise
