"""One rule as a page for a terminal, and rules as a list: what each asks, why, and where its limit comes from."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from derate.packs.pack import (
    AnyOf,
    Condition,
    Count,
    Keep,
    Member,
    Presence,
    Record,
    Rule,
    Shape,
    Within,
    facts_of,
    formulas_of,
)
from derate.packs.trial import Facts, Trial
from derate.report.colour import HEADING, Line
from derate.report.profiles import PROFILE
from derate.report.words import CAUTION, known_text, listed, padded, plain, quantity_words, wrapped
from derate.terms.dimension import KELVIN
from derate.terms.instructions import Instruction, beside, page_cautions
from derate.terms.values import Place
from derate.terms.vocabulary import VOCABULARY, said
from derate.terms.words import HAZARDS
from derate.text.units import digits_of, show

_LABEL = 14
_PLACEHOLDER = re.compile(r"\{(cure|limit|stress|worst)\}")  # a figure that each finding fills in
_IN_GENERAL = {
    "cure": "the figure worked out",
    "limit": "what is asked",
    "stress": "the stress",
    "worst": "the greatest stress",
}
_OF_ONE_FINDING = re.compile(r"[;:] [^;:]*\{stress\}[^;]*")  # a clause that only says what was found


def page_lines(rule: Rule, trials: Sequence[Trial], width: int) -> Iterator[str]:
    """The page of one rule. trials: those of the rule, shown as examples."""
    yield Line(plain(rule.name), HEADING)
    yield ""
    yield from _row("says", rule.says, width)
    yield from _row("because", rule.because, width)
    yield from _row("asks", asks(rule.shape), width)
    yield from _row("of", _about(rule), width)
    if rule.cases:
        yield from _row("in", listed(rule.cases, 12), width)
    for condition in rule.when:
        yield from _row("only when", _condition(condition), width)
    if formulas_of(rule.shape):
        nominal = "nominal; over at the end of a tolerance is marginal"
        yield from _row("holds at", "the ends of the tolerance" if rule.over_tolerance else nominal, width)
    if rule.guard_share < 1 or rule.guard_difference:
        yield from _row("marginal", _guard(rule), width)
    yield from _row("hazard", f"{rule.hazard}, {rule.severity}", width)
    yield from _row("limit from", f"{plain(rule.tells)} ({rule.confidence})", width)
    yield from _row("set in", f"pack {plain(rule.pack)}, {_at(rule.place)}", width)
    for change in rule.changes:
        words = f"{change.what} by {plain(change.pack)}, {_at(change.place)}"
        yield from _row("", f"{words}: {plain(change.reason)}" if change.reason else words, width)
    if rule.switched_off:
        yield from _row("", "switched off: it counts as not assessed", width)
    if rule.remedy:
        yield from _row("cure", beside(_in_general(rule.remedy), rule.remedy_does), width)
    settle = beside(rule.settle, rule.settle_does) if rule.settle else _settle(rule)
    if rule.settle_first:
        settle = f"{beside(rule.settle_first, rule.settle_first_does)}; {settle}"
    yield from _row("to settle", settle, width)
    for number, trial in enumerate(trials):
        yield from _row("" if number else "examples", trial_words(trial), width)
    every = {*rule.remedy_does, *rule.settle_does, *rule.settle_first_does}
    if not rule.settle:
        every |= {word for name in _needed(rule) for word in VOCABULARY[name].how.does}
    for number, line in enumerate((*page_cautions(every - {"design"}), CAUTION)):
        yield from _row("" if number else "cautions", line, width)


def _at(place: Place) -> str:
    """A place from here; of a file that lies elsewhere, by its folder and name: a page is passed on to others."""
    path = os.path.relpath(place.path) if os.path.isabs(place.path) else place.path
    if path.startswith(os.pardir):
        path = "/".join(Path(place.path).parts[-2:])
    return plain(f"{path}:{place.line}:{place.column}")


def _row(label: str, text: str, width: int) -> Iterator[str]:
    yield from wrapped(plain(text), width, padded(f"  {label}", _LABEL), " " * _LABEL)


def asks(shape: Shape) -> str:
    """What a rule asks, as the comparison it makes or in words."""
    match shape:
        case Keep(formula):
            return formula.words(said)
        case Within(quantity, least, greatest):
            ends = [f"at least {least.words(said)}"] if least else []
            ends += [f"at most {greatest.words(said)}"] if greatest else []
            return f"{quantity.words(said)} {' and '.join(ends)}"
        case Presence(wanted, parts, fact):
            what = quantity_words(fact) if fact else f"a part with {' and '.join(map(_condition, parts))}"
            there, none = ("yes", "no") if what.startswith("whether ") else ("there", "none")
            return f"{what}: {there if wanted else none}"
        case Member(fact, words):
            return f"{quantity_words(fact)}: {' or '.join(map(plain, words))}"
        case Count(parts, of, least, greatest):
            what = of.words(said) if of else f"the number of parts with {' and '.join(map(_condition, parts))}"
            ends = [f"at least {least.words(said)}"] if least else []
            ends += [f"at most {greatest.words(said)}"] if greatest else []
            return f"{what} is {' and '.join(ends)}"
        case Record(fields, shows):
            shown = f", showing {' and '.join(map(_condition, shows))}" if shows else ""
            return f"a record of {listed(map(quantity_words, fields), 12)}{shown}"
        case AnyOf(shapes):
            return "any of: " + "; or ".join(map(asks, shapes))
        case _:
            return f"{quantity_words(shape.measured)} agrees with {quantity_words(shape.marked)}"


def _condition(condition: Condition) -> str:
    return f"{quantity_words(condition.name)}: {plain(condition.text)}"


def _about(rule: Rule) -> str:
    return "; ".join([f"every {rule.about}", *map(_condition, rule.applies)])


def _guard(rule: Rule) -> str:
    if rule.guard_share < 1:
        return f"from {digits_of(rule.guard_share)} of the limit"
    return f"within {_difference(rule)} of the limit"


def _difference(rule: Rule) -> str:
    """The guard as a difference, in the unit of the limit; of temperatures, in kelvin."""
    for formula in formulas_of(rule.shape):
        if formula is not None and formula.right is not None:
            dimension = KELVIN if formula.dimension.point else formula.dimension
            return show(rule.guard_difference, dimension)
    return digits_of(rule.guard_difference)


def _in_general(remedy: str) -> str:
    """A remedy without the figures of one finding, and without holes where they would stand."""
    return _PLACEHOLDER.sub(lambda one: _IN_GENERAL[one[1]], _OF_ONE_FINDING.sub("", remedy))


def _settle(rule: Rule) -> str:
    """How to get the facts a rule needs, as the vocabulary tells it, each with its caution."""
    hows = [f"{VOCABULARY[name].says}: {_given(VOCABULARY[name].how)}" for name in _needed(rule)]
    return "; ".join(dict.fromkeys(hows)) or "give the facts that the finding names"


def _needed(rule: Rule) -> tuple[str, ...]:
    """The facts a rule needs of which somebody wrote down how to get them."""
    names = dict.fromkeys((*facts_of(rule.shape), *(one.name for one in (*rule.applies, *rule.when))))
    return tuple(name for name in names if name in VOCABULARY and VOCABULARY[name].how)


def _given(how: Instruction) -> str:
    return beside(how, how.does)


def trial_words(trial: Trial) -> str:
    """One trial as an example: the facts given, and the verdict."""
    given = _facts(trial.facts)
    given += [f"in a case {listed(_facts(case), 12)}" for case in trial.cases if case]
    given += [f"beside {plain(name)} with {listed(_facts(facts), 12)}" for name, facts in trial.parts.items()]
    ratio = f" at {digits_of(trial.ratio)} of the limit" if trial.ratio is not None else ""
    why = f" ({plain(trial.why)})" if trial.why else ""
    return f"{trial.expect}{ratio}: {', '.join(given) or 'nothing known'}{why}"


def _facts(facts: Facts) -> list[str]:
    found = []
    for name, fact in facts.items():
        shown = "unknown" if fact.value is None else known_text(fact.value, name)
        words = quantity_words(name)
        colon = ":" if words.startswith("whether ") else ""
        found.append(f"{words}{colon} {shown}{' (assumed)' if fact.assumed else ''}")
    return found


def list_lines(rules: Iterable[Rule], width: int | None) -> Iterator[str]:
    """Rules by hazard: name, severity, what it says. width: columns to wrap at, None for one rule a line."""
    every = list(rules)
    column = min(44, max((len(rule.name) for rule in every), default=0))
    for hazard in HAZARDS:
        own = sorted((rule for rule in every if rule.hazard == hazard), key=lambda rule: rule.name)
        if own and width is not None:
            yield Line(f"{hazard.capitalize()}: {len(own)}", HEADING)
        for rule in own:
            off = " (switched off)" if rule.switched_off else ""
            sure = " (limit to confirm)" if rule.confidence == "remembered" else ""
            if rule.pack.startswith(PROFILE):  # whether anybody read the row, and where it stands
                second_hand = "" if rule.confidence == "published" else "second-hand; "
                sure = f" ({second_hand}{plain(rule.source)})"
            says = f"{plain(rule.says)}{off}{sure}"
            if width is None:
                yield f"{hazard:12}  {padded(plain(rule.name), column)}  {rule.severity:8}  {plain(rule.pack)}  {says}"
            else:
                lead = f"  {padded(plain(rule.name), column)}  {rule.severity:8}  "
                yield from wrapped(says, width, lead, " " * 6 if len(lead) > width // 2 else " " * len(lead))
    if every:
        yield from wrapped(CAUTION, width if width is not None else 10_000)


def compared_lines(one: str, rules: Iterable[Rule], other: str, others: Iterable[Rule]) -> Iterator[str]:
    """What two packs differ in, rule by rule."""
    first, second = {rule.name: rule for rule in rules}, {rule.name: rule for rule in others}
    same = 0
    for name in sorted(first | second):
        if name not in second:
            yield f"{plain(name)}: only in {plain(one)}"
        elif name not in first:
            yield f"{plain(name)}: only in {plain(other)}"
        else:
            differing = list(_differences(first[name], second[name]))
            same += not differing
            for what, here, there in differing:
                yield f"{plain(name)}: {what}: {plain(one)} {here}; {plain(other)} {there}"
    yield f"{len(first)} rules in {plain(one)}, {len(second)} in {plain(other)}, {same} the same in both"


def _differences(one: Rule, other: Rule) -> Iterator[tuple[str, str, str]]:
    pairs = (
        ("asks", asks(one.shape), asks(other.shape)),
        ("of", _about(one), _about(other)),
        ("in", listed(one.cases, 20), listed(other.cases, 20)),
        ("only when", "; ".join(map(_condition, one.when)), "; ".join(map(_condition, other.when))),
        ("severity", one.severity, other.severity),
        ("hazard", one.hazard, other.hazard),
        ("holds over", *("tolerance" if rule.over_tolerance else "nominal" for rule in (one, other))),
        ("marginal", _guard(one), _guard(other)),
        ("limit from", plain(one.tells), plain(other.tells)),
        ("confidence", one.confidence, other.confidence),
        ("use", *("switched off" if rule.switched_off else "in use" for rule in (one, other))),
    )
    yield from ((what, here or "nothing", there or "nothing") for what, here, there in pairs if here != there)
