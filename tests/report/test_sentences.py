"""Every sentence as a person reads it: no holes, no infinities, no powers of ten, nothing named that has no name."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import pytest
from documents import POOR, ROOT, SHIPPED, shipped

from derate.cli.shared import trials_of
from derate.design.load import read_design
from derate.judge import trials as judged
from derate.judge.review import Finding
from derate.ledger.recorded import RecordingLedger
from derate.packs.load import load_packs
from derate.packs.load import shipped as lies
from derate.packs.pack import Rule
from derate.report.ledger import Shown, chosen, table_lines
from derate.report.lines import brief_lines, problem_lines, review_lines
from derate.report.people import brief_screen, review_screen
from derate.report.rule_page import page_lines
from derate.report.studies import headroom_lines, missing_lines
from derate.report.words import figure, known_text, plain
from derate.study.headroom import cures
from derate.study.missing import missing_facts
from derate.study.trying import Bench, ends_of
from derate.study.work import Workshop
from derate.terms.values import ReadingError, Value
from derate.terms.vocabulary import VOCABULARY

PACKS = load_packs([str(path) for path in sorted(lies("rules").glob("*.yaml"))])
# Kinds of sentence that nobody should have to read.
HOLES = re.compile(
    r"\{(?:worst|cure|limit|stress|\w+_\w+)\}"  # a figure that nobody filled in
    r"|to …"
    r"|(?:at least|at most|be) no (?:upper|lower) limit|no (?:upper|lower) limit or"
    r"|\bis inf\b|\bnan\b|\binf\b"
    r"|(?<![\w.,-])-?\d+(?:\.\d+)?e[+-]?\d+\b(?!\w)"  # 1.74e+08
    r"|\bon  is\b|  +is not used"
    r"|\bat at\b|\bNone\b|\bOpenFact\b|\bSubject\("
    r"|(?:[a-z]+_[a-z_]+) (?:is -?\d|has no upper limit)"  # the name of a variable of a formula
)
_DIGEST = re.compile(r"\b[0-9a-f]{12,}\b")  # of a pack: letters and digits, no figure


def holes(text: str) -> str:
    """The first hole of a text, with what stands around it; '' where it has none."""
    bare = _DIGEST.sub("", text)
    found = HOLES.search(bare)
    return bare[max(0, found.start() - 60) : found.end() + 60] if found else ""


@pytest.fixture(autouse=True)
def _in_the_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize(
    "text",
    [
        "I²t 1.74e+08 A²s", "at least no upper limit", "turns_ratio is inf", "2e-11 to 5e-10", "on  is not used",
        "fit a fuse that breaks {worst} or more", "turns_ratio has no upper limit", "tested at at least 6000 V peak",
        "has to be shown to be no upper limit or more", "rms is inf A", "RF1 is None",
    ],
)
def test_the_kinds_are_seen(text: str) -> None:
    assert holes(f"a sentence: {text}; and on")


@pytest.mark.parametrize("text", ["line 1e of the file 7adbb7aa5d55", "C1: 100 uF to 2e", "no upper limit is stated"])
def test_what_only_looks_like_one_is_left_alone(text: str) -> None:
    assert not holes(text)


@pytest.mark.parametrize("rule", PACKS.rules, ids=lambda rule: rule.name)
def test_no_page_of_a_rule_has_a_hole(rule: Rule) -> None:
    text = " ".join(line.strip() for line in page_lines(rule, (), 100))
    assert not holes(text)
    cure = text.partition(" cure ")[2].partition(" to settle ")[0]
    assert "…" not in cure, cure


@cache
def of_trials() -> tuple[Finding, ...]:
    """The finding of every trial of every shipped rule: each subject and verdict that a rule has a trial for."""
    found = []
    for path in sorted(lies("rules").glob("*.yaml")):
        packs = load_packs([str(path)])
        own = [head for head in packs.heads if head.path == str(path)]
        for trial in (one for head in own for one in trials_of(packs, head.name).rules):
            rule = packs.rule(trial.rule)
            assert rule is not None
            made = judged._finding(trial, rule, packs)
            if made is not None:
                found.append(made)
    return tuple(found)


def test_no_finding_of_any_trial_has_a_hole() -> None:
    found = of_trials()
    assert len({one.rule for one in found}) > 250 and {one.verdict for one in found} >= {"fail", "pass", "not assessed"}
    wrong = [f"{one.rule}: {told}" for one in found for text in texts_of(one) if (told := holes(text))]
    assert not wrong, wrong[:5]


def texts_of(finding: Finding) -> Iterator[str]:
    """Everything that is said of one finding."""
    yield from (finding.message, plain(finding.remedy), finding.source)
    for side in (finding.stress, finding.limit):
        if side is not None:
            yield figure(side, finding.unit)


@pytest.mark.parametrize("path", SHIPPED)
def test_nothing_that_is_said_of_a_shipped_design_has_a_hole(path: str) -> None:
    made = shipped(path)
    review = made.review
    lines = [*review_lines([review], verbose=True), *brief_lines([review])]
    lines += brief_screen([review], 80, 24, False).split("\n") + review_screen([review], 80, False).split("\n")
    lines += table_lines(tuple(Shown(one) for one in chosen(made.ledger.entries, "", "", True)))
    lines += [text for one in review.findings for text in texts_of(one)]
    wrong = [told for line in lines if (told := holes(line))]
    assert not wrong, wrong[:5]


def test_no_study_of_the_poor_design_has_a_hole() -> None:
    bench = Bench(Workshop(ledger=RecordingLedger).work(POOR), shipped(POOR).day)
    review = bench.base.review
    failing = [one for one in review.findings if one.verdict == "fail" and one.blocks]
    facts = missing_facts(bench, False, 6)
    lines = [
        *headroom_lines(POOR, (), cures(bench), 3, 80, failing),
        *missing_lines(POOR, review.name, facts, (), 80),
        *missing_lines(POOR, review.name, facts, (), None),
    ]
    wrong = [told for line in lines if (told := holes(line))]
    assert not wrong, wrong[:5]


def test_every_term_says_what_it_is_and_a_figure_of_each_is_written_out() -> None:
    """From the least to the greatest that a small supply can have of each: never as a power of ten."""
    for name, term in VOCABULARY.items():
        assert term.says and not holes(term.says) and not holes(str(term.how)), name
        if term.dimension is None or term.dimension.point:
            continue
        for number in (*ends_of(term), 0.0, 0.47, 26400.0):
            told = known_text(Value.exact(number), name)
            assert not holes(told), f"{name}: {told}"


# What people write and no reader takes: (where it stands, what stands there).
WRONG = [
    ("100..240 V", "100-240V~ 50/60Hz"), ("100..240 V", "240"), ("100..240 V", "1e30 V"), ("100..240 V", "inf V"),
    ("12 V", "12,5"), ("12 V", "about twelve"), ("12 V", "5 A"), ("22 uF", "22"), ("22 uF", "22 C"),
    ("400 V", "400"), ("400 V", "nan"), ("fuse", "fuze"), ("fuse", "T2AL250V"), ("bridge rectifier", "bridge MB6S"),
    ("line: [F1", "line: [F9"), ("parts:", "pats:"), ("derate: 1", "derate: 2"),
]
FILE = """derate: 1
supply: {name: t, plate: {mains: 100..240 V, outputs: {main: {voltage: 12 V, current: 1 A}}}}
parts: {F1: fuse 1 A 250 V, BR1: bridge rectifier 600 V 1 A, C1: electrolytic capacitor 22 uF 20% 400 V}
circuit: {line: [F1, BR1, across C1]}
"""


@pytest.mark.parametrize(("right", "wrong"), WRONG)
def test_no_error_has_a_hole_and_each_says_where_and_what_to_write(right: str, wrong: str) -> None:
    assert FILE.count(right) >= 1
    with pytest.raises(ReadingError) as stopped:
        read_design(FILE.replace(right, wrong, 1), "lamp.derate.yaml")
    assert stopped.value.problems
    for one, line in zip(stopped.value.problems, problem_lines(stopped.value.problems), strict=True):
        assert line.startswith(f"lamp.derate.yaml:{one.place.line}:{one.place.column}: error: ")
        assert not holes(line.replace("1e30", "").replace("nan", "").replace("inf V", "")), line  # what was written
        assert one.instead or len(stopped.value.problems) > 1, line
