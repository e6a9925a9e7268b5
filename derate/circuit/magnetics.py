"""Flux, gap, wire and windings of a flyback transformer or a choke.

Contents: `flux_density`, `gap_length`, `gap_of_core`, `gapped_inductance`, `fringing_factor`,
`current_density`, `strand_area`, `turns_ratio`.

Sources: AN-4137 (2004) eq 13 and 17; AN1272 (1996) for the gap by path length; fringing:
Transformer and Inductor Design Handbook, from memory.
"""

from __future__ import annotations

import math

from derate.circuit.numerics import Band, in_range
from derate.terms.values import Formula, giving

MU0 = 4e-7 * math.pi  # permeability of vacuum [H/m]

# true / computed - 1. The current density takes no skin or proximity effect into account: it is one of heating only at
# direct current. Gap: the leg that has it is up to 19 % thinner than the core's effective area (EFD 15/8/5, data sheet
# B66413 of 2001: 12.2 of 15 mm²), and with the effective one both figures read high; with a share of fringing from 0
# to 1 the rest lies between. Held to the sheet of that core from 0.08 to 1 mm, where fringing is 1.6 times at most.
ERROR: dict[str, Band] = {
    "flux_density": (-0.001, 0.001),
    "gap_length": (-0.2, 0.02),
    "gapped_inductance": (-0.2, 0.02),
    "current_density": (-0.001, 0.001),
}

SIGNS: dict[str, dict[str, int]] = {
    "flux_density": {"inductance": 1, "current": 1, "turns": -1, "area": -1},
    "gap_length": {"inductance": -1, "turns": 1, "area": 1},
    "gap_of_core": {"inductance": -1, "turns": 1, "area": 1, "path": 0, "permeability": 1, "fringing": 1},
    "gapped_inductance": {"gap": -1, "turns": 1, "area": 1, "path": 0, "permeability": 1, "fringing": 1},
    "fringing_factor": {"area": -1, "window": 1},
    "current_density": {"rms": 1, "diameter": -1, "strands": -1},
}


def flux_density(inductance: float, current: float, turns: float, area: float) -> float:
    """Peak flux density [T] = L I / (N Ae).

    inductance: at its upper end [H]; current: the peak at the current limit with its delay, not the running peak [A]
    turns [-]; area: effective core area [m2], the least section for saturation.  Source: AN-4137 (2004) eq 13.

    >>> round(flux_density(671e-6, 2.5, 45, 109.4e-6), 3)
    0.341
    """
    _positive(inductance=inductance, current=current, turns=turns, area=area)
    return inductance * current / (turns * area)


def gap_length(inductance: float, turns: float, area: float, ungapped: float) -> float:
    """Total gap [m] = mu0 Ae (N^2 / L - 1 / AL), AN-4137 eq 17; a shim in both legs is half of it.

    ungapped AL: inductance of one turn on the core without gap [H]; inductance below N^2 AL.
    Fringing is left out: the real gap is longer (`fringing_factor`).

    >>> round(1e3 * gap_length(671e-6, 44.78, 109.4e-6, 2.13e-6), 4)
    0.3463
    """
    _positive(inductance=inductance, turns=turns, area=area, ungapped=ungapped)
    in_range("inductance", inductance, 0.0, turns**2 * ungapped, "H", open_low=True)
    return MU0 * area * (turns**2 / inductance - 1 / ungapped)


def gap_of_core(
    inductance: float, turns: float, area: float, path: float, permeability: float, fringing: float = 0.0
) -> float:
    """Total gap [m] with which this core has an inductance: `gapped_inductance` turned round.

    inductance [H]; others as there. Refused where the core without a gap has less, and where the gap would be longer
    than half the leg is wide: no formula of fringing holds there.

    >>> round(1e3 * gap_of_core(202e-6, 24, 84.3e-6, 77.4e-3, 1500), 2)
    0.25
    """
    _positive(path=path, permeability=permeability)
    in_range("fringing", fringing, 0.0, 1.0, "")
    plain = gap = gap_length(inductance, turns, area, MU0 * permeability * area / path)
    core = path / permeability
    for _ in range(200):
        in_range("gap that the inductance needs", gap, 0.0, math.sqrt(area) / 2, "m")
        before, gap = gap, (plain + core) * _fringed(gap, area, path, fringing) - core
        if abs(gap - before) <= 1e-12:
            return gap
    raise ValueError("the gap that the inductance needs does not settle: state the gap as measured")


def _fringed(gap: float, area: float, path: float, share: float) -> float:
    """Inductance over that without fringing, for a share of it; the winding is at most half the path long."""
    return 1 + share * (fringing_factor(gap, area, path / 2) - 1) if gap > 0 and share > 0 else 1.0


def gapped_inductance(
    gap: float, turns: float, area: float, path: float, permeability: float, fringing: float = 0.0
) -> float:
    """Inductance with a gap [H] = mu0 N^2 Ae / (lg + le / mu_r), and more by the fringing of its field.

    gap, path: magnetic path length of the core [m]; turns [-]; area [m2]; permeability: effective, relative [-]
    fringing: share of it that is counted, 0 none, 1 as in `fringing_factor` of a winding half the path long [-]
    Source: AN1272 (1996) p4.

    >>> round(1e6 * gapped_inductance(0.25e-3, 24, 84.3e-6, 77.4e-3, 1500))
    202
    """
    in_range("gap", gap, 0.0, math.inf, "m")
    _positive(turns=turns, area=area, path=path, permeability=permeability)
    in_range("fringing", fringing, 0.0, 1.0, "")
    return MU0 * turns**2 * area / (gap + path / permeability) * _fringed(gap, area, path, fringing)


def fringing_factor(gap: float, area: float, window: float) -> float:
    """Inductance over its value without fringing [-] = 1 + lg / sqrt(Ae) ln(2 G / lg).

    gap [m]; area [m2]; window: length of the winding along the gapped leg [m], longer than the gap.
    Source: Transformer and Inductor Design Handbook, from memory, not re-read.

    >>> round(fringing_factor(0.35e-3, 109.4e-6, 26e-3), 3)
    1.167
    """
    _positive(area=area, window=window)
    in_range("gap", gap, 0.0, window, "m", open_low=True)
    return 1 + gap / math.sqrt(area) * math.log(2 * window / gap)


def strand_area(diameter: float, strands: float = 1) -> float:
    """Copper area [m2] of round strands of bare diameter [m]."""
    _positive(diameter=diameter)
    in_range("strands", strands, 1.0, math.inf, "")
    return 0.25 * math.pi * diameter**2 * strands


def current_density(rms: float, diameter: float, strands: float = 1) -> float:
    """RMS current over copper area [A/m2].  rms [A]; bare diameter [m]; strands [-].

    >>> round(current_density(1.07, 0.5e-3) / 1e6, 2)
    5.45
    """
    in_range("rms", rms, 0.0, math.inf, "A")
    return rms / strand_area(diameter, strands)


def turns_ratio(first: float, second: float) -> float:
    """Ratio of two windings' turns [-]."""
    _positive(first=first, second=second)
    return first / second


def _positive(**values: float) -> None:
    for name, value in values.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)


def ratio_of_turns(*own: str) -> Formula:
    """Primary turns over the turns of windings in series [-]; own: the names of their turns.

    >>> ratio_of_turns("a", "b").solve(primary=90.0, a=5.0, b=4.0)
    {'ratio': 10.0}
    """

    def over(primary: float, **turns: float) -> float:
        return primary / sum(turns.values())

    signs = {"primary": 1, **dict.fromkeys(own, -1)}
    return giving("ratio", over, signs, {"primary": (20.0, 300.0), **dict.fromkeys(own, (1.0, 100.0))})


def _seen_leakage(leakage: float, ratio: float) -> float:
    return leakage / ratio**2


def _flux_at_limit(limit: float, bulk: float, delay: float, inductance: float, turns: float, area: float) -> float:
    return flux_density(inductance, limit + bulk * delay / inductance, turns, area)


def _density(current: float, diameter: float, strands: float) -> float:
    return current_density(current, diameter, strands)


_CORE = {
    "turns": (20.0, 200.0),
    "area": (1e-5, 2e-4),
    "path": (0.02, 0.12),
    "permeability": (1000.0, 3000.0),
    "fringing": (0.0, 1.0),
}
# Primary leakage [H] seen from a secondary, ratio: primary over its turns [-].
SEEN_LEAKAGE = giving(
    "leakage", _seen_leakage, {"leakage": 1, "ratio": -1}, {"leakage": (1e-6, 1e-4), "ratio": (1.0, 50.0)}
)
# Flux density [T] at the current limit and its delay: (L limit + bulk x delay) / (turns x area).
FLUX_AT_LIMIT = giving(
    "flux",
    _flux_at_limit,
    {"limit": 1, "bulk": 1, "delay": 1, "inductance": 1, "turns": -1, "area": -1},
    {
        "limit": (0.1, 3.0),
        "bulk": (50.0, 420.0),
        "delay": (0.0, 1e-6),
        "inductance": (2e-4, 5e-3),
        "turns": (20.0, 200.0),
        "area": (1e-5, 2e-4),
    },
)
DENSITY = giving(
    "density",
    _density,
    {"current": SIGNS["current_density"]["rms"], "diameter": -1, "strands": -1},
    {"current": (0.0, 5.0), "diameter": (5e-5, 2e-3), "strands": (1.0, 50.0)},
)
GAPPED = giving(
    "inductance",
    gapped_inductance,
    SIGNS["gapped_inductance"],
    {"gap": (5e-5, 1e-3), **_CORE},
    ERROR["gapped_inductance"],
)
GAP = giving("gap", gap_of_core, SIGNS["gap_of_core"], {"inductance": (2e-4, 5e-3), **_CORE}, ERROR["gap_length"])


def winding_by_resistance(cold: float, hot: float, at: float) -> float:
    """Mean temperature of a copper winding [degC] by its change of resistance: hot/cold × (234.5 + at) − 234.5.

    cold: resistance at the temperature `at` [degC] [ohm], all of it at rest; hot: at once after switching off [ohm]
    Range: at −20 to 60 degC. Source: the constant of copper, IEC 60228.

    >>> round(winding_by_resistance(1.20, 1.62, 24.0), 1)
    114.5
    """
    in_range("temperature of the cold winding", at, -20.0, 60.0, "degC")
    in_range("cold resistance", cold, 0.0, math.inf, "ohm", open_low=True)
    in_range("hot resistance", hot, 0.0, math.inf, "ohm", open_low=True)
    return hot / cold * (COPPER_ZERO + at) - COPPER_ZERO


COPPER_ZERO = 234.5  # K: copper would have no resistance this far below 0 degC
BY_RESISTANCE = giving(
    "temperature",
    winding_by_resistance,
    {"cold": -1, "hot": 1, "at": 1},
    {"cold": (0.1, 10.0), "hot": (0.1, 10.0), "at": (-20.0, 60.0)},
)
