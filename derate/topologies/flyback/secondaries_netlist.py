"""The secondaries of a flyback in a netlist: windings on one core, each with its rectifier and what it feeds.

One output is held at its voltage by a source. Every other has its capacitor and a load that takes its current. Of
several windings the leakage is a star: half of what the primary shows with all outputs shorted lies ahead of the core,
the other half behind it, alike in every winding as seen from the primary, where nobody measured it at the winding.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from derate.design.structure import Structure
from derate.ledger.entry import Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import part
from derate.stress.netlist import Probe, either, middle, refused
from derate.terms.quantities import FULL_LOAD, full_load_of
from derate.terms.values import Value

_LEAST_LEAKAGE = 0.05  # of what was measured at a winding: some of it is its own, whatever the primary's half is
_BLEED = 1e5  # times the resistance of a full load: what an output without load loses


class Secondary(NamedTuple):
    """One output, in SI units. name: of it; windings: in series; rectifier: its diodes

    ratio: primary turns over its own; volts: its size; current: what its load takes in this run, full its full one
    capacitance: at the rectifier; leakage: of its own, at its winding, 0 where it is the only one
    """

    name: str
    windings: tuple[str, ...]
    rectifier: tuple[str, ...]
    ratio: float
    volts: float
    drop: float
    current: float
    full: float
    capacitance: float
    leakage: float

    @property
    def subject(self) -> Subject:
        """The output as the ledger calls it."""
        return Subject("output", (self.name,))


def secondaries_of(
    structure: Structure, ledger: Ledger, case: Case, winding: str, leakage: float
) -> tuple[Secondary, ...]:
    """The outputs at a case, the one that is held first: what the case has alone full, else what is sensed.

    winding: of the primary; leakage: seen from it with all outputs shorted [H]. Raises ReadingError where a fact lacks.
    """
    turns = middle(ledger, Subject("winding", (winding,)), "winding.turns")
    several = len(structure.outputs) > 1
    found = []
    for name, walked in structure.outputs.items():
        subject = Subject("output", (name,))
        ratio = turns / sum(middle(ledger, Subject("winding", (one,)), "winding.turns") for one in walked.windings)
        full = middle(ledger, subject, "current_average", "running", case._replace(load=FULL_LOAD))
        alone = case.load not in (FULL_LOAD, full_load_of(name))
        own = leakage * len(structure.outputs) / 2.0 / ratio**2
        if several and len(walked.windings) == 1:
            measured = either(ledger, Subject("winding", walked.windings), "winding.leakage", 0.0)
            if measured > 0.0:  # with the primary shorted its half is in it
                own = max(measured - leakage / 2.0 / ratio**2, _LEAST_LEAKAGE * measured)
        found.append(
            Secondary(
                name,
                walked.windings,
                walked.rectifier,
                ratio,
                abs(middle(ledger, subject, "plate.voltage")),
                middle(ledger, subject, "forward_drop", "converter"),
                _least(ledger, subject) if alone else full,
                full,
                middle(ledger, subject, "output_capacitance", "converter") if several else 0.0,
                own if several else 0.0,
            )
        )
    if case.load != FULL_LOAD and not any(full_load_of(one.name) == case.load for one in found):
        names = ", ".join(one.name for one in found)
        raise refused(f"no output of this supply is called so: {case.load}", f"its outputs are {names}")
    return tuple(sorted(found, key=lambda one: _behind(structure, case, one)))


def _behind(structure: Structure, case: Case, one: Secondary) -> tuple[bool, bool, float]:
    """The order in which an output may be the one that is held: alone full, sensed, of the greatest power."""
    return full_load_of(one.name) != case.load, one.name not in structure.control.senses, -one.volts * one.full


def _least(ledger: Ledger, subject: Subject) -> float:
    """The least current of an output [A]: the lower end of its range on the plate, nothing where it has none."""
    row = next(iter(ledger.rows(subject, "plate.current")), None)
    value = row.value if row is not None else None
    return value.low if isinstance(value, Value) and value.low < value.high else 0.0


def carried(secondaries: Sequence[Secondary]) -> float:
    """What this run delivers, over all of them full [-]."""
    powers = [((one.volts + one.drop) * one.current, (one.volts + one.drop) * one.full) for one in secondaries]
    return sum(now for now, _ in powers) / sum(full for _, full in powers)


def leakage_of_primary(secondaries: Sequence[Secondary], leakage: float) -> float:
    """What of it lies ahead of the core [H]: all of it where there is one secondary, which then has none."""
    return leakage if len(secondaries) == 1 else leakage / 2.0


def _mark(number: int) -> str:
    """What the elements of a secondary are called by behind their letter: the held one by nothing."""
    return "" if number == 0 else str(number + 1)


def secondary_lines(secondaries: Sequence[Secondary], drain: float) -> list[str]:
    """Their lines between the core, the nodes `x1` and `d`, and what they feed. drain: capacitance of the switch [F]"""
    held = secondaries[0]
    by_turns = (held.volts + held.drop) * held.ratio
    lines = []
    for number, one in enumerate(secondaries):
        k = _mark(number)
        out = f"o{k}"
        lines += [f"Fs{k} d x1 Vs{k} {1.0 / one.ratio:.6g}", f"Es{k} s{k} 0 d x1 {1.0 / one.ratio:.6g}"]
        into = f"s{k}"
        if one.leakage > 0.0:
            damping = 6.0 * (one.leakage / drain) ** 0.5 / one.ratio
            into = f"w{k}"
            lines += [f"Ls{k} s{k} w{k} {one.leakage:.6g} IC=0", f"Rs{k} s{k} w{k} {damping:.6g}"]
        lines += [f"Vs{k} {into} t{k} 0", f"Vdrop{k} t{k} r{k} {one.drop:.6g}", f"Do{k} r{k} {out} DS"]
        if number == 0:
            lines.append(f"Vo {out} 0 {one.volts:.6g}")
        else:
            lines += [
                f"Co{k} {out} 0 {one.capacitance:.6g} IC={by_turns / one.ratio - one.drop:.6g}",
                f"Io{k} {out} 0 {one.current:.6g}",
                f"Ro{k} {out} 0 {_BLEED * one.volts / one.full:.6g}",
            ]
    return lines


def _served(structure: Structure, secondaries: Sequence[Secondary]) -> dict[str, list[int]]:
    """Every winding with the outputs that it serves, by their number."""
    found: dict[str, list[int]] = {}
    for number, one in enumerate(secondaries):
        for name in one.windings:
            found.setdefault(name, []).append(number)
    return found


def secondary_vectors(structure: Structure, secondaries: Sequence[Secondary]) -> list[str]:
    """What is defined after the run: the current of every output capacitor, and of windings that serve several."""
    vectors = [
        f"icap{_mark(number)} = i(Vs{_mark(number)})-{one.current:.6g}" for number, one in enumerate(secondaries)
    ]
    for name, numbers in enumerate(_served(structure, secondaries).values()):
        if len(numbers) > 1:
            vectors.append(f"iwinding{name} = {'+'.join(f'i(Vs{_mark(number)})' for number in numbers)}")
    return vectors


def secondary_probes(structure: Structure, secondaries: Sequence[Secondary]) -> list[Probe]:
    """What the ledger has of them; of several it holds a rectifier, winding and capacitor at the worst of all loads."""
    several = len(secondaries) > 1
    probes = []
    for number, one in enumerate(secondaries):
        k = _mark(number)
        vector = f"i(Vs{k})"
        probes.append(Probe(one.subject, "current_average", "AVG", vector))
        if several:
            probes.append(Probe(one.subject, "current_rms", "RMS", vector))
            probes.append(Probe(one.subject, "current_peak", "MAX", vector))
            if number and one.name not in structure.control.senses:
                probes.append(Probe(one.subject, "voltage", "AVG", f"v(o{k})", worst=one.current < one.full))
        if len(one.rectifier) == 1 and several:
            probes.append(Probe(part(one.rectifier[0]), "current_rms", "RMS", vector, worst=True))
            probes.append(Probe(part(one.rectifier[0]), "current_peak", "MAX", vector, worst=True))
    for name, (winding, numbers) in enumerate(_served(structure, secondaries).items()):
        vector = f"i(Vs{_mark(numbers[0])})" if len(numbers) == 1 else f"iwinding{name}"
        subject = Subject("winding", (winding,))
        probes.append(Probe(subject, "current_rms", "RMS", vector, worst=several))
        probes.append(Probe(subject, "current_peak", "MAX", vector, worst=several))
    for number, one in enumerate(secondaries):
        probes.append(Probe(one.subject, "ripple_current", "RMS", f"icap{_mark(number)}", worst=several))
    return probes
