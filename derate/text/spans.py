"""YAML with the places of its nodes as offsets in the text, for who writes into a file; and lines of it as plain data.

A file that is judged is read by `derate.text.nodes`, which refuses what the format does not have; this reads what that
one has read already.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import yaml


class Span(NamedTuple):
    """One node. start, end: offsets in the text (a block ends behind the comments that follow it); column: of its start

    text: of a scalar; entries: of a mapping, by key; items: of a list; flow: written in braces or brackets
    """

    kind: Literal["scalar", "mapping", "list"]
    start: int
    end: int
    column: int
    text: str = ""
    entries: tuple[tuple[str, Span], ...] = ()
    items: tuple[Span, ...] = ()
    flow: bool = False

    @property
    def empty(self) -> bool:
        """Whether nothing stands in it."""
        return not (self.text or self.entries or self.items)

    @property
    def last(self) -> int:
        """Where its last leaf ends."""
        if self.kind == "scalar" or self.flow or self.empty:
            return self.end
        return (self.entries[-1][1] if self.entries else self.items[-1]).last


def spans_of(text: str) -> Span | None:
    """The one document of a text as spans; None where it holds nothing."""
    root: Any = yaml.compose(text, Loader=yaml.SafeLoader)
    return _span(root) if root is not None else None


def _span(node: Any) -> Span:
    at = (node.start_mark.index, node.end_mark.index, node.start_mark.column)
    if isinstance(node, yaml.MappingNode):
        entries = tuple((str(key.value), _span(value)) for key, value in node.value)
        return Span("mapping", *at, entries=entries, flow=bool(node.flow_style))
    if isinstance(node, yaml.SequenceNode):
        return Span("list", *at, items=tuple(map(_span, node.value)), flow=bool(node.flow_style))
    return Span("scalar", *at, text=node.value)


def loaded(text: str) -> Any:
    """A text of our own as dicts, lists and texts."""
    return yaml.load(text, Loader=yaml.BaseLoader)
