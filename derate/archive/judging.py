"""Designs judged one after another in one process, and by all cores: batches go out, rows come back as they are ready.

The pool is that of the standard library. A process that ends while it works (no memory, say) takes the batches of the
pool with it: their designs are then judged one at a time, each in a pool of its own, and the one that ends its process
again is told as unread.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from datetime import date
from functools import cache
from itertools import chain, islice
from multiprocessing.connection import wait as wait_for
from typing import NamedTuple

from derate.archive.rows import Asked, Judged, rows_of
from derate.archive.setting import Change, Setting, Untouched
from derate.archive.trail import trail_of
from derate.judge.acknowledge import KnownRecord, read_record
from derate.ledger.ledger import Ledger
from derate.ledger.recorded import RecordingLedger
from derate.study.work import Work, Workshop, review_of
from derate.terms.values import Problem, ReadingError
from derate.terms.words import Level
from derate.text.files import leads_out

BATCH = 4  # designs that go to a process at a time: short enough that all end together, long enough to be worth sending
AHEAD = 3  # batches a process has waiting, so that none of them stands still while rows are stored
ENDED = "the process that judged it ended before it was done"


class Order(NamedTuple):
    """How designs are to be judged.

    above: the folder that the store writes paths from; home: a folder that stands before every path, '' for none
    packs: in place of their own; besides: added to them, each beside certain packs alone where some are named
    told: packs among those besides whose whole text stands in the options that a result is known by
    sets: what is set otherwise than written
    known: path and text of a record of known findings, which each process reads for itself; '' twice for none
    study: worked out in place of the findings
    """

    day: date
    above: str
    packs: tuple[str, ...] = ()
    besides: tuple[tuple[str, frozenset[str]], ...] = ()
    sets: tuple[Setting, ...] = ()
    stop_at: Level | None = None
    shipped_gate: bool = False
    home: str = ""
    known: tuple[str, str] = ("", "")
    study: Asked | None = None
    told: tuple[str, ...] = ()


class Task(NamedTuple):
    """One design. name: in the store; path: where it lies; border: the folder that no link may lead out of"""

    name: str
    path: str
    border: str


Judge = Callable[[Iterable[Task]], Generator[Judged, None, None]]


def judged_alone(order: Order, task: Task) -> Judged:
    """One design judged in this process; what is wrong with it is in what comes back. Raises nothing of its own."""
    began = time.process_time()
    path = order.home + task.path
    try:
        if leads_out(path, order.home + task.border):
            return _unread(task, "this design is a link that leads out of the folder", began)
        work = _workshop(order).work(path)
        made = _studied(order, task, work) if order.study is not None else _judged(order, task, work)
        return made._replace(duration=time.process_time() - began, worker=_worker())
    except Untouched:
        return Judged(task.name, "untouched", worker=_worker(), duration=time.process_time() - began)
    except ReadingError as error:
        return _unread(task, "; ".join(_told(one, task, order) for one in error.problems), began)
    except MemoryError:
        return _unread(task, "there is not enough memory to work it through", began)
    except Exception as error:
        what = f"it could not be worked through ({type(error).__name__}: {str(error)[:200]})"
        return _unread(task, what, began)


def _judged(order: Order, task: Task, work: Work) -> Judged:
    known = _known(*order.known)
    review = review_of(work, order.day, known, order.stop_at)
    return rows_of(task.name, work, review, order.day, trail_of(work, order.above, order.home, order.told), known)


def _studied(order: Order, task: Task, work: Work) -> Judged:
    from derate.archive.studies import studied  # only where one was asked for

    assert order.study is not None
    rows = studied(work, order.day, order.study)
    return Judged(task.name, "judged", trail=trail_of(work, order.above, order.home, order.told), studied=rows)


def _told(problem: Problem, task: Task, order: Order) -> str:
    """A problem on one line, without the folder that another machine keeps the file in."""
    said = f"{problem.what} ({problem.instead})" if problem.instead else problem.what
    where = problem.place.path
    at = f"line {problem.place.line}: " if problem.place.line and where == order.home + task.path else ""
    if not at and where not in ("", order.home + task.path):
        at = f"{os.path.relpath(where, order.home + order.above)}: " if os.path.isabs(where) else f"{where}: "
    return at + (said.replace(order.home, "") if order.home else said)


def _unread(task: Task, why: str, began: float = 0.0) -> Judged:
    taken = time.process_time() - began if began else 0.0
    return Judged(task.name, "unread", problems=why[:2000], worker=_worker(), duration=taken)


def _worker() -> str:
    return str(os.getpid())


@cache
def _workshop(order: Order) -> Workshop:
    """Packs are read once in a process, however many designs ask for them."""
    change = Change(order.sets, whatever=bool(order.besides)).of if order.sets else None
    ledger = RecordingLedger if order.study is not None and order.study.study == "headroom" else Ledger
    return Workshop(order.packs, order.shipped_gate, ledger, change, order.besides)


@cache
def _known(path: str, text: str) -> KnownRecord | None:
    return read_record(text, path) if path else None


def forget() -> None:
    """Read packs again when next asked: a process that makes a second run judges by those that lie there then."""
    _workshop.cache_clear()


def size_of(order: Order) -> int:
    """Designs that go out together: a study takes many times as long as a judging, and one goes at a time."""
    return BATCH if order.study is None else 1


def batches(tasks: Iterable[Task], size: int = BATCH) -> Iterator[tuple[Task, ...]]:
    """Tasks in batches, the last one shorter."""
    rest = iter(tasks)
    while batch := tuple(islice(rest, size)):
        yield batch


def one_by_one(order: Order, tasks: Iterable[Task]) -> Generator[Judged, None, None]:
    """In this process."""
    for task in tasks:
        yield judged_alone(order, task)


def judged_batch(order: Order, batch: Sequence[Task]) -> tuple[Judged, ...]:
    """What a process is sent."""
    return tuple(judged_alone(order, task) for task in batch)


def in_processes(order: Order, tasks: Iterable[Task], many: int) -> Generator[Judged, None, None]:
    """By so many processes, in the order they are ready. No more than a few batches are out at a time.

    A few designs are not worth a process, and are judged in this one.
    """
    size = size_of(order)
    left = batches(tasks, size)
    first = next(left, ())
    if many == 1 or len(first) < size:
        yield from one_by_one(order, first)
        yield from one_by_one(order, chain.from_iterable(left))
        return
    left = chain((first,), left)
    suspects: list[Task] = []
    again = True
    while again:
        out: dict[Future[tuple[Judged, ...]], tuple[Task, ...]] = {}
        with _pool(many) as pool:
            try:
                again = False
                for batch in left:
                    try:
                        out[pool.submit(judged_batch, order, batch)] = batch
                    except BrokenProcessPool:
                        suspects += batch
                        raise
                    if len(out) >= AHEAD * many:
                        yield from _ready(out)
                while out:
                    yield from _ready(out)
            except BrokenProcessPool:
                suspects += [task for batch in out.values() for task in batch]
                again = True
            except BaseException:
                _end(pool)
                raise
        for task in suspects:
            yield _by_itself(order, task)
        suspects.clear()


def _ready(out: dict[Future[tuple[Judged, ...]], tuple[Task, ...]]) -> Iterator[Judged]:
    """What has come back since; a batch is taken out of `out` once its rows are there."""
    done, _ = wait(out, return_when=FIRST_COMPLETED)
    for one in done:
        rows = one.result()
        del out[one]
        yield from rows


def _by_itself(order: Order, task: Task) -> Judged:
    with _pool(1) as pool:
        try:
            return pool.submit(judged_batch, order, (task,)).result()[0]
        except BrokenProcessPool:
            return _unread(task, ENDED)


def _pool(many: int) -> ProcessPoolExecutor:
    # started afresh: a copy of a process that has threads, as the store does, may stand still
    return ProcessPoolExecutor(many, multiprocessing.get_context("spawn"), initializer=_begin)


def _end(pool: ProcessPoolExecutor) -> None:
    """End the processes of a pool whatever they are at."""
    for process in list((pool._processes or {}).values()):
        process.terminate()
    pool.shutdown(wait=True, cancel_futures=True)


def _begin() -> None:
    """What a process of the pool does first: it leaves the interrupt to its parent, and ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.set_threshold(100_000, 20, 20)
    gc.freeze()
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_leave_with, args=(parent.sentinel,), daemon=True).start()


def _leave_with(sentinel: int) -> None:
    wait_for([sentinel])
    os._exit(1)
