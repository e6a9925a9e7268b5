"""What a result was made from, so that a design nobody changed is not judged again.

A trail is the text of everything that was looked at: the digest of every file that was read (the design and what it
revises, captures, settings, packs and libraries of the house) and what was found where a file would have been taken,
had it been there: settings on the way up to the root, packs of one name, libraries of parts. Shipped packs and
libraries are part of the program, whose own digest stands beside the trail. As long as the same look gives the same
text, the result stands.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import derate
from derate.design.settings import find_settings, settings_files
from derate.packs.compiled import digest_of
from derate.packs.load import named_so, repository, shipped
from derate.study.work import Work
from derate.terms.values import ReadingError
from derate.text.nodes import decoded, read_bytes


class Digests:
    """Digests of files as they are now; those that many designs share are read once for all of them."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[tuple[int, int, int], str]] = {}

    def of(self, path: str) -> str:
        """SHA-256 of a file [hex]; '' where it cannot be read, or is no file to be read."""
        try:
            about = os.stat(path)
            mark = (about.st_mtime_ns, about.st_size, about.st_ino)
            known = self._known.get(path)
            if known is not None and known[0] == mark:
                return known[1]
            digest = digest_of(read_bytes(path))
        except (ReadingError, OSError, ValueError):
            return ""
        self._known[path] = (mark, digest)
        return digest


def trail_of(work: Work, above: str, home: str = "", told: Sequence[str] = ()) -> str:
    """The trail of a design that was worked through; '' where it cannot be said: then it is judged again each time.

    above: the folder that paths are written from; home: the folder that stands before every path on another machine
    told: packs whose whole text is among the options that a result is known by, and whose file is written for one run
    """
    design = work.design
    by_options = {os.path.realpath(one) for one in told}
    heads = [one for one in work.packs.heads if not by_options or os.path.realpath(one.path) not in by_options]
    ours = _shipped_folders()
    taken = design.library.libraries if design.library is not None else ()
    libraries = {one.path for one in taken}
    texts = {path: text for path, text in design.texts.items() if path not in libraries}
    read_here = (*design.texts, *work.settings.paths, *(one.path for one in heads))
    files = dict.fromkeys((*read_here, *(one.path for one in design.captures)))
    own = [one for one in files if one not in libraries and Path(one).resolve().parent not in ours]
    digests = Digests()
    # Captures are looked at here for the first time: no verdict and no study reads them, so that whatever lies there
    # now, the result is that of it, and one that is written later is another look.
    # What was read is what lies there still: a process reads a pack once, however long it works, and the trail of what
    # it judged later is not that of a pack that was written meanwhile.
    if any(digests.of(head.path) != head.digest for head in heads if head.path in own):
        return ""
    read = [*texts.items(), *((one.file, one.text) for one in taken if not one.shipped)]
    try:
        if any(decoded(read_bytes(path), path) != text for path, text in read):
            return ""
        if not work.shipped_gate and find_settings(design.path) != work.settings:
            return ""
    except ReadingError:
        return ""
    names = sorted({Path(head.path).stem for head in heads})
    beside = sorted({os.path.dirname(head.path) for head in heads if head.path in own})
    shelves = [*texts] if design.library is not None else []  # each looks through the libraries within its own reach
    try:
        return _looked(design.path, own, names, beside, shelves, above, home, digests)
    except ReadingError:
        return ""


def stands(trail: str, design: str, above: str, digests: Digests) -> bool:
    """Whether a look at what a result was made from gives the same again. design: where it lies now"""
    if not trail:
        return False
    try:
        seen: dict[str, Any] = json.loads(trail)
        files, beside, shelves = (
            [os.path.normpath(os.path.join(above, one)) for one in seen[kind]]
            for kind in ("files", "beside", "shelves")
        )
        return _looked(design, files, [*seen["packs"]], beside, shelves, above, "", digests) == trail
    except (ReadingError, ValueError, KeyError, TypeError, OSError):
        return False


def _looked(
    design: str,
    files: Iterable[str],
    names: Sequence[str],
    beside: Iterable[str],
    shelves: Sequence[str],
    above: str,
    home: str,
    digests: Digests,
) -> str:
    folder = Path(design).resolve().parent
    root = repository(folder)
    real = f"{os.path.realpath(home)}{os.path.realpath(above)}" if home else os.path.realpath(above)

    def written(path: str | Path) -> str:
        return os.path.relpath(os.path.realpath(path), real)

    def named(path: str) -> str:  # and not where it leads: the next look follows a link that leads elsewhere by then
        return os.path.relpath(path, home + above)

    near = [folder, *(Path(one) for one in beside)]
    ours = _shipped_folders()
    found = {
        name: [one for at in near for one in named_so(name, at) if one.resolve().parent not in ours] for name in names
    }
    libraries: set[str] = set()
    if shelves:
        from derate.design.library import house_files  # only where a part names an entry

        libraries = {one for each in shelves for one in house_files(each)}
    return json.dumps(
        {
            "root": written(root) if root is not None else "",
            "settings": [written(one) for one in settings_files(design)],
            "packs": {name: sorted({written(one) for one in own}) for name, own in found.items()},
            "beside": [named(one) for one in beside],
            "shelves": [named(one) for one in shelves],
            "libraries": {written(one): digests.of(one) for one in libraries},
            "files": {named(one): digests.of(one) for one in files},
        },
        sort_keys=True,
    )


def _shipped_folders() -> tuple[Path, Path]:
    """Where the shipped packs and the shipped profiles lie."""
    rules = shipped("rules").resolve()
    return rules, rules / "profiles"


@cache
def program() -> str:
    """Digest of the program, the shipped packs and the shipped libraries [hex]: another one may judge otherwise."""
    package = Path(derate.__file__).parent
    files = sorted([*package.rglob("*.py"), *shipped("rules").rglob("*.yaml"), *shipped("parts").glob("*.yaml")])
    return digest_of("\n".join(f"{one.name} {digest_of(one.read_bytes())}" for one in files).encode())
