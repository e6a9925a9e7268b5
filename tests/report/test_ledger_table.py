"""The ledger as a table and as a derivation."""

from __future__ import annotations

import re

from reviews_by_hand import PATH, RUNNING, small_ledger

from derate.ledger.entry import Case, Subject
from derate.ledger.ledger import Ledger
from derate.report.ledger import Shown, chosen, derivation_lines, governing, screen_lines, table_foot, table_lines
from derate.report.words import cells
from derate.terms.values import Value

PART = Subject("part", ("C1",))


def test_the_worst_case_is_shown_and_says_of_how_many() -> None:
    shown = governing(chosen(small_ledger().entries))
    ripple = next(row for row in shown if row.entry.quantity == "ripple_current")
    assert ripple.entry.number == 5 and ripple.others == 1


def test_less_is_worse_where_the_vocabulary_says_so_and_both_ends_where_neither_is() -> None:
    ledger = Ledger()
    for number, mains in enumerate((90.0, 264.0)):
        case = Case("running", mains)
        ledger.write(PART, "voltage_min", Value.exact(80.0 + number), case=case, formula="x", known_by="computed")
        ledger.write(PART, "frequency", Value.exact(6e4 + number * 1e4), case=case, formula="x", known_by="computed")
    numbers = {(row.entry.quantity, row.entry.value.near) for row in governing(chosen(ledger.entries))}  # type: ignore[union-attr]
    assert numbers == {("voltage_min", 80.0), ("frequency", 6e4), ("frequency", 7e4)}


def test_a_hole_is_never_hidden_by_a_known_case() -> None:
    ledger = small_ledger()
    ledger.hole(PART, "ripple_current", ("C1: x",), case=Case("running", 90.0))
    rows = [row for row in governing(chosen(ledger.entries)) if row.entry.quantity == "ripple_current"]
    assert [row.entry.value is None for row in rows] == [False, True]


def test_a_replaced_row_is_left_out() -> None:
    ledger = small_ledger()
    again = ledger.write(PART, "ripple_current", Value.exact(1.0), case=RUNNING, known_by="computed")
    numbers = [entry.number for entry in chosen(ledger.entries)]
    assert again.number in numbers and 5 not in numbers


def test_facts_only_when_asked_for() -> None:
    ledger = small_ledger()
    assert not any("." in entry.quantity for entry in chosen(ledger.entries))
    assert any(entry.quantity == "plate.mains" for entry in chosen(ledger.entries, every=True))
    assert {entry.subject.names for entry in chosen(ledger.entries, part="C1")} == {("C1",)}
    assert {entry.quantity for entry in chosen(ledger.entries, quantity="power_drawn")} == {"power_drawn"}


def test_screen_keeps_to_its_width_and_shows_every_row() -> None:
    rows = tuple(Shown(entry) for entry in chosen(small_ledger().entries, every=True))
    for width in (40, 80, 160):
        lines = list(screen_lines(rows, width))
        assert all(cells(line) <= width for line in lines)
        for row in rows:
            assert any(re.match(rf" *{row.entry.number}  ", line) for line in lines)


def test_piped_table_is_one_row_a_line_with_every_column() -> None:
    rows = governing(chosen(small_ledger().entries))
    lines = list(table_lines(rows))
    assert len(lines) == len(rows)
    (line,) = [line for line in lines if "ripple_current" in line]
    assert line.startswith("5  C1")
    assert "0.3 A to 0.36 A (0.32 to 0.34 A)" in line and "(worst of 2)" in line and "rectifier, closed form" in line
    (hole,) = [line for line in lines if "case_temperature" in line]
    assert "not known" in hole and "missing: air beside the part (C1)" in hole
    assert "1 without a value" in table_foot(rows, 0)


def test_derivation_goes_down_to_the_places_in_the_file() -> None:
    text = "\n".join(derivation_lines(small_ledger(), 7, 80))
    for piece in (
        "7  mains: mains current, rms = at least 0.2 A", "computed by power over voltage",
        "source: energy balance", f"{PATH}:5:12", f"{PATH}:9:8", "C1: capacitance = 26.4 uF to 39.6 uF (33 uF)",
    ):  # fmt: skip
        assert piece in text, piece
    assert text.count("source: energy balance") == 1  # met twice, told once
    assert "as above" in text
    assert all(cells(line) <= 80 for line in text.split("\n"))


def test_derivation_names_formulas_in_words_and_what_a_hole_misses() -> None:
    ledger = small_ledger()
    lines = list(derivation_lines(ledger, 4, None, {"load over efficiency": "output power / efficiency"}))
    assert "computed by load over efficiency: output power / efficiency" in lines[0]
    assert "missing: air beside the part (C1)" in "\n".join(derivation_lines(ledger, 8, 80))


def test_a_long_chain_neither_recurses_nor_repeats() -> None:
    ledger = Ledger()
    ledger.write(PART, "power", Value.exact(1.0))
    for number in range(1, 3000):
        ledger.write(PART, "power", Value.exact(1.0), case=Case("running", float(number)), formula="f",
                     inputs=(number, number))  # fmt: skip
    lines = list(derivation_lines(ledger, 3000, None))
    assert len(lines) == 2 * 3000 - 1
