"""Libraries of parts: a type named in a design laid under what the design says of its own sample.

A library is a file `*.parts.yaml`: parts by order code or type, written with the keys of a design's parts, and for each
figure the document it was read in. `Q1: {part: NAME}` in a design takes the facts of that entry; a fact that the design
states itself takes their place. What was overruled is kept, and a rating that a design raises needs a source.

Imported only where a design names a part of a library: a design without one reads nothing here.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import derate
from derate.design.kinds import possible
from derate.design.library_file import (
    BLOCKS,
    Entry,
    Library,
    entries_of,
    is_raised,
    leaves_of,
    place_of,
    read_of,
    text_of,
)
from derate.design.record import evidence, is_unknown, read_said_word
from derate.design.settings import find_settings
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.terms.words import EVIDENCE, LIBRARY_ENDING
from derate.text.files import leads_out, repository_of
from derate.text.nodes import Mapping, Node, Scalar, read_text

MOST_FILES = 60  # library files that one design looks through
MOST_TEXT = 8_000_000  # characters of them together
SHIPPED_FOLDER = "derate/parts"  # how the place of a shipped library is written


# What was taken from a library for a part of a design.


class Overruled(NamedTuple):
    """A fact of the library in whose place the design has its own.

    key: such as rated.voltage; before, after: as the two files write them; raised: a rating that is more than there
    source: what the design names for a raised one
    """

    part: str
    key: str
    before: str
    after: str
    place: Place
    was: Place
    raised: bool
    source: str = ""


class Restated(NamedTuple):
    """A rating that a library of the repository gives higher than the shipped one does, or a kind that is another.

    key: such as rated.voltage, or kind: what a part is decides which rules it is held to
    """

    name: str
    key: str
    before: str
    after: str
    place: Place


class Origin(NamedTuple):
    """Where the facts of one part of a design come from.

    part: its designator; name: the entry; place: of `part:` in the design; was: of the entry in the library
    """

    part: str
    name: str
    maker: str
    place: Place
    was: Place
    overruled: tuple[Overruled, ...] = ()
    restated: tuple[Restated, ...] = ()


class LibraryUse(NamedTuple):
    """What a design took from libraries: which they are, and which parts."""

    libraries: tuple[Library, ...] = ()
    origins: tuple[Origin, ...] = ()


# Where libraries are found: beside the design and upwards to the root of the repository, in `parts/` of each folder,
# and where settings name them. The shipped one is looked in last.


def shipped_folder() -> Path:
    """The folder of the shipped libraries: inside the package when installed, beside it in a checkout."""
    package = Path(derate.__file__).parent
    inside = package / "parts"
    return inside if inside.is_dir() else package.parent / "parts"


@cache
def shipped_libraries() -> tuple[Library, ...]:
    """Every library that lies with derate."""
    found = []
    for file in sorted(shipped_folder().glob(f"*{LIBRARY_ENDING}")):
        path = f"{SHIPPED_FOLDER}/{file.name}"
        found.append(_library(path, str(file), read_text(str(file)), shipped=True))
    return tuple(found)


def _folder_and_root(design: str) -> tuple[str, str]:
    folder = os.path.dirname(os.path.realpath(design)) or os.getcwd()
    return folder, repository_of(folder) or folder


def house_files(design: str) -> dict[str, bool]:
    """Library files of the repository of a design, and whether each stands below the root. Raises ReadingError."""
    folder, root = _folder_and_root(design)
    folders = [folder]
    while folders[-1] != root:
        folders.append(os.path.dirname(folders[-1]))
    files: dict[str, bool] = {}
    settings = find_settings(design)
    named = [(settings.path, settings.libraries), *((one.path, one.libraries) for one in settings.below)]
    for path, names in named:
        for name in names:
            for file in _named(path, name, root):
                files.setdefault(file, path != settings.path)
    for one in reversed(folders):
        for place in (one, os.path.join(one, "parts")):
            for file in _in_folder(place):
                files.setdefault(file, one != root)
    return files


def house_libraries(design: str, read: Callable[[str], str] = read_text) -> tuple[Library, ...]:
    """The libraries of the repository of a design, those of its root first. Raises ReadingError.

    design: its path, or that of a file that would lie in the folder; read: how a file is read
    """
    folder, root = _folder_and_root(design)
    files = house_files(design)
    if len(files) > MOST_FILES:
        what = f"more than {MOST_FILES} libraries of parts for one design"
        raise ReadingError([Problem(Place(design), what, "join some of them")])
    ours = {one.digest for one in shipped_libraries()}
    found: list[Library] = []
    total = 0
    for file, below in files.items():
        if leads_out(file, root):
            what = "this library of parts is a link that leads out of the repository"
            raise ReadingError([Problem(Place(file), what, "put the file itself there")])
        shown = os.path.normpath(os.path.join(os.path.dirname(design), os.path.relpath(file, folder)))
        text = read(shown)
        total += len(text)
        if total > MOST_TEXT:
            what = f"the libraries of parts are more than {MOST_TEXT // 1_000_000} million characters together"
            raise ReadingError([Problem(Place(shown), what, "leave out what no design uses")])
        library = _library(shown, file, text, below=below)
        if library.digest not in ours:  # a copy to the byte is the shipped one
            found.append(library)
    return tuple(sorted(found, key=lambda one: (one.below, one.path)))


def _in_folder(folder: str) -> list[str]:
    try:
        names = sorted(os.listdir(folder))
    except OSError:
        return []
    return [os.path.join(folder, name) for name in names if name.endswith(LIBRARY_ENDING) and not name.startswith(".")]


def _named(settings: str, name: Scalar, root: str) -> list[str]:
    """The files of a folder or a file that settings name; it lies in the repository. Raises ReadingError."""
    text = name.text
    target = os.path.normpath(os.path.join(os.path.dirname(settings), text)) if "\0" not in text else ""
    if not target or os.path.isabs(text) or leads_out(target, root):
        what = f"'{text[:60]}' lies outside this repository"
        raise ReadingError([Problem(name.start, what, "keep the libraries of a house inside it")])
    if os.path.isdir(target):
        found = _in_folder(target)
    else:
        found = [target] if os.path.isfile(target) and target.endswith(LIBRARY_ENDING) else []
    if not found:
        what = f"there is no library of parts at '{text[:60]}'"
        raise ReadingError([Problem(name.start, what, f"name a folder or a file that ends in {LIBRARY_ENDING}")])
    return found


def _library(path: str, file: str, text: str, *, shipped: bool = False, below: bool = False) -> Library:
    digest = hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()
    found = next((one.partition(":")[2] for one in text.split("\n") if one.startswith("library:")), "")
    name = found.partition("#")[0].strip().strip("\"'") or os.path.basename(path).removesuffix(LIBRARY_ENDING)
    return Library(name, path, file, text, digest, shipped, below)


# Laid under a design.


class Shelf:
    """The libraries that one design looks through, read when the first part asks for one."""

    def __init__(self, design: str, read: Callable[[str], str]) -> None:
        self._house = house_libraries(design, read)
        self._shipped = shipped_libraries()
        self.used: dict[str, Library] = {}
        self.origins: list[Origin] = []

    def filled(self, parts: Mapping, default: str | None, problems: list[Problem], unread: dict[str, Place]) -> Mapping:
        """The parts of a design with what libraries say of those that name an entry.

        default: how parts of this file are known that do not say so; unread: gets the names of what cannot be filled
        """
        made: list[tuple[Scalar, Node]] = []
        for key, block in parts.entries:
            named = block.get("part") if isinstance(block, Mapping) else None
            nothing = isinstance(named, Scalar) and is_unknown(named.text)
            if named is None or nothing or not isinstance(block, Mapping):
                made.append((key, block))
                continue
            try:
                made.append((key, self._filled(key.text, block, named, default)))
            except ReadingError as error:
                problems.extend(one for one in error.problems if one not in problems)
                unread[key.text] = key.place
        return Mapping(tuple(made), parts.place)

    def _filled(self, part: str, block: Mapping, named: Node, default: str | None) -> Mapping:
        problems: list[Problem] = []
        if not isinstance(named, Scalar):
            raise ReadingError([Problem(named.place, "part names one entry of a library", "write part: NAME")])
        name = read_said_word(named, problems).strip()
        if problems:
            raise ReadingError(problems)
        library, entry = self._found(name, named)
        base = entry.block
        maker = self._maker(block, entry, library)
        if maker:  # its figures are no surer than whose part it is
            theirs = _weakened(dict(entry.makers)[maker], _identified(block.get("maker"), default))
            base = _laid(base, theirs)
        base = _weakened(base, _identified(named, default))
        kind = base.get("kind")
        own_kind = block.get("kind")
        if own_kind is not None:
            self._same_kind(own_kind, kind, name, library)
        if isinstance(kind, Scalar):  # what stands on the board is said in the design: its place is there
            text = kind.text.partition(" (")[0]
            bracket = named.text[len(name) :].strip() if named.text.startswith(name) else ""
            here = Scalar(f"{text} {bracket}".strip(), named.start, in_line=False)
            base = Mapping(tuple((k, here if k.text == "kind" else v) for k, v in base.entries), base.place)
        overruled = tuple(_overruled(part, base, block, problems))
        if problems:
            raise ReadingError(problems)
        self.used[library.path] = library
        self.origins.append(
            Origin(part, name, maker, named.place, entry.place, overruled, self._restated(entry, maker, library, block))
        )
        rest = Mapping(tuple(one for one in block.entries if one[0].text != "kind"), block.place)
        return _laid(base, rest)

    def _found(self, name: str, named: Scalar) -> tuple[Library, Entry]:
        """The library and the entry of a name. Raises ReadingError when there is none, or two of the house."""
        theirs = [(one, entry) for one in self._house if (entry := _entry_of(one, name)) is not None]
        if len(theirs) > 1:
            where = " and ".join(f"{one.path}:{entry.place.line}" for one, entry in theirs[:2])
            what = f"two libraries hold part {name[:60]}: {where}"
            raise ReadingError([Problem(named.start, what, "keep one of them, or give the other a name of its own")])
        ours = [(one, entry) for one in self._shipped if (entry := _entry_of(one, name)) is not None]
        if theirs or ours:
            library, entry = (theirs or ours)[0]
            _, wrong = entries_of(library.text, library.path)
            if wrong:
                raise ReadingError(list(wrong))
            return library, entry
        known = [one for library in (*self._house, *self._shipped) for one in entries_of(library.text, library.path)[0]]
        same = next((one for one in known if one.lower() == name.lower()), None) or nearest(name, known)
        what = f"'{name[:60]}' is no part of a library"
        instead = f"did you mean {same}?" if same else "derate parts lists those there are"
        raise ReadingError([Problem(named.start, what, instead)])

    def _maker(self, block: Mapping, entry: Entry, library: Library) -> str:
        node = block.get("maker")
        if node is None:
            return ""
        problems: list[Problem] = []
        word = read_said_word(node, problems).strip() if isinstance(node, Scalar) else ""
        makers = [one for one, _ in entry.makers]
        if word in ("", "unknown") or word in makers:
            return word if word in makers else ""
        close = nearest(word, makers)
        there = f"there are {', '.join(makers)}" if makers else "leave it out, or write the figures of that maker"
        place = node.start if isinstance(node, Scalar) else node.place
        what = f"{library.path} gives no figures of '{word[:40]}' for {entry.name}"
        raise ReadingError([*problems, Problem(place, what, f"write {close}" if close else there)])

    @staticmethod
    def _same_kind(own: Node, kind: Node | None, name: str, library: Library) -> None:
        said = own.text.partition(" (")[0].strip() if isinstance(own, Scalar) else ""
        theirs = kind.text.partition(" (")[0].strip() if isinstance(kind, Scalar) else ""
        if said != theirs and not set(possible(theirs)) <= set(possible(said)):
            what = f"{name} is a {theirs} in {library.path}, and no {said[:40]}"
            raise ReadingError([Problem(own.place, what, "leave kind out, or name another part")])

    def _restated(self, entry: Entry, maker: str, library: Library, own: Mapping) -> tuple[Restated, ...]:
        """What a house library gives kinder than the shipped one under the same name. Raises ReadingError.

        Those are ratings that it gives higher, and a kind that is another, for no rule of the one holds the other. A
        library below the root of the gate may not: only what stands at the root can make anything softer. What the
        design says itself counts in place of the library, and is no way past this.
        """
        if library.shipped:
            return ()
        ours = next((found for one in self._shipped if (found := _entry_of(one, entry.name)) is not None), None)
        if ours is None:
            return ()
        shipped = dict(leaves_of(_of_maker(ours, maker)))
        stated = dict(leaves_of(own))
        raised = list(_renamed(ours, entry))
        for key, node in leaves_of(_of_maker(entry, maker)):
            before, now = shipped.get(key), stated.get(key, node)
            if before is None or not is_raised(key, before, node) or not is_raised(key, before, now):
                continue
            if now is not node and is_raised(key, node, now):  # raised by the design, which has named a source
                continue
            raised.append(Restated(entry.name, key, text_of(before), text_of(node), place_of(node)))
        if raised and library.below:
            first = raised[0]
            what = f"{first.key} of {first.name} is {first.after} here and {first.before} in the shipped library"
            instead = "a folder below the root may only give less; put the library at the root"
            raise ReadingError([Problem(first.place, what, instead)])
        return tuple(raised)


def _renamed(ours: Entry, entry: Entry) -> Iterator[Restated]:
    """The kind that an entry gives in place of the shipped one; a word for the very same kinds is none."""
    before, now = ours.block.get("kind"), entry.block.get("kind")
    if before is None or now is None:  # an entry without a kind is refused where it is read
        return
    was, said = text_of(before).strip(), text_of(now).strip()
    if said != was and (not possible(said) or set(possible(said)) != set(possible(was))):
        yield Restated(entry.name, "kind", was, said, place_of(now))


def _of_maker(entry: Entry, maker: str) -> Mapping:
    """The figures of an entry, with those of one maker where it gives any."""
    theirs = dict(entry.makers).get(maker)
    return entry.block if theirs is None else _laid(entry.block, theirs)


def _identified(said: Node | None, default: str | None) -> str:
    """How a name is known: the bracket behind it, else what holds for parts of this file, else somebody stated it."""
    known_by = evidence(said)[1] if isinstance(said, Scalar) else None
    return known_by or default or "stated"


def _entry_of(library: Library, name: str) -> Entry | None:
    """The entry of a name; a file in which the name does not stand at all is not read."""
    return entries_of(library.text, library.path)[0].get(name) if name in library.text else None


def _weakened(block: Mapping, known: str) -> Mapping:
    """The facts of a type, no surer than which type it is."""
    at = EVIDENCE.index(known)

    def weaker(node: Node) -> Node:
        if isinstance(node, Mapping):
            return Mapping(tuple((key, weaker(value)) for key, value in node.entries), node.place)
        if not isinstance(node, Scalar):
            return node
        try:
            text, word, note = evidence(node)
        except ReadingError:  # told where it is read
            return node
        if word is not None and EVIDENCE.index(word) < at:
            return node._replace(text=f"{text} ({known}{f'; {note}' if note else ''})")
        return node

    return Mapping(
        tuple((key, value if key.text == "note" else weaker(value)) for key, value in block.entries), block.place
    )


def _laid(base: Mapping, over: Mapping) -> Mapping:
    """A block over that of a library: fact by fact, a table as a whole."""
    entries: list[tuple[Scalar, Node]] = []
    for key, node in base.entries:
        new = over.get(key.text)
        if new is None:
            entries.append((key, node))
        elif key.text in BLOCKS and isinstance(node, Mapping) and isinstance(new, Mapping):
            entries.append((key, _laid(node, new)))
        else:
            entries.append((over.key(key.text) or key, new))
    known = {key.text for key, _ in base.entries}
    return Mapping(tuple(entries) + tuple(one for one in over.entries if one[0].text not in known), over.place)


def _overruled(part: str, base: Mapping, own: Mapping, problems: list[Problem]) -> Iterator[Overruled]:
    """Facts of the library in whose place the design has its own; a rating raised without a source is a problem."""
    theirs = dict(leaves_of(base))
    for key, node in leaves_of(own):
        before = theirs.get(key)
        if before is None:
            continue
        raised = is_raised(key, before, node)
        stated = read_of(key, node)
        source = stated.note if stated is not None and stated.known_by is not None else ""
        if raised and not source:
            was = place_of(before)
            what = f"{key} of {part} is raised from {text_of(before)} in {was.path}:{was.line}"
            write = f"write the source behind it: {text_of(node)[:40]} (data sheet; its title, revision and page)"
            problems.append(Problem(place_of(node), what, write))
        yield Overruled(part, key, text_of(before), text_of(node), place_of(node), place_of(before), raised, source)
