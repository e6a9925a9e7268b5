"""Every figure of time of the project: `python tools/benchmark.py [--runs N] [WORD…]`. Holds nothing, prints all.

Processor time, user and system, never the clock. Each command is a process of its own with a run of the yardstick
ahead of it: the start of Python with argparse, PyYAML and pydantic. Least, median and most of the runs are printed,
and the least over the least of its own yardsticks: that ratio hardly moves with the machine or with what else runs.
What the tests hold in its place are counts (`tests/speed`): solves, calls, modules loaded.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from statistics import median
from typing import NamedTuple

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), *(str(ROOT / "tests" / folder) for folder in ("", "speed", "hook", "circuit", "hardening"))]
os.environ["PYTHONPATH"] = str(ROOT)
os.environ["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # cold is a new process, not one that compiles every module

YARDSTICK = [sys.executable, "-c", "import argparse, yaml; from pydantic import BaseModel"]
# -P: what PYTHONPATH names comes first, not the folder it runs in
DERATE = [sys.executable, "-P", "-c", "from derate.cli.main import entry; entry()"]
DAY = "2026-11-25"
SOUND = ROOT / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
FIRST = ROOT / "designs" / "first-look" / "desk-lamp-adapter.derate.yaml"
SHIPPED = sorted((ROOT / "designs").glob("*/*.derate.yaml"))
WHOLE = (
    SOUND,
    ROOT / "designs" / "market-stall-lamp" / "market-stall-lamp.derate.yaml",
    ROOT / "tests" / "data" / "designs" / "scale-console-45W.derate.yaml",
    ROOT / "tests" / "data" / "designs" / "led-driver.derate.yaml",
)


ARCHIVE = 120  # designs that an archive is measured with; --designs says another number


class Row(NamedTuple):
    """One line of the table: processor times [s], the least yardstick among them [s], what is asked for."""

    name: str
    taken: Sequence[float]
    yardstick: float | None = None
    asked: str = ""


def processor_seconds(command: Sequence[str], folder: Path = ROOT, statuses: tuple[int, ...] = (0,)) -> float:
    """Processor time of a command and of what it waits for, user and system [s]. RuntimeError where it fails."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=folder)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in statuses:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}")
    return usage.ru_utime + usage.ru_stime


def measured(name: str, command: Sequence[str], runs: int, asked: str = "", folder: Path = ROOT) -> Row:
    """A command with a yardstick ahead of each run; exit status 1 is a design that fails, and no failure here."""
    processor_seconds(command, folder, (0, 1))  # the first compiles what has changed
    pairs = [(processor_seconds(YARDSTICK), processor_seconds(command, folder, (0, 1))) for _ in range(runs)]
    return Row(name, [taken for _, taken in pairs], min(yardstick for yardstick, _ in pairs), asked)


def called(name: str, call: Callable[[], object], runs: int, times: int = 1, asked: str = "") -> Row:
    """A call inside this process; `times` calls make one reading where one is too short for the clock."""
    taken = []
    for _ in range(runs):
        began = time.process_time()
        for _ in range(times):
            call()
        taken.append((time.process_time() - began) / times)
    return Row(name, taken, None, asked)


# ---- what is measured ------------------------------------------------------------------------------------------------


def installed(folder: str) -> None:
    """The package as a wheel puts it down, shipped packs compiled and all, and the commands told to run that one."""
    from compile_packs import packs_as_data, shipped_files

    from derate.packs.compiled import FILE

    package = Path(folder) / "derate"
    shutil.copytree(ROOT / "derate", package, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("rules", "parts"):
        shutil.copytree(ROOT / name, package / name)
    for file in shipped_files(ROOT / "designs"):
        there = package / "designs" / file.relative_to(ROOT / "designs")
        there.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(file, there)
    (package / "rules" / FILE).write_bytes(packs_as_data())
    subprocess.run([sys.executable, "-m", "compileall", "-q", str(package)], check=True)
    os.environ["PYTHONPATH"] = folder


def yardstick(runs: int) -> Iterator[Row]:
    """The yardstick by itself."""
    yield Row("yardstick", [processor_seconds(YARDSTICK) for _ in range(runs)])


def lint(runs: int) -> Iterator[Row]:
    """A cold lint of every shipped design."""
    for path in SHIPPED:
        asked = {SOUND: "3.3 yardsticks", FIRST: "2.0 yardsticks"}.get(path, "")
        yield measured(f"lint {path.name.split('.')[0]}", [*DERATE, "lint", str(path), "--today", DAY], runs, asked)


def commands(runs: int) -> Iterator[Row]:
    """The other commands on the sound design."""
    few = max(1, min(runs, 3))
    yield measured("faults", [*DERATE, "faults", str(SOUND)], runs, "5.0 yardsticks as it was")
    yield measured("report", [*DERATE, "report", str(SOUND), "--today", DAY], runs, "6 yardsticks")
    yield measured("stress --spread", [*DERATE, "stress", str(SOUND), "--spread"], 1, "60 s")
    for path in SHIPPED:
        name = path.name.split(".")[0]
        asked = ("2.5 s, 20 yardsticks", "2 s, 16 yardsticks") if path == SOUND else ("", "2 s")
        yield measured(f"headroom {name}", [*DERATE, "headroom", str(path)], few, asked[0])
        yield measured(f"missing {name}", [*DERATE, "missing", str(path)], few, asked[1])


def packs(runs: int) -> Iterator[Row]:
    """Loading the shipped packs inside this process: from their own files, and from the data that a wheel holds."""
    from compile_packs import packs_as_data

    from derate.packs import compiled
    from derate.packs.load import load_packs, shipped
    from derate.study.work import DEFAULT_PACKS

    every = tuple(path.stem for path in sorted(shipped("rules").glob("*.yaml")))
    own = compiled.stored_at
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / compiled.FILE
        data.write_bytes(packs_as_data())
        for kind, place in (("from their files", data.with_name("none")), ("from data", data)):
            compiled.stored_at = lambda place=place: place
            for names, what in ((every, "all packs"), (DEFAULT_PACKS, "the default packs")):

                def load(names: tuple[str, ...] = names) -> None:
                    compiled.forget()
                    load_packs(names)

                yield called(f"{what}, {kind}", load, max(runs, 20), asked="5 ms" if place == data else "")
    compiled.stored_at = own
    compiled.forget()


def large(runs: int) -> Iterator[Row]:
    """Two hundred parts: cold, and working through and judging alone."""
    from large_design import PACKS, large_design

    from derate.study.work import Workshop, review_of, worked

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / ".git").mkdir()
        path = Path(folder) / "large.derate.yaml"
        path.write_text(large_design(), encoding="utf-8")
        packs = [word for name in PACKS for word in ("--pack", name)]
        yield measured("two hundred parts, cold", [*DERATE, "lint", str(path), *packs, "--today", DAY], runs)
        work = Workshop(PACKS).work(str(path))
        day = date.fromisoformat(DAY)

        def through() -> None:
            review_of(work._replace(ledger=worked(work.design, work.packs)), day)

        yield called("two hundred parts, worked and judged", through, runs, asked="0.4 s")


def heavy(runs: int) -> Iterator[Row]:
    """The largest files: one that holds a bit of everything up to its limits, and those that are refused last."""
    from heavy_files import DESIGNS

    from derate.design.limits import MOST_PARTS

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / ".git").mkdir()
        path = Path(folder) / "heavy.derate.yaml"
        sizes = {"everything": MOST_PARTS - 2, "outputs": 24, "parallel_capacitors": 116, "long_text": 3_900_000}
        for kind, many in sizes.items():
            path.write_text(DESIGNS[kind][0](many), encoding="utf-8")
            command = [*DERATE, "lint", str(path), "--today", DAY]
            process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            _, status, usage = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
            print(f"  {kind}: exit status {process.returncode}, {usage.ru_maxrss / 1000:.0f} MB of 500 asked for")
            few = max(1, min(runs, 3))
            pairs = [
                (processor_seconds(YARDSTICK), processor_seconds([*DERATE, "lint", str(path)], statuses=(0, 1, 2)))
                for _ in range(few)
            ]
            yield Row(f"{kind}, {many}", [taken for _, taken in pairs], min(one for one, _ in pairs), "5 s")
            if kind in ("everything", "outputs"):  # what they work out is counted, and ends
                for study in ("missing", "headroom"):
                    yield measured(f"{study}, {kind}", [*DERATE, study, str(path)], 1, "5 s")


def archive(runs: int) -> Iterator[Row]:
    """An archive over all topologies: cold runs, one process, two, a run with nothing changed; memory; its page."""
    import benchmark_archive

    def cold(command: Sequence[str]) -> float:
        return processor_seconds(command, statuses=(0, 1))

    for one in benchmark_archive.figures(ARCHIVE, DERATE, DAY, max(1, min(runs, 3)), cold):
        if isinstance(one, str):
            print(one, flush=True)
        else:
            yield Row(one[0], one[1], None, one[2])


def hook(runs: int) -> Iterator[Row]:
    """Twenty different whole designs in the hook, over what an empty hook takes."""
    from test_pre_commit_hook import PRE_COMMIT, _git, _local, _pre_commit

    if PRE_COMMIT is None:
        print("hook: pre-commit is not installed here")
        return
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "hardware"
        folder.mkdir()
        os.environ["PRE_COMMIT_HOME"] = str(Path(home) / "pre-commit-home")
        for number in range(20):
            (folder / f"supply-{number:02}.derate.yaml").write_text(_varied(number), encoding="utf-8")
        _git(folder, "init", "-q", "-b", "main")
        found = {}
        for entry in ("true", f"derate lint --today {DAY}"):
            (folder / ".pre-commit-config.yaml").write_text(_local(entry), encoding="utf-8")
            _git(folder, "add", "-A")
            told = _pre_commit(folder, "run", "--all-files").stdout
            assert "derate" in told and (entry == "true" or told.count("supply-") >= 20), told
            found[entry] = measured(entry, [PRE_COMMIT, "run", "--all-files"], min(runs, 3), folder=folder)
        empty, full = found.values()
        yield full._replace(
            name="hook, 20 different designs over an empty hook",
            taken=[taken - min(empty.taken) for taken in full.taken],
            asked="2.5 s",
        )


def _varied(number: int) -> str:
    """One of the whole designs under a mains tolerance of its own: every corner of the mains is another one."""
    text = WHOLE[number % len(WHOLE)].read_text(encoding="utf-8")
    own = f"mains_tolerance: {10 + 0.1 * (number // len(WHOLE)):g}%"
    text, stated = re.subn(r"mains_tolerance: \d+%", own, text, count=1)
    if not stated:
        text = text.replace("\nsite: {", f"\nsite: {{{own}, ", 1)
    assert own in text
    return text


# Twice what the running rows took before inductance counted in them: 79 ms, with yardsticks of 114 to 127 ms.
PIECES_ASKED = {"mains input, running": "1.3 yardsticks"}


def profile(runs: int) -> Iterator[Row]:
    """A cold lint of the sound design by piece."""
    import json

    command = [sys.executable, str(ROOT / "tools" / "benchmark_pieces.py"), str(SOUND), DAY]
    seen: dict[str, list[float]] = {}
    own = []
    processor_seconds(command)
    for _ in range(runs):
        own.append(processor_seconds(YARDSTICK))
        done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
        for piece, seconds in json.loads(done.stdout).items():
            seen.setdefault(piece, []).append(seconds)
    for piece, taken in seen.items():
        yield Row(f"  {piece}", taken, min(own), PIECES_ASKED.get(piece, ""))


def editor(runs: int) -> Iterator[Row]:
    """What an editor waits for: the sound design opened, a figure of a part changed, a place of the barrier changed."""
    from derate.editor.desk import Desk

    text = SOUND.read_text(encoding="utf-8")
    for name, old, new in (
        ("opened", "", ""),
        ("a figure of a part changed", "voltage: 700 V", "voltage: 650 V"),
        ("a place of the barrier changed", "clearance: 3.4 mm", "clearance: 2.4 mm"),
    ):
        taken = []
        for _ in range(runs):
            desk = Desk(str(SOUND), date(2026, 11, 25))
            if old:
                desk.put(text)
            began = time.process_time()
            desk.put(text.replace(old, new, 1))
            taken.append(time.process_time() - began)
        yield Row(f"editor, {name}", taken, None, "1 s")


def solvers(runs: int) -> Iterator[Row]:
    """Single solvers and readers inside this process."""
    import benchmark_solvers

    for name, call, times, asked in benchmark_solvers.calls():
        yield called(name, call, runs, times, asked)


def ngspice(runs: int) -> Iterator[Row]:
    """Our solvers against ngspice, with the figures of both."""
    if shutil.which("ngspice") is None:
        print("ngspice is not installed here")
        return
    import benchmark_ngspice

    for one in benchmark_ngspice.comparisons(runs):
        ratio = min(one.ngspice) / min(one.own)
        yield Row(one.name, one.own)
        yield Row("  the same in ngspice", one.ngspice, None, "100 times at 0.5 %")
        apart = ", ".join(f"{name} {100.0 * (own / other - 1.0):+.2f} %" for name, own, other in one.figures)
        print(f"  {ratio:.0f} times as fast; ours against ngspice's: {apart}")


GROUPS = {
    one.__name__: one
    for one in (yardstick, lint, commands, packs, large, heavy, archive, hook, profile, editor, solvers, ngspice)
}


# ---- the table -------------------------------------------------------------------------------------------------------


def line(row: Row) -> str:
    """One row: name, runs, least, median and most, ratio to the yardstick, what is asked for."""
    unit, factor = ("ms", 1e3) if min(row.taken) >= 1e-3 else ("µs", 1e6)
    times = "".join(f"{factor * one:10.1f}" for one in (min(row.taken), median(row.taken), max(row.taken)))
    ratio = f"{min(row.taken) / row.yardstick:7.2f}" if row.yardstick else " " * 7
    return f"{row.name:46s}{len(row.taken):4d}{times} {unit}{ratio}  {row.asked}".rstrip()


def commit() -> str:
    """The commit that is measured, and whether there are changes on top of it."""
    if shutil.which("git") is None:
        return "unknown: git is not installed"

    def git(*words: str) -> str:
        return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True).stdout.strip()

    name = git("rev-parse", "HEAD")
    return (name or "unknown: no checkout") + (" with changes" if git("status", "--porcelain", "-uno") else "")


def main(words: Sequence[str]) -> None:
    """Measure the groups asked for, all of them when none is, and print the table as it comes."""
    parser = argparse.ArgumentParser(description="Prints every figure of time; holds nothing.")
    parser.add_argument("groups", nargs="*", metavar="GROUP", help=f"of {', '.join(GROUPS)}; all when none is named")
    parser.add_argument("--runs", type=int, default=5, help="of each; headroom, missing and the hook three at most")
    parser.add_argument("--designs", type=int, default=ARCHIVE, help="that an archive is measured with")
    parser.add_argument("--checkout", action="store_true", help="run the checkout, not what a wheel would install")
    asked = parser.parse_args(words)
    globals()["ARCHIVE"] = asked.designs
    for name in asked.groups:
        if name not in GROUPS:
            parser.error(f"there is no group {name}: name some of {', '.join(GROUPS)}")
    if asked.runs < 1:
        parser.error("--runs: one or more")
    with tempfile.TemporaryDirectory() as folder:
        if not asked.checkout:
            installed(folder)
        table(asked.groups or GROUPS, asked.runs, "the checkout" if asked.checkout else "as a wheel installs it")


def table(groups: Iterable[str], runs: int, what: str) -> None:
    """Measure some groups and print their rows as they come."""
    print(f"commit {commit()}, {what}; Python {sys.version.split()[0]}, {os.cpu_count()} cores; processor time")
    print(f"{'':46s}runs{'least':>10s}{'median':>10s}{'most':>10s}   {'ratio':>7s}  asked for")
    for name in groups:
        for row in GROUPS[name](runs):
            print(line(row), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
