"""No command tells a person a quantity by its name in the ledger: words, or keys as the file spells them."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest
from brute_force import BRUTE_FORCE
from documents import ROOT
from test_sentences_of_every_form import shipped_rules

from derate.cli.main import main
from derate.ledger.entry import SUPPLY, OpenFact, Subject
from derate.report.rule_page import page_lines
from derate.report.words import fact_words
from derate.terms.vocabulary import STEPS, VOCABULARY, said

NAMES = sorted((one for one in (*VOCABULARY, *STEPS) if "." in one or "_" in one), key=len, reverse=True)
LEDGER = re.compile(rf"(?<![\w./-])(?:{'|'.join(map(re.escape, NAMES))})(?![\w/-]|\.\w)")
DESIGNS = sorted((ROOT / "designs").glob("*/*.derate.yaml"))
# Every command that speaks in sentences; `stress` and `archive` take the names that they print.
COMMANDS = ("lint", "lint --all", "insulation", "faults", "report --format summary", "report --format markdown")
EVERY = [(command, path) for command in COMMANDS for path in DESIGNS]
CHOSEN = EVERY if BRUTE_FORCE else random.Random(15).sample(EVERY, 6)


def named(text: str) -> str:
    """The first dotted name of a text, or one joined by underscores that is no key of the file; '' without any."""
    for line in text.split("\n"):
        if ": unused: " in line:  # quotes the file, key by key
            continue
        for found in LEDGER.finditer(line):
            if "." in found[0]:
                return line[max(0, found.start() - 60) : found.end() + 30]
    return ""


@pytest.mark.parametrize(("command", "path"), CHOSEN, ids=lambda one: one.stem if isinstance(one, Path) else one)
def test_no_output_names_a_row_of_the_ledger(command: str, path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*command.split(), str(path.relative_to(ROOT))]) in (0, 1)
    out = capsys.readouterr().out
    assert len(out) > 500 and not named(out)


@pytest.fixture(autouse=True)
def _in_the_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def test_no_page_of_a_rule_names_a_row_of_the_ledger() -> None:
    wrong = {}
    for rule, _ in shipped_rules():
        lines = [line for line in page_lines(rule, (), 300) if not line.strip().startswith("set in")]
        if told := named("\n".join(lines)):
            wrong[rule.name] = told
    assert not wrong, list(wrong.items())[:5]


def test_a_fact_is_told_in_words_whole_or_in_part() -> None:
    part = Subject("part", ("C1",))
    assert OpenFact(part, "rated.voltage").in_words == "rated voltage (C1)"
    assert OpenFact(SUPPLY, "site.altitude").in_words == VOCABULARY["site.altitude"].says
    assert OpenFact(part, "rated.voltage", "with its frequency").in_words == "rated voltage with its frequency (C1)"
    assert OpenFact(None, "a part of 0.5 W").in_words == "a part of 0.5 W"
    assert said("table.fuse_share") == "fuse share" and said("circuit.line").startswith("path of the mains")
    facts = (OpenFact(part, "found.creepage", "twice"), OpenFact(Subject("part", ("C2",)), "rated.voltage"))
    assert fact_words(facts) == (f"{said('found.creepage')} twice (C1)", "rated voltage (C2)")
    assert named("needs T1: found.creepage") and named("site.ambient, and") and not named("state ambient under site")
