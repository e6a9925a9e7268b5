"""Random flyback supplies as design texts, for the acceptance tests. Figures are drawn, not taken from any product."""

from __future__ import annotations

import random
from dataclasses import dataclass

from flyback_stage import ClampParts, Transformer, stage_at_load
from random_supplies import ASSUMED, Given

from derate.design.facts import facts
from derate.design.load import read_design
from derate.ledger.ledger import Ledger
from derate.run import run
from derate.terms.values import Value

CONVERTER = {
    "limit_delay": Given(Value.between(1e-7, 3.5e-7), True),
    "on_resistance_ratio": Given(Value.between(1.8, 2.8), True),
    "switching_edge": Given(Value.between(20e-9, 150e-9), True),
    "core_saturation": Given(Value.between(0.28, 0.38), True),
    "mains_inductance": Given(Value.between(0.0, 0.8e-3), True),
    "schottky_drop": Given(Value.between(0.3, 0.85), True),
    "rectifier_drop": Given(Value.between(0.6, 1.7), True),
    "leakage_share": Given(Value.between(0.01, 0.05), True),
    "drain_capacitance": Given(Value.between(20e-12, 200e-12), True),
    "ripple_factor_slow": Given(Value.between(0.35, 0.8), True),
    "core_path": Given(Value.between(0.02, 0.12), True),
    "core_permeability": Given(Value.between(1500, 3000), True),
    "core_rise": Given(Value.between(3.5, 5.0), True),
    "core_rise_at_85": Given(Value.between(3.5, 10.0), True),
    "bias_share": Given(Value.between(0.2, 1.0), True),
    "ceramic_drift": Given(Value.between(0.75, 1.0), True),
    "cold_capacitance_kept": Given(Value.between(0.92, 1.0), True),
    "cold_resistance_growth": Given(Value.between(1.2, 1.8), True),
    "cold_resistance_growth_solid": Given(Value.between(1.0, 1.1), True),
    "dissipation_factor": Given(Value.between(0.03, 0.15), True),
    "end_of_life_capacitance_change": Given(Value.between(0.2, 0.4), True),
    "end_of_life_resistance_ratio": Given(Value.between(2.0, 3.0), True),
}
DROP = 0.5


@dataclass(frozen=True)
class Flyback:
    """One random flyback: the text of its design and the figures it was made from [SI]."""

    text: str
    outputs: tuple[tuple[float, float, int], ...]  # voltage, full current, turns
    primary: int
    inductance: float
    leakage: float
    reflected: float
    frequency: float
    boundary: bool
    drain: float
    clamp: ClampParts
    capacitance: float
    resistance: float  # of the output capacitor
    bulk: float
    series: float
    drawn: float
    low: float
    high: float

    def transformer(self) -> Transformer:
        """As the stage solver takes it."""
        ratio = self.primary / self.outputs[0][2]
        return Transformer(self.inductance - self.leakage, self.leakage, self.reflected, ratio, self.drain)


def random_flyback(rng: random.Random, boundary: bool = False, count: int = 1) -> Flyback:
    """A flyback of one or two outputs, in the range of 2 to 60 W, the bulk sized to carry it at the lowest mains."""
    low, high = rng.choice([(100.0, 240.0), (220.0, 240.0), (100.0, 120.0)])
    voltages = rng.sample([5.0, 9.0, 12.0, 15.0, 24.0], count)
    power = rng.uniform(3.0, 60.0)
    primary, reflected_wanted = rng.randint(60, 140), rng.uniform(60.0, 130.0)
    per_turn = reflected_wanted / primary
    turns = [max(2, round((v + DROP) / per_turn)) for v in voltages]
    reflected = primary / turns[0] * (voltages[0] + DROP)
    split = [1.0] if count == 1 else [rng.uniform(0.4, 0.7)]
    if count == 2:
        split.append(1.0 - split[0])
        voltages[1] = turns[1] / turns[0] * (voltages[0] + DROP) - DROP  # by turns: nothing else holds the second
    currents = [float(f"{power * s / v:.5g}") for s, v in zip(split, voltages, strict=True)]
    voltages = [float(f"{v:.6g}") for v in voltages]
    frequency = rng.uniform(45e3, 130e3)
    # the ripple of the current from half of the average up to well into discontinuous operation at the lowest mains
    bulk_low = 0.85 * 2**0.5 * 0.9 * low
    duty = reflected / (reflected + bulk_low)
    mean = 1.25 * power / bulk_low / duty
    inductance = bulk_low * duty / (rng.uniform(0.5, 3.0) * mean * frequency)
    leakage = rng.uniform(0.005, 0.025) * inductance
    delivered = sum((v + DROP) * i for v, i in zip(voltages, currents, strict=True))
    peak = 2.5 * mean
    resistance = 1.6 * reflected * 0.6 * reflected * 2 / (leakage * peak**2 * frequency)
    clamp = ClampParts(resistance, 12.0 / (resistance * frequency))
    drain = rng.uniform(20e-12, 120e-12)
    parts = Transformer(inductance - leakage, leakage, reflected, primary / turns[0], drain)
    loss = stage_at_load(bulk_low, delivered, frequency, parts, clamp).clamp.loss
    worth = sum(v * i for v, i in zip(voltages, currents, strict=True))
    efficiency = float(f"{0.93 * worth / (delivered + 1.15 * loss):.4g}")
    drawn = worth / efficiency
    bulk = drawn * rng.uniform(1.5, 4.0) * (100.0 / low) ** 2
    series = rng.uniform(0.5, min(10.0, 0.02 * (0.9 * low) ** 2 / drawn))
    out_c, out_r = rng.uniform(200e-6, 1500e-6), rng.uniform(0.01, 0.1)
    lines = [
        "derate: 1",
        f"supply: {{name: drawn, topology: flyback, efficiency: {efficiency:.6g}, plate: {{mains: {low:g}..{high:g} V, "
        "frequency: 50..60 Hz, outputs: {"
        + ", ".join(
            f"o{k}: {{voltage: {v:.6g} V, current: {i:.6g} A}}"
            for k, (v, i) in enumerate(zip(voltages, currents, strict=True))
        )
        + "}}}",
        "site: {ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 20 K (measured)}",
        "parts:",
        f"  R1: {{kind: wirewound resistor, resistance: {series:.4g} ohm}}",
        "  BR1: bridge rectifier 1000 V 4 A",
        f"  C1: electrolytic capacitor {bulk:.5g} uF 400 V",
        f"  Q1: {{kind: MOSFET, output_capacitance: {drain * 1e12:.5g} pF, rated: {{"
        "voltage: 800 V, on_resistance: 2 ohm at 25 degC}}",
        "  U1: {kind: controller, current_limit: 1 V}",
        f"  R9: film resistor {1.0 / (1.3 * peak):.5g} ohm 1 W",
        "  D5: ultrafast diode 1000 V 1 A 75 ns",
        f"  R5: metal oxide resistor {resistance:.6g} ohm 2 W",
        f"  C4: film capacitor {clamp.capacitance * 1e9:.6g} nF 1000 V",
    ]
    outputs = []
    for k in range(count):
        lines.append(
            f"  D{10 + k}: {{kind: Schottky diode, rated: {{reverse_voltage: 200 V, current: 20 A, "
            f"forward_voltage: {DROP} V}}}}"
        )
        lines.append(
            f"  C{10 + k}: {{kind: electrolytic capacitor, capacitance: {out_c * 1e6:.5g} uF, rated: {{voltage: 35 V, "
            f"series_resistance: {{1 kHz: {out_r * 1e3:.5g} mohm, 200 kHz: {out_r * 1e3:.5g} mohm}}}}}}"
        )
        outputs.append(f"o{k}: [T1.s{k}, D{10 + k}, across C{10 + k}]")
    kind = "boundary" if boundary else "fixed frequency"
    lines += [
        "circuit:",
        "  line: [R1, BR1, across C1]",
        "  primary: [T1.primary, Q1, R9]",
        "  clamp: {across: T1.primary, path: D5 + (R5 || C4)}",
        f"  outputs: {{{', '.join(outputs)}}}",
        f"  control: {{type: {kind}, frequency: {frequency / 1e3:.6g} kHz, by: U1, limits: R9, senses: o0}}",
        "transformers:",
        "  T1:",
        "    core: {area: 60 mm²}",
        f"    inductance: {inductance * 1e6:.6g} uH",
        f"    leakage: {leakage * 1e6:.6g} uH",
        "    windings: {primary: {turns: "
        + f"{primary}, bare: 0.3 mm}}, "
        + ", ".join(f"s{k}: {{turns: {t}, bare: 0.5 mm}}" for k, t in enumerate(turns))
        + "}",
    ]
    return Flyback(
        "\n".join(lines), tuple(zip(voltages, currents, turns, strict=True)), primary,
        float(f"{inductance * 1e6:.6g}") * 1e-6,
        float(f"{leakage * 1e6:.6g}") * 1e-6, primary / turns[0] * (voltages[0] + DROP),
        float(f"{frequency / 1e3:.6g}") * 1e3,
        boundary, float(f"{drain * 1e12:.5g}") * 1e-12,
        ClampParts(float(f"{resistance:.6g}"), float(f"{clamp.capacitance * 1e9:.6g}") * 1e-9),
        float(f"{out_c * 1e6:.5g}") * 1e-6, float(f"{out_r * 1e3:.5g}") * 1e-3, float(f"{bulk:.5g}") * 1e-6,
        float(f"{series:.4g}"), drawn, 0.9 * low, 1.1 * high,
    )  # fmt: skip


def worked_out(text: str) -> Ledger:
    """A design text read and run with the assumptions of the converter."""
    design = read_design(text, "drawn.derate.yaml")
    return run(design.structure, facts(design), {**ASSUMED, **CONVERTER}, design.readings)
