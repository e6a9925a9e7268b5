"""What to find out next: every fact that a rule wanted and did not get, ranked by what knowing it would settle.

Ranked by what waits for it, fire and shock first; then by trying: the fact is entered at its kind end, the design is
worked through and judged again, and the verdicts that come out of "not assessed" are counted. The value from which it
would pass is found the same way, where somebody asks. What nobody described (a barrier, the transformer) stands among
the facts. Assumed facts come after, by how many verdicts differ between the two ends of what is assumed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from math import floor, inf, log10

from derate.design.sheet import DesignText
from derate.judge.review import Finding, most_wanted
from derate.ledger.entry import SUPPLY, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.study.paste import SLOT, described, lines_for
from derate.study.trying import Bench, Fact, Key, Result, ends_of, key_of, known_term, ladder, shaped, word, words_of
from derate.terms.frozen import frozen, replace
from derate.terms.quantities import named
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.vocabulary import VOCABULARY, Term
from derate.terms.words import SEVERITIES, WAIVABLE

DIGITS = 3
_STEPS = 24
FIRST = 10  # facts that are tried where somebody asks for the first ones only
LEADING = 3  # facts that lint names as what to act on first
_WORDS = 4  # words of one fact tried then
_NUMBERS = 2  # numbers of one: the middle of what a small supply has settles most, another seldom more


@frozen
class Threshold:
    """From which value every verdict that the fact would settle passes: at least it, or (`down`) at most it."""

    number: float
    down: bool


@frozen
class MissingFact:
    """One fact nobody gave.

    text: as findings name it; subject None and name '' where it is no fact of the vocabulary
    waiting: findings that name it; settles: findings that get a verdict once it is known, at its kind end
    kind: the value tried; threshold: from where all of these pass, None where there is no such figure
    words: the words with which all of these pass, for a fact that is a word
    how: how it is got, where the vocabulary does not say; paste: the lines of the file under which it goes
    lacks: what was written is not enough, and why: the note of the row that has it
    """

    text: str
    subject: Subject | None
    name: str
    waiting: tuple[Finding, ...]
    settles: tuple[Finding, ...]
    kind: Known | None = None
    threshold: Threshold | None = None
    words: tuple[str, ...] = ()
    how: str = ""
    paste: tuple[str, ...] = ()
    lacks: str = ""

    def settled(self, severity: str) -> int:
        """How many verdicts of a severity it would settle."""
        return sum(one.severity == severity for one in self.settles)


@frozen
class AssumedFact:
    """One assumed fact: findings that a pass is held back from, and how many verdicts differ over its range."""

    text: str
    subject: Subject | None
    name: str
    held_back: tuple[Finding, ...]
    differ: tuple[Finding, ...]


def missing_facts(bench: Bench, thresholds: bool = True, first: int | None = None) -> tuple[MissingFact, ...]:
    """Every missing fact and everything nobody described, what settles most of fire and shock first.

    Ahead of all stand the few that `derate lint` names as what to find first: both lists begin alike.
    first: only so many are tried, those that most findings wait for, and stand first; None tries every one. Where the
    work that the bench allows is spent, those that are left stand as what waits for them alone
    """
    open_ones = [one for one in bench.base.review.findings if one.verdict == "not assessed"]
    waiting: dict[OpenFact, list[Finding]] = {}
    undescribed: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in open_ones:
        for fact in _wanted(finding):
            waiting.setdefault(fact, []).append(finding)
        if thing := _undescribed(bench, finding):
            undescribed.setdefault(thing, []).append(finding)
    found = [MissingFact(fact, *_known(fact), tuple(own), _alone(fact, own)) for fact, own in waiting.items()]
    topology = topology_word(bench.base.ledger)
    found += [_describe(*thing, own, topology) for thing, own in undescribed.items()]
    leads = {text: number for number, (text, _) in enumerate(most_wanted(open_ones)[:LEADING])}
    found.sort(key=lambda one: (leads.get(one.text, LEADING), _by_waiting(one)))
    tried = [_tried(bench, one, thresholds, first is None) for one in found[:first]]
    tried.sort(key=lambda one: (leads.get(one.text, LEADING), _rank(one)))
    ranked = [*tried, *(found[first:] if first is not None else ())]
    return _joined(_with_lines(bench, one) for one in ranked)


def _joined(facts: Iterable[MissingFact]) -> tuple[MissingFact, ...]:
    """Facts that go under the very same lines as one thing to do, told with the first of them: a test, say."""
    found: dict[tuple[str, ...], MissingFact] = {}
    for number, one in enumerate(facts):
        whole = sum(SLOT in line for line in one.paste) > 1 or one.paste[:1] == ("site:",)
        whole = whole or one.paste[:1] == ("parts:",) and "," in one.paste[1]  # parts alike, which stand under one key
        mark = one.paste if whole else (str(number),)
        first = found.get(mark)
        if first is None:
            found[mark] = one
            continue
        waiting, settles = (
            tuple({key_of(each): each for each in (*before, *more)}.values())
            for before, more in ((first.waiting, one.waiting), (first.settles, one.settles))
        )
        found[mark] = replace(first, waiting=waiting, settles=settles)
    return tuple(found.values())


def as_the_file_has_them(facts: Iterable[MissingFact], text: str, written_out: bool = True) -> tuple[MissingFact, ...]:
    """The facts with the lines of a part as they fit into the file: under its key, which parts alike have in common.

    A part that stands on one line is written out as the block that takes its place, with the slot in it.
    text: of the design file; written_out: where lines stand below each other; on one line only the key is told
    """
    file = DesignText(text)
    return _joined(replace(one, paste=_fitted(one.paste, file, written_out)) for one in facts)


def _fitted(lines: tuple[str, ...], file: DesignText, written_out: bool) -> tuple[str, ...]:
    if lines[:1] != ("parts:",) or len(lines) < 3 or not lines[1].endswith(":"):
        return lines
    name, own = lines[1].strip(" :"), lines[2:]
    key = file.spelled(("parts", name))[1]
    seed = file.anchor(("parts", name, "kind"))[1].seed
    if not seed or not written_out:
        return (lines[0], f"  {key}:", *own)
    rated = own[1:] if own[0] == "    rated:" else ()
    above = () if rated else own
    asked = {line.strip().partition(":")[0] for line in (*above, *rated)}
    said = [(one.path, one.text) for one in seed if one.path[-1] not in asked]
    block = [f"    {path[0]}: {words}" for path, words in said if len(path) == 1]
    under = [f"      {path[1]}: {words}" for path, words in said if len(path) > 1]
    under += rated
    head = f"  {key}:  # in place of its line"
    return (lines[0], head, *block, *above, *(("    rated:", *under) if under else ()))


def _wanted(finding: Finding) -> tuple[OpenFact, ...]:
    """The facts a finding waits for; those it would rest on where nothing else holds it back."""
    return tuple(dict.fromkeys(finding.missing or finding.rests_on))


def _known(text: OpenFact) -> tuple[Subject | None, str]:
    term = known_term(text.name)
    return (text.subject, text.name) if term is not None and text.subject is not None else (None, "")


def _alone(text: OpenFact, waiting: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(one for one in waiting if set(_wanted(one)) == {text})


def _undescribed(bench: Bench, finding: Finding) -> tuple[str, str, str] | None:
    """What a rule found none of: what it says then, what the rule is about, the role it asks for; None otherwise."""
    rule = bench.work.packs.rule(finding.rule)
    if rule is None or not rule.at_least_one or finding.subject != SUPPLY or rule.about == "supply":
        return None
    if finding.missing or finding.rests_on or finding.stress is not None:
        return None
    role = next((one.words[0] for one in rule.applies if one.name == "barrier.role" and one.words), "")
    return rule.at_least_one, rule.about, role


def topology_word(ledger: Ledger) -> str:
    """The topology as the file says it, '' where it is open."""
    row = ledger.find(SUPPLY, "supply.topology")
    return row.value.word or "" if row is not None and isinstance(row.value, Category) else ""


def _describe(text: str, about: str, role: str, waiting: list[Finding], topology: str) -> MissingFact:
    how = next((one.remedy for one in waiting if one.remedy), "")
    return MissingFact(text, None, "", tuple(waiting), tuple(waiting), how=how, paste=described(about, role, topology))


def _by_waiting(fact: MissingFact) -> tuple[object, ...]:
    """By what waits for it, each finding shared among the facts it waits for: fire and shock first, by severity."""
    shares: Counter[tuple[bool, str]] = Counter()
    for one in fact.waiting:
        shares[one.hazard in WAIVABLE, one.severity] += 1000 // max(1, len(_wanted(one)))
    grave = ((hazard, severity) for severity in SEVERITIES for hazard in (True, False))
    return (*(-shares[one] for one in grave), fact.text)


def _rank(fact: MissingFact) -> tuple[object, ...]:
    fire_and_shock = -sum(one.severity == "critical" and one.hazard in WAIVABLE for one in fact.settles)
    counts = tuple(-fact.settled(severity) for severity in SEVERITIES)
    return (fire_and_shock, *counts, *_by_waiting(fact))


def _with_lines(bench: Bench, fact: MissingFact) -> MissingFact:
    """The fact with the lines of the file under which it goes."""
    subject, name = fact.subject, fact.name
    if not name and isinstance(fact.text, OpenFact):  # of a fact that is there in part what is lacking
        subject, name = fact.text.subject, fact.text.quantity
    if fact.paste or not name or subject is None:
        return fact
    part = Subject("part", subject.names) if subject.kind == "bridge" else subject
    row = bench.base.ledger.find(part, "part.kind") if part.kind == "part" else None
    kind = str(row.value) if row is not None and isinstance(row.value, Category) else ""
    there = bench.base.ledger.find(subject, named(name)) if name in VOCABULARY else None
    how = fact.how
    if not fact.name and not (
        name in VOCABULARY and VOCABULARY[name].how
    ):  # what nobody gave words to: as is told there
        how = how or next((one.remedy for one in fact.waiting if one.remedy), "")
    lacks = there.note if there is not None and there.value is not None and there.formula else ""
    return replace(fact, paste=lines_for(name, subject, kind, topology_word(bench.base.ledger)), how=how, lacks=lacks)


def _tried(bench: Bench, fact: MissingFact, thresholds: bool, every: bool) -> MissingFact:
    """The fact with what it settles, found by entering it. every: each of its values is tried, not the first few."""
    term = known_term(fact.name)
    if term is None or fact.subject is None or bench.allowance.over:
        return fact
    key = (fact.subject, named(fact.name))
    most = None if every else _WORDS if term.dimension is None else _NUMBERS
    best: tuple[tuple[int, ...], Known, Result, tuple[Finding, ...]] | None = None
    for value in list(_values(bench, term))[:most]:
        if bench.allowance.over:
            break
        result = bench.attempt({key: value})
        if result is None:
            continue
        settles = settled(bench, result)
        size = (
            *(sum(one.severity == severity for one in settles) for severity in SEVERITIES),
            _passing(result, settles),
        )
        if best is None or size > best[0]:
            best = size, value, result, settles
        if best[3] and (term.bad or (most is not None and _passing(best[2], best[3]) == len(best[3]))):
            break
    if best is None or not best[3]:  # a reading, or something only the file can say: what waits for it alone
        return fact
    _, kind, result, settles = best
    keys = tuple((one.rule, one.pack, one.subject) for one in settles if _verdict(result, one) == "pass")
    if term.dimension is None:
        words = _words(bench, key, term, keys, kind) if thresholds else ()
        return replace(fact, settles=settles, kind=kind, words=words)
    threshold = _threshold(bench, key, term, kind, result, keys) if thresholds and keys else None
    return replace(fact, settles=settles, kind=kind, threshold=threshold)


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
