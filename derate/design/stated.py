"""One value as a design states it, and the readers of its three forms: quantity or table, word, plain text.

The readers are what the shapes of `model.py` run at their leaves: they take a YAML node and give a `Stated`, or raise
a ReadingError that carries every problem with its place.
"""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from derate.terms.dimension import Dimension
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.vocabulary import Term
from derate.terms.words import EVIDENCE
from derate.text.nodes import Mapping, Scalar, Sequence
from derate.text.quantity import Quantity, Table, read_said, read_scalar, read_table

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
        return from_table(read_table(node, term.dimension, None if term.name in _EITHER else term.over))
    scalar = one_line(node, term.says)
    if is_unknown(scalar.text):
        return Stated(None, scalar.place, text="unknown")
    quantity = read_scalar(scalar, term.dimension, percent)  # type: ignore[arg-type]
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
        close = nearest(text, known)
        instead = f"write {close}" if close else f"write one of {', '.join(known)}, or unknown"
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
