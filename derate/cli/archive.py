"""`derate archive`: judge every design of folders, keep what they came to in one store, and ask it."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from derate.cli.shared import (
    COMMAND_LINE,
    TAKEN,
    Parser,
    add_colour,
    add_packs,
    day,
    designs,
    for_people,
    one_pack,
    read_known,
    refused,
    say,
    say_lines,
    shelf,
    tell_problems,
    width,
)
from derate.report.words import CAUTION, number_of, plain, wrapped
from derate.terms.values import Problem, ReadingError
from derate.terms.words import LEVELS
from derate.text.files import may_be_written, repository_of, write_whole
from derate.text.nodes import read_text

if TYPE_CHECKING:
    from derate.archive.judging import Judge, Order, Task
    from derate.archive.questions import Question
    from derate.archive.refresh import Progress, Refreshed
    from derate.archive.rows import Asked
    from derate.archive.store import Store
    from derate.packs.load import Packs
    from derate.report.archive import Table

STORE = "derate-archive.duckdb"
MOST_DRAWS = 1_000_000
_BETWEEN = 0.2  # seconds between two lines of progress


def archive_parser() -> Parser:
    """What the command takes."""
    about = (
        "Judge every design of folders by all cores, and keep what they came to in one store: what nobody changed is "
        f"not judged again, and what was interrupted goes on. {TAKEN}"
    )
    made = Parser("archive", "\n".join(wrapped(about, 78)))
    made.add_argument("paths", nargs="+", metavar="FOLDER", help="a folder of designs, or a design")
    made.add_argument("--store", metavar="FILE", help=f"the store; {STORE} in the first folder when it is not said")
    made.add_argument("--jobs", type=_jobs, default=0, metavar="N", help="processes; as many as there are cores")
    made.add_argument(
        "--on", metavar="ADDRESS", help="give the work to a running Dask cluster: the address of its scheduler"
    )
    add_packs(made)
    made.add_argument("--stop-at", choices=LEVELS, default=None, help="what blocks, over what files say; see lint")
    made.add_argument("--known", metavar="FILE", help="hold back findings recorded there; new or worse ones block")
    made.add_argument(
        "--shipped-gate", action="store_true", help="judge by the shipped packs and level alone; see lint"
    )
    made.add_argument("--today", type=day, metavar="DAY", help="the day that waivers are held to; default today")
    made.add_argument("--afresh", action="store_true", help="judge every design, also those that nobody changed")
    made.add_argument(
        "--as-stored", action="store_true", help="answer from the last run judged by these options, and read no design"
    )
    ask = made.add_argument_group("questions, each answered by a table")
    ask.add_argument(
        "--part", metavar="TEXT", help="which designs use a part, by its marking, kind or name, and how near"
    )
    ask.add_argument("--worst", action="store_true", help="the worst ratio of every rule")
    ask.add_argument("--nearest", action="store_true", help="what holds its limit and is the nearest to it")
    ask.add_argument(
        "--moved", nargs="*", type=int, metavar="RUN", help="verdicts that moved between two runs; the last two"
    )
    ask.add_argument("--runs", action="store_true", help="every run, with what its designs came to")
    study = made.add_argument_group("studies of every design, kept beside its findings; much more work than judging")
    study.add_argument(
        "--headroom", action="store_true", help="how far current, ambient and mains may go; see derate headroom"
    )
    study.add_argument(
        "--spread", action="store_true", help="what tolerance does to every stress; see derate stress --spread"
    )
    study.add_argument("--draws", type=int, metavar="N", help="with --spread: how many draws (20000)")
    study.add_argument("--headroom-to", metavar="FILE", help="the headroom as a table: CSV, or Parquet by its ending")
    study.add_argument("--spread-to", metavar="FILE", help="the spread as a table, likewise")
    what = made.add_argument_group("what if: verdicts that would move over the whole archive")
    what.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        dest="sets",
        help="a fact set otherwise: site.mains_tolerance=20%%, 'parts[MB6S].rated.voltage=400 V' (by name or marking), "
        "or 'rules[NAME].keep=FORMULA' for a limit; may be repeated",
    )
    what.add_argument(
        "--if-pack", action="append", default=[], metavar="NAME", help="a rule pack besides those of each design"
    )
    out = made.add_argument_group("what is written")
    add_format(out)
    out.add_argument(
        "--rows", type=_rows, default=0, metavar="N", help="rows of a table at most; 20 on a screen, else all"
    )
    out.add_argument(
        "--page", metavar="FILE", help="the archive as one page: designs, hazards, nearest to a limit, runs"
    )
    out.add_argument("--csv", metavar="FILE", help="every finding of the run as a table")
    out.add_argument("--parquet", metavar="FILE", help="the same as Parquet")
    out.add_argument("--verbose", action="store_true", help="the SQL of each question, and every design not read")
    add_colour(made)
    return made


def add_format(group: argparse._ArgumentGroup) -> None:
    """`--format text|json`."""
    group.add_argument("--format", choices=("text", "json"), default="text", help="text (default) or JSON in SI units")


def _jobs(text: str) -> int:
    if text.isascii() and text.isdigit() and 0 < int(text[:6]) <= 1024:
        return int(text)
    raise argparse.ArgumentTypeError(f"'{text[:20]}' is no number of processes; write 1 to 1024")


def _rows(text: str) -> int:
    if text.isascii() and text.isdigit() and 0 < len(text) < 9 and int(text):
        return int(text)
    raise argparse.ArgumentTypeError(f"'{text[:20]}' is no number of rows; write 1 or more")


def run_archive(arguments: argparse.Namespace) -> int:
    """Bring the store up to date, answer what was asked. What one design cannot be read for hides no other."""
    from derate.archive.store import Store

    _together(arguments)
    today = arguments.today or date.today()
    first = arguments.paths[0]
    store_at = os.path.abspath(arguments.store or os.path.join(_folder(first), STORE))
    files = (arguments.csv, arguments.parquet, arguments.headroom_to, arguments.spread_to)
    written = {one: f"{os.path.abspath(one)}.part" for one in files if one}
    for one in (*written, *written.values(), *([arguments.page] if arguments.page else [])):
        may_be_written(one, [store_at])
    with Store(store_at, [*written.values()]) as store:
        found, tasks, problems = _refreshed(arguments, store, today)
        run, stale = (found.run, False) if found is not None else _last(arguments, store, today)
        missed, studied = _studies(arguments, store, run, tasks, today)
        tables, status = _answers(arguments, store, run, tasks, today)
        _say(arguments, store, run, found, tables, studied)
        for path, form in ((arguments.csv, "csv"), (arguments.parquet, "parquet")):
            if path:
                store.write(run, path, written[path], form)
        for asked, path in zip(_asked(arguments), _study_files(arguments), strict=True):
            if path:
                form = "parquet" if path.endswith(".parquet") else "csv"
                store.write_study(run, asked.key, path, written[path], form)
        if arguments.page:
            write_whole(arguments.page, _page(store, run, _title(first)), [store_at])
        sys.stdout.flush()
        tell_problems(problems)
        unread, blocked = store.rows(
            "SELECT count(*) FILTER (outcome = 'unread'), count(*) FILTER (blocks > 0) FROM judged JOIN result "
            "USING (result) WHERE run = ?",
            (run,),
        )[0]
        return 2 if unread or problems or status or missed or stale else 1 if blocked else 0


def _gate(arguments: argparse.Namespace) -> list[str]:
    """The options given that change by what a design is judged, besides what is tried."""
    named = (("--pack", arguments.packs), ("--stop-at", arguments.stop_at), ("--known", arguments.known))
    return [name for name, given in named if given]


def _together(arguments: argparse.Namespace) -> None:
    """Options that do not go together. Raises ReadingError."""
    what_if = arguments.sets or arguments.if_pack
    beside = [
        *_gate(arguments),
        *(["--if-pack"] if arguments.if_pack else []),
        *(["--set rules[…]"] if _limits(arguments) else []),
    ]
    if arguments.shipped_gate and beside:
        raise refused(f"--shipped-gate and {' and '.join(beside)} do not go together", "leave one of them out")
    _of_studies(arguments)
    if arguments.on and arguments.jobs:
        raise refused("--jobs are processes of this machine, and --on gives the work away", "leave one of them out")
    if arguments.as_stored and what_if:
        raise refused("what if is judged anew, and --as-stored judges nothing", "leave one of them out")
    if arguments.as_stored and arguments.afresh:
        raise refused("--afresh judges every design, and --as-stored judges nothing", "leave one of them out")
    if arguments.moved is not None and len(arguments.moved) not in (0, 2):
        raise refused("--moved takes two runs or none", "derate archive FOLDER --runs lists them")


def _of_studies(arguments: argparse.Namespace) -> None:
    """Options of the studies that do not go together. Raises ReadingError."""
    arguments.headroom = arguments.headroom or bool(arguments.headroom_to)
    arguments.spread = arguments.spread or bool(arguments.spread_to)
    if arguments.draws is not None and not arguments.spread:
        raise refused("--draws belongs to --spread", "add --spread")
    if arguments.draws is not None and not 200 <= arguments.draws <= MOST_DRAWS:
        raise refused(f"{arguments.draws} draws", f"write a number from 200 to {MOST_DRAWS}")
    gate = [
        name
        for name, given in (
            ("--stop-at", arguments.stop_at),
            ("--known", arguments.known),
            ("--shipped-gate", arguments.shipped_gate),
        )
        if given
    ]
    if gate and (arguments.headroom or arguments.spread):
        study = "--headroom" if arguments.headroom else "--spread"
        raise refused(
            f"{study} is worked out by what the files say blocks, and {gate[0]} says otherwise", "leave one of them out"
        )


def _asked(arguments: argparse.Namespace) -> list[Asked]:
    """The studies that were asked for."""
    from derate.archive.rows import Asked

    found = [Asked("headroom")] if arguments.headroom else []
    return [*found, Asked("spread", arguments.draws or 20_000, 1)] if arguments.spread else found


def _study_files(arguments: argparse.Namespace) -> list[str | None]:
    """The file that each of them is written to, None for none."""
    both = ((arguments.headroom, arguments.headroom_to), (arguments.spread, arguments.spread_to))
    return [path for asked, path in both if asked]


def _studies(
    arguments: argparse.Namespace, store: Store, run: int, tasks: Sequence[Task], today: date
) -> tuple[int, list[str]]:
    """Make the studies that are not in the store yet: how many designs could not be studied, and lines to say."""
    missed, lines = 0, list[str]()
    if arguments.as_stored:
        for one in _asked(arguments):
            there, left = store.studied(run, one.key), len(store.unstudied(run, one.key))
            lines.append(f"{one.study}: {there} studied, {left} not studied")
            if left:
                what = f"no {one.study} of {number_of(left, 'design')} of this run is in the store"
                print(f"{what}; leave --as-stored out", file=sys.stderr)
                missed += left
        return missed, lines
    if not _asked(arguments):
        return missed, lines
    from derate.archive.study_run import study_all

    for one in _asked(arguments):
        order = _order(arguments, today, os.path.dirname(store.path))._replace(study=one)
        with _progress() as tell:
            found = study_all(store, run, tasks, order, _judge(arguments, order, tasks), tell)
        missed += found.many_missed
        stopped = f", {found.stopped} stopped at the most work a study may take" if found.stopped else ""
        said = f"{found.done - found.many_missed} studied{stopped}, {found.stood} unchanged"
        lines.append(f"{one.study}: {said}, {found.many_missed} not studied")
        for design, why in [*found.missed.items()][: None if arguments.verbose else 3]:
            print(f"{plain(design)}: error: no {one.study}: {plain(why)}", file=sys.stderr)
    return missed, lines


def _folder(path: str) -> str:
    return path if os.path.isdir(path) else os.path.dirname(path) or "."


def _title(path: str) -> str:
    return Path(_folder(path)).resolve().name or "/"


# Judging.


def _order(arguments: argparse.Namespace, today: date, above: str) -> Order:
    from derate.archive.judging import Order

    packs = tuple(os.path.abspath(one) if _is_path(one) else one for one in arguments.packs)
    made = Order(today, above, packs, stop_at=arguments.stop_at, shipped_gate=arguments.shipped_gate)
    if not arguments.known:
        return made
    read_known(arguments.known)  # what is wrong in it is told once, before any design is judged
    return made._replace(known=(arguments.known, read_text(arguments.known)))


def _is_path(name: str) -> bool:
    return "/" in name or "\\" in name or name.endswith((".yaml", ".yml"))


def _tasks(paths: Sequence[str], above: str) -> tuple[list[Task], list[Problem]]:
    """Every design of folders and files; a link in a folder may not lead out of its repository, or of the folder."""
    from derate.archive.refresh import tasks_of

    problems: list[Problem] = []
    borders: dict[str, str] = {}
    for path in paths:
        found, wrong = designs([path])
        problems += wrong
        full = os.path.abspath(path)
        border = (repository_of(full) or full) if os.path.isdir(path) else os.path.dirname(os.path.realpath(full))
        for one in found:
            borders.setdefault(one, border)
    unique = {os.path.realpath(one): one for one in reversed([*borders])}
    tasks, alike = tasks_of(sorted(unique.values()), borders, above)
    return tasks, [*problems, *alike]


def _refreshed(
    arguments: argparse.Namespace, store: Store, today: date
) -> tuple[Refreshed | None, list[Task], list[Problem]]:
    if arguments.as_stored:
        return None, [], []
    from derate.archive.refresh import refresh

    above = os.path.dirname(store.path)
    tasks, problems = _tasks(arguments.paths, above)
    if not tasks:
        raise ReadingError(problems or refused("there is no design in these folders", "").problems)
    order = _order(arguments, today, above)
    with _progress() as tell:
        found = refresh(store, tasks, order, _judge(arguments, order, tasks), afresh=arguments.afresh, tell=tell)
    return found, tasks, problems


def _judge(arguments: argparse.Namespace, order: Order, tasks: Sequence[Task]) -> Judge:
    if arguments.on:
        try:
            from derate.archive.cluster import on_cluster
        except ImportError:
            raise refused(
                "work is given to a cluster of Dask, which is not installed here", "pip install 'derate[cluster]'"
            ) from None
        return partial(on_cluster, order, address=arguments.on, borders=sorted({one.border for one in tasks}))
    from derate.archive.judging import in_processes

    return partial(in_processes, order, many=arguments.jobs or cores())


def cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def _progress() -> Iterator[Callable[[Progress], None]]:
    """Progress on a terminal, a line that is written over; nowhere else."""
    from derate.report.archive import progress_line

    try:
        person = sys.stderr.isatty()
    except ValueError:
        person = False
    last = [0.0, 0.0]

    def tell(progress: Progress) -> None:
        now = time.monotonic()
        done = progress.before + progress.done == progress.many
        if not person or (now - last[0] < _BETWEEN and not done):
            return
        text = progress_line(progress.many, progress.before, progress.done, progress.rate, progress.left)
        text = text[: max(10, width() - 1)]
        sys.stderr.write(f"\r{text:<{int(last[1])}}")
        sys.stderr.flush()
        last[:] = [now, float(len(text))]

    try:
        yield tell
    except KeyboardInterrupt:
        if person:
            sys.stderr.write("\n")
        raise refused(
            "interrupted; what was judged so far is in the store", "the same command goes on from there"
        ) from None
    finally:
        if person and last[1]:
            sys.stderr.write("\n")


def _last(arguments: argparse.Namespace, store: Store, today: date) -> tuple[int, bool]:
    """The last run that was judged by the gate that is asked for, and whether it is no answer any more.

    It is none where another version judged it, or where a signature began or ended since: both are told. What lies on
    the disk by now is not looked at.
    """
    from derate.archive.refresh import key_of
    from derate.archive.trail import program

    if not store.runs():
        raise refused("there is no run in this store yet", "leave --as-stored out")
    found = store.last(key_of(_order(arguments, today, os.path.dirname(store.path))))
    if found is None:
        gate = [*_gate(arguments), *(["--shipped-gate"] if arguments.shipped_gate else [])]
        how = f"with {' and '.join(gate)} as they are now" if gate else "by what the files alone say"
        raise refused(f"no run of this store was judged {how}", "leave --as-stored out, or name its options")
    run, made = found
    lines = []
    if made != program():
        lines.append(f"run {run} was judged by another version of derate; leave --as-stored out")
    ended = store.ended(run, today)
    if ended:
        what = f"what somebody signed for in {number_of(ended, 'design')} of run {run} counts otherwise on {today}"
        lines.append(f"{what}; leave --as-stored out")
    for line in lines:
        print(line, file=sys.stderr)
    return run, bool(lines)


# Answering.


def _answers(
    arguments: argparse.Namespace, store: Store, run: int, tasks: Sequence[Task], today: date
) -> tuple[dict[str, Table], bool]:
    """The tables of what was asked, and whether a design could not be read with what was set."""
    from derate.archive import questions as ask

    most = arguments.rows or (20 if for_people() and arguments.format == "text" else 10_000_000)
    asked: dict[str, Question] = {"overview": ask.overview(run)}
    if arguments.part:
        asked["part"] = ask.of_part(run, arguments.part, most)
    if arguments.worst:
        asked["worst"] = ask.worst_by_rule(run, most)
    if arguments.nearest:
        asked["nearest"] = ask.nearest(run, arguments.rows or 20)
    if arguments.moved is not None:
        asked["moved"] = ask.moved(*_two(store, run, arguments.moved), most)
    if arguments.runs:
        asked["runs"] = ask.trend(run, most, every=True)
    for one in _asked(arguments):
        if one.study == "headroom":
            asked["headroom"] = ask.headroom(run, one.key, most)
            asked["cures"] = ask.cures(run, one.key, most)
        else:
            asked["spread"] = ask.spread(run, one.key, most)
    unread = False
    if arguments.sets or arguments.if_pack:
        trial, unread = _what_if(arguments, store, run, tasks, today)
        untold, where = _set_nowhere(arguments, store, run, trial)
        unread = unread or untold
        asked["what_if"] = ask.moved(run, trial, most)._replace(
            title=f"verdicts that would move with {_said(arguments)}, {where}"
        )
    store.written()
    return {
        name: _table(arguments, store, one, 0 if name == "nearest" else most) for name, one in asked.items()
    }, unread


def _table(arguments: argparse.Namespace, store: Store, one: Question, most: int) -> Table:
    """most: rows it takes; what a table leaves out is not to be taken for what there is not."""
    from derate.report.archive import Table

    if arguments.verbose:
        print(f"{one.sql};\n", file=sys.stderr)
    made = Table(one.title, *store.table(one.sql))
    return made._replace(title=f"{made.title}: the first {most}, --rows takes more") if len(made.rows) == most else made


def _set_nowhere(arguments: argparse.Namespace, store: Store, run: int, trial: int) -> tuple[bool, str]:
    """Whether something that was to be set is in no design, which is told; and in how many of them anything is."""
    from derate.archive.setting import Setting, read_setting

    touched, many = store.touched(run, trial, whatever=not arguments.if_pack and not _limits(arguments))
    nowhere = [
        one.named
        for one in map(read_setting, arguments.sets)
        if isinstance(one, Setting) and one.named and not store.with_part(run, one.named)
    ]
    for name in nowhere:
        print(f"no design has a part '{plain(name)}', by its name, its type or its marking", file=sys.stderr)
    if not touched and not nowhere:
        print("what was to be set is in no design, or stands there already", file=sys.stderr)
    # of a rule no design was judged by it, since its limit is set whatever it was before
    return bool(nowhere) or (not touched and _limits(arguments)), f"in {touched} of {number_of(many, 'design')}"


def _limits(arguments: argparse.Namespace) -> bool:
    return any(one.strip().startswith("rules[") for one in arguments.sets)


def _two(store: Store, run: int, runs: Sequence[int]) -> tuple[int, int]:
    """Two runs that came to their end; where none is named the last two judged by the gate of a run. ReadingError."""
    there = store.runs()
    if runs:
        known = {one.run for one in there}
        missing = [one for one in runs if one not in known]
        if missing:
            raise refused(
                f"there is no run {missing[0]} that came to its end", "derate archive FOLDER --runs lists them"
            )
        return runs[0], runs[1]
    alike = store.alike(run)
    if len(alike) < 2:
        raise refused(
            "there is one run in this store that was judged so, and nothing has moved since", "change a design first"
        )
    return alike[1], alike[0]


def _said(arguments: argparse.Namespace) -> str:
    return ", ".join(map(plain, (*arguments.sets, *(f"pack {one}" for one in arguments.if_pack))))


def _what_if(
    arguments: argparse.Namespace, store: Store, run: int, tasks: Sequence[Task], today: date
) -> tuple[int, bool]:
    """The run with what was set, and whether a design that could be read as it is could not be read with it."""
    from derate.archive.refresh import refresh
    from derate.archive.setting import PACK, Limit, Setting, pack_of, read_setting
    from derate.packs.load import load_packs

    read = [read_setting(one) for one in arguments.sets]
    sets = tuple(one for one in read if isinstance(one, Setting))
    limits = [one for one in read if isinstance(one, Limit)]
    named = [os.path.abspath(one) if _is_path(one) else one for one in arguments.if_pack]
    anywhere: frozenset[str] = frozenset()
    told: tuple[str, ...] = ()
    besides = [(one, anywhere) for one in named]
    kept = [*besides]  # what results are known by: a limit by its words, not by the file it is put into for this run
    with tempfile.TemporaryDirectory(prefix="derate-") as folder:
        if limits:
            own = str(Path(folder) / f"{PACK}.yaml")
            text, homes = pack_of(limits, (*_there(named), *shelf(())[0]))
            Path(own).write_text(text, encoding="utf-8")
            try:
                load_packs([own])
            except ReadingError as error:
                raise ReadingError([one._replace(place=COMMAND_LINE) for one in error.problems]) from None
            besides.append((own, homes))
            told = (own,)
            kept += [(f"{one.rule}: {one.keep}", homes) for one in limits]
        order = _order(arguments, today, os.path.dirname(store.path))._replace(
            besides=tuple(besides), told=told, sets=sets
        )
        judge, known_as = _judge(arguments, order, tasks), order._replace(besides=tuple(kept))
        with _progress() as tell:
            found = refresh(store, tasks, known_as, judge, _said(arguments), base=run, tell=tell)
    worse = store.rows(
        "SELECT a.design, n.problems FROM judged a JOIN result o ON o.result = a.result "
        "JOIN judged b ON b.design = a.design JOIN result n ON n.result = b.result "
        "WHERE a.run = ? AND b.run = ? AND o.outcome = 'judged' AND n.outcome = 'unread' ORDER BY a.design",
        (run, found.run),
    )
    for design, why in worse[:3]:
        print(f"{plain(design)}: error: not read with what was set: {plain(why)}", file=sys.stderr)
    if len(worse) > 3:
        print(f"and {number_of(len(worse) - 3, 'more design')}", file=sys.stderr)
    return found.run, bool(worse)


def _there(names: Sequence[str]) -> Iterator[Packs]:
    """Of packs that are found near each design those that are found from here, too: their rules may be set."""
    for name in names:
        with suppress(ReadingError):
            yield one_pack(name)


def _say(
    arguments: argparse.Namespace,
    store: Store,
    run: int,
    found: Refreshed | None,
    tables: dict[str, Table],
    studied: Sequence[str],
) -> None:
    from derate.report.archive import table_json, table_lines

    if arguments.format == "json":
        say(table_json(tables, {"run": run, "packs": [*map(list, _packs(store, run))]}))
        return
    columns = width() if for_people() else None
    lines: list[str] = []
    if found is not None:
        lines.append(_done(found))
    lines += studied
    for name, table in tables.items():
        if name == "overview":
            lines += _overview(table)
        else:
            lines += ["", *table_lines(table, columns)]
    told = ", ".join(f"{name} {digest[:12]} ({many})" for name, digest, many in _packs(store, run))
    lines += [
        "",
        *wrapped(f"rule packs, with the designs they judged: {told}", columns or 10_000),
        *wrapped(CAUTION, columns or 10_000),
    ]
    say_lines(lines)
    if found is not None:
        unread = found.unread if arguments.verbose else dict([*found.unread.items()][:3])
        for design, why in unread.items():
            print(f"{plain(design)}: error: not read: {plain(why)}", file=sys.stderr)
        if found.many_unread > len(unread):
            print(f"and {number_of(found.many_unread - len(unread), 'more design')} not read", file=sys.stderr)


def _done(found: Refreshed) -> str:
    went = "went on, " if found.went_on else ""
    again = "nothing has changed since" if found.same else "is stored"
    judged = found.judged - found.many_unread
    return f"run {found.run} {again}: {went}{judged} judged, {found.unchanged} unchanged, {found.many_unread} not read"


def _overview(table: Table) -> Iterator[str]:
    row = table.records()[0]
    words = [f"{many} {word}" for word, many in row.items() if many and word not in ("designs", "blocked", "blocking")]
    yield f"{number_of(row['designs'], 'design')}: {', '.join(words) or 'none judged'}"
    yield f"{number_of(row['blocking'], 'finding')} block in {number_of(row['blocked'], 'design')}"


def _packs(store: Store, run: int) -> list[tuple[str, str, int]]:
    """Name and digest of every pack of a run, with how many designs it judged."""
    rows = store.rows(
        "SELECT pack, count(*) FROM (SELECT unnest(string_split(packs, '; ')) AS pack FROM judged JOIN result "
        "USING (result) WHERE run = ? AND packs <> '') GROUP BY pack ORDER BY count(*) DESC, pack",
        (run,),
    )
    return [(pack.partition(" ")[0], pack.partition(" ")[2], many) for pack, many in rows]


def _page(store: Store, run: int, title: str) -> str:
    from derate.archive import questions as ask
    from derate.report.archive import Page, Table, archive_page

    about = next(one for one in store.runs() if one.run == run)
    three = (ask.designs(run), ask.nearest(run), ask.trend(run))
    rows, near, trend = (Table(one.title, *store.table(one.sql)) for one in three)
    return archive_page(Page(title, about.day, run, about.version, rows, near, trend, _packs(store, run)))
