"""What to find out next: every fact that a rule wanted and did not get, ranked by what knowing it would settle.

Ranked by trying: the fact is entered at its kind end, the design is worked through and judged again, and the verdicts
that come out of "not assessed" are counted, critical ones first. The value from which it would pass is found the same
way. Assumed facts come after, by how many verdicts differ between the two ends of what is assumed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import floor, inf, log10

from derate.judge.review import Finding
from derate.ledger.entry import OpenFact, Subject
from derate.study.trying import Bench, Fact, Key, Result, ends_of, known_term, ladder, shaped, word, words_of
from derate.terms.quantities import named
from derate.terms.values import Curve, Known, Value
from derate.terms.vocabulary import VOCABULARY, Term
from derate.terms.words import SEVERITIES

DIGITS = 3
_STEPS = 24


@dataclass(frozen=True, slots=True)
class Threshold:
    """From which value every verdict that the fact would settle passes: at least it, or (`down`) at most it."""

    number: float
    down: bool


@dataclass(frozen=True, slots=True)
class MissingFact:
    """One fact nobody gave.

    text: as findings name it; subject None and name '' where it is no fact of the vocabulary
    waiting: findings that name it; settles: findings that get a verdict once it is known, at its kind end
    kind: the value tried; threshold: from where all of these pass, None where there is no such figure
    words: the words with which all of these pass, for a fact that is a word
    """

    text: str
    subject: Subject | None
    name: str
    waiting: tuple[Finding, ...]
    settles: tuple[Finding, ...]
    kind: Known | None = None
    threshold: Threshold | None = None
    words: tuple[str, ...] = ()

    def settled(self, severity: str) -> int:
        """How many verdicts of a severity it would settle."""
        return sum(one.severity == severity for one in self.settles)


@dataclass(frozen=True, slots=True)
class AssumedFact:
    """One assumed fact: findings that a pass is held back from, and how many verdicts differ over its range."""

    text: str
    subject: Subject | None
    name: str
    held_back: tuple[Finding, ...]
    differ: tuple[Finding, ...]


def missing_facts(bench: Bench, thresholds: bool = True) -> tuple[MissingFact, ...]:
    """Every missing fact, the one that settles most first."""
    open_ones = [one for one in bench.base.review.findings if one.verdict == "not assessed" and one.missing]
    waiting: dict[OpenFact, list[Finding]] = {}
    for finding in open_ones:
        for fact in dict.fromkeys(finding.missing):
            waiting.setdefault(fact, []).append(finding)
    found = [_tried(bench, fact, tuple(findings), thresholds) for fact, findings in waiting.items()]
    return tuple(sorted(found, key=_rank))


def _rank(fact: MissingFact) -> tuple[object, ...]:
    counts = tuple(-fact.settled(severity) for severity in SEVERITIES)
    named = Counter(one.severity for one in fact.waiting)
    return (*counts, *(-named[severity] for severity in SEVERITIES), fact.text)


def _tried(bench: Bench, text: OpenFact, waiting: tuple[Finding, ...], thresholds: bool) -> MissingFact:
    name, subject = text.name, text.subject
    term = known_term(name)
    if term is None or subject is None:
        alone = tuple(one for one in waiting if set(one.missing) == {text})
        return MissingFact(text, subject if term else None, name if term else "", waiting, alone)
    fact = (subject, named(name))
    best: tuple[tuple[int, ...], Known, Result, tuple[Finding, ...]] | None = None
    for value in _values(bench, term):
        result = bench.attempt({fact: value})
        if result is None:
            continue
        settles = settled(bench, result)
        size = (
            *(sum(one.severity == severity for one in settles) for severity in SEVERITIES),
            _passing(result, settles),
        )
        if best is None or size > best[0]:
            best = size, value, result, settles
        if term.bad and best[3]:
            break
    if best is None or not best[3]:  # a reading, or something only the file can say: what waits for it alone
        settles = tuple(one for one in waiting if set(one.missing) == {text})
        return MissingFact(text, subject, name, waiting, settles)
    _, kind, result, settles = best
    keys = tuple((one.rule, one.pack, one.subject) for one in settles if _verdict(result, one) == "pass")
    if term.dimension is None:
        return MissingFact(text, subject, name, waiting, settles, kind, None, _words(bench, fact, term, keys, kind))
    threshold = _threshold(bench, fact, term, kind, result, keys) if thresholds and keys else None
    return MissingFact(text, subject, name, waiting, settles, kind, threshold)


def _values(bench: Bench, term: Term) -> Iterable[Known]:
    if term.dimension is None:
        return [word(one) for one in words_of(term, bench.work.packs)]
    return [shaped(term, number) for number in ladder(term)]


def settled(bench: Bench, result: Result) -> tuple[Finding, ...]:
    """Findings that were not assessed and now have a verdict (or do not apply)."""
    after = result.verdicts()
    before = bench.base.verdicts()
    return tuple(
        one
        for key, one in before.items()
        if one.verdict == "not assessed" and (key not in after or after[key].verdict != "not assessed")
    )


def _verdict(result: Result, finding: Finding) -> str:
    found = result.verdicts().get((finding.rule, finding.pack, finding.subject))
    return found.verdict if found is not None else "not applicable"


def _passing(result: Result, settles: Iterable[Finding]) -> int:
    return sum(_verdict(result, one) == "pass" for one in settles)


def _words(bench: Bench, fact: Fact, term: Term, keys: tuple[Key, ...], kind: Known) -> tuple[str, ...]:
    """The words with which everything passes that passes with the kind one."""
    if not keys:
        return ()
    good = []
    for value in _values(bench, term):
        result = bench.attempt({fact: value})
        after = result.verdicts() if result is not None else {}
        if all(key in after and after[key].verdict == "pass" for key in keys):
            good.append(str(value))
    return tuple(good)


def _threshold(
    bench: Bench, fact: Fact, term: Term, kind: Known, at_kind: Result, keys: tuple[Key, ...]
) -> Threshold | None:
    """The value nearest to failing at which all of these pass, at three digits on the passing side."""
    start = _number(kind)
    tried: dict[float, bool] = {start: True}

    def passes(number: float) -> bool:
        if number not in tried:
            result = bench.attempt({fact: shaped(term, number)})
            after = result.verdicts() if result is not None else {}
            tried[number] = all(key in after and after[key].verdict == "pass" for key in keys)
        return tried[number]

    down = term.bad > 0
    if term.bad == 0:
        return None  # neither end of it is the bad one by itself: no single figure tells
    low, high = (start, _far_end(term)) if down else (_far_end(term), start)
    if passes(high if down else low):
        return None  # it passes wherever it lies
    found = _bisected(passes, start, high if down else low, tuple(_guesses(at_kind, keys, start)))
    rounded = rounded_to(found, down)
    if not passes(rounded):
        return None
    return Threshold(rounded, down)


def _guesses(result: Result, keys: tuple[Key, ...], start: float) -> Iterable[float]:
    """Where the limit would be if it moved in step with the fact: the ratio of each finding says so."""
    after = result.verdicts()
    for key in keys:
        ratio = after[key].ratio
        if ratio is not None and 0.0 < ratio < inf and start > 0:
            yield start * ratio


def _bisected(passes: Callable[[float], bool], good: float, bad: float, guesses: tuple[float, ...]) -> float:
    """Narrow between a value that passes and one that does not; guesses first, as most limits are straight."""
    for guess in guesses:
        for number in (guess, guess * 1.002, guess / 1.002, guess * 1.06, guess / 1.06, guess * 1.3, guess / 1.3):
            if min(good, bad) < number < max(good, bad):
                if passes(number):
                    good = number
                else:
                    bad = number
    for _ in range(_STEPS):
        if abs(good - bad) <= 2e-4 * max(abs(good), abs(bad), 1e-12):
            break
        middle = (good * bad) ** 0.5 if good > 0 and bad > 0 else (good + bad) / 2
        if passes(middle):
            good = middle
        else:
            bad = middle
    return good


def rounded_to(number: float, down: bool) -> float:
    """Three digits, rounded to the side that passes."""
    if number == 0.0:
        return 0.0
    scale = 10.0 ** (floor(log10(abs(number))) - (DIGITS - 1))
    step = number / scale
    whole = floor(step + 1e-9) if down else -floor(-step + 1e-9)
    return float(f"{whole * scale:.{DIGITS}g}") if abs(whole) < 10**DIGITS else whole * scale


def _number(value: Known) -> float:
    if isinstance(value, Curve):
        return value.points[0][1].near
    assert isinstance(value, Value)
    return value.near


def _far_end(term: Term) -> float:
    low, high = ends_of(term)
    return high if term.bad > 0 else low


def assumed_facts(bench: Bench) -> tuple[AssumedFact, ...]:
    """Every assumed fact that a held-back pass rests on, by how far verdicts depend on it."""
    resting: dict[OpenFact, list[Finding]] = {}
    for finding in bench.base.review.findings:
        for text in finding.rests_on:
            resting.setdefault(text, []).append(finding)
    found = []
    for text, findings in resting.items():
        name, subject = text.name, text.subject
        held = tuple(one for one in findings if one.verdict == "not assessed")
        differ: tuple[Finding, ...] = ()
        known = VOCABULARY.get(name)
        if subject is not None and known is not None:
            row = bench.base.ledger.find(subject, named(name))
            if row is not None and isinstance(row.value, Value) and not row.value.is_exact:
                differ = _differing(bench, (subject, named(name)), row.value)
        found.append(AssumedFact(text, subject if known else None, name if known else "", held, differ))
    return tuple(sorted(found, key=lambda one: (-len(one.differ), -len(one.held_back), one.text)))


def _differing(bench: Bench, fact: Fact, value: Value) -> tuple[Finding, ...]:
    """Findings whose verdict is not the same at both ends of an assumed range."""
    ends = [end for end in (value.near, value.far) if abs(end) < inf]
    if len(ends) < 2:
        return ()
    one, other = (bench.tried({fact: Value.exact(end)}).verdicts() for end in ends)
    return tuple(
        finding
        for key, finding in bench.base.verdicts().items()
        if key in one and key in other and one[key].verdict != other[key].verdict
    )
