"""The facts that findings wait for, in words."""

from __future__ import annotations

from dataclasses import dataclass, field

from reviews_by_hand import PATH, unknown

from derate.judge.review import Finding
from derate.ledger.entry import SUPPLY, Subject
from derate.report.studies import missing_lines
from derate.report.words import CAUTION, cells
from derate.terms.dimension import CURRENT, TIME
from derate.terms.instructions import page_cautions
from derate.terms.values import Curve, Known, Value


@dataclass(frozen=True)
class End:
    number: float
    down: bool = False


@dataclass(frozen=True)
class Fact:
    text: str
    subject: Subject | None
    name: str
    waiting: tuple[Finding, ...] = ()
    settles: tuple[Finding, ...] = ()
    kind: Known | None = None
    threshold: End | None = None
    words: tuple[str, ...] = ()
    how: str = ""
    paste: tuple[str, ...] = ()
    lacks: str = ""


@dataclass(frozen=True)
class Guess:
    text: str
    subject: Subject | None
    name: str
    held_back: tuple[Finding, ...] = ()
    differ: tuple[Finding, ...] = field(default=())


C1 = Subject("part", ("C1",))
ONE = unknown(1, severity="critical")
VOLTAGE = Fact("C1: rated.voltage", C1, "rated.voltage", (ONE,), (ONE,), Value.exact(1e5), End(373.4))
SURGE = Fact(
    "C1: rated.surge_current", C1, "rated.surge_current", (ONE,), (),
    Curve(((8.3e-3, Value.exact(1e4)),), TIME, CURRENT), End(44.0),
)  # fmt: skip
CLASS = Fact("supply: supply.protection_class", SUPPLY, "supply.protection_class", (ONE, ONE), (ONE,), words=("II",))
FREE = Fact("T1: distance from the core to the other side", None, "", (ONE,), (ONE,))


def test_each_comes_with_how_to_get_it_what_it_settles_and_from_where_it_passes() -> None:
    lines = list(missing_lines(PATH, "Lamp", [VOLTAGE, SURGE, CLASS, FREE], [], None))
    assert lines == [
        f"{PATH}: missing: C1: rated voltage: read the mark on the part "
        "(unplugged and discharged, checked with a meter); "
        "1 finding waits, settles 1 critical; passes from 373 V or more",
        f"{PATH}: missing: C1: greatest single surge current: "
        "read it from the part's data sheet; 1 finding waits, none settled by this alone; "
        "passes from 44 A at 8.3 ms or more",
        f"{PATH}: missing: protection class: look for the double square on the plate, or "
        "an earth pin (unplugged); "
        "2 findings wait, settles 1 critical; passes with II",
        f"{PATH}: missing: T1: distance from the core to the other side; 1 finding waits, settles 1 critical",
        f"{PATH}: 4 facts missing, 0 assumed",
        *page_cautions(("closed", "opened")),
        CAUTION,
    ]


def test_what_needs_power_is_withheld_with_the_reason_and_what_does_not_is_told() -> None:
    rise = Fact("supply: site.inside_rise", SUPPLY, "site.inside_rise", (ONE,), (ONE,))
    told = "\n".join(missing_lines(PATH, "Lamp", [VOLTAGE, rise], [], None, "track-as-fuse fails on TK1"))
    assert "air inside above ambient: not on this sample: track-as-fuse fails on TK1;" in told
    assert "thermocouple" not in told and "isolat" not in told
    assert "read the mark on the part (unplugged and discharged, checked with a meter)" in told
    assert "Not to be powered: track-as-fuse fails on TK1." in told
    sound = "\n".join(missing_lines(PATH, "Lamp", [VOLTAGE, rise], [], None))
    assert "thermocouple in the air beside the part, at full load (behind an isolating transformer" in sound
    assert not [line for line in sound.split("\n") if "not on this sample" in line]


def test_assumed_facts_come_after() -> None:
    guess = Guess("supply: site.inside_rise", SUPPLY, "site.inside_rise", (ONE, ONE), (ONE,))
    idle = Guess("C1: rated.voltage", C1, "rated.voltage")
    lines = list(missing_lines(PATH, "Lamp", [], [guess, idle], None))
    assert lines[0].startswith(
        f"{PATH}: assumed: rise of the air inside above ambient; 1 verdict differs over what is "
        "assumed, holds back 2 passes. Thermocouple"
    )
    assert lines[1] == f"{PATH}: 0 facts missing, 1 assumed"


def test_a_screen_keeps_to_its_width() -> None:
    guess = Guess("supply: site.inside_rise", SUPPLY, "site.inside_rise", (ONE,), (ONE,))
    lines = list(missing_lines(PATH, "Lamp", [VOLTAGE, CLASS, FREE], [guess], 60))
    assert all(cells(line) <= 60 for line in lines)
    assert any("read the mark on the part" in line for line in lines)
    assert "  1. C1: rated voltage" in lines
