"""One run over an archive: what nobody changed keeps its result, the rest is judged, and all of it is in the store.

Results are stored as they come, a batch at a time. A run that is interrupted stays open; the same run begun again
finds what it has and judges the rest.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from typing import NamedTuple

from derate import __version__
from derate.archive.judging import Judge, Order, Task, forget
from derate.archive.rows import Judged
from derate.archive.store import Standing, Store
from derate.archive.trail import Digests, program, stands
from derate.packs.compiled import digest_of
from derate.terms.values import Place, Problem, ReadingError

AT_A_TIME = 1000  # designs that the store is asked about together
STORED = 6000  # rows of findings that are written together
_EVERY = 5.0  # seconds after which what is there is written, so that an interruption loses little


class Progress(NamedTuple):
    """How far a run is. before: designs whose result stood; done: those judged since; seconds since the first."""

    many: int
    before: int
    done: int
    seconds: float

    @property
    def rate(self) -> float:
        """Designs judged a second."""
        return self.done / self.seconds if self.seconds > 0 else 0.0

    @property
    def left(self) -> float | None:
        """Seconds left at that rate; None while there is none."""
        return (self.many - self.before - self.done) / self.rate if self.rate > 0 else None


@dataclass(slots=True)
class Refreshed:
    """What a run came to.

    run: its number, or that of the earlier run whose results are all the same (`same`)
    """

    run: int = 0
    same: bool = False
    went_on: bool = False
    unchanged: int = 0
    judged: int = 0
    unread: dict[str, str] = field(default_factory=dict)  # the first of them: design and why
    many_unread: int = 0


MOST_TOLD = 20  # designs that could not be read, told one by one


def tasks_of(paths: Sequence[str], borders: dict[str, str], above: str) -> tuple[list[Task], list[Problem]]:
    """Designs as tasks, named by their path from the folder of the store; and those that cannot be told apart.

    borders: the folder that no link may lead out of, by path
    """
    found: dict[str, Task] = {}
    problems = []
    for path in paths:
        full = os.path.abspath(path)
        name = os.path.relpath(full, above).replace(os.sep, "/").encode("utf-8", "surrogateescape")
        written = name.decode("utf-8", "backslashreplace")
        if written in found:
            problems.append(Problem(Place(path), f"another file is called {written} too", "rename one of them"))
        else:
            found[written] = Task(written, full, borders[path])
    return list(found.values()), problems


def key_of(order: Order) -> str:
    """The options of an order that results hang on, as text; the day and the folders are none of them."""
    return json.dumps(
        {
            "packs": order.packs,
            "besides": [[name, sorted(only)] for name, only in order.besides],
            "sets": [[".".join(one.path), one.named, one.text] for one in order.sets],
            "stop_at": order.stop_at or "",
            "shipped_gate": order.shipped_gate,
            **({"known": digest_of(order.known[1].encode("utf-8", "backslashreplace"))} if order.known[0] else {}),
        },
        sort_keys=True,
        ensure_ascii=False,
    )


def refresh(
    store: Store,
    tasks: Sequence[Task],
    order: Order,
    judge: Judge,
    what: str = "",
    afresh: bool = False,
    base: int | None = None,
    tell: Callable[[Progress], None] = lambda progress: None,
) -> Refreshed:
    """Bring the store up to date with designs, and say what was done.

    judge: works through tasks and gives each back; what: '' as it is, else what is set otherwise
    afresh: judge every design again; base: the run whose results stand for designs that nothing was set in
    """
    forget()
    options, made = key_of(order), program()
    run, went_on = store.begin(what, options, order.day, __version__, made)
    found = Refreshed(run, went_on=went_on)
    looked = _Look(store, order, options, made, afresh and not went_on, run)
    kept = _Kept(store, run, options, made, found, base)
    began = time.monotonic()

    def told() -> None:
        tell(Progress(len(tasks), found.unchanged, found.judged, time.monotonic() - began))

    told()
    with closing(judge(looked.left(tasks, found))) as coming:
        try:
            for one in coming:
                kept.take(one, looked.earlier.pop(one.design, None))
                told()
        except (KeyboardInterrupt, ReadingError):  # the latter: a cluster that is gone
            kept.write()
            raise
    kept.write()
    if went_on:
        store.keep_only(run, [one.name for one in tasks])
    same = store.same_as(run)
    if same is not None:
        store.forget(run)
        found.run, found.same = same, True
    else:
        store.end(run)
    return found


class _Look:
    """Which designs have a result that stands: it is linked to the run; the others are given on to be judged."""

    def __init__(self, store: Store, order: Order, options: str, made: str, afresh: bool, run: int) -> None:
        self.store, self.order, self.options, self.made, self.run = store, order, options, made, run
        self.afresh = afresh
        self.digests = Digests()
        self.earlier: dict[str, Standing] = {}  # of those that are out to be judged, where they were unread before

    def left(self, tasks: Sequence[Task], found: Refreshed) -> Iterator[Task]:
        """Those to be judged, in order; what the store is asked is asked of many at once."""
        for begin in range(0, len(tasks), AT_A_TIME):
            some = tasks[begin : begin + AT_A_TIME]
            names = [one.name for one in some]
            standing = {} if self.afresh else self.store.standing(names, self.options, self.made)
            kept = {one.name for one in some if self._stands(one, standing.get(one.name))}
            self.store.link(self.run, [(name, standing[name].result) for name in names if name in kept])
            found.unchanged += len(kept)
            for one in some:
                if one.name not in kept:
                    if (before := standing.get(one.name)) is not None and before.outcome == "unread":
                        self.earlier[one.name] = before
                    yield one

    def _stands(self, task: Task, before: Standing | None) -> bool:
        if before is None or before.outcome != "judged":
            return False  # what could not be read is tried again each time: what was missing may be there now
        day = self.order.day
        if (before.holds_from and day < before.holds_from) or (before.holds_to and day > before.holds_to):
            return False
        return stands(before.trail, task.path, self.order.above, self.digests)


class _Kept:
    """Results on their way into the store."""

    def __init__(self, store: Store, run: int, options: str, made: str, found: Refreshed, base: int | None) -> None:
        self.store, self.run, self.options, self.made, self.found = store, run, options, made, found
        self.base = base
        self.waiting: list[Judged] = []
        self.untouched: list[str] = []
        self.links: list[tuple[str, int]] = []
        self.rows = 0
        self.since = time.monotonic()

    def take(self, one: Judged, before: Standing | None) -> None:
        """One more. before: that it could not be read earlier; where the reason is the same, nothing is new."""
        self.found.judged += 1
        if one.outcome == "unread":
            self.found.many_unread += 1
            if len(self.found.unread) < MOST_TOLD:
                self.found.unread[one.design] = one.problems
        if one.outcome == "untouched":
            self.untouched.append(one.design)
        elif one.outcome == "unread" and before is not None and before.problems == one.problems:
            self.links.append((one.design, before.result))
        else:
            self.waiting.append(one)
            self.rows += len(one.findings)
        if self.rows >= STORED or time.monotonic() - self.since > _EVERY:
            self.write()

    def write(self) -> None:
        """Write what is there."""
        self.store.add(self.run, self.waiting, self.options, __version__, self.made)
        self.store.link(self.run, self.links)
        if self.untouched and self.base is not None:
            self.store.link(self.run, self.store.results_of(self.base, self.untouched))
        self.waiting, self.links, self.untouched, self.rows, self.since = [], [], [], 0, time.monotonic()
