"""The published schema of a pack: the keys of its readers, a form for every one, and every shipped pack inside it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from derate.packs.change import ALLOWED
from derate.packs.read_pack import _AXIS_KEYS, _KEYS, _SOURCE_KEYS, KEYS
from derate.packs.read_rule import KEYS as RULE_KEYS
from derate.report.schemas import OF_ASSUMPTION, OF_PACK, OF_RULE, OF_SOURCE, OF_TABLE, pack_schema

ROOT = Path(__file__).parents[2]
PACKS = sorted([*ROOT.glob("rules/*.yaml"), *ROOT.glob("tests/data/packs/*.yaml")])


def _first(path: Path) -> Any:
    return next(iter(yaml.load_all(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)))


@pytest.mark.parametrize("path", PACKS, ids=lambda path: path.stem)
def test_every_shipped_pack_holds_it(path: Path) -> None:
    errors = [f"{list(one.absolute_path)}: {one.message[:160]}"
              for one in jsonschema.Draft202012Validator(pack_schema()).iter_errors(_first(path))]
    assert not errors, errors[:5]


def test_the_keys_are_those_of_the_readers() -> None:
    schema = pack_schema()
    assert tuple(schema["properties"]) == KEYS == tuple(OF_PACK)
    rule = schema["properties"]["rules"]["items"]
    assert set(rule["properties"]) == set(RULE_KEYS) and set(OF_RULE) == {*RULE_KEYS, "reason"}
    table = schema["properties"]["tables"]["additionalProperties"]
    assert set(table["properties"]) == set(_KEYS) and set(OF_TABLE) == {*_KEYS, *_AXIS_KEYS}
    assert tuple(OF_SOURCE) == _SOURCE_KEYS
    assert set(schema["properties"]["assumptions"]["additionalProperties"]["properties"]) == set(OF_ASSUMPTION)
    for word, keys in ALLOWED.items():
        assert set(schema["properties"][word]["additionalProperties"]["properties"]) == set(keys)


def _open(schema: Any, path: str = "") -> list[str]:
    if not isinstance(schema, dict):
        return []
    found = [path] if not set(schema) - {"description", "examples"} else []
    if schema.get("type") == "object" and not {"properties", "additionalProperties", "patternProperties"} & set(schema):
        found.append(path)
    if schema.get("type") == "array" and "items" not in schema:
        found.append(path)
    for key in ("properties", "$defs", "patternProperties"):
        for name, inner in schema.get(key, {}).items():
            found += _open(inner, f"{path}.{name}")
    for key in ("additionalProperties", "items"):
        if isinstance(schema.get(key), dict):
            found += _open(schema[key], f"{path}.*")
    for inner in schema.get("anyOf", []):
        found += _open(inner, path)
    return found


def test_no_key_is_without_a_form_and_each_says_what_it_is() -> None:
    assert _open(pack_schema()) == []
    assert _open({"properties": {"a": {"type": "object"}}}) == [".a"]
    for shape in pack_schema()["properties"].values():
        assert shape["description"] and shape["examples"]


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("restate", {"a-rule": {"about": "part"}}), ("restate", {"table.x": {"axes": {}}}), ("relax", {"a-rule": {}}),
        ("switch_off", {"a-rule": {}}), ("tighten", {"a-rule": {"hazard": "fire"}}), ("titel", "x"),
    ],
)  # fmt: skip
def test_it_refuses(key: str, value: Any) -> None:
    validator = jsonschema.Draft202012Validator(pack_schema())
    data = {"pack": "a-pack", "title": "t", "covers": "c"}
    assert not list(validator.iter_errors(data)) and list(validator.iter_errors({**data, key: value}))


def test_every_example_of_a_plain_key_holds_its_own_form() -> None:
    schema = pack_schema()
    blocks = {
        "pack": (OF_PACK, schema["properties"]),
        "rule": (OF_RULE, schema["properties"]["rules"]["items"]["properties"]),
        "table": (OF_TABLE, schema["properties"]["tables"]["additionalProperties"]["properties"]),
        "assumption": (OF_ASSUMPTION, schema["properties"]["assumptions"]["additionalProperties"]["properties"]),
    }
    for name, (told, properties) in blocks.items():
        for key, shape in properties.items():
            value = yaml.load(told[key][1], Loader=yaml.BaseLoader)
            checked = jsonschema.Draft202012Validator({**shape, "$defs": schema["$defs"]})
            assert not list(checked.iter_errors(value)) or isinstance(value, dict | list), (name, key, value)
