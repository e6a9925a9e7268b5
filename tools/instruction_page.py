"""Write docs/instructions.md: every text that tells somebody to do something, by what doing it does.

python tools/instruction_page.py            write the page
python tools/instruction_page.py --check    exit 1 when the page is not what rules and vocabulary say
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from derate.packs.load import load_packs
from derate.terms.instructions import CAUTIONS, DOES, POWERED, Does
from derate.terms.vocabulary import VOCABULARY

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "instructions.md"
HEAD = """# Every instruction, by what it does

Written from the rules and the vocabulary (`tools/instruction_page.py`). Each text says by a field of its own what
following it does to the sample and to the person, and the field decides what stands beside the text in every output.
A text that does several things stands under each. In a cure, words in braces are figures that a finding fills in.

**Withheld** texts are not given for a sample with a critical fail of fire or shock, nor before its distances are known:
in their place stands "not on this sample", with the reason.
"""
SAYS: dict[Does, str] = {
    "papers": "Read, ask, write down",
    "closed": "Closed, unplugged",
    "opened": "Opened, unplugged and discharged",
    "destructive": "Destructive",
    "third party": "Somebody else says or does it",
    "earth test": "Earth test",
    "pins": "Pins of a plug that was just drawn",
    "running": "Running, the case shut",
    "overload": "Overload",
    "sensor": "A sensor inside or on it while it runs",
    "probed": "A live point is probed",
    "high voltage": "Electric strength and insulation resistance",
    "touch current": "Touch current",
    "fault": "A fault is provoked",
    "mains wiring": "The mains itself",
    "design": "Cures: the design is changed",
}


def page() -> str:
    """The text of the page."""
    found = list(_texts())
    parts = [HEAD]
    for word in DOES:
        own = [(kind, text, where) for kind, text, where, does in found if word in does]
        if word in SAYS:
            parts.append("\n".join(_section(word, own)))
    return "\n".join(parts)


def _section(word: Does, own: list[tuple[str, str, str]]) -> Iterator[str]:
    yield f"## {SAYS[word]} (`{word}`)"
    yield ""
    caution = CAUTIONS[word]
    beside = f"Beside it: “{caution.beside}”." if caution.beside else "Nothing stands beside it."
    yield " ".join(filter(None, (beside, caution.page, "**Withheld.**" if word in POWERED else "")))
    yield ""
    for kind in ("to find", "to settle", "cure"):
        texts: dict[str, list[str]] = {}
        for one, text, where in own:
            if one == kind:
                texts.setdefault(text, []).append(where)
        if texts:
            yield f"{kind.capitalize()}:"
            yield ""
            yield from (f"- {text} ({_named(names)})" for text, names in sorted(texts.items()))
            yield ""


def _named(names: list[str]) -> str:
    every = sorted(set(names))
    return ", ".join(f"`{one}`" for one in every[:3]) + (f" and {len(every) - 3} more" if len(every) > 3 else "")


def _texts() -> Iterator[tuple[str, str, str, tuple[Does, ...]]]:
    done = set()
    for path in sorted((ROOT / "rules").glob("*.yaml")):
        for rule in load_packs((path.stem,)).rules:
            if (rule.pack, rule.name) in done:
                continue
            done.add((rule.pack, rule.name))
            yield "to settle", rule.settle, rule.name, rule.settle_does
            if rule.settle_first:
                yield "to settle", rule.settle_first, rule.name, rule.settle_first_does
            if rule.remedy:
                yield "cure", rule.remedy, rule.name, rule.remedy_does
    for name, term in VOCABULARY.items():
        if term.how:
            yield "to find", str(term.how), name, term.how.does


def main(arguments: list[str]) -> int:
    """Write the page, or say whether it is current."""
    text = page()
    if "--check" in arguments:
        return 0 if PAGE.exists() and PAGE.read_text(encoding="utf-8") == text else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
