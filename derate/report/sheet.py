"""The sheet for the bench as one page: on paper boxes to fill in, on a telephone a form that writes the file.

The form of a value is checked by patterns made from those of the one reader of quantities (`derate.text.quantity`);
what it means, and whether it is plausible, the reader says. The page asks nobody for anything: style, script and the
text of the file lie in it.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from markupsafe import Markup

from derate.design.blocks import Barrier
from derate.design.sheet import STEPS, Sheet, SheetField, Step, block_of
from derate.report.gather import ALWAYS
from derate.report.html import TEMPLATES, environment
from derate.report.svg import box, drawing, element, label, line
from derate.report.svg_insulation import place_to_measure
from derate.report.words import CAUTION, plain
from derate.terms.dimension import NUMBER, Dimension
from derate.terms.frozen import frozen
from derate.terms.instructions import Does, given, page_cautions
from derate.text.quantity import BODY_RE, FIGURE_RE, LETTERED_RE, LOOKED, RATIO_RE
from derate.text.units import LETTERS, UNIT, UNITS, WRITTEN_EVIDENCE, shown_spellings

# What a browser can hold to the form of a value: the expressions of the reader, without their names of groups.


def _bare(pattern: str) -> str:
    return re.sub(r"\(\?P<\w+>", "(?:", pattern)


def _spelled(dimension: Dimension | None) -> str:
    """Every unit of a dimension, the longest first; of all dimensions for a condition."""
    found = [re.escape(one.spelling) for one in UNITS.values() if dimension is None or one.dimension == dimension]
    return "(?:" + "|".join(sorted(found, key=lambda one: (-len(one), one))).replace("\\ ", " ") + ")"


def pattern_of(dimension: Dimension) -> str:
    """A value of a dimension as the reader takes it, with its conditions; the bracket of evidence stands behind it.

    A unit is asked for, except of a plain number. What the pattern takes the reader may still refuse (a range written
    downwards, a size that cannot be); a table in braces is taken as it is.
    """
    body, conditions = _bare(BODY_RE.pattern), FIGURE_RE.pattern[len(BODY_RE.pattern) :].removesuffix(r"(?= |\Z)")
    one = body.replace(UNIT, _spelled(dimension)) + conditions.replace(UNIT, _spelled(None))
    unit = "" if dimension == NUMBER else f"(?=.*[0-9] ?{_spelled(dimension)})"
    forms = [f"{unit}{one}", r"\{.*\}", *map(re.escape, LOOKED)]
    if dimension in LETTERS:
        forms.append(_bare(LETTERED_RE.pattern).removesuffix(r"(?= |\Z)"))
    if dimension == NUMBER:
        forms.append(_bare(RATIO_RE.pattern))
    return f"(?:{'|'.join(forms)})"


# `5` and `6.1..6.4 10%`: a value whose unit is the one chosen beside the field
BARE_NUMBER = _bare(BODY_RE.pattern).replace(rf"(?: ?(?:{UNIT}))?", "")
BRACKET = rf" ?\((?:{'|'.join(WRITTEN_EVIDENCE)})(?:;[^()]*)?\)"
LIST = r"\[.*\]|\{.*\}|none|unknown"


def unit_of_example(one: SheetField) -> str:
    """The unit that a field begins with: that of its example, else the base unit."""
    if one.dimension is None or one.dimension == NUMBER:
        return ""
    found = re.search(rf"[0-9] ?({_spelled(one.dimension)})(?![A-Za-z])", one.example)
    return found[1] if found else one.dimension.symbol


def _units(one: SheetField) -> tuple[str, ...]:
    if one.dimension is None or one.dimension == NUMBER:
        return ()
    return tuple(dict.fromkeys((unit_of_example(one), *shown_spellings(one.dimension))))


# Where the distances lie: a supply from above, mains on the left, with a number at each kind of place.

_SPOTS = {
    "mains poles ahead of the fuse": (60.0, 130.0),
    "across the fuse": (104.0, 92.0),
    "mains poles behind the fuse": (158.0, 130.0),
    "primary to secondary": (322.0, 196.0),
    "primary to earth": (104.0, 198.0),
    "primary to touchable parts": (232.0, 226.0),
}


def where_they_lie() -> str:
    """A board from above with the places at which somebody measures."""
    parts = [
        box(10, 30, 480, 206, "case"),
        box(20, 40, 460, 176, "board"),
        box(28, 76, 34, 16, "pad primary"),
        box(28, 152, 34, 16, "pad primary"),
        line(62, 84, 84, 84, "lead primary"),
        box(84, 76, 42, 16, "sheet"),
        line(126, 84, 190, 84, "lead primary"),
        line(62, 160, 190, 160, "lead primary"),
        box(190, 72, 46, 100, "pad primary"),
        box(270, 62, 86, 118, "core"),
        box(392, 72, 60, 100, "pad secondary"),
        label(45, 68, "L", "label", "middle"),
        label(45, 146, "N", "label", "middle"),
        label(105, 68, "fuse", "label", "middle"),
        label(213, 66, "bulk", "label", "middle"),
        label(313, 56, "transformer", "label", "middle"),
        label(422, 66, "output", "label", "middle"),
        label(472, 26, "case", "label", "end"),
    ]
    for number, (_, (x, y)) in enumerate(_SPOTS.items(), 1):
        parts += [
            element("circle", cx=x, cy=y, r=11, cls="spot-number"),
            label(x, y + 4, str(number), "label spot-text", "middle"),
        ]
    return drawing("where", 500, 246, "Where the distances lie", ", ".join(_named_spots()), *parts)


def _named_spots() -> tuple[str, ...]:
    return tuple(f"{number} {role}" for number, role in enumerate(_SPOTS, 1))


# The page.

_TITLES: dict[Step, tuple[str, str]] = {
    "papers": ("Before the bench", "Read, ask, look up. No sample is touched."),
    "closed": ("1 Closed", "The case shut, the plug out."),
    "powered": ("2 Powered", "Plugged in, the case shut."),
    "opened": ("3 Opened", "Unplugged and discharged."),
    "unsoldered": ("4 Unsoldered", "Parts out of their circuit."),
    "unwound": ("5 Unwound", "A spare, taken apart. Last of all."),
    "looked up": ("Afterwards", "Data sheets of the parts whose marks were read. No sample is touched."),
}
_ALWAYS_DOES: dict[Step, tuple[Does, ...]] = {
    "papers": (),
    "closed": ("closed",),
    "powered": ("running",),
    "opened": ("opened",),
    "unsoldered": ("opened",),
    "unwound": ("opened", "destructive"),
    "looked up": (),
}


@frozen
class Row:
    """A field as the page shows it. id: of its input; pattern: name of its pattern, '' where nothing is checked"""

    id: str
    field: SheetField
    units: tuple[str, ...]
    pattern: str
    how: str


@frozen
class Group:
    """Fields of one block of the file: what it is of, a drawing where there is one."""

    title: str
    rows: tuple[Row, ...]
    drawing: str = ""


@frozen
class Part:
    """One step of the bench. gates: what is ticked before anything of it is written; withheld: why nothing is"""

    step: Step
    title: str
    says: str
    gates: tuple[str, ...]
    groups: tuple[Group, ...]
    withheld: str


def sheet_page(sheet: Sheet, barriers: Mapping[str, Barrier]) -> str:
    """The sheet as HTML text. barriers: the places that the file describes, for their drawings"""
    rows = tuple(_rows(sheet.fields))
    parts = [_part(sheet, step, rows, barriers) for step in STEPS]
    script = (TEMPLATES / "sheet.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    page = (
        environment()
        .get_template("sheet.html")
        .render(
            sheet=sheet,
            parts=[one for one in parts if one.groups or one.withheld],
            elsewhere=_elsewhere(sheet),
            always=ALWAYS[:2],
            where=Markup(where_they_lie()),
            spots=_named_spots(),
            has_places=any(one.path[0] == "barriers" for one in sheet.fields),
            evidence=WRITTEN_EVIDENCE,
            script=Markup(script),
            digest=digest,
            css=Markup((TEMPLATES / "sheet.css").read_text(encoding="utf-8")),
            data=Markup(_data(sheet, rows)),
            caution=CAUTION,
        )
    )
    return page if page.endswith("\n") else page + "\n"


def _rows(fields: Sequence[SheetField]) -> Iterator[Row]:
    for number, one in enumerate(fields, 1):
        pattern = "list" if one.kind == "list" else one.dimension.symbol if one.dimension is not None else ""
        pattern = "number" if one.dimension == NUMBER else pattern
        yield Row(f"f{number}", one, _units(one), pattern, given(one.how, one.does))


def _part(sheet: Sheet, step: Step, rows: Sequence[Row], barriers: Mapping[str, Barrier]) -> Part:
    own = [one for one in rows if one.field.step == step]
    blocks: dict[tuple[str, ...], list[Row]] = {}
    for one in own:
        blocks.setdefault((*block_of(one.field.path), one.field.of), []).append(one)
    groups: list[Group] = []
    for key, inside in blocks.items():
        drawn = _drawing(sheet, key[1], barriers, len(groups)) if key[0] == "barriers" else ""
        groups.append(Group(_title(key), tuple(inside), drawn))
    does = {word for one in own for word in one.field.does}
    gates = page_cautions((*_ALWAYS_DOES[step], *does)) if own else ()
    withheld = sheet.not_powered if step == "powered" and not own else ""
    if withheld:
        gates = ()
    title, says = _TITLES[step]
    return Part(step, title, says, gates, tuple(groups), withheld)


_BLOCKS = {"site": "where it will stand", "inspection": "looked at", "circuit": "circuit", "supply": "supply"}


def _title(key: Sequence[str]) -> str:
    if key[0] in ("readings", "tests"):
        return f"{'reading' if key[0] == 'readings' else f'test of {key[1]}'}"
    return key[-1] or _BLOCKS.get(key[0], key[-2])


def _drawing(sheet: Sheet, name: str, barriers: Mapping[str, Barrier], number: int) -> str:
    block = barriers.get(name)
    between = tuple(map(str, block.between)) if block is not None else ()
    for fixed in sheet.fixed:
        if fixed.path == ("barriers", name, "between"):
            between = tuple(one.strip() for one in fixed.text.strip("[]").split(","))
    return place_to_measure(name, between, block, number) if between else ""


def _elsewhere(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """What has no field, each with its caution, or with the reason why not on this sample."""
    return tuple((plain(one.what), given(one.how, one.does, sheet.not_powered)) for one in sheet.elsewhere)


def _data(sheet: Sheet, rows: Sequence[Row]) -> str:
    """What the script works from, as JSON that cannot end the element it stands in."""
    anchors = list(sheet.anchors.items())
    used = {one.pattern: one.field.dimension for one in rows if one.field.dimension is not None}
    patterns = {name: pattern_of(dimension) for name, dimension in used.items()}
    data: dict[str, Any] = {
        "name": sheet.name,
        "empty": sheet.empty,
        "file": sheet.path.rpartition("/")[2],
        "text": sheet.text,
        "patterns": {**patterns, "list": LIST},
        "bare": BARE_NUMBER,
        "bracket": BRACKET,
        "fields": [
            {
                "id": one.id,
                "path": one.field.path,
                "kind": one.field.kind,
                "pattern": one.pattern,
                "needed": one.field.needed,
                "label": f"{one.field.of}: {one.field.label}" if one.field.of else one.field.label,
            }
            for one in rows
        ],
        "fixed": [{"path": one.path, "text": one.text} for one in sheet.fixed],
        "anchors": [
            {"path": path, **anchor._asdict(), "seed": [one._asdict() for one in anchor.seed]}
            for path, anchor in anchors
        ],
    }
    return json.dumps(data, ensure_ascii=False).replace("<", "\\u003c").replace("\u2028", "\\u2028")
