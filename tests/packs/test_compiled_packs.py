"""Packs as plain data: the same pack comes back, only for the same content, and only from inside the package."""

from __future__ import annotations

import marshal
import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from derate.packs import compiled
from derate.packs.compiled import HEAD, compiled_file, digest_of, pack_of, plain
from derate.packs.load import Packs, load_packs, read_apart, read_packs, shipped
from derate.packs.pack import Pack

PATHS = tuple(str(path) for path in sorted(shipped("rules").glob("*.yaml")))
WORKED = Path(__file__).parents[1] / "data" / "packs" / "worked.yaml"
ALL_SHAPES = """\
pack: all-shapes
title: t
covers: c
sources: {print: {title: A document, edition: 2020}}
tables:
  grid:
    axes:
      working_voltage: {unit: V, at: [10, 20, 50], kind: band, ends: hold above}
      circuit.pollution: {words: ["1", "2"]}
    unit: mm
    cells: [[1, 2..3 mm], [unknown, 2]]
    confidence: [[published, one source], [remembered, published]]
    source: print, table 1
assumptions:
  share: {value: 0.70..0.88, bounding: low, says: s, source: print, confidence: common practice}
rules:
"""
HEADS = (
    "{rule: NAME, says: s, because: b, hazard: rating, severity: minor, source: print, confidence: published, "
    "about: part, applies: {part.kind: [fuse, any resistor], part.capacitance: over 0.1 uF, circuit.clamp: present, "
    "part.class: other than Y1 or Y2, plate.marks: includes double square}, "
)
SHAPES = (
    "keep: '-min(voltage_peak, 2 V) < max(0.8 * rated.voltage, 3 V - 1 V, 2 * 5 V) / assumption.share', guard: 0.9",
    "within: {quantity: voltage_peak, to: 5 V}, cases: [running], when: {circuit.clamp: absent}, holds_over: tolerance",
    "absent: {part: {part.kind: [fuse]}}",
    "present: {fact: circuit.clamp}, at_least_one: one, remedy: '{cure}', settle: look",
    "member: {part.class: [Y1, Y2]}",
    "count: {of: bridge.count, at_least: 2}",
    "count: {part: {part.kind: [fuse]}, at_most: 3}",
    "agree: {measured: found.capacitance, marked: part.capacitance}",
    "record: {fields: [test.voltage, test.result], shows: {test.result: held}}",
    "any_of: [{keep: voltage_peak >= 1 V}, {member: {part.class: [Y1]}}]",
)


@pytest.fixture(autouse=True)
def _not_remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """No pack comes out of what the suite compiled at its start, else a pack would be held against itself."""
    monkeypatch.setattr("derate.packs.compiled.stored_at", lambda: tmp_path / "nowhere" / compiled.FILE)
    compiled.forget()
    yield
    compiled.forget()


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The shipped packs as data, where the installed package would have them."""
    monkeypatch.setattr("derate.packs.compiled.stored_at", lambda: tmp_path / "package" / "packs.compiled")
    (tmp_path / "package").mkdir()
    place = tmp_path / "package" / "packs.compiled"
    place.write_bytes(compiled_file(read_apart(PATHS)))
    compiled.forget()
    return place


def _no_reader(*given: object) -> None:
    raise AssertionError("a pack file was read")


def _there_and_back(pack: Pack) -> Pack:
    return pack_of(marshal.loads(marshal.dumps(plain(pack))), pack.head.path, pack.head.digest)


@pytest.mark.parametrize("path", PATHS)
def test_every_shipped_pack_comes_back_the_same(path: str) -> None:
    for pack in read_apart([path]):
        assert _there_and_back(pack) == pack
        assert repr(_there_and_back(pack)) == repr(pack)  # equal tuples of other records are not the same pack


def test_every_shape_and_every_kind_of_condition_comes_back_the_same(tmp_path: Path) -> None:
    rules = "".join(f"  - {HEADS.replace('NAME', f'rule-{at}')}{shape}}}\n" for at, shape in enumerate(SHAPES))
    path = tmp_path / "all-shapes.yaml"
    path.write_text(ALL_SHAPES + rules, encoding="utf-8")
    for pack in (*read_apart([str(path)]), *read_apart([str(WORKED)])):
        expected = replace(pack, head=pack.head._replace(shipped=True))  # only shipped packs are stored
        assert _there_and_back(pack) == expected
        assert repr(_there_and_back(pack)) == repr(expected)


def test_what_is_stored_is_tuples_texts_and_numbers() -> None:
    def walk(one: object) -> None:
        if type(one) is tuple:
            for part in one:
                walk(part)
        else:
            assert one is None or type(one) in (str, float, int, bool)

    for pack in read_apart(PATHS):
        walk(plain(pack))
    with pytest.raises(TypeError, match="function is no part of a pack"):
        plain((1, _no_reader))


def test_packs_are_loaded_from_data_without_reading_their_files(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from_data = load_packs(PATHS)
    data.unlink()
    compiled.forget()
    assert load_packs(PATHS) == from_data
    data.write_bytes(compiled_file(read_apart(PATHS)))
    compiled.forget()
    monkeypatch.setattr("derate.packs.read_pack.read_head", _no_reader)
    assert load_packs(PATHS) == from_data
    compiled.forget()
    data.unlink()
    with pytest.raises(AssertionError, match="a pack file was read"):
        load_packs(PATHS)


def _copies(folder: Path) -> Path:
    for path in PATHS:
        shutil.copy(path, folder)
    return folder


def _without_data(paths: list[str], data: Path) -> Packs:
    content = data.read_bytes()
    data.unlink()
    compiled.forget()
    found = load_packs(paths)
    data.write_bytes(content)
    compiled.forget()
    return found


def test_an_edited_pack_and_what_builds_on_it_are_read_from_their_files(data: Path, tmp_path: Path) -> None:
    """The pack above is the same to the byte, but it was compiled against another one below."""
    folder = _copies(tmp_path)
    below, above = folder / "mains-events.yaml", folder / "mains-fusing.yaml"
    text = below.read_text(encoding="utf-8")
    edited = text.replace("sources:\n", "sources:\n  added: A document of ours\n", 1)
    assert edited != text
    below.write_text(edited, encoding="utf-8")
    above.write_text(
        above.read_text(encoding="utf-8").replace("builds_on: [mains-events]", "builds_on: [./mains-events.yaml]"),
        encoding="utf-8",
    )
    found = load_packs([str(above)])
    assert found == _without_data([str(above)], data)
    assert [head.shipped for head in found.heads] == [False, False]


def test_a_pack_is_not_taken_from_data_that_was_compiled_against_others(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The shipped folder itself edited: the pack above stays the same to the byte, the one below does not."""
    folder = _copies(tmp_path)
    monkeypatch.setattr("derate.packs.load.shipped", lambda name: folder)
    below = folder / "mains-events.yaml"
    text = below.read_text(encoding="utf-8")
    cited = next(line.split(":")[0].strip() for line in text[text.index("sources:\n") + 9 :].splitlines())
    below.write_text(text.replace(f"  {cited}:", "  renamed_source:", 1), encoding="utf-8")
    read: list[str] = []
    from derate.packs import read_pack

    body = read_pack.read_body

    def noted(head, *rest):  # type: ignore[no-untyped-def]
        read.append(head.name)
        return body(head, *rest)

    monkeypatch.setattr("derate.packs.read_pack.read_body", noted)
    found = load_packs(["mains-fusing"])
    assert read == ["mains-events", "mains-fusing"]
    assert found == _without_data(["mains-fusing"], data)


@pytest.mark.parametrize("other", [("another form", *HEAD[1:]), (HEAD[0], 0, *HEAD[2:]), (*HEAD[:2], "0.0", HEAD[3])])
def test_data_of_another_form_or_release_is_left_alone(data: Path, other: tuple[object, ...]) -> None:
    expected = load_packs(PATHS)
    _, packs = marshal.loads(data.read_bytes())
    data.write_bytes(marshal.dumps((other, dict.fromkeys(packs, b"never looked at"))))
    compiled.forget()
    assert load_packs(PATHS) == expected


@pytest.mark.parametrize("content", [b"", b"not of this form", marshal.dumps((HEAD,)), marshal.dumps(3)])
def test_what_is_no_data_is_left_alone(data: Path, content: bytes) -> None:
    expected = load_packs(PATHS)
    data.write_bytes(content)
    compiled.forget()
    assert load_packs(PATHS) == expected


def test_data_cut_short_is_left_alone(data: Path) -> None:
    expected = load_packs(PATHS)
    data.write_bytes(data.read_bytes()[:5000])
    compiled.forget()
    assert load_packs(PATHS) == expected


HOUSE = "pack: house\ntitle: t\ncovers: c\nbuilds_on: [mains-events]\n"


def test_data_beside_a_house_pack_is_never_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who can write into a repository cannot give a pack other rules than its file has."""
    path = tmp_path / "rules" / "house.yaml"
    path.parent.mkdir()
    path.write_text(HOUSE, encoding="utf-8")
    (own,) = (pack for pack in read_apart([str(path)]) if pack.head.name == "house")
    (other,) = read_apart([str(shipped("rules") / "bench.yaml")])
    forged = marshal.dumps((HEAD, {own.head.digest: marshal.dumps(plain(other))}))
    for place in (path.parent, tmp_path, tmp_path / "rules" / "rules"):
        place.mkdir(exist_ok=True)
        (place / "packs.compiled").write_bytes(forged)
    monkeypatch.chdir(tmp_path)
    compiled.forget()
    assert load_packs(["house"], near=path).names == ("mains-events", "house")


def test_a_pack_that_changes_others_is_left_to_its_file(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    rule = load_packs(["mains-events"]).rules[0].name
    path.write_text(HOUSE + f"switch_off: {{{rule}: {{reason: r}}}}\n", encoding="utf-8")
    packs = read_apart([str(path)])
    _, stored = marshal.loads(compiled_file(packs))
    assert [one.head.name for one in packs if one.head.digest not in stored] == ["house"]


def test_a_shipped_pack_is_one_by_its_content(tmp_path: Path) -> None:
    original = shipped("rules") / "bench.yaml"
    assert [head.shipped for head in load_packs(["bench"]).heads] == [True]
    copy = tmp_path / "mine.yaml"
    shutil.copy(original, copy)
    (head,) = load_packs([str(copy)]).heads
    assert head.shipped and head.digest == digest_of(original.read_bytes())
    copy.write_bytes(original.read_bytes() + b"# ours\n")
    (head,) = load_packs([str(copy)]).heads
    assert not head.shipped and head.name == "bench"
    named = "pack: bench\ntitle: t\ncovers: c\n"
    assert [head.shipped for head in read_packs({"bench.yaml": named}).heads] == [False]
    assert [head.shipped for head in read_packs({"bench.yaml": original.read_text(encoding="utf-8")}).heads] == [True]


def test_the_digest_is_that_of_the_standard() -> None:
    """SHA-256 of `abc`: FIPS 180-4, example B.1."""
    assert digest_of(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_wheel_holds_the_designs_without_what_they_are_expected_to_print() -> None:
    sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tools"))
    from compile_packs import shipped_files

    designs = Path(__file__).resolve().parents[2] / "designs"
    names = [one.relative_to(designs).as_posix() for one in shipped_files(designs)]
    assert "greenhouse-vent/captures/inrush-230V.csv" in names
    assert not [one for one in names if "expected" in one]
    assert set(designs.rglob("*.derate.yaml")) <= set(shipped_files(designs))
