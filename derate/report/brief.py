"""What a review comes to at a glance: what decides, what blocks, what to do next. Shared by screen and pipe."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from derate.judge.review import Finding, HazardWord, Review, most_wanted
from derate.ledger.entry import Entry, OpenFact
from derate.report.gather import accepted_words, act_first, body, unused_words, wanted
from derate.report.words import fact_words, figure, known_text, listed, number_of, plain, sides
from derate.terms.instructions import marked
from derate.terms.tuples import NamedTuple
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import HAZARDS, SEVERITIES, WAIVABLE, Hazard, Verdict

# The words of a hazard, and what stands beside them.


def word_words(word: HazardWord) -> str:
    """`fail, waived; 3 not assessed; 2 minor fails, 1 minor open`: the word, what it hides, what stands beside it."""
    minor = [number_of(word.minor_fails, "minor fail")] if word.minor_fails else []
    minor += [f"{word.minor_open} minor open"] if word.minor_open else []
    hidden = [f"{count} {one}" for one, count in word.hides]
    return "; ".join([word.word, *hidden, *([", ".join(minor)] if minor else [])])


def grouped_words(review: Review) -> str:
    """The hazards by their words: `fail: fire, shock; not assessed: life`, in the order of the hazards."""
    found: dict[str, list[str]] = {}
    for word in review.hazards:
        found.setdefault(word.word, []).append(word.hazard)
    first = sorted(found.items(), key=lambda one: not one[0].startswith("fail"))
    return "; ".join(f"{word}: {', '.join(hazards)}" for word, hazards in first)


def looked_words(word: HazardWord) -> str:
    """`4 of 11 looked at`: how many critical rules gave a verdict, of those that apply; '' where there is none."""
    return f"{word.looked} of {word.asked} looked at" if word.asked else ""


def beside_words(review: Review) -> str:
    """What stands beside the words of all hazards, in one sentence: `not assessed: fire 10, shock 13; 4 minor open`."""
    kinds: dict[str, list[str]] = {}
    for word in review.hazards:
        for name, count in (*word.hides, ("minor fails", word.minor_fails)):
            if count:
                kinds.setdefault(name, []).append(f"{word.hazard} {count}")
    waiting = sum(word.minor_open for word in review.hazards)
    told = [f"{name}: {', '.join(said)}" for name, said in kinds.items()]
    return "; ".join([*told, *([f"{waiting} minor open"] if waiting else [])])


def plate_words(review: Review) -> str:
    """The plate as the file gives it: `100 to 240 V, 50 to 60 Hz, 0.5 A; main 12 V 1.5 A`; '' for none."""
    said: dict[tuple[str, str], Entry] = {}
    for entry in review.ledger:
        if entry.quantity.startswith("plate.") and entry.place is not None and entry.case is None:
            said.setdefault((str(entry.subject), entry.quantity), entry)

    def text(whose: str, *names: str) -> list[str]:
        rows = (said.get((whose, name)) for name in names)
        return [known_text(row.value, row.quantity) for row in rows if row is not None and row.value is not None]

    mains = ", ".join(text("supply", "plate.mains", "plate.frequency", "plate.mains_current"))
    outputs = dict.fromkeys(whose for whose, name in said if name in ("plate.voltage", "plate.current"))
    told = [" ".join((plain(one), *text(one, "plate.voltage", "plate.current"))) for one in outputs]
    return "; ".join([*([mains] if mains else []), *([", ".join(told)] if told else [])])


MOST = 9  # rows for what blocks, over all of several designs; fire and shock may go beyond

# What blocks: what has figures or a fail of its own one by one, what only waits gathered, one line a hazard.


class Blocking(NamedTuple):
    """What blocks in one hazard: findings to be shown one by one, the worst first, and those that only wait."""

    hazard: Hazard
    single: tuple[Finding, ...]
    waiting: tuple[Finding, ...]

    @property
    def never_cut(self) -> bool:
        """Whether it is of fire or shock, which are shown whatever the room."""
        return self.hazard in WAIVABLE


def blocking(review: Review) -> tuple[Blocking, ...]:
    """What blocks, hazard by hazard; empty where nothing does."""
    found = []
    for hazard in HAZARDS:
        own = sorted((one for one in review.findings if one.blocks and one.hazard == hazard), key=_worst_first)
        if own:
            waiting = tuple(one for one in own if _only_waits(one))
            found.append(Blocking(hazard, tuple(one for one in own if one not in waiting), waiting))
    return tuple(found)


def _only_waits(finding: Finding) -> bool:
    """It has no figures of its own to show, or nothing but an assumption holds it back; never one about the packs."""
    waits = finding.stress is None or bool(finding.rests_on)
    return finding.verdict == "not assessed" and waits and not finding.of_gate


def _worst_first(finding: Finding) -> tuple[int, int, bool, float, str]:
    return (
        ("fail", "not assessed").index(finding.verdict) if finding.verdict in ("fail", "not assessed") else 2,
        SEVERITIES.index(finding.severity),
        bool(finding.raised),
        -(finding.ratio or 0.0),
        finding.rule,
    )


def finding_words(finding: Finding) -> str:
    """One finding in a few words: its rule and both figures, or what was found where nothing is compared."""
    if finding.stress is not None and finding.limit is not None and finding.ratio is not None:
        named = sides(finding.stress, finding.limit, finding.ratio)
        found, asked = figure(finding.stress, finding.unit), figure(finding.limit, finding.unit)
        wide = ", too wide to tell" if finding.verdict == "not assessed" else ""
        return f"{plain(finding.rule)}: {found}, {_against(asked, named.second)}{wide}"
    return f"{plain(finding.rule)}: {plain(body(finding, rests=False))}"


def _against(asked: str, second: str) -> str:
    return f"needs {asked}" if second == "needed" else f"{asked} allowed"


def waiting_words(part: Blocking, whole: bool = False) -> str:
    """`14 wait for 7 facts: pattern of its plug, … and 4 more`; whole: with why the others do that wait for none."""
    facts = fact_words(wanted(part.waiting))
    count = len(part.waiting)
    if not facts:
        return f"{number_of(count, 'finding')} cannot be judged: {plain(body(part.waiting[0]))}"
    said = f"{count} {'waits' if count == 1 else 'wait'} for {number_of(len(facts), 'fact')}: {listed(facts, 1)}"
    others = [one for one in part.waiting if not (one.missing or one.rests_on)]
    if whole and others:
        said += f"; {len(others)} of them not for a fact: {plain(body(others[0]))}"
    return said


def left_words(counts: Counter[Hazard]) -> str:
    """`+4 more that block`."""
    every = sum(counts.values())
    return f"+{every} more that {'blocks' if every == 1 else 'block'}"


def rest_words(review: Review) -> str:
    """Everything that does not block, counted: `12 remarks, 1 waiver, 24 facts used by nothing: --all shows them`."""
    rest = [one for one in review.findings if not one.blocks and not one.known]
    counts: Counter[Verdict] = Counter(one.verdict for one in rest)
    remarks = counts["fail"] + counts["marginal"]
    said = [number_of(remarks, "remark")] if remarks else []
    said += [f"{counts['not assessed']} waiting for facts"] if counts["not assessed"] else []
    said += [accepted] if (accepted := accepted_words(review)) else []
    said += [unused] if (unused := unused_words(review)) else []
    return f"{', '.join(said)}: --all shows {'it' if said == ['1 remark'] else 'them'}" if said else "no remarks"


# What to do next: three things, the files that block, the command that says more.


class Thing(NamedTuple):
    """One thing to do. how: the whole instruction with its caution, which is shown whole or not at all."""

    what: str
    how: str = ""

    def __str__(self) -> str:
        return f"{self.what}: {self.how}" if self.how else self.what


def things(review: Review, most: int = 3) -> tuple[Thing, ...]:
    """The first things to act on: what fails, then the facts that hold most back, fire and shock first."""
    failing = [one for one in act_first(review, most) if one.verdict == "fail" and one.findings[0].blocks]
    told = [Thing(f"{one.subject} ({one.what})", plain(one.remedy or one.reason)) for one in failing]
    return (*told, *_to_find(review, most - len(told)))[:most]


def _to_find(review: Review, most: int) -> Iterator[Thing]:
    """What to find out first, each with how it is got."""
    found: dict[str, Thing] = {}
    for text, one in most_wanted(review.findings):
        if len(found) >= most:
            break
        told = _how(text, one, review.not_powered)
        found.setdefault(told.what, told)
    yield from found.values()


def _how(text: str, finding: Finding, not_powered: str) -> Thing:
    """A fact that findings wait for, with how it is got and its caution; the remedy of one that names none."""
    if not isinstance(text, OpenFact):
        return Thing(plain(text), plain(finding.remedy))
    term = VOCABULARY.get(text.name)
    if term is None:
        return Thing(plain(text.in_words))
    whose = "" if text.subject is None or str(text.subject) == "supply" else f"{plain(str(text.subject))}: "
    return Thing(f"{whose}{term.says}", marked(term.how, term.how.does, not_powered))


def worst_hazards(review: Review) -> str:
    """The hazards that have the overall word: `fire, shock and overstress`."""
    return listed(word.hazard for word in review.hazards if word.word == review.overall)


def next_words(reviews: Sequence[Review]) -> str:
    """The next command: what waits, what fails, or the report."""
    review = next((one for one in reviews if one.blocks), reviews[0])
    path = plain(review.path)
    if any(one.blocks and one.verdict == "not assessed" for one in review.findings):
        return f"derate missing {path}"
    return f"derate lint --all {path}" if review.blocks else f"derate report {path}"


def files_words(reviews: Iterable[Review]) -> Iterator[str]:
    """The files that block, each with how many findings do: `2 files block:`, then one a line."""
    for review in reviews:
        count = sum(one.blocks for one in review.findings)
        if count:
            yield f"blocked by {number_of(count, 'finding')}: {plain(review.path)}"
