"""What a scope captured, and captures held against the computed event at their own condition."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from itertools import islice
from math import inf

import numpy as np

from derate.design.facts import facts
from derate.design.readings import Capture
from derate.ledger.entry import Entry
from derate.run import run_at
from derate.stress.bench.evidence import apart, at_condition
from derate.stress.context import part
from derate.study.work import Work
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Place, Problem, ReadingError, Value
from derate.text.files import read_ordinary

# What a scope captured: samples from CSV, and peak, rms, I²t, energy and equivalent width of the event in them.
#
# The file may have lines ahead of the samples, any separator of the trade and decimal commas. What could make the
# figures wrong is said: clipped tops, too few samples across the pulse, gaps. What makes them impossible is refused
# with its line. numpy is used here and nowhere on the way of `derate lint`.


GREATEST_FILE = 50_000_000  # bytes; two million samples of two channels, in less than 500 MB of memory
_INVALID = 9.9e36  # what instruments write for "no value" (SCPI 1999, 7.2.1.5: 9.91E37)
_FEW = 10  # samples across the equivalent width below which peak and I²t are in doubt
_NUMBER = re.compile(r"[-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?\Z|[-+]?(?:nan|inf)\Z", re.IGNORECASE)
Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Event:
    """The figures of one capture, in SI units.

    peak: greatest size; rms: over the window; i2t: integral of the square; width: I²t over peak²
    duration: of the window; interval: usual time from sample to sample; noise: rms in the zero window
    says: what may make the figures wrong, in words; clipped: the greatest value is a limit of the instrument, no peak
    """

    peak: float
    rms: float
    i2t: float
    width: float
    duration: float
    interval: float
    samples: int
    noise: float
    offset: float
    says: tuple[str, ...] = ()
    clipped: bool = False
    in_doubt: bool = False
    channels: tuple[str, ...] = field(default=())


def read_samples(capture: Capture) -> tuple[Array, Array]:
    """Times [s] and signal [A] or [V] of a capture. Raises ReadingError with the line that cannot be used."""
    place = Place(capture.path)
    try:
        data = read_ordinary(capture.path, GREATEST_FILE)
    except ReadingError as error:
        what, instead = error.problems[0].what, "export the window of the event only"
        raise _refused(capture.place, f"'{capture.path}' could not be read: {what}", instead) from None
    head = _text(data[:200_000]).read()
    if not head.strip() and not data.strip():
        raise _refused(place, "this capture is empty", "export it again")
    first, separator, decimal, heads = _layout(head, capture, place)
    columns = [_column(name, heads, capture, separator) for name in (capture.time, capture.column)]
    samples = _data(data, first, separator, decimal, columns, place)
    del data
    bad = ~np.isfinite(samples) | (np.abs(samples) > _INVALID)
    if bad.any():
        line = int(np.flatnonzero(bad.any(axis=1))[0]) + first + 1
        raise _refused(Place(capture.path, line), "a sample is no number", "cut the window to samples that were taken")
    times, signal = samples[:, 0] * capture.time_unit, samples[:, 1]
    if len(times) < 3:
        raise _refused(place, f"{len(times)} samples are no capture", "export the whole event")
    steps = np.diff(times)
    if (steps <= 0).any():
        line = int(np.flatnonzero(steps <= 0)[0]) + first + 2
        raise _refused(
            Place(capture.path, line),
            "the time does not rise from the line above to this one",
            "name the time column with time:, and give more digits of it",
        )
    return times, signal * capture.factor


def _layout(text: str, capture: Capture, place: Place) -> tuple[int, str, str, list[str]]:
    """Index of the first line of samples, separator, decimal mark, and the heads of the columns."""
    lines = text.split("\n")
    start = capture.skip or 0
    for index in range(start, len(lines)):
        line = lines[index].strip()
        separator = capture.separator or _separator(line)
        fields = _fields(line, separator)
        if len(fields) >= 2 and all(_NUMBER.match(one) or not one for one in fields) and _NUMBER.match(fields[0]):
            if capture.skip is None and not _again(lines, index, separator, len(fields)):
                continue
            decimal = capture.decimal or ("," if separator != "," and any("," in one for one in fields) else ".")
            above = _fields(lines[index - 1].strip(), separator) if index > 0 else []
            heads = above if len(above) == len(fields) and not _NUMBER.match(above[0]) else []
            return index, separator, decimal, heads
        if capture.skip is not None and index > start + 1:
            break
    raise _refused(place, "no line of numbers was found in this capture", "say how many lines to skip: `skip: 3 lines`")


def _separator(line: str) -> str:
    for one in (";", "\t"):
        if one in line:
            return one
    parts = line.split()
    if "," in line and not (len(parts) >= 2 and all(_NUMBER.match(one) for one in parts)):
        return ","
    return " "


def _again(lines: list[str], index: int, separator: str, count: int) -> bool:
    """Whether the next line looks the same: `Record Length,4000` and its like stand alone."""
    if index + 1 >= len(lines) or not lines[index + 1].strip():
        return True
    fields = _fields(lines[index + 1].strip(), separator)
    return len(fields) == count and bool(_NUMBER.match(fields[0]))


def _fields(line: str, separator: str) -> list[str]:
    parts = line.split() if separator == " " else line.split(separator)
    return [one.strip().strip('"') for one in parts]


def _column(name: str, heads: list[str], capture: Capture, separator: str) -> int:
    if name in heads:
        return heads.index(name)
    found = re.fullmatch(r"(?:column )?(\d{1,3})", name)
    if found is not None and int(found[1]) >= 1:
        return int(found[1]) - 1
    known = ", ".join(heads) if heads else "the columns have no heads"
    raise _refused(capture.place, f"there is no column '{name[:40]}' in {capture.path}", f"{known}; or write column 2")


def _data(data: bytes, first: int, separator: str, decimal: str, columns: list[int], place: Place) -> Array:
    data = data.rstrip()
    try:
        samples = np.loadtxt(
            islice(_text(data.replace(b",", b".") if decimal == "," else data), first, None),
            delimiter=None if separator == " " else separator,
            usecols=columns,
            ndmin=2,
            quotechar='"',
            comments=None,
        )
    except (ValueError, IndexError) as error:
        found = re.search(r"row (\d+)", str(error))
        counted = 0 if "invalid column index" in str(error) else 1  # that message counts rows from one
        line = first + int(found[1]) + counted if found else first + 1
        raise _refused(
            Place(place.path, line),
            "this line is no row of numbers with the columns of the others",
            "cut it out, or skip it",
        ) from None
    return np.asarray(samples, dtype=np.float64)


def _text(data: bytes) -> io.TextIOWrapper:
    """Bytes as lines of text, one at a time and none of them by a call from here: there are millions."""
    return io.TextIOWrapper(io.BytesIO(data), encoding="utf-8-sig", errors="replace", newline=None)


def event_of(capture: Capture, times: Array, signal: Array) -> Event:
    """The figures of the event in the window. Raises ReadingError when the window or the zero has no samples."""
    offset, noise = 0.0, 0.0
    if capture.zero is not None:
        inside = (times >= capture.zero[0]) & (times <= capture.zero[1])
        if inside.sum() < 3:
            raise _refused(capture.place, "the window of the zero has no samples", "give a window ahead of the event")
        offset, noise = float(signal[inside].mean()), float(signal[inside].std())
    if capture.window is not None:
        inside = (times >= capture.window[0]) & (times <= capture.window[1])
    elif capture.zero is not None:
        inside = times >= capture.zero[1]
    else:
        inside = np.ones(len(times), dtype=bool)
    t, raw = times[inside], signal[inside]
    if len(t) < 3:
        raise _refused(capture.place, "the window has no samples", "give a window inside the capture")
    level = raw - offset
    square = level * level
    duration = float(t[-1] - t[0])
    i2t = float(np.trapezoid(square, t))
    peak = float(np.abs(level).max())
    if peak == 0.0:
        raise _refused(capture.place, "nothing was captured: every sample is zero", "look at column and trigger")
    width = i2t / peak**2
    interval = float(np.median(np.diff(t)))
    says, clipped, doubt = _doubts(t, raw, level, width, interval, peak, noise, capture)
    return Event(
        peak, (i2t / duration) ** 0.5, i2t, width, duration, interval, len(t), noise, offset, says, clipped, doubt
    )


def _doubts(
    t: Array, raw: Array, level: Array, width: float, interval: float, peak: float, noise: float, capture: Capture
) -> tuple[tuple[str, ...], bool, bool]:
    """What may make the figures wrong, in words; whether the top is clipped; whether the figures prove no more than
    that it was at least so much."""
    says = []
    clipped = _is_clipped(raw)
    if clipped:
        says.append("the top is flat: the channel was clipped, and peak and I²t are at least what is told")
    few = width < _FEW * interval
    if few:
        says.append(
            f"only {max(1, round(width / interval))} samples lie across the pulse: the crest may lie between them"
        )
    jumps = np.abs(np.diff(level))
    busy = np.abs(level[:-1]) + np.abs(level[1:]) > 0.2 * peak
    aliased = bool(busy.any()) and float(np.median(jumps[busy])) > 0.5 * peak
    if aliased:
        says.append("most samples jump by more than half the peak: it was sampled too slowly and is aliased")
    gaps = np.diff(t)
    if float(gaps.max()) > 5.0 * interval:
        says.append(f"samples are missing: the longest gap is {gaps.max():.3g} s at an interval of {interval:.3g} s")
    tail = np.abs(level[-max(3, len(level) // 100) :]).mean()
    if tail > max(0.1 * peak, 4.0 * noise):
        says.append("the event has not ended where the window ends")
    if capture.zero is None:
        says.append("no window of zero was given: an offset of the probe counts as current")
    return tuple(says), clipped, clipped or few or aliased


def _is_clipped(raw: Array) -> bool:
    """Whether the greatest or the least value stands for four samples and more, entered or left by a jump.

    A quantised crest stands as long, but is entered and left by one step of the converter.
    """
    values = np.unique(raw)
    if len(values) < 3:
        return False
    step = float(np.diff(values).min())
    for end in (values[-1], values[0]):
        if abs(end) < 0.5 * max(abs(values[-1]), abs(values[0])):
            continue
        at = np.flatnonzero(raw == end)
        runs = np.split(at, np.flatnonzero(np.diff(at) > 1) + 1)
        longest = max(runs, key=len)
        if len(longest) < 4:
            continue
        before = abs(raw[longest[0] - 1] - end) if longest[0] > 0 else 0.0
        after = abs(raw[longest[-1] + 1] - end) if longest[-1] + 1 < len(raw) else 0.0
        if max(before, after) > 2.5 * step:
            return True
    return False


def _refused(place: Place, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(place, what, instead)])


# Captures held against the computed event at their own condition, by the same rules as readings.


# quantity of the event -> attribute, and how often the uncertainty of the amplitude enters
_CURRENT: dict[QuantityName, tuple[str, int]] = {
    "current_peak": ("peak", 1),
    "i2t": ("i2t", 2),
    "pulse_width": ("width", 0),
}
_VOLTAGE: dict[QuantityName, tuple[str, int]] = {"voltage_peak": ("peak", 1)}


@dataclass(frozen=True, slots=True)
class Held:
    """One quantity of a capture: as captured with its uncertainty, as computed, distance over both tolerances."""

    quantity: QuantityName
    captured: Value
    computed: Entry | None
    apart: float | None

    @property
    def agrees(self) -> bool | None:
        """Whether they agree within both tolerances; None when nothing was computed."""
        return None if self.apart is None else self.apart <= 1.0


@dataclass(frozen=True, slots=True)
class Compared:
    """One capture with its figures and what they were held against; `says`: uncertainty used, doubts."""

    capture: Capture
    event: Event
    held: tuple[Held, ...]
    energy: Value | None
    uncertainty: float
    says: tuple[str, ...]


def compared(work: Work, capture: Capture) -> Compared:
    """Read a capture and hold it against the computation at its condition. Raises ReadingError."""
    times, signal = read_samples(capture)
    event = event_of(capture, times, signal)
    assumptions = {name: one for (_, name), one in work.packs.assumptions.items()}
    assumed = assumptions.get("instrument_uncertainty_scope")
    uncertainty = assumed.value.high if assumed is not None else 0.0
    says = list(event.says)
    says.append(assumed.says if assumed is not None else "no pack in use states the uncertainty of a scope")
    ledger = None
    at = at_condition(capture.condition) if capture.condition is not None else None
    if at is not None:
        ledger = run_at(work.design.structure, facts(work.design), assumptions, work.design.readings, at)
    subject = part(capture.target)
    held = []
    for quantity, (name, times_in) in (_CURRENT if capture.quantity == "current" else _VOLTAGE).items():
        number = getattr(event, name)
        doubt = 2 * uncertainty if quantity == "pulse_width" else times_in * uncertainty
        noise = event.noise**2 * event.duration if quantity == "i2t" else 3 * event.noise if times_in == 1 else 0.0
        low = max(0.0, number * (1 - doubt) - noise)
        captured = Value.floor(low) if event.in_doubt else Value.between(low, number * (1 + doubt) + noise)
        row = ledger.find(subject, quantity, at.case) if ledger is not None and at is not None else None
        gap = None
        if row is not None and isinstance(row.value, Value):
            worked = row.value
            if (
                quantity != "pulse_width"
                and capture.condition is not None
                and "crest" not in capture.condition.switch_on
            ):
                worked = Value(0.0, 0.0, worked.far, worked.high)  # what is worked out is the worst closing angle
            gap = apart(captured, worked)
        held.append(Held(quantity, captured, row, gap))
    return Compared(capture, event, tuple(held), _energy(work, capture, event), uncertainty, tuple(says))


def _energy(work: Work, capture: Capture, event: Event) -> Value | None:
    """What the part took: its resistance times the I²t [J]; None when its resistance is not known."""
    row = work.ledger.find(part(capture.target), "part.resistance")
    if capture.quantity != "current" or row is None or not isinstance(row.value, Value) or row.value.high == inf:
        return None
    return row.value.scaled(event.i2t)
