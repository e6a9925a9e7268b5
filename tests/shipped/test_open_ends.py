"""Whatever a figure of a design is replaced by, a bound, nothing, a million times as much, the way through ends in a
review or in a refusal with its place, and nothing else leaves it."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from brute_force import BRUTE_FORCE

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.packs.load import Packs, load_packs
from derate.study.work import DEFAULT_PACKS, Work, review_of, worked
from derate.terms.values import ReadingError

DESIGNS = Path(__file__).parents[2] / "designs"
FIGURE = re.compile(
    r"(?<![\w.])(-?\d+(?:\.\d+)?) "
    r"(kohm|Mohm|mohm|ohm|uF|nF|pF|uH|mH|Vac|V|mA|A|W|Hz|kHz|mm²|mm|degC|K/W|K|ms|s|h|J|A²s|m)\b"
)
SHARE = 1.0 if BRUTE_FORCE else 0.1  # of some 1,300 changes; all of them take minutes


@pytest.fixture(scope="module")
def packs() -> Packs:
    return load_packs(DEFAULT_PACKS)


def changes(text: str, seed: int) -> Iterator[str]:
    """The text with one figure replaced, a fixed share of all such changes."""
    rng = random.Random(seed)
    for found in FIGURE.finditer(text):
        number, unit = found.groups()
        if text.rfind("#", 0, found.start()) > text.rfind("\n", 0, found.start()):
            continue  # a comment
        large = f"{float(number) * 1e6:g} {unit}" if float(number) else f"1 {unit}"
        for new in ("unknown", f"over {number} {unit}", f"under {number} {unit}", f"0 {unit}", large):
            if rng.random() < SHARE:
                changed = text[: found.start()] + new + text[found.end() :]
                yield re.sub(r"((?:over|under) [^\n,}]*?) \d+%", r"\1", changed, count=1)


@pytest.mark.parametrize(
    ("name", "seed"),
    [("greenhouse-vent/greenhouse-vent", 1), ("market-stall-lamp/market-stall-lamp", 2)],
)
def test_every_figure_may_be_anything(name: str, seed: int, packs: Packs) -> None:
    path = str(DESIGNS / f"{name}.derate.yaml")
    text = Path(path).read_text(encoding="utf-8")
    reviewed = refused = 0
    for changed in changes(text, seed):
        try:
            design = read_design(changed, path)
        except ReadingError as error:
            assert all(problem.what for problem in error.problems)
            refused += 1
            continue
        review = review_of(Work(design, Settings(), packs, worked(design, packs)), date(2026, 11, 25))
        assert review.overall in ("fail", "fail, waived", "not assessed", "marginal", "pass")
        reviewed += 1
    assert reviewed > 20
    assert refused < reviewed
