"""Forms of single keys that are no plain quantity and no plain word: part kinds, sleeves, legs, things looked at."""

from __future__ import annotations

import re

from derate.design.kinds import KIND_WORDS, REFERENCE, possible
from derate.design.plain_forms import Fact, worded
from derate.design.record import LOOKED, Form, Schema, Stated, said
from derate.terms.dimension import LENGTH
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Place, Problem, ReadingError, Value, nearest
from derate.terms.vocabulary import Term
from derate.terms.words import FOUND_NOTHING, NOT_LOOKED
from derate.text.nodes import Node, Scalar, Sequence
from derate.text.quantity import read_quantity

FLOATING_METAL = ("floating", "copper", "metal")  # a leg over it is no insulation
INTO = ("into the winding", "into the margin")  # a sleeve has to reach so far
READ_AT = ("part", "output", "winding", "transformer", "barrier")  # what a reading may be taken at
_NEAR = 0.72  # how alike a slip of two letters is; below it another word is meant
_NEARER = 0.8  # of words in a sentence, where many are alike
_DENIES = re.compile(r"(?:no|none|not|nothing|never|without)\b")
_SLEEVES = (
    "found",
    "yes",
    "PTFE",
    "silicone",
    "polyolefin",
    "heat-shrink",
    "glass fibre",
    "polyester",
    "polyimide",
    "PVC",
)
_FIGURE = re.compile(r"(?:(?:under|over|about|up to|at least|at most) )?[0-9].*\Z")  # behind the words of a leg


def near_miss(text: str, words: tuple[str, ...], alike: float = _NEAR) -> str | None:
    """The word that a text is a slip of, None where it is one of them or means something else."""
    if text in words:
        return None
    from difflib import get_close_matches  # only where a word is none of the usual ones

    found = get_close_matches(text, words, n=1, cutoff=alike)
    return found[0] if found else None


class PartKind(Fact):
    """A part kind: a precise one, or a general word that leaves several open."""

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """The kind; a word that is none is told with the page that lists them all."""
        stated = super().read(node, problems)
        if stated is not None and stated.word is not None and not possible(stated.word):
            from derate.design.everyday import of_kind  # only imported when something is wrong

            close = nearest(stated.word, KIND_WORDS)
            instead = of_kind(stated.word) or (f"did you mean {close}? {REFERENCE}" if close else REFERENCE)
            problems.append(Problem(stated.place, f"'{stated.word[:60]}' is no part kind this format knows", instead))
        return stated

    def schema(self) -> Schema:
        """One of the kinds."""
        return worded(KIND_WORDS)

    def written(self) -> str:
        """They stand in a table of their own."""
        return "a part kind"


class Usual(Fact):
    """A free word, of which some are asked for by rules: what is very near to one of them is a slip."""

    def __init__(self, term: Term, words: tuple[str, ...]) -> None:
        super().__init__(term)
        self.words = words

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """The word."""
        stated = super().read(node, problems)
        if stated is not None and stated.word is not None and stated.word not in LOOKED:
            close = near_miss(stated.word, self.words)
            if close is not None:
                what = f"'{stated.word[:60]}' is not '{close}', and very near to it"
                problems.append(Problem(stated.place, what, f"write {close}, or another word"))
        return stated

    def written(self) -> str:
        """The words rules ask for."""
        return f"{', '.join(self.words)}, or a word of your own"


class TapeOnCore(Fact):
    """Tape round a core: `2 layers`, `1..2 layers`, or none."""

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """The words, held to that form."""
        stated = super().read(node, problems)
        if stated is not None and stated.word is not None and stated.word not in LOOKED:
            if re.fullmatch(r"\d+(?:\.\.\d+)? layers?", stated.word) is None:
                what = f"'{stated.word[:60]}' is no number of layers"
                problems.append(Problem(stated.place, what, "write 2 layers, 1..2 layers, none or unknown"))
        return stated

    @property
    def example(self) -> str:
        """As typed."""
        return "2 layers"

    def schema(self) -> Schema:
        """A number of layers, or none."""
        layers = r"\d+(\.\.\d+)? layers?"
        return {"type": "string", "pattern": rf"^\s*({layers}|none|unmarked|not done|unknown)\s*(\(.*\)\s*)?$"}

    def written(self) -> str:
        """As typed."""
        return "N layers, or none"


class Sleeve(NamedTuple):
    """The sleeve of a lead: the text as typed, whether there is one, and the thickness of its wall [m] where known."""

    text: str
    place: Place
    there: bool
    wall: Value | None = None


class SleeveForm(Form):
    """`none`, the thickness of the wall, what it is made of, or both: `0.4 mm PTFE`."""

    says = "sleeve over the leads"

    def read(self, node: Node, problems: list[Problem]) -> Sleeve | None:
        """The sleeve; None for unknown."""
        text = said(node, self.says, problems)
        if text is None or text == "unknown":
            return None
        typed = node.text.strip() if isinstance(node, Scalar) else text
        if text == "none":
            return Sleeve(typed, node.place, False)
        material = next((word for word in _SLEEVES if text == word or text.endswith(" " + word)), "")
        figure = text.removesuffix(material).strip()
        if not figure:
            return Sleeve(typed, node.place, True)
        if not figure[0].isdigit() and not figure.startswith(("under", "over", "about", "up to")):
            words = ("none", "unknown", *_SLEEVES)
            close = nearest(text, words)
            instead = f"did you mean {close}?" if close else f"write 0.4 mm, or one of {', '.join(words)}"
            problems.append(Problem(node.place, f"'{text[:60]}' is no sleeve this format knows", instead))
            return None
        try:
            value = read_quantity(figure, node.start if isinstance(node, Scalar) else node.place, LENGTH).value
        except ReadingError as error:
            problems.extend(error.problems)
            return None
        return Sleeve(typed, node.place, True, value if isinstance(value, Value) else None)

    def schema(self) -> Schema:
        """A text."""
        return {"type": "string"}

    def written(self) -> str:
        """Its words."""
        return f"none, thickness in m, or what it is: {', '.join(_SLEEVES)}"


class Reaches(Form):
    """How far a sleeve reaches: into the winding, or words that say where it ends before that."""

    says = "how far the sleeve reaches"

    def read(self, node: Node, problems: list[Problem]) -> str | None:
        """The words; what is near to reaching in, and does not say so, is refused."""
        text = said(node, self.says, problems)
        if text is None or text == "unknown":
            return None
        if text not in INTO and (re.search(r"\bin(?:to)?\b", text) or near_miss(text, INTO)):
            problems.append(
                Problem(
                    node.place,
                    f"'{text[:60]}' may mean that it reaches in, or that it does not",
                    f"write {' or '.join(INTO)}, or where it ends",
                )
            )
        return text

    def schema(self) -> Schema:
        """A text."""
        return {"type": "string"}

    def written(self) -> str:
        """Its words."""
        return f"{', '.join(INTO)}, or where it ends"


class Leg(NamedTuple):
    """One leg of a creepage: the text as typed and its length [m]; over floating metal it counts nothing."""

    text: str
    value: Value | None
    floating: bool


class Legs(NamedTuple):
    """The legs of a creepage, in order."""

    legs: tuple[Leg, ...]
    place: Place


class LegsForm(Form):
    """A list of lengths, each behind words that say where it runs."""

    says = "creepage leg by leg"

    def read(self, node: Node, problems: list[Problem]) -> Legs:
        """Every leg."""
        found = []
        for item in node.items if isinstance(node, Sequence) else (node,):
            if not isinstance(item, Scalar):
                problems.append(Problem(item.place, "one leg is one text", "write 2.5 mm, or along the board 2.5 mm"))
                continue
            text = item.text.strip()
            figure = _FIGURE.search(text)
            words = re.findall(r"[A-Za-z]{5,}", text[: figure.start()] if figure else text)
            slip = next(((one, close) for one in words if (close := near_miss(one, FLOATING_METAL, _NEARER))), None)
            if slip is not None:
                what = f"'{slip[0]}' is near to '{slip[1]}', over which a leg counts nothing"
                problems.append(Problem(item.place, what, f"write {slip[1]}, or another word"))
            if any(word in text for word in FLOATING_METAL):
                found.append(Leg(text, None, True))
                continue
            try:
                value = read_quantity(figure[0] if figure else text, item.start, LENGTH).value
            except ReadingError as error:
                problems.extend(error.problems)
                continue
            found.append(Leg(text, value if isinstance(value, Value) else None, False))
        return Legs(tuple(found), node.place)

    def schema(self) -> Schema:
        """One text or a list."""
        return {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}

    def written(self) -> str:
        """What each is."""
        return f"a list of lengths in m; over {', '.join(FLOATING_METAL)} a leg counts nothing"


class Told(Form):
    """A text of the author's own, whose bracket of evidence is held to its words."""

    def __init__(self, says: str) -> None:
        self.says = says

    def read(self, node: Node, problems: list[Problem]) -> str | None:
        """The text as typed; None for unknown."""
        text = said(node, self.says, problems)
        return node.text.strip() if text not in (None, "", "unknown") and isinstance(node, Scalar) else None

    def schema(self) -> Schema:
        """A text."""
        return {"type": "string"}

    def written(self) -> str:
        """As typed."""
        return "text"


class Look(Fact):
    """A fault that somebody looked for: what was found in words, `none`, or unknown."""

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """What was found; every way to say none as `none`; what denies something and says no more is refused."""
        stated = super().read(node, problems)
        if stated is None or stated.word is None:
            return stated
        text = stated.word
        if text in NOT_LOOKED or text == "unmarked":
            return stated._replace(value=None)
        if text in FOUND_NOTHING:
            return stated._replace(value=Category.of("none"))
        if _DENIES.match(text):  # before anything near to it is looked for: `not sure` is not `not seen`
            what = f"'{text[:60]}' denies something, and nobody can tell what is there"
            problems.append(Problem(stated.place, what, "write none, unknown, or what was found"))
        elif (close := near_miss(text, (*FOUND_NOTHING, *NOT_LOOKED))) is not None:
            what = f"'{text[:60]}' is not '{close}', and very near to it"
            problems.append(Problem(stated.place, what, f"write {close}, or what was found"))
        return stated

    def written(self) -> str:
        """What stands there."""
        return "what was found, none, or unknown"

    @property
    def example(self) -> str:
        """As typed."""
        return "none"


class Things(str):
    """What several looked-at things are called, joined for a reader; `each` has them one by one."""

    __slots__ = ("each",)
    each: tuple[str, ...]

    @staticmethod
    def of(each: tuple[str, ...]) -> Things:
        """Of their names, in the order of the file."""
        made = Things(", ".join(each))
        made.each = each
        return made


def things_of(stated: Stated) -> tuple[str, ...]:
    """Each thing that a look found, by its name; empty where it found none or nobody looked."""
    if isinstance(stated.text, Things):
        return stated.text.each
    return () if stated.word in (None, "none") else (str(stated.word),)


_SEVERAL = re.compile(r"[,;/+]|\b(?:and|or)\b|&")


class Looks(Look):
    """A look that may find several things: one text, or a list with a text for each.

    One text that names several is refused: each thing is answered by a place of its own, and no two share one.
    """

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """What was found. Of a list every entry is a thing: `none` and `unknown` stand alone."""
        if not isinstance(node, Sequence):
            stated = super().read(node, problems)
            several = _SEVERAL.search(stated.word or "") if stated is not None else None
            if stated is not None and several is not None:
                what = f"'{str(stated.word)[:60]}' names several things, and each needs a place of its own"
                problems.append(Problem(stated.place, what, "write a list, with a text for each: [screw, antenna]"))
            return stated
        found: list[Stated] = []
        for item in node.items:
            stated = self.read(item, problems) if isinstance(item, Scalar) else None
            if stated is None or stated.word is None or stated.word == "none":
                said = f"'{item.text[:40]}' in a list" if isinstance(item, Scalar) else "a block in a list"
                problems.append(Problem(item.place, f"{said} of what was found", "write what was found, or none alone"))
            elif any(" ".join(one.text.lower().split()) == " ".join(stated.text.lower().split()) for one in found):
                problems.append(Problem(stated.place, f"'{stated.text[:40]}' is said twice", "keep one of them"))
            else:
                found.append(stated)
        if not found:
            problems.append(Problem(node.place, "a list without an entry", "write what was found, none or unknown"))
            return None
        if len({(one.known_by, one.note) for one in found}) > 1:
            problems.append(
                Problem(node.place, "several ways to know what stands in one list", "write the same behind each")
            )
        text = Things.of(tuple(str(one.word) for one in found))
        return found[0]._replace(value=Category.of(str(text)), place=node.place, text=text)

    def schema(self) -> Schema:
        """One text or a list of them."""
        one = super().schema()
        return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]}

    def written(self) -> str:
        """What stands there."""
        return "what was found, or a list of it with a text for each, none, or unknown"


class Count(Form):
    """A plain number of something, such as lines."""

    def __init__(self, says: str, unit: str) -> None:
        self.says, self.unit = says, unit

    def read(self, node: Node, problems: list[Problem]) -> int | None:
        """The number."""
        text = said(node, self.says, problems)
        if text is None:
            return None
        found = re.fullmatch(rf"(\d{{1,4}})(?: {self.unit}s?)?", text)
        if found is None:
            problems.append(Problem(node.place, f"'{text[:40]}' is no number of {self.unit}s", f"write 3 {self.unit}s"))
            return None
        return int(found[1])

    def schema(self) -> Schema:
        """A number, with its word or without."""
        return {"type": ["string", "integer"]}

    def written(self) -> str:
        """Its word."""
        return f"{self.unit}s"
