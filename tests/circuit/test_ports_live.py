"""Ports against live ngspice: the converter ahead of one in its band, and what a shorted switch leaves at it.

Secondary bucks of 10 to 24 V into 3.3 to 12 V, 2 to 22 uH, 200 to 600 kHz, with copper; the upper end lies nowhere more
than half a per cent below the truth. A shorted switch, with copper, a load and a load switch that opens, lies nowhere
above the formula by a thousandth, and without copper within two per cent of it; so does the current of its choke until
then. Capacitors with series resistance end no higher than with what is added for it, and a choke that saturates above
what the formula says and below the crest. Two circuits each in an ordinary run, 30 by brute force.
"""

from __future__ import annotations

import random
import subprocess
import tempfile
from math import log, sqrt
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from brute_force import BRUTE_FORCE
from buck_spice import Stage, Unsteady, measured
from mains_bench import need_ngspice

from derate.circuit import buck, ports

WITHIN = 0.005
NAMES = ("peak", "inductor_rms", "switch_rms", "switch_average", "diode_rms", "diode_average", "capacitor_rms")


def drawn(seed: int) -> tuple[Stage, dict[str, Any]]:
    rng = random.Random(f"port {seed}")
    bus, output = rng.choice((12.0, 15.0, 20.0, 24.0)), rng.choice((3.3, 5.0, 9.0))
    current, frequency = rng.uniform(0.5, 3.0), rng.uniform(2e5, 6e5)
    drop = rng.uniform(0.05, 0.6)  # a second switch, a Schottky diode
    swing = rng.uniform(0.25, 0.6) * current
    inductance = (bus - output) * output / bus / (swing * frequency)
    of: dict[str, Any] = {
        "bulk": bus,
        "output": output,
        "drop": drop,
        "on_drop": 0.0,
        "inductance": inductance,
        "current": current,
    }
    meant = buck.fixed(frequency=frequency, **of)
    copper = rng.uniform(0.0, 0.01) * output / current
    return (
        Stage(
            "fixed frequency",
            False,
            bus,
            output,
            drop,
            inductance,
            copper,
            0.005,
            2e-10,
            frequency,
            meant.peak,
            meant.duty,
        ),
        of,
    )


@pytest.mark.parametrize("seed", range(30 if BRUTE_FORCE else 2))
def test_a_converter_ahead_of_a_port(seed: int) -> None:
    need_ngspice()
    stage, of = drawn(seed)
    try:
        seen = measured(stage)
    except Unsteady as trouble:
        pytest.skip(str(trouble))
    copper, on = stage.copper * seen.current, stage.on_resistance * seen.current
    # the diode of the circuit has a junction and a resistance beside its drop: beside a bus of 12 V they are seen
    drop = stage.drop + copper + 0.1 * 0.02586 * log(seen.current / 1e-12) + 1e-3 * seen.current
    given = {**of, "current": seen.current, "drop": drop, "on_drop": copper + on}
    found = buck.fixed(frequency=stage.frequency, **given)
    for name in NAMES:
        low, high = buck.BANDS[name]
        told, true = getattr(found, name), getattr(seen, name)
        assert true <= told * (1.0 + high) * (1.0 + WITHIN), (name, true, told)
        assert true >= told * (1.0 + low) * (1.0 - WITHIN), (name, true, told)
    # what capacitors ahead of it carry: the pulses of its switch without their mean
    told = buck.drawn_ripple(frequency=stage.frequency, **given)
    true = sqrt(seen.switch_rms**2 - seen.switch_average**2)
    low, high = buck.DRAWN.errors["drawn"]
    assert told * (1.0 + low) * (1.0 - WITHIN) <= true <= told * (1.0 + high) * (1.0 + WITHIN), ("drawn", true, told)


_DECK = """* a switch that has shorted: the bus on the port through the choke
Vbus in 0 {bus}
Rsw in a {copper}
{choke}
C1 s x {store} IC={before}
Rx x 0 {resistance}
Bsw s p I = v(s,p)/{on}*(1-v(gone))
C2 p 0 {outer} IC={before}
{load}
Bpass pass 0 V = 0.5+0.5*tanh((v(p)-{stop})*2000)
Ggot 0 got pass 0 1
Cgot got 0 1n IC=0
Rgot got 0 1e12
Bgone gone 0 V = {acts}*(0.5+0.5*tanh((v(got)*1n-{delay})*{steep}))
.options reltol=1e-5 abstol=1e-9 vntol=1e-6 method=gear
.control
set noaskquit
tran {step} {stop_at} 0 {step} uic
wrdata raw.txt v(p) v(s) v(current) v(gone)
quit
.endc
.end
"""


_LINEAR = """L1 a b {inductance} IC={current}
Vsense b s 0
Hcurrent current 0 Vsense 1"""
# A flux of its own, whose slope over the current falls to a twentieth where the core is full.
_SATURATES = """Bflux 0 flux I = v(a,s)
Cflux flux 0 1 IC={flux}
Rflux flux 0 1e15
Bcurrent current 0 V = v(flux)/{inductance} + 19/{inductance}*max(0, v(flux)-{full})
Bchoke a s I = v(current)"""


class Seen(NamedTuple):
    """Greatest voltage of port and store [V], greatest current of the choke until the load switch is open [A]."""

    port: float
    store: float
    choke: float


def crest(
    of: dict[str, float],
    delay: float,
    stop: float,
    copper: float,
    load: float,
    resistance: float = 0.0,
    saturates: float = 0.0,
) -> Seen:
    """One circuit in ngspice; load [A] drawn from the port, a stop of 0 for none; resistance of the store [ohm];
    current at which the choke saturates [A], 0 for never."""
    current = of["current"] + load
    choke = (_SATURATES if saturates else _LINEAR).format(
        inductance=of["inductance"], current=current, flux=of["inductance"] * current, full=of["inductance"] * saturates
    )
    store, outer = 0.96 * of["capacitance"], 0.04 * of["capacitance"]
    length = sqrt(of["inductance"] * of["capacitance"])
    text = _DECK.format(
        bus=of["bus"],
        copper=max(copper, 1e-6),
        choke=choke,
        resistance=max(resistance, 1e-6),
        store=store,
        outer=outer,
        before=of["before"],
        on=1e-3,
        load=f"Iload p 0 {load}" if load else "",
        stop=stop or 1e3,
        acts=1 if stop else 0,
        delay=delay,
        steep=100.0 / max(delay, 1e-9),
        step=length / 400.0,
        stop_at=5.0 * length,
    )
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "deck.cir").write_text(text)
        subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, check=True, capture_output=True, timeout=120)
        table = np.loadtxt(Path(folder) / "raw.txt")
    until = table[:, 7] < 0.5 if stop else slice(None)
    return Seen(float(table[:, 1].max()), float(table[:, 3].max()), float(table[until, 5].max()))


@pytest.mark.parametrize("seed", range(30 if BRUTE_FORCE else 2))
def test_a_shorted_switch(seed: int) -> None:
    need_ngspice()
    rng = random.Random(f"shorted {seed}")
    before = rng.choice((5.0, 9.0))
    of = {
        "bus": rng.choice((12.0, 20.0, 24.0)),
        "before": before,
        "inductance": 10 ** rng.uniform(-5.5, -4.6),
        "capacitance": 10 ** rng.uniform(-4.3, -3.2),
        "current": rng.uniform(0.0, 2.0),
    }
    length = sqrt(of["inductance"] * of["capacitance"])
    kick = ports.kick(current=of["current"], inductance=of["inductance"], capacitance=of["capacitance"])
    free = ports.unheld(bus=of["bus"], before=before, kick=kick)
    assert crest(of, 1e-6, 0.0, 0.0, 0.0).port == pytest.approx(free, rel=0.01)
    stop, delay = before * rng.uniform(1.05, 1.2), length * 10 ** rng.uniform(-2.0, -0.5)
    given = {name: of[name] for name in ("bus", "before", "inductance", "capacitance")}
    held = ports.opened(stop=stop, delay=delay, kick=kick, **given)
    seen = crest(of, delay, stop, 0.0, 0.0)
    assert seen.port == pytest.approx(held, rel=0.02)
    amperes = ports.choke_current(stop=stop, delay=delay, kick=kick, load=0.0, **given)
    assert seen.choke == pytest.approx(amperes, rel=0.02)
    copper, load = rng.uniform(0.02, 0.2), rng.uniform(0.1, 1.0)
    lossy = crest(of, delay, stop, copper, load)
    assert before < lossy.port <= 1.001 * max(held, seen.port)
    assert lossy.choke <= 1.001 * (load + max(amperes, seen.choke))
    resistance = rng.uniform(0.01, 0.1)
    stands = ports.stands_on(
        bus=of["bus"], before=before, delay=delay, inductance=of["inductance"], resistance=resistance
    )
    resistive = crest(of, delay, stop, 0.0, 0.0, resistance)
    assert lossy.port < resistive.port <= 1.001 * max(held, seen.port) + stands
    # a choke that saturates on the way: no longer where the formula says, and never above the crest of energy alone
    saturates = 0.5 * amperes
    early = crest(of, delay, stop, 0.0, 0.0, saturates=saturates)
    assert 1.005 * held < early.port <= 1.005 * free
    assert crest(of, delay, 0.0, 0.0, 0.0, saturates=max(saturates, of["current"])).port <= 1.005 * free
