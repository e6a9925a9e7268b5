"""Of a design of which everything is assumed no critical rule holds but by what is written down at all.

Each step that makes a row of a fact hands on that somebody only assumed it. One that does not lets a critical rule pass
on nothing; here it is seen whichever rule and whichever step that is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from brute_force import share
from law_bench import EVERY, Bench, every_pack, trial_texts
from law_memory import remembered

from derate.judge.heard import heard
from derate.judge.review import Review
from derate.packs.pack import Presence
from derate.terms.words import HOLDS

BLOCKS = ("parts", "rated", "circuit", "transformers", "barriers", "readings", "supply", "site", "inspection")
SAID = re.compile(r" \((?:measured|counted|marked|seen|data sheet|drawing|stated)(?:;[^()]*)?\)")
# A retest is no more than its first outcome, and one that was assumed is none: the file is refused. A revision says
# nothing by itself.
REFUSED = ("every key", "revision")


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    with remembered():
        yield


def assumed(text: str) -> str:
    """The text with every value assumed."""
    bare = re.sub(r"known_by: (measured|seen)\b", "known_by: assumed", SAID.sub("", text))
    bare = re.sub(r"(?m)^known_by:.*\n(?:  \{.*\}.*\n)?", "", bare)
    return f"{bare.rstrip()}\nknown_by: {{{', '.join(f'{one}: assumed' for one in BLOCKS)}}}\n"


def held_on_nothing(review: Review) -> list[str]:
    """Critical rules that hold by a row that somebody assumed."""
    written = {rule.name for rule in every_pack().rules if isinstance(rule.shape, Presence)}
    found = []
    for one in review.findings:
        if one.severity != "critical" or one.verdict not in HOLDS or one.rule in written:
            continue
        rows = [review.ledger[number] for number in heard(review.ledger, [one])]
        by = sorted(f"{row.subject}: {row.quantity}" for row in rows if row.known_by == "assumed")
        if by:
            found.append(f"{one.rule} on {one.subject} by {', '.join(by[:3])}")
    return found


@pytest.mark.parametrize("name", [name for name in EVERY if name not in REFUSED])
def test_no_critical_rule_holds_by_what_is_assumed(name: str) -> None:
    bench = Bench.of(name)
    review = bench.review(assumed(bench.text))
    assert review is not None and review.blocks
    assert held_on_nothing(review) == []


def test_nor_in_a_small_design_of_the_trials() -> None:
    tried = 0
    for bench in trial_texts()[:: share(8)]:
        review = bench.review(assumed(bench.text), every_pack())
        if review is not None:
            tried += 1
            assert held_on_nothing(review) == [], bench.name
    assert tried > 5
