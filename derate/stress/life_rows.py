"""Life of the electrolytic capacitors from temperature and ripple current, within the range of the makers' formulas.

The rated life is a maker's figure for a population, the formula a rule: single parts lie within half to twice the
figure (common practice, no source), which stands in the row as its tolerance.
"""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit.life import CREDIBLE, electrolytic_life, ripple_rise
from derate.design.paths import leaves
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import STANDING, Shape, switching_hertz
from derate.stress.life_profile import Steady, averaged
from derate.stress.ripple_rating import ripple_rating
from derate.stress.supply import air
from derate.stress.winding_inductance import assumed
from derate.terms.cases import RUNNING
from derate.terms.quantities import QuantityName
from derate.terms.values import Curve, Value

HOUR = 3600.0
SPREAD = Value(0.5, 1.0, 1.0, 2.0)
MOST_EXPONENT = 12.0  # largest that any maker prints [-]; a larger one counts as that, which is the shorter life


def _life(
    rated_life: float,
    temperature: float,
    ripple: float,
    rated_ripple: float,
    spread: float,
    core_rise: float,
    voltage_ratio: float | None = None,
    exponent: float | None = None,
    *,
    rated_temperature: float,
) -> dict[str, float]:
    found = electrolytic_life(
        rated_life / HOUR, rated_temperature, temperature, ripple=ripple, rated_ripple=rated_ripple,
        rated_rise=core_rise, voltage_ratio=voltage_ratio if voltage_ratio is None else min(1.0, voltage_ratio),
        voltage_exponent=exponent if exponent is None else min(MOST_EXPONENT, exponent),
    )  # fmt: skip
    return {"life": min(found.estimate * spread, CREDIBLE) * HOUR}


def life_model(rated_temperature: float, voltage: bool = False) -> Model:
    """Life of a capacitor rated at a temperature [degC]; with a voltage term where its maker gives the exponent.

    A voltage above the rated one counts as the rated one: that is judged by itself.
    """

    def solve(**inputs: float) -> dict[str, float]:
        return _life(**inputs, rated_temperature=rated_temperature)

    signs = {"rated_life": 1, "temperature": -1, "ripple": -1, "rated_ripple": 1, "spread": 1, "core_rise": 0}
    return Model(
        "life of an electrolytic capacitor", solve,
        {"life": signs | ({"voltage_ratio": -1, "exponent": 1} if voltage else {})},
        "ten-degree rule and core rise, Rubycon technical note 4 and life sheet",
        "rated life × 2^((rated − air) / 10) × ripple term, at most 15 years" if not voltage else
        "rated life × 2^((rated − air) / 10) × ripple term × (voltage / rated voltage)^−exponent, at most 15 years",
        falling=frozenset(("life",)),
    )  # fmt: skip


CORE = Model(
    "temperature of the core",
    lambda outside, ripple, rated_ripple, core_rise, share: {
        "core": outside + share * ripple_rise(ripple, rated_ripple, core_rise)
    },
    {"core": {"outside": 1, "ripple": 1, "rated_ripple": -1, "core_rise": 1, "share": 1}},
    "heat of the ripple current, Rubycon life sheet; up to 20 K",
    "air or case + core rise × (ripple / rated ripple)²",
)
RATIO = Model(
    "voltage over rated voltage",
    lambda voltage, rated: {"ratio": voltage / rated},
    {"ratio": {"voltage": 1, "rated": -1}},
    "definition",
    "voltage / rated voltage",
)


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


def _each(context: Context, names: Iterable[str], quantity: QuantityName) -> None:
    for name in names:
        if not context.structure.may_be(name, "electrolytic capacitor"):
            continue
        subject = part(name)
        for case in context.plan.cases(["life"], [RUNNING]):
            _one(context, subject, quantity, case)


def _one(context: Context, subject: Subject, quantity: QuantityName, case: Case) -> None:
    """Life of one capacitor at a case of the plan: at the hottest ambient, or averaged over the hours of the site."""
    ledger = context.ledger
    rated = context.fact(subject, "rated.life")
    if rated is None or not isinstance(rated.value, Curve):
        missing = f"{subject}: rated.life" + (" with its temperature" if rated is not None else "")
        ledger.hole(subject, "life", (missing,), case=case)
        return
    at, value = rated.value.points[-1]
    hottest = context.plan.cases(["core_temperature"], [RUNNING])[0]
    ripple_case = context.plan.cases([quantity], [RUNNING])[0]
    read = context.fact(subject, "case_temperature", hottest)
    outside: Entry = read if read is not None else air(context, subject, hottest)
    life = ledger.write(
        subject, "rated_life", value, case=Case("life"), known_by=rated.known_by, inputs=(rated.number,),
        rests_on=rated.rests_on, formula=f"rated life at {at:.4g} degC", source="data sheet",
    )  # fmt: skip
    inputs: dict[str, Entry | Value | float] = {
        "ripple": context.need(subject, quantity, ripple_case),
        "rated_ripple": context.need(subject, "allowed.ripple_current"), "core_rise": _core_rise(context, subject, at),
    }  # fmt: skip
    # the core is no cooler than the case, and no hotter than by the whole rise over the air
    share = Value.exact(1.0) if read is None else Value.between(0.0, 1.0)
    ledger.work_out(
        CORE, {"outside": outside, "share": share, **inputs}, [(subject, "core_temperature", "core")], case=hottest
    )
    voltage = voltage_term(context, subject)
    one = Steady(subject, life_model(at, bool(voltage)), {"rated_life": life, "spread": SPREAD, **inputs, **voltage})
    steady = one.at(context, outside, hottest)
    if context.plan.averaged:
        averaged(context, one, outside, steady, case)


def _core_rise(context: Context, subject: Subject, rated_at: float) -> Entry:
    """Core rise at the rated ripple current: the maker's, else the range a pack assumes for its rated temperature."""
    stated = context.fact(subject, "rated.core_rise")
    name = "core_rise" if rated_at >= 105.0 else "core_rise_at_85"
    return stated or assumed(context, name, subject, "core_rise", "rated.core_rise")


def voltage_term(context: Context, subject: Subject) -> dict[str, Entry | Value | float]:
    """Inputs of the voltage term: only where the maker gives its exponent, and the voltages are known."""
    exponent, rated = context.fact(subject, "rated.voltage_exponent"), context.fact(subject, "rated.voltage")
    if exponent is None or not isinstance(exponent.value, Value) or rated is None:
        return {}
    if context.structure.places.get(subject.names[0]) == "bulk capacitor":
        voltage = context.fact(subject, "voltage_peak", context.plan.cases(["voltage_peak"], [RUNNING])[0])
    else:
        voltage = context.fact(subject, "voltage", context.plan.cases(["voltage"], [RUNNING])[0])
    if voltage is None:
        return {}
    ratio = context.ledger.work_out(
        RATIO, {"voltage": voltage, "rated": rated}, [(subject, "voltage_ratio", "ratio")], case=STANDING
    )[0]
    return {"voltage_ratio": ratio, "exponent": exponent} if isinstance(ratio.value, Value) else {}
