"""The family of lamps, whose own distances were not read: the basic standard's are the least, and nothing passes by it.

Truths: IEC 60664-1:2007 tables F.1 and F.2 (reinforced at 2500 V: 3.0 mm); Swedish recalls of lamps (2013), which found
1.0 and 1.2 mm where 4.6 mm was asked; forms of laboratories to IEC 61347-1 clause 12 (2 U + 1000 V, 4 U + 2000 V) and
IEC 62560 clause 8 (4 U + 2750 V).
"""

from __future__ import annotations

import math
import re

import pytest
from small_barrier import BASE, changed, judged

from derate.packs.load import lacking, load_packs
from derate.terms.topologies import TOPOLOGIES
from derate.terms.values import Category

LAMP = "60598-1"
GAP = "gap under T1"
AT_THE_MAINS = re.sub(r"readings:\n.*\n", "", BASE)


def gap(clearance: str, creepage: str, *more: tuple[str, str]) -> str:
    return changed(("clearance: 6.5 mm, creepage: 8.0 mm", f"clearance: {clearance}, creepage: {creepage}"), *more)


@pytest.mark.parametrize(
    ("found", "verdict"),
    [
        ("1.0 mm", "fail"),  # the two recalls
        ("1.2 mm", "fail"),
        ("0 mm", "fail"),
        ("2.9 mm", "fail"),
        ("3.0 mm", "not assessed"),  # the least, and no more than that
        ("4.5 mm", "not assessed"),
        ("4.6 mm", "not assessed"),  # a remembered figure passes nothing
        ("80 mm", "not assessed"),
    ],
)
def test_distances_fail_below_the_least_and_never_pass(found: str, verdict: str) -> None:
    result = judged(gap(found, found), LAMP)
    assert result.verdict("lamp-barrier-clearance", GAP) == verdict
    own = result.findings("lamp-barrier-clearance")[GAP]
    assert own.blocks and (verdict == "fail" or "table to confirm" in own.message)


def test_the_least_is_that_of_the_basic_standard() -> None:
    own, basic = judged(BASE, LAMP), judged(BASE, "60664-1")
    for quantity in ("needed.clearance", "needed.creepage"):
        near, far = own.ends(GAP, quantity)
        assert (near, far) == (basic.ends(GAP, quantity)[0], math.inf)
    assert own.ends(GAP, "needed.clearance")[0] == pytest.approx(3.0e-3)
    assert own.verdict("lamp-barrier-creepage", GAP) == "not assessed"
    assert judged(gap("6.5 mm", "5.7 mm"), LAMP).verdict("lamp-barrier-creepage", GAP) == "fail"  # 5.8 by 281 V rms


def test_height_and_pollution_raise_the_least() -> None:
    high = judged(changed(("altitude: up to 2000 m", "altitude: up to 5000 m")), LAMP)
    assert high.ends(GAP, "needed.clearance") == (pytest.approx(4.44e-3, abs=1e-6), math.inf)  # 3.0 x 1.48
    dirty = judged(changed(("pollution_degree: 2", "pollution_degree: 4")), LAMP)
    assert dirty.ends(GAP, "needed.creepage")[1] == math.inf


def test_a_fast_voltage_and_a_higher_one_ask_no_less() -> None:
    fast = judged(changed(("frequency: 65 kHz", "frequency: 140 kHz")), LAMP)
    assert fast.ends(GAP, "needed.clearance") == (pytest.approx(3.0e-3), math.inf)


@pytest.mark.parametrize(
    ("test", "verdict"),
    [
        ("3100 Vac", "fail"),  # 4 x 281 + 2000 = 3124
        ("3150 Vac", "not assessed"),  # enough for control gear, too little for a lamp
        ("3850 Vac", "not assessed"),
        ("3900 Vac", "pass"),  # 4 x 281 + 2750 = 3874
        ("4400 Vdc", "fail"),  # 3124 V rms is 4418 V peak
    ],
)
def test_electric_strength_between_two_figures_in_use(test: str, verdict: str) -> None:
    text = re.sub(r"(test: electric strength,.*voltage: )[^,}]*", rf"\g<1>{test}", BASE)
    assert test in text
    assert judged(text, LAMP).verdict("lamp-electric-strength-voltage") == verdict


def test_the_mains_is_the_least_working_voltage_there_is() -> None:
    result = judged(AT_THE_MAINS.replace("3000 Vac", "2990 Vac"), LAMP)  # 4 x 250 + 2000 = 3000
    assert result.verdict("lamp-electric-strength-voltage") == "fail"
    assert judged(AT_THE_MAINS.replace("3000 Vac", "4200 Vac"), LAMP).verdict("lamp-electric-strength-voltage") == (
        "not assessed"  # what lies across the transformer is not known
    )


def test_the_family_has_what_a_family_must_have() -> None:
    assert lacking(load_packs(["insulation-lamp"]), LAMP) == ()


@pytest.mark.parametrize("pack", ["insulation-it-equipment", "insulation-household", "insulation-lamp"])
def test_every_topology_without_a_barrier_is_asked_what_can_be_touched(pack: str) -> None:
    packs = load_packs([pack])
    (rule,) = [one for one in packs.rules if one.name.endswith("non-isolated-output-enclosed")]
    (condition,) = rule.applies
    asked = {word for word in TOPOLOGIES if condition.holds(Category.of(word))}
    assert asked == {word for word, one in TOPOLOGIES.items() if not one.isolates}
