"""What an instruction does is a field, and every text stands beside the words of its class.

The words each class has to be printed with stand here a second time, so that a slip in the one place in the code that
prints them is seen. A second list goes the other way: what a text speaks of has to be said by its field.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from instruction_texts import Text, keys, rules, texts

from derate.judge.messages import in_words
from derate.judge.review import Step
from derate.packs.load import load_packs
from derate.packs.pack import Rule
from derate.terms.instructions import (
    CAUTIONS,
    DOES,
    NOT_HERE,
    POWERED,
    Does,
    beside,
    given,
    marked,
    page_cautions,
    told,
)
from derate.terms.values import ReadingError

# Words that have to stand in or beside each text of a class, and in the sentences once on a page.
ASKED: dict[Does, tuple[str, ...]] = {
    "papers": (),
    "closed": ("unplugged",),
    "opened": ("unplugged", "discharged", "checked with a meter"),
    "destructive": ("spare", "never goes back into use"),
    "third party": ("laboratory",),
    "earth test": ("trained people", "unplugged", "low-voltage source"),
    "pins": ("trained people", "made for mains", "live"),
    "running": ("isolating transformer", "case shut", "in sight", "output for live"),
    "overload": ("isolating transformer", "guarded", "in sight", "never alone"),
    "sensor": ("fixed while unplugged and discharged", "isolated"),
    "probed": ("trained people", "isolated or differential probe", "isolating transformer", "never alone"),
    "high voltage": ("trained people", "guarded", "unplugged"),
    "touch current": ("trained people", "guarded"),
    "fault": ("trained people", "shield", "spare", "never goes back into use"),
    "mains wiring": ("only by people who are allowed",),
    "design": (),
    "not said": ("trained people", "guarded", "isolated", "isolating transformer", "never alone"),
}
# What a text speaks of, and the classes of which one has to be said.
SPEAKS: tuple[tuple[str, frozenset[Does]], ...] = (
    (r"thermocouple", frozenset({"sensor"})),
    (r"\bscope\b|differential probe|isolated (?:current )?probe", frozenset({"probed", "running", "papers"})),
    (
        r"at full load|at the marked current|without load|full load and",
        frozenset({"running", "probed", "sensor", "design"}),
    ),
    (r"power meter|load test|mains (?:current|power)\b.*\b(?:read|at)", frozenset({"running"})),
    (r"shut-down|shuts down|raise the load", frozenset({"overload", "design"})),
    (r"(?<!before it is )unw(?:ind|ound)|\bspare\b|scrapped", frozenset({"destructive", "fault", "design"})),
    (r"electric-strength|500 Vdc|layer of the (?:real )?tape", frozenset({"high voltage", "design"})),
    (r"touch-current test", frozenset({"touch current"})),
    (r"10 A or more|no more than 12 V", frozenset({"earth test"})),
    (
        r"loop tester|(?:resistance|inductance|current) of the (?:mains|socket) (?:be )?measured|prospective",
        frozenset({"mains wiring"}),
    ),
    (r"fault test|provoke", frozenset({"fault"})),
    (r"voltage at the pins", frozenset({"pins"})),
    (
        r"between its pads|clean the board|calliper|out of circuit|along the barrier|class mark|parts pushed",
        frozenset({"opened", "closed", "destructive"}),
    ),
    (r"rating plate", frozenset({"closed", "papers"})),
)
FORBIDDEN = (
    r"optocoupler dark",
    r"meter (?:in|put into) the line",
    r"beside the thermistor",
    r"on the empty pads",
    r"on the bench",
    r"\b(?:safe|safely|compliant|approved|certified)\b",
    r"(?:^|[;,] )(?:repair|mend) (?:it|this|the sample)",
    r"known maker",
)


def test_every_shipped_text_says_what_it_does() -> None:
    unsaid = [f"{one.where}: {one.kind}" for one in texts() if not one.does or "not said" in one.does]
    assert not unsaid, f"write settle_does: or remedy_does: into {unsaid[:5]}"
    assert len(rules()) > 250 and len(keys()) > 150
    assert not [one.where for one in texts() if any(word not in DOES for word in one.does)]


def test_every_class_is_used_and_has_its_words() -> None:
    used = {word for one in texts() for word in one.does} | {"not said"}
    assert used == set(DOES) == set(ASKED)
    for word in DOES:
        assert all(asked in CAUTIONS[word].beside for asked in ASKED[word]), word
        assert (word in ("papers", "design")) == (not CAUTIONS[word].mark), word
    trained = [word for word in DOES if "trained people" in ASKED[word] and word != "not said"]
    assert all("trained people" in CAUTIONS[word].mark for word in trained)


def test_a_line_that_may_be_cut_off_has_its_caution_ahead_and_withholds_as_well() -> None:
    assert marked("look", ("opened",)) == "(unplugged, discharged) look"
    assert marked("look", ("papers",)) == "look"
    assert marked("scope it", ("probed",)).startswith("(trained people, isolated probe) ")
    assert marked("scope it", ("probed",), "a track melts") == "not on this sample: a track melts"


@pytest.mark.parametrize("word", DOES)
def test_each_text_of_a_class_is_printed_with_its_words(word: Does) -> None:
    for one in texts():
        if word in one.does:
            shown = beside(one.text, one.does)
            assert shown.startswith(one.text)
            missing = [asked for asked in ASKED[word] if asked not in shown]
            assert not missing, f"{one.where}: {shown} lacks {missing}"


@pytest.mark.parametrize(("speaks", "classes"), SPEAKS, ids=lambda one: one[:20] if isinstance(one, str) else "")
def test_what_a_text_speaks_of_is_said_by_its_field(speaks: str, classes: frozenset[Does]) -> None:
    found = [one for one in texts() if re.search(speaks, one.text)]
    assert found, f"no text speaks of {speaks}: the pattern is stale"
    silent = [f"{one.where} ({one.kind}): {one.text} {one.does}" for one in found if not classes & {*one.does}]
    assert not silent, silent[:5]


@pytest.mark.parametrize("pattern", FORBIDDEN)
def test_no_text_says_what_nobody_would_sign(pattern: str) -> None:
    assert not [f"{one.where}: {one.text}" for one in texts() if re.search(pattern, one.text)]


def test_a_cure_that_is_no_more_than_a_change_says_so_and_is_never_withheld() -> None:
    cures = [one for one in texts() if one.kind == "remedy"]
    alone = [one for one in cures if "design" in one.does]
    assert len(alone) > 0.9 * len(cures)
    assert all(given(one.text, one.does, "a reason") == beside(one.text, one.does) for one in alone)


def test_what_needs_power_is_withheld_with_the_reason_and_no_word_of_how() -> None:
    powered = [one for one in texts() if POWERED & {*one.does} and "design" not in one.does]
    assert len(powered) > 40
    for one in powered:
        assert given(one.text, one.does, "a track melts") == "not on this sample: a track melts"
    still = [one for one in texts() if not POWERED & {*one.does}]
    assert all(given(one.text, one.does, "a track melts") == beside(one.text, one.does) for one in still)


def test_once_on_a_page_stand_the_sentences_of_what_it_asks_for() -> None:
    probed = " ".join(page_cautions({"probed"}))
    assert "earthed clip" in probed and "cancels the isolating transformer" in probed
    assert "residual-current breaker sees nothing" in probed and "trained people only" in probed
    assert "never goes back into use" in " ".join(page_cautions({"design"}))
    running = " ".join(page_cautions({"running"}))
    assert "never by a meter put into the line" in running and "live until it is shown not to be" in running
    assert page_cautions({"papers"}) == ()


def test_an_instruction_that_says_nothing_or_another_word_is_refused() -> None:
    with pytest.raises(ValueError, match="has to say what it does"):
        told("look at it")
    with pytest.raises(ValueError, match="has to say what it does"):
        told("look at it", "dead")  # type: ignore[arg-type]


HOUSE = """\
pack: own
title: t
covers: c
sources: {{s: {{title: t}}}}
tables: {{}}
assumptions: {{}}
rules:
  - {{rule: one-two, says: a, because: b, hazard: life, severity: minor, keep: rated.life >= 100 h,
     remedy: fit a better one, settle: hold it for an hour, {0}source: s, confidence: common practice}}
"""


@pytest.mark.parametrize(
    ("said", "settle", "remedy"),
    [
        ("", ("not said",), ("not said",)),
        ("settle_does: [papers, sensor], ", ("papers", "sensor"), ("design",)),
        ("remedy_does: papers, ", ("not said",), ("papers",)),
    ],
)
def test_a_house_rule_that_says_nothing_gets_the_strictest_words(tmp_path, said, settle, remedy) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(HOUSE.format(said), encoding="utf-8")
    (rule,) = load_packs((str(path),)).rules
    assert (rule.settle_does, rule.remedy_does) == (settle, remedy)
    shown = beside(rule.settle, rule.settle_does)
    assert ("never alone" in shown) == ("not said" in settle)
    held = given(rule.settle, rule.settle_does, "a track melts")
    assert "a track melts" in held and ("hold it for an hour" in held) == ("not said" in settle)


def test_a_changed_text_of_a_house_pack_does_not_keep_the_class_of_the_old_one(tmp_path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(
        "pack: own\ntitle: t\ncovers: c\nbuilds_on: [commercial-practice]\n"
        "tighten:\n  bulk-capacitor-voltage: {settle: run it without a load, reason: r}\n",
        encoding="utf-8",
    )
    rule = load_packs((str(path),)).rule("bulk-capacitor-voltage")
    assert rule is not None and rule.settle_does == ("not said",) and rule.remedy_does == ("design",)


def test_a_word_that_is_no_class_is_refused(tmp_path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(HOUSE.format("settle_does: opend, "), encoding="utf-8")
    with pytest.raises(Exception, match="opened"):
        load_packs((str(path),))


def test_texts_are_short() -> None:
    long = [f"{one.where}: {len(one.text)}" for one in texts() if len(one.text) > 260]
    assert not long


def test_the_texts_are_all_there() -> None:
    assert isinstance(texts()[0], Text) and len(texts()) > 700


# ---- what needs no power is not withheld with what does


@pytest.mark.parametrize("rule", rules(), ids=lambda one: one.name)
def test_what_can_be_done_cold_stands_by_itself(rule: Rule) -> None:
    """A step that needs power is withheld whole, so nothing that could be done without stands in the same step.

    A test by somebody else, and one that uses up a spare, are single things to do.
    """
    live = POWERED & {*rule.settle_does}
    cold = {*rule.settle_does} - POWERED - {"third party", "destructive"}
    assert not (live and cold), f"{rule.settle}: move what is {sorted(cold)} into settle_first"
    assert not POWERED & {*rule.settle_first_does}
    assert bool(rule.settle_first) == bool(rule.settle_first_does)


FIRST = "    settle_first: read the plate\n    settle_first_does: {does}\n"


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (FIRST.format(does="running") + "    settle: s\n    settle_does: running\n", "is what needs no power"),
        (FIRST.format(does="closed"), "stands ahead of settle, and there is none"),
        ("    settle_first: read the plate\n    settle: s\n    settle_does: running\n", "does not say what it does"),
        (FIRST.format(does="closed") + "    settle: s\n    settle_does: running\n", ""),
    ],
)
def test_the_first_step_of_a_house_pack(body: str, said: str, tmp_path: Path) -> None:
    file = tmp_path / "own.yaml"
    file.write_text(
        "pack: own\ntitle: t\ncovers: c\nrules:\n  - rule: own-rule\n    says: s\n    because: b\n    hazard: life\n"
        "    severity: minor\n    about: supply\n    record: {fields: [plate.mains]}\n"
        "    source: common practice, no source\n    confidence: common practice\n" + body
    )
    if not said:
        (rule,) = [one for one in load_packs((str(file),)).rules if one.name == "own-rule"]
        assert (rule.settle_first, rule.settle_first_does) == ("read the plate", ("closed",))
        return
    with pytest.raises(ReadingError) as caught:
        load_packs((str(file),))
    assert any(said in one.what for one in caught.value.problems), caught.value.problems


def test_the_cold_step_is_given_and_the_live_one_withheld() -> None:
    (rule,) = [one for one in rules() if one.name == "mains-current-on-plate"]
    steps = (Step(rule.settle_first, rule.settle_first_does), Step(rule.settle, rule.settle_does))
    assert in_words(steps, "it burned") == f"read the plate (unplugged); {NOT_HERE}: it burned"
    assert "power meter made for mains" in in_words(steps)
