"""What a design was judged by, in words: the line of packs and level, and by what the gate is softer, one line each.

Shared by every format. An empty answer means that the gate is the shipped one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from derate import __version__
from derate.judge.review import Less, Review, Used
from derate.report.words import clipped, plain

SOFTER = "The gate here is softer than the shipped one"
_DIGITS = 12  # of a digest, where a reader compares by eye
_LONGEST = 240  # columns of one line
_EACH = 12  # lines of one kind; what is left out is counted, and stands at its finding


def used_words(review: Review) -> str:
    """Version, level and packs, as every text names them."""
    packs = ", ".join(map(_pack, review.gate.packs)) or ", ".join(map(plain, review.packs)) or "none"
    return f"derate {__version__}; level: {level_words(review)}; rule packs: {packs}"


def level_words(review: Review) -> str:
    """What stops the exit status, and who says so."""
    gate = review.gate
    return f"{gate.level} ({plain(gate.level_from)})" if gate.level_from else gate.level


def pack_words(pack: Used) -> str:
    """Whether a pack is shipped, and where it was found."""
    if pack.shipped:
        return f"shipped, from {plain(pack.where)}" if pack.where else "shipped"
    return f"house pack, {plain(pack.where)}" if pack.where else "house pack"


def _pack(pack: Used) -> str:
    return f"{plain(pack.name)} ({pack_words(pack)}, {pack.digest[:_DIGITS]})"


def softer_lines(review: Review) -> tuple[str, ...]:
    """By what the gate is softer, one line each; many of one kind are counted after the first ones."""
    found: list[str] = []
    for kind, several in _by_kind(review.gate.softer):
        found += [clipped(less_words(one), _LONGEST) for one in several[:_EACH]]
        if len(several) > _EACH:
            found.append(f"{kind}: {len(several) - _EACH} more, each told at its finding")
    return tuple(found)


def _by_kind(softer: Iterable[Less]) -> Iterator[tuple[str, list[Less]]]:
    kinds: dict[str, list[Less]] = {}
    for one in softer:
        kinds.setdefault(one.kind, []).append(one)
    yield from kinds.items()


def less_words(one: Less) -> str:
    """One line: `relaxed by house: bulk-voltage: 'a <= b' became 'a <= 2 * b': our reason`."""
    if one.kind in ("waiver", "open point", "known findings"):
        signed = f"until {plain(one.last_day)} by {plain(one.by)}: {plain(one.reason)}"
        return f"{one.kind}: {plain(one.name)}: {plain(one.after)}, {signed}"
    by = f" ({plain(one.by)})" if one.by else ""
    reason = f": {plain(one.reason)}" if one.reason else ""
    moved = f": {plain(one.after)} in place of {plain(one.before)}" if one.before else ""
    return f"{one.kind}{by}: {plain(one.name)}{moved}{reason}"
