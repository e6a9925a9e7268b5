"""What the tests of the archive share: small designs, a folder of them, runs over it, what is in its store."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from derate.archive.judging import Order, Task, in_processes
from derate.archive.refresh import Refreshed, refresh
from derate.archive.store import OF_THE_MACHINE, Store
from derate.study.work import Workshop

DAY = date(2026, 11, 25)
LAMP = """\
derate: 1
supply:
  name: NAME
  plate: {mains: 220..240 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 1 A}}}
site: {mains_inductance: 0 mH}
parts:
  F1: fuse 1 A 250 V
  BR1: {kind: bridge rectifier, marking: MARK (marked), rated: {reverse_voltage: 600 V, current: 1 A}}
  C1: electrolytic capacitor 22 uF 20% VOLTS V
circuit: {line: [F1, BR1, across C1]}
"""
HOUSE = """\
pack: house
title: What we ask
covers: bulk capacitors
builds_on: [commercial-practice]
tighten:
  bulk-capacitor-voltage: {keep: voltage_peak <= SHARE * rated.voltage, reason: returns}
"""


def lamp(name: str, volts: int = 400, mark: str = "MB6S") -> str:
    """A small design: it reads and it is not sound."""
    return LAMP.replace("NAME", name).replace("VOLTS", str(volts)).replace("MARK", mark)


def folder_of(folder: Path, many: int = 3, repository: bool = True) -> Path:
    """A repository of small designs, each with another capacitor."""
    home = folder / "designs"
    home.mkdir()
    if repository:
        (home / ".git").mkdir()
    for number in range(many):
        (home / f"lamp-{number}.derate.yaml").write_text(lamp(f"Lamp {number}", 380 + 10 * number), encoding="utf-8")
    return home


class Watched:
    """Names of the designs that were worked through, in order."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.seen: list[str] = []
        own = Workshop.work

        def work(workshop: Workshop, path: str) -> Any:
            self.seen.append(Path(path).name.partition(".")[0])
            return own(workshop, path)

        patch.setattr(Workshop, "work", work)

    def since(self) -> list[str]:
        """Those since this was asked last, sorted."""
        seen, self.seen = sorted(self.seen), []
        return seen


@contextmanager
def opened(folder: Path) -> Iterator[Store]:
    """The store of a folder."""
    with Store(str(folder / "derate-archive.duckdb")) as store:
        yield store


def tasks(folder: Path) -> list[Task]:
    """Every design of a folder, its name the path from there."""
    paths = sorted(folder.rglob("[!.]*.derate.yaml"))
    return [Task(one.relative_to(folder).as_posix(), str(one), str(folder)) for one in paths]


def order(folder: Path, today: date = DAY) -> Order:
    """How they are judged."""
    return Order(today, str(folder))


def ran(folder: Path, many: int = 1, today: date = DAY, **more: Any) -> Refreshed:
    """One run over a folder."""
    how = order(folder, today)._replace(**{key: more.pop(key) for key in [*more] if key in Order._fields})
    with opened(folder) as store:
        return refresh(store, tasks(folder), how, lambda left: in_processes(how, left, many), **more)


def results(folder: Path, run: int, beside: Path) -> list[dict[str, str]]:
    """The rows of a run as they are written out, without what differs from machine to machine."""
    part, path = str(beside / "part"), beside / "results.csv"
    with Store(str(folder / "derate-archive.duckdb"), [part]) as store:
        store.write(run, str(path), part, "csv")
    with path.open(encoding="utf-8", newline="") as file:
        rows = [*csv.DictReader(file)]
    return [{key: said for key, said in row.items() if key not in OF_THE_MACHINE} for row in rows]
