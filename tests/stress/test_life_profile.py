"""Life over the hours of the site, core temperature, voltage: the published profile, and no gate opened by a loss."""

from __future__ import annotations

import random
from typing import Any, cast

import pytest
from random_flybacks import CONVERTER
from random_supplies import ASSUMED
from test_converter_rows import TEXT

from derate.circuit.capacitor_ageing import electrolytic_life
from derate.design.facts import facts
from derate.design.load import read_design
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.run import run
from derate.stress.context import HOURS, CasePlan, Context
from derate.stress.parts.life import COOLEST, Steady, averaged, life_model
from derate.terms.dimension import CELSIUS, TIME
from derate.terms.values import Curve, ReadingError, Value

PART, C1, C6 = (Subject("part", (name,)) for name in ("C", "C1", "C6"))
HOUR = 3600.0
BARE = TEXT[: TEXT.index("\nreadings:") + 1]  # `known_by` names them ahead of it


def worked(text: str) -> Ledger:
    design = read_design(text, "bench.derate.yaml")
    return run(design.structure, facts(design), {**ASSUMED, **CONVERTER}, design.readings)


def with_hours(hours: str, text: str = BARE) -> Ledger:
    return worked(text.replace("site: {", f"site: {{hours: {hours}, "))


def life(ledger: Ledger, subject: Subject = C6) -> Value:
    assert ledger.plan is not None
    entry = ledger.find(subject, "life", ledger.plan.cases(["life"], ["running"])[0])
    assert entry is not None and isinstance(entry.value, Value), entry
    return entry.value


# ---- published -------------------------------------------------------------------------------------------------------


def _profile(points: list[tuple[float, Value]], rated: float = 1000.0) -> tuple[Entry, Entry, list[Entry]]:
    """The rows of a bare capacitor of so many hours at 105 degC, in air as hot as the site, at its rated ripple."""
    top = points[-1][0]
    plan = CasePlan(None, None, (50.0, 60.0), (0.0, top), averaged=True)
    ledger = Ledger(plan)
    ledger.write(SUPPLY, "site.hours", Curve(tuple(points), CELSIUS, TIME))
    context = Context(cast(Any, None), ledger, plan, {})
    hottest = Case("running", ambient=top)
    outside = ledger.write(PART, "air_temperature", Value.exact(top), case=hottest)
    exact = Value.exact(1.0)
    inputs: dict[str, Entry | Value | float] = {
        "rated_life": Value.exact(rated * HOUR), "ripple": exact, "rated_ripple": exact, "spread": exact,
        "core_rise": Value.exact(5.0),
    }  # fmt: skip
    one = Steady(PART, life_model(105.0), inputs)
    case = plan.cases(["life"], ["running"])[0]
    averaged(context, one, outside, one.at(context, outside, hottest), case)
    whole, same = ledger.find(PART, "life", case), ledger.find(PART, "equivalent_temperature", case)
    assert whole is not None and same is not None and case.load == HOURS
    return whole, same, [row for row in ledger.rows(PART, "life") if row.case != case]


def _eight(*temperatures: float) -> list[tuple[float, Value]]:
    return [(t, Value.exact(8.0 * HOUR)) for t in temperatures]


def test_the_published_profile() -> None:
    """Technical Q&A a0057: 8 h each at 45, 55 and 65 degC, 1000 h at 105 degC: 27428.6 h, as at 57.2 degC."""
    whole, same, steps = _profile(_eight(45.0, 55.0, 65.0))
    assert isinstance(whole.value, Value) and isinstance(same.value, Value)
    assert whole.value.near / HOUR == pytest.approx(27428.6, abs=0.1)
    assert whole.value.is_exact
    assert same.value.far == pytest.approx(57.2, abs=0.05)
    lives = sorted(row.value.near / HOUR for row in steps if isinstance(row.value, Value))
    assert lives == pytest.approx([16000.0, 32000.0, 64000.0])
    assert {row.case.ambient for row in steps if row.case is not None} == {45.0, 55.0, 65.0}


def test_hours_nobody_accounts_for_count_at_the_hottest() -> None:
    whole = _profile([(45.0, Value.exact(8 * HOUR)), (65.0, Value.exact(2 * HOUR))])[0].value
    full = _profile([(45.0, Value.exact(8 * HOUR)), (65.0, Value.exact(16 * HOUR))])[0].value
    assert isinstance(whole, Value) and isinstance(full, Value) and whole.near == pytest.approx(full.near)


def test_no_step_taken_out_and_no_doubt_lengthens_a_life() -> None:
    """Random profiles: between hottest and coolest; a step lost, or hours known less well, never the longer life."""
    source = random.Random(3)
    for _ in range(120):
        ambients = sorted(source.sample(range(40, 95), source.randint(2, 5)))
        shares = [source.uniform(0.1, 3.0) for _ in ambients]
        points = [(float(t), Value.exact(24 * HOUR * s / sum(shares))) for t, s in zip(ambients, shares, strict=True)]
        whole, _, steps = _profile(points)
        assert isinstance(whole.value, Value)
        lives = [row.value for row in steps if isinstance(row.value, Value)]
        assert min(one.near for one in lives) - 1 <= whole.value.near <= max(one.near for one in lives) + 1
        gone = source.randrange(len(points) - 1)  # the hottest is what the site reaches: without it none is averaged
        shorter = _profile(points[:gone] + points[gone + 1 :])[0].value
        doubt = [(t, Value(0.8 * h.low, 0.9 * h.near, 1.1 * h.far, 1.2 * h.high)) for t, h in points]
        blurred = _profile(doubt)[0].value
        assert isinstance(shorter, Value) and isinstance(blurred, Value)
        for less in (shorter, blurred):
            assert less.low <= whole.value.low * (1 + 1e-12) and less.near <= whole.value.near * (1 + 1e-12)


# ---- a whole design --------------------------------------------------------------------------------------------------

LIFE = "rated: {voltage: 25 V, life: 5000 h"
DAY = "{10 degC: 12 h, 25 degC: 10 h, 40 degC: 2 h}"


def test_with_hours_the_life_rules_have_the_averaged_case() -> None:
    plain, by_hours = worked(BARE), with_hours(DAY)
    assert plain.plan is not None and by_hours.plan is not None
    assert plain.plan.cases(["life"], ["running"]) == (Case("running", ambient=40.0),)
    assert by_hours.plan.cases(["life"], ["running"]) == (Case("running", load=HOURS),)
    hottest = by_hours.find(C6, "life", Case("running", ambient=40.0))
    assert hottest is not None and hottest.value == life(plain)
    for ambient in (10.0, 25.0):
        assert by_hours.find(C6, "life", Case("running", ambient=ambient)) is not None


@pytest.mark.parametrize(
    "hours", [DAY, "{20 degC: 6 h, 40 degC: 1 h}", "24 h at 40 degC", "{0 degC: 23 h, 40 degC: 1 h}"]
)
def test_losing_the_hours_never_lengthens_a_life(hours: str) -> None:
    """So it opens no gate: a rule that fails or straddles with them does so without."""
    for text in (BARE, TEXT):
        for subject in (C1, C6):
            with_them, without = life(with_hours(hours, text), subject), life(worked(text), subject)
            assert all(a >= b * (1 - 1e-12) for a, b in zip(with_them.numbers(), without.numbers(), strict=True))


def test_hours_that_end_below_the_hottest_ambient_are_left_aside() -> None:
    assert life(with_hours("{10 degC: 12 h, 25 degC: 12 h}")) == life(worked(BARE))


def test_an_air_that_cold_is_taken_as_forty_degrees() -> None:
    """Below it the ten-degree rule promises more than makers do."""
    cold, colder = with_hours("{-40 degC: 23 h, 40 degC: 1 h}"), with_hours("{0 degC: 23 h, 40 degC: 1 h}")
    air = cold.find(C6, "air_temperature", Case("running", ambient=-40.0))
    assert air is not None and air.value == Value.exact(COOLEST)
    assert life(cold) == life(colder)


@pytest.mark.parametrize(
    ("hours", "told"),
    [
        ("24 h", "say no ambient"),
        ("{10 degC: 20 h, 40 degC: 8 h}", "add up to 28 h"),
        ("{10 degC: 20 h, 55 degC: 4 h}", "hours at 55 degC, and the site ends at 40 degC"),
        ("{40 degC: 4 h, 10 degC: 20 h}", ""),
    ],
)
def test_hours_that_make_no_day_are_refused(hours: str, told: str) -> None:
    with pytest.raises(ReadingError) as refused:
        with_hours(hours)
    assert told in str([problem.what for problem in refused.value.problems])


# ---- core and voltage ------------------------------------------------------------------------------------------------


def _row(ledger: Ledger, quantity: str, subject: Subject = C6) -> Entry:
    return [row for row in ledger.rows(subject, quantity) if row.case is not None and row.case.group == "running"][-1]


def test_core_temperature_is_air_or_case_and_the_heat_of_the_ripple() -> None:
    ledger = worked(BARE.replace("ripple_current: 2 A at 100 kHz", "ripple_current: 2 A at 100 kHz, core_rise: 6 K"))
    ripple = _row(ledger, "ripple_current").value
    core, rated = _row(ledger, "core_temperature").value, ledger.rows(C6, "allowed.ripple_current")[-1].value
    assert isinstance(ripple, Value) and isinstance(core, Value) and isinstance(rated, Value)
    assert core.far == pytest.approx(60.0 + 6.0 * (ripple.far / rated.near) ** 2)  # 40 degC and 20 K inside
    assert core.near == pytest.approx(60.0 + 6.0 * (ripple.near / rated.far) ** 2)
    case = worked(TEXT.replace("ripple_current: 2 A at 100 kHz", "ripple_current: 2 A at 100 kHz, core_rise: 6 K"))
    read, core = _row(case, "case_temperature").value, _row(case, "core_temperature").value
    assert isinstance(read, Value) and isinstance(core, Value)
    assert core.near == read.near and core.far == pytest.approx(read.far + 6.0 * (ripple.far / rated.near) ** 2)
    # beyond 20 K neither core nor life is assessed
    hot = worked(BARE.replace("ripple_current: 2 A at 100 kHz", "ripple_current: 0.6 A at 100 kHz, core_rise: 6 K"))
    for quantity in ("core_temperature", "life"):
        assert _row(hot, quantity).value is None and "above 20 K" in _row(hot, quantity).note


def test_a_stated_core_rise_takes_the_place_of_the_assumed_one() -> None:
    assumed, stated = _row(worked(BARE), "life"), _row(
        worked(BARE.replace("ripple_current: 2 A at 100 kHz", "ripple_current: 2 A at 100 kHz, core_rise: 5 K")), "life"
    )
    assert "C6: rated.core_rise" in assumed.rests_on and "C6: rated.core_rise" not in stated.rests_on
    assert isinstance(assumed.value, Value) and isinstance(stated.value, Value)
    assert assumed.value.near <= stated.value.near and assumed.value.far >= stated.value.far * (1 - 1e-12)


def test_the_voltage_term_stands_only_with_the_makers_exponent() -> None:
    def of(more: str) -> Value:
        text = BARE.replace(LIFE, f"rated: {{voltage: 25 V, {more}life: 500 h")
        found = _row(worked(text), "life").value
        assert isinstance(found, Value)
        return found

    plain, term = of("core_rise: 5 K, "), of("core_rise: 5 K, voltage_exponent: 2.5, ")
    # 12 V on 25 V is below six tenths: 0.6^-2.5, and no more
    assert term.near / plain.near == pytest.approx(0.6**-2.5, rel=1e-6)
    below = BARE.replace(LIFE, "rated: {voltage: 10 V, voltage_exponent: 2.5, life: 500 h")
    without = worked(below.replace("voltage_exponent: 2.5, ", ""))
    assert _row(worked(below), "life").value == _row(without, "life").value  # above its rating nothing is gained
    single = electrolytic_life(1.0, 105.0, 105.0, voltage_ratio=0.8, voltage_exponent=2.5)
    assert single.estimate == pytest.approx(0.8**-2.5)
    bulk = BARE.replace("rated: {voltage: 400 V,", "rated: {voltage: 400 V, voltage_exponent: 3,")
    applied = worked(bulk).rows(C1, "voltage_ratio")[-1].value
    assert isinstance(applied, Value) and applied.far == pytest.approx(264.0 * 2**0.5 / 400.0)
