"""Drawings: every layer, gap and lead is there; what nobody looked at says so; all of it is well-formed XML."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from documents import POOR, ROOT, SHIPPED, SOUND, shipped

from derate.ledger.entry import Case, Subject
from derate.ledger.ledger import Ledger
from derate.report.faults import Row
from derate.report.html import html_page
from derate.report.svg import Axis, axis, gauge, opening_plots, rating_plots
from derate.report.svg_insulation import places, sections
from derate.study.faults import FaultRow
from derate.terms.dimension import CELSIUS, CURRENT, POWER, TIME
from derate.terms.values import Curve, Value


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize("path", SHIPPED)
def test_every_drawing_is_well_formed_and_told(path: str) -> None:
    page = html_page(shipped(path))
    drawings = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert len(drawings) > 3
    for one in drawings:
        root = ElementTree.fromstring(one)
        if root.get("role") in ("img", "group"):
            told = [element.tag.rpartition("}")[2] for element in root][:2]
            assert told == ["title", "desc"] and all(element.text for element in list(root)[:2])
        else:
            assert root.get("aria-hidden") == "true"


def test_the_sound_transformer_has_all_its_layers() -> None:
    (section,) = sections(shipped(SOUND).design)
    assert [words.partition(",")[0] for _, words, _ in section.layers] == [
        "bobbin", "primary", "tape", "inner-shield", "tape", "secondary", "tape", "outer-shield", "tape", "primary",
        "tape", "auxiliary", "tape",
    ]  # fmt: skip
    sides = {words.partition(",")[0]: side for _, words, side in section.layers}
    assert sides["secondary"] == "output side" and sides["inner-shield"] == sides["primary"] == "mains side"
    assert section.svg.count('class="tape"') == 1 + 2 + 2 + 1 + 1 + 3  # one line a layer of tape
    assert section.svg.count("winding primary shield") == 2 and "bobbin" in section.svg and 'class="lead' in section.svg
    assert any("flying" in note and "sleeve none" in note for note in section.notes)
    assert "margins: none" in section.notes


def test_the_poor_transformer_shows_what_is_wrong_and_what_is_open() -> None:
    (section,) = sections(shipped(POOR).design)
    assert section.layers[0][1].startswith("bobbin, thickness unknown")  # turned round: from the core outwards
    assert 'class="gap"' in section.svg and "stops short by 0.5 to 1 mm" in section.layers[3][1]
    assert section.svg.count('class="tape open"') == 1  # the second of one or two layers
    assert "bobbin open" in section.svg


def test_places_of_the_barrier() -> None:
    found = {one.name: one for one in places(shipped(SOUND).design)}
    under = found["under transformer"]
    assert 'class="sheet"' in under.svg and 'class="slot"' in under.svg and "6.1 to 6.4 mm" in under.svg
    assert "sheet" not in found["ahead of RF1"].svg
    poor = {one.name: one for one in places(shipped(POOR).design)}
    assert "along surfaces not known" in poor["solder blob"].svg
    assert "creepage: nobody has looked" in poor["solder blob"].says


def test_ticks_are_round_and_inside() -> None:
    for low, high in ((0.0, 58.4), (-10.0, 71.0), (0.0013, 0.0042), (80.0, 123.0)):
        made = axis("x", TIME, (low, high))
        ticks = made.ticks()
        assert 3 <= len(ticks) <= 8 and made.low <= ticks[0] and ticks[-1] <= made.high * (1 + 1e-9)
    assert Axis("x", TIME, 1e-4, 1e-1, True).share(1e-4) == 0.0
    assert Axis("x", TIME, 1e-4, 1e-2, True).share(1e-3) == pytest.approx(0.5)
    assert Axis("x", TIME, 0.0, 2.0).share(5.0) == 1.0


@pytest.mark.parametrize(("kindest", "worst", "solid"), [(0.5, 0.5, 100.0), (0.5, 0.9, 100.0), (1.2, 1.3, 240.0)])
def test_a_gauge_is_solid_to_the_kindest_reading(kindest: float, worst: float, solid: float) -> None:
    root = ElementTree.fromstring(gauge(kindest, worst, "fail"))
    bars = [one for one in root if (one.get("class") or "").startswith("bar")]
    assert bars[0].get("d") == f"M0 2h{solid:g}v8H0z"
    doubts = [one for one in root if (one.get("class") or "").startswith("doubt")]
    assert len(doubts) == (worst > kindest)
    assert gauge(None, float("inf"), "not assessed").count("l7 5") == 1  # beyond the end is a point
    assert gauge(None, None, "pass") == ""


def _ledger(power: float) -> Ledger:
    ledger = Ledger()
    part, case = Subject("part", ("R1",)), Case("running", 90.0)
    rating = Curve(((70.0, Value.exact(3.0)), (155.0, Value.exact(0.0))), CELSIUS, POWER)
    ledger.write(part, "rated.power", rating)
    ledger.write(part, "power", Value.exact(power), case=case, formula="x")
    ledger.write(part, "air_temperature", Value.exact(112.5), case=case, formula="x")
    ledger.write(part, "rated.opens_within", Curve(((1.0, Value.exact(60.0)), (4.0, Value.exact(1.0))), CURRENT, TIME))
    return ledger


@pytest.mark.parametrize(("power", "over"), [(1.4, False), (1.6, True)])
def test_an_operating_point_above_its_derating_line_is_marked(power: float, over: bool) -> None:
    (plot,) = rating_plots(_ledger(power))  # half way down its line: 1.5 W
    assert ("spot over" in plot.svg) is over


def _fault(name: str, opening: str, current: float, time: float | None) -> Row:
    value = Value.exact(time) if time is not None else None
    clears = "R1" if opening == "shown" else ""
    return FaultRow(name, Subject("part", ("R1",)), Case("fault", 230.0), Value.exact(current), None, None, clears,
                    opening, value, "")  # fmt: skip


def test_fault_points_on_the_opening_curve() -> None:
    ledger = _ledger(1.0)
    faults = [_fault("C1 shorted", "shown", 3.0, 1.0), _fault("half a short", "not shown", 0.5, None)]
    (plot,) = opening_plots(ledger, faults)
    assert plot.svg.count('class="spot') == 2 and plot.svg.count("spot over") == 1
    assert any("half a short" in words and "not shown to open" in words for _, words, _ in plot.key)
    (bare,) = opening_plots(ledger, None)
    assert "nobody has looked" in bare.says and "spot" not in bare.svg
