"""Two printed pages for somebody who will not read the report: the verdicts, what to act on, what nobody looked at.

Nothing is decided here and nothing is left out in silence: what does not fit is counted.
"""

from __future__ import annotations

from collections.abc import Iterable

from derate.design.readings import Test
from derate.insulation.pairs import PathSummary
from derate.judge.review import Finding
from derate.report.document import Document
from derate.report.faults import fault_words
from derate.report.gather import act_first, cautions, level_words, softer_lines, wanted_facts
from derate.report.html import basis_lines, environment, ordered_hazards
from derate.report.insulation import verdict_of
from derate.report.words import CAUTION, clipped, fact_words, listed, number_of, plain, quantity_words
from derate.terms.dimension import LENGTH
from derate.terms.frozen import frozen
from derate.terms.values import Value
from derate.terms.words import SEVERITIES
from derate.text.units import show_value

_THINGS, _BLOCKING, _FACTS, _PLACES, _SIGNED, _TESTS = 6, 20, 12, 6, 5, 8
_LONGEST = 260  # columns of a reason


@frozen
class Place:
    """One place between circuits: its distances as found and needed, and the verdict of all findings about it."""

    name: str
    between: str
    clearance: str
    creepage: str
    verdict: str


def summary_page(document: Document) -> str:
    """The summary as HTML text."""
    review = document.review
    blocking = [one for one in review.findings if one.blocks]
    places = tuple(_places(document))
    wanted = wanted_facts(review)
    signed = [one for one in review.findings if one.acknowledgement is not None and not one.acknowledgement.expired]
    page = (
        environment()
        .get_template("summary.html")
        .render(
            document=document,
            review=review,
            basis=basis_lines(document),
            softer=softer_lines(review)[:_SIGNED],
            softer_left=max(0, len(softer_lines(review)) - _SIGNED),
            hazards=ordered_hazards(review),
            first=act_first(review, _THINGS),
            blocking=_told(blocking),
            places=places[:_PLACES],
            places_left=max(0, len(places) - _PLACES),
            looked=_looked(document),
            wanted=[
                (f"{one.subject}: " if one.subject else "")
                + (quantity_words(one.name) if one.name else plain(one.text))
                for one in wanted[:_FACTS]
            ],
            wanted_left=max(0, len(wanted) - _FACTS),
            not_done=_not_done(document),
            assumed=_assumed(document),
            signed=signed[:_SIGNED],
            signed_left=max(0, len(signed) - _SIGNED),
            cautions=cautions(review),
            level=level_words(review),
            cut=lambda text: clipped(text, _LONGEST),
            CAUTION=CAUTION,
        )
    )
    return page if page.endswith("\n") else page + "\n"


def _told(blocking: list[Finding]) -> str:
    """What blocks, fails first, by subject and rule; the rest is counted."""
    blocking = sorted(blocking, key=lambda one: (one.verdict != "fail", SEVERITIES.index(one.severity)))
    return listed((f"{plain(str(one.subject))} {plain(one.rule)}" for one in blocking), _BLOCKING)


def _places(document: Document) -> Iterable[Place]:
    """Every place between circuits, the worst verdict first, then the narrowest."""
    found = []
    for family in document.insulation:
        for pair in family.pairs:
            for path in pair.paths:
                clearance, creepage = (_distance(path, what) for what in ("clearance", "creepage"))
                verdict = verdict_of([path.subject], family.review)
                share = path.share if path.share is not None else 0.0
                place = Place(str(path.subject), pair.role, clearance, creepage, verdict)
                found.append((_ORDER.index(verdict), share, place))
    return [place for _, _, place in sorted(found, key=lambda one: (one[0], one[1], one[2].name))]


_ORDER = ("fail", "not assessed", "marginal", "pass", "not applicable")


def _distance(path: PathSummary, what: str) -> str:
    found, needed = path.figures[f"found_{what}"], path.figures[f"needed_{what}"]
    return f"{_shown(found)}, needs {_shown(needed)}"


def _shown(value: Value | None) -> str:
    if value is None:
        return "not known"
    return show_value(Value(value.low, value.low, value.high, value.high), LENGTH)


def _looked(document: Document) -> tuple[tuple[str, str], ...]:
    """What the file tells that somebody looked at, and what became of it: name and words."""
    design, review = document.design, document.review
    done = [one for one in design.tests if one.done and not one.unread]
    stated = design.file.supply.parts_list
    parts = number_of(len(design.structure.kinds), "part")
    faults = fault_words(document.faults or ())
    settled = sum(one.settled for one in faults)
    judged = sum(review.counts.get(word, 0) for word in ("fail", "marginal", "pass"))
    return (
        ("parts", f"{parts} in the file; {_list_words(stated.word if stated is not None else None)}"),
        (
            "readings",
            number_of(sum(not one.unread for one in design.readings), "figure") + " read under load or without",
        ),
        ("tests", listed((_test(one) for one in done), _TESTS) or "none"),
        ("single faults", f"{len(faults)} listed, of {settled} of them it is known what opens" if faults else "none"),
        ("findings", f"{judged} with a verdict, {review.counts.get('not assessed', 0)} not assessed"),
    )


def _list_words(word: str | None) -> str:
    return "all of the board" if word == "complete" else "not all of the board" if word else "nobody says whether all"


def _test(one: Test) -> str:
    """What was done, to what, and what came of it."""
    to = f" between {listed(map(plain, one.between))}" if one.between else f" {plain(one.output or one.fault)}"
    came = one.result.word
    return f"{plain(one.test)}{to.rstrip()}{f': {plain(came)}' if came else ''}"


def _not_done(document: Document) -> str:
    return listed((_test(one) for one in document.design.tests if not one.done), _TESTS)


def _assumed(document: Document) -> str:
    facts = [fact for one in document.review.findings for fact in one.rests_on]
    return listed(fact_words(dict.fromkeys(facts)), 6)
