"""A lost neutral, or a wrong terminal: the voltage between lines at a supply made for one line and the neutral.

Where the neutral of a building opens a socket gets up to the voltage between two lines (IEC 60364-4-44:2007
clause 442.3, from memory: √3 of that to the neutral; of a split phase, and of 120 V, twice that). What is then over its
voltage, a varistor that conducts or a bulk capacitor charged to the higher crest, ends as a short sooner or later. It
ends well where something made to open is shown to open on that short and may break that voltage. What happens
otherwise shows only a fault test: nothing here proves that it burns, unless nothing made to open stands in the path.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf, sqrt

from derate.design.readings import Test
from derate.design.structure import Element, Leaf, MainsInput
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact
from derate.ledger.ledger import Ledger
from derate.stress.context import Context, Inputs, part
from derate.stress.faults.mains_path import FULL
from derate.stress.faults.rows import MAINS, Fault, nothing_to_open, ohms_of, opens, path, protective_parts, tell
from derate.stress.mains.line import inductance_ahead, mains_resistance, total
from derate.terms.quantities import FAULT
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value

NAME = "neutral lost"
WITHIN, CLEARED, NOT_CLEARED = "nothing over its voltage", "cleared", "nothing opens"
# Of 150 V and less to the neutral the mains may be a split phase: twice as much between its lines. Above it there are
# three: √3 of it.
SPLIT_PHASE = 150.0
_BREAKS: dict[str, QuantityName] = {
    "fuse": "rated.voltage",
    "fusible film resistor": "rated.voltage_after_opening",
    "fusible wirewound resistor": "rated.voltage_after_opening",
}


def lost_neutral(context: Context, mains: MainsInput) -> None:
    """Write the voltage between lines, the fault's rows, and as a standing row of the mains side what becomes of it."""
    ledger, plate, plan = context.ledger, context.fact(SUPPLY, "plate.mains"), context.plan
    if plate is None or not isinstance(plate.value, Value) or plan.mains is None or plan.frequency is None:
        ledger.hole(MAINS, "neutral_lost", (OpenFact(SUPPLY, "plate.mains"),))
        return
    between = 2.0 if plate.value.far <= SPLIT_PHASE else sqrt(3.0)
    volts = Value(plate.value.far, plate.value.far, plan.mains[1], plan.mains[1]).scaled(between)
    row = ledger.write(
        MAINS,
        "voltage_between_lines",
        volts,
        known_by="computed",
        inputs=(plate.number,),
        formula="twice the highest mains of the plate" if between == 2.0 else "√3 × the highest mains of the plate",
        source="IEC 60364-4-44:2007 clause 442.3, from memory",
    )
    over, open_facts = _stressed(context, mains, volts)
    case = Case(FAULT, volts.near, plan.frequency[0], widened=True, fault=NAME)
    series = (*mains.series, *mains.behind)
    fault = Fault(NAME, next(iter((*mains.rectifier, *series)), ""), "full wave", series)
    if not fault.part:
        ledger.hole(MAINS, "neutral_lost", (OpenFact(SUPPLY, "circuit.line"),))
        return
    if not over:
        words = (WITHIN,) if not open_facts else (WITHIN, CLEARED, NOT_CLEARED)
        why = f"no varistor and no bulk capacitor is over its voltage at {volts.near:.4g} V"
        if open_facts:
            ledger.hole(part(fault.part), "opening", open_facts, case=case, note=f"{volts.near:.4g} V stand on it")
        else:
            nothing_to_open(context, fault, case, why, (row.number,))
        _word(context, words, row, open_facts, "" if open_facts else why)
        return
    _short(context, mains, fault, case, row, "; ".join(over))


def _stressed(context: Context, mains: MainsInput, volts: Value) -> tuple[list[str], tuple[OpenFact, ...]]:
    """What is over its voltage between lines, in words, and the ratings without which nobody can say."""
    over: list[str] = []
    lacks: list[OpenFact] = []
    for shunt in mains.shunts:
        for name in () if shunt.to_earth else shunt.names:
            if not context.structure.may_be(name, "varistor"):
                continue
            rated = context.value(part(name), "rated.voltage")
            if rated is None:
                lacks.append(OpenFact(part(name), "rated.voltage"))
            elif volts.near > rated.far:
                over.append(f"{name} of {rated.far:.4g} V conducts at {volts.near:.4g} V")
            elif volts.far > rated.near:
                lacks.append(OpenFact(part(name), "rated.voltage"))
    crest = volts.scaled(sqrt(2.0))
    for element in mains.bulk:  # of a doubler each is charged to the crest
        for names in _strings(element):
            found = [_bears(context, name) for name in names]
            known = [one for one in found if one is not None]
            if len(known) < len(found):
                missing = (name for name, one in zip(names, found, strict=True) if one is None)
                lacks += [OpenFact(part(name), "rated.voltage") for name in missing]
                continue
            if crest.near > sum(one.far for one in known):
                over.append(f"{' + '.join(names)} charged to {crest.near:.4g} V")
            elif crest.far > sum(one.near for one in known):
                lacks += [OpenFact(part(name), "rated.surge_voltage") for name in names]
    return over, tuple(dict.fromkeys(lacks))


def _strings(element: Element) -> Iterator[tuple[str, ...]]:
    """What shares a voltage: each capacitor of its own, and those in series together."""
    if isinstance(element, Leaf):
        yield (element.name,)
    elif element.joined == "series":
        yield tuple(leaf.name for leaf in element.members if isinstance(leaf, Leaf))
    else:
        for member in element.members:
            yield from _strings(member)


def _bears(context: Context, name: str) -> Value | None:
    """What a capacitor bears for a while [V]: its surge voltage, else its rated one."""
    return context.value(part(name), "rated.surge_voltage") or context.value(part(name), "rated.voltage")


def _short(context: Context, mains: MainsInput, fault: Fault, case: Case, row: Entry, over: str) -> None:
    """Whether anything opens on the short that it ends as; what may not break that voltage is not shown to."""
    made = tuple(name for name in protective_parts(context, fault.ahead) if context.structure.may_be(name, *_BREAKS))
    volts = row.value
    assert isinstance(volts, Value)
    note = f"between lines {over}; "
    if not made:
        tell(context, fault, case, row, [], [], note)
        _word(context, (NOT_CLEARED,), row, (), f"{note}nothing that is made to open stands in the path")
        return
    able, why, lacks = [], [], [OpenFact(MAINS, "neutral_lost")]
    for name in made:
        quantity = next(_BREAKS[kind] for kind in _BREAKS if context.structure.may_be(name, kind))
        rated = context.value(part(name), quantity)
        if rated is None:
            lacks.append(OpenFact(part(name), quantity))
        elif rated.near >= volts.far:
            able.append(name)
        else:
            why.append(f"{name} may break {rated.near:.4g} V, and {volts.far:.4g} V stand on it")
    if able:
        rows = path(context, fault)
        resistance = total(context, [*rows, ("mains", mains_resistance(context))], Case("fault path", fault=NAME))
        inputs: Inputs = {"frequency": case.frequency or 50.0, "resistance": resistance}
        given = {**inputs, "mains": row, "inductance": inductance_ahead(context, mains)}
        current = context.ledger.work_out(FULL, given, [(part(fault.part), "fault_current", "rms")], case=case)[0]
        if isinstance(current.value, Value):
            found = [opens(context, name, current.value, ohms_of(rows, name)) for name in able]
            if any(one.shown for one in found):
                tell(context, fault, case, current, found, rows, note)
                _word(context, (CLEARED,), row, (), note.rstrip("; "), current)
                return
            why += [one.why for one in found]
            lacks += [fact for one in found for fact in one.lacks]
        else:
            lacks += current.missing
    told = f"{note}{'; '.join(why) or 'what it may break is not known'}; what becomes of it shows only a fault test"
    context.ledger.hole(part(fault.part), "opening", lacks, case=case, note=f"for the bench: {told}", mark="bench")
    _word(context, (CLEARED, NOT_CLEARED), row, tuple(dict.fromkeys(lacks)), told)


def tried(ledger: Ledger, tests: Iterable[Test]) -> None:
    """What was seen with the neutral lost overrules what is worked out; well it ends at no less than that voltage."""
    row = ledger.find(MAINS, "voltage_between_lines")
    least = row.value.near if row is not None and isinstance(row.value, Value) else inf
    own = tuple(tests)
    unread = any(one.unread and one.fault.strip().lower() == NAME for one in own)  # a sample that may not have held
    for test in own:
        if test.test != "fault" or test.fault.strip().lower() != NAME or not (test.is_adverse or test.is_favourable):
            continue
        mains = test.mains.value if test.mains is not None else None
        enough = isinstance(mains, Value) and mains.near >= least and not (test.unseen or unread)
        if test.is_adverse or enough:
            word = NOT_CLEARED if test.is_adverse else CLEARED
            ledger.write(
                MAINS,
                "neutral_lost",
                Category.of(word),
                known_by=test.known,
                place=test.place,
                formula="outcome of a fault test",
                source="tests of this sample",
            )
        if test.is_adverse:
            return


def _word(
    context: Context, words: Iterable[str], row: Entry, missing: tuple[OpenFact, ...], note: str, *more: Entry
) -> None:
    context.ledger.write(
        MAINS,
        "neutral_lost",
        Category.of(*words),
        known_by="computed",
        inputs=(row.number, *(one.number for one in more)),
        formula="what is over its voltage between lines, and what opens on it",
        source="the ratings of the parts",
        missing=missing,
        note=note,
        rests_on=frozenset().union(*(one.rests_on for one in (row, *more))),
    )
