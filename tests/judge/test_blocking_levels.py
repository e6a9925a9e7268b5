"""What stops the exit status, as a table: verdict, severity and level, and what takes a finding out of the gate."""

from __future__ import annotations

import pytest

from derate.judge.review import Acknowledgement, Finding, Review
from derate.judge.verdict import acknowledged, blocks, finding_blocks
from derate.ledger.entry import Subject
from derate.terms.values import Place
from derate.terms.words import LEVELS, SEVERITIES, VERDICTS

FINDING = Finding(
    "r", "p", "fire", "critical", Subject("part", ("C1",)), None, "fail", None, None, None, "", "", "", "", "published"
)
ACKNOWLEDGED = Acknowledgement("waiver", "a reason", "somebody", "2027-01-01", 2.0, False, Place("f.yaml"))

# By level: what stops, as verdict and severity. A fail of critical or major blocks, a `not assessed` of critical or
# major too, minor never; `fail` stops at fails alone, `not-assessed` at every fail and every `not assessed`,
# `marginal` at every marginal besides.
HEAVY_FAILS = {("fail", "critical"), ("fail", "major")}
DEFAULT = HEAVY_FAILS | {("not assessed", "critical"), ("not assessed", "major")}
OPEN = DEFAULT | {("fail", "minor"), ("not assessed", "minor")}
MARGINAL = OPEN | {("marginal", severity) for severity in SEVERITIES}
STOPS = {"fail": HEAVY_FAILS, "default": DEFAULT, "not-assessed": OPEN, "marginal": MARGINAL}
EVERY = {(verdict, severity) for verdict in VERDICTS for severity in SEVERITIES}


@pytest.mark.parametrize("level", LEVELS)
def test_what_stops_at_a_level(level: str) -> None:
    found = {
        (verdict, severity)
        for verdict, severity in EVERY
        if finding_blocks(FINDING._replace(verdict=verdict, severity=severity), level)
    }
    assert found == STOPS[level]


def test_levels_go_from_soft_to_hard() -> None:
    assert LEVELS == ("fail", "default", "not-assessed", "marginal")
    assert HEAVY_FAILS < DEFAULT < OPEN < MARGINAL


@pytest.mark.parametrize("level", LEVELS)
def test_the_blocking_law_is_the_default(level: str) -> None:
    for verdict, severity in EVERY:
        one = FINDING._replace(verdict=verdict, severity=severity)
        law = finding_blocks(one, "default")
        assert finding_blocks(one) == law == blocks(_review(one)) == blocks(_review(one), None)
        assert blocks(_review(one), level) == finding_blocks(one, level)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("verdict", ["fail", "not assessed", "marginal"])
def test_what_somebody_signed_for_or_knew_before_does_not_stop(verdict: str, level: str) -> None:
    one = FINDING._replace(verdict=verdict)
    stops = (verdict, "critical") in STOPS[level]
    assert finding_blocks(one._replace(known=True), level) is False
    assert finding_blocks(one._replace(acknowledgement=ACKNOWLEDGED), level) is False
    # after its last day a signature counts for nothing
    assert finding_blocks(one._replace(acknowledgement=ACKNOWLEDGED._replace(expired=True)), level) is stops
    assert finding_blocks(one, level) is stops


def test_acknowledged() -> None:
    assert not acknowledged(FINDING)
    assert acknowledged(FINDING._replace(acknowledgement=ACKNOWLEDGED))
    assert not acknowledged(FINDING._replace(acknowledgement=ACKNOWLEDGED._replace(expired=True)))


@pytest.mark.parametrize("verdict", ["pass", "marginal"])
def test_a_limit_to_confirm_stops_where_what_is_not_assessed_does(verdict: str) -> None:
    """Its hazard is not assessed until somebody has confirmed the limit."""
    one = FINDING._replace(verdict=verdict, confidence="remembered")
    assert [level for level in LEVELS if finding_blocks(one, level)] == ["not-assessed", "marginal"]
    for less in (
        one._replace(severity="major"), one._replace(confidence="common practice"),
        one._replace(verdict="not applicable"),
    ):
        stopped = [level for level in LEVELS if finding_blocks(less, level)]
        assert stopped == (["marginal"] if less.verdict == "marginal" else [])


def _review(*findings: Finding) -> Review:
    return Review("f.yaml", "f", "pass", (), findings, {}, (), (), ())


def test_one_finding_that_stops_is_enough() -> None:
    quiet = FINDING._replace(verdict="pass")
    assert not blocks(_review())
    assert not blocks(_review(quiet, quiet))
    for findings in ((FINDING, quiet), (quiet, FINDING)):
        assert blocks(_review(*findings))
    assert _review(quiet, FINDING._replace(blocks=True)).blocks
    assert not _review(FINDING).blocks  # a review is told by whoever judged it
