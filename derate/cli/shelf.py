"""The packs that `explain` and `rules` look through: those asked for, those of the settings, then the shipped ones."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from derate.cli.parser import COMMAND_LINE, refused
from derate.design.settings import find_settings
from derate.packs.find import find_pack, shipped
from derate.packs.load import Packs, load_packs
from derate.packs.rule import Rule
from derate.packs.trial import Trials, read_trials
from derate.terms.place import Problem, ReadingError
from derate.text.file import read_text


def one_pack(name: str) -> Packs:
    """A pack by name (also beside the folder one stands in) or by path, with what it builds on."""
    near = None if "/" in name or "\\" in name or name.endswith((".yaml", ".yml")) else Path.cwd()
    return load_packs([str(find_pack(name, near, COMMAND_LINE))])


def shelf(asked: Sequence[str]) -> tuple[tuple[Packs, ...], tuple[Problem, ...]]:
    """Packs to look through, each with what it builds on, and what is wrong with those that could not be read."""
    if asked:
        return tuple(one_pack(name) for name in asked), ()
    settings = find_settings(str(Path.cwd() / "design"))
    paths = [str(find_pack(one.text, Path(settings.path), one.start)) for one in settings.packs]
    paths += sorted(str(path) for path in shipped("rules").glob("*.yaml"))
    found, problems = [], []
    for path in dict.fromkeys(paths):
        try:
            found.append(load_packs([path]))
        except ReadingError as error:
            problems += [one for one in error.problems if one not in problems]
    if not found and problems:
        raise ReadingError(problems)
    if not found:
        raise refused("there is no rule pack to look through", "name one with --pack")
    return tuple(found), tuple(problems)


def rules_of(shelf_packs: Sequence[Packs]) -> tuple[Rule, ...]:
    """Every rule, each pack's once; the first on the shelf speaks for a rule that later ones hold too."""
    found: dict[tuple[str, str], Rule] = {}
    for packs in shelf_packs:
        for rule in packs.rules:
            found.setdefault((rule.pack, rule.name), rule)
    return tuple(found.values())


def trials_of(packs: Packs, pack: str) -> Trials:
    """The trials that stand in the file of one pack."""
    head = next(head for head in packs.heads if head.name == pack)
    return read_trials(read_text(head.path), head.path, packs)
