"""YAML as nodes with positions: a scalar is the text as typed, never a number, a date or a truth value.

Only libyaml's parser is used (PyYAML's own disagrees with it on tabs and question marks). Events are read one by one,
so that tags, anchors and aliases are seen and refused, and nothing is walked beyond the limits below.
"""

from __future__ import annotations

import re

import yaml

from derate.terms.place import Place, Problem, ReadingError
from derate.text.composer import Composer, Stop, clipped
from derate.text.file import check_characters, read_text
from derate.text.node import Mapping, Node, Scalar, Sequence

__all__ = ["Mapping", "Node", "Scalar", "Sequence", "compose", "compose_second", "read_text", "split_numbers"]

_MARKER = re.compile(r"^---(?=[ \t\r\n]|\Z)", re.MULTILINE)
_ONLY_COMMENTS = re.compile(r"(?:[ \t]*(?:#[^\n]*|%[^\n]*)?\r?\n)*[ \t]*\Z")


def compose(text: str, path: str, *, only: bool = False, blocks: bool = False) -> Mapping:
    """The first document of a text, a mapping at its top.

    only: refuse a second document (a design has one). blocks: allow texts over several lines behind `|` and `>`.
    Raises ReadingError with every problem found.
    """
    first, second = _split(text)
    node, problems = _composed(first, 0, path, blocks)
    if only and second is not None:
        line = text.count("\n", 0, second) + 1
        problems.append(Problem(Place(path, line), "a second document begins here", "one file holds one design"))
    if not problems and not isinstance(node, Mapping):
        what, instead = "the file is empty", "a design begins with `derate: 1`"
        if isinstance(node, Sequence):
            what, instead = "the file is a list", "write keys and values, such as `derate: 1`"
        elif isinstance(node, Scalar):
            what, instead = "the file is one piece of text", "write keys and values, such as `derate: 1`"
        problems.append(Problem(node.place if node else Place(path), what, instead))
    if problems:
        raise ReadingError(problems)
    assert isinstance(node, Mapping)
    return node


def compose_second(text: str, path: str, *, blocks: bool = False) -> Node | None:
    """The second document of a text (the trials of a pack), or None when there is none. A third is refused."""
    _, begin = _split(text)
    if begin is None:
        return None
    third, _ = _next_document(text, begin + 3)
    rest = text[begin:third]
    before = text.count("\n", 0, begin)
    node, problems = _composed("\n" * before + rest, before, path, blocks)
    if third is not None:
        line = text.count("\n", 0, third) + 1
        problems.append(Problem(Place(path, line), "a third document begins here", "a file holds two at most"))
    if problems:
        raise ReadingError(problems)
    return node


def split_numbers(sequence: Sequence) -> tuple[Problem, ...]:
    """`[6,2 mm]` is a list of two for YAML: a bare whole number before an item that begins with a digit and a unit."""
    problems = []
    for one, other in zip(sequence.items, sequence.items[1:], strict=False):
        if isinstance(one, Scalar) and isinstance(other, Scalar) and not one.quoted and not other.quoted:
            if re.fullmatch(r"[+-]?[0-9]+", one.text) and re.match(r"[0-9]+ ?[^\W\d_]", other.text):
                typed = clipped(f"{one.text},{other.text}")
                what = f"'{clipped(one.text)}' has no unit: the comma has split '{typed}' in two"
                problems.append(Problem(one.place, what, f"write {typed.replace(',', '.', 1)}"))
    return tuple(problems)


def _next_document(text: str, begin: int) -> tuple[int | None, int]:
    """Where the next `---` at the start of a line stands behind `begin`."""
    found = _MARKER.search(text, begin)
    return (found.start(), found.end()) if found else (None, len(text))


def _split(text: str) -> tuple[str, int | None]:
    """The first document, and where the second begins. `---` at the start of a line ends a document wherever it is."""
    begin, end = _next_document(text, 0)
    if begin is not None and _ONLY_COMMENTS.match(text, 0, begin):
        begin, end = _next_document(text, end)
    return (text, None) if begin is None else (text[:begin], begin)


def _composed(text: str, before: int, path: str, blocks: bool) -> tuple[Node | None, list[Problem]]:
    if not hasattr(yaml, "CSafeLoader"):
        return None, [
            Problem(
                Place(path),
                "this PyYAML was built without libyaml, and its own parser reads some texts differently",
                "install a PyYAML with libyaml (the published wheels have it)",
            )
        ]
    problems = list(check_characters(text, path))
    if problems:
        return None, problems
    composer = Composer(text, path, blocks)
    try:
        node = composer.document()
    except yaml.YAMLError as error:
        from derate.text.traps import find_traps, own_words  # only ever needed to word an error

        traps = find_traps(text, path, before)
        return None, composer.problems + (traps or [own_words(error, path, text)])
    except Stop:
        node = None
    return node, composer.problems
