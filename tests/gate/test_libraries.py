"""Libraries of parts and the gate: a library figure is as good as a typed one and no better, and says where it lies."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path

import pytest
from gate_bench import DESIGN, LAMP, Bench

from derate.design.library import MOST_FILES, shipped_folder

NAMED = DESIGN.replace(
    "  C1: {kind: electrolytic capacitor, capacitance: 22 uF 20%, rated: {voltage: 400 V}}", "  C1: {part: H22}"
)
HOUSE = """\
library: house
known_by: {parts: stated, rated: stated}
sources: {cap: {document: Series K, revision: "3", page: 4}}
parts:
  H22: {kind: electrolytic capacitor, capacitance: 22 uF 20%, rated: {voltage: 400 V}, source: cap}
"""
SHEET = "(data sheet; Series K revision 4 page 9)"


def words(bench: Bench, *argv: str) -> list[tuple[object, ...]]:
    """What a run finds, without where it stands."""
    (design,) = json.loads(bench.run("--format", "json", *argv).out)["designs"]
    return [
        (one["rule"], str(one["subject"]), one["verdict"], one["ratio"], str(one["limit"]), str(one["missing"]))
        for one in design["findings"]
    ]


def test_a_library_figure_is_as_good_as_a_typed_one_and_no_better(bench: Bench) -> None:
    typed = sorted(words(bench))
    bench.put(LAMP, NAMED)
    bench.put("parts/house.parts.yaml", HOUSE)
    assert sorted(words(bench)) == typed
    assert bench.run().softer == []
    bench.put("parts/house.parts.yaml", HOUSE.replace("400 V", "300 V"))
    worse = [one for one in words(bench) if one not in typed]
    assert ("bulk-capacitor-voltage", "fail") in [(one[0], one[2]) for one in worse]


@pytest.mark.parametrize("how", ["(assumed)", "(ordered)"])
def test_a_figure_is_no_surer_than_which_part_it_is(bench: Bench, how: str) -> None:
    bench.put("parts/house.parts.yaml", HOUSE.replace("stated", "data sheet"))
    bench.put(LAMP, NAMED.replace("part: H22", f"part: H22 {how}"))
    out = bench.run("--quantity", "rated.voltage", "--part", "C1", "--all", command="stress").out
    assert how.strip("()") in out and "data sheet at" not in out


def test_name_and_digest_stand_in_every_output(bench: Bench, tmp_path: Path) -> None:
    bench.put(LAMP, NAMED)
    bench.put("parts/house.parts.yaml", HOUSE)
    digest = sha256(HOUSE.encode()).hexdigest()
    told = bench.run()
    assert f"libraries of parts: house (of this repository, parts/house.parts.yaml, {digest[:12]})" in told.out
    (design,) = json.loads(bench.run("--format", "json").out)["designs"]
    assert design["gate"]["libraries"] == [
        {"name": "house", "from": "parts/house.parts.yaml", "shipped": False, "sha256": digest}
    ]
    for form in ("markdown", "sarif", "junit", "html"):
        out = bench.run("--format", form, command="report").out
        assert digest[:12] in out, form
    assert f"({'shipped'}, " in told.out


def test_what_a_design_overrules_is_shown_and_a_lower_figure_softens_nothing(bench: Bench) -> None:
    bench.put("parts/house.parts.yaml", HOUSE)
    bench.put(LAMP, NAMED.replace("part: H22", "part: H22, rated: {voltage: 350 V}"))
    told = bench.run()
    assert "C1 of H22: rated.voltage: 350 V in place of 400 V (parts/house.parts.yaml:5)" in told.out
    assert told.softer == []


def test_a_rating_raised_by_a_design_needs_a_source_and_is_told_at_the_top(bench: Bench) -> None:
    bench.put("parts/house.parts.yaml", HOUSE)
    bench.put(LAMP, NAMED.replace("part: H22", "part: H22, rated: {voltage: 450 V}"))
    told = bench.run()
    assert told.status == 2 and "rated.voltage of C1 is raised from 400 V in parts/house.parts.yaml:5" in told.err
    bench.put(LAMP, NAMED.replace("part: H22", "part: H22, rated: {voltage: 450 V (data sheet)}"))
    assert bench.run().status == 2, "a bracket without a source is none"
    bench.put(LAMP, NAMED.replace("part: H22", f"part: H22, rated: {{voltage: 450 V {SHEET}}}"))
    told = bench.run()
    assert told.softer == [f"rating ({LAMP}): C1 rated.voltage: 450 V in place of 400 V: Series K revision 4 page 9"]


@pytest.mark.parametrize(
    ("library", "own", "raised"),
    [
        ("surge_current: 30 A at 8.3 ms", "surge_current: 29 A at 8.3 ms", False),
        ("surge_current: 30 A at 8.3 ms", "surge_current: 31 A at 8.3 ms", True),
        ("surge_current: 30 A at 8.3 ms", "surge_current: 30 A at 10 ms", True),
        ("junction_to_air: 40 K/W", "junction_to_air: 41 K/W", False),
        ("junction_to_air: 40 K/W", "junction_to_air: 39 K/W", True),
        ("reverse_voltage: 600 V", "reverse_voltage: 500..700 V", True),
        ("reverse_voltage: 600 V", "reverse_voltage: 500..600 V", False),
        ("reverse_voltage: 600 V", "reverse_voltage: unknown", False),
        ("current: 1 A at 50 degC", "current: 1 A at 60 degC", True),
        ("saturation_current: 1 A", "saturation_current: 0.9 A", True),  # no end of it is always the bad one
    ],
)
def test_which_way_is_up(bench: Bench, library: str, own: str, raised: bool) -> None:
    bench.put(
        "parts/house.parts.yaml",
        f"library: house\nsources: {{a: {{document: Sheet}}}}\nparts:\n"
        f"  B1: {{kind: bridge rectifier, rated: {{{library}}}, source: a}}\n",
    )
    text = DESIGN.splitlines()
    at = next(number for number, line in enumerate(text) if line.startswith("  BR1:"))
    text[at] = f"  BR1: {{part: B1, rated: {{{own}}}}}"
    bench.put(LAMP, "\n".join(text) + "\n")
    assert (bench.run().status == 2) is raised


def test_a_house_library_at_the_root_that_gives_more_than_the_shipped_one_is_told(bench: Bench) -> None:
    more = (
        "library: house\nsources: {a: {document: Sheet of our maker}}\nparts:\n"
        "  DB104: {kind: bridge rectifier, rated: {reverse_voltage: 500 V, junction: 150 degC}, source: a}\n"
    )
    text = DESIGN.splitlines()
    at = next(number for number, line in enumerate(text) if line.startswith("  BR1:"))
    text[at] = "  BR1: {part: DB104}"
    bench.put("board/lamp.derate.yaml", "\n".join(text) + "\n")
    bench.put("parts/house.parts.yaml", more)
    told = bench.run("board/lamp.derate.yaml")
    assert told.softer == [
        "library (board/../parts/house.parts.yaml): DB104 rated.reverse_voltage: 500 V in place of 400 V"
    ] or told.softer == ["library (parts/house.parts.yaml): DB104 rated.reverse_voltage: 500 V in place of 400 V"]
    (bench.folder / "parts/house.parts.yaml").unlink()
    bench.put("board/house.parts.yaml", more)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 2 and "put the library at the root" in told.err
    bench.put("board/house.parts.yaml", more.replace("500 V", "400 V"))
    assert bench.run("board/lamp.derate.yaml").softer == []


@pytest.mark.parametrize(
    ("entry", "own"),
    [  # by a maker; by a figure that the design says again, and by one between the two libraries
        ("reverse_voltage: 400 V}, makers: {Lindholm: {rated: {reverse_voltage: 500 V}}}", ", maker: Lindholm"),
        ("reverse_voltage: 500 V}", ", rated: {reverse_voltage: 500 V}"),
        ("reverse_voltage: 500 V}", ", rated: {reverse_voltage: 450 V}"),
    ],
)
def test_no_way_round_what_a_folder_below_the_root_may_not_give(bench: Bench, entry: str, own: str) -> None:
    text = (
        "library: house\nsources: {a: {document: Sheet of our maker}}\nparts:\n"
        f"  DB104: {{kind: bridge rectifier, rated: {{{entry}, source: a}}\n"
    )
    lines = DESIGN.splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("  BR1:"))
    lines[at] = f"  BR1: {{part: DB104{own}}}"
    bench.put("board/lamp.derate.yaml", "\n".join(lines) + "\n")
    bench.put("board/house.parts.yaml", text)
    told = bench.run("board/lamp.derate.yaml")
    assert told.status == 2 and "put the library at the root" in told.err
    (bench.folder / "board/house.parts.yaml").unlink()
    bench.put("house.parts.yaml", text)
    (told_of,) = bench.run("board/lamp.derate.yaml").softer
    assert "DB104 rated.reverse_voltage: 500 V in place of 400 V" in told_of
    lines[at] = "  BR1: {part: DB104, maker: Lindholm, rated: {reverse_voltage: 390 V}}"
    if "makers" in entry:
        bench.put("board/lamp.derate.yaml", "\n".join(lines) + "\n")
        assert bench.run("board/lamp.derate.yaml").softer == [], "what the design takes back is no softer"


@pytest.mark.parametrize(
    ("kind", "another"),
    [("Schottky diode", True), ("line diode", True), ("diode", True), ("ultrafast diode", False)],
)
def test_a_shipped_type_called_another_kind_is_told_and_refused_below_the_root(
    bench: Bench, kind: str, another: bool
) -> None:
    """What a part is decides which rules hold it: the figures may all be those of the shipped library."""
    house = (
        "library: house\nsources: {a: {document: Sheet of our maker}}\nparts:\n"
        f"  UF4007: {{kind: {kind}, rated: {{reverse_voltage: 1000 V, current: 1 A}}, source: a}}\n"
    )
    bench.put("board/lamp.derate.yaml", DESIGN.replace("parts:\n", "parts:\n  D9: {part: UF4007}\n", 1))
    bench.put("house.parts.yaml", house)
    told = [one.partition(": ")[2] for one in bench.run("board/lamp.derate.yaml").softer]
    other = f"UF4007 kind: {kind} in place of ultrafast diode"
    assert told == ([other] if another else [])
    (bench.folder / "house.parts.yaml").unlink()
    bench.put("board/house.parts.yaml", house)
    below = bench.run("board/lamp.derate.yaml")
    if not another:
        assert below.status != 2
        return
    assert below.status == 2
    assert f"house.parts.yaml:4:18: error: kind of UF4007 is {kind} here and ultrafast diode in the" in below.err


def test_two_libraries_of_the_house_with_one_part_are_refused(bench: Bench) -> None:
    bench.put(LAMP, NAMED)
    bench.put("parts/house.parts.yaml", HOUSE)
    bench.put("other.parts.yaml", HOUSE.replace("400 V", "450 V"))
    told = bench.run()
    assert (
        told.status == 2 and "two libraries hold part H22: other.parts.yaml:5 and parts/house.parts.yaml:5" in told.err
    )


def test_a_library_is_read_no_further_than_the_repository(bench: Bench, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "far.parts.yaml").write_text(HOUSE, encoding="utf-8")
    bench.put(LAMP, NAMED)
    told = bench.run()
    assert told.status == 2 and "'H22' is no part of a library" in told.err, "nothing above the root is looked at"
    (bench.folder / "far.parts.yaml").symlink_to(outside / "far.parts.yaml")
    told = bench.run()
    assert told.status == 2 and "a link that leads out of the repository" in told.err
    (bench.folder / "far.parts.yaml").unlink()
    for path in ("../outside", str(outside), "../outside/far.parts.yaml"):
        bench.put(".derate.yaml", f"libraries: ['{path}']\n")
        told = bench.run()
        assert told.status == 2 and "lies outside this repository" in told.err
    (bench.folder / "house").symlink_to(outside)
    bench.put(".derate.yaml", "libraries: [house]\n")
    told = bench.run()
    assert told.status == 2 and "lies outside this repository" in told.err


def test_settings_name_a_folder_of_the_house(bench: Bench) -> None:
    bench.put(LAMP, NAMED)
    bench.put("shelf/caps/house.parts.yaml", HOUSE)
    assert bench.run().status == 2
    bench.put(".derate.yaml", "libraries: [shelf/caps]\n")
    assert bench.run().status == 1
    bench.put(".derate.yaml", "libraries: [shelf/cups]\n")
    told = bench.run()
    assert told.status == 2 and "there is no library of parts at 'shelf/cups'" in told.err


def test_so_many_libraries_and_no_more(bench: Bench) -> None:
    bench.put(LAMP, NAMED)
    bench.put("a.parts.yaml", HOUSE)
    for number in range(MOST_FILES - 1):
        bench.put(f"parts/n{number}.parts.yaml", f"library: n{number}\nparts: {{}}\n")
    assert bench.run().status == 1
    bench.put("parts/more.parts.yaml", "library: more\nparts: {}\n")
    told = bench.run()
    assert told.status == 2 and f"more than {MOST_FILES} libraries of parts for one design" in told.err


def test_a_copy_of_the_shipped_library_is_the_shipped_one(bench: Bench) -> None:
    text = (shipped_folder() / "everyday.parts.yaml").read_text(encoding="utf-8")
    bench.put("parts/everyday.parts.yaml", text)
    lines = DESIGN.splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("  BR1:"))
    lines[at] = "  BR1: {part: DB107}"
    bench.put(LAMP, "\n".join(lines) + "\n")
    assert "everyday-types (shipped, " in bench.run().out


def test_no_library_is_looked_at_where_no_part_names_one(bench: Bench) -> None:
    bench.put("parts/house.parts.yaml", "library: [broken\n")
    assert bench.run().status == 1
    bench.put(LAMP, NAMED)
    assert bench.run().status == 2
