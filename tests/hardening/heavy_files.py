"""Files within the size limit that ask for much work: one function a kind, each with how many of a thing it holds."""

from __future__ import annotations

from collections.abc import Callable, Iterable

_T1 = (
    "transformers: {T1: {inductance: 1 mH, leakage: 10 uH, windings: {primary: {turns: 84}, secondary: {turns: 9}}}}\n"
)
HEAD = """\
derate: 1
supply:
  name: Heavy
  topology: flyback
  protection_class: II
  parts_list: main parts
  plate: {mains: 220..240 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 1 A}}}
"""
PARTS = """\
parts:
  F1: fuse 1 A 250 V
  BR1: bridge rectifier 600 V 1 A
  C1: electrolytic capacitor 22 uF 20% 400 V
"""
LINE = "circuit: {line: [F1, BR1, across C1]}\n"


def _names(letter: str, many: int) -> list[str]:
    return [f"{letter}{number}" for number in range(1, many + 1)]


def _parts(names: Iterable[str], what: str) -> str:
    return "".join(f"  {name}: {what}\n" for name in names)


def series_resistors(many: int) -> str:
    """In series on the mains path."""
    names = _names("R", many)
    line = f"circuit: {{line: [F1, {', '.join(names)}, BR1, across C1]}}\n"
    return HEAD + PARTS + _parts(names, "wirewound resistor 0.01 ohm 5% 2 W") + line


def parallel_capacitors(many: int) -> str:
    """Bulk capacitors side by side."""
    names = _names("CP", many)
    line = f"circuit: {{line: [F1, BR1, across {' || '.join(names)}]}}\n"
    return HEAD + PARTS + _parts(names, "electrolytic capacitor 1 uF 20% 400 V") + line


def capacitors_across(many: int) -> str:
    """Capacitors across the mains, one behind another."""
    names = _names("CX", many)
    line = f"circuit: {{line: [F1, {', '.join(f'across {name}' for name in names)}, BR1, across C1]}}\n"
    return HEAD + PARTS + _parts(names, "film capacitor X2 1 nF 20% 310 Vac") + line


def bulk_stages(many: int) -> str:
    """Bulk capacitors with a choke ahead of each."""
    caps, chokes = _names("CB", many), _names("LB", many)
    pairs = ", ".join(f"{choke}, across {cap}" for choke, cap in zip(chokes, caps, strict=True))
    more = _parts(caps, "electrolytic capacitor 1 uF 20% 400 V") + _parts(chokes, "choke 1 mH 20% 1 ohm 1 A")
    return HEAD + PARTS + more + f"circuit: {{line: [F1, BR1, across C1, {pairs}]}}\n"


def loose_parts(many: int) -> str:
    """On no path."""
    return HEAD + PARTS + _parts(_names("R", many), "film resistor 1 kohm 5% 0.25 W") + LINE


def load_side(many: int) -> str:
    """Elsewhere, each said."""
    names = _names("R", many)
    other = ", ".join(f"{name}: load side" for name in names)
    line = LINE.replace("across C1]", f"across C1], other: {{{other}}}")
    return HEAD + PARTS + _parts(names, "electrolytic capacitor 10 uF 20% 25 V 105 degC") + line


def untraced(many: int) -> str:
    """Not traced yet: each may sit anywhere."""
    return load_side(many).replace("load side", "not traced yet")


def clamp_parts(many: int) -> str:
    """A clamp of many resistors in series and in parallel."""
    names = _names("R", many)
    half = many // 2
    line = (
        "circuit: {line: [F1, BR1, across C1], primary: [T1.primary, Q1], "
        f"clamp: {{across: T1.primary, path: D5 + ({' + '.join(names[:half])} + ({' || '.join(names[half:])}))}}}}\n"
        f"{_T1}"
    )
    more = "  Q1: MOSFET 700 V 4 A\n  D5: fast diode 1000 V 1 A 500 ns\n"
    return HEAD + PARTS + more + _parts(names, "film resistor 1 kohm 5% 1 W") + line


def start_up_resistors(many: int) -> str:
    """A start-up chain."""
    names = _names("R", many)
    line = f"circuit: {{line: [F1, BR1, across C1], start_up: [{' + '.join(names)}, across CS]}}\n"
    more = "  CS: electrolytic capacitor 22 uF 20% 50 V\n"
    return HEAD + PARTS + more + _parts(names, "film resistor 1 kohm 5% 0.25 W 250 V") + line


def outputs(many: int) -> str:
    """Outputs of a flyback, each with winding, rectifier, capacitor."""
    names = _names("o", many)
    plate = ", ".join(f"{name}: {{voltage: 12 V, current: 0.01 A}}" for name in names)
    head = HEAD.replace("main: {voltage: 12 V, current: 1 A}", plate)
    own = "".join(
        f"  D{name}: Schottky diode 100 V 5 A\n  C{name}: electrolytic capacitor 680 uF 20% 25 V\n" for name in names
    )
    paths = ", ".join(f"{name}: [T1.{name}, D{name}, across C{name}]" for name in names)
    windings = ", ".join(f"{name}: {{turns: 9}}" for name in names)
    return (
        f"{head}{PARTS}  Q1: MOSFET 700 V 4 A\n{own}"
        f"circuit: {{line: [F1, BR1, across C1], primary: [T1.primary, Q1], outputs: {{{paths}}}, "
        "control: {type: fixed frequency, frequency: 65 kHz 5%}}\n"
        "transformers: {T1: {inductance: 1 mH, leakage: 10 uH, windings: "
        f"{{primary: {{turns: 84}}, {windings}}}}}}}\n"
    )


def output_capacitors(many: int) -> str:
    """One output with many capacitors and chokes behind each other."""
    caps, chokes = _names("CO", many), _names("LO", many)
    pairs = ", ".join(f"{choke}, across {cap}" for choke, cap in zip(chokes, caps, strict=True))
    return (
        HEAD + PARTS + "  Q1: MOSFET 700 V 4 A\n  D7: Schottky diode 100 V 5 A\n"
        + _parts(caps, "electrolytic capacitor 680 uF 20% 25 V")
        + _parts(chokes, "choke 4.7 uH 20% 18 mohm 3 A")
        + "circuit: {line: [F1, BR1, across C1], primary: [T1.primary, Q1], "
        f"outputs: {{main: [T1.secondary, D7, {pairs}]}}, "
        "control: {type: fixed frequency, frequency: 65 kHz 5%}}\n"
        f"{_T1}"
    )


def windings(many: int) -> str:
    """Windings of one transformer, and layers of all of them."""
    names = _names("w", many)
    own = "".join(f"      {name}: {{turns: 9, wire: enamelled, bare: 0.2 mm}}\n" for name in names)
    layers = "".join(f"      - {name}\n      - tape 1 layer\n" for name in names)
    return (
        f"{HEAD}{PARTS}{LINE}transformers:\n  T1:\n    core: {{shape: E 25/13/7}}\n    windings:\n"
        f"      primary: {{turns: 84}}\n{own}    from_core_outwards:\n      - primary\n{layers}"
    )


def transformers(many: int) -> str:
    """Transformers."""
    own = "".join(
        f"  {name}: {{core: {{shape: E 25/13/7}}, windings: {{primary: {{turns: 84}}, secondary: {{turns: 9}}}}}}\n"
        for name in _names("T", many)
    )
    return f"{HEAD}{PARTS}{LINE}transformers:\n{own}"


def barriers(many: int) -> str:
    """Places between primary and secondary."""
    own = "".join(
        f"  {name}: {{between: [primary, secondary], clearance: 6 mm (measured), creepage: 7 mm (measured)}}\n"
        for name in _names("b", many)
    )
    return f"{HEAD}{PARTS}{LINE}barriers:\n{own}"


def bridges(many: int) -> str:
    """Capacitors across the barrier."""
    names = _names("CY", many)
    pairs = ", ".join(f"{name}: [bulk minus, output minus]" for name in names)
    line = LINE.replace("across C1]", f"across C1], bridging: {{{pairs}}}")
    return HEAD + PARTS + _parts(names, "ceramic capacitor Y1 1 nF 20% 400 Vac") + line


def readings(many: int) -> str:
    """Readings, each at its own condition."""
    own = "".join(
        f"  - {{at: {{mains: {180 + number % 90}.{number} V, frequency: 50 Hz, load: full}}, voltage: {{main: 12 V}}, "
        "case_temperature: {C1: 48 degC}, mains_power: 15 W 1%}\n"
        for number in range(many)
    )
    return f"{HEAD}{PARTS}{LINE}readings:\n{own}"


def conditions(many: int) -> str:
    """Named conditions, a reading at each."""
    names = _names("c", many)
    own = "".join(f"  {name}: {{mains: 230 V, frequency: 50 Hz, load: full}}\n" for name in names)
    taken = "".join(f"  - {{at: {name}, voltage: {{main: 12 V}}}}\n" for name in names)
    return f"{HEAD}{PARTS}{LINE}conditions:\n{own}readings:\n{taken}"


def tests(many: int) -> str:
    """Tests."""
    one = "  - {test: electric strength, between: [primary, secondary], voltage: 3000 Vac, time: 60 s, result: held}\n"
    return f"{HEAD}{PARTS}{LINE}tests:\n{one * many}"


def waivers(many: int) -> str:
    """Waivers of one finding."""
    one = "  - {rule: bulk-capacitor-voltage, part: C1, up_to: 1.3, reason: r, by: lead, last_day: 2027-06-30}\n"
    return f"{HEAD}{PARTS}{LINE}waivers:\n{one * many}"


def open_points(many: int) -> str:
    """Open points of one finding."""
    one = "  - {rule: bulk-capacitor-voltage, part: C1, reason: r, by: lead, last_day: 2027-06-30}\n"
    return f"{HEAD}{PARTS}{LINE}open_points:\n{one * many}"


def unknown_keys(many: int) -> str:
    """Keys that there are not, near ones."""
    return HEAD + PARTS + LINE + "site: {" + ", ".join(f"altitud{number}: 3" for number in range(many)) + "}\n"


def unknown_names(many: int) -> str:
    """Names of parts that there are not, beside as many that there are."""
    names = _names("R", many)
    line = f"circuit: {{line: [F1, {', '.join(f'Q{name}' for name in names)}, BR1, across C1]}}\n"
    return HEAD + PARTS + _parts(names, "wirewound resistor 0.01 ohm 5% 2 W") + line


def bad_quantities(many: int) -> str:
    """Values that cannot be read."""
    return HEAD + PARTS + _parts(_names("R", many), "film resistor 1 kphm 5% 0.25 Wx") + LINE


def bad_kinds(many: int) -> str:
    """Kinds that there are not."""
    return HEAD + PARTS + _parts(_names("R", many), "flim resistro of some kind 1 kohm") + LINE


def duplicate_keys(many: int) -> str:
    """One key over and over."""
    return HEAD + PARTS + "  F1: fuse 1 A 250 V\n" * many + LINE


def curve_points(many: int) -> str:
    """A rating as a table of many points."""
    points = ", ".join(f"{number} Hz: {1 + number / many:.6f} A" for number in range(1, many + 1))
    rated = f"{{voltage: 400 V, ripple_current: {{{points}}}}}"
    block = f"  C1: {{kind: electrolytic capacitor, capacitance: 22 uF, rated: {rated}}}\n"
    return HEAD + PARTS.replace("  C1: electrolytic capacitor 22 uF 20% 400 V\n", block) + LINE


def one_entry_many_names(many: int) -> str:
    """One entry for many parts alike."""
    return f"{HEAD}{PARTS}  {', '.join(_names('R', many))}: film resistor 1 kohm 5% 0.25 W\n{LINE}"


def long_text(many: int) -> str:
    """A name of many characters."""
    return HEAD.replace("Heavy", "n" * many) + PARTS + LINE


def long_note(many: int) -> str:
    """A note of many characters on a value."""
    return HEAD + PARTS + f"  R1: film resistor 1 kohm 5% 1 W (measured; {'x y ' * (many // 4)})\n" + LINE


def long_number(many: int) -> str:
    """A number of many digits."""
    return HEAD + PARTS + f"  R1: film resistor {'9' * many} ohm\n" + LINE


def long_quantity(many: int) -> str:
    """Figures over and over in one short form."""
    return HEAD + PARTS + f"  R1: film resistor {'1 kohm ' * (many // 7)}\n" + LINE


def long_blanks(many: int) -> str:
    """A value with a run of blanks inside."""
    return HEAD + PARTS + f"  R1: film resistor 1{' ' * many}kohm ({' ' * many}\n" + LINE


def long_path(many: int) -> str:
    """A path with many brackets."""
    deep = many // 2
    return HEAD + PARTS + LINE.replace("across C1]", f"across {'(' * deep}C1{')' * deep}]")


def long_key(many: int) -> str:
    """A key of many characters."""
    return f"{HEAD}{PARTS}{LINE}{'k' * many}: 1\n"


def long_part_name(many: int) -> str:
    """A part with a name of many characters."""
    name = "R" * many
    return HEAD + PARTS + f"  {name}: wirewound resistor 1 ohm 5% 2 W\n" + LINE.replace("F1, ", f"F1, {name}, ")


def list_items(many: int) -> str:
    """Items of a list that is one word elsewhere."""
    return HEAD + PARTS + LINE + f"site: {{altitude: [{', '.join('1 m' for _ in range(many))}]}}\n"


def marks(many: int) -> str:
    """Marks of the plate, none of them known."""
    every = ", ".join(f"mark {number}" for number in range(many))
    return HEAD.rstrip().removesuffix("}") + f", marks: [{every}]}}\n" + PARTS + LINE


def documents(many: int) -> str:
    """Documents behind each other."""
    return HEAD + PARTS + LINE + "---\na: 1\n" * many


def comments(many: int) -> str:
    """Remarks."""
    return "# remark\n" * many + HEAD + PARTS + LINE


def anchors(many: int) -> str:
    """Anchors and aliases."""
    return HEAD + PARTS + LINE + "".join(f"x{n}: &a{n} [{f'*a{n - 1}' if n else 1}]\n" for n in range(many))


def packs_named(many: int) -> str:
    """Packs named over and over."""
    return HEAD + PARTS + LINE + f"packs: [{', '.join(['commercial-practice'] * many)}]\n"


def packs_missing(many: int) -> str:
    """Packs that there are not."""
    return HEAD + PARTS + LINE + f"packs: [{', '.join(f'pack-{n}' for n in range(many))}]\n"


_PACK = "pack: heavy\ntitle: t\ncovers: c\n"
_RULE = (
    "  - {{rule: r-{n}, says: s, because: b, hazard: fire, severity: minor, about: part, {shape}, source: s, "
    "confidence: common practice}}\n"
)


def pack_rules(many: int) -> str:
    """A pack of many rules."""
    shape = "keep: voltage_peak <= 0.9 * rated.voltage"
    return _PACK + "rules:\n" + "".join(_RULE.format(n=n, shape=shape) for n in range(many))


def pack_long_formula(many: int) -> str:
    """A rule with a formula of many terms."""
    shape = f"keep: voltage_peak <= rated.voltage{' + 0 V' * many}"
    return _PACK + "rules:\n" + _RULE.format(n=1, shape=shape)


def pack_deep_formula(many: int) -> str:
    """A rule with a formula in many brackets."""
    shape = f"keep: voltage_peak <= {'(' * many}rated.voltage{')' * many}"
    return _PACK + "rules:\n" + _RULE.format(n=1, shape=shape)


def pack_any_of(many: int) -> str:
    """A rule of many branches."""
    branches = ", ".join("{keep: voltage_peak <= 0.9 * rated.voltage}" for _ in range(many))
    return _PACK + "rules:\n" + _RULE.format(n=1, shape=f"any_of: [{branches}]")


def pack_sources(many: int) -> str:
    """A pack of many sources, each cited."""
    return (
        _PACK + "sources:\n" + "".join(f"  s{n}: a book {n}\n" for n in range(many))
        + "rules:\n"
        + "".join(_RULE.format(n=n, shape="keep: voltage_peak <= 0.9 * rated.voltage") for n in range(min(many, 500)))
    )


def pack_unknown(many: int) -> str:
    """A pack with rules of unknown keys."""
    return _PACK + "rules:\n" + "".join(_RULE.format(n=n, shape=f"keeep{n}: voltage_peek <= 1") for n in range(many))


def pack_unknown_names(many: int) -> str:
    """A pack with rules of unknown quantities."""
    shape = "keep: voltage_peek <= 0.9 * rated.voltag"
    return _PACK + "rules:\n" + "".join(_RULE.format(n=n, shape=shape) for n in range(many))


def pack_member(many: int) -> str:
    """A rule with a list of many words."""
    words = ", ".join(f"w{n}" for n in range(many))
    return _PACK + "rules:\n" + _RULE.format(n=1, shape=f"member: {{part.kind: [{words}]}}")


def pack_applies(many: int) -> str:
    """A rule with a list of many kinds it applies to."""
    words = ", ".join("fuse" for _ in range(many))
    shape = f"applies: {{part.kind: [{words}]}}, keep: voltage_peak <= 0.9 * rated.voltage"
    return _PACK + "rules:\n" + _RULE.format(n=1, shape=shape)


def everything(many: int) -> str:
    """A bit of each: paths, outputs, windings, barriers, readings of every part, tests, signatures, parts elsewhere."""
    series, bulk, other = _names("R", many // 7), _names("CP", many // 7), _names("X", many // 2)
    outs = _names("o", max(1, many // 18))
    plate = ", ".join(f"{name}: {{voltage: 12 V, current: 0.01 A}}" for name in outs)
    paths = ", ".join(f"{name}: [T1.{name}, D{name}, across C{name}]" for name in outs)
    own = "".join(
        f"  D{name}: Schottky diode 100 V 5 A\n  C{name}: electrolytic capacitor 680 uF 20% 25 V\n" for name in outs
    )
    places = f"circuit: {{line: [F1, {', '.join(series)}, BR1, across {' || '.join(bulk)}], outputs: {{{paths}}}, "
    places += "primary: [T1.primary, Q1], control: {type: fixed frequency, frequency: 65 kHz 5%}, "
    places += f"other: {{C1: load side, {', '.join(f'{name}: not traced yet' for name in other)}}}}}\n"
    wound = ", ".join(f"{name}: {{turns: 9}}" for name in outs)
    hot = ", ".join(f"{name}: 50 degC" for name in other[:12])

    def blocks(text: str) -> str:
        found = text.removeprefix(HEAD + PARTS + LINE)
        assert found != text
        return found

    taken = blocks(readings(many // 4)).replace("{C1: 48 degC}", f"{{{hot}}}")
    return (
        HEAD.replace("main: {voltage: 12 V, current: 1 A}", plate) + PARTS + "  Q1: MOSFET 700 V 4 A\n" + own
        + _parts(series, "wirewound resistor 0.01 ohm 5% 2 W")
        + _parts(bulk, "electrolytic capacitor 1 uF 20% 400 V")
        + _parts(other, "film resistor 1 kohm 5% 0.25 W") + places
        + f"transformers: {{T1: {{inductance: 1 mH, leakage: 10 uH, windings: {{primary: {{turns: 84}}, {wound}}}}}}}\n"
        + blocks(barriers(many // 4)) + taken.replace("voltage: {main: 12 V}, ", "") + blocks(tests(many // 4))
        + blocks(waivers(many // 2)) + blocks(open_points(many // 2))
    )  # fmt: skip


DESIGNS: dict[str, tuple[Callable[[int], str], int]] = {
    made.__name__: (made, many)
    for made, many in (
        (series_resistors, 50_000), (parallel_capacitors, 50_000), (capacitors_across, 50_000), (bulk_stages, 20_000),
        (loose_parts, 60_000), (load_side, 40_000), (untraced, 40_000), (clamp_parts, 50_000),
        (start_up_resistors, 50_000), (outputs, 10_000), (output_capacitors, 20_000), (windings, 40_000),
        (transformers, 20_000), (barriers, 20_000), (bridges, 40_000), (readings, 12_000), (conditions, 20_000),
        (tests, 15_000), (waivers, 15_000), (open_points, 15_000), (unknown_keys, 90_000), (unknown_names, 50_000),
        (bad_quantities, 60_000), (bad_kinds, 60_000), (duplicate_keys, 90_000), (curve_points, 90_000),
        (one_entry_many_names, 500_000), (long_text, 3_900_000), (long_note, 3_900_000), (long_number, 3_900_000),
        (long_quantity, 3_900_000), (long_blanks, 1_900_000), (long_path, 3_900_000), (long_key, 3_900_000),
        (long_part_name, 1_900_000), (list_items, 190_000), (marks, 190_000), (documents, 300_000),
        (comments, 400_000), (anchors, 90_000), (everything, 40_000), (packs_named, 150_000), (packs_missing, 150_000),
    )
}  # fmt: skip
PACKS: dict[str, tuple[Callable[[int], str], int]] = {
    made.__name__: (made, many)
    for made, many in (
        (pack_rules, 9_000), (pack_long_formula, 500_000), (pack_deep_formula, 1_900_000), (pack_any_of, 60_000),
        (pack_sources, 90_000), (pack_unknown, 9_000), (pack_unknown_names, 9_000), (pack_member, 190_000),
        (pack_applies, 190_000),
    )
}  # fmt: skip
