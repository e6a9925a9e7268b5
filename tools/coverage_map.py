"""Write docs/coverage.md from docs/coverage.yaml: what people look for, and the rules that look for it.

python tools/coverage_map.py            write the page
python tools/coverage_map.py --check    exit 1 when the page is out of step
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import yaml

from derate.packs.load import load_packs, shipped
from derate.packs.pack import Rule

DOCS = Path(__file__).parents[1] / "docs"
DATA, PAGE = DOCS / "coverage.yaml", DOCS / "coverage.md"
KEYS = ("asks", "rules", "shown", "part", "out", "not_yet")
GROUPS = {
    "ACC": "Access, plug and marking",
    "FIR": "Fire",
    "INS": "Shock and insulation",
    "STR": "Component stress and life",
    "EMI": "Interference",
    "RAT": "Honest rating",
    "SFT": "Single faults and overload",
    "REP": "Report and evidence",
}
FAMILIES = {"household-": "household", "basic-standard-": "basic standard"}  # rule names with the family in front
HEAD = """\
# What is looked for, and where

Each line is one thing that people check who open, measure, review or design a small mains supply; beside it stand the
rules that look for it. `in part` says what they leave open, `out of scope` why derate does not look, `not yet` what is
missing. A rule that stands in several insulation families is named once. This page is written from `coverage.yaml`:
change that, then run `python tools/coverage_map.py`. Nothing here says that a supply which passes is safe.
"""


@dataclass(frozen=True)
class Item:
    """One line of the map."""

    key: str
    asks: str
    rules: tuple[str, ...]
    shown: str
    part: str
    out: str
    not_yet: str

    @property
    def standing(self) -> str:
        """'rules' | 'shown' | 'out of scope' | 'not yet'."""
        if self.rules:
            return "rules"
        if self.not_yet or not (self.out or self.shown):
            return "not yet"
        return "out of scope" if self.out else "shown"


def items(text: str) -> tuple[Item, ...]:
    """The entries of the data. Raises ValueError for one that is none."""
    found = []
    for key, block in yaml.safe_load(text).items():
        unknown = set(block) - set(KEYS)
        if unknown or not block.get("asks"):
            raise ValueError(f"{key}: {sorted(unknown) or 'asks is missing'}")
        words = (str(block.get(name, "")) for name in ("shown", "part", "out", "not_yet"))
        found.append(Item(key, str(block["asks"]), tuple(block.get("rules", ())), *words))
    return tuple(found)


def shipped_rules() -> dict[str, Rule]:
    """Every rule of every shipped pack, by name."""
    packs = load_packs([str(path) for path in sorted(shipped("rules").glob("*.yaml"))])
    return {rule.name: rule for rule in packs.rules}


def page(entries: tuple[Item, ...], rules: dict[str, Rule]) -> str:
    """The page."""
    lines = [HEAD]
    counts = {
        word: sum(one.standing == word for one in entries) for word in ("rules", "shown", "out of scope", "not yet")
    }
    lines.append(
        f"{len(entries)} items: {counts['rules']} looked for by rules, {counts['shown']} printed without a rule, "
        f"{counts['out of scope']} out of scope, {counts['not yet']} not yet."
    )
    for group, title in GROUPS.items():
        lines += ["", f"## {title}", "", "| item | asked | where |", "|---|---|---|"]
        lines += [
            f"| {one.key} | {_cell(one.asks)} | {_cell(_where(one, rules))} |" for one in entries if _of(one, group)
        ]
    named = {name for one in entries for name in one.rules}
    rest = sorted(name for name in rules if _plain(name) not in named)
    lines += ["", "## Rules beyond the list", "", ", ".join(f"`{name}`" for name in rest) + "."]
    return "\n".join(lines) + "\n"


def _of(one: Item, group: str) -> bool:
    return one.key.split("-")[0] == group


def _plain(name: str) -> str:
    """A rule's name without its family."""
    return next((name.removeprefix(front) for front in FAMILIES if name.startswith(front)), name)


def _where(one: Item, rules: dict[str, Rule]) -> str:
    said = []
    if one.rules:
        said.append(", ".join(f"`{name}`" if name in rules else f"**no such rule: {name}**" for name in one.rules))
    for word, text in (
        ("", one.shown),
        ("in part: ", one.part),
        ("out of scope: ", one.out),
        ("not yet: ", one.not_yet),
    ):
        if text:
            said.append(word + text)
    return "; ".join(said) or "not yet: nobody has said where"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def main(argv: list[str]) -> int:
    """Write or check the page."""
    text = page(items(DATA.read_text(encoding="utf-8")), shipped_rules())
    if "--check" in argv:
        return int(not PAGE.exists() or PAGE.read_text(encoding="utf-8") != text)
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
