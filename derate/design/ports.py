"""Ports behind one stage: their block of the file, and what stands between the bus and each of them.

Read only where a file has the block. The bus is an output of the circuit block, walked as ever; a port begins there.
What stands between is told by what is joined to what: nothing or a load switch, or a converter that steps down, whose
choke stands behind its switch. Anything else is not covered, and says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from derate.design.circuit import Circuit, PathForm, Placing
from derate.design.kinds import FAMILIES
from derate.design.names import name
from derate.design.plain_forms import block, fact, formed
from derate.design.record import Name, Record, Stated
from derate.design.structure import Leaf, Path, Port, leaves
from derate.terms.instructions import opened, papers
from derate.terms.values import Place

_TRACE = opened("trace it")
_CAPACITORS, _RESISTORS = FAMILIES["capacitor"], FAMILIES["resistor"]
CLAMPS = ("zener diode", "suppressor diode", "thyristor")
_DIODES = tuple(kind for kind in FAMILIES["diode"] if kind not in CLAMPS)
SWITCHES = ("MOSFET", "integrated switch")
_CONTROLS = ("port controller", "controller", "integrated switch")
_SERIES = (*_RESISTORS, "fuse", "board track")
_TURNS = (*SWITCHES, "bipolar transistor", "thyristor", "controller", "port controller")
DIRECT, LOAD_SWITCH, BUCK = "direct", "load switch", "buck"


class PortControl(Record, prefix="port"):
    """What switches the converter ahead of a port."""

    by: Name | None = name("part that controls it", "part", how=_TRACE, example="U5")
    frequency: Stated | None = fact()


class Overvoltage(Record, prefix="port"):
    """What opens a port that is too high."""

    by: Name | None = name("part that senses the port", "part", how=_TRACE, example="U6")
    opens: Name | None = name("load switch that it opens", "part", how=_TRACE, example="Q7", needed=True)
    blocks: Stated | None = fact()
    sensed_apart: Stated | None = fact()
    at: Stated | None = fact("port.overvoltage_stop")
    within: Stated | None = fact("port.overvoltage_delay")


class PortBlock(Record, prefix="port"):
    """One port: what it is fed from, what stands between, and what it advertises."""

    source: Name | None = name(
        "output of the circuit that it is fed from", "output", how=_TRACE, example="bus", key="from", needed=True
    )
    path: Path | None = formed(PathForm(), "from the bus to the port", _TRACE, "[Q2, across D8, L3, across C9, Q7]")
    connector: Stated | None = fact()
    advertised: Stated | None = fact()
    every_offer: Stated | None = fact()
    efficiency: Stated | None = fact()
    reads_cable: Stated | None = fact()
    lead_current: Stated | None = fact()
    control: PortControl | None = block(PortControl, "what switches the converter ahead of it")
    overvoltage: Overvoltage | None = block(Overvoltage, "what opens it when it is too high")


class Sharing(Record, prefix="sharing"):
    """What holds the sum of all ports."""

    power: Stated | None = fact()
    by: Name | None = name(
        "part that shares the power out",
        "part",
        how=papers("find the part that talks to the controllers of all ports"),
        example="U9",
        words=("none",),
    )


def port_leaves(circuit: Circuit) -> Iterator[Leaf]:
    """Every part named by the blocks of the ports, and what shares their power out."""
    for one in circuit.ports.values():
        if one is None:
            continue
        for step in one.path or ():
            yield from leaves(step.element)
        for named in (one.control.by if one.control else None, one.overvoltage.by if one.overvoltage else None):
            if named is not None:
                yield Leaf(str(named), named.place)
    if circuit.sharing is not None and circuit.sharing.by is not None and circuit.sharing.by.kinds:
        yield Leaf(str(circuit.sharing.by), circuit.sharing.by.place)


def read_ports(circuit: Circuit, placing: Placing) -> tuple[Port, ...]:
    """Every port, its parts placed; what on a path disagrees with what is said of it is told."""
    found = []
    for key, one in circuit.ports.items():
        if one is not None and key in circuit.outputs:
            what = f"'{key}' is an output of the circuit already"
            placing.say(one.place, what, "give the port a name of its own")
        if one is None or one.source is None:  # left out, what it draws would be asked of no stage
            what = f"nothing says what output port {key} is fed from"
            placing.say(one.place if one is not None else circuit.place, what, f"trace it, and write from under {key}")
        else:
            found.append(_read(str(key), one, placing))
    sharing = circuit.sharing
    if sharing is not None and sharing.by is not None and sharing.by.kinds:
        if not placing.any_of(sharing.by, _CONTROLS):
            what = f"{sharing.by} can share no power out: that is done by a controller"
            placing.say(sharing.by.place, what, "write the controller, or none")
        placing.put((sharing.by,), "control")
    return tuple(found)


def _read(key: str, one: PortBlock, placing: Placing) -> Port:
    path = _Walk(placing)
    for step in one.path or ():
        for part in step.names:
            path.take(part, step.how)
    made = path.port(key, str(one.source), one.place, one.path is None)
    control, guard = one.control, one.overvoltage
    by = control.by if control is not None else None
    if by is not None:
        placing.put((by,), "control")
    elif made.shape == BUCK and placing.all_of(made.chopper, ("integrated switch",)):
        by = made.chopper  # type: ignore[assignment]
    if control is not None and made.shape in (DIRECT, LOAD_SWITCH):
        what = f"{key} has no converter on its path for circuit.ports.{key}.control to switch"
        placing.say(control.place, what, "walk its switch and its choke, or leave control out")
    if guard is None:
        return made._replace(by=str(by or ""))
    if guard.by is not None:
        placing.put((guard.by,), "control")
    if guard.opens is not None and guard.opens not in made.load_switches and made.shape:
        what = f"{guard.opens} is no load switch between {'the choke' if made.inductor else 'the bus'} and port {key}"
        placing.say(guard.opens.place, what, "name a switch that stands in series on that part of the path")
    return made._replace(by=str(by or ""), guard=str(guard.by or ""), opens=str(guard.opens or ""))


class _Walk:
    """Takes the parts of one path in order and tells what they make up."""

    def __init__(self, placing: Placing) -> None:
        self.placing = placing
        self.series: list[str] = []
        self.across: list[tuple[str, int]] = []  # with how many stand in series ahead of it
        self.unknown: list[str] = []
        self.odd: list[str] = []

    def take(self, part: str, how: str) -> None:
        """One part, in series or across."""
        text = str(part)
        if "." in text:
            self.odd.append(f"winding {text} stands on the way to it")
            return
        if not self.placing.all_of(text, tuple(_KNOWN)):
            if self.placing.any_of(text, tuple(_KNOWN)):
                self.unknown.append(text)
            else:
                self.odd.append(f"{text} stands on the way to it")
        if how == "across":
            self.across.append((text, len(self.series)))
        elif how == "series":
            self.series.append(text)
        else:
            self.odd.append(f"{text} stands neither in series nor across")

    def port(self, key: str, bus: str, place: Place, untraced: bool) -> Port:
        """What they make up."""
        of = self.placing.all_of
        whole = tuple(self.series) + tuple(part for part, _ in self.across)
        if self.unknown or self.odd or untraced:
            self.placing.put(whole, "port")
            turns = not self.unknown and not untraced and self._turns()
            return Port(key, bus, place, odd="; ".join(self.odd), unknown=tuple(self.unknown), turns=turns)
        chokes = [k for k, part in enumerate(self.series) if of(part, ("choke",))]
        switches = [k for k, part in enumerate(self.series) if of(part, SWITCHES)]
        ahead = [k for k in switches if chokes and k < chokes[0]]
        diodes = [part for part in self.series if of(part, _DIODES)]
        raised = [part for part, k in self.across if of(part, (*SWITCHES, *_CONTROLS)) and not ahead]
        odd = ""
        if len(chokes) > 1:
            odd = "more than one choke in series"
        elif diodes:
            odd = f"{diodes[0]} in series"
        elif raised:
            odd = f"{raised[0]} across the path with no switch ahead of a choke: that steps up, or is linear"
        elif len(ahead) > 1:
            odd = "more than one switch ahead of the choke"
        if odd:
            self.placing.put(whole, "port")
            return Port(key, bus, place, odd=odd, turns=self._turns())
        return self._buck(key, bus, place, ahead[0], chokes[0]) if ahead else self._straight(key, bus, place, switches)

    def _turns(self) -> bool:
        """Whether a choke and something that switches it stand on the way: that makes a voltage of its own."""
        whole = (*self.series, *(part for part, _ in self.across))
        chokes = any(self.placing.all_of(part, ("choke",)) for part in self.series)
        return chokes and any(self.placing.all_of(part, _TURNS) for part in whole)

    def _fuses(self, clamps: Sequence[str]) -> tuple[str, ...]:
        """Fuses in series, ahead of each clamp: one behind carries nothing of what the clamp takes."""
        first = min((k for part, k in self.across if part in clamps), default=len(self.series))
        return tuple(part for part in self.series[:first] if self.placing.all_of(part, ("fuse",)))

    def _straight(self, key: str, bus: str, place: Place, switches: list[int]) -> Port:
        of, put = self.placing.all_of, self.placing.put
        behind = switches[-1] + 1 if switches else 0
        load = tuple(self.series[k] for k in switches)
        put(load, "load switch")
        stores: list[str] = []
        outer: list[str] = []
        clamps: list[str] = []
        for part, k in self.across:
            if of(part, _CAPACITORS):
                (outer if k >= behind else stores).append(part)
                put((part,), "port capacitor")
            else:
                put((part,), "port")
                if of(part, CLAMPS):
                    clamps.append(part)
        rest = tuple(part for k, part in enumerate(self.series) if k not in switches)
        put(rest, "port")
        shape = LOAD_SWITCH if load else DIRECT
        fuses = self._fuses(clamps)
        return Port(
            key,
            bus,
            place,
            shape,
            stores=tuple(stores),
            outer=tuple(outer),
            load_switches=load,
            clamps=tuple(clamps),
            fuses=fuses,
            beside=tuple(part for part in rest if part not in fuses),
            behind=rest,
        )

    def _buck(self, key: str, bus: str, place: Place, at: int, choke: int) -> Port:
        of, put = self.placing.all_of, self.placing.put
        chopper, inductor = self.series[at], self.series[choke]
        put((chopper,), "port switch")
        put((inductor,), "port inductor")
        load = tuple(part for k, part in enumerate(self.series) if k > choke and of(part, SWITCHES))
        put(load, "load switch")
        last = max((k for k, part in enumerate(self.series) if part in load), default=len(self.series))
        inputs: list[str] = []
        rectifiers: list[str] = []
        stores: list[str] = []
        outer: list[str] = []
        clamps: list[str] = []
        odd = ""
        for part, k in self.across:
            if k <= at:
                inputs.append(part)
                if not of(part, (*_CAPACITORS, *CLAMPS)):
                    odd = f"{part} across the bus ahead of {chopper}"
                put((part,), "port input")
            elif k <= choke:
                rectifiers.append(part)
                if not of(part, (*_DIODES, "MOSFET")):
                    odd = f"{part} across between {chopper} and {inductor}"
                put((part,), "port rectifier")
            elif of(part, _CAPACITORS):
                (outer if k > last else stores).append(part)
                put((part,), "port capacitor" if k > last else "port store")
            else:
                put((part,), "port")
                if of(part, CLAMPS):
                    clamps.append(part)
        inside = not rectifiers and of(chopper, ("integrated switch",))
        if not rectifiers and not inside:
            odd = odd or f"nothing takes over the current of {inductor} when {chopper} opens"
        between = [part for k, part in enumerate(self.series) if at < k < choke]
        rest = tuple(part for part in self.series if part not in (chopper, inductor, *load))
        put(rest, "port")
        fuses = self._fuses(clamps)
        if between and not of(between[0], _RESISTORS):
            odd = odd or f"{between[0]} between {chopper} and {inductor}"
        return Port(
            key,
            bus,
            place,
            "" if odd else BUCK,
            chopper,
            tuple(rectifiers),
            inside,
            inductor,
            tuple(stores),
            tuple(outer),
            load,
            tuple(clamps),
            fuses,
            tuple(part for part in rest if part not in fuses),
            tuple(part for k, part in enumerate(self.series) if k > choke and part in rest),
            tuple(inputs),
            odd=odd,
            turns=bool(odd),
        )


_KNOWN = (
    *_SERIES,
    *_CAPACITORS,
    *_DIODES,
    *CLAMPS,
    *SWITCHES,
    "choke",
    "port controller",
    "controller",
    "varistor",
    "LED",
)
