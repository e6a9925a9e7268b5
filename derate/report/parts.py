"""Libraries of parts in words: the list of entries, one entry with its figures and sources, what a change moved."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from derate.design.library import Origin
from derate.design.library_file import Figure, Library, Listed
from derate.judge.review import Used, VerdictChange
from derate.report.colour import HEADING, Line
from derate.report.words import CAUTION, number_of, plain, unit_of
from derate.terms.values import Problem
from derate.terms.vocabulary import VOCABULARY

_SHOWN = 4  # figures of an entry in the list


def list_lines(
    libraries: Sequence[Library], entries: Mapping[str, Sequence[Listed]], uses: Mapping[str, int]
) -> Iterator[str]:
    """Every entry of every library, a line each; uses: parts of designs that name it."""
    for number, library in enumerate(libraries):
        if number:
            yield ""
        own = entries[library.path]
        where = "shipped" if library.shipped else plain(library.path)
        count = number_of(len(own), "part")
        yield Line(f"{plain(library.name)} ({where}, {library.digest[:12]}): {count}", HEADING)
        for one in own:
            figures = [_said(each) for each in one.figures if each.key.startswith("rated.") and not each.maker]
            more = f", {len(figures) - _SHOWN} more" if len(figures) > _SHOWN else ""
            used = uses.get(one.name, 0)
            told = f"; used {number_of(used, 'time')}" if used else ""
            yield f"  {plain(one.name)}, {plain(one.kind)}: {', '.join(figures[:_SHOWN])}{more}{told}"


def _said(one: Figure) -> str:
    return f"{one.key.partition('.')[2] or one.key} {plain(one.said)}".replace("_", " ")


def entry_lines(one: Listed, uses: Iterable[tuple[str, Origin]]) -> Iterator[str]:
    """One entry: each figure with how it is known, how sure, its source and its line; where it is used."""
    yield Line(f"{plain(one.name)}, {plain(one.kind)}: {plain(one.place.path)}:{one.place.line}", HEADING)
    for each in one.figures:
        whose = f" ({plain(each.maker)})" if each.maker else ""
        known = ", ".join(word for word in (each.known_by, each.confidence) if word)
        source = f"; {plain(each.source)}" if each.source else ""
        yield f"  {plain(each.key)}{whose}: {plain(each.said)} ({known}{source}; line {each.place.line})"
    for design, origin in uses:
        maker = f", of {plain(origin.maker)}" if origin.maker else ""
        yield f"  used by {plain(design)}:{origin.place.line}: {plain(origin.part)}{maker}"
        for own in origin.overruled:
            raised = f", raised by {plain(own.source)}" if own.raised else ""
            yield f"    {plain(own.key)}: {plain(own.after)} there in place of {plain(own.before)}{raised}"


def tried_lines(
    design: str, parts: Sequence[str], own: Sequence[str], moved: Sequence[VerdictChange], blocking: tuple[int, int]
) -> Iterator[str]:
    """What a change of one figure does to one design."""
    head = plain(design)
    if own:
        yield f"{head}: {', '.join(map(plain, own))}: the design has a figure of its own, nothing moves"
    if not parts:
        return
    names = ", ".join(map(plain, parts))
    if not moved:
        yield f"{head}: {names}: no verdict moves"
    for one in moved:
        before, after = (each.verdict if each is not None else "not asked" for each in (one.before, one.after))
        yield f"{head}: {one.way}: {plain(one.rule)} on {plain(str(one.subject))}: {before} before, {after} then"
    if blocking[0] != blocking[1]:
        yield f"{head}: {blocking[0]} findings block before, {blocking[1]} then"


def counted_line(libraries: Sequence[Library], entries: Mapping[str, Sequence[Listed]], wrong: int) -> str:
    """The last line of a check."""
    of = sum(len(entries.get(one.path, ())) for one in libraries)
    found = number_of(wrong, "problem") if wrong else "nothing wrong"
    return f"{number_of(len(libraries), 'library', 'libraries')}, {number_of(of, 'part')}: {found}"


# The same as JSON in SI base units.


def parts_json(
    libraries: Sequence[Library],
    entries: Iterable[Listed],
    uses: Sequence[tuple[str, Origin]],
    change: dict[str, Any] | None = None,
    problems: Iterable[Problem] = (),
) -> str:
    """Libraries, entries with their figures and who uses them, what a change does, what is wrong."""
    from derate.report.machine import VERSION, text_of, used_data

    used = [Used(one.name, "" if one.shipped else one.path, one.shipped, one.digest) for one in libraries]
    return text_of(
        {
            "derate": VERSION,
            "caution": CAUTION,
            "libraries": [used_data(one) for one in used],
            "parts": [_entry_data(one, uses) for one in entries],
            "change": change,
            "problems": [
                {
                    "path": plain(one.place.path),
                    "line": one.place.line,
                    "column": one.place.column,
                    "what": plain(one.what),
                    "instead": plain(one.instead),
                }
                for one in problems
            ],
        }
    )


def _entry_data(one: Listed, uses: Iterable[tuple[str, Origin]]) -> dict[str, Any]:
    own = [pair for pair in uses if pair[1].name == one.name and pair[1].was.path == one.place.path]
    return {
        "name": plain(one.name),
        "kind": plain(one.kind),
        "path": plain(one.place.path),
        "line": one.place.line,
        "figures": [_figure_data(each) for each in one.figures],
        "used_by": [
            {
                "design": plain(design),
                "line": origin.place.line,
                "part": plain(origin.part),
                "maker": plain(origin.maker),
                "overruled": [
                    {
                        "key": plain(each.key),
                        "before": plain(each.before),
                        "after": plain(each.after),
                        "raised": each.raised,
                        "source": plain(each.source),
                    }
                    for each in origin.overruled
                ],
            }
            for design, origin in own
        ],
    }


def _figure_data(one: Figure) -> dict[str, Any]:
    from derate.report.machine import known_data

    name = one.key if one.key in VOCABULARY else f"part.{one.key}"
    term = VOCABULARY.get(name)
    return {
        "key": plain(one.key),
        "maker": plain(one.maker),
        "said": plain(one.said),
        "value": known_data(one.value),
        "unit": unit_of(term.name) if term is not None and term.dimension is not None else "",
        "known_by": one.known_by,
        "confidence": one.confidence,
        "source": plain(one.source),
        "line": one.place.line,
    }


def change_data(name: str, maker: str, key: str, said: str, designs: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """The figure that was set, and what that does to every design."""
    about = {"part": plain(name), "maker": plain(maker), "key": key, "said": plain(said)}
    return {**about, "designs": list(designs)}


def tried_data(
    design: str, parts: Sequence[str], own: Sequence[str], moved: Sequence[VerdictChange], blocking: tuple[int, int]
) -> dict[str, Any]:
    """What a change of one figure does to one design."""
    return {
        "design": plain(design),
        "parts": list(map(plain, parts)),
        "own": list(map(plain, own)),
        "moved": [_moved_data(one) for one in moved],
        "blocking_before": blocking[0],
        "blocking_after": blocking[1],
    }


def _moved_data(one: VerdictChange) -> dict[str, Any]:
    from derate.report.machine import subject_data

    return {
        "way": one.way,
        "rule": plain(one.rule),
        "subject": subject_data(one.subject),
        "before": one.before.verdict if one.before is not None else None,
        "after": one.after.verdict if one.after is not None else None,
    }
