"""Every text that tells somebody to do something: of every shipped rule, every fact and every key of a file."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

from derate.packs.load import load_packs
from derate.packs.pack import Rule
from derate.terms.instructions import Does, Instruction
from derate.terms.vocabulary import VOCABULARY

ROOT = Path(__file__).resolve().parents[2]
PACKS = tuple(sorted(path.stem for path in (ROOT / "rules").glob("*.yaml")))


class Text(NamedTuple):
    """One text: where it comes from, whether it settles or cures, the text, what following it does."""

    where: str
    kind: str
    text: str
    does: tuple[Does, ...]


@cache
def rules() -> tuple[Rule, ...]:
    """Every shipped rule once."""
    found: dict[tuple[str, str], Rule] = {}
    for name in PACKS:
        for rule in load_packs((name,)).rules:
            found[rule.pack, rule.name] = rule
    return tuple(found.values())


@cache
def texts() -> tuple[Text, ...]:
    """All of them."""
    return tuple(_texts())


def _texts() -> Iterator[Text]:
    for rule in rules():
        if rule.settle:
            yield Text(rule.name, "settle", rule.settle, rule.settle_does)
        if rule.settle_first:
            yield Text(rule.name, "settle", rule.settle_first, rule.settle_first_does)
        if rule.remedy:
            yield Text(rule.name, "remedy", rule.remedy, rule.remedy_does)
    for name, term in VOCABULARY.items():
        if term.how:
            yield Text(name, "how", term.how, getattr(term.how, "does", ()))
    for key, how in keys():
        yield Text(key, "how", how, getattr(how, "does", ()))


@cache
def keys() -> tuple[tuple[str, Instruction], ...]:
    """Every key of a design and of the settings with how a person gets it."""
    from derate.design.bench import ConditionBlock
    from derate.design.blocks import DesignFile
    from derate.design.circuit import circuits
    from derate.design.settings import SettingsFile
    from derate.report.schemas import keys_of

    records = [("", DesignFile), ("conditions.", ConditionBlock), (".derate.yaml: ", SettingsFile)]
    records += [("circuit.", circuit) for circuit in circuits().values()]
    own = {f"{prefix}{key}": field.how for prefix, record in records for key, field in keys_of(record)}
    return tuple((key, how) for key, how in own.items() if how)
