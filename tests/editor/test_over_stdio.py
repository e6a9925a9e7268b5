"""The server as an editor has it: a process, a client on the other end of its input and output, the whole protocol."""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from lsprotocol import types as lsp
from pygls.lsp.client import LanguageClient

ROOT = Path(__file__).parents[2]
SOUND = ROOT / "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
_LONG = 120.0  # [s] after which a test is given up, on however busy a machine


class _Editor:
    """A client with the diagnostics that it was sent last, by file."""

    def __init__(self) -> None:
        self.client = LanguageClient("tests", "1")
        self.sent: asyncio.Queue[lsp.PublishDiagnosticsParams] = asyncio.Queue()

        @self.client.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
        def _(params: lsp.PublishDiagnosticsParams) -> None:
            self.sent.put_nowait(params)

    async def begin(self) -> lsp.InitializeResult:
        entry = "from derate.cli.main import entry; entry()"
        await self.client.start_io(sys.executable, "-c", entry, "editor", "--today", "2026-11-25", cwd=str(ROOT))
        answer = await self.client.initialize_async(
            lsp.InitializeParams(capabilities=lsp.ClientCapabilities(), root_uri=ROOT.as_uri(), process_id=os.getpid())
        )
        self.client.initialized(lsp.InitializedParams())
        return answer

    def open(self, uri: str, text: str) -> None:
        self.client.text_document_did_open(
            lsp.DidOpenTextDocumentParams(lsp.TextDocumentItem(uri, "yaml", 1, text))
        )

    def change(self, uri: str, version: int, line: int, column: int, old: str, new: str) -> None:
        """Replace some letters of one line, as an editor sends it."""
        at = lsp.Range(lsp.Position(line, column), lsp.Position(line, column + len(old)))
        change = lsp.TextDocumentContentChangePartial(range=at, text=new)
        self.client.text_document_did_change(
            lsp.DidChangeTextDocumentParams(lsp.VersionedTextDocumentIdentifier(version, uri), [change])
        )

    async def told(self, version: int) -> lsp.PublishDiagnosticsParams:
        while True:
            found = await asyncio.wait_for(self.sent.get(), _LONG)
            if found.version == version:
                return found

    async def end(self) -> int | None:
        await self.client.shutdown_async(None)
        self.client.exit(None)
        process = self.client._server
        await self.client.stop()
        return process.returncode if process is not None else None


def _played(play: Callable[[_Editor], Awaitable[None]]) -> None:
    async def whole() -> None:
        editor = _Editor()
        await editor.begin()
        try:
            await play(editor)
        finally:
            await editor.end()

    asyncio.run(asyncio.wait_for(whole(), 4 * _LONG))


def _where(text: str, line: str, inside: str) -> tuple[int, int]:
    (number,) = [number for number, one in enumerate(text.split("\n")) if line in one]
    return number, text.split("\n")[number].index(inside)


def test_an_editor_is_served_from_opening_to_closing() -> None:
    text, uri = SOUND.read_text(encoding="utf-8"), SOUND.as_uri()

    async def play(editor: _Editor) -> None:
        editor.open(uri, text)
        first = await editor.told(1)
        assert first.uri == uri and len(first.diagnostics) > 20
        assert {one.source for one in first.diagnostics} == {"derate"}
        assert not [one for one in first.diagnostics if one.severity == lsp.DiagnosticSeverity.Error]

        # a rating that cannot hold, typed in: a finding at that place
        line, column = _where(text, "rated: {voltage: 700 V", "700")
        editor.change(uri, 2, line, column, "700", "400")
        second = await editor.told(2)
        (worse,) = [one for one in second.diagnostics if one.code == "switch-voltage"]
        assert worse.severity == lsp.DiagnosticSeverity.Error and worse.range.start.line in (line, line - 3, line - 2)
        assert "Q1" in worse.message and "over the" in worse.message

        # something that cannot be read: told alone, what was known before stays behind the pointer
        editor.change(uri, 3, line, column, "400", "4oo")
        third = await editor.told(3)
        assert [one.severity for one in third.diagnostics] == [lsp.DiagnosticSeverity.Error]
        assert third.diagnostics[0].range.start == lsp.Position(line, third.diagnostics[0].range.start.character)
        at = lsp.Position(*_where(text, "primary: [T1.primary, Q1", "Q1"))
        document = lsp.TextDocumentIdentifier(uri)
        hovered = await editor.client.text_document_hover_async(lsp.HoverParams(document, at))
        assert hovered is not None and isinstance(hovered.contents, lsp.MarkupContent)
        said = hovered.contents.value
        assert said.startswith("**Q1** MOSFET") and "last text that could be read" in said

        editor.change(uri, 4, line, column, "4oo", "700")
        fourth = await editor.told(4)
        assert [one.message for one in fourth.diagnostics] == [one.message for one in first.diagnostics]

        named = await editor.client.text_document_completion_async(
            lsp.CompletionParams(document, lsp.Position(*_where(text, "  line: [RF1", "RF1")))
        )
        assert isinstance(named, lsp.CompletionList) and {"RF1", "T1.primary"} <= {one.label for one in named.items}
        place = await editor.client.text_document_definition_async(lsp.DefinitionParams(document, at))
        assert isinstance(place, lsp.Location) and text.split("\n")[place.range.start.line].strip() == "kind: MOSFET"

        whole = lsp.Range(lsp.Position(0, 0), lsp.Position(text.count("\n"), 0))
        actions = await editor.client.text_document_code_action_async(
            lsp.CodeActionParams(document, whole, lsp.CodeActionContext([]))
        )
        assert actions and all(isinstance(one, lsp.CodeAction) and one.edit is not None for one in actions)
        titles = {one.title for one in actions}
        assert "write RF1: rated.pulse_power" in titles and len(titles) >= 4

        editor.client.text_document_did_close(lsp.DidCloseTextDocumentParams(document))
        closed = await asyncio.wait_for(editor.sent.get(), _LONG)
        assert not closed.diagnostics and closed.version is None

    _played(play)


def test_keys_words_and_names_are_offered_each_at_its_place() -> None:
    """By the real client: a key on a line of its own and in braces, a word of a closed list, a winding, a rule."""
    text, uri = SOUND.read_text(encoding="utf-8"), SOUND.as_uri()
    document = lsp.TextDocumentIdentifier(uri)

    async def play(editor: _Editor) -> None:
        editor.open(uri, text)
        await editor.told(1)

        async def offered(version: int, line: str, inside: str, typed: str) -> dict[str, lsp.CompletionItem]:
            """What is offered behind `typed`, put in ahead of `inside`; it is taken back afterwards."""
            at, column = _where(text, line, inside)
            editor.change(uri, version, at, column, "", typed)
            asked = lsp.CompletionParams(document, lsp.Position(at, column + len(typed.split("\n")[0])))
            found = await editor.client.text_document_completion_async(asked)
            back = lsp.TextDocumentContentChangeWholeDocument(text)
            editor.client.text_document_did_change(
                lsp.DidChangeTextDocumentParams(lsp.VersionedTextDocumentIdentifier(version + 1, uri), [back])
            )
            assert isinstance(found, lsp.CompletionList)
            return {one.label: one for one in found.items}

        keys = await offered(2, "    kind: MOSFET", "kind: MOSFET", "limit\n    ")
        assert "limit_delay" in keys and not {"kind", "rated", "Q1", "topology"} & set(keys)
        one = keys["limit_delay"]
        assert one.kind == lsp.CompletionItemKind.Property and one.insert_text == "limit_delay: "
        assert one.detail is not None and "[s]" in one.detail and str(one.documentation).startswith("such as ")
        rated = await offered(4, "rated: {voltage: 700 V", "voltage: 700 V", "ju, ")
        assert "voltage" not in rated and "kind" not in rated
        words = await offered(6, "  protection_class: II", "II", "")
        assert {"I", "II", "III"} <= set(words) and not {"Q1", "main"} & set(words)
        wound = await offered(8, "  line: [RF1", "RF1", "T")
        assert {"RF1", "T1.primary"} <= set(wound) and not {"fuse", "outputs"} & set(wound)
        rules = await offered(10, "- {rule: bulk-capacitor-life", "bulk", "")
        assert "bulk-capacitor-life" in rules and "Q1" not in rules

    _played(play)


def test_columns_are_counted_as_the_protocol_counts_them(tmp_path: Path) -> None:
    text = (
        "derate: 1\nsupply: {name: lamp 😀 one, topology: nonsense}\nparts: {R1: film resistor 1 ohm}\n"
        "circuit: {line: unknown}\n"
    )
    path = tmp_path / "lamp.derate.yaml"
    path.write_text(text, encoding="utf-8")

    async def play(editor: _Editor) -> None:
        editor.open(path.as_uri(), text)
        told = await editor.told(1)
        line = text.split("\n")[1]
        wanted = len(line[: line.index("nonsense")].encode("utf-16-le")) // 2
        found = [one.range.start.character for one in told.diagnostics if one.range.start.line == 1]
        assert wanted in found and wanted == line.index("nonsense") + 1

    _played(play)


def test_a_file_that_is_no_design_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.yaml"

    async def play(editor: _Editor) -> None:
        editor.open(path.as_uri(), "a: [")
        document = lsp.TextDocumentIdentifier(path.as_uri())
        assert await editor.client.text_document_hover_async(lsp.HoverParams(document, lsp.Position(0, 0))) is None
        assert editor.sent.empty()

    _played(play)


def test_without_the_library_it_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from derate.cli.main import main

    monkeypatch.setitem(sys.modules, "pygls", None)
    monkeypatch.setitem(sys.modules, "pygls.lsp.server", None)
    monkeypatch.delitem(sys.modules, "derate.editor.server", raising=False)
    assert main(["editor"]) == 2
    assert "install derate[editor]" in capsys.readouterr().err
