"""A small invented supply for the insulation tests, and what requirement rows and rules make of a changed one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from insulation_bench import LAMP_PACK, PACKS

from derate.design.facts import facts
from derate.design.load import Design, read_design
from derate.insulation.requirements import Context, require
from derate.judge.judge import judge
from derate.judge.review import Finding, Review
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs, load_packs
from derate.run import run
from derate.terms.words import VERDICTS, Verdict

BASE = """\
derate: 1
supply:
  name: Bench supply
  basis: opened sample
  topology: flyback
  protection_class: II
  parts_list: complete
  plate:
    mains: 100..240 V
    frequency: 50..60 Hz
    outputs: {main: {voltage: 12 V, current: 1 A}}
    marks: [double square, maker]
site: {ambient: 0..40 degC, altitude: up to 2000 m, pollution_degree: 2, overvoltage_category: II, mains_tolerance: 10%}
known_by: {parts: marked, transformers : drawing, readings: measured}
parts:
  F1: fuse 1 A 250 V
  BR1: bridge rectifier 800 V 1 A
  C1: electrolytic capacitor 22 uF 20% 400 V
  Q1: MOSFET 700 V 4 A
  D1: Schottky diode 100 V 3 A
  C2: electrolytic capacitor 470 uF 20% 25 V
  CY1: {kind: ceramic capacitor, class: Y1, capacitance: 1 nF 20%, rated: {voltage: 400 Vac}}
circuit:
  line: [F1, BR1, across C1]
  primary: [T1.primary, Q1]
  outputs: {main: [T1.secondary, D1, across C2]}
  control: {type: fixed frequency, frequency: 65 kHz}
  bridging: {CY1: [bulk minus, main minus]}
transformers:
  T1:
    core: {tied_to: bulk minus}
    windings:
      primary: {turns: 60, wire: enamelled, bare: 0.28 mm, outside: 0.31 mm}
      secondary: {turns: 8, wire: triple-insulated, bare: 0.52 mm, outside: 0.72 mm}
    from_core_outwards: [bobbin 1 mm, primary, tape 3 layers, secondary, tape 3 layers]
    margins: none
    leads: {secondary: {kind: flying, sleeve: 0.4 mm}}
barriers:
  gap under T1: {between: [primary, secondary], clearance: 6.5 mm, creepage: 8.0 mm, board: {material_group: IIIb}}
  pads of CY1: {between: [bulk minus, main minus], clearance: 6.5 mm, creepage: 6.5 mm, board: {material_group: IIIb}}
  core to leads: {between: [core, secondary], clearance: 6 mm, creepage: 7 mm, board: {material_group: IIIb}}
  plug side: {between: [line, neutral], clearance: 3.0 mm, creepage: 3.2 mm, board: {material_group: IIIb}}
  over F1: {between: [line, after F1], clearance: 3.0 mm, creepage: 3.2 mm, board: {material_group: IIIb}}
readings:
  - {at: {mains: 264 V, load: full}, working_voltage: {T1: 281 V}, working_voltage_peak: {T1: 530 V}}
tests:
  - {test: electric strength, between: [primary, secondary], voltage: 3000 Vac, time: 60 s, result: held}
inspection:
  {solder_blobs: none, copper_under_sheet: none, opens_by_hand: no, enclosure_flame_class: V-0, shared_ribbon: none}
"""


@dataclass(frozen=True)
class Judged:
    design: Design
    packs: Packs
    ledger: Ledger
    review: Review

    def row(self, subject: Subject | str, name: str) -> Entry:
        about = Subject("barrier", (subject,)) if isinstance(subject, str) else subject
        found = self.ledger.find(about, name)
        assert found is not None, f"{about}: {name} has no row"
        return found

    def ends(self, subject: Subject | str, name: str) -> tuple[float, float]:
        value = self.row(subject, name).value
        assert value is not None, self.row(subject, name)
        return value.near, value.far  # type: ignore[union-attr]

    def word(self, subject: Subject | str, name: str) -> str:
        return str(self.row(subject, name).value)

    def findings(self, rule: str) -> dict[str, Finding]:
        return {str(one.subject): one for one in self.review.findings if one.rule == rule}

    def verdict(self, rule: str, subject: str = "") -> Verdict:
        own = [one.verdict for name, one in self.findings(rule).items() if not subject or name == subject]
        return min(own, key=VERDICTS.index) if own else "not applicable"


def changed(*replacements: tuple[str, str]) -> str:
    text = BASE
    for old, new in replacements:
        assert text.count(old) >= 1, f"'{old}' is not in the supply"
        text = text.replace(old, new)
    return text


def judged(text: str = BASE, *families: str) -> Judged:
    packs = load_packs([{**PACKS, **LAMP_PACK}[one] for one in families or ("62368-1",)])
    design = read_design(text, "bench.derate.yaml")
    assumptions = {name: one for (_, name), one in packs.assumptions.items()}
    ledger = run(design.structure, facts(design), assumptions, design.readings)
    require(Context(ledger, design, packs))
    review = judge(ledger, packs, path="bench.derate.yaml", name=design.name, today=date(2026, 11, 25))
    return Judged(design, packs, ledger, review)


def supply(result: Judged, name: str) -> Entry:
    return result.row(SUPPLY, name)
