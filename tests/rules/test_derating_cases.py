"""Published examples and field cases of the trade, judged by the shipped rules.

Each row of tests/data/rule_cases.json names where it was printed. The rows give stress and rating as printed, so no
tolerance is needed: the verdict is exact. Where the figure itself has to be worked out, the tolerance is argued below.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest

from derate.circuit.pulse import PULSE_FRACTIONS, pulse_fraction, worst_switch_on
from derate.judge.trials import run_trial
from derate.packs.load import Packs, load_packs
from derate.packs.trial import read_trials
from derate.terms.values import Value

ROWS = json.loads((Path(__file__).parents[1] / "data" / "rule_cases.json").read_text(encoding="utf-8"))["rows"]


@cache
def packs() -> Packs:
    return load_packs(["commercial-practice", "mains-fusing"])


def verdict(rule: str, facts: dict[str, str]) -> tuple[str, str]:
    """What a rule says of one part with these facts, and in which words."""
    given = ", ".join(f'{name}: "{value}"' for name, value in facts.items())
    text = f"pack: none\n---\ntrials:\n  {rule}:\n    - {{{given}, expect: pass}}\n"
    (trial,) = read_trials(text, "case", packs()).rules
    result = run_trial(trial, packs())
    return result.got, result.message


@pytest.mark.parametrize("row", ROWS, ids=[row["case"] for row in ROWS])
def test_printed_case(row: dict) -> None:  # type: ignore[type-arg]
    got, message = verdict(row["rule"], row["facts"])
    assert got == row["expect"], f"{row['origin']}: {message}"


def test_both_copies_of_the_pulse_table_agree() -> None:
    """The pack and the arithmetic print the same maker's shares, at the rows and between them."""
    table = packs().table("fuse_pulses")
    assert table is not None
    for pulses, share in PULSE_FRACTIONS.items():
        assert table.look_up({"site.switch_ons": Value.exact(float(pulses))}).value == Value.exact(share)
    for between in (300.0, 2500.0, 40000.0):
        found = table.look_up({"site.switch_ons": Value.exact(between)}).value
        assert found is not None and found.near == pytest.approx(pulse_fraction(between), rel=1e-9)


def test_printed_energy_of_a_fusible_resistor() -> None:
    """Data sheet Z302: 15 ohm, 1.07 J. 74.3 uF at the crest of 120 V is half C V² of 1.07 J, the most it can take.

    The solver takes the shape of the mains into account, which falls during the 1.1 ms of charging, so it must lie
    below the printed bound and, charging in a fourteenth of a period, not more than a fifth below.
    """
    energy = worst_switch_on(120.0, 60.0, 15.0, 74.3e-6).i2t * 15.0
    assert 0.8 * 1.07 < energy <= 1.07 * 1.001
    assert verdict("line-resistor-switch-on-energy", {"energy": f"{energy} J", "allowed.pulse_energy": "1.07 J"})[
        0
    ] in (
        "pass",
        "marginal",
    )
    over = {"energy": f"{4 * energy} J", "allowed.pulse_energy": "1.07 J"}  # the same part at 240 V
    assert verdict("line-resistor-switch-on-energy", over)[0] == "fail"


def test_printed_crest_power_belongs_to_one_mains_voltage() -> None:
    """Data sheet Z302: 1875 W. Closing at the crest puts √2 V / R through it: 1920 W at 120 V, 7053 W at 230 V.

    The solver gives the crest exactly at the closing angle of 90 degrees; half a per cent covers its scan of angles.
    """
    for mains, printed in ((120.0, 1920.0), (230.0, 7053.0)):
        power = 15.0 * worst_switch_on(mains, 50.0, 15.0, 22e-6).peak ** 2
        assert power == pytest.approx(printed, rel=0.005)
        facts = {"pulse_power": f"{power} W", "allowed.pulse_power": "1875 W"}
        assert verdict("wirewound-switch-on-power", facts)[0] == "fail"


def test_a_voltage_read_without_load_is_no_fault_by_itself() -> None:
    """forums.overclockers.co.uk 13183691: 18 to 20 V unloaded on a 12 V plate, taken for a fault.

    Nobody knew the load or whether it regulates. A type that does not regulate reads high without load: the rule on
    regulation does not ask it of such a supply, and cannot judge one of which nobody knows it.
    """
    reading = {"regulation": "over 0.5"}
    assert verdict("output-regulation", {**reading, "supply.regulated": "no"})[0] == "not applicable"
    assert verdict("output-regulation", {**reading, "supply.regulated": "unknown"})[0] == "not assessed"
    assert verdict("output-regulation", {**reading, "supply.regulated": "yes"})[0] == "fail"
    assert verdict("plate-states-output", {"plate.voltage": "12 V", "plate.current": "1 A"})[0] == "pass"
