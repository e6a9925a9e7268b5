"""What every command says of every design, as a person reads it and as JSON: nothing that nobody should have to read.

Where the other files of sentences hold every rule in every form, here whole outputs are held: each command that speaks,
on every design that is shipped and those of the tests. An ordinary run takes a drawn share of them, brute force all.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from brute_force import BRUTE_FORCE
from documents import ROOT
from test_names_of_the_ledger import named
from test_sentences import holes

from derate.cli.main import main
from derate.packs.load import load_packs
from derate.packs.load import shipped as lies
from derate.report.rule_page import asks

DESIGNS = sorted([*(ROOT / "designs").glob("*/*.derate.yaml"), *(ROOT / "tests/data/designs").glob("*.derate.yaml")])
# How much of each command an ordinary run takes: what costs little more often than what tries a design through.
COMMANDS = {
    "lint --all": 2, "missing": 2, "missing --all": 1, "headroom": 1, "faults": 2, "insulation": 2, "stress": 1,
    "lint --all --format json": 1, "headroom --format json": 1, "report --format markdown": 1,
}  # fmt: skip
EVERY = [(command, path) for command in COMMANDS for path in DESIGNS]
_DRAWN = random.Random(20261129)
CHOSEN = (
    EVERY
    if BRUTE_FORCE
    else [(one, path) for one, count in COMMANDS.items() for path in _DRAWN.sample(DESIGNS, count)]
)
# Names of the design, of rules and of files may hold anything; a figure may not.
# An integer of so many digits that nobody counts them; a published report has its own number.
_LONG = re.compile(r"(?<!report )(?<![\w.,:/#-])\d{7,}(?! \d{3}\b)(?![.,:/-]?\w)")
_KEYED = re.compile(r"\b(?:part\.place|circuit\.\w+|rated\.\w+|found\.\w+|needed\.\w+|allowed\.\w+)\b")
# A figure at the end of a comparison without its unit: `needs at least 0.003,`. Counts have none: `2 of 6`, `x 1.5`.
_BARE = re.compile(
    r"\b(?:found|needed|needs at least|needs at most|limit|as read) (?:up to |at least |at most |under )?"
    r"\d+(?:\.\d+)?(?: to \d+(?:\.\d+)?)?(?=[,;:)]|\.(?:\s|$)|$)"
)
# Rules and quantities whose figures are plain numbers: of turns, of layers, of digits of a grade, shares and factors.
_NUMBERS = re.compile(
    r"turns|layers|share|ratio|factor|number|transfer|gain|sensitiv|degree|parts? with|times|switch-ons|index|over the"
    r"|efficiency|agreement|dut(?:y|ies)|breakdown|kept|growth"
)


def kinds(line: str) -> str:
    """The first kind of slip that a line has, with what stands around it; '' of a line that reads well."""
    told = holes(line) or named(line)
    if told:
        return told
    for kind in (_LONG, _KEYED, _BARE):
        found = kind.search(line)
        if found is not None and not (kind is _BARE and _NUMBERS.search(line)):
            return line[max(0, found.start() - 70) : found.end() + 40]
    return ""


def said_in(document: Any) -> Iterator[str]:
    """Every sentence of a JSON document: texts with a blank, but for what is quoted from the file."""
    if isinstance(document, dict):
        for key, value in document.items():
            if key not in ("path", "text", "subject", "missing", "rests_on", "key", "trace", "file"):
                yield from said_in(value)
    elif isinstance(document, list):
        for value in document:
            yield from said_in(value)
    elif isinstance(document, str) and document.count(" ") > 1:
        yield document


@pytest.fixture(autouse=True)
def _in_the_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize(("command", "path"), CHOSEN, ids=lambda one: one.stem if isinstance(one, Path) else one)
def test_nothing_that_is_said_is_of_a_kind_nobody_should_read(
    command: str, path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command.split(), str(path.relative_to(ROOT)), *_of(command)]) in (0, 1)
    out = capsys.readouterr().out
    assert len(out) > 300
    lines = list(said_in(json.loads(out))) if "json" in command else out.split("\n")
    if command == "stress":  # the table takes the names of the ledger, and says so
        wrong = [told for line in lines if (told := holes(line))]
    else:
        wrong = [told for line in lines if ": unused: " not in line and (told := kinds(line))]
    assert not wrong, wrong[:8]


def _of(command: str) -> list[str]:
    return ["--today", "2026-11-29"] if command.startswith("lint") else []


EVERY_RULE = load_packs([str(one) for one in sorted(lies("rules").glob("*.yaml"))]).rules
RULES = sorted({rule.name for rule in EVERY_RULE})
SHOWN = RULES if BRUTE_FORCE else _DRAWN.sample(RULES, 8)


@pytest.mark.parametrize("rule", SHOWN)
def test_nothing_that_explain_says_is_either(rule: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", rule]) == 0
    for line in capsys.readouterr().out.split("\n"):
        assert not holes(line) and not _LONG.search(line), line


def test_what_a_rule_asks_is_no_broken_sentence() -> None:
    """`solder blobs is not there`, `whether it is stated is there`: what is asked stands behind a colon."""
    assert len(EVERY_RULE) > 400
    for rule in EVERY_RULE:
        words = asks(rule.shape)
        assert not re.search(r"\bis (?:not )?(?:there|yes|no|found)\b", words), words


def test_compare_says_nothing_of_these_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    folder = ROOT / "designs" / "greenhouse-vent"
    both = [str(folder / f"greenhouse-vent{end}.derate.yaml") for end in ("", "-revision-b")]
    assert main(["compare", *both]) in (0, 1)
    wrong = [told for line in capsys.readouterr().out.split("\n") if (told := kinds(line))]
    assert not wrong, wrong[:5]


@pytest.mark.parametrize(
    "text",
    [
        "I²t 1.74e+08 A²s", "at least no upper limit", "turns_ratio is inf", "on  is not used", "fit {worst} or more",
        "needs part.place of C1", "T1: rated.voltage", "breaks 26400000 A", "found 0.5 to 0.7, needs at least 3 mm",
        "gap: found 5, needed 3 mm", "the limit 450; as read 2 V",
    ],
)  # fmt: skip
def test_each_kind_is_seen(text: str) -> None:
    assert kinds(f"a sentence: {text}")


@pytest.mark.parametrize(
    "text",
    ["2 of 6 looked at", "found 5 mm, needed 3 mm", "turns ratio: found 6, needed 5", "entry 386", "C1: 1000 uF 25 V"],
)
def test_what_reads_well_is_left_alone(text: str) -> None:
    assert not kinds(text)
