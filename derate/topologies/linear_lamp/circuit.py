"""The circuit block of a linear lamp driver: LEDs and a chip in series across the rectified mains."""

from __future__ import annotations

from derate.design.circuit import Circuit, Placing, Seen, rectifies
from derate.design.kinds import FAMILIES, PLAIN_DIODES
from derate.design.structure import MainsInput, OwnParts, Path, Structure
from derate.terms.frozen import frozen

_RESISTORS, _CAPACITORS = FAMILIES["resistor"], FAMILIES["capacitor"]
CHIP = ("linear regulator",)
# What stands in series with the mains and drops none of it worth the name.
_OPENS = (
    "fuse",
    "board track",
    "fusible film resistor",
    "fusible wirewound resistor",
    "NTC thermistor",
    "common-mode choke",
    "choke",
    "bridge rectifier",
    "thermal link",
    "cut-out",
)


@frozen
class LampParts(OwnParts):
    """What a linear lamp driver makes of its paths.

    output, lights, chip, sensed: of the string, in series; rectifier, rectified: of the mains; capacitors: across the
    string; keeps: whether a bulk capacitor stands behind the rectifier; odd: why nothing of it is worked out
    """

    output: str = ""
    lights: tuple[str, ...] = ()
    chip: str = ""
    sensed: tuple[str, ...] = ()
    rectifier: tuple[str, ...] = ()
    rectified: str = ""
    keeps: bool = False
    odd: str = ""


class LampCircuit(Circuit, prefix="circuit"):
    """No key of its own: the output is walked from the rail through the LEDs to the chip."""

    @classmethod
    def skeleton(cls) -> str:
        """The paths of a new file."""
        return "  # outputs: {lamp: [LED1, U1]}                   # from the rail through the LEDs to the chip\n"

    @classmethod
    def recognises(cls, seen: Seen) -> str:
        """LEDs and a linear chip in series, or resistors alone behind a bulk capacitor, and no winding and no switch on
        the way."""
        for path in seen.outputs:
            names = [name for step in path if step.how == "series" for name in step.names]
            lights = [name for name in names if seen.all_of([name], ("LED",))]
            chips = [name for name in names if seen.all_of([name], CHIP)]
            rest = [name for name in names if name not in (*lights, *chips)]
            if not lights or (rest and not seen.all_of(rest, _RESISTORS)):
                continue
            if chips or (rest and _nothing_drops(seen)):
                return f"{' and '.join(lights)} in series with {' and '.join(chips or rest)}, and nothing that switches"
        return ""

    def own_input(self, placing: Placing) -> MainsInput | None:
        """A rectifier with no electrolytic capacitor behind it keeps no charge: that is the topology's own input."""
        line = self.line or ()
        at = next((k for k, step in enumerate(line) if step.how != "across" and rectifies(step.names, placing)), None)
        if at is None:
            return None
        behind = line[at + 1 :]
        small = ("film capacitor", "ceramic capacitor", "varistor", *_RESISTORS)
        if not all(placing.all_of(name, small) for step in behind for name in step.names):
            return None
        placing.put(line[at].names, "mains rectifier")
        for step in behind:
            if step.how in ("series", "in neutral"):
                placing.put(step.names, "mains series")
            elif step.how == "across" and all(placing.all_of(name, _CAPACITORS) for name in step.names):
                placing.put(step.names, "input capacitor")
        return placing.inlet(line[:at], behind)

    def own_parts(self, placing: Placing) -> LampParts:
        """The one string; what is across the rail in another way, or ahead of it, is told as not covered."""
        odd: list[str] = []
        found: tuple[str, Path] | None = None
        for name, path in self.outputs.items():
            if path:
                if found is not None:
                    odd.append("several strings")
                found = found or (name, path)
        line = self.line or ()
        rectifier = next((step.names for step in line if step.how != "across" and rectifies(step.names, placing)), ())
        for step in line:
            named = " and ".join(step.names)
            if any(placing.all_of(name, ("thyristor",)) for name in step.names):
                odd.append(f"{named} ahead cuts the wave of the mains: a dimmer")
            if step.how == "across" and (said := _fills(step.names, placing)):
                odd.append(f"{named} {said} the valleys of the rail")
        if found is None:
            return LampParts(odd="" if not self.outputs else "its output is not walked")
        output, path = found
        names = [name for step in path if step.how == "series" for name in step.names]
        chips = [name for name in names if placing.all_of(name, CHIP)]
        lights = tuple(name for name in names if placing.all_of(name, ("LED",)))
        sensed = tuple(name for name in names if placing.all_of(name, _RESISTORS))
        left = [name for name in names if name not in (*chips, *lights, *sensed)]
        if len(chips) > 1:
            odd.append(f"{' and '.join(chips)} switch segments of the string in turn")
        if left or any(step.how == "across" for step in path):
            odd.append("what lies beside the string")
        if sensed and lights and not chips:
            odd.append(f"{' and '.join(sensed)} alone hold the current of the LEDs")
        elif not chips or not lights:
            what = f"the path of {output} has no LEDs in series with a linear chip"
            placing.say(path[0].place, what, "write [LED1, U1], or the topology that the circuit has")
        placing.put(lights, "output")
        placing.put(tuple(chips), "lamp chip")
        placing.put(sensed, "lamp chip")
        placing.place_outputs()
        keeps = bool(line) and self.own_input(placing) is None
        return LampParts(
            traced=bool((chips or sensed) and lights),
            mains_side=(*lights, *chips, *sensed),
            facts=() if keeps or not rectifier else (("circuit.input", "without bulk capacitor"),),
            output=output,
            lights=lights,
            chip=chips[0] if chips else "",
            sensed=sensed,
            rectifier=rectifier,
            rectified=rectifies(rectifier, placing),
            keeps=keeps,
            odd="; ".join(odd),
        )


def _nothing_drops(seen: Seen) -> bool:
    """Whether the line is that of a rectifier with a bulk capacitor, and no part in the file could switch."""
    line = [name for step in seen.line if step.how != "across" for name in step.names]
    holds = [name for step in seen.line if step.how == "across" for name in step.names]
    quiet = (*_OPENS, *FAMILIES["diode"], *_CAPACITORS, *_RESISTORS, "LED", "varistor")
    return (
        any(seen.all_of([name], ("bridge rectifier", *PLAIN_DIODES)) for name in line)
        and seen.all_of(line, (*_OPENS, *PLAIN_DIODES))
        and any(seen.all_of([name], ("electrolytic capacitor",)) for name in holds)
        and not seen.windings
        and seen.all_of(seen.kinds, quiet)
    )


def _fills(names: tuple[str, ...], placing: Placing) -> str:
    """Whether a diode and a capacitor share a branch across the rail: `fill`, `may fill` where a kind is open, or ``.

    A capacitor that a diode parts from the rail gives its charge when the rail is low: nothing here works that out.
    """
    said = ""
    for one in names:
        for other in names:
            if one == other or not placing.any_of(one, PLAIN_DIODES) or not placing.any_of(other, _CAPACITORS):
                continue
            if placing.all_of(one, PLAIN_DIODES) and placing.all_of(other, _CAPACITORS):
                return "fill"
            said = "may fill"
    return said


def parts_of(structure: Structure) -> LampParts:
    """What the paths made up; nothing of it where the block was read as another topology's."""
    return structure.own if isinstance(structure.own, LampParts) else LampParts()
