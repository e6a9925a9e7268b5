"""What a mains transformer feeds: of each output its windings, how they are rectified, capacitor, regulator."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from derate.design.circuit import Circuit, Placing, Seen
from derate.design.kinds import FAMILIES
from derate.design.structure import Element, Group, MainsInput, OwnParts, Path, Structure, leaves
from derate.terms.frozen import field, frozen

_DIODES = (*FAMILIES["diode"], "bridge rectifier")
_CAPACITORS = FAMILIES["capacitor"]
REGULATOR = ("linear regulator",)
# What may stand between the plug and a winding of the mains.
_AHEAD = (*FAMILIES["resistor"], "fuse", "board track", "NTC thermistor", "choke", "common-mode choke", "thermal link")
_AHEAD = (*_AHEAD, "cut-out", "relay", "thyristor")
BY_HEAT = ("thermal link", "cut-out")  # what opens when it gets hot, whatever flows


class Secondary(NamedTuple):
    """One output, from its windings on.

    connection: 'full bridge' | 'half-wave' | 'centre-tapped' | 'doubler', '' where the parts do not say
    reservoir: elements across it ahead of the regulator; regulator: None where there is none
    ahead: parts between winding and reservoir that do not rectify; series: parts between reservoir and regulator
    behind: capacitors behind the regulator
    """

    name: str
    windings: tuple[str, ...]
    connection: str
    diodes: tuple[str, ...]
    reservoir: tuple[Element, ...]
    regulator: str | None
    series: tuple[str, ...]
    behind: tuple[str, ...]
    ahead: tuple[str, ...] = ()

    @property
    def capacitors(self) -> tuple[str, ...]:
        """Every part of the reservoir."""
        return tuple(leaf.name for one in self.reservoir for leaf in leaves(one))


@frozen
class LineTransformerParts(OwnParts):
    """What a mains transformer makes of its paths.

    primary: windings on the mains path, in series; ahead: series parts of that path
    by_heat: those of them that open when they get hot; secondaries: by output
    """

    primary: tuple[str, ...] = ()
    ahead: tuple[str, ...] = ()
    by_heat: tuple[str, ...] = ()
    secondaries: Mapping[str, Secondary] = field(default_factory=dict)


class LineTransformerCircuit(Circuit, prefix="circuit"):
    """No key of its own: the mains path ends at the primary winding, the paths of the outputs say the rest."""

    @classmethod
    def skeleton(cls) -> str:
        """The paths of a new file."""
        return """\
  # line: [F1, T1.primary]                                   # from the plug to the winding of the mains
  # outputs: {main: [T1.secondary, BR1, across C1, U1, across C2]}
"""

    @classmethod
    def recognises(cls, seen: Seen) -> str:
        """By a winding that stands on the mains itself, with nothing ahead of it that rectifies or drops."""
        for step in seen.line:
            if step.how in ("across", "to earth"):
                continue
            if any(name in seen.windings for name in step.names):
                return f"{' and '.join(step.names)} stands on the mains path with no rectifier ahead of it"
            if not seen.all_of(step.names, _AHEAD):
                return ""
        return ""

    def own_input(self, placing: Placing) -> MainsInput | None:
        """What stands ahead of the winding of the mains; a line without one, or with a rectifier, disagrees."""
        line = self.line or ()
        ahead = tuple(step for step in line if not any(_is_winding(name, placing) for name in step.names))
        for step in ahead:
            if any(placing.all_of(name, _DIODES) for name in step.names):
                names = " and ".join(step.names)
                what = f"{names} rectifies the mains on the path to the plug: that is no line transformer"
                placing.say(
                    step.place, what, "write the topology of what stands behind it, or take it off the path line"
                )
            elif step.how not in ("across", "to earth") and all(
                placing.all_of(name, _CAPACITORS) for name in step.names
            ):
                names = " and ".join(step.names)
                what = f"{names} stands in series with the mains: that is a capacitive dropper and no line transformer"
                placing.say(step.place, what, f"write topology: dropper, or across {names} where it lies there")
        if len(ahead) == len(line) and line:
            what = "no winding stands at the end of the line: a line transformer has its primary on the mains"
            placing.say(line[-1].place, what, "write [F1, T1.primary], or the topology that the circuit has")
        return placing.inlet(ahead)

    def own_parts(self, placing: Placing) -> LineTransformerParts:
        """The primary and what stands ahead of it; each output from its windings on."""
        primary: list[str] = []
        ahead: list[str] = []
        for step in self.line or ():
            if step.how in ("across", "to earth"):
                continue
            for name in step.names:
                (primary if _is_winding(name, placing) else ahead).append(str(name))
        secondaries = {
            name: secondary_of(name, path, placing) for name, path in self.outputs.items() if path is not None
        }
        placing.place_outputs()
        return LineTransformerParts(
            traced=bool(primary),
            winding=primary[0] if primary else None,
            mains_side=tuple(primary),
            facts=(("circuit.input", "transformer"),),
            shorts=tuple((name, tuple(ahead)) for name in primary),
            primary=tuple(primary),
            ahead=tuple(ahead),
            by_heat=tuple(name for name in ahead if placing.all_of(name, BY_HEAT)),
            secondaries=secondaries,
        )


def _is_winding(name: str, placing: Placing) -> bool:
    return name in placing.windings or "." in name


def secondary_of(name: str, path: Path, placing: Placing) -> Secondary:
    """One output: places for its parts, and how they are joined."""
    windings: list[str] = []
    diodes: list[str] = []
    reservoir: list[Element] = []
    series: list[str] = []
    ahead: list[str] = []
    behind: list[str] = []
    regulator: str | None = None
    together = True  # every diode in one step: in parallel with each other, where they are not a bridge
    for step in path:
        for part in step.names:
            if _is_winding(part, placing):
                windings.append(str(part))
            elif step.how == "across" and placing.all_of(part, _CAPACITORS):
                if regulator is None:
                    placing.put((part,), "reservoir capacitor")
                else:
                    behind.append(str(part))
                    placing.put((part,), "regulator capacitor")
            elif step.how == "across":
                placing.put((part,), "output")
            elif placing.all_of(part, REGULATOR):
                regulator = regulator or str(part)
                placing.put((part,), "regulator")
            elif not reservoir and regulator is None and placing.any_of(part, _DIODES):
                together = together and (not diodes or part in step.names and diodes[-1] in step.names)
                diodes.append(str(part))
                placing.put((part,), "secondary rectifier")
            else:
                if regulator is None:
                    (series if reservoir else ahead).append(str(part))
                placing.put((part,), "output")
        if step.how == "across" and regulator is None and all(placing.all_of(one, _CAPACITORS) for one in step.names):
            reservoir.append(step.element)
    bridge = len(diodes) == 1 and placing.all_of(diodes[0], ("bridge rectifier",))
    known = all(placing.all_of(one, _DIODES) for one in diodes)
    return Secondary(
        name,
        tuple(windings),
        _connection(len(windings), len(diodes), bridge, together, reservoir) if known else "",
        tuple(diodes),
        tuple(reservoir),
        regulator,
        tuple(series),
        tuple(behind),
        tuple(ahead),
    )


def _connection(windings: int, diodes: int, bridge: bool, together: bool, reservoir: list[Element]) -> str:
    """How the windings are rectified, by what is joined to what; '' where that does not say."""
    stacked = len(reservoir) == 1 and isinstance(reservoir[0], Group) and reservoir[0].joined == "series"
    if bridge or diodes == 4:
        return "full bridge"
    if diodes == 2 and windings == 1 and stacked and not together:
        return "doubler"
    if diodes == 2 and windings == 2:
        return "centre-tapped"
    if diodes == 1 or (diodes > 1 and together and windings == 1):
        return "half-wave"
    return ""


def parts_of(structure: Structure) -> LineTransformerParts:
    """What the paths of a mains transformer made up; nothing where the block was read as another topology's."""
    return structure.own if isinstance(structure.own, LineTransformerParts) else LineTransformerParts()
