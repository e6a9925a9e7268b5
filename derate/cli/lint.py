"""`derate lint`: judge designs and print what was found."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from typing import TYPE_CHECKING

from derate.cli.shared import (
    TAKEN,
    Parser,
    add_format,
    add_packs,
    coloured,
    day,
    designs,
    draws,
    for_people,
    read_known,
    refused,
    say,
    say_lines,
    tell_problems,
    width,
    write_file,
)
from derate.report.words import plain, wrapped
from derate.terms.values import Place, Problem, ReadingError

if TYPE_CHECKING:
    from derate.judge.review import Review
    from derate.study.work import Work


def lint_parser() -> Parser:
    """What the command takes."""
    made = Parser("lint", "\n".join(wrapped(f"Judge designs and print what was found. {TAKEN}", 78)))
    made.add_argument("paths", nargs="+", metavar="PATH", help="a design, or a folder of designs")
    add_format(made)
    add_packs(made)
    made.add_argument(
        "--stop-at",
        choices=("fail", "not-assessed", "marginal"),
        default=None,
        help="what makes the exit status 1: any fail; a fail or anything not assessed; or a marginal finding as well. "
        "Without it: a fail or a finding not assessed of a critical or major rule",
    )
    made.add_argument("--today", type=day, metavar="DAY", help="the day that waivers are held to; default today")
    made.add_argument(
        "--colour",
        choices=("auto", "always", "never"),
        default="auto",
        help="colours; always also chooses the layout for people when the output is no terminal. It wins over NO_COLOR "
        "and FORCE_COLOR",
    )
    made.add_argument("--verbose", action="store_true", help="every finding one by one, and which settings were found")
    made.add_argument("--record", metavar="FILE", help="write today's findings to a file, to be held back later")
    made.add_argument("--known", metavar="FILE", help="hold back findings recorded there; new or worse ones stop")
    return made


def run_lint(arguments: argparse.Namespace) -> int:
    """Judge every design; what one cannot be read for does not hide the others."""
    paths, found = designs(arguments.paths)
    problems = list(found)
    reviews = _reviews(arguments, paths, problems)
    unread = bool(problems)
    if arguments.format == "json":
        from derate.report.machine import lint_json

        say(lint_json(reviews))
    elif for_people(arguments.colour):
        from derate.report.people import review_screen

        say(review_screen(reviews, width(), coloured(arguments.colour), draws(), arguments.verbose, unread))
    else:
        from derate.report.lines import review_lines

        say_lines(review_lines(reviews, arguments.verbose, unread))
    sys.stdout.flush()
    if arguments.record and not problems:
        from derate.judge.acknowledge import record

        write_file(arguments.record, record(reviews))
    elif arguments.record:
        problems += refused(f"'{arguments.record}' was not written", "mend the errors first").problems
    tell_problems(problems)
    if problems:
        return 2
    return 1 if any(review.blocks for review in reviews) else 0


def _reviews(arguments: argparse.Namespace, paths: tuple[str, ...], problems: list[Problem]) -> list[Review]:
    from derate.study.work import Workshop, review_of

    today = arguments.today or date.today()
    known = read_known(arguments.known) if arguments.known else None
    workshop = Workshop(arguments.packs)
    reviews = []
    for path in paths:
        try:
            work = workshop.work(path)
            held = known.get(path, {}) if known is not None else None
            reviews.append(review_of(work, today, held, arguments.stop_at))
            if arguments.verbose:
                _tell_used(work)
        except ReadingError as error:
            problems += [one for one in error.problems if one not in problems]
        except (MemoryError, OSError):
            raise
        except Exception as error:
            what = f"this design could not be worked through ({type(error).__name__}: {plain(str(error))[:200]})"
            problems.append(Problem(Place(path), what, "please report it with the file"))
    return reviews


def _tell_used(work: Work) -> None:
    settings = plain(work.settings.path) or "none found"
    packs = ", ".join(plain(f"{head.name} ({head.path})") for head in work.packs.heads)
    print(f"{plain(work.design.path)}: settings: {settings}; rule packs: {packs}", file=sys.stderr)
