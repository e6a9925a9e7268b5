"""What an output gives each cell of a battery that it charges, whatever stands ahead of it.

The end of the charge over all tolerances of the charger is worked out where a topology does so itself; of any other it
is a hole, for the plate says what the charger is for and not where it stops.
"""

from __future__ import annotations

from derate.circuit.elementary import ratio
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, sized
from derate.terms.quantities import RUNNING, each

A_CELL = Model.of("voltage of a cell", ratio("voltage", "whole", "cells"), "definition", "voltage / cells in series")
_NOT_WORKED_OUT = "not covered: where a charger of this topology ends the charge, and what it gives once it does not"


def solve_charging(context: Context) -> None:
    """Voltages of a cell of every output that charges a battery, or may."""
    for output in [one for one in context.ledger.subjects("output") if _charges(context, one)]:
        cells = context.need(output, "battery.cells")
        plate = sized(context, context.need(output, "plate.voltage"))
        context.ledger.work_out(A_CELL, {"whole": plate, "cells": cells}, [(output, "plate_cell_voltage", "voltage")])
        lost = context.fact(output, "voltage_regulation_lost", Case(RUNNING))
        for quantity in each("cell_voltage", "cell_voltage_lost"):
            for case in context.plan.cases([quantity], [RUNNING]):
                if context.fact(output, quantity, case) is not None:
                    continue
                if quantity == "cell_voltage_lost" and lost is not None:
                    context.ledger.work_out(
                        A_CELL, {"whole": lost, "cells": cells}, [(output, quantity, "voltage")], case=case
                    )
                else:
                    context.ledger.hole(output, quantity, _lacks(context, cells), case=case, note=_NOT_WORKED_OUT)


def _charges(context: Context, output: Subject) -> bool:
    kind = context.fact(output, "battery.kind")
    return kind is not None and context.word(output, "battery.kind") != "none"


def _lacks(context: Context, cells: Entry) -> tuple[OpenFact, ...]:
    return cells.missing or context.plan.lacking(RUNNING)
