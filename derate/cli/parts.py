"""`derate parts`: the libraries of parts of a repository, listed, checked, and one figure changed by trial."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from derate.cli.shared import (
    COMMAND_LINE,
    TAKEN,
    Parser,
    add_colour,
    add_format,
    day,
    designs,
    fitted,
    for_people,
    refused,
    say,
    say_lines,
    tell_problems,
    width,
)
from derate.report.words import plain, wrapped

if TYPE_CHECKING:
    from derate.design.library_file import Library


def parts_parser() -> Parser:
    """What the command takes."""
    says = (
        "List the parts that a design may name: those of the libraries (*.parts.yaml) of this repository and those "
        "that lie with derate. With a name: every figure of it with its source, and the designs that use it."
    )
    made = Parser("parts", "\n".join(wrapped(says, 78)))
    made.add_argument("name", metavar="NAME", nargs="?", default="", help="a part by its order code or type")
    one = made.add_mutually_exclusive_group()
    one.add_argument(
        "--check",
        action="store_true",
        help="check every library: keys, dimensions, plausible sizes, a source for each figure; exit status 1 if one "
        "is wrong",
    )
    one.add_argument(
        "--set",
        dest="change",
        metavar="KEY=VALUE",
        default="",
        help="what this figure would do to every design that uses the part, such as 'rated.reverse_voltage=800 V'; "
        "nothing is written",
    )
    made.add_argument(
        "--designs",
        metavar="FOLDER",
        default=".",
        help=f"where designs that use parts are looked for, this folder when nothing is said. {TAKEN}",
    )
    made.add_argument("--maker", default="", help="with --set: only parts of this maker")
    made.add_argument("--today", type=day, default=None, metavar="DAY", help="day of judging, such as 2027-06-30")
    add_format(made)
    add_colour(made)
    return made


def run_parts(arguments: argparse.Namespace) -> int:
    """List, show, check or try."""
    from derate.design.library import house_libraries, shipped_libraries
    from derate.design.library_file import Listed, listed

    folder = arguments.designs
    if not os.path.isdir(folder):
        raise refused(f"'{plain(folder)[:60]}' is no folder", "name one that holds designs")
    libraries = (*house_libraries(os.path.join(folder, "design")), *shipped_libraries())
    data = arguments.format == "json"
    if arguments.check:
        return _check(libraries, data)
    if arguments.change:
        return _try(arguments, libraries)
    from derate.report.parts import entry_lines, list_lines, parts_json
    from derate.study.parts import used_by
    from derate.terms.values import nearest

    entries = {one.path: listed(one) for one in libraries}
    paths, _ = designs([folder])
    uses, problems = used_by(paths)
    columns = min(width(), 110) if for_people() else None
    found: list[Listed] = [
        one for own in entries.values() for one in own if not arguments.name or one.name == arguments.name
    ]
    if arguments.name and not found:
        raise _unknown(arguments.name, nearest(arguments.name, [one.name for own in entries.values() for one in own]))
    if data:
        say(parts_json(libraries, found, [(use.design, use.origin) for use in uses], problems=problems))
    elif not arguments.name:
        counts: dict[str, int] = {}
        for use in uses:
            counts[use.origin.name] = counts.get(use.origin.name, 0) + 1
        say_lines(fitted(list_lines(libraries, entries, counts), columns))
    else:
        own = [(use.design, use.origin) for use in uses if use.origin.name == arguments.name]
        for number, one in enumerate(found):
            of = [pair for pair in own if pair[1].was.path == one.place.path]
            say_lines(fitted([*([""] if number else []), *entry_lines(one, of)], columns))
    sys.stdout.flush()
    tell_problems(problems)
    return 2 if problems else 0


def _unknown(name: str, close: str | None) -> Exception:
    instead = f"did you mean {close}?" if close else "derate parts lists those there are"
    return refused(f"'{plain(name)[:60]}' is no part of a library", instead)


def _check(libraries: Sequence[Library], data: bool) -> int:
    from derate.design.library_file import checked, listed
    from derate.report.parts import counted_line, parts_json
    from derate.terms.values import Problem, ReadingError

    problems: list[Problem] = []
    entries = {}
    for one in libraries:
        problems += checked(one)
        try:
            entries[one.path] = listed(one)
        except ReadingError:
            continue
    if data:
        say(parts_json(libraries, [one for own in entries.values() for one in own], (), problems=problems))
        sys.stdout.flush()
    tell_problems(problems)
    if not data:
        say_lines([counted_line(libraries, entries, len(problems))])
    return 1 if problems else 0


def _try(arguments: argparse.Namespace, libraries: Sequence[Library]) -> int:
    from derate.design.library_file import listed
    from derate.report.parts import change_data, parts_json, tried_data, tried_lines
    from derate.study.parts import read_change, tried, used_by
    from derate.terms.values import nearest

    every = [one for library in libraries for one in listed(library)]
    names = [one.name for one in every]

    if not arguments.name:
        raise refused("--set changes a figure of one part", "write derate parts NAME --set KEY=VALUE")
    if arguments.name not in names:
        raise _unknown(arguments.name, nearest(arguments.name, names))
    key, value, said = read_change(arguments.change, COMMAND_LINE)
    paths, _ = designs([arguments.designs])
    found, problems = tried(paths, arguments.name, key, value, arguments.today or date.today(), arguments.maker)
    if arguments.format == "json":
        uses, _ = used_by(paths)
        data = [tried_data(one.design, one.parts, one.own, one.moved, one.blocking) for one in found]
        changed = change_data(arguments.name, arguments.maker, key, said, data)
        of = [one for one in every if one.name == arguments.name]
        say(parts_json(libraries, of, [(use.design, use.origin) for use in uses], changed, problems))
        sys.stdout.flush()
        tell_problems(problems)
        return 2 if problems else 0
    lines = [line for one in found for line in tried_lines(one.design, one.parts, one.own, one.moved, one.blocking)]
    none = f"no design below {plain(arguments.designs)} takes {plain(key)} from {plain(arguments.name)}"
    say_lines(fitted(lines or [none], min(width(), 110) if for_people() else None))
    sys.stdout.flush()
    tell_problems(problems)
    return 2 if problems else 0
