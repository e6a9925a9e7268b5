"""`derate lint`: judge designs and print what was found."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from typing import TYPE_CHECKING

from derate.cli.shared import (
    TAKEN,
    Parser,
    add_colour,
    add_format,
    add_gate,
    changed,
    coloured,
    day,
    designs,
    draws,
    fitted,
    for_people,
    height,
    refused,
    say,
    say_lines,
    tell_problems,
    width,
    workshop_for,
)
from derate.report.words import plain, wrapped
from derate.terms.values import Place, Problem, ReadingError
from derate.text.files import may_be_written, write_whole

if TYPE_CHECKING:
    from derate.judge.acknowledge import Signed
    from derate.judge.review import Review
    from derate.study.work import Work


DOCUMENTS = ("sarif", "junit", "markdown")  # formats of a report that hold any number of designs


def lint_parser() -> Parser:
    """What the command takes."""
    made = Parser("lint", "\n".join(wrapped(f"Judge designs and print what was found. {TAKEN}", 78)))
    made.add_argument("paths", nargs="+", metavar="PATH", help="a design, or a folder of designs")
    add_format(made, DOCUMENTS)
    made.add_argument(
        "--changed",
        action="store_true",
        help="judge the designs that a change of these files touches: a design itself, every design below a settings "
        "file, every design of the repository of a pack; other files are left alone",
    )
    add_gate(made)
    made.add_argument("--today", type=day, metavar="DAY", help="the day that waivers are held to; default today")
    add_colour(made)
    made.add_argument(
        "--all",
        action="store_true",
        dest="every",
        help="everything that somebody has to look at, each finding with its figures, its limit and its cure, and "
        "every fact that nothing used, with its place and the reason",
    )
    made.add_argument(
        "--watch",
        action="store_true",
        help="judge again whenever a design, a pack or a library is saved, what changed since the last time first",
    )
    made.add_argument("--verbose", action="store_true", help="every finding one by one, and which settings were found")
    made.add_argument(
        "--record",
        metavar="FILE",
        help="write today's findings to a file, to be held back later; with --reason, --by and --last-day",
    )
    made.add_argument("--reason", metavar="TEXT", help="why they are held back")
    made.add_argument("--by", metavar="NAME", help="who answers for it")
    made.add_argument("--last-day", type=day, metavar="DAY", help="the last day they are held back")
    return made


def run_lint(arguments: argparse.Namespace) -> int:
    """Judge every design; what one cannot be read for does not hide the others."""
    today = arguments.today or date.today()
    if arguments.watch:
        from derate.cli.watch import watched

        return watched(arguments, judged, shown)
    signed = _signed(arguments)
    paths, found = changed(arguments.paths) if arguments.changed else designs(arguments.paths)
    problems = list(found)
    read: dict[str, None] = dict.fromkeys((*paths, *((arguments.known,) if arguments.known else ())))
    if arguments.record:
        may_be_written(arguments.record, read)
    works: list[Work] = []
    reviews = judged(arguments, paths, today, problems, read, works)
    shown(arguments, reviews, works, today, problems)
    if signed is not None and not problems:
        from derate.judge.acknowledge import record

        write_whole(arguments.record, record(reviews, signed), read)
    elif arguments.record:
        problems += refused(f"'{arguments.record}' was not written", "mend the errors first").problems
    tell_problems(problems)
    if problems:
        return 2
    return 1 if any(review.blocks for review in reviews) else 0


def shown(
    arguments: argparse.Namespace, reviews: list[Review], works: list[Work], today: date, problems: list[Problem]
) -> None:
    """Print what was found in the form that is asked for. works: of the reviews, where a document is made of them"""
    unread = bool(problems)
    if arguments.format in DOCUMENTS:
        from derate.cli.show import document, form

        made = (document(work, today, judged=review) for work, review in zip(works, reviews, strict=True))
        say(form(arguments.format)(*made, unread=problems))
    elif arguments.format == "json":
        from derate.report.machine import lint_json

        say(lint_json(reviews))
    elif for_people():
        _screen(arguments, reviews, unread)
    else:
        from derate.report.lines import brief_lines, review_lines

        if arguments.every or arguments.verbose:
            say_lines(review_lines(reviews, arguments.verbose, unread))
        else:
            say_lines(brief_lines(reviews, unread))
    text = arguments.format == "text"
    from derate.packs.load import PROFILE

    if text and any(one.pack.startswith(PROFILE) for review in reviews for one in review.findings):
        from derate.report.profiles import profile_lines

        say_lines(fitted(profile_lines(reviews), width() if for_people() else None))
    sys.stdout.flush()


def _screen(arguments: argparse.Namespace, reviews: list[Review], unread: bool) -> None:
    from derate.report.people import brief_screen, review_screen

    colour = coloured()
    if arguments.every or arguments.verbose:
        say(review_screen(reviews, width(), colour, draws(), arguments.verbose, unread))
    else:
        say(brief_screen(reviews, width(), height(), colour, draws(), unread))


def _signed(arguments: argparse.Namespace) -> Signed | None:
    """Who signs for a record that is written; None when none is. Raises ReadingError."""
    given = {"--reason": arguments.reason, "--by": arguments.by, "--last-day": arguments.last_day}
    if not arguments.record:
        beside = [name for name, text in given.items() if text]
        if beside:
            raise refused(f"{beside[0]} goes with --record", "write --record FILE, or leave it out")
        return None
    from derate.judge.acknowledge import Signed

    lacking = [name for name, text in given.items() if not (text.strip() if isinstance(text, str) else text)]
    if lacking:
        what = f"a record holds findings back, and asks what a waiver asks: {' and '.join(lacking)}"
        raise refused(what, "write --reason TEXT --by NAME --last-day 2027-06-30")
    return Signed(arguments.reason.strip(), arguments.by.strip(), arguments.last_day)


def judged(
    arguments: argparse.Namespace,
    paths: tuple[str, ...],
    today: date,
    problems: list[Problem],
    read: dict[str, None],
    works: list[Work],
) -> list[Review]:
    """Every design that can be read, judged; what cannot is added to `problems`, every file that was to `read`.

    works: those that were judged are kept here where a document is made of them, in the order of the reviews
    """
    from derate.study.hearing import unused
    from derate.study.work import review_of

    workshop, known = workshop_for(arguments)
    reviews = []
    told = dict.fromkeys(problems)
    for path in paths:
        try:
            work = workshop.work(path)
            read.update(dict.fromkeys(work.read))
            review = review_of(work, today, known, arguments.stop_at)
            reviews.append(review._replace(unused=unused(work, review)))
            if arguments.format in DOCUMENTS:
                works.append(work)
            _last_day(arguments, work, today)
            if arguments.verbose:
                _tell_used(work)
        except ReadingError as error:
            told.update(dict.fromkeys(error.problems))
        except (MemoryError, BrokenPipeError):
            raise
        except OSError as error:
            what = f"this design could not be worked through ({error.strerror or 'reading failed'})"
            told[Problem(Place(path), what, "")] = None
        except Exception as error:
            what = f"this design could not be worked through ({type(error).__name__}: {plain(str(error))[:200]})"
            told[Problem(Place(path), what, "please report it with the file")] = None
    problems[:] = told
    return reviews


def _last_day(arguments: argparse.Namespace, work: Work, today: date) -> None:
    """A record that would hold nothing back is not written. Raises ReadingError."""
    from derate.judge.acknowledge import Limits, too_far

    if not arguments.record:
        return
    settings = work.settings
    far = too_far(arguments.last_day, today, Limits(settings.longest_days, settings.critical_waivers))
    if far or arguments.last_day < today:
        raise refused(
            f"this record would hold nothing back: {far or 'its last day has passed'}", "write another --last-day"
        )


def _tell_used(work: Work) -> None:
    settings = plain(", ".join(work.settings.paths)) or "none found"
    packs = ", ".join(plain(f"{head.name} ({head.path})") for head in work.packs.heads)
    print(f"{plain(work.design.path)}: settings: {settings}; rule packs: {packs}", file=sys.stderr)
