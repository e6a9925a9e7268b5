"""How much is worked out, in place of how long it takes: solves, calls, ways through and modules, none of them of time.

Each limit stands a quarter to a third above what was counted, unless it says otherwise: a search run twice, a cache
that no longer holds or a loop inside a loop goes past it, an added formula does not. `tools/benchmark.py` prints times.
"""

from __future__ import annotations

import gc
import subprocess
import sys
from datetime import date
from functools import cache
from pathlib import Path

import benchmark_pieces
import pytest
from counts import calls
from large_design import BASE, PACKS, PARTS, large_design

from derate.circuit import choke_filter
from derate.cli.main import main
from derate.cli.show import document, form
from derate.ledger.entry import SUPPLY
from derate.ledger.recorded import RecordingLedger
from derate.packs.load import load_packs
from derate.study import trying
from derate.study.faults import design_faults
from derate.study.headroom import cures, headroom
from derate.study.missing import FIRST as FIRST_TRIED
from derate.study.missing import missing_facts
from derate.study.trying import Bench
from derate.study.work import Work, Workshop, review_of, worked
from derate.terms.quantities import named
from derate.terms.values import Value

ROOT = Path(__file__).parents[2]
SOUND = ROOT / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
FIRST = ROOT / "designs" / "first-look" / "desk-lamp-adapter.derate.yaml"
HALLWAY = ROOT / "designs" / "hallway-lamp" / "hallway-lamp.derate.yaml"
POND = ROOT / "designs" / "pond-lantern" / "pond-lantern.derate.yaml"
TEA = ROOT / "designs" / "tea-warmer" / "tea-warmer.derate.yaml"
SHIPPED = sorted((ROOT / "designs").glob("*/*.derate.yaml"))
DAY = date(2026, 11, 25)
SOLVES = 2000  # calls of solvers and formulas for the sound design: 1652 were counted

_COLD = """
import sys
count = 0
def seen(frame, event, what):
    global count
    count += event in ("call", "c_call")
sys.setprofile(seen)
from derate.cli.main import main
status = main(sys.argv[1:])
sys.setprofile(None)
print(status, count, len(sys.modules), file=sys.stderr)
"""


@cache
def sound() -> Work:
    return Workshop().work(str(SOUND))


@cache
def through() -> int:
    """Calls of working through and judging the sound design, everything read and imported: 650 thousand."""
    return calls(lambda: review_of(sound()._replace(ledger=worked(sound().design, sound().packs)), DAY))


# ---- lint ------------------------------------------------------------------------------------------------------------


def test_how_much_the_sound_design_works_out() -> None:
    assert 1000 < sound().ledger.solves < SOLVES
    assert calls(lambda: worked(sound().design, sound().packs)) < 630_000  # 490 thousand, what solvers kept kept
    assert calls(lambda: review_of(sound(), DAY)) < 190_000  # 155 thousand


@cache
def cold(path: Path) -> tuple[int, int, int]:
    """Exit status, calls and modules of a lint in a process of its own."""
    command = [sys.executable, "-c", _COLD, "lint", str(path), "--today", str(DAY)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    status, count, modules = map(int, done.stderr.split("\n")[-2].split())
    return status, count, modules


@pytest.mark.parametrize(
    ("path", "most"),
    [(SOUND, 1_900_000), (FIRST, 1_130_000), (HALLWAY, 960_000), (POND, 1_570_000), (TEA, 1_350_000)],
)
def test_a_cold_lint(path: Path, most: int) -> None:
    """1,520 and 895 thousand calls, imports included, the second over a mains of any inductance; 312 modules.

    A linear lamp, which switches nothing, takes 760 thousand; a charger and a plug-in warmer behind inductance 1,250
    and 1,070.
    """
    status, count, modules = cold(path)
    assert status in (0, 1)
    assert most / 4 < count < most
    assert modules < 345


@pytest.mark.parametrize("path", [HALLWAY, POND, TEA], ids=lambda path: path.name.split(".")[0])
def test_no_other_topology_costs_more_than_the_flyback(path: Path) -> None:
    """The charger did, by 15 %, while what cannot ring was walked through at every closing angle."""
    assert cold(path)[1] < 0.9 * cold(SOUND)[1]


def test_every_piece_of_the_profile_is_on_the_way_of_a_lint(monkeypatch: pytest.MonkeyPatch) -> None:
    """The benchmark takes times by wrapping functions by name: each has to be there, and to be called."""
    watch = benchmark_pieces.Stopwatch()
    for module, name in benchmark_pieces.PIECES:
        monkeypatch.setattr(f"{module}.{name}", getattr(sys.modules[module], name))  # put back afterwards
        watch.piece(sys.modules[module], name, benchmark_pieces.PIECES[module, name])
    assert main(["lint", str(SOUND), "--today", str(DAY)]) == 0
    assert watch.calls.keys() == set(benchmark_pieces.PIECES.values())


def test_two_hundred_parts_cost_no_more_than_in_proportion(tmp_path: Path) -> None:
    """165 parts on the load side: nothing more is solved, and the judge asks each part once."""
    (tmp_path / ".git").mkdir()
    path = tmp_path / "large.derate.yaml"
    path.write_text(large_design(), encoding="utf-8")
    workshop = Workshop(PACKS)
    large, small = workshop.work(str(path)), workshop.work(str(BASE))
    parts, few = (len(one.design.structure.kinds) for one in (large, small))
    cases = {one.case for one in large.ledger.entries if one.case is not None and one.case.mains is not None}
    assert parts == PARTS and len(large.packs.rules) >= 60 and len(cases) >= 16
    assert large.ledger.solves == small.ledger.solves
    working, judging = (
        [calls(lambda one=one: worked(one.design, one.packs)) for one in (large, small)],
        [calls(lambda one=one: review_of(one, DAY)) for one in (large, small)],
    )
    assert working[0] < 1.3 * working[1]  # 1.15
    assert judging[0] < parts / few * judging[1]  # 4.8 of 5.7


def test_packs_are_read_once_for_many_designs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What the hook lives by: two processes of ten designs each."""
    read = []

    def counting(names: object, *more: object) -> object:
        read.append(names)
        return load_packs(names, *more)  # type: ignore[arg-type]

    monkeypatch.setattr("derate.study.work.load_packs", counting)
    (tmp_path / ".git").mkdir()
    for number in range(4):
        (tmp_path / f"{number}.derate.yaml").write_text(SOUND.read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["lint", str(tmp_path), "--today", "2026-11-25"]) == 0
    assert len(read) == 1


# ---- the other commands, against one way through ---------------------------------------------------------------------


def test_a_report_works_nothing_out_again(monkeypatch: pytest.MonkeyPatch) -> None:
    before = sound().ledger.solves
    made = document(sound(), DAY)
    assert made.ledger is sound().ledger and sound().ledger.solves == before
    assert calls(lambda: document(sound(), DAY)) < 0.5 * through()  # 0.38, two thirds of it judging
    form("html")(made)  # the templates compiled
    assert calls(lambda: form("html")(made)) < 1.5 * through()  # 1.17


def test_the_list_of_faults_costs_a_tenth_of_one_way_through() -> None:
    design = sound().design
    assumed = {name: one for (_, name), one in sound().packs.assumptions.items()}
    taken = calls(lambda: design_faults(design.structure, sound().ledger, assumed, design.tests))
    assert taken < 0.1 * through()  # 0.07


# Of each shipped design: ways through and work of headroom with its cures, and of the ten facts that `missing` tries.
# The sound one has 22 and 25,400, 21 and 17,300; the work of a trial is worth 0.05 to 0.15 ms a unit.
STUDIED = {
    "any other": (80, 35_000, 28, 21_500),
    "beehive-scale": (25, 14_000, 13, 2_600),
    "desk-lamp-adapter": (1, 100, 26, 7_000),
    "greenhouse-vent-revision-b": (29, 33_000, 28, 19_000),
    "greenhouse-vent": (27, 30_000, 26, 21_500),
    "market-stall-lamp": (72, 35_000, 26, 6_000),
    "porch-bell": (30, 20_000, 3, 400),
}


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name.split(".")[0])
def test_how_much_the_studies_of_a_design_take(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What holds `missing` to 2 s and `headroom` of the sound design to 2.5 s: how often, and how much each time."""
    ways = []

    def counting(*given: object) -> object:
        ways.append(given)
        return worked(*given)  # type: ignore[arg-type]

    def both(bench: Bench) -> None:
        headroom(bench)
        cures(bench)

    monkeypatch.setattr(trying, "worked", counting)
    work = Workshop(ledger=RecordingLedger).work(str(path))
    most = iter(STUDIED.get(path.name.split(".")[0], STUDIED["any other"]))
    for study in (both, lambda bench: missing_facts(bench, False, FIRST_TRIED)):
        ways.clear()
        bench = Bench(work, DAY)
        study(bench)
        assert len(ways) <= next(most)
        assert bench.allowance.spent - bench.allowance.trial <= next(most)  # beside the design's own way through


def test_a_supply_is_walked_through_once_however_often_it_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two capacitors with a choke: their crest, their currents and each condition read ask for the same states.

    241 half cycles are walked; 380 without what is kept, 381 where each state is searched for and asked whether it
    comes back before it is summed.
    """
    walked = []
    sweep = choke_filter.sweep

    def counting(*given: object) -> object:
        walked.append(given)
        return sweep(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(choke_filter, "sweep", counting)
    choke_filter._steady.cache_clear()
    worked(sound().design, sound().packs)
    assert 150 < len(walked) < 300


def test_a_trial_leaves_nothing_for_the_collector() -> None:
    """Thirty thousand objects a trial in rings were half of what a study took on top of its trials."""
    bench = Bench(Workshop(ledger=RecordingLedger).work(str(SOUND)), DAY)
    gc.collect()
    before = gc.isenabled()
    gc.disable()
    try:
        bench.tried({(SUPPLY, named("plate.mains")): Value.between(99.0, 240.0)})
        assert gc.collect() < 100
    finally:
        if before:
            gc.enable()
