"""Every leaf of a design asked: is it heard, is it told as unused, is every move of it refused, or is it deaf?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from law_leaves import (
    BOTH_WAYS,
    FAR,
    RANK,
    Lab,
    Leaf,
    Move,
    changed,
    is_of_a_condition,
    key_of,
    leaves,
    moves,
    outcomes,
    worse,
    written_with,
)

from derate.judge.review import Finding, Review
from derate.terms.part_terms import LIMITS
from derate.terms.values import ReadingError

Word = Literal[
    "heard", "heard far off", "steers", "at its worst", "told", "refused", "nothing to move", "waits", "deaf"
]  # fmt: skip


# A resistor takes the greatest power where it is as large as what stands ahead of it: less of it takes less again.
# That is so of its own power and energy, and of nothing else.
WORST_INSIDE, OF_ITS_OWN = ("part.resistance",), ("W", "J")


class Answer(NamedTuple):
    """What became of one leaf.

    word: `heard`: a finding about it got worse; `heard far off`: past a hundred times alone, of what something uses;
    `steers`: another word of it makes other findings, and none worse; `at its worst`: it has no bad side that is named,
    and what it is moved to makes a finding about it better and none worse: of a figure whichever way it is moved, for
    one that is heard one way alone is deaf the other
    by: the rules that got worse; broken: where a longer step made less worse
    unheard: ways in which every move passed unheard, of a fact that is wrong either way; moved: of a deaf one, whether
    what is worked out behind a finding has another figure with it all the same
    """

    leaf: Leaf
    word: Word
    by: tuple[str, ...] = ()
    broken: str = ""
    unheard: tuple[str, ...] = ()
    moved: bool = False


def asked(lab: Lab, only: Iterable[Leaf] | None = None, steps: Iterable[float] | None = None) -> Iterator[Answer]:
    """Every leaf of a design, or those given, with the answer. steps: of those of `law_leaves.STEPS`, all by default"""
    wanted = None if steps is None else set(steps)
    for leaf in leaves(lab.bench.text) if only is None else only:
        yield _answer(lab, leaf, wanted)


def _answer(lab: Lab, leaf: Leaf, steps: set[float] | None) -> Answer:
    todo = _adverse(lab, leaf) if leaf.trail[0] == "tests" and leaf.trail[-1] == "result" else moves(leaf)
    tried = [one for one in todo if steps is None or one.step in steps or one.step == 1.0]
    told = lab.told(leaf)
    bettered: dict[str, bool] = {}
    # a word of a list, or a figure without a bad side: which of them is the worst only the findings tell
    open_sided = leaf.term is not None and (bool(leaf.term.words) or not leaf.term.bad) and leaf.trail[0] != "readings"
    if not tried:
        return Answer(leaf, "told" if told else "nothing to move")
    heard_by: dict[str, None] = {}
    refused, steers = 0, False
    ways: dict[str, bool] = {}
    last: dict[str, tuple[float, list[Finding]]] = {}
    broken = ""
    for move in tried:
        try:
            after = lab.tried(written_with(lab.bench.text, leaf, move.texts), leaf.trail[:1])
        except ReadingError:
            refused += 1
            continue
        found = lab.about(leaf, worse(lab.review, after))
        heard_by |= dict.fromkeys(one.rule for one in found)
        if open_sided:
            bettered[move.way] = bettered.get(move.way, False) or bool(lab.about(leaf, worse(after, lab.review)))
        steers = steers or (move.step == 1.0 or is_of_a_condition(leaf.trail)) and changed(lab.review, after)
        ways[move.way] = ways.get(move.way, False) or bool(found)
        # Where something was read is no size of it: at ten times the mains it is a reading that disagrees.
        apart = is_of_a_condition(leaf.trail) and any(one.subject.kind == "reading" for one in found)
        if move.way in last and not apart:
            broken = broken or _milder(monotone(leaf, last[move.way]), move, after)
        last[move.way] = move.step, found
    if heard_by:
        either = leaf.term is not None and leaf.term.name in BOTH_WAYS
        unheard = tuple(way for way, is_heard in ways.items() if not is_heard) if either else ()
        return Answer(leaf, "heard", tuple(heard_by), broken, unheard)
    if steers:
        return Answer(leaf, "steers")
    is_word = leaf.term is not None and bool(leaf.term.words)
    if any(bettered.values()) and (is_word or all(bettered.values())):
        return Answer(leaf, "at its worst")
    if refused == len(tried):
        return Answer(leaf, "told" if told else "refused")
    if not told and (far := _far_off(lab, leaf)):
        return Answer(leaf, "heard far off", far)
    if told or lab.waits(leaf):
        return Answer(leaf, "told" if told else "waits")
    return Answer(leaf, "deaf", moved=_moves_something(lab, leaf, tried))


def _moves_something(lab: Lab, leaf: Leaf, tried: Iterable[Move]) -> bool:
    for move in tried:
        try:
            after = lab.tried(written_with(lab.bench.text, leaf, move.texts), leaf.trail[:1])
        except ReadingError:
            continue
        if lab.moved(after):
            return True
    return False


def _far_off(lab: Lab, leaf: Leaf) -> tuple[str, ...]:
    """Rules that a leaf makes worse past a hundred times, where it led to a finding that came to a word."""
    if leaf.term is None or leaf.trail[0] in ("readings", "tests") or leaf.term.name in LIMITS:
        return ()
    if not any(one.verdict != "not applicable" for one in lab.led_to(leaf)):
        return ()
    for move in moves(leaf, FAR):
        try:
            after = lab.tried(written_with(lab.bench.text, leaf, move.texts), leaf.trail[:1])
        except ReadingError:
            continue
        if found := lab.about(leaf, worse(lab.review, after)):
            return tuple(dict.fromkeys(one.rule for one in found))
    return ()


def _adverse(lab: Lab, leaf: Leaf) -> tuple[Move, ...]:
    """Each adverse outcome of the test it stands in."""
    test = next(one.texts[0][1] for one in leaves(lab.bench.text) if one.trail == (*leaf.trail[:-1], "test"))
    return tuple(Move(word, 1.0, (word,)) for word in outcomes(test))


def monotone(leaf: Leaf, before: tuple[float, list[Finding]]) -> tuple[float, list[Finding]]:
    """Without the findings that may be worst inside the range: power and energy of the very resistor that is moved."""
    step, found = before
    if leaf.term is None or leaf.term.name not in WORST_INSIDE:
        return before
    parts = set(leaf.trail[1].split(", "))
    return step, [one for one in found if not (one.unit in OF_ITS_OWN and parts & set(one.subject.names))]


def _milder(before: tuple[float, list[Finding]], move: Move, after: Review) -> str:
    """A finding that a shorter step made fail and that holds at a longer one; '' where there is none."""
    step, found = before
    now = {key_of(one): one for one in after.findings}
    for one in found:
        then = now.get(key_of(one))
        if one.verdict == "fail" and then is not None and RANK[then.verdict] < RANK["not assessed"]:
            return f"{one.rule} on {one.subject} fails at {step:g} and is {then.verdict} at {move.step:g} ({move.way})"
    return ""
