"""What a written report is made from: one judged design with everything that belongs beside its findings.

Put together by the command, shown by one module a format; nothing is judged or worked out here.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from derate.design.load import Design
from derate.judge.review import Finding, Review
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.ledger.picture import Picture
from derate.packs.load import Packs
from derate.report.faults import Row
from derate.report.insulation import FamilyInsulation
from derate.report.photos import Photo


@dataclass(frozen=True, slots=True)
class Document:
    """A report before it has a form.

    day: the day the report is of, which waivers were held to
    texts: name of every file that went in (design, what it revises, packs) and its text
    pictures: curves over time; insulation: what each pair of circuits needs and has
    faults: the single faults; None when nobody has looked
    formulas: how a person would write each formula, by its name
    photos: those named as evidence in the notes of rows
    """

    review: Review
    design: Design
    ledger: Ledger
    packs: Packs
    day: date
    texts: Mapping[str, str]
    pictures: tuple[Picture, ...] = ()
    insulation: tuple[FamilyInsulation, ...] = ()
    faults: Sequence[Row] | None = None
    formulas: Mapping[str, str] = field(default_factory=dict)
    photos: tuple[Photo, ...] = ()

    @property
    def inputs_hash(self) -> str:
        """SHA-256 over the names (without folders) and texts of everything that went in."""
        whole = hashlib.sha256()
        for name, text in sorted((os.path.basename(path), text) for path, text in self.texts.items()):
            for one in (name, text):
                data = one.encode("utf-8", "backslashreplace")
                whole.update(f"{len(data)}:".encode())
                whole.update(data)
        return whole.hexdigest()

    def rows_of(self, finding: Finding) -> tuple[Entry, ...]:
        """The rows a finding used, in their order."""
        return tuple(self.ledger[number] for number in finding.entries if 0 < number <= len(self.ledger))

    def inputs_of(self, entry: Entry) -> tuple[Entry, ...]:
        """The rows a row was worked out from; each once."""
        return tuple(self.ledger[one] for one in dict.fromkeys(entry.inputs) if 0 < one < entry.number)

    def photos_of(self, finding: Finding) -> tuple[Photo, ...]:
        """Photos that the rows behind a finding name, however far down."""
        seen: set[int] = set()
        stack = list(finding.entries)
        while stack:
            number = stack.pop()
            if number not in seen and 0 < number <= len(self.ledger):
                seen.add(number)
                stack += [one for one in self.ledger[number].inputs if one < number]
        return tuple(photo for photo in self.photos if seen & photo.rows)


def short_hash(text: str) -> str:
    """The first twelve digits of the SHA-256 of a text: what a pack without a version is known by."""
    return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()[:12]
