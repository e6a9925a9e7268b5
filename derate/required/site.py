"""What every barrier of a supply shares: nominal mains, category, altitude, frequency, and what follows from them."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.ledger.entry import SUPPLY, Entry
from derate.required import distances as steps
from derate.required.family import HOUSEHOLD
from derate.required.lookup import Found
from derate.required.row import Writer
from derate.terms.values import Category, Value

_CATEGORIES = ("I", "II", "III", "IV")
OPEN = Value(0.0, 0.0, inf, inf)


class Site(NamedTuple):
    """Rows of the supply as a whole."""

    mains: Entry
    category: Entry
    altitude: Entry
    factor: Entry
    impulse: Entry
    row_of_mains: Entry  # row of the creepage table that plain mains takes [V]
    crest: Entry  # of the nominal mains [V]
    overvoltage: Entry | None  # temporary overvoltage [V peak]; None where the family asks for none
    frequency: Entry | None  # greatest switching frequency [Hz]


def site_rows(writer: Writer) -> Site:
    """Write the rows that belong to no single barrier."""
    family = writer.family
    mains = _mains(writer)
    category = _category(writer)
    altitude = _altitude(writer)
    impulse = writer.step(
        SUPPLY, "needed.impulse", lambda v, c: steps.impulse(family, v, c), [mains, category],
        words="impulse by mains and category", source=_source(writer, "mains_transient"),
    )  # fmt: skip
    factor = writer.step(
        SUPPLY, "insulation.altitude_factor", lambda h: steps.altitude_factor(family, h), [altitude],
        words="altitude factor", source=_source(writer, "altitude_factor"),
    )  # fmt: skip
    row = writer.step(
        SUPPLY, "insulation.working_voltage", lambda v: steps.table_voltage(family, v), [mains],
        words="row of plain mains", source=_source(writer, "table_voltage") or _source(writer, "creepage"),
    )  # fmt: skip
    crest = writer.step(
        SUPPLY, "insulation.working_voltage_peak",
        lambda v: Found(v * steps.ROOT_TWO, "published", f"1.414 x {steps.volts(v)}"), [mains],
        words="crest of the mains", source="a sine wave",
    )  # fmt: skip
    overvoltage = None
    if family.name != HOUSEHOLD:
        overvoltage = writer.step(
            SUPPLY, "needed.temporary_overvoltage", lambda v: steps.temporary_overvoltage(family, v), [mains],
            words="temporary overvoltage", source=_source(writer, "temporary_overvoltage") or "60664-1, U + 1200 V rms",
        )  # fmt: skip
    return Site(mains, category, altitude, factor, impulse, row, crest, overvoltage, _frequency(writer))


def _source(writer: Writer, table: str) -> str:
    found = writer.family.tables.get(table)
    return found.source if found is not None else ""


def _mains(writer: Writer) -> Entry:
    plate = writer.ledger.find(SUPPLY, "plate.mains")
    if plate is None or not isinstance(plate.value, Value):
        return writer.hole(SUPPLY, "insulation.mains", ("supply: plate.mains",))
    return writer.row(
        SUPPLY, "insulation.mains", Value.exact(plate.value.high), formula="top of the range on the plate",
        source="a range on the plate is a domain: all of it occurs", inputs=[plate],
    )  # fmt: skip


def _category(writer: Writer) -> Entry:
    stated = writer.ledger.find(SUPPLY, "site.overvoltage_category")
    columns = next(axis.words for axis in writer.family.table("mains_transient").axes if axis.words)
    if stated is not None and isinstance(stated.value, Category):
        return writer.row(
            SUPPLY, "insulation.overvoltage_category", stated.value, formula="as the site states it", inputs=[stated]
        )
    possible = tuple(word for word in _CATEGORIES if word in columns)
    return writer.row(
        SUPPLY, "insulation.overvoltage_category", Category(possible), formula="not stated: every one is possible",
        known_by="assumed", note="state site.overvoltage_category: II when plugged in, III when wired in",
    )  # fmt: skip


def _altitude(writer: Writer) -> Entry:
    stated = writer.ledger.find(SUPPLY, "site.altitude")
    if stated is not None and isinstance(stated.value, Value):
        return writer.row(
            SUPPLY, "insulation.altitude", Value.exact(stated.value.high), formula="top of the altitude stated",
            source="up to there it is used", inputs=[stated],
        )  # fmt: skip
    return writer.row(
        SUPPLY, "insulation.altitude", OPEN, formula="not stated: at least the figures up to 2000 m hold",
        known_by="assumed", note="state site.altitude, such as up to 2000 m",
    )  # fmt: skip


def _frequency(writer: Writer) -> Entry | None:
    stated = writer.ledger.find(SUPPLY, "control.frequency")
    if stated is None or not isinstance(stated.value, Value):
        return None
    return writer.row(
        SUPPLY, "insulation.frequency", Value.exact(stated.value.high), formula="greatest switching frequency",
        inputs=[stated],
    )  # fmt: skip
