"""What `derate lint` may not load on its way: a list is steadier than a stopwatch."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from small_supply import bench

NEVER = {
    "numpy", "jinja2", "jsonschema", "rich.markdown", "PIL", "importlib.metadata", "difflib", "pydantic",
    "derate.study.missing", "derate.study.headroom", "derate.study.faults", "subprocess",
}  # fmt: skip
_LOADED = """
import sys
from derate.cli.main import main
status = main(sys.argv[1:])
print(*sorted(sys.modules), file=sys.stderr)
sys.exit(status)
"""


def _modules(*argv: str) -> set[str]:
    done = subprocess.run([sys.executable, "-c", _LOADED, *argv], capture_output=True, text=True, timeout=60)
    assert done.returncode in (0, 1), done.stderr[-500:]
    return set(done.stderr.split("\n")[-2].split())


@pytest.mark.parametrize("form", [[], ["--format", "json"], ["--verbose"]])
def test_lint_for_a_pipe_loads_no_heavy_module(form: list[str], tmp_path: Path) -> None:
    file = bench(tmp_path)
    loaded = _modules("lint", str(file), "--pack", "bench-house", *form)
    assert {"yaml", "derate.design.load", "derate.judge.judge"} <= loaded  # the list is a real one
    assert not loaded & (NEVER | {"rich", "rich.console", "dataclasses", "inspect", "shutil"})


def test_lint_for_people_loads_rich_and_nothing_heavier(tmp_path: Path) -> None:
    loaded = _modules("lint", str(bench(tmp_path)), "--pack", "bench-house", "--colour", "always")
    assert "rich.console" in loaded and not loaded & (NEVER | {"rich.table"})


@pytest.mark.parametrize("option", ["--version", "--help"])
def test_version_and_help_load_no_model(option: str) -> None:
    loaded = _modules(option)
    assert not loaded & {"yaml", "pydantic", "argparse", "rich", "derate.design", "importlib.metadata"}


def test_help_of_a_command_loads_no_model() -> None:
    loaded = _modules("lint", "--help")
    assert not loaded & {"pydantic", "rich", "derate.design.load", "importlib.metadata"}
