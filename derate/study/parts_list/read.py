"""The parts of a list: what was ordered under each designator, and every cell that could not be read."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from derate.study.parts_list.columns import Columns, designators
from derate.study.parts_list.table import Table
from derate.study.parts_list.values import (
    Read,
    is_not_fitted,
    is_type,
    kind_in,
    kind_of,
    read_cell,
    said_by_kind,
    sharper,
    without_not_fitted,
)

MOST_PARTS = 400  # as many as a design may hold
_YES = ("yes", "y", "1", "x", "true", "ja", "j", "oui", "si", "fitted", "populated", "place", "mount", "bestückt")
_NO = ("no", "n", "0", "false", "nein", "non", "-", "", "fitted", "place")
# In these the value of a list is a figure, in others a type.
_FIGURES = ("resistor", "capacitor", "choke", "fuse", "NTC", "varistor")
_UNIT_OF = {"voltage": "V", "power": "W", "tolerance": "%", "current": "A"}


@dataclass(slots=True)
class Ordered:
    """One part of a list.

    kind: '' where nobody says; part: its entry in a library; facts: by key, as the file writes them; unread: in words
    no_part: why it is no part of this format
    """

    designator: str
    row: int
    kind: str = ""
    part: str = ""
    fitted: bool = True
    facts: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    no_part: str = ""


class Left(NamedTuple):
    """A row, or what of it stands under no designator. row: its number in the file"""

    row: int
    text: str
    why: str


class PartsList(NamedTuple):
    """A list as it was read. known_by: how its values are known; circuit: comments that propose paths, of a netlist"""

    table: Table
    columns: Columns
    parts: tuple[Ordered, ...]
    left: tuple[Left, ...]
    known_by: str = "ordered"
    circuit: tuple[str, ...] = ()


def read_list(table: Table, columns: Columns, known: Mapping[str, str]) -> PartsList:
    """The parts of a list. known: entries of libraries, with the kind of each."""
    parts: dict[str, Ordered] = {}
    left: list[Left] = []
    for number, row in enumerate(table.rows[columns.header + 1 :], columns.header + 2):
        cells = {role: row[at] for role, at in columns.roles.items() if at < len(row) and row[at]}
        text = ", ".join(cell for cell in row if cell)
        if not text:
            continue
        names, rest = designators(cells.get("designator", ""))
        if not names:
            left.append(Left(number, text, "no designator"))
            continue
        if rest:
            left.append(Left(number, rest, "no designator"))
        _quantity(number, cells, names, left)
        for name in names:
            if name in parts:
                left.append(Left(number, text, f"{name} stands in row {parts[name].row} too, which was taken"))
                continue
            if len(parts) >= MOST_PARTS:
                left.append(Left(number, text, f"more than {MOST_PARTS} parts"))
                break
            parts[name] = _part(name, number, cells, columns, table.comma, known)
    return PartsList(table, columns, tuple(parts.values()), tuple(left))


def _quantity(number: int, cells: Mapping[str, str], names: Sequence[str], left: list[Left]) -> None:
    said = cells.get("quantity", "")
    found = re.fullmatch(r"(\d+)(?:[.,]0+)?(?: ?(?:pcs?|stk|x)\.?)?", said, re.IGNORECASE)
    if said and not is_not_fitted(said) and (found is None or int(found[1]) not in (0, len(names))):
        left.append(Left(number, f"quantity {said}", f"{len(names)} designators: {', '.join(names)[:80]}"))


def _part(
    name: str, number: int, cells: Mapping[str, str], columns: Columns, comma: bool, known: Mapping[str, str]
) -> Ordered:
    _, letters = kind_of(name)
    made = Ordered(name, number, "" if letters.kind == "?" else letters.kind)
    told = [cells.get(role, "") for role in ("description", "value", "type", "note")]
    said = next((kind for text in told if (kind := kind_in(text))), "")
    if said == "a transformer" or letters.says:
        made.notes += [cells[role] for role in ("value", "description", "package", "type") if role in cells]
        made.no_part = letters.says if said != "a transformer" else "a transformer stands under transformers"
        return made
    sharp = sharper(made.kind, said)
    if sharp is None:
        made.unread.append(f"its letters say {made.kind}, its text {said}")
    else:
        made.kind = sharp
    value, empty = without_not_fitted(cells.get("value", ""))
    if empty:
        made.fitted = False
    _fitted(made, cells)
    types: list[str] = []
    if value:
        read = read_cell(value, made.kind, comma)
        read = read._replace(unread=tuple(one for one in read.unread if one not in said_by_kind(value)))
        _take(made, read, "value", silent=False)
        types += read.types
    for role in ("voltage", "power", "tolerance", "current"):
        _rating(made, role, cells.get(role, ""), columns, comma)
    typed = cells.get("type", "")
    if typed and not is_type(typed) and typed not in known:  # a word of the kind, or of the program's own library
        made.notes.append(typed)
        typed = ""
    if typed:
        types.insert(0 if typed in known or not types else len(types), typed)
    for role in ("description", "note"):
        if cells.get(role):
            read = read_cell(cells[role], made.kind, comma)
            _take(made, read, role, silent=True)
            made.notes.append(cells[role])
            types += [one for one in read.types if one in known]
    if cells.get("package"):
        made.notes.insert(0, cells["package"])
    if made.facts.get("part.dielectric") in ("class 1", "class 2") and sharper(made.kind, "ceramic capacitor"):
        made.kind = "ceramic capacitor"  # dielectrics of classes are those of ceramics
    _typed(made, list(dict.fromkeys(types)), typed, known)
    _tolerance(made)
    if cells.get("maker"):
        made.facts["maker"] = cells["maker"]
    return made


def _fitted(made: Ordered, cells: Mapping[str, str]) -> None:
    out, placed = cells.get("not fitted", "").lower(), cells.get("fitted", "").lower()
    if out and out not in _NO:
        made.fitted = False
    if placed and (placed in _NO[:7] or is_not_fitted(placed)):
        made.fitted = False
    elif placed and placed not in _YES:
        made.unread.append(f"fitted {placed}")
    for role in ("description", "note", "type", "quantity"):
        if is_not_fitted(cells.get(role, "")):
            made.fitted = False
    if re.fullmatch(r"0+(?:[.,]0+)?", cells.get("quantity", "")):  # none is ordered
        made.fitted = False


def _rating(made: Ordered, role: str, cell: str, columns: Columns, comma: bool) -> None:
    """A cell of a column of its own; a number alone has the unit of its column."""
    if not cell:
        return
    text = cell
    if re.fullmatch(r"[\d.,/±+\- ]+", cell):
        name = columns.names[columns.roles[role]]
        unit = re.search(r"[\[(]\s*([munkM]?(?:V|W|A|%)[A-Za-z]*)\s*[\])]", name)
        alone = re.fullmatch(r"0?[.,]\d+", cell.strip())
        if role == "tolerance" and alone is not None and unit is None:  # a share of one, or a part of a per cent
            made.unread.append(f"tolerance {cell}")
            return
        text = f"{cell} {unit[1] if unit else _UNIT_OF[role]}"
    _take(made, read_cell(text, made.kind, comma, figures_alone=True), role, silent=False)


def _take(made: Ordered, read: Read, role: str, silent: bool) -> None:
    """What was read of a cell; silent: of a text that is kept as a note, only what contradicts is told."""
    for key, value in read.facts.items():
        before = made.facts.get(key)
        if before is None:
            made.facts[key] = value
        elif not _same(before, value):
            made.unread.append(f"{role} says {value}")
    made.notes += read.packages if not silent else ()
    if not silent:
        made.unread += read.unread


def _same(one: str, other: str) -> bool:
    """Whether two writings state the same figure, one of them perhaps with its tolerance."""
    return one == other or one.startswith(f"{other} ") or other.startswith(f"{one} ")


def _typed(made: Ordered, types: Sequence[str], ordered: str, known: Mapping[str, str]) -> None:
    """The type of a part: that of a library where one has it, else the mark that was ordered."""
    named = next((one for one in types if one in known), "")
    if named:
        kind = sharper(made.kind, known[named])
        if kind is None:
            made.unread.append(f"{named} is a {known[named]} in the library")
        else:
            made.part, made.kind = named, kind
    rest = [one for one in types if one != made.part]
    figures = made.kind.endswith(_FIGURES[:2]) or made.kind.startswith(_FIGURES[2:4])
    if rest and not made.part:
        if not figures or rest[0] == ordered:
            made.facts["part.marking"] = rest.pop(0)
    made.unread += [one for one in rest if one != ordered]
    if ordered in rest:
        made.notes.append(f"order code {ordered}")


def _tolerance(made: Ordered) -> None:
    """A tolerance of a cell of its own, put behind the value."""
    said = made.facts.pop("tolerance", "")
    if not said:
        return
    key = next(
        (
            one
            for one in ("part.resistance", "part.capacitance", "part.inductance", "part.voltage")
            if one in made.facts
        ),
        "",
    )
    if not key:
        made.unread.append(f"tolerance {said}")
    elif not made.facts[key].endswith("%"):
        made.facts[key] += f" {said}"
    elif not made.facts[key].endswith(f" {said}"):
        made.unread.append(f"tolerance {said}")
