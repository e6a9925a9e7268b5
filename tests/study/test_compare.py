"""Two designs beside each other: a change of one fact, two supplies of one rating, a revision out of git."""

from __future__ import annotations

import shutil
import subprocess
from datetime import date
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

from derate.cli.main import main
from derate.judge.review import Difference
from derate.report.compare import compare_html, compare_lines, compare_markdown, lists
from derate.report.words import entry_words, quantity_words
from derate.study.compare import Side, compare, partners_of, turned
from derate.study.work import Work, Workshop, review_of
from derate.terms.values import Value

ROOT = Path(__file__).parents[2]
SOUND = ROOT / "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
POOR = ROOT / "designs/market-stall-lamp/market-stall-lamp.derate.yaml"
REVISED = ROOT / "designs/greenhouse-vent/greenhouse-vent-revision-b.derate.yaml"
DAY = date(2026, 11, 25)


def _side(work: Work, name: str) -> Side:
    return Side(name, review_of(work, DAY), tuple(work.ledger.entries), work.design.structure)


@pytest.fixture(scope="module")
def revised() -> Difference:
    shop = Workshop()
    return compare(_side(shop.work(str(SOUND)), "a"), _side(shop.work(str(REVISED)), "b"))


@pytest.fixture(scope="module")
def two_supplies() -> Difference:
    shop = Workshop()
    return compare(_side(shop.work(str(SOUND)), "a"), _side(shop.work(str(POOR)), "b"))


def test_a_design_beside_itself_has_no_difference() -> None:
    side = _side(Workshop().work(str(SOUND)), "a")
    found = compare(side, side)
    assert not found.facts and not found.stresses and not found.verdicts and not found.partners
    assert found.same_facts > 100 and found.same_stresses > 100 and found.same_verdicts > 50


def test_one_fact_changed_is_one_fact_told_with_what_it_moves(tmp_path: Path) -> None:
    text = SOUND.read_text(encoding="utf-8")
    assert text.count("resistance: 6.8 ohm 5%") == 1
    (tmp_path / "a.yaml").write_text(text, encoding="utf-8")
    changed = text.replace("resistance: 6.8 ohm 5%", "resistance: 13.6 ohm 5%")
    (tmp_path / "b.yaml").write_text(changed, encoding="utf-8")
    shutil.copytree(SOUND.parent / "captures", tmp_path / "captures")
    shop = Workshop()
    found = compare(_side(shop.work(str(tmp_path / "a.yaml")), "a"), _side(shop.work(str(tmp_path / "b.yaml")), "b"))
    assert [(str(one.subject), one.quantity) for one in found.facts] == [("RF1", "part.resistance")]
    before, after = found.facts[0].before, found.facts[0].after
    assert before is not None and after is not None and isinstance(after.value, Value)
    assert after.value.near == pytest.approx(13.6)
    inrush = next(
        one for one in found.stresses
        if (str(one.subject), one.quantity, one.group) == ("line", "current_peak", "switch-on")
    )  # fmt: skip
    assert inrush.factor is not None and 0.5 < inrush.factor < 0.75  # twice the resistance, some of it the mains'


def test_the_furthest_stress_comes_first_and_the_worst_verdict(revised: Difference) -> None:
    factors = [abs(one.factor - 1) for one in revised.stresses if one.factor is not None]
    assert factors and revised.stresses[0].factor is not None
    ways = [one.way for one in revised.verdicts]
    assert ways == sorted(ways, key=("worse", "better", "other").index)
    first = revised.verdicts[0]
    assert first.way == "worse" and (first.rule, str(first.subject)) == ("output-rectifier-reverse-voltage", "D7")
    changed = {(str(one.subject), one.quantity) for one in revised.facts}
    assert {("D7", "rated.reverse_voltage"), ("RF1", "part.resistance"), ("C8", "part.capacitance")} <= changed


def test_parts_of_one_job_are_held_against_each_other(two_supplies: Difference) -> None:
    pairs = set(two_supplies.partners)
    assert {("RF1", "TK1"), ("BR1", "D1"), ("D7", "D3")} <= pairs
    assert "U1" not in {one for one, _ in pairs}  # a controller has no like there
    barrier = next(one for one in two_supplies.verdicts if one.rule == "mains-protective-part")
    assert barrier.way == "worse" and barrier.after is not None and barrier.after.verdict == "fail"


def test_partners_hold_one_part_once(two_supplies: Difference) -> None:
    shop = Workshop()
    one, other = (shop.work(str(path)).design.structure for path in (SOUND, POOR))
    pairs = partners_of(one, other)
    assert len({a for a, _ in pairs}) == len(pairs) == len({b for _, b in pairs})


def test_in_every_form(two_supplies: Difference, revised: Difference) -> None:
    for found in (two_supplies, revised):
        lines = list(compare_lines(found, None, True))
        assert sum(line.startswith("  ") for line in lines) >= len(found.verdicts) + len(found.facts)
        assert all(len(line) <= 80 for line in compare_lines(found, 80))
        markdown = compare_markdown(found)
        assert len(markdown) < 65_536
        html = MarkdownIt("commonmark", {"html": True}).enable("table").render(markdown)
        assert html.count("<details>") == html.count("</details>") >= 2
        page = compare_html(found, DAY, every=True)
        told = lists(found)
        assert page.count("<tr>") > len(told.verdicts) + len(told.stresses) + len(told.facts)
        assert sum(line.startswith("  and ") for line in compare_lines(found, None)) >= 2  # cut, and counted
        assert len(told.verdicts) == len(found.verdicts) and len(told.facts) == len(found.facts)
        assert page == compare_html(found, DAY, every=True)


def test_it_says_how_many_block_and_fits_one_page(two_supplies: Difference, revised: Difference) -> None:
    for found in (two_supplies, revised):
        lines = list(compare_lines(found, 80))
        before, after = found.blocking
        assert after == sum(one.blocks for one in found.after.findings) > before == 0
        assert any(line.startswith(f"{before} block → {after} block ") for line in lines)
        assert len(lines) <= 66  # of a printed page at 80 columns
        hazards = lists(found).hazards
        assert sum(one.before for one in hazards) == before and sum(one.after for one in hazards) == after
        assert f"<strong>{before} block</strong>, then <strong>{after} block</strong>" in compare_html(found, DAY)


def test_barriers_of_one_role_are_held_against_each_other_the_narrowest_first(two_supplies: Difference) -> None:
    found = {(one.before, one.after): one for one in two_supplies.pairs if one.of == "barrier"}
    pairs = {key: one.role for key, one in found.items()}
    assert pairs == {
        ("under transformer", "solder blob"): "primary to secondary",
        ("core to secondary leads", "C9 pad to bulk track"): "primary to secondary",
        ("", "under T1"): "primary to secondary",
        ("ahead of RF1", "plug side"): "mains poles ahead of the fuse",
        ("across RF1", ""): "across the fuse",
    }
    sides = {name: (one, other) for name, one, other in found["ahead of RF1", "plug side"].figures}
    one, other = sides["found.clearance"]
    assert one is not None and isinstance(one.value, Value) and one.value.near == pytest.approx(3.4e-3)
    assert other is not None and isinstance(other.value, Value) and other.value.near == pytest.approx(1.1e-3)
    told = list(compare_lines(two_supplies, None))
    line = next(one for one in told if "under transformer → solder blob" in one)
    assert "clearance 6.1 to 6.4 mm, needs 3 mm → at most 0.4 mm, needs at least 3 mm" in line
    # a rule that looks at both is told as one verdict that turned, not as two that came and went
    verdicts = {(one.rule, str(one.subject)): one for one in two_supplies.verdicts}
    turned = verdicts["mains-poles-clearance", "plug side"]
    assert turned.before is not None and turned.before.verdict == "pass" and turned.way == "worse"


def test_parts_of_one_job_stand_side_by_side_with_their_figures(two_supplies: Difference) -> None:
    found = {(one.before, one.after): one for one in two_supplies.pairs if one.of == "part"}
    first = found["RF1", "TK1"]
    assert first.role == "mains series"
    assert [name for name, _, _ in first.figures][:2] == ["part.kind", "part.resistance"]
    assert ("U1", "") in found and ("", "C9") in found  # and those that only one of them has
    names = [one.before for one in two_supplies.pairs if one.before] + [one.after for one in two_supplies.pairs]
    assert {"RF1", "BR1", "Q1", "TK1", "D1"} <= set(names)


def test_alike_moves_are_one_line_and_none_is_lost(two_supplies: Difference) -> None:
    told = lists(two_supplies).stresses
    assert len(told) < len(two_supplies.stresses)
    for change in two_supplies.stresses:
        before = entry_words(change.before) if change.before is not None else "nothing"
        assert any(one.before == before and quantity_words(change.quantity) in one.what for one in told)


def _git(folder: Path, *arguments: str) -> None:
    subprocess.run(["git", "-C", str(folder), "-c", "user.name=a", "-c", "user.email=a@b.example", *arguments],
                   check=True, capture_output=True)  # fmt: skip


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    """A repository with two commits of a design that revises another."""
    text = POOR.read_text(encoding="utf-8")
    _git(tmp_path, "init", "-q")
    (tmp_path / "base.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "next.yaml").write_text("derate: 1\nrevision_of: base.yaml\n", encoding="utf-8")
    _git(tmp_path, "add", ".")
    _git(tmp_path, "commit", "-q", "-m", "one")
    (tmp_path / "base.yaml").write_text(text.replace("R2: film resistor 22 ohm", "R2: film resistor 47 ohm"),
                                        encoding="utf-8")  # fmt: skip
    _git(tmp_path, "commit", "-q", "-a", "-m", "two")
    return tmp_path


@pytest.mark.parametrize("name", ["base.yaml", "next.yaml"])
def test_a_revision_out_of_git_with_what_it_revises(
    repository: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", str(repository / name), str(repository / name), "--before-revision", "HEAD~1"]) == 0
    told = capsys.readouterr().out
    assert "R2, film resistor → R2, film resistor: resistance 22 ohm → 47 ohm" in told and "1 fact changed" in told
    assert f"{name} in HEAD~1" in told.replace("\n", " ")
    assert "  R2: resistance: 22 ohm → 47 ohm" not in told  # what is not on the page is on request
    whole = [str(repository / name), str(repository / name), "--before-revision", "HEAD~1", "--all"]
    assert main(["compare", *whole]) == 0
    assert "  R2: resistance: 22 ohm → 47 ohm" in capsys.readouterr().out
    assert main(["compare", str(repository / name), str(repository / name), "--after-revision", "HEAD~1"]) == 0
    assert "resistance 47 ohm → 22 ohm" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("named", "why"),
    [
        (["base.yaml@"], "is not written behind its name; write base.yaml --before-revision REV"),
        (["base.yaml@HEAD~1"], "is not written behind its name; write base.yaml --before-revision HEAD~1"),
        (["base.yaml", "--before-revision", "nosuch"], "could not be read"),
        (["base.yaml", "--before-revision=--output=x"], "no name for a revision"),
        (["gone.yaml", "--before-revision", "HEAD"], "could not be read"),
    ],
)
def test_a_revision_that_is_none(
    repository: Path, named: list[str], why: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(repository)
    assert main(["compare", named[0], "base.yaml", *named[1:]]) == 2
    told = capsys.readouterr()
    assert why in told.err and "Traceback" not in told.err and not told.out


def test_a_file_with_an_at_in_its_name_is_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "supply@home.yaml"
    file.write_text(POOR.read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["compare", str(file), str(file)]) == 0
    assert "no fact changed" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("was", "now", "way"),
    [
        ("fail", "pass", "better"), ("fail", "marginal", "better"), ("not assessed", "pass", "better"),
        ("fail", "not assessed", "other"), ("fail", "fail, waived", "other"), ("pass", "not assessed", "worse"),
        ("not assessed", "fail", "worse"), ("marginal", "pass", "better"), ("pass", "marginal", "worse"),
    ],
)  # fmt: skip
def test_only_what_is_shown_to_hold_is_better(was: str, now: str, way: str) -> None:
    """A fail that nobody can show any more, or that is waived, holds nothing: it is told apart from what got better."""
    assert turned(was, now) == way
