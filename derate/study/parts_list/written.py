"""The parts of a list written into a design: a new file, or one that is there, of which no line is lost."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from derate.design.load import Design, read_design
from derate.design.record import Record, Stated
from derate.study.parts_list.read import Ordered, PartsList
from derate.terms.values import Place, Problem, ReadingError, Value
from derate.text.spans import Span, loaded, spans_of

_TRIED = "derate: 1\nsupply: {name: list}\nparts:\n"
_ORDER = ("class", "dielectric", "characteristic", "resistance", "capacitance", "inductance", "voltage")
_LONGEST_NOTE = 160
_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9 .%+/_°²-]*\Z")


class Line(NamedTuple):
    """Parts of one entry as the file writes it. wrong: why it stands as a comment, '' where it is read"""

    names: tuple[str, ...]
    text: str
    wrong: str


def lines_of(parts: PartsList, path: str, mark: str = "") -> tuple[Line, ...]:
    """The entries of a list, parts alike of one row in one entry, each read once by the reader of designs.

    path: of the design, near which libraries are looked for; mark: how a figure is known, behind each
    """
    groups: dict[tuple[int, str], list[Ordered]] = {}
    for one in parts.parts:
        groups.setdefault((one.row, _entry(one, "")), []).append(one)
    found = []
    for several in groups.values():
        names = tuple(one.designator for one in several)
        found.append(_line(names, several[0], path, mark))
    return tuple(found)


def _line(names: tuple[str, ...], one: Ordered, path: str, mark: str) -> Line:
    beside = f"  # not read: {'; '.join(one.unread)}" if one.unread else ""
    beside = beside.replace("\n", " ")
    if one.no_part:
        return Line(names, f"{', '.join(names)}: {_said(one)}{beside}", one.no_part)
    if not one.kind and not one.part:
        return Line(names, f"{', '.join(names)}: {_said(one)}{beside}", "its kind is said nowhere")
    text = f"{', '.join(names)}: {{{_entry(one, mark)}}}"
    try:
        read_design(f"{_TRIED}  {text}\n", path)
    except ReadingError as error:
        return Line(names, f"{text}{beside}", error.problems[0].what)
    return Line(names, f"{text}{beside}", "")


def _said(one: Ordered) -> str:
    facts = [*one.facts.values(), *one.notes]
    return ", ".join(dict.fromkeys(" ".join(each.split()) for each in facts)) or "nothing said"


def _entry(one: Ordered, mark: str) -> str:
    """The keys of an entry."""
    keys: list[str] = []
    bracket = f" ({mark})" if mark else ""
    if one.part:
        keys.append(f"part: {_quoted(one.part + bracket)}")
        if "maker" in one.facts:
            one.notes.append(one.facts.pop("maker"))  # the library says which makers have figures of their own
    elif one.kind:
        keys.append(f"kind: {one.kind}{bracket}")
    if not one.fitted:
        keys.append("fitted: no")
    own = {key.removeprefix("part."): value for key, value in one.facts.items() if not key.startswith("rated.")}
    for key in sorted(own, key=lambda each: _ORDER.index(each) if each in _ORDER else len(_ORDER)):
        keys.append(f"{key}: {_quoted(own[key] + (bracket if key != 'maker' else ''))}")
    rated = [
        f"{key.removeprefix('rated.')}: {_quoted(value + bracket)}"
        for key, value in one.facts.items()
        if key.startswith("rated.")
    ]
    if rated:
        keys.append(f"rated: {{{', '.join(rated)}}}")
    note = "; ".join(dict.fromkeys(one.notes))[:_LONGEST_NOTE].strip()
    if note:
        keys.append(f"note: {_quoted(note, always=True)}")
    return ", ".join(keys)


def _quoted(text: str, always: bool = False) -> str:
    if not always and (_PLAIN.match(text) or re.fullmatch(r"[A-Za-z0-9 .%]+ \([a-z ]+\)", text)):
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def settled(parts: PartsList, path: str) -> PartsList:
    """Parts that a library has keep of the list what that does not say; what differs from it is told."""
    for one in parts.parts:
        if not one.part:
            continue
        try:
            design = read_design(f"{_TRIED}  {one.designator}: {{part: {_quoted(one.part)}}}\n", path)
        except ReadingError as error:
            one.unread.append(error.problems[0].what)
            one.part = ""
            continue
        theirs = _facts_of(design, one.designator)
        for key in [key for key in one.facts if key in theirs]:
            said = one.facts.pop(key)
            if not _said_there(theirs[key], _read(one, key, said, path)):
                one.unread.append(f"{key.partition('.')[2]} {said}, the library has {_text(theirs[key])}")
    return parts


def _facts_of(design: Design, name: str) -> dict[str, Stated]:
    part = design.file.parts[name]
    found = {f"part.{key}": value for key, value in part.stated()}
    if isinstance(part.rated, Record):
        found |= {f"rated.{key}": value for key, value in part.rated.stated()}
    return found


def _read(one: Ordered, key: str, said: str, path: str) -> Stated | None:
    block, _, name = key.partition(".")
    inner = f"{name}: {_quoted(said)}"
    entry = f"kind: {one.kind}, " + (f"rated: {{{inner}}}" if block == "rated" else inner)
    try:
        design = read_design(f"{_TRIED}  {one.designator}: {{{entry}}}\n", path)
    except ReadingError:
        return None
    return _facts_of(design, one.designator).get(key)


def _said_there(theirs: Stated, said: Stated | None) -> bool:
    """Whether a list says no more than a library: the same, or the same nominal value without its tolerance."""
    if _equal(theirs, said):
        return True
    value = said.value if said is not None else None
    return isinstance(value, Value) and value.is_exact and theirs.nominal == value.near


def _text(one: Stated) -> str:
    """A figure as it was written, without its bracket."""
    return one.text.partition(" (")[0] or "another table"


def _equal(one: Stated, other: Stated | None) -> bool:
    return other is not None and one.value == other.value


# A new file.


def head_lines(parts: PartsList) -> Iterator[str]:
    """What was taken from where, as comments."""
    name = parts.table.path.replace("\\", "/").rpartition("/")[2]
    told = f": {_clean(parts.columns.told())}" if parts.columns.roles else ""
    yield f"# Parts from {_clean(name)} ({_clean(parts.table.read)}){told}."
    if parts.columns.unused:
        yield f"# Nothing is taken from {_clean(', '.join(parts.columns.unused))}."
    says = "A netlist says what was drawn" if parts.circuit else "A parts list says what was ordered"
    yield f"# {says}: nobody has seen it on the board. What was not read stands beside."


def _clean(text: str) -> str:
    return " ".join(text.split())


def comment_lines(parts: PartsList, lines: Sequence[Line]) -> Iterator[str]:
    """What stands under no designator, and what is no part, as comments."""
    for one in lines:
        if one.wrong:
            yield f"#  {_clean(one.text)}  # {_clean(one.wrong)}"
    for left in parts.left:
        yield f"# row {left.row}: {_clean(left.text)[:200]}: {_clean(left.why)}"


_NO_PARTS = re.compile(r"^parts: \{\} .*\n", re.MULTILINE)
_PATHS = re.compile(r"^#circuit:.*\n(?:#[ \t].*\n)*", re.MULTILINE)
_TEMPLATE = re.compile(r"^#parts:\n(?:#[ \t].*\n)*", re.MULTILINE)


def into_new(text: str, parts: PartsList, path: str) -> str:
    """The text of a new design with the parts of a list in place of its template of parts."""
    lines = lines_of(parts, path)
    block = [*head_lines(parts), *comment_lines(parts, lines)]
    known = f"known_by: {{parts: {parts.known_by}, rated: {parts.known_by}}}"
    block.append(known if any(not one.wrong for one in lines) else "")
    good = [f"  {one.text}" for one in lines if not one.wrong]
    block += ["parts:", *good] if good else ["parts: {}"]
    block += ["", *parts.circuit] if parts.circuit else []
    made = _TEMPLATE.sub("", text)
    if parts.circuit:
        made = _PATHS.sub("", made)
    made, count = _NO_PARTS.subn(lambda _: "\n".join(one for one in block if one) + "\n", made)
    assert count == 1
    read_design(made, path)  # what was made is read before it is written
    return made


# A file that is there.


class Merged(NamedTuple):
    """A file with the parts of a list. added, changed, differing: what was done and what was left, in words"""

    text: str
    added: tuple[str, ...]
    changed: tuple[str, ...]
    differing: tuple[str, ...]


def into_existing(text: str, parts: PartsList, path: str) -> Merged:
    """A design with the parts of a list: those it lacks are added, figures it lacks are added to those it has.

    Every line that was there stays; a figure that the file has is never replaced. Raises ReadingError.
    """
    text = text if text.endswith("\n") else f"{text}\n"  # a line put behind the last one is one of its own
    design = read_design(text, path)
    plain = loaded(text)
    known = plain.get("known_by") if isinstance(plain, dict) else None
    told = isinstance(known, dict) and known.get("parts") == known.get("rated") == parts.known_by
    mark = "" if told else parts.known_by
    lines = lines_of(parts, path, mark)
    there = set(design.file.parts)
    differing, changed = [], []
    inserts: list[tuple[int, str]] = []
    entries = _entries(text)
    for one in parts.parts:
        if one.designator not in there or one.no_part:
            continue
        theirs = _facts_of(design, one.designator)
        lacking: dict[str, str] = {}
        for key, said in one.facts.items():
            if not key.startswith(("part.", "rated.")):
                continue
            if key not in theirs:
                lacking[key] = said
            elif not _equal(theirs[key], _read(one, key, said, path)):
                differing.append(f"{one.designator} {key}: {_text(theirs[key])} in the file, {said} in the list")
        span = entries.get(one.designator)
        if lacking and span is not None and not isinstance(design.file.parts[one.designator].part, str):
            put = _put(text, span, lacking, mark)
            if put and _gives(text, [*inserts, *put], path, one.designator, lacking):
                inserts += put
                changed += [f"{one.designator} {key}: {said}" for key, said in lacking.items()]
                continue
        differing += [f"{one.designator} {key}: not in the file, {said} in the list" for key, said in lacking.items()]
    new = [one for one in lines if not set(one.names) & there]
    at, indent, empty = _end_of_parts(text, path)
    good = [f"{indent}{one.text}\n" for one in new if not one.wrong]
    told_lines = [f"{one}\n" for one in (*head_lines(parts), *comment_lines(parts, new))]
    if good or len(told_lines) > 2:
        inserts.append((at, "".join([*(f"{indent}{one}" for one in told_lines), *good])))
    made = _inserted(text, inserts)
    if empty and good:
        made = re.sub(
            r"^parts:[ \t]*\{\}[ \t]*(#.*)?$",
            lambda one: f"parts:{'  ' + one[1] if one[1] else ''}",
            made,
            count=1,
            flags=re.M,
        )
    read_design(made, path)  # what was made is read before it is written
    added = [name for one in new if not one.wrong for name in one.names]
    return Merged(made, tuple(added), tuple(changed), tuple(differing))


def _inserted(text: str, inserts: Sequence[tuple[int, str]]) -> str:
    for at, piece in sorted(inserts, key=lambda one: one[0], reverse=True):
        text = text[:at] + piece + text[at:]
    return text


def _gives(text: str, inserts: Sequence[tuple[int, str]], path: str, name: str, lacking: dict[str, str]) -> bool:
    """Whether the file can be read with what is put in, and the part then has what it lacked."""
    try:
        design = read_design(_inserted(text, inserts), path)
    except ReadingError:
        return False
    return lacking.keys() <= _facts_of(design, name).keys()


def _entries(text: str) -> dict[str, Span]:
    """The entry of each part that stands alone in a block of its own."""
    root = spans_of(text)
    parts = next((span for key, span in root.entries if key == "parts"), None) if root is not None else None
    found = {}
    for key, span in parts.entries if parts is not None else ():
        if "," not in key and span.kind == "mapping" and span.entries:
            found[key.strip()] = span
    return found


def _put(text: str, span: Span, lacking: dict[str, str], mark: str) -> list[tuple[int, str]]:
    """Figures put into an entry, and into its ratings, each as it is written: in braces, or on lines of their own."""
    bracket = f" ({mark})" if mark else ""
    own = [f"{key[5:]}: {_quoted(said + bracket)}" for key, said in lacking.items() if key.startswith("part.")]
    rated = [f"{key[6:]}: {_quoted(said + bracket)}" for key, said in lacking.items() if key.startswith("rated.")]
    block = next((one for key, one in span.entries if key == "rated"), None)
    if rated and block is not None and not (block.kind == "mapping" and block.entries):
        return []
    pieces: dict[int, str] = {}  # where ratings end the entry ends too: their lines come first
    for at, lines in ((block, rated), (span, own if block is not None or not rated else [*own, _braced(rated)])):
        if at is not None and lines:
            place, piece = _behind(text, at, lines)
            pieces[place] = pieces.get(place, "") + piece
    return list(pieces.items())


def _braced(rated: Sequence[str]) -> str:
    return f"rated: {{{', '.join(rated)}}}"


def _behind(text: str, span: Span, lines: Sequence[str]) -> tuple[int, str]:
    """Where further keys of a block go, and as what: ahead of its closing brace, or behind its last line."""
    if span.flow:
        return span.last - 1, "".join(f", {one}" for one in lines)
    at = text.find("\n", span.last - 1)
    return at, "".join(f"\n{' ' * span.column}{one}" for one in lines)


def _end_of_parts(text: str, path: str) -> tuple[int, str, bool]:
    """Where a further part goes, how far in, and whether there is none yet. Raises ReadingError."""
    root = spans_of(text)
    parts = next((span for key, span in root.entries if key == "parts"), None) if root is not None else None
    if parts is None or (parts.flow and not parts.empty):
        what = "the parts of this file stand in braces"
        raise ReadingError([Problem(Place(path), what, "write each on a line of its own below parts:")])
    if parts.empty:
        at = text.find("\n", parts.start)
        return (len(text) if at < 0 else at + 1), "  ", True
    at = text.find("\n", parts.last - 1)
    first = re.search(r"^([ \t]+)\S", text[text.rfind("\n", 0, parts.start) + 1 :], re.MULTILINE)
    indent = first[1] if first else "  "
    if at < 0:
        return len(text), indent, False
    return at + 1, indent, False
