"""The drawing as SVG, and the list of what was found on each part, for a page to show."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from typing import NamedTuple

from markupsafe import Markup

from derate.design.load import Design
from derate.judge.review import Finding, Review
from derate.judge.verdict import word_of
from derate.report.circuit.joined import Carried, Joined, joined
from derate.report.circuit.layout import Picture, Placed, Text, found_pieces, laid_out
from derate.report.circuit.symbols import shape, symbol_of
from derate.report.svg import element, number, words
from derate.report.words import number_of
from derate.terms.words import OVERALLS, Overall
from derate.text.units import digits_of

_TURNS = {"right": 0, "down": 90, "left": 180, "up": 270}
_MARKS: dict[str, str] = {
    "fail": "M0 0h9v9h-9z",
    "fail, held back": "M0 0h9v9h-9z",
    "fail, waived": "M0 0h9l-9 9z",
    "not assessed": "M0 4l4-4M0 9l9-9M5 9l4-4",
    "marginal": "M0 4.5h9v4.5h-9z",
}
_FRAME = "M0 0h9v9h-9z"
SAYS: dict[Overall, str] = {
    "fail": "over its limit",
    "fail, held back": "over its limit, known",
    "fail, waived": "over its limit, waived",
    "not assessed": "not assessed: a fact is missing",
    "not judged": "no rule gave a verdict: nobody has looked",
    "marginal": "holds at nominal only, or close to its limit",
    "pass": "holds",
}


class Entry(NamedTuple):
    """A line of the list below the drawing. id: of its place on the page; ratio: in words, or empty"""

    id: str
    name: str
    value: str
    word: Overall
    ratio: str
    findings: tuple[Finding, ...]


def beside(design: Design, review: Review, changed: Collection[str], prefix: str) -> Markup:
    """One of two drawings side by side, in the narrow shape. changed: framed parts; prefix: of identifiers"""
    told = joined(design, review, apart_from=True)
    picture = laid_out(told, narrow=True)
    return Markup(_svg(picture, told, f"{prefix}circuit", "circuit-beside", prefix, False, changed))


class Drawn(NamedTuple):
    """The drawing for a page: both shapes, the list, marks with what they mean, what the file does not say."""

    wide: Markup
    narrow: Markup
    entries: tuple[Entry, ...]
    others: tuple[tuple[str, tuple[Finding, ...]], ...]
    key: tuple[tuple[Overall, Markup, str], ...]
    notes: tuple[str, ...]


def identifier(name: str, prefix: str = "") -> str:
    """What a part's line is called on the page: letters, digits and hyphens, no two names the same."""
    return f"{prefix}on-" + re.sub(r"[^A-Za-z0-9]", lambda one: f"_{ord(one[0]):x}", name)


def drawn(design: Design, review: Review) -> Drawn:
    """The drawing of a design with its findings, for a page that has the list it links to."""
    told = joined(design, review)
    slim = joined(design, review, apart_from=True)
    pictures = [laid_out(told), laid_out(slim, narrow=True)]
    entries = tuple(_entries(told))
    shown = {one.word for one in (*told.carried.values(), *told.at_outputs.values())}
    return Drawn(
        Markup(_svg(pictures[0], told, "circuit-w", "wide-shape")),
        Markup(_svg(pictures[1], slim, "circuit-n", "narrow-shape")),
        entries,
        tuple(_others(told)),
        marks(shown),
        told.notes,
    )


def marks(shown: Collection[Overall] = OVERALLS) -> tuple[tuple[Overall, Markup, str], ...]:
    """The mark of each word and what it says, the worst first."""
    return tuple((one, Markup(_small(one)), SAYS[one]) for one in OVERALLS if one in shown)


def _entries(told: Joined) -> Iterator[Entry]:
    """Every part with what was found on it, in the order of the file; windings stand with their transformer."""
    for one in (*told.carried.values(), *told.at_outputs.values()):
        if one.name in told.windings and one.name.partition(".")[0] in told.carried:
            continue
        kind = "output " if told.at_outputs.get(one.name) is one else ""
        yield Entry(identifier(kind + one.name), kind + one.name, one.value, one.word, _ratio(one), _worst_first(one))


def _ratio(one: Carried) -> str:
    if one.ratio is None:
        return ""
    return digits_of(one.ratio) if one.ratio < float("inf") else "no bound"


def _worst_first(one: Carried) -> tuple[Finding, ...]:
    def order(finding: Finding) -> tuple[int, float]:
        return OVERALLS.index(word_of(finding) or "not judged"), -(finding.ratio or 0.0)

    return tuple(sorted(one.findings, key=order))


def _others(told: Joined) -> Iterator[tuple[str, tuple[Finding, ...]]]:
    """Findings of no part: by what they are about."""
    found: dict[str, list[Finding]] = {}
    for one in told.others:
        found.setdefault(str(one.subject), []).append(one)
    yield from ((name, tuple(own)) for name, own in found.items())


# The drawing as text.


def _svg(
    picture: Picture,
    told: Joined,
    name: str,
    cls: str,
    prefix: str = "",
    linked: bool = True,
    changed: Collection[str] = (),
) -> str:
    about = _about(told)
    parts = [
        f'<svg viewBox="0 0 {number(picture.width)} {number(picture.height)}" class="drawing {cls}" role="group" '
        f'aria-labelledby="{name}-t {name}-d" xmlns="http://www.w3.org/2000/svg">'
        f'<title id="{name}-t">The circuit as understood</title><desc id="{name}-d">{words(about)}</desc>'
    ]
    for cls_of_wire in dict.fromkeys(one.cls for one in picture.wires):
        d = "".join(
            "M" + "L".join(f"{x:.0f} {y:.0f}" for x, y in one.points) for one in picture.wires if one.cls == cls_of_wire
        )
        parts.append(element("path", d=d, cls=cls_of_wire))
    parts += [_dot(*one) for one in picture.dots]
    parts += [_text(one) for one in picture.texts]
    parts += [_thing(one, told, prefix, linked, one.name in changed) for one in picture.placed]
    return "".join(parts) + "</svg>"


def _about(told: Joined) -> str:
    sides = [f"{number_of(len(told.carried), 'part and winding', 'parts and windings')}"]
    sides += [row.title for row in (*told.mains, *told.outputs)]
    if told.isolated:
        across = [one.name for one in told.crossings]
        sides.append(f"across the barrier: {', '.join(across) or 'nothing that the file says'}")
    elif told.isolated is False:
        sides.append("no barrier: the outputs are joined to the mains")
    return "; ".join(sides) + ". Each part is listed below with its findings."


def _dot(x: float, y: float, kind: str) -> str:
    if kind == "earth":
        return element("path", d=f"M{number(x - 8)} {number(y)}h16m-13 4h10m-7 4h4", cls="wire")
    if kind in ("to-left", "to-right"):
        along = 5 if kind == "to-left" else -5
        return element("path", d=f"M{number(x)} {number(y)}l{along}-3v6z", cls="arrow")
    return element("circle", cx=x, cy=y, r=2.2 if kind == "joint" else 3.0, cls=kind)


def _text(one: Text) -> str:
    cls = "" if one.role == "value" else f' class="of-{one.role}"'
    anchor = "" if one.anchor == "start" else f' text-anchor="{one.anchor}"'
    return f'<text x="{one.x:.0f}" y="{one.y:.0f}"{cls}{anchor}>{words(one.text)}</text>'


def _thing(one: Placed, told: Joined, prefix: str, linked: bool, changed: bool) -> str:
    if one.what == "terminal":
        carried = told.at_outputs.get(one.name)
        target = identifier(f"output {one.name}", prefix)
    else:
        carried = told.carried.get(one.name)
        owner = one.name.partition(".")[0] if one.name in told.windings else one.name
        target = identifier(owner if owner in told.carried else one.name, prefix)
    word = carried.word if carried is not None else "not judged"
    inside = []
    if one.what != "terminal":
        kinds = carried.kinds if carried is not None else ()
        name = "core" if one.what == "core" else "winding" if one.name in told.windings else symbol_of(kinds)
        if not kinds and "." in one.name:
            name = "winding"
        turn = f" rotate({_TURNS[one.turn]})" if _TURNS[one.turn] else ""
        state = "again" if one.what == "again" else "empty" if carried is not None and carried.empty else ""
        cls = " ".join(word for word in ("symbol", "unknown" if not name else "", state) if word)
        inside.append(element("path", d=shape(name), cls=cls, transform=f"translate({one.x:.0f} {one.y:.0f}){turn}"))
    for text in one.texts:
        if text.role == "found" and carried is not None:
            left = text.ends[0]
            inside.append(_mark(carried.word, left, text.y - 9))
            pieces = "".join(
                f'<tspan class="{_cls(by)}">{words(f" {said}" if number else said)}</tspan>'
                for number, (said, by) in enumerate(found_pieces(carried))
            )
            inside.append(f'<text x="{left + 13:.0f}" y="{text.y:.0f}">{pieces}</text>')
        else:
            inside.append(_text(text))
    if carried is None:
        return "".join(inside)
    told_of = f", worst ratio {_ratio(carried)}" if carried.ratio is not None else ""
    many = number_of(len(carried.findings), "finding")
    title = f"<title>{words(f'{one.name}: {word}{told_of}; {many}')}</title>"
    left, top, right, foot = one.box
    size = f'x="{left - 2:.0f}" y="{top - 2:.0f}" width="{right - left + 4:.0f}" height="{foot - top + 4:.0f}"'
    body = "".join(inside)
    if not linked:
        framed = f'<rect {size} class="changed"/>' if changed else ""
        return f"<g>{title}{framed}{body}</g>"
    return f'<a href="#{target}">{title}<rect {size}/>{body}</a>'


def _cls(word: str) -> str:
    return word.replace(",", "").replace(" ", "-")


def _mark(word: Overall, x: float, y: float) -> str:
    """The mark of a word: the shapes that the page has everywhere; of what no rule judged a dash and no frame."""
    if word == "not judged":
        return element("path", d=f"M{number(x)} {number(y + 4.5)}h9", cls="mark not-judged")
    inner = _MARKS.get(word, "")
    move = f"translate({x:.0f} {y:.0f})"
    cls = _cls(word)
    filled = word not in ("not assessed", "pass")
    drawn_inside = f'<path d="{inner}" class="{"full" if filled else "hatch"}"/>' if inner else ""
    return f'<g class="mark {cls}" transform="{move}"><path d="{_FRAME}"/>{drawn_inside}</g>'


def _small(word: Overall) -> str:
    return f'<svg viewBox="-1 -1 11 11" class="key-mark" aria-hidden="true">{_mark(word, 0.0, 0.0)}</svg>'
