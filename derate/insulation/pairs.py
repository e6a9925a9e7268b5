"""Every pair of circuits: its weakest path over all places, the strength it needs, and the summary for the report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import inf

from derate.insulation.circuits import Site
from derate.insulation.distances import IT_EQUIPMENT, LAMPS, Found, read
from derate.insulation.needed import FAST, lamp_strength, needed_strength, strength_above_30_khz
from derate.insulation.row import Writer, confidence_of
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.terms.frozen import frozen
from derate.terms.quantities import of_family
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value
from derate.terms.words import weaker_confidence

# Rows of a pair of circuits: its weakest path over all places, and the electric strength it needs.


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
            writer.hole(pair, name, (OpenFact(pair, name),), note="no path of this pair has it stated")
            continue
        value = Value(*(min(column) for column in zip(*(one.numbers() for _, _, one in known), strict=True)))
        least = min(known, key=lambda one: one[2].near)[0]
        lacking = [str(path) for path, row in rows if row is None or not isinstance(row.value, Value)]
        note = f"not stated for {', '.join(lacking)}" if lacking else ""
        writer.row(
            pair,
            name,
            value,
            formula=f"least of {len(known)} paths: {least}",
            inputs=[row for _, row, _ in known],
            note=note,
        )
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
        subject,
        "needed.electric_strength",
        lambda mains, impulse, p, r, word: needed_strength(family, mains, impulse, p, r, word),
        [site.mains, site.impulse, peak, rms, insulation],
        words="electric strength, as a peak",
        source=f"{family.name}, electric strength test",
    )
    if family.name == LAMPS:
        _older_form(writer, subject, [rms, insulation], ordinary)
    frequency = site.frequency
    if family.name != IT_EQUIPMENT or not isinstance(ordinary.value, Value):
        return
    if frequency is None or not isinstance(frequency.value, Value):
        o = ordinary.value
        writer.row(
            subject,
            "needed.electric_strength",
            Value(o.low, o.near, inf, inf),
            formula="at least the ordinary test",
            inputs=[ordinary],
            note="state frequency under control: above 30 kHz solid insulation may need more",
        )
        return
    if frequency.value.high > FAST and isinstance(ordinary.value, Value):
        _fast_strength(writer, subject, frequency, peak, insulation, ordinary)


def _older_form(writer: Writer, subject: Subject, inputs: Sequence[Entry], ordinary: Entry) -> None:
    """Up to what the form of a self-ballasted lamp asks, since nobody says which of the two a supply is tested by."""
    family = writer.family
    more = writer.step(
        subject,
        "needed.electric_strength",
        lambda r, word: lamp_strength(family, r, word, "strength_added_of_lamps"),
        inputs,
        words="electric strength of a lamp, as a peak",
        source=family.table("strength_added_of_lamps").source,
    )
    if not isinstance(ordinary.value, Value) or not isinstance(more.value, Value):
        return
    writer.row(
        subject,
        "needed.electric_strength",
        Value(ordinary.value.low, ordinary.value.near, more.value.far, more.value.high),
        formula="from that of control gear to that of a lamp",
        inputs=[ordinary, more],
        note="two figures are in use: control gear 4 U + 2000 V, self-ballasted lamp 4 U + 2750 V",
    )


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
        subject,
        "needed.strength_above_30_khz",
        fast,
        [frequency, peak, insulation],
        words="strength of tape above 30 kHz",
        source=table.source,
    )
    o = ordinary.value
    if not isinstance(solid.value, Value):
        value, note = Value(o.low, o.near, inf, inf), solid.note  # more may be needed; less never
    else:
        value, note = Value(*(max(pair) for pair in zip(o.numbers(), solid.value.numbers(), strict=True))), ""
    confidence = confidence_of(ordinary)
    if isinstance(solid.value, Value) and solid.value.high > o.low:
        confidence = weaker_confidence(confidence, confidence_of(solid))
    writer.row(
        subject,
        "needed.electric_strength",
        value,
        formula="larger of the ordinary test and that above 30 kHz",
        source="62368-1, solid insulation above 30 kHz",
        inputs=[ordinary, solid],
        confidence=confidence,
        inherits=False,
        note=note,
    )


# What every pair of circuits needs and has, for the report: needed, found, weakest path, and the rows behind each.
#
# Values stay in SI units (m, V) and None where nothing is known; entries are numbers of the ledger.


ROLES = (
    "mains poles ahead of the fuse",
    "across the fuse",
    "mains poles behind the fuse",
    "primary to secondary",
    "primary to earth",
    "primary to touchable parts",
    "not known",
)
_NAMES: dict[str, QuantityName] = {
    "needed_clearance": "needed.clearance",
    "found_clearance": "found.clearance",
    "needed_creepage": "needed.creepage",
    "found_creepage": "found.creepage",
    "working_voltage": "insulation.working_voltage",
    "working_voltage_peak": "insulation.working_voltage_peak",
}


@frozen
class PathSummary:
    """One path: a barrier, the body of a part, or two legs over the core.

    insulation: every class still possible; why: the reasoning
    figures, entries: by the keys needed_clearance, found_clearance, needed_creepage, found_creepage,
    working_voltage, working_voltage_peak; entries also insulation
    share: found over needed at the bad end, the lesser of clearance and creepage; None when either is not known
    """

    subject: Subject
    role: str
    insulation: tuple[str, ...]
    why: str
    figures: dict[str, Value | None]
    entries: dict[str, int]
    share: float | None


@frozen
class PairSummary:
    """One pair of circuits, by the role of the places between them.

    subject: the pair as the ledger knows it, None for places that belong to none (mains poles, fuse)
    weakest: the path with the least share of what it needs, None while no path can be compared
    open_paths: paths without a stated distance
    strength, test: electric strength needed and tested [V peak]; result: outcome of the test
    """

    role: str
    subject: Subject | None
    insulation: tuple[str, ...]
    why: str
    weakest: PathSummary | None
    paths: tuple[PathSummary, ...]
    open_paths: tuple[str, ...]
    strength: Value | None
    test: Value | None
    result: str
    entries: dict[str, int]


def summary(ledger: Ledger, family: str = "", apart: bool = False) -> tuple[PairSummary, ...]:
    """Every pair of circuits of a ledger after `require`, in the order of the mains path.

    family, apart: read the rows that carry this family's name (several families were loaded)
    """
    reader = _Reader(ledger, family if apart else "")
    paths = [reader.path(subject) for subject in ledger.subjects("barrier")]
    pairs = {reader.role(subject): subject for subject in ledger.subjects("circuit pair")}
    found = []
    for role in ROLES:
        own = tuple(path for path in paths if path.role == role)
        subject = pairs.get(role)
        if own or subject is not None:
            found.append(reader.pair(role, subject, own))
    return tuple(found)


@frozen
class _Reader:
    ledger: Ledger
    family: str  # "" where a single one is loaded

    def find(self, subject: Subject, name: QuantityName) -> Entry | None:
        own = self.ledger.find(subject, of_family(name, self.family)) if self.family else None
        return own or self.ledger.find(subject, name)

    def value(self, subject: Subject, name: QuantityName) -> Value | None:
        entry = self.find(subject, name)
        return entry.value if entry is not None and isinstance(entry.value, Value) else None

    def words(self, subject: Subject, name: QuantityName) -> tuple[str, ...]:
        entry = self.find(subject, name)
        return entry.value.members if entry is not None and isinstance(entry.value, Category) else ()

    def role(self, subject: Subject) -> str:
        words = self.words(subject, "barrier.role")
        return words[0] if len(words) == 1 else "not known"

    def numbers(self, subject: Subject, names: dict[str, QuantityName]) -> dict[str, int]:
        entries = {key: self.find(subject, name) for key, name in names.items()}
        return {key: entry.number for key, entry in entries.items() if entry is not None}

    def path(self, subject: Subject) -> PathSummary:
        figures = {key: self.value(subject, name) for key, name in _NAMES.items()}
        insulation = self.find(subject, "needed.insulation")
        shares = [
            share
            for what in ("clearance", "creepage")
            if (share := _share(figures[f"found_{what}"], figures[f"needed_{what}"])) is not None
        ]
        return PathSummary(
            subject,
            self.role(subject),
            self.words(subject, "needed.insulation"),
            insulation.formula if insulation is not None else "",
            figures,
            self.numbers(subject, {**_NAMES, "insulation": "needed.insulation"}),
            min(shares, default=None),
        )

    def pair(self, role: str, subject: Subject | None, paths: tuple[PathSummary, ...]) -> PairSummary:
        comparable = [path for path in paths if path.share is not None]
        weakest = min(comparable, key=lambda path: (path.share or 0.0, path.subject), default=None)
        lacking = tuple(
            str(path.subject)
            for path in paths
            if path.figures["found_clearance"] is None or path.figures["found_creepage"] is None
        )
        names: dict[str, QuantityName] = {
            "strength": "needed.electric_strength",
            "test": "test.voltage",
            "result": "test.result",
        }
        first = paths[0] if paths else None
        entry = self.find(subject, "needed.insulation") if subject is not None else None
        result = self.words(subject, "test.result") if subject is not None else ()
        return PairSummary(
            role,
            subject,
            self.words(subject, "needed.insulation") if subject is not None else first.insulation if first else (),
            entry.formula if entry is not None else first.why if first else "",
            weakest,
            paths,
            lacking,
            self.value(subject, names["strength"]) if subject is not None else None,
            self.value(subject, names["test"]) if subject is not None else None,
            result[0] if result else "",
            self.numbers(subject, names) if subject is not None else {},
        )


def _share(found: Value | None, needed: Value | None) -> float | None:
    """Found over needed at the bad ends: the least that may be there over the most that may be needed of it."""
    if found is None or needed is None:
        return None
    wanted = needed.near if needed.far == float("inf") else needed.far
    return found.low / wanted if wanted > 0 else None
