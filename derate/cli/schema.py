"""`derate schema`: print the JSON Schema of a design, a pack or an output."""

from __future__ import annotations

import argparse
import json
from typing import Any

from derate.cli.arguments import Parser
from derate.cli.output import say

KINDS = ("design", "pack", "lint", "stress", "faults")


def parser() -> Parser:
    """What the command takes."""
    made = Parser("schema", "Print the JSON Schema of a design, of a rule pack, or of what a command prints as JSON.")
    made.add_argument("kind", nargs="?", choices=KINDS, default="design", help="of what; a design when nothing is said")
    return made


def run(arguments: argparse.Namespace) -> int:
    """Print one schema."""
    say(schema_text(arguments.kind))
    return 0


def schema_text(kind: str) -> str:
    """One schema as text, the same bytes every time."""
    schema: dict[str, Any]
    if kind == "design":
        from derate.report.design_schema import design_schema

        schema = design_schema()
    elif kind == "pack":
        from derate.report.pack_schema import pack_schema

        schema = pack_schema()
    else:
        from derate.report.schema import OUTPUTS

        schema = OUTPUTS[kind]
    return json.dumps(schema, indent=2, ensure_ascii=True) + "\n"
