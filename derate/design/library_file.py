"""A library file of parts: its keys, its entries as nodes with the source of each figure, what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from derate.design.blocks import Part, Rated
from derate.design.plain_forms import Block, Each, Word, formed, line, word
from derate.design.record import Form, Record, Schema, Stated, read_fact, read_word
from derate.terms.instructions import papers
from derate.terms.values import Category, Curve, Known, Place, Problem, ReadingError, Value, nearest
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import CONFIDENCES, EVIDENCE
from derate.text.nodes import Mapping, Node, Scalar, Sequence, compose

LONGEST_NAME = 80  # characters of the name of a part
_OF_SAMPLE = ("part", "maker", "fitted", "found", "position")  # said of one sample, never of a type
_OF_LIBRARY = ("source", "makers")
BLOCKS = ("rated", "found", "mounting")  # blocks of keys in which single facts are overruled
_WRITTEN = tuple(one for one in EVIDENCE if one != "computed")


# What a library file holds: the table of its keys.


class Source(Record):
    """A document that figures were read in."""

    document: str = line("title and number of the document", papers("its first page"), "Data sheet 88503", needed=True)
    revision: str | None = line("its revision or its day", papers("its foot"), "26 March 2008")
    page: str | None = line("page of the figures", papers("its foot"), "2")
    confidence: str | None = formed(
        Word(tuple(CONFIDENCES), "how sure a figure is"), how=papers("published where several documents agree")
    )


class SourceOf(Form):
    """The source of every figure of a part, or that of single ones."""

    says = "document that the figures were read in"

    @property
    def example(self) -> str:
        """As typed."""
        return "sheet page 2"

    def read(self, node: Node, problems: list[Problem]) -> dict[str, tuple[Scalar, ...]]:
        """Names of sources by key, that of all under `all`."""
        if not isinstance(node, Mapping):
            return {"all": _texts(node, problems)}
        return {key.text: _texts(value, problems) for key, value in node.entries}

    def schema(self) -> Schema:
        """A text, a list, or a block of either by key."""
        one: Schema = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
        return {"anyOf": [*one["anyOf"], {"type": "object", "additionalProperties": one}]}

    def written(self) -> str:
        """As typed."""
        return "the name of a source, `page N` behind it; by key where they differ"


class OfMaker(Record):
    """What one maker's part is rated for, where it is more than what all of them give."""

    rated: Rated | None = formed(Block(Rated, "what it is rated for"))
    source: dict[str, tuple[Scalar, ...]] | None = formed(SourceOf(), how=papers("name it under sources"))


class LibraryPart(Part, prefix="part"):
    """One type: the keys of a design's part, its sources, and what single makers give."""

    source: dict[str, tuple[Scalar, ...]] | None = formed(SourceOf(), how=papers("name it under sources"))
    makers: dict[str, OfMaker] | None = formed(
        Each(Block(OfMaker), "makers whose part is rated for more"), how=papers("their data sheets"), default=None
    )


for _key in ("part", "maker", "fitted", "found", "position"):
    LibraryPart.fields.pop(_key, None)


class LibraryKnownBy(Record):
    """How the values of a library are known that do not say so."""

    parts: str | None = word("way parts are known", _WRITTEN, papers("say it once for all"))
    rated: str | None = word("way ratings are known", _WRITTEN, papers("say it once for all"))


class LibraryFile(Record):
    """A library of parts."""

    library: str = line("name of the library", papers("your own name for it"), "house-diodes", needed=True)
    title: str | None = line("what it holds", papers("one line"), "Diodes we buy")
    known_by: LibraryKnownBy = formed(Block(LibraryKnownBy, "how values are known"), always=True)
    sources: dict[str, Source] = formed(
        Each(Block(Source), "documents, each under a short name"), how=papers("their first pages"), default=None
    )
    parts: dict[str, LibraryPart] = formed(
        Each(Block(LibraryPart), "every part under its order code or type"),
        how=papers("their data sheets"),
        needed=True,
        default=None,
    )


def _texts(node: Node, problems: list[Problem]) -> tuple[Scalar, ...]:
    items = node.items if isinstance(node, Sequence) else (node,)
    found = tuple(one for one in items if isinstance(one, Scalar) and one.text)
    if len(found) != len(items):
        problems.append(Problem(node.place, "a source is named by a text", "write the name it has under sources"))
    return found


class Library(NamedTuple):
    """A library file. path: as places name it; digest: SHA-256 of its text [hex]; below: not at the root of the gate"""

    name: str
    path: str
    file: str
    text: str
    digest: str
    shipped: bool
    below: bool = False


# The entries of a library as nodes, each figure with its source in its bracket.


class Entry(NamedTuple):
    """One entry of a library: its keys, those of single makers, where it stands, how sure its sources are by key."""

    name: str
    place: Place
    block: Mapping
    makers: tuple[tuple[str, Mapping], ...]
    sure: tuple[tuple[str, str], ...] = ()


@lru_cache(maxsize=64)
def entries_of(text: str, path: str) -> tuple[dict[str, Entry], tuple[Problem, ...]]:
    """The entries of a library by name, and what is wrong with it as a whole. Raises ReadingError where it is no YAML.

    Figures without a bracket of their own get that of the library, `data sheet` where nothing is said, and the source.
    """
    node = compose(text, path, only=True)
    problems: list[Problem] = []
    known = _known_of(node)
    sources = _sources_of(node, problems)
    parts = node.get("parts")
    found: dict[str, Entry] = {}
    for key, value in parts.entries if isinstance(parts, Mapping) else ():
        for name in (piece.strip() for piece in key.text.split(",")):
            if not name or len(name) > LONGEST_NAME or not name.isprintable():
                problems.append(Problem(key.place, f"'{name[:60]}' cannot name a part", "write its order code or type"))
            elif name in found:
                what = f"part {name} is said twice, first in line {found[name].place.line}"
                problems.append(Problem(key.place, what, "keep one of them"))
            elif not isinstance(value, Mapping):
                problems.append(Problem(key.place, f"part {name} is a block of keys", "write {kind: …, rated: {…}}"))
            else:
                found[name] = _entry(name, key, value, known, sources, problems)
    return found, tuple(problems)


def _known_of(node: Mapping) -> dict[str, str]:
    block = node.get("known_by")
    said = block.entries if isinstance(block, Mapping) else ()
    words = {key.text: value.text for key, value in said if isinstance(value, Scalar) and value.text in _WRITTEN}
    return {"parts": "data sheet", "rated": "data sheet"} | words


def _sources_of(node: Mapping, problems: list[Problem]) -> dict[str, Source]:
    block = node.get("sources")
    if not isinstance(block, Mapping):
        return {}
    return {key.text: Source.read(value, problems) for key, value in block.entries}


def _entry(
    name: str, key: Scalar, block: Mapping, known: dict[str, str], sources: dict[str, Source], problems: list[Problem]
) -> Entry:
    told = _told_sources(block, sources, problems)
    own = Mapping(tuple(one for one in block.entries if one[0].text not in _OF_LIBRARY), block.place)
    for said, _ in own.entries:
        if said.text in _OF_SAMPLE:
            what = f"'{said.text}' is said of one sample, and no fact of a type"
            problems.append(Problem(said.place, what, "say it in the design"))
    made = _with_sources(name, own, known, told, problems)
    makers = []
    given = block.get("makers")
    for maker, value in given.entries if isinstance(given, Mapping) else ():
        if isinstance(value, Mapping):
            theirs = _told_sources(value, sources, problems) or told
            stripped = Mapping(tuple(one for one in value.entries if one[0].text == "rated"), value.place)
            makers.append((maker.text, _with_sources(name, stripped, known, theirs, problems)))
    return Entry(name, key.place, made, tuple(makers), tuple((at, sure) for at, (_, sure) in told.items()))


_Told = dict[str, tuple[str, str]]  # by key, `all` for those without one: what is said of the source, its confidence


def _told_sources(block: Mapping, sources: dict[str, Source], problems: list[Problem]) -> _Told:
    node = block.get("source")
    if node is None:
        return {}
    found: _Told = {}
    for key, names in SourceOf().read(node, problems).items():
        words, sure = [], 0
        for one in names:
            source, _, page = one.text.partition(" page ")
            named = sources.get(source.strip())
            if named is None:
                close = nearest(source, sources)
                what = f"'{source[:60]}' is no source of this library"
                problems.append(Problem(one.start, what, f"write {close}" if close else "add it under sources"))
                continue
            words.append(_source_words(named, page.strip()))
            sure = max(sure, CONFIDENCES.index(named.confidence) if named.confidence else 1)
        if words:
            found[key] = (", and ".join(words), CONFIDENCES[sure])
    return found


def _source_words(source: Source, page: str) -> str:
    said = [source.document, source.revision]
    of_page = page or source.page
    return ", ".join([one for one in said if one] + ([f"page {of_page}"] if of_page else []))


def _with_sources(
    name: str, block: Mapping, known: dict[str, str], told: _Told, problems: list[Problem], prefix: str = ""
) -> Mapping:
    """The block with how each figure is known and its source in its bracket."""
    made: list[tuple[Scalar, Node]] = []
    for key, value in block.entries:
        if not prefix and key.text in BLOCKS and isinstance(value, Mapping):
            made.append((key, _with_sources(name, value, known, told, problems, f"{key.text}.")))
            continue
        if f"{prefix}{key.text}" in ("note", "kind"):
            made.append((key, value))
            continue
        source = told.get(f"{prefix}{key.text}") or told.get("all")
        of = known["rated" if prefix == "rated." else "parts"]
        if source is not None and source[1] == "remembered":
            of = "assumed"  # a figure that nobody looked up carries no critical rule
        made.append((key, _bracketed(value, of, source[0] if source else "", name, key, problems)))
    return Mapping(tuple(made), block.place)


def _bracketed(node: Node, known: str, source: str, name: str, key: Scalar, problems: list[Problem]) -> Node:
    if isinstance(node, Mapping):
        return Mapping(
            tuple((at, _bracketed(value, known, source, name, key, problems)) for at, value in node.entries), node.place
        )
    if not isinstance(node, Scalar):
        return node
    text = node.text.rstrip()
    if text.startswith("unknown"):
        return node
    if not text.endswith(")"):
        if not source:
            what = f"{key.text} of {name} says no source"
            problems.append(Problem(node.start, what, "name a document under sources, and write source: NAME"))
            return node
        return node._replace(text=f"{text} ({known}; {source})")
    head, _, inside = text[:-1].rpartition("(")
    if ";" not in inside and source:
        return node._replace(text=f"{head}({inside.strip()}; {source})")
    if ";" not in inside:
        what = f"{key.text} of {name} says no source"
        problems.append(Problem(node.start, what, "write it behind a semicolon in the bracket, or as source: NAME"))
    return node


# What two writings of one fact differ in.


def leaves_of(block: Mapping, prefix: str = "") -> Iterator[tuple[str, Node]]:
    """Facts by key, such as rated.voltage."""
    for key, node in block.entries:
        if not prefix and key.text in BLOCKS and isinstance(node, Mapping):
            yield from leaves_of(node, f"{key.text}.")
        elif prefix or key.text not in ("kind", "note", "part", "maker"):
            yield f"{prefix}{key.text}", node


# What widens the value of a part: taken back to unknown it widens nothing any more.
_WIDENS = ("part.temperature_coefficient", "part.temperature_slope")
_RAISED_BY_ANY_CHANGE = (
    "part.class",
    "part.standard",
    "part.characteristic",
    "part.dielectric",
    "part.technology",
    *_WIDENS,
)


def is_raised(key: str, before: Node, after: Node) -> bool:
    """Whether a fact of the second is kinder than that of the first at any of its numbers; what cannot be told is."""
    name = key if key.startswith(("rated.", "found.", "mounting.")) else f"part.{key}"
    term = VOCABULARY.get(name)
    if term is None:
        return False
    if term.bad == 0 and not name.startswith("rated.") and name not in _RAISED_BY_ANY_CHANGE:
        return False
    old, new = read_of(key, before), read_of(key, after)
    if old is None or new is None:  # what cannot be read is told where it is read
        return False
    if new.value is None:
        return name in _WIDENS and old.value is not None
    return old.value is None or kinder(old.value, new.value, term.bad)


def kinder(old: Known, new: Known, bad: int) -> bool:
    if isinstance(old, Value) and isinstance(new, Value):
        pairs = list(zip(old.numbers(), new.numbers(), strict=True))
        if bad < 0:
            return any(b > a for a, b in pairs)
        if bad > 0:
            return any(b < a for a, b in pairs)
        return any(a != b for a, b in pairs)
    if isinstance(old, Curve) and isinstance(new, Curve):
        if [at for at, _ in old.points] != [at for at, _ in new.points] or old.condition != new.condition:
            return True
        return any(kinder(a, b, bad) for (_, a), (_, b) in zip(old.points, new.points, strict=True))
    if isinstance(old, Category) and isinstance(new, Category):
        return old != new
    return True


def read_of(key: str, node: Node) -> Stated | None:
    name = key if key.startswith(("rated.", "found.", "mounting.")) else f"part.{key}"
    term = VOCABULARY.get(name)
    if term is None:
        return None
    try:
        return read_word(term, node) if term.dimension is None else read_fact(term, node)
    except ReadingError:
        return None


def text_of(node: Node) -> str:
    """A fact as a file writes it, without its bracket."""
    if isinstance(node, Mapping):
        return "{" + ", ".join(f"{key.text}: {text_of(value)}" for key, value in node.entries) + "}"
    return node.text.partition(" (")[0] if isinstance(node, Scalar) else ""


def place_of(node: Node) -> Place:
    return node.start if isinstance(node, Scalar) else node.place


# The whole of a library checked, for the command that lists it.


def checked(library: Library) -> tuple[Problem, ...]:
    """Everything that is wrong with a library: keys, values, sources, makers that give less than all of them."""
    problems: list[Problem] = []
    try:
        node = compose(library.text, library.path, only=True)
        LibraryFile.read(node, problems)
        entries, wrong = entries_of(library.text, library.path)
    except ReadingError as error:
        return (*problems, *error.problems)
    problems += [one for one in wrong if one not in problems]
    for entry in entries.values():
        _makers_give_more(entry, problems)
        if entry.block.get("kind") is None:
            problems.append(Problem(entry.place, f"part {entry.name} has no kind", "write kind: …"))
    return tuple(dict.fromkeys(problems))


def _makers_give_more(entry: Entry, problems: list[Problem]) -> None:
    """What all makers give is the least of theirs: it holds until one of them is named."""
    base = dict(leaves_of(entry.block))
    for maker, block in entry.makers:
        for key, node in leaves_of(block):
            before = base.get(key)
            term = VOCABULARY.get(key)
            if before is None or term is None or term.bad == 0:
                continue
            old, new = read_of(key, before), read_of(key, node)
            if old is None or new is None or old.value is None or new.value is None:
                continue
            if kinder(new.value, old.value, term.bad):
                what = (
                    f"{key} of {entry.name} is {text_of(before)} for all makers, and {maker[:40]} gives {text_of(node)}"
                )
                problems.append(Problem(place_of(node), what, "give the lowest of them for all"))


# An entry in the order of its figures, for whoever lists them.


class Figure(NamedTuple):
    """One figure of an entry. key: such as rated.voltage; said: as written; maker: whose, '' of all of them

    value: as it was read; None where the library says that nobody knows it, and where it could not be read
    """

    key: str
    said: str
    known_by: str
    source: str
    confidence: str
    place: Place
    maker: str = ""
    value: Known | None = None


class Listed(NamedTuple):
    """One entry of a library, with all its figures."""

    name: str
    kind: str
    library: Library
    place: Place
    figures: tuple[Figure, ...]


def listed(library: Library) -> tuple[Listed, ...]:
    """Every entry of a library in the order of the file. Raises ReadingError where it is no YAML."""
    found = []
    for entry in entries_of(library.text, library.path)[0].values():
        kind = entry.block.get("kind")
        figures = [_figure(entry, key, node, "") for key, node in leaves_of(entry.block)]
        figures += [_figure(entry, key, node, maker) for maker, block in entry.makers for key, node in leaves_of(block)]
        words = text_of(kind) if kind is not None else ""
        found.append(Listed(entry.name, words, library, entry.place, tuple(figures)))
    return tuple(found)


def _figure(entry: Entry, key: str, node: Node, maker: str) -> Figure:
    stated = read_of(key, node)
    known, note = (stated.known_by or "", stated.note) if stated is not None else ("", "")
    told = dict(entry.sure)
    sure = told.get(key) or told.get("all") or ""
    value = stated.value if stated is not None else None
    return Figure(key, text_of(node), known, note, sure, place_of(node), maker, value)
