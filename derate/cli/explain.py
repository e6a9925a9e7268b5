"""`derate explain`: print what a rule asks, why, and where its limit comes from."""

from __future__ import annotations

import argparse
import sys

from derate.cli.arguments import Parser, add_packs, refused
from derate.cli.output import for_people, say_lines, tell_problems, width
from derate.report.words import plain


def parser() -> Parser:
    """What the command takes."""
    made = Parser("explain", "Print what a rule asks, why, and where its limit comes from.")
    made.add_argument("rule", metavar="RULE", help="a rule, as findings name it")
    add_packs(made)
    return made


def run(arguments: argparse.Namespace) -> int:
    """Print the page of every rule of this name."""
    from derate.cli.arguments import rules_of, shelf, trials_of
    from derate.report.rule_page import page_lines
    from derate.terms.place import nearest

    found, problems = shelf(arguments.packs)
    rules = rules_of(found)
    named = [rule for rule in rules if rule.name == arguments.rule]
    if not named:
        close = nearest(arguments.rule, {rule.name for rule in rules})
        tell_problems(problems)
        instead = f"write {close}" if close else "derate rules lists them"
        raise refused(f"there is no rule '{plain(arguments.rule)[:60]}'", instead)
    for number, rule in enumerate(named):
        packs = next(one for one in found if rule in one.rules)
        trials = [one for one in trials_of(packs, rule.pack).rules if one.rule == rule.name]
        columns = min(width(), 100) if for_people("auto") else 100
        say_lines([*([""] if number else []), *page_lines(rule, trials, columns)])
    sys.stdout.flush()
    tell_problems(problems)
    return 2 if problems else 0
