"""What every shipped rule, a profile's too, says of a figure in each form in which it can be known."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from math import inf

import pytest
from documents import ROOT
from test_sentences import holes, texts_of

from derate.cli.main import main
from derate.judge import trials as judged
from derate.judge.review import Finding
from derate.packs.load import Packs, load_packs
from derate.packs.load import shipped as lies
from derate.packs.pack import Rule, facts_of
from derate.packs.trial import GivenFact, Trial
from derate.report.rule_page import page_lines
from derate.study.trying import ends_of
from derate.terms.instructions import beside
from derate.terms.values import Category, Known, Place, Value
from derate.terms.vocabulary import VOCABULARY, Term

# No diode recovers later: with the ends of any time at all its product with a frequency is no figure of a supply.
RECOVERY = (1e-9, 1e-4)
# Slips of a sentence put together from pieces, beside the holes of a figure.
SLIPS = re.compile(
    r"  |^ | $"
    r"| [,;:.)](?: |$)|\( |\(\)|[,;:(][,;:.)]|[,;:]$"
    r"|\b([a-z]{2,}) \1\b"
    r"|(?:the|be|over|under|to|for|at) (?:without bound|at least|at most|no upper limit|no lower limit)\b|the anything"
    r"|(?:anything|without bound|no upper limit|no lower limit) or (?:more|less)"
    r"|\blimit limit\b|needed needed|allowed allowed|has yet to be found\)? (?:or|and) (?:more|less)"
    r"|(?:above|than|under|by) (?:a figure|more than|less than)"
)


def slips(text: str) -> str:
    """The first hole or slip of a text, with what stands around it; '' where it has none."""
    found = SLIPS.search(text)
    return holes(text) or (text[max(0, found.start() - 60) : found.end() + 60] if found else "")


@cache
def shipped_rules() -> tuple[tuple[Rule, Packs], ...]:
    """Every rule of every shipped pack, those of the profiles too, with the packs it is judged with."""
    found = []
    for path in sorted(lies("rules").rglob("*.yaml")):
        packs = load_packs([str(path)])
        own = {head.name for head in packs.heads if head.path == str(path)}
        found += [(rule, packs) for rule in packs.rules if rule.pack in own]
    return tuple(found)


def forms_of(term: Term) -> dict[str, Known | None]:
    """A fact in every form in which it can be known, by the name of the form; None where nobody knows it."""
    if term.dimension is None:
        told = dict.fromkeys((*term.words[:1], "none", "unmarked"))
        return {name: Category.of(*told) for name in FORMS} | {
            "exact": Category.of((*term.words, "something else")[0]),
            "zero": Category.of("none"),
            "unknown": None,
        }
    least, most = RECOVERY if term.name == "rated.recovery_time" else ends_of(term)
    low, middle, high = (least + (most - least) * share for share in (0.02, 0.3, 0.9))
    return {
        "exact": Value.exact(middle),
        "range": Value.between(low, high),
        "tolerance": Value.spread(middle, low, high),
        "range with tolerance": Value(least, low, high, most),
        "at most": Value(-inf, -inf, high, high),
        "from nothing": Value.between(0.0, high),
        "at least": Value.floor(middle),
        "anything": Value(-inf, -inf, inf, inf),
        "zero": Value.exact(0.0),
        "very small": Value.exact(least),
        "very large": Value.exact(most),
        "word": Category.of("unmarked"),
        "unknown": None,
    }


FORMS = (
    "exact", "range", "tolerance", "range with tolerance", "at most", "from nothing", "at least", "anything", "zero",
    "very small", "very large", "word", "unknown",
)
# Each form against a plain figure and the reverse, and what fails or passes as bluntly as can be.
PAIRED = (
    *((one, "exact") for one in FORMS),
    *(("exact", one) for one in FORMS),
    ("very small", "very large"), ("very large", "very small"), ("range", "range with tolerance"),
    ("at least", "very small"), ("very small", "at least"), ("at most", "very large"), ("very large", "at most"),
    ("anything", "anything"), ("zero", "zero"), ("very large", "zero"), ("zero", "very large"),
)


def in_every_form(rule: Rule, packs: Packs) -> Iterator[Finding]:
    """The findings of a rule over every form of what it compares: the first name in one form, the others in another."""
    own = {one.name for one in rule.applies}
    names = [one for one in facts_of(rule.shape) if one in VOCABULARY and one not in own]
    forms = {name: forms_of(VOCABULARY[name]) for name in names}
    for number, (first, others) in enumerate(PAIRED):
        facts = {
            name: GivenFact(forms[name][others if place else first], assumed=number % 2 == 1)
            for place, name in enumerate(names)
        }
        trial = Trial(rule.name, facts, (), {}, "pass", None, "", Place("a.derate.yaml"))
        made = judged._finding(trial, rule, packs)
        if made is not None:
            yield made


@pytest.mark.parametrize("part", range(4))
def test_no_finding_in_any_form_has_a_slip(part: int) -> None:
    found = [one for rule, packs in shipped_rules()[part::4] for one in in_every_form(rule, packs)]
    assert {one.verdict for one in found} >= {"fail", "pass", "marginal", "not assessed"}
    assert any("rated for a figure that has yet to be found" in one.remedy for one in found)
    texts = {text: one.rule for one in found for text in texts_of(one)}
    wrong = {told: rule for text, rule in texts.items() if (told := slips(text))}
    assert not wrong, [f"{rule}: {told}" for told, rule in list(wrong.items())[:8]]


@pytest.mark.parametrize("part", range(2))
def test_no_page_of_a_shipped_rule_has_a_slip(part: int) -> None:
    wrong = {}
    for rule, _ in shipped_rules()[part::2]:
        told = slips("\n".join(line[14:].strip() or "-" for line in page_lines(rule, (), 100)))
        if told:
            wrong[rule.name] = told
    assert not wrong, list(wrong.items())[:8]


def test_no_term_and_no_way_to_find_it_has_a_slip() -> None:
    wrong = {
        name: told
        for name, term in VOCABULARY.items()
        for text in (term.says, str(term.how), beside(term.how, term.how.does) if term.how else "")
        if text and (told := slips(text))
    }
    assert not wrong, list(wrong.items())[:8]


@pytest.mark.parametrize(
    "text",
    [
        "over the at most 5 V allowed", "within the at least 30 kV allowed", "for at least 3 A or more",
        "what it is is", "a  b", "needs ; find", "close to the anything needed", "rated no upper limit or more",
        "over () allowed",
        "rated for a figure that has yet to be found or more",
        "above more than 3 A", "more than 3 A (how much has yet to be found) and more",
    ],
)
def test_the_slips_are_seen(text: str) -> None:
    assert slips(f"a sentence: {text}, and on")


# One of each topology and the poor one; what a whole page says of a design is cut at line ends and columns of spaces.
DESIGNS = ("market-stall-lamp", "tea-warmer", "pond-lantern", "beehive-scale", "porch-bell")


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("command", ["faults", "insulation", "report --format markdown"])
def test_no_output_on_a_shipped_design_has_a_slip(
    command: str, name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert main([*command.split(), f"designs/{name}/{name}.derate.yaml"]) in (0, 1)
    lines = capsys.readouterr().out.split("\n")
    assert len(lines) > 5
    wrong = [told for line in lines if (told := slips(re.sub(" {2,}", " ", line).strip().rstrip(":,")))]
    assert not wrong, wrong[:5]
