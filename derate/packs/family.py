"""What an insulation family must have to count as one: tables its distances are read from, rules that hold them.

A pack may bring a family of its own in place of a shipped one. It counts as that family only where none of these is
lacking; a family that lacks one says so as not assessed, since what it does not ask nobody has looked at. Only the form
is looked at here: figures of a house table are told, never taken for those of the standard.
"""

from __future__ import annotations

from typing import NamedTuple

from derate.packs.change import not_as_strict
from derate.packs.load import Packs
from derate.packs.pack import Keep, Member, Rule, Shape, facts_of
from derate.terms.values import Category, Place
from derate.terms.vocabulary import DIMENSIONS
from derate.terms.words import SEVERITIES, Hazard, Severity
from derate.text.formula_reader import parse

_DISTANCES = ("mains_transient", "clearance_by_impulse", "creepage")
TABLES: dict[str, tuple[str, ...]] = {
    "60664-1": (*_DISTANCES, "clearance_by_peak", "creepage_printed_wiring", "altitude_factor", "groove_width"),
    "62368-1": (
        *_DISTANCES,
        "clearance_by_peak",
        "clearance_by_peak_fast",
        "creepage_fast",
        "temporary_overvoltage",
        "altitude_factor",
        "groove_width",
        "insulation_thickness",
        "tape_layers",
        "strength_by_impulse",
        "strength_by_mains",
        "touch_current",
        "charge_limit",
    ),
    "60335-1": (*_DISTANCES, "impulse_steps", "strength", "tape_layers", "touch_current"),
}


class Asked(NamedTuple):
    """A rule that a family must have.

    says: in words; severity: at least as heavy; keep: a comparison that has to be asked at least as strictly
    member: a fact and the only words that may pass; looks_at: facts it has to look up, where its shape is its own
    role: of a barrier, '' for every subject
    """

    says: str
    about: str
    hazard: Hazard
    severity: Severity
    keep: str = ""
    member: tuple[str, tuple[str, ...]] | None = None
    looks_at: tuple[str, ...] = ()
    role: str = ""


_BARRIERS = ("primary to secondary", "primary to earth", "primary to touchable parts")
_EVERY: tuple[Asked, ...] = (
    *(
        Asked(
            f"{name} of mains poles ahead of the fuse",
            "barrier",
            "fire",
            "critical",
            keep=f"found.{name} >= needed.{name}",
            role="mains poles ahead of the fuse",
        )
        for name in ("clearance", "creepage")
    ),
    *(
        Asked(f"{name} {role}", "barrier", "shock", "critical", keep=f"found.{name} >= needed.{name}", role=role)
        for name in ("clearance", "creepage")
        for role in _BARRIERS
    ),
    Asked(
        "voltage of the electric-strength test",
        "circuit pair",
        "shock",
        "critical",
        keep="test.voltage >= needed.electric_strength",
    ),
    Asked(
        "result of the electric-strength test", "circuit pair", "shock", "critical", member=("test.result", ("held",))
    ),
)
_PRODUCT: tuple[Asked, ...] = (
    Asked("layers of tape", "transformer", "shock", "critical", looks_at=("found.tape_layers", "needed.tape_layers")),
    Asked("what bridges the barrier", "bridge", "shock", "critical", looks_at=("bridge.provides",)),
    Asked("touch current", "supply", "shock", "major", keep="touch_current <= needed.touch_current"),
)
RULES: dict[str, tuple[Asked, ...]] = {
    "60664-1": _EVERY,
    "62368-1": (*_EVERY, *_PRODUCT),
    "60335-1": (*_EVERY, *_PRODUCT),
}


def lacking(packs: Packs, family: str) -> tuple[str, ...]:
    """What a family lacks to count as one, in words; empty where it has everything."""
    tables = [f"table {name}" for name in TABLES[family] if (family, name) not in packs.tables]
    own = [rule for rule in packs.rules if rule.family == family and not rule.switched_off]
    rules = [f"a rule on {one.says}" for one in RULES[family] if not any(_asks(rule, one) for rule in own)]
    return (*tables, *rules)


def _asks(rule: Rule, one: Asked) -> bool:
    """Whether a rule asks what a family must ask, of every subject it must be asked of."""
    if (rule.about, rule.hazard) != (one.about, one.hazard) or rule.cases or rule.when:
        return False
    if SEVERITIES.index(rule.severity) > SEVERITIES.index(one.severity):
        return False
    if one.looks_at:
        return set(one.looks_at) <= set(facts_of(rule.shape))
    reached = all(
        condition.name == "barrier.role" and condition.holds(Category.of(one.role)) for condition in rule.applies
    )
    return reached and not not_as_strict(_shape(one), rule.shape)


def _shape(one: Asked) -> Shape:
    if one.member is not None:
        return Member(*one.member)
    return Keep(parse(one.keep, Place(""), DIMENSIONS, True))
