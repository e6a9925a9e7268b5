"""The report as one page: nothing is loaded from anywhere, nothing needs a script, one style for screen and paper.

The template asks; the functions handed to it are those that every other format uses. Every text is made harmless on
its way out (`plain`), then escaped by the template engine; drawings come escaped already.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from functools import cache
from itertools import groupby
from math import inf
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemBytecodeCache, FileSystemLoader, StrictUndefined
from jinja2.bccache import Bucket
from markupsafe import Markup

from derate import __version__
from derate.judge.review import Finding, HazardWord, Review
from derate.ledger.entry import Entry, Subject
from derate.report.circuit.drawing import drawn
from derate.report.document import Document
from derate.report.faults import fault_words
from derate.report.gather import (
    SOFTER,
    Group,
    Wanted,
    acknowledgement_words,
    act_first,
    basis_words,
    body,
    cautions,
    groups,
    level_words,
    library_words,
    pack_words,
    placed_notes,
    sentence,
    softer_lines,
    wanted,
    wanted_facts,
)
from derate.report.insulation import insulation_rows
from derate.report.ledger import filled, ledger_rows, origin_on_page
from derate.report.svg import gauge, gauge_parts, opening_plots, rating_plots, swatch, wave_plots
from derate.report.svg_insulation import places, sections
from derate.report.unmet import gathered, others
from derate.report.words import (
    CAUTION,
    clipped,
    counts_words,
    entry_words,
    fact_words,
    figure,
    listed,
    number_of,
    plain,
    quantity_words,
    sides,
    times,
)
from derate.terms.words import HAZARDS
from derate.text.units import digits_of

TEMPLATES = Path(__file__).parent / "templates"
_LONGEST = 120  # columns of a name in a table; findings show it whole


def html_page(document: Document) -> str:
    """The report as HTML text."""
    review = document.review
    plots = (
        *wave_plots(document.pictures),
        *rating_plots(document.ledger),
        *opening_plots(document.ledger, document.faults),
    )
    rows = ledger_rows(document)
    standing = {number for _, own in rows for one in own for number in one.numbers}
    shown = [one for one in document.ledger.entries if one.number in standing]  # an assumption links to its row
    numbers = {id(one): number for number, one in enumerate(review.findings, 1)}
    page = (
        environment()
        .get_template("report.html")
        .render(
            document=document,
            review=review,
            first=act_first(review),
            parts=ordered(groups(review, verbose=True)),
            limits=compared(review.findings),
            plots=plots,
            circuit=drawn(document.design, review),
            sections=sections(document.design),
            places=places(document.design),
            insulation=insulation_rows(document.insulation),
            wanted=by_fact(wanted_facts(review)),
            accepted=_accepted(review.findings),
            expired=_expired(review.findings),
            notes=tuple(placed_notes(review)),
            rows=rows,
            assumed=assumed(shown),
            packs=_packs(document),
            level=level_words(review),
            softer=softer_lines(review),
            basis=basis_lines(document),
            faults=fault_words(document.faults or ()),
            cautions=cautions(review),
            spread=_spread(document),
            anchor=lambda finding: f"f{numbers[id(finding)]}",
        )
    )
    return page if page.endswith("\n") else page + "\n"


def _spread(document: Document) -> Any:
    """What tolerance does, where it was asked for; the page of its own has the same."""
    if document.spread is None:
        return None
    from derate.report.spread_parts import spread_parts  # most reports are without it

    return spread_parts(document.spread)


def circuit_page(document: Document) -> str:
    """The drawing of the circuit by itself as HTML text, each part with its findings in words."""
    review = document.review
    page = (
        environment()
        .get_template("circuit.html")
        .render(
            document=document,
            review=review,
            circuit=drawn(document.design, review),
            basis=basis_lines(document),
            packs=_packs(document),
            level=level_words(review),
            softer=softer_lines(review),
            anchor=None,
        )
    )
    return page if page.endswith("\n") else page + "\n"


class Compiled(FileSystemBytecodeCache):
    """Templates as Python has its own modules: compiled once, beside what they were compiled from, where that may be.

    Reading and compiling them is a fifth of a report. An entry is used while its template has the same content, for
    this version of Python, of the template engine's compiler and of what is installed; whoever can write it can write
    the code beside it.
    """

    def get_bucket(self, environment: Environment, name: str, filename: str | None, source: str) -> Bucket:
        """The entry of a template: how it escapes, and what filters make of a constant, is compiled into it too."""
        options = (environment.autoescape, environment.trim_blocks, environment.lstrip_blocks)
        return super().get_bucket(environment, name, filename, f"{__version__} {options}\n{source}")

    def load_bytecode(self, bucket: Bucket) -> None:
        """What is kept, or nothing where it cannot be read or is broken."""
        try:
            super().load_bytecode(bucket)
        except Exception:
            bucket.reset()

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a compiled template, unless nothing may be written there: then the next run compiles it again."""
        if sys.dont_write_bytecode:
            return
        with suppress(OSError):
            os.makedirs(self.directory, exist_ok=True)
            super().dump_bytecode(bucket)


@cache
def environment() -> Environment:
    """The template engine: everything is escaped, an unknown name is an error."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        bytecode_cache=Compiled(str(TEMPLATES / "__pycache__"), "%s.compiled"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=False,
        finalize=_finalized,
    )
    made.filters.update(
        short=lambda text: clipped(plain(str(text)), _LONGEST),
        drawn=Markup,
        figure=figure,
        q=quantity_words,
        value=entry_words,
        facts=lambda facts: listed(fact_words(facts), 12),
        cls=lambda word: word.replace(",", "").replace(" ", "-"),
    )
    made.globals.update(
        version=__version__,
        style=Markup((TEMPLATES / "style.css").read_text(encoding="utf-8")),
        body=body,
        basis_words=basis_words,
        alike=alike,
        rows_together=rows_together,
        by_source=by_source,
        counts_words=counts_words,
        listed=listed,
        number_of=number_of,
        times=times,
        sides=sides,
        gauge=lambda finding: Markup(_gauge(finding)),
        swatch=lambda cls: Markup(swatch(cls)),
        gauge_parts=Markup(gauge_parts()),
        wanted_words=lambda findings: fact_words(wanted(findings)),
        unmet=gathered,
        others=others,
        accepted_words=acknowledgement_words,
        filled=filled,
        origin=origin_on_page,
        sentence=sentence,
        CAUTION=CAUTION,
        SOFTER=SOFTER,
        ratio=lambda one: digits_of(one) if one < inf else "no bound",
    )
    return made


def _finalized(value: Any) -> Any:
    return value if isinstance(value, Markup) else plain(str(value))


def ordered(parts: Iterable[Group]) -> tuple[Group, ...]:
    """Hazards in their own order."""
    return tuple(sorted(parts, key=lambda one: HAZARDS.index(one.hazard)))


def ordered_hazards(review: Review) -> tuple[tuple[HazardWord, int], ...]:
    """Each hazard with its word and how many of its findings block, in the order of the list."""
    blocks = Counter(one.hazard for one in review.findings if one.blocks)
    words = sorted(review.hazards, key=lambda one: HAZARDS.index(one.hazard))
    return tuple((one, blocks[one.hazard]) for one in words)


def _gauge(finding: Finding) -> str:
    if finding.ratio is None or finding.stress is None or finding.limit is None:
        return ""
    return gauge(sides(finding.stress, finding.limit, finding.ratio).kindest, finding.ratio, finding.verdict)


def by_basis(findings: Iterable[Finding]) -> tuple[tuple[Finding, bool], ...]:
    """Findings with one basis behind each other, and whether the one before has said that basis already."""
    groups: dict[str, list[Finding]] = {}
    for one in findings:
        groups.setdefault(basis_words(one), []).append(one)
    return tuple((one, number > 0) for own in groups.values() for number, one in enumerate(own))


def alike(document: Document, findings: Iterable[Finding]) -> tuple[tuple[tuple[Finding, ...], bool], ...]:
    """Passes by their basis; those of several subjects that one rule tells in the same words and figures are one.

    Each may have rows of its own, as many from the same sources; what has a photo stands alone. Beside each whether the
    one before has said its basis.
    """
    groups: dict[object, tuple[list[Finding], bool]] = {}
    for one, again in by_basis(findings):
        figures = (one.stress, one.limit, one.ratio)
        sources = tuple(row.source for row in document.rows_of(one))
        same: object = (one.rule, one.severity, body(one), figures, basis_words(one), sources)
        groups.setdefault(id(one) if document.photos_of(one) else same, ([], again))[0].append(one)
    return tuple((tuple(own), again) for own, again in groups.values())


def rows_together(document: Document, findings: Iterable[Finding]) -> tuple[Entry, ...]:
    """The rows of findings that are told as one: the first of each, then the second, each row once."""
    each = [document.rows_of(one) for one in findings]
    return tuple({row.number: row for rank in zip(*each, strict=True) for row in rank}.values())


def by_source(rows: Iterable[Entry]) -> tuple[tuple[str, tuple[Entry, ...]], ...]:
    """Neighbouring rows with the same source, so that it is said once."""
    return tuple((source, tuple(own)) for source, own in groupby(rows, key=lambda row: row.source or ""))


def by_fact(facts: Iterable[Wanted]) -> tuple[tuple[Wanted, ...], ...]:
    """The same fact of several subjects together, where it is got in one way and as many findings wait for each."""
    groups: dict[object, list[Wanted]] = {}
    for one in facts:
        alike = (one.name, one.how, len(one.findings), one.blocking) if one.name else one.text
        groups.setdefault(alike, []).append(one)
    return tuple(map(tuple, groups.values()))


def compared(findings: Iterable[Finding]) -> tuple[tuple[Finding, ...], ...]:
    """Everything that was compared, the nearest to its limit or furthest over it first.

    Subjects that one rule holds to the same limit, with the same stress and verdict, stand together.
    """
    held = [one for one in findings if one.ratio is not None and one.stress is not None and one.limit is not None]
    groups: dict[object, list[Finding]] = {}
    for one in sorted(held, key=lambda one: (-(one.ratio or 0.0), one.rule, one.subject)):
        groups.setdefault((one.rule, one.verdict, one.ratio, one.stress, one.limit), []).append(one)
    return tuple(map(tuple, groups.values()))


def _accepted(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(one for one in findings if one.acknowledgement is not None and not one.acknowledgement.expired)


def _expired(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(one for one in findings if one.acknowledgement is not None and one.acknowledgement.expired)


def assumed(entries: Iterable[Entry]) -> tuple[tuple[Entry, ...], ...]:
    """What was assumed, each with its rows: one of every part it was assumed for."""
    found: dict[object, dict[Subject, Entry]] = {}
    for one in entries:
        if one.known_by == "assumed" and one.value is not None:
            where = one.place.line if one.place is not None else 0  # said so in the file: each in its own line
            same = found.setdefault((one.quantity, one.value, one.note, one.source, where), {})
            same.setdefault(one.subject, one)
    return tuple(tuple(own.values()) for own in found.values())


def _packs(document: Document) -> tuple[tuple[str, str, str, str], ...]:
    """Name, title, where it is from and digest of every pack."""
    used = {one.name: one for one in document.review.gate.packs}
    return tuple(
        (head.name, head.title, pack_words(used[head.name]) if head.name in used else "", head.digest)
        for head in document.packs.heads
    ) + tuple((one.name, "library of parts", library_words(one), one.digest) for one in document.review.gate.libraries)


def basis_lines(document: Document) -> tuple[tuple[str, str], ...]:
    """The lines below the title: name and text."""
    supply = document.design.file.supply
    rows = [("file", document.review.path), ("report of", document.day.isoformat())]
    if supply.basis is not None and supply.basis.text:
        rows.append(("rests on", supply.basis.text))
    if supply.sample:
        rows.append(("sample", supply.sample))
    if supply.plate.text:
        rows.append(("plate", supply.plate.text))
    return tuple(rows)
