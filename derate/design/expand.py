"""From nodes to what the shapes read: parts alike, short forms and revisions written out in full.

`expand_parts(node)`: `C1, C2: …` becomes two entries; `R9: film resistor 0.82 ohm 1% 1 W` becomes a block.
`revised(base, revision)`: the file that a revision stands for.
"""

from __future__ import annotations

import re

from derate.design.kinds import KIND_WORDS, REFERENCE, figures_of, possible, split_kind
from derate.design.stated import evidence
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.terms.vocabulary import CLASSES, VOCABULARY
from derate.text.nodes import Mapping, Node, Scalar
from derate.text.quantity import read_figures

_NAME = re.compile(r"[^\W\d_][\w-]*\Z")
# Blocks of an earlier revision that say something about a sample which is no longer this one.
_NOT_CARRIED = ("readings", "tests", "waivers", "open_points", "revision_of")
_JEDEC = re.compile(r"\b[12]N\d{2,4}[A-Z]?\b")


def expand_parts(parts: Mapping, problems: list[Problem], unread: dict[str, Place]) -> Mapping:
    """Write parts alike and short forms out; what cannot be read is added to `problems`, its name to `unread`."""
    entries: list[tuple[Scalar, Node]] = []
    seen: dict[str, Scalar] = {}
    for key, node in parts.entries:
        block: Node | None = node
        if isinstance(node, Scalar):
            block = _short_form(node, problems)
        offset = 0
        for piece in key.text.split(","):
            name = piece.strip()
            place = key.at(offset + len(piece) - len(piece.lstrip()))
            offset += len(piece) + 1
            if not _NAME.match(name):
                problems.append(
                    Problem(
                        place, f"'{name[:60]}' cannot name a part", "a name is a letter, then letters, digits, - or _"
                    )
                )
                continue
            if name in seen:
                problems.append(
                    Problem(
                        place, f"part {name} is said twice, first in line {seen[name].place.line}", "keep one of them"
                    )
                )
                continue
            seen[name] = key
            if block is not None:
                entries.append((Scalar(name, place), block))
            else:
                unread[name] = place
    return Mapping(tuple(entries), parts.place)


def _short_form(node: Scalar, problems: list[Problem]) -> Mapping | None:
    """`film capacitor X2 220 nF 20% 310 Vac (marked)` as the block it stands for."""
    try:
        text, known_by, note = evidence(node)
    except ReadingError as error:
        problems.extend(error.problems)
        return None
    split = split_kind(text)
    if split is None:
        close = nearest(" ".join(text.split()[:2]), KIND_WORDS) or nearest(text.split()[0] if text else "", KIND_WORDS)
        instead = f"begin with {close}; {REFERENCE}" if close else f"begin with a kind, then its figures; {REFERENCE}"
        problems.append(Problem(node.start, f"'{text[:60]}' begins with no part kind", instead))
        return None
    kind, rest = split
    at = text.find(rest, len(kind)) if rest else len(text)
    mark = "" if known_by is None else f" ({known_by}{'; ' + note if note else ''})"
    top: list[tuple[Scalar, Node]] = [_entry(node, 0, "kind", kind + mark)]
    rated: list[tuple[Scalar, Node]] = []
    for pattern, name in ((r"\b(" + "|".join(CLASSES) + r")\b", "class"), (_JEDEC, "marking")):
        found = re.search(pattern, rest)
        if found:
            top.append(_entry(node, at + found.start(), name, found.group() + mark))
            rest = rest[: found.start()] + " " * len(found.group()) + rest[found.end() :]
    meaning = figures_of(possible(kind))
    try:
        start = len(rest) - len(rest.lstrip())
        figures = read_figures(rest.strip(), node.at(at + start)) if rest.strip() else ()
    except ReadingError as error:
        problems.extend(error.problems)
        return None
    for quantity in figures:
        fact = meaning.get(quantity.dimension) if quantity.dimension is not None else None
        if kind == "varistor" and quantity.statistic == "rms":
            fact = "rated.voltage"  # a varistor named by its continuous mains voltage
        if fact is None:
            problems.append(
                Problem(
                    quantity.place,
                    f"'{quantity.text}' has no meaning in the short form of a {kind}",
                    "write the part as a block and name the figure",
                )
            )
            continue
        prefix, _, key = fact.partition(".")
        entry = (Scalar(key, quantity.place), Scalar(quantity.text + mark, quantity.place))
        if any(name.text == key for name, _ in (rated if prefix == "rated" else top)):
            says = VOCABULARY[fact].says
            problems.append(Problem(quantity.place, f"a second {says} in one short form", "write the part as a block"))
            continue
        (rated if prefix == "rated" else top).append(entry)
    if rated:
        top.append((Scalar("rated", node.place), Mapping(tuple(rated), node.place)))
    return Mapping(tuple(top), node.place)


def _entry(node: Scalar, offset: int, key: str, text: str) -> tuple[Scalar, Node]:
    return Scalar(key, node.at(offset)), Scalar(text, node.at(offset))


def revised(base: Mapping, revision: Mapping) -> Mapping:
    """A revision laid over the file it revises: parts whole, other blocks key by key, readings and tests dropped."""
    kept = [(key, node) for key, node in base.entries if key.text not in _NOT_CARRIED]
    laid: list[tuple[Scalar, Node]] = []
    for key, node in kept:
        over = revision.get(key.text)
        if over is None:
            laid.append((key, node))
        elif isinstance(node, Mapping) and isinstance(over, Mapping):
            laid.append((key, _over(node, over, whole=key.text in ("parts", "barriers", "conditions"))))
        else:
            laid.append((revision.key(key.text) or key, over))
    known = {key.text for key, _ in kept}
    laid += [(key, node) for key, node in revision.entries if key.text not in known and key.text != "revision_of"]
    return Mapping(tuple(laid), revision.place)


def _over(base: Mapping, over: Mapping, whole: bool) -> Mapping:
    entries: list[tuple[Scalar, Node]] = []
    for key, node in base.entries:
        new = over.get(key.text)
        if new is None:
            entries.append((key, node))
        elif not whole and isinstance(node, Mapping) and isinstance(new, Mapping):
            entries.append((key, _over(node, new, whole=False)))
        else:
            entries.append((over.key(key.text) or key, new))
    known = {key.text for key, _ in base.entries}
    return Mapping(tuple(entries) + tuple(e for e in over.entries if e[0].text not in known), over.place)
