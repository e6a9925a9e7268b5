"""A pack as plain data: written once when the package is built, found again by the digest of the pack file.

What is stored are tuples of texts and numbers alone, in the form of `marshal`: reading it makes no object of ours and
runs nothing. It lies inside the installed package, beside the code, and nowhere else; a pack whose content has no entry
there, or whose packs below are not those it was compiled with, is read from its own file. A checkout has no such file.
"""

from __future__ import annotations

import marshal
import sys
from collections.abc import Callable, Iterable
from functools import cache
from importlib import import_module
from itertools import product
from pathlib import Path
from typing import Any

import derate
from derate.packs.pack import (
    Agree,
    AnyOf,
    Assumption,
    Condition,
    Count,
    Head,
    Keep,
    Member,
    Pack,
    Presence,
    Range,
    Record,
    Rule,
    Shape,
    Within,
)
from derate.packs.table import Axis, Cell, Table
from derate.terms.dimension import Dimension
from derate.terms.values import Place, Value
from derate.text.formula import Choice, Formula, Name, Negative, Number, Operation, Side, Term
from derate.text.nodes import Scalar

FILE = "packs.compiled"
# Another form, another release or another way of Python to write it: then the pack files are read.
HEAD = ("derate packs", 2, derate.__version__, marshal.version)
Plain = Any  # None, a text, a number, or a tuple of these
_SHAPES = (Keep, Within, Presence, Member, Count, Agree, Record, AnyOf)
_TERMS = (Number, Name, Negative, Operation, Choice)


def digest_of(content: bytes) -> str:
    """SHA-256 of a content [64 hexadecimal digits]."""
    return _sha256()(content).hexdigest()  # type: ignore[no-any-return]


@cache
def _sha256() -> Callable[[bytes], Any]:
    """Python's own SHA-256 without the library for all others, which takes ten times as long to load."""
    try:
        return import_module("_sha2" if sys.version_info >= (3, 12) else "_sha256").sha256  # type: ignore[no-any-return]
    except (ImportError, AttributeError):
        from hashlib import sha256

        return sha256


def stored_at() -> Path:
    """Where the compiled packs of an installed package lie."""
    return Path(derate.__file__).parent / "rules" / FILE


def compiled(path: str, digest: str) -> Pack | None:
    """The pack that a content was compiled to, with its places in the file at path; None when there is none."""
    found = _stored(str(stored_at())).get(digest)
    return None if found is None else pack_of(marshal.loads(found), path, digest)


@cache
def _stored(path: str) -> dict[str, bytes]:
    """Compiled packs by the digest of their files; none where the file is missing or of another form."""
    try:
        with open(path, "rb") as file:
            head, packs = marshal.loads(file.read())
    except (OSError, ValueError, EOFError, TypeError):
        return {}
    return packs if head == HEAD else {}


def forget() -> None:
    """Read the file of compiled packs again when next asked, for measurements and tests."""
    _stored.cache_clear()


def compiled_file(packs: Iterable[Pack]) -> bytes:
    """The content of the file of compiled packs. A pack that changes others is left to its own file."""
    stored = {pack.head.digest: marshal.dumps(plain(pack)) for pack in packs if not pack.changes}
    return marshal.dumps((HEAD, stored))


def plain(one: Any) -> Plain:
    """A record of a pack as tuples of texts and numbers; what it belongs to (its path, its digest) is left out."""
    match one:
        case Pack(head=head):
            heads = (head.name, head.title, head.covers, head.family, head.builds_on)
            places = (head.place, head.name_place, head.builds_on_place)
            parts = (one.sources, tuple(one.tables.values()), tuple(one.assumptions.values()), one.rules, one.below)
            return plain((heads, places, *parts))
        case Place():
            return (one.line, one.column)
        case Dimension():
            return (*one.exponents, one.point)
        case Value():
            return one.numbers()
        case Number() | Name() | Negative() | Operation() | Choice():
            return (_TERMS.index(type(one)), *map(plain, one))
        case Keep() | Within() | Presence() | Member() | Count() | Agree() | Record() | AnyOf():
            return (_SHAPES.index(type(one)), *map(plain, one))
        case Table():
            cells = [one.cells[index] for index in product(*(range(axis.rows) for axis in one.axes))]
            return tuple(map(plain, one._replace(cells=tuple(cells))))  # type: ignore[arg-type]
        case tuple():
            return tuple(map(plain, one))
        case dict():
            return tuple((plain(key), plain(value)) for key, value in one.items())
        case str():
            return sys.intern(one)  # a text that comes again is written once
        case None | bool() | int() | float():
            return one
    raise TypeError(f"{type(one).__name__} is no part of a pack")


def pack_of(data: Plain, path: str, digest: str) -> Pack:
    """The pack that `plain` was given, as if it had been read from the file at path, one that is shipped."""

    def place(at: Plain) -> Place:
        return Place(path, *at)

    def formula(one: Plain) -> Formula | None:
        if one is None:
            return None
        text, at, left, right, comparison, unit, names, sides = one
        right = None if right is None else term(right)
        flat = tuple([Side(*side) for side in sides])
        return Formula(text, place(at), term(left), right, comparison, _dimension(unit), names, flat)

    def term(one: Plain) -> Term:
        kind, *parts = one
        match kind:
            case 0:
                return Number(*parts)
            case 1:
                return Name(parts[0], parts[1], _dimension(parts[2]))
            case 2:
                return Negative(term(parts[0]))
            case 3:
                return Operation(parts[0], term(parts[1]), term(parts[2]))
            case _:
                return Choice(parts[0], tuple([term(inner) for inner in parts[1]]))

    def conditions(several: Plain) -> tuple[Condition, ...]:
        return tuple(
            [
                Condition(name, text, place(at), words, other, None if ends is None else Range(*ends), there, includes)
                for name, text, at, words, other, ends, there, includes in several
            ]
        )

    def shape(one: Plain) -> Shape:
        kind, *parts = one
        match kind:
            case 0:
                return Keep(_there(formula(parts[0])))
            case 1:
                return Within(_there(formula(parts[0])), formula(parts[1]), formula(parts[2]))
            case 2:
                return Presence(parts[0], conditions(parts[1]), parts[2])
            case 3:
                return Member(*parts)
            case 4:
                return Count(conditions(parts[0]), *map(formula, parts[1:]))
            case 5:
                return Agree(*parts)
            case 6:
                return Record(parts[0], conditions(parts[1]))
            case _:
                return AnyOf(tuple([shape(inner) for inner in parts[0]]))

    def rule(one: Plain) -> Rule:
        applies, cases, when, asked = one[8:12]
        judged = (conditions(applies), cases, conditions(when), shape(asked))
        return Rule._make((*one[:8], *judged, *one[12:20], place(one[20]), *one[21:]))

    def table(one: Plain) -> Table:
        name, pack, family, plain_axes, unit, cells, says, source, at = one
        axes = tuple(map(_axis, plain_axes))
        indices = product(*(range(axis.rows) for axis in axes))
        found = dict(zip(indices, map(cell, cells), strict=True))
        return Table(name, pack, family, axes, _dimension(unit), found, says, source, place(at))

    @cache  # most figures of a table stand in it several times
    def cell(one: Plain) -> Cell:
        value, sure = one
        return Cell(None if value is None else Value(*value), sure)

    def assumption(one: Plain) -> Assumption:
        name, pack, value, unit, *rest, at = one
        return Assumption._make((name, pack, Value(*value), _dimension(unit), *rest, place(at)))

    (name, title, covers, family, builds_on), places, sources, tables, assumptions, rules, below = data
    named = tuple(Scalar(text, place(at), *rest) for text, at, *rest in builds_on)
    head = Head._make((name, title, covers, family, named, path, *map(place, places), digest, True))
    return Pack(
        head,
        dict(sources),
        {one.name: one for one in map(table, tables)},
        {one.name: one for one in map(assumption, assumptions)},
        tuple(map(rule, rules)),
        {},
        below,
    )


@cache
def _dimension(one: tuple[int, int, int, int, int, bool]) -> Dimension:
    return Dimension(one[:5], one[5])


def _axis(one: Plain) -> Axis:
    name, unit, *rest = one
    return Axis(name, None if unit is None else _dimension(unit), *rest)


def _there(formula: Formula | None) -> Formula:
    assert formula is not None
    return formula
