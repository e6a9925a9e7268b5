"""Headroom: held to a dense grid on ten drawn designs, and every cure entered and tried."""

from __future__ import annotations

import random
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from brute_force import share
from random_supplies import random_supply

from derate.cli.main import main
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import SUPPLY, Subject
from derate.packs.load import Packs, load_packs
from derate.study.headroom import Axis, Headroom, Walker, axes, cures, headroom
from derate.study.trying import Bench
from derate.study.work import Work, Workshop, worked
from derate.terms.values import Known, Value

DESIGNS = Path(__file__).parents[2] / "designs"
VENT = DESIGNS / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
DAY = date(2026, 11, 25)


@cache
def packs() -> Packs:
    return load_packs(["commercial-practice", "mains-fusing"])


def bench_of(text: str, own: Packs | None = None) -> Bench:
    design = read_design(text, "drawn.derate.yaml")
    own = own or packs()
    return Bench(Work(design, Settings(), own, worked(design, own), {}), DAY)


@cache
def drawn() -> tuple[Bench, ...]:
    """Ten drawn designs that have room on some axis: nothing of what is judged fails at the rated point."""
    found: list[Bench] = []
    for seed in range(1, 60):
        rng = random.Random(7000 + seed)
        kind = ("bridge", "half-wave", "bridge", "choke")[seed % 4]
        text = random_supply(rng, kind).text.replace("name: drawn,", "name: drawn, topology: flyback,")
        bench = bench_of(text, load_packs(["commercial-practice"]))
        if not any(one.verdict == "fail" and one.blocks for one in bench.base.review.findings):
            found.append(bench)
        if len(found) == 10:
            return tuple(found)
    raise AssertionError(f"only {len(found)} drawn designs have room")


@cache
def ends_of_drawn(number: int) -> tuple[Headroom, ...]:
    """The headroom of a drawn design, asked for by several tests."""
    return tuple(headroom(drawn()[number]))


def facts_at(bench: Bench, axis: Axis, point: float) -> dict[tuple[Subject, str], Known | None]:
    """The facts of a point, written out once more: these designs have no readings to take along."""
    if axis.name == "output current":
        return {(Subject("output", ("main",)), "plate.current"): Value.exact(point)}
    name = "site.ambient" if axis.name == "ambient" else "plate.mains"
    row = bench.base.ledger.find(SUPPLY, name)
    assert row is not None and isinstance(row.value, Value)
    ends = (point, row.value.high) if axis.name == "lowest mains" else (row.value.low, point)
    return {(SUPPLY, name): Value.between(*ends)}


def holds(bench: Bench, axis: Axis, point: float) -> bool:
    """Every rule that gave a verdict at the rated point still gives one, and none of these blocks."""
    after = bench.tried(facts_at(bench, axis, point)).verdicts()
    for key, one in bench.base.verdicts().items():
        if one.verdict not in ("pass", "marginal") and not (one.verdict == "fail" and not one.blocks):
            continue
        found = after.get(key)
        if found is not None and (found.verdict == "not assessed" or (found.verdict == "fail" and found.blocks)):
            return False
    return True


def grid(axis: Axis, found: Headroom) -> list[float]:
    """Points from the rated one past the end: every twelfth of the way, and every half per cent near it."""
    assert found.end is not None
    side = -1.0 if axis.name == "lowest mains" else 1.0
    beyond = found.end if found.open else found.end * (1.0 + 0.03 * side)
    coarse = [axis.rated + (beyond - axis.rated) * k / 12 for k in range(13)]
    near = [] if found.open else [found.end * (1.0 + 0.005 * k) for k in range(-4, 5)]
    points = sorted({*coarse, *near}, key=lambda one: side * one)
    return [one for one in points if side * one >= side * axis.rated]


@pytest.mark.parametrize("number", range(0, 10, share(2)))  # each axis has its turn in a share, too
def test_within_one_per_cent_of_a_dense_grid(number: int) -> None:
    """One axis a design, three or four designs an axis; nothing of these designs depends on the ambient alone."""
    bench = drawn()[number]
    ends = {one.name: one for one in ends_of_drawn(number)}
    looked = [one for one in axes(bench) if isinstance(one, Axis) and one.name != "ambient"]
    axis = looked[number % 3]
    found = ends[axis.name]
    assert found.end is not None
    last, stopped = axis.rated, False
    for point in grid(axis, found):
        if not holds(bench, axis, point):
            stopped = True
            break
        last = point
    assert stopped is not found.open, (axis.name, found.end, last)
    assert abs(last - found.end) <= 0.01 * abs(found.end) + 1e-9, (axis.name, axis.rated, found.end, last)


def test_some_of_them_have_room_and_say_what_stops_them() -> None:
    ends = [one for number in (3, 4) for one in ends_of_drawn(number)]
    assert any(
        one.end is not None and one.axis is not None and abs(one.end / one.axis.rated - 1) > 0.02 for one in ends
    )
    assert all(one.open or one.stops is not None for one in ends)


def test_the_sound_supply() -> None:
    work = Workshop().work(str(VENT))
    ends = headroom(Bench(work, DAY))
    assert {one.name for one in ends} == {"output current", "ambient", "lowest mains", "highest mains"}
    ambient = next(one for one in ends if one.name == "ambient")
    assert ambient.end is not None and ambient.end >= 40.0


def ends_of(text: str) -> dict[str, Headroom]:
    return {one.name: one for one in headroom(bench_of(text))}


SMALL = """derate: 1
supply:
  {name: Small, topology: flyback, efficiency: 0.8,
   plate: {mains: 230 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 0.4 A}}}}
site: {ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 20 K (measured), mains_resistance: 0.4 ohm}
parts:
  F1: {kind: fuse, standard: IEC 60127, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 250 Vac}}
  BR1: bridge rectifier 800 V 1 A
  C1: electrolytic capacitor 10 uF 20% 400 V
circuit: {line: [F1, BR1, across C1]}
"""


def test_the_highest_mains_ends_where_arithmetic_says() -> None:
    """The crest of 1.1 times 257.1 V is 400 V, above which the capacitor fails; the fuse ends at 250 V before that."""
    found = ends_of(SMALL)["highest mains"]
    assert found.end is not None and found.end == pytest.approx(250.0, rel=0.01)
    assert found.stops is not None and (found.stops.rule, str(found.stops.subject)) == ("fuse-voltage", "F1")
    stronger = SMALL.replace("voltage: 250 Vac", "voltage: 500 Vac")
    higher = ends_of(stronger)["highest mains"]
    # The bulk rings above the crest with the inductance of the wiring, so it ends sooner than the crest alone would:
    # by at most 5 %, beyond which the figure would rest on the assumption.
    crest_alone = 400.0 / (1.1 * 2**0.5)
    assert higher.end is not None and 0.95 * crest_alone < higher.end < crest_alone
    assert higher.stops is not None and higher.stops.rule == "bulk-capacitor-voltage"


def test_what_fails_at_the_rated_point_ends_the_axis_it_moves_with_and_is_set_aside_on_the_others() -> None:
    found = ends_of(SMALL.replace("400 V\n", "300 V\n"))
    high = found["highest mains"]
    assert high.end is None and high.stops is not None and "rated point already" in high.why
    assert high.stops.rule == "bulk-capacitor-voltage"
    assert found["ambient"].why == "" and found["ambient"].end is not None  # the capacitor fails at any ambient


def test_an_axis_nobody_stated_says_so() -> None:
    found = ends_of(SMALL.replace("ambient: 0..40 degC, ", ""))
    assert found["ambient"].end is None and "no ambient" in found["ambient"].why


def test_the_least_rating_that_cures_passes_and_less_does_not() -> None:
    text = SMALL.replace("400 V\n", "300 V\n").replace("800 V 1 A", "300 V 1 A").replace("250 Vac", "125 Vac")
    bench = bench_of(text)
    found = cures(bench)
    assert {one.finding.rule for one in found} >= {
        "bulk-capacitor-voltage",
        "mains-rectifier-reverse-voltage",
        "fuse-voltage",
    }
    for cure in found:
        key, fact = (cure.finding.rule, cure.finding.pack, cure.finding.subject), (cure.finding.subject, cure.name)
        assert isinstance(cure.value, Value)
        assert bench.tried({fact: cure.value}).verdicts()[key].verdict == "pass"
        assert bench.tried({fact: cure.value.scaled(0.985)}).verdicts()[key].verdict != "pass"


def test_the_command(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(DESIGNS / "market-stall-lamp")
    assert main(["headroom", "market-stall-lamp.derate.yaml"]) == 0
    text = capsys.readouterr().out
    assert "fails at the rated point already" in text and "cure: " in text
    assert main(["headroom", "gone.yaml"]) == 2


# ---- what fails at the rated point already -----------------------------------------------------------------------


STEPS = """pack: stepped
title: A limit that moves in steps
covers: one fuse
sources: {by_hand: {title: by hand}}
tables:
  most_current:
    says: what a fuse may be rated, by ambient
    axes: {site.ambient: [20 degC, 60 degC]}
    unit: A
    kind: next row up
    ends: hold
    cells: [0.9, 0.5]
    confidence: common practice
    source: by_hand
rules:
  - rule: fuse-by-steps
    says: A fuse is rated no more than the step of the ambient.
    because: A limit that moves in steps.
    hazard: fire
    severity: major
    applies: {part.kind: fuse}
    keep: rated.current <= table.most_current
    remedy: fit one of {limit} or less
    settle: read it
    settle_does: opened
    source: by_hand
    confidence: common practice
---
trials:
  fuse-by-steps:
    - {part.kind: fuse, rated.current: 0.8 A, site.ambient: 10 degC, expect: pass}
    - {part.kind: fuse, rated.current: 1 A, site.ambient: 40 degC, expect: fail}
"""


@pytest.mark.parametrize("hangs", [True, False])
def test_a_limit_that_moves_in_steps_hangs_on_the_axis(hangs: bool, tmp_path: Path) -> None:
    """At 40 degC it fails, at 40.3 by as much to the last digit, at 20 degC by less: it hangs on the ambient.

    Where there is no step it fails by as much there as well, and is set aside: no end of this axis.
    """
    path = tmp_path / "stepped.yaml"
    path.write_text(STEPS.replace("cells: [0.9, 0.5]", f"cells: [{0.9 if hangs else 0.5}, 0.5]"), encoding="utf-8")
    text = """derate: 1
supply:
  {name: Small, topology: flyback,
   plate: {mains: 230 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 0.4 A}}}}
site: {ambient: 0..40 degC}
parts:
  F1: {kind: fuse, rated: {current: 1 A, voltage: 250 Vac}}
  BR1: bridge rectifier 600 V 1 A
  C1: electrolytic capacitor 10 uF 20% 400 V
circuit: {line: [F1, BR1, across C1]}
"""
    bench = bench_of(text, load_packs([str(path)]))
    (blocked,) = (one for one in bench.base.review.findings if one.blocks and one.verdict == "fail")
    walker = Walker(bench)
    found = {axis.name: walker.fails_with(axis) for axis in axes(bench) if isinstance(axis, Axis)}
    assert found["output current"] is None and found["highest mains"] is None
    assert found["ambient"] == (blocked if hangs else None)
