"""Requirement rows of one barrier: insulation, distances, electric strength, each step to be redone by hand."""

from __future__ import annotations

from fractions import Fraction
from math import inf

from derate.insulation import distances as steps
from derate.insulation.circuits import UNKNOWN_ROLE, Need, Site
from derate.insulation.distances import (
    BASIC_STANDARD,
    HOUSEHOLD,
    IT_EQUIPMENT,
    LAMPS,
    MICROMETRE,
    ROOT_TWO,
    Family,
    Found,
    NoRow,
    exact,
    millimetres,
    read,
    temporary_overvoltage,
    volts,
)
from derate.insulation.row import Writer, confidence_of
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject, listed_facts
from derate.ledger.ledger import wide_facts
from derate.terms.frozen import replace
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value
from derate.terms.words import Confidence, weaker_confidence

# Electric strength needed of one insulation [V peak]: rms, peak and dc are never mixed up.
#
# 62368-1 tests with a peak or a dc voltage, 60335-1 with an rms one, 60664-1 follows from the temporary overvoltage.
# Everything is held as a peak; the words name the rms value that belongs to it.


def needed_strength(
    family: Family, mains: Fraction, impulse: Fraction, peak: Fraction, rms: Fraction, insulation: str
) -> Found:
    """Test voltage needed [V peak] for one minute, as a type test.

    mains: nominal to neutral [V rms]; impulse: to be held [V peak]; peak, rms: working voltage [V]
    """
    column = "reinforced" if insulation == "reinforced" else "basic"
    if family.name == IT_EQUIPMENT:
        by_impulse = read(family.table("strength_by_impulse"), impulse, insulation=column)
        by_mains = read(family.table("strength_by_mains"), mains, insulation=column)
        share = read(family.table("strength_by_working_voltage"), insulation=column)
        held = peak * share.value
        by_working = Found(held, share.confidence, f"{float(share.value):g} x {volts(peak)} = {volts(held)}")
        words = (
            f"largest of {volts(by_impulse.value)} by transient, {volts(by_working.value)} by working voltage "
            f"({by_working.words}) and {volts(by_mains.value)} by temporary overvoltage"
        )
        largest = max((by_impulse, by_mains, by_working), key=lambda one: one.value)
        return Found(largest.value, largest.confidence, words)
    if family.name == BASIC_STANDARD:
        temporary = temporary_overvoltage(family, mains)
        share = read(family.table("strength_by_overvoltage"), insulation=column)
        value = temporary.value * share.value
        words = f"{float(share.value):g} x temporary overvoltage {volts(temporary.value)} = {volts(value)}"
        return Found(value, weaker_confidence(temporary.confidence, share.confidence), words)
    if family.name == HOUSEHOLD:
        column = insulation if insulation == "supplementary" else column
        if rms > 250:
            share = read(family.table("strength_above_250_v_share"), insulation=column)
            added = read(family.table("strength_above_250_v_added"), insulation=column)
            value = share.value * rms + added.value
            sure = weaker_confidence(share.confidence, added.confidence)
            found = Found(value, sure, f"{float(share.value):g} x {volts(rms)} + {volts(added.value)}")
        else:
            found = read(family.table("strength"), mains, insulation=column)
        words = f"{found.words} = {volts(found.value)} rms = {volts(found.value * ROOT_TWO)} peak"
        return Found(found.value * ROOT_TWO, found.confidence, words)
    if family.name == LAMPS:
        return lamp_strength(family, rms, insulation, "strength_added")
    raise NoRow(f"nothing was read on electric strength in {family.name}")


def lamp_strength(family: Family, rms: Fraction, insulation: str, added: str) -> Found:
    """60598-1 and beside it: a multiple of the working voltage and a voltage more [V peak], for one minute.

    rms: working voltage [V], no less than the row of the mains; added: name of the table of what is added
    Source: IEC 61347-1 clause 12 (2 U + 1000 V, 4 U + 2000 V) and IEC 62560 clause 8 (4 U + 2750 V).
    """
    column = insulation if insulation in ("supplementary", "reinforced") else "basic"
    share, more = read(family.table("strength_share"), insulation=column), read(family.table(added), insulation=column)
    value = share.value * rms + more.value
    words = f"{float(share.value):g} x {volts(rms)} + {volts(more.value)} = {volts(value)} rms"
    sure = weaker_confidence(share.confidence, more.confidence)
    return Found(value * ROOT_TWO, sure, f"{words} = {volts(value * ROOT_TWO)} peak")


def strength_above_30_khz(peak: Fraction, breakdown_share: Fraction, reinforced: bool) -> Fraction:
    """62368-1: test of solid insulation that works above 30 kHz [V peak, whole volts up]: 1.2 x (2) x V / K_R.

    peak: recurring working voltage [V]; breakdown_share: K_R of the material at the frequency, 0 to 1 [-]
    Source: four reports to IEC 62368-1:2018, clause 5.4.4.9 (4010 V for 568 V and 0.34).
    """
    if not 0 < breakdown_share <= 1:
        raise ValueError(f"K_R is {float(breakdown_share):g}: state a value above 0, at most 1")
    value = Fraction(6, 5) * (2 if reinforced else 1) * peak / breakdown_share
    return Fraction(-int(-value // 1))


def as_peak(voltage: float, statistic: str) -> float | None:
    """A test voltage as a peak [V]: rms times 1.414; dc and peak as they are; None when it does not say what it is."""
    if statistic == "rms":
        return voltage * 2**0.5
    return voltage if statistic in ("dc", "peak") else None


# Requirement rows of one barrier: insulation, clearance and creepage, each step a row that can be redone by hand.


FAST = 30e3  # Hz: above it other tables hold for recurring voltages
_DEGREES = ("1", "2", "3")
_GROUPS = ("I", "II", "IIIa", "IIIb")


class Voltages(NamedTuple):
    """Working voltage across a place: rms for creepage and peak for clearance, and whether it recurs fast."""

    rms: Entry
    peak: Entry
    fast: bool = False


def _strength(word: str) -> int:
    """How much an insulation is; basic and supplementary are alike, and what is no insulation is least."""
    return {"functional": 1, "basic": 2, "supplementary": 2, "reinforced": 3}.get(word, 0)


def insulation_row(writer: Writer, subject: Subject, need: Need, inputs: tuple[Entry, ...]) -> Entry:
    """The insulation a place has to be, with the reasoning; a stronger one that the file states is kept."""
    stated = writer.ledger.find(subject, "barrier.insulation")
    value, why = need.insulation, need.why
    _stated_enough(writer, subject, need, stated)
    if stated is not None and isinstance(stated.value, Category):
        least = min(stated.value.members, key=_strength)  # of several words stated the weakest is all that is sure
        value = Category.of(*(max(one, least, key=_strength) for one in value.members))
        if value != need.insulation or least == "reinforced":
            why = f"stated as {stated.value}; by its ends: {need.why}"
    # What may be the barrier itself is never passed over: the rules find it open whether they apply.
    role = ("primary to secondary", "within one circuit") if need.role == UNKNOWN_ROLE else (need.role,)
    writer.row(subject, "barrier.role", Category.of(*role), formula="by what lies at its ends", inputs=inputs)
    note = f"would settle it: {listed_facts(need.missing)}" if need.missing else ""
    return writer.row(subject, "needed.insulation", value, formula=why, inputs=inputs, note=note)


def _stated_enough(writer: Writer, subject: Subject, need: Need, stated: Entry | None) -> None:
    """Whether the insulation that the file states for a place is as strong as what lies at its ends asks."""
    if stated is None or not isinstance(stated.value, Category):
        word = "nothing stated"
    else:
        least = min(_strength(one) for one in stated.value.members)
        enough = {_strength(one) <= least for one in need.insulation.members}
        if len(enough) > 1:
            missing = [OpenFact(subject, one.quantity) if one.subject is None else one for one in need.missing]
            writer.hole(subject, "barrier.stated_enough", missing, note=need.why, inputs=[stated])
            return
        word = "yes" if True in enough else "no"
    words = f"stated as {stated.value}; by its ends {need.insulation}: {need.why}" if stated is not None else ""
    inputs = [stated] if stated is not None else []
    writer.row(subject, "barrier.stated_enough", Category.of(word), formula=words or word, inputs=inputs)


def distance_rows(writer: Writer, subject: Subject, site: Site, insulation: Entry, voltages: Voltages) -> None:
    """Clearance and creepage needed, step by step. Nothing is asked where no insulation is."""
    if isinstance(insulation.value, Category) and insulation.value.members == ("none",):
        return
    pollution, group = _pollution(writer, subject), _group(writer, subject)
    air, surface = (
        _read_degrees(writer, pollution, "clearance_by_impulse"),
        _read_degrees(writer, pollution, "creepage"),
    )
    clearance = _clearance(writer, subject, site, insulation, voltages, air)
    if air is not pollution:
        clearance = _beyond_degree_3(writer, clearance, "needed.clearance")
    creepage = _creepage(writer, subject, site, insulation, voltages, surface, group, clearance)
    _next_row(writer, creepage, (voltages.rms, insulation, surface, group, clearance))
    if surface is not pollution:
        _beyond_degree_3(writer, creepage, "needed.creepage")
    if writer.family.name == LAMPS:
        _table_not_read(writer, clearance, "needed.clearance")
        _table_not_read(writer, creepage, "needed.creepage")
    thickness_row(writer, subject, insulation)


def _from_table(writer: Writer, subject: Subject, name: QuantityName, table: str, insulation: Entry) -> Entry:
    own = writer.family.table(table)
    return writer.step(
        subject,
        name,
        lambda word: read(own, insulation=word),
        [insulation],
        words="by the insulation needed",
        source=own.source,
    )


def thickness_row(writer: Writer, subject: Subject, insulation: Entry) -> Entry:
    """Thickness of a single layer of solid insulation; a hole where the family has no figure."""
    if not writer.family.has("insulation_thickness"):
        note = f"nothing was read on the thickness of solid insulation in {writer.family.name}"
        return writer.hole(subject, "needed.insulation_thickness", note=note)
    return _from_table(writer, subject, "needed.insulation_thickness", "insulation_thickness", insulation)


def tape_layers_row(writer: Writer, subject: Subject, insulation: Entry) -> Entry:
    """Layers of tape needed between two windings; a hole where the family has no figure."""
    if not writer.family.has("tape_layers"):
        return writer.hole(subject, "needed.tape_layers", note=f"nothing was read on layers in {writer.family.name}")
    return _from_table(writer, subject, "needed.tape_layers", "tape_layers", insulation)


def _pollution(writer: Writer, subject: Subject) -> Entry:
    places: tuple[tuple[Subject, QuantityName], ...] = (
        (subject, "barrier.pollution_degree"),
        (SUPPLY, "site.pollution_degree"),
    )
    for where, name in places:
        stated = writer.ledger.find(where, name)
        if stated is not None and isinstance(stated.value, Value):
            inside = tuple(one for one in ("1", "2", "3", "4") if stated.value.near <= int(one) <= stated.value.far)
            if inside:
                return writer.row(
                    subject, "insulation.pollution_degree", Category(inside), formula="as stated", inputs=[stated]
                )
    return writer.row(
        subject,
        "insulation.pollution_degree",
        Category(_DEGREES),
        formula="not stated: 1 to 3 are possible",
        known_by="assumed",
        note="state pollution_degree under site",
    )


def _read_degrees(writer: Writer, pollution: Entry, table: str) -> Entry:
    """The degrees a table is read at: where it has none for degree 4, that of degree 3 is the least there is."""
    axes = writer.family.table(table).axes
    words = " ".join(word for axis in axes for word in axis.words if axis.name in ("pollution", "column")).split()
    degrees = pollution.value.members if isinstance(pollution.value, Category) else ()
    if "4" not in degrees or {"4", "PD4"} & set(words):
        return pollution
    least = tuple(dict.fromkeys("3" if one == "4" else one for one in degrees))
    return replace(pollution, value=Category(least))


def _beyond_degree_3(writer: Writer, found: Entry, name: QuantityName) -> Entry:
    note = f"nothing was read on pollution degree 4 in {writer.family.name}"
    return _least(writer, found, name, "at least that of pollution degree 3", note)


def _table_not_read(writer: Writer, found: Entry, name: QuantityName) -> Entry:
    note = f"table to confirm: that of {writer.family.name} was not read, and asks no less"
    return _least(writer, found, name, "at least that of the basic standard", note)


def _least(writer: Writer, found: Entry, name: QuantityName, formula: str, note: str) -> Entry:
    """A figure as the least of what is not known: enough for a fail, never for a pass."""
    if not isinstance(found.value, Value):
        return found
    value = Value(found.value.low, found.value.near, inf, inf)
    return writer.row(found.subject, name, value, formula=formula, inputs=[found], note=note)


def _group(writer: Writer, subject: Subject) -> Entry:
    stated = writer.ledger.find(subject, "barrier.material_group")
    if stated is not None and isinstance(stated.value, Category):
        return writer.row(subject, "insulation.material_group", stated.value, formula="as stated", inputs=[stated])
    return writer.row(
        subject,
        "insulation.material_group",
        Category(_GROUPS),
        formula="not known: every group is possible",
        known_by="assumed",
        note="state the material group of the laminate; unknown laminate is often taken as IIIb",
    )


def _clearance(
    writer: Writer, subject: Subject, site: Site, insulation: Entry, voltages: Voltages, pollution: Entry
) -> Entry:
    family = writer.family
    table = family.table("clearance_by_impulse").source
    impulse = site.impulse
    if family.name == HOUSEHOLD:
        impulse = writer.step(
            subject,
            "needed.raised_impulse",
            lambda rated, mains, peak: steps.raised_impulse(family, rated, mains, peak),
            [site.impulse, site.mains, voltages.peak],
            words="impulse plus what the working peak exceeds the crest by",
            source="60335-1, working voltage above the rated voltage",
        )
    by_impulse = writer.step(
        subject,
        "needed.clearance_by_impulse",
        lambda v, word, degree: steps.clearance_by_impulse(family, v, word, degree),
        [impulse, insulation, pollution],
        words="clearance by impulse",
        source=table,
    )
    if family.name == HOUSEHOLD:
        whole = _household_readings(writer, subject, site, impulse, insulation, pollution, by_impulse)
    elif family.name == LAMPS:
        whole = by_impulse
    else:
        whole = _with_peaks(writer, subject, site, insulation, voltages, pollution, by_impulse)
    if voltages.fast and family.name != LAMPS and not family.has("clearance_by_peak_fast"):
        whole = _not_read_above_30_khz(writer, site, insulation, voltages, whole, "needed.clearance_up_to_2000_m")
    if site.factor.value is None and isinstance(site.altitude.value, Value) and isinstance(whole.value, Value):
        # What was not read of heights asks for no less than up to 2000 m: enough for a fail, never for a pass.
        return writer.row(
            subject,
            "needed.clearance",
            Value(whole.value.low, whole.value.near, inf, inf),
            formula="at least that up to 2000 m",
            inputs=[whole, site.factor],
            note=site.factor.note,
        )
    return writer.step(
        subject,
        "needed.clearance",
        lambda value, factor: steps.at_altitude(family, value, factor),
        [whole, site.factor],
        words="clearance at the altitude",
        source="altitude multiplies clearance, last of all",
        note=_why_wide(whole),
    )


def _why_wide(entry: Entry) -> str:
    """The reason of a range, for the row that follows from it: a finding that cannot tell says why it cannot."""
    value = entry.value
    return entry.note if isinstance(value, Value) and value.near < value.far else ""


def _household_readings(
    writer: Writer, subject: Subject, site: Site, impulse: Entry, insulation: Entry, pollution: Entry, kind: Entry
) -> Entry:
    """The kinder and the stricter reading of a raised impulse, and half a millimetre where assembly can move a part."""
    family = writer.family

    def strict(rated: Fraction, raised: Fraction, word: str, degree: str) -> Found:
        found = steps.clearance_by_impulse(family, raised, word, degree)
        if raised > rated and word == "reinforced":
            found = steps.clearance_by_stricter_step(family, raised, degree)
        if raised < 1500:
            return found
        more = read(family.table("clearance_added"), insulation="any")
        told = f"plus {millimetres(more.value / MICROMETRE)} mm where soldering or assembly can change it"
        sure = weaker_confidence(found.confidence, more.confidence)
        return Found(found.value + more.value, sure, f"{found.words}; {told}")

    strictest = writer.step(
        subject,
        "needed.clearance_stricter",
        strict,
        [site.impulse, impulse, insulation, pollution],
        words="stricter of two readings in use",
        source="60335-1, clearances",
    )
    if not isinstance(kind.value, Value) or not isinstance(strictest.value, Value):
        return strictest
    value = Value(kind.value.low, kind.value.near, strictest.value.far, strictest.value.high)
    note = f"two readings are in use: {kind.formula}; {strictest.formula}" if value.near < value.far else ""
    return writer.row(
        subject,
        "needed.clearance_up_to_2000_m",
        value,
        formula="between the two readings in use",
        source="60335-1, clearances",
        inputs=[kind, strictest],
        note=note,
    )


def _with_peaks(
    writer: Writer,
    subject: Subject,
    site: Site,
    insulation: Entry,
    voltages: Voltages,
    pollution: Entry,
    impulse: Entry,
) -> Entry:
    """The largest of the clearances by impulse, by recurring peak and by temporary overvoltage."""
    family = writer.family
    source = family.table("clearance_by_peak").source
    assert site.overvoltage is not None

    def by_peak(fast: bool):  # type: ignore[no-untyped-def]
        return lambda v, word, degree: steps.clearance_by_peak(family, v, word, degree, fast)

    recurring = writer.step(
        subject,
        "needed.clearance_by_peak",
        by_peak(voltages.fast),
        [voltages.peak, insulation, pollution],
        words="clearance by recurring peak",
        source=source,
    )
    if voltages.fast and site.frequency is None and isinstance(recurring.value, Value):
        # As fast as it may be at the bad end, as if it were slow at the good one.
        far = recurring
        recurring = writer.step(
            subject,
            "needed.clearance_by_peak",
            by_peak(False),
            [voltages.peak, insulation, pollution],
            words="clearance by recurring peak, were it below 30 kHz",
            source=source,
        )
        if isinstance(recurring.value, Value) and isinstance(far.value, Value):
            low, fast = recurring.value, far.value
            recurring = writer.row(
                subject,
                "needed.clearance_by_peak",
                Value(low.low, low.near, max(low.far, fast.far), max(low.high, fast.high)),
                source=source,
                formula="from below 30 kHz to above",
                inputs=[recurring, far],
                note="state frequency under control",
            )
    temporary = writer.step(
        subject,
        "needed.clearance_by_overvoltage",
        by_peak(False),
        [site.overvoltage, insulation, pollution],
        words="clearance by temporary overvoltage",
        source=source,
    )
    found = [impulse, recurring, temporary]
    if any(not isinstance(one.value, Value) for one in found):
        missing = [name for one in found for name in one.missing]
        notes = "; ".join(one.note for one in found if one.value is None and one.note)
        return writer.hole(subject, "needed.clearance_up_to_2000_m", missing, note=notes, inputs=found)
    values = [one.value.numbers() for one in found if isinstance(one.value, Value)]
    value = Value(*(max(column) for column in zip(*values, strict=True)))
    bounded = _bounded(writer, site, insulation, voltages)
    confidence: Confidence = confidence_of(impulse)
    note = ""
    # An open far end proves a fail by its near end only, so there the near ends decide how sure the row is.
    end = 1 if value.far == inf else 3
    for one, own in zip(found[1:], values[1:], strict=True):
        if own[end] <= values[0][1 if end == 1 else 0] and bounded:
            note = "published results at this impulse bound the clearance by peak: it does not govern"
        else:
            confidence = weaker_confidence(confidence, confidence_of(one))
    return writer.row(
        subject,
        "needed.clearance_up_to_2000_m",
        value,
        formula="largest of the three",
        source=source,
        inputs=found,
        confidence=confidence,
        inherits=False,
        note=note,
    )


def _bounded(writer: Writer, site: Site, insulation: Entry, voltages: Voltages) -> bool:
    """Whether published results show that neither peak governs, for every reading of the inputs."""
    assert site.overvoltage is not None
    entries = (site.impulse, voltages.peak, site.overvoltage)
    if any(not isinstance(one.value, Value) for one in entries):
        return False
    words = insulation.value.members if isinstance(insulation.value, Category) else ()
    values = [one.value for one in entries if isinstance(one.value, Value)]
    impulse, *peaks = (one.near if one.high == inf else one.high for one in values)
    if inf in (impulse, *peaks):
        return False
    try:
        return all(
            steps.bounded_by_reports(writer.family, exact(impulse), exact(peak), word)
            for word in words
            for peak in peaks
        )
    except NoRow:
        return False


def _creepage(
    writer: Writer,
    subject: Subject,
    site: Site,
    insulation: Entry,
    voltages: Voltages,
    pollution: Entry,
    group: Entry,
    clearance: Entry,
) -> Entry:
    family = writer.family

    def basic(volts: Fraction, word: str, degree: str, material: str) -> Found:
        given = (volts, word, degree, material)
        if given not in writer.read:  # most places of a design ask for the same
            writer.read[given] = steps.creepage_basic(family, volts, degree, material, word == "functional")
        return writer.read[given]

    one = writer.step(
        subject,
        "needed.creepage_basic",
        basic,
        [voltages.rms, insulation, pollution, group],
        words="creepage by rms voltage, degree and group",
        source=family.table("creepage").source,
    )
    if voltages.fast and family.has("creepage_fast"):
        one = _fast(writer, subject, site, insulation, voltages, pollution, one)
    elif voltages.fast:
        one = _not_read_above_30_khz(writer, site, insulation, voltages, one, "needed.creepage_basic")
    return writer.step(
        subject,
        "needed.creepage",
        lambda value, word, least: steps.creepage(family, value, word, least),
        [one, insulation, clearance],
        words="doubled for reinforced",
        source="creepage doubles, clearance never",
        inherits=True,
        note="; ".join(dict.fromkeys(filter(None, (_why_wide(one), _why_wide(clearance))))),
    )


def _next_row(writer: Writer, creepage: Entry, inputs: tuple[Entry, ...]) -> None:
    """Where laboratories differ, both readings in one row: between the rows as needed, the next row as tolerance."""
    family, subject = writer.family, creepage.subject

    def next_up(volts: Fraction, word: str, degree: str, material: str, least: Fraction) -> Found:
        basic = steps.creepage_next_row(family, volts, word, degree, material)
        found = steps.creepage(family, basic.value, word, least)
        sure = weaker_confidence(basic.confidence, found.confidence)
        return Found(found.value, sure, f"{basic.words}; {found.words}")

    own = creepage.value
    table = family.table("creepage")
    linear = any(axis.kind == "linear" for axis in table.axes if axis.dimension is not None)
    if linear and not (isinstance(own, Value) and own.far < inf):
        missing = creepage.missing or wide_facts(writer.ledger, [creepage]) or (OpenFact(subject, "needed.creepage"),)
        writer.hole(
            subject, "barrier.two_readings", missing, note="how much creepage is needed is open", inputs=[creepage]
        )
        return
    if linear and isinstance(own, Value):
        strict = writer.step(
            subject,
            "needed.creepage_next_row",
            next_up,
            list(inputs),
            words="creepage of the next row",
            source=table.source,
        )
        if not (isinstance(strict.value, Value) and strict.value.high < inf):
            writer.hole(subject, "barrier.two_readings", strict.missing, note=strict.note, inputs=[strict])
            return
        # apart anywhere: where one end is so wide that both readings meet there, they still differ at the other
        if any(one < other for one, other in zip(own.numbers(), strict.value.numbers(), strict=True)):
            writer.row(
                subject,
                "needed.creepage_both_readings",
                Value(own.low, own.near, own.far, max(own.high, strict.value.high)),
                formula="read between the rows, up to the next row of the table",
                source=table.source,
                inputs=[creepage, strict],
            )
            writer.row(subject, "barrier.two_readings", Category.of("yes"), formula="laboratories differ here")
            return
    writer.row(subject, "barrier.two_readings", Category.of("no"), formula="one reading of the table")


def _open(writer: Writer, ordinary: Entry, name: QuantityName) -> Entry:
    """The ordinary figure as the least: what recurs above 30 kHz may need more, and nobody says how fast it recurs."""
    assert isinstance(ordinary.value, Value)
    value = Value(ordinary.value.low, ordinary.value.near, inf, inf)
    return writer.row(
        ordinary.subject,
        name,
        value,
        formula="at least the ordinary figure",
        inputs=[ordinary],
        note="state frequency under control: above 30 kHz other tables hold",
    )


def _not_read_above_30_khz(
    writer: Writer, site: Site, insulation: Entry, voltages: Voltages, one: Entry, name: QuantityName
) -> Entry:
    """In a family without tables for fast voltages: the ordinary figure where it is known not to matter, else open."""
    peak = voltages.peak.value
    if (
        not isinstance(peak, Value)
        or not isinstance(one.value, Value)
        or _fast_does_not_govern(writer, site, insulation, peak)
    ):
        return one
    if site.frequency is None:
        return _open(writer, one, name)
    return writer.row(
        one.subject,
        name,
        Value(one.value.low, one.value.near, inf, inf),
        formula="at least the ordinary figure",
        inputs=[one, voltages.peak, site.frequency],
        note=f"nothing was read on voltages that recur above 30 kHz in {writer.family.name}",
    )


def _fast_does_not_govern(writer: Writer, site: Site, insulation: Entry, peak: Value) -> bool:
    """Whether published results bound a voltage of this peak up to 110 kHz to the ordinary clearance and creepage."""
    bound = writer.family.table("creepage_fast_does_not_govern")
    hertz = site.frequency.value if site.frequency is not None else None
    words = insulation.value.members if isinstance(insulation.value, Category) else ()
    return (
        isinstance(hertz, Value)
        and hertz.high <= 110e3
        and all(
            word in bound.axes[0].words and peak.high <= float(read(bound, insulation=word).value) for word in words
        )
    )


def _fast(
    writer: Writer, subject: Subject, site: Site, insulation: Entry, voltages: Voltages, pollution: Entry, one: Entry
) -> Entry:
    """Creepage of a voltage that recurs above 30 kHz, where published results do not already bound it."""
    peak, frequency = voltages.peak.value, site.frequency
    if not isinstance(peak, Value) or not isinstance(one.value, Value):
        return one
    if frequency is None:
        return _open(writer, one, "needed.creepage_basic")
    assert isinstance(frequency.value, Value)
    if _fast_does_not_govern(writer, site, insulation, peak):
        return one
    family = writer.family

    def larger(ordinary: Fraction, volts: Fraction, hertz: Fraction, degree: str) -> Found:
        found = steps.creepage_fast(family, volts, hertz, degree)
        return found if found.value > ordinary else Found(ordinary, found.confidence, "not above the ordinary one")

    return writer.step(
        subject,
        "needed.creepage_basic",
        larger,
        [one, voltages.peak, frequency, pollution],
        words="larger of ordinary and fast creepage",
        source=family.table("creepage_fast").source,
    )
