"""Clearance and creepage of one barrier, step by step, from the tables of a family, in exact numbers."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from math import isinf, isnan

from derate.packs.load import Packs
from derate.packs.table import Axis, Cell, Table
from derate.terms.dimension import LENGTH
from derate.terms.tuples import NamedTuple
from derate.terms.words import CONFIDENCES, Confidence, weaker_confidence

# One family of insulation rules: its tables by name, read exactly, in fractions instead of floats.


# Exact arithmetic for distances: whole micrometres and fractions, so that rounding up never rests on a float.


@lru_cache(maxsize=8192)
def exact(number: float) -> Fraction:
    """The decimal number a float was written as: 2.4 is 12/5, not the nearest binary fraction.

    Raises ValueError for infinity and NaN.
    """
    if isinf(number) or isnan(number):
        raise ValueError(f"{number} is no number to calculate with")
    return Fraction(repr(float(number)))


def micrometres(metres_: float) -> Fraction:
    """A length in metres [m] as micrometres [um], to the nearest nanometre, which takes float dust off products."""
    return Fraction(round(exact(metres_) * 1_000_000_000), 1000)


def rounded_up(length: Fraction, step: int = 1) -> int:
    """A length [um] rounded up to a whole number of steps [um]; a length on a step stays.

    >>> rounded_up(Fraction(2810), 100)
    2900
    >>> rounded_up(Fraction(2400), 100)
    2400
    """
    return -int(-length // step) * step


def metres(length: int) -> float:
    """Whole micrometres as metres [m]: the float nearest to the decimal number."""
    return float(f"{length}e-6")


def millimetres(length: Fraction | int) -> str:
    """A length [um] as text in millimetres, exactly where its decimals end, to a tenth of a micrometre otherwise.

    >>> millimetres(2810), millimetres(4440)
    ('2.81', '4.44')
    """
    value = Fraction(length, 1000) if isinstance(length, int) else length / 1000
    text = f"{float(value):.4f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


# Reading a table of a pack exactly: one row of numbers, any axes of words, in fractions instead of floats.
#
# `read(table, number, **words)` gives the figure with its confidence and with the rows it came from, in words that a
# reader can follow by hand. Beyond the ends of a table nothing is known: NoRow says so.


# What a step of arithmetic alone grants itself: it takes nothing away from the cells that it works on. Whatever rests
# on a figure of a standard reads that figure from a table, and is as sure as its cell.
ARITHMETIC: Confidence = CONFIDENCES[0]


class NoRow(Exception):
    """A table has no answer; the text says why."""


class Found(NamedTuple):
    """A figure of a table: its value [SI, exact], how sure the cells are, and how it was read, for a reader.

    between: read in a straight line between two rows, and so no figure that the table prints
    """

    value: Fraction
    confidence: Confidence
    words: str
    between: bool = False


def read(table: Table, number: Fraction | None = None, **words: str) -> Found:
    """The figure of a table for a number along its one number axis (None when it has none) and words along the rest.

    Kinds: `next row up` takes the first row at or above; `linear` reads in a straight line between two rows. Below the
    first row the first row holds for `next row up` and where the ends say hold. Raises NoRow.
    """
    fixed: dict[int, int] = {}
    along: tuple[int, Axis] | None = None
    for place, axis in enumerate(table.axes):
        if axis.dimension is not None:
            along = (place, axis)
        elif axis.name not in words or words[axis.name] not in axis.words:
            raise NoRow(f"{table.name} has no column for {axis.name.replace('_', ' ')} {words.get(axis.name, '')}")
        else:
            fixed[place] = axis.words.index(words[axis.name])
    if along is None:
        found = _figure(table, fixed, None, 0)
        return Found(found.value, found.confidence, f"{', '.join(words.values())}: {_told(table, found.value)}")
    if number is None:
        raise NoRow(f"{table.name} is read at a number, and there is none")
    place, axis = along
    shares = _rows(table.name, axis, number)
    parts = [(_figure(table, fixed, place, row), row, share) for row, share in shares]
    value = sum((found.value * share for found, _, share in parts), Fraction(0))
    confidence = ARITHMETIC
    for found, _, _ in parts:
        confidence = weaker_confidence(confidence, found.confidence)
    named = [f"{_at(axis, row)}: {_told(table, found.value)}" for found, row, _ in parts]
    if len(named) == 1:
        return Found(value, confidence, f"row {named[0]}")
    return Found(value, confidence, f"in a straight line between row {named[0]} and row {named[1]}", between=True)


def _rows(name: str, axis: Axis, number: Fraction) -> list[tuple[int, Fraction]]:
    points = _points(axis.points)
    if number > points[-1]:
        if axis.ends in ("hold", "hold above"):
            return [(len(points) - 1, Fraction(1))]
        raise NoRow(f"{_number(axis, number)} lies beyond the last row of {name.replace('_', ' ')}")
    if axis.kind == "next row up":
        return [(bisect_left(points, number), Fraction(1))]
    if axis.kind != "linear":
        raise NoRow(f"{name} is neither read between its rows nor by the next row up")
    if number < points[0]:
        if axis.ends in ("hold", "hold below"):
            return [(0, Fraction(1))]
        raise NoRow(f"{_number(axis, number)} lies below the first row of {name.replace('_', ' ')}")
    above = bisect_left(points, number)
    if points[above] == number:
        return [(above, Fraction(1))]
    share = (number - points[above - 1]) / (points[above] - points[above - 1])
    return [(above - 1, 1 - share), (above, share)]


@lru_cache(maxsize=256)
def _points(points: tuple[float, ...]) -> tuple[Fraction, ...]:
    return tuple(exact(point) for point in points)


def _figure(table: Table, fixed: dict[int, int], place: int | None, row: int) -> Found:
    index = tuple(row if at == place else fixed[at] for at in range(len(table.axes)))
    cell: Cell = table.cells[index]
    if cell.value is None:
        raise NoRow(f"{table.name} has no figure there")
    if not cell.value.is_exact:  # the near end alone would ask for less than may be needed
        raise NoRow(f"{table.name} gives no single figure there")
    return Found(exact(cell.value.near), cell.confidence, "")


def _number(axis: Axis, number: Fraction) -> str:
    return f"{float(number):.6g} {axis.dimension.symbol if axis.dimension is not None else ''}".strip()


def _at(axis: Axis, row: int) -> str:
    symbol = axis.dimension.symbol if axis.dimension is not None else ""
    return f"{axis.points[row]:g} {symbol}".strip()


def _told(table: Table, value: Fraction) -> str:
    if table.unit == LENGTH:
        return f"{float(value * 1000):g} mm"
    return f"{float(value):g} {table.unit.symbol}".strip()


# One family of insulation rules: its tables by name. Families never mix: a table is looked for in its own only.


BASIC_STANDARD, IT_EQUIPMENT, HOUSEHOLD, LAMPS = "60664-1", "62368-1", "60335-1", "60598-1"
FAMILIES = (BASIC_STANDARD, IT_EQUIPMENT, HOUSEHOLD, LAMPS)
# Its own table of distances was not read: what the basic standard asks is the least, proves a fail and never a pass.
# Two recalls of lamps (Swedish, 2013) had 4.6 mm asked at 230 V where that is 3.0 mm.
READ_AS_BASIC = (BASIC_STANDARD, LAMPS)


class Family(NamedTuple):
    """A family by its name ('60664-1', '62368-1', '60335-1', '60598-1') with the tables its packs brought."""

    name: str
    tables: Mapping[str, Table]

    def table(self, name: str) -> Table:
        """A table of this family. Raises NoRow when no pack of the family has it."""
        found = self.tables.get(name)
        if found is None:
            raise NoRow(f"nothing was read on {name.replace('_', ' ')} in {self.name}")
        return found

    def has(self, name: str) -> bool:
        """Whether the family has a table of this name."""
        return name in self.tables


def families_of(packs: Packs) -> tuple[Family, ...]:
    """Every family that the loaded packs bring tables for, sorted by name."""
    found: dict[str, dict[str, Table]] = {}
    for (family, name), table in packs.tables.items():
        if family:
            found.setdefault(family, {})[name] = table
    return tuple(Family(name, found[name]) for name in sorted(found))


# Clearance and creepage of one barrier, step by step: pure functions of exact numbers and the tables of a family.
#
# Every function gives a `Found`: value [SI: V or m, exact], confidence of the cells used, and the step in words with
# its numbers, so that a reader can redo it by hand. All raise NoRow where the family has no figure.


ROOT_TWO = exact(1.41421356)
TENTH, HUNDREDTH, HALF_MILLIMETRE = 100, 10, 500  # [um]
MICROMETRE = Fraction(1, 1_000_000)
_LEAST_BY_POLLUTION = {"2": Fraction(200), "3": Fraction(800), "4": Fraction(1600)}  # 60664-1 [um]


def volts(value: Fraction) -> str:
    """A voltage in words: whole volts where it has no more, two decimals otherwise."""
    return f"{float(value):.2f}".rstrip("0").rstrip(".") + " V"


def impulse(family: Family, mains: Fraction, category: str) -> Found:
    """Impulse voltage to be held [V peak] from the nominal mains to neutral [V rms] and the overvoltage category."""
    found = read(family.table("mains_transient"), mains, category=category)
    return Found(found.value, found.confidence, f"{found.words} in category {category}, at {volts(mains)} mains")


def raised_impulse(family: Family, rated: Fraction, mains: Fraction, peak: Fraction) -> Found:
    """60335-1: rated impulse plus what the working peak [V] exceeds the peak of the rated mains [V rms] by."""
    crest = mains * ROOT_TWO
    if peak <= crest:
        words = f"peak working voltage {volts(peak)} is not above the mains crest {volts(crest)}: {volts(rated)}"
        return Found(rated, ARITHMETIC, words)
    share = read(family.table("impulse_raised_by_peak"), insulation="any")
    raised = rated + share.value * (peak - crest)
    words = f"{volts(rated)} + ({volts(peak)} - {volts(crest)}) = {volts(raised)}"
    return Found(raised, share.confidence, words)


def clearance_by_impulse(family: Family, voltage: Fraction, insulation: str, pollution: str) -> Found:
    """Clearance [m] up to 2000 m for an impulse voltage [V peak]; reinforced by the family's own way, never doubled."""
    table = family.table("clearance_by_impulse")
    if family.name == IT_EQUIPMENT:
        column = "reinforced" if insulation == "reinforced" else "basic"
        return _rounded(read(table, voltage, insulation=column, pollution=pollution))
    if insulation != "reinforced":
        return read(table, voltage, pollution=pollution)
    steps = family.table("preferred_impulse" if family.name in READ_AS_BASIC else "impulse_steps")
    raised = _next_step(family, steps, voltage)
    found = read(table, raised.value, pollution=pollution)
    sure = weaker_confidence(found.confidence, raised.confidence)
    return Found(found.value, sure, f"{raised.words}; {found.words}")


def clearance_by_stricter_step(family: Family, voltage: Fraction, pollution: str) -> Found:
    """60335-1, the stricter of two readings in use: 1.6 times a raised impulse first, then the next step up [m]."""
    steps = family.table("impulse_steps")
    share = _share_of(family, "reinforced")
    raised = read(steps, voltage * share.value)
    found = read(family.table("clearance_by_impulse"), raised.value, pollution=pollution)
    times = f"{float(share.value):g} times {volts(voltage)} = {volts(voltage * share.value)}"
    sure = weaker_confidence(weaker_confidence(share.confidence, raised.confidence), found.confidence)
    return Found(found.value, sure, f"{times}, next step {volts(raised.value)}; {found.words}")


def _share_of(family: Family, insulation: str) -> Found:
    """What a voltage is multiplied by before the clearance of an insulation is looked up for it."""
    return read(family.table("clearance_voltage_share"), insulation=insulation)


def _next_step(family: Family, steps: Table, voltage: Fraction) -> Found:
    points = [exact(point) for point in steps.axes[0].points]
    if family.name in READ_AS_BASIC and voltage not in points:
        share = _share_of(family, "reinforced")
        raised = voltage * share.value
        times = f"reinforced: {float(share.value):g} times {volts(voltage)}, which is no preferred step"
        return Found(raised, share.confidence, f"{times} = {volts(raised)}")
    above = [point for point in points if point > voltage]
    if not above:
        raise NoRow(f"{volts(voltage)} has no step above it in {steps.name}")
    step = read(steps, above[0])
    return Found(step.value, step.confidence, f"reinforced: next step above {volts(voltage)} is {volts(step.value)}")


def temporary_overvoltage(family: Family, mains: Fraction) -> Found:
    """Temporary overvoltage that the clearance also has to hold [V peak], from the nominal mains [V rms]."""
    if family.name == IT_EQUIPMENT:
        found = read(family.table("temporary_overvoltage"), mains)
        return Found(found.value, found.confidence, f"{found.words}, at {volts(mains)} mains")
    if family.name == BASIC_STANDARD:
        added = read(family.table("temporary_overvoltage_added"), insulation="any")
        rms = mains + added.value
        words = f"({volts(mains)} + {volts(added.value)}) times 1.414 = {volts(rms * ROOT_TWO)}"
        return Found(rms * ROOT_TWO, added.confidence, words)
    raise NoRow(f"{family.name} asks for none")


def clearance_by_peak(family: Family, peak: Fraction, insulation: str, pollution: str, fast: bool) -> Found:
    """Clearance [m] up to 2000 m for a recurring or temporary peak voltage [V]; `fast`: it recurs above 30 kHz."""
    reinforced = insulation == "reinforced"
    column = "reinforced" if reinforced else "basic"
    if family.name == IT_EQUIPMENT:
        if not fast:
            return _rounded(read(family.table("clearance_by_peak"), peak, insulation=column, pollution=pollution))
        found = read(family.table("clearance_by_peak_fast"), peak, insulation=column)
        slow = read(family.table("clearance_by_peak"), Fraction(330), insulation=column, pollution=pollution)
        return _rounded(found if found.value >= slow.value else slow)
    if family.name == BASIC_STANDARD:
        share = _share_of(family, column)
        held = peak * share.value
        found = read(family.table("clearance_by_peak"), held)
        least = _LEAST_BY_POLLUTION.get(pollution, Fraction(0)) * MICROMETRE
        times = f"{float(share.value):g} times {volts(peak)} = {volts(held)}"
        words = f"{times}; {found.words}" if reinforced else found.words
        return Found(max(found.value, least), weaker_confidence(share.confidence, found.confidence), words)
    raise NoRow(f"{family.name} raises the impulse voltage instead")


def bounded_by_reports(family: Family, impulse_: Fraction, peak: Fraction, insulation: str) -> bool:
    """Whether published results at this impulse show that a peak of this size does not govern the clearance."""
    if not family.has("recurring_does_not_govern"):
        return False
    column = "reinforced" if insulation == "reinforced" else "basic"
    table = family.table("recurring_does_not_govern")
    if impulse_ not in [exact(point) for point in table.axes[0].points]:
        return False
    held = peak * _share_of(family, column).value if family.name == BASIC_STANDARD else peak
    return held <= read(table, impulse_, insulation=column).value


def altitude_factor(family: Family, altitude: Fraction) -> Found:
    """Factor on clearance for an altitude [m]: 1 up to 2000 m, then the next altitude up of the table."""
    table = family.table("altitude_factor")
    top = exact(table.axes[0].points[-1])
    if altitude > top:
        raise NoRow(f"no factor for altitudes above {float(top):g} m was read in {family.name}")
    return read(table, altitude)


def at_altitude(family: Family, clearance: Fraction, factor: Fraction) -> Found:
    """A clearance [m] times the altitude factor; 62368-1 then rounds up to 0.1 mm, as four reports print it."""
    product = clearance * factor
    length = product / MICROMETRE
    words = f"{millimetres(clearance / MICROMETRE)} mm x {float(factor):g} = {millimetres(length)} mm"
    if family.name == IT_EQUIPMENT and factor != 1:
        up = rounded_up(length, TENTH)
        return Found(up * MICROMETRE, ARITHMETIC, f"{words}, up to {millimetres(up)} mm")
    return Found(rounded_up(length) * MICROMETRE, ARITHMETIC, words)


def table_voltage(family: Family, mains: Fraction) -> Found:
    """Row of the creepage table for plain mains [V rms]: 220 V to 240 V take the row of 250 V, none between."""
    found = read(family.table("table_voltage"), mains)
    return Found(found.value, found.confidence, f"plain mains of {volts(mains)} takes the row of {volts(found.value)}")


def column_of(pollution: str, group: str) -> str:
    """The column of a creepage table for a pollution degree and a material group."""
    return "PD1" if pollution == "1" else f"PD{pollution} {'III' if group.startswith('III') else group}"


def creepage_basic(family: Family, voltage: Fraction, pollution: str, group: str, functional: bool = False) -> Found:
    """Creepage of basic insulation [m] for an rms voltage [V]; a value between two rows is rounded up to 0.1 mm.

    functional: 60335-1 has an own, kinder table for functional insulation. No family reads printed-wiring columns
    here: see `creepage_printed_wiring`.
    """
    name = "creepage_functional" if functional and family.has("creepage_functional") else "creepage"
    if pollution == "3" and group == "IIIb" and voltage > 630 and family.name != HOUSEHOLD:
        raise NoRow("material group IIIb is not for pollution degree 3 above 630 V")
    found = read(family.table(name), voltage, column=column_of(pollution, group))
    words = f"{found.words}, column {column_of(pollution, group)}"
    if not found.between and family.name != IT_EQUIPMENT:
        return Found(found.value, found.confidence, words)
    return _rounded(Found(found.value, found.confidence, words))


def creepage_next_row(family: Family, voltage: Fraction, insulation: str, pollution: str, group: str) -> Found:
    """Creepage of basic insulation [m] as laboratories that never read between two rows ask it: that of the next row.

    What a report asked beyond its row is held as well, where the family has it. NoRow where no table is read between.
    """
    table = family.table("creepage")
    (axis,) = (one for one in table.axes if one.dimension is not None)
    above = [exact(point) for point in axis.points if exact(point) >= voltage]
    if axis.kind != "linear" or not above:
        raise NoRow(f"{family.name} is not read between two rows")
    found = creepage_basic(family, above[0], pollution, group, insulation == "functional")
    if insulation == "basic" and family.has("creepage_asked_beyond"):
        asked = read(family.table("creepage_asked_beyond"), above[0])
        if asked.value > found.value:
            return Found(asked.value, asked.confidence, f"one report asks more there, {asked.words}")
    return found


def creepage_printed_wiring(family: Family, voltage: Fraction, pollution: str, group: str) -> Found:
    """Creepage of basic insulation [m] on printed wiring: only where the family has the columns, PD1 and PD2, never
    material group IIIb in PD2. Raises NoRow everywhere else."""
    if not family.has("creepage_printed_wiring"):
        raise NoRow(f"{family.name} has no columns for printed wiring: the ordinary ones hold")
    if pollution == "2" and group == "IIIb":
        raise NoRow("the printed-wiring column of pollution degree 2 is not for material group IIIb")
    found = read(family.table("creepage_printed_wiring"), voltage, column=f"PD{pollution}")
    return _rounded(found) if found.between else found


def creepage(family: Family, basic: Fraction, insulation: str, clearance: Fraction) -> Found:
    """Creepage needed [m]: basic, or twice it for reinforced; never below the clearance of the same path [m]."""
    share = read(family.table("creepage_share"), insulation=insulation)
    one, value = millimetres(basic / MICROMETRE), basic * share.value
    words = f"{one} mm"
    if share.value != 1:
        words = f"{float(share.value):g} x {one} mm = {millimetres(value / MICROMETRE)} mm"
    if clearance > value:
        words += f"; not below the clearance, {millimetres(clearance / MICROMETRE)} mm"
    return Found(max(value, clearance), share.confidence, words)


def creepage_fast(family: Family, peak: Fraction, frequency: Fraction, pollution: str) -> Found:
    """62368-1: creepage of basic insulation [m] for a recurring peak [V] above 30 kHz [Hz]."""
    band = next(
        (
            name
            for top, name in ((100_000, "30 to 100 kHz"), (200_000, "100 to 200 kHz"), (400_000, "200 to 400 kHz"))
            if frequency <= top
        ),
        None,
    )
    if band is None:
        raise NoRow("nothing was read on creepage above 400 kHz")
    found = read(family.table("creepage_fast"), peak, band=band)
    factor = {"1": Fraction(1), "2": Fraction(6, 5), "3": Fraction(7, 5)}[pollution]
    words = f"{found.words}, {band}, times {float(factor):g}"
    return _rounded(Found(found.value * factor, found.confidence, words))


def _rounded(found: Found) -> Found:
    """Rounded up: to 0.1 mm, to 0.01 mm up to half a millimetre."""
    length = found.value / MICROMETRE
    up = rounded_up(length, TENTH if length > HALF_MILLIMETRE else HUNDREDTH)
    if up == length:
        return found
    words = f"{found.words}: {millimetres(length)} mm, up to {millimetres(up)} mm"
    return Found(up * MICROMETRE, found.confidence, words)
