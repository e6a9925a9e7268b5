"""How the suite is run: helpers importable, whole runs on every core, brute force only where it is asked for.

Nothing here or in a test depends on time: a busy or a slow machine changes no result.
"""

from __future__ import annotations

import atexit
import gc
import os
import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

import brute_force
import pytest
from hypothesis import HealthCheck, settings

_HERE = Path(__file__).parent
for _folder in (*_HERE.iterdir(), _HERE.parent / "tools"):
    if _folder.is_dir() and not _folder.name.startswith((".", "_")):
        sys.path.insert(0, str(_folder))

# Files that take longest, longest first: begun last, one of them would keep a single core busy at the end.
LONGEST = (
    "law/test_blocking_law.py",
    "report/test_paper_and_telephone.py",
    "stress/test_dense_grid.py",
    "stress/test_converter_grid.py",
    "study/test_headroom_grid.py",
    "report/test_page_in_browser.py",
    "circuit/test_self_oscillating.py",
    "report/test_circuit_in_browser.py",
    "report/test_sheet_in_browser.py",
    "speed/test_work_done.py",
    "stress/test_converter_law.py",
    "study/test_netlist.py",
    "archive/test_cluster.py",
    "hook/test_pre_commit_hook.py",
    "study/test_missing_ranked.py",
    "study/test_planted_defects.py",
    "shipped/test_open_ends.py",
    "docs/test_evening_guide.py",
)


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--brute-force`: every change, every point and new random examples where an ordinary run takes a fixed share."""
    parser.addoption("--brute-force", action="store_true", help="everything instead of shares: takes long")


def pytest_configure(config: pytest.Config) -> None:
    """Before any test module is read, in this process and in each worker.

    The collector is set as a command of the house sets it. Next to nothing of a review is a cycle, and looking for
    cycles among ten thousand tests and the packs was a quarter of the processor time of the laws.
    """
    gc.set_threshold(500_000, 20, 20)
    whole = bool(config.getoption("--brute-force"))
    brute_force.BRUTE_FORCE = whole
    # An ordinary run draws the same examples everywhere; new ones are drawn where everything is tried.
    settings.register_profile(
        "suite", deadline=None, derandomize=not whole, suppress_health_check=[HealthCheck.too_slow]
    )
    settings.load_profile("suite")
    _read_packs_once()
    if gone := [name for name in LONGEST if not (_HERE / name).exists()]:
        raise pytest.UsageError(f"tests/conftest.py: LONGEST names what is not there: {', '.join(gone)}")


def _read_packs_once() -> None:
    """The shipped packs compiled, as a wheel has them, in this process: reading them anew was a quarter of the suite.

    A pack of another content is read from its file as ever, and so is every pack in a process that a test starts.
    `tests/packs/test_compiled_packs.py` holds that what is compiled is what is read.
    """
    from compile_packs import packs_as_data

    from derate.packs import compiled

    kept = Path(tempfile.mkdtemp(prefix="derate-suite-")) / compiled.FILE
    atexit.register(shutil.rmtree, kept.parent, ignore_errors=True)
    kept.write_bytes(packs_as_data())
    compiled.stored_at = lambda: kept


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """What the laws were held on, added up over every test and every worker."""
    laws: dict[str, Counter[str]] = {}
    reports = [one for found in terminalreporter.stats.values() for one in found]
    for report in reports:
        for name, value in getattr(report, "user_properties", ()) if getattr(report, "when", "") == "call" else ():
            if name == "law":
                law, counts = value
                laws.setdefault(law, Counter()).update(counts)
    for law, counts in sorted(laws.items()):
        terminalreporter.write_line(f"{law}: {', '.join(f'{count} {what}' for what, count in sorted(counts.items()))}")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """A process for each core when the whole suite is asked for, none besides this one when files are named."""
    if config.args_source is not pytest.Config.ArgsSource.TESTPATHS:
        return 0
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest files first, each in its own order: a file is run by one worker as a whole."""
    first = {name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: first.get(item.path.relative_to(_HERE).as_posix(), len(first)))


def pytest_collection_finish() -> None:
    """Tests and modules stay until the end: the collector need not go through them again."""
    gc.freeze()
