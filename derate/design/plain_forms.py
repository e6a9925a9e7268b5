"""The forms most keys have, and the words of the table: a fact, a quantity, a text, a word, a block, named blocks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Any

from derate.design.record import (
    LOOKED,
    Field,
    Form,
    Name,
    Record,
    Schema,
    Stated,
    from_quantity,
    is_unknown,
    may_be_looked,
    one_line,
    read_fact,
    read_word,
    said,
)
from derate.terms.dimension import NUMBER, Dimension
from derate.terms.instructions import NO_INSTRUCTION, Instruction
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.terms.vocabulary import VOCABULARY, Term
from derate.text.nodes import Mapping as MappingNode
from derate.text.nodes import Node, Scalar, Sequence
from derate.text.plausible import check
from derate.text.quantity import Percent, read_scalar

NOTHING: Mapping[str, Any] = MappingProxyType({})
_TEXT: Schema = {"type": ["string", "number"]}


def one_of(word: str, place: Place, words: Iterable[str], what: str) -> Problem:
    """The error for a word that is not on its list; what it denies is never read as something near it."""
    words = tuple(words)
    close = None if word.startswith(("no ", "not ", "without ")) else nearest(word, words)
    instead = f"write {close}" if close else f"write one of {', '.join(words)}"
    told = f"'{word[:60]}' is no word this format knows for {what}" if word else f"{what} is empty"
    return Problem(place, told, instead)


class Fact(Form):
    """A fact of the vocabulary: a quantity, a table of one, or a word of its list."""

    def __init__(self, term: Term | None, percent: Percent = "tolerance") -> None:
        self.term, self.percent = term, percent
        if term is not None:
            self.says, self.how = term.says, term.how
            self.unit = term.dimension.symbol if term.dimension is not None else ""

    def of(self, fact: str) -> Form:
        """The same of the fact by its name, where the table did not spell it out."""
        return self if self.term is not None else _facts(fact, self.percent)

    @property
    def example(self) -> str:
        """A figure with its unit, or the first word of the list."""
        from derate.design.examples import example_of  # for schema and page; a lint has no use for it

        return example_of(self.term) if self.term is not None else ""

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """A value of the term, or a problem."""
        term = self.term
        assert term is not None
        try:
            return read_word(term, node) if term.dimension is None else read_fact(term, node, self.percent)
        except ReadingError as error:
            problems.extend(error.problems)
            return None

    def schema(self) -> Schema:
        """A text with a unit; a table of such where it may be one; a word of the list."""
        term = self.term
        assert term is not None
        if term.dimension is None:
            return worded(term.words + LOOKED if may_be_looked(term) else term.words) if term.words else dict(_TEXT)
        one = {"type": ["string", "number"]} if term.dimension == NUMBER else {"type": "string"}
        if term.over is None:
            return one
        return {"anyOf": [one, {"type": "object", "additionalProperties": {"type": ["string", "number"]}}]}

    def written(self) -> str:
        """The unit, and over what it may be a table; or the words."""
        term = self.term
        assert term is not None
        if term.dimension is None:
            return ", ".join(term.words) or "text"
        unit = term.dimension.symbol or "a number"
        return f"{unit}, or a table over {term.over.symbol}" if term.over is not None else unit


_KNOWN_FACTS: dict[tuple[str, str], Fact] = {}


def _facts(name: str, percent: Percent) -> Fact:
    return _KNOWN_FACTS.setdefault((name, percent), Fact(VOCABULARY[name], percent))


class Figure(Form):
    """A quantity that is no fact of the vocabulary."""

    def __init__(
        self, dimension: Dimension, says: str, how: Instruction, percent: Percent = "tolerance", kind: str = ""
    ) -> None:
        """kind: its name among those whose forms and whose plausible size are known (`derate.text.plausible`)"""
        self.dimension, self.says, self.how, self.percent, self.kind = dimension, says, how, percent, kind
        self.unit = dimension.symbol

    @property
    def example(self) -> str:
        """A figure with its unit."""
        from derate.design.examples import FIGURES

        return FIGURES.get(self.dimension.symbol, "")

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """One value on one line."""
        try:
            scalar = one_line(node, self.says or "a value")
            if is_unknown(scalar.text):
                return Stated(None, scalar.place, text="unknown")
            read = read_scalar(scalar, self.dimension, self.percent)
            check(self.kind, self.says, read.value, read.dimension, read.statistic, read.text, scalar.place)
            return from_quantity(read)._replace(place=scalar.place)
        except ReadingError as error:
            problems.extend(error.problems)
            return None

    def schema(self) -> Schema:
        """A text; a number where it has no unit."""
        return {"type": ["string", "number"] if self.dimension == NUMBER else "string"}

    def written(self) -> str:
        """The unit."""
        return self.dimension.symbol or "a number"


class Line(Form):
    """A plain text of one line, kept as typed."""

    def read(self, node: Node, problems: list[Problem]) -> str | None:
        """The text, never empty."""
        try:
            text = one_line(node, "a text").text.strip()
        except ReadingError as error:
            problems.extend(error.problems)
            return None
        if not text:
            problems.append(Problem(node.place, "this text is empty", "write it, or leave the key out"))
            return None
        return text

    def schema(self) -> Schema:
        """A text; a number is read as one too."""
        return {"type": ["string", "number"]}

    def written(self) -> str:
        """As it is."""
        return "text"


class Lines(Line):
    """A list of plain texts, or one; near misses of `usual` words are refused."""

    def __init__(self, usual: tuple[str, ...] = ()) -> None:
        self.usual = usual

    def read(self, node: Node, problems: list[Problem]) -> Any:
        """The texts in order, each with its place."""
        found: list[Name] = []
        for item in node.items if isinstance(node, Sequence) else (node,):
            text = super().read(item, problems)
            if text is None:
                continue
            close = nearest(text, self.usual, 0.8) if self.usual and text not in self.usual else None
            if close is not None:
                problems.append(
                    Problem(
                        item.place,
                        f"'{text[:60]}' is not '{close}', and very near it",
                        f"write {close}, or another word",
                    )
                )
            found.append(Name.at(text, item.place, ()))
        return tuple(found)

    def schema(self) -> Schema:
        """One text or a list."""
        one = {"type": ["string", "number"]}
        return {"anyOf": [one, {"type": "array", "items": one}]}

    def written(self) -> str:
        """The usual words, where there are some."""
        return f"texts, such as {', '.join(self.usual)}" if self.usual else "one text or a list"


class Word(Form):
    """A word of a closed list; `unknown` is the same as leaving the key out."""

    def __init__(self, words: tuple[str, ...], says: str) -> None:
        self.words, self.says = words, says

    @property
    def example(self) -> str:
        """The first word."""
        return self.words[0]

    def read(self, node: Node, problems: list[Problem]) -> str | None:
        """The word, None for unknown."""
        text = said(node, self.says, problems)
        if text is None or text == "unknown":
            return None
        if text not in self.words:
            problems.append(one_of(text, node.place, (*self.words, "unknown"), self.says))
            return None
        return text

    def schema(self) -> Schema:
        """A text that begins with one of the words: how it is known may follow in a bracket."""
        return worded(self.words)

    def written(self) -> str:
        """The words."""
        return ", ".join(self.words)


def worded(words: Iterable[str]) -> Schema:
    """The schema of a word of a closed list, with its bracket of evidence or without."""
    from re import escape

    either = "|".join(escape(word) for word in (*words, "unknown"))
    return {"type": "string", "pattern": rf"^\s*({either})\s*(\(.*\)\s*)?$"}


class Block(Form):
    """A block of keys."""

    def __init__(self, record: type[Record], says: str = "") -> None:
        self.record, self.says = record, says
        self.has_names = record.has_names

    def read(self, node: Node, problems: list[Problem]) -> Record:
        """The record, with what could be read of it."""
        return self.record.read(node, problems)

    def empty(self, place: Place) -> Record:
        """The block in which nothing was said."""
        return self.record(place)

    def names(self, value: Record) -> Iterator[Name]:
        """Those of the record."""
        return value.names()

    def schema(self) -> Schema:
        """That of its keys."""
        return self.record.schema()

    def written(self) -> str:
        """Its keys stand in a table of their own."""
        return "a block"


class OrNone(Form):
    """A block, or the word that there is none: () then, and None for `unknown`."""

    def __init__(self, form: Form, write: str) -> None:
        self.form, self.write, self.says, self.has_names = form, write, form.says, form.has_names

    def read(self, node: Node, problems: list[Problem]) -> Any:
        """What was read; () where somebody looked and found none; None where nobody knows."""
        if not isinstance(node, Scalar):
            return self.form.read(node, problems)
        text = said(node, self.says, problems)
        if text == "none":
            return ()
        if text not in (None, "unknown"):
            problems.append(Problem(node.place, f"'{text[:60]}' does not say what there is", f"write {self.write}"))
        return None

    def names(self, value: Any) -> Iterator[Name]:
        """Those of what there is."""
        return self.form.names(value) if value != () else iter(())

    def schema(self) -> Schema:
        """Either."""
        return {"anyOf": [worded(("none",)), self.form.schema()]}

    def written(self) -> str:
        """Either."""
        return f"none, or {self.form.written()}"


class ListOf(Form):
    """A list of blocks, or one block."""

    def __init__(self, form: Block, what: str) -> None:
        self.form, self.what, self.has_names = form, what, form.has_names

    def read(self, node: Node, problems: list[Problem]) -> tuple[Record, ...]:
        """Every block."""
        found = []
        for item in node.items if isinstance(node, Sequence) else (node,):
            if isinstance(item, MappingNode):
                found.append(self.form.read(item, problems))
            else:
                instead = "write - {…} on a line of its own"
                problems.append(Problem(item.place, f"{self.what} are a list of blocks", instead))
        return tuple(found)

    def names(self, value: tuple[Record, ...]) -> Iterator[Name]:
        """Those of every block."""
        for one in value:
            yield from one.names()

    def schema(self) -> Schema:
        """One or a list."""
        one = self.form.schema()
        return {"anyOf": [{"type": "array", "items": one}, one]}

    def written(self) -> str:
        """A list."""
        return "a list of blocks"


class Each(Form):
    """Named blocks or values of one form: the names are the author's own."""

    def __init__(self, form: Form, says: str = "") -> None:
        self.form, self.says, self.has_names = form, says, form.has_names

    def key_of(self, key: Scalar) -> str:
        """The key as it is kept."""
        return key.text

    def read(self, node: Node, problems: list[Problem]) -> dict[str, Any]:
        """What stands under each name; a name whose block cannot be read is kept, so that it is known."""
        if not isinstance(node, MappingNode):
            problems.append(Problem(node.place, "a block of keys is wanted here", "write {key: value}"))
            return {}
        return {self.key_of(key): self.form.read(value, problems) for key, value in node.entries}

    def names(self, value: Mapping[str, Any]) -> Iterator[Name]:
        """Those of everything named."""
        for one in value.values():
            if one is not None:
                yield from self.form.names(one)

    def schema(self) -> Schema:
        """The same under every name."""
        return {"type": "object", "additionalProperties": self.form.schema()}

    def written(self) -> str:
        """The same under every name."""
        return f"NAME: {self.form.written()}"


# ---- the table: what stands in the body of a record ---------------------------------------------------------------


def fact(
    name: str = "",
    *,
    percent: Percent = "tolerance",
    key: str = "",
    how: Instruction = NO_INSTRUCTION,
    default: Any = None,
) -> Any:
    """A fact of the vocabulary; without a name that of the prefix of the record and the key."""
    if not name:
        return Field(Fact(None, percent), key=key)
    return Field(_facts(name, percent), key=key, how=how, default=default)


def figure(
    dimension: Dimension,
    says: str,
    how: Instruction,
    *,
    example: str = "",
    percent: Percent = "tolerance",
    kind: str = "",
) -> Any:
    """A quantity that is no fact of the vocabulary."""
    return Field(Figure(dimension, says, how, percent, kind), example=example)


def formed(
    form: Form,
    says: str = "",
    how: Instruction = NO_INSTRUCTION,
    example: str = "",
    *,
    needed: bool = False,
    default: Any = None,
    always: bool = False,
) -> Any:
    """A value of any form."""
    return Field(form, says, how, example, needed=needed, default=default, always=always)


def line(
    says: str, how: Instruction = NO_INSTRUCTION, example: str = "", *, needed: bool = False, key: str = ""
) -> Any:
    """A plain text of one line."""
    return Field(Line(), says, how, example, needed=needed, key=key)


def lines(
    says: str, how: Instruction = NO_INSTRUCTION, example: str = "", *, usual: tuple[str, ...] = (), default: Any = ()
) -> Any:
    """A list of plain texts."""
    return Field(Lines(usual), says, how, example, default=default)


def word(says: str, words: tuple[str, ...], how: Instruction = NO_INSTRUCTION, *, key: str = "") -> Any:
    """A word of a closed list."""
    return Field(Word(words, says), says, how, key=key)


def block(record: type[Record], says: str, *, always: bool = False) -> Any:
    """A block of keys. always: an empty one is read where the key is not there."""
    return Field(Block(record, says), says, always=always)


def each(form: Form | type[Record], says: str, how: Instruction = NO_INSTRUCTION, example: str = "") -> Any:
    """Blocks or values under names of the author's own."""
    inner = form if isinstance(form, Form) else Block(form)
    return Field(Each(inner, says), says, how, example, default=NOTHING)
