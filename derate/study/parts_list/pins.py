"""Subcircuits of a netlist placed by pin: what the names of the pins of a .subckt make of a part.

The nodes of an X line stand in the order of the pins of its .subckt. Names that makers of models use are read
(drain, anode, fb, …); a part whose pins do not tell its kind is none. Where the .subckt is not in the file nobody says
which node is which pin: what the part may be by where its nodes go is proposed, to be confirmed.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

_ROLES = {
    "drain": ("d", "drain"),
    "gate": ("g", "gate"),
    "source": ("s", "source"),
    "collector": ("c", "collector"),
    "base": ("b", "base"),
    "emitter": ("e", "emitter"),
    "anode": ("a", "anode", "an"),
    "cathode": ("k", "cathode", "kathode", "ca", "cat"),
    "mains": ("~", "ac", "ac1", "ac2", "~1", "~2", "acin1", "acin2"),
    "plus": ("+", "dc+", "plus", "pos", "vdc+"),
    "minus": ("-", "dc-", "minus", "neg", "vdc-"),
    "reference": ("ref", "adj", "reference"),
    "supply": ("vcc", "vdd", "bp", "bypass", "vin"),
    "feedback": ("fb", "feedback", "comp", "vfb", "en", "en/uv", "control"),
    "sense": ("cs", "isense", "is", "sense", "vcs"),
    "drive": ("out", "drv", "gdrv", "gate_out", "drive"),
    "ground": ("gnd", "vss", "com", "0"),
}
_ROLE_OF = {name: role for role, names in _ROLES.items() for name in names}
# Pins that a part has and no others -> kind, its letter among elements, the pins its path goes by.
_EXACT: dict[tuple[str, ...], tuple[str, str, tuple[str, ...]]] = {
    ("drain", "gate", "source"): ("MOSFET", "m", ("drain", "gate", "source")),
    ("base", "collector", "emitter"): ("bipolar transistor", "q", ("collector", "base", "emitter")),
    ("anode", "cathode"): ("diode", "d", ("anode", "cathode")),
    ("anode", "cathode", "reference"): ("shunt reference", "u", ("cathode", "anode")),
    ("anode", "cathode", "collector", "emitter"): ("optocoupler", "u", ("anode", "cathode", "collector", "emitter")),
    ("anode", "base", "cathode", "collector", "emitter"): (
        "optocoupler",
        "u",
        ("anode", "cathode", "collector", "emitter"),
    ),
    ("mains", "mains", "minus", "plus"): ("bridge rectifier", "b", ("mains", "mains", "plus", "minus")),
}


class Pinned(NamedTuple):
    """One subcircuit. name: of its X line; nodes: those its path goes by, of one without a kind all of them

    kind: '' where its pins do not tell; letter: of the element it is walked as; why: it is told apart by nothing
    """

    name: str
    model: str
    nodes: tuple[str, ...]
    kind: str = ""
    letter: str = ""
    why: str = ""


def pins_of(lines: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The names of the pins of every .subckt of a file, by its own name in small letters."""
    found = {}
    for line in lines:
        words = _bare(line.split())
        if words and words[0].lower() == ".subckt" and len(words) > 2:
            found[words[1].lower()] = tuple(one.lower() for one in words[2:])
    return found


def _bare(words: Sequence[str]) -> list[str]:
    """Words ahead of parameters."""
    kept: list[str] = []
    for word in words:
        if "=" in word or word.lower().rstrip(":") in ("params", "optional"):
            break
        kept.append(word)
    return kept


def pinned(words: Sequence[str], pins: Mapping[str, tuple[str, ...]]) -> Pinned:
    """An X line against the .subckt that it names. words: of the line, its name first"""
    name, *nodes, model = _bare(words) if len(_bare(words)) > 1 else [*words[:1], ""]
    nodes = [one.lower() for one in nodes]
    named = pins.get(model.lower())
    if named is None:
        why = "a subcircuit whose pins no .subckt of this file names: write the part by hand"
        return Pinned(name, model, tuple(nodes), why=why)
    if len(named) != len(nodes):
        why = f"it joins {len(nodes)} nodes, and its .subckt has {len(named)} pins"
        return Pinned(name, model, tuple(nodes), why=why)
    roles = [_ROLE_OF.get(re.sub(r"^(pin_?|v_)(?=.)", "", one), "") for one in named]
    found = _EXACT.get(tuple(sorted(roles))) or _circuit(roles)
    if found is None:
        why = f"a subcircuit whose pins {', '.join(named)[:80]} tell no kind: write the part by hand"
        return Pinned(name, model, tuple(nodes), why=why)
    kind, letter, walked = found
    at: Counter[str] = Counter()
    ends = []
    for role in walked:
        ends.append([node for node, own in zip(nodes, roles, strict=True) if own == role][at[role]])
        at[role] += 1
    return Pinned(name, model, tuple(ends), kind, letter)


def _circuit(roles: Sequence[str]) -> tuple[str, str, tuple[str, ...]] | None:
    """An integrated circuit, which has other pins too: a switch with its control in one, or a controller of one."""
    has = set(roles)
    if roles.count("drain") == 1 and "gate" not in has and has & {"supply", "feedback"}:
        low = "source" if roles.count("source") == 1 else "ground" if roles.count("ground") == 1 else ""
        return ("integrated switch", "m", ("drain", low)) if low else None
    if has & {"gate", "drive"} and "supply" in has and has & {"sense", "feedback"} and "drain" not in has:
        return "controller", "u", ("supply",)
    return None


def by_its_nodes(one: Pinned, joined: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """What a subcircuit without a .subckt may be, as comments: its nodes in their order, with what stands there.

    joined: for each of its nodes the elements there, a gate or a base with that word behind
    """
    bare = one.name[1:] if one.name[1:2].isalpha() else one.name
    name = bare[0].upper() + bare[1:]
    told = [
        f"{number} {node} ({', '.join(names[:4]) or 'nothing else'})"
        for number, (node, names) in enumerate(zip(one.nodes, joined, strict=True), 1)
    ]
    yield f"# {name} is {one.model}; no .subckt of this file names its pins. Its nodes: {'; '.join(told)}"
    driven = [each for names in joined for each in names if each.endswith((" gate", " base"))]
    wound = [each for names in joined for each in names if re.match(r"T\d+\.", each)]
    guess = "controller" if driven else "integrated switch" if wound and len(one.nodes) >= 3 else ""
    why = f"it joins {driven[0]}" if driven else f"it joins {wound[0]} and drives nothing" if wound else ""
    if guess:
        yield f"#  {name}: {{kind: {guess}, marking: {one.model}}}  # by where its nodes go: {why}; confirm it"
