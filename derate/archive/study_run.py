"""A study over an archive: designs whose study is not in the store yet are given out, and what comes back is kept.

A study hangs on a result of the store: as long as nothing that a design was judged from has changed, its study stands.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field

from derate.archive.judging import Judge, Order, Task
from derate.archive.refresh import MOST_TOLD, Progress
from derate.archive.rows import Judged
from derate.archive.store import Store
from derate.terms.values import ReadingError

_STORED = 50  # designs whose studies are written together
_EVERY = 5.0  # seconds after which what is there is written
UNSAID = "something it is made from was changed while it was judged; the same command judges and studies it again"
CHANGED = "it was changed after it was judged; the same command judges and studies it again"


@dataclass(slots=True)
class Studies:
    """What a study over an archive came to. stood: designs whose study stands; missed: the first of them, and why"""

    stood: int = 0
    done: int = 0
    stopped: int = 0
    missed: dict[str, str] = field(default_factory=dict)
    many_missed: int = 0


def study_all(
    store: Store,
    run: int,
    tasks: Sequence[Task],
    order: Order,
    judge: Judge,
    tell: Callable[[Progress], None] = lambda progress: None,
) -> Studies:
    """Study every judged design of a run whose study is not in the store yet; what is there stays, if interrupted."""
    assert order.study is not None
    left = store.unstudied(run, order.study.key)
    todo = [one for one in tasks if one.name in left]
    found = Studies(stood=store.studied(run, order.study.key))
    waiting: list[tuple[int, Judged]] = []
    began = since = time.monotonic()

    def write() -> None:
        nonlocal waiting
        store.add_studies(order.study.key if order.study is not None else "", order.day, waiting)
        waiting = []

    with closing(judge(_each(todo))) as coming:
        try:
            for one in coming:
                found.done += 1
                result, trail = left[one.design]
                if one.outcome == "judged" and not trail:
                    one = Judged(one.design, "unread", problems=UNSAID)
                elif one.outcome == "judged" and one.trail != trail:
                    one = Judged(one.design, "unread", problems=CHANGED)
                if one.outcome == "unread":
                    found.many_missed += 1
                    if len(found.missed) < MOST_TOLD:
                        found.missed[one.design] = one.problems
                elif one.studied is not None and one.studied.stopped:
                    found.stopped += 1
                waiting.append((result, one))
                if len(waiting) >= _STORED or time.monotonic() - since > _EVERY:
                    write()
                    since = time.monotonic()
                tell(Progress(found.stood + len(todo), found.stood, found.done, time.monotonic() - began))
        except (KeyboardInterrupt, ReadingError):  # the latter: a cluster that is gone
            write()
            raise
    write()
    return found


def _each(tasks: Sequence[Task]) -> Iterator[Task]:
    yield from tasks
