"""Names that a file uses of something it says elsewhere, and the one pass that resolves them all.

A `Name` knows where it stands and what it may be a name of. `Names` holds what the file has of each kind; a name that
is of none of its kinds is an error with the nearest that is. What lies outside the file is resolved where it is known:
packs where they are found, rules once the packs are loaded, captures and photos where their files are opened.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

from derate.design.plain_forms import NOTHING, Each, Fact
from derate.design.record import Field, Form, Name, Schema, Stated, said
from derate.terms.instructions import NO_INSTRUCTION, Instruction
from derate.terms.values import Problem, nearest
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import CIRCUITS, FLOATING, RAILS
from derate.text.nodes import Node, Scalar, Sequence

# What a name may be a name of, as an error calls it.
KINDS = {
    "part": "part",
    "winding": "winding",
    "output": "output",
    "port": "port",
    "transformer": "transformer",
    "barrier": "barrier",
    "condition": "condition",
    "point": "circuit or point of the circuit",
    "tape": "layer of tape",
    "place": "place of a reading",
    "sibling": "winding of the transformer",
    "side": "side of the supply",
    "subject": "subject of a rule",
}
# Where a reading may be taken that is no part: the case, and the isolation as a whole.
READING_PLACES = ("enclosure", "primary to secondary", "barrier")
TAPE = ("one layer of tape", "two layers of tape", "three layers of tape")


_MANY = 4  # kinds that an error does not list any more


class OneName(Form):
    """One name; words of its own that are no names (`none`) stand beside it. None for `unknown`."""

    has_names = True

    def __init__(self, kinds: tuple[str, ...], words: tuple[str, ...] = (), says: str = "") -> None:
        self.kinds, self.words, self.says = kinds, words, says

    def read(self, node: Node, problems: list[Problem]) -> Name | None:
        """The name with its place."""
        text = said(node, self.says or "a name", problems)
        if text is None or text == "unknown":
            return None
        if not text:
            problems.append(Problem(node.place, "a name is empty", "write it, or leave the key out"))
            return None
        place = node.start if isinstance(node, Scalar) else node.place
        return Name.at(text, place, () if text in self.words else self.kinds)

    def names(self, value: Any) -> Iterator[Name]:
        """The name, where it is one."""
        if isinstance(value, Name) and value.kinds:
            yield value

    def schema(self) -> Schema:
        """A text: which names there are the file itself says."""
        return {"type": ["string", "number"]}

    def written(self) -> str:
        """What it names."""
        return " or ".join([*(f"a {KINDS[kind]}" for kind in self.kinds), *self.words])


class ManyNames(OneName):
    """A list of names, or one. exactly: how many there have to be; write: what the error says to write"""

    def __init__(
        self, kinds: tuple[str, ...], words: tuple[str, ...] = (), says: str = "", exactly: int = 0, write: str = ""
    ) -> None:
        super().__init__(kinds, words, says)
        self.exactly, self.write = exactly, write

    def read(self, node: Node, problems: list[Problem]) -> Any:
        """The names in order; None for `unknown`."""
        items = node.items if isinstance(node, Sequence) else (node,)
        before = len(problems)
        found = [one for item in items if (one := super(ManyNames, self).read(item, problems)) is not None]
        sound = len(problems) == before
        if self.exactly and (len(items) != self.exactly or (sound and len(found) != self.exactly)):
            what = f"{self.says}: {self.exactly} names are wanted here, and there {_are(len(found))}"
            problems.append(Problem(node.place, what, f"write {self.write}"))
            return ()
        return None if len(items) == 1 and not found and sound else tuple(found)  # unknown

    def names(self, value: Any) -> Iterator[Name]:
        """Those that are names."""
        for one in value or ():
            yield from super().names(one)

    def schema(self) -> Schema:
        """One text, or a list."""
        one: Schema = {"type": ["string", "number"]}
        many: Schema = {"type": "array", "items": one}
        if self.exactly:
            return many | {"minItems": self.exactly, "maxItems": self.exactly}
        return {"anyOf": [one, many]}

    def written(self) -> str:
        """What they name."""
        count = {0: "", 2: "two of: "}[self.exactly]
        return count + super().written()


def _are(count: int) -> str:
    return "is one" if count == 1 else f"are {count}"


class Tied(Fact):
    """A fact that names what something is tied to: a circuit or a point, `floating` or `none`."""

    has_names = True

    def names(self, value: Any) -> Iterator[Name]:
        """The point, where it is tied to one."""
        if isinstance(value, Stated) and value.word is not None and value.word not in FLOATING:
            yield Name.at(value.word, value.place, ("point",))

    def written(self) -> str:
        """What it names."""
        return f"a point of the circuit, {' or '.join(FLOATING)}"


class EachNamed(Each):
    """Blocks or values whose names are names of something else: a snubber's of what it lies across."""

    has_names = True

    def __init__(self, form: Form, kinds: tuple[str, ...], words: tuple[str, ...] = (), says: str = "") -> None:
        super().__init__(form, says)
        self.kinds, self.words = kinds, words
        self.has_names = True

    def key_of(self, key: Scalar) -> str:
        """The key as a name."""
        return Name.at(key.text, key.place, () if key.text in self.words else self.kinds)

    def names(self, value: Mapping[str, Any]) -> Iterator[Name]:
        """The keys, and those of what stands under them."""
        yield from (key for key in value if isinstance(key, Name) and key.kinds)
        yield from super().names(value)

    def written(self) -> str:
        """What the keys name, and what stands under each."""
        keys = " or ".join([*(KINDS[kind].upper() for kind in self.kinds), *self.words])
        return f"{keys}: {self.form.written()}"


class Names:
    """What a file has of each kind, and the check of one name.

    series: parts in series on the mains path, which points lie behind; None where nobody walked it
    free: no transformer is described, so that windings named on paths are unknown and not wrong
    """

    def __init__(
        self,
        parts: Collection[str],
        outputs: Iterable[str],
        transformers: Iterable[str],
        windings: Iterable[str],
        barriers: Iterable[str],
        conditions: Iterable[str],
        used: Iterable[str] = (),
        series: Collection[str] | None = None,
        ports: Iterable[str] = (),
    ) -> None:
        self.parts = parts
        self.behind = parts if series is None else series
        self.free = not (described := tuple(transformers))
        seen = tuple(dict.fromkeys(one for one in used if "." in one)) if self.free else ()
        self.known: dict[str, Collection[str]] = {
            "part": parts,
            "output": tuple(outputs),
            "port": tuple(ports),
            "transformer": (*described, *dict.fromkeys(one.partition(".")[0] for one in seen)),
            "winding": (*windings, *seen),
            "barrier": tuple(barriers),
            "condition": tuple(conditions),
            "tape": TAPE,
            "side": CIRCUITS,
            "place": READING_PLACES,
            "sibling": (),
            "subject": ("supply", "mains"),
        }

    def has(self, text: str, kind: str) -> bool:
        """Whether the file has something of a kind by this name."""
        if kind == "point":
            return self._is_point(text)
        if kind == "subject":
            return self._is_subject(text)
        return text in self.known[kind]

    def check(self, name: Name, siblings: Collection[str] = ()) -> Problem | None:
        """What is wrong with a name, None when it is one. siblings: the windings of the transformer it stands in"""
        if any(self.has(name, kind) for kind in name.kinds) or ("sibling" in name.kinds and name in siblings):
            return None
        if self.free and "." in name and "winding" in name.kinds:
            return None  # a winding of a transformer that nobody has described
        near = [*siblings, *(one for kind in name.kinds for one in self._near(kind))]
        if name.startswith("after ") and "point" in name.kinds:
            near = [f"after {part}" for part in self.behind]
        close = nearest(name, near)
        kinds = [KINDS[kind] for kind in name.kinds]
        what = f"is no {' or '.join(kinds)} of this design" if len(kinds) < _MANY else "is nothing in this design"
        return Problem(name.place, f"'{name[:60]}' {what}", _instead(name, close, near))

    def _near(self, kind: str) -> Iterable[str]:
        if kind != "point":
            return self.known[kind]
        poles = [f"{output} {pole}" for output in self.known["output"] for pole in ("plus", "minus")]
        return [*CIRCUITS, *RAILS, *poles, "output plus", "output minus", "core", *self.known["winding"]]

    def _is_point(self, text: str) -> bool:
        if text in CIRCUITS or text in RAILS or text == "core":
            return True
        if text.startswith("after "):
            return text[6:].strip() in self.behind
        if text.endswith(" core"):
            return text[:-5] in self.known["transformer"]
        if text.removesuffix(" plus").removesuffix(" minus") in (*self.known["output"], "output"):
            return True
        return text in self.known["winding"] or (self.free and "." in text)

    def _is_subject(self, text: str) -> bool:
        """Whether rules look at something by this name: the supply, or a path that the tool names itself."""
        if text.endswith(", over the core"):
            return True
        if text in self.known["subject"] or text.removeprefix("over the body of ") in self.parts:
            return True
        several = re.split(r" – | and | \+ |, ", text)  # as printed: `CY1 – CY2`, `C1, C2`
        kinds = ("part", "output", "port", "winding", "transformer", "barrier", "point")
        return len(several) > 1 and all(any(self.has(one, kind) for kind in kinds) for one in several)


# What others call the circuits.
_MEANT: dict[str, tuple[str, ...]] = {
    "live": ("line",),
    "hot": ("line",),
    "mains": ("primary", "line", "neutral"),
    "plug": ("line", "neutral"),
    "output": ("secondary",),
    "pe": ("earth",),
    "ground": ("earth",),
    "case": ("touchable",),
}


_RUN = 12  # names of a run that are written out


def _instead(name: str, close: str | None, near: list[str]) -> str:
    meant = _MEANT.get(name.lower(), ())
    if meant and meant[0] in near:
        return f"write {' or '.join(meant)}"
    run = re.fullmatch(r"([A-Za-z]+)(\d+) ?(?:-|–|\.\.+|…) ?\1?(\d+)", name)
    if run is not None:
        every = [f"{run[1]}{number}" for number in range(int(run[2]), int(run[3]) + 1)][:_RUN]
        if len(every) > 1 and all(one in near for one in every):
            return f"write each by its name: {', '.join(every)}"
    if close is not None:
        return f"did you mean {close}?"
    listed = ", ".join(near[:12]) + ("…" if len(near) > 12 else "")
    return f"there are: {listed}" if near else "list it where it belongs"


# ---- the table: names in the body of a record ---------------------------------------------------------------------


def name(
    says: str,
    *kinds: str,
    how: Instruction = NO_INSTRUCTION,
    example: str = "",
    words: tuple[str, ...] = (),
    key: str = "",
    needed: bool = False,
) -> Any:
    """A name of something of these kinds."""
    return Field(OneName(kinds, words, says), says, how, example, key=key, needed=needed)


def names(
    says: str,
    *kinds: str,
    how: Instruction = NO_INSTRUCTION,
    example: str = "",
    words: tuple[str, ...] = (),
    exactly: int = 0,
    write: str = "",
    needed: bool = False,
) -> Any:
    """A list of names."""
    form = ManyNames(kinds, words, says, exactly, write)
    return Field(form, says, how, example, needed=needed, default=())


def tied(name: str, how: Instruction = NO_INSTRUCTION) -> Any:
    """What something is tied to."""
    return Field(Tied(VOCABULARY[name]), how=how, example="bulk minus")


def each_named(
    form: Form,
    says: str,
    *kinds: str,
    words: tuple[str, ...] = (),
    how: Instruction = NO_INSTRUCTION,
    example: str = "",
) -> Any:
    """Values under names of something else."""
    return Field(EachNamed(form, kinds, words, says), says, how, example, default=NOTHING)
