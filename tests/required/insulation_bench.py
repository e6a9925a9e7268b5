"""Shared by the insulation tests: shipped packs as families, one chain of steps, rows of the data files."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from derate.insulation import distances as steps
from derate.insulation.distances import Family, exact, families_of
from derate.packs.load import load_packs

DATA = Path(__file__).parents[1] / "data"
PACKS = {"60664-1": "insulation-60664", "62368-1": "insulation-it-equipment", "60335-1": "insulation-household"}


LAMP_PACK = {"60598-1": "insulation-lamp"}  # apart: its distances have no far end to compare with the others


@cache
def family(name: str) -> Family:
    (found,) = families_of(load_packs([PACKS[name]]))
    return found


@cache
def examples() -> dict[str, Any]:
    return {row["id"]: row for row in yaml.safe_load((DATA / "insulation_examples.yaml").read_text())}


@cache
def field_cases() -> dict[str, Any]:
    return {row["id"]: row for row in yaml.safe_load((DATA / "insulation_field_cases.yaml").read_text())}


def millimetres(value: Fraction) -> float:
    return float(value * 1000)


def clearance(
    name: str,
    mains: float,
    category: str,
    insulation: str,
    peak: float,
    altitude: float,
    pollution: str = "2",
    frequency: float = 60.0,
) -> Fraction:
    """Clearance needed [m], the way the requirement rows do it."""
    own = family(name)
    held = steps.impulse(own, exact(mains), category)
    by_impulse = steps.clearance_by_impulse(own, held.value, insulation, pollution)
    needed = by_impulse.value
    if name != "60335-1":
        temporary = steps.temporary_overvoltage(own, exact(mains))
        recurring = steps.clearance_by_peak(own, exact(peak), insulation, pollution, frequency > 30e3)
        slow = steps.clearance_by_peak(own, temporary.value, insulation, pollution, False)
        needed = max(needed, recurring.value, slow.value)
    factor = steps.altitude_factor(own, exact(altitude))
    return steps.at_altitude(own, needed, factor.value).value


def creepage(
    name: str, rms: float, insulation: str, over: Fraction = Fraction(0), pollution: str = "2", group: str = "IIIb"
) -> Fraction:
    """Creepage needed [m]."""
    basic = steps.creepage_basic(family(name), exact(rms), pollution, group)
    return steps.creepage(family(name), basic.value, insulation, over).value
