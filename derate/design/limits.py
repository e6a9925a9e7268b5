"""How many of a thing one design may hold, so that the work on a file is bounded and not only its bytes.

Some of the work grows with the square of these numbers (each part in series is asked beside all others), and all of it
with their product with the rules. A supply of up to 100 W has some two hundred parts and a few dozen readings: each
limit is several times what such a one reaches.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from derate.terms.tuples import NamedTuple
from derate.terms.values import Problem, ReadingError
from derate.text.nodes import Mapping, Node, Scalar, Sequence

MOST_PARTS = 300


class Limit(NamedTuple):
    """So many entries at the most below a path of keys, in words; `*` is any key."""

    path: tuple[str, ...]
    most: int
    what: str


LIMITS = (
    Limit(("parts",), MOST_PARTS, "parts"),
    Limit(("supply", "plate", "outputs"), 24, "outputs"),
    Limit(("circuit", "outputs"), 24, "outputs"),
    Limit(("circuit", "snubbers"), 48, "snubbers"),
    Limit(("circuit", "ports"), 12, "ports"),
    Limit(("transformers",), 12, "transformers"),
    Limit(("transformers", "*", "windings"), 48, "windings"),
    Limit(("transformers", "*", "from_core_outwards"), 200, "layers"),
    Limit(("transformers", "*", "from_outside_inwards"), 200, "layers"),
    Limit(("barriers",), 100, "barriers"),
    Limit(("conditions",), 100, "conditions"),
    Limit(("readings",), 100, "readings"),
    Limit(("tests",), 100, "tests"),
    Limit(("waivers",), 200, "waivers"),
    Limit(("open_points",), 200, "open points"),
    Limit(("packs",), 50, "packs"),
)
MOST_READ = 2000  # texts under readings: conditions and figures
MOST_ON_A_PATH = 120  # parts of one path, in series and in parallel
_PATHS = (
    ("circuit", "line"),
    ("circuit", "primary"),
    ("circuit", "clamp"),
    ("circuit", "start_up"),
    ("circuit", "auxiliary"),
    ("circuit", "outputs", "*"),
    ("circuit", "snubbers", "*"),
    ("circuit", "ports", "*", "path"),
)
_WORD = re.compile(r"[^\s,+|()]+")
_NO_NAMES = ("across", "series", "neutral")
_ADVICE = "one file holds one supply: split it, or leave out what is alike"


def bounded(file: Mapping) -> None:
    """Raise ReadingError where a file holds more of a thing than one design may; it is told before anything is read."""
    problems = [
        Problem(node.place, f"more than {limit.most} {limit.what} in one design", _ADVICE)
        for limit in LIMITS
        for node in _at(file, limit.path)
        if _count(node) > limit.most
    ]
    for node in _at(file, ("readings",)):
        if sum(1 for _ in _texts(node)) > MOST_READ:
            problems.append(Problem(node.place, f"more than {MOST_READ} figures in the readings", _ADVICE))
    for path in _PATHS:
        for node in _at(file, path):
            count = sum(word not in _NO_NAMES for text in _texts(node) for word in _WORD.findall(text))
            if count > MOST_ON_A_PATH:
                problems.append(Problem(node.place, f"more than {MOST_ON_A_PATH} parts on one path", _ADVICE))
    if problems:
        raise ReadingError(problems)


def _count(node: Node) -> int:
    return 1 if isinstance(node, Scalar) else len(node.entries if isinstance(node, Mapping) else node.items)


def _at(node: Node | None, path: tuple[str, ...]) -> Iterator[Node]:
    """Every node below a path of keys."""
    if node is None:
        return
    if not path:
        yield node
    elif isinstance(node, Mapping):
        below = [value for _, value in node.entries] if path[0] == "*" else [node.get(path[0])]
        for one in below:
            yield from _at(one, path[1:])


def _texts(node: Node) -> Iterator[str]:
    if isinstance(node, Scalar):
        yield node.text
    else:
        for one in node.items if isinstance(node, Sequence) else [value for _, value in node.entries]:
            yield from _texts(one)
