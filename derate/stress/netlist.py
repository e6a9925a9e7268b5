"""A design at one case as a netlist that ngspice runs as it is: the same circuit, worked out by somebody else.

It holds one sample: every fact at the middle of what is not known about it, at the mains and the frequency of the case.
What the ledger has of it at that case, over all that is not known, stands beside as comments; a run of it has to
fall inside. The diodes are silicon ones, whose drop the ledger bounds. The converter is a load of constant power behind
the bulk.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from math import inf, sqrt
from typing import NamedTuple

from derate.design.structure import Element, MainsInput, Structure, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import LINE, part
from derate.terms.quantities import ALL_FULL, ANY_LOAD, FULL_LOAD, HIGHEST_MAINS, LOWEST_MAINS, Load, named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Place, Problem, ReadingError, Value
from derate.terms.vocabulary import VOCABULARY

BULK = Subject("path", ("bulk",))
_PERIODS, _SEEN = 40, 4  # of the mains, until it repeats itself; those that are measured
_STEPS = 2000  # of a period
DIODE = ".model DR D(IS=7e-9 N=1.8 RS=0.05 CJO=20p)"  # silicon: 0.93 V at 0.8 A


FREQUENCY = "FREQUENCY"  # how often the node rises by which whole periods are told
_COUNTED = 16  # whole periods that are measured where nobody knows beforehand how long one is


class Probe(NamedTuple):
    """One figure of the ledger, and what in the netlist it is.

    measure: RMS, AVG, MAX, MIN, PP (peak to peak) or FREQUENCY; of: its vector
    worst: the row holds the worst of several loads, of which the run is one: it may lie below, never above
    """

    subject: Subject
    quantity: QuantityName
    measure: str
    of: str
    worst: bool = False


class Netlist(NamedTuple):
    """A circuit at one case. circuit: its lines; vectors: defined after the run; probes: each with its row

    whole: a node that rises through a half once in a period, where the length of one is a figure of the run
    tolerance: of the run; a control that decides by a comparator does not converge with the finer one
    """

    case: Case
    circuit: tuple[str, ...]
    vectors: tuple[str, ...]
    probes: tuple[tuple[Probe, Entry], ...]
    step: float
    stop: float
    begin: float
    whole: str = ""
    tolerance: float = 1e-4


def mains_netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    """The netlist of the mains input of a design at a case. Raises ReadingError where it cannot be written."""
    mains = structure.mains
    if mains is None or not mains.bulk:
        raise refused("this design has no mains input that ends at a bulk capacitor", "its paths are drawn elsewhere")
    assert case.mains is not None and case.frequency is not None
    crest = sqrt(2.0) * case.mains
    resistance = middle(ledger, LINE, "series_resistance", "running")
    inductance = middle(ledger, LINE, "line_inductance")
    power = middle(ledger, SUPPLY, "power_drawn", "running")
    capacitances = [_capacitance(ledger, element) for element in mains.bulk]
    lines = [
        f"Vmains l 0 sin(0 {crest:.6g} {case.frequency:.6g})",
        f"Rline l l1 {max(resistance, 1e-4):.6g}",
        f"Lline l1 l2 {max(inductance, 1e-9):.6g}",
        "Vline l2 a 0",
    ]
    lines += _rectified(mains, capacitances, crest)
    probes = [Probe(LINE, "current_rms", "RMS", "i(Vline)"), Probe(LINE, "current_peak", "MAX", "iline")]
    last, names = "c1", [tuple(one.name for one in leaves_) for leaves_ in map(leaves, mains.bulk)]
    if len(mains.bulk) == 2 and mains.input != "doubler":
        name = mains.choke[0] if mains.choke else ""
        choke = part(name)
        lines += [
            f"Lchoke p p1 {middle(ledger, choke, 'part.inductance'):.6g}",
            f"Rchoke p1 p2 {either(ledger, choke, 'part.resistance', 1e-3):.6g}",
            "Vchoke p2 q 0",
            f"Cbulk2 q qc {capacitances[1]:.6g} IC={0.9 * crest:.6g}",
            "Vcap2 qc n 0",
        ]
        probes += [Probe(choke, "current_rms", "RMS", "i(Vchoke)"), Probe(choke, "current_peak", "MAX", "i(Vchoke)")]
        probes += _shared(names[1], "i(Vcap2)")
        last = "c2"
    out = "q" if last == "c2" else "p"
    lines += [f"Bload {out} n I={power:.6g}/max(v({out},n),{0.2 * crest:.6g})", DIODE]
    probes += [Probe(BULK, "voltage_min", "MIN", "vbulk"), *_shared(names[0], "i(Vcap)")]
    probes += [Probe(part(one), "current_average", "AVG", "i(Vd)") for one in mains.rectifier[:1]]
    period = 1.0 / case.frequency
    return Netlist(
        case,
        tuple(lines),
        ("iline = abs(i(Vline))", f"vbulk = v({out})-v(n)"),
        tuple(with_rows(ledger, probes, case)),
        period / _STEPS,
        _PERIODS * period,
        (_PERIODS - _SEEN) * period,
    )


def _rectified(mains: MainsInput, capacitances: Sequence[float], crest: float) -> list[str]:
    """Rectifier and first bulk capacitor, from the point `a` and the other conductor, the point 0."""
    start = f"IC={0.9 * crest:.6g}"
    if mains.input == "doubler":
        return [
            "Vd a a1 0",
            "D1 a1 p DR",
            "D2 n a DR",
            f"Cbulk1 p pc {capacitances[0]:.6g} {start}",
            "Vcap pc 0 0",
            f"Cbulk2 0 n {capacitances[-1]:.6g} {start}",
        ]
    first = [f"Cbulk1 p pc {capacitances[0]:.6g} {start}", "Vcap pc n 0"]
    if mains.input == "half-wave":
        return ["Vd a a1 0", "D1 a1 p DR", "Vn n 0 0", *first]
    return ["Vd a a1 0", "D1 a1 p DR", "D2 n a DR", "D3 0 p DR", "D4 n 0 DR", "Rn n 0 10meg", *first]


def _capacitance(ledger: Ledger, element: Element) -> float:
    """Of capacitors in parallel their sum [F]."""
    return sum(middle(ledger, part(one.name), "part.capacitance") for one in leaves(element))


def _shared(names: Sequence[str], vector: str) -> list[Probe]:
    """The ripple of the one capacitor of an element; of several in parallel none, whose shares hang on more."""
    if len(names) != 1:
        return []
    return [Probe(part(names[0]), "ripple_current", "RMS", vector)]


def with_rows(ledger: Ledger, probes: Sequence[Probe], case: Case) -> Iterator[tuple[Probe, Entry]]:
    """Each figure with the row of the ledger at that case; one that has none is left out.

    A row of the case's own load goes before one that holds the worst of several.
    """
    for probe in probes:
        loads = (FULL_LOAD, ANY_LOAD) if probe.worst else _loads_of(case)
        rows = [row for row in ledger.rows(probe.subject, probe.quantity) if _is_at(row, case)]
        for load in loads:
            found = [row for row in rows if row.case is not None and row.case.load == load]
            if found:
                yield probe, found[0]
                break


def _is_at(row: Entry, case: Case) -> bool:
    at = row.case
    if at is None or at.group != case.group or at.fault or not isinstance(row.value, Value):
        return False
    return at.mains in (None, case.mains) and at.frequency in (None, case.frequency)


def _loads_of(case: Case) -> tuple[Load, ...]:
    """The loads of the rows that a run at a case may be held to, the nearest first."""
    if case.load == FULL_LOAD:
        return ALL_FULL, FULL_LOAD, ANY_LOAD, LOWEST_MAINS, HIGHEST_MAINS
    return case.load, ANY_LOAD


def middle(ledger: Ledger, subject: Subject, quantity: str, group: str = "", case: Case | None = None) -> float:
    """The middle of what is not known about this sample. Raises ReadingError where nobody knows.

    group: of the row, any where empty; case: whose mains and frequency the row has, where it has one
    """
    for row in ledger.rows(subject, named(quantity)):
        of = row.case
        if group and (of is None or of.group != group or of.load == "none"):
            continue
        if case is not None and of is not None:
            if of.mains not in (None, case.mains) or of.frequency not in (None, case.frequency):
                continue
        if isinstance(row.value, Value) and row.value.far < 1e300:
            return 0.5 * (row.value.near + row.value.far)
    term = VOCABULARY.get(quantity)
    raise refused(f"{term.says if term else quantity} of {subject} is not known", "derate missing says how to get it")


def either(ledger: Ledger, subject: Subject, quantity: str, otherwise: float) -> float:
    try:
        return middle(ledger, subject, quantity)
    except ReadingError:
        return otherwise


def refused(what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place("command line"), what, instead)])


# The text, and a run of it.


def names_of(made: Netlist) -> tuple[str, ...]:
    """What each figure is called in the netlist, in the order of the probes."""
    return tuple(f"m{number}" for number, _ in enumerate(made.probes, 1))


def range_of(probe: Probe, row: Entry) -> tuple[float, float]:
    """What the ledger has of a figure: its outer two numbers [SI]; of the worst of several loads no lower one."""
    assert isinstance(row.value, Value)
    return -inf if probe.worst else row.value.low, row.value.high


def figure_words(probe: Probe, row: Entry) -> str:
    """`line current_rms: 0.365 to 0.479 A`; `D5 current_rms: at most 4.2 A, the worst of several loads`"""
    low, high = range_of(probe, row)
    term = VOCABULARY[probe.quantity]
    assert term.dimension is not None
    words = f"{low:.4g} to {high:.4g} {term.dimension.symbol}"
    if probe.worst:
        words = f"at most {high:.4g} {term.dimension.symbol}, the worst of several loads"
    elif high == inf:
        words = f"at least {low:.4g} {term.dimension.symbol}"
    return f"{probe.subject} {probe.quantity}: {words}"


def text_of(made: Netlist, name: str, told: Sequence[str] = ()) -> str:
    """The netlist as ngspice reads it. name: of the design; told: by which packs it was made"""
    title = " ".join(re.sub(r"[^\w .,()-]", " ", name).split())[:80]
    out = [f"* {title}: {made.case}", "* One sample, each fact at the middle of what is not known about it."]
    out += [f"* {' '.join(one.split())}" for one in told]
    out += ["* What the ledger has at this case, over all that is not known:"]
    out += [
        f"* {called} {figure_words(probe, row)}"
        for called, (probe, row) in zip(names_of(made), made.probes, strict=True)
    ]
    options = f".options reltol={made.tolerance:.6g} abstol=1e-8 vntol=1e-5 method=gear"
    out += [*made.circuit, options, ".control", "set noaskquit"]
    out.append(f"tran {made.step:.6g} {made.stop:.6g} {made.begin:.6g} {made.step:.6g} uic")
    out += [f"let {one}" for one in made.vectors]
    span = f"from={made.begin:.8g} to={made.stop:.8g}"
    if made.whole:
        for name, rise in (("first", 2), ("last", 2 + _COUNTED)):
            out.append(f"meas tran {name} when {made.whole}=0.5 rise={rise}")
        span = "from=$&first to=$&last"
    for called, (probe, _) in zip(names_of(made), made.probes, strict=True):
        if probe.measure == FREQUENCY:
            out += [f"let {called} = {_COUNTED}/(last-first)", f"print {called}"]
        else:
            out.append(f"meas tran {called} {probe.measure} {probe.of} {span}")
    return "\n".join([*out, "quit", ".endc", ".end"]) + "\n"
