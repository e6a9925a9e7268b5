"""Records: one class for each block of a file, whose body is the table of its keys.

    class Slot(Record):
        width: Stated | None = fact("barrier.slot_width")
        length: Stated | None = figure(LENGTH, "length of the slot", how="calliper")

From that body come the types of the attributes, the reader (every fault of a block gathered, each with its place), the
JSON Schema and the page of all keys. A key that was not given reads as its default, `None` unless the table says
otherwise. Plain classes: on the way of `derate lint` a model library costs more than the reading (DEVELOPERS.md).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar, Self

from derate.design.stated import Name, Stated, evidence, is_unknown, one_line
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.text.nodes import Mapping as MappingNode
from derate.text.nodes import Node, Scalar

Schema = dict[str, Any]
_LISTED = 12  # known keys that an error names


class Form:
    """How the value of a key is written.

    says: what it is; how: how a person gets it; example: one value as typed
    """

    says: str = ""
    how: str = ""
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
        how: str = "",
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
    def how(self) -> str:
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
        told = ". ".join(text[0].upper() + text[1:] for text in (says, self.how) if text)
        if told and "description" not in shape:
            shape["description"] = told
        if self.example and "examples" not in shape:
            shape["examples"] = [self.example]
        return shape


class Record:
    """What was read of one block."""

    fields: ClassVar[dict[str, Field]] = {}  # by key as written
    has_names: ClassVar[bool] = False
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
        cls.has_names = any(field.form.has_names for field in cls.fields.values())

    def __init__(self, place: Place) -> None:
        self.place = place
        for field in self.fields.values():
            if field.always:
                setattr(self, field.attribute, field.form.empty(place))

    def names(self) -> Iterator[Name]:
        """Every name of the file that stands in the block, and in what lies inside it."""
        for field in self.fields.values():
            value = vars(self).get(field.attribute) if field.form.has_names else None
            if value is not None:
                yield from field.form.names(value)

    def stated(self) -> list[tuple[str, Stated]]:
        """The stated values of the block by key, in the order written."""
        keys = {field.attribute: key for key, field in self.fields.items()}
        return [(keys[name], value) for name, value in vars(self).items() if isinstance(value, Stated)]

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
        """The error for a key that the block does not have."""
        close = nearest(key.text, cls.fields)
        listed = ", ".join(list(cls.fields)[:_LISTED]) + ("…" if len(cls.fields) > _LISTED else "")
        what = f"'{key.text[:60]}' is no key this format knows here"
        return Problem(key.place, what, f"did you mean {close}?" if close else f"known here: {listed}")

    @classmethod
    def schema(cls) -> Schema:
        """The JSON Schema of the block."""
        properties = {key: field.schema() for key, field in cls.fields.items()}
        shape: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
        needed = [key for key, field in cls.fields.items() if field.needed]
        return {**shape, "required": needed} if needed else shape


def said(node: Node, what: str, problems: list[Problem]) -> str | None:
    """The text of a line without its bracket of evidence; None and a problem when it cannot be read."""
    try:
        scalar = one_line(node, what)
        return "unknown" if is_unknown(scalar.text) else evidence(scalar)[0].strip()
    except ReadingError as error:
        problems.extend(error.problems)
        return None
