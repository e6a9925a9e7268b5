"""Leaves of a design file, moved to their bad side as a person would write them, and what is worse afterwards.

A leaf is one value of the file; a table of a rating is one leaf, all of its points moved together. A figure is moved by
5 %, by 30 %, twofold, tenfold and a hundredfold, to the side that its term calls bad, to both where none does; a word
becomes every other word of its list, an outcome of a test every adverse one.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterator, Mapping
from math import inf
from typing import NamedTuple

import yaml
from law_bench import Base, Bench, composed

from derate.design.kinds import KIND_WORDS, possible, split_kind
from derate.judge.heard import ASKED, heard
from derate.judge.review import Finding, Review
from derate.ledger.entry import SUPPLY, Subject
from derate.ledger.ledger import Ledger
from derate.ledger.recorded import RecordingLedger
from derate.study.hearing import unused
from derate.terms.dimension import Term
from derate.terms.part_terms import LIMITS
from derate.terms.quantities import BROWN_OUT
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import RESULTS, meaning_of

# What is signed for, what packs are in use and which edition it is written in have laws of their own.
NOT_OF_THE_SUPPLY = ("derate", "revision_of", "waivers", "open_points", "packs")
STEPS = (1.05, 1.3, 2.0, 10.0, 100.0)
FAR = (1e3, 1e4, 1e5)  # of a fact that something uses and that no step so far made worse: how much it bears
# Facts whose term calls one side bad, or none, and that have two: too small is as wrong as too large.
BOTH_WAYS = (
    "rated.current",
    "part.capacitance",
    "part.inductance",
    "part.resistance",
    "found.capacitance",
    "supply.runs_down_to",  # draws more where it goes on lower, and stops too soon where it does not
    "rated.series_resistance",  # ripple asks for little; how worn a sample is, is told from it
    "rated.end_of_life_resistance_ratio",
    "rated.end_of_life_capacitance_change",
)
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


def moves(leaf: Leaf, steps: tuple[float, ...] = STEPS) -> tuple[Move, ...]:
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
        return tuple(_short_form(texts[0], steps))
    bad = term.bad if term is not None and term.name not in BOTH_WAYS else 0
    if term is None and leaf.trail[0] == "readings" and leaf.trail[-2] != "at":
        bad = -1 if leaf.trail[2].endswith("_min") else 1
    found = []
    for way in (bad,) if bad else (1, -1):
        for step in steps:
            new = tuple(scaled(text, step**way) or "" for text in texts)
            if all(new) and new != texts:
                found.append(Move("more" if way > 0 else "less", step, new))
    return tuple(found)


def _short_form(text: str, steps: tuple[float, ...]) -> Iterator[Move]:
    count = len(_NUMBER.findall(_parts(text)[0]))
    for number in range(count):
        for way in (1, -1):
            for step in steps:
                new = scaled(text, step**way, number)
                if new and new != text:
                    yield Move(f"figure {number + 1}, {'more' if way > 0 else 'less'}", step, (new,))


def losses(leaf: Leaf) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Every way in which a leaf may say less: unknown, a figure as a wider range, a kind as a vaguer one."""
    texts = tuple(text for _, text in leaf.texts)
    if leaf.trail[0] in NOT_OF_THE_SUPPLY:
        return
    yield "unknown", ("unknown",) * len(texts)
    for share in (0.03, 0.5):
        new = tuple(widened(text, share) or "" for text in texts)
        if all(new) and new != texts:
            yield f"wider by {share}", new
    if leaf.trail[0] == "parts" and (len(leaf.trail) == 2 or leaf.trail[2] == "kind"):
        found = split_kind(texts[0])
        of = possible(found[0]) if found is not None else ()
        for word in KIND_WORDS if found is not None else ():
            if set(of) < set(possible(word)):
                assert found is not None
                yield word, (f"{word} {found[1]}".strip(),)


def widened(text: str, share: float) -> str | None:
    """A figure as the range that lies so much to either side of it; None where there is none."""
    body, bracket = _parts(text)
    plain = [one for one in _NUMBER.finditer(body) if not re.match(r"\s*%", body[one.end() :])]
    plain = [one for one in plain if not body[: one.start()].endswith("at ")]
    if not plain or any(re.match(r"[/\-]\d", body[one.end() :]) for one in plain):
        return None
    ends = [float(one[0]) for one in plain]
    low, high = (f"{end + way * abs(end) * share:g}" for end, way in ((ends[0], -1), (ends[-1], 1)))
    first, last = plain[0].start(), plain[-1].end()
    between = body[first:last]
    if len(plain) > 1 and re.fullmatch(r"[-\d.]+", between) is None:
        return None  # several figures of a short form
    head = body[:first]
    for word, end in (("over ", low), ("under ", high), ("up to ", high)):
        if head.endswith(word):
            return f"{head}{end}{body[last:]}{bracket}"
    return f"{head}{low}..{high}{body[last:]}{bracket}"


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


# Blocks of entries in a list, each of which is one statement; and those that speak of the supply as a whole.
_ENTRIES = ("readings", "tests")
_LAYERS = ("from_core_outwards", "from_outside_inwards")
_NOBODYS = ("supply", "site", "inspection", "conditions", "known_by")


def _places(ledger: Ledger, finding: Finding) -> set[tuple[int, int]]:
    """Line and column of every row that a finding came from, and of what it names as its place."""
    found = {finding.place, *(ledger[number].place for number in heard(ledger, [finding]))}
    return {(place.line, place.column) for place in found if place is not None}


def _stands_at(leaf: Leaf, place: tuple[int, int]) -> bool:
    line, column = place
    if place in leaf.lines:
        return True
    first, begins = leaf.lines[0]
    if line != first:
        return False
    ends = {at[0]: at[1] + end - start for at, ((start, end), _) in _side_by_side(leaf)}
    return begins <= column <= ends.get(line, 0)


def is_of_a_condition(trail: Trail) -> bool:
    """Whether a leaf says where something was read or done: another one asks for another figure, and none is worse."""
    return (
        trail[0] == "conditions"
        or trail[0] == "readings"
        and "at" in trail
        or trail[0] == "tests"
        and trail[-1] in ("mains", "frequency", "ambient")
    )


class Lab(Base):
    """A design whose leaves are asked: what each of them led to, and what of it is told as unused."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self.unused = {one.name: one for one in unused(self.work, self.review)}
        self.leaves = tuple(leaves(bench.text))
        self._names = {name for one in self.ledger.entries for name in one.subject.names}
        self._used = self._findings_of(self.ledger)

    def _findings_of(self, ledger: RecordingLedger) -> dict[tuple[int, int], list[Finding]]:
        """The findings that each place of the file led to."""
        found: dict[tuple[int, int], list[Finding]] = {}
        for one in self.review.findings:
            for place in _places(ledger, one):
                found.setdefault(place, []).append(one)
        return found

    def led_to(self, leaf: Leaf) -> list[Finding]:
        """The findings that a leaf led to; a short form has a place for each of its figures."""
        if leaf.trail[0] == "transformers" and leaf.trail[2] in _LAYERS:  # whose rows are of several, and of no place
            return [one for one in self.review.findings if self._is_of_layers(one, leaf.trail[1])]
        lines = self._lines(leaf) if leaf.trail[0] == "tests" else set()  # whose rows all carry the place of the test
        return [
            one
            for place, findings in self._used.items()
            if _stands_at(leaf, place) or place[0] in lines
            for one in findings
        ]

    def _is_of_layers(self, finding: Finding, transformer: str) -> bool:
        rows = (self.ledger[number] for number in heard(self.ledger, [finding]))
        return any(
            row.quantity.startswith(("found.tape_layers", "found.core_layers"))
            and row.subject.names[:1]
            and row.subject.names[0].partition(".")[0] == transformer
            for row in rows
        )

    def about(self, leaf: Leaf, findings: list[Finding]) -> list[Finding]:
        """Those about what the leaf speaks of, in a hazard that it led to where it led to any.

        About it is a finding on the part, the winding, the place, the output or the supply that owns the leaf, and one
        that came from the leaf, in the design as it was or as it was last tried.
        """
        led = [one for one in self.led_to(leaf) if one.verdict != "not applicable"]
        hazards, keys = {one.hazard for one in led}, {key_of(one) for one in led}
        owners, lines = self._owners(leaf), self._lines(leaf)

        def is_about(one: Finding) -> bool:
            if leaf.name == "supply.runs_down_to" and one.case is not None and one.case.group == BROWN_OUT:
                return True  # it chooses the case that the finding stands under
            if owners & (set(one.subject.names) or {SUPPLY.kind} & {one.subject.kind}) or key_of(one) in keys:
                return True
            places = _places(self.last, one)
            return any(_stands_at(leaf, place) or place[0] in lines for place in places)

        return [one for one in findings if (not hazards or one.hazard in hazards) and is_about(one)]

    def _owners(self, leaf: Leaf) -> set[str]:
        """Names of the subjects that own a leaf: of its keys, its text, and all its entry where it is one of a list."""
        block = leaf.trail[0]
        said = [*leaf.trail[1:]] if block not in _NOBODYS else []
        if block in _ENTRIES:
            said += [word for one in self._entry(leaf) for word in (*one.trail[2:], *(text for _, text in one.texts))]
        elif block == "conditions":  # of what was read there
            said = [
                word
                for one in self.leaves
                if one.trail[0] == "readings" and leaf.trail[1] in (*one.trail, *(text for _, text in one.texts))
                for word in one.trail[2:]
            ]
        elif block == "circuit" or "between" in leaf.trail:
            said += [text for _, text in leaf.texts]
        whole = " ".join(
            (*said, *(f"{one}.{other}" for one, other in zip(leaf.trail[1:], leaf.trail[3:], strict=False)))
        )
        found = {name for name in self._names if re.search(rf"(?<![\w.]){re.escape(name)}(?!\w)", whole)}
        return found | ({SUPPLY.kind} if block in (*_NOBODYS, *_ENTRIES) else set())

    def _entry(self, leaf: Leaf) -> list[Leaf]:
        return [one for one in self.leaves if one.trail[:2] == leaf.trail[:2]]

    def _lines(self, leaf: Leaf) -> set[int]:
        """Lines of the whole entry, of what stands in a list."""
        return {line for one in self._entry(leaf) for line, _ in one.lines} if leaf.trail[0] in _ENTRIES else set()

    def waits(self, leaf: Leaf) -> bool:
        """Whether all that a leaf led to is not assessed anyway, or fails in a way that cannot get worse.

        Of a reading, a rating and a test one of it blocks. What is only held to be written down, a minor pass that
        compares nothing, is not counted.
        """
        grave = leaf.trail[0] in _ENTRIES or leaf.term is not None and leaf.term.name in LIMITS
        found = [one for one in self.led_to(leaf) if one.verdict != "not applicable"]
        found = [one for one in found if one.verdict != "pass" or one.severity != "minor" or one.ratio is not None]
        if leaf.trail[0] == "tests":  # whose outcome, which compares nothing, is a leaf of its own
            found = [one for one in found if one.verdict != "pass" or one.ratio is not None]
        return any(one.blocks or not grave for one in found) and all(
            one.verdict == "not assessed" or one.verdict == "fail" and one.ratio in (None, inf) for one in found
        )

    def moved(self, after: Review) -> bool:
        """Whether anything that was worked out behind a finding has another figure, as it was last tried."""
        return self._worked_out(self.last, after) != self._worked_out(self.ledger, self.review)

    @staticmethod
    def _worked_out(ledger: Ledger, review: Review) -> set[tuple[Hashable, ...]]:
        """The figures behind all that came to a word; what was stated or read is none of them."""
        found = heard(ledger, [one for one in review.findings if one.verdict != "not applicable"])
        rows = [ledger[number] for number in found]
        return {(row.subject, row.quantity, row.value) for row in rows if row.inputs}

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
    """The names under which a leaf may be listed: by part where one entry is of several, whole where it is a list.

    Readings and tests are counted from one there.
    """
    if trail[0] in _ENTRIES and len(trail) > 1:
        trail = (trail[0], str(int(trail[1]) + 1), *trail[2:])
    for whole in (trail, trail[:-1]):
        if len(whole) > 1:
            for first in whole[1].split(", "):
                yield ".".join((whole[0], first, *whole[2:]))
            yield ".".join(whole).replace(" ", "_")
