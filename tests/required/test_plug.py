"""Charge at the plug: what is listed, what may be missing, what discharges it, and supplies that have no plug."""

from __future__ import annotations

import pytest
from small_barrier import changed, judged

CAPACITOR = (
    ("parts:\n", "parts:\n  CX1: film capacitor X2 0.22 uF 310 Vac\n"),
    ("line: [F1,", "line: [F1, across CX1,"),
)
BLEEDER = (("parts:\n", "parts:\n  RB1: film resistor 1.5 Mohm 1%\n"), ("line: [F1,", "line: [F1, across RB1,"))
PARTLY = ("parts_list: complete", "parts_list: main parts")
RULES = {"62368-1": "plug-voltage", "60335-1": "household-plug-voltage"}


@pytest.mark.parametrize("family", RULES)
@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ((), "fail"),
        ((PARTLY,), "not assessed"),
        ((("  parts_list: complete\n", ""),), "not assessed"),
        (BLEEDER, "pass"),
        ((*BLEEDER, PARTLY), "pass"),  # one more resistor only lowers what is left
    ],
)
def test_a_bleeder_may_be_among_what_is_not_listed(
    family: str, changes: tuple[tuple[str, str], ...], verdict: str
) -> None:
    found = judged(changed(*CAPACITOR, *changes), family).findings(RULES[family])["supply"]
    assert found.verdict == verdict
    assert verdict != "not assessed" or "the parts list is not said to be complete" in found.message


def test_a_circuit_that_may_discharge_it_is_named() -> None:
    circuit = (("parts:\n", "parts:\n  U9: controller\n"), ("line: [F1,", "line: [F1, across U9,"))
    result = judged(changed(*circuit, *CAPACITOR))
    for rule in ("plug-voltage", "plug-voltage-one-open", "plug-time-constant"):
        found = result.findings(rule)["supply"]
        assert found.verdict == "not assessed" and "U9 across the mains may be a circuit" in found.message, rule
    assert judged(changed(*circuit, *BLEEDER, *CAPACITOR)).verdict("plug-voltage") == "pass"
    varistor = (("parts:\n", "parts:\n  RV1: varistor\n"), ("line: [F1,", "line: [F1, across RV1,"))
    assert judged(changed(*varistor, *CAPACITOR)).verdict("plug-voltage") == "fail"


@pytest.mark.parametrize("family", RULES)
@pytest.mark.parametrize(
    ("connection", "verdict"), [("fixed wiring", "not applicable"), ("cord", "fail"), ("plug-in", "fail"), ("", "fail")]
)
def test_what_is_wired_in_has_no_plug(family: str, connection: str, verdict: str) -> None:
    said = f"  connection: {connection}\n" if connection else ""
    result = judged(changed(*CAPACITOR, ("  topology: flyback\n", f"  topology: flyback\n{said}")), family)
    assert result.verdict(RULES[family]) == verdict
