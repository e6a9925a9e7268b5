"""What if: a fact of every design, or the limit of a rule, set to something else than what is written.

`site.mains_tolerance=20%` is read as if it stood in the file, by the reader of files; a part is named by its
designator, by its entry in a library of parts or by what is marked on it: `parts[MB6S].rated.voltage=400 V`. A design
without such a part is left alone.
`rules[NAME].keep=FORMULA` puts another comparison into a rule, by a pack that builds on the one that has it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from derate.design.record import evidence
from derate.packs.load import Packs
from derate.packs.pack import Keep
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.text.nodes import Mapping, Node, Scalar, check_characters

COMMAND_LINE = Place("command line")
PACK = "what-if"  # of the limits that are set
_STEP = re.compile(r"([a-z_][a-z_0-9]*|[^\W\d_][\w-]*)(?:\[([^\[\]]{1,200})\])?")
_LONGEST = 500


class Untouched(Exception):
    """Nothing of what was to be set is in this design, or all of it stands there already."""


class Setting(NamedTuple):
    """One value that is set. path: keys from the top of the file; named: which part, '' where no part is meant."""

    path: tuple[str, ...]
    text: str
    named: str = ""


class Limit(NamedTuple):
    """The comparison that a rule is given."""

    rule: str
    keep: str


def read_setting(said: str) -> Setting | Limit:
    """One `--set`. Raises ReadingError where it is none."""
    name, equals, text = said.partition("=")
    text = text.strip()
    steps = _steps(name.strip())
    if not equals or not text or steps is None or len(said) > _LONGEST:
        raise _refused(
            f"'{said[:60]}' sets nothing",
            "write --set site.mains_tolerance=20%, --set 'parts[C1].rated.voltage=400 V' or --set 'rules[NAME].keep=…'",
        )
    wrong = [*check_characters(text, COMMAND_LINE.path)]
    if wrong or "\n" in text:
        raise _refused("a value that is set is one line of text", "write it as it would stand in the file")
    (first, named), *rest = steps
    if any(one for _, one in rest) or (named and first not in ("parts", "rules")):
        raise _refused(f"'{name.strip()[:60]}': only parts and rules are named in brackets", "write dots elsewhere")
    keys = tuple(key for key, _ in rest)
    if first == "rules":
        if not named or keys != ("keep",):
            raise _refused(f"'{name.strip()[:60]}': of a rule its comparison is set", "write rules[NAME].keep=…")
        return Limit(named, text)
    if first == "parts":
        if not named and keys:  # `parts.C1.rated.voltage`, as elsewhere
            named, keys = keys[0], keys[1:]
        if not named or not keys:
            raise _refused(f"'{name.strip()[:60]}' names no figure of a part", "write parts[NAME].rated.voltage=…")
    elif not keys:
        raise _refused(f"'{name.strip()[:60]}' is a whole block", "name one key of it, such as site.mains_tolerance")
    return Setting((first, *keys), text, named)


def _steps(name: str) -> list[tuple[str, str]] | None:
    """Keys with what stands in brackets behind them; None where it is no such name."""
    found, at = [], 0
    while True:
        step = _STEP.match(name, at)
        if step is None:
            return None
        found.append((step[1], (step[2] or "").strip()))
        if step.end() == len(name):
            return found
        if name[step.end()] != ".":
            return None
        at = step.end() + 1


class Change(NamedTuple):
    """Settings as a change of the nodes of a file."""

    settings: tuple[Setting, ...]
    whatever: bool = False  # judged again whether it is touched or not: a pack is another, too

    def of(self, node: Mapping) -> Mapping:
        """The file with everything set. Raises Untouched where it changes nothing."""
        changed = node
        for one in self.settings:
            changed = _set(changed, one)
        if changed is node and not self.whatever:
            raise Untouched
        return changed


def _set(node: Mapping, one: Setting) -> Mapping:
    if not one.named:
        return _put(node, one.path, one.text)
    parts = node.get("parts")
    if not isinstance(parts, Mapping):
        return node
    # a designator is meant before a marking: nobody marks a part with the designator of another on purpose
    own = [key.text for key, _ in parts.entries if key.text == one.named]
    for key_of in ("part", "marking"):  # the entry of a library, then what is marked on it
        own = own or [key.text for key, block in parts.entries if _said(block, key_of) == one.named.casefold()]
    for name in own:
        node = _put(node, ("parts", name, *one.path[1:]), one.text)
    return node


def _said(block: Node, key: str) -> str:
    """What stands under a key of a part, without the evidence behind it."""
    said = block.get(key) if isinstance(block, Mapping) else None
    if not isinstance(said, Scalar):
        return ""
    try:
        return evidence(said)[0].casefold()
    except ReadingError:
        return ""


def _put(node: Mapping, path: tuple[str, ...], text: str) -> Mapping:
    """The same block with a text at the end of a path; the block itself where it stands there already."""
    key, *rest = path
    old = node.get(key)
    if rest:
        below = old if isinstance(old, Mapping) else Mapping((), old.place if old is not None else node.place)
        new: Node = _put(below, tuple(rest), text)
        if new is old:
            return node
    else:
        if isinstance(old, Scalar) and old.text == text:
            return node
        new = Scalar(text, old.place if old is not None else node.place, in_line=False)
    if old is None:
        return Mapping((*node.entries, (Scalar(key, node.place), new)), node.place)
    return Mapping(tuple((name, new if name.text == key else one) for name, one in node.entries), node.place)


def pack_of(limits: Sequence[Limit], shelf: Sequence[Packs]) -> tuple[str, frozenset[str]]:
    """The text of a pack that gives rules other comparisons, and the packs it changes. Raises ReadingError.

    shelf: packs that may have the rules
    """
    homes: dict[str, None] = {}
    for one in limits:
        rules = {rule.name: rule for packs in shelf for rule in packs.rules}
        rule = rules.get(one.rule)
        if rule is None:
            close = nearest(one.rule, rules)
            raise _refused(
                f"'{one.rule[:60]}' is no rule of any pack", f"did you mean {close}?" if close else "see derate rules"
            )
        if not isinstance(rule.shape, Keep):
            raise _refused(
                f"{rule.name} keeps no comparison", "write a pack that changes it, and name it with --if-pack"
            )
        homes[rule.pack] = None
    changes = "\n".join(f"  {one.rule}: {{keep: {_quoted(one.keep)}, reason: asked what if}}" for one in limits)
    text = (
        f"pack: {PACK}\ntitle: What if\ncovers: limits that somebody asked about\n"
        f"builds_on: [{', '.join(homes)}]\nrelax:\n{changes}\n"
    )
    return text, frozenset(homes)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _refused(what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(COMMAND_LINE, what, instead)])
