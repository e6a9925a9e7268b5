"""`derate report` from the command line: formats, where it goes, what it refuses, findings held back, the photo."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image
from small_supply import SIGNED

from derate.cli.main import main

ROOT = Path(__file__).parents[2]
POOR = "designs/market-stall-lamp/market-stall-lamp.derate.yaml"


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize(("form", "begins"), [("html", "<!doctype html>"), ("markdown", "## "), ("sarif", "{"),
                                              ("junit", "<?xml"), ("csv", "row,kind,subject")])  # fmt: skip
def test_every_format_goes_to_standard_output(form: str, begins: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", POOR, "--format", form, "--today", "2026-11-25"]) == 0
    told = capsys.readouterr()
    assert told.out.startswith(begins) and told.out.endswith("\n") and not told.out.endswith("\n\n") and not told.err


def test_a_file_is_written_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "report.html"
    assert main(["report", POOR, "--to", str(file)]) == 0
    assert not capsys.readouterr().out and file.read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert [one.name for one in tmp_path.iterdir()] == ["report.html"]


@pytest.mark.parametrize(("arguments", "why"), [
    (["nowhere.yaml"], "there is no such file"),
    ([POOR, "--to", "no/such/folder/x.html"], "could not be written"),
    ([POOR, "--format", "pdf"], "invalid choice"),
    ([POOR, "--today", "yesterday"], "is no day"),
    ([POOR, "--pack", "no-such-pack"], "no-such-pack"),
])  # fmt: skip
def test_what_it_refuses(arguments: list[str], why: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", *arguments]) == 2
    told = capsys.readouterr()
    assert why in told.err and "Traceback" not in told.err and not told.out


def test_the_day_is_an_argument_and_waivers_are_held_to_it(capsys: pytest.CaptureFixture[str]) -> None:
    sound = "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
    found = {}
    for day in ("2026-11-25", "2031-01-01"):
        assert main(["report", sound, "--format", "sarif", "--today", day]) == 0
        results = json.loads(capsys.readouterr().out)["runs"][0]["results"]
        found[day] = sum("suppressions" in one for one in results)
    assert found["2026-11-25"] > 0 == found["2031-01-01"]


def test_known_findings_are_held_back_here_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = tmp_path / "known.json"
    main(["lint", POOR, "--record", str(record), *SIGNED])
    capsys.readouterr()
    assert main(["report", POOR, "--format", "junit", "--known", str(record), "--today", "2026-11-25"]) == 0
    suite = ElementTree.fromstring(capsys.readouterr().out.encode())[0]
    assert suite.get("failures") == "0"
    held = [one for one in suite.iter("skipped") if "held back" in (one.get("message") or "")]
    assert held


def test_the_template_engine_is_loaded_for_the_page_alone() -> None:
    code = (
        "import sys; from derate.cli.main import main; main(sys.argv[1:]); "
        "print(*sorted({'jinja2', 'PIL', 'numpy'} & set(sys.modules)), file=sys.stderr)"
    )
    for form, loaded in (("csv", ""), ("sarif", ""), ("junit", ""), ("html", "jinja2")):
        done = subprocess.run([sys.executable, "-c", code, "report", POOR, "--format", form], capture_output=True,
                              text=True)  # fmt: skip
        assert done.stderr.strip() == loaded, form


def test_a_photo_stands_beside_its_finding(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "photos").mkdir()
    Image.new("RGB", (900, 600), "teal").save(tmp_path / "photos/7.jpg")
    text = Path(POOR).read_text(encoding="utf-8")
    assert text.count("clearance: 0.5..0.7 mm") == 1
    text = text.replace("clearance: 0.5..0.7 mm", "clearance: 0.5..0.7 mm (measured; photo 7)")
    text = text.replace("  basis: opened sample", "  basis: opened sample\n  photos: photos/")
    file = tmp_path / "supply.derate.yaml"
    file.write_text(text, encoding="utf-8")
    assert main(["report", str(file)]) == 0
    page = capsys.readouterr().out
    pieces = [one for one in page.split("<article") if "data:image/jpeg" in one]
    assert pieces and all("C9 pad to bulk track" in one and 'alt="Photo 7' in one for one in pieces)
    assert any("barrier-clearance" in one for one in pieces)
