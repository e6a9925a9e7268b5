"""Two designs state every key of the schema between them, so that the laws over leaves are held on every key."""

from __future__ import annotations

from collections.abc import Iterator
from fnmatch import fnmatchcase
from pathlib import Path

import pytest
import yaml
from law_bench import EVERY, Bench

from derate.design.blocks import DesignFile
from derate.design.circuit import Circuit
from derate.design.plain_forms import Each, ListOf
from derate.topologies import topology_of

DESIGNS = ("every key", "every key, bipolar")
_LINE_TRANSFORMER = (EVERY["line transformer"], "of a transformer at the mains and of what stands behind it")
# Keys that exclude those of both, and where they are stated instead. The list only ever gets shorter.
ELSEWHERE = {
    "parts.x.quiescent_current": _LINE_TRANSFORMER,
    "parts.x.rated.dropout_voltage": _LINE_TRANSFORMER,
    "transformers.x.short_circuit_proof": _LINE_TRANSFORMER,
    "transformers.x.no_load_current": _LINE_TRANSFORMER,
    "transformers.x.chambers": _LINE_TRANSFORMER,
    "transformers.x.wall": _LINE_TRANSFORMER,
    "transformers.x.windings.x.open_voltage": _LINE_TRANSFORMER,
    "transformers.x.windings.x.rated_voltage": _LINE_TRANSFORMER,
    "transformers.x.windings.x.rated_current": _LINE_TRANSFORMER,
    "revision_of": (EVERY["revision"], "a file that revises another states only what is different"),
}

# Keys that name an entry of a library, whose facts are laid under those of the file before anything is read of it.
OF_A_LIBRARY = {"parts.x.part", "parts.x.maker"}


def _keys(record: type, path: tuple[str, ...] = ()) -> Iterator[str]:
    """Every key of the table of a file, names of one's own as `x`."""
    for key, field in record.fields.items():  # type: ignore[attr-defined]
        form, own = field.form, (*path, key)
        while not hasattr(form, "record") and hasattr(form, "form"):
            form, own = form.form, (*own, "x") if isinstance(form, Each | ListOf) else own
        yield ".".join(own)
        if hasattr(form, "record"):
            yield from _keys(form.record, own)


def _stated(path: Path) -> set[str]:
    """Every key that a file states, as its trail."""
    found: set[str] = set()

    def walk(node: object, trail: tuple[str, ...]) -> None:
        held = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
        for key, value in held:
            found.add(".".join((*trail, str(key))))
            walk(value, (*trail, str(key)))

    walk(yaml.load(path.read_text(encoding="utf-8"), yaml.BaseLoader), ())
    return found


def _is_stated(key: str, stated: set[str]) -> bool:
    pattern, depth = key.replace(".x", ".*"), key.count(".")
    return any(one.count(".") >= depth and fnmatchcase(one, pattern) for one in stated)


def test_every_key_of_the_schema_is_stated() -> None:
    flyback = topology_of("flyback")
    assert flyback is not None and issubclass(flyback.circuit, Circuit)
    wanted = {*_keys(DesignFile), *_keys(flyback.circuit, ("circuit",))}
    stated = set().union(*(_stated(EVERY[name]) for name in DESIGNS))
    missing = {key for key in wanted if not _is_stated(key, stated)}
    assert len(wanted) > 300 and missing == {*ELSEWHERE, *OF_A_LIBRARY}
    assert all(_is_stated(key, _stated(path)) and reason for key, (path, reason) in ELSEWHERE.items())
    assert len(ELSEWHERE) <= 10


@pytest.mark.parametrize("name", DESIGNS)
def test_they_are_read_and_worked_through(name: str) -> None:
    """Most of what they state comes to a word, so that a move has something to be heard by."""
    review = Bench.of(name).review()
    assert review is not None
    words = [one.verdict for one in review.findings if one.verdict != "not applicable"]
    assert words.count("pass") + words.count("marginal") > 0.5 * len(words)
