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


_BEGINNING = {
    "parts": """\
  F1:                                            # fuse, or whatever stands first
    kind: fuse
    standard: unknown                            # approval marks on the cap
    resistance: unknown
    rated: {current: unknown, voltage: unknown, breaking_capacity: unknown, melting_i2t: unknown}
  TL1: {kind: thermal link, rated: {temperature: unknown, current: unknown, voltage: unknown}}   # under the tape
""",
    "parts of an output": """\
  BRK: {kind: bridge rectifier, rated: {reverse_voltage: unknown, current: unknown, surge_current: unknown}}
  CK1:
    kind: electrolytic capacitor
    capacitance: unknown
    rated: {voltage: unknown, life: unknown, ripple_current: unknown}
  UK:                                            # where there is one
    kind: linear regulator
    voltage: unknown
    limit_current: unknown
    rated: {voltage: unknown, current: unknown, dropout_voltage: unknown}
  CK2: {kind: ceramic capacitor, capacitance: unknown, rated: {voltage: unknown}}
""",
    "line": "F1, TL1, T1.primary",
    "output": "T1.WINDING, BRK, across CK1, UK, across CK2",
    "bridging": "unknown",
    "transformer": """\
    short_circuit_proof: unknown                 # inherently, conditionally, fail-safe or not proof: its mark
    insulation_class: unknown                    # its mark, such as B
    no_load_current: unknown                     # with the mains it was read at, behind an isolating transformer
    chambers: unknown                            # separate chambers, or one above the other
    wall: unknown                                # between the chambers
    core: {tied_to: unknown}
    windings:                                    # resistances unplugged and cold, such as 1.15 ohm at 22 degC
""",
    "primary": "{wire: unknown, bare: unknown, resistance: unknown}",
    "secondary": "{wire: unknown, bare: unknown, resistance: unknown, open_voltage: unknown, rated_voltage: unknown, "
    "rated_current: unknown}",
    "circuit.line": "[F1, T1.primary]: as the current goes, from the plug to the winding of the mains",
    "circuit.outputs": "[T1.secondary, BR1, across C1, U1, across C2]",
    "output.by": "[T1.secondary, BR1, across C1, U1, across C2]",
    "circuit.bridging": "none",
    "transformer described": """\
    chambers: …  # such as separate chambers, or one above the other
    core: {tied_to: …}  # such as floating
    windings:
      primary: {wire: …, resistance: …}  # such as enamelled, 620 ohm at 22 degC
      secondary: {wire: …, resistance: …, open_voltage: …}  # such as enamelled, 1.15 ohm at 22 degC, 11.6 V at 230 V
    from_core_outwards: […]  # such as [bobbin 1.2 mm, primary, sheet 1.2 mm, secondary]""",
}


class LineTransformerCircuit(Circuit, prefix="circuit"):
    """No key of its own: the mains path ends at the primary winding, the paths of the outputs say the rest."""

    @classmethod
    def beginning(cls) -> Mapping[str, str]:
        """Parts, paths and transformer of a new file, and the examples of the lines to paste."""
        return _BEGINNING

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
