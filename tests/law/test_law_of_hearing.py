"""The law of hearing: what is written is heard, or told as unused with a reason.

Every leaf of a design is moved to its bad side, by 5 % and by 30 %, twofold, tenfold and a hundredfold, to both sides
where its term calls none bad. At least one finding about what the leaf speaks of, in a hazard that the leaf led to,
gets worse, or `derate lint --all` lists the leaf with its reason. A move that is refused as implausible is no hearing.
What a longer move makes worse, a shorter one does not make worse than that.

    pytest tests/law --brute-force     every leaf of every design, each step; without it a share and two steps
"""

from __future__ import annotations

import gc
import random
from collections import Counter
from collections.abc import Callable, Iterator
from fnmatch import fnmatchcase
from functools import cache

import pytest
from brute_force import BRUTE_FORCE, share
from law_bench import EVERY, Bench, opened, taken, vanished
from law_hearing import Answer, asked, monotone
from law_leaves import Lab, Leaf, key_of, leaves, moves, outcomes, scaled, written_with
from law_memory import remembered

from derate.terms.dimension import CELSIUS
from derate.terms.part_terms import LIMITS
from derate.terms.values import ReadingError, Value
from derate.terms.vocabulary import VOCABULARY

# Leaves that no move makes worse although something uses them, each with its reason. The list only ever gets shorter,
# and the reason is not taken at its word: something that is worked out behind a finding has another figure with them.
MOVED_IN_VAIN: dict[str, str] = {
    "readings.*.at.*": "says which computation the reading is held against, and it agrees there too",
    "conditions.*": "says which computation a reading is held against, and it agrees there too",
    "circuit.control.type": "chooses which computation there is",
    "barriers.*.board.material_group": "creepage is no less than clearance, which asks for more here",
}
# Of those, the ones with which nothing has another figure either, each with its reason.
MOVES_NOTHING: dict[str, str] = {
    "readings.*.at.ambient": "no temperature was read there, or shorted, which is carried to no other ambient",
    "conditions.*.ambient": "no temperature was read there, or shorted, which is carried to no other ambient",
    "readings.*.at.after": "on the way up what was read is at least that; however long, it betters if anything",
    "circuit.control.type": "the converter could not be worked out: its findings wait for other facts",
}
# Facts that are wrong either way, heard one way only: which way, and why nothing says so.
ONE_WAY: dict[str, str] = {}
STEPS = None if BRUTE_FORCE else (1.3, 10.0)


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    """Solvers remember what they gave."""
    gc.freeze()
    with remembered():
        yield


@cache
def _lab(name: str) -> Lab:
    return Lab(Bench.of(name))


def _excused(lab: Lab, answer: Answer) -> bool:
    leaf = answer.leaf
    if not any(fnmatchcase(leaf.name, pattern) for pattern in MOVED_IN_VAIN):
        return False
    if answer.moved:
        return True
    if not any(fnmatchcase(leaf.name, pattern) for pattern in MOVES_NOTHING):
        return False
    return leaf.trail[-1] != "ambient" or not _is_warm(lab, leaf)


def _is_warm(lab: Lab, leaf: Leaf) -> bool:
    """Whether a temperature that is carried was read at the condition that a leaf is of: not of what was shorted."""
    own = (lab.design.conditions[leaf.trail[1]],) if leaf.trail[0] == "conditions" else ()
    lines = {line for one in lab.leaves if one.trail[:2] == leaf.trail[:2] for line, _ in one.lines}
    return any(
        VOCABULARY[one.quantity].dimension == CELSIUS
        for one in lab.design.readings
        if (one.condition in own or one.stated.place.line in lines)
        and (one.condition is None or one.condition.load != "shorted")
    )


@pytest.mark.parametrize("name", list(EVERY))
def test_every_leaf_is_heard_or_told(name: str, record_property: Callable[[str, object], None]) -> None:
    lab = _lab(name)
    deaf, counts = [], Counter[str]()
    for answer in asked(lab, [lab.leaves[number] for number in taken(len(lab.leaves), 30, f"leaves of {name}")], STEPS):
        counts[answer.word] += 1
        if answer.word == "deaf" and not _excused(lab, answer):
            deaf.append(f"{name}, {answer.leaf.name}: {answer.leaf.texts[0][1]}")
        if answer.broken:
            deaf.append(f"{name}, {answer.leaf.name}: {answer.broken}")
    record_property("law", ("law of hearing", dict(counts)))
    assert len(lab.leaves) > 10 and deaf == []


def _of_one_kind(lab: Lab) -> list[tuple[Leaf, Leaf]]:
    """Every two ratings, readings, distances or results of one kind: worse in one of them is not made up by another."""
    kinds: dict[tuple[str, ...], list[Leaf]] = {}
    for leaf in lab.leaves:
        block, last = leaf.trail[0], leaf.trail[-1]
        if block == "parts" and leaf.term is not None and leaf.term.name in LIMITS:
            kinds.setdefault((block, last), []).append(leaf)
        elif block == "readings" and "at" not in leaf.trail and len(leaf.trail) > 2:
            kinds.setdefault((block, leaf.trail[2]), []).append(leaf)
        elif block == "barriers" and last in ("clearance", "creepage"):
            kinds.setdefault((block, last), []).append(leaf)
    return [(one, other) for of in kinds.values() for place, one in enumerate(of) for other in of[place + 1 :]]


@pytest.mark.parametrize("name", ["sound", "lamp driver", "every key"])
def test_two_facts_of_one_kind_are_heard_alone_and_both(
    name: str, record_property: Callable[[str, object], None]
) -> None:
    """What one of them makes fail or leaves open is so with both."""
    lab = _lab(name)
    pairs = _of_one_kind(lab)
    drawn = random.Random(f"two of a kind in {name}").sample(pairs, min(len(pairs), 200 if BRUTE_FORCE else 3))
    quiet = []
    for one, other in drawn:
        first, second = (
            next((move for move in reversed(moves(leaf)) if move.step == 2.0), None) for leaf in (one, other)
        )
        if first is None or second is None:
            continue
        both = written_with(lab.bench.text, other, second.texts)
        both = written_with(both, one, first.texts)
        try:
            together = lab.tried(both, (one.trail[0],))
            alone = [
                lab.tried(written_with(lab.bench.text, leaf, move.texts), leaf.trail[:1])
                for leaf, move in ((one, first), (other, second))
            ]
        except ReadingError:
            continue
        for review in alone:
            quiet += [f"{one.name} and {other.name}: {lost}" for lost in opened(review, together)]
    record_property("law", ("law of hearing", {"pairs of one kind": len(drawn)}))
    assert pairs and quiet == []


def test_the_list_of_what_is_moved_in_vain_only_gets_shorter() -> None:
    assert len(MOVED_IN_VAIN) <= 4 and all(MOVED_IN_VAIN.values())
    assert len(MOVES_NOTHING) <= 4 and all(MOVES_NOTHING.values())


def test_only_its_own_power_and_energy_may_be_worst_inside_the_range_of_a_resistance() -> None:
    """What else of it, or of another part, holds at a longer step than the one that made it fail is told."""
    lab = _lab("sound")
    leaf = next(one for one in lab.leaves if one.name == "parts.RF1.resistance")
    own = [one for one in lab.review.findings if one.subject.names == ("RF1",) and one.ratio is not None]
    others = [one for one in lab.review.findings if one.unit == "W" and "RF1" not in one.subject.names]
    assert {"W", "J"} <= {one.unit for one in own} and len({one.unit for one in own}) > 2 and others
    _, left = monotone(leaf, (2.0, [*own, *others]))
    assert left == [*(one for one in own if one.unit not in ("W", "J")), *others]
    other = next(one for one in lab.leaves if one.name.endswith("rated.voltage"))
    assert monotone(other, (2.0, own))[1] == own


def test_a_creepage_of_the_next_row_goes_only_where_as_much_is_asked_for() -> None:
    base = _lab("sound").review
    creepage = next(one for one in base.findings if one.rule == "barrier-creepage" and one.limit is not None)
    assert creepage.limit is not None
    row = creepage._replace(rule="creepage-of-next-row", limit=Value.exact(creepage.limit.high * 1.2))
    before = base._replace(findings=(creepage, row))
    for times, goes in ((1.0, False), (1.1, False), (1.2, True), (1.5, True)):
        asks = creepage._replace(limit=Value.exact(creepage.limit.high * times))
        left = base._replace(findings=(asks, row._replace(verdict="not applicable")))
        assert (vanished(before, left) == []) == goes, times


@pytest.mark.parametrize("name", ["sound", "poor"])
def test_a_replayed_version_is_judged_like_a_fresh_one(name: str) -> None:
    """What is replayed must never hide that a leaf was heard."""
    lab = _lab(name)
    for leaf in list(leaves(lab.bench.text))[share(4) - 1 :: share(61)]:
        for move in moves(leaf)[:1]:
            text = written_with(lab.bench.text, leaf, move.texts)
            try:
                quick, fresh = lab.tried(text, leaf.trail[:1]), lab.afresh(text)
            except ReadingError:
                continue
            words = [{key_of(one): (one.verdict, one.ratio) for one in review.findings} for review in (quick, fresh)]
            assert words[0] == words[1], leaf.name


def test_a_figure_is_moved_as_a_person_would_write_it() -> None:
    assert scaled("20..26 K (measured; beside C1)", 2.0) == "40..52 K (measured; beside C1)"
    assert scaled("0.31 A at 120 Hz", 10.0) == "3.1 A at 120 Hz"
    assert scaled("6.8 ohm 5%", 0.5) == "3.4 ohm 5%"
    assert scaled("66..70%", 0.5) == "33..35%"
    assert scaled("electrolytic capacitor 22 uF 20% 50 V", 2.0, 1) == "electrolytic capacitor 22 uF 20% 100 V"
    assert scaled("held", 2.0) is None and "broke down" in outcomes("electric strength")


@pytest.mark.parametrize(
    "said, instead",
    [
        ("main: {voltage: 12 V,", "main: {voltage: 1200 V,"),
        ("voltage: {main: 11.94 V}", "voltage: {main: 0.1194 V}"),
        ("inductance: 750 uH 7%", "inductance: 7.5 uH 7%"),
        ("leakage: 15 uH", "leakage: 1500 uH"),
    ],
)  # fmt: skip
def test_a_figure_far_off_is_judged_or_refused_and_is_no_fault_of_the_program(said: str, instead: str) -> None:
    bench = _lab("sound").bench
    assert said in bench.text
    after = _lab("sound").tried(bench.text.replace(said, instead, 1), ("transformers",))
    assert any(one.verdict in ("fail", "not assessed") and one.severity != "minor" for one in after.findings)
