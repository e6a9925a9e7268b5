"""A sound and a poor supply on one page: every difference of a list made by hand.

The list is what somebody sees who has both supplies open on the bench: each line says it in words, and names what the
comparison has to show and what became of it.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from derate.cli.main import main

DESIGNS = Path(__file__).parents[2] / "designs"

# what a reviewer sees on the bench -> (subject or rule that has to be named, what became of it)
BY_HAND = [
    ("no fuse or fusible resistor, a thin track instead", "board-track-as-fuse", "fail"),
    ("nothing made to open stands first in the mains path", "mains-protective-part", "fail"),
    ("a hard short behind the track is cleared by nothing made for it", "short-is-cleared", "fail"),
    ("the two mains poles are 1.1 mm apart ahead of everything", "mains-poles-clearance", "fail"),
    ("0.5 to 0.7 mm between barrier capacitor and bulk", "C9 pad to bulk track: barrier-clearance", "fail"),
    ("a blob of solder narrows the barrier", "solder blob: barrier-clearance", "fail"),
    ("the blob itself was seen", "no-solder-blobs", "fail"),
    ("a plain disc capacitor without a class bridges the barrier", "bridging-part-reinforced", "fail"),
    ("one layer of tape, short at one end, between the sides", "winding-tape-layers", "fail"),
    ("a resistor has browned", "no-scorch-marks", "fail"),
    ("nobody knows where it will be used: altitude", "site-stated", "not assessed"),
    ("no margins and plain enamelled wire", "winding-margins", "fail"),
    ("the secondary leads cross the primary bare", "winding-crossing-sleeves", "fail"),
    ("no electric-strength test was made", "electric-strength-held", "not assessed"),
    ("a mains diode rectifies the output", "line-diode-only-at-mains-frequency", "fail"),
    ("that diode is rated for half the current of the plate", "output-rectifier-current", "fail"),
    ("nothing clamps the switch", "switch-has-a-clamp", "fail"),
    ("the switch's voltage ratings are unknown", "switch-voltage", "not assessed"),
    ("the bulk capacitor is too small for the plate, behind one diode", "bulk-carries-the-load", "fail"),
    ("it does not hold its rated current", "rated-current-held", "fail"),
    ("it gives up at half the plate's current", "shut-down-above-rating", "fail"),
    ("the output sags with load", "output-regulation", "fail"),
    ("the ripple is large", "output-ripple", "fail"),
    ("nothing keeps switching noise off the mains", "mains-filter-fitted", "fail"),
    ("the core floats", "core-tied", "fail"),
    ("the plate names no maker", "plate-names-maker", "fail"),
    ("the plate states no mains current", "plate-states-mains", "fail"),
    ("half-wave: the diode blocks twice the crest", "mains-rectifier-reverse-voltage", "0.379 to 0.752"),
    ("the flame class of the case is not known", "enclosure-flame-class", "not assessed"),
]


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The comparison as terminal text, Markdown and HTML."""
    folder = tmp_path_factory.mktemp("compared")
    pair = [
        str(DESIGNS / "greenhouse-vent/greenhouse-vent.derate.yaml"),
        str(DESIGNS / "market-stall-lamp/market-stall-lamp.derate.yaml"),
    ]
    found = {}
    for form in ("text", "markdown", "html"):
        target = folder / form
        assert main(["compare", *pair, "--all", "--format", form, "--to", str(target)]) == 0
        found[form] = target.read_text(encoding="utf-8")
    return found


@pytest.mark.parametrize(("seen", "named", "became"), BY_HAND, ids=[row[1] for row in BY_HAND])
def test_every_difference_listed_by_hand_is_named(seen: str, named: str, became: str, pages: dict[str, str]) -> None:
    lines = [line for line in pages["text"].split("\n") if re.search(rf"{re.escape(named)}(?![\w-])", line)]
    assert any(became in line for line in lines), (seen, lines)
    for form in ("markdown", "html"):
        assert named.rpartition(": ")[2] in pages[form], (seen, form)


def test_the_furthest_of_it_is_at_the_top(pages: dict[str, str]) -> None:
    """The hazards that went from no fail to fail are told before any single verdict."""
    head = pages["text"].split("verdicts changed")[0]
    for hazard, before in (("fire", "marginal"), ("shock", "not assessed"), ("overstress", "not assessed")):
        assert re.search(rf"{hazard} +0 → [1-9][0-9]* block; {before} → fail", head), hazard
