"""A word that isolates over an output that nothing isolates is an error: it would take the rules of shock with it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from derate.design.load import read_design
from derate.terms.topologies import TOPOLOGIES
from derate.terms.values import ReadingError

DESIGNS = Path(__file__).parents[2] / "designs"
ISOLATING = [word for word, one in TOPOLOGIES.items() if one.package and one.isolates]


@pytest.mark.parametrize("word", ISOLATING)
@pytest.mark.parametrize("name", ["cellar-lamp", "tea-warmer", "hallway-lamp"])
def test_nothing_isolates_an_output_without_a_winding(name: str, word: str) -> None:
    text = (DESIGNS / name / f"{name}.derate.yaml").read_text(encoding="utf-8")
    read_design(text, "x.derate.yaml")
    with pytest.raises(ReadingError) as caught:
        read_design(re.sub(r"(?m)^  topology: .*$", f"  topology: {word}", text), "x.derate.yaml")
    told = [one for one in caught.value.problems if "nothing separates it from the mains" in one.what]
    assert len(told) == 1 and "buck" in told[0].instead


def test_an_output_that_is_not_walked_to_its_winding_yet_is_no_such_output() -> None:
    text = (DESIGNS / "market-stall-lamp" / "market-stall-lamp.derate.yaml").read_text(encoding="utf-8")
    short = text.replace("main: [T1.secondary, D3,", "main: [D3,")
    assert short != text
    with pytest.raises(ReadingError) as caught:  # the winding is on no path then
        read_design(short, "x.derate.yaml")
    assert not [one for one in caught.value.problems if "nothing separates" in one.what]
