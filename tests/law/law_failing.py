"""The sound design made to fail by one reading or by one test: each entry, and what of it is the statement itself."""

from __future__ import annotations

from law_bench import Bench

SOUND = Bench.of("sound")
FULL = "at: {mains: 230 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 60 min}"
OVERLOAD = "at: {mains: 230 V, frequency: 50 Hz, load: overload, ambient: 24 degC, after: 240 min}"
# Each fails the sound design by itself. The key that is the figure or the outcome is named, and is not taken out.
READINGS = {
    "a drain": (f"{{{FULL}, known_by: measured, voltage_peak: {{Q1: 750 V}}}}", "voltage_peak"),
    "a drain in overload": (f"{{{OVERLOAD}, voltage_peak: {{Q1: 750 V}}}}", "voltage_peak"),
    "a diode under another name": (f"{{{FULL}, voltage_peak: {{D7: 130 V}}}}", "voltage_peak"),
    "the bulk": (f"{{{FULL}, voltage: {{C1: 430 V}}}}", "voltage"),
    "a resistor": (f"{{{FULL}, case_temperature: {{RF1: 260 degC}}}}", "case_temperature"),
    "a winding": (f"{{{OVERLOAD}, winding_temperature: {{T1: 230 degC}}}}", "winding_temperature"),
    "the case": (f"{{{FULL}, case_temperature: {{enclosure: 110 degC}}}}", "case_temperature"),
    "the case in overload": (f"{{{OVERLOAD}, case_temperature: {{enclosure: 100 degC}}}}", "case_temperature"),
    "an output": (f"{{{FULL}, voltage: {{main: 28 V}}}}", "voltage"),
    "the mains current": (f"{{{FULL}, mains_current: 3 A}}", "mains_current"),
    "ripple current": (f"{{{FULL}, ripple_current: {{C1: 190 A}}}}", "ripple_current"),
    "a touch current": (f"{{{FULL}, touch_current: 12 mA}}", "touch_current"),
}
TESTS = {
    "a breakdown": "{test: electric strength, between: [primary, secondary], voltage: 1 kVac, result: arced}",
    "a short that burnt": "{test: fault, fault: C1 shorted, mains: 264 V, result: flames}",
    "insulation": "{test: insulation resistance, between: [primary, secondary], voltage: 500 Vdc, result: 12 kohm}",
    "a discharge": "{test: discharge, mains: 264 V, time: 2 s, result: 200 V}",
    "an earth": "{test: earth continuity, current: 25 A, time: 60 s, result: 3 ohm}",
    "a touch current": "{test: touch current, from: main, mains: 264 V, result: 12 mA}",
    "an overload": "{test: overload, output: main, mains: 230 V, shuts_down_at: 1.66 A, result: caught fire}",
}


def with_entry(readings: str = "", tests: str = "") -> str:
    """The sound design with one more reading or one more test."""
    text = SOUND.text
    if readings:
        text = text.replace("tests:     ", f"  - {readings}\ntests:     ", 1)
    if tests:
        text = text.replace("tests:     ", f"tests:\n  - {tests}\n#", 1)
    return text


def failing() -> tuple[Bench, ...]:
    """Every one of them as a design of its own."""
    texts = {name: with_entry(readings=entry) for name, (entry, _) in READINGS.items()}
    texts |= {f"{name}, tested": with_entry(tests=entry) for name, entry in TESTS.items()}
    return tuple(Bench(f"sound, failing by {name}", SOUND.path, text) for name, text in texts.items())
