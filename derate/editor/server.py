"""The language server: the protocol on one side, `told.py` on the other. Columns of the protocol are UTF-16 units."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from datetime import date
from urllib.parse import unquote, urlsplit

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path, to_fs_path

from derate import __version__
from derate.editor.desk import Desk
from derate.editor.told import At, Diagnostic, choices, defined_at, diagnostics, hover, pastes

_SOON = 0.12  # [s] of quiet before a change is judged, so that a word is judged once and not letter by letter
_WEIGHTS = {
    "error": lsp.DiagnosticSeverity.Error,
    "warning": lsp.DiagnosticSeverity.Warning,
    "information": lsp.DiagnosticSeverity.Information,
}
_KINDS = {
    "part": lsp.CompletionItemKind.Variable,
    "winding": lsp.CompletionItemKind.Field,
    "output": lsp.CompletionItemKind.Interface,
    "condition": lsp.CompletionItemKind.Constant,
    "rule": lsp.CompletionItemKind.Function,
    "word": lsp.CompletionItemKind.Keyword,
    "key": lsp.CompletionItemKind.Property,
}


def units(line: str, column: int) -> int:
    """UTF-16 units ahead of a column that counts characters."""
    return sum(2 if ord(one) > 0xFFFF else 1 for one in line[:column])


def column_of(line: str, given: int) -> int:
    """The column in characters of a position in UTF-16 units; inside a pair, its character."""
    at = 0
    for number, one in enumerate(line):
        if at >= given:
            return number
        at += 2 if ord(one) > 0xFFFF else 1
    return len(line)


class _Open:
    """One open file: what it came to, and the diagnostics as they were sent."""

    def __init__(self, path: str, today: Callable[[], date]) -> None:
        self.desk = Desk(path, today)
        self.sent: tuple[Diagnostic, ...] = ()
        self.version: int | None = None
        self.waits: asyncio.TimerHandle | None = None

    def range(self, at: At) -> lsp.Range:
        """A stretch as the protocol has it."""
        lines = self.desk.state.text.split("\n")
        line = lines[at.line] if at.line < len(lines) else ""
        return lsp.Range(lsp.Position(at.line, units(line, at.start)), lsp.Position(at.line, units(line, at.end)))

    def position(self, given: lsp.Position) -> tuple[int, int]:
        """A position of the protocol as line and column in characters."""
        lines = self.desk.state.text.split("\n")
        line = lines[given.line] if given.line < len(lines) else ""
        return given.line, column_of(line, given.character)


def server(today: Callable[[], date] = date.today) -> LanguageServer:
    """The server, not started. today: the day that waivers are held to"""
    made = LanguageServer("derate", __version__)
    opened: dict[str, _Open] = {}

    def judge(uri: str) -> None:
        one = opened[uri]
        if one.waits is not None:
            one.waits.cancel()
            one.waits = None
        document = made.workspace.get_text_document(uri)
        state = one.desk.put(document.source.replace("\r\n", "\n"))
        one.version = document.version
        one.sent = diagnostics(state, one.desk.path)
        told = [
            lsp.Diagnostic(
                range=one.range(each.at),
                message=each.message,
                severity=_WEIGHTS[each.weight],
                code=each.code or None,
                source="derate",
                data={"waits": bool(each.finding is not None and each.finding.missing)},
            )
            for each in one.sent
        ]
        made.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(uri, told, one.version))

    def now(uri: str) -> _Open | None:
        """The file, with whatever was typed judged."""
        one = opened.get(uri)
        if one is not None and one.waits is not None:
            judge(uri)
        return one

    @made.feature(lsp.TEXT_DOCUMENT_DID_OPEN)
    def did_open(params: lsp.DidOpenTextDocumentParams) -> None:
        uri = params.text_document.uri
        path = to_fs_path(uri) or unquote(urlsplit(uri).path)
        if path.endswith((".derate.yaml", ".derate.yml")):
            opened[uri] = _Open(_shown(path), today)
            judge(uri)

    @made.feature(lsp.TEXT_DOCUMENT_DID_CHANGE)
    def did_change(params: lsp.DidChangeTextDocumentParams) -> None:
        one = opened.get(params.text_document.uri)
        if one is None:
            return
        if one.waits is not None:
            one.waits.cancel()
        one.waits = asyncio.get_running_loop().call_later(_SOON, judge, params.text_document.uri)

    @made.feature(lsp.TEXT_DOCUMENT_DID_SAVE)
    def did_save(params: lsp.DidSaveTextDocumentParams) -> None:
        saved = params.text_document.uri
        path = to_fs_path(saved) or unquote(urlsplit(saved).path)
        for uri, one in list(opened.items()):  # a pack, a library or a file that is revised may have been saved too
            if uri == saved or not saved.endswith(".derate.yaml") or one.desk.may_read(path):
                judge(uri)

    @made.feature(lsp.TEXT_DOCUMENT_DID_CLOSE)
    def did_close(params: lsp.DidCloseTextDocumentParams) -> None:
        one = opened.pop(params.text_document.uri, None)
        if one is not None:
            if one.waits is not None:
                one.waits.cancel()
            made.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(params.text_document.uri, []))

    @made.feature(lsp.TEXT_DOCUMENT_HOVER)
    def on_hover(params: lsp.HoverParams) -> lsp.Hover | None:
        one = now(params.text_document.uri)
        found = hover(one.desk.state, *one.position(params.position)) if one is not None else None
        if one is None or found is None:
            return None
        text, at = found
        return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, text), one.range(at))

    @made.feature(
        lsp.TEXT_DOCUMENT_COMPLETION, lsp.CompletionOptions(trigger_characters=[" ", "[", "{", "(", ".", ","])
    )
    def on_completion(params: lsp.CompletionParams) -> lsp.CompletionList:
        one = opened.get(params.text_document.uri)
        if one is None:
            return lsp.CompletionList(False, [])
        text = made.workspace.get_text_document(params.text_document.uri).source
        lines = text.split("\n")
        line = lines[params.position.line] if params.position.line < len(lines) else ""
        column = column_of(line, params.position.character)
        found = choices(one.desk.state, params.position.line, column, text)
        items = [
            lsp.CompletionItem(
                each.text,
                kind=_KINDS[each.kind],
                detail=each.says,
                documentation=f"such as {each.such}" if each.such else None,
                insert_text=f"{each.text}: " if each.kind == "key" else None,
                sort_text=f"{number:04}" if each.kind == "key" else None,  # in the order of the format
            )
            for number, each in enumerate(found)
        ]
        return lsp.CompletionList(False, items)

    @made.feature(lsp.TEXT_DOCUMENT_DEFINITION)
    def on_definition(params: lsp.DefinitionParams) -> lsp.Location | None:
        one = now(params.text_document.uri)
        place = defined_at(one.desk.state, *one.position(params.position)) if one is not None else None
        if one is None or place is None:
            return None
        uri = params.text_document.uri if place.path == one.desk.path else from_fs_path(os.path.abspath(place.path))
        at = lsp.Position(max(place.line - 1, 0), max(place.column - 1, 0))
        return lsp.Location(uri or params.text_document.uri, lsp.Range(at, at))

    @made.feature(lsp.TEXT_DOCUMENT_CODE_ACTION, lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix]))
    def on_action(params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
        one = now(params.text_document.uri)
        if one is None or one.desk.state.problems:
            return []
        found: dict[tuple[str, int, int], lsp.CodeAction] = {}
        lines = one.desk.state.text.split("\n")
        for each in one.sent:
            if each.finding is None or not params.range.start.line <= each.at.line <= params.range.end.line:
                continue
            for edit in pastes(one.desk.state, each.finding):
                at = lsp.Position(edit.line, units(lines[edit.line], edit.column))
                change = lsp.TextEdit(lsp.Range(at, at), edit.text)
                action = lsp.CodeAction(
                    edit.title,
                    kind=lsp.CodeActionKind.QuickFix,
                    edit=lsp.WorkspaceEdit(changes={params.text_document.uri: [change]}),
                )
                found.setdefault((edit.title, edit.line, edit.column), action)
        return list(found.values())

    return made


def _shown(path: str) -> str:
    """A path from the folder the server runs in where it lies below it, as the command line would name it."""
    real = os.path.relpath(path)
    return path if real.startswith("..") else real
