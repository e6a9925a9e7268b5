"""The walk of the first supply: every command runs, the interview is answered as shown, what is printed is compared."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from page_blocks import blocks_of, run_page

from derate.cli import new, show
from derate.cli.main import main
from derate.terms.topologies import TOPOLOGIES

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "first-supply.md").read_text(encoding="utf-8")
FOUND = {"lint", "insulation", "faults"}  # commands that may end in 1: something was found


class Typing:
    """Somebody who types the answers that the page shows, each to the question that stands before it."""

    def __init__(self, asked: list[str]) -> None:
        self.asked = asked

    def __call__(self, prompt: str = "") -> str:
        line = self.asked.pop(0)
        assert line.startswith(prompt.rstrip()), (line, prompt)
        return line[len(prompt.rstrip()) :].strip()


def test_the_walk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / ".git").mkdir()
    monkeypatch.chdir(tmp_path)
    (shown,) = (block for block in blocks_of(PAGE) if block.language == "terminal")
    lines = shown.text.splitlines()
    typing = Typing([line for line in lines if not line.startswith(" ")])
    monkeypatch.setattr(new, "_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", typing)
    assert main(shlex.split(shown.about)[1:]) == 0 and not typing.asked
    flat, at = re.sub(r"\s+", " ", capsys.readouterr().out), 0
    for line in lines:
        if line.startswith(" "):
            at = flat.find(line.strip(), at)
            assert at >= 0, (line, flat)
    assert "mains_current: 0.3 A" in (tmp_path / "lantern.derate.yaml").read_text(encoding="utf-8")

    def run(argv: list[str]) -> str:
        status = main(argv)
        out, told = capsys.readouterr()
        assert "Traceback" not in told and status in (0, 1, 2), (argv, told)
        assert status != 1 or argv[0] in FOUND, (argv, told)
        assert (status == 2) == (": error: " in told), (argv, told)
        return out + told

    assert run_page(PAGE, tmp_path, run) == 15
    for page in ("lantern.html", "lantern-summary.html", "lantern-bench.html"):
        assert (tmp_path / page).read_text(encoding="utf-8").rstrip().endswith("</html>")




def test_the_log_stands_with_what_is_left() -> None:
    log = PAGE.partition("## Where one had to guess")[2]
    assert "What is left:" in log and log.count("\n|") == 19 + 13 + 17
    assert not any(word in PAGE.lower() for word in ("compliant", "certified", "approved", "is safe"))


def test_what_the_second_walk_met_at_the_first_questions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A radio's supply: a power is no current, sentences are cut between words, the file is that of its topology."""
    monkeypatch.chdir(tmp_path)
    asked = [
        "Name of the supply [radio]: Shed radio", "Mains on the plate, such as 100-240V~: 230V~",
        "Its frequency, such as 50/60Hz: 50Hz", "Its current, such as 0.3A, or none: 8VA",
        "Its current, such as 0.3A, or none: none", "Output on the plate, such as 12V 1.5A: 9V DC 300mA",
        "A further output, or Enter:", "Class: 2 with a double square, 1 with an earth pin, 3: II",
        "Connected by plug-in, cord, fixed wiring, lamp cap: plug-in",
        f"Topology: {', '.join(TOPOLOGIES)}: line transformer",
    ]  # fmt: skip
    monkeypatch.setattr(new, "_terminal", lambda: True)
    monkeypatch.setattr(new, "width", lambda: 40)
    monkeypatch.setattr("builtins.input", Typing(asked))
    assert main(["new", "radio.derate.yaml"]) == 0
    out = capsys.readouterr().out
    told = re.sub(r"\s+", " ", out)
    assert "'8VA' is a power and no current; write none here, and what the plate says as text under plate" in told
    begun, written = out.split("\n")[0], out.rstrip().split("\n")[-1]
    assert begun == "Closed and not plugged in: what its" and len(written) <= 40
    assert "line: [F1, TL1, T1.primary]" in (tmp_path / "radio.derate.yaml").read_text(encoding="utf-8")


# What the log says was done, where the walk itself does not show it.
TYPED = """\
derate: 1
supply: {name: Doorstep lantern, topology: flyback, protection_class: II, connection: plug-in, plate: {mains: 230 V}}
parts:
  F1: fuse T1AH250V
  C1: electrolytic capacitor 22 uF 400 V
  CY1: ceramic capacitor Y1 1 nF 250 Vac
circuit: {line: [F1, across C1], bridging: {CY1: [bulk minus, output minus]}}
barriers:
  under the transformer: {between: [primary, secondary], clearance: 5.1 mm, creepage: 6.4 mm}
  beside the slot: {between: [primary, secondary], clearance: 6.1 mm, creepage: 7.4 mm}
transformers:
  T1:
    windings: {primary: {wire: enamelled}, secondary: {wire: triple-insulated}}
    from_core_outwards: [primary, secondary]
"""
SITE = "site: {altitude: up to 2000 m, pollution_degree: 2, overvoltage_category: II}\n"


def told_of(text: str, arguments: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What a command prints of a file with this text."""
    path = folder / "typed.derate.yaml"
    path.write_text(text, encoding="utf-8")
    main([arguments[0], str(path), *arguments[1:]])
    out, told = capsys.readouterr()
    return out + told


def asked_for(text: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """The facts that `missing` lists of a file with this text, without its name ahead of each."""
    lines = told_of(text, ["missing", "--all"], folder, capsys).splitlines()
    return [line.partition(": missing: ")[2] for line in lines if ": missing: " in line]


def test_what_is_written_already_is_asked_for_with_what_it_lacks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = asked_for(TYPED, tmp_path, capsys)
    for key in ("altitude", "pollution_degree", "overvoltage_category"):
        assert sum(line.endswith(f"write site: {key}: …") for line in asked) == 1, key
        used = [line for line in asked if f"{key.replace('_', ' ')} used" in line.partition("; ")[0]]
        assert all(line.endswith(f"write site: {key}: …") for line in used), used
    asked = asked_for(TYPED + SITE, tmp_path, capsys)
    (one,) = (line for line in asked if line.startswith("CY1: insulation the bridging part makes"))
    assert "CY1 is typed alone: add (marked)" in one and one.endswith("write parts: CY1: class: …")
    (one,) = (line for line in asked if line.startswith("T1: best insulated wire"))
    assert "add (drawing) or (data sheet)" in one
    marked = (TYPED + SITE).replace("250 Vac", "250 Vac (marked)")
    assert not any("typed alone" in line for line in asked_for(marked, tmp_path, capsys))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("  Q1: {kind: MOSFET, rated: {…}}", "'…' stands for what is still to be written"),
        ("  Q1: {kind: MOSFET, rated: {600 V}}", "Put that text in quotes"),
        ("  F1: fuse 1 A", "keep one of them"),
        ("supply: {name: x}", "put the lines of both under one 'supply:'"),
        ("supply: unknown", "keep one of them"),
    ],
)
def test_a_line_that_cannot_be_read(
    line: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = "derate: 1\nsupply: {name: x}\nparts:\n  F1: fuse 1 A\n" + line + "\n"
    assert words in told_of(typed, ["lint"], tmp_path, capsys)


def test_a_page_is_not_poured_over_a_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(show, "at_terminal", lambda: True)
    for arguments in ([], ["--format", "summary"]):
        told = told_of(TYPED, ["report", *arguments], tmp_path, capsys)
        assert "write" in told and "--to report.html" in told and "<html" not in told
    page = tmp_path / "report.html"
    assert told_of(TYPED, ["report", "--format", "summary", "--to", str(page)], tmp_path, capsys).endswith("written\n")
    assert page.exists()
