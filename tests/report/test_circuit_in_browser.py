"""The circuit in a real browser: letters as they come out, at both widths, on paper, in dark; links that lead."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from brute_force import BRUTE_FORCE
from chromium import chromium, driven, looked_at, printed_pages
from documents import DAY, POOR, ROOT, SHIPPED, SOUND, shipped
from one_browser import browser

from derate.design.load import load_design
from derate.report.compare import compare_html
from derate.report.html import circuit_page, html_page
from derate.study.compare import Side, compare
from derate.study.work import Workshop, review_of

LOOKED = """
const out = {};
for (const name of NAMES) {
  const page = await open(name), view = page.defaultView, found = {shown: [], over: [], out: [], small: [], dead: []};
  for (const one of page.querySelectorAll('svg.drawing')) {
    if (one.getAttribute('role') !== 'group') continue;
    const at = one.getBoundingClientRect();
    if (!at.width) continue;
    found.shown.push(one.getAttribute('class').split(' ').pop());
    if (at.left < -0.5 || at.right > WIDTH + 0.5) found.out.push('the drawing itself');
    const scale = at.width / one.viewBox.baseVal.width, boxes = [];
    for (const text of one.querySelectorAll('text')) {
      const box = text.getBoundingClientRect(), size = parseFloat(view.getComputedStyle(text).fontSize) * scale;
      if (box.left < at.left - 1 || box.right > at.right + 1 || box.top < at.top - 1 || box.bottom > at.bottom + 1) {
        found.out.push(text.textContent);
      }
      if (size < LEAST) found.small.push(text.textContent + ' ' + size);
      const slim = {left: box.left + 1, right: box.right - 1, top: box.top + 3 * scale, bottom: box.bottom - 3 * scale};
      for (const [other, two] of boxes) {
        if (slim.left < two.right && two.left < slim.right && slim.top < two.bottom && two.top < slim.bottom) {
          found.over.push(other + ' / ' + text.textContent);
        }
      }
      boxes.push([text.textContent, slim]);
    }
    found.texts = (found.texts ?? 0) + boxes.length;
    for (const box of one.querySelectorAll('.symbol')) {
      const at2 = box.getBoundingClientRect();
      if (at2.left < at.left - 1 || at2.right > at.right + 1 || at2.top < at.top - 1 || at2.bottom > at.bottom + 1) {
        found.out.push('a symbol');
      }
    }
    found.names = [...one.querySelectorAll('a')].filter(
      link => link.querySelector('.symbol:not(.again)')
    ).map(link => link.querySelector('title').textContent.split(':')[0]);
    for (const link of one.querySelectorAll('a')) {
      const target = page.getElementById(link.getAttribute('href').slice(1));
      if (!target || !target.getBoundingClientRect().height) found.dead.push(link.getAttribute('href'));
    }
  }
  out[name] = found;
}
return out;
"""


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def _seen(pages: dict[str, str], folder: Path, width: int, least: float) -> dict[str, dict[str, Any]]:
    """What is found wrong with each page, in a tab of its own: however many there are, none is silent for long."""
    seen: dict[str, dict[str, Any]] = {}
    for name, text in pages.items():
        head = f"const NAMES = [{name!r}], WIDTH = {width}, LEAST = {least};"
        found: dict[str, dict[str, Any]] = driven({name: text}, folder, head + LOOKED, width)
        assert "failed" not in found, found
        seen |= found
    return seen


@pytest.mark.parametrize(("width", "shape"), [(1280, "wide-shape"), (360, "narrow-shape")])
def test_one_shape_is_shown_and_all_its_words_can_be_read(width: int, shape: str, tmp_path: Path) -> None:
    paths = (SOUND, POOR, "designs/porch-bell/porch-bell.derate.yaml")
    pages = {f"p{number}": circuit_page(shipped(path)) for number, path in enumerate(paths)}
    pages["report"] = html_page(shipped(SOUND))
    for name, found in _seen(pages, tmp_path, width, 10.5).items():
        assert found["shown"] == [shape], name
        assert found["texts"] > 25
        assert not found["out"] and not found["over"] and not found["small"] and not found["dead"], (name, found)


DATA = sorted(str(one.relative_to(ROOT)) for one in (ROOT / "tests/data").glob("*designs/*.derate.yaml"))
ALL = (*SHIPPED, *DATA)  # every design shipped, every key of the format, and what was read in data sheets


@pytest.mark.parametrize(("width", "shape"), [(1280, "wide-shape"), (360, "narrow-shape")])
def test_of_every_design_nothing_overlaps_or_leaves_the_frame_and_each_part_is_drawn_once(
    width: int, shape: str, tmp_path: Path
) -> None:
    paths = ALL if BRUTE_FORCE else ("tests/data/designs/every-key.derate.yaml", *ALL[width % 5 :: 5])
    documents = {f"p{number}": shipped(path) for number, path in enumerate(paths)}
    found = _seen({name: circuit_page(one) for name, one in documents.items()}, tmp_path, width, 10.5)
    for name, path in zip(found, paths, strict=True):
        seen = found[name]
        assert seen["shown"] == [shape], path
        assert not seen["out"] and not seen["over"] and not seen["small"] and not seen["dead"], (path, seen)
        drawn = Counter(seen["names"])
        parts = load_design(path).file.parts
        assert parts and {part: drawn[part] for part in parts} == dict.fromkeys(parts, 1), path


ON_PAPER = """
(() => {
  const [one] = [...document.querySelectorAll('svg.drawing')].filter(
    svg => svg.getAttribute('role') === 'group' && svg.getBoundingClientRect().width
  );
  const at = one.getBoundingClientRect(), view = one.viewBox.baseVal, texts = [...one.querySelectorAll('text')];
  const scale = Math.min(at.width / view.width, at.height / view.height), boxes = [];
  const found = {height: at.height, points: 99, out: [], over: [], pale: []};
  const bright = colour => {
    const parts = colour.match(/[0-9.]+/g).slice(0, 3).map(part => {
      const share = part / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2];
  };
  const ground = bright(getComputedStyle(document.body).backgroundColor);
  for (const text of texts) {
    const box = text.getBoundingClientRect();
    found.points = Math.min(found.points, parseFloat(getComputedStyle(text).fontSize) * scale * 0.75);
    const wide = box.left < at.left - 1 || box.right > at.right + 1;
    if (wide || box.top < at.top - 1 || box.bottom > at.bottom + 1) found.out.push(text.textContent);
    for (const each of [text, ...text.querySelectorAll('tspan')]) {
      const pair = [bright(getComputedStyle(each).fill), ground].sort((a, b) => b - a);
      if ((pair[0] + 0.05) / (pair[1] + 0.05) < 4.5) found.pale.push(each.textContent);
    }
    const slim = {left: box.left + 1, right: box.right - 1, top: box.top + 3 * scale, bottom: box.bottom - 3 * scale};
    for (const [other, two] of boxes) {
      if (slim.left < two.right && two.left < slim.right && slim.top < two.bottom && two.top < slim.bottom) {
        found.over.push(other + ' / ' + text.textContent);
      }
    }
    boxes.push([text.textContent, slim]);
  }
  found.texts = boxes.length;
  return JSON.stringify(found);
})()
"""
# what is left of a sheet between margins of 12 mm, at 96 pixels an inch
SHEETS = {"A4": (703, 1032), "Letter": (725, 965)}


def _as_drawn(page: str, folder: Path, width: int, height: int, media: str, dark: bool = False) -> dict[str, Any]:
    (folder / "drawn.html").write_text(page, encoding="utf-8")
    one = browser(chromium())
    with one.page(width, height, dark) as session:
        if media == "print":
            one.ask("Emulation.setEmulatedMedia", session, media="print")
        one.ask("Page.navigate", session, url=(folder / "drawn.html").as_uri())
        one.told("Page.loadEventFired", session)
        found: dict[str, Any] = json.loads(
            one.ask("Runtime.evaluate", session, expression=ON_PAPER)["result"]["value"]
        )
        return found


@pytest.mark.parametrize("path", SHIPPED if BRUTE_FORCE else (SHIPPED[7], "tests/data/designs/every-key.derate.yaml"))
def test_on_paper_a_drawing_is_on_one_sheet_and_can_be_read(path: str, tmp_path: Path) -> None:
    """On both sheets nothing is cut off, one over the other or smaller than 6 points; every key at once, 5.5."""
    page = circuit_page(shipped(path))
    for width, height in SHEETS.values():
        found = _as_drawn(page, tmp_path, width, height, "print")
        assert found["texts"] > 15 and found["height"] <= height
        assert found["points"] >= (6.0 if path in SHIPPED else 5.5), found["points"]
        assert not found["out"] and not found["over"] and not found["pale"], found


@pytest.mark.parametrize("dark", [False, True])
def test_its_words_stand_out_from_the_ground(dark: bool, tmp_path: Path) -> None:
    """4.5 to 1 in both schemes, the marks' words and the quiet ones too."""
    for path in SHIPPED if BRUTE_FORCE else (POOR,):
        found = _as_drawn(circuit_page(shipped(path)), tmp_path, 1280, 800, "screen", dark)
        assert found["texts"] > 15 and not found["pale"], (path, found["pale"])


def test_words_over_each_other_and_dead_links_would_be_seen(tmp_path: Path) -> None:
    page = (
        "<!doctype html><title>x</title><style>svg{width:200px}</style>"
        "<svg class='drawing bad' role=group viewBox='0 0 400 40'>"
        "<text x=5 y=20 font-size=12>one over</text><text x=9 y=22 font-size=12>another</text>"
        "<text x=380 y=20 font-size=30>outside</text>"
        "<path class=symbol d='M390 5h40v9h-40z'/>"
        "<a href='#none'><text x=200 y=20 font-size=30>dead</text></a></svg>"
    )
    found = _seen({"bad": page}, tmp_path, 360, 10.5)["bad"]
    assert found["over"] == ["one over / another"] and found["out"] == ["outside", "dead", "a symbol"]
    assert found["dead"] == ["#none"]
    assert len(found["small"]) == 2  # those of 12 in a drawing at half its size


@pytest.mark.parametrize("width", [1280, 360])
@pytest.mark.parametrize("dark", [False, True])
def test_nothing_serious_is_found_with_the_page(width: int, dark: bool, tmp_path: Path) -> None:
    found = looked_at(circuit_page(shipped(POOR)), tmp_path, width, dark=dark, axe=True)
    assert found["dark"] is dark and found["over"] <= 0 and not found["told"] and not found["loaded"]
    assert not [one for one in found["axe"] if one["impact"] in ("serious", "critical")], found["axe"]


@pytest.mark.parametrize(("width", "columns"), [(1280, 2), (360, 1)])
def test_two_circuits_stand_beside_each_other(width: int, columns: int, tmp_path: Path) -> None:
    works = [Workshop().work(path) for path in (SOUND, SOUND.replace(".derate", "-revision-b.derate"))]
    before, after = (
        Side(one.design.path, review_of(one, DAY), tuple(one.ledger.entries), one.design.structure) for one in works
    )
    page = compare_html(compare(before, after), DAY, designs=(works[0].design, works[1].design))
    found = _seen({"c": page}, tmp_path, width, 10.5)["c"]
    assert found["shown"] == ["circuit-beside"] * 2
    assert not found["out"] and not found["over"] and not found["small"]
    script = """
    const page = await open('c'), tops = new Set();
    for (const one of page.querySelectorAll('.circuit-beside')) tops.add(Math.round(one.getBoundingClientRect().top));
    return {rows: tops.size, framed: page.querySelectorAll('.changed').length};
    """
    seen = driven({"c": page}, tmp_path, script, width)
    assert seen["rows"] == 3 - columns
    assert seen["framed"] >= 6  # the three parts that are others, in both
    assert printed_pages(page, tmp_path) == 1  # where the drawings are left out
