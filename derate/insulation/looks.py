"""Tests done and things looked at: electric strength, insulation readings, marks, plug and case.

A reading of insulation resistance at 500 V or 1 kV is no proof of electric strength: half a millimetre of air holds
1 kV. A held test says nothing about distances.
"""

from __future__ import annotations

from derate.design.forms import things_of
from derate.design.load import Design
from derate.design.readings import Test
from derate.design.samples import NOT_LOOKED_AT
from derate.insulation.circuits import end_of
from derate.insulation.distances import HOUSEHOLD
from derate.insulation.needed import as_peak
from derate.insulation.row import Writer
from derate.ledger.entry import SUPPLY, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.terms.quantities import named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value
from derate.terms.words import NOT_LOOKED

# How long the type test of electric strength is held [s] (both families, 1 min; printed in several reports).
TYPE_TEST = 60.0


def sides_of(test: Test, design: Design) -> tuple[str, ...]:
    """The two circuits a test was done between, sorted; a mains conductor counts as primary."""
    found = []
    for point in test.between:
        side = end_of(point, design).side
        found.append("primary" if side in ("line", "neutral", "after") else side)
    return tuple(sorted(found))


def strength_tests(writer: Writer, pair: Subject, design: Design) -> None:
    """Voltage (as a peak), time and outcome of the electric-strength test of a pair; holes where there is none."""
    wanted = tuple(sorted(pair.names))
    own = [one for one in design.tests if sides_of(one, design) == wanted]
    tests = [one for one in own if one.test == "electric strength"]
    if not tests:
        _none(writer, pair, own)
        return
    test = _of_all_samples(tests)
    if test.result.meaning == "nothing said":
        writer.hole(pair, "test.result", (OpenFact(pair, "test.result"),), note=_not_shown(test))
        writer.hole(pair, "test.voltage", (OpenFact(pair, "test.voltage"),), note=_no_proof(own))
        return
    if not test.is_adverse and (routine := _is_routine(test)):
        fact = OpenFact(pair, "test.result" if test.unseen else "test.time")
        writer.hole(pair, "test.result", (fact,), note=routine)
        writer.hole(pair, "test.voltage", (fact,), note=routine)
        return
    writer.row(
        pair,
        "test.result",
        Category.of(_as_judged(test)),
        formula="electric-strength test",
        place=test.place,
        known_by=test.known,
    )
    time = test.time
    if time is not None and isinstance(time.value, Value):
        writer.row(
            pair, "test.time", time.value, formula="electric-strength test", place=test.place, known_by=test.known
        )
    else:
        writer.hole(pair, "test.time", (OpenFact(pair, "test.time"),))
    _voltage(writer, pair, test, "test.voltage")


def _not_shown(test: Test) -> str:
    if test.unread and test.sample is not None:
        return f"the electric-strength test of {test.sample.words} is not written down"
    return "the electric-strength test was not done"


def _of_all_samples(tests: list[Test]) -> Test:
    """The test that speaks for every sample: of each its surest one, and of those the one that shows least.

    A breakdown counts whatever else held, before it or after a repair.
    """
    by: dict[int, list[Test]] = {}
    for one in tests:
        by.setdefault(one.sample.number if one.sample is not None else 0, []).append(one)
    own = [max(each, key=lambda one: (not one.done, not _is_routine(one), _volts(one))) for each in by.values()]
    unread = [one for one in tests if one.unread]
    broke = next((one for one in tests if one.is_adverse), None)
    if broke is not None or len(own) == 1:
        return broke or own[0]
    if unread:
        return unread[0]
    return min(own, key=lambda one: (one.result.meaning != "nothing said", not _is_routine(one), _volts(one)))


def other_breakdowns(writer: Writer, judged: set[tuple[str, ...]], design: Design) -> None:
    """Adverse electric-strength tests between circuits that no requirement is about: each a pair of its own, heard."""
    for test in design.tests:
        sides = sides_of(test, design)
        if test.test != "electric strength" or not test.is_adverse or sides in judged or is_of_tape(test):
            continue
        writer.row(
            Subject("circuit pair", sides),
            "test.result",
            Category.of(test.result.word),
            formula="electric-strength test",
            place=test.place,
            known_by=test.known,
        )


def is_of_tape(test: Test) -> bool:
    """Whether single layers of tape were tested, not two circuits."""
    return any("layer" in point and "tape" in point for point in test.between)


def _is_routine(test: Test) -> str:
    """Why a test is no type test, in words; '' where it was held for a minute.

    A second, at most three, is what a factory gives every piece (routine test): it finds a missing tape, and shows
    nothing of what a minute shows.
    """
    if test.unseen:
        return f"{test.unseen}: nobody says that a sample was tested"
    time = test.time.value if test.time is not None else None
    if not isinstance(time, Value):
        return "nobody says for how long it was held: a minute is the type test"
    if time.near < TYPE_TEST:
        return "held for less than a minute: that is a routine test, and the type test is not on record"
    return ""


def _as_judged(test: Test) -> str:
    """The outcome as rules ask for it: every favourable word is `held`, an adverse one stays what it is."""
    return "held" if test.is_favourable else test.result.word


def _none(writer: Writer, pair: Subject, own: list[Test]) -> None:
    note = _no_proof(own)
    for name in ("test.voltage", "test.result"):
        writer.hole(pair, name, (OpenFact(pair, name),), note=note)
    for test in own:
        voltage = test.voltage
        if test.test == "insulation resistance" and voltage is not None and isinstance(voltage.value, Value):
            writer.row(
                pair,
                "insulation_reading.voltage",
                voltage.value,
                formula="insulation-resistance reading",
                place=test.place,
                known_by=test.known,
                note="supporting evidence only",
            )


def _no_proof(own: list[Test]) -> str:
    for test in own:
        voltage = test.voltage
        if test.test == "insulation resistance" and voltage is not None:
            return (
                f"an insulation reading at {voltage.text} is no electric-strength test: it is far below the test "
                "voltage, and half a millimetre of air holds 1 kV"
            )
    return ""


def _volts(test: Test) -> float:
    stated = test.voltage
    if stated is None or not isinstance(stated.value, Value):
        return 0.0
    return as_peak(stated.value.near, stated.statistic) or 0.0


def _voltage(writer: Writer, subject: Subject, test: Test, name: QuantityName) -> None:
    stated = test.voltage
    if stated is None or not isinstance(stated.value, Value):
        writer.hole(subject, name, (OpenFact(subject, name),))
        return
    if not stated.statistic:
        writer.hole(subject, name, (OpenFact(subject, name),), note=f"{stated.text}: write Vac, Vdc or Vpk")
        return
    if writer.family.name == HOUSEHOLD and stated.statistic == "dc":
        writer.hole(subject, name, note="this family tests with alternating voltage; a dc test is not compared with it")
        return
    numbers = [as_peak(one, stated.statistic) for one in stated.value.numbers()]
    value = Value(*(one for one in numbers if one is not None))
    writer.row(
        subject,
        name,
        value,
        formula=f"{stated.text} as a peak",
        place=test.place,
        known_by=test.known,
        note="1.414 times an rms voltage; dc as it is",
    )


def tape_tests(writer: Writer, transformer: Subject, design: Design) -> None:
    """A test of single layers of the real tape: `between: [one layer of tape, T1]`."""
    # A breakdown counts, whatever held before or after it: those that did not hold come first.
    # So does one that nobody wrote down of a sample: it may not have held.
    for test in sorted(design.tests, key=lambda one: (not one.is_adverse, not one.unread)):
        if test.test == "electric strength" and is_of_tape(test):
            if len(transformer.names) == 1 and transformer.names[0] not in test.between and len(design.layers) > 1:
                continue
            if test.result.meaning == "nothing said" and not test.unread:
                continue
            if test.unread:
                break
            _tape_test(writer, transformer, test)
            return
    for name in ("tape_test.voltage", "tape_test.result"):
        writer.hole(transformer, name, (OpenFact(transformer, name),))


def _tape_test(writer: Writer, transformer: Subject, test: Test) -> None:
    writer.row(
        transformer,
        "tape_test.result",
        Category.of(_as_judged(test)),
        formula="electric strength of single layers",
        place=test.place,
        known_by=test.known,
    )
    layers = writer.find(transformer, "found.tape_layers")
    few = layers is None or not isinstance(layers.value, Value) or layers.value.near < 3
    if any("two layers" in point for point in test.between) and few:
        note = "two layers together were tested, and fewer than three are wound: one alone has to hold"
        writer.hole(transformer, "tape_test.voltage", (OpenFact(transformer, "tape_test.voltage"),), note=note)
    elif test.is_favourable and (routine := _is_routine(test)):
        fact = OpenFact(transformer, "tape_test.voltage" if test.unseen else "test.time")
        writer.hole(transformer, "tape_test.voltage", (fact,), note=routine)
    elif test.is_favourable:
        _voltage(writer, transformer, test, "tape_test.voltage")
    else:
        told = f"single layers {test.result.word}"
        writer.row(transformer, "tape_test.voltage", Value.exact(0.0), formula=told, place=test.place)


def withstand_row(writer: Writer, barrier: Subject, part: Subject) -> None:
    """What an optocoupler withstands between its sides by its data sheet, as a peak; a plain V is not guessed at."""
    rated = writer.ledger.find(part, "rated.voltage")
    if rated is None or not isinstance(rated.value, Value):
        writer.hole(barrier, "found.withstand", (OpenFact(part, "rated.voltage"),))
        return
    numbers = [as_peak(one, rated.statistic) for one in rated.value.numbers()]
    if any(one is None for one in numbers):
        writer.hole(barrier, "found.withstand", (OpenFact(part, "rated.voltage"),), note="write Vrms, Vac, Vdc or Vpk")
        return
    value = Value(*(one for one in numbers if one is not None))
    writer.row(barrier, "found.withstand", value, formula="isolation voltage of the part, as a peak", inputs=[rated])


def inspection_rows(ledger: Ledger, design: Design) -> None:
    """What was looked at: found, absent, or a hole where nobody looked; marks of the plate. Of no family: whatever
    packs are loaded, a look is one."""
    inspection = design.file.inspection
    said = dict(inspection.stated())
    for key in inspection.fields:
        stated, name = said.get(key), named(f"inspection.{key}")
        value = stated.value if stated is not None else None
        fact = OpenFact(SUPPLY, name)
        if stated is None or not isinstance(value, Category | Value) or stated.word in NOT_LOOKED:
            ledger.hole(SUPPLY, name, (fact,), note="not looked at")
            continue
        block = design.known_by.get(stated.place.path, {}).get("inspection")
        # where nobody says otherwise, a look says how it is known by being one
        known_by = stated.known_by or block or ("measured" if isinstance(value, Value) else "seen")
        rests = frozenset((fact,)) if known_by in NOT_LOOKED_AT else frozenset()
        ledger.write(SUPPLY, name, value, formula="inspection", place=stated.place, known_by=known_by, rests_on=rests)
    _touched(ledger, design)
    marks = design.file.supply.plate.marks
    if marks is not None and ledger.find(SUPPLY, "plate.marks") is None:
        ledger.write(SUPPLY, "plate.marks", Category.of(*marks), formula="marks of the plate", known_by="marked")


_TOUCHED: tuple[tuple[QuantityName, QuantityName], ...] = (
    ("inspection.touchable_metal", "touchable_metal.judged"),
    ("inspection.touchable_leads", "touchable_leads.judged"),
)
_MAINS_SIDES = ("line", "neutral", "after", "primary")


def _touched(ledger: Ledger, design: Design) -> None:
    """Whether what can be touched is held to the distances of such a part: by a place of its own from the mains side.

    Its own is the place that is called as the look calls the thing: a place to the case says nothing of a screw, nor
    one of a screw of an antenna. Metal on a protective earth has a place to it; a lead that leaves the case is not on
    it, and what keeps it from the mains side is no basic insulation to earth.
    """
    earthed = "touchable" in (design.structure.earth or ())
    reached: dict[str, set[str]] = {}
    for name, block in design.file.barriers.items():
        sides = {end_of(point, design).side for point in block.between}
        if not sides.isdisjoint(_MAINS_SIDES):
            reached.setdefault(_called(name), set()).update(sides)
    for look, judged in _TOUCHED:
        said = ledger.find(SUPPLY, look)
        stated = getattr(design.file.inspection, look.partition(".")[2])
        things = things_of(stated) if said is not None and isinstance(said.value, Category) else ()
        enough = {"touchable", "earth"} if earthed and look == "inspection.touchable_metal" else {"touchable"}
        bare = [one for one in things if enough.isdisjoint(reached.get(_called(one), set()))]
        inputs = (said.number,) if said is not None else ()
        if things and not bare:
            words = "the place between the mains side and it is described"
            ledger.write(SUPPLY, judged, Category.of("yes"), formula=words, inputs=inputs, known_by="computed")
        elif bare:
            between = "[primary, touchable]"
            facts = tuple(OpenFact(Subject("barrier", (one,)), "barrier.between", between) for one in bare)
            it = "it" if len(bare) == 1 else "each"
            note = f"describe under barriers, called {' and '.join(bare)}, the place between the mains side and {it}"
            ledger.hole(SUPPLY, judged, facts, note=note, inputs=inputs)
        else:
            fact = OpenFact(SUPPLY, "barrier.between", "[primary, touchable]")
            note = "describe under barriers, for each, the place between the mains side and what can be touched"
            ledger.hole(SUPPLY, judged, (fact,), note=note)


def _called(text: str) -> str:
    return " ".join(text.lower().split())
