"""The order in which a file says things decides nothing: every block and every list of entries is shuffled.

A path, the layers of a transformer, a sum and the ends of a voltage are orders that mean something; nothing else is.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from law_bench import PATHS, Bench

from derate.judge.review import Review

# Lists whose order is what they say: paths of a circuit, layers from one end to the other, pins.
IN_ORDER = ("circuit", "from_core_outwards", "from_outside_inwards", "pins", "between", "joined_to")
_NUMBER = re.compile(r" \(\d\)(?=$|:)")


def shuffled(node: Any, rng: random.Random, key: str = "", fixed: bool = False) -> Any:
    """The same document with the entries of every block and of every list of blocks in another order."""
    if isinstance(node, dict):
        items = [(name, shuffled(value, rng, name, fixed or name in IN_ORDER)) for name, value in node.items()]
        if not _is_table(node):
            rng.shuffle(items)
        return dict(items)
    if isinstance(node, list):
        found = [shuffled(one, rng, key, fixed) for one in node]
        if not fixed:
            rng.shuffle(found)
        return found
    return node


def _is_table(node: dict[str, Any]) -> bool:
    """Whether its keys are figures: the rows of a table, which have to rise and are refused in any other order."""
    return all(key[:1].isdigit() or key[:1] == "-" for key in node)


def told(review: Review | None) -> list[tuple[object, ...]]:
    """Every finding without the place it stands at and the number of what is read twice: both move with the entries."""
    assert review is not None
    rows: list[tuple[object, ...]] = []
    for one in review.findings:
        subject, message = _NUMBER.sub("", str(one.subject)), _NUMBER.sub("", one.message)
        rows.append((one.rule, subject, one.verdict, str(one.case), repr(one.ratio), message, one.blocks))
    return sorted(rows)


def _first_difference(one: list[tuple[object, ...]], other: list[tuple[object, ...]]) -> Iterator[str]:
    for gone in sorted(set(one) - set(other)):
        yield f"- {gone}"
    for come in sorted(set(other) - set(one)):
        yield f"+ {come}"


def _loaded(text: str) -> dict[str, Any]:
    document = yaml.load(text, yaml.BaseLoader)  # every scalar stays the text it was
    document.pop("derate")
    return document  # type: ignore[no-any-return]


def _changed(name: str, seed: int, change: Any = None) -> tuple[str, str]:
    document = _loaded(PATHS[name].read_text(encoding="utf-8"))
    if change is not None:
        change(document)
    other = shuffled(document, random.Random(seed))

    def dumped(one: dict[str, Any]) -> str:
        return "derate: 1\n" + yaml.safe_dump(one, sort_keys=False, allow_unicode=True, width=10_000)

    return dumped(document), dumped(other)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("name", list(PATHS))
def test_entries_in_any_order_are_judged_alike(name: str, seed: int) -> None:
    bench = Bench.of(name)
    plain, other = _changed(name, seed)
    assert plain != other
    one, two = told(bench.review(plain)), told(bench.review(other))
    assert one == two, "\n".join(_first_difference(one, two))


def _more_of_each(document: dict[str, Any]) -> None:
    """Entries of one kind that do not say the same: each pair could be taken by its first or by its last."""
    at = {"mains": "230 V", "frequency": "50 Hz", "load": "full", "ambient": "24 degC", "after": "90 min"}
    document["readings"] += [
        {"at": dict(at), "winding_temperature": {"T1": "92 degC"}, "case_temperature": {"T1": "81 degC"}},
        {"at": dict(at), "case_temperature": {"T1": "95 degC", "C1": "61 degC"}, "voltage": {"main": "11.5 V"}},
        {"at": {**at, "load": "0.9 A"}, "winding_temperature": {"T1": "101 degC"}},
        {"at": {"mains": "264 V", "frequency": "50 Hz", "load": "full"}, "voltage_peak": {"Q1": "640 V"}},
        {"at": {"mains": "230 V", "frequency": "50 Hz", "load": "none"}, "mains_power": "140 mW"},
    ]
    pair = ("primary", "secondary")
    strength = {"test": "electric strength", "result": "held"}
    document["tests"] += [
        {**strength, "between": [*pair], "voltage": "3750 Vac", "time": "1 s"},
        {**strength, "between": [*pair], "voltage": "1500 Vac", "time": "60 s"},
        {"test": "overload", "output": "main", "mains": "110 V", "shuts_down_at": "1.71 A"},
        {"test": "touch current", "from": "main", "mains": "264 V", "result": "0.03 mA"},
        {"test": "insulation resistance", "between": [*pair], "voltage": "500 Vdc", "result": "3 Mohm"},
        {"test": "fault", "fault": "C1 shorted", "result": "tripped"},
        {"test": "fault", "fault": "C1 shorted", "result": "flames"},
    ]
    document["barriers"]["under transformer, far end"] = {
        "between": ["secondary", "primary"],
        "clearance": "4.9 mm",
        "creepage": "6.1 mm",
    }


@pytest.mark.parametrize("seed", range(4))
def test_entries_that_do_not_say_the_same_are_judged_alike_in_any_order(seed: int) -> None:
    """A winding temperature ahead of a case temperature or behind it, a test that failed ahead of one that held."""
    bench = Bench.of("sound")
    plain, other = _changed("sound", seed, _more_of_each)
    one, two = told(bench.review(plain)), told(bench.review(other))
    assert one == two, "\n".join(_first_difference(one, two))
