"""A formula with its figures in it: `resistance × current²` with 6.8 ohm and 0.41 A reads `6.8 ohm × (0.41 A)²`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from derate.ledger.entry import Entry
from derate.report.plain import plain
from derate.report.words import entry_words
from derate.terms.dimension import CELSIUS, FREQUENCY, VOLTAGE
from derate.text.units import show

_WORD = re.compile(r"[A-Za-z][A-Za-z0-9]*(?: [a-z]+)*²?|[A-Za-z]\w*")


def filled(entry: Entry, inputs: Iterable[Entry], formulas: Mapping[str, str]) -> str:
    """The formula of a row with the figures of its inputs and its case; '' when no word of it names one of them."""
    written = formulas.get(entry.formula, "")
    if not written:
        return ""
    figures = _figures(entry, inputs)
    hits = 0

    def figure(found: re.Match[str]) -> str:
        nonlocal hits
        text = found[0]
        squared = text.endswith("²")
        known = figures.get(text.rstrip("²"))
        if known is None:
            return text
        hits += 1
        return f"({known})²" if squared else f"({known})" if " to " in known else known

    told = _WORD.sub(figure, written)
    return told if hits else ""


def _figures(entry: Entry, inputs: Iterable[Entry]) -> dict[str, str]:
    """Figures by the words a formula may call them: a word that could mean two of them means neither."""
    found: dict[str, str | None] = {}
    for one in inputs:
        if one.value is None:
            continue
        name = one.quantity.partition(" in ")[0].rpartition(".")[2].replace("_", " ")
        for word in {name, name.partition(" ")[0]}:
            found[word] = None if word in found else plain(entry_words(one))
    case = entry.case
    if case is not None:
        for word, value, dimension in (
            ("mains", case.mains, VOLTAGE), ("frequency", case.frequency, FREQUENCY), ("ambient", case.ambient, CELSIUS)
        ):  # fmt: skip
            if value is not None:
                found.setdefault(word, show(value, dimension))
    return {word: text for word, text in found.items() if text is not None}
