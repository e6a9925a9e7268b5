"""The page on the Python interface: every example runs, every public name stands on it, `import derate` stays light."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from pathlib import Path

import pytest

import derate
from derate import interface
from derate.report.ledger import COLUMNS

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "python.md"


def test_every_example_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    done = doctest.testfile(str(PAGE), module_relative=False, optionflags=doctest.REPORT_NDIFF)
    assert done.attempted >= 15 and done.failed == 0


def test_the_public_names_are_those_of_the_interface_and_stand_on_the_page() -> None:
    assert derate.__all__ == interface.__all__ == sorted(interface.__all__)
    text = PAGE.read_text(encoding="utf-8")
    functions = [name for name in derate.__all__ if name[0].islower()]
    assert all(f"derate.{name}" in text or f"`{name}`" in text for name in functions)
    assert {*derate.__all__, "__version__"} == set(dir(derate))
    assert all(getattr(derate, name) is getattr(interface, name) for name in derate.__all__)


def test_a_name_that_is_none_is_refused() -> None:
    with pytest.raises(AttributeError, match="no public name 'reveiw'"):
        derate.reveiw  # type: ignore[attr-defined]  # noqa: B018
    with pytest.raises(ValueError, match="'desing' has no schema: write one of design"):
        derate.schema("desing")


def test_import_derate_loads_nothing_else() -> None:
    code = "import sys, derate; print(*sorted(one for one in sys.modules if one.startswith(('derate', 'yaml'))))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, timeout=60)
    assert done.stdout.split() == ["derate"]


def test_a_record_of_known_findings_holds_them_back(tmp_path: Path) -> None:
    from datetime import date

    from derate.judge.acknowledge import Signed, record

    path = ROOT / "designs" / "first-look" / "desk-lamp-adapter.derate.yaml"
    today = date(2026, 11, 25)
    before = derate.review(path, today=today)
    assert any(one.blocks for one in before.findings)
    kept = tmp_path / "known.json"
    kept.write_text(record([before], Signed("an old design", "lead engineer", date(2027, 6, 30))), encoding="utf-8")
    after = derate.review(path, today=today, known=kept)
    assert after.held_back > 0 and not any(one.blocks for one in after.findings if one.known)


def test_the_interface_is_typed(tmp_path: Path) -> None:
    snippet = tmp_path / "use.py"
    snippet.write_text(
        "import derate\n"
        "overall: str = derate.review('x.yaml').overall\n"
        "row: derate.Entry = derate.stresses('x.yaml')[1]\n"
        "derate.review('x.yaml').overal\n"
        "derate.reveiw('x.yaml')\n",
        encoding="utf-8",
    )
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--no-error-summary", "--follow-imports=silent", "--cache-dir",
         str(tmp_path / "cache"), str(snippet)],
        capture_output=True, text=True, cwd=ROOT, timeout=600,
    )  # fmt: skip
    told = done.stdout.strip().splitlines()
    assert len(told) == 2 and 'no attribute "overal"' in told[0] and '"reveiw"' in told[1], done.stdout


def test_the_page_names_every_column_of_the_csv_in_its_order() -> None:
    text = PAGE.read_text(encoding="utf-8")
    rows = text[text.index("| column | holds |") :].split("\n")[2:]
    named = [name for row in rows for name in re.findall(r"`(\w+)`", row.split("|")[1] if row else "")]
    assert tuple(named) == COLUMNS
