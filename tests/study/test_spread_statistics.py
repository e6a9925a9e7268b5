"""Shares, samples and terms: published sizes, the worked examples, and the intervals and draws held to scipy."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from scipy import stats

from derate.circuit.rectifier import SIGNS, steady_state
from derate.ledger.entry import Subject
from derate.ledger.ledger import Model
from derate.ledger.traced import TracedLedger
from derate.report.spread import percent
from derate.study.spread.drift import Drift
from derate.study.spread.leaves import Grower, Joined
from derate.study.spread.replay import Replay, Way, one_at_a_time, places
from derate.study.spread.spread import _drivers, _root
from derate.study.spread.statistics import (
    Term,
    confidence_of,
    coverage_of,
    extreme_product,
    interval_of_share,
    root_of_squares,
    samples_for,
)
from derate.terms.quantities import named
from derate.terms.values import Formula, Value

# Coverage, confidence, one-sided, two-sided: the well-known table of order statistics.
SIZES = (
    (0.90, 0.90, 22, 38),
    (0.95, 0.90, 45, 77),
    (0.95, 0.95, 59, 93),
    (0.99, 0.95, 299, 473),
    (0.99, 0.99, 459, 662),
    (0.9973, 0.95, 1109, 1756),
    (0.99865, 0.95, 2218, None),
)


@pytest.mark.parametrize(("coverage", "confidence", "one", "two"), SIZES)
def test_how_many_samples(coverage: float, confidence: float, one: int, two: int | None) -> None:
    """The least number: one sample fewer is too few."""
    assert samples_for(coverage, confidence) == one
    assert confidence_of(one - 1, coverage) < confidence <= confidence_of(one, coverage)
    if two is not None:
        assert samples_for(coverage, confidence, two_sided=True) == two
        assert confidence_of(two - 1, coverage, True) < confidence <= confidence_of(two, coverage, True)


def test_coverage_turns_the_sizes_round() -> None:
    for coverage, confidence, one, two in SIZES:
        assert coverage_of(one, confidence) == pytest.approx(coverage, abs=0.002)
        if two is not None:
            assert coverage_of(two, confidence, True) == pytest.approx(coverage, abs=0.002)
    assert coverage_of(1, 0.95, True) == 0.0  # one reading lies between nothing


def test_intervals_are_those_of_scipy() -> None:
    """Both ends of 40 random counts, as the beta distribution has them; none and all besides."""
    draw = random.Random(3)
    for _ in range(40):
        draws = draw.choice((1, 7, 50, 2_000, 20_000))
        count = draw.randint(0, draws) if draws <= 2_000 else draw.randint(0, 400)
        low, high = interval_of_share(count, draws)
        if 0 < count < draws:
            assert low == pytest.approx(stats.beta.ppf(0.025, count, draws - count + 1), rel=1e-6)
            assert high == pytest.approx(stats.beta.ppf(0.975, count + 1, draws - count), rel=1e-6)
        elif count == 0:  # one-sided: all that is left lies above
            assert (low, high) == (0.0, pytest.approx(stats.beta.ppf(0.95, 1, draws), rel=1e-6))
        else:
            assert (low, high) == (pytest.approx(stats.beta.ppf(0.05, draws, 1), rel=1e-6), 1.0)


def test_nothing_seen_is_never_nothing() -> None:
    assert percent(interval_of_share(0, 20_000)[1], up=True) == "0.015 %"
    assert percent(0.0149, up=True) == "1.5 %"
    assert percent(0.0141, up=True) == "1.5 %"  # up, so that it promises less
    assert percent(0.0149, up=False) == "1.4 %"


@pytest.mark.parametrize(("count", "draws", "confidence"), [(-1, 5, 0.95), (6, 5, 0.95), (0, 0, 0.95), (1, 5, 1.0)])
def test_what_is_no_count_is_refused(count: int, draws: int, confidence: float) -> None:
    with pytest.raises(ValueError, match="state"):
        interval_of_share(count, draws, confidence)


def test_biased_terms_never_go_under_the_root() -> None:
    """A bias of one sign moves both ends its way; random terms of 3 and 4 make 5."""
    assert root_of_squares([Term(-3.0, 3.0), Term(-4.0, 4.0)]) == (-5.0, 5.0)
    assert root_of_squares([Term(-3.0, 3.0), Term(-4.0, 4.0), Term(-2.0, 0.0, biased=True)]) == (-7.0, 5.0)
    assert root_of_squares([Term(-1.0, 3.0), Term(0.0, 4.0)]) == (-1.0, 5.0)  # a skewed one has two ends


def test_shares_multiply() -> None:
    """WE-5: 20 % of purchase, 20 % at the end of life, 20 % cold: 51.2 % is left. The sum says 40 %, a root 65.4 %."""
    low, _ = extreme_product([(0.8, 1.2), (0.8, 1.0), (0.8, 1.0)])
    assert low == pytest.approx(0.512)
    assert 1.0 + root_of_squares([Term(-0.2, 0.0)] * 3)[0] == pytest.approx(0.654, abs=0.0005)
    assert 1.0 + root_of_squares([Term(-0.2, 0.0, biased=True)] * 3)[0] == pytest.approx(0.4)


# Worked examples through the graph of a ledger: facts with tolerances, one model, its extreme, root and draws.


class Worked:
    """One figure of facts with tolerances."""

    def __init__(self, formula: Formula, facts: dict[str, Value], drift: Drift | None = None) -> None:
        self.ledger = TracedLedger()
        taken = {}
        inputs = {}
        for name, value in facts.items():
            subject = Subject("part", (name,))
            quantity = named("part.resistance")
            if drift is not None and name in ("r1", "r2"):
                taken[subject, quantity] = drift
                value = drift.widened(value)
            inputs[name] = self.ledger.write(subject, quantity, value)
        model = Model.of("worked", formula, "worked example")
        (self.row,) = self.ledger.work_out(model, inputs, [(Subject("supply"), named("voltage"), "y")])
        self.graph = Grower(self.ledger, taken).graph([self.row.number])

    def drawn(self, way: Way) -> np.ndarray:
        return np.sort(
            Replay(self.graph, places(self.graph.leaves, way), way.draws, way.draws).run().rows[self.row.number]
        )

    def alone(self) -> np.ndarray:
        many = 1 + 2 * len(self.graph.leaves)
        return Replay(self.graph, one_at_a_time(self.graph.leaves), many, many).run().rows[self.row.number]

    def root(self, way: Way | None = None) -> tuple[float, float]:
        return _root(self.alone(), self.graph.leaves, way or Way())

    @property
    def extreme(self) -> tuple[float, float]:
        assert isinstance(self.row.value, Value)
        return self.row.value.low, self.row.value.high


def about(nominal: float, share: float) -> Value:
    return Value.spread(nominal, nominal * (1.0 - share), nominal * (1.0 + share))


def output(reference: float, r1: float, r2: float) -> dict[str, float]:
    return {"y": reference * (1.0 + r1 / r2)}


OUTPUT = Formula(output, {"y": {"reference": 1, "r1": 1, "r2": -1}}, {})
REFERENCE = {"reference": about(2.495, 0.01), "r1": about(1e4, 0.01), "r2": about(1e4, 0.01)}
LATER = Drift((-0.005, 0.005), (-0.005, 0.005), "100 ppm/K over 50 K; 0.5 % of age")


def test_a_reference_with_its_divider() -> None:
    """WE-1: extreme 4.8432 to 5.1428 V; 1.22 % random, 1.00 % of temperature and age, 2.22 % together.

    The published extreme adds 1, 0.5 and 0.5 % of a resistor; here they multiply, which moves it by 0.3 mV at most.
    """
    found = Worked(OUTPUT, REFERENCE, LATER)
    assert found.extreme == pytest.approx((4.8432, 5.1428), abs=0.0004)
    plain = Worked(OUTPUT, REFERENCE)
    # a move is found at an end and not as a slope: 0.01 % of second order
    assert plain.root()[1] / 4.99 - 1.0 == pytest.approx(0.0122, abs=0.0001)
    low, high = found.root()
    assert (low / 4.99 - 1.0, high / 4.99 - 1.0) == pytest.approx((-0.0222, 0.0222), abs=0.0002)


@pytest.mark.parametrize(
    ("form", "sigma", "low", "high"), [("uniform", 0.00764, -0.0200, 0.0204), ("normal", 0.0044, -0.0131, 0.0132)]
)
def test_a_reference_drawn(form: str, sigma: float, low: float, high: float) -> None:
    """Published of a million draws, all seven terms by themselves. Of 20,000 draws a quantile this far out stands on
    27 points: 0.06 % is three times what it scatters by. A normal that is cut at three sigma is 1.3 % narrower than
    the published one, which is not."""
    found = Worked(OUTPUT, REFERENCE, LATER)
    drawn = found.drawn(Way(form=form)) / 4.99 - 1.0  # type: ignore[arg-type]
    narrower = 1.0 if form == "uniform" else 0.987
    assert np.std(drawn) == pytest.approx(sigma * narrower, rel=0.015)
    assert drawn[26] == pytest.approx(low, abs=0.0006)
    assert drawn[-27] == pytest.approx(high, abs=0.0006)
    assert found.extreme[0] <= drawn[0] * 4.99 + 4.99 <= drawn[-1] * 4.99 + 4.99 <= found.extreme[1]


def test_resistors_of_one_lot_cancel() -> None:
    """Both of one lot: the ratio keeps what the reference has, and all that the resistors add is gone."""
    found = Worked(OUTPUT, REFERENCE)
    apart, together = (np.std(found.drawn(Way(together=share))) / 4.99 for share in (0.0, 1.0))
    assert together == pytest.approx(0.01 / 3.0**0.5, rel=0.015)
    assert apart == pytest.approx(0.01 / 3.0**0.5 * 1.5**0.5, rel=0.015)
    assert found.root(Way(together=1.0))[1] / 4.99 - 1.0 == pytest.approx(0.01, abs=0.0002)
    half = found.root(Way(together=0.5))[1] / 4.99 - 1.0
    assert half == pytest.approx((0.01**2 + 2 * 0.005**2 - 0.005**2) ** 0.5, abs=0.0001)


def power(inductance: float, limit: float, frequency: float) -> dict[str, float]:
    return {"y": inductance * limit**2 * frequency}


POWER = Formula(power, {"y": {"inductance": 1, "limit": 1, "frequency": 1}}, {})
LIMITS = {"inductance": about(1.0, 0.1), "limit": about(1.0, 0.07), "frequency": about(1.0, 0.06)}


def test_a_power_limit_is_skewed() -> None:
    """WE-2: extreme 0.732 to 1.335: a symmetric root of 18.2 % hides that it goes further up than down."""
    found = Worked(POWER, LIMITS)
    assert found.extreme == pytest.approx((0.732, 1.335), abs=0.0006)
    low, high = found.root()
    assert (high - low) / 2.0 == pytest.approx(0.182, abs=0.001)
    assert high - 1.0 > 1.0 - low + 0.003


@pytest.mark.parametrize(
    ("form", "mean", "sigma", "low", "high"),
    [("uniform", 1.0018, 0.105, 0.763, 1.289), ("normal", 1.0005, 0.061, 0.831, 1.192)],
)
def test_a_power_limit_drawn(form: str, mean: float, sigma: float, low: float, high: float) -> None:
    """Published of two million draws; a mean of 20,000 scatters by 0.0008, a quantile on 27 points by 0.004."""
    drawn = Worked(POWER, LIMITS).drawn(Way(form=form))  # type: ignore[arg-type]
    assert np.mean(drawn) == pytest.approx(mean, abs=0.002)
    assert np.std(drawn) == pytest.approx(sigma, rel=0.02)
    assert drawn[26] == pytest.approx(low, abs=0.012)
    assert drawn[-27] == pytest.approx(high, abs=0.012)


def divided(source: float, upper: float, lower: float) -> dict[str, float]:
    return {"y": source * lower / (upper + lower)}


def test_a_divider() -> None:
    """WE-3: 10 V to 1 V by 9 k and 1 k of 1 %: 0.9821 to 1.0181 V, and 12.7 mV under the root."""
    formula = Formula(divided, {"y": {"source": 1, "upper": -1, "lower": 1}}, {})
    found = Worked(formula, {"source": Value.exact(10.0), "upper": about(9e3, 0.01), "lower": about(1e3, 0.01)})
    assert found.extreme == pytest.approx((0.9821, 1.0181), abs=0.00006)
    low, high = found.root()
    assert (high - low) / 2.0 == pytest.approx(0.0127, abs=0.00005)


def into_a_zener(
    mains: float, frequency: float, capacitance: float, resistance: float, zener: float
) -> dict[str, float]:
    """The note's own formula for the current of a dropper [mA]."""
    reactance = 1.0 / (2.0 * np.pi * frequency * capacitance)
    return {"y": 1e3 * (2.0**0.5 * mains - zener) / (2.0 * (reactance + resistance))}


def test_an_input_current_at_its_corners() -> None:
    """WE-4: 13.46 mA, 9.86 to 16.09 mA. Capacitor 0.8 and 1.2 times, resistor 1.1 and 0.9 times, mains of 110 to 120 V
    and 59.5 to 60.1 Hz, zener 5.0 to 5.1 V, all of them at once: no draw in between lies beyond."""
    signs = {"mains": 1, "frequency": 1, "capacitance": 1, "resistance": -1, "zener": -1}
    line = {"mains": Value.spread(120.0, 110.0, 120.0), "frequency": Value.spread(60.0, 59.5, 60.1)}
    parts = {"capacitance": about(0.47e-6, 0.2), "resistance": about(470.0, 0.1), "zener": Value.spread(5.1, 5.0, 5.1)}
    found = Worked(Formula(into_a_zener, {"y": signs}, {}), {**line, **parts})
    assert isinstance(found.row.value, Value)
    assert found.row.value.near == pytest.approx(13.46, abs=0.005)
    # the most is printed with the zener at 5.0 V, the least with it at 5.1 V
    assert found.extreme == pytest.approx((9.86, 16.09), abs=0.005)
    drawn = found.drawn(Way(draws=2_000))
    assert found.extreme[0] <= drawn[0] < 10.6 and 15.2 < drawn[-1] <= found.extreme[1]


# Each worst figure of a bridge with its bulk capacitor, and the end of each input that gives it.
BRIDGE = {
    "bulk_min": (min, {"mains": 0, "frequency": 0, "series_resistance": 1, "capacitance": 0, "load": 1}),
    "line_peak": (max, {"mains": 0, "frequency": 1, "series_resistance": 0, "capacitance": 1, "load": 1}),
}
BRIDGE_ENDS = {
    "mains": (207.0, 253.0),
    "frequency": (47.0, 63.0),
    "series_resistance": (3.0, 9.0),
    "capacitance": (17.6e-6, 26.4e-6),
    "load": (8.0, 14.0),
}


@pytest.mark.parametrize("figure", BRIDGE)
def test_a_rectifier_has_no_single_worst_corner(figure: str) -> None:
    """WE-6: the valley is worst at low mains, low frequency, high resistance, little capacitance and high power, the
    peak of the current at high frequency, low resistance and much capacitance: of all 32 corners, and as declared."""
    worst, at = BRIDGE[figure]
    signs = SIGNS[figure]
    declared = {name: int((signs[name] > 0) == (worst is max)) for name in BRIDGE_ENDS}
    assert declared == at
    solved = {}
    for corner in itertools.product((0, 1), repeat=5):
        state = steady_state(**{name: ends[end] for (name, ends), end in zip(BRIDGE_ENDS.items(), corner, strict=True)})
        assert state is not None
        solved[corner] = getattr(state, figure)
    assert worst(solved, key=solved.__getitem__) == tuple(at.values())
    assert BRIDGE["bulk_min"][1] != BRIDGE["line_peak"][1]


# Draws against scipy, on random models.


@pytest.mark.parametrize("seed", range(4))
def test_sums_are_distributed_as_scipy_has_them(seed: int) -> None:
    """Two random terms: a trapezium where both are uniform, by the distance of Kolmogorov at one in ten thousand."""
    draw = random.Random(seed)
    a, b = draw.uniform(0.01, 0.3), draw.uniform(0.01, 0.3)
    wide, narrow = max(a, b), min(a, b)

    def added(one: float, other: float) -> dict[str, float]:
        return {"y": one + other}

    found = Worked(Formula(added, {"y": {"one": 1, "other": 1}}, {}), {"one": about(1.0, a), "other": about(1.0, b)})
    drawn = found.drawn(Way(seed=seed + 1)) - 2.0
    flat = (wide - narrow) / (wide + narrow)
    shape = stats.trapezoid((1.0 - flat) / 2.0, (1.0 + flat) / 2.0, loc=-(wide + narrow), scale=2.0 * (wide + narrow))
    assert stats.kstest(drawn, shape.cdf).pvalue > 1e-4
    shares = {one.leaf.subject: one.share for one in _drivers(found.alone(), found.graph.leaves)}
    assert shares["one"] == pytest.approx(a**2 / (a**2 + b**2)) and sum(shares.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("sigmas", [2.0, 3.0, 4.5])
def test_normal_tolerances_are_cut_at_their_ends(sigmas: float) -> None:
    def same(one: float) -> dict[str, float]:
        return {"y": one}

    found = Worked(Formula(same, {"y": {"one": 1}}, {}), {"one": about(1.0, 0.1)})
    drawn = (found.drawn(Way(form="normal", sigmas=sigmas)) - 1.0) / 0.1
    assert stats.kstest(drawn, stats.truncnorm(-sigmas, sigmas, scale=1.0 / sigmas).cdf).pvalue > 1e-4
    assert drawn[0] >= -1.0 and drawn[-1] <= 1.0


@pytest.mark.parametrize("together", [0.0, 0.3, 0.9])
def test_parts_of_one_lot_move_together(together: float) -> None:
    """Correlated by the normal copula: its rank correlation is 6 / π asin(ρ / 2) (Kruskal, 1958)."""
    found = Worked(OUTPUT, REFERENCE)
    drawn = places(found.graph.leaves, Way(together=together))
    one, other = (drawn.of(leaf) for leaf in found.graph.leaves if leaf.subject in ("r1", "r2"))
    rank = stats.spearmanr(one, other).statistic
    assert rank == pytest.approx(6.0 / np.pi * np.arcsin(together / 2.0), abs=0.02)
    for numbers in (one, other):
        assert stats.kstest(numbers, stats.uniform(-1.0, 2.0).cdf).pvalue > 1e-4


def test_one_thing_more_to_draw_moves_no_other() -> None:
    few, many = Worked(OUTPUT, REFERENCE), Worked(OUTPUT, REFERENCE, LATER)
    before, after = places(few.graph.leaves, Way()), places(many.graph.leaves, Way())
    for leaf in few.graph.leaves:
        assert (before.of(leaf) == after.of(leaf)).all()


def test_rows_put_together_by_hand_are_known_by_their_figures() -> None:
    """A sum of two toleranced rows, written outside a model, moves with both of them."""
    ledger = TracedLedger()
    one, other = (ledger.write(Subject("part", (name,)), named("part.resistance"), about(10.0, 0.1)) for name in "ab")
    total = ledger.write(
        Subject("supply"), named("series_resistance"), Value.spread(20.0, 18.0, 22.0), inputs=(one.number, other.number)
    )
    half = ledger.write(
        Subject("mains"), named("series_resistance"), Value.spread(5.0, 4.5, 5.5), inputs=(one.number, other.number)
    )
    strange = ledger.write(
        Subject("output"), named("series_resistance"), Value.spread(7.0, 6.5, 9.5), inputs=(one.number, other.number)
    )
    graph = Grower(ledger).graph([total.number, half.number, strange.number])
    assert graph.nodes[total.number] == Joined("sum", (one.number, other.number))
    assert graph.nodes[half.number] == Joined("parallel", (one.number, other.number))
    assert graph.by_hand == (strange.number,)
    rows = Replay(graph, places(graph.leaves, Way(draws=50)), 50, 50).run().rows
    assert rows[total.number] == pytest.approx(rows[one.number] + rows[other.number])
    parallel = rows[one.number] * rows[other.number] / (rows[one.number] + rows[other.number])
    assert rows[half.number] == pytest.approx(parallel)
