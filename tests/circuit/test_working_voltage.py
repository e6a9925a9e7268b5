"""Working voltage across the transformer barrier: ten live ngspice runs, published cases, a stepped sum, signs."""

from __future__ import annotations

import math
import os
import random
import re
import shutil
import subprocess

import pytest
from converter_trials import draw, prove_signs
from flyback_stage import ClampParts, Stage, Transformer, stage_at_limit

from derate.circuit import barrier as working_voltage
from derate.circuit.barrier import WorkingVoltage, held_to_bulk_minus, middle_on_a_pole, on_a_pole, referred_to_mains
from derate.circuit.numerics import widened

MAINS_CREST = 339.4  # 240 V
FREQUENCY = 60e3
MAINS = 600.0  # runs a mains of 600 Hz: only the ratio to the switching frequency would matter, and 100 to 1 is enough
PEAK, TURNS, LEAKAGE, DRAIN = 0.8, 8.0, 1e-5, 50e-12
CLAMP_OHM, CLAMP_F = 60e3, 10e-9

# Flyback on the rails `p` (bulk plus) and `m` (bulk minus), output sink on the return `r`; peak current 0.8 A, started
# by a clock. 20 kohm across the winding damps the idle ringing, 4 pF couples the windings.
STAGE = """
Vp p p1 0
Llk p1 x1 {leakage} IC=0.1
Lm x1 d {magnetising} IC=0.1
Rm x1 d 20k
Fs d x1 Vs 0.125
Es s r d x1 0.125
Vs s s1 0
Do s1 o DS
Vo o r 12
S1 d m g 0 SW
Coss d m {drain}
Dc d k1 DC
Rc k1 p {clamp_ohm}
Cc k1 p {clamp_f} IC={clamp_v}
Cw d r 4p
Vclk clk 0 PULSE(0 1 0 5n 5n 100n {period})
Vone one 0 1
Sset g one clk 0 SWL
Bcmp cmp 0 V = (1-v(clk))*(0.5+0.5*tanh((i(Vp)-0.8)*2000))
Srst g 0 cmp 0 SWL
Cg g 0 1n
.model SWL SW(RON=2 ROFF=1e9 VT=0.5 VH=0.02)
.model SW SW(RON=0.02 ROFF=1e8 VT=0.5 VH=0.05)
.model DS D(IS=1e-6 N=1 RS=5m CJO=20p)
.model DC D(IS=1e-9 N=1 RS=0.1 CJO=2p)
.options reltol=1e-3 abstol=1e-7 vntol=1e-4 method=gear
"""

# Secondary held to bulk minus by 2.2 nF.
HELD = """
Vdc p 0 {crest}
Vm m 0 0
Cy r m 2.2n
Ry r m 1meg
"""

# Secondary earthed; bulk minus jumps between 0 and -Vdc with the polarity of the line.
JUMPS = """
Vdc p m {crest}
Vm m 0 PULSE(0 -{crest} {half} 1u 1u {half} {mains_period})
Vr r 0 0
"""

# Secondary and neutral earthed; line, bridge of four equal diodes with 300 pF each, stiff bulk capacitor.
BRIDGE = """
Vl l 0 SIN(0 {supply} {mains} 0 0 90)
Vr r 0 0
Rl l la 0.3
D1 la p DB
D2 0 p DB
D3 m la DB
D4 m 0 DB
C1 la p 300p
C2 p 0 300p
C3 m la 300p
C4 m 0 300p
Rb p pb 0.05
Cb pb m 60u IC={crest}
.model DB D(IS=1e-8 N=1.5 RS=0.1)
"""

# Secondary and neutral earthed, the plug turned so that bulk minus rides on the live conductor; one diode.
SINGLE = """
Vl m 0 SIN(0 {supply} {mains})
Vr r 0 0
Rl 0 la 0.3
D1 la p DB
Rb p pb 0.05
Cb pb m 60u IC={crest}
.model DB D(IS=1e-8 N=1.5 RS=0.1)
"""

# The same behind a doubler of half the mains: the middle of the bulk rides on the live conductor.
DOUBLER = """
Vl x 0 SIN(0 {half_supply} {mains})
Vr r 0 0
Rl 0 la 0.3
D1 la p DB
D2 m la DB
Rp p pb 0.05
Rm2 m mb 0.05
Cp pb x 120u IC={half_crest}
Cm x mb 120u IC={half_crest}
.model DB D(IS=1e-8 N=1.5 RS=0.1)
"""

CONTROL = """
.ic v(p)={crest} v(m)=0
.control
set noaskquit
tran {step} {stop} {start} {step} uic
let barrier = v(d)-v(r)
let bulk = v(p)-v(m)
meas tran found_rms RMS barrier from={start} to={stop}
meas tran found_high MAX barrier from={start} to={stop}
meas tran found_low MIN barrier from={start} to={stop}
meas tran found_bulk AVG bulk from={start} to={stop}
quit
.endc
.end
"""

REFERENCES = {"held": HELD, "jumps": JUMPS, "bridge": BRIDGE, "single": SINGLE, "doubler": DOUBLER}
RIDING = {"single": (on_a_pole, MAINS_CREST), "doubler": (middle_on_a_pole, MAINS_CREST / 2.0)}
MODES = {"continuous": 2e-3, "discontinuous": 5e-4}


def run(reference: str, magnetising: float, tmp_path) -> dict[str, float]:
    if shutil.which("ngspice") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("ngspice is not installed, and in CI these runs may not be skipped")
        pytest.skip("ngspice is not installed")
    start = 1 / MAINS
    values = {
        "leakage": LEAKAGE,
        "magnetising": magnetising,
        "drain": DRAIN,
        "clamp_ohm": CLAMP_OHM,
        "clamp_f": CLAMP_F,
        "clamp_v": 150.0,
        "period": 1 / FREQUENCY,
        "crest": MAINS_CREST,
        "supply": MAINS_CREST + 1.6,  # two diode drops and the resistor, so that the bulk sits at the crest
        "half_crest": MAINS_CREST / 2.0,
        "half_supply": MAINS_CREST / 2.0 + 1.2,
        "mains": MAINS,
        "mains_period": 1 / MAINS,
        "half": 0.5 / MAINS,
        "step": 1 / FREQUENCY / 120,
        "start": start,
        "stop": start + 1 / MAINS,
    }
    netlist = tmp_path / f"{reference}.cir"
    control = CONTROL.replace(".ic v(p)={crest} v(m)=0\n", "") if reference in RIDING else CONTROL
    text = "* working voltage" + STAGE + REFERENCES[reference] + control
    netlist.write_text(text.format(**values), encoding="utf-8")
    done = subprocess.run(["ngspice", "-b", str(netlist)], capture_output=True, text=True, timeout=120, check=False)
    found = dict(re.findall(r"^found_(\w+)\s*=\s*(\S+)", done.stdout, re.MULTILINE))
    assert set(found) == {"rms", "high", "low", "bulk"}, done.stdout[-2000:] + done.stderr[-2000:]
    return {name: float(value) for name, value in found.items()}


def stage(magnetising: float) -> Stage:
    reflected = TURNS * 12.45  # the netlist's diode at a few amperes
    transformer = Transformer(magnetising, LEAKAGE, reflected, TURNS, DRAIN)
    return stage_at_limit(MAINS_CREST, PEAK, FREQUENCY, transformer, ClampParts(CLAMP_OHM, CLAMP_F))


def computed(reference: str, point: Stage) -> WorkingVoltage:
    inputs = (
        MAINS_CREST,
        TURNS * 12.45,
        point.primary.duty,
        point.primary.secondary_duty,
        point.clamp.voltage + point.clamp.ripple / 2,
    )
    if reference in RIDING:
        riding, crest = RIDING[reference]
        return riding(*inputs, crest=crest)
    function = held_to_bulk_minus if reference == "held" else referred_to_mains
    return function(*inputs)


@pytest.mark.parametrize("mode", sorted(MODES))
@pytest.mark.parametrize("reference", sorted(REFERENCES))
def test_against_ngspice(reference, mode, tmp_path):
    """RMS within 2 % of the figure for that path of bulk minus, the peak within 2 %; both inside the stated bands."""
    point = stage(MODES[mode])
    assert point.primary.mode == mode
    voltage, spice = computed(reference, point), run(reference, MODES[mode], tmp_path)
    assert spice["bulk"] == pytest.approx(MAINS_CREST, rel=0.01)
    wanted = voltage.rms_low if reference == "bridge" else voltage.rms
    assert wanted == pytest.approx(spice["rms"], rel=0.02)
    assert voltage.peak == pytest.approx(max(spice["high"], -spice["low"]), rel=0.02)
    rms = "held_rms" if reference == "held" else "on_a_pole_rms" if reference in RIDING else "rms"
    # rms_low is here that of the plug the other way round
    low_name = rms if reference == "held" else "rms_low"
    lower = [] if reference in RIDING else [(voltage.rms_low, low_name, spice["rms"])]
    for value, name, true in ((voltage.rms, rms, spice["rms"]), *lower, (voltage.peak, "peak", spice["high"])):
        low, high = widened(value, working_voltage.ERROR[name])
        assert low <= true <= high, (name, voltage, true)


# 240 V, VR 100 V: 303 V continuous and 266 V discontinuous for an earthed secondary, 386 and 353 V held to bulk minus
# (own figures, to the volt); a published test report on such a winding measured 281 V RMS and 530 V peak, which lies
# between the two paths of bulk minus.
def test_known_figures():
    duty = 100 / (100 + MAINS_CREST)
    continuous = referred_to_mains(MAINS_CREST, 100.0, duty, 1 - duty, 190.0)
    assert continuous.rms == pytest.approx(303, abs=0.5)
    assert continuous.rms_low <= 281 <= continuous.rms
    assert continuous.peak == pytest.approx(530, abs=1)
    assert held_to_bulk_minus(MAINS_CREST, 100.0, duty, 1 - duty, 190.0).rms == pytest.approx(386, abs=0.5)
    discontinuous = referred_to_mains(MAINS_CREST, 100.0, 0.1, 0.3, 190.0)
    assert 260 < discontinuous.rms < 270
    # bulk plus reflected, taken for an RMS, is no figure at all; taken for a peak, it is on the unsafe side
    assert continuous.peak > MAINS_CREST + 100


def test_against_a_stepped_sum():
    """Both references by adding up squares over the switching period and the two halves, or the sine, of the line."""
    source = random.Random(3)
    for _ in range(100):
        d = draw({"bulk": (80, 400), "reflected": (40, 150)}, source)
        duty = source.uniform(0.02, 0.5)
        second = source.uniform(0.02, 1 - duty)
        levels = [(duty, 0.0), (second, d["bulk"] + d["reflected"]), (1 - duty - second, d["bulk"])]
        held = held_to_bulk_minus(d["bulk"], d["reflected"], duty, second, 200.0)
        assert held.rms**2 == pytest.approx(sum(share * v**2 for share, v in levels))
        earthed = referred_to_mains(d["bulk"], d["reflected"], duty, second, 200.0)
        jump = sum(0.5 * share * ((v + m) ** 2) for share, v in levels for m in (0.0, -d["bulk"]))
        assert earthed.rms**2 == pytest.approx(jump)
        # bulk minus at (line - Vdc) / 2, the line a sine of crest Vdc; its mean square is Vdc^2 / 2
        slide = sum(share * ((v - d["bulk"] / 2) ** 2 + d["bulk"] ** 2 / 8) for share, v in levels)
        assert earthed.rms_low**2 == pytest.approx(slide)
        assert earthed.rms_low < earthed.rms
        assert 1 - earthed.rms_low / earthed.rms < 0.1345


def test_riding_on_a_conductor_against_a_stepped_sum():
    """From nothing but which node is joined to which: every level of the drain against bulk minus, at every phase.

    Plug one way round the conductor the bulk rides on is earth, the other way it is a sine of the mains; a diode in the
    other leg makes bulk plus that conductor. The figure is the worst of all, and reached by one of them.
    """
    source = random.Random(5)
    phases = [2.0 * math.pi * (k + 0.5) / 360 for k in range(360)]
    for _ in range(60):
        crest, reflected = source.uniform(80.0, 380.0), source.uniform(40.0, 150.0)
        duty = 1.0 / (1.0 + crest / reflected * source.uniform(1.0, 3.0))  # what the winding takes it gives back
        for bulk, function in ((crest, on_a_pole), (2.0 * crest, middle_on_a_pole)):
            second = min(duty * bulk / reflected, 1.0 - duty)
            clamp = reflected * 1.6
            levels = [(duty, 0.0), (second, bulk + reflected), (1 - duty - second, bulk)]
            minus = [0.0, -bulk] if bulk == crest else [-crest]  # against the conductor
            found = function(bulk, reflected, duty, second, clamp, crest=crest)
            squares, peaks = [], []
            for live in (False, True):
                for below in minus:
                    nodes = [crest * math.sin(x) * live + below for x in phases]
                    squares.append(sum(share * sum((m + v) ** 2 for m in nodes) / 360 for share, v in levels))
                    peaks += [max(nodes) + bulk + clamp, -min(nodes)]
            assert found.rms == pytest.approx(max(squares) ** 0.5, rel=1e-6)
            assert found.peak == pytest.approx(max(peaks), rel=1e-3)
            bridge = referred_to_mains(bulk, reflected, duty, second, clamp)
            if function is on_a_pole:  # what was said of it before
                assert found.rms > bridge.rms * 1.2
                assert found.peak == pytest.approx(bridge.peak + crest)


def test_swing_and_ringing_count():
    quiet = held_to_bulk_minus(300.0, 100.0, 0.1, 0.3, 180.0)
    assert held_to_bulk_minus(300.0, 100.0, 0.1, 0.3, 180.0, secondary_swing=40.0).peak == quiet.peak + 40
    ringing = held_to_bulk_minus(300.0, 100.0, 0.1, 0.3, 180.0, idle_ringing=100.0)
    assert ringing.rms**2 - quiet.rms**2 == pytest.approx(0.6 * 100**2 / 2)
    assert ringing.rms / quiet.rms - 1 < 0.04


def test_signs_hold():
    ranges = {
        "bulk": (100.0, 400.0),
        "reflected": (40.0, 150.0),
        "duty": (0.02, 0.3),
        "secondary_duty": (0.02, 0.69),
        "clamp_peak": (150.0, 300.0),
        "secondary_swing": (0.0, 80.0),
    }
    for start, function in (("held", held_to_bulk_minus), ("referred", referred_to_mains)):
        for end in ("rms", "peak"):
            signs = working_voltage.SIGNS[f"{start}_{end}"]
            prove_signs(lambda f=function, e=end, **x: getattr(f(**x), e), ranges, signs)
    ranges |= {"crest": (100.0, 400.0)}
    for start, function in (("single_diode", on_a_pole), ("doubler", middle_on_a_pole)):
        for end in ("rms", "peak"):
            signs = working_voltage.SIGNS[f"{start}_{end}"]
            prove_signs(lambda f=function, e=end, **x: getattr(f(**x), e), ranges, signs)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"duty": 0.8}, "secondary_duty is 0.5: state a value from 0 to 0.2"),
        ({"clamp_peak": 50.0}, "clamp_peak is 50 V: state a finite value from 100 V up"),
        ({"bulk": float("nan")}, "bulk is nan"),
        ({"secondary_swing": -1.0}, "secondary_swing is -1 V"),
    ],
)
def test_refusals_give_the_range(change, text):
    good = {"bulk": 300.0, "reflected": 100.0, "duty": 0.2, "secondary_duty": 0.5, "clamp_peak": 180.0}
    for function in (held_to_bulk_minus, referred_to_mains):
        with pytest.raises(ValueError, match=text):
            function(**(good | change))


def test_a_missing_ngspice_is_a_failure_in_ci_and_a_skip_elsewhere(monkeypatch, tmp_path):
    monkeypatch.setattr(shutil, "which", lambda name: None)
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="may not be skipped"):
        run("held", 1e-3, tmp_path)
    monkeypatch.delenv("CI")
    with pytest.raises(pytest.skip.Exception, match="not installed"):
        run("held", 1e-3, tmp_path)
