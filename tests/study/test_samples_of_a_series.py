"""What several samples say of their series: order statistics by their formula, beside what was read, easing nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from scipy import stats

from derate.cli.main import main
from derate.design.load import read_design
from derate.report.schemas import SpreadsOutput, read_output
from derate.report.spread import samples_notes, samples_pieces, samples_title
from derate.study.spread.samples import Sampled, Samples, sampled

ROOT = Path(__file__).parents[2]
BELL = ROOT / "designs/porch-bell/porch-bell.derate.yaml"
FULL = "at: {mains: 230 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 240 min}"


def text_of(*entries: str, samples: int = 5) -> str:
    """The bell with these readings in place of its own, of so many samples."""
    text = BELL.read_text(encoding="utf-8")
    head, tail = text[: text.index("\nreadings:")], text[text.index("\ntests:") :]
    head = head.replace("supply:\n", f"supply:\n  samples: {samples}\n", 1)
    tests = tail[: tail.index("  - {test")] + tail[tail.index("\ninspection:") :]
    return (
        f"{head}\nreadings:\n" + "".join(f"  - {{{one}}}\n" for one in entries) + tests.replace("\ntests:\n", "\n", 1)
    )


def of(number: int, what: str, more: str = "", samples: int = 5) -> str:
    return f"sample: {number} of {samples}, {more}{FULL}, {what}"


def found(*entries: str, samples: int = 5) -> Samples:
    return sampled(read_design(text_of(*entries, samples=samples), str(BELL)).readings)


HOT = ("41 degC", "44 degC", "39 degC", "58 degC", "42 degC")
FIVE = tuple(of(number, f"case_temperature: {{R1: {hot}}}") for number, hot in enumerate(HOT, 1))


def only(samples: Samples) -> Sampled:
    (one,) = samples.found
    return one


@pytest.mark.parametrize("many", range(1, 101))
def test_the_formula_is_that_of_the_order_statistics(many: int) -> None:
    """The share below the highest of n is a beta variable of n and 1, that between both ends of n - 1 and 2 (scipy)."""
    one = only(found(*FIVE))._replace(read=tuple(range(1, many + 1)), of=100)
    assert one.confidence() == pytest.approx(stats.beta.sf(0.9, many, 1), abs=1e-12)
    assert one.coverage() == pytest.approx(stats.beta.ppf(0.05, many, 1), abs=1e-9)
    if many > 1:
        assert one.confidence(True) == pytest.approx(stats.beta.sf(0.9, many - 1, 2), abs=1e-12)
        assert one.coverage(True) == pytest.approx(stats.beta.ppf(0.05, many - 1, 2), abs=1e-9)


def test_five_samples_say_little() -> None:
    """1 - 0.9^5 = 0.4095, 0.05^(1/5) = 0.549; between both ends 0.0815 and 0.342: each rounded down."""
    samples = found(*FIVE)
    told = dict(samples_pieces(only(samples), samples.coverage, samples.confidence))
    assert samples_title(only(samples)) == "case temperature of R1 at 230 V 50 Hz, full load: 5 of 5 samples read"
    assert told["highest"] == "58 degC, sample 4" and "lowest" not in told
    assert told["of the series"].startswith("90 % lie no higher than the highest at 40 % confidence; at 95 % only 54 %")
    assert told["between both"] == "39 to 58 degC: 90 % of the series at 8.1 % confidence; at 95 % only 34 %"
    assert "90 % at 90 % takes 22, between both ends 38; 95 % at 95 % takes 59" in samples_notes(samples)[0]
    assert samples_notes(Samples()) == ()


def test_a_sample_is_counted_once_and_a_retest_or_a_guess_not_at_all() -> None:
    """Read twice it is still one sample, at its further figure; after a repair it is none of the series."""
    twice = of(2, "case_temperature: {R1: 49 degC}")
    again = of(4, "case_temperature: {R1: 30 degC}", "retest: after repair, ")
    one = only(found(*FIVE, twice, again))
    assert (one.read, one.missing, one.highest, one.lowest[1]) == ((1, 2, 3, 4, 5), (), (58.0, 4), 3)
    assert only(found(*FIVE[:3], twice)).highest == (49.0, 2)
    guessed = (*FIVE[:3], of(4, "case_temperature: {R1: 58 degC}", "known_by: simulated, "), FIVE[4])
    one = only(found(*guessed))
    assert (one.read, one.missing, one.highest) == ((1, 2, 3, 5), (4,), (44.0, 2))
    told = dict(samples_pieces(one, 0.9, 0.95))
    assert told["not read"] == "sample 4: as bad as anything"
    assert found(FIVE[0].replace("sample: 1 of 5, ", "")).found == ()


def test_each_condition_is_a_series_of_its_own() -> None:
    other = tuple(one.replace("230 V", "207 V").replace("degC}", "degC}") for one in FIVE[:2])
    assert [one.read for one in found(*FIVE, *other).found] == [(1, 2, 3, 4, 5), (1, 2)]
    soon = FIVE[4].replace("240 min", "5 min")
    assert [one.read for one in found(*FIVE[:4], soon).found] == [(1, 2, 3, 4), (5,)]


def test_an_efficiency_is_worst_where_it_is_least() -> None:
    """Of what is worse the less of it the lowest is told."""
    entries = tuple(of(number, f"efficiency: {share} %") for number, share in ((1, 60), (2, 55), (3, 64)))
    told = dict(samples_pieces(only(found(*entries)), 0.9, 0.95))
    assert told["lowest"].endswith("sample 2") and "no lower than the lowest" in told["of the series"]
    assert "highest" not in told


def test_the_command_tells_it_and_no_verdict_hangs_on_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bell.derate.yaml"
    path.write_text(text_of(*FIVE), encoding="utf-8")
    page = tmp_path / "spread.html"
    assert main(["stress", str(path), "--spread", "--draws", "200"]) == 0
    text = capsys.readouterr().out
    assert "5 of 5 samples read" in text and "only 54 % do" in text and "no limit is eased by another" in text
    assert main(["stress", str(path), "--spread", "--draws", "200", "--part", "C1", "--format", "json"]) == 0
    assert read_output(capsys.readouterr().out, "out.json", SpreadsOutput).samples == ()
    assert main(["stress", str(path), "--spread", "--draws", "200", "--format", "json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)["samples"]
    assert one["highest"] == {"value": 58.0, "sample": 4} and one["read"] == [1, 2, 3, 4, 5]
    assert one["beyond_one_end"]["confidence"] == pytest.approx(1.0 - 0.9**5)
    assert main(["stress", str(path), "--spread", "--draws", "200", "--to", str(page)]) == 0
    assert "Samples of the series" in page.read_text(encoding="utf-8")
