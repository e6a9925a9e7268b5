"""What tolerance does to a design: no draw beyond the ledger, arrays as one by one, no chance in a safety limit."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from html import escape
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from derate.cli.main import main
from derate.design.kinds import WARMED
from derate.judge.review import Gate
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.ledger.traced import TracedLedger
from derate.report.schemas import SpreadsOutput, problems_of, read_output
from derate.report.spread import bar, drawn_rows, driver_words, share_words, spread_lines, within
from derate.report.spread_data import spread_json
from derate.report.spread_page import spread_page
from derate.report.svg_spread import drivers_drawing, histogram_drawing
from derate.study.spread.drift import DRIFTS, drifts, with_drift
from derate.study.spread.leaves import FromModel, Grower
from derate.study.spread.replay import Replay, Way, on_arrays, one_by_one, places
from derate.study.spread.spread import Spread, Study, of_safety, spread
from derate.study.work import Work, Workshop
from derate.terms.dimension import NUMBER
from derate.terms.quantities import SURGE, named
from derate.terms.topologies import TOPOLOGIES
from derate.terms.values import Place, Value
from derate.terms.vocabulary import VOCABULARY
from derate.text.formula_reader import parse
from derate.text.nodes import Mapping, Node, Scalar, compose
from tests import brute_force

ROOT = Path(__file__).parents[2]
DESIGNS = sorted(
    [
        *ROOT.glob("designs/*/*.derate.yaml"),
        *ROOT.glob("tests/data/designs/*.yaml"),
        *ROOT.glob("tests/topologies/*.yaml"),
    ]
)
DESIGNS = [path for path in DESIGNS if path.name.endswith(".derate.yaml") and "toy" not in path.name]
SOUND = "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
DAY = date(2026, 11, 29)


def traced(path: str | Path, change: Callable[[Mapping], Mapping] | None = None) -> Work:
    return Workshop(ledger=TracedLedger, change=change).work(str(ROOT / path))


# ---- no draw beyond what the ledger holds possible -------------------------------------------------------------------


def corner_of_a_pulse(row: Entry) -> bool:
    """The width of a charging pulse is that of the sharpest one, whatever may make it wider: a corner, and no range.

    That of a surge is a range, as a rail is raised by the charge that stands in it.
    """
    return row.quantity == "pulse_width" and row.case is not None and row.case.group != SURGE


def beyond(path: Path, way: Way, change: Callable[[Mapping], Mapping] | None = None) -> list[str]:
    """Rows with a draw outside of low..high by more than rounding, or without a figure where the ledger has one."""
    work = traced(path, change)
    ledger = work.ledger
    assert isinstance(ledger, TracedLedger)
    graph = Grower(ledger).graph(row.number for row in ledger.entries if isinstance(row.value, Value))
    rows = Replay(graph, places(graph.leaves, way), way.draws, way.costly_draws).run().rows
    wrong = []
    for number, figures in rows.items():
        row = ledger[number]
        value = row.value
        assert isinstance(value, Value)
        if corner_of_a_pulse(row) or value.low == inf:  # nothing across the mains: no upper end, and none drawn
            continue
        slack = 1e-9 * max(abs(value.low), abs(value.high))
        out = np.count_nonzero(~((figures >= value.low - slack) & (figures <= value.high + slack)))
        if out:
            ends = f"{np.nanmin(figures):.6g} to {np.nanmax(figures):.6g}, not {value.low:.6g} to {value.high:.6g}"
            wrong.append(f"{row.subject}: {row.quantity} ({row.case}), {row.formula}: {out} draws, {ends}")
    return wrong


SOME = DESIGNS[brute_force.share(4) // 4 :: brute_force.share(4)]


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.name.partition(".")[0])
def test_no_draw_lies_beyond_the_ledger(path: Path) -> None:
    """Every row of every demonstration: else a sign or a band that stands beside a formula is wrong."""
    way = Way(20_000, 2_000) if brute_force.BRUTE_FORCE else Way(200, 20, seed=4)
    assert beyond(path, way) == []


# Normal and cut off at two sigma, and parts of one lot alike by half: nearer the middle of each, and ends together.
CUT = Way(form="normal", sigmas=2.0, together=0.5)


@pytest.mark.parametrize("path", SOME, ids=lambda path: path.name.partition(".")[0])
def test_no_truncated_draw_lies_beyond_the_ledger(path: Path) -> None:
    few = CUT._replace(draws=200, costly_draws=20, seed=5)
    assert beyond(path, CUT if brute_force.BRUTE_FORCE else few) == []


STATED = "{{a: {{temperature_coefficient: {}}}}}"
COEFFICIENTS = ("±150 ppm/K", "+300 ppm/K", "-400..-200 ppm/K")


def with_coefficients(whole: Mapping) -> Mapping:
    """A file whose parts that may have one all state a temperature coefficient, one after the other another one."""
    found = []
    for key, parts in whole.entries:
        if key.text == "parts" and isinstance(parts, Mapping):
            blocks: list[tuple[Scalar, Node]] = []
            for name, block in parts.entries:
                kind = block.get("kind") if isinstance(block, Mapping) else None
                if isinstance(block, Mapping) and isinstance(kind, Scalar) and kind.text in WARMED:
                    text = STATED.format(COEFFICIENTS[len(blocks) % 3])
                    more = compose(text, kind.place.path).get("a")
                    assert isinstance(more, Mapping)
                    block = Mapping((*block.entries, *more.entries), block.place)
                blocks.append((name, block))
            parts = Mapping(tuple(blocks), parts.place)
        found.append((key, parts))
    return Mapping(tuple(found), whole.place)


@pytest.mark.parametrize("path", SOME, ids=lambda path: path.name.partition(".")[0])
def test_no_draw_of_a_part_that_heat_moves_lies_beyond_either(path: Path) -> None:
    """A coefficient of every part that may have one: the ledger is as wide as its draws."""
    few = Way(200, 20, seed=6)
    plain, warm = (traced(path, change).ledger for change in (None, with_coefficients))
    moved = [row for row in warm.entries if row.quantity == "value_temperature"]
    assert len(moved) >= 2 and len(warm.entries) >= len(plain.entries) + 2 * len(moved)
    assert beyond(path, Way(20_000, 2_000) if brute_force.BRUTE_FORCE else few, with_coefficients) == []


def test_a_stated_coefficient_is_told_as_biased_temperature() -> None:
    """In the table and among the drivers, as what it comes to; nothing is assumed beside it."""
    from derate.design.facts import facts

    work = traced(SOUND, with_coefficients)
    study = spread(work, DAY, Way(200, 20), 1)
    assert all(row.outside == 0 for row in study.rows)
    told = {row[0]: row[1:] for row in drawn_rows(study.rows) if row[0].startswith("R9: ") and "temperature" in row[1]}
    (one,) = told.values()
    assert one == ("temperature -1.05 % to +3.9 %", "stated", "biased")  # 300 ppm/K over 35 K down and 130 K up
    key = (Subject("part", ("R9",)), "part.resistance")
    assert drifts(facts(work.design))[key].temperature == (0.0, 0.0)
    assert drifts(facts(traced(SOUND).design))[key].temperature != (0.0, 0.0)


def test_a_truncated_draw_reaches_no_end() -> None:
    """Normal draws are cut at the ends of the tolerance, and lie nearer the middle than even ones."""
    ledger = traced(SOUND).ledger
    assert isinstance(ledger, TracedLedger)
    leaves = Grower(ledger).graph(row.number for row in ledger.entries if isinstance(row.value, Value)).leaves
    even, cut = (places(leaves, way._replace(draws=4000)) for way in (Way(), CUT))
    tolerances = [leaf for leaf in leaves if leaf.share == "purchase"]
    assert len(tolerances) > 10
    for leaf in tolerances:
        one, other = even.of(leaf), cut.of(leaf)
        assert np.abs(one).max() <= 1.0 and np.abs(other).max() <= 1.0
        # sigma of an even spread 1/√3; of a normal one of half a width cut off at two: 0.4398 of it (scipy's truncnorm)
        assert np.std(one) == pytest.approx(3.0**-0.5, rel=0.05) and np.std(other) == pytest.approx(0.4398, rel=0.05)


def test_every_topology_is_among_them() -> None:
    """Every one that is worked out, and the ports of a supply."""
    text = " ".join(path.read_text(encoding="utf-8") for path in DESIGNS)
    words = [word for word, one in TOPOLOGIES.items() if one.package]
    assert len(words) >= 6
    for word in words:
        assert re.search(rf"topology: {word}\s*[,}}#\n]", text), word
    assert re.search(r"^ {2}ports:", text, re.MULTILINE)


# ---- arrays ----------------------------------------------------------------------------------------------------------


def test_arrays_and_one_by_one_are_the_same() -> None:
    """Every model of the sound design that takes arrays, at 200 draws: within 1e-9."""
    work = traced(SOUND)
    ledger = work.ledger
    assert isinstance(ledger, TracedLedger)
    graph = Grower(ledger).graph(row.number for row in ledger.entries if isinstance(row.value, Value))
    replay = Replay(graph, places(graph.leaves, Way(draws=200)), 200, 2)
    replay.run()
    compared = 0
    for node in graph.nodes.values():
        if not isinstance(node, FromModel):
            continue
        if any(isinstance(one, int) and len(replay.rows.get(one, ())) < 200 for one in node.inputs.values()):
            continue
        given = {
            name: replay.rows[one] if isinstance(one, int) else replay.figure(one) for name, one in node.inputs.items()
        }
        if not any((one != one[0]).any() for one in given.values()):
            continue
        whole = on_arrays(node.model.solve, given, [node.output])
        if whole is None:
            continue
        compared += 1
        alone = one_by_one(node.model.solve, given, [node.output], 200, 1)
        np.testing.assert_allclose(whole[node.output], alone[node.output], rtol=1e-9, atol=0.0)
    assert compared > 30


NUMBERS = np.linspace(1.0, 3.0, 50)


def branching(x: float) -> dict[str, float]:
    return {"y": x if x < 2.0 else 4.0 - x}


def in_place(x: float) -> dict[str, float]:
    x += 1.0
    return {"y": x}


def counted(x: float) -> dict[str, float]:
    """Takes an array for the number of its members: an answer that is no answer."""
    return {"y": x * 1.0 if isinstance(x, float) else x * 2.0}


def nothing_above(x: float) -> dict[str, float]:
    if x > 2.5:
        raise ValueError("x is above 2.5")
    return {"y": x}


@pytest.mark.parametrize("solve", [branching, in_place, counted, nothing_above])
def test_what_takes_no_array_goes_one_by_one(solve: object) -> None:
    before = NUMBERS.copy()
    assert on_arrays(solve, {"x": NUMBERS}, ["y"]) is None  # type: ignore[arg-type]
    assert (before == NUMBERS).all()  # and nothing was written into what it was handed


def test_a_draw_that_collapses_is_no_figure() -> None:
    found = one_by_one(nothing_above, {"x": NUMBERS}, ["y"], 50, 1)["y"]
    assert np.isnan(found).sum() == (NUMBERS > 2.5).sum() > 0


def test_on_several_cores_it_is_the_same() -> None:
    one, two = (one_by_one(branching, {"x": NUMBERS}, ["y"], 50, cores)["y"] for cores in (1, 2))
    assert (one == two).all()


# ---- the study -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def study() -> Study:
    return spread(traced(SOUND), DAY, Way(400, 40), cores=1)


def test_chance_never_eases_a_safety_limit(study: Study) -> None:
    """Insulation, opening, fire, over-voltage and whatever is critical: the extreme value alone."""
    safety = [row for row in study.rows if row.safety]
    assert {"fire", "shock", "overstress"} <= {row.finding.hazard for row in safety}
    for row in study.rows:
        heavy = row.finding.hazard in ("fire", "shock") or row.finding.severity == "critical"
        of_plate = row.finding.rule == "plate-power-is-possible"  # a plain number that voltages of the plate go into
        assert row.safety == (heavy or row.finding.unit == "V" or of_plate), row.finding.rule
        if row.safety:
            assert row.drawing is None
    told = "\n".join(spread_lines("x", study._replace(rows=tuple(safety)), None, False))
    assert "not asked: a safety limit is held at its extreme value alone" in told
    assert "beyond the limit:" not in told and "on average" not in told and "root of squares" not in told


@pytest.mark.parametrize(
    ("design", "rule"),
    [
        ("market-stall-lamp", "output-voltage-by-its-winding"),  # 1.31 of 1.2 at its extreme
        ("pond-lantern", "output-voltage-as-divided"),
    ],
)
def test_an_over_voltage_without_a_unit_is_no_less_one(design: str, rule: str) -> None:
    """A voltage over that on the plate is a plain number, and its share beyond the limit is not asked either."""
    found = spread(traced(f"designs/{design}/{design}.derate.yaml"), DAY, Way(100, 20), cores=1)
    rows = [row for row in found.rows if row.finding.rule == rule]
    assert rows and all(row.safety and row.drawing is None and row.finding.unit == "" for row in rows)
    assert any(row.drawing is not None for row in found.rows)


def test_a_share_of_a_voltage_is_of_over_voltage(study: Study) -> None:
    """A house may ask the ratio in place of the voltage: it is held at its extreme value alone as well."""
    dimensions = {name: term.dimension for name, term in VOCABULARY.items() if term.dimension is not None}
    finding = next(row.finding for row in study.rows if not row.safety)

    def asked(text: str) -> bool:
        return of_safety(finding, [parse(text, Place("house"), dimensions, True)])

    assert asked("voltage_peak / rated.voltage <= 0.8") and asked("voltage_peak <= 0.8 * rated.voltage")
    assert not asked("current_peak / rated.current <= 0.8")


def test_a_valley_that_is_too_low_is_no_over_voltage(study: Study) -> None:
    """What a regulator needs at the trough is a matter of chance; the same voltage held from above is none."""
    dimensions = {name: term.dimension for name, term in VOCABULARY.items() if term.dimension is not None}
    finding = next(row.finding for row in study.rows if not row.safety)

    def asked(text: str) -> bool:
        return of_safety(finding, [parse(text, Place("house"), dimensions, True)], more=">" in text)

    assert not asked("voltage_min >= voltage_needed") and asked("voltage_min <= rated.voltage")
    assert asked("rated.voltage >= voltage")
    found = spread(traced("designs/beehive-scale/beehive-scale.derate.yaml"), DAY, Way(100, 20), cores=1)
    valleys = [row for row in found.rows if row.finding.rule == "regulator-input-valley"]
    assert valleys and all(not row.safety and row.drawing is not None for row in valleys)


def test_a_plain_number_is_of_over_voltage_by_what_it_is_made_of(study: Study) -> None:
    """No list of names: a row of no unit that a voltage goes into, and neither one of currents nor one of a unit."""
    finding = next(row.finding for row in study.rows if not row.safety)
    ledger = Ledger()
    volts, amperes = (ledger.write(SUPPLY, named(one), Value.exact(1.0)) for one in ("plate.voltage", "plate.current"))
    ratio = parse("set_ratio <= 1.1", Place("house"), {"set_ratio": NUMBER}, True)

    def asked(quantity: str, *inputs: Entry) -> bool:
        row = ledger.write(SUPPLY, named(quantity), Value.exact(1.0), inputs=tuple(one.number for one in inputs))
        return of_safety(finding, [ratio], [row], ledger)

    assert asked("set_ratio", volts) and asked("set_ratio", amperes, volts) and asked("efficiency", volts)
    assert not asked("set_ratio", amperes) and not asked("set_ratio") and not asked("plate.power", volts)


def test_the_study_stands_on_what_lint_judged(study: Study) -> None:
    """The same findings with the same figures, and no draw beyond them."""
    from derate.study.work import review_of

    found = {
        (one.rule, one.subject): (one.stress, one.limit)
        for one in review_of(traced(SOUND), DAY).findings
        if one.severity in ("critical", "major") and one.stress is not None and one.limit is not None
    }
    assert {
        (row.finding.rule, row.finding.subject): (row.finding.stress, row.finding.limit) for row in study.rows
    } == found
    drawn = [row for row in study.rows if row.drawing is not None]
    assert len(drawn) > 15
    for row in drawn:
        assert row.outside == 0
        assert row.drawing is not None and row.root is not None and row.nominal is not None
        assert row.finding.stress is not None
        assert row.finding.stress.low <= row.root[0] <= row.nominal <= row.root[1] <= row.finding.stress.high
        low, high = row.drawing.share
        assert 0.0 <= low <= row.drawing.beyond / row.drawing.draws <= high <= 1.0 and high > 0.0
        assert sum(row.drawing.counts) == row.drawing.draws - row.drawing.none
        if row.drivers:
            assert sum(one.share for one in row.drivers) == pytest.approx(1.0)


def test_fewer_draws_are_named(study: Study) -> None:
    """What needs a costly model says so with its name; what does not has all of them."""
    for row in study.rows:
        if row.drawing is not None:
            assert (row.drawing.draws == 40) == bool(row.drawing.one_by_one)
            assert row.drawing.low is None  # too few to print what 0.135 % lies below
    assert any(row.drawing is not None and row.drawing.one_by_one for row in study.rows)


def test_the_same_seed_gives_the_same(study: Study) -> None:
    again = spread(traced(SOUND), DAY, Way(400, 40), cores=2)
    assert list(spread_lines("x", again, 80, True)) == list(spread_lines("x", study, 80, True))
    other = spread(traced(SOUND), DAY, Way(400, 40, seed=2), cores=1)
    assert [row.drawing for row in other.rows] != [row.drawing for row in study.rows]
    assert [row.root for row in other.rows] == [row.root for row in study.rows]


def test_what_drives_the_current_of_the_switch(study: Study) -> None:
    """The current limit, its delay with the mains, the sense resistor and the inductance, by hand:
    I = 0.9 A ± 0.04 A, + V t / L with t = 200 ± 50 ns, V = 376 V, L = 0.75 mH ± 7 %; the error of the formula none."""
    (row,) = (one for one in study.rows if one.finding.rule == "switch-current")
    shares = {(one.leaf.subject, one.leaf.name): one.share for one in row.drivers}
    delay, limit = shares["U1", "part.limit_delay"], shares["U1", "part.current_limit"]
    assert limit > delay > shares["T1", "transformer.inductance"]
    rise = 376.0 / 0.75e-3
    # the limit is that of the controller over its sense resistor's nominal, which scales it
    assert delay / shares["T1", "transformer.inductance"] == pytest.approx(
        (rise * 50e-9) ** 2 / (rise * 200e-9 * 0.07) ** 2, rel=0.05
    )


def test_nothing_seen_is_told_with_its_interval(study: Study) -> None:
    for row in study.rows:
        if row.drawing is not None:
            told = share_words(row.drawing)
            assert "95 %" in told
            if row.drawing.beyond == 0:
                assert told.startswith("none beyond the limit: under ")
    text = "\n".join(spread_lines("x", study, None, True))
    assert " 0 % beyond" not in text and "by themselves" in text


@pytest.mark.parametrize(("width", "wide", "many"), [(80, 12, 36), (110, 20, 60)])
@pytest.mark.parametrize("unicode", [True, False])
def test_bars_and_histograms_fit_the_window(study: Study, width: int, wide: int, many: int, unicode: bool) -> None:
    """A bar of its share ahead of each driver; the histogram wider where there is room; a pipe has words alone."""
    lines = [str(line) for line in spread_lines("x", study, width, unicode)]
    assert max(map(len, lines)) <= width
    if not unicode:
        assert not set("".join(lines)) & set("▏▎▍▌▋▊▉█▁▂▃▄▅▆▇")
    own = next(place for place, line in enumerate(lines) if line.startswith("switch-current on "))
    block = lines[own : lines.index("", own)]
    (row,) = (one for one in study.rows if one.finding.rule == "switch-current")
    bars = [line for line in block if re.match(r" {2}(driven by| {9}) {9}[#█▏▎▍▌▋▊▉]", line)]
    named = [one for one in row.drivers if one.share >= 0.01][:4]
    assert len(bars) == len(named) > 1
    for line, driver in zip(bars, named, strict=True):
        filled = line[20 : 20 + wide].rstrip()
        assert abs(len(filled) - driver.share * wide) <= 1.0 and line[21 + wide :].startswith(share_of(driver))
    (drawn,) = (line for line in block if "[" in line and "|" in line)
    assert drawn.rindex("|") - drawn.index("[") == many - 1
    piped = "\n".join(spread_lines("x", study, None, unicode))
    assert "driven by         " in piped and not set(piped) & set("▏▎▍▌▋▊▉#")


@pytest.mark.parametrize("width", [46, 80, 110, None])
def test_the_table_of_what_was_drawn_names_whose_it_is_last(study: Study, width: int | None) -> None:
    """Kind with its ends, stated or assumed, biased or random, in columns; a long name runs on under itself."""
    lines = [str(line) for line in spread_lines("x.yaml", study, width, True)]
    first = next(place for place, line in enumerate(lines) if "What was drawn" in line)
    block = [line.removeprefix("x.yaml: ") for line in lines[first + 1 :] if not line.startswith("note:")]
    last = next(place for place, line in enumerate(block) if "temperature and age" in line)
    told = " ".join(" ".join(block[:last]).split())
    for whose, of, stated, biased in drawn_rows(study.rows):
        assert f"{of} {stated} {biased} {whose}" in told
    if width is not None and width >= 80:
        places = [re.search(r" (stated|assumed) {1,2} (biased|random)  \S", line) for line in block[:last]]
        assert len({found.start() for found in places if found is not None}) == 1


def share_of(driver: Any) -> str:
    return driver_words(driver).partition(" %")[0] + " %"


def test_a_bar_is_as_long_as_its_share() -> None:
    assert [bar(one, 10, False).count("#") for one in (0.001, 0.1, 0.5, 1.0)] == [1, 1, 5, 10]
    assert [bar(one, 10, True).strip() for one in (0.001, 0.1, 0.55, 1.0)] == ["▏", "█", "█████▌", "██████████"]
    assert {len(bar(one, 10, True)) for one in (0.001, 0.5, 1.0)} == {10}


# ---- temperature and age ---------------------------------------------------------------------------------------------


def test_drift_is_taken_where_it_is_asked_for() -> None:
    """It widens the facts, the ledger with them, and no draw lies beyond that either; the table tells both shares."""
    work = traced(SOUND)
    plain, drifted = (spread(work, DAY, Way(200, 20), 1, with_drift_of_kinds=each) for each in (False, True))

    def switch(study: Study) -> Value:
        (row,) = (one for one in study.rows if one.finding.rule == "switch-current")
        assert row.finding.stress is not None
        return row.finding.stress

    assert switch(drifted).high > switch(plain).high  # its sense resistor
    assert switch(drifted).low < switch(plain).low
    assert all(row.outside == 0 for row in drifted.rows)
    kinds = {row[1].partition(" ")[0] for row in drawn_rows(drifted.rows)}
    assert "age" in kinds and "age" not in {row[1].partition(" ")[0] for row in drawn_rows(plain.rows)}
    for row in drawn_rows(drifted.rows):
        if row[1].startswith(("age", "temperature")):
            of_its_sheet = row[1].startswith("age") and row[0].startswith("C")  # its end of life is stated
            assert row[2:] == ("stated" if of_its_sheet else "assumed", "biased")
        if row[1].startswith("purchase"):
            assert row[2:] == ("stated", "random")


def test_drift_multiplies() -> None:
    """40 % of an electrolytic capacitor's life on its lowest purchase: 0.8 × 0.6 of what is marked."""
    drift = DRIFTS["part.capacitance", "electrolytic capacitor"]
    value = Value.spread(100e-6, 80e-6, 120e-6)
    wide = drift.widened(value)
    assert (wide.low, wide.high) == (pytest.approx(48e-6), pytest.approx(120e-6))
    assert drift.narrowed(wide).numbers() == pytest.approx(value.numbers())
    film = DRIFTS["part.resistance", "film resistor"]
    assert film.widened(Value.exact(1.0)).high == pytest.approx((1.0 + 50e-6 * 75.0) * 1.005)


BELL = "designs/porch-bell/porch-bell.derate.yaml"


def test_what_a_file_states_of_age_is_taken() -> None:
    """10 % of the dropping capacitor by its data sheet, 15 % where the file says nothing: told as stated or assumed."""
    from derate.design.facts import facts

    work = traced(BELL)
    rows = facts(work.design)
    key = (Subject("part", ("C1",)), "part.capacitance")
    stated = drifts(rows)[key]
    assert (stated.age, stated.stated) == ((-0.1, 0.0), True)
    silent = [row for row in rows if row.quantity != "rated.end_of_life_capacitance_change"]
    assert (drifts(silent)[key].age, drifts(silent)[key].stated) == ((-0.15, 0.0), False)
    bare = [row for row in silent if row.quantity != "part.place"]  # a film capacitor elsewhere loses nothing
    assert key not in drifts(bare)
    study = spread(work, DAY, Way(200, 20), 1, with_drift_of_kinds=True)
    assert all(row.outside == 0 for row in study.rows)
    ages = {row for row in drawn_rows(study.rows) if row[0].startswith("C1: ") and row[1].startswith("age")}
    assert {row[1:] for row in ages} == {("age -10 % to +0 %", "stated", "biased")}


def test_a_fixed_part_of_a_drift_is_a_share_of_the_value() -> None:
    """1 % and 50 mohm of 4.7 ohm: 2.06 %; of 1 kohm hardly more than 1 %."""
    fusible = DRIFTS["part.resistance", "fusible film resistor"]
    assert fusible.of(Value.exact(4.7)).age == pytest.approx((-0.01 - 0.05 / 4.7, 0.01 + 0.05 / 4.7))
    assert fusible.of(Value.exact(1e3)).age[1] == pytest.approx(0.01005)
    assert fusible.of(Value.exact(0.0)) == fusible


def test_only_parts_of_a_kind_that_has_one_drift() -> None:
    from derate.design.facts import facts

    work = traced(SOUND)
    rows = facts(work.design)
    taken = drifts(rows)
    changed = {
        row.subject.names[0]
        for row, other in zip(rows, with_drift(rows, taken), strict=True)
        if row.value != other.value
    }
    assert {"R9", "C6"} <= changed and "C4" not in changed and "T1" not in changed


# ---- the command -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--draws", "500"], "--draws belongs to --spread"),
        (["--drift"], "--drift belongs to --spread"),
        (["--one-lot", "0.5"], "--one-lot belongs to --spread"),
        (["--spread", "--draws", "10"], "write a number from 200"),
        (["--spread", "--normal", "0.5"], "write a number from 1 to 6"),
        (["--spread", "--one-lot", "1.5"], "write a share from 0 to 1"),
        (["--spread", "--format", "json", "--to", "spread.html"], "leave one of them out"),
        (["--spread", "--why", "3"], "one at a time"),
        (["--spread", "--draws", "200", "--part", "Q77"], "no critical or major rule compares"),
    ],
)
def test_what_does_not_belong_together_is_refused(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["stress", str(ROOT / "designs/first-look/desk-lamp-adapter.derate.yaml"), *arguments]) == 2
    assert says in capsys.readouterr().err


def test_the_page_draws_limit_and_ends(study: Study) -> None:
    """Each row with draws has its histogram; a safety limit has none, and no share; nothing is fetched."""
    drawn = [row for row in study.rows if row.drawing is not None and row.drivers]
    for row in drawn:
        assert row.drawing is not None
        picture = histogram_drawing("x", row)
        assert picture.count('class="draws"') == len(row.drawing.counts) and picture.count('class="extreme"') == 2
        assert picture.count('class="limit"') == 1 and "95 %" in picture
    safety = next(row for row in study.rows if row.finding.rule == "switch-voltage")
    assert histogram_drawing("x", safety) == ""
    assert 'class="biased"' in drivers_drawing("x", safety.drivers)
    for row in drawn:  # whole, where it is no longer than the drawing is wide
        words = driver_words(row.drivers[0])
        assert len(words) > 80 or escape(words) in drivers_drawing("x", row.drivers).partition("</desc>")[2], words
    page = spread_page("<Vent>", study, DAY, ("used",))
    outside = page.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")
    assert "&lt;Vent&gt;" in page and "http" not in outside
    assert page.count("<svg") == page.count("</svg>") >= len(drawn)
    assert "This judges the facts" in page and "no verdict of lint hangs on a share" in page


def test_a_histogram_stands_where_its_figures_are(study: Study) -> None:
    """The bars between the dashed ends; the limit beyond them where the extreme value holds it."""
    (row,) = (one for one in study.rows if one.finding.rule == "switch-current")
    picture = histogram_drawing("x", row)
    ends = [float(one) for one in re.findall(r'd="M([\d.]+) [\d.]+L[\d.]+ [\d.]+" class="extreme"', picture)]
    bars = [float(one) for one in re.findall(r'x="([\d.]+)" [^>]*class="draws"', picture)]
    (limit,) = (float(one) for one in re.findall(r'd="M([\d.]+) [\d.]+L[\d.]+ [\d.]+" class="limit"', picture))
    assert ends[0] <= min(bars) <= max(bars) <= ends[1] < limit


def test_two_ends_close_together_are_written_as_one(study: Study) -> None:
    """Far from its limit a stress is a narrow band: its ends stand in one label, on the side that has room."""
    row = next(one for one in study.rows if one.drawing is not None and one.drivers)
    stress = row.finding.stress
    assert stress is not None
    wide, near = histogram_drawing("x", row), histogram_drawing("x", _far(row, 40.0 * stress.high))
    assert len(re.findall(r'class="tick"[^>]*>[^<]* to ', wide)) == 0
    assert len(re.findall(r'class="tick"[^>]*>[^<]* to ', near)) == 1


def _far(row: Spread, limit: float) -> Spread:
    return row._replace(finding=row.finding._replace(limit=Value.exact(limit)))


def test_the_report_has_it_where_it_is_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A section with the drawings of the page of its own; without --spread nothing of it, not even its style."""
    path = str(ROOT / "designs/porch-bell/porch-bell.derate.yaml")
    with_it, without, alone = (str(tmp_path / name) for name in ("with.html", "without.html", "alone.html"))
    assert main(["report", path, "--spread", "--draws", "200", "--to", with_it]) == 0
    assert main(["report", path, "--to", without]) == 0
    assert main(["stress", path, "--spread", "--draws", "200", "--to", alone]) == 0
    capsys.readouterr()
    whole, plain, page = (Path(one).read_text(encoding="utf-8") for one in (with_it, without, alone))
    assert ".spread" not in plain and "#tolerance" not in plain and 'id="tolerance"' not in plain
    for mark in ('class="draws"', 'class="extreme"', 'class="limit"'):
        assert whole.count(mark) - plain.count(mark) == page.count(mark) > 0
    assert whole.count('href="#tolerance"') == 1 and "No verdict of this report hangs on a share" in whole
    section = whole[whole.index('<section aria-labelledby="tolerance">') :]
    assert "not asked: a safety limit is held at its extreme value alone" in section[: section.index("</section>")]
    ids = re.findall(r' id="([^"]+)"', whole)
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--draws", "500"], "--draws belongs to --spread"),
        (["--spread", "--draws", "10"], "write a number from 200"),
        (["--spread", "--format", "markdown"], "part of the whole page"),
        (["--spread", "--only", "circuit"], "part of the whole page"),
    ],
)
def test_what_a_report_refuses(arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(ROOT / "designs/porch-bell/porch-bell.derate.yaml")
    assert main(["report", path, "--to", "never.html", *arguments]) == 2
    assert says in capsys.readouterr().err


def test_the_command_writes_a_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(ROOT / "designs/porch-bell/porch-bell.derate.yaml")
    page = tmp_path / "spread.html"
    assert main(["stress", path, "--spread", "--draws", "200", "--to", str(page)]) == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert main(["stress", path, "--to", str(page)]) == 2
    assert "--to belongs to --spread" in capsys.readouterr().err


def test_the_same_as_data(study: Study) -> None:
    """Every row of the study with its figures, held to the published schema; of safety no share and no root."""
    text = spread_json("x.yaml", study, Gate())
    again = read_output(text, "out.json", SpreadsOutput)
    assert json.loads(again.model_dump_json(by_alias=True, exclude_unset=True)) == json.loads(text)
    assert len(again.rows) == len(study.rows) > 30
    for told, row in zip(again.rows, study.rows, strict=True):
        assert (told.rule, told.verdict, told.safety) == (row.finding.rule, row.finding.verdict, row.safety)
        assert row.finding.stress is not None
        assert told.stress.high == (row.finding.stress.high if row.finding.stress.high < inf else None)
        assert told.extreme_within == within(row) and (told.asked == "at least") == row.more
        assert [one.share for one in told.drivers] == [one.share for one in row.drivers]
        if row.safety:
            assert told.draws is None and told.root is None
        elif row.drawing is not None:
            assert told.draws is not None and told.root is not None and row.root is not None
            assert (told.root.low, told.root.high) == row.root
            assert (told.draws.share_at_95_percent.low, told.draws.share_at_95_percent.high) == row.drawing.share
            assert sum(told.draws.counts) == told.draws.draws - told.draws.without_a_figure
            assert told.draws.beyond == row.drawing.beyond and told.draws.share_at_95_percent.high > 0.0


@pytest.mark.parametrize(
    "change",
    [
        lambda row: row.update(share=0.0),
        lambda row: row.update(asked="under"),
        lambda row: row["draws"].pop("share_at_95_percent"),
        lambda row: row["draws"]["share_at_95_percent"].update(high=0.0),
        lambda row: row["drivers"][0].update(share=1.5),
        lambda row: row.update(beyond_the_ledger=-1),
    ],
)
def test_a_share_without_its_interval_is_refused(study: Study, change: Callable[[Any], None]) -> None:
    data = json.loads(spread_json("x.yaml", study, Gate()))
    assert not problems_of(json.dumps(data), "out.json", "spread")
    change(next(row for row in data["rows"] if row["draws"] is not None and row["drivers"]))
    assert problems_of(json.dumps(data), "out.json", "spread")


def test_the_command_prints_data(capsys: pytest.CaptureFixture[str]) -> None:
    """What softens the gate goes to standard error, so that the data can be piped."""
    path = str(ROOT / "designs/porch-bell/porch-bell.derate.yaml")
    assert main(["stress", path, "--spread", "--draws", "200", "--normal", "3", "--format", "json"]) == 0
    told = capsys.readouterr()
    again = read_output(told.out, "out.json", SpreadsOutput)
    assert (again.way.draws, again.way.form, again.way.sigmas) == (200, "normal", 3.0)
    assert "no verdict of lint hangs on a share printed here" in again.notes and "softer" in told.err
    assert main(["schema", "spread"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == "derate stress --spread --format json"


def test_the_command_prints_it(capsys: pytest.CaptureFixture[str]) -> None:
    path = str(ROOT / "designs/porch-bell/porch-bell.derate.yaml")
    assert main(["stress", path, "--spread", "--draws", "200", "--normal", "3", "--one-lot", "0.5"]) == 0
    told = capsys.readouterr().out
    assert "normal with their ends at 3 sigma" in told and "parts of one lot together by 0.5" in told
    assert "no verdict of lint hangs on a share printed here" in told and "This judges the facts" in told
    assert "DEFECT" not in told
