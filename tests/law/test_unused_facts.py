"""What a file states and nothing used: told by name, place and reason; a rating that nothing asks blocks."""

from __future__ import annotations

import re
from fnmatch import fnmatchcase

import pytest
from law_bench import DAY, PACK_FILES, Bench

from derate.design.blocks import DesignFile
from derate.design.load import read_design
from derate.design.plain_forms import Each, ListOf
from derate.design.settings import Settings
from derate.judge.review import Review, Unused
from derate.report.gather import unused_words
from derate.report.lines import brief_lines, review_lines
from derate.report.machine import lint_json
from derate.study.hearing import ASKED_MARKS, FOR_THE_READER, NEVER_ASKED, NOT_ASKED_HERE, unused
from derate.study.work import Work, Workshop, required_of, review_of, worked
from derate.terms.part_terms import LIMITS
from derate.terms.vocabulary import VOCABULARY

SOUND, POOR = Bench.of("sound"), Bench.of("poor")
WORKSHOP = Workshop()


def _told(text: str, path: str = SOUND.path) -> tuple[Review, dict[str, Unused]]:
    design = read_design(text, path)
    packs = WORKSHOP.packs_for(path, design, Settings())
    work = Work(design, Settings(), packs, worked(design, packs), required_of(packs))
    review = review_of(work, DAY)
    review = review._replace(unused=unused(work, review))
    return review, {one.name: one for one in review.unused}


def _asked(review: Review, part: str) -> list[str]:
    return [one.message for one in review.findings if one.rule == "rating-is-asked" and part in one.subject.names]


def test_every_unused_fact_has_its_place_and_a_reason() -> None:
    for bench in (SOUND, POOR):
        _, told = _told(bench.text, bench.path)
        lines = bench.text.split("\n")
        assert told and all(one.reason and one.place.line for one in told.values())
        for one in told.values():
            if one.place.column > 1 and one.said.isalnum():  # quoted where it stands
                assert one.said in lines[one.place.line - 1], one


@pytest.mark.parametrize(
    "name, is_used",
    [
        ("parts.RF1.mounting.above_board", False),
        ("transformers.T1.from_core_outwards.4", False),  # tape beside triple-insulated wire
        ("parts.D5.rated.recovery_time", True),
        ("transformers.T1.leads.secondary.held_by", False),
        ("parts.RF1.mounting.body", True),
        ("parts.C1.capacitance", True),  # the marked one, to which the measured one is held
        ("parts.C2.capacitance", True),
        ("transformers.T1.windings.secondary.wire", True),
        ("barriers.under transformer.slot.width", True),
        ("barriers.under transformer.sheet.fixed", True),
        ("parts.Q1.rated.voltage", True),
    ],
)  # fmt: skip
def test_what_led_to_a_finding_is_used(name: str, is_used: bool) -> None:
    assert (name not in _told(SOUND.text)[1]) == is_used


def test_a_mark_that_no_rule_asks_is_told_where_it_stands() -> None:
    """Which of them are asked is what the packs say."""
    review, told = _told(SOUND.text)
    marks = {name: one for name, one in told.items() if ".marks." in name}
    assert [one.said for one in marks.values()] == ["indoor use", "output polarity", "model"]
    line = SOUND.text.split("\n")[marks["supply.plate.marks.4"].place.line - 1]
    assert line[marks["supply.plate.marks.4"].place.column - 1 :].startswith("model")
    asked = {one for pack in PACK_FILES for one in re.findall(r"plate\.marks: includes ([a-z ]+)", pack.read_text())}
    assert asked == set(ASKED_MARKS)


def test_a_capture_is_told_as_a_whole_and_blocks_nothing() -> None:
    _, told = _told(SOUND.text)
    (one,) = (one for name, one in told.items() if "capture" in name)
    assert one.name == "readings.6.capture" and one.said == "captures/inrush-230V.csv" and one.is_fact
    assert SOUND.text.split("\n")[one.place.line - 1].strip().startswith("capture:")


@pytest.mark.parametrize(("part", "told"), [("", True), ("part: unknown, ", True), ("part: 1N4007, ", False)])
def test_a_maker_without_an_entry_of_a_library_is_told(part: str, told: bool) -> None:
    """A list of parts that names makers leaves them there; nothing is taken from them until an entry is named."""
    dropper = Bench.of("dropper")
    line = "  D9: {kind: line diode, fitted: no, "
    text = dropper.text.replace("parts:\n", f"parts:\n{line}{part}maker: Lindholm}}\n", 1)
    assert text != dropper.text
    if not told:  # the shipped library has figures of no single maker
        text = text.replace("maker: Lindholm", "maker: unknown")
    unused_here = _told(text, dropper.path)[1]
    assert ("parts.D9.maker" in unused_here) == told
    assert not told or not unused_here["parts.D9.maker"].is_fact


BASES = ("basis: opened sample", "basis: own design")


@pytest.mark.parametrize(
    ("name", "was", "now", "told"),
    [
        ("sound", "", "", True),  # whatever is asked of a sample alone was read
        ("sound", "scorch_marks: none, ", "", False),  # nobody looked: asked of a sample alone
        ("sound", "mains_power: 62 mW 5%", "mains_power: 20..200 mW", True),  # read, and too wide to tell
        ("sound", ", lead_current: 3 A (data sheet; lead and plug of the maker)", "", True),  # held to nothing
        ("poor", "", "", False),
        ("three outputs", "", "", False),
    ],
)
def test_what_a_supply_is_is_told_where_nothing_hangs_on_it(name: str, was: str, now: str, told: bool) -> None:
    """Either way round: told of either basis where every finding has the same word of the other one."""
    bench, verdicts = Bench.of(name), []
    (own,) = (one for one in BASES if one in bench.text)
    assert bench.text.count(own) == 1 and was in bench.text
    for basis in BASES:
        review, listed = _told(bench.text.replace(own, basis).replace(was, now), bench.path)
        verdicts.append({(one.rule, one.subject): one.verdict for one in review.findings})
        assert ("supply.basis" in listed) == told
    assert (verdicts[0] == verdicts[1]) == told


def test_a_condition_that_no_reading_names_is_told() -> None:
    lamp = Bench.of("lamp driver")
    named = {name for name in _told(lamp.text, lamp.path)[1] if name.startswith("conditions.")}
    assert named == {"conditions.B"}
    used = lamp.text.replace("Q1: {A: 0.55 A}", "Q1: {B: 0.55 A}")
    assert used != lamp.text
    assert not [name for name in _told(used, lamp.path)[1] if name.startswith("conditions.")]


def test_a_rating_that_nothing_asks_blocks_and_is_no_unused_fact() -> None:
    said = "C4: {kind: film capacitor, capacitance: 2.2 nF 10%, rated: {"
    assert said in SOUND.text
    review, told = _told(SOUND.text.replace(said, f"{said}current: 1 A, "))
    assert len(_asked(review, "C4")) == 1 and "rated current" in _asked(review, "C4")[0]
    assert review.blocks and "parts.C4.rated.current" not in told
    before = _told(SOUND.text)[0]
    assert not before.blocks and not _asked(before, "C4") and not _asked(before, "Q1")


def test_a_rating_is_asked_by_the_rule_that_compares_it_only_while_that_applies() -> None:
    """The clamp diode's current is asked where it clamps; the same diode on no path is asked by nothing."""
    line = "clamp: {across: T1.primary, path: D5 + (R5 || R6 || C4)}"
    assert line in SOUND.text
    review, _ = _told(SOUND.text.replace(line, "clamp: none\n  other: {D5: spare, R5: spare, R6: spare, C4: spare}"))
    assert not _asked(_told(SOUND.text)[0], "D5")
    assert "rated current" in _asked(review, "D5")[0] and "rated voltage" in _asked(review, "C4")[0]


def test_one_line_counts_them_all_lists_them_and_the_data_carries_them() -> None:
    review, told = _told(SOUND.text)
    facts = [one for one in told.values() if one.is_fact]
    short, long = list(brief_lines([review])), list(review_lines([review]))
    assert unused_words(review) == f"{len(facts)} facts used by nothing" and len(facts) > 10
    assert sum(": unused: " in line for line in short) == 0
    assert sum(unused_words(review) in line for line in short) == 1
    assert sum(": unused: " in line for line in long) == len(facts)
    assert lint_json([review]).count('"fact": true') == len(facts)
    assert unused_words(review._replace(unused=())) == ""


def test_the_lists_of_reasons_only_get_shorter() -> None:
    """Each entry is a key or a name that there is; a fact that a rule learns to ask leaves its list."""
    keys = set(_keys(DesignFile, ()))
    for pattern in (*FOR_THE_READER, *NEVER_ASKED):
        assert any(fnmatchcase(key, pattern) for key in keys), pattern
    assert set(NOT_ASKED_HERE) <= set(VOCABULARY)
    assert not set(NOT_ASKED_HERE) & LIMITS, "a rating is never merely unused"
    assert len(NEVER_ASKED) <= 10 and len(NOT_ASKED_HERE) <= 49 and len(FOR_THE_READER) <= 9


def _keys(record: type, path: tuple[str, ...]) -> list[str]:
    """Every key of the table of a file, names of one's own as `x`."""
    found = []
    for key, field in record.fields.items():  # type: ignore[attr-defined]
        form, own = field.form, (*path, key)
        while not hasattr(form, "record") and hasattr(form, "form"):
            form, own = form.form, (*own, "x") if isinstance(form, Each | ListOf) else own
        found += _keys(form.record, own) if hasattr(form, "record") else [".".join(own)]
    return found
