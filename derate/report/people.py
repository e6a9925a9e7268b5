"""A review for somebody at a terminal, built line by line with rich; imported only for a terminal."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterable, Iterator

from rich.console import Console
from rich.text import Text

from derate.judge.review import Finding, HazardWord, Review
from derate.report.brief import (
    MOST,
    Blocking,
    beside_words,
    blocking,
    files_words,
    finding_words,
    grouped_words,
    left_words,
    looked_words,
    next_words,
    plate_words,
    rest_words,
    things,
    waiting_words,
    word_words,
    worst_hazards,
)
from derate.report.colour import STYLES
from derate.report.gather import (
    SOFTER,
    Group,
    accepted_words,
    acknowledgement_words,
    basis_words,
    blocking_words,
    body,
    family_lines,
    gathered_words,
    groups,
    placed_notes,
    softer_lines,
    unused_line,
    used_words,
)
from derate.report.words import (
    CAUTION,
    cells,
    clipped,
    counts_words,
    fact_words,
    figure,
    listed,
    number_of,
    padded,
    plain,
    sides,
    times,
)
from derate.terms.words import HAZARDS, Hazard

# A screen built line by line with rich: hanging labels, a gauge, colours. Imported only for a terminal.
#
# Text from files goes into `Text` objects and never through markup. Lines are wrapped here, at most `MEASURE` columns
# wide, because longer lines of prose are hard to read.


MEASURE = 110
NOTES = 3  # shown one by one; what there is beyond is counted
_GAUGE, _BEYOND = 24, 12  # columns up to the limit, and past it
_LINES = {True: ("━", "╌", "·", "┃", "▸"), False: ("=", "-", ".", "|", ">")}


class Screen:
    """Lines of one output, gathered and then written as text.

    width: columns of the terminal; colour: write colours; drawn: the terminal can show line-drawing characters.
    """

    def __init__(self, width: int, colour: bool, drawn: bool = True) -> None:
        self.width = max(40, min(width, MEASURE))
        self.drawn = drawn
        self.colour = colour
        self._console = Console(
            file=io.StringIO(),
            width=self.width,
            force_terminal=colour,
            color_system="standard" if colour else None,
            no_color=not colour,
            highlight=False,
            markup=False,
            emoji=False,
            legacy_windows=False,
        )
        self._lines: list[Text] = []
        self.spaced = True
        self.counts = 1  # findings that these lines stand for, where they are put in whole or left out

    @property
    def rows(self) -> int:
        """How many rows there are so far."""
        return len(self._lines)

    def add(self, other: Screen) -> None:
        """The lines of another screen, below."""
        self._lines += other._lines

    def short(self, text: Text, most: int, hang: int = 4) -> None:
        """A text of at most so many rows, wrapped at words, with a mark where it was cut."""
        lines = text.wrap(self._console, self.width - hang, tab_size=4)
        for number, line in enumerate(lines[:most]):
            line.rstrip()
            if number == most - 1 and len(lines) > most:
                line.append(" …" if cells(line.plain) + 2 <= self.width - hang else "…")
            self._lines.append((Text(" " * hang) if number else Text()) + line)

    def blank(self) -> None:
        """An empty line, never two; none where lines stand close."""
        if self.spaced and self._lines and self._lines[-1].plain:
            self._lines.append(Text())

    def line(self, text: str | Text, style: str = "", indent: int = 0) -> None:
        """A paragraph, wrapped, every line indented."""
        self.hung("", text, style, indent, 0)

    def hung(self, label: str, body: str | Text, style: str = "", indent: int = 2, hang: int = 10) -> None:
        """A paragraph behind a label that stands flush right in `hang` columns; further lines hang under the first."""
        text = body if isinstance(body, Text) else Text(plain(body), style)
        lead = indent + (hang + 2 if hang else 0)
        lines = text.wrap(self._console, max(20, self.width - lead), tab_size=4) if text.plain else [Text()]
        for number, line in enumerate(lines):
            if number or not hang:
                start = Text(" " * lead)
            else:
                start = Text(" " * indent)
                start.append(" " * max(0, hang - cells(label)) + label, "dim")
                start.append("  ")
            line.rstrip()
            self._lines.append(start + line)

    def ends(self, left: Text, right: Text, indent: int = 0) -> None:
        """Two texts at both ends of a line; on lines of their own where they do not fit."""
        room = self.width - indent - cells(left.plain) - cells(right.plain)
        if room >= 2:
            self._lines.append(Text(" " * indent) + left + Text(" " * room) + right)
            return
        self.line(left, indent=indent)
        self.line(right, indent=indent + 2)

    def gauge(self, kindest: float, worst: float, style: str) -> Text:
        """The stress drawn against the limit, which stands in the same column in every finding.

        Solid up to the kindest reading, broken on to the worst one: a long broken part is a wide range.
        """
        full, doubt, empty, mark, more = _LINES[self.drawn]
        drawn = Text()
        for column in range(_GAUGE + 1 + _BEYOND):
            if column == _GAUGE:
                drawn.append(mark, "bold")
                continue
            at = (column if column < _GAUGE else column - 1) / _GAUGE + 1e-6
            if at < worst:
                drawn.append(full if at < kindest else doubt, style)
            elif column < _GAUGE:
                drawn.append(empty, "dim")
        if worst > (_GAUGE + _BEYOND) / _GAUGE:
            drawn.right_crop(1)
            drawn.append(more, style)
        return drawn

    def text(self) -> str:
        """Everything as text with a line feed at the end of each line, no space before it."""
        if not self.colour:
            return "".join(line.plain.rstrip() + "\n" for line in self._lines)
        for line in self._lines:
            self._console.print(line, soft_wrap=True, end="\n")
        self._lines.clear()
        return self._console.file.getvalue()  # type: ignore[attr-defined,no-any-return]


def row(*columns: tuple[str, int, str]) -> Text:
    """Texts filled up to their widths: (text, columns, style); the last one is not filled."""
    made = Text()
    for number, (text, width, style) in enumerate(columns):
        shown = plain(text)
        made.append(shown, style)
        if number < len(columns) - 1:
            made.append(padded("", max(2, width - cells(shown))))
    return made


# What somebody at a terminal gets by default: what decides, what blocks as far as it fits, and last what to do next.


SCREEN = 24  # rows, where nobody says
_SHORT = "Facts of one sample, no certificate. Mains kills; the capacitor stays charged."


def brief_screen(
    reviews: Iterable[Review], width: int, height: int, colour: bool, drawn: bool = True, unread: bool = False
) -> str:
    """All reviews at a glance, for a screen of so many columns and rows.

    What blocks of fire and shock is always there; of the rest as much as fits beside what has to be said, and what
    did not fit is counted. unread: something else could not be read, so that the exit status is 2 whatever is found
    """
    every = tuple(reviews)
    if not every:
        return ""
    if len(every) > 1:
        return _several(every, width, colour, drawn, unread)
    made = [_alone(every[0], Screen(width, colour, drawn), height, unread, *one) for one in _WAYS]
    for screens in (1, 2):  # the fullest that is one screen; else that is two; else the shortest
        for screen in made:
            if screen.rows < screens * height:  # the prompt below stays in sight
                return screen.text()
    return made[-1].text()


# How full a screen is: rows of each of the last things at most, and whether blank lines stand between.
_WAYS = ((3, True), (2, True), (1, True), (1, False))


def _alone(review: Review, screen: Screen, height: int, unread: bool, rows: int, spaced: bool) -> Screen:
    """One design with all that belongs to it."""
    screen.spaced = spaced
    closing = Screen(screen.width, screen.colour, screen.drawn)
    _closing(closing, (review,), unread, rows)
    _glance(screen, review, height - 3 - closing.rows)  # the caution, a blank line, and the prompt below stay in sight
    screen.line(_SHORT, "dim")
    screen.blank()
    screen.add(closing)
    return screen


def _several(reviews: tuple[Review, ...], width: int, colour: bool, drawn: bool, unread: bool) -> str:
    """Several designs: of each its words in a line and what blocks, a row each; last the files that block.

    They share the room as the lines of a pipe do: what did not fit is counted, fire and shock are never left out.
    """
    screen = Screen(width, colour, drawn)
    for review in reviews:
        name = Text(plain(review.name), "bold")
        name.append("  ")
        name.append(review.overall, STYLES[review.overall])
        path = plain(review.path)
        if cells(name.plain) + 2 + cells(path) > screen.width:  # the whole path stands at the end
            path = f"…/{path.rpartition('/')[2]}"
        screen.ends(name, Text(path, "dim"))
        for line in (SOFTER, *softer_lines(review)) if review.gate.softer else ():
            screen.line(clipped(line, screen.width - 2), "" if line != SOFTER else STYLES["marginal"], indent=2)
        screen.line(clipped(grouped_words(review), screen.width - 2), "dim", indent=2)
        left = _what_blocks(screen, review, MOST // len(reviews), 1)
        rest = rest_words(review)
        screen.line(clipped(f"{left_words(left)}; {rest}" if left else rest, screen.width), "" if left else "dim")
    screen.line(_SHORT, "dim")
    screen.line(f"next: {next_words(reviews)}")
    blocks = unread or any(review.blocks for review in reviews)
    screen.line(blocking_words(reviews, unread), STYLES["fail" if blocks else "pass"])
    for line in files_words(reviews):
        screen.line(line, indent=2)
    return screen.text()


def _glance(screen: Screen, review: Review, room: int) -> None:
    """One design: name, plate, hazards, what blocks, the rest counted. room: rows for all of it."""
    begun = screen.rows
    screen.ends(Text(plain(review.name), "bold"), Text(plain(review.path), "dim"))
    plate = plate_words(review)
    if plate:
        screen.line(clipped(plate, screen.width))
    for line in (SOFTER, *softer_lines(review)) if review.gate.softer else ():
        indent = 0 if line == SOFTER else 2
        screen.line(clipped(line, screen.width - indent), "" if indent else STYLES["marginal"], indent)
    screen.blank()
    for word in review.hazards:
        _word_line(screen, word)
    for family in review.families:
        screen.line(clipped(f"in {plain(family.family)}: {family.word}", screen.width - 2), indent=2)
    beside = beside_words(review)
    if beside:
        screen.hung("", beside, "dim", indent=2, hang=0)
    notes = tuple(placed_notes(review))
    foot = Screen(screen.width, screen.colour, screen.drawn)
    for where, note in notes[:NOTES]:
        foot.line(f"note: {note}" if where == plain(review.path) else f"note: {where.split(':')[-2]}: {note}")
    if len(notes) > NOTES:
        foot.line(f"{number_of(len(notes) - NOTES, 'more note')}: derate lint --all {plain(review.path)}")
    left = _what_blocks(screen, review, room - (screen.rows - begun) - foot.rows - 2)
    rest = rest_words(review)
    screen.line(f"{left_words(left)}; {rest}" if left else rest, "" if left else "dim")
    screen.add(foot)


def _word_line(screen: Screen, word: HazardWord) -> None:
    why = word.why if word.word != "not judged" else ""
    columns = (
        (word.hazard, 14, "bold"),
        (word.word, 14, STYLES[word.word]),
        (looked_words(word), 20, ""),
        (why, 0, ""),
    )
    made = row(*columns)
    made.truncate(screen.width, overflow="ellipsis")
    screen.line(made, indent=0)


def _what_blocks(screen: Screen, review: Review, room: int, each: int = 0) -> Counter[Hazard]:
    """What blocks, hazard by hazard; what did not fit is counted.

    room: rows for it, which fire and shock may go beyond; each: rows for one finding, 0 for what the room allows
    """
    parts = blocking(review)
    left: Counter[Hazard] = Counter()
    if not parts:
        return left
    if not each:
        screen.blank()
    begun = screen.rows
    always = sum(len(part.single) + bool(part.waiting) for part in parts if part.never_cut)
    each = each or (2 if 2 * always <= room else 1)
    for part in parts:
        for block in _blocks(screen, part, each):
            if part.never_cut or screen.rows - begun + block.rows <= room:
                screen.add(block)
            else:
                left[part.hazard] += block.counts
    return left


def _blocks(screen: Screen, part: Blocking, rows: int) -> Iterator[Screen]:
    """Each finding of a hazard that stands by itself, then what only waits, as lines to be put in whole.

    rows: of one finding at most
    """
    for one in part.single:
        made = Screen(screen.width, screen.colour, screen.drawn)
        text = Text(f"{plain(str(one.subject))}  ", "bold")
        text.append(one.verdict, STYLES[one.verdict])
        text.append(f"  {finding_words(one)}")
        made.short(text, rows)
        yield made
    if part.waiting:
        made = Screen(screen.width, screen.colour, screen.drawn)
        made.counts = len(part.waiting)
        text = Text(f"{part.hazard}  ", "bold")
        text.append("not assessed", STYLES["not assessed"])
        text.append(f"  {waiting_words(part)}")
        made.short(text, rows)
        yield made


def _closing(screen: Screen, reviews: tuple[Review], unread: bool, rows: int) -> None:
    """The last lines, where the eye lands: overall, three things, whether it blocks, the next command.

    rows: of one thing at most
    """
    (review,) = reviews
    text = Text("Overall: ", "bold")
    text.append(review.overall, STYLES[review.overall])
    text.append(f" ({worst_hazards(review)})")
    screen.line(text)
    for number, thing in enumerate(things(review), 1):
        made = Screen(screen.width, screen.colour, screen.drawn)
        made.short(Text(f"{number}. {thing}"), 100, hang=3)
        if made.rows > rows:  # no instruction without its caution: `derate missing` and --all have it whole
            made = Screen(screen.width, screen.colour, screen.drawn)
            made.short(Text(f"{number}. {thing.what}"), rows, hang=3)
        screen.add(made)
    blocks = unread or review.blocks
    screen.line(blocking_words(reviews, unread), STYLES["fail" if blocks else "pass"])
    screen.line(f"next: {next_words(reviews)}")


# Everything for somebody at a terminal: what blocks first, by hazard; figures, limit, cure; then what was counted.


def review_screen(
    reviews: Iterable[Review], width: int, colour: bool, drawn: bool = True, verbose: bool = False, unread: bool = False
) -> str:
    """All reviews as the text of a screen `width` columns wide.

    drawn: the screen can show line-drawing characters; verbose: every finding one by one
    unread: something else could not be read, so that the exit status is 2 whatever is found here
    """
    screen = Screen(width, colour, drawn)
    every = tuple(reviews)
    for review in every:
        screen.blank()
        _design(screen, review, verbose)
    if every:
        screen.blank()
        blocking = unread or any(review.blocks for review in every)
        screen.line(blocking_words(every, unread), STYLES["fail" if blocking else "pass"])
        screen.line(CAUTION, "dim")
    return screen.text()


def _design(screen: Screen, review: Review, verbose: bool) -> None:
    screen.ends(Text(plain(review.name), "bold"), Text(plain(review.path), "dim"))
    screen.blank()
    softer = softer_lines(review)
    if softer:
        screen.line(SOFTER, STYLES["marginal"])
        for line in softer:
            screen.hung("", line, hang=0, indent=2)
        screen.blank()
    parts = groups(review, verbose)
    for part in sorted(parts, key=lambda one: HAZARDS.index(one.hazard)):
        _overview(screen, part)
    for part in parts:
        if part.shown or part.gathered is not None:
            screen.blank()
            _hazard(screen, part, review.path)
    screen.blank()
    screen.hung("overall", review.overall, STYLES[review.overall])
    for line in family_lines(review):
        screen.hung("", line)
    screen.hung("counted", counts_words(review.counts))
    accepted = accepted_words(review)
    if accepted:
        screen.hung("accepted", accepted)
    for one in review.unused:
        where = f"line {one.place.line}" + (f" of {one.place.path}" if one.place.path != review.path else "")
        screen.hung("unused" if one.is_fact else "to read", f"{where}: {unused_line(one)}")
    screen.hung("used", used_words(review))
    for where, note in placed_notes(review):
        path = plain(review.path)
        line = where.removeprefix(f"{path}:").partition(":")[0]
        screen.hung("note", note if where == path else f"{f'line {line}' if line != where else where}: {note}")


def _overview(screen: Screen, part: Group) -> None:
    word = part.word.word if part.word is not None else "not assessed"
    why = part.word.why if part.word is not None else "no rule looked"
    said = [f"{number_of(part.blocking, 'finding')} blocking"] if part.blocking else []
    said += [why] if why else []
    columns = ((part.hazard, 14, "bold"), (word, 14, STYLES[word]), ("; ".join(said), 0, ""))
    screen.hung("", row(*columns), hang=0, indent=2)


def _hazard(screen: Screen, part: Group, path: str) -> None:
    word = part.word.word if part.word is not None else "not assessed"
    heading = Text(f"{part.hazard.capitalize()}: ", "bold")
    heading.append(word, STYLES[word])
    if part.word is not None:
        heading.append(word_words(part.word).removeprefix(word))
    screen.line(heading)
    for finding in part.shown:
        screen.blank()
        if finding.verdict in ("pass", "not applicable"):
            _short(screen, finding)
        else:
            _finding(screen, finding, path)
    if part.gathered is not None:
        screen.blank()
        screen.hung("to find", gathered_words(part.gathered, path))


def _heading(screen: Screen, finding: Finding) -> None:
    left = Text(plain(str(finding.subject)), "bold")
    left.append(f"  {plain(finding.rule)}", "")
    right = Text(finding.verdict, STYLES[finding.verdict])
    right.append(f", {finding.severity}")
    if finding.raised:
        right.append(" (minor rule)")
    if finding.blocks:
        right.append(", blocks")
    elif finding.known:
        right.append(", held back")
    screen.ends(left, right, indent=2)


def _short(screen: Screen, finding: Finding) -> None:
    _heading(screen, finding)
    screen.hung("", body(finding))


def _finding(screen: Screen, finding: Finding, path: str) -> None:
    _heading(screen, finding)
    screen.hung("", body(finding, rests=False))
    style = STYLES[finding.verdict]
    if finding.stress is not None and finding.limit is not None:
        named = sides(finding.stress, finding.limit, finding.ratio) if finding.ratio is not None else None
        screen.hung(named.first if named else "found", figure(finding.stress, finding.unit), style)
        screen.hung(named.second if named else "asked", figure(finding.limit, finding.unit))
        if finding.ratio is not None and named is not None:
            kindest = named.kindest if named.kindest is not None else finding.ratio
            drawn = screen.gauge(kindest, finding.ratio, style)
            drawn.append(f" {times(finding.ratio, named.second)}")
            screen.hung("", drawn)
    if finding.missing:
        screen.hung("to find", listed(fact_words(finding.missing), 8))
    if finding.rests_on:
        screen.hung("rests on", f"{listed(fact_words(finding.rests_on), 8)}: assumed")
    if finding.remedy:
        screen.hung("to settle" if finding.verdict == "not assessed" else "cure", finding.remedy)
    if finding.source:
        screen.hung("limit from" if finding.limit is not None else "asked by", basis_words(finding))
    where = f"line {finding.place.line}, column {finding.place.column}"
    if finding.place.path not in ("", path):  # a value of a file that the design revises
        where += f" of {finding.place.path}"
    if finding.entries:
        numbers = listed((str(number) for number in finding.entries), 6)
        where += f"; {'entry' if len(finding.entries) == 1 else 'entries'} {numbers} of derate stress"
    screen.hung("stands at", where, "dim")
    if finding.acknowledgement is not None:
        screen.hung("accepted", acknowledgement_words(finding.acknowledgement))
