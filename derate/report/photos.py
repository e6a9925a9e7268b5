"""Photos that a design names as evidence: `photo 7` in a note means `7.*` in the folder that `supply.photos` names.

A photo is scaled down and written into the page; nothing is read that does not lie in the repository of the design.
"""

from __future__ import annotations

import base64
import io
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass

from derate.ledger.entry import Entry
from derate.report.plain import plain

ENDINGS = (".jpg", ".jpeg", ".png", ".webp")
_NAMED = re.compile(r"\bphotos? (\d{1,6}|[A-Za-z]\w{0,40})((?:(?:, | and )\d{1,6}\b)*)")
_LONGEST_SIDE, _QUALITY = 640, 72
_LARGEST_FILE = 40_000_000


@dataclass(frozen=True, slots=True)
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
    root = home
    while not os.path.exists(os.path.join(root, ".git")):
        above = os.path.dirname(root)
        if above == root:
            root = home
            break
        root = above
    place = os.path.realpath(os.path.join(home, folder))
    if os.path.isabs(folder) or not _inside(place, root):
        raise _NotThere(f"the folder {plain(folder)} lies outside the repository and is not read")
    try:
        names = sorted(os.listdir(place))
    except OSError:
        raise _NotThere(f"there is no folder {plain(folder)}") from None
    for one in names:
        stem, ending = os.path.splitext(one)
        if stem == name and ending.lower() in ENDINGS:
            path = os.path.realpath(os.path.join(place, one))
            if not _inside(path, root):
                raise _NotThere(f"{plain(one)} leads outside the repository and is not read")
            return path
    raise _NotThere(f"there is no {plain(name)}{' or '.join(ENDINGS[:3:2])} in {plain(folder)}")


def _inside(path: str, root: str) -> bool:
    return os.path.commonpath([root, path]) == root


def _read(path: str) -> tuple[str, int, int]:
    try:
        from PIL import Image, ImageOps, UnidentifiedImageError
    except ImportError:
        raise _NotThere("scaling photos needs Pillow: install derate[report]") from None
    try:
        if not os.path.isfile(path) or os.path.getsize(path) > _LARGEST_FILE:
            raise _NotThere("the file is no ordinary photo, or larger than 40 MB")
        with Image.open(path, formats=("JPEG", "PNG", "WEBP")) as opened:
            upright = ImageOps.exif_transpose(opened) or opened
            shown = upright.convert("RGB")
        shown.thumbnail((_LONGEST_SIDE, _LONGEST_SIDE))
        out = io.BytesIO()
        shown.save(out, "JPEG", quality=_QUALITY)  # a new picture: place, time and camera of the old one stay behind
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError, Image.DecompressionBombError):
        raise _NotThere("the file cannot be read as a photo") from None
    text = base64.b64encode(out.getvalue()).decode("ascii")
    return f"data:image/jpeg;base64,{text}", shown.width, shown.height
