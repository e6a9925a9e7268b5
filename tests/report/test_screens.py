"""The layout for people and the lines for pipes, from reviews made by hand."""

from __future__ import annotations

import re

import pytest
from reviews_by_hand import PATH, finding, mixed, review, unknown

from derate.judge.review import FamilyWord, HazardWord
from derate.ledger.entry import Subject
from derate.report.lines import review_lines
from derate.report.people import review_screen
from derate.report.words import cells
from derate.terms.values import Place, Value
from derate.terms.words import VERDICTS

_ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize("width", [40, 80, 120, 160])
def test_no_line_is_wider_than_the_screen_or_ends_in_a_space(width: int) -> None:
    for verbose in (False, True):
        for line in review_screen([mixed()], width, False, verbose=verbose).split("\n"):
            assert cells(line) <= width
            assert line == line.rstrip()


def test_colours_change_nothing_but_colours() -> None:
    coloured = review_screen([mixed()], 80, True)
    assert "\x1b[" in coloured
    bare = "\n".join(line.rstrip() for line in _ESCAPE.sub("", coloured).split("\n"))
    assert bare == review_screen([mixed()], 80, False)


def test_people_see_figures_limit_source_cure_counts_and_caution() -> None:
    text = review_screen([mixed()], 100, False)
    for piece in (
        "used  900 A to 1500 A", "allowed  35 A", "42.9 times what is allowed", "cure  Fit a fuse",
        "limit from  a house limit, invented (published; pack mains-fusing)", "line 26, column 3",
        "entries 41 and 12 of derate stress", "remembered figure for IEC something: confirm",
        "waived up to 1.3 times until 2027-06-30 by lead engineer: replaced with the fan",
        "1 waiver, 1 open point, 1 known finding held back", "level: default; rule packs: commercial-practice",
        "82 findings block: exit status 1.", "no certificate", "waiver for fine on C9 is not used",
    ):  # fmt: skip
        assert piece in text, piece
    for verdict in VERDICTS:
        assert re.search(rf"counted.*\d+ {verdict}", text)
    assert "per standard" not in text


def test_a_thin_file_prints_no_eighty_unknowns() -> None:
    thin = review(*(unknown(number, hazard=hazard) for hazard in ("fire", "shock") for number in range(80)))
    assert len(review_screen([thin], 80, False).split("\n")) < 40
    assert len(list(review_lines([thin]))) < 8
    assert len(list(review_lines([thin], verbose=True))) > 160


def test_nothing_that_somebody_would_name_another_program_for() -> None:
    for text in (review_screen([mixed()], 80, False), "\n".join(review_lines([mixed()]))):
        assert "!" not in text
        assert not re.search(r"\b[A-Z]{1,4}[0-9]{3,}\b", text)  # no letter-and-number codes
        assert not re.search("[\U0001f300-\U0001faff✓✗✔✘⚠]", text)
        for word in ("compliant", "certified", "approved", "is safe"):
            assert word not in text


def test_piped_lines_have_place_verdict_and_message() -> None:
    lines = list(review_lines([mixed()]))
    findings = [line for line in lines if re.match(rf"{re.escape(PATH)}:\d+:\d+: ", line)]
    pattern = rf"{re.escape(PATH)}:\d+:\d+: (fail|not assessed|marginal|note): .+"
    # each of the review but what passes or is held back, the eighty unknowns gathered to one, and a note
    assert len(findings) == 7 and not any("rule held," in line for line in findings)
    assert all(re.fullmatch(pattern, line) for line in findings)
    assert lines[0].startswith(f"{PATH}:26:3: fail: F1 breaks 35 A")
    assert "(rule fuse-breaking-capacity, critical, blocks)" in lines[0]
    assert f"{PATH}:80:5: note: waiver for fine on C9 is not used: fine did not look at C9" in lines
    counts = f"{PATH}: 3 fail, 82 not assessed, 1 marginal, 1 pass, 1 not applicable"
    assert any(line.startswith(counts) for line in lines)
    assert all("\n" not in line and "\x1b" not in line for line in lines)


def test_a_message_of_any_length_stays_on_one_line() -> None:
    long = finding(message="word " * 500)
    assert sum(line.startswith(f"{PATH}:26") for line in review_lines([review(long)])) == 1


def test_hostile_names_reach_no_screen() -> None:
    hostile = finding(
        rule="[red]rule[/red]", subject=Subject("part", ("C1\x1b]0;title\x07", "[bold]\u202e")),
        message="[link=x]a\u2028b\x9b31m", place=Place("dir\x1b[2J/x.yaml", 1, 1), source="\u2066s", remedy="\x00",
    )  # fmt: skip
    given = review(hostile)._replace(name="[blink]\u202ename", path="p\x1b.yaml", notes=("\x1b[31m",))
    for text in (
        review_screen([given], 80, False), _ESCAPE.sub("", review_screen([given], 80, True)),
        "\n".join(review_lines([given])),
    ):  # fmt: skip
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u202e\u2066]", text)
        assert "\\u001b" in text
        assert "[link=x]a b" in text  # markup is text


def test_the_gauge_stands_at_the_same_column_and_shows_what_is_open() -> None:
    wide = finding(verdict="not assessed", stress=Value.between(1.0, 1.4), limit=Value.exact(1.2), ratio=1.4 / 1.2)
    low = finding(stress=Value.exact(0.6), limit=Value.exact(1.2), ratio=0.5, verdict="marginal", blocks=False)
    lines = [line for line in review_screen([review(wide, low)], 80, False).split("\n") if "┃" in line]
    assert len({line.index("┃") for line in lines}) == 1
    assert lines[0].strip() == "━" * 20 + "╌" * 4 + "┃" + "╌" * 4 + " 1.17 times what is allowed"
    assert lines[1].strip() == "━" * 12 + "·" * 12 + "┃ 0.5 times what is allowed"
    ascii_only = review_screen([review(low)], 80, False, drawn=False)
    assert "=" * 12 + "." * 12 + "| 0.5" in ascii_only


def test_a_screen_that_cannot_draw_gets_plain_characters_only() -> None:
    review_screen([mixed()], 80, False, drawn=False).replace("–", "-").encode("ascii")


def test_families_are_told_apart() -> None:
    words = (HazardWord("shock", "fail", "clearance"),)
    given = mixed()._replace(families=(FamilyWord("60664-1", "fail", words), FamilyWord("62368-1", "pass", ())))
    assert "in 60664-1: fail: shock fail (clearance)" in review_screen([given], 80, False)
    assert any("in 62368-1: pass: no rule looked" in line for line in review_lines([given]))


def test_order_and_bytes_are_the_same_every_time() -> None:
    assert review_screen([mixed()], 80, True) == review_screen([mixed()], 80, True)
    assert list(review_lines([mixed()])) == list(review_lines([mixed()]))


def test_nothing_blocking_says_so() -> None:
    good = review(finding(verdict="pass", blocks=False, ratio=0.5))
    assert "Nothing blocks: exit status 0." in review_screen([good], 80, False)
    assert "1 finding blocks: exit status 1." in review_screen([review(finding())], 80, False)
