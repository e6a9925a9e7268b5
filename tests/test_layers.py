"""Who may import whom: the layers of the project, held by walking the imports."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from pathlib import Path

import derate

ROOT = Path(derate.__file__).parent
# layer -> what it may import besides itself and `derate.terms`; third parties as named
ALLOWED: dict[str, set[str]] = {
    "terms": set(),
    "text": {"yaml"},
    "circuit": set(),
    "ledger": set(),
    "design": {"text", "ledger"},
    "packs": {"text"},
    "stress": {"design", "circuit", "ledger"},
    "topologies": {"stress", "design", "circuit", "ledger"},
    "run": {"topologies", "stress", "design", "ledger"},
    "insulation": {"ledger", "packs", "design", "circuit", "text"},
    "judge": {"ledger", "packs", "text"},
    "study": {
        "text",
        "circuit",
        "ledger",
        "design",
        "packs",
        "stress",
        "topologies",
        "run",
        "insulation",
        "judge",
        "numpy",
        "openpyxl",
    },
    "archive": {"text", "ledger", "design", "packs", "judge", "study", "duckdb", "distributed"},
    "report": {
        "judge",
        "insulation",
        "design",
        "ledger",
        "text",
        "packs",
        "rich",
        "jinja2",
        "markupsafe",
        "PIL",
        "pydantic",
        "jsonschema",
    },
    "editor": {
        "report",
        "topologies",
        "study",
        "judge",
        "insulation",
        "design",
        "ledger",
        "packs",
        "text",
        "pygls",
        "lsprotocol",
    },
    "cli": {"*"},
}
# Stages of `stress/`: what every stage works with is at the top; the faults build on the other stages, the bench on
# what was worked out.
STAGES: dict[str, set[str]] = {
    "mains": {"parts"},
    "parts": {"mains"},
    "faults": {"mains", "parts"},
    "bench": {"parts"},
    "ports": {"parts", "faults"},
}
# Imported for a hint of type alone.
HINTS: dict[str, set[str]] = {}
STANDARD = sys.stdlib_module_names | {"__future__"}


def _imports(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.append(node.module)
    return found


def test_every_layer_imports_only_what_it_may() -> None:
    wrong = []
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).parts
        layer = parts[0].removesuffix(".py")
        if layer not in ALLOWED:
            continue
        allowed = ALLOWED[layer]
        for name in _imports(path):
            top, _, rest = name.partition(".")
            target = rest.split(".")[0] if top == "derate" else top
            fine = (
                "*" in allowed
                or top in STANDARD
                or target in ("", "terms", layer)
                or target in allowed
                or (top == "derate" and not rest)
            )
            if not fine:
                wrong.append(f"{'/'.join(parts)} imports {name}")
    assert not wrong, "\n".join(wrong)


def test_stages_import_one_way_and_nothing_runs_in_a_circle() -> None:
    """Between modules every arrow points down: no two import each other, over however many others."""
    arrows: dict[str, set[str]] = {}
    for path in sorted(ROOT.rglob("*.py")):
        name = ".".join(("derate", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
        arrows[name] = {one for one in _imports(path) if one.startswith("derate.")} - HINTS.get(name, set())
    left = {name: {one for one in found if one in arrows} for name, found in arrows.items()}
    while ground := [name for name, found in left.items() if not found & left.keys()]:
        for name in ground:
            del left[name]
    assert not left, f"these import each other in a circle: {sorted(left)}"
    for stage, allowed in STAGES.items():
        for name, found in arrows.items():
            if name.startswith(f"derate.stress.{stage}."):
                others = {one.split(".")[2] for one in found if one.startswith("derate.stress.") and one.count(".") > 2}
                assert others <= {stage, *allowed}, f"{name} imports {others - {stage, *allowed}}"


# What may name a topology: the list of its words, the formulas of the physics, and a source by its title.
NAMED = {"terms/topologies.py", "insulation/transformer.py"}
PLACES = ("primary switch", "current sense", "snubber")  # of parts on the keys that a flyback adds


def test_nothing_outside_its_folder_knows_a_topology() -> None:
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).parts
        if parts[0] in ("topologies", "circuit"):
            continue
        text = path.read_text(encoding="utf-8")
        name = "/".join(parts)
        assert name in NAMED or "flyback" not in text.lower(), name
        assert not [one for one in PLACES if f'"{one}"' in text], name
        assert not [one for one in _imports(path) if one.startswith("derate.topologies.")], name


EXTRAS = {"PIL", "distributed", "duckdb", "openpyxl", "pygls", "lsprotocol", "watchfiles"}


def test_what_is_imported_is_installed_by_the_first_command() -> None:
    """A plain `pip install .` brings all that any command imports; the rest are extras, asked for in words."""
    project = tomllib.loads((ROOT.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    brought = {re.split(r"[^\w-]", one)[0].lower() for one in project["dependencies"]}
    distributions = {"yaml": "pyyaml", "markupsafe": "jinja2"}  # names that differ, and what a dependency brings itself
    used = {name.split(".")[0] for path in ROOT.rglob("*.py") for name in _imports(path)} - STANDARD - {"derate"}
    assert "numpy" in used
    assert {distributions.get(one, one) for one in used} - brought == EXTRAS
