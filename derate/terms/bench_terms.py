"""The names of what the bench tells: readings held against the computation, captures, the plate against load tests."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.dimension import YES_NO, Term, terms

_LOAD_TEST = "load test: draw the marked current at the lowest and the highest mains of the plate, and read the output"

WITHIN, BEYOND = "within both tolerances", "beyond both tolerances"  # of two figures that are held together

BENCH = terms(
    Term(
        "reading.apart",
        d.NUMBER,
        "distance of reading and computation over the sum of their tolerances",
        bad=1,
        how="read it again with a second instrument, and check the parts that the computation rests on",
    ),
    Term("reading.agreement", None, "reading against computation at its own condition"),
    Term("reading.compared", None, "whether the tool works out what was read", words=YES_NO),
    Term("test.against", None, "hazard that the outcome of a test speaks of", words=("fire", "shock", "none")),
    Term("test.outcome", None, "outcome of a test", words=("favourable", "adverse"), how="write down what was seen"),
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
        how="load test at the lowest mains of the plate, with the output voltage read at the marked current",
    ),
    Term(
        "shut_down_current",
        d.CURRENT,
        "output current at which it shuts down",
        how="raise the load slowly until it shuts down or the output collapses, behind an isolating transformer",
    ),
    Term(
        "regulation",
        d.NUMBER,
        "greatest departure of the output voltage from the plate, over all readings",
        bad=1,
        how="read the output voltage without load and at the marked current, at both ends of the mains",
    ),
    Term(
        "read_ripple",
        d.VOLTAGE,
        "ripple of the output as read, peak to peak",
        bad=1,
        how="scope with the probe's ground spring at the output, 20 MHz bandwidth, at the marked current",
    ),
    Term(
        "read_mains_current",
        d.CURRENT,
        "mains current as read at the lowest mains and full load",
        bad=1,
        how="true-rms meter in the line at full load and the lowest mains of the plate",
    ),
    Term(
        "read_efficiency",
        d.NUMBER,
        "output power over mains power, as read at full load",
        bad=-1,
        how="power meter at the plug, voltage and current at the output, at the marked current",
    ),
    Term(
        "no_load_power",
        d.POWER,
        "mains power without load, as read",
        bad=1,
        how="power meter that resolves 10 mW, output open, after ten minutes",
    ),
    Term(
        "enclosure_temperature",
        d.CELSIUS,
        "case temperature of the enclosure, carried to the hottest ambient",
        bad=1,
        how="thermocouple on the hottest spot of the case at the marked current, until it no longer rises",
    ),
    Term(
        "empty_filter_positions",
        None,
        "positions of filter parts that are empty or wired over",
        how="go over the board position by position, and say of an empty one what it was meant for",
    ),
    Term(
        "overload_held",
        None,
        "whether an overload just below shut-down was held to a steady temperature",
        words=YES_NO,
        how="hold the load just below shut-down for an hour and more, with thermocouples on winding and case",
    ),
    Term("overload_read", None, "whether a temperature was read in overload", words=YES_NO),
    Term(
        "overload_winding_temperature",
        d.CELSIUS,
        "winding temperature held just below shut-down, carried to the hottest ambient",
        bad=1,
        how="thermocouple on the winding, the load held just below shut-down until it no longer rises",
    ),
    Term(
        "overload_enclosure_temperature",
        d.CELSIUS,
        "case temperature held just below shut-down, carried to the hottest ambient",
        bad=1,
        how="thermocouple on the hottest spot of the case, the load held just below shut-down",
    ),
    Term("ports", d.NUMBER, "output ports on the plate"),
    Term(
        "held_together",
        d.CURRENT,
        "sum of the currents held with all ports loaded at once",
        bad=-1,
        how="load every port with its marked current at the same time, and read each voltage",
    ),
    Term("ports_current", d.CURRENT, "sum of the currents on the plate over all ports", bad=1),
    Term(
        "port.kind",
        None,
        "kind of output port",
        words=("USB", "cable", "terminals", "barrel"),
        how="look at the connector",
    ),
    Term(
        "port.data_lines",
        None,
        "what a charging port does with its two data lines",
        words=("joined", "divider", "controller", "open"),
        how="ohmmeter from one data line to the other, the supply unplugged: joined is under 200 ohm",
    ),
    Term("core.gap_compared", None, "whether the gap is held against inductance, turns and core area", words=YES_NO),
    Term("core.gap_agreement", None, "gap measured against the gap that inductance, turns and core area need"),
    Term("worked_gap", d.LENGTH, "gap that the inductance needs, by turns and core area"),
    Term(
        "transformer.shields",
        None,
        "shields between the windings, tied to a quiet point",
        words=YES_NO,
        how="say what each shield is tied to, and list the layers of the transformer",
    ),
)
