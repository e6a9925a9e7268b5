"""Records: one class for each block of a file, its body the table of its keys; one value as stated."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any, ClassVar, Self

from derate.terms.dimension import Dimension
from derate.terms.instructions import NO_INSTRUCTION, Instruction, beside, does_of
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Curve, Known, Place, Problem, ReadingError, Value, nearest
from derate.terms.vocabulary import Term
from derate.terms.words import EVIDENCE
from derate.text.nodes import Mapping, Node, Scalar, Sequence
from derate.text.nodes import Mapping as MappingNode
from derate.text.plausible import check, check_order
from derate.text.quantity import Quantity, Table, read_said, read_scalar, read_table

# One value as a design states it, and the readers of its three forms: quantity or table, word, plain text.
#
# The readers are what the shapes of `blocks.py` run at their leaves: they take a YAML node and give a `Stated`, or
# raise a ReadingError that carries every problem with its place.


_EITHER = ("rated.opens_within",)  # a fuse opens by current, a fusible resistor by power
LOOKED = ("none", "unmarked", "not done")  # somebody looked, and that is what there was


class Stated(NamedTuple):
    """A value as stated. `known_by` is None until the block's default is filled in; `value` None means unknown."""

    value: Known | None
    place: Place
    known_by: str | None = None
    note: str = ""
    statistic: str = ""
    nominal: float | None = None
    typical: float | None = None
    text: str = ""

    @property
    def word(self) -> str | None:
        """The one word of a category, None otherwise."""
        return self.value.word if isinstance(self.value, Category) else None


class Name(str):
    """A name as the file uses it: the text itself, with its place and the kinds it may be of (none: a word)."""

    __slots__ = ("kinds", "place")
    kinds: tuple[str, ...]
    place: Place

    @staticmethod
    def at(text: str, place: Place, kinds: tuple[str, ...]) -> Name:
        """A name of one of some kinds."""
        made = Name(text)
        made.place, made.kinds = place, kinds
        return made


def evidence(scalar: Scalar) -> tuple[str, str | None, str]:
    """Split `Y1 (marked; photo 3)` into the text, how it is known, and the note."""
    said = read_said(scalar.text, scalar.start)
    return said.text, said.known_by, said.note


def read_said_word(node: Scalar, problems: list[Problem]) -> str:
    """The words of a text without its bracket of evidence; '' and a problem when the bracket cannot be read."""
    try:
        return read_said(node.text, node.start).text
    except ReadingError as error:
        problems.extend(error.problems)
        return ""


def from_quantity(quantity: Quantity, over: Dimension | None = None) -> Stated:
    """A stated value from one line of text; `0.31 A at 120 Hz` becomes a curve of one point where a table may stand."""
    value: Known | None = quantity.value
    conditions = [at for at, dimension in quantity.at if dimension == over] if over is not None else []
    if conditions and isinstance(value, Value) and over is not None and quantity.dimension is not None:
        value = Curve(((conditions[0], value),), over, quantity.dimension)
    return Stated(
        value,
        quantity.place,
        quantity.known_by,
        quantity.note,
        quantity.statistic,
        quantity.nominal,
        quantity.typical,
        quantity.text,
    )


def from_table(table: Table) -> Stated:
    """A stated curve; where its rows are known in different ways the least sure counts."""
    said = [row.known_by for row in table.rows]
    known = [word for word in said if word is not None]
    word = max(known, key=EVIDENCE.index) if len(known) == len(said) else None
    notes = "; ".join(dict.fromkeys(row.note for row in table.rows if row.note))
    return Stated(table.curve, table.place, word, notes, table.statistic)


def read_fact(term: Term, node: Any, percent: str = "tolerance") -> Stated:
    """Read a quantity, or a table where the term may be one."""
    if isinstance(node, Mapping) and term.over is not None:
        table = read_table(node, term.dimension, None if term.name in _EITHER else term.over)
        for row in table.rows:
            check(term.name, term.says, row.value, row.dimension, row.statistic, row.text, row.place)
        check_order(term.name, term.says, [(row.value, row.text, row.place) for row in table.rows])
        return from_table(table)
    scalar = one_line(node, term.says)
    if is_unknown(scalar.text):
        return Stated(None, scalar.place, text="unknown")
    quantity = read_scalar(scalar, term.dimension, percent)  # type: ignore[arg-type]
    check(term.name, term.says, quantity.value, quantity.dimension, quantity.statistic, quantity.text, scalar.place)
    return from_quantity(quantity, term.over)._replace(place=scalar.place)


# Marks, which somebody may have looked for in vain. Of all other closed lists `none` would be no answer.
_MARKS = (
    "part.class",
    "part.standard",
    "part.characteristic",
    "part.dielectric",
    "supply.protection_class",
    "transformer.insulation_class",
    "rated.insulation_class",
    "barrier.material_group",
    "port.kind",
    "port.data_lines",
    "inspection.enclosure_flame_class",
)


def may_be_looked(term: Term) -> bool:
    """Whether `none`, `unmarked` and `not done` are answers to this term: they are where its words are marks."""
    return not term.words or term.name in _MARKS


def is_unknown(text: str) -> bool:
    """Whether a text says that nobody knows, with any reason in a bracket: what is not known has no evidence."""
    return text.startswith("unknown") and (text == "unknown" or re.fullmatch(r"unknown\s*\(.*\)\s*", text) is not None)


def read_word(term: Term, node: Any) -> Stated:
    """Read a word of the term's list; `none` and `unmarked` are words somebody looked for."""
    scalar = one_line(node, term.says)
    if is_unknown(scalar.text):
        return Stated(None, scalar.place, text="unknown")
    text, known_by, note = evidence(scalar)
    if text == "unknown":
        return Stated(None, scalar.place, known_by, note, text=text)
    known = term.words
    if known and text not in known and not (text in LOOKED and may_be_looked(term)):
        from derate.design.everyday import of_word  # only imported when something is wrong

        close = nearest(text, known)
        listed = f"write {close}" if close else f"write one of {', '.join(known)}, or unknown"
        instead = of_word(term.name, text) or listed
        raise ReadingError(
            [Problem(scalar.start, f"'{text[:60]}' is no word this format knows for {term.says}", instead)]
        )
    if not text:
        raise ReadingError([Problem(scalar.place, f"{term.says} is empty", "write it, or unknown")])
    return Stated(Category.of(text), scalar.place, known_by, note, text=text)


def one_line(node: Any, what: str) -> Scalar:
    """A scalar where one is wanted, or the error that says so."""
    if isinstance(node, Scalar):
        return node
    kind = "a list" if isinstance(node, Sequence) else "a block of keys"
    place = node.place if isinstance(node, Sequence | Mapping) else Place("")
    raise ReadingError([Problem(place, f"{kind} stands where {what} is wanted", "write one value on one line")])


# Records: one class for each block of a file, whose body is the table of its keys.
#
#     class Slot(Record):
#         width: Stated | None = fact("barrier.slot_width")
#         length: Stated | None = figure(LENGTH, "length of the slot", how="calliper")
#
# From that body come the types of the attributes, the reader (every fault of a block gathered, each with its place),
# the JSON Schema and the page of all keys. A key that was not given reads as its default, `None` unless the table
# says otherwise. Plain classes: on the way of `derate lint` a model library costs more than the reading
# (DEVELOPERS.md).


Schema = dict[str, Any]
_LISTED = 12  # known keys that an error names


class Form:
    """How the value of a key is written.

    says: what it is; how: how a person gets it; example: one value as typed
    """

    says: str = ""
    how: Instruction = NO_INSTRUCTION
    unit: str = ""  # SI symbol of what is no plain number
    has_names = False  # whether names of the file may stand in it

    @property
    def example(self) -> str:
        """One value as typed, '' where only the author can give one."""
        return ""

    def read(self, node: Node, problems: list[Problem]) -> Any:
        """The value of a node; what is wrong is added to `problems`, and None returned."""
        raise NotImplementedError

    def of(self, fact: str) -> Form:
        """The form itself; that of a fact which the table did not spell out, by prefix and key."""
        return self

    def empty(self, place: Place) -> Any:
        """What is read where the key is not there and something has to be."""
        raise NotImplementedError

    def names(self, value: Any) -> Iterator[Name]:
        """The names of the file that stand in a value."""
        return iter(())

    def schema(self) -> Schema:
        """Its JSON Schema, without what is said of the key."""
        raise NotImplementedError

    def written(self) -> str:
        """Its unit or its words, for people."""
        raise NotImplementedError


class Field:
    """One key of a block.

    key: as it is written, '' where the attribute has the same name
    needed: it has to be there; always: where it is not there an empty block is read
    """

    __slots__ = ("_told", "always", "attribute", "default", "form", "key", "needed")

    def __init__(
        self,
        form: Form,
        says: str = "",
        how: Instruction = NO_INSTRUCTION,
        example: str = "",
        *,
        key: str = "",
        needed: bool = False,
        default: Any = None,
        always: bool = False,
    ) -> None:
        self.form, self.key, self.needed, self.default, self.always = form, key, needed, default, always
        self._told = (says, how, example)
        self.attribute = ""

    @property
    def says(self) -> str:
        """What it is."""
        return self._told[0] or self.form.says

    @property
    def how(self) -> Instruction:
        """How a person gets it."""
        return self._told[1] or self.form.how

    @property
    def example(self) -> str:
        """One value as typed."""
        return self._told[2] or self.form.example

    def schema(self) -> Schema:
        """The JSON Schema of the key, with what it is, an example and how a person gets it."""
        shape = dict(self.form.schema())
        says = f"{self.says} [{self.form.unit}]" if self.form.unit else self.says
        told = ". ".join(text[0].upper() + text[1:] for text in (says, beside(self.how, does_of(self.how))) if text)
        if told and "description" not in shape:
            shape["description"] = told
        if self.example and "examples" not in shape:
            shape["examples"] = [self.example]
        return shape


def known_here(key: str, record: type[Record]) -> str:
    """What to write instead of an unknown key, from the keys of its own block alone."""
    close = nearest(key, record.fields)
    listed = ", ".join(list(record.fields)[:_LISTED]) + ("…" if len(record.fields) > _LISTED else "")
    return f"did you mean {close}?" if close else f"known here: {listed}"


class Record:
    """What was read of one block."""

    fields: ClassVar[dict[str, Field]] = {}  # by key as written
    has_names: ClassVar[bool] = False
    _keys: ClassVar[dict[str, str]] = {}  # by attribute
    _always: ClassVar[tuple[Field, ...]] = ()
    _answer: ClassVar[Callable[[str, type[Record]], str]] = staticmethod(known_here)
    called: ClassVar[str] = ""  # what an error calls the block
    place: Place

    def __init_subclass__(cls, prefix: str = "") -> None:
        """Gather the table of the class; prefix: that of the facts whose term is not spelled out."""
        own: dict[str, Field] = {}
        for name, field in list(vars(cls).items()):
            if not isinstance(field, Field):
                continue
            field.form = field.form.of(f"{prefix}.{field.key or name}")
            field.attribute = name
            field.key = field.key or name
            own[field.key] = field
            setattr(cls, name, field.default)
        cls.fields = cls.fields | own
        cls._keys = {field.attribute: key for key, field in cls.fields.items()}
        cls._always = tuple(field for field in cls.fields.values() if field.always)
        cls.has_names = any(field.form.has_names for field in cls.fields.values())

    def __init__(self, place: Place) -> None:
        self.place = place
        for field in self._always:
            setattr(self, field.attribute, field.form.empty(place))

    def names(self) -> Iterator[Name]:
        """Every name of the file that stands in the block, and in what lies inside it."""
        if not self.has_names:
            return
        for field in self.fields.values():
            value = vars(self).get(field.attribute) if field.form.has_names else None
            if value is not None:
                yield from field.form.names(value)

    def stated(self) -> list[tuple[str, Stated]]:
        """The stated values of the block by key, in the order written."""
        return [(self._keys[name], value) for name, value in vars(self).items() if isinstance(value, Stated)]

    @classmethod
    def read(cls, node: Node, problems: list[Problem]) -> Self:
        """Read a block; a key that cannot be read is left out and told."""
        found = cls(node.place)
        if not isinstance(node, MappingNode):
            what = f"{cls.called} is a block of keys" if cls.called else "a block of keys is wanted here"
            problems.append(Problem(node.place, what, "write {key: value}"))
            return found
        given = set()
        for key, value in node.entries:
            field = cls.field_of(key.text)
            if field is None:
                problems.append(cls.unknown(key))
                continue
            given.add(field.key)
            setattr(found, field.attribute, field.form.read(value, problems))
        problems += [
            Problem(node.place, f"'{key}' is missing", f"write {key}: …")
            for key, field in cls.fields.items()
            if field.needed and key not in given
        ]
        return found

    @classmethod
    def field_of(cls, key: str) -> Field | None:
        """The entry of the table for a key as it is written in a file."""
        return cls.fields.get(key)

    @classmethod
    def unknown(cls, key: Scalar) -> Problem:
        """The error for a key that the block does not have; of one that nothing here covers, that and what to do."""
        answer = NOT_COVERED.get(key.text.replace(" ", "_").lower())
        if answer is not None:
            return Problem(key.place, f"'{key.text[:60]}' is not covered", answer)
        what = f"'{key.text[:60]}' is no key this format knows here"
        return Problem(key.place, what, Record._answer(key.text[:60], cls))

    @staticmethod
    def answered_by(answer: Callable[[str, type[Record]], str]) -> None:
        """Have what to write instead of an unknown key said by somebody who knows every block."""
        Record._answer = staticmethod(answer)

    @classmethod
    def schema(cls) -> Schema:
        """The JSON Schema of the block."""
        properties = {key: field.schema() for key, field in cls.fields.items()}
        shape: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
        needed = [key for key, field in cls.fields.items() if field.needed]
        return {**shape, "required": needed} if needed else shape


# What people ask of a supply and no rule of the shipped packs judges: the key they would write, and what to do instead.
_FAULT = "derate faults lists it; the outcome of a try is {test: fault, fault: neutral lost, mains: 420 V, result: ...}"
_LEAD = "write lead_current under the output of the plate: the current that lead, connector and terminals may carry"
NOT_COVERED = {
    "gate_drive": "write what the gate is rated for, rated: {gate_voltage: …}; of the drive keep the figure as a note",
    "neutral_lost": _FAULT,
    "lost_neutral": _FAULT,
    "line_to_line": _FAULT,
    "wire_gauge": _LEAD,
    "gauge": _LEAD,
    "cross_section": _LEAD,
    "connector_current": _LEAD,
    "port_identification": "write data_lines under the output of the plate: what a charging port does with its two",
    "letter_height": "a mark that cannot be read is a mark that is not there: leave it out of marks",
    "double_insulated": "write wire: insulated with bare and outside; triple-insulated only where its maker says so",
}


def said(node: Node, what: str, problems: list[Problem]) -> str | None:
    """The text of a line without its bracket of evidence; None and a problem when it cannot be read."""
    try:
        scalar = one_line(node, what)
        return "unknown" if is_unknown(scalar.text) else evidence(scalar)[0].strip()
    except ReadingError as error:
        problems.extend(error.problems)
        return None
