"""What an archive costs: `python tools/benchmark.py archive [--designs 1000] [--runs 1]`.

Processor time where it can be, since it hardly moves with what else runs; the clock for what two processes gain over
one, which says nothing on a busy machine. Memory is the most that each process ever had resident (Linux alone).
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from archive_designs import archive as designs

ROOT = Path(__file__).parents[1]
SIZES = (0.1, 0.3)  # shares of the archive whose memory is held beside that of all of it
COLD = 100  # designs that are linted cold, evenly drawn
_LOOKED = 0.5  # seconds between two looks at the memory of the processes


class Used(NamedTuple):
    """A command that was run. processor: with its children [s]; clock [s]; parent, worker: most memory resident [MB]"""

    processor: float
    clock: float
    parent: float
    worker: float


Measured = tuple[str, Sequence[float], str]  # name, readings [s], what is asked for


def figures(
    many: int, derate: Sequence[str], today: str, runs: int, cold: Callable[[Sequence[str]], float]
) -> Iterator[Measured | str]:
    """Readings as they come, and lines to print. cold: processor time of a command [s]"""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "designs"
        paths = written(home, many)
        store = home / "derate-archive.duckdb"
        command = [*derate, "archive", str(home), "--today", today, "--jobs"]
        linted = [cold([*derate, "lint", str(one), "--today", today]) for one in paths[:: max(1, many // COLD)]]
        each = sum(linted) / len(linted)
        yield f"a design of {many}: cold runs of lint, mean of {len(linted)}", [each], ""
        found: dict[int, list[Used]] = {1: [], 2: []}
        for _ in range(runs):
            for jobs, kept in found.items():
                store.unlink(missing_ok=True)
                kept.append(used([*command, str(jobs)]))
        own = {jobs: [one.processor / many for one in kept] for jobs, kept in found.items()}
        clock = {jobs: [one.clock / many for one in kept] for jobs, kept in found.items()}
        yield "  in one process", own[1], "half of that"
        yield "  in two processes", own[2], ""
        yield "  in one process, on the clock", clock[1], ""
        yield "  in two, on the clock", clock[2], ""
        yield f"  per core {each / min(own[1]):.2f} times the throughput of cold runs, 2 asked for"
        yield f"  two processes {min(clock[1]) / min(clock[2]):.2f} times one on the clock, 1.7 asked for"
        size, rows = store.stat().st_size, _findings(store)
        again = [used([*command, "1"]).processor / many for _ in range(runs)]
        yield "  in a run where nothing changed", again, ""
        yield f"  store {size / many / 1000:.1f} kB and {rows / many:.0f} findings a design"
        small = [(len(some), _in_two(Path(folder) / f"some-{len(some)}", some, derate, today)) for some in _some(many)]
        for count, one in [*small, (many, found[2][-1])]:
            yield f"  most memory, {count} designs: parent {one.parent:.0f} MB, worker {one.worker:.0f} MB"
        yield from page(home, derate, runs)


def written(home: Path, many: int) -> list[Path]:
    """An archive of so many designs in a repository of its own; their paths in the order they were made."""
    return _laid(home, list(designs(many, 1)))


def _laid(home: Path, made: Sequence[tuple[str, str]]) -> list[Path]:
    (home / ".git").mkdir(parents=True)
    for path, text in made:
        (home / path).parent.mkdir(exist_ok=True)
        (home / path).write_text(text, encoding="utf-8")
    return [home / path for path, _ in made]


def _some(many: int) -> Iterator[list[tuple[str, str]]]:
    for share in SIZES:
        yield list(designs(max(1, round(share * many)), 1))


def _in_two(home: Path, made: Sequence[tuple[str, str]], derate: Sequence[str], today: str) -> Used:
    _laid(home, made)
    return used([*derate, "archive", str(home), "--today", today, "--jobs", "2"])


def _findings(store: Path) -> int:
    from derate.archive.store import Store

    with Store(str(store)) as kept:
        return int(kept.rows("SELECT count(*) FROM finding")[0][0])


def used(command: Sequence[str]) -> Used:
    """A command run to its end. RuntimeError where it fails; exit status 1 is a design that blocks."""
    began = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    most: dict[int, int] = {}
    while True:
        ended, status, usage = os.wait4(process.pid, os.WNOHANG)
        if ended:
            break
        for one in (process.pid, *_children(process.pid)):
            most[one] = max(most.get(one, 0), _resident(one))
        time.sleep(_LOOKED)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}")
    parent = most.pop(process.pid, 0)
    clock = time.monotonic() - began
    return Used(usage.ru_utime + usage.ru_stime, clock, parent / 1000, max(most.values(), default=0) / 1000)


def _children(process: int) -> list[int]:
    try:
        return [int(one) for one in Path(f"/proc/{process}/task/{process}/children").read_text().split()]
    except OSError:
        return []


def _resident(process: int) -> int:
    """The most a process ever had resident [kB]; 0 where nobody says."""
    try:
        for line in Path(f"/proc/{process}/status").read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1])
    except OSError:
        pass
    return 0


def page(home: Path, derate: Sequence[str], runs: int) -> Iterator[Measured | str]:
    """Processor time of a browser, all its processes, that opens and paints the page of the archive, less an empty one.

    The page is that of the run in the store; without the zygote every process of the browser is waited for and counted.
    """
    browser = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)
    if browser is None:
        yield "page: chromium is not installed here"
        return
    files = {name: home.parent / f"{name}.html" for name in ("empty", "whole")}
    files["empty"].write_text("<!doctype html><title>x</title>", encoding="utf-8")
    asked = [*derate, "archive", str(home), "--as-stored", "--page", str(files["whole"])]
    subprocess.run(asked, stdout=subprocess.DEVNULL, check=False)
    options = ["--headless=new", "--no-sandbox", "--no-zygote", "--disable-gpu", "--window-size=1280,2000"]
    command = [browser, *options, f"--user-data-dir={home.parent / 'profile'}"]
    taken: dict[str, list[float]] = {}
    for _ in range(max(3, runs) + 1):
        for name, file in files.items():
            picture = home.parent / f"{name}.png"
            taken.setdefault(name, []).append(used([*command, f"--screenshot={picture}", file.as_uri()]).processor)
    empty = min(taken["empty"][1:])
    yield (
        f"page of {_designs(files['whole'])} designs, opened and painted",
        [max(0.0, one - empty) for one in taken["whole"][1:]],
        "2 s",
    )


def _designs(page: Path) -> int:
    return page.read_text(encoding="utf-8").count('<th scope="row">')


if __name__ == "__main__":
    sys.exit("this is run by tools/benchmark.py archive")
