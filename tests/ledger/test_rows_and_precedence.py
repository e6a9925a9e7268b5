"""Rows of the ledger: numbers, what is kept of each, and which row speaks when several could."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

import pytest

from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.terms.values import Category, Place, Value

C1, C2, F1 = (Subject("part", (name,)) for name in ("C1", "C2", "F1"))
MAIN = Subject("output", ("main",))
COLD, HOT = Case("running", 207.0, ambient=0.0), Case("running", 207.0, ambient=40.0)
ANY_AMBIENT = Case("running", 207.0)


class DropsAmbient:
    """A plan under which `voltage` does not depend on ambient, and every other quantity depends on all axes."""

    def cases(self, quantities: Iterable[str], groups: Iterable[str]) -> tuple[Case, ...]:
        return COLD, HOT

    def project(self, quantity: str, case: Case) -> Case:
        return case._replace(ambient=None) if quantity == "voltage" else case


def test_rows_are_numbered_from_one_and_found_by_their_number() -> None:
    ledger = Ledger()
    written = [ledger.write(subject, "voltage", Value.exact(number)) for number, subject in enumerate((C1, C2, F1))]
    assert [row.number for row in written] == [1, 2, 3]
    assert len(ledger) == 3
    assert [ledger[number] for number in (1, 2, 3)] == written


def test_a_later_row_replaces_the_earlier_and_both_stay_in_the_book() -> None:
    ledger = Ledger()
    first = ledger.write(C1, "voltage", Value.exact(325), case=COLD)
    ledger.write(C1, "voltage", Value.exact(1), case=HOT)
    second = ledger.write(C1, "voltage", Value.exact(340), case=COLD)
    assert ledger.find(C1, "voltage", COLD) is second
    assert [row.value for row in ledger.rows(C1, "voltage")] == [Value.exact(340), Value.exact(1)]
    assert ledger[1] is first and len(ledger) == 3


def test_subject_kind_and_quantity_all_tell_rows_apart() -> None:
    ledger = Ledger()
    part = ledger.write(Subject("part", ("T1",)), "voltage", Value.exact(1))
    transformer = ledger.write(Subject("transformer", ("T1",)), "voltage", Value.exact(2))
    current = ledger.write(Subject("part", ("T1",)), "current", Value.exact(3))
    assert ledger.find(Subject("part", ("T1",)), "voltage") is part
    assert ledger.find(Subject("transformer", ("T1",)), "voltage") is transformer
    assert ledger.find(Subject("part", ("T1",)), "current") is current
    assert ledger.find(C1, "voltage") is None and ledger.find(Subject("part", ("T1",)), "power") is None


def test_a_standing_fact_speaks_for_every_case_and_a_case_never_for_the_standing_fact() -> None:
    ledger = Ledger()
    at_cold = ledger.write(C1, "current", Value.exact(1), case=COLD)
    assert ledger.find(C1, "current") is None  # asked for all cases, one case is no answer
    assert ledger.find(C1, "current", HOT) is None
    standing = ledger.write(C1, "current", Value.exact(2))
    assert ledger.find(C1, "current") is standing
    assert ledger.find(C1, "current", HOT) is standing
    assert ledger.find(C1, "current", COLD) is at_cold  # its own case goes before the standing fact


def test_a_hole_at_its_own_case_is_not_filled_from_elsewhere() -> None:
    ledger = Ledger(DropsAmbient())
    ledger.write(C1, "voltage", Value.exact(1))
    ledger.write(C1, "voltage", Value.exact(2), case=ANY_AMBIENT)
    hole = ledger.hole(C1, "voltage", ("T1: turns",), case=COLD)
    assert ledger.find(C1, "voltage", COLD) is hole


def test_the_plan_says_which_row_speaks_where_an_axis_does_not_matter() -> None:
    ledger = Ledger(DropsAmbient())
    projected = ledger.write(C1, "voltage", Value.exact(325), case=ANY_AMBIENT)
    warm = ledger.write(C1, "temperature", Value.exact(330), case=ANY_AMBIENT)
    assert ledger.find(C1, "voltage", COLD) is projected
    assert ledger.find(C1, "voltage", HOT) is projected
    assert ledger.find(C1, "voltage", HOT._replace(mains=253.0)) is None
    assert ledger.find(C1, "voltage") is None  # no case is not a case to be projected
    assert ledger.find(C1, "temperature", HOT) is None  # it depends on ambient: no other row speaks for it
    assert ledger.find(C1, "temperature", ANY_AMBIENT) is warm
    own = ledger.write(C1, "voltage", Value.exact(310), case=HOT)
    assert ledger.find(C1, "voltage", HOT) is own
    assert ledger.find(C1, "voltage", COLD) is projected
    standing = ledger.write(C1, "voltage", Value.exact(300))
    assert ledger.find(C1, "voltage", COLD) is standing  # a standing fact goes before a projected row


def test_without_a_plan_only_the_very_case_answers() -> None:
    ledger = Ledger()
    ledger.write(C1, "voltage", Value.exact(325), case=ANY_AMBIENT)
    assert ledger.plan is None
    assert ledger.find(C1, "voltage", COLD) is None
    assert ledger.find(C1, "voltage") is None


def test_every_axis_of_a_case_tells_rows_apart() -> None:
    base = Case("running", 230.0, 50.0, "full", 25.0, False, "")
    others = [
        base._replace(group="overload"), base._replace(mains=253.0), base._replace(frequency=60.0),
        base._replace(load="least"), base._replace(ambient=40.0), base._replace(widened=True),
        base._replace(fault="C1 shorted"),
    ]
    ledger = Ledger()
    rows = [ledger.write(C1, "voltage", Value.exact(n), case=case) for n, case in enumerate((base, *others))]
    assert [ledger.find(C1, "voltage", case) for case in (base, *others)] == rows


def test_rows_of_a_quantity_are_all_its_cases_and_no_others() -> None:
    ledger = Ledger()
    ledger.write(C1, "current", Value.exact(9), case=COLD)
    rows = (ledger.write(C1, "voltage", Value.exact(1)), ledger.write(C1, "voltage", Value.exact(2), case=HOT))
    assert ledger.rows(C1, "voltage") == rows
    assert ledger.rows(C2, "voltage") == ()


def test_subjects_of_a_kind_are_sorted_and_each_told_once() -> None:
    ledger = Ledger()
    for subject in (F1, C2, MAIN, C1, C2, SUPPLY):
        ledger.write(subject, "voltage", Value.exact(1))
    ledger.hole(Subject("part", ("A1",)), "voltage", ())  # a row without a value is a row
    assert [one.names for one in ledger.subjects("part")] == [("A1",), ("C1",), ("C2",), ("F1",)]
    assert ledger.subjects("output") == (MAIN,)
    assert ledger.subjects("supply") == (SUPPLY,)
    assert ledger.subjects("winding") == ()


def test_what_is_written_is_what_the_row_holds() -> None:
    place = Place("a.yaml", 3, 5)
    row = Ledger().write(
        C1, "voltage", Value.exact(325), case=HOT, missing=("a",), known_by="measured", grade="max",
        statistic="peak", formula="crest", source="own derivation", inputs=(7, 9), place=place, note="at the plug",
        rests_on=frozenset({"site.altitude"}),
    )
    assert row == Entry(
        number=1, subject=C1, quantity="voltage", case=HOT, value=Value.exact(325), missing=("a",),
        known_by="measured", grade="max", statistic="peak", formula="crest", source="own derivation", inputs=(7, 9),
        place=place, note="at the plug", rests_on=frozenset({"site.altitude"}),
    )


def test_a_bare_row_is_a_stated_standing_fact_that_rests_on_nothing() -> None:
    row = Ledger().write(C1, "voltage", Value.exact(325))
    assert row == Entry(1, C1, "voltage", None, Value.exact(325))
    assert (row.known_by, row.case, row.missing, row.inputs, row.place) == ("stated", None, (), (), None)
    assert (row.grade, row.statistic, row.formula, row.source, row.note) == ("",) * 5
    assert row.rests_on == frozenset()


def test_a_hole_names_each_missing_fact_once_in_their_order() -> None:
    row = Ledger().hole(
        C1, "voltage", iter(["T1: turns", "C2: capacitance", "T1: turns"]), case=HOT, note="too light a load",
        formula="crest", inputs=(4,), rests_on=frozenset({"mains tolerance"}),
    )
    assert row == Entry(
        1, C1, "voltage", HOT, None, ("T1: turns", "C2: capacitance"), "computed", note="too light a load",
        formula="crest", inputs=(4,), rests_on=frozenset({"mains tolerance"}),
    )
    bare = Ledger().hole(C1, "voltage", ())
    assert bare == Entry(1, C1, "voltage", None, None, known_by="computed")


@dataclass(frozen=True, slots=True)
class SureEntry(Entry):
    """A row that carries more than the ledger knows of."""

    confidence: str = "published"


FULL = Entry(
    40, C1, "voltage", HOT, Category.of("a", "b"), ("c",), "measured", "min", "rms", "d", "e", (5,),
    Place("f.yaml", 2), "g", frozenset({"h"}),
)


@pytest.mark.parametrize(
    "given", [FULL, SureEntry(*(getattr(FULL, one.name) for one in fields(FULL)), "remembered")], ids=["plain", "more"]
)
def test_a_copy_takes_the_next_number_and_nothing_else(given: Entry) -> None:
    ledger = Ledger()
    ledger.write(F1, "current", Value.exact(1))
    row = ledger.copy(given)
    assert type(row) is type(given)
    for one in fields(given):
        assert getattr(row, one.name) == (2 if one.name == "number" else getattr(given, one.name)), one.name
    assert ledger[2] is row and ledger.find(C1, "voltage", HOT) is row and ledger.subjects("part") == (C1, F1)


def test_how_subjects_are_spoken() -> None:
    assert str(SUPPLY) == "supply"
    assert str(C1) == "C1"
    assert str(Subject("winding pair", ("T1.primary", "T1.main"))) == "T1.primary – T1.main"


@pytest.mark.parametrize(
    ("case", "words"),
    [
        (Case("unplug"), "unplug"),
        (Case("running", 253.04), "running, 253 V"),
        (Case("running", 253.0, 47.0), "running, 253 V 47 Hz"),
        (Case("running", None, 47.0), "running"),  # a frequency is told with its mains
        (Case("running", 253.0, 50.0, "full"), "running, 253 V 50 Hz, full load"),
        (Case("running", 253.0, load="least"), "running, 253 V, least load"),
        (Case("running", load="none"), "running, no load"),
        (Case("running", load="main least"), "running, main least"),
        (Case("cold start", 90.0, ambient=-10.04), "cold start, 90 V, -10.04 degC ambient"),
        (Case("cold start", ambient=0.0), "cold start, 0 degC ambient"),  # nought degrees is an ambient
        (Case("fault", 253.0, fault="C1 shorted"), "C1 shorted, 253 V"),
    ],
)
def test_how_cases_are_spoken(case: Case, words: str) -> None:
    assert str(case) == words
