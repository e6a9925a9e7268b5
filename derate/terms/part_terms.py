"""The names of what a part is, is rated for, was found to be and how it is mounted."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.dimension import CLASSES, YES_NO, Term, terms
from derate.terms.instructions import opened, papers, probed

# The names of what becomes of a capacitor: cold, biased, worn, and how long it lasts.


_SHEET = papers("read it from the part's data sheet")

RATED_CAPACITORS = terms(
    Term(
        "rated.capacitance", d.CAPACITANCE, "capacitance left at a direct voltage", over=d.VOLTAGE, bad=-1, how=_SHEET
    ),
    Term(
        "rated.dissipation_factor", d.NUMBER, "dissipation factor at 100 or 120 Hz", over=d.FREQUENCY, bad=1, how=_SHEET
    ),
    Term(
        "rated.impedance_ratio",
        d.NUMBER,
        "impedance when cold over that at 20 degC, at 100 or 120 Hz, by temperature",
        over=d.CELSIUS,
        bad=1,
        how=_SHEET,
    ),
    Term(
        "rated.cold_impedance",
        d.RESISTANCE,
        "impedance at the switching frequency by cold temperature",
        over=d.CELSIUS,
        bad=1,
        how=_SHEET,
    ),
    Term(
        "rated.end_of_life_capacitance_change",
        d.NUMBER,
        "loss of capacitance that counts as the end of its life",
        bad=1,
        how=_SHEET,
    ),
    Term(
        "rated.end_of_life_resistance_ratio",
        d.NUMBER,
        "series resistance or dissipation factor over its first limit that counts as the end of its life",
        bad=1,
        how=_SHEET,
    ),
    Term("rated.core_rise", d.KELVIN, "core temperature rise at the rated ripple current", how=_SHEET),
    Term("rated.voltage_exponent", d.NUMBER, "exponent of the voltage term of its life", bad=-1, how=_SHEET),
)

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
        "wear",
        d.NUMBER,
        "wear as measured, 1 at the end of life",
        bad=1,
        how=opened("measure capacitance and series resistance out of circuit, discharged, with the frequency"),
    ),
)


# The names of what a part is, is rated for, was found to be, and how it is mounted.


_DATA_SHEET = papers("read it from the part's data sheet")
_MARK = opened("read the mark on the part")

RATED = terms(
    Term("rated.voltage", d.VOLTAGE, "rated voltage", bad=-1, how=_MARK),
    Term("rated.surge_voltage", d.VOLTAGE, "surge voltage", bad=-1, how=_DATA_SHEET),
    Term("rated.reverse_voltage", d.VOLTAGE, "rated repetitive reverse voltage", bad=-1, how=_DATA_SHEET),
    Term("rated.collector_base_voltage", d.VOLTAGE, "collector to base voltage, emitter open", bad=-1, how=_DATA_SHEET),
    Term(
        "rated.collector_emitter_voltage", d.VOLTAGE, "collector to emitter voltage, base open", bad=-1, how=_DATA_SHEET
    ),
    Term(
        "rated.emitter_base_voltage",
        d.VOLTAGE,
        "emitter to base voltage, collector open: how far the base may be reversed",
        bad=-1,
        how=_DATA_SHEET,
    ),
    Term("rated.gate_voltage", d.VOLTAGE, "gate to source voltage", bad=-1, how=_DATA_SHEET),
    Term("rated.current", d.CURRENT, "rated current", over=d.CELSIUS, bad=-1, how=_MARK),
    Term("rated.surge_current", d.CURRENT, "greatest single surge current", over=d.TIME, bad=-1, how=_DATA_SHEET),
    Term("rated.saturation_current", d.CURRENT, "current at which the core saturates", how=_DATA_SHEET),
    Term("rated.breaking_capacity", d.CURRENT, "greatest current it can break", bad=-1, how=_MARK),
    Term("rated.melting_i2t", d.I2T, "I²t at which it begins to melt", how=_DATA_SHEET),
    Term("rated.clearing_i2t", d.I2T, "I²t let through until it has cleared", bad=1, how=_DATA_SHEET),
    Term("rated.power", d.POWER, "rated power", over=d.CELSIUS, bad=-1, how=_DATA_SHEET),
    Term("rated.pulse_power", d.POWER, "pulse power by width", over=d.TIME, bad=-1, how=_DATA_SHEET),
    Term("rated.pulse_energy", d.ENERGY, "pulse energy by width", over=d.TIME, bad=-1, how=_DATA_SHEET),
    Term("rated.pulse_i2t", d.I2T, "pulse I²t by width", over=d.TIME, bad=-1, how=_DATA_SHEET),
    Term("rated.pulse_count", d.NUMBER, "number of pulses the pulse rating holds for", bad=-1, how=_DATA_SHEET),
    Term("rated.energy", d.ENERGY, "greatest energy of one event", bad=-1, how=_DATA_SHEET),
    Term("rated.avalanche_energy", d.ENERGY, "avalanche energy", bad=-1, how=_DATA_SHEET),
    Term("rated.opens_within", d.TIME, "time to open", over=d.CURRENT, how=_DATA_SHEET),
    Term("rated.voltage_after_opening", d.VOLTAGE, "voltage it stands once open", bad=-1, how=_DATA_SHEET),
    Term("rated.resistance_after_opening", d.RESISTANCE, "resistance left once open", bad=-1, how=_DATA_SHEET),
    Term("rated.clamping_voltage", d.VOLTAGE, "clamping voltage at a current", over=d.CURRENT, bad=1, how=_DATA_SHEET),
    Term("rated.forward_voltage", d.VOLTAGE, "forward voltage at a current", over=d.CURRENT, bad=1, how=_DATA_SHEET),
    Term("rated.recovery_time", d.TIME, "reverse recovery time", bad=1, how=_DATA_SHEET),
    Term(
        "rated.dropout_voltage",
        d.VOLTAGE,
        "voltage a regulator needs from input to output",
        over=d.CURRENT,
        bad=1,
        how=_DATA_SHEET,
    ),
    Term("rated.on_resistance", d.RESISTANCE, "on-resistance by temperature", over=d.CELSIUS, bad=1, how=_DATA_SHEET),
    Term(
        "rated.series_resistance",
        d.RESISTANCE,
        "series resistance by frequency",
        over=d.FREQUENCY,
        bad=1,
        how=_DATA_SHEET,
    ),
    Term("rated.ripple_current", d.CURRENT, "ripple current by frequency", over=d.FREQUENCY, bad=-1, how=_DATA_SHEET),
    Term("rated.life", d.TIME, "rated life at a temperature", over=d.CELSIUS, bad=-1, how=_DATA_SHEET),
    Term("rated.temperature", d.CELSIUS, "greatest temperature", bad=-1, how=_MARK),
    Term("rated.junction", d.CELSIUS, "greatest junction temperature", bad=-1, how=_DATA_SHEET),
    Term("rated.junction_to_case", d.THERMAL_RESISTANCE, "thermal resistance junction to case", bad=1, how=_DATA_SHEET),
    Term("rated.junction_to_lead", d.THERMAL_RESISTANCE, "thermal resistance junction to lead", bad=1, how=_DATA_SHEET),
    Term("rated.junction_to_air", d.THERMAL_RESISTANCE, "thermal resistance junction to air", bad=1, how=_DATA_SHEET),
    Term("rated.supply", d.VOLTAGE, "supply voltage range", how=_DATA_SHEET),
    Term("rated.starts_at", d.VOLTAGE, "supply voltage at which it starts", how=_DATA_SHEET),
    Term("rated.stops_at", d.VOLTAGE, "supply voltage at which it stops", how=_DATA_SHEET),
    Term("rated.clearance", d.LENGTH, "clearance over the part's own body", bad=-1, how=_DATA_SHEET),
    Term("rated.creepage", d.LENGTH, "creepage over the part's own body", bad=-1, how=_DATA_SHEET),
    Term("rated.insulation_thickness", d.LENGTH, "insulation thickness inside the part", bad=-1, how=_DATA_SHEET),
    Term(
        "rated.transfer_ratio",
        d.NUMBER,
        "current transfer ratio by LED current",
        over=d.CURRENT,
        bad=-1,
        how=papers(
            "read it with the LED current it holds at from the optocoupler's data sheet: its rank is part of the mark"
        ),
    ),
    Term(
        "rated.transfer_ratio_left",
        d.NUMBER,
        "share of the transfer ratio left after a time of use",
        over=d.TIME,
        bad=-1,
        how=papers("read it from the maker's reliability report, with the hours of use it stands for"),
    ),
    Term(
        "rated.transfer_ratio_by_temperature",
        d.NUMBER,
        "transfer ratio over that at 25 degC, by temperature",
        over=d.CELSIUS,
        bad=-1,
        how=papers("read it off the curve in the optocoupler's data sheet, cold end and hot end"),
    ),
    Term("rated.led_current", d.CURRENT, "rated current of the LED", bad=-1, how=_DATA_SHEET),
    Term(
        "rated.insulation_class",
        None,
        "insulation class of the winding",
        words=("A", "E", "B", "F", "H"),
        how=_DATA_SHEET,
    ),
    Term("rated.voltage_slope", d.VOLTAGE_SLOPE, "greatest rate of voltage rise", bad=-1, how=_DATA_SHEET),
    Term("rated.base_current", d.CURRENT, "base current", how=_DATA_SHEET),
    Term(
        "rated.saturation_voltage",
        d.VOLTAGE,
        "collector to emitter saturation voltage at a current",
        over=d.CURRENT,
        bad=1,
        how=_DATA_SHEET,
    ),
    Term(
        "rated.base_emitter_voltage", d.VOLTAGE, "base to emitter voltage while it is saturated", bad=1, how=_DATA_SHEET
    ),
    Term("rated.gain", d.NUMBER, "least current gain at a collector current", over=d.CURRENT, bad=-1, how=_DATA_SHEET),
    Term("rated.fall_time", d.TIME, "fall time of the collector current", bad=1, how=_DATA_SHEET),
    Term(
        "rated.storage_time",
        d.TIME,
        "storage time, from base drive off to the fall of the current",
        bad=1,
        how=_DATA_SHEET,
    ),
    Term(
        "rated.reverse_bias_area",
        d.CURRENT,
        "current it may turn off at a voltage (reverse-bias area, RBSOA)",
        over=d.VOLTAGE,
        bad=-1,
        how=papers(
            "read the corners of the reverse-bias area (RBSOA) in the data sheet, as {450 V: 4 A, 700 V: 0.5 A}"
        ),
    ),
    Term(
        "rated.junction_capacitance",
        d.CAPACITANCE,
        "junction capacitance at a reverse voltage",
        over=d.VOLTAGE,
        how=papers("read it from the data sheet with its reverse voltage, as 110 pF at 4 V"),
    ),
)
RATED |= RATED_CAPACITORS

# Ratings that are limits: what a part stands, and a rule holds against what it has to stand. The other names under
# `rated` say what it does.
LIMITS = frozenset(
    (
        *(
            f"rated.{name}"
            for name in (
                "voltage",
                "surge_voltage",
                "reverse_voltage",
                "collector_base_voltage",
                "collector_emitter_voltage",
                "emitter_base_voltage",
                "gate_voltage",
                "current",
                "surge_current",
                "breaking_capacity",
                "power",
                "pulse_power",
                "pulse_energy",
                "pulse_i2t",
                "energy",
                "avalanche_energy",
                "voltage_after_opening",
                "ripple_current",
                "life",
                "temperature",
                "junction",
                "supply",
                "starts_at",
                "stops_at",
                "clearance",
                "creepage",
                "insulation_thickness",
                "led_current",
                "voltage_slope",
                "reverse_bias_area",
            )
        ),
        "part.greatest_duty",
        "part.overvoltage_stop",
    )
)

PART = terms(
    Term("part.kind", None, "what the part is", how=opened("look at the part and its marking")),
    Term("part.family", None, "family of the part"),
    Term("part.fitted", None, "whether the position is fitted", words=(*YES_NO, "wired over")),
    Term(
        "part.place",
        None,
        "where in the supply it sits",
        how=opened("trace what it is joined to, and name it on that path under circuit"),
    ),
    Term(
        "part.class",
        None,
        "class mark of an interference capacitor",
        words=CLASSES,
        how=opened("read the class mark: X1, X2, Y1 or Y2 beside a voltage"),
    ),
    Term(
        "part.standard",
        None,
        "standard its rating is made to",
        words=("IEC 60127", "UL 248-14", "IEC 60747-5-5"),
        how=opened("read the approval marks on the part"),
    ),
    Term(
        "part.characteristic",
        None,
        "time characteristic",
        words=("quick acting", "time lag", "very quick acting", "medium time lag", "super time lag"),
        how=opened("read the letter before the current on its cap: F, T, FF, M, TT"),
    ),
    Term(
        "part.technology",
        None,
        "how a film resistor or a fuse is made, where that is known",
        words=("leaded", "chip", "established reliability", "wire", "cermet"),
        how=opened("look at it: leads or a chip on the board, a wire or a film on ceramic; a style is on its papers"),
    ),
    Term(
        "part.temperature_coefficient",
        d.PER_KELVIN,
        "change of its value for each kelvin, as a share",
        how=papers("read it with its sign from the part's data sheet; ±50 ppm/K where it may go either way"),
    ),
    Term(
        "part.temperature_slope",
        d.VOLTAGE_PER_KELVIN,
        "change of its voltage for each kelvin",
        how=papers("read it with its sign from the part's data sheet, at its own voltage"),
    ),
    Term("part.dielectric", None, "dielectric", words=("class 1", "class 2", "polypropylene", "polyester", "paper")),
    Term("part.marking", None, "marking as printed"),
    Term(
        "part.resistance",
        d.RESISTANCE,
        "resistance",
        how=opened("measure it out of circuit, under an ohm with four wires; a resistor says it by its marking too"),
    ),
    Term("part.capacitance", d.CAPACITANCE, "capacitance", how=_MARK),
    Term("part.marked_capacitance", d.CAPACITANCE, "capacitance as marked, where another was measured", how=_MARK),
    Term("part.inductance", d.INDUCTANCE, "inductance", how=opened("measure it with all other windings open")),
    Term(
        "part.leakage",
        d.INDUCTANCE,
        "leakage inductance",
        how=opened("inductance meter at the winding, the other windings shorted by a wire"),
    ),
    Term("part.output_capacitance", d.CAPACITANCE, "capacitance of the switch node", how=_DATA_SHEET),
    Term("part.hot_resistance", d.RESISTANCE, "resistance when hot, by current", over=d.CURRENT, how=_DATA_SHEET),
    Term("part.b_constant", d.KELVIN, "B constant of a thermistor", how=_DATA_SHEET),
    Term("part.dissipation", d.DISSIPATION, "power that heats its body by 1 K in still air", bad=-1, how=_DATA_SHEET),
    Term("part.cools_in", d.TIME, "time to cool down", how=_DATA_SHEET),
    Term("part.width", d.LENGTH, "width", how=opened("measure it at its narrowest")),
    Term("part.length", d.LENGTH, "length", how=opened("measure it along its middle")),
    Term("part.thickness", d.LENGTH, "thickness of the copper", how=papers("from the board order; 35 um is usual")),
    Term("part.nominal_voltage", d.VOLTAGE, "nominal voltage at 1 mA", how=_MARK),
    Term("part.voltage", d.VOLTAGE, "Zener or reference voltage", how=_MARK),
    Term("part.current_limit", d.VOLTAGE, "current limit threshold at the sense resistor", how=_DATA_SHEET),
    Term(
        "part.limit_current",
        d.CURRENT,
        "current at which an integrated switch limits",
        bad=1,
        how=papers("read the current limit and its tolerance from the data sheet"),
    ),
    Term(
        "part.base_drive",
        None,
        "how a bipolar switch is turned off, which decides the voltage it blocks",
        words=("emitter switched", "negative at turn-off", "resistor to emitter", "open"),
        how=opened("trace on the board what the base is joined to while the switch is off"),
    ),
    Term(
        "part.base_current",
        d.CURRENT,
        "base current of the switch while it is on",
        how=probed("scope across the base resistor at full load, isolated probe"),
    ),
    Term(
        "part.recovery_current",
        d.CURRENT,
        "greatest reverse current of a rectifier as it stops conducting",
        bad=1,
        how=probed("isolated current probe round the rectifier's lead at full load and lowest mains"),
    ),
    Term(
        "part.ringing",
        d.NUMBER,
        "crest of the reverse voltage over its flat part",
        bad=1,
        how=probed(
            "scope with a differential probe across the diode at full load and highest mains: greatest value over "
            "the flat part"
        ),
    ),
    Term(
        "part.switching_time",
        d.TIME,
        "time the switch takes to cross from on to off",
        bad=1,
        how=probed(
            "scope with a differential probe at the switch node at turn-off: from a tenth to nine tenths of its swing"
        ),
    ),
    Term(
        "part.quiescent_current",
        d.CURRENT,
        "current a regulator takes for itself",
        bad=1,
        how=papers("quiescent or ground current in the regulator's data sheet"),
    ),
    Term("part.limit_delay", d.TIME, "delay of the current limit", how=_DATA_SHEET),
    Term(
        "part.fold_back",
        None,
        "whether a linear chip lowers its current as it gets hot",
        words=YES_NO,
        how=papers("thermal fold-back or over-temperature regulation in the data sheet"),
    ),
    Term(
        "part.shorted_pause",
        d.TIME,
        "time its controller leaves the switch off between two pulses into a short",
        bad=-1,
        how=papers("off-time while the output is shorted, or the frequency it folds back to, in the data sheet"),
    ),
    Term(
        "part.open_load_stop",
        d.VOLTAGE,
        "output voltage at which its controller stops with the load gone",
        bad=1,
        how=papers("open-lamp or output over-voltage protection in the data sheet, by the part that sets it"),
    ),
    Term("part.greatest_duty", d.NUMBER, "greatest duty", how=_DATA_SHEET),
    Term(
        "part.feedback_current",
        d.CURRENT,
        "current to be drawn from the feedback pin until it stops switching",
        bad=1,
        how=papers(
            "source current of the feedback pin in the controller's data sheet, or of its pull-up with the pin at 0 V"
        ),
    ),
    Term(
        "part.feedback_voltage",
        d.VOLTAGE,
        "greatest voltage of the feedback pin, open",
        bad=1,
        how=papers("read it from the controller's data sheet; the loop is never opened to measure it"),
    ),
    Term(
        "part.overvoltage_stop",
        d.VOLTAGE,
        "supply voltage at which the controller stops for over-voltage",
        bad=1,
        how=papers("over-voltage protection of the supply pin in the controller's data sheet"),
    ),
    Term(
        "part.position",
        None,
        "what an empty position was meant for",
        words=("filter", "surge", "other"),
        how=opened("look what its pads stand across or in series with"),
    ),
    Term("part.heatsink", d.THERMAL_RESISTANCE, "thermal resistance of its heatsink to air"),
    Term(
        "found.capacitance",
        d.CAPACITANCE,
        "capacitance measured on this sample",
        how=opened("measure it out of circuit, discharged"),
    ),
    Term("found.series_resistance", d.RESISTANCE, "series resistance measured on this sample", over=d.FREQUENCY),
    Term("found.resistance", d.RESISTANCE, "resistance measured on this sample"),
    Term("found.gain", d.NUMBER, "current gain measured on this sample"),
    Term("mounting.body", None, "body of the part"),
    Term("mounting.sleeve", None, "sleeve over the body"),
    Term("mounting.above_board", d.LENGTH, "height above the board", how=opened("measure from board to body")),
    Term(
        "mounting.to_plastic", d.LENGTH, "distance to the nearest plastic", how=opened("measure to the nearest plastic")
    ),
)


# The names of what stands round the optocoupler of a feedback path, and of what it carries.


# Names of parts and outputs under control: no facts of their own, here for what is said of them when they are missing.
CONTROL_PARTS = terms(
    Term(
        "control.through",
        None,
        "what carries the control across the barrier",
        how=opened("trace the feedback to its coupler"),
    ),
    Term(
        "control.reference", None, "part that compares the output", how=opened("trace the cathode of the coupler's LED")
    ),
    Term("control.divider", None, "divider of what is sensed", how=opened("trace from the output to the reference")),
    Term("control.divided", None, "whether a divider of what is sensed feeds a reference", words=YES_NO),
    Term(
        "control.coupler_resistor",
        None,
        "resistor in series with the LED of the coupler",
        how=opened("trace from the output to the LED and on to the reference"),
    ),
    Term(
        "control.bias_resistor",
        None,
        "resistor across the LED of the coupler",
        how=opened(
            "look for a resistor across the LED, or from the output to the reference; write none when there is none"
        ),
    ),
    Term(
        "control.coupler_supply",
        None,
        "output that feeds the LED of the coupler",
        how=opened("trace the LED's resistor back to its output"),
    ),
)

COUPLER_STRESS = terms(
    Term(
        "optocoupler.carries",
        None,
        "what the optocoupler carries across the barrier",
        words=("control", "other"),
        how=papers("say under control what it senses and through which part"),
    ),
    Term("led_current", d.CURRENT, "greatest current of the LED, the reference fully on"),
    Term("led_current_needed", d.CURRENT, "LED current needed at the end of life", bad=1),
    Term("transfer_ratio", d.NUMBER, "current transfer ratio, new", bad=-1),
    Term("transfer_ratio_aged", d.NUMBER, "current transfer ratio at the end of life and at temperature", bad=-1),
    Term("coupled_current", d.CURRENT, "current the optocoupler draws from the controller at the end of life", bad=-1),
    Term("coupled_current_needed", d.CURRENT, "current that stops the controller", bad=1),
)
