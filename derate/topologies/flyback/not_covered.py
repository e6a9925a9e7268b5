"""Stages that are written like a flyback and are none: told by what is joined to what, and nothing of them worked out.

A bridge, a resonant or a forward stage has a transformer, switches and rectifiers like a flyback, and none of its
figures. What makes the difference stands in the paths: what is in series with the primary winding, how many switches
stand on it and what lies across them, what comes between the rectifier and the first capacitor of an output.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from derate.design.kinds import FAMILIES
from derate.design.structure import Element, Leaf, Path, Structure, leaves
from derate.ledger.entry import OpenFact
from derate.stress.context import Context, part
from derate.stress.topology import Gap
from derate.terms.words import CAPACITORS
from derate.topologies.flyback.circuit import parts_of

_SWITCHES = FAMILIES["switch"]
_DIODES = FAMILIES["diode"]
_CHOKES = ("choke",)
_OTHER = "which is not worked out"


def not_covered(context: Context) -> Gap | None:
    """Why the stage of this design is not worked out; None where it may only be a flyback.

    What is sure speaks first; else a part of unknown kind that would make it another stage is asked for.
    """
    found = [*active_clamp(context), *other_primary(context.structure), *other_secondary(context.structure)]
    return next((one for one in found if not one.missing), found[0] if found else None)


def active_clamp(context: Context) -> Iterator[Gap]:
    """A clamp with a switch of its own.

    Its magnetising current flows backwards for a part of each period and the leakage's energy returns: neither currents
    nor voltages are those of the other clamps. What counts is a switch joined with the clamp or with a capacitor across
    the primary winding or the switch.
    """
    parts, structure = parts_of(context.structure), context.structure
    elements = [parts.clamp[0]] if parts.clamp else []
    primary = parts.primary
    nodes = {primary.winding, primary.switch} if primary is not None else set()
    elements += [step.element for across, path in parts.snubbers.items() if across in nodes for step in path]
    names = [leaf.name for element in elements for leaf in leaves(element)]
    yield from _told(structure, names, _SWITCHES, "makes the clamp an active one, whose stage is not worked out")


def other_primary(structure: Structure) -> Iterator[Gap]:
    """A capacitor or choke in series with the primary winding, a second switch in series or from the node to a rail."""
    primary = parts_of(structure).primary
    if primary is None:
        return
    series = [step.element for step in primary.path if step.how != "across"]
    across = [leaf.name for step in primary.path if step.how == "across" for leaf in leaves(step.element)]
    alone = [one.name for one in series if isinstance(one, Leaf) and one.name != primary.switch]
    yield from _told(
        structure, alone, CAPACITORS, f"stands in series with the primary winding: a bridge or resonant stage, {_OTHER}"
    )
    yield from _told(
        structure, alone, _CHOKES, f"stands in series with the primary winding: a resonant or forward stage, {_OTHER}"
    )
    others = [leaf.name for one in series for leaf in leaves(one) if primary.switch not in _names(one)]
    yield from _told(
        structure,
        others,
        _SWITCHES,
        f"is a second switch in series with {primary.switch}: a stage of two switches, {_OTHER}",
    )
    yield from _told(structure, across, _SWITCHES, f"is a second switch across the primary path: a bridge, {_OTHER}")


def _names(element: Element) -> list[str]:
    return [leaf.name for leaf in leaves(element)]


def other_secondary(structure: Structure) -> Iterator[Gap]:
    """A bridge behind a winding, a choke ahead of the first capacitor, or a diode that carries its current on."""
    for name, output in structure.outputs.items():
        if not any("." in one for step in output.path for one in step.names):
            continue  # behind no winding: another stage altogether
        ahead = _ahead_of_capacitor(output.path, structure)
        alone = [leaf.name for element, how in ahead if how != "across" for leaf in leaves(element)]
        beside = [leaf.name for element, how in ahead if how == "across" for leaf in leaves(element)]
        bridge = "rectifies the winding both ways: a bridge or forward stage"
        yield from _told(structure, alone, ("bridge rectifier",), f"{bridge}, {_OTHER}")
        yield from _told(
            structure,
            alone,
            _CHOKES,
            f"stands ahead of the first capacitor of {name}: a forward or bridge stage, {_OTHER}",
        )
        yield from _told(
            structure,
            beside,
            _DIODES,
            f"carries the current on ahead of the capacitor of {name}: a forward stage, {_OTHER}",
        )


def _ahead_of_capacitor(path: Path, structure: Structure) -> list[tuple[Element, str]]:
    """Steps up to the first that is sure to hold a capacitor across the output."""
    found: list[tuple[Element, str]] = []
    for step in path:
        if step.how == "across" and any(structure.must_be(one, *CAPACITORS) for one in step.names):
            break
        found.append((step.element, step.how))
    return found


def _told(structure: Structure, names: Sequence[str], kinds: Sequence[str], what: str) -> Iterator[Gap]:
    """A gap for the first part that is of these kinds, or for every one that may be."""
    parts = [one for one in names if one in structure.kinds]
    sure = next((one for one in parts if structure.must_be(one, *kinds)), None)
    if sure is not None:
        yield Gap(f"not covered: {sure} {what}")
        return
    for one in parts:
        if structure.may_be(one, *kinds):
            yield Gap(f"not covered if {one} is a {kinds[0]}: it then {what}", (OpenFact(part(one), "part.kind"),))
