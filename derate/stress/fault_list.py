"""Every single fault of the mains path that the parts and their places give rise to, in the order the current flows.

The list is made from what is joined to what, never from what happens to be known: a fault that cannot be computed stays
on it, for the bench, with the reason.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from derate.design.paths import leaves
from derate.design.structure import MainsInput, Structure
from derate.terms.part_kinds import RESISTORS

Shape = Literal[
    "full wave", "half wave", "reversed bulk", "behind the winding", "runs on one pair", "lumped", "without thermistor",
    "no current", "shock", "partial", "bench",
]  # fmt: skip


class Fault(NamedTuple):
    """One single fault.

    name: as a test on the bench names it; part: the part it happens in
    shape: what the current does; ahead: parts it flows through, in order
    hard: a short that something has to clear, so that a rule may ask for it
    why: for a fault without figures, the reason
    """

    name: str
    part: str
    shape: Shape
    ahead: tuple[str, ...] = ()
    hard: bool = False
    why: str = ""


_DIODE_WORDS = {"full bridge": "half wave", "half-wave": "reversed bulk"}


def mains_faults(structure: Structure) -> tuple[Fault, ...]:
    """The faults of the mains path, the switch and what bridges the barrier."""
    mains = structure.mains
    found: list[Fault] = []
    if mains is not None:
        path = (*mains.series, *mains.behind)
        found += _across(structure, mains)
        found += _series(structure, mains, path)
        found += _rectifier(mains, path)
        found += _bulk(mains, path)
        if structure.primary is not None and structure.primary.switch is not None:
            through = (*path, *mains.choke, *((structure.primary.sense,) if structure.primary.sense else ()))
            switch = structure.primary.switch
            found.append(Fault(f"{switch} shorted", switch, "behind the winding", through, hard=True))
        found += [
            Fault(f"partial short behind {name}", name, "partial", path)
            for name in path
            if structure.may_be(name, *_HEATED)
        ]
    for bridge in structure.bridges or ():
        for leaf in leaves(bridge.element):
            across = " across the barrier" if structure.may_be(leaf.name, "optocoupler") else ""
            found.append(Fault(f"{leaf.name} shorted{across}", leaf.name, "shock", tuple(bridge.names)))
    return tuple(found)


_HEATED = ("fuse", *RESISTORS, "NTC thermistor")


def _across(structure: Structure, mains: MainsInput) -> list[Fault]:
    found = []
    for shunt in mains.shunts:
        ahead = mains.series[: shunt.behind]
        for leaf in leaves(shunt.element):
            name = leaf.name
            if structure.must_be(name, *RESISTORS):
                why = "the plug is no longer discharged through it"
                found.append(Fault(f"{name} open", name, "no current", why=why))
            elif shunt.to_earth:
                found.append(Fault(f"{name} shorted", name, "bench", ahead, why=(
                    "the current to earth depends on the earth of the house")))  # fmt: skip
            elif len(shunt.names) > 1 and shunt.names != (name,) and _in_series(shunt.element):
                found.append(Fault(f"{name} shorted", name, "bench", ahead, why=(
                    "what is in series with it takes the whole mains")))  # fmt: skip
            else:
                found.append(Fault(f"{name} shorted", name, "full wave", ahead, hard=True))
    return found


def _in_series(element: object) -> bool:
    return getattr(element, "joined", "") == "series"


def _series(structure: Structure, mains: MainsInput, path: tuple[str, ...]) -> list[Fault]:
    found = []
    for name in path:
        if structure.may_be(name, "NTC thermistor"):
            found.append(Fault(f"{name} shorted", name, "without thermistor", path))
            found.append(Fault(f"{name} open", name, "no current", why="the supply gets no mains"))
        elif structure.may_be(name, "choke", "common-mode choke"):
            found.append(Fault(f"{name} shorted", name, "no current", why=(
                "no more flows than before; the switch-on rows already take its least inductance")))  # fmt: skip
    for name in mains.choke:
        found.append(Fault(f"{name} shorted", name, "lumped", path))
    return found


def _rectifier(mains: MainsInput, path: tuple[str, ...]) -> list[Fault]:
    found = []
    whole = len(mains.rectifier) == 1 and mains.input != "half-wave"
    for name in mains.rectifier:
        said = f"{name} one diode" if whole else name
        if mains.input == "doubler":
            found += _doubler_diode(mains, path, name, said)
        elif mains.input == "half-wave":
            found.append(Fault(f"{said} shorted", name, "reversed bulk", path))
            found.append(Fault(f"{said} open", name, "no current", why="the supply gets no mains"))
        else:
            found.append(Fault(f"{said} shorted", name, "half wave", path, hard=True))
            found.append(Fault(f"{said} open", name, "runs on one pair", path))
    return found


def _doubler_diode(mains: MainsInput, path: tuple[str, ...], name: str, said: str) -> list[Fault]:
    """Of two diodes each charges one capacitor; in a bridge with a strap it depends on which of the four it is."""
    opened = (
        "its capacitor is no longer charged, and the current of the other one empties it and drives it into reverse; "
        "how far depends on the voltage at which the converter stops"
    )
    if len(mains.rectifier) == 2:
        return [
            Fault(f"{said} shorted", name, "reversed bulk", path),
            Fault(f"{said} open", name, "bench", path, why=opened),
        ]
    which = "of four diodes two short the mains, two put alternating voltage on a capacitor; which is which is not said"
    return [Fault(f"{said} {how}", name, "bench", path, why=why) for how, why in (("shorted", which), ("open", opened))]


def _bulk(mains: MainsInput, path: tuple[str, ...]) -> list[Fault]:
    found = []
    # A bulk that is the rectified mains: no voltage is above that of the running rows, and the switch opens at its
    # limit (overload rows); what the mains gives follows the control of the converter, for which a file has no model.
    alone = sum(1 for element in mains.bulk for _ in leaves(element)) == 1
    why = (
        "the bulk falls to nothing between the half cycles and the converter starts and stops with them; what it draws "
        "meanwhile its control decides, up to the current of the overload rows"
    ) if alone else "what is left of the bulk carries the load with a deeper valley, which is not computed"  # fmt: skip
    for k, element in enumerate(mains.bulk):
        for leaf in leaves(element):
            through = (*path, *mains.choke) if k else path
            if mains.input == "doubler":  # its diode shorts alternate half cycles, the other one stays at the crest
                found.append(Fault(f"{leaf.name} shorted", leaf.name, "half wave", path, hard=True))
            else:
                found.append(Fault(f"{leaf.name} shorted", leaf.name, "full wave", through, hard=True))
            found.append(Fault(f"{leaf.name} open", leaf.name, "bench", path, why=why))
    return found
