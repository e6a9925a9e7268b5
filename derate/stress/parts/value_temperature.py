"""What heat and cold make of the marked value of a part, where its file states a coefficient.

The tolerance of a part is purchase, temperature and age. A stated coefficient widens low..high of the value that all
else is worked out from, so that no limit is held to a part as it is at 25 degC alone.
"""

from __future__ import annotations

from math import inf

from derate.circuit.elementary import total
from derate.circuit.thermal import MARKED_AT, MOVED, VALUE_BY_SHARE
from derate.design.kinds import WARMED
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context
from derate.terms.quantities import named
from derate.terms.values import Category, Value
from derate.terms.words import DIODES

COLDEST = -40.0  # of a site whose ambient nobody stated [degC]: house figure, below any room
_SOURCE = "definition of the temperature coefficient; marked at 25 degC"
_MOVED = Model.of("what its temperature adds", MOVED, _SOURCE, "coefficient × (T − 25 degC)")
_BY_SHARE = Model.of("value at its temperature", VALUE_BY_SHARE, _SOURCE, "value × (1 + share)")
_BY_SHIFT = Model.of("voltage at its temperature", total("value", "marked", "shift"), _SOURCE, "voltage + shift")
_LIMITED_BY_JUNCTION = (*DIODES, "shunt reference", "linear regulator")


def warm_values(context: Context) -> None:
    """Write the value of every part with a coefficient once more, as far as its temperature moves it."""
    for subject in context.ledger.subjects("part"):
        share = context.fact(subject, "part.temperature_coefficient")
        slope = context.fact(subject, "part.temperature_slope")
        for stated in (share, slope):
            if stated is not None and isinstance(stated.value, Value):
                _warm(context, subject, stated, stated is share)


def _warm(context: Context, subject: Subject, stated: Entry, by_share: bool) -> None:
    kinds = context.fact(subject, "part.kind")
    words = kinds.value.members if kinds is not None and isinstance(kinds.value, Category) else tuple(WARMED)
    taken = {word: WARMED[word] for word in words if word in WARMED}
    quantities = dict.fromkeys(quantity for quantity, _ in taken.values())
    rows = [row for one in quantities if (row := context.fact(subject, named(one))) is not None]
    values = [row for row in rows if isinstance(row.value, Value)]
    if not values:
        return
    temperature = _temperature(context, subject, tuple(taken))
    adds = named("temperature_share" if by_share else "temperature_shift")
    given = {"coefficient": stated, "temperature": temperature}
    (moved,) = context.ledger.work_out(_MOVED, given, [(subject, adds, "moved")])
    for row in values:
        own = {"value": row, "share": moved} if by_share else {"marked": row, "shift": moved}
        context.ledger.work_out(_BY_SHARE if by_share else _BY_SHIFT, own, [(subject, row.quantity, "value")])


def _temperature(context: Context, subject: Subject, kinds: tuple[str, ...]) -> Entry:
    """From the coldest ambient of the site to the hottest that the part stands: beyond that it fails by itself.

    No temperature that is worked out is taken: it may hang on the value, and a cooler part moves less.
    """
    ambient = context.fact(SUPPLY, "site.ambient")
    cold, warm = COLDEST, MARKED_AT
    used = []
    if ambient is not None and isinstance(ambient.value, Value):
        low, high = ambient.value.low, ambient.value.high
        # One figure, or an end alone, says how hot it gets or how cold, and not both: it may only widen.
        cold = low if -inf < low < high < inf else min(COLDEST, low if low > -inf else COLDEST)
        warm = high if high < inf else MARKED_AT
        used.append(ambient.number)
    hot = max(WARMED[kind][1] for kind in kinds)
    names = [named("rated.junction")] if all(kind in _LIMITED_BY_JUNCTION for kind in kinds) else []
    for quantity in (*names, named("rated.temperature")):
        rating = context.fact(subject, quantity)
        if rating is not None and isinstance(rating.value, Value) and rating.value.high < inf:
            hot = rating.value.high
            used.append(rating.number)
            break
    return context.ledger.write(
        subject,
        "value_temperature",
        Value(min(cold, MARKED_AT), MARKED_AT, MARKED_AT, max(hot, warm, MARKED_AT)),
        known_by="computed",
        formula="coldest ambient to hottest part",
        source="house figures where no ambient and no rating is stated",
        inputs=tuple(used),
    )
