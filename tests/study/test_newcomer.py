"""A supply of 29 parts as a newcomer enters it: typed out, and from its parts list with the library of a house.

Both have to come to the same findings; counted is what somebody types. The list comes out of a drawing program and the
library is there: a house types it once. `docs/parts.md` has the figures.
"""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.design.load import load_design

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "data" / "newcomer"
COMMAND = (
    'derate new adapter.derate.yaml --from list.csv --name "Invented adapter" --topology flyback --class II '
    '--mains "100..240 V" --frequency "50..60 Hz" --output "main=12 V 1 A"'
)
# What is changed in the new file: a line as it stands there, and what is typed in place of its value.
CHANGED = {
    "parts_list: main parts": "complete",
    "ambient: unknown": "0..40 degC",
    "altitude: unknown": "up to 2000 m",
    "pollution_degree: unknown": "2",
    "overvoltage_category: unknown": "II",
    "mains_tolerance: unknown": "10%",
}


def entered(folder: Path) -> tuple[Path, int]:
    """The file as it is made from the list, and how many characters were typed for it."""
    import shlex

    shutil.copytree(DATA / "parts", folder / "parts")
    shutil.copy(DATA / "list.csv", folder)
    assert main(shlex.split(COMMAND)[1:]) == 0
    file = folder / "adapter.derate.yaml"
    text = file.read_text(encoding="utf-8")
    typed = len(COMMAND)
    for line, value in CHANGED.items():
        key = line.partition(":")[0]
        text, count = re.subn(
            rf"(?m)^(\s*){re.escape(line)}", lambda one, key=key, value=value: f"{one[1]}{key}: {value}", text
        )
        assert count == 1, line
        typed += len(value)
    block = (DATA / "typed.yaml").read_text(encoding="utf-8")
    file.write_text(text + block, encoding="utf-8")
    return file, typed + len(block)


def findings(path: Path, capsys: pytest.CaptureFixture[str]) -> list[tuple[str, str, str]]:
    capsys.readouterr()
    assert main(["lint", str(path), "--format", "json", "--today", "2026-11-25"]) == 1
    (design,) = json.loads(capsys.readouterr().out)["designs"]
    return sorted((one["rule"], json.dumps(one["subject"]), one["verdict"]) for one in design["findings"])


def test_less_than_half_is_typed_and_the_findings_are_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / ".git").mkdir()
    monkeypatch.chdir(tmp_path)
    plain = tmp_path / "plain.derate.yaml"
    shutil.copy(DATA / "plain.derate.yaml", plain)
    made, typed = entered(tmp_path)
    assert len(load_design(str(plain)).file.parts) == len(load_design(str(made)).file.parts) == 29
    one, other = findings(plain, capsys), findings(made, capsys)
    assert one == other and len(one) > 150
    whole = len(plain.read_text(encoding="utf-8"))
    assert typed < 0.5 * whole, (typed, whole)
    page = (ROOT / "docs" / "parts.md").read_text(encoding="utf-8")
    library = len((DATA / "parts" / "house.parts.yaml").read_text(encoding="utf-8"))
    for figure in (whole, typed, library):
        assert f"{figure:,}" in page, (figure, "the log of the page")
