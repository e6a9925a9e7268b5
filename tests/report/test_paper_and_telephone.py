"""The pages on paper and on a telephone: how many sheets they take, and that no column is lost at 360 pixels."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from chromium import driven, looked_at, printed_pages
from documents import DAY, POOR, ROOT, SHIPPED, SOUND, shipped

from derate.report.compare import compare_html
from derate.report.html import html_page
from derate.report.summary import summary_page
from derate.study.compare import Side, compare


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def _compared() -> str:
    sides = [
        Side(path, one.review, tuple(one.ledger.entries), one.design.structure)
        for path in (SOUND, POOR)
        for one in [shipped(path)]
    ]
    return compare_html(compare(*sides), DAY)


@pytest.mark.parametrize("path", SHIPPED)
def test_the_whole_prints_on_25_pages_and_the_summary_on_two(path: str, tmp_path: Path) -> None:
    assert 2 < printed_pages(html_page(shipped(path)), tmp_path) <= 25
    assert printed_pages(summary_page(shipped(path)), tmp_path) <= 2


def test_two_designs_print_on_one_page(tmp_path: Path) -> None:
    assert printed_pages(_compared(), tmp_path) == 1


CELLS = """
const out = {};
for (const name of NAMES) {
  const page = await open(name), view = page.defaultView, found = {cells: 0, lost: [], scrolls: [], bare: []};
  for (const one of page.querySelectorAll('details')) one.open = true;
  for (const cell of page.querySelectorAll('tbody td, tbody th')) {
    const text = cell.textContent.trim(), at = cell.getBoundingClientRect();
    if (!text) continue;
    found.cells += 1;
    if (!(at.left >= -1 && at.right <= WIDTH + 1 && at.height > 0 && at.width > 0)) found.lost.push(text.slice(0, 60));
    if (cell.scrollWidth > cell.clientWidth + 1 && view.getComputedStyle(cell).display !== 'inline') {
      found.scrolls.push(text.slice(0, 60));
    }
  }
  for (const one of page.querySelectorAll('.wide')) {
    if (one.scrollWidth > one.clientWidth + 1) found.scrolls.push(one.getAttribute('aria-label') ?? '.wide');
  }
  for (const [table, columns] of Object.entries({lacking: [4, 5], faults: [3, 4, 5, 6], taken: [3, 4, 5]})) {
    for (const column of columns) {
      const cell = page.querySelector('.' + table + ' td:nth-child(' + column + ')');
      if (cell && !/[a-z]/.test(view.getComputedStyle(cell, '::before').content.replace('none', ''))) {
        found.bare.push(table + ' ' + column);
      }
    }
  }
  out[name] = found;
}
return out;
"""


def _pages() -> dict[str, str]:
    poor = shipped(POOR)
    return {"sound": html_page(shipped(SOUND)), "poor": html_page(poor), "summary": summary_page(poor),
            "compared": _compared()}  # fmt: skip


def _cells(pages: dict[str, str], folder: Path, width: int) -> dict[str, dict[str, Any]]:
    head = f"const NAMES = {list(pages)}, WIDTH = {width};"
    found: dict[str, dict[str, Any]] = driven(pages, folder, head + CELLS, width)
    assert "failed" not in found, found
    return found


def test_no_table_loses_a_column_on_a_telephone(tmp_path: Path) -> None:
    found = _cells(_pages(), tmp_path, 360)
    assert found["sound"]["cells"] > 1000 and found["poor"]["cells"] > 500 and found["summary"]["cells"] > 40
    for name, own in found.items():
        assert not own["lost"], (name, own["lost"][:5])
        assert not own["scrolls"], (name, own["scrolls"][:5])
        assert not own["bare"], (name, own["bare"])


def test_a_lost_column_would_be_seen(tmp_path: Path) -> None:
    bad = (
        "<!doctype html><title>x</title><div class=wide style='overflow-x:auto'><table style='width:600px'><tbody><tr>"
        "<td>one<td>two<td>three</table></div>"
    )
    own = _cells({"bad": bad}, tmp_path, 360)["bad"]
    assert own["lost"] == ["two", "three"] and own["scrolls"] == [".wide"]


def test_axe_finds_nothing_serious_in_the_summary(tmp_path: Path) -> None:
    found = looked_at(summary_page(shipped(POOR)), tmp_path, 360, axe=True)
    assert found["over"] <= 0 and not found["told"] and not found["loaded"]
    assert not [one for one in found["axe"] if one["impact"] in ("serious", "critical")], found["axe"]


def test_the_summary_says_what_it_leaves_out() -> None:
    document = shipped(POOR)
    page = summary_page(document)
    for one in document.review.hazards:
        assert f'<th scope="row">{one.hazard}</th>' in page and f"<td>{one.looked} of {one.asked}</td>" in page
    blocking = sum(one.blocks for one in document.review.findings)
    assert f"and {blocking - 20} more." in page
    for said in ("This sample is not to be powered", "Mains voltage can kill", "no certificate", "not done", "Assumed"):
        assert said in page, said
    assert "solder blob" in page and "at most 0.4 mm, needs at least 3 mm" in page
