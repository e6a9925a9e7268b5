"""A dropper at one case as a netlist: what stands in series with the mains, its rectifier, the rail held."""

from __future__ import annotations

from math import sqrt

from derate.design.structure import Structure
from derate.ledger.entry import SUPPLY, Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import LINE, part
from derate.stress.netlist import DIODE, Netlist, Probe, middle, refused, with_rows
from derate.topologies.dropper.circuit import parts_of
from derate.topologies.dropper.shape import OF_THE_RAIL

_PERIODS, _SEEN, _STEPS = 8, 1, 2000


def dropper_netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    """The netlist. Raises ReadingError where it cannot be written."""
    parts = parts_of(structure)
    if parts.input not in ("full bridge", "half-wave") or parts.odd or len(parts.capacitors) > 1:
        raise refused("no netlist is written of this dropper", "one dropping capacitor or none, a bridge or one diode")
    assert case.mains is not None and case.frequency is not None
    rail = middle(ledger, OF_THE_RAIL, "voltage")
    lines = [
        f"Vmains l 0 sin(0 {sqrt(2.0) * case.mains:.6g} {case.frequency:.6g})",
        f"Rline l a {middle(ledger, LINE, 'series_resistance', 'resistance hot'):.6g}",
    ]
    names = parts.capacitors
    lines += [f"Cdrop a b {middle(ledger, part(names[0]), 'part.capacitance'):.6g}"] if names else ["Rdrop a b 1m"]
    lines.append("Vline b c 0")
    hold = f"Vrail p n {rail:.6g}"
    if parts.input == "full bridge":
        lines += ["D1 c p DR", "D2 n c DR", "D3 0 p DR", "D4 n 0 DR", "Rn n 0 10meg", hold]
    elif parts.clamped_ahead:  # a zener: a diode that breaks down at the rail, forward a junction
        lines += ["D5 c z DR", f"Vrail z 0 {rail - 0.75:.6g}", "D6 0 c DR", "Rn c 0 100meg"]
    else:
        lines += ["D1 c p DR", *(["D2 0 c DR"] if parts.returns else []), "Vn n 0 0", hold]
    lines.append(DIODE)
    probes = [Probe(LINE, "current_rms", "RMS", "i(Vline)"), Probe(LINE, "current_peak", "MAX", "iline")]
    probes.append(Probe(SUPPLY, "mains_current", "RMS", "i(Vline)"))
    probes += [Probe(part(one), "current_rms", "RMS", "i(Vline)") for one in names]
    probes += [Probe(Subject("output", (one,)), "current_available", "AVG", "i(Vrail)") for one in structure.outputs]
    period = 1.0 / case.frequency
    return Netlist(
        case,
        tuple(lines),
        ("iline = abs(i(Vline))",),
        tuple(with_rows(ledger, probes, case)),
        period / _STEPS,
        _PERIODS * period,
        (_PERIODS - _SEEN) * period,
    )
