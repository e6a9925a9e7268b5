"""A ledger held to packs: every rule on every subject, what nobody looked at, acknowledgements, the overall words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from derate.judge.acknowledge import Known, OpenPoint, Waiver, acknowledgement, is_known, remarks
from derate.judge.review import Finding, Review, Told
from derate.judge.rule_finding import Prepared, find, finding_of, prepare
from derate.judge.verdict import Outcome, family_words, finding_blocks, hazard_words, looked_at, worst_word
from derate.judge.view import Trace, View
from derate.ledger.entry import SUPPLY, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs
from derate.packs.rule import Rule
from derate.terms.place import Place
from derate.terms.values import Category
from derate.terms.vocabulary import SUPPLY_FACTS
from derate.terms.words import HAZARDS, NEEDS_A_CRITICAL_RULE, VERDICTS, Hazard

OWN = "derate"  # the pack name of findings that no rule made


def judge(
    ledger: Ledger,
    packs: Packs,
    *,
    path: str,
    name: str,
    today: date,
    waivers: Sequence[Waiver] = (),
    open_points: Sequence[OpenPoint] = (),
    known: Known | None = None,
    required_packs: Mapping[str, Sequence[Hazard]] | Sequence[str] = (),
    notes: Sequence[str] = (),
) -> Review:
    """Judge one design.

    path, name: of the design, for the review; today: waivers and open points are in force up to their last day
    known: findings that were recorded before (judge.known), by fingerprint
    required_packs: packs that must be loaded, each with the hazards it covers (all that need a critical rule when
        only named); one that is missing is a critical `not assessed` of its own
    """
    findings = [*_ruled(ledger, packs, path), *_left_out(packs, required_packs, path)]
    findings += _not_looked_at(findings, packs, path)
    given: tuple[Waiver | OpenPoint, ...] = (*waivers, *open_points)
    used: list[Waiver | OpenPoint] = []
    final = []
    for finding in findings:
        stands, source = acknowledgement(finding, given, today) if given else (None, None)
        if source is not None and stands is not None and not stands.expired:
            used.append(source)
        if stands is not None:
            finding = finding._replace(acknowledgement=stands)
        if finding_blocks(finding):
            held = known is not None and is_known(finding, known)
            finding = finding._replace(known=held, blocks=not held)
        elif known is not None and finding.verdict != "not applicable" and is_known(finding, known):
            finding = finding._replace(known=True)
        final.append(finding)
    final.sort(key=_order)
    family_of = {rule.pack: rule.family for rule in packs.rules}
    # All findings of all families together: with several loaded the kinder one never speaks for the other.
    hazards = hazard_words(final)
    return Review(
        path=path,
        name=name,
        overall=worst_word(hazards),
        hazards=hazards,
        findings=tuple(final),
        counts={verdict: sum(one.verdict == verdict for one in final) for verdict in VERDICTS},
        packs=packs.names,
        notes=(*notes, *packs.notes, *remarks(given, used, final, today)),
        ledger=tuple(ledger.entries),
        families=family_words(final, packs.families, family_of),
        held_back=sum(one.known and finding_blocks(one._replace(known=False)) for one in final),
    )


def _order(finding: Finding) -> tuple[object, ...]:
    return (finding.place, finding.rule, finding.subject)


def _ruled(ledger: Ledger, packs: Packs, path: str) -> list[Finding]:
    """Every rule on every subject of its kind."""
    places = _places(ledger)
    kinds: dict[str, tuple[Subject, ...]] = {}
    found = []
    for rule in packs.rules:
        if rule.about not in kinds:
            kinds[rule.about] = _subjects(ledger, rule.about)
        prepared = prepare(rule, ledger, packs)
        own = [
            one
            for subject in kinds[rule.about]
            if (one := _asked(prepared, subject, ledger, packs, places.get(subject, Place(path)))) is not None
        ]
        if rule.switched_off:
            if rule.severity != "minor":  # minor never blocks: the note that names the reason is enough
                found += _switched_off(rule, own, ledger, packs, path)
            continue
        found += own
        if (
            rule.at_least_one
            and all(one.verdict == "not applicable" for one in own)
            and not _supply_outside(rule, ledger, packs)
        ):
            outcome = Outcome("not assessed", Trace(), words=rule.at_least_one)
            found.append(_about_supply(rule, outcome, ledger, packs, path))
    return found


def _asked(prepared: Prepared, subject: Subject, ledger: Ledger, packs: Packs, place: Place) -> Finding | None:
    rule = prepared.rule
    return ledger.asked(
        ("rule", rule.pack, rule.name, subject),
        lambda: find(prepared, subject, ledger, packs, place),
        (prepared.cases, place),
    )


def _supply_outside(rule: Rule, ledger: Ledger, packs: Packs) -> bool:
    """Whether a fact of the supply itself, established and not assumed, puts it outside the rule: then no subject of
    it is missed. An own design has no sample that could have been loaded."""
    conditions = tuple(one for one in rule.applies if one.name in SUPPLY_FACTS)
    if not conditions:
        return False
    holds, _, trace = View(ledger, packs, SUPPLY, None, rule.family).holds(conditions)
    return holds is False and not trace.rests_on


def _places(ledger: Ledger) -> dict[Subject, Place]:
    """The first place in the file that says anything of a subject."""
    places: dict[Subject, Place] = {}
    for entry in ledger.entries:
        if entry.place is not None and (entry.subject not in places or entry.place < places[entry.subject]):
            places[entry.subject] = entry.place
    return places


def _subjects(ledger: Ledger, kind: str) -> tuple[Subject, ...]:
    """All subjects of a kind; parts that are not fitted are no subjects, the supply always is one."""
    if kind == "supply":
        return (SUPPLY,)
    found = []
    for subject in ledger.subjects(kind):
        fitted = ledger.find(subject, "part.fitted") if kind == "part" else None
        if fitted is None or not isinstance(fitted.value, Category) or fitted.value.word != "no":
            found.append(subject)
    return tuple(found)


def _about_supply(rule: Rule, outcome: Outcome, ledger: Ledger, packs: Packs, path: str) -> Finding:
    view = View(ledger, packs, SUPPLY, None, rule.family)
    return finding_of(rule, SUPPLY, outcome, view, "", Place(path))


def _switched_off(rule: Rule, own: list[Finding], ledger: Ledger, packs: Packs, path: str) -> list[Finding]:
    """A rule switched off counts as not assessed where it would have looked: dropping a rule opens no gate."""
    about = [one for one in own if one.verdict != "not applicable"]
    if not about and not rule.at_least_one:
        return []
    change = rule.changes[-1]
    names = ", ".join(str(one.subject) for one in about) or "this supply"
    words = f"switched off by {change.pack}: {change.reason}; it would have looked at {names}"
    return [_about_supply(rule, Outcome("not assessed", Trace(), words=words), ledger, packs, path)]


def _own(rule: str, hazard: Hazard, what: str, remedy: str, path: str) -> Finding:
    told = Told(what)
    return Finding(
        rule,
        OWN,
        hazard,
        "critical",
        SUPPLY,
        None,
        "not assessed",
        None,
        None,
        None,
        "",
        told.message(SUPPLY),
        remedy,
        "the overall word of fire, shock and over-stress needs a critical rule",
        "published",
        place=Place(path),
        told=told,
    )


def _left_out(packs: Packs, required: Mapping[str, Sequence[Hazard]] | Sequence[str], path: str) -> list[Finding]:
    """A finding for every hazard of a required pack that is not loaded."""
    found = []
    for name in required:
        if name in packs.names:
            continue
        hazards = required[name] if isinstance(required, Mapping) else ()
        for hazard in sorted(hazards or NEEDS_A_CRITICAL_RULE, key=HAZARDS.index):
            found.append(
                _own(
                    f"{name}-in-use-for-{hazard}",
                    hazard,
                    f"pack {name} is required and not in use",
                    f"add {name} to packs",
                    path,
                )
            )
    return found


def _not_looked_at(findings: Sequence[Finding], packs: Packs, path: str) -> list[Finding]:
    """A finding for each of fire, shock and over-stress on which no critical rule gave a verdict, in any family."""
    found = []
    family_of = {rule.pack: rule.family for rule in packs.rules}
    for hazard in NEEDS_A_CRITICAL_RULE:
        for family in packs.families or ("",):
            own = [one for one in findings if family_of.get(one.pack, "") in ("", family)]
            if looked_at(own, hazard):
                continue
            several = f"-in-{family}" if len(packs.families) > 1 else ""
            message = f"no critical rule gave a verdict on {hazard}" + (f" in {family}" if several else "")
            found.append(
                _own(
                    f"{hazard}-looked-at{several}",
                    hazard,
                    message,
                    "give the facts that the critical rules of this hazard need, or load the pack that has them",
                    path,
                )
            )
    return found
