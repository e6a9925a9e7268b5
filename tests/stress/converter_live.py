"""Random flyback stages held to ngspice as a user sees them: a design text, the rows of its ledger, the circuit itself.

Each stage is drawn, run in ngspice at the lowest and at the highest mains, and written as a design whose current and
efficiency are those of the run, so that the power carried is the true one. Nothing of the formulas enters but the
starting values (current at which the switch opens, charge of the clamp): they only shorten the way to a steady state.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from converter_spice import Measured, Stage, measured
from flyback_stage import ClampParts, Transformer, stage_at_boundary, stage_at_load
from random_flybacks import worked_out

from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Ledger
from derate.terms.values import Value

STATED_DROP = 0.5  # of the rectifier, as the design states it [V]; the circuit has a fifth less to a fifth more
SENSE = 0.6  # what the sense resistor drops at the peak, for the sake of its power [V]


@dataclass(frozen=True)
class Drawn:
    """One random stage before it is run [SI]."""

    stage: Stage
    power: float
    mains: tuple[float, float]
    turns: tuple[int, int]
    at: float  # where in the reported range of the bulk voltage the circuit is run, 0 to 1


def drawn(rng: random.Random) -> Drawn:
    """A stage of 2 to 60 W: fixed frequency or boundary, leakage 0.5 to 6 %, its ring damped or not."""
    mains = rng.choice([(100.0, 240.0), (220.0, 240.0), (100.0, 120.0), (220.0, 277.0)])
    boundary = rng.random() < 0.35
    output = rng.choice([3.3, 5.0, 9.0, 12.0, 15.0, 24.0])
    power = rng.uniform(2.0, 60.0) if rng.random() < 0.6 else rng.uniform(2.0, 15.0)
    drop = STATED_DROP * rng.choice([0.81, 0.9, 1.0, 1.1, 1.19])
    primary = rng.randint(60, 140)
    own = max(2, round((output + STATED_DROP) / rng.uniform(60.0, 130.0) * primary))
    ratio = primary / own
    reflected = ratio * (output + drop)
    frequency = rng.uniform(45e3, 130e3)
    bulk = 0.97 * 2**0.5 * 0.9 * mains[0]
    duty = reflected / (reflected + bulk)
    mean = 1.1 * power / bulk / duty
    # ripple of the current over its mean: from well into continuous to well into discontinuous; 2 is the boundary
    inductance = bulk * duty / ((2.0 if boundary else rng.uniform(0.6, 4.0)) * mean * frequency)
    leakage = rng.uniform(0.005, 0.06) * inductance
    drain = rng.uniform(15e-12, 120e-12)
    peak = 2.0 * mean
    rise = reflected * rng.uniform(0.35, 1.4)
    resistance = 2.0 * rise * (reflected + rise) / (leakage * peak**2 * frequency)
    capacitance = rng.uniform(8.0, 30.0) / (resistance * frequency)
    damping = rng.choice([0.0, 4.0, 10.0]) * (leakage / drain) ** 0.5  # a tank of that quality
    current = power / output
    largest = rng.uniform(0.005, 0.06) * output  # each part of the ripple, of the output voltage
    series = largest / (ratio * peak) * rng.choice([0.1, 1.0])
    storage = current / (frequency * largest) * rng.choice([1.0, 0.2])
    stage = Stage(
        bulk, output, drop, ratio, inductance - leakage, leakage, frequency, drain, resistance, capacitance, peak,
        duty, damping, boundary, storage, series,
    )  # fmt: skip
    return Drawn(stage, power, mains, (primary, own), rng.choice([0.0, 1.0, rng.random()]))


def started(drawn_stage: Drawn, bulk: float, power: float) -> tuple[Stage, float]:
    """The stage with switch current and frequency near those that carry the power, and the charge of its clamp."""
    one = drawn_stage.stage
    delivered = power * (1.0 + one.drop / one.output)
    parts = Transformer(one.magnetising, one.leakage, one.ratio * (one.output + one.drop), one.ratio, one.drain)
    clamp = ClampParts(one.resistance, one.capacitance)
    if one.boundary:
        found = stage_at_boundary(bulk, delivered, parts, clamp)
    else:
        found = stage_at_load(bulk, delivered, one.frequency, parts, clamp)
    primary = found.primary
    near = replace(one, bulk=bulk, peak=primary.peak, frequency=primary.frequency, duty=primary.duty)
    return near, found.clamp.voltage


@dataclass(frozen=True)
class Trial:
    """A stage as run at both ends of the mains, and the ledger of its design."""

    drawn: Drawn
    low: Measured
    high: Measured
    text: str
    ledger: Ledger


def text_of(one: Drawn, current: float, efficiency: float) -> str:
    """The design, everything that is in the circuit stated exactly but for drop and efficiency of what is outside."""
    stage, (low, high) = one.stage, one.mains
    inductance, drawn_power = stage.magnetising + stage.leakage, current * stage.output / efficiency
    kind = "boundary" if stage.boundary else "fixed frequency"
    hertz = 1e6 if stage.boundary else stage.frequency  # nothing caps the circuit's own frequency
    series = f"{stage.output_resistance * 1e3:.8g} mohm"
    plate = f"{{voltage: {stage.output:g} V, current: {current:.8g} A}}"
    bulk = 20.0 * drawn_power * (100.0 / low) ** 2
    return f"""\
derate: 1
supply:
  name: drawn
  topology: flyback
  efficiency: {efficiency:.8g}
  plate: {{mains: {low:g}..{high:g} V, frequency: 50..60 Hz, outputs: {{main: {plate}}}}}
site: {{ambient: 25..40 degC, mains_tolerance: 10%, mains_inductance: 0 mH, inside_rise: 20 K (measured)}}
parts:
  R1: {{kind: wirewound resistor, resistance: 0.5 ohm}}
  BR1: bridge rectifier 1000 V 4 A
  C1: electrolytic capacitor {bulk:.5g} uF 450 V
  Q1:
    kind: MOSFET
    output_capacitance: {stage.drain * 1e12:.8g} pF
    rated: {{voltage: 800 V, on_resistance: 2 ohm at 25 degC}}
  U1: {{kind: controller, current_limit: 1 V}}
  R9: film resistor {SENSE / one.stage.peak:.5g} ohm 1 W
  D5: ultrafast diode 1000 V 1 A 75 ns
  R5: metal oxide resistor {stage.resistance:.8g} ohm 2 W
  C4: film capacitor {stage.capacitance * 1e9:.8g} nF 1000 V
  D10: {{kind: Schottky diode, rated: {{reverse_voltage: 200 V, current: 20 A, forward_voltage: {STATED_DROP} V}}}}
  C10:
    kind: electrolytic capacitor
    capacitance: {stage.output_capacitance * 1e6:.8g} uF
    rated: {{voltage: 35 V, series_resistance: {{1 kHz: {series}, 1 MHz: {series}}}}}
circuit:
  line: [R1, BR1, across C1]
  primary: [T1.primary, Q1, R9]
  clamp: {{across: T1.primary, path: D5 + (R5 || C4)}}
  outputs: {{main: [T1.s, D10, across C10]}}
  control: {{type: {kind}, frequency: {hertz / 1e3:.8g} kHz, by: U1, limits: R9, senses: main}}
transformers:
  T1:
    core: {{area: 60 mm²}}
    inductance: {inductance * 1e6:.8g} uH
    leakage: {stage.leakage * 1e6:.8g} uH
    windings: {{primary: {{turns: {one.turns[0]}, bare: 0.3 mm}}, s: {{turns: {one.turns[1]}, bare: 0.5 mm}}}}
"""


BULK = Subject("path", ("bulk",))
PRIMARY = Subject("path", ("primary",))


def row(ledger: Ledger, subject: Subject, quantity: str, group: str = "running") -> Entry:
    """The row of a quantity in a group of cases; of several loads the one at full load."""
    found = [one for one in ledger.rows(subject, quantity) if one.case is not None and one.case.group == group]
    full = [one for one in found if one.case is not None and one.case.load == "full"]
    assert found, (subject, quantity)
    return (full or found)[-1]


def value(ledger: Ledger, subject: Subject, quantity: str) -> Value:
    """Its value, which has to be there."""
    one = row(ledger, subject, quantity)
    assert isinstance(one.value, Value), (subject, quantity, one.note, one.missing)
    return one.value


def trial(one: Drawn, cycles: int = 120) -> Trial:
    """Run at the lowest mains, write the design, run at the highest."""
    current, efficiency = one.power / one.stage.output, 0.85
    bulk = one.stage.bulk
    for _ in range(2):  # the bulk voltage that the design reports for about this load
        ledger = worked_out(text_of(one, current, efficiency))
        least = value(ledger, BULK, "voltage_min")
        bulk = least.near + one.at * (least.far - least.near)
        stage, clamp = started(one, bulk, one.power)
    low = measured(stage, clamp, current, cycles)
    current, efficiency = low.secondary_average, low.secondary_average * one.stage.output / low.drawn
    text = text_of(one, current, efficiency)
    ledger = worked_out(text)
    least = value(ledger, BULK, "voltage_min")
    assert 0.998 * least.near <= bulk <= 1.002 * least.far, (least, bulk)
    most = value(ledger, BULK, "voltage_peak")
    wanted = current * one.stage.output
    power = wanted
    for _ in range(4):
        stage, clamp = started(one, most.near + one.at * (most.far - most.near), power)
        high = measured(stage, clamp, current, cycles)
        off = high.secondary_average / current
        if 0.995 <= off <= 1.001:
            break
        power *= 0.9985 / off
    return Trial(one, low, high, text, ledger)


def part(name: str) -> Subject:
    return Subject("part", (name,))


def winding(name: str) -> Subject:
    return Subject("winding", (name,))


OUTPUT = Subject("output", ("main",))


def compared(one: Trial) -> dict[str, tuple[float, Value]]:
    """Truth and reported range of every stress of the stage."""
    low, high, ledger = one.low, one.high, one.ledger
    drop = one.drawn.stage.drop
    sense = float(f"{SENSE / one.drawn.stage.peak:.5g}")
    truth = {
        "primary current_rms": (low.switch_rms, PRIMARY, "current_rms"),
        "switch current_rms": (low.switch_rms, part("Q1"), "current_rms"),
        "switch current_peak": (low.switch_peak_current, part("Q1"), "current_peak"),
        "switch current_average": (low.switch_average, part("Q1"), "current_average"),
        "winding current_rms": (low.winding_rms, winding("T1.primary"), "current_rms"),
        "winding current_peak": (low.winding_peak, winding("T1.primary"), "current_peak"),
        "sense power": (sense * low.switch_rms**2, part("R9"), "power"),
        "secondary current_rms": (low.secondary_rms, winding("T1.s"), "current_rms"),
        "secondary current_peak": (low.secondary_peak, winding("T1.s"), "current_peak"),
        "rectifier current_rms": (low.secondary_rms, part("D10"), "current_rms"),
        "rectifier power": (drop * low.secondary_average, part("D10"), "power"),
        "output capacitor ripple_current": (low.capacitor_rms, part("C10"), "ripple_current"),
        "output ripple": (low.ripple, OUTPUT, "ripple"),
        "clamp resistor power": (low.clamp_power, part("R5"), "power"),
        "clamp diode current_peak": (low.clamp_diode_peak, part("D5"), "current_peak"),
        "clamp diode current_average": (low.clamp_diode_average, part("D5"), "current_average"),
        "switch voltage_peak": (high.switch_peak, part("Q1"), "voltage_peak"),
        "clamp capacitor voltage_peak": (high.clamp_peak, part("C4"), "voltage_peak"),
        "bulk ripple_switching": ((low.switch_rms**2 - low.switch_average**2) ** 0.5, BULK, "ripple_switching"),
    }
    return {name: (true, value(ledger, subject, quantity)) for name, (true, subject, quantity) in truth.items()}
