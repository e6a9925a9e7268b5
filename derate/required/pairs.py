"""Rows of a pair of circuits: its weakest path over all places, and the electric strength it needs."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import inf

from derate.ledger.entry import Entry, Subject
from derate.required.family import IT_EQUIPMENT
from derate.required.lookup import Found, read
from derate.required.needed import FAST
from derate.required.row import Writer, confidence_of
from derate.required.site import Site
from derate.required.strength import needed_strength, strength_above_30_khz
from derate.terms.quantities import QuantityName
from derate.terms.values import Category, Value
from derate.terms.words import weaker_confidence

_DISTANCES: tuple[tuple[QuantityName, QuantityName], ...] = (
    ("found.clearance", "needed.clearance"),
    ("found.creepage", "needed.creepage"),
)


def paths_of_role(writer: Writer, role: str) -> list[Subject]:
    """Every path of a role: barriers of the file, bodies of parts, paths over the core."""
    found = []
    for subject in writer.ledger.subjects("barrier"):
        entry = writer.find(subject, "barrier.role")
        if entry is not None and isinstance(entry.value, Category) and entry.value.word == role:
            found.append(subject)
    return found


def weakest_rows(writer: Writer, pair: Subject, paths: Iterable[Subject]) -> None:
    """The least distance of all paths of a pair; a path without one leaves the pair open towards nothing."""
    weakest: tuple[float, Subject] | None = None
    own = list(paths)
    for name in ("found.clearance", "found.creepage"):
        rows = [(path, writer.find(path, name)) for path in own]
        known = [(path, row, row.value) for path, row in rows if row is not None and isinstance(row.value, Value)]
        if not known:
            writer.hole(pair, name, (f"{pair}: {name}",), note="no path of this pair has it stated")
            continue
        value = Value(*(min(column) for column in zip(*(one.numbers() for _, _, one in known), strict=True)))
        least = min(known, key=lambda one: one[2].near)[0]
        lacking = [str(path) for path, row in rows if row is None or not isinstance(row.value, Value)]
        note = f"not stated for {', '.join(lacking)}" if lacking else ""
        writer.row(pair, name, value, formula=f"least of {len(known)} paths: {least}",
                        inputs=[row for _, row, _ in known], note=note)  # fmt: skip
    for path in own:
        for found, needed in _DISTANCES:
            have, want = writer.find(path, found), writer.find(path, needed)
            if have is None or want is None or not isinstance(have.value, Value) or not isinstance(want.value, Value):
                continue
            share = have.value.near / want.value.near if want.value.near else float("inf")
            if weakest is None or share < weakest[0]:
                weakest = (share, path)
    if weakest is not None:
        writer.row(pair, "found.path", Category.of(str(weakest[1])), formula="least share of what is needed")


def strength_row(writer: Writer, subject: Subject, site: Site, insulation: Entry) -> None:
    """Electric strength needed [V peak]; above 30 kHz solid insulation may need more (62368-1)."""
    family = writer.family
    peak = writer.find(subject, "insulation.working_voltage_peak") or site.crest
    rms = writer.find(subject, "insulation.working_voltage") or site.row_of_mains
    ordinary = writer.step(
        subject, "needed.electric_strength",
        lambda mains, impulse, p, r, word: needed_strength(family, mains, impulse, p, r, word),
        [site.mains, site.impulse, peak, rms, insulation], words="electric strength, as a peak",
        source=f"{family.name}, electric strength test",
    )  # fmt: skip
    frequency = site.frequency
    if family.name != IT_EQUIPMENT or not isinstance(ordinary.value, Value):
        return
    if frequency is None or not isinstance(frequency.value, Value):
        o = ordinary.value
        writer.row(
            subject, "needed.electric_strength", Value(o.low, o.near, inf, inf), formula="at least the ordinary test",
            inputs=[ordinary], note="state control.frequency: above 30 kHz solid insulation may need more",
        )  # fmt: skip
        return
    if frequency.value.high > FAST and isinstance(ordinary.value, Value):
        _fast_strength(writer, subject, frequency, peak, insulation, ordinary)


def _fast_strength(
    writer: Writer, subject: Subject, frequency: Entry, peak: Entry, insulation: Entry, ordinary: Entry
) -> None:
    table = writer.family.table("tape_strength_share")
    assert isinstance(ordinary.value, Value)

    def fast(hertz: Fraction, volts: Fraction, word: str) -> Found:
        share = read(table, hertz)
        test = strength_above_30_khz(volts, share.value, word == "reinforced")
        twice = "2 x " if word == "reinforced" else ""
        words = f"1.2 x {twice}{float(volts):g} V / {float(share.value):g} = {float(test):g} V"
        return Found(test, share.confidence, words)

    solid = writer.step(
        subject, "needed.strength_above_30_khz", fast, [frequency, peak, insulation],
        words="strength of tape above 30 kHz", source=table.source,
    )  # fmt: skip
    o = ordinary.value
    if not isinstance(solid.value, Value):
        value, note = Value(o.low, o.near, inf, inf), solid.note  # more may be needed; less never
    else:
        value, note = Value(*(max(pair) for pair in zip(o.numbers(), solid.value.numbers(), strict=True))), ""
    confidence = confidence_of(ordinary)
    if isinstance(solid.value, Value) and solid.value.high > o.low:
        confidence = weaker_confidence(confidence, confidence_of(solid))
    writer.row(
        subject, "needed.electric_strength", value, formula="larger of the ordinary test and that above 30 kHz",
        source="62368-1, solid insulation above 30 kHz", inputs=[ordinary, solid], confidence=confidence,
        inherits=False, note=note,
    )  # fmt: skip
