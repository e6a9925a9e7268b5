"""Words shared by every format: text made harmless, figures, facts and counts."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from math import inf

from derate.ledger.entry import Entry, OpenFact
from derate.terms.dimension import NUMBER, Dimension
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.vocabulary import DIMENSIONS, SHOWN_IN, said
from derate.terms.words import VERDICTS, Verdict
from derate.text.units import digits_of, show, show_value

# Text from files made harmless for a screen: one function, used by every format.
#
# Control characters, marks that turn the direction of writing, characters without width and lone surrogates are
# written out as `\u202e`, so that nobody sees something else than what stands in the file. Line ends and tabs become
# spaces.


_BREAKS = re.compile(r"[\t\n\r\x0b\x0c\x85\u2028\u2029]+")
_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180e\u200b-\u200f\u202a-\u202e\u2060-\u206f"
    "\ufe00-\ufe0f\ufeff\ufff0-\ufffb\ud800-\udfff\U000e0000-\U000e0fff]"
)


def plain(text: str) -> str:
    """The text on one line, with everything that a screen would obey or hide written out."""
    if text.isascii() and text.isprintable():  # nearly always
        return text
    return _HIDDEN.sub(_written_out, _BREAKS.sub(" ", text))


def _written_out(found: re.Match[str]) -> str:
    number = ord(found.group())
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def cells(text: str) -> int:
    """Columns that a text takes on a screen: two for wide characters, none for combining ones."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(one) else 2 if unicodedata.east_asian_width(one) in "WF" else 1 for one in text
    )


def clipped(text: str, width: int) -> str:
    """The text cut to so many columns, with a mark where it was cut."""
    if cells(text) <= width:
        return text
    kept = ""
    for one in text:
        if cells(kept + one) > width - 1:
            break
        kept += one
    return kept + "…"


def padded(text: str, width: int) -> str:
    """The text filled up with spaces to so many columns."""
    return text + " " * max(0, width - cells(text))


def wrapped(text: str, width: int, first: str = "", further: str = "") -> list[str]:
    """The text broken at spaces into lines of at most `width` columns; a longer word is cut.

    first, further: what stands before the first line and before the others, counted in the width
    """
    lines, line, lead = [], "", first
    for word in text.split(" "):
        room = max(8, width - cells(lead))
        if line and cells(line) + 1 + cells(word) <= room:
            line += " " + word
            continue
        if line:
            lines.append(lead + line)
            lead = further
            room = max(8, width - cells(lead))
        while cells(word) > room:
            head = word[: max(1, len(clipped(word, room)) - 1)]
            lines.append(lead + head)
            word, lead = word[len(head) :], further
            room = max(8, width - cells(lead))
        line = word
    return [*lines, lead + line] if line or not lines else lines


# Figures, facts and counts in words, the same in every format.


CAUTION = (
    "This judges the facts entered for one sample and is no certificate. Mains can kill and the bulk capacitor stays "
    "charged; local codes, current standards and licensed or accredited people decide. Cures are for the design: an "
    "opened or unwound sample never goes back into use."
)
CAUTION_CELL = "facts entered for one sample; no certificate; mains can kill"  # where every row has to carry it
_BY_SYMBOL: dict[str, Dimension] = {dimension.symbol: dimension for dimension in DIMENSIONS.values()}


def figure(value: Value, unit: str) -> str:
    """Four numbers in SI units with their symbol as engineering text."""
    dimension = _BY_SYMBOL.get(unit)
    if dimension is not None:
        return show_value(value, dimension)
    text = show_value(value, NUMBER)
    return f"{text} {plain(unit)}" if unit else text


def known_text(value: Known, quantity: str) -> str:
    """A value, a category or a curve as text; the dimension is that of the quantity."""
    if isinstance(value, Category):
        return plain(str(value))
    if isinstance(value, Curve):
        points = (f"{show_value(one, value.unit)} at {show(at, value.condition)}" for at, one in value.points)
        return ", ".join(points)
    return show_value(value, _shown_in(quantity))


def _shown_in(quantity: str) -> Dimension:
    """The dimension of a quantity; of one that each family of insulation has of its own, whichever family."""
    return SHOWN_IN.get(quantity) or SHOWN_IN.get(quantity.partition(" in ")[0], NUMBER)


def unit_of(quantity: str) -> str:
    """The SI symbol in which the floats of a quantity are held."""
    return _shown_in(quantity).symbol


def quantity_words(quantity: str) -> str:
    """What a quantity is, in a few words; its own name spelled out when it is not in the vocabulary."""
    return plain(said(quantity))


def fact_words(facts: Iterable[OpenFact], most: int = 3) -> tuple[str, ...]:
    """Facts in words, those of one name together: `rated voltage (C1, C2)`, `mains tolerance`.

    Of a fact that is there in part what is lacking stands behind it. The order stays.
    most: how many subjects are named before the rest is counted
    """
    owners: dict[str, list[str]] = {}
    for fact in facts:
        subject = str(fact.subject or "")
        named = owners.setdefault(quantity_words(fact.quantity) + (f" {plain(fact.detail)}" if fact.detail else ""), [])
        if subject not in ("", "supply") and plain(subject) not in named:
            named.append(plain(subject))
    return tuple(f"{words} ({listed(named, most)})" if named else words for words, named in owners.items())


def entry_words(entry: Entry) -> str:
    """The value of a row, or that there is none."""
    return "not known" if entry.value is None else known_text(entry.value, entry.quantity)


class Sides(NamedTuple):
    """How the two figures of a comparison are called, and the ratio in its kindest reading (None when open)."""

    first: str
    second: str
    kindest: float | None


def sides(stress: Value, limit: Value, ratio: float) -> Sides:
    """Which way a comparison runs, told from its ratio: a stress allowed up to a limit, or a need to be found there.

    The ratio is always the worst reading of the demand over the worst of what stands against it.
    """
    if ratio == inf and stress.far < limit.near:  # an open end: what is there stays below what it is held to
        return Sides("found", "needed", _quotient(limit.near, stress.far))
    asked = _near(ratio, stress.far, limit.near) or _near(ratio, stress.high, limit.low)
    turned = _near(ratio, limit.far, stress.near) or _near(ratio, limit.high, stress.low)
    if turned and not asked:
        return Sides("found", "needed", _quotient(limit.near, stress.far))
    return Sides("used", "allowed", _quotient(stress.near, limit.far) if asked else None)


def _near(ratio: float, over: float, under: float) -> bool:
    found = _quotient(over, under)
    return found is not None and (found == ratio or abs(found - ratio) <= 1e-9 * abs(ratio) < inf)


def _quotient(over: float, under: float) -> float | None:
    if under <= 0 or over < 0 or (over == inf and under == inf):
        return None
    return inf if over == inf else over / under


def times(ratio: float, second: str = "allowed") -> str:
    """A ratio in words: `1.38 times what is allowed`, `1.38 times what is found`."""
    against = "there" if second == "needed" else "allowed"
    asked = "needed is " if second == "needed" else ""
    if ratio == inf:
        return "without bound"
    shown = digits_of(ratio)
    if ratio != 1 and shown == "1":
        return f"{asked}just {'over' if ratio > 1 else 'under'} what is {against}"
    return f"{asked}{shown} times what is {against}"


def counts_words(counts: Mapping[Verdict, int]) -> str:
    """`2 fail, 0 not assessed, 1 marginal, 9 pass, 4 not applicable`: every verdict, always."""
    return ", ".join(f"{counts.get(verdict, 0)} {verdict}" for verdict in VERDICTS)


def number_of(count: int, one: str, many: str = "") -> str:
    """`1 finding`, `3 findings`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(words: Iterable[str], most: int = 6) -> str:
    """`a, b and c`; beyond `most` the rest is counted."""
    every = list(words)
    if len(every) > most:
        return f"{', '.join(every[:most])} and {len(every) - most} more"
    if len(every) < 2:
        return "".join(every)
    return f"{', '.join(every[:-1])} and {every[-1]}"
