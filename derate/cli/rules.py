"""`derate rules`: list the rules, try a pack's trials, compare two packs."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from typing import TYPE_CHECKING

from derate.cli.arguments import Parser, add_packs, refused
from derate.cli.output import for_people, say_lines, tell_problems, width
from derate.report.words import plain
from derate.terms.words import HAZARDS

if TYPE_CHECKING:
    from derate.judge.review import Review
    from derate.judge.trials import Result
    from derate.packs.load import Packs


def parser() -> Parser:
    """What the command takes."""
    made = Parser("rules", "List the rules by hazard, try the trials of a pack, or compare two packs.")
    made.add_argument("--hazard", choices=HAZARDS, help="only rules of this hazard")
    add_packs(made)
    one = made.add_mutually_exclusive_group()
    one.add_argument("--try", dest="tried", metavar="PACK", help="run the trials of a pack; exit status 1 if one fails")
    one.add_argument("--compare", nargs=2, metavar=("A", "B"), help="what two packs differ in")
    return made


def run(arguments: argparse.Namespace) -> int:
    """List, try or compare."""
    from derate.cli.arguments import one_pack, rules_of, shelf
    from derate.report.rule_page import compared_lines, list_lines

    if arguments.tried:
        return _try(arguments.tried)
    if arguments.compare:
        one, other = arguments.compare
        say_lines(compared_lines(one, one_pack(one).rules, other, one_pack(other).rules))
        return 0
    found, problems = shelf(arguments.packs)
    rules = [rule for rule in rules_of(found) if arguments.hazard in (None, rule.hazard)]
    say_lines(list_lines(rules, min(width(), 110) if for_people("auto") else None))
    sys.stdout.flush()
    tell_problems(problems)
    return 2 if problems else 0


def _try(name: str) -> int:
    from derate.cli.arguments import one_pack, trials_of
    from derate.judge.trials import run_trials

    packs = one_pack(name)
    results: list[Result] = []
    for head in packs.heads:
        trials = trials_of(packs, head.name)
        results += run_trials(trials, packs, lambda text: _judged(text, packs))
    if not results:
        raise refused(f"pack {plain(name)} has no trials", "write them in a second document of its file")
    failed = [one for one in results if not one.holds]
    lines = [
        f"{plain(str(one.place))}: {plain(one.rule)}: expected {one.expected}, got {one.got}: {plain(one.message)}"
        for one in failed
    ]
    untried = sorted({rule.name for rule in packs.rules} - {one.rule for one in results})
    lines += [f"{plain(name)}: {plain(rule)} has no trial" for rule in untried]
    say_lines([*lines, f"{len(results)} trials, {len(failed)} not as expected; {len(untried)} rules without a trial"])
    return 1 if failed else 0


def _judged(text: str, packs: Packs) -> Review:
    """A design trial: a text read, worked through and judged with these packs."""
    from derate.design.load import read_design
    from derate.design.settings import Settings
    from derate.study.work import Work, review_of, worked

    design = read_design(text, "trial")
    return review_of(Work(design, Settings(), packs, worked(design, packs), {}), date.min)
