"""`derate new`: a commented design file that states only what was answered. It never overwrites."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from derate.cli.shared import Parser, refused, say, width
from derate.report.words import plain, wrapped
from derate.terms.topologies import TOPOLOGIES
from derate.terms.values import ReadingError
from derate.text.files import write_whole

if TYPE_CHECKING:
    from derate.study.new import Answers
    from derate.study.parts_list.read import PartsList

_WORDS = tuple(TOPOLOGIES)


def new_parser() -> Parser:
    """What the command takes."""
    says = (
        "Write a design file to fill in, in the order in which a bench finds the facts: outside, opened, distances, "
        "under load, transformer. What is not given on the command line is asked for at a terminal, and stands as "
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
        "--mains-current", default="", metavar="CURRENT", help="current beside it, such as 0.3A, or unmarked"
    )
    made.add_argument(
        "--output",
        action="append",
        default=[],
        metavar="NAME=FIGURES",
        dest="outputs",
        help="an output of the plate, such as 'main=12 V 1.5 A'; may be given several times",
    )
    made.add_argument("--bulk-capacitors", type=int, default=1, choices=(1, 2), help="two with a choke between, or one")
    made.add_argument(
        "--sheet", metavar="PAGE", default="", help="also write the sheet for the bench, empty, to print or to fill in"
    )
    made.add_argument(
        "--from",
        metavar="LIST",
        default="",
        dest="source",
        help="a parts list as the drawing program writes it, .csv or .xlsx, or a SPICE "
        "netlist, .cir: its parts are written as ordered or drawn, and "
        "beside each what could not be read; a FILE that is there keeps every line and gets what it lacks",
    )
    made.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="ROLE=NAME",
        dest="columns",
        help="what a column of the list holds, where it was guessed wrong, such as 'designator=Pos'; with nothing "
        "behind the = no column; may be given several times",
    )
    made.add_argument("--no-bridging", action="store_true", help="you looked: no part goes from primary to secondary")
    return made


def run_new(arguments: argparse.Namespace) -> int:
    """Write the file, or say why not."""
    from derate.study.new import checked, new_design

    if arguments.columns and not arguments.source:
        raise refused("--column says what a parts list holds", "name the list with --from")
    if arguments.source and os.path.lexists(arguments.file):
        return _merge(arguments)
    if os.path.lexists(arguments.file):
        raise refused(f"'{arguments.file}' is there already and is not overwritten", "choose another name")
    if arguments.sheet and os.path.lexists(arguments.sheet):
        raise refused(f"'{arguments.sheet}' is there already and is not overwritten", "choose another name")
    parts = _list(arguments) if arguments.source else None
    text = new_design(checked(_answers(arguments)))
    if parts is not None:
        from derate.study.parts_list.written import into_new

        text = into_new(text, parts, arguments.file)
    from derate.editor.settings import first_line

    write_whole(arguments.file, first_line(arguments.file) + text, over=False)
    if arguments.sheet:
        _write_sheet(arguments.file, arguments.sheet)
    if parts is not None:
        _tell(parts, arguments.file)
    _wrapped(f"{arguments.file}: written; fill it in from the top, then run derate missing {arguments.file}")
    return 0


def _wrapped(text: str) -> None:
    """A sentence, cut at words where somebody reads it at a terminal; whole in a pipe."""
    say("\n".join(wrapped(text, width())) if _terminal() else text)


def _list(arguments: argparse.Namespace) -> PartsList:
    """The parts list, read. Raises ReadingError."""
    from derate.design.library import house_libraries, shipped_libraries
    from derate.design.library_file import listed
    from derate.study.parts_list.columns import find_columns
    from derate.study.parts_list.read import read_list
    from derate.study.parts_list.spice import ENDINGS, read_netlist
    from derate.study.parts_list.table import read_table
    from derate.study.parts_list.written import settled

    if arguments.source.lower().endswith(ENDINGS):
        if arguments.columns:
            raise refused("--column says what a parts list holds", "a netlist has no columns")
        return read_netlist(arguments.source)
    table = read_table(arguments.source)
    columns = find_columns(table, arguments.columns)
    libraries = (*house_libraries(arguments.file), *shipped_libraries())
    known = {one.name: one.kind for library in reversed(libraries) for one in listed(library)}
    return settled(read_list(table, columns, known), arguments.file)


def _tell(parts: PartsList, path: str) -> None:
    """What was taken from where, and what was not read."""
    from derate.study.parts_list.written import lines_of

    told = parts.columns.told()
    say(f"{plain(parts.table.path)}: {plain(parts.table.read)}{f'; {plain(told)}' if told else ''}")
    if parts.columns.unused:
        say(f"{plain(parts.table.path)}: nothing is taken from {plain(', '.join(parts.columns.unused))}")
    lines = lines_of(parts, path)
    for one in lines:
        if one.wrong:
            say(f"{plain(parts.table.path)}: {', '.join(one.names)}: {plain(one.wrong)}; it stands as a comment")
    for part in parts.parts:
        if part.unread and not part.no_part:
            say(f"{plain(parts.table.path)}: {part.designator}: not read: {plain('; '.join(part.unread))}")
    for left in parts.left:
        say(f"{plain(parts.table.path)}: row {left.row}: {plain(left.text)[:120]}: {plain(left.why)}")
    placed = sum(len(one.names) for one in lines if not one.wrong)
    how = "drawn" if parts.circuit else "ordered"
    say(f"{plain(path)}: {placed} of {len(parts.parts)} parts of the list, as {how}")
    for line in parts.circuit:
        say(f"{plain(path)}: {plain(line)}")


def _merge(arguments: argparse.Namespace) -> int:
    """The parts of a list put into a file that is there."""
    from derate.study.parts_list.written import into_existing
    from derate.text.nodes import read_text

    parts = _list(arguments)
    merged = into_existing(read_text(arguments.file), parts, arguments.file)
    _tell(parts, arguments.file)
    for words, found in (("added", merged.added), ("put in", merged.changed), ("left as it is", merged.differing)):
        for one in found:
            say(f"{plain(arguments.file)}: {words}: {plain(one)}")
    if not merged.added and not merged.changed:
        say(f"{plain(arguments.file)}: nothing to add")
        return 0
    write_whole(arguments.file, merged.text)
    return 0


def _write_sheet(path: str, page: str) -> None:
    """The empty sheet of a file that was just written."""
    from datetime import date

    from derate.report.sheet import sheet_page
    from derate.study.sheet import empty_sheet
    from derate.study.work import Workshop

    work = Workshop().work(path)
    write_whole(page, sheet_page(empty_sheet(work, date.today()), {}), work.read)
    say(f"{page}: its sheet for the bench, empty")


def _answers(arguments: argparse.Namespace) -> Answers:
    """What the command line says; at a terminal with none of it what is asked, from the outside inwards."""
    from derate.study import new

    asks = _terminal() and not any(
        (arguments.name, arguments.topology, arguments.mains, arguments.outputs, arguments.protection_class)
    )
    stem = os.path.basename(arguments.file).removesuffix(".yaml").removesuffix(".derate").replace("-", " ")
    said = new.Answers(
        arguments.name or stem,
        arguments.basis or "opened sample",
        arguments.topology,
        arguments.protection_class,
        arguments.mains,
        arguments.frequency,
        tuple(new.read_output(one) for one in arguments.outputs) or (("main", "", ""),),
        arguments.bulk_capacitors,
        not arguments.no_bridging,
        mains_current=arguments.mains_current,
    )
    return _interview(said) if asks else said


def _interview(said: Answers) -> Answers:
    """Asked in the order of the bench, each answer checked as it is given; Enter alone leaves it unknown."""
    from derate.study import new

    _wrapped("Closed and not plugged in: what its plate and its outside say. Enter alone: nobody knows yet.")
    name = _asked(f"Name of the supply [{said.name}]", new.read_name, said.name)
    mains = _asked("Mains on the plate, such as 100-240V~", new.read_mains, said.mains)
    frequency = _asked("Its frequency, such as 50/60Hz", new.read_frequency, said.frequency)
    current = _asked("Its current, such as 0.3A, or none", new.read_current, said.mains_current)
    outputs: list[tuple[str, str, str]] = []
    while True:
        own = "main" if not outputs else f"output-{len(outputs) + 1}"
        question = "Output on the plate, such as 12V 1.5A" if not outputs else "A further output, or Enter"
        found = _asked(question, partial(_another, own=own, before=tuple(outputs)), (own, "", ""))
        if outputs and not found[1]:
            break
        outputs.append(found)
        if not found[1]:
            break
    known = _asked("Class: 2 with a double square, 1 with an earth pin, 3", new.read_class, said.protection_class)
    joined = _asked(f"Connected by {', '.join(new.CONNECTIONS)}", new.read_connection, "")
    say("Only where it has been opened and traced:")
    topology = _asked(f"Topology: {', '.join(new.TOPOLOGIES)}", new.read_topology, said.topology)
    return replace(
        said,
        name=name,
        mains=mains,
        frequency=frequency,
        mains_current=current,
        outputs=tuple(outputs),
        protection_class=known,
        connection=joined,
        topology=topology,
    )


def _another(text: str, own: str, before: tuple[tuple[str, str, str], ...]) -> tuple[str, str, str]:
    """A further output, under a name that none before it has. Raises ReadingError."""
    from derate.study.new import read_output

    found = read_output(text, own)
    if not found[0] or any(not (c.isalnum() or c in "-_") for c in found[0]) or found[0] in {one[0] for one in before}:
        raise refused(f"'{found[0][:40]}' is no name of an output, or has one already", f"write {own}=12 V 1.5 A")
    return found


def _terminal() -> bool:
    try:
        return sys.stdin.isatty() and sys.stdout.isatty()
    except ValueError:  # closed
        return False


_T = TypeVar("_T")


def _asked(question: str, read: Callable[[str], _T], otherwise: _T) -> _T:
    """An answer that can be read: one that cannot is told, and the question put again; nothing before it is lost."""
    while True:
        try:
            text = input(f"{question}: ").strip()
        except EOFError:
            return otherwise
        if not text:
            return otherwise
        try:
            return read(text)
        except ReadingError as error:
            for one in error.problems:
                say("\n".join(wrapped(f"  {plain(one.what)}; {plain(one.instead)}", 78, "", "  ")))
