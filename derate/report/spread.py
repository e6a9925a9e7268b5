"""The spread of a design in words: extreme value, root of squares, draws with their interval, and what drives each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor, inf, isfinite, log10
from typing import Any

from derate.judge.review import Finding
from derate.report.colour import CAUTION_STYLE, HEADING, STYLES, styled
from derate.report.words import CAUTION, cells, figure, listed, number_of, padded, plain, quantity_words, wrapped
from derate.terms.quantities import HEAT
from derate.terms.values import Value, written
from derate.terms.vocabulary import DIMENSIONS, VOCABULARY
from derate.text.units import show, show_value

_BLOCKS, _PLAIN = "▁▂▃▄▅▆▇█", ".:-=+*%@"
_BAR_BLOCKS = "▏▎▍▌▋▊▉█"  # an eighth of a column each
_COLUMNS, _WIDE = 36, 60  # of a histogram, and where a window has room for it
_FEWEST = 3  # columns that the draws take at least, below which they are a dot far from the limit
_LEAST_SHARE = 0.01  # of the variance, below which a driver is not named
_MOST = 4
_ROOM = 100  # columns of a window from which its bars are longer


def percent(share: float, up: bool | None = None) -> str:
    """A share with two digits, rounded to the side that promises less where one is asked for.

    >>> percent(0.00014978, up=True), percent(0.0314), percent(0.5, up=False)
    ('0.015 %', '3.1 %', '50 %')
    """
    number = 100.0 * share
    if up is None or number <= 0.0:
        return f"{written(number, 2)} %"
    step = 10.0 ** (floor(log10(number)) - 1)
    rounded = (ceil(number / step - 1e-9) if up else floor(number / step + 1e-9)) * step
    return f"{written(rounded, 2)} %"


def share_words(drawing: Any) -> str:
    """The share beyond the limit with its interval: of nothing seen, never that there is nothing."""
    low, high = drawing.share
    if drawing.beyond == 0:
        return f"none beyond the limit: under {percent(high, True)} at 95 %"
    if drawing.beyond == drawing.draws:
        return f"all beyond the limit: over {percent(low, False)} at 95 %"
    told = f"{percent(drawing.beyond / drawing.draws)} beyond the limit ({percent(low, False)} to "
    return told + f"{percent(high, True)} at 95 %)"


def driver_words(driver: Any) -> str:
    """A thing that is drawn, with its share of the variance."""
    leaf = driver.leaf
    name = quantity_words(leaf.name) if leaf.subject else plain(leaf.name)
    whose = f" of {plain(leaf.subject)}" if leaf.subject else ""
    kind = {"formula": "formula", "by hand": "drawn by itself"}.get(leaf.share, leaf.share)
    return f"{percent(driver.share)} {name}{whose} ({kind})"


def drivers_words(row: Any) -> str:
    """What drives a stress, greatest first."""
    named = [one for one in row.drivers if one.share >= _LEAST_SHARE]
    more = f"; {number_of(len(row.drivers) - _MOST, 'other')}" if len(row.drivers) > _MOST < len(named) else ""
    return "; ".join(map(driver_words, named[:_MOST])) + more


def bar(share: float, columns: int, unicode: bool) -> str:
    """A share as a bar of so many columns, padded to them; of what is more than nothing at least a mark.

    >>> bar(0.5, 8, False), bar(0.01, 8, False), bar(0.53, 4, True)
    ('####    ', '#       ', '██▏ ')
    """
    if not unicode:
        return padded("#" * max(round(share * columns), 1), columns)
    eighths = max(round(8.0 * share * columns), 1)
    return padded("█" * (eighths // 8) + (_BAR_BLOCKS[eighths % 8 - 1] if eighths % 8 else ""), columns)


def _bars(row: Any, columns: int, unicode: bool) -> Iterator[str]:
    """What drives a stress, one line each: a bar of its share of the variance ahead of its words."""
    named = [one for one in row.drivers if one.share >= _LEAST_SHARE]
    wide = 20 if columns >= _ROOM else 12
    for place, one in enumerate(named[:_MOST]):
        head = "  " + padded("driven by" if place == 0 else "", 18) + f"{bar(one.share, wide, unicode)} "
        yield from wrapped(driver_words(one), columns, head, " " * (21 + wide))
    more = len(row.drivers) - _MOST
    if more > 0 and len(named) > _MOST:
        yield f"{' ' * (21 + wide)}and {number_of(more, 'other')}"


def limit_words(row: Any) -> str:
    """The limit with the way it is asked."""
    finding: Finding = row.finding
    assert finding.limit is not None
    return f"{'at least' if row.more else 'at most'} {figure(finding.limit, finding.unit)}"


def within(row: Any) -> bool:
    """Whether the extreme value holds the limit at both of their ends."""
    stress, limit = row.finding.stress, row.finding.limit
    return bool(stress.low >= limit.high) if row.more else bool(stress.high <= limit.low)


def _ends(low: float, high: float, row: Any) -> str:
    return show_value(Value(low, low, high, high), row.dimension)


def histogram(row: Any, unicode: bool, many: int = _COLUMNS) -> str:
    """Draws over the stress on one line: `[` and `]` the extreme ends, `|` the limit; '' where nothing is seen.

    many: columns of it
    """
    stress, drawing = row.finding.stress, row.drawing
    at = limit_of(row)
    ends = [one for one in (stress.low, stress.high, at) if isfinite(one)]
    low, high = min(ends), max(ends)
    if not low < high or not isfinite(stress.low) or not isfinite(stress.high):
        return ""
    wide = (high - low) / many
    columns = [0.0] * many

    def column(number: float) -> int:
        return min(max(int((number - low) / (high - low) * many), 0), many - 1)

    for left, right, count in zip(drawing.edges, drawing.edges[1:], drawing.counts, strict=False):
        for place in range(column(left), column(right) + 1):
            inside = min(right, low + (place + 1) * wide) - max(left, low + place * wide)
            columns[place] += count * max(inside, 0.0) / (right - left)
    if sum(one > 0.0 for one in columns) < _FEWEST:
        return ""
    most = max(columns)
    marks = _BLOCKS if unicode else _PLAIN
    text = [marks[min(int(8.0 * one / most), 7)] if one else " " for one in columns]
    text[column(stress.low)], text[column(stress.high)] = "[", "]"
    text[column(at)] = "|"
    return f"{show(low, row.dimension)} {''.join(text)} {show(high, row.dimension)}"


def limit_of(row: Any) -> float:
    """The end of the limit that is met first."""
    limit = row.finding.limit
    return float(limit.high if row.more else limit.low)


def pieces(row: Any) -> Iterator[tuple[str, str]]:
    """Heading and text of every line about one stress."""
    finding = row.finding
    held = "within the limit" if within(row) else "beyond the limit"
    assert finding.stress is not None
    yield "extreme value", f"{figure(finding.stress, finding.unit)}: {held}"
    if row.safety:
        yield "chance", "not asked: a safety limit is held at its extreme value alone"
    if row.why:
        yield ("draws", f"none: {row.why}") if not row.safety else ("driven by", row.why)
        return
    if not row.safety and row.root is not None:
        yield "root of squares", _ends(row.root[0], row.root[1], row)
    drawing = row.drawing
    if drawing is not None:
        told = f"{show(drawing.mean, row.dimension)} on average; {share_words(drawing)}"
        if drawing.none:
            told += f"; {drawing.none:,} gave no figure and count as beyond"
        yield f"{drawing.draws:,} draws", told
        if drawing.low is not None:
            yield "0.135 to 99.865 %", _ends(drawing.low, drawing.high, row)
        if drawing.one_by_one:
            yield "drawn singly", f"for the sake of {listed(drawing.one_by_one, 3)}"
    if row.drivers:
        yield "driven by", drivers_words(row)
    if row.by_hand and not row.safety:
        names = [f"{quantity_words(name)} of {plain(whose)}" for whose, name in row.by_hand]
        told = "not followed further back"
        if sum(one.share for one in row.drivers if one.leaf.share == "by hand") >= 0.5:
            told += ", and the share beyond rests on that"
        yield "by themselves", f"{listed(names, 4)}: drawn evenly between their ends, {told}"
    if row.outside:
        yield "DEFECT", f"{row.outside:,} draws lie beyond what the ledger holds possible: please report this design"


def moving(study: Any) -> list[Any]:
    """The rows that anything moves, or that say why nothing can be drawn."""
    return [row for row in study.rows if row.drivers or row.why]


def title_of(row: Any) -> str:
    """The rule, the part, the limit and the case."""
    case = f" ({row.finding.case})" if row.finding.case is not None else ""
    return f"{row.finding.rule} on {plain(str(row.finding.subject))}: {limit_words(row)}{case}"


def stands_out(name: str, row: Any) -> bool:
    """Whether a line of a row has to be seen first."""
    return name == "DEFECT" or (name == "extreme value" and not within(row))


def spread_lines(path: str, study: Any, width: int | None, unicode: bool) -> Iterator[str]:
    """The spread of one design. width: of a person's window; None one line each, with the path ahead."""
    columns = width if width is not None else 10_000
    head = f"{plain(path)}: " if width is None else ""
    rows = moving(study)
    still = len(study.rows) - len(rows)
    for row in rows:
        yield from styled(HEADING, wrapped(f"{head}{title_of(row)}", columns, "", "  "))
        many = _WIDE if width is not None and width >= _ROOM else _COLUMNS
        drawn = histogram(row, unicode, many) if row.drawing is not None else ""
        for name, told in (*pieces(row), *([("", drawn)] if drawn else [])):
            over = stands_out(name, row)
            style = STYLES["fail" if name == "DEFECT" else "marginal"] if over else ""
            if width is not None and name == "driven by" and row.drivers:
                yield from _bars(row, columns, unicode)
                continue
            yield from styled(style, wrapped(told, columns, f"{head}  {padded(name, 18)}", " " * 20))
        if width is not None:
            yield ""
    yield from _drawn_lines(rows, head, columns)
    samples = study.samples
    for one in samples.found:
        yield from styled(HEADING, wrapped(f"{head}{samples_title(one)}", columns, "", "  "))
        for name, told in samples_pieces(one, samples.coverage, samples.confidence):
            yield from wrapped(told, columns, f"{head}  {padded(name, 18)}", " " * 20)
    for told in samples_notes(samples):
        yield from wrapped(f"{head}note: {told}", columns, "", "  ")
    if still:
        yield from wrapped(
            f"{head}note: {number_of(still, 'stress', 'stresses')} without any tolerance left out", columns
        )
    for told in notes(study):
        yield from wrapped(f"{head}note: {told}", columns, "", "  ")
    yield from styled(CAUTION_STYLE, wrapped(CAUTION, columns))


def notes(study: Any) -> tuple[str, ...]:
    """How it was drawn, and what that does not say."""
    way = study.way
    form = "uniform between their ends"
    if way.form == "normal":
        form = f"normal with their ends at {written(way.sigmas, 3)} sigma and cut off there"
    lots = f", parts of one lot together by {written(way.together, 2)}" if way.together else ", each by itself"
    return (
        f"seed {way.seed}; tolerances {form}{lots}; what is not known of this sample, what is assumed and the error of "
        "a formula are drawn evenly over their range, which is no statement of how likely they are",
        f"{way.draws:,} draws; {way.costly_draws:,} where a model is too slow for more, named with each entry",
        "mains, frequency and ambient are not drawn: each entry stands at the case that is worst for its rule",
        "no verdict of lint hangs on a share printed here",
    )


def samples_title(one: Any) -> str:
    """What was read of several samples, where, and of how many."""
    first = one.first
    of = f" of {plain(first.target)}" if first.target else ""
    where = f" at {one.where}" if one.where else ""
    return f"{quantity_words(first.quantity)}{of}{where}: {len(one.read)} of {one.of} samples read"


def samples_pieces(one: Any, coverage: float, confidence: float) -> Iterator[tuple[str, str]]:
    """What samples say of their series: no more than so few can, rounded to the side that promises less."""
    dimension = DIMENSIONS[one.first.quantity]
    if one.missing:
        yield "not read", f"sample {' and '.join(map(str, one.missing))}: as bad as anything"
    sides = (("no higher than the highest", one.highest), ("no lower than the lowest", one.lowest))
    bad = VOCABULARY[one.first.quantity].bad
    for words, (number, which) in sides[1:] if bad < 0 else sides[:1] if bad > 0 else sides:
        yield words.rpartition(" ")[2], f"{show(number, dimension)}, sample {which}"
        yield (
            "of the series",
            f"{percent(coverage)} lie {words} at {percent(one.confidence(), False)} confidence; at "
            f"{percent(confidence)} only {percent(one.coverage(), False)} do",
        )
    if len(one.read) > 1:
        ends = show_value(Value.between(one.lowest[0], one.highest[0]), dimension)
        yield (
            "between both",
            f"{ends}: {percent(coverage)} of the series at {percent(one.confidence(True), False)} confidence; at "
            f"{percent(confidence)} only {percent(one.coverage(True), False)}",
        )


def samples_notes(samples: Any) -> tuple[str, ...]:
    """What that does not say, and how many samples would."""
    if not samples.found:
        return ()
    needed = "; ".join(
        f"{percent(share)} at {percent(sure)} takes {one}, between both ends {two}"
        for share, sure, one, two in samples.needed()
    )
    return (
        "order statistics, of whatever distribution, of samples drawn at random from one series (Wilks, 1941): "
        + needed,
        "each sample is judged for itself, and no limit is eased by another: a limit of safety holds at its extreme "
        "value alone",
    )


_SHARES = ("purchase", "reading", "temperature", "age", "not known", "assumed", "by hand", "formula")


def drawn_rows(rows: Sequence[Any]) -> tuple[tuple[str, str, str, str], ...]:
    """What drives anything: whose and what, of which kind with its ends, stated or assumed, biased or random."""
    leaves = {driver.leaf.key: driver.leaf for row in rows for driver in row.drivers if driver.share >= _LEAST_SHARE}
    found = []
    for leaf in sorted(leaves.values(), key=lambda one: (one.subject, one.name, _SHARES.index(one.share))):
        name = quantity_words(leaf.name) if leaf.subject else plain(leaf.name)
        whose = f"{plain(leaf.subject)}: {name}" if leaf.subject else name
        dimension = DIMENSIONS.get(leaf.name)
        of_a_value = leaf.share in ("temperature", "age") and leaf.name != "temperature_shift"
        if of_a_value or (leaf.share == "formula" and not leaf.subject):
            ends = f"{written(100.0 * leaf.low, 3)} % to +{written(100.0 * leaf.high, 3)} %"
        elif dimension is not None and inf not in (leaf.high, -leaf.low):
            ends = show_value(Value(leaf.low, leaf.low, leaf.high, leaf.high), dimension)
        else:
            ends = f"{written(leaf.low, 4)} to {written(leaf.high, 4)}"
        found.append(
            (
                whose,
                f"{leaf.share} {ends}",
                "stated" if leaf.stated else "assumed",
                "biased" if leaf.biased else "random",
            )
        )
    return tuple(dict.fromkeys(found))


def _drawn_lines(rows: Sequence[Any], head: str, columns: int) -> Iterator[str]:
    table = drawn_rows(rows)
    if not table:
        return
    yield from styled(HEADING, [f"{head}What was drawn, where it drives anything"])
    of, stated, biased = (min(max(cells(row[place]) for row in table), 40) for place in (1, 2, 3))
    for row in table:  # whose it is comes last: it alone may be longer than a window is wide
        lead = f"  {padded(row[1], of)}  {padded(row[2], stated)}  {padded(row[3], biased)}  "
        behind = " " * cells(lead)
        if columns < cells(lead) + 24:
            yield from wrapped(lead.strip(), columns, f"{head}  ", "    ")
            lead, behind = "    ", "    "
        yield from wrapped(row[0], columns, f"{head}{lead}", behind)
    leaves = [driver.leaf for row in rows for driver in row.drivers]
    if not any(leaf.share in ("temperature", "age") and leaf.name not in HEAT for leaf in leaves):
        also = "" if not any(leaf.name in HEAT for leaf in leaves) else ", where no temperature coefficient is stated"
        told = (
            f"temperature and age of a part are not in it{also}: the file states what is bought; --drift takes them by "
            "kind"
        )
        yield from wrapped(told, columns, f"{head}  ", "  ")
