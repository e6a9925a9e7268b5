"""The page of an archive: opened in a browser with a thousand designs, used as a person would; texts stay texts."""

from __future__ import annotations

import random
from datetime import date
from pathlib import Path
from typing import Any

from chromium import driven, looked_at, requests_of
from hostile import NAMES

from derate.report.archive import Page, Table, archive_page, progress_line, table_lines
from derate.terms.words import HAZARDS, OVERALLS

HEADS = (
    "design", "name", "revision", "outcome", "overall", *HAZARDS, "blocks", "held_back", "fail", "not_assessed",
    "marginal", "softer", "not_powered", "problems", "nearest",
)  # fmt: skip
NEAR = ("design", "rule", "subject", "severity", "verdict", "stress", "limit", "unit", "ratio")
RUNS = ("run", "day", "version", "designs", *OVERALLS, "unread", "blocked", "blocking")


def _design(number: int, chosen: random.Random, name: str = "") -> tuple[Any, ...]:
    words = [chosen.choice(OVERALLS) for _ in HAZARDS]
    overall = min(words, key=OVERALLS.index)
    name = name or f"Supply {number}"
    ratio = None if number % 9 == 0 else chosen.random()
    return (f"shelf-{number % 7}/design-{number:04}.derate.yaml", name, "0" * 12, "judged", overall, *words,
            chosen.randrange(90), 0, chosen.randrange(30), chosen.randrange(60), 0, 0, False, "", ratio)  # fmt: skip


def page(many: int, name: str = "", title: str = "shelf") -> str:
    """A page of so many designs, drawn at random."""
    chosen = random.Random(7)
    designs = [_design(number, chosen, name) for number in range(many)]
    near = [(f"shelf-1/design-{n:04}.derate.yaml", "a-rule", name or "C1", "major", "pass", [1.0, 1.0, 2.0, 2.0],
             [2.0] * 4, "V", 0.9) for n in range(20)]  # fmt: skip
    runs = [(n, date(2026, 11, n + 1), "0.1.0", many, *([0] * (len(OVERALLS) - 1)), many, 0, 0, 3) for n in range(9)]
    return archive_page(
        Page(title, date(2026, 11, 25), 9, "0.1.0", Table("designs", HEADS, designs), Table("near", NEAR, near),
             Table("runs", RUNS, runs), [("bench", "f" * 64, many)])
    )  # fmt: skip


DRIVE = """
const page = await open('page'), out = {};
const rows = () => [...page.querySelectorAll('#table tbody tr')].filter(one => !one.hidden);
const names = () => rows().map(one => one.cells[0].textContent);
out.nodes = page.getElementsByTagName('*').length;
out.first = names();
const press = at => page.querySelectorAll('#table thead th')[at].querySelector('button').click();
press(9);
out.blocks = rows().map(one => Number(one.cells[9].textContent));
press(9);
out.up = rows().map(one => Number(one.cells[9].textContent));
press(12);
out.near = rows().map(one => one.cells[12].dataset.n);
press(2);
out.words = rows().map(one => one.cells[2].textContent);
out.sorted = page.querySelectorAll('#table th[aria-sort]').length;
const form = page.getElementById('ask');
const tell = (name, value) => { form.elements[name].value = value; form.dispatchEvent(new Event('input')); };
tell('text', 'SHELF-3');
out.found = names();
tell('word', 'fail');
out.failing = rows().map(one => one.cells[2].textContent);
tell('hazard', 'shock');
out.shock = rows().map(one => one.cells[4].textContent);
out.many = form.elements.many.value;
tell('text', ''); tell('word', ''); tell('hazard', '');
out.again = names().length;
return out;
"""


def test_a_thousand_designs_are_sorted_and_filtered(tmp_path: Path) -> None:
    text = page(1000)
    assert len(text.encode()) < 700_000  # 650 bytes a design
    found = driven({"page": text}, tmp_path, DRIVE, width=1280)
    assert "failed" not in found, found
    assert found["nodes"] < 16_000  # 14 a design and a few hundred around them
    assert len(found["first"]) == 1000 and found["first"] == [
        f"shelf-{n % 7}/design-{n:04}.derate.yaml" for n in range(1000)
    ]
    assert found["blocks"] == sorted(found["blocks"], reverse=True) and found["up"] == sorted(found["up"])
    near = [float(one) for one in found["near"] if one]
    assert near == sorted(near, reverse=True) and found["near"][-112:] == [""] * 112  # those without a ratio last
    assert found["words"] == sorted(found["words"], key=OVERALLS.index) and found["sorted"] == 1
    assert found["found"] and all(one.startswith("shelf-3/") for one in found["found"]) and len(found["found"]) == 143
    assert found["failing"] and {*found["failing"]} == {"fail"}
    assert found["shock"] and {*found["shock"]} == {"fail"} and found["many"] == f"{len(found['shock'])} of 1000"
    assert found["again"] == 1000


def test_the_page_loads_nothing_and_is_sound(tmp_path: Path) -> None:
    found = looked_at(page(12), tmp_path, axe=True)
    assert not found["told"] and not found["loaded"] and found["over"] <= 0 and not found["axe"], found
    narrow = looked_at(page(12), tmp_path, width=360)
    assert narrow["over"] <= 0, narrow
    assert all(one.startswith("file:") for one in requests_of(page(12), tmp_path))


def test_texts_of_a_design_stay_texts(tmp_path: Path) -> None:
    for said in NAMES:
        text = page(1, said, said)
        assert text.count("<script") == 1 and "<img" not in text and "\x1b" not in text, said


def test_how_far_it_is_in_words() -> None:
    assert progress_line(1000, 0, 340, 12.44, 53.0) == "340 of 1000 designs, 12.4 a second, 53 s left"
    assert progress_line(1000, 600, 0, 0.0, None) == "600 of 1000 designs, 600 unchanged"
    assert progress_line(2, 1, 1, 2.0, 0.0) == "2 of 2 designs, 1 unchanged, 2 a second"
    assert progress_line(9, 0, 1, 0.1, 300.0).endswith("5 min left")
    assert progress_line(9, 0, 1, 0.1, 7200.0).endswith("2.0 h left")


def test_a_table_in_columns_and_between_tabs() -> None:
    table = Table(
        "title", NEAR, [("a\x1b[31m\tb", "r", "C1", "major", "fail", [1.0, 1.0, 2.0, float("inf")], None, "V", None)]
    )
    lines = [str(one) for one in table_lines(table)]
    assert lines[1].split("\t") == ["design", "rule", "subject", "severity", "verdict", "stress", "limit", "ratio"]
    assert len(lines[2].split("\t")) == 8 and "\x1b" not in lines[2]
    fitted = [*table_lines(table, 40)]
    assert all(len(one) <= 40 for one in fitted) and getattr(fitted[2], "style", "")
    heads = [str(one) for one in table_lines(table, 80)][1]
    assert len(heads) <= 80 and all(one in heads for one in ("design", "rule", "verdict", "stress", "limit", "ratio"))
    assert table.records()[0]["stress"] == [1.0, 1.0, 2.0, None]
    assert [*table_lines(Table("t", ("a",), []))][1] == "none"
