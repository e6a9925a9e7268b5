"""A design whose every name is hostile: markup, quotes, bars, backticks, marks that turn the writing, great length.

What no file may hold (control characters) the reader of files refuses; for the formats they are put into a review.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from documents import DAY, POOR, ROOT

from derate.cli.show import document
from derate.design.load import read_design
from derate.judge.review import Acknowledgement
from derate.ledger.entry import OpenFact, Subject
from derate.report.document import Document
from derate.study.work import Work, Workshop, worked
from derate.terms.values import Place

MARKUP = "<script>alert(1)</script>"
QUOTES = "\"'><img src=x onerror=alert(2)>"
BARS = "a|b`c`*d*_e_[f](http://g.example/)@somebody ~h~ &amp; \\| $x$"
TURNED = "safe\u202egpj.exe\u200b"
CONTROLS = "\x1b[31mred\x00\x07\ud800"
LONG = "x" * 10_000
NAMES = (MARKUP, QUOTES, BARS, TURNED, CONTROLS, LONG, "# heading", "- item", "1. one", "=1+1", "+SUM(A1)", "@cmd")

_DESIGN = r'''
derate: 1
supply:
  name: "<script>alert(1)</script> \"'><img src=x onerror=alert(2)> a|b`c`*d* @somebody"
  basis: opened sample
  sample: "LONG"
  plate: {mains: 100..240 V, frequency: 50..60 Hz, outputs: {"o<b>ut": {voltage: 5 V, current: 2 A}}}
packs: [commercial-practice, mains-fusing, insulation-it-equipment]
parts:
  F1: {kind: fuse, rated: {current: 1 A, voltage: 250 V}, note: "<script>alert(3)</script>"}
  B1: {kind: bridge rectifier, rated: {reverse_voltage: "1000 V (data sheet; <i>note</i> photo 7 | `b`)"}}
  C1: {kind: electrolytic capacitor, capacitance: "22 uF 20% (marked; </style></svg><h1>)", rated: {voltage: 350 V}}
  WIDE: film resistor 1 kohm
circuit:
  line: [F1, B1, across C1]
transformers:
  "T<b>\"'`|": {windings: {"p<i>": {turns: 10}}, from_core_outwards: [bobbin 1 mm, "p<i>", tape 2 layers]}
barriers:
  "<u>place</u> & \"x\" | `y`":
    {between: [primary, secondary], clearance: 3 mm, note: "</desc></svg><script>alert(4)</script>"}
'''


@cache
def hostile_document() -> Document:
    """The hostile design, judged, with one finding a hostile name on top."""
    text = _DESIGN.replace("LONG", LONG).replace("WIDE", f"R{LONG[:900]}")  # a key of YAML ends at 1024
    path = "designs/hos <tile>|`x`.derate.yaml"
    design = read_design(text, path)
    shop = Workshop()
    ordinary = shop.work(str(ROOT / POOR))
    packs = shop.packs_for(str(ROOT / POOR), ordinary.design, ordinary.settings)
    made = document(Work(design, ordinary.settings, packs, worked(design, packs)), DAY)
    review = made.review
    pattern = review.findings[0]
    added = tuple(
        pattern._replace(rule=f"rule-{number}", subject=Subject("part", (name,)), verdict="fail", blocks=True,
            message=f"{name}: {name} is too much", remedy=name, source=name, entries=(),
            missing=(OpenFact(None, name),),
            place=Place(path, 3, 3), severity="critical",
            acknowledgement=Acknowledgement("waiver", name, name, "2027-01-01", 2.0, False, Place(path, 4, 1)),
        )
        for number, name in enumerate(NAMES)
    )  # fmt: skip
    findings = (*added, *review.findings)
    return replace(made, review=review._replace(findings=findings, notes=(*review.notes, *NAMES)))
