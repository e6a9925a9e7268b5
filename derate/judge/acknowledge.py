"""What somebody signed for: waivers and open points, and how far a signature reaches."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import NamedTuple

from derate.judge.review import Acknowledgement, Finding
from derate.ledger.entry import Subject
from derate.terms.values import Place
from derate.terms.words import LONGEST_DAYS, WAIVABLE, Hazard

# Waivers and open points: what somebody signed for, until when, and what became of it.
#
# A waiver stands beside a fail whose ratio it covers; an open point beside a `not assessed`. Neither changes a word.
# The last day counts; a malformed or expired one counts for nothing and is told. Today is an argument.


class Limits(NamedTuple):
    """How far a signature reaches: its last day at most so far ahead [days], and the hazards whose critical fails it
    may cover."""

    longest_days: int = LONGEST_DAYS
    critical_waivers: tuple[Hazard, ...] = ()


NO_MORE = Limits()


class Waiver(NamedTuple):
    """A fail that is accepted up to a ratio. `problem`: why it could not be read whole; it then counts for nothing."""

    rule: str
    subject_name: str
    up_to: float | None
    reason: str
    by: str
    last_day: date | None
    place: Place
    problem: str = ""


class OpenPoint(NamedTuple):
    """A `not assessed` that is accepted until its last day."""

    rule: str
    subject_name: str
    reason: str
    by: str
    last_day: date | None
    place: Place
    problem: str = ""


def is_about(name: str, subject: Subject) -> bool:
    """Whether a name in a waiver means this subject: as printed, its names joined, or the transformer of them all."""
    if not name:
        return False
    if name in (str(subject), ".".join(subject.names), ", ".join(subject.names), " and ".join(subject.names)):
        return True
    if len(subject.names) > 1 and sorted(name.split(" – ")) == sorted(subject.names):
        return True  # a pair, in either order
    return bool(subject.names) and all(one.startswith(f"{name}.") for one in subject.names)


def faults(one: Waiver | OpenPoint) -> str:
    """Why a waiver or open point counts for nothing, '' when it is whole."""
    if one.problem:
        return one.problem
    lacking = [
        word for word, given in (("reason", one.reason), ("by", one.by), ("last_day", one.last_day)) if not given
    ]
    if lacking:
        return f"it has no {' and no '.join(lacking)}"
    if isinstance(one, Waiver) and one.up_to is not None and not one.up_to >= 1:
        return f"up_to is {one.up_to:g}, and a fail is above 1"
    return ""


def covers(one: Waiver | OpenPoint, finding: Finding) -> bool:
    """Whether it is about this finding and reaches far enough; its last day is not looked at."""
    if one.rule != finding.rule or not is_about(one.subject_name, finding.subject):
        return False
    if isinstance(one, OpenPoint):
        return finding.verdict == "not assessed"
    if finding.verdict != "fail":
        return False
    # A shape that compares nothing has no ratio, and nothing to reach up to.
    return finding.ratio is None or (one.up_to is not None and finding.ratio <= one.up_to)


def too_far(last_day: date, today: date, limits: Limits) -> str:
    """Why a last day lies too far ahead, '' when it does not."""
    latest = _later(today, limits.longest_days)
    if last_day <= latest:
        return ""
    return f"its last day lies more than {limits.longest_days} days ahead, and {latest.isoformat()} is the latest now"


def _later(today: date, days: int) -> date:
    return date.max if (date.max - today).days < days else today + timedelta(days)


def out_of_reach(one: Waiver | OpenPoint, finding: Finding, limits: Limits) -> str:
    """Why a waiver may not cover a finding however well it is written, '' when it may."""
    if finding.of_gate:
        return "what packs are in use is for the settings and the command line to say"
    heavy = isinstance(one, Waiver) and finding.severity == "critical" and finding.hazard in WAIVABLE
    if heavy and finding.hazard not in limits.critical_waivers:
        return (
            f"a critical fail of {finding.hazard} is waived only where the settings at the root of the repository say "
            f"critical_waivers: [{finding.hazard}]"
        )
    return ""


def acknowledgement(
    finding: Finding, given: Sequence[Waiver | OpenPoint], today: date, limits: Limits = NO_MORE
) -> tuple[Acknowledgement | None, Waiver | OpenPoint | None]:
    """What stands beside a finding: the first that is in force, else the first that has expired."""
    expired: tuple[Acknowledgement, Waiver | OpenPoint] | None = None
    for one in given:
        if faults(one) or not covers(one, finding) or one.last_day is None:
            continue
        if too_far(one.last_day, today, limits) or out_of_reach(one, finding, limits):
            continue
        over = one.last_day < today
        found = Acknowledgement(
            "waiver" if isinstance(one, Waiver) else "open point",
            one.reason,
            one.by,
            one.last_day.isoformat(),
            one.up_to if isinstance(one, Waiver) else None,
            over,
            one.place,
        )
        if not over:
            return found, one
        expired = expired or (found, one)
    return expired or (None, None)


def remarks(
    given: Sequence[Waiver | OpenPoint],
    used: Sequence[Waiver | OpenPoint],
    findings: Sequence[Finding],
    today: date,
    limits: Limits = NO_MORE,
) -> tuple[str, ...]:
    """What has to be said about waivers and open points: malformed, expired, not used and why."""
    told = []
    for one in given:
        what = "waiver" if isinstance(one, Waiver) else "open point"
        head = f"{one.place}: {what} for {one.rule} on {one.subject_name}"
        if fault := faults(one):
            told.append(f"{head} counts for nothing: {fault}")
        elif one.last_day is not None and one.last_day < today:
            told.append(f"{head} expired after {one.last_day.isoformat()}")
        elif one.last_day is not None and (far := too_far(one.last_day, today, limits)):
            told.append(f"{head} counts for nothing: {far}")
        elif not any(one is other for other in used):
            told.append(f"{head} is not used: {_why_not(one, findings, limits)}")
    return tuple(told)


def _why_not(one: Waiver | OpenPoint, findings: Sequence[Finding], limits: Limits) -> str:
    of_rule = [finding for finding in findings if finding.rule == one.rule]
    if not of_rule:
        return f"no rule {one.rule} looked"
    about = [finding for finding in of_rule if is_about(one.subject_name, finding.subject)]
    if not about:
        return f"{one.rule} did not look at {one.subject_name}"
    finding = about[0]
    beyond = next((why for each in about if covers(one, each) and (why := out_of_reach(one, each, limits))), "")
    if beyond:
        return beyond
    if finding.verdict == "fail" and isinstance(one, Waiver):
        if one.up_to is None:
            return f"it has no up_to, and the ratio is {finding.ratio:.3g}"
        return f"it reaches up to {one.up_to:g}, and the ratio is {finding.ratio:.3g}"
    return f"the finding is '{finding.verdict}'"
