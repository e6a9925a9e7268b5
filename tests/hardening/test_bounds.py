"""Every bound on a file: the page names it, at the bound nothing is said, one more is refused.

The figures of the page stand in a table; each is held here to what the code holds, so that a bound that is moved is
seen, and the page says what is true. Behaviour at the bound is tried with small bounds where a large one would take
long: which number it is, the page holds.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from hardening_bench import SMALL

from derate.cli.main import main
from derate.design import library, library_file, limits, load
from derate.packs import load as packs
from derate.packs import read_pack
from derate.report import document
from derate.study import capture, work
from derate.study.parts_list import table
from derate.terms.values import Problems, ReadingError
from derate.text import formula_reader, nodes, quantity
from derate.text.files import read_ordinary
from derate.text.nodes import Mapping, compose

ROOT = Path(__file__).resolve().parents[2]


@cache
def page() -> dict[str, tuple[int, ...]]:
    """The table of the page: what is bounded, and by how much."""
    text = (ROOT / "docs" / "format.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([^|]+) \| ([^|]*\d[^|]*) \|$", text[text.index("| of | at most |") :], re.MULTILINE)
    return {what: tuple(int(one.replace(",", "")) for one in re.findall(r"\d[\d,]*", most)) for what, most in rows}


def most(*path: str) -> int:
    """The bound of a path of keys."""
    return next(one.most for one in limits.LIMITS if one.path == path)


HELD: dict[str, tuple[int, ...]] = {
    "parts": (limits.MOST_PARTS,),
    "parts on one path": (limits.MOST_ON_A_PATH,),
    "outputs of the plate, outputs of the circuit": (most("supply", "plate", "outputs"),),
    "snubbers": (most("circuit", "snubbers"),),
    "ports": (most("circuit", "ports"),),
    "transformers": (most("transformers"),),
    "windings of one transformer": (most("transformers", "*", "windings"),),
    "layers of one transformer, from either side": (most("transformers", "*", "from_core_outwards"),),
    "barriers, conditions, readings, tests": (most("barriers"),),
    "texts under readings": (limits.MOST_READ,),
    "waivers, open points": (most("waivers"),),
    "packs named in a file": (most("packs"),),
    "files that revise each other": (load._GREATEST_CHAIN + 1,),
    "libraries of parts within reach of a design; characters of them together": (
        library.MOST_FILES,
        library.MOST_TEXT,
    ),
    "characters in the name of a part of a library": (library_file.LONGEST_NAME,),
    "a file of a design, a pack, a library of parts or settings": (nodes.GREATEST_SIZE,),
    "entries of one file": (nodes.GREATEST_COUNT,),
    "entries of one block or list": (nodes.GREATEST_LENGTH,),
    "depth of blocks and lists": (nodes.GREATEST_DEPTH,),
    "characters of one text": (nodes.LONGEST_TEXT,),
    "characters of one quantity": (quantity.LONGEST,),
    "characters of one formula; its depth": (formula_reader.LONGEST, formula_reader.DEEPEST),
    "cells of one table of a pack": (read_pack._MOST_CELLS,),
    "characters in the name of a pack": (packs._LONGEST_NAME,),
    "rules times parts, windings and barriers": (work.MOST_ASKED,),
    "errors told of one file": (Problems.MOST,),
    "photos in one report": (document.MOST_PHOTOS,),
    "a photo": (document.LARGEST_FILE, document.MOST_PIXELS),
    "a capture": (capture.GREATEST_FILE,),
    "a parts list, a netlist": (table.GREATEST_SIZE,),
    "its rows; its columns": (table.MOST_ROWS, table.MOST_COLUMNS),
}
ALIKE = (
    (("circuit", "outputs"), ("supply", "plate", "outputs")),
    (("transformers", "*", "from_outside_inwards"), ("transformers", "*", "from_core_outwards")),
    (("conditions",), ("barriers",)),
    (("readings",), ("barriers",)),
    (("tests",), ("barriers",)),
    (("open_points",), ("waivers",)),
)


def test_the_page_names_every_bound_as_it_is() -> None:
    assert page() == HELD


def test_what_the_page_names_together_is_the_same() -> None:
    assert all(most(*one) == most(*other) for one, other in ALIKE)
    assert {one.path for one in limits.LIMITS} == {("parts",)} | {path for pair in ALIKE for path in pair} | {
        ("circuit", "snubbers"),
        ("circuit", "ports"),
        ("transformers",),
        ("transformers", "*", "windings"),
        ("packs",),
    }


def refused(call: Callable[[], object]) -> str:
    """What a call is refused with, '' when it is not."""
    try:
        call()
    except ReadingError as error:
        return "; ".join(one.what for one in error.problems)
    return ""


def bounded(text: str) -> str:
    """What the bounds of a design say to a file."""
    node = compose(text, "x.yaml")
    assert isinstance(node, Mapping)
    return refused(lambda: limits.bounded(node))


PATHS = (
    "circuit: {{line: [{}]}}",
    "circuit: {{primary: [{}]}}",
    "circuit: {{clamp: [{}]}}",
    "circuit: {{start_up: [{}]}}",
    "circuit: {{auxiliary: [{}]}}",
    "circuit: {{outputs: {{main: [{}]}}}}",
    "circuit: {{snubbers: {{one: [{}]}}}}",
    "circuit: {{ports: {{one: {{path: [{}]}}}}}}",
)


@pytest.mark.parametrize("form", PATHS)
def test_parts_on_a_path(form: str) -> None:
    """Counted by their names, however they are joined; the words that join them are none."""
    names = [f"R{number}" for number in range(120)]
    assert bounded(form.format(", ".join(names))) == ""
    assert bounded(form.format("across " + " || ".join(names))) == ""
    assert bounded(form.format(", ".join([*names, "R120"]))) == "more than 120 parts on one path"
    assert bounded(form.format("across " + " || ".join([*names, "R120"]))) == "more than 120 parts on one path"


def test_texts_under_readings() -> None:
    rows = ["[" + ", ".join("x" * 40) + "]"] * 50
    assert bounded(f"readings: [{', '.join(rows)}]") == ""
    assert bounded(f"readings: [{', '.join([*rows, 'x'])}]") == "more than 2000 figures in the readings"


def test_entries_and_depth(monkeypatch: pytest.MonkeyPatch) -> None:
    assert refused(lambda: compose("a: " + "[" * 39 + "x" + "]" * 39, "x.yaml")) == ""
    assert "nested more than 40 deep" in refused(lambda: compose("a: " + "[" * 40 + "x" + "]" * 40, "x.yaml"))
    monkeypatch.setattr(nodes, "GREATEST_COUNT", 12)
    assert refused(lambda: compose(f"a: [{', '.join('x' * 9)}]", "x.yaml")) == ""
    assert "more than 12 entries" in refused(lambda: compose(f"a: [{', '.join('x' * 10)}]", "x.yaml"))


@pytest.mark.parametrize(("open_with", "one", "shut"), [("[", "[x]", "]"), ("{", "k%d: [x]", "}")])
def test_entries_of_one_block_count_what_stands_in_it_once(open_with: str, one: str, shut: str) -> None:
    """Each with something inside, so that more nodes than entries are seen."""

    def whole(many: int) -> str:
        return f"a: {open_with}{', '.join(one % n if '%' in one else one for n in range(many))}{shut}"

    assert refused(lambda: compose(whole(2000), "x.yaml")) == ""
    assert "more than 2000 entries" in refused(lambda: compose(whole(2001), "x.yaml"))


def test_characters_of_a_text_and_a_file_of_alike_parts() -> None:
    assert refused(lambda: compose(f"a: {'x' * 10_000}", "x.yaml")) == ""
    assert "more than 10000 characters" in refused(lambda: compose(f"a: {'x' * 10_001}", "x.yaml"))
    for limit in limits.LIMITS:
        value = "{" + ", ".join(f"a{number}: x" for number in range(limit.most)) + "}"
        for key in reversed(limit.path):
            value = f"{{{key if key != '*' else 'T1'}: {value}}}"
        assert bounded(value) == "", limit.path


def test_bytes_of_a_file(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    file.write_bytes(b"a" * 10)
    assert read_ordinary(str(file), 10) == b"a" * 10
    assert "larger than" in refused(lambda: read_ordinary(str(file), 9))
    file.write_bytes(b"# " + b"a" * 3_999_998)
    assert refused(lambda: nodes.read_text(str(file))) == ""
    file.write_bytes(b"# " + b"a" * 3_999_999)
    assert refused(lambda: nodes.read_text(str(file))) == "this file is larger than 4 MB"


@pytest.mark.parametrize(("many", "status"), [(13, 1), (14, 2)])
def test_files_that_revise_each_other(
    many: int, status: int, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("r0.derate.yaml").write_text(SMALL)
    for number in range(1, many):
        head = f"derate: 1\nrevision_of: r{number - 1}.derate.yaml\n"
        Path(f"r{number}.derate.yaml").write_text(f"{head}supply: {{name: R{number}, basis: own design}}\n")
    assert main(["lint", f"r{many - 1}.derate.yaml"]) == status
    assert ("revises itself over" in capsys.readouterr().err) == (status == 2)


@pytest.mark.parametrize(("most", "status"), [(4, 0), (3, 2)])
def test_cells_of_a_table(
    most: int, status: int, repository: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("rules").mkdir()
    Path("rules/own.yaml").write_text(
        "pack: own\ntitle: t\ncovers: c\ntables:\n  own_share:\n    says: s\n    source: common practice, no source\n"
        "    axes: {part.standard: [a, b, c, d]}\n    cells: [1, 2, 3, 4]\n    confidence: common practice\nrules: []\n"
    )
    monkeypatch.setattr(read_pack, "_MOST_CELLS", most)
    assert main(["rules", "--pack", "rules/own.yaml"]) == status
    assert ("more than 3 cells" in capsys.readouterr().err) == (status == 2)


def test_rules_times_what_they_are_asked_of(repository: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = work.Workshop().work("lamp.derate.yaml")
    of = len(made.design.structure.kinds) + len(made.design.file.barriers) + len(made.design.layers)
    of += sum(len(one.windings) for one in made.design.file.transformers.values())
    monkeypatch.setattr(work, "MOST_ASKED", len(made.packs.rules) * of)
    assert refused(lambda: work._not_too_much(made.design, made.packs)) == ""
    monkeypatch.setattr(work, "MOST_ASKED", len(made.packs.rules) * of - 1)
    assert "are more than are asked in one run" in refused(lambda: work._not_too_much(made.design, made.packs))


def test_the_name_of_a_pack(tmp_path: Path) -> None:
    place = compose("a: b", "x.yaml").place
    assert "is no name or path" not in refused(lambda: packs.find_pack("n" * 200, tmp_path, place))
    assert "is no name or path" in refused(lambda: packs.find_pack("n" * 201, tmp_path, place))


def test_pixels_of_a_photo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from PIL import Image

    Image.new("RGB", (30, 20)).save(tmp_path / "a.png")
    monkeypatch.setattr(document, "MOST_PIXELS", 600)
    assert document._read(str(tmp_path / "a.png"))[1:] == (30, 20)
    monkeypatch.setattr(document, "MOST_PIXELS", 599)
    with pytest.raises(document._NotThere, match="it has 30 by 20 pixels"):
        document._read(str(tmp_path / "a.png"))
