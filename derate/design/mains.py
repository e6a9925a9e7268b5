"""The mains path: from the plug over series parts and shunts to the rectifier and the bulk capacitors."""

from __future__ import annotations

from typing import TYPE_CHECKING

from derate.design.kinds import FAMILIES
from derate.design.paths import Element, Path, Step
from derate.design.stated import Stated
from derate.design.structure import MainsInput, Shunt

if TYPE_CHECKING:
    from derate.design.walk import Walker

_DIODES = FAMILIES["diode"]
_SHUNT_KINDS = (*FAMILIES["capacitor"], "varistor")


def mains_input(walker: Walker, line: Path, stated: Stated | None) -> MainsInput | None:
    """Read the mains path; errors go to the walker. None when no rectifier or no bulk capacitor is on it."""
    series: list[str] = []
    neutral: list[str] = []
    shunts: list[Shunt] = []
    rectifier: tuple[str, ...] = ()
    kind = ""
    behind: list[str] = []
    choke: list[str] = []
    bulk: list[Element] = []
    for step in line:
        bare = _bare(walker, step)
        if bare:
            walker.say(
                step.place, f"{bare} stands in series with the line: is 'across' missing?", f"write across {bare}"
            )
            continue
        if step.how in ("across", "to earth"):
            capacitor = all(walker.all_of(name, FAMILIES["capacitor"]) for name in step.names)
            if rectifier and capacitor and step.how == "across":
                bulk.append(step.element)
                walker.put(step.names, "bulk capacitor")
            else:
                shunts.append(Shunt(step.element, step.names, len(series), step.how == "to earth"))
                walker.put(step.names, "earth shunt" if step.how == "to earth" else "mains shunt")
            continue
        found = _rectifier(walker, step, stated.word if stated is not None else None)
        if found and not rectifier:
            rectifier, kind = step.names, found
            walker.put(step.names, "mains rectifier")
        elif not rectifier:
            series.extend(step.names)
            walker.put(step.names, "mains series")
            if step.how == "in neutral":
                neutral.extend(step.names)
        elif not bulk:
            behind.extend(step.names)
            walker.put(step.names, "mains series")
        else:
            choke.extend(step.names)
            walker.put(step.names, "bulk choke")
    if stated is not None and stated.word is not None:
        kind = stated.word
    if not rectifier or not bulk:
        return None
    if len(bulk) > 2:
        walker.say(line[-1].place, "more than two bulk capacitors in a row", "join capacitors in parallel with ||")
        return None
    return MainsInput(
        tuple(series), tuple(neutral), tuple(shunts), rectifier, kind, tuple(behind), tuple(choke), tuple(bulk)
    )


def _bare(walker: Walker, step: Step) -> str | None:
    """The name of a capacitor or varistor that stands in series with the line."""
    if step.how not in ("series", "in neutral"):
        return None
    if all(walker.all_of(name, _SHUNT_KINDS) for name in step.names) and step.names:
        return " || ".join(step.names)
    return None


def _rectifier(walker: Walker, step: Step, stated: str | None) -> str:
    """What kind of rectifier a step is, '' when it is none. Two diodes are one where the file says it is a doubler."""
    names = step.names
    if len(names) == 1 and walker.all_of(names[0], ("bridge rectifier",)):
        return "full bridge"
    if names and all(walker.all_of(name, _DIODES) for name in names):
        of_two = "doubler" if stated == "doubler" else ""
        return {1: "half-wave", 2: of_two, 4: "full bridge"}.get(len(names), "")
    return ""
