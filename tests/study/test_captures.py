"""Captures: figures of known pulses, the shapes of scope files, and what cannot be used, with its line."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest
from counts import calls

from derate.cli.main import main
from derate.design.readings import Capture
from derate.study.capture import Event, compared, event_of, read_samples
from derate.study.work import Workshop
from derate.terms.values import Place, ReadingError

VENT = Path(__file__).parents[2] / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"


def capture(path: Path, **changes: object) -> Capture:
    fields: dict[str, object] = {
        "condition": None, "path": str(path), "skip": None, "time": "column 1", "column": "column 2", "target": "RF1",
        "quantity": "current", "factor": 1.0, "zero": None, "window": None, "time_unit": 1.0, "separator": "",
        "decimal": "", "place": Place("design"),
    }  # fmt: skip
    return Capture(**(fields | changes))  # type: ignore[arg-type]


def event(path: Path, **changes: object) -> Event:
    one = capture(path, **changes)
    return event_of(one, *read_samples(one))


def rows(times: np.ndarray, values: np.ndarray, separator: str = ",", comma: bool = False) -> str:
    lines = (f"{t:.9e}{separator}{v:.7g}" for t, v in zip(times, values, strict=True))
    text = "\n".join(line.replace(".", ",") if comma else line for line in lines)
    return text + "\n"


def decaying(count: int, peak: float = 40.0, decay: float = 0.0012, end: float = 0.02) -> tuple[np.ndarray, np.ndarray]:
    times = np.linspace(0.0, end, count)
    return times, peak * np.exp(-times / decay)


def test_an_exponential_pulse(tmp_path: Path) -> None:
    """peak² × decay / 2 (integral of the square of an exponential)."""
    path = tmp_path / "pulse.csv"
    path.write_text(rows(*decaying(20000)))
    found = event(path)
    assert found.i2t == pytest.approx(40.0**2 * 0.0012 / 2, rel=1e-3)
    assert found.peak == pytest.approx(40.0, rel=1e-6)
    assert found.width == pytest.approx(0.0006, rel=1e-3)
    assert found.rms == pytest.approx(math.sqrt(0.96 / 0.02), rel=1e-3)


def test_a_half_sine(tmp_path: Path) -> None:
    """peak² × duration / 2 (the surge of rectifier data sheets)."""
    times = np.linspace(0.0, 0.0083, 4001)
    path = tmp_path / "half.csv"
    path.write_text(rows(times, 60.0 * np.sin(np.pi * times / 0.0083)))
    assert event(path).i2t == pytest.approx(60.0**2 * 0.0083 / 2, rel=1e-4)


def test_a_million_samples_are_read_in_one_go(tmp_path: Path) -> None:
    times, values = decaying(1_000_000)
    path = tmp_path / "long.csv"
    np.savetxt(path, np.column_stack((times, values)), delimiter=",", fmt="%.8e", header="TIME,CH1", comments="")
    found: list[Event] = []
    assert calls(lambda: found.append(event(path, time="TIME", column="CH1"))) < 100_000  # none of them for a sample
    assert found[0].samples == 1_000_000
    assert found[0].i2t == pytest.approx(0.96, rel=1e-3)


@pytest.mark.parametrize("separator", [",", ";", "\t", " "])
@pytest.mark.parametrize("comma", [False, True])
def test_separators_and_decimal_commas(tmp_path: Path, separator: str, comma: bool) -> None:
    if comma and separator == ",":
        pytest.skip("a decimal comma and a comma between columns cannot be told apart")
    path = tmp_path / "pulse.csv"
    head = f"Model{separator}invented\nTIME{separator}CH1\n"
    path.write_text(head + rows(*decaying(2000), separator, comma))
    assert event(path, time="TIME", column="CH1").i2t == pytest.approx(0.96, rel=1e-3)


def test_windows_line_ends_and_quotes_and_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "pulse.csv"
    text = '"TIME","CH1"\n' + rows(*decaying(2000))
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert event(path, time="TIME", column="CH1").i2t == pytest.approx(0.96, rel=1e-3)


def test_lone_pairs_ahead_of_the_samples_are_no_samples(tmp_path: Path) -> None:
    path = tmp_path / "pulse.csv"
    path.write_text("Record Length,2000\nInterval,1e-5\nTIME,CH1\n" + rows(*decaying(2000)))
    assert event(path, time="TIME", column="CH1").samples == 2000


def test_zero_window_shunt_and_trigger(tmp_path: Path) -> None:
    times = np.linspace(-0.002, 0.02, 22001)
    values = np.where(times > 0, 4.0 * np.exp(-np.clip(times, 0, None) / 0.0012), 0.0) + 0.123
    path = tmp_path / "pulse.csv"
    path.write_text(rows(times, values))
    found = event(path, factor=10.0, zero=(-0.002, -0.00001))
    assert found.offset == pytest.approx(1.23, rel=1e-3)
    assert found.i2t == pytest.approx(0.96, rel=2e-3)
    late = event(path, factor=10.0, zero=(-0.002, -0.00001), window=(0.0012, 0.02))
    assert late.i2t == pytest.approx(0.96 * math.exp(-2.0), rel=2e-3)


def test_time_in_milliseconds_falling_negative_pulses(tmp_path: Path) -> None:
    times, values = decaying(5000)
    path = tmp_path / "pulse.csv"
    path.write_text(rows(times * 1e3, -values))
    found = event(path, time_unit=1e-3)
    assert found.peak == pytest.approx(40.0) and found.i2t == pytest.approx(0.96, rel=1e-3)


# ---- what may make the figures wrong is said ------------------------------------------------------------------------


def test_a_clipped_top_is_said_and_proves_no_more_than_at_least(tmp_path: Path) -> None:
    times, values = decaying(5000)
    path = tmp_path / "pulse.csv"
    path.write_text(rows(times, np.minimum(values, 25.0)))
    found = event(path)
    assert found.clipped and found.in_doubt and "clipped" in " ".join(found.says)


@pytest.mark.parametrize("step", [0.4, 0.1, 0.02])
def test_a_quantised_crest_is_not_clipped(tmp_path: Path, step: float) -> None:
    times = np.linspace(0.0, 0.01, 4000)
    values = np.round(40.0 * np.sin(np.pi * times / 0.01) / step) * step
    path = tmp_path / "half.csv"
    path.write_text(rows(times, values))
    assert not event(path).clipped


def test_noise_on_a_clipped_top(tmp_path: Path) -> None:
    noise = np.random.default_rng(5).normal(0.0, 0.2, 5000)
    times, values = decaying(5000)
    path = tmp_path / "pulse.csv"
    path.write_text(rows(times, np.minimum(values + noise, 25.0)))
    assert event(path).clipped


def test_too_few_samples_across_the_pulse(tmp_path: Path) -> None:
    path = tmp_path / "pulse.csv"
    path.write_text(rows(*decaying(60)))
    found = event(path)
    assert found.in_doubt and "samples lie across the pulse" in " ".join(found.says)


def test_an_aliased_ring(tmp_path: Path) -> None:
    times = np.arange(400) * 1e-5
    path = tmp_path / "ring.csv"
    path.write_text(rows(times, 10.0 * np.sin(2 * np.pi * 47_000 * times)))  # 47 kHz seen 100,000 times a second
    found = event(path)
    assert found.in_doubt and "aliased" in " ".join(found.says)


def test_a_gap_and_a_cut_tail(tmp_path: Path) -> None:
    times, values = decaying(2000, end=0.0015)
    keep = np.ones(2000, dtype=bool)
    keep[800:900] = False
    path = tmp_path / "pulse.csv"
    path.write_text(rows(times[keep], values[keep]))
    says = " ".join(event(path).says)
    assert "samples are missing" in says and "not ended" in says


# ---- what makes them impossible is refused, with its line -----------------------------------------------------------


def refused(path: Path, **changes: object) -> str:
    with pytest.raises(ReadingError) as caught:
        event(path, **changes)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("   \n\n", "empty"),
        ("TIME,CH1\n", "no line of numbers"),
        ("a letter\nto somebody\n", "no line of numbers"),
        ("TIME,CH1\n0,1\n1e-5,2\n", "no capture"),
        ("TIME,CH1\n0,1\n1e-5,nan\n2e-5,2\n", ":3:1: a sample is no number"),
        ("TIME,CH1\n0,1\n1e-5,inf\n2e-5,2\n", ":3:1: a sample is no number"),
        ("TIME,CH1\n0,1\n1e-5,9.91E37\n2e-5,2\n", ":3:1: a sample is no number"),
        ("TIME,CH1\n0,1\n2e-5,2\n1e-5,3\n3e-5,1\n", ":4:1: the time does not rise"),
        ("TIME,CH1\n0,1\n1e-5,2\n1e-5,3\n3e-5,1\n", ":4:1: the time does not rise"),
        ("TIME,CH1\n0,1\n1e-5,2\n2e-5,OVER\n3e-5,1\n", ":4:1: this line is no row of numbers"),
        ("TIME,CH1\n0,1\n1e-5,2\n2e-5\n3e-5,1\n", ":4:1: this line is no row of numbers"),
        ("TIME,CH1\n0,0\n1e-5,0\n2e-5,0\n3e-5,0\n", "every sample is zero"),
    ],
)
def test_refused(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    assert says in refused(path)


def test_windows_without_samples_and_columns_that_are_not_there(tmp_path: Path) -> None:
    path = tmp_path / "pulse.csv"
    path.write_text("TIME,CH1\n" + rows(*decaying(200)))
    assert "zero has no samples" in refused(path, zero=(-1.0, -0.5))
    assert "window has no samples" in refused(path, window=(1.0, 2.0))
    assert "no column 'CH4'" in refused(path, column="CH4")
    assert "could not be read" in refused(tmp_path / "not-there.csv")


def test_any_bytes_end_in_one_sentence(tmp_path: Path) -> None:
    rng = random.Random(3)
    path = tmp_path / "noise.csv"
    good = ("TIME,CH1\n" + rows(*decaying(50))).encode()
    for _ in range(150):
        data = bytearray(good)
        for _ in range(rng.randint(1, 12)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        path.write_bytes(bytes(data))
        try:
            event(path)
        except ReadingError as error:
            assert error.problems


# ---- the shipped one ------------------------------------------------------------------------------------------------


def test_the_shipped_capture_agrees_with_the_computed_inrush() -> None:
    work = Workshop().work(str(VENT))
    (one,) = work.design.captures
    found = compared(work, one)
    assert {held.quantity for held in found.held} == {"current_peak", "i2t", "pulse_width"}
    assert all(held.agrees for held in found.held), [(held.quantity, held.apart) for held in found.held]
    assert not found.event.clipped and not found.event.in_doubt
    assert found.energy is not None and 1.9 < found.energy.near < 2.3


def test_a_capture_of_half_the_current_is_found_out() -> None:
    """A wrong shunt: at the crest the I²t then is a quarter, beyond both tolerances."""

    work = Workshop().work(str(VENT))
    (one,) = work.design.captures
    found = compared(work, one._replace(factor=one.factor / 2))
    assert [held.agrees for held in found.held if held.quantity == "i2t"] == [False]


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["capture", str(VENT)]) == 0
    text = capsys.readouterr().out
    assert "agrees with" in text and "A mains input is live throughout" in text and "i2t: {RF1: 0.3085 A²s 10%}" in text
    copy = tmp_path / "vent.derate.yaml"
    copy.write_text(VENT.read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["capture", str(copy)]) == 2  # the file it names is not there
    assert "could not be read" in capsys.readouterr().err
    lamp = VENT.parents[1] / "market-stall-lamp" / "market-stall-lamp.derate.yaml"
    assert main(["capture", str(lamp)]) == 2 and "names no capture" in capsys.readouterr().err
    (tmp_path / "captures").mkdir()
    shipped = (VENT.parent / "captures" / "inrush-230V.csv").read_text(encoding="utf-8")
    head, _, samples = shipped.partition("probe 2\n")
    doubled = "".join(
        f"{t},{a},{float(b) * 0.4:.4f}\n" for t, a, b in (line.split(",") for line in samples.splitlines())
    )
    (tmp_path / "captures" / "inrush-230V.csv").write_text(f"{head}probe 2\n{doubled}", encoding="utf-8")
    assert main(["capture", str(copy)]) == 1  # two fifths of the current: beyond both tolerances
    assert "is beyond both tolerances of" in capsys.readouterr().out


@pytest.mark.parametrize("heads", [("seconds", "left"), ("t / s", "coil in the lead"), ("Zeit", "Strom")])
def test_any_heads_are_read_by_what_the_file_says_they_are(tmp_path: Path, heads: tuple[str, str]) -> None:
    path = tmp_path / "pulse.csv"
    path.write_text(",".join(heads) + "\n" + rows(*decaying(2000)))
    assert event(path, time=heads[0], column=heads[1], skip=0).i2t == pytest.approx(0.96, rel=1e-3)
    with pytest.raises(ReadingError):
        event(path, time=heads[0], column="another head")
