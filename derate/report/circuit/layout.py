"""Where everything of the drawing stands: sizes from the inside outwards, then places, in one of two shapes.

A path is a ladder: what is in series lies along the upper conductor, what lies across hangs from it to the return. A
ladder that is wider than its side of the picture goes on below. In the wide shape the barrier is an upright line with
the mains on its left; in the narrow one it lies across, with the mains above it. Lengths are pixels of the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from derate.design.structure import Element, Group, Leaf, Step, leaves
from derate.report.circuit.joined import Carried, Crossing, Joined, Link, Row
from derate.report.words import clipped, plain
from derate.terms.words import DIODES, Overall
from derate.text.units import digits_of

WIDE, NARROW = 1040.0, 344.0  # of the whole drawing: a report at 1280 pixels, and at 360
LETTER = 6.9  # of the drawing's text at 11.5 px; the widest serif face that is commonly there, in mean
LINE = 13.0  # from one line of text to the next
_LONGEST = 17  # letters of a line
HALF = 18.0  # of a symbol, along its conductor
_SYMBOL = 26.0  # across it
_MARK = 14.0  # mark in front of a ratio
_MARGIN = 8.0
_GAP = 26.0  # between rows
_LEAD = 30.0  # at the ends of a ladder, where a point has no name

Turn = Literal["right", "left", "down", "up"]


class Placed(NamedTuple):
    """One thing in its place. what: 'part' | 'again' (stands elsewhere too) | 'core' | 'terminal'

    x, y: centre of its symbol; turn: the way the current goes through it; lines: texts with their baselines' places
    box: left, top, right, bottom of symbol and texts together; key: of the thing it carries
    """

    what: str
    name: str
    x: float
    y: float
    turn: Turn
    texts: tuple[Text, ...]
    box: tuple[float, float, float, float]


class Text(NamedTuple):
    """A line of text. role: 'name' | 'value' | 'found' (mark and ratio) | 'role' | 'title' | 'point'"""

    text: str
    x: float
    y: float
    anchor: Literal["start", "middle", "end"]
    role: str

    @property
    def ends(self) -> tuple[float, float]:
        """Its left and right end, by the mean width of a letter."""
        width = text_width(self.text, self.role)
        left = self.x - {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        return left, left + width


class Wire(NamedTuple):
    """A line through points. cls: 'wire' | 'control' | 'barrier' | 'frame'"""

    points: tuple[tuple[float, float], ...]
    cls: str


@dataclass(slots=True)
class Picture:
    """The whole drawing before it has a form."""

    width: float
    height: float = 0.0
    placed: list[Placed] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)
    dots: list[tuple[float, float, str]] = field(
        default_factory=list
    )  # 'joint' | 'end' | 'earth' | 'to-left' | 'to-right'
    texts: list[Text] = field(default_factory=list)


def text_width(text: str, role: str) -> float:
    """About how wide a line comes out."""
    return LETTER * len(text) * (1.08 if role in ("name", "title") else 1.0) + (_MARK if role == "found" else 0.0)


def found_pieces(one: Carried) -> tuple[tuple[str, Overall], ...]:
    """What stands beside the mark, each piece with the word of its finding: the worst ratio, else the word.

    Both where the worst ratio is of a finding with another word than the mark: a good ratio beside a bad mark, or one
    above 1 beside a mark that is not "fail", says then of which it is.
    """
    if one.empty:
        return ()
    word = {"not assessed": "open", "not judged": "no rule"}.get(one.word, one.word)
    if one.ratio is None:
        return ((word, one.word),)
    ratio = digits_of(one.ratio) if one.ratio < float("inf") else "no bound"
    return ((ratio, one.by),) if one.by == one.word else ((f"{word};", one.word), (ratio, one.by))


def found_words(one: Carried) -> str:
    """The same as one line of text."""
    return " ".join(text for text, _ in found_pieces(one))


# Sizes. Every block has a point where its conductor enters; sizes are measured from there.


class Size(NamedTuple):
    """Along the conductor, and to either side of it (above and below, or left and right)."""

    along: float
    before: float
    after: float


class _Sizer:
    """Sizes and places of one drawing; what was drawn once stands elsewhere again without its findings."""

    def __init__(self, told: Joined, picture: Picture) -> None:
        self.told, self.picture = told, picture
        self.seen: set[str] = set()

    # ---- words of one leaf ------------------------------------------------------------------------------------

    def words(self, name: str, again: bool, role: str = "") -> list[tuple[str, str]]:
        """Lines of a leaf with their roles: name, figures, mark with ratio."""
        one = self.told.carried.get(name)
        found = [(clipped(plain(name), _LONGEST), "name")]
        if again:
            return [*found, (role or "as above", "role")]
        if role:
            found.append((role, "role"))
        if one is None:
            return found
        if one.value:
            found.append((clipped(plain(one.value), _LONGEST), "value"))
        if found_words(one) and (name not in self.told.windings or one.findings):
            found.append((found_words(one), "found"))
        return found

    def leaf_width(self, name: str) -> float:
        """Widest line of a leaf."""
        return max(text_width(text, role) for text, role in self.words(name, name in self.seen))

    # ---- sizes ------------------------------------------------------------------------------------------------

    def lying(self, element: Element) -> Size:
        """Along the upper conductor: along, above, below."""
        if isinstance(element, Leaf):
            lines = len(self.words(element.name, element.name in self.seen)) - 1
            return Size(max(2 * HALF, self.leaf_width(element.name)) + 12, 26, 16 + LINE * lines)
        sizes = [self.lying(one) for one in element.members]
        if element.joined == "series":
            return Size(
                sum(one.along for one in sizes), max(one.before for one in sizes), max(one.after for one in sizes)
            )
        below = sizes[0].after + sum(one.before + one.after for one in sizes[1:])
        return Size(max(one.along for one in sizes) + 20, sizes[0].before, below)

    def hanging(self, element: Element, mirrored: bool = False) -> Size:
        """Across the conductors: along (downwards), left, right; mirrored: its texts on the left."""
        if isinstance(element, Leaf):
            lines = len(self.words(element.name, element.name in self.seen))
            text = _SYMBOL / 2 + 3 + self.leaf_width(element.name) + 8
            sides = (text, _SYMBOL / 2) if mirrored else (_SYMBOL / 2, text)
            return Size(max(2 * HALF + 16, LINE * lines + 12), *sides)
        sizes = [self.hanging(one, mirrored) for one in element.members]
        if element.joined == "series":
            return Size(
                sum(one.along for one in sizes), max(one.before for one in sizes), max(one.after for one in sizes)
            )
        total = sum(one.before + one.after for one in sizes)
        along = max(one.along for one in sizes) + 12
        if mirrored:
            return Size(along, total - sizes[0].after, sizes[0].after)
        return Size(along, sizes[0].before, total - sizes[0].before)

    # ---- places -----------------------------------------------------------------------------------------------

    def wire(self, *points: tuple[float, float], cls: str = "wire") -> None:
        """A line, unless it has no length."""
        if len(set(points)) > 1:
            self.picture.wires.append(Wire(points, cls))

    def lay(self, element: Element, x: float, y: float, along: float, back: bool = False, over: bool = False) -> None:
        """Place a lying element from x on, `along` wide, its first conductor at y.

        back: the current goes to the left; over: texts above the conductor (it is the lower one)
        """
        if isinstance(element, Leaf):
            centre = x + along / 2
            self.wire((x, y), (centre - HALF, y))
            self.wire((centre + HALF, y), (x + along, y))
            self.lying_leaf(element.name, centre, y, "left" if back else "right", over)
            return
        sizes = [self.lying(one) for one in element.members]
        if element.joined == "series":
            spare = (along - sum(one.along for one in sizes)) / len(sizes)
            pairs = list(zip(element.members, sizes, strict=True))
            for member, size in reversed(pairs) if back else pairs:
                self.lay(member, x, y, size.along + spare, back, over)
                x += size.along + spare
            return
        at = y
        for number, (member, size) in enumerate(zip(element.members, sizes, strict=True)):
            at += size.before if number else 0.0
            self.lay(member, x + 10, at, along - 20, back, over and not number)
            if number:
                self.wire((x + 10, y), (x + 10, at))
                self.wire((x + along - 10, y), (x + along - 10, at))
            at += size.after
        self.wire((x, y), (x + 10, y))
        self.wire((x + along - 10, y), (x + along, y))

    def lying_leaf(self, name: str, x: float, y: float, turn: Turn, over: bool = False, role: str = "") -> None:
        """A symbol on a lying conductor with its name above and the rest below."""
        again = name in self.seen
        self.seen.add(name)
        words = self.words(name, again, role)
        lines = [Text(words[0][0], x, y - 14, "middle", words[0][1])]
        for number, (text, kind) in enumerate(words[1:]):
            lines.append(Text(text, x, y + 24 + LINE * number, "middle", kind))
        if over:
            lines = [one._replace(y=y - 14 - LINE * (len(lines) - 1 - number)) for number, one in enumerate(lines)]
        self.put(name, x, y, turn, lines, again)

    def put(self, name: str, x: float, y: float, turn: Turn, lines: list[Text], again: bool) -> None:
        """A symbol with its texts."""
        across = turn in ("down", "up")
        half, side = (_SYMBOL / 2, HALF) if across else (HALF, _SYMBOL / 2)
        left = min([x - half, *(one.ends[0] for one in lines)])
        right = max([x + half, *(one.ends[1] for one in lines)])
        top = min([y - side, *(one.y - 10 for one in lines)])
        foot = max([y + side, *(one.y + 3 for one in lines)])
        box = (left, top, right, foot)
        self.picture.placed.append(Placed("again" if again else "part", name, x, y, turn, tuple(lines), box))

    def hang(
        self, element: Element, x: float, y: float, along: float, mirrored: bool = False, up: bool = False
    ) -> None:
        """Place a hanging element from y on downwards, `along` tall, its conductor at x."""
        if isinstance(element, Leaf):
            centre = y + along / 2
            self.wire((x, y), (x, centre - HALF))
            self.wire((x, centre + HALF), (x, y + along))
            self.hanging_leaf(element.name, x, centre, mirrored, up)
            return
        sizes = [self.hanging(one, mirrored) for one in element.members]
        if element.joined == "series":
            spare = (along - sum(one.along for one in sizes)) / len(sizes)
            pairs = list(zip(element.members, sizes, strict=True))
            for member, size in reversed(pairs) if up else pairs:
                self.hang(member, x, y, size.along + spare, mirrored, up)
                y += size.along + spare
            return
        at = x
        for number, (member, size) in enumerate(zip(element.members, sizes, strict=True)):
            if number:
                at += -size.after if mirrored else size.before
            self.hang(member, at, y + 6, along - 12, mirrored, up)
            if number:
                self.wire((x, y + 6), (at, y + 6))
                self.wire((x, y + along - 6), (at, y + along - 6))
            at += -size.before if mirrored else size.after
        self.wire((x, y), (x, y + 6))
        self.wire((x, y + along - 6), (x, y + along))

    def hanging_leaf(self, name: str, x: float, y: float, mirrored: bool, up: bool) -> None:
        """A symbol on a hanging conductor with its texts beside it."""
        words = self.words(name, name in self.seen)
        again = name in self.seen
        self.seen.add(name)
        first = y - LINE * (len(words) - 1) / 2 + 4
        side, anchor = (-1, "end") if mirrored else (1, "start")
        lines = [
            Text(text, x + side * (_SYMBOL / 2 + 3), first + LINE * number, anchor, role)  # type: ignore[arg-type]
            for number, (text, role) in enumerate(words)
        ]
        blocks = self.told.kind_is(name, *DIODES)  # which way it lies is not in the file: conducting it were a short
        self.put(name, x, y, "up" if up or blocks else "down", lines, again)


# Ladders.


class Item(NamedTuple):
    """A piece of a ladder. how: 'lying' | 'hanging' | 'neutral' | 'earth' | 'box'; width: with its margins

    before, after: of the conductor, above and below where it lies, left and right where it hangs
    """

    how: str
    element: Element
    width: float
    tall: float
    before: float
    after: float


class _Ladder:
    """One walked path in rows that fit. mirrored: the current goes from the right to the left."""

    def __init__(self, sizer: _Sizer, row: Row, limit: float, mirrored: bool = False) -> None:
        self.sizer, self.row, self.limit, self.mirrored = sizer, row, limit, mirrored
        self.items = list(self._items())
        # two ends of one element have no return: it is no wire of the circuit, and would read as a short across it
        self.lone = not row.begins and not row.output and all(one.how == "lying" for one in self.items)
        self.head = max(_LEAD, max((text_width(one, "point") for one in self.begin_words), default=0.0) + 14)
        self.tail = max((text_width(one, "point") for one in self.end_words), default=0.0)
        if row.output:
            carried = sizer.told.at_outputs[row.output]
            self.tail = max(self.tail, text_width(found_words(carried), "found"))
        self.tail = self.tail + 18 if self.tail else 4.0
        if self.items and self.items[0].how == "hanging" and self.starts_closed:
            self.head = 4.0
        self.lines = list(self._wrapped())
        last = len(self.lines) - 1
        widths = (self._width(not number, number == last, line) for number, line in enumerate(self.lines))
        self.width = max(widths, default=0.0)
        self.height = sum(self._height(line) for line in self.lines) + 10 * (len(self.lines) - 1) + LINE + 6

    # ---- words at its ends

    @property
    def begin_words(self) -> tuple[str, ...]:
        """What its two conductors are called where it begins."""
        if self.row.begins == "mains":
            return "line", "neutral"
        if not self.row.begins:
            return ()
        return self.row.begins, f"{self.row.begins.removesuffix('plus')}minus"

    @property
    def end_words(self) -> tuple[str, ...]:
        """What they are called where it ends."""
        if not self.row.output:
            return ()
        one = self.sizer.told.at_outputs[self.row.output]
        return tuple(word for word in (clipped(plain(self.row.output), _LONGEST), one.value) if word)

    @property
    def starts_closed(self) -> bool:
        """Whether it begins with a winding, which closes it at that end."""
        path = self.row.path
        return bool(path) and path[0].how == "series" and self._is_source(path[0])

    def _is_source(self, step: Step) -> bool:
        return all(name in self.sizer.told.windings or "." in name for name in step.names)

    # ---- its pieces

    def _items(self) -> Iterator[Item]:
        told, last = self.sizer.told, len(self.row.path) - 1
        sources: list[Step] = []
        path = list(self.row.path)
        while path and path[0].how == "series" and self._is_source(path[0]):  # windings in series ahead of all else
            sources.append(path.pop(0))
        if sources:
            members = tuple(step.element for step in sources)
            yield self._hanging(members[0] if len(members) == 1 else Group("series", members))
        for number, step in enumerate(path, len(sources)):
            if step.how == "across":
                yield self._hanging(step.element)
            elif step.how == "to earth":
                yield self._hanging(step.element, "earth")
            elif step.how == "in neutral":
                size = self.sizer.lying(step.element)
                above = 16 + LINE * max(len(self.sizer.words(one, False)) for one in step.names)
                yield Item("neutral", step.element, size.along, 0.0, above, 16.0)
            elif told.in_both_conductors(step.names):
                sizes = [self.sizer.hanging(leaf) for leaf in leaves(step.element)]
                left, right = max(one.before for one in sizes), max(one.after for one in sizes)
                tall = max(one.along for one in sizes) * len(sizes)
                yield Item("box", step.element, left + right + 24, tall, left, right)
            elif number == last and self._closes(step):
                yield self._hanging(step.element)
            else:
                size = self.sizer.lying(step.element)
                yield Item("lying", step.element, size.along, 0.0, size.before, size.after)

    def _hanging(self, element: Element, how: str = "hanging") -> Item:
        size = self.sizer.hanging(element, self.mirrored)
        return Item(how, element, size.before + size.after + 10, size.along, size.before, size.after)

    def _closes(self, step: Step) -> bool:
        """Whether the last step of a path takes the current back to the return: a winding, or what is supplied."""
        if self.row.output:
            return False
        return self._is_source(step) or all(
            self.sizer.told.kind_is(name, "controller", "port controller", "integrated switch") for name in step.names
        )

    def _wrapped(self) -> Iterator[list[Item]]:
        line: list[Item] = []
        first = True
        for number, item in enumerate(self.items, 1):
            if line and self._width(first, number == len(self.items), [*line, item]) > self.limit:
                yield line
                line, first = [], False
            line.append(item)
        if line:
            yield line

    def _width(self, first: bool, last: bool, line: Sequence[Item]) -> float:
        return sum(one.width for one in line) + (self.head if first else 22.0) + (self.tail if last else 22.0)

    def _span(self, line: Sequence[Item]) -> tuple[float, float, float]:
        """Room above the upper conductor, between both, below the lower one."""
        above = max([10.0, *(one.before for one in line if one.how == "lying")])
        inside = max(
            [
                52.0,
                *(one.tall + (22 if one.how == "earth" else 0) for one in line if one.tall),
                *(one.after + 8 for one in line if one.how == "lying"),
                *(one.before + 8 for one in line if one.how == "neutral"),
            ]
        )
        if self.end_words or self.row.output:
            inside = max(inside, LINE * 4 + 12)
        below = max([10.0, *(one.after for one in line if one.how == "neutral")])
        return above, inside, below

    def _height(self, line: Sequence[Item]) -> float:
        return sum(self._span(line))

    # ---- in its place

    def _conductors(self, upper: float, lower: float) -> tuple[float, ...]:
        return (upper,) if self.lone else (upper, lower)

    def place(self, left: float, top: float, width: float) -> None:
        """Draw it from a corner on, its title above it; `width` is what it may take."""
        picture = self.sizer.picture
        x = left + width if self.mirrored else left
        title = clipped(plain(self.row.title), int(width / LETTER / 1.1))
        picture.texts.append(Text(title, x, top + 10, "end" if self.mirrored else "start", "title"))
        top += LINE + 6
        for number, line in enumerate(self.lines):
            above, inside, below = self._span(line)
            upper, lower = top + above, top + above + inside
            at = 0.0

            def x_of(along: float) -> float:
                return left + width - along if self.mirrored else left + along

            first, last = number == 0, number == len(self.lines) - 1
            if first:
                at = self._begin(x_of, upper, lower)
            else:
                at = 22.0
                self._goes_on(x_of, at, upper, lower, number - 1, into=True)
            for item in line:
                at = self._item(item, x_of, at, upper, lower)
            if last:
                self._end(x_of, at, upper, lower, line)
            else:
                self._goes_on(x_of, at, upper, lower, number, into=False)
            top = lower + below + 10

    def _begin(self, x_of, upper: float, lower: float) -> float:  # type: ignore[no-untyped-def]
        sizer = self.sizer
        if self.head <= 4.0:
            return 4.0
        words = self.begin_words
        for y, word in zip((upper, lower), words, strict=False):
            x = x_of(0.0)
            sizer.picture.texts.append(Text(word, x, y - 6, "end" if self.mirrored else "start", "point"))
        kind = "end"
        for y in self._conductors(upper, lower):
            sizer.picture.dots.append((x_of(4.0), y, kind))
            sizer.wire((x_of(6.0), y), (x_of(self.head), y))
        return self.head

    def _goes_on(self, x_of, at: float, upper: float, lower: float, number: int, into: bool) -> None:  # type: ignore[no-untyped-def]
        letter = "abcdefghijklmnopqrstuvwxyz"[(2 * number) % 26], "abcdefghijklmnopqrstuvwxyz"[(2 * number + 1) % 26]
        for y, text in zip(self._conductors(upper, lower), letter, strict=False):
            tip = at - 10 if into else at + 10
            self.sizer.wire((x_of(at), y), (x_of(tip), y))
            self.sizer.picture.texts.append(Text(text, x_of(at - 16 if into else at + 16), y + 4, "middle", "point"))

    def _item(self, item: Item, x_of, at: float, upper: float, lower: float) -> float:  # type: ignore[no-untyped-def]
        sizer, picture = self.sizer, self.sizer.picture
        end = at + item.width
        left, right = min(x_of(at), x_of(end)), max(x_of(at), x_of(end))
        if item.how == "lying":
            sizer.lay(item.element, left, upper, item.width, back=self.mirrored)
            if not self.lone:
                sizer.wire((left, lower), (right, lower))
        elif item.how == "neutral":
            sizer.lay(item.element, left, lower, item.width, back=not self.mirrored, over=True)
            sizer.wire((left, upper), (right, upper))
        elif item.how == "box":
            frame = ((left + 6, upper - 4), (right - 6, upper - 4), (right - 6, lower + 4), (left + 6, lower + 4))
            picture.wires.append(Wire((*frame, frame[0]), "frame"))
            names = [leaf.name for leaf in leaves(item.element)]
            tall = item.tall / len(names)
            for number, name in enumerate(names):
                y = (upper + lower - item.tall) / 2 + (number + 0.5) * tall
                sizer.hanging_leaf(name, left + 12 + item.before, y, False, False)
            for y in (upper, lower):
                sizer.wire((left, y), (left + 6, y))
                sizer.wire((right - 6, y), (right, y))
        else:
            x = (right - item.after - 5) if self.mirrored else (left + item.before + 5)
            source = at <= self.head + 1e-6 and self.starts_closed
            closed = lower if item.how == "hanging" else lower - 22
            sizer.hang(item.element, x, upper, closed - upper, self.mirrored, up=source)
            far = (left if self.mirrored else right) if source and at <= self.head + 1e-6 else None
            for y in (upper, lower):
                if far is not None:
                    sizer.wire((x, y), (far, y))
                else:
                    sizer.wire((left, y), (right, y))
            if item.how == "earth":
                picture.dots.append((x, closed, "earth"))
            elif far is None:
                picture.dots += [(x, upper, "joint"), (x, lower, "joint")]
        return end

    def _end(self, x_of, at: float, upper: float, lower: float, line: Sequence[Item]) -> None:  # type: ignore[no-untyped-def]
        sizer, picture = self.sizer, self.sizer.picture
        if not self.row.output:
            if line and line[-1].how in ("lying", "neutral", "box"):
                for y in self._conductors(upper, lower):
                    picture.dots.append((x_of(at + 2), y, "end"))
            return
        carried = sizer.told.at_outputs[self.row.output]
        side, anchor = (-1, "end") if self.mirrored else (1, "start")
        for y in (upper, lower):
            sizer.wire((x_of(at), y), (x_of(at + 8), y))
            picture.dots.append((x_of(at + 10), y, "end"))
        x = x_of(at + 10)
        words = [*((word, "name" if not number else "value") for number, word in enumerate(self.end_words))]
        if found_words(carried):
            words.append((found_words(carried), "found"))
        first = (upper + lower) / 2 - LINE * (len(words) - 1) / 2 + 4
        lines = tuple(
            Text(text, x + side * 4, first + LINE * number, anchor, role)  # type: ignore[arg-type]
            for number, (text, role) in enumerate(words)
        )
        box = (min(one.ends[0] for one in lines), lines[0].y - 10, max(one.ends[1] for one in lines), lines[-1].y + 3)
        picture.placed.append(Placed("terminal", self.row.output, x, (upper + lower) / 2, "right", lines, box))


# The whole.


def laid_out(told: Joined, narrow: bool = False) -> Picture:
    """Everything in its place, in the wide shape or in the narrow one."""
    return _narrow(told) if narrow else _wide(told)


def _starts_with_source(sizer: _Sizer, row: Row) -> bool:
    return bool(row.path) and all(name in sizer.told.windings or "." in name for name in row.path[0].names)


def _crossing_lines(sizer: _Sizer, name: str, between: Sequence[str]) -> list[tuple[str, str]]:
    words = sizer.words(name, False) if name in sizer.told.carried else [(clipped(plain(name), _LONGEST), "name")]
    if len(between) == 2:
        words += [(plain(between[0]), "role"), (f"to {plain(between[1])}", "role")]
    return words


def _lane_width(sizer: _Sizer) -> float:
    words = [
        text_width(text, role)
        for one in sizer.told.crossings
        for name in _names(one.element, one.name)
        for text, role in _crossing_lines(sizer, name, one.between)
    ]
    return max([64.0, *words]) + 40.0


def _names(element: Element | None, name: str) -> list[str]:
    return [leaf.name for leaf in leaves(element)] if element is not None else [name]


def _wide(told: Joined) -> Picture:
    picture = Picture(WIDE)
    sizer = _Sizer(told, picture)
    if not told.isolated:
        _column(sizer, (*told.mains, *told.outputs), told.control, _MARGIN, WIDE - 2 * _MARGIN, 0.0)
        _finish(sizer, _MARGIN)
        return picture
    lane = _lane_width(sizer)
    room = WIDE - 2 * _MARGIN - lane
    left, right = _split(sizer, told, room)
    picture.width = max(WIDE, left + right + lane + 2 * _MARGIN)
    barrier = _MARGIN + left + lane / 2
    near = tuple(one for one in told.control if one.side == "mains")
    far = tuple(one for one in told.control if one.side == "output")
    top = LINE + 8
    lower_left = _column(sizer, told.mains, (), _MARGIN, left, top, to_right=True)
    lower_right = _column(sizer, told.outputs, (), barrier + lane / 2, right, top)
    y = top + 8
    couplers = [one for one in told.crossings if any(link.name == one.name for link in told.control)]
    for one in told.crossings:
        if one not in couplers:
            y = _across(sizer, one, barrier, y)
    foot = max(y, lower_left if near else 0.0, lower_right if far else 0.0)
    foot = _control_row(sizer, near, far, couplers, (_MARGIN, left), (barrier + lane / 2, right), barrier, foot)
    picture.height = max(foot, lower_left, lower_right, y)
    end = picture.height
    blocked = sorted(
        (one.y - 11, one.y + 4)
        for placed in picture.placed
        for one in placed.texts
        if one.ends[0] < barrier < one.ends[1]
    )
    at = LINE + 6
    for start, stop in blocked:
        if start > at:
            sizer.wire((barrier, at), (barrier, start), cls="barrier")
        at = max(at, stop)
    sizer.wire((barrier, at), (barrier, end), cls="barrier")
    picture.texts += [
        Text("mains side", barrier - 8, 11, "end", "side"),
        Text("output side", barrier + 8, 11, "start", "side"),
    ]
    _finish(sizer, _MARGIN)
    return picture


def _split(sizer: _Sizer, told: Joined, room: float) -> tuple[float, float]:
    """Width of either side: the split at which the taller side is lowest, among those that hold the widest pieces."""
    least = [max([140.0, *(_widest(sizer, row) for row in rows)]) for rows in (told.mains, told.outputs)]
    if sum(least) >= room:
        return least[0], least[1]
    steps = 24
    lefts = [least[0] + (room - sum(least)) * step / steps for step in range(steps + 1)]

    def tall(left: float) -> tuple[float, float, float]:
        heights = [
            sum(_Ladder(sizer, row, width).height + _GAP for row in rows)
            for rows, width in ((told.mains, left), (told.outputs, room - left))
        ]
        return max(heights), sum(heights), abs(left - 0.55 * room)

    left = min(lefts, key=tall)
    return left, room - left


def _widest(sizer: _Sizer, row: Row) -> float:
    """The least width a ladder can be given: that of its widest piece with its ends."""
    ladder = _Ladder(sizer, row, 0.0)
    return ladder.width


def _column(
    sizer: _Sizer,
    rows: Sequence[Row],
    links: Sequence[Link],
    left: float,
    width: float,
    top: float,
    to_right: bool = False,
) -> float:
    """Ladders below each other; to_right: one that begins with a winding goes from the right to the left."""
    for row in rows:
        mirrored = to_right and _starts_with_source(sizer, row)
        ladder = _Ladder(sizer, row, width, mirrored)
        shift = width - ladder.width if to_right and not mirrored and row.key == "line" else 0.0
        ladder.place(
            left + (shift if len(ladder.lines) == 1 else 0.0), top, width - (shift if len(ladder.lines) == 1 else 0.0)
        )
        top += ladder.height + _GAP - 8
    if links:
        top = _stations(sizer, links, left, width, top)
    return top


def _stations(
    sizer: _Sizer,
    links: Sequence[Link],
    left: float,
    width: float,
    top: float,
    title: bool = True,
    back: bool = False,
    against: bool = False,
) -> float:
    """The stations of the control in rows that fit, joined by a broken line.

    back: from the right on; against: the last station is the first of the control, so that arrows point backwards
    """
    picture = sizer.picture
    if title:
        picture.texts.append(Text("control", left, top + 10, "start", "title"))
        top += LINE + 6
    at, y, tall = 0.0, top + 28, 0.0
    previous: float | None = None
    for link in links:
        words = sizer.words(link.name, link.name in sizer.seen, link.role)
        if link.name not in sizer.told.carried:  # an output
            words = [(link.name, "name"), (link.role, "role")]
        wide = max(2 * HALF, *(text_width(text, role) for text, role in words)) + 18
        if at and at + wide > width:
            y += tall + 34
            at, tall, previous = 0.0, 0.0, None
        x = left + width - at - wide / 2 if back else left + at + wide / 2
        if link.name in sizer.told.carried:
            sizer.lying_leaf(link.name, x, y, "left" if back else "right", role=link.role)
        else:
            lines = (Text(link.name, x, y - 14, "middle", "name"), Text(link.role, x, y + 24, "middle", "role"))
            box = (min(one.ends[0] for one in lines), y - 24, max(one.ends[1] for one in lines), y + 27)
            picture.placed.append(Placed("terminal", link.name, x, y, "right", lines, box))
            picture.dots.append((x, y, "end"))
        half = HALF if link.name in sizer.told.carried else 4
        if previous is not None:
            sizer.wire((previous, y), (x + half if back else x - half, y), cls="control")
            to_left = back or against
            tip = previous if against else x + half if back else x - half
            picture.dots.append((tip, y, "to-left" if to_left else "to-right"))
        previous = x - half if back else x + half
        at += wide
        tall = max(tall, 16 + LINE * (len(words) - 1))
    return y + tall + 10


def _control_row(
    sizer: _Sizer,
    near: Sequence[Link],
    far: Sequence[Link],
    couplers: Sequence[Crossing],
    left: tuple[float, float],
    right: tuple[float, float],
    barrier: float,
    top: float,
) -> float:
    """What is sensed on the right, the coupler on the barrier, what is controlled on the left: all at one height."""
    if not (near or far or couplers):
        return top
    picture = sizer.picture
    side = left if near else right
    at_right = bool(near)
    x = side[0] + side[1] if at_right else side[0]
    picture.texts.append(Text("control", x, top + 10, "end" if at_right else "start", "title"))
    top += LINE + 6
    y = top + 28
    feet = [top]
    if couplers:
        foot = top
        for one in couplers:
            foot = _across(sizer, one, barrier, foot)
        feet.append(foot)
    if far:
        feet.append(_stations(sizer, tuple(reversed(far)), right[0], right[1], top, title=False, against=True))
        if couplers:
            sizer.wire((barrier + HALF, y), (right[0] + 8, y), cls="control")
            picture.dots.append((barrier + HALF, y, "to-left"))
    if near:
        feet.append(_stations(sizer, near, left[0], left[1], top, title=False, back=True))
        if couplers:
            sizer.wire((left[0] + left[1] - 8, y), (barrier - HALF, y), cls="control")
    return max(feet)


def _across(sizer: _Sizer, one: Crossing, barrier: float, y: float) -> float:
    """One thing lying across the upright barrier, its texts above and below; the parts of one below each other."""
    for name in _names(one.element, one.name):
        words = _crossing_lines(sizer, name, one.between)
        at = y + 28
        half = 22.0 if one.element is None else 14.0  # a core is taller than it is long
        at += half - 14.0
        lines = [Text(words[0][0], barrier, at - half, "middle", words[0][1])]
        lines += [
            Text(text, barrier, at + half + 10 + LINE * number, "middle", role)
            for number, (text, role) in enumerate(words[1:])
        ]
        again = name in sizer.seen
        sizer.seen.add(name)
        sizer.put(name, barrier, at, "right", lines, again)
        if one.element is None:
            sizer.picture.placed[-1] = sizer.picture.placed[-1]._replace(what="core")
        y = at + half + LINE * len(words) + 14
    return y


def _narrow(told: Joined) -> Picture:
    picture = Picture(NARROW)
    sizer = _Sizer(told, picture)
    rows = (*told.mains, *told.outputs)
    width = max([NARROW - 2 * _MARGIN, *(_widest(sizer, row) for row in rows)])
    picture.width = width + 2 * _MARGIN
    if not told.isolated:
        _column(sizer, rows, told.control, _MARGIN, width, 0.0)
        _finish(sizer, _MARGIN)
        return picture
    near = tuple(one for one in told.control if one.side == "mains")
    far = tuple(one for one in told.control if one.side == "output")
    top = _column(sizer, told.mains, near, _MARGIN, width, 0.0)
    picture.texts.append(Text("mains side", picture.width - _MARGIN, top + 10, "end", "side"))
    barrier, top = _band(sizer, told, width, top + LINE)
    picture.texts.append(Text("output side", picture.width - _MARGIN, barrier + 17, "end", "side"))
    top = max(top, barrier + 24)
    _column(sizer, told.outputs, far, _MARGIN, width, top)
    _finish(sizer, _MARGIN)
    return picture


def _band(sizer: _Sizer, told: Joined, width: float, top: float) -> tuple[float, float]:
    """What crosses, standing upright on the barrier that lies across; in further rows the barrier is drawn again."""
    picture = sizer.picture
    rows: list[list[tuple[str, list[tuple[str, str]], bool, float]]] = [[]]
    at = 0.0
    for one in told.crossings:
        for name in _names(one.element, one.name):
            words = _crossing_lines(sizer, name, one.between)
            wide = 2 * HALF + 3 + max(text_width(text, role) for text, role in words) + 12
            if rows[-1] and at + wide > width - 84:
                rows.append([])
                at = 0.0
            rows[-1].append((name, words, one.element is None, wide))
            at += wide
    barrier = top
    for row in rows:
        tall = max([2 * HALF + 16, *(LINE * len(words) + 12 for _, words, _, _ in row)])
        barrier = top + tall / 2
        at = _MARGIN
        for name, words, core, wide in row:
            x = at + HALF
            first = barrier - LINE * (len(words) - 1) / 2 + 4
            lines = [
                Text(text, x + (HALF if core else _SYMBOL / 2) + 3, first + LINE * number, "start", role)
                for number, (text, role) in enumerate(words)
            ]
            again = name in sizer.seen
            sizer.seen.add(name)
            sizer.put(name, x, barrier, "down", lines, again)
            if core:
                picture.placed[-1] = picture.placed[-1]._replace(what="core")
            at += wide
        start = 0.0
        for left, right in sorted(
            one.ends for placed in picture.placed for one in placed.texts if one.y - 11 < barrier < one.y + 4
        ):
            if left > start:
                sizer.wire((start, barrier), (left - 2, barrier), cls="barrier")
            start = max(start, right + 2)
        sizer.wire((start, barrier), (picture.width, barrier), cls="barrier")
        top = barrier + tall / 2 + 10
    return barrier, top


def _finish(sizer: _Sizer, left: float) -> None:
    """Parts on no path in rows below, and the height of the whole."""
    picture, told = sizer.picture, sizer.told
    foot = _foot(picture)
    if told.apart:
        picture.texts.append(Text("on no path", left, foot + 24, "start", "title"))
        y, at, tall = foot + 60, 0.0, 0.0
        for name, why in told.apart:
            words = sizer.words(name, False, why)
            wide = max(2 * HALF, *(text_width(text, role) for text, role in words)) + 20
            if at and at + wide > picture.width - 2 * left:
                y, at, tall = y + tall + 36, 0.0, 0.0
            sizer.lying_leaf(name, left + at + wide / 2, y, "right", role=why)
            at += wide
            tall = max(tall, 16 + LINE * (len(words) - 1))
    picture.height = _foot(picture) + 8


def _foot(picture: Picture) -> float:
    return max(
        [
            0.0,
            *(one.box[3] for one in picture.placed),
            *(y for one in picture.wires for _, y in one.points),
            *(one.y + 3 for one in picture.texts),
        ]
    )


__all__ = ["NARROW", "WIDE", "Picture", "Placed", "Text", "Wire", "found_words", "laid_out", "text_width"]
