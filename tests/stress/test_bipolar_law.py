"""The blocking law on a bipolar charger and on a snubbed rectifier: losing or blurring a fact never opens a gate.

As `test_converter_law`, on a charger whose switch turns off outside its area, whose junction is too hot, and on a
rectifier whose snubber does not damp enough.

    pytest tests/stress/test_bipolar_law.py --brute-force     every change of every row; without it one in four
"""

from __future__ import annotations

import pytest
from brute_force import share
from law_rows import worse_rows
from test_bipolar_switch import CHARGER
from test_converter_law import Replayed, blocking
from test_snubber_damping import SNUBBED

from derate.design.facts import facts
from derate.design.load import read_design

SHARE = share(4)
POOR = (
    (CHARGER, "550 V: 0.9 A, 700 V: 0.7 A", "550 V: 0.2 A, 700 V: 0.1 A", "bipolar-switch-turn-off-area"),
    (CHARGER, "junction_to_air: 89 K/W", "junction_to_air: 20000 K/W", "switch-junction-temperature"),
    (SNUBBED, "reverse_voltage: 100 V, current: 5 A", "reverse_voltage: 60 V, current: 5 A",
     "output-rectifier-reverse-voltage"),
    (SNUBBED, "film resistor 22 ohm", "film resistor 300 ohm", "output-rectifier-reverse-voltage"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "old", "new", "rule"), POOR, ids=[one[3] + " " + one[2][:24] for one in POOR])
def test_nothing_that_is_lost_opens_a_gate(text: str, old: str, new: str, rule: str) -> None:
    assert text.count(old) == 1
    design = read_design(text.replace(old, new), "law.derate.yaml")
    rows = list(facts(design))
    before = {one for one in blocking(design, rows) if one[0] == rule}
    assert before, f"{rule} does not stop to begin with"
    replayed = Replayed(design)
    opened, count = [], 0
    for number, row in enumerate(rows):
        for what, new_row in worse_rows(row, thorough=False):
            count += 1
            if count % SHARE:
                continue
            changed = [*rows[:number], *([new_row] if new_row is not None else []), *rows[number + 1 :]]
            if before - replayed.blocking(changed):
                opened.append(f"{row.subject}: {row.quantity} {what}")
    assert count > 100 and opened == []
