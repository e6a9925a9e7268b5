"""Compiled templates are kept beside the templates, as Python keeps its own modules, and only while they hold."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from jinja2 import Environment, FileSystemLoader

from derate.report import html
from derate.report.html import Compiled, environment


def _rendered(folder: Path, kept: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[str, int]:
    """What the template of a folder says, and how often it was compiled for that."""
    compiled = []
    generate = Environment._generate

    def counting(*given: object, **named: object) -> object:
        compiled.append(given)
        return generate(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(Environment, "_generate", counting)
    made = Environment(loader=FileSystemLoader(folder), bytecode_cache=Compiled(str(kept), "%s.compiled"))
    said = made.get_template("one.html").render(word="lamp")
    monkeypatch.undo()
    return said, len(compiled)


def test_a_template_is_compiled_once_and_again_when_it_changes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    template, kept, written = tmp_path / "one.html", tmp_path / "__pycache__", sys.dont_write_bytecode
    found = []
    try:
        sys.dont_write_bytecode = False
        for text in ("a {{ word }}", "a {{ word }}", "the {{ word }}", "the {{ word }}"):
            template.write_text(text)
            found.append(_rendered(tmp_path, kept, monkeypatch))
    finally:
        sys.dont_write_bytecode = written
    assert found == [("a lamp", 1), ("a lamp", 0), ("the lamp", 1), ("the lamp", 0)]
    assert [one.suffix for one in kept.iterdir()] == [".compiled"]


def test_what_another_version_or_another_way_to_escape_compiled_is_not_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "one.html").write_text("{{ word }}")
    monkeypatch.setattr(sys, "dont_write_bytecode", False)

    def rendered(escapes: bool, made_of: object = str) -> str:
        kept = Compiled(str(tmp_path / "kept"), "%s.compiled")
        made = Environment(loader=FileSystemLoader(tmp_path), bytecode_cache=kept, autoescape=escapes)
        made.filters["shown"] = made_of  # type: ignore[assignment]
        return made.get_template("one.html").render(word="<b>")

    assert (rendered(False), rendered(True), rendered(False)) == ("<b>", "&lt;b&gt;", "<b>")
    (tmp_path / "one.html").write_text("{{ 'lamp' | shown }}")  # a constant, worked out as it is compiled
    assert rendered(True) == "lamp"
    monkeypatch.setattr(html, "__version__", "another")
    assert rendered(True, str.upper) == "LAMP"


def test_nothing_is_kept_where_nothing_may_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one.html").write_text("a {{ word }}")
    (tmp_path / "file").write_text("no folder")
    written = sys.dont_write_bytecode
    try:
        sys.dont_write_bytecode = True
        assert _rendered(tmp_path, tmp_path / "kept", monkeypatch) == ("a lamp", 1)
        assert not (tmp_path / "kept").exists()
        sys.dont_write_bytecode = False
        assert _rendered(tmp_path, tmp_path / "file" / "kept", monkeypatch) == ("a lamp", 1)
    finally:
        sys.dont_write_bytecode = written


def test_what_is_kept_and_broken_is_compiled_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written, kept = sys.dont_write_bytecode, tmp_path / "kept"
    (tmp_path / "one.html").write_text("a {{ word }}")
    try:
        sys.dont_write_bytecode = False
        _rendered(tmp_path, kept, monkeypatch)
        (entry,) = kept.iterdir()
        whole = entry.read_bytes()
        for broken in (b"", b"x" * 40, whole[:-20], whole[:22], whole[:24] + b"x" * 40):
            entry.write_bytes(broken)
            assert _rendered(tmp_path, kept, monkeypatch)[0] == "a lamp"
    finally:
        sys.dont_write_bytecode = written


def test_the_pages_use_it() -> None:
    assert isinstance(environment().bytecode_cache, Compiled)
