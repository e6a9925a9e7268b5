"""Findings in the order in which somebody should read them: the gate, what to act on first, what waits."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest
from math import inf

from derate import __version__
from derate.judge.heard import OWN
from derate.judge.review import Acknowledgement, Finding, Gate, HazardWord, Less, Review, Unused, Used
from derate.ledger.entry import OpenFact
from derate.report.words import clipped, fact_words, listed, number_of, plain, sides, times
from derate.terms.frozen import frozen
from derate.terms.instructions import NO_INSTRUCTION, Does, Instruction, given, holds_back, page_cautions
from derate.terms.tuples import NamedTuple
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import ATTENTION, HAZARDS, LEVELS, SEVERITIES, VERDICTS, Hazard, Severity

# Findings in the order in which somebody should read them: what to act on first, what waits, what stands below.


# Findings put in the order in which somebody should read them, the unknowns gathered. Shared by the screen formats.
#
# Nothing is judged here: which findings block and what the verdicts are stands in the review.


class Gathered(NamedTuple):
    """Findings of one hazard that are not assessed because facts are missing."""

    findings: tuple[Finding, ...]
    facts: tuple[OpenFact, ...]  # names of the facts, those that most findings wait for first

    @property
    def blocking(self) -> int:
        """How many of them block."""
        return sum(finding.blocks for finding in self.findings)


class Group(NamedTuple):
    """One hazard: its overall word, the findings shown one by one, those gathered, those that need no reading."""

    hazard: Hazard
    word: HazardWord | None
    shown: tuple[Finding, ...]
    gathered: Gathered | None
    quiet: tuple[Finding, ...]

    @property
    def blocking(self) -> int:
        """How many findings of this hazard block."""
        return sum(finding.blocks for finding in self.shown) + (self.gathered.blocking if self.gathered else 0)


def groups(review: Review, verbose: bool = False) -> tuple[Group, ...]:
    """The hazards of a review, those with something that blocks first; verbose shows every finding one by one."""
    words = {word.hazard: word for word in review.hazards}
    made = []
    for hazard in HAZARDS:
        findings = sorted((one for one in review.findings if one.hazard == hazard), key=_first)
        if not findings and hazard not in words:
            continue
        waiting, quiet, shown = [], [], []
        for one in findings:
            if _waits(one) and not verbose and not one.known:
                waiting.append(one)
            elif (one.verdict in ("pass", "not applicable") or one.known) and not one.blocks:
                quiet.append(one)
            else:
                shown.append(one)
        if verbose:
            shown += quiet
        gathered = Gathered(tuple(waiting), wanted(waiting)) if waiting else None
        made.append(Group(hazard, words.get(hazard), tuple(shown), gathered, tuple(quiet)))
    return tuple(sorted(made, key=lambda group: (not group.blocking, HAZARDS.index(group.hazard))))


def _waits(finding: Finding) -> bool:
    """A range that is too wide has its two figures to show, and what somebody signed for has its reason."""
    waits = finding.verdict == "not assessed" and bool(finding.missing)
    return waits and finding.stress is None and finding.acknowledgement is None


def _first(finding: Finding) -> tuple[bool, bool, int, int]:
    """Sort key: blocking, then not held back, then by verdict and severity; ties stay in the order of the review."""
    severity = SEVERITIES.index(finding.severity)
    return not finding.blocks, finding.known, VERDICTS.index(finding.verdict), severity


def wanted(findings: Iterable[Finding]) -> tuple[OpenFact, ...]:
    """Names of the missing facts, those that most findings wait for first, critical findings before the others."""
    weight: Counter[OpenFact] = Counter()
    for finding in findings:
        for fact in dict.fromkeys(finding.missing):
            weight[fact] += 3 - SEVERITIES.index(finding.severity)
    return tuple(fact for fact, _ in sorted(weight.items(), key=lambda pair: (-pair[1], pair[0])))


def gathered_words(gathered: Gathered, path: str, most: int = 4) -> str:
    """One sentence for all of them, with where the whole list is."""
    count = number_of(len(gathered.findings), "finding")
    every = len(gathered.findings)
    how_many = "blocking" if every == 1 else "all blocking" if gathered.blocking == every else ""
    blocking = f", {how_many or f'{gathered.blocking} of them blocking'}," if gathered.blocking else ""
    wait = "waits" if every == 1 else "wait"
    facts = f"{number_of(len(gathered.facts), 'fact')}: {listed(fact_words(gathered.facts), most)}"
    return f"{count}{blocking} {wait} for {facts}. How to get each: derate missing {path}"


def body(finding: Finding, rests: bool = True) -> str:
    """The message without its subject and its source, where both are shown beside it; and without what it rests on,
    where that is shown as well."""
    told = finding.told
    if told is None:
        return finding.message
    return f"{told.lead}{told.what}{told.rests if rests else ''}"


def reason(finding: Finding) -> str:
    """Why it cannot be judged or does not apply, without saying again that it does not."""
    return finding.told.what if finding.told is not None else finding.message


def acknowledged(review: Review, kind: str) -> int:
    """How many findings a waiver or an open point attaches to and counts."""
    return sum(
        finding.acknowledgement is not None
        and finding.acknowledgement.kind == kind
        and not finding.acknowledgement.expired
        for finding in review.findings
    )


# The facts that findings wait for: which, how many findings wait, how somebody gets them. Most wanted first.
#
# Counted, not tried: what each fact would settle is for `derate missing`, which works the design through again for
# each.


@frozen
class Wanted:
    """One fact: whose, its name in the vocabulary ('' when it is none), and the findings that wait for it."""

    subject: str
    name: str
    text: str
    findings: tuple[Finding, ...]
    not_powered: str = ""  # why steps that need power are withheld

    @property
    def blocking(self) -> int:
        """How many of them block."""
        return sum(finding.blocks for finding in self.findings)

    @property
    def how(self) -> str:
        """How a person gets it, with its caution, or why it is withheld; empty when nobody wrote that down."""
        how = self._how
        return given(how, how.does, self.not_powered)

    @property
    def does(self) -> tuple[Does, ...]:
        """What getting it does to sample and person; nothing where it is withheld."""
        return () if self.not_powered and holds_back(self._how.does) else self._how.does

    @property
    def _how(self) -> Instruction:
        return VOCABULARY[self.name].how if self.name else NO_INSTRUCTION


def wanted_facts(review: Review) -> tuple[Wanted, ...]:
    """Every fact that a finding which is not assessed names, the most wanted first."""
    open_ones = [one for one in review.findings if one.verdict == "not assessed" and one.missing]
    made = []
    for fact in wanted(open_ones):
        known = fact.name in VOCABULARY
        waiting = tuple(one for one in open_ones if fact in one.missing)
        whose = str(fact.subject) if fact.subject is not None else ""
        made.append(Wanted(whose if known else "", fact.name if known else "", fact, waiting, review.not_powered))
    return tuple(made)


def cautions(review: Review) -> tuple[str, ...]:
    """The cautions that stand once on a page: those of every page, those of what it asks for."""
    every: set[Does] = {"opened", "destructive", "high voltage", "fault", "design"}
    every.update(word for one in review.findings if not one.withheld for word in one.does)
    every.update(word for one in wanted_facts(review) for word in one.does)
    held = (f"This sample is not to be powered: {plain(review.not_powered)}.",) if review.not_powered else ()
    return (*held, ALWAYS[0], *page_cautions(every), *ALWAYS[1:])


ALWAYS = (
    "Mains voltage can kill. Do not work live and do not work alone.",
    "The bulk capacitor stays charged after unplugging: discharge it and measure before touching anything.",
    "The findings judge the facts entered for one sample. They are no certificate of it or of any other.",
    "Local codes, current standards and licensed or accredited people decide.",
)


# What to act on first: a few things, each with its hazard, severity, ratio and reason.
#
# What fails comes before what is not assessed, severe before less severe; within a severity the worst finding of each
# hazard comes before the second of any, so that a long list under one hazard does not hide the next one. Findings of
# one rule are one thing. Only what blocks is named, unless nothing does: then what keeps a hazard from a pass. What
# nobody has looked at counts as one thing a hazard.


@frozen
class First:
    """One thing to act on.

    findings: what it gathers, the worst first; ratio: in words, '' when nothing is compared
    """

    hazard: Hazard
    severity: Severity
    verdict: str
    subject: str
    what: str
    ratio: str
    reason: str
    remedy: str
    findings: tuple[Finding, ...]

    @property
    def word(self) -> str:
        """The verdict, and whether somebody signed for all of it."""
        said = [one.acknowledgement for one in self.findings]
        signed = all(one is not None and not one.expired for one in said)
        if signed:
            return f"{self.verdict}, {'waived' if self.verdict == 'fail' else 'an open point'}"
        return f"{self.verdict}, held back" if all(one.known for one in self.findings) else self.verdict


def act_first(review: Review, most: int = 3) -> tuple[First, ...]:
    """The first things to act on, at most so many."""
    things: list[First] = []
    blocking = review.blocks
    counted = [one for one in review.findings if (one.blocks or not blocking) and one.verdict in ATTENTION]
    for severity in SEVERITIES:
        own = [one for one in counted if one.severity == severity]
        things += _failing([one for one in own if one.verdict == "fail"])
        things += _unknown([one for one in own if one.verdict == "not assessed"], severity)
        things += _failing([one for one in own if one.verdict == "marginal"])
    return tuple(sorted(things, key=lambda one: ATTENTION.index(one.verdict))[:most])


def _failing(findings: Iterable[Finding]) -> list[First]:
    by_hazard: list[list[First]] = []
    for hazard in HAZARDS:
        own = [one for one in findings if one.hazard == hazard]
        own.sort(key=lambda one: (-(one.ratio if one.ratio is not None else inf), one.rule, one.subject))
        alike: dict[str, list[Finding]] = {}
        for one in own:
            alike.setdefault(one.rule, []).append(one)
        by_hazard.append([_thing(tuple(found)) for found in alike.values()])
    return [one for row in zip_longest(*by_hazard) for one in row if one is not None]


def sentence(text: str) -> str:
    """A text with a capital at its beginning and a full stop at its end, where it begins with a plain small word."""
    text = text.strip()
    if not text:
        return ""
    first = text.partition(" ")[0]
    begun = text[0].upper() + text[1:] if first.isalpha() and first.islower() else text
    return begun if begun.endswith((".", "!", "?", ":")) else begun + "."


def _thing(findings: tuple[Finding, ...]) -> First:
    worst = findings[0]
    ratio = ""
    if worst.ratio is not None and worst.stress is not None and worst.limit is not None:
        ratio = f"ratio {times(worst.ratio, sides(worst.stress, worst.limit, worst.ratio).second)}"
    return First(
        worst.hazard,
        worst.severity,
        worst.verdict,
        listed((plain(str(one.subject)) for one in findings), 3),
        worst.rule,
        ratio,
        sentence(body(worst)),
        sentence(worst.remedy),
        findings,
    )


def _unknown(findings: Sequence[Finding], severity: Severity) -> list[First]:
    things = []
    for hazard in HAZARDS:
        own = tuple(one for one in findings if one.hazard == hazard)
        if own:
            things.append(_gap(hazard, severity, own))
    return things


def _gap(hazard: Hazard, severity: Severity, own: tuple[Finding, ...]) -> First:
    facts = fact_words(wanted(own))
    count = number_of(len(own), f"{severity} finding")
    waits = "waits" if len(own) == 1 else "wait"
    if facts:
        waiting = f"{count} {waits} for {number_of(len(facts), 'fact')}: {listed(facts, 3)}."
    else:
        waiting = f"{count} cannot be judged: {reason(own[0]).removesuffix('.')}."
    verdict = "not assessed" if any(one.verdict == "not assessed" for one in own) else own[0].verdict
    remedy = "Find these facts first: derate missing tells how." if facts else sentence(own[0].remedy)
    rules = tuple(dict.fromkeys(one.rule for one in own))
    return First(hazard, severity, verdict, hazard, listed(rules, 2), "", waiting, remedy, own)


# What stands below the findings in the formats for people and pipes: counts, what was accepted, packs, version.


def accepted_words(review: Review) -> str:
    """Waivers, open points and held-back findings counted; empty when there are none."""
    waived, open_points, held = acknowledged(review, "waiver"), acknowledged(review, "open point"), review.held_back
    parts = []
    if waived:
        parts.append(number_of(waived, "waiver"))
    if open_points:
        parts.append(number_of(open_points, "open point"))
    if held:
        parts.append(f"{number_of(held, 'known finding')} held back")
    return ", ".join(parts)


def acknowledgement_words(said: Acknowledgement) -> str:
    """`waived up to 1.3 times until 2027-06-30 by lead engineer: reason`."""
    how = "waived" if said.kind == "waiver" else "open point"
    if said.up_to is not None:
        how += f" up to {said.up_to:.4g} times"
    until = f"until {plain(said.last_day)}" if not said.expired else f"until {plain(said.last_day)}, which has expired"
    return f"{how} {until} by {plain(said.by)}: {plain(said.reason)}"


def blocking_words(reviews: tuple[Review, ...], unread: bool) -> str:
    """How many findings block, over all designs. unread: something could not be read, which is told elsewhere."""
    count = sum(finding.blocks for review in reviews for finding in review.findings)
    said = f"{number_of(count, 'finding')} {'blocks' if count == 1 else 'block'}" if count else "Nothing blocks"
    levels = sorted({review.gate.level for review in reviews}, key=LEVELS.index)
    if levels and levels != ["default"]:
        said += f" at level {' and '.join(levels)}"
    if unread:
        return f"{said} in what could be read; something could not be read: exit status 2."
    return f"{said}: exit status {1 if count else 0}."


def hazard_list(words: Iterable[HazardWord]) -> str:
    """`fire fail (rule-name), shock pass`."""
    said = [f"{word.hazard} {word.word}" + (f" ({plain(word.why)})" if word.why else "") for word in words]
    return ", ".join(said) or "no rule looked"


def family_lines(review: Review) -> Iterator[str]:
    """One line for each insulation family, when packs of several are loaded."""
    for family in review.families:
        yield f"in {plain(family.family)}: {family.word}: {hazard_list(family.hazards)}"


def placed_notes(review: Review) -> Iterator[tuple[str, str]]:
    """The notes of a review, each with where it belongs: a place of the file, or the file."""
    path = plain(review.path)
    for note in review.notes:
        place = re.match(r"(.+?:\d+:\d+): ", plain(note))
        if place is not None:
            yield place[1], plain(note)[place.end() :]
        else:
            yield path, plain(note)


# What a design was judged by, in words: the line of packs and level, and by what the gate is softer, one line each.
#
# Shared by every format. An empty answer means that the gate is the shipped one.


SOFTER = "The gate here is softer than the shipped one"
_DIGITS = 12  # of a digest, where a reader compares by eye
_LONGEST = 240  # columns of one line
_EACH = 12  # lines of one kind; what is left out is counted, and stands at its finding


def unused_words(review: Review) -> str:
    """How many facts of the file nothing used; '' for none."""
    count = sum(one.is_fact for one in review.unused)
    return f"{number_of(count, 'fact')} used by nothing" if count else ""


def unused_line(one: Unused) -> str:
    """One leaf that nothing used: its keys, what it says, the reason."""
    said = plain(one.said)
    return f"{plain(one.name)}{f': {said}' if said else ''}; {plain(one.reason)}"


def used_words(review: Review) -> str:
    """Version, level and packs, as every text names them."""
    return gate_words(review.gate, review.packs)


def gate_words(gate: Gate, names: Sequence[str] = ()) -> str:
    """The same of a gate; names: of the packs, where the gate holds none."""
    packs = packs_words(gate.packs) or ", ".join(map(plain, names)) or "none"
    libraries = f"; libraries of parts: {', '.join(map(_library, gate.libraries))}" if gate.libraries else ""
    return f"derate {__version__}; level: {_level_of(gate)}; rule packs: {packs}{libraries}"


def packs_words(packs: Sequence[Used]) -> str:
    """Packs in one line, each with whether it is shipped and the start of its digest."""
    return ", ".join(map(_pack, packs))


_OF_VERDICTS = ("level", "setting", "waiver", "open point", "known findings")  # no figure and no word moves with them


class BehindFigures(NamedTuple):
    """What a command that does not judge says of its gate: at its top what is softer, and one line of what was used."""

    top: tuple[str, ...]
    used: str

    def at_top(self) -> tuple[str, ...]:
        """What stands ahead of the figures: nothing at the shipped packs, whose line stands at the foot."""
        return (*self.top, self.used) if self.top else ()


def gate_cells(gate: Gate) -> tuple[str, str]:
    """A gate in two cells: the level and how much of each kind is softer; the packs with the start of their digests."""
    counts = Counter(one.kind for one in gate.softer)
    softer = (
        f"softer than shipped: {listed((f'{kind} ({count})' for kind, count in counts.items()), 12)}" if counts else ""
    )
    used = (*gate.packs, *gate.libraries)
    packs = (f"{plain(one.name)} {one.digest[:_DIGITS]}{'' if one.shipped else ' house'}" for one in used)
    return f"level {_level_of(gate)}; {softer or 'as shipped'}", "; ".join(packs)


def gate_lines(path: str, gate: Gate) -> BehindFigures:
    """By what the packs behind figures are softer, and which they were. The top is empty at the shipped packs."""
    shown = plain(path)
    softer = _softer_lines(tuple(one for one in gate.softer if one.kind not in _OF_VERDICTS))
    head = (f"{shown}: {SOFTER}:", *(f"{shown}: softer: {line}" for line in softer)) if softer else ()
    return BehindFigures(head, f"{shown}: {gate_words(gate)}")


def level_words(review: Review) -> str:
    """What stops the exit status, and who says so."""
    return _level_of(review.gate)


def _level_of(gate: Gate) -> str:
    return f"{gate.level} ({plain(gate.level_from)})" if gate.level_from else gate.level


def pack_words(pack: Used) -> str:
    """Whether a pack is shipped, and where it was found."""
    if pack.shipped:
        return f"shipped, from {plain(pack.where)}" if pack.where else "shipped"
    return f"house pack, {plain(pack.where)}" if pack.where else "house pack"


def library_words(library: Used) -> str:
    """Whether a library of parts is shipped, and where it was found."""
    return "shipped" if library.shipped else f"of this repository, {plain(library.where)}"


def _library(library: Used) -> str:
    return f"{plain(library.name)} ({library_words(library)}, {library.digest[:_DIGITS]})"


def _pack(pack: Used) -> str:
    return f"{plain(pack.name)} ({pack_words(pack)}, {pack.digest[:_DIGITS]})"


def softer_lines(review: Review) -> tuple[str, ...]:
    """By what the gate is softer, one line each; many of one kind are counted after the first ones."""
    return _softer_lines(review.gate.softer)


def _softer_lines(softer: Sequence[Less]) -> tuple[str, ...]:
    found: list[str] = []
    for kind, several in _by_kind(softer):
        found += [clipped(less_words(one), _LONGEST) for one in several[:_EACH]]
        if len(several) > _EACH:
            found.append(f"{kind}: {len(several) - _EACH} more, each told at its finding")
    return tuple(found)


def _by_kind(softer: Iterable[Less]) -> Iterator[tuple[str, list[Less]]]:
    kinds: dict[str, list[Less]] = {}
    for one in softer:
        kinds.setdefault(one.kind, []).append(one)
    yield from kinds.items()


def less_words(one: Less) -> str:
    """One line: `relaxed by house: bulk-voltage: 'a <= b' became 'a <= 2 * b': our reason`."""
    if one.kind in ("waiver", "open point", "known findings"):
        signed = f"until {plain(one.last_day)} by {plain(one.by)}: {plain(one.reason)}"
        return f"{one.kind}: {plain(one.name)}: {plain(one.after)}, {signed}"
    by = f" ({plain(one.by)})" if one.by else ""
    reason = f": {plain(one.reason)}" if one.reason else ""
    moved = f": {plain(one.after)} in place of {plain(one.before)}" if one.before else ""
    return f"{one.kind}{by}: {plain(one.name)}{moved}{reason}"


def basis_words(finding: Finding) -> str:
    """Where a limit comes from and how sure that is; a remembered one never passes for a published one."""
    source = plain(finding.source)
    if finding.confidence == "remembered" and "confirm" not in source:
        return f"remembered figure{f' for {source}' if source else ''}: confirm (pack {plain(finding.pack)})"
    if finding.pack == OWN:  # no rule made it, so there is no pack to name
        return source
    return f"{source} ({finding.confidence}; pack {plain(finding.pack)})"
