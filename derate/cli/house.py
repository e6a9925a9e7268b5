"""The house: what a rule asks, the rules and their trials, the schemas."""

from __future__ import annotations

import argparse
import json
import os
import sys
from datetime import date
from typing import TYPE_CHECKING, Any

from derate.cli.shared import (
    Parser,
    add_colour,
    add_packs,
    fitted,
    for_people,
    refused,
    say,
    say_lines,
    tell_problems,
    width,
)
from derate.report.words import plain
from derate.terms.words import HAZARDS

if TYPE_CHECKING:
    from derate.judge.review import Review
    from derate.judge.trials import Result
    from derate.packs.load import Packs


def _columns() -> int | None:
    """Columns that a person's window has; None where no person reads."""
    return min(width(), 110) if for_people() else None


# `derate explain`: print what a rule asks, why, and where its limit comes from.


def explain_parser() -> Parser:
    """What the command takes."""
    made = Parser("explain", "Print what a rule asks, why, and where its limit comes from.")
    made.add_argument("rules", nargs="+", metavar="RULE", help="a rule, as findings name it; may be several")
    add_packs(made)
    add_colour(made)
    return made


def run_explain(arguments: argparse.Namespace) -> int:
    """Print the page of every rule of this name."""
    from derate.cli.shared import rules_of, shelf, trials_of
    from derate.report.rule_page import page_lines
    from derate.terms.values import nearest

    file = next((one for one in arguments.rules if one.endswith((".yaml", ".yml"))), None)
    if file is not None:
        instead = f"what it found in a design is in derate lint --all {plain(file)[:60]}"
        raise refused("explain takes rules alone, which hold for every design", instead)
    found, problems = shelf(arguments.packs)
    rules = rules_of(found)
    for asked in arguments.rules:
        if not any(rule.name == asked for rule in rules):
            close = nearest(asked, {rule.name for rule in rules})
            tell_problems(problems)
            instead = f"write {close}" if close else "derate rules lists them"
            raise refused(f"there is no rule '{plain(asked)[:60]}'", instead)
    named = [rule for asked in dict.fromkeys(arguments.rules) for rule in rules if rule.name == asked]
    for number, rule in enumerate(named):
        packs = next(one for one in found if rule in one.rules)
        trials = [one for one in trials_of(packs, rule.pack).rules if one.rule == rule.name]
        columns = min(width(), 100) if for_people() else 100
        say_lines([*([""] if number else []), *page_lines(rule, trials, columns)])
    sys.stdout.flush()
    tell_problems(problems)
    return 2 if problems else 0


# `derate rules`: list the rules, try a pack's trials, compare two packs.


def rules_parser() -> Parser:
    """What the command takes."""
    made = Parser("rules", "List the rules by hazard, try the trials of a pack, or compare two packs.")
    made.add_argument("--hazard", choices=HAZARDS, help="only rules of this hazard")
    add_packs(made)
    add_colour(made)
    one = made.add_mutually_exclusive_group()
    one.add_argument("--try", dest="tried", metavar="PACK", help="run the trials of a pack; exit status 1 if one fails")
    one.add_argument("--compare", nargs=2, metavar=("A", "B"), help="what two packs differ in")
    return made


def run_rules(arguments: argparse.Namespace) -> int:
    """List, try or compare."""
    from derate.cli.shared import one_pack, rules_of, shelf
    from derate.report.rule_page import compared_lines, list_lines

    if arguments.tried:
        return _try(arguments.tried)
    if arguments.compare:
        one, other = arguments.compare
        say_lines(fitted(compared_lines(one, one_pack(one).rules, other, one_pack(other).rules), _columns()))
        return 0
    found, problems = shelf(arguments.packs)
    rules = [rule for rule in rules_of(found) if arguments.hazard in (None, rule.hazard)]
    say_lines(list_lines(rules, _columns()))
    sys.stdout.flush()
    tell_problems(problems)
    return 2 if problems else 0


def _try(name: str) -> int:
    from derate.cli.shared import one_pack, trials_of
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
    counted = f"{len(results)} trials, {len(failed)} not as expected; {len(untried)} rules without a trial"
    say_lines(fitted([*lines, counted], _columns()))
    return 1 if failed else 0


def _judged(text: str, packs: Packs) -> Review:
    """A design trial: a text read, worked through and judged with these packs."""
    from derate.design.load import read_design
    from derate.design.settings import Settings
    from derate.study.work import Work, review_of, worked

    design = read_design(text, "trial")
    return review_of(Work(design, Settings(), packs, worked(design, packs), {}), date.min)


# `derate schema`: print the JSON Schema of a design, a pack or an output.


_OUTPUTS = ("lint", "stress", "spread", "faults", "insulation", "headroom", "parts", "known")
KINDS = ("design", "pack", "settings", "library", *_OUTPUTS)


def schema_parser() -> Parser:
    """What the command takes."""
    made = Parser(
        "schema",
        "Print the JSON Schema of a design, a rule pack, settings, a library of parts, or what commands print as JSON.",
    )
    made.add_argument("kind", nargs="?", choices=KINDS, default="design", help="of what; a design when nothing is said")
    made.add_argument(
        "--install",
        action="store_true",
        help="lay the schemas of designs, settings and packs down in this repository, with the settings by which an "
        "editor holds files to them; settings that stand there are kept",
    )
    return made


def run_schema(arguments: argparse.Namespace) -> int:
    """Print one schema, or lay them down."""
    if arguments.install:
        from derate.editor.settings import FILES, install

        for path in install(".", {kind: schema_text(kind) for kind in FILES}):
            say(f"{os.path.relpath(path)}: written")
        return 0
    say(schema_text(arguments.kind))
    return 0


def schema_text(kind: str) -> str:
    """One schema as text, the same bytes every time."""
    schema: dict[str, Any]
    if kind == "design":
        from derate.report.schemas import design_schema

        schema = design_schema()
    elif kind == "pack":
        from derate.report.schemas import pack_schema

        schema = pack_schema()
    elif kind == "settings":
        from derate.report.schemas import settings_schema

        schema = settings_schema()
    elif kind == "library":
        from derate.report.schemas import library_schema

        schema = library_schema()
    else:
        from derate.report.schemas import OUTPUTS

        schema = OUTPUTS[kind]
    return json.dumps(schema, indent=2, ensure_ascii=True) + "\n"
