"""A library of parts: entries laid under a design, makers, sources, what is refused; and the shipped one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from derate.design.facts import facts
from derate.design.library import shipped_libraries
from derate.design.library_file import checked, listed
from derate.design.load import Design, load_design
from derate.ledger.entry import Entry, Subject
from derate.terms.values import Category, Curve, ReadingError, Value
from derate.text.nodes import Mapping, compose

HEAD = "derate: 1\nsupply: {name: Bench}\nparts:\n"
LIBRARY = """\
library: house
sources:
  all: {document: Sheet 12, revision: B, page: 1, confidence: published}
  one: {document: Sheet of A, confidence: one source}
  old: {document: What somebody knew, confidence: remembered}
parts:
  D-1, D-2:
    kind: fast diode
    rated: {reverse_voltage: 600 V, current: 1 A, recovery_time: 75 ns (stated; a letter), junction: 125 degC}
    source: {all: all page 3, rated.current: old}
    makers:
      Maker A: {rated: {junction: 150 degC, reverse_voltage: 800 V}, source: one}
  B-1: {kind: bipolar transistor, rated: {collector_emitter_voltage: 400 V, collector_base_voltage: 700 V}, source: all}
"""


def read(folder: Path, parts: str, library: str = LIBRARY) -> Design:
    (folder / ".git").mkdir(exist_ok=True)
    (folder / "house.parts.yaml").write_text(library, encoding="utf-8")
    path = folder / "d.derate.yaml"
    path.write_text(HEAD + parts, encoding="utf-8")
    return load_design(str(path))


def rows(design: Design, part: str) -> dict[str, Entry]:
    return {row.quantity: row for row in facts(design) if row.subject == Subject("part", (part,))}


def near(row: Entry) -> float:
    value = row.value.points[0][1] if isinstance(row.value, Curve) else row.value
    assert isinstance(value, Value)
    return value.near


def refused(folder: Path, parts: str, library: str = LIBRARY) -> str:
    with pytest.raises(ReadingError) as error:
        read(folder, parts, library)
    return "\n".join(f"{one.place}: {one.what}; {one.instead}" for one in error.value.problems)


def test_the_facts_of_an_entry_with_their_source_and_their_line(tmp_path: Path) -> None:
    design = read(tmp_path, "  D1: {part: D-1 (marked)}\n")
    own = rows(design, "D1")
    assert own["part.kind"].value == Category.of("fast diode") and own["part.kind"].known_by == "marked"
    assert own["part.kind"].place is not None and own["part.kind"].place.path.endswith("d.derate.yaml")
    voltage = own["rated.reverse_voltage"]
    assert near(voltage) == 600.0 and voltage.known_by == "data sheet" and voltage.note == "Sheet 12, B, page 3"
    assert voltage.place is not None and (Path(voltage.place.path).name, voltage.place.line) == ("house.parts.yaml", 9)
    assert own["rated.recovery_time"].known_by == "stated" and own["rated.recovery_time"].note == "a letter"
    assert own["rated.current"].known_by == "assumed", "what nobody looked up carries no critical rule"
    assert [entry.known_by for name, entry in own.items() if name == "rated.junction"] == ["data sheet"]


@pytest.mark.parametrize(
    ("said", "known_by"),
    [
        ("part: D-1 (marked)", "data sheet"),
        ("part: D-1", "stated"),
        ("part: D-1 (assumed; what drives it (pins 1 and 2))", "assumed"),
        ("part: D-1 (marked), maker: Maker A (assumed; the colour)", "assumed"),
        ("part: D-1 (assumed), maker: Maker A (marked)", "assumed"),
    ],
)
def test_a_figure_is_no_surer_than_the_part_and_its_maker(tmp_path: Path, said: str, known_by: str) -> None:
    own = rows(read(tmp_path, f"  D1: {{{said}}}\n"), "D1")
    assert own["rated.reverse_voltage"].known_by == known_by


def test_a_bracket_in_the_title_of_a_sheet_hides_nothing(tmp_path: Path) -> None:
    library = LIBRARY.replace("Sheet 12", "Sheet 12 (Rev. 3)")
    own = rows(read(tmp_path, "  D1: {part: D-1 (assumed)}\n", library), "D1")
    assert own["rated.reverse_voltage"].known_by == "assumed"
    assert own["rated.reverse_voltage"].note == "Sheet 12 (Rev. 3), B, page 3"


def test_two_alike_and_an_overruled_fact(tmp_path: Path) -> None:
    design = read(
        tmp_path, "  D1, D2: {part: D-2, rated: {junction: 100 degC (measured), forward_voltage: 1 V at 1 A}}\n"
    )
    for name in ("D1", "D2"):
        own = rows(design, name)
        assert near(own["rated.junction"]) == 100.0 and own["rated.junction"].known_by == "measured"
        assert near(own["rated.reverse_voltage"]) == 600.0 and near(own["rated.forward_voltage"]) == 1.0
    assert design.library is not None
    overruled = [
        (one.part, one.key, one.before, one.after, one.raised) for o in design.library.origins for one in o.overruled
    ]
    assert overruled == [(name, "rated.junction", "125 degC", "100 degC", False) for name in ("D1", "D2")]


def test_a_table_is_overruled_as_a_whole(tmp_path: Path) -> None:
    library = (
        "library: house\nsources: {a: {document: s}}\nparts:\n  C: {kind: electrolytic capacitor, source: a, "
        "rated: {ripple_current: {120 Hz: 0.3 A, 100 kHz: 0.5 A}}}\n"
    )
    design = read(
        tmp_path, "  C1: {part: C, rated: {ripple_current: {120 Hz: 0.2 A (data sheet; own sheet)}}}\n", library
    )
    value = rows(design, "C1")["rated.ripple_current"].value
    assert isinstance(value, Curve) and [at for at, _ in value.points] == [120.0]


def test_the_lowest_figure_holds_until_the_maker_is_said(tmp_path: Path) -> None:
    without, named = read(tmp_path, "  D1: {part: D-1}\n"), read(tmp_path, "  D1: {part: D-1, maker: Maker A}\n")
    assert [near(rows(one, "D1")["rated.reverse_voltage"]) for one in (without, named)] == [600.0, 800.0]
    assert near(rows(read(tmp_path, "  D1: {part: D-1, maker: unknown}\n"), "D1")["rated.reverse_voltage"]) == 600.0
    assert "write Maker A" in refused(tmp_path, "  D1: {part: D-1, maker: Maker B}\n")
    higher = LIBRARY.replace("reverse_voltage: 800 V", "reverse_voltage: 500 V")
    (library,) = _house(tmp_path, higher)
    assert [one.what for one in checked(library)] == [
        f"rated.reverse_voltage of {name} is 600 V for all makers, and Maker A gives 500 V" for name in ("D-1", "D-2")
    ]


def _house(folder: Path, text: str):  # type: ignore[no-untyped-def]
    from derate.design.library import house_libraries

    (folder / "house.parts.yaml").write_text(text, encoding="utf-8")
    return house_libraries(str(folder / "d.derate.yaml"))


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("{part: D-11}", "'D-11' is no part of a library; did you mean D-1?"),
        ("{part: d-1}", "did you mean D-1?"),
        ("{part: 1N4OO7}", "did you mean 1N4007?"),
        ("{part: D-1, kind: film resistor}", "D-1 is a fast diode in"),
        ("{part: [D-1]}", "part names one entry"),
        ("{part: D-1, ratd: {voltage: 1 V}}", "did you mean rated?"),
        ("{part: D-1 (heard)}", "heard"),
    ],
)
def test_refused_in_words(tmp_path: Path, part: str, said: str) -> None:
    assert said in refused(tmp_path, f"  D1: {part}\n")


def test_a_general_kind_beside_the_part_is_no_contradiction(tmp_path: Path) -> None:
    design = read(tmp_path, "  D1: {kind: diode, part: D-1}\n  D2: {kind: film resistor, part: unknown}\n")
    assert rows(design, "D1")["part.kind"].value == Category.of("fast diode")
    assert rows(design, "D2")["part.kind"].value == Category.of("film resistor")


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("source: {all: all page 3, rated.current: old}", "note: nothing", "says no source"),
        ("all page 3", "al page 3", "'al' is no source of this library; write all"),
        ("kind: fast diode", "kind: fast diode\n    fitted: no", "'fitted' is said of one sample"),
        ("junction: 125 degC}", "junctoin: 125 degC}", "did you mean junction?"),
        ("600 V", "600 A", "expected a voltage, got a current"),
        ("600 V", "600000 kV", "no plausible"),
        ("D-1, D-2", "D-1, D-1", "said twice"),
    ],
)
def test_a_library_that_is_wrong_is_refused_where_it_is_used(
    tmp_path: Path, before: str, after: str, said: str
) -> None:
    assert before in LIBRARY
    text = LIBRARY.replace(before, after, 1)
    assert said in refused(tmp_path, "  D1: {part: D-1}\n", text)
    (library,) = _house(tmp_path, text)
    assert any(said in f"{one.what}; {one.instead}" for one in checked(library))


def test_a_revision_that_replaces_a_part_leaves_nothing_of_its_library(tmp_path: Path) -> None:
    read(tmp_path, "  D1: {part: D-1}\n  D2: {part: D-2}\n")
    later = tmp_path / "e.derate.yaml"
    later.write_text(
        "derate: 1\nrevision_of: d.derate.yaml\nsupply: {name: Bench B}\nparts:\n  D1: fast diode 100 V 1 A\n",
        encoding="utf-8",
    )
    design = load_design(str(later))
    assert design.library is not None and [one.part for one in design.library.origins] == ["D2"]
    assert near(rows(design, "D2")["rated.reverse_voltage"]) == 600.0


# ---- the shipped library


def shipped() -> dict[str, dict[str, str]]:
    return {
        one.name: {"kind": one.kind} | {figure.key: figure.said for figure in one.figures}
        for library in shipped_libraries()
        for one in listed(library)
    }


def test_nothing_is_wrong_with_the_shipped_library_and_nothing_in_it_is_remembered() -> None:
    (library,) = shipped_libraries()
    assert checked(library) == ()
    figures = [(one.name, each) for one in listed(library) for each in one.figures]
    assert len(figures) > 300
    assert all(each.source and each.confidence in ("published", "one source") for _, each in figures)
    assert all(
        each.known_by == "data sheet" or (name, each.known_by) == ("13003 TO-126", "calculated")
        for name, each in figures
    )


def test_every_shipped_figure_names_a_page_and_a_revision_or_says_that_none_was_noted() -> None:
    """A page is asked of every source, and of every figure's own words: a figure without one cannot be looked up."""
    (library,) = shipped_libraries()
    sources = compose(library.text, library.path, only=True).get("sources")
    assert isinstance(sources, Mapping) and len(sources.entries) >= 13
    for key, source in sources.entries:
        assert isinstance(source, Mapping) and source.get("revision") is not None, key.text
    for one in listed(library):
        for each in one.figures:
            assert re.search(r"\bpage (not noted|[\divx]+)\Z", each.source), (one.name, each.key, each.source)


@pytest.mark.parametrize(
    ("name", "key", "said"),
    [  # the lowest figure of several makers, as the sheets that were read give them
        ("1N4007", "rated.reverse_voltage", "1000 V"),
        ("1N4001", "rated.junction", "125 degC"),
        ("1N4001", "rated.junction_to_air", "100 K/W"),
        ("1N4148", "rated.reverse_voltage", "75 V"),
        ("1N4148", "rated.current", "0.15 A"),
        ("1N4148", "rated.junction", "150 degC"),
        ("1N4148", "rated.junction_to_air", "350 K/W"),
        ("1N5819", "rated.reverse_voltage", "40 V"),
        ("1N5817", "rated.surge_current", "25 A"),
        ("1N5822", "rated.forward_voltage", "{3 A: 0.525 V, 9.4 A: 0.95 V}"),
        ("UF4005", "rated.recovery_time", "75 ns"),
        ("UF4004", "rated.forward_voltage", "1.1 V at 1 A"),
        ("SR1100", "rated.forward_voltage", "0.85 V at 1 A"),
        ("MB6S", "rated.current", "0.5 A"),
        ("DB107", "rated.surge_current", "30 A at 8.3 ms"),
        ("13001", "rated.collector_base_voltage", "500 V"),
        ("13009", "rated.current", "12 A"),
    ],
)
def test_shipped_figures(name: str, key: str, said: str) -> None:
    assert shipped()[name][key] == said


def test_a_transistor_of_the_library_has_its_higher_voltage_only_where_its_base_is_held_off() -> None:
    for name, own in shipped().items():
        if own["kind"] == "bipolar transistor":
            assert own["rated.collector_emitter_voltage"] == "400 V" and "rated.voltage" not in own, name
