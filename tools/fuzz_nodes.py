"""Fuzz the YAML reader: every text composes to nodes inside it, or is refused by ReadingError inside it."""

from __future__ import annotations

import fuzzing

from derate.terms.values import Place, ReadingError
from derate.text.nodes import Mapping, Node, Scalar, compose, compose_second

SEEDS = (
    "derate: 1\nsupply: {name: Desk lamp, plate: {mains: 220..240 V}}\n",
    "parts:\n  F1: fuse 1 A 250 V   # marked\n  C1, C2:\n    kind: film capacitor\n",
    "a: [x, 'y z', \"q\\u00b5\"]\nb: {c: >5 mm, d: 1 # e}\n",
    "a: |\n  one\n  two\nb: >\n  three\n",
    "a: 1\na: 2\n<<: {b: c}\n? [d]\n: e\n",
    "a: &x 1\nb: *x\nc: !t 2\n",
    "%YAML 1.1\n---\na: 1\n...\n---\n- b\n---\nc\n",
    "a:\n- b\n-\n- {c, d: e}\nf: 'never\n",
    "note: photo 7, corner: lifted\n\tb: 1\r\nc: ~\n",
)
PIECES = (
    "{", "}", "[", "]", ": ", ", ", "- ", "\n", "\n  ", "\r\n", "\t", "'", '"', "\\", "#", " #", "|", ">", "&a", "*a",
    "!", "!!", "%", "@", "`", "?", "---\n", "...\n", "<<", "~", "null", "\u00b5", "\u2028", "\ufeff", "\x00", "[" * 50,
    "{a: " * 50,
)  # fmt: skip


def check(text: str) -> None:
    """Compose both documents in every way; look at all places."""
    lines = text.split("\n")
    for only, blocks in ((True, False), (False, True)):
        try:
            walk(compose(text, "fuzz", only=only, blocks=blocks), lines)
        except ReadingError as error:
            inside(error, lines)
    try:
        second = compose_second(text, "fuzz")
        if second is not None:
            walk(second, lines)
    except ReadingError as error:
        inside(error, lines)


def walk(node: Node, lines: list[str]) -> None:
    """Every place of the nodes stands in the text; the text of a scalar on one line stands there as it is."""
    exists(node.place, lines)
    if isinstance(node, Scalar):
        if node.in_line:
            start = node.start
            line = lines[start.line - 1].removeprefix("\ufeff") if start.line == 1 else lines[start.line - 1]
            found = line[start.column - 1 : start.column - 1 + len(node.text)]
            assert len(found) == len(node.text), (node, line)
            if not node.quoted:
                assert found == node.text, (node, line)
    elif isinstance(node, Mapping):
        assert len(set(node.keys)) == len(node.keys)
        for key, value in node.entries:
            walk(key, lines)
            walk(value, lines)
    else:
        for item in node.items:
            walk(item, lines)


def inside(error: ReadingError, lines: list[str]) -> None:
    """Every problem has a place in the text and is said in words."""
    assert error.problems
    for problem in error.problems:
        assert problem.what and len(str(problem)) < 400, problem
        exists(problem.place, lines)


def exists(place: Place, lines: list[str]) -> None:
    """The line is there, and the column at most one behind its end."""
    assert 1 <= place.line <= len(lines), (place, lines)
    assert 1 <= place.column <= len(lines[place.line - 1]) + 1, (place, lines)


if __name__ == "__main__":
    fuzzing.run("fuzz the YAML reader", check, SEEDS, PIECES)
