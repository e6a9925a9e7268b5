"""How far a supply may be taken, in words: the end of each axis, what stops it there, the ratings that cure a fail."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from derate.judge.review import Finding
from derate.report.plain import plain, wrapped
from derate.report.words import known_text, number_of, quantity_words
from derate.terms.dimension import CELSIUS, CURRENT, VOLTAGE
from derate.text.units import show

_DIMENSIONS = {"A": CURRENT, "degC": CELSIUS, "V": VOLTAGE}
_SIDE = {"lowest mains": "down to", "highest mains": "up to", "output current": "up to", "ambient": "up to"}


def headroom_lines(
    path: str, ends: Sequence[Any], cures: Sequence[Any], unknown: int, width: int | None
) -> Iterator[str]:
    """Ends (`derate.study.headroom.Headroom`) and cures (`derate.study.cures.Cure`) of one design.

    unknown: how many findings that block are not assessed at the rated point, and so were left aside
    """
    columns = width if width is not None else 10_000
    head = f"{plain(path)}: " if width is None else ""
    if unknown:
        told = (
            f"{number_of(unknown, 'finding')} that block are not assessed at the rated point and left aside, so no "
            f"end below is a rating: derate missing {plain(path)}"
        )
        yield from wrapped(f"{head}note: {told}", columns, "", "  ")
    for end in ends:
        yield from wrapped(f"{head}{_end(end)}", columns, "", "  ")
    for cure in cures:
        rating = f"{quantity_words(cure.name)} {known_text(cure.value, cure.name)} or more"
        yield from wrapped(
            f"{head}cure: {cure.finding.rule} on {plain(str(cure.finding.subject))} passes with {rating}",
            columns,
            "",
            "  ",
        )
    told = (
        "each end holds by itself, all else as rated; rises read at the marked current are carried to another between "
        "unchanged and its square, and the efficiency found at full load is taken along"
    )
    yield from wrapped(f"{head}note: {told}", columns, "", "  ")


def _end(end: Any) -> str:
    if end.end is None:
        about = f" ({_stops(end.stops)})" if end.stops is not None else ""
        return f"{end.name}: {end.why}{about}"
    dimension = _DIMENSIONS[end.axis.unit]
    rated = show(end.axis.rated, dimension)
    at = show(end.end, dimension, 4)
    side = _SIDE[end.name]
    if end.open:
        return f"{end.name}: nothing that was judged stops it {side} {at} (rated {rated}), where looking ended"
    room = "no further than rated" if abs(end.end - end.axis.rated) < 1e-9 else f"{side} {at} (rated {rated})"
    return f"{end.name}: {room}; then {_stops(end.stops)}"


def _stops(finding: Finding) -> str:
    what = "fails" if finding.verdict == "fail" else "gives no verdict"
    return f"{finding.rule} on {plain(str(finding.subject))} {what}"
