"""Drawings of a spread: the histogram of the draws with limit and extreme ends, and a bar of what drives it."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any

from derate.report.spread import driver_words, limit_of, limit_words, share_words
from derate.report.svg import WIDTH, axis, box, drawing, label, line
from derate.report.words import plain
from derate.text.units import show

_HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 150.0, 16.0, 16.0, 26.0, 26.0
_BAR, _GAP = 18.0, 6.0
_MOST = 5
_WORDS = 80  # characters beside which nothing stands
_APART = 110.0  # of two ends, below which they are written as one


def histogram_drawing(name: str, row: Any) -> str:
    """The draws of a stress over its figure; '' where none were made or an end is open."""
    stress, drawn = row.finding.stress, row.drawing
    if drawn is None or not isfinite(stress.low) or not isfinite(stress.high):
        return ""
    at = limit_of(row)
    known = [stress.low, stress.high, *([at] if isfinite(at) else [])]
    if min(known) == max(known):
        return ""
    along = axis("", row.dimension, known)
    right, bottom = WIDTH - _RIGHT, _HEIGHT - _BOTTOM

    def place(value: float) -> float:
        return _LEFT + along.share(value) * (right - _LEFT)

    inside = [line(_LEFT, bottom, right, bottom, "tick")]
    most = max(drawn.counts)
    for low, high, count in zip(drawn.edges, drawn.edges[1:], drawn.counts, strict=False):
        tall = (bottom - _TOP) * count / most
        inside.append(box(place(low), bottom - tall, max(place(high) - place(low), 0.8), tall, "draws"))
    for value in (stress.low, stress.high):
        inside.append(line(place(value), _TOP, place(value), bottom + 5, "extreme"))
    ends = f"{show(stress.low, row.dimension)} to {show(stress.high, row.dimension)}"
    if place(stress.high) - place(stress.low) >= _APART:
        for value, anchor in ((stress.low, "start"), (stress.high, "end")):
            inside.append(label(place(value), bottom + 18, show(value, row.dimension), "tick", anchor))
    elif place(stress.high) > WIDTH / 2.0:  # one over the other they could not be read
        inside.append(label(place(stress.high), bottom + 18, ends, "tick", "end"))
    else:
        inside.append(label(place(stress.low), bottom + 18, ends, "tick", "start"))
    if isfinite(at):
        beside = "end" if place(at) > 0.7 * WIDTH else None
        inside.append(line(place(at), _TOP - 6, place(at), bottom + 5, "limit"))
        inside.append(label(place(at) + (-5 if beside else 5), _TOP - 8, limit_words(row), "label", beside))
    told = f"{drawn.draws} draws of {row.finding.rule} on {row.finding.subject}: {share_words(drawn)}"
    return drawing(name, WIDTH, _HEIGHT, "Draws, extreme ends and limit", plain(told), *inside)


def drivers_drawing(name: str, drivers: Sequence[Any]) -> str:
    """What drives a stress, greatest first: a bar of its share of the variance."""
    own = [one for one in drivers if one.share >= 0.01][:_MOST]
    if not own:
        return ""
    inside = []
    for number, one in enumerate(own):
        at = number * (_BAR + _GAP)
        inside.append(
            box(0, at + 11, max(0.4 * WIDTH * one.share, 1.0), 5, "random" if not one.leaf.biased else "biased")
        )
        inside.append(label(0, at + 8, driver_words(one), "tick", most=_WORDS))
    told = "; ".join(map(driver_words, own))
    return drawing(name, WIDTH, len(own) * (_BAR + _GAP), "What drives it", plain(told), *inside)
