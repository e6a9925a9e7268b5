"""The sheet for the bench in a real browser: filled in as a person would, and its text read by `lint` as it is."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from chromium import driven, looked_at, printed_pages
from documents import POOR, ROOT, SHIPPED

from derate.cli.main import main
from derate.design.sheet import Sheet
from derate.report.sheet import sheet_page
from derate.study.missing import missing_facts
from derate.study.sheet import sheet_of, sheet_of_work
from derate.study.trying import Bench
from derate.study.work import Workshop

DAY = date(2026, 11, 25)
FUSES = {"desk-lamp-adapter.derate.yaml": "F1", "market-stall-lamp.derate.yaml": "TK1"}
OVER = {  # what no example can know: the walked paths of the first look
    "circuit.primary": "[T1.primary, Q1]",
    "circuit.outputs.main": "[T1.secondary, D1]",
    "circuit.drive": "[T1.auxiliary, R2]",
}
# Tick every box of a step, fill every field with its own example, read the text, load the page anew and read again.
DRIVE = """
const out = {};
for (const name of NAMES) {
  let page = await open(name);
  page.defaultView.localStorage.clear();
  page = await open(name);
  const shut = [...page.querySelectorAll('fieldset')].filter(one => one.disabled).length;
  const last = [...page.querySelectorAll('[data-step=unwound] fieldset')].filter(one => one.disabled).length;
  const untouched = page.getElementById('yaml').value;
  for (const box of page.querySelectorAll('[data-gate]')) {
    if (box.closest('[data-step]').dataset.step !== 'unwound') { box.click(); }
  }
  const open_ones = [...page.querySelectorAll('fieldset')].filter(one => !one.disabled).length;
  for (const box of page.querySelectorAll('[data-step=unwound] [data-gate]')) { box.click(); }
  const powered = page.querySelector('[data-step=powered] fieldset');
  const filled = [], paths = {};
  for (const one of JSON.parse(page.getElementById('data').textContent).fields) paths[one.id] = one.path.join('.');
  for (const input of page.querySelectorAll('.entry input')) {
    const such = OVER[paths[input.id]] ?? input.dataset.such.replace('after …', 'after FUSE');
    if (such.includes('…') || such === '') continue;
    input.value = such;
    input.dispatchEvent(new Event('input', {bubbles: true}));
    filled.push(input.id);
  }
  const read = doc => ({
    yaml: doc.getElementById('yaml').value, said: doc.getElementById('said').textContent,
    wrong: [...doc.querySelectorAll('[aria-invalid=true]')].map(one => one.id + ' ' + one.value),
  });
  const first = read(page);
  page = await open(name);
  await settle();
  out[name] = {shut, last, open_ones, untouched, filled, powered: powered ? powered.disabled : null, ...first,
               again: read(page).yaml, over: page.documentElement.scrollWidth - innerWidthOf(page)};
}
function innerWidthOf(page) { return page.defaultView.innerWidth; }
return out;
"""


def _page(path: str) -> tuple[str, str]:
    work = Workshop().work(path)
    return sheet_page(sheet_of_work(work, DAY), work.design.file.barriers), Path(path).read_text(encoding="utf-8")


def _powered() -> Sheet:
    """The sheet of the poor supply as if nothing spoke against powering it, for the fields of readings and tests."""
    work = Workshop().work(POOR)
    facts = missing_facts(Bench(work, DAY), False, 0)
    return sheet_of(POOR, work.design.name, work.design.texts[POOR], facts, "", "flyback", {}, ["main"])


def _empty(folder: Path) -> str:
    """The sheet of a supply that nobody has opened."""
    file, page = folder / "lamp.derate.yaml", folder / "lamp.html"
    said = ["--name", "Lamp", "--topology", "flyback", "--mains", "220..240 V", "--output", "main=5 V 1 A"]
    assert main(["new", str(file), "--sheet", str(page), *said]) == 0
    return page.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """Every shipped design's sheet, filled in."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        pages = {Path(path).name.partition(".")[0]: _page(path)[0] for path in SHIPPED}
        pages["powered"] = sheet_page(_powered(), {})
        pages["empty"] = _empty(tmp_path_factory.mktemp("new"))
    names = f"const NAMES = {list(pages)}, OVER = {OVER};"
    found: dict[str, dict[str, Any]] = driven(pages, tmp_path_factory.mktemp("sheets"), names + DRIVE)
    assert "failed" not in found, found
    return found


@pytest.mark.parametrize("path", SHIPPED)
def test_what_was_written_is_read_by_lint(
    path: str,
    filled: dict[str, dict[str, Any]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(ROOT)
    own = filled[Path(path).name.partition(".")[0]]
    assert not own["wrong"]  # every example of the table of keys has the form that the page asks for
    assert own["said"].startswith(f"{len(own['filled'])} fact"), own["said"]
    folder = tmp_path / "copied"
    folder.mkdir()
    for other in (ROOT / path).parent.glob("*.yaml"):
        (folder / other.name).write_text(other.read_text(encoding="utf-8"), encoding="utf-8")
    target = folder / Path(path).name
    before = Workshop().work(path)
    output = next(iter(before.design.structure.outputs), "main")  # the example's output is called main
    written = own["yaml"].replace("after FUSE", f"after {FUSES.get(target.name)}").replace("{main: ", f"{{{output}: ")
    target.write_text(written.replace("output: main", f"output: {output}"), encoding="utf-8")
    main(["lint", str(target)])
    said = capsys.readouterr()
    assert not said.err, said.err + own["yaml"]
    after = Workshop().work(str(target))
    assert len(after.ledger.entries) > len(before.ledger.entries) or not own["filled"]


def test_readings_and_tests_go_behind_those_that_stand_there(filled: dict[str, dict[str, Any]], tmp_path: Path) -> None:
    own = filled["powered"]
    assert not own["wrong"] and own["powered"] is True  # ticking the unwound sample shut the powered step
    target = tmp_path / "market-stall-lamp.derate.yaml"
    target.write_text(own["yaml"].replace("after FUSE", "after TK1"), encoding="utf-8")
    before, after = Workshop().work(str(ROOT / POOR)).design, Workshop().work(str(target)).design
    assert [one.quantity for one in after.readings[: len(before.readings)]] == [one.quantity for one in before.readings]
    new = {(one.quantity, one.target) for one in after.readings[len(before.readings) :]}
    assert {("case_temperature", "C1"), ("mains_power", "")} <= {(name, str(of)) for name, of in new}, new


def test_nothing_typed_leaves_the_file_as_it_is(filled: dict[str, dict[str, Any]]) -> None:
    for path in SHIPPED:
        assert filled[Path(path).name.partition(".")[0]]["untouched"] == (ROOT / path).read_text(encoding="utf-8")


def test_what_was_typed_is_there_when_the_page_is_opened_again(filled: dict[str, dict[str, Any]]) -> None:
    for own in filled.values():
        assert own["again"] == own["yaml"] and (own["yaml"] != own["untouched"]) == bool(own["filled"])
        assert own["over"] <= 0  # at 360 pixels


def test_a_step_is_shut_until_its_cautions_are_ticked(filled: dict[str, dict[str, Any]]) -> None:
    for own in filled.values():
        # ticked, all but the last step, they are open (and what is read in papers always is)
        assert own["open_ones"] >= own["shut"] - own["last"]
    poor = filled["market-stall-lamp"]
    assert poor["shut"] == 4  # closed, opened, unsoldered, unwound; nothing is asked that needs power


SLIPS = """
let page = await open('poor');
page.defaultView.localStorage.clear();
page = await open('poor');
const fields = JSON.parse(page.getElementById('data').textContent).fields;
const of = path => page.getElementById(fields.find(one => one.path.join('.') === path).id);
const type = (path, text) => {
  const input = of(path);
  input.value = text;
  input.dispatchEvent(new Event('input', {bubbles: true}));
  const told = page.getElementById(input.id + 'w').textContent;
  return {wrong: input.getAttribute('aria-invalid') === 'true', told, yaml: page.getElementById('yaml').value};
};
const found = {};
for (const text of TEXTS) found[text] = type('barriers.under T1.clearance', text);
const unit = page.getElementById(of('barriers.under T1.clearance').id + 'u');
unit.value = 'um'; unit.dispatchEvent(new Event('input', {bubbles: true}));
const known = page.getElementById(of('barriers.under T1.clearance').id + 'k');
known.value = 'measured'; known.dispatchEvent(new Event('input', {bubbles: true}));
found.chosen = type('barriers.under T1.clearance', '6100..6400');
found.hostile = type('inspection.wire_reach', '<img src=x onerror=alert(1)> a: b # c');
return found;
"""


def test_the_form_of_a_value_is_checked_as_it_is_typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    page, text = _page("designs/market-stall-lamp/market-stall-lamp.derate.yaml")
    texts = ["6.1", "6.1..6.4 mm (measured)", "6.1 10%", "6,1 mm", "6.1 V", "about six", "6.1 mm (guessed)", "[6 mm]"]
    found = driven({"poor": page}, tmp_path, f"const TEXTS = {texts};" + SLIPS)
    assert "failed" not in found, found
    for good, written in (
        ("6.1", "6.1 mm"), ("6.1..6.4 mm (measured)", "6.1..6.4 mm (measured)"), ("6.1 10%", "6.1 mm 10%"),
    ):  # fmt: skip
        assert not found[good]["wrong"]
        assert f"\n  under T1:\n    between: [primary, secondary]\n    clearance: {written}\n" in found[good]["yaml"]
    for bad in texts[3:]:
        assert found[bad]["wrong"] and "a number with its unit" in found[bad]["told"], bad
        assert found[bad]["yaml"] == text  # what cannot be read is left out, and its block with it
    assert "clearance: 6100..6400 um (measured)\n" in found["chosen"]["yaml"]
    hostile = found["hostile"]["yaml"]
    assert 'wire_reach: "<img src=x onerror=alert(1)> a: b # c"' in hostile


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints(paper: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    page, _ = _page("designs/market-stall-lamp/market-stall-lamp.derate.yaml")
    sized = page.replace("@page{size:auto;", f"@page{{size:{paper};")
    assert sized != page
    assert 2 <= printed_pages(sized, tmp_path) <= 8


def test_axe_finds_nothing_serious_on_the_sheet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    page, _ = _page("designs/first-look/desk-lamp-adapter.derate.yaml")
    found = looked_at(page, tmp_path, 360, dark=True, axe=True)
    assert found["over"] <= 0 and not found["told"] and not found["loaded"]
    grave = [one for one in found["axe"] if one["impact"] in ("serious", "critical")]
    assert not grave, grave


def _lint(text: str, target: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What lint has to say against a text before it judges it."""
    target.write_text(text, encoding="utf-8")
    capsys.readouterr()
    assert main(["lint", str(target)]) == 1, text  # read, and not sound
    return capsys.readouterr().err


def test_an_empty_sheet_filled_to_the_last_field_is_read(
    filled: dict[str, dict[str, Any]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = filled["empty"]
    assert not own["wrong"] and len(own["filled"]) > 70
    assert not _lint(own["yaml"], tmp_path / "lamp.derate.yaml", capsys)
    work = Workshop().work(str(tmp_path / "lamp.derate.yaml"))
    assert {"F1", "BR1", "C1", "Q1", "U1"} <= set(work.design.structure.kinds)
    assert work.design.structure.mains is not None and work.design.structure.own.traced


FEW = """
const page = await open('empty');
page.defaultView.localStorage.clear();
const found = [];
for (const some of SOME) {
  const page = await open('empty');
  page.defaultView.localStorage.clear();
  const again = await open('empty');
  const fields = JSON.parse(again.getElementById('data').textContent).fields;
  for (const [path, text] of Object.entries(some)) {
    const input = again.getElementById(fields.find(one => one.path.join('.') === path).id);
    input.value = text;
    input.dispatchEvent(new Event('input', {bubbles: true}));
  }
  found.push({yaml: again.getElementById('yaml').value, said: again.getElementById('said').textContent});
}
return found;
"""
SOME = [
    {"parts.F1.kind": "fuse", "parts.F1.rated.current": "2 A"},
    {"parts.F1.rated.current": "2 A"},
    {"circuit.line": "[F1, BR1, across C1]", "parts.F1.kind": "fuse"},
    {"transformers.T1.windings.primary.turns": "84"},
    {"barriers.under transformer.clearance": "6.1 mm", "barriers.across F1.clearance": "3 mm"},
    {"supply.connection": "plug-in", "inspection.opens_by_hand": "no"},
    {},
    {"circuit.bridging.CY1": "[bulk minus, main minus]"},
]


def test_an_empty_sheet_filled_in_part_is_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever order somebody fills it in: what hangs in the air waits and is told, and lint reads the rest."""
    page = _empty(tmp_path)
    found = driven({"empty": page}, tmp_path, f"const SOME = {json.dumps(SOME)};" + FEW)
    assert isinstance(found, list), found
    told = [one["said"] for one in found]
    for number, one in enumerate(found):
        assert not _lint(one["yaml"], tmp_path / f"few-{number}.derate.yaml", capsys)
    assert "  other:\n    F1: not traced yet" in found[0]["yaml"] and told[0].startswith("2 facts")
    assert told[1].startswith("0 facts") and "F1: what the part is is filled in" in told[1]
    assert "the kind of BR1" in told[2] and "line:" not in found[2]["yaml"].replace("#  line:", "")
    assert "a path with T1.primary" in told[3]
    assert "clearance: 6.1 mm" in found[4]["yaml"] and told[4].startswith("1 fact ")
    assert told[5].startswith("2 facts") and told[6].startswith("0 facts")
    assert told[7].startswith("0 facts") and "the kind of CY1" in told[7]
