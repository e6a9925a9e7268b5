"""A design while somebody types it: its text read, worked through and judged again, as little of it as changed.

Steps that read nothing of what changed are put back from the last whole run (`derate.ledger.recorded`); a run that
was put together from another is none to replay from. A step may also look at the design itself (paths, windings,
places of the barrier, readings), so that is done only where nothing but figures of parts is another than in that run;
whatever else was typed is worked through afresh, and so is everything once half of it had to run again.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from typing import NamedTuple

from derate.design.load import Design, read_design
from derate.design.record import Record
from derate.design.settings import find_settings
from derate.judge.review import Review
from derate.ledger.recorded import RecordingLedger, Tape
from derate.packs.load import Packs
from derate.study.work import Work, Workshop, review_of
from derate.terms.values import Place, Problem, ReadingError

_FREE = ("parts", "waivers", "open_points")  # blocks whose change leaves every step to its recorded reads


@dataclass(frozen=True, slots=True)
class State:
    """What a text came to. problems: why it cannot be read; work and review are then those of the last text that could.

    worked_out: rows that had to be worked out for it; replayed: steps that were put back
    """

    text: str
    problems: tuple[Problem, ...] = ()
    work: Work | None = None
    review: Review | None = None
    worked_out: int = 0
    replayed: int = 0


class Desk:
    """One design file that is open. today: asked at every text, for the day that waivers are held to: a file stays open
    over midnight"""

    def __init__(self, path: str, today: Callable[[], date]) -> None:
        self.path, self.today = path, today
        self.state = State("")
        self._whole: _Whole | None = None

    def put(self, text: str) -> State:
        """Take the text as it is now. Never raises for what stands in it."""
        before = self.state
        try:
            self.state = self._judged(text)
        except ReadingError as error:
            self.state = State(text, tuple(error.problems), before.work, before.review)
        except MemoryError:
            raise
        except Exception as error:  # told as the command line tells it; the editor goes on
            what = f"this design could not be worked through ({type(error).__name__})"
            self.state = State(text, (Problem(Place(self.path), what, ""),), before.work, before.review)
            self._whole = None
        return self.state

    def may_read(self, path: str) -> bool:
        """Whether a file is one that this design was made from, or may be: what cannot be read may wait for it."""
        work, real = self.state.work, os.path.realpath(path)
        return work is None or bool(self.state.problems) or any(os.path.realpath(one) == real for one in work.read)

    def _judged(self, text: str) -> State:
        settings = find_settings(self.path)
        design = read_design(text, self.path)
        whole = self._whole
        shop = Workshop(ledger=lambda: ledger)  # packs are read again: somebody may have saved one
        if whole is not None and not _only_parts(whole.work, design, shop.packs_for(self.path, design, settings)):
            whole = None
        ledger = RecordingLedger(None, whole.tape if whole is not None else None)
        work = shop.worked(self.path, design, settings)
        review = review_of(work, self.today())
        if whole is None:
            self._whole = _Whole(work, ledger.tape(), ledger.worked_out)
        elif 2 * ledger.worked_out > whole.rows:
            self._whole = None
        return State(text, (), work, review, ledger.worked_out, ledger.replayed)


class _Whole(NamedTuple):
    """A run from which others replay: what it was of, its tape, rows that it worked out."""

    work: Work
    tape: Tape
    rows: int


def _only_parts(old: Work, design: Design, packs: Packs) -> bool:
    """Whether nothing but figures of parts, none of them across the barrier, is another than in a run."""
    if [(one.name, one.digest) for one in old.packs.heads] != [(one.name, one.digest) for one in packs.heads]:
        return False
    if not same(old.design.structure, design.structure) or old.design.library != design.library:
        return False
    if old.design.known_by != design.known_by:  # of a file that it revises, where the design says its own besides
        return False
    mine, theirs = old.design.file, design.file
    if any(not same(getattr(mine, key), getattr(theirs, key)) for key in type(theirs).fields if key not in _FREE):
        return False
    structure = design.structure
    across = [name for one in structure.bridges or () for name in one.names]
    across += [name for one in (structure.inlet.shunts if structure.inlet is not None else ()) for name in one.names]
    return all(same(mine.parts.get(name), theirs.parts.get(name)) for name in across)


def same(one: object, other: object) -> bool:
    """Whether two values of a design are alike, where they stand included: a row that is put back shows its line."""
    if one is other:
        return True
    if type(one) is not type(other):
        return False
    if isinstance(one, Record):
        return same(vars(one), vars(other))
    if is_dataclass(one) and not isinstance(one, type):
        return all(same(getattr(one, field.name), getattr(other, field.name)) for field in fields(one))
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if isinstance(one, tuple | list) and isinstance(other, tuple | list):
        return len(one) == len(other) and all(same(left, right) for left, right in zip(one, other, strict=True))
    return one == other
