"""Leaves of a design file, moved to their bad side as a person would write them, and what is worse afterwards.

A leaf is one value of the file; a table of a rating is one leaf, all of its points moved together. A figure is moved by
5 %, by 30 %, twofold, tenfold and a hundredfold, to the side that its term calls bad, to both where none does; a word
becomes every other word of its list, an outcome of a test every adverse one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from math import inf
from typing import NamedTuple

import yaml
from law_bench import Base, Bench, composed

from derate.judge.heard import ASKED, heard
from derate.judge.review import Finding, Review
from derate.ledger.entry import Subject
from derate.ledger.recorded import RecordingLedger
from derate.study.hearing import unused
from derate.terms.dimension import Term
from derate.terms.part_terms import LIMITS
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import RESULTS, meaning_of

STEPS = (1.05, 1.3, 2.0, 10.0, 100.0)
# Facts whose term calls one side bad, or none, and that have two: too small is as wrong as too large.
BOTH_WAYS = ("rated.current", "part.capacitance", "part.inductance", "part.resistance", "found.capacitance")
Trail = tuple[str, ...]
Span = tuple[int, int]  # of the text of one scalar


class Leaf(NamedTuple):
    """One leaf: its keys, its term where it has one, the texts of its scalars with where they stand."""

    trail: Trail
    term: Term | None
    texts: tuple[tuple[Span, str], ...]
    lines: tuple[tuple[int, int], ...]  # line and column of each scalar, and of the table

    @property
    def name(self) -> str:
        """Its keys as `derate lint --all` writes them."""
        return ".".join(self.trail)


class Move(NamedTuple):
    """One move: which way, how far, and the texts in place of those that stood there."""

    way: str
    step: float
    texts: tuple[str, ...]


def leaves(text: str) -> Iterator[Leaf]:
    """Every leaf of a file."""
    yield from _leaves(composed(text), ())


def _leaves(node: yaml.Node, trail: Trail) -> Iterator[Leaf]:
    if isinstance(node, yaml.MappingNode):
        table = _is_table(trail, node)
        if table is not None:
            yield table
            return
        for key, value in node.value:
            yield from _leaves(value, (*trail, key.value))
    elif isinstance(node, yaml.SequenceNode):
        for number, item in enumerate(node.value):
            yield from _leaves(item, (*trail, str(number)))
    else:
        yield Leaf(trail, term_of(trail), (_scalar(node),), (_at(node),))


def _scalar(node: yaml.Node) -> tuple[Span, str]:
    return (node.start_mark.index, node.end_mark.index), str(node.value)


def _at(node: yaml.Node) -> tuple[int, int]:
    return node.start_mark.line + 1, node.start_mark.column + 1


def _is_table(trail: Trail, node: yaml.MappingNode) -> Leaf | None:
    term = term_of(trail)
    if term is None or term.over is None:
        return None
    scalars = [value for _, value in node.value if isinstance(value, yaml.ScalarNode)]
    if len(scalars) != len(node.value):
        return None
    return Leaf(trail, term, tuple(map(_scalar, scalars)), (_at(node), *map(_at, scalars)))


_BLOCKS = {"rated": "rated", "found": "found", "mounting": "mounting"}
_BARRIER = {
    "sheet.thickness": "found.insulation_thickness",
    "sheet.fixed": "barrier.sheet_fixed",
    "board.material_group": "barrier.material_group",
    "slot.width": "barrier.slot_width",
}


def term_of(trail: Trail) -> Term | None:
    """The term of a leaf by its keys, None where it is no fact of the vocabulary."""
    if not trail:
        return None
    block, *rest = trail
    key = ".".join(rest[1:])
    names: tuple[str, ...] = ()
    if block == "supply" and rest:
        last = rest[-1]
        names = (f"supply.{last}",) if rest[0] != "plate" else (f"plate.{last}", f"port.{last}")
    elif block == "site" and rest:
        names = (f"site.{rest[0]}",)
    elif block == "inspection" and rest:
        names = (f"inspection.{rest[0].replace(' ', '_')}",)
    elif block == "parts" and len(rest) > 1:
        names = (f"part.{key}",) if rest[1] not in _BLOCKS else (f"{rest[1]}.{rest[2]}",) if len(rest) > 2 else ()
    elif block == "transformers" and len(rest) > 1:
        head = {"core": "core", "windings": "winding"}.get(rest[1], "transformer")
        names = (f"{head}.{rest[-1]}",)
    elif block == "barriers" and len(rest) > 1:
        names = (_BARRIER.get(key, ""), f"found.{key}", f"barrier.{key}")
    elif block == "circuit" and len(rest) > 1:
        names = (f"{rest[0]}.{rest[-1]}",)
    return next((VOCABULARY[name] for name in names if name in VOCABULARY), None)


_NUMBER = re.compile(r"(?<![A-Za-z\d])(?<!(?<!\.)\.)-?\d+(?:\.\d+)?")
_BRACKET = re.compile(r"(.*?)(\s*\([^()]*\)\s*)?", re.DOTALL)


def _parts(text: str) -> tuple[str, str]:
    found = _BRACKET.fullmatch(text)
    assert found is not None
    return found[1], found[2] or ""


def scaled(text: str, factor: float, only: int | None = None) -> str | None:
    """A figure times a factor, its tolerance and its condition left alone; None where there is none.

    only: the number of the one figure of a short form that is moved
    """
    body, bracket = _parts(text)
    found = list(_NUMBER.finditer(body))
    plain = [one for one in found if not re.match(r"\s*%", body[one.end() :])]
    share = bool(found) and not plain  # `66..70%`: the figure itself is a share
    moved = plain or found
    if share or (len(plain) == 1 and re.match(r"\.\.\d[\d.]*\s*%", body[plain[0].end() :])):
        moved = found
    moved = [one for one in moved if not body[: one.start()].endswith("at ")]
    if only is not None:
        moved = moved[only : only + 1]
    if not moved or any(re.match(r"[/\-]\d", body[one.end() :]) for one in moved):
        return None
    out, last = "", 0
    for one in moved:
        out += body[last : one.start()] + f"{float(one[0]) * factor:.12f}".rstrip("0").rstrip(".")
        last = one.end()
    return out + body[last:] + bracket


def moves(leaf: Leaf) -> tuple[Move, ...]:
    """Every move of a leaf to its bad side, each way in the order of its steps; empty where nothing can be moved."""
    texts = tuple(text for _, text in leaf.texts)
    term, plain = leaf.term, _parts(texts[0])[0].strip()
    if leaf.trail[0] == "tests" and leaf.trail[-1] == "result":
        return ()  # by kind of test, `outcomes`
    if plain == "unknown" or leaf.trail[0] in ("waivers", "open_points", "packs", "known_by"):
        return ()  # what is signed for and what packs are in use have laws of their own (`test_blocking_law`)
    if term is not None and term.name.endswith("pollution_degree"):
        return tuple(Move(degree, 1.0, (degree,)) for degree in ("3", "4") if degree != plain)
    if term is not None and term.words:
        bracket = _parts(texts[0])[1]
        return tuple(Move(word, 1.0, (word + bracket,)) for word in term.words if word != plain)
    if plain in ("unknown", "none", "not done") and leaf.trail[0] != "inspection":
        return ()  # nothing is stated that could be worse
    if leaf.trail[0] == "inspection" and plain in ("none", "no"):
        return (Move("found", 1.0, ("seen at the edge",)),)
    if leaf.trail[0] == "parts" and len(leaf.trail) == 2:  # a short form: each of its figures by itself, both ways
        return tuple(_short_form(texts[0]))
    bad = term.bad if term is not None and term.name not in BOTH_WAYS else 0
    if term is None and leaf.trail[0] == "readings" and leaf.trail[-2] != "at":
        bad = -1 if leaf.trail[2].endswith("_min") else 1
    found = []
    for way in (bad,) if bad else (1, -1):
        for step in STEPS:
            new = tuple(scaled(text, step**way) or "" for text in texts)
            if all(new) and new != texts:
                found.append(Move("more" if way > 0 else "less", step, new))
    return tuple(found)


def _short_form(text: str) -> Iterator[Move]:
    count = len(_NUMBER.findall(_parts(text)[0]))
    for number in range(count):
        for way in (1, -1):
            for step in STEPS:
                new = scaled(text, step**way, number)
                if new and new != text:
                    yield Move(f"figure {number + 1}, {'more' if way > 0 else 'less'}", step, (new,))


def outcomes(test: str) -> tuple[str, ...]:
    """The adverse outcomes of a kind of test."""
    return tuple(word for word in RESULTS if meaning_of(test, word) == "adverse")


def written_with(text: str, leaf: Leaf, new: tuple[str, ...]) -> str:
    """The file with other texts in a leaf."""
    for (span, _), one in sorted(zip(leaf.texts, new, strict=True), reverse=True):
        text = text[: span[0]] + '"' + one.replace("\\", "\\\\").replace('"', '\\"') + '"' + text[span[1] :]
    return text


RANK: Mapping[str, int] = {"not applicable": 0, "pass": 0, "marginal": 1, "not assessed": 2, "fail": 3}
Key = tuple[str, str, Subject]


def key_of(finding: Finding) -> Key:
    """What makes a finding the same in two reviews."""
    return finding.rule, finding.pack, finding.subject


def worse(before: Review, after: Review) -> list[Finding]:
    """Findings with a worse word, or over their limit by more, or that were not there and do not hold."""
    old = {key_of(one): one for one in before.findings}
    found = []
    for one in after.findings:
        was = old.get(key_of(one))
        if was is None:
            if RANK[one.verdict]:
                found.append(one)
        elif RANK[one.verdict] > RANK[was.verdict]:
            found.append(one)
        elif one.verdict == was.verdict and one.ratio is not None and was.ratio is not None:
            if one.ratio > was.ratio * (1 + 1e-9):
                found.append(one)
    return found


def changed(before: Review, after: Review) -> bool:
    """Whether any finding came, went or has another word."""
    return {(key_of(one), one.verdict) for one in before.findings} != {
        (key_of(one), one.verdict) for one in after.findings
    }


def _side_by_side(leaf: Leaf) -> Iterator[tuple[tuple[int, int], tuple[Span, str]]]:
    """Each text with its place; the place of a table itself stands ahead of those of its points."""
    return zip(leaf.lines[-len(leaf.texts) :], leaf.texts, strict=True)


class Lab(Base):
    """A design whose leaves are asked: what each of them led to, and what of it is told as unused."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self.unused = {one.name: one for one in unused(self.work, self.review)}
        self._used = self._findings_of(self.ledger)

    def _findings_of(self, ledger: RecordingLedger) -> dict[tuple[int, int], list[Finding]]:
        """The findings that each place of the file led to."""
        found: dict[tuple[int, int], list[Finding]] = {}
        for one in self.review.findings:
            for place in {one.place, *(ledger[number].place for number in heard(ledger, [one]))}:
                if place is not None:
                    found.setdefault((place.line, place.column), []).append(one)
        return found

    def led_to(self, leaf: Leaf) -> list[Finding]:
        """The findings that a leaf led to; a short form has a place for each of its figures."""
        ends = {line: column + end - start for (line, column), ((start, end), _) in _side_by_side(leaf)}
        first, begins = leaf.lines[0]
        found = []
        for (line, column), findings in self._used.items():
            if (line, column) in leaf.lines or line == first and begins <= column <= ends.get(line, 0):
                found += findings
        return found

    def about(self, leaf: Leaf, findings: list[Finding]) -> list[Finding]:
        """Those of the hazards that the leaf led to, where it led to any."""
        hazards = {one.hazard for one in self.led_to(leaf)}
        return [one for one in findings if not hazards or one.hazard in hazards]

    def waits(self, leaf: Leaf) -> bool:
        """Whether all that a leaf led to is not assessed anyway, or fails in a way that cannot get worse."""
        found = [one for one in self.led_to(leaf) if one.verdict != "not applicable"]
        return bool(found) and all(
            one.verdict == "not assessed" or one.verdict == "fail" and one.ratio in (None, inf) for one in found
        )

    def told(self, leaf: Leaf) -> str:
        """The reason that `derate lint --all` gives for a leaf, '' where it lists none."""
        for name in _names(leaf.trail):
            if name in self.unused:
                return self.unused[name].reason
            if len(leaf.trail) == 2:  # a short form, whose figures are listed one by one
                told = [one.reason for key, one in self.unused.items() if key.startswith(f"{name}.")]
                if told:
                    return told[0]
        if leaf.term is not None and leaf.term.name in LIMITS and leaf.trail[0] == "parts":
            parts = leaf.trail[1].split(", ")
            for one in self.review.findings:
                if one.rule == ASKED and one.subject.names[0] in parts:
                    return one.message
        return ""


def _names(trail: Trail) -> Iterator[str]:
    """The names under which a leaf may be listed: by part where one entry is of several, whole where it is a list."""
    for whole in (trail, trail[:-1]):
        if len(whole) > 1:
            for first in whole[1].split(", "):
                yield ".".join((whole[0], first, *whole[2:]))
            yield ".".join(whole).replace(" ", "_")
