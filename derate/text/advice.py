"""What to write instead: for a value that could not be read, and for YAML with a syntax error."""

from __future__ import annotations

import re
from typing import Any

from derate.terms.dimension import (
    CAPACITANCE,
    CELSIUS,
    CURRENT,
    FREQUENCY,
    INDUCTANCE,
    KELVIN,
    LENGTH,
    NUMBER,
    PER_KELVIN,
    RESISTANCE,
    VOLTAGE,
    VOLTAGE_PER_KELVIN,
    Dimension,
)
from derate.terms.values import Place, Problem, nearest
from derate.text.units import LETTERS, NUM, UNIT, UNITS, WRITTEN_EVIDENCE, Fault, Unit, usual_unit

# What to write instead, for a value that could not be read. Only imported when something is wrong.


_DECIMAL = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_FUSE_CURRENT = re.compile(r"(?:FF|F|M|TT|T) ?(\d+(?:\.\d+)?) ?(m?A)(?![a-z])")
_NOBODY_KNOWS = re.compile(r"\?+|-+|tb[acd]|n/?[ak]|na|not known|don't know|\.\.+|…", re.IGNORECASE)
_ENDLESS = re.compile(r"[+-]?\.?(?:inf|infinity|nan|∞)\b.*", re.IGNORECASE)
_COMMA = re.compile(r"(?<![0-9.,])([0-9]{1,3}(?:\.[0-9]{3})*|[0-9]+),([0-9]+(?:,[0-9]{3})*)")
_DASHED = re.compile(rf"({_DECIMAL}) ?({UNIT})? ?(?:-|–|—|−|\bto\b|…|\.\.\.+|\band\b) ?({_DECIMAL})( ?{UNIT})?")
_SLASHED = re.compile(rf"([0-9]+) ?/ ?([0-9]+) ?({UNIT})")
_EITHER = re.compile(rf"({_DECIMAL}) ?({UNIT})? ?(?:/|or) ?({_DECIMAL})( ?{UNIT})?")
_SORT_AHEAD = re.compile(rf"(AC|DC|~) ?({_DECIMAL}(?: ?(?:-|–|—|to|\.\.+) ?{_DECIMAL})?) ?(k?V|m?A)~?")
_SORTED = re.compile(r"(.*[0-9]) ?(m?[VA]) ?(~|∼|AC|ac|DC|dc|=|⎓)")
_SPREAD = re.compile(rf"({_DECIMAL} ?{UNIT}) ?(?:\+/-|\+-|-/\+|±) ?({_DECIMAL}) ?%")
_SORT_BEHIND = {"ac": "ac", "~": "ac", "rms": "rms", "dc": "dc", "pk": "pk", "peak": "pk", "pp": "pp", "p-p": "pp"}
_ROUGHLY = re.compile(r"(?:~|≈|approx(?:\.|imately)?|ca\.?|c\.|circa|around|roughly|some) ?(.+)", re.IGNORECASE)
_BOUND_SIGN = re.compile(r"(≤|≥|max\.?|min\.?|less than|more than|below|above|maximum|minimum) ?(.+)", re.IGNORECASE)
_EITHER_WAY = re.compile(rf"({_DECIMAL}) ?({UNIT})? ?(?:±|\+/-|\+-) ?({_DECIMAL}) ?({UNIT})")
_LEADING = re.compile(rf"{NUM}(?: ?{UNIT})?")
_INCHES = {"mil": 0.0254, "mils": 0.0254, "thou": 0.0254, "in": 25.4, "inch": 25.4, "inches": 25.4}  # in mm
_AS_PRINTED = {"MFD": "uF", "mfd": "uF", "WV": "V", "VDCW": "V", "VW": "V"}  # as old parts have it
_LETTERED = re.compile(r"([0-9]*)([RkMGmunpµμ])([0-9]*)(?![\w/])")


def of_output(text: str) -> str:
    """What to write for an output of the plate that stands on one line: `12V 2A`."""
    found = re.fullmatch(r"(-?\d+(?:\.\d+)?) ?V[ ,/;]*(?:⎓|DC|dc|---)?[ ,/;]*(\d+(?:\.\d+)?) ?(m?A)", text.strip())
    if found is None:
        return "write {voltage: 12 V, current: 2 A}, with what the plate says"
    return f"write {{voltage: {found[1]} V, current: {found[2]} {found[3]}}}"


_PLATE_LINE = re.compile(
    r"(?:INPUT:? ?|AC ?)?(?P<low>\d+)(?: ?(?:-|–|\.\.|to) ?(?P<high>\d+))? ?V ?(?P<sort>~|∼|ac|AC)?[ ,;]+"
    r"(?:~ ?)?(?:(?P<slow>\d+)(?: ?[-–/] ?(?P<fast>\d+))? ?[Hh]z)?[ ,;]*(?:(?P<current>\d+(?:\.\d+)?) ?(?P<unit>m?A))?"
)


def _of_plate_line(text: str) -> str:
    """The keys of the plate for a line that says more than one thing, as plates do; '' where it does not."""
    found = _PLATE_LINE.fullmatch(text.rstrip(" .;,"))
    if found is None or not (found["slow"] or found["current"] and (found["high"] or found["sort"])):
        return ""
    said = [f"mains: {found['low']}{'..' + found['high'] if found['high'] else ''} V"]
    if found["slow"]:
        said.append(f"frequency: {found['slow']}{'..' + found['fast'] if found['fast'] else ''} Hz")
    if found["current"]:
        said.append(f"mains_current: {found['current']} {found['unit']}")
    return f"write {', '.join(said)}"


def _clipped(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"


def advise(text: str, dimension: Dimension | None) -> Fault:
    """The fault of a text that is no value, with what was probably meant."""
    shown = _clipped(text)
    if not text:
        return Fault(0, "nothing is written here", "write a value, or `unknown`, or leave the key out")
    if _NOBODY_KNOWS.fullmatch(text):
        return Fault(0, f"'{shown}' is not a value", "write `unknown`, or leave the key out")
    if _ENDLESS.fullmatch(text):
        return Fault(0, f"'{shown}' is not a number", "write `over` and a number, or `unknown`")
    if "#" in text:
        return Fault(text.index("#"), "a # inside a value", "put a remark in a bracket: (measured; remark)")
    plate = _of_plate_line(text) if dimension in (None, VOLTAGE) else ""
    if plate:
        return Fault(0, f"'{shown}' says more than the mains voltage", plate)
    return _number_typed_otherwise(text, dimension) or _left_over(text, dimension)


def _number_typed_otherwise(text: str, dimension: Dimension | None) -> Fault | None:
    if found := _COMMA.search(text):
        what = f"a comma in the number '{_clipped(found[0])}'"
        return Fault(found.start() + len(found[1]), what, _without(found, text[found.end() :]))
    if found := re.fullmatch(r"([0-9.]+) ?: ?([0-9.]+)", text):
        return Fault(len(found[1]), "a colon in a ratio", f"write {_clipped(found[1])} to {_clipped(found[2])}")
    if (found := _SORT_AHEAD.fullmatch(text)) and dimension in (None, VOLTAGE, CURRENT):
        sort = "" if ".." in (ends := _ends(found[2])) else "dc" if found[1] == "DC" else "ac"
        meant = f", or about {ends} {found[3]} if that was meant" if found[1] == "~" else ""
        return Fault(0, f"'{found[1]}' ahead of the number", f"write {ends} {found[3]}{sort}{meant}")
    if found := _ROUGHLY.fullmatch(text):
        return Fault(0, f"'{_clipped(text)}' begins with no number", f"write about {_clipped(found[1])}")
    if found := _BOUND_SIGN.fullmatch(text):
        word = "up to" if found[1].lower()[:3] in ("≤", "max", "les", "bel") else "over"
        return Fault(0, f"'{_clipped(found[1])}' is not part of this format", f"write {word} {_clipped(found[2])}")
    if found := _EITHER_WAY.fullmatch(text):
        if found[4] in UNITS and found[4] != "%" and found[2] in (None, found[4]):
            middle, half = float(found[1]), abs(float(found[3]))
            places = max(len(number.partition(".")[2]) for number in (found[1], found[3]))
            ends = f"{middle - half:.{places}f}..{middle + half:.{places}f}"
            return Fault(found.start(3), "a tolerance with a unit", f"write {_clipped(ends)} {found[4]}")
    if found := _SPREAD.fullmatch(text):
        return Fault(found.end(1), "a sign ahead of a tolerance", f"write {found[1]} {found[2]}%")
    if found := re.fullmatch(r"(.*[0-9] ?\w+) ?max\.?", text):
        ends = _clipped(found[1])
        return Fault(
            found.end(1), "'max' behind a value", f"write {ends} where it is what the plate or a paper promises"
        )
    if (found := _SORTED.fullmatch(text)) and (both := _DASHED.fullmatch(f"{found[1]} {found[2]}")):
        return Fault(len(both[1]), "a range as a plate has it", f"write {both[1]}..{both[3].lstrip('+')} {found[2]}")
    if found := _DASHED.fullmatch(text):
        unit = _spelled((found[4] or found[2] or "").strip())
        ends = f"{found[1]}..{found[3].lstrip('+')} {unit}".rstrip()
        return Fault(len(found[1]), "the two ends of a range are joined by two dots", f"write {_clipped(ends)}")
    if found := _SLASHED.fullmatch(text):
        ends = f"{found[1]}..{found[2]} {found[3]}"
        if found[3] in UNITS and UNITS[found[3]].dimension == FREQUENCY:
            return Fault(len(found[1]), "the two ends of a range are joined by two dots", f"write {_clipped(ends)}")
        if float(found[2]) > 0 and len(text) < 40 and dimension != VOLTAGE:
            part = f"{float(found[1]) / float(found[2]):.6g} {found[3]}"
            return Fault(len(found[1]), "a fraction", f"write {part}, or {ends} if that was meant")
    if found := _EITHER.fullmatch(text):
        unit = _spelled((found[4] or found[2] or ("Hz" if dimension == FREQUENCY else "")).strip())
        if dimension == CURRENT and unit in UNITS:
            least, most = sorted((found[1], found[3]), key=float)
            instead = (
                f"write {most} {unit}, the greater, of a current that flows; {least} {unit}, the lesser, of a rating"
            )
            return Fault(len(found[1]), "two figures where one is wanted", instead)
        if dimension in (VOLTAGE, FREQUENCY) and unit in UNITS and float(found[1]) < float(found[3]):
            what = "two figures, which are the ends of a range where everything between is meant"
            return Fault(len(found[1]), what, f"write {found[1]}..{found[3]} {unit}, else one of them")
    if "−" in text:
        return Fault(text.index("−"), "a minus sign that is not the one on the keyboard", "write -")
    if found := re.search(r"(?<![0-9.])\.[0-9]", text):
        return Fault(found.start(), "a number that begins with its point", f"write 0{_clipped(text[found.start() :])}")
    if found := re.search(r"([0-9]+)\.(?![0-9.])", text):
        return Fault(found.end() - 1, "a number that ends with its point", f"write {_clipped(found[1])}")
    if found := re.match(r"([0-9.]+)[E]([+-]?[0-9]+)", text):
        return Fault(len(found[1]), "a capital E in a number", "write the number out")
    return None


def _ends(text: str) -> str:
    """One number, or the two of a range with the dots of the format."""
    return "..".join(re.findall(_DECIMAL.replace("[+-]?", ""), text))


def _spelled(unit: str) -> str:
    """A unit as the table has it where it differs in its letters' case alone: `VAC` is `Vac`."""
    if unit in UNITS:
        return unit
    same = [name for name in UNITS if name.lower() == unit.lower() and name[0] == unit[0]]
    return same[0] if len(same) == 1 else unit


def _without(comma: re.Match[str], behind: str) -> str:
    """A number with a comma, written as the format has it; both readings where both are possible."""
    whole, rest = comma[1].replace(".", ""), comma[2]
    unit = re.match(rf" ?{UNIT}", behind)
    tail = unit[0] if unit else ""
    if "," in rest or ("." not in comma[1] and rest == "000"):
        return f"write {_clipped(whole + rest.replace(',', '') + tail)}"
    decimal = _clipped(f"{whole}.{rest}{tail}")
    if len(rest) == 3 and "." not in comma[1] and whole != "0":
        return f"write {whole}{rest}{tail}, or {decimal} if that was meant"
    return f"write {decimal}"


def _left_over(text: str, dimension: Dimension | None) -> Fault:
    shown = _clipped(text)
    lettered = _LETTERED.match(text)
    if lettered is not None and (lettered[1] or lettered[3]) and text[: lettered.end()] == lettered[0]:
        if lettered.end() == len(text) or text[lettered.end()] == " ":
            return _letter_in_number(lettered, dimension)
    if re.match(r"[0-9]+[RkKMGmunpµμE][0-9]", text):
        if re.fullmatch(r"[0-9]+K[0-9]+", text):
            return Fault(text.index("K"), f"'{shown}' with a capital K", f"write {_clipped(text.replace('K', 'k'))}")
        return Fault(0, f"'{shown}' is no number with a unit", "one letter may stand for the point: 4k7, 4R7, 4u7")
    volts = re.fullmatch(r"([0-9]+)V([0-9]+)", text)
    if volts is not None:
        return Fault(0, f"'{shown}' has a V for its point", f"write {volts[1]}.{volts[2]} V")
    leading = _LEADING.match(text)
    if leading is None:
        fuse = _FUSE_CURRENT.match(text)
        if fuse is not None and dimension in (None, CURRENT):
            what = f"'{shown}' is the marking of a fuse, which says more than its current"
            return Fault(0, what, f"write {fuse[1]} {fuse[2]}, and the part on one line for the rest: fuse {shown}")
        if text in UNITS:
            return Fault(0, f"'{shown}' is a unit without a number", "write a number before it")
        example = "6.2 mm" if dimension is None else f"6.2 {usual_unit(dimension)}".strip()
        return Fault(0, f"'{shown}' does not begin with a number", f"write a number and a unit, for example {example}")
    spelling = re.search(rf"{UNIT}\Z", leading[0])
    if spelling is not None and spelling[0] not in UNITS:
        return unknown_unit(spelling[0], spelling.start(), leading[0][: spelling.start()].strip(), dimension)
    rest = text[leading.end() :].strip(" ")
    at = len(text) - len(text[leading.end() :].lstrip(" "))
    behind = _SORT_BEHIND.get(rest.lower())
    if behind is not None and re.search(r"[VA]\Z", leading[0]):
        return Fault(at, f"'{rest}' is written at its unit", f"write {_clipped(leading[0] + behind)}")
    if rest in ("=", "⎓", "---") and re.search(r"[VA]\Z", leading[0]):
        return Fault(at, f"'{rest}' is no unit", f"write {_clipped(leading[0])}dc")
    if not rest:
        return Fault(0, f"'{shown}' has no unit", "write its unit behind it")
    if rest[0].isspace() and rest[0] not in "\r\n\t":
        return Fault(
            at, f"a kind of space that is not the one on the keyboard (U+{ord(rest[0]):04X})", "write an ordinary space"
        )
    return Fault(
        at,
        f"'{_clipped(rest)}' is left over behind '{_clipped(leading[0])}'",
        "a value is one number with its unit, then a tolerance, then `at` a condition, then (how it is known)",
    )


def _letter_in_number(found: re.Match[str], dimension: Dimension | None) -> Fault:
    text = found[0]
    if dimension is not None and found[2] not in LETTERS.get(dimension, ()):
        usual = usual_unit(dimension)
        return Fault(0, f"'{_clipped(text)}' is no way to write {dimension}", f"write it in {usual}" if usual else "")
    number = f"{found[1] or '0'}.{found[3]}".rstrip(".")
    meant = _units_of_letter(found[2], dimension)
    return Fault(0, f"'{_clipped(text)}' has no unit", f"write {_clipped(number)} {meant}")


def _units_of_letter(letter: str, dimension: Dimension | None) -> str:
    """The units that a lone letter may stand for: `k` for kohm, `u` for uF or uH; '' when the dimension has none."""
    symbols = {RESISTANCE: "ohm", CAPACITANCE: "F", INDUCTANCE: "H"}
    return " or ".join(
        f"{letter.replace('R', '')}{symbol}"
        for wanted, symbol in symbols.items()
        if letter in LETTERS[wanted] and dimension in (None, wanted)
    )


def _example(number: str, dimension: Dimension) -> str:
    return f"write its unit, for example {_clipped(number)} {usual_unit(dimension)}".rstrip()


def without_unit(body: str, offset: int, dimension: Dimension | None) -> Fault:
    """A number that stands without its unit."""
    if dimension is None or dimension == NUMBER:
        return Fault(offset, f"'{_clipped(body)}' has no unit at its end", "write the unit behind the last number")
    number = re.sub(rf" ?{UNIT}", "", body)
    return Fault(offset, f"'{_clipped(body)}' has no unit", _example(number, dimension))


def unknown_unit(spelling: str, offset: int, number: str, dimension: Dimension | None) -> Fault:
    """A unit that is not in the table: the same letters in other case, or the nearest spelling."""
    what = f"no unit '{_clipped(spelling)}' is known"
    ahead, slash, behind = spelling.partition("/")
    if slash and ahead in UNITS and (not behind or behind.isdigit()):
        return Fault(offset, "a slash between two figures", f"write {_clipped(number)} {ahead}, then a space")
    allowed = [name for name, unit in UNITS.items() if dimension is None or unit.dimension == dimension]
    if spelling in ("C", "c", "deg", "degc", "DegC", "Celsius", "celsius") and dimension in (None, CELSIUS):
        return Fault(offset, what, f"write {_clipped(number)} degC")
    if spelling in _AS_PRINTED and dimension in (None, UNITS[_AS_PRINTED[spelling]].dimension):
        return Fault(offset, what, f"write {_clipped(number)} {_AS_PRINTED[spelling]}")
    if spelling.upper() == "VA":
        return Fault(offset, f"'{spelling}' is apparent power, which no key takes", "write it as text of the plate")
    if re.fullmatch(r"[mk]?A(?:2|²|\^2)s", spelling):
        return Fault(offset, f"'{spelling}' can be read two ways, a thousand apart", "write it in A²s")
    if re.fullmatch(r"[RkMGmunpµμ]", spelling) and (meant := _units_of_letter(spelling, dimension)):
        return Fault(offset, what, f"write {_clipped(number)} {meant}")
    if spelling.lower() in _INCHES and dimension in (None, LENGTH) and re.fullmatch(r"[0-9.]+", number):
        metric = f"{float(number) * _INCHES[spelling.lower()]:.6g} mm"
        return Fault(offset, what, f"in this unit it is {metric}: write that")
    same = sorted({name for name in allowed if name.lower() == spelling.lower()})
    if same:
        guess = spelling[0] != same[0][0] or len(same) > 1  # m and M are a thousand million apart
        written = " or ".join(f"{_clipped(number)} {name}" for name in same)
        return Fault(offset, what, f"did you mean {written}?" if guess else f"write {written}")
    close = nearest(spelling[:20], allowed)
    if close is not None:
        return Fault(offset, what, f"did you mean {close}?")
    return Fault(offset, what, "" if dimension is None else _example(number, dimension))


def wrong_dimension(unit: Unit, offset: int, number: str, wanted: Dimension) -> Fault:
    """A value of another dimension than the one wanted."""
    what = f"expected {wanted}, got {unit.dimension}"
    if wanted == KELVIN and unit.dimension == CELSIUS:
        return Fault(offset, what, f"write {_clipped(number)} K")
    if wanted == CELSIUS and unit.dimension == KELVIN:
        return Fault(offset, what, f"write {_clipped(number)} degC if it is a point on the Celsius scale")
    if wanted == NUMBER:
        return Fault(offset, what, "write the number alone")
    if {wanted, unit.dimension} == {PER_KELVIN, VOLTAGE_PER_KELVIN}:
        key = "temperature_slope" if wanted == PER_KELVIN else "temperature_coefficient"
        return Fault(offset, what, f"write it under {key}")
    return Fault(offset, what, f"write it in {usual_unit(wanted)}")


def about_evidence(word: str, inside: str) -> tuple[str, str]:
    """A bracket whose first word is none of the ways to know a value."""
    close = nearest(word[:40], WRITTEN_EVIDENCE)
    words = ", ".join(WRITTEN_EVIDENCE)
    if close is not None:
        return f"'{_clipped(word)}' is no way to know a value", f"did you mean {close}?"
    return (
        f"'{_clipped(word)}' is no way to know a value" if word else "an empty bracket",
        f"say first how it is known ({words}), then the note: (measured; {_clipped(inside.strip()) or 'note'})",
    )


# YAML stops at its first syntax error: here the text is gone over line by line for the known traps, all of them.
#
# Only used when composing has failed; a rough reading of quotes, comments and brackets is enough to find the places
# where a value begins.


_MOST_REPORTED = 50
_STARTERS = re.compile(r"[>|@`%!&*]")
_PLAIN_END_FLOW = re.compile(r"[,\[\]{}]|:(?=[ ,\[\]{}]|$)| #")
_PLAIN_END_BLOCK = re.compile(r":(?= |$)| #")
_BEHIND_COLON = ("", " ", ",", "]", "}", "[", "{")
_CLOSING = {"{": "}", "[": "]"}


def find_traps(text: str, path: str, skip: int = 0) -> list[Problem]:
    """Every known trap of the text, in order; `skip` lines at the start belong to another document."""
    return _Walk(path).over(text, skip)


class _Walk:
    def __init__(self, path: str) -> None:
        self._path = path
        self._open: list[tuple[str, Place]] = []
        self._quote: tuple[str, Place] | None = None
        self._colon = False  # a colon was seen in this entry of the braces
        self._problems: list[Problem] = []

    def over(self, text: str, skip: int) -> list[Problem]:
        """Walk the lines and return what was found."""
        for number, line in enumerate(text.split("\n"), 1):
            if number > skip and len(self._problems) < _MOST_REPORTED:
                self._line(line.rstrip("\r"), number)
        if self._quote is not None:
            mark, place = self._quote
            self._problems.append(Problem(place, f"this {mark} never closes", f"close the text with another {mark}"))
        return self._problems

    def _say(self, number: int, column: int, what: str, instead: str) -> None:
        self._problems.append(Problem(Place(self._path, number, column + 1), what, instead))

    def _line(self, line: str, number: int) -> None:
        at = 0
        if self._quote is not None:
            at = self._end_of_quote(line, 0, self._quote[0])
            if at < 0:
                return
            self._quote = None
        else:
            indent = len(line) - len(line.lstrip(" \t"))
            if "\t" in line[:indent] and line[indent : indent + 1] != "#":
                self._say(number, line.index("\t"), "a tab at the start of a line", "indent with spaces")
            if self._open and indent == 0 and re.match(r"[\w-]+:( |$)", line):
                self._open.clear()  # a key at the left margin: the brace was lost earlier
            at = indent
        begins = True
        while at < len(line):
            character = line[at]
            if character in " \t":
                at += 1
            elif character == "#" and (at == 0 or line[at - 1] in " \t"):
                self._comment(line, at)
                return
            elif begins and character in "'\"":
                end = self._end_of_quote(line, at + 1, character)
                if end < 0:
                    self._quote = (character, Place(self._path, number, at + 1))
                    return
                at, begins = end, False
            elif begins and character in "-?" and line[at + 1 : at + 2] in ("", " "):
                at += 1
            elif character in "{[" and (begins or self._open):
                self._open.append((character, Place(self._path, number, at + 1)))
                self._colon = False
                at, begins = at + 1, True
            elif self._open and character in "]}":
                self._open.pop()
                self._colon = False
                at, begins = at + 1, False
            elif (character == "," and self._open) or (character == ":" and line[at + 1 : at + 2] in _BEHIND_COLON):
                if character == ":" and self._colon and self._open:
                    self._say(number, at, "a colon and a space inside a text", "put the text in quotes")
                self._colon = character == ":"
                at, begins = at + 1, True
            else:
                found = (_PLAIN_END_FLOW if self._open else _PLAIN_END_BLOCK).search(line, at)
                end = found.start() if found else len(line)
                if begins and _STARTERS.match(character):
                    self._starter(character, line[at:end].strip(), number, at)
                at, begins = max(end, at + 1), False

    @staticmethod
    def _end_of_quote(line: str, at: int, mark: str) -> int:
        """Where the text goes on behind a closing quote, or -1 when it does not close in this line."""
        while at < len(line):
            if mark == '"' and line[at] == "\\":
                at += 2
            elif line[at] == mark:
                if mark == "'" and line[at + 1 : at + 2] == "'":
                    at += 2
                    continue
                return at + 1
            else:
                at += 1
        return -1

    def _comment(self, line: str, at: int) -> None:
        if not self._open:
            return
        bracket, place = self._open[-1]
        if _CLOSING[bracket] in line[at:]:
            self._problems.append(
                Problem(
                    place,
                    f"this {bracket} never closes: text from ' #' in column {at + 1} on is a comment",
                    "put the text with ' #' in quotes",
                )
            )
            self._open.clear()

    def _starter(self, character: str, value: str, number: int, at: int) -> None:
        shown = value if len(value) <= 40 else value[:40] + "…"
        if character == ">":
            rest = value[1:].lstrip("=").strip()
            short = rest if len(rest) <= 40 else f"{rest[:39]}…"
            instead = f"write `over {short}`" if re.match(r"[0-9]", rest) else "write `over 5 mm`, or use quotes"
            self._say(number, at, f"'{shown}': YAML takes '>' for the start of a text over several lines", instead)
        elif character == "|":
            self._say(
                number,
                at,
                f"'{shown}': YAML takes '|' for the start of a text over several lines",
                "parts in parallel are written `C6 || C7`, with a part on either side",
            )
        elif character in "@`%":
            self._say(number, at, f"'{shown}': a text cannot begin with {character}", "put it in quotes")
        else:
            self._say(
                number, at, f"'{shown}': what begins with {character} is not part of this format", "put it in quotes"
            )


# piece of libyaml's own sentence: (what, what to write instead)
_SENTENCES: tuple[tuple[str, str, str], ...] = (
    (
        "mapping values are not allowed",
        "a colon and a space inside a text, a line further in than the one above, or one above without its colon",
        "put a text with ': ' in quotes; give entries of one block the same indentation",
    ),
    (
        "did not find expected ',' or '}'",
        "a { opened here is not closed, or a comma is missing",
        "write {key: value, key: value}",
    ),
    ("did not find expected ',' or ']'", "a [ opened here is not closed, or a comma is missing", "write [one, two]"),
    ("did not find expected '-'", "this line does not fit the list above it", "begin each entry with '- '"),
    (
        "did not find expected key",
        "this line does not fit the lines above it",
        "give entries of one block the same indentation",
    ),
    ("mapping keys are not allowed", "a ? alone", "write `unknown`, or put it in quotes"),
    ("did not find expected node content", "nothing stands where a value belongs", "write it, or take a comma out"),
    ("could not find expected ':'", "a line without a colon", "write `key: value`"),
    ("unexpected end of stream", "a text in quotes never ends", "close the quotes"),
    ("unexpected document indicator", "a text in quotes never ends", "close the quotes"),
    ("unknown escape", "a backslash in double quotes that YAML does not know", "use single quotes"),
    ("did not find expected hexdecimal", "a backslash in double quotes that YAML does not know", "use single quotes"),
    ("cannot start any token", "a text cannot begin with this character", "put it in quotes"),
    ("block sequence entries are not allowed", "a list cannot begin here", "begin it on a line of its own"),
    ("nesting", "nested too deep", ""),
    ("directive", "a line beginning with % is not part of this format", "leave it out"),
    ("<document start>", "text behind the end of the document", "leave the line of dots out"),
    ("tag", "a tag (!) is not part of this format", "put the text in quotes"),
)


def own_words(error: Exception, path: str, text: str) -> Problem:
    """A sentence of our own for an error of the YAML parser, at its place inside the text."""
    own: Any = error
    said = f"{getattr(own, 'context', '') or ''} {getattr(own, 'problem', '') or ''}"
    mark = getattr(own, "problem_mark", None)
    if "did not find expected key" in said and mark is not None:
        before = text.split("\n")[mark.line][: mark.column].rstrip()
        if before:
            what = f"text behind the closing {before[-1]}" if before[-1] in "'\"]}" else "text that belongs to no key"
            return Problem(_inside(mark, path, text), what, "put the whole text in quotes")
    for piece, what, instead in _SENTENCES:
        if piece in said:
            if what.endswith(("is missing", "without a colon")) or "quotes never" in what:
                mark = getattr(own, "context_mark", None) or mark
            return Problem(_inside(mark, path, text), what, instead)
    return Problem(_inside(mark, path, text), "YAML cannot read on here", "look for a missing quote, brace or colon")


def _inside(mark: Any, path: str, text: str) -> Place:
    """A place that exists in the text: YAML points behind the last line when something never ends."""
    if mark is None:
        return Place(path)
    lines = text.split("\n")
    line = min(mark.line, len(lines) - 1)
    while line > 0 and line >= mark.line and not lines[line].strip():
        line -= 1
    column = mark.column if line == mark.line else len(lines[line])
    return Place(path, line + 1, min(column, len(lines[line])) + 1)
