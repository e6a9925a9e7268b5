"""Random small supplies as design texts, for the acceptance tests. Figures are drawn, not taken from any product."""

from __future__ import annotations

import random
from dataclasses import dataclass

from derate.design.facts import facts
from derate.design.load import Design, read_design
from derate.ledger.ledger import Ledger
from derate.run import run
from derate.terms.values import Value


@dataclass(frozen=True)
class Given:
    """An assumption for tests."""

    value: Value
    rests: bool = False
    source: str = "test"
    says: str = "test"

    @property
    def bounded(self) -> Value:
        """The range itself."""
        return self.value


ASSUMED = {
    "mains_tolerance": Given(Value.exact(0.1)),
    "inside_rise": Given(Value.between(10, 40), True),
    "efficiency": Given(Value.between(0.7, 0.88), True),
    "small_series_resistance": Given(Value.between(0.0, 0.5)),
    "mains_resistance": Given(Value.between(0.02, 1.0)),
    "mains_inductance": Given(Value.exact(0.0)),  # the brute-force corners it is held to have none
    "thermistor_b_constant": Given(Value.between(2500, 3500), True),
}


@dataclass(frozen=True)
class Supply:
    """One random supply with the figures its text was made from."""

    text: str
    power: float
    resistance: float
    capacitance: float
    second: float
    inductance: float
    half_wave: bool
    low: float
    high: float


def random_supply(rng: random.Random, kind: str) -> Supply:
    """A supply of a kind: 'bridge', 'half-wave' or 'choke'. The bulk is sized to carry the load at the lowest mains."""
    half = kind == "half-wave"
    low, high = rng.choice([(100.0, 240.0), (220.0, 240.0), (100.0, 120.0)])
    power = rng.uniform(1.0, 4.0 if half else 60.0 if kind == "bridge" else 25.0)
    per_watt = rng.uniform(1.0, 4.0) * (100.0 / low) ** 2 * (2.0 if half else 1.0)
    bulk = max(1.0, power * per_watt)
    resistance = rng.uniform(0.5, min(22.0, 0.03 * (0.9 * low) ** 2 / power))
    split = rng.uniform(0.35, 0.65)
    inductance = rng.choice([220.0, 470.0, 1000.0, 2200.0])
    first, second = (bulk * split, bulk * (1.0 - split)) if kind == "choke" else (bulk, 0.0)
    parts = [f"  R1: {{kind: wirewound resistor, resistance: {resistance:.4g} ohm 5%}}"]
    if half:
        parts.append("  D1: line diode 1000 V 1 A")
        line = "[R1, D1, across C1]"
    else:
        parts.append("  BR1: bridge rectifier 1000 V 4 A")
        line = "[R1, BR1, across C1]" if kind == "bridge" else "[R1, BR1, across C1, L1, across C2]"
    parts.append(f"  C1: electrolytic capacitor {first:.5g} uF 20% 400 V")
    if kind == "choke":
        parts.append(f"  C2: electrolytic capacitor {second:.5g} uF 20% 400 V")
        parts.append(
            f"  L1: {{kind: choke, inductance: {inductance:.4g} uH 10%, resistance: 1.5 ohm 5%, "
            "rated: {saturation_current: 0.5 A}}"
        )
    text = "\n".join(
        [
            "derate: 1",
            f"supply: {{name: drawn, efficiency: 1.0, runs_down_to: {0.8 * low:.4g} V, "
            f"plate: {{mains: {low:g}..{high:g} V, frequency: 50..60 Hz, "
            f"outputs: {{main: {{voltage: 10 V, current: {power / 10:.6g} A}}}}}}}}",
            "site: {ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 20 K (measured)}",
            "parts:",
            *parts,
            f"circuit: {{line: {line}}}",
        ]
    )
    return Supply(
        text, float(f"{power / 10:.6g}") * 10, float(f"{resistance:.4g}"), float(f"{first:.5g}") * 1e-6,
        float(f"{second:.5g}") * 1e-6, inductance * 1e-6, half, 0.9 * low, 1.1 * high,
    )  # fmt: skip


def worked_out(text: str) -> tuple[Design, Ledger]:
    """A design text read and run."""
    design = read_design(text, "drawn.derate.yaml")
    return design, run(design.structure, facts(design), ASSUMED, design.readings)
