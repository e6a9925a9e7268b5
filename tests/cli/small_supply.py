"""A small design and a house pack for the tests of the command line. Figures are invented."""

from __future__ import annotations

from pathlib import Path

DESIGN = """\
derate: 1
supply:
  name: Bench lamp adapter
  topology: flyback
  efficiency: 0.8
  parts_list: main parts
  plate: {mains: 220..240 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 1 A}}}
site: {ambient: 25 degC, mains_tolerance: 10%}
parts:
  F1: {kind: fuse, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 250 V, breaking_capacity: 35 A}}
  BR1: {kind: bridge rectifier, rated: {reverse_voltage: 600 V, current: 1 A, forward_voltage: 1.0 V at 1 A}}
  C1: {kind: electrolytic capacitor, capacitance: 22 uF 20%, rated: {voltage: 400 V}}
circuit: {line: [F1, BR1, across C1]}
"""
PACK = """\
pack: bench-house
title: House limits for the trials of the command line
covers: a fuse and a capacitor
rules:
  - rule: bulk-voltage
    says: The bulk capacitor works below its rated voltage.
    because: Ageing rises steeply towards the rating.
    hazard: overstress
    severity: critical
    applies: {part.kind: [electrolytic capacitor]}
    keep: rated.voltage >= 300 V
    source: house practice, section 1
    confidence: common practice
  - rule: breaking-capacity
    says: The fuse breaks what the mains can drive.
    because: A fuse that cannot break keeps on feeding an arc.
    hazard: fire
    severity: critical
    applies: {part.kind: [fuse]}
    keep: rated.breaking_capacity >= 1500 A
    remedy: Choose a fuse that breaks {cure} or more.
    source: house practice, section 2
    confidence: common practice
  - rule: class-marked
    says: The supply carries a class mark.
    because: Its user has to know whether it needs an earth.
    hazard: shock
    severity: critical
    about: supply
    member: {supply.protection_class: [II]}
    source: house practice, section 3
    confidence: common practice
---
trials:
  breaking-capacity:
    - {rated.breaking_capacity: 1500 A, expect: pass}
    - {rated.breaking_capacity: 35 A, expect: fail}
    - {expect: not assessed}
"""


# Who signs for a record of known findings, and until when.
SIGNED = ("--reason", "an old design", "--by", "lead engineer", "--last-day", "2027-06-30", "--today", "2026-11-25")


def bench(folder: Path, design: str = DESIGN, pack: str = PACK) -> Path:
    """A repository of its own: one design, one pack in `rules`. Returns the design."""
    (folder / ".git").mkdir(exist_ok=True)
    (folder / "rules").mkdir(exist_ok=True)
    (folder / "rules" / "bench-house.yaml").write_text(pack, encoding="utf-8")
    file = folder / "lamp.derate.yaml"
    file.write_text(design, encoding="utf-8")
    return file
