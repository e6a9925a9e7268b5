"""The sheet for the bench: its order, what it asks and what it never asks, and the forms it holds a value to."""

from __future__ import annotations

import itertools
import re
from datetime import date
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.design.sheet import NO_FIELD, STEPS, DesignText, Sheet
from derate.ledger.entry import Subject
from derate.report.sheet import BARE_NUMBER, BRACKET, pattern_of, sheet_page
from derate.study.missing import MissingFact, missing_facts
from derate.study.paste import lines_for
from derate.study.sheet import empty_sheet, sheet_of, sheet_of_work
from derate.study.trying import Bench
from derate.study.work import Workshop
from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.instructions import CAUTIONS, NOT_HERE, POWERED
from derate.terms.values import Place, ReadingError
from derate.text.nodes import Mapping, Node, Scalar, Sequence, compose
from derate.text.quantity import LOOKED, read_quantity

ROOT = Path(__file__).parents[2]
SOUND = ROOT / "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
POOR = ROOT / "designs/market-stall-lamp/market-stall-lamp.derate.yaml"
SMALL = ROOT / "designs/first-look/desk-lamp-adapter.derate.yaml"
DAY = date(2026, 11, 25)


def _sheet(path: Path) -> Sheet:
    return sheet_of_work(Workshop().work(str(path)), DAY)


@pytest.fixture(scope="module")
def poor() -> Sheet:
    return _sheet(POOR)


@pytest.fixture(scope="module")
def rerun(tmp_path_factory: pytest.TempPathFactory) -> Sheet:
    """The sound supply, which may be powered, without what was read of it under load, and with readings asked of it."""
    text = SOUND.read_text(encoding="utf-8")
    cut = re.sub(r"\nreadings:.*?\ntests:\n", "\ntests:\n", text, flags=re.DOTALL)
    cut = re.sub(r"\n  - \{test: overload[^\n]*", "", cut)
    cut = re.sub(r"inside_rise: [^,}\n]*", "inside_rise: unknown", cut)
    assert cut != text
    file = tmp_path_factory.mktemp("rerun") / "vent.derate.yaml"
    file.write_text(cut, encoding="utf-8")
    work = Workshop().work(str(file))
    assert not Bench(work, DAY).base.review.not_powered
    facts = [*missing_facts(Bench(work, DAY), False, 0), *_wanted_readings()]
    return sheet_of(str(file), work.design.name, cut, facts, "", "flyback")


def _wanted_readings() -> list[MissingFact]:
    """A temperature and a ripple that somebody waits for, as a design without them asks for them."""
    case = Subject("part", ("C1",))
    output = Subject("output", ("main",))
    return [
        MissingFact("C1: case", case, "case_temperature", (), (), paste=lines_for("case_temperature", case)),
        MissingFact("main: read_ripple", output, "read_ripple", (), ()),
    ]


def test_it_goes_in_the_order_of_the_bench(poor: Sheet, rerun: Sheet) -> None:
    for sheet in (poor, rerun):
        steps = [STEPS.index(one.step) for one in sheet.fields]
        assert steps == sorted(steps)
    assert {one.step for one in poor.fields} == {"papers", "closed", "opened", "unsoldered", "unwound"}
    opened = [one.path[0] for one in poor.of_step("opened")]
    assert opened.index("parts") > max(at for at, key in enumerate(opened) if key == "barriers")  # distances first
    unwound = {("primary", "wire"), ("primary", "turns"), ("secondary", "wire"), ("secondary", "bare")}
    asked = {one.path for one in poor.of_step("unwound")}
    assert asked == {("transformers", "T1", "windings", *one) for one in unwound}


def test_nothing_asks_for_power_where_the_sample_is_not_to_be_powered(poor: Sheet) -> None:
    assert poor.not_powered and not poor.of_step("powered")
    assert not [one for one in poor.fields if set(one.does) & POWERED]
    page = sheet_page(poor, {})
    held = [one for one in poor.elsewhere if set(one.does) & POWERED]
    assert len(held) > 10 and page.count(f"{NOT_HERE}: ") >= len(held)
    assert "<b>Not on this sample:</b>" in page and CAUTIONS["running"].page not in page


def test_what_may_be_powered_is_asked_with_its_cautions(rerun: Sheet) -> None:
    assert not rerun.not_powered
    powered = rerun.of_step("powered")
    paths = {".".join(one.path) for one in powered}
    assert {"readings.0.at.mains", "readings.0.at.load", "site.inside_rise", "tests.main.shuts_down_at"} <= paths
    assert {"readings.0.case_temperature.C1", "readings.0.ripple.main"} <= paths
    needed = {".".join(one.path) for one in powered if one.needed}
    assert needed == {"readings.0.at.mains", "readings.0.at.load"}
    known = {one.path: one.text for one in rerun.fixed if one.path[-1] == "known_by"}
    assert {("readings", "0", "known_by"), ("tests", "main", "known_by")} <= set(known)
    assert set(known.values()) == {"measured"}  # else what was read on it would show nothing good
    page = sheet_page(rerun, {})
    for word in ("running", "overload", "sensor"):
        assert CAUTIONS[word].page.replace("'", "&#39;") in page  # type: ignore[index]
    assert "isolating transformer" in page and "filament lamp" in page


def test_no_field_invites_live_work(poor: Sheet, rerun: Sheet) -> None:
    for sheet in (poor, rerun, _sheet(SMALL)):
        assert not [one for one in sheet.fields if set(one.does) & NO_FIELD]
    live = [one for one in poor.elsewhere if "probed" in one.does]
    assert [one.what for one in live] == ["Q1: base current of the switch while it is on"]


def test_no_value_stands_where_another_has_keys(poor: Sheet, rerun: Sheet) -> None:
    work = Workshop().work(str(POOR))
    facts = missing_facts(Bench(work, DAY), False, 0)
    every = sheet_of(str(POOR), work.design.name, poor.text, facts, "", "flyback")
    for sheet in (poor, rerun, every):
        paths = sorted(one.path for one in sheet.fields)
        assert len(set(paths)) == len(paths)
        assert not [one for one, other in itertools.pairwise(paths) if other[: len(one)] == one]
    assert ("readings", "0", "case_temperature", "enclosure") in {one.path for one in every.fields}


def test_a_place_nobody_described_is_asked_with_its_ends_and_drawn(tmp_path: Path) -> None:
    sheet = _sheet(SMALL)
    fixed = {one.path: one.text for one in sheet.fixed}
    assert fixed["barriers", "plug side", "between"] == "[line, neutral]"
    assert fixed["barriers", "under the transformer", "between"] == "[primary, secondary]"
    asked = {one.path for one in sheet.fields}
    assert {("barriers", "plug side", "clearance"), ("barriers", "plug side", "creepage")} <= asked
    page = sheet_page(sheet, {})
    assert page.count('class="place"') == 2 and 'class="where"' in page


def test_a_revision_takes_only_what_it_may(tmp_path: Path) -> None:
    sheet = _sheet(ROOT / "designs/greenhouse-vent/greenhouse-vent-revision-b.derate.yaml")
    text = DesignText(sheet.text)
    assert all(text.has(one.path[:2]) for one in sheet.fields if one.path[0] in ("parts", "barriers"))
    assert any("this one revises" in one.how for one in sheet.elsewhere)


@pytest.mark.parametrize(
    ("text", "path", "gives"),
    [
        ("a: {b: 1}\n", ("a", "c"), ("flow", 8, True)),
        ("a: {b: 1,}\n", ("a", "c"), ("flow", 9, False)),
        ("a:\n  b: 1   # why\n  # more\nd: 2\n", ("a", "c"), ("block", 17, False)),
        ("a: {}\nd: 2\n", ("a", "c"), ("block", 3, False)),
        ("a: unknown\n", ("a",), ("value", 3, False)),
        ("a: 1\n", ("b", "c"), ("block", 4, False)),
    ],
)
def test_where_something_goes(text: str, path: tuple[str, ...], gives: tuple[str, int, bool]) -> None:
    _, anchor = DesignText(text).anchor(path)
    assert (anchor.style, anchor.at, anchor.comma) == gives


def test_a_part_of_one_line_gives_way_to_its_keys() -> None:
    text = "parts:\n  D1, D3: line diode 1N4007 1000 V 1 A (marked)\n"
    file = DesignText(text)
    path = file.spelled(("parts", "D3", "rated", "surge_current"))
    assert path == ("parts", "D1, D3", "rated", "surge_current")
    known, anchor = file.anchor(path)
    assert known == ("parts", "D1, D3") and text[anchor.at : anchor.at + anchor.length].startswith("line diode 1N4007")
    assert {one.path: one.text for one in anchor.seed} == {
        ("kind",): "line diode (marked)",
        ("marking",): "1N4007 (marked)",
        ("rated", "reverse_voltage"): "1000 V (marked)",
        ("rated", "current"): "1 A (marked)",
    }


# The forms: what the reader takes the page takes, and what it refuses by form the page refuses.

DIMENSIONS = [d.VOLTAGE, d.CURRENT, d.LENGTH, d.RESISTANCE, d.CAPACITANCE, d.INDUCTANCE, d.TIME, d.CELSIUS, d.NUMBER,
              d.POWER, d.FREQUENCY, d.I2T, d.AREA, d.THERMAL_RESISTANCE, d.ENERGY]  # fmt: skip


def _takes(text: str, dimension: Dimension) -> bool:
    found = re.search(f"{BRACKET}$", text)
    body = text[: found.start()] if found else text
    return re.fullmatch(pattern_of(dimension), body.strip()) is not None


def _reads(text: str, dimension: Dimension) -> bool:
    try:
        read_quantity(text, Place(""), dimension)
    except ReadingError:
        return False
    return True


def _scalars(node: Node) -> list[str]:
    if isinstance(node, Scalar):
        return [node.text]
    inner = [value for _, value in node.entries] if isinstance(node, Mapping) else list(node.items)
    assert isinstance(node, Mapping | Sequence)
    return [text for one in inner for text in _scalars(one)]


def test_every_value_of_the_shipped_designs_has_a_form_that_the_page_takes() -> None:
    texts = {text for path in (SOUND, POOR, SMALL) for text in _scalars(compose(path.read_text("utf-8"), ""))}
    held = 0
    for dimension in DIMENSIONS:
        for text in texts:
            if _reads(text, dimension) and text != "unknown":
                held += 1
                assert _takes(text, dimension), (text, dimension)
    assert held > 250


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("12", d.VOLTAGE), ("12 A", d.VOLTAGE), ("12,5 V", d.VOLTAGE), ("12 Volt", d.VOLTAGE), ("twelve V", d.VOLTAGE),
        ("12 V (guessed)", d.VOLTAGE), ("12 V 5", d.VOLTAGE), ("1..2..3..4 V", d.VOLTAGE), ("4k7", d.VOLTAGE),
        ("6 mm 5% 3", d.LENGTH), ("6 mA", d.LENGTH), ("12 V)", d.VOLTAGE), ("22 µm", d.CAPACITANCE), ("", d.NUMBER),
    ],
)  # fmt: skip
def test_what_the_reader_refuses_by_its_form_the_page_refuses(text: str, dimension: Dimension) -> None:
    assert not _reads(text, dimension) and not _takes(text, dimension)


def test_what_the_page_takes_and_the_reader_refuses_is_of_its_meaning() -> None:
    for text, dimension in (("9..3 V", d.VOLTAGE), ("-3 mm", d.LENGTH), ("under 5 V 10%", d.VOLTAGE)):
        assert _takes(text, dimension) and not _reads(text, dimension)  # said on the page: lint says what it means


def test_a_bare_number_is_one_without_a_unit() -> None:
    for text in ("12", "6.1..6.4", "-3", "5 10%", "under 3", "1..2..3"):
        assert re.fullmatch(BARE_NUMBER, text)
    for text in ("12 V", "6 mm", "x", "", "none"):
        assert not re.fullmatch(BARE_NUMBER, text)
    assert all(_takes(word, d.VOLTAGE) for word in LOOKED)


# The command.


def test_the_command_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "sheet.html"
    assert main(["missing", str(SMALL), "--sheet", "--to", str(target)]) == 0
    page = target.read_text(encoding="utf-8")
    assert "Desk lamp adapter" in page and "script-src 'sha256-" in page
    assert "://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "the sheet of Desk lamp adapter" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["--sheet"], "a sheet is a page of its own; write --sheet --to sheet.html"),
        (["--to", "x.html"], "a sheet is a page of its own"),
        ([str(POOR), "--sheet", "--to", "x.html"], "a sheet is of one design"),
    ],
)
def test_a_sheet_that_is_none(
    arguments: list[str], why: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["missing", str(SMALL), *arguments]) == 2
    assert why in capsys.readouterr().err and not list(tmp_path.iterdir())


def test_a_new_file_comes_with_its_sheet_empty(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, page = tmp_path / "lamp.derate.yaml", tmp_path / "lamp.html"
    said = ["new", str(file), "--sheet", str(page), "--name", "Lamp", "--topology", "flyback", "--mains", "230 V"]
    assert main(said) == 0
    sheet = empty_sheet(Workshop().work(str(file)), DAY)
    steps = [STEPS.index(one.step) for one in sheet.fields]
    assert steps == sorted(steps) and not sheet.of_step("powered") and sheet.not_powered
    assert not [one for one in sheet.fields if set(one.does) & (POWERED | NO_FIELD)]
    asked = {".".join(one.path): one for one in sheet.fields}
    assert asked["parts.F1.kind"].needed and asked["parts.F1.kind"].step == "opened"
    assert asked["parts.F1.rated.melting_i2t"].step == "looked up"  # once its mark is read
    assert asked["transformers.T1.windings.primary.turns"].step == "unwound"
    assert asked["circuit.line"].example == "[F1, BR1, across C1]"
    fixed = {one.path: one.text for one in sheet.fixed}
    assert fixed["barriers", "under transformer", "between"] == "[primary, secondary]"
    capsys.readouterr()
    assert main(["new", str(tmp_path / "other.yaml"), "--sheet", str(page)]) == 2  # never overwritten
    assert "is not overwritten" in capsys.readouterr().err and not (tmp_path / "other.yaml").exists()
