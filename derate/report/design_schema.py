"""JSON Schema of a design file, from its records: what editors complete and check."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from derate.design.blocks import DesignFile
from derate.design.kinds import KIND_WORDS
from derate.design.plain_forms import Block, Each, ListOf, OrNone
from derate.design.record import Field, Record
from derate.design.settings import SettingsFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def design_schema() -> dict[str, Any]:
    """The schema of a design. A part may also be one line: `film resistor 1 Mohm 5%`."""
    schema = DesignFile.schema()
    short = {"type": "string", "description": "the kind, then figures with their units"}
    parts = schema["properties"]["parts"]
    part = parts["additionalProperties"]
    part["properties"]["kind"]["examples"] = sorted(KIND_WORDS)
    parts["additionalProperties"] = {"anyOf": [part, short]}
    revision = {"required": ["derate", "revision_of"]}
    whole = {"required": schema.pop("required")}
    return {"$schema": DIALECT, "title": "A derate design", **schema, "anyOf": [whole, revision]}


def settings_schema() -> dict[str, Any]:
    """The schema of the settings of a repository, `.derate.yaml`."""
    return {"$schema": DIALECT, "title": "The settings of derate in a repository", **SettingsFile.schema()}


def keys_of(record: type[Record], path: str = "") -> Iterator[tuple[str, Field]]:
    """Every key of a record with its path, blocks inside blocks too."""
    for key, field in record.fields.items():
        at = f"{path}{key}"
        yield at, field
        form, more = field.form, f"{at}."
        while isinstance(form, Each | OrNone | ListOf):
            more = f"{more}NAME." if isinstance(form, Each) else more
            form = form.form
        if isinstance(form, Block):
            yield from keys_of(form.record, more)
