"""Any text reads finite and rising or is refused inside the text; the quick path reads as the full one."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from derate.terms.values import Place, Value
from derate.text import quantity as module
from derate.text.quantity import Quantity, evidence, read_quantity
from derate.text.units import UNITS

TOOLS = Path(__file__).parents[2] / "tools"


def tool(name: str) -> ModuleType:
    """A fuzzing script as a module; what it checks is checked here on fewer texts."""
    if str(TOOLS) not in sys.path:
        sys.path.insert(0, str(TOOLS))
    spec = importlib.util.spec_from_file_location(name, TOOLS / f"{name}.py")
    assert spec is not None and spec.loader is not None
    loaded = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(loaded)
    return loaded


FUZZ = tool("fuzz_quantity")
PIECES = st.sampled_from([*FUZZ.SEEDS, *FUZZ.PIECES, *UNITS, "5", "0.5", "-", " ", "12"])


@settings(max_examples=500)
@given(st.text(max_size=60))
@example("\ud800 V")
@example("5 V at 5 at 5")
@example("1e308..1e308 kV")
@example("(((((")
@example("5 (measured; (")
@example("0 to 0")
@example("1 to 0.000" + "0" * 400 + "1")
@example("9e9999999 V")
@example("at 5 V")
@example(" at ")
@example("5e5e5 V")
def test_any_text(text: str) -> None:
    FUZZ.check(text)


@settings(max_examples=500)
@given(st.lists(PIECES, max_size=7).map("".join))
def test_pieces_of_values(text: str) -> None:
    FUZZ.check(text)


NUMBERS = st.decimals(0, 99999, places=3).map(lambda number: f"{number:f}")


@settings(max_examples=500)
@given(
    NUMBERS,
    st.none() | NUMBERS,
    st.sampled_from(sorted(UNITS)),
    st.none() | st.integers(0, 120),
    st.none() | st.tuples(NUMBERS, st.sampled_from(sorted(UNITS))),
    st.sampled_from(["tolerance", "uncertainty", "regulation"]),
)
def test_the_quick_path_reads_as_the_full_one(
    first: str,
    second: str | None,
    unit: str,
    share: int | None,
    condition: tuple[str, str] | None,
    percent: module.Percent,
) -> None:
    text = f"{first}{'' if second is None else f'..{second}'} {unit}{'' if share is None else f' {share}%'}"
    if condition is not None:
        text += f" at {condition[0]} {condition[1]}"
    here = Place("x", 2, 3)

    def full() -> Quantity | str:
        body, known_by, note = evidence(text)
        try:
            return module._read(body, text, here, None, percent, known_by, note)
        except module.Fault as fault:
            return fault.what

    try:
        quick: Quantity | str = read_quantity(text, here, None, percent)
    except module.ReadingError as error:
        quick = error.problems[0].what
    assert quick == full()


@given(NUMBERS, NUMBERS, st.sampled_from(["V", "mm", "ohm", "A²s"]))
def test_a_range_holds_its_ends(one: str, other: str, unit: str) -> None:
    low, high = sorted((one, other), key=float)
    value = read_quantity(f"{low}..{high} {unit}", Place("x")).value
    assert isinstance(value, Value)
    assert value.near == read_quantity(f"{low} {unit}", Place("x")).nominal
    assert value.far == read_quantity(f"{high} {unit}", Place("x")).nominal


@pytest.mark.parametrize("name", ["fuzz_quantity", "fuzz_formula", "fuzz_nodes"])
def test_fuzzing_scripts_run(name: str) -> None:
    fuzz, runner = tool(name), tool("fuzzing")
    assert runner.own_loop(fuzz.check, fuzz.SEEDS, fuzz.PIECES, 2000, 20, 7) > len(fuzz.SEEDS)
