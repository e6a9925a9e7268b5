"""Converter topologies, one folder each: what nothing outside a folder knows. Loaded where a design names it."""

from __future__ import annotations

from functools import cache
from importlib import import_module

from derate.design.circuit import Circuit
from derate.stress.topology import Topology
from derate.terms.topologies import TOPOLOGIES


@cache
def _loaded(package: str) -> Topology:
    found = import_module(package).TOPOLOGY
    if not isinstance(found, Topology):
        raise TypeError(f"{package}: TOPOLOGY is no Topology")
    return found


def topology_of(word: str | None) -> Topology | None:
    """The topology of a word; None for a word that has no folder, and where nobody knows the word."""
    known = TOPOLOGIES.get(word) if word is not None else None
    return _loaded(known.package) if known is not None and known.package else None


def every_topology(rectified: bool = False) -> tuple[Topology, ...]:
    """All that are worked out: a converter of which nobody knows the topology may be any of them.

    rectified: a rectifier with a bulk capacitor stands behind the plug, so that it is none with an input of its own
    """
    every = (_loaded(one.package) for one in TOPOLOGIES.values() if one.package)
    return tuple(one for one in every if not rectified or one.circuit.own_input is Circuit.own_input)
