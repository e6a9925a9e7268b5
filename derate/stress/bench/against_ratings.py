"""What was read against the ratings of what was read, and the outcomes of tests, under every name."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import inf, sqrt
from typing import Final

from derate.design.readings import Reading, Test
from derate.design.structure import leaves
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.stress.bench.evidence import (
    At,
    about_of,
    condition_of,
    open_sample,
    open_unseen,
    subject_of,
    unsettled,
    which,
    with_uncertainty,
)
from derate.stress.bench.load_tests import IN_OVERLOAD, current_drawn, full_current, is_full
from derate.stress.context import Context, part
from derate.stress.parts.windings import CLASSES, HOT_SPOT
from derate.terms.dimension import RESISTANCE, TIME, VOLTAGE, Dimension
from derate.terms.quantities import FULL_LOAD, NO_LOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Curve, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import CAPACITORS, DIODES, RESISTORS, Hazard

# Readings held against the ratings of what was read, under whatever name they are written: none is merely unused.
#
# A reading whose condition is not known is a reading all the same: it stands against the rating in the kindest
# condition it can have, and where that decides nothing it is not assessed. What neither a rating nor a rule can use
# is said.


SOURCE = "rules of evidence: what was read is held against what the part is rated for"
# What a reading may be compared with, as the pair of rows that a rule compares.
Kind = str
_PAIRS: Final[dict[Kind, tuple[QuantityName, QuantityName]]] = {
    "voltage": ("reading.voltage", "allowed.reading_voltage"),
    "current": ("reading.current", "allowed.reading_current"),
    "temperature": ("reading.temperature", "allowed.reading_temperature"),
}
_VOLTAGES = ("voltage", "voltage_peak", "reverse_voltage", "working_voltage", "working_voltage_peak")
_TEMPERATURES = ("case_temperature", "winding_temperature", "junction_temperature", "air_temperature")
_SWITCHES = ("MOSFET", "bipolar transistor", "integrated switch")
# A voltage rating of these is of the mains, as rms, where its unit does not say (IEC 60384-14, 60127, 60115).
_OF_THE_MAINS = ("fuse", "varistor", "spark gap", "relay", "optocoupler", *RESISTORS)
# Kinds that carry such a rating: without it a reading waits for it, of others it may speak of nothing.
_RATED_BY_VOLTAGE = ("bridge rectifier", *CAPACITORS, *DIODES, *_SWITCHES, *_OF_THE_MAINS)
_RATED_BY_JUNCTION = ("bridge rectifier", "linear regulator", *DIODES, *_SWITCHES)
_RATED_BY_CURRENT = ("bridge rectifier", "fuse", "choke", "common-mode choke", "NTC thermistor", *DIODES, *_SWITCHES)
_WOUND = ("choke", "common-mode choke")
_CLAMPS = ("varistor", "spark gap", "suppressor diode", "zener diode")  # what rises past its rating there is its work


class Limit(NamedTuple):
    """What a reading may be at most: least and greatest where the rating leaves room, and the rows it comes from.

    missing: ratings that nobody stated and that may be lower; with none stated at all there is no greatest
    """

    kind: Kind
    low: float
    high: float
    inputs: tuple[Entry, ...]
    said: str
    missing: tuple[OpenFact, ...] = ()


def hold_readings(context: Context, readings: Sequence[Reading]) -> None:
    """Hold every reading against what its part is rated for; say of each that nothing can use why it cannot."""
    told: dict[str, int] = {}
    for reading in readings:
        at, subject = condition_of(context, reading), subject_of(context, reading)
        about = about_of(reading, at, told)
        value, rests, _ = with_uncertainty(context, reading)
        if value is not None and value.far < 0.0:  # a negative rail counts by its size
            value = Value(*(-one for one in reversed(value.numbers())))
        if value is not None:  # one that was simulated may be any worse: it fails, and passes nothing
            value = reading.shown(value)
        compared = context.word(about, "reading.compared") == "yes"
        _hold(context, _Held(about, subject, reading, at), value, rests, compared)


class _Held(NamedTuple):
    """A reading: its own subject, what was read (None for a name of nothing), its condition (None: not known)."""

    about: Subject
    subject: Subject | None
    reading: Reading
    at: At | None


def _hold(context: Context, held: _Held, value: Value | None, rests: frozenset[OpenFact], compared: bool) -> None:
    about, subject, reading, at = held
    limit = _limit(context, subject, reading, at) if subject is not None and value is not None else None
    if limit is None or value is None:
        _word(context, about, "reading.against", "none", reading)
        _usefulness(context, held, value, compared or _is_of_a_rule(context, held))
        return
    _word(context, about, "reading.against", limit.kind, reading)
    if not _not_written(context, held):
        _word(context, about, "reading.unused", "no", reading)
    read, allowed = _PAIRS[limit.kind]
    inputs = tuple(one.number for one in limit.inputs)
    if limit.high == inf and value.far > limit.low:
        row = context.ledger.hole(about, allowed, limit.missing, note="what it is held against is not stated")
    else:
        row = context.ledger.write(
            about,
            allowed,
            Value.exact(limit.low) if limit.high == inf else Value.between(limit.low, limit.high),
            missing=limit.missing if limit.high < inf else (),
            known_by="computed",
            inputs=inputs,
            formula=limit.said,
            source=SOURCE,
            rests_on=frozenset().union(*(one.rests_on for one in limit.inputs)),
        )
    if at is None and value.near <= limit.high:
        note = "whether it may be so high depends on its condition"
        fact = OpenFact(about, "condition of the reading")
        context.ledger.hole(about, read, (fact,), note=note, inputs=(row.number,))
        return
    context.ledger.write(
        about,
        read,
        value,
        known_by=reading.known,
        place=reading.stated.place,
        formula="as read",
        source=SOURCE,
        missing=_lacking(about, subject, reading),
        rests_on=rests,
        note="" if at is not None else "held against the rating in the kindest condition it can have",
    )


def _lacking(about: Subject, subject: Subject | None, reading: Reading) -> tuple[OpenFact, ...]:
    """What is open of what was read."""
    if reading.unread:
        return (open_sample(about),)
    unseen = (open_unseen(about, reading),) if reading.unseen else ()
    return (*unseen, *(unsettled(subject, [reading]) if subject is not None else ()))


def _usefulness(context: Context, held: _Held, value: Value | None, is_used: bool) -> None:
    """Say of a reading that no rating speaks of whether anything else takes it; what nothing takes is not assessed."""
    about, _, reading, at = held
    if _not_written(context, held):
        return
    is_used = is_used and value is not None
    _word(context, about, "reading.unused", "no" if is_used else "yes", reading)
    if is_used:
        return
    if value is None:
        fact, why = OpenFact(about, "figure that was read"), "no figure is written down"
    elif at is None:
        fact, why = OpenFact(about, "condition of the reading"), "nothing can use it while its condition is not known"
    elif reading.unseen:
        fact, why = open_unseen(about, reading), f"{reading.known}: nobody read it, and no rule of the bench takes it"
    else:
        fact, why = OpenFact(about, "rating it can be held against"), "nothing uses it: no rating and no computation"
    context.ledger.hole(about, "reading.heard", (fact,), note=why)


def _not_written(context: Context, held: _Held) -> bool:
    """Whether it is of a sample of which nobody wrote it down: told as such, whatever else waits for it."""
    about, _, reading, _ = held
    if not reading.unread:
        return False
    _word(context, about, "reading.unused", "yes", reading)
    note = "nobody wrote down what was read of this sample"
    context.ledger.hole(about, "reading.heard", (open_sample(about),), note=note)
    return True


def _is_of_a_rule(context: Context, held: _Held) -> bool:
    """Whether a rule of its own takes the reading: touch current, working voltage, plate, carried heat."""
    _, subject, reading, at = held
    quantity = reading.quantity
    if quantity == "touch_current" or subject is not None and subject.kind == "barrier":
        return True
    taken = not reading.unseen  # the bench takes none that nobody read
    if quantity == "case_temperature" and subject == SUPPLY:
        return taken
    if at is None or at.group != RUNNING or subject is None:
        return False
    if subject.kind == "output":
        full = full_current(context, subject)
        return taken and quantity in ("voltage", "ripple") and current_drawn(at, subject, full) is not None
    if quantity == "mains_power":
        return (taken and at.load == NO_LOAD) or is_full(context, at)
    return quantity in _TEMPERATURES and at.load == FULL_LOAD


def _limit(context: Context, subject: Subject, reading: Reading, at: At | None) -> Limit | None:
    quantity = reading.quantity
    if subject.kind == "output" and quantity in ("voltage", "voltage_peak"):
        return _of_output(context, subject.names[0])
    if subject.kind in ("transformer", "winding") and quantity in _TEMPERATURES:
        return _of_winding(context, Subject("transformer", (subject.names[0].partition(".")[0],)), reading, at)
    if subject.kind != "part":
        return None
    for names, find in _OF_PARTS:
        if quantity in names:
            return find(context, subject, reading, at)
    return None


def _of_output(context: Context, name: str) -> Limit | None:
    """An output stands across its capacitors: the lowest rating of one that lies across it alone."""
    walked = context.structure.outputs.get(name)
    if walked is None:  # nobody traced what lies across it
        return _unsaid("voltage", (OpenFact(Subject("output", (name,)), "its capacitors on the path"),))
    across = [one for step in walked.path if step.how == "across" for one in _alone(step.element)]
    own = [one for one in across if context.structure.may_be(one, *CAPACITORS)]
    if not own:
        return None
    found = [(one, context.fact(part(one), "rated.voltage")) for one in own]
    known = [(row, row.value) for _, row in found if row is not None and isinstance(row.value, Value)]
    unsaid = [one for one, row in found if row is None or not isinstance(row.value, Value)]
    missing = tuple(OpenFact(part(one), "rated.voltage") for one in unsaid)
    if not known:
        return _unsaid("voltage", missing)
    row, value = min(known, key=lambda one: one[1].near)
    low = 0.0 if missing else value.near
    return Limit("voltage", low, value.far, (row,), f"rated voltage of {row.subject} across it", missing)


def _unsaid(kind: Kind, missing: tuple[OpenFact, ...]) -> Limit:
    """The limit where no rating is stated: there is one, and nobody knows it."""
    return Limit(kind, 0.0, inf, (), "", missing)


def _alone(element: object) -> Iterable[str]:
    """The parts of an element that bear all of its voltage."""
    if getattr(element, "joined", "parallel") == "series":
        return ()
    return [leaf.name for leaf in leaves(element)]  # type: ignore[arg-type]


def _of_winding(context: Context, wound: Subject, reading: Reading, at: At | None) -> Limit:
    """The class of the insulation; in overload, and where it may have been one, what it may reach there.

    A choke states none, so that it may be of any.
    """
    stated = context.fact(wound, "transformer.insulation_class")
    word = context.word(wound, "transformer.insulation_class")
    table = CLASSES if at is not None and at.load not in ("overload", "shorted") else IN_OVERLOAD
    less = 0.0 if reading.ohms is not None else HOT_SPOT
    known = word in CLASSES  # a word that names no class leaves all of them
    limits = [table[one] - less for one in CLASSES if one == word or not known]
    said = "greatest winding temperature of the insulation class"
    return Limit("temperature", min(limits), max(limits), (stated,) if stated is not None else (), said)


def _voltage(context: Context, subject: Subject, reading: Reading, at: At | None) -> Limit | None:
    kinds = context.structure
    name = subject.names[0]
    event = at is None or at.group != RUNNING
    if event and kinds.may_be(name, *_CLAMPS):
        return None
    if kinds.must_be(name, "controller", "port controller"):
        return _rated(context, subject, ("rated.supply",), "voltage", ends=True)
    names: list[QuantityName] = ["rated.voltage", "rated.reverse_voltage"]
    if kinds.may_be(name, *_SWITCHES):
        names.append("rated.collector_base_voltage")
    if kinds.may_be(name, "optocoupler", *_SWITCHES):
        names.append("rated.collector_emitter_voltage")
    if event:  # it may have been a surge, that the part stands for a moment
        names.append("rated.surge_voltage")
    found = _rated(context, subject, tuple(names), "voltage")
    if found is None and kinds.may_be(name, *_RATED_BY_VOLTAGE):
        by = "rated.reverse_voltage" if kinds.must_be(name, "bridge rectifier", *DIODES) else "rated.voltage"
        return _unsaid("voltage", (OpenFact(subject, by),))
    if found is not None and _lacks_its_lower_voltage(context, subject):
        missing = (OpenFact(subject, "rated.collector_emitter_voltage"),)
        return found._replace(low=0.0, missing=missing)
    if found is None or reading.stated.statistic == "rms":
        return found
    word = context.word(subject, "part.class")
    of_mains = word in ("X1", "X2", "Y1", "Y2") or kinds.may_be(name, *_OF_THE_MAINS)
    if found.inputs[0].statistic == "rms" or of_mains and not found.inputs[0].statistic:
        return found._replace(
            low=found.low * (1.0 if not found.inputs[0].statistic else sqrt(2.0)),
            high=found.high * sqrt(2.0),
            said=f"{found.said}, its crest",
        )
    return found


def _lacks_its_lower_voltage(context: Context, subject: Subject) -> bool:
    """Whether of what may be a bipolar transistor only the voltage to its base is stated, the greater of the two."""
    to_base, to_emitter = (
        context.value(subject, name) for name in ("rated.collector_base_voltage", "rated.collector_emitter_voltage")
    )
    is_bipolar = context.structure.may_be(subject.names[0], "bipolar transistor")
    return is_bipolar and to_base is not None and to_emitter is None


def _current(context: Context, subject: Subject, reading: Reading, at: At | None) -> Limit | None:
    kinds, name = context.structure, subject.names[0]
    if reading.quantity == "ripple_current":
        return _current_of(context, subject, "rated.ripple_current")
    if kinds.may_be(name, "optocoupler", "LED"):
        return _current_of(context, subject, "rated.led_current")
    if reading.quantity == "current_peak":
        if kinds.must_be(name, *_SWITCHES):
            return _current_of(context, subject, "rated.current")
        if kinds.must_be(name, "choke"):
            return _current_of(context, subject, "rated.saturation_current")
        if kinds.must_be(name, "bridge rectifier", *DIODES):  # no peak a diode stands lies over its surge
            return _current_of(context, subject, "rated.surge_current")
        return None
    if reading.quantity == "current_rms" and kinds.may_be(name, "bridge rectifier", *DIODES, *_SWITCHES):
        return None  # rated by the average, which may be far less
    found = _rated(context, subject, ("rated.current",), "current")
    if found is None and kinds.may_be(name, *_RATED_BY_CURRENT):
        return _unsaid("current", (OpenFact(subject, "rated.current"),))
    running = at is not None and at.load not in ("overload", "shorted")
    if found is not None and kinds.may_be(name, "fuse") and not running:
        return found._replace(high=1.5 * found.high)  # which a fuse carries for an hour (IEC 60127-2)
    return found


def _current_of(context: Context, subject: Subject, name: QuantityName) -> Limit:
    found = _rated(context, subject, (name,), "current")
    return found if found is not None else _unsaid("current", (OpenFact(subject, name),))


def _temperature(context: Context, subject: Subject, reading: Reading, at: At | None) -> Limit:
    """Body, junction, and the heat at which nothing of the power is left: none may be passed by what is inside them."""
    names: tuple[QuantityName, ...] = ("rated.temperature", "rated.junction")
    if reading.quantity == "junction_temperature":
        names = ("rated.junction",)
    found = _rated(context, subject, names, "temperature", least=True)
    power = context.fact(subject, "rated.power")
    if power is not None and isinstance(power.value, Curve) and power.value.points[-1][1].high == 0.0:
        zero = power.value.points[-1][0]
        if found is None or zero < found.low:
            found = Limit("temperature", zero, zero, (power,), "temperature at which nothing of its power is left")
    if found is None and context.structure.may_be(subject.names[0], "electrolytic capacitor"):
        return _life_temperature(context, subject)
    if found is None and context.structure.may_be(subject.names[0], *_RATED_BY_JUNCTION):
        return _unsaid("temperature", (OpenFact(subject, "rated.junction"),))
    if found is None and context.structure.must_be(subject.names[0], *RESISTORS):
        return _line_without_an_end(subject, power)
    if found is None and context.structure.must_be(subject.names[0], *_WOUND):
        return _of_winding(context, subject, reading, at)
    return found or _unsaid("temperature", (OpenFact(subject, "rated.temperature"),))


def _life_temperature(context: Context, subject: Subject) -> Limit:
    """The limit of an electrolytic capacitor that states no temperature: its life is at the greatest it stands."""
    life = context.fact(subject, "rated.life")
    if life is None or not isinstance(life.value, Curve):
        return _unsaid("temperature", (OpenFact(subject, "rated.temperature"),))
    greatest = life.value.points[-1][0]
    return Limit("temperature", greatest, greatest, (life,), "greatest temperature that its life is stated at")


def _line_without_an_end(subject: Subject, power: Entry | None) -> Limit:
    """The limit of a resistor whose line of rated power nobody has written down to nothing.

    It ends above every temperature at which power is left, so a body that is no hotter is within it.
    """
    missing = (OpenFact(subject, "rated.power", "down to nothing"),)
    if power is None or not isinstance(power.value, Curve):
        nothing = power is None or power.value is None
        return _unsaid("temperature", (OpenFact(subject, "rated.power"),) if nothing else missing)
    last = power.value.points[-1][0]
    return Limit("temperature", last, inf, (power,), "last temperature at which its power is stated", missing)


_OF_PARTS = (
    (_VOLTAGES, _voltage),
    (("current_rms", "current_average", "current_peak", "ripple_current"), _current),
    (_TEMPERATURES, _temperature),
)


def _rated(
    context: Context,
    subject: Subject,
    names: tuple[QuantityName, ...],
    kind: Kind,
    ends: bool = False,
    least: bool = False,
) -> Limit | None:
    """From the least to the greatest of the ratings of these names, each read at its kindest point.

    ends: both ends are limits and the upper one counts; least: every one of them holds, so the least
    """
    found: list[tuple[Entry, float, float]] = []
    for name in names:
        row = context.fact(subject, name)
        if row is None:
            continue
        if isinstance(row.value, Curve):
            found.append((row, max(v.near for _, v in row.value.points), max(v.far for _, v in row.value.points)))
        elif isinstance(row.value, Value):
            found.append((row, row.value.high if ends else row.value.near, row.value.far))
    if not found:
        return None
    if least:
        found = [min(found, key=lambda one: one[1])]
    low, high = min(one[1] for one in found), max(one[2] for one in found)
    said = " or ".join(one[0].quantity.removeprefix("rated.").replace("_", " ") for one in found)
    if high == inf and low == inf:
        return None
    return Limit(kind, low, high, tuple(one[0] for one in found), f"rated {said}")


def _word(context: Context, about: Subject, quantity: QuantityName, word: str, reading: Reading) -> None:
    context.ledger.write(
        about,
        quantity,
        Category.of(word),
        known_by="computed",
        place=reading.stated.place,
        formula="reading against rating",
        source=SOURCE,
    )


# What tests came to: each test a subject of its own, heard whatever it was done between and whatever else is known.
#
# An adverse outcome is a fail of its hazard. A favourable one gives no verdict here: what it is worth (its voltage,
# its time, its place) is judged where that is asked. A test that was done and does not say what it came to is not
# assessed.


OUTCOMES_SOURCE = "tests of this sample"
# What an adverse outcome endangers: what gives way under load or in a fault burns, what lets current through shocks.
_HAZARD: Final[dict[str, Hazard]] = {
    "overload": "fire",
    "fault": "fire",
    "electric strength": "shock",
    "insulation resistance": "shock",
    "touch current": "shock",
    "earth continuity": "shock",
    "discharge": "shock",
}
NONE = "none"
_FIGURES: Final[dict[tuple[str, Dimension | None], QuantityName]] = {
    ("insulation resistance", RESISTANCE): "test.insulation_resistance",
    ("earth continuity", RESISTANCE): "test.earth_resistance",
    ("discharge", VOLTAGE): "test.voltage_left",
    ("discharge", TIME): "test.discharge_time",
}
# What a figure is worth hangs on the condition it was read at; below it a good figure shows nothing, a bad one does.
# The figure of a discharge is of the pins two seconds after the plug was drawn, from the highest mains of the plate.
DISCHARGED = 2.0  # s
# Insulation is measured at 500 V direct (two laboratories to IEC 61347-1 and 62031); a tenth less is its instrument.
INSULATION_AT = 450.0  # V
# An earth joint carries the least current of the type tests for a minute: 25 A of the household family (remembered),
# where IEC 62368-1 5.6.6 asks 32 A for two minutes (printed in two reports).
EARTHED_WITH, EARTHED_FOR = 25.0, 60.0  # A, s


def test_outcomes(ledger: Ledger, tests: Sequence[Test]) -> None:
    """Write for each test what it came to, and its figure where it has one that a limit is known for."""
    named: dict[str, int] = {}
    for test in tests:
        subject = _subject(test, named)
        if not _is_open(test) and not test.is_adverse:
            _outcomes_word(ledger, subject, "test.against", NONE, test)
        else:
            _outcomes_word(ledger, subject, "test.against", _HAZARD[test.test], test)
            if test.is_adverse:
                _outcomes_word(ledger, subject, "test.outcome", "adverse", test, test.result.word)
            else:
                why = "it was done, and what it came to is not written down"
                if test.unread:
                    why = "nobody wrote down what this sample came to"
                _hole(ledger, subject, "test.outcome", test, why)
        _figure(ledger, subject, test)


def _subject(test: Test, named: dict[str, int]) -> Subject:
    """What was done, where and at what, as a person would call it; a second one like it is numbered."""
    words = [test.test]
    if test.fault:
        words.append(test.fault)
    if test.between:
        words.append(f"between {' and '.join(test.between)}")
    if test.output or test.taken_from:
        words.append(f"at {test.output or test.taken_from}")
    for stated in (test.voltage, test.mains):
        if stated is not None:
            words.append(f"at {stated.text}")
    name = " ".join(words) + which(test)
    named[name] = named.get(name, 0) + 1
    return Subject("test", (name if named[name] == 1 else f"{name} ({named[name]})",))


def _is_open(test: Test) -> bool:
    """Whether it was done and says nothing of what it came to; where it shut down is what an overload came to."""
    if test.unread:
        return True
    if test.result.word == "not done" or test.result.stated is not None:
        return False
    if test.test == "overload" and test.result.word != "unknown" and test.shuts_down_at is not None:
        return False
    return test.result.meaning == "nothing said"


def _figure(ledger: Ledger, subject: Subject, test: Test) -> None:
    """The figure a test came to, under the name that its limit asks for; `none` where no limit asks for it here."""
    stated = test.result.stated
    quantity = _FIGURES.get((test.test, test.result.dimension)) if stated is not None else None
    if stated is None or quantity is None:
        _outcomes_word(ledger, subject, "test.figure", NONE, test)
        return
    _outcomes_word(ledger, subject, "test.figure", quantity.removeprefix("test.").replace("_", " "), test)
    value = stated.value
    if not isinstance(value, Value):
        _hole(ledger, subject, quantity, test, f"{stated.text} is no figure")
        return
    less, more = _CONDITIONS[quantity](ledger, test)
    if test.unseen:  # no sample was tested: it may be any worse
        less, more = (test.unseen, more) if VOCABULARY[quantity].bad < 0 else (less, test.unseen)
    if less:  # under its condition it may be any less
        value = Value(0.0, 0.0, value.far, value.high)
    if more:
        value = Value(value.low, value.near, inf, inf)
    note = "; ".join(dict.fromkeys(filter(None, (less, more))))
    _number(ledger, subject, quantity, value, test, note)


# Why the figure at the condition of its standard may be less than what was read, and why it may be more; '' if not.
Doubt = tuple[str, str]


def _insulation(_: Ledger, test: Test) -> Doubt:
    """A low voltage goes round what a high one breaks through; an alternating one reads no resistance."""
    if test.voltage is None or not isinstance(test.voltage.value, Value):
        return "nobody says at which voltage it was read: at 500 Vdc", ""
    if test.voltage.statistic not in ("", "dc"):
        return f"read at {test.voltage.text}: at 500 Vdc", ""
    return (f"read at {test.voltage.text}, not at 500 Vdc" if test.voltage.value.near < INSULATION_AT else ""), ""


def _earth(_: Ledger, test: Test) -> Doubt:
    """A strand that is left carries a small current and a short one."""
    for stated, least, what in ((test.current, EARTHED_WITH, "current"), (test.time, EARTHED_FOR, "time")):
        if stated is None or not isinstance(stated.value, Value):
            return "", f"nobody says its {what}: 25 A for a minute"
        if stated.value.near < least:
            return "", f"read with {stated.text}: 25 A for a minute"
    return "", ""


def _left(ledger: Ledger, test: Test) -> Doubt:
    """The voltage falls with time, and is the mains' to begin with."""
    time = test.time.value if test.time is not None else None
    low, high = (time.near, time.far) if isinstance(time, Value) else (0.0, inf)
    when = f"read {test.time.text} after" if test.time is not None and isinstance(time, Value) else "nobody says when"
    less = f"{when}: two seconds after the plug was drawn" if low < DISCHARGED else ""
    more = f"{when}: two seconds after the plug was drawn" if high > DISCHARGED else ""
    return less, more or _began(ledger, test)


def _began(ledger: Ledger, test: Test) -> str:
    """Why it may have begun from less than the highest mains of the plate; '' if not."""
    plate = ledger.find(SUPPLY, "plate.mains")
    mains = test.mains.value if test.mains is not None else None
    if not isinstance(mains, Value):
        return "nobody says from which mains: the highest of the plate"
    if plate is None or not isinstance(plate.value, Value) or mains.near < 0.98 * plate.value.far:
        return "the plug was drawn from less than the highest mains of the plate"
    return ""


_CONDITIONS: Final[dict[QuantityName, Callable[[Ledger, Test], Doubt]]] = {
    "test.insulation_resistance": _insulation,
    "test.earth_resistance": _earth,
    "test.voltage_left": _left,
    "test.discharge_time": lambda ledger, test: ("", _began(ledger, test)),
}


def _outcomes_word(
    ledger: Ledger, subject: Subject, quantity: QuantityName, word: str, test: Test, told: str = ""
) -> Entry:
    value = Category((word,), told) if told else Category.of(word)
    return ledger.write(
        subject,
        quantity,
        value,
        known_by=test.known,
        place=test.place,
        formula="outcome of a test",
        source=OUTCOMES_SOURCE,
    )


def _number(
    ledger: Ledger, subject: Subject, quantity: QuantityName, value: Value, test: Test, note: str = ""
) -> Entry:
    return ledger.write(
        subject,
        quantity,
        value,
        known_by=test.known,
        place=test.place,
        formula="test",
        source=OUTCOMES_SOURCE,
        note=note,
        missing=(OpenFact(subject, quantity, f"at its condition: {note}"),) if note else (),
    )


def _hole(ledger: Ledger, subject: Subject, quantity: QuantityName, test: Test, note: str) -> Entry:
    return ledger.hole(subject, quantity, (OpenFact(subject, quantity),), note=note)
