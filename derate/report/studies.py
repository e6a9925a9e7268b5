"""Studies in words: what to find out next, how far a supply may be taken, a capture against the event."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf
from typing import Any, Protocol

from derate.design.samples import called
from derate.judge.review import Finding, Gate
from derate.ledger.entry import OpenFact, Subject, listed_facts
from derate.report.colour import CAUTION_STYLE, HEADING, STYLES, Line, styled
from derate.report.words import (
    CAUTION,
    cells,
    fact_words,
    known_text,
    listed,
    number_of,
    padded,
    plain,
    quantity_words,
    unit_of,
    wrapped,
)
from derate.terms.dimension import CELSIUS, CURRENT, ENERGY, I2T, TIME, VOLTAGE
from derate.terms.instructions import given, holds_back, page_cautions
from derate.terms.values import Curve, Known, Value
from derate.terms.vocabulary import DIMENSIONS, VOCABULARY
from derate.terms.words import SEVERITIES
from derate.text.units import digits_of, show, show_value

# What to find out next, in words: the fact, how somebody gets it, what it settles, from which value it would pass.


class Threshold(Protocol):
    """From where it passes: a number in SI units; down where less is better."""

    @property
    def number(self) -> float:
        """The value."""

    @property
    def down(self) -> bool:
        """Whether it has to be at most this."""


class Missing(Protocol):
    """One fact nobody gave, as `derate.study.missing` ranks them."""

    @property
    def text(self) -> str:
        """As findings name it."""

    @property
    def subject(self) -> Subject | None:
        """Whose fact."""

    @property
    def name(self) -> str:
        """Its name in the vocabulary."""

    @property
    def waiting(self) -> tuple[Finding, ...]:
        """Findings that name it."""

    @property
    def settles(self) -> tuple[Finding, ...]:
        """Findings that get a verdict by it alone."""

    @property
    def kind(self) -> Known | None:
        """The value it was tried with."""

    @property
    def threshold(self) -> Threshold | None:
        """From where it passes."""

    @property
    def words(self) -> tuple[str, ...]:
        """Words with which it passes."""

    @property
    def how(self) -> str:
        """How it is got, where the vocabulary does not say."""

    @property
    def paste(self) -> tuple[str, ...]:
        """The lines of the file under which it goes."""

    @property
    def lacks(self) -> str:
        """Why what was written of it is not enough."""


class Assumed(Protocol):
    """One assumed fact, as `derate.study.missing` ranks them."""

    @property
    def text(self) -> str:
        """As findings name it."""

    @property
    def subject(self) -> Subject | None:
        """Whose fact."""

    @property
    def name(self) -> str:
        """Its name in the vocabulary."""

    @property
    def held_back(self) -> tuple[Finding, ...]:
        """Findings whose pass is held back because of it."""

    @property
    def differ(self) -> tuple[Finding, ...]:
        """Findings that come out differently at the two ends of what is assumed."""


def missing_lines(
    path: str,
    name: str,
    facts: Sequence[Missing],
    assumed: Sequence[Assumed],
    width: int | None,
    not_powered: str = "",
    first: int | None = None,
) -> Iterator[str]:
    """The facts of one design, and the cautions of what it takes to find them.

    width: columns to wrap at, None for one fact a line; not_powered: why steps that need power are withheld
    first: so many are shown, the rest is counted
    """
    shown = [one for one in assumed if one.held_back or one.differ]
    left = len(facts) - first if first is not None and len(facts) > first else 0
    if width is None:
        for fact in facts[:first]:
            how = f": {said}" if (said := _how(fact, not_powered)) else ""
            write = f"; write {_on_one_line(lines)}" if (lines := _lines(fact, not_powered)) else ""
            yield f"{plain(path)}: missing: {_head(fact)}{how}; {_settles(fact)}{_passes(fact, '; ')}{write}"
        if left:
            yield f"{plain(path)}: {number_of(left, 'more fact')}: derate missing --all {plain(path)}"
        for one in shown:
            yield f"{plain(path)}: assumed: {_head(one)}; {_depends(one, not_powered)}"
        yield f"{plain(path)}: {number_of(len(facts), 'fact')} missing, {len(shown)} assumed"
        yield from _cautions(facts[:first], shown, not_powered)
        return
    told = f"{plain(name)}: {number_of(len(facts), 'fact')} that findings wait for, the one that settles most first"
    yield from styled(HEADING, wrapped(told, width))
    for number, fact in enumerate(facts[:first], 1):
        yield ""
        yield from styled(HEADING, wrapped(f"{number}. {_head(fact)}", width, "  ", "     "))
        indent = padded("", 5)
        for text in (_how(fact, not_powered), f"{_settles(fact)}{_passes(fact, '; ')}"):
            if text:
                yield from wrapped(text, width, indent, indent)
        for line in _lines(fact, not_powered):
            yield from _fitting(f"{indent}  {line}", width)
    if left:
        yield ""
        yield from wrapped(f"{number_of(left, 'more fact')}: derate missing --all {plain(path)}", width)
    if shown:
        yield ""
        yield from wrapped("Assumed until somebody looks, those on which most depends first:", width)
        for one in shown:
            yield from wrapped(f"{_head(one)}: {_depends(one, not_powered)}", width, "  ", "     ")
    yield ""
    for line in _cautions(facts[:first], shown, not_powered):
        yield from styled(CAUTION_STYLE, wrapped(line, width))


def _how(fact: Missing, not_powered: str) -> str:
    how = how_of(_asked(fact), not_powered) or plain(fact.how)
    return f"{plain(fact.lacks)}{'; ' if how else ''}{how}" if fact.lacks else how


def _asked(fact: Missing) -> str:
    """The quantity that is asked for, whole or in part; '' of what is none."""
    return fact.name or (fact.text.quantity if isinstance(fact.text, OpenFact) else "")


def _lines(fact: Missing, not_powered: str) -> Sequence[str]:
    """The lines to write it under; none for what is not to be done with this sample."""
    name = _asked(fact)
    withheld = name in VOCABULARY and not_powered and holds_back(VOCABULARY[name].how.does)
    return () if withheld else fact.paste


def _fitting(line: str, width: int) -> Iterator[str]:
    """A line of a file; where it is too wide the remark behind it stands on a line of its own ahead of it."""
    text, mark, remark = line.partition("  # ")
    if mark and cells(line) > width:
        lead = " " * (len(line) - len(line.lstrip(" ")))
        yield from wrapped(remark, width, f"{lead}# ", f"{lead}# ")
        yield text
    else:
        yield line


def _on_one_line(lines: Sequence[str]) -> str:
    """Lines of a file as its keys one behind the other: `parts: C1: rated: voltage: …`."""
    return " ".join(line.split("  # ")[0].strip() for line in lines)


def how_of(name: str, not_powered: str = "") -> str:
    """How somebody gets a fact, with its caution, or why it is withheld; empty when nobody wrote that down."""
    if name not in VOCABULARY:
        return ""
    how = VOCABULARY[name].how
    return given(how, how.does, not_powered)


def _cautions(facts: Sequence[Missing], assumed: Sequence[Assumed], not_powered: str) -> Iterator[str]:
    """What stands once under a list: why nothing is powered, the cautions of what is asked for, the common one."""
    if not_powered:
        yield f"Not to be powered: {plain(not_powered)}. What needs power is found on another sample, or from papers."
    every: tuple[Missing | Assumed, ...] = (*facts, *assumed)
    names = dict.fromkeys(one.name for one in every if one.name in VOCABULARY)
    hows = [VOCABULARY[name].how for name in names]
    yield from page_cautions({word for how in hows if not (not_powered and holds_back(how.does)) for word in how.does})
    yield CAUTION


def stopped_lines(path: str, width: int | None, told: str) -> Iterator[str]:
    """That the study of a design stopped at the most work it may take. told: what that leaves open"""
    told = f"the study stopped at the most work it may take: {told}"
    yield from ([f"{plain(path)}: note: {told}"] if width is None else wrapped(f"note: {told}", width, "", "  "))


def _head(fact: Missing | Assumed) -> str:
    name, subject = fact.name, fact.subject
    if not name and isinstance(fact.text, OpenFact):  # what is worked out, and waits for what is to be found
        name, subject = fact.text.name, fact.text.subject
    if name in VOCABULARY:
        words = quantity_words(name)
    elif isinstance(fact.text, OpenFact):  # a part of a fact, or a path: in words too, never by its name in the ledger
        words, subject = plain(fact.text.says), fact.text.subject
    else:
        return plain(fact.text)
    whose = str(subject) if subject is not None else ""
    return words if whose in ("", "supply") else f"{plain(whose)}: {words}"


def _settles(fact: Missing) -> str:
    waits = f"{number_of(len(fact.waiting), 'finding')} {'waits' if len(fact.waiting) == 1 else 'wait'}"
    if not fact.settles:
        return f"{waits}, none settled by this alone"
    heavy = [f"{count} {word}" for word in SEVERITIES if (count := sum(one.severity == word for one in fact.settles))]
    return f"{waits}, settles {', '.join(heavy)}"


def _passes(fact: Missing, joint: str) -> str:
    if fact.threshold is not None:
        dimension = DIMENSIONS[fact.name]
        at = ""
        if isinstance(fact.kind, Curve) and len(fact.kind.points) == 1:
            at = f" at {show(fact.kind.points[0][0], fact.kind.condition)}"
        end = "or less" if fact.threshold.down else "or more"
        return f"{joint}passes from {show(fact.threshold.number, dimension)}{at} {end}"
    if fact.words:
        return f"{joint}passes with {' or '.join(plain(one) for one in fact.words)}"
    return ""


def _depends(one: Assumed, not_powered: str) -> str:
    pieces = []
    if one.differ:
        differs = "differs" if len(one.differ) == 1 else "differ"
        pieces.append(f"{number_of(len(one.differ), 'verdict')} {differs} over what is assumed")
    if one.held_back:
        pieces.append(f"holds back {number_of(len(one.held_back), 'pass', 'passes')}")
    how = how_of(one.name, not_powered)
    return ", ".join(pieces) + (f". {how[:1].upper()}{how[1:]}" if how else "")


# How far a supply may be taken, in words: the end of each axis, what stops it there, the ratings that cure a fail.


_DIMENSIONS = {"A": CURRENT, "degC": CELSIUS, "V": VOLTAGE}
_SIDE = {"lowest mains": "down to", "highest mains": "up to", "output current": "up to", "ambient": "up to"}


def headroom_lines(
    path: str,
    ends: Sequence[Any],
    cures: Sequence[Any],
    unknown: int,
    width: int | None,
    failing: Sequence[Finding] = (),
    following: Any = None,
) -> Iterator[str]:
    """Ends (`derate.study.headroom.Headroom`) and cures (`derate.study.headroom.Cure`) of one design.

    following: the next values of its parts (`derate.study.headroom.NextValues`)
    unknown: how many findings that block are not assessed at the rated point, and so were left aside
    failing: those that fail and block there already: named once, and set aside as well
    """
    columns = width if width is not None else 10_000
    head = f"{plain(path)}: " if width is None else ""
    if unknown:
        told = (
            f"{number_of(unknown, 'finding')} that block are not assessed at the rated point and left aside, so no "
            f"end below is a rating: derate missing {plain(path)}"
        )
        yield from wrapped(f"{head}note: {told}", columns, "", "  ")
    if failing:
        names = [f"{one.rule} on {plain(str(one.subject))}" for one in failing]
        told = f"fail at the rated point already and set aside, so no end below is a rating: {listed(names, 100)}"
        yield from wrapped(f"{head}note: {told}", columns, "", "  ")
    for end in ends:
        style = STYLES[end.stops.verdict] if end.end is None and end.stops is not None else ""
        yield from styled(style, wrapped(f"{head}{_end(end, bool(unknown or failing))}", columns, "", "  "))
    for cure in cures:
        rating = f"{quantity_words(cure.name)} {known_text(cure.value, cure.name)} or more"
        yield from wrapped(
            f"{head}cure: {cure.finding.rule} on {plain(str(cure.finding.subject))} passes with {rating}",
            columns,
            "",
            "  ",
        )
    for line in _next_values(following) if following is not None else ():
        yield from wrapped(f"{head}{line}", columns, "", "  ")
    told = (
        "each end holds by itself, all else as rated; rises read at the marked current are carried to another between "
        "unchanged and its square, and the efficiency found at full load is taken along"
    )
    yield from wrapped(f"{head}note: {told}", columns, "", "  ")
    worked = "Worked out and not tried: no end is a permission to run it there."
    yield from wrapped(f"{head}note: {worked}", columns, "", "  ")
    yield from styled(CAUTION_STYLE, wrapped(CAUTION, columns))


def _end(end: Any, aside: bool) -> str:
    """One axis in words. aside: findings were left aside, so that where nothing stops it no figure may stand."""
    if end.end is None:
        about = f" ({_stops(end.stops)})" if end.stops is not None else ""
        return f"{end.name}: {end.why}{about}"
    dimension = _DIMENSIONS[end.axis.unit]
    rated = show(end.axis.rated, dimension)
    at = show(end.end, dimension, 4)
    side = _SIDE[end.name]
    if end.why and end.stops is None:
        return f"{end.name}: holds {side} {at} (rated {rated}); {end.why}"
    if end.open and aside:
        return f"{end.name}: no end found: nothing of what was judged stops it, and not all was"
    if end.open:
        return f"{end.name}: nothing that was judged stops it {side} {at} (rated {rated}), where looking ended"
    room = "no further than rated" if abs(end.end - end.axis.rated) < 1e-9 else f"{side} {at} (rated {rated})"
    where = f"; {end.why}, and what stops it lies further on: it" if end.why else "; then"
    return f"{end.name}: {room}{where} {_stops(end.stops)}"


_CHANGED = ("part", "winding", "transformer", "barrier")  # what somebody can change


def _stops(finding: Finding) -> str:
    named = f"{finding.rule} on {plain(str(finding.subject))}"
    if finding.verdict != "fail":
        waits = fact_words(finding.missing or finding.rests_on)
        return f"{named} gives no verdict{f': it waits for {listed(waits, 2)}' if waits else ''}"
    change = f"; to go further, change {plain(str(finding.subject))}" if finding.subject.kind in _CHANGED else ""
    return f"{named} fails{change}"


# What the next usual value of a part would bring.


def _next_values(following: Any) -> Iterator[str]:
    for one in following.found:
        parts = listed((plain(str(subject)) for subject in one.subjects), 4)
        first = one.changes[0]
        along = [
            f"{quantity_words(each.name)}{_of_some(each, one)} to {known_text(each.after, each.name)}"
            for each in one.changes
            if each.after is not None and each.name not in (first.name, "part.marked_capacitance")
        ]
        step = f"{quantity_words(first.name)} {_stepped_to(first.name, one.step.number)}"
        with_it = f" and with it {listed(along)}" if along else ""
        brings = listed((_brings(each, len(one.subjects) > 1) for each in one.brings), 4)
        worse = [
            f"{quantity_words(each.name)} of {plain(str(each.subject))} at switch-on or a restart, "
            f"{digits_of(each.factor)} times as much"
            for each in one.risen[:1]
        ]
        worse += [_worse(each) for each in one.worse]
        told = f"to the worse: {'; '.join(worse[:4])}" if worse else "nothing else that was judged moves to the worse"
        if len(worse) > 4:
            told += f"; and {len(worse) - 4} more"
        kept = f"; left as stated, to be read in its data sheet: {listed(map(quantity_words, one.kept), 3)}"
        yield (
            f"next value: {parts}: {step} ({plain(one.step.series)}; {plain(one.step.source)}){with_it}: {brings}; "
            f"{told}{kept if one.kept else ''}"
        )
    if following.without:
        names = [f"{one.rule} on {plain(str(one.subject))} ({quantity_words(name)})" for one, name in following.without]
        yield f"note: no usual next value is known of what these hang on: {listed(names, 4)}"
    if following.cut:
        left = listed((plain(str(one)) for one in following.cut), 6)
        yield f"note: the next values of these were not tried, beyond what one study may take: {left}"
    if following.found:
        yield "note: a next value is a question to the data sheet of another part, and no permission to fit one"


def _of_some(change: Any, following: Any) -> str:
    """Of which parts, where it is not of all that are stepped together."""
    if len(change.subjects) == len(following.subjects):
        return ""
    return f" of {listed(plain(str(subject)) for subject in change.subjects)}"


def _stepped_to(name: str, number: float) -> str:
    return show(number, DIMENSIONS[name])


def _brings(moved: Any, named: bool) -> str:
    before, after = moved.before, moved.after
    on = f" on {plain(str(before.subject))}" if named else ""
    would = f"would be {after.verdict}{_at(after)}" if after is not None else "would be judged no more"
    return f"{before.rule}{on} {would} (now {before.verdict}{_at(before)})"


def _worse(moved: Any) -> str:
    said = moved.after or moved.before
    where = f"{said.rule} on {plain(str(said.subject))}"
    if moved.after is None:
        return f"{where} judged no more"
    before = f" (now {moved.before.verdict}{_at(moved.before)})" if moved.before is not None else ""
    return f"{where} {moved.after.verdict}{_at(moved.after)}{before}"


def _at(finding: Finding) -> str:
    if finding.ratio is None:
        return ""
    return ", without bound" if finding.ratio == inf else f" at {digits_of(finding.ratio)} of its limit"


def headroom_json(
    path: str,
    ends: Sequence[Any],
    cures: Sequence[Any],
    following: Any,
    gate: Gate,
    unknown: int,
    failing: Sequence[Finding],
    stopped: bool,
) -> str:
    """The same as JSON in SI base units. stopped: at the most work a study may take"""
    from derate.report.machine import gate_data, known_data, subject_data, text_of

    def word(one: Finding | None) -> dict[str, Any] | None:
        if one is None:
            return None
        ratio = one.ratio if one.ratio is not None and one.ratio < inf else None
        about = {"rule": plain(one.rule), "subject": subject_data(one.subject)}
        return {**about, "verdict": one.verdict, "ratio": ratio, "severity": one.severity}

    def moved(one: Any) -> dict[str, Any]:
        return {"before": word(one.before), "after": word(one.after)}

    found = [
        {
            "subjects": [subject_data(subject) for subject in one.subjects],
            "series": plain(one.step.series),
            "source": plain(one.step.source),
            "changes": [
                {
                    "subjects": [subject_data(subject) for subject in each.subjects],
                    "quantity": each.name,
                    "unit": unit_of(each.name),
                    "before": known_data(each.before),
                    "after": known_data(each.after),
                }
                for each in one.changes
            ],
            "brings": [moved(each) for each in one.brings],
            "worse": [moved(each) for each in one.worse],
            "inrush": [
                {"subject": subject_data(each.subject), "quantity": each.name, "factor": each.factor}
                for each in one.risen
            ],
            "left_as_stated": list(one.kept),
        }
        for one in following.found
    ]
    return text_of(
        {
            "derate": 1,
            "caution": CAUTION,
            "design": plain(path),
            "gate": gate_data(gate),
            "not_assessed": unknown,
            "failing": [word(one) for one in failing],
            "stopped": stopped,
            "ends": [
                {
                    "axis": one.name,
                    "unit": one.axis.unit if one.axis is not None else "",
                    "rated": one.axis.rated if one.axis is not None else None,
                    "end": one.end,
                    "open": one.open,
                    "stops": word(one.stops),
                    "why": plain(one.why),
                }
                for one in ends
            ],
            "cures": [
                {
                    "finding": word(one.finding),
                    "quantity": one.name,
                    "unit": unit_of(one.name),
                    "least": known_data(one.value),
                }
                for one in cures
            ],
            "next_values": found,
            "without_next_value": [{"finding": word(one), "quantity": name} for one, name in following.without],
            "not_tried": [subject_data(one) for one in following.cut],
        }
    )


# A capture in words: its figures, what they were held against, and the reading to write into the design.


_CAUTION = " ".join(("A mains input is live throughout.", *page_cautions(("probed",)), CAUTION))


def capture_lines(compared: Any, width: int | None) -> Iterator[str]:
    """One capture (`derate.study.capture.Compared`) as text. width: columns to wrap at, None for a pipe."""
    event, capture = compared.event, compared.capture
    unit = CURRENT if capture.quantity == "current" else VOLTAGE
    columns = width if width is not None else 10_000
    where = capture.condition
    at = f", {plain(where.switch_on)}" if where is not None and where.switch_on else ""
    at += called(capture.sample, capture.retest)
    yield Line(f"{plain(capture.path)}: {capture.quantity} of {plain(capture.target)}{at}", HEADING)
    rows = [("peak", show(event.peak, unit)), ("rms over the window", show(event.rms, unit))]
    if unit == CURRENT:
        rows += [("I²t", show(event.i2t, I2T)), ("equivalent width", show(event.width, TIME))]
    if compared.energy is not None:
        rows.append(("energy in the part", show_value(compared.energy, ENERGY)))
    rows.append(
        ("window", f"{show(event.duration, TIME)}, {event.samples} samples, {show(event.interval, TIME)} apart")
    )
    for name, text in rows:
        yield f"  {name}: {text}"
    for held in compared.held:
        dimension = DIMENSIONS[held.quantity]
        read = show_value(held.captured, dimension)
        row = held.computed
        if row is None:
            told = "nothing is worked out for it at this condition"
        elif not isinstance(row.value, Value):
            told = f"not worked out: {listed_facts(row.missing) or row.note}"
        else:
            word = "agrees with" if held.agrees else "is beyond both tolerances of"
            told = f"{word} {show_value(row.value, dimension)} worked out"
        style = "" if held.agrees is None else STYLES["pass" if held.agrees else "fail"]
        yield from styled(style, wrapped(f"{quantity_words(held.quantity)}: {read} {told}", columns, "  ", "    "))
    for says in compared.says:
        yield from wrapped(f"note: {says}", columns, "  ", "    ")
    yield from wrapped(f"to be judged, write beside `at`: {reading_text(compared)}", columns, "  ", "    ")


def reading_text(compared: Any) -> str:
    """The figures as a reading of the design, with the uncertainty used."""
    event, capture = compared.event, compared.capture
    percent = f" {100 * compared.uncertainty:.3g}%" if compared.uncertainty else ""
    double = f" {200 * compared.uncertainty:.3g}%" if compared.uncertainty else ""
    bound = "over " if event.in_doubt else ""
    percent, double = ("", "") if bound else (percent, double)
    if capture.quantity != "current":
        return f"voltage_peak: {{{capture.target}: {bound}{event.peak:.4g} V{percent}}}"
    return (
        f"current_peak: {{{capture.target}: {bound}{event.peak:.4g} A{percent}}}, "
        f"i2t: {{{capture.target}: {bound}{event.i2t:.4g} A²s{double}}}"
    )


def caution_lines(width: int | None) -> Iterator[str]:
    """The caution that stands under every capture."""
    yield from styled(CAUTION_STYLE, wrapped(_CAUTION, width if width is not None else 10_000))
