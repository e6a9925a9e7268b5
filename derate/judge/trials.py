"""Trials of rules run through the real judge: a small ledger for one subject, or a whole design read and computed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import cast

from derate.judge.acknowledge import is_about
from derate.judge.judge import find, prepare
from derate.judge.review import Finding, Review
from derate.ledger.entry import SUPPLY, Case, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs
from derate.packs.pack import SUPPLY_WIDE, Rule
from derate.packs.trial import DesignTrial, Facts, Trial, Trials, example_of
from derate.terms.quantities import RUNNING, CaseGroup, named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Known, Place
from derate.terms.words import VERDICTS, SubjectKind, Verdict


@dataclass(frozen=True, slots=True)
class Result:
    """What a trial came to: verdict expected and got, and what the finding said."""

    rule: str
    place: Place
    expected: str
    got: str
    message: str

    @property
    def holds(self) -> bool:
        """Whether it came out as expected."""
        return self.expected == self.got


class TrialPlan:
    """The cases of a trial: as many as it gives, all of the group a rule asks for first."""

    def __init__(self, group: CaseGroup, count: int) -> None:
        self._cases = tuple(Case(group, mains=230.0 + number) for number in range(count))

    def cases(self, quantities: Iterable[QuantityName], groups: Iterable[CaseGroup]) -> tuple[Case, ...]:
        """All cases, whatever is asked."""
        return self._cases

    def project(self, quantity: QuantityName, case: Case) -> Case:
        """Every quantity depends on everything."""
        return case


_PAIRS = ("winding pair", "circuit pair")


def run_trial(trial: Trial, packs: Packs) -> Result:
    """Run one trial of one rule."""
    rule = packs.rule(trial.rule)
    assert rule is not None, "trials are read against the packs they run with"
    finding = _finding(trial, rule, packs)
    got: str = "not applicable" if finding is None else finding.verdict
    expected: str = trial.expect
    if trial.ratio is not None:
        expected += f" at {trial.ratio:.3g}"
        ratio = None if finding is None else finding.ratio
        near = ratio is not None and abs(ratio - trial.ratio) <= 0.01 * trial.ratio
        got += f" at {trial.ratio:.3g}" if near else " at no ratio" if ratio is None else f" at {ratio:.3g}"
    return Result(trial.rule, trial.place, expected, got, "" if finding is None else finding.message)


def trial_verdict(trial: Trial, packs: Packs) -> Verdict:
    """The bare verdict of one trial."""
    rule = packs.rule(trial.rule)
    assert rule is not None
    finding = _finding(trial, rule, packs)
    return "not applicable" if finding is None else finding.verdict


def run_design_trial(trial: DesignTrial, judge_design: Callable[[str], Review]) -> tuple[Result, Result]:
    """Run the base and the changed design. `judge_design` reads a text, computes and judges it."""
    found = []
    for text, expected in ((trial.text, trial.expect), (trial.changed, trial.then)):
        own = [
            one
            for one in judge_design(text).findings
            if one.rule == trial.rule and (not trial.subject or is_about(trial.subject, one.subject))
        ]
        worst = min(own, key=lambda one: VERDICTS.index(one.verdict), default=None)
        got: Verdict = "not applicable" if worst is None else worst.verdict
        found.append(Result(trial.rule, trial.place, expected, got, "" if worst is None else worst.message))
    return found[0], found[1]


def run_trials(trials: Trials, packs: Packs, judge_design: Callable[[str], Review] | None = None) -> tuple[Result, ...]:
    """Run all trials of a pack; those on whole designs only when something is given that judges one."""
    results = [run_trial(trial, packs) for trial in trials.rules]
    if judge_design is not None:
        for design in trials.designs:
            results += run_design_trial(design, judge_design)
    return tuple(results)


def _finding(trial: Trial, rule: Rule, packs: Packs) -> Finding | None:
    cases = trial.cases or ({},)
    plan = TrialPlan(rule.cases[0] if rule.cases else RUNNING, len(cases))
    ledger = Ledger(plan)
    names = () if rule.about == "supply" else ("one", "other") if rule.about in _PAIRS else ("X1",)
    subject = Subject(cast(SubjectKind, rule.about), names)
    for condition in rule.applies:
        if condition.name not in trial.facts:
            _write(ledger, subject, condition.name, example_of(condition))
    _write_all(ledger, subject, trial.facts, None)
    for case, facts in zip(plan.cases((), ()), cases, strict=True):
        _write_all(ledger, subject, facts, case)
    for name, facts in trial.parts.items():
        part = Subject("part", (name,))
        if "part.fitted" not in facts:
            _write(ledger, part, "part.fitted", Category.of("yes"))
        _write_all(ledger, part, facts, None)
    return find(prepare(rule, ledger, packs), subject, ledger, packs, trial.place)


def _write_all(ledger: Ledger, subject: Subject, facts: Facts, case: Case | None) -> None:
    for name, given in facts.items():
        if given.value is not None:
            _write(ledger, subject, name, given.value, case, "assumed" if given.assumed else "stated")


def _write(
    ledger: Ledger, subject: Subject, name: str, value: Known | None, case: Case | None = None, known_by: str = "stated"
) -> None:
    owner = SUPPLY if name.startswith(SUPPLY_WIDE) else subject
    ledger.write(owner, named(name), value, case=case, known_by=known_by)
