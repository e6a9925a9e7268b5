"""The schema in an editor: laid down in a repository, and driven through the language server that editors use for YAML.

`npm --prefix tests/browser ci` and node are wanted; without them the tests are skipped, unless CI=true.
"""

from __future__ import annotations

import asyncio
import json
import os
import shutil
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from lsprotocol import types as lsp
from pygls.lsp.client import LanguageClient

from derate.cli.main import main
from derate.design.blocks import DesignFile
from derate.editor.settings import FOLDER, first_line
from derate.report.schemas import design_schema

SERVER = Path(__file__).parents[1] / "browser/node_modules/yaml-language-server/bin/yaml-language-server"
_LONG = 120.0  # [s] after which a test is given up, on however busy a machine


def _keys(schema: dict[str, Any], path: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], dict[str, Any]]]:
    """Every key of a schema with its path, blocks inside blocks too."""
    found = []
    for key, one in (schema.get("properties") or {}).items():
        found += [((*path, key), one), *_keys(one, (*path, key))]
    for key in ("additionalProperties", "items"):
        if isinstance(schema.get(key), dict):
            found += _keys(schema[key], (*path, "NAME"))
    for one in schema.get("anyOf", ()):
        found += _keys(one, path)
    return found


def test_every_key_says_what_it_is_how_it_is_got_and_gives_an_example() -> None:
    every = _keys(design_schema())
    assert len(every) > 450
    for path, one in every:
        assert one.get("description") and one.get("examples") and one["examples"][0], path
        assert len(one["description"]) > 8 and not one["examples"][0].startswith("{}"), path
        if "properties" not in one and "additionalProperties" not in one and not one.get("anyOf"):
            assert ". " in one["description"], (path, one["description"])  # what it is, then how a person gets it
    assert "[V]" in dict(every)[("supply", "plate", "mains")]["description"]  # its unit


def test_schemas_are_laid_down_and_what_stands_there_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "boards").mkdir()
    (tmp_path / ".vscode").mkdir()
    settings = tmp_path / ".vscode/settings.json"
    settings.write_text('{"editor.rulers": [120], "yaml.schemas": {"other.json": "*.other.yaml"}}', encoding="utf-8")
    monkeypatch.chdir(tmp_path / "boards")
    assert first_line("lamp.derate.yaml") == ""  # nothing to lead to yet
    for _ in range(2):  # twice comes to the same
        assert main(["schema", "--install"]) == 0
        found = json.loads(settings.read_text(encoding="utf-8"))
        assert found["editor.rulers"] == [120] and found["yaml.schemas"]["other.json"] == "*.other.yaml"
        assert found["yaml.schemas"][f"./{FOLDER}/design.json"] == ["*.derate.yaml"]
    assert json.loads((tmp_path / FOLDER / "design.json").read_text(encoding="utf-8")) == design_schema()
    assert main(["new", "lamp.derate.yaml", "--name", "lamp"]) == 0
    line = (tmp_path / "boards/lamp.derate.yaml").read_text(encoding="utf-8").split("\n")[0]
    assert line == f"# yaml-language-server: $schema=../{FOLDER}/design.json"
    settings.write_text("{ // with a comment\n}", encoding="utf-8")
    capsys.readouterr()
    assert main(["schema", "--install"]) == 2
    told = capsys.readouterr().err
    assert "no plain JSON" in told and "*.derate.yaml" in told
    assert settings.read_text(encoding="utf-8").startswith("{ //")


class _Editor:
    """A client of the YAML server with one file open."""

    def __init__(self, path: Path, text: str) -> None:
        self.uri, self.text = path.as_uri(), text
        self.client = LanguageClient("tests", "1")
        self.sent: asyncio.Queue[lsp.PublishDiagnosticsParams] = asyncio.Queue()

        @self.client.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
        def _(params: lsp.PublishDiagnosticsParams) -> None:
            self.sent.put_nowait(params)

        @self.client.feature(lsp.WORKSPACE_CONFIGURATION)
        def _(params: lsp.ConfigurationParams) -> list[Any]:
            own = {"completion": True, "hover": True, "validate": True, "schemaStore": {"enable": False}}
            return [own if one.section == "yaml" else {} for one in params.items]

    async def begin(self, root: Path) -> None:
        await self.client.start_io(shutil.which("node") or "node", str(SERVER), "--stdio")
        able = lsp.ClientCapabilities(
            workspace=lsp.WorkspaceClientCapabilities(configuration=True),
            text_document=lsp.TextDocumentClientCapabilities(
                completion=lsp.CompletionClientCapabilities(
                    completion_item=lsp.ClientCompletionItemOptions(snippet_support=True)
                ),
                hover=lsp.HoverClientCapabilities(content_format=[lsp.MarkupKind.Markdown]),
            ),
        )
        folders = [lsp.WorkspaceFolder(root.as_uri(), "root")]
        await self.client.initialize_async(
            lsp.InitializeParams(
                capabilities=able, root_uri=root.as_uri(), process_id=os.getpid(), workspace_folders=folders
            )
        )
        self.client.initialized(lsp.InitializedParams())
        self.client.text_document_did_open(
            lsp.DidOpenTextDocumentParams(lsp.TextDocumentItem(self.uri, "yaml", 1, self.text))
        )

    async def complete(self, line: int, column: int) -> set[str]:
        found = await self.client.text_document_completion_async(
            lsp.CompletionParams(lsp.TextDocumentIdentifier(self.uri), lsp.Position(line, column))
        )
        items = found.items if isinstance(found, lsp.CompletionList) else found or []
        return {one.label for one in items}

    async def hover(self, line: int, column: int) -> str:
        found = await self.client.text_document_hover_async(
            lsp.HoverParams(lsp.TextDocumentIdentifier(self.uri), lsp.Position(line, column))
        )
        return found.contents.value if found is not None and isinstance(found.contents, lsp.MarkupContent) else ""


def _played(folder: Path, text: str, play: Callable[[_Editor], Awaitable[None]]) -> None:
    if not SERVER.is_file() or shutil.which("node") is None:
        why = "the YAML server is not installed: npm --prefix tests/browser ci"
        if os.environ.get("CI") == "true":
            pytest.fail(why)
        pytest.skip(why)
    path = folder / "lamp.derate.yaml"
    path.write_text(text, encoding="utf-8")

    async def whole() -> None:
        editor = _Editor(path, text)
        await editor.begin(folder)
        try:
            await play(editor)
        finally:
            await editor.client.shutdown_async(None)
            editor.client.exit(None)
            await editor.client.stop()

    asyncio.run(asyncio.wait_for(whole(), 4 * _LONG))


def _blocks() -> list[tuple[tuple[str, ...], set[str]]]:
    """Every block of a design with its keys; a name stands for those of the author's own."""
    found: dict[tuple[str, ...], set[str]] = {}
    for path, _ in _keys(design_schema()):
        found.setdefault(path[:-1], set()).add(path[-1])
    return [(path, keys) for path, keys in found.items() if path and path[0] not in ("waivers", "open_points")]


def _installed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    (folder / ".git").mkdir()
    monkeypatch.chdir(folder)
    assert main(["schema", "--install"]) == 0
    return first_line("lamp.derate.yaml")


def test_the_keys_of_every_block_are_offered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    head = _installed(tmp_path, monkeypatch)
    assert head
    blocks = [one for one in _blocks() if one[0][0] not in ("readings", "tests")]
    assert len(blocks) > 20 and {one[0][0] for one in blocks} <= set(DesignFile.fields)
    lines, places = head.rstrip("\n").split("\n"), []
    open_path: tuple[str, ...] = ()
    for path, keys in sorted(blocks):
        shared = 0
        while shared < min(len(path), len(open_path)) and path[shared] == open_path[shared]:
            shared += 1
        lines += [f"{'  ' * depth}{path[depth]}:" for depth in range(shared, len(path))]
        places.append((len(lines), 2 * len(path), keys, path))
        lines.append(" " * (2 * len(path)))
        open_path = path

    async def play(editor: _Editor) -> None:
        for line, column, keys, path in places:
            offered = await editor.complete(line, column)
            below = {one[0][len(path)] for one in blocks if one[0][: len(path)] == path and len(one[0]) > len(path)}
            assert keys - below <= offered, (path, sorted(keys - below - offered)[:5])

    _played(tmp_path, "\n".join(lines) + "\n", play)


def test_a_key_under_the_pointer_is_told_and_a_wrong_one_is_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = _installed(tmp_path, monkeypatch) + (
        "derate: 1\nsupply: {name: lamp, topology: flybak}\nsite:\n  ambient: 0..40 degC\n  altitud: 100 m\n"
        "parts: {R1: film resistor 1 ohm}\ncircuit: {line: unknown}\n"
    )

    async def play(editor: _Editor) -> None:
        told = await editor.hover(4, 4)
        assert "Ambient temperature" in told and "degC" in told and "Ask where it will stand" in told
        assert "10..40 degC" in told  # the example
        while True:
            found = await asyncio.wait_for(editor.sent.get(), _LONG)
            if found.diagnostics:
                break
        said = {one.range.start.line: one.message for one in found.diagnostics}
        assert 5 in said and "altitud" in said[5]
        assert 2 in said  # no such topology

    _played(tmp_path, text, play)
