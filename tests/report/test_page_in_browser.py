"""The pages in a browser: console, requests, overflow, accessibility, without scripts, the top of the poor supply.

Outside checks: chromium itself, and axe-core 4.14 (npm), whose serious and critical violations are the measure.
"""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from chromium import driven, looked_at, requests_of, shown
from documents import DAY, POOR, ROOT, SOUND, shipped
from hostile import hostile_document
from PIL import Image, ImageChops

from derate.report.compare import compare_html
from derate.report.html import html_page
from derate.study.compare import Side, compare

PAGES = ("sound", "poor", "compared", "hostile")


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def _page(name: str) -> str:
    if name == "hostile":
        return html_page(hostile_document())
    if name != "compared":
        return html_page(shipped(SOUND if name == "sound" else POOR))
    sides = [
        Side(path, one.review, tuple(one.ledger.entries), one.design.structure)
        for path in (SOUND, POOR)
        for one in [shipped(path)]
    ]
    return compare_html(compare(*sides), DAY)


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize(("width", "dark"), [(1280, True), (360, False)])
def test_nothing_in_the_console_and_nothing_over_the_edge(name: str, width: int, dark: bool, tmp_path: Path) -> None:
    found = looked_at(_page(name), tmp_path, width, dark=dark)
    assert found["wide"] == width and found["dark"] is dark  # it was really looked at this way
    assert not found["told"] and not found["loaded"]
    assert found["over"] <= 0


# Each takes ten seconds, so each page is gone through once; both schemes and both widths have their turn.
@pytest.mark.parametrize(("name", "width", "dark"), [("sound", 1280, False), ("poor", 360, True),
                                                     ("compared", 1280, True), ("hostile", 360, False)])  # fmt: skip
def test_axe_finds_nothing_serious(name: str, width: int, dark: bool, tmp_path: Path) -> None:
    found = looked_at(_page(name), tmp_path, width, dark=dark, axe=True)
    assert found["wide"] == width and found["dark"] is dark
    grave = [one for one in found["axe"] if one["impact"] in ("serious", "critical")]
    assert not grave, grave


def test_axe_finds_what_is_there(tmp_path: Path) -> None:
    bad = (
        "<!doctype html><html><head><title></title></head><body><img src='data:,'>"
        "<p style='color:#ddd;background:#fff'>hardly to be read</p></body></html>"
    )
    found = looked_at(bad, tmp_path, 360, axe=True)
    assert {"html-has-lang", "image-alt", "color-contrast"} <= {one["id"] for one in found["axe"]}


def test_overflow_is_seen(tmp_path: Path) -> None:
    bad = "<!doctype html><html><head></head><body><div style='width:500px'>x</div></body></html>"
    assert looked_at(bad, tmp_path, 360)["over"] > 100


def test_a_page_leaves_nothing_to_the_next(tmp_path: Path) -> None:
    script = "const was = localStorage.getItem('left'); localStorage.setItem('left', 'x'); return [was];"
    assert [driven({}, tmp_path, script) for _ in range(2)] == [[None], [None]]


@pytest.mark.parametrize("name", PAGES)
def test_no_request_leaves_the_page(name: str, tmp_path: Path) -> None:
    assert not [one for one in requests_of(_page(name), tmp_path) if not one.startswith("data:")]


def test_a_request_would_be_seen(tmp_path: Path) -> None:
    bad = "<!doctype html><title>x</title><img src='http://127.0.0.1:9/x.png'>"
    assert requests_of(bad, tmp_path) == ["http://127.0.0.1:9/x.png"]


def test_it_reads_the_same_with_scripts_off(tmp_path: Path) -> None:
    page = _page("poor")
    assert "<script" not in page
    with_scripts = Image.open(io.BytesIO(shown(page, tmp_path)))
    without = Image.open(io.BytesIO(shown(page, tmp_path, scripts=False)))
    colours = without.convert("RGB").getcolors(1 << 20)
    assert colours is not None and len(colours) > 50  # not a blank sheet
    assert ImageChops.difference(with_scripts.convert("RGB"), without.convert("RGB")).getbbox() is None


def test_the_three_things_of_the_poor_supply_are_seen_without_scrolling(tmp_path: Path) -> None:
    asked = ("h1", ".overall", ".hazards tr:last-child", ".first li:nth-child(1)", ".first li:nth-child(3) .reason",
             ".first li:nth-child(3)")  # fmt: skip
    found = looked_at(_page("poor"), tmp_path, 1280, 800, ask=asked)
    assert all(foot is not None and 0 < foot <= 800 for foot in found["foot"]), found["foot"]
