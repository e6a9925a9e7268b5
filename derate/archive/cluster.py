"""The same work given to a running Dask cluster: designs in batches, what they share once to each worker.

Scheduling, retries and the work of a lost worker done again are the engine's. What is ours is where files lie: a worker
has no folder of the archive, so it is sent the texts. What many designs may ask for (settings, packs, libraries of
parts, other YAML of the repository) goes to every worker once, also to one that joins later; a design goes with what it
names. They are laid out in a folder of the worker under their own paths, so that names, borders and roots are as here.
A design that cannot be read there is read here once more, so that a file nobody could foresee is no other result.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tempfile
import threading
from collections.abc import Generator, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from itertools import chain, count
from typing import Any, NamedTuple

from distributed import Client, WorkerPlugin, as_completed

from derate.archive.judging import ENDED, Order, Task, batches, judged_alone, size_of
from derate.archive.rows import Judged
from derate.archive.trail import program
from derate.design.settings import NAME
from derate.terms.values import Place, Problem, ReadingError
from derate.text.files import leads_out, read_ordinary, repository_of
from derate.text.nodes import GREATEST_SIZE

AHEAD = 3  # batches out for each core of the cluster
RETRIES = 2  # of a batch that failed; one whose worker was lost is done again besides
TOLD = 3  # times that all workers are told what designs share, where one of them is lost meanwhile
WAIT = 30.0  # seconds for the scheduler, and for the first worker
MOST_SHARED = 200_000_000  # bytes that every worker is sent
MOST_WITH_ONE = 50_000_000  # bytes of one file that goes with a design
_YAML = (".yaml", ".yml")
_DESIGN = (".derate.yaml", ".derate.yml")
_NAMED = re.compile(r"""[^\s'",:{}\[\]#]+\.(?:ya?ml|csv|txt|tsv|dat)\b""")
Files = dict[str, bytes]


class Sent(NamedTuple):
    """A design on its way: what it is called, and the files that go with it, by their paths here."""

    task: Task
    files: Files


# What is sent.


def shared_files(borders: Iterable[str], packs: Iterable[str] = ()) -> tuple[Files, tuple[str, ...]]:
    """The files that any design may ask for, by path, and the repositories they stand in. Raises ReadingError.

    borders: the folders that designs stand in; packs: files named besides
    """
    found: Files = {}
    roots: dict[str, None] = {}
    for border in dict.fromkeys(borders):
        root = repository_of(border)
        if root is not None:
            roots[root] = None
        for here, folders, names in os.walk(root or border):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            for name in sorted(names):
                if name == NAME or (name.endswith(_YAML) and not name.endswith(_DESIGN) and not name.startswith(".")):
                    _take(found, os.path.join(here, name), root or border, GREATEST_SIZE)
    for path in packs:
        _take(found, path, "", GREATEST_SIZE)
    many = sum(map(len, found.values()))
    if many > MOST_SHARED:
        what = (
            f"the settings, packs and libraries of this archive are {many // 1_000_000} MB, too much for every worker"
        )
        raise ReadingError([Problem(Place("command line"), what, f"{MOST_SHARED // 1_000_000} MB are sent at most")])
    return found, tuple(roots)


def files_of(task: Task, shared: Mapping[str, bytes]) -> Files:
    """The file of a design and those it names, those they name in turn: of its repository, and not shared already."""
    found: Files = {}
    root = repository_of(os.path.dirname(task.path)) or os.path.dirname(task.path)
    left = [task.path]
    while left and len(found) < 100:
        path = left.pop()
        if path in found or path in shared or not _take(found, path, root, MOST_WITH_ONE):
            continue
        if path.endswith(_YAML):
            text = found[path].decode("utf-8", "replace")
            folder = os.path.dirname(path)
            left += {os.path.normpath(os.path.join(folder, one)) for one in _NAMED.findall(text)}
    return found


def _take(found: Files, path: str, border: str, most: int) -> bool:
    """Add an ordinary file inside a border; whether there is one."""
    try:
        if border and leads_out(path, border):
            return False
        found[path] = read_ordinary(path, most)
    except (ReadingError, OSError, ValueError):
        return False
    return True


# On a worker.


_HOMES: dict[str, str] = {}
_ONE = threading.Lock()  # files of one design at a time lie in the folder of a process


class Shelf(WorkerPlugin):
    """What every worker is sent once, also one that joins later."""

    idempotent = True

    def __init__(self, name: str, files: Files, roots: Sequence[str], made: str) -> None:
        self.name, self.files, self.roots, self.made = name, files, tuple(roots), made

    def setup(self, worker: Any) -> None:
        """Lay the files out. Raises RuntimeError where another program would judge, or another root would count."""
        if program() != self.made:
            raise RuntimeError("this worker has another version of derate, or other shipped packs")
        home = os.path.realpath(tempfile.mkdtemp(prefix="derate-"))
        _HOMES[self.name] = home
        if repository_of(home) is not None:
            raise RuntimeError("the temporary folder of this worker lies in a repository; set TMPDIR to another")
        for root in self.roots:
            os.makedirs(os.path.join(home + root, ".git"), exist_ok=True)
        _laid_out(home, self.files)

    def teardown(self, worker: Any) -> None:
        """Take the files away."""
        shutil.rmtree(_HOMES.pop(self.name, ""), ignore_errors=True)


def _laid_out(home: str, files: Files) -> None:
    for path, content in files.items():
        os.makedirs(os.path.dirname(home + path), exist_ok=True)
        with open(home + path, "wb") as file:
            file.write(content)


def judged_there(name: str, order: Order, batch: Sequence[Sent]) -> tuple[Judged, ...]:
    """What a worker is asked: a batch judged, one design after another."""
    home = _HOMES[name]
    there = order._replace(
        home=home,
        packs=tuple(_at(home, one) for one in order.packs),
        besides=tuple((_at(home, one), only) for one, only in order.besides),
        told=tuple(_at(home, one) for one in order.told),
    )
    return tuple(_judged_one(home, there, one) for one in batch)


def _judged_one(home: str, order: Order, one: Sent) -> Judged:
    with _ONE:
        _laid_out(home, one.files)
        try:
            return judged_alone(order, one.task)
        finally:
            for path in one.files:
                with contextlib.suppress(OSError):
                    os.unlink(home + path)


def _at(home: str, pack: str) -> str:
    return home + pack if os.path.isabs(pack) else pack


# Here.


def on_cluster(
    order: Order, tasks: Iterable[Task], address: str, borders: Sequence[str]
) -> Generator[Judged, None, None]:
    """Designs judged by a cluster, in the order they are ready; each comes back once. Raises ReadingError.

    borders: the folders that all of the designs stand in
    """
    left = iter(tasks)
    first = next(left, None)
    if first is None:
        return  # nobody is asked for nothing
    client = _connected(address)
    name = f"derate-{os.getpid()}-{next(_NUMBERS)}"
    try:
        named = [one for one in (*order.packs, *(pack for pack, _ in order.besides)) if os.path.isabs(one)]
        shared, roots = shared_files(borders, named)
        try:
            _on_every_worker(client, Shelf(name, shared, roots, program()))
        except RuntimeError as error:
            raise _refused(f"a worker of this cluster cannot be used: {error}", _START) from None
        yield from _judged(client, name, order, batches(chain((first,), left), size_of(order)), shared)
    except (OSError, CancelledError) as error:  # no file raises one here: what is wrong with a design is in its row
        what = f"the scheduler at '{address[:80]}' is gone ({type(error).__name__}); what was judged is in the store"
        raise _refused(what, "start it again; the same command goes on from there") from None
    finally:
        with contextlib.suppress(Exception):  # a cluster that is gone has nothing left to be taken away
            client.unregister_worker_plugin(name)
        client.close()


def _on_every_worker(client: Client, shelf: Shelf) -> None:
    """Lay out what designs share. A worker that is lost while it is told is no scheduler that is: it is told again."""
    for left in reversed(range(TOLD)):
        try:
            client.register_plugin(shelf)
        except OSError:
            if not left or client.status != "running":
                raise
        else:
            return


def _connected(address: str) -> Client:
    try:
        client = Client(address, timeout=WAIT)
    except (OSError, ValueError, TypeError) as error:
        raise _refused(f"there is no scheduler at '{address[:80]}' ({type(error).__name__})", _START) from None
    try:
        client.wait_for_workers(1, timeout=WAIT)
    except TimeoutError:
        client.close()
        raise _refused(f"the cluster at '{address[:80]}' has no worker", _START) from None
    return client


def _judged(
    client: Client, name: str, order: Order, left: Iterator[tuple[Task, ...]], shared: Files
) -> Iterator[Judged]:
    out: dict[Any, tuple[Task, ...]] = {}
    coming = as_completed(loop=client.loop)  # of this client: another that is current may have a loop of its own

    def add(batch: tuple[Task, ...]) -> None:
        sent = [Sent(one, files_of(one, shared)) for one in batch]
        future = client.submit(judged_there, name, order, sent, pure=False, retries=RETRIES)
        out[future] = batch
        coming.add(future)

    def fill() -> None:
        """No more is out than the workers there are now will soon take."""
        while len(out) < AHEAD * max(1, sum(client.ncores().values())):
            batch = next(left, None)
            if batch is None:
                return
            add(batch)

    fill()
    try:
        for future in coming:
            batch = out.pop(future)
            rows = _fetched(future)
            if rows is not None:
                for task, one in zip(batch, rows, strict=True):
                    yield judged_alone(order, task) if one.outcome == "unread" else one
            elif len(batch) > 1:
                for task in batch:  # which of them it was that ended its workers is found one by one
                    add((task,))
            else:
                yield Judged(batch[0].name, "unread", problems=ENDED)
            fill()
    finally:
        client.cancel(list(out))


def _fetched(future: Any) -> tuple[Judged, ...] | None:
    """The rows of a batch; None where it failed, also where its worker was lost with them and it then failed.

    Raises CancelledError where the scheduler was lost: no process ended over a design then, and none is told as unread.
    """
    if future.cancelled():
        raise CancelledError
    if future.status != "finished":
        return None
    try:
        rows: tuple[Judged, ...] = future.result()
    except Exception:  # whatever a worker raised comes out here
        if future.status == "error":
            return None
        raise
    return rows


_NUMBERS = count(1)
_START = "start one: dask scheduler, and dask worker ADDRESS on every machine"


def _refused(what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place("command line"), what, instead)])
