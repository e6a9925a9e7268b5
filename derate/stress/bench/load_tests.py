"""The plate against the bench: load tests, ports, an overload held to a steady temperature."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import inf, isclose, nextafter

from derate.circuit.thermal import ERROR
from derate.design.readings import Reading, Test
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.stress.bench.evidence import At, condition_of, subject_of, unsettled, weakest, with_uncertainty
from derate.stress.context import Context
from derate.stress.parts.windings import CLASSES, HOT_SPOT
from derate.terms.quantities import FULL_LOAD, NO_LOAD, RUNNING, each, named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value
from derate.terms.vocabulary import said

# What load tests tell of one output, and of several loaded at once: current drawn, voltage held, sum of the ports.


REGULATION = 0.1
SOURCE = "readings and load tests of this sample"
Taken = tuple[At, Reading, Value, frozenset[OpenFact]]


def full_current(context: Context, subject: Subject) -> float | None:
    value = context.value(subject, "plate.current")
    return value.high if value is not None else None


def current_drawn(at: At, subject: Subject, full: float | None) -> float | None:
    """The current an output delivered at a condition [A]."""
    if at.currents:
        return next((one for name, one in at.currents if name in ("", subject.names[0])), 0.0)
    return full if at.load == FULL_LOAD else 0.0 if at.load == NO_LOAD else None


def is_full(context: Context, at: At) -> bool:
    """Whether every output delivered its marked current, said as a word or as currents."""
    if at.load == FULL_LOAD:
        return True
    outputs = context.ledger.subjects("output")
    full = [full_current(context, one) for one in outputs]
    pairs = [(current_drawn(at, one, most), most) for one, most in zip(outputs, full, strict=True)]
    return bool(pairs) and all(now is not None and most is not None and now >= 0.99 * most for now, most in pairs)


def write_taken(
    context: Context, subject: Subject, quantity: QuantityName, value: Value, used: Iterable[Taken], note: str = ""
) -> Entry:
    rests: frozenset[OpenFact] = frozenset()
    places = []
    used = tuple(used)
    for _, reading, _, one in used:
        rests |= one
        places.append(reading.stated.place)
    return context.ledger.write(
        subject,
        quantity,
        value,
        known_by=weakest(reading.known for _, reading, _, _ in used),
        formula="plate against bench",
        source=SOURCE,
        note=note,
        missing=unsettled(subject, [reading for _, reading, _, _ in used]),
        rests_on=rests,
        place=min(places, default=None),
    )


def band(plate: Value) -> tuple[float, float]:
    """The voltages between which an output counts as held, in size."""
    ends = sorted((abs(plate.low), abs(plate.high)))
    if plate.low < plate.near or plate.high > plate.far:
        return ends[0], ends[1]
    return ends[0] * (1.0 - REGULATION), ends[1] * (1.0 + REGULATION)


def is_held(context: Context, subject: Subject, value: Value) -> bool:
    plate = context.value(subject, "plate.voltage")
    if plate is None:
        return False
    return min(abs(value.near), abs(value.far)) >= band(plate)[0]


def solve_ports(context: Context, taken: Sequence[Taken]) -> None:
    """Several ports: their count, the sum on the plate, and what was held with all of them loaded at once."""
    ledger = context.ledger
    outputs = ledger.subjects("output")
    ledger.write(
        SUPPLY,
        "ports",
        Value.exact(float(len(outputs))),
        known_by="computed",
        formula="outputs of the plate",
        source=SOURCE,
    )
    currents = [full_current(context, subject) for subject in outputs]
    if any(one is None for one in currents):
        ledger.hole(
            SUPPLY,
            "ports_current",
            tuple(OpenFact(s, "plate.current") for s, c in zip(outputs, currents, strict=True) if c is None),
        )
        return
    whole = sum(one for one in currents if one is not None)
    ledger.write(
        SUPPLY, "ports_current", Value.exact(whole), known_by="computed", formula="sum over the outputs", source=SOURCE
    )
    volts: dict[tuple[At, Subject | None], list[Taken]] = {}
    for one in taken:
        if one[1].quantity == "voltage":
            volts.setdefault((one[0], subject_of(context, one[1])), []).append(one)
    best: tuple[float, float, list[Taken]] | None = None
    for at in dict.fromkeys(one[0] for one in taken):
        together = [volts.get((at, subject), []) for subject in outputs]
        loads = [current_drawn(at, subject, full) for subject, full in zip(outputs, currents, strict=True)]
        if not all(together) or any(one is None for one in loads):
            continue
        known = [one for several in together for one in several]
        pairs = [(subject, one) for subject, several in zip(outputs, together, strict=True) for one in several]
        read = [(subject, one) for subject, one in pairs if not one[1].unread]
        lost = not all(is_held(context, subject, one[2]) for subject, one in read)
        fine = not lost and len(read) == len(pairs)
        total = sum(one for one in loads if one is not None)
        near = total if fine else 0.0
        far = total if lost else inf
        if best is None:
            best = (near, far, known)
        else:
            best = (max(best[0], near), min(best[1], far), [*best[2], *known])
    if best is None:
        ledger.hole(SUPPLY, "held_together", (OpenFact(SUPPLY, "held_together"),))
    else:
        write_taken(context, SUPPLY, "held_together", Value.between(min(best[0], best[1]), best[1]), best[2])


# An overload held just below shut-down to a steady temperature: winding and case, carried to the hottest ambient.
#
# A reading counts as steady where it says so, or that it was taken an hour and more after; of a shorter one, or one
# that does not say, only that it is at least so hot.


# Greatest winding temperature in overload by insulation class, less 10 K between thermocouple and hot spot. Class B is
# the 165 degC of report CQASZ20210400194S (2021) p48; the others keep the steps of the classes (remembered).
IN_OVERLOAD = {"A": 150.0, "E": 165.0, "B": 175.0, "F": 190.0, "H": 210.0}


def held_in_overload(context: Context, taken: Sequence[Taken], tests: Sequence[Test]) -> None:
    """Write what was read while the load was held just below shut-down, and whether it was."""
    ledger = context.ledger
    own = [one for one in taken if one[0].load == "overload"]
    transformers = {Subject("transformer", (name.partition(".")[0],)) for name in context.structure.windings}
    for subject in sorted(transformers):
        found = [
            one
            for one in own
            if one[1].quantity in ("winding_temperature", "case_temperature") and _of(context, one[1].target, subject)
        ]
        _temperature(context, subject, "overload_winding_temperature", found)
        _allowed(context, subject)
    case = [one for one in own if one[1].quantity == "case_temperature" and one[1].target == "enclosure"]
    _temperature(context, SUPPLY, "overload_enclosure_temperature", case)
    broke = next((one for one in tests if one.test == "overload" and one.is_adverse), None)
    if broke is not None:
        ledger.write(
            SUPPLY,
            "overload_held",
            Category.of("no"),
            known_by=broke.known,
            place=broke.place,
            formula="overload test",
            source="tests of this sample",
        )
    elif own and _samples(own) == _samples([one for one in own if _steady(one) and not one[1].unread]):
        ledger.write(
            SUPPLY,
            "overload_held",
            Category.of("yes"),
            known_by=weakest(reading.known for _, reading, _, _ in own),
            formula="readings in overload",
            source="readings of this sample",
        )
    else:
        ledger.hole(SUPPLY, "overload_held", (OpenFact(SUPPLY, "overload_held"),))


def _of(context: Context, target: str, transformer: Subject) -> bool:
    return (
        target == transformer.names[0]
        or target in context.structure.windings
        and (target.partition(".")[0] == transformer.names[0])
    )


def _samples(taken: Sequence[Taken]) -> set[int | None]:
    """Which samples were read: what one of them held to a steady temperature shows nothing of another."""
    return {one[1].sample.number if one[1].sample is not None else None for one in taken}


def _steady(one: Taken) -> bool:
    return one[1].condition is not None and one[1].condition.is_steady


def _temperature(context: Context, subject: Subject, quantity: QuantityName, found: Sequence[Taken]) -> None:
    ledger = context.ledger
    ledger.write(
        subject,
        "overload_read",
        Category.of("yes" if found else "no"),
        known_by="computed",
        formula="readings in overload",
        source="readings of this sample",
    )
    if not found:
        ledger.hole(subject, quantity, (OpenFact(subject, quantity),))
        return
    hottest = context.plan.ambient[1] if context.plan.ambient is not None else None
    known = [one for one in found if one[0].ambient is not None]
    if hottest is None or len(known) < len(found):
        missing = OpenFact(subject, f"ambient of its {said(quantity)}")
        if hottest is None:
            missing = OpenFact(SUPPLY, "site.ambient")
        lowest = Value.floor(max(one[2].near for one in found))
        note = f"at least what was read, if that was in the hottest ambient; needs {missing.in_words}"
        write_taken(context, subject, quantity, lowest, found, note)
        return
    near, far = [], []
    for at, _, value, _ in known:
        rise = hottest - (at.ambient or 0.0)
        near.append(value.near + rise)
        far.append(value.far + rise * (1.0 + ERROR["carried_rise"][1] if rise > 0.0 else 1.0))
    note = "reading + hottest ambient − ambient of the reading"
    if all(_steady(one) for one in known):
        write_taken(context, subject, quantity, Value.between(max(near), max(far)), known, note)
    else:
        write_taken(
            context,
            subject,
            quantity,
            Value.floor(max(near)),
            known,
            f"at least: not said to have been held for an hour; {note}",
        )


def _allowed(context: Context, transformer: Subject) -> None:
    """The limit of the insulation class in overload; of one not known, anything from the lowest to the highest."""
    word = context.word(transformer, "transformer.insulation_class")
    stated = context.fact(transformer, "transformer.insulation_class")
    known = word in CLASSES  # a word that names no class leaves all of them
    limits = [IN_OVERLOAD[one] - HOT_SPOT for one in CLASSES if one == word or not known]
    context.ledger.write(
        transformer,
        "allowed.overload_winding_temperature",
        Value.between(min(limits), max(limits)),
        known_by=stated.known_by if stated is not None and known else "computed",
        inputs=(stated.number,) if stated is not None else (),
        rests_on=stated.rests_on if stated is not None else frozenset(),
        formula="class in overload less 10 K to the hot spot",
        note="" if known else "the insulation class is not known",
        source="report CQASZ20210400194S (2021) p48, 165 degC of class B; other classes remembered",
    )


# The plate against the bench: what load tests and readings say of current held, shut-down, regulation, ripple, mains
# current, efficiency and case temperature. A reading counts only at the condition it was taken at.
#
# Held means that the output voltage stayed within the regulation stated on the plate, or within a tenth of its
# voltage where the plate states none (common practice, no source; a USB port has to stay within 4.75 and 5.25 V at
# its plug).


# How near a reading's mains must be to the lowest of the plate to count as taken there.
_NEAR = 1.005


def plate_against_bench(context: Context, readings: Sequence[Reading], tests: Sequence[Test]) -> None:
    """Write the rows that rules on the rating plate compare."""
    if not context.ledger.subjects("output"):
        return
    taken: list[Taken] = []
    for reading in readings:
        at = condition_of(context, reading)
        value, rests, _ = with_uncertainty(context, reading)
        if at is not None and at.group == RUNNING and value is not None and not reading.unseen:
            taken.append((at, reading, value, rests))
    held = []
    for subject in context.ledger.subjects("output"):
        held.append(_output(context, subject, taken, [one for one in tests if _tests_of(one, context, subject)]))
    _supply(context, taken, readings)
    held_in_overload(context, taken, tests)
    _regulated(context)
    solve_ports(context, taken)
    _shields(context)


def _tests_of(test: Test, context: Context, subject: Subject) -> bool:
    name = test.output
    alone = len(context.ledger.subjects("output")) == 1
    return test.test == "overload" and test.done and (name == subject.names[0] or (not name and alone))


def _output(context: Context, subject: Subject, taken: Sequence[Taken], tests: Sequence[Test]) -> Entry:
    """Current held, shut-down, regulation and ripple of one output."""
    ledger, full = context.ledger, full_current(context, subject)
    own = [one for one in taken if one[1].quantity == "voltage" and subject_of(context, one[1]) == subject]
    shut = _shut_down(context, subject, tests)
    plate = context.value(subject, "plate.voltage")
    if plate is None or plate.low <= 0 <= plate.high:
        hole = OpenFact(subject, "plate.voltage")
        for name in ("regulation", "held_current", "held_current_low_mains"):
            ledger.hole(subject, name, (hole,))
        return ledger.hole(subject, "held_current", (hole,))
    least, _ = band(plate)
    lowest = context.plan.plate[0] if context.plan.plate is not None else None
    whole = _held(context, subject, own, full, least, shut, "held_current", lambda at: True)
    _held(
        context,
        subject,
        own,
        full,
        least,
        shut,
        "held_current_low_mains",
        lambda at: lowest is not None and at.mains <= lowest * _NEAR,
    )
    _regulation(context, subject, own, full, plate)
    _ripple(context, subject, taken)
    return whole


def _shut_down(context: Context, subject: Subject, tests: Sequence[Test]) -> Value | None:
    """The rows of the shut-down point, the least and the greatest of several tests; holes when none says a figure.

    Beside one that does, a test that shut down at a current nobody wrote down may have done so at any.
    """
    done = [one for one in tests if one.shuts_down_at is not None or one.result.word == "shut down"]
    places = [one.shuts_down_at.place for one in done if _shut_down_at(one) is not None and one.shuts_down_at]
    if not places:
        for name in each("shut_down_current", "greatest_shut_down_current"):
            context.ledger.hole(subject, name, (OpenFact(subject, "shut_down_current"),))
        return None
    assumed = context.assumptions.get("instrument_uncertainty")
    by = assumed.value.high if assumed is not None else 0.0
    rests = (
        frozenset((OpenFact(subject, "uncertainty of the shut-down current"),))
        if assumed and assumed.rests
        else frozenset()
    )
    ends = [_shut_down_ends(one, by) for one in done]
    # each end by itself: a sample that shuts down early is not made up for by one that does late, nor the other way
    least = Value.between(min(one.near for one, _ in ends), min(one.far for one, _ in ends))
    most = Value.between(max(one.near for _, one in ends), max(one.far for _, one in ends))
    for name, value in zip(each("shut_down_current", "greatest_shut_down_current"), (least, most), strict=True):
        context.ledger.write(
            subject,
            name,
            value,
            known_by=weakest(one.known for one in done if not one.unread),
            formula="overload test",
            source=SOURCE,
            place=places[0],
            rests_on=rests,
        )
    return least


def _shut_down_at(test: Test) -> Value | None:
    stated = test.shuts_down_at
    return stated.value if stated is not None and isinstance(stated.value, Value) else None


def _shut_down_ends(test: Test, by: float) -> tuple[Value, Value]:
    """What one test says of the least and of the greatest shut-down point. by: uncertainty of the instrument

    One that nobody did to a sample may be any worse, each way: its figure fails, and shows nothing good.
    """
    value = _shut_down_at(test)
    if value is None:
        return Value.floor(0.0), Value.floor(0.0)
    if value.is_exact:
        value = Value.between(value.near * (1 - by), value.far * (1 + by))
    if test.unseen:
        return Value.between(0.0, value.far), Value.floor(value.near)
    return value, value


def _held(
    context: Context,
    subject: Subject,
    own: Sequence[Taken],
    full: float | None,
    least: float,
    shut: Value | None,
    quantity: QuantityName,
    counts: Callable[[At], bool],
) -> Entry:
    """Between which currents the limit of what is held lies: the greatest held, the least at which it was not."""
    held, lost, sure, used, loaded = 0.0, inf, inf, [], False
    for one in own:
        at, _, value, _ = one
        drawn = current_drawn(at, subject, full)
        if drawn is None or not counts(at):
            continue
        sizes = sorted((abs(value.near), abs(value.far)))
        used.append(one)
        loaded = loaded or drawn > 0
        if least <= sizes[0]:  # too high a voltage is a matter of regulation
            held = max(held, drawn)
        elif sizes[1] < least:
            lost, loaded = min(lost, nextafter(drawn, 0.0)), True  # what was lost at this current is held below it
        else:  # it may have lost it there, as any sample that nobody wrote down: what others held is sure below it only
            sure = min(sure, nextafter(drawn, 0.0))
    if shut is not None and quantity == "held_current":
        lost, loaded = min(lost, shut.far), True
    if not loaded:
        return context.ledger.hole(subject, quantity, (OpenFact(subject, quantity),))
    held = min(held, lost, sure)  # held at one mains and lost at another, or by one sample and not another, is not held
    note = "" if lost < inf else "the greatest current tried was held; where it ends nobody has looked"
    return write_taken(context, subject, quantity, Value.between(held, lost), used, note)


def _regulation(context: Context, subject: Subject, own: Sequence[Taken], full: float | None, plate: Value) -> None:
    """Greatest departure from the plate, over readings up to the marked current; both no load and full load needed."""
    used = []
    loads = set()
    for one in own:
        drawn = current_drawn(one[0], subject, full)
        if drawn is not None and (full is None or drawn <= full):
            used.append(one)
            loads.add("full" if full is not None and drawn >= 0.99 * full else "none" if drawn == 0 else "part")
    if not used:
        context.ledger.hole(subject, "regulation", (OpenFact(subject, "regulation"),))
        return
    nominal = abs(plate.middle)
    off = [
        [0.0, inf] if one.unread else sorted(abs(abs(end) - nominal) / nominal for end in (value.near, value.far))
        for _, one, value, _ in used
    ]
    low, high = max(one[0] for one in off), max(one[1] for one in off)
    if loads >= {"full", "none"}:
        write_taken(context, subject, "regulation", Value.between(low, high), used)
    else:
        both = {"none": "no load", "full": "full load"}
        lacking = " and ".join(words for word, words in both.items() if word not in loads)
        write_taken(context, subject, "regulation", Value.floor(low), used, f"at least: no reading at {lacking}")


def _ripple(context: Context, subject: Subject, taken: Sequence[Taken]) -> None:
    own = [one for one in taken if one[1].quantity == "ripple" and subject_of(context, one[1]) == subject]
    full = [one for one in own if is_full(context, one[0])]
    if not own:
        context.ledger.hole(subject, "read_ripple", (OpenFact(subject, "read_ripple"),))
        return
    value = Value.between(max(one[2].near for one in own), max(one[2].far for one in own))
    if full:
        write_taken(context, subject, "read_ripple", value, own)
    else:
        write_taken(context, subject, "read_ripple", Value.floor(value.near), own, "at least: read at part load")


def _supply(context: Context, taken: Sequence[Taken], readings: Sequence[Reading]) -> None:
    """Mains current at the lowest mains, efficiency, power without load, and the case of the whole supply."""
    plate = context.plan.plate
    currents = [one for one in taken if one[1].quantity == "mains_current" and is_full(context, one[0])]
    lowest = [one for one in currents if plate is not None and one[0].mains <= plate[0] * _NEAR]
    _mains_current(context, lowest, [one for one in taken if is_full(context, one[0])])
    _most(
        context, "no_load_power", [one for one in taken if one[1].quantity == "mains_power" and one[0].load == NO_LOAD]
    )
    _power_class(context)
    _efficiency(context, taken)
    _on_the_plate(context)
    _enclosure(context, taken, readings)


def _power_class(context: Context) -> None:
    """Output power of the plate [W], and whether one output gives it or several: both decide the limit without load."""
    outputs = context.ledger.subjects("output")
    facts = [context.fact(one, name) for one in outputs for name in each("plate.voltage", "plate.current")]
    values = [one.value for one in facts if one is not None and isinstance(one.value, Value)]
    missing = (OpenFact(SUPPLY, "plate.outputs"),)
    if not values or len(values) < len(facts):
        context.ledger.hole(SUPPLY, "plate.output_power", missing)
        context.ledger.hole(SUPPLY, "plate.output_count", missing)
        return
    inputs = tuple(one.number for one in facts if one is not None)
    powers = [abs(volts.far * amperes.far) for volts, amperes in zip(values[::2], values[1::2], strict=True)]
    context.ledger.write(
        SUPPLY,
        "plate.output_power",
        Value.exact(sum(powers)),
        formula="sum of voltage × current on the plate",
        source="definition of power",
        inputs=inputs,
    )
    word = "one" if len(outputs) == 1 else "several"
    told = Category.of(word)
    context.ledger.write(SUPPLY, "plate.output_count", told, formula="outputs on the plate", inputs=inputs)


def _most(context: Context, quantity: QuantityName, found: Sequence[Taken]) -> None:
    if not found:
        context.ledger.hole(SUPPLY, quantity, (OpenFact(SUPPLY, quantity),))
        return
    value = Value.between(max(one[2].near for one in found), max(one[2].far for one in found))
    write_taken(context, SUPPLY, quantity, value, found)


def _mains_current(context: Context, lowest: Sequence[Taken], full: Sequence[Taken]) -> None:
    """Mains current at the lowest mains and full load, and no less than what any power read at full load has to draw.

    No power factor is above one, so that power over mains voltage is the least it was.
    """
    least = [
        (one, one[2].near / one[0].mains)
        for one in full
        if one[1].quantity == "mains_power" and one[0].mains > 0.0 and one[2].near > 0.0
    ]
    if not least:
        _most(context, "read_mains_current", lowest)
        return
    used = [*lowest, *(one for one, _ in least)]
    near = max([amperes for _, amperes in least] + [one[2].near for one in lowest])
    if lowest:
        value = Value.between(near, max([near] + [one[2].far for one in lowest]))
        write_taken(context, SUPPLY, "read_mains_current", value, used)
    else:
        note = "at least: mains power over mains voltage; no current was read at the lowest mains"
        write_taken(context, SUPPLY, "read_mains_current", Value.floor(near), used, note)


def _efficiency(context: Context, taken: Sequence[Taken]) -> None:
    """Output power over mains power: the least over the readings at full load, and the greatest at any load."""
    shares = [share for one in taken if (share := _share(context, one, taken)) is not None]
    full = [share for share in shares if is_full(context, share[1][-1][0])]
    for quantity, found, pick in (("read_efficiency", full, min), ("read_efficiency_greatest", shares, max)):
        name = named(quantity)
        if not found:
            context.ledger.hole(SUPPLY, name, (OpenFact(SUPPLY, "read_efficiency"),))
            continue
        value = Value.between(pick(ends[0] for ends, _ in found), pick(ends[1] for ends, _ in found))
        write_taken(context, SUPPLY, name, value, [one for _, used in found for one in used])


def _share(context: Context, one: Taken, taken: Sequence[Taken]) -> tuple[tuple[float, float], list[Taken]] | None:
    """Output power over mains power at the condition of one reading of mains power, with what it was taken from."""
    at, reading, power, _ = one
    if reading.quantity != "mains_power" or power.near <= 0 and not reading.unread:
        return None
    if reading.unread:
        return (0.0, inf), [one]
    low, high, used = 0.0, 0.0, []
    for subject in context.ledger.subjects("output"):
        amps = current_drawn(at, subject, full_current(context, subject))
        volts = [
            two
            for two in taken
            if two[0] == at
            and two[1].quantity == "voltage"
            and subject_of(context, two[1]) == subject
            and _is_of_one(two[1], reading)
        ]
        if amps is None or not volts:
            return None
        sizes = [abs(end) for two in volts for end in (two[2].near, two[2].far)]  # read twice: anything between
        low, high = low + min(sizes) * amps, high + max(sizes) * amps
        used += volts
    return ((low / power.far, high / power.near), [*used, one]) if used else None


def _is_of_one(volts: Reading, power: Reading) -> bool:
    """Whether a voltage is of the sample whose power was read; one of no sample speaks for every power there."""
    if volts.sample is None or power.sample is None:
        return volts.sample is None
    return volts.sample.number == power.sample.number


def _on_the_plate(context: Context) -> None:
    """Output power of the plate over what its mains side can take in: its power, or its voltage times its current."""
    name: QuantityName = "plate_power_ratio"
    outputs = context.ledger.subjects("output")
    facts = [context.need(one, quantity) for one in outputs for quantity in each("plate.voltage", "plate.current")]
    mains, current = context.need(SUPPLY, "plate.mains"), context.need(SUPPLY, "plate.mains_current")
    power = context.fact(SUPPLY, "plate.power")
    missing = [fact for row in (*facts, mains, current) for fact in row.missing]
    known = [row.value for row in facts]
    taken: list[float] = []
    if isinstance(mains.value, Value) and isinstance(current.value, Value):
        taken.append(mains.value.near * current.value.high)  # at the lowest mains; a power factor only takes from it
    if power is not None and isinstance(power.value, Value):
        taken.append(power.value.high)
    values = [one for one in known if isinstance(one, Value)]
    if not taken or len(values) < len(known) or min(taken) <= 0:
        context.ledger.hole(SUPPLY, name, missing or (OpenFact(SUPPLY, "plate.mains_current"),))
        return
    pairs = zip(values[::2], values[1::2], strict=True)
    delivered = sum(min(abs(volts.near), abs(volts.far)) * amps.near for volts, amps in pairs)
    rows = (*facts, mains, current, *((power,) if power is not None else ()))
    ratio = delivered / min(taken)
    # A plate whose figures agree exactly has a ratio of one and no more. A dozen products and sums of doubles round
    # off a few parts in 1e15, and figures of a plate, of three digits or four, make ratios some parts in 1e8 from one
    # or more: 1e-12 lies between, so that rounding (12 × 1.6 + 5 comes out above 24.2) is no excess, and no excess
    # passes for rounding.
    context.ledger.write(
        SUPPLY,
        name,
        Value.exact(1.0 if isclose(ratio, 1.0, rel_tol=1e-12) else ratio),
        known_by="computed",
        formula="output power / (lowest mains × mains current), or / power, all of the plate",
        source="conservation of energy; a power factor below 1 only takes from it",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
    )


def _enclosure(context: Context, taken: Sequence[Taken], readings: Sequence[Reading]) -> None:
    """The case carried to the hottest ambient; read at part load, or at a condition not known, it is at least that."""
    found = [
        one
        for one in taken
        if one[1].quantity == "case_temperature"
        and one[1].target == "enclosure"
        and one[0].load not in ("overload", "shorted")
    ]
    hottest = context.plan.ambient[1] if context.plan.ambient is not None else None
    known = [one for one in found if one[0].ambient is not None] if hottest is not None else []
    open_at = _open_enclosure(context, readings, [one[1] for one in known])
    if not known and not open_at:
        missing = OpenFact(SUPPLY, "site.ambient") if found else OpenFact(SUPPLY, "enclosure_temperature")
        context.ledger.hole(SUPPLY, "enclosure_temperature", (missing,))
        return
    carried = [(one, (hottest or 0.0) - (one[0].ambient or 0.0)) for one in known]
    near, far = [one[2].near + by for one, by in carried], [one[2].far + by for one, by in carried]
    note = "reading + hottest ambient − ambient of the reading"
    if any(is_full(context, one[0]) for one in known) and not open_at:
        write_taken(context, SUPPLY, "enclosure_temperature", Value.between(max(near), max(far)), known, note)
        return
    floor = Value.floor(max([*near, *(value.near for value in open_at)]))
    why = "the condition of a reading is not known: it may have been the hottest ambient" if open_at else "at part load"
    write_taken(context, SUPPLY, "enclosure_temperature", floor, known, f"at least, {why}; {note}")


def _open_enclosure(context: Context, readings: Sequence[Reading], known: Sequence[Reading]) -> list[Value]:
    """Temperatures of the case whose condition or ambient nobody wrote down: it was at least so hot."""
    found = []
    for reading in readings:
        if reading.quantity != "case_temperature" or reading.target != "enclosure" or reading in known:
            continue
        at = condition_of(context, reading)
        value = with_uncertainty(context, reading)[0]
        if value is not None and (at is None or at.load not in ("overload", "shorted") and at.ambient is None):
            found.append(value)
    return found


def _regulated(context: Context) -> None:
    """Whether the output is regulated: as stated, else known where the control says what it senses."""
    if context.fact(SUPPLY, "supply.regulated") is not None:
        return
    if context.structure.control.senses:
        context.ledger.write(
            SUPPLY,
            "supply.regulated",
            Category.of("yes"),
            known_by="computed",
            source="the circuit as walked",
            formula="the control senses an output or a winding",
        )
    else:
        context.ledger.hole(SUPPLY, "supply.regulated", (OpenFact(SUPPLY, "supply.regulated"),))


def _shields(context: Context) -> None:
    """Whether a transformer has a shield tied to a quiet point: known once every winding says what it is."""
    ledger = context.ledger
    for subject in ledger.subjects("transformer"):
        if not subject.names:  # what is assumed of every transformer, and of none by name
            continue
        own = [one for one in ledger.subjects("winding") if one.names[0].startswith(f"{subject.names[0]}.")]
        tied = [one for one in own if context.word(one, "winding.tied_to") not in (None, "none", "floating")]
        shield = [one for one in own if "shield" in one.names[0]]
        if tied:
            word, inputs = "yes", tuple(context.need(one, "winding.tied_to").number for one in tied)
        elif own and not shield and context.structure.own.mains_side:
            word, inputs = "no", ()
        else:
            ledger.hole(
                subject,
                "transformer.shields",
                tuple(OpenFact(one, "winding.tied_to") for one in shield)
                or (OpenFact(subject, "transformer.shields"),),
            )
            continue
        ledger.write(
            subject,
            "transformer.shields",
            Category.of(word),
            known_by="computed",
            inputs=inputs,
            formula="shields among the windings",
            source="the windings as listed",
        )
