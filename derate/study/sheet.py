"""The sheet for the bench: the facts still wanted of a design, in the order in which a bench finds them.

What needs a live point, a provoked fault, a high voltage or the installation gets no field. Where the sample is not to
be powered, what needs power gets none either.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from derate.design.sheet import (
    NO_FIELD,
    STEPS,
    DesignText,
    Elsewhere,
    Fixed,
    Path,
    Sheet,
    SheetField,
    Step,
    block_of,
    field_at,
    step_of,
)
from derate.study.missing import MissingFact, missing_facts
from derate.study.paste import BETWEEN, PARTLY, READ_AT, SLOT, lines_for
from derate.study.trying import Bench
from derate.study.work import Work
from derate.terms.instructions import DOES, Does, Instruction, does_of, holds_back
from derate.terms.vocabulary import VOCABULARY
from derate.text.spans import loaded


def sheet_of(
    path: str,
    name: str,
    text: str,
    facts: Iterable[MissingFact],
    not_powered: str,
    topology: str = "",
    ends: Mapping[str, str] = MappingProxyType({}),
    outputs: Sequence[str] = (),
) -> Sheet:
    """The sheet of a design.

    text: of its file; facts: those still wanted, in the order in which they matter; ends: of places that no block of
    the file describes, as the file would write them; outputs: names of the outputs
    """
    made = _Maker(text, topology, not_powered, ends, outputs)
    for fact in facts:
        made.add(fact)
    fields = made.sorted_fields()
    wanted = [one.path for one in fields] + [one.path for one in made.fixed]
    anchors = dict(made.file.anchor(one) for one in wanted)
    return Sheet(path, name, text, fields, tuple(made.fixed), anchors, tuple(made.elsewhere), not_powered, topology)


def sheet_of_work(work: Work, today: date) -> Sheet:
    """The sheet of a design that was worked through: every fact still wanted, in the order in which it matters."""
    bench = Bench(work, today)
    stated = work.design.file.supply.topology
    topology = stated.word or "" if stated is not None else ""
    facts = missing_facts(bench, thresholds=False, first=0)  # none is tried: the order of the bench holds
    text = work.design.texts[work.design.path]
    powered = bench.base.review.not_powered
    outputs = tuple(work.design.file.supply.plate.outputs)
    return sheet_of(work.design.path, work.design.name, text, facts, powered, topology, _ends(work), outputs)


def empty_sheet(work: Work, today: date) -> Sheet:
    """The sheet of a supply that nobody has opened, for a file as `derate.study.new` writes it.

    Everything that file keeps as a comment until somebody has seen it is asked: parts with their kinds, walked paths,
    places, the transformer. Nothing that needs power is, since no distance is known yet.
    """
    known = sheet_of_work(work, today)
    made = _Maker(known.text, known.topology, known.not_powered or _NOT_YET, {}, ())
    whole = loaded(_COMMENTED.sub("", known.text))
    for leaf in _walked(whole, (), {}):
        made.of_template(leaf)
    for one in known.fields:
        if one.path[0] in ("site", "supply", "inspection"):
            made.fields.setdefault(one.path, one)
    fields = made.sorted_fields()
    paths = [one.path for one in fields] + [one.path for one in made.fixed]
    paths.append(("circuit", "other"))  # for parts that nobody has traced yet
    anchors = dict(made.file.anchor(one) for one in paths)
    return replace(
        known,
        fields=fields,
        fixed=tuple(made.fixed),
        anchors=anchors,
        elsewhere=tuple(one for one in known.elsewhere if holds_back(one.does)),
        not_powered=known.not_powered or _NOT_YET,
        empty=True,
    )


_NOT_YET: Final = "no distance is known yet"
_COMMENTED: Final = re.compile(r"(?m)^#(?=\S|  )")  # a line that waits, and no remark


def _ends(work: Work) -> dict[str, str]:
    """The two circuits of each place that the tool itself laid between them, and that the file does not describe."""
    found = {}
    for subject in work.ledger.subjects("barrier"):
        role, body = (work.ledger.find(subject, name) for name in ("barrier.role", "barrier.body"))
        of = str(role.value) if role is not None else ""
        if of in BETWEEN and body is not None and str(body.value) == "no":
            found[subject.names[0]] = BETWEEN[of][1]
    return found


# Facts that no key of the file gives, and what is written down instead: lines as those of `derate.study.paste`.
_READ: Final = "  - at: {mains: …, load: …, ambient: …, after: …}"
_INSTEAD: Final[dict[str, tuple[str, ...]]] = {
    "held_current": ("readings:", _READ, "    voltage: {OF: …}"),
    "held_current_low_mains": ("readings:", _READ, "    voltage: {OF: …}"),
    "regulation": ("readings:", _READ, "    voltage: {OF: …}"),
    "read_ripple": ("readings:", _READ, "    ripple: {OF: …}"),
    "read_mains_current": ("readings:", _READ, "    mains_current: …"),
    "read_efficiency": ("readings:", _READ, "    mains_power: …"),
    "enclosure_temperature": ("readings:", _READ, "    case_temperature: {enclosure: …}"),
    "shut_down_current": ("tests:", "  - test: overload", "    output: OF", "    mains: …", "    shuts_down_at: …"),
    "greatest_shut_down_current": (
        "tests:",
        "  - test: overload",
        "    output: OF",
        "    mains: …",
        "    shuts_down_at: …",
    ),
    "plate.marks": ("supply:", "  plate:", "    marks: […]"),
    "circuit.line": ("circuit:", "  line: […]"),
    "circuit.primary": ("circuit:", "  primary: […]"),
    "circuit.mains_fuse": ("circuit:", "  line: […]"),
    "circuit.fused_pole": ("circuit:", "  line: […]"),
    "circuit.plug_turns": ("supply:", "  connection: …"),
    "found.tape_layers": ("transformers:", "  OF:", "    from_outside_inwards: […]"),
    "transformer.shields": ("transformers:", "  OF:", "    from_outside_inwards: […]"),
    "transformer.core_faces": ("transformers:", "  OF:", "    from_outside_inwards: […]"),
}


class _Maker:
    """Gathers fields, each place of the file once."""

    def __init__(
        self, text: str, topology: str, not_powered: str, ends: Mapping[str, str], outputs: Sequence[str]
    ) -> None:
        self.file = DesignText(text)
        self.topology, self.not_powered, self.ends = topology, not_powered, ends
        self.output = outputs[0] if len(outputs) == 1 else SLOT  # of several nobody knows which is meant
        self.fields: dict[Path, SheetField] = {}
        self.fixed: list[Fixed] = []
        self.elsewhere: list[Elsewhere] = []

    def add(self, fact: MissingFact) -> None:
        """A fact as fields, or in words where no field can take it."""
        how = VOCABULARY[fact.name].how if fact.name in VOCABULARY else fact.how
        every = {word for finding in fact.waiting[:1] for word in finding.does}
        does = does_of(how) if isinstance(how, Instruction) and how else tuple(one for one in DOES if one in every)
        does = tuple(one for one in does if one != "design")
        subject = fact.subject or getattr(fact.text, "subject", None)
        of = subject.names[0] if subject is not None and subject.names else ""
        asked = fact.name or getattr(fact.text, "quantity", "")
        wound = subject is not None and subject.kind == "transformer"
        if asked in PARTLY or wound and getattr(fact.text, "detail", ""):
            self._in_words(fact, how, does)  # its lines are there already and lack a part: nothing to put beside them
            return
        lines = fact.paste or _instead(asked, of) or lines_for(asked, subject)
        leaves = list(_leaves(lines, of)) if lines else []
        leaves = [one._replace(path=tuple(self.output if key == SLOT else key for key in one.path)) for one in leaves]
        leaves = [one for one in leaves if SLOT not in one.path]
        if not leaves or NO_FIELD & set(does):
            self._in_words(fact, how, does)
            return
        if self.not_powered and step_of(leaves[0].path, does) == "powered":
            self._in_words(fact, how, does or ("running",))
            return
        path = leaves[0].path
        if path[0] == "barriers" and not self.file.has(path[:2]) and all(one.path[-1] != "between" for one in leaves):
            if path[1] not in self.ends:  # the body of a part: its data sheet or its mark tells
                self._in_words(fact, how, does)
                return
            leaves.append(_Leaf((*path[:2], "between"), self.ends[path[1]], ""))
        if not self.file.takes(leaves[0].path):
            self._in_words(fact, "it stands in the file that this one revises: make the sheet of that file", ())
            return
        blocking = sum(one.blocks for one in fact.waiting)
        for leaf in leaves:
            if leaf.text:
                self._fix(leaf)
            else:
                self._field(leaf, fact, does, len(fact.waiting), blocking)

    def of_template(self, leaf: _Leaf) -> None:
        """A leaf of a new file: what is unknown, the kind of a part, a walked path, the ends of a place."""
        path = leaf.path
        if path[0] in ("readings", "tests", "known_by", "packs", "derate"):
            return
        said = leaf.text or leaf.example
        if path[-1] == "between" and "after" not in said:
            self._fix(_Leaf(path, said, ""))
            return
        example = "" if said == "unknown" else said
        if example and path[0] not in ("parts", "circuit") and path[-1] != "between":
            return
        field = field_at(self.file.spelled(path), example, self.topology)
        if field is not None and field.step == "papers" and path[0] == "parts":
            field = field._replace(step="looked up")  # nobody knows the part before its mark is read
        if field is not None and field.step != "powered" and not NO_FIELD & set(field.does):
            self.fields.setdefault(field.path, field)

    def _in_words(self, fact: MissingFact, how: str, does: tuple[Does, ...]) -> None:
        term = VOCABULARY.get(fact.name)
        whose = f"{fact.subject}: " if fact.subject is not None and term is not None else ""
        self.elsewhere.append(Elsewhere(f"{whose}{term.says if term is not None else fact.text}", how, does))

    def _fix(self, leaf: _Leaf) -> None:
        one = Fixed(self.file.spelled(leaf.path), leaf.text)
        if one not in self.fixed:
            self.fixed.append(one)

    def _field(self, leaf: _Leaf, fact: MissingFact, does: tuple[Does, ...], findings: int, blocking: int) -> None:
        path = self.file.spelled(leaf.path)
        within = [one for one in self.fields if one != path and one[: len(path)] == path[: len(one)]]
        if within:  # a value cannot stand where another has keys
            self._in_words(fact, "", does)
            return
        known = self.fields.get(path)
        if known is not None:
            self.fields[path] = known._replace(findings=known.findings + findings, blocking=known.blocking + blocking)
            return
        made = field_at(path, leaf.example, self.topology, does)
        if made is not None and path[0] == "readings" and path[2] != "at" and does:
            how = VOCABULARY[fact.name].how if fact.name in VOCABULARY else made.how
            made = made._replace(how=how or made.how, does=does)  # surer than what is said of every reading
        if made is None or NO_FIELD & set(made.does):
            self._in_words(fact, made.how if made is not None else "", does)
            return
        now = self.file.said(path)
        self.fields[path] = made._replace(now=now, findings=findings, blocking=blocking)

    def sorted_fields(self) -> tuple[SheetField, ...]:
        """By step; what belongs into one block stands together, blocks in the order in which they were asked first."""
        blocks: dict[tuple[Step, Path], int] = {}
        for one in self.fields.values():
            blocks.setdefault((one.step, block_of(one.path)), len(blocks))
        every = list(self.fields.values())
        # distances ahead of the rest of the opened board: they decide whether it is powered again
        every.sort(
            key=lambda one: (STEPS.index(one.step), one.path[0] != "barriers", blocks[one.step, block_of(one.path)])
        )
        return tuple(every)


def _instead(asked: str, of: str) -> tuple[str, ...]:
    return tuple(one.replace("OF", of or "OF") for one in _INSTEAD.get(asked, ()))


class _Leaf(NamedTuple):
    """A slot to fill, or (text) what stands as it is."""

    path: Path
    text: str
    example: str


def _leaves(lines: Sequence[str], of: str = "") -> Iterator[_Leaf]:
    """Every leaf of lines as a person would paste them, with the example of its line. of: whose test it is"""
    lines = [_READ if line == READ_AT else line for line in lines]
    such = {}
    for line in lines:
        key, _, comment = line.partition("# such as ")
        if comment:
            such[key.strip().removeprefix("- ").partition(":")[0]] = comment.strip()
    for leaf in _walked(loaded("\n".join(lines)), (), such):
        if leaf.path == ("readings", "0", "case_temperature"):  # of the supply: what people touch
            leaf = leaf._replace(path=(*leaf.path, "enclosure"))
        own = leaf.path[0] == "tests" and of  # one test of each output
        yield leaf._replace(path=("tests", of, *leaf.path[2:])) if own else leaf


def _walked(node: Any, path: Path, such: dict[str, str]) -> Iterator[_Leaf]:
    if isinstance(node, dict):
        for key, value in node.items():
            yield from _walked(value, (*path, str(key)), such)
    elif isinstance(node, list) and node and isinstance(node[0], dict):
        for number, value in enumerate(node):
            yield from _walked(value, (*path, str(number)), such)
    elif isinstance(node, list):
        text = f"[{', '.join(map(str, node))}]"
        yield _Leaf(path, "" if SLOT in text else text, such.get(path[-1], "" if text == f"[{SLOT}]" else text))
    else:
        yield _Leaf(path, "" if SLOT in str(node) else str(node), such.get(path[-1], ""))
