"""What to write for a part, a figure of a part or a word as people have them at the bench, where it is not read.

Nothing here reads anything: a text that may mean two things is answered, never guessed. Only imported when something is
wrong.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from derate.terms.words import DIODES, RESISTORS
from derate.text.units import UNITS

# It opens no circuit for good and its resistance rises: to take it for a fuse or an NTC would judge another part.
_NO_KIND = "a PTC thermistor or resettable fuse has no kind here: write {kind: unknown, marking: …, note: what it is}"
_NONE_FITS = "it has no kind here: write {kind: unknown, marking: …, note: what it is}"
_NO_PART = "it is no part of its own"
_FUSE = "write fuse T2A L 250 V, with what is marked on it; what it looks like goes into a note"
_CHOKE = "write choke, or common-mode choke where it has two windings in the mains path"
_X = "write film capacitor X2 220 nF 310 Vac, with what is marked on it"
_Y = "write ceramic capacitor Y1 2.2 nF 250 Vac, with what is marked on it"
_CLASSED = re.compile(r"([xy])([12])(?:[ -]?cap\w*)?\b ?(.*)", re.IGNORECASE)
_TRANSFORMER = "a transformer stands in a block of its own: transformers: {T1: {core: {…}, windings: {…}}}"
_IC = "write integrated switch where it switches the transformer itself, else controller"
_WIREWOUND = "write wirewound resistor, or fusible wirewound resistor where it is there to open"
_REGULATOR = "write linear regulator, with what is printed as its marking"
_TANTALUM = f"of tantalum {_NONE_FITS}"
# Part kinds as people call them (the beginning of the text, in small letters, as a pattern), and what to write.
KIND_MEANT = {
    r"(?:thermistor\W+)?(?:ptc|pptc)": _NO_KIND,
    "poly-?fuse": _NO_KIND,
    r"(?:self.)?resett\w+ fuse": _NO_KIND,
    r"(?:\w+ )?inductor": _CHOKE,
    r"polymer(?:ic)? (?:ptc|fuse|resettable)": _NO_KIND,
    r"(?:solid |conductive )*polymer": "write solid electrolytic capacitor",
    r"(?:solid )?tantalum": _TANTALUM,
    r"[\w/. -]*transformer": _TRANSFORMER,
    "thermistor": f"write NTC thermistor where it has less resistance hot than cold; {_NO_KIND}",
    "ntc": "write NTC thermistor",
    "mov": "write varistor",
    "vdr": "write varistor",
    "bridge": "write bridge rectifier",
    "rectifier bridge": "write bridge rectifier",
    "diode bridge": "write bridge rectifier",
    "elko|e-?caps?|el-?caps?|elco|electrolytics?(?! cap)": "write electrolytic capacitor",
    "mlccs?": "write ceramic capacitor",
    "mk[pst]|cbb ?\\d*": "write film capacitor",
    r"(?:polyester|polypropylene|polyprop|foil(?! res))(?: film)?(?: cap\w*)?": "write film capacitor",
    r"disc(?: cap\w*)?(?! (?:[np]tc|therm|var|fuse))": "write ceramic capacitor, or varistor where it is one",
    "cap": "write electrolytic capacitor, film capacitor or ceramic capacitor; capacitor alone where nobody can tell",
    "[np][np][np]": "write bipolar transistor",
    r"(?:ka|tl|lm)v?431\w*": "write shunt reference, with what is printed as its marking",
    "(?:shunt regulator|reference)": "write shunt reference",
    r"(?:[a-z]{1,3})?7[89][lm]?\d\d[a-z]*": _REGULATOR,
    r"(?:lm)?3[13]7[a-z]*": _REGULATOR,
    "voltage regulator": "write linear regulator, or integrated switch where it switches",
    "voltage reference": "write shunt reference",
    "thermal fuse": "write thermal link",
    "thermal cutoff": "write thermal link",
    "(?:thermostat|bimetal(?: switch)?)": "write cut-out where it closes again, thermal link where it does not",
    "usb": "a connector is no part of its own; write port: under the output of the plate",
    "connector": "a connector is no part of its own; write port: under the output of the plate",
    "(?:plug|inlet|socket)": f"{_NO_PART}; write connection: under supply, for how it is connected to the mains",
    "heat ?sinks?": f"{_NO_PART}; write heatsink: with its K/W at the part that sits on it",
    r"wire[ -]?wound(?! resistor)": _WIREWOUND,
    r"wire[ -]wound resistor": _WIREWOUND,
    r"(?:wire|link)[ -]fuse": _FUSE,
    r"(?:wire|jumper|link|wire link)(?! resistor)": f"{_NO_PART}; leave it out of the path, which goes on behind it",
    "(?:ferrite(?: bead)?|bead)": f"a bead on a lead is no choke, and {_NONE_FITS}",
    "(?:crystal|resonator|buzzer|lamp|neon|triac|diac|igbt)": _NONE_FITS,
    "(?:mains |rocker |power )?switch": "write MOSFET, bipolar transistor or integrated switch; "
    f"a switch worked by hand: {_NONE_FITS}",
    "tvs": "write suppressor diode",
    "schottky": "write Schottky diode",
    "coil": _CHOKE,
    r"common.mode (?:choke|coil|filter|inductor)": "write common-mode choke",
    "ic": _IC,
    r"(?:pwm|smps) (?:ic|controller)": _IC,
    "opto": "write optocoupler",
    "photocoupler": "write optocoupler",
    r"pc ?817\w*": "write optocoupler, with what is printed as its marking",
    r"fuse resistor|fusible(?! [a-z])": "write fusible resistor",
    r"metal[ -]oxide varistor": "write varistor",
    r"metal oxide(?! resistor)": "write metal oxide resistor",
    r"(?:metal|carbon|thick|thin|mf|cf|smd|chip)[ -]?(?:film)?(?: film)? ?resistor": "write film resistor",
    "res": "write resistor, or its kind where it can be told",
    "scr": "write thyristor",
    r"(?:glass|ceramic|smd|axial|pico|slow|fast|quick|miniature|time.lag|slow.blow|fast.blow)[\w -]* fuse": _FUSE,
    "x capacitor": _X,
    "y capacitor": _Y,
    r"(?:safety|suppression) cap\w*": "write film capacitor or ceramic capacitor, with its class: X2, Y1, …",
}


def of_kind(text: str) -> str:
    """What to write for a part that begins with a kind as people call it; '' where it begins with none of these."""
    if classed := _CLASSED.match(text):
        letter, digit, rest = classed.groups()
        kinds = ("film", "ceramic") if letter in "xX" else ("ceramic", "film")
        own = f"{letter.upper()}{digit} {rest[:40]}".strip()
        return f"write {kinds[0]} capacitor {own}, or {kinds[1]} capacitor where it is one"
    return next((said for word, said in KIND_MEANT.items() if re.match(rf"(?:{word})s?\b", text.lower())), "")


_TYPE_MARK = re.compile(r"(?<![\w.])(?:[A-Z]{1,4}-?\d{1,}[\w-]*|\d{1,2}[A-Z]{1,2}\d{2,}[\w-]*)")
_DISC = re.compile(r"\d{1,2}([KD])(\d{2,3})K?")
_NTC = re.compile(r"(\d+(?:\.\d+)?)D-?\d+")
# A number alone is the name of a type on what has no figure without a unit: `13003`, `7805`.
_BARE_TYPE = re.compile(r"\d{3,5}[A-Z]?(?![\w.%]| ?(?:m?[VAW]|ohm)\b)")
_SIZES = ("0402", "0603", "0805", "1206", "1210", "2010", "2512")  # of a chip, in hundredths of an inch
_CODE = re.compile(r"(\d\d)(\d)([JKMZ])?(?![\w.])")
_NO_CODE = 7  # figures behind it stand for other things than zeros: 8 and 9 are a hundredth and a tenth
_TIMES_LAG = re.compile(r"\b(slow(?:.blow)?|fast(?:.blow)?|quick|time.lag|anti.surge)\b", re.IGNORECASE)
_FUSE_SIZE = re.compile(r"\d+ ?(?:mm)? ?[x×] ?\d+(?: ?mm)?")
_ALTERNATING = re.compile(r"(\d+(?:\.\d+)?) ?V ?[~∼]")
_VOLT_POINT = re.compile(r"(?<![\w.])(\d+)V(\d+)\b")
_TRANSFER = re.compile(r"\bCTR\b ?(.*)", re.IGNORECASE)
_OF_THE_FORMAT = (
    "at",
    "about",
    "up",
    "to",
    "over",
    "under",
    "unknown",
    "typical",
    "typ",
    "none",
    "unmarked",
    "and",
    "or",
)
_ACTIVE = (*DIODES, "bridge rectifier", "MOSFET", "bipolar transistor", "transistor", "integrated switch", "controller",
           "optocoupler", "shunt reference", "linear regulator", "diode", "rectifier diode", "thyristor")  # fmt: skip


_SAYS_ANOTHER = ("diode", "fuse")  # kinds whose name begins that of another: diode bridge, fuse resistor
_TYPE = "holds a type mark, which is no figure"
_NO_FIGURES = "is not figures with their units alone"


def of_figures(kind: str, rest: str) -> tuple[str, str] | None:
    """What is wrong with the figures of a part in its short form, and what to write; None where nothing is known.

    kind: the word it begins with; rest: what stands behind it
    """
    another = of_kind(f"{kind} {rest}") if kind in _SAYS_ANOTHER else ""
    said = another or _of_signs(kind, rest) or _of_codes(kind, rest)
    if said:
        return _NO_FIGURES, said
    said = _of_type_mark(kind, rest)
    if said:
        return _TYPE, said
    words = rest.split()
    odd = [word for ahead, word in zip(("", *words), words, strict=False) if _is_talk(ahead, word)]
    shown = " ".join(odd)[:40]
    return (_NO_FIGURES, f"write a block: {{kind: {kind}, …, note: {shown}}}") if odd else None


def _is_talk(ahead: str, word: str) -> bool:
    """A plain word that is neither a unit behind its number nor a word of the format."""
    alone = re.fullmatch(r"[A-Za-z]{2,}", word) is not None and word.lower() not in _OF_THE_FORMAT
    return alone and word not in UNITS and not re.fullmatch(r"[+-]?\d+(?:\.\d+)?", ahead)


def _of_signs(kind: str, rest: str) -> str:
    """Figures whose unit or point is written as people write it."""
    if found := _ALTERNATING.search(rest):
        return f"write {found[1]} Vac for {found[0]}"
    if found := _VOLT_POINT.search(rest):
        return f"write {found[1]}.{found[2]} V for {found[0]}"
    if kind == "optocoupler" and (found := _TRANSFER.search(rest)):
        return f"write it as a block: {{kind: optocoupler, rated: {{transfer_ratio: {found[1] or '…'}}}}}"
    if kind == "fuse" and (found := _TIMES_LAG.search(rest)):
        lag = "F" if found[1].lower()[0] in "fq" else "T"
        return f"write its mark, such as fuse {lag}2A L 250 V, or a block with characteristic: …"
    if kind == "fuse" and (found := _FUSE_SIZE.search(rest)):
        return f"leave {found[0]} out, or write a block with note: {found[0]}"
    return ""


def _of_codes(kind: str, rest: str) -> str:
    """Codes that are printed in the place of figures (IEC 60062): `222` on a capacitor, `103` on a chip."""
    words = rest.split()
    size = next((word for word in words if word in _SIZES), None)
    if size is not None and kind not in _ACTIVE:
        return f"leave {size} out, which is its size, or write a block with note: {size}"
    code = _CODE.fullmatch(words[0]) if words else None
    if code is None or int(code[2]) >= _NO_CODE:
        return ""
    number = int(code[1]) * 10 ** int(code[2])
    if kind in ("ceramic capacitor", "film capacitor", "capacitor"):
        unit, scale = next(one for one in (("pF", 1), ("nF", 10**3), ("uF", 10**6)) if number < one[1] * 1000)
    elif kind in (*RESISTORS, "resistor", "fusible resistor"):
        unit, scale = next(one for one in (("ohm", 1), ("kohm", 10**3), ("Mohm", 10**6)) if number < one[1] * 1000)
    else:
        return ""
    return f"write {number / scale:g} {unit} if {words[0]} is the code that is printed on it, else its unit behind it"


def _of_type_mark(kind: str, rest: str) -> str:
    """The name of a type among the figures."""
    disc = _DISC.search(rest) if kind == "varistor" else None
    if disc is not None and disc[1] == "K":
        return f"write varistor {disc[2]} Vac, once its data sheet says that {disc[2]} is its continuous mains voltage"
    if disc is not None and len(disc[2]) == 3:
        volts = int(disc[2][:2]) * 10 ** int(disc[2][2])
        return f"write varistor {volts} V, once its data sheet says that this is its voltage at 1 mA"
    ntc = _NTC.search(rest) if kind == "NTC thermistor" else None
    if ntc is not None:
        return f"write NTC thermistor {ntc[1]} ohm, once its data sheet says that this is its resistance at 25 degC"
    if _TYPE_MARK.search(rest) is None and not (kind in _ACTIVE and _BARE_TYPE.match(rest)):
        return ""
    block = f"{{kind: {kind}, marking: {rest if len(rest) <= 40 else rest[:39] + '…'}, rated: {{…}}}}"
    return f"write it as a block, with its ratings from the data sheet: {block}"


# Words of a closed list as people say them, by the fact, in small letters.
WORDS_MEANT: Mapping[str, Mapping[str, str]] = {
    "supply.protection_class": {
        "1": "I", "2": "II", "3": "III", "i": "I", "ii": "II", "iii": "III",
        "double insulated": "II (marked) where the double square is on it",
        "double square": "II (marked)",
        "earthed": "I", "grounded": "I",
    },
    "supply.connection": {
        "wall wart": "plug-in", "wall plug": "plug-in", "adapter": "plug-in", "adaptor": "plug-in",
        "direct plug-in": "plug-in",
        "mains cord": "cord", "cable": "cord", "lead": "cord", "inlet": "cord", "iec c8": "cord", "c8": "cord",
        "iec c14": "cord", "c14": "cord", "power cord": "cord", "mains lead": "cord",
        "fixed": "fixed wiring", "hardwired": "fixed wiring", "hard wired": "fixed wiring", "terminals": "fixed wiring",
        "terminal block": "fixed wiring", "screw terminals": "fixed wiring",
        "e27": "lamp cap", "e14": "lamp cap", "gu10": "lamp cap", "b22": "lamp cap", "lamp socket": "lamp cap",
    },
}  # fmt: skip


def of_word(fact: str, text: str) -> str:
    """What to write for a word that a closed list does not have, as people say it; '' where nothing is known."""
    said = text.strip().lower()
    if fact == "supply.protection_class":
        said = re.sub(r"^(?:protection )?class ", "", said)
    meant = WORDS_MEANT.get(fact, {}).get(said, "")
    return f"write {meant}" if meant else ""
