"""The names of what stands round the optocoupler of a feedback path, and of what it carries."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.term import Term, terms

# Names of parts and outputs under control: no facts of their own, here for what is said of them when they are missing.
CONTROL_PARTS = terms(
    Term(
        "control.through", None, "what carries the control across the barrier",
        how="trace the feedback to its coupler",
    ),
    Term("control.reference", None, "part that compares the output", how="trace the cathode of the coupler's LED"),
    Term(
        "control.coupler_resistor", None, "resistor in series with the LED of the coupler",
        how="trace from the output to the LED and on to the reference",
    ),
    Term(
        "control.bias_resistor", None, "resistor across the LED of the coupler",
        how="look for a resistor across the LED, or from the output to the reference; write none when there is none",
    ),
    Term(
        "control.coupler_supply", None, "output that feeds the LED of the coupler",
        how="trace the LED's resistor back to its output",
    ),
)  # fmt: skip

COUPLER_STRESS = terms(
    Term(
        "optocoupler.carries", None, "what the optocoupler carries across the barrier", words=("control", "other"),
        how="say under control what it senses and through which part",
    ),
    Term("led_current", d.CURRENT, "greatest current of the LED, the reference fully on"),
    Term("led_current_needed", d.CURRENT, "LED current needed at the end of life", bad=1),
    Term("transfer_ratio", d.NUMBER, "current transfer ratio, new", bad=-1),
    Term("transfer_ratio_aged", d.NUMBER, "current transfer ratio at the end of life and at temperature", bad=-1),
    Term("coupled_current", d.CURRENT, "current the optocoupler draws from the controller at the end of life", bad=-1),
    Term("coupled_current_needed", d.CURRENT, "current that stops the controller", bad=1),
)  # fmt: skip
