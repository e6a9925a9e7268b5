"""What a written report is made from: one judged design, the photos it names, everything beside its findings."""

from __future__ import annotations

import base64
import hashlib
import io
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from derate.design.load import Design
from derate.judge.review import Finding, Review
from derate.ledger.entry import Entry, Picture
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs
from derate.report.faults import Row
from derate.report.insulation import FamilyInsulation
from derate.report.words import plain
from derate.terms.frozen import field, frozen
from derate.terms.values import ReadingError
from derate.text.files import leads_out, read_ordinary, repository_of

# Photos that a design names as evidence: `photo 7` in a note means `7.*` in the folder that `supply.photos` names.
#
# A photo is scaled down and written into the page; nothing is read that does not lie in the repository of the design.


ENDINGS = (".jpg", ".jpeg", ".png", ".webp")
_NAMED = re.compile(r"\bphotos? (\d{1,6}|[A-Za-z]\w{0,40})((?:(?:, | and )\d{1,6}\b)*)")
_LONGEST_SIDE, _QUALITY = 640, 72
LARGEST_FILE = 40_000_000  # bytes
MOST_PIXELS = (
    50_000_000  # of one photo, said by its header: 12 decoded bytes a pixel would be the memory of a small machine
)
MOST_PHOTOS = 60  # of one report


@frozen
class Photo:
    """One photo. rows: the ledger rows whose notes name it; data: a JPEG as a data address, '' when there is none

    why: why there is none, '' otherwise; width, height [pixels] as shown
    """

    name: str
    rows: frozenset[int]
    data: str = ""
    width: int = 0
    height: int = 0
    why: str = ""


def photos(entries: Iterable[Entry], folder: str | None, design: str) -> tuple[Photo, ...]:
    """Every photo named in a note, in the order of their names.

    folder: as the design states it, None when it states none; design: path of the design file
    """
    named: dict[str, set[int]] = {}
    for entry in entries:
        for found in _NAMED.finditer(entry.note):
            for name in (found[1], *re.findall(r"\d+", found[2])):
                if name not in ("was", "is", "of", "shows"):
                    named.setdefault(name, set()).add(entry.number)
    made = []
    for name in sorted(named, key=lambda one: (len(one), one)):
        rows = frozenset(named[name])
        if folder is None:
            made.append(Photo(name, rows, why="the design names no folder of photos (supply: photos)"))
            continue
        if len(made) >= MOST_PHOTOS:
            made.append(Photo(name, rows, why=f"a report shows {MOST_PHOTOS} photos, and this is one more"))
            continue
        try:
            data, width, height = _read(_find(name, folder, design))
            made.append(Photo(name, rows, data, width, height))
        except _NotThere as trouble:
            made.append(Photo(name, rows, why=str(trouble)))
    return tuple(made)


class _NotThere(Exception):
    """Why a photo is not shown."""


def _find(name: str, folder: str, design: str) -> str:
    """The file of a photo, inside the repository. Raises _NotThere."""
    home = os.path.dirname(os.path.realpath(design))
    root = repository_of(home) or home
    if "\0" in folder:
        raise _NotThere("no folder has a NUL in its name")
    place = os.path.realpath(os.path.join(home, folder))
    if os.path.isabs(folder) or leads_out(place, root):
        raise _NotThere(f"the folder {plain(folder)} lies outside the repository and is not read")
    try:
        names = sorted(os.listdir(place))
    except OSError:
        raise _NotThere(f"there is no folder {plain(folder)}") from None
    for one in names:
        stem, ending = os.path.splitext(one)
        if stem == name and ending.lower() in ENDINGS:
            path = os.path.realpath(os.path.join(place, one))
            if leads_out(path, root):
                raise _NotThere(f"{plain(one)} leads outside the repository and is not read")
            return path
    raise _NotThere(f"there is no {plain(name)}{' or '.join(ENDINGS[:3:2])} in {plain(folder)}")


def _read(path: str) -> tuple[str, int, int]:
    try:
        from PIL import Image, ImageOps, UnidentifiedImageError
    except ImportError:
        raise _NotThere("scaling photos needs Pillow: install derate[report]") from None
    try:
        data = read_ordinary(path, LARGEST_FILE)
    except ReadingError as error:
        raise _NotThere(error.problems[0].what) from None
    side = (_LONGEST_SIDE, _LONGEST_SIDE)
    try:
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:  # its header alone so far
            if opened.width * opened.height > MOST_PIXELS:
                said = f"{opened.width} by {opened.height} pixels"
                raise _NotThere(f"it has {said}, more than {MOST_PIXELS // 1_000_000} million: scale it down")
            opened.draft("RGB", (2 * _LONGEST_SIDE, 2 * _LONGEST_SIDE))  # a JPEG is decoded at the size it is shown in
            opened.thumbnail(side)
            shown = (ImageOps.exif_transpose(opened) or opened).convert("RGB")
        out = io.BytesIO()
        shown.save(out, "JPEG", quality=_QUALITY)  # a new picture: place, time and camera of the old one stay behind
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError, Image.DecompressionBombError):
        raise _NotThere("the file cannot be read as a photo") from None
    text = base64.b64encode(out.getvalue()).decode("ascii")
    return f"data:image/jpeg;base64,{text}", shown.width, shown.height


# What a written report is made from: one judged design with everything that belongs beside its findings.
#
# Put together by the command, shown by one module a format; nothing is judged or worked out here.


@frozen
class Document:
    """A report before it has a form.

    day: the day the report is of, which waivers were held to
    texts: name of every file that went in (design, what it revises, packs) and its text
    pictures: curves over time; insulation: what each pair of circuits needs and has
    faults: the single faults; None when nobody has looked
    formulas: how a person would write each formula, by its name
    photos: those named as evidence in the notes of rows
    spread: what tolerance does (`derate.study.spread.spread.Study`); None where nobody asked for it
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
    spread: Any = None

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
        if not self.photos:
            return ()
        seen: set[int] = set()
        stack = list(finding.entries)
        while stack:
            number = stack.pop()
            if number not in seen and 0 < number <= len(self.ledger):
                seen.add(number)
                stack += [one for one in self.ledger[number].inputs if one < number]
        return tuple(photo for photo in self.photos if seen & photo.rows)
