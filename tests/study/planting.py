"""Defects planted into a sound design, generated from the critical rules themselves.

For each critical rule that gives a verdict on a subject, what its shape asks says what breaks it: a rating below the
stress, a reading above the limit, a distance or a test voltage below what is needed, a wrong word, a provision taken
away. What must be caught is settled before anything is tried: the figures come from the finding of the sound design.
A rule that is added is picked up by itself; one that no way here can break is named by `unplanted`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import inf
from typing import cast

from derate.design.readings import QUANTITIES, Condition, Reading
from derate.design.record import Stated
from derate.judge.review import Finding
from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Ledger
from derate.packs.pack import LOOKED, AnyOf, Keep, Member, Presence, Rule, Shape
from derate.study.headroom import scaled
from derate.study.trying import Bench, Fact, Result
from derate.study.work import worked
from derate.terms.values import Category, Curve, Known, Place, Value
from derate.terms.vocabulary import VOCABULARY, YES_NO
from derate.terms.words import PART_KINDS

# limit as a rule compares it -> the rating of the part it is worked out from, in step
FROM = {"allowed.switch_voltage": "rated.voltage", "allowed.power": "rated.power", "allowed.current": "rated.current"}
SHARES = (0.97, 0.5, 0.1)  # of what would just hold


@dataclass(frozen=True)
class Defect:
    """One planted defect: which rule has to catch it on which subject, what was done, in words.

    facts: set before anything is worked out; rows: set in the ledger, for what only the file can say; readings: added
    removed: something was taken away, so that "not assessed" catches it as well as a fail
    """

    rule: str
    subject: Subject
    words: str
    facts: Mapping[Fact, Known | None]
    rows: Mapping[Fact, Known]
    readings: tuple[Reading, ...] = ()
    removed: bool = False

    def __str__(self) -> str:
        return f"{self.rule} on {self.subject}: {self.words}"


Step = tuple[str, dict[Fact, Known | None], tuple[Reading, ...], bool]  # words, facts, readings, removed


def defects(bench: Bench) -> Iterator[Defect]:
    """Every defect of every critical rule that gives a verdict on this design and does not fail."""
    known = {(one.subject, one.quantity) for one in bench.facts}
    for rule in bench.work.packs.rules:
        if rule.severity != "critical":
            continue
        for finding in bench.base.review.findings:
            if finding.rule != rule.name or finding.verdict not in ("pass", "marginal"):
                continue
            for words, facts, readings, removed in _breaks(bench, rule, rule.shape, finding):
                before = {fact: value for fact, value in facts.items() if fact in known}
                after = {fact: cast(Known, value) for fact, value in facts.items() if fact not in known}
                yield Defect(rule.name, finding.subject, words, before, after, readings, removed)


def _breaks(bench: Bench, rule: Rule, shape: Shape, finding: Finding) -> Iterator[Step]:
    match shape:
        case Keep():
            yield from _keep(bench, shape, finding)
        case Member(fact, words):
            owner = _owner(bench, finding.subject, fact)
            for word in _other_words(fact, words):
                yield f"{fact} is {word}", {(owner, fact): Category.of(word)}, (), False
        case Presence(wanted, parts, fact) if fact:
            owner = _owner(bench, finding.subject, fact)
            gone = "no" if VOCABULARY[fact].words == YES_NO else "none"
            there = "yes" if VOCABULARY[fact].words == YES_NO else "found"
            word = gone if wanted else there
            yield f"{fact} is {word}", {(owner, fact): Category.of(word)}, (), False
        case Presence(wanted, parts) if wanted:
            parts_met = [one for one in bench.base.ledger.subjects("part") if _meets(bench, one, parts)]
            gone_parts: dict[Fact, Known | None] = {(one, "part.fitted"): Category.of("no") for one in parts_met}
            if gone_parts:
                yield "the part is not fitted", gone_parts, (), False
        case AnyOf(shapes):
            every = [next(iter(_breaks(bench, rule, one, finding)), None) for one in shapes]
            known = [one for one in every if one is not None]
            named = [fact for one in known for fact in one[1]]
            if len(set(named)) < len(named):  # both alternatives ask for one fact: only not knowing it breaks them
                yield "nobody has looked", dict.fromkeys(named), (), True
            elif known:
                facts = {fact: value for one in known for fact, value in one[1].items()}
                yield (
                    "; ".join(one[0] for one in known),
                    facts,
                    (),
                    any(one[3] for one in known) or len(known) < len(every),
                )
        case _:
            return


def _owner(bench: Bench, subject: Subject, name: str) -> Subject:
    """Whose fact it is: the subject's own, or the supply's."""
    from derate.judge.view import find_row

    row = find_row(bench.base.ledger, subject, name, None)
    return row.subject if row is not None else subject


def _meets(bench: Bench, subject: Subject, parts: tuple[object, ...]) -> bool:
    from derate.judge.view import View

    view = View(bench.base.ledger, bench.work.packs, subject, None, "")
    return view.holds(parts)[0] is True  # type: ignore[arg-type]


def _other_words(fact: str, right: tuple[str, ...]) -> tuple[str, ...]:
    pool = (
        PART_KINDS if fact in ("part.kind", "circuit.mains_fuse") else (*VOCABULARY[fact].words, *LOOKED, "broke down")
    )
    if fact == "circuit.mains_fuse":
        pool = ("board track", "film resistor", "choke", "none")
    return tuple(word for word in dict.fromkeys(pool) if word not in right and word != "not done")[:3]


def _keep(bench: Bench, shape: Keep, finding: Finding) -> Iterator[Step]:
    """The fact on the side of what is allowed lowered, or a reading above it; taken away."""
    formula = shape.formula
    more = formula.comparison.startswith(">")
    sides = (finding.stress, finding.limit)
    if sides[0] is None or sides[1] is None:  # of several alternatives another one carried the verdict
        sides = _sides(bench, shape, finding)
    demand, supply = (sides[1], sides[0]) if more else sides
    if demand is None or supply is None:
        return
    left, right = formula.left, formula.right
    assert right is not None
    for name in dict.fromkeys(_names(left if more else right)):
        fact = (_owner(bench, finding.subject, FROM.get(name, name)), FROM.get(name, name))
        row = bench.base.ledger.find(*fact)
        if row is None or not isinstance(row.value, Value | Curve) or VOCABULARY[fact[1]].bad > 0:
            continue
        if not fact[1].startswith(("rated.", "found.", "test.", "part.", "bridge.", "tape_test.", "transformer.")):
            continue
        just = demand.near / supply.high if 0.0 < supply.high < inf else 0.0
        for share in SHARES:
            if just > 0.0:
                yield f"{fact[1]} times {just * share:.3g}", {fact: scaled(row.value, just * share)}, (), False
        yield f"{fact[1]} is unmarked", {fact: Category.of("unmarked")}, (), True
    if not more:
        yield from _reading(bench, finding, _names(left), supply)


def _sides(bench: Bench, shape: Keep, finding: Finding) -> tuple[Value | None, Value | None]:
    """Both sides of a comparison as they stand in the sound design."""
    from derate.judge.view import Missing, View

    view = View(bench.base.ledger, bench.work.packs, finding.subject, finding.case, "")
    try:
        left, right = shape.formula.evaluate(view.number)
    except Missing:
        return None, None
    return left, right


def _names(node: object) -> tuple[str, ...]:
    """Names of one side of a formula, in their order."""
    if hasattr(node, "name"):
        return (str(node.name),)
    found: list[str] = []
    for slot in getattr(node, "__slots__", ()) or getattr(node, "_fields", ()):
        value = getattr(node, slot)
        for one in value if isinstance(value, tuple) else (value,):
            if not isinstance(one, str | float | int | Place):
                found += _names(one)
    return tuple(found)


def _reading(bench: Bench, finding: Finding, names: tuple[str, ...], supply: Value) -> Iterator[Step]:
    """A reading of the stress above the limit, at the very case the finding is governed by."""
    case = finding.case
    if len(names) != 1 or names[0] not in QUANTITIES or case is None or case.mains is None or case.group != "running":
        return
    place = Place("planted")
    mains = Stated(Value.exact(case.mains), place)
    hertz = Stated(Value.exact(case.frequency or 50.0), place)
    condition = Condition("", place, mains, hertz, case.load or "full")
    number = supply.high * 1.1
    reading = Reading(condition, names[0], finding.subject.names[0], Stated(Value.exact(number), place), "measured")
    yield f"{names[0]} read as {number:.4g}", {}, (reading,), False


def planted(bench: Bench, defect: Defect) -> Result:
    """The design with one defect in it, worked through and judged."""
    design = bench.work.design
    readings = (*design.readings, *defect.readings) if defect.readings else None
    if not defect.rows:
        return bench.tried(defect.facts, readings)
    # Rows that no step gives are written into a ledger worked out from nothing.
    rows = [one for one in bench.facts if (one.subject, one.quantity) not in defect.facts]
    for (subject, name), value in defect.facts.items():
        if value is not None:
            rows.append(Entry(len(rows) + 1, subject, name, None, value, known_by="measured"))
    own = design if readings is None else design._replace(readings=readings)
    ledger = worked(own, bench.work.packs, rows, Ledger())
    for (subject, name), value in defect.rows.items():
        ledger.write(subject, name, value, known_by="measured")
    return bench.judged(ledger)


def caught(result: Result, defect: Defect) -> bool:
    """Whether the rule that should catch it does, on the subject it was planted on."""
    for finding in result.review.findings:
        if finding.rule == defect.rule and finding.subject == defect.subject:
            return finding.blocks and (finding.verdict == "fail" or defect.removed)
    return False


def unplanted(bench: Bench, made: list[Defect]) -> dict[str, str]:
    """Critical rules for which nothing was planted, and why."""
    done = {one.rule for one in made}
    found = {}
    for rule in bench.work.packs.rules:
        if rule.severity == "critical" and rule.name not in done:
            verdicts = sorted({one.verdict for one in bench.base.review.findings if one.rule == rule.name})
            judged = any(word in ("pass", "marginal") for word in verdicts)
            found[rule.name] = (
                "no way to break it is known here" if judged else f"gives no pass here ({', '.join(verdicts)})"
            )
    return found


def without(bench: Bench, rule: str) -> Bench:
    """The same bench without one rule, to show that what catches a defect is that rule."""
    packs = bench.work.packs
    own = object.__new__(Bench)
    own.allowance = bench.allowance
    own.work = bench.work._replace(packs=packs._replace(rules=tuple(one for one in packs.rules if one.name != rule)))
    own.today, own.facts, own.runs, own.base, own.tape = bench.today, bench.facts, 0, bench.base, bench.tape
    return own
