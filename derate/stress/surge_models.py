"""The formulas of a line-to-neutral surge as the ledger runs them: behind a varistor, ahead of it, onto the bulk."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from derate.circuit.pulse import log_log
from derate.circuit.surge import ERROR, SCALE, TAIL, line_surge
from derate.ledger.model import Model
from derate.terms.values import Value

SOURCE_RESISTANCE = 2.0  # [ohm] of the combination-wave generator between line and neutral, IEC 61000-4-5


@lru_cache(maxsize=4096)
def _run(clamp: float, **k: float) -> Any:
    crest = 2**0.5 * k.pop("mains")
    return line_surge(mains=crest, start=crest, clamp=clamp or None, **k)


def _behind(*, clamp: float = 0.0, ahead: float = 0.0, **k: float) -> dict[str, float]:
    found = _run(clamp, ahead=ahead, **k)
    return {
        "current_peak": found.peak, "i2t": found.i2t,
        "varistor_peak": found.varistor_peak, "varistor_energy": found.varistor_energy,
        "pulse_width": found.i2t / found.peak**2 if found.peak > 0.0 else 0.0,
    }  # fmt: skip


_ALL = {"level": 1, "mains": 1, "series_resistance": -1, "clamp": 1, "ahead": -1}
BEHIND = Model(
    "surge between line and neutral",
    _behind,
    {
        "current_peak": _ALL | {"capacitance": 1, "mains": 0},
        "i2t": _ALL | {"capacitance": 1, "mains": 0},
        "pulse_width": {"series_resistance": 0, "capacitance": 1},
        "varistor_peak": {"level": 1, "mains": 1, "clamp": -1, "ahead": -1, "series_resistance": 1, "capacitance": -1},
        "varistor_energy": {"level": 1, "mains": 1, "clamp": 0, "ahead": -1, "series_resistance": 1, "capacitance": -1},
    },
    "combination wave of IEC 61000-4-5 behind 2 ohm on the crest of the mains; own derivation, held to ngspice",
    "1.2/50 us wave through the series resistance into the charged bulk",
    {
        "current_peak": ERROR["peak"], "i2t": ERROR["i2t"],
        "varistor_peak": ERROR["varistor_peak"], "varistor_energy": ERROR["varistor_energy"],
    },
)  # fmt: skip


# Most that any inductance in the path adds to the rise of the bulk, by R C over the tail of the wave: the envelope over
# 10 uH to 3 mH, 2 to 20 ohm and 1 to 100 uF, stepped through, and 7 % on it (tests/stress/test_events_surge.py).
RINGS = ((0.03, 0.6), (0.1, 0.43), (0.3, 0.265), (1.0, 0.135), (3.0, 0.066), (10.0, 0.03), (30.0, 0.012))


def ring_share(resistance: float, capacitance: float) -> float:
    """Greatest share by which inductance in the path raises what a surge adds to the bulk voltage.

    resistance: source and path together [ohm]; capacitance: bulk [F]
    """
    x = resistance * capacitance / TAIL
    return log_log(RINGS, min(max(x, RINGS[0][0]), RINGS[-1][0])) if x >= RINGS[0][0] else 1.0


def _over(*, clamp: float = 0.0, ahead: float = 0.0, wave: float, ring: float, **k: float) -> dict[str, float]:
    """wave: how much of the ideal wave a generator keeps up; the bulk never ends below the crest it held before.

    ring: 0 no inductance in the path, 1 the worst there may be
    """
    crest = 2**0.5 * k["mains"]
    rise = max(0.0, wave * _run(clamp, ahead=ahead, **k).bulk_peak - crest)
    if ring > 0.0:
        free = max(0.0, wave * _run(0.0, ahead=ahead, **k).bulk_peak - crest) if clamp else rise
        most = (1.0 + ring_share(SOURCE_RESISTANCE + ahead + k["series_resistance"], k["capacitance"])) * free
        if clamp:  # a flat-topped drive can be doubled by a ring, and no more than that
            most = min(most, 2.0 * max(0.0, clamp - crest))
        rise = max(rise, ring * most)
    return {"voltage": crest + rise}


KEEPS_UP = Value.between(1.0 + ERROR["bulk_peak"][0], 1.0 + ERROR["bulk_peak"][1])
OVER = Model(
    "bulk voltage in a surge", _over, {"voltage": _ALL | {"capacitance": -1, "wave": 1, "ring": 1}}, BEHIND.source,
    BEHIND.words,
)


def _ahead(*, level: float, mains: float, clamp: float, ahead: float) -> dict[str, float]:
    """Upper bound of what passes a part ahead of the varistor: the whole wave into source and path."""
    current = max(0.0, level * SCALE + 2**0.5 * mains - clamp) / (SOURCE_RESISTANCE + ahead)
    return {"current_peak": current, "i2t": (level * SCALE / (SOURCE_RESISTANCE + ahead)) ** 2 * TAIL / 2.0,
            "pulse_width": TAIL / 2.0}


AHEAD = Model(
    "surge through what stands ahead of the varistor",
    _ahead,
    {
        "current_peak": {"level": 1, "mains": 1, "clamp": -1, "ahead": -1},
        "i2t": {"level": 1, "ahead": -1},
        "pulse_width": {},
    },
    "an upper bound: the varistor holds at least the crest, so no more than the wave itself drives the current",
    "wave over source and path; I²t of its exponential tail",
    {"current_peak": (-0.1, 0.0), "i2t": (-0.75, 0.0)},
)
SECOND = Model(
    "overshoot of the second bulk capacitor in a surge",
    lambda start, first, bulk1, bulk2, share: {
        "voltage": start + share * (first - start) * max(1.0, 2.0 * bulk1 / (bulk1 + bulk2))
    },
    {"voltage": {"start": -1, "first": 1, "bulk1": 1, "bulk2": -1, "share": 1}},
    "an upper bound: lossless transfer of the first capacitor's charge through the choke",
    "crest + (first − crest) × 2 C1 / (C1 + C2)",
)
