"""Life of the electrolytic capacitors from temperature and ripple current, within the range of the makers' formulas.

The rated life is a maker's figure for a population, the formula a rule: single parts lie within half to twice the
figure (common practice, no source), which stands in the row as its tolerance.
"""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit.life import CREDIBLE, electrolytic_life
from derate.design.paths import leaves
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import Shape, switching_hertz
from derate.stress.ripple_rating import ripple_rating
from derate.stress.supply import air
from derate.terms.values import Curve, Value

HOUR = 3600.0
SPREAD = Value(0.5, 1.0, 1.0, 2.0)


def _life(
    rated_life: float,
    temperature: float,
    ripple: float,
    rated_ripple: float,
    spread: float,
    *,
    rated_temperature: float,
) -> dict[str, float]:
    found = electrolytic_life(
        rated_life / HOUR, rated_temperature, temperature, ripple=ripple, rated_ripple=rated_ripple
    )
    return {"life": min(found.estimate * spread, CREDIBLE) * HOUR}


def life_model(rated_temperature: float) -> Model:
    """Life of a capacitor rated at a temperature [degC]."""

    def solve(**inputs: float) -> dict[str, float]:
        return _life(**inputs, rated_temperature=rated_temperature)

    return Model(
        "life of an electrolytic capacitor", solve,
        {"life": {"rated_life": 1, "temperature": -1, "ripple": -1, "rated_ripple": 1, "spread": 1}},
        "ten-degree rule and core rise, Rubycon technical note 4 and life sheet",
        "rated life × 2^((rated − air) / 10) × ripple term, at most 15 years", falling=frozenset(("life",)),
    )  # fmt: skip


def bulk_names(context: Context) -> tuple[str, ...]:
    """Names of the bulk capacitors."""
    mains = context.structure.mains
    return tuple(leaf.name for e in mains.bulk for leaf in leaves(e)) if mains is not None else ()


def output_names(shape: Shape) -> tuple[str, ...]:
    """Names of all output capacitors, those behind a choke included."""
    walked = (one.walked for one in shape.outputs)
    return tuple(leaf.name for o in walked for e in (*o.capacitors, *o.filtered) for leaf in leaves(e))


def rate_output_capacitors(context: Context, shape: Shape) -> None:
    """Ripple ratings of the output capacitors at the switching frequency."""
    for name in output_names(shape):
        ripple_rating(context, part(name), switching_hertz(shape))


def allowed_case(context: Context, name: str) -> None:
    """Temperature of a capacitor's mark, else the one its life is rated at."""
    subject, ledger = part(name), context.ledger
    marked, life = context.fact(subject, "rated.temperature"), context.fact(subject, "rated.life")
    if marked is not None and isinstance(marked.value, Value):
        ledger.write(
            subject, "allowed.case_temperature", marked.value, known_by=marked.known_by, inputs=(marked.number,),
            rests_on=marked.rests_on, formula="as marked", source="mark", place=marked.place,
        )  # fmt: skip
    elif life is not None and isinstance(life.value, Curve):
        ledger.write(
            subject, "allowed.case_temperature", Value.exact(life.value.greatest), known_by=life.known_by,
            inputs=(life.number,), rests_on=life.rests_on, formula="temperature of the rated life", source="data sheet",
            place=life.place,
        )  # fmt: skip
    else:
        ledger.hole(subject, "allowed.case_temperature", (f"{subject}: rated.temperature",))


def solve_life(context: Context, shape: Shape) -> None:
    """Write the life of every electrolytic bulk and output capacitor."""
    for name in (*bulk_names(context), *output_names(shape)):
        if context.structure.may_be(name, "electrolytic capacitor", "solid electrolytic capacitor"):
            allowed_case(context, name)
    _each(context, bulk_names(context), "ripple_equivalent")
    _each(context, output_names(shape), "ripple_current")


def _each(context: Context, names: Iterable[str], quantity: str) -> None:
    for name in names:
        if not context.structure.may_be(name, "electrolytic capacitor"):
            continue
        subject = part(name)
        for case in context.plan.cases(["life"], ["running"]):
            _one(context, subject, quantity, case)


def _one(context: Context, subject: Subject, quantity: str, case: Case) -> None:
    ledger = context.ledger
    rated = context.fact(subject, "rated.life")
    if rated is None or not isinstance(rated.value, Curve):
        missing = f"{subject}: rated.life" + (" with its temperature" if rated is not None else "")
        ledger.hole(subject, "life", (missing,), case=case)
        return
    at, value = rated.value.points[-1]
    ripple_case = context.plan.cases([quantity], ["running"])[0]
    ripple = context.need(subject, quantity, ripple_case)
    allowed = context.need(subject, "allowed.ripple_current")
    read = context.fact(subject, "case_temperature", case._replace(load=""))
    temperature: Entry = read if read is not None else air(context, subject, case)
    life = ledger.write(
        subject, "rated_life", value, case=Case("life"), known_by=rated.known_by, inputs=(rated.number,),
        rests_on=rated.rests_on, formula=f"rated life at {at:.4g} degC", source="data sheet",
    )  # fmt: skip
    ledger.work_out(
        life_model(at),
        {
            "rated_life": life, "temperature": temperature, "ripple": ripple, "rated_ripple": allowed, "spread": SPREAD,
        },
        [(subject, "life", "life")], case=case,
    )  # fmt: skip
