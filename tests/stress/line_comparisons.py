"""Random mains inputs as design texts, what the ledger says of them, and points inside them to walk through.

A point is one sample of the supply: every part somewhere in its tolerance, inductance and load somewhere in theirs. The
truth of a point is that of an integrator (`line_integrator_many`), which shares nothing with the solvers.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from line_integrator_many import Closed, Many, close_many, walk_many

from derate.ledger.entry import Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import BULK, LINE, part
from derate.terms.quantities import RUNNING, SWITCH_ON
from derate.terms.values import Value

KINDS = ("bridge", "half-wave", "doubler", "choke")
DIODE = 0.875  # one diode of the solvers' fixed drop [V]
WIRING = 0.02  # [ohm] that the rows add to what stands in series
ANGLES = tuple(np.pi * (0.25 + k / 36.0) for k in range(19))  # of closing: 45 to 135 degrees
Truth = tuple[Many, int]


class Drawn(NamedTuple):
    """A supply, and the least and greatest of what its text says."""

    kind: str
    text: str
    ohms: tuple[float, float]
    henries: tuple[float, float]
    first: tuple[float, float]
    second: tuple[float, float]
    coil: tuple[float, float]
    own: float
    watts: float
    drop: float


class Point(NamedTuple):
    """One sample at one case: what is compared there."""

    supply: int
    mains: float
    hertz: float
    ohms: float
    henries: float
    first: float
    second: float
    coil: float
    load: float
    greatest: bool  # at the highest mains and any load: only the bulk's crest is compared


class Compared(NamedTuple):
    """One figure of one point: truth over the upper end, and the lower end over truth, less one each."""

    supply: int
    quantity: str
    above: float
    below: float
    truth: float


def _range(ends: tuple[float, float], unit: str) -> str:
    return f"{ends[0]:.6g} {unit}" if ends[0] == ends[1] else f"{ends[0]:.6g}..{ends[1]:.6g} {unit}"


def drawn(rng: random.Random, kind: str) -> Drawn:
    """A supply of 0.2 to 100 W at 100 to 277 V with 0 to 6 mH ahead; half of them stated exactly, half as ranges."""
    exact = rng.random() < 0.5
    wide = rng.choice([(100.0, 240.0), (220.0, 240.0), (110.0, 127.0), (230.0, 230.0), (277.0, 277.0)])
    if kind == "doubler":
        wide = rng.choice([(100.0, 120.0), (110.0, 127.0), (120.0, 120.0)])
    low = wide[0] * 0.9
    watts = 10.0 ** rng.uniform(-0.7, 0.9 if kind == "half-wave" else 1.5 if kind == "choke" else 2.0)
    watts = float(f"{watts / 10.0:.6g}") * 10.0
    per_watt = rng.uniform(0.8, 3.0) * (207.0 / low) ** 2 * {"half-wave": 2.5, "doubler": 2.2}.get(kind, 1.0)
    if kind == "doubler":
        per_watt *= 0.5
    bulk = (watts * per_watt + 0.3) * 1e-6
    ohms = min(10.0 ** rng.uniform(-0.7, 1.2), 0.02 * low * low / watts)
    henries = rng.choice([0.0, 10.0 ** rng.uniform(-4.5, -2.22), 10.0 ** rng.uniform(-4.0, -2.5)])
    spread = 0.0 if exact else 0.2
    split = rng.uniform(0.3, 0.7)
    coil = rng.choice([220e-6, 470e-6, 1e-3, 2.2e-3, 5.6e-3])
    first, second = (bulk * split, bulk * (1.0 - split)) if kind == "choke" else (bulk, 0.0)

    def ends(x: float, share: float) -> tuple[float, float]:
        one, other = float(f"{x * (1.0 - share):.6g}"), float(f"{x * (1.0 + share):.6g}")
        return one, other

    r, c1, c2, lc = ends(ohms, spread / 4.0), ends(first, spread), ends(second, spread), ends(coil, spread / 2.0)
    la = (henries, henries) if exact else (0.0, henries)
    la = float(f"{la[0]:.6g}"), float(f"{la[1]:.6g}")
    hertz = rng.choice(["50 Hz", "60 Hz", "50..60 Hz"])
    micro = [(1e6 * c[0], 1e6 * c[1]) for c in (c1, c2)]
    parts = [f"  R1: {{kind: wirewound resistor, resistance: {_range(r, 'ohm')}}}"]
    names = {"bridge": "BR1", "choke": "BR1", "half-wave": "D1", "doubler": "D1 + D2"}[kind]
    if names == "BR1":
        parts.append("  BR1: bridge rectifier 1000 V 4 A")
    else:
        parts += [f"  {name}: line diode 1000 V 4 A" for name in names.split(" + ")]
    capacitor = "{{kind: electrolytic capacitor, capacitance: {}, rated: {{voltage: 450 V}}}}"
    parts.append(f"  C1: {capacitor.format(_range(micro[0], 'uF'))}")
    line = f"R1, {names}, across C1"
    if kind == "doubler":
        parts.append(f"  C2: {capacitor.format(_range(micro[0], 'uF'))}")
        line += " + C2"
    if kind == "choke":
        parts.append(f"  C2: {capacitor.format(_range(micro[1], 'uF'))}")
        milli = (1e3 * lc[0], 1e3 * lc[1])
        parts.append(
            f"  L1: {{kind: choke, inductance: {_range(milli, 'mH')}, resistance: 1.5 ohm, "
            "rated: {saturation_current: 20 A}}"
        )
        line += ", L1, across C2"
    mains = f"{wide[0]:g} V" if wide[0] == wide[1] else f"{wide[0]:g}..{wide[1]:g} V"
    text = "\n".join(
        [
            "derate: 1",
            f"supply: {{name: drawn, efficiency: 1.0, runs_down_to: {0.8 * wide[0]:g} V, "
            f"plate: {{mains: {mains}, frequency: {hertz}, "
            f"outputs: {{main: {{voltage: 10 V, current: {watts / 10:.6g} A}}}}}}}}",
            "site: {ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 20 K (measured), "
            f"mains_resistance: 0.02 ohm, mains_inductance: {_range((1e3 * la[0], 1e3 * la[1]), 'mH')}}}",
            "parts:",
            *parts,
            f"circuit: {{line: [{line}]{', input: doubler' if kind == 'doubler' else ''}}}",
        ]
    )
    drop = 2.0 * DIODE if names == "BR1" else DIODE
    return Drawn(kind, text, r, la, c1, c2, lc, 1.5, watts, drop)


def _cases(ledger: Ledger, subject: Subject, quantity: str) -> list[Case]:
    return [
        row.case
        for row in ledger.rows(subject, quantity)  # type: ignore[arg-type]
        if row.case is not None and row.case.group == RUNNING and row.case.mains is not None
    ]


def points_of(number: int, one: Drawn, ledger: Ledger, rng: random.Random) -> list[Point]:
    """Points at the cases of the line's rows, and one at the highest mains with some load."""
    found = []
    cases = dict.fromkeys(
        (case.mains, case.frequency)
        for quantity in ("current_rms", "voltage_min")
        for case in _cases(ledger, BULK if quantity == "voltage_min" else LINE, quantity)
    )

    def inside(ends: tuple[float, float]) -> float:
        return rng.choice([ends[0], ends[1], rng.uniform(*ends)])

    ranges = (one.ohms, one.henries, one.first, one.second, one.coil)
    exact = all(a == b for a, b in ranges)
    plan = ledger.plan
    hertz = plan.frequency  # type: ignore[union-attr]
    for mains, frequency in cases:
        for _ in range(1 if exact else 3):
            ohms, henries, first, second, coil = (inside(ends) for ends in ranges)
            at = frequency or rng.choice(hertz)
            found.append(Point(number, mains or 0.0, at, ohms, henries, first, second, coil, one.watts, False))
    top = max(mains or 0.0 for mains, _ in [(plan.mains[1], 0)])  # type: ignore[union-attr]
    for share in (1.0, rng.choice([0.25, 0.45, 0.7, rng.uniform(0.2, 1.0)])):
        ohms, henries, first, second, coil = (inside(ends) for ends in ranges)
        found.append(
            Point(number, top, rng.choice(hertz), ohms, henries, first, second, coil, share * one.watts, True)
        )
    return found


def truths(supplies: list[Drawn], points: list[Point], steps: int = 4000, cycles: int = 60) -> dict[int, Truth]:
    """The integrator's figures of every point, by the place of the point: the arrays and the place in them.

    What has not settled by then, with much inductance and little load, is walked five times as long.
    """
    found: dict[int, Truth] = {}
    for kind in KINDS:
        own = [k for k, point in enumerate(points) if supplies[point.supply].kind == kind]
        found |= _walked(kind, [(k, points[k]) for k in own], steps, cycles)
        late = [(k, points[k]) for k in own if not found[k][0].settled[found[k][1]]]
        found |= _walked(kind, late, steps, 5 * cycles)
    return found


def _walked(kind: str, points: list[tuple[int, Point]], steps: int, cycles: int) -> dict[int, Truth]:
    if not points:
        return {}
    column = {
        name: np.array([getattr(point, name) for _, point in points])
        for name in ("mains", "hertz", "ohms", "henries", "first", "second", "coil", "load")
    }
    choke = (column["coil"], np.full(len(points), 1.5), column["second"]) if kind == "choke" else None
    whole = kind in ("half-wave", "doubler")
    many = walk_many(
        kind, column["mains"], column["hertz"], column["ohms"] + WIRING, column["henries"], column["first"],
        column["load"], 2.0 * DIODE if kind in ("bridge", "choke") else DIODE, choke=choke, steps=steps,
        cycles=2 * cycles // 3 if whole else cycles, counted=8 if whole else 12,
    )  # fmt: skip
    return {k: (many, n) for n, (k, _) in enumerate(points)}


def compared(
    supplies: list[Drawn], ledgers: list[Ledger], points: list[Point], found: dict[int, Truth]
) -> Iterable[Compared]:
    """Every figure of every point against the row that speaks of it."""
    for k, point in enumerate(points):
        one, ledger = supplies[point.supply], ledgers[point.supply]
        many, n = found[k]
        if not many.carried[n]:
            continue
        wanted: list[tuple[Subject, str, float]] = []
        if point.greatest:
            names = ["C1", "C2"] if one.kind in ("doubler", "choke") else ["C1"]
            wanted.append((BULK, "voltage_peak", float((many.second_max if one.kind == "choke" else many.bulk_max)[n])))
            wanted += [(part(name), "voltage_peak", float(many.capacitor_max[n])) for name in names[:1]]
        else:
            diodes = 1.0 if one.kind == "half-wave" else 2.0
            last = many.second_min if one.kind == "choke" else many.bulk_min
            wanted = [
                (LINE, "current_rms", float(many.line_rms[n])),
                (LINE, "current_peak", float(many.line_peak[n])),
                (part("C1"), "ripple_current", float(many.capacitor_rms[n])),
                (part("D1" if one.kind in ("half-wave", "doubler") else "BR1"), "current_average",
                 float(many.mean[n]) / diodes),
                (BULK, "voltage_min", float(last[n])),
            ]  # fmt: skip
            if one.kind == "choke":
                wanted += [
                    (part("C2"), "ripple_current", float(many.second_rms[n])),
                    (part("C1"), "voltage_min", float(many.bulk_min[n])),
                    (part("L1"), "current_rms", float(many.choke_rms[n])),
                    (part("L1"), "current_peak", float(many.choke_peak[n])),
                ]
        for subject, quantity, truth in wanted:
            for row in ledger.rows(subject, quantity):  # type: ignore[arg-type]
                case = row.case
                if case is None or case.group != RUNNING or not isinstance(row.value, Value):
                    continue
                if not point.greatest and (case.mains != point.mains or (case.frequency or point.hertz) != point.hertz):
                    continue
                if point.greatest and (case.mains != point.mains or case.load == "none"):
                    continue
                low, _, _, high = row.value.numbers()
                name = quantity if subject.kind != "part" else f"{quantity} of {subject.names[0]}"
                # the greatest at any load has no lower end at one of them
                below = -1.0 if point.greatest else low / truth - 1.0
                yield Compared(point.supply, f"{one.kind} {name}", truth / high - 1.0, below, truth)


def closings(supplies: list[Drawn], points: list[Point], rng: random.Random) -> list[Closed]:
    """What the worst of many closing angles drives into the empty bulk of each supply with one capacitor.

    Two silicon diodes or one: anything from 0.7 to 1 V each, and 20 to 100 milliohm.
    """
    found = []
    for point in points:
        half = supplies[point.supply].kind == "half-wave"
        each = 1.0 if half else 2.0
        drop, more = each * rng.uniform(0.7, 1.0), each * rng.uniform(0.02, 0.1)
        columns = [
            np.full(len(ANGLES), one)
            for one in (point.mains, point.hertz, point.ohms + WIRING + more, point.henries, point.first)
        ]
        found.append(close_many(half, *columns, drop, np.array(ANGLES)))
    return found


def compared_at_switch_on(
    supplies: list[Drawn], ledgers: list[Ledger], points: list[Point], found: list[Closed]
) -> Iterable[Compared]:
    """Peak, I²t and bulk voltage of each closing against the rows that speak of them."""
    for point, closed in zip(points, found, strict=True):
        one, ledger = supplies[point.supply], ledgers[point.supply]
        wanted = ((LINE, "current_peak", closed.peak), (LINE, "i2t", closed.i2t), (BULK, "voltage_surge", closed.bulk))
        for subject, quantity, truth in wanted:
            for row in ledger.rows(subject, quantity):  # type: ignore[arg-type]
                case = row.case
                if case is None or case.group != SWITCH_ON or not isinstance(row.value, Value):
                    continue
                if case.mains != point.mains or (case.frequency or point.hertz) != point.hertz:
                    continue
                low, _, _, high = row.value.numbers()
                worst = float(truth.max())
                yield Compared(point.supply, f"{one.kind} {quantity}", worst / high - 1.0, low / worst - 1.0, worst)


def switch_on_points(number: int, one: Drawn, ledger: Ledger, rng: random.Random) -> list[Point]:
    """A sample of the supply at each case of its switch-on."""
    cases = dict.fromkeys(
        (row.case.mains, row.case.frequency)
        for row in ledger.rows(LINE, "i2t")
        if row.case is not None and row.case.group == SWITCH_ON and row.case.mains is not None
    )
    inside = [rng.uniform(*ends) for ends in (one.ohms, one.henries, one.first, one.second, one.coil)]
    return [Point(number, mains or 0.0, hertz or 50.0, *inside, 0.0, False) for mains, hertz in cases]
