"""Which files are taken, and the settings of a repository."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from derate.cli.shared import designs, is_design
from derate.design.settings import find_settings, read_settings
from derate.terms.values import ReadingError


def _tree(folder: Path, *names: str, text: str = "derate: 1\n") -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


def test_a_folder_gives_its_named_designs_sorted_and_nothing_hidden(tmp_path: Path) -> None:
    _tree(tmp_path, "b.derate.yaml", "a/z.derate.yaml", ".git/c.derate.yaml", ".derate.yaml", "other.yaml", "notes.txt")
    found, problems = designs([str(tmp_path)])
    assert [os.path.relpath(path, tmp_path) for path in found] == ["a/z.derate.yaml", "b.derate.yaml", "other.yaml"]
    assert problems == ()


def test_without_named_designs_those_with_the_key_are_taken(tmp_path: Path) -> None:
    _tree(tmp_path, "one.yaml", "two.yml")
    _tree(tmp_path, "compose.yaml", text="services:\n  derate: 1\n")
    _tree(tmp_path, "pack.yaml", text="pack: x\n---\nderate: 1\n")
    found, _ = designs([str(tmp_path)])
    assert [os.path.basename(path) for path in found] == ["one.yaml", "two.yml"]


@pytest.mark.parametrize(
    ("text", "design"),
    [
        ("derate: 1\n", True),
        ("# a remark\n---\nderate: 1\n", True),
        ("supply: x\nderate: 1\n", True),
        ("{derate: 1, supply: {name: x}}", True),
        ("derate: 1\nparts: [broken\n", True),
        ("name: x\n", False),
        ("  derate: 1\n", False),
        ("derated: 1\n", False),
        ("a: 1\n---\nderate: 1\n", False),
        ("", False),
        ("\x00derate: 1\n", False),
    ],
)
def test_what_makes_a_design(text: str, design: bool, tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    file.write_text(text)
    assert is_design(str(file)) == design


def test_a_named_file_is_taken_whatever_it_is_called(tmp_path: Path) -> None:
    found, problems = designs([str(tmp_path / "anything.txt")])
    assert found == (str(tmp_path / "anything.txt"),) and problems == ()


def test_a_folder_without_designs_is_told(tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    _tree(tmp_path, "full/x.derate.yaml")
    found, problems = designs([str(empty), str(tmp_path / "full")])
    assert len(found) == 1
    assert [problem.what for problem in problems] == ["there is no design in this folder"]


def test_a_folder_that_may_not_be_read_is_told(tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("the superuser may read every folder")
    _tree(tmp_path, "a/x.derate.yaml", "b/y.derate.yaml")
    (tmp_path / "b").chmod(0)
    try:
        found, problems = designs([str(tmp_path)])
    finally:
        (tmp_path / "b").chmod(0o755)
    assert len(found) == 1 and "could not be read" in problems[0].what


def test_the_same_file_by_two_ways_is_taken_once(tmp_path: Path) -> None:
    _tree(tmp_path, "x.derate.yaml")
    (tmp_path / "link.derate.yaml").symlink_to(tmp_path / "x.derate.yaml")
    found, _ = designs([str(tmp_path), str(tmp_path / "x.derate.yaml")])
    assert len(found) == 1


def test_settings_are_found_upwards_and_no_further_than_the_repository(tmp_path: Path) -> None:
    _tree(tmp_path, ".derate.yaml", text="stop_at: fail\n")
    (tmp_path / "repository" / ".git").mkdir(parents=True)
    (tmp_path / "repository" / "deep" / "er").mkdir(parents=True)
    design = tmp_path / "repository" / "deep" / "er" / "x.yaml"
    assert find_settings(str(design)).path == ""
    _tree(tmp_path / "repository", ".derate.yaml", text="packs: [a, rules/b.yaml]\nstop_at: marginal\n")
    found = find_settings(str(design))
    assert found.path.endswith("repository/.derate.yaml") and found.stop_at == "marginal"
    assert [pack.text for pack in found.packs] == ["a", "rules/b.yaml"]
    assert find_settings(str(tmp_path / "elsewhere" / "x.yaml")).path == ""


@pytest.mark.parametrize(
    ("text", "what", "instead"),
    [
        ("stopat: fail", "'stopat' is no setting", "write stop_at"),
        ("stop_at: fial", "'fial' is no level to stop at", "write fail"),
        ("stop_at: [fail]", "'' is no level to stop at", "write one of fail, default, not-assessed, marginal"),
        ("packs: {a: b}", "packs is a list of names or paths", "write packs: [one, two]"),
        ("- a", None, None),
        ("", None, None),
    ],
)
def test_settings_that_cannot_be_read(text: str, what: str | None, instead: str | None) -> None:
    with pytest.raises(ReadingError) as caught:
        read_settings(text, ".derate.yaml")
    if what is not None:
        assert [(one.what, one.instead) for one in caught.value.problems] == [(what, instead)]
