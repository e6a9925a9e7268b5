"""What stands below the findings in the formats for people and pipes: counts, what was accepted, packs, version."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from derate import __version__
from derate.judge.review import Acknowledgement, HazardWord, Review
from derate.report.gather import acknowledged
from derate.report.plain import plain
from derate.report.words import number_of


def accepted_words(review: Review) -> str:
    """Waivers, open points and held-back findings counted; empty when there are none."""
    waived, open_points, held = acknowledged(review, "waiver"), acknowledged(review, "open point"), review.held_back
    parts = []
    if waived:
        parts.append(number_of(waived, "waiver"))
    if open_points:
        parts.append(number_of(open_points, "open point"))
    if held:
        parts.append(f"{number_of(held, 'known finding')} held back")
    return ", ".join(parts)


def acknowledgement_words(said: Acknowledgement) -> str:
    """`waived up to 1.3 times until 2027-06-30 by lead engineer: reason`."""
    how = "waived" if said.kind == "waiver" else "open point"
    if said.up_to is not None:
        how += f" up to {said.up_to:.4g} times"
    until = f"until {plain(said.last_day)}" if not said.expired else f"until {plain(said.last_day)}, which has expired"
    return f"{how} {until} by {plain(said.by)}: {plain(said.reason)}"


def used_words(review: Review) -> str:
    """Packs and version, as every report names them."""
    packs = ", ".join(plain(pack) for pack in review.packs) or "none"
    return f"derate {__version__}; rule packs: {packs}"


def blocking_words(reviews: tuple[Review, ...], unread: bool) -> str:
    """How many findings block, over all designs. unread: something could not be read, which is told elsewhere."""
    count = sum(finding.blocks for review in reviews for finding in review.findings)
    said = f"{number_of(count, 'finding')} {'blocks' if count == 1 else 'block'}" if count else "Nothing blocks"
    if unread:
        return f"{said} in what could be read; something could not be read: exit status 2."
    return f"{said}: exit status {1 if count else 0}."


def hazard_list(words: Iterable[HazardWord]) -> str:
    """`fire fail (rule-name), shock pass`."""
    said = [f"{word.hazard} {word.word}" + (f" ({plain(word.why)})" if word.why else "") for word in words]
    return ", ".join(said) or "no rule looked"


def family_lines(review: Review) -> Iterator[str]:
    """One line for each insulation family, when packs of several are loaded."""
    for family in review.families:
        yield f"in {plain(family.family)}: {family.word}: {hazard_list(family.hazards)}"


def placed_notes(review: Review) -> Iterator[tuple[str, str]]:
    """The notes of a review, each with where it belongs: a place of the file, or the file."""
    path = plain(review.path)
    for note in review.notes:
        place = re.match(r"(.+?:\d+:\d+): ", plain(note))
        if place is not None:
            yield place[1], plain(note)[place.end() :]
        else:
            yield path, plain(note)
