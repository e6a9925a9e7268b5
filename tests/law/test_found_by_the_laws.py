"""What the laws found when they were run whole, each as a case of its own: what went, and what is open then."""

from __future__ import annotations

from functools import cache

import pytest
from law_bench import Base, Bench, every_pack, trial_texts, vanished, without
from law_leaves import Lab

from derate.judge.review import Finding, Review


@cache
def _base(name: str) -> Lab:
    return Lab(Bench.of(name))


def _with(name: str, old: str, new: str, block: str) -> Review:
    base = _base(name)
    assert base.bench.text.count(old) == 1, old
    return base.tried(base.bench.text.replace(old, new), (block,))


def _verdict(review: Review, rule: str, subject: str) -> str:
    found: list[Finding] = [one for one in review.findings if one.rule == rule and str(one.subject) == subject]
    return found[0].verdict if found else "none"


@pytest.mark.parametrize(
    "old, new, rule, subject, was",
    [
        ("C5: {kind: electrolytic capacitor", "C5: {kind: unknown", "output-capacitor-voltage", "C5", "pass"),
        (
            "D1: Schottky diode 150 V 10 A 175",
            "D1: {kind: unknown} #",
            "output-rectifier-reverse-voltage",
            "D1",
            "pass",
        ),
        ("BR1: {kind: bridge rectifier", "BR1: {kind: unknown", "mains-rectifier-reverse-voltage", "BR1", "pass"),
        ("BR1: {kind: bridge rectifier", "BR1: {kind: unknown", "bulk-capacitor-voltage", "C1", "pass"),
        ("C1: {kind: electrolytic capacitor", "C1: {kind: unknown", "bulk-capacitor-voltage", "C1", "pass"),
        ("Q1: MOSFET 700 V 5 A 150", "Q1: {kind: unknown} #", "switch-junction-temperature", "Q1", "pass"),
    ],
)
def test_a_part_of_unknown_kind_may_sit_where_such_a_part_sits(
    old: str, new: str, rule: str, subject: str, was: str
) -> None:
    """Its place hangs on its kind: while that is open, so is what its place asks of it, and of those behind it."""
    assert _verdict(_base("lamp driver").review, rule, subject) == was
    assert _verdict(_with("lamp driver", old, new, "parts"), rule, subject) == "not assessed"


def test_the_diameter_of_an_enamelled_shield_is_told_as_unused() -> None:
    """Its enamel counts for nothing at the barrier; that of the insulated secondary is asked."""
    lab = _base("sound")
    told = {leaf.name: lab.told(leaf) for leaf in lab.leaves if leaf.name.endswith(".bare")}
    assert told["transformers.T1.windings.inner-shield.bare"] == "nothing is worked out for this winding"
    assert told["transformers.T1.windings.secondary.bare"] == ""


def test_a_sheet_that_is_the_wall_between_chambers_is_told_as_unused() -> None:
    """`wall` states its thickness; without it the sheet is all there is of it."""
    lab = _base("line transformer")
    sheet = next(leaf for leaf in lab.leaves if leaf.texts[0][1] == "sheet 1.2 mm")
    assert "`wall` states its thickness" in lab.told(sheet)
    bare = Lab(Bench("unstated", lab.bench.path, lab.bench.text.replace("    wall: 1.2 mm\n", "")))
    assert not bare.told(next(leaf for leaf in bare.leaves if leaf.texts[0][1] == "sheet 1.2 mm"))


@pytest.mark.parametrize(
    "old, new, of, rule",
    [
        ("rated: {voltage: 450 V, life", "rated: {life", "greatest voltage of C1 at 264 V 50 Hz", "voltage"),
        ("rated: {reverse_voltage: 1000 V, ", "rated: {", "reverse voltage of BR1 at 264 V 50 Hz", "voltage"),
        ("rated: {current: 1 A, voltage: 250", "rated: {voltage: 250", "rms current of F1 at 198 V 50 Hz", "current"),
        ("700 V 5 A 150 degC", "700 V 5 A", "junction temperature of Q1 at 198 V 50 Hz", "temperature"),
    ],
)
def test_a_reading_waits_for_the_rating_that_nobody_stated(old: str, new: str, of: str, rule: str) -> None:
    """It is held against a rating that the part has; which one it is, nobody says."""
    name, reading = f"reading-within-{rule}", f"{of}, full load"
    assert _verdict(_base("lamp driver").review, name, reading) == "pass"
    assert _verdict(_with("lamp driver", old, new, "parts"), name, reading) == "not assessed"


def test_an_output_is_held_to_every_capacitor_across_it() -> None:
    """One whose rating is not stated may be the weakest; what lies over another's rating fails all the same."""
    reading = "voltage of main at 230 V 50 Hz, full load"
    stated = "C8:\n    kind: electrolytic capacitor\n    capacitance: 220 uF 20%\n    rated: {voltage: 25 V, "
    assert _verdict(_base("sound").review, "reading-within-voltage", reading) == "pass"
    less = _with("sound", stated, stated.replace("voltage: 25 V, ", ""), "parts")
    assert _verdict(less, "reading-within-voltage", reading) == "not assessed"
    text = _base("sound").bench.text.replace(stated, stated.replace("voltage: 25 V, ", ""))
    over = _base("sound").tried(text.replace("main: 11.94 V", "main: 28 V"), ("parts", "readings"))
    assert _verdict(over, "reading-within-voltage", reading) == "fail"


@pytest.mark.parametrize(
    "voltage, verdict", [("500 Vdc", "pass"), ("440 Vdc", "not assessed"), ("50 Vdc", "not assessed")]
)
def test_insulation_measured_with_less_than_the_test_voltage_shows_nothing(voltage: str, verdict: str) -> None:
    """A weak place conducts more the higher the voltage; what it conducts at less is a fail all the same."""
    old = "voltage: 500 Vdc, result: over 500 Mohm"
    name, where = "insulation-resistance-as-tested", f"insulation resistance between primary and secondary at {voltage}"
    good = _with("sound", old, old.replace("500 Vdc", voltage), "tests")
    assert _verdict(good, name, where) == verdict
    bad = _with("sound", old, f"voltage: {voltage}, result: 12 kohm", "tests")
    assert _verdict(bad, name, where) == "fail"


@pytest.mark.parametrize("fact", ["overvoltage_category: II, ", "pollution_degree: 2, "])
def test_the_next_row_of_the_table_is_asked_where_one_end_is_open(fact: str) -> None:
    """Both readings meet where a range is widest; they are two readings as long as they differ at any end."""
    assert _verdict(_base("three outputs").review, "creepage-of-next-row", "ahead of F1") == "pass"
    assert _verdict(_with("three outputs", fact, "", "site"), "creepage-of-next-row", "ahead of F1") == "not assessed"


def test_tape_where_the_two_sides_do_not_meet_is_told_as_unused() -> None:
    """Where they meet it counts, and a layer less is worse; outside of all it is told with its reason.

    The bobbin likewise: here the core is on the side of the winding on it.
    """
    base = _base("every key")
    told = {name: one.reason for name, one in base.unused.items() if ".from_core_outwards." in name}
    wall = told.pop("transformers.T1.from_core_outwards.0")
    assert wall == "the core does not face the other side through it"
    assert set(told) == {f"transformers.T1.from_core_outwards.{number}" for number in (2, 6, 10, 12)}
    assert all(reason == "it lies where the two sides do not meet" for reason in told.values())


CHARGER = Bench.of("every key, bipolar")
BATTERY = "battery: {kind: lead-acid, cells: 3, "


@pytest.mark.parametrize("less", ["battery: {cells: 3, ", "battery: {kind: unknown, cells: 3, "])
def test_a_battery_of_no_stated_kind_is_a_battery(less: str) -> None:
    """Its other keys say that there is one: what is asked of any kind is open, and not out of place."""
    assert CHARGER.text.count(BATTERY) == 1
    packs = every_pack()
    stated, open_kind = (CHARGER.review(text, packs) for text in (CHARGER.text, CHARGER.text.replace(BATTERY, less)))
    assert stated is not None and open_kind is not None
    for rule in ("battery-charge-ends", "battery-reversed-meets-something"):
        assert _verdict(stated, rule, "main") in ("pass", "fail")
    assert _verdict(open_kind, "lithium-cell-end-of-charge", "main") == "not assessed"


def test_a_reference_that_nobody_named_is_fed_by_a_divider() -> None:
    """Losing its name under control takes nothing of what it does."""
    bench = next(one for one in trial_texts() if one.name == "converter: optocoupler-led-current")
    less = dict(without(bench.text))["circuit.control.reference"]
    for text in (bench.text, less):
        review = bench.review(text, every_pack())
        assert review is not None and _verdict(review, "output-voltage-as-divided", "supply") == "not assessed"


def test_nothing_is_replayed_that_another_kind_changes() -> None:
    """What stands here is worked out from the structure: a replayed version and a fresh one are of one mind."""
    base: Base = _base("lamp driver")
    text = base.bench.text.replace("BR1: {kind: bridge rectifier", "BR1: {kind: unknown")
    quick, fresh = base.tried(text, ("parts",)), base.afresh(text)
    assert {(one.rule, one.subject, one.verdict) for one in quick.findings} == {
        (one.rule, one.subject, one.verdict) for one in fresh.findings
    }


BIPOLAR = "every key, bipolar"
HEAT, CREST = "case temperature of RF1 at 230 V 50 Hz, full load", "greatest voltage of Q1 at 230 V 50 Hz, full load"


@pytest.mark.parametrize(
    "line, read, verdict",
    [
        ("{70 degC: 2 W, 155 degC: 0 W}", 45, "pass"),
        ("{70 degC: 2 W, 155 degC: 0 W}", 170, "fail"),
        ("{70 degC: 2 W}", 45, "pass"),
        ("{70 degC: 2 W}", 75, "not assessed"),
        ("{70 degC: 2 W, 155 degC: 0.2 W}", 145, "pass"),
        ("{70 degC: 2 W, 155 degC: 0.2 W}", 170, "not assessed"),
        ("2 W", 45, "not assessed"),
        ("unknown", 45, "not assessed"),
    ],
)
def test_a_line_of_rated_power_without_an_end_ends_somewhere_above_it(line: str, read: int, verdict: str) -> None:
    """Where power is left the body may be so hot; how much hotter, nobody has written down."""
    text = _base(BIPOLAR).bench.text
    whole, was = "power: {70 degC: 2 W, 155 degC: 0 W}", "case_temperature: {RF1: 45 degC"
    assert text.count(whole) == 1 and text.count(was) == 1
    text = text.replace(whole, f"power: {line}").replace(was, f"case_temperature: {{RF1: {read} degC")
    after = _base(BIPOLAR).tried(text, ("parts", "readings"))
    assert _verdict(after, "reading-within-temperature", HEAT) == verdict


@pytest.mark.parametrize(
    "old, read, verdict",
    [
        ("collector_emitter_voltage: 450 V, ", 480, "not assessed"),
        ("collector_emitter_voltage: 450 V, ", 100, "not assessed"),
        ("collector_emitter_voltage: 450 V, ", 1000, "fail"),
        ("collector_base_voltage: 900 V, ", 480, "fail"),
        ("collector_base_voltage: 900 V, ", 400, "pass"),
    ],
)
def test_a_bipolar_transistor_without_its_lower_voltage_may_stand_any_less(old: str, read: int, verdict: str) -> None:
    """The rating to the base is the greatest it stands, and no word on what it stands to its emitter."""
    text = _base(BIPOLAR).bench.text
    assert text.count(old) == 1 and text.count("voltage_peak: {Q1: 480 V 3%}") == 1
    text = text.replace(old, "").replace("voltage_peak: {Q1: 480 V 3%}", f"voltage_peak: {{Q1: {read} V 3%}}")
    after = _base(BIPOLAR).tried(text, ("parts", "readings"))
    assert _verdict(after, "reading-within-voltage", CREST) == verdict


LEAD_OF_FIVE = "      five: {kind: pins}\n"


@pytest.mark.parametrize(
    "instead, flying, crossing",
    [
        (LEAD_OF_FIVE, "pass", "not assessed"),
        ("      five: {kind: pins, crosses: none}\n", "pass", "pass"),
        ("", "not assessed", "not assessed"),
        ("      all: {kind: pins, crosses: none}\n", "pass", "pass"),
    ],
)
def test_a_winding_whose_leads_nobody_described_has_leads(instead: str, flying: str, crossing: str) -> None:
    """The others of that transformer leave by pins that are listed, or are tied to something."""
    after = _with("every key", LEAD_OF_FIVE, instead, "transformers")
    assert _verdict(after, "winding-lead-sleeves", "T1") == flying
    assert _verdict(after, "winding-crossing-sleeves", "T1") == crossing


def test_pins_that_nobody_listed_leave_the_leads_open() -> None:
    named = "      five: {kind: pins, crosses: none}\n"
    text = _base("every key").bench.text.replace(LEAD_OF_FIVE, named)
    assert text.count(", pins: [5, 4]}") == 1
    listed, bare = (
        _base("every key").tried(one, ("transformers",)) for one in (text, text.replace(", pins: [5, 4]", ""))
    )
    assert _verdict(listed, "winding-crossing-sleeves", "T1") == "pass"
    assert _verdict(bare, "winding-crossing-sleeves", "T1") == "not assessed"


def test_windings_on_the_path_of_an_output_stand_whatever_converter_it_is() -> None:
    """Without the topology nothing is worked out of them, and each of them says so."""
    bench = next(one for one in trial_texts() if one.name == "converter: optocoupler-transistor-voltage")
    less = dict(without(bench.text))["supply.topology"]
    for text in (bench.text, less):
        review = bench.review(text, every_pack())
        assert review is not None and _verdict(review, "winding-current-density", "T1.secondary") == "not assessed"


def test_a_diode_across_a_rail_may_be_what_holds_it() -> None:
    """Of which kind it is, nobody says: a zener there clamps, and its heat is asked."""
    assert _verdict(_base("dropper").review, "dropper-clamp-power", "D1") == "pass"
    vague = _with("dropper", "D1: {kind: zener diode", "D1: {kind: diode", "parts")
    assert _verdict(vague, "dropper-clamp-power", "D1") == "not assessed"
    plain = _with("dropper", "D1: {kind: zener diode", "D1: {kind: signal diode", "parts")
    assert _verdict(plain, "dropper-clamp-power", "D1") == "none"


def test_an_output_whose_path_nobody_traced_has_capacitors() -> None:
    bench = _base("dropper").bench
    untraced = _base("dropper").tried(dict(without(bench.text))["circuit.outputs"], ("circuit",))
    reading = "voltage of board at 230 V 50 Hz, full load"
    assert _verdict(_base("dropper").review, "reading-within-voltage", reading) == "pass"
    assert _verdict(untraced, "reading-within-voltage", reading) == "not assessed"


@pytest.mark.parametrize(
    "life, read, verdict",
    [
        (", life: 5000 h at 105 degC", "35 degC", "pass"),
        (", life: 5000 h at 105 degC", "112 degC", "fail"),
        (", life: 5000 h at 85 degC", "95 degC", "fail"),
        ("", "35 degC", "not assessed"),
    ],
)
def test_a_capacitor_stands_the_temperature_that_its_life_is_stated_at(life: str, read: str, verdict: str) -> None:
    text = _base("dropper").bench.text
    stated, was = (", life: 5000 h at 105 degC", "C2: 35 degC")
    assert text.count("temperature: 105 degC, ") == 1 and text.count(stated) == 1 and text.count(was) >= 1
    text = text.replace("temperature: 105 degC, ", "").replace(stated, life).replace(was, f"C2: {read}", 1)
    after = _base("dropper").tried(text, ("parts", "readings"))
    assert _verdict(after, "reading-within-temperature", "case temperature of C2 at 230 V 50 Hz, full load") == verdict


@pytest.mark.parametrize("read, verdict", [("58 degC", "pass"), ("116 degC", "not assessed"), ("180 degC", "fail")])
def test_a_choke_is_held_to_the_insulation_that_its_wire_may_have(read: str, verdict: str) -> None:
    """Nobody states its class: below the least of all classes it holds, over the greatest it fails, between is open."""
    review = _with("buck without bulk", "L1: 58 degC", f"L1: {read}", "readings")
    reading = "case temperature of L1 at 230 V 50 Hz, full load"
    assert _verdict(review, "reading-within-temperature", reading) == verdict


def test_a_body_whose_greatest_temperature_nobody_states_leaves_what_was_read_open() -> None:
    review = _with("buck without bulk", "RF1: 44 degC", "RF1: 44 degC, RV1: 71 degC", "readings")
    reading = "case temperature of RV1 at 230 V 50 Hz, full load"
    assert _verdict(review, "reading-within-temperature", reading) == "not assessed"


@pytest.mark.parametrize(
    "old, new, block", [(", 50 A: 710 V", "", "parts"), ("mains: 230 V\n", "mains: 115..345 V\n", "supply")]
)
def test_a_surge_is_no_milder_for_a_shorter_table_or_a_wider_plate(old: str, new: str, block: str) -> None:
    """A varistor past its table holds less; what follows the mains swings furthest from its crossing."""
    for rule, subject in (("mains-rectifier-voltage-in-surge", "BR1"), ("buck-switch-in-a-surge", "U1")):
        assert _verdict(_base("buck without bulk").review, rule, subject) == "not assessed"
        assert _verdict(_with("buck without bulk", old, new, block), rule, subject) == "not assessed"


@pytest.mark.parametrize(
    "read, verdict", [("6.5 W 2%", "not assessed"), ("18.1 W 2%", "not assessed"), ("18.9 W 2%", "fail")]
)
def test_a_mains_power_is_a_current_that_cannot_be_less(read: str, verdict: str) -> None:
    """Where no current was read: 80 mA on the plate at 230 V are 18.4 W, whatever the power factor."""
    review = _with("linear", "mains_power: 6.5 W 2%", f"mains_power: {read}", "readings")
    assert _verdict(review, "mains-current-as-read", "supply") == verdict


def test_a_power_that_the_current_read_beside_it_cannot_bring_counts() -> None:
    """52 mA were read at the lowest mains, 75 mA are on the plate; 25 W at 230 V are 108 mA."""
    assert _verdict(_base("buck without bulk").review, "mains-current-as-read", "supply") == "pass"
    review = _with("buck without bulk", "mains_power: 10.3 W 2%", "mains_power: 25 W 2%", "readings")
    assert _verdict(review, "mains-current-as-read", "supply") == "fail"


def test_two_readings_of_a_table_that_come_to_one_open_nothing_where_more_is_asked_for() -> None:
    """Over a wider plate the clearance asks for more than either reading of the creepage, and a smaller gap fails."""
    base, old = _base("self-oscillating"), "    mains: 220..240 V"
    wider = _with("self-oscillating", old, "    mains: 110..360 V", "supply")
    assert _verdict(base.review, "creepage-of-next-row", "across RF1") == "pass"
    assert _verdict(wider, "creepage-of-next-row", "across RF1") == "not applicable"
    assert vanished(base.review, wider) == [] and _verdict(wider, "mains-poles-creepage", "ahead of RF1") == "fail"
    assert vanished(wider, base.review) == []
