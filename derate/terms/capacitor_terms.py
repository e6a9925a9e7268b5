"""The names of what becomes of a capacitor: cold, biased, worn, and how long it lasts."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.term import Term, terms

_SHEET = "read it from the part's data sheet"

RATED_CAPACITORS = terms(
    Term(
        "rated.capacitance", d.CAPACITANCE, "capacitance left at a direct voltage", over=d.VOLTAGE, bad=-1, how=_SHEET,
    ),
    Term(
        "rated.dissipation_factor", d.NUMBER, "dissipation factor at 100 or 120 Hz", over=d.FREQUENCY, bad=1,
        how=_SHEET,
    ),
    Term(
        "rated.impedance_ratio", d.NUMBER, "impedance when cold over that at 20 degC, at 100 or 120 Hz, by temperature",
        over=d.CELSIUS, bad=1, how=_SHEET,
    ),
    Term(
        "rated.cold_impedance", d.RESISTANCE, "impedance at the switching frequency by cold temperature",
        over=d.CELSIUS, bad=1, how=_SHEET,
    ),
    Term(
        "rated.end_of_life_capacitance_change", d.NUMBER, "loss of capacitance that counts as the end of its life",
        bad=1, how=_SHEET,
    ),
    Term(
        "rated.end_of_life_resistance_ratio", d.NUMBER,
        "series resistance or dissipation factor over its first limit that counts as the end of its life", bad=1,
        how=_SHEET,
    ),
    Term("rated.core_rise", d.KELVIN, "core temperature rise at the rated ripple current", how=_SHEET),
    Term("rated.voltage_exponent", d.NUMBER, "exponent of the voltage term of its life", bad=-1, how=_SHEET),
)  # fmt: skip

STRESS_CAPACITORS = terms(
    Term("life", d.TIME, "life expected", bad=-1),
    Term("core_temperature", d.CELSIUS, "temperature in the middle of a capacitor", bad=1),
    Term("core_rise", d.KELVIN, "core temperature rise at the rated ripple current"),
    Term("equivalent_temperature", d.CELSIUS, "steady ambient that gives the same life", bad=1),
    Term("voltage_ratio", d.NUMBER, "greatest voltage across a capacitor over its rated voltage", bad=1),
    Term("capacitance", d.CAPACITANCE, "capacitance as it is cold, biased or worn", bad=-1),
    Term("dissipation", d.NUMBER, "dissipation factor at twice the mains frequency", bad=1),
    Term("first_resistance", d.RESISTANCE, "series resistance that its end of life is reckoned from", bad=1),
    Term("cold_resistance_growth", d.NUMBER, "growth of the series resistance for each 10 K below 20 degC", bad=1),
    Term("cold_capacitance_kept", d.NUMBER, "capacitance kept for each 10 K below 20 degC", bad=-1),
    Term("cold_share", d.NUMBER, "share of the capacitance left when cold", bad=-1),
    Term("aged_share", d.NUMBER, "share of the capacitance left at the end of life", bad=-1),
    Term("bias_share", d.NUMBER, "share of the capacitance a ceramic keeps under its voltage", bad=-1),
    Term("ceramic_drift", d.NUMBER, "share of the capacitance a ceramic keeps when cold or old", bad=-1),
    Term("end_of_life_change", d.NUMBER, "loss of capacitance at the end of life", bad=1),
    Term("end_of_life_ratio", d.NUMBER, "series resistance at the end of life over its first limit", bad=1),
    Term("class_y_temperature", d.CELSIUS, "temperature a class Y capacitor is rated for", bad=-1),
    Term("measured_resistance", d.RESISTANCE, "series resistance as found at one frequency", bad=1),
    Term("marked_nominal", d.CAPACITANCE, "capacitance as marked, without its tolerance"),
    Term("worn_capacitance", d.NUMBER, "capacitance lost over the loss allowed at the end of life", bad=1),
    Term("worn_resistance", d.NUMBER, "series resistance over the one allowed at the end of life", bad=1),
    Term(
        "wear", d.NUMBER, "wear as measured, 1 at the end of life", bad=1,
        how="measure capacitance and series resistance out of circuit, discharged, with the frequency",
    ),
)  # fmt: skip
