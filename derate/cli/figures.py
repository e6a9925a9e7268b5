"""Following a figure, and what next: stresses, insulation, faults, captures; missing facts and headroom."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from math import inf
from typing import TYPE_CHECKING

from derate.cli.shared import (
    TAKEN,
    Parser,
    add_colour,
    add_format,
    add_packs,
    designs,
    fitted,
    for_people,
    refused,
    say,
    say_lines,
    tell_problems,
    width,
)
from derate.report.words import CAUTION, plain, wrapped
from derate.terms.values import ReadingError, nearest
from derate.terms.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from derate.judge.review import Finding, Gate
    from derate.ledger.ledger import Ledger
    from derate.report.insulation import FamilyInsulation
    from derate.study.work import Work, Workshop


# Following a figure: the stresses and how each came about, insulation, single faults, scope captures.


def _say_gate(path: str, gate: Gate, columns: int | None = None, data: bool = False) -> tuple[str, ...]:
    """Print what figures were worked out by, where that is softer than the shipped gate; give the line for the foot.

    columns: to wrap at, None for one line each; data: JSON holds it, and what is softer goes to standard error besides
    """
    from derate.report.gather import gate_lines

    said = gate_lines(path, gate)
    top, foot = (said.at_top(), ()) if said.top else ((), (said.used,))
    if data:
        for line in said.at_top():
            print(line, file=sys.stderr)
        return ()
    say_lines(fitted(top, columns))
    return tuple(fitted(foot, columns))


def _columns() -> int | None:
    """Columns that a person's window has; None where no person reads."""
    return min(width(), 110) if for_people() else None


# `derate stress`: print the stresses of a design, and how each came about.


def stress_parser() -> Parser:
    """What the command takes."""
    made = Parser("stress", "Print the stresses of a design, and how each came about.")
    made.add_argument("file", metavar="FILE", help="a design")
    add_format(made)
    add_packs(made)
    add_colour(made)
    made.add_argument("--why", type=int, metavar="ENTRY", help="how the entry of this number came about")
    made.add_argument("--part", default="", metavar="NAME", help="only entries about this part, winding, place")
    made.add_argument("--quantity", default="", metavar="QUANTITY", help="only this quantity, such as ripple_current")
    made.add_argument("--all", action="store_true", dest="every", help="every case, and the facts of the file as well")
    made.add_argument(
        "--spread",
        action="store_true",
        help="what tolerance does to every stress that a critical or major rule holds: extreme value, root sum of "
        "squares, draws, and which tolerance drives it",
    )
    made.add_argument("--draws", type=int, metavar="N", help="with --spread: how many draws (20000)")
    made.add_argument("--seed", type=int, metavar="N", help="with --spread: of the draws (1)")
    made.add_argument(
        "--normal",
        type=float,
        metavar="SIGMAS",
        help="with --spread: tolerances normal with their ends at so many sigma, in place of uniform",
    )
    made.add_argument(
        "--one-lot",
        type=float,
        metavar="SHARE",
        help="with --spread: parts alike are of one lot, their tolerances correlated by so much, 0 to 1",
    )
    made.add_argument(
        "--drift",
        action="store_true",
        help="with --spread: add what temperature and age do to resistors and electrolytic capacitors, as assumed by "
        "their kind",
    )
    made.add_argument("--to", default="", metavar="FILE", help="with --spread: write a page with drawings there")
    made.add_argument(
        "--netlist",
        metavar="CASE",
        help="a netlist of the design at one case, such as '90 V 63 Hz', to run in ngspice as it is, with what the "
        "ledger has as comments; 'converter, 90 V 47 Hz' is the stage behind the bulk",
    )
    made.add_argument(
        "--run",
        action="store_true",
        help="with --netlist: run it where ngspice is installed, and print both; exit status 1 if one lies outside",
    )
    return made


def run_stress(arguments: argparse.Namespace) -> int:
    """Print the table, the JSON or one derivation."""
    from derate.study.work import Workshop, gate_behind

    if arguments.why is not None and arguments.format == "json":
        raise refused("--why prints text", "leave --format json out")
    if arguments.spread and (arguments.netlist is not None or arguments.run):
        raise refused("--spread and --netlist print different things", "ask for one at a time")
    if arguments.spread:
        return _spread(arguments)
    given = [name for name in ("draws", "seed", "normal", "one_lot") if getattr(arguments, name) is not None]
    given += [name for name in ("drift", "to") if getattr(arguments, name)]
    if given:
        raise refused(f"--{given[0].replace('_', '-')} belongs to --spread", "add --spread")
    work = Workshop(arguments.packs).work(arguments.file)
    gate = gate_behind(work, date.today())
    if arguments.netlist is not None:
        return _netlist(work, arguments, gate)
    if arguments.run:
        raise refused("--run runs a netlist", "write --netlist CASE --run")
    foot = _say_gate(work.design.path, gate, _columns(), arguments.format == "json")
    ledger = work.ledger
    if arguments.why is not None:
        _derivation(ledger, arguments.why)
        say_lines(foot)
        return 0
    from derate.report.ledger import Shown, about, chosen, governing

    quantity = _quantity(arguments.quantity)
    if arguments.part and not any(about(entry, arguments.part) for entry in ledger.entries):
        names = {name for entry in ledger.entries for name in entry.subject.names or (entry.subject.kind,)}
        close = nearest(arguments.part, names)
        raise refused(f"no entry is about '{plain(arguments.part)[:60]}'", f"write {close}" if close else "")
    rows = chosen(ledger.entries, arguments.part, quantity, arguments.every)
    if arguments.format == "json":
        from derate.report.machine import stress_json

        say(stress_json(work.design.path, rows, gate))
        return 0
    from derate.report.ledger import screen_lines, table_foot, table_lines

    shown = tuple(Shown(entry) for entry in rows) if arguments.every else governing(rows)
    every = chosen(ledger.entries, arguments.part, quantity, True)
    if for_people():
        told = wrapped(table_foot(shown, len(every) - len(shown)), width())
        say_lines([*screen_lines(shown, width()), "", *told, *wrapped(CAUTION, width()), *foot])
    else:
        say_lines([*table_lines(shown), CAUTION, *foot])
    return 0


_MOST_DRAWS = 1_000_000


def checked_draws(asked: int | None) -> int:
    """How many draws, 20,000 where nobody says. Raises ReadingError outside what one study takes."""
    draws = 20_000 if asked is None else asked
    if not 200 <= draws <= _MOST_DRAWS:
        raise refused(f"{draws} draws", f"write a number from 200 to {_MOST_DRAWS}")
    return draws


def _spread(arguments: argparse.Namespace) -> int:
    """Print what tolerance does; whether the design blocks is for `lint` to say."""
    for name, other in (("--why", arguments.why is not None), ("--all", arguments.every)):
        if other:
            raise refused(f"{name} and --spread print different things", "ask for one at a time")
    data = arguments.format == "json"
    if data and arguments.to:
        raise refused("--to writes a page, and --format json prints data", "leave one of them out")
    draws = checked_draws(arguments.draws)
    sigmas = arguments.normal
    if sigmas is not None and not 1.0 <= sigmas <= 6.0:
        raise refused(f"a normal tolerance with its ends at {sigmas:g} sigma", "write a number from 1 to 6")
    together = 0.0 if arguments.one_lot is None else arguments.one_lot
    if not 0.0 <= together <= 1.0:
        raise refused(f"a correlation of {together:g}", "write a share from 0 to 1")
    from derate.cli.shared import draws as shows_blocks
    from derate.report.spread import spread_lines
    from derate.study.spread.replay import Way
    from derate.study.spread.spread import spread
    from derate.study.work import Workshop, gate_behind
    from derate.text.files import may_be_written, write_whole

    seed = 1 if arguments.seed is None else arguments.seed
    way = Way(draws, min(draws, max(200, draws // 10)), seed, together=together)
    if sigmas is not None:
        way = way._replace(form="normal", sigmas=sigmas)
    work = Workshop(arguments.packs).work(arguments.file)
    if arguments.to:
        may_be_written(arguments.to, work.read)
    gate = gate_behind(work, date.today())
    foot = _say_gate(work.design.path, gate, _columns(), data)
    study = spread(work, date.today(), way, with_drift_of_kinds=arguments.drift)
    rows = tuple(
        one
        for one in study.rows
        if not arguments.part
        or any(
            name.split(".")[0] == arguments.part for name in one.finding.subject.names or (one.finding.subject.kind,)
        )
    )
    if not rows:
        raise refused(f"no critical or major rule compares anything of '{plain(arguments.part)[:60]}'", "")
    kept = tuple(one for one in study.samples.found if arguments.part in ("", one.first.target.split(".")[0]))
    study = study._replace(rows=rows, samples=study.samples._replace(found=kept))
    if data:
        from derate.report.spread_data import spread_json

        say(spread_json(work.design.path, study, gate))
        return 0
    if arguments.to:
        from derate.report.gather import gate_lines
        from derate.report.spread_page import spread_page

        said = gate_lines(work.design.path, gate)
        used = said.at_top() or (said.used,)
        write_whole(arguments.to, spread_page(work.design.name, study, date.today(), used), work.read)
        say(f"{arguments.to}: what tolerance does to {plain(work.design.name)}")
        return 0
    say_lines(spread_lines(arguments.file, study, _columns(), shows_blocks()))
    say_lines(foot)
    return 0


def _is_about(finding: Finding, part: str) -> bool:
    names = finding.subject.names or (finding.subject.kind,)
    return any(name == part or name.startswith(f"{part}.") for name in names)


def _netlist(work: Work, arguments: argparse.Namespace, gate: Gate) -> int:
    """A netlist, or both columns of a run of it."""
    from derate.report.gather import gate_lines
    from derate.stress.netlist import figure_words, text_of
    from derate.study.netlist import netlist, run

    if arguments.format == "json" or arguments.why is not None:
        raise refused("--netlist prints text", "leave --format json and --why out")
    made = netlist(work, arguments.netlist)
    if not arguments.run:
        told = gate_lines(work.design.path, gate)
        say(text_of(made, work.design.name, (*told.top, told.used)))
        return 0
    found = run(made, work.design.name)
    foot = _say_gate(work.design.path, gate, _columns())
    say(f"{plain(work.design.path)}: {made.case}: ngspice beside the ledger")
    for one in found:
        shown = "no figure" if one.found is None else f"{one.found:.4g}"
        say(f"  {figure_words(one.probe, one.row)}; ngspice {shown}{'' if one.inside else ', outside'}")
    say_lines(foot)
    return 0 if all(one.inside for one in found) else 1


def _derivation(ledger: Ledger, number: int) -> None:
    from derate.report.ledger import derivation_lines

    if not 0 < number <= len(ledger):
        raise refused(f"there is no entry {number}", f"entries go from 1 to {len(ledger)}")
    say_lines(derivation_lines(ledger, number, width() if for_people() else None))


def _quantity(asked: str) -> str:
    """The name of a quantity, given by name or in the words of the table."""
    if not asked or asked in VOCABULARY:
        return asked
    for name, term in VOCABULARY.items():
        if term.says == asked:
            return name
    close = nearest(asked, VOCABULARY)
    raise refused(f"no quantity is called '{plain(asked)[:60]}'", f"write {close}" if close else "")


# `derate insulation`: what every pair of circuits needs and has, by each family of rules in use.


PACKS = ("insulation-it-equipment", "insulation-household", "insulation-lamp", "insulation-60664")


def insulation_parser() -> Parser:
    """What the command takes."""
    made = Parser("insulation", "Print what every pair of circuits of a design needs and has.")
    made.add_argument("file", metavar="FILE", help="a design")
    add_format(made)
    add_packs(made)
    add_colour(made)
    made.add_argument(
        "--why", default="", metavar="BARRIER", help="how the distances of this barrier came about, step by step"
    )
    return made


def run_insulation(arguments: argparse.Namespace) -> int:
    """Print the summary or one derivation. Families are worked through one at a time: they never mix."""
    from derate.report.insulation import insulation_json, insulation_lines
    from derate.study.work import Workshop, gate_behind

    works = _works(arguments.file, tuple(arguments.packs))
    # each family is worked through by itself, and together they are what was chosen
    whole = works[0] if len(works) == 1 else Workshop(arguments.packs).work(arguments.file)
    gate = gate_behind(whole, date.today())
    foot = _say_gate(whole.design.path, gate, _columns(), arguments.format == "json")
    if arguments.why:
        _derivations(works, arguments.why)
        say_lines(foot)
        return 0
    families = [_family(work) for work in works]
    if arguments.format == "json":
        say(insulation_json(arguments.file, families, gate))
    else:
        say_lines([*fitted(insulation_lines(families), _columns()), *foot])
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
    from derate.terms.values import nearest

    subject = Subject("barrier", (name,))
    known = [one.names[0] for work in works for one in work.ledger.subjects("barrier")]
    if name not in known:
        close = nearest(name, known)
        raise refused(f"no barrier is called '{name[:60]}'", f"write {close}" if close else "")
    for work in works:
        for quantity in ("needed.clearance", "needed.creepage"):
            entry = work.ledger.find(subject, quantity)
            if entry is not None:
                say_lines(derivation_lines(work.ledger, entry.number, width() if for_people() else None))


# `derate faults`: list every single fault, what it draws, what clears it and what the bench saw.


def faults_parser() -> Parser:
    """What the command takes."""
    made = Parser("faults", "List every single fault of a design: what it draws, what clears it, what the bench saw.")
    made.add_argument("file", metavar="FILE", help="a design")
    add_format(made)
    add_packs(made)
    add_colour(made)
    return made


def run_faults(arguments: argparse.Namespace) -> int:
    """Print the faults as a table or as JSON."""
    from derate.study.faults import design_faults, outcomes_without_row
    from derate.study.work import Workshop, gate_behind

    work = Workshop(arguments.packs).work(arguments.file)
    design = work.design
    gate = gate_behind(work, date.today())
    foot = _say_gate(design.path, gate, _columns(), arguments.format == "json")
    assumed = {name: one for (_, name), one in work.packs.assumptions.items()}
    rows = design_faults(design.structure, work.ledger, assumed, design.tests)
    if arguments.format == "json":
        from derate.report.faults import faults_json

        say(faults_json(design.path, rows, gate))
        return 0
    from derate.report.faults import fault_lines, fault_screen

    other = outcomes_without_row(rows, design.tests)
    people = for_people()
    say_lines(fault_screen(rows, other, width()) if people else fault_lines(design.path, rows, other))
    say_lines(foot)
    return 0


# `derate capture`: read the captures a design names and hold them against the computed event.
#
# `derate lint` does not read captures: they may be large or left out of the repository, and its verdict must be the
# same wherever it runs. The figures found here are written down as a reading, which it judges.


def capture_parser() -> Parser:
    """What the command takes."""
    says = (
        "Read the scope captures that a design names, work out peak, rms, I²t, energy and equivalent width, and hold "
        "them against the computed event at the same condition. Exit status 1 when one is beyond both tolerances."
    )
    made = Parser("capture", "\n".join(wrapped(says, 78)))
    made.add_argument("file", metavar="FILE", help="a design")
    add_packs(made)
    add_colour(made)
    return made


def run_capture(arguments: argparse.Namespace) -> int:
    """Print every capture; 1 when one disagrees with the computation, 2 when one could not be read."""
    from derate.report.studies import capture_lines, caution_lines
    from derate.study.capture import compared
    from derate.study.work import Workshop, gate_behind
    from derate.terms.values import ReadingError

    work = Workshop(arguments.packs).work(arguments.file)
    if not work.design.captures:
        raise refused(f"{arguments.file} names no capture", "put `capture: {file: …}` into an entry of readings")
    columns = _columns()
    foot = _say_gate(work.design.path, gate_behind(work, date.today()), columns)
    status, problems = 0, []
    for capture in work.design.captures:
        try:
            found = compared(work, capture)
        except ReadingError as error:
            problems += list(error.problems)
            continue
        say_lines(capture_lines(found, columns))
        if any(one.agrees is False for one in found.held):
            status = 1
    say_lines([*caution_lines(columns), *foot])
    tell_problems(problems)
    return 2 if problems else status


# What next: the facts that findings wait for, and how far a supply may be taken.


# `derate missing`: what to find out next, ranked by what it would settle, and how to get it.


def missing_parser() -> Parser:
    """What the command takes."""
    says = (
        "List the facts that findings wait for, and what nobody described: what settles most of fire and shock stands "
        "first, with how to get it and the lines of the file under which it goes. The first ten are tried at their "
        f"kind end. {TAKEN}"
    )
    made = Parser("missing", "\n".join(wrapped(says, 78)))
    made.add_argument("paths", nargs="+", metavar="PATH", help="a design, or a folder of designs")
    add_packs(made)
    add_colour(made)
    made.add_argument(
        "--thresholds", action="store_true", help="also the value from which each would pass; takes longer"
    )
    made.add_argument(
        "--all",
        action="store_true",
        dest="every",
        help="every fact tried, and then what is assumed until somebody looks",
    )
    made.add_argument(
        "--sheet", action="store_true", help="a page for the bench, to print or to fill in on a telephone; needs --to"
    )
    made.add_argument("--to", metavar="FILE", default="", help="write the sheet there, such as sheet.html")
    return made


def run_missing(arguments: argparse.Namespace) -> int:
    """List the missing facts of every design; whether they block is for `lint` to say."""
    from datetime import date

    from derate.ledger.recorded import RecordingLedger
    from derate.report.studies import missing_lines, stopped_lines
    from derate.study.missing import FIRST, as_the_file_has_them, assumed_facts, missing_facts
    from derate.study.trying import MOST_WORK, Bench
    from derate.study.work import Workshop

    paths, found = designs(arguments.paths)
    problems = list(found)
    workshop = Workshop(arguments.packs, ledger=RecordingLedger)
    if arguments.sheet or arguments.to:
        return _sheet(arguments, paths, workshop)
    columns = _columns()
    shown = 0
    for path in paths:
        try:
            longer = arguments.every or arguments.thresholds  # asked for in so many words, and said to take longer
            bench = Bench(workshop.work(path), date.today(), most=inf if longer else MOST_WORK)
        except ReadingError as error:
            problems += [one for one in error.problems if one not in problems]
            continue
        if shown and columns is not None:
            say_lines([""])
        shown += 1
        foot = _say_gate(bench.work.design.path, bench.base.review.gate, columns)
        first = None if arguments.every else FIRST
        facts = missing_facts(bench, arguments.thresholds, first)
        facts = as_the_file_has_them(facts, bench.work.design.texts[bench.work.design.path], columns is not None)
        assumed = assumed_facts(bench) if arguments.every else ()
        reason = bench.base.review.not_powered
        say_lines(missing_lines(path, bench.work.design.name, facts, assumed, columns, reason, first))
        if bench.allowance.over:
            told = "facts that were not tried stand by what waits for them; --all tries every one, and takes longer"
            say_lines(stopped_lines(path, columns, told))
        say_lines(foot)
    tell_problems(problems)
    return 2 if problems else 0


def _sheet(arguments: argparse.Namespace, paths: Sequence[str], workshop: Workshop) -> int:
    """Write the sheet of one design."""
    from derate.report.sheet import sheet_page
    from derate.study.sheet import sheet_of_work
    from derate.text.files import may_be_written, write_whole

    if not (arguments.sheet and arguments.to):
        raise refused("a sheet is a page of its own", "write --sheet --to sheet.html")
    if len(paths) != 1:
        raise refused("a sheet is of one design", "name one file")
    work = workshop.work(paths[0])
    may_be_written(arguments.to, work.read)
    page = sheet_page(sheet_of_work(work, date.today()), work.design.file.barriers)
    write_whole(arguments.to, page, work.read)
    say(f"{arguments.to}: the sheet of {plain(work.design.name)}; print it, or open it where you measure")
    return 0


# `derate headroom`: how far output current, ambient and mains may go before a rule stops it, and what cures a fail.


def headroom_parser() -> Parser:
    """What the command takes."""
    says = (
        "Find the largest output current, the highest ambient and the widest mains at which every rule judged at the "
        "rated point still gives a verdict and none blocks, with the rule and the part that stops it; for a failing "
        "rule the least rating that cures it, and for a marginal or failing one what the next usual value of its part "
        "would bring. Each by itself, all else as rated."
    )
    made = Parser("headroom", "\n".join(wrapped(says, 78)))
    made.add_argument("file", metavar="FILE", help="a design")
    add_format(made)
    add_packs(made)
    add_colour(made)
    return made


def run_headroom(arguments: argparse.Namespace) -> int:
    """Print the ends; whether the design blocks is for `lint` to say."""
    from datetime import date

    from derate.ledger.recorded import RecordingLedger
    from derate.report.studies import headroom_json, headroom_lines, stopped_lines
    from derate.study.headroom import cures, headroom, next_values
    from derate.study.trying import MOST_WORK, Bench
    from derate.study.work import Workshop

    work = Workshop(arguments.packs, ledger=RecordingLedger).work(arguments.file)
    bench = Bench(work, date.today(), most=MOST_WORK)
    unknown = sum(one.verdict == "not assessed" and one.blocks for one in bench.base.review.findings)
    columns = _columns()
    gate, data = bench.base.review.gate, arguments.format == "json"
    foot = _say_gate(bench.work.design.path, gate, columns, data)
    failing = [one for one in bench.base.review.findings if one.verdict == "fail" and one.blocks]
    ends, cured = headroom(bench), cures(bench)
    following = next_values(bench)
    if data:
        stopped = bench.allowance.over
        say(headroom_json(arguments.file, ends, cured, following, gate, unknown, failing, stopped))
        return 0
    say_lines(headroom_lines(arguments.file, ends, cured, unknown, columns, failing, following))
    if bench.allowance.over:
        told = "not every end and not every rating that would cure a fail was looked for"
        say_lines(stopped_lines(arguments.file, columns, told))
    say_lines(foot)
    return 0
