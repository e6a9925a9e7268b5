"""What people write at the bench is read, or answered with what to write."""

from __future__ import annotations

import pytest

from derate.design.blocks import DesignFile, Part, Rated
from derate.design.everyday import KIND_MEANT, WORDS_MEANT, of_kind, of_word
from derate.design.facts import facts
from derate.design.instead import _MEANT, _blocks
from derate.design.kinds import split_kind
from derate.design.load import read_design
from derate.design.record import NOT_COVERED
from derate.terms.values import ReadingError, Value
from derate.terms.vocabulary import VOCABULARY

TEXT = """derate: 1
supply: {{name: t, plate: {{mains: {mains}, outputs: {{main: {output}}}}}}}
parts: {{F1: fuse 1 A 250 V, BR1: bridge rectifier 600 V 1 A, C1: electrolytic capacitor 22 uF 20% 400 V, X1: {part}}}
circuit: {{line: [F1, BR1, across C1], other: {{X1: spare position}}}}
"""


def design(
    mains: str = "230 V",
    output: str = "{voltage: 12 V, current: 1 A}",
    part: str = "film resistor 1 kohm",
    more: str = "",
) -> str:
    return f"{TEXT.format(mains=mains, output=output, part=part)}{more}\n"


def of_part(part: str) -> dict[str, object]:
    """The facts of a part in its short form."""
    rows = [one for one in facts(read_design(design(part=part), "t.yaml")) if one.subject.names == ("X1",)]
    return {one.quantity: one.value.near if isinstance(one.value, Value) else str(one.value) for one in rows}


@pytest.mark.parametrize(
    ("part", "fact", "value"),
    [
        ("ceramic capacitor 2n2 250 V", "part.capacitance", 2.2e-9),
        ("film capacitor n47 400 V", "part.capacitance", 0.47e-9),
        ("electrolytic capacitor 47u 20% 400 V", "part.capacitance", 47e-6),
        ("choke 470u 1 A", "part.inductance", 470e-6),
        ("film resistor 4k7", "part.resistance", 4700.0),
        ("solid electrolytic capacitor 100 uF 16 V", "part.capacitance", 100e-6),
    ],
)
def test_a_letter_for_the_point_is_read(part: str, fact: str, value: float) -> None:
    assert of_part(part)[fact] == pytest.approx(value)


@pytest.mark.parametrize(
    ("mark", "characteristic", "current", "breaks"),
    [
        ("T2AL250V", "time lag", 2.0, 35.0), ("F500mAH250V", "quick acting", 0.5, 1500.0),
        ("T 6.3 A L 250 V", "time lag", 6.3, 63.0), ("TT1AE250V", "super time lag", 1.0, 150.0),
    ],
)  # fmt: skip
def test_the_marking_of_a_fuse(mark: str, characteristic: str, current: float, breaks: float) -> None:
    """IEC 60127-1 and -2: a low breaking capacity is 35 A or ten times the rated current, whichever is more."""
    found = of_part(f"fuse {mark}")
    assert found["part.characteristic"] == characteristic
    assert (found["rated.current"], found["rated.voltage"]) == (current, 250.0)
    assert found["rated.breaking_capacity"] == pytest.approx(breaks)


def test_the_marking_of_a_fuse_without_its_breaking_capacity() -> None:
    for mark in ("T2A 250V", "T2A250V~", "T 2 A 250 Vac"):
        found = of_part(f"fuse {mark}")
        assert found["part.characteristic"] == "time lag"
        assert (found["rated.current"], found["rated.voltage"]) == (2.0, 250.0)
        assert "rated.breaking_capacity" not in found
    found = of_part("fuse T500mA")
    assert found["part.characteristic"] == "time lag" and found["rated.current"] == 0.5
    assert not {"rated.breaking_capacity", "rated.voltage"} & set(found)
    assert of_part("fuse 1 A 250 V").get("part.characteristic") is None


@pytest.mark.parametrize(
    ("given", "instead"),
    [
        ({"mains": "100-240V~"}, "write 100..240 V"),
        ({"mains": "100-240 V"}, "write 100..240 V"),
        ({"output": "12V 2A"}, "write {voltage: 12 V, current: 2 A}"),
        ({"output": "5 V 500 mA"}, "write {voltage: 5 V, current: 500 mA}"),
        ({"part": "MOSFET 4N65 TO-220"}, "{kind: MOSFET, marking: 4N65 TO-220, rated: {…}}"),
        ({"part": "varistor 07K275"}, "write varistor 275 Vac"),
        ({"part": "varistor 10D471"}, "write varistor 470 V"),
        ({"part": "inductor 470 uH"}, "write choke"),
        ({"part": "T2AL250V"}, "write fuse T2AL250V"),
        ({"part": "bridge MB6S"}, "write bridge rectifier"),
        ({"part": "X2 capacitor 100n"}, "write film capacitor X2"),
        ({"part": "electrolytic capacitor 680uF/10V"}, "write 680 uF, then a space"),
        ({"part": "TVS P6KE200A"}, "write suppressor diode"),
        ({"part": "IC"}, "write integrated switch where it switches the transformer itself, else controller"),
        ({"part": "polymer capacitor 100 uF 16 V"}, "write solid electrolytic capacitor"),
        ({"part": "transformer"}, "transformers: {T1: "),
        ({"mains": "100-240V~ 50/60Hz 0.15A"}, "write mains: 100..240 V, frequency: 50..60 Hz, mains_current: 0.15 A"),
        ({"mains": "'AC 230V, 50 Hz'"}, "write mains: 230 V, frequency: 50 Hz"),
        ({"mains": "220-240V 300mA"}, "write mains: 220..240 V, mains_current: 300 mA"),
        ({"part": "4.7uF 400V"}, "begin with its kind: electrolytic capacitor, film capacitor or ceramic capacitor"),
        ({"part": "2n2 250 V"}, "begin with its kind: electrolytic capacitor, film capacitor or ceramic capacitor"),
        ({"part": "4k7 1%"}, "begin with its kind: film resistor"),
        ({"part": "470 ohm 0.25 W"}, "begin with its kind: film resistor"),
        ({"part": "470uH 1A"}, "begin with its kind: choke"),
        ({"part": "1N4007"}, "write {part: 1N4007}"),
        ({"part": "13003 TO-92"}, "{kind: …, marking: 13003 TO-92}"),
        ({"part": "zener diode 5V6"}, "write 5.6 V"),
        ({"part": "rectifier bridge 1 A 600 V"}, "write bridge rectifier"),
        ({"part": "TL431"}, "write shunt reference"),
        ({"part": "7809"}, "write linear regulator"),
        ({"part": "LM7805CT"}, "write linear regulator"),
        ({"part": "LM317T"}, "write linear regulator"),
        ({"part": "voltage regulator 9 V"}, "write linear regulator"),
        ({"part": "polyfuse 1 A"}, "write {kind: unknown"),
        ({"part": "resettable fuse 1 A"}, "write {kind: unknown"),
        ({"part": "thermistor PTC 50 ohm"}, "a PTC thermistor or resettable fuse has no kind here"),
        ({"part": "thermistor 10 ohm"}, "where it has less resistance hot than cold"),
        ({"part": "PTC thermistor 50 ohm"}, "write {kind: unknown"),
        ({"part": "{kind: PTC thermistor}"}, "write {kind: unknown"),
        ({"part": "{kind: polyfuse}"}, "write {kind: unknown"),
        ({"part": "{kind: inductor}"}, "write choke"),
        ({"part": "NPN 13001"}, "write bipolar transistor"),
        ({"part": "thermal fuse 130 degC"}, "write thermal link"),
        ({"part": "elko 22 uF 400 V"}, "write electrolytic capacitor"),
        ({"part": "fuse 2A/250V"}, "write 2 A, then a space"),
        ({"part": "Y2 cap 1nF"}, "write ceramic capacitor Y2 1nF, or film capacitor where it is one"),
        ({"part": "Y1 2.2nF"}, "write ceramic capacitor Y1 2.2nF"),
        ({"part": "elcap 22uF 400V"}, "write electrolytic capacitor"),
        ({"part": "tantalum 10uF 16V"}, "write {kind: unknown"),
        ({"part": "MLCC 100nF 50V"}, "write ceramic capacitor"),
        ({"part": "MKP 100nF"}, "write film capacitor"),
        ({"part": "VDR 275V"}, "write varistor"),
        ({"part": "mains transformer 9 V"}, "transformers: {T1: "),
        ({"part": "metal film resistor 10k"}, "write film resistor"),
        ({"part": "glass fuse 2A"}, "write fuse T2A L 250 V, with what is marked on it"),
        ({"part": "heatsink 20 K/W"}, "write heatsink: with its K/W at the part"),
        ({"part": "ferrite bead"}, "is no choke"),
        ({"part": "fuse resistor 10R"}, "write fusible resistor"),
        ({"part": "diode bridge DB107"}, "write bridge rectifier"),
        ({"part": "fuse 2A 250V slow"}, "write its mark, such as fuse T2A L 250 V"),
        ({"part": "fuse fast 2A 250V"}, "write its mark, such as fuse F2A L 250 V"),
        ({"part": "fuse 5x20 T1A"}, "leave 5x20 out"),
        ({"part": "zener diode 5V6 0.5W"}, "write 5.6 V for 5V6"),
        ({"part": "linear regulator 7805"}, "{kind: linear regulator, marking: 7805, rated: {…}}"),
        ({"part": "bipolar transistor 13003"}, "{kind: bipolar transistor, marking: 13003, rated: {…}}"),
        ({"part": "ceramic capacitor Y1 222"}, "write 2.2 nF if 222 is the code"),
        ({"part": "ceramic capacitor 104 50V"}, "write 100 nF if 104 is the code"),
        ({"part": "film capacitor 475 50V"}, "write 4.7 uF if 475 is the code"),
        ({"part": "film resistor 103"}, "write 10 kohm if 103 is the code"),
        ({"part": "film resistor 100k 1206"}, "leave 1206 out, which is its size"),
        ({"part": "film capacitor X2 100n 275 V~"}, "write 275 Vac for 275 V~"),
        ({"part": "varistor 275V~"}, "write 275 Vac for 275V~"),
        ({"part": "varistor 10D471K"}, "write varistor 470 V"),
        ({"part": "NTC thermistor 5D-9"}, "write NTC thermistor 5 ohm, once its data sheet"),
        ({"part": "optocoupler CTR 100..200%"}, "{kind: optocoupler, rated: {transfer_ratio: 100..200%}}"),
        ({"part": "electrolytic capacitor 22uF 400V 105C"}, "write 105 degC"),
        ({"part": "electrolytic capacitor 22 MFD 400 V"}, "write 22 uF"),
        ({"part": "electrolytic capacitor 22 uF 400 WV"}, "write 400 V"),
        ({"part": "LED red"}, "write a block: {kind: LED, …, note: red}"),
        ({"mains": "240 V AC"}, "write 240 Vac"),
        ({"mains": "~230V"}, "write 230 Vac, or about 230 V if that was meant"),
        ({"mains": "100-240 VAC"}, "write 100..240 V"),
        ({"mains": "100-240V AC"}, "write 100..240 V"),
        ({"mains": "AC 100-240V"}, "write 100..240 V"),
        ({"mains": "115/230 V"}, "write 115..230 V, else one of them"),
        ({"mains": "230 V +-10%"}, "write 230 V 10%"),
        ({"mains": "230 V, frequency: 50/60"}, "write 50..60 Hz"),
        ({"mains": "230 V, mains_current: 0.5A/0.3A"}, "write 0.5 A, the greater, of a current that flows"),
        ({"mains": "230 V, mains_current: 0.3A/0.5A"}, "write 0.5 A, the greater, of a current that flows"),
        ({"part": "{kind: line diode, rated: {current: 1/1.5 A}}"}, "1 A, the lesser, of a rating"),
        ({"part": "metal oxide varistor 275 V"}, "write varistor"),
        ({"part": "wire wound resistor 10 ohm"}, "write wirewound resistor"),
        ({"part": "wire-wound 10 ohm"}, "write wirewound resistor"),
        ({"part": "wire fuse 2A"}, "write fuse T2A L 250 V"),
        ({"part": "polymer fuse 1 A"}, "a PTC thermistor or resettable fuse has no kind here"),
        ({"mains": "230 V, mains_current: 8VA"}, "write it as text of the plate"),
        ({"mains": "230 V, mains_current: 0.5A max."}, "write 0.5A where it is what the plate"),
        ({"output": "5 Vdc 2.4 A"}, "write {voltage: 5 V, current: 2.4 A}"),
        ({"output": "{voltage: DC 12V, current: 1 A}"}, "write 12 Vdc"),
        ({"output": "{voltage: 12 V DC, current: 1 A}"}, "write 12 Vdc"),
        ({"output": "{voltage: 12V=, current: 1 A}"}, "write 12Vdc"),
        ({"output": "{voltage: 9 Vac, current: 1 A}"}, "write what the plate says as its text"),
        ({"mains": "230 V}, protection_class: Class II, site: {altitude: 0 m"}, "write II"),
        ({"part": "{kind: fuse, rated: {current: T1A}}"}, "write 1 A, and the part on one line for the rest: fuse T1A"),
        ({"part": "{kind: fuse, rated: {current: F500mAL250V}}"}, "write 500 mA, and the part on one line"),
    ],
)
def test_what_is_not_read_is_answered_with_what_to_write(given: dict[str, str], instead: str) -> None:
    with pytest.raises(ReadingError) as refused:
        read_design(design(**given), "t.yaml")
    assert any(instead in one.instead for one in refused.value.problems), refused.value.problems


@pytest.mark.parametrize("part", ["film resistor 1M5 0.25 W 5%", "electrolytic capacitor 22 uF 400 V 20%"])
def test_a_tolerance_behind_a_rating_is_refused(part: str) -> None:
    """Read as it stands it would leave the value exact, which is kinder than what is printed."""
    with pytest.raises(ReadingError) as refused:
        read_design(design(part=part), "t.yaml")
    assert any("behind the value it belongs to" in one.instead for one in refused.value.problems)


@pytest.mark.parametrize("part", ["film resistor 1M5 5% 0.25 W", "zener diode 5.6 V 5%", "varistor 275 Vac"])
def test_a_tolerance_behind_the_value_is_read(part: str) -> None:
    assert of_part(part)["part.kind"]


@pytest.mark.parametrize(("fact", "text", "meant"), [
    ("supply.protection_class", "class 2", "write II"), ("supply.protection_class", "Class I", "write I"),
    ("supply.connection", "wall wart", "write plug-in"), ("supply.connection", "E27", "write lamp cap"),
    ("supply.connection", "class 2", ""),
])  # fmt: skip
def test_a_word_as_people_say_it(fact: str, text: str, meant: str) -> None:
    assert of_word(fact, text) == meant


@pytest.mark.parametrize("text", ["foil resistor", "jumper resistor", "disc thermistor", "disc varistor"])
def test_a_word_ahead_of_another_kind_is_not_taken_for_the_kind(text: str) -> None:
    assert of_kind(text) == ""


def test_every_word_that_is_meant_is_of_its_list() -> None:
    for fact, words in WORDS_MEANT.items():
        for said, meant in words.items():
            assert meant.split(" (")[0] in VOCABULARY[fact].words and said not in VOCABULARY[fact].words


def test_every_kind_that_is_meant_is_one() -> None:
    for said in KIND_MEANT.values():
        if not any(words in said for words in ("no kind here", "no part of its own", "in a block of its own")):
            assert split_kind(said.removeprefix("write ")) is not None, said


def test_what_was_read_before_is_read_as_before() -> None:
    assert of_part("ceramic capacitor Y1 2.2 nF 250 V")["part.class"] == "Y1"
    assert of_part("signal diode 1N4148")["part.marking"] == "1N4148"


@pytest.mark.parametrize(
    ("given", "instead"),
    [
        ({"part": "{kind: film capacitor, esr: 1 ohm}"}, "write rated: {series_resistance: …}"),
        ({"part": "{kind: film capacitor, rated: {esr: 1 ohm}}"}, "write series_resistance"),
        ({"part": "{kind: MOSFET, vdss: 600 V}"}, "write rated: {voltage: …}"),
        ({"part": "{kind: MOSFET, rated_voltage: 600 V}"}, "write rated: {voltage: …}"),
        ({"part": "{kind: MOSFET, power: 2 W}"}, "write rated: {power: …}"),
        ({"part": "{kind: MOSFET, gate_voltage: 20 V}"}, "write rated: {gate_voltage: …}"),
        ({"part": "{kind: MOSFET, gate_source_voltage: 20 V}"}, "write rated: {gate_voltage: …}"),
        ({"part": "{kind: film resistor, value: 4k7}"}, "name the figure"),
        ({"part": "{kind: film resistor, rated: {resistance: 1 ohm}}"}, "beside rated"),
        ({"part": "{kind: film resistor, voltge: 1 V}"}, "did you mean voltage?"),
        ({"part": "{kind: film resistor, core: 1 V}"}, "core is a key of transformers.NAME"),
        ({"mains": "230 V, class: II"}, "write protection_class under supply"),
        ({"mains": "230 V, current: 1 A"}, "write outputs: {NAME: {current: …}}"),
        ({"more": "mains: 230 V"}, "mains is a key of supply.plate and of conditions.NAME"),
        ({"more": "frequency: 50 Hz"}, "frequency is a key of supply.plate and of circuit.control"),
        ({"more": "ripple: 50 mV"}, "write readings: {ripple: …}"),
        ({"more": "ambient: 25 degC"}, "ambient is a key of site and of conditions.NAME"),
        ({"part": "{kind: film resistor, series_resistance: 1 ohm}"}, "is a key of rated and of found"),
        ({"more": "readings: [{tj: 90 degC}]"}, "write junction_temperature"),
        ({"more": "readings: [{Tj: 90 degC}]"}, "write junction_temperature"),
        ({"more": "readings: [{iout: 0.8 A}]"}, "the load of the condition: write at: {mains: 230 V, load: 0.8 A}"),
        ({"more": "readings: [{id: {Q1: 1 A}}]"}, "write current_rms, current_average or current_peak, by part"),
        ({"more": "readings: [{I_rms: {Q1: 1 A}}]"}, "write current_rms"),
        ({"more": "readings: [{pin: 14 W}]"}, "write mains_power"),
        ({"mains": "230 V, model: X1"}, "known here: text, mains"),
    ],
)
def test_a_key_that_stands_elsewhere_is_answered_with_where(given: dict[str, str], instead: str) -> None:
    with pytest.raises(ReadingError) as refused:
        read_design(design(**given), "t.yaml")
    assert any(instead in one.instead for one in refused.value.problems), refused.value.problems


def test_a_run_of_names_is_answered_with_each_of_them() -> None:
    text = design().replace("line: [F1, BR1, across C1]", "line: [F1, D1-D4, across C1]")
    text = text.replace("X1: film resistor 1 kohm", "X1: film resistor 1 kohm, 'D1, D2, D3, D4': line diode 1000 V 1 A")
    with pytest.raises(ReadingError) as refused:
        read_design(text, "t.yaml")
    assert any("write each by its name: D1, D2, D3, D4" in one.instead for one in refused.value.problems)


def test_every_key_that_is_meant_is_one() -> None:
    """And none of the everyday words is a key itself, which would never be answered."""
    keys = _blocks(DesignFile)
    for word, meant in _MEANT.items():
        if " " not in meant:
            block, _, key = meant.rpartition(".")
            assert (key in Rated.fields) if block else (key in keys), word
        assert word not in Part.fields, word


def test_no_key_of_the_format_is_called_not_covered() -> None:
    """A rating that a rule judges must not be told to be kept as a note."""
    assert not NOT_COVERED.keys() & _blocks(DesignFile).keys()


def test_a_part_said_twice_is_answered_with_the_key_that_has_it() -> None:
    """To keep one of the two would lose the lines of the other."""
    text = design().replace("parts: {", "parts: {'R1, R2': film resistor 1 ohm, R1: {rated: {power: 1 W}}, ")
    with pytest.raises(ReadingError) as refused:
        read_design(text, "t.yaml")
    assert any("put the lines of both under one 'R1, R2:'" in one.instead for one in refused.value.problems)
