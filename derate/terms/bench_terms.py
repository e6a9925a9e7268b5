"""The names of what the bench tells, and of what insulation needs and has."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.dimension import YES_NO, Term, terms
from derate.terms.instructions import closed, destructive, opened, papers, running, told

# The names of what the bench tells: readings held against the computation, captures, the plate against load tests.


_LOAD_TEST = running(
    "load test: draw the marked current at the lowest and the highest mains of the plate, and read the output"
)

WITHIN, BEYOND = "within both tolerances", "beyond both tolerances"  # of two figures that are held together

BENCH = terms(
    Term(
        "reading.apart",
        d.NUMBER,
        "distance of reading and computation over the sum of their tolerances",
        bad=1,
        how=told(
            "read it again with a second instrument, and check the parts that the computation rests on",
            "opened",
            "running",
            "probed",
        ),
    ),
    Term("reading.agreement", None, "reading against computation at its own condition"),
    Term("reading.compared", None, "whether the tool works out what was read", words=YES_NO),
    Term(
        "reading.against", None, "what a reading is held against", words=("voltage", "current", "temperature", "none")
    ),
    Term("reading.voltage", d.VOLTAGE, "voltage as read", bad=1),
    Term("allowed.reading_voltage", d.VOLTAGE, "voltage of its rating", bad=-1),
    Term("reading.current", d.CURRENT, "current as read", bad=1),
    Term("allowed.reading_current", d.CURRENT, "current of its rating", bad=-1),
    Term("reading.temperature", d.CELSIUS, "temperature as read", bad=1),
    Term("allowed.reading_temperature", d.CELSIUS, "greatest temperature of its rating", bad=-1),
    Term("reading.unused", None, "whether nothing can use a reading", words=YES_NO),
    Term("reading.heard", None, "what came of a reading", words=YES_NO),
    Term("test.against", None, "hazard that the outcome of a test speaks of", words=("fire", "shock", "none")),
    Term(
        "test.outcome",
        None,
        "outcome of a test",
        words=("favourable", "adverse"),
        how=papers("write down what was seen"),
    ),
    Term(
        "test.figure",
        None,
        "what the figure is that a test came to",
        words=("insulation resistance", "earth resistance", "voltage left", "discharge time", "none"),
    ),
    Term("test.insulation_resistance", d.RESISTANCE, "insulation resistance as tested", bad=-1),
    Term("test.earth_resistance", d.RESISTANCE, "resistance from the earth pin as tested", bad=1),
    Term("test.voltage_left", d.VOLTAGE, "voltage left at the pins as tested", bad=1),
    Term("test.discharge_time", d.TIME, "time in which the pins discharge as tested", bad=1),
    Term("held_current", d.CURRENT, "greatest output current held at any mains tried", bad=-1, how=_LOAD_TEST),
    Term(
        "held_current_low_mains",
        d.CURRENT,
        "greatest output current held at the lowest mains of the plate",
        bad=-1,
        how=running("load test at the lowest mains of the plate, with the output voltage read at the marked current"),
    ),
    Term(
        "shut_down_current",
        d.CURRENT,
        "output current at which it shuts down",
        how=told("raise the load slowly until it shuts down or the output collapses", "overload"),
    ),
    Term(
        "greatest_shut_down_current",
        d.CURRENT,
        "greatest output current at which it shuts down",
        how=told("raise the load slowly until it shuts down or the output collapses", "overload"),
    ),
    Term(
        "regulation",
        d.NUMBER,
        "greatest departure of the output voltage from the plate, as a share of it, over all readings",
        bad=1,
        how=running("read the output voltage without load and at the marked current, at both ends of the mains"),
    ),
    Term(
        "read_ripple",
        d.VOLTAGE,
        "ripple of the output as read, peak to peak",
        bad=1,
        how=running(
            "scope with a differential probe and short leads at the output, 20 MHz bandwidth, at the marked "
            "current; a ground spring only where the output is shown to be isolated"
        ),
    ),
    Term(
        "read_mains_current",
        d.CURRENT,
        "mains current as read at the lowest mains and full load",
        bad=1,
        how=running(
            "true-rms power meter made for mains, between socket and plug, at full load and the lowest mains of the "
            "plate"
        ),
    ),
    Term(
        "read_efficiency",
        d.NUMBER,
        "output power over mains power, as read at full load",
        bad=-1,
        how=running(
            "power meter made for mains, between socket and plug; voltage and current at the output, at the marked "
            "current"
        ),
    ),
    Term(
        "plate.output_power",
        d.POWER,
        "output power on the plate, all outputs together",
        how=closed("read the rating plate"),
    ),
    Term(
        "plate.output_count",
        None,
        "outputs on the plate",
        words=("one", "several"),
        how=closed("read the rating plate"),
    ),
    Term(
        "read_efficiency_greatest",
        d.NUMBER,
        "output power over mains power, the greatest that was read",
        bad=1,
        how=running("power meter at the plug, voltage and current at the output, both at the same time"),
    ),
    Term(
        "plate_power_ratio",
        d.NUMBER,
        "output power over mains power, both of the plate",
        bad=1,
        how=closed("read the rating plate: voltage and current of mains and outputs"),
    ),
    Term(
        "set_ratio",
        d.NUMBER,
        "output voltage that the divider sets, over that on the plate",
        how=opened("trace the divider of what is sensed, and read its resistors and the voltage of the reference"),
    ),
    Term(
        "no_load_power",
        d.POWER,
        "mains power without load, as read",
        bad=1,
        how=running(
            "power meter made for mains that resolves 10 mW, between socket and plug, nothing on the output, after "
            "ten minutes"
        ),
    ),
    Term(
        "enclosure_temperature",
        d.CELSIUS,
        "case temperature of the enclosure, carried to the hottest ambient",
        bad=1,
        how=told(
            "thermocouple on the hottest spot of the case at the marked current, until it no longer rises",
            "running",
            "sensor",
        ),
    ),
    Term(
        "empty_filter_positions",
        None,
        "positions of filter parts that are empty or wired over",
        how=opened("go over the board position by position, and say of an empty one what it was meant for"),
    ),
    Term(
        "overload_held",
        None,
        "whether an overload just below shut-down was held to a steady temperature",
        words=YES_NO,
        how=told(
            "hold the load just below shut-down for an hour and more, with thermocouples on winding and case",
            "overload",
            "sensor",
        ),
    ),
    Term("overload_read", None, "whether a temperature was read in overload", words=YES_NO),
    Term(
        "overload_winding_temperature",
        d.CELSIUS,
        "winding temperature held just below shut-down, carried to the hottest ambient",
        bad=1,
        how=told(
            "thermocouple on the winding, the load held just below shut-down until it no longer rises",
            "overload",
            "sensor",
        ),
    ),
    Term(
        "overload_enclosure_temperature",
        d.CELSIUS,
        "case temperature held just below shut-down, carried to the hottest ambient",
        bad=1,
        how=told(
            "thermocouple on the hottest spot of the case, the load held just below shut-down", "overload", "sensor"
        ),
    ),
    Term("ports", d.NUMBER, "output ports on the plate"),
    Term(
        "held_together",
        d.CURRENT,
        "sum of the currents held with all ports loaded at once",
        bad=-1,
        how=running("load every port with its marked current at the same time, and read each voltage"),
    ),
    Term(
        "port.kind",
        None,
        "kind of output port",
        words=("USB", "cable", "terminals", "barrel"),
        how=closed("look at the connector"),
    ),
    Term(
        "port.data_lines",
        None,
        "what a charging port does with its two data lines",
        words=("joined", "divider", "controller", "open"),
        how=closed("ohmmeter from one data line to the other, the supply unplugged: joined is under 200 ohm"),
    ),
    Term(
        "port.lead_current",
        d.CURRENT,
        "current that output lead, connector and terminals may carry, the least of them",
        bad=-1,
        how=closed("cross-section of the lead against its table, rating of connector and terminals by their makers"),
    ),
    Term("port.shape", None, "what stands between bus and port", words=("direct", "load switch", "buck")),
    Term("port.clamped", None, "whether a clamp lies across a port", words=YES_NO),
    Term("port.guarded", None, "whether something opens a port that is too high", words=YES_NO),
    Term(
        "port.connector",
        None,
        "connector of a port",
        words=("USB-C", "USB-A", "barrel", "terminals", "cable"),
        how=closed("look at the connector"),
    ),
    Term(
        "port.advertised",
        d.CURRENT,
        "current that a port advertises, by its voltage",
        over=d.VOLTAGE,
        bad=1,
        how=closed("read the plate, and every voltage with its current that the port offers off a tester in series"),
    ),
    Term(
        "port.every_offer",
        None,
        "whether every voltage that a port offers is stated with its current",
        words=YES_NO,
        how=closed("step a tester through every voltage that the port can be asked for, and write each that it grants"),
    ),
    Term("port.current_most", d.CURRENT, "greatest current that a port advertises", bad=1),
    Term("port.voltage_most", d.VOLTAGE, "greatest voltage that a port advertises", bad=1),
    Term(
        "port.efficiency",
        d.NUMBER,
        "efficiency from bus to port",
        bad=-1,
        how=running("load the port, and read voltage and current of bus and port at the same time"),
    ),
    Term(
        "port.frequency",
        d.FREQUENCY,
        "switching frequency of the converter ahead of a port",
        bad=-1,
        how=papers("read it from the data sheet of its controller, with its spread"),
    ),
    Term(
        "port.overvoltage_stop",
        d.VOLTAGE,
        "voltage of the port at which what guards it acts, by what is advertised at that moment",
        over=d.VOLTAGE,
        bad=1,
        how=papers("read it from the data sheet of what guards the port, with its spread"),
    ),
    Term(
        "port.blocks",
        None,
        "whether the load switch, once open, blocks from the bus to the port",
        words=YES_NO,
        how=opened(
            "look which way round it lies: a body diode that points to the port conducts; two back to back block"
        ),
    ),
    Term(
        "port.sensed_apart",
        None,
        "whether what guards a port senses it by a path of its own, and not by the feedback of its converter",
        words=YES_NO,
        how=opened(
            "trace from the pin that senses the over-voltage: to the port by a divider of its own, or to the feedback"
        ),
    ),
    Term(
        "port.overvoltage_delay",
        d.TIME,
        "time from there until the load switch has opened",
        bad=1,
        how=papers("add the delay of what guards the port and the turn-off time of the load switch"),
    ),
    Term(
        "port.reads_cable",
        None,
        "whether a port asks the cable what it carries before it advertises more than 3 A",
        words=YES_NO,
        how=told(
            "ask its maker, or read the offers through a cable without a mark, and look for 3 A", "papers", "closed"
        ),
    ),
    Term(
        "sharing.power",
        d.POWER,
        "power that all ports together are held to",
        bad=1,
        how=papers("read it from the plate or the data sheet of the part that shares it out"),
    ),
    Term("sharing.held", None, "whether a part holds the ports to a sum", words=YES_NO),
    Term("part.at_ports", None, "whether it lies where converters ahead of ports draw their pulses", words=YES_NO),
    Term("output.feeds_ports", None, "whether ports are fed from an output", words=YES_NO),
    Term("bus_voltage", d.VOLTAGE, "voltage of the bus that ports are fed from", bad=1),
    Term("bus_current", d.CURRENT, "current that a port draws from the bus at the most it advertises", bad=1),
    Term("ports_current", d.CURRENT, "sum of the currents on the plate over all ports", bad=1),
    Term("ports_bus_current", d.CURRENT, "current that all ports together draw from their bus", bad=1),
    Term("allowed.bus_current", d.CURRENT, "current that the stage is made to give into the bus", bad=-1),
    Term("stage_voltage", d.VOLTAGE, "greatest voltage of the bus that the stage is worked out for", bad=-1),
    Term("voltage_switch_shorted", d.VOLTAGE, "voltage behind a switch once that has shorted", bad=1),
    Term("voltage_reached", d.VOLTAGE, "greatest voltage that a converter ahead of a port reaches", bad=-1),
    Term("current_at_limit", d.CURRENT, "peak current at the limit with what its delay adds", bad=1),
    Term(
        "overvoltage_switch_shorted",
        d.NUMBER,
        "voltage at the port over what it advertises then, switch shorted",
        bad=1,
    ),
    Term(
        "overvoltage_feedback_open", d.NUMBER, "voltage at the port over what it advertises then, feedback open", bad=1
    ),
    Term(
        "overvoltage_load_switch_shorted",
        d.NUMBER,
        "voltage at the port over what it advertises then, load switch shorted",
        bad=1,
    ),
    Term(
        "overvoltage_by_another",
        d.NUMBER,
        "voltage at the port over what it advertises then, another port raised",
        bad=1,
    ),
    Term(
        "overvoltage_regulation_lost",
        d.NUMBER,
        "voltage at the port over what it advertises then, regulation of the stage lost",
        bad=1,
    ),
    Term("clamp_margin", d.NUMBER, "where the clamp across a port begins, over the most that is advertised", bad=-1),
    Term(
        "stop_margin", d.NUMBER, "least voltage at which what guards a port acts, over what is advertised then", bad=-1
    ),
    Term(
        "control.frequency_compared", None, "whether a stated frequency is held against the stage's own", words=YES_NO
    ),
    Term("control.frequency_agreement", None, "switching frequency stated against the one worked out"),
    Term("core.gap_compared", None, "whether the gap is held against inductance, turns and core area", words=YES_NO),
    Term("core.gap_agreement", None, "gap measured against the gap that inductance, turns and core area need"),
    Term("worked_gap", d.LENGTH, "gap that the inductance needs, by turns and core area"),
    Term(
        "transformer.shields",
        None,
        "shields between the windings, tied to a quiet point",
        words=YES_NO,
        how=destructive("say what each shield is tied to, and list the layers as they are unwound"),
    ),
)


# The names of what insulation needs and has: steps of a requirement, windings, bridges, plug, case and tests.


_NEEDED = ("none", "functional", "basic", "reinforced")
_LOOK = opened("look at the opened sample")
# Flame classes of plastics, by the mark. Source: IEC 60695-11-10 and -11-20 (V-0 to V-2, HB, 5VA and 5VB).
FLAME_CLASSES = ("V-0", "V-1", "V-2", "5VA", "5VB", "HB")
# How a sheet in a barrier is held, and words that say it is not.
SHEET_HELD = ("glued", "moulded", "riveted", "screwed", "clipped", "soldered", "fixed")
SHEET_LOOSE = ("loose", "none", "not held", "lying")

INSULATION = terms(
    # what a requirement is worked out from
    Term("insulation.mains", d.VOLTAGE, "nominal mains to neutral that insulation is held to"),
    Term(
        "insulation.overvoltage_category",
        None,
        "overvoltage category used",
        words=("I", "II", "III", "IV"),
        how=papers("II when plugged in, III when wired in"),
    ),
    Term(
        "insulation.pollution_degree",
        None,
        "pollution degree used",
        words=("1", "2", "3", "4"),
        how=papers("2 indoors in an office or home; look for dust and damp"),
    ),
    Term("insulation.material_group", None, "material group used", words=("I", "II", "IIIa", "IIIb")),
    Term("insulation.altitude", d.LENGTH, "altitude used", how=papers("ask where it will be used or sold")),
    Term("insulation.altitude_factor", d.NUMBER, "altitude factor on clearance"),
    Term("insulation.highest_mains", d.VOLTAGE, "highest mains voltage, tolerance included"),
    Term("insulation.highest_frequency", d.FREQUENCY, "highest mains frequency"),
    Term("insulation.frequency", d.FREQUENCY, "frequency of the voltage across the insulation"),
    Term("insulation.working_voltage", d.VOLTAGE, "rms working voltage used", bad=1),
    Term("insulation.working_voltage_peak", d.VOLTAGE, "peak working voltage used", bad=1),
    # what is needed, step by step
    Term("needed.insulation", None, "insulation needed", words=_NEEDED),
    Term("needed.raised_impulse", d.VOLTAGE, "impulse voltage raised by the working peak", bad=1),
    Term("needed.temporary_overvoltage", d.VOLTAGE, "temporary overvoltage to be held", bad=1),
    Term("needed.clearance_by_impulse", d.LENGTH, "clearance by impulse", bad=1),
    Term("needed.clearance_by_peak", d.LENGTH, "clearance by recurring peak", bad=1),
    Term("needed.clearance_by_overvoltage", d.LENGTH, "clearance by temporary overvoltage", bad=1),
    Term("needed.clearance_stricter", d.LENGTH, "clearance by the stricter of two readings", bad=1),
    Term("needed.clearance_up_to_2000_m", d.LENGTH, "clearance needed up to 2000 m", bad=1),
    Term("needed.creepage_basic", d.LENGTH, "creepage of basic insulation", bad=1),
    Term("needed.strength_above_30_khz", d.VOLTAGE, "electric strength of solid insulation above 30 kHz", bad=1),
    Term("needed.margin", d.LENGTH, "margin needed at each end of the winding", bad=1),
    # what lies between two circuits
    Term(
        "barrier.role",
        None,
        "what the place separates",
        words=(
            "mains poles ahead of the fuse",
            "mains poles behind the fuse",
            "across the fuse",
            "across a series part",
            "primary to secondary",
            "primary to earth",
            "primary to touchable parts",
            "secondary to earth",
            "within one circuit",
        ),
    ),
    Term("barrier.sheet", None, "whether a sheet stands in the barrier", words=YES_NO),
    Term("barrier.body", None, "whether the path runs over the body of a part", words=YES_NO),
    Term(
        "barrier.own_standard",
        None,
        "whether the part is made to the standard of its own kind",
        words=YES_NO,
        how=papers("read the mark or the certificate of that type"),
    ),
    Term("barrier.two_readings", None, "whether laboratories read the table in two ways there", words=YES_NO),
    Term("needed.creepage_next_row", d.LENGTH, "creepage needed by the next row of the table", bad=1),
    Term("needed.creepage_both_readings", d.LENGTH, "creepage needed, between the rows and by the next row", bad=1),
    Term("barrier.solid", None, "whether solid insulation without a sheet is stated for it", words=YES_NO),
    Term("barrier.touching", None, "whether both ends touch through solid insulation, without air", words=YES_NO),
    Term(
        "barrier.stated_enough",
        None,
        "whether the insulation stated is as strong as its ends ask",
        words=("yes", "no", "nothing stated"),
        how=opened("look at what lies between, and write what it is"),
    ),
    Term("found.path", None, "weakest path"),
    Term("transformer.core_side", None, "side the core belongs to", words=("primary", "secondary", "floating")),
    Term(
        "transformer.core_path",
        None,
        "whether the core's distance to the other side is stated",
        words=YES_NO,
        how=_LOOK,
    ),
    Term(
        "transformer.core_faces",
        None,
        "whether the core faces the other side through the bobbin",
        words=YES_NO,
        how=destructive("list the layers from the core outwards, and say what the core is tied to"),
    ),
    Term(
        "transformer.core_wire",
        None,
        "wire of the winding on the bobbin",
        words=("enamelled", "insulated", "triple-insulated", "foil"),
        how=opened("look at the wire under a lens"),
    ),
    Term(
        "found.bobbin_wall",
        d.LENGTH,
        "thickest single layer between core and winding",
        bad=-1,
        how=destructive("micrometer on the wall of the bobbin, once unwound"),
    ),
    Term(
        "found.core_layers",
        d.NUMBER,
        "layers of tape between bobbin and winding",
        bad=-1,
        how=destructive("count the layers round the core as it is taken apart"),
    ),
    # transformer
    Term("found.tape_boundary", None, "where the fewest layers lie"),
    Term(
        "transformer.barrier_wire",
        None,
        "best insulated wire on either side of the barrier",
        words=("enamelled", "insulated", "triple-insulated", "foil", "separate chambers"),
        how=opened("look at the wire under a lens; the maker's name for it"),
    ),
    Term("needed.wire_insulation", d.LENGTH, "insulation of a winding wire needed", bad=1),
    Term("transformer.lead_sleeves", None, "sleeves of leads that fly", words=("found", "absent")),
    Term("transformer.crossing_sleeves", None, "sleeves of leads that cross the other side", words=("found", "absent")),
    Term(
        "found.withstand",
        d.VOLTAGE,
        "voltage the part withstands between its sides, peak",
        bad=-1,
        how=papers("isolation voltage in its data sheet, rms for one minute"),
    ),
    Term(
        "tape_test.voltage",
        d.VOLTAGE,
        "test voltage on single layers of tape, peak",
        bad=-1,
        how=told("electric strength of one layer of the real tape, on a spare", "destructive", "high voltage"),
    ),
    Term("tape_test.result", None, "outcome of the test on single layers of tape"),
    # bridging parts
    Term(
        "bridge.kind",
        None,
        "kind of bridging part",
        words=("capacitor", "optocoupler", "resistor", "spark gap", "other"),
    ),
    Term("bridge.class", None, "class of the bridging capacitor", words=("X1", "X2", "Y1", "Y2", "unmarked")),
    Term(
        "bridge.provides", None, "insulation the bridging part makes", words=_NEEDED, how=opened("read the class mark")
    ),
    Term("bridge.rated_voltage", d.VOLTAGE, "least rated voltage of the bridging parts", bad=-1),
    Term("bridge.pads", None, "whether the distance at its pads is stated", words=YES_NO, how=_LOOK),
    Term("needed.bridge_voltage", d.VOLTAGE, "rated voltage a bridging part needs", bad=1),
    Term(
        "winding_capacitance",
        d.CAPACITANCE,
        "capacitance between the windings",
        bad=1,
        how=opened("capacitance meter, primary pins joined against secondary pins joined"),
    ),
    Term("needed.touch_current_peak", d.CURRENT, "touch current allowed, peak", bad=-1),
    Term(
        "touch_current_measured",
        d.CURRENT,
        "touch current measured",
        bad=1,
        how=told("have it measured", "touch current", "third party"),
    ),
    # plug
    Term("plug.capacitance", d.CAPACITANCE, "capacitance across the mains ahead of the rectifier", bad=1),
    Term("plug.resistance", d.RESISTANCE, "resistance across the mains ahead of the rectifier", bad=1),
    Term("plug.resistance_one_open", d.RESISTANCE, "the same with one resistor open", bad=1),
    Term("plug.time_constant", d.TIME, "time constant of the charge at the plug", bad=1),
    Term("plug.voltage_after_1_s", d.VOLTAGE, "voltage left at the plug after 1 s", bad=1),
    Term("plug.voltage_after_2_s", d.VOLTAGE, "voltage left at the plug after 2 s", bad=1),
    Term("plug.voltage_after_2_s_one_open", d.VOLTAGE, "the same with one resistor open", bad=1),
    Term("needed.plug_voltage", d.VOLTAGE, "voltage that may be left at the plug", bad=-1),
    Term("needed.plug_voltage_one_open", d.VOLTAGE, "the same with one resistor open", bad=-1),
    # tests and looks
    Term("test.time", d.TIME, "duration of the test", bad=-1),
    Term("insulation_reading.voltage", d.VOLTAGE, "voltage of the insulation-resistance reading"),
    Term(
        "inspection.opens_by_hand",
        None,
        "whether the case opens by hand",
        words=YES_NO,
        how=closed("twist, lever and press the shut case; once it gives, unplug for good and treat it as opened"),
    ),
    Term(
        "inspection.enclosure_flame_class",
        None,
        "flame class of the enclosure",
        words=FLAME_CLASSES,
        how=opened("look for the mark moulded inside the case"),
    ),
    Term(
        "inspection.copper_under_sheet", None, "copper, via or solder under a part or sheet of the barrier", how=_LOOK
    ),
    Term("inspection.solder_blobs", None, "solder blobs or loose strands at the barrier", how=_LOOK),
    Term("inspection.scorch_marks", None, "scorch marks, browned or bulging parts", how=_LOOK),
    Term("inspection.shared_ribbon", None, "one ribbon or cable with both sides in it", how=_LOOK),
    Term("inspection.touchable_output", None, "touchable output, metal or connector", how=_LOOK),
    Term(
        "inspection.pin_edge_to_face_edge",
        d.LENGTH,
        "pin edge to edge of the plug face",
        bad=-1,
        how=closed("calliper, from pin edge to face edge"),
    ),
    Term(
        "inspection.pin_sleeves",
        None,
        "insulating sleeves on the live pins",
        words=("found", "none"),
        how=closed("look at the plug"),
    ),
    Term(
        "inspection.plug_pattern",
        None,
        "pattern of its plug",
        words=("British", "European", "American", "another"),
        how=closed("look at the pins; British, European or another"),
    ),
    Term(
        "inspection.pin_thickness",
        d.LENGTH,
        "thickness of the live pins",
        bad=1,
        how=closed("micrometer across the pin"),
    ),
    Term(
        "inspection.pin_breadth", d.LENGTH, "breadth of the live pins", bad=1, how=closed("micrometer across the pin")
    ),
    Term(
        "inspection.wire_reach",
        None,
        "wires that reach the other side of the barrier once a joint comes loose",
        how=opened("take each wire at its joint and see how far its free end would reach"),
    ),
    Term(
        "inspection.pins_held",
        None,
        "how the live pins are held in the body of the plug",
        words=("fixed", "turn", "loose", "stay behind"),
        how=closed("twist and pull each pin by hand; look at the socket after drawing it, and put nothing into it"),
    ),
    Term(
        "inspection.cord_held",
        None,
        "how the mains cord is held where it enters",
        words=("held", "slips", "turns", "none"),
        how=opened("pull, push and twist the cord by hand, and watch it inside"),
    ),
    Term(
        "inspection.lamp_head",
        None,
        "whether the head of a lamp that turns has a stop",
        words=("fixed", "stop", "no stop"),
        how=closed("turn the head both ways by hand, out of its socket"),
    ),
    Term(
        "inspection.lamp_cap",
        None,
        "whether the cap of a lamp keeps its gauge",
        words=("in gauge", "out of gauge"),
        how=closed("the gauges of its cap, or its sizes by calliper against the sheet of the cap"),
    ),
    Term("inspection.touchable_leads", None, "sensor, antenna, dimming or other leads that can be touched", how=_LOOK),
    Term(
        "inspection.touchable_metal",
        None,
        "metal that can be touched and lies at the circuit or is joined to it, such as a screw of a heat sink",
        how=opened("ohmmeter from every screw and metal part outside to the circuit, unplugged and discharged"),
    ),
    Term("touchable_leads.judged", None, "whether a place to what can be touched is described for them", words=YES_NO),
    Term("touchable_metal.judged", None, "whether a place to what can be touched is described for it", words=YES_NO),
    Term(
        "inspection.plug_fuse",
        None,
        "fuse in the plug",
        how=closed(
            "take the fuse out of the unplugged plug: full length, caps tight, marked breaking capacity; write "
            "sound, or what is wrong with it"
        ),
    ),
)
