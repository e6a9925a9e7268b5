"""The names of what a part is, is rated for, was found to be, and how it is mounted."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.term import CLASSES, YES_NO, Term, terms

_SHEET = "read it from the part's data sheet"
_MARK = "read the mark on the part"

RATED = terms(
    Term("rated.voltage", d.VOLTAGE, "rated voltage", bad=-1, how=_MARK),
    Term("rated.surge_voltage", d.VOLTAGE, "surge voltage", bad=-1, how=_SHEET),
    Term("rated.reverse_voltage", d.VOLTAGE, "rated repetitive reverse voltage", bad=-1, how=_SHEET),
    Term("rated.collector_base_voltage", d.VOLTAGE, "collector to base voltage, emitter open", bad=-1, how=_SHEET),
    Term("rated.collector_emitter_voltage", d.VOLTAGE, "collector to emitter voltage, base open", bad=-1, how=_SHEET),
    Term("rated.current", d.CURRENT, "rated current", over=d.CELSIUS, bad=-1, how=_MARK),
    Term("rated.surge_current", d.CURRENT, "greatest single surge current", over=d.TIME, bad=-1, how=_SHEET),
    Term("rated.saturation_current", d.CURRENT, "current at which the core saturates", how=_SHEET),
    Term("rated.breaking_capacity", d.CURRENT, "greatest current it can break", bad=-1, how=_MARK),
    Term("rated.melting_i2t", d.I2T, "I²t at which it begins to melt", how=_SHEET),
    Term("rated.clearing_i2t", d.I2T, "I²t let through until it has cleared", bad=1, how=_SHEET),
    Term("rated.power", d.POWER, "rated power", over=d.CELSIUS, bad=-1, how=_SHEET),
    Term("rated.pulse_power", d.POWER, "pulse power by width", over=d.TIME, bad=-1, how=_SHEET),
    Term("rated.pulse_energy", d.ENERGY, "pulse energy by width", over=d.TIME, bad=-1, how=_SHEET),
    Term("rated.pulse_i2t", d.I2T, "pulse I²t by width", over=d.TIME, bad=-1, how=_SHEET),
    Term("rated.pulse_count", d.NUMBER, "number of pulses the pulse rating holds for", bad=-1, how=_SHEET),
    Term("rated.energy", d.ENERGY, "greatest energy of one event", bad=-1, how=_SHEET),
    Term("rated.avalanche_energy", d.ENERGY, "avalanche energy", bad=-1, how=_SHEET),
    Term("rated.opens_within", d.TIME, "time to open, by current or by power", over=d.CURRENT, how=_SHEET),
    Term("rated.voltage_after_opening", d.VOLTAGE, "voltage it stands once open", bad=-1, how=_SHEET),
    Term("rated.resistance_after_opening", d.RESISTANCE, "resistance left once open", bad=-1, how=_SHEET),
    Term("rated.clamping_voltage", d.VOLTAGE, "clamping voltage at a current", over=d.CURRENT, bad=1, how=_SHEET),
    Term("rated.forward_voltage", d.VOLTAGE, "forward voltage at a current", over=d.CURRENT, bad=1, how=_SHEET),
    Term("rated.recovery_time", d.TIME, "reverse recovery time", bad=1, how=_SHEET),
    Term("rated.on_resistance", d.RESISTANCE, "on-resistance by temperature", over=d.CELSIUS, bad=1, how=_SHEET),
    Term(
        "rated.series_resistance", d.RESISTANCE, "series resistance by frequency", over=d.FREQUENCY, bad=1, how=_SHEET
    ),
    Term("rated.ripple_current", d.CURRENT, "ripple current by frequency", over=d.FREQUENCY, bad=-1, how=_SHEET),
    Term("rated.life", d.TIME, "rated life at a temperature", over=d.CELSIUS, bad=-1, how=_SHEET),
    Term("rated.temperature", d.CELSIUS, "greatest temperature", bad=-1, how=_MARK),
    Term("rated.junction", d.CELSIUS, "greatest junction temperature", bad=-1, how=_SHEET),
    Term("rated.junction_to_case", d.THERMAL_RESISTANCE, "thermal resistance junction to case", bad=1, how=_SHEET),
    Term("rated.junction_to_lead", d.THERMAL_RESISTANCE, "thermal resistance junction to lead", bad=1, how=_SHEET),
    Term("rated.junction_to_air", d.THERMAL_RESISTANCE, "thermal resistance junction to air", bad=1, how=_SHEET),
    Term("rated.supply", d.VOLTAGE, "supply voltage range", how=_SHEET),
    Term("rated.starts_at", d.VOLTAGE, "supply voltage at which it starts", how=_SHEET),
    Term("rated.stops_at", d.VOLTAGE, "supply voltage at which it stops", how=_SHEET),
    Term("rated.clearance", d.LENGTH, "clearance over the part's own body", bad=-1, how=_SHEET),
    Term("rated.creepage", d.LENGTH, "creepage over the part's own body", bad=-1, how=_SHEET),
    Term("rated.insulation_thickness", d.LENGTH, "insulation thickness inside the part", bad=-1, how=_SHEET),
    Term("rated.transfer_ratio", d.NUMBER, "current transfer ratio", bad=-1, how=_SHEET),
    Term(
        "rated.insulation_class", None, "insulation class of the winding", words=("A", "E", "B", "F", "H"), how=_SHEET
    ),
    Term("rated.voltage_slope", d.VOLTAGE_SLOPE, "greatest rate of voltage rise", bad=-1, how=_SHEET),
    Term("rated.base_current", d.CURRENT, "base current", how=_SHEET),
)

PART = terms(
    Term("part.kind", None, "what the part is", how="look at the part and its marking"),
    Term("part.family", None, "family of the part"),
    Term("part.fitted", None, "whether the position is fitted", words=YES_NO),
    Term("part.place", None, "where in the supply it sits"),
    Term(
        "part.class",
        None,
        "class mark of an interference capacitor",
        words=CLASSES,
        how="read the class mark: X1, X2, Y1 or Y2 beside a voltage",
    ),
    Term(
        "part.standard",
        None,
        "standard its rating is made to",
        words=("IEC 60127", "UL 248-14"),
        how="read the approval marks on the cap",
    ),
    Term(
        "part.characteristic",
        None,
        "time characteristic",
        words=("quick acting", "time lag", "very quick acting", "medium time lag", "super time lag"),
        how="read the letter before the current: F, T, FF, M, TT",
    ),
    Term("part.dielectric", None, "dielectric", words=("class 1", "class 2", "polypropylene", "polyester", "paper")),
    Term("part.marking", None, "marking as printed"),
    Term("part.resistance", d.RESISTANCE, "resistance", how="read the colour bands or measure it out of circuit"),
    Term("part.capacitance", d.CAPACITANCE, "capacitance", how=_MARK),
    Term("part.inductance", d.INDUCTANCE, "inductance", how="measure it with all other windings open"),
    Term("part.leakage", d.INDUCTANCE, "leakage inductance", how="measure it with the other windings shorted"),
    Term("part.output_capacitance", d.CAPACITANCE, "capacitance of the switch node", how=_SHEET),
    Term("part.hot_resistance", d.RESISTANCE, "resistance when hot, by current", over=d.CURRENT, how=_SHEET),
    Term("part.b_constant", d.KELVIN, "B constant of a thermistor", how=_SHEET),
    Term("part.cools_in", d.TIME, "time to cool down", how=_SHEET),
    Term("part.width", d.LENGTH, "width", how="measure it at its narrowest"),
    Term("part.length", d.LENGTH, "length", how="measure it along its middle"),
    Term("part.thickness", d.LENGTH, "thickness of the copper", how="from the board order; 35 um is usual"),
    Term("part.nominal_voltage", d.VOLTAGE, "nominal voltage at 1 mA", how=_MARK),
    Term("part.voltage", d.VOLTAGE, "Zener or reference voltage", how=_MARK),
    Term("part.current_limit", d.VOLTAGE, "current limit threshold at the sense resistor", how=_SHEET),
    Term("part.limit_delay", d.TIME, "delay of the current limit", how=_SHEET),
    Term("part.greatest_duty", d.NUMBER, "greatest duty", how=_SHEET),
    Term("part.heatsink", d.THERMAL_RESISTANCE, "thermal resistance of its heatsink to air"),
    Term(
        "found.capacitance",
        d.CAPACITANCE,
        "capacitance measured on this sample",
        how="measure it out of circuit, discharged",
    ),
    Term("found.series_resistance", d.RESISTANCE, "series resistance measured on this sample", over=d.FREQUENCY),
    Term("found.resistance", d.RESISTANCE, "resistance measured on this sample"),
    Term("found.gain", d.NUMBER, "current gain measured on this sample"),
    Term("mounting.body", None, "body of the part"),
    Term("mounting.sleeve", None, "sleeve over the body"),
    Term("mounting.above_board", d.LENGTH, "height above the board", how="measure from board to body"),
    Term("mounting.to_plastic", d.LENGTH, "distance to the nearest plastic", how="measure to the nearest plastic"),
)
