"""The blocking law over every leaf: one that says less than it did opens nothing, and nothing stops applying for it.

Every leaf of every design is said to be unknown, is written as a wider range, a kind as a vaguer one; so is every leaf
of the designs that fail by one reading or one test, and pairs of leaves at once. Held are the findings, the words of
the hazards, the exit status, and that no result turns into one that does not apply.

    pytest tests/law --brute-force     every leaf in every way; without it a share, the same everywhere
"""

from __future__ import annotations

import gc
import random
from collections.abc import Callable, Iterator, Sequence
from functools import cache

import pytest
from brute_force import BRUTE_FORCE
from law_bench import EVERY, Base, Bench, Opened, opened, taken, vanished
from law_failing import failing
from law_leaves import Leaf, leaves, losses, written_with
from law_memory import remembered
from law_rows import TWO_ENDS

from derate.judge.review import Review
from derate.terms.values import ReadingError
from derate.terms.vocabulary import said
from derate.terms.words import SHOWN

Loss = tuple[Leaf, str, tuple[str, ...]]  # a leaf, in which way it says less, its texts then
FAILING = {one.name: one for one in failing()}


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    """Solvers remember what they gave, and the collector leaves the packs alone."""
    gc.freeze()
    with remembered():
        yield


@cache
def _base(bench: Bench) -> Base:
    return Base(bench)


def _losses(bench: Bench) -> list[Loss]:
    """Every way in which every leaf may say less. A range that is no doubt is not one the wider it is."""
    return [
        (leaf, how, new)
        for leaf in leaves(bench.text)
        for how, new in losses(leaf)
        if not (how.startswith("wider") and leaf.term is not None and leaf.term.name in TWO_ENDS)
        if not (
            leaf.trail[0] == "known_by" and leaf.trail[1] != "readings" and leaf.texts[0][1] == "assumed"
        )  # which confesses, and no more without it
    ]


def _opened(base: Base, lost: Sequence[Loss]) -> list[Opened]:
    """What leaves that say less open, nothing where the file is refused; later leaves are written first."""
    text = base.bench.text
    for leaf, _, new in sorted(lost, key=lambda one: one[0].texts[0][0], reverse=True):
        text = written_with(text, leaf, new)
    try:
        after = base.tried(text, {leaf.trail[0] for leaf, _, _ in lost})
    except ReadingError:
        return []
    found = [*opened(base.review, after), *vanished(base.review, after)]
    stated = _accuracies_stated(lost)
    found = [one for one in found if not (one.rule and _waited_for_accuracy(base.review, after, one, stated))]
    if base.review.blocks and not after.blocks:
        found.append(Opened("", "", "blocked, and blocks no more"))
    return found


def _accuracies_stated(lost: Sequence[Loss]) -> set[str]:
    """What findings rest on where a bare figure of a reading is written as a range.

    A bare figure says nothing of its instrument, and a pack's assumption stands in. The range is no lesser statement of
    the same: it is the first one of how exactly was read, and the assumption is gone.
    """
    return {
        f"uncertainty of the {said(str(leaf.trail[2]))} read"
        for leaf, how, _ in lost
        if leaf.trail[0] == "readings" and how.startswith("wider")
        if not any("%" in text or ".." in text for _, text in leaf.texts)
    }


def _waited_for_accuracy(before: Review, after: Review, one: Opened, stated: set[str]) -> bool:
    """Whether a finding stopped for want of nothing but such a statement, and is judged by it now."""
    was, now = (
        [its for its in review.findings if (its.rule, str(its.subject)) == (one.rule, one.subject)]
        for review in (before, after)
    )
    if not (len(was) == len(now) == 1 and was[0].verdict == "not assessed" and now[0].verdict in SHOWN):
        return False
    return set() < set(was[0].rests_on) <= stated and not was[0].missing and not now[0].rests_on


def _held(bench: Bench, one_in: int) -> tuple[int, list[str]]:
    every = _losses(bench)
    tried = taken(len(every), one_in, f"losses of {bench.name}")
    base, broken = _base(bench), []
    for number in tried:
        if found := _opened(base, [every[number]]):
            leaf, how, _ = every[number]
            broken.append(f"{bench.name}, {leaf.name} {how}: {'; '.join(map(str, found[:3]))}")
    return len(tried), broken


@pytest.mark.parametrize("name", list(EVERY))
def test_a_leaf_that_says_less_opens_nothing(name: str, record_property: Callable[[str, object], None]) -> None:
    count, broken = _held(Bench.of(name), 24)
    record_property("law", ("blocking law", {"leaves that say less": count}))
    assert count > 0 and broken == []


@pytest.mark.parametrize("name", list(FAILING))
def test_what_fails_by_one_entry_fails_whatever_else_says_less(
    name: str, record_property: Callable[[str, object], None]
) -> None:
    """All of the sound design around it, and the entry itself."""
    bench = FAILING[name]
    assert _base(bench).review.blocks
    count, broken = _held(bench, 400)
    record_property("law", ("blocking law", {"leaves that say less beside one entry that fails": count}))
    assert count > 0 and broken == []


@pytest.mark.parametrize("name", [*EVERY, *list(FAILING)[::6]])
def test_two_leaves_that_say_less_open_nothing(name: str, record_property: Callable[[str, object], None]) -> None:
    bench = FAILING[name] if name in FAILING else Bench.of(name)
    every = _losses(bench)
    drawn = random.Random(f"pairs of {name}")
    pairs = [drawn.sample(every, 2) for _ in range(150 if BRUTE_FORCE else 2)]
    pairs = [pair for pair in pairs if pair[0][0].trail != pair[1][0].trail]
    base, broken = _base(bench), []
    for pair in pairs:
        if found := _opened(base, pair):
            told = " and ".join(f"{leaf.name} {how}" for leaf, how, _ in pair)
            broken.append(f"{bench.name}, {told}: {'; '.join(map(str, found[:3]))}")
    record_property("law", ("blocking law", {"pairs of leaves that say less": len(pairs)}))
    assert broken == []
