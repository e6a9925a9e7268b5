"""Next values: the series they come from, what a step brings held to the file written so, what is never suggested."""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.recorded import RecordingLedger
from derate.packs.load import load_packs
from derate.report.schemas import HeadroomOutput, problems_of, read_output
from derate.study import headroom as study
from derate.study.headroom import NextValue, NextValues, next_values
from derate.study.standard_values import E6, E12, E24, OPENS, next_rating, next_value
from derate.study.trying import Bench
from derate.study.work import Work, Workshop, worked
from derate.terms.values import Curve, Value
from derate.terms.words import PART_KINDS

DESIGNS = Path(__file__).parents[2] / "designs"
DAY = date(2026, 11, 25)
SMALL = """derate: 1
supply:
  {name: Small, topology: flyback, efficiency: 0.8,
   plate: {mains: 230 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 0.4 A}}}}
site: {ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 20 K (measured), mains_resistance: 0.4 ohm}
parts:
  F1: {kind: fuse, standard: IEC 60127, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 125 Vac}}
  BR1: bridge rectifier 300 V 1 A
  C1: electrolytic capacitor 10 uF 20% 350 V
circuit: {line: [F1, BR1, across C1]}
"""


def bench_of(text: str, **given: float) -> Bench:
    design, packs = read_design(text, "small.derate.yaml"), load_packs(["commercial-practice", "mains-fusing"])
    return Bench(Work(design, Settings(), packs, worked(design, packs), {}), DAY, **given)


@cache
def tried_on(name: str) -> tuple[NextValues, Bench]:
    path = str(DESIGNS / name / f"{name}.derate.yaml")
    bench = Bench(Workshop(ledger=RecordingLedger).work(path), DAY)
    return next_values(bench), bench


def of_design(name: str) -> NextValues:
    return tried_on(name)[0]


def by_part(found: NextValues) -> dict[str, list[NextValue]]:
    made: dict[str, list[NextValue]] = {}
    for one in found.found:
        made.setdefault(" ".join(map(str, one.subjects)), []).append(one)
    return made


# ---- the series ------------------------------------------------------------------------------------------------------


def test_the_series_are_those_of_the_standard() -> None:
    """Each near the power of ten it stands for; the coarse ones as the standard prints them."""
    assert E6 == (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
    assert E12 == (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
    assert len(E24) == 24 and list(E24) == sorted(E24)
    assert all(abs(one / 10 ** (k / 24) - 1) < 0.05 for k, one in enumerate(E24))


@pytest.mark.parametrize(
    ("nominal", "tolerance", "after", "series"),
    [
        (22e-6, 0.2, 33e-6, "E6"), (22e-6, 0.1, 27e-6, "E12"), (22e-6, 0.05, 24e-6, "E24"), (22e-6, 0.01, 24e-6, "E24"),
        (68e-6, 0.2, 100e-6, "E6"), (10e-6, 0.2, 15e-6, "E6"), (9.99e-6, 0.2, 10e-6, "E6"), (8.2e3, 0.1, 10e3, "E12"),
        (91.0, 0.05, 100.0, "E24"), (25e-6, 0.2, 33e-6, "E6"), (470e-6 * (1 - 1e-9), 0.2, 680e-6, "E6"),
    ],
)  # fmt: off
def test_the_next_value(nominal: float, tolerance: float, after: float, series: str) -> None:
    found = next_value(nominal, tolerance)
    assert found.number == pytest.approx(after, rel=1e-9) and found.series == series
    assert found.source == "IEC 60063:2015, table 1"


def test_the_next_rating() -> None:
    def step(*given: object) -> float | None:
        found = next_rating(*given)  # type: ignore[arg-type]
        return found.number if found is not None else None

    assert step("rated.voltage", "electrolytic capacitor", 400.0) == 420.0
    assert step("rated.voltage", "electrolytic capacitor", 401.0) == 420.0
    assert step("rated.voltage", "electrolytic capacitor", 500.0) is None
    assert step("rated.voltage", "film capacitor", 250.0) == 400.0
    assert step("rated.voltage", "film capacitor", 250.0, True) == 275.0
    assert step("rated.reverse_voltage", "Schottky diode", 60.0) == 80.0
    assert step("rated.life", "electrolytic capacitor", 2000 * 3600.0) == 3000 * 3600.0
    assert step("rated.ripple_current", "electrolytic capacitor", 1.0) is None
    assert step("rated.junction", "integrated switch", 135.0) is None


@pytest.mark.parametrize("kind", PART_KINDS)
def test_no_step_goes_down_and_what_opens_has_none(kind: str) -> None:
    names = ("voltage", "reverse_voltage", "current", "power", "life", "junction", "melting_i2t", "breaking_capacity")
    for name in names:
        for rated in (0.1, 1.0, 2.5, 60.0, 250.0, 275.0, 400.0, 7.2e6):
            for of_mains in (False, True):
                found = next_rating(f"rated.{name}", kind, rated, of_mains)
                assert found is None or found.number > rated and "no source" in found.source
                assert found is None or kind not in OPENS
    assert {"fuse", "board track", "fusible wirewound resistor"} <= set(OPENS) <= set(PART_KINDS)


# ---- what a step brings ----------------------------------------------------------------------------------------------


def test_a_step_brings_what_the_file_written_so_brings() -> None:
    """Each next value typed into the file and judged from nothing: the same word and the same ratio."""
    found = by_part(next_values(bench_of(SMALL)))
    assert set(found) == {"BR1", "C1"}
    for part, old, new in (("C1", "350 V\n", "400 V\n"), ("BR1", "300 V 1 A", "400 V 1 A")):
        one = found[part][0]
        after = one.changes[0].after
        assert isinstance(after, Value) and after == Value.exact(400.0)
        typed = bench_of(SMALL.replace(old, new)).base.verdicts()
        for moved in one.brings:
            assert moved.before is not None and moved.after is not None and moved.before.verdict == "fail"
            again = typed[moved.before.rule, moved.before.pack, moved.before.subject]
            assert again.verdict == moved.after.verdict != "fail"
            assert again.ratio == pytest.approx(moved.after.ratio, rel=1e-9)
        assert one.worse == () and one.risen == ()


def test_a_fuse_is_never_raised() -> None:
    bench = bench_of(SMALL)
    assert any(one.rule == "fuse-voltage" and one.verdict == "fail" for one in bench.base.review.findings)
    found = next_values(bench)
    assert "F1" not in by_part(found)
    assert all(str(one.subject) != "F1" for one, _ in found.without) and "F1" not in map(str, found.cut)


def test_where_nothing_is_close_nothing_is_tried() -> None:
    sound = SMALL.replace("125 Vac", "250 Vac").replace("300 V 1 A", "1000 V 1 A").replace("350 V\n", "500 V\n")
    bench = bench_of(sound)
    assert next_values(bench) == NextValues() and bench.runs == 0 and bench.allowance.spent == bench.allowance.trial


def test_so_many_are_tried_and_the_rest_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = bench_of(SMALL)
    monkeypatch.setattr(study, "MOST_TRIED", 1)
    found = next_values(bench)
    assert len(found.found) == bench.runs == 1 and len(found.cut) == 1
    none = bench_of(SMALL, most=0)
    stopped = next_values(none)
    assert none.runs == 0 and stopped.found == () and sorted(map(str, stopped.cut)) == ["BR1", "C1"]


def test_a_rating_that_nobody_stated_is_no_place_to_step_from() -> None:
    """Its reverse voltage is not known: that is a fact to find, not one to raise."""
    found = next_values(bench_of(SMALL.replace("bridge rectifier 300 V 1 A", "bridge rectifier")))
    assert "BR1" not in by_part(found) and "C1" in by_part(found)


# ---- the shipped designs ---------------------------------------------------------------------------------------------


def test_a_greater_bulk_capacitor_says_that_it_worsens_switch_on() -> None:
    found = by_part(of_design("greenhouse-vent"))
    one = next(each for each in found["C2"] if each.changes[0].name == "part.capacitance")
    after = {each.name: each.after for each in one.changes}
    value = after["part.capacitance"]
    assert isinstance(value, Value) and value.near == pytest.approx(33e-6)  # from the marked 22 uF, not the measured
    assert value.low == pytest.approx(0.8 * 33e-6) and value.high == pytest.approx(1.2 * 33e-6)
    ripple = next(each for each in one.changes if each.name == "rated.ripple_current")
    assert isinstance(ripple.before, Curve) and isinstance(ripple.after, Curve)
    for (_, old), (_, new) in zip(ripple.before.points, ripple.after.points, strict=True):
        assert new.near / old.near == pytest.approx((33 / 22) ** 0.5)
    assert [(each.before.verdict, each.after.verdict) for each in one.brings if each.before and each.after] == [
        ("marginal", "pass")
    ]
    inrush = {(str(each.subject), each.name): each.factor for each in one.risen}
    assert inrush["BR1", "i2t"] > 1.2
    worse = {moved.after.rule for moved in one.worse if moved.after is not None}
    assert {"line-resistor-switch-on-energy", "mains-rectifier-surge-at-switch-on"} <= worse
    assert "electrolytic-capacitor-near-new" not in worse  # it waits for a measurement of a part nobody has yet


def test_parts_alike_in_one_place_are_stepped_together() -> None:
    found = by_part(of_design("greenhouse-vent"))
    assert "C6 C7" in found and len(found["C6 C7"][0].brings) == 2


def test_parts_alike_keep_what_they_have_apart(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Two output capacitors of one capacitance and two ripple ratings: each its own, and whose each one is."""
    text = (DESIGNS / "greenhouse-vent" / "greenhouse-vent.derate.yaml").read_text(encoding="utf-8")
    said = text[text.index("  C6, C7:\n") : text.index("  L2: choke")]
    own = said.replace("C6, C7", "C6") + said.replace("C6, C7", "C7").replace("1.25 A at", "1.3 A at")
    path = tmp_path / "apart.derate.yaml"
    path.write_text(text.replace(said, own), encoding="utf-8")
    bench = Bench(Workshop(ledger=RecordingLedger).work(str(path)), DAY)
    one = by_part(next_values(bench))["C6 C7"][0]
    ripple = [each for each in one.changes if each.name == "rated.ripple_current"]
    assert [(tuple(map(str, each.subjects))) for each in ripple] == [("C6",), ("C7",)]
    assert [each.before.points[0][1].near for each in ripple if isinstance(each.before, Curve)] == [1.25, 1.3]
    stepped = [each for each in one.changes if each.name == "part.capacitance"]
    assert one.changes[0] is stepped[0] and tuple(map(str, stepped[0].subjects)) == ("C6", "C7") and len(stepped) == 1
    main(["headroom", str(path)])
    told = capsys.readouterr().out
    assert "ripple current by frequency of C6 to 1.52 A" in told and "of C7 to 1.58 A" in told


def test_a_varistor_clamps_higher_by_as_much() -> None:
    one = by_part(of_design("cellar-lamp"))["RV1"][0]
    assert one.brings[0].after is not None and one.brings[0].after.verdict == "pass"
    clamping = one.changes[1]
    assert clamping.name == "rated.clamping_voltage"
    assert isinstance(clamping.before, Curve) and isinstance(clamping.after, Curve)
    assert clamping.after.points[0][1].near / clamping.before.points[0][1].near == pytest.approx(300 / 275)
    assert "mains-rectifier-voltage-in-surge" in {moved.after.rule for moved in one.worse if moved.after is not None}


def test_what_has_no_usual_step_is_told() -> None:
    without = of_design("tea-warmer").without
    assert [(one.rule, name) for one, name in without] == [("buck-switch-junction", "rated.junction")]


@pytest.mark.parametrize("name", ["greenhouse-vent", "cellar-lamp", "tea-warmer"])
def test_nothing_is_made_less(name: str) -> None:
    for one in of_design(name).found:
        first = one.changes[0]
        if isinstance(first.before, Curve) and isinstance(first.after, Curve):
            pairs = [(old, new) for (_, old), (_, new) in zip(first.before.points, first.after.points, strict=True)]
        else:
            assert isinstance(first.before, Value) and isinstance(first.after, Value)
            pairs = [(first.before, first.after)]
        assert all(new.near > old.near for old, new in pairs)


def test_a_rating_that_is_only_assumed_is_not_stepped() -> None:
    """The diode of the poor lamp fails by a current that nobody stated."""
    found, bench = tried_on("market-stall-lamp")
    rule = "output-rectifier-current"
    assert any(one.rule == rule and one.verdict == "fail" for one in bench.base.review.findings)
    assert bench.runs == 0 and rule not in {one.rule for one, _ in found.without}


def test_what_it_takes() -> None:
    """By recorded reads: 5,472 of work for five trials behind a bulk choke, where a study may take 33,000."""
    found, bench = tried_on("greenhouse-vent")
    assert bench.runs == len(found.found) == 5 and found.cut == ()
    assert bench.allowance.spent - bench.allowance.trial < 7000


# ---- as told ---------------------------------------------------------------------------------------------------------


def test_the_text_and_the_json(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    path = tmp_path / "small.derate.yaml"
    path.write_text(SMALL, encoding="utf-8")
    assert main(["headroom", str(path)]) == 0
    told = capsys.readouterr().out
    line = next(one for one in told.split("\n") if "next value: C1" in one)
    assert "rated voltage 400 V" in line and "common practice, no source" in line and "(now fail at " in line
    assert "no permission to fit one" in told and "next value: F1" not in told
    assert main(["headroom", str(path), "--format", "json"]) == 0
    text = capsys.readouterr().out
    again = read_output(text, "out.json", HeadroomOutput)
    data = json.loads(text)
    assert json.loads(again.model_dump_json(by_alias=True, exclude_unset=True)) == data
    steps = {one.subjects[0].names[0]: one for one in again.next_values}
    assert steps["C1"].changes[0].quantity == "rated.voltage" and steps["C1"].brings[0].after is not None
    assert again.ends and again.failing and again.cures
    data["next_values"][0].pop("worse")
    assert problems_of(json.dumps(data), "out.json", "headroom")
