"""YAML with positions: what composes, and every trap of the format with the words that are said."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from counts import calls

from derate.terms.values import Place, Problem, ReadingError
from derate.text import nodes as module
from derate.text.nodes import (
    Mapping,
    Node,
    Scalar,
    Sequence,
    compose,
    compose_second,
    split_numbers,
)


def problems(text: str, **how: bool) -> list[str]:
    with pytest.raises(ReadingError) as caught:
        compose(text, "d.yaml", **how)
    lines = text.replace("\r\n", "\n").split("\n")
    for problem in caught.value.problems:
        assert 1 <= problem.place.line <= len(lines)
        assert 1 <= problem.place.column <= len(lines[problem.place.line - 1]) + 1
    return [str(problem).removeprefix("d.yaml:") for problem in caught.value.problems]


def value(text: str) -> Node | None:
    return compose(f"a: {text}\n", "d.yaml").get("a")


def words(text: str) -> str:
    node = value(text)
    assert isinstance(node, Scalar)
    return node.text


def test_nodes_and_places() -> None:
    top = compose("# design\na: 400 V   # marked\nb:\n  - {c: 'x: y', d: [1, \"e\\u00b5\"]}\n", "d.yaml", only=True)
    assert top.keys == ("a", "b")
    assert top.place == Place("d.yaml", 2, 1)
    assert top.get("a") == Scalar("400 V", Place("d.yaml", 2, 4))
    assert top.key("b") == Scalar("b", Place("d.yaml", 3, 1))
    assert top.get("nothing") is None and top.key("nothing") is None
    b = top.get("b")
    assert isinstance(b, Sequence) and isinstance(b.items[0], Mapping)
    c, d = b.items[0].get("c"), b.items[0].get("d")
    assert isinstance(c, Scalar) and isinstance(d, Sequence) and isinstance(d.items[1], Scalar)
    assert (c.text, c.quoted, c.place, c.start) == ("x: y", True, Place("d.yaml", 4, 9), Place("d.yaml", 4, 10))
    assert c.at(2) == Place("d.yaml", 4, 12)
    escaped = d.items[1]
    assert (escaped.text, escaped.in_line, escaped.at(1)) == ("eµ", False, escaped.place)


@pytest.mark.parametrize(
    "text",
    ["1e3", "1e-3", "010", "1:30", "12:30:45", "no", "off", "NO", "yes", "2026-01-01", "=", ".nan", ".inf", "0x1F",
     "0b11", "1_000", "±5%", "4.7 µF", "47 Ω", "polycarbonate?", "double square", "C6 || C7", "-10..40 degC", "<1 mm",
     "1.0", "true", "D1 + (R5 || R6 || C2)"],
)  # fmt: skip
def test_a_text_stays_as_typed(text: str) -> None:
    """No number, date, time or truth value of YAML 1.1 is ever made of a text."""
    assert words(text) == text
    if "," not in text:
        flow = compose(f"a: {{b: {text}}}", "d.yaml").get("a")
        assert isinstance(flow, Mapping)
        assert flow.get("b") == Scalar(text, Place("d.yaml", 1, 8))


def test_line_ends() -> None:
    assert compose("a: 1\r\nb: 2\r\n", "d.yaml").get("b") == Scalar("2", Place("d.yaml", 2, 4))


# text, what is said (line and column first); the list is complete
TRAPS: list[tuple[str, list[str]]] = [
    ("a: {note: photo 7, corner lifted}", [
        "1:20: 'corner lifted' has no value; The rest of a text with a comma? Put that text in quotes"]),
    ("a: {w: 1,5 mm}", ["1:10: '5 mm' has no value; A number with a comma? Write 1.5 mm"]),
    ("a: {w: up to 1,5 mm}", ["1:16: '5 mm' has no value; A number with a comma? Write up to 1.5 mm"]),
    ("{a:1, b: 2}", ["1:2: 'a:1' has no value; Write a space behind the colon: a: 1"]),
    ("a:\nb: 1", ["1:1: 'a' has no value; write `unknown`, or leave the key out"]),
    ("a:\n  - 1\n  -\n", ["3:4: an entry of this list is empty; write it out, or leave the line out"]),
    ("a: ~\nb: null\n", [
        "1:4: '~' is not part of this format; write `unknown`, or leave the key out",
        "2:4: 'null' is not part of this format; write `unknown`, or leave the key out"]),
    ("a: 1\nb: 2\na: 3\n'a': 4", [
        "1:1: 'a' is said twice, again in line 3; keep one of them",
        "1:1: 'a' is said twice, again in line 4; keep one of them",
        "3:1: 'a' is said twice, first in line 1 column 1",
        "4:1: 'a' is said twice, first in line 1 column 1"]),
    ("a: &x 1\nb: *x\nc: !t 2\nd: !!str 3\ne: &y {f: 1}\ng: !u [1]", [
        "1:4: '&x' is not part of this format; use quotes for a text",
        "2:4: '*x' is not part of this format; write the value out, or use quotes",
        "3:4: '!t' is not part of this format; use quotes for a text with a !",
        "4:4: '!!str' is not part of this format; use quotes for a text with a !",
        "5:4: '&y' is not part of this format; use quotes for a text",
        "6:4: '!u' is not part of this format; use quotes for a text with a !"]),
    ("<<: {a: 1}", ["1:1: '<<' is not part of this format; write the entries out"]),
    ("[a]: 1\n? {b: c}\n: 2", [
        "1:1: a key is one piece of text, not a list or braces",
        "2:3: a key is one piece of text, not a list or braces"]),
    ("%YAML 1.1\n---\na: 1", ["1:1: a line beginning with % is not part of this format; leave it out"]),
    ("a: 1\n...\nb: 2", ["3:1: text behind the end of the document; leave the line of dots out"]),
    ("a: |\n  one\n", ["1:4: '|' at the start of a value begins a text over several lines, not part of this format; "
                       "write `C6 || C7`, or use quotes"]),
    ("a: >\n  5 mm\n", ["1:4: '>' at the start of a value begins a text over several lines, not part of this format; "
                        "write `over 5 mm` for a lower bound"]),
    ("a: b\tc", ["1:4: a tab inside a text; write spaces"]),
    # where YAML itself stops
    ("a: >5 mm\nb: {c: >= 8 mm, d: 1}\ne: >x\n", [
        "1:4: '>5 mm': YAML takes '>' for the start of a text over several lines; write `over 5 mm`",
        "2:8: '>= 8 mm': YAML takes '>' for the start of a text over several lines; write `over 8 mm`",
        "3:4: '>x': YAML takes '>' for the start of a text over several lines; write `over 5 mm`, or use quotes"]),
    ("a: [| C7, R1]\nb: | C7\n", [
        "1:5: '| C7': YAML takes '|' for the start of a text over several lines; parts in parallel are written "
        "`C6 || C7`, with a part on either side",
        "2:4: '| C7': YAML takes '|' for the start of a text over several lines; parts in parallel are written "
        "`C6 || C7`, with a part on either side"]),
    ("a: @x\nb: `y`\nc: %z\nd: !\x20\ne: & f\n", [
        "1:4: '@x': a text cannot begin with @; put it in quotes",
        "2:4: '`y`': a text cannot begin with `; put it in quotes",
        "3:4: '%z': a text cannot begin with %; put it in quotes",
        "4:4: '!': what begins with ! is not part of this format; put it in quotes",
        "5:4: '& f': what begins with & is not part of this format; put it in quotes"]),
    ("a: {b: 6 mm # left, c: 1}\nd: 1\ne: [x # y]\n", [
        "1:4: this { never closes: text from ' #' in column 13 on is a comment; put the text with ' #' in quotes",
        "3:4: this [ never closes: text from ' #' in column 7 on is a comment; put the text with ' #' in quotes"]),
    ("a:\n\tb: 1\n\tc: 2\n", [
        "2:1: a tab at the start of a line; indent with spaces",
        "3:1: a tab at the start of a line; indent with spaces"]),
    ("a: 'x\nb: 1", ["1:4: this ' never closes; close the text with another '"]),
    ("a: \"x\\\"\nb: 1", ["1:4: this \" never closes; close the text with another \""]),
    ("a: b: c", ["1:5: a colon and a space inside a text, a line further in than the one above, or one above without "
                 "its colon; put a text with ': ' in quotes; give entries of one block the same indentation"]),
    ("a: {b: c", ["1:4: a { opened here is not closed, or a comma is missing; write {key: value, key: value}"]),
    ("a: [x\nb: 2\n", ["1:4: a [ opened here is not closed, or a comma is missing; write [one, two]"]),
    ("a: 1\n- b\n", ["2:1: this line does not fit the lines above it; give entries of one block the same indentation"]),
    ("a: {b: c: d, e: f}\ng: [h: i: j]", ["1:9: a colon and a space inside a text; put the text in quotes",
                                         "2:9: a colon and a space inside a text; put the text in quotes"]),
    ("a: \"x\" y", ["1:8: text behind the closing \"; put the whole text in quotes"]),
    ("a: {b: 1} c", ["1:11: text behind the closing }; put the whole text in quotes"]),
    ("a: [x] (measured)", ["1:8: text behind the closing ]; put the whole text in quotes"]),
    ("a: {b: 1,, c: 2}", ["1:10: nothing stands where a value belongs; write it, or take a comma out"]),
    ("a: ?", ["1:4: a ? alone; write `unknown`, or put it in quotes"]),
    ("a: [?]", ["1:6: a ? alone; write `unknown`, or put it in quotes"]),
    ("a: b\n\t\nc: d", ["2:1: a tab at the start of a line; indent with spaces"]),
    ("a: - 1", ["1:4: a list cannot begin here; begin it on a line of its own"]),
    ("a:\n- b\nc\n", ["3:1: a line without a colon; write `key: value`"]),
    ("a: \"\\q\"", ["1:5: a backslash in double quotes that YAML does not know; use single quotes"]),
    ("", ["1:1: the file is empty; a design begins with `derate: 1`"]),
    ("# nothing\n---\n", ["1:1: the file is empty; a design begins with `derate: 1`"]),
    ("- a", ["1:1: the file is a list; write keys and values, such as `derate: 1`"]),
    ("a", ["1:1: the file is one piece of text; write keys and values, such as `derate: 1`"]),
    ("a: \x85", ["1:4: the line end U+0085 stands here; take it out"]),
    ("a: \u2028\nb: \u2029", ["1:4: the line end U+2028 stands here; take it out",
                              "2:4: the paragraph end U+2029 stands here; take it out"]),
    ("a: \x00\nb: \x1b", ["1:4: a NUL character stands here; take it out",
                          "2:4: the control character U+001B stands here; take it out"]),
    ("a: 1\rb: 2", ["1:5: a carriage return without a line feed stands here; save the file with ordinary line ends"]),
    ("a: \ufeff1", ["1:4: a byte order mark inside the text stands here; take it out"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), TRAPS)
def test_traps(text: str, said: list[str]) -> None:
    assert problems(text) == said


def test_problems_before_a_syntax_error_are_told_too() -> None:
    assert problems("a: 1\na: 2\nb: {c: @x}\n") == [
        "1:1: 'a' is said twice, again in line 2; keep one of them",
        "2:1: 'a' is said twice, first in line 1 column 1",
        "3:8: '@x': a text cannot begin with @; put it in quotes",
    ]


def test_traps_inside_quotes_and_comments_are_left_alone() -> None:
    said = problems("a: '>5 mm'   # > @ `\nb: \"@x, {\"\nc: [1, 'it''s @']\nd: {e: f} # }\ng: {h: '#', i: x#y, j: @}\n")
    assert said == ["5:24: '@': a text cannot begin with @; put it in quotes"]


def test_split_numbers() -> None:
    sequence = value("[6,2 mm, 8 mm]")
    assert isinstance(sequence, Sequence)
    assert split_numbers(sequence) == (
        Problem(
            Place("d.yaml", 1, 5), "'6' has no unit: the comma has split '6,2 mm' in two", "write 6.2 mm"
        ),
    )
    for text in ("[3, 2, 1]", "[5V, 12V]", "[6, tape]", "['6', 2 mm]"):
        sequence = value(text)
        assert isinstance(sequence, Sequence)
        assert split_numbers(sequence) == ()


def test_texts_over_several_lines_where_they_are_allowed() -> None:
    top = compose("a: |\n  one\n  two\nb: >-\n  three\n  four\nc: five\n  six\n", "p.yaml", blocks=True)
    texts = [node for _, node in top.entries]
    assert [node.text for node in texts if isinstance(node, Scalar)] == ["one\ntwo\n", "three four", "five six"]
    assert all(isinstance(node, Scalar) and not node.in_line and node.at(5) == node.place for node in texts)


def test_documents() -> None:
    text = "# pack\n---\na: 1\n--- # trials\n- b: 2\n- [c]\n"
    assert compose(text, "p.yaml").keys == ("a",)
    second = compose_second(text, "p.yaml")
    assert isinstance(second, Sequence)
    assert second.place == Place("p.yaml", 5, 1)
    assert second.items[1] == Sequence((Scalar("c", Place("p.yaml", 6, 4)),), Place("p.yaml", 6, 3))
    assert problems(text, only=True) == ["4:1: a second document begins here; one file holds one design"]
    assert compose_second("a: 1\n", "p.yaml") is None
    assert compose_second("a: 1\n---\n", "p.yaml") is None
    assert compose_second("a: '---'\nb: ---\n", "p.yaml") is None
    with pytest.raises(ReadingError, match="p.yaml:5:1: a third document begins here"):
        compose_second("a: 1\n---\nb: 2\n\n---\nc: 3\n", "p.yaml")


def test_the_first_document_never_composes_the_second() -> None:
    text = "a: 1\n---\n- {b: @\n  - >5 mm\n"
    assert compose(text, "p.yaml").keys == ("a",)
    with pytest.raises(ReadingError) as caught:
        compose_second(text, "p.yaml")
    assert [problem.place for problem in caught.value.problems] == [Place("p.yaml", 3, 7), Place("p.yaml", 4, 5)]


def test_alias_bomb_is_refused_at_once() -> None:
    levels = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    levels += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    text = "\n".join(levels)
    assert len(problems(text)) == 12 + 11 * 9
    few = "\n".join(levels[:6])  # 9^5 leaves where nothing is refused; six levels more are 9^6 times as many
    assert calls(lambda: problems(text)) < 3 * calls(lambda: problems(few))


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? ", "[{a: "])
def test_a_hundred_thousand_levels(opening: str) -> None:
    assert len(problems("a:\n  " + opening * 100_000)) >= 1
    fewer, more = (calls(lambda depth=depth: problems("a:\n  " + opening * depth)) for depth in (10_000, 100_000))
    assert more < 15 * fewer  # ten times as deep


def test_forty_levels_and_not_one_more() -> None:
    compose("a: " + "[" * 38 + "x" + "]" * 38, "d.yaml")
    assert problems("a: " + "[" * 60 + "x" + "]" * 60) == ["1:43: nested more than 40 deep"]


def test_number_of_nodes() -> None:
    assert problems("a: [" + "1," * 2000 + "1]")[0].endswith("more than 2000 entries in one block or list; split it")
    row = "[" + "1," * 1900 + "1]"
    assert problems("a: [" + f"{row}," * 110 + "1]")[0].endswith("more than 200000 entries; split the file")


def test_two_hundred_problems_are_told() -> None:
    assert 100 <= len(problems("a: 1\n" * 5000)) <= 200


def test_without_libyaml_nothing_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(yaml, "CSafeLoader")
    assert "libyaml" in problems("a: 1")[0]
    assert not hasattr(module.yaml, "CSafeLoader")


def test_the_shipped_designs_compose() -> None:
    paths = sorted((Path(__file__).parents[2] / "designs").glob("**/*.yaml"))
    assert paths
    for path in paths:
        compose(path.read_text(encoding="utf-8"), str(path), only=True)
