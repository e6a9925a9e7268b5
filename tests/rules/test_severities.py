"""Severities: a rule is minor only for a reason that stands in a table, and what endangers somebody never is."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from derate.packs.load import load_packs, read_packs, shipped
from derate.terms.values import ReadingError

PACKS = load_packs([str(path) for path in sorted(shipped("rules").glob("*.yaml"))])
REASONS = yaml.safe_load((Path(__file__).parent / "minor_rules.yaml").read_text(encoding="utf-8"))
# What the loss of each would mean, and so the least it has to be.
CRITICAL = [
    "fuse-breaking-capacity",
    "fuse-breaking-capacity-stated",
    "fusible-resistor-dead-zone",
    "touch-current-one-shorted",
    "plug-fuse-is-real",
    "household-plug-fuse-is-real",
    "no-wire-reaches-across",
    "plug-pins-held",
    "non-isolated-leads-enclosed",
    "non-isolated-metal-enclosed",
]
MAJOR = [
    "plug-voltage-one-open",
    "plug-pin-edge",
    "plug-pin-sleeves",
    "plug-pin-thickness",
    "plug-pin-breadth",
    "household-plug-pin-edge",
    "household-plug-pin-sleeves",
    "household-plug-pin-thickness",
    "household-plug-pin-breadth",
    "mains-current-on-plate",
    "overload-held-to-steady-temperature",
    "varistor-surge-energy",
    "line-resistor-surge-energy",
    "bulk-capacitor-voltage-in-surge",
    "clamp-resistor-voltage",
    "bleeder-resistor-voltage",
    "bleeder-resistor-power",
    "bleeder-resistor-voltage-one-shorted",
    "output-rectifier-junction-temperature",
    "winding-temperature",
    "class-y-capacitor-temperature",
    "snubber-resistor-power",
    "start-up-resistor-voltage",
    "start-up-resistor-power",
    "sense-resistor-power",
    "auxiliary-rectifier-reverse-voltage",
    "line-choke-current",
    "capacitor-case-temperature",
    "mains-filter-fitted",
    "line-resistor-brown-out-power",
    "thermistor-body-temperature",
    "thermistor-away-from-plastic",
    "thermistor-hot-beside-the-board",
    "rectifier-surge-at-restart",
    "bulk-capacitor-voltage-at-restart",
    "track-melts-at-switch-on",
    "optocoupler-led-current",
    "optocoupler-transistor-voltage",
    "optocoupler-transfer-ratio-at-end-of-life",
    "capacitor-voltage-slope",
    "bipolar-switch-saturated",
    "output-rectifier-recovery",
    "mains-rectifier-voltage-in-surge",
    "snubber-capacitor-voltage",
    "clamp-diode-recovery",
    "output-voltage-as-divided",
    "power-read-is-possible",
    "plate-power-is-possible",
    "output-lead-current",
    "output-lead-current-in-overload",
    "fuse-not-in-neutral-alone",
    "mains-switch-opens-the-line",
    "cord-held",
    "lamp-head-stops",
    "lamp-cap-in-gauge",
    "enclosure-flame-class",
    "household-enclosure-flame-class",
]


_FAMILIES = ("household-", "basic-standard-", "lamp-")
GRAVE = yaml.safe_load((Path(__file__).parent / "severities.yaml").read_text(encoding="utf-8"))


def severity(name: str) -> str:
    rule = PACKS.rule(name)
    assert rule is not None, name
    return rule.severity


def test_every_minor_rule_has_its_reason_and_every_reason_its_rule() -> None:
    assert {rule.name for rule in PACKS.rules if rule.severity == "minor"} == set(REASONS)
    assert all(len(reason) > 5 for reason in REASONS.values())


@pytest.mark.parametrize("name", CRITICAL)
def test_what_lets_a_short_burn_or_a_touch_kill_is_critical(name: str) -> None:
    assert severity(name) == "critical"


@pytest.mark.parametrize("name", MAJOR)
def test_what_burns_shocks_or_kills_a_part_within_its_life_stops(name: str) -> None:
    assert severity(name) in ("critical", "major")


def test_heat_in_insulation_is_fire_or_shock() -> None:
    hazards = {rule.name: rule.hazard for rule in PACKS.rules}
    assert hazards["winding-temperature"] == hazards["line-resistor-surge-energy"] == "fire"
    assert hazards["class-y-capacitor-temperature"] == "shock"


def test_every_critical_and_major_rule_stands_in_the_table_once_with_its_severity_and_a_reason() -> None:
    listed = [(name, kind) for kind, groups in GRAVE.items() for group in groups for name in group["rules"]]
    assert len({name for name, _ in listed}) == len(listed)
    assert all(len(group["reason"]) > 20 for groups in GRAVE.values() for group in groups)
    table = dict(listed)
    used = set()
    for rule in PACKS.rules:
        if rule.severity == "minor":
            continue
        names = [rule.name, *(rule.name.removeprefix(one) for one in _FAMILIES if rule.name.startswith(one))]
        found = next((name for name in names if name in table), None)
        assert found is not None and table[found] == rule.severity, (rule.name, rule.severity)
        used.add(found)
    assert used == set(table)


def test_a_house_pack_cannot_lower_a_severity() -> None:
    text = "pack: house\ntitle: H\ncovers: h\nbuilds_on: [commercial-practice]\n"
    text += "tighten: {mains-filter-fitted: {severity: minor, reason: ours are small}}\n"
    home = shipped("rules") / "commercial-practice.yaml"
    with pytest.raises(ReadingError, match="never lowered"):
        read_packs(
            {
                **{path.name: path.read_text(encoding="utf-8") for path in home.parent.glob("*.yaml")},
                "house.yaml": text,
            }
        )
