"""An archive to measure with: `python tools/archive_designs.py FOLDER [--count 1000] [--seed 1]`.

Designs of every topology among the demonstrations and the designs of the tests, each varied so that no two are worked
out alike: the tolerance of the mains, the current of the first output, capacitances.
What a variation makes unreadable is drawn anew. The same seed gives the same archive.
"""

from __future__ import annotations

import argparse
import random
import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT)]

from derate.design.load import read_design  # noqa: E402
from derate.terms.values import ReadingError  # noqa: E402

SOURCES = ("designs/*/*.derate.yaml", "tests/data/designs/*.derate.yaml", "tests/data/reference_designs/*.derate.yaml")
_CAPACITANCE = re.compile(r"\b(\d+(?:\.\d+)?) ([un]F)\b")
_TOLERANCE = re.compile(r"mains_tolerance: \d+(?:\.\d+)?%")
_CURRENT = re.compile(r"(current: )(\d+(?:\.\d+)?)( A\b)")


def sources() -> tuple[tuple[str, str], ...]:
    """Name and text of every whole design that there is; what revises another is none."""
    paths = [path for pattern in SOURCES for path in sorted(ROOT.glob(pattern))]
    texts = [(path.name.removesuffix(".derate.yaml"), path.read_text(encoding="utf-8")) for path in paths]
    return tuple((name, text) for name, text in texts if not re.search(r"^revision_of:", text, re.MULTILINE))


def varied(text: str, chosen: random.Random) -> str:
    """A design with figures of its own."""

    def scaled(found: re.Match[str]) -> str:
        return f"{float(found[1]) * chosen.uniform(0.85, 1.2):.4g} {found[2]}"

    text = _CAPACITANCE.sub(scaled, text)
    tolerance = f"mains_tolerance: {chosen.uniform(6.0, 15.0):.2f}%"
    if _TOLERANCE.search(text):
        text = _TOLERANCE.sub(tolerance, text, count=1)
    else:
        text = text.replace("\nsite: {", f"\nsite: {{{tolerance}, ", 1)
    plate = text.find("plate:")
    share = chosen.uniform(0.9, 1.1)
    head, tail = text[:plate], text[plate:]
    return head + _CURRENT.sub(lambda found: f"{found[1]}{float(found[2]) * share:.3g}{found[3]}", tail, count=1)


def archive(count: int, seed: int) -> Iterator[tuple[str, str]]:
    """Path and text of so many designs that can be read, over every source in turn."""
    chosen = random.Random(seed)
    every = sources()
    for number in range(count):
        name, text = every[number % len(every)]
        path = f"{name}/{name}-{number:05}.derate.yaml"
        for _ in range(20):
            made = re.sub(
                r"^(supply:.*?\bname: )", rf"\g<1>{number:05} ", varied(text, chosen), count=1, flags=re.S | re.M
            )
            try:
                read_design(made, path)
            except ReadingError:
                continue
            yield path, made
            break
        else:
            raise SystemExit(f"{name}: no variation of it can be read")


def main(words: Sequence[str]) -> None:
    """Write an archive into a folder."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(words)
    for path, text in archive(asked.count, asked.seed):
        file = asked.folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    (asked.folder / ".git").mkdir(exist_ok=True)


if __name__ == "__main__":
    main(sys.argv[1:])
