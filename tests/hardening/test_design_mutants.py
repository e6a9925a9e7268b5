"""A share of the mutants that `tools/design_mutants.py` makes: no error but ours, no NaN, the same bytes again."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import brute_force
import design_mutants
import pytest

from derate.packs import compiled

SEED = 14
SHARE = range(60)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where mutants are tried, with the packs as data."""
    monkeypatch.setattr(compiled, "stored_at", compiled.stored_at)  # put back afterwards
    monkeypatch.chdir(tmp_path)
    design_mutants.prepared(tmp_path)
    return tmp_path


def test_a_share_of_them_twice_and_under_other_hashes(bench: Path) -> None:
    numbers = range(600) if brute_force.BRUTE_FORCE else SHARE
    found = [design_mutants.trial(design_mutants.mutant(SEED, number)) for number in numbers]
    compiled.forget()
    assert [one for one in found if one.wrong] == []
    statuses = Counter(one.status for one in found)
    assert min(statuses[status] for status in (0, 1, 2)) >= len(numbers) // 12, statuses  # they go deep enough
    command = [sys.executable, design_mutants.__file__, "--worker", "--seed", str(SEED), "--count", str(len(numbers))]
    environment = {**os.environ, "PYTHONHASHSEED": "7"}
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=True)
    again = [design_mutants.Trial(*json.loads(line)) for line in done.stdout.splitlines()]
    assert [one.digest for one in again] == [one.digest for one in found]


@pytest.mark.parametrize(
    ("status", "out", "err", "said"),
    [
        (0, "all well\n", "", ""),
        (2, "", "mutant.derate.yaml:3:1: error: wrong; write right\n", ""),
        (0, "{}", "x.yaml: The gate here is softer than the shipped one:\nx.yaml: softer: family: 60335-1\n", ""),
        (3, "", "", "exit status 3"),
        (2, "", "", "without a word"),
        (2, "", "derate stopped: something that should not happen did (KeyError: 'x')\n", "should not happen"),
        (2, "", "x.yaml:1:1: error: this design could not be worked through (KeyError: 1)\n", "worked through"),
        (1, "", "Traceback (most recent call last):\n", "Traceback"),
        (1, "voltage nan V\n", "", "NaN"),
        (1, '{"x": NaN}', "", "NaN"),
        (1, '{"x": Infinity}', "", "no JSON"),
        (0, "", "a stray line\n", "standard error says"),
    ],
)
def test_what_a_trial_sees(status: int, out: str, err: str, said: str) -> None:
    command = ("lint", "{}", "--format", "json") if out.startswith("{") else ("lint", "{}")
    wrong = design_mutants.wrong_with(design_mutants.Mutant(1, "a: 1\n", False, command), status, out, err)
    assert (said in wrong) if said else wrong == ""


def test_a_mutant_is_made_from_its_number_alone() -> None:
    """And each command gets its share of them."""
    one, again, other = (design_mutants.mutant(SEED, number) for number in (5, 5, 6))
    assert one == again and one.text != other.text
    first = [design_mutants.mutant(SEED, number, slow=True) for number in range(400)]
    every = {*design_mutants.COMMANDS, *design_mutants.SLOW, *design_mutants.ON_PACKS}
    assert {each.command for each in first} == every
