"""What somebody is to write down of a design, and where in the text of its file each of it goes.

Each fact has its keys in the file, a form (a quantity, a word of a list, a line of text, a list as the file writes it)
and an anchor: a place in the text. Who has both puts what was typed into the file without reading YAML; what stands
there already, comments and order included, stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from derate.design.bench import ConditionBlock
from derate.design.blocks import DesignFile
from derate.design.circuit import circuit_of
from derate.design.kinds import KIND_WORDS
from derate.design.load import expand_parts
from derate.design.plain_forms import Block, Each, Figure, ListOf, OrNone, Word
from derate.design.record import Field, Record
from derate.terms.dimension import Dimension
from derate.terms.instructions import Does, does_of, told
from derate.terms.values import Place
from derate.text.nodes import Mapping, Node, Scalar
from derate.text.spans import Span, spans_of

Step = Literal["papers", "closed", "powered", "opened", "unsoldered", "unwound", "looked up"]
STEPS: Final[tuple[Step, ...]] = ("papers", "closed", "powered", "opened", "unsoldered", "unwound", "looked up")
# Nobody finds these at a bench by himself: a field would invite it.
NO_FIELD: Final[frozenset[Does]] = frozenset(
    ("probed", "pins", "fault", "high voltage", "touch current", "mains wiring", "not said")
)
_POWER: Final[frozenset[Does]] = frozenset(("running", "overload", "sensor"))

Path = tuple[str, ...]
Kind = Literal["quantity", "word", "text", "list"]


class SheetField(NamedTuple):
    """One fact to write down.

    path: keys of the file, names of parts as the file has them, a number for an entry of a list; of: whose, label: what
    how, does: how a person gets it; words: the list it is one of; example: one as typed; now: what the file says so far
    needed: without it nothing of its block is written; findings: how many wait for it, blocking: how many of them block
    """

    path: Path
    of: str
    label: str
    step: Step
    kind: Kind
    dimension: Dimension | None
    words: tuple[str, ...]
    how: str
    does: tuple[Does, ...]
    example: str
    now: str = ""
    needed: bool = False
    findings: int = 0
    blocking: int = 0


class Fixed(NamedTuple):
    """What goes into the file as it stands, with the first field of its block: the two ends of a place, say."""

    path: Path
    text: str


class Elsewhere(NamedTuple):
    """What is wanted and has no field here: in words, with how somebody else or another file settles it."""

    what: str
    how: str
    does: tuple[Does, ...]


class Anchor(NamedTuple):
    """Where something goes: `length` characters from `at` on are replaced by what is written.

    style: 'value' (a value in the place of one), 'flow' (inside braces or brackets) or 'block' (lines of their own)
    lead, tail: what stands ahead of it and behind it, as soon as there is anything; comma: something stands ahead
    indent: columns of a line of a block; seed: what one line said that gives way to a block, with its keys from here on
    """

    at: int
    length: int
    style: Literal["value", "flow", "block"]
    indent: int = 0
    lead: str = ""
    tail: str = ""
    comma: bool = False
    seed: tuple[Fixed, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything a sheet shows.

    text: of the design file, into which what is written goes; fields: in the order of the bench; anchors: by the keys
    that stand in the file already; not_powered: why nothing that needs power is asked; empty: nobody has opened it yet
    """

    path: str
    name: str
    text: str
    fields: tuple[SheetField, ...]
    fixed: tuple[Fixed, ...]
    anchors: dict[Path, Anchor]
    elsewhere: tuple[Elsewhere, ...]
    not_powered: str
    topology: str
    empty: bool = False

    def of_step(self, step: Step) -> tuple[SheetField, ...]:
        """The fields of one step."""
        return tuple(one for one in self.fields if one.step == step)


def block_of(path: Path) -> Path:
    """The keys of the block whose fields stand together: a part, a place, a reading; the first key of all others."""
    return path[:2] if path[0] in ("parts", "barriers", "transformers", "readings", "tests") else path[:1]


def _field_of(path: Path, topology: str) -> tuple[Field, str, tuple[str, ...]] | None:
    """The row of the table of keys at a path, the word of its block, and the names on the way."""
    record: type[Record] = DesignFile
    names: list[str] = []
    keys = list(path)
    while keys:
        key = keys.pop(0)
        field = record.field_of(key)
        if field is None:
            return None
        form = field.form
        if key == "circuit" and record is DesignFile:
            record = circuit_of(topology)
            continue
        while isinstance(form, Each | OrNone | ListOf):
            if isinstance(form, Each | ListOf):
                if not keys:
                    return field, "", tuple(names)
                name = keys.pop(0)
                names += [name] if isinstance(form, Each) else []
            form = form.form
        if isinstance(form, Block):
            record = form.record
            continue
        if type(form).__name__ == "AtForm" and keys:
            record = ConditionBlock
            continue
        names += keys  # a reading: of what
        return field, key, tuple(names)
    return None


def field_at(path: Path, example: str, topology: str, does: tuple[Does, ...] = ()) -> SheetField | None:
    """What a path of the file takes, as a field; None for a path that the format does not have."""
    found = _field_of(path, topology)
    if found is None:
        return None
    field, key, names = found
    form = field.form
    while isinstance(form, OrNone):
        form = form.form
    term = getattr(form, "term", None)
    how = field.how or (told("", *does) if does else DesignFile.fields[path[0]].how)
    done = does_of(how) if how else does
    dimension = term.dimension if term is not None else form.dimension if isinstance(form, Figure) else None
    words = term.words if term is not None and term.dimension is None else ()
    words = form.words if isinstance(form, Word) else words
    if key == "load":
        words = ("full", "none", "0.5 A")
    kind: Kind = "quantity" if dimension is not None else "word" if words else "text"
    if kind == "text" and (example.startswith(("[", "{")) or type(form).__name__ in _LISTS):
        kind = "list"
    if kind == "word" and key == "kind":
        words = KIND_WORDS
    return SheetField(
        path,
        _whose(path, names),
        (field.says or key).strip(),
        step_of(path, done),
        kind,
        dimension,
        tuple(words),
        how,
        done,
        _first(example or field.example),
        needed=key == "between"
        or key in ("mains", "load")
        and path[0] == "readings"
        or key == "kind"
        and path[0] == "parts",
    )


def _first(example: str) -> str:
    """The first of several examples."""
    return "none" if example.startswith("none, or ") else example.partition(", or ")[0]


_NEEDED = (("barriers", "between"), ("readings", "mains"), ("readings", "load"), ("parts", "kind"))
_LISTS = ("PathForm", "BridgingForm", "NameList", "LayersForm", "Lines", "LegsForm", "Names")


def _whose(path: Path, names: tuple[str, ...]) -> str:
    if path[0] == "transformers" and "windings" in path and len(names) > 1:
        return ".".join(names[:2])
    return names[0] if names else ""


def step_of(path: Path, does: tuple[Does, ...]) -> Step:
    """Where in the order of the bench: by what finding it does to the sample, and by its place in the file."""
    every = set(does)
    if path[0] in ("readings", "tests") or every & _POWER:
        return "powered"
    if "destructive" in every or (path[0] == "transformers" and ("windings" in path or path[-1].startswith("from_"))):
        return "unwound"
    out_of_circuit = path[0] == "transformers" or (path[0] == "parts" and "found" in path)
    if "opened" in every or path[0] in ("barriers", "transformers"):
        return "unsoldered" if out_of_circuit else "opened"
    return "closed" if "closed" in every else "papers"


# Where in the text of a file something goes.


class DesignText:
    """The text of a design file with the places of its nodes."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.root = spans_of(text)
        self.revision = self._get(self.root, "revision_of") is not None

    @staticmethod
    def _get(node: Span | None, key: str) -> tuple[str, Span] | None:
        """The key as the file spells it (of parts alike: all of them) and its value."""
        for own, value in node.entries if node is not None else ():
            if own == key or key in [one.strip() for one in own.split(",")]:
                return own, value
        return None

    def spelled(self, path: Path) -> Path:
        """The path with the keys as the file spells them: `D1, D3` where two parts are alike."""
        node: Span | None = self.root
        found = []
        for key in path:
            own = self._get(node, key)
            found.append(own[0] if own is not None else key)
            node = own[1] if own is not None else None
        return tuple(found)

    def takes(self, path: Path) -> bool:
        """Whether it can go into this file: a revision lays parts and places over those of the other as a whole."""
        if not self.revision or path[0] not in ("parts", "barriers", "conditions"):
            return True
        own = self._get(self.root, path[0])
        return own is not None and self._get(own[1], path[1]) is not None

    def has(self, path: Path) -> bool:
        """Whether these keys stand in the file."""
        return self.anchor(path)[0] == path

    def said(self, path: Path) -> str:
        """What stands there, '' for nothing and for unknown."""
        node = self.root
        for key in path:
            own = self._get(node, key)
            if own is None:
                return ""
            node = own[1]
        assert node is not None
        text = self.text[node.start : node.end].strip()
        return "" if text.partition(" (")[0] in ("unknown", "") else " ".join(text.split())

    def anchor(self, path: Path) -> tuple[Path, Anchor]:
        """The keys that stand in the file already, and where what follows them goes."""
        node, depth = self.root, 0
        assert node is not None
        for key in path:
            own = self._get(node, key)
            if own is None:
                break
            node, depth = own[1], depth + 1
        return path[:depth], self._anchor(node, path, depth)

    def _anchor(self, node: Span, path: Path, depth: int) -> Anchor:
        start, end = node.start, node.end
        if node.kind == "scalar":
            if depth == len(path):
                return Anchor(start, end - start, "value", lead="" if start != end else " ")
            if depth == 2 and path[0] == "parts" and node.text:
                return Anchor(start, end - start, "flow", lead="{", tail="}", seed=_written_out(node.text))
            return Anchor(start, end - start, "flow", lead=" {" if start == end else "{", tail="}")
        if depth == len(path):  # a list or a block that is written anew
            return Anchor(start, node.last - start, "value")
        if node.flow and not node.empty:
            return Anchor(end - 1, 0, "flow", comma=not self.text[: end - 1].rstrip().endswith(","))
        if node.flow:
            return self._opened(node)
        return Anchor(self._line_end(node.last), 0, "block", indent=node.column if depth else 0)

    def _opened(self, node: Span) -> Anchor:
        """An empty `{}` or `[]`, which gives way to lines of its own where it stands at the end of a line."""
        line = self.text[self.text.rfind("\n", 0, node.start) + 1 : node.start]
        if "{" in line or "[" in line:
            return Anchor(node.start + 1, 0, "flow")
        indent = len(line) - len(line.lstrip(" "))
        return Anchor(node.start, self._line_end(node.end) - node.start, "block", indent=indent + 2)

    def _line_end(self, at: int) -> int:
        found = self.text.find("\n", at)
        return len(self.text) if found < 0 else found


def _written_out(text: str) -> tuple[Fixed, ...]:
    """A part of one line as the keys it stands for, by the reader's own rules."""
    whole = Mapping(((Scalar("X1", Place("")), Scalar(text, Place(""))),), Place(""))
    expanded = expand_parts(whole, [], {})
    return tuple(_flat(expanded.entries[0][1], ())) if expanded.entries else ()


def _flat(node: Node, path: Path) -> Iterator[Fixed]:
    if isinstance(node, Mapping):
        for key, value in node.entries:
            yield from _flat(value, (*path, key.text))
    else:
        yield Fixed(path, str(node))
