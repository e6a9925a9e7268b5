"""A real scheduler and two workers as processes: the rows of one machine, and nothing lost or doubled with a worker."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError
from datetime import timedelta
from pathlib import Path
from typing import Any, NamedTuple, cast

import pytest
from archive_bench import DAY, HOUSE, folder_of, lamp, opened, order, ran, results, tasks
from distributed import Client
from distributed.comm.core import CommClosedError

from derate.archive import cluster
from derate.archive.cluster import files_of, on_cluster, shared_files
from derate.archive.judging import BATCH, Task
from derate.archive.refresh import refresh
from derate.cli.main import main


class Cluster(NamedTuple):
    """A running cluster. folder: where its own files lie; started: its processes, the scheduler first"""

    address: str
    folder: Path
    started: list[subprocess.Popen[bytes]]

    def worker(self) -> int:
        """One more worker, once the scheduler knows it; its process."""
        command = ["distributed.cli.dask_worker", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
        with Client(self.address) as client:
            before = len(client.ncores())
            made = _started(self, *command, "--local-directory", str(self.folder))
            while len(client.ncores()) <= before:
                assert made.poll() is None, f"the worker ended with {made.returncode}"  # and is not waited for
                with contextlib.suppress(TimeoutError):
                    client.wait_for_workers(before + 1, timeout=1.0)
        return made.pid


def _started(of: Cluster, *command: str, said: int = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
    """said: where its words go; nobody reads those of a worker, and a pipe that is full would stop it."""
    made = subprocess.Popen([sys.executable, "-m", *command], stdout=subprocess.DEVNULL, stderr=said, cwd=of.folder)
    of.started.append(made)
    return made


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """A scheduler with two workers."""
    folder = tmp_path_factory.mktemp("cluster")
    made = Cluster("", folder, [])
    command = ["distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
    scheduler = _started(made, *command, said=subprocess.PIPE)
    assert scheduler.stderr is not None
    address = next(
        line.split()[-1] for line in map(bytes.decode, iter(scheduler.stderr.readline, b"")) if "Scheduler at:" in line
    )
    made = made._replace(address=address)
    try:
        made.worker()
        made.worker()
        yield made
    finally:
        for one in reversed(made.started):
            one.kill()
            one.wait()


def _archive(folder: Path, many: int) -> Path:
    """Designs that hang on files of every kind, and two that cannot be read."""
    home = folder_of(folder, many)
    (home / ".derate.yaml").write_text("longest_days: 300\n", encoding="utf-8")
    (home / "rules").mkdir()
    (home / "rules" / "house.yaml").write_text(HOUSE.replace("SHARE", "0.9"), encoding="utf-8")
    packs = "packs: [mains-fusing, insulation-it-equipment, house]\n"
    (home / "own.derate.yaml").write_text(lamp("Own") + packs, encoding="utf-8")
    (home / "sub").mkdir()
    revision = "derate: 1\nrevision_of: ../lamp-0.derate.yaml\nsupply: {name: Revision}\n"
    (home / "sub" / "revision.derate.yaml").write_text(revision, encoding="utf-8")
    (home / "slip.derate.yaml").write_text(lamp("Slip").replace("plate:", "plaet:"), encoding="utf-8")
    (home / "bad.derate.yaml").write_bytes(b"\xff\xff")
    return home


@pytest.mark.parametrize("after", ["first rows", "all work"])
def test_a_worker_is_ended_and_nothing_is_lost_or_doubled(running: Cluster, tmp_path: Path, after: str) -> None:
    """The worker that gave the first rows is ended by its id while it has work, or rows that nobody has fetched.

    After all work it has nothing but such rows. Another client is current meanwhile, as in a program that has its own.
    """
    home = _archive(tmp_path, 5 * BATCH)
    how = order(home)
    names = [one.name for one in tasks(home)]
    ended: list[int] = []
    back: Counter[str] = Counter()

    def lossy(left: Iterable[Task]) -> Any:
        with Client(running.address) as client:
            pids = client.run(os.getpid)
            for one in on_cluster(how, left, running.address, [str(home)]):
                back[one.design] += 1
                if not ended and one.outcome == "judged":
                    while after == "all work" and any(client.processing().values()):
                        time.sleep(0.01)
                    at = next(address for address, pid in pids.items() if str(pid) == one.worker)
                    # batches that it is at, and rows that it has and nobody has fetched: all of it is lost with it
                    assert client.processing()[at] or client.has_what()[at]
                    ended.append(int(one.worker))
                    os.kill(ended[0], signal.SIGKILL)
                yield one

    with opened(home) as store:
        found = refresh(store, tasks(home), how, lossy)
        workers = {int(one) for (one,) in store.rows("SELECT DISTINCT worker FROM result WHERE outcome = 'judged'")}
    assert ended and sorted(back) == sorted(names) and {*back.values()} == {1}
    assert os.getpid() not in workers and len(workers) == 2 and ended[0] in workers
    with Client(running.address) as client:
        assert len(client.ncores()) == 1
    alone = tmp_path / "alone"
    alone.mkdir()
    other = _archive(alone, 5 * BATCH)
    here = ran(other)
    assert results(home, found.run, tmp_path) == results(other, here.run, alone)
    assert found.unread.keys() == here.unread.keys() == {"slip.derate.yaml", "bad.derate.yaml"}
    assert ran(home).same  # and what came from there stands here
    running.worker()


def test_the_command_gives_its_work_away(running: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also what if; a worker that joins later has what the others were sent, and nothing is left behind on them."""
    home = _archive(tmp_path, 2)
    words = ["archive", str(home), "--today", DAY.isoformat(), "--format", "json"]
    limit = "rules[mains-rectifier-reverse-voltage].keep=reverse_voltage <= 0.6 * rated.reverse_voltage"
    asked = ["--set", limit, "--set", "site.mains_tolerance=20%", "--if-pack", str(home / "rules" / "house.yaml")]
    assert main([*words, *asked, "--on", running.address]) == 2
    there = json.loads(capsys.readouterr().out)
    with opened(home) as store:
        assert str(os.getpid()) not in {
            one for (one,) in store.rows("SELECT worker FROM result WHERE outcome = 'judged'")
        }
    with Client(running.address) as client:
        assert not any(client.run(lambda: __import__("derate.archive.cluster").archive.cluster._HOMES).values())
    (home / "derate-archive.duckdb").unlink()
    assert main([*words, *asked, "--jobs", "1"]) == 2
    assert json.loads(capsys.readouterr().out) == there and there["what_if"]


def test_what_cannot_be_given_away_is_told(
    running: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    home = folder_of(tmp_path, 1)
    monkeypatch.setattr(cluster, "WAIT", 0.5)
    assert main(["archive", str(home), "--on", "tcp://127.0.0.1:1"]) == 2
    assert "there is no scheduler at" in capsys.readouterr().err
    monkeypatch.undo()
    assert main(["archive", str(home), "--on", running.address, "--jobs", "2"]) == 2
    assert "leave one of them out" in capsys.readouterr().err
    monkeypatch.setattr(cluster, "program", lambda: "another")
    assert main(["archive", str(home), "--on", running.address]) == 2
    assert "another version of derate" in capsys.readouterr().err


@pytest.mark.parametrize("error", [OSError, CancelledError])
def test_a_scheduler_that_is_gone_is_told_and_what_it_gave_is_kept(
    running: Cluster,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    error: type[Exception],
) -> None:
    """Either is what a call to a scheduler that has ended comes to; the same command goes on from there."""
    home = folder_of(tmp_path, 3)
    words = ["archive", str(home), "--today", DAY.isoformat()]
    judged = cluster._judged

    def gone(*given: Any) -> Iterator[Any]:
        yield next(iter(judged(*given)))
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(cluster, "_judged", gone)
        assert main([*words, "--on", running.address]) == 2
    told = capsys.readouterr().err
    assert f"the scheduler at '{running.address}' is gone" in told and "the same command goes on" in told
    with opened(home) as store:
        assert store.rows("SELECT count(*) FROM judged") == [(1,)] and store.runs() == ()
    assert main([*words, "--jobs", "1"]) == 1
    assert "went on, 2 judged, 1 unchanged, 0 not read" in capsys.readouterr().out


def test_work_that_was_called_off_is_no_design_that_cannot_be_read(running: Cluster) -> None:
    """What was out when the scheduler was lost is cancelled; what failed on its workers is not."""
    with Client(running.address) as client:
        off, failed = client.submit(time.sleep, 0.01, pure=False), client.submit(divmod, 1, 0)
        off.cancel()
        with pytest.raises(CancelledError):
            cluster._fetched(off)
        with contextlib.suppress(ZeroDivisionError):
            failed.result()
        assert cluster._fetched(failed) is None


@pytest.mark.parametrize(
    ("lost", "after", "tried"), [(0, "running", 1), (2, "running", 3), (3, "running", 3), (1, "closed", 1)]
)
def test_a_worker_that_is_lost_while_it_is_told_is_no_scheduler_that_is(lost: int, after: str, tried: int) -> None:
    """The others are told again, a few times; the scheduler is gone where the client has closed."""
    told = []

    class Told:
        status = after

        def register_plugin(self, shelf: object) -> None:
            told.append(shelf)
            if len(told) <= lost:
                raise CommClosedError("in the middle")

    shelf = cluster.Shelf("x", {}, (), "")
    with pytest.raises(OSError) if lost == 3 or after == "closed" else contextlib.nullcontext():
        cluster._on_every_worker(cast(Client, Told()), shelf)
    assert told == [shelf] * tried


def test_what_goes_with_a_design_and_what_to_every_worker(tmp_path: Path) -> None:
    """Settings, packs and other YAML once; a design with what it names, inside its repository and nothing else."""
    home = _archive(tmp_path, 1)
    (tmp_path / "outside.yaml").write_text("x: 1\n", encoding="utf-8")
    (home / "link.yaml").symlink_to(tmp_path / "outside.yaml")
    (home / "a.csv").write_text("1,2\n", encoding="utf-8")
    design = home / "sub" / "revision.derate.yaml"
    with design.open("a", encoding="utf-8") as file:
        file.write("# ../a.csv ../../outside.yaml ../link.yaml ../rules/house.yaml ../none.csv ../.git/config.txt\n")
    shared, roots = shared_files([str(home)])
    assert {os.path.relpath(one, home) for one in shared} == {".derate.yaml", "rules/house.yaml"}
    assert roots == (str(home),)
    found = files_of(Task("x", str(design), str(home)), shared)
    assert {os.path.relpath(one, home) for one in found} == {"sub/revision.derate.yaml", "lamp-0.derate.yaml", "a.csv"}


def test_a_profile_judges_there_as_here(running: Cluster, tmp_path: Path) -> None:
    """One that a design names, one that the command adds beside certain packs, and known findings held back."""
    home = folder_of(tmp_path, 2)
    packs = "packs: [commercial-practice, mains-fusing, insulation-it-equipment, profile-european-space]\n"
    for number in range(2):
        (home / f"own-{number}.derate.yaml").write_text(lamp(f"Own {number}") + packs, encoding="utf-8")
    record = tmp_path / "known.json"
    signed = ["--reason", "old", "--by", "A. Person", "--last-day", (DAY + timedelta(99)).isoformat()]
    assert main(["lint", str(home), "--record", str(record), *signed, "--today", DAY.isoformat()]) == 1
    how = order(home)._replace(
        besides=(("profile-pc-supply", frozenset()),), known=(str(record), record.read_text(encoding="utf-8"))
    )
    with opened(home) as store:
        found = refresh(store, tasks(home), how, lambda left: on_cluster(how, left, running.address, [str(home)]))
        workers = {one for (one,) in store.rows("SELECT worker FROM result")}
        held = store.rows("SELECT design, held_back FROM result ORDER BY design")
    assert not found.unread and str(os.getpid()) not in workers and all(many > 0 for _, many in held)
    rows = results(home, found.run, tmp_path)
    by_pack = Counter((one["design"], one["pack"]) for one in rows)
    for design, asked in (("own-0", True), ("lamp-0", False)):
        assert (by_pack[f"{design}.derate.yaml", "profile-european-space"] > 0) == asked
        assert by_pack[f"{design}.derate.yaml", "profile-pc-supply"] > 0
    (home / "derate-archive.duckdb").unlink()
    known_and_packs = {"besides": how.besides, "known": how.known}
    assert results(home, ran(home, **known_and_packs).run, tmp_path) == rows


def test_studies_are_given_away_too(running: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The rows of this machine, worked out on the workers, and none of it again."""
    home = folder_of(tmp_path, 3)
    words = ["archive", str(home), "--today", DAY.isoformat(), "--format", "json", "--headroom", "--spread"]
    assert main([*words, "--draws", "200", "--on", running.address]) == 1
    there = json.loads(capsys.readouterr().out)
    with opened(home) as store:
        workers = {one for (one,) in store.rows("SELECT worker FROM study")}
        assert str(os.getpid()) not in workers and store.rows("SELECT count(*) FROM study") == [(6,)]
    (home / "derate-archive.duckdb").unlink()
    assert main([*words, "--draws", "200", "--jobs", "1"]) == 1
    assert json.loads(capsys.readouterr().out) == there and there["headroom"] and there["spread"]
