"""What the README's first command installs is enough: the base dependencies, and nothing of an extra."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from importlib.metadata import distribution, packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SOUND = "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
# Modules that an extra brings, by the name they are imported by, and the extra that the refusal names.
OF_AN_EXTRA = {
    "PIL": "report", "duckdb": "archive", "openpyxl": "lists", "pygls": "editor", "lsprotocol": "editor",
    "watchfiles": "editor", "distributed": "cluster",
}  # fmt: skip
_IMPORT = re.compile(r"^\s*(?:import|from) ([A-Za-z_]\w*)[\w.]*(?: import .*| as \w+)?$", re.M)
# Runs a command where no module of another distribution can be imported, as in a fresh environment.
_ALONE = """
import sys
from importlib.abc import MetaPathFinder
allowed = set(sys.argv[1].split(","))
class Fresh(MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        head = name.partition(".")[0]
        standard = head in sys.stdlib_module_names or head.startswith("_sysconfigdata_")
        if head not in allowed and not standard:
            raise ModuleNotFoundError(f"No module named {head!r}", name=head)
        return None
sys.meta_path.insert(0, Fresh())
from derate.cli.main import main
sys.exit(main(sys.argv[2:]))
"""


def closed(names: list[str]) -> set[str]:
    """Distributions and all that they require without an extra, by their plain names."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        requirement = waiting.pop()
        name = re.sub(r"[-_.]+", "-", re.split(r"[ ;<>=!~\[(]", requirement, maxsplit=1)[0]).lower()
        if name in found or "extra ==" in requirement or "extra==" in requirement:
            continue
        if "sys_platform" in requirement or "python_version" in requirement:
            continue  # for other systems and versions than those that are asked for
        found.add(name)
        waiting += distribution(name).requires or []
    return found


def importable() -> set[str]:
    """Names of modules that the base dependencies bring, and the project's own."""
    base = closed(PROJECT["dependencies"])
    plain = {head: {re.sub(r"[-_.]+", "-", one).lower() for one in names}
             for head, names in packages_distributions().items()}  # fmt: skip
    return {head for head, names in plain.items() if names & base} | {"derate"}


def test_the_first_command_installs_the_project_without_an_extra() -> None:
    first = next(line for line in README.partition("## Use")[2].splitlines() if line.startswith("python3 -m venv"))
    assert "pip install -q . &&" in first and "[" not in first
    assert "numpy" in closed(PROJECT["dependencies"]) and not {"pillow", "duckdb"} & closed(PROJECT["dependencies"])


def test_every_module_that_is_imported_is_a_base_dependency_or_of_a_named_extra() -> None:
    base, extras = importable(), PROJECT["optional-dependencies"]
    strangers = {}
    for path in sorted((ROOT / "derate").rglob("*.py")):
        named = set(_IMPORT.findall(path.read_text(encoding="utf-8")))
        for head in named - base - sys.stdlib_module_names - OF_AN_EXTRA.keys():
            strangers[head] = path.relative_to(ROOT).as_posix()
    assert not strangers
    assert set(OF_AN_EXTRA.values()) <= extras.keys()


@pytest.mark.parametrize(
    "command",
    [
        ("capture", SOUND), ("lint", SOUND), ("report", SOUND, "--format", "summary"),
        ("schema",), ("explain", "no-solder-blobs"),
    ],
    ids=lambda one: one[0],
)  # fmt: skip
def test_a_command_needs_no_more_than_the_base(command: tuple[str, ...]) -> None:
    done = subprocess.run(
        [sys.executable, "-c", _ALONE, ",".join(sorted(importable())), *command],
        capture_output=True, text=True, timeout=120, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode in (0, 1) and "Error" not in done.stderr, done.stderr[-800:]
    assert len(done.stdout) > 200
    if command[0] == "capture":
        assert "I²t" in done.stdout


def test_the_trial_itself_sees_a_module_that_no_base_dependency_brings() -> None:
    code = _ALONE.replace("from derate.cli.main import main\nsys.exit(main(sys.argv[2:]))", "import openpyxl")
    done = subprocess.run([sys.executable, "-c", code, ",".join(sorted(importable()))], capture_output=True, text=True)
    assert done.returncode == 1 and "No module named 'openpyxl'" in done.stderr
