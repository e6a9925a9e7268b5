"""Every name that a design fact, a stress or a limit can carry, with its dimension.

One table for the reader, the ledger and the formula language: a name that is not here exists nowhere.
Dotted names are facts (`rated.voltage`) or what is derived to be compared (`allowed.power`, `needed.clearance`);
plain names are stresses, the same words that a reading uses.
"""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.bench_terms import BENCH, INSULATION, SHEET_HELD, SHEET_LOOSE
from derate.terms.dimension import CLASSES, YES_NO, Dimension, Term, terms
from derate.terms.instructions import closed, destructive, opened, papers, probed, running, sensor, told
from derate.terms.part_terms import CONTROL_PARTS, COUPLER_STRESS, PART, RATED, STRESS_CAPACITORS
from derate.terms.topologies import TOPOLOGIES

__all__ = [
    "BARRIER",
    "CLASSES",
    "DIMENSIONS",
    "PART",
    "RATED",
    "SHOWN_IN",
    "STEPS",
    "STRESS",
    "TRANSFORMER",
    "VOCABULARY",
    "YES_NO",
    "Term",
    "said",
]

SUPPLY_FACTS = terms(
    Term("supply.topology", None, "converter topology", words=tuple(TOPOLOGIES), how=opened("trace the circuit")),
    Term(
        "supply.protection_class",
        None,
        "protection class",
        words=("I", "II", "III"),
        how=closed("look for the double square on the plate, or an earth pin"),
    ),
    Term(
        "supply.basis",
        None,
        "what the file rests on",
        words=("opened sample", "own design", "vendor documents"),
        how=papers("say opened sample, own design or vendor documents"),
    ),
    Term(
        "supply.parts_list",
        None,
        "whether every part is listed",
        words=("complete", "main parts"),
        how=opened("go over the board position by position; complete once every part stands in the file"),
    ),
    Term(
        "supply.efficiency",
        d.NUMBER,
        "efficiency of the converter stage",
        bad=-1,
        how=running(
            "load test: output power over mains power, by a power meter made for mains, less the losses ahead of the "
            "bulk capacitor"
        ),
    ),
    Term(
        "supply.connection",
        None,
        "how it is connected to the mains",
        words=("plug-in", "cord", "fixed wiring", "lamp cap"),
        how=closed("look at the plug, the terminals or the cap"),
    ),
    Term(
        "supply.regulated",
        None,
        "whether the output is regulated",
        words=YES_NO,
        how=opened("trace what the controller senses; a transformer with a rectifier alone is not regulated"),
    ),
    Term(
        "supply.mains_switch",
        None,
        "conductors that its mains switch opens",
        words=("none", "line", "neutral", "both"),
        how=opened("ohmmeter across the switch in each conductor; none where it has no switch"),
    ),
    Term("plate.mains", d.VOLTAGE, "mains voltage on the plate", how=closed("read the rating plate")),
    Term("plate.frequency", d.FREQUENCY, "mains frequency on the plate", how=closed("read the rating plate")),
    Term("plate.mains_current", d.CURRENT, "mains current on the plate", how=closed("read the rating plate")),
    Term("plate.power", d.POWER, "power on the plate", how=closed("read the rating plate")),
    Term("plate.marks", None, "marks on the plate", how=closed("read the rating plate")),
    Term("plate.voltage", d.VOLTAGE, "output voltage on the plate", how=closed("read the rating plate")),
    Term("plate.current", d.CURRENT, "output current on the plate", how=closed("read the rating plate")),
    Term("plate.full_current", d.CURRENT, "greatest output current on the plate"),
    Term(
        "battery.kind",
        None,
        "kind of battery that the output charges",
        words=("none", "lead-acid", "lithium-ion", "lithium iron phosphate", "nickel"),
        how=closed("read it from the battery or the plate"),
    ),
    Term(
        "battery.cells",
        d.NUMBER,
        "cells in series",
        how=closed("read it from the battery; 2 V a cell of lead, 3.6 V of lithium"),
    ),
    Term(
        "battery.charging_current",
        d.CURRENT,
        "greatest charging current of the battery",
        bad=-1,
        how=papers("read it from the data sheet of the battery"),
    ),
    Term(
        "battery.ends_by",
        None,
        "what ends the charge",
        words=("regulated voltage", "current and time", "timer", "nothing"),
        how=opened("trace what stands between rectifier and battery, and read the controller's mark"),
    ),
    Term(
        "battery.protection",
        None,
        "what in the battery itself ends an overcharge",
        words=("protection board", "nothing"),
        how=opened("look for a board on the cells; a bare cell has none"),
    ),
    Term(
        "battery.reversed",
        None,
        "what a battery joined the wrong way round meets",
        words=("keyed plug", "diode", "fuse", "nothing"),
        how=opened("look at the plug, and trace from it"),
    ),
    Term("plate.short_time", d.CURRENT, "short-time output current on the plate", how=closed("read the rating plate")),
    Term("site.ambient", d.CELSIUS, "ambient temperature", how=papers("ask where it will stand")),
    Term("site.ambient_end", d.CELSIUS, "end of the ambient range"),
    Term(
        "supply.runs_down_to",
        d.VOLTAGE,
        "lowest mains at which the converter still runs",
        how=told("lower the mains slowly at full load, with an isolating variable transformer", "running", "overload"),
    ),
    Term(
        "site.hours",
        d.TIME,
        "hours of an average day by ambient temperature",
        over=d.CELSIUS,
        how=papers("ask how long a day it stands in which heat: {10 degC: 12 h, 25 degC: 10 h, 40 degC: 2 h}"),
    ),
    Term("site.altitude", d.LENGTH, "altitude", how=papers("ask where it will be used or sold")),
    Term(
        "site.pollution_degree",
        d.NUMBER,
        "pollution degree",
        how=papers("2 indoors in an office or home; look for dust and damp"),
    ),
    Term(
        "site.overvoltage_category",
        None,
        "overvoltage category",
        words=("I", "II", "III", "IV"),
        how=papers("II when plugged in, III when wired in"),
    ),
    Term("site.mains_tolerance", d.NUMBER, "mains tolerance", how=papers("the supplier's figure; 10 % is usual")),
    Term(
        "site.inside_rise",
        d.KELVIN,
        "rise of the air inside above ambient",
        how=told("thermocouple in the air beside the part, at full load", "running", "sensor"),
    ),
    Term(
        "site.mains_resistance",
        d.RESISTANCE,
        "resistance of the mains",
        how=told("loop tester at the socket; 0.1 to 1 ohm is usual", "mains wiring"),
    ),
    Term(
        "site.mains_inductance",
        d.INDUCTANCE,
        "inductance of the mains",
        how=told(
            "ask the electricity supplier for loop impedance and loop resistance; 0.25 ohm of reactance is usual",
            "papers",
            "third party",
        ),
    ),
    Term("site.prospective_current", d.CURRENT, "prospective short-circuit current of the mains"),
    Term(
        "site.surge",
        d.VOLTAGE,
        "surge between line and neutral",
        how=papers("ask what the equipment's own standard asks; 1 kV between line and neutral is usual"),
    ),
    Term(
        "site.switch_ons",
        d.NUMBER,
        "switch-ons over its life",
        how=papers("switch-ons a day over the years it is meant to last"),
    ),
    Term(
        "circuit.mains_fuse",
        None,
        "kind of the first protective part on the mains path",
        how=opened("walk the mains path from the plug"),
    ),
    Term(
        "circuit.fused_pole",
        None,
        "conductors in which something opens on a fault",
        words=("none", "line", "neutral", "both"),
        how=opened("trace both conductors from the plug, and write PART in neutral for what stands in the neutral"),
    ),
    Term(
        "circuit.plug_turns",
        None,
        "whether line and neutral change places with the plug",
        words=YES_NO,
        how=closed("write connection under supply, and plug_pattern of its plug under inspection"),
    ),
    Term(
        "circuit.input",
        None,
        "kind of rectifier input",
        words=("full bridge", "half-wave", "doubler", "transformer", "dropper", "without bulk capacitor"),
    ),
    Term("circuit.barrier", None, "whether a barrier separates the outputs", words=("expected", "none")),
    Term(
        "circuit.bridging",
        None,
        "parts from primary to secondary",
        how=opened("look for capacitors, resistors and couplers across the barrier; write none when there are none"),
    ),
    Term("circuit.earth", None, "what is joined to earth"),
    Term(
        "circuit.clamp",
        None,
        "what clamps the switch node",
        words=("none", "resistor-capacitor-diode", "zener", "suppressor"),
        how=opened("look for a diode with resistor and capacitor, or a suppressor, across the primary winding"),
    ),
    Term(
        "earth.resistance",
        d.RESISTANCE,
        "resistance from the earth pin",
        how=told(
            "tester of 10 A or more and no more than 12 V, from the earth pin to what can be touched", "earth test"
        ),
    ),
    Term(
        "control.type",
        None,
        "kind of control",
        words=("fixed frequency", "boundary", "self-oscillating", "burst"),
        how=opened("trace the circuit, and read the controller's mark"),
    ),
    Term(
        "control.frequency",
        d.FREQUENCY,
        "switching frequency",
        how=probed("scope beside the switch node, isolated probe"),
    ),
)

TRANSFORMER = terms(
    Term(
        "transformer.inductance", d.INDUCTANCE, "primary inductance", how=opened("measure with all other windings open")
    ),
    Term(
        "transformer.leakage",
        d.INDUCTANCE,
        "leakage inductance",
        how=opened("inductance meter at the primary, the outputs shorted by a wire"),
    ),
    Term(
        "transformer.short_circuit_proof",
        None,
        "class of short-circuit proof",
        words=("inherently", "conditionally", "not proof", "fail-safe"),
        how=opened("read the mark on the transformer, or its data sheet"),
    ),
    Term(
        "transformer.no_load_current",
        d.CURRENT,
        "mains current without load, by mains voltage",
        over=d.VOLTAGE,
        bad=1,
        how=told("ammeter for rms in the mains lead, at the highest mains, nothing on the secondary", "running"),
    ),
    Term(
        "transformer.chambers",
        None,
        "how the windings of the mains lie beside the others",
        words=("separate chambers", "one above the other"),
        how=opened("look whether a wall of the bobbin stands between them"),
    ),
    Term(
        "transformer.wall",
        d.LENGTH,
        "thickness of the wall between two chambers",
        bad=-1,
        how=destructive("calliper on the wall of a spare bobbin"),
    ),
    Term("transformer.insulation_class", None, "insulation class", words=("A", "E", "B", "F", "H")),
    Term("core.shape", None, "core shape"),
    Term("core.area", d.AREA, "core area", how=opened("measure the centre leg")),
    Term("core.gap", d.LENGTH, "gap"),
    Term("core.length", d.LENGTH, "magnetic path length"),
    Term("core.permeability", d.NUMBER, "relative permeability of the core without its gap"),
    Term("core.saturation", d.FLUX_DENSITY, "saturation flux density, hot", bad=-1),
    Term("core.tape_to_windings", None, "tape between core and windings"),
    Term("core.tied_to", None, "what the core is tied to", how=opened("look for a wire or clip from the core")),
    Term("winding.turns", d.NUMBER, "turns", how=destructive("count them as it is unwound")),
    Term(
        "winding.wire",
        None,
        "kind of wire",
        words=("enamelled", "insulated", "triple-insulated", "foil"),
        how=opened("look at the wire under a lens"),
    ),
    Term("winding.bare", d.LENGTH, "bare diameter", how=destructive("micrometer on a stripped end")),
    Term("winding.outside", d.LENGTH, "outside diameter", how=destructive("micrometer over the insulation")),
    Term("winding.strands", d.NUMBER, "strands", how=destructive("count the strands at a stripped end")),
    Term("winding.foil", d.LENGTH, "foil thickness"),
    Term("winding.width", d.LENGTH, "foil width"),
    Term(
        "winding.leakage",
        d.INDUCTANCE,
        "leakage inductance seen at this winding",
        how=opened("inductance meter at this winding, the primary shorted by a wire and every other winding open"),
    ),
    Term("winding.tied_to", None, "what a shield is tied to"),
    Term(
        "winding.resistance",
        d.RESISTANCE,
        "resistance by the temperature it was read at",
        over=d.CELSIUS,
        how=opened("ohmmeter at its pins after hours at room temperature, four wires below 10 ohm: 1.5 ohm at 22 degC"),
    ),
    Term(
        "winding.open_voltage",
        d.VOLTAGE,
        "rms voltage without load",
        over=d.VOLTAGE,
        how=told("voltmeter across the winding, all it feeds unsoldered: 11.2 V at 230 V", "running"),
    ),
    Term(
        "winding.rated_voltage",
        d.VOLTAGE,
        "rms voltage at its rated current",
        how=opened("read it from the transformer"),
    ),
    Term(
        "winding.rated_current",
        d.CURRENT,
        "rated rms current",
        bad=-1,
        how=opened("read it from the transformer; its volt-amperes over its volts where only those are given"),
    ),
    Term("transformer.margins", d.LENGTH, "margin at each end", bad=-1, how=destructive("measure the margin tape")),
    Term(
        "found.tape_layers",
        d.NUMBER,
        "layers of tape between the nearest conductors of either side",
        bad=-1,
        how=destructive("count the layers as it is unwound"),
    ),
    Term(
        "found.wire_insulation",
        d.LENGTH,
        "insulation thickness of the wire",
        bad=-1,
        how=destructive("half the difference of outside and bare diameter"),
    ),
)

BARRIER = terms(
    Term(
        "found.clearance",
        d.LENGTH,
        "shortest distance through air, as built",
        bad=-1,
        how=opened("measure the gap with the board cleaned"),
    ),
    Term(
        "found.creepage",
        d.LENGTH,
        "shortest distance along surfaces, as built",
        bad=-1,
        how=opened("measure along the surface with the board cleaned"),
    ),
    Term(
        "found.insulation_thickness",
        d.LENGTH,
        "thickness of solid insulation",
        bad=-1,
        how=destructive("micrometer on a piece of it, taken off a spare"),
    ),
    Term("barrier.slot_width", d.LENGTH, "width of the slot"),
    Term("barrier.between", None, "the two circuits it separates"),
    Term("barrier.sheet_fixed", None, "how the sheet is held", words=(*SHEET_HELD, *SHEET_LOOSE)),
    Term(
        "barrier.material_group",
        None,
        "material group of the board",
        words=("I", "II", "IIIa", "IIIb"),
        how=told("the laminate's comparative tracking index, from the board maker", "papers", "third party"),
    ),
    Term("barrier.pollution_degree", d.NUMBER, "pollution degree of the place"),
    Term(
        "barrier.insulation",
        None,
        "insulation this place has to be",
        words=("functional", "basic", "supplementary", "reinforced"),
    ),
    Term("needed.clearance", d.LENGTH, "clearance needed", bad=1),
    Term("needed.creepage", d.LENGTH, "creepage needed", bad=1),
    Term("needed.impulse", d.VOLTAGE, "impulse voltage to be held", bad=1),
    Term("needed.electric_strength", d.VOLTAGE, "electric strength needed", bad=1),
    Term("needed.touch_current", d.CURRENT, "touch current allowed", bad=-1),
    Term("needed.insulation_thickness", d.LENGTH, "solid insulation needed", bad=1),
    Term("needed.tape_layers", d.NUMBER, "layers of tape needed", bad=1),
    Term("bridge.count", d.NUMBER, "parts in series across the barrier"),
    Term(
        "test.voltage",
        d.VOLTAGE,
        "test voltage applied",
        how=told("have it tested, and write the voltage as Vac, Vdc or Vpk", "high voltage", "third party"),
    ),
    Term(
        "test.result",
        None,
        "outcome of the electric-strength test",
        how=told("have it tested, and write down what was seen", "high voltage", "third party"),
    ),
)
BARRIER |= INSULATION

ALLOWED = terms(
    Term("allowed.power", d.POWER, "power rating at the part's own air temperature", bad=-1),
    Term("allowed.current", d.CURRENT, "current rating at the part's own temperature", bad=-1),
    Term("allowed.pulse_energy", d.ENERGY, "pulse energy rating at the pulse's width", bad=-1),
    Term("allowed.pulse_power", d.POWER, "pulse power rating at the pulse's width", bad=-1),
    Term("allowed.i2t", d.I2T, "I²t allowed for the number of switch-ons", bad=-1),
    Term("allowed.surge_current", d.CURRENT, "surge current rating at the pulse's width", bad=-1),
    Term("allowed.surge_i2t", d.I2T, "I²t of the surge rating", bad=-1),
    Term("allowed.ripple_current", d.CURRENT, "ripple current rating at the frequency of the ripple", bad=-1),
    Term("allowed.switch_voltage", d.VOLTAGE, "voltage rating of the switch as it is driven", bad=-1),
    Term("allowed.gain", d.NUMBER, "least current gain of the switch at its peak current", bad=-1),
    Term(
        "allowed.turn_off_current",
        d.CURRENT,
        "current the reverse-bias area lets it turn off at its peak voltage",
        bad=-1,
    ),
    Term("allowed.recovery_time", d.TIME, "recovery time that the way of conduction leaves to a diode", bad=-1),
    Term("allowed.flux_density", d.FLUX_DENSITY, "flux density at which the hot core saturates", bad=-1),
    Term("allowed.supply", d.VOLTAGE, "greatest supply voltage of the controller", bad=-1),
    Term("allowed.supply_least", d.VOLTAGE, "supply voltage at which the controller stops", bad=1),
    Term("allowed.case_temperature", d.CELSIUS, "temperature a capacitor is marked or rated for", bad=-1),
    Term("allowed.winding_temperature", d.CELSIUS, "greatest winding temperature of the insulation class", bad=-1),
    Term(
        "allowed.overload_winding_temperature",
        d.CELSIUS,
        "greatest winding temperature of the insulation class in overload",
        bad=-1,
    ),
)

STRESS = terms(
    Term("voltage", d.VOLTAGE, "voltage", bad=1),
    Term("voltage_rms", d.VOLTAGE, "rms voltage", bad=1),
    Term("voltage_peak", d.VOLTAGE, "greatest voltage", bad=1),
    Term("voltage_min", d.VOLTAGE, "least voltage", bad=-1),
    Term("output.by", None, "what gives an output", words=("line transformer", "another winding", "its own sensing")),
    Term("output.load", None, "what an output without isolation feeds", words=("LEDs", "other")),
    Term("voltage_mean", d.VOLTAGE, "mean voltage"),
    Term("voltage_needed", d.VOLTAGE, "least voltage a regulator needs at its input", bad=1),
    Term("voltage_over_plate", d.NUMBER, "greatest voltage without load over that on the plate", bad=1),
    Term("cell_voltage", d.VOLTAGE, "greatest voltage of each cell at the end of the charge", bad=1),
    Term("cell_voltage_lost", d.VOLTAGE, "voltage of each cell with the regulator of its charger shorted", bad=1),
    Term("plate_cell_voltage", d.VOLTAGE, "voltage on the plate over the cells in series"),
    Term("open_voltage", d.VOLTAGE, "open-circuit rms voltage"),
    Term("voltage_surge", d.VOLTAGE, "greatest voltage during an event", bad=1),
    Term("reverse_voltage", d.VOLTAGE, "reverse voltage", bad=1),
    Term("working_voltage", d.VOLTAGE, "working voltage, rms", bad=1),
    Term("working_voltage_peak", d.VOLTAGE, "working voltage, peak", bad=1),
    Term("ripple", d.VOLTAGE, "ripple, peak to peak", bad=1),
    Term("current_rms", d.CURRENT, "rms current", bad=1),
    Term("current_average", d.CURRENT, "average current", bad=1),
    Term("current_peak", d.CURRENT, "greatest current", bad=1),
    Term("ripple_current", d.CURRENT, "ripple current, rms", bad=1),
    Term("i2t", d.I2T, "I²t of the event", bad=1),
    Term("energy", d.ENERGY, "energy of the event", bad=1),
    Term("pulse_width", d.TIME, "equivalent width of the pulse, I²t over peak²"),
    Term("power", d.POWER, "power lost in the part", bad=1),
    Term("pulse_power", d.POWER, "greatest power during the event", bad=1),
    Term(
        "air_temperature",
        d.CELSIUS,
        "air beside the part",
        bad=1,
        how=sensor("thermocouple in the air beside the part"),
    ),
    Term("case_temperature", d.CELSIUS, "case temperature", bad=1, how=sensor("insulated thermocouple on the part")),
    Term(
        "winding_temperature",
        d.CELSIUS,
        "winding temperature",
        bad=1,
        how=sensor("insulated thermocouple on the winding, until it no longer rises"),
    ),
    Term("junction_temperature", d.CELSIUS, "junction temperature", bad=1),
    Term("temperature_share", d.NUMBER, "share that heat and cold add to the value of a part"),
    Term("temperature_shift", d.VOLTAGE, "voltage that heat and cold add to that of a part"),
    Term("value_temperature", d.CELSIUS, "temperature between whose ends the value of a part moves"),
    Term("mains_current", d.CURRENT, "mains current, rms", bad=1),
    Term(
        "mains_power", d.POWER, "mains power", bad=1, how=running("power meter made for mains, between socket and plug")
    ),
    Term("power_drawn", d.POWER, "power the converter draws from the bulk capacitor", bad=1),
    Term(
        "efficiency",
        d.NUMBER,
        "efficiency of the converter stage",
        bad=-1,
        how=running("load test: output power over mains power, by a power meter made for mains"),
    ),
    Term("lowest_mains", d.VOLTAGE, "lowest mains voltage of the plate, tolerance included"),
    Term("load_carried", None, "whether the bulk capacitor carries the load between two crests", words=YES_NO),
    Term("series_resistance", d.RESISTANCE, "resistance in series"),
    Term("bulk_capacitance", d.CAPACITANCE, "bulk capacitance"),
    Term("diode_drop", d.VOLTAGE, "drop of the diodes in the path"),
    Term("output_power", d.POWER, "power delivered to the load", bad=1),
    Term("prospective_current", d.CURRENT, "current the mains can drive into a short", bad=1),
    Term("fault_current", d.CURRENT, "rms current of a single fault"),
    Term("fault_power", d.POWER, "power during a single fault"),
    Term("time_to_open", d.TIME, "time until the fault is cleared", bad=1),
    Term("let_through", d.I2T, "I²t let through until the fault is cleared", bad=1),
    Term("dead_zone", d.NUMBER, "width of the band of fault resistance that nothing clears", bad=1),
    Term("voltage_between_lines", d.VOLTAGE, "voltage between two lines, where the neutral is lost", bad=1),
    Term("neutral_lost", None, "what becomes of it where the neutral is lost"),
    Term("ripple_factor", d.NUMBER, "ripple rating at twice the mains frequency over the one stated"),
    Term("turns", d.NUMBER, "turns of the windings in series"),
    Term("leakage_share", d.NUMBER, "leakage over primary inductance"),
    Term("turns_ratio", d.NUMBER, "primary turns over the turns of the winding"),
    Term("clamp_resistance", d.RESISTANCE, "resistance of the clamp"),
    Term("clamp_capacitance", d.CAPACITANCE, "capacitance of the clamp"),
    Term("clamp_voltage", d.VOLTAGE, "voltage at which the clamp breaks down"),
    Term("output_capacitance", d.CAPACITANCE, "capacitance across an output"),
    Term("hot_resistance", d.RESISTANCE, "on-resistance of the hot switch", bad=1),
    Term("saturation_voltage", d.VOLTAGE, "collector to emitter voltage of the switch while it is on", bad=1),
    Term("storage_time", d.TIME, "time a bipolar switch conducts on after its drive has gone", bad=1),
    Term("limit_delay", d.TIME, "delay of the limit, with the storage time of a bipolar switch", bad=1),
    Term("forced_gain", d.NUMBER, "peak collector current over base current", bad=1),
    Term("turn_off_current", d.CURRENT, "collector current at turn-off that meets the peak voltage", bad=1),
    Term("voltage_slope", d.VOLTAGE_SLOPE, "greatest rate of voltage change", bad=1),
    Term("junction_capacitance", d.CAPACITANCE, "constant capacitance that takes the charge of a junction"),
    Term("leakage", d.INDUCTANCE, "leakage inductance in the loop of an output rectifier"),
    Term("forward_drop", d.VOLTAGE, "forward drop while it conducts"),
    Term("reflected_voltage", d.VOLTAGE, "secondary voltage seen at the primary"),
    Term("power_carried", d.POWER, "power that passes the primary winding", bad=1),
    Term("current_limit", d.CURRENT, "current at which the switch opens, before its delay"),
    Term("ripple_switching", d.CURRENT, "ripple current at the switching frequency, rms", bad=1),
    Term("ripple_drawn", d.CURRENT, "ripple current that a converter ahead of a port draws, rms", bad=1),
    Term("ripple_with_ports", d.CURRENT, "ripple current with what the converters ahead of ports draw, rms", bad=1),
    Term("ripple_equivalent", d.CURRENT, "ripple current that heats as much at the frequency of the rating", bad=1),
    Term("duty", d.NUMBER, "share of the period the switch is on", bad=1),
    Term("frequency", d.FREQUENCY, "switching frequency"),
    Term("flux_density", d.FLUX_DENSITY, "greatest flux density", bad=1),
    Term("current_density", d.CURRENT_DENSITY, "current density", bad=1),
    Term("touch_current", d.CURRENT, "touch current, rms", bad=1),
    Term("touch_current_peak", d.CURRENT, "touch current, peak", bad=1),
    Term("touch_current_peak_one_shorted", d.CURRENT, "peak touch current with one series capacitor shorted", bad=1),
    Term("bridging_capacitance", d.CAPACITANCE, "all capacitance from primary to secondary", bad=1),
    Term("bridging_capacitance_one_shorted", d.CAPACITANCE, "the same with one of a series shorted", bad=1),
    Term("bridging.series", d.NUMBER, "most capacitors in one series across the barrier"),
    Term("voltage_one_shorted", d.VOLTAGE, "rms voltage with one other in its series shorted", bad=1),
    Term("power_one_shorted", d.POWER, "power with one other in its series shorted", bad=1),
    Term("bleeder.series", d.NUMBER, "resistors in series on its way across the mains", bad=-1),
    Term("bleeder.others", d.RESISTANCE, "resistance of the others in series with it", bad=-1),
    Term("bleeder.others_one_shorted", d.RESISTANCE, "the same with the greatest of them shorted", bad=-1),
    Term("melting_i2t", d.I2T, "I²t at which a track melts", bad=-1),
    Term("line_inductance", d.INDUCTANCE, "inductance ahead of the rectifier", bad=1),
    Term("start_voltage", d.VOLTAGE, "bulk voltage as the mains comes back"),
    Term("circuit.restart", None, "resistance of the mains path at a restart", words=("as cold", "less")),
    Term("clamping_voltage", d.VOLTAGE, "voltage across the varistor during the event", bad=1),
    Term(
        "opening",
        None,
        "opening on the fault",
        words=("shown", "not shown", "nothing to open"),
        how=told("provoke this fault on a spare, and write what opens", "fault"),
    ),
    Term("cleared_by", None, "the part that opens first"),
    Term("current_available", d.CURRENT, "direct current that it can deliver", bad=-1),
    Term("voltage_regulation_lost", d.VOLTAGE, "output voltage with nothing that regulates it and no load", bad=1),
    Term("base_reverse_voltage", d.VOLTAGE, "reverse voltage of the base while the switch is off", bad=1),
    Term("gate_voltage", d.VOLTAGE, "greatest voltage of the gate, either way", bad=1),
    Term("added_current", d.CURRENT, "current added after the switch was told to open", bad=1),
    Term("voltage_clamp_open", d.VOLTAGE, "voltage once what holds it down has opened", bad=1),
    Term("dropping_capacitance", d.CAPACITANCE, "capacitance in series with the mains", bad=-1),
    Term("breakdown_spread", d.NUMBER, "breakdown voltage over the one stated"),
    Term("harmonic_rise", d.NUMBER, "mean square of a capacitor's current over that of a sine", bad=1),
    Term(
        "short_cleared",
        None,
        "opening on a short of the dropping capacitor, at the lowest mains and at the highest",
        words=("shown", "not shown"),
    ),
    Term("power_load_shorted", d.POWER, "power lost in a chip with its LEDs shorted", bad=1),
    Term("current_swing", d.CURRENT, "swing of an inductor's current in one period", bad=1),
    Term("current_valley", d.CURRENT, "current left in an inductor as its switch closes", bad=1),
    Term("current_shorted", d.CURRENT, "peak current into a shorted output, settled", bad=1),
    Term("conduction", None, "whether an inductor runs empty in each period", words=("continuous", "discontinuous")),
    Term("voltage_load_open", d.VOLTAGE, "output voltage once its load has opened", bad=1),
    Term("voltage_feedback_open", d.VOLTAGE, "output voltage once its feedback has opened", bad=1),
    Term(
        "switch_short",
        None,
        "what becomes of a shorted switch",
        words=("borne", "clamped and opened", "clamped and not shown to open", "not held"),
    ),
    Term("ripple_slow", d.VOLTAGE, "ripple at twice the mains frequency, peak to peak", bad=1),
    Term("ripple_share", d.NUMBER, "ripple at twice the mains frequency over the output voltage", bad=1),
    Term("opening_power", d.POWER, "power above which the maker's table says it opens", bad=1),
)
STRESS |= STRESS_CAPACITORS

STRESS |= COUPLER_STRESS
SUPPLY_FACTS |= CONTROL_PARTS

VOCABULARY: dict[str, Term] = RATED | PART | SUPPLY_FACTS | TRANSFORMER | BARRIER | ALLOWED | STRESS | BENCH


# Paths of the circuit and blocks that findings wait for, and that are no single fact.
_UNDER_CIRCUIT = {
    "circuit.drive": "drive of the switch, under circuit",
    "circuit.line": "path of the mains, as line under circuit",
    "circuit.outputs": "paths of the outputs, under circuit",
    "circuit.primary": "path of the primary, under circuit",
    "circuit.start_up": "start-up path, under circuit",
    "control.by": "part that controls it, as by under control",
    "plate.outputs": "outputs of the plate",
}


def said(name: str) -> str:
    """A quantity in words, for a person; of what has no term (of a table, of a step) its name spelled out."""
    term = VOCABULARY.get(name)
    if term is not None:
        return term.says
    if name in _UNDER_CIRCUIT:
        return _UNDER_CIRCUIT[name]
    fact, at, where = name.partition(" at ")  # a fact at one point of its table
    if at and fact in VOCABULARY:
        return f"{VOCABULARY[fact].says} at {where}"
    return name if " " in name else name.removeprefix("table.").replace("_", " ").replace(".", " ")


# Rows on the way to others: not for files, rules or packs, and without a term of their own. None for words.
STEPS: dict[str, Dimension | None] = {
    "base_current": d.CURRENT,
    "base_emitter_threshold": d.VOLTAGE,
    "collector_swing_time": d.TIME,
    "control.by": None,
    "core_saturation": d.FLUX_DENSITY,
    "discharge_after_fault": d.VOLTAGE,
    "drain_capacitance": d.CAPACITANCE,
    "gain_range": d.NUMBER,
    "gain_spread": d.NUMBER,
    "idle_time": d.TIME,
    "junction_range": d.CELSIUS,
    "on_resistance_ratio": d.NUMBER,
    "output_charge": d.CHARGE,
    "rated_life": d.TIME,
    "recovery": d.TIME,
    "switching_edge": d.TIME,
    "thermal_resistance": d.THERMAL_RESISTANCE,
}

DIMENSIONS: dict[str, Dimension] = {
    name: term.dimension for name, term in VOCABULARY.items() if term.dimension is not None
}

# What every row of a ledger is shown in.
SHOWN_IN: dict[str, Dimension] = DIMENSIONS | {
    name: dimension for name, dimension in STEPS.items() if dimension is not None
}
