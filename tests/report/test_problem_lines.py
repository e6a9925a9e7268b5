"""What could not be read, with its place and, for people, the line and a caret."""

from __future__ import annotations

from derate.report.lines import problem_lines
from derate.report.words import cells
from derate.terms.values import Place, Problem

TEXT = "derate: 1\nsupply: {name: 電源 x\x1b, mains: 100-240 V}\n"


def test_one_line_with_place_what_and_instead() -> None:
    problem = Problem(Place("a.yaml", 2, 3), "1,5 V", "write 1.5 V")
    assert list(problem_lines([problem])) == ["a.yaml:2:3: error: 1,5 V; write 1.5 V"]
    assert list(problem_lines([Problem(Place("a.yaml"), "empty")])) == ["a.yaml:1:1: error: empty"]


def test_the_command_line_has_no_column() -> None:
    problem = Problem(Place("command line"), "x", "y")
    assert list(problem_lines([problem], True, lambda path: TEXT)) == ["command line: error: x; y"]


def test_the_caret_stands_under_the_character_meant() -> None:
    at = TEXT.split("\n")[1].index("100-240") + 1
    _, quoted, caret = problem_lines([Problem(Place("a.yaml", 2, at), "x")], True, lambda path: TEXT)
    assert "\x1b" not in quoted and "\\u001b" in quoted
    assert cells(quoted[: quoted.index("100-240")]) == caret.index("^")


def test_a_long_line_is_cut_round_the_column() -> None:
    line = "a" * 500 + "X" + "b" * 500
    _, quoted, caret = problem_lines([Problem(Place("a.yaml", 1, 501), "x")], True, lambda path: line)
    assert len(quoted) < 90 and quoted[caret.index("^")] == "X"


def test_places_outside_the_text_and_unreadable_files_quote_nothing() -> None:
    far = Problem(Place("a.yaml", 99, 1), "x")
    assert len(list(problem_lines([far], True, lambda path: TEXT))) == 1
    assert len(list(problem_lines([Problem(Place("a.yaml", 1, 1), "x")], True, lambda path: None))) == 1
