"""`derate lint --watch`: judged again whenever something it was made from is saved, until somebody stops it."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from typing import TYPE_CHECKING

from derate.cli.shared import designs, for_people, refused, say, tell_problems
from derate.judge.verdict import word_of
from derate.ledger.entry import Subject
from derate.report.words import number_of, plain
from derate.terms.words import Overall

if TYPE_CHECKING:
    from derate.judge.review import Finding, Review
    from derate.study.work import Work
    from derate.terms.values import Problem

_ENDINGS = (".yaml", ".yml", ".csv")  # designs, packs, libraries, settings; captures
_MOST = 12  # changes shown of each kind
_CLEAR = "\x1b[2J\x1b[3J\x1b[H"
_NOT_WITH = {"record": "--record", "changed": "--changed"}
Judge = Callable[..., "list[Review]"]
Show = Callable[..., None]
Found = Mapping[tuple[str, str, str, Subject], "Finding"]  # by design, rule, pack and subject


def watched(arguments: argparse.Namespace, judge: Judge, show: Show, saves: Iterable[object] | None = None) -> int:
    """Judge, and again after every save; ends when saves do, with the exit status of the last run.

    judge, show: what `derate lint` judges and prints with
    saves: one item for each save that asks for another run; the real ones where it is None
    """
    for name, option in _NOT_WITH.items():
        if getattr(arguments, name):
            raise refused(f"--watch does not go with {option}", f"leave one of them out, or write {option} once")
    if arguments.format != "text":
        raise refused(f"--watch prints for a person, and --format {arguments.format} does not", "leave one of them out")
    read: dict[str, None] = {}
    waiting = iter(saves) if saves is not None else real_saves(arguments.paths, read)
    before: Found | None = None
    while True:
        status, before = _once(arguments, judge, show, before, read)
        try:
            if next(waiting, None) is None:
                return status
        except KeyboardInterrupt:
            return status


def _once(
    arguments: argparse.Namespace, judge: Judge, show: Show, before: Found | None, read: dict[str, None]
) -> tuple[int, Found | None]:
    today = arguments.today or date.today()
    paths, wrong = designs(arguments.paths)
    problems: list[Problem] = list(wrong)
    works: list[Work] = []
    read.update(dict.fromkeys(paths))
    reviews = judge(arguments, paths, today, problems, read, works)
    found = found_in(reviews)
    lines = [] if before is None else list(change_lines(before, found, whole=not problems))
    if for_people():
        say(_CLEAR.rstrip("\n"))
    for line in lines:
        say(line)
    show(arguments, reviews, works, today, problems)
    tell_problems(problems)
    sys.stderr.flush()
    status = 2 if problems else 1 if any(review.blocks for review in reviews) else 0
    return status, found if not problems else before


def found_in(reviews: Iterable[Review]) -> Found:
    """Every finding that says something, by design, rule, pack and subject."""
    return {
        (review.path, one.rule, one.pack, one.subject): one
        for review in reviews
        for one in review.findings
        if word_of(one) is not None
    }


def change_lines(before: Found, after: Found, whole: bool = True) -> Iterator[str]:
    """What is another than in the run before, what blocks now first. whole: every design could be read this time"""
    if not whole:
        yield "since the last run: a file cannot be read; what is below is not all of it"
        return
    moved = [
        (one, _said(before.get(one)), _said(after.get(one)), one in after and after[one].blocks)
        for one in dict.fromkeys((*after, *before))
        if _said(before.get(one)) != _said(after.get(one)) or _blocks(before, one) != _blocks(after, one)
    ]
    if not moved:
        yield "since the last run: no verdict changed"
        return
    yield f"since the last run: {number_of(len(moved), 'verdict')} changed"
    moved.sort(key=lambda one: not one[3])
    for (path, rule, _, subject), was, now, blocks in moved[:_MOST]:
        told = f"{was}, now {now}{', blocks' if blocks else ''}"
        yield f"  {plain(os.path.basename(path))}: {plain(str(subject))} {plain(rule)}: {told}"
    if len(moved) > _MOST:
        yield f"  and {len(moved) - _MOST} more"


def _said(one: Finding | None) -> Overall | str:
    return "nothing" if one is None else word_of(one) or "nothing"


def _blocks(found: Found, key: tuple[str, str, str, Subject]) -> bool:
    return key in found and found[key].blocks


def real_saves(paths: Iterable[str], read: Mapping[str, None]) -> Iterator[object]:
    """One item after each save of a file that was read, or of one that could be read from now on."""
    try:
        from watchfiles import watch
    except ImportError:
        raise refused("--watch needs watchfiles", "install derate[editor]") from None
    while True:
        known = {os.path.realpath(one) for one in read}
        folders = {one if os.path.isdir(one) else os.path.dirname(one) or "." for one in paths}
        folders |= {os.path.dirname(one) for one in known}
        folders = {one for one in folders if os.path.isdir(one)}

        def asked(_: object, path: str, known: set[str] = known) -> bool:
            return os.path.realpath(path) in known or path.endswith(_ENDINGS)

        for found in watch(*sorted(folders), watch_filter=asked, raise_interrupt=False):
            yield found
            break
        else:
            return
