"""What a design was judged by, and by what that is softer than the shipped gate: values that every report shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from derate.judge.acknowledge import KnownRecord, Limits
from derate.judge.review import Finding, Gate, Less, Review, Used
from derate.judge.verdict import GAVE_A_VERDICT, acknowledged
from derate.packs.load import Packs
from derate.terms.tuples import NamedTuple
from derate.terms.words import HAZARDS, LEVELS, LONGEST_DAYS, NEEDS_A_CRITICAL_RULE, WAIVABLE, Level


class Chosen(NamedTuple):
    """What was chosen for a run beside the packs themselves.

    level_from: '' the shipped law, 'command line' or a settings file; packs_from: who chose the packs
    settings: the file at the root, '' when there is none; required: packs of the shipped gate without insulation
    insulation: the insulation pack of the shipped gate; record: known findings that are held back, None without
    libraries: of parts, from which the design took facts; raised: ratings that are more than in those, or than in the
        shipped one
    """

    level: Level
    level_from: str
    packs_from: str
    settings: str
    limits: Limits
    required: Sequence[str]
    insulation: str
    record: KnownRecord | None = None
    libraries: tuple[Used, ...] = ()
    raised: tuple[Less, ...] = ()


def gate_of(review: Review | None, packs: Packs, where: Mapping[str, str], chosen: Chosen) -> Gate:
    """What a design was judged by. where: the file of each pack by its name, as it is to be shown.

    review: None where nothing was judged: figures are worked out by packs, whatever somebody signed for
    """
    used = tuple(Used(head.name, where.get(head.name, ""), head.shipped, head.digest) for head in packs.heads)
    softer = (*_level(chosen), *_packs(packs, where, chosen), *_changes(packs), *_settings(chosen), *chosen.raised)
    if review is not None:
        softer += (*_looked_at(review, packs), *_signed(review), *_known(review, chosen))
    return Gate(chosen.level, chosen.level_from, used, softer, chosen.libraries)


def standing_families(packs: Packs) -> tuple[str, ...]:
    """Families that a shipped pack brought, or a house pack under a name of its own."""
    return tuple(
        family
        for family in packs.families
        if any(head.family == family and packs.stands(head.name) for head in packs.heads)
    )


def _level(chosen: Chosen) -> Iterator[Less]:
    if LEVELS.index(chosen.level) < LEVELS.index("default"):
        yield Less("level", "what stops the exit status", "default", chosen.level, chosen.level_from)


def _packs(packs: Packs, where: Mapping[str, str], chosen: Chosen) -> Iterator[Less]:
    families = standing_families(packs)
    out = [name for name in chosen.required if not packs.stands(name)]
    out += [] if families else [chosen.insulation]
    if out:
        yield Less("pack left out", ", ".join(out), by=chosen.packs_from)
    if families and not packs.stands(chosen.insulation):
        for family in families:
            own = [head for head in packs.heads if head.family == family]
            names = ", ".join(f"{head.name}{'' if head.shipped else ' (house pack)'}" for head in own)
            yield Less("family", family, chosen.insulation, names, chosen.packs_from)
    for head in packs.heads:
        if not packs.stands(head.name):
            yield Less("house pack", head.name, "shipped", "not the shipped one of this name", where.get(head.name, ""))


def _changes(packs: Packs) -> Iterator[Less]:
    for one in packs.softer:
        yield Less(one.what, one.name, one.before, one.after, one.pack, one.reason)


def _settings(chosen: Chosen) -> Iterator[Less]:
    days, allowed = chosen.limits
    if days > LONGEST_DAYS:
        yield Less("setting", "longest_days", str(LONGEST_DAYS), str(days), chosen.settings)
    if allowed:
        yield Less("setting", "critical_waivers", "none", ", ".join(allowed), chosen.settings)


def _looked_at(review: Review, packs: Packs) -> Iterator[Less]:
    """The hazards on which critical rules of house packs alone gave a verdict."""
    shipped = {head.name for head in packs.heads if head.shipped}
    hazards: list[str] = []
    names: dict[str, None] = {}
    for hazard in NEEDS_A_CRITICAL_RULE:
        own = [
            one.pack
            for one in review.findings
            if (one.hazard, one.severity) == (hazard, "critical") and one.verdict in GAVE_A_VERDICT
        ]
        if own and not shipped.intersection(own):
            hazards.append(hazard)
            names |= dict.fromkeys(own)
    if hazards:
        before, after = (f"critical rules of {whose}" for whose in ("shipped packs", "house packs alone"))
        yield Less("looked at", ", ".join(hazards), before, after, ", ".join(names))


def _signed(review: Review) -> Iterator[Less]:
    own = [one for one in review.findings if acknowledged(one)]
    for one in sorted(own, key=_heaviest):
        said = one.acknowledgement
        assert said is not None
        heavy = f"critical {one.hazard} " if one.severity == "critical" and one.hazard in WAIVABLE else ""
        reach = f", up to {said.up_to:.4g} times" if said.up_to is not None else ""
        after = f"{heavy}{one.verdict}{reach}"
        yield Less(said.kind, f"{one.rule} on {one.subject}", "", after, said.by, said.reason, said.last_day)


def _heaviest(one: Finding) -> tuple[bool, bool, int]:
    """Fails first, critical fire and shock first among them."""
    return one.verdict != "fail", not (one.severity == "critical" and one.hazard in WAIVABLE), HAZARDS.index(one.hazard)


def _known(review: Review, chosen: Chosen) -> Iterator[Less]:
    if chosen.record is None or not review.held_back:
        return
    signed = chosen.record.signed
    heavy = _critical([one for one in review.findings if one.known])
    name = f"{review.held_back} held back by {chosen.record.path}"
    after = f"held back{f', {heavy}' if heavy else ''}"
    yield Less("known findings", name, "block", after, signed.by, signed.reason, signed.last_day.isoformat())


def _critical(findings: Sequence[Finding]) -> str:
    """How many critical findings of fire and shock are among them."""
    counts = {
        hazard: sum((one.hazard, one.severity) == (hazard, "critical") for one in findings) for hazard in WAIVABLE
    }
    return " and ".join(f"{count} critical of {hazard}" for hazard, count in counts.items() if count)
