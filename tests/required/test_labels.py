"""How sure a figure is comes from the cell it was read from: no code grants it, and what is published says where."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest
from insulation_bench import PACKS
from small_barrier import BASE

import derate
from derate.design.facts import facts
from derate.design.load import read_design
from derate.insulation.distances import Family, families_of
from derate.insulation.requirements import Context, require
from derate.insulation.row import TableRow
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs, load_packs, shipped
from derate.run import run
from derate.terms.words import CONFIDENCES

CODE = sorted((Path(derate.__file__).parent / "insulation").glob("*.py"))
# Words of a source that is no publication of the figure itself.
NO_SOURCE = ("no source", "practice", "not read", "remembered", "own derivation", "from memory")


@pytest.mark.parametrize("path", CODE, ids=[one.stem for one in CODE])
def test_no_code_grants_a_confidence(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    granted = [
        f"{path.name}:{node.lineno} {node.value}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and node.value in CONFIDENCES
    ]
    # `row.py` prints the words; what it prints is no grant
    assert granted == ([] if path.stem != "row" else [one for one in granted if "common practice" in one])


# Packs that hold own derivations and common practice alone: nothing in them was read.
NOTHING_READ = ("battery-charger", "buck", "linear-lamp", "ports", "self-oscillating")
NAMES = sorted(path.stem for path in shipped("rules").glob("*.yaml"))


@pytest.mark.parametrize("name", NAMES)
def test_what_is_published_says_where(name: str) -> None:
    packs = load_packs([name])
    own = [rule for rule in packs.rules if rule.pack == name]
    tables = [table for table in packs.tables.values() if table.pack == name]
    told = [(rule.name, rule.tells or rule.source) for rule in own if rule.confidence == "published"]
    sure = {t.name: {cell.confidence for cell in t.cells.values()} for t in tables}
    told += [(t.name, t.source) for t in tables if sure[t.name] == {"published"}]
    mixed = [(t.name, t.source) for t in tables if len(sure[t.name]) > 1 and "published" in sure[t.name]]
    assert bool(told or mixed) == (name not in NOTHING_READ)
    for what, source in mixed:  # cells of both kinds: the source names those that were read
        assert len(source.split()) >= 3, what
    for what, source in told:
        assert len(source.split()) >= 3, what
        assert not [word for word in NO_SOURCE if word in source], (what, source)
    family = packs.heads[-1].family
    for what, source in told:
        if family and family not in source:  # another standard, or reports to one, is named as such
            reports = family == "62368-1" and ("60950-1" in source or "reports" in source)
            least = family == "60598-1" and "60664-1" in source  # its own table was not read
            control_gear = family == "60598-1" and "61347-1" in source
            assert reports or least or control_gear, (what, source)


@pytest.mark.parametrize("name", NAMES)
def test_what_nobody_found_says_so_where_it_is_used(name: str) -> None:
    """A remembered rule never tells its limit as read."""
    packs = load_packs([name])
    for rule in packs.rules:
        if rule.pack == name and rule.confidence == "remembered":
            assert "confirm" in rule.tells or "memory" in rule.tells or "remembered" in rule.tells, rule.name


# Tables of single steps: each makes a row exactly as sure as itself. That of 60664-1 for 1.6 times a voltage meets no
# cell that is surer than remembered.
STEPS = {
    "62368-1": ("creepage_share", "table_voltage", "margin_share"),
    "60664-1": ("creepage_share", "temporary_overvoltage_added", "strength_by_overvoltage", "table_voltage",
                "margin_share", "preferred_impulse"),
    "60335-1": ("creepage_share", "clearance_voltage_share", "impulse_raised_by_peak", "clearance_added",
                "strength_above_250_v_share", "strength_above_250_v_added", "table_voltage", "altitude_factor",
                "margin_share"),
}  # fmt: skip


@cache
def _packs(family: str) -> Packs:
    return load_packs([PACKS[family]])


def _rows(family: str, packs: Packs, monkeypatch: pytest.MonkeyPatch, unsure: str = "") -> dict[tuple[str, str], str]:
    """Confidence of every requirement row; with one table of the family remembered from end to end."""

    def families(own: Packs) -> tuple[Family, ...]:
        (found,) = families_of(own)
        tables = dict(found.tables)
        if unsure:
            table = tables[unsure]
            cells = {at: cell._replace(confidence="remembered") for at, cell in table.cells.items()}
            tables[unsure] = table._replace(cells=cells)
        return (Family(found.name, tables),)

    monkeypatch.setattr("derate.insulation.requirements.families_of", families)
    design = read_design(BASE, "bench.derate.yaml")
    ledger: Ledger = run(design.structure, facts(design), {}, design.readings)
    require(Context(ledger, design, packs))
    return {(str(row.subject), row.quantity): row.confidence for row in ledger.entries if isinstance(row, TableRow)}


@pytest.mark.parametrize(("family", "table"), [(family, table) for family, tables in STEPS.items() for table in tables])
def test_a_step_is_as_sure_as_the_cell_it_read(family: str, table: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before, after = (_rows(family, _packs(family), monkeypatch, unsure) for unsure in ("", table))
    fell = [name for name, sure in after.items() if sure == "remembered" and before[name] != "remembered"]
    assert fell, table
