"""An overload held just below shut-down to a steady temperature: winding and case, carried to the hottest ambient.

A reading counts as steady where it says that it was taken an hour and more after (common practice, no source: a supply
of under 100 W has settled by then); of a shorter one, or one that does not say, only that it is at least so hot.
"""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit.thermal import ERROR
from derate.design.readings import Test
from derate.ledger.entry import SUPPLY, Subject
from derate.stress.context import Context
from derate.stress.magnetics_rows import CLASSES, HOT_SPOT
from derate.stress.ports import Taken, write_taken
from derate.terms.quantities import QuantityName
from derate.terms.values import Category, Value

STEADY = 3600.0
# Greatest winding temperature in overload by insulation class, less 10 K between thermocouple and hot spot. Class B is
# the 165 degC of a laboratory report; the others keep the steps of the classes in overload (remembered).
IN_OVERLOAD = {"A": 150.0, "E": 165.0, "B": 175.0, "F": 190.0, "H": 210.0}
_BROKE = ("failed", "broke down", "opened")


def held_in_overload(context: Context, taken: Sequence[Taken], tests: Sequence[Test]) -> None:
    """Write what was read while the load was held just below shut-down, and whether it was."""
    ledger = context.ledger
    own = [one for one in taken if one[0].load == "overload"]
    transformers = {Subject("transformer", (name.partition(".")[0],)) for name in context.structure.windings}
    for subject in sorted(transformers):
        found = [
            one for one in own
            if one[1].quantity in ("winding_temperature", "case_temperature") and _of(context, one[1].target, subject)
        ]  # fmt: skip
        _temperature(context, subject, "overload_winding_temperature", found)
        _allowed(context, subject)
    case = [one for one in own if one[1].quantity == "case_temperature" and one[1].target == "enclosure"]
    _temperature(context, SUPPLY, "overload_enclosure_temperature", case)
    broke = next((one for one in tests if one.test == "overload" and one.words.get("result") in _BROKE), None)
    if broke is not None:
        ledger.write(SUPPLY, "overload_held", Category.of("no"), known_by="measured", place=broke.place,
                     formula="overload test", source="tests of this sample")  # fmt: skip
    elif any(_steady(one) for one in own):
        ledger.write(SUPPLY, "overload_held", Category.of("yes"), known_by="measured", formula="readings in overload",
                     source="readings of this sample")  # fmt: skip
    else:
        ledger.hole(SUPPLY, "overload_held", ("supply: overload_held",))


def _of(context: Context, target: str, transformer: Subject) -> bool:
    return target == transformer.names[0] or target in context.structure.windings and (
        target.partition(".")[0] == transformer.names[0])  # fmt: skip


def _steady(one: Taken) -> bool:
    condition = one[1].condition
    after = condition.after.value if condition is not None and condition.after is not None else None
    return isinstance(after, Value) and after.near >= STEADY


def _temperature(context: Context, subject: Subject, quantity: QuantityName, found: Sequence[Taken]) -> None:
    ledger = context.ledger
    ledger.write(subject, "overload_read", Category.of("yes" if found else "no"), known_by="computed",
                 formula="readings in overload", source="readings of this sample")  # fmt: skip
    if not found:
        ledger.hole(subject, quantity, (f"{subject}: {quantity}",))
        return
    hottest = context.plan.ambient[1] if context.plan.ambient is not None else None
    known = [one for one in found if one[0].ambient is not None]
    if hottest is None or len(known) < len(found):
        missing = "supply: site.ambient" if hottest is None else f"{subject}: ambient of its {quantity}"
        ledger.hole(subject, quantity, (missing,))
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
        write_taken(context, subject, quantity, Value.floor(max(near)), known,
                    f"at least: not said to have been held for an hour; {note}")  # fmt: skip


def _allowed(context: Context, transformer: Subject) -> None:
    """The limit of the insulation class in overload; of one not known, anything from the lowest to the highest."""
    word = context.word(transformer, "transformer.insulation_class")
    stated = context.fact(transformer, "transformer.insulation_class")
    limits = [IN_OVERLOAD[one] - HOT_SPOT for one in CLASSES if word in (one, None)]
    context.ledger.write(
        transformer, "allowed.overload_winding_temperature", Value.between(min(limits), max(limits)),
        known_by=stated.known_by if stated is not None and word is not None else "computed",
        inputs=(stated.number,) if stated is not None else (), rests_on=stated.rests_on if stated is not None else
        frozenset(), formula="class in overload less 10 K to the hot spot",
        note="" if word is not None else "the insulation class is not known",
        source="165 degC of class B in a laboratory report; other classes remembered",
    )  # fmt: skip
