"""What a port rises to once a part has failed, over what it advertises at that moment, and what holds it.

The worst moment is mostly the lowest voltage on offer: what is plugged in has agreed to 5 V, and gets the bus. Only
what opens the port counts: a stop of the stage leaves all that its capacitors hold, and a clamp is too hot within
milliseconds. Of a port whose stop does not follow what is advertised the stop lies above the bus, and never acts.

A port that opens ends where it is said to as long as its choke does not saturate: behind a switch that has shorted
nothing limits the current, and a choke that is a wire charges the port as fast as it likes. Such a port ends between
its stop and the crest, which is no pass. With the feedback open the controller still limits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf

from derate.circuit import ports as formulas
from derate.ledger.entry import SUPPLY, Entry, OpenFact
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs, one_word, part, summed
from derate.stress.parts.capacitors import resistance_at, stated_resistance
from derate.stress.parts.windings import STANDING, assumed
from derate.stress.ports.asked import Asked, Profile, greatest, least_of, most_of, worst
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value, written

SOURCE = "own derivation, a choke and a capacitor without loss at a stiff bus; held to ngspice 39"
KICK = Model.of("kick of the choke", formulas.KICK, "conservation of energy", "current × √(inductance / capacitance)")
UNHELD = Model.of(
    "crest of a port that is joined to its bus through a choke",
    formulas.UNHELD,
    SOURCE,
    "bus + √((bus − before)² + kick²)",
)
OPENED = Model.of(
    "port whose load switch opens a delay after its stop",
    formulas.OPENED,
    SOURCE,
    "bus − A cos(arccos((bus − stop) / A) + delay / √(L C))",
)
STANDS_ON = Model.of(
    "what the series resistance of the capacitors adds within the delay",
    formulas.STANDS_ON,
    "own derivation: the current rises no faster than the bus drives it",
    "resistance × (bus − before) × delay / inductance",
)
CHOKE = Model.of(
    "current of the choke until the load switch is open",
    formulas.CHOKE_CURRENT,
    SOURCE,
    "load + A √(C / L) sin(arccos((bus − stop) / A) + delay / √(L C)), of 90 degrees at the most",
)
_CERAMIC = Value.between(0.0, 0.02)  # series resistance of ceramic and film [ohm]: common practice, no source
_FIXED = ("ceramic capacitor", "film capacitor", "X capacitor", "Y capacitor")
_AT = 100e3  # frequency of the figure of a capacitor nearest to a rise within a microsecond [Hz]
_CLAMP = 0.9  # of what a clamp is marked, where it begins, by kind and heat: common practice, no source
# What a choke keeps of its inductance up to the current it is marked with as its saturation: makers mark where it has
# fallen by 10 to 30 %, and at 25 degC. Ferrite saturates a fifth lower at 100 degC. Common practice, no source.
_KEEPS, _HOT = 0.7, 0.8
_OFFERED = 0.05  # by how much a converter may stand off what its port advertises: common practice, no source
HELD = 1.1  # of what is advertised: the limit of the rules on a port
_BLOWS = 2.0  # current over rating at which a fuse opens within seconds: common practice, no source


def solve_overvoltage(context: Context, one: Asked, others: Sequence[Asked]) -> None:
    """Every fault of one port, and what another port on the same bus does to it."""
    _margin(context, one)
    _clamp_margin(context, one)
    if one.port.shape == "buck":
        crest = _crest(context, one)
        for name in one.port.stores:
            _bears(context, name, "voltage_switch_shorted", crest)
        for name in one.port.load_switches:
            _bears(context, name, "voltage_peak", crest)
        _fault(context, one, "overvoltage_switch_shorted", lambda profile: _shorted(context, one, profile))
        _most_carried(context, one)
        _fault(context, one, "overvoltage_feedback_open", lambda profile: _feedback(context, one, profile))
    elif one.port.straight:
        for name in one.port.load_switches:
            _bears(context, name, "voltage_peak", (value_of(one.bus), one.bus.note, (one.bus,)))
        _another(context, one, others)


# ---- the fault at each moment ----------------------------------------------------------------------------------------

Found = tuple[Value | None, str, tuple[Entry, ...]]  # voltage, in words by what, rows it rests on


def _fault(context: Context, one: Asked, quantity: QuantityName, at: Callable[[Profile], Found]) -> None:
    """The worst over all that the port advertises, as a ratio to that."""
    ledger = context.ledger
    if not one.profiles:
        ledger.hole(one.subject, quantity, one.missing, inputs=one.numbers)
        return
    found = [(profile, *at(profile)) for profile in one.profiles]
    rows = [row for _, _, _, used in found for row in used]
    known = [(profile, value, why) for profile, value, why, _ in found if value is not None]
    ratios = [value.scaled(1.0 / profile.voltage) for profile, value, _ in known]
    open_one = next(((why, used) for _, value, why, used in found if value is None), None)
    if open_one is not None and max((ratio.low for ratio in ratios), default=0.0) <= HELD:
        why, used = open_one  # nothing but the whole of what is advertised is a pass; one moment is a fail
        missing = next((row.missing for row in used if row.value is None), ())
        ledger.hole(one.subject, quantity, missing, inputs=tuple(row.number for row in rows), note=why)
        return
    ratio = greatest(ratios)
    if open_one is not None:
        ratio = Value(ratio.low, ratio.near, inf, inf)
    at_worst = max(range(len(ratios)), key=lambda index: (ratios[index].far, ratios[index].high, ratios[index].low))
    profile, value, why = known[at_worst]
    high = f"up to {written(value.far)} V" if value.far < inf else f"{written(value.near)} V and more"
    ledger.write(
        one.subject,
        quantity,
        ratio,
        known_by="computed",
        inputs=tuple(dict.fromkeys((*(row.number for row in rows), *one.numbers))),
        rests_on=frozenset().union(one.rests, *(row.rests_on for row in rows)),
        formula="worst over all that is advertised",
        source=SOURCE,
        note=f"{high} while {written(profile.voltage)} V is advertised: {why}",
    )


def _shorted(context: Context, one: Asked, profile: Profile) -> Found:
    """The switch has shorted while a line of what is advertised was in force."""
    kicks = _kick(context, one, _swing(context, one))
    held = _held(context, one, profile, kicks, failed=one.port.chopper)
    if held is not None:
        return held
    return _free(context, one, profile, kicks)


def _feedback(context: Context, one: Asked, profile: Profile) -> Found:
    """The feedback has opened: the controller gives all it can until the port is at its bus.

    It rises no faster than behind a switch that has shorted; what the choke carries is the limit.
    """
    kicks = _kick(context, one, context.need(part(one.port.inductor), "current_at_limit"))
    held = _held(context, one, profile, kicks)
    if held is not None:
        return held
    value, why, rows = _free(context, one, profile, kicks)
    stated = context.fact(part(one.port.by or one.port.chopper), "part.greatest_duty")
    if value is None or not isinstance(one.bus.value, Value):
        return value, why, rows
    # a converter that never stops switching ends at its duty, one that skips goes all the way
    duty = stated.value.low if stated is not None and isinstance(stated.value, Value) else 0.0
    least = max(profile.voltage, one.bus.value.low * duty)
    rows = (*rows, stated) if stated is not None else rows
    return Value(min(least, value.low), min(least, value.near), value.far, value.high), why, rows


def _free(context: Context, one: Asked, profile: Profile, kicks: Entry) -> Found:
    """Nothing opens: the port settles at its bus, and rings past it by what nobody damped."""
    bus = one.bus
    if not isinstance(bus.value, Value):
        return None, bus.note, (bus,)
    inputs: Inputs = {"bus": bus, "before": profile.voltage, "kick": kicks}
    crest = context.ledger.work_out(UNHELD, inputs, [(one.subject, "voltage_peak", "voltage")], case=STANDING)[0]
    low, near = bus.value.low, bus.value.near
    if isinstance(crest.value, Value):
        value = Value(low, near, max(near, crest.value.far), max(near, crest.value.high))
        return value, "nothing opens, and the port gets its bus", (bus, crest)
    return Value.floor(low), "nothing opens, and the port gets its bus", (bus,)


def _held(context: Context, one: Asked, profile: Profile, kicks: Entry, *, failed: str = "") -> Found | None:
    """What a load switch that opens leaves at the port, or a clamp behind a fuse may; None where neither does."""
    opened = _opened(context, one, profile, kicks, failed)
    clamped = _clamped(context, one, profile, kicks)
    found = [each for each in (opened, clamped) if each]
    if not found:
        return None
    return min(found, key=lambda each: each[0].high if each[0] is not None else inf)


def _opened(context: Context, one: Asked, profile: Profile, kicks: Entry, failed: str) -> Found | None:
    """The load switch opens a delay after the stop; nothing where the stop lies above all that the port can reach.

    failed: the switch that has shorted; it senses nothing any more, and nothing limits what the choke carries. '' where
    the feedback is lost: the controller, or a guard that may be it, sees the port by a path of its own alone
    """
    port, ledger = one.port, context.ledger
    if not port.opens or (failed and port.guard == failed):
        return None
    if not failed and port.guard:
        apart = context.fact(one.subject, "port.sensed_apart")
        word = one_word(apart)
        if word == "no":  # what it looks at is what was lost
            return None
        if word is None and port.by in ("", port.guard):
            lacking = OpenFact(one.subject, "port.sensed_apart")
            row = ledger.hole(one.subject, "port.sensed_apart", (lacking,), case=STANDING)
            return None, f"whether {port.guard} senses the port by a path of its own is not known", (row,)
    if not port.guard:
        lacking = OpenFact(one.subject, "circuit.ports", "with the part that senses it, as by of its overvoltage")
        row = ledger.hole(one.subject, "port.overvoltage_stop", (lacking,), case=STANDING)
        return None, f"what senses the port and opens {port.opens} is not known", (row,)
    blocks = context.need(one.subject, "port.blocks")
    word = one_word(blocks)
    if word == "no":  # its body diode conducts on
        return None
    if word is None:
        return None, f"whether {port.opens} blocks once it is open is not known", (blocks,)
    stop = context.need(one.subject, "port.overvoltage_stop")
    delay = context.need(one.subject, "port.overvoltage_delay")
    at = stop_at(stop, profile.voltage)
    if at is None:
        lacking = OpenFact(one.subject, "port.overvoltage_stop", f"at {written(profile.voltage)} V")
        if not stop.missing:
            stop = ledger.hole(one.subject, "port.overvoltage_stop", (lacking,), case=STANDING)
        return None, f"at what {port.opens} opens is not known", (stop,)
    row = ledger.write(
        one.subject,
        "port.overvoltage_stop",
        most_of(at, Value.exact(profile.voltage)),
        case=STANDING,
        known_by=stop.known_by,
        inputs=(stop.number,),
        rests_on=stop.rests_on,
        formula=f"while {written(profile.voltage)} V is advertised",
        source="data sheet",
    )
    inductance = _at_current(context, one)
    inputs: Inputs = {
        "bus": one.bus,
        "before": profile.voltage,
        "stop": row,
        "delay": delay,
        "inductance": inductance,
        "capacitance": _capacitance(context, one),
        "kick": kicks,
    }
    end = ledger.work_out(OPENED, inputs, [(one.subject, "voltage_peak", "voltage")], case=STANDING)[0]
    if not isinstance(end.value, Value) or not isinstance(one.bus.value, Value) or not isinstance(row.value, Value):
        return None, end.note, (end, stop)
    adds = _stands_on(context, one, profile, delay, inductance)
    if not isinstance(adds.value, Value):
        return None, adds.note, (adds, end, stop)
    # it has passed the stop, or what it rises to without
    least = least_of(row.value, one.bus.value)
    far, high = end.value.far + adds.value.far, end.value.high + adds.value.high
    used: tuple[Entry, ...] = (end, adds, stop, blocks)
    why = f"{port.opens} opens at {written(row.value.high)} V"
    if row.value.high >= one.bus.value.low:
        why += ", which the bus need not reach"
    limits = _saturates(context, one, profile, inputs) if failed else None
    if limits is not None:
        told, also, open_facts = limits
        crest, _, crests = _free(context, one, profile, kicks)
        if crest is None:
            return None, told, (*also, *crests)
        far, high = max(far, crest.far), max(high, crest.high)
        most = ledger.write(
            one.subject,
            "voltage_peak",
            Value(least.low, least.near, max(least.near, far), max(least.near, high)),
            case=STANDING,
            known_by="computed",
            inputs=tuple(row.number for row in (*used, *also, *crests)),
            rests_on=open_facts.union(*(row.rests_on for row in (*used, *also, *crests))),
            formula="from the stop to the crest, with a choke that saturates",
            source=SOURCE,
        )
        why, used = f"{why}; {told}", (*used, *also, *crests, most)
    return Value(least.low, least.near, max(least.near, far), max(least.near, high)), why, used


def _saturates(
    context: Context, one: Asked, profile: Profile, inputs: Inputs
) -> tuple[str, tuple[Entry, ...], frozenset[OpenFact]] | None:
    """Why the choke need not hold its inductance until the load switch is open, its rows, and what is lacking; None
    where it does."""
    name = one.port.inductor
    wanted = [(part(name), _CARRIED, "current")]
    carried = context.ledger.work_out(CHOKE, {**inputs, "load": profile.current}, wanted, case=STANDING)[0]
    if not isinstance(carried.value, Value):
        return f"what {name} carries until then is not known", (carried,), frozenset(carried.missing)
    rated = context.fact(part(name), "rated.saturation_current")
    told = f"{name} carries up to {written(carried.value.high)} A until then"
    if rated is None or not isinstance(rated.value, Value):
        lacking = OpenFact(part(name), "rated.saturation_current")
        return f"{told}, and where it saturates is not known", (carried,), frozenset((lacking,))
    if carried.value.high > _HOT * rated.value.low:
        told += f", and saturates at {written(rated.value.low)} A, a fifth lower when hot: the port then rises faster"
        return told, (carried, rated), frozenset()
    return None


_CARRIED: QuantityName = "current_peak"


def _most_carried(context: Context, one: Asked) -> None:
    """The greatest current of the choke over all offers: one row stands for all of them."""
    subject = part(one.port.inductor)
    rows = [row for row in context.ledger.entries if row.subject == subject and row.formula == CHOKE.name]
    values = [row.value for row in rows if isinstance(row.value, Value)]
    if len(rows) < 2 or len(values) < len(rows):
        return
    context.ledger.write(
        subject,
        _CARRIED,
        greatest(values),
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula=CHOKE.name,
        source=SOURCE,
    )


def _stands_on(
    context: Context, one: Asked, profile: Profile, delay: Entry | Value | float, inductance: Entry | Value | float
) -> Entry:
    """What the series resistance of the capacitors adds until the load switch is open."""
    given: Inputs = {
        "bus": one.bus,
        "before": profile.voltage,
        "delay": delay,
        "inductance": inductance,
        "resistance": _resistance(context, one),
    }
    return context.ledger.work_out(STANDS_ON, given, [(one.subject, "voltage", "voltage")], case=STANDING)[0]


def _resistance(context: Context, one: Asked) -> Entry | Value:
    """Of all capacitors across the port no more than the greatest; ceramic and film have next to none."""
    rows = []
    for name in one.port.capacitors:
        if stated_resistance(context, name) is not None:
            rows.append(resistance_at(context, name, _AT))
        elif not context.structure.must_be(name, *_FIXED):
            rows.append(
                assumed(
                    context, "port_capacitor_resistance", part(name), "series_resistance", "rated.series_resistance"
                )
            )
    return worst(rows) if rows else _CERAMIC


def stop_at(stop: Entry, voltage: float) -> Value | None:
    """The stop while a voltage is advertised [V]; None where nobody stated it there."""
    if isinstance(stop.value, Value):
        return stop.value
    if not isinstance(stop.value, Curve):
        return None
    return next((value for volts, value in stop.value.points if volts == voltage), None)


def _clamped(context: Context, one: Asked, profile: Profile, kicks: Entry) -> Found | None:
    """A clamp across the port may hold it where a fuse ahead of it opens at what the stage gives, and need not.

    It takes what the capacitors of the bus hold and all that the stage gives, for the seconds that the fuse needs: it
    may have opened before. Nothing that is stated bounds that, so the port ends between clamp and crest.
    """
    port = one.port
    if not port.clamps or not port.fuses:
        return None
    gives = context.value(one.subject, "allowed.bus_current")
    for fuse in port.fuses:
        rated = context.fact(part(fuse), "rated.current")
        blows = rated is not None and isinstance(rated.value, Value) and gives is not None
        if not blows or rated is None or not isinstance(rated.value, Value) or gives is None:
            continue
        if _BLOWS * rated.value.high > gives.low:
            continue
        for name in port.clamps:
            marked = context.need(part(name), "part.voltage")
            if not isinstance(marked.value, Value):
                return None, f"at what {name} clamps is not known", (marked,)
            crest, why, rows = _free(context, one, profile, kicks)
            if crest is None:
                return None, why, rows
            why = f"{name} clamps it until {fuse} opens, where it stands that; else the port gets its bus"
            least = max(profile.voltage, min(_CLAMP * marked.value.low, crest.low))
            near = max(profile.voltage, min(_CLAMP * marked.value.near, crest.near))
            return Value(least, near, max(near, crest.far), max(near, crest.high)), why, (marked, rated, *rows)
    return None


# ---- what rings ------------------------------------------------------------------------------------------------------


def _capacitance(context: Context, one: Asked) -> Entry | Value:
    """All that lies across the port; a hole where one is not known, or there is none."""
    names = one.port.capacitors
    rows = [context.need(part(name), "part.capacitance") for name in names]
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    if hole is not None:
        return hole
    if not rows:
        lacking = OpenFact(one.subject, "its capacitor on the path")
        return context.ledger.hole(one.subject, "part.capacitance", (lacking,), case=STANDING)
    return context.ledger.write(
        one.subject,
        "part.capacitance",
        summed([row.value for row in rows if isinstance(row.value, Value)]),
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="all that lies across the port",
        source="the circuit",
    )


def _at_current(context: Context, one: Asked) -> Entry:
    """Inductance of the choke at any current up to where it saturates: it falls on the way there."""
    stated = context.need(part(one.port.inductor), "part.inductance")
    if not isinstance(stated.value, Value):
        return stated
    low, near, far, high = stated.value.numbers()
    return context.ledger.write(
        one.subject,
        "part.inductance",
        Value(_KEEPS * low, _KEEPS * near, far, high),
        case=STANDING,
        known_by="computed",
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        formula="down to what is left of it at its saturation current",
        source="a tenth to three tenths are gone there: common practice, no source",
    )


def _swing(context: Context, one: Asked) -> Entry:
    """What the choke carries beyond the load as the switch shorts: from nothing to all of its swing."""
    row = context.need(part(one.port.inductor), "current_swing")
    if not isinstance(row.value, Value):
        return row
    return context.ledger.write(
        one.subject,
        "current_swing",
        Value(0.0, 0.0, row.value.far, row.value.high),
        case=STANDING,
        known_by="computed",
        inputs=(row.number,),
        rests_on=row.rests_on,
        formula="from nothing to the whole swing",
        source="the circuit",
    )


def _kick(context: Context, one: Asked, current: Entry) -> Entry:
    inputs: Inputs = {
        "current": current,
        "inductance": context.need(part(one.port.inductor), "part.inductance"),
        "capacitance": _capacitance(context, one),
    }
    return context.ledger.work_out(KICK, inputs, [(one.subject, "voltage", "kick")], case=STANDING)[0]


def _crest(context: Context, one: Asked) -> Found:
    """What the converter's own capacitors and the load switch see, whatever opens behind them."""
    if not one.profiles:
        hole = context.ledger.hole(one.subject, "voltage_peak", one.missing, case=STANDING)
        return None, "", (hole,)
    least = one.profiles[0]
    return _free(context, one, least, _kick(context, one, _swing(context, one)))


def value_of(row: Entry) -> Value | None:
    """The figure of a row, None of a hole."""
    return row.value if isinstance(row.value, Value) else None


def _bears(context: Context, name: str, quantity: QuantityName, crest: Found) -> None:
    value, why, rows = crest
    if value is None:
        missing = tuple(dict.fromkeys(fact for row in rows for fact in row.missing))
        context.ledger.hole(part(name), quantity, missing, note=why)
        return
    context.ledger.write(
        part(name),
        quantity,
        value,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="bus, and what rings above it",
        source=SOURCE,
        note="it stands ahead of whatever opens",
    )


# ---- ports that are joined to their bus ------------------------------------------------------------------------------


def _another(context: Context, one: Asked, others: Sequence[Asked]) -> None:
    """What another port puts on one that is joined to the same bus, and what a load switch keeps off.

    A stage made for more than any port on its bus advertises may stand there by itself: how high it does is not known.
    With a part that shares the power out and a load switch the two are kept apart while both work; then it is the short
    of the load switch that puts one voltage on the other.
    """
    straight = [other for other in others if other.port.may_be_straight]
    sure = max((other.most for other in straight if other.port.straight and other.profiles), default=one.least)
    rows = [other.advertised for other in (one, *straight) if other.advertised is not None]
    lacking = tuple(fact for other in (one, *straight) for fact in other.missing)
    quantities: tuple[QuantityName, ...] = ("overvoltage_by_another", "overvoltage_load_switch_shorted")
    if lacking:
        for quantity in quantities:
            context.ledger.hole(one.subject, quantity, lacking, inputs=tuple(row.number for row in rows))
        return
    most = max((other.most for other in straight), default=one.least)
    made = context.need(one.source, "stage_voltage")
    rows.append(made)
    ratio, proven = max(1.0, most / one.least), max(1.0, sure / one.least)
    stands = made.value.high if isinstance(made.value, Value) else 0.0
    itself = stands / one.least if stands > HELD * max(most, one.most) else 1.0
    by = max(straight, key=lambda other: other.most).port.name if straight else ""
    told = f"{written(most)} V of port {by} while {written(one.least)} V is advertised" if ratio > 1.0 else ""
    apart = bool(one.port.load_switches) and context.word(SUPPLY, "sharing.held") == "yes"
    if apart and ratio > 1.0:  # what conducts on through its body diode keeps nothing apart
        blocks = context.need(one.subject, "port.blocks")
        if one_word(blocks) is None:
            context.ledger.hole(one.subject, quantities[0], blocks.missing, inputs=(blocks.number,))
            quantities = quantities[1:]
        apart = one_word(blocks) == "yes"
        rows.append(blocks)
    if itself > 1.0:
        also = f"the stage is made for {written(stands)} V, which no port on its bus asks for"
        told = f"{told}; {also}" if told else also
    values: dict[QuantityName, tuple[float, float]] = {
        "overvoltage_by_another": (1.0, 1.0) if apart else (proven, ratio),
        "overvoltage_load_switch_shorted": (proven, ratio) if one.port.load_switches else (1.0, 1.0),
    }
    for quantity in quantities:
        least, far = values[quantity]
        if not isinstance(made.value, Value) and far <= HELD:
            context.ledger.hole(one.subject, quantity, made.missing, inputs=tuple(row.number for row in rows))
            continue
        value = Value.between(least, max(far, itself))
        context.ledger.write(
            one.subject,
            quantity,
            value,
            known_by="computed",
            inputs=tuple(row.number for row in rows),
            rests_on=frozenset().union(*(row.rests_on for row in rows)),
            formula="greatest voltage that another port asks of the bus, over the least that this one advertises",
            source="the circuit",
            note=told if value.high > 1.0 else "",
        )


def _clamp_margin(context: Context, one: Asked) -> None:
    """How far a clamp lies above all that is advertised: below, it conducts for as long as the port is used.

    A port has what is advertised no better than its converter, or the stage on its bus, holds it.
    """
    if not one.port.clamps:
        return
    rows = [context.need(part(name), "part.voltage") for name in one.port.clamps]
    used = [*rows, one.bus] if one.port.straight else rows
    missing = (*one.missing, *(fact for row in used for fact in row.missing))
    values = [row.value for row in rows if isinstance(row.value, Value)]
    numbers = (*(row.number for row in used), *one.numbers)
    most = _highest(one) if one.profiles else None
    if most is None or len(values) < len(rows):
        context.ledger.hole(one.subject, "clamp_margin", missing, inputs=numbers)
        return
    least = values[0]
    for each in values[1:]:
        least = least_of(least, each)
    low, near, far, high = (max(0.0, end) for end in least.numbers())  # one that is marked below nothing holds nothing
    context.ledger.write(
        one.subject,
        "clamp_margin",
        Value(
            _CLAMP * low / most.high,
            _CLAMP * near / most.far,
            far / most.near if most.near > 0.0 else inf,
            high / most.low if most.low > 0.0 else inf,
        ),
        known_by="computed",
        inputs=numbers,
        rests_on=one.rests.union(*(row.rests_on for row in used)),
        formula="what the clamp is marked, and a tenth below, over the most that is advertised",
        source="definition",
    )


def _highest(one: Asked) -> Value | None:
    """The most that a port advertises, as its converter or the bus that it is joined to has it; None where nobody
    knows."""
    if not one.port.straight:
        return Value.between((1.0 - _OFFERED) * one.most, (1.0 + _OFFERED) * one.most)
    return next((bus.value for bus in one.volts if bus.asked == one.most), None)


def _margin(context: Context, one: Asked) -> None:
    """How far the stop lies above what is advertised: below, the port is cut off in use."""
    if not one.port.opens:
        return
    stop = context.need(one.subject, "port.overvoltage_stop")
    if not one.profiles or not isinstance(stop.value, Value | Curve):
        missing = (*one.missing, *stop.missing)
        context.ledger.hole(one.subject, "stop_margin", missing, inputs=(stop.number, *one.numbers))
        return
    found = [(stop_at(stop, profile.voltage), profile.voltage) for profile in one.profiles]
    known = [value.scaled(1.0 / volts) for value, volts in found if value is not None]
    if len(known) < len(found):
        volts = next(volts for value, volts in found if value is None)
        lacking = OpenFact(one.subject, "port.overvoltage_stop", f"at {written(volts)} V")
        context.ledger.hole(one.subject, "stop_margin", (lacking,), inputs=(stop.number, *one.numbers))
        return
    value = known[0]
    for each in known[1:]:
        value = least_of(value, each)
    context.ledger.write(
        one.subject,
        "stop_margin",
        value,
        known_by="computed",
        inputs=(stop.number, *one.numbers),
        rests_on=stop.rests_on | one.rests,
        formula="least stop over what is advertised then",
        source="definition",
    )
