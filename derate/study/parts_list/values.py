"""What a cell of a parts list says of a part: figures as people write them, classes, types; and what cannot be read.

A figure is taken where its unit or its form leaves one meaning alone. A number without a unit on a capacitor, a code of
three digits or two classes in one cell have several: they are kept as unread, and told.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from derate.design.kinds import KINDS, figures_of, possible
from derate.design.load import expand_parts
from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.values import Place, Problem
from derate.text.nodes import Mapping, Scalar

NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_END = r"(?![A-Za-z0-9.])"


class Kind(NamedTuple):
    """What a designator says of its part. kind: '' where it says that it is no part of this format, `?` for any"""

    kind: str
    says: str = ""


# By the letters of a designator; the longest that fit.
LETTERS: dict[str, Kind] = {
    "R": Kind("resistor"),
    "C": Kind("capacitor"),
    "CX": Kind("capacitor"),
    "CY": Kind("capacitor"),
    "EC": Kind("electrolytic capacitor"),
    "L": Kind("choke"),
    "LF": Kind("common-mode choke"),
    "CMC": Kind("common-mode choke"),
    "FL": Kind("common-mode choke"),
    "D": Kind("diode"),
    "CR": Kind("diode"),
    "ZD": Kind("zener diode"),
    "DZ": Kind("zener diode"),
    "VZ": Kind("zener diode"),
    "TVS": Kind("suppressor diode"),
    "BR": Kind("bridge rectifier"),
    "DB": Kind("bridge rectifier"),
    "BD": Kind("bridge rectifier"),
    "GR": Kind("bridge rectifier"),
    "Q": Kind("transistor"),
    "F": Kind("fuse"),
    "FU": Kind("fuse"),
    "FS": Kind("fuse"),
    "RF": Kind("fusible resistor"),
    "FR": Kind("fusible resistor"),
    "RV": Kind("varistor"),
    "VDR": Kind("varistor"),
    "MOV": Kind("varistor"),
    "VR": Kind("?"),
    "NTC": Kind("NTC thermistor"),
    "TH": Kind("?"),
    "RT": Kind("?"),
    "OC": Kind("optocoupler"),
    "OK": Kind("optocoupler"),
    "PC": Kind("optocoupler"),
    "SG": Kind("spark gap"),
    "GDT": Kind("spark gap"),
    "LED": Kind("LED"),
    "RL": Kind("relay"),
    "K": Kind("relay"),
    "U": Kind("?"),
    "IC": Kind("?"),
    "N": Kind("?"),
    "T": Kind("?"),
    "TR": Kind("?"),
    "V": Kind("?"),
    "VT": Kind("transistor"),
    "VD": Kind("diode"),
    "SCR": Kind("thyristor"),
    "TX": Kind("", "a transformer stands under transformers"),
    "J": Kind("", "a connector or a bridge of wire"),
    "JP": Kind("", "a bridge of wire"),
    "W": Kind("", "a wire"),
    "P": Kind("", "a connector"),
    "CN": Kind("", "a connector"),
    "CON": Kind("", "a connector"),
    "X": Kind("", "a connector or a crystal"),
    "XT": Kind("", "a terminal"),
    "Y": Kind("", "a crystal"),
    "S": Kind("", "a switch"),
    "SW": Kind("", "a switch"),
    "TP": Kind("", "a test point"),
    "MP": Kind("", "a mechanical part"),
    "H": Kind("", "a hole or a mechanical part"),
    "MH": Kind("", "a hole"),
    "HS": Kind("", "a heatsink"),
    "KK": Kind("", "a heatsink"),
    "FID": Kind("", "a mark of the board"),
    "FD": Kind("", "a mark of the board"),
    "PCB": Kind("", "the board"),
    "LOGO": Kind("", "a print"),
}
# Words of a description that say a kind; of several the first. A German or French word where such lists have it.
_WORDS: tuple[tuple[str, str], ...] = (
    (r"transformer|transformator|\btrafo\b|\btransfo\b", "a transformer"),
    (r"opto[- ]?coupler|optokoppler|photo[- ]?coupler|opto[- ]?isolator|optocoupleur", "optocoupler"),
    (r"common[- ]mode|stromkompensiert|mode commun|line filter", "common-mode choke"),
    (r"\bNTC\b|inrush", "NTC thermistor"),
    (r"varistor|\bVDR\b|\bMOV\b", "varistor"),
    (r"bridge|br(?:ü|ue)cken?gleichrichter|gleichrichterbr(?:ü|ue)cke|pont", "bridge rectifier"),
    (r"shunt ref(?:erence|\.)?|shunt regulator|\bTL431\w*", "shunt reference"),
    (r"(?:\bPWM\b\s*)?\bcontroller\b|\bPWM\b", "controller"),
    (r"linear regulator|voltage regulator|\bLDO\b|linearregler|spannungsregler", "linear regulator"),
    (r"mosfet|n-?fet\b|n-channel", "MOSFET"),
    (r"\bNPN\b|\bPNP\b|bipolar", "bipolar transistor"),
    (r"schottky", "Schottky diode"),
    (r"zener", "zener diode"),
    (r"\bTVS\b|suppressor|suppressordiode|transil", "suppressor diode"),
    (r"ultra[- ]?fast", "ultrafast diode"),
    (r"fast recovery|fast (?:diode|rectifier)|schnelle diode", "fast diode"),
    (r"switching diode|signal diode|small[- ]signal|signaldiode", "signal diode"),
    (r"\bLED\b|leuchtdiode", "LED"),
    (
        r"electrolytic|\belko\b|\balu(?:minium|minum)?[- ]?(?:cap|elko|electrolytic)|\bchimique\b",
        "electrolytic capacitor",
    ),
    (r"polymer (?:alu|cap)|solid (?:alu|electrolytic)", "solid electrolytic capacitor"),
    (r"\bMK[PTSC]\w?\b|film cap|foil cap|folienkondensator|polypropylene|polyester|\bX2 cap", "film capacitor"),
    (r"ceramic|keramik|\bkerko\b|\bMLCC\b|c(?:é|e)ramique", "ceramic capacitor"),
    (r"fusible.*wire|flameproof wire", "fusible wirewound resistor"),
    (r"fusible", "fusible resistor"),
    (r"wire[- ]?wound|drahtwiderstand|bobin", "wirewound resistor"),
    (r"metal oxide|metalloxid", "metal oxide resistor"),
    (r"metal film|carbon film|thick film|thin film|metallschicht|kohleschicht|dickschicht", "film resistor"),
    (r"\bfuse\b|sicherung\b|fusible 5x20", "fuse"),
    (r"gas discharge|spark gap", "spark gap"),
    (r"\brelay\b|relais", "relay"),
    (r"thyristor|triac", "thyristor"),
    (r"choke|inductor|drossel|spule|ferrite|\bself\b", "choke"),
    (r"rectifier diode|standard rectifier|gleichrichterdiode", "line diode"),
)
_WORD_RES = tuple((re.compile(pattern, re.IGNORECASE), kind) for pattern, kind in _WORDS)
_NOT_FITTED = re.compile(
    r"(?:DNP|DNF|DNI|N\.?C\.?|N\.?F\.?|N\.?B\.?|NU|NP|no ?pop|not (?:fitted|placed|populated|mounted|used)|"
    r"do not (?:place|populate|fit)|unpopulated|nicht best(?:ü|ue)ckt|leer|empty|non mont(?:é|e)|not?)\.?",
    re.IGNORECASE,
)
_BEHIND = re.compile(  # the same behind a value; none of the short words, which are figures or marks there
    r"(?P<value>.*\w)[\s,;/(\[-]+(?:DNP|DNF|DNI|not (?:fitted|placed|populated|mounted|used)|"
    r"do not (?:place|populate|fit)|unpopulated|nicht best(?:ü|ue)ckt|non mont(?:é|e))[)\]]?",
    re.IGNORECASE,
)
_DIELECTRICS = {
    "class 1": ("NP0", "NPO", "C0G", "COG", "U2J"),
    "class 2": ("X7R", "X5R", "X6S", "X7S", "X7T", "X8R", "Y5V", "Z5U", "Y5U", "X5S"),
}
_PACKAGE = re.compile(
    r"(?:SMD ?)?(?:R_|C_|L_|D_)?(?:0201|0402|0603|0805|1206|1210|1808|1812|2010|2220|2512|SOD?-?\d\w*|SOT-?\d\w*|"
    r"SOIC-?\d+\w*|SOP-?\d\w*|TO-?\d\w*|DO-?\d\w*|DIP-?\d+\w*|SM[ABC]F?|MELF|MiniMELF|axial|radial|THT|SMD)",
    re.IGNORECASE,
)


def kind_of(designator: str) -> tuple[str, Kind]:
    """The letters of a designator, and what they say."""
    letters = re.match(r"[A-Za-z]+", designator)
    text = letters.group().upper() if letters else ""
    if text in LETTERS:
        return text, LETTERS[text]
    return text, Kind("?")


def kind_in(text: str) -> str:
    """The kind that a description says, '' where it says none; `a transformer` for one."""
    return next((kind for pattern, kind in _WORD_RES if pattern.search(text)), "")


# What stands under letters that say something else, often enough to be no contradiction.
_ALSO = {
    "choke": ("common-mode choke",),
    "diode": ("bridge rectifier", "LED"),
    "resistor": ("NTC thermistor", "varistor"),
    "fuse": ("fusible resistor", "fusible film resistor", "fusible wirewound resistor"),
    "transistor": ("integrated switch", "thyristor", "shunt reference", "linear regulator"),
}


def said_by_kind(text: str) -> frozenset[str]:
    """The words of a text that say its kind, each as it stands between blanks."""
    found = next((match for pattern, _ in _WORD_RES if (match := pattern.search(text))), None)
    return frozenset(found.group().split()) if found is not None else frozenset()


def sharper(one: str, other: str) -> str | None:
    """Of two kinds the one that says more; None where they contradict each other."""
    if not other or one == other:
        return one
    if not one or one == "?":
        return other
    if other in _ALSO.get(one, ()):
        return other
    own, theirs = set(possible(one)), set(possible(other))
    if theirs <= own:
        return other
    if own <= theirs:
        return one
    return None


def is_not_fitted(text: str) -> bool:
    """Whether a cell says that the position stays empty."""
    return _NOT_FITTED.fullmatch(text.strip()) is not None


def without_not_fitted(text: str) -> tuple[str, bool]:
    """A cell without the words that its position is left empty, and whether it had them: `2k2 (DNP)`, `DNP`."""
    if is_not_fitted(text):
        return "", True
    found = _BEHIND.fullmatch(text.strip())
    return (found["value"], True) if found is not None else (text, False)


_PLAIN_TYPE = re.compile(r"(?:0201|0402|0603|0805|1206|1210|1808|1812|2010|2220|2512|[XY][12])|\D")


def is_type(text: str) -> bool:
    """Whether a cell can be an order code or a mark: it has a digit that is not of a package, other than `CPOL`."""
    return bool(_PLAIN_TYPE.sub("", text))


class Read(NamedTuple):
    """What was read in a cell: facts by key, such as rated.voltage, as a design writes them; types; what was not."""

    facts: dict[str, str]
    types: tuple[str, ...]
    packages: tuple[str, ...]
    unread: tuple[str, ...]
    empty: bool = False


_FRACTION = re.compile(r"(\d+)/(\d+) ?(?=W\b)")
_PIECES: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("tolerance", re.compile(rf"(?:±|\+/-|\+-)? ?({NUMBER}) ?%")),
    ("class", re.compile(rf"(X1/?Y[12]|X2/?Y[12]|Y[12]/?X[12]|X[12]|Y[12]){_END}")),
    ("dielectric", re.compile(rf"({'|'.join(one for names in _DIELECTRICS.values() for one in names)}){_END}", re.I)),
    ("voltage", re.compile(rf"({NUMBER}) ?(k|m)?V ?(AC|ac|Ac|rms|RMS|~|DC|dc|=|⎓)?{_END}")),
    ("power", re.compile(rf"({NUMBER}) ?(m|k)?W(?:att)?{_END}")),
    ("current", re.compile(rf"({NUMBER}) ?(m|u)?A{_END}")),
    ("energy", re.compile(rf"({NUMBER}) ?(m)?J{_END}")),
    ("temperature", re.compile(rf"({NUMBER}) ?(?:°|º|deg) ?C{_END}|(85|105|125|130|150)C{_END}")),
    ("life", re.compile(rf"({NUMBER}) ?(?:h|hrs?|hours|Std\.?){_END}")),
    ("time", re.compile(rf"({NUMBER}) ?ns{_END}")),
    ("ohms", re.compile(rf"({NUMBER}) ?(m|k|K|M|G)?(?:Ω|[Oo]hms?|OHM|R){_END}")),
    ("henry", re.compile(rf"({NUMBER}) ?(n|u|m)?H{_END}")),
    ("farad", re.compile(rf"({NUMBER}) ?(p|n|u|m)F{_END}")),
)
_OHMS = dict(_PIECES)["ohms"]
_FUSE_MARK = re.compile(r"(FF|F|M|TT|T) ?(\d+(?:\.\d+)?) ?(m?A)(?: ?([LEH]))?(?:[ /]*(\d+) ?V(?:AC|ac|~)?)?" + _END)
_LETTER_R = re.compile(rf"(\d*)([RrkKMEΩ])(\d+){_END}")
_PLAIN_R = re.compile(rf"({NUMBER}) ?([RkKMEm])?{_END}")
_LETTER_C = re.compile(rf"(\d*)([pnuP])(\d*){_END}")
_PLAIN_C = re.compile(rf"({NUMBER}) ?([pnu]){_END}")
_PLAIN_L = re.compile(rf"({NUMBER}) ?([num]){_END}")
_LETTER_L = re.compile(rf"(\d+)([num])(\d+)H?{_END}")
_ZENER = re.compile(rf"(\d+)V(\d+){_END}")
_DIMENSION: dict[str, Dimension] = {
    "voltage": d.VOLTAGE,
    "power": d.POWER,
    "current": d.CURRENT,
    "energy": d.ENERGY,
    "temperature": d.CELSIUS,
    "life": d.TIME,
    "time": d.TIME,
    "ohms": d.RESISTANCE,
    "henry": d.INDUCTANCE,
    "farad": d.CAPACITANCE,
}
_UNITS = {"voltage": "V", "power": "W", "current": "A", "energy": "J", "ohms": "ohm", "henry": "H", "farad": "F"}


def read_cell(text: str, kind: str, comma: bool, figures_alone: bool = False) -> Read:
    """What a cell says of a part of a kind. comma: a comma is the decimal sign; figures_alone: no types are in it

    The facts are in the words of a design; a figure whose meaning the kind does not settle is unread.
    """
    return _Reader(text, kind, comma, figures_alone).read()


_NUMBER_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d,])")
_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2}(?:\.\d{3})+(?:,\d+)?(?![\d.,])")  # where a comma is the decimal sign
# A program for tables makes a date of `4.7` or `1-2`, and of `4.70` what it shows as `Apr 70`: no figure is left in it.
_MONTH = "(?:Jan|Feb|Mar|Mrz|Mär|Apr|May|Mai|June?|Juni|July?|Juli|Aug|Sept?|Oct|Okt|Nov|Dec|Dez)"
_DATE = re.compile(
    r"(?<![\w.])(?:\d{1,4}([-/.])\d{1,2}\1\d{2,4}(?:[T ]\d\d:\d\d(?::\d\d)?)?"
    rf"|\d{{1,2}}(?:-|\. ?| ){_MONTH}(?:[- ]\d{{2,4}})?|{_MONTH}[- ]\d{{2,4}})(?![\w.])"
)
_OTHER_UNIT = re.compile(r" ?(?:[%°]|(?:[mk]?[VWAJ]|[munp][FHs]|mm|k?Hz)(?:AC|DC|ac|dc|rms)?(?![A-Za-z0-9]))")


def point_for_comma(text: str, comma: bool) -> tuple[str, tuple[str, ...]]:
    """The text with a point in each figure; what may as well part thousands, and a date, cannot be read."""
    doubtful = [found.group() for found in _DATE.finditer(text)]
    if comma:
        doubtful += [found.group() for found in _THOUSANDS.finditer(text)]

    def change(match: re.Match[str]) -> str:
        whole, part = match.groups()
        if any(match.group() in one for one in doubtful):
            return match.group()
        if not comma and len(part) == 3 and whole != "0":
            doubtful.append(match.group())
            return match.group()
        return f"{whole}.{part}"

    return _NUMBER_COMMA.sub(change, text), tuple(doubtful)


class _Reader:
    """One cell, from its left to its right."""

    def __init__(self, text: str, kind: str, comma: bool, figures_alone: bool) -> None:
        self.kind = "" if kind == "?" else kind
        self.families = {KINDS[one] for one in possible(self.kind)}
        self.meaning = figures_of(possible(self.kind)) if self.kind else {}
        self.figures_alone = figures_alone
        self.facts: dict[str, str] = {}
        self.types: list[str] = []
        self.packages: list[str] = []
        self.unread: list[str] = []
        text, self.doubtful = point_for_comma(text, comma)
        text = text.replace("μ", "u").replace("µ", "u").replace("\u2126", "Ω").replace("±", " ±")
        self.text = _FRACTION.sub(lambda one: f"{int(one[1]) / max(int(one[2]), 1):g} ", text)
        self.tolerance = ""

    def read(self) -> Read:
        """Piece by piece; what no pattern fits is a word up to the next blank."""
        at = 0
        while at < len(self.text):
            gap = re.compile(r"[\s,;|]+|/(?=\D|\d)|@|_").match(self.text, at)
            if gap:
                at = gap.end()
                continue
            doubtful = next((one for one in self.doubtful if self.text.startswith(one, at)), "")
            if doubtful:  # a sign that may part thousands, a date: with whatever stands behind it
                whole = re.compile(r"[^\s;|]*").match(self.text, at + len(doubtful))
                assert whole is not None
                self.unread.append(self.text[at : whole.end()])
                at = whole.end()
                continue
            step = self._figure(at)
            if step > at:
                at = step
                continue
            word = re.compile(r"[^\s,;|]+").match(self.text, at)
            assert word is not None
            at = word.end()
            self._word(word.group())
        self._put_tolerance()
        return Read(self.facts, tuple(self.types), tuple(self.packages), tuple(self.unread))

    def _figure(self, at: int) -> int:
        text = self.text
        if self.kind == "fuse" and (found := _FUSE_MARK.match(text, at)):
            return self._fuse(found)
        if "resistor" in self.families or self.kind == "NTC thermistor":
            done = self._ohms(at)
            if done > at:
                return done
        if "capacitor" in self.families:
            done = self._letters(at, _LETTER_C, "farad", 2)
            if done == at:
                done = self._plain(at, _PLAIN_C, "farad")
            if done > at:
                return done
        if self.kind in ("choke", "common-mode choke"):
            done = self._letters(at, _LETTER_L, "henry", 2) or self._plain(at, _PLAIN_L, "henry")
            if done > at:
                return done
        if self.kind == "zener diode" and (found := _ZENER.match(text, at)):
            self._put("part.voltage", f"{found[1]}.{found[2]} V", found.group())
            return found.end()
        for name, pattern in _PIECES:
            found = pattern.match(text, at)
            if found is not None:
                self._piece(name, found)
                return found.end()
        return at

    def _ohms(self, at: int) -> int:
        text = self.text
        named = _OHMS.match(text, at)
        if named is not None:
            self._piece("ohms", named)
            return named.end()
        found = _LETTER_R.match(text, at)
        if found is not None:
            whole, letter, part = found.groups()
            unit = {"R": "", "r": "", "E": "", "Ω": "", "k": "k", "K": "k", "M": "M"}[letter]
            self._put("part.resistance", f"{whole or '0'}.{part} {unit}ohm", found.group())
            return found.end()
        found = _PLAIN_R.match(text, at)
        if found is not None and "part.resistance" not in self.facts:
            number, letter = found.groups()
            if letter == "m":  # a milliohm of a sense resistor, or a megohm of somebody in a hurry
                self.unread.append(found.group())
                return found.end()
            if letter is None and _PACKAGE.fullmatch(number) is not None and len(number) == 4:
                return at
            unit = {None: "", "R": "", "E": "", "k": "k", "K": "k", "M": "M"}[letter]
            if letter is None and _OTHER_UNIT.match(text, found.end()):
                return at
            self._put("part.resistance", f"{number} {unit}ohm", found.group())
            return found.end()
        return at

    def _letters(self, at: int, pattern: re.Pattern[str], name: str, letter: int) -> int:
        found = pattern.match(self.text, at)
        if found is None or not (found[1] or found[3]) or name_of(self.meaning, name) in self.facts:
            return at
        unit = {"P": "p"}.get(found[letter], found[letter])
        number = f"{found[1] or '0'}.{found[3]}" if found[3] else found[1]
        self._put(name_of(self.meaning, name), f"{number} {unit}{_UNITS[name]}", found.group())
        return found.end()

    def _plain(self, at: int, pattern: re.Pattern[str], name: str) -> int:
        found = pattern.match(self.text, at)
        if found is None or name_of(self.meaning, name) in self.facts:
            return at
        self._put(name_of(self.meaning, name), f"{found[1]} {found[2]}{_UNITS[name]}", found.group())
        return found.end()

    def _piece(self, name: str, found: re.Match[str]) -> None:
        text = found.group().strip()
        if name == "tolerance":
            if self.tolerance and self.tolerance != found[1]:
                self.unread.append(text)
            self.tolerance = self.tolerance or found[1]
        elif name == "class":
            if len(found[1]) == 2 and self.families & {"capacitor"}:
                self._put("part.class", found[1], text)
            else:
                self.unread.append(text)  # of two classes the file has one
        elif name == "dielectric":
            word = next(of for of, names in _DIELECTRICS.items() if found[1].upper() in names)
            if "capacitor" in self.families:
                self._put("part.dielectric", word, text)
            else:
                self.unread.append(text)
        elif name in ("temperature", "life", "time"):
            unit = {"temperature": "degC", "life": "h", "time": "ns"}[name]
            number = found[1] or (found[2] if name == "temperature" else "")
            key = name_of(self.meaning, name)
            if (name == "time") != ("diode" in self.families) and name != "temperature":
                key = ""
            self._put(key if name != "life" else "", f"{number} {unit}", text)  # a life says no temperature here
        else:
            unit = f"{'k' if found[2] == 'K' else found[2] or ''}{_UNITS[name]}"
            form = (found[3] or "") if name == "voltage" else ""
            alternating = form.lower() in ("ac", "rms", "~")
            direct = form.lower() in ("dc", "=", "⎓")
            key = name_of(self.meaning, name)
            if self.kind == "varistor" and name == "voltage":
                key = "rated.voltage" if alternating else ""  # of a bare voltage two figures are meant
            ending = "ac" if alternating else "dc" if direct else ""
            self._put(key, f"{_whole(found[1])} {unit}{ending}", text)

    def _fuse(self, found: re.Match[str]) -> int:
        letters, number, unit, capacity, volts = found.groups()
        mark = f"{letters}{number}{unit}{capacity or ''}{volts or ''}{'V' if volts else ''}"
        if not volts:
            mark = f"{letters}{number}{unit} 250V"  # of which the voltage is left out again
        for key, value in _fuse_facts(mark).items():
            if volts or key != "rated.voltage":
                self._put(key, value, found.group())
        if capacity and not volts:
            self.unread.append(f"breaking capacity {capacity}")
        return found.end()

    def _put(self, key: str, value: str, text: str) -> None:
        if not key or self.facts.get(key, value) != value:
            self.unread.append(text.strip())
            return
        self.facts[key] = value

    def _word(self, word: str) -> None:
        bare = word.strip("()[]{}.:,;")
        if not bare:
            return
        if _PACKAGE.fullmatch(bare):
            self.packages.append(bare)
        elif not self.figures_alone and any(letter.isdigit() for letter in bare) and any(map(str.isalpha, bare)):
            self.types.append(bare)
        else:
            self.unread.append(bare)

    def _put_tolerance(self) -> None:
        if not self.tolerance:
            return
        for key in ("part.resistance", "part.capacitance", "part.inductance", "part.voltage"):
            if key in self.facts:
                self.facts[key] += f" {self.tolerance}%"
                return
        self.facts["tolerance"] = f"{self.tolerance}%"


def _fuse_facts(mark: str) -> dict[str, str]:
    """What the marking of a fuse states, as the reader of designs has it."""
    place = Place("list")
    node = Mapping(((Scalar("F1", place), Scalar(f"fuse {mark}", place)),), place)
    problems: list[Problem] = []
    (_, block), *_ = expand_parts(node, problems, {}).entries or ((None, Mapping((), place)),)
    found: dict[str, str] = {}
    for key, value in block.entries if isinstance(block, Mapping) else ():
        if isinstance(value, Mapping):
            found |= {f"rated.{name.text}": one.text for name, one in value.entries if isinstance(one, Scalar)}
        elif isinstance(value, Scalar) and key.text != "kind":
            found[f"part.{key.text}"] = value.text
    return found


def _whole(number: str) -> str:
    return f"0{number}" if number.startswith(".") else number


def name_of(meaning: dict[Dimension, str], name: str) -> str:
    """The fact that a figure of this sort states for a kind, '' where none."""
    return meaning.get(_DIMENSION[name], "")
