"""Libraries of parts over a whole repository: which designs use an entry, and what a change of one figure would do.

Every design goes through the one function again with that figure set, and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import NamedTuple

from derate.design.library import Origin
from derate.design.load import Design, load_design
from derate.judge.review import Finding, VerdictChange, Way
from derate.ledger.entry import Subject
from derate.ledger.recorded import RecordingLedger
from derate.study.trying import Bench, Key
from derate.study.work import Workshop
from derate.terms.quantities import named
from derate.terms.values import Known, Place, Problem, ReadingError
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import VERDICTS
from derate.text.nodes import Scalar


class UsedBy(NamedTuple):
    """A part of a design that takes its facts from an entry of a library."""

    design: str
    origin: Origin


def used_by(paths: Iterable[str]) -> tuple[tuple[UsedBy, ...], tuple[Problem, ...]]:
    """Every part of these designs that comes from a library, and what could not be read."""
    found: list[UsedBy] = []
    problems: list[Problem] = []
    for path in paths:
        try:
            design = load_design(path)
        except ReadingError as error:
            problems += error.problems
            continue
        found += (UsedBy(path, one) for one in _origins(design))
    return tuple(found), tuple(problems)


def _origins(design: Design) -> tuple[Origin, ...]:
    return design.library.origins if design.library is not None else ()


class Tried(NamedTuple):
    """What a change of one figure does to one design.

    parts: those that have the figure from the library; own: those that state it themselves, on which nothing moves
    moved: the findings whose verdict is another
    """

    design: str
    parts: tuple[str, ...]
    own: tuple[str, ...]
    moved: tuple[VerdictChange, ...]
    blocking: tuple[int, int]


def read_change(text: str, place: Place) -> tuple[str, Known, str]:
    """`rated.reverse_voltage=800 V` as the key, the value and its text. Raises ReadingError."""
    from derate.design.record import read_fact, read_word

    key, equals, said = (one.strip() for one in text.partition("="))
    name = key if "." in key else f"rated.{key}"
    term = VOCABULARY.get(name) or VOCABULARY.get(f"part.{key}")
    if not equals or not said or term is None:
        from derate.design.blocks import Rated
        from derate.terms.values import nearest

        close = nearest(key.removeprefix("rated."), Rated.fields)
        write = f"rated.{close}=…" if close else "rated.reverse_voltage=800 V"
        raise ReadingError([Problem(place, f"'{text[:60]}' is no figure and its value", f"write {write}")])
    scalar = Scalar(said, place)
    stated = read_word(term, scalar) if term.dimension is None else read_fact(term, scalar)
    if stated.value is None:
        raise ReadingError([Problem(place, f"'{said[:40]}' is no value to try", "write a figure with its unit")])
    return term.name, stated.value, said


def tried(
    designs: Iterable[str], name: str, key: str, value: Known, today: date, maker: str = ""
) -> tuple[tuple[Tried, ...], tuple[Problem, ...]]:
    """What setting one figure of an entry would do to every design that has a part of that name.

    key: such as rated.voltage; maker: of whose parts alone, all when empty
    """
    found: list[Tried] = []
    problems: list[Problem] = []
    workshop = Workshop(ledger=RecordingLedger)
    for path in designs:
        try:
            if not any(one.name == name for one in _origins(load_design(path))):
                continue
            work = workshop.work(path)
        except ReadingError as error:
            problems += error.problems
            continue
        origins = [one for one in _origins(work.design) if one.name == name and (not maker or one.maker == maker)]
        own = [one.part for one in origins if any(key in (each.key, f"part.{each.key}") for each in one.overruled)]
        parts = [one.part for one in origins if one.part not in own]
        if not origins:
            continue
        bench = Bench(work, today)
        moved: tuple[VerdictChange, ...] = ()
        blocking = sum(one.blocks for one in bench.base.review.findings)
        after = blocking
        if parts:
            result = bench.tried({(Subject("part", (one,)), named(key)): value for one in parts})
            before, now = bench.base.verdicts(), result.verdicts()
            moved = tuple(_moved(before, now))
            after = sum(one.blocks for one in result.review.findings)
        found.append(Tried(path, tuple(parts), tuple(own), moved, (blocking, after)))
    return tuple(found), tuple(problems)


def _moved(before: Mapping[Key, Finding], now: Mapping[Key, Finding]) -> Iterator[VerdictChange]:
    for key in {**before, **now}:
        one, other = before.get(key), now.get(key)
        words = [each.verdict if each is not None else "" for each in (one, other)]
        if words[0] == words[1]:
            continue
        way: Way = "other"
        if one is not None and other is not None:
            ranks = [VERDICTS.index(each.verdict) for each in (one, other)]
            way = "worse" if ranks[1] < ranks[0] else "better"
        yield VerdictChange(key[0], key[2], one, other, way)
