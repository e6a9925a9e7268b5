"""A new design file that states what was answered and nothing else, in the order in which a bench finds the rest.

Outside first, then the opened board by its markings, the distances with the board cleaned; only then, and where nothing
found so far forbids it, the supply under load; and last the transformer, which does not survive being unwound. A part,
a path, a place or a reading that nobody has seen stands as a comment: `kind: fuse` is a statement, and a rule that asks
for a fuse would take it as one.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from derate.design.circuit import circuit_of
from derate.study.work import DEFAULT_PACKS
from derate.terms import dimension as d
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.terms.vocabulary import VOCABULARY
from derate.text.quantity import read_quantity

TOPOLOGIES = VOCABULARY["supply.topology"].words
CLASSES = VOCABULARY["supply.protection_class"].words
BASES = VOCABULARY["supply.basis"].words
CONNECTIONS = VOCABULARY["supply.connection"].words


@dataclass(frozen=True, slots=True)
class Answers:
    """What is known before anything is opened; empty where nobody knows.

    outputs: name and the two figures of the plate as text, such as ("main", "12 V", "1.5 A")
    """

    name: str
    basis: str = "opened sample"
    topology: str = ""
    protection_class: str = ""
    mains: str = ""
    frequency: str = ""
    outputs: tuple[tuple[str, str, str], ...] = (("main", "", ""),)
    bulk_capacitors: int = 1
    bridging: bool = True
    connection: str = ""
    mains_current: str = ""


# What stands on a plate or is typed as people write it, read into what the file has; a text that says something else is
# refused with what to write, and nothing is guessed.


_DASH = r" ?(?:-|–|—|/|\bto\b|\.\.+|…) ?"
_NUMBER = r"\d+(?:\.\d+)?"
_SORT = r" ?(?:~|∼|AC|ac|Vac|VAC|⎓|DC|dc)?"
_MAINS = re.compile(rf"(?:AC ?)?({_NUMBER}) ?V?(?:{_DASH}({_NUMBER}))? ?V{_SORT}")
_HERTZ = re.compile(rf"({_NUMBER}) ?(?:Hz)?(?:{_DASH}({_NUMBER}))? ?Hz", re.IGNORECASE)
_CURRENT = re.compile(rf"({_NUMBER}) ?(m?A){_SORT}(?: ?max\.?| ?rms)?", re.IGNORECASE)
_POWER = re.compile(rf"{_NUMBER} ?k?(?:VA|W)(?: ?max\.?)?", re.IGNORECASE)
_OUTPUT = re.compile(rf"(-?{_NUMBER}) ?V(?P<sort>{_SORT})[ ,/;=]*(?P<current>{_NUMBER}) ?(?P<unit>m?A)")
_ROMAN = {"1": "I", "2": "II", "3": "III", "i": "I", "ii": "II", "iii": "III"}


def read_mains(text: str) -> str:
    """`100-240V~` as `100..240 V`. Raises ReadingError."""
    if re.search(r"\d ?V? ?(?:⎓|DC)|^DC", text.strip(), re.IGNORECASE):
        what = f"'{text.strip()[:40]}' is direct voltage, and what is worked out here is fed from the mains"
        raise ReadingError([_wrong(what, "press Enter here where the plate says nothing of alternating voltage")])
    return _figure("mains", text, _MAINS, "V", d.VOLTAGE)


def read_frequency(text: str) -> str:
    """`50/60Hz` as `50..60 Hz`. Raises ReadingError."""
    return _figure("frequency", text, _HERTZ, "Hz", d.FREQUENCY)


def read_current(text: str) -> str:
    """`0.3A` as `0.3 A`, `300mA max` as `300 mA`, `none` as `unmarked`. Raises ReadingError."""
    given = text.strip()
    if given.lower() in ("none", "unmarked"):
        return "unmarked"
    found = _CURRENT.fullmatch(given)
    if found is not None:
        return f"{found[1]} {found[2]}"
    if _POWER.fullmatch(given):
        instead = "write none here, and what the plate says as text under plate"
        raise ReadingError([_wrong(f"'{given[:40]}' is a power and no current", instead)])
    _quantity("mains current", given, d.CURRENT)
    return given


def _figure(what: str, text: str, plate: re.Pattern[str], unit: str, dimension: d.Dimension) -> str:
    given = text.strip()
    found = plate.fullmatch(given)
    if found is not None:
        given = f"{found[1]}{f'..{found[2]}' if found[2] else ''} {unit}"
    elif (begins := plate.match(given)) is not None:  # the whole line of the plate in one answer
        more = f"'{given[:60]}' says more than the {what}"
        raise ReadingError([_wrong(more, f"write {begins[0].strip()} alone; the rest of the plate has its own place")])
    _quantity(what, given, dimension)
    return given


def _quantity(what: str, text: str, dimension: d.Dimension) -> None:
    if not text:
        return
    try:
        read_quantity(text, Place("command line"), dimension)
    except ReadingError as error:
        raise ReadingError([_wrong(f"{what}: {one.what}", one.instead) for one in error.problems]) from None


def read_output(text: str, otherwise: str = "main") -> tuple[str, str, str]:
    """Name, voltage and current of `main=12 V 1.5 A`, `5V 1A` or `5V⎓500mA`. otherwise: the name where none is given.

    Raises ReadingError.
    """
    name, equals, figures = text.rpartition("=")
    name = name.strip() if equals else otherwise
    if not figures.strip():
        return name, "", ""
    found = _OUTPUT.fullmatch(figures.strip())
    if found is not None and found["sort"].strip().lower() in ("~", "∼", "ac", "vac"):
        what = f"'{figures.strip()[:40]}' is an output of alternating voltage, which is not worked out here"
        raise ReadingError([_wrong(what, "press Enter here, and write what the plate says as text under plate")])
    if found is not None:
        return name, f"{found[1]} V", f"{found['current']} {found['unit']}"
    words = figures.split()
    if len(words) != 4:
        raise ReadingError([_wrong(f"'{text.strip()[:60]}' is no output", "write 12 V 1.5 A, or main=12 V 1.5 A")])
    voltage, current = " ".join(words[:2]), " ".join(words[2:])
    _quantity(f"voltage of {name}", voltage, d.VOLTAGE)
    _quantity(f"current of {name}", current, d.CURRENT)
    return name, voltage, current


def read_class(text: str) -> str:
    """`class 2` as `II`. Raises ReadingError."""
    word = text.strip().lower().removeprefix("class").strip()
    return _word("class", _ROMAN.get(word, text.strip()), CLASSES)


def read_topology(text: str) -> str:
    """A word of the topologies, whatever its case. Raises ReadingError."""
    return _word("topology", text.strip(), TOPOLOGIES)


def read_connection(text: str) -> str:
    """How it is connected to the mains: a word of the vocabulary. Raises ReadingError."""
    return _word("connection", text.strip(), CONNECTIONS)


def _word(what: str, given: str, known: tuple[str, ...]) -> str:
    same = next((one for one in known if one.lower() == given.lower()), given)
    if same and same not in known:
        from derate.design.everyday import of_word  # only imported when something is wrong

        said = of_word(f"supply.{what}", given) or f"write {nearest(given, known) or ' or '.join(known)}"
        raise ReadingError([_wrong(f"'{given[:40]}' is no {what}", said)])
    return same


def read_name(text: str) -> str:
    """A name that needs no quotes in the file. Raises ReadingError."""
    if not text.strip() or any(character in text for character in ":#{}[]\"'\n\r\t|>&*!%@`"):
        raise ReadingError([_wrong(f"'{text[:40]}' is no name of a supply", "use letters, digits and spaces")])
    return text.strip()


def checked(answers: Answers) -> Answers:
    """The answers as the file has them, when all can be read. Raises ReadingError with every one that cannot."""
    problems: list[Problem] = []

    def tried(read: Callable[[str], str], given: str) -> str:
        try:
            return read(given)
        except ReadingError as error:
            problems.extend(error.problems)
            return given

    made = replace(
        answers,
        name=tried(read_name, answers.name),
        basis=tried(lambda given: _word("basis", given, BASES), answers.basis),
        topology=tried(read_topology, answers.topology),
        protection_class=tried(read_class, answers.protection_class),
        connection=tried(read_connection, answers.connection),
        mains=tried(read_mains, answers.mains),
        frequency=tried(read_frequency, answers.frequency),
        mains_current=tried(read_current, answers.mains_current),
    )
    for name, voltage, current in answers.outputs:
        for what, given, dimension in (
            (f"voltage of {name}", voltage, d.VOLTAGE),
            (f"current of {name}", current, d.CURRENT),
        ):
            try:
                _quantity(what, given, dimension)
            except ReadingError as error:
                problems += error.problems
    names = [name for name, _, _ in answers.outputs]
    plain = all(name and all(c.isalnum() or c in "-_" for c in name) for name in names)
    if len(set(names)) != len(names) or not plain:
        problems.append(_wrong("outputs need names of their own, of letters and digits", "write 'main=12 V 1.5 A'"))
    if problems:
        raise ReadingError(problems)
    return made


def _wrong(what: str, instead: str) -> Problem:
    return Problem(Place("command line"), what, instead)


def new_design(answers: Answers) -> str:
    """The text of the file."""
    blocks = [_head(answers), _parts(answers), _circuit(answers), _places(), _load_test(answers), _unwinding(answers)]
    return "\n".join(blocks)


def _later(text: str) -> str:
    """Lines of the file as comments: a `#` ahead of each, which goes once somebody has seen what the line says."""
    return "".join(f"#{line}" for line in text.splitlines(keepends=True))


def _known(text: str) -> str:
    return text or "unknown"


def _head(answers: Answers) -> str:
    outputs = ", ".join(
        f"{name}: {{voltage: {_known(voltage)}, current: {_known(current)}}}"
        for name, voltage, current in answers.outputs
    )
    return f"""\
# {answers.name}. Every `unknown` is a fact to find; `derate missing` says which of them settles most.
# A line behind a bare # states nothing. Take the # away once you have seen what the line says, and change it to that.
# Mains can kill. The bulk capacitor stays charged after the plug is out: discharge it and measure before you touch it.
# Do not work on it live or alone. This file is no certificate. An opened or unwound sample never goes back into use.
derate: 1

# ---- 1. outside, closed, not plugged in: read the plate and look at the plug --------------------------------------
# What a later step finds stays unknown until then.
supply:
  name: {answers.name}
  basis: {answers.basis:<39}# {" | ".join(BASES)}
  topology: {_known(answers.topology):<36}# {" | ".join(TOPOLOGIES)}; traced in step 2
  protection_class: {_known(answers.protection_class):<28}# II has the double square, I has an earth pin
  connection: {_known(answers.connection):<34}# {" | ".join(CONNECTIONS)}
  parts_list: main parts                         # complete, once step 2 has every part of the board
  runs_down_to: unknown                          # step 4: lowest mains at which it still runs at full load
  plate:
    mains: {_known(answers.mains)}
    frequency: {_known(answers.frequency)}
    mains_current: {_known(answers.mains_current):29} # or unmarked
    outputs: {{{outputs}}}
site:                                            # where it will stand
  ambient: unknown                               # 0..40 degC indoors
  altitude: unknown                              # up to 2000 m
  pollution_degree: unknown                      # 2 indoors in a home or an office
  overvoltage_category: unknown                  # II when plugged in
  mains_tolerance: unknown                       # 10% is usual
  inside_rise: unknown                           # step 4: thermocouple in the air beside the bulk capacitor
packs: [{", ".join(dict.fromkeys((*DEFAULT_PACKS, "bench")))}]
# How a value is known stands behind it: `2 A (marked)`, `700 V (data sheet)`. Where it is the same for all of a block:
#known_by: {{circuit: seen, barriers: measured, readings: measured}}
"""


def _load_test(answers: Answers) -> str:
    volts = ", ".join(f"{name}: unknown" for name, _, _ in answers.outputs)
    low, high = _ends(answers.mains)
    hertz = ", frequency: 50 Hz"
    tests = "\n".join(
        f"  - {{test: overload, output: {name}, mains: {high}, shuts_down_at: unknown, known_by: measured}}"
        for name, _, _ in answers.outputs
    )
    head = """\
# ---- 4. under load, case shut again: only where derate lint finds no critical fail and every distance is known -----
# Until then derate missing says "not on this sample". Thermocouples are fixed and insulated while it is unplugged and
# discharged, their reader isolated. Behind an isolating variable transformer, guarded, in sight the whole time, never
# alone: it may burn. The output may be live. Mains current and power by an instrument made for mains. An earthed scope
# clip cancels the isolating transformer, and a residual-current breaker sees nothing behind it.
"""
    return head + _later(f"""\
readings:
  - at: {{mains: {low}{hertz}, load: full, ambient: unknown, after: 60 min}}
    known_by: measured
    voltage: {{{volts}}}
    mains_current: unknown
    mains_power: unknown
  - at: {{mains: {high}{hertz}, load: full, ambient: unknown, after: 60 min}}
    known_by: measured
    voltage: {{{volts}}}
    ripple: {{{volts}}}
    mains_power: unknown
    case_temperature: {{enclosure: unknown}}
  - at: {{mains: {high}{hertz}, load: none}}
    known_by: measured
    voltage: {{{volts}}}
    mains_power: unknown
tests:
{tests}
  # trained people only, unplugged or from a source made for the test, with a guarded set-up:
  - {{test: electric strength, between: [primary, secondary], voltage: unknown, result: not done, known_by: measured}}
  - {{test: touch current, from: {answers.outputs[0][0]}, mains: {high}, result: not done, known_by: measured}}
""")


def _ends(mains: str) -> tuple[str, str]:
    """The two ends of the mains on the plate as text."""
    if not mains:
        return "unknown", "unknown"
    value = read_quantity(mains, Place(""), d.VOLTAGE).value
    low, high = value.near, value.far  # type: ignore[union-attr]
    return f"{low:g} V", f"{high:g} V"


def _parts(answers: Answers) -> str:
    bulk = ", ".join(f"C{k}" for k in range(1, answers.bulk_capacitors + 1))
    second = (
        "  L1: {kind: choke, inductance: unknown, resistance: unknown, "
        "rated: {current: unknown, saturation_current: unknown}}\n"
    )
    outputs = "".join(
        f"  D{k}1: {{kind: Schottky diode, rated: {{reverse_voltage: unknown, current: unknown, "
        "forward_voltage: unknown, junction: unknown, junction_to_lead: unknown}}\n"
        f"  C{k}1: {{kind: electrolytic capacitor, capacitance: unknown, rated: {{voltage: unknown, life: unknown, "
        "ripple_current: unknown, series_resistance: unknown}}\n"
        for k in range(1, len(answers.outputs) + 1)
    )
    bridging = "  CY1: {kind: ceramic capacitor, class: unknown, capacitance: unknown, rated: {voltage: unknown}}\n"
    head = """\
# ---- 2. opened, unplugged, discharged and checked with a meter: walk the board from the plug, read every marking ---
parts: {}                                        # nothing seen yet; this line goes with the first part below
"""
    own = circuit_of(answers.topology).beginning()
    if own:
        each = "".join(own["parts of an output"].replace("K", str(k)) for k in range(1, len(answers.outputs) + 1))
        return head + _later(f"parts:\n{own['parts']}{each}")
    return head + _later(f"""\
parts:
  F1:                                            # fuse, fusible wirewound resistor, board track or whatever is first
    kind: fuse
    standard: unknown                            # approval marks on the cap
    resistance: unknown
    rated: {{current: unknown, voltage: unknown, breaking_capacity: unknown, melting_i2t: unknown}}
  BR1: {{kind: bridge rectifier, rated: {{reverse_voltage: unknown, current: unknown, surge_current: unknown}}}}
  {bulk}:
    kind: electrolytic capacitor
    capacitance: unknown
    rated: {{voltage: unknown, surge_voltage: unknown, temperature: unknown, life: unknown, ripple_current: unknown}}
{second if answers.bulk_capacitors == 2 else ""}\
  Q1:
    kind: MOSFET                                 # or bipolar transistor, or integrated switch
    output_capacitance: unknown
    rated: {{voltage: unknown, current: unknown, on_resistance: unknown, junction: unknown, junction_to_case: unknown}}
  RS1: {{kind: film resistor, resistance: unknown, rated: {{power: unknown}}}}   # sense resistor in the source
  U1: {{kind: controller, current_limit: unknown, rated: {{supply: unknown, starts_at: unknown, stops_at: unknown}}}}
{outputs}{bridging if answers.bridging else ""}""")


def _circuit(answers: Answers) -> str:
    line = "F1, BR1, across C1" + (", L1, across C2" if answers.bulk_capacitors == 2 else "")
    outputs = ", ".join(
        f"{name}: [T1.{_winding(k, answers)}, D{k}1, across C{k}1]" for k, (name, _, _) in enumerate(answers.outputs, 1)
    )
    first = answers.outputs[0][0]
    bridging = f"  bridging: {{CY1: [bulk minus, {first} minus]}}   # or none, once you have looked\n"
    head = 'circuit:                                         # walked as the current goes. "across": to the return\n'
    paths = f"""\
  line: [{line}]
{circuit_of(answers.topology).skeleton()}  outputs: {{{outputs}}}
  control: {{type: unknown, frequency: unknown, by: U1, limits: RS1}}
"""
    own = circuit_of(answers.topology).beginning()
    if own:
        walked = ", ".join(
            f"{name}: [{own['output'].replace('WINDING', _winding(k, answers)).replace('K', str(k))}]"
            for k, (name, _, _) in enumerate(answers.outputs, 1)
        )
        paths = f"  line: [{own['line']}]\n  outputs: {{{walked}}}\n"
        bridging = f"  bridging: {own['bridging']:<39}# none, once you have looked\n"
    if answers.bridging:
        return _later(head + paths + bridging)
    return head + "  bridging: none                                 # looked\n" + _later(paths)


def _winding(number: int, answers: Answers) -> str:
    return "secondary" if len(answers.outputs) == 1 else f"secondary-{number}"


def _places() -> str:
    head = """\
# ---- 3. the board cleaned, unplugged and discharged, checked: calliper, feeler gauges, good light -------------------
"""
    places = """\
barriers:                                        # one entry for one place, the narrowest you can find
  under transformer:
    between: [primary, secondary]
    clearance: unknown                           # shortest through air
    creepage: unknown                            # shortest along surfaces
    board: {material_group: unknown}
  ahead of F1: {between: [line, neutral], clearance: unknown, creepage: unknown}
  across F1: {between: [line, after F1], clearance: unknown, creepage: unknown}
"""
    looks = """\
inspection:                                      # opens_by_hand is seen in step 1, the case still shut
  {scorch_marks: unknown, solder_blobs: unknown, copper_under_sheet: unknown, opens_by_hand: unknown,
   enclosure_flame_class: unknown, touchable_metal: unknown, touchable_leads: unknown}
"""
    return head + _later(places) + looks


def _unwinding(answers: Answers) -> str:
    secondaries = [_winding(k, answers) for k in range(1, len(answers.outputs) + 1)]
    windings = "".join(
        f"      {name}: {{turns: unknown, wire: unknown, bare: unknown, outside: unknown}}\n"
        for name in ("primary", *secondaries)
    )
    head = """\
# ---- 5. last: the transformer of a spare, unplugged and discharged: measured, then unwound; it never goes back ------
"""
    own = circuit_of(answers.topology).beginning()
    if own:
        wound = "".join(
            f"      {name}: {own['primary' if name == 'primary' else 'secondary']}\n"
            for name in ("primary", *secondaries)
        )
        return head + _later(f"transformers:\n  T1:\n{own['transformer']}{wound}")
    return head + _later(f"""\
transformers:
  T1:
    core: {{area: unknown, gap: unknown, tied_to: unknown}}
    inductance: unknown                          # whole primary, all else open
    leakage: unknown                             # the same, outputs shorted
    windings:
{windings}    margins: unknown                             # or none, once you have looked
    # from_outside_inwards:                      # as it comes apart: tape N layers, the windings, the bobbin
""")
