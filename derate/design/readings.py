"""What was done at the bench as the rest of the project takes it: readings, tests, captures of a scope."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from math import inf

from derate.design.bench import (
    BY_RESISTANCE,
    DECIMALS,
    SEPARATORS,
    STEADY,
    TIME_UNITS,
    CaptureBlock,
    ConditionBlock,
    Outcome,
    ReadForm,
    ReadingBlock,
    TestBlock,
)
from derate.design.names import TAPE
from derate.design.record import Name, Stated
from derate.design.samples import AT_THE_BENCH, Sample
from derate.terms.dimension import CELSIUS, CURRENT, RESISTANCE, TIME, VOLTAGE, Dimension
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import EVIDENCE, Meaning, meaning_of, results_of
from derate.text.files import leaves_repository
from derate.text.quantity import read_quantity

# Conditions, readings and tests as the rest of the project takes them: one value at one condition each.
#
# A reading belongs to the condition it was taken at and is never copied to another (the stress layer decides what it
# may say about others). In readings `5%` is the uncertainty of the instrument. What the file says stands in
# `bench.py`.


# What is open of a temperature that nobody says had settled, as the detail of an open fact.
SETTLED = "with how long it had been on (after: 60 min, or steady)"
# How a reading or a test is known of which nobody says it: taken away, no word of the file leaves a surer one.
STATED = "stated"
# The stresses a reading may name (the words the tool prints).
QUANTITIES = tuple(key for key, field in ReadingBlock.fields.items() if isinstance(field.form, ReadForm))
# What a figure as the outcome of a test is a figure of; of the other tests the outcome is a word.
_FIGURES: dict[str, tuple[Dimension, ...]] = {
    "insulation resistance": (RESISTANCE,),
    "touch current": (CURRENT,),
    "earth continuity": (RESISTANCE,),
    "discharge": (TIME, VOLTAGE),
    "overload": (CURRENT,),
}


class Condition(NamedTuple):
    """Where a reading was taken. A load is a word, a current of the only output, or a current by output.

    after: time since it was switched on [s]; `steady` is an hour and more
    """

    name: str
    place: Place
    mains: Stated | None = None
    frequency: Stated | None = None
    load: str = ""  # full | none | shorted | overload: held just below shut-down | '' when given as currents
    currents: tuple[tuple[str, Stated], ...] = ()  # output ('' the only one) and its current
    ambient: Stated | None = None
    after: Stated | None = None
    switch_on: str = ""

    @property
    def is_steady(self) -> bool:
        """Whether a temperature read there is said to have settled: after an hour, or by the word for it."""
        after = self.after.value if self.after is not None else None
        return isinstance(after, Value) and after.near >= STEADY


class Ohms(NamedTuple):
    """What a winding's temperature by change of resistance is worked out from."""

    cold: Stated
    hot: Stated
    cold_at: Stated


class Reading(NamedTuple):
    """One value at one condition: what of what."""

    condition: Condition | None
    quantity: str
    target: str  # part, output or place; '' for the whole supply
    stated: Stated
    known_by: str | None
    at_frequency: float | None = None  # ripple_current by frequency
    ohms: Ohms | None = None  # of a winding read by its change of resistance
    sample: Sample | None = None  # of several
    retest: str = ""  # that it was read again, and what was done ahead of it
    unread: bool = False  # nobody wrote it down of this sample: it may be anything

    @property
    def known(self) -> str:
        """How it is known: what stands behind the figure, what its entry or block says, else stated."""
        return self.stated.known_by or self.known_by or STATED

    @property
    def unseen(self) -> str:
        """How it is known, where nobody held an instrument to this sample; '' where somebody did.

        One that was simulated shows what is bad, and nothing good.
        """
        return "" if self.known in AT_THE_BENCH else self.known

    def shown(self, value: Value) -> Value:
        """What a stress read says of the supply: all of it; of one that nobody read it may be any greater."""
        return Value(value.low, value.near, inf, inf) if self.unseen else value

    @property
    def is_on_the_way(self) -> bool:
        """Whether a temperature may still have risen: read within the hour, or nobody says how long after."""
        if VOCABULARY[self.quantity].dimension != CELSIUS:
            return False
        return self.condition is None or not self.condition.is_steady

    def at_least(self, value: Value) -> Value:
        """What was read as it stands; of a temperature on its way up only its lower end."""
        return Value(value.low, value.near, inf, inf) if self.is_on_the_way else value


class Result(NamedTuple):
    """What a test came to: a word and what it means, or a figure. A figure means nothing by itself."""

    word: str = ""
    meaning: Meaning = "nothing said"
    stated: Stated | None = None
    dimension: Dimension | None = None  # of the figure
    known_by: str | None = None  # in the bracket behind it


class Test(NamedTuple):
    """Something done to the sample, with its outcome; `done` is False where the file says that it was not."""

    test: str
    place: Place
    result: Result = Result()
    done: bool = True
    between: tuple[str, ...] = ()
    voltage: Stated | None = None
    time: Stated | None = None
    mains: Stated | None = None
    shuts_down_at: Stated | None = None
    frequency: Stated | None = None
    ambient: Stated | None = None
    current: Stated | None = None
    output: str = ""
    taken_from: str = ""
    fault: str = ""
    note: str = ""
    photo: str = ""
    known_by: str | None = None
    by_default: str | None = None  # what the file says of all that was done at the bench
    sample: Sample | None = None  # of several
    retest: str = ""  # that it was done again, and what was done ahead of it
    unread: bool = False  # nobody wrote it down of this sample: it may have come to anything

    @property
    def known(self) -> str:
        """How its outcome is known: the least sure of what is said of it, else what its block says, else stated."""
        return max(self._said, key=EVIDENCE.index, default=self.by_default or STATED)

    @property
    def unseen(self) -> str:
        """How it is known, where nobody did it to a sample: its good outcome shows nothing; '' where somebody did."""
        return "" if self.known in AT_THE_BENCH else self.known

    @property
    def _said(self) -> tuple[str, ...]:
        """How the test, its outcome and its figure say that they are known."""
        shut = self.shuts_down_at.known_by if self.shuts_down_at is not None else None
        return tuple(filter(None, (self.known_by, self.result.known_by, shut)))

    @property
    def is_adverse(self) -> bool:
        """Whether it was done and its outcome is adverse."""
        return self.done and self.result.meaning == "adverse"

    @property
    def is_favourable(self) -> bool:
        """Whether it was done and its outcome is favourable."""
        return self.done and self.result.meaning == "favourable"


def read_conditions(blocks: Mapping[str, ConditionBlock]) -> dict[str, Condition]:
    """The named conditions of a design."""
    return {name: condition(block, name) for name, block in blocks.items()}


def condition(block: ConditionBlock, name: str = "") -> Condition:
    """One condition."""
    load = block.load
    return Condition(
        name,
        block.place,
        block.mains,
        block.frequency,
        load.word if load is not None else "",
        load.currents if load is not None else (),
        block.ambient,
        block.after,
        block.switch_on or "",
    )


def read_readings(
    blocks: Iterable[ReadingBlock], conditions: Mapping[str, Condition], by_default: str | None, problems: list[Problem]
) -> tuple[Reading, ...]:
    """Every reading, in the order written; one that says no condition is a reading at an unknown one.

    by_default: how the file says that all that was done at the bench is known
    """
    found: list[Reading] = []
    for block in blocks:
        where = condition_at(block, conditions)
        ohms = _ohms(block, problems)
        for quantity, one in block.figures():
            at = conditions.get(one.at) if one.at is not None else where
            if at is None and (block.at is not None or one.at is not None):
                continue  # a name that is no condition is refused where it stands
            own = ohms if quantity == "winding_temperature" else None
            found.append(
                Reading(
                    at,
                    quantity,
                    one.target,
                    one.stated,
                    block.known_by or by_default,
                    one.at_frequency,
                    own,
                    block.sample,
                    block.retest or "",
                )
            )
    return tuple(found)


def _ohms(block: ReadingBlock, problems: list[Problem]) -> Ohms | None:
    """The three figures of a reading by change of resistance; they belong together, and to one winding."""
    figures = (block.cold_resistance, block.hot_resistance, block.cold_at)
    if block.taken_with != BY_RESISTANCE:
        if any(one is not None for one in figures):
            what = "cold and hot ohms belong to a winding read by its change of resistance"
            problems.append(Problem(block.place, what, f"write taken_with: {BY_RESISTANCE}"))
        return None
    if any(one is None for one in figures) or len(block.winding_temperature) != 1:
        what = "a winding read by its change of resistance says its ohms, cold and hot, and how cold it was"
        write = "write one winding_temperature with cold_resistance, hot_resistance and cold_at"
        problems.append(Problem(block.place, what, write))
        return None
    cold, hot, at = figures
    assert cold is not None and hot is not None and at is not None
    return Ohms(cold, hot, at)


def condition_at(block: ReadingBlock, conditions: Mapping[str, Condition]) -> Condition | None:
    """The condition of a block of readings; None where it names none, or one that is not there."""
    if isinstance(block.at, Name):
        return conditions.get(block.at)
    return condition(block.at) if block.at is not None else None


def read_tests(
    blocks: Iterable[TestBlock],
    outputs: int,
    transformers: Iterable[str],
    by_default: str | None,
    problems: list[Problem],
) -> tuple[Test, ...]:
    """The tests done to the sample.

    outputs: how many the supply has; with several a test says which. transformers: a layer of tape is one of theirs;
    by_default: as for readings
    """
    wound = frozenset(transformers)
    found = []
    for block in blocks:
        if block.test is None:
            continue
        _whole(block, outputs, problems)
        _sides(block, wound, problems)
        result, done = _result(block, problems)
        found.append(
            Test(
                block.test,
                block.place,
                result,
                done,
                block.between,
                block.voltage,
                block.time,
                block.mains,
                block.shuts_down_at,
                block.frequency,
                block.ambient,
                block.current,
                block.output or "",
                block.taken_from or "",
                block.fault or "",
                block.note or "",
                block.photo or "",
                block.known_by,
                by_default,
                block.sample,
                block.retest or "",
            )
        )
    return tuple(found)


def _whole(block: TestBlock, outputs: int, problems: list[Problem]) -> None:
    """What a kind of test has to say, so that its outcome counts for something."""
    if block.test in ("electric strength", "insulation resistance") and "between" not in vars(block):
        problems.append(
            Problem(
                block.place,
                f"this test of {block.test} does not say between which circuits",
                "write between: [primary, secondary]",
            )
        )
    if block.test == "fault" and block.fault is None:
        problems.append(Problem(block.place, "this test does not say which fault", "write fault: Q1 shorted"))
    if block.test == "overload" and block.output is None and outputs > 1:
        problems.append(Problem(block.place, "this overload test does not say at which output", "write output: NAME"))


def _sides(block: TestBlock, transformers: frozenset[str], problems: list[Problem]) -> None:
    """A test is between two circuits, or of layers of tape of one transformer: half of each is heard by nobody."""
    tape = [one for one in block.between if one in TAPE]
    wound = [one for one in block.between if one in transformers]
    if len(block.between) == 2 and bool(tape) != bool(wound) or len(tape) > 1:
        what = "a transformer is no side of a test" if wound else "whose layer of tape was tested"
        problems.append(Problem(block.between[0].place, what, "write two circuits, or [one layer of tape, T1]"))


def _result(block: TestBlock, problems: list[Problem]) -> tuple[Result, bool]:
    outcome: Outcome | None = block.result
    test = block.test or ""
    if outcome is None:
        return Result(), True
    if outcome.stated is None:
        words = results_of(test)
        if outcome.word not in words:
            problems.append(
                Problem(
                    outcome.place,
                    f"'{outcome.word}' is no outcome of a test of {test}",
                    f"write one of {', '.join(words)}",
                )
            )
            return Result(outcome.word), True
        result = Result(outcome.word, meaning_of(test, outcome.word), known_by=outcome.known_by)
        return result, outcome.word not in ("not done", "unknown")
    wanted = _FIGURES.get(test, ())
    dimension = read_quantity(outcome.stated.text, outcome.place).dimension
    if dimension not in wanted:
        figures = f"a figure in {' or '.join(one.symbol for one in wanted)}" if wanted else ""
        either = " or ".join(filter(None, (figures, f"one of {', '.join(results_of(test))}")))
        problems.append(
            Problem(outcome.place, f"'{outcome.stated.text[:60]}' is no outcome of a test of {test}", f"write {either}")
        )
    return Result(stated=outcome.stated, dimension=dimension, known_by=outcome.known_by), True


# The capture of a scope as a design names it: which file, columns and factors. The samples are read elsewhere.
#
#     capture: {file: captures/inrush-230V.csv, skip: 3 lines, time: time, current: {RF1: probe 2}, shunt: 0.1 ohm,
#               zero_from: -2..0 ms, trigger: -0.1..20 ms}
#
# A column is named by its head or counted (`column 2`). `shunt` [ohm] turns volts into amperes; `factor` multiplies
# (a current probe of 10 A/V has factor 10). `zero_from` is the window before the event whose mean is taken off;
# `trigger` is the window that is looked at. The file never lies outside the repository of the design.


class Capture(NamedTuple):
    """One capture.

    path: the file, joined to the folder of the design; skip: lines ahead of the samples, None to find out
    time: head or number of the time column; column: that of the signal; target: the part it was taken at
    quantity: 'current' or 'voltage'; factor: what a sample is multiplied by to be [A] or [V]
    zero: window whose mean is zero [s]; window: what is looked at [s]; time_unit: seconds of one unit of time
    separator, decimal: '' to find out
    """

    condition: Condition | None
    path: str
    skip: int | None
    time: str
    column: str
    target: str
    quantity: str
    factor: float
    zero: tuple[float, float] | None
    window: tuple[float, float] | None
    time_unit: float
    separator: str
    decimal: str
    place: Place
    sample: Sample | None = None  # of several
    retest: str = ""  # that it was captured again, and what was done ahead of it


def read_captures(
    blocks: Iterable[ReadingBlock], conditions: Mapping[str, Condition], design_path: str, problems: list[Problem]
) -> tuple[Capture, ...]:
    """Every capture named in the readings."""
    found = []
    for block in blocks:
        if block.capture is None:
            continue
        if block.at is None:
            problems.append(Problem(block.capture.place, "this capture says no condition", "put `at:` beside it"))
        capture = _capture(block.capture, condition_at(block, conditions), design_path, problems)
        if capture is not None:
            found.append(capture._replace(sample=block.sample, retest=block.retest or ""))
    return tuple(found)


def _capture(
    block: CaptureBlock, condition: Condition | None, design_path: str, problems: list[Problem]
) -> Capture | None:
    """One capture; None and problems when it says too little."""
    before = len(problems)
    path = _path(block.file, block.place, design_path, problems)
    written = [quantity for quantity in ("current", "voltage") if quantity in vars(block)]
    if len(written) != 1:
        problems.append(Problem(block.place, "a capture says what it is of", "write current: {RF1: probe 2}"))
    signal = block.current or block.voltage
    shunt, factor = _number(block.shunt, problems), _number(block.factor, problems)
    if block.shunt is not None and shunt is not None and shunt <= 0.0:
        problems.append(Problem(block.shunt.place, "a shunt has a resistance above zero", "write shunt: 0.1 ohm"))
    if len(problems) > before or path is None or signal is None:
        return None
    target, column = signal
    whole = (factor if factor is not None else 1.0) / (shunt if shunt else 1.0)
    return Capture(
        condition,
        path,
        block.skip,
        block.time or "column 1",
        column,
        target,
        written[0],
        whole,
        block.zero_from,
        block.trigger,
        TIME_UNITS[block.time_unit or "s"],
        SEPARATORS.get(block.separator or "", ""),
        DECIMALS.get(block.decimal or "", ""),
        block.place,
    )


def _path(text: str | None, place: Place, design_path: str, problems: list[Problem]) -> str | None:
    if text is None:
        problems.append(Problem(place, "a capture names its file", "write file: captures/inrush.csv"))
        return None
    target = os.path.normpath(os.path.join(os.path.dirname(design_path), text))
    if os.path.isabs(text) or leaves_repository(design_path, target):
        problems.append(Problem(place, f"'{text[:80]}' lies outside this repository", "name a file inside it"))
        return None
    return target


def _number(stated: Stated | None, problems: list[Problem]) -> float | None:
    if stated is None:
        return None
    if not isinstance(stated.value, Value):
        problems.append(Problem(stated.place, "one figure is wanted here", "write a number with its unit"))
        return None
    return stated.value.middle
