"""What stands behind a mains transformer at one case as a netlist: winding, rectifier, reservoir, its current."""

from __future__ import annotations

from math import exp, sqrt

from derate.design.structure import Structure
from derate.ledger.entry import Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import part
from derate.stress.netlist import Netlist, Probe, middle, refused, with_rows
from derate.terms.values import Value
from derate.topologies.line_transformer.circuit import LineTransformerParts

_STEPS = 1500  # of a period
_SETTLED, _SEEN = 3, 1  # periods after the capacitor has settled, and those measured
_EMISSION, _THERMAL, _SERIES = 1.8, 0.025864, 0.01  # of the diodes; kT/q at 27 degC [V]; [ohm]


def transformer_netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    """The netlist of the first output. Raises ReadingError where it cannot be written."""
    own = structure.own
    assert isinstance(own, LineTransformerParts) and case.mains is not None and case.frequency is not None
    if len(own.secondaries) != 1:
        raise refused("no netlist is written of a transformer with several outputs", "one output has one")
    ((name, one),) = own.secondaries.items()
    if one.connection not in ("full bridge", "half-wave") or len(one.windings) != 1 or len(one.capacitors) != 1:
        raise refused("no netlist is written of this rectifier", "a bridge or one diode, one winding and one capacitor")
    winding, output = Subject("winding", (one.windings[0],)), Subject("output", (name,))
    voltage = _at_mains(ledger, winding, case.mains)
    resistance = middle(ledger, output, "series_resistance", "winding")
    current = middle(ledger, output, "current_average", "converter")
    capacitance = middle(ledger, part(one.capacitors[0]), "part.capacitance")
    series = _new(ledger, part(one.capacitors[0]))
    drop = middle(ledger, part(one.diodes[0]), "diode_drop", "converter")  # at twice the current
    saturation = 2.0 * current / (exp((drop - 2.0 * current * _SERIES) / (_EMISSION * _THERMAL)) - 1.0)
    crest = sqrt(2.0) * voltage
    lines = [
        f"Vwinding s1 s2 sin(0 {crest:.6g} {case.frequency:.6g} 0 0 90)",
        "Vsecondary s1 t 0",
        f"Rwinding t a {resistance:.6g}",
        "Vd a d1 0",
        "D1 d1 p DX",
    ]
    if one.connection == "full bridge":
        lines += ["D2 n a DX", "D3 s2 p DX", "D4 n s2 DX", "Rn n 0 1m"]
    else:
        lines += ["Vs2 s2 n 0", "Rn n 0 1m"]
    lines += [
        f"Creservoir p pc {capacitance:.6g} IC={0.9 * crest:.6g}",
        "Vcap pc q 0",
        f"Rseries q n {max(series, 1e-6):.6g}",
        f"Iload p n dc {current:.6g}",
        f".model DX D(IS={saturation:.6g} N={_EMISSION} RS={_SERIES} CJO=20p)",
    ]
    behind = [Subject("part", (one.regulator,))] if one.regulator else [part(one.capacitors[0])]
    probes = [Probe(winding, "current_rms", "RMS", "i(Vsecondary)")]
    probes += [Probe(part(one.diodes[0]), "current_average", "AVG", "i(Vd)")]
    probes += [Probe(part(one.diodes[0]), "current_peak", "MAX", "i(Vd)")]
    probes += [Probe(part(one.capacitors[0]), "ripple_current", "RMS", "i(Vcap)")]
    probes += [Probe(each, "voltage_min", "MIN", "vrail") for each in behind]
    probes += [Probe(each, "voltage_mean", "AVG", "vrail") for each in behind]
    period = 1.0 / case.frequency
    settled = period * (round(30.0 * resistance * capacitance / period) + _SETTLED)
    return Netlist(
        case,
        tuple(lines),
        ("vrail = v(p)-v(n)",),
        tuple(with_rows(ledger, probes, case)),
        period / _STEPS,
        settled + _SEEN * period,
        settled,
    )


def _at_mains(ledger: Ledger, winding: Subject, mains: float) -> float:
    """The open-circuit voltage at the mains of the case [V]."""
    for row in ledger.rows(winding, "open_voltage"):
        if row.case is not None and row.case.mains is not None and abs(row.case.mains - mains) < 1e-6 * mains:
            return middle(ledger, winding, "open_voltage", "winding", row.case)
    raise refused(f"the open-circuit voltage of {winding} is not known at this mains", "derate missing says how")


def _new(ledger: Ledger, capacitor: Subject) -> float:
    """The series resistance of a capacitor as the rail was worked out with it, before it is cold or worn [ohm]."""
    for row in ledger.entries:
        if row.subject == capacitor and row.quantity == "series_resistance" and isinstance(row.value, Value):
            if row.case is not None and row.case.group == "converter":
                return 0.5 * (row.value.near + row.value.far)
    return 0.0
