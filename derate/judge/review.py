"""What judging ends in: findings, the words of the hazards, the review of one design, two held beside each other."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.terms.frozen import frozen
from derate.terms.instructions import DOES, Does, given
from derate.terms.quantities import CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Value
from derate.terms.words import SEVERITIES, WAIVABLE, Confidence, Hazard, Level, Overall, Severity, Verdict

# What judging ends in: findings, the overall word of every hazard, the review of one design.
#
# Plain frozen values: renderers show them and decide nothing.


class Acknowledgement(NamedTuple):
    """A waiver or an open point that attached to a finding (or that expired and did not)."""

    kind: Literal["waiver", "open point"]
    reason: str
    by: str
    last_day: str
    up_to: float | None
    expired: bool
    place: Place


class Unmet(NamedTuple):
    """The condition for which a rule does not apply: the fact in words, what was found of it and what is asked."""

    fact: str
    found: str
    asked: str


class Told(NamedTuple):
    """The message of a finding in its parts, for what shows its subject, its limit or what it rests on elsewhere.

    what: what was found, or the reason; lead: that it cannot be judged or does not apply, '' otherwise
    limit: where the limit comes from; rests: what it rests on. The joints between the parts stand in them.
    unmet: the condition that `what` tells of, where the rule does not apply
    """

    what: str
    lead: str = ""
    limit: str = ""
    rests: str = ""
    unmet: Unmet | None = None

    def message(self, subject: Subject) -> str:
        """The whole sentence."""
        return f"{subject}: {self.lead}{self.what}{self.limit}{self.rests}"


class Step(NamedTuple):
    """One instruction of a remedy: the text, what following it does, the fact it would find (empty: a rule's own)."""

    text: str
    does: tuple[Does, ...]
    fact: str = ""

    def given(self, withheld: str = "") -> str:
        """As it is shown, with its caution, or why it is withheld."""
        text = given(self.text, self.does, withheld)
        return f"{self.fact}: {text}" if self.fact and text else text


class Finding(NamedTuple):
    """One rule on one subject.

    case: the governing case, None when the rule looks at standing facts only
    stress, limit: both sides of the comparison at the governing case, in `unit` (SI base units)
    ratio: stress over limit (limit over stress where more is better) in the worst reading: above 1 is over. Infinite
        for an open end, None for shapes that compare nothing
    missing: names of the facts that would settle it
    rests_on: assumed facts a critical pass would have rested on
    entries: numbers of the ledger rows it used, for the derivation
    remedy: what cures or settles it, with the caution that belongs beside it; steps: the same piece by piece
    """

    rule: str
    pack: str
    hazard: Hazard
    severity: Severity
    subject: Subject
    case: Case | None
    verdict: Verdict
    stress: Value | None
    limit: Value | None
    ratio: float | None
    unit: str
    message: str
    remedy: str
    source: str
    confidence: Confidence
    missing: tuple[OpenFact, ...] = ()
    rests_on: tuple[OpenFact, ...] = ()
    entries: tuple[int, ...] = ()
    place: Place = Place("")
    acknowledgement: Acknowledgement | None = None
    blocks: bool = False
    known: bool = False  # held back by a record of known findings
    told: Told | None = None  # the message in its parts; None for a finding that did not come from the judge
    of_gate: bool = False  # about the packs in use: no open point, waiver or record holds it back
    raised: str = ""  # why a finding of a minor rule counts as major, '' where it does not
    steps: tuple[Step, ...] = ()
    withheld: bool = False  # a step needs power, and this sample is not to be powered

    @property
    def does(self) -> tuple[Does, ...]:
        """What following the remedy does to sample and person, in the order of the list."""
        every = {word for step in self.steps for word in step.does}
        return tuple(word for word in DOES if word in every)


class HazardWord(NamedTuple):
    """The overall word of one hazard, why, and what stands beside it.

    why: '' | 'no rule looked' | '3 limits to confirm' | name of the rule that decided
    hides: what else its critical and major findings came to, each word but pass with how many, the worst first
    minor_fails, minor_open: its minor findings that fail and that are not assessed; they never turn the word
    looked, asked: how many critical rules gave a verdict, of how many that apply
    """

    hazard: Hazard
    word: Overall
    why: str
    hides: tuple[tuple[Overall, int], ...] = ()
    minor_fails: int = 0
    minor_open: int = 0
    looked: int = 0
    asked: int = 0


class FamilyWord(NamedTuple):
    """The words of one insulation family, when packs of several are loaded."""

    family: str
    word: Overall
    hazards: tuple[HazardWord, ...]


class Used(NamedTuple):
    """A pack, or a library of parts, that was used.

    where: its file, from the root of the repository; '' for one that lies with derate
    shipped: whether its content is that of the pack shipped under its name; digest: SHA-256 of its file [hex]
    """

    name: str
    where: str
    shipped: bool
    digest: str


SofterKind = Literal[
    "level",
    "pack left out",
    "family",
    "house pack",
    "relaxed",
    "switched off",
    "restated",
    "tightened",  # a source made surer
    "table",
    "assumption",
    "setting",
    "looked at",
    "library",  # of parts: one of the house that gives more than the shipped one
    "rating",  # raised by a design over its library
    "waiver",
    "open point",
    "known findings",
]


class Less(NamedTuple):
    """One thing by which the gate is softer than the shipped one.

    name: what is softer; before: as shipped; after: as here; by: whose doing: a file, a pack or a name
    last_day: of what somebody signed for, '' otherwise
    """

    kind: SofterKind
    name: str
    before: str = ""
    after: str = ""
    by: str = ""
    reason: str = ""
    last_day: str = ""


class Gate(NamedTuple):
    """What a design was judged by.

    level: what stops the exit status; level_from: who says so: '' the shipped law, 'command line' or a settings file
    softer: by what it is softer than the shipped gate, empty when it is not
    libraries: of parts, from which the design took facts
    """

    level: Level = "default"
    level_from: str = ""
    packs: tuple[Used, ...] = ()
    softer: tuple[Less, ...] = ()
    libraries: tuple[Used, ...] = ()


class Unused(NamedTuple):
    """A leaf of the file that nothing used.

    name: its keys, joined with dots; said: what stands there; is_fact: no mere words for the reader
    """

    name: str
    said: str
    place: Place
    reason: str
    is_fact: bool = True


class Review(NamedTuple):
    """One design judged: sorted findings, the overall words, the packs that were used, notes for the reader.

    hazards: with several families loaded, the worst of them; families: each on its own, empty for fewer than two
    held_back: how many findings would block and do not, because they were recorded before
    unused: what the file states and nothing used, where somebody asked for it
    """

    path: str
    name: str
    overall: Overall
    hazards: tuple[HazardWord, ...]
    findings: tuple[Finding, ...]
    counts: dict[Verdict, int]
    packs: tuple[str, ...]
    notes: tuple[str, ...]  # expired waivers, switched-off rules with their reason, assumptions used
    ledger: tuple[Entry, ...]
    families: tuple[FamilyWord, ...] = ()
    held_back: int = 0
    gate: Gate = Gate()
    not_powered: str = ""  # why this sample is not to be powered; '' where nothing that was judged speaks against it
    unused: tuple[Unused, ...] = ()

    @property
    def blocks(self) -> bool:
        """Whether any finding blocks."""
        return any(finding.blocks for finding in self.findings)


def most_wanted(findings: Iterable[Finding]) -> tuple[tuple[str, Finding], ...]:
    """What findings that block wait for, each with one of them, what holds most of fire and shock back first.

    An open fact, or what a finding says that names none, such as that nobody described a barrier.
    """
    weight: dict[str, int] = {}
    first: dict[str, Finding] = {}
    for one in findings:
        if one.blocks and one.verdict == "not assessed":
            heavy = (len(SEVERITIES) - SEVERITIES.index(one.severity)) * (10 if one.hazard in WAIVABLE else 1)
            own = one.missing or one.rests_on or (one.told.what if one.told is not None else one.message,)
            for text in dict.fromkeys(own):
                weight[text] = weight.get(text, 0) + heavy
                first.setdefault(text, one)
    return tuple((text, first[text]) for text in sorted(weight, key=lambda text: (-weight[text], text)))


# What holding two judged designs beside each other ends in: plain frozen values, decided here and shown elsewhere.


Way = Literal["worse", "better", "other"]


@frozen
class FactChange:
    """A fact that is not the same in both; None where one design does not have it."""

    subject: Subject
    quantity: QuantityName
    before: Entry | None
    after: Entry | None


@frozen
class StressChange:
    """The worst row of a group of cases on either side.

    factor: after over before, each at the end that is bad; None where one side has no figure, or one that is nought
    """

    subject: Subject
    quantity: QuantityName
    group: CaseGroup | Literal[""]
    before: Entry | None
    after: Entry | None
    factor: float | None


@frozen
class VerdictChange:
    """A rule on a subject with another word than before; None where one design has no such finding."""

    rule: str
    subject: Subject
    before: Finding | None
    after: Finding | None
    way: Way


class SideBySide(NamedTuple):
    """One job in both designs: a place between two circuits, or a part; '' for a design that has none.

    of: 'barrier' | 'part'; role: what lies at the ends of a place, or where a part stands
    figures: (quantity, before, after), None where a design does not have it
    """

    of: Literal["barrier", "part"]
    role: str
    before: str
    after: str
    figures: tuple[tuple[QuantityName, Entry | None, Entry | None], ...]


@frozen
class Difference:
    """Everything that differs between two designs.

    before_name, after_name: how the command line called them; partners: parts, outputs and barriers that have the same
    job under two names, (before, after); same_*: how much is the same in both
    pairs: every place of the barriers, and every part with another name, kind or figure, side by side
    """

    before: Review
    after: Review
    before_name: str
    after_name: str
    facts: tuple[FactChange, ...]
    stresses: tuple[StressChange, ...]
    verdicts: tuple[VerdictChange, ...]
    partners: tuple[tuple[str, str], ...]
    same_facts: int
    same_stresses: int
    same_verdicts: int
    pairs: tuple[SideBySide, ...] = ()

    @property
    def blocking(self) -> tuple[int, int]:
        """How many findings block, before and after."""
        before, after = (sum(one.blocks for one in review.findings) for review in (self.before, self.after))
        return before, after
