"""A ledger held to packs: one rule on one subject, every rule on every subject, the overall words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from derate.judge.acknowledge import (
    NO_MORE,
    Contents,
    Known,
    Limits,
    OpenPoint,
    Waiver,
    acknowledgement,
    is_known,
    remarks,
)
from derate.judge.heard import OWN, is_fitted, unasked
from derate.judge.messages import (
    Figure,
    cure_of,
    does_of_facts,
    in_words,
    limit_source,
    not_applicable,
    steps_of,
    told_of,
)
from derate.judge.review import Finding, Review, Step, Told
from derate.judge.shapes import judge_shape
from derate.judge.verdict import (
    OPEN,
    Outcome,
    family_words,
    finding_blocks,
    hazard_words,
    looked_at,
    with_raised,
    worst,
    worst_word,
)
from derate.judge.view import Trace, View, find_row
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject, listed_facts
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs
from derate.packs.pack import AnyOf, Condition, Count, Keep, Presence, Rule, Shape, facts_of
from derate.terms.bench_terms import BENCH
from derate.terms.instructions import UNSAID, holds_back
from derate.terms.quantities import named
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Place, Value
from derate.terms.vocabulary import STRESS, SUPPLY_FACTS, VOCABULARY, said
from derate.terms.words import (
    CONFIDENCES,
    HAZARDS,
    HOLDS,
    LIBRARY_ENDING,
    NEEDS_A_CRITICAL_RULE,
    VERDICTS,
    WAIVABLE,
    Hazard,
    SubjectKind,
    Verdict,
)
from derate.text.units import show_value

# One rule on one subject: does it apply, in which cases, what comes out; one finding.


class Prepared(NamedTuple):
    """A rule with what is worked out once: names it looks up, cases it has to hold in."""

    rule: Rule
    names: tuple[str, ...]
    cases: tuple[Case | None, ...]
    searches: bool  # looks at other subjects than its own, so equal rows do not mean an equal outcome
    kind: Condition | None  # the condition on the kind of part, looked at first
    peers: dict[str, list[tuple[Value, Entry]]]  # stresses of the parts that do sit at a place, by its condition


def prepare(rule: Rule, ledger: Ledger, packs: Packs) -> Prepared:
    """Work out names and cases of a rule. The cases are those the design requires, never the rows that happen to be."""
    names = dict.fromkeys((*facts_of(rule.shape), *(one.name for one in rule.when)))
    for name in tuple(names):
        table = packs.table(name[6:], rule.family) if name.startswith("table.") else None
        if table is not None:
            names |= dict.fromkeys(axis.name for axis in table.axes)
    plain = tuple(name for name in names if not name.startswith(("table.", "assumption.")))
    kind = next((one for one in rule.applies if one.name in ("part.kind", "part.family")), None)
    if not rule.cases:
        return Prepared(rule, plain, (None,), _searches(rule.shape), kind, {})
    stresses = tuple(named(name) for name in plain if name in STRESS or name.startswith("allowed."))
    cases = ledger.plan.cases(stresses, rule.cases) if ledger.plan is not None else ()
    return Prepared(rule, plain, tuple(cases), _searches(rule.shape), kind, {})


def find(prepared: Prepared, subject: Subject, ledger: Ledger, packs: Packs, place: Place) -> Finding | None:
    """The finding of a rule on a subject; None when the part is of another kind and so no subject of the rule."""
    rule = prepared.rule
    if _of_another_kind(prepared.kind, subject, ledger):
        return None
    view = View(ledger, packs, subject, None, rule.family)
    applies, condition, trace = view.holds(rule.applies)
    if applies is False:
        assert condition is not None
        read = _as_read(prepared, subject, ledger, packs, place) if condition.name == SAMPLE else None
        return read or _outside(rule, subject, condition, trace, view, place)
    if applies is None:
        words = (
            f"whether it applies is open ({said(condition.name)}: {condition.text})" if condition is not None else ""
        )
        if condition is not None and condition.name == "part.place" and len(trace.missing) == 1:
            words += f"; {_if_it_sat_there(prepared, condition, subject, ledger, packs)}"
        return finding_of(rule, subject, Outcome("not assessed", trace, OPEN, words), view, None, place)
    if not prepared.cases:
        groups = " or ".join(rule.cases)
        trace = Trace(_lacking(rule, ledger))
        outcome = Outcome("not assessed", trace, words=f"this design has no case to hold it in ({groups})")
        return finding_of(rule, subject, outcome, view, None, place)
    outcomes, views, skipped = _outcomes(prepared, subject, ledger, packs)
    if not outcomes:
        assert skipped is not None
        return _outside(rule, subject, skipped[0], skipped[1], view, place)
    governing = worst(outcomes)
    outcome = _gathered(governing, outcomes, skipped)
    own = next(one for one in views if one.case == governing.case)
    cure: Figure | None = None
    if governing.verdict in ("fail", "marginal") and "{cure}" in rule.remedy and isinstance(rule.shape, Keep):
        cure = cure_of(rule, rule.shape.formula, governing, views)
    return finding_of(rule, subject, outcome, own, cure, place)


SAMPLE = "supply.basis"


def _as_read(prepared: Prepared, subject: Subject, ledger: Ledger, packs: Packs, place: Place) -> Finding | None:
    """What a rule for opened samples makes of what was read of another design; None where nothing it needs was.

    An own design is asked for no load test. One that was taken of its prototype says what it says.
    """
    rule = prepared.rule
    rest = tuple(one for one in rule.applies if one.name != SAMPLE)
    found = find(prepared._replace(rule=rule._replace(applies=rest)), subject, ledger, packs, place)
    if found is None or found.verdict == "not applicable":
        return None
    return found if found.verdict != "not assessed" or is_read(prepared, found, ledger) else None


def is_read(prepared: Prepared, found: Finding, ledger: Ledger) -> bool:
    """Whether anything that a finding of a rule is about was read, whatever became of it."""
    return found.stress is not None or any(
        isinstance(row.value, Value)
        for name in prepared.names
        if name in BENCH and "." not in name  # what was read, and not what it is held to
        for row in ledger.rows(found.subject, named(name))
    )


_WOULD = {"fail": "it would fail", "marginal": "it would be marginal", "pass": "it would hold"}


def _if_it_sat_there(prepared: Prepared, condition: Condition, subject: Subject, ledger: Ledger, packs: Packs) -> str:
    """What a place that a part may have would mean for it: the verdict where its own facts give one, else the worst
    stress of the parts that do sit there beside its rating, else what the rule asks."""
    there = f"as {condition.text}"
    outcomes, _, _ = _outcomes(prepared, subject, ledger, packs)
    found = worst(outcomes) if outcomes else None
    if found is not None and found.verdict in _WOULD:
        return f"{there} {_WOULD[found.verdict]}"
    # looked up once a rule, but where a study records what each question reads: there every question has to read
    if type(ledger) is not Ledger:
        peers = _peers(prepared, condition, ledger)
    elif condition.text in prepared.peers:
        peers = prepared.peers[condition.text]
    else:
        peers = prepared.peers[condition.text] = _peers(prepared, condition, ledger)
    rows = [one for one in peers if one[1].subject != subject]
    if not rows:
        return f"{there} it would be asked: {prepared.rule.says.rstrip('.')}"
    value, row = max(rows, key=lambda pair: pair[0].far)
    term = VOCABULARY[row.quantity]
    assert term.dimension is not None
    told = f"{there} it would bear {term.says} {show_value(value, term.dimension)}, as {row.subject} does"
    for name in prepared.names:
        rated = ledger.find(subject, named(name)) if name.startswith("rated.") else None
        if rated is not None and isinstance(rated.value, Value) and VOCABULARY[name].dimension == term.dimension:
            return f"{told}, and is rated {show_value(rated.value, term.dimension)}"
    return told


def _peers(prepared: Prepared, condition: Condition, ledger: Ledger) -> list[tuple[Value, Entry]]:
    """The stresses a rule looks up of the parts that sit at a place for certain, in the order of their rows."""
    names = [name for name in prepared.names if name in STRESS]
    rows = [
        row
        for one in ledger.subjects("part")
        if (at := ledger.find(one, "part.place")) is not None
        and isinstance(at.value, Category)
        and condition.holds(at.value)
        for name in names
        for row in ledger.rows(one, named(name))
        if row.case in prepared.cases
    ]
    found = sorted(rows, key=lambda row: row.number)
    return [(row.value, row) for row in found if isinstance(row.value, Value)]


def _kind_of(name: str, subject: Subject, ledger: Ledger) -> Category | None:
    """The kind of a subject where it is established, by the name of the fact that says it."""
    entry = ledger.find(subject, named(name))
    if entry is None or entry.rests_on or entry.known_by == "assumed" or not isinstance(entry.value, Category):
        return None
    return entry.value


def _of_another_kind(kind: Condition | None, subject: Subject, ledger: Ledger) -> bool:
    """Whether an established kind rules a part out: most parts are none of most rules' business."""
    value = _kind_of(kind.name, subject, ledger) if kind is not None else None
    return value is not None and kind is not None and kind.holds(value) is False


def _of_its_kind(
    kind: Condition, about: Mapping[Subject, Place], values: Sequence[Category | None]
) -> dict[Subject, Place]:
    """Those of some subjects that no established kind rules out. values: their kinds, in the same order"""
    out = {value: kind.holds(value) is False for value in {*values} if value is not None}
    return {
        subject: place
        for (subject, place), value in zip(about.items(), values, strict=True)
        if value is None or not out[value]
    }


def _outcomes(
    prepared: Prepared, subject: Subject, ledger: Ledger, packs: Packs
) -> tuple[list[Outcome], list[View], tuple[Condition, Trace] | None]:
    """Outcome and view of every case that `when` lets through; cases that look at the same rows are judged once."""
    rule = prepared.rule
    done: dict[tuple[int, ...], tuple[Outcome, View] | None] = {}
    outcomes: list[Outcome] = []
    views: list[View] = []
    skipped: tuple[Condition, Trace] | None = None
    standing, varying = _standing(prepared, subject, ledger)
    for case in prepared.cases:
        rows = dict(standing)
        for name in varying:
            rows[name] = find_row(ledger, subject, name, case, rule.family)
        key = tuple([0 if rows[name] is None else rows[name].number for name in varying])  # type: ignore[union-attr]
        if key in done and not prepared.searches:
            continue
        view = View(ledger, packs, subject, case, rule.family, rows)
        holds, condition, trace = view.holds(rule.when) if rule.when else (True, None, Trace())
        if holds is False and condition is not None:
            skipped = skipped or (condition, Trace())
            skipped[1].add(trace)
            done[key] = None
            continue
        if holds is None:
            outcome = Outcome("not assessed", trace, OPEN, "whether this case counts is open", case=case)
        else:
            found = judge_shape(rule.shape, rule, view)
            outcome = found._replace(case=case)
        done[key] = (outcome, view)
        outcomes.append(outcome)
        views.append(view)
    return outcomes, views, skipped


def _standing(prepared: Prepared, subject: Subject, ledger: Ledger) -> tuple[dict[str, Entry | None], tuple[str, ...]]:
    """Rows that hold for every case, and the names whose rows have to be found case by case."""
    standing: dict[str, Entry | None] = {}
    varying = []
    for name in prepared.names:
        rows = ledger.rows(subject, named(name))
        if len(rows) == 1 and rows[0].case is None and not prepared.rule.family:
            standing[name] = rows[0]
        else:
            varying.append(name)
    return standing, tuple(varying)


def _gathered(governing: Outcome, outcomes: list[Outcome], skipped: tuple[Condition, Trace] | None) -> Outcome:
    """The governing outcome, with what all outcomes of its verdict miss, and what the whole pass rests on."""
    trace = Trace()
    trace.add(governing.trace)
    held = governing.verdict in HOLDS
    for one in outcomes:
        if one is governing:
            continue
        if one.verdict == "not assessed":
            trace.missing |= one.trace.missing
            trace.notes |= one.trace.notes
        if held:
            trace.rests_on |= one.trace.rests_on
            if CONFIDENCES.index(one.trace.confidence) > CONFIDENCES.index(trace.confidence):
                trace.confidence = one.trace.confidence
    if held and skipped is not None:
        trace.rests_on |= skipped[1].rests_on
    return governing._replace(trace=trace)


def _outside(
    rule: Rule, subject: Subject, condition: Condition, trace: Trace, view: View, place: Place
) -> Finding | None:
    """What a rule that does not apply comes to: nothing when the part is of another kind, else `not applicable`."""
    if trace.rests_on and rule.severity == "critical":
        words = f"it would not apply ({said(condition.name)}: not {condition.text}), but that is assumed"
        outcome = Outcome("not assessed", trace, words=words)
        return finding_of(rule, subject, outcome, view, None, place)
    if condition.name in ("part.kind", "part.family"):
        return None
    entry = next(iter(trace.entries.values()), None)
    value = entry.value if entry is not None else None
    found = str(value) if isinstance(value, Category) else "not so"
    dimension = VOCABULARY[condition.name].dimension
    if isinstance(value, Value) and dimension is not None:
        found = show_value(value, dimension)
    told = not_applicable(condition, found)
    return Finding(
        rule.name,
        rule.pack,
        rule.hazard,
        rule.severity,
        subject,
        None,
        "not applicable",
        None,
        None,
        None,
        "",
        told.message(subject),
        "",
        rule.tells,
        rule.confidence,
        (),
        (),
        tuple(trace.entries),
        place,
        told=told,
    )


# What has a block of its own in the file: what is said of it points there, and not at a reading of it.
_STATED = frozenset(("part", "port", "transformer", "winding", "barrier"))


def finding_of(
    rule: Rule, subject: Subject, outcome: Outcome, view: View, cure: Figure | None, place: Place
) -> Finding:
    """Put an outcome into words; a critical pass that rests on an assumption is held back here."""
    rests = tuple(sorted(outcome.trace.rests_on))
    verdict: Verdict = outcome.verdict
    held_back = rule.severity == "critical" and bool(rests) and verdict in HOLDS
    if held_back:
        verdict = "not assessed"
    sure = max(rule.confidence, outcome.trace.confidence, key=CONFIDENCES.index)
    steps = (
        (Step(f"find out: {listed_facts(rests)}", does_of_facts(rests)),)
        if held_back
        else steps_of(rule, outcome, cure)
    )
    own = [
        entry.place
        for entry in outcome.trace.entries.values()
        if entry.place is not None
        and entry.subject == subject
        and not entry.place.path.endswith(LIBRARY_ENDING)  # whose lines the rows name; a finding is of the design
        and (subject.kind not in _STATED or (entry.case is None and "." in entry.quantity))
    ]
    compared = outcome.stress is not None
    told = told_of(rule, outcome, view, held_back)
    return Finding(
        rule.name,
        rule.pack,
        rule.hazard,
        rule.severity,
        subject,
        outcome.case,
        verdict,
        outcome.stress,
        outcome.limit,
        outcome.excess,
        outcome.dimension.symbol if outcome.dimension is not None else "",
        told.message(subject),
        in_words(steps),
        limit_source(rule, outcome),
        sure,
        tuple(outcome.trace.missing) if verdict == "not assessed" else (),
        rests,
        tuple(outcome.trace.entries),
        min(own) if own and compared else place,
        told=told,
        steps=steps,
    )


def _lacking(rule: Rule, ledger: Ledger) -> tuple[OpenFact, ...]:
    """The facts without which the plan has no case of a rule's groups, where the plan can name them."""
    lacking = getattr(ledger.plan, "lacking", None)
    return () if lacking is None else tuple(fact for group in rule.cases for fact in lacking(group))


def _searches(shape: Shape) -> bool:
    """Whether a shape looks for parts beside its own subject."""
    match shape:
        case Presence(_, parts) | Count(parts):
            return bool(parts)
        case AnyOf(shapes):
            return any(_searches(one) for one in shapes)
        case _:
            return False


# A ledger held to packs: every rule on every subject, what nobody looked at, acknowledgements, the overall words.


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
    limits: Limits = NO_MORE,
    ratings: bool = False,
) -> Review:
    """Judge one design.

    path, name: of the design, for the review; today: waivers and open points are in force up to their last day
    known: findings that were recorded before (judge.known), by fingerprint
    limits: how far waivers and open points reach
    ratings: the rules of over-stress are in use, so that a rating which none of them asks is told
    required_packs: packs that must be loaded, each with the hazards it covers (all that need a critical rule when
        only named); one that is missing is a critical `not assessed` of its own
    """
    places = _places(ledger)
    home = places.get(SUPPLY) or Place(path)
    findings = [*_ruled(ledger, packs, places, home), *_left_out(packs, required_packs, home)]
    findings += _incomplete(packs, home)
    if ratings:
        findings += unasked(ledger, findings, path)
    findings += _not_looked_at(findings, packs, home)
    given: tuple[Waiver | OpenPoint, ...] = (*waivers, *open_points)
    by_rule: dict[str, list[Waiver | OpenPoint]] = {}
    for one in given:
        by_rule.setdefault(one.rule, []).append(one)
    contents = Contents(ledger.entries)
    used: list[Waiver | OpenPoint] = []
    final = []
    for finding in with_raised(findings):
        signed = by_rule.get(finding.rule)
        stands, source = acknowledgement(finding, signed, today, limits) if signed else (None, None)
        if source is not None and stands is not None and not stands.expired:
            used.append(source)
        if stands is not None:
            finding = finding._replace(acknowledgement=stands)
        if finding_blocks(finding):
            held = known is not None and is_known(finding, known, contents)
            finding = finding._replace(known=held, blocks=not held)
        elif known is not None and finding.verdict != "not applicable" and is_known(finding, known, contents):
            finding = finding._replace(known=True)
        final.append(finding)
    final.sort(key=_order)
    reason = not_powered(final, packs)
    if reason:
        final = [_withheld(one, reason) for one in final]
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
        notes=(*notes, *packs.notes, *remarks(given, used, final, today, limits)),
        ledger=tuple(ledger.entries),
        families=family_words(final, packs.families, family_of),
        held_back=sum(one.known and finding_blocks(one._replace(known=False)) for one in final),
        not_powered=reason,
    )


_DISTANCES = frozenset(("found.clearance", "found.creepage"))


def not_powered(findings: Iterable[Finding], packs: Packs) -> str:
    """Why this sample is not to be powered, '' where nothing that was judged speaks against it.

    A critical fail of fire or shock, whoever signed for it, keeps it unplugged. So does a distance that decides on fire
    or shock and is not known: until the distances are judged, nobody can tell what stands on the output.
    """
    grave = [one for one in findings if one.hazard in WAIVABLE and one.severity == "critical"]
    for one in grave:
        if one.verdict == "fail":
            return f"{one.rule} fails on {one.subject}"
    rules = [rule for rule in packs.rules if rule.about == "barrier" and rule.severity == "critical"]
    asked = {rule.name for rule in rules if _DISTANCES.intersection(facts_of(rule.shape))}
    distances = [one for one in grave if one.rule in asked and one.verdict != "not applicable"]
    for one in distances:
        if one.verdict == "not assessed":
            return f"a distance is not known ({one.rule} on {one.subject})"
    return "" if distances else "no distance was judged"


def _withheld(finding: Finding, reason: str) -> Finding:
    """The finding with its steps that need power withheld."""
    held = any(holds_back(step.does) for step in finding.steps)
    if not held and not any(step.does == UNSAID for step in finding.steps):
        return finding
    return finding._replace(remedy=in_words(finding.steps, reason), withheld=held)


def _order(finding: Finding) -> tuple[object, ...]:
    return (finding.place, finding.rule, finding.subject)


def _ruled(ledger: Ledger, packs: Packs, places: Mapping[Subject, Place], home: Place) -> list[Finding]:
    """Every rule on every subject of its kind. home: where the supply stands in its file"""
    kinds: dict[str, dict[Subject, Place]] = {}
    known: dict[tuple[str, str], list[Category | None]] = {}  # of subjects, in their order, by the name of their kind
    minor_off: list[tuple[Rule, list[Finding]]] = []
    found = []
    for rule in packs.rules:
        if rule.about not in kinds:
            kinds[rule.about] = {one: _place_of(one, places, home) for one in _subjects(ledger, rule.about)}
        prepared = prepare(rule, ledger, packs)
        about = kinds[rule.about]
        # where a study records what each question reads, every question has to read; else most need not be asked
        if prepared.kind is not None and type(ledger) is Ledger:
            name = prepared.kind.name
            if (rule.about, name) not in known:
                known[rule.about, name] = [_kind_of(name, one, ledger) for one in about]
            about = _of_its_kind(prepared.kind, about, known[rule.about, name])
        own = [
            one
            for subject, place in about.items()
            if (one := _asked(prepared, subject, ledger, packs, place)) is not None
        ]
        if rule.switched_off:
            if rule.severity != "minor":
                found += _switched_off(rule, own, ledger, packs, home)
            else:
                minor_off.append((rule, own))
            continue
        found += own
        if (
            rule.at_least_one
            and all(one.verdict == "not applicable" for one in own)
            and not _supply_outside(rule, ledger, packs)
        ):
            outcome = Outcome("not assessed", Trace(), words=rule.at_least_one)
            found.append(_about_supply(rule, outcome, ledger, packs, home))
    whole = with_raised([*found, *(one for _, own in minor_off for one in own)]) if minor_off else []
    for rule, own in minor_off:  # where it would not have blocked, the note that names the reason is enough
        raised = next((one.raised for one in whole if one.raised and one.rule == rule.name), "")
        if raised:
            off = _switched_off(rule, own, ledger, packs, home)
            found += [one._replace(severity="major", raised=raised) for one in off]
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
    """The first place in the file that states anything of a subject; a reading of it where nothing else does."""
    stated: dict[Subject, Place] = {}
    read: dict[Subject, Place] = {}
    for entry in ledger.entries:
        place, subject = entry.place, entry.subject
        if place is not None and not place.path.endswith(LIBRARY_ENDING):
            own = stated if entry.case is None and "." in entry.quantity else read  # a name of one word is read
            if subject not in own or place < own[subject]:
                own[subject] = place
    return read | stated


# What a subject that no line of the file states is named by: the place under T1, the path over the body of U2.
_NAMED: tuple[SubjectKind, ...] = ("part", "port", "transformer", "winding", "barrier")


def _place_of(subject: Subject, places: Mapping[Subject, Place], home: Place) -> Place:
    """Where a subject stands; what follows from others or lies between two at the first of them, else the supply."""
    own = places.get(subject)
    if own is not None:
        return own
    words = [word for name in subject.names for word in dict.fromkeys((name, name.rpartition(" ")[2]))]
    stated = (places.get(Subject(kind, (word,))) for word in words for kind in _NAMED)
    return next((place for place in stated if place is not None), home)


def _subjects(ledger: Ledger, kind: str) -> tuple[Subject, ...]:
    """All subjects of a kind; parts that are not fitted are no subjects, the supply always is one."""
    if kind == "supply":
        return (SUPPLY,)
    return tuple(subject for subject in ledger.subjects(kind) if is_fitted(ledger, subject))


def _about_supply(rule: Rule, outcome: Outcome, ledger: Ledger, packs: Packs, home: Place) -> Finding:
    view = View(ledger, packs, SUPPLY, None, rule.family)
    return finding_of(rule, SUPPLY, outcome, view, None, home)


def _switched_off(rule: Rule, own: list[Finding], ledger: Ledger, packs: Packs, home: Place) -> list[Finding]:
    """A rule switched off counts as not assessed where it would have looked: dropping a rule opens no gate."""
    about = [one for one in own if one.verdict != "not applicable"]
    if not about and not rule.at_least_one:
        return []
    change = rule.changes[-1]
    names = ", ".join(str(one.subject) for one in about) or "this supply"
    words = f"switched off by {change.pack}: {change.reason}; it would have looked at {names}"
    return [_about_supply(rule, Outcome("not assessed", Trace(), words=words), ledger, packs, home)]


def _own(rule: str, hazard: Hazard, what: str, remedy: str, home: Place, of_gate: bool = False) -> Finding:
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
        place=home,
        told=told,
        of_gate=of_gate,
        steps=(Step(remedy, ("papers",)),),
    )


def _left_out(packs: Packs, required: Mapping[str, Sequence[Hazard]] | Sequence[str], home: Place) -> list[Finding]:
    """A finding for every hazard of a required pack that is not loaded."""
    found = []
    for name in required:
        if packs.stands(name):
            continue
        called = next((head.path for head in packs.heads if head.name == name), "")
        what = f"pack {name} is required and not in use"
        if called:
            what += "; the pack that calls itself so is not the shipped one and does not stand for it"
        hazards = required[name] if isinstance(required, Mapping) else ()
        for hazard in sorted(hazards or NEEDS_A_CRITICAL_RULE, key=HAZARDS.index):
            found.append(
                _own(
                    f"{name}-in-use-for-{hazard}",
                    hazard,
                    what,
                    "give your own pack its own name" if called else f"add {name} to packs",
                    home,
                    of_gate=True,
                )
            )
    return found


def _incomplete(packs: Packs, home: Place) -> list[Finding]:
    """A finding for fire and for shock in a family that no shipped pack brought and that lacks what it must have."""
    found = []
    for family in packs.families:
        if any(head.shipped and head.family == family for head in packs.heads):
            continue
        from derate.packs.load import lacking  # shipped families have what they need

        lacks = lacking(packs, family)
        if lacks:
            shown = ", ".join(lacks[:3]) + (f" and {len(lacks) - 3} more" if len(lacks) > 3 else "")
            found += [
                _own(
                    f"{family}-complete-for-{hazard}",
                    hazard,
                    f"the packs of family {family} lack {shown}",
                    f"build on the shipped pack of {family}, or write what is lacking",
                    home,
                    of_gate=True,
                )
                for hazard in WAIVABLE
            ]
    return found


def _not_looked_at(findings: Sequence[Finding], packs: Packs, home: Place) -> list[Finding]:
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
                    home,
                )
            )
    return found
