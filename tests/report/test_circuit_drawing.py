"""The circuit as understood: everything of the file stands on it once, in its place, with the word of its findings."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from documents import DAY, POOR, ROOT, SHIPPED, SOUND, shipped
from golden import hold
from reviews_by_hand import finding

from derate.design.circuit import Circuit, PathForm, circuits
from derate.design.load import Design, load_design, read_design
from derate.design.plain_forms import formed
from derate.design.settings import find_settings
from derate.design.structure import Leaf, Step, leaves
from derate.design.structure import Path as Walked
from derate.judge.review import Finding, Review
from derate.judge.verdict import word_of
from derate.ledger.entry import Subject
from derate.report.circuit.drawing import drawn, identifier, marks
from derate.report.circuit.joined import Joined, Row, about, carried_of, joined, own_keys
from derate.report.circuit.layout import NARROW, WIDE, Picture, found_pieces, laid_out
from derate.report.circuit.symbols import shape, symbol_of
from derate.report.document import Document
from derate.report.html import circuit_page, html_page
from derate.study.work import Workshop, review_of
from derate.terms.values import Place
from derate.terms.words import PART_KINDS

EXPECTED = Path(__file__).parent / "expected"
EVERY_KEY = "tests/data/designs/every-key.derate.yaml"
LAMP = "tests/data/designs/led-driver.derate.yaml"
BOX = "tests/data/reference_designs/set-top-box-47w.derate.yaml"
BARE = "tests/data/styles/nothing.derate.yaml"
BELL = "designs/porch-bell/porch-bell.derate.yaml"
CELLAR = "designs/cellar-lamp/cellar-lamp.derate.yaml"
HELD = (SOUND, POOR, BELL, CELLAR, "designs/beehive-scale/beehive-scale.derate.yaml", EVERY_KEY)
DRAWN = (*SHIPPED, EVERY_KEY, LAMP, BOX, BARE)


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@cache
def _judged(path: str) -> tuple[Design, Review]:
    work = Workshop().work(path)
    return work.design, review_of(work, DAY)


@cache
def _picture(path: str, narrow: bool) -> tuple[Joined, Picture]:
    told = joined(*_judged(path), apart_from=narrow)
    return told, laid_out(told, narrow)


def _told(picture: Picture) -> str:
    """A layout as lines to compare: whole pixels, things before wires."""
    lines = [f"{picture.width:.0f} by {picture.height:.0f}"]
    lines += [
        f"{one.what} {one.name} {one.x:.0f} {one.y:.0f} {one.turn}: {'; '.join(text.text for text in one.texts)}"
        for one in picture.placed
    ]
    lines += [f"text {one.text} {one.x:.0f} {one.y:.0f} {one.anchor}" for one in picture.texts]
    lines += [f"{one.cls} " + " ".join(f"{x:.0f},{y:.0f}" for x, y in one.points) for one in picture.wires]
    lines += [f"{kind} {x:.0f},{y:.0f}" for x, y, kind in picture.dots]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("path", HELD)
def test_the_layout_is_held(path: str, narrow: bool) -> None:
    name = Path(path).name.partition(".")[0]
    hold(EXPECTED / f"circuit-{name}-{'narrow' if narrow else 'wide'}.txt", _told(_picture(path, narrow)[1]))


def _boxes(picture: Picture) -> list[tuple[str, tuple[float, float, float, float]]]:
    texts = [(one.text, (one.ends[0], one.y - 10, one.ends[1], one.y + 3)) for one in picture.texts]
    return [(one.name, one.box) for one in picture.placed] + texts


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("path", DRAWN)
def test_nothing_lies_over_anything_else_or_outside(path: str, narrow: bool) -> None:
    _, picture = _picture(path, narrow)
    assert picture.width == (NARROW if narrow else WIDE)  # no path needed more than the page has
    boxes = _boxes(picture)
    for number, (name, one) in enumerate(boxes):
        assert one[0] >= 0 and one[1] >= -1 and one[2] <= picture.width and one[3] <= picture.height, name
        for other, two in boxes[number + 1 :]:
            apart = one[2] <= two[0] or two[2] <= one[0] or one[3] <= two[1] or two[3] <= one[1]
            assert apart, (name, other)


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("path", DRAWN)
def test_every_part_stands_on_it_once_and_carries_its_figures(path: str, narrow: bool) -> None:
    told, picture = _picture(path, narrow)
    placed = Counter(one.name for one in picture.placed if one.what == "part")
    parts = _judged(path)[0].file.parts
    assert not set(parts) - set(placed)
    assert not [name for name in parts if placed[name] != 1]
    for one in picture.placed:
        carried = told.carried.get(one.name)
        if one.what == "part" and carried is not None and carried.value:
            assert any(text.role == "value" for text in one.texts), one.name


@pytest.mark.parametrize("path", DRAWN)
def test_no_finding_is_lost_between_the_parts_and_the_rest(path: str) -> None:
    design, review = _judged(path)
    shown = drawn(design, review)
    found = [id(each) for entry in shown.entries for each in entry.findings]
    found += [id(each) for _, own in shown.others for each in own]
    assert {id(each) for each in review.findings if word_of(each) is not None} == set(found)
    told, _ = _picture(path, False)
    for entry in shown.entries:
        assert entry.word == _worst(entry.findings), entry.name
    assert {one.name for one in told.carried.values()} >= set(design.file.parts)


def _worst(findings: tuple[Finding, ...]) -> str:
    order = ("fail", "fail, held back", "fail, waived", "not assessed", "marginal", "pass")
    words = {word_of(one) for one in findings}
    return next((word for word in order if word in words), "not judged")


def _finding(verdict: str, ratio: float | None) -> Finding:
    return finding(verdict=verdict, ratio=ratio, subject=Subject("part", ("C1",)))


@pytest.mark.parametrize(
    ("verdicts", "word", "ratio", "by"),
    [
        ([], "not judged", None, "not judged"),
        ([("not applicable", None)], "not judged", None, "not judged"),
        ([("pass", 0.4)], "pass", 0.4, "pass"),
        ([("pass", 0.9), ("not assessed", None)], "not assessed", 0.9, "pass"),
        ([("marginal", 0.95), ("pass", 0.99)], "marginal", 0.99, "pass"),
        ([("not assessed", 1.6), ("fail", 1.2)], "fail", 1.6, "not assessed"),
        ([("fail", None), ("pass", 0.2)], "fail", 0.2, "pass"),
        ([("not assessed", float("inf")), ("fail", 3.0)], "fail", float("inf"), "not assessed"),
    ],
)
def test_the_mark_is_that_of_the_worst_and_nobody_is_good_unseen(
    verdicts: list[tuple[str, float | None]], word: str, ratio: float | None, by: str
) -> None:
    one = carried_of("C1", (), "", tuple(_finding(*each) for each in verdicts))
    assert (one.word, one.ratio, one.by) == (word, ratio, by)


def test_a_ratio_of_another_finding_than_the_mark_says_so() -> None:
    """A good ratio beside a bad mark, and one above 1 beside a mark that is no fail, stand behind the mark's word."""
    told = joined(*_judged(POOR))
    by_name = told.carried
    assert by_name["C9"].word == "fail" and by_name["C9"].by == "pass"
    assert found_pieces(by_name["C9"]) == (("fail;", "fail"), ("0.133", "pass"))
    assert found_pieces(by_name["D3"]) == (("2", "fail"),)
    page = circuit_page(shipped(POOR))
    assert '<tspan class="fail">fail;</tspan><tspan class="pass"> 0.133</tspan>' in page
    for one in by_name.values():
        pieces = found_pieces(one)
        assert not pieces or pieces[0][1] == one.word  # what stands beside a mark begins with its own finding
    assert found_pieces(replace(by_name["C9"], empty=True)) == ()


def test_two_ends_of_a_part_have_no_return() -> None:
    """In the narrow shape what lies across a part stands by itself: a second wire would be a short across it."""
    _, picture = _picture(SOUND, True)
    (head,) = [one.y for one in picture.texts if one.text == "clamp across T1.primary"]
    foot = min(one.y for one in picture.texts if one.role == "title" and one.y > head)
    ends = [y for _, y, kind in picture.dots if kind == "end" and head < y < foot]
    assert len(ends) == 2 and len(set(ends)) == 1
    (clamp,) = [one for one in picture.placed if one.name == "D5"]
    assert set(ends) == {clamp.y}


def test_what_was_read_over_its_limit_is_on_the_mark_of_what_it_was_read_of() -> None:
    text, old = Path(SOUND).read_text(encoding="utf-8"), "case_temperature: {RF1: 71 degC"
    assert text.count(old) == 1
    design = read_design(text.replace(old, old.replace("71", "271")), SOUND)
    told = joined(design, review_of(Workshop().worked(SOUND, design, find_settings(SOUND)), DAY))
    over = {(one.rule, one.subject.kind) for one in told.carried["RF1"].findings if one.verdict == "fail"}
    assert ("reading-within-temperature", "reading") in over and told.carried["RF1"].word == "fail"
    every = [one for one in design.readings if one.target in told.carried]
    found = {one.place for part in told.carried.values() for one in part.findings if one.subject.kind == "reading"}
    assert found == {one.stated.place for one in every} and len(every) >= 10
    assert any(one.subject.kind == "reading" for one in told.at_outputs["main"].findings)


def test_of_a_pair_of_windings_both_and_their_transformer_carry_the_mark() -> None:
    pair = Subject("winding pair", ("T1.primary", "T1.secondary"))
    over = finding(verdict="fail", ratio=1.4, subject=pair)
    of = about(shipped(SOUND).review._replace(findings=(over,)), {})
    assert [of.get(name) for name in ("T1", "T1.primary", "T1.secondary")] == [(over,)] * 3
    assert "T1.auxiliary" not in of and "T" not in of


def test_each_word_has_a_mark_of_its_own() -> None:
    shapes = [re.sub(r'class="[^"]*"', "", str(mark)) for word, mark, _ in marks() if word != "fail, held back"]
    assert len(set(shapes)) == len(shapes) == 6  # told apart without their colours


def test_what_crosses_stands_on_the_barrier_and_breaks_it_nowhere_else() -> None:
    for narrow in (False, True):
        told, picture = _picture(EVERY_KEY, narrow)
        axis = 1 if narrow else 0
        barrier = [one.points for one in picture.wires if one.cls == "barrier"]
        lines = {round(point[axis]) for line in barrier for point in line}  # where it lies across, one a row
        assert len(lines) == (2 if narrow else 1)
        across = {one.name for one in picture.placed if round((one.x, one.y)[axis]) in lines}
        assert across == {"T1", "U2", "CY1"} == {one.name for one in told.crossings}
        mains = {one.name for row in told.mains for step in row.path for one in _leaves(step)}
        for one in picture.placed:
            at = (one.x, one.y)[axis]
            if one.name in mains:
                assert at < min(lines), one.name
            elif one.name in ("D7", "C6", "L2", "C8", "D8", "R20", "U3"):
                assert at > max(lines), one.name


def _leaves(step: Step) -> list[Leaf]:
    return list(leaves(step.element))


def test_a_dropper_has_no_barrier_and_says_so() -> None:
    told, picture = _picture(BELL, False)
    assert told.isolated is False and not [one for one in picture.wires if one.cls == "barrier"]
    assert "No barrier: the outputs are joined to the mains" in told.notes
    bare, drawing = _picture("designs/first-look/desk-lamp-adapter.derate.yaml", False)
    assert bare.isolated is None and not [one for one in drawing.wires if one.cls == "barrier"]
    assert any("does not say" in note for note in bare.notes) and any("primary" in note for note in bare.notes)


def test_what_is_joined_is_drawn_joined() -> None:
    """Every end of every symbol on a path lies on a wire, or on the symbol before it."""
    for path in DRAWN:
        for narrow in (False, True):
            told, picture = _picture(path, narrow)
            points = [point for wire in picture.wires for point in wire.points]
            apart = {name for name, _ in told.apart} | {one.name for one in told.crossings}
            boxed = {name for name in told.carried if told.in_both_conductors([name])}
            stations = {one.name for one in told.control}
            for one in picture.placed:
                if one.what == "part" and one.name not in apart | boxed | stations:
                    along = (18, 0) if one.turn in ("left", "right") else (0, 18)
                    for sign in (-1, 1):
                        end = (one.x + sign * along[0], one.y + sign * along[1])
                        assert any(abs(end[0] - x) < 0.2 and abs(end[1] - y) < 0.2 for x, y in points), one.name


def _row(*steps: tuple[str, Any]) -> Walked:
    return tuple(Step(Leaf(name, Place("x", 1, 1)), how, Place("x", 1, 1)) for name, how in steps)


def _hand(*rows: Row, kinds: dict[str, tuple[str, ...]] | None = None) -> Picture:
    names = {leaf.name for row in rows for step in row.path for leaf in _leaves(step)}
    carried = {name: carried_of(name, (kinds or {}).get(name, ("fuse",)), "", ()) for name in names}
    return laid_out(Joined(rows, (), (), (), (), False, carried, {}, (), (), frozenset()))


def test_how_a_step_stands_is_how_it_is_drawn() -> None:
    picture = _hand(
        Row("line", "mains path", _row(("F1", "series"), ("F2", "in neutral"), ("CX", "across"), ("CY", "to earth")))
    )
    by = {one.name: one for one in picture.placed}
    assert by["F1"].turn == "right" and by["CX"].turn == by["CY"].turn == "down"
    assert by["F2"].turn == "left" and by["F2"].y > by["CX"].y > by["F1"].y  # the return lies below
    assert [kind for _, _, kind in picture.dots].count("earth") == 1
    assert by["F1"].x < by["F2"].x < by["CX"].x < by["CY"].x  # walked as the current goes


def test_a_diode_across_is_drawn_as_it_blocks_and_a_lamp_as_it_shines() -> None:
    by = {one.name: one for one in _picture(CELLAR, False)[1].placed if one.what == "part"}
    assert by["D1"].turn == by["Z1"].turn == "up" and by["LED1"].turn == by["C2"].turn == "down"
    clamp = {one.name: one for one in _picture(SOUND, False)[1].placed}
    assert clamp["D5"].turn == "up" and clamp["D7"].turn == "right"  # to bulk plus; to the output


def test_a_role_is_given_to_a_path_of_the_topology() -> None:
    for word, circuit in circuits().items():
        for key, role in circuit.drawing_roles().items():
            assert isinstance(circuit.fields[key].form, PathForm) and key not in Circuit.fields, word
            assert role in ("loop", "from bulk")
    told, picture = _picture(SOUND, False)
    by = {one.name: one for one in picture.placed if one.what == "part"}
    assert by["T1.primary"].y < by["Q1"].y < by["R9"].y and by["T1.primary"].x == by["Q1"].x  # one rung, from plus on
    assert [row.begins for row in told.mains] == ["mains", "", "bulk plus"]


def test_a_key_of_a_topology_yet_unknown_is_drawn_by_its_form() -> None:
    class NewCircuit(Circuit, prefix="circuit"):
        """With a path on a key that nothing else knows."""

        base_drive: Walked | None = formed(PathForm(), "from the winding to the base", example="[R1]")

    design = load_design(SOUND)
    made = NewCircuit.__new__(NewCircuit)
    for key in NewCircuit.fields:
        setattr(made, key, getattr(design.file.circuit, key, None))
    made.base_drive = _row(("T1.auxiliary", "series"), ("D6", "series"), ("C5", "across"))
    for key in ("primary",):
        assert key not in own_keys(made)
    object.__setattr__(design.file, "circuit", made)
    told = joined(design, _judged(SOUND)[1])
    assert "base drive" in [row.title for row in told.mains]
    assert {"D6", "C5"} <= {one.name for one in laid_out(told).placed if one.what == "part"}


def test_every_kind_has_a_symbol_and_an_unknown_one_a_broken_box() -> None:
    assert not [kind for kind in PART_KINDS if not symbol_of((kind,))]
    assert symbol_of(("film capacitor", "ceramic capacitor")) == "capacitor"
    assert symbol_of(("film resistor", "fusible film resistor")) == "resistor"  # one family
    assert symbol_of(("fuse", "choke")) == "" and symbol_of(()) == "" and shape("")


@pytest.mark.parametrize("page", [circuit_page, html_page])
def test_the_page_is_well_formed_and_its_links_lead_somewhere(page: Callable[[Document], str]) -> None:
    document = shipped(POOR)
    text = page(document)
    ids = re.findall(r'\sid="?([^"\s>]+)', text)
    assert len(ids) == len(set(ids))
    pictures = [one for one in re.findall(r"<svg.*?</svg>", text, re.DOTALL) if "-shape" in one[:200]]
    assert len(pictures) == 2
    for one in pictures:
        root = ElementTree.fromstring(one)
        links = root.findall(".//{*}a")
        assert root.get("role") == "group" and len(links) >= len(document.design.file.parts)
        for link in links:
            assert (link.get("href") or "").removeprefix("#") in ids and link.find("{*}title") is not None
    listed = text.partition("Every part with its findings")[2].partition("</details>")[0]
    assert page is circuit_page or set(re.findall(r"href=#(f\d+)", listed)) <= set(ids)


def test_names_of_parts_make_names_of_the_page_that_differ() -> None:
    names = ["R-1", "R_1", "R1", "T1.primary", "R_2d1", "Ä1", "output main"]
    assert len({identifier(one) for one in names}) == len(names)
    assert all(re.fullmatch(r"[A-Za-z0-9_-]+", identifier(one)) for one in names)
