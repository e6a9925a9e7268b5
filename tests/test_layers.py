"""Who may import whom: the layers of the project, held by walking the imports."""

from __future__ import annotations

import ast
import sys
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
    "required": {"ledger", "packs", "design", "circuit", "text"},
    "judge": {"ledger", "packs", "text"},
    "study": {"text", "circuit", "ledger", "design", "packs", "stress", "required", "judge", "numpy"},
    "report": {"judge", "required", "design", "ledger", "text", "packs", "rich", "jinja2", "markupsafe", "PIL"},
    "cli": {"*"},
}
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
        if len(parts) < 2 or parts[0] not in ALLOWED:
            continue
        allowed = ALLOWED[parts[0]]
        for name in _imports(path):
            top, _, rest = name.partition(".")
            target = rest.split(".")[0] if top == "derate" else top
            fine = (
                "*" in allowed
                or top in STANDARD
                or target in ("", "terms", parts[0])
                or target in allowed
                or (top == "derate" and not rest)
            )
            if not fine:
                wrong.append(f"{'/'.join(parts)} imports {name}")
    assert not wrong, "\n".join(wrong)


def test_modules_stay_small() -> None:
    long = {
        str(path.relative_to(ROOT)): lines
        for path in ROOT.rglob("*.py")
        if (lines := path.read_text(encoding="utf-8").count("\n")) > 400
    }
    assert not long
