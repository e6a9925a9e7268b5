"""A repository to try the gate in: a design that the shipped gate stops, packs as somebody might add them."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import pytest

from derate.cli.main import main

DAY = "2026-11-25"
SHIPPED = ("commercial-practice", "mains-fusing", "insulation-it-equipment")
DESIGN = """\
derate: 1
supply:
  name: Bench lamp adapter
  topology: flyback
  protection_class: II
  parts_list: main parts
  plate: {mains: 220..240 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 1 A}}}
parts:
  F1: {kind: fuse, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 250 V, breaking_capacity: 35 A}}
  BR1: {kind: bridge rectifier, rated: {reverse_voltage: 600 V, current: 1 A, forward_voltage: 1.0 V at 1 A}}
  C1: {kind: electrolytic capacitor, capacitance: 22 uF 20%, rated: {voltage: 400 V}}
circuit: {line: [F1, BR1, across C1]}
"""
_HOLDS = """\
  - {{rule: {name}-{hazard}, says: s, because: b, hazard: {hazard}, severity: critical, about: supply,
     member: {{supply.topology: [flyback]}}, source: s, confidence: common practice}}
"""


def holds(name: str, family: str = "") -> str:
    """A pack whose critical rules always hold, one for each hazard that needs one."""
    head = f"pack: {name}\ntitle: t\ncovers: c\n" + (f"family: {family}\n" if family else "")
    rules = "".join(_HOLDS.format(name=f"{name}-holds", hazard=one) for one in ("fire", "shock", "overstress"))
    return f"{head}rules:\n{rules}"


def house(name: str, body: str, builds_on: str = "commercial-practice") -> str:
    """A house pack that changes another."""
    return f"pack: {name}\ntitle: t\ncovers: c\nbuilds_on: [{builds_on}]\n{body}"


class Told(NamedTuple):
    """What a run came to."""

    status: int
    out: str
    err: str

    @property
    def softer(self) -> list[str]:
        """The lines of the block at the top, which stands before every finding."""
        lines = self.out.split("\n")
        found = [line.split(": softer: ", 1)[1] for line in lines if ": softer: " in line]
        if found:
            assert lines[0].endswith(": The gate here is softer than the shipped one:"), lines[0]
            assert all(": softer: " in line for line in lines[1 : len(found) + 1]), "they stand at the top"
        return found


class Bench:
    """A repository in a folder of its own."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self._capsys = folder, capsys
        (folder / ".git").mkdir()

    def write(self, **files: str) -> Bench:
        """Files by path, where `__` is a dot and `___` a slash."""
        for name, text in files.items():
            self.put(name.replace("___", "/").replace("__", "."), text)
        return self

    def put(self, path: str, text: str) -> None:
        """One file."""
        file = self.folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")

    def run(self, *argv: str, command: str = "lint", day: str = DAY) -> Told:
        """A command on the lamp of the repository, or on what is named."""
        self._capsys.readouterr()
        named = [] if any(one.endswith((".yaml", ".")) and "rules/" not in one for one in argv) else [LAMP]
        judges = command in ("lint", "report", "compare") and "--today" not in argv
        status = main([command, *named, *argv, *(["--today", day] if judges else [])])
        taken: Any = self._capsys.readouterr()
        return Told(status, taken.out, taken.err)


LAMP = "lamp.derate.yaml"
