"""What an editor shows of a design: diagnostics at their place, the words of a hover, names to choose from, edits.

Lines and columns count from nought here, columns in characters; `server.py` turns them into the units of the protocol.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from derate.design.kinds import KIND_WORDS
from derate.design.load import Design
from derate.editor.desk import State
from derate.editor.keys import Spot, keys_at, spot_at, words_at
from derate.editor.of_kinds import ahead
from derate.judge.review import Finding
from derate.judge.verdict import word_of
from derate.ledger.entry import OpenFact
from derate.report.circuit.joined import about, read_at, value_of
from derate.report.gather import body, sentence
from derate.report.ledger import chosen, governing
from derate.report.words import entry_words, figure, plain, quantity_words, sides, times
from derate.study.missing import topology_word
from derate.study.paste import SLOT, lines_for
from derate.terms.values import Category, Place
from derate.terms.words import ATTENTION, OVERALLS
from derate.text.spans import Span, spans_of

Weight = Literal["error", "warning", "information"]
_MOST_ROWS, _MOST_FINDINGS = 16, 12
_TOKEN = re.compile(r"[^,{}\[\]#\n]+")
_NAME = re.compile(r"[^\W\d_][\w-]*(?:\.[\w-]+)?")
_KEY = re.compile(r"^(\s*(?:- )?)([^\s:#][^:#]*):(?:\s|$)")


class At(NamedTuple):
    """A stretch of one line: line, from, to (behind the last character)."""

    line: int
    start: int
    end: int


class Diagnostic(NamedTuple):
    """One thing to look at. finding: what it is about, None for what cannot be read"""

    at: At
    weight: Weight
    code: str
    message: str
    finding: Finding | None = None


class Edit(NamedTuple):
    """Text put in at one place, and what that is called."""

    title: str
    line: int
    column: int
    text: str


class Choice(NamedTuple):
    """One thing to choose from. such: of a key an example of its value"""

    text: str
    kind: Literal["part", "winding", "output", "condition", "rule", "word", "key"]
    says: str
    such: str = ""


def diagnostics(state: State, path: str) -> tuple[Diagnostic, ...]:
    """Everything somebody has to look at, in the order of the file. What cannot be read stands alone."""
    lines = state.text.split("\n")
    if state.problems:
        found = [
            Diagnostic(
                _stretch(one.place, path, lines),
                "error",
                "",
                _elsewhere(one.place, path) + one.what + (f"; {one.instead}" if one.instead else ""),
            )
            for one in state.problems
        ]
        return tuple(sorted(found, key=lambda one: one.at))
    findings = state.review.findings if state.review is not None else ()
    told = [_diagnostic(one, path, lines) for one in findings if one.verdict in ATTENTION]
    return tuple(sorted(told, key=lambda one: (one.at, one.code, one.message)))


def _diagnostic(one: Finding, path: str, lines: list[str]) -> Diagnostic:
    weight: Weight = "error" if one.blocks and one.verdict == "fail" else "warning" if one.blocks else "information"
    if one.verdict == "marginal" or one.verdict == "fail" and not one.blocks:
        weight = "warning"
    said = f"{one.subject}: {one.verdict}, {one.severity}: {sentence(body(one))}"
    cure = f" {sentence(one.remedy)}" if one.remedy else ""
    return Diagnostic(
        _stretch(one.place, path, lines), weight, one.rule, _elsewhere(one.place, path) + plain(said + cure), one
    )


def _elsewhere(place: Place, path: str) -> str:
    return f"{place}: " if place.path and place.path != path else ""


def _stretch(place: Place, path: str, lines: list[str]) -> At:
    """What stands at a place; the first line of the file for what stands in another."""
    if place.path != path or not 0 < place.line <= len(lines):
        return At(0, 0, len(lines[0]))
    line, start = lines[place.line - 1], min(place.column - 1, len(lines[place.line - 1]))
    found = _TOKEN.match(line, start)
    end = start + len(found[0].rstrip()) if found is not None else start
    return At(place.line - 1, start, max(end, min(start + 1, len(line))))


# Hover: a part with its stresses and limits.


def name_at(text: str, line: int, column: int) -> tuple[str, At] | None:
    """The name at a position: a part, or TRANSFORMER.WINDING."""
    lines = text.split("\n")
    if not 0 <= line < len(lines):
        return None
    for found in _NAME.finditer(lines[line]):
        if found.start() <= column <= found.end():
            return found[0], At(line, found.start(), found.end())
    return None


def hover(state: State, line: int, column: int) -> tuple[str, At] | None:
    """What is known of the part at a position, as Markdown; None where no part stands there."""
    found = name_at(state.text, line, column)
    if found is None or state.work is None or state.review is None:
        return None
    name, at = found
    design = state.work.design
    for one in (name, name.partition(".")[0]):
        if one in design.file.parts or one in design.structure.windings or one in design.file.transformers:
            return "\n".join(_hover_lines(state, one)), at
    return None


def _hover_lines(state: State, name: str) -> Iterator[str]:
    assert state.work is not None and state.review is not None
    design, ledger = state.work.design, state.work.ledger
    part = design.file.parts.get(name)
    kinds = design.structure.kinds.get(name, ())
    kind = (
        kinds[0]
        if len(kinds) == 1
        else "kind not known"
        if part is not None
        else "winding"
        if "." in name
        else "transformer"
    )
    where = design.structure.places.get(name, "")
    value = value_of(part, kinds) if part is not None else ""
    yield f"**{name}** {', '.join(one for one in (kind, value, where) if one)}"
    if state.problems:
        yield ""
        yield "As of the last text that could be read."
    of = about(state.review, read_at(design))
    findings = [one for one in of.get(name, ()) if word_of(one) is not None]
    findings.sort(key=lambda one: (OVERALLS.index(word_of(one) or "pass"), -(one.ratio or 0.0)))
    if findings:
        yield ""
    for one in findings[:_MOST_FINDINGS]:
        yield f"- {one.verdict}: {one.rule}{_against(one)}"
    if len(findings) > _MOST_FINDINGS:
        yield f"- and {len(findings) - _MOST_FINDINGS} more"
    rows = governing(chosen(ledger.entries, part=name))
    if rows:
        yield ""
        yield "| stress | value | case |"
        yield "|---|---|---|"
    for row in rows[:_MOST_ROWS]:
        entry = row.entry
        case = f"{entry.case}" if entry.case is not None else ""
        yield f"| {quantity_words(entry.quantity)} | {plain(entry_words(entry))} | {plain(case)} |"
    if len(rows) > _MOST_ROWS:
        yield ""
        yield f"{len(rows) - _MOST_ROWS} entries more: `derate stress {plain(design.path)} --part {name}`"
    if not findings and not rows:
        yield ""
        yield "No rule gave a verdict on it, and no stress is worked out."


def _against(one: Finding) -> str:
    if one.stress is None or one.limit is None or one.ratio is None:
        return ""
    named = sides(one.stress, one.limit, one.ratio)
    return f": {figure(one.stress, one.unit)} against {figure(one.limit, one.unit)}, {times(one.ratio, named.second)}"


def defined_at(state: State, line: int, column: int) -> Place | None:
    """Where a part is written down: the line of its library for a name taken from one, else that of the file."""
    found = name_at(state.text, line, column)
    if found is None or state.work is None:
        return None
    design, name = state.work.design, found[0].partition(".")[0]
    origins = {one.part: one.was for one in design.library.origins} if design.library is not None else {}
    part = design.file.parts.get(name)
    if part is not None:
        own = part.kind.place
        return origins.get(name) if name in origins and own.line == line + 1 else origins.get(name, own)
    lines = state.text.split("\n")
    for number, text in enumerate(lines):
        if re.match(rf"\s+{re.escape(name)}\s*:", text):
            return Place(design.path, number + 1, len(text) - len(text.lstrip()) + 1)
    return None


# Keys, words and names to choose from, by where somebody types.

_NO_PATHS = ("control", "bridging", "earth", "ports", "sharing", "input")  # of the circuit, walked by nobody
_STEPS = (
    ("across", "from here to the return: across C1"),
    ("in neutral", "in the other conductor: in neutral F2"),
    ("to earth", "from here to earth: to earth CY1"),
)


def choices(state: State, line: int, column: int, text: str | None = None) -> tuple[Choice, ...]:
    """What may stand at a position: keys that the block does not have yet, words of closed lists, names of this file.

    text: as it is now, where that has not been judged yet
    """
    spot = spot_at(state.text if text is None else text, line, column)
    if spot.key:
        keys = _keys(spot, state.text if text is None else text)
        return (*keys, *(one for one in _names_as_keys(state, spot) if one.text not in spot.there))
    words = tuple(Choice(one.text, "word", one.says) for one in words_at(spot))
    return words or tuple(_names(state, spot))


def _keys(spot: Spot, text: str) -> tuple[Choice, ...]:
    """Keys of the format: those that the kind of the part or the topology of the file takes ahead of the others."""
    offered, own = keys_at(spot), ahead(text, spot.path)
    if not own:
        return tuple(Choice(one.text, "key", one.says, one.such) for one in offered)
    other = "of another topology" if spot.path == ("circuit",) else "of another kind of part"
    first = [Choice(one.text, "key", one.says, one.such) for one in offered if one.text in own]
    rest = [Choice(one.text, "key", f"{other}: {one.says}", one.such) for one in offered if one.text not in own]
    return (*first, *rest)


def _names_as_keys(state: State, spot: Spot) -> Iterator[Choice]:
    """Names that a reading has for keys: parts of a temperature, outputs of a voltage."""
    if state.work is None or len(spot.path) < 2 or spot.path[0] != "readings":
        return
    design, last = state.work.design, spot.path[-1]
    if last in ("case_temperature", "winding_temperature", "current", "voltage", "ripple"):
        if last not in ("case_temperature", "winding_temperature"):
            yield from _outputs(design)
        if last not in ("ripple",):
            yield from _parts(design)


def _names(state: State, spot: Spot) -> Iterator[Choice]:
    """Names that the value of a position may be one of."""
    if state.work is None or not spot.path:
        return
    design, top, last = state.work.design, spot.path[0], spot.path[-1]
    if last == "rule":
        yield from (Choice(one.name, "rule", plain(one.says)) for one in state.work.packs.rules)
    elif last in ("at", "conditions"):
        yield from (Choice(name, "condition", "condition of this file") for name in design.file.conditions)
    elif last == "kind" or (top == "parts" and len(spot.path) == 2):
        yield from (Choice(word, "word", "kind of part") for word in KIND_WORDS)
    elif last in ("senses", "output", "coupler_supply", "from"):
        yield from _outputs(design)
        yield from _windings(design) if last == "senses" else ()
    elif top == "circuit" and len(spot.path) == 2 and last not in _NO_PATHS:
        yield from _parts(design)
        yield from _windings(design)
        yield from (Choice(word, "word", says) for word, says in _STEPS)
    elif top == "circuit" or last in ("part", "parts", "case_temperature", "current", "fault"):
        yield from _parts(design)
        yield from _windings(design)
    elif last == "between":
        words = ("line", "neutral", "primary", "secondary", "earth", "touchable")
        yield from (Choice(word, "word", "circuit") for word in words)


def _parts(design: Design) -> Iterator[Choice]:
    for name, part in design.file.parts.items():
        kinds = design.structure.kinds.get(name, ())
        says = " ".join(one for one in (kinds[0] if len(kinds) == 1 else "part", value_of(part, kinds)) if one)
        yield Choice(name, "part", says)


def _windings(design: Design) -> Iterator[Choice]:
    for name in design.structure.windings:
        yield Choice(name, "winding", "winding")


def _outputs(design: Design) -> Iterator[Choice]:
    for name in dict.fromkeys((*design.file.supply.plate.outputs, *design.structure.outputs)):
        yield Choice(name, "output", "output")


# What `missing` would have pasted, put where it belongs.


def pastes(state: State, finding: Finding) -> tuple[Edit, ...]:
    """For each fact that a finding waits for the lines that give it, with a slot that the reader refuses."""
    if state.work is None:
        return ()
    edits = []
    for fact in dict.fromkeys(finding.missing or finding.rests_on):
        lines = _lines_of(state, fact)
        edit = put_in(state.text, lines) if lines else None
        if edit is not None:
            edits.append(edit._replace(title=f"write {plain(str(fact))}"))
    return tuple(edits)


def _lines_of(state: State, fact: OpenFact) -> tuple[str, ...]:
    assert state.work is not None
    subject = fact.subject
    if subject is None:
        return ()
    row = state.work.ledger.find(subject, "part.kind") if subject.kind == "part" else None
    kind = str(row.value) if row is not None and isinstance(row.value, Category) else ""
    return lines_for(fact.quantity, subject, kind, topology_word(state.work.ledger))


def put_in(text: str, lines: Iterable[str]) -> Edit | None:
    """Lines of a file put into a text where their keys lead; None where something else stands there already.

    An entry that stands in braces is added to inside them, without the comment; what is a list gets one more entry.
    """
    root = spans_of(text)
    rest = list(lines)
    if root is None or root.kind != "mapping":
        return None
    at, left = root, rest
    while left:
        key = _KEY.match(left[0])
        if key is None:
            break
        name = key[2].strip()
        inside = next((span for own, span in at.entries if name in [one.strip() for one in own.split(",")]), None)
        if inside is None:
            break
        if len(left) == 1 or inside.kind == "scalar" and inside.text:
            return None  # the value stands there, or the short form of a part
        left = left[1:]
        at = inside
        if at.kind == "list":
            break
    return _put(text, at, left) if left else None


def _put(text: str, at: Span, lines: list[str]) -> Edit | None:
    depth = len(lines[0]) - len(lines[0].lstrip())
    if at.flow:
        if at.kind != "mapping":
            return None
        inner = _flow([line[depth:] for line in lines])
        end = at.end - 1
        before = text[:end].rstrip()
        joint = "" if before.endswith(("{", ",")) else ", "
        return _edit(text, len(before), f"{joint}{inner}")
    column = at.column if at.entries or at.items else depth
    end = text.find("\n", at.last)
    end = len(text) if end < 0 else end
    body = "".join(f"\n{' ' * column}{line[depth:]}" for line in lines)
    return _edit(text, end, body)


def _flow(lines: list[str]) -> str:
    """Nested lines in one: `rated:` and `  voltage: …` as `rated: {voltage: …}`."""
    plain_lines = [re.sub(r"\s+#.*", "", line) for line in lines]
    head = plain_lines[0].strip()
    if len(lines) == 1:
        return head
    return f"{head} {{{_flow(plain_lines[1:])}}}" if not head.startswith("- ") else head


def _edit(text: str, offset: int, added: str) -> Edit:
    line = text.count("\n", 0, offset)
    return Edit("", line, offset - (text.rfind("\n", 0, offset) + 1), added)


__all__ = [
    "SLOT",
    "At",
    "Choice",
    "Diagnostic",
    "Edit",
    "choices",
    "defined_at",
    "diagnostics",
    "hover",
    "pastes",
    "put_in",
]
