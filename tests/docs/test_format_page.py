"""The page on the design file: every example is read, every refused one is refused with the words it promises."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from page_blocks import Block, blocks_of

from derate.design.load import Design, read_design
from derate.terms.values import Place, ReadingError, Value
from derate.terms.words import EVIDENCE
from derate.text.nodes import Mapping, compose
from derate.text.quantity import read_quantity

PAGE = (Path(__file__).parents[2] / "docs" / "format.md").read_text(encoding="utf-8")
BLOCKS = blocks_of(PAGE)
(WHOLE,) = [block for block in BLOCKS if block.about == "design"]
HERE = Place("format.md")


def _top(text: str) -> dict[str, str]:
    """The lines of each block at the top of a text, by its key."""
    parts = re.split(r"^(?=[a-z_]+:)", text, flags=re.MULTILINE)
    return {part.split(":")[0]: part for part in parts if re.match(r"[a-z_]+:", part)}


def _laid_over(fragment: str) -> str:
    """The shortest file with the blocks of a fragment in place of its own."""
    return "".join((_top(WHOLE.text) | _top(fragment)).values())


def _read(block: Block, folder: Path) -> Design:
    (folder / ".git").mkdir(exist_ok=True)
    (folder / "first.derate.yaml").write_text(WHOLE.text, encoding="utf-8")
    text = block.text if block.about in ("design", "revision") else _laid_over(block.text)
    return read_design(text, str(folder / "page.derate.yaml"))


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: f"line-{block.line}")
def test_every_example_is_read_or_refused_as_it_says(block: Block, tmp_path: Path) -> None:
    assert block.language == "yaml"
    if block.about in ("design", "revision", "fragment"):
        assert _read(block, tmp_path).name
        return
    assert block.about.startswith("refused: "), block.about
    with pytest.raises(ReadingError) as caught:
        _read(block, tmp_path)
    assert block.about.removeprefix("refused: ") in str(caught.value), caught.value


def _rows(first: str) -> list[list[str]]:
    table = PAGE[PAGE.index(f"| {first} |") :].split("\n\n")[0]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]


@pytest.mark.parametrize("row", _rows("written"), ids=lambda row: row[0])
def test_the_four_numbers_of_the_table(row: list[str]) -> None:
    value = read_quantity(row[0].strip("`"), HERE).value
    numbers, unit = row[1].rsplit(" ", 1)
    assert isinstance(value, Value)
    for got, number in zip(value.numbers(), numbers.split(" · "), strict=True):
        wanted = read_quantity(f"{number} {unit}", HERE).value
        assert isinstance(wanted, Value) and got == pytest.approx(wanted.near, rel=1e-9)


@pytest.mark.parametrize("row", _rows("also read"), ids=lambda row: row[0])
def test_the_other_forms_of_the_table(row: list[str]) -> None:
    assert read_quantity(row[0].strip("`"), HERE).text


def test_the_page_names_every_word_of_evidence_in_order() -> None:
    line = PAGE[PAGE.index("surest first:") : PAGE.index("What a critical rule needs")]
    assert re.findall(r"`([a-z ]+)`", line) == [word for word in EVIDENCE if word != "computed"]  # nobody writes that


def test_a_fragment_lies_over_the_shortest_file() -> None:
    node = compose(_laid_over("site: {ambient: 25 degC}\n"), "x.yaml")
    assert isinstance(node, Mapping) and set(node.keys) == {"derate", "supply", "parts", "circuit", "site"}
