"""A stated temperature coefficient widens the value that all else is worked out from, and is nowhere passed over."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from derate.design.facts import facts
from derate.design.kinds import WARMED
from derate.design.library_file import is_raised
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.run import PER_KELVIN
from derate.stress.parts.value_temperature import COLDEST
from derate.study.hearing import BY_ITSELF, unused
from derate.study.work import Work, review_of, worked
from derate.terms.quantities import named
from derate.terms.values import Value
from derate.text.nodes import compose

ROOT = Path(__file__).parents[2]
DAY = date(2026, 11, 29)
R9 = "R9: {kind: film resistor, resistance: 0.82 ohm 1%,"
STATED = (R9, f"{R9} temperature_coefficient: ±100 ppm/K,")
D1 = "D1: {kind: zener diode, voltage: 12 V 5%,"


def work_of(design: str, *changes: tuple[str, str]) -> Work:
    path = ROOT / "designs" / design / f"{design}.derate.yaml"
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    read = read_design(text, str(path))
    packs = load_packs(["commercial-practice", "mains-fusing", "mains-events"])
    return Work(read, Settings(), packs, worked(read, packs))


def value(ledger: Ledger, name: str, quantity: str) -> tuple[float, float, float, float]:
    row = ledger.find(Subject("part", (name,)), named(quantity))
    assert row is not None and isinstance(row.value, Value)
    return row.value.numbers()


# Coefficient as typed, with its ends [1/K].
COEFFICIENTS = (
    ("±100 ppm/K", -100e-6, 100e-6),
    ("+/-100 ppm/degC", -100e-6, 100e-6),
    ("+- 0.01 %/K", -100e-6, 100e-6),
    ("+50 ppm/K", 50e-6, 50e-6),
    ("-200 ppm/°C", -200e-6, -200e-6),
    ("-20..80 ppm/K", -20e-6, 80e-6),
    ("0 ppm/K", 0.0, 0.0),
)


@pytest.mark.parametrize(("written", "least", "most"), COEFFICIENTS)
def test_a_resistor_moves_from_its_coldest_to_its_hottest(written: str, least: float, most: float) -> None:
    """0.82 ohm of 1 % from -10 to 155 degC: 35 K down and 130 K up from where it is marked, and nothing more."""
    ledger = work_of("greenhouse-vent", (R9, f"{R9} temperature_coefficient: {written},")).ledger
    assert value(ledger, "R9", "value_temperature") == (-10.0, 25.0, 25.0, 155.0)
    moves = [coefficient * kelvin for coefficient in (least, most) for kelvin in (-35.0, 130.0)]
    low, high = 0.82 * 0.99 * (1.0 + min(moves)), 0.82 * 1.01 * (1.0 + max(moves))
    assert value(ledger, "R9", "part.resistance") == pytest.approx((low, 0.82, 0.82, high), rel=1e-12)


def test_without_one_nothing_is_another() -> None:
    ledger = work_of("greenhouse-vent").ledger
    assert value(ledger, "R9", "part.resistance") == pytest.approx((0.8118, 0.82, 0.82, 0.8282))
    assert not any(row.quantity == "value_temperature" for row in ledger.entries)


def test_its_own_greatest_temperature_and_the_site_are_taken() -> None:
    """Rated to 105 degC: 80 K up. A site of no known ambient: the coldest there is."""
    hot = (f"{R9} rated: {{", f"{R9} temperature_coefficient: +100 ppm/K, rated: {{temperature: 105 degC, ")
    ledger = work_of("greenhouse-vent", hot).ledger
    assert value(ledger, "R9", "value_temperature")[3] == 105.0
    assert value(ledger, "R9", "part.resistance")[3] == pytest.approx(0.82 * 1.01 * 1.008)
    ledger = work_of("greenhouse-vent", hot, ("{ambient: -10..40 degC, ", "{")).ledger
    assert value(ledger, "R9", "value_temperature")[0] == COLDEST == -40.0
    assert value(ledger, "R9", "part.resistance")[0] == pytest.approx(0.82 * 0.99 * (1.0 - 65.0e-4))
    ledger = work_of("greenhouse-vent", hot, ("ambient: -10..40 degC", "ambient: -10..120 degC")).ledger
    assert value(ledger, "R9", "value_temperature")[3] == 120.0  # no part is cooler than its site


@pytest.mark.parametrize(
    ("ambient", "coldest", "hottest"),
    [
        ("40 degC", COLDEST, 155.0),
        ("-55 degC", -55.0, 155.0),
        ("160 degC", COLDEST, 160.0),
        ("up to 160 degC", COLDEST, 160.0),
    ],
)
def test_a_site_of_one_figure_is_no_narrower_than_one_of_none(ambient: str, coldest: float, hottest: float) -> None:
    ledger = work_of("greenhouse-vent", STATED, ("ambient: -10..40 degC", f"ambient: {ambient}")).ledger
    found = value(ledger, "R9", "value_temperature")
    assert (found[0], found[3]) == (coldest, hottest)


@pytest.mark.parametrize(
    ("written", "low", "high"),
    [
        ("temperature_slope: +9 mV/K", 11.4 - 9e-3 * 25.0, 12.6 + 9e-3 * 150.0),
        ("temperature_slope: +7..+11 mV/K", 11.4 - 11e-3 * 25.0, 12.6 + 11e-3 * 150.0),
        ("temperature_coefficient: +0.075 %/K", 11.4 * (1.0 - 75e-5 * 25.0), 12.6 * (1.0 + 75e-5 * 150.0)),
    ],
)
def test_a_zener_diode_by_slope_or_by_share(written: str, low: float, high: float) -> None:
    """From 0 to 175 degC of its junction, where the file states none; what it limits moves with it."""
    plain, warm = work_of("porch-bell"), work_of("porch-bell", (D1, f"{D1} {written},"))
    assert value(warm.ledger, "D1", "value_temperature") == (0.0, 25.0, 25.0, 175.0)
    assert value(warm.ledger, "D1", "part.voltage") == pytest.approx((low, 12.0, 12.0, high), rel=1e-12)

    def peaks(ledger: Ledger) -> list[float]:
        rows = [row.value for row in ledger.entries if row.quantity == "voltage"]
        return [one.high for one in rows if isinstance(one, Value)]

    before, after = peaks(plain.ledger), peaks(warm.ledger)
    assert len(before) == len(after) and sum(after) > sum(before)


def test_a_junction_that_is_rated_is_taken_of_a_diode() -> None:
    rated = (f"{D1} rated: {{", f"{D1} temperature_slope: +9 mV/K, rated: {{junction: 150 degC, ")
    ledger = work_of("porch-bell", rated).ledger
    assert value(ledger, "D1", "value_temperature")[3] == 150.0


def test_what_the_switch_may_carry_is_wider_both_ways() -> None:
    """The current limit is a threshold over the sense resistor."""
    plain, warm = work_of("greenhouse-vent"), work_of("greenhouse-vent", STATED)

    def peak(work: Work) -> Value:
        (found,) = (
            row.value
            for row in work.ledger.entries
            if row.quantity == "current_peak" and row.case is not None and row.case.group == "overload"
            if str(row.subject) == "R9"
        )
        assert isinstance(found, Value)
        return found

    assert peak(warm).low < peak(plain).low and peak(warm).high > peak(plain).high
    # the limit alone, without its delay, is threshold / resistance: 1.3 % more at the hot end of the lower resistance
    assert peak(warm).high / peak(plain).high == pytest.approx(1.0 / (1.0 - 0.013), rel=0.005)


def test_the_coefficient_alone_taken_from_the_facts_changes_it_back() -> None:
    """Every study varies facts: with the coefficient gone from them the value is that of the mark again."""
    work = work_of("greenhouse-vent", STATED)
    fewer = [row for row in facts(work.design) if row.quantity not in PER_KELVIN]
    assert len(fewer) == len(facts(work.design)) - 1
    ledger = worked(work.design, work.packs, fewer)
    assert value(ledger, "R9", "part.resistance") == pytest.approx((0.8118, 0.82, 0.82, 0.8282))


def test_it_is_heard_where_its_value_is_and_told_where_it_is_not() -> None:
    """Of the sense resistor; of a resistor that nobody traced, of which nothing is worked out, it is told as unused."""
    work = work_of("greenhouse-vent", STATED)
    names = {one.name for one in unused(work, review_of(work, DAY))}
    assert "parts.R9.temperature_coefficient" not in names
    lonely = f"R99: {{kind: film resistor, resistance: 10 kohm, technology: chip, {STATED[1].partition('%, ')[2]}}}"
    work = work_of(
        "greenhouse-vent", (f"  {R9}", f"  {lonely}\n  {R9}"), ("  line: [", "  other: {R99: no}\n  line: [")
    )
    told = {one.name: one.reason for one in unused(work, review_of(work, DAY))}
    assert told["parts.R99.temperature_coefficient"] == told["parts.R99.technology"] == BY_ITSELF


def test_nothing_left_of_a_value_is_a_hole() -> None:
    """-0.6 % for each kelvin over 250 K: no value, and what needs it is not assessed."""
    falls = (R9, R9.replace("film", "wirewound") + " temperature_coefficient: -6000 ppm/K,")
    ledger = work_of("greenhouse-vent", falls).ledger
    row = ledger.find(Subject("part", ("R9",)), "part.resistance")
    assert row is not None and row.value is None and "leaves nothing" in row.note


@pytest.mark.parametrize(
    ("library", "own", "raised"),
    [
        ("temperature_coefficient: ±100 ppm/K", "±100 ppm/K", False),
        ("temperature_coefficient: ±100 ppm/K", "±50 ppm/K", True),
        ("temperature_coefficient: ±100 ppm/K", "unknown", True),
        ("temperature_coefficient: unknown", "unknown", False),
        ("temperature_slope: +9 mV/K", "unknown", True),
        ("technology: leaded", "chip", True),
        ("technology: leaded", "unknown", False),  # the strictest line
    ],
)
def test_a_design_that_takes_back_what_a_library_says_names_its_source(library: str, own: str, raised: bool) -> None:
    """In whose place the design states another, or says that nobody knows it."""
    ((key, before),) = compose(library, "x.parts.yaml").entries
    ((_, after),) = compose(f"{key.text}: {own}", "x.yaml").entries
    assert is_raised(key.text, before, after) is raised


def test_each_kind_has_its_own_end() -> None:
    for quantity, hottest in WARMED.values():
        assert quantity in ("part.resistance", "part.capacitance", "part.voltage") and 100.0 < hottest <= 275.0
