"""A sample is not powered with a critical fail of fire or shock, nor before its distances are known."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest

from derate.cli.show import document
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Review
from derate.packs.load import load_packs
from derate.report.brief import things
from derate.report.html import html_page
from derate.report.ledger import csv_text
from derate.report.machine import lint_json, stress_json
from derate.report.markdown import markdown_text
from derate.report.servers import junit_text, sarif_text
from derate.study.work import Work, Workshop, review_of, worked
from derate.terms.instructions import POWERED

ROOT = Path(__file__).resolve().parents[2]
SOUND = ROOT / "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
POOR = ROOT / "designs/market-stall-lamp/market-stall-lamp.derate.yaml"
DAY = date(2026, 11, 25)
ALL = load_packs(
    ("bench", "commercial-practice", "converter", "insulation-it-equipment", "mains-events", "mains-fusing")
)


@cache
def judged(old: str = "", new: str = "") -> Review:
    """The sound design judged with one change."""
    text = SOUND.read_text(encoding="utf-8")
    assert old in text
    design = read_design(text.replace(old, new, 1) if old else text, str(SOUND))
    return review_of(Work(design, Settings(), ALL, worked(design, ALL)), DAY)


PLACE = "ahead of RF1: {between: [line, neutral], clearance: 3.4 mm, creepage: 3.4 mm}"
TEMPERATURE = "runs_down_to: 78 V (measured; on an isolating variable transformer, full load)", "runs_down_to: unknown"


def test_the_sound_sample_may_be_powered_and_its_steps_are_told() -> None:
    review = judged(*TEMPERATURE)
    assert review.not_powered == "" and not any(one.withheld for one in review.findings)
    told = [one for one in review.findings if one.verdict == "not assessed" and POWERED & {*one.does}]
    assert told and all("not on this sample" not in one.remedy for one in told)


@pytest.mark.parametrize(
    ("new", "why"),
    [
        (PLACE.replace("clearance: 3.4", "clearance: 0.3"), "mains-poles-clearance fails on ahead of RF1"),
        (PLACE.replace("clearance: 3.4 mm", "clearance: unknown"), "(mains-poles-clearance on ahead of RF1)"),
        (PLACE.replace("creepage: 3.4 mm", "creepage: unknown"), "(mains-poles-creepage on ahead of RF1)"),
    ],
)
def test_one_distance_that_fails_or_is_not_known_keeps_it_unplugged(new: str, why: str) -> None:
    assert why in judged(PLACE, new).not_powered


def test_a_critical_fail_of_over_stress_does_not() -> None:
    review = judged("reverse_voltage: 1000 V", "reverse_voltage: 200 V")
    assert any(
        one.hazard == "overstress" and one.severity == "critical" and one.verdict == "fail" for one in review.findings
    )
    assert review.not_powered == ""


def test_without_a_pack_of_distances_nothing_is_powered() -> None:
    packs = load_packs(("commercial-practice", "mains-fusing"))
    design = read_design(SOUND.read_text(encoding="utf-8"), str(SOUND))
    review = review_of(Work(design, Settings(), packs, worked(design, packs)), DAY)
    assert review.not_powered == "no distance was judged"


def test_every_output_says_so_and_none_tells_how() -> None:
    made = document(Workshop().work(str(POOR)), DAY)
    review = made.review
    assert "fails on" in review.not_powered
    held = [one for one in review.findings if one.withheld]
    assert len(held) > 10
    for one in held:
        assert review.not_powered in one.remedy and "thermocouple" not in one.remedy and "scope" not in one.remedy
    said = f"not on this sample: {review.not_powered}"
    lint = json.loads(lint_json([review]))
    assert lint["designs"][0]["not_powered"] == review.not_powered and "no certificate" in lint["caution"]
    found = [one for one in lint["designs"][0]["findings"] if one["withheld"]]
    assert len(found) == len(held) and all(said in one["remedy"] and one["does"] for one in found)
    for text in (html_page(made), markdown_text(made)):
        shown = text.replace("\\", "").replace("&#39;", "'")
        assert said in shown and f"This sample is not to be powered: {review.not_powered}." in shown
        assert "never goes back into use" in shown and "no certificate" in shown
        assert "thermocouple on" not in shown and "power meter made for mains" not in shown
    sarif = json.loads(sarif_text(made))["runs"][0]
    assert "no certificate" in sarif["properties"]["caution"] and sarif["properties"]["not_powered"]
    assert "Mains can kill" in sarif["tool"]["driver"]["fullDescription"]["text"]
    properties = {
        one.get("name"): one.get("value") for one in ElementTree.fromstring(junit_text(made)).iter("property")
    }
    assert "no certificate" in (properties["caution"] or "") and properties["not powered"] == review.not_powered
    rows = list(csv.DictReader(io.StringIO(csv_text(made))))
    assert rows and all("no certificate" in row["caution"] and "mains can kill" in row["caution"] for row in rows)
    assert "no certificate" in json.loads(stress_json("x", made.ledger.entries[:2], made.review.gate))["caution"]


def test_the_first_things_to_do_withhold_as_well() -> None:
    review = review_of(Workshop().work(str(POOR)), DAY)
    (held,) = [one for one in review.findings if [fact.name for fact in one.missing] == ["overload_held"]]
    alone = review._replace(findings=(held,))
    (thing,) = things(alone)
    assert thing.how == f"not on this sample: {review.not_powered}"
    (told,) = things(alone._replace(not_powered=""))
    assert told.how.startswith("(isolated, guarded, not alone; sensor fixed first) hold the load")
