"""The blocking law over every rule of every shipped pack, starting from each of its trials.

Whatever a trial comes to, taking one of its facts away, widening it, marking it assumed or moving it its bad way never
turns a verdict that blocks (fail, not assessed) into one that does not. Facts that `applies` asks for count too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from derate.judge.trials import trial_verdict
from derate.packs.load import Packs, load_packs, shipped
from derate.packs.pack import Condition, Rule
from derate.packs.trial import Facts, GivenFact, Trial, example_of, read_trials
from derate.terms.values import Category, Value
from derate.terms.vocabulary import VOCABULARY

FILES = sorted(shipped("rules").glob("*.yaml")) + [Path(__file__).parents[1] / "data" / "packs" / "worked.yaml"]
BLOCKS = ("fail", "not assessed")


# rule, fact -> the rule of the same pack that fails when the fact moves so far its bad way that this one no longer
# applies
CAUGHT_BY = {("bleeder-resistor-voltage-one-shorted", "bleeder.series"): "bleeder-in-two-resistors"}

# Of what everywhere else is bad when it is low: a link that opens at a higher temperature opens too late, and a lamp
# takes all that its converter delivers, which may be more than its plate says.
OTHER_WAY = {("thermal-link-opens-in-time", "rated.temperature"), ("lamp-current-on-plate", "current_available")}


# Of a design of one's own no load test is asked. One that was taken of its prototype is judged all the same, so that
# without it nothing is left to judge: a figure that nobody wrote down, as in the law over whole files (tests/law).
READ_OF_IT = {
    ("power-read-is-possible", "read_efficiency_greatest"),
    ("output-lead-current-in-overload", "greatest_shut_down_current"),
    ("rated-current-held", "held_current"),
}


def _nobody_read_it(trial: Trial, what: str) -> bool:
    basis = trial.facts.get("supply.basis", GivenFact(None)).value
    own = isinstance(basis, Category) and basis.members == ("own design",)
    return own and (trial.rule, what.removesuffix(" deleted")) in READ_OF_IT and what.endswith(" deleted")


def _changes(name: str, given: GivenFact, rule: Rule) -> Iterator[tuple[str, GivenFact]]:
    """A fact made worse in every way."""
    value = given.value
    yield "deleted", GivenFact(None)
    yield "assumed", replace(given, assumed=True)
    if isinstance(value, Category):
        for word in _words(name, rule):
            yield f"or {word}", replace(given, value=Category.of(*value.members, word))
    if isinstance(value, Value):
        for share in (0.02, 0.3, 3.0):
            down, up = sorted((value.near * (1 - min(share, 1.0)), value.near))[0], value.far + abs(value.far) * share
            wide = Value(min(value.low, down), down, up, max(value.high, up))
            yield f"widened by {share}", replace(given, value=wide)
        bad = VOCABULARY[name].bad * (-1 if (rule.name, name) in OTHER_WAY else 1)
        for factor in (1.01, 1.5, 20.0):
            if bad and value.near >= 0:
                yield f"moved by {factor}", replace(given, value=value.scaled(factor**bad))


def _words(name: str, rule: Rule) -> tuple[str, ...]:
    asked = [word for one in (*rule.applies, *rule.when) if one.name == name for word in one.words]
    return tuple(dict.fromkeys((*VOCABULARY[name].words, *asked, "unmarked", "none")))


def _filled(trial: Trial, conditions: tuple[Condition, ...]) -> Trial:
    """The trial with the facts that `applies` asks for written out."""
    more = {one.name: GivenFact(example_of(one)) for one in conditions if one.name not in trial.facts}
    return replace(trial, facts={**more, **trial.facts})


def _worse(trial: Trial, rule: Rule) -> Iterator[tuple[str, Trial]]:
    for name, given in trial.facts.items():
        for what, changed in _changes(name, given, rule):
            yield f"{name} {what}", replace(trial, facts={**trial.facts, name: changed})
    for number, facts in enumerate(trial.cases):
        for name, given in facts.items():
            for what, changed in _changes(name, given, rule):
                cases = [*trial.cases]
                cases[number] = {**facts, name: changed}
                yield f"{name} of case {number + 1} {what}", replace(trial, cases=tuple(cases))
    for part, own in trial.parts.items():
        for name, given in own.items():
            # A part is there because a row says so: its last row stays.
            for what, changed in _changes(name, given, rule) if len(own) > 1 or given.value is None else ():
                parts: dict[str, Facts] = {**trial.parts, part: {**own, name: changed}}
                yield f"{name} of {part} {what}", replace(trial, parts=parts)


@pytest.mark.parametrize("file", FILES, ids=lambda path: path.stem)
def test_no_loss_of_knowledge_opens_the_gate(file: Path) -> None:
    packs: Packs = load_packs([str(file)])
    opened, tried = [], 0
    for trial in read_trials(file.read_text(encoding="utf-8"), str(file), packs).rules:
        rule = packs.rule(trial.rule)
        assert rule is not None
        base = _filled(trial, rule.applies)
        if trial_verdict(base, packs) not in BLOCKS:
            continue
        for what, worse in _worse(base, rule):
            tried += 1
            verdict = trial_verdict(worse, packs)
            caught = packs.rule(CAUGHT_BY.get((rule.name, what.partition(" ")[0]), ""))
            if verdict == "not applicable" and " moved by " in what and caught is not None:
                same = replace(worse, rule=caught.name)
                assert trial_verdict(_filled(same, caught.applies), packs) == "fail", what
                continue
            if verdict not in BLOCKS and not _nobody_read_it(trial, what):
                opened.append(f"{rule.name}, line {trial.place.line}: {what}: {verdict}")
    assert not opened, "\n".join(opened)
    assert tried > 0 or not packs.rules
