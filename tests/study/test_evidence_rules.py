"""Rules of evidence: a reading belongs to its condition, the worse governs there, and doubt is carried elsewhere."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from derate.design.load import read_design
from derate.judge.review import Review
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.stress.bench.evidence import apart
from derate.study.work import Work, Workshop, review_of, worked
from derate.terms.bench_terms import BEYOND
from derate.terms.values import Category, ReadingError, Value

VENT = Path(__file__).parents[2] / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
TEXT = VENT.read_text(encoding="utf-8")
PACKS = load_packs(["commercial-practice", "mains-fusing", "bench"])
LINE = Subject("path", ("line",))
READ = (
    "- {at: {mains: 90 V, frequency: 50 Hz, load: full}, voltage: {main: 11.90 V}, mains_current: 0.385 A 2%, "
    "mains_power: 22.1 W 1%}"
)
RUNNING = Case("running", 90.0, 50.0, "full")


def ledger_of(new: str = "", text: str = TEXT) -> Ledger:
    """The ledger of the sound supply with its reading at 90 V replaced."""
    if new:
        assert text.count(READ) == 1
        text = text.replace(READ, new)
    return worked(read_design(text, str(VENT)), PACKS)


def entry(mains_current: str, mains: str = "90 V") -> str:
    return (
        f"- {{at: {{mains: {mains}, frequency: 50 Hz, load: full}}, voltage: {{main: 11.90 V}}, "
        f"mains_current: {mains_current}, mains_power: 22.1 W 1%}}"
    )


def rows(ledger: Ledger, subject: Subject, quantity: str, group: str) -> list[Entry]:
    return [row for row in ledger.rows(subject, quantity) if row.case is not None and row.case.group == group]


def far(row: Entry | None) -> float:
    assert row is not None and isinstance(row.value, Value)
    return row.value.far


def near(row: Entry | None) -> float:
    assert row is not None and isinstance(row.value, Value)
    return row.value.near


def agreement(ledger: Ledger, what: str) -> str:
    (subject,) = [one for one in ledger.subjects("reading") if str(one).startswith(what)]
    row = ledger.find(subject, "reading.agreement")
    assert row is not None and isinstance(row.value, Category)
    return str(row.value)


def test_both_rows_stand_at_the_condition_of_a_reading() -> None:
    ledger = ledger_of()
    (computed,) = [row for row in rows(ledger, SUPPLY, "mains_current", "running") if row.case == RUNNING]
    (read,) = [row for row in rows(ledger, SUPPLY, "mains_current", "reading") if row.case and row.case.mains == 90.0]
    assert read.known_by == "measured" and read.place is not None and far(read) == pytest.approx(0.385 * 1.02)
    assert computed.known_by == "computed" and far(computed) > far(read)  # the computation is the worse of the two
    assert agreement(ledger, "mains current, rms at 90 V").startswith("within")


def test_a_reading_below_the_kind_end_changes_no_other_row() -> None:
    with_reading, without = ledger_of(entry("0.3 A 2%")), ledger_of(entry("unknown"))
    for subject, quantity in ((SUPPLY, "mains_current"), (LINE, "current_rms"), (Subject("part", ("RF1",)), "power")):
        before = [row.value for row in rows(without, subject, quantity, "brown-out")]
        assert [row.value for row in rows(with_reading, subject, quantity, "brown-out")] == before


def test_a_reading_above_the_computation_widens_every_other_condition_by_the_factor() -> None:
    alone = TEXT.replace("mains_current: 0.20 A 2%", "mains_current: 0.15 A 2%")  # below the kind end: corrects nothing
    plain, high = ledger_of(entry("unknown"), alone), ledger_of(entry("0.43 A 2%"), alone)
    computed = ledger_of().find(SUPPLY, "mains_current", RUNNING)
    here = [row for row in ledger_of().entries if row.subject == SUPPLY and row.quantity == "mains_current"]
    origin = next(row for row in here if row.case == RUNNING and row.formula.startswith("full"))
    factor = 0.43 * 1.02 / near(origin)  # over the kind end: a wider computation hides no correction
    assert factor > 1.0 and computed is not None
    for group in ("running", "brown-out"):
        before = {row.case: row for row in rows(plain, SUPPLY, "mains_current", group)}
        assert before
        for case, row in before.items():
            if case is not None and case.mains == 230.0:
                continue  # it has a reading of its own
            after = next(one for one in rows(high, SUPPLY, "mains_current", group) if one.case == case)
            assert far(after) == pytest.approx(far(row) * factor, rel=1e-6)
            assert (
                isinstance(after.value, Value) and isinstance(row.value, Value) and after.value.near == row.value.near
            )
    resistor = Subject("part", ("RF1",))
    before_power = max(far(row) for row in rows(plain, resistor, "power", "brown-out"))
    after_power = max(far(row) for row in rows(high, resistor, "power", "brown-out"))
    assert after_power == pytest.approx(before_power * factor**2, rel=1e-6)  # the same current heats the part


def test_two_readings_widen_by_the_greater_factor_not_by_both() -> None:
    one = ledger_of(entry("0.43 A 2%"))
    two = ledger_of(entry("0.43 A 2%") + "\n  " + entry("0.42 A 2%"))
    assert [row.value for row in rows(two, SUPPLY, "mains_current", "brown-out")] == [
        row.value for row in rows(one, SUPPLY, "mains_current", "brown-out")
    ]


def test_beyond_both_tolerances_is_a_finding_of_its_own() -> None:
    assert agreement(ledger_of(entry("0.6 A 2%")), "mains current, rms at 90 V").startswith("beyond both tolerances")
    ledger = ledger_of(entry("0.2 A 2%"))
    words = [one.value for one in ledger.entries if one.quantity == "reading.agreement"]
    assert (BEYOND,) in [one.members for one in words if isinstance(one, Category)]  # its figures are beside the word
    low = agreement(ledger, "mains current, rms at 90 V")
    assert low.startswith("beyond both tolerances") and "0.196 to 0.204 A read" in low


def review(text: str) -> Review:
    design = read_design(text, str(VENT))
    work = Workshop().work(str(VENT))
    return review_of(Work(design, work.settings, PACKS, worked(design, PACKS), {}), date(2026, 11, 25))


def test_the_rule_judges_it() -> None:
    (bad,) = [
        one for one in review(TEXT.replace(READ, entry("0.6 A 2%"))).findings
        if one.rule == "reading-disagrees" and one.verdict == "fail"
    ]  # fmt: skip
    assert bad.blocks and bad.severity == "major" and bad.place.line > 100
    assert not [one for one in review(TEXT).findings if one.rule == "reading-disagrees" and one.verdict == "fail"]


def test_a_reading_at_a_corner_governs_there() -> None:
    plain = ledger_of()
    switch = Subject("part", ("Q1",))
    text = TEXT.replace("voltage_peak: {Q1: 521 V 3%}", "voltage_peak: {Q1: 600 V 1%}")
    high = worked(read_design(text, str(VENT)), PACKS)
    corner = [row for row in rows(high, switch, "voltage_peak", "running") if row.case and row.case.mains == 264.0]
    there = [row for row in corner if row.mark == "worse"]
    assert there and all(far(row) == pytest.approx(606.0) for row in there)
    before = max(far(row) for row in rows(plain, switch, "voltage_peak", "overload"))
    assert max(far(row) for row in rows(high, switch, "voltage_peak", "overload")) > before * 1.05


def test_where_nothing_can_be_computed_the_reading_proves_itself_and_no_more() -> None:
    text = TEXT.replace("    leakage: 15 uH", "    leakage: unknown")
    text = text.replace("voltage_peak: {Q1: 521 V 3%}", "voltage_peak: {Q1: 900 V 3%}")
    ledger = worked(read_design(text, str(VENT)), PACKS)
    found = [row.value for row in rows(ledger, Subject("part", ("Q1",)), "voltage_peak", "running")]
    assert found
    for value in found:
        assert value is None or (isinstance(value, Value) and value.far >= 0.97 * 900.0)


def test_no_uncertainty_stated_is_that_of_the_packs() -> None:
    row = next(
        row for row in rows(ledger_of(entry("0.385 A")), SUPPLY, "mains_current", "reading")
        if row.case and row.case.mains == 90.0 and isinstance(row.value, Value) and not row.value.is_exact
    )  # fmt: skip
    assert far(row) == pytest.approx(0.385 * 1.03)
    assert row.rests_on  # nobody has looked at the instrument: a critical pass does not rest on it


def test_a_simulated_reading_has_no_instrument_and_is_no_load_test() -> None:
    text = TEXT.replace("readings: measured}", "readings: simulated}").replace(READ, entry("0.385 A"))
    ledger = worked(read_design(text, str(VENT)), PACKS)
    (read,) = [row for row in rows(ledger, SUPPLY, "mains_current", "reading") if row.case and row.case.mains == 90.0]
    assert read.known_by == "simulated" and isinstance(read.value, Value) and read.value.is_exact
    held = ledger.find(Subject("output", ("main",)), "held_current")
    assert (
        held is not None and isinstance(held.value, Value) and held.value.near == 0.0
    )  # only the overload test is left


def test_readings_do_not_survive_a_revision() -> None:
    path = VENT.with_name("greenhouse-vent-revision-b.derate.yaml")
    work = Workshop().work(str(path))
    assert not work.design.readings and not work.design.tests and not work.design.captures
    assert not work.ledger.subjects("reading")


def test_a_name_that_is_nothing_of_the_design_is_refused() -> None:
    with pytest.raises(ReadingError, match="'Q7' is nothing in this design"):
        read_design(TEXT.replace("voltage_peak: {Q1: 521", "voltage_peak: {Q7: 521"), str(VENT))


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (Value.exact(1.0), Value.exact(1.0), 0.0),
        (Value.between(1.0, 2.0), Value.between(2.0, 3.0), 1.0),
        (Value.between(1.0, 2.0), Value.between(1.5, 2.5), 0.5),
        (Value.between(1.0, 2.0), Value.between(4.0, 5.0), 3.0),
        (Value.floor(5.0), Value.exact(9.0), 0.0),
        (Value.floor(5.0), Value.exact(2.0), 2.0),
    ],
)
def test_distance(one: Value, other: Value, expected: float) -> None:
    assert apart(one, other) == pytest.approx(expected)
    assert apart(other, one) == pytest.approx(expected)


def test_lint_stays_light() -> None:
    """Solves, not seconds: the readings of the sound supply cost less than the supply itself."""
    design = read_design(TEXT, str(VENT))
    assert worked(design, PACKS).solves < 2000  # 1,650 with the running rows over a range of inductance ahead
