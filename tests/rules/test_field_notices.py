"""What market surveillance found on small supplies and lamps is found here and blocks; what is not told stays open."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from law_bench import DAY
from place_check import wrong_places

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Review
from derate.study.work import Work, Workshop, required_of, review_of, worked

HERE = Path(__file__).parents[1] / "data" / "notices"
NOTICES: list[dict[str, Any]] = yaml.safe_load((HERE / "notices.yaml").read_text(encoding="utf-8"))
WORKSHOP = Workshop()
# Of the notices this is a mark on a plate: told, and no reason to stop anybody.
MINOR = {"plate-states-mains", "plate-names-maker"}


@cache
def review(text: str, base: str) -> Review:
    path = str(HERE / f"{base}.derate.yaml")
    design = read_design(text, path)
    packs = WORKSHOP.packs_for(path, design, Settings())
    return review_of(Work(design, Settings(), packs, worked(design, packs), required_of(packs)), DAY)


def written(notice: dict[str, Any]) -> str:
    text = before(notice["base"])
    for old, new in notice["write"]:
        assert text.count(old) == 1, f"{notice['id']}: '{old}' stands {text.count(old)} times in {notice['base']}"
        text = text.replace(old, new)
    return text


def before(base: str) -> str:
    return (HERE / f"{base}.derate.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("notice", NOTICES, ids=[str(one["id"]) for one in NOTICES])
def test_what_the_authority_found_is_found_and_blocks(notice: dict[str, Any]) -> None:
    found, sound = review(written(notice), notice["base"]), review(before(notice["base"]), notice["base"])
    hazards = {one.hazard: one.word for one in found.hazards}
    for rule, verdict in notice["finds"].items():
        own = [one for one in found.findings if one.rule == rule and one.verdict == verdict]
        assert own, f"{rule}: {[(str(one.subject), one.verdict) for one in found.findings if one.rule == rule]}"
        assert all(one.blocks for one in own) == (rule not in MINOR)
        assert hazards[own[0].hazard] == "fail" or rule in MINOR
        # and it is the notice that makes it so
        assert not [one for one in sound.findings if one.rule == rule and one.verdict == verdict], rule
    for rule in notice.get("open", ()):
        own = [one for one in found.findings if one.rule == rule]
        assert own and not any(one.verdict == "fail" for one in own)
        assert any(one.verdict == "not assessed" and one.blocks for one in own), rule
    assert found.blocks
    path = str(HERE / f"{notice['base']}.derate.yaml")
    assert not wrong_places(found, {path: written(notice)})


def test_a_cause_that_nobody_tells_is_no_fail_and_no_pass() -> None:
    """Fire and shock are open: no finding of either hazard fails, and neither hazard holds."""
    notice = next(one for one in NOTICES if one["id"] == "cause unknown")
    found = review(written(notice), "charger")
    assert not [one for one in found.findings if one.verdict == "fail" and one.hazard in ("fire", "shock")]
    assert {one.hazard: one.word for one in found.hazards if one.hazard in ("fire", "shock")} == {
        "fire": "not assessed",
        "shock": "not assessed",
    }


def test_nought_is_a_value_and_no_word_for_not_stated() -> None:
    """0 mm, 0.0 mm and 0.0..0.6 mm fail; unknown is not assessed."""
    place = "gap under T1: {between: [primary, secondary], clearance: 6.5 mm"
    for figure, verdict in (
        ("0 mm", "fail"), ("0.0 mm", "fail"), ("0.0..0.6 mm", "fail"), ("unknown", "not assessed"), ("6.5 mm", "pass"),
    ):
        text = before("charger").replace(place, place.replace("6.5 mm", figure))
        own = [one for one in review(text, "charger").findings if one.rule == "barrier-clearance"]
        assert [one.verdict for one in own if "gap under T1" in str(one.subject)] == [verdict], figure
